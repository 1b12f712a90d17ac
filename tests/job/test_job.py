"""Run clock, fish and odds: limits worked by hand, arrays against scalars, continuity.

Origins: "by hand" (independent) gives the arithmetic beside the number; "by definition"
follows from the formula in the module's head. All jobs are invented.
"""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
import pytest
from numpy.typing import NDArray

from econ.job import (
    Fish,
    RunOdds,
    RunTimes,
    TripSpeeds,
    beta_recovered,
    with_damaged_top,
    with_recovery_ratio,
)
from econ.job.fish import piece_value

Array = NDArray[np.float64]
SPEEDS = TripSpeeds(4000.0, *(np.asarray(v) for v in (2000.0, 1000.0, 1600.0, 800.0)))


def number(value: float) -> Array:
    return np.asarray(value, dtype=np.float64)


# ---- clock ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("depth", "into", "out"),
    [
        (0.0, 0.0, 0.0),
        (2000.0, 1.0, 1.25),  # by hand: in casing only, 2000/2000 and 2000/1600
        (4000.0, 2.0, 2.5),  # by hand: at the shoe, 4000/2000 and 4000/1600
        (8000.0, 6.0, 7.5),  # by hand: 2 + 4000/1000 and 2.5 + 4000/800
    ],
)
def test_trips(depth: float, into: float, out: float) -> None:
    assert SPEEDS.hours_in(number(depth)) == pytest.approx(into)
    assert SPEEDS.hours_out(number(depth)) == pytest.approx(out)
    assert SPEEDS.round_trip(number(depth)) == pytest.approx(into + out)


def test_trips_are_continuous_at_the_shoe_and_never_shorter_deeper() -> None:
    depths = np.linspace(3990.0, 4010.0, 201)
    steps = np.diff(SPEEDS.round_trip(depths))
    # by definition: a tenth of a foot takes 0.1 x (1/2000 + 1/1600) h above, 0.1 x (1/1000 +
    # 1/800) h below the shoe, and nothing else happens there
    assert steps[:100] == pytest.approx(0.1 * (1 / 2000 + 1 / 1600))
    assert steps[100:] == pytest.approx(0.1 * (1 / 1000 + 1 / 800))


def test_hours_of_a_run() -> None:
    # by hand: 9 h on deck and bottom and two round trips of 13.5 h to 8,000 ft
    run = RunTimes(number(9.0), 2)
    assert run.hours(number(8000.0), SPEEDS) == pytest.approx(36.0)
    # plain hours do not depend on depth
    plain = RunTimes(number(30.0), 0)
    assert plain.hours(number(8000.0), SPEEDS) == 30.0
    assert plain.hours(number(100.0), None) == 30.0


def test_clock_on_arrays_equals_clock_on_scalars() -> None:
    depths = np.array([[0.0, 3999.0], [4001.0, 9000.0]])
    speeds = replace(SPEEDS, in_open=np.array([900.0, 1100.0]))
    found = RunTimes(np.array([5.0, 7.0]), 2).hours(depths, speeds)
    for (row, column), hours in np.ndenumerate(found):
        one = replace(SPEEDS, in_open=number((900.0, 1100.0)[column]))
        alone = RunTimes(number((5.0, 7.0)[column]), 2).hours(
            number(float(depths[row, column])), one
        )
        assert hours == alone


# ---- fish -------------------------------------------------------------------------------------

FISH = Fish(1000.0, 1200.0, (60.0, 0.0, 140.0), (number(6e3), number(500.0), number(7e3)))


@pytest.mark.parametrize(
    ("top", "value"),
    [
        (500.0, 13_000.0),  # above the fish: all of it (a piece of no length has no place)
        (1000.0, 13_000.0),
        (1030.0, 10_000.0),  # by hand: half of 6,000 and all of 7,000
        (1060.0, 7_000.0),
        (1130.0, 3_500.0),  # by hand: half of 7,000
        (1200.0, 0.0),
        (1300.0, 0.0),
    ],
)
def test_value_of_what_is_left(top: float, value: float) -> None:
    assert FISH.value_below(number(top)) == pytest.approx(value)


def test_value_is_continuous_and_falls_with_depth() -> None:
    tops = np.linspace(990.0, 1210.0, 2201)
    steps = np.diff(FISH.value_below(tops))
    assert (steps <= 1e-9).all()
    assert steps.min() >= -10.0 - 1e-6  # a tenth of a foot of the dearest piece: 100 a foot


def test_value_by_draw() -> None:
    values = np.array([1e3, 2e3, 4e3])
    fish = Fish(0.0, 50.0, (50.0,), (values,))
    assert fish.value_below(number(25.0)) == pytest.approx(values / 2)
    assert Fish(0.0, 50.0).value_below(number(0.0)) == 0.0  # no piece, nothing owed


@pytest.mark.parametrize(
    ("bottom", "top", "part", "expected"),
    [
        (1200.0, 1000.0, 60.0, 1060.0),
        (1200.0, 1000.0, 0.0, 1000.0),
        (1200.0, 1000.0, 170.0, 1170.0),
        (1200.0, 1000.0, 500.0, 1170.0),  # 30 ft are left at least
        (1020.0, 1000.0, 60.0, 1000.0),  # a fish shorter than 30 ft stays as it is
        (1030.0, 1000.0, 60.0, 1000.0),  # and one of just 30 ft too
        (1031.0, 1000.0, 60.0, 1001.0),
    ],
)
def test_top_after_a_part(bottom: float, top: float, part: float, expected: float) -> None:
    assert Fish(1000.0, bottom).top_after_part(number(top), part_length=number(part)) == expected


@pytest.mark.parametrize(
    ("depreciation", "floor", "expected"),
    [(0.0, 0.0, 1e5), (0.4, 0.0, 6e4), (0.7, 0.5, 5e4), (1.0, 0.0, 0.0), (1.0, 1.0, 1e5)],
)
def test_value_of_a_piece(depreciation: float, floor: float, expected: float) -> None:
    # by definition: price x max(1 - depreciation, floor)
    found = piece_value(
        replacement=number(1e5), depreciation=number(depreciation), floor=number(floor)
    )
    assert found == pytest.approx(expected)


# ---- odds -------------------------------------------------------------------------------------


def odds(recovered: float = 0.5) -> RunOdds:
    rest = 1.0 - recovered
    shares = (recovered, 0.3 * rest, 0.4 * rest, 0.0, 0.15 * rest, 0.1 * rest, 0.05 * rest)
    return RunOdds(*(np.full((1, 1, 1), share) for share in shares))


def with_elapsed_time(of: RunOdds, *, ratio_per_day: Array, days: Array) -> RunOdds:
    return with_recovery_ratio(of, log_ratio=days * np.log(ratio_per_day))


def others(of: RunOdds) -> list[float]:
    return [float(getattr(of, field.name).flat[0]) for field in fields(of)[1:]]


@pytest.mark.parametrize("new", [0.0, 0.2, 0.5, 1.0])
@pytest.mark.parametrize("old", [0.0, 0.5, 0.99])
def test_other_outcomes_keep_their_proportions(old: float, new: float) -> None:
    found = beta_recovered(odds(old), np.full((1, 1, 1), new))
    # by definition: 30, 40, 15, 10 and 5 % of what is not recovered
    assert found.recovered.item() == pytest.approx(new)
    assert others(found) == pytest.approx([f * (1 - new) for f in (0.3, 0.4, 0.0, 0.15, 0.1, 0.05)])
    assert found.total().item() == pytest.approx(1.0, abs=1e-15)


def test_what_a_certain_recovery_loses_goes_to_nothing() -> None:
    found = beta_recovered(odds(1.0), np.full((1, 1, 1), 0.9))
    assert found.recovered.item() == pytest.approx(0.9)
    assert others(found) == pytest.approx([0.0, 0.1, 0.0, 0.0, 0.0, 0.0])


@pytest.mark.parametrize(
    ("recovered", "ratio", "days", "expected"),
    [
        (0.5, 0.5, 1.0, 1 / 3),  # by hand: odds 1 to 1 become 1 to 2
        (0.5, 0.5, 2.0, 0.2),  # by hand: 1 to 4
        (0.8, 2.0, 1.0, 8 / 9),  # by hand: 4 to 1 become 8 to 1
        (0.5, 1.0, 9.0, 0.5),
        (0.5, 0.5, 0.0, 0.5),
        (0.0, 0.5, 3.0, 0.0),  # what cannot happen still cannot
        (1.0, 0.5, 3.0, 1.0),  # and what is certain stays so
    ],
)
def test_odds_by_elapsed_time(recovered: float, ratio: float, days: float, expected: float) -> None:
    found = with_elapsed_time(odds(recovered), ratio_per_day=number(ratio), days=number(days))
    assert found.recovered.item() == pytest.approx(expected, abs=1e-15)
    assert found.total().item() == pytest.approx(1.0, abs=1e-15)


def test_two_spells_of_time_act_as_one() -> None:
    # by definition: the ratio multiplies once a day
    def later(of: RunOdds, days: float) -> RunOdds:
        return with_elapsed_time(of, ratio_per_day=number(0.9), days=number(days))

    twice, once = later(later(odds(0.7), 1.3), 2.2), later(odds(0.7), 3.5)
    assert twice.recovered.item() == pytest.approx(once.recovered.item(), abs=1e-14)
    assert others(twice) == pytest.approx(others(once), abs=1e-14)


def test_damaged_top_moves_recovery_to_nothing() -> None:
    # by hand: 0.5 x 0.6 = 0.3 is left; nothing was 0.4 x 0.5 and gains 0.2
    damaged = with_damaged_top(odds(), factor=number(0.6), damaged=np.full((1, 1, 1), True))
    assert damaged.recovered.item() == pytest.approx(0.3)
    assert others(damaged) == pytest.approx([0.15, 0.4, 0.0, 0.075, 0.05, 0.025])
    clean = with_damaged_top(odds(), factor=number(0.6), damaged=np.full((1, 1, 1), False))
    assert clean.recovered.item() == 0.5
    assert others(clean) == others(odds())
    none = with_damaged_top(odds(), factor=number(0.0), damaged=np.full((1, 1, 1), True))
    assert none.recovered.item() == 0.0


def test_odds_on_arrays_equal_odds_on_scalars() -> None:
    recovered, days = np.array([0.1, 0.5, 1.0]), np.array([0.0, 2.0, 5.0])
    damaged = np.array([True, False, True])
    wide = beta_recovered(odds(), recovered[None, None, :])
    wide = with_elapsed_time(wide, ratio_per_day=number(0.8), days=days)
    wide = with_damaged_top(wide, factor=number(0.6), damaged=damaged)
    assert wide.total() == pytest.approx(np.ones((1, 1, 3)))
    for i in range(3):
        one = beta_recovered(odds(), np.full((1, 1, 1), recovered[i]))
        one = with_elapsed_time(one, ratio_per_day=number(0.8), days=number(days[i]))
        one = with_damaged_top(one, factor=number(0.6), damaged=damaged[i : i + 1])
        assert wide.recovered[0, 0, i] == pytest.approx(one.recovered.item(), abs=1e-15)
        assert wide.nothing[0, 0, i] == pytest.approx(one.nothing.item(), abs=1e-15)
