"""What the walk walks: a job with every amount an array, made by `econ.engine.realise`.

Arrays are scalars (shape ()) where the scenario gives a number and shape (n,) where it
gives a distribution, so that what is certain is computed once.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from econ.engine.marks import Condition
from econ.job import (
    Bill,
    Contract,
    Deadline,
    Fish,
    LumpSums,
    RunOdds,
    RunTimes,
    SidetrackPlan,
    TripSpeeds,
)
from econ.scenario.run_log import UNFINISHED

Array = NDArray[np.float64]
Value = Callable[[object], Array]
ENDS = ("recovered", "string_lost", "hole_lost")  # outcomes that end the job
# Outcomes after which fishing goes on; all-`nothing` is so the first history.
GOING_ON = ("nothing", "part", "top_damaged", "prepared")
SOURCE = frozenset({"source"})  # the mark of a source in the fish, if the file names it
RETRY, STICK = "kick-off retries", "sticking again"  # uniform columns of events


def outcome_column(run: int) -> str:
    """Name of the uniform column that picks the outcome of run number `run` (from 0)."""
    return f"outcome of run {run + 1}"


def place_column(place: int) -> str:
    """Name of the one that does so for the run made at a `place` (from 0), whichever it is."""
    return f"outcome at place {place + 1}"


@dataclass(frozen=True)
class RunCase:
    """A run: times, charge [currency], lengths [ft] and odds (kinds, 1, n or 1).

    number: of the run in the file (from 0), of which this may be a second or later use; readings
    count on from the last run;
    favourable: the kinds of fish in which all that it depends on is in its favour, shape
    (kinds,); condition: when it can be made; gives, takes: bits of marks, once it did its own
    job; ratios: on the odds p/(1-p) of recovery while a condition holds; renews: numbers of doubts
    that hold afresh, each with this chance, once it did its own job; fishing_share: of the fishing
    day that its hours pay.
    """

    number: int
    name: str
    times: RunTimes
    wait: Array
    charge: Array
    wash_length: Array
    part_length: Array
    string_length: Array
    string_value: Array
    dresses_top: bool
    odds: RunOdds
    favourable: NDArray[np.bool_]
    condition: Condition
    gives: int
    takes: int
    ratios: Sequence[tuple[Condition, Array]]
    renews: Sequence[tuple[int, Array]]
    fishing_share: Array

    @cached_property
    def followed(self) -> Sequence[str]:
        """Outcomes that can come in any draw and after which fishing goes on."""
        return [
            name for name in GOING_ON if name == "nothing" or np.any(getattr(self.odds, name) > 0)
        ]

    @property
    def pays_all(self) -> bool:
        """Whether its hours pay the whole fishing day in every draw."""
        return self.fishing_share.size == 1 and bool(self.fishing_share == 1.0)


@dataclass(frozen=True)
class Happened:
    """A run that was made: its number from 0, start and end [d] since the decision, how it
    ended, the fish top [ft] it left, if that was measured, and marks seen after it."""

    run: int
    start: float
    end: float
    outcome: str
    top: float | None
    marks: tuple[tuple[str, bool], ...] = ()

    @property
    def finished(self) -> bool:
        """Whether it was made to its end; one stopped half way counts as not made."""
        return self.outcome != UNFINISHED


@dataclass(frozen=True)
class Parting:
    """Getting off the fish while attached: hours [h] and charge [currency]."""

    hours: Array
    charge: Array


@dataclass(frozen=True)
class Case:
    """A scenario with its amounts drawn: money in currency, rates per day, field units.

    prior: chance of each kind of fish, which is a combination of doubts: bit d of its number is
    set where doubt number d is not in favour; doubts: how many they are. runs: those of the file,
    after them a further use for each time more that a plan may make one, then the readings, which
    are in no list; uses: how many of them are no readings. words: the marks of the file; marks:
    bits of those that hold at the decision. program: numbers (from 0) of the runs still to make, by
    priority: in each state the first one is made that can be; logged: what was made. stretch: hours
    on the clock for an hour of work, fishing.
    """

    n: int
    prior: Array  # shape (kinds, 1, n or 1)
    doubts: int
    words: Sequence[str]
    marks: int
    parting: Parting | None
    stretch: Array
    spread: Array
    fishing_day: Array
    mobilization: Array
    damaged_top_factor: Array
    odds_ratio_per_day: Array | None
    loss_odds_ratio_per_day: Array | None
    hole_lost_string_share: Array
    speeds: TripSpeeds | None
    fish: Fish
    runs: Sequence[RunCase]
    uses: int
    program: Sequence[int]
    logged: Sequence[Happened]
    contracts: Sequence[Contract]
    recovery_cost: Array
    recovery_days: Array
    deadline: Deadline | None
    common_days: Array
    common_cost: Array
    fallbacks: Sequence[SidetrackPlan | LumpSums]
    open_if: Sequence[Condition]  # of each fallback
    approval: Array | None  # hours until a plug over a source is approved [h]
    source_if: Condition  # when a source is in the hole
    uniforms: Mapping[str, Array]  # the columns that pick outcomes and events
    log_scale: float | None = None  # what weights after a log are divided by; None: their mean

    @cached_property
    def conditional(self) -> bool:
        """Whether there may be a state in which the next run of the program cannot be made."""
        earlier = 0
        for event in self.logged:
            earlier |= event.finished << event.run
        for run in self.program:
            condition = self.runs[run].condition
            if replace(condition, needs_made=condition.needs_made & ~earlier).binds:
                return True
            earlier |= 1 << run
        return False

    @cached_property
    def renewing(self) -> bool:
        """Whether a run changes what the fish is."""
        return any(run.renews for run in self.runs)

    @cached_property
    def choosy(self) -> bool:
        """Whether a fallback is open in some states only."""
        return any(condition.binds for condition in self.open_if)

    @cached_property
    def paying(self) -> int:
        """Bits of the runs that pay for the mobilization of fishing."""
        bits = 0
        for number, run in enumerate(self.runs[: self.uses]):
            bits |= bool(np.any(run.fishing_share > 0)) << number
        return bits

    @property
    def elapsed(self) -> float:
        """Days [d] from the decision to the end of the last run logged."""
        return self.logged[-1].end if self.logged else 0.0

    @property
    def ended(self) -> str | None:
        """The outcome that ended the job, if the last run logged did."""
        last = self.logged[-1].outcome if self.logged else None
        return last if last in ENDS else None

    @cached_property
    def hole_lost_bills(self) -> dict[int, Bill]:
        """Bills after the hole is lost by number of the fallback, as they are worked out."""
        return {}


def stretched(hours: Array, stretch: Array) -> Array:
    """Hours on the clock for hours of work."""
    return hours if stretch.size == 1 and stretch == 1.0 else np.asarray(hours * stretch)
