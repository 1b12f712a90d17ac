"""Programs that contradict themselves are refused: order, rented tools, fallbacks at the ends.

Origin of the expected values: what contradicts what follows from the meaning of the keys in the
format; words are the contract of the messages (where, what was given, what is allowed, what to
do). Lines are found by the text of the key in the changed file.
"""

from __future__ import annotations

from typing import NamedTuple

import pytest
from broken_keys import LAST, TEXT

from econ.scenario import Fault, ScenarioError, parse
from econ.scenario.scenario import dotted

SIDETRACK = TEXT[TEXT.index("[[fallback]]") : TEXT.index("[draws]")]
DRILL_PAST = '[[fallback]]\nname = "Past"\nkind = "drill_past"\nhours = 20\n'
ABANDON = '[[fallback]]\nname = "Leave"\nkind = "abandon"\nhours = 20\n'
ENDS = ("string_lost", "hole_lost")


class Case(NamedTuple):
    """A changed text; the key and the text of the line of its only fault, and its words."""

    text: str
    key: str
    line: str
    given: str
    allowed: str
    suggestion: str


def after(**needed: str) -> str:
    """The sound text with `after` of some runs; the keyword run_3 is run 3."""
    text = TEXT
    for name, numbers in needed.items():
        start = f'[[run]]\nname = "{name.removeprefix("run_")} '
        assert start in text
        text = text.replace(start, start.replace("\nname", f"\nafter = {numbers}\nname"), 1)
    return text


def rental(keys: str, *, run: str = "") -> str:
    """The sound text with a rental, and more keys of run 3."""
    start = '[[run]]\nname = "3 '
    text = TEXT.replace(start, start.replace("\nname", f"\n{run}\nname"), 1) if run else TEXT
    return text.replace(LAST, f'{LAST}\n[[rental]]\ntool = "Jars"\nday = 900\n{keys}')


def fallbacks(text: str, *, without: tuple[str, ...] = ()) -> str:
    """The sound text with other fallbacks, and no chance of some outcomes but in run 2 and 4."""
    changed = TEXT.replace(SIDETRACK, text)
    lines = []
    run = 0
    for line in changed.split("\n"):
        run += line == "[[run]]"
        if line.startswith(("workable = {", "stubborn = {")) and run not in (2, 4):
            odds = dict(part.split(" = ") for part in line.split("{ ")[1].strip(" }").split(", "))
            for outcome in without:
                odds["nothing"] = f"{float(odds['nothing']) + float(odds.pop(outcome)):.6f}"
            inside = ", ".join(f"{name} = {value}" for name, value in odds.items())
            line = f"{line.split(' ')[0]} = {{ {inside} }}"
        lines.append(line)
    return "\n".join(lines)


def faults_of(text: str) -> list[Fault]:
    """The faults of a text, none where it is sound."""
    try:
        parse(text)
    except ScenarioError as error:
        return error.faults
    return []


BROKEN = [
    # order
    Case(
        after(run_1="[6]"),
        "run.1.after",
        "after = [6]",
        "6, no run listed",
        "other runs, counted from 1: 2, 3, 4, 5",
        "leave it out",
    ),
    Case(
        after(run_2="[1, 2]"),
        "run.2.after",
        "after = [1, 2]",
        "2, the run itself",
        "1, 3, 4, 5",
        "leave it out",
    ),
    # rented tools
    Case(
        rental('kinds = ["spear", "magnet"]'),
        "rental.1",
        "[[rental]]",
        "spear, magnet",
        "kinds and options of the runs listed: overshot",
        "held_days if it is on contract",
    ),
    Case(
        rental('options = ["accelerator"]', run='options = ["jars"]'),
        "rental.1",
        "[[rental]]",
        "accelerator",
        "overshot, jars",
        "take the rental out",
    ),
    Case(
        rental("call_out = 6"),
        "rental.1.call_out",
        "call_out = 6",
        "call_out = 6",
        "a run listed, 1 to 5",
        "",
    ),
    # fallbacks
    Case(
        fallbacks(DRILL_PAST + "after_hole_lost = true\n"),
        "fallback",
        "[[fallback]]",
        "no fallback that is open after string_lost",
        "because run 1, 2, 3, 4, 5 can end so",
        "after_string_lost = true",
    ),
    Case(
        fallbacks(DRILL_PAST + "after_string_lost = true\n", without=("hole_lost",)),
        "fallback",
        "[[fallback]]",
        "no fallback that is open after hole_lost",
        "because run 2, 4 can end so",
        "after_hole_lost = true",
    ),
    Case(
        fallbacks(ABANDON + "after_hole_lost = false\n" + DRILL_PAST),
        "fallback",
        "[[fallback]]",
        "open after hole_lost",
        "at least one",
        "add a fallback",
    ),
]


@pytest.mark.parametrize("case", BROKEN, ids=lambda case: f"{case.key}:{case.given}")
def test_contradiction_is_found_placed_and_explained(case: Case) -> None:
    faults = faults_of(case.text)
    assert [dotted(fault.path) for fault in faults] == [case.key]
    fault = faults[0]
    assert fault.line is not None
    assert case.text.split("\n")[fault.line - 1] == case.line
    assert case.given in fault.given
    assert case.allowed in fault.allowed
    assert case.suggestion in fault.suggestion
    message = str(fault)
    assert message.isascii()
    assert len(message) < 400


@pytest.mark.parametrize(
    "text",
    [
        after(run_2="[1]", run_5="[1, 2, 4]"),
        after(run_5="[4, 4]"),  # said twice
        after(run_5="[]"),
        after(run_2="[4]"),  # a list is a priority: run 2 is passed over until run 4 was made
        rental("call_out = 0"),
        rental("call_out = 1"),
        rental("call_out = 2"),  # run 1 uses it before, and is then what calls it out
        rental('options = ["jars"]', run='options = ["jars"]'),
        rental('options = ["jars"]\ncall_out = 3', run='options = ["jars"]'),
        rental('options = ["jars"]\nkinds = ["overshot"]'),  # either is enough
        rental('kinds = ["spear"]\nheld_days = 2'),
        fallbacks(SIDETRACK + DRILL_PAST),
        fallbacks(DRILL_PAST + ABANDON),
        fallbacks(DRILL_PAST + "after_string_lost = true\nafter_hole_lost = true\n"),
        fallbacks(
            ABANDON + "after_string_lost = false\n" + DRILL_PAST + "after_string_lost = true\n"
        ),
    ],
)
def test_sound_program_has_no_fault(text: str) -> None:
    assert faults_of(text) == []


def test_runs_that_wait_for_one_another_are_named() -> None:
    faults = faults_of(after(run_1="[5]", run_4="[1]", run_5="[3, 4]"))
    # each number of the circle 1, 5, 4 is one of three to leave out; 3 before 5 is none of it
    assert [(dotted(fault.path), fault.given) for fault in faults] == [
        ("run.1.after", "run 1 after run 5 after run 4 after run 1"),
        ("run.4.after", "run 4 after run 1 after run 5 after run 4"),
        ("run.5.after", "run 5 after run 4 after run 1 after run 5"),
    ]
    assert all("do not wait for one another" in fault.allowed for fault in faults)
    assert all("leave one" in fault.suggestion for fault in faults)


def test_every_contradiction_is_reported_at_once() -> None:
    text = after(run_1="[9, 2]", run_2="[2]").replace(SIDETRACK, DRILL_PAST)
    text = text.replace(LAST, f'{LAST}\n[[rental]]\ntool = "Pipe"\nkinds = ["washover"]')
    given = [fault.given for fault in faults_of(text)]
    assert len(given) == 5
    for words in ("9, no run", "2, the run itself", "string_lost", "hole_lost"):
        assert any(words in each for each in given), words
    assert "washover" in given[-1]  # the last line of the file


def test_a_program_without_runs() -> None:
    start, end = TEXT.index("[[run]]"), TEXT.index("[recovery]")
    text = TEXT[:start] + TEXT[end:]
    assert faults_of(text) == []
    jars = '\n[[rental]]\ntool = "Jars"\n'
    faults = faults_of(text.replace(LAST, f"{LAST}{jars}call_out = 1"))
    assert [dotted(fault.path) for fault in faults] == ["rental.1", "rental.1.call_out"]
    assert "none, because no run is listed" in faults[0].allowed
    assert "0 for now, because no run is listed" in faults[1].allowed
    assert faults_of(text.replace(LAST, f"{LAST}{jars}held_days = 4")) == []


def test_a_run_that_cannot_lose_anything_asks_for_no_other_fallback() -> None:
    text = fallbacks(DRILL_PAST, without=ENDS)
    for outcome in ENDS:  # runs 2 and 4 still can
        assert any(outcome in fault.given for fault in faults_of(text))
    start, end = TEXT.index("[[run]]"), TEXT.index("[recovery]")
    sound = '[[run]]\nname = "Jar"\nhours = 9\nodds = { recovered = 0.5, nothing = 0.5 }\n'
    assert faults_of((TEXT[:start] + sound + TEXT[end:]).replace(SIDETRACK, DRILL_PAST)) == []
