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

from econ.decision.figures import days, walked
from econ.decision.limits import verdict
from econ.decision.next_run import RunAhead, runs_ahead
from econ.engine.case import Happened
from econ.engine.curves import Curves
from econ.engine.inputs import Inputs
from econ.engine.level import Level, begin
from econ.engine.realise import uses_of
from econ.engine.walk import runs_if_all_fail
from econ.scenario.framed import Framed
from econ.scenario.quantities import UNITS
from econ.scenario.run_log import READS, LoggedRun, decided_at
from econ.scenario.scenario import Scenario


@dataclass(frozen=True, repr=False)
class Status(Framed):
    """Where a job stands after some of its runs.

    workable: chance that the fish is workable; doubts: where there are several, the chance of each
    that it is in favour; fish_top [ft]; best: the best limit in runs from
    there; days: mean elapsed time when all of those have failed [d]; expected_cost: of the best
    limit; fallback: of stopping there [both currency]; ahead: the next run of the program, if
    any is left.
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
    doubts: tuple[float, ...] = ()


def happened(scenario: Scenario, log: Sequence[LoggedRun]) -> list[Happened]:
    """The log in days since the decision and field units."""
    if not log:
        return []
    begun = decided_at(scenario, like=log[0].start) or log[0].start
    factor = 1.0 if scenario.units == "field" else UNITS["length"][2]
    further = len(uses_of(scenario.run)) - len(scenario.run)

    def since(moment: datetime) -> float:
        return (moment - begun).total_seconds() / 86_400.0

    return [
        Happened(
            run=row.run if row.run < len(scenario.run) else row.run + further,
            start=since(row.start),
            end=since(row.end),
            outcome=READS.get(row.outcome, row.outcome),
            top=None if row.fish_top is None else row.fish_top * (factor or 1.0),
            marks=row.marks,
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


def standing(scenario: Scenario, log: Sequence[LoggedRun], *, n: int) -> Status:
    """Where a job stands after a log, on `n` draws of each scramble."""
    draws = scenario.draws.model_copy(update={"n": n})
    inputs = inputs_after(scenario.model_copy(update={"draws": draws}), log)
    (found,) = walked([inputs], distributions=False)
    return status(inputs, found)


def status(inputs: Inputs, curves: Curves) -> Status:
    """Where a job stands, from its curves."""
    best = verdict(curves.cost, minimum=inputs.minimum_runs).best
    elapsed = days(curves, best).value
    assert elapsed is not None
    case = inputs.pilot()
    ahead = runs_ahead(curves, runs_if_all_fail(case), inputs.scenario.run)
    cost = curves.cost.mean(axis=0)
    return Status(
        runs_made=inputs.runs_made,
        workable=float(curves.now["workable"].mean()),
        fish_top=mean_top(begin(case)),
        top_damaged=bool(begin(case).damaged.all()),
        best=best,
        days=elapsed,
        expected_cost=float(cost[best]),
        fallback=float(cost[0]),
        ahead=ahead[0] if ahead else None,
        doubts=tuple(
            float(curves.now[f"doubt.{number}"].mean())
            for number in range(len(inputs.scenario.doubts))
            if f"doubt.{number}" in curves.now
        ),
    )


def mean_top(level: Level) -> float:
    """Mean fish top [ft]; the very number where it is one."""
    top, weight = level.top[0, 0], level.weight.sum(axis=(0, 1))
    return float(top[0]) if top.size == 1 else float(np.average(top, weights=weight))
