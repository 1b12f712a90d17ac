"""`speeds_from`: what it puts into a scenario, what it keeps, and what it refuses.

Origins: by hand from the rules at the head of econ/scenario/speeds_from.py; the answer of a
scenario that holds the same numbers, written by hand; 1 ft = 0.3048 m.
"""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import pytest
from raw_jobs import DEMO_A

from econ.decision import answer
from econ.records.daily_reports import DailyReports, speeds_fragment
from econ.records.daily_reports.values import Value
from econ.reports.supplement import supplement
from econ.reports.supplement.words import basis
from econ.reports.tables import document
from econ.reports.tables.memo import assumptions
from econ.scenario import Scenario, ScenarioError, load, parse
from econ.scenario.fallbacks import Sidetrack
from econ.scenario.load import Variants, anchored
from econ.scenario.notes import notes
from econ.scenario.speeds_file import read_speeds_file

pytestmark = pytest.mark.usefixtures("few_states")
QUICK = ("draws.n=64",)


def speed(name: str, p10: float, p50: float, p90: float, cases: int = 20) -> Value:
    unit = "ft/h" if name.startswith("trip") else "h"
    return Value(name, unit, cases, 3, p10, p50, p90)


VALUES = (
    speed("trip_in_cased", 1000, 2000, 3000),
    speed("trip_in_open", 500, 1000, 2000, cases=4),  # too few: that of any hole is taken
    speed("trip_in", 800, 1500, 3200, cases=30),
    speed("trip_out", 700, 1400, 2800),
    speed("plug_hours", 2, 3, 8),
    speed("woc", 12, 20, 30),
    speed("make_up", 1, 2, 4, cases=2),  # too few: the planning value stays
    Value("drilling", "ft/h", 9, 2, 20.0, 40.0, 80.0, 8.5),
    Value("drilling", "ft/h", 9, 2, 50.0, 90.0, 160.0, 12.25),
)


def found(values: tuple[Value, ...] = VALUES, weather: float = 0.1) -> DailyReports:
    return DailyReports(
        *(14, 14, ("Invented 1", "Invented 2"), "2026-03-01T00:00", "2026-03-15T00:00"),
        *(336.0, 0.0, 0.0, 0.05, weather, 0.02, 1, values),
    )


def text(units: str = "field", *, keep: str = "") -> str:
    """A small job whose sidetrack leaves most to planning values, without trip speeds."""
    length, size = (1.0, 1.0) if units == "field" else (0.3048, 25.4)
    return f"""schema = 1
units = "{units}"
currency = "USD"
speeds_from = "speeds.toml"
{keep}
[job]
well = "Invented 1"
[well]
depth = {10000 * length}
hole_diameter = {8.5 * size}
shoe_depth = {4000 * length}
[rates]
rig = 24000
[fish]
top = {9000 * length}
bottom = {9500 * length}
[[run]]
name = "Overshot"
kind = "overshot"
trips = [{{ make_up = 2, work = 3 }}]
odds = {{ recovered = 0.4, nothing = 0.6 }}
[[fallback]]
name = "Sidetrack"
dress = 5
[[fallback]]
name = "Complete above"
hours = 900
"""


def place(folder: Path, units: Any = "field", **more: Any) -> Path:
    (folder / "speeds.toml").write_text(speeds_fragment(found(**more), units=units), "utf-8")
    return folder


def job(folder: Path, words: str = "", *changes: str) -> Scenario:
    return parse(words or text(), [*QUICK, *changes], folder=folder)


def spread(amount: Any) -> tuple[float, float]:
    return amount.median, amount.factor


def sidetrack(scenario: Scenario) -> Sidetrack:
    first = scenario.fallback[0]
    assert isinstance(first, Sidetrack)
    return first


def test_what_is_left_out_is_taken(tmp_path: Path) -> None:
    scenario = job(place(tmp_path))
    trips, side = scenario.trip_speed, sidetrack(scenario)
    assert trips is not None
    assert spread(trips.into.cased) == (2000, pytest.approx(math.sqrt(3), rel=1e-3))
    assert spread(trips.into.open) == (1500, 2)  # any hole: four open legs are too few
    assert spread(trips.out.cased) == spread(trips.out.open) == (1400, 2)
    assert spread(side.plug_hours) == (3, 2)
    assert spread(side.woc)[0] == 20
    assert spread(side.gross_rop) == (40, 2)  # in the hole size of the well
    assert side.make_up == 3.5  # planning value
    assert side.dress == 5  # stated
    assert (scenario.weather.fishing, scenario.weather.fallback) == (0.1, 0.1)
    assumed = {path for path, _, _ in scenario.assumed()}
    assert "fallback.1.make_up" in assumed
    assert "fallback.1.woc" not in assumed


@pytest.mark.parametrize("own", ["field", "metric"])
@pytest.mark.parametrize("wanted", ["field", "metric"])
def test_units_are_converted_both_ways(tmp_path: Path, own: str, wanted: str) -> None:
    scenario = job(place(tmp_path, own), text(wanted)).in_field_units()
    assert scenario.trip_speed is not None
    amount: Any = scenario.trip_speed.into.cased
    rate: Any = sidetrack(scenario).gross_rop
    assert amount.median == pytest.approx(2000, rel=1e-3)
    assert rate.median == pytest.approx(40, rel=1e-3)


def test_what_is_stated_is_kept_and_said(tmp_path: Path) -> None:
    place(tmp_path)
    changes = ("trip_speed.in.cased=1700", "fallback.1.woc=24", "weather.fishing=0")
    scenario = job(tmp_path, "", *changes)
    assert scenario.trip_speed is not None
    assert scenario.trip_speed.into.cased == 1700
    assert sidetrack(scenario).woc == 24
    assert scenario.weather.fishing == 0
    assert scenario.weather.fallback == 0.1
    said = "\n".join(notes(scenario))
    kept = "trip_speed.in.cased, fallback.1.woc, weather.fishing: stated in the scenario"
    assert f"daily reports not used for {kept}" in said
    assert "fallback.1.make_up: 2 of 5 cases that are needed" in said


def test_it_answers_as_the_same_numbers_written_by_hand(tmp_path: Path) -> None:
    taken = job(place(tmp_path))
    by_hand = """
[trip_speed]
in = { cased = { median = 2000, factor = 1.732 }, open = { median = 1500, factor = 2 } }
out = { cased = { median = 1400, factor = 2 }, open = { median = 1400, factor = 2 } }
[weather]
fishing = 0.1
fallback = 0.1
"""
    lines = (
        text()
        .replace('speeds_from = "speeds.toml"\n', "")
        .replace(
            "dress = 5\n",
            "dress = 5\nplug_hours = { median = 3, factor = 2 }\n"
            "woc = { median = 20, factor = 1.581 }\ngross_rop = { median = 40, factor = 2 }\n",
        )
    )
    written = parse(lines + by_hand, QUICK)
    one, other = answer(taken), answer(written)
    assert one.limit.expected_cost == other.limit.expected_cost
    assert one.limit.days == other.limit.days


def test_each_value_says_its_origin_as_far_as_the_memo(tmp_path: Path) -> None:
    told = answer(job(place(tmp_path)))
    source = "14 daily reports of 2 wells, 2026-03-01 to 2026-03-15"
    said = "\n".join(notes(told.scenario))
    assert f"trip_speed.in.cased: from daily reports ({source}): 20 cases of 3 wells" in said
    rows = {row["name"]: row for row in assumptions(told)}
    assert "20 cases of 3 wells" in rows["trip speed in, cased and open hole, ft/h"]["origin"]
    own = rows["Sidetrack, from daily reports"]
    assert "plug hours 3" in own["value"]
    assert "woc: 20 cases" in own["origin"]
    assert "10.0% of 336 h" in rows["share of time lost to weather, runs and fallback"]["origin"]
    assert "woc" not in rows["Sidetrack, keys left out"]["value"]
    assert any("fallback.1.woc: from daily reports" in line for line in basis(supplement(told)))
    json = document(told)["daily_reports"]
    assert {row["path"] for row in json if row["how"] == "reports"} >= {
        *("trip_speed.in.cased", "fallback.1.gross_rop", "weather.fishing"),
    }
    assert all(row["reports"] == source for row in json)


def test_a_lump_and_an_unknown_hole_size_take_nothing(tmp_path: Path) -> None:
    place(tmp_path)
    scenario = job(tmp_path, "", "well.hole_diameter=6")
    assert sidetrack(scenario).gross_rop == 30
    assert scenario.fallback[1].model_fields_set == {"name", "hours"}


def test_a_file_that_knows_nothing_changes_nothing(tmp_path: Path) -> None:
    place(tmp_path, values=(), weather=0.0)
    speeds = "\n[trip_speed]\nin = { cased = 1, open = 1 }\nout = { cased = 1, open = 1 }\n"
    scenario = job(tmp_path, text() + speeds)
    assert "speeds_from = speeds.toml changes nothing" in notes(scenario)
    with pytest.raises(ScenarioError, match=r"no \[trip_speed\]"):
        job(tmp_path)


def test_weather_beyond_what_a_scenario_takes_is_kept_out(tmp_path: Path) -> None:
    scenario = job(place(tmp_path, weather=0.95))
    assert scenario.weather.fishing == 0
    assert any("95% of 336 h is more than 90 %" in each for each in notes(scenario))


def test_hours_that_nothing_is_known_of_are_warned_of(tmp_path: Path) -> None:
    place(tmp_path)
    path = tmp_path / "speeds.toml"
    path.write_text(path.read_text("utf-8").replace("unmatched = 0.05", "unmatched = 0.5"), "utf-8")
    assert any("nothing is known of 50% of the hours" in each for each in notes(job(tmp_path)))


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("schema = 1", "schema = 2", "schema"),
        ("p50 = 2000.0", "p50 = 1.0", "p10 <= p50 <= p90"),
        ("[value.trip_in]", "[value.trip_inn]", "trip_in"),
        ("cases = 20", "cases = 0", "cases"),
        ('units = "field"', 'units = "feet"', "units"),
        ("weather = 0.1", "weather = 1.5", "weather"),
        ("schema = 1", "schema = ", "TOML"),
    ],
)
def test_faults_of_the_file_name_it_and_their_line(
    tmp_path: Path, old: str, new: str, says: str
) -> None:
    place(tmp_path)
    path = tmp_path / "speeds.toml"
    before = path.read_text("utf-8")
    assert old in before
    path.write_text(before.replace(old, new, 1), "utf-8")
    with pytest.raises(ScenarioError) as error:
        job(tmp_path)
    faults = [str(each) for each in error.value.faults]
    # each names the file and a line of it, and none is about trip speeds that are missing for it
    assert all("speeds.toml: line" in each for each in faults), faults
    assert any(says in each for each in faults)


def test_a_missing_file_says_who_writes_it(tmp_path: Path) -> None:
    with pytest.raises(ScenarioError, match="econ daily REPORTS --out FILE writes one"):
        job(tmp_path)
    with pytest.raises(ScenarioError, match="no plain file"):
        job(tmp_path, text().replace("speeds.toml", "/dev/null"))


def test_variants_and_anchors_know_the_file(tmp_path: Path) -> None:
    place(tmp_path)
    many = Variants(text(), QUICK, folder=tmp_path)
    dearer = many.scenario(["rates.rig=30000"])
    assert dearer == job(tmp_path, "", "rates.rig=30000")
    assert dearer.from_reports == job(tmp_path).from_reports
    kept = many.scenario(["trip_speed.in.open=900"])
    assert kept.trip_speed is not None
    assert kept.trip_speed.into.open == 900
    assert "trip_speed.in.open" in "\n".join(
        each for each in notes(kept) if "stated in the scenario" in each
    )
    fixed = anchored(text(), QUICK, tmp_path)
    assert parse(text(), fixed, folder=tmp_path.parent) == parse(
        text(), [*QUICK, f"speeds_from='{(tmp_path / 'speeds.toml').as_posix()}'"]
    )
    before = fixed[-1]
    path = tmp_path / "speeds.toml"
    path.write_text(path.read_text("utf-8") + "\n# touched\n", "utf-8")
    assert anchored(text(), QUICK, tmp_path)[-1] != before


def test_files_without_the_key_are_as_before() -> None:
    scenario = load(DEMO_A, QUICK)
    assert scenario.from_reports is None
    assert not any("daily reports" in each for each in notes(scenario))
    assert "daily_reports" not in document(answer(scenario))


def test_the_file_is_read_as_it_was_written(tmp_path: Path) -> None:
    place(tmp_path)
    file = read_speeds_file(tmp_path / "speeds.toml")
    assert file.value["trip_in_cased"].cases == 20
    assert [each.hole_size for each in file.drilling] == [8.5, 12.25]
    assert file.lost.repair == 0.02
