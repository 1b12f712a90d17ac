"""The sheets behind the first: costs, partners, options, contingency, estimate, prices, plan."""

from __future__ import annotations

from econ.reports.supplement.book import Book, Content, Sheet
from econ.reports.supplement.cells import Cell
from econ.reports.supplement.content import Supplement
from econ.reports.supplement.costs import COLUMNS, KINDS, Line
from econ.reports.supplement.estimate import SLICES, Product
from econ.reports.supplement.options import RESULTS, number
from econ.reports.supplement.words import (
    COLUMN_HEADS,
    GROUP_WORDS,
    NAMES,
    NOT_COVERED,
    PERCENTILES,
    QUESTIONS,
    SHOWN,
    WHOLE,
    basis,
    cautions,
    follows,
    remarks,
)

MOST = 1e15  # of an amount or a number of days that is typed
VOTES = ("Consent", "No consent", "Counter-proposal", "Name and signature", "Date")


def costs_sheet(book: Book, found: Supplement) -> None:
    """Lay out the cost table. Its lines stand in one block, so that a total is a plain sum."""
    table = found.costs
    generic = bool(found.codes)
    words = ["Code", *(["Our code"] if generic else []), "Description", "Part", "Kind"]
    widths = [9, *([9] if generic else []), 52, 16, 11, *[13] * len(COLUMNS), 11, 9]
    sheet = book.add(Sheet("Costs", widths, one_page=True))
    sheet.title("Costs by code")
    row = sheet.head(*words, *COLUMN_HEADS.values(), "Percent over", "Trigger", left=len(words))
    sheet.frozen, sheet.repeat = (row + 1, len(words)), (row, row)
    before = ""
    for line in table.lines:
        part = GROUP_WORDS[line.group] if line.group != before else ""
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
    words = [NAMES[name] for name in shared.names]
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
    sheet.note(shared.rule)
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


def options_sheet(book: Book, found: Supplement) -> None:
    """Lay out every limit, the stop rule, the fallbacks side by side, and the runs with odds."""
    sheet = book.add(Sheet("Options", [46, *[13] * len(RESULTS)], one_page=True))
    sheet.title("Options, stop rule, plan and odds, as issued")
    sheet.note(SHOWN)
    row = sheet.head("Every limit", *(words for _, words, _ in RESULTS.values()))
    sheet.frozen = (row + 1, 1)
    named = {option.results["runs"].value: option.words for option in found.options}
    for limit in found.answer.by_runs:
        results = [(number(getattr(limit, key)), kind) for key, _, kind in RESULTS.values()]
        mark = "strong" if limit.runs == found.answer.best else "line"
        sheet.line((named.get(limit.runs, ""), "text"), *results, mark=mark)
    sheet.note(PERCENTILES)
    _rule(sheet, found)
    _fallbacks(sheet, found)
    _runs(sheet, found)


def _rule(sheet: Sheet, found: Supplement) -> None:
    sheet.section("Stop rule: whichever comes first")
    sheet.head("", "Limit", "So far")
    for row in found.rule:
        sheet.put(sheet.row, 0, row.words, "text", "line")
        sheet.across(sheet.row, 1, 2 if row.unit == "moment" else 1, row.limit, row.unit, "line")
        if row.position is not None:
            sheet.put(sheet.row, 2, row.position, row.unit, "line")
        sheet.row += 1
    sheet.note(
        "Fishing also stops when the fish is out, or the fishing string or the hole is lost. A run "
        "in the hole is finished. So far: from the run log, money as logged."
    )


def _fallbacks(sheet: Sheet, found: Supplement) -> None:
    """Fallbacks from the present fish top, and the chance that each is taken at the limit."""
    rows = found.answer.fallbacks.rows
    taken = {own.name: own.taken for own in found.answer.quantities[found.answer.best].fallbacks}
    sheet.section("Fallbacks from the present state, as issued")
    sheet.head(
        "",
        "Hours",
        "Time",
        "Charges",
        "Trouble",
        "Lost in hole",
        "Value given up",
        "Mean",
        "Chance",
    )
    for row in rows:
        amounts = [row.time, row.other, row.trouble, row.lost_in_hole, row.value_given_up, row.now]
        cells: list[tuple[Content, str]] = [(amount, "money") for amount in amounts]
        sheet.line((row.name, "text"), (row.hours, "h"), *cells, (taken[row.name], "%"))
    sheet.note(
        "The cheapest by mean cost in the state that is reached is taken; chance: that it is."
    )


def _runs(sheet: Sheet, found: Supplement) -> None:
    """The runs of the plan with their odds."""
    answer = found.answer
    sheet.section("Runs of the plan")
    sheet.head("", "Made", "Recovers", "Pays from", "Fish workable", "Days", "Cost")
    made = {number: chance for number, chance, _ in answer.quantities[-1].made}
    for run in answer.ahead:
        odds = [made.get(run.run, 0.0), run.odds, run.break_even_odds, run.workable]
        sheet.line(
            (f"{run.run + 1}. {run.name}", "text"),
            *((number(share), "%") for share in odds),
            (run.days, "d"),
            (run.cost, "money"),
        )
    sheet.note(
        "Made: chance that the run is made if fishing goes on to the end of the program. The rest: "
        "if every run before it ended with nothing."
        if answer.ahead
        else "No run is left to make."
    )


def contingency_sheet(book: Book, found: Supplement) -> None:
    """Lay out the trouble in the means, and further contingency entered by hand."""
    sheet = book.add(Sheet("Contingency", [46, 14, 14, 16, 16], one_page=True))
    sheet.title("Contingency")
    row = sheet.head("Trouble that is in the means", "Times", "Each", "Expected")
    sheet.frozen = (row + 1, 1)
    for trouble in found.trouble:
        sheet.line(
            (trouble.words, "text"),
            (trouble.times, "times"),
            (trouble.cost, "money"),
            (trouble.expected, "money"),
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
    blank: list[tuple[Content, str]] = [(None, "text")] * 3
    sheet.line(
        ("Sum, line CT20 of the cost table", "text"), *blank, (found.further, "cents"), mark="total"
    )
    sheet.note("Expected = chance x (days x spread + charges). Not in the options or the stages.")


def estimate_sheet(book: Book, found: Supplement) -> None:
    """Lay out every line as quantity x price; slices stand one after another in one block."""
    parts = found.estimate
    differ = any(line.differs() for line in parts.lines)
    heads = ["Code", "Description", "Slice", "Unit"]
    heads += ["Days or number, if every run fails", "Price used", "Amount"]
    heads += ["Days or number, mean", "Price used", "Amount, mean"]
    widths = [7, 50, 12, 7, 13, 13, 14, 13, 13, 14]
    if differ:
        heads, widths = [*heads, "Stated mean price, where it differs"], [*widths, 14]
    sheet = book.add(Sheet("Estimate", widths, one_page=True))
    sheet.title("Estimate: quantity x price")
    row = sheet.head(*heads, left=4)
    sheet.frozen, sheet.repeat = (row + 1, 2), (row, row)
    placed: set[Cell] = set()

    def product(made: Product | None, amount: Cell) -> list[tuple[Content, str]]:
        if made is None:
            return [(None, "text"), (None, "text"), (amount, "money")]
        quantity = Cell(made.quantity) if made.quantity in placed else made.quantity
        placed.add(made.quantity)
        if quantity.is_input:
            sheet.ranges.append((quantity, 0.0, MOST))
        return [(quantity, "quantity"), (made.price, "price"), (made.amount, "money")]

    before = ""
    for line, (planned, expected) in zip(parts.lines, parts.amounts, strict=True):
        slice_ = str(line.slice.value)
        cells = product(line.planned, planned) + product(line.expected, expected)
        if differ:
            cells.append((line.stated, "price") if line.differs() else (None, "text"))
        start: list[tuple[Content, str]] = [(line.code, "text"), (line.words, "text")]
        start += [(line.slice, "unit"), (line.unit, "unit")]
        sheet.line(*start, *cells, mark="begin" if before and slice_ != before else "line")
        before = slice_
    stage = found.stages
    sheet.row += 1
    blank: list[tuple[Content, str]] = [(None, "text")] * 5
    for name, words in SLICES.items():
        amount = Cell(parts.of_slice(name))
        if amount.value == 0:
            continue
        planned_total: Content = Cell(stage["planned"]) if name == "fishing" else None
        middle: list[tuple[Content, str]] = [(None, "text"), (None, "text")]
        sheet.line(
            (None, "text"),
            (f"Total: {words.lower()}", "text"),
            *blank[:4],
            (planned_total, "money"),
            *middle,
            (amount, "money"),
            mark="strong",
        )
    sheet.note(
        "Amount = quantity x price. Means are already times the chance of what they pay for: a "
        "fallback that is needed in 3 cases of 10 has 0.3 of its days here. Shaded days may be "
        "changed; chances and counts are the program's. Prices stand on the sheet Prices."
    )


def prices_sheet(book: Book, found: Supplement) -> None:
    """Lay out the prices in one block."""
    sheet = book.add(Sheet("Prices", [26, 58, 16, 10, 30], landscape=False))
    sheet.title("Prices")
    sheet.note("Shaded cells may be changed. A price is that of the file, a range by its mean.")
    row = sheet.head("Part", "Price of", "Amount", "", "", left=2)
    sheet.frozen, sheet.repeat = (row + 1, 2), (row, row)
    before = ""
    for price in found.estimate.prices:
        part = price.part if price.part != before else ""
        summed = not price.cell.is_input
        sheet.line(
            (part, "text"),
            (price.words, "text"),
            (price.cell, "%" if price.unit == "share" else "price"),
            ("" if price.unit == "share" else price.unit, "unit"),
            (price.note, "text"),
            mark="total" if summed else "begin" if part and before else "line",
        )
        before = price.part
        if not summed:
            sheet.ranges.append((price.cell, 0.0, 1.0 if price.unit == "share" else MOST))


def assumptions_sheet(book: Book, found: Supplement) -> None:
    """Lay out the words: what follows a change, what amounts rest on, what is not covered."""
    sheet = book.add(Sheet("Assumptions", [46, 46], landscape=False))
    sheet.title("Assumptions, limits of the sheet, cautions")
    sheet.frozen = (sheet.row, 0)
    parts: list[tuple[str, list[str] | tuple[str, ...]]] = [
        ("What follows a change, and what does not", follows(found)),
        ("What the amounts rest on", [*basis(found), PERCENTILES, WHOLE]),
        ("What is not covered", NOT_COVERED),
        ("Before the vote", QUESTIONS),
        ("Notes of the program", remarks(found)),
        ("Cautions", cautions(found)),
    ]
    if found.codes:
        mapped = [f"{ours}: {code.theirs}" for ours, code in found.codes.items()]
        own = sorted({line.ours for line in found.costs.lines} - set(found.codes))
        if own:
            mapped.append("Codes without a mapping, shown as ours: " + ", ".join(own))
        parts.insert(2, ("Codes: ours and the company's own", mapped))
    for title, words in parts:
        if words:
            sheet.section(title)
        for line in words:
            sheet.across(sheet.row, 0, 2, line)  # a single column is not made to fit the page
            sheet.row += 1
