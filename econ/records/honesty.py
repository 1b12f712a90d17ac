"""Were past predictions right, and do the odds hold on a job they have not seen?

    Brier score   mean of (stated chance - 1 if it recovered, else 0)^2; 0 is perfect, and always
                  stating the overall share s scores s (1 - s)
    reliability   runs put together by the chance stated: mean of the chances, share recovered
    one job out   each job is predicted by odds made from all other jobs, by three rules: one rate
                  for all runs, each kind of run by itself, and the kinds pooled

Source: G.W. Brier, Monthly Weather Review 78 (1950) 1; A.H. Murphy, J. Appl. Meteorol. 12
(1973) 595, for the table.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray
from scipy.special import betaln

from econ.records.columns import KINDS
from econ.records.counts import Share
from econ.records.pooling import MEANS, WEIGHTS, pooled_beta
from econ.records.records import Records

if TYPE_CHECKING:
    import pandas as pd

Array = NDArray[np.float64]
EDGES = (0.0, 0.2, 0.4, 0.6, 0.8, 1.0)  # of the chances stated
MOST_PATTERNS = 400  # sorts of job for which the pooling is made anew; above, it hardly moves
CLOSEST = 1e-3  # a chance is taken this far from 0 and 1 in the log score


@dataclass(frozen=True)
class Bin:
    """Runs whose stated chance lies from `low` to `high`."""

    low: float
    high: float
    stated: float  # mean of the chances stated
    share: Share


@dataclass(frozen=True)
class Calibration:
    """Stated chances against what came of the runs."""

    runs: int
    stated: float  # mean
    share: Share
    brier: float
    brier_of_share: float  # of always stating the overall share
    bins: tuple[Bin, ...]

    def to_frame(self) -> pd.DataFrame:
        """One row a bin."""
        import pandas as pd

        return pd.DataFrame(
            [
                {"low": each.low, "high": each.high, "stated": each.stated}
                | {"runs": each.share.cases, **each.share.row()}
                for each in self.bins
            ]
        )


def calibration(records: Records) -> Calibration | None:
    """The check of the chances stated beforehand; None if no row has one."""
    known = np.isfinite(records.stated)
    if not known.any():
        return None
    stated, won = records.stated[known], records.recovered[known]
    place = np.clip(np.searchsorted(EDGES, stated, side="right") - 1, 0, len(EDGES) - 2)
    bins = []
    for number in np.unique(place):
        here = place == number
        share = Share(int(won[here].sum()), int(here.sum()))
        bins.append(Bin(EDGES[number], EDGES[number + 1], float(stated[here].mean()), share))
    share = Share(int(won.sum()), len(won))
    brier = float(((stated - won) ** 2).mean())
    scored = share.rate * (1 - share.rate)
    return Calibration(len(won), float(stated.mean()), share, brier, scored, tuple(bins))


@dataclass(frozen=True)
class Score:
    """How well a rule predicts jobs it has not seen: lower is better."""

    rule: str
    brier: float
    log: float  # mean of -log of the chance given to what happened


@dataclass(frozen=True)
class Influence:
    """The one job without which the pooled odds of a kind move most."""

    kind: str
    job: str
    odds: float
    without: float


@dataclass(frozen=True)
class OneOut:
    """The check by leaving one job out; empty where there is but one job."""

    scores: tuple[Score, ...]
    influences: tuple[Influence, ...]

    def to_frame(self) -> pd.DataFrame:
        """One row a rule."""
        import pandas as pd

        return pd.DataFrame([vars(each) for each in self.scores], columns=["rule", "brier", "log"])


def leave_one_out(records: Records) -> OneOut:
    """Predict each job from the others."""
    present, kind = np.unique(records.kind, return_inverse=True)
    size, jobs = len(present), len(records.names)
    if jobs < 2:
        return OneOut((), ())
    table = np.zeros((jobs, 2 * size), dtype=np.int64)
    np.add.at(table, (records.job, kind), 1)
    np.add.at(table, (records.job, kind + size), records.recovered.astype(np.int64))
    sorts, first, times = np.unique(table, axis=0, return_index=True, return_counts=True)
    made, won = sorts[:, :size].astype(float), sorts[:, size:].astype(float)
    all_made, all_won = times @ made, times @ won
    rest_made, rest_won = all_made - made, all_won - won
    overall = (rest_won.sum(axis=1) / np.maximum(rest_made.sum(axis=1), 1))[:, None]
    alone = np.where(rest_made > 0, rest_won / np.maximum(rest_made, 1), overall)
    pooled, whole = _pooled_without(all_made, all_won, made, won)
    scores = tuple(
        _score(rule, chance, made, won, times.astype(float))
        for rule, chance in (
            ("one rate for all runs", np.broadcast_to(overall, made.shape)),
            ("each kind by itself", alone),
            ("kinds pooled", pooled),
        )
    )
    influences = []
    for place in range(size):
        moved = np.where(made[:, place] > 0, np.abs(pooled[:, place] - whole[place]), -1.0)
        sort = int(np.argmax(moved))
        job = records.names[first[sort]]
        influences.append(
            Influence(KINDS[present[place]], job, float(whole[place]), float(pooled[sort, place]))
        )
    return OneOut(scores, tuple(influences))


def _score(rule: str, chance: Array, made: Array, won: Array, times: Array) -> Score:
    runs = float(times @ made.sum(axis=1))
    square = won * (1 - chance) ** 2 + (made - won) * chance**2
    inside = np.clip(chance, CLOSEST, 1 - CLOSEST)
    log = -(won * np.log(inside) + (made - won) * np.log(1 - inside))
    return Score(
        rule, float(times @ square.sum(axis=1)) / runs, float(times @ log.sum(axis=1)) / runs
    )


def _pooled_without(
    all_made: Array, all_won: Array, made: Array, won: Array
) -> tuple[Array, Array]:
    """Pooled odds without each sort of job, shape (sorts, kinds), and with all, shape (kinds,)."""
    a, b = MEANS[:, None] * WEIGHTS, (1 - MEANS[:, None]) * WEIGHTS
    bare = betaln(a, b)
    known: dict[tuple[int, float, float], Array] = {}

    def log_of(place: int, k: float, n: float) -> Array:
        key = (place, k, n)
        if key not in known:
            known[key] = betaln(a + k, b + n - k) - bare
        return known[key]

    terms = [log_of(place, all_won[place], all_made[place]) for place in range(len(all_made))]
    total = np.sum(terms, axis=0)
    chance = _normal(total)
    whole, _ = pooled_beta(all_won, all_made, chance)
    few = len(made) <= MOST_PATTERNS
    means = np.tile(whole, (len(made), 1))
    for sort in range(len(made)):
        here = np.flatnonzero(made[sort])
        k, n = all_won - won[sort], all_made - made[sort]
        if few:
            log = total.copy()
            for place in map(int, here):
                log += log_of(place, k[place], n[place]) - terms[place]
            means[sort], _ = pooled_beta(k, n, _normal(log))
        else:  # the prior of the kinds stays
            m, w = float((chance.sum(axis=1) * MEANS).sum()), _middle(chance)
            means[sort, here] = (m * w + k[here]) / (w + n[here])
    return means, whole


def _normal(log: Array) -> Array:
    chance = np.exp(log - log.max())
    return np.asarray(chance / chance.sum())


def _middle(chance: Array) -> float:
    """Median of w."""
    return float(WEIGHTS[np.searchsorted(np.cumsum(chance.sum(axis=0)), 0.5)])
