"""Sidetrack and lump fallback: limits worked by hand, arrays against scalars, continuity.

Origins: "by hand" (independent) gives the arithmetic beside the number; "by definition"
follows from the formula in the module's head; "independent" is scipy.stats. The job is
invented.
"""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
import pytest
from numpy.typing import NDArray
from raw_jobs import bill
from scipy import stats

from econ.job import Bill, LumpSums, SidetrackHours, SidetrackPlan, TripSpeeds

Array = NDArray[np.float64]
SPEEDS = TripSpeeds(4000.0, *(np.asarray(v) for v in (2000.0, 1000.0, 1600.0, 800.0)))


def number(value: float) -> Array:
    return np.asarray(value, dtype=np.float64)


def sidetrack(**changes: object) -> SidetrackPlan:
    """In a well of 10,000 ft, 7,200 a day that is 300 an hour."""
    plan = SidetrackPlan(
        speeds=SPEEDS,
        day_rate=number(7200.0),
        well_depth=10_000.0,
        kickoff_above_fish=number(200.0),
        kickoff_floor=4_100.0,
        kickoff_after_hole_lost=4_050.0,
        competent=[],
        stinger=number(2.0),
        condition=number(3.0),
        plug_hours=number(4.0),
        plugs=1,
        woc=number(24.0),
        make_up=number(3.0),
        dress=number(5.0),
        kickoff_length=number(20.0),
        kickoff_rate=number(2.0),
        gross_rop=number(40.0),
        bit_life=number(1_000.0),
        logging_hours=number(6.0),
        plug_cost=number(30_000.0),
        sums=number(15_000.0),
        bit_cost=number(20_000.0),
        kickoff_failure=number(0.2),
        stick_chance=number(0.05),
        stick_cost=number(100_000.0),
        lost_in_hole_share=number(1.0),
    )
    return replace(plan, **changes)  # type: ignore[arg-type]


# ---- kick-off depth ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("top", "expected"),
    [(9000.0, 8800.0), (4300.0, 4100.0), (4299.0, 4100.0), (3000.0, 4100.0)],
)
def test_kickoff_above_the_fish_but_not_above_the_floor(top: float, expected: float) -> None:
    assert sidetrack().kickoff_depth(number(top)) == expected
    # continuous: the floor is met without a step
    tops = np.linspace(4290.0, 4310.0, 201)
    assert np.diff(sidetrack().kickoff_depth(tops)).max() <= 0.1 + 1e-9


@pytest.mark.parametrize(
    ("top", "expected"),
    [
        (9700.0, 9000.0),  # 9,500 is below all intervals: the bottom of the lowest
        (9200.0, 9000.0),  # exactly at a bottom
        (8900.0, 8700.0),  # inside an interval
        (8700.0, 8500.0),  # exactly at a top
        (8699.0, 7000.0),  # 8,499 is between two: the next one up
        (6900.0, 6700.0),
    ],
)
def test_kickoff_in_competent_rock(top: float, expected: float) -> None:
    plan = sidetrack(competent=[[6000.0, 7000.0], [8500.0, 9000.0]])
    assert plan.kickoff_depth(number(top)) == expected
    tops = np.array([top, 9700.0])
    assert plan.kickoff_depth(tops).tolist() == [expected, 9000.0]


def test_kickoff_at_the_top_of_an_interval_stays_there_in_metres_too() -> None:
    # by definition: 2,030 m less 80 m is 1,950 m, the upper end of the interval; in feet the
    # difference is one last digit short of it
    foot = 1 / 0.3048
    top, offset, upper = 2030.0 * foot, 80.0 * foot, 1950.0 * foot
    assert top - offset < upper
    plan = sidetrack(
        competent=[[4_200.0, 4_300.0], [upper, upper + 300.0]], kickoff_above_fish=number(offset)
    )
    assert float(plan.kickoff_depth(number(top))) == pytest.approx(upper, rel=1e-12)


@pytest.mark.parametrize("lost", [0.0, 1e-12, -1e-12])
def test_bit_trips_at_a_whole_number_of_bits(lost: float) -> None:
    # by hand: kick-off at 8,871 ft leaves 1,129 ft to 10,000 ft; (1,129 - 1)/188 is 6, to the foot
    plan = sidetrack(bit_life=number(188.0 * (1.0 + lost)))
    assert plan.hours(number(8871.0)).number_of_bit_trips == 6.0
    assert plan.hours(number(8871.01)).number_of_bit_trips == 5.0


def test_no_competent_rock_between_floor_and_fish_leaves_the_floor() -> None:
    # by hand, with the floor at 4,100: the first interval begins below 5,900; an interval that
    # ends above the floor, as one inside the casing, is never taken; one across it counts below
    assert sidetrack(competent=[[6000.0, 7000.0]]).kickoff_depth(number(6100.0)) == 4100.0
    assert sidetrack(competent=[[3000.0, 4000.0]]).kickoff_depth(number(9000.0)) == 4100.0
    assert sidetrack(competent=[[4000.0, 4300.0]]).kickoff_depth(number(9000.0)) == 4300.0
    assert sidetrack(competent=[[4000.0, 4300.0]]).kickoff_depth(number(4200.0)) == 4100.0


# ---- hours of a sidetrack ---------------------------------------------------------------------


def test_hours_of_a_sidetrack_by_hand() -> None:
    # by hand, from 8,000 ft: trips 6 h in and 7.5 h out; redrill 2,000 ft with one bit trip,
    # floor(1999/1000), whose round trip to 9,000 ft takes 2 + 5 + 2.5 + 6.25 = 15.75 h
    found = sidetrack().hours(number(8000.0))
    expected = {
        "stinger_in_and_condition": 2 + 6 + 3,
        "plugs": 4,
        "out_and_lay_down_stinger": 7.5 + 2,
        "woc_beyond_trips": 24 - 7.5 - 2 - 3 - 6,
        "assembly_in": 3 + 6,
        "dress": 5,
        "kickoff": 20 / 2,
        "redrill": 1980 / 40,
        "bit_trips": 15.75 + 4,
        "logging": 6,
    }
    assert {name: float(getattr(found, name)) for name in expected} == pytest.approx(expected)
    assert found.base() == pytest.approx(sum(expected.values()))
    assert float(found.retry) == pytest.approx(2 * 2 + 4 + 2 * 7.5 + 2 * 6 + 5.5 + 3 + 5 + 5)


def test_bill_of_a_sidetrack_by_hand() -> None:
    # by hand, from the hours above: 129.25 h at 300 an hour, one plug, sums, two bits; a retry
    # takes 53.5 h and a plug; 0.2/0.8 retries, and 5 % of 100,000
    bill = sidetrack().bill_above(number(8200.0))
    assert bill.certain == pytest.approx(129.25 * 300 + 30_000 + 15_000 + 2 * 20_000)
    assert bill.per_retry == pytest.approx(53.5 * 300 + 30_000)
    assert bill.mean() == pytest.approx(123_775 + 0.25 * 46_050 + 5_000)
    lost = sidetrack().bill_after_hole_lost()
    assert lost.certain == sidetrack().bill(number(4050.0)).certain


def test_two_plugs_take_twice_the_hours_and_materials() -> None:
    one, two = (sidetrack(plugs=plugs).bill(number(8000.0)) for plugs in (1, 2))
    assert two.certain - one.certain == pytest.approx(4 * 300 + 30_000)  # by hand
    assert two.per_retry == one.per_retry


@pytest.mark.parametrize(("woc", "unhidden"), [(0.0, 0.0), (18.5, 0.0), (18.6, 0.1), (24.0, 5.5)])
def test_waiting_on_cement_is_hidden_behind_trips(woc: float, unhidden: float) -> None:
    # by hand: from 8,000 ft, trip out 7.5, stinger 2, make up 3 and trip in 6 hide 18.5 h
    found = sidetrack(woc=number(woc)).hours(number(8000.0))
    assert float(found.woc_beyond_trips) == pytest.approx(unhidden)
    everything = sidetrack(woc=number(0.0)).hours(number(8000.0))
    assert found.base() - everything.base() == pytest.approx(unhidden)
    assert float(found.retry - everything.retry) == pytest.approx(unhidden)


@pytest.mark.parametrize(
    ("kickoff", "bit_trips"),
    [(9500.0, 0), (9000.0, 0), (8999.0, 1), (8000.0, 1), (7999.0, 2), (10_000.0, 0)],
)
def test_bit_trips_beyond_the_life_of_a_bit(kickoff: float, bit_trips: int) -> None:
    # by definition: floor(max(0, redrill - 1) / bit life); a redrill of just a bit's life needs
    # no second bit
    found = sidetrack().hours(number(kickoff))
    assert float(found.number_of_bit_trips) == bit_trips
    middle = 0.5 * (kickoff + 10_000.0)
    each = float(SPEEDS.round_trip(number(middle))) + 4.0
    assert float(found.bit_trips) == pytest.approx(bit_trips * each)


def test_short_redrill_is_never_negative() -> None:
    # kick-off 10 ft above the bottom with a kick-off length of 20 ft
    assert float(sidetrack().hours(number(9990.0)).redrill) == 0.0


def test_sidetrack_hours_are_continuous_between_bit_trips() -> None:
    depths = np.linspace(8100.0, 8900.0, 8001)
    base = sidetrack().hours(depths).base()
    # a tenth of a foot: redrill 1/400 h, trips in twice and out once, half a round trip of the
    # bit, WOC; all of them together stay below 0.01 h
    assert np.abs(np.diff(base)).max() < 0.01


def test_sidetrack_on_arrays_equals_sidetrack_on_scalars() -> None:
    kickoffs, rates = np.array([6500.0, 8000.0, 9500.0]), np.array([30.0, 40.0, 50.0])
    wide = sidetrack(gross_rop=rates)
    bill, hours = wide.bill(kickoffs), wide.hours(kickoffs)
    for i in range(3):
        plan = sidetrack(gross_rop=number(rates[i]))
        alone, one = plan.bill(number(kickoffs[i])), plan.hours(number(kickoffs[i]))
        assert bill.mean()[i] == pytest.approx(float(alone.mean()), rel=1e-15)
        for item in fields(SidetrackHours):
            value = np.broadcast_to(getattr(hours, item.name), (3,))[i]
            assert value == pytest.approx(float(getattr(one, item.name)), rel=1e-15), item.name


# ---- events -----------------------------------------------------------------------------------


def bill_of(failure: float, stick: float = 0.0) -> Bill:
    return bill(1000.0, retry=10.0, failure=failure, stick_chance=stick, stick_cost=500.0)


@pytest.mark.parametrize("failure", [0.01, 0.25, 0.5, 0.9])
def test_retries_are_geometric(failure: float) -> None:
    # independent: scipy.stats.geom counts attempts up to the first success, one more than the
    # retries. On evenly spaced uniforms the share of each count is right to the spacing.
    n = 100_000
    u = (np.arange(n) + 0.5) / n
    retries = (bill_of(failure).event(retry_draw=u, stick_draw=np.ones(n)) - 1000.0) / 10.0
    shares = np.bincount(retries.round().astype(int), minlength=8)[:8] / n
    assert shares == pytest.approx(stats.geom(1 - failure).pmf(np.arange(1, 9)), abs=1.01 / n)


@pytest.mark.parametrize(("failure", "stick"), [(0.0, 0.0), (0.25, 0.05), (0.6, 1.0), (0.9, 0.3)])
def test_events_average_to_the_mean(failure: float, stick: float) -> None:
    n = 1000
    u = (np.arange(n) + 0.5) / n
    made = bill_of(failure, stick)
    every_pair = made.event(retry_draw=np.repeat(u, n), stick_draw=np.tile(u, n))
    # by definition: 1000 + 10 q/(1 - q) + 500 s; the tail beyond the last point is below 0.5
    assert made.mean() == pytest.approx(1000 + 10 * failure / (1 - failure) + 500 * stick)
    assert every_pair.mean() == pytest.approx(float(made.mean()), abs=0.1)


def test_plug_that_cannot_fail_is_never_set_again() -> None:
    smallest = number(2.0**-31)  # the draws come no nearer to 0
    assert bill_of(0.0).event(retry_draw=smallest, stick_draw=number(0.5)) == 1000.0


def test_more_on_the_bill() -> None:
    more = bill_of(0.25, 0.05).owing(pieces=number(200.0), string=number(34.0))
    assert more.certain == 1234.0
    assert more.mean() - bill_of(0.25, 0.05).mean() == pytest.approx(234.0)


def test_lump_costs_the_same_from_everywhere() -> None:
    # by hand: 24 h at 20,000 a day and 30,000
    lump = LumpSums(*map(number, (20_000.0, 24.0, 30_000.0, 0.0, 1.0, 0.0, 0.0)))
    for made in (lump.bill_above(np.array([1.0, 2.0])), lump.bill_after_hole_lost()):
        assert made.mean() == 5e4
        assert made.event(retry_draw=number(0.001), stick_draw=number(0.001)) == 5e4
