"""Published times, rates, percentiles and engineering identities.

Grades: A regulation, standard, textbook or society paper; B trade page or training text.
"""

from __future__ import annotations

import numpy as np
import pytest

from econ.job import RunTimes, TripSpeeds, buoyancy_factor, gross_rate, section_hours, staged_rate
from econ.sampling import Column, Sampler
from econ.scenario import parse
from econ.scenario.distributions import Discrete, Uniform

from .test_fishing_economics import answer_text


def speeds(in_cased: float, in_open: float, out_cased: float, out_open: float) -> TripSpeeds:
    four = [np.asarray(speed) for speed in (in_cased, in_open, out_cased, out_open)]
    return TripSpeeds(4200.0, *four)


def test_round_trip_to_10_000_ft_takes_about_12_hours() -> None:
    # published (grade A): a public oilfield glossary, "round trip": 1 h per
    # 1,000 ft plus 1 to 2 h. 1 h per 1,000 ft of both ways is 2,000 ft/h each way.
    tripping = speeds(2000.0, 2000.0, 2000.0, 2000.0)
    for handling, expected in [(1.0, 11.0), (2.0, 12.0)]:
        run = RunTimes(np.asarray(handling), 1)
        assert run.hours(np.asarray(10_000.0), tripping) == pytest.approx(expected)


def test_fishing_string_is_slower_than_the_band_but_of_its_order() -> None:
    # published as a band: 11,180 ft gives 12.2 to 13.2 h. The speeds of a
    # fishing string in scenario A (invented) are slower, its notes print 15.6 h.
    hours = float(speeds(2000.0, 1300.0, 1800.0, 1200.0).round_trip(np.asarray(11_180.0)))
    assert hours == pytest.approx(15.6, abs=0.05)
    assert 12.2 < hours < 1.5 * 13.2


def test_hours_of_a_section() -> None:
    # published (grade B, a training page): 46.15 h of drilling, 2.13 h of
    # connections, 4.40 h of surveys, 4.21 h or 8 % of lost time, 56.9 h in all
    drilling = section_hours(footage=3000, rate=65)
    connections = section_hours(footage=3000, rate=65, connections=32, connection_minutes=4)
    surveys = section_hours(footage=3000, rate=65, surveys=33, survey_minutes=8)
    counts = {"connections": 32, "connection_minutes": 4, "surveys": 33, "survey_minutes": 8}
    clean = section_hours(footage=3000, rate=65, **counts)
    total = section_hours(footage=3000, rate=65, **counts, lost_share=0.08)
    assert drilling == pytest.approx(46.15, abs=0.005)
    assert connections - drilling == pytest.approx(2.13, abs=0.005)
    assert surveys - drilling == pytest.approx(4.40, abs=0.005)
    assert total - clean == pytest.approx(4.21, abs=0.005)
    assert total == pytest.approx(56.9, abs=0.05)
    # by definition: the rate with everything in it drills the same footage in the same time
    assert section_hours(footage=3000, rate=gross_rate(footage=3000, hours=total)) == pytest.approx(
        total
    )


def test_kickoff_at_10_30_and_60_percent_averages_20_percent() -> None:
    # published (grade B): a directional tool manual; equal footages add their
    # times, so the mean is harmonic: 3 / (1/.1 + 1/.3 + 1/.6)
    assert staged_rate([0.1, 0.3, 0.6]) == pytest.approx(0.200, abs=1e-12)
    assert staged_rate([0.4]) == pytest.approx(0.4)  # by definition


def test_buoyancy_of_13_lb_mud() -> None:
    # published (grade A, the customary formula of drilling handbooks): 0.8015, and 350 klb in
    # air weigh 280.5 klb
    assert buoyancy_factor(13.0) == pytest.approx(0.8015, abs=0.00005)
    assert 350.0 * buoyancy_factor(13.0) == pytest.approx(280.5, abs=0.05)


def test_buoyancy_of_the_fish_of_scenario_a() -> None:
    # published: notes of scenario A (invented): 0.844 in 10.2 ppg; 60,700 lb weigh 51,000 lb
    assert buoyancy_factor(10.2) == pytest.approx(0.844, abs=0.0005)
    assert 60_700.0 * buoyancy_factor(10.2) == pytest.approx(51_000.0, rel=0.01)


def test_p90_of_a_cost_is_not_exceeded_ninety_percent_of_the_time() -> None:
    # published (grade A): Australian Department of Finance, RMG 500: P80 is not
    # exceeded 80 % of the time; reserves use the opposite sense. A cost evenly spread from
    # 100,000 to 200,000 therefore has P10 110,000, P50 150,000 and P90 190,000.
    found = answer_text(
        run_days=None, fallback="hours = 0\ncost = { low = 100000, high = 200000 }", n=1024
    ).by_runs[0]
    assert (found.p10, found.p50, found.p90) == pytest.approx((110_000, 150_000, 190_000), abs=150)
    assert found.expected_cost == pytest.approx(150_000, abs=5 * found.standard_error + 1)


def test_sum_of_two_uniform_items_one_of_them_uncertain() -> None:
    # published (grade B, trade article of 2012, recomputed): 70,000 to 85,000 for
    # certain and 10,000 to 15,000 with a chance of 80 %: mean 87,500, standard deviation 6,739
    columns = [
        Column("first", Uniform(low=70_000, high=85_000)),
        Column("second", Uniform(low=10_000, high=15_000)),
        Column("happens", Discrete(values=[0.0, 1.0], weights=[0.2, 0.8])),
    ]
    block = Sampler(columns, seed=3, scrambles=1).scramble(0).block(2**14)
    total = block["first"] + block["happens"] * block["second"]
    assert total.mean() == pytest.approx(87_500, abs=5)
    assert total.std() == pytest.approx(6_739, abs=5)


def test_sum_of_two_uniform_items_through_the_whole_program() -> None:
    # published again: the certain item as the cost of the fallback, the other
    # as a discrete cost owed on every branch
    found = answer_text(
        run_days=None,
        fallback="hours = 0\ncost = { low = 70000, high = 85000 }",
        more="[common]\ncost = { values = [0, 12500], weights = [0.2, 0.8] }\n",
        n=1024,
    ).by_runs[0]
    assert found.expected_cost == pytest.approx(87_500, abs=5 * found.standard_error + 1)


def test_scenario_of_these_tests_is_complete() -> None:
    # the notes name what a file leaves out; nothing may stand in for a number of these tests
    from .test_fishing_economics import scenario_text

    scenario = parse(scenario_text(run_days=None, fallback="hours = 0\ncost = 1", more=""))
    assert list(scenario.assumed()) == []
