"""What it would be worth to know an uncertain amount before the limit is set.

    worth of x = min_n E[C_n] - E_x[ min_n E[C_n | x] ]

x is known as one of 16 equally likely ranges of its distribution, or as its value where it
has at most so many: C_n | range comes from the draws of the base with the u of x squeezed
into the range, so every range has the same random numbers and their average is C_n again.
After a log the ranges are equally likely after it, and the draws in one weigh as the log says.
To know x more closely could only be worth more, and the sixteenths come near to that. Of
several fallbacks, too, the one that is cheapest in the range is taken by those who know it,
and the one that is cheapest on the whole by those who do not.

The limit of a range is chosen on all scrambles but one and valued on that one, in turn, as
is the limit without knowing, on the draws of the base: so neither choice profits from the noise
of the draws that value it, and noise is not mistaken for something to learn. What is left of bias
is the cost of the rare wrong choice between limits that are nearly equal. A worth within its error
is none.

The ranges are looked at from either end inwards, up to the first in which it gains next to
nothing to know it; those further in are taken to gain nothing. In an amount that the cost of
every limit is linear in, the gain is a convex function, what does not know less what knows, so
that it falls inwards. The others rise or fall all along, and their gain does the same. Not even
the ends are looked at where neither the P10 nor the P90 of the amount brings another limit a third
of the way from where it is to where it would be the best, nor makes another fallback pay.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from econ.decision.estimates import estimate
from econ.decision.sensitivity.bench import Bench, Moved
from econ.decision.sensitivity.inputs import Between
from econ.decision.sensitivity.swings import HIGH, LOW, Uncertain, held_at
from econ.scenario.distributions import Discrete, Distribution

Array = NDArray[np.float64]
RANGES = 16
NEXT_TO_NOTHING = 1e-4  # of the cost: a gain below it is not looked into
FAR = 3.0  # times the way from the base to the P10 or the P90 that the ends are taken to be within


@dataclass(frozen=True)
class Worth:
    """Worth [currency] of knowing an amount, its error, and the best limit from its lowest range
    to its highest."""

    name: str
    worth: float
    error: float
    limits: tuple[int, ...]


def worth_of_knowing(bench: Bench, amounts: Sequence[Uncertain]) -> tuple[Worth, ...]:
    """The worth of knowing each amount, the largest first."""
    told = {amount.path: amount for amount in amounts}
    ranges = {amount.path: _ranges(amount) for amount in amounts}
    near = {path for path, parts in ranges.items() if len(parts) < 3 or _near(bench, told[path])}
    bench.prepare((path, ranges[path][k]) for path in ranges if path in near for k in (0, -1))
    best = bench.base.verdict.best
    worths = [
        _worth(bench, told[path], parts)
        if path in near
        else Worth(path, 0.0, 0.0, (best,) * len(parts))
        for path, parts in ranges.items()
    ]
    return tuple(sorted(worths, key=lambda worth: -worth.worth))


def _worth(bench: Bench, amount: Uncertain, ranges: Sequence[Between]) -> Worth:
    path = amount.path
    minimum, base = bench.job.minimum_runs, bench.base.cost
    best = bench.base.verdict.best
    cost = float(base[:, best].mean())
    moved: dict[int, Moved] = {}
    for inwards in (range(len(ranges)), range(len(ranges) - 1, -1, -1)):
        for place in inwards:
            if place in moved:
                break
            moved[place] = here = bench.moved(path, ranges[place])
            known = here.known.mean(axis=0)[minimum:].min()
            if here.unknown[:, best].mean() - known <= NEXT_TO_NOTHING * abs(cost):
                break
    limits = [best] * len(ranges)
    told = np.zeros(len(base))
    for place, here in moved.items():
        limits[place] = bench.judged(here.known).verdict.best
        low, high = ranges[place]
        share = high - low
        if amount.told is not None:
            share = amount.told.after(high) - amount.told.after(low)
        told += share * _gain(base[:, minimum:], here, minimum)
    worth = estimate(told)
    clear = worth.resolved(cost) and worth.value > 0
    return Worth(path, worth.value if clear else 0.0, worth.error, tuple(limits))


def _near(bench: Bench, amount: Uncertain) -> bool:
    """Whether an amount comes near to moving the limit or the fallback; see the module's head."""
    minimum, best = bench.job.minimum_runs, bench.base.verdict.best
    nothing = NEXT_TO_NOTHING * abs(float(bench.base.cost[:, best].mean()))

    def above(cost: Array) -> Array:
        mean = cost.mean(axis=0)[minimum:]
        return np.asarray(mean - mean[best - minimum])

    base = above(bench.base.cost)
    for probability in (LOW, HIGH):
        moved = bench.moved(amount.path, held_at(amount, probability))
        saved = moved.unknown.mean(axis=0)[best] - moved.known.mean(axis=0)[best]
        if saved > nothing or (base + FAR * (above(moved.known) - base) < 0).any():
            return True
    return False


def _ranges(amount: Uncertain) -> list[Between]:
    """The ranges of an amount, each between two probabilities of the file."""
    distribution: Distribution = amount.distribution
    edges = np.array([amount.before(p) for p in np.linspace(0.0, 1.0, RANGES + 1)])
    if isinstance(distribution, Discrete):
        _, shares = distribution.shares()
        if len(shares) <= RANGES:
            edges = np.concatenate([[0.0], np.cumsum(shares)[:-1], [1.0]])
    return list(pairwise(edges.tolist()))


def _gain(base: Array, moved: Moved, minimum: int) -> Array:
    """Gain of knowing a range on each scramble, with limits chosen on the others.

    base: cost by scramble and limit, on which those choose who do not know the range.
    """
    known, unknown = moved.known[:, minimum:], moved.unknown[:, minimum:]
    blind = (base.sum(axis=0) - base).argmin(axis=1)
    sees = (known.sum(axis=0) - known).argmin(axis=1)
    scrambles = np.arange(len(base))
    return np.asarray(unknown[scrambles, blind] - known[scrambles, sees])
