"""What can be done, the authority in two stages, the stop rule, and the trouble in the means.

P10, P50 and P90 are costs not exceeded with a chance of 10, 50 and 90 %; they come from the
program's draws and stay as they are when an input of the sheet is changed.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from econ.decision import Answer
from econ.reports.tables.afe_inputs import Inputs
from econ.reports.tables.afe_lines import NOT_SPENT, Split
from econ.reports.tables.afe_model import Model
from econ.reports.tables.formula import Cell, Term, at, block, over, sum_of, total, when
from econ.reports.tables.memo import stop_rule

EPOCH = datetime(1899, 12, 30)  # day 0 of a sheet's dates
FIRST_YEAR = 1901  # before it a sheet's dates are not sure
PERCENTILES = ("p10", "p50", "p90", "cost_if_recovered", "cost_if_fallback")
LEAST_CHANCE = 1e-12  # below it the second stage is not needed


@dataclass(frozen=True)
class Option:
    """Something that can be done and what it gives; `results` by column."""

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
    expected: Cell
    each: Cell


def serial(moment: date) -> float | str:
    """A day or moment as a sheet counts it, without its time zone; in words before 1901.

    >>> serial(date(2026, 3, 1)), serial(datetime(2026, 3, 14, 6, 0))
    (46082.0, 46095.25)
    """
    if moment.year < FIRST_YEAR:
        return moment.isoformat()
    start = moment if isinstance(moment, datetime) else datetime(*moment.timetuple()[:3])
    return (start.replace(tzinfo=None) - EPOCH) / timedelta(days=1)


def percentiles(answer: Answer) -> tuple[dict[str, Cell], ...]:
    """Percentiles of every limit, and its mean cost with the fish out and without."""
    return tuple(
        {name: _number(getattr(row, name)) for name in PERCENTILES} for row in answer.by_runs
    )


def stages(answer: Answer, found: Model, parts: Split) -> dict[str, Cell]:
    """Authority in two stages at the limit asked for. asked: what every run to the limit costs
    if all fail; with the fish out it is the work that is left to do."""
    need = Cell(found.asked_for("need"), name="Stage_2_chance")
    mean = Cell(when(over(need, LEAST_CHANCE), parts.stage_2 / need, 0.0), name="Stage_2_mean")
    given_up = [share.value for share in parts.shares if share.cause == NOT_SPENT]
    not_spent = Cell(
        when(over(need, LEAST_CHANCE), sum_of(given_up) / need, 0.0) if given_up else 0.0
    )
    spending = Cell(mean - not_spent, name="Stage_2_spending")
    authority = answer.authority
    planned = Cell(found.asked_for("planned"), name="Stage_1_planned")
    return {
        "runs": found.asked,
        "days": Cell(found.asked_for("days")),
        "planned": planned,
        "asked": Cell(planned if answer.ended != "recovered" else parts.stage_1),
        "mean": parts.stage_1,
        "p90": _number(authority.stage_1.p90),
        "need": need,
        "stage_2_mean": mean,
        "not_spent": not_spent,
        "spending": spending,
        "stage_2_p90": _number(authority.stage_2.p90),
        "expected_cost": Cell(found.asked_for("expected_cost"), name="Expected_cost"),
        "expected_call": Cell(parts.stage_1 + need * spending, name="Expected_call"),
    }


def options(answer: Answer, found: Model, held: tuple[dict[str, Cell], ...]) -> tuple[Option, ...]:
    """Stop now, fish to the limit asked for, fish to the end of the program."""
    last = len(found.limits) - 1
    fallback = answer.fallbacks.taken.name if answer.ended is None else "what is left to do"

    def fixed(words: str, number: int) -> Option:
        row = found.limits[number]
        live = {name: Cell(row[key]) for name, key in _LIVE.items()}
        return Option(words, live | {name: Cell(c) for name, c in held[number].items()})

    rows = [fixed(f"Stop now: {fallback}", 0)]
    if last > 0:
        live = {name: Cell(found.asked_for(key)) for name, key in _LIVE.items()}
        live["runs"] = Cell(found.asked)
        for name in PERCENTILES:
            column = block(each[name] for each in held)
            live[name] = Cell(at(column, found.asked + 1))
        rows.append(Option("Asked for: fish to the limit, then the fallback", live))
        rows.append(fixed("Fish to the end of the program", last))
    return tuple(rows)


_LIVE = {"runs": "runs", "days": "days", "mean": "expected_cost", "recovered": "recovered_share"}


def rule(answer: Answer, found: Model, stage: dict[str, Cell]) -> tuple[RuleRow, ...]:
    """When fishing stops, whichever comes first, and today's position."""
    stated = stop_rule(answer)
    rows = [
        RuleRow("Runs from now on, at most", "count", found.asked, None),
        RuleRow("Days from now on, if every run fails", "d", stage["days"], None),
        RuleRow("Money from now on, if every run fails", "money", stage["planned"], None),
        RuleRow("No run begins later than, from now", "d", Cell(stated["no_run_after_days"]), None),
    ]
    latest = stated["latest_start"]
    if latest is not None:
        rows.append(RuleRow("That is by the clock", "moment", Cell(serial(latest)), None))
    made = {
        "count": Cell(float(stated["runs_made"])),
        "d": Cell(float(stated["days_made"])),
        "money": Cell(float(stated["money_made"])),
    }
    return tuple(
        RuleRow(row.words, row.unit, row.limit, made[row.unit]) if number < 3 else row
        for number, row in enumerate(rows)
    )


def trouble(given: Inputs, found: Model, parts: Split) -> tuple[Trouble, ...]:
    """Trouble in the means, at the limit asked for."""

    def value(code: str) -> Term:
        return sum_of(share.value for share in parts.shares if share.code == code)

    sticks = [
        days.chance * each["stick_again.chance" if each.sidetrack else "trouble.chance"]
        for each, days in zip(given.fallbacks, parts.fallbacks, strict=True)
    ]
    strings = total(block(row["string_here"] for row in found.states))
    holes = at(found.column("no_hole"), found.asked + 1)
    rows = [
        ("The fallback is needed", found.asked_for("need"), parts.stage_2),
        ("The fish is left in the hole", found.asked_for("need"), value("LH20")),
        ("The fishing string or the hole is lost", strings + holes, value("LH50")),
        ("Sticking again, or trouble of the fallback", sum_of(sticks), value("ST85")),
    ]
    again = [
        days.chance * sums.retries + days.chance * sums.attempts
        for each, sums, days in zip(given.fallbacks, found.sums, parts.fallbacks, strict=True)
        if each.sidetrack
    ]
    if again:
        rows.append(("A kick-off fails and is made again", sum_of(again), value("ST80")))
    table = []
    for words, times, expected in rows:
        often, mean = Cell(times), Cell(expected)
        table.append(Trouble(words, often, mean, Cell(when(over(often, 0.0), mean / often, 0.0))))
    return tuple(table)


def _number(value: float | None) -> Cell:
    """A number of the program; empty where there is none."""
    return Cell("" if value is None or not math.isfinite(value) else value)
