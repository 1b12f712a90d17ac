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

from econ.decision.plan import Do, Plan
from econ.reports import theme
from econ.reports.amounts import Amounts
from econ.reports.figures.layout import EDGE, WIDTHS, Key, Sheet, Size, step
from econ.reports.figures.lettering import folded
from econ.reports.figures.output import drawing
from econ.reports.names import one_line
from econ.reports.plan_tables import Order, left_out, readable
from econ.reports.plan_text import plan_money
from econ.reports.sentences import percent
from econ.reports.words import runs

ROW = 9.6  # height of a leaf, at the least [mm]
HIGHEST = 2.0  # rows that a leaf takes where there is room
MOST_LEAVES = 12  # on a sheet
NARROW = 24.0  # level [mm] under which a memo becomes a page, and a page takes the small marks
WIDEST = 56.0  # of a level [mm]
LEAF, SMALL_LEAF = 30.0, 18.0  # of the last level, with the words beside a stop [mm]
BEND = 0.8  # from a circle to where its lines run level [mm]
NAMED = 24  # runs in the legend
THICK = 3.2  # line of a sure outcome [pt]
OUTCOMES = {
    "nothing": "nothing",
    "part": "part",
    "prepared": "own job",
    "top_damaged": "damage",
    "reads_workable": "workable",
    "reads_stubborn": "stubborn",
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


def plan_figure(plan: Plan) -> Figure:
    """The tree of a plan: 170 mm wide where that is enough, else a page of 257 x 170 mm."""
    with drawing():
        return _drawn(plan).figure


@dataclass(frozen=True)
class _Marks:
    """Side of a square, radius of a circle, what is between them [all mm], and lettering [pt]."""

    square: float
    circle: float
    leg: float
    letters: float


LARGE, SMALL = _Marks(6.0, 2.6, 3.0, theme.SMALL), _Marks(4.8, 2.0, 0.4, 5.8)


@dataclass(frozen=True)
class _Place:
    """A decision and the middle of its square [mm]."""

    order: Order
    x: float
    y: float


def _drawn(plan: Plan) -> Sheet:
    first, below = readable(plan, most=MOST_LEAVES, leaves=True)
    steps = max(1, _levels(first) - 1)
    fits = WIDTHS["memo"] - 2 * EDGE - LEAF >= NARROW * steps
    size: Size = "memo" if fits else "page"
    done = {order.do for order in first.all()}
    used = [do for do in _actions(plan) if do in done][:NAMED]
    columns = min(3 if size == "page" else 2, max(1, len(used)))
    lines = ceil(len(used) / columns)
    money = plan_money(plan)
    sheet = Sheet(
        size,
        height=36.0 + ROW * first.leaves + step(theme.SMALL) * lines,
        heading="What to do now, and after each outcome",
        finding=_finding(plan, money),
        source=_source(plan, below, money),
    )
    sheet.key(
        [
            Key("dot", "make the run of this number", KEY_MAKE),
            Key("dot", "stop fishing", KEY_STOP),
            Key("dot", "the run; filled: chance that the fish comes out", KEY_RUN),
        ]
    )
    _names(sheet, plan, used, columns)
    wide, marks = min(WIDEST, (sheet.inner - LEAF) / steps), LARGE
    if wide < NARROW:
        wide, marks = (sheet.inner - SMALL_LEAF) / steps, SMALL
    _Tree(sheet, money, wide, marks, _actions(plan)).draw(first)
    return sheet


def _actions(plan: Plan) -> dict[Do, str]:
    """What stands in the square of every run and reading: its number, readings apart."""
    squares: dict[Do, str] = {n: f"{n}" for n in range(1, len(plan.scenario.run) + 1)}
    for number, reading in enumerate(plan.scenario.reading, start=1):
        squares[reading.name] = f"R{number}"
    return squares


def _levels(order: Order) -> int:
    """How many decisions follow each other at the most."""
    return 1 + max((_levels(child) for child in order.children), default=0)


def _finding(plan: Plan, money: Amounts) -> str:
    cost = f"Expected cost {money.full(plan.expected_cost.value)}"
    if not plan.fish:
        return f"{cost} if fishing stops now, and no run pays."
    limit = f"the best limit of the list ({runs(plan.limit)})"
    if plan.better and money.shows(plan.gain.value):
        return f"{cost}, {money.short(plan.gain.value)} less than {limit}."
    return f"{cost}. {limit[0].upper()}{limit[1:]} does as well."


def _source(plan: Plan, below: float, money: Amounts) -> str:
    count = left_out(plan, below=below)
    left = f"{count} branches below {100 * below:g} % folded. " if count else ""
    words = f"Chances from now on; costs from there on in {money.unit}. {left}"
    return f"{words}{one_line(plan.scenario.job.well)}"


def _names(sheet: Sheet, plan: Plan, used: list[Do], columns: int) -> None:
    """The runs of the tree by number, and the readings, above the key."""
    if not used:
        return
    lines = ceil(len(used) / columns)
    room = sheet.inner / columns
    actions = _actions(plan)
    for place, do in enumerate(used):
        column, line = divmod(place, lines)
        x = EDGE + column * room
        y = sheet.bottom + (lines - 1 - line) * step(theme.SMALL)
        sheet.write(actions[do], x, y, most=6.0, size=theme.SMALL, weight="bold")
        name = plan.scenario.run[do - 1].name if isinstance(do, int) else do
        sheet.write(name, x + 6.5, y, most=room - 9.0, size=theme.SMALL)
    sheet.bottom += lines * step(theme.SMALL) + 2.0


@dataclass(frozen=True)
class _Tree:
    """The tree in the room that a sheet has left. wide: of a level [mm]; actions: what stands in
    their squares."""

    sheet: Sheet
    money: Amounts
    wide: float
    marks: _Marks
    actions: dict[Do, str]

    def draw(self, first: Order) -> None:
        """Draw all of it."""
        room = self.sheet.top - self.sheet.bottom
        row = min(HIGHEST * ROW, room / first.leaves)
        self._lay(first, 0, self.sheet.top - 0.5 * (room - row * first.leaves), row)

    def _lay(self, order: Order, level: int, top: float, row: float) -> _Place:
        """Draw an order below `top`, at the middle of what follows it."""
        places: list[_Place] = []
        at = top
        for child in order.children:
            places.append(self._lay(child, level + 1, at, row))
            at -= row * child.leaves
        y = 0.5 * (places[0].y + places[-1].y) if places else top - 0.5 * row
        place = _Place(order, EDGE + 0.5 * self.marks.square + level * self.wide, y)
        for child_place in places:
            self._branch(place, child_place)
        if order.do == "stop":
            self._stop(place)
        else:
            self._run(place)
        return place

    def _branch(self, parent: _Place, child: _Place) -> None:
        """A line from the circle of a run to the decision after some of its outcomes."""
        marks = self.marks
        begin = parent.x + 0.5 * marks.square + marks.leg + 2 * marks.circle
        bend, end = begin + BEND, child.x - 0.5 * marks.square
        share = min(1.0, child.order.chance / max(parent.order.chance, 1e-12))
        line = Line2D([begin, bend, end], [parent.y, child.y, child.y], zorder=1)
        line.set(color=theme.MUTED, linewidth=0.5 + THICK * share, solid_joinstyle="miter")
        self.sheet.put(line)
        most, x = end - bend - 0.6, bend + 0.4
        words = ", ".join(OUTCOMES[outcome] for outcome in child.order.outcomes)
        lines = folded(words, most=most, size=marks.letters, lines=2)
        for number, part in enumerate(reversed(lines)):
            y = child.y + 0.7 + number * 0.86 * step(marks.letters)
            self.sheet.write(part, x, y, most=most, size=marks.letters)
        self._below(percent(child.order.chance), x, child.y - 0.1, most)

    def _below(self, words: str, x: float, y: float, most: float) -> None:
        """Second words under a line."""
        size = self.marks.letters
        self.sheet.write(words, x, y - step(size), most=most, size=size, colour=theme.MUTED)

    def _stop(self, place: _Place) -> None:
        self._square(place, STOP)
        right = place.x + 0.5 * self.marks.square + 1.2
        most = self.sheet.width - EDGE - right
        self.sheet.write("stop", right, place.y + 0.2, most=most, size=self.marks.letters)
        costs = [node.cost_from_here.value for node in place.order.nodes]
        ends = dict.fromkeys(self.money.short(cost) for cost in (min(costs), max(costs)))
        self._below(" to ".join(ends), right, place.y - 0.1, most)

    def _run(self, place: _Place) -> None:
        order, x, y, marks = place.order, place.x, place.y, self.marks
        self._square(place, MAKE)
        size = theme.TEXT if marks is LARGE else theme.SMALL
        low = y - 0.5 * step(size)
        bold: dict[str, Any] = {"size": size, "weight": "bold", "colour": theme.PAPER}
        self.sheet.write(self.actions[order.do], x, low, most=marks.square, align="center", **bold)
        middle = x + 0.5 * marks.square + marks.leg + marks.circle
        leg = Line2D([x, middle], [y, y], color=theme.INK, linewidth=1.2, zorder=1)
        self.sheet.put(leg)
        odds = [node.odds.value for node in order.nodes if node.odds is not None]
        chance = sum(odds) / len(odds) if odds else 0.0
        rim: dict[str, Any] = {"edgecolor": theme.INK, "linewidth": 0.9}
        self.sheet.put(Circle((middle, y), marks.circle, facecolor=theme.PAPER, zorder=2, **rim))
        if chance > 0:
            part = Wedge((middle, y), marks.circle, 90.0 - 360.0 * chance, 90.0, zorder=3)
            part.set(facecolor=theme.RECOVERED, **rim)
            self.sheet.put(part)
        left, most = x - 0.5 * marks.square, 2.2 * marks.square
        self._below(f"out {percent(chance)}", left, y - 0.5 * marks.square - 0.2, most)

    def _square(self, place: _Place, style: dict[str, Any]) -> None:
        side = self.marks.square
        corner = place.x - 0.5 * side, place.y - 0.5 * side
        self.sheet.put(Rectangle(corner, side, side, zorder=2, **style))
