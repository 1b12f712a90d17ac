"""The workings: Places, Paths, Limits and Split, from the inputs to the means."""

from __future__ import annotations

from econ.reports.tables.afe import Supplement
from econ.reports.tables.formula import Cell
from econ.reports.tables.plain import length_factor
from econ.reports.workbook.book import Book, Content, Sheet

SORTS = {
    "stop": "fishing stops",
    "string_lost": "fishing string lost",
    "hole_lost": "hole lost, from below the shoe",
}
LIMITS: dict[str, tuple[str, str]] = {
    "runs": ("Runs", "count"),
    "still": ("Chance still fishing", "factor"),
    "still_days": ("Days so far x chance", "factor"),
    "stopping": ("Fallback if stopped here x chance", "money"),
    "run_days": ("Days of the next run x chance", "factor"),
    "recovered": ("Recovered in it, chance", "factor"),
    "hole": ("Hole lost in it, chance", "factor"),
    "losing": ("Fallback if string or hole is lost x chance", "money"),
    "losing_owed": ("Owed for the string x chance", "money"),
    "made_days": ("Days of the runs made", "factor"),
    "made_charges": ("Charges made", "money"),
    "made_rented": ("Rentals made", "money"),
    "out": ("Recovered so far", "factor"),
    "no_hole": ("Hole lost so far", "factor"),
    "lost": ("Fallbacks of losses so far", "money"),
    "lost_owed": ("Owed for strings so far", "money"),
    "path_hours": ("Hours if all fail", "h"),
    "path_charges": ("Charges, rentals if all fail", "money"),
    "fishing_formula": ("Fishing by formula", "money"),
    "fallback_formula": ("Fallback by formula", "money"),
    "need_formula": ("Chance of fallback by formula", "factor"),
    "path_days": ("Days of runs if all fail", "d"),
    "days_formula": ("Days by formula", "d"),
    "planned_formula": ("Planned by formula", "money"),
    "fishing_factor": ("Factor on fishing", "factor"),
    "fallback_factor": ("Factor on fallback", "factor"),
    "need_factor": ("Factor on chance", "factor"),
    "days_factor": ("Factor on days", "factor"),
    "planned_factor": ("Factor on planned", "factor"),
    "fishing": ("Fishing, mean", "money"),
    "fallback": ("Fallback, mean", "money"),
    "expected_cost": ("Expected cost", "money"),
    "need": ("Chance of fallback", "odds"),
    "recovered_share": ("Chance recovered", "odds"),
    "days": ("Days if all fail", "d"),
    "planned": ("Planned", "money"),
}
PARTS = {
    "still": "States of the limit, and the run made from them",
    "made_days": "Sums over the runs before the limit",
    "fishing_formula": "Results by formula",
    "fishing_factor": "Factors",
    "fishing": "Results",
}
STATE_HEADS = {
    "runs_made": ("Runs made", "count"),
    "kept": ("Odds kept", "ratio"),
    "more_hours": ("Hours more", "h"),
    "hours": ("Hours of next run", "h"),
    "both": ("Chance", "factor"),
    "string": ("String lost next", "factor"),
    "stop_place": ("Place of a stop", "count"),
    "string_place": ("Place, string lost", "count"),
    "stop_bill": ("Fallback at a stop", "money"),
    "string_bill": ("Fallback, string lost", "money"),
    "stop_here": ("Stops here", "factor"),
    "string_here": ("String lost from here", "factor"),
}
PERCENTILES = {
    "p10": "P10",
    "p50": "P50",
    "p90": "P90",
    "cost_if_recovered": "Mean if out",
    "cost_if_fallback": "Mean if not",
}


def workings(book: Book, found: Supplement) -> None:
    """Lay out the four sheets."""
    _limits(book, found)
    _split(book, found)
    _paths(book, found)
    _places(book, found)


def _limits(book: Book, found: Supplement) -> None:
    """Limits stand beside one another; rows from their states to the results."""
    limits = found.model.limits
    sheet = book.add(Sheet("Limits", [44, *[13] * max(len(limits), 3)], one_page=len(limits) < 16))
    sheet.title("Limits: what each number of runs costs")
    for name, (words, kind) in LIMITS.items():
        if name in PARTS:
            sheet.section(PARTS[name])
        mark = "strong" if name in ("runs", "expected_cost") else "line"
        row = sheet.line((words, "text"), *((cells[name], kind) for cells in limits), mark=mark)
        if name == "runs":
            sheet.frozen, sheet.repeat = (row + 1, 1), (row, row)
    sheet.section("Percentiles and the means of the two ends, by the program")
    for name, words in PERCENTILES.items():
        sheet.line((words, "text"), *((held[name], "money") for held in found.percentiles))
    sheet.note(
        "A factor is the program's mean over what the formulas give for the inputs of the file. It "
        "stays as it is when an input is changed, and so do percentiles."
    )
    sheet.section("As the program wrote them, to tell whether an input has been changed")
    for words, name, kind in (
        ("Sum of the expected costs", "limits", "cents"),
        ("Revised total", "revised", "cents"),
        ("Limit asked for", "asked", "count"),
    ):
        sheet.line((words, "text"), (found.written[name], kind))


def _split(book: Book, found: Supplement) -> None:
    """Both stages by code, and what the fallbacks need for it."""
    parts = found.split
    sheet = book.add(Sheet("Split", [10, 30, 8, 17, 12, 17, 17, 17], one_page=True))
    sheet.title("Split: both stages by code, at the limit asked for")
    row = sheet.head(
        "Code", "Cause", "Stage", "By formula", "Factor", "Formula x factor", "Of the stage", left=2
    )
    sheet.frozen = (row + 1, 2)
    for share in parts.shares:
        sheet.line(
            (share.code or "none", "text"),
            (share.cause.replace("_", " "), "text"),
            (float(share.stage), "count"),
            (share.formula, "cents"),
            (share.factor, "factor"),
            (share.adjusted, "cents"),
            (share.value, "cents"),
        )
    sheet.section("Stages and their scale: mean of the stage over the sum of its lines")
    for words, mean, scale in (
        ("Stage 1, mean", Cell(parts.stage_1), parts.scales[0]),
        ("Stage 2, mean x chance", parts.stage_2, parts.scales[1]),
    ):
        sheet.line(
            (None, "text"), (words, "text"), (None, "text"), (mean, "cents"), (scale, "factor")
        )
    sheet.section("Fallbacks")
    sheet.head(
        "", "Fallback", "", "Chance", "Days", "Hours of retries", "Of whipstocks", "Bits", left=2
    )
    for each, days in zip(found.given.fallbacks, parts.fallbacks, strict=True):
        sheet.line(
            (None, "text"),
            (each.name, "text"),
            (None, "text"),
            (days.chance, "factor"),
            (days.days, "factor"),
            (days.retry_hours, "factor"),
            (days.whipstock_hours, "factor"),
            (days.bits, "factor"),
        )
    sheet.head("", "Lost in hole, its mean", left=2)
    for each, days in zip(found.given.fallbacks, parts.fallbacks, strict=True):
        sheet.line((None, "text"), (each.name, "text"), (None, "text"), (days.lost, "cents"))


def _paths(book: Book, found: Supplement) -> None:
    """States between runs: chances by kind of fish, hours, and what they lead to."""
    kinds = found.given.kinds
    extra = [
        f"{words}{f', {kind}' if kind else ''}"
        for words in ("Chance", "Days x chance")
        for kind in kinds
    ]
    sheet = book.add(Sheet("Paths", [10, 11, 9, *[12] * (len(STATE_HEADS) + len(extra))]))
    sheet.title("Paths: states between runs", 12)
    heads = [words for words, _ in STATE_HEADS.values()]
    row = sheet.head("State", "Fish top", "Top", *heads, *extra, left=0)
    sheet.frozen, sheet.repeat = (row + 1, 3), (row, row)
    factor = length_factor(found.answer)
    for number, (state, cells) in enumerate(
        zip(found.means.states, found.model.states, strict=True), start=1
    ):
        shown: list[tuple[Content, str]] = [
            (f"{number}*" if state.merged else str(number), "text"),
            (state.top / factor, "depth"),
            ("damaged" if state.damaged else "clean", "text"),
        ]
        shown += [(cells[name], kind) for name, (_, kind) in STATE_HEADS.items()]
        for name in ("weight", "days"):
            shown += [(cells[f"{name}_{kind}"], "factor") for kind in range(len(kinds))]
        sheet.line(*shown)
    sheet.note(
        "A state holds all histories that leave the same fish top and the same condition of it. "
        "With a star: unlikely states put together at their mean fish top.",
        12,
    )


def _places(book: Book, found: Supplement) -> None:
    """Where the fallback may start, and what each fallback costs from there."""
    fallbacks, pieces = found.given.fallbacks, found.given.pieces
    each = ("Hours more", "Hours more, retry", "Bit trips")
    count = len(fallbacks)
    heads = ["Place", "After", "Upper end", "Owed from", "Lost in hole", "Owed for a string"]
    heads += [f"{words} ({j})" for words in each for j in range(1, count + 1)]
    heads += [f"Cost ({j})" for j in range(1, count + 1)]
    heads += ["Least", "Taken", "With the string", "Chance, limit asked for"]
    heads += [f"Of it by ({j})" for j in range(1, count + 1)]
    heads += [f"Piece {number} left" for number in range(1, len(pieces) + 1)]
    sheet = book.add(Sheet("Places", [8, 28, *[12] * (len(heads) - 2)]))
    sheet.title("Places: where the fallback may start", 12)
    names = ", ".join(f"({j}) {one.name}" for j, one in enumerate(fallbacks, start=1))
    sheet.note(f"Fallbacks: {names}.", 12)
    row = sheet.head(*heads, left=0)
    sheet.frozen, sheet.repeat = (row + 1, 2), (row, row)
    factor = length_factor(found.answer)
    if pieces:
        shown: list[tuple[Content, str]] = [(None, "text")] * (len(heads) - len(pieces) - 1)
        owed = [(cell, "money") for cell in found.model.owed]
        sheet.line(*shown, ("owed", "text"), *owed)
    for place, chance, taken in zip(
        found.model.places, found.model.chances, found.model.taken, strict=True
    ):
        upper = place.place.upper
        row_of: list[tuple[Content, str]] = [
            (place.number, "count"),
            (SORTS[place.place.sort], "text"),
            (None if upper is None else upper / factor, "depth"),
            (place.place.pieces_top / factor, "depth"),
            (place.lost, "money"),
            (place.owed, "money"),
        ]
        for cells in (place.more_hours, place.more_retry_hours, place.bit_trips):
            row_of += [(cell, "h") for cell in cells]
        row_of += [(cell, "bill") for cell in place.costs]
        row_of += [(place.least, "money"), (place.taken, "count"), (place.bill, "money")]
        row_of += [(chance, "factor"), *((cell, "factor") for cell in taken)]
        row_of += [(cell, "%") for cell in place.left]
        sheet.line(*row_of)
