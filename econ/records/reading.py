"""A CSV table of past jobs read into `Records`, with what was rejected and why.

Two sorts of trouble. What makes the table unusable (no header, a column missing, not one
row taken) refuses it. What is wrong with a row rejects the row, and what is wrong with a
cell that may be empty takes that cell as empty; both are told, row by row. Of a job with
a row rejected none is taken, because what the other rows mean hangs on it; a row that says
the same again, or comes after the end of its job, is the only one that goes. So is a run that was
stopped half way (`unfinished` in a run log): it is no trial, and says nothing on the odds.
"""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Literal

import numpy as np

from econ.records.columns import COLUMNS, OPTIONAL, REQUIRED, Bad, converters
from econ.records.job_rows import Row, job_rows
from econ.records.records import Records, Rejected
from econ.scenario.csv_rows import UnsplitRowError, csv_rows, like, snake
from econ.scenario.faults import Fault, ScenarioError, shown
from econ.scenario.load import read_text
from econ.scenario.run_log import UNFINISHED, LogFault

Units = Literal["field", "metric"]
LARGEST_RECORDS = 100_000_000  # bytes
MOST_ROWS = 1_000_000
MOST_COLUMNS = 200
TRIALS = "a run made to its end"
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
    try:
        text = read_text(path, largest=LARGEST_RECORDS)
    except ScenarioError as error:
        fault = error.faults[0]
        missing = isinstance(error.__context__, FileNotFoundError)  # no starter is a record
        suggestion = "check the name of the file" if missing else fault.suggestion
        found: Fault = Fault(fault.given, fault.allowed, suggestion)
        if fault.line:
            found = LogFault(fault.given, fault.allowed, suggestion, (), fault.line, file)
        raise ScenarioError([found]) from None
    return parse_records(text, units=units, file=file)


def parse_records(text: str, *, units: Units = "field", file: str = "records") -> Records:
    """The past jobs in a CSV `text`, which messages call `file`; see `read_records`.

    >>> table = "job,run,kind,outcome\\nA,1,overshot,nothing\\nB,1,overshoot,recovered\\n"
    >>> [each.suggestion for each in parse_records(table).rejected if each.column == "kind"]
    ['did you mean overshot?']
    """
    if units not in ("field", "metric"):
        raise ValueError(f"units {units!r}: give 'field' or 'metric'")
    rejected: list[Rejected] = []
    rows = csv_rows(text)
    try:
        header = next(rows, None)
        places, width = _header(header, file)
        taken, read = _rows(rows, places, width, units, rejected, file)
    except UnsplitRowError as error:
        given, todo = "a row that cannot be split", "close the quotes it opens"
        fault = LogFault(given, error.allowed, todo, (), error.line, file)
        raise ScenarioError([fault]) from None
    jobs = job_rows(taken, rejected)
    rejected.sort(key=lambda each: (each.row, not each.whole_row))
    if not jobs:
        given = "no row below the header" if read == 0 else f"not one of {read} rows can be taken"
        faults = [LogFault(given, "at least one row that can be read", "", (), 1, file)]
        whole = [each for each in rejected if each.whole_row]
        faults += [
            LogFault(each.given, each.allowed, each.suggestion, (each.column,), each.row, file)
            for each in whole
        ]
        raise ScenarioError(faults)
    return _as_arrays(jobs, tuple(places), read, tuple(rejected), file)


def _header(header: tuple[int, list[str]] | None, file: str) -> tuple[dict[str, int], int]:
    """Column names with their places, and the width; ScenarioError with every fault."""
    if header is None:
        raise ScenarioError([LogFault("an empty table", HEADER, "", ("header",), 1, file)])
    line, cells = header
    names = [snake(cell) for cell in cells]
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
    meant: set[str] = set()
    for place, name in enumerate(names):
        if name in places:
            fault(f"the column {name} twice", "each column once")
        elif name in COLUMNS:
            places[name] = place
        else:
            near = like(name, COLUMNS)
            meant.update(known for known in COLUMNS if near == f"did you mean {known}?")
            todo = near or "leave the column out, or put its text under remark"
            fault(f"the unknown column {shown(cells[place])}", HEADER, todo)
    for needed in REQUIRED:
        if needed not in places and needed not in meant:
            fault(f"no column {needed}", HEADER, f"add the column {needed}")
    if faults:
        raise ScenarioError(faults)
    return places, len(names)


def _rows(
    rows: Iterator[tuple[int, list[str]]],
    places: dict[str, int],
    width: int,
    units: Units,
    rejected: list[Rejected],
    file: str,
) -> tuple[list[Row], int]:
    """The rows each read by itself, and how many there are."""
    read = converters(units)
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
    read: int,
    rejected: tuple[Rejected, ...],
    file: str,
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
        rows_read=read,
        rejected=rejected,
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
    )


def reasons(records: Records) -> list[tuple[str, int]]:
    """Rejections of one sort together: the column and what was given, with their number."""
    counts = Counter(
        f"{each.column}: {each.given}" if each.column else each.given for each in records.rejected
    )
    return counts.most_common()
