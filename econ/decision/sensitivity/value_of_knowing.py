"""What it would be worth to know an uncertain amount before the limit is set.

    worth of x = min_n E[C_n] - E_x[ min_n E[C_n | x] ]

x is known as one of 16 equally likely ranges of its distribution, or as its value where it
has at most so many: C_n | range comes from the draws of the base with the u of x squeezed
into the range, so every range has the same random numbers and their average is C_n again.
To know x more closely could only be worth more, and the sixteenths come near to that. Of
several fallbacks, too, the one that is cheapest in the range is taken by those who know it,
and the one that is cheapest on the whole by those who do not.

The limit of a range is chosen on all scrambles but one and valued on that one, in turn, as
is the limit without knowing: so neither choice profits from the noise of the draws that value
it, and noise is not mistaken for something to learn. What is left of bias is the cost of the
rare wrong choice between limits that are nearly equal. A worth within its error is none.

Where it gains next to nothing to know that the amount is in its first or in its last range, the
ranges between are not looked at, and the worth is none. In an amount that the cost of every limit
is linear in, the gain is a convex function, what does not know less what knows: nowhere larger
than at an end. The others rise or fall all along, and their gain is largest at an end as well.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from econ.decision.estimates import estimate
from econ.decision.sensitivity.inputs import Bench, Moved
from econ.decision.sensitivity.swings import Uncertain
from econ.scenario.distributions import Discrete, Distribution

Array = NDArray[np.float64]
RANGES = 16
NEXT_TO_NOTHING = 1e-4  # of the cost: a gain below it is not looked into


@dataclass(frozen=True)
class Worth:
    """Worth [currency] of knowing an amount, its error, and the best limit from its lowest range
    to its highest; of the first and last only, where knowing either gains next to nothing."""

    name: str
    worth: float
    error: float
    limits: tuple[int, ...]


def worth_of_knowing(bench: Bench, amounts: Sequence[Uncertain]) -> tuple[Worth, ...]:
    """The worth of knowing each amount, the largest first."""
    worths = [_worth(bench, amount) for amount in amounts]
    return tuple(sorted(worths, key=lambda worth: -worth.worth))


def _worth(bench: Bench, amount: Uncertain) -> Worth:
    edges = _edges(amount.distribution)
    ranges = list(pairwise(edges))
    minimum, best = bench.job.minimum_runs, bench.base.verdict.best
    cost = float(bench.base.cost[:, best].mean())

    def gain(moved: Moved) -> float:
        known = moved.known.mean(axis=0)[minimum:].min()
        return float(moved.unknown[:, best].mean() - known)

    ends = [bench.moved(amount.path, ranges[k]) for k in (0, -1)]
    if max(map(gain, ends)) <= NEXT_TO_NOTHING * abs(cost):
        return Worth(amount.path, 0.0, 0.0, tuple(_best(bench, moved) for moved in ends))
    inner = [bench.moved(amount.path, between) for between in ranges[1:-1]]
    moved = [ends[0], *inner, ends[1]] if len(ranges) > 1 else ends[:1]
    known = np.stack([one.known[:, minimum:] for one in moved])
    unknown = np.stack([one.unknown[:, minimum:] for one in moved])
    told = estimate(_gains(np.diff(edges), known, unknown))
    clear = told.resolved(cost) and told.value > 0
    return Worth(
        name=amount.path,
        worth=told.value if clear else 0.0,
        error=told.error,
        limits=tuple(_best(bench, one) for one in moved),
    )


def _best(bench: Bench, moved: Moved) -> int:
    return bench.judged(moved.known).verdict.best


def _edges(distribution: Distribution) -> Array:
    """Ends of the ranges, in probability."""
    if isinstance(distribution, Discrete):
        _, shares = distribution.shares()
        if len(shares) <= RANGES:
            return np.concatenate([[0.0], np.cumsum(shares)[:-1], [1.0]])
    return np.linspace(0.0, 1.0, RANGES + 1)


def _gains(chances: Array, known: Array, unknown: Array) -> Array:
    """Gain of knowing on each scramble, with limits chosen on the others.

    known, unknown: cost by range, scramble and limit, with the fallback chosen for the range
    and chosen for all ranges alike.
    """
    mean = np.tensordot(chances, unknown, axes=1)
    blind = (mean.sum(axis=0) - mean).argmin(axis=1)
    sees = (known.sum(axis=1, keepdims=True) - known).argmin(axis=2)
    without = np.take_along_axis(mean, blind[:, None], axis=1)[:, 0]
    with_it = chances @ np.take_along_axis(known, sees[:, :, None], axis=2)[:, :, 0]
    return np.asarray(without - with_it)
