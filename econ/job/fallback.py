"""Fallbacks: an open-hole sidetrack built up hour by hour, and lump sums.

Sidetrack from a kick-off depth K in a well of depth D (redrill R = D - K):

    K      = max(T - offset, floor), or the next competent interval up, the floor if none;
             after the hole is lost: shoe + given length
    base   = [stinger + in(K) + condition] + plug x plugs + [out(K) + stinger]
             + unhidden + [make up + in(K)] + dress + k/kick-off rate
             + max(0, R - k)/gross rate + bit trips x (round trip(K + R/2) + 4) + logging
    unhidden  = max(0, WOC - out(K) - stinger - make up - in(K))
    bit trips = floor(max(0, R - 1)/bit life)
    retry  = 2 stinger + plug + 2 out(K) + 2 in(K) + unhidden + make up + dress
             + half of k/kick-off rate
    cost   = base/24 x day rate + plugs and bits and sums + lost in hole
             + retries x (retry/24 x day rate + plug cost) + sticks x cost of sticking
What retries, a whipstock and sticking come to is in `econ.job.bill`.

Source: the build-up is common practice, no source; kick-off at a fraction of the normal
rate, directional tool manual; trips and waiting on cement overlap, common practice.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, fields, replace

import numpy as np
from numpy.typing import NDArray

from econ.job.bill import Attempts, Bill
from econ.job.clock import TripSpeeds

Array = NDArray[np.float64]
BIT_CHANGE = 4.0  # [h] handling of a bit trip besides the round trip
ROUNDING = 1e-9  # share by which the conversion of units may have moved a number, and more


def _one() -> Array:
    return np.ones(())


def _none() -> Array:
    return np.zeros(())


def whole(quotient: Array) -> Array:
    """Whole number in a quotient, which a conversion of units may have moved by a last digit.

    >>> whole(np.array([2.7, 3.0, 2.9999999999999996])).tolist()
    [2.0, 3.0, 3.0]
    """
    return np.asarray(np.floor(quotient * (1.0 + ROUNDING)))


@dataclass(frozen=True)
class SidetrackHours:
    """Hours [h] of a sidetrack, item by item, and of one kick-off retry."""

    stinger_in_and_condition: Array
    plugs: Array
    out_and_lay_down_stinger: Array
    woc_beyond_trips: Array
    assembly_in: Array
    dress: Array
    kickoff: Array
    redrill: Array
    bit_trips: Array
    logging: Array
    number_of_bit_trips: Array
    retry: Array

    def base(self) -> Array:
        """Sum of the items, without retries [h]."""
        items = [item.name for item in fields(self)][:-2]
        return np.asarray(sum(getattr(self, item) for item in items))


@dataclass(frozen=True)
class Whipstock:
    """An open-hole whipstock after `after` failed plugs: hours [h], cost and chance of failure
    of one attempt with it."""

    after: int
    hours: Array
    cost: Array
    failure: Array

    def attempts(self, day_rate: Array) -> Attempts:
        """The attempts with it on a bill."""
        each = np.asarray(self.hours / 24.0 * day_rate + self.cost)
        return Attempts(np.asarray(float(self.after)), each, self.failure, self.hours)


@dataclass(frozen=True)
class SidetrackPlan:
    """Inputs of a sidetrack; names and units are those of the scenario, in field units; stretch:
    hours on the clock for an hour of work, the cement that trips do not hide included; stick_hours:
    of sticking again [h]."""

    speeds: TripSpeeds
    day_rate: Array  # spread and directional services [currency/d]
    well_depth: float
    kickoff_above_fish: Array
    kickoff_floor: float
    kickoff_after_hole_lost: float
    competent: Sequence[Sequence[float]]
    stinger: Array
    condition: Array
    plug_hours: Array
    plugs: int
    woc: Array
    make_up: Array
    dress: Array
    kickoff_length: Array
    kickoff_rate: Array
    gross_rop: Array
    bit_life: Array
    logging_hours: Array
    plug_cost: Array
    sums: Array  # mobilization, logging and other costs together [currency]
    bit_cost: Array
    kickoff_failure: Array
    stick_chance: Array
    stick_cost: Array
    lost_in_hole_share: Array
    whipstock: Whipstock | None = None
    stretch: Array = field(default_factory=_one)
    stick_hours: Array = field(default_factory=_none)

    @property
    def value_given_up(self) -> Array:
        """A sidetrack gives up nothing of the well [currency]."""
        return np.zeros(())

    @property
    def after_string_lost(self) -> bool:
        """A sidetrack is open with the fishing string in the hole."""
        return True

    @property
    def after_hole_lost(self) -> bool:
        """A sidetrack is open once the hole is lost."""
        return True

    def kickoff_depth(self, top: Array) -> Array:
        """Kick-off depth [ft] for a fish top at `top` [ft]."""
        depth = np.asarray(np.maximum(top - self.kickoff_above_fish, self.kickoff_floor))
        if not self.competent:
            return depth
        # The depth itself inside an interval, else the bottom of the next one up; never above
        # the floor, where the kick-off is taken if no interval lies between.
        taken: Array = np.full_like(depth, self.kickoff_floor)
        for upper, lower in self.competent:
            if lower * (1.0 + ROUNDING) >= self.kickoff_floor:
                taken = np.where(depth * (1.0 + ROUNDING) >= upper, np.minimum(depth, lower), taken)
        return np.asarray(np.maximum(taken, self.kickoff_floor))

    def hours(self, kickoff: Array) -> SidetrackHours:
        """Hours of the sidetrack from `kickoff` [ft]."""
        trip_in, trip_out = self.speeds.hours_in(kickoff), self.speeds.hours_out(kickoff)
        redrill = self.well_depth - kickoff
        slow = self.kickoff_length / self.kickoff_rate
        unhidden = np.maximum(0.0, self.woc - trip_out - self.stinger - self.make_up - trip_in)
        bit_trips = whole(np.maximum(0.0, redrill - 1.0) / self.bit_life)
        round_trip = self.speeds.round_trip(kickoff + 0.5 * redrill) if bit_trips.any() else 0.0
        hours = SidetrackHours(
            stinger_in_and_condition=self.stinger + trip_in + self.condition,
            plugs=self.plug_hours * self.plugs,
            out_and_lay_down_stinger=trip_out + self.stinger,
            woc_beyond_trips=unhidden,
            assembly_in=self.make_up + trip_in,
            dress=self.dress,
            kickoff=slow,
            redrill=np.maximum(0.0, redrill - self.kickoff_length) / self.gross_rop,
            bit_trips=bit_trips * (round_trip + BIT_CHANGE),
            logging=self.logging_hours,
            number_of_bit_trips=bit_trips,
            retry=2.0 * (self.stinger + trip_out + trip_in)
            + self.plug_hours
            + unhidden
            + self.make_up
            + self.dress
            + 0.5 * slow,
        )
        if np.all(self.stretch == 1.0):
            return hours
        times = [item.name for item in fields(hours) if item.name != "number_of_bit_trips"]
        return replace(hours, **{name: getattr(hours, name) * self.stretch for name in times})

    def bill(self, kickoff: Array) -> Bill:
        """Bill of the sidetrack from `kickoff` [ft], without the fish."""
        hours = self.hours(kickoff)
        base = hours.base()
        bits = self.bit_cost * (1.0 + hours.number_of_bit_trips)
        return Bill(
            hours=base,
            bit_trips=hours.number_of_bit_trips,
            time=np.asarray(base / 24.0 * self.day_rate),
            charges=np.asarray(self.plug_cost * self.plugs + self.sums + bits),
            per_retry=np.asarray(hours.retry / 24.0 * self.day_rate + self.plug_cost),
            retry_hours=np.asarray(hours.retry),
            failure=self.kickoff_failure,
            stick_chance=self.stick_chance,
            stick_cost=self.stick_cost,
            stick_hours=self.stick_hours,
            whipstock=None if self.whipstock is None else self.whipstock.attempts(self.day_rate),
        )

    def bill_above(self, top: Array) -> Bill:
        """Bill from a fish top at `top` [ft], without the fish."""
        return self.bill(self.kickoff_depth(top))

    def bill_after_hole_lost(self) -> Bill:
        """Bill from below the shoe, without the fish."""
        return self.bill(np.asarray(self.kickoff_after_hole_lost))


@dataclass(frozen=True)
class LumpSums:
    """A fallback of known cost, the same from every fish top.

    hours [h] on the clock at the spread [currency/d], sums [currency], and the value of the well
    that is given up [currency].
    """

    spread: Array
    hours: Array
    sums: Array
    value_given_up: Array
    lost_in_hole_share: Array
    trouble_chance: Array
    trouble_cost: Array
    after_string_lost: bool = True
    after_hole_lost: bool = True

    def bill_above(self, top: Array) -> Bill:
        """Bill, whatever the fish top."""
        none = np.zeros(())
        return Bill(
            hours=self.hours,
            bit_trips=none,
            time=np.asarray(self.hours / 24.0 * self.spread),
            charges=self.sums,
            per_retry=none,
            failure=none,
            stick_chance=self.trouble_chance,
            stick_cost=self.trouble_cost,
            given_up=self.value_given_up,
        )

    def bill_after_hole_lost(self) -> Bill:
        """Bill, whatever was lost."""
        return self.bill_above(np.zeros(()))
