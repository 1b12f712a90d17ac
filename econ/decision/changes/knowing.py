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

Where the first and the last range both keep the base's limit, the ranges between are taken to
keep it too and are not walked: the difference in cost of two limits is linear in most amounts
and rises or falls all along the others.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from econ.decision.changes.drivers import Bench
from econ.decision.changes.swings import Uncertain, resolved
from econ.decision.estimates import ROUNDING, estimate
from econ.decision.quick import Quick
from econ.scenario.distributions import Discrete, Distribution

Array = NDArray[np.float64]
RANGES = 16


@dataclass(frozen=True)
class Knowing:
    """Worth [currency] of knowing an amount, its error, and the best limit from its lowest range
    to its highest; of the first and last only, where both are the base's."""

    name: str
    worth: float
    error: float
    limits: tuple[int, ...]


@dataclass(frozen=True)
class _Range:
    """Limits with the amount in a range: known, and cost by scramble with it unknown."""

    known: Quick
    unknown: Array

    @property
    def keeps_fallback(self) -> bool:
        """Whether knowing the range does not change which fallback is taken."""
        return bool(np.allclose(self.known.cost, self.unknown, rtol=ROUNDING, atol=0.0))


def worth_of_knowing(
    bench: Bench, base: Quick, amounts: Sequence[Uncertain]
) -> tuple[Knowing, ...]:
    """The worth of knowing each amount, the largest first."""
    found = [_worth(bench, base, each) for each in amounts]
    return tuple(sorted(found, key=lambda each: -each.worth))


def _worth(bench: Bench, base: Quick, amount: Uncertain) -> Knowing:
    edges = _edges(amount.distribution)
    ranges = list(pairwise(edges))
    best = base.verdict.best

    def walk(between: tuple[float, float]) -> _Range:
        known = bench.limits_moved(amount.path, between)
        if bench.choice is None:  # a single fallback: nothing to choose but the limit
            return _Range(known, known.cost)
        return _Range(known, bench.cost_moved_unknown(amount.path, between))

    ends = [walk(ranges[k]) for k in (0, -1)]
    if all(end.known.verdict.best == best and end.keeps_fallback for end in ends):
        return Knowing(amount.path, 0.0, 0.0, (best, best))
    inner = [walk(each) for each in ranges[1:-1]]
    walked = [ends[0], *inner, ends[1]] if len(ranges) > 1 else ends[:1]
    minimum = bench.inputs.minimum_runs
    known = np.stack([each.known.cost[:, minimum:] for each in walked])
    unknown = np.stack([each.unknown[:, minimum:] for each in walked])
    found = estimate(_gains(np.diff(edges), known, unknown))
    clear = resolved(found, float(base.cost[:, best].mean())) and found.value > 0
    return Knowing(
        name=amount.path,
        worth=found.value if clear else 0.0,
        error=found.error,
        limits=tuple(each.known.verdict.best for each in walked),
    )


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
