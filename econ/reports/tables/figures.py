"""The table behind each figure: plain rows, which the figure lays out and a CSV file holds.

Money is in the currency of the scenario, days count from now, depths are in the units of
the file. P10, P50 and P90 are costs not exceeded with a chance of 10, 50 and 90 %.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Sequence
from datetime import datetime

from econ.decision import Answer
from econ.decision.sensitivity import Sensitivity, Swing
from econ.decision.timetable import RunTime, Timetable
from econ.reports.tables.plain import Row, length_factor, plain

CAUSE_WORDS = {
    "common": "Owed before the decision",
    "spread": "Spread while fishing",
    "fishing_day": "Fishing services by the day",
    "mobilization": "Mobilization of fishing tools",
    "charges": "Charges of the runs",
    "rentals": "Rental contracts",
    "string_lost": "Fishing string lost",
    "recovery": "Work after recovery",
    "fallback_time": "Time of the fallback",
    "fallback_charges": "Charges of the fallback",
    "kickoff_trouble": "Kick-off trouble",
    "sticking": "Sticking again, other trouble",
    "lost_in_hole": "Fish lost in the hole",
    "value_given_up": "Value of the well given up",
}
PHASES = {"common": "common", "string_lost": "fishing", "recovery": "recovered"}
RULE_WORDS = {
    "time_limit_days": "Time limit rule",
    "economic_fishing_days": "Economic fishing time",
    "half_rule_days": "Half rule",
}
FORMULA = ("=", "+", "-", "@", "\uff1d", "\uff0b", "\uff0d", "\uff20")  # also full-width


def curve(answer: Answer) -> list[Row]:
    """Expected cost of the limits by runs and by days, and the published rules."""
    rows = [
        {
            "row": "limit by runs",
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
                "row": "limit by days",
                "days": each.days,
                "expected_cost": each.expected_cost,
                "standard_error": each.standard_error,
                "best": each.days == answer.best_by_days.days,
            }
        )
    for key, words in RULE_WORDS.items() if answer.ahead else ():
        rows.append({"row": "published rule", "name": words, "days": getattr(answer.rules, key)})
    return rows


def recovery(answer: Answer) -> list[Row]:
    """Chance that the fish is out, by limit."""
    rows: list[Row] = [
        {
            "row": "limit by runs",
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
                "row": "limit by days",
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
        )
    return rows


def limit_map(found: Sensitivity) -> list[Row]:
    """The best limit over two drivers, one row a cell; a factor is 1 as it stands."""
    if found.map is None:
        return []
    down, across = found.input(found.map.row), found.input(found.map.column)
    rows = []
    for i, row in enumerate(found.map.rows):
        for j, column in enumerate(found.map.columns):
            rows.append(
                {
                    "row_driver": down.words,
                    "row_factor": down.factor,
                    "row_value": row,
                    "column_driver": across.words,
                    "column_factor": across.factor,
                    "column_value": column,
                    "runs": found.map.best[i][j],
                    "resolved": found.map.resolved[i][j],
                    "here": (i, j) == found.map.here,
                }
            )
    return rows


def swings(found: Sensitivity) -> list[Row]:
    """What each input does to the cost and to the best limit, one row an input."""
    rows = [_swing(found, each, "range of the file") for each in found.amounts]
    return rows + [_swing(found, each, "step of this program") for each in found.swings]


def _swing(found: Sensitivity, swing: Swing, basis: str) -> Row:
    row: Row = {
        "name": swing.name,
        "words": swing.words,
        "basis": basis,
        "unit": swing.unit,
        "runs": found.best,
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
                "name": answer.scenario.run[logged.run].name,
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
        {"branch": "hole", "what": "shoe", "depth": scenario.well.shoe_depth},
        {"branch": "hole", "what": "fish top", "depth": top},
        {"branch": "hole", "what": "fish bottom", "depth": scenario.fish.bottom},
        {"branch": "hole", "what": "drilled to", "depth": well},
    ]

    def point(branch: str, what: str, days: float, at: float, **more: object) -> None:
        rows.append({"branch": branch, "what": what, "days": days, "depth": at, **more})

    point("fishing", "now", 0.0, top)
    if when.begin > 0:
        point("fishing", "owed before the decision", when.begin, top)
    for run in when.runs[: answer.best]:
        end, trips = run.end, run.round_trips
        point("fishing", "end of run", end, top, run=run.run + 1, round_trips=trips)
    ends = [run.end for run in when.runs[: answer.best]]
    if when.recovery is not None:
        for count, end in enumerate(ends or [0.0][: int(answer.ended == "recovered")], start=1):
            branch = f"recovered after {count}" if ends else "recovered"
            chance = answer.by_runs[count].probability_recovered if ends else 1.0
            point(branch, "fish is out", end, top, chance=chance)
            point(branch, "back at depth", end + when.recovery, well)
    surely_out = answer.best > 0 and answer.limit.probability_recovered > 1.0 - 1e-12
    if when.fallback is not None:
        last = ends[-1] if ends else when.begin
        starts = {} if surely_out else {"fallback": last}
        starts |= {"stopping now": when.begin} if ends else {}
        left = {"fallback": 1.0 - answer.limit.probability_recovered}
        kickoff, preparation = when.fallback.kickoff, when.fallback.preparation
        for branch, start in starts.items():
            name = when.fallback.name
            point(branch, "fishing stops", start, top, name=name, chance=left.get(branch))
            if kickoff is None:
                point(branch, "fallback done", start + preparation, top)
                continue
            ready = start + preparation
            point(branch, "kick-off depth", start, kickoff / factor)
            point(branch, "kick-off", ready, kickoff / factor)
            point(branch, "back at depth", ready + when.fallback.drilling, well)
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


def humps(answer: Answer) -> list[Row]:
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
    "humps": humps,
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
        return f"'{value}" if value.lstrip().startswith(FORMULA) else value
    return value
