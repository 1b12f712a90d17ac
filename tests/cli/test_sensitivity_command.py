"""`econ sensitivity` and `econ whatif` at the command line.

What they must print comes from the design of the interface; numbers are those of the Python
functions, which have their own tests.
"""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any, NoReturn

import pytest

import econ as package
from econ.decision.sensitivity import sensitivity
from econ.decision.whatif import whatif

from .command import ROOT, A, check_plain, econ, ok, refused, scenario, write

KEYS = {
    *("scenario", "currency", "draws", "scrambles", "seed", "version", "base", "correlated"),
    "log",
    *("amounts", "drivers", "knowing", "importance", "break_even", "map"),
}
RANGES = (
    *("--set", "run.1.charge={low=2000,likely=4200,high=9000}"),
    *("--set", "fishing.workable={low=0.3,high=0.9}"),
    *("--set", "draws.scrambles=16"),
)


@pytest.fixture
def file(tmp_path: Path) -> Path:
    return write(tmp_path / "job.toml", scenario(runs=2))


def parsed(*arguments: object) -> dict[str, Any]:
    def no_constant(name: str) -> NoReturn:
        raise AssertionError(f"{name} is not JSON")

    found = json.loads(ok(*arguments, "--json"), parse_constant=no_constant)
    assert isinstance(found, dict)
    return found


# ---- sensitivity ------------------------------------------------------------------------------


def test_text_is_plain_and_complete() -> None:
    text = ok("sensitivity", A, *RANGES)
    check_plain(text)
    headings = (
        "WHAT MOVES THE COST, AND WHAT MOVES THE LIMIT",
        "COST: YOUR RANGES, limit kept at 3 runs (thousand USD)",
        "LIMIT: YOUR RANGES, best limit now 3",
        "MAIN DRIVERS",
        "WHERE THE VERDICT FLIPS",
        "MAP OF THE BEST LIMIT",
        "WORTH OF KNOWING",
        "WHERE THE SPREAD OF THE EXPECTED COST COMES FROM",
    )
    places = [text.index(heading) for heading in headings]
    assert places == sorted(places)  # the cost first, the limit apart from it, then the rest
    assert "fixed steps, not ranges of yours" in " ".join(text.split())
    assert "workable chance     0.45 / 0.75" in text
    assert "run.1.charge" in text
    assert "[3]" in text


def test_text_of_single_numbers_and_of_no_runs(file: Path) -> None:
    text = ok("sensitivity", file)
    check_plain(text)
    assert "Every amount of the file is a single number: no range." in text
    assert "spread, one rate" in text
    assert "WORTH OF KNOWING" not in text
    write(file, scenario(runs=0))
    text = ok("sensitivity", file)
    check_plain(text)
    assert "As it stands: stop now" in text
    assert "MAP" not in text


def test_text_of_names_that_are_not_ascii(file: Path) -> None:
    well = "\u00d1and\u00fa \u202e\x1b[31m \u00e6"
    write(file, scenario(runs=1, well=well))
    for text in (ok("sensitivity", file), ok("whatif", file, "--set", "rates.rig=1")):
        check_plain(text, names=well)
        assert "\u00d1and\u00fa \\u202e\\x1b[31m \u00e6" in text


def test_required_runs_are_named(file: Path) -> None:
    write(file, scenario(runs=2, recovered=0.01, nothing=0.99))
    text = ok("sensitivity", file, "--set", "limits.minimum_runs=2")
    check_plain(text)
    assert "2 runs must be made" in text
    assert "Runs that must be made are left out" in text
    assert "At least 2 runs, as required." in text


def test_json_is_what_the_function_gives(file: Path) -> None:
    made = package.load(file, ("run.1.charge={low=1000,high=40000}",))
    found = sensitivity(made)
    whole = parsed("sensitivity", file, "--set", "run.1.charge={low=1000,high=40000}")
    assert set(whole) == KEYS
    assert whole["base"]["runs"] == found.best
    assert whole["base"]["expected_cost"] == found.best_cost.value
    (swing,) = whole["amounts"]
    assert swing["name"] == "run.1.charge"
    assert swing["low"]["value"] == pytest.approx(4_900)
    assert swing["high"]["change_limit_kept"] == found.amounts[0].high.change_kept.value
    assert whole["drivers"]["basis"] == "fixed steps, not ranges of yours"
    assert [row["name"] for row in whole["drivers"]["rows"]] == [d.name for d in found.inputs]
    rows = {(row["driver"], row["rule"]): row for row in whole["break_even"]}
    fallback = rows["fallback", "one run"]
    assert fallback["amount_at"] == pytest.approx(fallback["amount_now"] * fallback["at"])
    assert whole["map"]["best"] == [list(row) for row in found.map.best]  # type: ignore[union-attr]


def test_the_map_takes_two_drivers(file: Path) -> None:
    whole = parsed("sensitivity", file, "--map", "spread", "next_odds")
    assert (whole["map"]["row"], whole["map"]["column"]) == ("spread", "next_odds")
    text = ok("sensitivity", file, "--map", "spread", "next_odds")
    assert "down: spread, one rate; across: odds of next run" in text


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["--map", "rop", "spread"], "no driver 'rop'; this job has spread, next_odds"),
        (["--map", "spread", "spread"], "a map takes two drivers"),
        (["--map", "spread"], "requires 2 arguments"),
        (["--set", "rates.rig=-1"], "rates.rig"),
        (["--set", "rates.rigg.x=1"], "1 fault"),
    ],
)
def test_bad_input_to_sensitivity(file: Path, arguments: list[str], message: str) -> None:
    assert message in refused("sensitivity", file, *arguments)


# ---- what-if ----------------------------------------------------------------------------------


def test_before_and_after_are_printed() -> None:
    text = ok("whatif", A, "--set", "rates.rig=106000", "--set", "draws.n=256")
    check_plain(text)
    assert text.startswith("WHAT IF\nrates.rig: 53,000 -> 106,000\n")
    # published, notes of scenario A: at twice the spread the limit drops from 3 runs to 1
    assert "before: FISH ON: at most 3 more runs" in text
    assert "after:  FISH ON: at most 1 more run" in text
    assert "The verdict stays, the best limit moves." in text
    assert "With the limit kept at 3 the cost after would be" in text
    for heading in ("AT THE BEST LIMIT OF EACH SIDE", "NEXT RUN", "AUTHORITY", "EXPECTED COST IF"):
        assert heading in text


def test_a_change_to_the_same_value_is_no_change(file: Path) -> None:
    text = ok("whatif", file, "--set", "rates.rig=20000")
    assert "Nothing is changed." in text
    assert "The verdict and the best limit stay." in text
    rows = [line for line in text.splitlines() if line.startswith(("expected cost", "  0", "P90"))]
    assert rows
    assert all(row.endswith("same") for row in rows)


def test_whatif_json(file: Path) -> None:
    sides = package.load(file), package.load(file, ("rates.rig={low=1e4,high=9e4}",))
    found = whatif(*sides)
    whole = parsed("whatif", file, "--set", "rates.rig={low=1e4,high=9e4}")
    assert whole["changed"] == [
        {"key": "rates.rig", "before": 20_000, "after": {"low": 10_000, "high": 90_000}}
    ]
    assert (whole["before"]["runs"], whole["after"]["runs"]) == (
        found.before.best,
        found.after.best,
    )
    figures = {row["name"]: row for row in whole["figures"]}
    assert figures["expected_cost"]["change"] == found.figure("expected_cost").change
    assert figures["expected_cost"]["error"] == found.figure("expected_cost").error
    assert [row["runs"] for row in whole["by_runs"]] == [0, 1, 2]


def test_draws_are_changed_on_both_sides(file: Path) -> None:
    whole = parsed("whatif", file, "--set", "draws.n=64", "--set", "draws.seed=4")
    assert (whole["draws"], whole["seed"], whole["changed"]) == (64, 4, [])
    assert all(row["change"] == 0.0 for row in whole["figures"])


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ([], "Missing option '--set'"),
        (["--set", "rates.rig=-1"], "rates.rig"),
        (["--set", "nonsense"], "key=value"),
        (["--set", "draws.n=100"], "power of two"),
    ],
)
def test_bad_input_to_whatif(file: Path, arguments: list[str], message: str) -> None:
    assert message in refused("whatif", file, *arguments)


@pytest.mark.parametrize("command", ["sensitivity", "whatif"])
def test_a_file_that_is_not_there(command: str) -> None:
    assert "no file" in refused(command, "nowhere.toml", "--set", "rates.rig=1")


@pytest.mark.parametrize("command", ["sensitivity", "whatif"])
def test_help_imports_nothing_heavy(command: str) -> None:
    probe = (
        "import sys\nfrom econ.cli import main\n"
        f"try:\n    main([{command!r}, '--help'])\nexcept SystemExit:\n    pass\n"
        "print(sorted({n.split('.')[0] for n in sys.modules}), file=sys.stderr)"
    )
    done = subprocess.run(
        [sys.executable, "-c", probe], capture_output=True, text=True, check=True, cwd=ROOT
    )
    loaded = set(done.stderr.strip("[]\n").replace("'", "").split(", "))
    assert "click" in loaded  # so the check means something
    assert not loaded & {"numpy", "scipy", "pandas", "matplotlib", "pydantic"}


def test_neither_command_imports_tables_or_pictures(file: Path) -> None:
    for arguments in (["sensitivity", str(file)], ["whatif", str(file), "--set", "rates.rig=1"]):
        probe = (
            "import sys\nfrom econ.cli import main\n"
            f"try:\n    main({arguments!r})\nexcept SystemExit as end:\n    assert not end.code\n"
            "print('pandas' in sys.modules, 'matplotlib' in sys.modules, file=sys.stderr)"
        )
        done = subprocess.run(
            [sys.executable, "-c", probe], capture_output=True, text=True, check=True, cwd=ROOT
        )
        assert done.stderr.split() == ["False", "False"]


def test_both_are_listed_in_the_help() -> None:
    text = econ("--help").stdout
    assert "sensitivity" in text
    assert "whatif" in text
