"""What it costs on average to end late with each fallback, as the crew sees it: by top and day.

Where nothing of it is drawn, it is worked out for every state that is asked for. Else it is the
mean over a pilot set of draws, tabled on a grid of fish tops and days; from the day on by which
the fallback begins late in every draw it is straight.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from econ.engine.case import Case
from econ.job import Bill, Deadline, LumpSums, SidetrackPlan

Array = NDArray[np.float64]
TOPS, DAYS = 17, 129  # points of the grid


@dataclass(frozen=True)
class Lateness:
    """Mean cost of ending late [currency] by fallback.

    tops [ft], days [d from now]: of the grid, none where every state is worked out; above, lost:
    means from a fish top and once the hole is lost, shape (fallbacks, tops, days) and (fallbacks,
    days); per_day: of the deadline, mean [currency/d].
    """

    deadline: Deadline
    fallbacks: Sequence[SidetrackPlan | LumpSums]
    tops: Array
    days: Array
    above: Array
    lost: Array
    per_day: float

    @classmethod
    def table(cls, pilot: Case, *, tops: tuple[float, float], weight: Array) -> Lateness | None:
        """From a pilot block of draws with their weight, for fish tops between two; None without a
        deadline."""
        deadline = pilot.deadline
        if deadline is None:
            return None
        none = np.zeros(0)
        exact = cls(deadline, pilot.fallbacks, none, none, none, none, 0.0)
        now = np.asarray(tops[0])
        if all(exact._bill(j, now, none).late().size == 1 for j in range(len(pilot.fallbacks))):
            return exact
        latest = float(np.max(deadline.due))
        grid = np.linspace(*tops, TOPS), np.linspace(min(0.0, latest - 1.0), latest, DAYS)

        def mean(number: int, top: float | None) -> Array:
            at = None if top is None else np.asarray(top)
            late = exact._bill(number, at, grid[1][:, None]).late()
            return np.asarray(np.broadcast_to((late * weight).mean(axis=-1), (DAYS,)))

        numbers = range(len(pilot.fallbacks))
        return cls(
            deadline,
            pilot.fallbacks,
            *grid,
            above=np.array([[mean(j, float(top)) for top in grid[0]] for j in numbers]),
            lost=np.array([mean(j, None) for j in numbers]),
            per_day=float(np.mean(deadline.per_day * np.ones_like(weight) * weight)),
        )

    def of(self, number: int, top: Array | None, day: Array) -> Array:
        """Mean cost of ending late with a fallback that begins on a day; top: upper end of what is
        in the hole [ft], None once the hole is lost."""
        if self.days.size == 0:
            return self._bill(number, top, day).late()
        beyond = self.per_day * np.maximum(0.0, day - self.days[-1])
        i, x = _place(day, self.days)
        if top is None:
            row = self.lost[number]
            return np.asarray(row[i] + x * (row[i + 1] - row[i]) + beyond)
        table = self.above[number]
        j, y = _place(top, self.tops)
        upper = table[j, i] + x * (table[j, i + 1] - table[j, i])
        lower = table[j + 1, i] + x * (table[j + 1, i + 1] - table[j + 1, i])
        return np.asarray(upper + y * (lower - upper) + beyond)

    def _bill(self, number: int, top: Array | None, day: Array) -> Bill:
        plan = self.fallbacks[number]
        bill = plan.bill_after_hole_lost() if top is None else plan.bill_above(top)
        return bill.begun_on(day if day.size else np.zeros(()), self.deadline)


def _place(values: Array, grid: Array) -> tuple[NDArray[np.intp], Array]:
    """The step of an even grid that each value is on, and how far along it, 0 to 1."""
    along = np.clip((values - grid[0]) / (grid[1] - grid[0]), 0.0, grid.size - 1.0)
    step = np.minimum(along.astype(np.intp), grid.size - 2)
    return step, along - step
