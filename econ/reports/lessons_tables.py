"""Tables of the lessons of a job, and its rows as a record of a past job."""

from __future__ import annotations

from typing import Any

from econ.decision.lessons import Brier, Lessons, RunLesson, advised
from econ.records.columns import COLUMNS, LONGEST_JOB
from econ.reports.names import one_line
from econ.reports.sentences import verdict
from econ.reports.tables.figures import as_csv
from econ.reports.tables.plain import Row, plain
from econ.reports.tables.situation import Situation
from econ.reports.words import Money
from econ.scenario.program import OUTCOMES, OddsByKind
from econ.scenario.scenario import Scenario


def run_rows(lessons: Lessons) -> list[Row]:
    """One row a row of the log: planned and actual, stated and came, regret and luck."""
    return [_run_row(row) for row in lessons.runs]


def _run_row(row: RunLesson) -> Row:
    return {
        "row": row.row,
        "run": row.run,
        "name": row.name,
        "outcome": row.outcome,
        "hours_waited": row.waited,
        "hours_planned": row.planned_hours,
        "hours": row.hours,
        "cost_planned": row.planned_cost,
        "cost": row.cost,
        "cost_between": row.between,
        "odds_stated": dict(zip(OUTCOMES, row.chances, strict=True)) if row.chances else None,
        "brier": None if row.brier is None else _brier(row.brier),
        "advised": row.advised,
        "done": row.done,
        "cost_advised": row.advised_cost,
        "cost_done": row.done_cost,
        "regret": None if row.regret is None else row.regret.value,
        "regret_error": None if row.regret is None else row.regret.error,
        "luck": row.luck,
    }


def _brier(score: Brier) -> Row:
    return {
        "runs": score.runs,
        "score": score.score,
        "expected": score.expected,
        "deviation": score.deviation,
    }


def mornings(lessons: Lessons) -> list[Row]:
    """What was known before each row, and what is known now."""
    rows = []
    for place, known in enumerate(lessons.mornings):
        money = Money(known)
        last = place == len(lessons.log)
        said = verdict(Situation.of_answer(known), money, brief=True)
        ahead = known.ahead[0] if known.ahead else None
        do, cost = advised(known)
        rows.append(
            {
                "before_row": None if last else lessons.log[place].row,
                "time": None if known.now is None else known.now.isoformat(),
                "verdict": said.case,
                "words": said.headline,
                "best_runs": known.best,
                "workable": None if ahead is None else ahead.workable,
                "next_run": None if ahead is None else ahead.run + 1,
                "next_odds": None if ahead is None else ahead.odds,
                "expected_cost": known.limit.expected_cost,
                "expected_cost_error": known.limit.standard_error,
                "fallback_now": known.by_runs[0].expected_cost,
                "by": known.by,
                "advised": None if known.ended else do,
                "cost_advised": cost,
            }
        )
    return rows


def totals(lessons: Lessons) -> Row:
    """Sums over the rows. Planned sums are over the runs made to their end; the planned cost is
    beside the cost of those of them that have one."""
    finished = [row for row in lessons.runs if row.finished]
    priced = [row for row in lessons.runs if row.cost is not None]
    return {
        "hours_planned": sum(row.planned_hours or 0.0 for row in finished),
        "hours": sum(row.hours for row in lessons.runs),
        "hours_between": sum(row.waited for row in lessons.runs),
        "cost_planned": sum(row.planned_cost or 0.0 for row in priced),
        "cost": sum(row.cost or 0.0 for row in priced),
        "rows_without_cost": len(lessons.runs) - len(priced),
        "cost_between": sum(row.between for row in lessons.runs),
        "expected_at_first": lessons.first_cost,
        "spent": lessons.spent,
        "expected_still": lessons.left_cost,
        "total": lessons.total_cost,
        "regret": lessons.regret,
        "luck": lessons.luck,
        "stop_regret": None if lessons.stop_regret is None else lessons.stop_regret.value,
        "regret_unknown": sum(row.regret is None for row in lessons.runs),
    }


def lessons_document(lessons: Lessons) -> dict[str, Any]:
    """The lessons as a document of numbers, words and lists; money in the currency of the file."""
    return {
        "well": lessons.scenario.job.well,
        "currency": lessons.scenario.currency,
        "ended": lessons.mornings[-1].ended,
        "stopped": lessons.stopped,
        "runs": plain(run_rows(lessons)),
        "mornings": plain(mornings(lessons)),
        "brier": None if lessons.brier is None else _brier(lessons.brier),
        "totals": plain(totals(lessons)),
        "records": record_rows(lessons),
    }


# ---- as a record of a past job ------------------------------------------------------------------


def record_rows(lessons: Lessons) -> list[Row]:
    """The runs as rows of a table of past jobs, by the names of its columns; lengths in the units
    of the file. Readings, and runs that were stopped half way, are no trials and have no row."""
    scenario, fish, well = lessons.scenario, lessons.scenario.fish, lessons.scenario.well
    tops = [known.after.fish_top if known.after else None for known in lessons.mornings]
    factor = 1.0 if scenario.units == "field" else 0.3048
    rows: list[Row] = []
    condition: str = fish.top_condition
    for place, (lesson, row) in enumerate(zip(lessons.runs, lessons.log, strict=True)):
        here, condition = condition, row.top_condition or condition
        if not lesson.chances:
            continue
        top = tops[place]
        rows.append(
            {
                "job": one_line(scenario.job.well)[:LONGEST_JOB],
                "run": len(rows) + 1,
                "kind": scenario.run[row.run].kind,
                "outcome": row.outcome,
                "mechanism": fish.mechanism,
                "hole_size": well.hole_diameter,
                "angle": well.inclination,
                "depth": fish.top if top is None else round(top * factor, 3),
                "top_condition": here,
                "marks": " ".join(row.held),
                "depends_on": " ".join(_doubts(scenario, row.run)),
                "start": row.start.isoformat(timespec="minutes"),
                "end": row.end.isoformat(timespec="minutes"),
                "hours": round(lesson.hours, 2),
                "stated_odds": round(lesson.chances[0], 4),
                "job_end": _job_end(lessons),
                "remark": row.remark,
            }
        )
    return rows


def _doubts(scenario: Scenario, place: int) -> list[str]:
    """Names of the doubts that a run depends on; none in a file that has no [[doubt]]."""
    run = scenario.run[place]
    names = [doubt.name for doubt in scenario.doubt]
    if not isinstance(run.odds, OddsByKind):
        return []
    return names if run.depends_on is None else list(run.depends_on)


def _job_end(lessons: Lessons) -> str:
    match lessons.mornings[-1].ended:
        case None:
            return "economics" if lessons.stopped else "open"
        case "recovered":
            return "recovered"
        case _:
            return "lost"


def records_csv(lessons: Lessons) -> str:
    """The rows of `record_rows` as the CSV table that `econ odds` reads."""
    rows = record_rows(lessons)
    return as_csv(rows) if rows else ",".join(COLUMNS) + "\n"
