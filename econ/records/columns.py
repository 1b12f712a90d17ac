"""The columns of a table of past jobs, and how a cell of each is read.

One row is one run. The header names the columns, in any order; capitals, spaces and hyphens
make no difference to a name or a word.

    job            name of the job                                                   required
    run            number of the run in its job, from 1                              required
    kind           kind of run, a word of the scenario file                          required
    outcome        recovered, part, nothing, prepared, top_damaged, string_lost or   required
                   hole_lost; a row with unfinished, as in a run log, is left out
    mechanism      what held the fish, a word of fish.mechanism
    hole_size      diameter of the hole [in, or mm]
    angle          inclination at the fish [degrees]
    depth          depth of the fish top [ft, or m]
    top_condition  a word of fish.top_condition
    start, end     ISO date, or date and time
    hours          hours of the run
    stated_odds    chance of recovery stated before the run [fraction]
    job_end        why the job ended: recovered, economics, lost, open, other
    remark         a free text, up to 1,000 characters

A cell is a converter of its text to a value, or the words of what is allowed there.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any, get_args

from econ.scenario.csv_rows import like, snake
from econ.scenario.hole import Mechanism, TopCondition
from econ.scenario.program import OUTCOMES, RunKind

KINDS: tuple[str, ...] = get_args(RunKind)
MECHANISMS: tuple[str, ...] = get_args(Mechanism)
TOPS: tuple[str, ...] = get_args(TopCondition)
ENDS = ("recovered", "economics", "lost", "open", "other")
REQUIRED = ("job", "run", "kind", "outcome")
OPTIONAL = (
    *("mechanism", "hole_size", "angle", "depth", "top_condition", "start", "end", "hours"),
    *("stated_odds", "job_end", "remark"),
)
COLUMNS = (*REQUIRED, *OPTIONAL)
MOST_RUNS = 999  # in a job
LONGEST_JOB = 80  # characters of a name
MOMENT = re.compile(r"\d{4}-\d\d-\d\d([T ]\d\d:\d\d(:\d\d(\.\d{1,6})?)?(Z|[+-]\d\d:\d\d)?)?")
NUMBER = re.compile(r"[-+]?(\d+\.?\d*|\.\d+)([eE][+-]?\d{1,3})?", re.ASCII)
YEARS = (1900, 2099)
EPOCH = datetime(1970, 1, 1)
ZONED_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
TO_FIELD = {"field": {}, "metric": {"depth": 1 / 0.3048, "hole_size": 1 / 25.4}}


@dataclass(frozen=True)
class Bad:
    """Why a cell cannot be read."""

    allowed: str
    suggestion: str = ""


Cell = Callable[[str], Any]  # gives the value, or Bad


def converters(units: str) -> dict[str, Cell]:
    """How a cell of each column is read; lengths come out in ft and in."""
    length, diameter = ("ft", "in") if units == "field" else ("m", "mm")
    factor = TO_FIELD[units]
    return {
        "job": _job,
        "run": _run,
        "kind": _word(KINDS),
        "outcome": _word(OUTCOMES),
        "mechanism": _word(MECHANISMS),
        "hole_size": _number(f"a diameter [{diameter}]", 0, 2000, factor.get("hole_size", 1.0)),
        "angle": _number("an angle [degrees]", 0, 180),
        "depth": _number(f"a depth [{length}]", 0, 60_000, factor.get("depth", 1.0)),
        "top_condition": _word(TOPS),
        "start": _moment,
        "end": _moment,
        "hours": _number("hours of the run", 0, 10_000),
        "stated_odds": _number("a chance as a fraction", 0, 1),
        "job_end": _word(ENDS),
        "remark": _remark,
    }


def _job(text: str) -> str | Bad:
    if text and len(text) <= LONGEST_JOB and text.isprintable():
        return text
    return Bad(f"a name of up to {LONGEST_JOB} characters, no control characters")


def _run(text: str) -> int | Bad:
    if re.fullmatch("[0-9]{1,6}", text, re.ASCII) and 1 <= int(text) <= MOST_RUNS:
        return int(text)
    return Bad(f"the number of the run in its job, a whole number from 1 to {MOST_RUNS}")


def _word(words: Sequence[str]) -> Cell:
    """Place of a word in `words`; -1 for an empty cell of an optional column."""
    places = {word: place for place, word in enumerate(words)}

    def read(text: str) -> int | Bad:
        place = places.get(text)
        if place is None:
            place = places.get(snake(text))
        return Bad(", ".join(words), like(text, words)) if place is None else place

    return read


def _number(meaning: str, least: float, most: float, factor: float = 1.0) -> Cell:
    allowed = f"{meaning}, from {least:g} to {most:g}, in digits and a decimal point"

    def read(text: str) -> float | Bad:
        if NUMBER.fullmatch(text) and least <= float(text) <= most:
            return float(text) * factor
        comma = text.replace(",", ".", 1)
        if "," in text and NUMBER.fullmatch(comma):
            return Bad(allowed, f"write {comma} if that is meant")
        return Bad(allowed, "leave the cell empty if it is not known")

    return read


def _moment(text: str) -> tuple[float, bool] | Bad:
    """Hours since 1970, and whether the time has a zone."""
    try:
        found = datetime.fromisoformat(text) if MOMENT.fullmatch(text) else None
    except ValueError:  # a day or a zone that does not exist
        found = None
    if found is None:
        return Bad("an ISO date, or date and time, that exists", "such as 2026-03-15T14:30")
    if not YEARS[0] <= found.year <= YEARS[1]:
        return Bad(f"a year from {YEARS[0]} to {YEARS[1]}", "correct the year")
    zoned = found.tzinfo is not None
    hours = (found - (ZONED_EPOCH if zoned else EPOCH)).total_seconds() / 3600
    return (hours, zoned) if math.isfinite(hours) else Bad("an ISO date and time")


def _remark(text: str) -> str | Bad:
    if len(text) <= 1000:
        return text
    return Bad("a text of up to 1,000 characters")
