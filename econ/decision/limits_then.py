"""The limit that was in force before each row of a log.

It is that of the job as it stood after the rows before it, worked out again on few draws. A run is
beyond it where the answer said stop: no limit with a further run in it costs less than stopping, or
as much within the error, and neither the rule by state nor a plan that pays makes one. A run that
the orders asked for is so never beyond it. `econ.decision.lessons` says what each decision cost.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from econ.decision.figures import walked
from econ.decision.limits import verdict
from econ.decision.plan import FEW_STATES, LITTLE, plan_of
from econ.decision.run_log import inputs_after
from econ.decision.state_rule import rule_levels, state_rule
from econ.engine.curves import Curves
from econ.engine.inputs import Inputs
from econ.scenario.framed import Framed
from econ.scenario.run_log import LoggedRun
from econ.scenario.scenario import Scenario

REPLAYED = 64  # draws of each scramble


@dataclass(frozen=True, repr=False)
class LimitThen(Framed):
    """The limit in force before a row of a log: further runs then worth making, None of a reading;
    beyond: whether the row is a run made although the answer said stop."""

    runs: int | None
    beyond: bool


def limits_then(scenario: Scenario, log: Sequence[LoggedRun]) -> tuple[LimitThen, ...]:
    """The limit in force before each row of a log, on `REPLAYED` draws of each scramble."""
    few = min(REPLAYED, scenario.draws.most)
    quick = scenario.model_copy(update={"draws": scenario.draws.model_copy(update={"n": few})})
    return tuple(
        _limit_then(inputs_after(quick, log[:place]))
        if row.run < len(scenario.run)
        else LimitThen(None, beyond=False)
        for place, row in enumerate(log)
    )


def _limit_then(inputs: Inputs) -> LimitThen:
    (curves,) = walked([inputs], distributions=False)
    judged = verdict(curves.cost, minimum=inputs.minimum_runs)
    stops = judged.best == 0 and not judged.not_told_apart
    return LimitThen(judged.best, beyond=stops and not _fishes_otherwise(inputs, curves))


def _fishes_otherwise(inputs: Inputs, curves: Curves) -> bool:
    """Whether a plan that pays, or the rule by state, makes a run where no limit does."""
    case, minimum = inputs.pilot(), inputs.minimum_runs
    if not case.program:
        return False
    plan = plan_of(inputs, curves, most=FEW_STATES, effort=LITTLE)
    if plan.pays and plan.fish:
        return True
    levels = rule_levels(inputs, case, curves.choice)
    scrambles = inputs.sampler.scrambles
    return state_rule(levels, minimum=minimum, scrambles=scrambles, limit=0).begins
