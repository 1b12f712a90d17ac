"""The whole scenario: its sections, its amounts by key path, and its conversion to field units."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime, time, timedelta
from functools import cache
from math import inf
from typing import Annotated, Any, Literal, get_args

from pydantic import BaseModel, BeforeValidator, Field, PrivateAttr, model_validator
from pydantic_core import PydanticCustomError

from econ.scenario.base import (
    COUNT,
    MOST_CONTRACTS,
    MOST_FALLBACKS,
    MOST_READINGS,
    MOST_RUNS,
    DayRate,
    Section,
    key,
)
from econ.scenario.distributions import Beta, Distribution
from econ.scenario.doubts import MOST_DOUBTS, WORKABLE, Doubt
from econ.scenario.evidence import FromReports, PastJobs
from econ.scenario.fallbacks import Fallback, Lump, Sidetrack
from econ.scenario.hazards import HAZARD_MARKS, hazard_bars, hazard_marks, hazards
from econ.scenario.hole import Fish, Job, TripSpeed, Well
from econ.scenario.marks import ATTACHED, own_marks
from econ.scenario.paperwork import Afe, Insurance, Partner, Reading, Rental
from econ.scenario.program import Common, Fishing, OddsByKind, Parting, Recovery, Run
from econ.scenario.quantities import UNITS, Quantity, quantity_of
from econ.scenario.settings import Correlation, Deadline, DrawSettings, Limits, Weather

PLAIN = ("fraction", "ratio", "count")  # units that a number is read without
PLAIN_TYPES = frozenset({type(None), bool, float, int, str})  # of values that are no distribution


def version_one(value: Any) -> Any:
    """Refuse true and 1.0, which Python takes to be 1."""
    if isinstance(value, (bool, float)):
        raise PydanticCustomError(
            "version",
            "{given}",
            {"given": str(value).lower(), "allowed": "1, a whole number", "suggestion": ""},
        )
    return value


class Scenario(Section):
    """A fishing job as written in a file, checked."""

    schema_: Annotated[Literal[1], BeforeValidator(version_one)] = key(
        "Version of the format", alias="schema"
    )
    units: Literal["field", "metric"] = key("field: ft, in, lb; metric: m, mm, kg")
    currency: Annotated[str, Field(min_length=1, max_length=12)] = key("Currency of all money")
    currency_decimals: Annotated[int, Field(ge=0, le=4)] = key(
        "Decimals in which the currency is paid", 2, json_schema_extra=COUNT
    )
    price_date: date | None = key("Date of the prices", None)
    odds_from: Annotated[str, Field(max_length=1000)] = key(
        "File of odds from past jobs, as econ odds writes it, beside this file; left out, none", ""
    )
    speeds_from: Annotated[str, Field(max_length=1000)] = key(
        "File of speeds and hours from daily reports, as econ daily writes it, beside this file; "
        "left out, none",
        "",
    )
    job: Job = key("The job")
    well: Well = key("The hole")
    trip_speed: TripSpeed | None = key("Trip speeds, needed where something trips", None)
    rates: Annotated[dict[str, DayRate], Field(min_length=1, max_length=MOST_CONTRACTS)] = key(
        "What each day costs on every branch, by name; the sum is the spread"
    )
    fishing: Fishing = key("What fishing adds", Fishing())
    doubt: Annotated[list[Doubt], Field(max_length=MOST_DOUBTS)] = key(
        "What nobody knows about the fish; left out, one doubt with fishing.workable", default=[]
    )
    fish: Fish = key("What lies in the hole")
    run: Annotated[list[Run], Field(max_length=MOST_RUNS)] = key("The program of runs", default=[])
    recovery: Recovery = key("After the fish is out", Recovery())
    common: Common = key("Owed on every branch first", Common())
    fallback: Annotated[list[Fallback], Field(min_length=1, max_length=MOST_FALLBACKS)] = key(
        "What is done when fishing stops; the cheapest by expected cost is taken"
    )
    limits: Limits = key("What binds the decision", Limits())
    rental: Annotated[list[Rental], Field(max_length=MOST_CONTRACTS)] = key(
        "Rental contracts", default=[]
    )
    reading: Annotated[list[Reading], Field(max_length=MOST_READINGS)] = key(
        "What can be learned about the fish, at a price", default=[]
    )
    insurance: Insurance = key("What a policy may pay back", Insurance())
    afe: Afe = key("The authority for expenditure", Afe())
    partner: Annotated[list[Partner], Field(max_length=MOST_CONTRACTS)] = key(
        "Partners", default=[]
    )
    correlation: Annotated[list[Correlation], Field(max_length=MOST_CONTRACTS)] = key(
        "Amounts that move together", default=[]
    )
    parting: Parting | None = key(
        "Getting off the fish, needed where it is or can become attached", None
    )
    weather: Weather = key("Share of the clock's time that is lost", Weather())
    deadline: Deadline | None = key("What it costs to end late; left out, nothing", None)
    draws: DrawSettings = key("The sampling", DrawSettings())
    _past_jobs: PastJobs | None = PrivateAttr(None)
    _from_reports: FromReports | None = PrivateAttr(None)
    _stand_ins: tuple[str, ...] = PrivateAttr(())
    _marked: tuple[str, ...] = PrivateAttr(())

    @model_validator(mode="after")
    def _hazards_are_marks(self) -> Scenario:
        """What the fish holds is told as marks, and bars the runs of the kinds that it bars, and
        drilling past the fish as a fallback.

        Only words that something then asks for are added, so that a file without hazards, or with
        none that its runs mind, stays as it is.
        """
        told = self.fish.marks
        now = hazard_marks(hazards(self.fish), consent=self.fish.written_consent)
        given = {mark for run in self.run for mark in run.gives}
        can_hold = (now | given).intersection(HAZARD_MARKS)
        can_hold |= set(told).intersection(HAZARD_MARKS)
        if not can_hold:
            return self
        runs = []
        for run in self.run:
            more = [m for m in hazard_bars(run.kind) if m in can_hold and m not in run.bars]
            runs.append(run.model_copy(update={"bars": [*run.bars, *more]}) if more else run)
        left = [
            fallback.model_copy(update={"bars": sorted({*fallback.bars, *can_hold})})
            if isinstance(fallback, Lump) and fallback.kind == "drill_past"
            else fallback
            for fallback in self.fallback
        ]
        self.__dict__ |= {"run": runs, "fallback": left}
        asked = self.marks
        more = [m for m in HAZARD_MARKS if m in now and m in asked and m not in told]
        self.__dict__["fish"] = self.fish.model_copy(update={"marks": [*told, *more]})
        return self

    @property
    def past_jobs(self) -> PastJobs | None:
        """What sort of jobs the odds of `odds_from` rest on; None without it."""
        return self._past_jobs

    def with_past_jobs(self, past: PastJobs) -> Scenario:
        """The same scenario, knowing what jobs its odds rest on."""
        known = self.model_copy()
        known._past_jobs = past
        return known

    @property
    def marked(self) -> tuple[str, ...]:
        """Key paths that the text of the file marks as planning values, not looked at."""
        return self._marked

    def with_marks(self, marked: tuple[str, ...]) -> Scenario:
        """The same scenario, knowing which of its values nobody has looked at."""
        known = self.model_copy()
        known._marked = marked
        return known

    @property
    def from_reports(self) -> FromReports | None:
        """What daily reports gave, where `speeds_from` names some; None without it."""
        return self._from_reports

    def with_reports(self, told: FromReports) -> Scenario:
        """The same scenario, knowing what of it is from daily reports."""
        known = self.model_copy()
        known._from_reports = told
        return known

    def origin_in_reports(self, *path: str | int) -> str:
        """Where the values below a key path are from, if from daily reports; else empty."""
        return "" if self._from_reports is None else self._from_reports.origin(*path)

    @property
    def stand_ins(self) -> tuple[str, ...]:
        """Key paths that the file leaves out and that something stands in for, where only fish and
        hole are looked at; none otherwise."""
        return self._stand_ins

    def with_stand_ins(self, names: tuple[str, ...]) -> Scenario:
        """The same scenario, knowing what its file leaves out."""
        known = self.model_copy()
        known._stand_ins = names
        return known

    @property
    def has_kinds(self) -> bool:
        """Whether any run tells a workable from a stubborn fish."""
        return any(isinstance(run.odds, OddsByKind) for run in self.run)

    @property
    def doubts(self) -> tuple[Doubt, ...]:
        """What the kinds of fish are made of: the doubts of the file, else `fishing.workable`
        where a run tells a workable from a stubborn fish, else none."""
        if self.doubt or not self.has_kinds:
            return tuple(self.doubt)
        one = Doubt.model_construct(name=WORKABLE, workable=self.fishing.workable)
        return (one,)

    @property
    def marks(self) -> tuple[str, ...]:
        """The marks that the file names, in order of first appearance, `attached` first if it is
        among them; without `damaged_top` and runs made."""
        named = list(self.fish.marks)
        for run in self.run:
            named += [*run.needs, *run.bars, *run.gives, *run.takes, *run.ratio_with]
        for section in (*self.fallback, *self.reading):
            named += [*section.needs, *section.bars]
        return own_marks(named)

    @property
    def actions(self) -> tuple[Run | Reading, ...]:
        """What can be done and logged: the runs, then the readings."""
        return (*self.run, *self.reading)

    def named(self, action: int) -> str:
        """A run by number and name, a reading by name; `action` counts `actions` from 0."""
        name = self.actions[action].name
        return f"run {action + 1}, {name}" if action < len(self.run) else f"the reading {name}"

    @property
    def can_be_attached(self) -> bool:
        """Whether the stuck string is whole to the surface, or a run can make it so."""
        return any(ATTACHED in marks for marks in (self.fish.marks, *(r.gives for r in self.run)))

    @property
    def minimum_runs(self) -> int:
        """Least number of runs: as set, else 1 with a sealed source, else 0."""
        if self.limits.minimum_runs is not None:
            return self.limits.minimum_runs
        return int("source" in hazards(self.fish))

    @property
    def lapsing(self) -> tuple[float, ...]:
        """What of the lines of the authority lapses under each fallback [currency]."""
        return tuple(self.afe.lapsing(number) for number in range(len(self.fallback)))

    @property
    def deadline_days(self) -> float:
        """Days from the decision to the deadline; endless without one."""
        if self.deadline is None:
            return inf
        if self.deadline.in_days is not None:
            return self.deadline.in_days
        ends = (self.deadline.at, self.job.decided_at)
        zones = [moment.tzinfo for moment in ends if isinstance(moment, datetime)]
        zone = next((each for each in zones if each is not None), None)

        def whole(moment: date | datetime | None) -> datetime:
            """A date is its midnight, in the zone of the other."""
            if isinstance(moment, datetime):
                return moment
            return datetime.combine(moment or date.min, time(), tzinfo=zone)

        return (whole(ends[0]) - whole(ends[1])) / timedelta(days=1)

    def kickoff_floor(self, fallback: Sidetrack) -> float:
        """Shallowest kick-off of a sidetrack [length unit of this scenario]."""
        if fallback.kickoff_floor is None:
            return self.kickoff_after_hole_lost(fallback)
        return fallback.kickoff_floor

    def kickoff_after_hole_lost(self, fallback: Sidetrack) -> float:
        """Kick-off of a sidetrack from below the shoe [length unit of this scenario]."""
        below = fallback.kickoff_below_shoe
        return self.well.shoe_depth + self.own_length(fallback, "kickoff_below_shoe", below)

    def own_length(self, section: BaseModel, name: str, value: float) -> float:
        """A length in the unit of this scenario: a default is in field units until converted."""
        as_written = self.units == "field" or name in section.model_fields_set
        return value if as_written else value / UNITS["length"][2]

    def amounts(self) -> Iterator[tuple[str, Distribution, Quantity]]:
        """Key path, distribution and quantity of every amount that is not a plain number."""
        for path, distribution, quantity in _uncertain(self, ()):
            yield dotted(path), distribution, quantity
        for number, run in enumerate(self.run):
            for name, odds in zip(run.odds_paths(number), run.odds_by_kind(), strict=True):
                if odds.weight is not None and 0 < odds.recovered < 1:
                    chance = Beta(mean=odds.recovered, weight=odds.weight)
                    yield name, chance, Quantity("chance", least=0, most=1)

    def assumed(self) -> Iterator[tuple[str, float, str]]:
        """Key path, planning value and unit of what the file leaves to a default of a sidetrack,
        in the units of this scenario; a plain number has the unit ""."""
        for number, fallback in enumerate(self.fallback):
            if not isinstance(fallback, Sidetrack):
                continue
            for name, info in type(fallback).model_fields.items():
                value = getattr(fallback, name)
                if name in fallback.model_fields_set or not isinstance(value, (int, float)):
                    continue
                quantity = quantity_of(info.annotation, info.metadata)
                path = dotted(("fallback", number, name))
                if quantity is None:
                    yield path, value, ""
                else:
                    factor = 1.0 if self.units == "field" else UNITS[quantity.dimension][2]
                    unit = quantity.unit(self.units)
                    yield path, value / factor, "" if unit in PLAIN else unit

    def __hash__(self) -> int:
        return hash(self.model_dump_json())

    def __repr__(self) -> str:
        counts = f"{len(self.run)} runs, {len(self.fallback)} fallbacks"
        return f"Scenario({self.job.well!a}: {counts}, {self.units}, {self.currency})"

    def in_field_units(self) -> Scenario:
        """The same job in ft, in, lb: the one system used inside."""
        if self.units == "field":
            return self
        converted: Scenario = _converted(self)
        return converted.model_copy(update={"units": "field"})


def dotted(path: tuple[str | int, ...]) -> str:
    """A key path in words, list items counted from 1: ("run", 0, "charge") -> run.1.charge."""
    return ".".join(str(step + 1) if isinstance(step, int) else step for step in path)


@cache
def _keys(section: type[BaseModel]) -> tuple[tuple[str, str, Quantity | None], ...]:
    """Every field of a kind of section that can hold a distribution, at any depth: its name, its
    key in a file, and its quantity."""
    return tuple(
        (name, info.alias or name, quantity_of(info.annotation, info.metadata))
        for name, info in section.model_fields.items()
        if _can_be_uncertain(info.annotation)
    )


def _can_be_uncertain(annotation: Any) -> bool:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return issubclass(annotation, Distribution) or bool(_keys(annotation))
    return any(map(_can_be_uncertain, get_args(annotation)))


def _uncertain(
    section: BaseModel, path: tuple[str | int, ...]
) -> Iterator[tuple[tuple[str | int, ...], Distribution, Quantity]]:
    for name, written, quantity in _keys(type(section)):
        value = getattr(section, name, None)  # a faulty section is left out of a scenario
        if type(value) in PLAIN_TYPES:
            continue
        here = (*path, written)
        for step, item in _items(value):
            if type(item) in PLAIN_TYPES:
                continue
            if isinstance(item, Distribution) and quantity is not None:
                yield (*here, *step), item, quantity
            elif isinstance(item, BaseModel):
                yield from _uncertain(item, (*here, *step))


def _items(value: Any) -> Iterator[tuple[tuple[str | int, ...], Any]]:
    if isinstance(value, dict):
        for name, item in value.items():
            yield (name,), item
    elif isinstance(value, list):
        for number, item in enumerate(value):
            yield (number,), item
    else:
        yield (), value


def _converted(section: Any) -> Any:
    """A copy in field units; defaults, which are field values already, stay."""
    changed: dict[str, Any] = {}
    for name, info in type(section).model_fields.items():
        if name not in section.model_fields_set:
            continue
        quantity = quantity_of(info.annotation, info.metadata)
        factor = UNITS[quantity.dimension][2] if quantity else None
        changed[name] = _scaled(getattr(section, name), factor)
    return section.model_copy(update=changed)


def _scaled(value: Any, factor: float | None) -> Any:
    if isinstance(value, dict):
        return {name: _scaled(item, factor) for name, item in value.items()}
    if isinstance(value, list):
        return [_scaled(item, factor) for item in value]
    if factor is not None and isinstance(value, Distribution):
        return value.scaled(factor) if factor != 1 else value
    if factor is not None and isinstance(value, (int, float)):
        return value * factor
    return _converted(value) if isinstance(value, BaseModel) else value
