"""Counts with intervals: success by kind of run, and run by run.

    by kind    k of n runs brought the fish: k/n, Wilson and Beta(1, 1) intervals
    by run     of the n jobs that made run j, k recovered there: the hazard h = k/n, the chance
               that run j ends the job with the fish given that it was made; a job that stopped
               before j is in no count of j, which is what censoring means with runs as time
    by word    the same as by kind for the runs that began with a mark, or depended on a doubt
    still in   product of 1 - h over the runs to j: chance that j runs in a row bring nothing
Runs of one kind on one fish are not independent, since the fish is the same. So the variance of
k/n is taken from sums over jobs, G/(G - 1) sum (k_j - p n_j)^2 / n^2 of G jobs, p = k/n; where it
is D > 1 times p (1 - p)/n, intervals are those of k/D in n/D.

Sources: E.B. Wilson, J. Am. Stat. Assoc. 22 (1927) 209; L. Kish, Survey Sampling, 1965, for D (from
memory); D.R. Cox, J. R. Stat. Soc. B 34 (1972)
187, section on discrete time; the product is the estimator of Kaplan and Meier.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from econ.records.columns import KINDS
from econ.records.proportions import beta_interval, beta_posterior_mean, wilson_interval
from econ.records.records import LOST, STOPPED, Bools, Records

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True)
class Share:
    """k of n [counts] with the 95 % intervals of Wilson and of a Beta(1, 1) posterior."""

    successes: int
    cases: int
    spread: float = 1.0  # D: times that the variance of k/n is above that of independent runs

    @property
    def rate(self) -> float:
        """k/n [fraction]; nan of no case."""
        return self.successes / self.cases if self.cases else float("nan")

    @property
    def wilson(self) -> tuple[float, float]:
        """Wilson interval [fraction]."""
        return wilson_interval(
            successes=self.successes / self.spread, cases=self.cases / self.spread
        )

    @property
    def beta_mean(self) -> float:
        """Mean of the Beta posterior [fraction]."""
        return beta_posterior_mean(successes=self.successes, cases=self.cases)

    @property
    def beta(self) -> tuple[float, float]:
        """Interval of the Beta posterior [fraction]."""
        return beta_interval(mean=self.beta_mean, weight=self.cases / self.spread + 2.0)

    def row(self) -> dict[str, float]:
        """Its numbers by name."""
        (low, high), (beta_low, beta_high) = self.wilson, self.beta
        return {
            "recovered": self.successes,
            "rate": self.rate,
            "wilson_low": low,
            "wilson_high": high,
            "beta_mean": self.beta_mean,
            "beta_low": beta_low,
            "beta_high": beta_high,
        }


@dataclass(frozen=True)
class KindCount:
    """Runs of one kind, and the jobs they were made in."""

    kind: str
    jobs: int
    share: Share


@dataclass(frozen=True)
class RunCount:
    """What became of run `run` in the jobs that made it."""

    run: int
    share: Share  # recovered of at risk: the hazard
    lost: int
    stopped: int  # jobs that made no further run though neither recovered nor lost
    still_in: float  # product of 1 - hazard to here [fraction]


@dataclass(frozen=True)
class WordCount:
    """Runs that began with a mark or depended on a doubt, and the jobs they were made in."""

    column: str  # marks or depends_on
    word: str
    jobs: int
    share: Share


@dataclass(frozen=True)
class Counts:
    """Success by kind of run, by number of run and by word."""

    by_kind: tuple[KindCount, ...]  # the kinds that occur, in the order of the scenario file
    by_run: tuple[RunCount, ...]
    all_runs: Share
    by_word: tuple[WordCount, ...] = ()

    def to_frame(self) -> pd.DataFrame:
        """One row a kind, then one row a number of run."""
        import pandas as pd

        kinds = [
            {"by": "kind", "of": each.kind, "runs": each.share.cases, **each.share.row()}
            for each in self.by_kind
        ]
        runs = [
            {"by": "run", "of": str(each.run), "runs": each.share.cases, **each.share.row()}
            for each in self.by_run
        ]
        words = [
            {"by": each.column, "of": each.word, "runs": each.share.cases, **each.share.row()}
            for each in self.by_word
        ]
        return pd.DataFrame([*kinds, *runs, *words])


def count(records: Records) -> Counts:
    """Count the runs of all jobs."""
    won = records.recovered
    by_kind = []
    for place in np.unique(records.kind):
        here = records.kind == place
        jobs = len(np.unique(records.job[here]))
        by_kind.append(KindCount(KINDS[place], jobs, _share(records, here)))
    last = np.zeros(len(won), dtype=bool)
    last[records.last] = True
    ending = records.ending[records.job]
    by_run = []
    still = 1.0
    most = int(records.run.max())
    made = np.bincount(records.run, minlength=most + 1)
    came = np.bincount(records.run, won, minlength=most + 1)
    lost = np.bincount(records.run, last & (ending == LOST), minlength=most + 1)
    stopped = np.bincount(records.run, last & (ending == STOPPED), minlength=most + 1)
    for run in range(1, most + 1):
        share = Share(int(came[run]), int(made[run]))
        if share.cases == 0:
            continue
        still *= 1 - share.rate
        by_run.append(RunCount(run, share, int(lost[run]), int(stopped[run]), still))
    words = (*_by_word(records, "marks"), *_by_word(records, "depends_on"))
    return Counts(tuple(by_kind), tuple(by_run), Share(int(won.sum()), len(won)), words)


def _share(records: Records, here: Bools) -> Share:
    """Of the runs `here`, with the spread that their jobs give them."""
    won = records.recovered[here]
    share = Share(int(won.sum()), len(won))
    jobs = len(np.unique(records.job[here]))
    if jobs == share.cases or not 0 < share.successes < share.cases:
        return share
    off = np.bincount(records.job[here], won - share.rate)  # k_j - p n_j
    factor = jobs / max(jobs - 1, 1)
    spread = factor * float(off @ off) / (share.cases * share.rate * (1 - share.rate))
    return Share(share.successes, share.cases, max(1.0, spread))


def _by_word(records: Records, column: str) -> list[WordCount]:
    cells = records.marks if column == "marks" else records.doubts
    found = []
    for word in sorted({word for words in set(cells) for word in words}):
        here = np.array([word in words for words in cells])
        jobs = len(np.unique(records.job[here]))
        found.append(WordCount(column, word, jobs, _share(records, here)))
    return found
