"""Expected-cost curves and their spread, from the walk of every draw.

With S_k = W_k (cost so far + fallback) the cost of stopping before run k and E_k the cost
of the ends of run k, both weighted, a limit of n runs costs

    C_n = E_0 + ... + E_{n-1} + S_n,      C_{k+1} - C_k = E_k + S_{k+1} - S_k.

A limit by days D makes run k where it would begin before D, so its cost is C_0 plus those
differences of the paths whose run k begins before D. Both curves are cumulative sums over
the same numbers. Each scramble gives all of them once; the spread of the scrambles is the
standard error.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from econ.engine.case import RETRY, STICK, Case
from econ.engine.choice import Choice, choose
from econ.engine.histogram import BINS, Bins
from econ.engine.inputs import Inputs
from econ.engine.level import begin
from econ.engine.walk import Ending, Step, walk

Array = NDArray[np.float64]
PILOT = 1024  # draws that set bins, grid of days and choice of fallback
FIRST = 1024  # draws of all scrambles together handed on to the rule by state
DAY_STEPS = (1 / 24, 1 / 12, 1 / 8, 1 / 4, 1 / 2, 1.0, 2.0, 5.0, 10.0, 30.0)
ROUNDING = 1e-9  # of a step: a start that close below a day of the grid is on it
MOST_DAYS = 96  # points of the curve by days
SHARES = np.array([0.1, 0.5, 0.9])  # percentiles: not exceeded with these chances
WORST = 0.1  # share of the dearest ends whose mean is given
# Sums over draws at each limit, by kind of fish, shape (kinds, limits).
SUMS = (
    "cost",
    "recovered",
    "cost_recovered",
    "fishing",
    "still",
    "still_cost",
    "still_days",
    "plain_days",
    "dearer",
    "exponential",
    "given_up",
)
# Spreads at each limit: total cost with the fish out and with a fallback, and of the total
# is spent, and what of that goes on fishing and on the fallback.
SPREADS = ("if_recovered", "if_fallback", "spent", "on_fishing", "on_fallback")


@dataclass(frozen=True)
class Curves:
    """Means over the draws of each scramble; limits are 0 to K runs.

    cost to dearer have shape (scrambles, kinds, K + 1); their sum over kinds is the
    expectation. cost [currency]; recovered: chance; cost_recovered: cost where the fish is
    recovered; fishing: cost without the fallback; still, still_cost, still_days: weight of
    those still fishing, and that weight x their cost so far [currency] and x their elapsed
    days; plain_days: the days whatever the weight; dearer: chance that the total exceeds
    stopping at once; given_up: value of the well that a fallback gives up, in the cost but not
    spent; exponential: mean of exp((total - reference)/risk tolerance), 0 where no
    tolerance is given.
    by_days_cost, by_days_recovered: shape (scrambles, days), for the days of `grid`.
    total, if_recovered, if_fallback, spent, on_fishing, on_fallback: P10, P50, P90, mean of the
    worst tenth [currency] and chance to exceed the authority, shape (scrambles + 1, K + 1, 5); the
    last row is that of all scrambles together; nan where there is no such end.
    first: the first draws of every scramble, by column.
    """

    cost: Array
    recovered: Array
    cost_recovered: Array
    fishing: Array
    still: Array
    still_cost: Array
    still_days: Array
    plain_days: Array
    dearer: Array
    exponential: Array
    given_up: Array
    by_days_cost: Array
    by_days_recovered: Array
    total: Array
    if_recovered: Array
    if_fallback: Array
    spent: Array
    on_fishing: Array
    on_fallback: Array
    grid: Array
    reference: float  # of `exponential` [currency]
    choice: Choice | None
    first: Mapping[str, Array]


@dataclass(frozen=True)
class Plan:
    """What the pilot sets before the draws are walked."""

    choice: Choice | None
    total: Bins
    part: Bins  # of what is spent, on fishing or on the fallback; from 0
    grid: Array  # days
    values: bool  # whether a fallback gives up value, so that the total is not all spent
    authority: float  # infinite where none is given
    tolerance: float | None

    def bins(self, spread: str) -> Bins:
        """Bins of a spread."""
        apart = spread.startswith("on_") or (spread == "spent" and self.values)
        return self.part if apart else self.total


def curves(inputs: Inputs) -> Curves:
    """Walk all draws of a scenario."""
    n = inputs.scenario.draws.n
    limits = inputs.scenario.limits
    plan = _plan(next(inputs.blocks(0, n=PILOT)), limits.authority, limits.risk_tolerance)
    rows: list[dict[str, Array]] = []
    together: dict[str, Array] = {}
    first: list[dict[str, Array]] = []
    share = max(4, FIRST // inputs.sampler.scrambles)
    for scramble in range(inputs.sampler.scrambles):
        total: dict[str, Array] = {}
        for number, case in enumerate(inputs.blocks(scramble, n=n)):
            if number == 0:
                first.append({name: col[:share].copy() for name, col in case.uniforms.items()})
            _add(total, _block(case, plan, inputs.minimum_runs))
        spreads = {name: total.pop(name) for name in SPREADS}
        _add(together, spreads)
        row = {name: values / n for name, values in total.items()}
        rows.append(row | _statistics(plan, spreads))
    found = {name: [row[name] for row in rows] for name in rows[0]}
    for name, values in _statistics(plan, together).items():
        found[name].append(values)
    return Curves(
        **{name: np.stack(values) for name, values in found.items()},
        grid=plan.grid,
        reference=plan.total.high,
        choice=plan.choice,
        first={name: np.concatenate([each[name] for each in first]) for name in first[0]},
    )


def _add(total: dict[str, Array], more: Mapping[str, Array]) -> None:
    for name, values in more.items():
        total[name] = total[name] + values if name in total else values


def _statistics(plan: Plan, spreads: Mapping[str, Array]) -> dict[str, Array]:
    """Percentiles, worst tenth and chance to exceed the authority of each spread, by limit."""
    both = spreads["if_recovered"] + spreads["if_fallback"]
    spent = spreads["spent"] if plan.values else both
    found = {}
    for name, limits in {**spreads, "total": both, "spent": spent}.items():
        bins = plan.bins(name)
        found[name] = np.stack(
            [
                [
                    *bins.quantiles(held, SHARES),
                    bins.tail_mean(held, share=WORST),
                    bins.chance_above(held, plan.authority),
                ]
                for held in limits
            ]
        )
    return found


def _plan(pilot: Case, authority: float | None, tolerance: float | None) -> Plan:
    choice = choose(pilot)
    low, high, last = np.inf, -np.inf, 0.0
    for step in walk(pilot, choice, histories=1):
        for ending in (step.stop, *step.ends):
            possible = np.broadcast_to(ending.weight > 0, _shape(ending, pilot))
            total = np.broadcast_to(ending.fishing + _event(pilot, ending), possible.shape)
            if possible.any():  # an end that cannot happen must not stretch the bins
                low = min(low, float(total[possible].min()))
                high = max(high, float(total[possible].max()))
        last = float(np.max(step.level.days))
    margin = 0.1 * (high - low)
    step_days = next((s for s in DAY_STEPS if s * MOST_DAYS >= 1.1 * last), 1.1 * last / MOST_DAYS)
    points = max(int(np.ceil(1.1 * last / step_days)), 1) + 1
    return Plan(
        choice,
        total=Bins(max(low - margin, 0.0), high + margin),
        part=Bins(0.0, high + margin),
        grid=step_days * np.arange(points, dtype=np.float64),
        values=any(np.any(each.value_given_up > 0) for each in pilot.fallbacks),
        authority=np.inf if authority is None else authority,
        tolerance=tolerance,
    )


def _block(case: Case, plan: Plan, minimum: int) -> dict[str, Array]:
    """Sums over the draws of a block, and what each spread holds in its bins."""
    kinds, limits = len(case.prior), len(case.program) + 1
    sums = {name: np.zeros((kinds, limits)) for name in SUMS}
    ended = {name: np.zeros(kinds) for name in SUMS}  # of the ends of the runs so far
    held = {name: np.zeros((limits, 3, BINS)) for name in SPREADS}
    held_ended = {name: np.zeros((3, BINS)) for name in SPREADS}
    by_days = np.zeros((2, len(plan.grid) + 1))
    now: Array | None = None  # cost of stopping at once, with events
    before: Step | None = None
    first_weight = begin(case).weight
    for step in walk(case, plan.choice, histories=1):
        k, level = step.number, step.level
        event = _event(case, step.stop)
        now = level.cost + event if now is None else now
        if before is None:
            by_days[0, 0] = _over_draws(_weighted_mean(step.stop), case.n).sum()
        else:
            started = _place(before.level.days, plan.grid) if before.number >= minimum else None
            difference = _weighted_mean(step.stop) - _weighted_mean(before.stop)
            for ending in before.ends:
                difference = difference + _weighted_mean(ending)
            by_days[0] += _counted(started, difference, len(plan.grid) + 1, case.n)
            by_days[1] += _counted(started, before.ends[0].weight, len(plan.grid) + 1, case.n)
        _tally(sums, k, ended, step.stop, level.cost + event > now, case.n)
        sums["exponential"][:, k] += _over_draws(_exponential(step.stop, plan), case.n)
        sums["still"][:, k] = _over_draws(level.weight, case.n)
        sums["still_cost"][:, k] = _over_draws(level.weight * level.cost, case.n)
        sums["still_days"][:, k] = _over_draws(level.weight * level.days, case.n)
        sums["plain_days"][:, k] = _over_draws(first_weight * level.days, case.n)
        here = _held(step.stop, event, plan, case.n)
        for name in SPREADS:
            held[name][k] = held_ended[name] + here.get(name, 0.0)
        for number, ending in enumerate(step.ends):
            event = _event(case, ending)
            recovered = number == 0
            dearer = ending.fishing + event > now
            _tally_end(ended, ending, dearer, case.n, recovered=recovered)
            more = _over_draws(_exponential(ending, plan), case.n)
            ended["exponential"] = ended["exponential"] + more
            for name, moments in _held(ending, event, plan, case.n).items():
                held_ended[name] += moments
        before = step
    days = np.cumsum(by_days[:, :-1], axis=1)
    return {**sums, **held, "by_days_cost": days[0], "by_days_recovered": days[1]}


def _tally(
    sums: dict[str, Array],
    k: int,
    ended: Mapping[str, Array],
    stop: Ending,
    dearer: NDArray[np.bool_],
    n: int,
) -> None:
    """Limit k: the ends of the runs before it, and the stop."""
    carried = ("cost", "recovered", "cost_recovered", "fishing", "dearer", "exponential")
    for name in (*carried, "given_up"):
        sums[name][:, k] = ended[name]
    if stop.bill is not None:
        sums["given_up"][:, k] += _over_draws(stop.weight * stop.bill.given_up, n)
    cost = _over_draws(_weighted_mean(stop), n)
    sums["cost"][:, k] += cost
    if stop.bill is None:  # the log has the fish out
        sums["recovered"][:, k] += _over_draws(stop.weight, n)
        sums["cost_recovered"][:, k] += cost
    sums["fishing"][:, k] += _over_draws(stop.weight * stop.fishing, n)
    sums["dearer"][:, k] += _over_draws(stop.weight * dearer, n)


def _tally_end(
    ended: dict[str, Array],
    ending: Ending,
    dearer: NDArray[np.bool_],
    n: int,
    *,
    recovered: bool,
) -> None:
    """One sort of end of a run."""
    cost = _over_draws(_weighted_mean(ending), n)
    ended["cost"] = ended["cost"] + cost
    ended["fishing"] = ended["fishing"] + _over_draws(ending.weight * ending.fishing, n)
    if ending.bill is not None:
        given_up = _over_draws(ending.weight * ending.bill.given_up, n)
        ended["given_up"] = ended["given_up"] + given_up
    ended["dearer"] = ended["dearer"] + _over_draws(ending.weight * dearer, n)
    if recovered:
        ended["recovered"] = ended["recovered"] + _over_draws(ending.weight, n)
        ended["cost_recovered"] = ended["cost_recovered"] + cost


def _held(ending: Ending, event: Array, plan: Plan, n: int) -> dict[str, Array]:
    """What an ending puts into the bins of each spread."""
    parts = {"on_fishing": ending.fishing}
    if ending.bill is None:
        parts["if_recovered"] = ending.fishing
    else:
        parts["if_fallback"] = ending.fishing + event
        parts["on_fallback"] = event - ending.bill.given_up
    if plan.values:
        parts["spent"] = ending.fishing + parts.get("on_fallback", 0.0)
    return {
        name: plan.bins(name).moments(values, ending.weight * _repeats(values, ending.weight, n))
        for name, values in parts.items()
    }


def _event(case: Case, ending: Ending) -> Array:
    """Cost of the fallback with kick-off retries and sticking as events."""
    if ending.bill is None:
        return np.zeros(())
    return ending.bill.event(retry_draw=case.uniforms[RETRY], stick_draw=case.uniforms[STICK])


def _weighted_mean(ending: Ending) -> Array:
    cost = ending.fishing if ending.bill is None else ending.fishing + ending.bill.mean()
    return np.asarray(ending.weight * cost)


def _exponential(ending: Ending, plan: Plan) -> Array:
    """Weighted expectation of exp((cost - reference)/tolerance), events in expectation."""
    t, less = plan.tolerance, plan.total.high
    if t is None:
        return np.zeros((1, 1, 1))
    if ending.bill is None:
        return np.asarray(ending.weight * np.exp((ending.fishing - less) / t))
    each = ending.bill.plus(ending.fishing).mean_exponential(tolerance=t, less=less)
    # A history that cannot happen weighs nothing, also where its cost has no end.
    return np.multiply(
        ending.weight,
        each,
        out=np.zeros(np.broadcast(ending.weight, each).shape),
        where=np.broadcast_to(ending.weight > 0, np.broadcast(ending.weight, each).shape),
    )


def _shape(ending: Ending, case: Case) -> tuple[int, ...]:
    return np.broadcast_shapes(ending.weight.shape, ending.fishing.shape, (case.n,))


def _place(started: Array, grid: Array) -> NDArray[np.intp]:
    """First day of the grid past the start of a run; a run begins strictly before its limit."""
    place = np.floor(started / grid[1] + ROUNDING).astype(np.intp) + 1
    return np.asarray(np.minimum(place, len(grid)), dtype=np.intp)


def _repeats(values: Array, weights: Array, n: int) -> int:
    """How often a value that is the same for all draws counts."""
    return int(n // np.broadcast_shapes(values.shape, weights.shape)[-1])


def _over_draws(values: Array, n: int) -> Array:
    """Sum over histories and draws, by kind; what is the same for all draws counts n times."""
    return np.asarray(values.sum(axis=(1, 2)) * (n // values.shape[2]))


def _counted(place: NDArray[np.intp] | None, values: Array, length: int, n: int) -> Array:
    """Sums of `values` by place on the grid of days; all at the first where there is none."""
    if place is None:
        total = np.zeros(length)
        total[0] = _over_draws(values, n).sum()
        return total
    shape = np.broadcast_shapes(place.shape, values.shape)
    counts = np.bincount(
        np.broadcast_to(place, shape).ravel(), np.broadcast_to(values, shape).ravel(), length
    )
    return np.asarray(counts * (n // shape[2]))
