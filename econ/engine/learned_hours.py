"""What the hours of the runs made say about the hours of those ahead.

    a_j, h_j  actual and planned hours [h] of logged run j
    y_j       = ln(a_j/h_j) = m + e_j
    m         what this crew, rig and hole have in common: normal, mean 0, deviation s
    e_j       what is of this run alone: normal, mean 0, deviation r, independent of m

The normal prior of m is conjugate, so that after J runs m is normal again, with

    1/v = 1/s^2 + J/r^2,     mean = v (y_1 + ... + y_J)/r^2,     variance v

    factor    exp(mean), the median of what the hours ahead are to be multiplied by
    80 %      exp(mean - 1.2816 v^1/2) to exp(mean + 1.2816 v^1/2)

s and r are `hours_spread` and `hours_scatter` under [fishing]: judgement, no source.

Actual hours are those from start to end of a row. Planned hours are what the clock of the engine
gives for that run at the top that it was made from, on the mean over the draws, each weighted by
the rows before: its wait, trips and work, with the share of the weather, because actual hours hold
the weather too. Waiting on a tool that is on its way is not in them. A reading is no run, and a run
stopped half way (`unfinished`) tells nothing of a whole one: neither counts.

The factor is applied where the file says `learn_hours = true`: then the wait, trips and work of
every run ahead are multiplied by it, and rentals, ageing, weather and deadline follow. Readings,
recovery, parting and fallbacks are left as they are: other people do other work there with other
tools, and the hours of a fishing run are no evidence on them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from econ.engine.case import Case, stretched
from econ.engine.level import before_each

NINETY = 1.2815515655446004  # standard normal: 9 in 10 lie below


@dataclass(frozen=True)
class RunHours:
    """A run that was made: its number from 0, planned and actual hours [h]."""

    run: int
    planned: float
    actual: float


@dataclass(frozen=True)
class LearnedHours:
    """Hours of the runs that count, in the order made, and the factor for those ahead: its median
    and the ends of its 80 % range."""

    runs: Sequence[RunHours]
    factor: float
    low: float
    high: float

    @property
    def planned(self) -> float:
        """Planned hours of all of them [h]."""
        return sum(each.planned for each in self.runs)

    @property
    def actual(self) -> float:
        """Actual hours of all of them [h]."""
        return sum(each.actual for each in self.runs)


def learned_hours(case: Case, *, spread: float, scatter: float) -> LearnedHours | None:
    """What the runs logged say about hours; None where none counts. spread, scatter: s and r.

    case: first draws of the job as planned, without any factor.
    """
    runs: list[RunHours] = []
    for event, level in before_each(case):
        actual = (event.end - event.start) * 24.0
        if event.run >= case.uses or not event.finished or actual <= 0:
            continue
        hours = stretched(case.runs[event.run].times.hours(level.top, case.speeds), case.stretch)
        weight = level.weight.sum(axis=(0, 1))
        hours, weight = np.broadcast_arrays(np.ravel(hours), weight)
        if not weight.sum() > 0:
            break  # a log that cannot be, which `begin` reports
        planned = float(np.average(hours, weights=weight))
        if planned > 0:
            runs.append(RunHours(event.run, planned, actual))
    if not runs:
        return None
    mean, deviation = common_factor(
        [float(np.log(each.actual / each.planned)) for each in runs], spread=spread, scatter=scatter
    )
    ends = np.exp(mean + NINETY * deviation * np.array([-1.0, 0.0, 1.0]))
    low, factor, high = map(float, ends)
    return LearnedHours(runs, factor, low, high)


def common_factor(y: Sequence[float], *, spread: float, scatter: float) -> tuple[float, float]:
    """Mean and deviation of m after logarithms y of actual over planned hours.

    >>> mean, deviation = common_factor([0.4], spread=0.3, scatter=0.3)
    >>> round(mean, 3), round(deviation, 4)
    (0.2, 0.2121)
    """
    variance = 1.0 / (1.0 / spread**2 + len(y) / scatter**2)
    return variance * float(np.sum(y)) / scatter**2, float(np.sqrt(variance))
