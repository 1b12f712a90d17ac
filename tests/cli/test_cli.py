"""The command line: what it prints, what it imports, how it answers.

Expected texts and keys come from the design of the interface.
"""

from __future__ import annotations

import json
import re
import subprocess
import sys
from itertools import pairwise
from pathlib import Path
from typing import Any

import click
import pytest

from econ.cli import MODULES, main
from econ.reports.safety import checklist
from econ.scenario import load

from .command import QUICK, ROOT, A, B, check_plain, document, econ, ok, refused, scenario, write

pytestmark = pytest.mark.usefixtures("few_bins", "few_states")
DEMOS = sorted((ROOT / "scenarios").rglob("*.toml"))
HEAVY = ("numpy", "scipy", "pandas", "matplotlib", "pydantic")


@pytest.fixture
def file(tmp_path: Path) -> Path:
    return tmp_path / "job.toml"


# ---- what is imported -------------------------------------------------------------------------

PROBE = """
import sys
from econ.cli import main
try:
    main(sys.argv[1:], prog_name="econ")
except SystemExit as end:
    assert not end.code, end.code
loaded = {name.split(".")[0] for name in sys.modules}
print(" ".join(sorted(loaded)), file=sys.stderr)
"""


def loaded(*arguments: object) -> set[str]:
    """Top-level modules that a fresh interpreter holds after a command."""
    command = [sys.executable, "-c", PROBE, *map(str, arguments)]
    done = subprocess.run(command, capture_output=True, text=True, check=False, cwd=ROOT)
    assert done.returncode == 0, done.stderr
    return set(done.stderr.splitlines()[-1].split())


@pytest.mark.parametrize("arguments", [["--help"], ["--version"], ["answer", "--help"]])
def test_help_imports_nothing_heavy(arguments: list[str]) -> None:
    assert loaded(*arguments) & set(HEAVY) == set()


def test_a_command_imports_no_other_command() -> None:
    code = (
        "import sys\nfrom econ.cli import main\ntry:\n    main(['memo', '--help'])\n"
        "except SystemExit:\n    pass\n"
        "print(*sorted({'econ.cli.memo', 'econ.cli.afe', 'econ.cli.sweep'} & set(sys.modules)))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT
    )
    assert done.stdout.splitlines()[-1] == "econ.cli.memo"


@pytest.mark.parametrize("name", MODULES)
def test_every_command_of_a_module_is_known_by_its_name_and_has_help(name: str) -> None:
    command = main.get_command(click.Context(main), name)
    assert command is not None
    assert command.name == name
    assert command.get_short_help_str()


def test_check_imports_no_mathematics() -> None:
    found = loaded("check", B) & set(HEAVY)
    assert found == {"pydantic"}  # which also shows that the probe sees what is loaded


def test_answer_imports_neither_tables_nor_pictures() -> None:
    assert loaded("answer", A, *QUICK) & {"pandas", "matplotlib"} == set()


# ---- JSON -------------------------------------------------------------------------------------

BY_DAYS = {"days", "expected_cost", "standard_error", "probability_recovered"}
KEYS = {
    "": {
        *("scenario", "currency", "draws", "scrambles", "seed", "version", "answer", "by_runs"),
        *("by_days", "next_run", "belief", "state_rule", "plan", "rules", "authority"),
        *("risk", "fallbacks", "fallback_reaches", "rentals", "information", "insurance"),
        *("tonight", "log", "notes"),
    },
    "answer": {
        *("verb", "by", "runs", "days", "flat_runs", "expected_cost", "standard_error"),
        *("fallback_now", "saving", "to_the_end", "probability_recovered", "p10", "p50", "p90"),
        *("resolved", "close_call", "flat_limits", "errors"),
    },
    "by_runs": {
        *("runs", "p10", "p50", "p90", "errors", "dearer", "cost_if_recovered"),
        *("cost_if_fallback", "days_if_recovered", "days_if_fallback"),
        *BY_DAYS,
    },
    "by_days": {"probability_error", *BY_DAYS},
    "next_run": {"name", "days", "cost", "odds", "break_even_odds", "gain", "go", "errors"},
    "belief": {"failed_runs", "workable", "next_odds", "errors"},
    "rules": {"time_limit_days", "economic_fishing_days", "half_rule_days"},
    "authority": {
        *(
            "stage_1",
            "stage_2",
            "response_hours",
            "waiting_hours",
            "waiting_cost",
            "given",
            "suffices",
        ),
        *("stage_1_suffices", "suffices_error", "slices", "expected_call", "p90", "errors"),
    },
    "authority.slices": {"slice", "chance", "planned", "mean", "p90", "errors"},
    "authority.stage_1": {"planned", "mean", "p90", "errors"},
    "authority.stage_2": {"probability", "mean", "p90", "errors"},
}


@pytest.mark.parametrize("path", [A, B])
def test_json_has_exactly_the_keys_of_the_design(path: Path) -> None:
    whole = document(path)
    for place, keys in KEYS.items():
        found: Any = whole
        for step in place.split(".") if place else []:
            found = found[step]
        rows = found if isinstance(found, list) else [found]
        assert rows
        assert all(set(row) == keys for row in rows), place
    assert "expected_cost" in whole["state_rule"]  # it may tell more


def test_json_agrees_with_itself() -> None:
    whole = document(A)
    best, rows = whole["answer"], whole["by_runs"]
    assert (whole["draws"], whole["scrambles"], whole["seed"]) == (16, 16, 7)
    assert best["verb"] == "fish"
    assert [row["runs"] for row in rows] == list(range(6))
    row = rows[best["runs"]]
    assert all(best[key] == row[key] for key in KEYS["by_runs"] & KEYS["answer"] - {"runs"})
    assert best["fallback_now"] == rows[0]["expected_cost"]
    assert best["to_the_end"] == rows[-1]["expected_cost"]
    assert best["saving"] == pytest.approx(best["fallback_now"] - best["expected_cost"])
    low, high = best["flat_runs"]
    assert low <= best["runs"] <= high
    assert [each["failed_runs"] for each in whole["belief"]] == list(range(5))


def test_json_of_what_has_no_number_is_null(file: Path) -> None:
    # no day rate: fishing may go on for ever, and the rules of thumb have no end
    text = scenario().replace("rig = 20000", "rig = 0")
    rules = document(write(file, text))["rules"]
    assert rules["time_limit_days"] is None


def test_notes_do_not_spoil_json() -> None:
    result = econ("answer", A, "--json", *QUICK)
    assert "averaging over mechanisms" in result.stderr
    json.loads(result.stdout)


# ---- text -------------------------------------------------------------------------------------


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.relative_to(ROOT).as_posix())
def test_every_demonstration_answers(path: Path) -> None:
    text = ok("answer", "--full", path, *QUICK)
    check_plain(text)
    first = text.splitlines()[0]
    assert re.match(
        r"(CLOSE CALL, leaning )?FISH ON: at most \d+ more runs?, about \d+\.\d days", first
    )
    for heading in ("NEXT RUN", "AUTHORITY", "RULES OF THUMB", "RULE BY STATE", "CAUTIONS"):
        assert heading in text


def test_there_are_demonstrations() -> None:
    assert len(DEMOS) == 11


def test_verdict_to_stop(file: Path) -> None:
    text = ok("answer", "--full", write(file, scenario(recovered=0.01, nothing=0.99)))
    assert text.startswith("STOP FISHING: 0 more runs, 0 days")
    check_plain(text)


def test_two_answers_are_the_same_to_the_letter() -> None:
    assert ok("answer", B, *QUICK) == ok("answer", B, *QUICK)


def test_no_run_at_all_answers_the_fallback(file: Path) -> None:
    write(file, scenario(runs=0))
    assert ok("answer", file).startswith("NO RUN IS LEFT: fishing ends unless another is listed")
    whole = document(file)
    # by hand: 200 h at 20,000 a day and 300,000
    assert whole["answer"]["expected_cost"] == pytest.approx(200 / 24 * 20_000 + 300_000)
    assert (whole["answer"]["runs"], whole["next_run"], whole["belief"]) == (0, None, [])
    assert len(whole["by_runs"]) == 1


@pytest.mark.parametrize("runs", [1, 12, 30])
def test_programs_short_and_long(file: Path, runs: int) -> None:
    rows = document(write(file, scenario(runs=runs)))["by_runs"]
    assert [row["runs"] for row in rows] == list(range(runs + 1))
    recovered = [row["probability_recovered"] for row in rows]
    assert all(a < b <= 1 for a, b in pairwise(recovered))


# ---- sealed sources ---------------------------------------------------------------------------


def lines_in(text: str) -> str:
    return " ".join(text.split())


def test_sealed_source_brings_the_checklist() -> None:
    said = lines_in(ok("answer", "--full", B, *QUICK))
    for line in checklist(load(B)):
        assert lines_in(line) in said
    for rule in ("10 CFR 39.15(a)(5)", "10 CFR 39.77(c)", "30 CFR 250.465", "30 days"):
        assert rule in said
    assert "sealed source is in the fish" not in lines_in(ok("answer", "--full", A, *QUICK))


def test_sealed_source_needs_one_run_unless_set_on_purpose(file: Path) -> None:
    hopeless = scenario(recovered=0.01, nothing=0.99)
    sealed = hopeless.replace("[fish]", "[fish]\nsealed_source = true")
    text = ok("answer", "--full", write(file, sealed))
    assert text.startswith("FISH ON, AS REQUIRED: at most 1 more run")
    assert "must be made (minimum_runs)" in lines_in(text)
    check_plain(text)
    assert document(file)["answer"]["runs"] == 1
    free = ("--set", "limits.minimum_runs=0")
    assert ok("answer", "--full", file, *free).startswith("STOP FISHING: 0 more runs")
    assert document(file, *free)["answer"]["runs"] == 0
    # without a source nothing need be tried
    assert document(file, "--set", "fish.sealed_source=false")["answer"]["runs"] == 0


def test_demonstration_with_sources_needs_one_run_too() -> None:
    hopeless = ("--set", "fishing.workable=0.0")
    assert document(B, *hopeless)["answer"]["runs"] == 1
    free = ("--set", "limits.minimum_runs=0")
    assert ok("answer", B, *QUICK, *hopeless, *free).startswith("STOP FISHING: 0 more runs")


def test_sealed_source_and_no_run_is_refused(file: Path) -> None:
    sealed = scenario(runs=0).replace("[fish]", "[fish]\nsealed_source = true")
    assert "minimum_runs" in refused("answer", write(file, sealed))
    assert ok("answer", file, "--set", "limits.minimum_runs=0").startswith("NO RUN IS LEFT")


def test_other_minimum_binds_too() -> None:
    assert document(A, "--set", "limits.minimum_runs=5")["answer"]["runs"] == 5


# ---- overrides --------------------------------------------------------------------------------


def test_set_overrides_values() -> None:
    plain = document(A)["answer"]["fallback_now"]
    dearer = document(A, "--set", "fallback.1.other_cost=106000")["answer"]["fallback_now"]
    assert dearer - plain == pytest.approx(100_000)  # by hand: 6,000 in the file
    several = document(A, "--set", "draws.seed=0", "--set", "job.well=Other")
    assert (several["seed"], several["scenario"]) == (0, "Other")


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ("rates.rig", "allowed: key=value"),
        ("rates.rig=-1", "rates.rig"),
        ("rates.rig=nan", "rates.rig"),
        ("nonsense=1", "nonsense"),
        ("run.9.charge=1", "an item from 1 to 5"),
        ("draws.n=100", "a power of two"),
    ],
)
def test_bad_overrides(change: str, said: str) -> None:
    for command in ("answer", "check"):
        assert said in refused(command, A, "--set", change)
