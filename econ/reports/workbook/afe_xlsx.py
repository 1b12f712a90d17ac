"""The supplement as a workbook: its sheets in order."""

from __future__ import annotations

from econ.reports.tables.afe import Supplement
from econ.reports.workbook.assumptions import assumptions_sheet
from econ.reports.workbook.book import Book
from econ.reports.workbook.choices import contingency_sheet, options_sheet
from econ.reports.workbook.front import front
from econ.reports.workbook.given import fallback_sheet, inputs_sheet, runs_sheet
from econ.reports.workbook.money import costs_sheet, partners_sheet
from econ.reports.workbook.workings import workings


def workbook(found: Supplement) -> bytes:
    """The file of a supplement: equal supplements give equal bytes.

    >>> import econ
    >>> from econ.reports.tables.afe import supplement
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
    front(laid, found)
    costs_sheet(laid, found)
    partners_sheet(laid, found)
    options_sheet(laid, found)
    contingency_sheet(laid, found)
    inputs_sheet(laid, found)
    runs_sheet(laid, found)
    fallback_sheet(laid, found)
    workings(laid, found)
    assumptions_sheet(laid, found)
    return laid
