"""The next run: its time, cost, odds and break-even odds, and the belief after failures.

Judged on the path where every run so far ended `nothing`. For one more run and then a stop
the chance of recovery at which the run just pays, the other outcomes being as stated, is

    p* = [C + p_left (F_left - F) + p_lost (F_lost - F) - p_part (F - F_part)] / (F - S)

with C the cost of the run without the one-off mobilization, S the cost after recovery, and
F the fallback from the present fish top, after a part, with the fishing string left, and
with the hole lost. Each term is a weighted mean over the draws.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from econ.engine.case import Case
from econ.engine.choice import Choice, bill_at
from econ.engine.level import begin
from econ.engine.walk import Step, stop, walk

Array = NDArray[np.float64]


@dataclass(frozen=True)
class RunAhead:
    """A run of the program if every one before it ended `nothing`; run: its number from 0."""

    run: int
    name: str
    failed_runs: int
    workable: float
    days: float
    cost: float
    odds: float
    break_even_odds: float | None  # None where recovery saves nothing at any odds


@dataclass(frozen=True)
class Prices:
    """What small things are worth now [currency]."""

    hour_of_waiting: float
    foot_of_fish_top: float
    fallback: float
    spread_day: float
    fishing_day: float


def runs_ahead(case: Case, choice: Choice | None) -> list[RunAhead]:
    """Every run of the program along the path of outcomes `nothing`."""
    found: list[RunAhead] = []
    for step in walk(case, choice, histories=2):
        if step.made is None or not np.any(step.level.weight[:, :1] > 0):
            break  # no run is left, or the one before cannot end with `nothing`
        found.append(_ahead(case, choice, step))
    return found


def prices(case: Case, choice: Choice | None) -> Prices:
    """Means of the prices at the present fish top."""
    level = begin(case)
    top, weight = level.top, level.weight.sum(axis=0)
    now = stop(case, choice, level)
    fallback = now.fishing - level.cost + (0.0 if now.bill is None else now.bill.mean())
    here = bill_at(case, choice, top=top, pieces_top=top).mean()
    deeper = bill_at(case, choice, top=top + 1.0, pieces_top=top + 1.0).mean()
    fishing = float(np.mean(case.fishing_day))
    spread = float(np.mean(case.spread))
    return Prices(
        hour_of_waiting=(spread + fishing) / 24.0,
        foot_of_fish_top=float(np.mean(weight * (here - deeper))),
        fallback=float(np.mean(weight * fallback)),
        spread_day=spread,
        fishing_day=fishing,
    )


def _ahead(case: Case, choice: Choice | None, step: Step) -> RunAhead:
    made = step.made
    assert made is not None
    run, odds = case.runs[made.run], made.odds
    # `walk` keeps the history of nothing but `nothing` first; the first slice is that path.
    weight = step.level.weight[:, :1]
    top = step.level.top[:, :1]
    total = float(weight.sum(axis=0).mean())

    def mean(values: Array) -> float:
        values = np.broadcast_to(values, np.broadcast_shapes(values.shape, weight.shape))
        return float((weight * values[:, :1]).sum(axis=0).mean()) / total if total else 0.0

    def bill(ending: int) -> Array:
        found = made.ends[ending].bill
        assert found is not None
        return _first(found.mean())

    here = bill_at(case, choice, top=top, pieces_top=top).mean()
    lower = case.fish.top_after_part(top, part_length=run.part_length)
    after_part = bill_at(case, choice, top=lower, pieces_top=lower).mean()
    need = (
        mean(_first(made.cost))
        + mean(_first(odds.string_lost) * (bill(1) - here))
        + mean(_first(odds.hole_lost) * (bill(2) - here))
        - mean(_first(odds.part) * (here - after_part))
    )
    saved = mean(here - case.recovery_cost)
    return RunAhead(
        run=made.run,
        name=run.name,
        failed_runs=step.number,
        workable=float(weight[0].mean()) / total if total else 0.0,
        days=mean(_first(made.hours)) / 24.0,
        cost=mean(_first(made.cost)),
        odds=mean(_first(odds.recovered)),
        break_even_odds=need / saved if saved > 0 else None,
    )


def _first(values: Array) -> Array:
    """The part of an array that belongs to the first history."""
    return values[:, :1] if values.ndim == 3 else values
