"""The supplement as a workbook: its sheets in order."""

from __future__ import annotations

from econ.reports.supplement import sheets
from econ.reports.supplement.book import Book
from econ.reports.supplement.content import Supplement
from econ.reports.supplement.first_page import first_page
from econ.reports.supplement.shares import rounding_sheet

SHEETS = (
    first_page,
    sheets.costs_sheet,
    sheets.partners_sheet,
    sheets.options_sheet,
    sheets.contingency_sheet,
    sheets.estimate_sheet,
    sheets.prices_sheet,
    sheets.quantities_sheet,
    sheets.checks_sheet,
    sheets.assumptions_sheet,
)


def workbook(found: Supplement) -> bytes:
    """The file of a supplement: equal supplements give equal bytes.

    >>> import econ
    >>> from econ.reports.supplement import supplement
    >>> asked = supplement(econ.answer(econ.load("scenarios/point/a_land_twist_off.toml")))
    >>> workbook(asked).startswith(b"PK")
    True
    """
    return book(found).bytes()


def book(found: Supplement) -> Book:
    """The sheets of a supplement, laid out."""
    afe = found.answer.scenario.afe
    number = f"{afe.number}, " if afe.number else ""
    laid = Book(f"{number}supplement {afe.supplement}: {found.answer.scenario.job.well}")
    for lay_out in SHEETS:
        lay_out(laid, found)
    rounding_sheet(laid, found.shares)
    return laid
