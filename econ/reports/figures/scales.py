"""Scales and words that several figures share: money in one unit, plain ticks, lanes of marks."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from matplotlib.ticker import MaxNLocator

from econ.decision import Answer
from econ.reports import theme
from econ.reports.amounts import SCALES
from econ.reports.figures.layout import Box, Panel, Sheet
from econ.reports.figures.lettering import shown, width
from econ.reports.sentences import TEMPLATES
from econ.reports.words import Money

STEPS = [1, 2, 2.5, 5, 10]
LANE = 5.2  # height of a lane [mm]
PERCENTILES = TEMPLATES["p90"].rstrip(".")


class Scale(Money):
    """Money of one answer in one unit, that of the text of the answer."""

    def __init__(self, answer: Answer) -> None:
        super().__init__(answer)
        power = round(math.log(self.scale, 1000.0))
        self.unit = f"{SCALES[power]} {shown(answer.scenario.currency)}".strip()

    def of(self, value: float) -> float:
        """An amount [currency] in the unit."""
        return value / self.scale


def source_line(answer: Answer, *more: str) -> str:
    """What must be said, where day 0 is, and last the well, which is cut if it is too long."""
    begin = [] if answer.now is None else [f"Day 0: {answer.now:%Y-%m-%d %H:%M}"]
    return ".  ".join([*more, *begin, answer.scenario.job.well])


def plain_number(value: float) -> str:
    """A number on an axis.

    >>> [plain_number(value) for value in (0.0, 0.25, 1500.0, 2e9)]
    ['0', '0.25', '1,500', '2e+09']
    """
    if abs(value) >= 1e7:
        return f"{value:.3g}"
    return f"{value:,.0f}" if abs(value) >= 1000 else f"{value + 0.0:.6g}"


def days_words(days: float) -> str:
    """Days in words.

    >>> [days_words(days) for days in (0.0, 1.04, 12.3, 250.0)]
    ['0.0 d', '1.0 d', '12.3 d', '250 d']
    """
    return f"{days:.0f} d" if days >= 100 else f"{days:.1f} d"


def ticks(panel: Panel, *, x: float, y: float) -> None:
    """Round ticks inside the ranges, one every so many mm, with hairlines across for y."""
    box = panel.box
    for axis, length, every in (
        (panel.axes.xaxis, box.right - box.left, x),
        (panel.axes.yaxis, box.top - box.bottom, y),
    ):
        low, high = sorted(axis.get_view_interval())
        rounder = MaxNLocator(max(2, int(length / every)), steps=STEPS)
        values = [value for value in rounder.tick_values(low, high) if low <= value <= high]
        axis.set_ticks(values, [plain_number(value) for value in values])
    panel.axes.grid(axis="y", color=theme.RULE, linewidth=theme.HAIR)


def no_ticks(panel: Panel, *, x: bool = False, y: bool = False) -> None:
    """Take the ticks off an axis."""
    if x:
        panel.axes.set_xticks([])
    if y:
        panel.axes.set_yticks([])


@dataclass(frozen=True)
class Mark:
    """A value marked in a lane; None: it has no end."""

    words: str
    value: float | None
    colour: str
    marker: str


def lanes(
    sheet: Sheet, marks: Sequence[Mark], *, left: float, right: float, across: tuple[float, float]
) -> None:
    """One lane a mark, from the bottom of the sheet up, on the x axis of the panel above."""
    height = LANE * len(marks)
    top = sheet.bottom + height
    panel = sheet.panel(left=left, right=right, bottom=sheet.bottom, top=top)
    panel.across(*across)
    panel.upward(float(len(marks)), 0.0)
    no_ticks(panel, x=True, y=True)
    for side in ("left", "bottom"):
        panel.axes.spines[side].set_visible(False)
    low, high = across
    for number, mark in enumerate(marks):
        y = number + 0.5
        panel.axes.axhline(y, color=theme.RULE, linewidth=theme.HAIR)
        value = mark.value
        inside = value is not None and low <= value <= high
        at, marker = (value, mark.marker) if inside else (high, ">")
        assert at is not None
        panel.axes.plot([at], [y], marker=marker, color=mark.colour, markersize=5.5, clip_on=False)
        _beside(sheet, panel, mark.words, at, y)
    sheet.bottom = top + 1.5


def _beside(sheet: Sheet, panel: Panel, words: str, at: float, y: float) -> None:
    """Words right of a mark, left of it where the lane ends, on paper."""
    x, middle = panel.place(at, y)
    wide = width(shown(words), size=theme.SMALL)
    right = panel.box.right - x - 2.5
    start = x + 2.5 if wide <= right else x - 2.5 - wide
    box = Box(max(start, panel.box.left), middle - 1.6, panel.box.right, middle + 1.6)
    sheet.paper(Box(box.left - 0.7, box.bottom, box.left + wide + 0.7, box.top))
    sheet.write(words, box.left, middle - 1.75, most=wide + 1.0, size=theme.SMALL)
