"""What a reader should know about a scenario before trusting its answer.

One small function a note, all run. None of them stops the answer: what makes a file
unusable is a fault (`econ.scenario.rules`). Planning values are judgement, no source.
"""

from __future__ import annotations

from econ.scenario.notes import daily_reports, defaults, facts, likely, marks, past_jobs, questions
from econ.scenario.notes.registry import NOTES, Beside
from econ.scenario.scenario import Scenario

__all__ = [
    "Beside",
    "daily_reports",
    "defaults",
    "facts",
    "likely",
    "marks",
    "notes",
    "past_jobs",
    "questions",
]


def notes(scenario: Scenario) -> list[str]:
    """All notes on a scenario, in ASCII; those on one value are `Beside` it."""
    return [_ascii(text) for each in NOTES for text in each(scenario)]


def _ascii(text: str) -> str:
    plain = text.encode("ascii", "backslashreplace").decode()
    return Beside(text.key, plain) if isinstance(text, Beside) else plain
