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

Sources: E.L. Kaplan, P. Meier, J. Am. Stat. Assoc. 53 (1958) 457, by scipy.stats.ecdf, with its
log-log interval; O.O. Aalen, S. Johansen, Scand. J. Stat. 5 (1978) 141, for F.
"""

from __future__ import annotations

import warnings
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

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
    came = _how_many(times[won], ends)
    still, low, high = _kaplan_meier(times, won, ends)
    all_ends, _, _ = _kaplan_meier(times, won | lost, ends)
    before = np.concatenate([[1.0], all_ends[:-1]])
    reached = np.flatnonzero(still <= 0.5)
    return RecoveryTimes(
        jobs=len(times),
        left_out=left_out,
        censored=int((~(won | lost)).sum()),
        hours=ends,
        at_risk=at_risk,
        recovered=came,
        lost=_how_many(times[lost], ends),
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


def _kaplan_meier(times: Array, event: NDArray[np.bool_], at: Array) -> tuple[Array, Array, Array]:
    """Survival and its 95 % interval at the times `at`."""
    from scipy.stats import CensoredData, ecdf

    if not event.any():
        one = np.ones(len(at))
        return one, np.full(len(at), np.nan), np.full(len(at), np.nan)
    sample = CensoredData(uncensored=times[event], right=times[~event])
    survival: Any = ecdf(sample).sf
    with np.errstate(divide="ignore", invalid="ignore"), warnings.catch_warnings():
        warnings.simplefilter("ignore", RuntimeWarning)  # none at S = 0 and 1: nan says so
        band = survival.confidence_interval(0.95, method="log-log")
    # Steps hold from each of SciPy's times to the next; before the first the chance is 1.
    place = np.searchsorted(np.asarray(survival.quantiles), at, side="right")
    steps = [survival.probabilities, band.low.probabilities, band.high.probabilities]
    still, low, high = (np.concatenate([[1.0], np.asarray(each)])[place] for each in steps)
    return still, low, high
