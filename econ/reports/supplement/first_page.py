"""The first sheet: the supplement on one page."""

from __future__ import annotations

from econ.reports import safety
from econ.reports.cautions import SHORT
from econ.reports.supplement.book import LINE_HEIGHT, Book, Sheet
from econ.reports.supplement.cells import Cell
from econ.reports.supplement.choices_sheet import first_action
from econ.reports.supplement.content import Supplement
from econ.reports.supplement.shares import Partner
from econ.reports.supplement.words import (
    PERCENTILES,
    SHOWN,
    SLICED,
    WHOLE,
    asked_for,
    sentence,
)

WIDE = 8  # columns
LABEL = 33
NUMBER = 12.5


def first_page(book: Book, found: Supplement) -> None:
    """Lay out the first sheet."""
    sheet = book.add(
        Sheet("Supplement", [LABEL, *[NUMBER] * (WIDE - 1)], landscape=False, one_page=True)
    )
    sheet.title("Supplement to an authority for expenditure")
    partner = reader(found)
    name = Cell("" if partner is None else partner.name)
    request = Cell(sentence(found, None if partner is None else (partner, name)))
    sheet.across(sheet.row, 0, WIDE, request, "text", "strong")
    sheet.heights[sheet.row] = 3.2 * LINE_HEIGHT
    sheet.row += 1
    sheet.across(sheet.row, 0, WIDE, asked_for(found))
    sheet.row += 1
    for words in first_action(found):
        sheet.across(sheet.row, 0, WIDE, words)
        sheet.row += 1
    for words in safety.warnings(found.answer.as_left):
        sheet.note(words)
    _sums(sheet, found)
    _slices(sheet, found)
    _rule(sheet, found)
    _header(sheet, found, name)
    _partners(sheet, found)
    _checks(sheet, found)
    sheet.row += 1
    sheet.note(f"{PERCENTILES} {WHOLE}")
    sheet.note(
        f"{SHORT[0]} {SHORT[-1]} Shaded cells of this file may be changed: prices, the limit, "
        f"interests, contingency. {SHOWN} The sheet Assumptions says what follows a change."
    )


def reader(found: Supplement) -> Partner | None:
    """Whose net the first sheet says: the first partner who does not operate."""
    partners, named = found.shares.partners, found.answer.scenario.partner
    others = [own for own, each in zip(partners, named, strict=True) if not each.operator]
    return next(iter(others), next(iter(partners), None))


def _sums(sheet: Sheet, found: Supplement) -> None:
    """The three sums; the row that the signature grants is bold."""
    sheet.section("What is asked for")
    sheet.head(
        "", "Amount", "Contingency", "Asked", "Lapses", "Total", "Change", "Against approved"
    )
    for each in found.ask.sums:
        mark = "strong" if each.granted else "line"
        words = f"{each.words}: granted by the signature" if each.granted else each.words
        sheet.put(sheet.row, 0, words, "text", mark)
        sheet.fit(sheet.row, words, LABEL * 0.9)
        cells = (each.amount, each.contingency, each.ask, each.lapses, each.total, each.change)
        for column, cell in enumerate(cells, start=1):
            sheet.put(sheet.row, column, cell, "money", mark)
        sheet.put(sheet.row, 7, each.percent, "%", mark)
        sheet.row += 1
    sheet.put(sheet.row, 0, "P90 of the total, as issued")
    sheet.put(sheet.row, 5, found.ask.p90, "money")
    sheet.row += 1
    sheet.put(sheet.row, 0, "Trigger, by the row granted")
    sheet.across(sheet.row, 1, WIDE - 1, found.costs.triggered, "text", "left")
    sheet.row += 1


def _slices(sheet: Sheet, found: Supplement) -> None:
    sheet.section("Slices, each where it is drawn")
    sheet.head("", "Chance", "Planned", "Mean", "P90", "Chance x mean")
    for each in found.ask.slices:
        sheet.put(sheet.row, 0, each.words, "text", "line")
        cells = (each.chance, each.planned, each.mean, each.p90, each.expected)
        for column, cell in enumerate(cells, start=1):
            sheet.put(sheet.row, column, cell, "%" if column == 1 else "money", "line")
        sheet.row += 1
    sheet.note(SLICED)


def _rule(sheet: Sheet, found: Supplement) -> None:
    sheet.section("Stop rule: whichever comes first")
    sheet.head("", "Limit", "So far")
    for row in found.rule:
        sheet.put(sheet.row, 0, row.words, "text", "line")
        sheet.across(sheet.row, 1, 2 if row.unit == "moment" else 1, row.limit, row.unit, "line")
        if row.position is not None:
            sheet.put(sheet.row, 2, row.position, row.unit, "line")
        sheet.row += 1
    sheet.put(sheet.row, 0, "Still the cheapest limit at these prices?")
    sheet.across(sheet.row, 1, WIDE - 1, found.ask.cheapest, "text", "left")
    sheet.row += 1
    sheet.note(
        "Fishing also stops when the fish is out, or the fishing string or the hole is lost. A run "
        "in the hole is finished. So far: from the run log, money as logged. The limit may be "
        "changed: all quantities are those of the limit in force."
    )


def _header(sheet: Sheet, found: Supplement, name: Cell) -> None:
    """Words one below the other; then short items, with what is to be filled in beside them.
    name: of the partner whose net the sentence says."""
    sheet.row += 1
    if name.value:
        sheet.put(sheet.row, 0, "The net above is that of", "text", "line")
        sheet.across(sheet.row, 1, WIDE - 1, name, "text", "line")
        sheet.row += 1
    short = []
    for item in found.header:
        if item.unit == "" and not item.short:
            sheet.put(sheet.row, 0, item.words, "text", "line")
            sheet.across(sheet.row, 1, WIDE - 1, item.cell, "text", "line")
            sheet.row += 1
        else:
            short.append(item)
    for number, item in enumerate(short):
        row = sheet.row + number
        sheet.put(row, 0, item.words)
        sheet.across(row, 1, 2, item.cell, item.unit or "text", "left")
    for number, item in enumerate(found.to_fill):
        row = sheet.row + number
        sheet.across(row, 4, 2, item.words)
        sheet.across(row, 6, 2, item.cell, "text", "line")
    sheet.row += max(len(short), len(found.to_fill))


def _partners(sheet: Sheet, found: Supplement) -> None:
    shared = found.shares
    sheet.section("Working interests, net")
    sheet.head("", "Interest", *shared.words, "Vote and sign")
    for partner in shared.partners:
        sheet.put(sheet.row, 0, partner.name, "text", "line")
        sheet.fit(sheet.row, partner.name, LABEL)
        sheet.show(sheet.row, 1, partner.interest, "interest", "line")
        for column, net in enumerate(partner.nets, start=2):
            sheet.show(sheet.row, column, net, "cents", "line")
        sheet.put(sheet.row, 7, None, "text", "sign")
        sheet.row += 1
    words = "Gross" if shared.partners else "Gross; no partner is named"
    sheet.put(sheet.row, 0, words, "text", "total")
    sheet.show(sheet.row, 1, shared.interests, "interest", "total")
    for column, gross in enumerate(shared.gross, start=2):
        sheet.show(sheet.row, column, gross, "cents", "total")
    sheet.row += 1


def _checks(sheet: Sheet, found: Supplement) -> None:
    sheet.section("Checks")
    rows = [
        ("Cells typed", found.checks.line),
        ("Working interests", found.shares.complete),
        ("Prices, limit and interests", found.changed),
    ]
    rows += [(f"Rental: {ratio.tool}", ratio.words) for ratio in found.estimate.ratios]
    for words, cell in rows:
        sheet.put(sheet.row, 0, words)
        sheet.fit(sheet.row, words, LABEL)
        sheet.across(sheet.row, 1, WIDE - 1, cell, "text", "left")
        sheet.row += 1
