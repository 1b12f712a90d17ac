"""Where notes on a scenario are registered."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from econ.scenario.scenario import Scenario

Note = Callable[[Scenario], Iterator[str]]
NOTES: list[Note] = []


class Beside(str):
    """A note on one value of the file, which can stand beside it. key: its key path."""

    key: str

    def __new__(cls, key: str, text: str) -> Beside:
        note = super().__new__(cls, text)
        note.key = key
        return note

    def __getnewargs__(self) -> tuple[str, str]:  # type: ignore[override]  # for another process
        return self.key, str(self)


def note(function: Note) -> Note:
    """Register a note."""
    NOTES.append(function)
    return function
