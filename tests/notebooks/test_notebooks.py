"""Every notebook runs from top to bottom, and holds the outputs that it then has.

Its numbers are checked by `checks/NAME.py`: what stands there under `# %% ID` runs after the cell
ID, on the names that the notebook then has. So assertions live here and not in a lesson. The
version for students is made by `notebooks/course.py` and runs as well.

Each is run in a copy of `notebooks` and `scenarios`, so that nothing in the checkout is
touched, and without the names of those before it: one process runs them all, because the
libraries take longer to load than most notebooks to run. Texts must be the same to the letter:
what a reader sees is what the code says today. Pictures are drawn and told in words, but not
painted, and only counted, because their bytes depend on the font library; those of one notebook
are painted as slides.
"""

from __future__ import annotations

import ast
import json
import os
import re
import shutil
import socket
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import nbformat
import pytest
from nbclient import NotebookClient
from pypdf import PdfReader

import econ

ROOT = Path(__file__).parents[2]
FOLDER = ROOT / "notebooks"
CHECKS = Path(__file__).parent / "checks"
sys.path.insert(0, str(FOLDER))
import course  # noqa: E402

NOTEBOOKS = sorted(FOLDER.glob("*.ipynb"))
TITLES = [
    "01_what_a_day_costs",
    "02_odds_and_evidence",
    "03_the_cost_curve",
    "04_stop_or_go",
    "05_what_is_knowing_worth",
    "06_from_records_to_odds",
    "07_the_afe_supplement",
    "08_class_exercise",
    "09_what_to_run_next",
    "10_what_few_cases_say",
]
METADATA = {
    "kernelspec": {"display_name": "Python 3", "language": "python", "name": "python3"},
    "language_info": {"name": "python"},
}
LARGEST = 400_000  # bytes
TIMEOUT = 170  # seconds a cell may take on a busy machine
DRAWN = "04_stop_or_go"  # the notebook whose pictures are painted
PLOTTING = re.compile(r"matplotlib|Figure|subplots|axes\.|annotate|IPython|econ\.theme")
ORIGINS = ("published", "independent", "by hand", "common practice", "from memory", "self")
OF_A_MACHINE = re.compile(
    r"(?<![\w.])/(?:home|root|tmp|Users|usr|opt|var|mnt|srv|work)/|\b[A-Z]:\\|site-packages"
    r"|localhost|127\.0\.0\.1|https?://"
)

Cell = dict[str, Any]
by_name = pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)


def read(path: Path) -> Any:
    return nbformat.read(path, as_version=4)


def texts(cell: Cell) -> dict[str, str]:
    """What a code cell shows as text, streams joined whichever way they were cut."""
    found: dict[str, str] = {}
    for output in cell["outputs"]:
        kind = output["output_type"]
        if kind == "stream":
            key = output["name"]
            found[key] = found.get(key, "") + output["text"]
        elif kind == "error":
            found["error"] = f"{output['ename']}: {output['evalue']}"
        else:
            found["value"] = found.get("value", "") + output["data"].get("text/plain", "")
    return found


def pictures(cell: Cell) -> int:
    outputs = [each for each in cell["outputs"] if "data" in each]
    return sum("image/png" in each["data"] for each in outputs)


def differences(stored: Any, run: Any) -> list[str]:
    """Cells whose outputs are not those of the run."""
    pairs = zip(stored.cells, run.cells, strict=True)
    return [
        old["id"]
        for old, new in pairs
        if old["cell_type"] == "code"
        and (texts(old) != texts(new) or pictures(old) != pictures(new))
    ]


def strings(value: Any, key: str = "") -> Iterator[str]:
    """Every text of a notebook but the bytes of its pictures."""
    if isinstance(value, str):
        if not key.startswith("image/"):
            yield value
    elif isinstance(value, dict):
        for name, each in value.items():
            yield from strings(each, name)
    elif isinstance(value, list) and not key.startswith("image/"):
        for each in value:
            yield from strings(each)


def beside_the_interface(code: str) -> list[str]:
    """What the code takes of the package other than names of `import econ`."""
    taken: list[str] = []
    for node in ast.walk(ast.parse(code)):
        if isinstance(node, ast.Import):
            for alias in node.names:
                if alias.name.startswith("econ.") or (alias.name == "econ" and alias.asname):
                    taken.append(ast.unparse(node))
        elif isinstance(node, ast.ImportFrom):
            if (node.module or "").partition(".")[0] == "econ":
                taken.append(ast.unparse(node))
        elif isinstance(node, ast.Attribute):
            whose = node.value
            if isinstance(whose, ast.Name) and whose.id == "econ" and node.attr not in econ.__all__:
                taken.append(ast.unparse(node))
    return taken


def test_the_notebooks_are_those_of_the_guide() -> None:
    assert [path.stem for path in NOTEBOOKS] == TITLES


# What notebooks or the two versions of one ask twice is worked out once: the results are frozen.
# The key is all that was given, with what a scenario has read from a file of odds. In place of a
# painted picture stands the signature of a PNG.
ONCE = """
def once():
    import pickle
    import econ

    known = {}

    def remembered(name, plain):
        def work(*given, **named):
            key = name, pickle.dumps((given, named))
            if key not in known:
                known[key] = plain(*given, **named)
            return known[key]
        return work

    for name in ("answer", "best_order", "odds", "plan"):
        setattr(econ, name, remembered(name, getattr(econ, name)))
    econ.pictures.Picture._repr_png_ = lambda self: ("iVBORw0KGgo=", {"alt": self.words})

once()
"""


@pytest.fixture(scope="module")
def kernel() -> Iterator[NotebookClient]:
    """A process that runs cells."""
    start = nbformat.v4.new_code_cell(ONCE)
    client = NotebookClient(
        nbformat.v4.new_notebook(cells=[start]), timeout=TIMEOUT, kernel_name="python3"
    )
    with client.setup_kernel():
        client.execute_cell(start, 0)
        yield client


def executed(
    kernel: NotebookClient, notebook: Any, folder: Path, checked: dict[str, str] | None = None
) -> None:
    """Run all cells in a folder, from no name but those of Python itself, each with its checks."""
    begin = nbformat.v4.new_code_cell(f"%reset -f\n%cd -q {folder}")
    for kernel.nb in (nbformat.v4.new_notebook(cells=[begin]), notebook):
        kernel.reset_execution_trackers()
        for index, cell in enumerate(kernel.nb.cells):
            kernel.execute_cell(cell, index)
            if kernel.nb is notebook and checked and cell["id"] in checked:
                check = nbformat.v4.new_code_cell(checked[cell["id"]])
                kernel.nb = nbformat.v4.new_notebook(cells=[check])
                kernel.execute_cell(check, 0)  # raises where a check fails
                kernel.nb = notebook


def checks(path: Path) -> dict[str, str]:
    """Checks of a notebook by the cell that they follow."""
    written = CHECKS / f"{path.stem}.py"
    if not written.exists():
        return {}
    parts = re.split(r"^# %% ([\w-]+)\n", written.read_text(encoding="utf-8"), flags=re.M)
    return dict(zip(parts[1::2], parts[2::2], strict=True))


# On Windows the sockets of the kernel's client cannot use the event loop of Python (memory), and
# say so; it is not ours to mend.
@pytest.mark.filterwarnings("ignore:Proactor event loop:RuntimeWarning")
@by_name
def test_both_versions_run_and_show_what_they_hold(
    path: Path, kernel: NotebookClient, tmp_path: Path
) -> None:
    for folder in ("notebooks", "scenarios"):
        shutil.copytree(ROOT / folder, tmp_path / folder)
    stored, run = read(path), read(path)
    executed(kernel, run, tmp_path / "notebooks", checks(path))
    shown = [key for cell in run.cells if cell["cell_type"] == "code" for key in texts(cell)]
    assert not {"error", "stderr"} & set(shown)
    assert differences(stored, run) == [], "run the notebook again and store it with its outputs"
    given = nbformat.from_dict(course.student(json.loads(path.read_text(encoding="utf-8"))))
    executed(kernel, given, tmp_path / "notebooks")
    shown = [key for cell in given.cells if cell["cell_type"] == "code" for key in texts(cell)]
    assert not {"error", "stderr"} & set(shown)


@by_name
def test_is_kept_clean(path: Path) -> None:
    raw = json.loads(path.read_text(encoding="utf-8"))
    assert path.stat().st_size < LARGEST
    assert raw["metadata"] == METADATA
    cells = raw["cells"]
    names = [cell["id"] for cell in cells]
    assert len(set(names)) == len(names)
    assert all(re.fullmatch(r"[a-z0-9-]+", name) for name in names)
    assert all(set(cell["metadata"]) <= {"tags"} for cell in cells)
    assert all(tag in course.TAGS for cell in cells for tag in course.tags(cell))
    code = [cell for cell in cells if cell["cell_type"] == "code"]
    assert [cell["execution_count"] for cell in code] == list(range(1, len(code) + 1))


@by_name
def test_names_no_machine(path: Path) -> None:
    raw = json.loads(path.read_text(encoding="utf-8"))
    found = [text for text in strings(raw) if OF_A_MACHINE.search(text)]
    host = socket.gethostname()
    if len(host) > 5:  # a short name may be a word of the text
        found += [text for text in strings(raw) if host in text]
    assert found == []


@by_name
def test_teaches_and_checks(path: Path) -> None:
    # what the guide promises of each: aims, exercises with answers, numbers held with their origin
    cells = read(path).cells
    prose = "\n".join(cell.source for cell in cells if cell.cell_type == "markdown")
    code = "\n".join(cell.source for cell in cells if cell.cell_type == "code")
    held = "\n".join(checks(path).values())
    assert "you can\n" in cells[0].source
    assert re.search(r"^## (Exercises|Questions for the end)$", prose, re.M)
    assert re.search(r"^## Worked answers$", prose, re.M)
    assert set(checks(path)) <= {cell["id"] for cell in cells}
    assert len(re.findall(r"^\s*assert ", code + "\n" + held, re.M)) >= 10
    assert any(f"# {origin}" in code + held for origin in ORIGINS)
    assert "assert" not in code
    assert not PLOTTING.search(code)
    assert len(re.findall(r"Guess first", prose)) == code.count("guesses = [")
    assert "**Teacher, " in prose


# Versions -------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def whole_course(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("course")
    asked: list[Any] = []

    def page(job: econ.Scenario, logs: Any) -> bytes:
        asked.append((job.job.well, list(logs)))
        return b"the class page, which has tests of its own"

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(econ, "class_page", page)
        course.write(folder, drawn=[FOLDER / f"{DRAWN}.ipynb"])
    assert asked == [("Marlow Bench 14-3", ["a_class_job", "a_class_job_other_end"])]
    return folder


@by_name
def test_the_version_of_the_student_tells_nothing(path: Path, whole_course: Path) -> None:
    made = read(whole_course / "student" / path.name)
    whole = read(path)
    kept = {
        cell.source for cell in whole.cells if not {"answer", "teacher"} & set(course.tags(cell))
    }
    for cell in whole.cells:
        tagged = course.tags(cell)
        if "answer" in tagged or "teacher" in tagged:
            assert cell.source in kept or all(cell.source != each.source for each in made.cells)
    code = [cell for cell in made.cells if cell.cell_type == "code"]
    assert all(cell.outputs == [] and cell.execution_count is None for cell in code)
    text = "\n".join(cell.source for cell in made.cells)
    assert not PLOTTING.search(text)
    assert "assert" not in text
    assert "**Teacher" not in text
    assert "an invented class" not in text
    assert text.count("# Exercise ") == len(exercises(whole)) > 0
    assert text.count(course.ROOM) > 0


@by_name
def test_a_hint_calls_what_there_is(path: Path) -> None:
    # a student without the answers has the hints alone
    for cell in read(path).cells:
        if cell.cell_type == "markdown":
            for code in re.findall(r"`((?:print\()?econ\.\w+\([^`]*)`", cell.source):
                assert beside_the_interface(code) == [], code


def exercises(notebook: Any) -> list[str]:
    """Numbers of the exercises of a notebook."""
    lists = [cell.source for cell in notebook.cells if cell.source.startswith("## Exercises")]
    return [number for each in lists for number in course.EXERCISE.findall(each)]


@by_name
def test_the_version_of_the_teacher_is_the_whole_notebook(path: Path, whole_course: Path) -> None:
    made, whole = read(whole_course / "teacher" / path.name), read(path)
    assert differences(whole, made) == []
    for target in re.findall(r"\]\(([^)#\s]+)", "\n".join(each.source for each in made.cells)):
        assert ":" in target or (whole_course / "teacher" / target).exists(), target


def test_the_handout_is_two_pages_with_the_numbers_of_the_job(
    whole_course: Path, tmp_path: Path
) -> None:
    page = whole_course / "handout.html"
    words = re.sub(r"<[^>]+>", "", page.read_text(encoding="utf-8"))
    # independent: the worked table of scenario A; 0.127 and 0.42 by hand in notebook 2
    for told in ("74,967", "713,532", "122,325", "591,207", "= 0.127.", "= 0.471", "= 0.416."):
        assert told in words, told
    # by hand: every sum on the page comes to what stands behind it, to the last digit but one
    plain = re.sub(r" (time|charges|trouble|left in the hole)(?= [+=])", "", words)
    sums = re.findall(r"(?:[-+/x()., ]|\d)+ = [\d,.]*\d", plain)
    assert len(sums) > 10
    for each in sums:
        left, _, right = each.strip(" ,.:;").rpartition(" = ")
        left = re.sub(r"^[^\d(]+", "", left.replace(",", "").replace(" x ", " * "))
        digits = right.partition(".")[2]
        near = 2.5 * 10.0 ** -len(digits)
        assert abs(eval(left) - float(right.replace(",", ""))) <= near, each
    out = tmp_path / "handout.pdf"
    printer = [chromium(), "--headless", "--no-sandbox", "--disable-gpu", "--no-pdf-header-footer"]
    subprocess.run(
        [*printer, f"--user-data-dir={tmp_path}", f"--print-to-pdf={out}", page.as_uri()],
        check=True,
        capture_output=True,
        timeout=TIMEOUT,
    )
    pages = [each.extract_text() for each in PdfReader(out).pages]
    assert len(pages) == 2
    assert "A job worked through" in pages[0]
    assert "Break-even sheet" in pages[1]
    assert "Bayes table" in pages[1]
    assert "person in charge" in pages[1]


def chromium() -> str:
    """The browser of the system; without one the test is skipped, but never in CI."""
    found = shutil.which("chromium") or shutil.which("chromium-browser")
    if found is None:
        assert os.environ.get("CI") != "true", "chromium is missing"
        pytest.skip("chromium is missing: the handout cannot be printed")
    return found


def test_slides_are_large_enough_for_a_screen(whole_course: Path) -> None:
    drawn = list((whole_course / "slides").glob("*.png"))
    page = (whole_course / "slides.html").read_text(encoding="utf-8")
    assert set(re.findall(r'src="slides/(.+?)"', page)) == {path.name for path in drawn}
    assert page.count("<p>Notebook 4. Stop or go</p>") == len(drawn) >= 3
    assert "<h2>When the state matters</h2>" in page
    for path in drawn:
        assert int.from_bytes(path.read_bytes()[16:20], "big") >= 1_900, path.name  # [px] of a PNG


@by_name
def test_a_notebook_has_pictures_for_slides(path: Path) -> None:
    code = [cell.source for cell in read(path).cells if cell.cell_type == "code"]
    shown = [each for each in code if re.search(r"^econ\.pictures\.(?!beside)", each, re.M)]
    assert shown


def test_every_link_of_the_course_holds(whole_course: Path) -> None:
    pages = [whole_course / "index.html", *(whole_course / "pages/notebooks/student").glob("*")]
    seen = 0
    for page in pages:
        for link in re.findall(r'href="([^"#:]+)', page.read_text(encoding="utf-8")):
            assert (page.parent / link).exists(), (page.name, link)
            seen += 1
    assert seen > 40


@by_name
def test_takes_the_interface_alone(path: Path) -> None:
    code = [cell.source for cell in read(path).cells if cell.cell_type == "code"]
    assert "import econ" in code[0].splitlines() + code[1].splitlines()
    assert [taken for source in code for taken in beside_the_interface(source)] == []


def test_a_notebook_has_no_names_of_the_one_before(kernel: NotebookClient, tmp_path: Path) -> None:
    def cell(source: str) -> Any:
        return nbformat.v4.new_notebook(cells=[nbformat.v4.new_code_cell(source)])

    executed(kernel, cell("name = 1"), tmp_path)
    asked = cell("import os\nprint('name' in globals(), os.getcwd())")
    executed(kernel, asked, tmp_path)
    assert texts(asked.cells[0]) == {"stdout": f"False {tmp_path}\n"}


def test_what_is_beside_the_interface_is_found() -> None:
    code = (
        "import econ\nimport econ.records\nimport econ as program\nfrom econ import load\n"
        "def f():\n    from econ.reports.theme import INK\n"
        "econ.answer(econ.load(FILE)).best\necon.reports.theme.INK\necon.theme.INK\n"
    )
    assert sorted(beside_the_interface(code)) == [
        "econ.reports",
        "from econ import load",
        "from econ.reports.theme import INK",
        "import econ as program",
        "import econ.records",
    ]


def test_a_stale_notebook_is_found() -> None:
    # the checks above are only as good as their readers
    stored, run = read(NOTEBOOKS[0]), read(NOTEBOOKS[0])
    assert differences(stored, run) == []
    cell = next(each for each in run.cells if each["cell_type"] == "code" and texts(each))
    cell["outputs"][0]["text"] += "one more word"
    assert differences(stored, run) == [cell["id"]]
    drawn = next(each for each in stored.cells if "outputs" in each and pictures(each))
    drawn["outputs"] = []
    assert differences(stored, run) == [cell["id"], drawn["id"]]


@pytest.mark.parametrize(
    "text",
    [
        "File /home/somebody/econ/x.py",
        r"see C:\Users",
        "connected to localhost",
        "lib/python3/site-packages/numpy",
        "from https://pypi.example.org",
    ],
)
def test_a_name_of_a_machine_is_found(text: str) -> None:
    assert OF_A_MACHINE.search(text)
    assert not OF_A_MACHINE.search("../scenarios/point/a.toml, on/off, 1/2 in, 3/4")
