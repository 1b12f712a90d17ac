"""The supplement as one self-contained page: the sheets of the workbook with their values.

Every text of a user is escaped by the template, and the page may load and run nothing. Printed it
is the print set, each sheet on a page of its own; working sheets are left out.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined

from econ.reports import theme
from econ.reports.supplement.book import Placed, Sheet
from econ.reports.supplement.content import Supplement
from econ.reports.supplement.styles import LEFT, shown
from econ.reports.supplement.workbook import book

WIDE = 9  # columns, beyond which a table has small type and no empty column on paper
PARAGRAPHS = ("title", "section", "note")
CLASSES = {  # of a cell, by its marks
    **dict.fromkeys(("total", "strong", "head", "head_right"), "s"),
    **{mark: mark for mark in ("begin", "sign", "box")},
}

Row = dict[str, object]


def page(supplement: Supplement) -> str:
    """The page of a supplement."""
    laid = book(supplement)
    loader = FileSystemLoader(Path(__file__).parent)
    room = Environment(autoescape=True, undefined=StrictUndefined, loader=loader)
    return room.get_template("supplement.html.j2").render(
        title=laid.title,
        sheets=[
            {
                "working": sheet.working,
                "lying": not sheet.upright,
                "name": sheet.name.replace("_", " "),
                "blocks": _blocks(sheet),
            }
            for sheet in laid.sheets
        ],
        look=theme,
    )


def _blocks(sheet: Sheet) -> list[Row]:
    """A sheet as blocks one below the other: title, section and text, or a table of rows."""
    placed = sorted(sheet.placed, key=lambda one: (one.row, one.column))
    wide = len(sheet.widths)
    blocks: list[Row] = []
    tables: list[list[list[Row]]] = []  # rows of cells
    for _, group in groupby(placed, key=lambda one: one.row):
        cells = list(group)
        first = cells[0]
        sort = next((mark for mark in PARAGRAPHS if mark in first.marks), "")
        if not sort and first.width >= wide > 0:
            sort = "strong" if "strong" in first.marks else "text"
        if sort:
            blocks.append({"sort": sort, "words": shown(first.content, first.kind)})
            continue
        if not blocks or blocks[-1]["sort"] != "table" or "head" in first.marks:
            tables.append([])
            blocks.append({"sort": "table", "rows": tables[-1], "columns": [], "long": wide > WIDE})
        tables[-1].append(_row(cells, wide))
    if wide > WIDE:
        for block, rows in zip((each for each in blocks if "rows" in each), tables, strict=True):
            block["columns"] = _columns(sheet.widths, rows)
    return blocks


def _columns(widths: Sequence[float], rows: list[list[Row]]) -> list[Row]:
    """The columns of a wide table; those that say nothing are marked, and not printed, and the
    widest has their room. Nor is a row printed whose amounts are all nothing."""
    columns: list[Row] = [
        {"width": "auto" if each == max(widths) else f"{100 * each / sum(widths):.1f}%", "look": ""}
        for each in widths
    ]
    for row in rows:
        amounts = {cell["words"] for cell in row if "n" in str(cell["look"]).split()}
        if amounts and amounts <= {"", "-"}:
            for cell in row:
                cell["look"] = f"{cell['look']} empty"
    if all(len(row) == len(widths) for row in rows):
        for own, cells in zip(columns, zip(*rows, strict=True), strict=True):
            if all(cell["head"] or cell["words"] in ("", "-") for cell in cells):
                for each in (own, *cells):
                    each["look"] = f"{each['look']} empty"
    return columns


def _row(placed: list[Placed], wide: int) -> list[Row]:
    """The cells of a row, with what is empty between them."""
    cells: list[Row] = []
    column = 0
    for one in placed:
        cells += [_empty() for _ in range(one.column - column)]
        column = one.column + one.width
        head = "head" in one.marks or "head_right" in one.marks
        right = one.kind not in LEFT or "head_right" in one.marks or "right" in one.marks
        look = ["n"] if right and "left" not in one.marks else []
        look += [CLASSES[mark] for mark in one.marks if mark in CLASSES]
        words = shown(one.content, one.kind)
        cells.append({"words": words, "width": one.width, "head": head, "look": " ".join(look)})
    return cells + [_empty() for _ in range(wide - column)]


def _empty() -> Row:
    return {"words": "", "width": 1, "head": False, "look": ""}
