"""Speeds, hours and rates of daily reports, as P10, P50 and P90 of single cases.

    trip      a leg of 200 m or more that takes an hour or more: metres of bit depth over its
              hours. It is cased or open where four fifths of it lie above or below the last
              casing shoe; every leg counts for the speed in any hole
    make up   hours at a stretch
    ...       circulating, waiting on cement, logging, pumping a plug in the same way
    woc       hours from the end of a plug to the end of the last wait for its cement: what the
              crew let it set, trips in that time included
    entry     hours from the end of a plug to the first tag or drilling of its cement: no time to
              set, for it is entered when the rig is ready
    drilling  new hole of a day in a hole size over the hours from its first to its last drilling:
              connections, surveys, reaming and circulating between are in them, trips, waits and
              repairs are not; of days with 2 h of drilling

A percentile of n cases lies between the sorted cases, the least at 0 and the greatest at 1 (type 7
of Hyndman and Fan, "Sample quantiles in statistical packages", The American Statistician 1996).
"""

from __future__ import annotations

import re
import statistics
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from econ.records.daily_reports.sorting import (
    ELSEWHERE,
    FAR,
    TRIPS,
    Sorted,
    depths_said,
    main_code,
)
from econ.records.daily_reports.timeline import TOUCH, parts_of, touching
from econ.scenario.framed import Framed

LONG = 1.0  # [h] least length of a leg
MOSTLY = 0.8  # share of a leg that makes it a cased or an open one
DRILLED = 2.0  # [h] least drilling of a day that counts
GROSS = ("drill", "ream", "circulate", "survey")  # sorts whose hours count between drilling
SPEED, HOURS, RATE = "ft/h", "h", "ft/h"
STRETCHES = {  # what is taken at a stretch: name of the value
    "make_up": "make_up",
    "circulate": "circulate",
    "wait_cement": "wait_on_cement",
    "plug": "plug_hours",
    "log": "logging",
}
NOT_NET = frozenset({"held", "make_up", "wait", "weather", "repair", "wait_cement"})
LONGEST_SETTING = 10 * 24.0  # [h] cement that is entered later has waited for something else


@dataclass(frozen=True, repr=False)
class Value(Framed):
    """What single cases of one thing were: percentiles in `unit`, and how many cases of how many
    wells they are."""

    name: str
    unit: str  # ft/h or h
    cases: int
    wells: int
    p10: float
    p50: float
    p90: float
    hole_size: float | None = None  # [in] of a drilling rate


@dataclass(frozen=True)
class Case:
    """One case of a value."""

    name: str
    amount: float
    well: str
    hole_size: float | None = None


def percentiles(amounts: Sequence[float]) -> tuple[float, float, float]:
    """P10, P50 and P90 of some amounts.

    >>> percentiles([1.0, 2.0, 3.0])
    (1.2, 2.0, 2.8)
    """
    if len(amounts) == 1:
        return amounts[0], amounts[0], amounts[0]
    tenths = statistics.quantiles(amounts, n=10, method="inclusive")
    return tenths[0], tenths[4], tenths[8]


def values_of(cases: Sequence[Case]) -> list[Value]:
    """The values of all cases, each name and hole size once."""
    groups: dict[tuple[str, float | None], list[Case]] = {}
    for case in cases:
        groups.setdefault((case.name, case.hole_size), []).append(case)
    order = {name: place for place, name in enumerate(NAMES)}
    found = []
    for (name, size), each in groups.items():
        p10, p50, p90 = percentiles([case.amount for case in each])
        wells = len({case.well for case in each})
        unit = RATE if name == "drilling" else SPEED if name.startswith("trip") else HOURS
        found.append(Value(name, unit, len(each), wells, p10, p50, p90, size))
    return sorted(found, key=lambda value: (order[value.name], -(value.hole_size or 0.0)))


NAMES = (
    *(f"{way}{part}" for way in TRIPS for part in ("_cased", "_open", "")),
    *("make_up", "circulate", "plug_hours", "woc", "cement_to_entry", "wait_on_cement"),
    *("logging", "drilling"),
)


def cases_of(well: str, steps: Sequence[Sorted], pattern: re.Pattern[str]) -> Iterator[Case]:
    """All cases of one well; pattern: of `sorting.depths_pattern`."""
    yield from _legs(well, steps)
    yield from _stretches(well, steps)
    yield from _cement(well, steps)
    yield from _drilling(well, steps, pattern)


def _legs(well: str, steps: Sequence[Sorted]) -> Iterator[Case]:
    marks = [_leg_mark(each) for each in steps]
    by_step = {id(each.step): each for each in steps}
    for parts in parts_of([each.step for each in steps], marks):
        leg = [by_step[id(part)] for part in parts]
        way = _leg_mark(leg[0])
        if way is None:
            continue
        first, last = leg[0].moved, leg[-1].moved
        if first is None or last is None:
            continue
        start, end = first[0], last[1]
        hours = sum(each.step.hours for each in leg)
        if abs(end - start) < FAR or hours < LONG or (end > start) != (way == "trip_in"):
            continue
        speed = abs(end - start) / hours
        yield Case(str(way), speed, well)
        shoe = leg[0].step.report.shoe
        if shoe is not None:
            top, bottom = sorted((start, end))
            open_hole = max(0.0, bottom - max(top, shoe)) / (bottom - top)
            if open_hole >= MOSTLY:
                yield Case(f"{way}_open", speed, well)
            elif open_hole <= 1 - MOSTLY:
                yield Case(f"{way}_cased", speed, well)


def _leg_mark(each: Sorted) -> object:
    """The way of a step that can be a leg of a trip; None for any other."""
    activity = each.step.activity
    elsewhere = any(main_code(code) in ELSEWHERE for code in activity.codes)
    if each.sort not in TRIPS or activity.failed or each.moved is None or elsewhere:
        return None
    return None if each.topics & NOT_NET else each.sort


def _stretches(well: str, steps: Sequence[Sorted]) -> Iterator[Case]:
    open_sort, hours, before = "", 0.0, None
    for each in [*steps, None]:
        goes_on = (
            each is not None
            and before is not None
            and each.sort == open_sort
            and touching(before.step, each.step)
        )
        if not goes_on:
            if open_sort in STRETCHES and hours > TOUCH:
                yield Case(STRETCHES[open_sort], hours, well)
            open_sort, hours = "" if each is None else each.sort, 0.0
        if each is not None:
            hours += each.step.hours
        before = each


def _cement(well: str, steps: Sequence[Sorted]) -> Iterator[Case]:
    """Of each plug: hours until its cement was let set, and until it was entered."""
    plug: float | None = None  # its end
    waited: float | None = None  # end of the last wait for it
    for each in steps:
        if each.sort == "plug":
            plug, waited = each.step.end, None
            continue
        if plug is None:
            continue
        if each.sort == "wait_cement":
            waited = each.step.end
        entered = each.sort == "drill_cement" or "tag_cement" in each.topics
        if entered or each.step.start - plug > LONGEST_SETTING:
            if waited is not None and waited - plug <= LONGEST_SETTING:
                yield Case("woc", waited - plug, well)
            if entered and each.step.start - plug <= LONGEST_SETTING:
                yield Case("cement_to_entry", max(0.0, each.step.start - plug), well)
            plug = None


def _drilling(well: str, steps: Sequence[Sorted], pattern: re.Pattern[str]) -> Iterator[Case]:
    deepest: dict[str, float] = {}  # by wellbore
    days: dict[int, list[tuple[Sorted, float]]] = {}  # steps of a report, with what was drilled
    for each in steps:
        report = each.step.report
        made = 0.0
        if each.sort == "sidetrack":
            deepest.pop(report.wellbore, None)
        if each.sort == "drill":
            drilled = _drilled(each, deepest.get(report.wellbore), pattern)
            if drilled is not None:
                deepest[report.wellbore] = drilled[1]
                made = drilled[1] - drilled[0]
        if report.hole_size is not None and each.sort in GROSS:
            days.setdefault(id(report), []).append((each, made))
    for day in days.values():
        places = [place for place, (each, _) in enumerate(day) if each.sort == "drill"]
        if not places:
            continue
        between = day[places[0] : places[-1] + 1]
        drilling = sum(each.step.hours for each, _ in between if each.sort == "drill")
        hours = sum(each.step.hours for each, _ in between)
        made = sum(length for _, length in between)
        size = day[0][0].step.report.hole_size
        if drilling >= DRILLED and made > 0 and size is not None:
            yield Case("drilling", made / hours, well, _nominal(size))


def _drilled(
    each: Sorted, deepest: float | None, pattern: re.Pattern[str]
) -> tuple[float, float] | None:
    """Depths between which new hole was drilled [ft]."""
    activity = each.step.activity
    start, end = activity.hole
    if start is not None and end is not None:
        return (start, end) if end > start else None
    said = depths_said(activity.text, pattern, activity.unit)
    if said is not None and said[1] > said[0]:
        return said
    end = activity.depth if end is None else end
    start = deepest if start is None else start
    if end is not None and start is None:
        return end, end  # the first depth that is known is where the next begins
    return (start, end) if start is not None and end is not None and end > start else None


def _nominal(size: float) -> float:
    """A hole size to the eighth of an inch, so that 12.25 and 12.3 are one."""
    return round(size * 8) / 8


def shares(steps: Sequence[Sorted]) -> Counter[str]:
    """Hours of a well by sort."""
    found: Counter[str] = Counter()
    for each in steps:
        found[each.sort] += each.step.hours  # type: ignore[assignment]
    return found
