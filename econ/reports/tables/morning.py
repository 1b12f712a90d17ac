"""Tables of the morning after: what happened, what it changed, what is left."""

from __future__ import annotations

from dataclasses import asdict

from econ.decision import Answer, Status
from econ.reports.tables.plain import Row, length_factor


def morning(answer: Answer) -> Row | None:
    """The log and where the job stood before and after its last row; None without a log."""
    if not answer.log:
        return None
    runs = len(answer.scenario.run)
    begun, end = answer.log[0].start, answer.log[-1].end
    return {
        "runs_made": answer.runs_made,
        "hours_since_first_run": (end - begun).total_seconds() / 3600.0,
        "spent": answer.spent,
        "authority_left": answer.authority.given,
        "authority_overspent": answer.overspent,
        "ended": answer.ended,
        "runs": [
            {
                "row": row.row,
                "run": row.run + 1 if row.run < runs else None,
                "name": answer.scenario.actions[row.run].name,
                "start": row.start.isoformat(),
                "end": row.end.isoformat(),
                "outcome": row.outcome,
                "fish_top": row.fish_top,
                "top_condition": row.top_condition,
                "cost": row.cost,
                "remark": row.remark,
                "limit_then": then.runs,
                "beyond_limit": then.beyond,
            }
            for row, then in zip(answer.log, answer.limits_then, strict=True)
        ],
        "hours": _hours(answer),
        "before": _status(answer, answer.before),
        "after": _status(answer, answer.after),
    }


def _hours(answer: Answer) -> Row | None:
    """Planned and actual hours [h], the factor for those ahead, and what applying it does."""
    found = answer.hours
    if found is None:
        return None
    effect = found.effect
    return {
        "runs": [
            {"run": each.run + 1, "planned": each.planned, "actual": each.actual}
            for each in found.runs
        ],
        "planned": found.planned,
        "actual": found.actual,
        "factor": found.factor,
        "factor_range": [found.low, found.high],
        "applied": found.applied,
        "effect": None
        if effect is None
        else {
            "best_without": effect.best_without,
            "best_with": effect.best_with,
            "cost_without": effect.cost_without,
            "cost_with": effect.cost_with,
            "change": effect.change.value,
            "change_error": effect.change.error,
        },
    }


def _status(answer: Answer, status: Status | None) -> Row | None:
    if status is None:
        return None
    row = asdict(status)
    doubts = answer.scenario.doubts
    del row["doubts"]
    if status.doubts:
        row["doubts"] = {d.name: chance for d, chance in zip(doubts, status.doubts, strict=True)}
    row["fish_top"] = status.fish_top / length_factor(answer)
    return row
