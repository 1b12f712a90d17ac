"""Odds of all seven outcomes of each kind of run.

    recovered   pooled over kinds (`pooling`), or by kind of fish (`fish_kinds`)
    prepared    share h of runs that did not recover: (c_p + 1/6)/(c_p + c + 1) of a kind that
                has been seen to end so, else 0, because whether a run has a job of its own
                besides the fish is a matter of its kind
    the others  share of outcome o among the runs left, times 1 - h,
                    (c_o + s q_o)/(c + s),   q_o = (C_o + W t_o)/(C + W)
                c_o counts of this kind of run, C_o of all other kinds, c and C their sums; t_o
                the share that the trade plans with (`econ.records.trade`), worth W runs
The mix of failures of the others and the trade counts as s runs of this one: s weighed from 1 to
1,000, even in log s, by how well it explains how far the kinds differ (Dirichlet-multinomial). So
a rare and dear outcome, such as a lost hole, is not taken for impossible of a kind that has not
yet met it, and kinds whose runs do fail in other ways keep their own mix. Times `weight` the seven
are a Dirichlet, of which each outcome is a Beta: that is its interval. On each kind of fish the
counts of a job are shared out by the belief that its fish was workable. Where the records carry a
factor for each day elapsed, the odds of recovery are those at day 0: taken back by that factor
over the mean days before such runs.

Sources: N.L. Johnson, S. Kotz, Distributions in Statistics: Continuous Multivariate, ch. 40
(Dirichlet, from memory); J.E. Mosimann, Biometrika 49 (1962) 65 (its multinomial, from memory);
1/6 for one of six outcomes, after W. Perks, J. Inst. Actuaries 73 (1947).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray
from scipy.special import expit, gammaln, logit

from econ.records.columns import KINDS
from econ.records.fish_kinds import Estimate, FishKinds
from econ.records.pooling import Pooling
from econ.records.proportions import beta_interval, weight_within
from econ.records.records import Records
from econ.records.trade import failures
from econ.scenario.program import OUTCOMES

if TYPE_CHECKING:
    import pandas as pd

Array = NDArray[np.float64]
PREPARED = OUTCOMES.index("prepared") - 1  # its place among the outcomes but recovery
STRENGTHS = np.geomspace(1.0, 1000.0, 31)  # s [runs]


@dataclass(frozen=True)
class OddsTable:
    """Odds of the seven outcomes of a kind of run, in the order of OUTCOMES."""

    kind: str
    fish: str  # workable, stubborn, or empty for all fish
    runs: int
    jobs: int
    recovered: int
    counts: tuple[float, ...]  # of the outcomes; shared out where there are kinds of fish
    odds: tuple[float, ...]  # [fraction], summing to 1
    weight: float  # runs they are worth
    low: float  # 95 % interval of recovered
    high: float

    def intervals(self) -> list[tuple[float, float]]:
        """95 % interval of each outcome."""
        rest = [beta_interval(mean=each, weight=self.weight) for each in self.odds[1:]]
        return [(self.low, self.high), *rest]


def frame_of(tables: tuple[OddsTable, ...]) -> pd.DataFrame:
    """One row a kind of run, kind of fish and outcome."""
    import pandas as pd

    return pd.DataFrame(
        [
            {"kind": table.kind, "fish": table.fish, "outcome": outcome, "count": count}
            | {"odds": odds, "low": low, "high": high, "weight": table.weight}
            for table in tables
            for outcome, count, odds, (low, high) in zip(
                OUTCOMES, table.counts, table.odds, table.intervals(), strict=True
            )
        ]
    )


def outcome_tables(
    records: Records, pooled: Pooling, fish: FishKinds, *, weight: float
) -> tuple[OddsTable, ...]:
    """Three tables for each kind of run: on all fish, on workable and on stubborn ones.

    weight: runs that the odds of the trade count.
    """
    ratio = fish.per_day.ratio if fish.per_day is not None and fish.per_day.carried else 1.0
    workable = fish.belief[records.job]
    good = _tables(records, "workable", workable, fish.kinds, fish.on_workable, weight)
    bad = _tables(records, "stubborn", 1 - workable, fish.kinds, fish.on_stubborn, weight)
    by_fish = (table for both in zip(good, bad, strict=True) for table in both)
    return (*tables_on_all_fish(records, pooled, weight=weight, ratio=ratio), *by_fish)


def tables_on_all_fish(
    records: Records, pooled: Pooling, *, weight: float, ratio: float = 1.0
) -> list[OddsTable]:
    """A table for each kind of run on all fish together, the odds of recovery taken back to day 0
    by the `ratio` of each day."""
    estimates = []
    for each in pooled.kinds:
        mean, low, high = (
            _at_day_zero(records, each.kind, chance, ratio)
            for chance in (each.mean, each.low, each.high)
        )
        worth = min(each.weight, weight_within(mean=mean, low=low, high=high))
        estimates.append(Estimate(mean, low, high, worth))
    kinds = [each.kind for each in pooled.kinds]
    return _tables(records, "", np.ones(len(records.job)), kinds, estimates, weight)


def _at_day_zero(records: Records, kind: str, chance: float, ratio: float) -> float:
    if ratio == 1.0 or not 0 < chance < 1:
        return chance
    days = records.before[records.kind == KINDS.index(kind)] / 24.0
    known = days[np.isfinite(days)]
    mean = float(known.mean()) if len(known) else 0.0
    return float(expit(logit(chance) - mean * np.log(ratio)))


def shares_of_failures(counts: Array, trade: Array) -> Array:
    """Shares of the outcomes of runs that did not recover, by kind of run.

    counts: of the outcomes but recovery in the order of OUTCOMES, shape (kinds, outcomes); trade:
    W t_o of each kind, of all but `prepared`, shape (kinds, outcomes - 1). The shares have the
    shape of the counts; a kind that never ended in `prepared` has none of it.
    """
    others = np.delete(counts, PREPARED, axis=1)
    own = counts[:, PREPARED]
    share = np.where(own > 0, (own + 1 / counts.shape[1]) / (counts.sum(axis=1) + 1), 0.0)
    return np.insert(mixes(others, trade) * (1 - share[:, None]), PREPARED, share, axis=1)


def mixes(counts: Array, trade: Array) -> Array:
    """Shares of outcomes by kind of run, each leaning on all.

    counts: of outcomes, shape (kinds, outcomes); trade: W t_o of each kind, of the same shape, as
    the shares have it.
    """
    others = counts.sum(axis=0) - counts + trade
    q = others / others.sum(axis=1, keepdims=True)
    made = counts.sum(axis=1)
    s = STRENGTHS[:, None, None]
    of_outcome = gammaln(counts + s * q) - gammaln(s * q)
    of_kind = gammaln(STRENGTHS[:, None]) - gammaln(STRENGTHS[:, None] + made)
    log = of_outcome.sum(axis=(1, 2)) + of_kind.sum(axis=1)
    chance = np.exp(log - log.max())
    mix = (counts + s * q) / (made[:, None] + s)
    return np.asarray(np.tensordot(chance / chance.sum(), mix, axes=1))


def _tables(
    records: Records,
    fish: str,
    share: Array,
    kinds: Sequence[str],
    estimates: Sequence[Estimate],
    weight: float,
) -> list[OddsTable]:
    """Tables of the kinds of run; share: of each run that counts, shape (runs,)."""
    of_kind = [records.kind == KINDS.index(kind) for kind in kinds]
    size = len(OUTCOMES)
    trade = weight * failures(kinds)
    counts = np.array(
        [np.bincount(records.outcome[here], share[here], minlength=size) for here in of_kind]
    )
    return [
        OddsTable(
            kind=kind,
            fish=fish,
            runs=int(here.sum()),
            jobs=len(np.unique(records.job[here])),
            recovered=int(records.recovered[here].sum()),
            counts=tuple(map(float, own)),
            odds=(estimate.mean, *map(float, (1 - estimate.mean) * mix)),
            weight=estimate.weight,
            low=estimate.low,
            high=estimate.high,
        )
        for kind, here, own, mix, estimate in zip(
            kinds, of_kind, counts, shares_of_failures(counts[:, 1:], trade), estimates, strict=True
        )
    ]
