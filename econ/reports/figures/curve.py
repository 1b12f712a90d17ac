"""Expected cost and chance of recovery against the days that a limit allows."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

from econ.decision import Answer
from econ.reports import sentences, theme
from econ.reports.figures.layout import EDGE, Key, Panel, Sheet, Size
from econ.reports.figures.scales import (
    PERCENTILES,
    Mark,
    Scale,
    days_words,
    lanes,
    source_line,
    ticks,
)
from econ.reports.tables.figures import Sort
from econ.reports.tables.plain import Row
from econ.reports.tables.situation import Situation
from econ.reports.words import runs

AXIS = (
    "Days. Limit by runs: until its last run has failed. Limit by days: after which no run starts."
)
AXIS_OF_STRIP = (
    "Days until the last run of a limit has failed. Limit by days: no run starts after it."
)
LEFT = 16.0  # of the panel, where numbers stand [mm]
FEW = 9  # limits between which a label finds room
MOST_BARS = 20  # limits whose P10 to P90 has a line of its own
POINT: dict[str, Any] = {"color": theme.FISHING, "marker": "o", "markersize": 4.5}
RING: dict[str, Any] = {
    "color": theme.INK,
    "marker": "o",
    "markersize": 9.5,
    "markerfacecolor": "none",
    "markeredgecolor": theme.INK,
    "markeredgewidth": 1.4,
}
FLAT_BAR: dict[str, Any] = {"color": theme.INK, "linewidth": 4.0, "solid_capstyle": "butt"}
BY_DAYS: dict[str, Any] = {"color": theme.FISHING, "linewidth": 0.9, "linestyle": (0, (4, 2))}


def draw_curve(answer: Answer, rows: list[Row], size: Size) -> Sheet:
    """Expected cost against days: limits by runs with their band, by days, rules beside it."""
    money = Scale(answer)
    limits = [row for row in rows if row["row"] == Sort.BY_RUNS]
    by_days = [row for row in rows if row["row"] == Sort.BY_DAYS]
    best = next(row for row in limits if row["best"])
    now = limits[0]
    sheet = Sheet(
        size,
        height=75.0 if size == "strip" else 112.0,
        heading=f"Expected cost of the job against days of fishing ({money.unit})",
        finding="" if size == "strip" else verdict_words(answer),
        source=source_line(answer, PERCENTILES),
    )
    _curve_key(sheet, answer, money)
    across = _across(limits)
    if size != "strip":
        _rules(sheet, rows, best, across)
    panel = _panel(sheet, across, AXIS_OF_STRIP if size == "strip" else AXIS)
    panel.upward(0.0, 1.1 * max(*(money.of(row["p90"]) for row in limits), 1e-9))
    ticks(panel, x=18.0, y=8.0 if size == "strip" else 11.0)
    axes = panel.axes
    least = 0.006 * across[1]  # a single limit is a narrow strip
    flat = [
        (limits[low]["days"] - least, limits[high]["days"] + least)
        for low, high in sentences.reaches([row["runs"] for row in limits if row["flat"]])
    ]
    for start, end in flat:
        axes.axvspan(start, end, color=theme.FLAT, linewidth=0, zorder=0.5)
    days = [row["days"] for row in limits]
    mean = [money.of(row["expected_cost"]) for row in limits]
    low, high = ([money.of(row[key]) for row in limits] for key in ("p10", "p90"))
    # A bar on the axis as well: the pale strip alone is lost in a grey print.
    for start, end in flat:
        axes.plot([start, end], [0.0, 0.0], zorder=2.5, **FLAT_BAR)
    axes.fill_between(days, low, high, color=theme.BAND, linewidth=0, zorder=1)
    if len(limits) <= MOST_BARS:
        axes.vlines(days, low, high, color=theme.FISHING_TINT, linewidth=1.0, zorder=1.5)
    axes.axhline(
        money.of(now["expected_cost"]), color=theme.FALLBACK, linewidth=1.2, linestyle=(0, (1, 1.5))
    )
    inside = [row for row in by_days if row["days"] <= across[1]]
    axes.plot(
        [row["days"] for row in inside],
        [money.of(row["expected_cost"]) for row in inside],
        drawstyle="steps-post",
        **BY_DAYS,
    )
    axes.plot(days, mean, color=theme.FISHING, linewidth=theme.LINE)
    axes.plot(days, mean, linestyle="none", zorder=3, **POINT)
    axes.plot(
        [0.0],
        [money.of(now["expected_cost"])],
        marker="o",
        markersize=7.5,
        color=theme.INK,
        zorder=4,
        clip_on=False,
    )
    axes.plot([best["days"]], [money.of(best["expected_cost"])], zorder=5, **RING)
    panel.keep_line_clear(days, mean)
    panel.keep_line_clear(*_steps(inside, [money.of(row["expected_cost"]) for row in inside]))
    panel.keep_line_clear(across, [money.of(now["expected_cost"])] * 2)
    for x, y in zip(days, mean, strict=True):
        panel.keep_clear(x, y)
    panel.keep_clear(0.0, money.of(now["expected_cost"]))
    bars = list(zip(days, low, high, strict=True))
    if len(bars) <= FEW:  # among many of them there is no room between
        _keep_bars_clear(panel, bars)
    panel.label(
        f"{runs(best['runs'])}: {money.short(best['expected_cost'])}",
        best["days"],
        money.of(best["expected_cost"]),
        size=theme.TEXT,
        weight="bold",
        away=2.4,
    )
    _keep_bars_clear(panel, bars)
    panel.label("today", 0.0, money.of(now["expected_cost"]), away=2.0)
    for row in limits:
        if row not in (best, now):
            cost = money.of(row["expected_cost"])
            panel.label(str(row["runs"]), row["days"], cost, away=2.0, near=True)
    return sheet


def _keep_bars_clear(panel: Panel, bars: list[tuple[float, float, float]]) -> None:
    for x, lower, upper in bars:
        panel.keep_line_clear([x, x], [lower, upper])


def draw_recovery(answer: Answer, rows: list[Row], size: Size) -> Sheet:
    """Chance that the fish is out against days."""
    limits = [row for row in rows if row["row"] == Sort.BY_RUNS]
    by_days = [row for row in rows if row["row"] == Sort.BY_DAYS]
    best = next(row for row in limits if row["best"])
    sheet = Sheet(
        size,
        height=88.0,
        heading="Chance that the fish is out, against days of fishing (%)",
        finding=_chance_words(answer),
        source=source_line(answer),
    )
    sheet.key(
        [
            Key("dot", "limit by runs, its number beside it", {**POINT, "color": theme.RECOVERED}),
            Key("line", "limit by days", {**BY_DAYS, "color": theme.INK}),
            Key("ring", "best limit", RING),
        ]
    )
    across = _across(limits)
    panel = _panel(sheet, across, AXIS)
    panel.upward(0.0, 100.0)
    ticks(panel, x=18.0, y=11.0)
    axes = panel.axes
    inside = [row for row in by_days if row["days"] <= across[1]]
    days = [row["days"] for row in limits]
    chance = [100.0 * row["probability_recovered"] for row in limits]
    axes.fill_between(days, chance, color=theme.RECOVERED, alpha=0.18, linewidth=0)
    axes.plot(
        [row["days"] for row in inside],
        [100.0 * row["probability_recovered"] for row in inside],
        drawstyle="steps-post",
        **{**BY_DAYS, "color": theme.INK},
    )
    axes.plot(days, chance, color=theme.RECOVERED, linewidth=theme.LINE)
    points = {**POINT, "color": theme.RECOVERED}
    axes.plot(days, chance, linestyle="none", zorder=3, clip_on=False, **points)
    at = 100.0 * best["probability_recovered"]
    axes.plot([best["days"]], [at], zorder=5, clip_on=False, **RING)
    panel.keep_line_clear(days, chance)
    panel.keep_line_clear(*_steps(inside, [100.0 * row["probability_recovered"] for row in inside]))
    for x, y in zip(days, chance, strict=True):
        panel.keep_clear(x, y)
    panel.label(
        f"{runs(best['runs'])}: {at:.0f} %",
        best["days"],
        at,
        size=theme.TEXT,
        weight="bold",
        away=2.4,
    )
    for row in limits:
        if row is not best:
            at = 100.0 * row["probability_recovered"]
            panel.label(str(row["runs"]), row["days"], at, away=2.0, near=True)
    return sheet


def _steps(rows: list[Row], values: list[float]) -> tuple[list[float], list[float]]:
    """Corners of the stair through the limits by days."""
    days = [row["days"] for row in rows]
    xs = [x for pair in pairwise(days) for x in pair]
    return xs, [value for value in values[:-1] for _ in range(2)]


def verdict_words(answer: Answer) -> str:
    """The verdict without the name of a fallback, and what it costs."""
    said = sentences.verdict(Situation.of_answer(answer), Scale(answer), brief=True)
    return f"{said.headline} {said.cost}"


def _chance_words(answer: Answer) -> str:
    limit, last = answer.limit, answer.by_runs[-1]
    if last.runs == 0:
        return "No run is listed: nothing more is recovered."
    every = f"{100 * last.probability_recovered:.0f} % with {runs(last.runs)} as listed"
    if answer.best == 0:
        return f"The best limit makes no run; {every}."
    out = f"{100 * limit.probability_recovered:.0f} %"
    return f"{out} at the best limit of {runs(limit.runs)}; {every}."


def _curve_key(sheet: Sheet, answer: Answer, money: Scale) -> None:
    flat = sentences.flat(answer.flat)
    sheet.key(
        [
            Key("dot", "limit by runs, its number beside it", POINT),
            Key("line", "limit by days", BY_DAYS),
            Key("bar", "P10 to P90", {"color": theme.BAND}),
            Key("bar", f"within 2 % of the best: {flat}", {"color": theme.FLAT}),
            Key("ring", "cheapest", RING),
            Key("dot", "today", {"marker": "o", "markersize": 7.5, "color": theme.INK}),
            Key(
                "line",
                f"stopping now: {money.short(answer.by_runs[0].expected_cost)}",
                {"color": theme.FALLBACK, "linewidth": 1.2, "linestyle": (0, (1, 1.5))},
            ),
        ]
    )


def _rules(sheet: Sheet, rows: list[Row], best: Row, across: tuple[float, float]) -> None:
    rules = [row for row in rows if row["row"] == Sort.RULE]
    if not rules:
        return
    answer = f"This answer: {days_words(best['days'])}"
    marks = [Mark(answer, best["days"], theme.INK, "o")]
    for row in rules:
        days = row["days"]
        words = "no limit" if days is None else days_words(days)
        marks.append(Mark(f"{row['name']}: {words}", days, theme.MUTED, "D"))
    lanes(sheet, marks, left=LEFT, right=sheet.width - EDGE - 4.0, across=across)


def _across(limits: list[Row]) -> tuple[float, float]:
    """Range of days: every limit, and a little air on both sides."""
    longest = max(row["days"] for row in limits) or 1.0
    return -0.02 * longest, 1.06 * longest


def _panel(sheet: Sheet, across: tuple[float, float], words: str) -> Panel:
    right = sheet.width - EDGE - 4.0
    sheet.write(words, LEFT, sheet.bottom, most=right - LEFT, size=theme.SMALL, colour=theme.MUTED)
    panel = sheet.panel(left=LEFT, right=right, bottom=sheet.bottom + 8.5, top=sheet.top)
    panel.across(*across)
    return panel
