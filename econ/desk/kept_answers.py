"""Answers to the ten questions that are in no file yet, kept as the draft is: beside the file,
`.NAME.econ-answers`, for its owner alone, in lines that are only added and flushed to the disk.

    a line     {"answers": by key, "told": what the job answered then, "ticked": kinds of run}
"""

from __future__ import annotations

import contextlib
import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from econ.desk.draft import Lines, draft_path

MOST_LINES = 200  # then the newest begins a new file
BESIDES = ("dollar", "setting")  # answers that a job does not keep


class KeptAnswers:
    """What an earlier start has left of them, and what is answered since. path: of the job."""

    def __init__(self, path: str) -> None:
        draft = draft_path(path)
        self._path = draft.with_name(draft.name.replace("econ-draft", "econ-answers"))
        self._lines: Lines | None = None
        self._last: Mapping[str, Any] = _read(self._path)

    @property
    def last(self) -> Mapping[str, Any]:
        """The newest of them, empty where all are in the job."""
        return self._last

    def keep(self, answers: Mapping[str, Any], told: Any, ticked: Any) -> bool:
        """Keep what a job does not tell; whether the disk took it."""
        own = {key: value for key, value in answers.items() if key not in BESIDES}
        if own == told or (not own and not ticked):
            self.forget()
            return True
        row = {"answers": dict(answers), "told": told, "ticked": ticked}
        if row == self._last and self._lines is not None:
            return True
        try:
            if self._lines is None or self._lines.count >= MOST_LINES:
                self.close()
                self._lines = Lines(self._path, [row])
            else:
                self._lines.add(row)
        except OSError:  # perhaps half a line is there: the next one begins a new file
            self.close()
            return False
        self._last = row
        return True

    def forget(self) -> None:
        """They are in the job now, or nobody wants them."""
        self.close()
        self._last = {}
        with contextlib.suppress(OSError):
            self._path.unlink()

    def close(self) -> None:
        """Let go of the file; what is in it stays."""
        if self._lines is not None:
            self._lines.close()
        self._lines = None


def _read(path: Path) -> Mapping[str, Any]:
    """The last line that is whole; empty where there is none."""
    found: Mapping[str, Any] = {}
    with contextlib.suppress(OSError, ValueError):
        for line in path.read_bytes().splitlines(keepends=True):
            row = json.loads(line) if line.endswith(b"\n") else None
            if not isinstance(row, dict) or not isinstance(row.get("answers"), dict):
                break
            found = {name: row.get(name) for name in ("answers", "told", "ticked")}
    return found
