"""The table behind each figure: plain rows, which the figure lays out and a CSV file holds.

Money is in the currency of the scenario, days count from now, depths are in the units of
the file. P10, P50 and P90 are costs not exceeded with a chance of 10, 50 and 90 %.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Sequence
from datetime import datetime
from enum import StrEnum

from econ.decision import Answer
from econ.decision.sensitivity import Sensitivity, Swing
from econ.decision.timetable import RunTime, Timetable
from econ.reports.tables.answer import beliefs
from econ.reports.tables.plain import Row, length_factor, plain
from econ.scenario.spreadsheet_text import harmless


class Sort(StrEnum):
    """What a row of the curve is, with the word that a CSV file has for it."""

    BY_RUNS = "limit by runs"
    BY_DAYS = "limit by days"
    RULE = "published rule"


class Branch(StrEnum):
    """A line of days against depth; several of them are recovered, one after each run."""

    HOLE = "hole"
    FISHING = "fishing"
    RECOVERED = "recovered"
    FALLBACK = "fallback"
    STOPPING_NOW = "stopping now"


class Point(StrEnum):
    """A point of days against depth, or a depth of the hole."""

    SHOE = "shoe"
    FISH_TOP = "fish top"
    FISH_BOTTOM = "fish bottom"
    DRILLED_TO = "drilled to"
    NOW = "now"
    OWED = "owed before the decision"
    END_OF_RUN = "end of run"
    FISH_IS_OUT = "fish is out"
    BACK_AT_DEPTH = "back at depth"
    FISHING_STOPS = "fishing stops"
    FALLBACK_DONE = "fallback done"
    KICKOFF_DEPTH = "kick-off depth"
    KICKOFF = "kick-off"


class Basis(StrEnum):
    """How far an input is turned: to the ends of a range of the file, or by a step of ours."""

    RANGE = "range of the file"
    STEP = "fixed step, not a range of yours"


CAUSE_WORDS = {
    "common": "Owed before the decision",
    "spread": "Spread while fishing",
    "fishing_day": "Fishing services by the day",
    "mobilization": "Mobilization of fishing tools",
    "charges": "Charges of the runs",
    "rentals": "Rental contracts",
    "string_lost": "Fishing string lost",
    "recovery": "Work after recovery",
    "approval": "Wait for the approval of a plug",
    "fallback_time": "Time of the fallback",
    "fallback_charges": "Charges of the fallback",
    "kickoff_trouble": "Kick-off trouble",
    "sticking": "Sticking again, other trouble",
    "lost_in_hole": "Fish lost in the hole",
    "value_given_up": "Value of the well given up",
    "late_recovered": "Ending late with the fish out",
    "late_fallback": "Ending late with a fallback",
}
PHASES = {
    "common": "common",
    "string_lost": "fishing",
    "recovery": "recovered",
    "late_recovered": "recovered",
}
RULE_WORDS = {
    "time_limit_days": "Time limit rule",
    "economic_fishing_days": "Economic fishing time",
    "half_rule_days": "Half rule",
}


def curve(answer: Answer) -> list[Row]:
    """Expected cost of the limits by runs and by days, and the published rules."""
    rows: list[Row] = [
        {
            "row": Sort.BY_RUNS,
            "name": None,
            "runs": row.runs,
            "days": row.days,
            "expected_cost": row.expected_cost,
            "standard_error": row.standard_error,
            "p10": row.p10,
            "p50": row.p50,
            "p90": row.p90,
            "best": row.runs == answer.best,
            "flat": row.runs in answer.flat,
        }
        for row in answer.by_runs
    ]
    for each in answer.by_days:
        rows.append(
            {
                "row": Sort.BY_DAYS,
                "days": each.days,
                "expected_cost": each.expected_cost,
                "standard_error": each.standard_error,
                "best": each.days == answer.best_by_days.days,
            }
        )
    for key, words in RULE_WORDS.items() if answer.ahead else ():
        rows.append({"row": Sort.RULE, "name": words, "days": getattr(answer.rules, key)})
    return rows


def recovery(answer: Answer) -> list[Row]:
    """Chance that the fish is out, by limit."""
    rows: list[Row] = [
        {
            "row": Sort.BY_RUNS,
            "runs": row.runs,
            "days": row.days,
            "probability_recovered": row.probability_recovered,
            "best": row.runs == answer.best,
        }
        for row in answer.by_runs
    ]
    for each in answer.by_days:
        rows.append(
            {
                "row": Sort.BY_DAYS,
                "days": each.days,
                "probability_recovered": each.probability_recovered,
                "best": each.days == answer.best_by_days.days,
            }
        )
    return rows


def belief(answer: Answer) -> list[Row]:
    """Belief, odds and break-even odds before each run if all before it fail."""
    rows = []
    for run in answer.ahead:
        need = run.break_even_odds
        rows.append(
            {
                "run": run.run + 1,
                "name": run.name,
                "failed_runs": run.failed_runs,
                "workable": run.workable,
                "odds": run.odds,
                "break_even_odds": need,
                "pays_by_itself": need is not None and run.odds >= need,
            }
            | {f"belief_{name}": chance for name, chance in beliefs(answer, run) if name}
        )
    return rows


def limit_map(sensitivity: Sensitivity) -> list[Row]:
    """The best limit over two drivers, one row a cell; a factor is 1 as it stands."""
    if sensitivity.map is None:
        return []
    down, across = sensitivity.input(sensitivity.map.row), sensitivity.input(sensitivity.map.column)
    rows = []
    for i, row in enumerate(sensitivity.map.rows):
        for j, column in enumerate(sensitivity.map.columns):
            rows.append(
                {
                    "row_driver": down.words,
                    "row_factor": down.factor,
                    "row_value": row,
                    "column_driver": across.words,
                    "column_factor": across.factor,
                    "column_value": column,
                    "runs": sensitivity.map.best[i][j],
                    "resolved": sensitivity.map.resolved[i][j],
                    "here": (i, j) == sensitivity.map.here,
                }
            )
    return rows


def swings(sensitivity: Sensitivity) -> list[Row]:
    """What each input does to the cost and to the best limit, one row an input."""
    rows = [_swing(sensitivity, each, Basis.RANGE) for each in sensitivity.amounts]
    return rows + [_swing(sensitivity, each, Basis.STEP) for each in sensitivity.swings]


def _swing(sensitivity: Sensitivity, swing: Swing, basis: Basis) -> Row:
    row: Row = {
        "name": swing.name,
        "words": swing.words,
        "basis": basis,
        "unit": swing.unit,
        "runs": sensitivity.best,
    }
    for end in ("low", "high"):
        side = getattr(swing, end)
        row |= {
            f"{end}_value": side.value,
            f"{end}_change": side.change_kept.value,
            f"{end}_change_error": side.change_kept.error,
            f"{end}_resolved": side.resolved,
            f"{end}_runs": side.best,
            f"{end}_runs_resolved": side.limit_resolved,
        }
    return row


def program(answer: Answer) -> list[Row]:
    """The runs made and ahead, each in its parts, in days from now; ahead as if all fail."""
    rows = []
    for logged in answer.log:
        rows.append(
            {
                "run": logged.run + 1,
                "name": answer.scenario.actions[logged.run].name,
                "part": "made",
                "start": _days(logged.start, answer.now),
                "end": _days(logged.end, answer.now),
                "within_limit": None,
                "outcome": logged.outcome,
            }
        )
    for place, run in enumerate(_timetable(answer).runs):
        for part, start, end in _parts(run):
            rows.append(
                {
                    "run": run.run + 1,
                    "name": run.name,
                    "part": part,
                    "start": start,
                    "end": end,
                    "within_limit": place < answer.best,
                }
            )
    return rows


def _timetable(answer: Answer) -> Timetable:
    found: Timetable = answer.timetable
    return found


def _parts(run: RunTime) -> list[tuple[str, float, float]]:
    """The parts of a run one after another: the work, and those others that take any time."""
    start = run.start
    found = []
    for part in ("wait", "handling", "trips", "work"):
        length = getattr(run, part)
        if length > 0 or part == "work":
            found.append((part, start, start + length))
            start += length
    return found


def _days(moment: datetime, now: datetime | None) -> float | None:
    return None if now is None else (moment - now).total_seconds() / 86_400.0


def depth(answer: Answer) -> list[Row]:
    """Days against depth: points of each branch in order, and depths of the hole."""
    scenario, when = answer.scenario, _timetable(answer)
    factor = length_factor(answer)
    top, well = when.fish_top / factor, when.well_depth / factor
    rows: list[Row] = [
        {"branch": Branch.HOLE, "what": Point.SHOE, "depth": scenario.well.shoe_depth},
        {"branch": Branch.HOLE, "what": Point.FISH_TOP, "depth": top},
        {"branch": Branch.HOLE, "what": Point.FISH_BOTTOM, "depth": scenario.fish.bottom},
        {"branch": Branch.HOLE, "what": Point.DRILLED_TO, "depth": well},
    ]

    def point(branch: Branch, what: Point, days: float, at: float, **more: object) -> None:
        rows.append({"branch": branch, "what": what, "days": days, "depth": at, **more})

    point(Branch.FISHING, Point.NOW, 0.0, top)
    if when.begin > 0:
        point(Branch.FISHING, Point.OWED, when.begin, top)
    for run in when.runs[: answer.best]:
        end, trips = run.end, run.round_trips
        point(Branch.FISHING, Point.END_OF_RUN, end, top, run=run.run + 1, round_trips=trips)
    ends = [run.end for run in when.runs[: answer.best]]
    if when.recovery is not None:
        for count, end in enumerate(ends or [0.0][: int(answer.ended == "recovered")], start=1):
            chance = answer.by_runs[count].probability_recovered if ends else 1.0
            after = {"after": count if ends else 0}
            point(Branch.RECOVERED, Point.FISH_IS_OUT, end, top, chance=chance, **after)
            point(Branch.RECOVERED, Point.BACK_AT_DEPTH, end + when.recovery, well, **after)
    surely_out = answer.best > 0 and answer.limit.probability_recovered > 1.0 - 1e-12
    if when.fallback is not None:
        last = ends[-1] if ends else when.begin
        starts = {} if surely_out else {Branch.FALLBACK: last}
        starts |= {Branch.STOPPING_NOW: when.begin} if ends else {}
        left = {Branch.FALLBACK: 1.0 - answer.limit.probability_recovered}
        kickoff, preparation = when.fallback.kickoff, when.fallback.preparation
        for branch, start in starts.items():
            name = when.fallback.name
            point(branch, Point.FISHING_STOPS, start, top, name=name, chance=left.get(branch))
            if kickoff is None:
                point(branch, Point.FALLBACK_DONE, start + preparation, top)
                continue
            ready = start + preparation
            point(branch, Point.KICKOFF_DEPTH, start, kickoff / factor)
            point(branch, Point.KICKOFF, ready, kickoff / factor)
            point(branch, Point.BACK_AT_DEPTH, ready + when.fallback.drilling, well)
    return rows


def causes(answer: Answer) -> list[Row]:
    """What the expected cost at the best limit is made of, and what it is if fishing stops."""
    parts = answer.breakdown
    return [
        {
            "line": line.name,
            "cause": CAUSE_WORDS[line.name],
            "phase": PHASES.get(line.name, line.part),
            "expected": line.expected,
            "standard_error": line.standard_error,
            "share": line.expected / parts.total.value if parts.total.value > 0 else None,
            "stopping_now": line.stopping_now,
        }
        for line in parts.lines
        if line.expected > 0 or line.stopping_now > 0
    ]


def distribution(answer: Answer) -> list[Row]:
    """The distribution of the total at the best limit, with the fish out and with a fallback."""
    total = answer.totals
    bars: list[Row] = [
        {"from": start, "to": end, "recovered": out, "fallback": back}
        for start, end, out, back in zip(
            total.edges[:-1], total.edges[1:], total.recovered, total.fallback, strict=True
        )
    ]
    above = {"recovered": total.recovered_above, "fallback": total.fallback_above}
    return [*bars, {"from": total.edges[-1], "to": None, **above}]


def rows(answer: Answer, name: str, sensitivity: Sensitivity | None = None) -> list[Row]:
    """The table behind the figure `name`, plain values; ValueError where it needs a sensitivity
    and none is given."""
    if name in TABLES:
        return [plain(row) for row in TABLES[name](answer)]
    if sensitivity is None:
        raise ValueError(f"the table of {name!r} needs a sensitivity")
    return [plain(row) for row in TABLES_OF_SENSITIVITY[name](sensitivity)]


TABLES: dict[str, Callable[[Answer], list[Row]]] = {
    "curve": curve,
    "recovery": recovery,
    "belief": belief,
    "causes": causes,
    "distribution": distribution,
    "depth": depth,
    "program": program,
}
TABLES_OF_SENSITIVITY: dict[str, Callable[[Sensitivity], list[Row]]] = {
    "swings": swings,
    "map": limit_map,
}


def as_csv(rows: Sequence[Row]) -> str:
    """Rows as CSV text with a header; text that a spreadsheet would take for a formula gets an
    apostrophe before it, nothing is an empty cell."""
    keys = list(dict.fromkeys(key for row in rows for key in row))
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(keys)
    writer.writerows([_cell(row.get(key)) for key in keys] for row in rows)
    return out.getvalue()


def _cell(value: object) -> object:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, str):
        return harmless(value)
    return value
