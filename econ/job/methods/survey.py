"""Which kinds of run suit this fish and hole, how long they take, and with what odds.

    hours = what does not depend on depth + length over rate + round trips x round trip
A round trip is taken at the trip speeds of the scenario: at its high speeds for the low
hours, and so on. All ranges are starting points for a first attempt: judgement, no source.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass, fields, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from econ.job.clock import TripSpeeds
from econ.job.methods.catalogue import CHARGES_IN, LAND_CHARGES, Level, RunFacts, catalogue, limit
from econ.job.methods.planning_odds import Modifier, planning_odds
from econ.job.methods.ranges import Hours, Span
from econ.job.methods.situation import Situation, situation
from econ.job.methods.strings import Component, components
from econ.job.methods.suitability import findings, unknown_keys
from econ.job.methods.verdicts import VERDICTS, Verdict, barred, broken
from econ.job.methods.work_hours import planned_trips, rate_words, trips_of
from econ.scenario.amounts import ends_and_middle
from econ.scenario.framed import Framed
from econ.scenario.hazards import HAZARD_MARKS
from econ.scenario.quantities import UNITS
from econ.scenario.run_log import LoggedRun
from econ.scenario.scenario import Scenario

if TYPE_CHECKING:
    import pandas


@dataclass(frozen=True)
class Advice:
    """An option to run with a kind, and why here."""

    option: str
    reason: str


@dataclass(frozen=True)
class Worth:
    """What a kind of run is worth, followed by the catch that is best after it.

    then: that catch, None where the run itself ends it; chance: that the fish is out in the end
    [fraction]; days: of both [d]; cost: of both [currency], None without rates; break_even: the
    chance at which they just pay, None without a fallback, or where recovery saves nothing; gain:
    against stopping now [currency], None without a fallback.
    """

    then: str | None
    chance: float
    days: float | None
    cost: float | None
    break_even: float | None
    gain: float | None


@dataclass(frozen=True)
class Suitability:
    """One kind of run against the fish and the hole.

    reasons: why, the gravest first; not_known: keys left out that could change it;
    hours [h]: of the whole run, None without trip speeds; level, lowered_by: good, fair
    or poor, and what lowered it; goal_met, whole and the four others: planning odds
    [fraction] of a first attempt; ceiling: odds that the first jarring frees it, where it
    bounds `whole`; modifiers: the odds ratios that acted; whole_if_dressed: with the broken
    top dressed off first, for a catch that is the better for it; remarks: on the options
    that runs of this kind list in the file.
    """

    kind: str
    name: str
    goal: str
    purpose: str
    verdict: Verdict
    reasons: tuple[str, ...]
    not_known: tuple[str, ...]
    hours: Hours | None
    trips: int
    level: Level
    lowered_by: tuple[str, ...]
    modifiers: tuple[Modifier, ...]
    ceiling: Span | None
    goal_met: Span
    whole: Span
    whole_if_dressed: Span | None
    part: Span
    top_damaged: Span
    string_lost: Span
    hole_lost: Span
    options: tuple[Advice, ...]
    string: tuple[Component, ...]
    rate: str
    worth: Worth | None
    remarks: tuple[str, ...]
    charges: str
    source: str


@dataclass(frozen=True, repr=False)
class Methods(Framed):
    """Every kind of run in the catalogue, those that suit first.

    scenario: with the fish as it is now, after the runs of the log; log: the runs made. No kind
    where the log ended the job.
    """

    scenario: Scenario
    kinds: tuple[Suitability, ...]
    log: tuple[LoggedRun, ...] = ()

    @property
    def not_known(self) -> dict[str, tuple[str, ...]]:
        """Keys the file leaves out, each with the kinds that hang on it."""
        found: dict[str, tuple[str, ...]] = {}
        for each in self.kinds:
            if each.verdict != "no":
                for key in each.not_known:
                    found[key] = (*found.get(key, ()), each.kind)
        return found

    def to_frame(self) -> pandas.DataFrame:
        """One row a kind; ranges in two columns, _low and _high."""
        import pandas as pd

        return pd.DataFrame([_row(each) for each in self.kinds]).set_index("kind")


def methods(scenario: Scenario) -> Methods:
    """All kinds of run against the fish and hole of a scenario, in either system of units.

    Hours are hours, odds fractions of a first attempt: judgement, no source.

    >>> from econ.scenario import load
    >>> found = methods(load("scenarios/a_land_twist_off.toml"))
    >>> {each.kind: each.verdict for each in found.kinds}["screw_in"]
    'no'
    """
    kinds = all_judged(scenario, situation(scenario))
    kinds.sort(key=lambda each: VERDICTS.index(each.verdict))
    return Methods(scenario, tuple(kinds))


def all_judged(scenario: Scenario, here: Situation) -> list[Suitability]:
    """All kinds in the order of the catalogue, on a situation that need not be the file's."""
    round_trip = round_trip_hours(scenario)
    return [_judged(facts, here, round_trip, scenario) for facts in catalogue().kinds.values()]


def one_judged(scenario: Scenario, facts: RunFacts) -> Suitability:
    """One kind, as `methods` has it."""
    return _judged(facts, situation(scenario), round_trip_hours(scenario), scenario)


def suitable(scenario: Scenario) -> tuple[Suitability, ...]:
    """The kinds of `methods`, those that suit first.

    >>> from econ.scenario import load
    >>> [each.kind for each in suitable(load("scenarios/c_bit_cones.toml"))][:2]
    ['magnet', 'rc_basket']
    """
    return methods(scenario).kinds


def unsuited_runs(scenario: Scenario, made: Collection[int] = ()) -> list[str]:
    """A line for each run of the program that can be made now and whose kind does not suit the
    fish, with the reason. made: numbers (from 0) of runs that a log has, which are let be.

    >>> from econ.scenario import load
    >>> unsuited_runs(load("scenarios/a_land_twist_off.toml", ["run.1.kind='magnet'"]))
    ['run.1: magnet does not suit: the fish is 670 ft of pipe or tool; this takes loose junk']
    """
    judged = {each.kind: each for each in suitable(scenario)}
    held, lines = {*scenario.fish.marks}, []
    for number, run in enumerate(scenario.run, start=1):
        barring = held.intersection(run.all_bars).difference(HAZARD_MARKS)
        if number - 1 in made or not held.issuperset(run.all_needs) or barring:
            continue  # for a state of the fish that is not here yet
        found = judged.get(run.kind)
        if found is not None and found.verdict == "no":
            lines.append(f"run.{number}: {run.kind} does not suit: {found.reasons[0]}")
    return lines


def run_hours(facts: RunFacts, here: Situation, round_trip: Hours | None) -> Hours | None:
    """Hours [h] of a run with a `round_trip` [h] to the fish top; None if it trips unknown."""
    trips = planned_trips(facts, here)
    if not trips:
        return facts.without_tripping()
    if round_trip is None:
        return None
    return sum((trip.total() for trip in trips), round_trip.times(len(trips)))


def charge_words(facts: RunFacts, scenario: Scenario) -> str:
    """What a kind is charged for; amounts only where the file counts in the catalogue's money."""
    if scenario.currency != CHARGES_IN:
        return f"{facts.charges}; no amounts in {scenario.currency} are in the catalogue"
    unit, per = UNITS["length"][scenario.units != "field"], UNITS["length"][2]
    factor = 1.0 if scenario.units == "field" else per
    run = facts.charge["run"]
    words = f"{facts.charges}: {run.low:,.0f} to {run.high:,.0f} a run"
    if "foot" in facts.charge:
        foot = facts.charge["foot"]
        words += f", {foot.low * factor:,.0f} to {foot.high * factor:,.0f} a {unit} of wash pipe"
    return f"{words} ({LAND_CHARGES})"


def round_trip_hours(scenario: Scenario) -> Hours | None:
    """Round trip to the fish top [h]: fastest, middle, slowest."""
    job = scenario.in_field_units()
    if job.trip_speed is None:
        return None
    into, out = job.trip_speed.into, job.trip_speed.out
    speeds = np.array([ends_and_middle(v) for v in (into.cased, into.open, out.cased, out.open)])
    times = TripSpeeds(job.well.shoe_depth, *speeds).round_trip(np.full(3, job.fish.top))
    slow, middle, fast = map(float, times)
    return Hours(fast, middle, slow)


def _judged(
    facts: RunFacts, here: Situation, round_trip: Hours | None, scenario: Scenario
) -> Suitability:
    found = findings(facts, here)
    odds = planning_odds(facts, here)
    options = _advised(facts, here)
    return Suitability(
        kind=facts.id,
        name=facts.name,
        goal=facts.goal,
        purpose=facts.purpose,
        verdict=found[0].verdict,
        reasons=tuple(each.reason for each in found),
        not_known=unknown_keys(facts, here),
        hours=run_hours(facts, here, round_trip),
        trips=trips_of(facts, here),
        level=odds.level,
        lowered_by=odds.wrong,
        modifiers=odds.modifiers,
        ceiling=odds.ceiling,
        goal_met=odds.goal_met,
        whole=odds.whole,
        whole_if_dressed=_dressed(facts, here),
        part=facts.part,
        top_damaged=facts.top_damaged,
        string_lost=facts.string_lost,
        hole_lost=facts.hole_lost,
        options=options,
        string=components(facts, here),
        rate=rate_words(facts, here),
        worth=None,
        remarks=tuple(_remarks(facts, here, [advice.option for advice in options])),
        charges=charge_words(facts, scenario),
        source=facts.source,
    )


def _dressed(facts: RunFacts, here: Situation) -> Span | None:
    """Odds of the whole fish once a broken top is dressed, where it may be; a thread is not had
    back so."""
    dresses = broken(here) and not barred(here, "dress_top")
    if not dresses or "top" not in facts.ratios or facts.id == "screw_in":
        return None
    return planning_odds(facts, replace(here, top_condition="clean")).whole


def _advised(facts: RunFacts, here: Situation) -> tuple[Advice, ...]:
    """Options that help this kind here; common practice, no source."""
    reasons = {
        "jars": "an up blow for most stuck fish",
        "bumper_sub": "to knock the catch loose again",
        "accelerator": "",
        "wash_string_spear": "",
    }
    if facts.over_fish is not None:
        reasons["jars"] = "in case the wash string sticks"
    elif here.mechanism in ("parted", "unknown"):
        reasons["jars"] = "in case something holds it"
    if here.mechanism == "key_seat":
        reasons["bumper_sub"] = "a key seat wants a down blow"
        if facts.over_fish is None:
            reasons["jars"] = "to jar down, out of the key seat"
    if here.top < limit("shallow"):
        reasons["accelerator"] = f"top at {here.long(here.top)}: little stretch in the string"
    elif here.steep:
        reasons["accelerator"] = f"{here.angle:g} degrees: pull is lost to friction"
    if here.hangs:
        reasons["wash_string_spear"] = "the fish hangs off bottom and would fall when freed"
    return tuple(Advice(name, reasons[name]) for name in facts.options if reasons[name])


def _remarks(facts: RunFacts, here: Situation, advised: list[str]) -> Iterator[str]:
    """What the runs of this kind list against what helps; a run that lists nothing is let be."""
    for number, run in enumerate(here.runs, start=1):
        if run.kind != facts.id or not run.options:
            continue
        missing = [name for name in advised if name not in run.options]
        idle = [name for name in run.options if name not in facts.options]
        if missing:
            yield f"run.{number} does not list {', '.join(missing)}"
        if idle:
            yield f"run.{number} lists {', '.join(idle)}, which this kind has no use for"


def _row(each: Suitability) -> dict[str, Any]:
    row: dict[str, Any] = {}
    for field in fields(each):
        value = getattr(each, field.name)
        if field.name == "hours":
            for part in fields(Hours):
                row[f"hours_{part.name}"] = None if value is None else getattr(value, part.name)
        elif isinstance(value, Span) or field.name in ("ceiling", "whole_if_dressed"):
            row[f"{field.name}_low"] = None if value is None else value.low
            row[f"{field.name}_high"] = None if value is None else value.high
        elif field.name == "modifiers":
            row[field.name] = "; ".join(modifier.words for modifier in value)
        elif field.name == "worth":
            for part in fields(Worth):
                row[part.name] = None if value is None else getattr(value, part.name)
        elif field.name == "string":
            row[field.name] = "; ".join(f"{each.part} ({each.reason})" for each in value)
        elif field.name == "options":
            row[field.name] = "; ".join(advice.option for advice in value)
        else:
            row[field.name] = "; ".join(value) if isinstance(value, tuple) else value
    return row
