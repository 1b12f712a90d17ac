"""A workbook laid out first and written after: cells get their places, then their formulas.

A layout puts content into sheets; a `Cell` may be put once, which is its home, and shown again
elsewhere. Only when every cell has a home are formulas put into words and written with the
values that they give, so that a reader without a calculator sees the same numbers.
"""

from __future__ import annotations

import io
import math
import unicodedata
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

import xlsxwriter  # type: ignore[import-untyped]
from xlsxwriter.utility import xl_rowcol_to_cell  # type: ignore[import-untyped]

from econ.reports.supplement.cells import Block, Bounds, Cell, Value
from econ.reports.supplement.styles import Content as Content
from econ.reports.supplement.styles import Styles, shown
from econ.reports.theme import MUTED

CREATED = datetime(2000, 1, 1)  # the same for every file: equal input, equal bytes
LONGEST_FORMULA = 8192  # characters, the limit of the file format
A4 = 9
MARGINS = {"left": 0.25, "right": 0.25, "top": 0.4, "bottom": 0.55}  # [in]
ROOM = {True: (559.0, 723.0), False: (756.0, 526.0)}  # [pt] within, of A4 and Letter the less
SQUEEZE = 0.08  # of a page, which is rather made smaller than begun
PER_WIDTH = 1.12  # characters of the small type of these sheets in a unit of width
ROOMS = {"title": 0.6, "head": 0.9, "head_right": 0.9, "note": 1.15}  # the same by mark, over it
LINE_HEIGHT = 12.0  # of a line of text [pt]
TITLE = 22.0  # of a line of a title [pt]
ROW = 12.5  # the least that a row has [pt]
HIGHEST = 409.0  # the most that a row may have [pt]
TO_SIGN = 28.0  # of a row to sign or to tick in [pt]
LONGEST_FOOTER = 80  # characters of a user's text in a footer


@dataclass
class Placed:
    """Content at a place, with the kind of number and the marks that choose its look."""

    row: int
    column: int
    content: Content
    kind: str
    marks: tuple[str, ...]
    width: int = 1  # columns, merged


@dataclass
class Sheet:
    """A sheet as it is laid out; rows and columns count from 0."""

    name: str
    widths: Sequence[float]
    upright: bool = False
    one_page: bool = False
    working: bool = False  # not printed
    frozen: tuple[int, int] = (0, 0)
    repeat: tuple[int, int] | None = None
    placed: list[Placed] = field(default_factory=list)
    heights: dict[int, float] = field(default_factory=dict)
    row: int = 0  # the next free one

    def put(self, row: int, column: int, content: Content, kind: str = "text", *marks: str) -> None:
        """Put content at a place; its home, if it is a cell."""
        self.across(row, column, 1, content, kind, *marks)

    def across(
        self, row: int, column: int, width: int, content: Content, kind: str = "text", *marks: str
    ) -> None:
        """Put content over `width` columns, as high as its words need."""
        self.placed.append(Placed(row, column, content, kind, marks, width))
        words = content.value if isinstance(content, Cell) else content
        mark = marks[0] if marks else ""
        if mark in ("sign", "box"):
            self.heights[row] = TO_SIGN
        elif isinstance(words, str) and kind == "text" and mark != "section":
            room = sum(self.widths[column : column + width])
            count = lines(words, room * ROOMS.get(mark, 1.0))
            needed = TITLE * count if mark == "title" else LINE_HEIGHT * (count - 1) + ROW
            self.heights[row] = min(max(self.heights.get(row, 0.0), needed), HIGHEST)

    def line(
        self, kinds: str, *contents: Content, mark: str = "line", at: Sequence[int] = ()
    ) -> None:
        """The next row. kinds: of the contents, the last for all that are left; at: the columns in
        which they begin, each up to the next and the last to the end; one column each without."""
        named = kinds.split()
        for number, content in enumerate(contents):
            column, width = number, 1
            if at:
                column = at[number]
                width = (*at, len(self.widths))[number + 1] - column
            kind = named[min(number, len(named) - 1)]
            self.across(self.row, column, width, content, kind, mark)
        self.row += 1

    def fact(self, words: str, content: Content, kind: str = "text", mark: str = "line") -> None:
        """The next row: words, and content over all columns behind them, on the left."""
        self.put(self.row, 0, words, "text", mark)
        self.across(self.row, 1, len(self.widths) - 1, content, kind, mark, "left")
        self.row += 1

    def text(self, *paragraphs: Content, mark: str = "plain") -> None:
        """Paragraphs over the sheet."""
        for words in paragraphs:
            self.across(self.row, 0, len(self.widths), words, "text", mark)
            self.row += 1

    def head(self, *words: str, left: int = 1, frozen: int = 0) -> None:
        """A row of column heads, the first `left` of them over words. frozen: columns that stay
        where they are when a reader goes on, as this row does then and on every page."""
        for column, each in enumerate(words):
            self.put(self.row, column, each, "text", "head" if column < left else "head_right")
        if frozen:
            self.frozen, self.repeat = (self.row + 1, frozen), (self.row, self.row)
        self.row += 1

    def section(self, words: str) -> None:
        """The head of a part, with an empty row before it."""
        self.row += 1
        self.put(self.row, 0, words, "text", "section")
        self.row += 1

    def note(self, words: str) -> None:
        """A paragraph in small type over the sheet."""
        self.text(words, mark="note")

    def widen(self) -> None:
        """Make columns wide enough for their numbers: one that is too long is not shown."""
        widths = list(self.widths)
        for each in self.placed:
            if each.width == 1 and each.kind not in ("text", "unit"):
                needed = room_of(each.content, each.kind)
                widths[each.column] = max(widths[each.column], needed)
        self.widths = widths

    def pages(self) -> int:
        """Pages that it takes one below the other, as wide as the paper."""
        across, down = ROOM[self.upright]
        scale = min(1.0, across / sum(5.25 * width + 3.75 for width in self.widths))
        height = scale * sum(self.heights.get(row, ROW) for row in range(self.row))
        return max(1, math.ceil(height / down - SQUEEZE))


class Book:
    """The workbook: sheets in order, and where each cell has its home."""

    def __init__(self, title: str) -> None:
        self.title = title
        self.about: dict[str, str] = {}  # properties of the document, beside its title
        self.sheets: list[Sheet] = []
        self.home: dict[Cell, tuple[Sheet, int, int]] = {}

    def add(self, name: str, title: str, widths: Sequence[float], **more: Any) -> Sheet:
        """A further sheet with its title; more: as of `Sheet`."""
        self.sheets.append(Sheet(name, widths, **more))
        self.sheets[-1].text(title, mark="title")
        return self.sheets[-1]

    def bytes(self) -> bytes:
        """The file, every formula with its value."""
        self._settle()
        buffer = io.BytesIO()
        book = _Workbook(buffer, {"in_memory": True})
        book.set_properties({"title": self.title, "created": CREATED, **self.about})
        book.set_calc_mode("auto")
        styles = Styles(book)
        for sheet in self.sheets:
            self._write(book, sheet, styles)
        for cell, (sheet, row, column) in self.home.items():
            if cell.name is not None:
                address = xl_rowcol_to_cell(row, column, row_abs=True, col_abs=True)
                book.define_name(cell.name, f"={sheet.name}!{address}")
        book.close()
        return buffer.getvalue()

    def _settle(self) -> None:
        """Give every cell its home."""
        for sheet in self.sheets:
            for each in sheet.placed:
                if isinstance(each.content, Cell):
                    assert each.content not in self.home, (sheet.name, each)
                    self.home[each.content] = (sheet, each.row, each.column)

    def _address(self, sheet: Sheet) -> Callable[[Cell | Block], str]:
        """How formulas of a sheet call cells and blocks."""

        def address(what: Cell | Block) -> str:
            if isinstance(what, Cell):
                if what.name is not None:
                    return what.name
                home, row, column = self.home[what]
                return _prefix(home, sheet) + _absolute(row, column)
            homes = [self.home[cell] for cell in what.cells]
            (home, row, column), (last, last_row, last_column) = homes[0], homes[-1]
            down, right = last_row - row, last_column - column
            steps = [(row + i * (down > 0), column + i * (right > 0)) for i in range(len(homes))]
            assert last is home, (home.name, last.name)
            assert min(down, right) == 0, (home.name, homes)
            assert [(r, c) for _, r, c in homes] == steps, (home.name, homes)
            end = "" if len(homes) == 1 else ":" + _absolute(last_row, last_column)
            return _prefix(home, sheet) + _absolute(row, column) + end

        return address

    def _write(self, book: xlsxwriter.Workbook, sheet: Sheet, styles: Styles) -> None:
        page = book.add_worksheet(sheet.name, _Worksheet)
        sheet.widen()
        page.set_default_row(ROW)
        for column, width in enumerate(sheet.widths):
            page.set_column(column, column, width)
        for row, height in sheet.heights.items():
            page.set_row(row, height)
        address = self._address(sheet)
        for each in sheet.placed:
            _write(page, each, styles, address)
        if any(sheet.frozen):
            page.freeze_panes(*sheet.frozen)
        _set_up(page, sheet, self.title)


class _Workbook(xlsxwriter.Workbook):  # type: ignore[misc]
    """A workbook whose sheets can be neither moved nor renamed: formulas refer to them."""

    def _write_book_views(self) -> None:
        # The element has its place before the views; the library has no call for it.
        self._xml_empty_tag("workbookProtection", [("lockStructure", 1)])
        super()._write_book_views()


class _Worksheet(xlsxwriter.worksheet.Worksheet):  # type: ignore[misc]
    """A sheet whose formulas call no function that has another name in the file: the library looks
    for thirty of them in each."""

    def _prepare_formula(self, formula: str, expand_future_functions: bool = False) -> str:
        return formula.removeprefix("=")


def _validation(each: Bounds) -> dict[str, Any]:
    """What may be typed into a cell."""
    if each.words:
        return {"validate": "list", "source": list(each.words)}
    kind = "integer" if each.whole else "decimal"
    ends = {"minimum": each.low, "maximum": each.high}
    return {"validate": kind, "criteria": "between", "ignore_blank": False, **ends}


def room_of(content: Content, kind: str) -> float:
    """The width of a column that shows a number in full."""
    words = shown(content, kind)
    return 1.1 * len(words) - 0.5 * sum(words.count(mark) for mark in ",.-")


def lines(words: str, room: float) -> int:
    """Lines that words take in a column of a width [characters]."""
    found = 0
    for paragraph in words.split("\n"):
        length = sum(map(_width, paragraph))
        found += max(1, math.ceil(length / max(room * PER_WIDTH, 1.0)))
    return found


def _width(character: str) -> float:
    """How wide a character is beside the mean of small letters."""
    if unicodedata.east_asian_width(character) in "WF":
        return 2.0
    if character in "MW@%":
        return 1.7
    return 1.25 if character.isupper() else 1.0


def _write(page: Any, each: Placed, styles: Styles, address: Callable[[Cell | Block], str]) -> None:
    content, row, column = each.content, each.row, each.column
    is_input = isinstance(content, Cell) and content.is_input
    look = styles.get(each.kind, *each.marks, *(("input",) if is_input else ()))
    if each.width > 1:
        page.merge_range(row, column, row, column + each.width - 1, "", look)
    if isinstance(content, Cell) and content.formula is not None:
        text = "=" + content.formula.text(address)
        assert len(text) <= LONGEST_FORMULA, len(text)
        page.write_formula(row, column, text, look, _written(content.value))
        return
    if isinstance(content, Cell) and content.bounds is not None:
        page.data_validation(row, column, row, column, _validation(content.bounds))
    value = content.value if isinstance(content, Cell) else content
    if value is None or value == "":
        page.write_blank(row, column, None, look)
    elif isinstance(value, str):
        page.write_string(row, column, value, look)
    else:
        page.write_number(row, column, _written(value), look)


def _written(value: Value) -> Any:
    """A value as it goes into the file."""
    if isinstance(value, str):
        return value
    assert math.isfinite(value)
    return float(value)


def _set_up(page: Any, sheet: Sheet, title: str) -> None:
    """Paper, margins, page breaks, foot, protection."""
    page.set_paper(A4)
    if not sheet.upright:
        page.set_landscape()
    page.fit_to_pages(1, 1 if sheet.one_page else sheet.pages())
    page.set_margins(**MARGINS)
    if sheet.repeat is not None and not sheet.working:
        page.repeat_rows(*sheet.repeat)
    words = title if len(title) <= LONGEST_FOOTER else title[: LONGEST_FOOTER - 3] + "..."
    page.set_footer("&L&8" + words.replace("&", "&&") + "&R&8&A, page &P of &N")
    if sheet.working:
        page.set_tab_color(MUTED)
        page.print_area(0, len(sheet.widths), 0, len(sheet.widths))  # an empty cell: no page
    page.hide_gridlines(2)
    page.protect("", {"format_columns": True, "format_rows": True})


def _prefix(home: Sheet, sheet: Sheet) -> str:
    return "" if home is sheet else f"{home.name}!"


def _absolute(row: int, column: int) -> str:
    found: str = xl_rowcol_to_cell(row, column, row_abs=True, col_abs=True)
    return found
