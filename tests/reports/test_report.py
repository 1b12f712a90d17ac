"""`econ report`: everything into one folder, whole or not at all, the same every time."""

from __future__ import annotations

import csv
import json
import re
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from raw_jobs import DEMO_A

import econ
from econ.cli import main
from econ.decision.sensitivity import Sensitivity, sensitivity
from econ.reports import bundle
from econ.reports.figures import FIGURES

FEW = ("--set", "draws.n=16")
WHOLE = {
    *("answer.txt", "answer.json", "memo.html", "memo.pdf", "what_if.html"),
    *("supplement.xlsx", "supplement.html", "supplement.csv"),
    *("tables/by_runs.csv", "tables/by_days.csv", "tables/belief.csv", "tables/fallbacks.csv"),
    *(f"figures/{name}.{end}" for name in FIGURES for end in ("svg", "png", "csv")),
}


def run(*arguments: object) -> Result:
    return CliRunner().invoke(main, ["report", *map(str, arguments)])


def files(folder: Path) -> dict[str, bytes]:
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file()
    }


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The reports on demo A."""
    folder = tmp_path_factory.mktemp("reports") / "new" / "a"
    result = run(DEMO_A, "--out", folder, *FEW)
    assert result.exit_code == 0, result.output
    return folder


def test_everything_is_there_and_agrees(made: Path) -> None:
    found = files(made)
    assert set(found) == WHOLE
    told = json.loads(found["answer.json"])
    cost = told["answer"]["expected_cost"]
    table = list(csv.DictReader(found["tables/by_runs.csv"].decode().splitlines()))
    assert float(table[told["answer"]["runs"]]["expected_cost"]) == cost
    curve = list(csv.DictReader(found["figures/curve.csv"].decode().splitlines()))
    best = [row for row in curve if row["best"] == "yes" and row["row"] == "limit by runs"]
    assert [float(row["expected_cost"]) for row in best] == [cost]
    for name in ("answer.txt", "memo.html"):
        assert re.search(rf"\b{cost / 1000:,.0f} thousand USD", found[name].decode()), name
    assert f"{cost:,.0f}" in found["supplement.html"].decode()


def test_all_names_are_looked_at_before_the_work() -> None:
    assert set(bundle.names()) >= WHOLE
    assert len(bundle.names()) == len(set(bundle.names()))


def test_the_same_again_is_the_same_bytes(made: Path, tmp_path: Path) -> None:
    assert run(DEMO_A, "--out", tmp_path, *FEW).exit_code == 0
    assert files(tmp_path) == files(made)


def test_nothing_is_left_where_not_all_can_be(tmp_path: Path) -> None:
    (tmp_path / "figures").write_text("a file", encoding="utf-8")
    result = run(DEMO_A, "--out", tmp_path, *FEW)
    assert result.exit_code == 2
    assert "figures there is not a folder" in result.stderr
    assert [path.name for path in tmp_path.iterdir()] == ["figures"]


def test_a_bad_file_makes_no_folder(tmp_path: Path) -> None:
    bad = tmp_path / "bad.toml"
    bad.write_text("schema = 1\n", encoding="utf-8")
    assert run(bad, "--out", tmp_path / "out").exit_code == 2
    assert not (tmp_path / "out").exists()


@pytest.fixture(scope="module")
def drawn() -> tuple[econ.Answer, Sensitivity, dict[str, bytes]]:
    """Answer, sensitivity and pictures of the memo of demo A."""
    job = econ.load(DEMO_A, ("draws.n=16",))
    found = econ.answer(job)
    return found, sensitivity(job, learning=False), bundle.pictures(found, bundle.FORMS)


def test_what_the_other_process_gives_is_of_plain_types(
    drawn: tuple[econ.Answer, Sensitivity, dict[str, bytes]],
) -> None:
    # else this one would have to load what draws, only to read it
    found, changing, pictures = drawn
    given = [
        pictures,
        bundle.memo_files(found, changing, pictures),
        bundle.figure_files("map", found, changing),
        bundle.page_files(found),
        bundle.supplement_files(found, {}),
    ]
    for made in given:
        assert type(made) is dict
        assert {(type(name), type(data)) for name, data in made.items()} == {(str, bytes)}


def test_the_memo_with_its_pictures_is_the_memo(
    drawn: tuple[econ.Answer, Sensitivity, dict[str, bytes]],
) -> None:
    found, changing, pictures = drawn
    assert bundle.memo_files(found, changing, pictures) == {
        "memo.html": econ.memo(found, changing, form="html"),
        "memo.pdf": econ.memo(found, changing),
    }
