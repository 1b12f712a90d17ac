"""Tables of the supplement as CSV: plain numbers, and text that no spreadsheet runs."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable

from econ.reports.tables.afe import Supplement
from econ.reports.tables.afe_rows import (
    cost_rows,
    limit_rows,
    option_rows,
    partner_rows,
    stage_rows,
)
from econ.reports.tables.plain import Row
from econ.scenario.spreadsheet_text import harmless

TABLES: dict[str, Callable[[Supplement], list[Row]]] = {
    "costs": cost_rows,
    "stages": stage_rows,
    "options": option_rows,
    "partners": partner_rows,
    "limits": limit_rows,
}


def table_csv(found: Supplement, name: str) -> str:
    """A table of `TABLES` as CSV with a header."""
    rows = TABLES[name](found)
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\n")
    names = list(rows[0]) if rows else []
    writer.writerow(names)
    for row in rows:
        writer.writerow([_cell(row[each]) for each in names])
    return text.getvalue()


def _cell(value: object) -> object:
    """Text that no spreadsheet runs; numbers are what they are."""
    if isinstance(value, str):
        return harmless(value)
    return "" if value is None else value
