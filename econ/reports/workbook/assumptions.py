"""The sheet Assumptions: what formulas can do, what amounts rest on, what is not covered."""

from __future__ import annotations

from collections.abc import Sequence

from econ.reports.tables.afe import Supplement
from econ.reports.tables.afe_words import (
    NOT_COVERED,
    PERCENTILES,
    QUESTIONS,
    WHOLE,
    basis,
    cautions,
    exactness,
    remarks,
)
from econ.reports.workbook.book import Book, Sheet


def assumptions_sheet(book: Book, found: Supplement) -> None:
    """Lay out the words."""
    sheet = book.add(Sheet("Assumptions", [110], landscape=False))
    sheet.title("Assumptions, limits of the sheet, cautions")
    sheet.frozen = (sheet.row, 0)
    parts: list[tuple[str, Sequence[str]]] = [
        ("What the formulas reproduce, and what they approximate", exactness(found)),
        ("What the amounts rest on", [*basis(found), PERCENTILES, WHOLE]),
        ("What is not covered", NOT_COVERED),
        ("Before the vote", QUESTIONS),
        ("Notes of the program", remarks(found)),
        ("Cautions", cautions(found)),
    ]
    if found.codes:
        mapped = [f"{ours}: {code.theirs}" for ours, code in found.codes.items()]
        own = sorted({line.ours for line in found.costs.lines} - set(found.codes))
        if own:
            mapped.append("Codes without a mapping, shown as ours: " + ", ".join(own))
        parts.insert(2, ("Codes: ours and the company's own", mapped))
    for title, words in parts:
        if not words:
            continue
        sheet.section(title)
        for each in words:
            sheet.across(sheet.row, 0, 1, each)
            sheet.row += 1
