"""A sound scenario broken in one place at a time: each fault is found, placed and explained."""

from __future__ import annotations

import functools

import pytest
from broken_keys import LAST, ODDS, RANGES, RIG, TEXT, TYPES, UNKNOWN_KEYS, WORDS, Broken
from broken_rules import (
    DEPTHS,
    DIVISORS,
    FORMS,
    LONG_OR_UNPRINTABLE,
    MISSING,
    PAIR,
    PAPERS,
    RANGES_AT,
    SYNTAX,
)

from econ.scenario import Fault, ScenarioError, parse
from econ.scenario.scenario import dotted

LIBRARY_WORDS = ("pydantic", "typing.", "<class", "input should", "validation", "instance of")

ALL = [
    *TYPES,
    *RANGES,
    *WORDS,
    *UNKNOWN_KEYS,
    *ODDS,
    *DEPTHS,
    *DIVISORS,
    *MISSING,
    *FORMS,
    *PAPERS,
    *SYNTAX,
    *LONG_OR_UNPRINTABLE,
]


@functools.cache
def faults_of(text: str) -> tuple[list[Fault], str]:
    with pytest.raises(ScenarioError) as caught:
        parse(text)
    return caught.value.faults, str(caught.value)


def broken_text(*replacements: tuple[str, str]) -> str:
    """The sound text with the first of each old text replaced, which must be there."""
    text = TEXT
    for old, new in replacements:
        assert old in text, old[:80]
        text = text.replace(old, new, 1)
    return text


@pytest.mark.parametrize("row", ALL, ids=lambda row: f"{row.key}:{row.new}"[:60])
def test_fault_is_found_placed_and_explained(row: Broken) -> None:
    faults, message = faults_of(broken_text((row.old, row.new)))
    here = [fault for fault in faults if dotted(fault.path) == row.key and fault.line == row.line]
    assert here, message[:1000]
    assert any(
        row.given in fault.given
        and row.allowed in fault.allowed
        and row.suggestion in fault.suggestion
        for fault in here
    ), message[:1000]
    assert len(faults) == row.faults, message[:1000]


@pytest.mark.parametrize("row", ALL, ids=lambda row: f"{row.key}:{row.new}"[:60])
def test_message_is_short_printable_and_in_plain_words(row: Broken) -> None:
    _, message = faults_of(broken_text((row.old, row.new)))
    assert all(" " <= char <= "~" or char == "\n" for char in message)
    assert max(len(line) for line in message.split("\n")) < 1500
    assert not [word for word in LIBRARY_WORDS if word in message.lower()]


def test_rows_are_many_and_different() -> None:
    assert len({(row.old, row.new) for row in ALL}) == len(ALL) >= 70


def test_sound_text_has_no_fault() -> None:
    assert parse(TEXT).rates == {"rig": 53000}


@pytest.mark.parametrize(
    ("names", "given", "suggestion"),
    [
        (("rates.rig", "recovery.hour"), "'recovery.hour'", "did you mean recovery.hours?"),
        (("rates.rig", "run.1.charge"), "'run.1.charge'", ""),  # a plain number
        (("rates.rig", "fish.piece"), "'fish.piece'", ""),
    ],
)
def test_correlation_of_what_is_no_distribution(
    names: tuple[str, str], given: str, suggestion: str
) -> None:
    faults, _ = faults_of(
        broken_text(*RANGES_AT.items(), (LAST, f"{LAST}\n{PAIR.format(*names, 0.5)}"))
    )
    assert [(fault.line, dotted(fault.path)) for fault in faults] == [(150, "correlation.1.of")]
    assert faults[0].given == given
    assert suggestion in faults[0].suggestion
    # every key that may be named stands in the message, in the order of the file
    assert faults[0].allowed.endswith("rates.rig, run.1.wait, recovery.hours")


@pytest.mark.parametrize(
    "again", [("recovery.hours", "rates.rig"), ("rates.rig", "recovery.hours")]
)
def test_correlation_of_the_same_pair_twice(again: tuple[str, str]) -> None:
    pairs = PAIR.format("rates.rig", "recovery.hours", 0.5) + PAIR.format(*again, 0.4)
    faults, _ = faults_of(broken_text(*RANGES_AT.items(), (LAST, f"{LAST}\n{pairs}")))
    assert [(fault.line, dotted(fault.path)) for fault in faults] == [(153, "correlation.2.of")]
    assert "rates.rig and recovery.hours" in faults[0].given
    assert "once" in faults[0].allowed


def test_correlation_of_a_key_with_itself() -> None:
    pair = PAIR.format("rates.rig", "rates.rig", 0.5)
    faults, _ = faults_of(broken_text(*RANGES_AT.items(), (LAST, f"{LAST}\n{pair}")))
    assert dotted(faults[0].path) == "correlation.1.of"
    assert "different amounts" in faults[0].allowed


@pytest.mark.parametrize(("third", "sound"), [(-0.9, False), (0.8, True)])
def test_correlations_that_contradict_each_other(third: float, sound: bool) -> None:
    # independent: of three correlations 0.9, 0.9 and r the determinant 1 - 0.81 - 0.81 - r^2
    # + 1.62 r is negative at r = -0.9 and, about, positive from r = 0.62 to 1
    pairs = "".join(
        (
            PAIR.format("rates.rig", "recovery.hours", 0.9),
            PAIR.format("recovery.hours", "run.1.wait", 0.9),
            PAIR.format("rates.rig", "run.1.wait", third),
        )
    )
    text = broken_text(*RANGES_AT.items(), (LAST, f"{LAST}\n{pairs}"))
    if sound:
        assert len(parse(text).correlation) == 3
        return
    faults, _ = faults_of(text)
    assert [(fault.line, dotted(fault.path)) for fault in faults] == [(149, "correlation")]
    assert "positive definite" in faults[0].allowed
    assert "nearer to 0" in faults[0].suggestion


TEN = [  # ten faults in ten places; the last two are rules between sections
    (("price_date = 2026-03-01", 'price_date = "now"'), 4, "price_date"),
    (("open = 1300", "open = -1"), 18, "trip_speed.in.open"),
    ((RIG, "rig = { low = 2, high = 1 }"), 22, "rates.rig"),
    (("workable = 0.7", "workable = 70"), 27, "fishing.workable"),
    (('kind = "overshot"', 'kind = "overshoot"'), 46, "run.1.kind"),
    (("recovered = 0.66", "recovered = 0.65"), 55, "run.1.odds.workable"),
    (("hours = 34", 'hours = "34"'), 115, "recovery.hours"),
    (("n = 16384", "n = 16383"), 147, "draws.n"),
    (("bottom = 11850", "bottom = 11851"), 31, "fish.bottom"),
    (("kickoff_floor = 4260", "kickoff_floor = 11500"), 122, "fallback.1.kickoff_floor"),
]


def test_ten_faults_are_reported_in_one_go_in_the_order_of_the_file() -> None:
    faults, message = faults_of(broken_text(*(replacement for replacement, _, _ in TEN)))
    assert [(fault.line, dotted(fault.path)) for fault in faults] == sorted(
        (line, key) for _, line, key in TEN
    )
    assert len(message.split("\n")) == 10


def test_rule_between_sound_sections_is_run_while_another_section_is_faulty() -> None:
    faults, _ = faults_of(
        broken_text(("shoe_depth = 4200", "shoe_depth = 4250"), (RIG, "rig = -1"))
    )
    assert [(fault.line, dotted(fault.path)) for fault in faults] == [(22, "rates.rig")]
    faults, _ = faults_of(
        broken_text(("kickoff_floor = 4260", "kickoff_floor = 11200"), (RIG, "rig = -1"))
    )
    assert [(fault.line, dotted(fault.path)) for fault in faults] == [
        (22, "rates.rig"),
        (122, "fallback.1.kickoff_floor"),
    ]


@pytest.mark.parametrize(
    ("section", "field"),
    [("schema = 1", "schema = 2"), ("units =", "unit ="), ("[well]", "[hole]"), ("[fish]", "[f]")],
)
def test_rules_do_not_stumble_over_a_section_that_is_missing(section: str, field: str) -> None:
    ranges = RANGES_AT.items()
    faults, _ = faults_of(broken_text(*ranges, (section, field), ("n = 16384", "n = 3")))
    assert any(dotted(fault.path) == "draws.n" for fault in faults)
