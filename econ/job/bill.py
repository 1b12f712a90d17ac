"""The bill of a fallback: what is sure, kick-off retries, and trouble that may happen.

The sure part c has four lines: time at the day rates, charges, what is owed for pieces and
strings lost in the hole, and the value of the well that is given up, which is no money spent.

    q, R      chance that a plug does not hold a kick-off, cost of one retry
    m, W, w   after m failed plugs a whipstock: cost of an attempt with it, chance that it fails
    s, T      chance and cost of sticking again (of trouble with a lump)
    c         the sure part, the sum of its lines

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

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
NEVER = 1e6  # failed plugs before a whipstock where there is none
LEAST = 1e-300  # a chance of 0, where its logarithm is taken


def _nothing() -> Array:
    return np.zeros(())


@dataclass(frozen=True)
class Attempts:
    """Attempts with a whipstock once `after` plugs have failed: cost of each [currency], chance
    to fail, hours of each [h]."""

    after: Array
    each: Array
    failure: Array
    hours: Array = field(default_factory=_nothing)


@dataclass(frozen=True)
class Bill:
    """What a fallback costs from a certain point, line by line; arrays that broadcast together.

    hours: of the fallback without retries [h]; bit_trips: number of them.
    time: those hours at the spread and the directional services [currency]; charges: plugs,
    bits, mobilization, logging and other sums; lost_in_hole: owed for the pieces of the fish;
    string_lost: owed for a fishing string and rented tools; given_up: value of the well that
    is lost with this fallback and is no money spent [all currency].
    per_retry, retry_hours: cost of one kick-off retry [currency], its hours [h]; failure: chance
    that a plug does not hold;
    stick_chance, stick_cost: of sticking again, or of trouble with a lump [fraction, currency].
    fallback: number of the fallback (from 0).
    """

    hours: Array
    bit_trips: Array
    time: Array
    charges: Array
    per_retry: Array
    failure: Array
    stick_chance: Array
    stick_cost: Array
    whipstock: Attempts | None = None
    lost_in_hole: Array = field(default_factory=_nothing)
    string_lost: Array = field(default_factory=_nothing)
    given_up: Array = field(default_factory=_nothing)
    retry_hours: Array = field(default_factory=_nothing)
    fallback: Array = field(default_factory=_nothing)

    @cached_property
    def certain(self) -> Array:
        """The sure part [currency]: the sum of its lines."""
        return np.asarray(
            self.time + self.charges + self.lost_in_hole + self.string_lost + self.given_up
        )

    def items(self) -> dict[str, Array]:
        """Every line with retries and sticking again in expectation [currency], by name."""
        return {
            "fallback_time": self.time,
            "fallback_charges": self.charges,
            "kickoff_trouble": self.kickoff_mean(),
            "sticking": np.asarray(self.stick_chance * self.stick_cost),
            "lost_in_hole": self.lost_in_hole,
            "string_lost": self.string_lost,
            "value_given_up": self.given_up,
        }

    def plug_retries(self) -> Array:
        """Expected number of kick-offs made again from a plug."""
        q, tools = self.failure, self.whipstock
        if tools is None:
            return np.asarray(q / (1.0 - q))
        return np.asarray(q * (1.0 - q ** (tools.after - 1.0)) / (1.0 - q))

    def whipstock_attempts(self) -> Array:
        """Expected number of attempts with a whipstock."""
        tools = self.whipstock
        if tools is None:
            return np.zeros(())
        return np.asarray(self.failure**tools.after / (1.0 - tools.failure))

    def retries(self) -> Array:
        """Expected number of kick-off retries, those with a whipstock included.

        >>> a = np.asarray
        >>> float(Bill(a(0.0), a(0.0), a(0.0), a(0.0), a(0.0), a(0.25), a(0.0), a(0.0)).retries())
        0.3333333333333333
        """
        return self.plug_retries() + self.whipstock_attempts()

    def retry_time(self) -> Array:
        """Expected hours [h] of all of them."""
        hours = self.plug_retries() * self.retry_hours
        if self.whipstock is None:
            return np.asarray(hours)
        return np.asarray(hours + self.whipstock_attempts() * self.whipstock.hours)

    def kickoff_mean(self) -> Array:
        """Expected cost [currency] of the retries and of a whipstock.

        >>> a = np.asarray
        >>> whipstock = Attempts(after=a(2.0), each=a(300.0), failure=a(0.5))
        >>> none = a(0.0)
        >>> bill = Bill(none, none, none, none, a(100.0), a(0.25), none, none, whipstock)
        >>> float(bill.kickoff_mean())
        62.5
        """
        cost = self.plug_retries() * self.per_retry
        if self.whipstock is None:
            return np.asarray(cost)
        return np.asarray(cost + self.whipstock_attempts() * self.whipstock.each)

    def mean(self) -> Array:
        """Expected cost [currency]."""
        return np.asarray(self.certain + self.kickoff_mean() + self.stick_chance * self.stick_cost)

    def event(self, *, retry_draw: Array, stick_draw: Array) -> Array:
        """Cost [currency] with the retries and the sticking of two uniform draws of shape (n,)."""
        log_u, log_q = (np.log(np.maximum(u, LEAST)) for u in (retry_draw, self.failure))
        failed = np.floor(log_u / log_q)
        cost = self.certain + (stick_draw < self.stick_chance) * self.stick_cost
        tools = self.whipstock
        if tools is None:
            return np.asarray(cost + failed * self.per_retry)
        log_w = np.log(np.maximum(tools.failure, LEAST))
        again = np.floor(np.maximum(log_u - tools.after * log_q, log_u) / log_w)
        tried = np.where(failed >= tools.after, 1.0 + np.maximum(again, 0.0), 0.0)
        plugs = np.minimum(failed, tools.after - 1.0)
        return np.asarray(cost + plugs * self.per_retry + tried * tools.each)

    def events(self, *, retry_draw: Array) -> Iterator[tuple[Array, Array]]:
        """Chance and cost [currency] of what may happen: no retry, one, or more of them, and
        sticking again or not. Their chances sum to 1.

        retry_draw: a uniform draw of shape (n,), for the number of retries where it is open.
        With v that draw, u = q^m (q + (1 - q) v) stands for m failed plugs and u = q^m v for m
        or more.
        """
        q = self.failure
        retries = [(np.ones(()), retry_draw)]
        if np.any(q > 0):
            held, failed = q + (1.0 - q) * retry_draw, np.where(q > 0, q, 1.0)
            retries = [
                (1.0 - q, held),
                (q * (1.0 - q), failed * held),
                (q * q, failed * failed * retry_draw),
            ]
        sticks = [(1.0 - self.stick_chance, False)]
        if np.any(self.stick_chance > 0):
            sticks.append((self.stick_chance, True))
        for chance, draw in retries:
            cost = self.event(retry_draw=draw, stick_draw=np.ones(()))
            for share, stuck in sticks:
                yield np.asarray(chance * share), cost + self.stick_cost if stuck else cost

    def mean_exponential(self, *, tolerance: float, less: Array) -> Array:
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

    def owing(self, *, pieces: Array | float = 0.0, string: Array | float = 0.0) -> Bill:
        """The same bill with more owed [currency] for pieces of the fish and for a string."""
        return replace(
            self,
            lost_in_hole=np.asarray(self.lost_in_hole + pieces),
            string_lost=np.asarray(self.string_lost + string),
        )


LINES = (
    *("hours", "bit_trips", "time", "charges", "per_retry", "failure", "stick_chance"),
    *("stick_cost", "lost_in_hole", "string_lost", "given_up"),
    *("retry_hours", "fallback"),
)


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
            pick([one.hours for one in each]),
        )
    values = {name: pick([getattr(bill, name) for bill in bills]) for name in LINES}
    return Bill(**values, whipstock=tools)
