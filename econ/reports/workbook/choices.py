"""The sheets Options and Contingency: what can be done, when to stop, what may still go wrong."""

from __future__ import annotations

from econ.reports.tables.afe import Supplement
from econ.reports.tables.afe_words import PERCENTILES
from econ.reports.tables.formula import Cell
from econ.reports.workbook.book import Book, Sheet

RESULTS = {
    "runs": ("Runs", "count"),
    "days": ("Days if all fail", "d"),
    "mean": ("Mean", "money"),
    "p10": ("P10", "money"),
    "p50": ("P50", "money"),
    "p90": ("P90", "money"),
    "recovered": ("Fish out", "%"),
    "cost_if_recovered": ("Mean if it is out", "money"),
    "cost_if_fallback": ("Mean if it is not", "money"),
}


def options_sheet(book: Book, found: Supplement) -> None:
    """Lay out options, authority, stop rule and the fallbacks side by side."""
    sheet = book.add(Sheet("Options", [46, *[13] * len(RESULTS)], one_page=True))
    sheet.title("Options, authority, stop rule")
    row = sheet.head("From now on", *(words for words, _ in RESULTS.values()))
    sheet.frozen = (row + 1, 1)
    for option in found.options:
        cells = [(option.results[name], kind) for name, (_, kind) in RESULTS.items()]
        sheet.line((option.words, "text"), *cells)
    sheet.note(f"Mean, days and chance follow the inputs. {PERCENTILES}")
    _authority(sheet, found)
    _rule(sheet, found)
    _fallbacks(sheet, found)


def _authority(sheet: Sheet, found: Supplement) -> None:
    stage = found.stages
    sheet.section("Authority in two stages")
    sheet.put(sheet.row, 0, "Limit asked for, in runs from now on")
    sheet.put(sheet.row, 1, stage["runs"], "count")
    sheet.ranges.append((stage["runs"], 0.0, float(len(found.model.limits) - 1)))
    sheet.row += 1
    rows: list[tuple[str, str, str]] = [
        ("Days to the limit if every run fails", "days", "d"),
        ("Cost to the limit if every run fails", "planned", "money"),
        ("Stage 1 asked for", "asked", "money"),
        ("Stage 1, mean", "mean", "money"),
        ("Stage 1, P90 as the program wrote it", "p90", "money"),
        ("Chance that stage 2 is drawn", "need", "%"),
        ("Stage 2 asked for: mean of what is spent if it is drawn", "spending", "money"),
        ("Value of the well that it gives up besides, not spent", "not_spent", "money"),
        ("Both together, as the program compares them", "stage_2_mean", "money"),
        ("Stage 2, P90 of what is spent, as the program wrote it", "stage_2_p90", "money"),
        ("Expected cost of the plan, as the program compares it", "expected_cost", "money"),
        ("Expected call: stage 1 mean + chance x stage 2 asked for", "expected_call", "money"),
    ]
    for words, name, kind in rows:
        sheet.put(sheet.row, 0, words, "text", "line")
        sheet.put(sheet.row, 1, stage[name], kind, "line")
        sheet.row += 1


def _rule(sheet: Sheet, found: Supplement) -> None:
    sheet.section("Stop rule: whichever comes first")
    sheet.head("", "Limit", "So far")
    for row in found.rule:
        sheet.put(sheet.row, 0, row.words, "text", "line")
        home = row.limit not in found.stages.values()
        limit = row.limit if home else Cell(row.limit)
        sheet.across(sheet.row, 1, 2 if row.unit == "moment" else 1, limit, row.unit, "line")
        if row.position is not None:
            sheet.put(sheet.row, 2, row.position, row.unit, "line")
        sheet.row += 1
    sheet.note(
        "Fishing also stops when the fish is out, or the fishing string or the hole is lost. A run "
        "in the hole is finished. So far: from the run log, money as logged."
    )


def _fallbacks(sheet: Sheet, found: Supplement) -> None:
    """Fallbacks from the present fish top, by formula for the inputs."""
    now = next((row for row in found.model.places if row.place.sort == "stop"), None)
    if now is None or len(found.given.fallbacks) < 2:
        return
    sheet.section("Fallbacks from the present fish top")
    sheet.head("", "Mean by formula")
    for each, cost in zip(found.given.fallbacks, now.costs, strict=True):
        sheet.across(sheet.row, 0, 1, each.name, "text", "line")
        sheet.show(sheet.row, 1, cost, "money", "line")
        sheet.row += 1


def contingency_sheet(book: Book, found: Supplement) -> None:
    """Lay out the trouble in the means, and further contingency entered by hand."""
    sheet = book.add(Sheet("Contingency", [46, 14, 14, 16, 16], one_page=True))
    sheet.title("Contingency")
    row = sheet.head("Trouble that is in the means", "Times", "Each", "Expected")
    sheet.frozen = (row + 1, 1)
    for each in found.trouble:
        sheet.line(
            (each.words, "text"),
            (each.times, "times"),
            (each.each, "money"),
            (each.expected, "money"),
        )
    sheet.note(
        "At the limit asked for, from now on. Times: mean number. The first line holds the ones "
        "below it; do not add them."
    )
    sheet.section("Further contingency, entered by hand")
    sheet.head("What may happen", "Chance", "Days", "Charges", "Expected")
    for risk in found.risks:
        sheet.line(
            (risk.words, "text"),
            (risk.chance, "%"),
            (risk.days, "d"),
            (risk.charge, "money"),
            (risk.expected, "cents"),
        )
        sheet.ranges.append((risk.chance, 0.0, 1.0))
    blank = [(None, "text")] * 3
    sheet.line(
        ("Sum, line CT20 of the cost table", "text"), *blank, (found.further, "cents"), mark="total"
    )
    sheet.note("Expected = chance x (days x spread + charges). Not in the options or the stages.")
