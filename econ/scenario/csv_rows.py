"""The one reader of CSV tables: run logs, records of past jobs, AFE codes, grids of a sweep.

The delimiter is a comma or, where the first row has more of them, a semicolon or a tab.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Iterator

from econ.scenario.faults import did_you_mean


class UnsplitRowError(ValueError):
    """A row that cannot be split into cells; `line` is where it starts."""

    def __init__(self, line: int, delimiter: str) -> None:
        self.line = line
        self.allowed = f"cells parted by '{delimiter}', and quotes in pairs around a cell or in it"
        super().__init__(f"row {line}: allowed: {self.allowed}")


def csv_rows(text: str, *, keep_empty: bool = False) -> Iterator[tuple[int, list[str]]]:
    """Line where it starts, from 1, and stripped cells of each row that is not empty.

    keep_empty: whether a row of several empty cells is a row; a blank line never is. A byte
    order mark before the text is not part of it. Raises UnsplitRowError where quotes are not in
    pairs or a cell is longer than 131,072 characters.
    """
    lines = io.StringIO(text.removeprefix("\ufeff"), newline="")
    delimiter = delimiter_of(lines)
    lines.seek(0)
    reader = csv.reader(lines, delimiter=delimiter, strict=True, skipinitialspace=True)
    start = 1
    try:
        for cells in reader:
            stripped = [cell.strip() for cell in cells]
            if any(stripped) or (keep_empty and len(stripped) > 1):
                yield start, stripped
            start = reader.line_num + 1
    except csv.Error:
        raise UnsplitRowError(start, delimiter) from None


def delimiter_of(lines: Iterable[str]) -> str:
    """The delimiter of a table, by its first line that has more than delimiters."""
    first = next((line for line in lines if line.strip(" \t\r\n,;")), "")
    return max(",;\t", key=first.count)


def whole_rows(text: str) -> list[tuple[str, list[str]]]:
    """Every row as it stands, its line end included, with its stripped cells, which are none on a
    blank line; together they are the text. Raises UnsplitRowError as `csv_rows` does.

    >>> whole_rows('run,remark\\r\\n1,"a, b"\\r\\n')
    [('run,remark\\r\\n', ['run', 'remark']), ('1,"a, b"\\r\\n', ['1', 'a, b'])]
    """
    lines = list(io.StringIO(text, newline=""))
    delimiter = delimiter_of(lines)
    reader = csv.reader(iter(lines), delimiter=delimiter, strict=True, skipinitialspace=True)
    rows, start = [], 0
    try:
        for cells in reader:
            whole = "".join(lines[start : reader.line_num])
            rows.append((whole, [cell.strip() for cell in cells]))
            start = reader.line_num
    except csv.Error:
        raise UnsplitRowError(start + 1, delimiter) from None
    return rows


def snake(word: str) -> str:
    """A word as the columns and outcomes are written.

    >>> snake("Top Damaged")
    'top_damaged'
    """
    return re.sub(r"[\s-]+", "_", word.lower())


def like(word: str, known: Iterable[str]) -> str:
    """A suggestion for a word that may be written with capitals or spaces."""
    return did_you_mean(snake(word), known)
