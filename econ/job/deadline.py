"""Ending late: what a branch costs whose last operation ends after the deadline.

With D the deadline less the work that is still to be done by then, a branch that ends on day T
pays

    L(T) = 0 up to D, exactly on time included, and b + c (T - D) after it

which bends at D: it is taken on the days of each draw, and summed over the number j of failed
attempts, each of h days and with the chance q to fail again. With r the least j that is late,

    E L = sum over j >= 0 of (1 - q) q^j L(T + j h) = q^r [b + c (T + r h - D + h q/(1 - q))]

and of exp((first + j R + L)/t), R the cost of an attempt, over j < m, with a = q exp(R/t) and
a' = q exp((R + c h)/t), k = min(r, m),

    (1 - q) exp(first/t) [(1 - a^k)/(1 - a) + a^k exp(L(T + k h)/t) (1 - a'^(m-k))/(1 - a')]
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
ROUNDING = 1e-9  # [d] less than this is not late
LEAST = 1e-300  # a chance of 0, where its logarithm is taken
NO_TIME = 1e-12  # [d] of an attempt, where it is divided by


@dataclass(frozen=True)
class Attempted:
    """Attempts one after another until one holds, fewer than `most` of which fail: chance that one
    fails, days that a failed one takes [d], its cost [currency]."""

    failure: Array
    days: Array
    cost: Array
    most: Array


@dataclass(frozen=True)
class Deadline:
    """The last day [d from now] on which operations may end, what a later end costs once
    [currency], and for each day late [currency/d]; shape () or (n,)."""

    due: Array
    once: Array
    per_day: Array

    @property
    def chance(self) -> Deadline:
        """The same deadline at a cost of 1 once, which is 1 where the end is late."""
        return Deadline(self.due, np.ones(()), np.zeros(()))

    @property
    def days(self) -> Deadline:
        """The same deadline at a cost of 1 for each day late, which are the days."""
        return Deadline(self.due, np.zeros(()), np.ones(()))

    def cost(self, ends: Array) -> Array:
        """Cost of ending on a day [currency].

        >>> a = np.asarray
        >>> Deadline(a(10.0), a(500.0), a(20.0)).cost(a([9.0, 10.0, 12.5])).tolist()
        [0.0, 0.0, 550.0]
        """
        late = ends - self.due
        return np.where(late > ROUNDING, self.once + self.per_day * late, 0.0)

    def first_late(self, ends: Array, step: Array) -> Array:
        """The least number of steps [d] after a day by which the end is late."""
        slack = self.due - ends
        return np.where(slack < -ROUNDING, 0.0, np.floor((slack + ROUNDING) / step) + 1.0)

    def expected(self, ends: Array, failure: Array, step: Array) -> Array:
        """Mean cost [currency] of ending on a day if every failure, each with its chance, moves the
        end by a step [d].

        >>> a = np.asarray
        >>> float(Deadline(a(10.0), a(500.0), a(20.0)).expected(a(9.5), a(0.5), a(1.0)))
        265.0
        """
        step = np.maximum(step, NO_TIME)
        first = self.first_late(ends, step)
        late = ends + step * first - self.due + step * failure / (1.0 - failure)
        # The logarithm is one a draw, and far sooner had than a power in every state.
        reached = np.exp(first * np.log(np.maximum(failure, LEAST)))
        return np.asarray(reached * (self.once + self.per_day * late))

    def exponential(self, ends: Array, attempts: Attempted, *, tolerance: float) -> Array:
        """Expectation of exp((cost of the failed attempts + cost of ending late)/tolerance), where
        fewer than `attempts.most` fail; infinite where it has no end."""
        q, t, step = attempts.failure, tolerance, np.maximum(attempts.days, NO_TIME)
        on_time = np.minimum(self.first_late(ends, step), attempts.most)
        before = _series(q * np.exp(attempts.cost / t), on_time)
        left = attempts.most - on_time
        late_from = self.cost(ends + step * np.where(left > 0, on_time, 0.0))
        behind = _series(q * np.exp((attempts.cost + self.per_day * step) / t), left)
        reached = (q * np.exp(attempts.cost / t)) ** on_time * np.exp(late_from / t)
        after = np.where((left > 0) & (q**on_time > 0), reached * behind, 0.0)
        return np.asarray((1.0 - q) * (before + after))


def _series(a: Array, terms: Array) -> Array:
    """1 + a + a^2 ... of so many terms, which may be endless."""
    near = np.abs(a - 1.0) < 1e-12
    sums = (1.0 - a**terms) / np.where(near, 1.0, 1.0 - a)
    return np.where(near, terms, sums)
