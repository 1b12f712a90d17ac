"""What `import econ` shows, and what it costs to look at it."""

from __future__ import annotations

import subprocess
import sys
import tomllib
from importlib.metadata import version
from pathlib import Path

import pytest

import econ

ROOT = Path(__file__).parents[1]


def test_dir_shows_the_interface_and_nothing_else() -> None:
    assert dir(econ) == sorted(econ.__all__)


@pytest.mark.parametrize("name", econ.__all__)
def test_every_name_of_the_interface_is_there(name: str) -> None:
    # `theme` is a module, whose own name is dotted
    assert getattr(econ, name).__name__.rpartition(".")[2] == name


def test_the_wheel_holds_every_file_of_data() -> None:
    package = ROOT / "econ"
    told = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    patterns = told["tool"]["setuptools"]["package-data"]["econ"]
    listed = {path for pattern in patterns for path in package.glob(pattern)}
    data = {path for path in package.rglob("*.*") if path.suffix not in (".py", ".pyc")}
    assert data == listed


def test_version_is_that_of_the_distribution() -> None:
    assert econ.__version__ == version("fish-or-sidetrack")


def test_other_names_are_refused() -> None:
    with pytest.raises(AttributeError, match="module 'econ' has no attribute 'answers'"):
        econ.answers  # noqa: B018


def test_results_print_in_a_line() -> None:
    records = econ.read_records(ROOT / "scenarios" / "records" / "invented_jobs.csv")
    answer = econ.answer(econ.load(ROOT / "scenarios" / "point" / "a_land_twist_off.toml"))
    results = [records, econ.odds(records), answer, econ.supplement(answer)]
    for result in results:
        assert repr(result).startswith(f"{type(result).__name__}(")
        assert len(repr(result)) < 150, repr(result)
        assert "\n" not in repr(result)
    assert repr(records) == "Records('invented_jobs.csv': 440 runs of 180 jobs, 0 rejected)"


def test_nothing_heavy_is_imported_with_the_package() -> None:
    code = (
        "import sys, econ; dir(econ)\n"
        "print({'numpy', 'scipy', 'pydantic', 'importlib.metadata'} & set(sys.modules))"
    )
    # -S: what the interpreter imports for itself at its start does not count.
    done = subprocess.run(
        [sys.executable, "-S", "-c", code], capture_output=True, text=True, check=False, cwd=ROOT
    )
    assert done.stdout == "set()\n", done.stderr
