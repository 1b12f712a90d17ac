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

Where a plug has to be approved first, the hours A of the approval come before the fallback and
are paid at the spread: A/24 x spread is a line of c, and the fallback begins A hours later.

A fallback that ends after a deadline costs more (`econ.job.deadline`), by the hours of what
happens: of the sure part, of every retry, and of sticking again.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from econ.job.deadline import LEAST, Attempted, Deadline

Array = NDArray[np.float64]
NEVER = 1e6  # failed plugs before a whipstock where there is none


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
    fallback: number of the fallback (from 0). stick_hours: of sticking again, on the clock alone
    [h]. deadline, begun: what a late end costs, and the day that the fallback begins [d from now].
    approval, approval_hours: of the wait before it for the approval of a plug [currency, h].
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
    stick_hours: Array = field(default_factory=_nothing)
    deadline: Deadline | None = None
    begun: Array = field(default_factory=_nothing)
    approval: Array = field(default_factory=_nothing)
    approval_hours: Array = field(default_factory=_nothing)

    @cached_property
    def certain(self) -> Array:
        """The sure part [currency]: the sum of its lines."""
        sure = self.time + self.charges + self.lost_in_hole + self.string_lost + self.given_up
        return np.asarray(sure + self.approval)

    def items(self) -> dict[str, Array]:
        """Every line with retries and sticking again in expectation [currency], by name."""
        return {
            "approval": self.approval,
            "fallback_time": self.time,
            "fallback_charges": self.charges,
            "kickoff_trouble": self.kickoff_mean(),
            "sticking": np.asarray(self.stick_chance * self.stick_cost),
            "lost_in_hole": self.lost_in_hole,
            "string_lost": self.string_lost,
            "value_given_up": self.given_up,
            "late_fallback": self.late(),
        }

    @cached_property
    def plug_retries(self) -> Array:
        """Expected number of kick-offs made again from a plug."""
        q, tools = self.failure, self.whipstock
        if tools is None:
            return np.asarray(q / (1.0 - q))
        return np.asarray(q * (1.0 - q ** (tools.after - 1.0)) / (1.0 - q))

    @cached_property
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
        return self.plug_retries + self.whipstock_attempts

    def retry_time(self) -> Array:
        """Expected hours [h] of all of them."""
        hours = self.plug_retries * self.retry_hours
        if self.whipstock is None:
            return np.asarray(hours)
        return np.asarray(hours + self.whipstock_attempts * self.whipstock.hours)

    def kickoff_mean(self) -> Array:
        """Expected cost [currency] of the retries and of a whipstock.

        >>> a = np.asarray
        >>> whipstock = Attempts(after=a(2.0), each=a(300.0), failure=a(0.5))
        >>> none = a(0.0)
        >>> bill = Bill(none, none, none, none, a(100.0), a(0.25), none, none, whipstock)
        >>> float(bill.kickoff_mean())
        62.5
        """
        cost = self.plug_retries * self.per_retry
        if self.whipstock is None:
            return np.asarray(cost)
        return np.asarray(cost + self.whipstock_attempts * self.whipstock.each)

    def mean(self) -> Array:
        """Expected cost [currency]."""
        cost = self.certain + self.kickoff_mean() + self.stick_chance * self.stick_cost
        return np.asarray(cost if self.deadline is None else cost + self.late())

    @cached_property
    def _ends(self) -> Array:
        """The day on which it ends without retries and trouble [d from now]."""
        return np.asarray(self.begun + self.hours / 24.0)

    def late(self) -> Array:
        """Expected cost of ending late [currency]."""
        return np.zeros(()) if self.deadline is None else self.late_from(self.begun, self.deadline)

    def late_from(self, day: Array, deadline: Deadline) -> Array:
        """The same of one that begins on a day [d from now]."""
        ends = day + self.hours / 24.0
        late = self._late(deadline, ends)
        if not np.any(self.stick_chance * self.stick_hours > 0):
            return late
        stuck = self._late(deadline, ends + self.stick_hours / 24.0)
        return np.asarray(late + self.stick_chance * (stuck - late))

    def chance_late(self) -> Array:
        """Chance that it ends late."""
        if self.deadline is None:
            return np.zeros(())
        return replace(self, deadline=self.deadline.chance).late()

    def _late(self, deadline: Deadline, ends: Array) -> Array:
        """The same over the retries, from the day on which it ends without them [d]."""
        q, step, tools = self.failure, self.retry_hours / 24.0, self.whipstock
        late = deadline.expected(ends, q, step)
        if tools is None:
            return late
        chance, with_tools = q**tools.after, ends + self._with_whipstock
        return np.asarray(
            late
            - chance * deadline.expected(ends + tools.after * step, q, step)
            + chance * deadline.expected(with_tools, tools.failure, tools.hours / 24.0)
        )

    @property
    def _with_whipstock(self) -> Array:
        """Days that the plugs before a whipstock and one attempt with it add [d]."""
        assert self.whipstock is not None
        plugs = (self.whipstock.after - 1.0) * self.retry_hours
        return np.asarray((plugs + self.whipstock.hours) / 24.0)

    def event(self, *, retry_draw: Array, stick_draw: Array) -> Array:
        """Cost [currency] with the retries and the sticking of two uniform draws of shape (n,)."""
        log_u, log_q = (np.log(np.maximum(u, LEAST)) for u in (retry_draw, self.failure))
        failed = np.floor(log_u / log_q)
        stuck = stick_draw < self.stick_chance
        cost = self.certain + stuck * self.stick_cost
        tools = self.whipstock
        if tools is None:
            cost, hours = cost + failed * self.per_retry, failed * self.retry_hours
        else:
            log_w = np.log(np.maximum(tools.failure, LEAST))
            again = np.floor(np.maximum(log_u - tools.after * log_q, log_u) / log_w)
            tried = np.where(failed >= tools.after, 1.0 + np.maximum(again, 0.0), 0.0)
            plugs = np.minimum(failed, tools.after - 1.0)
            cost = cost + plugs * self.per_retry + tried * tools.each
            hours = plugs * self.retry_hours + tried * tools.hours
        if self.deadline is not None:
            more = (hours + stuck * self.stick_hours) / 24.0
            cost = cost + self.deadline.cost(self._ends + more)
        return np.asarray(cost)

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
        never, always = np.ones(()), np.full((), -1.0)
        sticks = [(1.0 - self.stick_chance, never)]
        if np.any(self.stick_chance > 0):
            sticks.append((self.stick_chance, always))
        for chance, draw in retries:
            for share, stick_draw in sticks:
                cost = self.event(retry_draw=draw, stick_draw=stick_draw)
                yield np.asarray(chance * share), cost

    def mean_exponential(self, *, tolerance: float, less: Array) -> Array:
        """Expectation of exp((cost - less)/tolerance), infinite where it has no end."""
        t, q = tolerance, self.failure
        with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
            if self.deadline is not None:
                return self._late_exponential(self.deadline, t, less)
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

    def _late_exponential(self, deadline: Deadline, tolerance: float, less: Array) -> Array:
        """The same with the cost of ending late."""
        tools = self.whipstock
        endless = np.full((), np.inf)
        plugs = Attempted(
            self.failure,
            self.retry_hours / 24.0,
            self.per_retry,
            endless if tools is None else tools.after,
        )
        total: Array = np.zeros(())
        for chance, cost, hours in (
            (1.0 - self.stick_chance, 0.0, 0.0),
            (self.stick_chance, self.stick_cost, self.stick_hours),
        ):
            ends = self._ends + hours / 24.0
            factor = deadline.exponential(ends, plugs, tolerance=tolerance)
            if tools is not None:
                again = Attempted(tools.failure, tools.hours / 24.0, tools.each, endless)
                last = deadline.exponential(ends + self._with_whipstock, again, tolerance=tolerance)
                spent = (tools.after - 1.0) * self.per_retry + tools.each
                reached = self.failure**tools.after
                last = np.where(reached > 0, reached * np.exp(spent / tolerance) * last, 0.0)
                factor = factor + last
            stuck = np.exp((self.certain + cost - less) / tolerance) * factor
            total = total + np.where(chance > 0, chance * stuck, 0.0)
        return np.asarray(total)

    def begun_on(self, day: Array | None, deadline: Deadline | None) -> Bill:
        """The same bill of a fallback that begins on a day [d from now], with what it costs to end
        after a deadline; None where there is none."""
        if day is None or deadline is None:
            return self
        return replace(self, begun=day, deadline=deadline)

    def approved_after(self, hours: Array | None, *, spread: Array) -> Bill:
        """The same bill after a wait [h] for the approval of a plug, at the spread [currency/d];
        None where nothing has to be waited for. The day on which it begins is not moved."""
        if hours is None:
            return self
        return replace(self, approval_hours=hours, approval=np.asarray(hours / 24.0 * spread))

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
    *("retry_hours", "fallback", "stick_hours"),
)


def picked(bills: Sequence[Bill], taken: NDArray[np.intp]) -> Bill:
    """In each place of `taken` the bill of that number."""
    later = [taken == number for number in range(1, len(bills))]

    def pick(values: Sequence[Array]) -> Array:
        if all(value.size == 1 for value in values) and len({v.item() for v in values}) == 1:
            return np.reshape(values[0], ())  # the same for all
        found = values[0]
        for here, value in zip(later, values[1:], strict=True):  # of few, quicker than np.choose
            found = np.where(here, value, found)
        return found

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
    values: dict[str, Any] = {name: pick([getattr(bill, name) for bill in bills]) for name in LINES}
    return Bill(**values, whipstock=tools)
