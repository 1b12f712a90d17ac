"""The memo as a PDF of A4 pages: the first for the morning call, then the appendix.

The first page must hold all of its blocks, so it is set smaller by steps until they fit.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import closing
from datetime import UTC, datetime
from io import BytesIO
from pathlib import Path

import matplotlib
from fpdf import FPDF
from fpdf.enums import XPos, YPos
from fpdf.fonts import TTFFont
from fpdf.util import Padding

from econ.reports import theme
from econ.reports.figures.lettering import BOX, shown
from econ.reports.memo.content import Block, Facts, Grid, Memo, Picture, Points

MARGIN = 12.0  # [mm]
GAP = 6.0  # between the columns [mm]
COLUMNS = (0.46, 0.54)  # their widths, of what is left
WIDTH, HEIGHT = 210.0, 297.0
FOOT = 9.0  # height kept for the last line [mm]
STEPS = (1.0, 0.94, 0.88, 0.82, 0.76, 0.7, 0.64, 0.58)  # sizes tried for the first page
FAMILY = "memo"
POINT = 25.4 / 72.0
LONGEST = 150  # characters of a cell or a label that come from a name
LONGEST_IN_APPENDIX = 320


def pdf(memo: Memo, figures: Mapping[str, bytes]) -> bytes:
    """The memo with its `figures`, PNG by name."""
    for step in STEPS:
        sheet = _Sheet(memo, figures, step)
        with closing(sheet):
            if sheet.first_page() or step == STEPS[-1]:
                sheet.appendix()
                return bytes(sheet.file.output())
    raise AssertionError("a step is always the last")


class _Sheet:
    """A PDF under way; sizes are those of `theme` x scale."""

    def __init__(self, memo: Memo, figures: Mapping[str, bytes], scale: float) -> None:
        self.memo, self.figures, self.scale = memo, figures, scale
        self.file = file = FPDF(format="A4")
        fonts = Path(matplotlib.get_data_path()) / "fonts" / "ttf"
        file.add_font(FAMILY, "", fonts / "DejaVuSans.ttf")
        file.add_font(FAMILY, "B", fonts / "DejaVuSans-Bold.ttf")
        file.set_creation_date(datetime(2000, 1, 1, tzinfo=UTC))  # the same bytes every time
        file.set_title(shown(f"Fish or sidetrack: {memo.title}"))
        file.set_lang("en")
        file.set_margin(MARGIN)
        file.set_auto_page_break(False)
        self.boxes = False  # whether a sign had to be left out
        self.longest = LONGEST

    def close(self) -> None:
        """Close the files of the typefaces."""
        for font in self.file.fonts.values():
            if isinstance(font, TTFFont):
                font.ttfont.close()

    def first_page(self) -> bool:
        """Lay out the first page; whether everything fits."""
        file, memo = self.file, self.memo
        file.add_page()
        self.text(memo.title, size=theme.TITLE + 3, bold=True)
        self.text(memo.line, size=theme.SMALL, colour=theme.MUTED)
        self.space(1.5)
        top = file.get_y()
        self.box(memo)
        self.bar(top, file.get_y())
        self.space(1.5)
        whole = WIDTH - 2 * MARGIN
        for block in memo.wide:
            self.block(block, MARGIN, whole)
        start, ends = file.get_y(), []
        left = MARGIN
        for share, blocks in zip(COLUMNS, (memo.left, memo.right), strict=True):
            file.set_y(start)
            width = share * (whole - GAP)
            for block in blocks:
                self.block(block, left, width)
            left += width + GAP
            ends.append(file.get_y())
        self.foot()
        return max(ends) <= HEIGHT - MARGIN - FOOT / 2

    def appendix(self) -> None:
        """The pages after the first, as many as it takes, two columns of cautions."""
        self.scale, self.longest = 0.86, LONGEST_IN_APPENDIX
        file = self.file
        file.add_page()
        whole = WIDTH - 2 * MARGIN
        for block in self.memo.appendix:
            if isinstance(block, Points):
                self.columns(block, whole)
            else:
                self.block(block, MARGIN, whole, breaks=True)
        self.foot()

    def columns(self, block: Points, whole: float) -> None:
        """Points in two columns, filled row by row, over pages where need be."""
        file = self.file
        self.ensure(18.0)
        self.heading(block.title, MARGIN, whole)
        column = (whole - GAP) / 2
        for first in range(0, len(block.rows), 2):
            pair = block.rows[first : first + 2]
            heights = [
                self.height(f"{head} {words}", column - 3, theme.SMALL) for head, words in pair
            ]
            self.ensure(max(heights) + 1.0)
            start = file.get_y()
            for number, row in enumerate(pair):
                file.set_y(start)
                self.point(row, MARGIN + number * (column + GAP), column)
            file.set_y(start + max(heights) + 0.6)

    def ensure(self, height: float) -> None:
        """Begin a new page where less than `height` [mm] is left."""
        if self.file.get_y() + height > HEIGHT - MARGIN - FOOT:
            self.foot()
            self.file.add_page()

    def box(self, memo: Memo) -> None:
        """The verdict and what goes with it, indented for the bar beside it."""
        file, inside = self.file, WIDTH - 2 * MARGIN - 4
        self.text(memo.verdict, size=theme.TITLE, bold=True, left=MARGIN + 4, width=inside)
        self.space(0.6)
        for words in memo.because:
            self.text(words, size=theme.TEXT - 0.8, left=MARGIN + 4, width=inside)
        file.set_x(MARGIN)

    def bar(self, top: float, bottom: float) -> None:
        """The bar of the fishing colour beside the verdict."""
        self.file.set_fill_color(theme.FISHING)
        self.file.rect(MARGIN, top, 1.6, bottom - top, style="F")

    def block(self, block: Block, left: float, width: float, *, breaks: bool = False) -> None:
        """One block of `width` [mm] from `left` [mm]."""
        file = self.file
        if isinstance(block, Picture):
            image = file.image(
                BytesIO(self.figures[block.name]),
                x=left,
                y=file.get_y(),
                w=width,
                alt_text=shown(block.alt),
            )
            file.set_y(file.get_y() + image.rendered_height + 1.0)
            return
        if breaks:
            self.ensure(25.0)
        self.heading(block.title, left, width)
        if isinstance(block, Facts):
            label = 0.34 * width
            for name, words in block.rows:
                start = file.get_y()
                self.text(
                    self.cut(name), size=theme.SMALL, colour=theme.MUTED, left=left, width=label
                )
                end = file.get_y()
                file.set_y(start)
                self.text(self.cut(words), size=theme.SMALL, left=left + label, width=width - label)
                file.set_y(max(end, file.get_y()))
        elif isinstance(block, Grid):
            self.grid(block, left, width, breaks=breaks)
        else:
            for row in block.rows:
                self.point(row, left, width)
        self.space(1.6)

    def heading(self, words: str, left: float, width: float) -> None:
        """Title of a block over a thin line."""
        file = self.file
        self.text(words, size=theme.TEXT, bold=True, left=left, width=width)
        file.set_draw_color(theme.RULE)
        file.set_line_width(0.2)
        file.line(left, file.get_y() + 0.2, left + width, file.get_y() + 0.2)
        self.space(0.8)

    def grid(self, grid: Grid, left: float, width: float, *, breaks: bool) -> None:
        """A table; the marked row between two lines, in bold."""
        file = self.file
        shares = grid.shares or [1 / len(grid.header)] * len(grid.header)
        widths = [share * width for share in shares]
        align = ["L" if k < grid.words else "R" for k in range(len(widths))]
        self.cells(grid.header, left, widths, align, colour=theme.MUTED)
        for number, row in enumerate(grid.rows):
            if breaks:
                self.ensure(8.0)
            marked = number == grid.marked
            top = file.get_y()
            if marked:
                self.space(0.7)
            self.cells(row, left, widths, align, bold=marked)
            if marked:
                file.set_draw_color(theme.INK)
                for y in (top + 0.3, file.get_y() + 0.3):
                    file.line(left, y, left + width, y)
                self.space(0.8)
        if grid.note:
            self.text(grid.note, size=theme.SMALL - 0.5, colour=theme.MUTED, left=left, width=width)

    def cells(
        self,
        row: Sequence[str],
        left: float,
        widths: Sequence[float],
        align: Sequence[str],
        *,
        bold: bool = False,
        colour: str = theme.INK,
    ) -> None:
        """One row of a table, as high as its highest cell."""
        file = self.file
        top, bottom = file.get_y(), file.get_y()
        for cell, width, side in zip(row, widths, align, strict=True):
            file.set_y(top)
            self.text(
                self.cut(cell),
                size=theme.SMALL,
                bold=bold,
                colour=colour,
                left=left,
                width=width,
                align=side,
            )
            bottom = max(bottom, file.get_y())
            left += width
        file.set_y(bottom)

    def point(self, row: tuple[str, str], left: float, width: float) -> None:
        """One point of a list, its first word in bold."""
        file = self.file
        head, words = row
        self.style(theme.SMALL, bold=False, colour=theme.INK)
        file.set_xy(left, file.get_y())
        file.cell(2.5, self.line(theme.SMALL), "\u2022")
        file.set_left_margin(left + 2.5)
        file.set_right_margin(WIDTH - left - width)
        file.set_x(left + 2.5)
        if head:
            self.style(theme.SMALL, bold=True, colour=theme.INK)
            file.write(self.line(theme.SMALL), f"{shown(head)} ")
            self.style(theme.SMALL, bold=False, colour=theme.INK)
        file.write(self.line(theme.SMALL), shown(words))
        file.set_left_margin(MARGIN)
        file.set_right_margin(MARGIN)
        file.ln(self.line(theme.SMALL))

    def cut(self, words: str) -> str:
        """Words that are too long for their place, with dots for what is left out."""
        line = shown(words)
        return line if len(line) <= self.longest else line[: self.longest - 3].rstrip() + "..."

    def foot(self) -> None:
        """The last line of a page."""
        here = self.file.get_y()
        self.file.set_y(HEIGHT - MARGIN - 2.0)
        kept, self.scale = self.scale, 1.0
        lacking = f" {BOX}: a sign that this typeface lacks; see the HTML." if self.boxes else ""
        words = f"{self.memo.foot} Page {self.file.page_no()}.{lacking}"
        self.text(words, size=6.2, colour=theme.MUTED)
        self.scale = kept
        self.file.set_y(here)

    def text(
        self,
        words: str,
        *,
        size: float,
        bold: bool = False,
        colour: str = theme.INK,
        left: float = MARGIN,
        width: float = WIDTH - 2 * MARGIN,
        align: str = "L",
    ) -> None:
        """Words on as many lines as they take."""
        self.style(size, bold=bold, colour=colour)
        self.boxes |= BOX in shown(words)
        self.file.set_xy(left, self.file.get_y())
        self.file.multi_cell(
            width,
            self.line(size),
            shown(words),
            align=align,
            padding=Padding(right=0.6),
            new_x=XPos.LMARGIN,
            new_y=YPos.NEXT,
        )

    def height(self, words: str, width: float, size: float) -> float:
        """Height [mm] that words take."""
        self.style(size, bold=False, colour=theme.INK)
        found = self.file.multi_cell(
            width, self.line(size), shown(words), align="L", dry_run=True, output="HEIGHT"
        )
        assert isinstance(found, float | int)
        return float(found)

    def style(self, size: float, *, bold: bool, colour: str) -> None:
        """Set face, size and colour of what is written next."""
        self.file.set_font(FAMILY, "B" if bold else "", size * self.scale)
        self.file.set_text_color(colour)

    def line(self, size: float) -> float:
        """Height [mm] of a line of a size."""
        return 1.24 * size * self.scale * POINT

    def space(self, height: float) -> None:
        """Leave some room [mm]."""
        self.file.set_y(self.file.get_y() + height * self.scale)
