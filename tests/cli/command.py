"""Runs a command and looks at what it prints; a small invented job for it."""

from __future__ import annotations

import json
import unicodedata
from pathlib import Path
from typing import Any, NoReturn

from click.testing import CliRunner, Result

from econ.cli import main

ROOT = Path(__file__).parents[2]
A = ROOT / "tests" / "data" / "scenario_a_check.toml"
B = ROOT / "scenarios" / "b_offshore_sealed_sources.toml"
QUICK = ("--set", "draws.n=16")
WIDEST = 72  # columns: a phone, and the body of an e-mail


def econ(*arguments: object) -> Result:
    return CliRunner().invoke(main, [str(argument) for argument in arguments])


def ok(*arguments: object) -> str:
    result = econ(*arguments)
    assert result.exit_code == 0, result.output
    return result.stdout


def refused(*arguments: object) -> str:
    """What bad input says; it exits with 2, prints nothing else and shows no traceback."""
    result = econ(*arguments)
    assert result.exit_code == 2
    assert result.exception is None or isinstance(result.exception, SystemExit)
    assert result.stdout == ""
    assert result.stderr.strip()
    assert "Traceback" not in result.stderr
    return result.stderr


def document(*arguments: object) -> dict[str, Any]:
    def no_constant(name: str) -> NoReturn:
        raise AssertionError(f"{name} is not JSON")

    found = json.loads(ok("answer", *arguments, "--json", *QUICK), parse_constant=no_constant)
    assert isinstance(found, dict)
    return found


def check_plain(text: str, *, names: str = "") -> None:
    """Printable ASCII, and the letters of names from the file, in lines that fit."""
    letters = {char for char in unicodedata.normalize("NFC", names) if char.isprintable()}
    for line in text.split("\n"):
        others = {char for char in line if not " " <= char <= "~"}
        assert others <= letters, ascii(line)
        assert len(line) <= WIDEST, line


def quoted(words: str) -> str:
    """A TOML string of any characters."""
    return '"' + "".join(f"\\U{ord(character):08x}" for character in words) + '"'


def scenario(*, runs: int = 1, well: str = "Well", run: str = "Run", **odds: float) -> str:
    """A small job with plain hours and a lump fallback; names go in as TOML strings."""
    outcome = odds or {"recovered": 0.4, "nothing": 0.4, "part": 0.1, "top_damaged": 0.1}
    table = ", ".join(f"{name} = {chance}" for name, chance in outcome.items())
    listed = f"""
[[run]]
name = {quoted(run)}
hours = 24
charge = 1000
part_length = 5
odds = {{ {table} }}
"""
    return f"""
schema = 1
units = "field"
currency = "USD"
[job]
well = {quoted(well)}
event = {quoted(run)}
[well]
depth = 9000
hole_diameter = 8.5
shoe_depth = 3000
[rates]
rig = 20000
[fish]
top = 8400
bottom = 9000
{listed * runs}
[[fallback]]
name = {quoted(run)}
hours = 200
cost = 300000
[draws]
n = 16
"""


def write(file: Path, text: str) -> Path:
    file.write_text(text, encoding="utf-8")
    return file
