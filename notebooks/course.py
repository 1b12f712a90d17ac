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
from collections.abc import Callable, Iterable, Iterator, Sequence
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
    fuller = econ.load(SCENARIOS / "fuller" / "a_land_twist_off.toml")
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
        "plan": lambda: econ.pictures.plan(econ.plan(fuller)),
        "few_cases": few_cases,
    }
    names = ("program", "belief", "curve", "recovery", "distribution", "causes", "depth")
    return own | {name: _of_answer(answer, name) for name in names}


def _of_answer(answer: econ.Answer, name: str) -> Callable[[], econ.pictures.Picture]:
    return lambda: econ.pictures.figure(answer, name)


def few_cases() -> econ.pictures.Picture:
    """The shares of notebook 10 with their intervals: the field release, and 14 of 17."""
    counts = {"strings freed": (9, 11), "plugs failed": (2, 8), "freed, another set": (14, 17)}
    rows = {
        f"{words}, {k} of {n}": (k / n, *econ.wilson_interval(successes=k, cases=n))
        for words, (k, n) in counts.items()
    }
    return econ.pictures.shares(rows, title="Shares of few cases, with 95 per cent intervals")


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


# The handout ----------------------------------------------------------------------------

STYLE = """
@page { size: A4; margin: 14mm }
body { font: 10pt/1.35 "DejaVu Sans", Verdana, sans-serif; color: #1a1d21; margin: 0 }
section { break-after: page } section:last-child { break-after: auto }
h1 { font-size: 15pt; margin: 0 0 2mm } h2 { font-size: 11.5pt; margin: 4mm 0 1.5mm }
p { margin: 0 0 2mm } table { border-collapse: collapse; width: 100% }
td, th { border: 0.4pt solid #59616a; padding: 1mm 2mm; text-align: left; vertical-align: top }
th { background: #f1f3f5 } .blank td { height: 6.2mm } td.n { text-align: right }
small { color: #59616a }
"""
FORMULAS = (
    ("Hours of a run", "wait + make up + way in + circulate + work + way out + lay down"),
    ("Way in, way out", "shoe / speed in casing + (top - shoe) / speed in open hole"),
    ("Cost of a run", "C = hours / 24 x (spread + fishing day) + charges"),
    ("Odds of the next run", "p = b p<sub>w</sub> + (1 - b) p<sub>s</sub>"),
    ("Belief after an outcome", "b' = b n<sub>w</sub> / (b n<sub>w</sub> + (1 - b) n<sub>s</sub>)"),
    ("Odds needed, simple", "p* = C / (F - S)"),
    (
        "Odds needed, all outcomes",
        "p* = (C + p<sub>string</sub> (F<sub>string</sub> - F) + p<sub>hole</sub> "
        "(F<sub>hole</sub> - F) - p<sub>part</sub> (F - F<sub>part</sub>)) / (F - S)",
    ),
    ("One more run, then stop", "go = C + p S + (1 - p) F; stop = F; take the lower"),
    ("Price of a reading", "hours / 24 x (spread + fishing day) + charge"),
)
SYMBOLS = (
    ("b", "belief that the fish is workable", "0 to 1"),
    ("p<sub>w</sub>, p<sub>s</sub>", "odds of recovery on a workable, a stubborn fish", "0 to 1"),
    ("n<sub>w</sub>, n<sub>s</sub>", "chance of the outcome seen, on each kind", "0 to 1"),
    ("C", "cost of the next run", "money"),
    ("F", "fallback: sidetrack and what is left in the hole", "money"),
    ("S", "work that is left when the fish is out", "money"),
    ("spread", "what a day costs whatever is decided", "money a day"),
)
CAUTIONS = (
    "<h2>Before any of it</h2><p>Sums only: no procedure, design or approval. Well control, the "
    "pull, torque and jar limits of the weakest part as worn, the rules for explosives, sealed "
    "sources and H2S, and the stability of the hole come first. Local codes, licensed people, the "
    "limits of tool suppliers and the person in charge on the rig win over any number here.</p>"
    "<p><small>The job, the well and its numbers are invented.</small></p>"
)
OUTCOMES = ("recovered", "part", "nothing", "top damaged", "string lost", "hole lost")


def handout() -> str:
    """Two pages to print: formulas, a break-even sheet, a Bayes table, and a job worked through."""
    answer = econ.answer(econ.load(SCENARIOS / "point" / "a_land_twist_off.toml"))
    one = _table(("", "formula"), FORMULAS) + "<h2>Symbols</h2>"
    one += _table(("symbol", "meaning", "unit"), SYMBOLS)
    sheet = [
        (words, *[""] * 5) for words in ("C", "F", "S", "F - S", "needed p*", "stated p", "go?")
    ]
    one += "<h2>Break-even sheet</h2>"
    one += "<p>One column for each run. Odds are stated by the one who owns them.</p>"
    one += _table(("", *(f"run {n}" for n in range(1, 6))), sheet, blank=True)
    rows = [(words, *[""] * 5) for words in OUTCOMES]
    head = (
        "outcome",
        "on workable",
        "on stubborn",
        "b x workable",
        "(1 - b) x stubborn",
        "belief after",
    )
    two = "<h2>Bayes table</h2><p>Belief before the run: b = ______. The last column is the fourth"
    two += " over the sum of the fourth and the fifth.</p>" + _table(head, rows, blank=True)
    two += "<p>And for the run after it: b = ______.</p>" + _table(head, rows, blank=True)
    two += "<h2>A job worked through</h2>" + "".join(f"<p>{line}</p>" for line in worked(answer))
    two += CAUTIONS
    title = "Fish on, or stop and sidetrack?"
    pages = (f"<h1>{title} Formulas</h1>{one}", f"<h1>{title} Tables and a job</h1>{two}")
    body = "".join(f"<section>{page}</section>" for page in pages)
    return (
        f'<!doctype html><html lang="en"><head><meta charset="utf-8"><title>{title}</title>'
        f"<style>{STYLE}</style></head><body>{body}</body></html>"
    )


def worked(answer: econ.Answer) -> list[str]:
    """The first two decisions of scenario A in sentences, with the numbers of the program."""
    job, first, second = answer.scenario, answer.ahead[0], answer.ahead[1]
    workable, stubborn = job.run[0].odds_by_kind()
    spread, fishing = sum(job.rates.values()), sum(job.fishing.day_rates.values())
    fallback = answer.fallbacks.rows[0].now
    left = job.recovery.hours / 24 * (spread + job.recovery.fishing_share * fishing)
    left += job.recovery.charge
    b, n = first.workable, (workable.nothing, stubborn.nothing)
    hours, saved = 24 * first.days, fallback - left
    stop, limit = answer.by_runs[0].expected_cost, answer.limit.expected_cost
    return [
        f"{job.job.well}, invented: fish top {job.fish.top:,.0f} ft, spread {spread:,.0f} USD"
        f" a day, fishing adds {fishing:,.0f}.",
        f"Run 1 takes {hours:.1f} h: C = {hours:.1f} / 24 x {spread + fishing:,.0f} + charges ="
        f" {first.cost:,.0f} USD.",
        f"F = {fallback:,.0f}, S = {left:,.0f}, F - S = {saved:,.0f} USD. Needed, simple:"
        f" {first.cost:,.0f} / {saved:,.0f} = {first.cost / saved:.2f}; with all outcomes"
        f" {first.break_even_odds:.2f}.",
        f"Stated: p = {b:.2f} x {workable.recovered:.2f} + {1 - b:.2f} x {stubborn.recovered:.2f} ="
        f" {first.odds:.2f}. More than needed: <b>go</b>.",
        f"Run 1 brings nothing. b' = {b:.2f} x {n[0]:.2f} / ({b:.2f} x {n[0]:.2f} + {1 - b:.2f} x"
        f" {n[1]:.2f}) = {second.workable:.2f}.",
        f"Run 2 has odds of {second.odds:.2f} and needs {second.break_even_odds:.2f}: <b>go</b>."
        f" The best limit is {answer.best} runs; it costs {limit:,.0f} USD on average, to stop now"
        f" {stop:,.0f}.",
    ]


def _table(head: Sequence[str], rows: Iterable[Sequence[str]], *, blank: bool = False) -> str:
    top = "".join(f"<th>{words}</th>" for words in head)
    body = "".join("<tr>" + "".join(f"<td>{cell}</td>" for cell in row) + "</tr>" for row in rows)
    return f'<table class="{"blank" if blank else ""}"><tr>{top}</tr>{body}</table>'


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
    put(folder / "handout.html", handout().encode())
    for what in (HERE / "guide", SCENARIOS):
        shutil.copytree(what, folder / what.name, dirs_exist_ok=True)
    shutil.copy(HERE / "08_facilitator.md", folder)
    return made


if __name__ == "__main__":
    if len(sys.argv) != 2 or sys.argv[1].startswith("-"):
        sys.exit("usage: python notebooks/course.py FOLDER")
    for written in write(Path(sys.argv[1])):
        print(written)
