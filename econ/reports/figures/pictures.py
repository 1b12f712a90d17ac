"""Pictures for a lesson, each large enough for a slide and told in words.

    tools()                    how a fish is caught, in six ways
    before_and_after(scenario) the well now, with the fish out, and after a sidetrack
    thousand_jobs(...)         what is left of a thousand jobs after an outcome
    belief(...)                belief and odds as failures come in
    tree(...)                  a tree, with its values worked out from its ends
    lines(...)                 curves or staircases, with the levels they are held against
    bars(...)                  amounts side by side
    shares(...)                counted shares with their intervals
    beside(...)                an answer beside the guesses of a class
    figure(...), plan(...), records(...)   the figures of an answer, a plan and past jobs

All of them return a `Picture`, which a notebook shows by itself. The drawings of wells and tools
are ours and not to scale across. A tree is rolled back from its ends: an end has its cost, a
circle the mean of its branches weighted by their chances, a square the least of its choices.
"""

from __future__ import annotations

import base64
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Polygon, Rectangle
from matplotlib.ticker import MaxNLocator

from econ.decision import Answer
from econ.decision.plan import Plan
from econ.records import RecordOdds
from econ.reports import theme
from econ.reports.figures import alt_text
from econ.reports.figures import figure as figure_of
from econ.reports.figures.output import drawing, png, svg
from econ.reports.figures.plan import plan_figure
from econ.reports.figures.records import records_figure, records_in_words
from econ.scenario import Scenario
from econ.scenario.amounts import mean_of
from econ.scenario.fallbacks import Sidetrack

__all__ = [
    "Branch",
    "Picture",
    "bars",
    "before_and_after",
    "belief",
    "beside",
    "chance",
    "decision",
    "digits",
    "end",
    "figure",
    "lines",
    "plan",
    "records",
    "shares",
    "thousand_jobs",
    "tools",
    "tree",
]

WIDE, HIGH = 9.0, 4.4  # of a picture [in]
ON_SCREEN = 80.0  # dots an inch in a notebook
ON_A_SLIDE = 1_920  # dots across
SIZE = 11.0  # of text [pt]; a slide shows it at twice that
ROCK, STEEL, MUD, CEMENT = "#e7ddd0", "#8b939c", "#f4f8fb", "#b9b4aa"
DASHES = ("-", "--", ":", "-.")


@dataclass(frozen=True)
class Picture:
    """A figure and what it shows in words."""

    figure: Figure
    words: str

    def png(self, *, across: int = ON_A_SLIDE) -> bytes:
        """The picture as PNG of about so many dots across; as it stands, for a slide."""
        return png(self.figure, dpi=across / self.figure.get_size_inches()[0])

    def svg(self) -> bytes:
        """The picture as SVG."""
        return svg(self.figure)

    def __repr__(self) -> str:
        return f"Picture: {self.words}"

    def _repr_png_(self) -> tuple[str, dict[str, str]]:
        shown = base64.b64encode(png(self.figure, dpi=ON_SCREEN)).decode("ascii")
        return shown, {"alt": self.words}


def figure(answer: Answer, name: str) -> Picture:
    """The figure `name` of an answer: see `econ.figure`."""
    return Picture(figure_of(answer, name), alt_text(answer, name))


def plan(plan: Plan) -> Picture:
    """The tree of a plan, with the orders that follow its first run in words.

    >>> import econ
    >>> found = econ.plan(econ.load("scenarios/fuller/a_land_twist_off.toml"))
    >>> plan(found).words[:44]
    'Plan at 483,414 on average: run 1 now; after'
    """
    first, *others = plan.nodes
    told = [f"{_order(first.do)} now"]
    for node in others:
        if node.parent == first.id and node.after is not None:
            after = node.after.replace("_", " ")
            told.append(f"after {after} ({node.chance.value:.0%}) {_order(node.do)}")
    words = f"Plan at {digits(plan.expected_cost.value)} on average: {'; '.join(told)}."
    return Picture(plan_figure(plan), words)


def _order(do: int | str) -> str:
    return f"run {do}" if isinstance(do, int) else str(do)


def records(record_odds: RecordOdds) -> Picture:
    """The figure of past jobs: see `econ.records_figure`."""
    return Picture(records_figure(record_odds), records_in_words(record_odds))


# Wells and tools ------------------------------------------------------------------------


def tools() -> Picture:
    """Six ways to catch a fish or to prepare it, drawn in the hole.

    >>> tools().words[:38]
    'Six sections of a hole with a fish top'
    """
    fig, panels = _panels(6)
    ways = {
        "Overshot": ("catches all round", _overshot),
        "Spear": ("catches inside", _spear),
        "Screw-in sub": ("makes up the thread", _screw_in),
        "Bent joint": ("finds a leaning top", _bent_joint),
        "Wash pipe": ("washes over the fish", _wash_pipe),
        "Magnet": ("lifts loose steel", _magnet),
    }
    for axes, (name, (what, draw)) in zip(panels, ways.items(), strict=True):
        _hole(axes)
        draw(axes)
        axes.set_title(name, fontsize=SIZE, fontweight="bold")
        axes.text(5, -0.7, what, ha="center", va="top", fontsize=0.85 * SIZE)
    told = "; ".join(f"{name.lower()} {what}" for name, (what, _) in ways.items())
    return Picture(fig, f"Six sections of a hole with a fish top and a tool: {told}.")


def before_and_after(scenario: Scenario) -> Picture:
    """The well of a scenario three times: now, with the fish out, and after a sidetrack.

    Depths [ft] are those of the scenario; the kick-off of its first sidetrack is drawn where its
    file puts it. Depths are not to scale: the lower part is drawn longer. Raises ValueError where
    no fallback is a sidetrack.
    """
    scenario = scenario.in_field_units()
    sides = [each for each in scenario.fallback if isinstance(each, Sidetrack)]
    if not sides:
        raise ValueError("before_and_after: none of the fallbacks is a sidetrack")
    top, depth, shoe = scenario.fish.top, scenario.well.depth, scenario.well.shoe_depth
    kickoff = top - mean_of(sides[0].kickoff_above_fish)
    fig, panels = _panels(3)
    names = ("Now", "Fish out: drill ahead", "Fish left: sidetrack")
    for axes, name in zip(panels, names, strict=True):
        axes.set(xlim=(-7, 14), ylim=(-2, 31))
        axes.add_patch(Rectangle((-7, 0), 21, 30, color=ROCK))
        axes.add_patch(Rectangle((3.2, 4), 3.6, 26, color=MUD))
        for side in (2.9, 6.8):
            axes.add_patch(Rectangle((side, 20), 0.3, 10, color=theme.INK))
        axes.set_title(name, fontsize=SIZE, fontweight="bold")
    now, out, past = panels
    for axes in (now, past):
        axes.add_patch(Rectangle((4.3, 4.2), 1.4, 6.8, color=STEEL))
    _mark(now, 20, f"shoe {shoe:,.0f}")
    _mark(now, 11, f"fish top {top:,.0f}")
    _mark(now, 4, f"stopped {depth:,.0f}")
    out.add_patch(Rectangle((3.2, 0), 3.6, 4.2, color=MUD))
    out.annotate("", (5, 0.3), (5, 4.6), arrowprops={"arrowstyle": "->", "lw": 2})
    _mark(out, 4, f"ahead from {depth:,.0f}")
    past.add_patch(Rectangle((3.2, 11.4), 3.6, 4.2, color=CEMENT, hatch="..", ec=theme.MUTED))
    path = [(6.8, 16), (9.2, 11), (10.2, 7), (10.2, 0), (12.6, 0), (12.6, 7.4), (11.6, 12)]
    past.add_patch(Polygon([*path, (6.8, 19.3)], closed=True, color=MUD))
    past.add_patch(Rectangle((3.2, 16), 3.6, 0.25, color=theme.MUTED))
    _mark(past, 16, f"kick-off {kickoff:,.0f}")
    _mark(past, 13.4, "cement plug")
    past.annotate("", (11.4, 0.3), (11.4, 4.6), arrowprops={"arrowstyle": "->", "lw": 2})
    return Picture(
        fig,
        f"Three wells. Now: the fish stands from {top:,.0f} ft to where drilling stopped, "
        f"{depth:,.0f} ft. Fish out: drill ahead there. Fish left: cement plug above it, kick-off "
        f"at {kickoff:,.0f} ft, a new hole past the fish to the same depth.",
    )


def _panels(count: int) -> tuple[Figure, list[Axes]]:
    fig = Figure(figsize=(WIDE, HIGH), layout="constrained", facecolor=theme.PAPER)
    with drawing():
        panels = list(fig.subplots(1, count).flat)
    for axes in panels:
        axes.set_axis_off()
    return fig, panels


def _hole(axes: Axes) -> None:
    """Rock, hole and the upper end of a fish: x 0 to 10, y 0 to 20."""
    axes.set(xlim=(0, 10), ylim=(-2, 20))
    axes.add_patch(Rectangle((0, 0), 10, 20, color=ROCK))
    axes.add_patch(Rectangle((2, 0), 6, 20, color=MUD))


def _pipe(axes: Axes, x: float, low: float, wide: float, high: float, colour: str = STEEL) -> None:
    axes.add_patch(Rectangle((x - wide / 2, low), wide, high, fc=colour, ec=theme.INK, lw=0.8))


def _overshot(axes: Axes) -> None:
    _pipe(axes, 5, 0, 2.2, 9.5)
    for side in (3.2, 6.8):
        _pipe(axes, side, 6.5, 0.7, 6.5, theme.FISHING)
        axes.add_patch(Rectangle((side - 0.5 + (0.5 if side < 5 else 0), 8), 0.5, 1, fc="white"))
    _pipe(axes, 5, 13, 4.3, 1.2, theme.FISHING)
    _pipe(axes, 5, 14.2, 1.6, 5.8, theme.FISHING)


def _spear(axes: Axes) -> None:
    for side in (3.6, 6.4):
        _pipe(axes, side, 0, 0.9, 9.5)
    _pipe(axes, 5, 6, 1.2, 14, theme.FISHING)
    _pipe(axes, 5, 7, 1.8, 1.6, theme.FISHING_TINT)
    _pipe(axes, 5, 9.5, 3.6, 0.9, theme.FISHING)


def _screw_in(axes: Axes) -> None:
    _pipe(axes, 5, 0, 2.6, 9)
    thread = [(4.1, 9), (4.4, 7.2), (5.6, 7.2), (5.9, 9)]
    axes.add_patch(Polygon(thread, closed=True, fc=theme.FISHING, ec="white", hatch="--"))
    _pipe(axes, 5, 9, 2.6, 3, theme.FISHING)
    _pipe(axes, 5, 12, 1.6, 8, theme.FISHING)


def _bent_joint(axes: Axes) -> None:
    axes.add_patch(Rectangle((0.8, 5), 8.4, 8, color=MUD))
    leaning = [(4, 0), (6.2, 0), (8.6, 9.2), (6.6, 9.8)]
    axes.add_patch(Polygon(leaning, closed=True, fc=STEEL, ec=theme.INK, lw=0.8))
    bent = [(4.2, 20), (4.2, 14), (6.3, 10.6), (7.9, 11.6), (5.8, 14.6), (5.8, 20)]
    axes.add_patch(Polygon(bent, closed=True, fc=theme.FISHING, ec=theme.INK, lw=0.8))
    bell = [(5.7, 8.3), (6.3, 10.6), (7.9, 11.6), (9.1, 10.2)]
    axes.add_patch(Polygon(bell, closed=False, fill=False, ec=theme.FISHING, lw=3))


def _wash_pipe(axes: Axes) -> None:
    _pipe(axes, 5, 0, 2.2, 11)
    for x in (2.5, 3.1, 6.9, 7.5):
        axes.plot([x, x + 0.1], [0.6, 3.4], color=CEMENT, lw=4)
    for side in (3.05, 6.95):
        _pipe(axes, side, 4, 0.5, 12, theme.FISHING)
        teeth = [(side - 0.25, 4), (side, 3.2), (side + 0.25, 4)]
        axes.add_patch(Polygon(teeth, closed=True, fc=theme.FISHING, ec=theme.INK, lw=0.8))
    _pipe(axes, 5, 16, 4.4, 1.2, theme.FISHING)
    _pipe(axes, 5, 17.2, 1.6, 2.8, theme.FISHING)


def _magnet(axes: Axes) -> None:
    for x, y in ((3.4, 0.9), (5.0, 0.8), (6.5, 1.1)):
        axes.add_patch(Polygon([(x - 0.8, 0), (x, y + 0.9), (x + 0.8, 0)], fc=STEEL, ec=theme.INK))
    _pipe(axes, 5, 3.6, 4.4, 3.4, theme.FISHING)
    _pipe(axes, 5, 7, 1.6, 13, theme.FISHING)
    for x in (3.8, 5.0, 6.2):
        axes.annotate("", (x, 3.4), (x, 2.1), arrowprops={"arrowstyle": "->", "lw": 1.4})


def _mark(axes: Axes, y: float, words: str) -> None:
    axes.plot([-0.4, 2.8], [y, y], color=theme.INK, lw=0.8)
    what, _, last = words.rpartition(" ")
    axes.text(-0.6, y, f"{what}\n{last}", ha="right", va="center", fontsize=0.8 * SIZE)


# Counts, beliefs and amounts ------------------------------------------------------------


def thousand_jobs(prior: float, chances: tuple[float, float], outcome: str) -> Picture:
    """A thousand jobs as squares, before and after all but one outcome are taken away.

    prior: chance of a workable fish; chances: of the outcome on a workable and on a stubborn fish,
    all as fractions.

    >>> thousand_jobs(0.7, (0.22, 0.72), "nothing").words.partition(". ")[2]
    'After nothing 370 are left: 154 workable, 216 stubborn; 42 % workable.'
    """
    before = (round(1000 * prior), 1000 - round(1000 * prior))
    after = (round(1000 * prior * chances[0]), round(1000 * (1 - prior) * chances[1]))
    fig, panels = _panels(2)
    titles = ("1,000 jobs like this one", f"Those where run 1 ended with {outcome}")
    for axes, (workable, stubborn), title in zip(panels, (before, after), titles, strict=True):
        axes.set(xlim=(-1, 40.5), ylim=(-3.2, 25.5))
        places = [divmod(number, 25) for number in range(workable + stubborn)]
        across, down = ([place[axis] for place in places] for axis in (0, 1))
        up = [24 - row for row in down]
        style: dict[str, Any] = {"linestyle": "none", "marker": "s", "markersize": 4.4}
        axes.plot(across[:workable], up[:workable], color=theme.RECOVERED, **style)
        axes.plot(across[workable:], up[workable:], color=theme.FALLBACK_TINT, **style)
        axes.plot(across[workable:], up[workable:], ".", color=theme.INK, markersize=1.6)
        good = workable / (workable + stubborn)
        told = f"{workable} workable (plain), {stubborn} stubborn (dotted): {good:.0%} workable"
        axes.text(0, -0.8, told, va="top", fontsize=0.9 * SIZE)
        axes.set_title(title, fontsize=SIZE, fontweight="bold", loc="left")
    left = sum(after)
    share = round(100 * after[0] / left)
    return Picture(
        fig,
        f"Of 1,000 jobs {before[0]} are workable and {before[1]} stubborn. After {outcome} {left} "
        f"are left: {after[0]} workable, {after[1]} stubborn; {share} % workable.",
    )


def belief(steps: Sequence[tuple[str, float, float]], *, held: bool = True) -> Picture:
    """Belief in a workable fish and odds of the next run, step by step.

    steps: words, belief and odds [fractions] of each; held: draw what a crew that learns nothing
    believes.
    """
    fig, axes = _axes()
    places = range(len(steps))
    beliefs, odds = [each[1] for each in steps], [each[2] for each in steps]
    axes.plot(places, beliefs, "s-", color=theme.RECOVERED, lw=2.4, ms=8)
    axes.plot(places, odds, "o--", color=theme.FISHING, lw=2.4, ms=8)
    for place, _, one, other in ((p, *step) for p, step in zip(places, steps, strict=True)):
        for value, over in ((one, one >= other), (other, one < other)):
            up = 0.03 if over else -0.08
            axes.text(place, value + up, f"{value:.2f}", ha="center", fontsize=SIZE)
    if held:
        axes.plot(places, [beliefs[0]] * len(steps), ":", color=theme.MUTED, lw=1.6)
        axes.text(len(steps) - 0.9, beliefs[0] + 0.02, "nothing\nlearned", color=theme.MUTED)
    axes.text(0.05, beliefs[0] + 0.1, "belief that the fish is workable", color=theme.INK)
    axes.text(0.05, max(odds[0] - 0.25, 0.02), "odds of the next run", color=theme.FISHING)
    axes.set(ylim=(-0.1, 1), xlim=(-0.2, len(steps) - 0.3), xticks=list(places))
    axes.set_xticklabels([each[0] for each in steps], fontsize=0.9 * SIZE)
    told = "; ".join(f"{name}: belief {one:.2f}, odds {other:.2f}" for name, one, other in steps)
    return Picture(fig, f"{told.replace(chr(10), ' ')}.")


def lines(
    across: Sequence[float],
    curves: Mapping[str, Sequence[float]],
    *,
    x: str,
    y: str,
    title: str,
    held_against: Mapping[str, float] | None = None,
    marked: Mapping[str, int] | None = None,
    stairs: Collection[str] = (),
) -> Picture:
    """Curves over one axis, each with its own dash and its name at its end.

    A curve may have fewer values than `across`: it ends there. held_against: level lines by name;
    marked: the place of a dot on a curve; stairs: names of curves whose values hold from their
    place on.
    """
    fig, axes = _axes()
    told = []
    for number, (name, values) in enumerate(curves.items()):
        dash = DASHES[number % len(DASHES)]
        style: dict[str, Any] = {"drawstyle": "steps-post"} if name in stairs else {}
        axes.plot(across[: len(values)], values, dash, color=theme.FISHING, lw=2.2, **style)
        told.append(f"{name or 'the curve'} from {digits(values[0])} to {digits(values[-1])}")
        if marked and name in marked:
            place = marked[name]
            axes.plot([across[place]], [values[place]], "o", color=theme.INK, ms=8)
            told[-1] += f", marked at {digits(across[place])}"
    for name, level in (held_against or {}).items():
        axes.axhline(level, color=theme.FALLBACK, ls="--", lw=1.6)
        axes.annotate(name, (across[0], level), xytext=(3, 4), textcoords="offset points")
        told.append(f"{name} at {digits(level)}")
    axes.set(xlabel=x, ylabel=y)
    axes.set_title(title, fontsize=SIZE, fontweight="bold", loc="left")
    axes.margins(x=0.02)
    if all(isinstance(place, int) for place in across):
        axes.xaxis.set_major_locator(MaxNLocator(integer=True))
    low, high = axes.get_ylim()
    lowest: dict[float, float] = {}  # of the names at a place
    for level, name in sorted((values[-1], name) for name, values in curves.items()):
        at = across[len(curves[name]) - 1]
        lowest[at] = max(level, lowest.get(at, low) + 0.055 * (high - low))  # names do not meet
        corner = (at, lowest[at])
        axes.annotate(name, corner, xytext=(6, -3), textcoords="offset points", va="center")
    return Picture(fig, f"{title}. {y} against {x}: {'; '.join(told)}.")


def bars(amounts: Mapping[str, float], *, unit: str, title: str, marked: str = "") -> Picture:
    """Amounts as bars, largest text first; `marked` is drawn in another colour and hatch."""
    fig, axes = _axes(0.6 + 0.45 * len(amounts))
    for place, (name, amount) in enumerate(amounts.items()):
        own = name == marked
        colour = theme.RECOVERED if own else theme.FISHING_TINT
        axes.barh(place, amount, color=colour, hatch="//" if own else None, edgecolor="white")
        side = "left" if amount >= 0 else "right"
        axes.text(amount, place, f" {digits(amount)} ", va="center", ha=side, fontsize=SIZE)
    axes.set_yticks(range(len(amounts)), list(amounts), fontsize=SIZE)
    axes.invert_yaxis()
    axes.margins(x=0.16)
    axes.set(xlabel=unit)
    axes.set_title(title, fontsize=SIZE, fontweight="bold", loc="left")
    told = "; ".join(f"{name} {digits(amount)}" for name, amount in amounts.items())
    return Picture(fig, f"{title} [{unit}]: {told}.")


def shares(rows: Mapping[str, tuple[float, float, float]], *, title: str) -> Picture:
    """Counted shares with their intervals: share, low and high [fractions] by name."""
    fig, axes = _axes(0.8 + 0.45 * len(rows))
    for place, (share, low, high) in enumerate(rows.values()):
        axes.plot([low, high], [place, place], color=theme.FISHING, lw=3)
        axes.plot([share], [place], "o", color=theme.INK, ms=9)
    axes.set_yticks(range(len(rows)), list(rows), fontsize=SIZE)
    axes.set(xlim=(0, 1), ylim=(len(rows) - 0.5, -0.5), xlabel="share")
    axes.set_title(title, fontsize=SIZE, fontweight="bold", loc="left")
    told = "; ".join(
        f"{name} {share:.2f}, interval {low:.2f} to {high:.2f}"
        for name, (share, low, high) in rows.items()
    )
    return Picture(fig, f"{title}: {told}.")


def beside(guesses: Sequence[float], value: float, *, unit: str) -> Picture:
    """An answer beside the guesses of a class, on one axis.

    >>> beside([8, 24], 15.6, unit="h").words
    'The answer is 15.6 h. 2 guesses, from 8 to 24; the nearest is 8.'
    >>> beside([], 15.6, unit="h").words
    'The answer is 15.6 h. No guess is written down.'
    """
    fig, axes = _axes(1.3)
    shown = f"{digits(value)}"
    axes.axvline(value, color=theme.RECOVERED, lw=3)
    axes.annotate(f" {shown} {unit}", (value, 0.72), fontsize=1.2 * SIZE, fontweight="bold")
    told = "No guess is written down."
    if guesses:
        axes.plot(guesses, [0.3] * len(guesses), "o", color=theme.FISHING, ms=9, alpha=0.7)
        nearest = min(guesses, key=lambda each: abs(each - value))
        told = (
            f"{len(guesses)} guesses, from {digits(min(guesses))} to {digits(max(guesses))}; "
            f"the nearest is {digits(nearest)}."
        )
    axes.set(ylim=(0, 1), yticks=[], xlabel=f"{unit}; dots are guesses")
    low, high = min([*guesses, value]), max([*guesses, value])
    room = 0.15 * (high - low) or 0.5 * abs(value) or 1.0
    axes.set_xlim(low - room, high + room)
    axes.spines["left"].set_visible(False)
    return Picture(fig, f"The answer is {shown} {unit}. {told}")


def digits(value: float) -> str:
    """An amount in at most four digits, or whole from a thousand on.

    >>> digits(15.62), digits(713532.2), digits(0.0442)
    ('15.6', '713,532', '0.0442')
    """
    return f"{value:,.0f}" if abs(value) >= 1_000 else f"{value:.3g}"


def _axes(high: float = HIGH) -> tuple[Figure, Axes]:
    fig = Figure(figsize=(WIDE, high), layout="constrained", facecolor=theme.PAPER)
    with drawing():
        axes = fig.subplots()
    axes.tick_params(labelsize=0.9 * SIZE)
    for axis in (axes.xaxis, axes.yaxis):
        axis.set_major_formatter(lambda value, _: f"{value:,.6g}")
    axes.spines[["top", "right"]].set_visible(False)
    return fig, axes


# Trees ----------------------------------------------------------------------------------


@dataclass(frozen=True)
class Branch:
    """A place in a tree and all that follows: an end, a chance or a decision.

    value: expected cost from here on, with the best choices; ways: words, chance (1 at a decision)
    and what follows.
    """

    sort: Literal["end", "chance", "decision"]
    value: float
    ways: tuple[tuple[str, float, Branch], ...] = ()

    @property
    def best(self) -> str:
        """Words of the cheapest way of a decision."""
        return min(self.ways, key=lambda way: way[2].value)[0]


def end(cost: float) -> Branch:
    """An end of a tree, with its cost."""
    return Branch("end", float(cost))


def chance(ways: Mapping[str, tuple[float, Branch]]) -> Branch:
    """What chance decides: the chance of each way and what follows. Chances sum to 1.

    >>> chance({"out": (0.25, end(100)), "not out": (0.75, end(600))}).value
    475.0
    """
    found = tuple((words, odds, then) for words, (odds, then) in ways.items())
    if abs(sum(odds for _, odds, _ in found) - 1.0) > 1e-9:
        raise ValueError(f"chances of a tree must sum to 1: {[odds for _, odds, _ in found]}")
    return Branch("chance", sum(odds * then.value for _, odds, then in found), found)


def decision(ways: Mapping[str, Branch]) -> Branch:
    """What you decide: the cheapest way is taken.

    >>> decision({"go": end(535), "stop": end(600)}).best
    'go'
    """
    found = tuple((words, 1.0, then) for words, then in ways.items())
    return Branch("decision", min(then.value for _, _, then in found), found)


def tree(root: Branch, *, unit: str, title: str, solved: bool = True) -> Picture:
    """A tree from left to right: squares for decisions, circles for chance, costs at each.

    What is not taken at a decision is grey and dashed. Not `solved`: its shape and words alone, for
    a class to fill in.
    """
    count = _ends(root)
    fig, axes = _axes(max(HIGH, 0.42 * count + 0.8))
    axes.set_axis_off()
    told: list[str] = []
    _draw_branch(axes, root, depth=0, top=0.0, taken=True, told=told, solved=solved)
    if not solved:
        told = [f"{count} ends, to be worked out"]
    axes.set(xlim=(-0.35, _depth(root) + 0.75), ylim=(-count + 0.2, 0.9), aspect="auto")
    axes.set_title(f"{title} ({unit})", fontsize=SIZE, fontweight="bold", loc="left")
    return Picture(fig, f"{title}, {unit}: {'; '.join(told)}.")


def _ends(branch: Branch) -> int:
    return sum(_ends(then) for _, _, then in branch.ways) or 1


def _depth(branch: Branch) -> int:
    return 1 + max((_depth(then) for _, _, then in branch.ways), default=-1)


def _cost(value: float) -> str:
    """A cost at a place of a tree: small ones with a digit, to be worked out by hand."""
    return digits(value) if abs(value) >= 1_000 else f"{value:.1f}".removesuffix(".0")


def _draw_branch(
    axes: Axes,
    branch: Branch,
    *,
    depth: int,
    top: float,
    taken: bool,
    told: list[str],
    solved: bool,
) -> float:
    """Draw a branch whose uppermost end stands at `top`; the height of its own place."""
    colour = theme.INK if taken else theme.MUTED
    cost = _cost(branch.value) if solved else ""
    if branch.sort == "end":
        weight = "bold" if taken else "normal"
        axes.text(depth + 0.04, top, cost, va="center", color=colour, weight=weight)
        return top
    heights, below = [], top
    free = not solved or branch.sort == "chance"
    on = [taken and (free or words == branch.best) for words, _, _ in branch.ways]
    for (_, _, then), follows in zip(branch.ways, on, strict=True):
        heights.append(
            _draw_branch(
                axes, then, depth=depth + 1, top=below, taken=follows, told=told, solved=solved
            )
        )
        below -= _ends(then)
    own = (heights[0] + heights[-1]) / 2
    for (words, odds, _), height, follows in zip(branch.ways, heights, on, strict=True):
        line: dict[str, Any] = {"color": theme.INK if follows else theme.MUTED}
        shape: dict[str, Any] = {"ls": "-" if follows else "--", "lw": 2.0 if follows else 1.0}
        axes.plot([depth, depth + 0.2, depth + 1], [own, height, height], **line, **shape)
        label = f"{words} {odds:.2f}" if solved and branch.sort == "chance" else words
        axes.text(depth + 0.22, height + 0.08, label, va="bottom", fontsize=0.8 * SIZE, **line)
    mark = {"chance": "o", "decision": "s"}[branch.sort]
    axes.plot([depth], [own], mark, color=theme.PAPER, mec=colour, ms=15, mew=2, zorder=3)
    axes.text(depth - 0.08, own - 0.12, cost, ha="right", va="top", color=colour)
    if branch.sort == "decision" and taken:
        told.insert(0, f"{branch.best} at {cost}")
    return own
