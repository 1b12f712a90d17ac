"""What could be done, and what comes first: options with their percentiles, safety and duties."""

from __future__ import annotations

from datetime import timedelta

from econ.decision import Answer
from econ.decision.choices import Choice, required_runs
from econ.reports import safety
from econ.reports.cautions import SHORT
from econ.reports.names import one_line
from econ.reports.outcome_words import OUTCOMES
from econ.reports.supplement.book import Book, Content, Sheet, room_of
from econ.reports.supplement.content import Supplement
from econ.reports.supplement.moments import of_issue
from econ.reports.supplement.phrases import OPTIONS
from econ.reports.supplement.words import depths, in_the_ask, required

KINDS = "text text count d d money money money money money money % money"
WIDTHS = (34, 19, 5, 7, 7)  # of what stands before the amounts, which have the room they need
HEADS = (
    "From now on",
    "Remark",
    "Runs",
    "Days if all fail",
    "Days to its end",
    "Mean, cash",
    "Value given up",
    "Mean of both",
    "P10",
    "P50",
    "P90",
    "Fish out",
    "A day of it",
)
TITLE = "What comes first, and what could be done instead"
NOTE = (
    "A fallback now: as if no other were open. Days if all fail: of fishing, if no run brings the "
    "fish; to its end: until a fallback or a reading is done, or the reply is due. The mean of a "
    "reading is its price; what it is worth stands above. To suspend, or not to answer, costs the "
    "spread and brings nothing: the fish and the hole get no better, and what it costs to release "
    "the rig and bring it back is not stated. P10, P50 and P90 are costs not exceeded with a "
    "chance of 10, 50 and 90 %, each found for itself, so that two of one amount may differ by "
    "about a part in 10,000. A price that is changed in this workbook does not move this sheet: it"
    " is "
)
FISHING = ("limit", "end", "plan")  # sorts of a choice whose days are those of fishing
PLAN = (
    "The plan and the limit differ in chance and cost, because the limit makes the runs in the "
    "order listed, and the plan chooses each by what came out before: it may leave out a run, take "
    "another, stop sooner or, where more runs are granted, go on longer. Its P10, P50 and P90 are "
    "not worked out."
)
GIVEN_UP = (
    "Cash is what is spent. Value given up is that of the well where a fallback leaves it behind: "
    "it is not spent and not asked for, and counts in the comparison, so in the mean of both and "
    "in P10, P50 and P90."
)
RUNS = ("Runs asked for, in order", "", "", "Days", "", "Cost", *[""] * 5, "Fish out", "Made")
MADE = ("Made before this issue", "Outcome", "", "Days", "", "Cost, as logged", *[""] * 7)
ODDS = ("At other odds of recovery", "", "Runs", *[""] * 4, "Mean of both", *[""] * 4, "Slice 2")
OF_ODDS = (
    "Odds p/(1 - p) of all runs times a factor. Runs: the best limit at those odds; mean: its "
    "expected cost; slice 2: its chance. At break-even stopping now and fishing on cost the same. "
    "On few draws, so that they may differ from the rest by their error."
)
FIRST = "To be done before any choice"
BEYOND = ", made although a stop was advised then"
OF_RUNS = (
    "A run: its days and cost, and its chance to bring the fish, if every run before it failed; "
    "made: the chance that it is begun. Mobilization and what rentals cost beside the runs are in "
    "slice 1a as well."
)
BEFORE = (
    "A fallback now begins from the fish as it is; one in slice 2 begins after the runs, from what "
    "they leave, with a string or the hole lost in some cases, so that the two have other prices."
)


def choices_sheet(book: Book, supplement: Supplement) -> None:
    """Lay out what comes first, the options, and what safety and the rules ask for."""
    answer = supplement.answer
    least = required_runs(answer)
    rows = [_cells(choice, answer.best, least) for choice in supplement.choices]
    amounts = [cell for row in rows for cell in (*row[5:11], row[12])]
    room = max(9.0, *(1.1 * room_of(cell, "money") for cell in amounts))
    sheet = book.add("Choices", TITLE, (*WIDTHS, *[room] * 6, 8, room), one_page=True)
    sheet.text(*required(supplement), *in_the_ask(supplement), mark="strong")
    sheet.head(*HEADS, left=2, frozen=1)
    for choice, row in zip(supplement.choices, rows, strict=True):
        sheet.line(KINDS, *row, mark="strong" if choice.asked else "line")
    sheet.note(f"{NOTE}{of_issue(answer)}.")
    if any(choice.sort == "plan" for choice in supplement.choices):
        sheet.note(PLAN)
    if any(choice.given_up for choice in supplement.choices):
        sheet.note(GIVEN_UP)
    sheet.text(depths(answer))
    if answer.log:
        _made(sheet, answer)
    if supplement.ask.fishes:
        sheet.note(BEFORE)
        _runs(sheet, answer)
    if supplement.odds:
        _other_odds(sheet, supplement)
    job = answer.as_left
    said = [*safety.warnings(job), *safety.barred_runs(job), *safety.checklist(job), SHORT[-1]]
    sheet.section("Safety and duties, whatever is chosen")
    sheet.text(*dict.fromkeys(said))


def _made(sheet: Sheet, answer: Answer) -> None:
    """What was made before this issue, by the log."""
    sheet.head(*MADE, left=2)
    actions = answer.scenario.actions
    for row, then in zip(answer.log, answer.limits_then, strict=True):
        days = (row.end - row.start) / timedelta(days=1)
        name = one_line(actions[row.run].name) + (BEYOND if then.beyond else "")
        cells = [name, OUTCOMES[row.outcome], None, days, None, row.cost]
        sheet.line(KINDS, *cells, *[None] * 7)


def _runs(sheet: Sheet, answer: Answer) -> None:
    """The runs up to the limit."""
    made = {number: chance for number, chance, _ in answer.quantities[answer.best].made}
    sheet.head(*RUNS)
    first = answer.quantities[answer.best].expected["common"]
    if first > 0:
        cells = [None, None, answer.timetable.begin, None, first, *[None] * 7]
        sheet.line(KINDS, FIRST, *cells)
    for run in answer.ahead[: answer.best]:
        amounts = [None, None, run.days, None, run.cost, *[None] * 5, run.odds, made.get(run.run)]
        sheet.line(f"{KINDS[:-5]}%", f"{run.run + 1}. {one_line(run.name)}", *amounts)
    sheet.note(OF_RUNS)


def _other_odds(sheet: Sheet, supplement: Supplement) -> None:
    """What the limit, its mean and the chance of a fallback are at other odds."""
    sheet.head(*ODDS)
    for each in supplement.odds:
        words = f"x {each.factor:.3g}{', break-even' if each.break_even else ''}"
        cells = [None, float(each.runs), None, None, None, None, each.mean, *[None] * 4]
        sheet.line(f"{KINDS[:-5]}%", words, *cells, each.slice_2)
    sheet.note(OF_ODDS)


def _cells(choice: Choice, limit: int, least: int) -> list[Content]:
    remark = "asked for" if choice.asked else ""
    if choice.sort == "plan" and limit:
        remark = "followed" if (choice.runs or 0) <= limit else "beyond what is asked"
    if choice.ruled_out == "runs":
        remark = f"ruled out: {least} required"
    elif choice.ruled_out == "closed":
        remark = "not open now"
    runs = None if choice.runs is None else float(choice.runs)
    cash = None if choice.mean is None else choice.mean - (choice.given_up or 0.0)
    amounts = cash, choice.given_up, choice.mean, choice.p10, choice.p50, choice.p90
    name = OPTIONS[choice.sort].format(name=choice.name)
    days = [choice.days, None] if choice.sort in FISHING else [None, choice.days]
    return [name, remark, runs, *days, *amounts, choice.recovered, choice.day]
