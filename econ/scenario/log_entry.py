"""A row put at the end of a run log, or taken from it, and every other byte kept.

The table keeps its columns, delimiter, byte order mark and line ends. Rows that are there are not
rewritten. Only where the new row needs a column that the header lacks, its name is put behind the
header, and a delimiter behind each row before, so that all have as many cells; what was in them
stays as it was. A text that a spreadsheet could take for a formula is marked as text
(`econ.scenario.spreadsheet_text`).

These functions know nothing of a job: whether the table that they give is a run log is for
`econ.scenario.run_log.parse_log` to say.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Mapping
from dataclasses import dataclass

from econ.scenario.csv_rows import delimiter_of, whole_rows
from econ.scenario.run_log import COLUMNS
from econ.scenario.spreadsheet_text import harmless

MARK = "\ufeff"  # byte order mark


@dataclass(frozen=True)
class Added:
    """A log with a row more: the whole text, the row as written, and columns added for it."""

    text: str
    row: str
    columns: tuple[str, ...]
    rows_before: int


@dataclass(frozen=True)
class Taken:
    """A log without its last row: the text that is left, its header and that row as they stand."""

    text: str
    header: str
    row: str


def with_row(text: str, cells: Mapping[str, str], *, kind: str = "") -> Added:
    """A log with a row at its end. text: empty where there is no log yet, which is then begun with
    a header; cells: by column, those that are empty left out; kind: of the run, for a log with a
    column for it.

    Raises UnsplitRowError where the table has a row that cannot be split.

    >>> log = with_row("", {"run": "1", "outcome": "part", "marks": "+dressed"})
    >>> log.text.splitlines()[0]
    'run,kind,start,end,outcome,fish_top,top_condition,cost,remark,marks'
    >>> log.row
    "1,,,,part,,,,,'+dressed"
    >>> with_row("outcome;run\\r\\n", {"run": "1", "outcome": "part"}).text
    'outcome;run\\r\\npart;1\\r\\n'
    """
    mark, body = _marked(text)
    rows = whole_rows(body)
    place = _header_place(rows)
    if place is None:
        body += "" if not body or body[-1] in "\r\n" else "\n"
        rows = whole_rows(body + ",".join(COLUMNS) + "\n")
        place = len(rows) - 1
    header, names = rows[place]
    while names and not names[-1]:
        names.pop()
    delimiter = delimiter_of([header])
    missing = tuple(name for name in COLUMNS if cells.get(name) and name not in names)
    end = _line_end(header) or "\n"
    whole = [row for row, _ in rows]
    if missing:
        width = len(names) + len(missing)
        whole[place] = _named(header, missing, delimiter)
        for number, (row, old) in enumerate(rows):
            if number > place and any(old):
                whole[number] = _padded(row, delimiter * max(0, width - len(old)))
    written = io.StringIO()
    writer = csv.writer(written, delimiter=delimiter, lineterminator="")
    given = {"kind": kind, **{name: cell for name, cell in cells.items() if cell}}
    writer.writerow([harmless(given.get(name, "")) for name in (*names, *missing)])
    before = "".join(whole)
    before += "" if before[-1] in "\r\n" else end
    count = sum(any(old) for _, old in rows[place + 1 :])
    row = written.getvalue()
    return Added(mark + before + row + end, row, missing, count)


def without_last_row(text: str) -> Taken | None:
    """A log without its last row; None where it has none. Raises as `with_row` does.

    >>> without_last_row("run,outcome\\n1,part\\n2,nothing\\n")
    Taken(text='run,outcome\\n1,part\\n', header='run,outcome\\n', row='2,nothing\\n')
    """
    mark, body = _marked(text)
    rows = whole_rows(body)
    place = _header_place(rows)
    last = max((n for n, (_, cells) in enumerate(rows) if any(cells)), default=0)
    if place is None or last <= place:
        return None
    left = "".join(row for number, (row, _) in enumerate(rows) if number != last)
    return Taken(mark + left, mark + rows[place][0], rows[last][0])


def with_undone(text: str, taken: Taken) -> str:
    """The file of rows that were taken back, with one more; its header stands before it, unless the
    last header in the file is the same.

    >>> first = with_undone("", Taken("", "start,outcome\\n", "2,nothing"))
    >>> first
    'start,outcome\\n2,nothing\\n'
    >>> with_undone(first, Taken("", "start,outcome\\n", "1,part\\n"))
    'start,outcome\\n2,nothing\\n1,part\\n'
    """
    end = _line_end(taken.header) or "\n"
    _, header = _marked(taken.header)
    before = text
    if before and before[-1] not in "\r\n":
        before += end
    heads = [line for line in before.removeprefix(MARK).splitlines() if _is_header(line)]
    if not before:
        before = _ended(taken.header, end)
    elif not heads or heads[-1] != header.rstrip("\r\n"):
        before += _ended(header, end)
    return before + _ended(taken.row, end)


def _marked(text: str) -> tuple[str, str]:
    body = text.removeprefix(MARK)
    return text[: len(text) - len(body)], body


def _header_place(rows: list[tuple[str, list[str]]]) -> int | None:
    return next((number for number, (_, cells) in enumerate(rows) if any(cells)), None)


def _line_end(row: str) -> str:
    """The line end of a row as it stands; empty where it has none."""
    return row[len(row.rstrip("\r\n")) :]


def _ended(row: str, end: str) -> str:
    return row if _line_end(row) else row + end


def _padded(row: str, more: str) -> str:
    end = _line_end(row)
    return row[: len(row) - len(end)] + more + end


def _named(header: str, names: tuple[str, ...], delimiter: str) -> str:
    """A header with names more, before the empty cells that it may end with."""
    end = _line_end(header)
    line = header[: len(header) - len(end)]
    full = re.sub(rf'(\s*{delimiter}\s*(""\s*)?)+$', "", line)
    more = "".join(delimiter + name for name in names)
    return full + more + line[len(full) :] + end


def _is_header(line: str) -> bool:
    """Whether a line names columns of a log."""
    cells = [cell.strip(' "') for cell in line.split(delimiter_of([line]))]
    return {"start", "outcome"} <= set(cells)
