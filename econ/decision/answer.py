"""The answer to a scenario: how many more runs and days, and all that goes with it."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from econ.decision.authority import Stage1, Stage2, stages
from econ.decision.information import perfect_information
from econ.decision.limits import (
    DayLimit,
    Estimate,
    RunLimit,
    best_by_days,
    by_days,
    by_runs,
    verdict,
)
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
    minimum = inputs.minimum_runs
    judged = verdict(found.cost.sum(axis=1), minimum=minimum)
    best = judged.best
    runs, days = by_runs(found), by_days(found)
    now = prices(case, found.choice)
    stage_1, stage_2 = stages(found, best)
    chance = runs[best or min(1, len(runs) - 1)].probability_recovered
    daily = now.spread_day + now.fishing_day
    return Answer(
        scenario=scenario,
        best=best,
        best_by_days=best_by_days(days, best),
        flat=judged.flat,
        saving=judged.saving,
        resolved=not judged.not_told_apart,
        not_told_apart=judged.not_told_apart,
        cost_of_minimum=judged.cost_of_minimum,
        by_runs=runs,
        by_days=days,
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
