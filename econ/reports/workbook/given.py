"""The sheets Inputs, Runs and Fallback: every amount that may be changed."""

from __future__ import annotations

from collections.abc import Iterable

from econ.reports.tables.afe import Supplement
from econ.reports.tables.afe_inputs import STATED, Item
from econ.reports.tables.formula import Cell
from econ.reports.workbook.book import Book, Content, Sheet
from econ.scenario.program import OUTCOMES

UNITS = {
    "/d": ("money", "a day"),
    "h": ("h", "hours"),
    "%": ("%", ""),
    "once": ("money", "once"),
    "each": ("money", "each"),
    "count": ("count", ""),
    "ratio": ("ratio", ""),
    "money": ("money", ""),
}
OUTCOME_HEADS = {
    "recovered": "Recovered",
    "part": "Part out",
    "nothing": "Nothing (rest of 100 %)",
    "top_damaged": "Top damaged",
    "string_lost": "String lost",
    "hole_lost": "Hole lost",
}


def inputs_sheet(book: Book, found: Supplement) -> None:
    """Lay out rates and the amounts that stand alone."""
    given = found.given
    sheet = book.add(Sheet("Inputs", [60, 15, 10, 36], landscape=False))
    sheet.title("Inputs")
    sheet.note("Shaded cells may be changed. Each amount is that of the file, a range by its mean.")
    row = sheet.head("Spread, on every branch", "Amount", "", "", left=1)
    sheet.frozen = (row + 1, 1)
    _items(sheet, given.rates)
    sheet.line(("Spread", "text"), (given.spread, "money"), ("a day", "unit"), mark="total")
    sheet.section("Fishing, besides the spread")
    _items(sheet, given.fishing_rates)
    sheet.line(
        ("Fishing day", "text"), (given.fishing_day, "money"), ("a day", "unit"), mark="total"
    )
    sheet.section("Other amounts")
    _items(sheet, given.single.values())
    sheet.section("By formula from these")
    sheet.line(("Work after the fish is out", "text"), (found.model.recovery_cost, "money"))
    sheet.line(("Owed on every branch first", "text"), (found.model.common_cost, "money"))
    for kind, cell in zip(given.kinds, given.belief, strict=True):
        words = (
            f"Chance that the fish is {kind}, now" if kind else "Chance of the fish, of one kind"
        )
        sheet.line((words, "text"), (cell, "%"))


def _items(sheet: Sheet, items: Iterable[Item]) -> None:
    for item in items:
        kind, unit = UNITS[item.unit]
        sheet.line((item.words, "text"), (item.cell, kind), (unit, "unit"), (item.note, "text"))
        if item.unit == "%":
            sheet.ranges.append((item.cell, 0.0, 1.0))


def runs_sheet(book: Book, found: Supplement) -> None:
    """Lay out hours, charges and odds of the runs."""
    given = found.given
    sheet = book.add(Sheet("Runs", [6, 44, 12, *[13] * 7]))
    sheet.title("Runs of the program")
    row = sheet.head(
        "Run",
        "Name",
        "Hours",
        "Charge",
        "Rentals",
        "Owed for the string",
        "Dresses the top",
        left=2,
    )
    sheet.frozen = (row + 1, 2)
    for run in given.runs:
        sheet.line(
            (float(run.number), "number"),
            (run.name, "text"),
            (run.hours, "h"),
            (run.charge, "money"),
            (run.rented, "money"),
            (run.string_value, "money"),
            ("yes" if run.dresses_top else "no", "unit"),
        )
    if not given.runs:
        sheet.note("No run is left to make.")
        return
    sheet.section("Odds as stated, by kind of fish")
    sheet.head("Run", "Name", "Kind", *(OUTCOME_HEADS[name] for name in OUTCOMES), left=3)
    for run in given.runs:
        for kind, odds in zip(given.kinds, run.odds, strict=True):
            cells: list[tuple[Content, str]] = [(odds[name], "odds") for name in OUTCOMES]
            sheet.line((float(run.number), "number"), (run.name, "text"), (kind, "text"), *cells)
            sheet.ranges += [(odds[name], 0.0, 1.0) for name in STATED]
    _odds_when_made(sheet, found)


def _odds_when_made(sheet: Sheet, found: Supplement) -> None:
    """Odds with the days before each run in them, where they move with time."""
    rows = [row for row in found.model.run_odds if row.days_before is not None]
    if not rows:
        return
    sheet.section("Days before each run if all before it end with nothing, and factors on odds")
    sheet.head("Run", "Name", "Days", "Recovery", "Losses", left=2)
    for row in rows:
        sheet.line(
            (float(row.given.number), "number"),
            (row.given.name, "text"),
            (row.days_before, "d"),
            (row.growth, "ratio"),
            (row.loss_growth, "ratio"),
        )
    for words, name in (
        ("Odds with grown losses", "after_losses"),
        ("Odds on a clean top when the run is made", "odds"),
    ):
        tables = [(row, getattr(row, name)) for row in rows]
        if not all(each for _, each in tables) or _stated(found, name):
            continue
        sheet.section(words)
        sheet.head("Run", "Name", "Kind", *(OUTCOME_HEADS[each] for each in OUTCOMES), left=3)
        for row, each in tables:
            for kind, odds in zip(found.given.kinds, each, strict=True):
                sheet.line(
                    (float(row.given.number), "number"),
                    (row.given.name, "text"),
                    (kind, "text"),
                    *((odds[outcome], "odds") for outcome in OUTCOMES),
                )


def _stated(found: Supplement, name: str) -> bool:
    """Whether a table of odds is laid out already: without a factor on recovery the odds when
    made are those with grown losses."""
    return name == "odds" and all(row.odds is row.after_losses for row in found.model.run_odds)


def fallback_sheet(book: Book, found: Supplement) -> None:
    """Lay out the fallbacks and the pieces of the fish."""
    given = found.given
    sheet = book.add(Sheet("Fallback", [54, 14, 10, 24, 12, 12], landscape=False))
    sheet.title("Fallback")
    sheet.note("Hours are those from the present fish top.")
    sheet.frozen = (sheet.row, 1)
    for each, sums in zip(given.fallbacks, found.model.sums, strict=True):
        sheet.section("")
        sheet.across(sheet.row - 1, 0, 6, each.name, "text", "section")
        _items(sheet, each.hours)
        _items(sheet, each.amounts.values())
        parts: list[tuple[str, Cell, str]] = [
            ("Mean number of further kick-offs from a plug", sums.retries, "times"),
            ("Mean number of attempts with a whipstock", sums.attempts, "times"),
            ("Day rate", sums.day, "money"),
            ("Expected hours", sums.hours, "h"),
            ("Money besides time, bit trips and the fish", sums.fixed, "money"),
        ]
        for words, cell, kind in parts:
            sheet.line((words, "text"), (cell, kind), mark="strong")
    sheet.section("Lost in hole: what is owed for a piece that stays")
    sheet.head("Piece, from the top down", "Owed", "Length", "Price new", "Written off", "At least")
    for piece in given.pieces:
        sheet.line(
            (piece.name, "text"),
            (piece.owed, "money"),
            (piece.length, "depth"),
            (piece.new, "money"),
            (piece.written_off, "%"),
            (piece.floor, "%"),
        )
    if not given.pieces:
        sheet.note("No piece of the fish is listed, so nothing is owed for it.")
    sheet.note("Owed = price new x the greater of 1 - written off and the least share; or a value.")
