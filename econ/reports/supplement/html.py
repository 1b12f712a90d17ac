"""The supplement as one self-contained page: the sheets of the workbook with their values.

Every text of a user is escaped by the template, and the page may load and run nothing.
"""

from __future__ import annotations

from datetime import timedelta
from itertools import groupby
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined

from econ.reports.supplement.book import Content, Placed, Sheet
from econ.reports.supplement.cells import EPOCH, Cell
from econ.reports.supplement.content import Supplement
from econ.reports.supplement.styles import LEFT
from econ.reports.supplement.workbook import book
from econ.reports.theme import INK, MUTED, PAPER, RULE, SCREEN_TYPEFACES, WASH

DIGITS = {
    **{"money": 0, "cents": 2, "h": 1, "d": 2, "price": 2, "times": 3, "quantity": 3},
    **{"key": 6, "rate": 4},
}
HEADS = ("head", "head_right")
STRONG = ("total", "strong", *HEADS)
SIGNED = ("sign", "box")  # cells that are written into by hand
WIDE = 9  # columns, beyond which a table has small type

Row = dict[str, object]


def page(found: Supplement) -> str:
    """The page of a supplement."""
    afe, job = found.answer.scenario.afe, found.answer.scenario.job
    loader = FileSystemLoader(Path(__file__).parent)
    room = Environment(autoescape=True, undefined=StrictUndefined, loader=loader)
    return room.get_template("supplement.html.j2").render(
        title=f"Supplement {afe.supplement}, {afe.number or job.well}",
        sheets=[(_class(sheet), _blocks(sheet)) for sheet in book(found).sheets],
        look={
            "ink": INK,
            "muted": MUTED,
            "paper": PAPER,
            "rule": RULE,
            "wash": WASH,
            "face": SCREEN_TYPEFACES,
        },
    )


def shown(content: Content, kind: str) -> str:
    """A value as the page shows it, rounded as in the workbook."""
    value = content.value if isinstance(content, Cell) else content
    if value is None or isinstance(value, str):
        return value or ""
    if kind in ("%", "interest"):
        digits = 4 if kind == "interest" else 1
        text = f"{100 * value:.{digits}f}"
        return f"{text.rstrip('0').rstrip('.') if kind == 'interest' else text} %"
    if kind in ("date", "moment"):
        moment = EPOCH + timedelta(seconds=round(value * 86_400))
        return f"{moment:%Y-%m-%d}" if kind == "date" else f"{moment:%Y-%m-%d %H:%M}"
    if kind in ("money", "cents") and value == 0:
        return "-"
    if kind == "flag":
        return "over" if value else ""
    text = f"{value:,.{DIGITS.get(kind, 0)}f}"
    return text.removeprefix("-") if float(text.replace(",", "")) == 0 else text


def _class(sheet: Sheet) -> str:
    """How a sheet is printed: not at all if it is a working sheet, lying if it is wide."""
    if sheet.working:
        return "working"
    return "sheet lying" if sheet.landscape else "sheet"


def _blocks(sheet: Sheet) -> list[Row]:
    """A sheet as blocks one below the other: title, section and text, or a table of rows."""
    placed = sorted(sheet.placed, key=lambda one: (one.row, one.column))
    blocks: list[Row] = []
    for _, group in groupby(placed, key=lambda one: one.row):
        cells = list(group)
        first, wide = cells[0], len(sheet.widths)
        sort = next((mark for mark in ("title", "section", "note") if mark in first.marks), "")
        if not sort and len(cells) == 1 and first.width + first.column >= wide > 0:
            sort = "text"
        if sort:
            blocks.append({"sort": sort, "words": shown(first.content, first.kind)})
            continue
        if not blocks or blocks[-1]["sort"] != "table" or "head" in first.marks:
            blocks.append({"sort": "table", "rows": [], "long": wide > WIDE})
        rows = blocks[-1]["rows"]
        assert isinstance(rows, list)
        rows.append(_row(cells, wide))
    return blocks


def _row(placed: list[Placed], wide: int) -> list[Row]:
    """The cells of a row, with what is empty between them."""
    cells: list[Row] = []
    column = 0
    for one in placed:
        cells += [_empty()] * (one.column - column)
        column = one.column + one.width
        right = one.kind not in LEFT or "head_right" in one.marks
        cells.append(
            {
                "words": shown(one.content, one.kind),
                "width": one.width,
                "head": any(mark in HEADS for mark in one.marks),
                "right": (right or "right" in one.marks) and "left" not in one.marks,
                "strong": any(mark in STRONG for mark in one.marks),
                "sign": next((mark for mark in SIGNED if mark in one.marks), ""),
            }
        )
    return cells + [_empty()] * (wide - column)


def _empty() -> Row:
    return {"words": "", "width": 1, "head": False, "right": False, "strong": False, "sign": ""}
