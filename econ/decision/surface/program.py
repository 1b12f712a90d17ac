"""A job with the knobs of a surface turned, as a case that the engine walks.

The knobs are those of `econ.decision.changes.drivers`, with two differences that a page needs.
The belief is moved as it is now, runs logged included: the weight of each kind of fish is
multiplied by one number in all draws, so that what goes with a kind stays as it was and the
belief of the file gives the file. The odds of the next run are set at the belief of the file:
if the belief is moved too, the chance follows it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from econ.decision.changes.drivers import Columns, Driver
from econ.decision.surface.value import Position
from econ.engine.case import Case, realise
from econ.engine.inputs import Inputs
from econ.engine.level import begin
from econ.scenario.scenario import Scenario

NO_BELIEF = 1e-9  # below this a kind of fish has no draws that could tell what goes with it


def spread_belief(case: Case) -> Case:
    """The case, with both kinds of fish alike likely where one of them is ruled out."""
    if len(case.prior) == 1 or min(belief(case)) > NO_BELIEF:
        return case
    return replace(case, prior=np.full((2, 1, 1), 0.5))


def belief(case: Case) -> tuple[float, ...]:
    """Chance of each kind of fish, as the job stands now."""
    weight = begin(case).weight
    return tuple(float(each) for each in weight[:, 0, :].mean(axis=1))


def with_belief(case: Case, workable: float) -> Case:
    """The case with another belief that the fish is workable."""
    if len(case.prior) == 1:
        return case
    case = spread_belief(case)
    now = belief(case)
    factor = np.reshape([workable / now[0], (1.0 - workable) / now[1]], (2, 1, 1))
    return replace(case, prior=case.prior * factor)


def with_odds_ratio(drivers: Mapping[str, Driver], case: Case, log_ratio: float) -> Case:
    """The case with the odds p/(1 - p) that the next run recovers times exp(log_ratio)."""
    edit = drivers["all_odds"].edit
    assert edit is not None
    alone = edit(replace(case, program=case.program[:1]), float(np.exp(log_ratio)))
    return replace(alone, program=case.program)


def turned(
    inputs: Inputs,
    drivers: Mapping[str, Driver],
    columns: Columns,
    position: Position,
    *,
    base: Position,
    fallback_now: float,
) -> Case:
    """Some draws with the knobs at `position`.

    base: where the file has them; fallback_now: what factor 2 on the fallback adds [currency].
    """
    scenario: Scenario = inputs.scenario
    for name in ("spread", "fishing_day"):
        write = drivers[name].write if name in drivers else None
        if write is not None:
            scenario, columns = write(scenario, columns, getattr(position, name))
    total = len(next(iter(columns.values())))
    case = realise(scenario, columns, total, paths=inputs.paths, logged=inputs.logged)
    factor = 1.0
    if fallback_now > 0:
        amount = drivers["fallback"].amount
        assert amount is not None
        factor += (position.fallback - 1.0) * fallback_now / amount
    values = {"trip_speed": position.trip_speed, "fallback": factor}
    if position.next_odds != base.next_odds:
        values["next_odds"] = position.next_odds
    for name, value in values.items():
        edit = drivers[name].edit if name in drivers else None
        if edit is not None:
            case = edit(case, value)
    return with_belief(case, position.workable)
