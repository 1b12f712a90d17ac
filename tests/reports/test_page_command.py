"""`econ page` at the command line, and the tables behind the page.

Origin of expected numbers: independent (the answer of the file) unless a line says otherwise.
"""

from __future__ import annotations

import json
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result
from page_jobs import DEMOS, FOLDER, demo

from econ.cli import main
from econ.reports.tables.page import KNOBS
from econ.reports.tables.page import page as tables

pytestmark = pytest.mark.usefixtures("few_bins", "few_states")  # no plan, no percentile
QUICK = ("--set", "draws.n=16")


def run(*arguments: object) -> Result:
    return CliRunner().invoke(main, ["page", *(str(each) for each in arguments)])


def data(file: Path) -> Any:
    """The data block of a page."""
    text = file.read_text(encoding="utf-8")
    found = re.search(r'<script type="application/json" id="data">(.*?)</script>', text)
    assert found is not None
    return json.loads(found[1])


def test_it_writes_one_page(tmp_path: Path) -> None:
    out = tmp_path / "page.html"
    result = run(DEMOS["a"], "--out", out, *QUICK)
    assert result.exit_code == 0
    assert result.stdout == f"wrote {out}\n"
    assert [each.name for each in tmp_path.iterdir()] == ["page.html"]
    assert "<title>What if: Marlow Bench 14-3</title>" in out.read_text(encoding="utf-8")


def test_it_replaces_a_page_with_the_same_bytes(tmp_path: Path) -> None:
    out = tmp_path / "page.html"
    out.write_text("before", encoding="utf-8")
    pages = []
    for _ in range(2):
        assert run(DEMOS["c"], "--out", out, *QUICK).exit_code == 0
        pages.append(out.read_bytes())
    assert pages[0] == pages[1]


def test_changes_and_a_log_are_those_of_the_answer(tmp_path: Path) -> None:
    out = tmp_path / "page.html"
    log = FOLDER / "logs" / "a_two_runs.csv"
    assert run(DEMOS["a"], "--out", out, "--log", log, *QUICK).exit_code == 0
    assert "after 2 runs of the log" in out.read_text(encoding="utf-8")
    assert data(out)["model"]["limits"] == 4
    assert run(DEMOS["a"], "--out", out, "--set", "limits.minimum_runs=2", *QUICK).exit_code == 0
    assert data(out)["minimum"] == 2


@pytest.mark.parametrize(
    ("change", "words"),
    [("draws.n=17", "power of two"), ("rates.rig=-1", "rates.rig"), ("no.such=1", "no")],
)
def test_bad_input_writes_nothing(change: str, words: str, tmp_path: Path) -> None:
    result = run(DEMOS["a"], "--out", tmp_path / "page.html", "--set", change)
    assert result.exit_code == 2
    assert words in result.stderr
    assert result.stdout == ""
    assert "Traceback" not in result.output
    assert list(tmp_path.iterdir()) == []


def test_a_place_that_cannot_be_written_to_is_bad_input(tmp_path: Path) -> None:
    for out in (tmp_path, tmp_path / "none" / "page.html"):
        result = run(DEMOS["a"], "--out", out, *QUICK)
        assert result.exit_code == 2
        assert "Traceback" not in result.output
    assert list(tmp_path.iterdir()) == []


def test_without_a_place_it_says_what_is_missing() -> None:
    result = run(DEMOS["a"])
    assert result.exit_code == 2
    assert "--out" in result.stderr


def test_help_loads_nothing_heavy() -> None:
    script = (
        "import sys\nfrom click.testing import CliRunner\nfrom econ.cli import main\n"
        "assert CliRunner().invoke(main, ['page', '--help']).exit_code == 0\n"
        "print([m for m in ('numpy', 'scipy', 'pydantic', 'jinja2') if m in sys.modules])"
    )
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=True
    )
    assert done.stdout == "[]\n"


# ---- tables -----------------------------------------------------------------------------------


@pytest.mark.parametrize("letter", sorted(DEMOS))
def test_tables_hold_nothing_but_plain_values(letter: str) -> None:
    made = demo(letter)
    found = tables(made.answer, made.model)
    assert json.loads(json.dumps(found, allow_nan=False)) == found
    assert {knob["name"] for knob in found["knobs"]} <= set(KNOBS)
    for knob in found["script"]["knobs"]:
        assert knob["least"] <= knob["now"] <= knob["most"]
