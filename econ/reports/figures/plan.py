"""The plan as a picture: decisions as squares, chances as circles, from the left to the right.

A square is a state with what to do there beside it; a circle is the run that is made, and what it
may bring goes on from there. Lines are as thick as their outcome is likely. Grey says the same as
colour: squares in which fishing stops are empty, those that go on are filled.
"""

from __future__ import annotations

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from econ.decision.plan import Plan, PlanNode
from econ.reports.amounts import Amounts
from econ.reports.figures.output import drawing
from econ.reports.names import one_line
from econ.reports.plan_text import OUTCOMES
from econ.reports.sentences import percent

MOST_ENDS = 40  # rows of the picture; likelier branches first
ROW, COLUMN, MARGIN = 0.27, 2.5, 0.4  # inches
LONGEST = 26  # letters of a name
INK, SOFT = "#222222", "#8a8a8a"


def plan_figure(found: Plan) -> Figure:
    """The tree of a plan, as large as it needs to be."""
    children: dict[int | None, list[PlanNode]] = {}
    for node in found.nodes:
        children.setdefault(node.parent, []).append(node)
    kept = {node.id for node in sorted(found.nodes, key=lambda n: -n.chance.value)[:MOST_ENDS]}
    places: dict[int, tuple[float, float]] = {}
    row = 0.0

    def lay(node: PlanNode, depth: int) -> float:
        nonlocal row
        rows = [lay(child, depth + 1) for child in children.get(node.id, []) if child.id in kept]
        if not rows:
            row += 1.0
            rows = [row]
        middle = 0.5 * (rows[0] + rows[-1])
        places[node.id] = (depth * COLUMN, -middle * ROW * 1.6)
        return middle

    lay(found.nodes[0], 0)
    width = max(x for x, _ in places.values()) + COLUMN + 2 * MARGIN
    height = row * ROW * 1.6 + 3 * MARGIN
    with drawing():
        figure = Figure(figsize=(width, height))
        axes = figure.add_axes((0, 0, 1, 1))
        axes.set_xlim(-MARGIN, width - MARGIN)
        axes.set_ylim(-row * ROW * 1.6 - 2 * MARGIN, MARGIN)
        axes.axis("off")
        money = Amounts(
            largest=max(node.cost_from_here.value for node in found.nodes),
            currency=found.scenario.currency,
        )
        for node in found.nodes:
            if node.id in places:
                _draw(axes, found, node, places, children, money)
        axes.text(
            -MARGIN / 2,
            -row * ROW * 1.6 - 1.6 * MARGIN,
            f"Square: decide. Circle: the run is made, its line goes to what it brings. Empty "
            f"square: stop. Costs from there on in {money.unit}.",
            fontsize=7,
            color=INK,
        )
    return figure


def _draw(
    axes: Axes,
    found: Plan,
    node: PlanNode,
    places: dict[int, tuple[float, float]],
    children: dict[int | None, list[PlanNode]],
    money: Amounts,
) -> None:
    x, y = places[node.id]
    stops = node.do == "stop"
    axes.plot([x], [y], "s", ms=8, mfc="white" if stops else INK, mec=INK, mew=1.2)
    cost = money.short(node.cost_from_here.value)
    words = f"stop  {cost}" if stops else f"{node.do}  {_name(found, node)}"
    axes.text(x + 0.12, y + 0.09, words, fontsize=7, color=INK, va="bottom")
    if stops:
        return
    odds = "" if node.odds is None else f"out {percent(node.odds.value)}   "
    axes.text(x + 0.12, y - 0.07, f"{odds}{cost}", fontsize=6, color=SOFT, va="top")
    middle = x + 0.62 * COLUMN
    axes.plot([x, middle], [y, y], "-", color=INK, lw=1.2, zorder=0)
    axes.plot([middle], [y], "o", ms=7, mfc="white", mec=INK, mew=1.2)
    for child in children.get(node.id, []):
        if child.id not in places:
            continue
        far, low = places[child.id]
        share = child.chance.value / max(node.chance.value, 1e-12)
        axes.plot([middle, far], [y, low], "-", color=SOFT, lw=0.5 + 3.0 * share, zorder=0)
        axes.text(
            far - 0.12,
            low + 0.02,
            f"{OUTCOMES[child.after or 'nothing']} {percent(share)}",
            fontsize=6,
            color=INK,
            ha="right",
            va="bottom",
            bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.5},
        )


def _name(found: Plan, node: PlanNode) -> str:
    assert node.do != "stop"
    name = one_line(found.scenario.run[node.do - 1].name)
    return name if len(name) <= LONGEST else name[: LONGEST - 2] + ".."
