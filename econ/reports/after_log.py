"""What every report after a log says first: from when on it counts, and whether the job is over."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from econ.engine.case import ENDS
from econ.reports import sentences
from econ.reports.words import runs, wrap
from econ.scenario.run_log import LoggedRun
from econ.scenario.scenario import Scenario


def ended(log: Sequence[LoggedRun]) -> str | None:
    """The outcome that ended the job, None where fishing may go on."""
    return log[-1].outcome if log and log[-1].outcome in ENDS else None


def runs_made(scenario: Scenario, log: Sequence[LoggedRun]) -> int:
    """How many runs a log has; readings are none, nor is what was stopped half way."""
    return sum(row.finished and row.run < len(scenario.run) for row in log)


def log_row(scenario: Scenario, log: Sequence[LoggedRun]) -> dict[str, Any] | None:
    """The log in short, for a document: runs made, the end of the last row, and the outcome that
    ended the job, if one did."""
    if not log:
        return None
    made = runs_made(scenario, log)
    return {"runs_made": made, "now": log[-1].end.isoformat(), "ended": ended(log)}


def since(scenario: Scenario, log: Sequence[LoggedRun]) -> list[str]:
    """From when on the figures count; nothing without a log."""
    if not log:
        return []
    now = sentences.moment(log[-1].end)
    return wrap(
        f"After {runs(runs_made(scenario, log))} logged. All is from {now} on; money already spent "
        "is left out."
    )


def over(log: Sequence[LoggedRun]) -> list[str]:
    """That the log has ended the job; nothing where it has not."""
    outcome = ended(log)
    return [] if outcome is None else wrap(sentences.say(outcome, terminal=True))
