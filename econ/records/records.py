"""Past jobs as arrays: one entry a run, sorted by job and run, and one entry a job.

A job ends in one of three ways. *Recovered*: its last run brought the fish. *Lost*: the
string or the hole was lost, or the table says that the fish was given up as beyond reach;
it would not have come out however long one had gone on. *Stopped*: anything else, for
economics or for want of a later row; what would have come of it is not known, so the job
is censored there, and is no failure of a run that was never made.
"""

from __future__ import annotations

import functools
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from econ.records.columns import ENDS, KINDS, MECHANISMS, TOPS
from econ.scenario.program import OUTCOMES
from econ.scenario.run_log import LogFault

if TYPE_CHECKING:
    import pandas as pd

Array = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
RECOVERED, LOST, STOPPED = 0, 1, 2
ENDINGS = ("recovered", "lost", "stopped")
MOST_LOST = 0.2  # of the rows, or of the jobs


@dataclass(frozen=True)
class Rejected:
    """A row, or a cell of it, that was not taken, and why."""

    row: int  # line of the file where it starts
    column: str  # empty for the whole row
    whole_row: bool  # False: the cell was taken as empty, the row was kept
    given: str
    allowed: str
    suggestion: str

    def __str__(self) -> str:
        path = (self.column,) if self.column else ()
        return str(LogFault(self.given, self.allowed, self.suggestion, path, self.row, "records"))


@dataclass(frozen=True, eq=False, repr=False)
class Records:
    """Runs of past jobs; arrays of shape (runs,), -1 or nan where a cell is empty.

    Lengths are in ft and in, whatever the units of the file; times in hours.
    """

    file: str
    columns: tuple[str, ...]
    rows_read: int
    trials: int  # rows read but for runs stopped half way and rows said twice
    rows_lost: int  # of the trials not taken
    jobs_lost: int  # of which no row was taken
    rejected: tuple[Rejected, ...]
    remarks: tuple[str, ...]  # how the file was read, and what is asked about it
    names: tuple[str, ...]  # of the jobs
    row: Ints  # line of the file
    job: Ints  # place in `names`, rising
    run: Ints  # number in its job, rising
    kind: Ints  # place in KINDS
    outcome: Ints  # place in OUTCOMES
    mechanism: Ints
    top: Ints
    end: Ints  # place in ENDS, of the job
    hole_size: Array  # [in]
    angle: Array  # [degrees]
    depth: Array  # [ft]
    before: Array  # [h] from the start of the job to the start of the run
    after: Array  # [h] from the start of the job to the end of the run
    stated: Array  # [fraction]
    marks: tuple[tuple[str, ...], ...]  # that held at the start of each run
    doubts: tuple[tuple[str, ...], ...]  # that each run depended on

    def __repr__(self) -> str:
        runs, jobs = len(self.job), len(self.names)
        return f"Records({self.file!a}: {runs} runs of {jobs} jobs, {len(self.rejected)} rejected)"

    @property
    def too_much_lost(self) -> bool:
        """Whether so many rows or jobs were not taken that the rest may be another sort of job."""
        jobs = len(self.names) + self.jobs_lost
        return max(self.rows_lost / self.trials, self.jobs_lost / jobs) > MOST_LOST

    @property
    def recovered(self) -> Bools:
        """Whether each run brought the whole fish, shape (runs,)."""
        return np.asarray(self.outcome == OUTCOMES.index("recovered"))

    @functools.cached_property
    def first(self) -> Ints:
        """Place of the first run of each job, shape (jobs,)."""
        return np.flatnonzero(np.diff(self.job, prepend=-1)).astype(np.int64)

    @functools.cached_property
    def last(self) -> Ints:
        """Place of the last run of each job, shape (jobs,)."""
        return np.flatnonzero(np.diff(self.job, append=len(self.names))).astype(np.int64)

    @functools.cached_property
    def ending(self) -> Ints:
        """How each job ended, a place in ENDINGS, shape (jobs,)."""
        last = self.outcome[self.last]
        lost = np.isin(last, [OUTCOMES.index("string_lost"), OUTCOMES.index("hole_lost")])
        lost |= self.end[self.last] == ENDS.index("lost")
        ending = np.where(last == OUTCOMES.index("recovered"), RECOVERED, STOPPED)
        return np.where((ending == STOPPED) & lost, LOST, ending).astype(np.int64)

    @functools.cached_property
    def repeat(self) -> Ints:
        """Number of earlier runs of the same kind in the same job, shape (runs,)."""
        count = np.zeros(len(self.job), dtype=np.int64)
        for kind in np.unique(self.kind):
            here = np.flatnonzero(self.kind == kind)
            jobs = self.job[here]
            start = np.flatnonzero(np.diff(jobs, prepend=-1))
            lengths = np.diff(start, append=len(jobs))
            count[here] = np.arange(len(jobs)) - np.repeat(start, lengths)
        return count

    def to_frame(self) -> pd.DataFrame:
        """One row a run that was taken."""
        import pandas as pd

        def words(places: Ints, known: tuple[str, ...]) -> list[str]:
            return [known[place] if place >= 0 else "" for place in places]

        return pd.DataFrame(
            {
                "row": self.row,
                "job": [self.names[place] for place in self.job],
                "run": self.run,
                "kind": words(self.kind, KINDS),
                "outcome": words(self.outcome, OUTCOMES),
                "mechanism": words(self.mechanism, MECHANISMS),
                "top_condition": words(self.top, TOPS),
                "hole_size": self.hole_size,
                "angle": self.angle,
                "depth": self.depth,
                "hours_before": self.before,
                "hours_after": self.after,
                "marks": [" ".join(words) for words in self.marks],
                "depends_on": [" ".join(words) for words in self.doubts],
                "stated_odds": self.stated,
                "job_ended": [ENDINGS[self.ending[place]] for place in self.job],
            }
        )
