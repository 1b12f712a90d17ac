"""The course as a class uses it, all made from the notebooks beside this file.

    python notebooks/course.py FOLDER

FOLDER/index.html  what there is, in the order of use, with links to all of it
FOLDER/student     the notebooks with questions, room for work and hints; no answers, no outputs
FOLDER/teacher     the notebooks whole, with answers, notes for the teacher and outputs
FOLDER/slides, FOLDER/slides.html, the pictures, each large enough for a slide
FOLDER/handout.html, two pages to print
FOLDER/class.html, the class exercise
FOLDER/pages       guide, notebooks and the facilitator's sheet to read and print (as_html.py)
FOLDER/guide, FOLDER/scenarios, which the notebooks link to and read

A notebook marks its cells by tags: `guess` is a list of guesses, which students get empty; `answer`
is worked out, and students get room in its place; `teacher` is a note that students do not get.
What has no tag is for both. `tests/notebooks` runs both versions and holds every number.
"""

from __future__ import annotations

import ast
import contextlib
import html
import io
import json
import re
import shutil
import sys
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

try:
    import as_html
except ModuleNotFoundError as missing:
    sys.exit(f'course.py: {missing.name} is missing; python -m pip install ".[teaching]"')

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


@dataclass(frozen=True)
class Slide:
    """A picture of a notebook: its file, the notebook and the section it stands in, as headings."""

    file: str
    notebook: str
    section: str
    picture: econ.pictures.Picture


def slides(path: Path) -> Iterator[Slide]:
    """The pictures of a notebook as its cells draw them, all but guesses beside their answers."""
    known: dict[str, Any] = {}
    title = section = ""
    with contextlib.chdir(path.parent), contextlib.redirect_stdout(io.StringIO()):
        for cell in json.loads(path.read_text(encoding="utf-8"))["cells"]:
            if cell["cell_type"] == "markdown":
                headings = re.findall(r"^#+ (.+)$", source(cell), re.M)
                title, section = title or headings[0], headings[-1] if headings else section
                continue
            code = ast.parse(source(cell))
            last = code.body.pop() if code.body else None
            if last is not None and not isinstance(last, ast.Expr):
                code.body.append(last)
            exec(compile(code, cell["id"], "exec"), known)
            if not isinstance(last, ast.Expr):
                continue
            shown = eval(compile(ast.Expression(last.value), cell["id"], "eval"), known)
            beside = "pictures.beside(" in ast.unparse(last)
            if isinstance(shown, econ.pictures.Picture) and not beside:
                file = f"{path.name[:2]}_{cell['id'].replace('-', '_')}.png"
                yield Slide(file, title, section, shown)


SLIDES_STYLE = """
html { scroll-snap-type: y mandatory } body { margin: 0; font-family: "DejaVu Sans", Verdana,
sans-serif; color: #1a1d21 } section { box-sizing: border-box; height: 100vh; padding: 2vh 3vw;
scroll-snap-align: start; display: flex; flex-direction: column; break-after: page }
h2 { font-size: 4vh; margin: 0 } p { font-size: 2.6vh; margin: .5vh 0 1.5vh; color: #59616a }
img { flex: 1; min-height: 0; width: 100%; object-fit: contain } @page { size: 16cm 9cm; margin: 0 }
"""


def slides_page(shown: Iterable[Slide]) -> str:
    """All slides one below the other, each as large as the window: page down for the next."""
    parts = "".join(
        f"<section><h2>{html.escape(each.section)}</h2><p>Notebook {html.escape(each.notebook)}</p>"
        f'<img src="slides/{each.file}" alt="{html.escape(each.picture.words)}"></section>'
        for each in shown
    )
    return _page("Slides", SLIDES_STYLE, parts)


def _page(title: str, style: str, content: str) -> str:
    return (
        f'<!doctype html>\n<html lang="en"><head><meta charset="utf-8"><title>{title}</title>'
        f"<style>{style}</style></head><body>{content}</body></html>\n"
    )


# The handout ----------------------------------------------------------------------------

STYLE = """
@page { margin: 12mm }
body { font: 9.6pt/1.3 "DejaVu Sans", Verdana, sans-serif; color: #1a1d21; margin: 0 auto;
  max-width: 190mm }
section { break-after: page } section:last-child { break-after: auto }
h1 { font-size: 14pt; margin: 0 0 2mm } h2 { font-size: 11pt; margin: 3mm 0 1mm }
p { margin: 0 0 1.2mm } table { border-collapse: collapse; width: 100%; margin-bottom: 1.5mm }
td, th { border: 0.4pt solid #59616a; padding: .7mm 1.5mm; text-align: left; vertical-align: top }
th { background: #f1f3f5 } .blank { table-layout: fixed }
.blank td { height: 7.6mm }
.blank td:first-child, .blank th { white-space: nowrap }
"""
FORMULAS = (
    (
        "Hours of a run",
        "h = wait + make up + t<sub>in</sub> + circulate + work + t<sub>out</sub> + lay down",
    ),
    ("Way in, way out", "t = shoe / speed in casing + (top - shoe) / speed in open hole"),
    ("Cost of a run", "C = h / 24 x (spread + fishing day) + charges"),
    ("Left after a recovery", "S = hours / 24 x (spread + share x fishing day) + charge"),
    ("Fallback", "F = time + charges + trouble + what stays in the hole"),
    ("Odds of a run", "p = b p<sub>w</sub> + (1 - b) p<sub>s</sub>"),
    ("Belief after an outcome", "b' = b n<sub>w</sub> / (b n<sub>w</sub> + (1 - b) n<sub>s</sub>)"),
    ("Odds needed, simple", "p* = C / (F - S)"),
    (
        "Odds needed, all outcomes",
        "p* = (C + p<sub>string</sub> (F<sub>string</sub> - F) + p<sub>hole</sub> "
        "(F<sub>hole</sub> - F) - p<sub>part</sub> (F - F<sub>part</sub>)) / (F - S)",
    ),
    ("One more run, then stop", "go = C + p S + (1 - p) F; stop = F; take the lower"),
    ("Brier score", "mean of 2 (guess - y)<sup>2</sup>; y = 1 where the fish came out, else 0"),
)
SYMBOLS = (
    ("b, b'", "belief that the fish is workable, before and after", "0 to 1"),
    (
        "p<sub>w</sub>, p<sub>s</sub>",
        "odds of recovery on a workable, on a stubborn fish",
        "0 to 1",
    ),
    ("n<sub>w</sub>, n<sub>s</sub>", "chance of the outcome that came, on each kind", "0 to 1"),
    (
        "p<sub>string</sub>, F<sub>string</sub> ...",
        "chance of that outcome; fallback after it",
        "0 to 1; money",
    ),
    ("h; top, shoe", "hours of a run; depths of the fish top and of the casing shoe", "h; ft"),
    (
        "spread; fishing day",
        "what a day costs whatever is done; what fishing adds to it",
        "money a day",
    ),
    (
        "C; F; S",
        "cost of the next run; of the fallback; of the work left when the fish is out",
        "money",
    ),
)
CAUTIONS = (
    "<h2>Before any of it</h2><p>Sums only: no procedure, design or approval. Well control, the "
    "pull, torque and jar limits of the weakest part as worn, the rules for explosives, sealed "
    "sources and H2S, and the stability of the hole come first. Local codes, licensed people, the "
    "limits of tool suppliers and the person in charge on the rig win over any number here.</p>"
)


def handout() -> str:
    """Two pages to print: formulas and a job worked by them, then a break-even sheet and a Bayes
    table to write in."""
    job = econ.load(SCENARIOS / "point" / "a_land_twist_off.toml")
    one = _table(("", "formula"), FORMULAS)
    one += _table(("symbol", "meaning", "unit"), SYMBOLS)
    one += "<h2>A job worked through</h2>" + "".join(f"<p>{line}</p>" for line in worked(job))
    runs = [f"run {n}" for n in range(1, 6)]
    rows = ("C", "F", "S", "F - S", "needed p* = C / (F - S)", "stated p", "go or stop?")
    two = "<h2>Break-even sheet</h2>"
    two += "<p>One column for each run. Odds are stated by the one who owns them.</p>"
    two += _table(("", *runs), [(words, *[""] * 5) for words in rows], blank=True)
    two += "<h2>Bayes table</h2><p>One row for each run that did not bring the fish. b' is b n"
    two += "<sub>w</sub> over the sum of b n<sub>w</sub> and (1 - b) n<sub>s</sub>; it is the b of"
    two += " the next row.</p>"
    head = ("", "b", "it ended with", "n<sub>w</sub>", "n<sub>s</sub>", "b n<sub>w</sub>")
    head = (*head, "(1 - b) n<sub>s</sub>", "b'")
    two += _table(head, [(words, *[""] * 7) for words in runs], blank=True)
    two += (
        "<h2>What would make us stop</h2><p>Write it down before the first run: a number of runs,"
    )
    two += " of days, or of money; and who decides at three in the morning.</p>"
    two += _table(("our stop rule",), [("",), ("",)], blank=True) + CAUTIONS
    title = "Fish on, or stop and sidetrack?"
    pages = (f"<h1>{title} To read</h1>{one}", f"<h1>{title} To write in</h1>{two}")
    return _page(title, STYLE, "".join(f"<section>{page}</section>" for page in pages))


def worked(job: econ.Scenario) -> list[str]:
    """The first two decisions of a job with two kinds of fish in sentences, each number either
    given or worked from those before it. Its first two runs have one trip and two."""
    answer = econ.answer(job)
    first, second = answer.ahead[:2]
    one, two = job.run[:2]
    workable, stubborn = one.odds_by_kind()
    spread, fishing = sum(job.rates.values()), sum(job.fishing.day_rates.values())
    into, out, shoe = job.trip_speed.into, job.trip_speed.out, job.well.shoe_depth
    trip, back = (shoe / v.cased + (job.fish.top - shoe) / v.open for v in (into, out))
    (own,) = one.trips
    hours, left_hours, share = 24 * first.days, job.recovery.hours, job.recovery.fishing_share
    left = left_hours / 24 * (spread + share * fishing) + job.recovery.charge
    now = answer.fallbacks.rows[0]
    fallback, saved = now.now, now.now - left
    b, n = first.workable, (workable.nothing, stubborn.nothing)
    after = two.odds_by_kind()
    mean = {
        name: b * getattr(workable, name) + (1 - b) * getattr(stubborn, name)
        for name in ("string_lost", "hole_lost", "part")
    }
    part = after_part(job)
    needed = first.cost + mean["string_lost"] * (now.after_string_lost - fallback)
    needed += mean["hole_lost"] * (now.after_hole_lost - fallback)
    needed -= mean["part"] * (fallback - part)
    go = first.cost + first.odds * left + (1 - first.odds) * fallback
    return [
        f"<b>Given</b> ({job.job.well}, invented; ft, h, USD): top {job.fish.top:,.0f}, shoe"
        f" {shoe:,.0f}; speeds in casing and in open hole: in {into.cased:,.0f} and"
        f" {into.open:,.0f} ft/h, out {out.cased:,.0f} and {out.open:,.0f};"
        f" spread {spread:,.0f}, fishing day {fishing:,.0f}. Run 1: wait"
        f" {one.wait:g}, make up {own.make_up:g}, circulate {own.circulate:g}, work {own.work:g},"
        f" lay down {own.lay_down:g}; charges {one.charge:,.0f}. On a workable fish it recovers in"
        f" {workable.recovered:g} and brings nothing in {n[0]:g}, on a stubborn one in"
        f" {stubborn.recovered:g} and {n[1]:g}. b = {b:g}.",
        f"<b>Way</b>: in {shoe:,.0f} / {into.cased:,.0f} + {job.fish.top - shoe:,.0f} /"
        f" {into.open:,.0f} = {trip:.3f} h, out {back:.2f} h. <b>Run 1</b>: {one.wait:g} +"
        f" {own.make_up:g} + {trip:.3f} + {own.circulate:g} + {own.work:g} + {back:.2f} +"
        f" {own.lay_down:g} = {hours:.3f} h; C = {hours:.3f} / 24 x {spread + fishing:,.0f} +"
        f" {one.charge:,.0f} = {first.cost:,.0f}.",
        f"<b>S</b> = {left_hours:g} / 24 x ({spread:,.0f} + {share:g} x {fishing:,.0f}) +"
        f" {job.recovery.charge:,.0f} = {left:,.0f}. <b>F</b> = {now.time:,.0f} time +"
        f" {now.other:,.0f} charges + {now.trouble:,.0f} trouble +"
        f" {now.lost_in_hole:,.0f} left in the hole ="
        f" {fallback:,.0f}. F - S = {saved:,.0f}.",
        f"<b>Needed</b>: {first.cost:,.0f} / {saved:,.0f} = {first.cost / saved:.3f}. With all"
        f" outcomes: string lost {mean['string_lost']:.4f}, then F {now.after_string_lost:,.0f};"
        f" hole lost {mean['hole_lost']:.4f}, then {now.after_hole_lost:,.0f}; a part"
        f" {mean['part']:.4f}, then {part:,.0f}: p* = {needed:,.0f} / {saved:,.0f} ="
        f" {first.break_even_odds:.3f}.",
        f"<b>Stated</b>: p = {b:g} x {workable.recovered:g} + {1 - b:.1f} x {stubborn.recovered:g}"
        f" = {first.odds:.3f}, more than needed: <b>go</b>. One run, then stop: {first.cost:,.0f} +"
        f" {first.odds:.3f} x {left:,.0f} + {1 - first.odds:.3f} x {fallback:,.0f} = {go:,.0f},"
        f" less than {fallback:,.0f}.",
        f"<b>Run 1 brings nothing</b>: b' = {b:g} x {n[0]:g} / ({b:g} x {n[0]:g} + {1 - b:.1f} x"
        f" {n[1]:g}) = {second.workable:.3f}. Run 2 takes {24 * second.days:.3f} h in two trips,"
        f" with charges of {two.charge:,.0f}: C = {second.cost:,.0f}. It recovers in"
        f" {after[0].recovered:g} or {after[1].recovered:g}: p = {second.odds:.3f}, and"
        f" {second.cost:,.0f} / {saved:,.0f} = {second.cost / saved:.3f}:"
        " <b>go</b>, by little.",
    ]


def after_part(job: econ.Scenario) -> float:
    """Fallback of scenario A after its first run has brought a part [currency]."""
    rows = "run,start,end,outcome\n1,2026-03-14T06:00,2026-03-15T10:00,part\n"
    return econ.answer(job, econ.parse_log(rows, job)).fallbacks.rows[0].now


def _table(head: Sequence[str], rows: Iterable[Sequence[str]], *, blank: bool = False) -> str:
    top = "".join(f"<th>{words}</th>" for words in head)
    body = "".join("<tr>" + "".join(f"<td>{cell}</td>" for cell in row) + "</tr>" for row in rows)
    return f'<table class="{"blank" if blank else ""}"><tr>{top}</tr>{body}</table>'


# The folder -----------------------------------------------------------------------------

LOGS = ("a_class_job", "a_class_job_other_end")
INDEX = """# The course

| what | for whom |
|---|---|
| [How a lesson runs, and a plan for a day](pages/notebooks/guide/teaching.html) | you, first |
| [The facilitator's sheet](pages/notebooks/08_facilitator.html) of the exercise | you, printed |
| [The class exercise](class.html), played in a browser | the screen, and each team |
| [The handout](handout.html), two pages | everybody, printed |
| [The slides](slides.html), in the order of the notebooks | the screen |
| Notebooks to work in with Jupyter, in `student`; to read and print: {students} | students |
| The same with answers, minutes and what to expect, in `teacher` | you |
| [Notebooks with their answers, and the guide](pages/index.html), to read | you |
"""


def class_page() -> bytes:
    """The class exercise on scenario A, with both envelopes of the facilitator."""
    job = econ.load(SCENARIOS / "a_land_twist_off.toml")
    read = {name: econ.read_log(SCENARIOS / "logs" / f"{name}.csv", job) for name in LOGS}
    return econ.class_page(job, read)


def write(folder: Path, *, drawn: Sequence[Path] | None = None) -> list[Path]:
    """Write the course into a folder; the paths of what was written, without what was copied.

    drawn: notebooks whose pictures become slides, all if left out.
    """
    made: list[Path] = []
    notebooks = sorted(HERE.glob("*.ipynb"))

    def put(place: str, content: str | bytes) -> None:
        path = folder / place
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content.encode() if isinstance(content, str) else content)
        made.append(path)
        print(path, flush=True)

    for what in (HERE / "guide", SCENARIOS):
        shutil.copytree(what, folder / what.name, dirs_exist_ok=True)
    shutil.copy(HERE / "08_facilitator.md", folder)
    put("handout.html", handout())
    as_html.write(folder / "pages")
    links = []
    for path in notebooks:
        notebook = json.loads(path.read_text(encoding="utf-8"))
        for name, version in (("student", student), ("teacher", teacher)):
            text = json.dumps(version(notebook), ensure_ascii=False, indent=1)
            put(f"{name}/{path.name}", text)
        words = as_html.notebook(student(notebook)).replace(ROOM, ROOM + 8 * "\n")
        words = words.replace('"../scenarios/', '"../../scenarios/')
        put(
            f"pages/notebooks/student/{path.stem}.html", as_html.page(path.stem, words, up="../../")
        )
        links.append(f"[{path.name[:2]}](pages/notebooks/student/{path.stem}.html)")
    put("class.html", class_page())
    shown = [slide for path in drawn or notebooks for slide in slides(path)]
    for slide in shown:
        put(f"slides/{slide.file}", slide.picture.png())
    put("slides.html", slides_page(shown))
    index = as_html.body(INDEX.format(students=", ".join(links)))
    put("index.html", as_html.page("The course", index, up="pages/"))
    return made


if __name__ == "__main__":
    if len(sys.argv) != 2 or sys.argv[1].startswith("-"):
        sys.exit("usage: python notebooks/course.py FOLDER")
    write(Path(sys.argv[1]))
