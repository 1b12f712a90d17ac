"""When each run would begin and end if every run before it ended `nothing`, and what fills it.

    wait      waiting before the run, and for tools that are still on their way
    trips     in and out to the present fish top
    handling  making up and laying down
    work      circulating, engaging, jarring, washing, milling; of a run given as plain hours
              all of them

and what follows fishing: the days after recovery, and those of the fallback taken with the
fish top as it is, in preparation at the kick-off depth and in drilling back to depth, as
planned, without kick-off trouble. Waits, trips and handling are means over the first draws of
every scramble; the days of a run are those of the answer, and what is left of them is its work.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from econ.decision.next_run import RunAhead
from econ.engine.case import Case
from econ.engine.choice import Choice
from econ.engine.inputs import Inputs
from econ.engine.level import Level, begin
from econ.engine.walk import Step, waiting_at, walk_failures
from econ.job import SidetrackPlan
from econ.scenario.distributions import Distribution
from econ.scenario.framed import Framed
from econ.scenario.program import Run

if TYPE_CHECKING:
    import pandas

Array = NDArray[np.float64]
Value = Callable[[object], Array]


@dataclass(frozen=True, repr=False)
class RunTime(Framed):
    """A run ahead, its times in days [d] from now; round_trips: 0 for a run of plain hours.

    run: its number from 0; the four parts from wait to work sum to end - start.
    """

    run: int
    name: str
    start: float
    end: float
    wait: float
    trips: float
    handling: float
    work: float
    round_trips: int


@dataclass(frozen=True, repr=False)
class BackToDepth(Framed):
    """The fallback as planned [d]; kickoff: depth [ft], None for a lump, of which all days are
    `preparation` and which does not drill back to depth."""

    name: str
    kickoff: float | None
    preparation: float
    drilling: float


@dataclass(frozen=True, repr=False)
class Timetable(Framed):
    """Runs ahead, days after recovery [d], the fallback, and where the hole stands.

    begin: days [d] owed on every branch before the first run; fish_top, well_depth [ft];
    recovery: None where nothing can be recovered any more; fallback: None where the fish is out.
    """

    begin: float
    runs: tuple[RunTime, ...]
    recovery: float | None
    fallback: BackToDepth | None
    fish_top: float
    well_depth: float

    def to_frame(self) -> pandas.DataFrame:
        """One row a run."""
        import pandas

        return pandas.DataFrame([asdict(each) for each in self.runs])


def timetable(
    inputs: Inputs, case: Case, choice: Choice | None, ahead: Sequence[RunAhead]
) -> Timetable:
    """The timetable of a job from now on. case: its first draws; ahead: the runs to make."""
    columns = case.uniforms
    level = begin(case)

    def value(amount: object) -> Array:
        if isinstance(amount, Distribution):
            return columns[inputs.paths[id(amount)]]
        return np.asarray(amount, dtype=np.float64)

    weight = level.weight.sum(axis=0)

    def mean(values: Array) -> float:
        values = np.broadcast_to(values, np.broadcast_shapes(np.shape(values), weight.shape))
        return float((weight * values).mean())

    times: list[RunTime] = []
    for row, step in zip(ahead, walk_failures(case, choice), strict=False):
        start = times[-1].end if times else float(np.mean(step.level.days[0]))
        times.append(_run(inputs.scenario.run[row.run], case, step, value, start, row.days))
    recovery = None
    if case.program or case.ended == "recovered":
        recovery = mean(value(inputs.scenario.recovery.hours)) / 24.0
    return Timetable(
        begin=mean(level.days[0]),
        runs=tuple(times),
        recovery=recovery,
        fallback=None
        if case.ended == "recovered"
        else _fallback(inputs, case, choice, level, mean),
        fish_top=mean(level.top[0]),
        well_depth=inputs.scenario.well.depth,
    )


def _run(run: Run, case: Case, step: Step, value: Value, start: float, whole: float) -> RunTime:
    """Times of a run of `whole` days [d], which are those of the answer."""
    (made,) = step.made
    weight = step.level.weight
    total = weight.sum(axis=0).mean()

    def days(hours: Array) -> float:
        values = np.broadcast_to(hours, np.broadcast_shapes(np.shape(hours), weight.shape))
        return float((weight * values).sum(axis=0).mean() / total) / 24.0

    times = case.runs[made.run].times
    late = made.hours - times.hours(step.level.top, case.speeds)
    handled = value(0.0)
    tripped = np.zeros((1, 1, 1))
    if run.trips is not None and case.speeds is not None:
        for trip in run.trips:
            handled = handled + times.factor * (value(trip.make_up) + value(trip.lay_down))
        tripped = times.factor * times.trips * case.speeds.round_trip(step.level.top)
    wait = days(times.factor * value(run.wait) + late)
    trips, handling = days(tripped), days(handled)
    return RunTime(
        run=made.run,
        name=run.name,
        start=start,
        end=start + whole,
        wait=wait,
        trips=trips,
        handling=handling,
        work=max(whole - wait - trips - handling, 0.0),
        round_trips=times.trips,
    )


def _fallback(
    inputs: Inputs,
    case: Case,
    choice: Choice | None,
    level: Level,
    mean: Callable[[Array], float],
) -> BackToDepth:
    """The fallback that is taken now; after a log that ended the job, the one it calls for."""
    top = upper = level.top[0]
    lost_string = case.ended == "string_lost"
    if lost_string:
        event = case.logged[-1]
        upper = np.maximum(top - case.runs[event.run].string_length, 0.0)
        if event.top is not None:
            upper = np.full((1, 1), event.top)
    number = 0
    if choice is not None and case.ended == "hole_lost":
        number = int(choice.once_lost(level.signs if case.choosy else None).ravel()[0])
    elif choice is not None:
        signs = level.signs if case.choosy else None
        costs = choice.costs(top=upper, pieces_top=top, string_lost=lost_string, signs=signs)
        number = int(np.argmin(costs.mean(axis=(1, 2))))
    name, plan = inputs.scenario.fallback[number].name, case.fallbacks[number]
    wait = waiting_at(case, level.marks)
    before = 0.0 if wait is None else mean(wait[0]) / 24.0
    if not isinstance(plan, SidetrackPlan):
        return BackToDepth(name, None, before + mean(plan.hours) / 24.0, 0.0)
    kickoff = plan.kickoff_depth(upper)
    if case.ended == "hole_lost":
        kickoff = np.full((1, 1), plan.kickoff_after_hole_lost)
    hours = plan.hours(kickoff)
    drilling = hours.kickoff + hours.redrill + hours.bit_trips + hours.logging
    return BackToDepth(
        name,
        kickoff=mean(kickoff),
        preparation=before + mean(hours.base() - drilling) / 24.0,
        drilling=mean(drilling) / 24.0,
    )
