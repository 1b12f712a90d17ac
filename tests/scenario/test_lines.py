"""The line of every key: against lines counted by hand, documents that know their own, and noise.

Origin of the expected values: in the first part lines are counted by hand; in the second the
generator notes the line as it writes each key; in the third only the kind of error is expected.
"""

from __future__ import annotations

import random
import tomllib
from pathlib import Path as File
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from econ.scenario.lines import DEEPEST, Path, key_lines, nearest_line

TEXT = (File(__file__).parents[1] / "data" / "scenario_a_check.toml").read_text(encoding="utf-8")


def document(*lines: str) -> str:
    """A text of these lines, the first of which is line 1."""
    return "\n".join(lines)


# name: (text, the line of every key and item in it, counted by hand)
COUNTED: dict[str, tuple[str, dict[Path, int]]] = {
    "plain keys, blank lines and comments": (
        document("# head", "", "a = 1  # b = 2", "  b = 'x'", "", "# c = 3", "d=4 "),
        {("a",): 3, ("b",): 4, ("d",): 7},
    ),
    "nested inline tables": (
        document("x = 1", "a = { b = { c = 1, d = { e = 2 } }, f = [{ g = 1 }] }"),
        {
            ("x",): 1,
            ("a",): 2,
            ("a", "b"): 2,
            ("a", "b", "c"): 2,
            ("a", "b", "d"): 2,
            ("a", "b", "d", "e"): 2,
            ("a", "f"): 2,
            ("a", "f", 0): 2,
            ("a", "f", 0, "g"): 2,
        },
    ),
    "array over several lines": (
        document("a = [", "  1, # ] one", "", "  { b = 1 },", "  [2,", "   3],", "]", "c = []"),
        {
            ("a",): 1,
            ("a", 0): 2,
            ("a", 1): 4,
            ("a", 1, "b"): 4,
            ("a", 2): 5,
            ("a", 2, 0): 5,
            ("a", 2, 1): 6,
            ("c",): 8,
        },
    ),
    "array opened late and closed late": (
        document("a = [ # none yet", "", "# still none", "1", ",2", ",", "]", "b = 1"),
        {("a",): 1, ("a", 0): 4, ("a", 1): 5, ("b",): 8},
    ),
    "basic string over several lines": (
        document('a = """', "x = 1 # no key", '[no.table] "" { ] ', '\\""" end \\\\"""', "b = 2"),
        {("a",): 1, ("b",): 5},
    ),
    "literal string over several lines": (
        document("a = '''", "x = 1 # no ' key '' ", "[[no]] \"\"\" \\'''", "b = 2"),
        {("a",): 1, ("b",): 4},
    ),
    "quotes that belong to a string over several lines": (
        document('a = ["""x""""", """""", """"y""" ]', "b = ['''z''''',", "'']", "c = 1"),
        {
            ("a",): 1,
            ("a", 0): 1,
            ("a", 1): 1,
            ("a", 2): 1,
            ("b",): 2,
            ("b", 0): 2,
            ("b", 1): 3,
            ("c",): 4,
        },
    ),
    "strings on one line with marks in them": (
        document("a = \"# ] } = ' \\\" \\\\\"", "b = '\\'", "c = { d = \"},{\", e = '[' }"),
        {("a",): 1, ("b",): 2, ("c",): 3, ("c", "d"): 3, ("c", "e"): 3},
    ),
    "line continued in a string": (
        document('a = { b = """x \\', '   y""", c = 1 }', "d = 1"),
        {("a",): 1, ("a", "b"): 1, ("a", "c"): 2, ("d",): 3},
    ),
    "quoted and dotted keys": (
        document("\"a.b\" = 1", "c . 'd e'.f = 2", 'c."\\u0067" = 3', "1.2 = 4", '"" = 5'),
        {
            ("a.b",): 1,
            ("c",): 2,
            ("c", "d e"): 2,
            ("c", "d e", "f"): 2,
            ("c", "g"): 3,
            ("1",): 4,
            ("1", "2"): 4,
            ("",): 5,
        },
    ),
    "tables, with a table after its own sub-table": (
        document("[a.b]", "c = 1", "[ a ] # again", "d = 2", '[ "x y" . z ]'),
        {
            ("a",): 3,
            ("a", "b"): 1,
            ("a", "b", "c"): 2,
            ("a", "d"): 4,
            ("x y",): 5,
            ("x y", "z"): 5,
        },
    ),
    "arrays of tables with sub-tables": (
        document(
            "[[a]]",  # 1
            "b = 1",
            "[a.c]",  # 3
            "d = 1",
            "[[a.e]]",  # 5
            "f = 1",
            "[[a.e]]",  # 7
            "[a.e.g]",
            "h = 1",  # 9
            "[[a]]",
            "[[a.e]]",  # 11
            "f = 2",
            "[a.c]",  # 13
            "d.i = 2",
        ),
        {
            ("a",): 1,
            ("a", 0): 1,
            ("a", 0, "b"): 2,
            ("a", 0, "c"): 3,
            ("a", 0, "c", "d"): 4,
            ("a", 0, "e"): 5,
            ("a", 0, "e", 0): 5,
            ("a", 0, "e", 0, "f"): 6,
            ("a", 0, "e", 1): 7,
            ("a", 0, "e", 1, "g"): 8,
            ("a", 0, "e", 1, "g", "h"): 9,
            ("a", 1): 10,
            ("a", 1, "e"): 11,
            ("a", 1, "e", 0): 11,
            ("a", 1, "e", 0, "f"): 12,
            ("a", 1, "c"): 13,
            ("a", 1, "c", "d"): 14,
            ("a", 1, "c", "d", "i"): 14,
        },
    ),
    "a table array inside a table of the same name": (
        document("[[a]]", "[[a.a]]", "a = 1", "[[a.a]]", "a = 2", "[a.a.b]", "c = 1"),
        {
            ("a",): 1,
            ("a", 0): 1,
            ("a", 0, "a"): 2,
            ("a", 0, "a", 0): 2,
            ("a", 0, "a", 0, "a"): 3,
            ("a", 0, "a", 1): 4,
            ("a", 0, "a", 1, "a"): 5,
            ("a", 0, "a", 1, "b"): 6,
            ("a", 0, "a", 1, "b", "c"): 7,
        },
    ),
    "values of every type": (
        document("a = 2026-03-14 06:00:00", "b = +1_0.5e-3", "c = true", "d = [inf, 0x_f]")
        .replace("0x_f", "0xf"),
        {("a",): 1, ("b",): 2, ("c",): 3, ("d",): 4, ("d", 0): 4, ("d", 1): 4},
    ),
    "nothing": ("", {}),
    "only a comment": ("# a = 1", {}),
}  # fmt: skip


def paths(value: Any, path: Path = ()) -> set[Path]:
    """Every key path in a document."""
    inner: list[tuple[str | int, Any]] = []
    if isinstance(value, dict):
        inner = list(value.items())
    elif isinstance(value, list):
        inner = list(enumerate(value))
    return {(*path, step) for step, _ in inner}.union(
        *(paths(item, (*path, step)) for step, item in inner)
    )


@pytest.mark.parametrize("name", COUNTED)
def test_lines_are_those_counted_by_hand(name: str) -> None:
    text, lines = COUNTED[name]
    assert key_lines(text) == lines
    assert paths(tomllib.loads(text)) == set(lines)  # no key was forgotten in the count


@pytest.mark.parametrize("name", COUNTED)
def test_windows_line_ends_count_once(name: str) -> None:
    text, lines = COUNTED[name]
    assert key_lines(text.replace("\n", "\r\n")) == lines


def test_scenario_file_has_a_line_for_every_key() -> None:
    lines = key_lines(TEXT)
    assert set(lines) == paths(tomllib.loads(TEXT))
    # counted by hand in the file
    assert lines["job", "decided_at"] == 9
    assert lines["fish", "piece", 1, "value"] == 42
    assert lines["run", 1] == 58
    assert lines["run", 1, "trips", 1, "work"] == 62
    assert lines["run", 4, "odds", "stubborn", "hole_lost"] == 112
    assert lines["draws", "seed"] == 148


def test_nearest_line_is_that_of_the_innermost_key_in_the_text() -> None:
    lines: dict[Path, int] = {("a",): 3, ("a", 0): 4, ("a", 0, "b"): 5, ("c",): 0}
    assert nearest_line(lines, ("a", 0, "b")) == 5
    assert nearest_line(lines, ("a", 0, "x", "y")) == 4
    assert nearest_line(lines, ("a", 7)) == 3
    assert nearest_line(lines, ("c", "d")) is None  # set from outside the text
    assert nearest_line(lines, ("e",)) is None
    assert nearest_line(lines, ()) is None


def test_key_of_too_many_names_is_refused_before_its_lines_fill_the_memory() -> None:
    name = ".".join("a" * (DEEPEST - 1))
    assert len(key_lines(f"{name} = 1")) == DEEPEST - 1
    with pytest.raises(RecursionError):
        key_lines(f"{name}.b.c.d = 1")


# Documents that know the line of each of their keys


class Writer:
    """Writes a random document and notes where each key stands."""

    def __init__(self, chance: random.Random) -> None:
        self.chance = chance
        self.text = ""
        self.lines: dict[Path, int] = {}
        self.names = 0

    def put(self, text: str) -> None:
        self.text += text

    def note(self, path: Path) -> None:
        self.lines[path] = self.text.count("\n") + 1

    def name(self) -> str:
        """A new name: bare, quoted or literal."""
        self.names += 1
        return self.chance.choice(["k{}", "k-{}", "k.{}", "k {}", 'k"{}', "k#{}", "[k]{}"]).format(
            self.names
        )

    def key(self, name: str) -> str:
        """The name as written."""
        bare = all(char.isalnum() or char in "-_" for char in name)
        forms = ['"' + name.replace('"', '\\"') + '"', f"'{name}'", *([name] * 4 if bare else [])]
        return self.chance.choice(forms)

    def blank(self) -> None:
        self.put(self.chance.choice(["", "", " ", "\t", "  "]))

    def between(self) -> None:
        """What may stand between items of an array."""
        for _ in range(self.chance.randrange(3)):
            self.put(self.chance.choice(["\n", " ", ' # ] } \' """ = [\n', "\n\n"]))

    def pairs(self, path: Path, count: int, depth: int) -> None:
        for _ in range(count):
            for _ in range(self.chance.randrange(2)):
                self.put(self.chance.choice(["\n", "# [x] y = '''\n", "   \n"]))
            self.pair(path, depth)
            self.put(self.chance.choice(["\n", ' # = "\n', " \n"]))

    def pair(self, path: Path, depth: int) -> None:
        self.blank()
        for number in range(self.chance.choice([1, 1, 1, 2, 3])):
            if number:
                self.blank()
                self.put(".")
                self.blank()
            name = self.name()
            path = (*path, name)
            self.note(path)
            self.put(self.key(name))
        self.blank()
        self.put("=")
        self.blank()
        self.value(path, depth)

    def value(self, path: Path, depth: int) -> None:
        kind = self.chance.randrange(6 if depth else 4)
        if kind < 2:
            self.put(self.chance.choice(["1", "-2.5e3", "true", "nan", "2026-03-14", "0b1"]))
        elif kind == 2:
            self.put(self.chance.choice(["'#]'", '"}\\"="', "''", '""', "'\\'"]))
        elif kind == 3:
            long = ["'''\n[x]\n'a' = \"\n'''", '"""\n\n\\"""#\n"" ]"""', '"""a"""""', "''''b'''''"]
            self.put(self.chance.choice(long))
        elif kind == 4:
            self.put("{")
            for number in range(self.chance.randrange(4)):
                self.put("," if number else "")
                self.pair(path, depth - 1)
                self.blank()
            self.put("}")
        else:
            self.put("[")
            for number in range(self.chance.randrange(4)):
                self.put("," if number else "")
                self.between()
                self.note((*path, number))
                self.value((*path, number), depth - 1)
                self.between()
            self.put("]")

    def document(self) -> None:
        self.pairs((), self.chance.randrange(4), 2)
        for _ in range(self.chance.randrange(4)):
            name = self.name()
            if self.chance.randrange(2):
                self.note((name,))
                self.put(f"[ {self.key(name)}\t]\n")
                self.pairs((name,), self.chance.randrange(3), 2)
                self.inner_table((name,), [name])
                continue
            self.note((name,))
            for item in range(self.chance.randrange(1, 4)):
                self.note((name, item))
                self.put(f"[[{self.key(name)} ]] # [[\n")
                self.pairs((name, item), self.chance.randrange(3), 2)
                self.inner_table((name, item), [name])

    def inner_table(self, path: Path, names: list[str]) -> None:
        """Perhaps a table, or an array of them, inside the last table."""
        if self.chance.randrange(2):
            return
        name = self.chance.choice([self.name(), *([names[0]] if len(self.lines) else [])])
        if (*path, name) in self.lines:
            return
        header = ".".join(self.key(each) for each in [*names, name])
        self.note((*path, name))
        if self.chance.randrange(2):
            self.put(f"[{header}]\n")
            self.pairs((*path, name), self.chance.randrange(3), 1)
            return
        for item in range(self.chance.randrange(1, 3)):
            self.note((*path, name, item))
            self.put(f"[[{header}]]\n")
            self.pairs((*path, name, item), self.chance.randrange(3), 1)


@settings(max_examples=200, deadline=None, derandomize=True)
@given(st.randoms(use_true_random=False))
def test_lines_agree_with_the_writer_of_the_document(chance: random.Random) -> None:
    writer = Writer(chance)
    writer.document()
    assert paths(tomllib.loads(writer.text)) == set(writer.lines)  # the writer is right itself
    assert key_lines(writer.text) == writer.lines
    assert key_lines(writer.text.replace("\n", "\r\n")) == writer.lines
