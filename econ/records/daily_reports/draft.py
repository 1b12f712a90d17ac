"""Draft rows of past jobs, for a person to mark: the columns that `econ odds` reads.

Columns kind and outcome are empty. What the program proposes for them stands in the remark, with
the report's own text behind it. A person who knows the job puts in what holds; a row that nobody
has marked is rejected by `econ odds`, and so is its job, because a proposal is no record.
"""

from __future__ import annotations

import csv
import io
from typing import Literal

from econ.records.columns import LONGEST_JOB, TO_FIELD
from econ.records.daily_reports.estimate import DailyReports
from econ.records.daily_reports.trouble import AFTER, Stretch
from econ.scenario.spreadsheet_text import harmless

COLUMNS = (
    *("job", "run", "kind", "outcome", "hole_size", "depth", "start", "end", "hours", "remark"),
)
LONGEST_REMARK = 990  # characters; the reader of past jobs takes 1,000


def draft_runs(daily: DailyReports, *, units: Literal["field", "metric"] = "field") -> str:
    """The CSV text; units: of depth and hole_size, "field" (ft, in) or "metric" (m, mm).

    >>> from econ.records.daily_reports.estimate import DailyReports
    >>> empty = DailyReports(0, 0, (), "", "", 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0)
    >>> draft_runs(empty)
    'job,run,kind,outcome,hole_size,depth,start,end,hours,remark\\n'
    """
    if units not in TO_FIELD:
        raise ValueError(f"units {units!r}: give 'field' or 'metric'")
    out = io.StringIO()
    table = csv.writer(out, lineterminator="\n")
    table.writerow(COLUMNS)
    for each in daily.stretches:
        size = _in(units, "hole_size", each.hole_size)
        depth = _in(units, "depth", each.depth)
        cells = [each.job[:LONGEST_JOB], str(each.run), "", "", size, depth, each.start, each.end]
        cells += [f"{each.hours:.2f}", remark(each)]
        table.writerow([harmless(cell) for cell in cells])
    return out.getvalue()


def _in(units: str, column: str, value: float | None) -> str:
    return "" if value is None else f"{value / TO_FIELD[units].get(column, 1.0):.6g}"


def remark(each: Stretch) -> str:
    """What is proposed for a row, why, and what the report says."""
    if each.what in AFTER:
        head = f"{each.what.upper()}, no run: leave the row out."
    else:
        head = f"PROPOSED kind {each.kind}, outcome {each.outcome}."
    parts = [head]
    if each.why:
        parts.append(f"Words: {each.why}.")
    if each.cause:
        parts.append(f"Cause by words: {each.cause}.")
    if each.elapsed > each.hours + 0.01:
        parts.append(f"{each.elapsed:.1f} h elapsed.")
    parts.append(f"{each.files[:80]}: {each.text}")
    return " ".join(" ".join(parts).split())[:LONGEST_REMARK]
