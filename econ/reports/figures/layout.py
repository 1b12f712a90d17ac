"""A sheet on which a figure is laid out in millimetres: heading, panels, key, source line.

Every piece of text has a place that is reserved for it and is cut to its width, so that no
name of a scenario can run into another or off the sheet. Labels inside a panel are put where
nothing stands yet, or are left out.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, Literal

from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Rectangle
from matplotlib.transforms import Affine2D

from econ.reports import theme
from econ.reports.figures.lettering import POINT, Weight, Words, cut, folded, width

Size = Literal["memo", "strip", "page"]
WIDTHS: dict[Size, float] = {"memo": 170.0, "strip": 155.0, "page": 257.0}  # [mm]
PAGE_HEIGHT = 170.0  # [mm]
EDGE = 3.0  # margin all round [mm]
LINE_STEP = 1.35  # from one line of text to the next, in sizes
SWATCH = 7.0  # width of the sample in a key [mm]
KEY_GAP = 6.0  # between two entries of a key [mm]
CLEAR = 0.6  # free space around a label [mm]


@dataclass(frozen=True)
class Key:
    """An entry of the key: how it is drawn, and what it stands for."""

    sort: Literal["line", "dot", "ring", "bar", "tick"]
    words: str
    style: dict[str, Any]


@dataclass(frozen=True)
class Box:
    """A rectangle on the sheet [mm]."""

    left: float
    bottom: float
    right: float
    top: float

    def meets(self, other: Box) -> bool:
        """Whether two rectangles overlap."""
        apart = (
            self.right <= other.left
            or other.right <= self.left
            or self.top <= other.bottom
            or other.top <= self.bottom
        )
        return not apart

    def holds(self, other: Box) -> bool:
        """Whether the other lies inside."""
        return (
            self.left <= other.left
            and other.right <= self.right
            and self.bottom <= other.bottom
            and other.top <= self.top
        )


class Sheet:
    """A figure of a width in millimetres, filled from the outside inwards."""

    def __init__(self, size: Size, *, height: float, heading: str, finding: str, source: str):
        self.size = size
        self.width = WIDTHS[size]
        findings = folded(finding, most=self.inner, size=theme.TEXT, lines=2)
        findings = findings if finding else []
        height += max(0, len(findings) - 1) * step(theme.TEXT)
        self.height = PAGE_HEIGHT if size == "page" else height
        inches = self.width / 25.4, self.height / 25.4
        self.figure = Figure(figsize=inches, facecolor=theme.PAPER)
        self._millimetres = Affine2D().scale(1.0 / 25.4) + self.figure.dpi_scale_trans
        self.top = self.height - EDGE
        self.bottom = EDGE
        self._head(heading, findings)
        self.write(source, EDGE, self.bottom, most=self.inner, size=theme.SMALL, colour=theme.MUTED)
        self.bottom += step(theme.SMALL) + 1.0

    @property
    def inner(self) -> float:
        """Width between the margins [mm]."""
        return self.width - 2 * EDGE

    def _head(self, heading: str, findings: Sequence[str]) -> None:
        sizes: list[tuple[str, float, Weight]] = [(heading, theme.TITLE, "bold")]
        sizes += [(line, theme.TEXT, "normal") for line in findings]
        for words, size, weight in sizes:
            self.top -= step(size)
            self.write(words, EDGE, self.top, most=self.inner, size=size, weight=weight)
        self.top -= 2.5

    def put(self, artist: Artist) -> None:
        """Draw something whose places are in millimetres, on top of what the panels draw."""
        artist.set_transform(self._millimetres)
        self.figure.add_artist(artist)

    def write(
        self,
        words: str,
        x: float,
        y: float,
        *,
        most: float,
        size: float = theme.TEXT,
        weight: Weight = "normal",
        colour: str = theme.INK,
        align: Literal["left", "center", "right"] = "left",
    ) -> None:
        """Write one line at x, y [mm], its lower edge at y, cut to `most` [mm]."""
        line = cut(words, most=most, size=size, weight=weight)
        self.letter(line, x, y + 0.3 * size * POINT, size, weight, colour, align)

    def letter(
        self,
        line: str,
        x: float,
        y: float,
        size: float,
        weight: Weight,
        colour: str,
        align: Literal["left", "center", "right"] = "left",
    ) -> None:
        """Put a line that fits its place, as `cut` gives it, on the base line at x, y [mm]."""
        self.put(
            Words(
                x,
                y,
                line,
                fontsize=size,
                fontweight=weight,
                color=colour,
                ha=align,
                va="baseline",
                parse_math=False,
            )
        )

    def paper(self, box: Box) -> None:
        """Clear the ground behind words [mm]."""
        size = box.right - box.left, box.top - box.bottom
        self.put(
            Rectangle((box.left, box.bottom), *size, color=theme.PAPER, linewidth=0, zorder=0.5)
        )

    def key(self, entries: Sequence[Key]) -> None:
        """Put the key above the source line, in as many lines as it takes."""
        lines: list[list[tuple[Key, float]]] = [[]]
        room = self.inner
        most = self.inner - SWATCH - 2.0
        for entry in entries:
            words = cut(entry.words, most=most, size=theme.SMALL)
            wide = SWATCH + 2.0 + width(words, size=theme.SMALL)
            if lines[-1] and wide > room:
                lines.append([])
                room = self.inner
            lines[-1].append((entry, wide))
            room -= wide + KEY_GAP
        for line in reversed(lines):
            x = EDGE
            for entry, wide in line:
                self._swatch(entry, x, self.bottom + 0.5 * step(theme.SMALL))
                start = x + SWATCH + 2.0
                self.write(entry.words, start, self.bottom, most=most, size=theme.SMALL)
                x += wide + KEY_GAP
            self.bottom += step(theme.SMALL) + 0.6
        self.bottom += 1.0

    def _swatch(self, entry: Key, x: float, y: float) -> None:
        middle = x + SWATCH / 2
        if entry.sort == "bar":
            low = y - 1.1
            self.put(Rectangle((x, low), SWATCH, 2.2, **entry.style))
        elif entry.sort == "line":
            self.put(Line2D([x, x + SWATCH], [y, y], **entry.style))
        elif entry.sort == "tick":
            self.put(Line2D([middle, middle], [y - 1.3, y + 1.3], **entry.style))
        else:
            self.put(Line2D([middle], [y], linestyle="none", **entry.style))

    def panel(self, *, left: float, right: float, bottom: float, top: float) -> Panel:
        """Axes between these distances from the left and the bottom of the sheet [mm]."""
        return Panel(self, Box(left, bottom, right, top))


class Panel:
    """Axes in their box, with what is written in them kept apart."""

    def __init__(self, sheet: Sheet, box: Box) -> None:
        self.sheet, self.box = sheet, box
        self.axes: Axes = sheet.figure.add_axes(
            (
                box.left / sheet.width,
                box.bottom / sheet.height,
                (box.right - box.left) / sheet.width,
                (box.top - box.bottom) / sheet.height,
            )
        )
        self.taken: list[Box] = []
        _dress(self.axes)

    def across(self, low: float, high: float) -> None:
        """Set the range of x."""
        self.axes.set_xlim(low, high)

    def upward(self, low: float, high: float) -> None:
        """Set the range of y; from a high to a low value it points down."""
        self.axes.set_ylim(low, high)

    def place(self, x: float, y: float) -> tuple[float, float]:
        """Where a point of the panel lies on the sheet [mm]."""
        left, right = self.axes.get_xlim()
        low, high = self.axes.get_ylim()
        box = self.box
        return (
            box.left + (x - left) / (right - left) * (box.right - box.left),
            box.bottom + (y - low) / (high - low) * (box.top - box.bottom),
        )

    def keep_clear(self, x: float, y: float, *, around: float = 1.4) -> None:
        """Let no label cover a mark of radius `around` [mm]."""
        across, up = self.place(x, y)
        self.taken.append(Box(across - around, up - around, across + around, up + around))

    def keep_line_clear(self, xs: Sequence[float], ys: Sequence[float]) -> None:
        """Let no label cover a line through the points."""
        points = [self.place(x, y) for x, y in zip(xs, ys, strict=True)]
        for (x0, y0), (x1, y1) in pairwise(points):
            pieces = max(1, math.ceil(math.hypot(x1 - x0, y1 - y0) / 2.0))
            for piece in range(pieces + 1):
                x, y = (a + (b - a) * piece / pieces for a, b in ((x0, x1), (y0, y1)))
                self.taken.append(Box(x - 0.5, y - 0.5, x + 0.5, y + 0.5))

    def label(
        self,
        words: str,
        x: float,
        y: float,
        *,
        size: float = theme.SMALL,
        weight: Weight = "normal",
        colour: str = theme.INK,
        most: float = 70.0,
        away: float = 1.6,
        near: bool = False,
    ) -> bool:
        """Write a label beside a point, where it covers nothing; False if there is no room.

        away: distance to the point [mm]; near: not further off than that.
        """
        line = cut(words, most=most, size=size, weight=weight)
        wide, high = width(line, size=size, weight=weight), 1.15 * size * POINT
        px, py = self.place(x, y)
        for left, bottom in _around(px, py, wide, high, away, near):
            box = Box(left, bottom, left + wide, bottom + high)
            if not self.box.holds(box) or any(box.meets(other) for other in self.taken):
                continue
            self.taken.append(
                Box(box.left - CLEAR, box.bottom - CLEAR, box.right + CLEAR, box.top + CLEAR)
            )
            self.sheet.letter(line, left, bottom + 0.27 * size * POINT, size, weight, colour)
            return True
        return False

    def title_above(self, words: str, *, colour: str = theme.MUTED) -> None:
        """Name what the panel shows, over its upper left corner."""
        room = self.box.right - self.box.left
        self.sheet.write(
            words, self.box.left, self.box.top + 1.0, most=room, size=theme.SMALL, colour=colour
        )


def step(size: float) -> float:
    """Height [mm] of a line of text of `size` [pt]."""
    return LINE_STEP * size * POINT


def _around(
    x: float, y: float, wide: float, high: float, away: float, near: bool
) -> list[tuple[float, float]]:
    """Lower left corners of a label around a point, the best first."""
    found = []
    for far in (away,) if near else (away, 2 * away, 3.5 * away, 5.5 * away):
        found += [
            (x + far, y - high / 2),
            (x - wide / 2, y + far),
            (x + far, y + far),
            (x - wide / 2, y - far - high),
            (x + far, y - far - high),
            (x - far - wide, y + far),
            (x - far - wide, y - high / 2),
            (x - far - wide, y - far - high),
        ]
    return found


def _dress(axes: Axes) -> None:
    axes.set_facecolor("none")
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    for side in ("left", "bottom"):
        axes.spines[side].set_color(theme.MUTED)
        axes.spines[side].set_linewidth(theme.HAIR)
    axes.tick_params(
        labelsize=theme.SMALL, colors=theme.INK, color=theme.MUTED, width=theme.HAIR, length=2.5
    )
    axes.set_axisbelow(True)
