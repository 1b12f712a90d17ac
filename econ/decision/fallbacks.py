"""The fallbacks side by side, what each is made of, and where one takes over from another."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from itertools import groupby
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from econ.engine.case import Case
from econ.engine.choice import Choice
from econ.engine.level import Level, begin, hours_of, lost_tools, three
from econ.engine.walk import next_run, waiting_at
from econ.job import Bill, LumpSums, SidetrackPlan
from econ.scenario.framed import Framed
from econ.scenario.scenario import Scenario

if TYPE_CHECKING:
    import pandas

Array = NDArray[np.float64]


@dataclass(frozen=True, repr=False)
class FallbackCost(Framed):
    """Expected cost of a fallback; money in currency.

    kickoff: mean depth [ft] where a sidetrack leaves the hole, None for a lump; hours [h] without
    retries; time: those hours; other: materials and charges; trouble: kick-off retries, a
    whipstock, sticking again, ending after the deadline; the five parts from time to value_given_up
    sum to now. after_string_lost, after_hole_lost: with the next run ending so, None where it is
    closed or there is no next run. taken: the states in which it is the cheapest that is open.
    """

    name: str
    sort: str
    kickoff: float | None
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


@dataclass(frozen=True, repr=False)
class Fallbacks(Framed):
    """All fallbacks, and which is taken as the fish top moves down."""

    rows: tuple[FallbackCost, ...]
    reaches: tuple[Reach, ...]

    @property
    def taken(self) -> FallbackCost:
        """The one that is taken if fishing stops now."""
        return next(row for row in self.rows if "now" in row.taken)

    @property
    def others(self) -> bool:
        """Whether another one is taken in some state, or as the fish top moves down."""
        taken = {row.name for row in self.rows if row.taken}
        return len(taken | {each.name for each in self.reaches}) > 1

    def to_frame(self) -> pandas.DataFrame:
        """One row a fallback."""
        import pandas

        return pandas.DataFrame([asdict(row) for row in self.rows]).set_index("name")


@dataclass(frozen=True)
class _State:
    """Where a fallback starts: the upper end of what is in the hole, the fish left, what is owed
    besides for a lost string [currency], the day [d from now], the wait until a plug is approved
    [h]; lost: with the hole."""

    top: Array
    pieces_top: Array
    extra: Array
    day: Array
    waiting: Array | None
    lost: bool = False
    string: bool = False

    def open(self, plan: SidetrackPlan | LumpSums) -> bool:
        """Whether a fallback can be taken in this state."""
        if self.lost:
            return plan.after_hole_lost
        return plan.after_string_lost or not self.string

    def bill(self, case: Case, plan: SidetrackPlan | LumpSums) -> Bill:
        """Bill with everything that is owed."""
        own = plan.bill_after_hole_lost() if self.lost else plan.bill_above(self.top)
        pieces = plan.lost_in_hole_share * case.fish.value_below(self.pieces_top)
        owed = own.owing(pieces=pieces, string=self.extra)
        waited = owed.approved_after(self.waiting, spread=case.spread)
        return waited.begun_on(self.day + waited.approval_hours / 24.0, case.deadline)


def fallbacks(scenario: Scenario, case: Case, choice: Choice | None) -> Fallbacks:
    """The fallbacks of a case, as it stands now; those that are closed are left out."""
    level = begin(case)
    weight = level.weight.sum(axis=0)[0]

    def mean(values: Array) -> float:
        return float(np.mean(values * weight))

    here, string, hole = _states(case, level)
    plans = [
        (section, plan)
        for section, plan in zip(scenario.fallback, case.fallbacks, strict=True)
        if here.open(plan)
    ]
    costs = {
        name: [
            mean(state.bill(case, plan).mean()) if state and state.open(plan) else None
            for _, plan in plans
        ]
        for name, state in (("now", here), ("string_lost", string), ("hole_lost", hole))
    }
    rows = []
    for number, (section, plan) in enumerate(plans):
        parts, hours, kickoff = _parts(case, plan, here, mean)
        rows.append(
            FallbackCost(
                name=section.name,
                sort=getattr(section, "kind", "sidetrack"),
                kickoff=kickoff,
                hours=hours,
                **parts,
                now=sum(parts.values()),
                after_string_lost=costs["string_lost"][number],
                after_hole_lost=costs["hole_lost"][number],
                taken=tuple(name for name, each in costs.items() if _cheapest(each) == number),
            )
        )
    reaches = () if case.ended else _reaches(scenario, case, choice, mean(level.top[0, 0]))
    return Fallbacks(tuple(rows), reaches)


def _states(case: Case, level: Level) -> tuple[_State, _State | None, _State | None]:
    """Now, and after the next run has lost the string or the hole."""
    top, today = level.top[0, 0], level.days[0, 0]
    whole = np.asarray(case.fish.top)
    wait = waiting_at(case, level.marks)
    waiting = None if wait is None else wait[0, 0]

    def string_value(run: int) -> Array:
        return np.asarray(case.runs[run].string_value + lost_tools(case, run))

    def with_string(run: int, measured: float | None, day: Array) -> _State:
        upper = np.maximum(top - case.runs[run].string_length, 0.0)
        upper = upper if measured is None else np.asarray(measured)
        return _State(upper, top, string_value(run), day, waiting, string=True)

    def without_hole(run: int, day: Array) -> _State:
        extra = np.asarray(case.hole_lost_string_share * string_value(run))
        return _State(whole, whole, extra, day, waiting, lost=True)

    if case.ended == "string_lost":
        return with_string(case.logged[-1].run, case.logged[-1].top, today), None, None
    if case.ended == "hole_lost":
        return without_hole(case.logged[-1].run, today), None, None
    now = _State(top, top, np.zeros(()), today, waiting)
    run = next_run(case)
    if run is None:
        return now, None, None
    then = today + three(hours_of(case, level, run))[0, 0] / 24.0
    return now, with_string(run, None, then), without_hole(run, then)


def _parts(
    case: Case, plan: SidetrackPlan | LumpSums, state: _State, mean: Callable[[Array], float]
) -> tuple[dict[str, float], float, float | None]:
    """What a fallback is made of, its hours without retries, and where a sidetrack leaves."""
    bill = state.bill(case, plan)
    kickoff = None
    if isinstance(plan, SidetrackPlan):
        after = np.asarray(plan.kickoff_after_hole_lost)
        kickoff = mean(after if state.lost else plan.kickoff_depth(state.top))
    lines = {name: mean(values) for name, values in bill.items().items()}
    parts = {
        "time": lines["fallback_time"] + lines["approval"],
        "other": lines["fallback_charges"],
        "trouble": lines["kickoff_trouble"] + lines["sticking"] + lines["late_fallback"],
        "lost_in_hole": lines["lost_in_hole"] + lines["string_lost"],
        "value_given_up": lines["value_given_up"],
    }
    return parts, mean(bill.hours + bill.approval_hours), kickoff


def _cheapest(costs: Sequence[float | None]) -> int | None:
    known = [(cost, number) for number, cost in enumerate(costs) if cost is not None]
    return min(known)[1] if known else None


def _reaches(
    scenario: Scenario, case: Case, choice: Choice | None, top: float
) -> tuple[Reach, ...]:
    """Which fallback is taken from the present fish top down to the least fish left."""
    lowest = float(case.fish.top_after_part(np.asarray(top), part_length=np.asarray(np.inf)))
    if choice is None:
        return (Reach(scenario.fallback[0].name, top, lowest),)
    tops = np.linspace(top, lowest, 513)
    taken = choice.at(top=tops, pieces_top=tops).tolist()
    reaches = []
    for number, run in groupby(range(len(tops)), key=lambda place: taken[place]):
        places = list(run)
        reaches.append(
            Reach(scenario.fallback[number].name, float(tops[places[0]]), float(tops[places[-1]]))
        )
    return tuple(reaches)
