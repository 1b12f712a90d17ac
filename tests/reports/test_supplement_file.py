"""The workbook as a file: protection, names, print set-up, equal bytes, and text that stays text.

Origins of the expected numbers: independent, from the rules of the interface and by hand.
"""

from __future__ import annotations

import io
import re
import subprocess
import zipfile
from functools import cache
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from raw_jobs import Table
from supplement_jobs import answer_a, answered, random_job, scenario_a
from supplement_recompute import (
    by_libreoffice,
    cached,
    convert,
    differences,
    on_letter,
    with_wrong_values,
)
from test_supplement_lines import by_hand

from econ.reports.supplement import Supplement, supplement, workbook
from econ.reports.supplement.book import LONGEST_FORMULA, Book, lines
from econ.reports.supplement.cells import (
    Cell,
    least,
    same,
    sum_of,
    sum_where,
    total,
    when,
)
from econ.reports.supplement.issue import issue_of
from econ.reports.supplement.workbook import book

pytestmark = pytest.mark.usefixtures("few_bins", "few_states")
PRINTED = ["Supplement", "Costs", "Choices", "Issue"]
SHEETS = [
    *PRINTED,
    *("Partner_1", "Partner_2", "Partner_3", "Calls", "Lost_in_hole"),
    *("Options", "Contingency", "Estimate", "Prices", "Quantities", "Checks"),
    *("Assumptions", "Rounding"),
]
HOSTILE = [
    "=1+1",
    "@SUM(A1)",
    "+cmd|' /C calc'!A0",
    "<script>alert(1)</script>",
    '"><img src=x onerror=alert(1)>',
    "W" * 300,
    "\u4e95\u53f7\u4e03 \u6253\u635e\u4f5c\u4e1a" * 12,
    "\u0628\u0626\u0631 \u0627\u0644\u0635\u064a\u062f",
    "a & b &P of &N {{ 7 * 7 }} {% x %}",
]


def hostile(words: str, partners: int = 3, job: Table | None = None) -> Table:
    """A job, scenario A without one, with the words wherever a file may hold words."""
    raw = job or scenario_a()
    raw["job"] |= {"well": words, "event": words}
    raw["afe"] = {**raw["afe"], "number": words}
    raw["afe"]["line"] = [{**line, "name": words} for line in raw["afe"]["line"]]
    raw["afe"]["line"][1]["code"] = words
    raw["currency"] = words[:12]
    raw["partner"] = [
        {"name": words, "interest": 1 / partners, "operator": n == 0} for n in range(partners)
    ]
    for part in (*raw["run"], *raw["fallback"], *raw["fish"].setdefault("piece", [])):
        part["name"] = words
    for run in raw["run"]:
        run["origin"] = words
    raw["rates"] = {words: 53_000}
    return raw


@cache
def hostile_supplement(words: str, partners: int = 3) -> Supplement:
    """Its supplement; a test may not change it."""
    return supplement(answered(hostile(words, partners)))


@cache
def loaded(data: bytes, **options: Any) -> Any:
    """A workbook as it is read, which takes a while; a test may not change it."""
    return openpyxl.load_workbook(io.BytesIO(data), **options)


@pytest.fixture(scope="module")
def found() -> Supplement:
    return supplement(answer_a())


@pytest.fixture(scope="module")
def data(found: Supplement) -> bytes:
    return workbook(found)


# ---- the file -----------------------------------------------------------------------------------


def test_sheets_are_protected_and_inputs_are_not(found: Supplement, data: bytes) -> None:
    file = loaded(data)
    assert file.sheetnames == SHEETS
    assert file.security.lockStructure
    laid = book(found)
    laid.bytes()
    inputs = {
        (sheet.name, row + 1, column + 1)
        for cell, (sheet, row, column) in laid.home.items()
        if cell.is_input
    }
    assert len(inputs) > 100
    for page in file:
        assert page.protection.sheet
        for row in page.iter_rows():
            for cell in row:
                free = (page.title, cell.row, cell.column) in inputs
                merged = type(cell).__name__ == "MergedCell"
                assert merged or cell.protection.locked is not free, (page.title, cell.coordinate)
                assert not (free and cell.data_type == "f")


def test_names_stand_for_the_cells_they_say(found: Supplement, data: bytes) -> None:
    file = loaded(data, data_only=True)
    names = {name: list(each.destinations) for name, each in file.defined_names.items()}
    expected = {
        "Spread": 53_000,
        "Fishing_day": 7_400,
        "Limit": found.answer.best,
        "Asked": found.ask.granted.ask.number,
        "Trigger_percent": 0.1,
        "Expected_call": found.answer.authority.call.expected_call,
    }
    for name, value in expected.items():
        ((sheet, place),) = names[name]
        assert file[sheet][place].value == pytest.approx(value, abs=1e-9)


def test_print_set_up_and_panes(data: bytes) -> None:
    for page in loaded(data):
        assert page.page_setup.fitToWidth in (None, 1)  # 1 is what is meant where it is left out
        assert page.sheet_properties.pageSetUpPr.fitToPage
        assert int(page.page_setup.paperSize) == 9
        assert "page" in page.oddFooter.right.text
        still = page.title in ("Supplement", "Issue") or page.title.startswith("Partner_")
        assert (page.freeze_panes is not None) is not still
    heights = {page.title: page.page_setup.fitToHeight for page in loaded(data)}
    alone = [*PRINTED, "Partner_1", "Partner_2", "Partner_3", "Lost_in_hole"]
    assert {heights[name] for name in alone} <= {None, 1}
    assert heights["Checks"] > 1  # as many pages as it takes


def test_only_functions_that_all_share(data: bytes) -> None:
    shared = {*("SUM", "SUMIF", "MIN", "IF", "ABS", "ROUND", "OR", "INT", "LARGE", "MAX", "FIXED")}
    shared |= {"SUMPRODUCT", "INDEX", "MATCH", "ISBLANK", "ISNUMBER", "RIGHT"}
    shared |= {"YEAR", "MONTH", "DAY", "HOUR", "MINUTE", "MID"}
    used: set[str] = set()
    for page in loaded(data):
        for row in page.iter_rows():
            for cell in row:
                if cell.data_type == "f":
                    assert len(cell.value) < LONGEST_FORMULA
                    used |= set(re.findall(r"([A-Z]+)\(", re.sub(r'"[^"]*"', "", cell.value)))
    assert used <= shared
    assert {"SUM", "SUMIF", "IF", "ROUND"} <= used


def test_equal_input_gives_equal_bytes(found: Supplement, data: bytes) -> None:
    assert workbook(supplement(answered(scenario_a()))) == data
    with zipfile.ZipFile(io.BytesIO(data)) as file:
        assert {entry.date_time for entry in file.infolist()} == {(1980, 1, 1, 0, 0, 0)}
        assert b"2000-01-01T00:00:00Z" in file.read("docProps/core.xml")


@pytest.mark.parametrize("count", [0, 1, 8])
def test_partners_and_no_lines(count: int) -> None:
    raw = random_job(7)
    raw["afe"] = {}
    raw["partner"] = [{"name": f"P{n}", "interest": 1 / count} for n in range(count)]
    made = supplement(answered(raw))
    file = loaded(workbook(made), data_only=True)
    names = [row[0].value for row in file["Supplement"].iter_rows()]
    assert sum(name in {f"P{n}" for n in range(count)} for name in names) == count
    assert sum(name.startswith("Partner_") for name in file.sheetnames) == count
    assert made.costs.total["original"].number == 0
    assert made.costs.percent.value == "new"
    assert made.costs.triggered.value == "over the trigger"


def test_a_job_without_runs() -> None:
    raw = random_job(7) | {"run": []}
    made = supplement(answered(raw))
    assert [each.sort for each in made.choices if each.sort != "fallback"] == ["suspend", "nothing"]
    values = cached(workbook(made))
    runs = [value for (sheet, _), value in values.items() if sheet == "Options"]
    assert "No run is left to make." in runs


# ---- text of a user -----------------------------------------------------------------------------


@pytest.mark.parametrize("words", HOSTILE, ids=lambda words: ascii(words[:14]))
def test_text_is_never_a_formula(words: str, data: bytes) -> None:
    made = loaded(workbook(hostile_supplement(words)))
    plain = loaded(data)
    seen = 0
    for page in made:
        ours = sum(cell.data_type == "f" for row in plain[page.title].iter_rows() for cell in row)
        theirs = sum(cell.data_type == "f" for row in page.iter_rows() for cell in row)
        assert ours == theirs, page.title
        for row in page.iter_rows():
            for cell in row:
                assert cell.hyperlink is None
                if cell.data_type == "f":
                    assert words not in cell.value or words == "@"
                elif isinstance(cell.value, str) and words in cell.value:
                    seen += 1
    assert seen > 20


def test_hostile_text_recomputes_and_prints(tmp_path: Path) -> None:
    # in LibreOffice the words stay words, and every number is the same
    books = {}
    for number, words in enumerate(HOSTILE):  # in a small job, because it is nine files
        raw = hostile(words, job=by_hand())
        books[f"book_{number}"] = workbook(supplement(answered(raw)))
    found = by_libreoffice({name: with_wrong_values(b) for name, b in books.items()}, tmp_path)
    for name, each in books.items():
        assert differences(cached(each), found[name]) == [], name


def test_one_page_each_for_what_is_handed_round(data: bytes, tmp_path: Path) -> None:
    long = workbook(supplement(answered(hostile("Long name " * 30, partners=8))))
    books = {
        "long": long,
        "short": data,
        "letter": on_letter(data),
        "letter_long": on_letter(long),
    }
    sizes = set()
    for name, pdf in convert(books, tmp_path, "pdf").items():
        (tmp_path / "one.pdf").write_bytes(pdf)
        told = subprocess.run(
            ["pdfinfo", "one.pdf"], cwd=tmp_path, check=True, capture_output=True, timeout=60
        )
        (size,) = re.findall(r"Page size: +([\d.]+) x ([\d.]+)", told.stdout.decode())
        sizes |= {(name.startswith("letter"), round(max(map(float, size))))}
        read = ["pdftotext", "-layout", "one.pdf", "-"]
        text = subprocess.run(read, cwd=tmp_path, check=True, capture_output=True, timeout=60)
        pages = text.stdout.decode().split("\f")[:-1]
        costs = sum("Costs, page " in page for page in pages)
        assert costs == 1 or "long" in name  # 300 characters a line: more pages, not smaller type
        first = ["Supplement", *["Costs"] * costs, "Choices", "Issue"]
        for number, sheet in enumerate(first):
            assert f"{sheet}, page {number + 1} of {len(pages)}" in pages[number], name
        count = 8 if "long" in name else 3
        assert "Lost_in_hole, page " in pages[-1]  # pieces are owed in each of these jobs
        assert len(pages) == len(first) + count + 1  # no working sheet is in it
        for number in range(count):
            text = pages[len(first) + number]
            assert f"Partner_{number + 1}, page " in text
            # one place to sign for each signatory
            assert "tick one and sign here" in " ".join(text.split())
        assert "Supplement to an authority for expenditure" in pages[0]
        signed = [number for number, text in enumerate(pages) if "Signature" in text]
        assert signed == list(range(len(first) - 1, len(pages) - 1)), name
    assert sizes == {(False, 842), (True, 792)}  # points: 297 mm and 11 in


def test_properties_tell_the_issue(found: Supplement, data: bytes) -> None:
    about = loaded(data).properties
    made = issue_of(found.answer)
    assert made.fingerprint in about.keywords
    assert made.version in about.description
    other = scenario_a()
    other["rates"] = {"rig": 53_001}
    assert issue_of(answered(other)).fingerprint != made.fingerprint
    assert issue_of(answered(scenario_a())) == made


# ---- terms --------------------------------------------------------------------------------------


def address(what: object) -> str:
    return "C" if isinstance(what, Cell) else "B"


def test_terms_bracket_what_needs_it() -> None:
    # by hand
    two, three = Cell(2.0), Cell(3.0)
    cases = [
        (two - (three - 1), "C-(C-1)", 0.0),
        ((two - three) - 1, "C-C-1", -2.0),
        (two / (three * 2), "C/(C*2)", 1 / 3),
        ((two + three) * 2, "(C+C)*2", 10.0),
        (1 - two * three, "1-C*C", -5.0),
        (two * -0.5, "C*(-0.5)", -1.0),
        (when(same(two, 2.0), two / 0.0, "no"), 'IF(C=2,C/0,"no")', None),
    ]
    for term, text, value in cases:
        assert term.text(address) == text
        if value is not None:
            assert term.number == pytest.approx(value)


def test_functions_of_terms() -> None:
    # by hand
    cells = [Cell(value) for value in (3.0, 1.0, 2.0)]
    keys = [Cell(word) for word in ("a", "b", "a")]
    assert total(cells).value == 6
    assert least(cells).value == 1
    assert sum_where(keys, "a", cells).text(address) == 'SUMIF(B,"a",B)'
    assert sum_where(keys, "a", cells).value == 5
    assert sum_of([]).value == 0
    assert same(Cell('say "no"'), 'say "no"').text(address) == 'C="say ""no"""'


def test_a_cell_has_one_home_and_a_block_one_line() -> None:
    made = Book("t")
    sheet = made.add("One", "Title", [10, 10])
    one, two = Cell(1.0), Cell(2.0)
    sheet.put(1, 0, one)
    sheet.put(2, 1, two)
    sheet.put(3, 0, Cell(total([one, two])))
    with pytest.raises(AssertionError):
        made.bytes()  # the two do not stand in a line
    sheet.put(4, 0, one)
    with pytest.raises(AssertionError):
        made.bytes()


def test_lines_of_words() -> None:
    # by hand: wide characters take two places
    assert lines("x" * 10, 20) == 1
    assert lines("x" * 100, 20) == 5
    assert lines("\u4e95" * 20, 20) == 2
    assert lines("a\nb", 20) == 2
