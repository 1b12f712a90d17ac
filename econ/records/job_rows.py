"""Rows put together as jobs, each held against the rows of its job.

Time in a job runs from the start of its first run. Where every run has a start it is taken
from those, waits between runs included; else from the hours of the runs one after another.
Where neither is complete, or times contradict each other, the times of that job are unknown.
Times are rounded to the minute, so that hours that add up to the same are the same.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from econ.records.columns import ENDS
from econ.records.records import Rejected
from econ.scenario.faults import shown
from econ.scenario.program import OUTCOMES

FINAL = {OUTCOMES.index(name): name for name in ("recovered", "string_lost", "hole_lost")}
LEFT_OUT = "none of a job with a row rejected is taken"
SAID_TWICE = "leave the row out"


@dataclass
class Row:
    """A row as read so far: its values by column, and whether all that is required is there."""

    line: int
    values: dict[str, Any]
    sound: bool


def job_rows(rows: list[Row], rejected: list[Rejected]) -> dict[str, list[Row]]:
    """Rows taken of each job, in the order of their runs; what is not goes to `rejected`.

    A row without a name may be one of the job above it, as where a cell over several rows was one
    in a spreadsheet, and takes that job out.
    """
    jobs: dict[str, list[Row]] = {}
    name: str | None = None
    for row in rows:
        name = row.values.get("job", name)
        if name is not None:
            jobs.setdefault(name, []).append(row)
    found = {}
    for name, each in jobs.items():
        taken = _Job(name, each, rejected).taken()
        if taken:
            found[name] = taken
    return found


class _Job:
    """One job: its rows, and where its rejections go."""

    def __init__(self, name: str, rows: list[Row], rejected: list[Rejected]) -> None:
        self.name = shown(name)
        self.rows = rows
        self.rejected = rejected

    def reject(
        self, row: Row, column: str, given: str, allowed: str, todo: str = "", *, whole: bool
    ) -> None:
        self.rejected.append(Rejected(row.line, column, whole, given, allowed, todo))

    def taken(self) -> list[Row]:
        """The rows of the job that can be used; none if one of them contradicts the others."""
        bad = {row.line for row in self.rows if not row.sound}
        by_run: dict[int, Row] = {}
        for row in self.rows:
            number = row.values.get("run")
            if number is None or not row.sound:
                continue
            before = by_run.setdefault(number, row)
            if before is row:
                continue
            given = f"run {number} of job {self.name} again, as in row {before.line}"
            same = before.values == row.values
            todo = SAID_TWICE if same else "correct the number or one of the rows"
            self.reject(row, "run", given, "each run of a job once", todo, whole=True)
            if not same:
                bad.add(row.line)
        if bad:
            self._leave_out(list(by_run.values()), bad)
            return []
        rows = self._up_to_the_end(sorted(by_run.values(), key=lambda row: row.values["run"]))
        if not self._end_agrees(rows):
            return []
        self._times(rows)
        return rows

    def _leave_out(self, rows: list[Row], bad: set[int]) -> None:
        first = min(bad)
        for row in rows:
            if row.line not in bad:
                given = f"a row of job {self.name}, whose row {first} is rejected"
                self.reject(row, "job", given, LEFT_OUT, f"correct row {first}", whole=True)

    def _up_to_the_end(self, rows: list[Row]) -> list[Row]:
        for place, row in enumerate(rows):
            if row.values["outcome"] not in FINAL:
                continue
            for later in rows[place + 1 :]:
                word = FINAL[row.values["outcome"]]
                given = f"a run after {word} in row {row.line}, the end of job {self.name}"
                todo = "fishing for another fish is a job of its own"
                self.reject(later, "run", given, "no run after it", todo, whole=True)
            return rows[: place + 1]
        return rows

    def _end_agrees(self, rows: list[Row]) -> bool:
        """Whether job_end and the last outcome can both be true; False takes the job out."""
        stated = [row for row in rows if "job_end" in row.values]
        words = {row.values["job_end"] for row in stated}
        if len(words) > 1:
            given = "different reasons why one job ended: " + ", ".join(ENDS[w] for w in words)
            for row in stated:
                self.reject(row, "job_end", given, "the same in all rows of a job", whole=False)
                del row.values["job_end"]
            return True
        came_out = FINAL.get(rows[-1].values["outcome"]) == "recovered"
        if not words or ("recovered" in {ENDS[w] for w in words}) == came_out:
            return True
        end, outcome = ENDS[words.pop()], OUTCOMES[rows[-1].values["outcome"]]
        given = f"{end}, while the last run of job {self.name} says {outcome}"
        self.reject(
            stated[-1], "job_end", given, "an end that agrees with it", "correct one", whole=True
        )
        self._leave_out(rows, {stated[-1].line})
        return False

    def _times(self, rows: list[Row]) -> None:
        """Hours from the start of the job to the start and the end of each run, where known."""
        for row in rows:
            values = row.values
            if "start" in values and "end" in values:
                if values["end"] < values["start"] or values["end"][1] != values["start"][1]:
                    allowed = "at or after the start, both with a time zone or both without"
                    self.reject(
                        row, "end", "an end before the start", allowed, "correct it", whole=False
                    )
                    del values["end"], values["start"]
                else:
                    values.setdefault("hours", values["end"][0] - values["start"][0])
        for one, other in pairwise(rows):
            if "start" not in one.values or "start" not in other.values:
                continue
            earlier = other.values["start"][0] < one.values["start"][0]
            if earlier or other.values["start"][1] != one.values["start"][1]:
                given = f"a start before that of run {one.values['run']}, row {one.line}"
                given = given if earlier else "a time zone in some rows of a job only"
                allowed = "runs of a job one after another, all with a time zone or all without"
                self.reject(other, "start", given, allowed, "correct the times", whole=False)
                for row in rows:
                    row.values.pop("start", None)
                break
        hours = [row.values.get("hours") for row in rows]
        known = all("start" in row.values for row in rows)
        from_first = rows[0].values["run"] == 1
        clock: float | None = 0.0
        for place, row in enumerate(rows):
            if known:
                clock = row.values["start"][0] - rows[0].values["start"][0]
            if clock is not None and from_first:
                row.values["before"] = to_the_minute(clock)
            spent = hours[place]
            clock = None if clock is None or spent is None else clock + spent
            if clock is not None and from_first:
                row.values["after"] = to_the_minute(clock)


def to_the_minute(hours: float) -> float:
    """Hours rounded to whole minutes.

    >>> to_the_minute(0.1 + 0.2) == to_the_minute(0.3)
    True
    """
    return round(hours * 60) / 60
