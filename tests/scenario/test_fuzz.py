"""A scenario text damaged at random is read or refused in words: nothing else ever happens."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from econ.scenario import Scenario, ScenarioError, parse

TEXT = (Path(__file__).parents[1] / "data" / "scenario_a_check.toml").read_text(encoding="utf-8")
KEYS = sum("=" in line for line in TEXT.split("\n"))
VALUES = [
    "nan", "-inf", "-1", "1e400", "0", "true", '""', "'x'", '"\\u001b[31m"', "[]", "[[1, 2]]",
    "[{}]", "{}", "{ low = 1, high = 2 }", "{ low = 2, high = 1 }", "{ mean = 0.5, weight = 3 }",
    "{ values = [1], weights = [] }", "{ p10 = 1, p50 = 1, p90 = 1 }", "2026-03-14", "06:00:00",
    "{ '<number>' = 1 }", "{ '<lump>' = { hours = 1 } }", "[nan, [inf]]", "0x" + "f" * 5000,
    "{ hours = 1, trips = 2 }", "{ workable = 1 }", "{ a.b.c.d = 1 }", "[" * 300 + "]" * 300,
]  # fmt: skip
PIECES = [
    "[[", "]", "{", "}", "=", ".", "#", '"""', "'''", '"', "\\", "\n", "\r", "\0", "\x1b", "\ufeff",
    "\n[run]\n", "\n[[run]]\n", "\n[[fallback]]\nhours = 1\n", "\n[limits]\nminimum_runs = 9\n",
    "\n[[correlation]]\nof = ['rates.rig', 'rates.rig']\nrho = 0.5\n", "\u00e9", "\U0001f600",
]  # fmt: skip


def damaged(chance: random.Random) -> str:
    """The text with one to three random changes."""
    text = TEXT
    for _ in range(chance.randint(1, 3)):
        lines = text.split("\n")
        row, at = chance.randrange(len(lines)), chance.randrange(len(text))
        kind = chance.randrange(7)
        if kind == 0:
            text = text[:at] + text[at + chance.randint(1, 40) :]
        elif kind == 1:
            text = text[:at] + chance.choice(PIECES) + text[at:]
        elif kind == 2:
            text = text[:at] + chr(chance.randrange(0xD800)) + text[at + 1 :]
        else:
            name, equals, _ = lines[row].partition("=")
            if kind == 3:
                lines.insert(chance.randrange(len(lines)), lines[row])
            elif kind == 4 or not equals:
                del lines[row]
            elif kind == 5:
                lines[row] = lines[row].replace(name, name.strip()[::-1] + " ")
            else:
                lines[row] = f"{name}= {chance.choice(VALUES)}"
            text = "\n".join(lines)
        text = text or TEXT
    return text


def outcome(text: str, overrides: list[str]) -> str:
    """How reading ends."""
    try:
        assert isinstance(parse(text, overrides), Scenario)
        return "read"
    except ScenarioError as error:
        faults, message = error.faults, str(error)
    assert faults
    assert message.replace("\n", "").isascii()
    assert message.replace("\n", "").isprintable()
    last = text.count("\n") + 1
    assert all(fault.line is None or 1 <= fault.line <= last for fault in faults)
    assert not [word for word in ("pydantic", "typing.", "<class") if word in message]
    return "refused"


@pytest.mark.parametrize("seed", range(5))
def test_damaged_text_is_read_or_refused_in_words(seed: int) -> None:
    chance = random.Random(seed)
    ends = [outcome(damaged(chance), []) for _ in range(100)]
    assert 50 < ends.count("refused") < 100  # both ends are met


def test_every_value_of_the_file_replaced_by_every_other_kind_of_value() -> None:
    chance = random.Random(7)
    lines = TEXT.split("\n")
    for row, line in enumerate(lines):
        name, equals, _ = line.partition("=")
        if equals:
            for value in chance.sample(VALUES, 2):
                outcome("\n".join([*lines[:row], f"{name}= {value}", *lines[row + 1 :]]), [])
    assert KEYS > 100  # so that more than 200 replacements were tried


def test_random_overrides_are_taken_or_refused_in_words() -> None:
    chance = random.Random(11)
    steps = [
        "run",
        "rates",
        "rig",
        "1",
        "9",
        "0",
        "odds",
        "in",
        "fallback",
        "x",
        "",
        "trips",
        "\x1b",
    ]
    for _ in range(100):
        name = ".".join(chance.choices(steps, k=chance.randint(1, 5)))
        outcome(TEXT, [f"{name}={chance.choice(VALUES + PIECES)}"])
