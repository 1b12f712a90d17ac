"""Faults beside their field: no line, no key, no number near 0; the words of the form.

The faults are those of the table of broken files that `econ check` is held to.
"""

from __future__ import annotations

import re
import sys
from pathlib import Path

import pytest

from econ.desk.layout import keys
from econ.desk.wording import UNKNOWN_KEY, beside, fault_document, label_of, said
from econ.scenario.faults import Fault, ScenarioError
from econ.scenario.load import load, parse
from econ.scenario.notes import Beside, notes

sys.path.append(str(Path(__file__).parents[1] / "scenario"))
from broken_keys import ODDS, RANGES, TEXT, TYPES
from broken_rules import DEPTHS, DIVISORS, MISSING, PAPERS

ROOT = Path(__file__).parents[2]
OF_A_FILE = re.compile(r"line \d|1e-09|currency/|in quotes|\[\[[a-z]|required|ft or m")
NAMES = {name for path in keys() if "_" in (name := path.rsplit(".", maxsplit=1)[-1])}


def test_no_fault_speaks_of_lines_keys_or_numbers_near_0() -> None:
    count = 0
    for row in (*TYPES[:12], *RANGES[:12], *ODDS[:6], *DEPTHS, *DIVISORS[:4], *MISSING, *PAPERS):
        with pytest.raises(ScenarioError) as caught:
            parse(TEXT.replace(row.old, row.new, 1))
        for fault in caught.value.faults:
            if fault.given == UNKNOWN_KEY or not fault.path:
                continue
            document = fault_document(fault, {"units": "metric", "currency": "EUR"})
            words = document["words"]
            assert document["label"], fault
            assert not OF_A_FILE.search(words), words
            assert not NAMES & set(re.findall(r"\w+", words)), words
            count += 1
    assert count > 50


def test_a_fault_is_said_by_its_label_in_the_unit_of_the_file() -> None:
    missing = Fault(
        "nothing",
        "Depth where drilling stopped and every branch ends [ft or m], 0 or more; this key is "
        "required",
        "add depth = ...",
        ("well", "depth"),
        12,
    )
    assert str(missing).startswith("line 12, well.depth: given nothing; allowed: ")
    meaning = keys()["well.depth"].meaning
    missing = Fault(
        "nothing", f"{meaning} [ft or m], 0 or more; this key is required", "", missing.path
    )
    assert said(missing, {"units": "metric"}) == "Write a number of m, 0 or more."
    assert label_of(("fishing", "day_rates", "hands", "low")) == "Day rate, hands"
    assert label_of(("run", 1, "trips", 0, "work")) == "Run 2: Work on the fish"
    assert label_of(("runs.csv row 3", "end")) == ""


# by hand: 7 and 20 lb/gal are 839 and 2,397 kg/m3; 9.6 lb/gal are 1,150 kg/m3
ASKED = [
    (["well.mud_weight=96"], "96 lb/gal: is that meant? it is mostly 7 to 20 lb/gal"),
    (["well.mud_weight=1150"], "1,150 lb/gal: is it 1150 kg/m3, 9.597 lb/gal? units are field"),
    (["fish.piece.1.weight=900000"], "solid steel of this size weighs"),
    (["rates={rig=26, services=21}"], "47 USD/d in all: is that meant? are thousands left out?"),
    (["run.1.charge=9e6"], "9,000,000 USD: is that meant?"),
]


@pytest.mark.parametrize(("changes", "words"), ASKED, ids=lambda each: str(each)[:40])
def test_what_is_rarely_met_is_asked_beside_its_value(changes: list[str], words: str) -> None:
    found = notes(load(ROOT / "scenarios" / "point" / "a_land_twist_off.toml", changes))
    told = [beside(note) for note in found if isinstance(note, Beside)]
    key = changes[0].split("=")[0]
    assert any(words in each["text"] and each["key"] == key for each in told), told


def test_in_other_money_no_amount_of_money_is_asked_about() -> None:
    path = ROOT / "scenarios" / "point" / "a_land_twist_off.toml"
    found = notes(load(path, ["run.1.charge=9e6", 'currency="NOK"']))
    assert not [note for note in found if "is that meant" in note]
