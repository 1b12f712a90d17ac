"""The fallbacks side by side, what each is made of, and where one takes over from another."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from itertools import groupby
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from econ.engine.case import Case
from econ.engine.choice import bill_after_hole_lost, table
from econ.engine.level import begin, lost_tools
from econ.job import SidetrackPlan
from econ.scenario.scenario import Scenario

if TYPE_CHECKING:
    import pandas

Array = NDArray[np.float64]


@dataclass(frozen=True)
class FallbackCost:
    """Expected cost of a fallback; money in currency.

    hours [h] without retries; time: those hours; other: materials and charges; trouble:
    kick-off retries, a whipstock, sticking again; the five parts from time to value_given_up
    sum to now. after_string_lost, after_hole_lost: with the next run ending so, None where it is
    closed or there is no next run. taken: the states in which it is the cheapest that is open.
    """

    name: str
    sort: str
    hours: float
    time: float
    other: float
    trouble: float
    lost_in_hole: float
    value_given_up: float
    now: float
    after_string_lost: float | None
    after_hole_lost: float | None
    taken: tuple[str, ...]


@dataclass(frozen=True)
class Reach:
    """Fish tops [ft] between which a fallback is the cheapest."""

    name: str
    upper: float
    lower: float


@dataclass(frozen=True)
class Fallbacks:
    """All fallbacks, and which is taken as the fish top moves down."""

    rows: tuple[FallbackCost, ...]
    reaches: tuple[Reach, ...]

    @property
    def taken(self) -> FallbackCost:
        """The one that is taken if fishing stops now."""
        return next(row for row in self.rows if "now" in row.taken)

    def to_frame(self) -> pandas.DataFrame:
        """One row a fallback."""
        import pandas

        return pandas.DataFrame([asdict(row) for row in self.rows]).set_index("name")


def fallbacks(scenario: Scenario, case: Case) -> Fallbacks:
    """The fallbacks of a case, as it stands now."""
    level = begin(case)
    weight = level.weight.sum(axis=0)[0]
    top = level.top[0, 0]

    def mean(values: Array) -> float:
        return float(np.mean(values * weight))

    tabled = table(case)
    run = case.program[0] if case.program else None
    after_string: Array | None = None
    if run is not None:
        upper = np.maximum(top - case.runs[run].string_length, 0.0)
        after_string = tabled.costs(top=upper, pieces_top=top, string_lost=True).mean(axis=1)
        after_string = after_string + mean(case.runs[run].string_value + lost_tools(case, run))
    now = tabled.costs(top=top, pieces_top=top).mean(axis=1)
    pieces = case.fish.value_below(top)
    rows = []
    for number, (section, plan) in enumerate(zip(scenario.fallback, case.fallbacks, strict=True)):
        bill = plan.bill_above(top)
        if isinstance(plan, SidetrackPlan):
            hours = plan.hours(plan.kickoff_depth(top)).base()
            time, given_up = hours / 24.0 * plan.day_rate, np.zeros(())
        else:
            hours, given_up = plan.hours, plan.value_given_up
            time = hours / 24.0 * case.spread
        parts = {
            "time": mean(time),
            "other": mean(bill.certain - time - given_up),
            "trouble": mean(bill.mean() - bill.certain),
            "lost_in_hole": mean(plan.lost_in_hole_share * pieces),
            "value_given_up": mean(given_up),
        }
        taken = ["now"] if number == int(np.argmin(now)) else []
        string = None
        if after_string is not None and np.isfinite(after_string[number]):
            string = float(after_string[number])
            taken += ["string_lost"] if number == int(np.argmin(after_string)) else []
        hole = None
        if plan.after_hole_lost and run is not None:
            lost = bill_after_hole_lost(case, tabled, number)
            value = case.runs[run].string_value + lost_tools(case, run)
            hole = mean(lost.mean() + case.hole_lost_string_share * value)
            taken += ["hole_lost"] if number == tabled.after_hole_lost else []
        rows.append(
            FallbackCost(
                name=section.name,
                sort=getattr(section, "kind", "sidetrack"),
                hours=mean(hours),
                **parts,
                now=sum(parts.values()),
                after_string_lost=string,
                after_hole_lost=hole,
                taken=tuple(taken),
            )
        )
    return Fallbacks(tuple(rows), _reaches(scenario, case, float(np.mean(top))))


def _reaches(scenario: Scenario, case: Case, top: float) -> tuple[Reach, ...]:
    """Which fallback is taken from the present fish top down to the least fish left."""
    lowest = float(case.fish.top_after_part(np.asarray(top), part_length=np.asarray(np.inf)))
    tops = np.linspace(top, lowest, 513)
    taken = table(case).at(top=tops, pieces_top=tops).tolist()
    reaches = []
    for number, each in groupby(range(len(tops)), key=lambda place: taken[place]):
        places = list(each)
        reaches.append(
            Reach(scenario.fallback[number].name, float(tops[places[0]]), float(tops[places[-1]]))
        )
    return tuple(reaches)
