"""`econ class` at the command line. What the page does is tested with the reports."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

from .command import ROOT, econ, ok, refused

CASE = ROOT / "scenarios" / "point" / "a_land_twist_off.toml"
LOG = ROOT / "scenarios" / "logs" / "a_two_runs.csv"


def data(file: Path) -> Any:
    found = re.search(
        r'<script type="application/json" id="data">(.*?)</script>', file.read_text("utf-8")
    )
    assert found is not None
    return json.loads(found[1])


def test_it_writes_one_page_with_its_envelopes(tmp_path: Path) -> None:
    out = tmp_path / "class.html"
    assert ok("class", CASE, "--log", LOG, "--log", LOG, "--out", out) == f"wrote {out}\n"
    assert [each.name for each in tmp_path.iterdir()] == ["class.html"]
    found = data(out)
    assert [log[0] for log in found["logs"]] == ["A", "B"]
    assert [step[0] for step in found["logs"][0][3]] == [1, 2]
    assert "a_two_runs" not in json.dumps(found)  # the class does not read the name of the file
    assert "A, a_two_runs" in out.read_text("utf-8")


def test_a_changed_case_has_another_number(tmp_path: Path) -> None:
    # so that a result of one case is not taken for one of the other
    small = ROOT / "scenarios" / "point" / "c_bit_cones.toml"
    numbers = set()
    for change in ("rates.rig=20000", "rates.rig=30000"):
        out = tmp_path / "class.html"
        ok("class", small, "--out", out, "--set", change)
        numbers.add(data(out)["id"])
    assert len(numbers) == 2


def test_bad_input_writes_nothing(tmp_path: Path) -> None:
    out = tmp_path / "class.html"
    empty = tmp_path / "empty.csv"
    empty.write_text("run,start,end,outcome\n", encoding="utf-8")
    assert "a log with at least one" in refused("class", CASE, "--out", out, "--log", empty)
    assert "fishing.workable" in refused("class", CASE, "--out", out, "--set", "fishing.workable=2")
    assert ".html" in refused("class", CASE, "--out", tmp_path / "class.pdf")
    assert "scenario" in refused("class", CASE, "--out", CASE)
    assert "holds 8" in refused("class", CASE, "--out", out, *["--log", LOG] * 9)
    assert not out.exists()


def test_a_log_is_never_replaced(tmp_path: Path) -> None:
    log = tmp_path / "log.html"
    log.write_bytes(LOG.read_bytes())
    assert "that is read" in refused("class", CASE, "--log", log, "--out", log)
    assert log.read_bytes() == LOG.read_bytes()


def test_help_loads_nothing_heavy() -> None:
    script = (
        "import sys\nfrom click.testing import CliRunner\nfrom econ.cli import main\n"
        "assert CliRunner().invoke(main, ['class', '--help']).exit_code == 0\n"
        "print([m for m in ('numpy', 'scipy', 'pydantic', 'jinja2') if m in sys.modules])"
    )
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=True
    )
    assert done.stdout == "[]\n"
    assert "envelope" in econ("class", "--help").stdout
