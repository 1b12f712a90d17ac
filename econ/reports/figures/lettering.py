"""Text of a scenario made fit to draw, and its width before it is drawn.

What comes from a file is a name, not markup: it is never read as mathematics, controls are
dropped, and a character that the typeface lacks is drawn as an empty box. A name too wide
for its place is cut and ends in dots; the table of the figure holds it in full.
"""

from __future__ import annotations

import unicodedata
from functools import cache, lru_cache
from typing import Literal

from matplotlib.backend_bases import RendererBase
from matplotlib.colors import to_rgba
from matplotlib.font_manager import FontProperties, findfont, get_font
from matplotlib.ft2font import LoadFlags
from matplotlib.text import Text

from econ.reports.theme import TYPEFACE

Weight = Literal["normal", "bold"]
BOX = "\u25a1"  # in place of what the typeface lacks
DOTS = "..."
MOST_MARKS = 2  # marks on one letter; more would pile up over the line above
POINT = 25.4 / 72.0  # [mm]
KERNED = 1.1  # an ASCII line is less than this many times as wide as its letters by themselves
AIR = 1.02  # a line is taken this much wider than measured, for rounding to pixels


def shown(words: str) -> str:
    """The words as they can be drawn on one line.

    >>> ascii(shown("Overshot \\u4e2d\\u6587 <b>$x$</b>\\n\\x07"))
    "'Overshot \\\\u25a1\\\\u25a1 <b>$x$</b>'"
    """
    known = _characters()
    found: list[str] = []
    marks = 0
    for char in unicodedata.normalize("NFC", words):
        category = unicodedata.category(char)
        if char.isspace() or category in ("Zl", "Zp"):
            char = " "
        elif category.startswith("C"):
            continue
        marks = marks + 1 if category.startswith("M") else 0
        if marks <= MOST_MARKS:
            found.append(char if ord(char) in known else BOX)
    return " ".join("".join(found).split())


def width(words: str, *, size: float, weight: Weight = "normal") -> float:
    """Width [mm] of words as `shown` gives them at `size` [pt]."""
    return AIR * _units(words, weight) * size * POINT


def fits(line: str, *, most: float, size: float, weight: Weight) -> bool:
    """Whether a line is no wider than `most` [mm]; measured where its letters do not say so."""
    if line.isascii():
        advances = _advances(weight)
        plain = sum(advances[char] for char in line)
        if KERNED * AIR * plain * size * POINT <= most:
            return True
    return width(line, size=size, weight=weight) <= most


def cut(words: str, *, most: float, size: float, weight: Weight = "normal") -> str:
    """The words as they can be drawn within `most` [mm], cut with dots where they are wider."""
    line = shown(words)
    if fits(line, most=most, size=size, weight=weight):
        return line
    low, high = 0, len(line)  # characters that fit, and that do not
    while high - low > 1:
        middle = (low + high) // 2
        short = line[:middle].rstrip() + DOTS
        if fits(short, most=most, size=size, weight=weight):
            low = middle
        else:
            high = middle
    return line[:low].rstrip() + DOTS


def folded(
    words: str, *, most: float, size: float, lines: int, weight: Weight = "normal"
) -> list[str]:
    """The words on at most `lines` lines of `most` [mm], broken at blanks; the last is cut."""
    found = [""]
    rest = shown(words).split(" ")
    while rest:
        longer = f"{found[-1]} {rest[0]}".strip()
        if fits(longer, most=most, size=size, weight=weight):
            found[-1] = longer
            rest.pop(0)
        elif len(found) < lines and found[-1]:
            found.append("")
        else:
            left = " ".join([found[-1], *rest]).strip()
            found[-1] = cut(left, most=most, size=size, weight=weight)
            break
    return found


class Words(Text):
    """One line of text. Where its first letter and base line are given, as for nearly all of them,
    it is not measured before it is drawn, which takes half of the time of drawing it."""

    def draw(self, renderer: RendererBase) -> None:
        """Draw the line."""
        if not self._begins_where_it_stands():
            super().draw(renderer)
            return
        x, y = self.get_transform().transform(self.get_position())
        if renderer.flipy():
            y = renderer.get_canvas_width_height()[1] - y
        pen = renderer.new_gc()
        pen.set_foreground(to_rgba(self.get_color()), isRGBA=True)
        renderer.open_group("text", self.get_gid())
        renderer.draw_text(pen, x, y, self.get_text(), self.get_fontproperties(), 0.0, mtext=self)
        renderer.close_group("text")
        pen.restore()
        self.stale = False

    def _begins_where_it_stands(self) -> bool:
        """Whether it is drawn from its place on, and plainly."""
        return (
            (self.get_horizontalalignment(), self.get_verticalalignment()) == ("left", "baseline")
            and self.get_visible()
            and "\n" not in self.get_text()
            and not (self.get_parse_math() or self.get_usetex() or self.get_wrap())
            and not (self.get_rotation() or self.get_bbox_patch() or self.get_path_effects())
            and self.get_alpha() is None
        )


@cache
def _characters() -> frozenset[int]:
    """Characters that the typeface has in both weights."""
    normal, bold = (get_font(_file(weight)).get_charmap() for weight in ("normal", "bold"))
    return frozenset(normal) & frozenset(bold)


@cache
def _file(weight: Weight) -> str:
    return str(findfont(FontProperties(family=TYPEFACE, weight=weight)))


MEASURED = 64.0  # size [pt] at which widths are measured


@lru_cache(maxsize=4096)
def _units(words: str, weight: Weight) -> float:
    """Width in units of the size."""
    font = get_font(_file(weight))
    font.set_size(MEASURED, 72.0)
    font.set_text(words, 0.0, flags=LoadFlags.NO_HINTING)  # as it is drawn
    return float(font.get_width_height()[0]) / 64.0 / MEASURED


@cache
def _advances(weight: Weight) -> dict[str, float]:
    """Advance of each ASCII character that can be drawn, in units of the size."""
    font = get_font(_file(weight))
    font.set_size(MEASURED, 72.0)
    found = {}
    for code in range(32, 127):
        glyph = font.load_char(code, flags=LoadFlags.NO_HINTING)
        found[chr(code)] = glyph.linearHoriAdvance / 65536.0 / MEASURED
    return found
