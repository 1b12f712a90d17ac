"""Answers at the edges: certain runs, runs of no time, metric defaults, extremes of money.

Expected numbers are worked by hand beside each test.
"""

from __future__ import annotations

import copy
from datetime import datetime

import pytest
from full_text import text
from raw_jobs import SCENARIO_A, lump_job, read, scenario

import econ
from econ.scenario.run_log import parse_log

SURE = {"recovered": 1.0}
HALF = {"recovered": 0.5, "nothing": 0.5}


def test_a_certain_run_takes_its_time_and_ties_with_more() -> None:
    found = econ.answer(scenario(lump_job(SURE, HALF), n=16))
    # by hand: 24 h; nobody is left fishing after it, so a second run changes nothing
    assert found.best == 1
    assert [row.days for row in found.by_runs] == pytest.approx([0.0, 1.0, 2.0])
    assert found.not_told_apart == (2,)
    shown = text(found)
    assert "TIE: 1 and 2 runs cost the same." in shown
    assert shown.startswith("FISH ON: at most 1 more run, about 1.0 days.")  # no fallback needed
    assert len(found.ahead) == 1  # the second run cannot come after a failure


def test_runs_of_no_time_have_a_curve_by_days() -> None:
    found = econ.answer(scenario(lump_job(HALF, HALF, hours=0.0), n=16))
    # by hand: both begin at day 0, before any limit but 0; out with 1 - 0.25
    assert [row.probability_recovered for row in found.by_days] == pytest.approx([0.0, 0.75])
    assert found.limit.probability_recovered == pytest.approx(0.75)


def test_a_limit_that_next_to_nobody_reaches_has_the_days_of_its_runs() -> None:
    raw = lump_job(HALF, {"nothing": 0.5, "hole_lost": 0.5}, hours=7_824.0)
    raw["fishing"] = {**raw.get("fishing", {}), "loss_odds_ratio_per_day": 1.1}
    found = econ.answer(scenario(raw, n=16))
    # by hand: 326 d each, in which the odds of the loss grow by 1.1^326, about 3e13
    assert [row.days for row in found.by_runs] == pytest.approx([0.0, 326.0, 652.0])
    assert text(found)


@pytest.mark.parametrize("n", [16, None])
def test_a_list_of_which_no_run_can_be_made_is_a_stop(n: int | None) -> None:
    raw = lump_job(HALF, HALF, bars=["no_touch"])
    raw["fish"]["marks"] = ["no_touch"]  # nothing may be milled or washed over
    raw["rates"]["rig"] = {"low": 20_000, "high": 28_000}
    raw["draws"] = {"seed": 3} if n is None else {"n": n}
    found = econ.answer(scenario(raw))
    assert found.best == 0
    # by hand: every limit is the fallback at once
    assert {row.expected_cost for row in found.by_runs} == {found.by_runs[0].expected_cost}
    assert not found.ahead
    assert "STOP FISHING" in text(found)


def test_a_metric_file_may_leave_lengths_to_the_defaults() -> None:
    raw = read(SCENARIO_A)
    fallback = raw["fallback"][0]
    for name in ("kickoff_below_shoe", "kickoff_above_fish", "kickoff_floor"):
        del fallback[name]
    metric = copy.deepcopy(raw)
    metric["units"] = "metric"
    for table, names in (
        (metric["well"], ("depth", "shoe_depth")),
        (metric["fish"], ("top", "bottom")),
        *((piece, ("length",)) for piece in metric["fish"]["piece"]),
        *((speed, ("cased", "open")) for speed in metric["trip_speed"].values()),
        *((run, ("part_length", "string_length")) for run in metric["run"]),
        (metric["fallback"][0], ("kickoff_length", "kickoff_rate", "gross_rop", "bit_life")),
    ):
        for name in names:
            table[name] *= 0.3048
    metric["well"]["hole_diameter"] *= 25.4
    # a shoe just above the fish, where 60 m below the shoe would be too deep but 60 ft is not
    for each, unit in ((raw, 1.0), (metric, 0.3048)):
        each["well"]["shoe_depth"] = 11_050 * unit
    one, other = (econ.answer(scenario(each, n=16)) for each in (raw, metric))
    assert [row.expected_cost for row in other.by_runs] == pytest.approx(
        [row.expected_cost for row in one.by_runs], rel=1e-9
    )


def test_percentiles_hold_beside_an_end_that_is_a_thousand_times_dearer() -> None:
    raw = lump_job({"recovered": 0.6, "nothing": 0.4}, {"recovered": 0.5, "nothing": 0.5})
    raw["run"][1]["charge"] = 1e9
    found = econ.answer(scenario(raw, n=256))
    # by hand: a run is 24,000; recovered 24,000, else 24,000 + 100,000 + 50,000 + the fish 40,000
    assert found.by_runs[1].p10 == pytest.approx(24_000)
    assert found.by_runs[1].p90 == pytest.approx(214_000)


@pytest.mark.parametrize("factor", [1e-6, 1.0, 1e4, 1e9])
def test_columns_stay_apart_in_any_currency(factor: float) -> None:
    raw = lump_job(HALF, HALF)
    raw["rates"]["rig"] *= factor
    raw["fallback"][0]["cost"] *= factor
    raw["fish"]["piece"][0]["value"] *= factor
    shown = text(econ.answer(scenario(raw, n=16))).split("\n")
    start = next(i for i, line in enumerate(shown) if line.startswith("  runs  days"))
    for line in shown[start + 1 : start + 4]:
        assert len(line.replace(">", " ").split()) == 8, line


def test_the_clock_ends_quietly_past_the_last_year() -> None:
    raw = lump_job(HALF, HALF)

    raw["job"]["decided_at"] = datetime(9999, 12, 31, 12)
    assert "By days" in text(econ.answer(scenario(raw, n=16)))


def test_only_a_scenario_can_be_answered() -> None:
    with pytest.raises(TypeError, match=r"not str; econ\.load\(path\)"):
        econ.answer("job.toml")  # type: ignore[arg-type]
    assert {"load", "answer"} <= set(dir(econ))


@pytest.mark.parametrize("key", ["part_length", "string_length"])
def test_a_length_of_a_run_may_be_a_range(key: str) -> None:
    raw = read(SCENARIO_A)
    raw["fish"]["piece"][0]["value"] = 40_000
    found = {}
    for name, amount in {"number": 90.0, "narrow": {"low": 89.999, "high": 90.001}}.items():
        raw["run"][0][key] = amount
        job = scenario(raw, n=16)
        answer = econ.answer(job)
        econ.sensitivity(job, n=16, learning=False)  # walks many times on bills that are kept
        found[name] = answer.by_runs[-1].expected_cost
        assert text(answer)
    # by hand: a range a thousandth of a foot to either side is the number, but for the outcomes
    # that are sampled where anything is drawn
    assert found["narrow"] == pytest.approx(found["number"], rel=5e-4)


def test_a_tolerance_at_which_kick_offs_have_no_end_is_endless_after_a_log_too() -> None:
    raw = read(SCENARIO_A)
    raw["job"]["decided_at"] = datetime(2026, 3, 14, 6)
    raw["limits"] = {"risk_tolerance": 30_000.0}
    raw["rates"] = {**raw["rates"], "rig": {"low": 20_000, "high": 28_000}}
    job = scenario(raw, n=16)
    row = "run,start,end,outcome\n1,2026-03-14T06:00,2026-03-14T12:00,unfinished\n"
    for log in ((), parse_log(row, job)):
        found = econ.answer(job, log)
        # by hand: a kick-off that fails costs more than 100,000, so that q exp(R/t) is over 1
        assert "Endless: at that tolerance nothing bounds the cost" in text(found)
