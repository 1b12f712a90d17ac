"""Expected-cost curves and their spread, from the walk of every draw.

With S_k = W_k (cost so far + fallback) the cost of stopping before run k and E_k the cost
of the ends of run k, both weighted, a limit of n runs costs

    C_n = E_0 + ... + E_{n-1} + S_n,      C_{k+1} - C_k = E_k + S_{k+1} - S_k.

A limit by days D makes run k where it would begin before D, so its cost is C_0 plus those
differences of the paths whose run k begins before D. Both curves are cumulative sums over
the same numbers; all are kept for each scramble, because the spread of independent
scrambles is the standard error.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from econ.engine.case import RETRY, STICK, Case
from econ.engine.choice import Choice, choose
from econ.engine.histogram import BINS, Bins
from econ.engine.inputs import blocks, sampler
from econ.engine.walk import Ending, walk
from econ.scenario.scenario import Scenario

Array = NDArray[np.float64]
Sums = dict[str, Array]
PILOT = 1024  # draws that set bins, grid of days and choice of fallback
DAY_STEPS = (1 / 24, 1 / 12, 1 / 8, 1 / 4, 1 / 2, 1.0, 2.0, 5.0, 10.0, 30.0)
MOST_DAYS = 96  # points of the curve by days


@dataclass(frozen=True)
class Curves:
    """Sums by scramble, each divided by the number of draws.

    cost to dearer have shape (scrambles, kinds, K + 1), where the
    sum over kinds is the expectation. cost [currency]; recovered: chance; cost_recovered:
    cost where the fish is recovered; fishing: cost without the fallback; still, still_cost,
    still_days: weight of those still fishing, and that weight x their cost so far [currency]
    and x their elapsed days; dearer: chance that the total exceeds stopping at once.
    by_days_cost, by_days_recovered: shape (scrambles, days). grid: the days. total: moments
    of the total cost in bins, shape (scrambles, K + 1, 3, bins).
    """

    cost: Array
    recovered: Array
    cost_recovered: Array
    fishing: Array
    still: Array
    still_cost: Array
    still_days: Array
    dearer: Array
    grid: Array
    by_days_cost: Array
    by_days_recovered: Array
    bins: Bins
    total: Array
    choice: Choice | None


@dataclass(frozen=True)
class Plan:
    """What the pilot sets before the draws are walked."""

    choice: Choice | None
    bins: Bins
    grid: Array


def curves(scenario: Scenario) -> Curves:
    """Walk all draws of a scenario in field units."""
    source = sampler(scenario)
    n = scenario.draws.n
    plan = _plan(scenario, next(blocks(scenario, source, 0, min(n, PILOT))))
    minimum = scenario.minimum_runs
    rows: list[Sums] = []
    for scramble in range(source.scrambles):
        total: Sums = {}
        for case in blocks(scenario, source, scramble, n):
            for name, values in _block(case, plan, minimum).items():
                total[name] = total[name] + values if name in total else values
        rows.append({name: values / n for name, values in total.items()})
    sums = {name: np.stack([row[name] for row in rows]) for name in rows[0]}
    return Curves(grid=plan.grid, bins=plan.bins, choice=plan.choice, **sums)


def _plan(scenario: Scenario, pilot: Case) -> Plan:
    choice = choose(pilot)
    low, high, last = np.inf, -np.inf, 0.0
    for step in walk(pilot, choice, histories=1):
        for ending in (step.stop, *step.ends):
            # An end that cannot happen must not stretch the bins.
            total = np.where(ending.weight > 0, _total(pilot, ending), np.nan)
            if np.isnan(total).all():
                continue
            low, high = min(low, float(np.nanmin(total))), max(high, float(np.nanmax(total)))
        last = float(np.max(step.level.days))
    margin = 0.1 * (high - low)
    step_days = next((s for s in DAY_STEPS if s * MOST_DAYS >= 1.1 * last), 1.1 * last / MOST_DAYS)
    points = int(np.ceil(1.1 * last / step_days)) + 1
    grid = step_days * np.arange(points, dtype=np.float64)
    return Plan(choice, Bins(low - margin, high + margin), grid)


def _total(case: Case, ending: Ending) -> Array:
    """Total cost at an end with kick-off retries and sticking as events."""
    if ending.bill is None:
        return ending.fishing
    event = ending.bill.event(case.uniforms[RETRY], case.uniforms[STICK])
    return np.asarray(ending.fishing + event)


def _block(case: Case, plan: Plan, minimum: int) -> Sums:
    """Sums over a block, by the names of the fields of `Curves`."""
    kinds, limits, points = len(case.prior), len(case.runs) + 1, len(plan.grid)
    cost, recovered, cost_recovered, fishing, still, still_cost, still_days, dearer = np.zeros(
        (8, kinds, limits)
    )
    by_days = np.zeros((2, points + 1))
    histogram = np.zeros((limits, 3, BINS))
    ended = np.zeros((4, kinds))  # cost, recovered, fishing, dearer of the ends so far
    ended_histogram = np.zeros((3, BINS))
    now: Array | None = None  # cost of stopping at once, as events
    previous: Array | None = None  # of the last step: its stop and ends, weighted
    started: Array = np.zeros(())
    recovery_cost = np.zeros(kinds)
    gain_recovered: Array = np.zeros(())
    step_cost = 1.0 / plan.grid[1] if points > 1 else 0.0
    for step in walk(case, plan.choice, histories=1):
        k, level = step.number, step.level
        stop_mean = level.weight * (level.cost + _mean(step.stop))
        stop_total = _total(case, step.stop)
        now = stop_total if now is None else now
        if previous is not None:  # the difference that run k - 1 makes, at the day it begins
            # strictly before D: the first grid point past the start
            place = np.floor(started * step_cost).astype(np.intp) + 1
            place = np.minimum(place, points) if k > minimum else np.zeros_like(place)
            change = stop_mean + previous
            for row, values in enumerate((change, gain_recovered)):
                at = np.broadcast_to(place, np.broadcast_shapes(place.shape, values.shape))
                by_days[row] += _counted(at, values, points + 1, case.n)
        cost[:, k] = ended[0] + _over_draws(stop_mean, case.n)
        recovered[:, k] = ended[1]
        cost_recovered[:, k] = recovery_cost
        still_cost[:, k] = _over_draws(level.weight * level.cost, case.n)
        fishing[:, k] = ended[2] + still_cost[:, k]
        still[:, k] = _over_draws(level.weight, case.n)
        still_days[:, k] = _over_draws(level.weight * level.days, case.n)
        dearer[:, k] = ended[3] + _over_draws(level.weight * (stop_total > now), case.n)
        histogram[k] = ended_histogram + plan.bins.moments(
            *on_all_draws(stop_total, level.weight, case.n)
        )
        if k == 0:
            by_days[0, 0] += cost[:, 0].sum()
        if not step.ends:
            break
        previous = -stop_mean
        for ending in step.ends:
            mean = ending.weight * (ending.fishing + _mean(ending))
            total = _total(case, ending)
            previous = previous + mean
            ended[0] += _over_draws(mean, case.n)
            ended[2] += _over_draws(ending.weight * ending.fishing, case.n)
            ended[3] += _over_draws(ending.weight * (total > now), case.n)
            ended_histogram += plan.bins.moments(*on_all_draws(total, ending.weight, case.n))
        gain_recovered = step.ends[0].weight
        ended[1] += _over_draws(gain_recovered, case.n)
        recovery_cost = recovery_cost + _over_draws(gain_recovered * step.ends[0].fishing, case.n)
        started = level.days
    days = np.cumsum(by_days[:, :points], axis=1)
    return {
        "cost": cost,
        "recovered": recovered,
        "cost_recovered": cost_recovered,
        "fishing": fishing,
        "still": still,
        "still_cost": still_cost,
        "still_days": still_days,
        "dearer": dearer,
        "by_days_cost": days[0],
        "by_days_recovered": days[1],
        "total": histogram,
    }


def _mean(ending: Ending) -> Array:
    return np.zeros(()) if ending.bill is None else ending.bill.mean()


def on_all_draws(values: Array, weights: Array, n: int) -> tuple[Array, Array]:
    """Weights of what a block holds once, not for each draw, count for all its draws."""
    draws = np.broadcast_shapes(values.shape, weights.shape)[-1]
    return values, weights * (n // draws)


def _over_draws(values: Array, n: int) -> Array:
    """Sum over histories and draws, by kind; what is the same for all draws counts n times."""
    return np.asarray(values.sum(axis=(1, 2)) * (n // values.shape[2]))


def _counted(place: NDArray[np.intp], values: Array, length: int, n: int) -> Array:
    values = np.broadcast_to(values, place.shape)
    total = np.bincount(place.ravel(), values.ravel(), length)
    return np.asarray(total * (n // place.shape[2]))
