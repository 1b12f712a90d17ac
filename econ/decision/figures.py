"""Named figures of a job by limit: the one table that answer, what-if and reports read.

Every figure has its value from all draws and the same from each scramble, so that the error of
a difference between two jobs on the same random numbers is that of the paired scrambles. A
ratio is that of the means, and of the means of each scramble. A percentile is read from bins at
most 0.7 % of its value wide (`econ.engine.histogram`); where two jobs are compared, the
deviation of an even distribution over such a bin is in its error.

How many draws: their number is doubled until the reader can use the figures. See `walked`.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from econ.decision.estimates import ROUNDING, Estimate, estimate
from econ.engine.curves import EXCEEDS, P10, P50, P90, Curves, Tally
from econ.engine.inputs import Inputs
from econ.engine.ledger import LINES, SPENDING
from econ.scenario.framed import Framed

Array = NDArray[np.float64]
Unit = Literal["currency", "fraction", "d"]
FEWEST = 256  # draws of each scramble to begin with
CLOSE_MEAN = 0.0005  # of the cost: error of the mean that is small enough
CLOSE_P90 = 0.0025  # of the P90: the same for it
CLOSE_ODDS = 0.0005  # of the odds of the next run, which are shown to two digits
NONE_LEFT = 1e-12  # a chance that is none
GRAIN = 0.007 / np.sqrt(12.0)  # of a percentile: deviation of an even distribution over its bin


@dataclass(frozen=True, eq=False)
class Figure:
    """A figure: its value, None where the job has none, and the same from each scramble."""

    unit: Unit
    value: float | None
    by_scramble: Array
    binned: bool = False  # read from bins

    @property
    def error(self) -> float:
        """Standard error of the value; 0 where there is no value."""
        return 0.0 if self.value is None else estimate(self.by_scramble).error


def walked(inputs: Sequence[Inputs], *, distributions: bool = True) -> list[Curves]:
    """Curves of one or more jobs that are compared, all on the same number of draws.

    The number of draws of each scramble is doubled from FEWEST on, keeping those before, until
    the error of the mean is under 0.05 % and that of the P90 under 0.25 % for stopping now, the
    best limit and the best with a run in it, that of the odds of the next run is under 0.0005,
    and the best is resolved from stopping; or up to the most that the scenario allows. A number
    that the file gives is taken as it is.
    """
    tallies = [Tally(job, distributions=distributions) for job in inputs]
    draws = inputs[0].scenario.draws
    n = min(FEWEST, draws.most) if draws.n is None else draws.n
    for tally in tallies:
        tally.extend(n)
    while n < draws.most and not all(
        _settled(tally, job.minimum_runs) for tally, job in zip(tallies, inputs, strict=True)
    ):
        n *= 2
        for tally in tallies:
            tally.extend(n)
    return [tally.curves() for tally in tallies]


def _settled(tally: Tally, minimum: int) -> bool:
    """Whether the draws so far are enough."""
    cost = tally.cost()
    mean = cost.mean(axis=0)
    best = minimum + int(np.argmin(mean[minimum:]))
    shown = {0, best}
    if len(mean) > 1:
        with_run = 1 + int(np.argmin(mean[1:]))
        shown.add(with_run)
        other = with_run if best == 0 else best
        gap = estimate(cost[:, 0] - cost[:, other])
        same = max(abs(gap.value), gap.error) <= ROUNDING * abs(mean[0])
        if not (same or gap.resolved(mean[0])):
            return False
    limits = np.array(sorted(shown))
    errors = np.array([estimate(cost[:, n]).error for n in limits])
    if (errors > CLOSE_MEAN * np.abs(mean[limits])).any():
        return False
    if len(mean) > 1:
        odds, weight = tally.failure("odds"), tally.failure("weight")
        next_odds = None if odds is None or weight is None else _ratio("fraction", odds, weight)
        if next_odds is not None and next_odds.error > CLOSE_ODDS:
            return False
    if not tally.keeps_distributions:
        return True
    p90 = tally.p90(limits)
    errors = p90[:-1].std(axis=0, ddof=1) / np.sqrt(len(p90) - 1)
    return bool((errors <= CLOSE_P90 * np.abs(p90[-1])).all())


def figures(curves: Curves, limit: int, *, authority: bool = False) -> dict[str, Figure]:
    """The figures at a limit of `limit` runs by name, in the order in which they are shown.

    authority: whether one is given, so that there is a chance that it suffices.
    """
    total, now = curves.cost[:, limit], curves.cost[:, 0]
    fishing, back = curves.fishing[:, limit], curves.recovered[:, limit]
    given_up = curves.sums["value_given_up"][:, limit]
    named = {
        "expected_cost": _mean("currency", total),
        "fallback_now": _mean("currency", now),
        "saving": _mean("currency", now - total),
        "probability_recovered": _mean("fraction", back),
        "days": days(curves, limit),
        "dearer": _mean("fraction", curves.sums["dearer"][:, limit]),
    }
    if curves.distributions:
        named |= {
            "p10": _statistic(curves, "total", limit, P10),
            "p50": _statistic(curves, "total", limit, P50),
            "p90": _statistic(curves, "total", limit, P90),
        }
    named |= run_figures(curves, 0)
    failed = _failed(curves, limit)
    named["stage_1_planned"] = failed if failed.value is not None else _mean("currency", fishing)
    named["stage_1_mean"] = _mean("currency", fishing)
    if curves.distributions:
        named["stage_1_p90"] = _statistic(curves, "on_fishing", limit, P90)
    named["stage_2_probability"] = _mean("fraction", 1.0 - back)
    named["stage_2_mean"] = _ratio("currency", total - fishing - given_up, 1.0 - back)
    if curves.distributions:
        named["stage_2_p90"] = _statistic(curves, "on_fallback", limit, P90)
    if authority:
        named["within_authority"] = _within(curves, "spent", limit)
        named["stage_1_within_authority"] = _within(curves, "on_fishing", limit)
    return named


def slices(curves: Curves, limit: int) -> dict[str, Figure]:
    """The three slices of what is spent at a limit, each where it is drawn, and their sum.

    1a is fishing to the limit, getting off the fish included, 1b the work after a recovery, 2 the
    fallback, which is drawn as stage 2. Planned is 1a if every run fails, 2 as it is then, and 1b
    as its mean. Chance x mean sums to the expected cost without value given up; percentiles do
    not sum.
    """
    back, weight = curves.recovered[:, limit], curves.still["weight"][:, limit]
    none = np.zeros(len(back))
    runs = sum((curves.sums[name][:, limit] for name in SPENDING), none)
    after = curves.sums["recovery"][:, limit] + curves.sums["late_recovered"][:, limit]
    spent = curves.cost[:, limit] - curves.sums["value_given_up"][:, limit]
    failed = _failed(curves, limit)
    then = curves.still.get("fallback", np.zeros_like(curves.recovered))[:, limit]
    planned = _ratio("currency", then, weight)
    mean = _ratio("currency", spent - curves.fishing[:, limit], 1.0 - back)
    named = {
        "slice_1a_chance": _mean("fraction", np.ones(len(back))),
        "slice_1a_planned": _mean("currency", runs) if failed.value is None else failed,
        "slice_1a_mean": _mean("currency", runs),
        "slice_1b_chance": _mean("fraction", back),
        "slice_1b_planned": _ratio("currency", after, back),
        "slice_1b_mean": _ratio("currency", after, back),
        "slice_2_chance": _mean("fraction", 1.0 - back),
        "slice_2_planned": mean if planned.value is None else planned,
        "slice_2_mean": mean,
        "spent_mean": _mean("currency", spent),
    }
    if curves.distributions:
        named |= {
            "slice_1a_p90": _statistic(curves, "on_runs", limit, P90),
            "slice_1b_p90": _statistic(curves, "on_recovery", limit, P90),
            "slice_2_p90": _statistic(curves, "on_fallback", limit, P90),
            "spent_p90": _statistic(curves, "spent", limit, P90),
            "net_p90": _statistic(curves, "net", limit, P90),
        }
    return named


def _failed(curves: Curves, limit: int) -> Figure:
    """What is spent on fishing if every run to the limit fails, getting off the fish included."""
    names = [*SPENDING, *({"parting"} & set(curves.still))]
    weight = curves.still["weight"][:, limit]
    spent = sum((curves.still[name][:, limit] for name in names), np.zeros(len(weight)))
    return _ratio("currency", spent, weight)


def run_figures(curves: Curves, place: int) -> dict[str, Figure]:
    """Figures of the run at a place of the program (from 0) if every run before it ended
    `nothing`: belief, odds, break-even odds, days and cost. Empty where there is no such run.

    For one more run and then a stop the chance of recovery at which the run just pays, the
    other outcomes as stated, is (cost of the run + losses)/saved (`econ.engine.curves`).
    """
    sums = {name: values[:, place] for name, values in _failures(curves, place)}
    if not sums or not sums["weight"].mean() > NONE_LEFT:
        return {}
    weight, saved = sums["weight"], sums["saved"]
    need = _ratio("fraction", sums["cost"] + sums["losses"], saved)
    return {
        "belief": _ratio("fraction", sums["workable"], weight),
        "next_odds": _ratio("fraction", sums["odds"], weight),
        "next_break_even": need if saved.mean() > 0 else _none("fraction"),
        "next_days": _ratio("d", sums["days"], weight),
        "next_cost": _ratio("currency", sums["cost"], weight),
    }


def beliefs(curves: Curves, place: int) -> list[Figure]:
    """The chance that each of several doubts is in favour, before the run at a place if every run
    before it ended `nothing`; none with a single doubt."""
    sums = {name: values[:, place] for name, values in _failures(curves, place)}
    return [
        _ratio("fraction", sums[name], sums["weight"]) for name in sums if name.startswith("doubt.")
    ]


def _failures(curves: Curves, place: int) -> Iterator[tuple[str, Array]]:
    for name, values in curves.failures.items():
        if place < values.shape[1]:
            yield name, values


def days(curves: Curves, limit: int) -> Figure:
    """Mean elapsed time when every run to a limit has failed [d]."""
    left = _ratio("d", curves.still["days"][:, limit], curves.still["weight"][:, limit])
    if left.value is None:  # no path is left: the days of one that would be
        return _mean("d", curves.still["plain_days"][:, limit])
    return left


def lines(curves: Curves, limit: int) -> dict[str, Figure]:
    """The lines of the ledger at a limit, in expectation [currency]."""
    return {name: _mean("currency", curves.sums[name][:, limit]) for name in LINES}


@dataclass(frozen=True, repr=False)
class Change(Framed):
    """A figure before and after a change; None where a side has no such figure."""

    name: str
    unit: Unit
    before: float | None
    after: float | None
    change: float | None
    error: float | None
    resolved: bool


def changes(before: Mapping[str, Figure], after: Mapping[str, Figure]) -> Iterator[Change]:
    """The figures that both sides have, with the error of their difference."""
    for name, one in before.items():
        if name not in after:
            continue
        other = after[name]
        if one.value is None or other.value is None:
            yield Change(name, one.unit, one.value, other.value, None, None, False)
            continue
        scale = max(abs(one.value), abs(other.value))
        change, error = other.value - one.value, estimate(other.by_scramble - one.by_scramble).error
        if max(abs(change), error) <= ROUNDING * scale:  # the rounding of sums
            change = error = 0.0
        elif one.binned:
            error = float(np.hypot(error, GRAIN * scale))
        clear = Estimate(change, error).resolved(scale)
        known = error if np.isfinite(error) else None
        yield Change(name, one.unit, one.value, other.value, change, known, clear)


def _mean(unit: Unit, by_scramble: Array) -> Figure:
    return Figure(unit, float(by_scramble.mean()), by_scramble)


def _none(unit: Unit) -> Figure:
    return Figure(unit, None, np.zeros(0))


def _ratio(unit: Unit, over: Array, under: Array) -> Figure:
    """A ratio of means, and of the means of each scramble."""
    total = float(under.mean())
    if not abs(total) > NONE_LEFT:
        return _none(unit)
    value = float(over.mean()) / total
    # R + (x_s - R w_s)/mean w, as after a log: the deviation is that of a ratio.
    return Figure(unit, value, value + (over - value * under) / total)


def _statistic(curves: Curves, name: str, limit: int, place: int) -> Figure:
    """A statistic of a distribution: its last row is that of all draws together."""
    values = curves.distributions[name][:, limit, place]
    if np.isnan(values[-1]):
        return _none("currency")
    return Figure("currency", float(values[-1]), values[:-1], binned=True)


def _within(curves: Curves, name: str, limit: int) -> Figure:
    # A sum of weights after a log may exceed 1 by its rounding.
    values = np.clip(1.0 - curves.distributions[name][:, limit, EXCEEDS], 0.0, 1.0)
    return Figure("fraction", float(values[-1]), values[:-1])
