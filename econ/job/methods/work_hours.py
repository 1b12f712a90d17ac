"""Hours of work that grow with a length: washing, milling, coring, cleaning.

    extra = max(0, L - stretch) / rate
L is the length to be worked on this fish; the hours of the catalogue hold for a stretch. A low
rate goes with the high hours; the likely rate is the geometric mean of the two ends. Wash pipe
goes over the fish in as many trips as its length and the life of a shoe ask for:

    trips = max(L / most in one go, work / life of a shoe), rounded up
"""

from __future__ import annotations

import math
from dataclasses import astuple, replace

from econ.job.methods.catalogue import RunFacts, TripParts, catalogue, limit
from econ.job.methods.ranges import Hours
from econ.job.methods.situation import Situation
from econ.job.methods.verdicts import wash_end
from econ.scenario.amounts import ends_and_middle
from econ.scenario.base import MOST_TRIPS

NONE = Hours(0.0, 0.0, 0.0)


def worked_length(facts: RunFacts, here: Situation) -> float:
    """Length [ft] that a kind of run washes, mills, cores or cleans on this fish."""
    work = facts.length_over_rate
    if work == "wash":
        for run in here.runs:
            told = run.part_length if run.wash_length is None else run.wash_length
            if run.kind == facts.id and ends_and_middle(told)[1] > 0:
                return ends_and_middle(told)[1]
        held = here.mechanism not in ("parted", "unknown")
        whole, end = here.length if held else catalogue().stretches["wash"], wash_end(here)
        return whole if end is None else min(whole, end)
    if work == "clean":
        return here.fill or 0.0
    return here.length if work else 0.0


def rate_words(facts: RunFacts, here: Situation) -> str:
    """Length and rate in words; nothing where the work hours hold as they stand."""
    rate = _rate(facts, here)
    if rate is None or extra_hours(facts, here) == NONE:
        return ""
    return (
        f"{here.long(worked_length(facts, here))} at {here.long(rate[0])} to "
        f"{here.long(rate[1])} an hour"
    )


def extra_hours(facts: RunFacts, here: Situation) -> Hours:
    """Hours [h] of work beyond those of the catalogue."""
    rate = _rate(facts, here)
    if rate is None:
        return NONE
    stretch = catalogue().stretches[facts.length_over_rate]
    beyond = max(worked_length(facts, here) - stretch, 0.0)
    slow, fast = rate
    return Hours(beyond / fast, beyond / math.sqrt(slow * fast), beyond / slow)


def trips_of(facts: RunFacts, here: Situation) -> int:
    """Round trips of the whole job: those of the catalogue, and more for a long wash."""
    trips = len(facts.trips)
    if facts.length_over_rate != "wash":
        return trips
    straight = not here.steep and not here.enlarged
    most = limit("wash_straight") if straight else limit("wash_deviated")
    work = facts.trips[0].work.likely + extra_hours(facts, here).likely
    by_length = math.ceil(worked_length(facts, here) / most)
    by_wear = math.ceil(work / limit("shoe_life"))
    return min(trips - 1 + max(by_length, by_wear, 1), MOST_TRIPS)


def planned_trips(facts: RunFacts, here: Situation) -> list[TripParts]:
    """The round trips of a run on this fish: a long wash is spread evenly over its trips."""
    if not facts.trips:
        return []
    more = trips_of(facts, here) - len(facts.trips)
    first = facts.trips[0]
    share = 1 / (1 + more)
    work = first.work + extra_hours(facts, here)
    if not more:
        return [replace(first, work=_rounded(work)), *facts.trips[1:]]
    each = replace(first, work=_rounded(Hours(*(share * h for h in astuple(work)))))
    return [each] * (1 + more) + list(facts.trips[1:])


def _rounded(hours: Hours) -> Hours:
    return Hours(*(round(h, 1) for h in astuple(hours)))


def _rate(facts: RunFacts, here: Situation) -> tuple[float, float] | None:
    """Slow and fast rate [ft/h] of the work of a kind here; None where length does not count."""
    work = facts.length_over_rate
    if not work:
        return None
    rates = catalogue().rates[work]
    what = catalogue().washed[here.mechanism] if work == "wash" else next(iter(rates))
    return rates[what].low, rates[what].high
