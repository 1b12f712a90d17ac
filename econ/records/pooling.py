"""Odds by kind of run on all fish together: kinds lean on the trade and on one another.

    k_i | m_i ~ binomial(n_i, m_i)
    l(x) = sum over kinds of k_i log m_i + (n_i - k_i) log(1 - m_i) - (x - c)' P (x - c) / 2
x_i is the logit of m_i; c and P are the prior of the trade (`econ.records.trade`), in which all
kinds share most of a shift: what many overshots of a company say moves its one magnet too. l has
one peak, which Newton's method finds. A kind with three runs ends near where the trade and the
other kinds put it, one with three hundred near its own k/n.

The interval is where twice the drop of l, the other kinds at their best, reaches 3.84, with the
prior of intervals (`econ.records.trade`) and with k_i and n_i over the spread of their jobs
(`econ.records.counts`); the `weight` that a scenario takes is that of a Beta no tighter than the
interval, and no more than n_i and the runs that the trade counts.

Source: A. Gelman et al., Bayesian Data Analysis, chapter 5, partial pooling (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import expit, logit

from econ.records.counts import Counts
from econ.records.proportions import weight_within
from econ.records.trade import APART, LIGHT, Array, Prior, in_one_table
from econ.records.two_kinds import LIMIT

if TYPE_CHECKING:
    import pandas as pd

MOST_STEPS = 60
FARTHEST = 40.0  # of a logit: 0 or 1 to all digits


@dataclass(frozen=True)
class PooledOdds:
    """Chance of recovery of a kind of run on all fish, with its interval."""

    kind: str
    runs: int
    recovered: int
    planned: float  # by the trade, before any record [fraction]
    mean: float  # [fraction]
    weight: float  # runs it is worth
    low: float
    high: float


@dataclass(frozen=True)
class Pooling:
    """The kinds together, and each one pooled."""

    mean: float  # over all runs made [fraction]
    kinds: tuple[PooledOdds, ...]

    def to_frame(self) -> pd.DataFrame:
        """One row a kind."""
        import pandas as pd

        return pd.DataFrame([vars(each) for each in self.kinds])


def pool(counts: Counts, *, weight: float) -> Pooling:
    """Pool the kinds of run that occur. weight: runs that the odds of the trade count."""
    won = np.array([each.share.successes for each in counts.by_kind], dtype=float)
    made = np.array([each.share.cases for each in counts.by_kind], dtype=float)
    words = [each.kind for each in counts.by_kind]
    spread = np.array([each.share.spread for each in counts.by_kind])
    prior, wide = in_one_table(words, weight), in_one_table(words, min(weight, LIGHT), common=APART)
    fewer = won / spread, made / spread, wide
    at, top = peak(won, made, prior), peak(*fewer)
    kinds = []
    for place, each in enumerate(counts.by_kind):
        mean = float(expit(at[place]))
        low, high = (float(expit(_end(*fewer, top, place, side))) for side in (-1, 1))
        low, high = min(low, mean), max(high, mean)
        if each.share.successes in (0, each.share.cases):  # at an edge l alone claims too much
            low, high = min(low, each.share.wilson[0]), max(high, each.share.wilson[1])
        kinds.append(
            PooledOdds(
                kind=each.kind,
                runs=each.share.cases,
                recovered=each.share.successes,
                planned=float(expit(prior.centre[place])),
                mean=mean,
                weight=min(weight + made[place], weight_within(mean=mean, low=low, high=high)),
                low=low,
                high=high,
            )
        )
    return Pooling(mean=float(made @ expit(at) / made.sum()), kinds=tuple(kinds))


def height(won: Array, made: Array, prior: Prior, at: Array) -> float:
    """l at the logits `at`; arrays of shape (kinds,)."""
    off = at - prior.centre
    data = won @ at - made @ np.logaddexp(0.0, at)
    return float(data - 0.5 * off @ prior.precision @ off)


def peak(
    won: Array, made: Array, prior: Prior, *, start: Array | None = None, held: int | None = None
) -> Array:
    """The logits at the peak of l, shape (kinds,), one of them held where it starts if asked."""
    begin = logit((won + 0.5) / (made + 1.0)) if start is None else start
    at = np.array(begin, dtype=float)
    free = np.arange(len(at)) != held
    value = height(won, made, prior, at)
    for _ in range(MOST_STEPS):
        chance = expit(at)
        slope = (won - made * chance - prior.precision @ (at - prior.centre))[free]
        bend = prior.precision + np.diag(made * chance * (1 - chance))
        step = np.zeros(len(at))
        step[free] = np.linalg.solve(bend[np.ix_(free, free)], slope)
        longest = float(np.abs(step).max())
        if longest < 1e-10:
            break
        found = height(won, made, prior, at + step)
        while found < value - 1e-12 * abs(value) and longest > 1e-10:  # l is concave: halve it
            step, longest = 0.5 * step, 0.5 * longest
            found = height(won, made, prior, at + step)
        at, value = at + step, found
    return at


def _end(won: Array, made: Array, prior: Prior, at: Array, place: int, side: int) -> float:
    """Where the drop of l reaches its limit on one side of the peak, by halving."""
    top = height(won, made, prior, at)

    def within(moved: float) -> bool:
        start = at.copy()
        start[place] = moved
        best = peak(won, made, prior, start=start, held=place)
        return 2 * (top - height(won, made, prior, best)) <= LIMIT

    inside, step = float(at[place]), 0.5
    while within(inside + side * step):
        inside += side * step
        step *= 2
        if abs(inside) > FARTHEST:
            return inside
    outside = inside + side * step
    while abs(outside - inside) > 1e-4:
        middle = 0.5 * (inside + outside)
        inside, outside = (middle, outside) if within(middle) else (inside, middle)
    return inside
