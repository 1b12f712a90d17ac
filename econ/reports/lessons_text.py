"""The lessons of a job as plain text: what was planned, stated and advised, and what came."""

from __future__ import annotations

from econ.decision.lessons import Lessons
from econ.reports import lessons_tables as tables
from econ.reports import sentences
from econ.reports.tables.plain import Row
from econ.reports.words import Money, one_line, runs, wrap

ROUNDING = 1e-9  # of a score: two scores this close are the same
WITHIN = 2.0  # deviations within which a score is one that odds of that kind expect


def lessons_text(lessons: Lessons) -> str:
    """All lessons, in lines of at most 64 characters.

    >>> import econ
    >>> job = econ.load("scenarios/point/a_land_twist_off.toml", ["draws.n=64"])
    >>> log = econ.read_log("scenarios/logs/a_two_runs.csv", job)
    >>> print(lessons_text(econ.lessons(job, log)).splitlines()[0])
    LESSONS from 2 rows of the log; the job goes on.
    """
    money = Money(lessons.mornings[0])
    parts = [
        _head(lessons),
        _hours_and_cost(lessons, money),
        _odds(lessons),
        _mornings(lessons, money),
        _regret(lessons, money),
        _records(lessons),
    ]
    return "\n\n".join("\n".join(part) for part in parts if part) + "\n"


def _head(lessons: Lessons) -> list[str]:
    ended = lessons.mornings[-1].ended
    how = "the job goes on"
    if lessons.stopped:
        how = "fishing was then stopped"
    elif ended is not None:
        how = f"the job ended: {ended.replace('_', ' ')}"
    count = len(lessons.runs)
    rows = "1 row" if count == 1 else f"{count} rows"
    well = one_line(lessons.scenario.job.well)
    return [*wrap(f"LESSONS from {rows} of the log; {how}."), *wrap(well)]


def named(do: object) -> str:
    """A run by its number, a reading by its name."""
    return f"run {do}" if isinstance(do, int) else one_line(str(do))


def _name(row: Row) -> str:
    return "-" if row["run"] is None else str(row["run"])


def _outcome(row: Row) -> str:
    return str(row["outcome"]).replace("_", " ")


def _hours_and_cost(lessons: Lessons, money: Money) -> list[str]:
    total = tables.totals(lessons)
    lines = [
        f"HOURS AND COST, planned and actual ({money.unit}):",
        "  row  run  outcome        planned  hours   planned     cost",
    ]

    def hours(value: float | None) -> str:
        return "-" if value is None else f"{value:.1f}"

    def cost(value: float | None) -> str:
        return "-" if value is None else money.short(value)

    for row in tables.run_rows(lessons):
        lines.append(
            f"{row['row']:>5}{_name(row):>5}  {_outcome(row):<14}{hours(row['hours_planned']):>8}"
            f"{hours(row['hours']):>7}{cost(row['cost_planned']):>10}{cost(row['cost']):>9}"
        )
    lines.append(
        f"{'in all':<26}{hours(total['hours_planned']):>8}{hours(total['hours']):>7}"
        f"{cost(total['cost_planned']):>10}{cost(total['cost']):>9}"
    )
    words = (
        "planned: what the run that was made was expected to take, as known that morning, with the "
        "mobilization."
    )
    if any(not row.finished for row in lessons.runs):
        words += " A run stopped half way has no plan of its own: what it took is on top."
    if total["rows_without_cost"]:
        words += (
            f" {runs(total['rows_without_cost'])} without a cost in the log: left out of both sums "
            "of cost."
        )
    if total["hours_between"] > 0:
        words += f" Between the runs lie {total['hours_between']:.1f} h."
    return lines + wrap(words)


def _odds(lessons: Lessons) -> list[str]:
    brier = lessons.brier
    if brier is None:
        return []
    lines = [
        "ODDS STATED BEFORE EACH RUN, AND WHAT CAME:",
        "  row  run  came           out odds  of what came   score",
    ]
    for row in tables.run_rows(lessons):
        stated = row["odds_stated"]
        if stated is None:
            continue
        lines.append(
            f"{row['row']:>5}{_name(row):>5}  {_outcome(row):<14}{stated['recovered']:>9.2f}"
            f"{stated[row['outcome']]:>14.2f}{row['brier']['score']:>8.2f}"
        )
    lines += wrap(
        f"Brier score {brier.score:.2f} over {runs(brier.runs)}, of all outcomes: 0 is the best, 2 "
        f"the worst. If the odds are right, a score of {brier.expected:.2f} is to be expected, "
        f"give or take {brier.deviation:.2f}."
    )
    gap = brier.score - brier.expected
    if abs(gap) <= WITHIN * brier.deviation + ROUNDING:
        lines += wrap("So nothing is said against the odds stated: a few runs cannot tell.")
    elif gap > 0:
        lines += wrap("The odds stated were surer than what came allows.")
    else:
        lines += wrap("The odds stated were less sure than what came allows.")
    return lines


def _mornings(lessons: Lessons, money: Money) -> list[str]:
    lines = ["KNOWN EACH MORNING:"]
    for row in tables.mornings(lessons):
        when = "now" if row["before_row"] is None else f"before row {row['before_row']}"
        if row["time"]:
            when += f", {row['time'][:16].replace('T', ' ')}"
        words = f"- {when}: {row['words']}"
        words += f" Expected cost {money.short(row['expected_cost'])}"
        if row["by"] == "plan":
            do = row["advised"]
            first = "stops" if do == "stop" else f"begins with {named(do)}"
            words += f"; {money.short(row['cost_advised'])} by a plan that {first}"
        if row["workable"] is not None:
            words += (
                f". Belief {row['workable']:.2f}; run {row['next_run']} is next in the list, at "
                f"odds {row['next_odds']:.2f}"
            )
        words += "."
        lines += wrap(words, hang=2)
    return lines


def _regret(lessons: Lessons, money: Money) -> list[str]:
    total = tables.totals(lessons)
    lines = [
        f"REGRET AND LUCK ({money.unit}):",
        "  row  done            advised             regret     luck",
    ]

    for row in tables.run_rows(lessons):
        regret = "-" if row["regret"] is None else money.short(row["regret"])
        lines.append(
            f"{row['row']:>5}  {named(row['done'])[:14]:<14}  {named(row['advised'])[:14]:<14}"
            f"{regret:>12}{money.short(row['luck']):>9}"
        )
    if total["stop_regret"] is not None:
        lines.append(f"{'end':>5}  {'stop':<32}{money.short(total['stop_regret']):>10}")
    lines.append(f"{'in all':<37}{money.short(total['regret']):>12}{money.short(total['luck']):>9}")
    lines += wrap(
        f"Expected before the first row: {money.short(total['expected_at_first'])}. It comes to "
        f"{money.short(total['total'])}: {money.short(total['spent'])} so far and "
        f"{money.short(total['expected_still'])} still expected. The difference is regret and "
        "luck."
    )
    lines += wrap(
        "regret: the expected cost of what was done less that of what the program advised, both as "
        "known then. It is 0 where the advice was taken. luck: all else, what came against what "
        "was to be expected. A minus is money saved."
    )
    if total["regret_unknown"]:
        lines += wrap("A regret of - is not known, and is in the luck.")
    if any(known.by == "plan" for known in lessons.mornings):
        lines += wrap(
            "Where a plan was advised, a regret can be too high: it takes the job to go on by the "
            "best limit after the run that was made."
        )
    if total["cost_between"] > 0:
        lines += wrap(
            f"Time between the runs is not in the log: it is taken at the spread, "
            f"{money.short(total['cost_between'])} in all."
        )
    if total["rows_without_cost"]:
        lines += wrap("A row without a cost is taken as planned.")
    if too_much := sentences.overspent(lessons.mornings[-1]):
        lines += wrap(too_much)
    return lines


def _records(lessons: Lessons) -> list[str]:
    count = len(tables.record_rows(lessons))
    left = len(lessons.runs) - count
    words = f"FOR econ odds: {count} {'row' if count == 1 else 'rows'}; --out writes them."
    if left:
        words += f" {left} left out: readings, and runs stopped half way, are no trials."
    return wrap(words)
