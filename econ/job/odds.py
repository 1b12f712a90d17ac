"""Odds of the six outcomes of a run, and what changes them.

    uncertain odds   p drawn from Beta(p0 w, (1 - p0) w), w the number of past runs
    losses in time   L' = L q^d / (1 - L + L q^d), L the chance to lose the string or the hole:
                     odds L/(1-L) times q for each of d days
    elapsed time     p' = p r^d / (1 - p + p r^d): odds p/(1-p) times r for each of d days
    damaged top      p'' = f p', and what is taken off goes to `nothing`
In the first three the other outcomes keep their proportions on what is left of 1.

Odds ratios rather than factors on p keep a chance below 1 (common practice in
statistics); the two kinds of fish stand on the first axis of every array.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.special import expit, logit

Array = NDArray[np.float64]


@dataclass(frozen=True)
class RunOdds:
    """Odds [fraction] of the outcomes, summing to 1; arrays of shape (kinds, 1, n or 1)."""

    recovered: Array
    part: Array
    nothing: Array
    top_damaged: Array
    string_lost: Array
    hole_lost: Array

    def total(self) -> Array:
        """Sum over the outcomes."""
        return np.asarray(
            self.recovered
            + self.part
            + self.nothing
            + self.top_damaged
            + self.string_lost
            + self.hole_lost
        )


def beta_recovered(odds: RunOdds, recovered: Array) -> RunOdds:
    """Odds with another chance of recovery [fraction, shape (kinds, 1, n or 1)], the others in
    their proportions.

    Where recovery was certain, what it loses goes to `nothing`. Source: a Beta for one outcome
    of a Dirichlet leaves the others in their proportions, any text on it.

    >>> half = RunOdds(*(np.array(p) for p in (0.5, 0.1, 0.3, 0.1, 0.0, 0.0)))
    >>> more = beta_recovered(half, np.array(0.6))
    >>> round(float(more.nothing), 3), round(float(more.total()), 3)
    (0.24, 1.0)
    """
    rest = 1.0 - odds.recovered
    keep = np.divide(
        1.0 - recovered, rest, out=np.zeros(np.broadcast(recovered, rest).shape), where=rest > 0
    )
    nothing = np.where(rest > 0, odds.nothing * keep, 1.0 - recovered)
    return RunOdds(
        recovered=np.asarray(recovered + 0.0 * keep),
        part=odds.part * keep,
        nothing=nothing,
        top_damaged=odds.top_damaged * keep,
        string_lost=odds.string_lost * keep,
        hole_lost=odds.hole_lost * keep,
    )


def with_elapsed_time(odds: RunOdds, *, ratio_per_day: Array, days: Array) -> RunOdds:
    """Odds `days` [d] after the decision; `ratio_per_day` multiplies p/(1-p) each day.

    A recovery that is certain stays certain. Source: proportional odds, any text on logistic
    regression.

    >>> even = RunOdds(*(np.array(p) for p in (0.5, 0.0, 0.5, 0.0, 0.0, 0.0)))
    >>> later = with_elapsed_time(even, ratio_per_day=np.array(0.5), days=np.array(2.0))
    >>> round(float(later.recovered), 3)
    0.2
    """
    later = expit(logit(odds.recovered) + days * np.log(ratio_per_day))
    return beta_recovered(odds, np.asarray(later))


def with_growing_losses(odds: RunOdds, *, ratio_per_day: Array, days: Array) -> RunOdds:
    """Odds `days` [d] after the decision; `ratio_per_day` multiplies the odds of losing the
    string or the hole each day. A loss that is certain stays certain. Source: as for
    `with_elapsed_time`.

    >>> risky = RunOdds(*(np.array(p) for p in (0.5, 0.0, 0.4, 0.0, 0.1, 0.0)))
    >>> later = with_growing_losses(risky, ratio_per_day=np.array(1.5), days=np.array(2.0))
    >>> round(float(later.string_lost), 3), round(float(later.recovered), 3)
    (0.2, 0.444)
    """
    lost = odds.string_lost + odds.hole_lost
    later = expit(logit(lost) + days * np.log(ratio_per_day))
    shape = np.broadcast_shapes(lost.shape, later.shape)
    grown = np.divide(later, lost, out=np.ones(shape), where=np.broadcast_to(lost > 0, shape))
    kept = np.divide(
        1.0 - later, 1.0 - lost, out=np.ones(shape), where=np.broadcast_to(lost < 1, shape)
    )
    return RunOdds(
        recovered=odds.recovered * kept,
        part=odds.part * kept,
        nothing=odds.nothing * kept,
        top_damaged=odds.top_damaged * kept,
        string_lost=odds.string_lost * grown,
        hole_lost=odds.hole_lost * grown,
    )


def with_damaged_top(odds: RunOdds, *, factor: Array, damaged: NDArray[np.bool_]) -> RunOdds:
    """Odds where the top is `damaged`: `factor` of the recovery is left, the rest is `nothing`.

    >>> even = RunOdds(*(np.array(p) for p in (0.5, 0.0, 0.5, 0.0, 0.0, 0.0)))
    >>> worse = with_damaged_top(even, factor=np.array(0.6), damaged=np.array(True))
    >>> float(worse.recovered), float(worse.nothing)
    (0.3, 0.7)
    """
    cut = odds.recovered * np.where(damaged, 1.0 - factor, 0.0)
    return replace(odds, recovered=odds.recovered - cut, nothing=odds.nothing + cut)
