"""Rental contracts on the path of a job: what is owed when fishing ends at a given time.

    t_c   call-out [d], w working days, t end of fishing [d]
    time  max(minimum, day x w + standby x (t - t_c - w)), minimum = day x minimum days
    bill  mobilization + time + redress x runs it served + per length x length washed
          + replacement if it is lost with the string

Minimum days are owed at the working rate even if the fish is out on day one; while other
runs are in the hole the tool stands by. Of a tool that is on contract already, from before the
job or by a log, what its days so far came to is spent and taken off the minimum; w and t then
count from now.
A run cannot begin its work before the tool has arrived, t_c + delivery. The time charge is the
only part that is not a sum over runs, so the walk carries t_c and w along each history and
adds what the charge grows by.

Source: the structure of rental charges is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Set
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
_NONE: Array = np.zeros(())
SOME = 1e-9  # [d] less than this is a rounding of no days


@dataclass(frozen=True)
class Contract:
    """Terms of a rented tool; money in currency, rates per day, scalars or shape (n,).

    serves: numbers (from 0) of the runs that use it; call_out: number (from 0) of the run at
    whose start it is called, -1 for at once, None for the first run that uses it; called: when
    it was called out [d from now, not after now], None for a tool that is not on contract yet;
    delivery: from the call-out to the rig [h]; minimum: still owed for the least days [currency];
    least: the days at the day rate and at the standby rate that it is made of [d]; held: the same
    contract at other prices, whose side of the greater-of is taken, whichever is the greater here.
    """

    tool: str
    serves: Set[int]
    call_out: int | None
    called: float | None
    delivery: float
    minimum: Array
    mobilization: Array
    day: Array
    standby_day: Array
    redress: Array
    per_length: Array
    replacement: Array
    least: tuple[Array, Array] = (_NONE, _NONE)
    held: Contract | None = None

    def time_charge(self, *, days: Array, worked: Array) -> Array:
        """Charge [currency] for `days` [d] on contract, of which `worked` [d] in use.

        >>> import numpy as np
        >>> a = np.asarray
        >>> jars = Contract("jars", {0}, None, None, 0.0, a(2700.0), a(0.0), a(900.0), a(400.0),
        ...                 a(0.0), a(0.0), a(0.0))
        >>> float(jars.time_charge(days=a(1.0), worked=a(1.0)))
        2700.0
        >>> float(jars.time_charge(days=a(6.0), worked=a(2.0)))
        3400.0
        """
        if self.held is not None:
            working, standby = self.held.billed(days=days, worked=worked)
            return np.asarray(self.day * working + self.standby_day * standby)
        used = self.day * worked + self.standby_day * np.maximum(days - worked, 0.0)
        return np.asarray(np.maximum(self.minimum, used))

    def billed(self, *, days: Array, worked: Array) -> tuple[Array, Array]:
        """Days [d] that are billed at the working and at the standby rate, on the side of the
        greater-of that binds."""
        standby = np.maximum(days - worked, 0.0)
        used = self.day * worked + self.standby_day * standby
        minimum = self.minimum >= used
        least, less = self.least
        return np.where(minimum, least, worked), np.where(minimum, less, standby)

    def bounds(
        self, *, days: Array, worked: Array, likely: NDArray[np.bool_]
    ) -> tuple[float, float, float, float]:
        """Between which ratios of standby to day rate, and between which factors on the ratio of
        each draw, the same side binds in all that are likely: least and greatest ratio, least and
        greatest factor; 0 and infinite where none bounds it."""
        standby = np.maximum(days - worked, 0.0)
        used = self.day * worked + self.standby_day * standby
        least, less = self.least
        more = standby - less  # standby days that the used side has more than the minimum
        none = np.full(np.shape(more + worked), np.inf)
        turn = np.divide(least - worked, more, out=none, where=more > SOME)
        scale = self.day / np.where(self.standby_day > 0, self.standby_day, np.inf)
        shape = np.broadcast_shapes(turn.shape, np.shape(self.minimum + scale), likely.shape)
        turn, some = np.broadcast_to(turn, shape), np.broadcast_to(likely, shape)
        minimum = np.broadcast_to(self.minimum >= used, shape)
        upper, lower = minimum & some & np.isfinite(turn), ~minimum & some & np.isfinite(turn)
        factor = np.where(np.isfinite(turn), turn, 0.0) * scale
        return (
            float(np.max(turn[lower], initial=0.0)),
            float(np.min(turn[upper], initial=np.inf)),
            float(np.max(factor[lower], initial=0.0)),
            float(np.min(factor[upper], initial=np.inf)),
        )

    def called_by(self, run: int) -> bool:
        """Whether the start of run number `run` (from 0) is when it is called out, at latest."""
        return self.call_out == -1 or run == self.call_out or run in self.serves

    def charges(self, run: int, *, washed: Array) -> Array:
        """Charges [currency] of run `run` besides time: redress, and `washed` length [ft]."""
        if run not in self.serves:
            return np.zeros(())
        return np.asarray(self.redress + self.per_length * washed)
