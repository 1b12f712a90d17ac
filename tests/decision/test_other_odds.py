"""The limit at other odds of all runs.

Origins of the expected numbers: independent, by hand on one run of single numbers.
"""

from __future__ import annotations

import pytest

from econ.decision import answer
from econ.decision.other_odds import FACTORS, other_odds
from econ.scenario import Scenario


def test_one_run_by_hand() -> None:
    # The run costs 31,000; F = 400,000, S = 14,000; p = 0.6, odds 1.5. At a factor f the odds are
    # 1.5 f and p = 1.5 f/(1 + 1.5 f). It pays from 31,000/(F - S) on.
    raw = {
        "schema": 1,
        "units": "field",
        "currency": "USD",
        "job": {"well": "By hand 2"},
        "well": {"depth": 9_000, "hole_diameter": 8.5, "shoe_depth": 4_000},
        "rates": {"rig": 20_000},
        "fishing": {"day_rates": {"hands": 4_000}, "mobilization": 6_000},
        "fish": {"top": 8_000, "bottom": 8_500},
        "run": [
            {
                "name": "one",
                "hours": 24,
                "charge": 1_000,
                "odds": {"recovered": 0.6, "nothing": 0.4},
            }
        ],
        "recovery": {"hours": 12, "charge": 2_000, "fishing_share": 1},
        "fallback": [{"name": "Respud", "hours": 96, "cost": 320_000}],
        "draws": {"n": 16, "scrambles": 16, "seed": 3},
    }
    found = other_odds(answer(Scenario.model_validate(raw, by_alias=True)))
    assert [each.factor for each in found[:-1]] == list(FACTORS)
    for each in found[:-1]:
        p = 1.5 * each.factor / (1 + 1.5 * each.factor)
        assert each.runs == 1
        assert each.mean == pytest.approx(31_000 + p * 14_000 + (1 - p) * 400_000)
        assert each.slice_2 == pytest.approx(1 - p)
    even = found[-1]
    p = 31_000 / (400_000 - 14_000)
    assert even.break_even
    assert even.factor == pytest.approx(p / (1 - p) / 1.5, rel=1e-3)
    assert even.mean == pytest.approx(400_000, rel=1e-4)


def test_no_run_is_left() -> None:
    raw = {
        "schema": 1,
        "units": "field",
        "currency": "USD",
        "job": {"well": "By hand 3"},
        "well": {"depth": 9_000, "hole_diameter": 8.5, "shoe_depth": 4_000},
        "rates": {"rig": 20_000},
        "fish": {"top": 8_000, "bottom": 8_500},
        "fallback": [{"name": "Respud", "hours": 96, "cost": 320_000}],
        "draws": {"n": 16, "scrambles": 16, "seed": 3},
    }
    assert other_odds(answer(Scenario.model_validate(raw, by_alias=True))) == ()
