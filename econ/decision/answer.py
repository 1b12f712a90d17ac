"""The answer to a scenario: how many more runs and days, and all that goes with it."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from econ.decision.information import perfect_information
from econ.decision.next_run import Prices, RunAhead, prices, runs_ahead
from econ.decision.rules_of_thumb import (
    economic_fishing_days,
    half_rule_days,
    time_limit_days,
)
from econ.decision.state_rule import StateRule, state_rule
from econ.engine.case import STICK
from econ.engine.curves import Curves, curves
from econ.engine.inputs import Inputs
from econ.scenario.scenario import Scenario

if TYPE_CHECKING:
    import pandas

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
class Stage1:
    """Authority to fish: cost if every run to the limit fails, mean and P90 of the spend."""

    planned: float
    mean: float
    p90: float
    p90_error: float


@dataclass(frozen=True)
class Stage2:
    """Authority for the fallback: chance that it is needed, mean and P90 if it is."""

    probability: float
    mean: float
    p90: float
    p90_error: float


@dataclass(frozen=True)
class RulesOfThumb:
    """The published rules on the numbers of this scenario [d]."""

    time_limit_days: float
    economic_fishing_days: float
    half_rule_days: float


@dataclass(frozen=True)
class Answer:
    """Everything `econ` says about a scenario. Frozen; carries draws, scrambles and seed."""

    scenario: Scenario
    best: int  # runs
    best_by_days: DayLimit
    flat: tuple[int, int]
    saving: Estimate
    resolved: bool
    not_told_apart: tuple[int, ...]  # limits that differ from the best by less than the error
    cost_of_minimum: float
    by_runs: tuple[RunLimit, ...]
    by_days: tuple[DayLimit, ...]
    ahead: tuple[RunAhead, ...]
    rule: StateRule
    rules: RulesOfThumb
    stage_1: Stage1
    stage_2: Stage2
    prices: Prices
    worth_of_kind: float

    @property
    def fish(self) -> bool:
        """Whether to make the next run: the best limit, or the rule by state, does."""
        return self.best > 0 or any(state.go and not state.history for state in self.rule.states)

    @property
    def limit(self) -> RunLimit:
        """The best limit."""
        return self.by_runs[self.best]

    @property
    def rule_cost(self) -> Estimate:
        """Expected cost of the rule by state: the best limit less what the rule gains."""
        limit = self.limit
        return Estimate(
            limit.expected_cost - self.rule.gain,
            float(np.hypot(limit.standard_error, self.rule.gain_error)),
        )

    def to_frame(self) -> pandas.DataFrame:
        """The curve by runs, one row a limit."""
        return _frame(self.by_runs).set_index("runs")

    def days_frame(self) -> pandas.DataFrame:
        """The curve by days, one row a limit."""
        return _frame(self.by_days).set_index("days")

    def runs_frame(self) -> pandas.DataFrame:
        """The runs ahead with belief, odds and break-even odds."""
        return _frame(self.ahead)


def answer(scenario: Scenario) -> Answer:
    """Answer a scenario as `econ.load` gives it; the scenario is not changed.

    Raises TypeError for anything but a `Scenario`.

    The work: walk all draws (`econ.engine`), read the limits off the curves, and set the
    rule by state, the next run and the published rules beside them.
    """
    if not isinstance(scenario, Scenario):
        raise TypeError(
            f"answer() takes a Scenario, not {type(scenario).__name__}; econ.load(path)"
        )
    job = scenario.in_field_units()
    inputs = Inputs(job)
    found = curves(inputs)
    case = inputs.case(found.first, len(found.first[STICK]))
    minimum = job.minimum_runs
    cost = found.cost.sum(axis=1)  # (scrambles, limits)
    mean = cost.mean(axis=0)
    best = minimum + int(np.argmin(mean[minimum:]))
    saving = _estimate(cost[:, 0] - cost[:, best])
    unsure = tuple(
        n
        for n in range(minimum, len(mean))
        if n != best and not _clear(_estimate(cost[:, n] - cost[:, best]), abs(mean[best]))
    )
    by_runs = _by_runs(found)
    now = prices(case, found.choice)
    stage_1, stage_2 = _authority(found, best)
    chance = by_runs[best or min(1, len(mean) - 1)].probability_recovered
    daily = now.spread_day + now.fishing_day
    by_days = _by_days(found)
    return Answer(
        scenario=scenario,
        best=best,
        best_by_days=_best_by_days(by_days, best),
        flat=_flat(mean, best, minimum),
        saving=saving,
        resolved=not unsure,
        not_told_apart=unsure,
        cost_of_minimum=float(mean[best] - mean.min()),
        by_runs=by_runs,
        by_days=by_days,
        ahead=tuple(runs_ahead(case, found.choice)),
        rule=state_rule(inputs, case, found.choice, limit=best),
        rules=RulesOfThumb(
            time_limit_days(fish_and_sidetrack=now.fallback, daily_cost=daily),
            economic_fishing_days(chance=chance, fish_and_sidetrack=now.fallback, daily_cost=daily),
            half_rule_days(fish_and_sidetrack=now.fallback, rig_day=now.spread_day),
        ),
        stage_1=stage_1,
        stage_2=stage_2,
        prices=now,
        worth_of_kind=_worth_of_kind(found, minimum),
    )


def _estimate(by_scramble: Array) -> Estimate:
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


def _by_runs(found: Curves) -> tuple[RunLimit, ...]:
    cost = found.cost.sum(axis=1)
    recovered = found.recovered.sum(axis=1).mean(axis=0)
    cost_recovered = found.cost_recovered.sum(axis=1).mean(axis=0)
    still = found.still.sum(axis=1).mean(axis=0)
    days = found.still_days.sum(axis=1).mean(axis=0)
    plain = found.plain_days.sum(axis=1).mean(axis=0)
    dearer = found.dearer.sum(axis=1).mean(axis=0)
    rows: list[RunLimit] = []
    for n in range(cost.shape[1]):
        p10, p50, p90 = _percentiles(found.total, n)
        expected = _estimate(cost[:, n])
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


def _by_days(found: Curves) -> tuple[DayLimit, ...]:
    recovered = found.by_days_recovered.mean(axis=0)
    rows = []
    for j, days in enumerate(found.grid):
        expected = _estimate(found.by_days_cost[:, j])
        rows.append(DayLimit(float(days), expected.value, expected.error, float(recovered[j])))
    return tuple(rows)


def _best_by_days(by_days: tuple[DayLimit, ...], best: int) -> DayLimit:
    """The cheapest limit by days; of equal ones side by side the latest, which forbids least,
    but the earliest of those after which nothing changes any more."""
    if best == 0:
        return by_days[0]
    cost = np.array([row.expected_cost for row in by_days])
    equal = cost <= cost.min() + 1e-9 * abs(cost.min())
    first = last = int(np.argmax(equal))
    while last + 1 < len(cost) and equal[last + 1]:
        last += 1
    return by_days[first if last == len(cost) - 1 else last]


def _authority(found: Curves, best: int) -> tuple[Stage1, Stage2]:
    fishing = float(found.fishing.sum(axis=1).mean(axis=0)[best])
    total = float(found.cost.sum(axis=1).mean(axis=0)[best])
    need = 1.0 - float(found.recovered.sum(axis=1).mean(axis=0)[best])
    still = float(found.still.sum(axis=1).mean(axis=0)[best])
    planned = float(found.still_cost.sum(axis=1).mean(axis=0)[best])
    first = _percentiles(found.on_fishing, best)[2]
    stage_1 = Stage1(planned / still if still > 0 else fishing, fishing, first.value, first.error)
    if need <= 1e-12:
        return stage_1, Stage2(0.0, 0.0, 0.0, 0.0)
    second = _percentiles(found.on_fallback, best)[2]
    return stage_1, Stage2(need, (total - fishing) / need, second.value, second.error)


def _percentiles(spread: Array, n: int) -> list[Estimate]:
    """P10, P50 and P90 at a limit: of all scrambles, with the error from each of them."""
    error = spread[:-1, n].std(axis=0, ddof=1) / np.sqrt(len(spread) - 1)
    return [Estimate(float(v), float(e)) for v, e in zip(spread[-1, n], error, strict=True)]


def _worth_of_kind(found: Curves, minimum: int) -> float:
    """Worth of knowing for certain whether the fish is workable, by limits on runs."""
    cost = found.cost.mean(axis=0)  # (kinds, limits), each weighted by the prior
    prior = found.still.mean(axis=0)[:, 0]
    if len(cost) < 2 or prior.min() <= 0:
        return 0.0
    table = (cost / prior[:, None]).T[minimum:]
    return max(0.0, perfect_information(prior=prior, cost=table))


def _frame(rows: tuple[Any, ...]) -> pandas.DataFrame:
    import pandas

    return pandas.DataFrame([asdict(row) for row in rows])
