"""The look of the workbook: kinds of numbers and marks, in the colours that all reports share."""

from __future__ import annotations

from typing import Any

from econ.reports.theme import BAND, INK, MUTED, RULE, WASH

TYPEFACE = "Arial"
NUMBERS = {
    "text": "General",
    "unit": "General",
    "number": "0",
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
LEFT = ("text", "unit", "number", "date", "moment")
MARKS: dict[str, dict[str, Any]] = {
    "title": {"bold": True, "font_size": 14},
    "section": {"bold": True, "font_size": 10, "text_wrap": False},
    "head": {"bold": True, "bg_color": WASH, "bottom": 1, "bottom_color": MUTED},
    "head_right": {
        "bold": True,
        "bg_color": WASH,
        "bottom": 1,
        "bottom_color": MUTED,
        "align": "right",
    },
    "total": {"bold": True, "top": 1, "top_color": MUTED},
    "strong": {"bold": True},
    "note": {"font_size": 8, "valign": "top"},
    "sign": {"bottom": 1, "bottom_color": INK},
    "box": {"border": 1, "border_color": MUTED},
    "input": {"locked": False, "bg_color": BAND},
    "left": {"align": "left"},
    "right": {"align": "right"},
    "line": {"bottom": 1, "bottom_color": RULE},
    "begin": {"bottom": 1, "bottom_color": RULE, "top": 1, "top_color": INK},
}


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
