"""Hours learned from the runs made: the factor, where it is applied, and what is said of it.

Origins of the expected numbers:
    independent   the posterior of the common factor by sums over a fine grid; planned hours added
                  up by hand; the same job with its hours multiplied by hand in the file
"""

from __future__ import annotations

import copy
import json
from pathlib import Path

import numpy as np
import pytest
from cli.command import check_plain, ok
from raw_jobs import SCENARIO_A, Table, lump_job, read, scenario

import econ
from econ.decision.run_log import inputs_after
from econ.decision.sweep import sweep_row
from econ.decision.whatif import whatif
from econ.engine.learned_hours import common_factor
from econ.reports import tables
from econ.reports.text import text
from econ.scenario.run_log import parse_log

pytestmark = pytest.mark.usefixtures("few_bins", "few_states")
EXACT = 1e-9
HEADER = "run,start,end,outcome,fish_top\n"
START = "2026-03-14T06:00"
FAILS = {"recovered": 0.4, "part": 0.1, "nothing": 0.45, "top_damaged": 0.05}
GOOD = {"recovered": 0.7, "part": 0.1, "nothing": 0.15, "top_damaged": 0.05}


def row(run: int | str, start: str, end: str, outcome: str = "nothing", top: str = "") -> str:
    return f"{run},{start},{end},{outcome},{top}\n"


# ---- the factor --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("y", "spread", "scatter"),
    [
        ([0.3], 0.25, 0.3),
        ([0.5, -0.1, 0.4], 0.25, 0.3),
        ([-0.2, -0.3], 0.6, 0.1),
        ([0.1] * 12, 0.05, 0.5),
    ],
)
def test_the_posterior_of_the_common_factor_is_that_of_sums_over_a_grid(
    y: list[float], spread: float, scatter: float
) -> None:
    m = np.linspace(-4.0, 4.0, 400_001)
    log = -0.5 * (m / spread) ** 2 - 0.5 * sum(((each - m) / scatter) ** 2 for each in y)
    density = np.exp(log - log.max())
    density /= density.sum()
    mean = float((m * density).sum())
    deviation = float(np.sqrt(((m - mean) ** 2 * density).sum()))
    found = common_factor(y, spread=spread, scatter=scatter)
    assert found == pytest.approx((mean, deviation), rel=1e-6)


def trips_job() -> Table:
    """Runs by trips and by hours at plain speeds; a top of 9,600 ft below a shoe at 4,000 ft."""
    raw = lump_job(FAILS, FAILS, FAILS, part_length=50)
    raw["trip_speed"] = {
        "in": {"cased": 2_000, "open": 1_000},
        "out": {"cased": 1_000, "open": 2_000},
    }
    del raw["run"][1]["hours"]
    raw["run"][1] |= {
        "wait": 3,
        "trips": [{"make_up": 2, "circulate": 1, "work": 4, "lay_down": 1.5}] * 2,
    }
    return raw


LOG = (
    HEADER
    + row(1, START, "2026-03-15T12:00", "part", "9700")
    + row(2, "2026-03-15T14:00", "2026-03-17T17:00")
)


def test_planned_hours_are_those_of_the_clock_at_the_top_a_run_was_made_from() -> None:
    raw = trips_job()
    made = scenario(raw)
    found = econ.answer(made, parse_log(LOG, made)).hours
    assert found is not None
    trip = 4_000 / 2_000 + 5_700 / 1_000 + 4_000 / 1_000 + 5_700 / 2_000  # to 9,700 ft and back
    goal = [(0, 24.0, 30.0), (1, 3 + 2 * (8.5 + trip), 51.0)]
    assert [(each.run, each.planned, each.actual) for each in found.runs] == [
        pytest.approx(each, rel=EXACT) for each in goal
    ]
    assert (found.planned, found.actual) == pytest.approx((24 + goal[1][1], 81.0), rel=EXACT)
    y = [np.log(actual / planned) for _, planned, actual in goal]
    mean, deviation = common_factor(y, spread=0.25, scatter=0.3)
    assert found.factor == pytest.approx(np.exp(mean), rel=EXACT)
    ends = np.exp([mean - 1.281551566 * deviation, mean + 1.281551566 * deviation])
    assert (found.low, found.high) == pytest.approx(tuple(ends), rel=1e-8)


def test_planned_hours_hold_the_weather() -> None:
    raw = trips_job()
    raw["weather"] = {"fishing": 0.2}
    made = scenario(raw)
    found = econ.answer(made, parse_log(LOG, made)).hours
    assert found is not None
    assert found.runs[0].planned == pytest.approx(24 / 0.8, rel=EXACT)


def test_a_range_of_hours_counts_by_its_mean() -> None:
    raw = lump_job(FAILS, FAILS)
    raw["run"][0]["hours"] = {"low": 20, "high": 40}
    made = scenario(raw)
    found = econ.answer(made, parse_log(HEADER + row(1, START, "2026-03-15T18:00"), made)).hours
    assert found is not None
    assert found.runs[0].planned == pytest.approx(30, abs=0.02)


def test_readings_and_runs_stopped_half_way_do_not_count() -> None:
    raw = lump_job(FAILS, FAILS)
    raw["fishing"]["workable"] = 0.5
    raw["run"][0]["odds"] = {"workable": FAILS, "stubborn": {"nothing": 1.0}}
    raw["reading"] = [{"name": "log", "hours": 10, "cost": 1_000, "reliability": 0.8}]
    made = scenario(raw)
    rows = HEADER + row("log", START, "2026-03-15T06:00", "reads_workable")
    assert econ.answer(made, parse_log(rows, made)).hours is None
    rows += row(1, "2026-03-15T06:00", "2026-03-16T06:00")
    inputs = inputs_after(made, parse_log(rows, made))
    assert inputs.hours_learned is not None
    assert len(inputs.hours_learned.runs) == 1
    half = HEADER + row(1, START, "2026-03-15T18:00", "unfinished")
    assert inputs_after(made, parse_log(half, made)).hours_learned is None


# ---- the engine --------------------------------------------------------------------------------


def learning(raw: Table, **fishing: float) -> Table:
    table = copy.deepcopy(raw)
    table["fishing"] |= {"learn_hours": True, **fishing}
    return table


def by_hand(raw: Table, factor: float, *, ahead: list[int]) -> Table:
    """The file with the hours of the runs ahead multiplied; speeds stay, so no trips."""
    table = copy.deepcopy(raw)
    for number in ahead:
        run = table["run"][number]
        run["hours"] *= factor
        run["wait"] = run.get("wait", 0) * factor
    return table


def aged() -> Table:
    """Everything that hangs on the clock: rentals, ageing, weather, a deadline, a recovery."""
    raw = lump_job(FAILS, GOOD, GOOD, part_length=50, wait=5)
    raw["fishing"] |= {"odds_ratio_per_day": 0.8, "loss_odds_ratio_per_day": 1.2}
    raw["fishing"]["day_rates"] = {"hand": 3_000}
    raw["weather"] = {"fishing": 0.1, "fallback": 0.05}
    raw["deadline"] = {"in_days": 6, "cost_once": 40_000, "cost_per_day": 9_000}
    raw["recovery"] = {"hours": 20, "charge": 5_000}
    raw["rental"] = [
        {"tool": "jars", "kinds": ["other"], "day": 900, "minimum_days": 2, "delivery": 40}
    ]
    return raw


LATE = HEADER + row(1, START, "2026-03-15T20:00")


def test_learning_is_the_job_with_the_hours_ahead_multiplied_by_hand() -> None:
    raw = aged()
    made = scenario(learning(raw))
    log = parse_log(LATE, made)
    found = econ.answer(made, log)
    assert found.hours is not None
    factor = found.hours.factor
    assert factor > 1.05
    goal_made = scenario(by_hand(raw, factor, ahead=[1, 2]))
    goal = econ.answer(goal_made, parse_log(LATE, goal_made))
    for one, other in zip(found.by_runs, goal.by_runs, strict=True):
        assert one.expected_cost == pytest.approx(other.expected_cost, rel=EXACT)
        assert one.days == pytest.approx(other.days, rel=EXACT)
    for one_time, other_time in zip(found.timetable.runs, goal.timetable.runs, strict=True):
        assert (one_time.end, one_time.wait) == pytest.approx(
            (other_time.end, other_time.wait), rel=EXACT
        )
    assert found.weather is not None
    assert goal.weather is not None
    assert found.weather.cost.value == pytest.approx(goal.weather.cost.value, rel=EXACT)
    assert found.late is not None
    assert goal.late is not None
    for late, same in zip(found.late.by_runs, goal.late.by_runs, strict=True):
        assert late.cost.value == pytest.approx(same.cost.value, rel=EXACT)
    effect = found.hours.effect
    assert effect is not None
    plain = econ.answer(scenario(raw), log)
    assert effect.cost_without == pytest.approx(plain.limit.expected_cost, rel=EXACT)
    assert effect.cost_with == pytest.approx(found.limit.expected_cost, rel=EXACT)
    assert plain.hours is not None
    assert plain.hours.effect is not None
    assert plain.hours.effect.cost_with == pytest.approx(effect.cost_with, rel=EXACT)
    assert plain.hours.effect.best_with == found.best
    assert plain.hours.effect.change.value == pytest.approx(
        effect.cost_with - effect.cost_without, rel=EXACT
    )


def test_learning_with_trips_is_longer_trips_and_work() -> None:
    """A run by trips: its trips, and all that stands in them, are multiplied; speeds by hand."""
    raw = trips_job()
    del raw["run"][2]
    made = scenario(learning(raw))
    text = HEADER + row(1, START, "2026-03-15T18:00")
    found = econ.answer(made, parse_log(text, made))
    assert found.hours is not None
    factor = found.hours.factor
    goal = copy.deepcopy(raw)
    for speeds in goal["trip_speed"].values():
        for hole in speeds:
            speeds[hole] /= factor
    run = goal["run"][1]
    run["wait"] *= factor
    run["trips"] = [{name: hours * factor for name, hours in run["trips"][0].items()}] * 2
    other = scenario(goal)
    expected = econ.answer(other, parse_log(text, other))
    assert found.ahead[0].days == pytest.approx(expected.ahead[0].days, rel=EXACT)
    assert found.limit.expected_cost == pytest.approx(expected.limit.expected_cost, rel=EXACT)


def test_a_plan_a_change_a_sweep_and_a_sensitivity_follow() -> None:
    raw = aged()
    made = scenario(learning(raw))
    log = parse_log(LATE, made)
    factor = inputs_after(made, log).hours_factor
    hand = scenario(by_hand(raw, factor, ahead=[1, 2]))
    goal = parse_log(LATE, hand)
    one, other = econ.plan(made, log), econ.plan(hand, goal)
    assert one.expected_cost.value == pytest.approx(other.expected_cost.value, rel=EXACT)
    here, there = econ.sensitivity(made, log), econ.sensitivity(hand, goal)
    assert here.best_cost.value == pytest.approx(there.best_cost.value, rel=EXACT)
    for swing, same in zip(here.swings, there.swings, strict=True):
        assert swing.high.cost.value == pytest.approx(same.high.cost.value, rel=EXACT)
    change = whatif(scenario(raw), made, log).figure("expected_cost")
    assert change.after == pytest.approx(econ.answer(made, log).limit.expected_cost, rel=EXACT)
    assert change.change is not None
    assert change.change > 1_000
    file = json_toml(learning(raw))
    swept = sweep_row(file, ["draws.n=16"], 16, LATE)
    assert swept["error"] == ""
    assert swept["expected_cost"] == pytest.approx(change.after, rel=1e-3)


def json_toml(raw: Table) -> str:
    def value(node: object) -> str:
        if isinstance(node, dict):
            return "{" + ", ".join(f"{key} = {value(item)}" for key, item in node.items()) + "}"
        if isinstance(node, list):
            return "[" + ", ".join(map(value, node)) + "]"
        return json.dumps(node)

    return "\n".join(f"{key} = {value(item)}" for key, item in raw.items())


def test_nothing_changes_without_the_key_or_without_a_log() -> None:
    raw = aged()
    plain, made = scenario(raw), scenario(learning(raw))
    log = parse_log(LATE, plain)
    assert inputs_after(plain, log).hours_factor == 1.0
    assert inputs_after(made, ()).hours_factor == 1.0
    one, other = econ.answer(plain), econ.answer(made)
    assert one.by_runs == other.by_runs
    assert one.hours is None


# ---- in words and in JSON ----------------------------------------------------------------------


def test_hours_are_in_the_text_and_the_json_of_the_morning_after(tmp_path: Path) -> None:
    raw = aged()
    made = scenario(raw)
    found = econ.answer(made, parse_log(LATE, made))
    said = text(found, full=True)
    check_plain(said)
    assert all(len(line) <= 64 for line in said.split("\n"))
    words = " ".join(said.split())
    assert "HOURS: planned 32.2 h, made 38.0 h, 1.18 of plan." in words  # (24 + 5)/0.9
    assert "- run 1, run 1: planned 32.2 h, made 38.0 h" in words
    assert "This is not applied. With it the best limit is" in words
    assert "To apply it, set learn_hours = true under [fishing]." in words
    hours = tables.document(found)["log"]["hours"]
    assert hours["runs"] == [{"run": 1, "planned": pytest.approx(29 / 0.9), "actual": 38.0}]
    assert hours["applied"] is False
    assert hours["factor_range"][0] < hours["factor"] < hours["factor_range"][1]
    applied = scenario(learning(raw))
    assert "This is applied (learn_hours)" in " ".join(
        text(econ.answer(applied, parse_log(LATE, applied)), full=True).split()
    )


def test_a_job_that_is_over_states_its_hours_and_offers_nothing(tmp_path: Path) -> None:
    log = tmp_path / "runs.csv"
    log.write_text(HEADER + row(1, START, "2026-03-15T20:00", "recovered"), encoding="utf-8")
    change = ("--set", "draws.n=16")
    document = json.loads(ok("answer", SCENARIO_A, "--log", log, "--json", *change))
    assert document["log"]["hours"]["effect"] is None
    said = ok("answer", SCENARIO_A, "--log", log, "--full", *change)
    assert "HOURS: planned" in said
    assert "applied" not in said


def test_bad_values_of_the_keys_are_faults() -> None:
    raw = read(SCENARIO_A)
    raw["fishing"]["hours_spread"] = 0
    with pytest.raises(ValueError, match="hours_spread"):
        scenario(raw)
