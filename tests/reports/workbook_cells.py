"""The values that stand in the cells of a workbook, of a formula the value written beside it.

Read from the XML of the cells alone (ECMA-376-1, 18.3.1.4): styles, merged cells and drawings are
not looked at, which would take ten times as long.
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Sequence
from typing import Any
from xml.etree import ElementTree

RELATIONS = "_rels/workbook.xml.rels"
SHEET = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
LINK = "{http://schemas.openxmlformats.org/officeDocument/2006/relationships}id"
Cells = dict[str, Any]  # by place: words, numbers (a moment as days), truth values


def cells_of(book: bytes, *names: str) -> dict[str, Cells]:
    """Cells that are not blank, by the name of their sheet; of all sheets where none is named."""
    with zipfile.ZipFile(io.BytesIO(book)) as whole:

        def part(name: str) -> ElementTree.Element:
            return ElementTree.fromstring(whole.read(f"xl/{name.removeprefix('/xl/')}"))

        files = {each.attrib["Id"]: each.attrib["Target"] for each in part(RELATIONS)}
        words = ["".join(each.itertext()) for each in part("sharedStrings.xml")]
        places = {
            each.attrib["name"]: files[each.attrib[LINK]]
            for each in part("workbook.xml").iter(f"{SHEET}sheet")
        }
        return {name: _of_sheet(part(places[name]), words) for name in names or places}


def _of_sheet(sheet: ElementTree.Element, words: Sequence[str]) -> Cells:
    found = {}
    for cell in sheet.iter(f"{SHEET}c"):
        value, kind = cell.findtext(f"{SHEET}v"), cell.get("t", "n")
        if kind == "inlineStr":
            value = "".join(cell.itertext())
        if value:
            found[cell.attrib["r"]] = _value(value, kind, words)
    return {place: value for place, value in found.items() if value != ""}


def _value(written: str, kind: str, words: Sequence[str]) -> Any:
    match kind:
        case "n":
            return float(written)
        case "s":
            return words[int(written)]
        case "b":
            return written == "1"
        case "str" | "e" | "inlineStr":
            return written
    raise AssertionError(f"a cell of kind {kind}: {written}")


def place_of(name: str) -> tuple[int, int]:
    """Row and column of a cell, both from 0.

    >>> place_of("AB3")
    (2, 27)
    """
    letters = name.rstrip("0123456789")
    column = 0
    for letter in letters:
        column = 26 * column + ord(letter) - ord("A") + 1
    return int(name[len(letters) :]) - 1, column - 1
