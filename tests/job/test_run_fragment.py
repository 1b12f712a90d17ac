"""The run to start from: it loads wherever it is pasted, and its odds are what they say.

Origins: "by hand" (independent) gives the arithmetic; "by definition" follows from the head
of the module; the ranges themselves are judgement, no source. All jobs are invented.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import econ
from econ.job.methods.catalogue import catalogue
from econ.job.methods.ranges import Span
from econ.job.methods.run_fragment import fragment, odds_by_kind
from econ.job.methods.survey import suitable
from econ.scenario import Scenario, ScenarioError, parse
from econ.scenario.amounts import ends_and_middle
from econ.scenario.notes import notes
from econ.scenario.notes.defaults import PLANNING
from econ.scenario.program import OUTCOMES, Run

ROOT = Path(__file__).parents[2]
DEMOS = [
    *sorted((ROOT / "scenarios").glob("*.toml")),
    *sorted((ROOT / "scenarios" / "point").glob("*.toml")),
    ROOT / "econ" / "scenario" / "starter.toml",
]


def with_fragment(file: Path, kind: str) -> tuple[Scenario, Run]:
    """A demonstration before the run is pasted at its end, and the run as it loads there."""
    text = file.read_text(encoding="utf-8")
    before = parse(text)
    piece = fragment(before, kind)
    assert piece.isascii()
    assert max(map(len, piece.splitlines())) <= 100
    after = parse(f"{text}\n{piece}")
    assert after.run[:-1] == before.run
    return before, after.run[-1]


@pytest.mark.parametrize("kind", catalogue().kinds)
@pytest.mark.parametrize("file", DEMOS, ids=lambda path: path.parent.name + "/" + path.stem)
def test_it_loads_in_every_demonstration(file: Path, kind: str) -> None:
    before, run = with_fragment(file, kind)
    facts = catalogue().kinds[kind]
    judged = next(each for each in suitable(before) if each.kind == kind)
    assert run.kind == kind
    assert run.origin == PLANNING
    assert run.options == [each.option for each in judged.options]
    assert run.dresses_top == facts.dresses_top
    assert run.charge == run.string_value == run.part_length == 0  # left to the reader
    # by definition: both kinds of fish together give the middle of the planning range
    prior = ends_and_middle(before.fishing.workable)[1]
    one, two = run.odds_by_kind()
    mixture = prior * one.recovered + (1 - prior) * two.recovered
    assert mixture == pytest.approx(judged.whole.middle, abs=1e-3)
    assert one.recovered >= two.recovered
    for odds in (one, two):
        chances = [getattr(odds, name) for name in OUTCOMES]
        assert sum(chances) == pytest.approx(1)
        for name in ("part", "top_damaged", "string_lost", "hole_lost"):
            span = getattr(judged, name)
            assert span.low - 5e-4 <= getattr(odds, name) <= span.high + 5e-4


@pytest.mark.parametrize("kind", catalogue().kinds)
def test_its_hours_are_those_of_the_catalogue(kind: str) -> None:
    _, run = with_fragment(DEMOS[0], kind)
    facts = catalogue().kinds[kind]
    wanted = facts.without_tripping()
    parts = ("make_up", "circulate", "work", "lay_down")
    amounts = [getattr(trip, part) for trip in run.trips or [] for part in parts]
    if facts.hours is not None:
        assert run.trips is None
        assert run.hours is not None
        amounts = [run.hours]
    three = zip(*(ends_and_middle(amount) for amount in amounts), strict=True)
    assert [sum(each) for each in three] == pytest.approx([wanted.low, wanted.likely, wanted.high])


def test_it_says_that_it_is_a_default() -> None:
    text = DEMOS[0].read_text(encoding="utf-8")
    piece = fragment(parse(text), "overshot")
    assert "judgement, no source" in piece.splitlines()[0]
    assert "after a run that dresses it" in piece  # the top of this fish is ragged
    said = notes(parse(f"{text}\n{piece}"))
    assert any("rests on planning defaults" in each and "run.6" in each for each in said)
    assert not any("rests on planning defaults" in each for each in notes(parse(text)))
    # and where it does not suit, it says so
    assert "Does not suit here: the fish is 670 ft" in fragment(parse(text), "magnet")


def test_an_answer_can_be_had_with_it() -> None:
    text = DEMOS[0].read_text(encoding="utf-8")
    piece = fragment(parse(text), "spear")
    answer = econ.answer(parse(f"{text}\n{piece}", ["draws.n=16"]))
    assert len(answer.by_runs) == 7  # none to six runs


def test_a_file_without_kinds_gets_one_table() -> None:
    text = (ROOT / "econ" / "scenario" / "starter.toml").read_text(encoding="utf-8")
    scenario = parse(text)
    plain = scenario.model_copy(update={"run": [scenario.run[1]]})
    assert not plain.has_kinds
    piece = fragment(plain, "overshot")
    assert "[run.odds]" in piece
    assert "workable" not in piece
    # none listed yet: by kind, so that a failed run teaches something
    assert "[run.odds.stubborn]" in fragment(plain.model_copy(update={"run": []}), "overshot")


def test_a_file_without_trip_speeds_is_told_to_give_them() -> None:
    # nothing is put in place of the speeds that the file leaves out
    text = """
schema = 1
units = "field"
currency = "USD"
job.well = "invented"
well = { depth = 9000, hole_diameter = 8.5, shoe_depth = 3000 }
rates.rig = 20000
fish = { top = 8400, bottom = 9000 }
fallback = [{ name = "complete above", hours = 200, cost = 300000 }]
"""
    with pytest.raises(ScenarioError, match=r"no \[trip_speed\]"):
        parse(text + fragment(parse(text), "overshot"))
    assert parse(text + fragment(parse(text), "soak"))


@pytest.mark.parametrize("kind", ["other", "overshoot", "", "\x1b[31m"])
def test_kinds_that_are_not_in_the_catalogue(kind: str) -> None:
    with pytest.raises(ScenarioError) as caught:
        fragment(parse(DEMOS[0].read_text(encoding="utf-8")), kind)
    message = str(caught.value)
    assert "one of: screw_in, overshot" in message
    assert "\x1b" not in message
    assert ("did you mean overshot?" in message) == (kind == "overshoot")


def test_odds_by_kind_by_hand() -> None:
    # by hand: middle 0.4; 0.4 / (0.7 + 0.3/10) = 0.5479, a tenth of it 0.0548
    assert odds_by_kind(Span(0.3, 0.5), workable=0.7, room=0.9) == pytest.approx(
        (0.5479, 0.0548), abs=1e-4
    )
    # by hand: 0.65 / (0.5 + 0.05) = 1.18 is above the room of 0.9; (0.65 - 0.45)/0.5 = 0.4
    assert odds_by_kind(Span(0.5, 0.8), workable=0.5, room=0.9) == pytest.approx((0.9, 0.4))
    # by definition at the ends of the prior
    assert odds_by_kind(Span(0.3, 0.5), workable=1.0, room=0.9) == pytest.approx((0.4, 0.04))
    assert odds_by_kind(Span(0.3, 0.5), workable=0.0, room=0.9)[1] == pytest.approx(0.4)
    assert odds_by_kind(Span(0.0, 0.0), workable=0.5, room=0.9) == (0.0, 0.0)


@given(st.floats(0, 1), st.floats(0, 1), st.floats(0, 1), st.floats(0.01, 1))
def test_odds_by_kind_always_mix_to_the_middle(
    low: float, high: float, workable: float, room: float
) -> None:
    span = Span(min(low, high), max(low, high))
    one, two = odds_by_kind(span, workable=workable, room=room)
    assert 0 <= two <= one + 1e-9
    assert one <= room + 1e-9
    mixture = workable * one + (1 - workable) * two
    assert mixture == pytest.approx(min(span.middle, room), abs=1e-9)
