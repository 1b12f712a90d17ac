"""Were past predictions right, and do the odds hold on a job they have not seen?

    Brier score   mean of (stated chance - 1 if it recovered, else 0)^2; 0 is perfect, and always
                  stating the overall share s scores s (1 - s)
    reliability   runs put together by the chance stated: mean of the chances, share recovered
    one job out   each job is predicted by odds made from all other jobs, by three rules: one rate
                  for all runs, each kind of run by itself, and the odds that are handed out,
                  with what the failures of the job so far say of its fish

Jobs with the same counts of runs and of recoveries are left out together only once. Where there
are more than MOST_PATTERNS sorts of job the odds handed out are those of all jobs: one of so many
hardly moves them.

Source: G.W. Brier, Monthly Weather Review 78 (1950) 1; A.H. Murphy, J. Appl. Meteorol. 12
(1973) 595, for the table.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray
from scipy.special import expit

from econ.records import pooling
from econ.records.columns import KINDS
from econ.records.counts import Share
from econ.records.fish_kinds import FishKinds
from econ.records.records import Records
from econ.records.trade import in_one_table
from econ.records.two_kinds import Cells, climb, with_days

if TYPE_CHECKING:
    import pandas as pd

Array = NDArray[np.float64]
EDGES = (0.0, 0.2, 0.4, 0.6, 0.8, 1.0)  # of the chances stated
MOST_PATTERNS = 400  # sorts of job for which the pooling is made anew; above, it hardly moves
CLOSEST = 1e-3  # a chance is taken this far from 0 and 1 in the log score


@dataclass(frozen=True)
class Bin:
    """Runs whose stated chance lies from `low` to `high`."""

    low: float
    high: float
    stated: float  # mean of the chances stated
    share: Share


@dataclass(frozen=True)
class Calibration:
    """Stated chances against what came of the runs."""

    runs: int
    stated: float  # mean
    share: Share
    brier: float
    brier_of_share: float  # of always stating the overall share
    bins: tuple[Bin, ...]

    def to_frame(self) -> pd.DataFrame:
        """One row a bin."""
        import pandas as pd

        return pd.DataFrame(
            [
                {"low": each.low, "high": each.high, "stated": each.stated}
                | {"runs": each.share.cases, **each.share.row()}
                for each in self.bins
            ]
        )


def calibration(records: Records) -> Calibration | None:
    """The check of the chances stated beforehand; None if no row has one."""
    known = np.isfinite(records.stated)
    if not known.any():
        return None
    stated, won = records.stated[known], records.recovered[known]
    place = np.clip(np.searchsorted(EDGES, stated, side="right") - 1, 0, len(EDGES) - 2)
    bins = []
    for number in np.unique(place):
        here = place == number
        share = Share(int(won[here].sum()), int(here.sum()))
        bins.append(Bin(EDGES[number], EDGES[number + 1], float(stated[here].mean()), share))
    share = Share(int(won.sum()), len(won))
    brier = float(((stated - won) ** 2).mean())
    scored = share.rate * (1 - share.rate)
    return Calibration(len(won), float(stated.mean()), share, brier, scored, tuple(bins))


@dataclass(frozen=True)
class Score:
    """How well a rule predicts jobs it has not seen: lower is better."""

    rule: str
    brier: float
    log: float  # mean of -log of the chance given to what happened


@dataclass(frozen=True)
class Influence:
    """The one job without which the pooled odds of a kind move most."""

    kind: str
    job: str
    odds: float
    without: float


@dataclass(frozen=True)
class OneOut:
    """The check by leaving one job out; empty where there is but one job."""

    scores: tuple[Score, ...]
    influences: tuple[Influence, ...]

    def to_frame(self) -> pd.DataFrame:
        """One row a rule."""
        import pandas as pd

        return pd.DataFrame([vars(each) for each in self.scores], columns=["rule", "brier", "log"])


def handed_out(records: Records, fish: FishKinds) -> Array:
    """Chance of each run by the odds handed out, given that those before it in its job failed;
    shape (runs,)."""
    return _chances(records, fish, np.broadcast_to(fish.at, (len(records.job), len(fish.at))))


def _chances(records: Records, fish: FishKinds, at: Array) -> Array:
    """The same by the logits `at` of each run, shape (runs, parameters)."""
    kinds = len(fish.kinds)
    kind = np.searchsorted([KINDS.index(each) for each in fish.kinds], records.kind)
    rows = np.arange(len(kind))
    drift = at[:, 2 * kinds + 1] * _days(records) if at.shape[1] > 2 * kinds + 1 else 0.0
    eta, theta = at[rows, 1 + kind] + drift, at[rows, 1 + kinds + kind] + drift
    against = np.logaddexp(0.0, theta) - np.logaddexp(0.0, eta)  # of one failure, on the logit
    summed = np.cumsum(against) - against
    belief = expit(at[:, 0] + summed - summed[records.first[records.job]])
    return np.asarray(belief * expit(eta) + (1 - belief) * expit(theta))


def _days(records: Records) -> Array:
    return np.asarray(np.nan_to_num(records.before / 24.0))


def leave_one_out(records: Records, fish: FishKinds, *, weight: float) -> OneOut:
    """Predict each job from the others. weight: runs that the odds of the trade count."""
    present, kind = np.unique(records.kind, return_inverse=True)
    size, jobs = len(present), len(records.names)
    if jobs < 2:
        return OneOut((), ())
    table = np.zeros((jobs, 2 * size), dtype=np.int64)
    np.add.at(table, (records.job, kind), 1)
    np.add.at(table, (records.job, kind + size), records.recovered.astype(np.int64))
    sorts, first, sort = np.unique(table, axis=0, return_index=True, return_inverse=True)
    sort = sort.reshape(-1)  # of each job
    made, won = sorts[:, :size].astype(float), sorts[:, size:].astype(float)
    all_made, all_won = (
        np.bincount(kind, minlength=size),
        np.bincount(kind, records.recovered, size),
    )
    rest_made, rest_won = all_made - made, all_won - won
    overall = (rest_won.sum(axis=1) / np.maximum(rest_made.sum(axis=1), 1))[:, None]
    alone = np.where(rest_made > 0, rest_won / np.maximum(rest_made, 1), overall)
    of_run = sort[records.job]
    came = records.recovered
    scores = (
        _score("one rate for all runs", overall[of_run, 0], came),
        _score("each kind by itself", alone[of_run, kind], came),
        _score("the odds handed out", _without(records, fish, kind, sort, first), came),
    )
    return OneOut(scores, _influences(records, made, won, first, weight))


def _score(rule: str, chance: Array, came: NDArray[np.bool_]) -> Score:
    inside = np.clip(chance, CLOSEST, 1 - CLOSEST)
    log = -np.where(came, np.log(inside), np.log(1 - inside))
    return Score(rule, float(((chance - came) ** 2).mean()), float(log.mean()))


def _without(
    records: Records,
    fish: FishKinds,
    kind: NDArray[np.int64],
    sort: NDArray[np.int64],
    first: NDArray[np.int64],
) -> Array:
    """Chance of each run by the odds handed out of all other jobs, shape (runs,)."""
    jobs = np.arange(len(sort))
    timed = len(fish.at) > len(fish.prior.centre)  # then no two jobs are alike
    of_job = jobs if timed else sort
    example = jobs if timed else first
    if len(example) > MOST_PATTERNS:
        return handed_out(records, fish)
    days = _days(records) if timed else np.zeros(len(kind))
    at = np.empty((len(example), len(fish.at)))
    start = fish.at if timed else np.append(fish.at, 0.0)
    for place, job in enumerate(example):
        rest = records.job != job
        _, number = np.unique(records.job[rest], return_inverse=True)
        cells: Cells = with_days(
            number, kind[rest], records.recovered[rest], days[rest], fish.prior
        )
        at[place] = climb(cells, start).at[: len(fish.at)]
    return _chances(records, fish, at[of_job[records.job]])


def _influences(
    records: Records, made: Array, won: Array, first: NDArray[np.int64], weight: float
) -> tuple[Influence, ...]:
    """Of each kind of run the job without which its odds on all fish move most."""
    present = np.unique(records.kind)
    prior = in_one_table([KINDS[place] for place in present], weight)
    all_made = np.bincount(records.kind, minlength=len(KINDS))[present].astype(float)
    all_won = np.bincount(records.kind, records.recovered, len(KINDS))[present].astype(float)
    at = pooling.peak(all_won, all_made, prior)
    # The job that moves most is among those with most against its expectation.
    pull = np.abs(won - made * expit(at)).max(axis=1)
    tried = np.argsort(-pull, kind="stable")[:MOST_PATTERNS]
    moved = np.array(
        [expit(pooling.peak(all_won - won[n], all_made - made[n], prior, start=at)) for n in tried]
    )
    whole = expit(at)
    found = []
    for place, word in enumerate(present):
        far = np.where(made[tried, place] > 0, np.abs(moved[:, place] - whole[place]), -1.0)
        most = int(np.argmax(far))
        name = records.names[first[tried[most]]]
        found.append(Influence(KINDS[word], name, float(whole[place]), float(moved[most, place])))
    return tuple(found)
