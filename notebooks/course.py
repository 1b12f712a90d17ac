"""The course as a class uses it, all made from the notebooks beside this file.

    python notebooks/course.py FOLDER

FOLDER/student    the notebooks with questions, room for work and hints; no answers, no outputs
FOLDER/teacher    the notebooks whole, with answers, notes for the teacher and outputs
FOLDER/slides     the pictures, each large enough for a slide
FOLDER/handout.html, two pages to print
FOLDER/guide, FOLDER/scenarios, which the notebooks link to and read

A notebook marks its cells by tags: `guess` is a list of guesses, which students get empty; `answer`
is worked out, and students get room in its place; `teacher` is a note that students do not get.
What has no tag is for both. `tests/notebooks` runs both versions and holds every number.
"""

from __future__ import annotations

import json
import re
import shutil
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import econ

HERE = Path(__file__).parent
SCENARIOS = HERE.parent / "scenarios"
TAGS = ("answer", "guess", "teacher")
GUESSES = re.compile(r"^guesses = \[.*\]  # ([^;\n]+); an invented class$", re.M)
EXERCISE = re.compile(r"^(\d+)\. ", re.M)
ROOM = "# Your work.\n"

Notebook = dict[str, Any]
Cell = dict[str, Any]


def tags(cell: Cell) -> list[str]:
    """Tags of a cell."""
    return list(cell["metadata"].get("tags", []))


def source(cell: Cell) -> str:
    """Text of a cell, which a file may hold as lines."""
    return "".join(cell["source"])


def teacher(notebook: Notebook) -> Notebook:
    """The version of the teacher: all of the notebook, with links that hold in the folder."""
    return notebook | {"cells": [_linked(cell) for cell in notebook["cells"]]}


def student(notebook: Notebook) -> Notebook:
    """The version of the student: no answers, no notes for the teacher, no outputs."""
    cells: list[Cell] = []
    for cell in notebook["cells"]:
        cells += _of_student(cell, cells)
    for number, cell in enumerate(cells, start=1):
        cell["id"] = f"student-{number:02d}"
    return notebook | {"cells": cells}


def _of_student(cell: Cell, before: list[Cell]) -> Iterator[Cell]:
    """What a student gets in the place of a cell, after the cells before it."""
    tagged, text = tags(cell), source(cell)
    if "teacher" in tagged:
        return
    if "answer" in tagged:
        exercises = any("## Exercises" in source(each) for each in before)
        if not exercises and before and source(before[-1]) != ROOM:
            yield _code(ROOM)
        return
    if cell["cell_type"] == "markdown":
        yield _linked(cell) | {"metadata": {}}
        if text.startswith("## Exercises"):
            yield from (_code(f"# Exercise {n}: your work.\n") for n in EXERCISE.findall(text))
        return
    yield _code(GUESSES.sub(r"guesses = []  # \1: the guesses of your class", text))


def _code(text: str) -> Cell:
    return {
        "cell_type": "code",
        "id": "",
        "metadata": {},
        "source": text,
        "execution_count": None,
        "outputs": [],
    }


def _linked(cell: Cell) -> Cell:
    """A cell whose links to the guide hold one folder further down."""
    if cell["cell_type"] != "markdown":
        return dict(cell)
    text = source(cell).replace("](guide/", "](../guide/").replace("](08_fac", "](../08_fac")
    return cell | {"source": text}


# Slides ---------------------------------------------------------------------------------


def slides() -> dict[str, Callable[[], econ.pictures.Picture]]:
    """The pictures by file name, drawn when they are asked for."""
    job = econ.load(SCENARIOS / "point" / "a_land_twist_off.toml")
    ranged = econ.load(SCENARIOS / "a_land_twist_off.toml")
    point, answer = econ.answer(job), econ.answer(ranged)
    workable, stubborn = job.run[0].odds_by_kind()
    nothing = (workable.nothing, stubborn.nothing)
    steps = [(f"run {n}", row.workable, row.odds) for n, row in enumerate(point.ahead, start=1)]
    own = {
        "wells": lambda: econ.pictures.before_and_after(job),
        "tools": econ.pictures.tools,
        "thousand_jobs": lambda: econ.pictures.thousand_jobs(0.7, nothing, "nothing"),
        "belief_moves": lambda: econ.pictures.belief(steps),
        "tree": small_tree,
    }
    names = ("program", "belief", "curve", "recovery", "distribution", "causes", "depth")
    return own | {name: _of_answer(answer, name) for name in names}


def _of_answer(answer: econ.Answer, name: str) -> Callable[[], econ.pictures.Picture]:
    return lambda: econ.pictures.figure(answer, name)


def small_tree() -> econ.pictures.Picture:
    """The tree of notebook 4: two runs at 90, a fallback at 600, 100 after a recovery."""
    chances = {"recovered": (0.50, 0.05), "nothing": (0.40, 0.45), "damaged": (0.10, 0.50)}

    def step(belief: float, runs: int, spent: int) -> econ.pictures.Branch:
        stop = econ.pictures.end(spent + 600)
        if runs == 0:
            return stop
        ways = {}
        for words, (w, s) in chances.items():
            odds = belief * w + (1 - belief) * s
            then = econ.pictures.end(spent + 190)
            if words != "recovered":
                then = step(belief * w / odds, runs - 1, spent + 90)
            ways[words] = (odds, then)
        return econ.pictures.decision({"go": econ.pictures.chance(ways), "stop": stop})

    return econ.pictures.tree(step(0.6, 2, 0), unit="thousand", title="Two runs at 90")


# The folder -----------------------------------------------------------------------------


def write(folder: Path) -> list[Path]:
    """Write the course into a folder; the paths of what was written, without what was copied."""
    made: list[Path] = []

    def put(path: Path, content: bytes) -> None:
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)
        made.append(path)

    for path in sorted(HERE.glob("*.ipynb")):
        notebook = json.loads(path.read_text(encoding="utf-8"))
        for name, version in (("student", student), ("teacher", teacher)):
            text = json.dumps(version(notebook), ensure_ascii=False, indent=1)
            put(folder / name / path.name, text.encode())
    for name, draw in slides().items():
        put(folder / "slides" / f"{name}.png", draw().png())
    for what in (HERE / "guide", SCENARIOS):
        shutil.copytree(what, folder / what.name, dirs_exist_ok=True)
    shutil.copy(HERE / "08_facilitator.md", folder)
    return made


if __name__ == "__main__":
    if len(sys.argv) != 2 or sys.argv[1].startswith("-"):
        sys.exit("usage: python notebooks/course.py FOLDER")
    for written in write(Path(sys.argv[1])):
        print(written)
