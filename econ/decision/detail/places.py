"""Where a fallback may start, and the means of its amounts, for a sheet that recomputes them.

A place is the upper end of what is in the hole, and the depth from which down the pieces of the
fish are owed. A stop has one for each fish top, a string that is lost one for each fish top and
length of string, a hole that is lost one in all. Hours of a sidetrack are kept as the difference
to those from the present fish top.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from econ.engine.case import Case
from econ.job import SidetrackPlan
from econ.scenario.fallbacks import Fallback, Sidetrack

Array = NDArray[np.float64]
Mean = Callable[[Array], float]

SIDETRACK = (
    *("directional_day", "plugs", "plug_cost", "kickoff_failure", "bit_cost", "mobilization"),
    *("logging_cost", "other_cost", "lost_in_hole_share", "stick_again.chance"),
    *("stick_again.cost", "whipstock.after", "whipstock.hours", "whipstock.cost"),
    "whipstock.failure",
)
LUMP = ("cost", "value_given_up", "lost_in_hole_share", "trouble.chance", "trouble.cost")


@dataclass(frozen=True)
class Place:
    """Where a fallback starts; depths [ft], upper None below the shoe.

    left: share of each piece that is owed for; more_hours, more_retry_hours [h] and bit_trips by
    fallback, the hours against those from the present fish top; open: by fallback; owed: for a
    string that a log tells of [currency].
    """

    sort: str  # stop, string_lost, hole_lost
    upper: float | None
    pieces_top: float
    left: tuple[float, ...]
    more_hours: tuple[float, ...]
    more_retry_hours: tuple[float, ...]
    bit_trips: tuple[float, ...]
    open: tuple[bool, ...]
    owed: float


@dataclass(frozen=True)
class FallbackMeans:
    """A fallback from the present fish top: its items [h], and its other amounts by key."""

    name: str
    sidetrack: bool
    hours: Mapping[str, float]
    amounts: Mapping[str, float]


class Places:
    """The places of a case, made as they are asked for; `top` is the present fish top [ft]."""

    def __init__(self, case: Case, mean: Mean, *, top: float) -> None:
        self._case = case
        self._mean = mean
        self._top = top
        self.made: list[Place] = []

    def number(
        self, sort: str, upper: float | None, pieces_top: float, *, owed: float = 0.0
    ) -> int:
        """Number of a place, which is made where it is new."""
        for number, place in enumerate(self.made):
            if (place.sort, place.upper, place.pieces_top) == (sort, upper, pieces_top):
                return number
        plans = self._case.fallbacks
        hours = [self._hours(plan, upper) for plan in plans]
        self.made.append(
            Place(
                sort=sort,
                upper=upper,
                pieces_top=pieces_top,
                left=self._left(pieces_top),
                more_hours=tuple(each[0] for each in hours),
                more_retry_hours=tuple(each[1] for each in hours),
                bit_trips=tuple(each[2] for each in hours),
                open=tuple(
                    sort == "stop" or bool(getattr(plan, f"after_{sort}")) for plan in plans
                ),
                owed=owed,
            )
        )
        return len(self.made) - 1

    def _hours(self, plan: object, upper: float | None) -> tuple[float, float, float]:
        """Hours of a fallback and of a retry more than from the present fish top; bit trips."""
        if not isinstance(plan, SidetrackPlan):
            return 0.0, 0.0, 0.0
        now = plan.hours(plan.kickoff_depth(np.asarray(self._top)))
        depth = (
            np.asarray(plan.kickoff_after_hole_lost)
            if upper is None
            else plan.kickoff_depth(np.asarray(upper))
        )
        here = plan.hours(depth)
        return (
            self._mean(here.base() - now.base()),
            self._mean(here.retry - now.retry),
            self._mean(here.number_of_bit_trips),
        )

    def _left(self, pieces_top: float) -> tuple[float, ...]:
        """Share of each piece below a depth [ft], as in `econ.job.fish`."""
        fish, end, left = self._case.fish, self._case.fish.top, []
        for length in fish.lengths:
            end += length
            share = (end - pieces_top) / length if length > 0 else 0.0
            left.append(min(max(share, 0.0), 1.0))
        return tuple(left)

    def fallback(
        self, number: int, section: Fallback, amount: Callable[[object], float]
    ) -> FallbackMeans:
        """Means of fallback `number` from the present fish top. amount: mean of one of a file."""
        plan = self._case.fallbacks[number]
        names = SIDETRACK if isinstance(section, Sidetrack) else LUMP
        amounts = {
            name: amount(value) for name in names if (value := _value(section, name)) is not None
        }
        if not isinstance(plan, SidetrackPlan):
            hours = {"hours": amount(_value(section, "hours"))}
            return FallbackMeans(section.name, False, hours, amounts)
        built = plan.hours(plan.kickoff_depth(np.asarray(self._top)))
        items = [name for name in vars(built) if name not in ("number_of_bit_trips", "retry")]
        hours = {item: self._mean(getattr(built, item)) for item in items}
        amounts["retry_hours"] = self._mean(built.retry)
        return FallbackMeans(section.name, True, hours, amounts)


def _value(section: object, key: str) -> object:
    """What a key path of a section holds; None where a part of it is left out."""
    for name in key.split("."):
        section = getattr(section, name, None)
    return section
