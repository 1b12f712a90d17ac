"""The cost table and the working sheets: what stands behind the pages that are handed round."""

from __future__ import annotations

import math

from econ.reports.supplement.book import Book, Sheet, room_of
from econ.reports.supplement.cells import Cell, Term, quotient, whole
from econ.reports.supplement.content import Supplement
from econ.reports.supplement.costs import COLUMNS
from econ.reports.supplement.first_page import slice_lines
from econ.reports.supplement.moments import of_issue
from econ.reports.supplement.phrases import (
    NOT_COVERED,
    PERCENTILES,
    QUANTITIES,
    QUESTIONS,
    SHOWN,
    WHOLE,
)
from econ.reports.supplement.shares import SHARED, Shares
from econ.reports.supplement.words import basis, cautions, follows, remarks

LIMIT = {  # columns of a limit in runs: the name, words, kind of number
    "runs": ("Runs", "count"),
    "days": ("Days if all fail", "d"),
    "expected_cost": ("Mean", "money"),
    "p10": ("P10", "money"),
    "p50": ("P50", "money"),
    "p90": ("P90", "money"),
    "probability_recovered": ("Fish out", "%"),
    "cost_if_recovered": ("Mean if it is out", "money"),
    "cost_if_fallback": ("Mean if it is not", "money"),
}
LOST_HEADS = (
    "Piece, from the top down",
    "Owner",
    "Clause",
    "Price new",
    "Written off",
    "Floor",
    "Owed if it stays",
    "Share left, mean",
    "Expected invoice",
    "Back if recovered",
    "Credit on it",
)
LOST_KINDS = "text text text money % % money % money % money"
LOST_WIDTHS = (34, 18, 16, 12, 9, 8, 12, 9, 12, 10, 12)
LOST = (
    "Owed: price new x the greater of (1 - written off) and the floor, or what is stated as "
    "owed. Share left: mean over all ends, a fallback by the chance that it is taken; blank where "
    "a range is in the share that is owed. Expected invoice: share left x share that the fallback "
    "owes x what is owed; it is in the lines of the fallback. Credit: what comes back of that "
    "invoice if the piece is recovered later; it is in no sum. Ranges stand by their means. A "
    "price that is changed in this workbook does not move this sheet: it is "
)
WIDEST = 126.0  # of codes, description and amounts, so that the type stays large enough to read


BASIS = {  # what a line is worked out from, where its name does not tell
    "FS50": "FS50: hours at the spread, and charges, still to come before any choice.",
    "LH20": "LH20: of each piece the share that stays, times what is owed for it, as the sheet "
    "Lost_in_hole has it.",
}
OF_SEVERAL = (
    "Lines of slice 2 are means over the fallbacks that it may be, each by its chance: no one "
    "fallback is invoiced so."
)
MET = (  # trouble that is in the means: words, code and unit of its lines
    ("Pieces of the fish are left in the hole, number", "LH20", "pieces"),
    ("A fishing string is owed, wholly or in part", "LH50", ""),
    ("A kick-off fails and is made again", "ST80", "times"),
    ("Sticking again, or trouble of the fallback", "ST85", ""),
)


def costs_sheet(book: Book, supplement: Supplement) -> None:
    """Lay out the cost table. Its lines stand in one block, so that a total is a plain sum."""
    table = supplement.costs
    words = ["Code", *(["Generic code"] if supplement.codes else []), "Description", "Part", "Kind"]
    amounts = [max(7.5, room_of(cell, "money")) for cell in table.total.values()]
    fixed = [7.0] * (len(words) - 3)
    described = max(32.0, WIDEST - sum(fixed) - sum(amounts))
    widths = [*fixed, described, 8, 9.5, *amounts, 7, 6]
    kinds = " ".join(["text"] * len(words) + ["money"] * len(COLUMNS) + ["%", "flag"])
    sheet = book.add("Costs", "Costs by code, as the signature grants them", widths)
    sheet.head(
        *words, *COLUMNS.values(), "Percent over", "Trigger", left=len(words), frozen=len(words)
    )
    before = table.lines[0].part
    for line in (*table.lines, *table.totals):
        mark = "line" if line.part == before else "begin"
        if line.part == "total":
            mark = "total" if line is table.totals[-1] else "strong"
        sheet.line(
            kinds,
            *((line.code, line.ours) if supplement.codes else (line.code,)),
            f"{line.words} ({line.reference})" if line.reference else line.words,
            line.part,
            line.kind,
            *(line.amounts[name] for name in COLUMNS),
            line.percent,
            line.over_trigger,
            mark=mark,
        )
        before = line.part
    sheet.note(
        "Part: approved work, the slice of the line, or contingency. The column Trigger is filled "
        "only where the trigger counts by line; a line without an approved amount is then over it. "
        "A sidetrack changes the scope, which may call for a "
        "supplement below any trigger. Slice 1b is drawn instead of 2, and its lines are on the "
        "working sheet Estimate. Steps from the original authority to the revised one, and the "
        "trigger: sheet Issue."
    )
    used = {line.ours for line in table.lines if line.amounts["asked"].number > 0}
    said = [words for code, words in BASIS.items() if code in used]
    if supplement.ask.mix:
        said.append(OF_SEVERAL)
    sheet.note(" ".join(said))


def options_sheet(book: Book, supplement: Supplement) -> None:
    """Lay out every limit, the fallbacks side by side, and the runs with odds."""
    answer = supplement.answer
    sheet = book.add(
        "Options", "Options, plan and odds, as issued", [46, *[13] * len(LIMIT)], one_page=True
    )
    sheet.note(SHOWN)
    sheet.head("Every limit", *(words for words, _ in LIMIT.values()), frozen=1)
    named = {0: "Stop now", len(answer.by_runs) - 1: "To the end of the program"}
    named[answer.best] = "Asked for"
    kinds = " ".join(["text", *(kind for _, kind in LIMIT.values())])
    for limit in answer.by_runs:
        results = [_number(getattr(limit, key)) for key in LIMIT]
        mark = "strong" if limit.runs == answer.best else "line"
        sheet.line(kinds, named.get(limit.runs, ""), *results, mark=mark)
    sheet.note(PERCENTILES)
    taken = {each.name: each.taken for each in answer.quantities[answer.best].fallbacks}
    heads = ("Hours", "Time", "Charges", "Trouble", "Lost in hole", "Value given up", "Mean")
    sheet.section("Fallbacks from the present state, as issued")
    sheet.head("", *heads, "Chance")
    kinds = "text h money money money money money money %"
    for own in answer.fallbacks.rows:
        amounts = [own.time, own.other, own.trouble, own.lost_in_hole, own.value_given_up, own.now]
        sheet.line(kinds, own.name, own.hours, *amounts, taken[own.name])
    sheet.note(
        "The cheapest by mean cost in the state that is reached is taken; chance: that it is."
    )
    sheet.section("Runs of the plan")
    sheet.head("", "Made", "Recovers", "Pays from", "Fish workable", "Days", "Cost")
    made = {number: chance for number, chance, _ in answer.quantities[-1].made}
    for run in answer.ahead:
        shares = made.get(run.run, 0.0), run.odds, run.break_even_odds, run.workable
        name = f"{run.run + 1}. {run.name}"
        sheet.line("text % % % % d money", name, *map(_number, shares), run.days, run.cost)
    sheet.note(
        "Made: chance that the run is made if fishing goes on to the end of the program. The rest: "
        "if every run before it ended with nothing."
        if answer.ahead
        else "No run is left to make."
    )


def _number(value: float | None) -> float | None:
    """A number of the program; nothing where there is none."""
    return value if value is not None and math.isfinite(value) else None


def contingency_sheet(book: Book, supplement: Supplement) -> None:
    """Lay out the trouble in the means, and further contingency entered by hand."""
    sheet = book.add("Contingency", "Contingency", [46, 14, 14, 16, 16], one_page=True)
    sheet.head("Trouble that is in the means", "Times", "Each", "Expected", frozen=1)
    parts, fallback = supplement.estimate, supplement.ask.slices[2]
    met: list[tuple[str, Term, Term]] = []
    for words, code, unit in MET:
        times = parts.times(code, unit)
        met += [(words, times, parts.of_code(code, "2"))] if times.number else []
    for words, times, expected in (
        ("The fallback is needed", fallback.chance, fallback.expected),
        *met,
    ):
        often, mean = Cell(times), Cell(expected)
        sheet.line("text times money", words, often, Cell(quotient(mean, often)), mean)
    sheet.note(
        "At the limit asked for, from now on. Times: mean number. The first line holds the ones "
        "below it; do not add them."
    )
    sheet.section("Further contingency, entered by hand")
    sheet.head("What may happen", "Chance", "Days", "Charges", "Expected")
    kinds = "text % d money cents"
    for risk in supplement.risks:
        sheet.line(kinds, risk.words, risk.chance, risk.days, risk.charge, risk.expected)
    sheet.line(kinds, "Sum", None, None, None, supplement.by_hand, mark="total")
    words = "Share put on the slices for prices that are not agreed"
    sheet.line(kinds, words, supplement.price_contingency)
    words = "Line CT20 of the cost table"
    sheet.line(kinds, words, None, None, None, supplement.further, mark="total")
    sheet.note(
        "Expected = chance x (days x spread + charges). It counts in what is asked for, and is in "
        "none of the slices and options."
    )


def estimate_sheet(book: Book, supplement: Supplement) -> None:
    """Lay out every line as quantity x price; slices stand one after another in one block."""
    heads = ["Code", "Description", "Slice", "Unit"]
    heads += ["Quantity if every run fails", "Price used", "Amount"]
    heads += ["Quantity, mean", "Price used", "Amount, mean", "Stated mean price", "Contract"]
    widths = [7, 50, 9, 7, 12, 13, 14, 12, 13, 14, 13, 20]
    sheet = book.add("Estimate", "Quantity x price, at the limit in force", widths, one_page=True)
    sheet.head(*heads, left=4, frozen=2)
    lines = supplement.estimate.lines
    for before, line in zip((*lines[:1], *lines), lines, strict=False):
        sheet.line(
            "text text unit unit quantity price money quantity price money price unit",
            *(line.code, line.words, line.slice, line.unit),
            *(line.planned.quantity, line.planned.price, line.planned.amount),
            *(line.mean.quantity, line.mean.price, line.mean.amount),
            line.stated,
            line.reference,
            mark="line" if line.slice.value == before.slice.value else "begin",
        )
    sheet.note(
        "Amount = quantity x price. Means are already times the chance of what they pay for: a "
        "fallback that is needed in 3 cases of 10 has 0.3 of its days here. Quantities are the "
        "program's, for the limit in force; prices stand on the sheet Prices. What is compared and "
        "not spent, as value of the well given up, is asked of nobody. Of slice 2 the ask takes "
        "the mean where it is drawn: amount, mean, over its chance."
    )


def prices_sheet(book: Book, supplement: Supplement) -> None:
    """Lay out the prices, those of a part together; sums of the day rates below them."""
    parts = supplement.estimate
    sheet = book.add("Prices", "Prices", [26, 52, 15, 12, 26, 8, 22], upright=True)
    sheet.note(
        "Shaded cells may be changed. A price is that of the file, a range by its mean; once it is "
        "edited it is the number typed, and the column Edited says so."
    )
    sheet.head("Part", "Price of", "Amount", "", "", "Edited", "Contract", left=2, frozen=2)
    before = ""
    for price in parts.prices:
        share = price.unit == "share"
        sheet.line(
            f"text text {'%' if share else 'price'} unit text count text",
            price.part if price.part != before else "",
            price.words,
            price.cell,
            "" if share else price.unit,
            price.note,
            price.edited,
            price.reference,
            mark="begin" if before not in ("", price.part) else "line",
        )
        before = price.part
    for words, cell in (("Spread", parts.spread), ("Fishing day", parts.fishing_day)):
        row_of = "Sum of day rates", words, cell, "a day"
        sheet.line("text text price unit text", *row_of, None, None, None, mark="total")


def quantities_sheet(book: Book, supplement: Supplement) -> None:
    """Lay out what prices are multiplied by, of every limit: a working sheet."""
    parts = supplement.estimate
    limits, count = parts.limits, len(parts.heads)
    widths = [46, 9, 13, *[13] * max(2 * count + 2, len(limits.columns))]
    sheet = book.add(
        "Quantities", "What every price is multiplied by, of every limit", widths, frozen=(1, 1)
    )
    sheet.note("Working sheet, nothing to change. " + QUANTITIES)
    sheet.head("Limits at these prices", "", "", *limits.columns)
    for values in zip(*limits.columns.values(), strict=True):
        sheet.line("text text text price", None, None, None, *values)
    sheet.row += 1
    sheet.head("", "", "", "Mean, by limit", *[""] * (count - 1), "If every run fails, by limit")
    again = [Cell(head) for head in parts.heads]
    at = "At the limit", "Failing"
    kinds = " ".join(["text", "text", "text", *["count"] * (2 * count), "text"])
    sheet.line(kinds, "Quantity x ranges", "Slice", "Factor", *parts.heads, *again, *at)
    for row in parts.rows:
        moments = *row.values[0], *row.values[1], *row.at_limit
        sheet.line("text unit price", row.words, row.slice, row.factor, *moments)


def checks_sheet(book: Book, supplement: Supplement) -> None:
    """Lay out every check: a working sheet."""
    sheet = book.add("Checks", "Checks of what is typed", [44, 30, 60], upright=True)
    sheet.note(
        "Working sheet, nothing to change. The first sheet shows the last cell on the right."
    )
    sheet.head("What is looked at", "Fault", "Faults so far", left=3, frozen=1)
    for check in supplement.checks.rows:
        sheet.line("unit", check.name, check.fault, check.so_far)


def assumptions_sheet(book: Book, supplement: Supplement) -> None:
    """Lay out the words: what follows a change, what amounts rest on, what is not covered."""
    sheet = book.add("Assumptions", "Assumptions, limits, cautions", [46, 46], upright=True)
    sheet.frozen = (sheet.row, 0)
    codes = [f"{ours}: {code.theirs}" for ours, code in supplement.codes.items()]
    own = sorted({line.ours for line in supplement.costs.lines} - set(supplement.codes))
    if supplement.codes and own:
        codes.append("Codes without a mapping, shown as ours: " + ", ".join(own))
    parts = {
        "What follows a change, and what does not": follows(supplement),
        "What the amounts rest on": [*basis(supplement), PERCENTILES, WHOLE],
        "Codes: ours and the company's own": codes,
        "What is not covered": NOT_COVERED,
        "Before the vote": QUESTIONS,
        "Notes of the program": remarks(supplement),
        "Cautions": cautions(supplement),
    }
    for title, paragraphs in parts.items():
        if paragraphs:
            sheet.section(title)
        sheet.text(*paragraphs)


def rounding_sheet(book: Book, supplement: Supplement) -> None:
    """Lay out the sheet: slices and lines before rounding, then how each net is made."""
    shared = supplement.shares
    sheet = book.add(
        "Rounding",
        "How amounts are rounded so that they add up",
        [44, *[13] * (3 * len(shared.gross))],
    )
    sheet.note(
        "Working sheet, nothing to change. Each slice is rounded for itself. A line of it is the "
        "rise of the rounded sum so far, so that the lines sum to the slice."
    )
    sheet.head("Slices before rounding", "If every run fails", "Chance x mean", frozen=1)
    for each in supplement.ask.slices:
        sheet.line("text cents", each.words, each.planned, each.expected)
    sheet.line("text cents", "Sum", None, supplement.ask.expected_call, mark="total")
    sheet.note(
        "Slice 2 if every run fails is the fallback after the last run alone. The ask takes its "
        "mean wherever it is drawn, after a string or a hole lost as well."
    )
    if not all(supplement.ask.told):
        sheet.section("Slices of runs that are typed, which are on no page: no run is asked for")
        sheet.head("", "Chance", "Granted", "On average", "Mean if drawn", "P90 if drawn")
        slice_lines(sheet, supplement, told=False)
    sheet.section("Lines granted, before rounding")
    for line in supplement.costs.lines:
        if line.exact is not None:
            sheet.line("text cents", f"{line.code} {line.words}", line.exact)
    _nets(sheet, shared)


def _nets(sheet: Sheet, shared: Shares) -> None:
    """Low and key of each net by largest remainder, and the nets that stand behind others."""
    behind = [name for name in shared.gross if name not in SHARED]
    sheet.section("Nets behind those of the first sheet")
    sheet.note(shared.rule)
    if shared.working:
        sheet.note(
            "Low: units of the last decimal that a partner owes for certain. Key: what is left of "
            "its share, by which the units that are left are given out, of equal ones to the first "
            "in the file."
        )
    words = [name.replace("_", " ") for name in behind]
    sheet.head("", *words, *["Low", "Key"] * len(shared.working))
    kinds = " ".join(["text", *["cents"] * len(behind), *["count key"] * len(shared.working)])
    for number, partner in enumerate(shared.partners):
        nets = (partner.nets[name] for name in behind)
        pairs = (pair for each in shared.working for pair in (each.low[number], each.key[number]))
        sheet.line(kinds, partner.name, *nets, *pairs)
    left = (pair for each in shared.working for pair in (each.left, None))
    gross = (shared.gross[name] for name in behind)
    sheet.line(kinds, "Gross, units left", *gross, *left, mark="total")


def lost_sheet(book: Book, supplement: Supplement) -> None:
    """Lay out the schedule; nothing where nothing can be left."""
    rows = [row for row in supplement.lost if row.owed or row.invoice]
    if not rows:
        return
    sheet = book.add("Lost_in_hole", "Lost in hole, piece by piece", LOST_WIDTHS, one_page=True)
    sheet.head(*LOST_HEADS, left=3, frozen=1)
    invoices = whole([Cell(piece.invoice) for piece in rows])
    for piece, invoice in zip(rows, invoices, strict=True):
        sheet.line(
            LOST_KINDS,
            *(piece.name, piece.owner or "not stated", piece.clause or "not stated"),
            *(piece.replacement, piece.depreciation, piece.floor, piece.owed),
            *(piece.share, invoice.number, piece.credit, piece.back),
        )
    whole_sum = sum(each.number for each in invoices)
    sheet.line(LOST_KINDS, "Sum", *[None] * 7, whole_sum, None, None, mark="total")
    sheet.note(f"{LOST}{of_issue(supplement.answer)}.")
