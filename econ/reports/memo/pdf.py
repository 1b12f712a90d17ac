"""The memo as a PDF of A4 pages: the first for the morning call, then what stands behind it.

The first page is set as large as it fits, never smaller than SIZE points but for names of hundreds
of letters; what room is left is spread between its parts. A curve that finds no room on it goes to
the second page, and what stands behind a short first page begins on the same sheet. A block that
fits a page is not broken over two. Everything is laid out on a sheet for measuring first.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from contextlib import closing
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from io import BytesIO
from pathlib import Path

import matplotlib
from fpdf import FPDF
from fpdf.enums import XPos, YPos
from fpdf.fonts import TTFFont
from fpdf.util import Padding
from PIL import Image

from econ.reports import theme
from econ.reports.figures.lettering import BOX, shown
from econ.reports.memo.content import Beside, Block, Facts, Grid, Memo, Picture, Points

MARGIN = 12.0  # [mm]
GAP = 6.0  # between the columns [mm]
WIDTH, HEIGHT = 210.0, 297.0
WHOLE = WIDTH - 2 * MARGIN
COLUMN = (WHOLE - GAP) / 2
BOTTOM = HEIGHT - MARGIN - 5.0  # of what is laid out; the last line of a page stands below
FAMILY = "memo"
POINT = 25.4 / 72.0
BEFORE_PERCENT = re.compile(r"(?<=\d) (?=%)")  # where no line ends
PADDING = Padding(right=1.6)  # [mm]
LONGEST = 600  # characters of a cell or a label

# Sizes of the first page [pt], times its scale; and those behind it
NAME, VERDICT, HEAD, SIZE = 15.0, 12.0, 10.0, 9.0
TABLE, FINE, FOOT = 8.4, 7.6, 7.4
SCALES = (1.3, 1.25, 1.2, 1.15, 1.1, 1.05, 1.0)
WITHOUT_CURVE = (*SCALES[2:], 0.92, 0.84, 0.76, 0.68, 0.6)
BEHIND = (1.0, 0.95, 0.9)  # tried for the pages behind, smaller ones where they save a page
SHORT_END = 60.0  # of a last page that is worth the while [mm]
BETWEEN = 3.0  # least between two parts of the first page [mm]
MOST_BETWEEN = 9.0
SHORT_PAGE = 70.0  # room that is left on a first page from which on the rest begins on it [mm]
SIGN = 13.0  # height of the lines to sign [mm]
SIGN_SHARES = (0.34, 0.24, 0.24, 0.18)


@dataclass(frozen=True)
class Layout:
    """How a memo is laid out: scale of the first page and of those behind, whether the curve is on
    the first, how many of its blocks stand in the left column, what lies between its parts [mm],
    and whether the rest begins on it."""

    scale: float
    curve: bool
    split: int
    between: float = BETWEEN
    goes_on: bool = False
    behind: float = 1.0


def pdf(memo: Memo, figures: Mapping[str, bytes]) -> bytes:
    """The memo with its `figures`, PNG by name."""
    layout: Layout | None = None
    best: FPDF | None = None
    for scale in BEHIND:
        sheet = _Sheet(memo, figures)
        with closing(sheet):
            sheet.scratch = _Sheet(memo, figures, measures_for=sheet)
            layout = layout or sheet.scratch.layout()
            sheet.lay_out(replace(layout, behind=scale))
            if best is None or sheet.file.page_no() < best.page_no():
                best = sheet.file
                data = bytes(sheet.file.output())
            if sheet.file.get_y() > SHORT_END:
                break
    return data


class _Sheet:
    """A PDF under way, or one on which heights are measured, with the typefaces of another, which
    take long to read."""

    def __init__(
        self, memo: Memo, figures: Mapping[str, bytes], *, measures_for: _Sheet | None = None
    ) -> None:
        self.memo, self.figures, self.scale = memo, figures, 1.0
        self.draws = measures_for is None
        self.file = file = FPDF(format="A4")
        if measures_for is None:
            fonts = Path(matplotlib.get_data_path()) / "fonts" / "ttf"
            file.add_font(FAMILY, "", fonts / "DejaVuSans.ttf")
            file.add_font(FAMILY, "B", fonts / "DejaVuSans-Bold.ttf")
        else:
            file.fonts.update(measures_for.file.fonts)
        file.set_creation_date(datetime(2000, 1, 1, tzinfo=UTC))  # the same bytes every time
        file.set_title(shown(f"Fish or sidetrack: {memo.title}"))
        file.set_lang("en")
        file.set_margin(MARGIN)
        file.c_margin = 0.0
        file.set_auto_page_break(False)
        if not self.draws:
            file.add_page()
        self.scratch = self  # where heights are measured
        self.heights: dict[tuple[int, float, float], float] = {}
        self.boxes = False  # whether a sign had to be left out

    def close(self) -> None:
        """Close the files of the typefaces."""
        for font in self.file.fonts.values():
            if isinstance(font, TTFFont):
                font.ttfont.close()

    # ---- which layout ---------------------------------------------------------------------

    def layout(self) -> Layout:
        """The layout in which everything fits and the first page is full."""
        first = self._first()
        end = self.first_page(first)
        parts = 3 + bool(self.memo.safety) + (self.memo.curve is not None and first.curve)
        between = min(BETWEEN + max(0.0, BOTTOM - end) / parts, MOST_BETWEEN)
        goes_on = BOTTOM - end > SHORT_PAGE
        return replace(first, between=BETWEEN if goes_on else between, goes_on=goes_on)

    def _first(self) -> Layout:
        for curve, scales in ((True, SCALES), (False, WITHOUT_CURVE)):
            for scale in scales:
                layout = Layout(scale, curve, self._split(scale))
                if self.first_page(layout) <= BOTTOM:
                    return layout
        return layout

    def _split(self, scale: float) -> int:
        """How many blocks stand on the left so that the columns are most alike."""
        self.scale = scale
        heights = [self.measured([block], COLUMN) for block in self.memo.first]
        splits = range(1, len(heights) + 1)
        return min(splits, key=lambda k: max(sum(heights[:k]), sum(heights[k:])))

    def measured(self, blocks: Sequence[Block], width: float) -> float:
        """Height [mm] of blocks below one another."""
        other = self.scratch
        scale, y, other.scale = other.scale, other.file.get_y(), self.scale
        height = 0.0
        for block in blocks:
            key = (id(block), width, self.scale)
            if key not in other.heights:
                other.file.set_y(0.0)
                other.block(block, MARGIN, width)
                other.heights[key] = other.file.get_y()
            height += other.heights[key]
        other.scale = scale
        other.file.set_y(y)
        return height

    # ---- pages ----------------------------------------------------------------------------

    def lay_out(self, layout: Layout) -> None:
        """All pages."""
        self.file.add_page()
        self.first_page(layout)
        if not layout.goes_on:
            self.foot()
            self.file.add_page()
        self.scale = layout.behind
        if layout.goes_on:
            self.space(2.0)
        if self.memo.curve is not None and not layout.curve:
            self.block(self.memo.curve, MARGIN, WHOLE)
        for block in self.memo.behind:
            self.part(block)
        self.foot()

    def first_page(self, layout: Layout) -> float:
        """Lay out the first page; where it ends [mm]."""
        file, memo = self.file, self.memo
        self.scale = layout.scale
        file.set_y(MARGIN)
        self.text(memo.title, size=NAME, bold=True)
        if memo.line:
            self.text(memo.line, size=SIZE)
        file.set_y(file.get_y() + BETWEEN / 2)
        self.lines_to_sign()
        self.gap(layout)
        self.verdict()
        if memo.safety:
            self.gap(layout)
            self.harm()
        self.gap(layout)
        start, ends = file.get_y(), []
        sides = (memo.first[: layout.split], memo.first[layout.split :])
        for number, blocks in enumerate(sides):
            if not self.draws:
                ends.append(start + self.measured(blocks, COLUMN))
                continue
            file.set_y(start)
            for block in blocks:
                self.block(block, MARGIN + number * (COLUMN + GAP), COLUMN)
            ends.append(file.get_y())
        file.set_y(max(ends))
        if memo.curve is not None and layout.curve:
            self.gap(layout)
            self.block(memo.curve, MARGIN, WHOLE)
        self.gap(layout)
        self.rule(theme.INK)
        self.space(0.8)
        self.text(memo.caution, size=SIZE)
        return file.get_y()

    def gap(self, layout: Layout) -> None:
        """What lies between two parts of the first page."""
        self.file.set_y(self.file.get_y() + layout.between)

    def lines_to_sign(self) -> None:
        """Time of issue, and who prepares and approves."""
        file, memo = self.file, self.memo
        top, left = file.get_y(), MARGIN
        widths = [share * WHOLE for share in SIGN_SHARES]
        cells = [("Issued for", memo.issued), *((label, ("",)) for label in memo.signed)]
        bottom = top + SIGN
        for (head, below), width in zip(cells, widths, strict=True):
            file.set_y(top + 0.8)
            self.text(head, size=SIZE, bold=True, left=left + 1.0, width=width - 1.5)
            for words in filter(None, below):
                self.text(words, size=SIZE, left=left + 1.0, width=width - 1.5)
            bottom = max(bottom, file.get_y() + 0.8)
            left += width
        file.set_draw_color(theme.INK)
        file.set_line_width(0.25)
        left = MARGIN
        for width in widths:
            file.rect(left, top, width, bottom - top, style="D")
            left += width
        file.set_y(bottom)

    def verdict(self) -> None:
        """The verdict and what a close call hangs on, on a ground of its own."""
        file, memo = self.file, self.memo
        left, inside = MARGIN + 4.0, WHOLE - 6.0
        top = file.get_y()
        high = self.height(memo.verdict, inside, VERDICT, bold=True) + 3.2
        high += sum(self.height(words, inside, SIZE + 0.5) for words in memo.because)
        file.set_fill_color(theme.WASH)
        file.rect(MARGIN, top, WHOLE, high, style="F")
        file.set_fill_color(theme.FISHING)
        file.rect(MARGIN, top, 1.8, high, style="F")
        file.set_y(top + 1.4)
        self.text(memo.verdict, size=VERDICT, bold=True, left=left, width=inside)
        for words in memo.because:
            self.text(words, size=SIZE + 0.5, left=left, width=inside)
        file.set_y(top + high)

    def harm(self) -> None:
        """What in the fish can harm people, in a frame."""
        file = self.file
        top = file.get_y()
        file.set_y(top + 1.2)
        for words in self.memo.safety:
            self.text(words, size=SIZE, left=MARGIN + 2.0, width=WHOLE - 4.0)
            self.space(0.5)
        bottom = file.get_y() + 0.6
        file.set_draw_color(theme.FALLBACK)
        file.set_line_width(0.7)
        file.rect(MARGIN, top, WHOLE, bottom - top, style="D")
        file.set_y(bottom)

    def part(self, block: Block) -> None:
        """A block behind the first page, whole on its page where it fits one."""
        if isinstance(block, Beside):
            sides = (block.left, block.right)
            high = max(self.measured(side, COLUMN) for side in sides)
            if high > BOTTOM - MARGIN:
                for each in (*block.left, *block.right):
                    self.part(each)
                return
            self.ensure(high)
            start, ends = self.file.get_y(), []
            for number, side in enumerate(sides):
                self.file.set_y(start)
                for each in side:
                    self.block(each, MARGIN + number * (COLUMN + GAP), COLUMN)
                ends.append(self.file.get_y())
            self.file.set_y(max(ends))
        elif isinstance(block, Points) and len(block.rows) > 1:
            self.columns(block)
        elif isinstance(block, Picture):
            self.ensure(self.measured([block], COLUMN))
            self.block(block, MARGIN, COLUMN)
        else:
            high = self.measured([block], WHOLE)
            whole = high < (BOTTOM - MARGIN) / 2
            self.ensure(high if whole else 30.0)
            self.block(block, MARGIN, WHOLE, breaks=not whole)

    def columns(self, block: Points) -> None:
        """Points in two columns, filled row by row, over pages where need be."""
        file = self.file
        rows = [block.rows[first : first + 2] for first in range(0, len(block.rows), 2)]
        high = [
            max(self.height(f"{head} {words}", COLUMN - 3, FINE) for head, words in pair) + 0.6
            for pair in rows
        ]
        head = self.height(block.title, WHOLE, HEAD, bold=True) + 2.0
        note = self.height(block.note, WHOLE, FINE) + 1.0 if block.note else 0.0
        self.ensure(head + note + sum(high[:2]))
        self.heading(block.title, MARGIN, WHOLE)
        if block.note:
            self.text(block.note, size=FINE)
            self.space(1.0)
        for pair, tall in zip(rows, high, strict=True):
            self.ensure(tall)
            start = file.get_y()
            for number, row in enumerate(pair):
                file.set_y(start)
                self.point(row, MARGIN + number * (COLUMN + GAP), COLUMN)
            file.set_y(max(start + tall, file.get_y()))
        self.space(1.6)

    def ensure(self, height: float) -> None:
        """Begin a new page where less than `height` [mm] is left."""
        if self.file.get_y() + height > BOTTOM:
            self.foot()
            self.file.add_page()

    # ---- blocks ---------------------------------------------------------------------------

    def block(self, block: Block, left: float, width: float, *, breaks: bool = False) -> None:
        """One block of `width` [mm] from `left` [mm]."""
        file = self.file
        if isinstance(block, Picture):
            data = BytesIO(self.figures[block.name])
            if self.draws:
                image = file.image(data, x=left, y=file.get_y(), w=width, alt_text=shown(block.alt))
                high = image.rendered_height
            else:
                across, up = Image.open(data).size
                high = width * up / across
            file.set_y(file.get_y() + high + 1.0)
            return
        assert not isinstance(block, Beside)
        self.heading(block.title, left, width)
        if isinstance(block, Facts):
            for head, words in block.rows:
                self.run_in(head, words, left, width)
        elif isinstance(block, Grid):
            self.grid(block, left, width, breaks=breaks)
        else:
            for row in block.rows:
                self.point(row, left, width)
        self.space(2.0)

    def heading(self, words: str, left: float, width: float) -> None:
        """Title of a block over a line."""
        self.text(words, size=HEAD, bold=True, left=left, width=width)
        self.rule(theme.INK, left, width)
        self.space(0.9)

    def rule(self, colour: str, left: float = MARGIN, width: float = WHOLE) -> None:
        """A line across."""
        self.file.set_draw_color(colour)
        self.file.set_line_width(0.25)
        self.file.line(left, self.file.get_y() + 0.2, left + width, self.file.get_y() + 0.2)

    def grid(self, grid: Grid, left: float, width: float, *, breaks: bool) -> None:
        """A table; the marked row between two lines, in bold."""
        file = self.file
        size = FINE if grid.small else TABLE
        shares = grid.shares or [1 / len(grid.header)] * len(grid.header)
        widths = [share * width for share in shares]
        align = ["L" if k < grid.words else "R" for k in range(len(widths))]
        self.cells(grid.header, left, widths, align, size=size)
        self.rule(theme.RULE, left, width)
        self.space(0.4)
        for number, row in enumerate(grid.rows):
            marked = number == grid.marked
            if breaks:
                high = max(
                    self.height(self.cut(cell), wide, size, bold=marked)
                    for cell, wide in zip(row, widths, strict=True)
                )
                self.ensure(high + 1.5)
            top = file.get_y()
            if marked:
                self.space(0.7)
            self.cells(row, left, widths, align, size=size, bold=marked)
            if marked:
                file.set_draw_color(theme.INK)
                for y in (top + 0.3, file.get_y() + 0.3):
                    file.line(left, y, left + width, y)
                self.space(0.8)
        if grid.note:
            self.space(0.5)
            self.text(grid.note, size=FINE, left=left, width=width)

    def cells(
        self,
        row: Sequence[str],
        left: float,
        widths: Sequence[float],
        align: Sequence[str],
        *,
        size: float,
        bold: bool = False,
    ) -> None:
        """One row of a table, as high as its highest cell."""
        file = self.file
        top, bottom = file.get_y(), file.get_y()
        for cell, width, side in zip(row, widths, align, strict=True):
            file.set_y(top)
            words = self.cut(cell)
            self.text(words, size=size, bold=bold, left=left, width=width, align=side)
            bottom = max(bottom, file.get_y())
            left += width
        file.set_y(bottom)

    def point(self, row: tuple[str, str], left: float, width: float) -> None:
        """One point of a list in small print, its first word in bold."""
        file = self.file
        self.style(FINE, bold=False)
        file.set_xy(left, file.get_y())
        file.cell(2.5, self.line(FINE), "\u2022")
        self.run_in(*row, left + 2.5, width - 2.5, size=FINE, colon=False)

    def run_in(
        self,
        head: str,
        words: str,
        left: float,
        width: float,
        *,
        size: float = SIZE,
        colon: bool = True,
    ) -> None:
        """A label in bold and words behind it, on as many lines as they take."""
        file = self.file
        file.set_left_margin(left)
        file.set_right_margin(WIDTH - left - width)
        file.set_x(left)
        if head:
            self.style(size, bold=True)
            file.write(self.line(size), self.shown(f"{head}{':' if colon else ''}"))
        self.style(size, bold=False)
        # The blank is where a line may end, so it goes with the words behind it.
        file.write(self.line(size), f"{' ' if head else ''}{self.shown(words)}")
        file.set_left_margin(MARGIN)
        file.set_right_margin(MARGIN)
        file.ln(self.line(size))
        self.space(0.6)

    # ---- words ----------------------------------------------------------------------------

    def cut(self, words: str) -> str:
        """Words that are too long for any place, with dots for what is left out."""
        line = shown(words)
        return line if len(line) <= LONGEST else line[: LONGEST - 3].rstrip() + "..."

    def shown(self, words: str) -> str:
        """Words as they can be drawn, and whether a sign is lacking."""
        line = shown(words)
        self.boxes |= BOX in line
        return BEFORE_PERCENT.sub("\u00a0", line)

    def foot(self) -> None:
        """The last line of a page."""
        here = self.file.get_y()
        self.file.set_y(HEIGHT - MARGIN - 2.0)
        kept, self.scale = self.scale, 1.0
        lacking = f" {BOX}: a sign that this typeface lacks; see the HTML." if self.boxes else ""
        number = self.file.page_no()
        words = f"{self.memo.foot} Page {number} of {{nb}}.{lacking}"
        self.text(words, size=FOOT)
        self.scale = kept
        self.file.set_y(here)

    def text(
        self,
        words: str,
        *,
        size: float,
        bold: bool = False,
        left: float = MARGIN,
        width: float = WHOLE,
        align: str = "L",
    ) -> None:
        """Words on as many lines as they take."""
        self.style(size, bold=bold)
        self.file.set_xy(left, self.file.get_y())
        self.file.multi_cell(
            width,
            self.line(size),
            self.shown(words),
            align=align,
            padding=PADDING,
            new_x=XPos.LMARGIN,
            new_y=YPos.NEXT,
        )

    def height(self, words: str, width: float, size: float, *, bold: bool = False) -> float:
        """Height [mm] that words take."""
        self.style(size, bold=bold)
        found = self.file.multi_cell(
            width,
            self.line(size),
            self.shown(words),
            align="L",
            padding=PADDING,
            dry_run=True,
            output="HEIGHT",
        )
        assert isinstance(found, float | int)
        return float(found)

    def style(self, size: float, *, bold: bool) -> None:
        """Set face and size of what is written next."""
        self.file.set_font(FAMILY, "B" if bold else "", size * self.scale)
        self.file.set_text_color(theme.INK)

    def line(self, size: float) -> float:
        """Height [mm] of a line of a size."""
        return 1.26 * size * self.scale * POINT

    def space(self, height: float) -> None:
        """Leave some room [mm]."""
        self.file.set_y(self.file.get_y() + height * self.scale)
