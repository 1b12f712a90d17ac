"""The issue of a supplement: its date, what it was made from, what went before, who signs.

The fingerprint is the beginning of a SHA-256 over the scenario as it was read, defaults included,
and the runs logged: two papers with the same fingerprint and version are of the same input.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from datetime import date, datetime

import econ
from econ.decision import Answer
from econ.reports.supplement.book import Book, Sheet
from econ.reports.supplement.cells import Cell
from econ.reports.supplement.content import Supplement
from econ.reports.supplement.moments import serial

FINGERPRINT = 16  # hexadecimal digits
TITLE = "Issue, contracts and signatures"
WIDTHS = (30, 15, 15, 16, 16)
SIGNED = ("Prepared", "Checked", "Approved")
TAXES = {
    "excluded": "in none of the amounts",
    "included": "in the amounts",
    None: "not stated by the operator",
}
NOT_STATED = "not stated"


@dataclass(frozen=True)
class Issue:
    """An issue: when, its number or letter, the version of the program, the fingerprint."""

    issued: date | None
    issue: str
    version: str
    fingerprint: str


def issue_of(answer: Answer) -> Issue:
    """The issue of an answer's supplement.

    >>> import econ
    >>> made = issue_of(econ.answer(econ.load("scenarios/point/c_bit_cones.toml")))
    >>> made.issued.isoformat(), len(made.fingerprint)
    ('2026-05-02T04:00:00', 16)
    """
    afe = answer.scenario.afe
    told = answer.scenario.model_dump_json() + repr(answer.log)
    return Issue(
        issued=answer.now if afe.issued_at is None else afe.issued_at,
        issue=afe.issue,
        version=econ.__version__,
        fingerprint=hashlib.sha256(told.encode()).hexdigest()[:FINGERPRINT],
    )


def issue_sheet(book: Book, supplement: Supplement) -> None:
    """Lay out the sheet: the issue, earlier supplements, currencies, contracts, lines to sign."""
    sheet = book.add("Issue", TITLE, WIDTHS, upright=True, one_page=True)
    _facts(sheet, supplement.answer)
    _bridge(sheet, supplement)
    _earlier(sheet, supplement.answer)
    _currencies(sheet, supplement)
    _contracts(sheet, supplement.answer)
    _revisions(sheet, supplement.answer)
    if supplement.estimate.ratios:
        sheet.section("Rentals, where a rate is changed in this workbook")
    for ratio in supplement.estimate.ratios:
        sheet.fact(ratio.tool, ratio.words)
    sheet.section("Signatures of the operator; a partner signs on the page with its name")
    sheet.head("", "Name", "", "Signature", "Date", left=5)
    for words in SIGNED:
        sheet.line("text", words, "", "", "", mark="sign", at=(0, 1, 3, 4))


def _facts(sheet: Sheet, answer: Answer) -> None:
    afe, made = answer.scenario.afe, issue_of(answer)
    for words, text in (
        ("Authority number", afe.number),
        ("Supplement", f"{afe.supplement}"),
        ("Issue", made.issue),
        ("Value added tax and duties", TAXES[afe.vat_and_duties]),
        ("Program", f"econ {made.version}"),
        ("Fingerprint of the input", made.fingerprint),
    ):
        sheet.fact(words, text or NOT_STATED)
    for words, day in (("Issued", made.issued), ("Spent is counted until", afe.spent_until)):
        content = NOT_STATED if day is None else serial(day)
        kind = "moment" if isinstance(day, datetime) else "text" if day is None else "date"
        sheet.fact(words, content, kind)


def _earlier(sheet: Sheet, answer: Answer) -> None:
    """Amounts of earlier supplements by line, number and date."""
    if not answer.scenario.afe.earlier:
        return
    sheet.section("Supplements before this one")
    sheet.head("Line", "Supplement", "Approved on", "", "Amount", left=1)
    for before in sorted(answer.scenario.afe.earlier, key=lambda each: each.supplement):
        for code, amount in before.amounts.items() or [("none", 0.0)]:
            facts = code, float(before.supplement), serial(before.date), None, amount
            sheet.line("text count date text money", *facts)


def _currencies(sheet: Sheet, supplement: Supplement) -> None:
    """Parts of what is asked for in other currencies."""
    scenario = supplement.answer.scenario
    split = scenario.afe.currency_split
    if not split:
        return
    sheet.section(f"Paid in other currencies, of what is asked for in {scenario.currency}")
    sheet.head("Currency", "Share", "Rate", "Rate of", "Amount in it", left=1)
    asked = supplement.ask.granted.ask
    for part in split:
        facts = part.currency, part.share, part.rate, serial(part.date)
        sheet.line("text % rate date money", *facts, Cell(asked * part.share / part.rate))
    sheet.note(f"Rate: what one of it costs in {scenario.currency}, on the day that stands there.")


def _contracts(sheet: Sheet, answer: Answer) -> None:
    """Contracts and price lists behind prices and lines."""
    afe = answer.scenario.afe
    named = [*afe.price_reference.items()]
    named += [(f"{line.code} {line.name}", line.reference) for line in afe.line if line.reference]
    if not named:
        return
    sheet.section("Contracts and price lists")
    for words, reference in named:
        sheet.fact(words, reference)


def _revisions(sheet: Sheet, answer: Answer) -> None:
    """The issues before this one."""
    revisions = answer.scenario.afe.revision
    sheet.section("Issues before this one")
    if not revisions:
        sheet.line("text", "None.")
        return
    sheet.head("Issue", "Date", "What was changed with it", "", "", left=5)
    for each in revisions:
        sheet.line("text date text", each.issue, serial(each.date), each.change, at=(0, 1, 2))


def _bridge(sheet: Sheet, supplement: Supplement) -> None:
    """From the original authority to the revised one, step by step; its trigger, and what is in no
    total."""
    sheet.section("From the original authority to the revised one")
    for step in supplement.ask.steps:
        mark = "strong" if step.is_sum else "line"
        sheet.line("text money unit", step.words, step.amount, step.reason, mark=mark, at=(0, 1, 2))
    table = supplement.costs
    for label, cell, unit in (
        ("Trigger: percent over approved", table.trigger_percent, "%"),
        ("Trigger counts by total or line", table.trigger_basis, "text"),
        ("Trigger: or over by, 0 for none", table.trigger_amount, "money"),
        *((item.words, item.cell, item.unit) for item in table.below_the_line),
    ):
        sheet.line(f"text {unit}", label, cell)
