"""The sheets Costs and Partners: the table by code, the trigger, and the net shares."""

from __future__ import annotations

from econ.reports.tables.afe import Supplement
from econ.reports.tables.afe_costs import COLUMNS, KINDS, Line
from econ.reports.tables.formula import Cell
from econ.reports.workbook.book import Book, Content, Sheet

HEADS = {
    "original": "Original",
    "earlier": "Earlier supplements",
    "approved": "Approved to date",
    "spent": "Spent to date",
    "to_come": "To come without trouble",
    "trouble": "Forecast of trouble, mean",
    "revised": "Revised total",
    "change": "Change",
}
GROUPS = {
    "file": "approved work",
    "log": "since the decision",
    "fishing": "stage 1, mean",
    "fallback": "stage 2, mean",
    "further": "by hand",
}
VOTES = ("Consent", "No consent", "Counter-proposal", "Name and signature", "Date")


def costs_sheet(book: Book, found: Supplement) -> None:
    """Lay out the cost table. Its lines stand in one block, so that a total is a plain sum."""
    table = found.costs
    generic = bool(found.codes)
    words = ["Code", *(["Our code"] if generic else []), "Description", "Part", "Kind"]
    widths = [9, *([9] if generic else []), 52, 16, 11, *[13] * len(COLUMNS), 9, 9]
    sheet = book.add(Sheet("Costs", widths, one_page=True))
    sheet.title("Costs by code")
    row = sheet.head(*words, *HEADS.values(), "Percent over", "Trigger", left=len(words))
    sheet.frozen, sheet.repeat = (row + 1, len(words)), (row, row)
    before = ""
    for line in table.lines:
        part = GROUPS[line.group] if line.group != before else ""
        mark = "begin" if part and before else "line"
        before = line.group
        sheet.line(*_line(line, part, generic=generic), mark=mark)
        if line.kind.is_input:
            sheet.lists.append((line.kind, list(KINDS)))
    blank: list[tuple[Content, str]] = [(None, "text")] * (len(words) - 1)
    for kind, sums in (*table.by_kind.items(), ("Total", table.total)):
        percent = table.percent if kind == "Total" else None
        sheet.line(
            *blank,
            (kind, "text"),
            *((sums[name], "money") for name in COLUMNS),
            (percent, "%"),
            (None, "text"),
            mark="total" if kind == "Total" else "strong",
        )
    _trigger(sheet, found, len(words))


def _line(line: Line, part: str, *, generic: bool) -> list[tuple[Content, str]]:
    found: list[tuple[Content, str]] = [(line.code, "text")]
    if generic:
        found.append((line.ours, "text"))
    found += [(line.words, "text"), (part, "text"), (line.kind, "text")]
    found += [(line.amounts[name], "money") for name in COLUMNS]
    return [*found, (line.percent, "%"), (line.over_trigger, "flag")]


def _trigger(sheet: Sheet, found: Supplement, first: int) -> None:
    """The rule that calls for a supplement, sums of the trouble, and what is below the line."""
    table = found.costs
    sheet.row += 1
    rows: list[tuple[str, Cell, str]] = [
        ("Forecast of trouble, stage 1", table.trouble["fishing"], "money"),
        ("Forecast of trouble, stage 2", table.trouble["fallback"], "money"),
        ("Unspent contingency (codes CT) released, in the change", table.released, "money"),
        ("Trigger: percent over what was approved", table.trigger_percent, "%"),
        ("Trigger counts by (total or line)", table.trigger_basis, "text"),
        ("Trigger: or this amount over, 0 for none", table.trigger_amount, "money"),
        *((item.words, item.cell, item.unit) for item in table.below_the_line),
    ]
    for words, cell, kind in rows:
        sheet.across(sheet.row, 0, first, words)
        sheet.put(sheet.row, first, cell, kind)
        sheet.row += 1
    sheet.lists.append((table.trigger_basis, ["total", "line"]))
    sheet.note(
        "Trigger percent and basis are as the agreement has them; a line without an approved "
        "amount counts as over. A sidetrack changes the scope, which may call for a supplement "
        "below any trigger."
    )


def partners_sheet(book: Book, found: Supplement) -> None:
    """Lay out the net shares and the votes."""
    shared = found.shares
    words = shared.words
    widths = [34, 22, 11, *[15] * len(words)]
    sheet = book.add(Sheet("Partners", widths, one_page=True))
    sheet.title("Working interests and approvals")
    row = sheet.head("Partner", "Role", "Interest", *words, left=2)
    sheet.frozen = (row + 1, 1)
    for partner in shared.partners:
        sheet.line(
            (partner.name, "text"),
            (partner.role, "text"),
            (partner.interest, "interest"),
            *((net, "cents") for net in partner.nets),
        )
        sheet.ranges.append((partner.interest, 0.0, 1.0))
    if shared.partners:
        sums = [(cell, "cents") for cell in shared.sums]
        sheet.line(
            ("Sum of the partners", "text"),
            (None, "text"),
            (shared.interests, "interest"),
            *sums,
            mark="total",
        )
    else:
        sheet.line(("No partner is named in the file.", "text"), (None, "text"))
        sheet.line(("Interests", "text"), (None, "text"), (shared.interests, "interest"))
    gross = [(cell, "cents") for cell in shared.gross]
    sheet.line(("Gross", "text"), (None, "text"), (None, "text"), *gross, mark="strong")
    sheet.note(
        "Each net is gross x interest to the cent; half a cent goes up. The operator, or without "
        "one the largest interest, takes what is then left of the gross, so the nets sum to it. "
        "Interests are plain shares: no carry, no back-in."
    )
    sheet.section("Approvals")
    sheet.head("Partner", *VOTES, left=6)
    for name in [partner.name for partner in shared.partners] or [""]:
        row = sheet.row
        sheet.across(row, 0, 1, name, "text", "line")
        for column in range(1, 4):
            sheet.put(row, column, None, "text", "box")
        for column in range(4, 6):
            sheet.put(row, column, None, "text", "sign")
        sheet.heights[row] = max(sheet.heights.get(row, 0.0), 24.0)
        sheet.row += 1
    sheet.note(
        "Tick one. Stage 2 is voted on now and takes effect without a further vote if the stop "
        "rule is met."
    )
