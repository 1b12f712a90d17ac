"""Hours learned: planned against actual, the factor for the runs ahead, and what it does.

The factor is that of `econ.engine.learned_hours`. The job is walked once more on the same draws
with the factor applied, or without it where the file applies it, so that the difference has the
small error of paired scrambles.
"""

from __future__ import annotations

from dataclasses import dataclass

from econ.decision.estimates import Estimate, estimate
from econ.decision.figures import walked
from econ.decision.limits import verdict
from econ.engine.case import ENDS
from econ.engine.curves import Curves
from econ.engine.inputs import Inputs
from econ.engine.learned_hours import RunHours
from econ.scenario.framed import Framed


@dataclass(frozen=True, repr=False)
class HoursEffect(Framed):
    """What applying the factor does: best limit [runs] and expected cost at it [currency] with and
    without; change: of that cost, with less without."""

    best_without: int
    best_with: int
    cost_without: float
    cost_with: float
    change: Estimate


@dataclass(frozen=True, repr=False)
class HoursLearned(Framed):
    """Hours of the runs made against plan.

    runs: each run that counts; planned, actual: of all of them [h]; factor: median of what the
    hours ahead are to be multiplied by, low, high: its 80 % range; applied: whether the file
    applies it; effect: None where no run is left to make.
    """

    runs: tuple[RunHours, ...]
    planned: float
    actual: float
    factor: float
    low: float
    high: float
    applied: bool
    effect: HoursEffect | None


def hours_learned(inputs: Inputs, curves: Curves) -> HoursLearned | None:
    """Hours learned from the log of a job. curves: of it; None without a run that counts."""
    learned = inputs.hours_learned
    if learned is None:
        return None
    applied = inputs.scenario.fishing.learn_hours
    over = inputs.logged[-1].outcome in ENDS or curves.cost.shape[1] == 1
    return HoursLearned(
        runs=tuple(learned.runs),
        planned=learned.planned,
        actual=learned.actual,
        factor=learned.factor,
        low=learned.low,
        high=learned.high,
        applied=applied,
        effect=None if over else _effect(inputs, curves),
    )


def _effect(inputs: Inputs, curves: Curves) -> HoursEffect:
    scenario = inputs.scenario
    applied = scenario.fishing.learn_hours
    draws = scenario.draws.model_copy(update={"n": curves.n})
    fishing = scenario.fishing.model_copy(update={"learn_hours": not applied})
    changed = scenario.model_copy(update={"draws": draws, "fishing": fishing})
    (other,) = walked([Inputs(changed, logged=inputs.logged)], distributions=False)
    without, with_it = (other, curves) if applied else (curves, other)
    minimum = inputs.minimum_runs
    before, after = (verdict(each.cost, minimum=minimum).best for each in (without, with_it))
    here, there = without.cost[:, before], with_it.cost[:, after]
    return HoursEffect(
        best_without=before,
        best_with=after,
        cost_without=float(here.mean()),
        cost_with=float(there.mean()),
        change=estimate(there - here),
    )
