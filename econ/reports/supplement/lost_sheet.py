"""The lost-in-hole schedule: a row for each piece of the fish, and for each fishing string."""

from __future__ import annotations

from econ.reports.supplement.book import Book, Sheet
from econ.reports.supplement.cells import Cell, whole
from econ.reports.supplement.content import Supplement
from econ.reports.supplement.moments import of_issue

HEADS = (
    "Piece, from the top down",
    "Owner",
    "Clause",
    "Price new",
    "Written off",
    "Floor",
    "Owed if it stays",
    "Share left, mean",
    "Expected invoice",
    "Back if recovered",
    "Credit on it",
)
KINDS = "text text text money % % money % money % money"
WIDTHS = (34, 18, 16, 12, 9, 8, 12, 9, 12, 10, 12)
NOTE = (
    "Owed: price new x the greater of (1 - written off) and the floor, or what the file says is "
    "owed. Share left: mean over all ends, a fallback by the chance that it is taken; blank where "
    "a range is in the share that is owed. Expected invoice: share left x share that the fallback "
    "owes x what is owed; it is in the lines of the fallback. Credit: what comes back of that "
    "invoice if the piece is recovered later; it is in no sum. Ranges stand by their means. A "
    "price that is changed in this file does not move this sheet: it is "
)


def lost_sheet(book: Book, supplement: Supplement) -> None:
    """Lay out the schedule; nothing where nothing can be left."""
    rows = [row for row in supplement.lost if row.owed or row.invoice]
    if not rows:
        return
    sheet = book.add(Sheet("Lost_in_hole", WIDTHS, one_page=True))
    sheet.title("Lost in hole, piece by piece")
    sheet.head(*HEADS, left=3, frozen=1)
    invoices = whole([Cell(piece.invoice) for piece in rows])
    for piece, invoice in zip(rows, invoices, strict=True):
        sheet.line(
            KINDS,
            *(piece.name, piece.owner or "not stated", piece.clause or "not stated"),
            *(piece.replacement, piece.depreciation, piece.floor, piece.owed),
            *(piece.share, invoice.number, piece.credit, piece.back),
        )
    whole_sum = sum(each.number for each in invoices)
    sheet.line(KINDS, "Sum", *[None] * 7, whole_sum, None, None, mark="total")
    sheet.note(f"{NOTE}{of_issue(supplement.answer)}.")
