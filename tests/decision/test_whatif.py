"""What-if: before and after on the same random numbers.

Origin of expected numbers: independent (the answer to each side by itself, or a closed form
worked here) unless a line says otherwise.
"""

from __future__ import annotations

import copy
import json
import math

import numpy as np
import pytest
from raw_jobs import SCENARIO_A, Table, lump_job, read, scenario

import econ
from econ.decision.whatif import ChangedKey, WhatIf, whatif
from econ.reports.whatif_tables import whatif_document
from econ.reports.whatif_text import whatif_text

pytestmark = pytest.mark.usefixtures("few_states")
FEW = {"n": 64, "seed": 5}


def ranged_a(**rates: object) -> Table:
    """Scenario A with a few ranges, and other rates beside the rig."""
    raw = read(SCENARIO_A)
    raw["rates"] = {"rig": 27_000, "others": {"low": 22_000, "high": 30_000}, **rates}
    raw["fishing"]["workable"] = {"low": 0.5, "high": 0.9}
    raw["run"][0]["charge"] = {"median": 4_200, "factor": 1.4}
    return raw


def short(**rates: object) -> Table:
    """An invented job of two runs with ranges; quick to walk."""
    odds = {"recovered": 0.35, "part": 0.1, "nothing": 0.5, "top_damaged": 0.05}
    raw = lump_job(odds, odds, part_length=50)
    raw["rates"] = {"rig": 20_000, "others": {"low": 2_000, "high": 9_000}, **rates}
    raw["run"][0]["charge"] = {"median": 4_200, "factor": 1.4}
    return raw


def compared(before: Table, after: Table, **draws: int) -> WhatIf:
    settings = {**FEW, **draws}
    return whatif(scenario(before, **settings), scenario(after, **settings))


def test_no_change_changes_nothing_exactly() -> None:
    found = compared(short(), short())
    assert found.changed == ()
    for figure in (*found.figures, *found.by_runs):
        assert (figure.change, figure.error, figure.resolved) == (0.0, 0.0, False)
        assert figure.before == figure.after
    assert found.before.best == found.after.best


def test_a_change_without_effect_on_a_figure_leaves_it_exactly() -> None:
    before, after = short(), short()
    for raw, charge in ((before, 500_000), (after, 900_000)):
        raw["run"][1]["charge"] = charge  # of a run past the best limit
    found = compared(before, after)
    assert [each.key for each in found.changed] == ["run.2.charge"]
    assert found.before.best == found.after.best == 1
    for figure in (*found.figures, *found.by_runs[:2]):
        assert not figure.resolved
        # a percentile is read from other bins, of another highest cost
        assert figure.change == 0.0 or figure.name.endswith(("p10", "p50", "p90"))
    assert found.by_runs[2].change == pytest.approx(0.65 * 400_000)


@pytest.mark.parametrize(
    "after",
    [
        short(rig=60_000),
        short(others=40_000),  # a range less
        short(camp={"low": 1_000, "high": 9_000}),  # a range more
    ],
)
def test_reversing_a_change_gives_the_negative(after: Table) -> None:
    there, back = compared(short(), after), compared(after, short())
    pairs = zip((*there.figures, *there.by_runs), (*back.figures, *back.by_runs), strict=True)
    for one, other in pairs:
        assert one.name == other.name
        assert (one.before, one.after) == (other.after, other.before)
        assert one.change is not None
        assert one.change == -(other.change or 0.0)
        assert one.error == other.error
    assert [c.key for c in there.changed] == [c.key for c in back.changed]


def test_each_side_is_the_answer_to_it() -> None:
    before, after = ranged_a(), ranged_a(rig=60_000)
    found = compared(before, after)
    for half, raw, side in ((found.before, before, "before"), (found.after, after, "after")):
        told = econ.answer(scenario(raw, **FEW))
        assert half.best == told.best
        assert half.fish == told.fish
        assert half.days == pytest.approx(told.limit.days)
        assert half.verdict.flat == told.flat
        limit, ahead = told.limit, told.ahead[0]
        expected = {
            "expected_cost": limit.expected_cost,
            "fallback_now": told.by_runs[0].expected_cost,
            "saving": told.saving.value,
            "probability_recovered": limit.probability_recovered,
            "days": limit.days,
            "dearer": limit.dearer,
            "p10": limit.p10,
            "p50": limit.p50,
            "p90": limit.p90,
            "belief": ahead.workable,
            "next_odds": ahead.odds,
            "next_break_even": ahead.break_even_odds,
            "next_days": ahead.days,
            "next_cost": ahead.cost,
            "stage_1_planned": told.stage_1.planned,
            "stage_1_mean": told.stage_1.mean,
            "stage_1_p90": told.stage_1.p90,
            "stage_2_probability": told.stage_2.probability,
            "stage_2_mean": told.stage_2.mean,
            "stage_2_p90": told.stage_2.p90,
        }
        assert {figure.name for figure in found.figures} == set(expected)
        for name, value in expected.items():
            assert getattr(found.figure(name), side) == pytest.approx(value, rel=1e-9), name


def test_a_change_in_closed_form() -> None:
    # C_0 = 100 s + 90 and C_1 = 24 s + 0.8 C_0 = 104 s + 72 at a spread of s thousand an hour
    before = lump_job({"recovered": 0.2, "nothing": 0.8})
    after = copy.deepcopy(before)
    after["rates"]["rig"] = 120_000  # from 1 to 5 thousand an hour
    found = compared(before, after)
    assert (found.before.best, found.after.best) == (1, 0)
    assert (found.before.fish, found.after.fish) == (True, False)
    figure = found.figure("expected_cost")
    assert (figure.before, figure.after) == pytest.approx((176_000, 590_000))
    assert figure.change == pytest.approx(414_000)
    assert figure.error == pytest.approx(0.0, abs=1e-6)
    assert figure.resolved
    assert found.by_runs[1].change == pytest.approx(4 * 104_000)
    assert found.figure("next_odds").change == 0.0
    text = whatif_text(found)
    assert "THE VERDICT FLIPS." in text
    assert found.after.close_call  # 592,000 against 590,000
    assert "after:  CLOSE CALL, leaning STOP FISHING" in text


def test_a_range_in_place_of_a_number() -> None:
    before = short()
    same = compared(before, short(rig={"low": 20_000, "high": 20_000}))
    # a range of no width is the number: the draws it adds move nothing else
    for figure in (*same.figures, *same.by_runs):
        assert figure.change == pytest.approx(0.0, abs=1e-9 * abs(figure.before or 1.0))
    wide = compared(before, short(rig={"low": 10_000, "high": 30_000}))
    cost, p10 = wide.figure("expected_cost"), wide.figure("p10")
    assert cost.change is not None
    assert cost.error is not None
    # linear in the rate, whose mean is the same
    assert abs(cost.change) < 4 * cost.error + 1.0
    assert p10.change is not None
    assert p10.change < -1_000
    (changed,) = wide.changed
    assert (changed.key, changed.before) == ("rates.rig", 20_000.0)


def test_the_error_of_a_change_is_that_of_paired_draws() -> None:
    found = compared(short(), short(rig=21_000))
    figure = found.figure("expected_cost")
    alone = [
        econ.answer(scenario(raw, **FEW)).limit.standard_error
        for raw in (short(), short(rig=21_000))
    ]
    assert figure.error is not None
    assert figure.error < 0.05 * math.hypot(*alone)
    # and it is right: other seeds scatter by it
    changes = [
        compared(short(), short(rig=21_000), seed=seed).figure("expected_cost").change
        for seed in range(10, 16)
    ]
    spread = float(np.std(np.array(changes, dtype=float), ddof=1))
    assert 0.3 < spread / figure.error < 3.0  # 6 seeds against 16 scrambles
    assert abs(np.mean(np.array(changes, dtype=float)) - (figure.change or 0)) < 5 * figure.error


def test_draws_of_the_side_after_are_not_used() -> None:
    one = scenario(short(), n=32, seed=5)
    other = scenario(short(), n=16, seed=9)
    found = whatif(one, other)
    assert found.changed == ()
    assert all(figure.change == 0.0 for figure in found.figures)
    assert found.after.scenario.draws == one.draws
    assert other.draws.n == 16  # and it is left as it was


def test_a_program_of_another_length() -> None:
    before, after = short(), short()
    before["run"][1]["charge"] = 500_000  # not in the best limit
    del after["run"][1:]
    found = compared(before, after)
    assert len(found.by_runs) == 2
    assert found.figure("expected_cost").change == 0.0
    assert {each.key.split(".")[0] for each in found.changed} == {"run"}
    none = short()
    none["run"] = []
    found = compared(before, none)
    assert len(found.by_runs) == 1
    assert "next_odds" not in {figure.name for figure in found.figures}
    assert found.after.next_run is None
    assert "NO RUN IS LEFT" in whatif_text(found)


def test_a_figure_that_one_side_does_not_have() -> None:
    # a run that is certain to recover: no fallback follows, so it has no mean
    before = lump_job({"recovered": 0.5, "nothing": 0.5})
    found = compared(before, lump_job({"recovered": 1.0}))
    second = found.figure("stage_2_mean")
    assert second.before is not None
    assert (second.after, second.change, second.error) == (None, None, None)
    assert found.figure("stage_2_probability").after == pytest.approx(0.0, abs=1e-12)


def test_the_chance_to_stay_within_the_authority() -> None:
    raw = short()
    raw["limits"] = {"authority": 120_000}
    after = copy.deepcopy(raw)
    after["limits"]["authority"] = 240_000
    found = compared(raw, after).figure("within_authority")
    told = econ.answer(scenario(raw, **FEW)).authority.suffices
    assert found.before == pytest.approx(told)
    assert found.change is not None
    assert 0.0 < found.change < 1.0
    assert "within_authority" not in {f.name for f in compared(short(), raw).figures}


def test_minimum_runs_of_one_side() -> None:
    stop = lump_job({"nothing": 1.0})
    forced = copy.deepcopy(stop)
    forced["limits"] = {"minimum_runs": 1}
    found = compared(stop, forced)
    assert (found.before.best, found.after.best) == (0, 1)
    assert found.figure("expected_cost").change == pytest.approx(24_000)  # 24 h at 1,000
    assert "FISH ON, AS REQUIRED: at most 1 more run" in whatif_text(found)


def test_what_was_changed_is_listed_by_key() -> None:
    before, after = ranged_a(), ranged_a(camp=1_500)
    after["run"][1]["trips"][0]["work"] = 6
    after["fishing"]["workable"] = 0.4
    del after["fallback"][0]["kickoff_rate"]
    found = compared(before, after, n=16)
    changes = {each.key: each for each in found.changed}
    assert set(changes) == {
        *("rates.camp", "run.2.trips.1.work", "fishing.workable"),
    }  # 2.0 is also the planning value of kickoff_rate
    assert changes["rates.camp"] == ChangedKey("rates.camp", None, 1_500.0)
    assert changes["run.2.trips.1.work"] == ChangedKey("run.2.trips.1.work", 3.5, 6.0)


def test_the_same_bytes_again_and_no_scenario_changed() -> None:
    one, other = scenario(short(), **FEW), scenario(short(rig=60_000), **FEW)
    before = one.model_dump_json(), other.model_dump_json()
    texts = {json.dumps(whatif_document(whatif(one, other)), allow_nan=False) for _ in range(2)}
    assert len(texts) == 1
    assert (one.model_dump_json(), other.model_dump_json()) == before


def test_a_metric_file_beside_the_same_job_in_feet() -> None:
    # the same job in other units: lengths x 0.3048, nothing to compare but rounding
    feet = lump_job({"recovered": 0.3, "part": 0.3, "nothing": 0.4}, part_length=50)
    metres = copy.deepcopy(feet)
    metres["units"] = "metric"
    for key in ("depth", "shoe_depth"):
        metres["well"][key] *= 0.3048
    for key in ("top", "bottom"):
        metres["fish"][key] *= 0.3048
    metres["well"]["hole_diameter"] = 8.5 * 25.4
    metres["fish"]["piece"][0]["length"] *= 0.3048
    metres["run"][0]["part_length"] *= 0.3048
    found = compared(feet, metres)
    for figure in (*found.figures, *found.by_runs):
        assert figure.change == pytest.approx(0.0, abs=1e-6)
        assert not figure.resolved


def test_frame() -> None:
    found = compared(short(), short(rig=60_000))
    frame = found.to_frame()
    assert list(frame.index) == [figure.name for figure in found.figures]
    assert frame.loc["expected_cost", "change"] == found.figure("expected_cost").change
