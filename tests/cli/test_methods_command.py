"""`econ methods`: what it prints, what it imports, how it answers bad input.

Expected texts and keys come from the design of the interface; facts of the trade are common
practice, no source, and are tested one by one beside the catalogue.
"""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest

from econ.job.methods.catalogue import catalogue
from econ.job.methods.survey import methods
from econ.reports.methods_tables import methods_document
from econ.reports.methods_text import methods_text
from econ.scenario import load

from .command import ROOT, A, check_plain, econ, ok, quoted, refused, scenario, write
from .test_cli import DEMOS, HEAVY, loaded

STARTER = ROOT / "econ" / "scenario" / "starter.toml"
TWIST_OFF = ROOT / "scenarios" / "a_land_twist_off.toml"
SOURCES = ROOT / "scenarios" / "b_offshore_sealed_sources.toml"
CONES = ROOT / "scenarios" / "c_bit_cones.toml"


def sections(text: str) -> dict[str, str]:
    """Headings in capitals and what stands under them, in one line each."""
    found: dict[str, list[str]] = {"": []}
    heading = ""
    for line in text.splitlines():
        if re.fullmatch(r"[A-Z][A-Z ,]+(: none)?", line):
            heading = line.removesuffix(": none")
            found[heading] = []
        else:
            found[heading].append(line.strip())
    return {name: " ".join(lines) for name, lines in found.items()}


def kinds_under(text: str, heading: str) -> set[str]:
    """Kinds listed under a heading: in brackets after the name, or before a colon."""
    body = sections(text)[heading]
    if heading != "DOES NOT SUIT":
        named = re.findall(r"\((\w+)\)", body)
    else:
        named = re.findall(r"\w+", " ".join(re.findall(r"- ([\w, ]+):", body)))
    return set(named) & set(catalogue().kinds)


@pytest.mark.parametrize("file", [*DEMOS, STARTER, A], ids=lambda path: path.stem)
def test_every_demonstration_has_a_reading(file: Path) -> None:
    text = ok("methods", file)
    check_plain(text)
    listed = [kinds_under(text, part) for part in ("SUITS", "DOUBTFUL", "DOES NOT SUIT")]
    assert set.union(*listed) == set(catalogue().kinds)
    assert sum(map(len, listed)) == len(catalogue().kinds)
    assert "judgement, no source" in sections(text)[""]
    # no run of a demonstration is of a kind that does not suit
    assert "IN THE PROGRAM, BUT DOES NOT SUIT" not in text


TORN = ("--set", "fish.top_condition=ragged", "--set", "fish.outside_diameter=4.5")


def test_reading_of_a_torn_top() -> None:
    text = ok("methods", TWIST_OFF, *TORN)
    # common practice: a torn top is dressed off before a grapple, and has no thread
    assert kinds_under(text, "SUITS") == {"dress_top"}
    assert "dress it off first" in sections(text)["DOUBTFUL"]
    assert "screw_in: needs a sound thread; the top is ragged" in sections(text)["DOES NOT SUIT"]
    assert "fish.bore_open" in sections(text)["NOT IN THE FILE, AND COULD CHANGE THIS"]


def test_the_odds_of_the_twist_off_agree_with_its_story() -> None:
    # by definition: with the prior of the file 0.7 x 0.66 + 0.3 x 0.03 = 0.471 for the first
    # catch, which suits and whose planning range holds it
    rows = {e["kind"]: e for e in json.loads(ok("methods", TWIST_OFF, "--json"))["kinds"]}
    assert rows["overshot"]["verdict"] == "suits"
    low, high = rows["overshot"]["whole"]
    assert low <= 0.471 <= high


def test_reading_of_a_string_packed_off_with_sources() -> None:
    text = ok("methods", SOURCES)
    # common practice: screw in on a clean top, wash over cavings, never mill near a source
    assert {"screw_in", "wash_then_catch", "washover"} <= kinds_under(text, "SUITS")
    assert "nothing may rupture it" in sections(text)["DOES NOT SUIT"]
    assert "would fall when freed" in sections(text)["SUITS"]


def test_reading_of_bit_cones() -> None:
    text = ok("methods", CONES)
    # common practice: magnet first for magnetic junk, reverse-circulating basket in hard rock
    assert kinds_under(text, "SUITS") == {"magnet", "rc_basket", "junk_mill"}
    assert "loose junk: no top to catch" in sections(text)["DOES NOT SUIT"]
    hard = ok("methods", CONES, "--set", "well.hardness=hard")
    assert "core_basket" in kinds_under(hard, "DOES NOT SUIT")
    bronze = ok("methods", CONES, "--set", "fish.ferrous=false")
    assert "magnet" in kinds_under(bronze, "DOES NOT SUIT")
    assert "run.1: magnet does not suit" in sections(bronze)["IN THE PROGRAM, BUT DOES NOT SUIT"]


def test_text_shows_what_the_document_holds() -> None:
    # every range of the document, as percent or hours, is in the text of its kind
    found = methods(load(TWIST_OFF))
    text = " ".join(methods_text(found).split())
    for each in methods_document(found)["kinds"]:
        if each["verdict"] == "no":
            assert each["reasons"][0] in text
            continue
        assert all(reason in text for reason in each["reasons"])
        low, likely, high = (each["hours"][part] for part in ("low", "likely", "high"))
        assert f"{low:.0f} to {high:.0f} h, likely {likely:.0f}" in text
        if each["whole"][1] > 0:
            assert f"out {100 * each['whole'][0]:.0f} to {100 * each['whole'][1]:.0f} %" in text


KEYS = {
    *("kind", "name", "goal", "verdict", "reasons", "not_known", "hours", "round_trips"),
    *("level", "lowered_by", "goal_met", "whole", "whole_if_dressed", "ceiling", "modifiers"),
    *("part", "top_damaged", "string_lost", "hole_lost", "options", "remarks"),
    *("charges", "source", "purpose", "string", "rate", "worth"),
    *("needs", "gives", "takes", "bars", "depends_on", "odds_source", "hours_source"),
}


@pytest.mark.parametrize("file", [TWIST_OFF, CONES], ids=lambda path: path.stem)
def test_json_is_one_document(file: Path) -> None:
    whole: dict[str, Any] = json.loads(ok("methods", file, "--json"))
    assert set(whole) == {
        *("scenario", "units", "basis", "charges", "fish", "kinds", "not_known", "unsuited_runs"),
        "log",
        *("currency", "safety", "stand_ins"),
    }
    assert "judgement, no source" in whole["basis"]
    assert {each["kind"] for each in whole["kinds"]} == set(catalogue().kinds)
    for each in whole["kinds"]:
        assert set(each) == KEYS
        assert 0 <= each["whole"][0] <= each["whole"][1] <= 1
        assert each["source"] == "judgement, no source"


def test_json_without_trip_speeds_has_no_hours(tmp_path: Path) -> None:
    file = write(tmp_path / "job.toml", scenario())
    rows = {each["kind"]: each for each in json.loads(ok("methods", file, "--json"))["kinds"]}
    assert rows["overshot"]["hours"] is None
    assert rows["soak"]["hours"] == {"low": 11.0, "likely": 19.0, "high": 33.0}
    text = ok("methods", file)
    assert "hours not known without [trip_speed]" in " ".join(text.split())


def test_run_prints_a_piece_that_loads(tmp_path: Path) -> None:
    piece = ok("methods", TWIST_OFF, "--run", "spear")
    assert piece.startswith("# Spear inside the pipe: planning ranges, judgement, no source.")
    text = TWIST_OFF.read_text(encoding="utf-8")
    file = write(tmp_path / "job.toml", f"{text}\n{piece}")
    said = " ".join(ok("answer", "--full", file, "--set", "draws.n=16").split())
    assert "the answer rests on planning defaults (judgement, no source) for run.6 (spear)" in said


def test_run_of_an_unknown_kind_is_refused() -> None:
    said = refused("methods", TWIST_OFF, "--run", "spare")
    assert "--run: given 'spare'" in said
    assert "did you mean spear?" in said
    both = econ("methods", TWIST_OFF, "--run", "spear", "--json")
    assert both.exit_code == 2
    assert "not both" in both.stderr


@pytest.mark.parametrize("more", [[], ["--json"], ["--run", "magnet"]])
def test_bad_files_are_refused(tmp_path: Path, more: list[str]) -> None:
    assert "no file" in refused("methods", tmp_path / "none.toml", *more)
    file = write(tmp_path / "job.toml", scenario().replace("rig = 20000", "rig = -1"))
    assert "rates.rig" in refused("methods", file, *more)
    assert "nonsense" in refused("methods", TWIST_OFF, "--set", "nonsense=1", *more)


def test_geometry_that_cannot_work_is_refused() -> None:
    said = refused("methods", TWIST_OFF, "--set", "run.4.tool_inside=4.25")
    assert "tool_inside = 4.25 in" in said
    assert "5 in" in said
    said = refused("answer", TWIST_OFF, "--set", "run.1.tool_outside=9.5")
    assert "tool_outside = 9.5 in" in said
    assert "8.5 in" in said


def test_hostile_names_stay_harmless(tmp_path: Path) -> None:
    for name in ("\x1b[31mred\x07", "two\nlines", "\u4e95 %s {0}", "x" * 300, " "):
        file = write(tmp_path / "job.toml", scenario(well=name, run=name))
        text = ok("methods", file)
        check_plain(text, names=name)
        assert quoted(name)  # the file held it
        json.loads(ok("methods", file, "--json"))


def test_methods_imports_no_tables_or_pictures() -> None:
    assert loaded("methods", "--help") & set(HEAVY) == set()
    assert loaded("methods", TWIST_OFF) & {"pandas", "matplotlib"} == set()
