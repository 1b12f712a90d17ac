"""The lost-in-hole schedule by piece.

Origins: by hand, a job of round numbers; independent, the ledger of the answer, which has what is
owed in sums of its own.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from supplement_jobs import answered
from test_call_schedule import plain_job

import econ
from econ.decision.lost_pieces import lost_pieces
from econ.reports.supplement import supplement
from econ.reports.supplement.workbook import book

pytestmark = pytest.mark.usefixtures("few_bins", "few_states")
SCENARIOS = Path(__file__).parents[2] / "scenarios"
DEMOS = [
    "point/a_land_twist_off.toml",
    "a_land_twist_off.toml",
    "c_bit_cones.toml",
    "d_rented_tools.toml",
    "e_stuck_attached.toml",
]


def test_a_schedule_by_hand() -> None:
    # by hand: two runs that each have the fish out with 1/2, so that it stays in a quarter; of what
    # stays half is owed. 100,000 new, 0.7 written off, at least a half: 50,000
    raw = plain_job()
    raw["fallback"][0]["lost_in_hole_share"] = 0.5
    new = {"replacement": 100_000, "depreciation": 0.7, "floor": 0.5}
    owner = {"owner": "Tool house", "clause": "C.3", "credit": 0.4}
    raw["fish"]["piece"] = [
        {"name": "Collars", "length": 300, "value": 40_000},
        {"name": "Tools", "length": 200, **new, **owner},
    ]
    one, two = lost_pieces(answered(raw))
    assert (one.owed, one.share, one.invoice) == pytest.approx((40_000, 0.25, 5_000))
    assert (two.owed, two.share, two.invoice) == pytest.approx((50_000, 0.25, 6_250))
    assert (one.owner, two.owner, two.clause) == ("", "Tool house", "C.3")
    assert (one.back, two.back) == pytest.approx((0, 2_500))
    assert (one.replacement, two.replacement, two.depreciation, two.floor) == (
        None,
        100_000,
        0.7,
        0.5,
    )


def test_a_part_that_comes_out_is_not_left() -> None:
    # by hand: one run that always brings 100 of 500 ft, then the fallback: of the upper piece of
    # 300 ft two thirds stay
    raw = plain_job()
    raw["run"] = [{"name": "one", "hours": 24, "part_length": 100, "odds": {"part": 1.0}}]
    raw["limits"] = {"minimum_runs": 1}
    raw["fish"]["piece"] = [
        {"name": "Upper", "length": 300, "value": 30_000},
        {"name": "Lower", "length": 200, "value": 10_000},
    ]
    upper, lower = lost_pieces(answered(raw))
    assert (upper.share, lower.share) == pytest.approx((2 / 3, 1.0))
    assert (upper.invoice, lower.invoice) == pytest.approx((20_000, 10_000))


@pytest.mark.parametrize("name", DEMOS)
def test_the_schedule_sums_to_the_ledger(name: str) -> None:
    found = econ.answer(econ.load(SCENARIOS / name, ["draws.n=32"]))
    expected = found.quantities[found.best].expected
    whole = sum(piece.invoice for piece in lost_pieces(found))
    assert whole == pytest.approx(expected["lost_in_hole"] + expected["string_lost"], rel=1e-9)


def test_a_range_in_the_kept_share_leaves_the_share_blank() -> None:
    raw = plain_job()
    new = {"replacement": 100_000, "depreciation": {"low": 0.2, "high": 0.8}, "floor": 0.5}
    raw["fish"]["piece"] = [{"name": "Tools", "length": 500, **new}]
    found = answered(raw)
    (row,) = lost_pieces(found)
    assert row.share is None
    assert row.invoice == pytest.approx(found.quantities[found.best].expected["lost_in_hole"])


def test_the_sheet_has_a_row_for_each_piece() -> None:
    raw = plain_job()
    raw["fish"]["piece"] = [{"name": "Collars", "length": 500, "value": 40_000, "owner": "Rig"}]
    sheets = {sheet.name: sheet for sheet in book(supplement(answered(raw))).sheets}
    words = [each.content for each in sheets["Lost_in_hole"].placed]
    assert {"Collars", "Rig", "not stated", 10_000} <= set(words)
    assert not sheets["Lost_in_hole"].working  # it is printed
    raw["fish"]["piece"] = []
    names = [sheet.name for sheet in book(supplement(answered(raw))).sheets]
    assert "Lost_in_hole" not in names
