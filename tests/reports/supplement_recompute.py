"""Workbooks recomputed by others than the program, from cached values that are wrong on purpose.

`by_formulas` asks the formulas library, `by_libreoffice` a headless LibreOffice with a profile of
its own that recalculates whatever it loads: without that a sheet with wrong values would pass.
"""

from __future__ import annotations

import io
import os
import re
import shutil
import subprocess
import tempfile
import warnings
import zipfile
from collections.abc import Mapping
from datetime import datetime
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from openpyxl.utils.datetime import to_excel
from xlsxwriter.utility import xl_rowcol_to_cell

from econ.reports.supplement.book import Book
from econ.reports.supplement.cells import Cell

Values = dict[tuple[str, str], Any]
CENT = 0.005
PROFILE = """<?xml version="1.0" encoding="UTF-8"?>
<oor:items xmlns:oor="http://openoffice.org/2001/registry"
 xmlns:xs="http://www.w3.org/2001/XMLSchema"
 xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance">
<item oor:path="/org.openoffice.Office.Calc/Formula/Load">
<prop oor:name="OOXMLRecalcMode" oor:op="fuse"><value>0</value></prop></item>
</oor:items>
"""


def soffice() -> str:
    """The program; a test that needs it is skipped without it, but not in CI."""
    found = shutil.which("soffice") or shutil.which("libreoffice")
    if found is None:
        reason = "LibreOffice is not installed: nothing but it recalculates as it does"
        if os.environ.get("CI") == "true":
            pytest.fail(reason)
        pytest.skip(reason)
    return found


def with_wrong_values(data: bytes) -> bytes:
    """The same workbook where every formula carries a value that is not its own."""

    def spoil(text: str) -> str:
        text = re.sub(r'(<c [^>]*?) t="str"([^>]*>\s*<f>)', r"\1\2", text)
        spoilt, count = re.subn(r"(</f>)<v>[^<]*</v>", r"\1<v>-777</v>", text)
        assert count or "<f>" not in text
        return spoilt

    return _rewritten(data, lambda name, text: spoil(text))


def on_letter(data: bytes) -> bytes:
    """The same workbook set up for paper of 8-1/2 by 11 in."""
    return _rewritten(data, lambda name, text: text.replace('paperSize="9"', 'paperSize="1"'))


def with_inputs(data: bytes, book: Book, changes: Mapping[Cell, float | str | None]) -> bytes:
    """The same workbook where some input cells hold another value, as if typed by a reader; None is
    a cell that is blank."""
    pages = {sheet.name: f"xl/worksheets/sheet{n}.xml" for n, sheet in enumerate(book.sheets, 1)}
    wanted: dict[str, dict[str, float | str | None]] = {}
    for cell, value in changes.items():
        assert cell.is_input
        sheet, row, column = book.home[cell]
        wanted.setdefault(pages[sheet.name], {})[xl_rowcol_to_cell(row, column)] = value

    def typed(name: str, text: str) -> str:
        for place, value in wanted.get(name, {}).items():
            said = "/>" if value is None else f"><v>{value!r}</v></c>"
            if isinstance(value, str):
                said = f' t="inlineStr"><is><t>{value}</t></is></c>'
            text, count = re.subn(
                rf'<c r="{place}"( s="\d+")?(?: t="s")?(?:/>|>.*?</c>)',
                lambda found, said=said, place=place: f'<c r="{place}"{found.group(1)}{said}',
                text,
            )
            assert count == 1, place
        return text

    return _rewritten(data, typed)


def _rewritten(data: bytes, change: Any) -> bytes:
    made = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(made, "w") as new:
        for entry in old.infolist():
            content = old.read(entry)
            if entry.filename.startswith("xl/worksheets/sheet"):
                content = change(entry.filename, content.decode()).encode()
            new.writestr(entry, content)
    return made.getvalue()


def cached(data: bytes) -> Values:
    """The values that stand in a workbook, by sheet and place; a moment as a number."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        book = openpyxl.load_workbook(io.BytesIO(data), data_only=True, read_only=True)
    return {
        (page.title, cell.coordinate): to_excel(cell.value)
        if isinstance(cell.value, datetime)
        else cell.value
        for page in book.worksheets
        for row in page.iter_rows()
        for cell in row
        if cell.value not in (None, "")
    }


def by_formulas(data: bytes) -> Values:
    """What the formulas library makes of a workbook; names of sheets in capitals, as it has."""
    with warnings.catch_warnings(), tempfile.TemporaryDirectory() as folder:
        warnings.simplefilter("ignore")
        import formulas  # type: ignore[import-untyped]

        file = Path(folder, "book.xlsx")
        file.write_bytes(data)
        solved = formulas.ExcelModel().loads(str(file)).finish().calculate()
    found: Values = {}
    for name, ranges in solved.items():
        sheet, _, place = str(name).rpartition("!")
        if sheet and ":" not in place:
            value = ranges.value[0, 0]
            plain = value.item() if hasattr(value, "item") else value
            found[sheet.strip("'").split("]")[-1], place] = plain
    return found


def by_libreoffice(books: Mapping[str, bytes], folder: Path) -> dict[str, Values]:
    """What LibreOffice makes of workbooks."""
    converted = convert(books, folder, "xlsx")
    return {name: cached(data) for name, data in converted.items()}


def convert(books: Mapping[str, bytes], folder: Path, kind: str) -> dict[str, bytes]:
    """Workbooks recalculated and saved as another kind of file, all in one go."""
    program = soffice()
    profile, source, target = (folder / name for name in ("profile", "in", "out"))
    for each in (profile / "user", source, target):
        each.mkdir(parents=True, exist_ok=True)
    (profile / "user" / "registrymodifications.xcu").write_text(PROFILE, encoding="utf-8")
    files = []
    for name, data in books.items():
        files.append(source / f"{name}.xlsx")
        files[-1].write_bytes(data)
    command = [program, f"-env:UserInstallation={profile.as_uri()}", "--headless", "--convert-to"]
    command += [kind, "--outdir", str(target), *map(str, files)]
    limit = 60 * (10 + len(files))  # [s]
    subprocess.run(command, check=True, capture_output=True, timeout=limit)
    return {name: (target / f"{name}.{kind}").read_bytes() for name in books}


def differences(expected: Values, found: Values, *, within: float = CENT) -> list[str]:
    """Cells that differ, by more than `within` or a part in 1e12 where they are numbers."""
    capitals = {(sheet.upper(), place): value for (sheet, place), value in found.items()}
    bad = []
    for (sheet, place), value in expected.items():
        other = capitals.get((sheet.upper(), place))
        if isinstance(value, (int, float)) and isinstance(other, (int, float)):
            if not abs(value - other) <= max(within, 1e-12 * abs(value)):
                bad.append(f"{sheet}!{place}: {value!r}, not {other!r}")
        elif str(value) != str(other):
            bad.append(f"{sheet}!{place}: {value!r}, not {other!r}")
    return bad


def value_of(values: Values, book: Book, cell: Cell) -> Any:
    """The value that a cell of the layout has in recomputed values."""
    sheet, row, column = book.home[cell]
    place = xl_rowcol_to_cell(row, column)
    name = sheet.name if (sheet.name, place) in values else sheet.name.upper()
    return values.get((name, place), "")
