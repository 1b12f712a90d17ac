"""Days against depth with what may follow, and the program of runs on a time axis."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from matplotlib.lines import Line2D
from matplotlib.patches import Rectangle

from econ.decision import Answer
from econ.reports import theme
from econ.reports.figures.layout import EDGE, Key, Panel, Sheet, Size, step
from econ.reports.figures.lettering import folded
from econ.reports.figures.scales import (
    days_words,
    no_ticks,
    plain_number,
    source_line,
    ticks,
)
from econ.reports.tables.figures import Branch, Point
from econ.reports.tables.plain import Row, length_unit
from econ.reports.words import runs

DEPTHS = 44.0  # column of depths and the hole [mm]
HOLE = 9.0  # of which the hole [mm]
NAMES, DAYS = 60.0, 13.0  # columns of the program [mm]
NUMBER = 5.0  # of which the number of a run [mm]
ROW = 8.0  # height of a run [mm]
LISTED = {"memo": 14, "strip": 14, "page": 15}  # runs that are shown
FISHING: dict[str, Any] = {"color": theme.FISHING, "linewidth": 4.0, "solid_capstyle": "butt"}
OUT: dict[str, Any] = {"color": theme.RECOVERED, "linewidth": 1.6}
BACK: dict[str, Any] = {"color": theme.FALLBACK, "linewidth": 2.0, "linestyle": (0, (4, 1))}
NOW: dict[str, Any] = {"color": theme.FALLBACK, "linewidth": 1.2, "linestyle": (0, (1, 1.5))}
Branches = dict[tuple[Branch, int], list[Row]]
PARTS: dict[str, tuple[str, dict[str, Any]]] = {
    "made": ("made", {"facecolor": theme.MUTED, "hatch": "xxx", "edgecolor": theme.PAPER}),
    "wait": ("wait", {"facecolor": theme.PAPER, "hatch": "/////", "edgecolor": theme.FISHING}),
    "handling": ("make up, lay down", {"facecolor": theme.BAND, "edgecolor": theme.FISHING}),
    "trips": ("trips", {"facecolor": theme.FISHING_TINT, "edgecolor": theme.FISHING}),
    "work": ("circulate and work", {"facecolor": theme.FISHING, "edgecolor": theme.FISHING}),
}


def draw_depth(answer: Answer, rows: list[Row], size: Size) -> Sheet:
    """Days against depth: fishing, then recovered or the fallback back to depth."""
    unit = length_unit(answer)
    branches = _branches(rows)
    fallback = branches.get((Branch.FALLBACK, 0), [])
    sheet = Sheet(
        size,
        height=112.0,
        heading=f"Days against depth ({unit}): fishing, and back to where drilling stopped",
        finding=_depth_words(answer, branches),
        source=source_line(answer, "Runs as if each fails, days as planned, no kick-off trouble"),
    )
    entries = []
    if len(branches.get((Branch.FISHING, 0), ())) > 1:
        words = "fishing: trips and work as time at the fish top"
        entries.append(Key("line", words, FISHING))
    if any(row["what"] == Point.OWED for row in rows):
        entries.append(Key("line", str(Point.OWED), {**FISHING, "color": theme.MUTED}))
    if any(branch == Branch.RECOVERED for branch, _ in branches):
        entries.append(Key("line", "fish out after that run, % that it is out by then", OUT))
    if fallback:
        words = f"fallback, % that it comes to that: {fallback[0]['name']}"
        entries.append(Key("line", words, BACK))
    if (Branch.STOPPING_NOW, 0) in branches:
        entries.append(Key("line", "the same if fishing stops now", NOW))
    sheet.key(entries)
    sheet.bottom += step(theme.SMALL) + 5.0
    left = EDGE + DEPTHS
    box = {"bottom": sheet.bottom, "top": sheet.top}
    hole = sheet.panel(left=left - HOLE, right=left, **box)
    panel = sheet.panel(left=left + 3.0, right=sheet.width - EDGE - 5.0, **box)
    sheet.write(
        "Days",
        panel.box.left,
        sheet.bottom - step(theme.SMALL) - 4.5,
        most=40.0,
        size=theme.SMALL,
        colour=theme.MUTED,
    )
    points = [row for branch in branches.values() for row in branch]
    longest = max([*(row["days"] for row in points), 1e-3])
    panel.across(-0.01 * longest, 1.05 * longest)
    span = _span(rows)
    for each in (hole, panel):
        each.upward(*span)
    ticks(panel, x=18.0, y=11.0)
    no_ticks(panel, y=True)
    _hole(sheet, hole, rows, span)
    _lines(panel, branches)
    return sheet


def draw_program(answer: Answer, rows: list[Row], size: Size) -> Sheet:
    """The runs on a time axis, each in its parts."""
    made = list(dict.fromkeys((row["run"], row["part"] == "made") for row in rows))
    shown = made[: LISTED[size]]
    sheet = Sheet(
        size,
        height=48.0 + ROW * max(len(shown), 1),
        heading="Program of runs, as if every run ahead fails",
        finding=_program_words(answer, rows, len(made) - len(shown)),
        source=source_line(answer, "Parts are sums over the trips of a run, not in their order"),
    )
    parts = [part for part in PARTS if any(row["part"] == part for row in rows)]
    sheet.key([Key("bar", *PARTS[part]) for part in parts])
    if not rows:
        return sheet
    sheet.write(
        "Days from now",
        EDGE + NAMES,
        sheet.bottom,
        most=40.0,
        size=theme.SMALL,
        colour=theme.MUTED,
    )
    sheet.bottom += step(theme.SMALL) + 4.5
    panel = sheet.panel(
        left=EDGE + NAMES,
        right=sheet.width - EDGE - DAYS,
        bottom=sheet.bottom,
        top=sheet.top - step(theme.SMALL),
    )
    kept = [row for row in rows if (row["run"], row["part"] == "made") in shown]
    first = min(0.0, *(row["start"] for row in kept))
    last = max(row["end"] for row in kept)
    air = 0.01 * max(last - first, 0.1)
    panel.across(first - air, last + air)
    panel.upward(len(shown) - 0.5, -0.5)
    ticks(panel, x=18.0, y=11.0)
    no_ticks(panel, y=True)
    panel.axes.grid(axis="x", color=theme.RULE, linewidth=theme.HAIR)
    _limit_line(panel, answer, kept, last + air)
    for place, (number, done) in enumerate(shown):
        mine = [row for row in kept if (row["run"], row["part"] == "made") == (number, done)]
        _run(sheet, panel, place, mine)
    return sheet


def _run(sheet: Sheet, panel: Panel, place: int, rows: list[Row]) -> None:
    for row in rows:
        length = row["end"] - row["start"]
        style = PARTS[row["part"]][1]
        panel.axes.barh(
            place, length, left=row["start"], height=0.6, linewidth=0.6, zorder=2, **style
        )
    _, y = panel.place(0.0, float(place))
    high = step(theme.SMALL)
    outside = rows[0]["within_limit"] is False
    colour = theme.MUTED if outside else theme.INK
    sheet.write(
        str(rows[0]["run"]),
        EDGE,
        y - 0.5 * high,
        most=NUMBER - 1.0,
        size=theme.SMALL,
        colour=colour,
    )
    most = NAMES - NUMBER - 2.5
    lines = folded(rows[0]["name"], most=most, size=theme.SMALL, lines=2)
    for number, line in enumerate(lines):
        low = y + (0.5 * len(lines) - 1 - number) * high
        sheet.write(line, EDGE + NUMBER, low, most=most, size=theme.SMALL, colour=colour)
    low = y - 0.5 * high
    days = days_words(rows[-1]["end"] - rows[0]["start"])
    last = sheet.width - EDGE
    sheet.write(days, last, low, most=DAYS - 1.5, size=theme.SMALL, colour=colour, align="right")


def _limit_line(panel: Panel, answer: Answer, rows: list[Row], right: float) -> None:
    """Where the best limit ends the fishing; what lies beyond is shaded."""
    ahead = [row for row in rows if row["within_limit"] is not None]
    if not ahead:
        return
    inside = [row["end"] for row in ahead if row["within_limit"]]
    at = max(inside) if inside else min(row["start"] for row in ahead)
    if len(inside) < len(ahead):
        panel.axes.axvspan(at, right, color=theme.WASH, linewidth=0, zorder=0.3)
    panel.axes.axvline(at, color=theme.INK, linewidth=1.4, linestyle=(0, (4, 2)), zorder=3)
    words = f"best limit: {runs(answer.best)}"
    room = panel.box.right - panel.box.left
    x, _ = panel.place(at, 0.0)
    start = x < panel.box.left + room / 2
    panel.sheet.write(
        words,
        x,
        panel.box.top + 0.8,
        most=room / 2,
        size=theme.SMALL,
        align="left" if start else "right",
    )


def _branches(rows: list[Row]) -> Branches:
    """Points of each branch in order; those of the recovered by the run after which they are."""
    branches: Branches = {}
    for row in rows:
        if row["branch"] != Branch.HOLE:
            branches.setdefault((row["branch"], row.get("after", 0)), []).append(row)
    return branches


def _span(rows: list[Row]) -> tuple[float, float]:
    """Lower and upper end of the depths shown: all that happens, and some hole above it."""
    depths = [row["depth"] for row in rows if row["what"] != Point.SHOE]
    low, high = max(depths), min(depths)
    deep = max(low - high, 0.02 * low, 1.0)
    return low + 0.15 * deep, max(high - 0.3 * deep, 0.0)


def _hole(sheet: Sheet, panel: Panel, rows: list[Row], span: tuple[float, float]) -> None:
    """The hole beside the axis: casing as far as it is in sight, the fish, and their depths."""
    hole = {row["what"]: row["depth"] for row in rows if row["branch"] == Branch.HOLE}
    kickoffs = [row["depth"] for row in rows if row["what"] == Point.KICKOFF]
    deepest, upper = span
    axes = panel.axes
    no_ticks(panel, x=True, y=True)
    panel.across(0.0, 1.0)
    for side in ("left", "bottom"):
        axes.spines[side].set_visible(False)
    well = hole[Point.DRILLED_TO]
    axes.add_patch(Rectangle((0.3, upper), 0.4, well - upper, color=theme.WASH, linewidth=0))
    for x in (0.3, 0.7):
        axes.plot([x, x], [upper, well], color=theme.MUTED, linewidth=theme.HAIR)
        if hole[Point.SHOE] > upper:
            axes.plot([x, x], [upper, hole[Point.SHOE]], color=theme.INK, linewidth=2.4)
    fish = min(hole[Point.FISH_BOTTOM], deepest) - hole[Point.FISH_TOP]
    axes.add_patch(
        Rectangle((0.38, hole[Point.FISH_TOP]), 0.24, fish, color=theme.INK, linewidth=0)
    )
    named = [(Point.FISH_TOP, hole[Point.FISH_TOP]), (Point.DRILLED_TO, well)]
    if hole[Point.SHOE] > upper:
        named.append((Point.SHOE, hole[Point.SHOE]))
    if abs(hole[Point.FISH_BOTTOM] - well) > 1e-6 * well:
        named.append((Point.FISH_BOTTOM, hole[Point.FISH_BOTTOM]))
    if kickoffs:
        named.append((Point.KICKOFF, kickoffs[0]))
    _depths(sheet, panel, sorted(named, key=lambda each: each[1]))


def _depths(sheet: Sheet, panel: Panel, named: Sequence[tuple[str, float]]) -> None:
    """Depths in words, pushed apart where they lie close, each with a line to its place."""
    apart = step(theme.SMALL)
    at = [panel.place(0.0, depth)[1] for _, depth in named]
    low = list(at)
    for place in range(1, len(low)):  # from the top down
        low[place] = min(low[place], low[place - 1] - apart)
    below = panel.box.bottom - low[-1]
    if below > 0:
        low[-1] += below
        for place in range(len(low) - 2, -1, -1):
            low[place] = max(low[place], low[place + 1] + apart)
    right = panel.box.left - 4.0
    for (words, depth), y, text in zip(named, at, low, strict=True):
        line = f"{words} {plain_number(round(depth))}"
        most = right - EDGE
        middle = text - 0.5 * apart
        sheet.write(line, right, middle, most=most, size=theme.SMALL, align="right")
        across = [right + 0.8, right + 2.2, panel.box.left + 0.28 * HOLE]
        sheet.put(Line2D(across, [text, y, y], color=theme.MUTED, linewidth=theme.HAIR))


def _lines(panel: Panel, branches: Branches) -> None:
    """The branches as lines, and their labels where there is room."""
    styles = {Branch.FISHING: FISHING, Branch.FALLBACK: BACK, Branch.STOPPING_NOW: NOW}
    for (name, _), points in branches.items():
        days = [row["days"] for row in points]
        depths = [row["depth"] for row in points]
        panel.axes.plot(days, depths, zorder=2 + (name not in styles), **styles.get(name, OUT))
        panel.keep_line_clear(days, depths)
    for row in branches.get((Branch.FISHING, 0), ()):
        if row["what"] == Point.OWED:
            before = {**FISHING, "color": theme.MUTED}
            panel.axes.plot([0.0, row["days"]], [row["depth"]] * 2, zorder=2.5, **before)
        if row.get("run") is not None:
            low, high = panel.axes.get_ylim()
            half = 0.02 * (low - high)
            ends = [row["depth"] - half, row["depth"] + half]
            panel.axes.plot([row["days"]] * 2, ends, color=theme.INK, linewidth=1.2, zorder=3)
            panel.keep_line_clear([row["days"]] * 2, ends)
            panel.label(f"run {row['run']}", row["days"], row["depth"], away=2.2)
    for (name, _), points in branches.items():
        if name == Branch.RECOVERED:
            end = points[-1]
            chance = f"{100 * points[0]['chance']:z.0f} %"
            panel.label(chance, end["days"], end["depth"], colour=theme.INK, away=1.4)
    back = branches.get((Branch.FALLBACK, 0), [])
    if back and back[0].get("chance") is not None:
        chance = f"{100 * back[0]['chance']:z.0f} %"
        panel.label(chance, back[-1]["days"], back[-1]["depth"], colour=theme.INK, away=1.4)


def _depth_words(answer: Answer, branches: Branches) -> str:
    words = []
    out = [points for (name, _), points in branches.items() if name == Branch.RECOVERED]
    back = branches.get((Branch.FALLBACK, 0), [])
    if out and answer.ended is None:
        words.append(f"If the first run succeeds: back at depth on day {out[0][-1]['days']:.1f}.")
    elif out:
        words.append(f"The fish is out: back at depth on day {out[0][-1]['days']:.1f}.")
    if back:
        failed = "Stopping now" if not answer.best else "If it fails"
        failed = "If all fail" if answer.best > 1 else failed
        words.append(f"{failed}: {back[-1]['what']} on day {back[-1]['days']:.1f}, as planned.")
    return " ".join(words)


def _program_words(answer: Answer, rows: list[Row], hidden: int) -> str:
    ahead = [row for row in rows if row["part"] != "made"]
    if not ahead:
        return "No run is left to make."
    last = max(row["end"] for row in ahead)
    count = len({row["run"] for row in ahead})
    inside = [row["end"] for row in ahead if row["within_limit"]]
    words = f"All {count}: {days_words(last)}." if count > 1 else f"One run: {days_words(last)}."
    if inside and count > 1:
        words = f"Best limit, {runs(answer.best)}: {days_words(max(inside))}. {words}"
    more = f" {hidden} more in the table." if hidden else ""
    return words + more
