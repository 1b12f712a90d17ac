"""Limits on runs and days: what each gives, which is best, and what the draws tell apart."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from econ.engine.curves import Curves

Array = NDArray[np.float64]
FLAT = 0.02  # limits within this of the best are the flat range
ROUNDING = 1e-9  # of the cost: two costs this close are the same
SURE = 2.0  # standard errors that a difference must exceed to be called resolved


@dataclass(frozen=True)
class Estimate:
    """A number and its standard error, from independent scrambles."""

    value: float
    error: float


@dataclass(frozen=True)
class RunLimit:
    """What a limit of `runs` runs gives; money in currency, `common` included.

    days: mean elapsed time when all of them have failed [d]; dearer: chance that it ends
    dearer than stopping now; a percentile is a cost not exceeded with that chance.
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
    dearer: float


@dataclass(frozen=True)
class DayLimit:
    """What it gives to start no run from `days` [d] on."""

    days: float
    expected_cost: float
    standard_error: float
    probability_recovered: float


@dataclass(frozen=True)
class Verdict:
    """Which limit on runs is best.

    flat: limits around it within 2 %; saving [currency] against stopping at once;
    not_told_apart: limits that differ from the best by less than the error; cost_of_minimum:
    what the least number of runs costs [currency].
    """

    best: int
    flat: tuple[int, int]
    saving: Estimate
    not_told_apart: tuple[int, ...]
    cost_of_minimum: float


def verdict(cost: Array, *, minimum: int) -> Verdict:
    """The best of the limits from `minimum` on. cost: shape (scrambles, limits) [currency]."""
    mean = cost.mean(axis=0)
    best = minimum + int(np.argmin(mean[minimum:]))
    unsure = tuple(
        n
        for n in range(minimum, len(mean))
        if n != best and not _clear(estimate(cost[:, n] - cost[:, best]), abs(mean[best]))
    )
    return Verdict(
        best=best,
        flat=_flat(mean, best, minimum),
        saving=estimate(cost[:, 0] - cost[:, best]),
        not_told_apart=unsure,
        cost_of_minimum=float(mean[best] - mean.min()),
    )


def estimate(by_scramble: Array) -> Estimate:
    """Mean over independent scrambles and its standard error."""
    error = by_scramble.std(ddof=1) / np.sqrt(len(by_scramble))
    return Estimate(float(by_scramble.mean()), float(error))


def _clear(difference: Estimate, cost: float) -> bool:
    """Whether a difference is beyond its error, and beyond the rounding of its sums."""
    return abs(difference.value) > max(SURE * difference.error, ROUNDING * cost)


def _flat(mean: Array, best: int, minimum: int) -> tuple[int, int]:
    """Limits around the best that cost at most FLAT more."""
    within = mean <= mean[best] + FLAT * abs(mean[best])
    low, high = best, best
    while low > minimum and within[low - 1]:
        low -= 1
    while high < len(mean) - 1 and within[high + 1]:
        high += 1
    return low, high


def by_runs(found: Curves) -> tuple[RunLimit, ...]:
    """What each limit on runs gives."""
    cost = found.cost.sum(axis=1)
    recovered = found.recovered.sum(axis=1).mean(axis=0)
    cost_recovered = found.cost_recovered.sum(axis=1).mean(axis=0)
    still = found.still.sum(axis=1).mean(axis=0)
    days = found.still_days.sum(axis=1).mean(axis=0)
    plain = found.plain_days.sum(axis=1).mean(axis=0)
    dearer = found.dearer.sum(axis=1).mean(axis=0)
    rows: list[RunLimit] = []
    for n in range(cost.shape[1]):
        p10, p50, p90 = statistics(found.total, n)[:3]
        expected = estimate(cost[:, n])
        back = 1.0 - recovered[n]
        rows.append(
            RunLimit(
                runs=n,
                days=float(days[n] / still[n]) if still[n] > 0 else float(plain[n]),
                expected_cost=expected.value,
                standard_error=expected.error,
                probability_recovered=float(recovered[n]),
                p10=p10.value,
                p50=p50.value,
                p90=p90.value,
                p10_error=p10.error,
                p50_error=p50.error,
                p90_error=p90.error,
                cost_if_recovered=float(cost_recovered[n] / recovered[n])
                if recovered[n] > 0
                else None,
                cost_if_fallback=float((expected.value - cost_recovered[n]) / back)
                if back > 1e-12
                else None,
                dearer=float(dearer[n]),
            )
        )
    return tuple(rows)


def by_days(found: Curves) -> tuple[DayLimit, ...]:
    """What each limit on days gives."""
    recovered = found.by_days_recovered.mean(axis=0)
    rows = []
    for j, days in enumerate(found.grid):
        expected = estimate(found.by_days_cost[:, j])
        rows.append(DayLimit(float(days), expected.value, expected.error, float(recovered[j])))
    return tuple(rows)


def best_by_days(rows: tuple[DayLimit, ...], best: int) -> DayLimit:
    """The cheapest limit by days; of equal ones side by side the latest, which forbids least,
    but the earliest of those after which nothing changes any more."""
    if best == 0:
        return rows[0]
    cost = np.array([row.expected_cost for row in rows])
    equal = cost <= cost.min() + 1e-9 * abs(cost.min())
    first = last = int(np.argmax(equal))
    while last + 1 < len(cost) and equal[last + 1]:
        last += 1
    return rows[first if last == len(cost) - 1 else last]


def statistics(spread: Array, n: int) -> list[Estimate]:
    """P10, P50, P90, mean of the worst tenth and chance to exceed the authority at a limit: of
    all scrambles together, with the error from each of them."""
    error = spread[:-1, n].std(axis=0, ddof=1) / np.sqrt(len(spread) - 1)
    return [Estimate(float(v), float(e)) for v, e in zip(spread[-1, n], error, strict=True)]
