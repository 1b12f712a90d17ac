"""The look of the supplement: kinds of numbers, and marks in the colours that all reports share."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from econ.reports.supplement.cells import Cell, Value
from econ.reports.supplement.moments import EPOCH
from econ.reports.theme import BAND, INK, MUTED, RULE, WASH

Content = Cell | Value | None

TYPEFACE = "Arial"
NUMBERS = {  # the format of each kind in a sheet
    "text": "General",
    "unit": "General",
    "money": '#,##0;-#,##0;"-"',
    "price": "#,##0.00",
    "quantity": "#,##0.000",
    "cents": '#,##0.00;-#,##0.00;"-"',
    "h": "0.0",
    "d": "0.00",
    "%": "0.0%",
    "interest": "0.00##%",
    "count": "0",
    "times": "0.000",
    "key": "0.000000",
    "rate": "0.0000",
    "date": "yyyy-mm-dd",
    "moment": "yyyy-mm-dd hh:mm",
    "flag": '[=1]"over";[=0]"";General',
}
HALF_UP = 1 + 1e-13  # times a number, so that half a unit is rounded up
LEFT = ("text", "unit", "date", "moment")
HEAD: dict[str, Any] = {"bold": True, "bg_color": WASH, "bottom": 1, "bottom_color": MUTED}
MARKS: dict[str, dict[str, Any]] = {
    "title": {"bold": True, "font_size": 14},
    "section": {"bold": True, "font_size": 10, "text_wrap": False},
    "head": HEAD,
    "head_right": {**HEAD, "align": "right"},
    "total": {"bold": True, "top": 1, "top_color": MUTED},
    "strong": {"bold": True},
    "plain": {},
    "note": {"font_size": 8, "valign": "top"},
    "sign": {"bottom": 1, "bottom_color": INK},
    "box": {"border": 1, "border_color": MUTED},
    "input": {"locked": False, "bg_color": BAND},
    "left": {"align": "left"},
    "right": {"align": "right"},
    "line": {"bottom": 1, "bottom_color": RULE},
    "begin": {"bottom": 1, "bottom_color": RULE, "top": 1, "top_color": INK},
}


def shown(content: Content, kind: str) -> str:
    """A value in words, rounded as the format of its kind rounds it."""
    value = content.value if isinstance(content, Cell) else content
    if value is None or isinstance(value, str):
        return value or ""
    if kind in ("date", "moment"):
        moment = EPOCH + timedelta(seconds=round(value * 86_400))
        return f"{moment:%Y-%m-%d}" if kind == "date" else f"{moment:%Y-%m-%d %H:%M}"
    if kind in ("money", "cents") and value == 0:
        return "-"
    if kind == "flag":
        return "over" if value else ""
    if kind == "interest":
        return f"{100 * value:.4f}".rstrip("0").rstrip(".") + " %"
    percent = " %" if kind == "%" else ""
    digits = NUMBERS[kind].partition(";")[0].rstrip("%").partition(".")[2]
    value *= HALF_UP  # as a sheet rounds it
    text = f"{100 * value if percent else value:,.{len(digits)}f}"
    zero = float(text.replace(",", "")) == 0
    return (text.removeprefix("-") if zero else text) + percent


class Styles:
    """Formats by kind of number and marks, each made once."""

    def __init__(self, book: Any) -> None:
        self._book = book
        self._made: dict[tuple[str, ...], Any] = {}

    def get(self, kind: str, *marks: str) -> Any:
        """The format of a kind of number with marks."""
        key = (kind, *marks)
        if key not in self._made:
            properties: dict[str, Any] = {
                "font_name": TYPEFACE,
                "font_size": 9,
                "font_color": INK,
                "num_format": NUMBERS[kind],
                "valign": "vcenter",
                "text_wrap": kind == "text",
                "align": "left" if kind in LEFT else "right",
                "indent": 1 if kind == "unit" else 0,
            }
            for mark in marks:
                properties |= MARKS[mark]
            self._made[key] = self._book.add_format(properties)
        return self._made[key]
