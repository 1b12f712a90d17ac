"""Edits of a scenario's text: the values are those meant, and nothing else has changed.

What is meant is worked out here on plain values, apart from the code under test; `tomlkit`, a
reader of its own, agrees with `tomllib` on the result.
"""

from __future__ import annotations

import copy
import random
import tomllib
from collections import Counter
from datetime import date, datetime
from functools import cache
from pathlib import Path
from typing import Any

import hypothesis.strategies as st
import pytest
import tomlkit
from hypothesis import given, settings

from econ.desk.editing import edited
from econ.desk.text_blocks import Text
from econ.scenario.faults import ScenarioError
from econ.scenario.load import parse
from tests.scenario.test_lines import Writer

ROOT = Path(__file__).parents[2]
TEXTS = {
    path.relative_to(ROOT).as_posix(): path.read_text(encoding="utf-8")
    for path in [
        *sorted((ROOT / "scenarios").rglob("*.toml")),
        *sorted((ROOT / "econ" / "scenario").glob("starter*.toml")),
    ]
}
SOME = (  # that have all there is: marks, doubts, rentals, sections, inline and dotted tables
    "scenarios/d_rented_tools.toml",
    "scenarios/e_stuck_attached.toml",
    "scenarios/point/c_bit_cones.toml",
    "econ/scenario/starter.toml",
)
LISTS = ("run", "rental", "fish.piece", "fallback", "partner", "afe.line", "doubt", "reading")


def leaves(values: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    if isinstance(values, dict):
        return [leaf for name, each in values.items() for leaf in leaves(each, (*path, name))]
    if isinstance(values, list) and any(isinstance(each, dict) for each in values):
        return [leaf for n, each in enumerate(values) for leaf in leaves(each, (*path, n))]
    return [path]


def key(path: tuple[Any, ...]) -> str:
    return ".".join(str(step + 1) if isinstance(step, int) else step for step in path)


def at(values: Any, path: tuple[Any, ...]) -> Any:
    for step in path:
        values = values[step]
    return values


def lost(old: str, new: str) -> int:
    """How many lines that are not blank the new text lacks."""
    lines = [Counter(line for line in text.splitlines() if line.strip()) for text in (old, new)]
    return sum((lines[0] - lines[1]).values())


values_to_set = st.one_of(
    st.integers(-(10**12), 10**12),
    st.floats(allow_nan=False, allow_infinity=False),
    st.booleans(),
    st.text(max_size=30).filter(lambda text: not any(0xD800 <= ord(c) <= 0xDFFF for c in text)),
    st.dates(),
    st.datetimes(),
    st.lists(st.integers(0, 9), max_size=4),
    st.fixed_dictionaries({"low": st.floats(0, 10), "high": st.floats(10, 20)}),
)


def sent(value: Any) -> Any:
    """A value as a browser sends it."""
    return {"date": value.isoformat()} if isinstance(value, (date, datetime)) else value


@settings(max_examples=200, deadline=None, derandomize=True)
@given(st.data())
def test_random_edits_change_what_is_meant_and_nothing_else(data: st.DataObject) -> None:
    name = data.draw(st.sampled_from(SOME))
    ends = data.draw(st.sampled_from(["\n", "\r\n"]))
    text, values, keys, spans = known(name, ends)
    kind = data.draw(st.sampled_from(["set", "unset", "add", "delete", "move"]))
    if kind in ("set", "unset"):
        path = data.draw(st.sampled_from(keys))
        meant = copy.deepcopy(values)
        one_line = "\n" not in text[slice(*spans[path])]
        if kind == "set":
            value = data.draw(values_to_set)
            at(meant, path[:-1])[path[-1]] = value
            new = edited(text, [{"op": "set", "key": key(path), "value": sent(value)}])
            if one_line:
                assert lost(text, new) <= 1
                assert new.count("\n") == text.count("\n")
        else:
            del at(meant, path[:-1])[path[-1]]
            new = edited(text, [{"op": "unset", "key": key(path)}])
            if one_line:
                assert lost(text, new) <= 1
    else:
        lists = [each for each in LISTS if len(rows(values, each)) > (kind != "add")]
        if not lists:
            return
        name = data.draw(st.sampled_from(lists))
        # References to runs by number follow a run, which has a test of its own below.
        text = without_references(text)
        meant = tomllib.loads(text)
        count = len(rows(meant, name))
        place = data.draw(st.integers(0, count if kind == "add" else count - 1))
        if kind == "add":
            row = {"name": "New", "value": 5, "hours": {"low": 1, "high": 2.5}}
            row["odds"] = {"workable": {"recovered": 0.5, "nothing": 0.5}}
            rows(meant, name).insert(place, row)
            change = {"op": "add", "list": name, "at": place + 1, "values": row}
            new = edited(text, [change])
            assert lost(text, new) == 0
        elif kind == "delete":
            removed = Text(text).row_texts(tuple(name.split(".")))[place]
            del rows(meant, name)[place]
            new = edited(text, [{"op": "delete", "list": name, "at": place + 1}])
            assert lost(text, new) == sum(1 for line in removed.splitlines() if line.strip())
        else:
            to = data.draw(st.integers(0, count - 1))
            rows(meant, name).insert(to, rows(meant, name).pop(place))
            new = edited(text, [{"op": "move", "list": name, "at": place + 1, "to": to + 1}])
            assert lost(text, new) == lost(new, text) == 0
    read = tomllib.loads(new)
    assert read == meant
    if data.draw(st.integers(0, 9)) == 0:  # it takes its time
        assert tomlkit.parse(new).unwrap() == read
    assert new.count("\r\n") == (new.count("\n") if ends == "\r\n" else 0)


@cache
def known(name: str, ends: str) -> tuple[str, Any, list[tuple[Any, ...]], Any]:
    text = TEXTS[name].replace("\n", ends)
    values = tomllib.loads(text)
    return text, values, leaves(values), Text(text).spans


def rows(values: Any, name: str) -> Any:
    for step in name.split("."):
        values = values.get(step, [])
    return values


@cache
def without_references(text: str) -> str:
    """A text in which no number of a run or a fallback stands."""
    values = tomllib.loads(text)
    changes = [{"op": "unset", "key": "correlation"}]
    for section, names in (("run", ("after", "ratio_with")), ("rental", ("call_out",))):
        for number, row in enumerate(values.get(section, []), start=1):
            changes += [
                {"op": "unset", "key": f"{section}.{number}.{name}"}
                for name in names
                if name in row
            ]
    for number, line in enumerate(values.get("afe", {}).get("line", []), start=1):
        if "lapses_under" in line:
            changes.append({"op": "unset", "key": f"afe.line.{number}.lapses_under"})
    return edited(text, changes)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(st.randoms(use_true_random=False))
def test_any_document_is_edited_or_the_change_is_refused_in_words(chance: random.Random) -> None:
    """Documents with all that TOML has, in every spelling: none of a change that names what is
    there is refused for want of a way to write it."""
    writer = Writer(chance)
    writer.document()
    values = tomllib.loads(writer.text)
    text = writer.text.replace("\n", chance.choice(["\n", "\r\n"]))
    paths = [path for path in tables_and_leaves(values) if path]
    if not paths:
        return
    path = chance.choice(paths)
    steps_ = [str(step + 1) if isinstance(step, int) else step for step in path]
    if isinstance(path[-1], int):
        change = {"op": "delete", "list": steps_[:-1], "at": path[-1] + 1}
        if not all(isinstance(row, dict) for row in at(values, path[:-1])):
            return
    else:
        value = chance.choice([1, 2.5, "x", {"low": 1, "high": 2}, [1]])
        change = {"op": chance.choice(["set", "unset"]), "key": steps_, "value": value}
    edited(text, [change])


def tables_and_leaves(values: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    found = [path]
    if isinstance(values, (dict, list)):
        inner = list(values.items() if isinstance(values, dict) else enumerate(values))
    else:
        inner = []
    for step, each in inner:
        found += tables_and_leaves(each, (*path, step))
    return found


@pytest.mark.parametrize("name", SOME)
def test_the_first_row_of_every_list_can_go_and_move_to_the_end_and_back(name: str) -> None:
    text = TEXTS[name]
    for each in LISTS:
        count = len(rows(tomllib.loads(text), each))
        if count:
            edited(text, [{"op": "delete", "list": each, "at": 1}])
        if count > 1:
            there = edited(text, [{"op": "move", "list": each, "at": 1, "to": count}])
            back = edited(there, [{"op": "move", "list": each, "at": count, "to": 1}])
            assert tomllib.loads(back) == tomllib.loads(text)


# What a reader and writer of whole documents is known to spoil, one by one.


def test_the_comment_of_a_deleted_run_goes_with_it_and_that_of_the_next_stays() -> None:
    text = (
        "# The program.\n\n# first: overshot\n[[run]]\nname = 'a'\n\n"
        "# second: washover\n# by hand\n[[run]]\nname = 'b'\n"
    )
    assert edited(text, [{"op": "delete", "list": "run", "at": 1}]) == (
        "# The program.\n\n# second: washover\n# by hand\n[[run]]\nname = 'b'\n"
    )
    assert edited(text, [{"op": "delete", "list": "run", "at": 2}]) == (
        "# The program.\n\n# first: overshot\n[[run]]\nname = 'a'\n\n"
    )


def test_an_item_of_an_inline_list_goes_with_its_lines_and_comments() -> None:
    text = "[[run]]\ntrips = [\n  # wash\n  { work = 1 },  # h\n  # catch\n  { work = 2 },\n]\n"
    first = edited(text, [{"op": "delete", "list": "run.1.trips", "at": 1}])
    assert first == "[[run]]\ntrips = [\n  # catch\n  { work = 2 },\n]\n"
    second = edited(text, [{"op": "delete", "list": "run.1.trips", "at": 2}])
    assert second == "[[run]]\ntrips = [\n  # wash\n  { work = 1 },  # h\n]\n"
    text = "[[run]]\ntrips = [{ work = 1 }\n, { work = 2 }]\n"
    for place, work in ((1, 2), (2, 1)):
        new = edited(text, [{"op": "delete", "list": "run.1.trips", "at": place}])
        assert tomllib.loads(new)["run"][0]["trips"] == [{"work": work}]


def test_lists_that_are_written_between_one_another_stay_so() -> None:
    text = (
        "[[run]]\nname = 'a'\n[[rental]]\ntool = 'x'\n[[run]]\nname = 'b'\n"
        "[afe]\nnumber = '1'\n[run.odds]\nnothing = 1.0\n[[rental]]\ntool = 'y'\n"
    )
    assert edited(text, [{"op": "set", "key": "run.2.odds.nothing", "value": 0.5}]) == (
        text.replace("1.0", "0.5")
    )
    moved = tomllib.loads(edited(text, [{"op": "move", "list": "run", "at": 2, "to": 1}]))
    assert [run["name"] for run in moved["run"]] == ["b", "a"]
    assert moved["run"][0]["odds"] == {"nothing": 1.0}
    assert [tool["tool"] for tool in moved["rental"]] == ["x", "y"]


def test_numbers_keep_their_type_and_others_their_spelling() -> None:
    text = "a = 1.0\nb = 1_000\nc = 5e2\n"
    new = edited(text, [{"op": "set", "key": "a", "value": 2.0}])
    assert new == "a = 2.0\nb = 1_000\nc = 5e2\n"
    assert isinstance(tomllib.loads(new)["a"], float)


def test_line_ends_are_those_of_the_file() -> None:
    text = "a = 1\r\n[b]\r\nc = 1  # x\r\n"
    new = edited(
        text,
        [
            {"op": "set", "key": "b.d", "value": 2},
            {"op": "add", "list": "run", "values": {"name": "n", "trips": [{"work": 1}]}},
        ],
    )
    assert new.count("\n") == new.count("\r\n")
    assert new.startswith("a = 1\r\n[b]\r\nc = 1  # x\r\nd = 2\r\n")


def test_mixed_line_ends_stay_where_they_are() -> None:
    text = "a = 1\r\nb = 2\nc = 3\r\nd = 4\n"
    assert edited(text, [{"op": "set", "key": "b", "value": 5}]) == text.replace("b = 2", "b = 5")


def test_remarks_keep_their_column_and_ranges_are_written_on_one_line() -> None:
    text = "[rates]\nrig = 27000          # USD/d\nfuel = 5000 # USD/d\n"
    new = edited(
        text,
        [
            {"op": "set", "key": "rates.rig", "value": {"low": 1, "high": 2}},
            {"op": "set", "key": "rates.fuel", "value": 5},
        ],
    )
    assert new == ("[rates]\nrig = { low = 1, high = 2 }  # USD/d\nfuel = 5    # USD/d\n")


def test_a_key_that_stands_as_a_remark_is_used_and_put_back() -> None:
    text = (
        "[well]\ndepth = 9800   # ft\n# losses = false            # true or false\n\n"
        "# losses = true\n[rates]\nrig = 1\n"
    )
    new = edited(text, [{"op": "set", "key": "well.losses", "value": True}])
    assert new == text.replace("# losses = false            #", "losses = true               #", 1)
    assert edited(new, [{"op": "unset", "key": "well.losses"}]) == text.replace(
        "# losses = false            #", "# losses = true             #"
    )


def test_a_range_that_is_a_section_or_dotted_is_changed_where_it_stands() -> None:
    text = "[rates]\nrig.low = 1\nrig.high = 2\n[fallback]\n[fallback.woc]\nlow = 3\nhigh = 4\n"
    one = edited(text, [{"op": "set", "key": "rates.rig", "value": {"low": 5, "high": 6}}])
    assert one == text.replace("low = 1", "low = 5").replace("high = 2", "high = 6")
    two = edited(text, [{"op": "set", "key": "fallback.woc", "value": 24}])
    assert tomllib.loads(two)["fallback"] == {"woc": 24}


def test_what_refers_to_a_run_by_its_number_follows_it() -> None:
    text = (
        "[[run]]\nname = 'a'\n[[run]]\nname = 'b'\nafter = [1]\nbars = ['made_1', 'x']\n"
        "[[run]]\nname = 'c'\nafter = [2, 1]\nratio_with = { made_2 = 0.5 }\n"
        "[[rental]]\ntool = 't'\ncall_out = 3\n"
        "[[correlation]]\nof = ['run.1.charge', 'rates.rig']\n"
        "[[correlation]]\nof = ['run.3.charge', 'run.1.charge', 'rates.rig']\n"
        "[[correlation]]\nof = ['run.1.wait', 'run.1.charge']\n"
    )
    found = tomllib.loads(edited(text, [{"op": "delete", "list": "run", "at": 1}]))
    assert found["run"][0] == {"name": "b", "after": [], "bars": ["x"]}
    assert found["run"][1] == {"name": "c", "after": [1], "ratio_with": {"made_1": 0.5}}
    assert found["rental"][0]["call_out"] == 2
    assert found["correlation"] == [{"of": ["run.2.charge", "rates.rig"]}]
    found = tomllib.loads(edited(text, [{"op": "move", "list": "run", "at": 3, "to": 1}]))
    assert [run["name"] for run in found["run"]] == ["c", "a", "b"]
    assert found["run"][0]["after"] == [3, 2]
    assert found["run"][2]["bars"] == ["made_2", "x"]
    row = {"name": "new", "hours": 1}
    found = tomllib.loads(edited(text, [{"op": "add", "list": "run", "at": 1, "values": row}]))
    assert found["run"][2]["after"] == [2]
    assert found["rental"][0]["call_out"] == 4


def test_what_names_a_fallback_or_a_price_by_its_number_follows_it() -> None:
    text = (
        "[[run]]\nname = 'a'\n[[run]]\nname = 'b'\n"
        "[[fallback]]\nname = 'x'\n[[fallback]]\nname = 'y'\n"
        "[afe.price_reference]\n'run.2.charge' = 'list 1'\n'rates.rig' = 'list 2'\n"
        "[[afe.line]]\ncode = '1'\nlapses_under = [2, 1]\n"
    )
    found = tomllib.loads(edited(text, [{"op": "delete", "list": "run", "at": 1}]))
    assert found["afe"]["price_reference"] == {"run.1.charge": "list 1", "rates.rig": "list 2"}
    found = tomllib.loads(edited(text, [{"op": "move", "list": "fallback", "at": 2, "to": 1}]))
    assert found["afe"]["line"][0]["lapses_under"] == [1, 2]
    found = tomllib.loads(edited(text, [{"op": "delete", "list": "fallback", "at": 1}]))
    assert found["afe"]["line"][0]["lapses_under"] == [1]


def test_a_paste_lays_rows_over_those_that_are_there_and_adds_the_rest() -> None:
    text = TEXTS["scenarios/e_stuck_attached.toml"]
    new = edited(
        text,
        [
            {
                "op": "paste",
                "list": "fish.piece",
                "at": 4,
                "rows": [{"name": f"Piece {n}", "length": n, "value": n} for n in range(1, 41)],
            }
        ],
    )
    pieces = tomllib.loads(new)["fish"]["piece"]
    assert len(pieces) == 43
    assert pieces[3]["name"] == "Piece 1"
    assert pieces[42] == {"name": "Piece 40", "length": 40, "value": 40}
    assert lost(text, new) <= 3


def test_the_mark_of_a_planning_value_goes_where_it_is_set_or_kept() -> None:
    text = (
        "[rates]\nrig = 1   # REPLACE: USD/d, 0 or more\nfuel = 2 # REPLACE\n"
        "in = { cased = 3, open = 4 }  # REPLACE: ft/h\n"
    )
    assert Text(text).remarks() == {
        ("rates", "rig"): "REPLACE: USD/d, 0 or more",
        ("rates", "fuel"): "REPLACE",
        ("rates", "in"): "REPLACE: ft/h",
    }
    one = edited(text, [{"op": "set", "key": "rates.rig", "value": 5}])
    assert one == text.replace("rig = 1   # REPLACE: USD", "rig = 5   # USD")
    two = edited(one, [{"op": "keep", "key": "rates.fuel"}])
    assert two == one.replace("fuel = 2 # REPLACE", "fuel = 2")
    three = edited(two, [{"op": "set", "key": "rates.in.open", "value": 5}])
    assert three == two.replace("open = 4 }  # REPLACE: ft", "open = 5 }  # ft")


SOME_TEXTS = ("job.well", "fish.piece.1.name", "run.1.name", "partner.2.name")
HOSTILE = [
    'a"""\n[rates]\nrig = 1',
    "\\",
    "''' ",
    "\u202egnp.exe",
    "</script><script>alert(1)</script>",
    "=1+1",
    "tab\there",
    "nul\x00del\x7f",
    "\U0001f6e2 Öl",
    "#not a comment",
    "x" * 300,
]


@pytest.mark.parametrize("text", HOSTILE)
def test_hostile_names_are_read_back_letter_for_letter(text: str) -> None:
    job = TEXTS["econ/scenario/starter.toml"]
    values = tomllib.loads(job)
    changes: list[dict[str, Any]] = [
        {"op": "set", "key": path, "value": text}
        for path in map(key, leaves(values))
        if isinstance(at(values, steps(path)), str)
    ]
    if text != HOSTILE[0]:  # the first in every text of the file, the others in some
        changes = [each for each in changes if each["key"] in SOME_TEXTS]
    changes.append({"op": "set", "key": ["rates", text], "value": 5})
    changes.append({"op": "rename", "key": "rates.rig", "to": text + "2"})
    new = edited(job, changes)
    found = tomllib.loads(new)
    assert found["job"]["well"] == found["fish"]["piece"][0]["name"] == text
    assert found["rates"][text] == 5
    assert text + "2" in found["rates"]
    assert len(new.splitlines()) == len(job.splitlines()) + 1
    assert "\u202e" not in new


def steps(path: str) -> tuple[Any, ...]:
    return tuple(int(step) - 1 if step.isdecimal() else step for step in path.split("."))


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"op": "set", "key": "rates.rig", "value": float("nan")}, "a finite number"),
        ({"op": "set", "key": "rates.rig", "value": "\ud800"}, "letters that a text file"),
        ({"op": "set", "key": "rates.rig", "value": None}, "a number, a text"),
        ({"op": "set", "key": "rates.rig", "value": 10**30}, "a whole number of up to 18"),
        ({"op": "set", "key": "run.9.charge", "value": 1}, "an item from 1 to"),
        ({"op": "set", "key": "rates.rig.low", "value": 1}, "a key inside a table"),
        ({"op": "set", "key": "job.decided_at", "value": {"date": "2026-02-31"}}, "a date such as"),
        ({"op": "set", "key": ""}, "a key such as"),
        ({"op": "delete", "list": "run", "at": 0}, "an item from 1 to"),
        ({"op": "delete", "list": "rates", "at": 1}, "a list of tables"),
        ({"op": "move", "list": "run", "at": 1}, "a change with all its parts"),
        ({"op": "rename", "key": "rates.rig", "to": "fuel"}, "a name that is not taken"),
        ({"op": "paste", "list": "run", "rows": ["x"]}, "a list of rows"),
        ({"op": "exec"}, "one of: set, keep, unset"),
        ("nothing", "one of: set, keep, unset"),
    ],
)
def test_a_change_that_cannot_be_made_is_refused_in_words(change: Any, words: str) -> None:
    with pytest.raises(ScenarioError, match=words):
        edited(TEXTS["scenarios/a_land_twist_off.toml"], [change])


def test_of_several_changes_all_are_made_or_none() -> None:
    text = TEXTS["scenarios/a_land_twist_off.toml"]
    with pytest.raises(ScenarioError):
        edited(text, [{"op": "unset", "key": "rates.rig"}, {"op": "set", "key": "run.99.wait"}])


def test_a_new_section_comes_where_the_schema_has_it_and_is_checked() -> None:
    text = TEXTS["scenarios/a_land_twist_off.toml"]
    new = edited(
        text,
        [
            {"op": "set", "key": "deadline.in_days", "value": 30},
            {"op": "set", "key": "weather", "value": {"fishing": 0.1}},
            {"op": "add", "list": "doubt", "values": {"name": "top_good", "workable": 0.5}},
            {"op": "unset", "key": "fishing.workable"},
        ],
    )
    places = [new.index(f"\n{head}\n") for head in ("[[doubt]]", "[weather]", "[deadline]")]
    assert places == sorted(places)
    assert parse(new, folder=ROOT).deadline_days == 30


def test_what_is_planned_in_a_new_row_bears_the_mark_and_what_is_given_does_not() -> None:
    row = {"name": "New run", "hours": {"low": 2, "high": 3}, "odds": {"workable": {"nothing": 1}}}
    text = "[rates]\nrig = 1\n"
    added = edited(text, [{"op": "add", "list": "run", "values": row, "planned": True}])
    assert tomllib.loads(added)["run"] == [row]
    assert added.count("# REPLACE") == 3
    given = [{"op": "paste", "list": "run", "at": 1, "rows": [{"name": "Own"}], "planned": row}]
    pasted = edited(text, given)
    assert tomllib.loads(pasted)["run"] == [{**row, "name": "Own"}]
    marked = [line for line in pasted.splitlines() if "# REPLACE" in line]
    assert [line.split(" ")[0] for line in marked] == ["hours", "workable"]
