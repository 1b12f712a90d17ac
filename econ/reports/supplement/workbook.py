"""The supplement as a workbook: its sheets in order."""

from __future__ import annotations

from econ.reports.supplement import sheets
from econ.reports.supplement.book import Book
from econ.reports.supplement.choices_sheet import choices_sheet
from econ.reports.supplement.content import Supplement
from econ.reports.supplement.first_page import first_page
from econ.reports.supplement.issue import issue_of, issue_sheet
from econ.reports.supplement.partner_sheets import partner_sheets

SHEETS = (
    first_page,
    sheets.costs_sheet,
    choices_sheet,
    issue_sheet,
    partner_sheets,
    sheets.lost_sheet,
    sheets.options_sheet,
    sheets.contingency_sheet,
    sheets.estimate_sheet,
    sheets.prices_sheet,
    sheets.quantities_sheet,
    sheets.checks_sheet,
    sheets.assumptions_sheet,
    sheets.rounding_sheet,
)


PRINTED = ("Supplement", "Costs", "Choices", "Issue", "Partner_", "Lost_")  # how they begin


def workbook(supplement: Supplement) -> bytes:
    """The file of a supplement: equal supplements give equal bytes.

    >>> import econ
    >>> from econ.reports.supplement import supplement
    >>> asked = supplement(econ.answer(econ.load("scenarios/point/a_land_twist_off.toml")))
    >>> workbook(asked).startswith(b"PK")
    True
    """
    return book(supplement).bytes()


def book(supplement: Supplement) -> Book:
    """The sheets of a supplement, laid out."""
    afe = supplement.answer.scenario.afe
    partners = supplement.answer.scenario.partner
    number = f"{afe.number}, " if afe.number else ""
    made = issue_of(supplement.answer)
    issue = f", issue {made.issue}" if made.issue else ""
    laid = Book(
        f"{number}supplement {afe.supplement}{issue}: {supplement.answer.scenario.job.well}"
    )
    laid.about = {
        "subject": "Supplement to an authority for expenditure",
        "keywords": f"input {made.fingerprint}",
        "comments": f"Made by econ {made.version} from input {made.fingerprint}.",
        "company": next((each.name for each in partners if each.operator), ""),
    }
    for lay_out in SHEETS:
        lay_out(laid, supplement)
    for sheet in laid.sheets:
        sheet.working = not sheet.name.startswith(PRINTED)
    return laid
