"""The bill of a fallback: a sure part, kick-off retries, and trouble that may happen.

    q, R      chance that a plug does not hold a kick-off, cost of one retry
    m, W, w   after m failed plugs a whipstock: cost of an attempt with it, chance that it fails
    s, T      chance and cost of sticking again (of trouble with a lump)
    c         the sure part

Retries are geometric. Without a whipstock their mean number is q/(1 - q); with one

    mean   = c + R (q + ... + q^(m-1)) + q^m W/(1 - w) + s T
    event  N = floor(ln u/ln q) failures of a uniform u; R min(N, m - 1), and from N = m on
           W (1 + N'), N' = floor((ln u - m ln q)/ln w)

and with exponential utility of tolerance t, a = q exp(R/t), b = w exp(W/t),

    E exp(cost/t) = exp(c/t) (1 - s + s exp(T/t))
                    [(1 - q)(1 - a^m)/(1 - a) + a^m exp((W - R)/t) (1 - w)/(1 - b)]

which has no end where b >= 1 or, without a whipstock, a >= 1.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
NEVER = 1e6  # failed plugs before a whipstock where there is none


@dataclass(frozen=True)
class Attempts:
    """Attempts with a whipstock once `after` plugs have failed: cost of each, chance to fail."""

    after: Array
    each: Array
    failure: Array


@dataclass(frozen=True)
class Bill:
    """What a fallback costs from a certain point: the sure part, and each retry and stick.

    certain, per_retry [currency]: the sure cost, and the cost of one retry.
    failure, stick_chance [fraction], stick_cost [currency]: of the draw; given_up: value of the
    well that is in the sure cost but is no money spent [currency].
    """

    certain: Array
    per_retry: Array
    failure: Array
    stick_chance: Array
    stick_cost: Array
    whipstock: Attempts | None = None
    given_up: Array = field(default_factory=lambda: np.zeros(()))

    def kickoff_mean(self) -> Array:
        """Expected cost [currency] of the retries and of a whipstock.

        >>> a = np.asarray
        >>> whipstock = Attempts(after=a(2.0), each=a(300.0), failure=a(0.5))
        >>> bill = Bill(a(0.0), a(100.0), a(0.25), a(0.0), a(0.0), whipstock)
        >>> float(bill.kickoff_mean())
        62.5
        """
        q, tools = self.failure, self.whipstock
        if tools is None:
            return np.asarray(q / (1.0 - q) * self.per_retry)
        plugs = q * (1.0 - q ** (tools.after - 1.0)) / (1.0 - q)
        return np.asarray(
            plugs * self.per_retry + q**tools.after * tools.each / (1.0 - tools.failure)
        )

    def mean(self) -> Array:
        """Expected cost [currency]."""
        return np.asarray(self.certain + self.kickoff_mean() + self.stick_chance * self.stick_cost)

    def event(self, *, retry_draw: Array, stick_draw: Array) -> Array:
        """Cost [currency] with the retries and the sticking of two uniform draws of shape (n,)."""
        log_u, log_q = np.log(retry_draw), np.log(np.maximum(self.failure, 1e-300))
        failed = np.floor(log_u / log_q)
        sticks = stick_draw < self.stick_chance
        cost = self.certain + sticks * self.stick_cost
        tools = self.whipstock
        if tools is None:
            return np.asarray(cost + failed * self.per_retry)
        log_w = np.log(np.maximum(tools.failure, 1e-300))
        again = np.floor(np.maximum(log_u - tools.after * log_q, log_u) / log_w)
        tried = np.where(failed >= tools.after, 1.0 + np.maximum(again, 0.0), 0.0)
        plugs = np.minimum(failed, tools.after - 1.0)
        return np.asarray(cost + plugs * self.per_retry + tried * tools.each)

    def mean_exponential(self, *, tolerance: float, less: float) -> Array:
        """Expectation of exp((cost - less)/tolerance), infinite where it has no end."""
        t, q = tolerance, self.failure
        with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
            a = q * np.exp(self.per_retry / t)
            if self.whipstock is None:
                kickoff = np.where(a < 1.0, (1.0 - q) / (1.0 - a), np.inf)
            else:
                tools = self.whipstock
                m, w = tools.after, tools.failure
                b = w * np.exp(tools.each / t)
                series = np.where(np.abs(a - 1.0) < 1e-9, m, (1.0 - a**m) / (1.0 - a))
                plugs = (1.0 - q) * series
                last = a**m * np.exp((tools.each - self.per_retry) / t) * (1.0 - w) / (1.0 - b)
                endless = np.where(q > 0.0, np.inf, 0.0)  # where no plug fails it is never run
                kickoff = plugs + np.where(b < 1.0, last, endless)
            stuck = 1.0 - self.stick_chance + self.stick_chance * np.exp(self.stick_cost / t)
            return np.asarray(np.exp((self.certain - less) / t) * stuck * kickoff)

    def plus(self, more: Array) -> Bill:
        """The same bill with `more` [currency] on the sure part."""
        return replace(self, certain=self.certain + more)


def picked(bills: Sequence[Bill], taken: NDArray[np.intp]) -> Bill:
    """In each place of `taken` the bill of that number."""

    def pick(values: Sequence[Array]) -> Array:
        shape = np.broadcast_shapes(taken.shape, *(each.shape for each in values))
        return np.choose(np.broadcast_to(taken, shape), values)

    none = np.zeros(())
    tools = None
    if any(bill.whipstock is not None for bill in bills):
        each = [bill.whipstock or Attempts(np.asarray(NEVER), none, none) for bill in bills]
        tools = Attempts(
            pick([one.after for one in each]),
            pick([one.each for one in each]),
            pick([one.failure for one in each]),
        )
    return Bill(
        certain=pick([bill.certain for bill in bills]),
        per_retry=pick([bill.per_retry for bill in bills]),
        failure=pick([bill.failure for bill in bills]),
        stick_chance=pick([bill.stick_chance for bill in bills]),
        stick_cost=pick([bill.stick_cost for bill in bills]),
        whipstock=tools,
        given_up=pick([bill.given_up for bill in bills]),
    )
