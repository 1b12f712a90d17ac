"""Share of workable fish and odds on each kind of fish, and whether the records tell them apart.

Both are always given, because odds in one table do not learn: they are too low for a first run
and too high after failures. Where the records are thin the two are those that the trade plans with,
moved by what the records do say (`econ.records.trade`). Whether the records by themselves
tell the two apart is another question, and is answered so:

The gain of two kinds of fish over one, 2 (l2 - l1), is held against the same gain in records
that are simulated from one kind of fish with the same runs and stops: kinds of run as they
follow one another by number, stops after a failed run as often as in the records. The two are
told apart where fewer than one in twenty of those gain as much. A gain beyond the 0.9999
quantile of chi-square with one degree more than there are kinds of run is not simulated, and
nor is any for more than MOST_SIMULATED_JOBS jobs, where that quantile decides alone: it is far
above what one kind of fish gives (tests/records/test_two_kinds.py looks).

Elapsed time: where the times of jobs are known, a factor on the odds for each day is fitted on
both kinds of fish together. Only if its interval leaves out 1 do the records carry it, and the
odds are then those at day 0. A factor fitted without kinds of fish would take the sorting out
of workable fish for an effect of time.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray
from scipy.special import chdtri, expit

from econ.records.columns import KINDS
from econ.records.proportions import weight_within
from econ.records.records import Records
from econ.records.trade import APART, LIGHT, Prior, in_two_tables
from econ.records.two_kinds import (
    Cells,
    Peak,
    belief,
    climb,
    errors,
    group,
    interval,
    one_kind,
    two_kinds,
    with_days,
)

if TYPE_CHECKING:
    import pandas as pd

Array = NDArray[np.float64]
Ints = NDArray[np.int64]
SIMULATIONS = 99
LEVEL = 0.05
FAR = 1e-4
MOST_SIMULATED_JOBS = 3000
MOST_PROFILED = 60_000  # cells x parameters; above, l is a parabola and its curvature serves
LEAST_JOBS = 20  # with fewer the two kinds are not looked for
LEAST_RETURNS = 10  # jobs with two runs or more: one run says nothing of a kind of fish
NORMAL = 1.959964


@dataclass(frozen=True)
class Estimate:
    """A chance [fraction] with its 95 % interval; `weight`: cases it is worth."""

    mean: float
    low: float
    high: float
    weight: float


@dataclass(frozen=True)
class PerDay:
    """Factor on the odds p/(1 - p) of recovery for each day elapsed, with its interval."""

    ratio: float
    low: float
    high: float
    jobs: int
    error: float  # of its logarithm

    @property
    def carried(self) -> bool:
        """Whether the interval leaves out 1."""
        return not self.low <= 1.0 <= self.high


@dataclass(frozen=True, eq=False)
class FishKinds:
    """What the records and the trade say of two kinds of fish.

    told_apart: whether the records tell them apart; `why` says it in words. at: the logits of
    (share of workable fish, odds on workable, on stubborn fish), and the logarithm of the factor
    per day if the records carry one.
    """

    told_apart: bool
    why: str
    workable: Estimate
    kinds: tuple[str, ...]
    on_workable: tuple[Estimate, ...]  # chance of recovery by kind of run
    on_stubborn: tuple[Estimate, ...]
    belief: Array  # chance that the fish of each job is workable, shape (jobs,)
    at: Array
    prior: Prior
    gain: float | None = None  # 2 (l2 - l1)
    chance: float | None = None  # of such a gain from one kind of fish, by simulation
    jobs: int = 0
    per_day: PerDay | None = None
    profiled: bool = True  # intervals by profile, not by curvature

    def to_frame(self) -> pd.DataFrame:
        """One row for the share of workable fish, then one a kind of run and kind of fish."""
        import pandas as pd

        rows = [("share of workable fish", "", self.workable)]
        for kind, good, bad in zip(self.kinds, self.on_workable, self.on_stubborn, strict=True):
            rows += [(kind, "workable", good), (kind, "stubborn", bad)]
        return pd.DataFrame([{"of": of, "fish": fish, **vars(each)} for of, fish, each in rows])


def fish_kinds(records: Records, *, weight: float, seed: int = 0) -> FishKinds:
    """Fit two kinds of fish. weight: runs that the odds of the trade count; seed: of the
    simulations, of which the same gives the same."""
    jobs = len(records.names)
    present, kind = np.unique(records.kind, return_inverse=True)
    words = tuple(KINDS[place] for place in present)
    prior = in_two_tables(words, weight)
    cells = group(records.job, kind, records.recovered, prior)
    alone = one_kind(cells)
    both = two_kinds(cells, alone)
    timed = _timed(records, kind, prior)
    per_day = None
    by_time = False
    if timed is not None:
        alone_days = one_kind(timed)
        both_days = two_kinds(timed, alone_days, near=both)
        per_day = _per_day(timed, both_days)
        share = timed.jobs / jobs
        by_time = 2 * (alone_days.height - alone.height * share) >= 2 * (both.height - alone.height)
        if per_day.carried:
            cells, alone, both = timed, alone_days, both_days
    gain = max(0.0, 2 * (both.height - alone.height))
    apart, why, chance = False, _too_little(records), None
    if not why:
        far = float(chdtri(len(present) + 1, FAR))
        if gain < far and jobs <= MOST_SIMULATED_JOBS:
            chance = _chance(records, kind, prior, alone, gain, seed)
        apart = gain >= far or (chance is not None and chance < LEVEL)
        why = _why(apart, gain, chance, by_time and not apart)
    k = len(present)
    # Intervals with the light prior (`econ.records.trade`), about the peak there.
    wide = replace(cells, prior=in_two_tables(words, min(weight, LIGHT), common=APART))
    peak = climb(wide, both.at)
    error = errors(peak)
    means = expit(both.at)
    beliefs = _beliefs(records, kind, prior, both)
    made = [
        np.bincount(kind, each[records.job], minlength=k) for each in (beliefs, 1 - beliefs)
    ]  # runs on each kind of fish, by the belief in it
    most = weight + np.concatenate([[float(jobs)], *made])
    estimates = [
        _estimate(float(means[place]), wide, peak, place, error, float(most[place]))
        for place in range(2 * k + 1)
    ]
    return FishKinds(
        told_apart=apart,
        why=why,
        workable=estimates[0],
        kinds=words,
        on_workable=tuple(estimates[1 : k + 1]),
        on_stubborn=tuple(estimates[k + 1 :]),
        belief=beliefs,
        at=both.at,
        prior=prior,
        gain=gain,
        chance=chance,
        jobs=cells.jobs if per_day is not None and per_day.carried else jobs,
        per_day=per_day,
        profiled=_profiled(wide, peak),
    )


def _too_little(records: Records) -> str:
    """Why the records are not asked to tell two kinds of fish apart; empty if they are."""
    jobs, won = len(records.names), int(records.recovered.sum())
    returns = int((np.bincount(records.job) > 1).sum())
    if jobs < LEAST_JOBS or returns < LEAST_RETURNS:
        return (
            f"two kinds of fish cannot be told apart by the records alone: {jobs} jobs, {returns} "
            f"of them with two runs or more; it takes at least {LEAST_JOBS} and {LEAST_RETURNS}"
        )
    if won == 0 or won == jobs == len(records.job):
        what = "no run recovered a fish" if won == 0 else "every run recovered its fish"
        return f"two kinds of fish cannot be told apart by the records alone: {what}"
    return ""


def _timed(records: Records, kind: Ints, prior: Prior) -> Cells | None:
    """Cells of the jobs whose times are known; None if these are too few."""
    known = np.isfinite(records.before)
    whole = np.bincount(records.job, ~known, minlength=len(records.names)) == 0
    here = whole[records.job]
    if whole.sum() < max(LEAST_JOBS, 0.5 * len(whole)):
        return None
    days = records.before[here] / 24.0
    if float(np.ptp(days)) == 0.0 or len(np.unique(kind[here])) < len(np.unique(kind)):
        return None
    _, job = np.unique(records.job[here], return_inverse=True)
    return with_days(job, kind[here], records.recovered[here], days, prior)


def _per_day(cells: Cells, peak: Peak) -> PerDay:
    which = len(peak.at) - 1
    error = errors(peak)
    low, high = _interval(cells, peak, which, error)
    ends = [float(np.exp(np.clip(each, -50, 50))) for each in (peak.at[-1], low, high)]
    return PerDay(ends[0], ends[1], ends[2], cells.jobs, float(error[-1]))


def _profiled(cells: Cells, peak: Peak) -> bool:
    return len(cells.job) * len(peak.at) <= MOST_PROFILED


def _interval(cells: Cells, peak: Peak, which: int, error: Array) -> tuple[float, float]:
    if _profiled(cells, peak):
        return interval(cells, peak, which)
    half = NORMAL * float(error[which])
    return float(peak.at[which]) - half, float(peak.at[which]) + half


def _estimate(
    mean: float, cells: Cells, peak: Peak, which: int, error: Array, most: float
) -> Estimate:
    """most: cases there are, those of the trade included; no weight is above."""
    low, high = (float(expit(end)) for end in _interval(cells, peak, which, error))
    low, high = min(low, mean), max(high, mean)
    return Estimate(mean, low, high, min(most, weight_within(mean=mean, low=low, high=high)))


def _beliefs(records: Records, kind: Ints, prior: Prior, peak: Peak) -> Array:
    at = peak.at
    days = np.zeros(len(records.job))
    if len(at) > len(prior.centre):  # a run whose time is not known is taken to be on the first day
        days = np.nan_to_num(records.before / 24.0)
    else:
        at = np.append(at, 0.0)
    return belief(with_days(records.job, kind, records.recovered, days, prior), at)


def _chance(
    records: Records, kind: Ints, prior: Prior, alone: Peak, gain: float, seed: int
) -> float:
    """Chance that one kind of fish gives such a gain, from simulated records."""
    rng = np.random.default_rng(seed)
    design = _Design(records, kind, prior)
    odds = expit(alone.at[1 : design.kinds + 1])
    as_much = 0
    for _ in range(SIMULATIONS):
        cells = design.simulate(odds, rng)
        one = one_kind(cells)
        as_much += max(0.0, 2 * (two_kinds(cells, one).height - one.height)) >= gain
    return (1 + as_much) / (1 + SIMULATIONS)


class _Design:
    """How jobs go on: kinds of run by number, and stops after a run that did not recover."""

    def __init__(self, records: Records, kind: Ints, prior: Prior) -> None:
        self.prior = prior
        self.kinds = kinds = len(prior.centre) // 2
        self.jobs = len(records.names)
        order = np.arange(len(kind)) - records.first[records.job]  # 0 for the first run
        self.most = int(order.max()) + 1
        shares = np.zeros((self.most, kinds))
        np.add.at(shares, (order, kind), 1.0)
        self.cumulative = np.cumsum(shares / shares.sum(axis=1, keepdims=True), axis=1)
        failed = ~records.recovered
        last = np.zeros(len(kind), dtype=bool)
        last[records.last] = True
        count = np.bincount(order, failed, minlength=self.most)
        stopped = np.bincount(order, failed & last, minlength=self.most)
        self.stop = np.where(count > 0, stopped / np.maximum(count, 1), 1.0)
        self.stop[-1] = 1.0

    def simulate(self, odds: Array, rng: np.random.Generator) -> Cells:
        """Cells of records from one kind of fish."""
        shape = (self.jobs, self.most)
        kind = (rng.random(shape)[:, :, None] > self.cumulative[None]).sum(axis=2)
        kind = np.minimum(kind, self.kinds - 1)
        won = rng.random(shape) < odds[kind]
        ends = won | (rng.random(shape) < self.stop)
        made = np.cumsum(ends, axis=1) - ends == 0
        job = np.nonzero(made)[0]
        return group(job, kind[made], won[made], self.prior)


def _why(apart: bool, gain: float, chance: float | None, by_time: bool) -> str:
    found = (
        f"fewer than {100 * FAR:g} in 100 by chi-square"
        if chance is None and apart
        else "more than a far gain by chi-square"
        if chance is None
        else f"{100 * chance:.0f} in 100 simulated"
    )
    if apart:
        return (
            f"two kinds of fish are told apart: they fit better than one (2 log likelihood "
            f"{gain:.1f}); of records from one kind of fish as good a fit comes from {found}"
        )
    return (
        "two kinds of fish cannot be told apart by the records alone: one gives as good a fit "
        f"(2 log likelihood {gain:.1f}) in {found}; how far apart the two lie is the trade's"
        + ("; odds that fall with elapsed time fit as well" if by_time else "")
    )
