"""What weather and a deadline come to: the job with them against the same job without.

Both jobs are walked on the same draws, so that a difference has the small error of a difference.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from econ.decision.estimates import Estimate, estimate
from econ.decision.limits import verdict
from econ.engine.curves import Curves, Tally
from econ.engine.inputs import Inputs
from econ.scenario.framed import Framed
from econ.scenario.settings import Weather

Array = NDArray[np.float64]
DRAWS = 256  # of each scramble, at the most


@dataclass(frozen=True, repr=False)
class WaitingOnWeather(Framed):
    """Expected waiting on weather at a limit of `runs` runs.

    fishing, fallback: days of it in runs and the work after recovery, and in fallbacks, each with
    its chance [d]; cost: what the job costs less without it [currency]; runs_without: the best
    limit without it.
    """

    runs: int
    fishing: Estimate
    fallback: Estimate
    cost: Estimate
    runs_without: int


@dataclass(frozen=True, repr=False)
class LateLimit(Framed):
    """Chance to end after the deadline, and what that costs in expectation [currency], at a limit
    of `runs` runs."""

    runs: int
    chance: Estimate
    cost: Estimate


@dataclass(frozen=True, repr=False)
class EndingLate(Framed):
    """The deadline: days from now [d], its work after the last operation taken off in the mean;
    by_runs: of every limit; runs_without: the best limit without it."""

    days: float
    by_runs: tuple[LateLimit, ...]
    runs_without: int

    def _rows(self) -> tuple[LateLimit, ...]:
        return self.by_runs


def waiting_on_weather(inputs: Inputs, curves: Curves, best: int) -> WaitingOnWeather | None:
    """What weather does at a limit; None where it takes no time."""
    weather = inputs.scenario.weather
    if weather == Weather():
        return None
    with_it, without = (
        _walked(each, curves) for each in (inputs, _without(inputs, weather=Weather()))
    )

    def more(*names: str) -> Estimate:
        hours = sum(with_it.sums[name] - without.sums[name] for name in names)
        return estimate(np.asarray(hours)[:, best] / 24.0)

    return WaitingOnWeather(
        runs=best,
        fishing=more("fishing_hours", "recovery_hours"),
        fallback=more("fallback_hours", "retry_hours"),
        cost=estimate(with_it.cost[:, best] - without.cost[:, best]),
        runs_without=verdict(without.cost, minimum=inputs.minimum_runs).best,
    )


def ending_late(inputs: Inputs, curves: Curves) -> EndingLate | None:
    """What the deadline does; None without one."""
    deadline = inputs.pilot().deadline
    if deadline is None:
        return None
    without = _walked(_without(inputs, deadline=None), curves)
    cost = curves.sums["late_recovered"] + curves.sums["late_fallback"]
    return EndingLate(
        days=float(np.mean(deadline.due)),
        by_runs=tuple(
            LateLimit(runs, estimate(curves.sums["late"][:, runs]), estimate(cost[:, runs]))
            for runs in range(cost.shape[1])
        ),
        runs_without=verdict(without.cost, minimum=inputs.minimum_runs).best,
    )


def _without(inputs: Inputs, **changed: Any) -> Inputs:
    """The same job with some of its sections changed, on the same draws."""
    scenario = inputs.scenario.model_copy(update=changed)
    return Inputs(
        scenario,
        logged=inputs.logged,
        beside=inputs.names,
        hours_factor=inputs.hours_factor,
    )


def _walked(inputs: Inputs, curves: Curves) -> Curves:
    tally = Tally(inputs, distributions=False)
    tally.extend(min(curves.n, DRAWS))
    return tally.curves()
