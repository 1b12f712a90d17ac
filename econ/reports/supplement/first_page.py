"""The first sheet: the supplement on one page."""

from __future__ import annotations

from econ.reports import safety
from econ.reports.cautions import SHORT
from econ.reports.supplement.book import Book, Sheet
from econ.reports.supplement.cells import Cell
from econ.reports.supplement.content import Supplement
from econ.reports.supplement.words import NAMES, PERCENTILES, STAGES, WHOLE, asked_for

WIDE = 8  # columns
LABEL = 33
NUMBER = 12.5


def first_page(book: Book, found: Supplement) -> None:
    """Lay out the first sheet."""
    sheet = book.add(
        Sheet("Supplement", [LABEL, *[NUMBER] * (WIDE - 1)], landscape=False, one_page=True)
    )
    sheet.title("Supplement to an authority for expenditure")
    sheet.across(sheet.row, 0, WIDE, asked_for(found), "text", "strong")
    sheet.row += 1
    for words in safety.warnings(found.answer.as_left):
        sheet.note(words)
    _header(sheet, found)
    _stages(sheet, found)
    _costs(sheet, found)
    _options(sheet, found)
    _partners(sheet, found)
    _checks(sheet, found)
    sheet.row += 1
    sheet.note(f"{PERCENTILES} {WHOLE}")
    sheet.note(
        f"{SHORT[0]} {SHORT[-1]} Shaded cells of this file may be changed: prices, days, "
        "interests. Odds and the plan are shown, not recomputed. The sheet Assumptions says what "
        "follows a change and what does not."
    )


def _header(sheet: Sheet, found: Supplement) -> None:
    """Words one below the other; then short items, with what is to be filled in beside them."""
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


def _stages(sheet: Sheet, found: Supplement) -> None:
    stage = found.stages
    sheet.section("Authority in two stages")
    heads = ("", "Stage 1: fish", "Stage 2: fallback", "Both stages")
    for column, words in zip((0, 1, 3, 5), heads, strict=True):
        sheet.across(sheet.row, column, 1 if column == 0 else 2, words, "text", "head_right")
    sheet.row += 1
    both, sure = Cell(stage["asked"] + stage["spending"]), Cell(1.0)
    lines: list[tuple[str, tuple[Cell | None, Cell | None, Cell | None], str]] = [
        ("Asked for", (stage["asked"], stage["spending"], both), "money"),
        ("Cost if every run fails", (stage["planned"], None, None), "money"),
        ("Chance that it is drawn", (sure, stage["need"], None), "%"),
        ("Mean if it is drawn", (stage["mean"], stage["spending"], None), "money"),
        ("Value given up besides, not spent", (None, stage["not_spent"], None), "money"),
        ("Expected call", (None, None, stage["expected_call"]), "money"),
        ("P90 if it is drawn, as issued", (stage["p90"], stage["stage_2_p90"], None), "money"),
        ("Runs, at most", (stage["runs"], None, None), "count"),
        ("Days, if every run fails", (stage["days"], None, None), "d"),
    ]
    clock = next((row.limit for row in found.rule if row.unit == "moment"), None)
    if clock is not None:
        lines.append(("No run begins after", (clock, None, None), "moment"))
    placed: set[Cell | None] = {row.limit for row in found.rule}
    for words, cells, kind in lines:
        mark = "strong" if words == "Asked for" else "line"
        sheet.put(sheet.row, 0, words, "text", mark)
        for column, cell in zip((1, 3, 5), cells, strict=True):
            home = isinstance(cell, Cell) and cell not in placed
            placed.add(cell)
            shown = cell if home or cell is None else Cell(cell)
            sheet.across(sheet.row, column, 2, shown, kind, mark, "right")
        sheet.row += 1
    sheet.note(STAGES)


def _costs(sheet: Sheet, found: Supplement) -> None:
    table = found.costs
    sheet.section("Costs")
    sheet.head(
        "",
        "Approved",
        "Spent",
        "To come without trouble",
        "Forecast of trouble, mean",
        "Revised",
        "Change",
        "Percent over",
    )
    names = ("approved", "spent", "to_come", "trouble", "revised", "change")
    for kind, sums in (*table.by_kind.items(), ("total", table.total)):
        mark = "total" if kind == "total" else "line"
        sheet.put(sheet.row, 0, kind.capitalize(), "text", mark)
        for column, name in enumerate(names, start=1):
            sheet.show(sheet.row, column, sums[name], "money", mark)
        if kind == "total":
            sheet.show(sheet.row, 7, table.percent, "%", mark)
        else:
            sheet.put(sheet.row, 7, None, "text", mark)
        sheet.row += 1
    sheet.put(sheet.row, 0, "Unspent contingency released, in the change")
    sheet.show(sheet.row, 6, table.released, "money")
    sheet.row += 1


def _options(sheet: Sheet, found: Supplement) -> None:
    sheet.section("Options as issued, from now on")
    sheet.head("", "Runs", "Days if all fail", "Mean", "P10", "P50", "P90", "Fish out")
    kinds = {"runs": "count", "days": "d", "mean": "money", "p10": "money", "p50": "money"}
    kinds |= {"p90": "money", "recovered": "%"}
    for option in found.options:
        sheet.put(sheet.row, 0, option.words, "text", "line")
        sheet.fit(sheet.row, option.words, LABEL)
        for column, (name, kind) in enumerate(kinds.items(), start=1):
            sheet.put(sheet.row, column, option.results[name], kind, "line")
        sheet.row += 1


def _partners(sheet: Sheet, found: Supplement) -> None:
    shared = found.shares
    sheet.section("Working interests, net")
    sheet.head("", "Interest", *(NAMES[name] for name in shared.names), "Vote and sign")
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
    for item in found.checks:
        sheet.put(sheet.row, 0, item.words)
        sheet.across(sheet.row, 1, WIDE - 1, item.cell, item.unit or "text", "left")
        sheet.row += 1
