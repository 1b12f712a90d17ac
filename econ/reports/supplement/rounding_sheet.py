"""A working sheet with what stands behind whole amounts and the last decimals of the nets."""

from __future__ import annotations

from econ.reports.supplement.book import Book, Sheet
from econ.reports.supplement.content import Supplement
from econ.reports.supplement.shares import SHARED, Shares


def rounding_sheet(book: Book, supplement: Supplement) -> None:
    """Lay out the sheet: slices and lines before rounding, then how each net is made."""
    shared = supplement.shares
    sheet = book.add(Sheet("Rounding", [44, *[13] * (3 * len(shared.gross))]))
    sheet.title("How amounts are rounded so that they add up")
    sheet.note(
        "Working sheet, nothing to change. Each slice is rounded for itself. A line of it is the "
        "rise of the rounded sum so far, so that the lines sum to the slice."
    )
    sheet.head("Slices before rounding", "If every run fails", "Chance x mean", frozen=1)
    for each in supplement.ask.slices:
        sheet.line("text cents", each.words, each.planned, each.expected)
    sheet.line("text cents", "Sum", None, supplement.ask.expected_call, mark="total")
    sheet.note(
        "Slice 2 if every run fails is the fallback after the last run alone. The ask takes its "
        "mean wherever it is drawn, after a string or a hole lost as well."
    )
    sheet.section("Lines granted, before rounding")
    for line in supplement.costs.lines:
        if line.exact is not None:
            sheet.line("text cents", f"{line.code} {line.words}", line.exact)
    _nets(sheet, shared)


def _nets(sheet: Sheet, shared: Shares) -> None:
    """Low and key of each net by largest remainder, and the nets that stand behind others."""
    behind = [name for name in shared.gross if name not in SHARED]
    sheet.section("Nets behind those of the first sheet")
    sheet.note(shared.rule)
    if shared.working:
        sheet.note(
            "Low: units of the last decimal that a partner owes for certain. Key: what is left of "
            "its share, by which the units that are left are given out, of equal ones to the first "
            "in the file."
        )
    words = [name.replace("_", " ") for name in behind]
    sheet.head("", *words, *["Low", "Key"] * len(shared.working))
    kinds = " ".join(["text", *["cents"] * len(behind), *["count key"] * len(shared.working)])
    for number, partner in enumerate(shared.partners):
        nets = (partner.nets[name] for name in behind)
        pairs = (pair for each in shared.working for pair in (each.low[number], each.key[number]))
        sheet.line(kinds, partner.name, *nets, *pairs)
    left = (pair for each in shared.working for pair in (each.left, None))
    gross = (shared.gross[name] for name in behind)
    sheet.line(kinds, "Gross, units left", *gross, *left, mark="total")
