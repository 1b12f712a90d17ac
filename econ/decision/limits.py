"""Limits on runs and days: what each gives, which is best, and what the draws tell apart."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from econ.decision.estimates import ROUNDING, Estimate, estimate
from econ.decision.figures import NONE_LEFT, figures
from econ.engine.curves import Curves
from econ.scenario.framed import Framed

Array = NDArray[np.float64]
FLAT = 0.02  # limits within this of the best are flat


@dataclass(frozen=True, repr=False)
class RunLimit(Framed):
    """What a limit of `runs` runs gives; money in currency, `common` included.

    days: mean elapsed time when all of them have failed [d]; days_if_recovered, days_if_fallback:
    mean elapsed time until the work after recovery, or the fallback, is done [d]; dearer: chance
    that it ends dearer than stopping now; a percentile is a cost not exceeded with that chance.
    """

    runs: int
    days: float
    expected_cost: float
    standard_error: float
    probability_recovered: float
    p10: float
    p50: float
    p90: float
    p10_error: float
    p50_error: float
    p90_error: float
    cost_if_recovered: float | None
    cost_if_fallback: float | None
    days_if_recovered: float | None
    days_if_fallback: float | None
    dearer: float
    probability_error: float
    days_error: float


@dataclass(frozen=True, repr=False)
class DayLimit(Framed):
    """What it gives to start no run from `days` [d] on; money in currency."""

    days: float
    expected_cost: float
    standard_error: float
    probability_recovered: float
    probability_error: float


@dataclass(frozen=True, repr=False)
class Verdict(Framed):
    """Which limit on runs is best.

    flat: all limits that cost at most 2 % more, the best among them; saving [currency] against
    stopping at once; not_told_apart: limits that differ from the best by less than the error;
    cost_of_minimum: what the least number of runs costs [currency].
    """

    best: int
    flat: tuple[int, ...]
    saving: Estimate
    not_told_apart: tuple[int, ...]
    cost_of_minimum: float


def is_close(cost: Array, *, minimum: int, others: Sequence[Estimate]) -> bool:
    """Whether the fewest runs allowed and the best of all with more cost nearly the same: within
    FLAT of the cheaper, or within the error. cost: shape (scrambles, limits) [currency]; others:
    what plan and rule by state gain over the best limit."""
    if cost.shape[1] <= minimum + 1:
        return False
    mean = cost.mean(axis=0)
    more = minimum + 1 + int(np.argmin(mean[minimum + 1 :]))
    apart = estimate(cost[:, minimum] - cost[:, more])
    other = float(mean[more])
    best = max(others, key=lambda each: each.value, default=Estimate(0.0, 0.0))
    if best.value > 0 and best.resolved(other):  # else it is that limit by another name
        gain = best.value + other - float(mean[minimum:].min())
        apart = Estimate(apart.value + gain, float(np.hypot(apart.error, best.error)))
        other -= gain
    near = FLAT * min(abs(float(mean[minimum])), abs(other))
    return abs(apart.value) <= near or not apart.resolved(other)


def verdict(cost: Array, *, minimum: int) -> Verdict:
    """The best of the limits from `minimum` on. cost: shape (scrambles, limits) [currency]."""
    mean = cost.mean(axis=0)
    best = minimum + int(np.argmin(mean[minimum:]))
    unsure = tuple(
        n
        for n in range(minimum, len(mean))
        if n != best and not estimate(cost[:, n] - cost[:, best]).resolved(mean[best])
    )
    return Verdict(
        best=best,
        flat=_flat(mean, best, minimum),
        saving=estimate(cost[:, 0] - cost[:, best]),
        not_told_apart=unsure,
        cost_of_minimum=float(mean[best] - mean.min()),
    )


def _flat(mean: Array, best: int, minimum: int) -> tuple[int, ...]:
    """Limits that cost at most FLAT more than the best, neighbours of it or not."""
    within = mean <= mean[best] + FLAT * abs(mean[best])
    return tuple(n for n in range(minimum, len(mean)) if within[n])


def by_runs(curves: Curves) -> tuple[RunLimit, ...]:
    """What each limit on runs gives."""
    return tuple(_run_limit(curves, n) for n in range(curves.cost.shape[1]))


def _run_limit(curves: Curves, n: int) -> RunLimit:
    named = figures(curves, n)
    value: Mapping[str, float] = {
        name: figure.value for name, figure in named.items() if figure.value is not None
    }
    expected, back = value["expected_cost"], value["probability_recovered"]
    recovered_cost = float(curves.sums["cost_recovered"][:, n].mean())
    out_days = float(curves.sums["days_recovered"][:, n].mean())
    every_day = float(curves.sums["days"][:, n].mean())
    rest = 1.0 - back
    return RunLimit(
        runs=n,
        days=value["days"],
        expected_cost=expected,
        standard_error=named["expected_cost"].error,
        probability_recovered=back,
        p10=value["p10"],
        p50=value["p50"],
        p90=value["p90"],
        p10_error=named["p10"].error,
        p50_error=named["p50"].error,
        p90_error=named["p90"].error,
        cost_if_recovered=recovered_cost / back if back > 0 else None,
        cost_if_fallback=(expected - recovered_cost) / rest if rest > NONE_LEFT else None,
        days_if_recovered=out_days / back if back > 0 else None,
        days_if_fallback=(every_day - out_days) / rest if rest > NONE_LEFT else None,
        dearer=value["dearer"],
        probability_error=named["probability_recovered"].error,
        days_error=named["days"].error,
    )


def by_days(curves: Curves) -> tuple[DayLimit, ...]:
    """What each limit on days gives."""
    rows = []
    for j, days in enumerate(curves.grid):
        expected = estimate(curves.by_days_cost[:, j])
        back = estimate(curves.by_days_recovered[:, j])
        rows.append(DayLimit(float(days), expected.value, expected.error, back.value, back.error))
    return tuple(rows)


def best_by_days(rows: tuple[DayLimit, ...], best: int) -> DayLimit:
    """The cheapest limit by days.

    Of equal ones side by side the latest is taken, because it forbids least. Where nothing
    changes any more to the end of the curve, the earliest of them is taken.
    """
    if best == 0:
        return rows[0]
    cost = np.array([row.expected_cost for row in rows])
    equal = cost <= cost.min() + ROUNDING * abs(cost.min())
    first = last = int(np.argmax(equal))
    while last + 1 < len(cost) and equal[last + 1]:
        last += 1
    return rows[first if last == len(cost) - 1 else last]
