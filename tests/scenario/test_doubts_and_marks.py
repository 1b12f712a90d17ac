"""Doubts, marks, parting, weather and deadline as a scenario holds them.

Origin of the expected values: by hand from the text of the job; the order of the kinds of fish is
that of the format (bit d of kind k is 0 where doubt d is in favour); 1 ft = 0.3048 m.
"""

from __future__ import annotations

from datetime import date, datetime
from itertools import product
from pathlib import Path

import pytest
from stuck_string import STUCK, changed, without

from econ.scenario import Scenario, load, parse
from econ.scenario.doubts import Doubt
from econ.scenario.notes import notes
from econ.scenario.program import OUTCOMES

POINT = Path(__file__).parents[2] / "scenarios" / "point"
JOB = parse(STUCK)


def names(scenario: Scenario) -> list[str]:
    return [doubt.name for doubt in scenario.doubts]


def test_job_that_uses_every_key_is_sound_and_says_nothing_of_them() -> None:
    words = ("doubt", "mark", "attached", "never", "parting", "deadline", "without effect")
    assert not [said for said in notes(JOB) if any(word in said for word in words)]


def test_outcomes_stand_in_the_order_of_the_format() -> None:
    words = "recovered part nothing prepared top_damaged string_lost hole_lost"
    assert " ".join(OUTCOMES) == words
    assert JOB.run[1].odds_by_kind()[0].prepared == 0.9


# Doubts.


def test_doubts_of_the_file() -> None:
    assert names(JOB) == ["top_good", "jars_free"]
    assert [doubt.note for doubt in JOB.doubts] == ["The top can be caught", ""]
    assert JOB.doubts[0].workable == 0.7


def test_a_file_without_doubts_has_the_one_of_its_fishing() -> None:
    old = load(POINT / "a_land_twist_off.toml", ["fishing.workable={mean=0.7,weight=8}"])
    (one,) = old.doubts
    assert one.name == "workable"
    assert one.workable is old.fishing.workable
    assert old.run[0].favourable(old.doubts) == [True, False]
    plain = load(POINT / "c_bit_cones.toml")
    single = [f"run.{n}.odds={{nothing=1}}" for n in range(1, len(plain.run) + 1)]
    none = load(POINT / "c_bit_cones.toml", single)
    assert none.doubts == ()
    assert none.run[0].favourable(none.doubts) == [True]


def test_kinds_of_fish_on_which_the_workable_odds_hold() -> None:
    # kinds: both in favour; top_good not; jars_free not; neither
    jar, back_off, _, overshot = JOB.run
    assert jar.favourable(JOB.doubts) == [True, True, False, False]
    assert overshot.favourable(JOB.doubts) == [True, False, False, False]  # left out: all
    assert back_off.favourable(JOB.doubts) == [True, True, True, True]  # one table: none
    top = parse(changed(('depends_on = ["jars_free"]', 'depends_on = ["top_good"]')))
    assert top.run[0].favourable(JOB.doubts) == [True, False, True, False]


@pytest.mark.parametrize("depends", [None, ["d0"], ["d3", "d1"], ["d0", "d1", "d2", "d3"]])
def test_kinds_of_four_doubts_are_all_combinations(depends: list[str] | None) -> None:
    doubts = [Doubt(name=f"d{place}", workable=0.5) for place in range(4)]
    run = JOB.run[3].model_copy(update={"depends_on": depends})
    # independent: the combinations counted up with the last doubt slowest
    expected = [
        all(holds[int(name[1])] for name in depends or ["d0", "d1", "d2", "d3"])
        for holds in (combination[::-1] for combination in product((True, False), repeat=4))
    ]
    assert run.favourable(doubts) == expected


def test_an_uncertain_chance_of_a_doubt_is_an_amount_of_the_file() -> None:
    paths = [path for path, _, _ in JOB.amounts()]
    assert "doubt.2.workable" in paths
    assert "weather.fallback" in paths
    ratio = parse(changed(("{ washed = 4 }", "{ washed = { low = 3, high = 5 } }")))
    assert "run.4.ratio_with.washed" in [path for path, _, _ in ratio.amounts()]
    again = parse(changed(("{ top_good = 0.8 }", "{ top_good = { mean = 0.8, weight = 9 } }")))
    assert "run.2.renews.top_good" in [path for path, _, _ in again.amounts()]


# Marks.


def test_marks_stand_in_order_of_first_appearance_with_attached_first() -> None:
    assert JOB.marks == ("attached", "circulates", "washed")
    later = parse(changed(('["attached", "circulates"]', '["circulates", "attached"]')))
    assert later.marks == ("attached", "circulates", "washed")
    barred = parse(changed(('bars = ["damaged_top"]', 'bars = ["damaged_top", "buried"]')))
    assert barred.marks == ("attached", "circulates", "washed", "buried")
    assert load(POINT / "a_land_twist_off.toml").marks == ()


def test_what_a_run_needs_and_what_bars_it_in_full() -> None:
    jar, _, wash, overshot = JOB.run
    assert jar.all_needs == ("attached",)
    assert jar.all_bars == ()
    assert wash.all_needs == ("made_2",)
    assert overshot.all_needs == ("made_2",)  # of after
    assert overshot.all_bars == ("attached",)  # of trips
    assert JOB.can_be_attached
    assert not load(POINT / "a_land_twist_off.toml").can_be_attached


def test_defaults_change_nothing() -> None:
    old = load(POINT / "a_land_twist_off.toml")
    run = old.run[0]
    assert (run.needs, run.bars, run.gives, run.takes) == ([], [], [], [])
    assert (run.ratio_with, run.renews, run.depends_on) == ({}, {}, None)
    assert (run.at_most, run.fishing_share) == (1, 1.0)
    assert (old.weather.fishing, old.weather.fallback) == (0.0, 0.0)
    assert (old.parting, old.deadline, old.doubt, old.fish.marks) == (None, None, [], [])
    assert (old.fallback[0].needs, old.fallback[0].bars) == ([], [])
    assert (old.reading[0].about, old.reading[0].needs) == (None, [])
    assert old.fallback[0].stick_again.hours == 0  # type: ignore[union-attr]


# Parting, weather, deadline.


def test_parting_weather_and_deadline() -> None:
    assert JOB.parting is not None
    assert (JOB.parting.hours, JOB.parting.charge) == (8, 12000)
    assert JOB.weather.fishing == 0.1
    end = JOB.deadline
    assert end is not None
    assert (end.at, end.in_days, end.work_after_days) == (None, 30, 4)
    assert (end.cost_once, end.cost_per_day) == (100000, 20000)


@pytest.mark.parametrize(
    ("written", "moment"),
    [
        ("2026-04-10", date(2026, 4, 10)),
        ("2026-04-10T12:00:00", datetime(2026, 4, 10, 12)),
    ],
)
def test_deadline_at_a_time(written: str, moment: date) -> None:
    job = parse(changed(("in_days = 30", f"at = {written}")))
    assert job.deadline is not None
    assert job.deadline.at == moment
    assert type(job.deadline.at) is type(moment)


def test_a_zone_on_a_time_beside_a_date_is_no_contradiction() -> None:
    text = changed(("in_days = 30", "at = 2026-04-10T12:00:00Z"), ("14T06:00:00", "14"))
    assert parse(text).deadline is not None


def test_metric_files_keep_ratios_shares_and_days() -> None:
    metric = changed(
        ('"field"', '"metric"'),
        ("depth = 9800", "depth = 3000"),
        ("hole_diameter = 8.5", "hole_diameter = 216"),
        ("shoe_depth = 3600", "shoe_depth = 1100"),
        ("top = 9300", "top = 2850"),
        ("bottom = 9800", "bottom = 3000"),
    )
    job = parse(metric).in_field_units()
    assert job.fish.top == pytest.approx(2850 / 0.3048)
    assert job.run[3].ratio_with == JOB.run[3].ratio_with
    assert job.run[1].renews == {"top_good": 0.8}
    assert job.run[0].depends_on == ["jars_free"]
    assert job.run[0].fishing_share == 0
    assert job.weather == JOB.weather
    assert job.deadline == JOB.deadline
    assert job.parting == JOB.parting
    assert job.doubts == JOB.doubts
    assert job.marks == JOB.marks
    assert job.fallback[1].bars == ["damaged_top"]


def test_keys_can_be_set_from_outside() -> None:
    path = [
        *("doubt.2.workable=0.4", "run.4.ratio_with.washed=5", "run.2.renews.top_good=0.5"),
        *("weather.fishing=0.2", "deadline.cost_once=5", "parting.hours=3"),
    ]
    job = parse(STUCK, path)
    assert (job.doubts[1].workable, job.run[3].ratio_with["washed"]) == (0.4, 5)
    assert job.run[1].renews == {"top_good": 0.5}
    assert job.weather.fishing == 0.2


def test_the_file_need_not_say_anything_of_them() -> None:
    short = without("[deadline]\n", STUCK + "[draws]\nn = 64\n")
    assert parse(without("[weather]\n", short)).deadline is None
