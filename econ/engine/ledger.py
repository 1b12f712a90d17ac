"""The ledger: what a job costs, line by line, and the quantities behind the lines.

With h the hours of the runs made so far, S the spread and G the fishing day, fishing costs

    common + h/24 S + h/24 G + mobilization + charges + rentals

and an end adds either the work after recovery or the lines of a fallback (`econ.job.bill`).
A total, a stage of an authority, a part of a breakdown and a line of a supplement are sums
over these lines; nothing works them out a second time.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from econ.engine.marks import Signs
from econ.job import Bill

Array = NDArray[np.float64]

# Every line of the ledger [currency] with the part of the job it belongs to, in the order of
# the job. What a lost string and lost tools cost is asked for with the fallback.
LINES = {
    "common": "fishing",
    "spread": "fishing",
    "fishing_day": "fishing",
    "mobilization": "fishing",
    "charges": "fishing",
    "rentals": "fishing",
    "recovery": "recovery",
    "late_recovered": "recovery",
    "approval": "fallback",
    "fallback_time": "fallback",
    "fallback_charges": "fallback",
    "kickoff_trouble": "fallback",
    "sticking": "fallback",
    "lost_in_hole": "fallback",
    "string_lost": "fallback",
    "value_given_up": "fallback",
    "late_fallback": "fallback",
}
BY_FALLBACK = (
    *("taken", "fallback_hours", "bit_trips", "plug_retries", "whipstock_attempts"),
    *("retry_hours", "sticks", "fallback_spent"),
)
QUANTITIES = (
    *("fishing_hours", "paid_hours", "parted", "recovery_hours", "late", "approval_hours"),
    *BY_FALLBACK,
)
SPENDING = tuple(name for name, part in LINES.items() if part == "fishing")


def nothing() -> Array:
    """An amount of 0 for all kinds, histories and draws."""
    return np.zeros((1, 1, 1))


@dataclass(frozen=True)
class Spent:
    """What fishing has cost up to a state; arrays of shape (kinds or 1, histories, n or 1).

    start: days that `common` takes before the first run [d]; hours: of the runs made, waits
    included [h]; paid: those of them that pay the fishing day [h], None where all do; spread,
    fishing_day: the day rates [currency/d]; the rest [currency].
    """

    start: Array
    common: Array
    spread: Array
    fishing_day: Array
    hours: Array = field(default_factory=nothing)
    mobilization: Array = field(default_factory=nothing)
    charges: Array = field(default_factory=nothing)
    rentals: Array = field(default_factory=nothing)
    paid: Array | None = None

    @cached_property
    def days(self) -> Array:
        """Elapsed time [d]."""
        return self.start + self.hours / 24.0

    @cached_property
    def total(self) -> Array:
        """Sum of the lines [currency]."""
        sums = self.common + self.mobilization + self.charges + self.rentals
        if self.paid is None:
            return np.asarray(sums + self.hours / 24.0 * (self.spread + self.fishing_day))
        return np.asarray(
            sums + self.hours / 24.0 * self.spread + self.paid / 24.0 * self.fishing_day
        )

    def lines(self) -> dict[str, Array]:
        """The lines by name [currency]."""
        days = self.hours / 24.0
        return {
            "common": self.common,
            "spread": days * self.spread,
            "fishing_day": (days if self.paid is None else self.paid / 24.0) * self.fishing_day,
            "mobilization": self.mobilization,
            "charges": self.charges,
            "rentals": self.rentals,
        }

    def after(
        self,
        *,
        hours: Array,
        charges: Array,
        rentals: Array | float = 0.0,
        mobilization: Array | float = 0.0,
        share: Array | None = None,
    ) -> Spent:
        """What has been spent after one more run; share: of the fishing day that its hours pay,
        None for all of it."""
        paid = self.paid
        if share is not None or paid is not None:
            paid = (self.hours if paid is None else paid) + hours * (
                1.0 if share is None else share
            )
        return replace(
            self,
            hours=self.hours + hours,
            charges=self.charges + charges,
            rentals=self.rentals + rentals,
            mobilization=self.mobilization + mobilization,
            paid=paid,
        )


def inherited(sources: Sequence[Spent], by: Callable[[Sequence[Array]], Array]) -> Spent:
    """What the histories of the next level have spent, each after one of several runs; `by` makes
    their values of those after each run."""
    paid = None
    if any(spent.paid is not None for spent in sources):
        paid = by([spent.hours if spent.paid is None else spent.paid for spent in sources])
    first = sources[0]
    same = all(spent.mobilization is first.mobilization for spent in sources)
    same = same and first.mobilization.shape[1] == 1
    return replace(
        first,
        hours=by([spent.hours for spent in sources]),
        charges=by([spent.charges for spent in sources]),
        rentals=by([spent.rentals for spent in sources]),
        mobilization=first.mobilization if same else by([spent.mobilization for spent in sources]),
        paid=paid,
    )


@dataclass(frozen=True)
class Place:
    """Where a fallback begins; arrays of (kinds or 1, histories, n or 1).

    top: upper end of what is in the hole [ft]; pieces_top: depth from which the original fish is
    still there [ft]; string: what a lost string and lost tools cost [currency]; lost: what was
    lost with the last run; signs: held against what fallbacks need; day: on which it begins
    [d from now], the wait for an approval over, where there is a deadline; waiting: hours until a
    plug is approved [h], None where no approval is waited for.
    """

    top: Array
    pieces_top: Array
    string: Array = field(default_factory=nothing)
    lost: Literal["nothing", "string", "hole"] = "nothing"
    signs: Signs | None = None
    day: Array | None = None
    waiting: Array | None = None


@dataclass(frozen=True)
class Ending:
    """Ends of one sort: their weight, what fishing has cost until then, and what follows it,
    the work after recovery, with what a late end then costs [currency], or a fallback from a
    place; all broadcast together.

    bill_from: the bill of the fallback that is taken at a place; it is asked only when needed.
    recovery_hours: of the work after recovery [h]; late: what its late end costs; parted: 1 where
    the string was still attached and the work to get off the fish is in `spent`; is_late: chance
    that the end comes after the deadline, where there is one.
    """

    weight: Array
    spent: Spent
    recovery: Array | None = None
    recovery_hours: Array | None = None
    late: Array | None = None
    place: Place | None = None
    bill_from: Callable[[Place], Bill] | None = None
    parted: Array | None = None
    is_late: Array | None = None

    @cached_property
    def bill(self) -> Bill | None:
        """The bill of the fallback; None where the fish is out."""
        if self.place is None or self.bill_from is None:
            return None
        return self.bill_from(self.place)

    @property
    def fishing(self) -> Array:
        """Cost without the fallback, what follows a recovery included [currency]."""
        cost = self.spent.total if self.recovery is None else self.spent.total + self.recovery
        return cost if self.late is None else cost + self.late

    @property
    def cost(self) -> Array:
        """Expected cost [currency], retries and sticking again in expectation."""
        return self.fishing if self.bill is None else self.fishing + self.bill.mean()

    @property
    def days(self) -> Array:
        """Elapsed time to this end, retries and sticking again in expectation [d]."""
        if self.bill is not None:
            bill = self.bill
            hours = bill.approval_hours + bill.hours + bill.retry_time()
            hours = hours + bill.stick_chance * bill.stick_hours
        else:
            hours = nothing() if self.recovery_hours is None else self.recovery_hours
        return np.asarray(self.spent.days + hours / 24.0)

    def lines(self) -> dict[str, Array]:
        """The lines of the ledger that are not empty by nature [currency], by name."""
        lines = self.spent.lines()
        if self.recovery is not None:
            lines["recovery"] = self.recovery
        if self.late is not None:
            lines["late_recovered"] = self.late
        return lines if self.bill is None else lines | self.bill.items()

    def quantities(self) -> dict[str, Array]:
        """What the lines are priced on: fishing_hours, and of them paid_hours that pay the fishing
        day [h]; parted: times of getting off the fish; recovery_hours [h]; late: chance to end
        after the deadline; and of a fallback: approval_hours [h] before it, taken (1),
        fallback_hours without retries [h], the numbers of bit_trips, plug_retries and
        whipstock_attempts, retry_hours of these two [h], the chance of sticks, and
        fallback_spent, all that is spent on it [currency]."""
        spent = self.spent
        amounts = {
            "fishing_hours": spent.hours,
            "paid_hours": spent.hours if spent.paid is None else spent.paid,
        }
        if self.parted is not None:
            amounts["parted"] = self.parted
        if self.recovery_hours is not None:
            amounts["recovery_hours"] = self.recovery_hours
        if self.is_late is not None:
            amounts["late"] = self.is_late
        if self.bill is not None:
            bill = self.bill
            if bill.deadline is not None:
                amounts["late"] = bill.chance_late()
            amounts |= {
                "approval_hours": bill.approval_hours,
                "taken": np.ones((1, 1, 1)),
                "fallback_hours": bill.hours,
                "bit_trips": bill.bit_trips,
                "plug_retries": bill.plug_retries,
                "whipstock_attempts": bill.whipstock_attempts,
                "retry_hours": bill.retry_time(),
                "sticks": bill.stick_chance,
                "fallback_spent": bill.mean() - bill.given_up,
            }
        return amounts
