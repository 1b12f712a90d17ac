"""A job with its knobs turned, valued by the program itself.

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
from numpy.typing import NDArray

from econ.decision.changes.drivers import Columns, Driver
from econ.decision.surface.value import NEVER, Position, Valued
from econ.engine.case import Case, realise
from econ.engine.choice import Choice
from econ.engine.inputs import Inputs
from econ.engine.level import begin
from econ.engine.walk import walk
from econ.scenario.scenario import Scenario

Array = NDArray[np.float64]
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


def valued(case: Case, choice: Choice | None) -> Valued:
    """Every limit of a case, walked draw by draw."""
    limits = len(case.program) + 1
    cost, fishing, recovered, still, planned, days, given_up = (np.zeros(limits) for _ in range(7))
    spent = whole = out = given = 0.0

    def mean(values: Array) -> float:
        return float(np.broadcast_to(values, (*values.shape[:2], case.n)).sum(axis=(0, 1)).mean())

    for step in walk(case, choice, histories=1):
        n, level, stop = step.number, step.level, step.stop
        bill = 0.0 if stop.bill is None else mean(stop.weight * stop.bill.mean())
        planned[n] = mean(level.weight * level.cost)
        fishing[n] = spent + mean(stop.weight * stop.fishing)
        cost[n] = whole + mean(stop.weight * stop.fishing) + bill
        still[n] = mean(level.weight)
        recovered[n] = out + (still[n] if stop.bill is None else 0.0)
        given_up[n] = given + (0.0 if stop.bill is None else mean(stop.weight * stop.bill.given_up))
        days[n] = mean(level.weight * level.days)
        for ending in step.ends:
            spent += mean(ending.weight * ending.fishing)
            whole += mean(ending.weight * ending.fishing)
            if ending.bill is None:
                out += mean(ending.weight)
            else:
                whole += mean(ending.weight * ending.bill.mean())
                given += mean(ending.weight * ending.bill.given_up)
    some = still > NEVER
    need = 1.0 - recovered
    return Valued(
        cost=cost,
        recovered=recovered,
        days=np.divide(days, still, out=np.full(limits, np.nan), where=some),
        planned=np.divide(planned, still, out=fishing.copy(), where=some),
        fishing=fishing,
        fallback=np.divide(
            cost - fishing - given_up, need, out=np.zeros(limits), where=need > NEVER
        ),
        given_up=given_up,
    )
