"""The catalogue of run kinds: starting ranges of hours and odds, what frees a fish, options.

The values lie in `catalogue.toml` beside this module, where each says what it is and where
it comes from. They are planning ranges to start from, judgement with no source unless one
is named; local records replace them. Nothing here is put in place of a value that a
scenario leaves out.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from types import MappingProxyType
from typing import Any, Literal

from econ.job.methods.ranges import Hours, Span
from econ.scenario.hazards import hazard_bars

Level = Literal["good", "fair", "poor"]
LEVELS: tuple[Level, ...] = ("good", "fair", "poor")
Purpose = Literal["source", "free", "reach", "clean", "catch", "cut", "junk", "leave"]
LAND_CHARGES = "US dollars for land work, judgement, no source; offshore 1.5 to 2.5 times"
CHARGES_IN = "USD"


@dataclass(frozen=True)
class TripParts:
    """Times [h] of one round trip besides tripping."""

    make_up: Hours
    circulate: Hours
    work: Hours
    lay_down: Hours

    def total(self) -> Hours:
        """Hours of the trip without tripping."""
        return self.make_up + self.circulate + self.work + self.lay_down


@dataclass(frozen=True)
class RunFacts:
    """What is planned with for one kind of run.

    purpose: what it is for; does: what it does to the fish, in words; needs, gives, takes, bars,
    depends_on: marks and doubts, as the keys of a run; part_given_goal: whether `part` is the
    chance of it once the goal is met; dropped: chance that the catch is lost on the way out;
    length_over_rate: what takes longer with length; freed_by_hours: hours of work [h] that the
    odds on an attached string hold for; charge: of a run, and of a foot of wash pipe [USD].
    counts: the things that lower the level from good when they are wrong; ratios: the
    conditions whose odds ratio acts on it; goal_met, whole: odds [fraction] by level;
    hours: all hours [h] of a kind that makes no round trip; under_hole, over_fish:
    clearance on the diameter [in] of the tool in the hole, and of its bore over the fish.
    """

    id: str
    name: str
    goal: str
    purpose: Purpose
    counts: tuple[str, ...]
    ratios: tuple[str, ...]
    goal_met: Mapping[Level, Span]
    whole: Mapping[Level, Span]
    part: Span
    top_damaged: Span
    string_lost: Span
    hole_lost: Span
    charges: str
    charge: Mapping[str, Span]
    source: str
    does: tuple[str, ...] = ()
    needs: tuple[str, ...] = ()
    gives: tuple[str, ...] = ()
    takes: tuple[str, ...] = ()
    bars: tuple[str, ...] = ()
    depends_on: tuple[str, ...] = ()
    part_given_goal: bool = False
    dropped: Span | None = None
    length_over_rate: str = ""
    freed_by_hours: float | None = None
    trips: tuple[TripParts, ...] = ()
    hours: Hours | None = None
    options: tuple[str, ...] = ()
    jarred: bool = False
    dresses_top: bool = False
    under_hole: Span | None = None
    over_fish: Span | None = None
    clearance_source: str = ""
    odds_source: str = ""
    hours_source: str = ""

    @property
    def trips_in(self) -> bool:
        """Whether it makes a round trip to the fish."""
        return bool(self.trips)

    def without_tripping(self) -> Hours:
        """Hours [h] of the run besides its round trips."""
        if self.hours is not None:
            return self.hours
        total = Hours(0.0, 0.0, 0.0)
        for trip in self.trips:
            total = total + trip.total()
        return total


@dataclass(frozen=True)
class HoldFacts:
    """What holds a fish: odds [fraction] that the first hard jarring frees it, and what helps."""

    words: str
    frees: Span
    helps: str
    source: str


@dataclass(frozen=True)
class OptionFacts:
    """Something that is run with the tool: what it is for."""

    words: str
    purpose: str
    source: str


@dataclass(frozen=True)
class Limit:
    """A number that checks and odds use: its value in `unit`, what it means, its source."""

    value: float
    unit: str
    words: str
    source: str


@dataclass(frozen=True)
class Ratio:
    """Odds ratios [ratio] of a condition on catching and on freeing: what it is, its source."""

    words: str
    catching: Span
    freeing: Span
    source: str


@dataclass(frozen=True)
class Freeing:
    """Working an attached string: its hours scale tau [h] low, planned, high, and the chance
    [fraction] by what holds it that it comes free at all."""

    tau: Hours
    at_all: Mapping[str, Span]
    source: str


@dataclass(frozen=True)
class ReadingFacts:
    """A reading of the fish: the doubt it is about, hours [h] besides a round trip, cost [USD],
    chances [fraction] that it reads a good top as good and a bad one as bad."""

    name: str
    about: str
    hours: Hours
    cost: Span
    reliability: float
    reliability_stubborn: float
    source: str


@dataclass(frozen=True)
class Catalogue:
    """Run kinds, mechanisms and options by the word that a scenario uses, and the numbers
    besides: rates [ft/h] by work and by what is cut, stretches [ft], what washing cuts by what
    holds the fish, limits by name, odds ratios of conditions by name."""

    kinds: Mapping[str, RunFacts]
    mechanisms: Mapping[str, HoldFacts]
    options: Mapping[str, OptionFacts]
    freeing: Freeing
    rates: Mapping[str, Mapping[str, Span]]
    stretches: Mapping[str, float]
    washed: Mapping[str, str]
    limits: Mapping[str, Limit]
    ratios: Mapping[str, Ratio]
    readings: Mapping[str, ReadingFacts]


def limit(name: str) -> float:
    """A number of the catalogue by its name, in its unit.

    >>> limit("gravity")
    55.0
    """
    return catalogue().limits[name].value


@cache
def catalogue() -> Catalogue:
    """The catalogue, read once.

    >>> catalogue().kinds["magnet"].without_tripping()
    Hours(low=4.0, likely=5.0, high=6.0)
    """
    text = files("econ.job.methods").joinpath("catalogue.toml").read_text(encoding="utf-8")
    raw = tomllib.loads(text)
    source = raw["source"]
    return Catalogue(
        kinds=MappingProxyType({row["id"]: _run(row, source) for row in raw["kind"]}),
        mechanisms=MappingProxyType(
            {
                word: HoldFacts(row["words"], _span(row["frees"]), row["helps"], source)
                for word, row in raw["mechanism"].items()
            }
        ),
        options=MappingProxyType({word: OptionFacts(**row) for word, row in raw["option"].items()}),
        freeing=_freeing(raw["freeing"]),
        rates=MappingProxyType(
            {
                work: MappingProxyType({what: _span(pair) for what, pair in row.items()})
                for work, row in raw["rate"].items()
                if work != "source"
            }
        ),
        stretches=MappingProxyType(
            {work: float(feet) for work, feet in raw["stretch"].items() if work != "source"}
        ),
        washed=MappingProxyType({k: v for k, v in raw["washed"].items() if k != "source"}),
        readings=MappingProxyType(
            {
                word: ReadingFacts(
                    **{**row, "hours": _hours(row["hours"]), "cost": _span(row["cost"])}
                )
                for word, row in raw["reading"].items()
            }
        ),
        limits=MappingProxyType(
            {
                name: Limit(**{**row, "value": float(row["value"])})
                for name, row in raw["limit"].items()
            }
        ),
        ratios=MappingProxyType(
            {
                name: _ratio(row, raw["ratio"])
                for name, row in raw["ratio"].items()
                if name != "source"
            }
        ),
    )


_SPANS = (
    *("part", "top_damaged", "string_lost", "hole_lost", "dropped"),
    *("under_hole", "over_fish"),
)
_WORDS = (
    *("counts", "ratios", "options"),
    *("does", "needs", "gives", "takes", "bars", "depends_on"),
)


def _run(row: dict[str, Any], source: str) -> RunFacts:
    read = dict(row)
    for name in _WORDS:
        read[name] = tuple(row.get(name, ()))
    read["bars"] += hazard_bars(row["id"])
    for name in _SPANS:
        if name in row:
            read[name] = _span(row[name])
    for name in ("goal_met", "whole"):
        read[name] = MappingProxyType({level: _span(row[name][level]) for level in LEVELS})
    read["trips"] = tuple(
        TripParts(**{name: _hours(times) for name, times in trip.items()})
        for trip in row.get("trips", ())
    )
    read["hours"] = _hours(row["hours"]) if "hours" in row else None
    read["charge"] = MappingProxyType({per: _span(pair) for per, pair in row["charge"].items()})
    read.setdefault("clearance_source", source)
    read.setdefault("odds_source", source)
    read.setdefault("hours_source", source)
    return RunFacts(**read, source=source)


def _ratio(row: dict[str, Any], source: str) -> Ratio:
    none = [1.0, 1.0]
    catching, freeing = (_span(row.get(name, none)) for name in ("catching", "freeing"))
    return Ratio(row["words"], catching, freeing, row.get("source", source))


def _freeing(row: dict[str, Any]) -> Freeing:
    spans = {word: _span(pair) for word, pair in row.items() if word not in ("tau", "source")}
    return Freeing(_hours(row["tau"]), MappingProxyType(spans), row["source"])


def _span(pair: list[float]) -> Span:
    low, high = map(float, pair)
    return Span(low, high)


def _hours(three: list[float]) -> Hours:
    low, likely, high = map(float, three)
    return Hours(low, likely, high)
