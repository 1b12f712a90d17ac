"""Doubts and marks that contradict themselves are refused, and those without effect are noted.

Origin of the expected values: what contradicts what follows from the meaning of the keys in the
format; words are the contract of the messages (where, what was given, what is allowed, what to
do). Lines are found by the text of the key in the changed file.
"""

from __future__ import annotations

from typing import NamedTuple

import pytest
from stuck_string import STUCK, changed, without

from econ.scenario import Fault, ScenarioError, parse
from econ.scenario.marks import one_letter_apart
from econ.scenario.notes import notes
from econ.scenario.scenario import dotted

DOUBT_4 = '[[doubt]]\nname = "washable"\nworkable = 0.5\n'
NOTHING = "odds = { prepared = 0.9, nothing = 0.1 }"  # of run 2


class Bad(NamedTuple):
    """A changed text; key and line of a fault, and words of it."""

    text: str
    key: str
    line: str
    given: str
    allowed: str
    suggestion: str = ""
    faults: int = 1  # in the whole file, where no one of them is the first


def faults_of(text: str) -> list[Fault]:
    """The faults of a text, none where it is sound."""
    try:
        parse(text)
    except ScenarioError as error:
        return error.faults
    return []


def run(number: int, keys: str) -> str:
    """The job with more keys of a run."""
    name = ("1 Jar from the floor", "2 Back off", "3 Wash over", "4 Overshot")[number - 1]
    return changed((f'name = "{name}"', f'name = "{name}"\n{keys}'))


MANY = ", ".join(f'"m{"abcdefghijklmnopq"[n]}{n}x{n}y"' for n in range(16))  # and washed

DOUBTS = [
    Bad(
        changed(('name = "jars_free"', 'name = "Top_Good"'), ('["jars_free"]', '["top_good"]')),
        *("doubt.2.name", 'name = "Top_Good"', "'Top_Good', the name of doubt 1 as well"),
        *("a name for each doubt", "rename one"),
    ),
    Bad(
        changed(("[fishing]", "[fishing]\nworkable = 0.6")),
        *("fishing.workable", "workable = 0.6", "beside [[doubt]]"),
        *("a chance in one place", "take it out here"),
    ),
    Bad(
        changed(('["jars_free"]', '["jar_free"]')),
        *("run.1.depends_on.1", 'depends_on = ["jar_free"]', "'jar_free'"),
        *("names of doubts: top_good, jars_free", "did you mean jars_free?"),
    ),
    Bad(
        changed(("{ top_good = 0.8 }", "{ washable = 0.8 }")),
        *("run.2.renews.washable", "renews = { washable = 0.8 }", "'washable'"),
        "names of doubts: top_good, jars_free",
    ),
    Bad(
        changed(('about = "top_good"', 'about = "top"')),
        *("reading.1.about", 'about = "top"', "'top'", "names of doubts: top_good, jars_free"),
    ),
    Bad(
        changed(('about = "top_good"\n', "")),
        *("reading.1.about", "[[reading]]", "no doubt that it reads"),
        *("one of top_good, jars_free, because the file has several", 'about = "top_good"'),
    ),
    Bad(
        changed(('["jars_free"]', "[]")),
        *("run.1.depends_on", "depends_on = []", "an empty list, with odds by kind"),
        *("one table of odds depends on none", "leave depends_on out"),
    ),
    Bad(
        run(2, 'depends_on = ["top_good"]'),
        *("run.2.depends_on", 'depends_on = ["top_good"]', "doubts, with one table of odds"),
        *("with odds for workable and stubborn", "give odds.workable and odds.stubborn"),
    ),
    Bad(
        changed(
            ("[fish]\n", "".join(DOUBT_4.replace("able", f"_{n}") for n in "abc") + "[fish]\n")
        ),
        *("doubt", "[[doubt]]", "5 items", "at most 4 items"),
    ),
    Bad(
        changed(('name = "top_good"', 'name = "top good"')),
        *("doubt.1.name", 'name = "top good"', "'top good'", "a word of letters, digits and under"),
    ),
    Bad(
        changed(("workable = 0.7", "")),
        *("doubt.1.workable", "[[doubt]]", "nothing", "this key is required", "add workable"),
    ),
]

MARKS = [
    Bad(
        changed(('gives = ["washed"]', 'gives = ["made_clean"]'), ('needs = ["washed"]', "")),
        *("run.3.gives.1", 'gives = ["made_clean"]', "'made_clean'"),
        *("does not begin with made_; or made_1 to made_4, for runs made", "rename it"),
    ),
    Bad(
        changed(('needs = ["made_2"]', 'needs = ["made_9"]')),
        *("run.3.needs.1", 'needs = ["made_9"]', "'made_9', no run listed", "made_1 to made_4"),
    ),
    Bad(
        run(4, 'gives = ["made_1"]'),
        *("run.4.gives.1", 'gives = ["made_1"]', "'made_1', which a run made gives by itself"),
        *("marks of the file's own, and attached", "leave it out"),
    ),
    Bad(
        run(4, 'takes = ["damaged_top"]'),
        *("run.4.takes.1", 'takes = ["damaged_top"]', "which the outcome top_damaged gives"),
        *("marks of the file's own", "dresses_top = true takes it"),
    ),
    Bad(
        changed(('"circulates"]', '"circulates", "made_1"]')),
        *("fish.marks.3", 'marks = ["attached", "circulates", "made_1"]', "'made_1'", "own, and"),
    ),
    Bad(
        run(4, f"bars = [{MANY}]"),
        *("run.4.bars.15", f"bars = [{MANY}]", "'mo14x14y', the 17th mark of the file's own"),
        *("at most 16 of them", "join some"),
    ),
    Bad(
        run(4, 'gives = ["washed"]\ntakes = ["washed"]'),
        *("run.4.gives", 'gives = ["washed"]', "'washed' in gives and in takes"),
        *("a mark that the run gives, or one that it takes", "leave it out of one"),
    ),
    Bad(
        run(2, 'bars = ["attached"]'),
        *("run.2.needs", 'needs = ["attached"]', "'attached' in needs and in bars"),
        *("a mark that must hold, or one that must not", "leave it out of one"),
    ),
    Bad(
        changed(('bars = ["damaged_top"]', 'bars = ["washed"]')),
        *("fallback.2.needs", 'needs = ["washed"]', "'washed' in needs and in bars", "must hold"),
    ),
    # spelling
    Bad(
        changed(('"attached", "circulates"', '"attached", "Circulates"')),
        *("run.1.ratio_with.circulates", "ratio_with = { circulates = 1.4, made_1 = 0.5 }"),
        *("'circulates', and elsewhere 'Circulates'", "one spelling", "mean Circulates?"),
    ),
    Bad(
        changed(('needs = ["washed"]', 'needs = ["washd"]')),
        *("fallback.2.needs.1", 'needs = ["washd"]', "'washd', and elsewhere 'washed'"),
        *("one spelling for one mark", "did you mean washed?"),
    ),
    Bad(
        changed(('bars = ["damaged_top"]', 'bars = ["damaged_tops"]')),
        *("fallback.2.bars.1", 'bars = ["damaged_tops"]', "elsewhere 'damaged_top'", "one spell"),
    ),
    Bad(
        run(1, 'bars = ["atached"]'),
        *("run.1.bars.1", 'bars = ["atached"]', "and elsewhere 'attached'", "one", "attached?"),
    ),
    Bad(
        changed(('needs = ["made_2"]', 'needs = ["Made_2"]')),
        *("run.3.needs.1", 'needs = ["Made_2"]', "and elsewhere 'made_2'", "one", "mean made_2?"),
    ),
    # needs that never hold
    Bad(
        run(4, 'needs = ["cable_loose"]'),
        *("run.4.needs.1", 'needs = ["cable_loose"]', "[fish] marks has it not, and no run gives"),
        *("marks that can hold: attached, circulates, damaged_top, washed", "give it in a run"),
    ),
    Bad(
        changed(("{ prepared = 0.7, nothing = 0.29, top_", "{ nothing = 0.99, top_")),
        *("fallback.2.needs.1", 'needs = ["washed"]', "only run 3 gives it, with no chance of"),
        "marks that can hold: attached",
    ),
    Bad(
        changed(('needs = ["made_2"]', 'needs = ["made_3"]'), ('needs = ["washed"]\n', "")),
        *("run.3.needs.1", 'needs = ["made_3"]', "run 3 can never be made", "marks that can hold"),
        "leave it out, or correct the number",
    ),
    Bad(
        changed(
            ("top_damaged = 0.01", "string_lost = 0.01"),
            ("nothing = 0.4, top_damaged", "nothing = 0.4, string_lost"),
            ("nothing = 0.85, top_damaged", "nothing = 0.85, string_lost"),
            ('needs = ["attached"]\ntakes', 'needs = ["attached", "damaged_top"]\ntakes'),
        ),
        *("run.2.needs.2", 'needs = ["attached", "damaged_top"]', "no run that can be made"),
        "marks that can hold: attached, circulates, washed",
    ),
    # attached
    Bad(
        changed(("hours = 14", "trips = [{ work = 3 }]")),
        *("run.2.trips", "trips = [{ work = 3 }]", "trips, of a run that needs attached"),
        *("hours, because nothing trips", "under hours"),
    ),
    Bad(
        changed(('needs = ["washed"]', 'needs = ["washed", "attached"]')),
        *("fallback.2.needs", 'needs = ["washed", "attached"]', "attached, of a fallback"),
        *("parting has taken attached", "leave it out"),
    ),
    # prepared
    Bad(
        changed(
            ('gives = ["washed"]\n', ""),
            ('needs = ["washed"]\n', ""),
            ("ratio_with = { washed = 4 }\n", ""),
        ),
        *("run.3.odds", "odds = { prepared = 0.7, nothing = 0.29, top_damaged = 0.01 }"),
        *("prepared = 0.7, which changes nothing", "a mark that the run gives or takes"),
        "count these odds as nothing",
    ),
    # fallbacks
    Bad(
        changed(("gross_rop = 36", 'bars = ["damaged_top"]')),
        *("fallback", "[[fallback]]", "needs or bars of every fallback"),
        *("at least one fallback that is open whatever marks hold", "add a fallback with neither"),
    ),
    Bad(
        changed(
            ("gross_rop = 36", 'kind = "drill_past"\nhours = 20'),
            ('needs = ["washed"]', 'after_hole_lost = true\nneeds = ["washed"]'),
        ),
        *("fallback", "[[fallback]]", "no fallback that is open after hole_lost"),
        *("at least one without needs and bars, because run 1 can", "after_hole_lost = true"),
    ),
    # runs that wait for one another by a mark and a number together: run 4 comes after run 2
    Bad(
        changed(('needs = ["attached"]\ntakes', 'needs = ["attached", "made_4"]\ntakes')),
        *("run.2.needs.2", 'needs = ["attached", "made_4"]', "run 4 can never be made"),
        *("marks that can hold: attached, circulates", "correct the number"),
        faults=3,
    ),
]  # fmt: skip

CLOCK = [
    Bad(
        changed(("fishing = 0.1", "fishing = 0.91")),
        *("weather.fishing", "fishing = 0.91", "0.91", "from 0 to 0.9"),
    ),
    Bad(
        changed(("{ washed = 4 }", "{ washed = 0 }")),
        *("run.4.ratio_with.washed", "ratio_with = { washed = 0 }", "0", "1e-09 or more"),
    ),
    Bad(
        changed(("{ top_good = 0.8 }", "{ top_good = 1.8 }")),
        *("run.2.renews.top_good", "renews = { top_good = 1.8 }", "1.8", "from 0 to 1"),
    ),
    Bad(
        changed(("at_most = 3", "at_most = 0")),
        *("run.1.at_most", "at_most = 0", "0", "1 or more"),
    ),
    Bad(
        changed(("fishing_share = 0", "fishing_share = 2")),
        *("run.1.fishing_share", "fishing_share = 2", "2", "from 0 to 1"),
    ),
]


@pytest.mark.parametrize("bad", [*DOUBTS, *MARKS, *CLOCK], ids=lambda bad: f"{bad.key}:{bad.given}")
def test_contradiction_is_found_placed_and_explained(bad: Bad) -> None:
    faults = faults_of(bad.text)
    assert len(faults) == bad.faults, faults
    (fault,) = [fault for fault in faults if dotted(fault.path) == bad.key]
    assert fault.line is not None
    assert bad.text.split("\n")[fault.line - 1] == bad.line
    assert bad.given in fault.given
    assert bad.allowed in fault.allowed
    assert bad.suggestion in fault.suggestion
    assert str(fault).isascii()
    assert len(str(fault)) < 400


def test_a_circle_is_told_once_for_each_run_in_it_and_not_to_those_that_wait_for_them() -> None:
    faults = faults_of(run(2, "after = [4]"))
    assert [dotted(fault.path) for fault in faults] == ["run.2.after", "run.4.after"]
    assert all("do not wait for one another" in fault.allowed for fault in faults)


def test_parting_is_asked_for_where_the_string_is_or_may_become_attached() -> None:
    (fault,) = faults_of(without("[parting]"))
    assert fault.given == "no [parting]"
    assert "is or can become attached" in fault.allowed
    assert "add [parting] with hours" in fault.suggestion
    loose = changed(("hours = 5\n", 'hours = 5\nbars = ["washed"]\n'), text=without("[parting]"))
    loose = loose.replace('needs = ["attached"]\n', "")
    loose = changed(('["attached", "circulates"]', '["circulates"]'), text=loose)
    loose = changed(('takes = ["attached", "circulates"]', 'takes = ["circulates"]'), text=loose)
    assert faults_of(loose) == []
    caught = changed(('gives = ["washed"]', 'gives = ["washed", "attached"]'), text=loose)
    assert [fault.given for fault in faults_of(caught)] == ["no [parting]"]


@pytest.mark.parametrize(
    "text",
    [
        run(4, 'gives = ["cable_1", "cable_2"]'),  # numbered on purpose
        run(4, 'bars = ["live", "lip", "lap"]'),  # short words
        run(4, 'needs = ["damaged_top"]'),
        run(4, "after = [2]").replace("after = [2]\nratio", "ratio"),
        run(1, 'bars = ["made_4"]'),
        changed(("after = [2]", "after = [3, 2]")),
        changed((NOTHING, "odds = { part = 0.9, nothing = 0.1 }\npart_length = 30")),
        # what prepared tells about the fish is reason enough
        changed(
            ('gives = ["washed"]\nodds = { prepared = 0.7, nothing = 0.29, top_damaged = 0.01 }',
             'gives = ["washed"]\n[run.odds]\n'
             "workable = { prepared = 1 }\nstubborn = { nothing = 1 }"),
        ),
        run(4, 'takes = ["washed"]'),
        # one doubt need not be named by a reading
        changed(('about = "top_good"\n', ""), ('depends_on = ["jars_free"]\n', ""),
                text=without("[[doubt]]").replace("renews = { top_good = 0.8 }\n", "")),
    ],
)  # fmt: skip
def test_sound_job_has_no_fault(text: str) -> None:
    assert faults_of(text) == []


def test_prepared_may_be_evidence_alone() -> None:
    text = changed(
        ('takes = ["attached", "circulates"]\nrenews = { top_good = 0.8 }\n', ""),
        (NOTHING, "[run.odds]\nworkable = { prepared = 0.9, nothing = 0.1 }\n"
                  "stubborn = { prepared = 0.2, nothing = 0.8 }"),
    )  # fmt: skip
    assert faults_of(text) == []
    alike = text.replace("prepared = 0.2, nothing = 0.8", "prepared = 0.9, nothing = 0.1")
    assert [dotted(fault.path) for fault in faults_of(alike)] == ["run.2.odds"]
    renews = 'needs = ["attached"]\nrenews = { top_good = 0.5 }\n[run.odds]'
    renewed = changed(('needs = ["attached"]\n[run.odds]', renews), text=alike)
    assert faults_of(renewed) == []


@pytest.mark.parametrize(
    ("one", "other", "apart"),
    [
        ("washed", "wahsed", False),
        ("washed", "washes", True),
        ("washed", "wwashed", True),
        ("washed", "washedd", True),
        ("washed", "wash", False),
        ("Cable_Loose", "cableloose", True),  # no letter apart
        ("cable_1", "cable_2", False),
        ("cable", "cable1", False),
        ("live", "lives", True),
        ("lip", "lap", False),
        ("cable_whole", "cable_loose", False),
    ],
)
def test_words_a_letter_apart(one: str, other: str, *, apart: bool) -> None:
    assert one_letter_apart(one, other) is apart
    assert one_letter_apart(other, one) is apart


# Notes.


def said(text: str) -> list[str]:
    """What the notes say that they do not say of the sound job."""
    before = notes(parse(STUCK))
    return [words for words in notes(parse(text)) if words not in before]


NOTED = [
    (
        changed(("[fish]", f"{DOUBT_4}[fish]"),
                ("after = [2]", 'after = [2]\ndepends_on = ["top_good"]')),
        ["doubt.3 (washable) is not used: the odds of no run depend on it"],
    ),
    (
        run(4, 'bars = ["live", "no_touch"]'),
        ["bars of run.4 without effect for live, no_touch, which never hold: neither [fish] marks "
         "nor a run that can be made has it"],
    ),
    (
        run(3, "ratio_with = { cable_loose = 2 }"),
        ["ratio_with of run.3 without effect for cable_loose, which never holds: neither [fish] "
         "marks nor a run that can be made has it"],
    ),
    (
        changed(('"circulates"]', '"circulates", "sour"]'),
                ("after = [2]", 'after = [2]\nbars = ["sour"]')),
        ["run.4 can never be made, in no order and after no outcome: sour, which bars it, holds "
         "now and no run that can be made takes it"],
    ),
    (
        changed(('"circulates"]', '"circulates", "sour"]'),
                ('bars = ["damaged_top"]', 'bars = ["sour"]')),
        ["fallback.2 is never open: sour, which bars it, holds now and no run that can be made "
         "takes it"],
    ),
    (
        run(1, 'gives = ["jarred"]'),
        ["run.1: gives without effect, because prepared and part have no chance"],
    ),
    (
        changed(("string_value = 90000\n", "")),
        ["run.1 can lose the hole while attached, but its string_value is 0; the string above the "
         "parting point is lost with the hole, so put its value there"],
    ),
]  # fmt: skip


@pytest.mark.parametrize(("text", "expected"), NOTED, ids=lambda value: str(value)[2:40])
def test_what_has_no_effect_is_noted(text: str, expected: list[str]) -> None:
    assert said(text) == expected


def test_a_run_barred_for_good_leaves_behind_what_needs_it() -> None:
    # the back-off is barred, so the string stays attached and nothing below is ever made
    text = changed(
        ('"circulates"]', '"circulates", "sour"]'),
        ('needs = ["attached"]\ntakes', 'needs = ["attached"]\nbars = ["sour"]\ntakes'),
    )
    never = [words for words in said(text) if "never be made" in words]
    assert [words.split(" ")[0] for words in never] == ["run.2", "run.3", "run.4"]
    assert "made_2, which it needs, never holds and attached, which bars it" in never[1]
    assert any(words.startswith("fallback.2 is never open: washed") for words in said(text))


def test_parting_without_anything_attached_is_noted() -> None:
    loose = STUCK.replace('["attached", "circulates"]', '["circulates"]')
    loose = loose.replace('needs = ["attached"]\n', "")
    (words,) = [each for each in said(loose) if "parting" in each]
    assert words == "[parting] is not used: neither [fish] marks nor a run says attached"


def test_catalogue_of_a_note_is_said_once_for_all_runs() -> None:
    text = run(3, "ratio_with = { live = 2 }")
    text = changed(('bars = ["attached"]\ngives', 'bars = ["attached", "no_touch"]\ngives'),
                   ("after = [2]", 'after = [2]\nbars = ["no_touch"]'), text=text)  # fmt: skip
    assert [words.partition(" without")[0] for words in said(text)] == [
        "bars of run.3, run.4",
        "ratio_with of run.3",
    ]
