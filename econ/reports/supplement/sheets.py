"""The sheets behind the first: costs, partners, options, contingency, estimate, prices, plan."""

from __future__ import annotations

from econ.reports.supplement.book import Book, Content, Sheet
from econ.reports.supplement.cells import Cell
from econ.reports.supplement.content import Supplement
from econ.reports.supplement.costs import COLUMNS, Line
from econ.reports.supplement.options import RESULTS, number
from econ.reports.supplement.words import (
    COLUMN_HEADS,
    GROUP_WORDS,
    NOT_COVERED,
    PERCENTILES,
    QUANTITIES,
    QUESTIONS,
    SHOWN,
    WHOLE,
    basis,
    cautions,
    follows,
    remarks,
)


def costs_sheet(book: Book, found: Supplement) -> None:
    """Lay out the cost table. Its lines stand in one block, so that a total is a plain sum."""
    table = found.costs
    generic = bool(found.codes)
    words = ["Code", *(["Generic code"] if generic else []), "Description", "Part", "Kind"]
    widths = [9, *([9] if generic else []), 44, 16, 11, *[12] * len(COLUMNS), 10, 8]
    sheet = book.add(Sheet("Costs", widths, one_page=True))
    sheet.title("Costs by code, as the signature grants them")
    row = sheet.head(*words, *COLUMN_HEADS.values(), "Percent over", "Trigger", left=len(words))
    sheet.frozen, sheet.repeat = (row + 1, len(words)), (row, row)
    before = ""
    for line in table.lines:
        part = GROUP_WORDS[line.group] if line.group != before else ""
        mark = "begin" if part and before else "line"
        before = line.group
        sheet.line(*_line(line, part, generic=generic), mark=mark)
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
    _bridge(sheet, found, len(words))


def _line(line: Line, part: str, *, generic: bool) -> list[tuple[Content, str]]:
    words = f"{line.words} ({line.reference})" if line.reference else line.words
    found: list[tuple[Content, str]] = [(line.code, "text")]
    if generic:
        found.append((line.ours, "text"))
    found += [(words, "text"), (part, "text"), (line.kind, "text")]
    found += [(line.amounts[name], "money") for name in COLUMNS]
    return [*found, (line.percent, "%"), (line.over_trigger, "flag")]


def _trigger(sheet: Sheet, found: Supplement, first: int) -> None:
    """The rule that calls for a supplement, and what is below the line."""
    table = found.costs
    sheet.row += 1
    rows: list[tuple[str, Cell, str]] = [
        ("Trigger: percent over what was approved", table.trigger_percent, "%"),
        ("Trigger counts by (total or line)", table.trigger_basis, "text"),
        ("Trigger: or this amount over, 0 for none", table.trigger_amount, "money"),
        *((item.words, item.cell, item.unit) for item in table.below_the_line),
    ]
    for words, cell, kind in rows:
        sheet.across(sheet.row, 0, first, words)
        sheet.put(sheet.row, first, cell, kind)
        sheet.row += 1
    sheet.note(
        "Trigger percent and basis are as the agreement has them; a line without an approved "
        "amount counts as over. A sidetrack changes the scope, which may call for a supplement "
        "below any trigger. Slice 1b is drawn instead of 2 and stands on the sheet Estimate."
    )


def _bridge(sheet: Sheet, found: Supplement, first: int) -> None:
    """From the original authority to the revised one, step by step."""
    sheet.section("From the original authority to the revised one")
    for step in found.ask.steps:
        mark = "strong" if step.is_sum else "line"
        sheet.across(sheet.row, 0, first, step.words, "text", mark)
        sheet.put(sheet.row, first, step.amount, "money", mark)
        sheet.across(sheet.row, first + 1, 8, step.reason, "text", mark, "left")
        sheet.row += 1


def options_sheet(book: Book, found: Supplement) -> None:
    """Lay out every limit, other odds, the fallbacks side by side, and the runs with odds."""
    sheet = book.add(Sheet("Options", [46, *[13] * len(RESULTS)], one_page=True))
    sheet.title("Options, plan and odds, as issued")
    sheet.note(SHOWN)
    row = sheet.head("Every limit", *(words for _, words, _ in RESULTS.values()))
    sheet.frozen = (row + 1, 1)
    named = {option.results["runs"].value: option.words for option in found.options}
    for limit in found.answer.by_runs:
        results = [(number(getattr(limit, key)), kind) for key, _, kind in RESULTS.values()]
        mark = "strong" if limit.runs == found.answer.best else "line"
        sheet.line((named.get(limit.runs, ""), "text"), *results, mark=mark)
    sheet.note(PERCENTILES)
    _other_odds(sheet, found)
    _fallbacks(sheet, found)
    _runs(sheet, found)


def _other_odds(sheet: Sheet, found: Supplement) -> None:
    """What becomes of limit, mean and chance of slice 2 at other odds of all runs."""
    if not found.odds:
        return
    sheet.section("At other odds of recovery, as issued")
    sheet.head("Odds p/(1 - p) of all runs times", "Factor", "Runs", "Mean", "Slice 2")
    for each in found.odds:
        sheet.line(
            ("Break-even" if each.break_even else "", "text"),
            (each.factor, "times"),
            (float(each.runs), "count"),
            (each.mean, "money"),
            (each.slice_2, "%"),
        )
    sheet.note(
        "Runs: the best limit at those odds, mean: its expected cost, slice 2: its chance. At "
        "break-even stopping now and fishing on cost the same. On few draws, so that they may "
        "differ from the rest by their error."
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
    blank: list[tuple[Content, str]] = [(None, "text")] * 3
    sheet.line(("Sum", "text"), *blank, (found.by_hand, "cents"), mark="total")
    sheet.put(sheet.row, 0, "Share put on the slices for prices that are not agreed")
    sheet.put(sheet.row, 1, found.price_contingency, "%")
    sheet.row += 1
    sheet.line(
        ("Line CT20 of the cost table", "text"), *blank, (found.further, "cents"), mark="total"
    )
    sheet.note(
        "Expected = chance x (days x spread + charges). It counts in what is asked for, and is in "
        "none of the slices and options."
    )


def estimate_sheet(book: Book, found: Supplement) -> None:
    """Lay out every line as quantity x price; slices stand one after another in one block."""
    parts = found.estimate
    heads = ["Code", "Description", "Slice", "Unit"]
    heads += ["Quantity if every run fails", "Price used", "Amount"]
    heads += ["Quantity, mean", "Price used", "Amount, mean", "Stated mean price"]
    widths = [7, 50, 9, 7, 12, 13, 14, 12, 13, 14, 13]
    sheet = book.add(Sheet("Estimate", widths, one_page=True))
    sheet.title("Estimate: quantity x price, at the limit in force")
    row = sheet.head(*heads, left=4)
    sheet.frozen, sheet.repeat = (row + 1, 2), (row, row)
    before = ""
    for line in parts.lines:
        slice_ = str(line.slice.value)
        cells: list[tuple[Content, str]] = []
        for side in (line.planned, line.mean):
            cells += [(side.quantity, "quantity"), (side.price, "price"), (side.amount, "money")]
        start: list[tuple[Content, str]] = [(line.code, "text"), (line.words, "text")]
        start += [(line.slice, "unit"), (line.unit, "unit"), *cells, (line.stated, "price")]
        sheet.line(*start, mark="begin" if before and slice_ != before else "line")
        before = slice_
    sheet.note(
        "Amount = quantity x price. Means are already times the chance of what they pay for: a "
        "fallback that is needed in 3 cases of 10 has 0.3 of its days here. Quantities are the "
        "program's, for the limit in force; prices stand on the sheet Prices. What is compared and "
        "not spent, as value of the well given up, is asked of nobody."
    )


def prices_sheet(book: Book, found: Supplement) -> None:
    """Lay out the prices in one block."""
    parts = found.estimate
    sheet = book.add(Sheet("Prices", [26, 52, 15, 12, 26, 8, 22], landscape=False))
    sheet.title("Prices")
    sheet.note(
        "Shaded cells may be changed. A price is that of the file, a range by its mean; once it is "
        "edited it is the number typed, and the column Edited says so."
    )
    row = sheet.head("Part", "Price of", "Amount", "", "", "Edited", "Contract", left=2)
    sheet.frozen, sheet.repeat = (row + 1, 2), (row, row)
    before = ""
    sums = {"Every branch": (parts.spread, "Spread"), "Fishing": (parts.fishing_day, "Fishing day")}
    rates = {"Every branch": "rates", "Fishing": "day_rates"}

    def put_sum(part: str) -> None:
        cell, words = sums.pop(part)
        blank: tuple[Content, str] = (None, "text")
        cells: list[tuple[Content, str]] = [
            (words, "text"),
            (cell, "price"),
            ("a day", "unit"),
            ("sum", "text"),
            blank,
            blank,
        ]
        sheet.line(blank, *cells, mark="total")

    for price in parts.prices:
        if before in sums and rates[before] not in [str(step) for step in price.key]:
            put_sum(before)
        part = price.part if price.part != before else ""
        sheet.line(
            (part, "text"),
            (price.words, "text"),
            (price.cell, "%" if price.unit == "share" else "price"),
            ("" if price.unit == "share" else price.unit, "unit"),
            (price.note, "text"),
            (price.edited, "count"),
            (price.reference, "text"),
            mark="begin" if part and before else "line",
        )
        before = price.part
    for part in list(sums):
        put_sum(part)


def quantities_sheet(book: Book, found: Supplement) -> None:
    """Lay out what prices are multiplied by, of every limit: a working sheet."""
    parts = found.estimate
    limits = parts.limits
    count = len(limits.cost)
    names = [name for name in limits.columns if name != "one"]
    widths = [7, 46, 9, 13, *[13] * max(2 * count + 4, len(names))]
    sheet = book.add(Sheet("Quantities", widths, frozen=(1, 2)))
    sheet.title("What every price is multiplied by, of every limit")
    sheet.note("Working sheet, nothing to change. " + QUANTITIES)
    sheet.head("", "Cost at these prices", "", "One", *names, left=2)
    for limit in range(count):
        row = sheet.row
        sheet.put(row, 1, limits.cost[limit], "cents", "line")
        sheet.put(row, 3, limits.columns["one"][limit], "count", "line")
        for column, name in enumerate(names, start=4):
            sheet.put(row, column, limits.columns[name][limit], "price", "line")
        sheet.row += 1
    sheet.row += 1
    sheet.put(sheet.row, 4, "Mean, by limit in runs", "text", "head")
    sheet.put(sheet.row, 4 + count, "If every run fails", "text", "head")
    sheet.row += 1
    row = sheet.row
    for column, words in enumerate(("Line", "Quantity x ranges", "Slice", "Factor")):
        sheet.put(row, column, words, "text", "head")
    for side in (0, 1):
        for limit, head in enumerate(parts.heads[side]):
            sheet.put(row, 4 + side * count + limit, head, "count", "head_right")
    last = 4 + 2 * count
    for column, words in enumerate(("At the limit", "Failing", "Amount", "Failing"), start=last):
        sheet.put(row, column, words, "text", "head_right")
    sheet.row += 1
    for each in parts.rows:
        cells: list[tuple[Content, str]] = [(each.line, "count"), (each.words, "text")]
        cells += [(each.slice, "unit"), (each.factor, "price")]
        cells += [(cell, "price") for cell in (*each.mean, *each.planned)]
        cells += [(cell, "price") for cell in (*each.at_limit, *each.amounts)]
        sheet.line(*cells)


def checks_sheet(book: Book, found: Supplement) -> None:
    """Lay out every check: a working sheet; and the validations of the cells that are typed."""
    book.inputs = found.checks.inputs
    sheet = book.add(Sheet("Checks", [44, 30, 60], landscape=False))
    sheet.title("Checks of what is typed")
    sheet.note(
        "Working sheet, nothing to change. The first sheet shows the last cell on the right."
    )
    row = sheet.head("What is looked at", "Fault", "Faults so far", left=3)
    sheet.frozen = (row + 1, 1)
    for check in found.checks.rows:
        row = sheet.row
        sheet.put(row, 0, check.name, "unit", "line")
        sheet.put(row, 1, check.fault, "unit", "line")
        sheet.put(row, 2, check.so_far, "unit", "line")
        sheet.row += 1


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
