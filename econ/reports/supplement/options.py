"""What can be done, the stop rule, and the trouble in the means.

P10, P50 and P90 are costs not exceeded with a chance of 10, 50 and 90 %. Options, odds and
percentiles are those of the issue: they stay as they are when a price of the sheet is changed.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from econ.decision import Answer
from econ.decision.reply import zone_of
from econ.reports.supplement.ask import Slice
from econ.reports.supplement.cells import EPOCH, Cell, Term, moment_in_words, quotient
from econ.reports.supplement.estimate import Estimate
from econ.reports.tables.memo import stop_rule

LOCAL = "local time at the well"  # the zone of a file that names none
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


def in_words(moment: datetime) -> str:
    """A moment as these papers write it, without its time zone.

    >>> in_words(datetime(2026, 3, 18))
    'Tue 17 Mar 2026 24:00'
    """
    found = serial(moment)
    return found if isinstance(found, str) else str(moment_in_words(Cell(found)).value)


def of_issue(answer: Answer) -> str:
    """Which issue a percentile, an option or a date is of, in words."""
    issued = answer.scenario.afe.issued_at or answer.now
    return "of the issue" if issued is None else f"of the issue dated {issued:%Y-%m-%d}"


def number(value: float | None) -> Cell:
    """A number of the program; empty where there is none."""
    return Cell("" if value is None or not math.isfinite(value) else value)


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


def rule(answer: Answer, parts: Estimate, fishing: Cell) -> tuple[RuleRow, ...]:
    """When fishing stops, whichever comes first, and today's position. fishing: slice 1a as it is
    granted."""
    stated = stop_rule(answer)
    limits = parts.limits
    cells = (limits.limit, Cell(limits.at("days")), Cell(fishing))
    words = (
        ("Runs from now on, at most", "count", "runs_made"),
        ("Days from now on, if every run fails", "d", "days_made"),
        ("Money from now on, if every run fails", "money", "money_made"),
    )
    rows = [
        RuleRow(label, unit, cell, Cell(float(stated[name])))
        for (label, unit, name), cell in zip(words, cells, strict=True)
    ]
    last = Cell(stated["no_run_after_days"])
    rows.append(RuleRow("No run begins later than, from now", "d", last, None))
    latest = stated["latest_start"]
    if latest is not None:
        zone = zone_of(answer.scenario, answer.now) or LOCAL
        clock = Cell(f"{in_words(latest)} ({zone})")
        rows.append(RuleRow("That is by the clock", "text", clock, None))
    return tuple(rows)


def trouble(parts: Estimate, fallback: Slice) -> tuple[Trouble, ...]:
    """Trouble in the means, at the best limit."""
    rows: list[tuple[str, Term, Term]] = [
        ("The fallback is needed", fallback.chance, fallback.expected)
    ]
    for code, unit, words in (
        ("LH20", "pieces", "Pieces of the fish are left in the hole, number"),
        ("LH50", "", "A fishing string is owed, wholly or in part"),
        ("ST80", "times", "A kick-off fails and is made again"),
        ("ST85", "", "Sticking again, or trouble of the fallback"),
    ):
        times = parts.times(code, unit)
        if times.number:
            rows.append((words, times, parts.of_code(code, "2")))
    table = []
    for words, times, expected in rows:
        often, mean = Cell(times), Cell(expected)
        cost = Cell(quotient(mean, often))
        table.append(Trouble(words, often, cost, mean))
    return tuple(table)
