"""The first sheet: the supplement on one page."""

from __future__ import annotations

from econ.reports.cautions import SHORT, planned
from econ.reports.names import one_line
from econ.reports.supplement.book import Book, Sheet
from econ.reports.supplement.cells import Cell, sum_of, when
from econ.reports.supplement.content import Supplement
from econ.reports.supplement.moments import of_issue
from econ.reports.supplement.phrases import MIXED, ONE_SLICE, RULE, SLICED, WHOLE
from econ.reports.supplement.shares import SHARED
from econ.reports.supplement.words import p90_of_total, request, sentence, stopping

TITLE = "Supplement to an authority for expenditure"
WIDE = 8  # columns
LABEL = 34
NUMBER = 11.3


def first_page(book: Book, supplement: Supplement) -> None:
    """Lay out the first sheet."""
    widths = [LABEL, *[NUMBER] * (WIDE - 1)]
    sheet = book.add("Supplement", TITLE, widths, upright=True, one_page=True)
    sheet.text(Cell(sentence(supplement)), mark="strong")
    sheet.text(*request(supplement))
    _sums(sheet, supplement)
    _slices(sheet, supplement)
    _partners(sheet, supplement)
    _rule(sheet, supplement)
    _header(sheet, supplement)
    _checks(sheet, supplement)
    sheet.row += 1
    sheet.text(*filter(None, [planned(supplement.answer.scenario)]))
    sheet.note(
        f"{WHOLE} {SHORT[0]} {SHORT[-1]} Shaded cells of this workbook may be changed; the sheet "
        "Assumptions says what follows."
    )


def _sums(sheet: Sheet, supplement: Supplement) -> None:
    """The three sums; the row that the signature grants is bold."""
    sheet.section("What is asked for")
    sheet.head("", "Amount", "Contingency", "Asked", "Lapses", "Total", "Change", "In percent")
    for each in supplement.ask.sums if supplement.ask.fishes else (supplement.ask.granted,):
        mark = "strong" if each.granted else "line"
        words = f"{each.words}: granted by the signature" if each.granted else each.words
        cells = (each.amount, each.contingency, each.ask, each.lapses, each.total, each.change)
        kinds = "text money money money money money money %"
        sheet.line(kinds, words, *cells, each.percent, mark=mark)
    words = f"P90 of the total, {of_issue(supplement.answer)}"
    p90, approved = supplement.ask.p90, supplement.ask.approved
    over = Cell(when(approved > 0.0, p90 / approved - 1.0, ""))
    sheet.line("text money money %", words, p90, Cell(p90 - approved), over, at=(0, 5, 6, 7))
    sheet.fact("What lapses", supplement.costs.lapsing)
    sheet.fact("Trigger, by the row granted", supplement.costs.triggered)
    sheet.text(Cell(p90_of_total(supplement)))


def _slices(sheet: Sheet, supplement: Supplement) -> None:
    sheet.section("Slices")
    sheet.head("", "Chance", "Granted", "On average", "Mean if drawn", "P90 if drawn")
    asked = supplement.ask
    slice_lines(sheet, supplement, told=True)
    for each in asked.mix:
        words = MIXED.format(name=one_line(each.name))
        sheet.line("text % money", words, each.chance, None, None, each.mean)
    sums = Cell(asked.granted.amount), Cell(sum_of(asked.mean_of))
    sheet.line("text % money", "Sum", None, *sums, mark="total")
    sheet.note(f"{SLICED if asked.fishes else ONE_SLICE} P90: {of_issue(supplement.answer)}.")


def slice_lines(sheet: Sheet, supplement: Supplement, *, told: bool) -> None:
    """The slices that are on this page, or those that are not."""
    asked = supplement.ask
    rows = zip(asked.slices, asked.granted_of, asked.mean_of, asked.told, strict=True)
    for each, granted, mean, here in rows:
        if here == told:
            cells = (each.chance, granted, mean, each.mean, each.p90)
            sheet.line("text % money", each.words, *cells)


def _rule(sheet: Sheet, supplement: Supplement) -> None:
    asked = supplement.ask
    sheet.section(RULE[asked.fishes])
    for row in asked.rule:
        sheet.line(f"text {row.unit}", row.words, row.limit, at=(0, 1))
    sheet.fact("Still the cheapest limit at these prices?", asked.cheapest)
    if not asked.fishes:
        sheet.note("A limit above 0 typed here: its slices stand on the sheet Rounding as well.")
        return
    sheet.note(stopping(supplement))


def _header(sheet: Sheet, supplement: Supplement) -> None:
    """Words one below the other; then short items, with what is to be filled in beside them."""
    sheet.row += 1
    short = []
    for item in supplement.header.values():
        if item.unit == "":
            sheet.fact(item.words, item.cell)
        else:
            short.append(item)
    for number, item in enumerate(short):
        row = sheet.row + number
        sheet.across(row, 0, 2, item.words)
        sheet.across(row, 2, 2, item.cell, item.unit, "left")
    for number, item in enumerate(supplement.to_fill):
        row = sheet.row + number
        sheet.across(row, 4, 2, item.words)
        sheet.across(row, 6, 2, item.cell, "text", "line")
    sheet.row += max(len(short), len(supplement.to_fill))


def _partners(sheet: Sheet, supplement: Supplement) -> None:
    """The nets. Nobody signs here: each partner has a page of its own."""
    shared, second = supplement.shares, "2" if supplement.ask.granted_of[2] is not None else "1b"
    sheet.section("Working interests, net")
    heads = ("Asked", "Slice 1a", f"Slice {second}", "Contingency", "On average", "Total")
    sheet.head("", "Interest", *heads)
    for own in shared.partners:
        words = f"{own.name} ({own.role})" if own.role else own.name
        nets = (own.nets[each] for each in SHARED)
        sheet.line("text interest cents", words, own.interest, *nets)
    words = "Gross" if shared.partners else "Gross; no partner is named"
    gross = (shared.gross[each] for each in SHARED)
    sheet.line("text interest cents", words, shared.interests, *gross, mark="total")
    if shared.partners:
        last = len(shared.partners)
        pages = "the sheet Partner_1" if last == 1 else f"the sheets Partner_1 to Partner_{last}"
        sheet.text(f"Each partner votes and signs on the page with its name alone: {pages}.")


def _checks(sheet: Sheet, supplement: Supplement) -> None:
    sheet.section("Checks")
    for words, cell in (
        ("Cells typed", supplement.checks.line),
        ("Working interests", supplement.shares.complete),
        ("Prices, limit and interests", supplement.changed),
    ):
        sheet.fact(words, cell)
