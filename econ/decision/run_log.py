"""The morning after: a scenario as it stands once runs have been made.

The log fixes where the walk begins (`econ.engine.level`): fish top, top condition, belief,
rentals on contract, time since the decision. Nothing is stored: the same scenario with a
corrected log is answered anew. Money spent is added up for the reader and for what is left
of the authority, and enters no comparison.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from econ.decision.next_run import RunAhead, runs_ahead
from econ.decision.quick import of_case
from econ.engine.case import Happened
from econ.engine.choice import choose
from econ.engine.inputs import Inputs
from econ.engine.level import begin
from econ.scenario.quantities import UNITS
from econ.scenario.run_log import LoggedRun, decided_at
from econ.scenario.scenario import Scenario

DRAWS = 64  # of each scramble


@dataclass(frozen=True)
class Standing:
    """Where a job stands after some of its runs; money in currency, lengths in ft.

    best: the best limit in runs from there; ahead: the next run of the program, if any is left.
    """

    runs_made: int
    workable: float
    fish_top: float
    top_damaged: bool
    best: int
    days: float
    expected_cost: float
    fallback: float
    ahead: RunAhead | None


def happened(scenario: Scenario, log: Sequence[LoggedRun]) -> list[Happened]:
    """The log in days since the decision and field units."""
    if not log:
        return []
    begun = decided_at(scenario, like=log[0].start) or log[0].start
    factor = 1.0 if scenario.units == "field" else UNITS["length"][2]

    def days(moment: datetime) -> float:
        return (moment - begun).total_seconds() / 86_400.0

    return [
        Happened(
            run=row.run,
            start=days(row.start),
            end=days(row.end),
            outcome=row.outcome,
            top=None if row.fish_top is None else row.fish_top * (factor or 1.0),
        )
        for row in log
    ]


def from_now(scenario: Scenario, log: Sequence[LoggedRun]) -> Scenario:
    """The scenario in field units with what is left of its authority."""
    job = scenario.in_field_units()
    if not log or job.limits.authority is None:
        return job
    spent = sum(row.cost or 0.0 for row in log)
    left = max(0.0, job.limits.authority - spent)
    return job.model_copy(update={"limits": job.limits.model_copy(update={"authority": left})})


def inputs_after(scenario: Scenario, log: Sequence[LoggedRun]) -> Inputs:
    """Inputs of the job as it stands after a log."""
    return Inputs(from_now(scenario, log), logged=happened(scenario, log))


def clock(scenario: Scenario, log: Sequence[LoggedRun]) -> datetime | None:
    """When the clock of the answer starts, if the file or the log says."""
    if log:
        return log[-1].end
    return decided_at(scenario, like=datetime.min)


def standing(scenario: Scenario, log: Sequence[LoggedRun]) -> Standing:
    """Where the job stands after a log, from the first draws of every scramble."""
    inputs = inputs_after(scenario, log)
    scrambles = inputs.sampler.scrambles
    case = inputs.case(inputs.first(DRAWS), DRAWS * scrambles)
    found = of_case(case, minimum=inputs.minimum_runs, scrambles=scrambles)
    level = begin(case)
    ahead = runs_ahead(case, choose(case))
    weight = level.weight.sum(axis=0)
    cost = found.cost.mean(axis=0)
    best = found.verdict.best
    return Standing(
        runs_made=len(log),
        workable=float(level.weight[0].mean()) if len(level.weight) > 1 else 1.0,
        fish_top=float(np.mean(level.top[0] * weight)),
        top_damaged=bool(level.damaged.all()),
        best=best,
        days=float(found.days[best]),
        expected_cost=float(cost[best]),
        fallback=float(cost[0]),
        ahead=ahead[0] if ahead else None,
    )
