"""Odds of the seven outcomes of a run, and what changes them.

    uncertain odds   p drawn from Beta(p0 w, (1 - p0) w), w the number of past runs; the other
                     outcomes keep their proportions on what is left of 1
    losses in time   L' = L q^d / (1 - L + L q^d), L the chance to lose the string or the hole:
                     odds L/(1-L) times q for each of d days
    recovery         p' = p R / (1 - p + p R): odds p/(1-p) times R, the product of r for each of
                     d days and of the ratios of the marks that hold
    damaged top      p'' = f p', and what is taken off goes to `nothing`

What time adds to losses or to the recovery comes from `nothing`, and what it takes goes there:
the chances of `part`, `prepared` and `top_damaged`, and so what they say about the fish, do not
move with time. Where `nothing` has not enough to give, the rest comes from these three in
proportion; where they do not suffice either, all outcomes are divided by their sum.

Losses age before the recovery does. Odds ratios rather than factors on p keep a chance below 1
(common practice in statistics); the kinds of fish stand on the first axis of every array.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
MOST_LOG = 700.0  # of a ratio: what is greater is no number


@dataclass(frozen=True)
class RunOdds:
    """Odds [fraction] of the outcomes, summing to 1; arrays of shape (kinds, 1, n or 1)."""

    recovered: Array
    part: Array
    nothing: Array
    prepared: Array
    top_damaged: Array
    string_lost: Array
    hole_lost: Array

    def total(self) -> Array:
        """Sum over the outcomes."""
        return np.asarray(
            self.recovered
            + self.part
            + self.nothing
            + self.prepared
            + self.top_damaged
            + self.string_lost
            + self.hole_lost
        )


def at_log_ratio(chance: Array, log_ratio: Array) -> Array:
    """A chance with its odds times exp(log_ratio); 0 and 1 stay what they are.

    >>> at_log_ratio(np.array([0.0, 0.5, 1.0]), np.log(3.0)).tolist()
    [0.0, 0.75, 1.0]
    """
    log = np.minimum(np.maximum(log_ratio, -MOST_LOG), MOST_LOG)  # np.clip takes longer
    against = (1.0 - chance) * np.exp(-log)
    return np.asarray(chance / (chance + against))


def beta_recovered(odds: RunOdds, recovered: Array) -> RunOdds:
    """Odds with another chance of recovery [fraction, shape (kinds, 1, n or 1)], the others in
    their proportions.

    Where recovery was certain, what it loses goes to `nothing`. Source: a Beta for one outcome
    of a Dirichlet leaves the others in their proportions, any text on it.

    >>> half = RunOdds(*(np.array(p) for p in (0.5, 0.1, 0.3, 0.0, 0.1, 0.0, 0.0)))
    >>> more = beta_recovered(half, np.array(0.6))
    >>> round(float(more.nothing), 3), round(float(more.total()), 3)
    (0.24, 1.0)
    """
    rest, left = 1.0 - odds.recovered, 1.0 - recovered
    keep = np.divide(left, rest, out=np.zeros(np.broadcast(recovered, rest).shape), where=rest > 0)
    nothing = np.where(rest > 0, odds.nothing * keep, left)
    return RunOdds(
        recovered=np.asarray(recovered + 0.0 * keep),
        part=odds.part * keep,
        nothing=nothing,
        prepared=odds.prepared * keep,
        top_damaged=odds.top_damaged * keep,
        string_lost=odds.string_lost * keep,
        hole_lost=odds.hole_lost * keep,
    )


def with_odds_ratio(odds: RunOdds, *, ratio: Array) -> RunOdds:
    """Odds with p/(1-p) of recovery times `ratio`, the others in their proportions.

    A recovery that is certain stays certain. Source: proportional odds, any text on logistic
    regression.

    >>> even = RunOdds(*(np.array(p) for p in (0.5, 0.1, 0.4, 0.0, 0.0, 0.0, 0.0)))
    >>> less = with_odds_ratio(even, ratio=np.array(0.25))
    >>> round(float(less.recovered), 3), round(float(less.part), 3)
    (0.2, 0.16)
    """
    return beta_recovered(odds, at_log_ratio(odds.recovered, np.log(ratio)))


def with_recovery_ratio(odds: RunOdds, *, log_ratio: Array) -> RunOdds:
    """Odds with p/(1-p) of recovery times exp(log_ratio), at the expense of `nothing`.

    A recovery that is certain stays certain. Source: as for `with_odds_ratio`.

    >>> even = RunOdds(*(np.array(p) for p in (0.5, 0.1, 0.4, 0.0, 0.0, 0.0, 0.0)))
    >>> later = with_recovery_ratio(even, log_ratio=2.0 * np.log(np.array(0.5)))
    >>> round(float(later.recovered), 3), float(later.part), round(float(later.nothing), 3)
    (0.2, 0.1, 0.7)
    """
    return _balanced(odds, recovered=at_log_ratio(odds.recovered, log_ratio))


def with_growing_losses(odds: RunOdds, *, ratio_per_day: Array, days: Array) -> RunOdds:
    """Odds `days` [d] after the decision; `ratio_per_day` multiplies the odds of losing the
    string or the hole each day, at the expense of `nothing`. A loss that is certain stays
    certain. Source: as for `with_odds_ratio`.

    >>> risky = RunOdds(*(np.array(p) for p in (0.5, 0.0, 0.4, 0.0, 0.0, 0.1, 0.0)))
    >>> later = with_growing_losses(risky, ratio_per_day=np.array(1.5), days=np.array(2.0))
    >>> round(float(later.string_lost), 3), float(later.recovered), round(float(later.nothing), 3)
    (0.2, 0.5, 0.3)
    """
    lost = odds.string_lost + odds.hole_lost
    later = at_log_ratio(lost, days * np.log(ratio_per_day))
    shape = np.broadcast_shapes(lost.shape, later.shape)
    grown = np.divide(later, lost, out=np.ones(shape), where=np.broadcast_to(lost > 0, shape))
    return _balanced(odds, string_lost=odds.string_lost * grown, hole_lost=odds.hole_lost * grown)


def _balanced(odds: RunOdds, **moved: Array) -> RunOdds:
    """Odds with some outcomes moved and `nothing` as what is left of 1; see the module's head."""
    changed = replace(odds, **moved)
    more = changed.total() - 1.0  # that has to be given up
    nothing = np.maximum(changed.nothing - more, 0.0)
    missing = np.maximum(more - changed.nothing, 0.0)
    if not missing.any():
        return replace(changed, nothing=nothing)
    others = changed.part + changed.prepared + changed.top_damaged
    keep = np.divide(
        np.maximum(others - missing, 0.0), others, out=np.zeros(missing.shape), where=others > 0
    )
    rest = replace(
        changed,
        nothing=nothing,
        part=changed.part * keep,
        prepared=changed.prepared * keep,
        top_damaged=changed.top_damaged * keep,
    )
    # Only where something is missing, so that the odds of a draw are its own affair.
    total = np.where(missing > 0, np.maximum(rest.total(), 1.0), 1.0)
    return RunOdds(*(getattr(rest, outcome.name) / total for outcome in fields(rest)))


def with_damaged_top(odds: RunOdds, *, factor: Array, damaged: NDArray[np.bool_]) -> RunOdds:
    """Odds where the top is `damaged`: `factor` of the recovery is left, the rest is `nothing`.

    >>> even = RunOdds(*(np.array(p) for p in (0.5, 0.0, 0.5, 0.0, 0.0, 0.0, 0.0)))
    >>> worse = with_damaged_top(even, factor=np.array(0.6), damaged=np.array(True))
    >>> float(worse.recovered), float(worse.nothing)
    (0.3, 0.7)
    """
    cut = odds.recovered * np.where(damaged, 1.0 - factor, 0.0)
    return replace(odds, recovered=odds.recovered - cut, nothing=odds.nothing + cut)
