"""The columns of a table of past jobs, and how a cell of each is read.

One row is one run. The header names the columns, in any order; capitals, spaces and hyphens
make no difference to a name or a word, and neither does a unit in brackets behind a name. A
spreadsheet writes numbers as its country does: where cells are parted by a semicolon or a tab a
decimal comma is read, a run number may read 1.0, and chances may be in percent.

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
    marks          marks that held when the run began, with blanks between
    depends_on     doubts that the run depended on, with blanks between
    start, end     ISO date, or date and time; 15.03.2026 14:30 is read too
    hours          hours of the run
    stated_odds    chance of recovery stated before the run [fraction, or percent]
    job_end        why the job ended: recovered, economics, lost, open, other
    remark         a free text, up to 1,000 characters

A cell is a converter of its text to a value, or the words of what is allowed there. Words that
people write in place of ours are not taken for them, but suggested: only who filed a row knows
whether "failed" was nothing or a lost hole.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import partial
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
    *("mechanism", "hole_size", "angle", "depth", "top_condition", "marks", "depends_on"),
    *("start", "end", "hours", "stated_odds", "job_end", "remark"),
)
COLUMNS = (*REQUIRED, *OPTIONAL)
MOST_RUNS = 999  # in a job
LONGEST_JOB = 80  # characters of a name
MOMENT = re.compile(r"\d{4}-\d\d-\d\d([T ]\d\d:\d\d(:\d\d(\.\d{1,6})?)?(Z|[+-]\d\d:\d\d)?)?")
DOTTED = re.compile(r"(\d{1,2})\.(\d{1,2})\.(\d{4})(?:[T ]+(\d{1,2}:\d\d(?::\d\d)?))?", re.ASCII)
WORD = re.compile("[A-Za-z0-9_]{1,40}")
MOST_WORDS = 40  # in a cell
NUMBER = re.compile(r"[-+]?(\d+\.?\d*|\.\d+)([eE][+-]?\d{1,3})?", re.ASCII)
# Groups of three digits that leave no doubt: 8,072.5 and 8 072,5
GROUPED = re.compile(r"[-+]?\d{1,3}((,\d{3})+\.\d+|([ \u00a0\u202f]\d{3})+([.,]\d+)?)", re.ASCII)
THOUSANDS = {  # or three decimals
    ",": re.compile(r"\d{1,3}(,\d{3})+", re.ASCII),
    ".": re.compile(r"\d{1,3}(\.\d{3})+", re.ASCII),
}
COMMA = re.compile(r"[-+]?(\d{1,3}([. ]\d{3})+|\d+),\d+", re.ASCII)
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

# What people write, as `snake` makes it, and the word that may be meant.
MEANT = {
    "outcome": {
        **dict.fromkeys(
            (
                "success",
                "successful",
                "succeeded",
                "out",
                "fish_out",
                "recovery",
                "fished",
                "whole",
            ),
            "recovered",
        ),
        **dict.fromkeys(
            ("failed", "failure", "fail", "unsuccessful", "no_success", "no_catch", "no_recovery"),
            "nothing",
        ),
        **dict.fromkeys(("not_recovered", "no_fish", "missed", "none", "no", "no_go"), "nothing"),
        **dict.fromkeys(("partial", "partly", "part_recovered", "partial_recovery"), "part"),
        **dict.fromkeys(("washed", "dressed", "milled", "caught", "latched", "cut"), "prepared"),
        **dict.fromkeys(("damaged", "damaged_top", "top_damage", "top_worse"), "top_damaged"),
        **dict.fromkeys(
            ("lost_string", "string_left", "left_string", "second_fish", "stuck", "lost_in_hole"),
            "string_lost",
        ),
        **dict.fromkeys(("lost_hole", "hole_gone", "lost_the_hole", "sidetracked"), "hole_lost"),
        **dict.fromkeys(("aborted", "stopped", "cancelled", "not_finished"), "unfinished"),
    },
    "kind": {
        **dict.fromkeys(("wash_over", "washing_over", "wash_pipe", "washpipe"), "washover"),
        **dict.fromkeys(("screw_in_sub", "screwin", "screw"), "screw_in"),
        **dict.fromkeys(("mill", "milling", "concave_mill", "flat_mill"), "junk_mill"),
        **dict.fromkeys(("basket", "junk_basket", "jet_basket", "reverse_basket"), "rc_basket"),
        **dict.fromkeys(("backoff", "back_off", "string_shot", "free_point"), "freepoint_backoff"),
        **dict.fromkeys(("tap", "taper"), "taper_tap"),
        **dict.fromkeys(("jarring", "jars", "jar"), "work_jar"),
        **dict.fromkeys(("dress", "dressing", "dress_off"), "dress_top"),
        **dict.fromkeys(("clean_out", "cleanout", "conditioning", "bit_trip"), "condition_trip"),
        **dict.fromkeys(("spot", "pill", "spotting", "spotting_fluid"), "soak"),
    },
    "mechanism": {
        **dict.fromkeys(("twist_off", "twistoff", "washout", "broken", "parting"), "parted"),
        **dict.fromkeys(
            ("differentially_stuck", "wall_stuck", "diff", "diff_stuck"), "differential"
        ),
        **dict.fromkeys(("pack_off", "packoff", "packed", "cuttings"), "packed_off"),
        **dict.fromkeys(("keyseat", "keyseated", "key_seated"), "key_seat"),
    },
    "job_end": {
        **dict.fromkeys(("success", "successful", "out", "fish_out"), "recovered"),
        **dict.fromkeys(("sidetrack", "stopped", "abandoned", "cost", "money"), "economics"),
        **dict.fromkeys(("lost_hole", "lost_string", "hole_lost", "string_lost"), "lost"),
    },
}
# Heads of columns that people write, and the column that may be meant.
MEANT_COLUMNS = {
    **dict.fromkeys(("job_name", "well", "well_name", "job_no", "job_number", "name"), "job"),
    **dict.fromkeys(("run_no", "run_number", "no", "number", "run_#", "#"), "run"),
    **dict.fromkeys(("tool", "method", "type", "run_kind", "run_type", "kind_of_run"), "kind"),
    **dict.fromkeys(("result", "results", "success", "how_it_ended"), "outcome"),
}


def converters(units: str, delimiter: str = ",") -> dict[str, Cell]:
    """How a cell of each column is read; lengths come out in ft and in. delimiter: of the table."""
    length, diameter = ("ft", "in") if units == "field" else ("m", "mm")
    factor = TO_FIELD[units]
    number = partial(_number, delimiter)
    return {
        "job": _job,
        "run": _run,
        "kind": _word(KINDS, MEANT["kind"]),
        "outcome": _word(OUTCOMES, MEANT["outcome"]),
        "mechanism": _word(MECHANISMS, MEANT["mechanism"]),
        "hole_size": number(f"a diameter [{diameter}]", 0, 2000, factor.get("hole_size", 1.0)),
        "angle": number("an angle [degrees]", 0, 180),
        "depth": number(f"a depth [{length}]", 0, 60_000, factor.get("depth", 1.0)),
        "top_condition": _word(TOPS, {}),
        "marks": _words,
        "depends_on": _words,
        "start": _moment,
        "end": _moment,
        "hours": number("hours of the run", 0, 10_000),
        "stated_odds": _chance(number("a chance as a fraction, or in percent", 0, 100)),
        "job_end": _word(ENDS, MEANT["job_end"]),
        "remark": _remark,
    }


def _job(text: str) -> str | Bad:
    text = " ".join(text.split())  # blanks that do not break are blanks too
    if not text:
        return Bad("the name of the job in every row", "below a merged cell write it again")
    if len(text) <= LONGEST_JOB and text.isprintable():
        return text
    return Bad(f"a name of up to {LONGEST_JOB} characters, no control characters")


def _run(text: str) -> int | Bad:
    whole = re.fullmatch("([0-9]{1,6})([.,]0+)?", text, re.ASCII)  # a spreadsheet may write 1.0
    if whole and 1 <= int(whole.group(1)) <= MOST_RUNS:
        return int(whole.group(1))
    return Bad(f"the number of the run in its job, a whole number from 1 to {MOST_RUNS}")


def _word(words: Sequence[str], meant: Mapping[str, str]) -> Cell:
    """Place of a word in `words`; meant: what people write in place of one."""
    places = {word: place for place, word in enumerate(words)}

    def read(text: str) -> int | Bad:
        place = places.get(text)
        if place is None:
            place = places.get(snake(text))
        if place is not None:
            return place
        said = meant.get(snake(text).strip("_."))
        return Bad(", ".join(words), f"did you mean {said}?" if said else like(text, words))

    return read


def _words(text: str) -> tuple[str, ...] | Bad:
    words = tuple(dict.fromkeys(re.split(r"[\s,;+/]+", text)))
    if len(words) <= MOST_WORDS and all(map(WORD.fullmatch, words)):
        return tuple(sorted(words))
    return Bad("words of letters, digits and underscores, with blanks between")


def _chance(number: Cell) -> Cell:
    """A chance, and whether it was given without a sign of percent: then the column decides."""

    def read(text: str) -> tuple[float, bool] | Bad:
        bare = text.removesuffix("%").rstrip()
        value = number(bare)
        if isinstance(value, Bad):
            return value
        return (value, True) if bare == text else (value / 100, False)

    return read


def in_fractions(stated: Sequence[tuple[float, bool]]) -> tuple[list[float], bool]:
    """Chances of a column as fractions, and whether bare numbers were taken for percent.

    Bare numbers above 1 are percent. One that is 1 or 0 goes with the others of its column.

    >>> in_fractions([(60.0, True), (1.0, True), (0.35, False)])
    ([0.6, 0.01, 0.35], True)
    >>> in_fractions([(60.0, True), (1.0, True), (0.4, True)])
    ([0.6, 1.0, 0.4], True)
    """
    bare = [value for value, without in stated if without]
    percent = any(value > 1 for value in bare)
    whole = percent and not any(0 < value < 1 for value in bare)
    return [
        value / 100 if without and (whole or value > 1) else value for value, without in stated
    ], percent


def _number(delimiter: str, meaning: str, least: float, most: float, factor: float = 1.0) -> Cell:
    allowed = f"{meaning}, from {least:g} to {most:g}, in digits and a decimal point"

    def read(text: str) -> float | Bad:
        if GROUPED.fullmatch(text):
            text = re.sub(r"[\s,]" if "." in text else r"\s", "", text)
        sign = "." if delimiter == ";" else ","  # that may part thousands or decimals there
        if THOUSANDS[sign].fullmatch(text):
            without, decimal = (
                text.replace(sign, ""),
                text.replace(sign, "," if sign == "." else "."),
            )
            return Bad(allowed, f"write {without} or {decimal}, whichever is meant")
        if delimiter != "," and "," in text:
            text = _decimal_comma(text) or text
        if NUMBER.fullmatch(text) and least <= float(text) <= most:
            return float(text) * factor
        comma = text.replace(",", ".", 1)
        if "," in text and NUMBER.fullmatch(comma):
            return Bad(allowed, f"write {comma} if that is meant")
        return Bad(allowed, "leave the cell empty if it is not known")

    return read


def _decimal_comma(text: str) -> str:
    """A number with a decimal comma, written with a point; empty if it is none.

    >>> _decimal_comma("8.072,5"), _decimal_comma("0,45"), _decimal_comma("1,2,3")
    ('8072.5', '0.45', '')
    """
    return "".join(text.replace(".", "").split()).replace(",", ".") if COMMA.fullmatch(text) else ""


def _moment(text: str) -> tuple[float, bool] | Bad:
    """Hours since 1970, and whether the time has a zone."""
    dotted = DOTTED.fullmatch(text)
    if dotted:
        day, month, year, time = dotted.groups()
        text = f"{year}-{month:0>2}-{day:0>2}" + (f"T{time:0>5}" if time else "")
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
