"""The run log: a CSV table of the runs made since the decision, checked against its scenario.

One row is one run, in the order made. A header row names the columns, in any order; the
delimiter is a comma or, where the header has more of them, a semicolon. The columns:

    run            number in the program, from 1; empty, the first of that kind not logged before;
                   or the name of a reading
    kind           kind of the run; may be left empty where run is given
    start, end     ISO date and time, all with a time zone or all without
    outcome        one of the seven outcomes of a run; reads_workable or reads_stubborn of a
                   reading; unfinished of either
    fish_top       depth of the fish top after the run, in the units of the scenario; optional
    top_condition  a word of fish.top_condition; optional
    cost, remark   money the run took, and a free text; optional
    marks          marks seen to hold or not after the run, such as +dressed -attached, which
                   overrule what the outcome gives and takes; optional

Every fault of the table is reported at once, as for a scenario. What contradicts the
scenario or a row before is a fault as well: a decision on it would be one on another job. A run
that was made although the scenario says that its needs did not hold is a fact; its row has a
warning. Marks are followed from row to row as `econ.scenario.marks` says.

A run that was stopped half way is `unfinished`. Its time and money are spent, and nothing was
learned from it: the belief stays, marks stay but for those in its row, the run counts as not made
and may be made again. A fish that came out in two parts is two rows, `part` and `recovered`.
"""

from __future__ import annotations

import os
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, time
from pathlib import Path
from typing import get_args

from econ.scenario.amounts import ends_of
from econ.scenario.csv_rows import UnsplitRowError, csv_rows, like
from econ.scenario.faults import Fault, ScenarioError, shown
from econ.scenario.hole import TopCondition
from econ.scenario.load import LARGEST_FILE, read_text
from econ.scenario.marks import ATTACHED, DAMAGED_TOP, made, run_made
from econ.scenario.paperwork import Reading
from econ.scenario.program import OUTCOMES, OutcomeOdds, Run
from econ.scenario.quantities import LARGEST
from econ.scenario.scenario import Scenario
from econ.scenario.spreadsheet_text import meant

UNFINISHED = "unfinished"  # a run that was stopped half way; in a log only
READS = {"reads_workable": "prepared", "reads_stubborn": "nothing"}  # as outcomes of a run
COLUMNS = [
    *("run", "kind", "start", "end", "outcome", "fish_top", "top_condition", "cost", "remark"),
    "marks",
]
HEADER = f"a header with start, end, outcome and run or kind; columns are {', '.join(COLUMNS)}"
MOST_COLUMNS = 50  # a table with more is no run log, and gets one fault instead of one for each
MOST_ROWS = 1000  # a program has at most 60 runs
SAME_TOP = {"field": 1 + 1e-9, "metric": 0.3 + 1e-9}  # [ft], [m]; two measurements, and rounding
MOMENT = re.compile(r"\d{4}-\d\d-\d\d[T ]\d\d:\d\d(:\d\d(\.\d+)?)?(Z|[+-]\d\d:\d\d)?")
NUMBER = re.compile(r"\+?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?", re.ASCII)
REMARK = re.compile(r"[^\x00-\x1f\x7f-\x9f]{0,300}")  # length as for the texts of a scenario


@dataclass(frozen=True)
class LoggedRun:
    """A run that was made, or a reading, as its row tells it."""

    row: int  # line of the file where the row starts, from 1
    run: int  # index in `Scenario.actions`, from 0
    start: datetime
    end: datetime
    outcome: str
    fish_top: float | None = None  # [length unit of the scenario]
    top_condition: str | None = None
    cost: float | None = None  # [currency]
    remark: str = ""
    marks: tuple[tuple[str, bool], ...] = ()  # seen after the run, each whether it holds
    warning: str = ""  # where its needs did not hold; names the file and the row
    held: tuple[str, ...] = ()  # marks that held at its start, without those of runs made

    @property
    def finished(self) -> bool:
        """Whether it was made to its end; one stopped half way counts as not made."""
        return self.outcome != UNFINISHED


@dataclass(frozen=True)
class LogFault(Fault):
    """One thing wrong with a run log; `line` is where its row starts."""

    file: str = "log"

    def __str__(self) -> str:
        place = ", ".join([f"{self.file} row {self.line}", *map(str, self.path)])
        return str(Fault(self.given, self.allowed, self.suggestion, (place,)))


def read_log(
    path: str | os.PathLike[str], scenario: Scenario, *changed: Scenario
) -> tuple[LoggedRun, ...]:
    """The runs in the CSV file at `path`; ScenarioError with every fault found.

    Depths are in the units of the scenario, money in its currency. changed: the same scenario with
    changes, which the log must agree with as well, row by row on the same runs.

    >>> from econ.scenario import load
    >>> job = load("scenarios/a_land_twist_off.toml")
    >>> [each.outcome for each in read_log("scenarios/logs/a_two_runs.csv", job)]
    ['nothing', 'part']
    """
    text, file = log_text(path)
    log = parse_log(text, scenario, file=file)
    for other in changed:
        try:
            again = parse_log(text, other, file=file)
        except ScenarioError as error:
            faults = [
                replace(each, given=f"{each.given} (with the change)") for each in error.faults
            ]
            raise ScenarioError(faults) from None
        if [row.run for row in again] != [row.run for row in log]:
            given = f"{file}, whose rows name other runs with the change"
            raise ScenarioError([Fault(given, "the same runs", "give each row its run")])
    return log


def log_text(path: str | os.PathLike[str]) -> tuple[str, str]:
    """The text of the run log at `path`, and what messages call its file."""
    file = log_name(path)
    try:
        return read_text(path), file
    except ScenarioError as error:
        fault = error.faults[0]
        if fault.line:
            fault = LogFault(fault.given, fault.allowed, fault.suggestion, (), fault.line, file)
        elif isinstance(error.__context__, FileNotFoundError):  # no starter is a log
            fault = Fault(fault.given, fault.allowed, "check the name of the run log")
        raise ScenarioError([fault]) from None


def log_name(path: str | os.PathLike[str]) -> str:
    """What messages call the log at a path."""
    return ascii(Path(path).name)[1:-1][:60]


def parse_log(text: str, scenario: Scenario, *, file: str = "log") -> tuple[LoggedRun, ...]:
    """The runs in a CSV `text`, which messages call `file`; see `read_log`.

    >>> import econ
    >>> scenario = econ.load("scenarios/point/a_land_twist_off.toml")
    >>> rows = "run,start,end,outcome\\n1,2026-03-14T06:00,2026-03-15T10:30,nothing\\n"
    >>> [(row.run, row.outcome) for row in parse_log(rows, scenario)]
    [(0, 'nothing')]
    """
    log = _Log(scenario, file)
    rows = log.rows(text)
    if log.faults:
        raise ScenarioError(log.faults)
    return tuple(LoggedRun(**vars(row)) for row in rows)  # without a fault nothing is missing


def decided_at(scenario: Scenario, *, like: datetime) -> datetime | None:
    """When the decision was taken; a date is its midnight, in the time zone of `like`."""
    moment = scenario.job.decided_at
    if moment is None or isinstance(moment, datetime):
        return moment
    return datetime.combine(moment, time(), tzinfo=like.tzinfo)


@dataclass(frozen=True)
class _Row:
    """What could be read of a row; None for what is empty or faulty."""

    row: int
    run: int | None
    start: datetime | None
    end: datetime | None
    outcome: str | None
    fish_top: float | None
    top_condition: str | None
    cost: float | None
    remark: str
    marks: tuple[tuple[str, bool], ...]
    warning: str = ""
    held: tuple[str, ...] = ()


class _Log:
    """The table read from the top down, with its faults and the state that the rows leave."""

    def __init__(self, scenario: Scenario, file: str) -> None:
        self.scenario = scenario
        self.file = file
        self.faults: list[LogFault] = []
        self.columns: dict[str, int] = {}
        self.width = 0
        self.line = 1  # where the row being read starts
        self.used: set[int] = set()
        self.previous: tuple[datetime | None, int] = (None, 0)  # end of the run before, its row
        self.ended: _Row | None = None
        # The top lies between the two; they differ after a part whose new top was not measured.
        self.top = (scenario.fish.top, scenario.fish.top)
        self.holding = set(scenario.fish.marks)
        # The kinds of fish (`econ.scenario.doubts`) to which all rows so far could happen.
        self.doubts = scenario.doubts
        self.kinds = {0}
        for place, doubt in enumerate(self.doubts):
            self.kinds = _renewed(self.kinds, place, ends_of(doubt.workable))
        self.outcomes = [*OUTCOMES, *(READS if scenario.reading else ()), UNFINISHED]
        self.zoned: bool | None = None  # whether the first time of the log has a zone

    def fault(self, column: str, given: str, allowed: str, suggestion: str = "") -> None:
        """Keep a fault of the row being read; `column` is empty for one of the whole row."""
        path = (column,) if column else ()
        given = "an empty cell" if given == "''" else given
        self.faults.append(LogFault(given, allowed, suggestion, path, self.line, self.file))

    def rows(self, text: str) -> list[_Row]:
        """Read the whole table."""
        if len(text) > LARGEST_FILE:
            self.fault("", f"{len(text)} characters", f"up to {LARGEST_FILE}")
            return []
        found: list[_Row] = []
        records = self.records(text)
        header = next(records, None)
        if header is None and not self.faults:
            self.line = 1
            self.fault("header", "an empty table", HEADER)
        if header is None or not self.header(header):
            return []
        for cells in records:
            if len(found) == MOST_ROWS:
                self.fault("", f"more than {MOST_ROWS} runs", f"up to {MOST_ROWS}")
                break
            row = self.row(cells)
            held = tuple(sorted(mark for mark in self.holding if run_made(mark) is None))
            found.append(replace(row, warning=self.warning(row), held=held))
            self.follow(row)
        return found

    def records(self, text: str) -> Iterator[list[str]]:
        """Cells of each row that is not empty; `line` moves to where the row starts."""
        try:
            for self.line, cells in csv_rows(text):
                yield cells
        except UnsplitRowError as error:
            self.line = error.line
            self.fault("", "a row that cannot be split", error.allowed, "close the quotes it opens")

    def header(self, names: list[str]) -> bool:
        """Take the columns; False if the rows below cannot be read at all."""
        while not names[-1]:
            names.pop()
        if len(names) > MOST_COLUMNS or not set(names) & set(COLUMNS):
            given = f"{len(names)} columns that begin {', '.join(map(shown, names[:3]))}"
            self.fault("header", given, HEADER, "write the header as the first row")
            return False
        self.width = len(names)
        meant: set[str] = set()  # columns that are misspelt: one fault is enough for each
        for place, name in enumerate(names):
            if name not in COLUMNS:
                near = like(name, COLUMNS)
                meant.update(known for known in COLUMNS if near == f"did you mean {known}?")
                self.fault("header", f"the unknown column {shown(name)}", HEADER, near)
            elif name in self.columns:
                self.fault("header", f"the column {name} twice", "each column once")
            else:
                self.columns[name] = place
        for needed in ("start", "end", "outcome", "run or kind"):
            if not {*self.columns, *meant} & {*needed.split(" or ")}:
                self.fault("header", f"no column {needed}", HEADER, f"add the column {needed}")
        return True

    def row(self, cells: list[str]) -> _Row:
        """Read the cells of a row, each by itself."""
        if extra := [cell for cell in cells[self.width :] if cell]:
            allowed = f"{self.width} cells, as in the header; in double quotes if with a delimiter"
            self.fault("", f"the further cell {shown(extra[0])}", allowed)
        cells += [""] * self.width
        given = {name: meant(cells[place]) for name, place in self.columns.items()}
        remark = " ".join(given.get("remark", "").split())
        if not REMARK.fullmatch(remark):
            self.fault("remark", shown(remark), "up to 300 characters, no control characters")
        length = "ft" if self.scenario.units == "field" else "m"
        return _Row(
            self.line,
            self.run_made(
                given.get("run", ""),
                given.get("kind", ""),
                finished=given.get("outcome") != UNFINISHED,
            ),
            self.moment("start", given.get("start")),
            self.moment("end", given.get("end")),
            self.word("outcome", given.get("outcome"), self.outcomes),
            self.number("fish_top", given.get("fish_top"), f"a depth [{length}]"),
            self.word("top_condition", given.get("top_condition") or None, get_args(TopCondition)),
            self.number("cost", given.get("cost"), f"money spent [{self.scenario.currency}]"),
            remark,
            self.marks_seen(given.get("marks", "")),
        )

    def run_made(self, number: str, kind: str, *, finished: bool) -> int | None:
        """Index of the run that a row means; one that was not finished may be meant again."""
        program = self.scenario.run
        readings = [reading.name for reading in self.scenario.reading]
        left = [place for place in range(len(program)) if place not in self.used]
        kinds = [program[place].kind for place in left]
        if number in readings and not kind:
            index = len(program) + readings.index(number)
            if index in self.used:
                self.fault("run", shown(number), "a reading that is not logged yet")
                return None
        elif number:
            index = int(number) - 1 if re.fullmatch("[0-9]{1,9}", number) else -1
            if not 0 <= index < len(program):
                allowed = f"one of the {len(program)} runs of the program, by number from 1"
                allowed += f"; or a reading: {', '.join(readings)}" if readings else ""
                self.fault("run", shown(number), allowed, "add a run not planned as [[run]]")
                return None
            if kind and kind != program[index].kind:
                allowed = f"{program[index].kind}, the kind of run {number}, or an empty cell"
                self.fault("kind", shown(kind), allowed, "correct run or kind")
                return None
        elif kind in kinds:
            index = left[kinds.index(kind)]
        else:
            column = "kind" if "kind" in self.columns else "run"
            if column in self.columns:
                known = ", ".join(dict.fromkeys(kinds)) or "none is left"
                allowed = f"the number of a run, or the kind of one not logged yet: {known}"
                again = [place + 1 for place, run in enumerate(program) if run.kind == kind]
                suggestion = f"if made again, write run = {again[0]}" if again else ""
                self.fault(column, shown(kind), allowed, suggestion or like(kind, kinds))
            return None
        if finished:
            self.used.add(index)
        return index

    def moment(self, column: str, text: str | None) -> datetime | None:
        """A date and time, with a time zone if the times before have one."""
        if text is None:
            return None
        try:
            found = datetime.fromisoformat(text) if MOMENT.fullmatch(text) else None
        except ValueError:  # a day or a zone that does not exist
            found = None
        if found is None:
            self.fault(column, shown(text), "an ISO date and time", "such as 2026-03-15T14:30")
            return None
        zoned, other = found.tzinfo is not None, self.zoned
        if other is None:  # held against the scenario once, the log is then held to itself
            self.zoned = zoned
            other = (decided_at(self.scenario, like=found) or found).tzinfo is not None
        if other != zoned:
            has, needs = ("with", "without") if zoned else ("without", "with")
            allowed = f"a time {needs} one, as decided_at or the rows before"
            suggestion = "write all times and decided_at with a time zone, or all without"
            self.fault(column, f"{shown(text)}, {has} a time zone", allowed, suggestion)
        return found

    def word(self, column: str, text: str | None, words: Sequence[str]) -> str | None:
        """One of the known words."""
        if text is None or text in words:
            return text
        self.fault(column, shown(text), ", ".join(words), like(text, words))
        return None

    def marks_seen(self, text: str) -> tuple[tuple[str, bool], ...]:
        """Marks with their signs, each whether it holds."""
        known = [*self.scenario.marks, DAMAGED_TOP]
        seen: dict[str, bool] = {}
        for word in text.replace(",", " ").split():
            sign, mark = word[0], word[1:]
            if sign not in "+-":
                allowed = "+ before a mark that holds, - before one that does not"
                self.fault("marks", shown(word), allowed, "such as +washed -attached")
            elif mark not in known:
                allowed = f"marks of the scenario: {', '.join(known)}"
                self.fault("marks", shown(word), allowed, like(mark, known))
            elif seen.setdefault(mark, sign == "+") != (sign == "+"):
                self.fault("marks", f"{shown(mark)} with + and with -", "each mark with one sign")
        return tuple(seen.items())

    def warning(self, row: _Row) -> str:
        """Why the scenario would not have made the run of a row, or no text."""
        if row.run is None or self.ended:
            return ""
        run = self.scenario.actions[row.run]
        missing = [mark for mark in dict.fromkeys(run.all_needs) if mark not in self.holding]
        barring = [mark for mark in dict.fromkeys(run.all_bars) if mark in self.holding]
        why = [f"{mark}, which it needs, did not hold" for mark in missing]
        why += [f"{mark}, which bars it, held" for mark in barring]
        if not why:
            return ""
        return (
            f"{self.file} row {row.row}: {self.named(row.run)} was made although "
            f"{' and '.join(why)}; "
            "if that was otherwise, write it under marks of the row before, or correct the file"
        )

    def number(self, column: str, text: str | None, meaning: str) -> float | None:
        """A number that is 0 or more."""
        if not text:
            return None
        if NUMBER.fullmatch(text) and float(text) <= LARGEST:
            return float(text)
        allowed = f"{meaning}, from 0 to {LARGEST:g}, in digits and a decimal point; or empty"
        self.fault(column, shown(text), allowed, "such as 11240.5")
        return None

    def follow(self, row: _Row) -> None:
        """Hold a row against the scenario and the rows before, and move the state on."""
        self.times(row)
        if self.ended:
            given = f"a run after {self.ended.outcome} in row {self.ended.row}, the end of fishing"
            self.fault("", given, "no row after it", "correct that outcome, or leave this row out")
            return
        action = None if row.run is None else self.scenario.actions[row.run]
        run = action if isinstance(action, Run) else None
        if isinstance(action, Reading) and row.outcome:
            self.reads(row.outcome, action)
        elif run and row.outcome in READS:
            self.fault(
                "outcome",
                row.outcome,
                f"{', '.join([*OUTCOMES, UNFINISHED])}: {self.named(row.run)} reads nothing",
            )
            return
        self.tops(row, run)
        if run and row.run is not None and row.outcome and row.outcome != UNFINISHED:
            self.odds(row.outcome, run, number=row.run + 1)
            self.change(row.outcome, run, number=row.run + 1)
        self.holding |= {mark for mark, holds in row.marks if holds}
        self.holding -= {mark for mark, holds in row.marks if not holds}
        if row.outcome in ("recovered", "string_lost", "hole_lost"):
            self.ended = row

    def change(self, outcome: str, run: Run, *, number: int) -> None:
        """The marks and the kinds of fish that an outcome leaves, apart from evidence."""
        self.holding.add(made(number))
        if run.dresses_top:
            self.holding.discard(DAMAGED_TOP)
        if outcome == "top_damaged":
            self.holding.add(DAMAGED_TOP)
        if outcome in ("string_lost", "hole_lost"):
            self.holding.discard(ATTACHED)
        if outcome in ("prepared", "part"):
            self.holding = (self.holding - {*run.takes}) | {*run.gives}
            for place, doubt in enumerate(self.doubts):
                if doubt.name in run.renews:
                    self.kinds = _renewed(self.kinds, place, ends_of(run.renews[doubt.name]))

    def times(self, row: _Row) -> None:
        """Runs follow one another, after the decision."""
        zero = decided_at(self.scenario, like=row.start) if row.start else None
        last, there = self.previous
        for column, moment, least, name, suggestion in (
            ("start", row.start, zero, "decided_at of the scenario", "leave out runs before it"),
            ("start", row.start, last, f"the end in row {there}", "put rows in the order made"),
            ("end", row.end, row.start, "the start", "correct the times"),
        ):
            if moment and least and _before(moment, least):
                self.fault(column, shown(moment), f"at or after {name}, {shown(least)}", suggestion)
        if row.end:
            self.previous = (row.end, row.row)

    def tops(self, row: _Row, run: Run | None) -> None:
        """The fish top agrees with the fish, the outcome and the rows before."""
        after, (high, low) = row.fish_top, self.top
        bottom, same = self.scenario.fish.bottom, SAME_TOP[self.scenario.units]
        if row.outcome in ("part", None):
            self.top = (high, bottom)
        if after is None:
            if row.outcome == "part" and run and ends_of(run.part_length) == (0, 0):
                allowed = "the depth of the top, since part_length of the run is 0"
                self.fault("fish_top", "part and no depth", allowed, "or set part_length above 0")
            return
        allowed, suggestion = "", "correct the depth or the outcome"
        still = row.outcome in ("nothing", "prepared", "top_damaged", UNFINISHED)
        if row.outcome == "recovered":
            allowed = "an empty cell after recovered, which leaves no fish"
        elif after >= bottom:
            allowed = f"less than the bottom of the fish, {bottom:.10g}"
        elif row.outcome == "part" and after <= high:
            allowed = f"more than the top before, {high:.10g}, since part came out"
        elif row.outcome == "string_lost" and after > low + same:
            allowed = f"at most the top before, {low:.10g}, since the string lies above it"
        elif still and not high - same <= after <= low + same:
            before = f"{high:.10g}" if high == low else f"from {high:.10g} to {low:.10g}"
            allowed = f"the top before, {before}, within {same:g}, since the outcome moves none"
            suggestion = "if part of the fish came out, the outcome is part"
        elif row.outcome == "part" or (still and high < low):
            self.top = (after, after)
        if allowed:
            self.fault("fish_top", f"{after:.10g}", allowed, suggestion)

    def named(self, action: int | None) -> str:
        """A run by its number, a reading by its name."""
        assert action is not None
        runs = len(self.scenario.run)
        return f"run {action + 1}" if action < runs else self.scenario.reading[action - runs].name

    def reads(self, outcome: str, reading: Reading) -> None:
        """A reading reads one or the other, of a doubt that can still be so."""
        if outcome == UNFINISHED:
            return
        if outcome not in READS:
            words = f"{' or '.join(READS)}, since it is a reading; or {UNFINISHED}"
            self.fault("outcome", outcome, words)
            return
        names = [doubt.name for doubt in self.doubts]
        place = 0 if reading.about is None else names.index(reading.about)
        against = reading.reliability_stubborn
        right = reading.reliability, reading.reliability if against is None else against
        chances = (right[0], 1.0 - right[1])  # of reading workable, in favour and not
        if outcome == "reads_stubborn":
            chances = (1.0 - chances[0], 1.0 - chances[1])
        possible = {kind for kind in self.kinds if chances[kind >> place & 1] > 0}
        if possible:
            self.kinds = possible
        else:
            given = f"{outcome}, which a reading that is never wrong cannot give after these rows"
            self.fault("outcome", given, " or ".join(READS), "correct the outcome or reliability")

    def odds(self, outcome: str, run: Run, *, number: int) -> None:
        """The outcome can happen, to a kind of fish to which all rows before could happen."""
        factor = self.scenario.fishing.damaged_top_factor
        damaged = DAMAGED_TOP in self.holding and not run.dresses_top
        kept = ends_of(factor if damaged else 1.0)
        tables = run.odds_by_kind()
        likely = [_outcomes(table, kept) for table in tables]
        # The place of its odds by kind of fish: 0 where the workable ones hold, else 1.
        places = [0 if good else 1 for good in run.favourable(self.doubts)]
        possible = {kind for kind, place in enumerate(places) if outcome in likely[place]}
        if possible & self.kinds:
            self.kinds &= possible
            return
        names = [path.removesuffix("recovered") + outcome for path in run.odds_paths(number - 1)]
        # Odds above 0 that cannot happen are a recovery of which a damaged top leaves nothing.
        left = sorted({places[kind] for kind in self.kinds})
        keys = [
            names[place] if getattr(tables[place], outcome) == 0 else "fishing.damaged_top_factor"
            for place in left
        ]
        fish = "any kind of fish"
        if possible:
            only = "the only kind" if len(self.kinds) == 1 else "the kinds"
            fish = f"{only} of fish that can remain"
        given = f"{outcome}, which the scenario says cannot happen in run {number} to {fish}"
        words = {word for place in left for word in likely[place]}
        allowed = ", ".join(word for word in OUTCOMES if word in words)
        suggestion = f"correct the outcome or the odds: {' or '.join(dict.fromkeys(keys))} above 0"
        self.fault("outcome", given, allowed, suggestion)


def _outcomes(odds: OutcomeOdds, kept: tuple[float, float]) -> list[str]:
    """Outcomes with a chance, where between `kept` (least, most) of the recovery remains."""
    chances = {outcome: getattr(odds, outcome) > 0 for outcome in OUTCOMES}
    chances["nothing"] |= chances["recovered"] and kept[0] < 1
    chances["recovered"] &= kept[1] > 0
    return [outcome for outcome, chance in chances.items() if chance]


def _renewed(kinds: set[int], place: int, chance: tuple[float, float]) -> set[int]:
    """Kinds of fish that are possible once the doubt at a place holds afresh, with a chance
    between the two, and the other doubts are as they were."""
    least, most = chance
    bit = 1 << place
    held = {kind & ~bit for kind in kinds} if most > 0 else set()
    not_held = {kind | bit for kind in kinds} if least < 1 else set()
    return held | not_held


def _before(first: datetime, second: datetime) -> bool:
    """Whether a time is before another; where only one has a zone, that is the fault."""
    return (first.tzinfo is None) == (second.tzinfo is None) and first < second
