"""Kinds of run and where they suit: facts of the trade, hours, odds worked by hand, monotony.

Origins: "common practice" is common practice, no source; "table" is the planning table that
the catalogue was made from, judgement, no source; "by hand" (independent) gives the
arithmetic; "by definition" follows from the head of the module. All jobs are invented.
"""

from __future__ import annotations

import ast
import itertools
from pathlib import Path
from typing import Any, get_args

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import econ.job.methods
from econ.job.methods.catalogue import LEVELS, catalogue
from econ.job.methods.planning_odds import combined, planning_odds
from econ.job.methods.ranges import Hours, Span
from econ.job.methods.situation import situation
from econ.job.methods.survey import Methods, Suitability, methods, suitable, unsuited_runs
from econ.scenario import Scenario
from econ.scenario.amounts import ends_and_middle
from econ.scenario.distributions import (
    Beta,
    Discrete,
    Lognormal,
    Metalog,
    Normal,
    Pert,
    Uniform,
)
from econ.scenario.hole import Mechanism, TopCondition
from econ.scenario.program import RunKind, RunOption

WELL = ("hole_diameter", "diameter_at_top", "inclination", "hardness", "losses", "depth")
# a round trip of 14 h to 10,000 ft: 7 h each way
EVEN = {"cased": 10_000 / 7, "open": 10_000 / 7}
PIPE: dict[str, Any] = {
    "top_condition": "clean",
    "mechanism": "parted",
    "outside_diameter": 7.25,
    "inside_diameter": 2.8125,
    "bore_open": True,
}
JUNK: dict[str, Any] = {"top_condition": "loose_junk", "mechanism": "junk", "ferrous": True}


def job(*runs: dict[str, Any], speed: Any = EVEN, units: str = "field", **facts: Any) -> Scenario:
    """A job with the fish top at 10,000 ft, 400 ft of fish on bottom; facts of well and fish."""
    hole = {name: facts.pop(name) for name in WELL if name in facts}
    fish = {"top": 10_000.0, "bottom": 10_400.0, **facts}
    fish = {name: value for name, value in fish.items() if value is not None}
    table: dict[str, Any] = {
        "schema": 1,
        "units": units,
        "currency": "USD",
        "job": {"well": "invented"},
        "well": {"depth": fish["bottom"], "hole_diameter": 8.5, "shoe_depth": 4_000.0, **hole},
        "rates": {"rig": 24_000.0},
        "fish": fish,
        "run": [{"name": "r", "hours": 20.0, "odds": {"nothing": 1.0}, **run} for run in runs],
        "fallback": [{"name": "complete above", "hours": 100.0, "cost": 50_000.0}],
    }
    if speed is not None:
        table["trip_speed"] = {"in": speed, "out": speed}
    return Scenario.model_validate(table, by_alias=True, by_name=False)


def judged(kind: str, **facts: Any) -> Suitability:
    found = {each.kind: each for each in suitable(job(**facts))}
    return found[kind]


def ends(span: Span) -> tuple[float, float]:
    return span.low, span.high


# ---- the catalogue ----------------------------------------------------------------------------

# table: hours at 10,000 ft with a round trip of 14 h; goal met and whole fish in percent, good,
# fair, poor; part, top damaged, string left, hole lost in percent
TABLE = """
screw_in          22 26 34  85-95 60-80 25-45  55-75 25-45 3-12   3-10  1-3   1-3    0.5-1.5
overshot          22 24 34  80-90 55-75 20-40  55-75 25-45 4-12   3-8   4-10  1-3    0.5-1.5
dress_top         20 22 27  85-95 65-80 35-50  0-0   0-0   0-0    0-0   3-10  0.5-2  0.5-1
washover          33 38 52  75-85 50-65 20-35  5-20  3-10  1-4    2-10  1-4   3-10   1-5
wash_then_catch   56 64 82  60-75 40-55 15-25  40-55 20-35 4-10   15-25 1-3   5-10   2-5
outside_cut       33 37 44  75-85 55-70 25-40  0-5   0-3   0-1    55-80 3-6   4-10   2-5
freepoint_backoff 9  15 29  80-90 60-75 30-50  0-2   0-1   0-0    60-90 2-6   0.5-2  0.5-1
spear             21 24 31  80-90 55-70 20-35  45-65 25-40 5-12   3-8   4-10  1.5-4  0.5-1.5
taper_tap         20 22 24  60-75 40-55 15-30  15-30 8-20  2-6    2-6   8-20  2-5    0.5-1.5
wall_hook         22 26 34  55-70 35-50 10-25  30-50 15-30 3-10   3-6   3-8   2-4    1-2
magnet            18 19 20  40-60 20-35 2-8    40-60 20-35 2-8    10-25 0-0   0.2-1  0.2-0.5
core_basket       20 22 26  50-70 30-45 5-15   50-70 30-45 5-15   10-20 0-0   0.5-1.5 0.5-1
rc_basket         21 22 26  45-65 25-40 8-15   45-65 25-40 8-15   15-25 0-0   0.5-1.5 0.5-1
boot_basket       21 24 29  50-70 30-45 10-20  50-70 30-45 10-20  20-35 0-0   0.5-1  0.5-1
junk_mill         23 28 43  55-75 30-50 10-25  55-75 30-50 10-25  15-30 0-0   0.5-2  0.5-2
condition_trip    25 30 42  85-95 65-80 35-55  0-0   0-0   0-0    0-0   1-4   0.5-2  0.5-2
soak              11 19 33  50-70 25-40 5-15   50-70 25-40 5-15   0-0   0-0   0-0.5  0.2-1
"""
ROWS = [line.split() for line in TABLE.strip().splitlines()]
# table: freed by the first hard jarring, percent; in cement 0-5 set and 20-40 green
FREES = {
    "parted": (75, 90),
    "differential": (35, 60),
    "packed_off": (25, 45),
    "cavings": (10, 30),
    "key_seat": (40, 60),
    "geometry": (35, 55),
    "undergauge": (45, 65),
    "junk": (25, 45),
    "mobile_formation": (20, 40),
    "cement": (0, 40),
    "collapse": (0, 10),
}


def percent(words: str) -> Any:
    low, high = map(float, words.split("-"))
    return pytest.approx((low / 100, high / 100))


def test_catalogue_has_the_words_of_the_format() -> None:
    known = catalogue()
    assert {*known.kinds, "other"} == set(get_args(RunKind))
    assert {*known.mechanisms, "unknown"} == set(get_args(Mechanism))
    assert set(known.options) == set(get_args(RunOption))


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row[0])
def test_odds_are_those_of_the_table(row: list[str]) -> None:
    facts = catalogue().kinds[row[0]]
    spans = [facts.goal_met[level] for level in LEVELS] + [facts.whole[level] for level in LEVELS]
    spans += [facts.part, facts.top_damaged, facts.string_lost, facts.hole_lost]
    for span, words in zip(spans, row[4:], strict=True):
        assert ends(span) == percent(words)


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row[0])
def test_hours_at_ten_thousand_feet_are_those_of_the_table(row: list[str]) -> None:
    junk = catalogue().kinds[row[0]].purpose == "junk"
    hours = judged(row[0], **({**JUNK, "bottom": 10_001.0} if junk else PIPE)).hours
    assert hours is not None
    assert (hours.low, hours.likely, hours.high) == pytest.approx(tuple(map(float, row[1:4])))


def test_the_table_has_every_kind() -> None:
    # and the kinds of another table, below, follow
    assert [row[0] for row in ROWS] == list(catalogue().kinds)[: len(ROWS)]


def test_freeing_is_that_of_the_table() -> None:
    found = {name: ends(each.frees) for name, each in catalogue().mechanisms.items()}
    assert found == {
        name: pytest.approx((low / 100, high / 100)) for name, (low, high) in FREES.items()
    }


def test_every_value_names_its_source() -> None:
    known = catalogue()
    for facts in known.kinds.values():
        assert facts.source == "judgement, no source"
        assert facts.clearance_source
    assert all(each.source for each in known.options.values())
    assert {each.source for each in known.mechanisms.values()} == {"judgement, no source"}
    for table in (known.limits, known.ratios, known.readings):
        assert all(each.source for each in table.values())
    assert known.freeing.source


def test_no_value_of_the_trade_stands_in_the_code() -> None:
    # by definition of "values as data": the modules hold no number with a decimal, and of whole
    # numbers only those that count or index, and lengths that are words of a reason
    folder = Path(econ.job.methods.__file__).parent
    counts = {0, 1, 2, 3, 4, 10, 24, 96, 100, 1000}
    in_words = {"catches.py": {6, 12}, "preparations.py": {60, 250}}
    in_words |= {"situation.py": {6}, "ranges.py": {0.5}}  # decimals of a size; a middle
    for path in folder.glob("*.py"):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        numbers = {
            node.value
            for node in ast.walk(tree)
            if isinstance(node, ast.Constant) and type(node.value) in (int, float)
        }
        small = {number for number in numbers if 0 < abs(number) <= 1e-6}  # roundings
        assert numbers - counts - small <= in_words.get(path.name, set()), path.name


@pytest.mark.parametrize("kind", catalogue().kinds)
def test_worse_levels_and_outcomes_are_in_order(kind: str) -> None:
    facts = catalogue().kinds[kind]
    for spans in (facts.goal_met, facts.whole):
        for better, worse in itertools.pairwise(LEVELS):
            assert spans[better].low >= spans[worse].low
            assert spans[better].high >= spans[worse].high
    for level in LEVELS:
        assert facts.whole[level].high <= facts.goal_met[level].high
        others = (facts.part, facts.top_damaged, facts.string_lost, facts.hole_lost)
        assert facts.whole[level].middle + sum(each.middle for each in others) < 1


# ---- hours ------------------------------------------------------------------------------------


def test_hours_grow_with_depth_by_the_round_trip() -> None:
    # by hand: 4,000 ft cased and 6,000 ft open at 2,000 and 1,000 ft/h each way, 2 (2 + 6) = 16 h;
    # and 2,000 ft deeper 2 (2 + 8) = 20 h
    speed = {"cased": 2000.0, "open": 1000.0}
    near = judged("washover", speed=speed, **PIPE).hours
    deep = judged("washover", speed=speed, top=12_000.0, bottom=12_400.0, **PIPE).hours
    assert near == Hours(19 + 16, 24 + 16, 38 + 16)
    assert deep == Hours(19 + 20, 24 + 20, 38 + 20)


def test_length_over_rate() -> None:
    # by hand: 1,100 ft of fish in cement, 1 to 4 ft/h, of which 100 ft are in the hours of the
    # table: 1,000 ft take 250 to 1,000 h more, likely 1,000 / 2 = 500 h; a shoe lasts 30 h, so
    # the work of 511 h takes more trips than a run may have, nine
    cement = {**PIPE, "outside_diameter": 6.5, "mechanism": "cement", "bottom": 11_100.0}
    found = judged("washover", **cement)
    assert found.hours is not None
    assert found.hours.low > 250
    assert found.hours.high > 1000
    assert found.trips > 2
    assert "1,100 ft at 1 ft to 4 ft an hour" in found.rate
    # a mill: 20 ft of steel, of which 1 ft is in the hours: 19 / 1.5 to 19 / 0.3
    plain = judged("junk_mill", **{**JUNK, "bottom": 10_001.0}).hours
    long = judged("junk_mill", **{**PIPE, "bottom": 10_020.0}).hours
    assert plain is not None
    assert long is not None
    assert long.low - plain.low == pytest.approx(19 / 1.5, abs=0.06)
    assert long.high - plain.high == pytest.approx(19 / 0.3, abs=0.06)
    # what a run of the file says is washed is what counts
    run = {"kind": "washover", "wash_length": 100.0}
    told = {each.kind: each for each in suitable(job(run, **cement))}["washover"]
    assert told.rate == ""
    assert told.trips == 1


def test_fast_trips_go_with_the_low_hours() -> None:
    speed = {"cased": 2000.0, "open": {"low": 800.0, "likely": 1000.0, "high": 1200.0}}
    hours = judged("overshot", speed=speed, **PIPE).hours
    # by hand: cased 4 h; open 2 x 6,000 / 1,200 = 10, 12 and 15 h
    assert hours is not None
    assert (hours.low, hours.likely, hours.high) == pytest.approx((8 + 14, 10 + 16, 20 + 19))


def test_two_trips_for_a_wash_and_a_catch() -> None:
    found = judged("wash_then_catch", **PIPE)
    assert found.trips == 2
    assert found.hours is not None
    # by hand: 64 h of the table and two more hours of tripping, one for each round trip, where
    # each way to 10,000 ft takes half an hour longer
    slow = {"cased": 10_000 / 7.5, "open": 10_000 / 7.5}
    longer = judged("wash_then_catch", speed=slow, **PIPE).hours
    assert longer is not None
    assert longer.likely == pytest.approx(64 + 2)


def test_no_trip_speed_no_hours_but_for_what_does_not_trip() -> None:
    found = {each.kind: each.hours for each in suitable(job(speed=None, **PIPE))}
    assert {kind for kind, hours in found.items() if hours} == {
        *("freepoint_backoff", "soak", "work_jar", "sever", "chemical_cut", "source_retrieval"),
    }


AMOUNTS = [
    (7.0, (7.0, 7.0, 7.0)),
    (Uniform(low=2, high=4), (2, 3, 4)),
    (Pert(low=2, likely=2.5, high=4), (2, 2.5, 4)),
    # any table of the normal: 1.2816 standard deviations
    (Normal(mean=10, sd=2), (10 - 2 * 1.2816, 10, 10 + 2 * 1.2816)),
    (Lognormal(median=8, factor=2), (4, 8, 16)),  # by definition of the form
    (Metalog(p10=1, p50=2, p90=4), (1, 2, 4)),
    # by hand: half of the weight 8 is reached at 30
    (Discrete(values=[50, 20, 30], weights=[1, 3, 4]), (20, 30, 50)),
    (Beta(mean=0.3, weight=8), (0.3, 0.3, 0.3)),
]


@pytest.mark.parametrize(("amount", "wanted"), AMOUNTS, ids=lambda each: type(each).__name__)
def test_ends_and_middle_of_every_form(amount: Any, wanted: tuple[float, ...]) -> None:
    assert ends_and_middle(amount) == pytest.approx(wanted, abs=1e-3)


# ---- facts of the trade: common practice, no source --------------------------------------------

SUITS, DOUBTFUL, NOT = "suits", "doubtful", "no"
HELD: dict[str, Any] = {**PIPE, "mechanism": "packed_off"}
STUCK: dict[str, Any] = {**HELD, "marks": ["attached", "circulates"]}  # whole to the surface
VERDICTS = [
    # an overshot catches an even outside all round; a torn top is dressed before a grapple
    ("overshot", PIPE, SUITS, "outside"),
    *(
        ("overshot", {**PIPE, "top_condition": top}, DOUBTFUL, "dress")
        for top in ("damaged", "ragged", "belled", "bent")
    ),
    ("overshot", {**PIPE, "top_condition": "split"}, DOUBTFUL, "extension"),
    ("overshot", {**PIPE, "outside_diameter": 8.375}, NOT, "8.5 in hole over a 8.375 in top"),
    ("overshot", {**PIPE, "losses": True}, DOUBTFUL, "circulate"),
    ("overshot", {**PIPE, "fill": 20.0}, DOUBTFUL, "fill"),
    # a screw-in needs a sound thread
    ("screw_in", HELD, SUITS, "screw back in"),
    *(
        ("screw_in", {**HELD, "top_condition": top}, NOT, top)
        for top in ("damaged", "ragged", "belled", "bent", "split")
    ),
    ("screw_in", PIPE, DOUBTFUL, "connection"),
    # milling makes a broken top even, a clean one has nothing to mill
    ("dress_top", {**PIPE, "top_condition": "ragged"}, SUITS, "ragged"),
    ("dress_top", PIPE, DOUBTFUL, "clean"),
    # washing over is for what cuttings, cavings, cake or a key seat hold, if there is room
    *(
        ("washover", {**PIPE, "outside_diameter": 6.5, "mechanism": held}, SUITS, "")
        for held in ("packed_off", "cavings", "differential", "key_seat")
    ),
    ("washover", {**HELD, "outside_diameter": 7.5}, NOT, "8.5 in hole and a 7.5 in top"),
    ("washover", {**PIPE, "outside_diameter": 6.5}, DOUBTFUL, "nothing is known to hold"),
    ("wash_then_catch", {**PIPE, "outside_diameter": 6.5, "mechanism": "collapse"}, NOT, ""),
    # a plugged fish is cut outside; with an open bore a back-off is shorter
    ("outside_cut", {**HELD, "outside_diameter": 6.5, "bore_open": False}, SUITS, "plugged"),
    ("outside_cut", {**HELD, "outside_diameter": 6.5}, DOUBTFUL, "back-off"),
    ("outside_cut", PIPE | {"outside_diameter": 6.5}, NOT, "nothing holds"),
    # wireline needs an open bore, wide enough, and something to back off
    ("freepoint_backoff", STUCK, SUITS, "free pipe"),
    ("freepoint_backoff", {**STUCK, "bore_open": False}, NOT, "plugged"),
    ("freepoint_backoff", {**STUCK, "bore_open": None}, DOUBTFUL, "not known"),
    ("freepoint_backoff", {**STUCK, "inside_diameter": 1.0}, NOT, "1 in"),
    ("freepoint_backoff", {**STUCK, "inside_diameter": 1.5}, DOUBTFUL, "slim"),
    ("freepoint_backoff", {**STUCK, "inclination": 58.0}, DOUBTFUL, "58 degrees, over 55"),
    ("freepoint_backoff", {**PIPE, "marks": ["attached"]}, NOT, "parted"),
    ("freepoint_backoff", HELD, NOT, "needs the string attached"),
    # what grips inside needs an open bore
    *((kind, {**PIPE, "bore_open": False}, NOT, "plugged") for kind in ("spear", "taper_tap")),
    *(
        (kind, {**PIPE, "bore_open": None}, DOUBTFUL, "not known")
        for kind in ("spear", "taper_tap")
    ),
    ("spear", {**PIPE, "outside_diameter": 8.0}, SUITS, "8 in top in 8.5 in hole"),
    ("spear", {**PIPE, "top_condition": "belled"}, SUITS, "below"),
    ("spear", {**PIPE, "inside_diameter": 1.5}, DOUBTFUL, "1.5 in, under 2.5 in"),
    ("taper_tap", {**PIPE, "bottom": 10_200.0}, SUITS, "last chance"),
    ("taper_tap", PIPE, DOUBTFUL, "400 ft: a tap is for short light fish, 300 ft"),
    ("taper_tap", {**HELD, "bottom": 10_200.0}, DOUBTFUL, "held"),
    # a hook or a knuckle joint is for a top that leans or lies in enlarged hole
    ("wall_hook", {**PIPE, "top_condition": "leaning"}, SUITS, "leans"),
    (
        "wall_hook",
        {**PIPE, "diameter_at_top": 11.0},
        SUITS,
        "11 in at the top against a 8.5 in bit",
    ),
    ("wall_hook", PIPE, DOUBTFUL, "simpler"),
    # magnets take magnetic junk, small and light
    ("magnet", JUNK, SUITS, "run first"),
    ("magnet", {**JUNK, "ferrous": False}, NOT, "not magnetic"),
    ("magnet", {**JUNK, "ferrous": None}, DOUBTFUL, "not known"),
    ("magnet", {**JUNK, "fill": 15.0}, DOUBTFUL, "fill"),
    ("magnet", PIPE, NOT, "400 ft of pipe"),
    # core type in soft to medium rock, reverse circulating in hard rock, boots for fine junk
    ("core_basket", {**JUNK, "hardness": "soft"}, SUITS, "soft rock"),
    ("core_basket", {**JUNK, "hardness": "hard"}, NOT, "hard rock"),
    ("core_basket", JUNK, DOUBTFUL, "not known"),
    ("core_basket", {**JUNK, "hardness": "soft", "largest_diameter": 7.0}, NOT, "7 in"),
    ("rc_basket", {**JUNK, "hardness": "hard"}, SUITS, "hard rock"),
    ("rc_basket", {**JUNK, "losses": True}, DOUBTFUL, "flow"),
    ("boot_basket", {**JUNK, "largest_diameter": 1.0}, SUITS, "fine"),
    ("boot_basket", JUNK, DOUBTFUL, "whole cones"),
    # a mill is for junk nothing else takes, not for collars, soft rock, or sealed sources
    ("junk_mill", {**JUNK, "hardness": "hard"}, SUITS, "nothing else"),
    ("junk_mill", {**JUNK, "hardness": "soft"}, DOUBTFUL, "soft rock"),
    # by hand: 400 ft at 1.5 and 0.3 ft/h
    ("junk_mill", PIPE, NOT, "400 ft of steel would take 267 to 1,333 h"),
    ("junk_mill", {**JUNK, "sealed_source": True}, NOT, "rupture"),
    # a conditioning trip for a buried top or a hole that makes fill
    ("condition_trip", {**PIPE, "fill": 20.0}, SUITS, "20 ft of fill"),
    ("condition_trip", {**PIPE, "mechanism": "cavings"}, SUITS, "fill"),
    ("condition_trip", PIPE, DOUBTFUL, "no catch"),
    # a soak is for differential sticking only
    ("soak", {**STUCK, "mechanism": "differential"}, SUITS, "differential"),
    ("soak", {**STUCK, "mechanism": "unknown"}, DOUBTFUL, "only for differential"),
    *(
        ("soak", {**STUCK, "mechanism": held}, NOT, "differential sticking only")
        for held in FREES
        if held != "differential"
    ),
]


@pytest.mark.parametrize(
    ("kind", "facts", "verdict", "reason"),
    VERDICTS,
    ids=[f"{number}-{row[0]}" for number, row in enumerate(VERDICTS)],
)
def test_facts_of_the_trade(kind: str, facts: dict[str, Any], verdict: str, reason: str) -> None:
    if catalogue().kinds[kind].purpose == "junk" and facts is not PIPE:
        facts = {"top": 10_399.0, **facts}  # a foot of junk on bottom
    found = judged(kind, **facts)
    assert found.verdict == verdict, found.reasons
    assert any(reason in each for each in found.reasons), found.reasons


def test_junk_takes_no_catch_and_pipe_no_basket() -> None:
    junk = {each.kind: each for each in suitable(job(top=10_399.0, **JUNK))}
    pipe = {each.kind: each for each in suitable(job(**PIPE))}
    for kind, facts in catalogue().kinds.items():
        if facts.purpose in ("junk", "leave"):
            assert pipe[kind].verdict == NOT
        elif kind != "condition_trip":
            assert junk[kind].verdict == NOT
            attached_or_cable = {"attached", "cable_whole", "cable_loose"} & set(facts.needs)
            assert attached_or_cable or "loose junk" in junk[kind].reasons[0]


def test_washed_out_hole_wants_a_wall_hook() -> None:
    # common practice: a knuckle joint or wall hook widens the sweep in a washed-out hole
    for caliper in (11.0, 12.5, 14.0):
        facts = {**PIPE, "outside_diameter": 6.5, "diameter_at_top": caliper}
        hook, plain = judged("wall_hook", **facts), judged("overshot", **facts)
        assert hook.verdict == SUITS
        assert hook.whole.middle > plain.whole.middle
    assert plain.verdict == DOUBTFUL
    gauge = {**PIPE, "outside_diameter": 6.5}
    assert judged("wall_hook", **gauge).whole.middle < judged("overshot", **gauge).whole.middle


def options(kind: str, **facts: Any) -> dict[str, str]:
    return {each.option: each.reason for each in judged(kind, **facts).options}


def test_options_and_why() -> None:
    # common practice: a catch runs below a bumper sub and jars; a key seat wants a down blow
    for kind in ("screw_in", "overshot", "spear", "wall_hook"):
        assert {"jars", "bumper_sub"} <= set(options(kind, **PIPE))
        seat = options(kind, **{**PIPE, "mechanism": "key_seat"})
        assert "down blow" in seat["bumper_sub"]
        assert "up blow" not in seat["jars"]
    assert "up blow" in options("overshot", **HELD)["jars"]
    # common practice: the accelerator matters most in shallow work, and where pull is lost to drag
    assert "accelerator" not in options("overshot", **PIPE)
    shallow = options("overshot", **PIPE, top=4_500.0, bottom=4_900.0)
    assert "4,500 ft" in shallow["accelerator"]
    assert "45 degrees" in options("overshot", **PIPE, inclination=45.0)["accelerator"]
    # common practice: a fish that hangs off bottom is held by a spear in the wash string
    hung = {**HELD, "outside_diameter": 6.5}
    assert "wash_string_spear" not in options("washover", **hung)
    assert "off bottom" in options("washover", **hung, off_bottom=True)["wash_string_spear"]
    assert "wash_string_spear" in options("washover", **hung, depth=10_650.0)
    assert "wash_string_spear" not in options("washover", **hung, depth=10_650.0, off_bottom=False)
    assert options("magnet", top=10_399.0, **JUNK) == {}


def test_options_that_a_run_lists_are_compared() -> None:
    run = {"kind": "overshot", "options": ["jars", "wash_string_spear"]}
    bare = {"kind": "overshot"}
    found = {each.kind: each.remarks for each in suitable(job(bare, run, **HELD))}
    assert found["overshot"] == (
        "run.2 does not list bumper_sub",
        "run.2 lists wash_string_spear, which this kind has no use for",
    )
    assert found["spear"] == ()
    full = {"kind": "overshot", "options": ["bumper_sub", "jars"]}
    assert {each.kind: each.remarks for each in suitable(job(full, **HELD))}["overshot"] == ()


@pytest.mark.parametrize(
    ("kind", "tool", "doubt"),
    [
        ("overshot", {"tool_outside": 8.125}, ""),
        ("overshot", {"tool_outside": 8.375}, "8.375 in tool in 8.5 in hole: practice leaves 0.25"),
        ("washover", {"tool_outside": 7.625, "tool_inside": 6.625}, ""),
        ("washover", {"tool_outside": 8.125}, "leaves 0.5 in or more"),
        ("washover", {"tool_inside": 6.5625}, "6.5625 in bore over 6.5 in: practice leaves 0.125"),
        ("junk_mill", {"tool_outside": 8.45}, "leaves 0.125 in or more"),
        ("magnet", {"tool_outside": 8.0}, "leaves 0.75 in or more"),
    ],
)
def test_clearance_short_of_practice_is_doubtful(
    kind: str, tool: dict[str, float], doubt: str
) -> None:
    facts = {**HELD, "outside_diameter": 6.5}
    if kind in ("junk_mill", "magnet"):
        facts = {**JUNK, "top": 10_399.0}
    found = {each.kind: each for each in suitable(job({"kind": kind, **tool}, **facts))}[kind]
    assert found.verdict == (DOUBTFUL if doubt else SUITS), found.reasons
    assert any(doubt in each for each in found.reasons), found.reasons


# ---- odds by hand -----------------------------------------------------------------------------


def ratio(chance: float, by: float) -> float:
    """By hand: odds p/(1-p) times `by`, back to a chance."""
    odds = chance / (1 - chance) * by
    return odds / (1 + odds)


def test_nothing_wrong_is_the_good_row() -> None:
    # hole over fish 8.5/7.25 = 1.17, below 1.2; 400 ft; parted: 0.8 x 0.75 = 0.6 > 0.55
    found = judged("overshot", **PIPE)
    assert (found.level, found.lowered_by, found.modifiers) == ("good", (), ())
    assert ends(found.goal_met) == (0.80, 0.90)
    assert ends(found.whole) == (0.55, 0.75)


HAND: list[tuple[str, dict[str, Any], str, tuple[float, float], tuple[float, float]]] = [
    # hole over fish top 8.5/6.5 = 1.31: 0.8 on catching
    ("overshot", {"outside_diameter": 6.5}, "good", (0.8, 0.8), (0.8, 0.8)),
    # 8.5/4.5 = 1.89: 0.4; ragged 0.35 to 0.5
    (
        "overshot",
        {"outside_diameter": 4.5, "top_condition": "ragged"},
        "good",
        (0.4 * 0.35, 0.4 * 0.5),
        (0.4 * 0.35, 0.4 * 0.5),
    ),
    # 8.5/4 = 2.1: 0.15
    ("overshot", {"outside_diameter": 4.0}, "good", (0.15, 0.15), (0.15, 0.15)),
    # fill of 20 and of 40 ft: 0.6 and 0.3 on catching, 0.7 and 0.4 on freeing
    ("overshot", {"fill": 20.0}, "good", (0.6, 0.6), (0.42, 0.42)),
    ("overshot", {"fill": 40.0}, "good", (0.3, 0.3), (0.12, 0.12)),
    ("overshot", {"fill": 5.0}, "good", (1, 1), (1, 1)),
    ("overshot", {"top_condition": "buried"}, "good", (0.3, 0.6), (0.12, 0.42)),
    # bore plugged: 0.9 and 0.7
    ("screw_in", {"bore_open": False}, "good", (0.9, 0.9), (0.63, 0.63)),
    # losses: 0.9 and 0.6; hanging off bottom: 0.95 and 0.9
    ("screw_in", {"losses": True}, "good", (0.9, 0.9), (0.54, 0.54)),
    ("screw_in", {"off_bottom": True}, "good", (0.95, 0.95), (0.855, 0.855)),
    # 1,500 ft of fish: 0.75 twice on freeing
    ("screw_in", {"bottom": 11_500.0}, "good", (1, 1), (0.5625, 0.5625)),
    # top not known: fair, and no ratio
    ("screw_in", {"top_condition": "unknown"}, "fair", (1, 1), (1, 1)),
    # top and hold not known: poor
    (
        "screw_in",
        {"top_condition": "unknown", "mechanism": "unknown"},
        "poor",
        (1, 1),
        (1, 1),
    ),
    # a spear minds a split top, not a belled one
    ("spear", {"top_condition": "belled"}, "good", (1, 1), (1, 1)),
    ("spear", {"top_condition": "split"}, "good", (0.35, 0.5), (0.35, 0.5)),
    # three that together fall below the least ratio: 0.15 x 0.3 x 0.35 = 0.016 is kept at 0.02,
    # and 0.15 x 0.3 x 0.5 = 0.0225 stands; with 0.4 on freeing both are kept at 0.02
    (
        "overshot",
        {"outside_diameter": 4.0, "fill": 40.0, "top_condition": "ragged"},
        "good",
        (0.02, 0.0225),
        (0.02, 0.02),
    ),
]


@pytest.mark.parametrize(("kind", "facts", "level", "catching", "both"), HAND)
def test_ratios_by_hand(
    kind: str,
    facts: dict[str, Any],
    level: Any,
    catching: tuple[float, float],
    both: tuple[float, float],
) -> None:
    found = judged(kind, **{**PIPE, **facts})
    row = catalogue().kinds[kind]
    assert found.level == level
    goal, whole = row.goal_met[level], row.whole[level]
    if facts.get("mechanism") != "unknown":
        whole = whole.below(goal.times(Span(0.75, 0.90)))  # parted: freed by the first jarring
    assert ends(found.goal_met) == pytest.approx(
        (ratio(goal.low, catching[0]), ratio(goal.high, catching[1]))
    )
    assert ends(found.whole) == pytest.approx(
        (ratio(whole.low, both[0]), ratio(whole.high, both[1]))
    )


def test_no_more_than_caught_times_freed() -> None:
    # by hand: cavings free 0.10 to 0.30; 0.80 x 0.10 = 0.08 and 0.90 x 0.30 = 0.27
    found = judged("overshot", **{**PIPE, "mechanism": "cavings"})
    assert found.level == "good"
    assert ends(found.whole) == pytest.approx((0.08, 0.27))
    assert found.ceiling == Span(0.10, 0.30)
    # washing takes away what holds, and is not bounded by jarring, but for a collapse
    washed = {**PIPE, "outside_diameter": 7.1}
    assert judged("wash_then_catch", **washed, ferrous=True).ceiling is None
    fallen = judged("wash_then_catch", **{**washed, "mechanism": "collapse"})
    assert ends(fallen.whole) == pytest.approx((0.0, 0.75 * 0.10))


def test_steep_angle_counts_once() -> None:
    # by hand, overshot at 45 degrees in gauge hole, parted: in the level it is fair, 0.25 to 0.45
    # (under 0.55 x 0.75 = 0.41 and 0.75 x 0.90); by its ratio good with 0.8 x 0.75 = 0.6,
    # 0.55 -> 0.423 and 0.75 -> 0.643. The lower ends are those of the level.
    found = judged("overshot", **PIPE, inclination=45.0)
    assert found.level == "fair"
    assert ends(found.whole) == pytest.approx((0.25, 0.45))
    # at 70 degrees the ratio is 0.5 x 0.45 = 0.225: 0.55 -> 0.216, 0.75 -> 0.403, now the lower
    steep = judged("overshot", **PIPE, inclination=70.0)
    assert ends(steep.whole) == pytest.approx((ratio(0.55, 0.225), ratio(0.75, 0.225)))
    assert ends(steep.goal_met) == pytest.approx((0.55, 0.75))  # good x 0.5 is 0.667 and 0.818


def test_enlarged_hole_counts_once() -> None:
    # by hand: 12 in round 6.5 in is 1.85, ratio 0.4; by it 0.55 -> 0.328 and 0.75 -> 0.545, by the
    # level 0.25 and 0.45; 14 in is 2.15, ratio 0.15: 0.155 and 0.310
    wide = {**PIPE, "outside_diameter": 6.5}
    assert ends(judged("overshot", **wide, diameter_at_top=12.0).whole) == pytest.approx(
        (0.25, 0.45)
    )
    assert ends(judged("overshot", **wide, diameter_at_top=14.0).whole) == pytest.approx(
        (ratio(0.55, 0.15), ratio(0.75, 0.15))
    )
    # a wall hook restores a plain catch to 0.7 and to 0.4, so that it loses 0.4/0.7 beyond twice
    assert ends(judged("wall_hook", **wide, diameter_at_top=12.0).whole) == (0.30, 0.50)
    assert ends(judged("wall_hook", **wide, diameter_at_top=14.0).whole) == pytest.approx(
        (ratio(0.30, 4 / 7), ratio(0.50, 4 / 7))
    )


def test_ratios_of_junk() -> None:
    junk = {**JUNK, "top": 10_399.0, "hardness": "medium"}
    assert ends(judged("core_basket", **junk).whole) == (0.50, 0.70)
    hard = judged("core_basket", **{**junk, "hardness": "hard"})
    assert ends(hard.whole) == pytest.approx((ratio(0.50, 0.3), ratio(0.70, 0.3)))
    # what cannot be is none at all, not the least ratio
    assert ends(judged("magnet", **{**junk, "ferrous": False}).whole) == (0, 0)
    for kind in ("spear", "taper_tap"):
        assert ends(judged(kind, **{**PIPE, "bore_open": False}).whole) == (0, 0)
    assert ends(judged("soak", **PIPE).whole) == (0, 0)


def test_combined_is_kept_between_its_bounds() -> None:
    assert combined([]) == Span(1, 1)
    assert combined([Span(2, 2), Span(2, 2)]) == Span(3, 3)
    assert combined([Span(0.1, 0.1), Span(0.1, 0.5)]) == Span(0.02, 0.05)
    assert combined([Span(0, 0), Span(2, 2)]) == Span(0, 0)


def test_the_top_dressed_first() -> None:
    # by definition: the odds on the same fish with a clean top
    ragged = {**PIPE, "top_condition": "ragged", "outside_diameter": 4.5}
    clean = judged("overshot", **{**ragged, "top_condition": "clean"})
    assert judged("overshot", **ragged).whole_if_dressed == clean.whole
    assert clean.whole_if_dressed is None
    assert judged("screw_in", **ragged).whole_if_dressed is None


def test_what_is_barred_is_not_advised() -> None:
    # by hand: batteries bar the mill and the cleaning trip, so nothing says to run them first
    ragged = {**PIPE, "top_condition": "ragged", "outside_diameter": 4.5}
    for kind in ("overshot", "wall_hook", "knuckle_joint"):
        assert "the top is ragged: dress it off first" in judged(kind, **ragged).reasons
        batteries = judged(kind, **ragged, lithium_batteries=True)
        words = "the top is ragged, and dressing it off is barred here (see dress_top)"
        assert words in batteries.reasons
        assert batteries.whole_if_dressed is None
    for hazard in ("lithium_batteries", "explosives", "sealed_source"):
        found = suitable(job(**ragged, fill=20.0, **{hazard: True}))
        said = " ".join(reason for each in found for reason in each.reasons)
        assert "dress it off" not in said
        assert "clean down to it first" not in said


# ---- worse conditions never raise the odds ------------------------------------------------------

WORSE: dict[str, list[Any]] = {
    "diameter_at_top": [8.5, 8.9, 9.3, 9.4, 10.0, 11.0, 12.0, 13.0, 14.0, 20.0],
    "inclination": [0.0, 29.9, 30.0, 45.0, 60.0, 60.1, 90.0],
    "fill": [0.0, 9.0, 10.0, 30.0, 31.0, 100.0],
    "bottom": [10_100.0, 10_500.0, 10_800.0, 12_000.0],
    "losses": [False, True],
    "off_bottom": [False, True],
    "bore_open": [True, False],
    "ferrous": [True, False],
    "hardness": ["soft", "hard"],
    "top_condition": ["clean", "ragged"],
    "mechanism": ["parted", "key_seat", "packed_off", "cavings", "collapse"],
}


@pytest.mark.parametrize("key", WORSE)
@pytest.mark.parametrize("outside", [3.5, 4.5, 4.75, 6.0, 6.5, 8.0])
def test_worse_never_raises_the_odds(key: str, outside: float) -> None:
    facts = {**PIPE, "outside_diameter": outside, "ferrous": True, "hardness": "soft"}
    for base in (facts, {**facts, "top_condition": "leaning", "inclination": 40.0, "fill": 12.0}):
        rows = []
        for value in WORSE[key]:
            here = situation(job(**{**base, key: value}))
            rows.append([planning_odds(each, here) for each in catalogue().kinds.values()])
        for better, worse in itertools.pairwise(rows):
            for kind, one, two in zip(catalogue().kinds, better, worse, strict=True):
                for before, after in ((one.goal_met, two.goal_met), (one.whole, two.whole)):
                    if kind == "soak" and key == "mechanism":
                        continue
                    assert after.low <= before.low + 1e-12, (kind, key)
                    assert after.high <= before.high + 1e-12, (kind, key)


def optional(strategy: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    return st.none() | strategy


FACTS = st.fixed_dictionaries(
    {
        "top_condition": st.sampled_from(get_args(TopCondition)),
        "mechanism": st.sampled_from(get_args(Mechanism)),
        "bore_open": optional(st.booleans()),
        "outside_diameter": optional(st.floats(0.5, 8.5)),
        "largest_diameter": optional(st.floats(0.5, 8.5)),
        "inside_diameter": optional(st.floats(0.1, 8.0)),
        "ferrous": optional(st.booleans()),
        "off_bottom": optional(st.booleans()),
        "fill": optional(st.floats(0, 500)),
        "bottom": st.floats(10_001, 20_000),
        "sealed_source": st.booleans(),
        "inclination": st.floats(0, 180),
    }
)


@settings(max_examples=150, deadline=None)
@given(FACTS, st.sampled_from([None, "soft", "medium", "hard"]), optional(st.floats(6, 30)))
def test_every_fish_gets_a_reading(
    facts: dict[str, Any], hardness: str | None, caliper: float | None
) -> None:
    hole: dict[str, Any] = {"hardness": hardness, "diameter_at_top": caliper}
    told = {name: value for name, value in hole.items() if value is not None}
    found = methods(job(**facts, **told))
    assert {each.kind for each in found.kinds} == set(catalogue().kinds)
    order = [(SUITS, DOUBTFUL, NOT).index(each.verdict) for each in found.kinds]
    assert order == sorted(order)
    for each in found.kinds:
        assert all(reason and reason.isascii() for reason in each.reasons)
        assert each.reasons
        for span in (each.goal_met, each.whole):
            assert 0 <= span.low <= span.high <= 1
        assert each.whole.high <= each.goal_met.high + 1e-12


# ---- whole readings -----------------------------------------------------------------------------


def test_a_size_on_a_limit_lies_there_in_metres_too() -> None:
    # by definition: 9,013 ft less 9,003 ft is 10 ft, the longest that is loose junk; converted
    # from metres the difference is one last digit more
    foot = 0.3048
    assert 9013 * foot * (1 / foot) - 9003 * foot * (1 / foot) > 10
    junk = {"mechanism": "junk", "top_condition": "unknown"}
    field = job(top=9003.0, bottom=9013.0, **junk)
    metric = job(units="metric", top=9003 * foot, bottom=9013 * foot, **junk)
    assert situation(field).loose_junk
    assert situation(metric).loose_junk


def test_metric_and_field_files_read_alike() -> None:
    # by definition of the units
    fields: dict[str, Any] = {**PIPE, "diameter_at_top": 10.0, "fill": 20.0, "bottom": 11_000.0}
    field = job(**fields)
    lengths = {name: fields[name] * 0.3048 for name in ("fill", "bottom")}
    sizes = ("outside_diameter", "inside_diameter", "diameter_at_top")
    metric = {name: fields[name] * 25.4 for name in sizes} | lengths
    speed = {name: value * 0.3048 for name, value in EVEN.items()}
    other = job(
        units="metric", speed=speed, **{**fields, **metric, "top": 3048.0, "hole_diameter": 215.9}
    )
    other = other.model_copy(
        update={"well": other.well.model_copy(update={"shoe_depth": 4_000 * 0.3048})}
    )
    for one, two in zip(suitable(field), suitable(other), strict=True):
        assert (one.kind, one.verdict, one.level) == (two.kind, two.verdict, two.level)
        assert ends(two.whole) == pytest.approx(ends(one.whole))
        assert two.hours is not None
        assert one.hours is not None
        assert two.hours.likely == pytest.approx(one.hours.likely)
    said = {each.kind: each.reasons for each in suitable(other)}
    assert any("254 mm at the top against a 215.9 mm bit" in each for each in said["wall_hook"])
    assert any("6.1 m of fill" in each for each in said["condition_trip"])


def test_a_bare_file_says_what_would_decide() -> None:
    bare = methods(job())
    assert set(bare.not_known) == {
        *("fish.top_condition", "fish.mechanism", "fish.bore_open", "fish.fill"),
        *("fish.outside_diameter", "fish.inside_diameter", "fish.largest_diameter"),
        *("well.diameter_at_top", "well.losses"),
    }
    assert "overshot" in bare.not_known["fish.outside_diameter"]
    assert not [each for each in bare.kinds if each.verdict == SUITS and each.purpose == "catch"]
    # what is told is not asked for
    assert "fish.bore_open" not in methods(job(bore_open=True)).not_known
    # and nothing is asked about kinds that do not suit
    assert "fish.ferrous" not in bare.not_known


def test_frame_has_a_row_a_kind() -> None:
    frame = methods(job(**PIPE)).to_frame()
    assert list(frame.index) == [each.kind for each in suitable(job(**PIPE))]
    assert frame.loc["overshot", "whole_low"] == 0.55
    assert frame.loc["overshot", "hours_likely"] == pytest.approx(24)
    assert frame.loc["magnet", "verdict"] == NOT


def test_results_cannot_be_changed() -> None:
    found = methods(job(**PIPE))
    assert isinstance(found, Methods)
    with pytest.raises(AttributeError):
        found.kinds[0].verdict = "suits"  # type: ignore[misc]
    with pytest.raises(TypeError):
        catalogue().kinds["magnet"] = catalogue().kinds["soak"]  # type: ignore[index]


def test_unsuited_runs_of_the_program() -> None:
    runs = [{"kind": kind} for kind in ("overshot", "magnet", "other", "soak")]
    lines = unsuited_runs(job(*runs, **PIPE))
    assert [line.split(":")[0] for line in lines] == ["run.2", "run.4"]
    assert "magnet does not suit: the fish is 400 ft of pipe" in lines[0]
    assert unsuited_runs(job({"kind": "overshot"}, **PIPE)) == []
