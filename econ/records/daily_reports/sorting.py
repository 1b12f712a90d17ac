"""What each activity of a well was, and how far the string moved in it.

Codes come first, then state and depth, then words. A code that is known and says something is
kept, but for three things that a code hides:
    a trip or drilling whose state is failed, or whose detail is stuck equipment, and whose words
        speak of a string that is held, is `stuck`
    a trip is in or out by its depths, then by its words; one of less than 200 m in which an
        assembly is made up or laid down is `make_up`; one with words of casing or of a completion
        is none
    cement that is drilled or tagged under another code of the hole is `drill_cement`
An activity without such a code is what its words say, by the order of PRECEDENCE; one of which
nothing is known is `unmatched`. Words of trouble do not count where the bit is out of the hole, or
where casing or a completion is pulled by plan.

How far the string moved, from d0 to d1 [ft], is taken from the first of these that tells it:
    the bit depths at start and end that the report gives
    its depth at the end, and the last one that is told of the activities before it, each of
        which touches the next
    two depths in its words, "from 1,234 m to surface"
and only where it agrees with the direction.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from econ.records.daily_reports.measures import DEEPEST, LENGTHS
from econ.records.daily_reports.timeline import Step, Timeline, touching
from econ.records.daily_reports.words import NOTHING, Vocabulary, folded

FAR = 200 / 0.3048  # [ft] a movement of the string that is a trip
OUT_OF_HOLE = 150.0  # [ft] bit depth at which a string is as good as out
TRIPS = ("trip_in", "trip_out")
MAY_TRIP = (None, NOTHING, "trip", *TRIPS)  # sorts by code of what can be a movement of the string
STRAIGHT = ("drill", "trip", "trip_in", "trip_out", "ream", "circulate", "sidetrack", "casing")
PRECEDENCE = (  # of words, where no code says anything
    *("weather", "wait_cement", "held", "cut", "fish", "stuck", "repair", "short_trip", "ream"),
    *("plug", "drill_cement", "sidetrack", "casing", "complete", "trip_in", "trip_out", "log"),
    *("core", "make_up", "circulate", "drill", "survey", "test", "control", "wait", "move"),
    "service",
)
HELD = ("held", "stuck")
ELSEWHERE = ("completion", "workover", "completion operations", "well srvc", "abandonment")
PLANNED = (*ELSEWHERE, "plug abandon")  # main codes under which casing is cut and pulled by plan
TROUBLE = ("held", "stuck", "cut", "fish")
# At most five digits before the point: no hole is deeper, and a long row of digits takes no time.
DIGITS = r"\d{1,2}[ ,']\d{3}(?:\.\d{1,4})?(?!\d)|\d{1,2}\.\d{3}(?!\d)|\d{1,5}(?:[.,]\d{1,4})?(?!\d)"
UNIT = r"\s*(?:(m(?:md|rkb|eters?|etres?|etros?)?|ft|feet|pies|')(?![a-z0-9/]))?"


@dataclass(frozen=True)
class Sorted:
    """A step with what it was: `sort` is one of SORTS; topics are those of its words."""

    step: Step
    sort: str
    topics: frozenset[str]
    moved: tuple[float, float] | None  # bit depth from, to [ft]


def sort_all(timeline: Timeline, vocabulary: Vocabulary) -> list[Sorted]:
    """The steps of a well with what each was."""
    languages: dict[int, str] = {}
    pattern = depths_pattern(vocabulary)
    found: list[Sorted] = []
    before: Step | None = None
    last: float | None = None  # bit depth at the end of the steps before that touch
    for step in timeline.steps:
        if before is None or not touching(before, step):
            last = None
        key = id(step.report)
        if key not in languages:
            texts = [each.text for each in step.report.activities]
            languages[key] = vocabulary.language(texts)
        topics = _topics(step, vocabulary, languages[key])
        coded = vocabulary.sort_of(step.activity.codes)
        ways = _ways(step, last, pattern) if coded in MAY_TRIP else []
        sort = _sort(step, topics, ways, coded)
        found.append(Sorted(step, sort, topics, _agreeing(sort, ways)))
        told = depth_at_end(step)
        before, last = step, last if told is None else told
    return found


def _topics(step: Step, vocabulary: Vocabulary, language: str) -> frozenset[str]:
    activity = step.activity
    topics = {hit.topic for hit in vocabulary.hits(activity.text, language)}
    if vocabulary.sort_of(activity.codes) is None:  # a company's own code may be words
        for code in activity.codes:
            topics |= {hit.topic for hit in vocabulary.hits(code, language)}
    return frozenset(topics)


def main_code(code: str) -> str:
    """The part of a code before "--"."""
    return code.partition(" -- ")[0]


def is_elsewhere(step: Step) -> bool:
    """Whether words of trouble speak of something else than a string held in the hole: a bit that
    is out of it, or work by plan under a code of completion or abandonment."""
    activity, depth = step.activity, depth_at_end(step)
    out = depth is not None and depth <= OUT_OF_HOLE
    return out or any(main_code(code) in PLANNED for code in activity.codes)


Ways = Sequence[tuple[float, float]]


def _sort(step: Step, topics: frozenset[str], ways: Ways, coded: str | None) -> str:
    """What a step was; coded: what its codes say, as `Vocabulary.sort_of`."""
    activity = step.activity
    stuck = activity.state_detail == "stuck equipment"
    if coded is None or coded == NOTHING:
        if stuck:
            return "stuck"
        if is_elsewhere(step):
            topics = topics.difference(TROUBLE)
        said = next((topic for topic in PRECEDENCE if topic in topics), "unmatched")
        said = "stuck" if said == "held" else said
        return _trip(said, topics, ways) if said in TRIPS else said
    if coded in STRAIGHT:
        if stuck or (activity.failed and topics.intersection(HELD)):
            return "stuck"
        if "drill_cement" in topics and coded in ("drill", "ream"):
            return "drill_cement"
    return _trip(coded, topics, ways) if coded == "trip" else coded


def _trip(said: str, topics: frozenset[str], ways: Ways) -> str:
    """A trip told more closely."""
    if topics.intersection(("short_trip", "ream")):
        return "short_trip" if "short_trip" in topics else "ream"
    for run in ("casing", "complete"):
        if run in topics:
            return run
    told = [way for way in TRIPS if way in topics]
    far = max((abs(to - start) for start, to in ways), default=None)
    if "make_up" in topics and (far < FAR if far is not None else not told):
        return "make_up"
    if len(told) == 1:
        return told[0]
    if ways and far is not None and far > 0:
        start, to = ways[0]
        if to != start:
            return "trip_in" if to > start else "trip_out"
    return told[0] if told else "trip"


def _agreeing(sort: str, ways: Ways) -> tuple[float, float] | None:
    """The first way that goes in the direction of the sort; any, where it has none."""
    for start, to in ways:
        if sort not in TRIPS or (to > start) == (sort == "trip_in"):
            return start, to
    return None


def depth_at_end(step: Step) -> float | None:
    """Bit depth at the end of a step [ft], as far as the report tells it."""
    activity = step.activity
    return activity.depth if activity.bit[1] is None else activity.bit[1]


def _ways(step: Step, last: float | None, pattern: re.Pattern[str]) -> list[tuple[float, float]]:
    """From where to where the bit moved, by each of the sources that tell it [ft]; last: where it
    was before."""
    activity, found = step.activity, []
    start, end = activity.bit
    if start is not None and end is not None:
        found.append((start, end))
    end = depth_at_end(step)
    if end is not None and last is not None and last != end:
        found.append((last, end))
    said = depths_said(activity.text, pattern, activity.unit)
    return found if said is None else [*found, said]


def depths_pattern(vocabulary: Vocabulary) -> re.Pattern[str]:
    """What two depths look like in words: "from 1,234 m to 2,345 m", "3270m - surface"."""
    to = "|".join(re.escape(folded(word)) for word in vocabulary.to)
    top = "|".join(re.escape(folded(word)) for word in vocabulary.surface)
    one = rf"(?:({DIGITS}){UNIT}|({top})\b)"
    between = rf"(?:\s*(?:md|tvd|rkb|mmd)\b)?\s*(?:(?:{to})\b|->|-)\s*"
    return re.compile(rf"(?<![\w.,/]){one}{between}{one}")


def depths_said(
    text: str, pattern: re.Pattern[str], unit: float | None
) -> tuple[float, float] | None:
    """Two depths in words [ft]; unit: ft in the unit of the report, for a pair that names none.

    A pair counts where one of the two names its unit, or is the surface, and both are depths.
    """
    for match in pattern.finditer(folded(text)):
        first, unit_1, top_1, last, unit_2, top_2 = match.groups()
        named = unit_2 or unit_1
        if (top_1 and top_2) or (not named and not (top_1 or top_2)):
            continue
        factor = LENGTHS["m" if named[0] == "m" else "ft"] if named else unit
        if factor is None:
            continue
        start = 0.0 if top_1 else _digits(first) * factor
        end = 0.0 if top_2 else _digits(last) * factor
        if start != end and max(start, end) <= DEEPEST:
            return start, end
    return None


def _digits(text: str) -> float:
    """A depth in words: groups of three digits are thousands.

    >>> _digits("2,345.5"), _digits("1 234"), _digits("2.345"), _digits("12,5"), _digits("3270.5")
    (2345.5, 1234.0, 2345.0, 12.5, 3270.5)
    """
    if re.fullmatch(r"\d{1,2}\.\d{3}", text):
        return float(text.replace(".", ""))
    if re.fullmatch(r"\d{1,2}[ ,']\d{3}(?:\.\d+)?", text):
        return float(re.sub(r"[^\d.]", "", text))
    return float(text.replace(",", "."))
