"""What can be done, the authority in two stages, the stop rule, and the trouble in the means.

P10, P50 and P90 are costs not exceeded with a chance of 10, 50 and 90 %. Options, odds and
percentiles are those of the issue: they stay as they are when a price of the sheet is changed.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from econ.decision import Answer
from econ.reports.supplement.cells import Cell, Term, over, when
from econ.reports.supplement.estimate import Estimate
from econ.reports.tables.memo import stop_rule

EPOCH = datetime(1899, 12, 30)  # day 0 of a sheet's dates
FIRST_YEAR = 1901  # before it a sheet's dates are not sure
RESULTS = {  # columns of the options: the name in a limit, words, kind of number
    "runs": ("runs", "Runs", "count"),
    "days": ("days", "Days if all fail", "d"),
    "mean": ("expected_cost", "Mean", "money"),
    "p10": ("p10", "P10", "money"),
    "p50": ("p50", "P50", "money"),
    "p90": ("p90", "P90", "money"),
    "recovered": ("probability_recovered", "Fish out", "%"),
    "cost_if_recovered": ("cost_if_recovered", "Mean if it is out", "money"),
    "cost_if_fallback": ("cost_if_fallback", "Mean if it is not", "money"),
}


@dataclass(frozen=True)
class Option:
    """Something that can be done and what it gives; `results` by the names of RESULTS."""

    words: str
    results: dict[str, Cell]


@dataclass(frozen=True)
class RuleRow:
    """A limit of the stop rule and where the job stands against it; unit: count, d, money."""

    words: str
    unit: str
    limit: Cell
    position: Cell | None


@dataclass(frozen=True)
class Trouble:
    """Trouble that is in the means already: how often it is met, what it costs each time."""

    words: str
    times: Cell
    cost: Cell
    expected: Cell


def serial(moment: date) -> float | str:
    """A day or moment as a sheet counts it, without its time zone; in words before 1901.

    >>> serial(date(2026, 3, 1)), serial(datetime(2026, 3, 14, 6, 0))
    (46082.0, 46095.25)
    """
    if moment.year < FIRST_YEAR:
        return moment.isoformat()
    start = moment if isinstance(moment, datetime) else datetime(*moment.timetuple()[:3])
    return (start.replace(tzinfo=None) - EPOCH) / timedelta(days=1)


def number(value: float | None) -> Cell:
    """A number of the program; empty where there is none."""
    return Cell("" if value is None or not math.isfinite(value) else value)


def stages(answer: Answer, parts: Estimate) -> dict[str, Cell]:
    """Authority in two stages at the best limit. asked: what every run to the limit costs if all
    fail; with the fish out it is the work that is left to do."""
    authority, limit = answer.authority, answer.limit
    need = Cell(authority.stage_2.probability, name="Stage_2_chance")
    planned = Cell(parts.planned, name="Stage_1_planned")
    mean = Cell(parts.of_slice("fishing") + parts.of_slice("recovery"), name="Stage_1_mean")
    spending = Cell(_if_drawn(parts.of_slice("fallback"), need), name="Stage_2_spending")
    not_spent = Cell(_if_drawn(parts.of_slice("compared"), need))
    return {
        "runs": Cell(float(limit.runs)),
        "days": Cell(limit.days),
        "planned": planned,
        "asked": Cell(planned if answer.ended != "recovered" else mean),
        "mean": mean,
        "p90": number(authority.stage_1.p90),
        "need": need,
        "spending": spending,
        "not_spent": not_spent,
        "stage_2_p90": number(authority.stage_2.p90),
        "expected_call": Cell(mean + need * spending, name="Expected_call"),
    }


def _if_drawn(expected: Term, need: Cell) -> Term:
    return when(over(need, 0.0), expected / need, 0.0)


def options(answer: Answer) -> tuple[Option, ...]:
    """Stop now, fish to the best limit, fish to the end of the program."""
    fallback = answer.fallbacks.taken.name if answer.ended is None else "what is left to do"
    named = {0: f"Stop now: {fallback}"}
    if len(answer.by_runs) > 1:
        named[len(answer.by_runs) - 1] = "Fish to the end of the program"
        if answer.best:
            named[answer.best] = "Asked for: fish to the limit, then the fallback"
    rows = []
    for runs in sorted(named):
        limit = answer.by_runs[runs]
        results = {name: number(getattr(limit, key)) for name, (key, _, _) in RESULTS.items()}
        rows.append(Option(named[runs], results))
    return tuple(rows)


def rule(answer: Answer, stage: dict[str, Cell]) -> tuple[RuleRow, ...]:
    """When fishing stops, whichever comes first, and today's position."""
    stated = stop_rule(answer)
    made = (float(stated[name]) for name in ("runs_made", "days_made", "money_made"))
    rows = [
        RuleRow(words, unit, Cell(stage[name]), Cell(position))
        for (words, unit, name), position in zip(
            (
                ("Runs from now on, at most", "count", "runs"),
                ("Days from now on, if every run fails", "d", "days"),
                ("Money from now on, if every run fails", "money", "planned"),
            ),
            made,
            strict=True,
        )
    ]
    last = Cell(stated["no_run_after_days"])
    rows.append(RuleRow("No run begins later than, from now", "d", last, None))
    latest = stated["latest_start"]
    if latest is not None:
        rows.append(RuleRow("That is by the clock", "moment", Cell(serial(latest)), None))
    return tuple(rows)


def trouble(parts: Estimate, stage: dict[str, Cell]) -> tuple[Trouble, ...]:
    """Trouble in the means, at the best limit."""
    rows: list[tuple[str, Term, Term]] = [
        ("The fallback is needed", stage["need"], parts.of_slice("fallback"))
    ]
    for code, unit, words in (
        ("LH20", "share", "The fish is left in the hole, share of its value"),
        ("LH50", "", "A fishing string is owed, wholly or in part"),
        ("ST80", "times", "A kick-off fails and is made again"),
        ("ST85", "", "Sticking again, or trouble of the fallback"),
    ):
        times = parts.times(code, unit)
        if times.number:
            rows.append((words, times, parts.of_code(code)))
    table = []
    for words, times, expected in rows:
        often, mean = Cell(times), Cell(expected)
        cost = Cell(when(over(often, 0.0), mean / often, 0.0))
        table.append(Trouble(words, often, cost, mean))
    return tuple(table)
