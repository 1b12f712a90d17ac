"""The run to start from: it loads wherever it is pasted, and its odds are what they say.

Origins: "by hand" (independent) gives the arithmetic; "by definition" follows from the head
of the module; the ranges themselves are judgement, no source. All jobs are invented.
"""

from __future__ import annotations

import math
from functools import cache
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import econ
from econ.job.methods.catalogue import LEVELS, catalogue
from econ.job.methods.outcomes import by_kind
from econ.job.methods.ranges import Span
from econ.job.methods.run_fragment import fragment
from econ.job.methods.survey import Suitability, suitable
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


@cache
def demonstration(file: Path) -> tuple[str, Scenario]:
    """A demonstration as text and as it loads."""
    text = file.read_text(encoding="utf-8")
    return text, parse(text)


@cache
def reading(file: Path) -> dict[str, Suitability]:
    """What the methods say of a demonstration, by kind."""
    return {each.kind: each for each in suitable(demonstration(file)[1])}


@cache
def with_fragment(file: Path, kind: str) -> tuple[Scenario, Run]:
    """A demonstration before the run is pasted at its end, and the run as it loads there."""
    text, before = demonstration(file)
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
    judged = reading(file)[kind]
    assert run.kind == kind
    assert run.origin == PLANNING
    assert run.options == [each.option for each in judged.options]
    assert run.dresses_top == facts.dresses_top
    assert run.charge == run.string_value == run.part_length == 0  # left to the reader
    # by definition: both kinds of fish together give the middle of the planning range
    named = {doubt.name: ends_and_middle(doubt.workable)[1] for doubt in before.doubts}
    prior = math.prod(named[name] for name in run.depends_on or named)
    one, two = run.odds_by_kind()
    mixture = prior * one.recovered + (1 - prior) * two.recovered
    assert mixture == pytest.approx(judged.whole.middle, abs=1e-3)
    assert one.recovered >= two.recovered
    for odds in (one, two):
        chances = [getattr(odds, name) for name in OUTCOMES]
        assert sum(chances) == pytest.approx(1)
        for name in ("string_lost", "hole_lost"):
            span = getattr(judged, name)
            assert span.low - 5e-4 <= getattr(odds, name) <= max(span.high, 5e-4) + 5e-4
        dropped = Span(0, 0) if facts.dropped is None else facts.dropped
        most = judged.top_damaged.high + dropped.high
        assert judged.top_damaged.low - 5e-4 <= odds.top_damaged <= max(most, 5e-4) + 5e-4
        # a part that is given a goal that is met, or needs the room beside the whole fish
        assert odds.part <= judged.part.high + 5e-4


@pytest.mark.parametrize("kind", catalogue().kinds)
def test_its_hours_are_those_of_the_catalogue(kind: str) -> None:
    _, run = with_fragment(DEMOS[0], kind)
    facts = catalogue().kinds[kind]
    wanted = facts.without_tripping()
    # what takes longer with length has a test of its own beside the methods
    if facts.length_over_rate:
        return
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
    piece = fragment(parse(text, ["fish.top_condition='ragged'"]), "overshot")
    assert "judgement, no source" in piece.splitlines()[0]
    assert "after a run that dresses it" in piece  # the top of this fish is ragged
    said = notes(parse(f"{text}\n{piece}"))
    assert any("rests on planning defaults" in each and "run.6" in each for each in said)
    assert not any("rests on planning defaults" in each for each in notes(parse(text)))
    # and where it does not suit, it says so
    assert "Does not suit here: the fish is 670 ft" in fragment(parse(text), "magnet")


def test_an_impression_block_is_a_reading() -> None:
    # common practice: a block is set on the top when it is not known; it changes no odds
    text = DEMOS[0].read_text(encoding="utf-8")
    before = parse(text)
    after = parse(f"{text}\n{fragment(before, 'impression_block')}")
    assert len(after.reading) == len(before.reading) + 1
    block = after.reading[-1]
    assert (block.name, block.reliability) == ("Impression block on the fish top", 0.8)
    # by hand at the likely trip speeds: 4,200/2,000 + 6,980/1,300 + 6,980/1,200 + 4,200/1,800 =
    # 15.6 h and 5 h besides
    assert block.hours == pytest.approx(20.6, abs=0.06)
    assert after.run == before.run


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
    # by hand: at even priors and a chance of a half the odds are sqrt(10) and 1/sqrt(10):
    # p = 3.1623/4.1623 = 0.7597, s = 0.2403, and their mean is a half
    assert by_kind(0.5, workable=0.5, ratio=10.0) == pytest.approx((0.7597, 0.2403), abs=1e-4)
    # by definition at the ends of the prior, and where nothing or all is sure
    assert by_kind(0.4, workable=1.0, ratio=10.0)[0] == pytest.approx(0.4)
    assert by_kind(0.4, workable=0.0, ratio=10.0)[1] == pytest.approx(0.4)
    assert by_kind(0.0, workable=0.5, ratio=10.0) == (0.0, 0.0)


@given(st.floats(1e-6, 1 - 1e-6), st.floats(0, 1), st.floats(1.001, 100))
def test_odds_by_kind_always_mix_and_are_the_ratio_apart(
    chance: float, workable: float, ratio: float
) -> None:
    # independent: the two equations that define them
    one, two = by_kind(chance, workable=workable, ratio=ratio)
    assert 0 < two < one < 1
    assert workable * one + (1 - workable) * two == pytest.approx(chance, rel=1e-6)
    assert one * (1 - two) / (two * (1 - one)) == pytest.approx(ratio, rel=1e-5)


@pytest.mark.parametrize("kind", catalogue().kinds)
@pytest.mark.parametrize("file", DEMOS, ids=lambda path: path.parent.name + "/" + path.stem)
def test_no_failure_is_proof(file: Path, kind: str) -> None:
    # by definition: nothing keeps a chance on every fish, and one failure leaves the belief
    # between its prior and none; what the trade knows of is never printed as 0
    _, run = with_fragment(file, kind)
    facts = catalogue().kinds[kind]
    one, two = run.odds_by_kind()
    for odds in (one, two):
        assert odds.nothing >= 0.015
        for name in ("part", "top_damaged", "string_lost", "hole_lost"):
            if getattr(facts, name).high > 0:
                assert getattr(odds, name) > 0
        if any(facts.whole[level].high > 0 for level in LEVELS):
            assert odds.recovered > 0
    prior = 0.7
    after = prior * one.nothing / (prior * one.nothing + (1 - prior) * two.nothing)
    assert 0.05 < after <= prior + 0.01


def test_one_failed_soak_leaves_some_belief() -> None:
    # by hand: 0.5 to 0.7 has the middle 0.6; at w = 0.7, R = 10 the two solve 2.7 s^2 + 1.9 s =
    # 0.6 with 2.7 = 0.3 x 9, 1.9 = 7 + 0.3 - 5.4: s = 0.2362, p = 2.362/3.126 = 0.7557; nothing
    # is what 0.002 for the hole and 0.001 for the string leave, 0.2413 and 0.7608, so belief
    # 0.7 becomes 0.7 x 0.2413 / (0.7 x 0.2413 + 0.3 x 0.7608) = 0.425
    stuck = [
        *("fish.mechanism='differential'", "fish.marks=['attached', 'circulates']"),
        *("parting={hours=10}", "well.inclination=3"),
    ]
    job = parse(DEMOS[0].read_text(encoding="utf-8"), stuck)
    piece = fragment(job, "soak")
    assert "takes that chance from 0.70 to 0.4" in " ".join(piece.replace("#", "").split())
    assert "recovered = 0.756" in piece
    assert 'needs = ["attached", "circulates"]' in piece


def test_marks_and_doubts_are_keys_where_the_file_uses_them() -> None:
    text = DEMOS[0].read_text(encoding="utf-8")
    bare = fragment(parse(text), "overshot")
    assert "\ngives" not in bare
    assert 'gives = ["attached"]' in bare  # in the remark
    doubts = """
[[doubt]]
name = "top_good"
workable = 0.8
[[doubt]]
name = "jars_free"
workable = 0.9
[parting]
hours = 10
"""
    other = text.replace("workable = { mean = 0.7, weight = 8 }", "#") + doubts
    piece = fragment(parse(other, ["reading.1.about='top_good'"]), "overshot")
    assert '\ndepends_on = ["top_good", "jars_free"]' in piece
    assert "top_good and jars_free = 0.72" in piece.replace("\n# ", " ")
