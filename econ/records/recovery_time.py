"""Time to recovery, with jobs that ended otherwise.

    Kaplan-Meier     S(t), chance that the fish is still in the hole after t hours if nothing but
                     recovery could end a job: both a loss and a stop for economics censor it
    recovered by t   F(t) = sum over times u <= t of A(u-) r(u)/n(u), with A the Kaplan-Meier of
                     "neither recovered nor lost", r the recoveries and n the jobs still at it

A stop for economics censors: the fish was no less likely to come out had one gone on. A lost
string or hole does not: that fish would not have come out, so a loss is an end of its own, and
the share of jobs that F says are won is below 1 - S wherever there are losses. S answers how
fast fishing works, F how often it pays off. Times are hours from the start of the first run to
the end of the last; a job without them is left out and counted.

Sources: E.L. Kaplan, P. Meier, J. Am. Stat. Assoc. 53 (1958) 457, with Greenwood's variance on
the scale of log(-log S) (J.D. Kalbfleisch, R.L. Prentice, The Statistical Analysis of Failure Time
Data, 1980); O.O. Aalen, S. Johansen, Scand. J. Stat. 5 (1978) 141, for F.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from econ.records.records import LOST, RECOVERED, Records

if TYPE_CHECKING:
    import pandas as pd

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class RecoveryTimes:
    """The curve at each time of a recovery or loss; arrays of shape (times,)."""

    jobs: int
    left_out: int  # jobs without times
    censored: int
    hours: Array  # [h]
    at_risk: Array
    recovered: Array
    lost: Array
    still_in: Array  # Kaplan-Meier [fraction]
    low: Array  # its 95 % interval; nan where it has none
    high: Array
    share_recovered: Array  # F [fraction]
    median: float | None  # hours by which half are out by Kaplan-Meier; None if not reached

    def to_frame(self) -> pd.DataFrame:
        """One row a time."""
        import pandas as pd

        names = ("hours", "at_risk", "recovered", "lost", "still_in", "low", "high")
        columns = {name: getattr(self, name) for name in names}
        return pd.DataFrame({**columns, "share_recovered": self.share_recovered})


def recovery_times(records: Records) -> RecoveryTimes:
    """The curves; with no time at all they are empty."""
    hours = records.after[records.last]
    known = np.isfinite(hours)
    times, ending = hours[known], records.ending[known]
    won, lost = ending == RECOVERED, ending == LOST
    ends = np.unique(times[won | lost])
    left_out = int((~known).sum())
    if len(ends) == 0:
        none = ends.astype(float)
        return RecoveryTimes(
            *(len(times), left_out, len(times)),
            *(none, none, none, none, none, none, none, none),
            median=None,
        )
    ordered = np.sort(times)
    at_risk = len(times) - np.searchsorted(ordered, ends, side="left").astype(float)
    came, gone = _how_many(times[won], ends), _how_many(times[lost], ends)
    still, low, high = _kaplan_meier(came, at_risk)
    all_ends, _, _ = _kaplan_meier(came + gone, at_risk)
    before = np.concatenate([[1.0], all_ends[:-1]])
    reached = np.flatnonzero(still <= 0.5)
    return RecoveryTimes(
        jobs=len(times),
        left_out=left_out,
        censored=int((~(won | lost)).sum()),
        hours=ends,
        at_risk=at_risk,
        recovered=came,
        lost=gone,
        still_in=still,
        low=low,
        high=high,
        share_recovered=np.cumsum(before * came / at_risk),
        median=float(ends[reached[0]]) if len(reached) else None,
    )


def _how_many(times: Array, at: Array) -> Array:
    ordered = np.sort(times)
    after = np.searchsorted(ordered, at, side="right")
    return (after - np.searchsorted(ordered, at, side="left")).astype(float)


def _kaplan_meier(events: Array, at_risk: Array) -> tuple[Array, Array, Array]:
    """Survival after each time, and its 95 % interval, which is nan where survival is 0 or 1."""
    survival: Array = np.cumprod((at_risk - events) / at_risk, dtype=np.float64)
    with np.errstate(divide="ignore", invalid="ignore"):
        greenwood = np.cumsum(events / (at_risk * (at_risk - events)))
        middle, error = np.log(-np.log(survival)), np.sqrt(greenwood / np.log(survival) ** 2)
        margin = ndtri(0.975) * error
        low, high = np.exp(-np.exp(middle + margin)), np.exp(-np.exp(middle - margin))
    return survival, low, high
