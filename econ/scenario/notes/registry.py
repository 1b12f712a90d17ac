"""Where notes on a scenario are registered."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from econ.scenario.scenario import Scenario

Note = Callable[[Scenario], Iterator[str]]
NOTES: list[Note] = []


def note(function: Note) -> Note:
    """Register a note."""
    NOTES.append(function)
    return function
