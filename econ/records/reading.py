"""A CSV table of past jobs read into `Records`, with what was rejected and why.

Two sorts of trouble. What makes the table unusable (no header, a column missing, not one
row taken) refuses it. What is wrong with a row rejects the row, and what is wrong with a
cell that may be empty takes that cell as empty; both are told, row by row. Of a job with
a row rejected none is taken, because what the other rows mean hangs on it; a row that says
the same again, or comes after the end of its job, is the only one that goes. So is a run that was
stopped half way (`unfinished` in a run log): it is no trial, and says nothing on the odds.

Rows that are not taken are seldom like the others: where `nothing` is spelled in another way every
job with a failure goes, and what is left are the successes. So they are counted (`rows_lost`,
`jobs_lost` of `Records`), and above a fifth `odds_fragment` writes no odds unless it is told to.

What is told besides, as `Records.remarks`: a file that is not UTF-8 and was read as Windows-1252,
columns that are not read, chances taken for percent, and names of jobs that differ in capitals,
blanks or signs only, which are taken as two jobs and asked about.
"""

from __future__ import annotations

import codecs
import io
import os
import re
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any, Literal

import numpy as np

from econ.records.columns import (
    COLUMNS,
    MEANT_COLUMNS,
    OPTIONAL,
    REQUIRED,
    Bad,
    Cell,
    converters,
    in_fractions,
)
from econ.records.job_rows import LEFT_OUT, SAID_TWICE, Row, job_rows
from econ.records.records import Records, Rejected
from econ.scenario.csv_rows import UnsplitRowError, csv_rows, delimiter_of, like, snake
from econ.scenario.faults import Fault, ScenarioError, shown
from econ.scenario.run_log import UNFINISHED, LogFault
from econ.scenario.toml_text import decoded, read_bytes

Units = Literal["field", "metric"]
LARGEST_RECORDS = 100_000_000  # bytes
MOST_ROWS = 1_000_000
MOST_COLUMNS = 200
MOST_ASKED = 5  # names or columns told one by one
WORKBOOKS = (b"PK\x03\x04", b"\xd0\xcf\x11\xe0")  # how zipped and older ones begin
UNIT = re.compile(r"_*[\[(][^\])]*[\])]$")  # in brackets behind a name
TRIALS = "a run made to its end"
NO_RUN = "leave the row out, or fill it in"
NO_TRIAL = "one stopped half way is no trial; the other rows of its job are taken"
HEADER = f"a header with {', '.join(REQUIRED)}; it may also have {', '.join(OPTIONAL)}"


def read_records(path: str | os.PathLike[str], *, units: Units = "field") -> Records:
    """The past jobs in the CSV file at `path`.

    units: of depth and hole_size in the file, "field" (ft, in) or "metric" (m, mm).
    Raises ScenarioError where the table cannot be used; rows that were not taken are in
    `Records.rejected`.

    >>> records = read_records("scenarios/records/invented_jobs.csv")
    >>> len(records.names), len(records.job), len(records.rejected)
    (180, 440, 0)
    """
    file = ascii(Path(path).name)[1:-1][:60]
    if Path(path).exists() and not (Path(path).is_file() or Path(path).is_dir()):
        raise ScenarioError([Fault(ascii(str(path)), "a plain file")])
    remarks: list[str] = []
    try:
        text = _text(read_bytes(path, largest=LARGEST_RECORDS), remarks)
    except ScenarioError as error:
        fault = error.faults[0]
        missing = isinstance(error.__context__, FileNotFoundError)  # no starter is a record
        suggestion = "check the name of the file" if missing else fault.suggestion
        found: Fault = Fault(fault.given, fault.allowed, suggestion)
        if fault.line:
            found = LogFault(fault.given, fault.allowed, suggestion, (), fault.line, file)
        raise ScenarioError([found]) from None
    return _parsed(text, units, file, remarks)


def _text(data: bytes, remarks: list[str]) -> str:
    """The text of a file: UTF-16 with a byte order mark, UTF-8 or, if it is not, Windows-1252."""
    if data.startswith(WORKBOOKS):
        todo = "export the sheet with the runs as CSV, and give that file"
        raise ScenarioError([Fault("a workbook of a spreadsheet", "a table as CSV text", todo)])
    try:
        if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
            return data.decode("utf-16")
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        pass
    try:
        text = data.decode("cp1252")
    except UnicodeDecodeError:
        return decoded(data)  # which says what is wrong
    remarks.append(
        "the file is not UTF-8 and was read as Windows-1252; look at names with accents, and save "
        "it as UTF-8 if they are wrong"
    )
    return text


def parse_records(text: str, *, units: Units = "field", file: str = "records") -> Records:
    """The past jobs in a CSV `text`, which messages call `file`; see `read_records`.

    >>> table = "job,run,kind,outcome\\nA,1,overshot,nothing\\nB,1,overshoot,recovered\\n"
    >>> [each.suggestion for each in parse_records(table).rejected if each.column == "kind"]
    ['did you mean overshot?']
    """
    return _parsed(text, units, file, [])


def _parsed(text: str, units: Units, file: str, remarks: list[str]) -> Records:
    if units not in ("field", "metric"):
        raise ValueError(f"units {units!r}: give 'field' or 'metric'")
    rejected: list[Rejected] = []
    rows = csv_rows(text)
    try:
        header = next(rows, None)
        places, width = _header(header, file, remarks)
        read_cell = converters(units, delimiter_of(io.StringIO(text)))
        taken, read = _rows(rows, places, width, read_cell, rejected, file)
    except UnsplitRowError as error:
        given, todo = "a row that cannot be split", "close the quotes it opens"
        fault = LogFault(given, error.allowed, todo, (), error.line, file)
        raise ScenarioError([fault]) from None
    _chances(taken, remarks)
    jobs = job_rows(taken, rejected)
    rejected.sort(key=lambda each: (each.row, not each.whole_row))
    if not jobs:
        given = "no row below the header" if read == 0 else f"not one of {read} rows can be taken"
        faults = [LogFault(given, "at least one row that can be read", "", (), 1, file)]
        whole = [each for each in rejected if each.whole_row and each.allowed != LEFT_OUT]
        faults += [
            LogFault(
                one.given + (f", and {len(rows) - 1} more rows alike" if len(rows) > 1 else ""),
                *(one.allowed, one.suggestion, (one.column,), one.row, file),
            )
            for one, rows in alike(whole)
        ]
        raise ScenarioError(faults)
    remarks += _one_job_or_two(jobs)
    return _as_arrays(
        jobs, tuple(places), _counted(jobs, taken, read, rejected), rejected, file, remarks
    )


def _counted(
    jobs: dict[str, list[Row]], rows: list[Row], read: int, rejected: list[Rejected]
) -> tuple[int, int, int, int]:
    """Rows read, rows of trials, how many of these are lost, and how many jobs."""
    no_trial = sum(each.allowed == TRIALS for each in rejected)
    twice = sum(each.suggestion == SAID_TWICE for each in rejected)
    trials = read - no_trial - twice
    named = {row.values["job"] for row in rows if "job" in row.values}
    return read, trials, trials - sum(map(len, jobs.values())), len(named) - len(jobs)


def _chances(rows: list[Row], remarks: list[str]) -> None:
    """Stated chances as fractions; whether bare numbers are percent their column decides."""
    stated = [row for row in rows if "stated_odds" in row.values]
    fractions, percent = in_fractions([row.values["stated_odds"] for row in stated])
    for row, chance in zip(stated, fractions, strict=True):
        row.values["stated_odds"] = chance
    if percent:
        remarks.append("stated_odds above 1 were read as percent")


def _one_job_or_two(jobs: Iterable[str]) -> Iterator[str]:
    """Names of jobs that differ in capitals, blanks and signs only."""
    groups: dict[str, list[str]] = {}
    for name in jobs:
        groups.setdefault(re.sub(r"[\W_]+", "", name.casefold()), []).append(name)
    same = [names for names in groups.values() if len(names) > 1]
    for names in same[:MOST_ASKED]:
        yield f"are {' and '.join(map(shown, names))} one job? If so, write one name in its rows"
    if len(same) > MOST_ASKED:
        yield f"and {len(same) - MOST_ASKED} more pairs of names that are nearly the same"


def alike(rejected: Iterable[Rejected]) -> list[tuple[Rejected, list[int]]]:
    """What was rejected for the same reason together: the first of it, and all its rows."""
    found: dict[tuple[str, bool, str, str, str], tuple[Rejected, list[int]]] = {}
    for each in rejected:
        same = each.column, each.whole_row, each.given, each.allowed, each.suggestion
        found.setdefault(same, (each, []))[1].append(each.row)
    return list(found.values())


def _header(
    header: tuple[int, list[str]] | None, file: str, remarks: list[str]
) -> tuple[dict[str, int], int]:
    """Column names with their places, and the width; ScenarioError with every fault. Columns that
    are not read are remarked on."""
    if header is None:
        raise ScenarioError([LogFault("an empty table", HEADER, "", ("header",), 1, file)])
    line, cells = header
    names = [UNIT.sub("", snake(cell)).strip("_") for cell in cells]
    while names and not names[-1]:
        names.pop()
    faults: list[LogFault] = []

    def fault(given: str, allowed: str, suggestion: str = "") -> None:
        faults.append(LogFault(given, allowed, suggestion, ("header",), line, file))

    if len(names) > MOST_COLUMNS or not set(names) & set(COLUMNS):
        given = f"{len(names)} columns that begin {', '.join(map(shown, names[:3]))}"
        fault(given, HEADER, "write the header as the first row")
        raise ScenarioError(faults)
    places: dict[str, int] = {}
    others: dict[str, str] = {}  # columns that are not ours, and what may be meant
    for place, name in enumerate(names):
        if name in places:
            fault(f"the column {name} twice", "each column once")
        elif name in COLUMNS:
            places[name] = place
        elif name:
            near = like(name, COLUMNS).removeprefix("did you mean ").removesuffix("?")
            others[shown(cells[place])] = MEANT_COLUMNS.get(name, near)
    for needed in REQUIRED:
        if needed not in places:
            like_it = [cell for cell, meant in others.items() if meant == needed]
            todo = (
                f"is it {like_it[0]}? Then call it {needed}"
                if like_it
                else f"add the column {needed}"
            )
            fault(f"no column {needed}", HEADER, todo)
    if faults:
        raise ScenarioError(faults)
    missing = [
        cell + (f" (did you mean {meant}?)" if meant and meant not in places else "")
        for cell, meant in others.items()
    ]
    if missing:
        more = f" and {len(missing) - MOST_ASKED} more" if len(missing) > MOST_ASKED else ""
        remarks.append(f"columns that are not read: {', '.join(missing[:MOST_ASKED])}{more}")
    return places, len(names)


def _rows(
    rows: Iterator[tuple[int, list[str]]],
    places: dict[str, int],
    width: int,
    read: dict[str, Cell],
    rejected: list[Rejected],
    file: str,
) -> tuple[list[Row], int]:
    """The rows each read by itself, and how many there are."""
    known: dict[str, dict[str, Any]] = {name: {} for name in places}
    columns = [(name, place, known[name], read[name]) for name, place in places.items()]
    taken: list[Row] = []
    count = 0
    for line, cells in rows:
        count += 1
        if count > MOST_ROWS:
            fault = LogFault(
                f"more than {MOST_ROWS} rows", f"up to {MOST_ROWS}", "", (), line, file
            )
            raise ScenarioError([fault])
        values: dict[str, Any] = {}
        whole = False
        if len(cells) < width:
            cells += [""] * (width - len(cells))
        elif extra := [cell for cell in cells[width:] if cell]:
            whole = True
            given, allowed = f"the further cell {shown(extra[0])}", f"{width}, as in the header"
            todo = "put a cell that holds the delimiter in double quotes"
            rejected.append(Rejected(line, "", True, given, allowed, todo))
        if not any(cells[places[name]] for name in REQUIRED):
            given = f"a row without {', '.join(REQUIRED)}"
            rejected.append(Rejected(line, "", True, given, TRIALS, NO_RUN))
            continue
        if snake(cells[places["outcome"]]) == UNFINISHED:
            rejected.append(Rejected(line, "outcome", True, f"'{UNFINISHED}'", TRIALS, NO_TRIAL))
            continue
        for name, place, memory, convert in columns:
            cell = cells[place]
            if not cell and name not in REQUIRED:
                continue
            if cell in memory:
                value = memory[cell]
            else:
                value = memory[cell] = convert(cell)
            if isinstance(value, Bad):
                needed = name in REQUIRED
                whole |= needed
                given = shown(cell) if cell else "an empty cell"
                rejected.append(
                    Rejected(line, name, needed, given, value.allowed, value.suggestion)
                )
            else:
                values[name] = value
        taken.append(Row(line, values, sound=not whole))
    return taken, count


def _as_arrays(
    jobs: dict[str, list[Row]],
    columns: tuple[str, ...],
    counted: tuple[int, int, int, int],
    rejected: list[Rejected],
    file: str,
    remarks: list[str],
) -> Records:
    rows = [row for each in jobs.values() for row in each]
    numbers = np.repeat(np.arange(len(jobs)), [len(each) for each in jobs.values()])

    def whole(name: str) -> Any:
        return np.array([row.values.get(name, -1) for row in rows], dtype=np.int64)

    def real(name: str) -> Any:
        return np.array([row.values.get(name, np.nan) for row in rows], dtype=float)

    ends = [
        next((row.values["job_end"] for row in each if "job_end" in row.values), -1)
        for each in jobs.values()
    ]
    return Records(
        file=file,
        columns=columns,
        rows_read=counted[0],
        trials=counted[1],
        rows_lost=counted[2],
        jobs_lost=counted[3],
        rejected=tuple(rejected),
        remarks=tuple(remarks),
        names=tuple(jobs),
        row=np.array([row.line for row in rows], dtype=np.int64),
        job=numbers.astype(np.int64),
        run=whole("run"),
        kind=whole("kind"),
        outcome=whole("outcome"),
        mechanism=whole("mechanism"),
        top=whole("top_condition"),
        end=np.array(ends, dtype=np.int64)[numbers],
        hole_size=real("hole_size"),
        angle=real("angle"),
        depth=real("depth"),
        before=real("before"),
        after=real("after"),
        stated=real("stated_odds"),
        marks=tuple(row.values.get("marks", ()) for row in rows),
        doubts=tuple(row.values.get("depends_on", ()) for row in rows),
    )
