"""The three slices of what is spent: fishing, the work after a recovery, the fallback.

Origins of the expected numbers:
    independent   by hand, on a job of single numbers in which nothing is sampled
    identity      chance x mean sums to the expected call, in any job
"""

from __future__ import annotations

from pathlib import Path

import pytest
from raw_jobs import Table

from econ.decision import answer
from econ.scenario import Scenario, load

SCENARIOS = Path(__file__).parents[2] / "scenarios"


def job() -> Table:
    """Two runs of 24 h, 0.6 and 0.5 to recover, over a fallback of a known sum. Invented."""
    odds = {"recovered": 0.6, "nothing": 0.35, "string_lost": 0.05}
    later = {"recovered": 0.5, "nothing": 0.5}
    return {
        "schema": 1,
        "units": "field",
        "currency": "USD",
        "job": {"well": "By hand 1"},
        "well": {"depth": 9_000, "hole_diameter": 8.5, "shoe_depth": 4_000},
        "rates": {"rig": 20_000},
        "fishing": {"day_rates": {"hands": 4_000}, "mobilization": 6_000},
        "fish": {"top": 8_000, "bottom": 8_500},
        "run": [
            {"name": "one", "hours": 24, "charge": 1_000, "odds": odds, "string_value": 40_000},
            {"name": "two", "hours": 24, "charge": 3_000, "odds": later},
        ],
        "recovery": {"hours": 12, "charge": 2_000, "fishing_share": 1},
        "fallback": [
            {"name": "Respud", "hours": 96, "cost": 320_000, "value_given_up": 50_000},
        ],
        "limits": {"minimum_runs": 2},
        "draws": {"n": 16, "scrambles": 16, "seed": 3},
    }


def test_slices_by_hand() -> None:
    # independent: run 1 costs 24,000 + 6,000 + 1,000 = 31,000, run 2 27,000. It is begun by 0.35.
    # Out: 0.6 + 0.35 x 0.5 = 0.775, and the work after it is 12/24 x 24,000 + 2,000 = 14,000.
    # Respud: 80,000 + 320,000, and 40,000 more where the string is lost, by 0.05 of 0.225.
    first, after, fallback = answer(
        Scenario.model_validate(job(), by_alias=True)
    ).authority.call.slices
    assert (first.slice, after.slice, fallback.slice) == ("1a", "1b", "2")
    assert [each.chance for each in (first, after, fallback)] == pytest.approx([1, 0.775, 0.225])
    assert first.planned == pytest.approx(58_000)
    assert first.mean == pytest.approx(31_000 + 0.35 * 27_000)
    assert first.p90 == pytest.approx(58_000)  # by 0.35 it is that, else 31,000
    assert (after.planned, after.mean, after.p90) == pytest.approx((14_000,) * 3)
    assert fallback.planned == pytest.approx(400_000)
    assert fallback.mean == pytest.approx(400_000 + 40_000 * 0.05 / 0.225)
    assert fallback.p90 == pytest.approx(440_000)  # by 0.05 of 0.225 it is that


@pytest.mark.parametrize("file", sorted(SCENARIOS.glob("?_*.toml")), ids=lambda file: file.stem)
def test_chance_times_mean_sums_to_the_expected_call(file: Path) -> None:
    # identity, and against the breakdown, which is summed line by line
    found = answer(load(file, ("draws.n=16",)))
    call = found.authority.call.expected_call
    assert sum(each.expected for each in found.authority.call.slices) == pytest.approx(
        call, rel=1e-12
    )
    lines = {line.name: line.expected for line in found.breakdown.lines}
    spent = found.breakdown.total.value - lines["value_given_up"]
    assert call == pytest.approx(spent, rel=1e-12)
    first, after, fallback = found.authority.call.slices
    assert first.mean + after.expected == pytest.approx(found.stage_1.mean, rel=1e-12)
    assert first.planned == found.stage_1.planned
    # getting off the fish is a part of the runs if every run fails
    runs = sum(found.quantities[found.best].planned.values())
    assert (first.planned > runs * (1 + 1e-9)) == (found.scenario.parting is not None)
    assert found.authority.call.p90 < first.p90 + after.p90 + fallback.p90


def test_stopping_now_draws_the_fallback_alone() -> None:
    # independent: by hand
    raw = job() | {"limits": {}}
    raw["run"] = [run | {"charge": 900_000} for run in raw["run"]]
    first, after, fallback = answer(
        Scenario.model_validate(raw, by_alias=True)
    ).authority.call.slices
    assert (first.planned, first.mean, first.p90, after.chance, after.mean) == (0, 0, 0, 0, 0)
    assert fallback.chance == 1
    assert fallback.planned == fallback.mean == pytest.approx(400_000)
