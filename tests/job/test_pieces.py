"""Outside diameters and bores of the pieces: catch, wash pipe, cutter and source go by them.

Origin of the expected values: independent, worked by hand beside them from the clearances of the
catalogue (wash pipe needs 1.375 in between fish and hole, 1/8 in over the fish, 1/2 in under the
hole; from memory, unverified); which tool goes by which size is common practice, no source.
"""

from __future__ import annotations

import copy
from typing import Any

import pytest

from econ.decision.methods import methods
from econ.job.methods.survey import Suitability
from econ.reports.methods_text import methods_text
from econ.scenario import Scenario, ScenarioError, load, parse

PIECES = [  # 8.5 in hole: 7.125 in is the widest that wash pipe passes
    {"name": "drill pipe", "length": 300, "value": 0, "outside_diameter": 5.0, "bore": 2.6},
    {"name": "stabiliser", "length": 10, "value": 0, "outside_diameter": 8.25, "bore": 2.5},
    {"name": "collars", "length": 190, "value": 0, "outside_diameter": 6.5, "bore": 2.25},
]
FISH: dict[str, Any] = {
    "top": 9_500,
    "bottom": 10_000,
    "top_condition": "clean",
    "mechanism": "packed_off",
    "bore_open": True,
    "piece": PIECES,
}


def job(*, metric: bool = False, **fish: Any) -> Scenario:
    raw: dict[str, Any] = {
        "schema": 1,
        "units": "metric" if metric else "field",
        "currency": "EUR",
        "job": {"well": "Invented"},
        "well": {"depth": 10_000, "hole_diameter": 8.5, "shoe_depth": 4_000},
        "trip_speed": {"in": {"cased": 2000, "open": 1300}, "out": {"cased": 1800, "open": 1200}},
        "fish": copy.deepcopy({**FISH, **fish}),
        "rates": {"rig": 24_000},
        "parting": {"hours": 10},
        "limits": {"minimum_runs": 0},
        "fallback": [{"name": "lump", "hours": 100, "cost": 200_000}],
    }
    if metric:
        raw = {name: _metric(value) for name, value in raw.items()}
    return parse("\n".join(f"{name} = {_toml(value)}" for name, value in raw.items()))


def _toml(value: Any) -> str:
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{key} = {_toml(each)}" for key, each in value.items()) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(map(_toml, value)) + "]"
    if isinstance(value, bool):
        return str(value).lower()
    return f'"{value}"' if isinstance(value, str) else str(value)


def _metric(node: Any, name: str = "") -> Any:
    if isinstance(node, dict):
        return {key: _metric(value, key) for key, value in node.items()}
    if isinstance(node, list):
        return [_metric(value, name) for value in node]
    if name in ("depth", "shoe_depth", "top", "bottom", "length", "cased", "open"):
        return node * 0.3048
    return node * 25.4 if name.endswith("diameter") or name == "bore" else node


def judged(scenario: Scenario, kind: str) -> Suitability:
    return next(each for each in methods(scenario).kinds if each.kind == kind)


def parts(each: Suitability) -> str:
    return "; ".join(f"{one.part} ({one.reason})" for one in each.string)


def test_the_catch_goes_by_the_first_piece() -> None:
    scenario = job()
    assert "grapple or slips for 5 in (outside at the top; 8.25 in outside" in parts(
        judged(scenario, "overshot")
    )
    assert "grapple for a bore of 2.6 in" in parts(judged(scenario, "spear"))
    told = job(outside_diameter=4.5, inside_diameter=2.75)  # a top below its tool joint
    assert "grapple or slips for 4.5 in" in parts(judged(told, "overshot"))
    assert "grapple for a bore of 2.75 in" in parts(judged(told, "spear"))


def test_washing_ends_above_the_piece_that_no_wash_pipe_passes() -> None:
    each = judged(job(), "washover")
    assert any("end 300 ft below the top, above the 8.25 in part" in why for why in each.reasons)
    # 5 in is all that it goes over: 5.125 in of bore
    assert "wash pipe with a bore of 5.125 in or more (it goes over 5 in; 8 in outside" in parts(
        each
    )
    assert each.rate.startswith("300 ft at")
    # without the stabiliser it goes over all 500 ft, the collars too: 6.625 in of bore
    plain = [PIECES[0], {**PIECES[1], "outside_diameter": 6.0}, PIECES[2]]
    whole = judged(job(piece=plain), "washover")
    assert "wash pipe with a bore of 6.625 in or more (it goes over 6.5 in" in parts(whole)
    assert whole.rate.startswith("500 ft at")
    assert whole.hours is not None
    assert each.hours is not None
    assert whole.hours.likely > each.hours.likely


def test_what_runs_inside_passes_the_smallest_bore() -> None:
    stuck = {"marks": ["attached"], "sealed_source": True}
    scenario = job(**stuck)
    assert "smaller than 2.25 in (smallest bore" in parts(judged(scenario, "source_retrieval"))
    assert "smaller than 2.25 in" in parts(judged(scenario, "sever"))
    tight = [*PIECES[:2], {**PIECES[2], "bore": 0.9}]
    found = judged(job(**stuck, piece=tight), "source_retrieval")
    assert found.verdict == "no"
    assert "bore of 0.9 in" in found.reasons[0]
    slim = judged(job(**stuck, piece=[*PIECES[:2], {**PIECES[2], "bore": 1.5}]), "source_retrieval")
    assert slim.verdict == "doubtful"
    assert "slim tools only" in str(slim.reasons)


def test_metric_and_field_pieces_read_alike() -> None:
    field, metric = job(), job(metric=True)
    for one, other in zip(methods(field).kinds, methods(metric).kinds, strict=True):
        assert (one.kind, one.verdict) == (other.kind, other.verdict)
        assert one.whole.low == pytest.approx(other.whole.low)
    said = " ".join(methods_text(methods(metric)).split())
    assert "end 91 m below the top, above the 209.55 mm part" in said
    assert "grapple or slips for 127 mm" in said
    assert " in)" not in said


def test_pieces_without_sizes_change_nothing() -> None:
    bare = [{k: v for k, v in one.items() if k in ("name", "length", "value")} for one in PIECES]
    sizes = {"outside_diameter": 5.0, "largest_diameter": 6.5, "inside_diameter": 2.25}
    without, plain = job(piece=bare, **sizes), job(piece=[], **sizes)
    assert methods_text(methods(without)) == methods_text(methods(plain))


@pytest.mark.parametrize(
    ("piece", "fish", "given", "allowed"),
    [
        ({"bore": 5.0}, {}, "bore = 5 in", "less than the outside diameter of the piece, 5 in"),
        ({}, {"largest_diameter": 8.0}, "= 8.25 in", "at most largest_diameter of the fish, 8 in"),
        ({"outside_diameter": 9.0}, {}, "= 9 in", "at most the diameter of the hole, 8.5 in"),
        ({}, {"outside_diameter": 5.5}, "outside_diameter = 5 in", "at least the outside"),
        ({}, {"inside_diameter": 2.0}, "bore = 2.6 in", "at most the inside"),
        ({"bore": -1.0}, {}, "-1", "1e-09 or more"),
    ],
)
def test_sizes_that_contradict_are_refused(
    piece: dict[str, float], fish: dict[str, float], given: str, allowed: str
) -> None:
    with pytest.raises(ScenarioError) as refused:
        job(piece=[{**PIECES[0], **piece}, *PIECES[1:]], **fish)
    told = [fault for fault in refused.value.faults if given in fault.given]
    assert told
    assert allowed in told[0].allowed


def test_no_number_of_an_answer_hangs_on_them() -> None:
    import econ

    path = "scenarios/point/a_land_twist_off.toml"
    assert all(piece.outside_diameter is None for piece in load(path).fish.piece)
    with_sizes, bare = (
        job(),
        job(piece=[{k: one[k] for k in ("name", "length", "value")} for one in PIECES]),
    )
    costs = [econ.answer(each).limit.expected_cost for each in (with_sizes, bare)]
    assert costs[0] == costs[1]
