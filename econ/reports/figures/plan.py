"""The plan as a picture: a tree from the left to the right, with a legend of its runs below.

A square is a decision: filled with the number of the run to make, or empty where fishing stops.
The circle behind it is the run: filled as far as it brings the fish out. From the circle a line
goes to each outcome that is not the end, as thick as it is likely, and on to the next decision.
Nothing hangs on a colour. Outcomes after which the same is done share a line.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil
from typing import Any

from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Circle, Rectangle, Wedge

from econ.decision.plan import Plan
from econ.reports import theme
from econ.reports.amounts import Amounts
from econ.reports.figures.layout import EDGE, WIDTHS, Key, Sheet, Size, step
from econ.reports.figures.output import drawing
from econ.reports.names import one_line
from econ.reports.plan_tables import Order, folded, readable
from econ.reports.sentences import percent
from econ.reports.words import runs

SQUARE = 6.0  # side [mm]
CIRCLE = 2.6  # radius [mm]
LEG = 2.6  # from a square to its circle [mm]
ROW = 9.6  # height of a leaf [mm]
MOST_LEAVES = 12  # on a sheet
NARROW = 21.0  # of a level in a memo [mm]; where it would be less the sheet is a page
LEAF = 27.0  # behind the last level, for the words beside a stop [mm]
WIDEST = 48.0  # of a level [mm]
NAMED = 24  # runs in the legend
THICK = 3.2  # line of a sure outcome [pt]
OUTCOMES = {
    "nothing": "nothing",
    "part": "part",
    "prepared": "job done",
    "top_damaged": "top damaged",
}
MAKE: dict[str, Any] = {"facecolor": theme.FISHING, "edgecolor": theme.INK, "linewidth": 0.8}
STOP: dict[str, Any] = {"facecolor": theme.PAPER, "edgecolor": theme.INK, "linewidth": 1.1}
KEY_MAKE: dict[str, Any] = {"marker": "s", "markersize": 7, "color": theme.FISHING}
KEY_STOP: dict[str, Any] = {
    "marker": "s",
    "markersize": 7,
    "markerfacecolor": theme.PAPER,
    "markeredgecolor": theme.INK,
}
KEY_RUN: dict[str, Any] = {
    "marker": "o",
    "markersize": 7.5,
    "fillstyle": "right",
    "markerfacecolor": theme.RECOVERED,
    "markerfacecoloralt": theme.PAPER,
    "markeredgecolor": theme.INK,
}


def plan_figure(found: Plan) -> Figure:
    """The tree of a plan: 170 mm wide where that is enough, else a page of 257 x 170 mm."""
    with drawing():
        return _drawn(found).figure


@dataclass(frozen=True)
class _Place:
    """A square and its middle [mm]."""

    order: Order
    x: float
    y: float


def _drawn(found: Plan) -> Sheet:
    first, below = readable(found, most=MOST_LEAVES, leaves=True)
    levels = _levels(first)
    size: Size = "memo"
    if (WIDTHS["memo"] - 2 * EDGE - LEAF) / levels < NARROW:
        size = "page"
    used = sorted({order.do for order in first.all() if order.do != "stop"})[:NAMED]
    columns = min(3 if size == "page" else 2, max(1, len(used)))
    lines = ceil(len(used) / columns)
    money = _money(found)
    sheet = Sheet(
        size,
        height=42.0 + ROW * first.leaves + step(theme.SMALL) * lines,
        heading="What to do now, and after each outcome",
        finding=_finding(found, money),
        source=_source(found, below, money),
    )
    sheet.key(
        [
            Key("dot", "make the run of this number", KEY_MAKE),
            Key("dot", "stop fishing", KEY_STOP),
            Key("dot", "the run; filled: chance that the fish comes out", KEY_RUN),
        ]
    )
    _names(sheet, found, used, columns)
    wide = min(WIDEST, (sheet.inner - LEAF) / levels)
    _tree(sheet, first, wide, money)
    return sheet


def _levels(order: Order) -> int:
    """How many decisions follow each other at the most."""
    return 1 + max((_levels(child) for child in order.children), default=0)


def _money(found: Plan) -> Amounts:
    largest = max(node.cost_from_here.value for node in found.nodes)
    return Amounts(largest=largest, currency=found.scenario.currency)


def _finding(found: Plan, money: Amounts) -> str:
    cost = f"Expected cost {money.full(found.expected_cost.value)}"
    limit = f"the best limit of the list ({runs(found.limit)})"
    if found.better and money.shows(found.gain.value):
        return f"{cost}, {money.short(found.gain.value)} less than {limit}."
    return f"{cost}. {limit[0].upper()}{limit[1:]} does as well."


def _source(found: Plan, below: float, money: Amounts) -> str:
    count = folded(found, below=below)
    left = f"{count} branches below {100 * below:g} % folded. " if count else ""
    words = f"Chances from now on; costs from there on in {money.unit}. {left}"
    return f"{words}{one_line(found.scenario.job.well)}"


def _names(sheet: Sheet, found: Plan, used: list[Any], columns: int) -> None:
    """The runs of the tree by number, above the key."""
    if not used:
        return
    lines = ceil(len(used) / columns)
    room = sheet.inner / columns
    for place, number in enumerate(used):
        column, line = divmod(place, lines)
        x = EDGE + column * room
        y = sheet.bottom + (lines - 1 - line) * step(theme.SMALL)
        sheet.write(f"{number}", x, y, most=6.0, size=theme.SMALL, weight="bold")
        name = found.scenario.run[number - 1].name
        sheet.write(name, x + 6.5, y, most=room - 9.0, size=theme.SMALL)
    sheet.bottom += lines * step(theme.SMALL) + 2.0


def _tree(sheet: Sheet, first: Order, wide: float, money: Amounts) -> None:
    high = (sheet.top - sheet.bottom) / first.leaves
    row = min(ROW * 1.5, high)
    at = sheet.top

    def lay(order: Order, level: int) -> _Place:
        """Draw what follows, then the order itself at the middle of that."""
        nonlocal at
        below = [lay(child, level + 1) for child in order.children]
        if below:
            y = 0.5 * (below[0].y + below[-1].y)
        else:
            y = at - 0.5 * row
            at -= row
        place = _Place(order, EDGE + 0.5 * SQUARE + level * wide, y)
        for child in below:
            _branch(sheet, place, child, wide)
        _decision(sheet, place, money)
        return place

    lay(first, 0)


def _branch(sheet: Sheet, parent: _Place, child: _Place, wide: float) -> None:
    """A line from the circle of a run to the decision after some outcomes."""
    begin = parent.x + 0.5 * SQUARE + LEG + 2 * CIRCLE
    bend, end = begin + 1.8, child.x - 0.5 * SQUARE
    share = min(1.0, child.order.chance / max(parent.order.chance, 1e-12))
    style: dict[str, Any] = {"color": theme.MUTED, "linewidth": 0.5 + THICK * share, "zorder": 1}
    ends = ([begin - CIRCLE, bend, end], [parent.y, child.y, child.y])
    sheet.put(Line2D(*ends, solid_joinstyle="miter", **style))
    words = ", ".join(OUTCOMES[outcome] for outcome in child.order.outcomes)
    room, x = end - bend - 0.8, bend + 0.6
    sheet.write(words, x, child.y + 0.7, most=room, size=theme.SMALL)
    chance = percent(child.order.chance)
    y = child.y - step(theme.SMALL) - 0.1
    sheet.write(chance, x, y, most=room, size=theme.SMALL, colour=theme.MUTED)


def _decision(sheet: Sheet, place: _Place, money: Amounts) -> None:
    order, x, y = place.order, place.x, place.y
    corner = x - 0.5 * SQUARE, y - 0.5 * SQUARE
    stops = order.do == "stop"
    sheet.put(Rectangle(corner, SQUARE, SQUARE, zorder=2, **(STOP if stops else MAKE)))
    low = y - 0.5 * step(theme.TEXT)
    if stops:
        right = x + 0.5 * SQUARE + 1.2
        room = sheet.width - EDGE - right
        costs = {money.short(node.cost_from_here.value) for node in order.nodes}
        cost = costs.pop() if len(costs) == 1 else "costs differ"
        sheet.write("stop", right, y + 0.2, most=room, size=theme.SMALL)
        under = y - step(theme.SMALL) - 0.1
        sheet.write(cost, right, under, most=room, size=theme.SMALL, colour=theme.MUTED)
        return
    number = f"{order.do}"
    paper = theme.PAPER
    sheet.write(number, x, low, most=SQUARE, weight="bold", colour=paper, align="center")
    middle = x + 0.5 * SQUARE + LEG + CIRCLE
    legs = ([x + 0.5 * SQUARE, middle], [y, y])
    sheet.put(Line2D(*legs, color=theme.INK, linewidth=1.2, zorder=1))
    odds = [node.odds.value for node in order.nodes if node.odds is not None]
    chance = sum(odds) / len(odds) if odds else 0.0
    rim: dict[str, Any] = {"edgecolor": theme.INK, "linewidth": 0.9}
    sheet.put(Circle((middle, y), CIRCLE, facecolor=theme.PAPER, zorder=2, **rim))
    if chance > 0:
        part = Wedge((middle, y), CIRCLE, 90.0 - 360.0 * chance, 90.0, zorder=3)
        part.set(facecolor=theme.RECOVERED, **rim)
        sheet.put(part)
    under = y - CIRCLE - step(theme.SMALL) - 0.2
    words = f"out {percent(chance)}"
    sheet.write(words, middle, under, most=14.0, size=theme.SMALL, align="center")
