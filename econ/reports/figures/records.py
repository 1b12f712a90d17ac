"""Past jobs in one figure: odds by kind of run, time to recovery, and the hazard run by run."""

from __future__ import annotations

from typing import Any

from matplotlib.figure import Figure

from econ.records import RecordOdds
from econ.reports import theme
from econ.reports.figures.layout import EDGE, Key, Panel, Sheet, Size
from econ.reports.figures.output import drawing
from econ.reports.figures.scales import ticks
from econ.reports.tables import records as tables
from econ.reports.tables.plain import Row

NAMES = 31.0  # width that the names of the kinds take [mm]
ROW = 9.5  # height of a kind [mm]
MOST_SHOWN = 12  # runs of which the hazard is drawn
POOLED: dict[str, Any] = {"color": theme.FISHING, "marker": "o", "markersize": 5.5}
RATE: dict[str, Any] = {
    "color": theme.MUTED,
    "marker": "o",
    "markersize": 4.5,
    "markerfacecolor": theme.PAPER,
}
WORKABLE: dict[str, Any] = {"color": theme.RECOVERED, "marker": "^", "markersize": 5.0}
STUBBORN: dict[str, Any] = {"color": theme.FALLBACK, "marker": "v", "markersize": 5.0}
CURVE: dict[str, Any] = {"color": theme.FISHING, "linewidth": theme.LINE}
SHARE: dict[str, Any] = {"color": theme.RECOVERED, "linewidth": 1.4, "linestyle": (0, (4, 2))}
BAND: dict[str, Any] = {"facecolor": theme.BAND, "edgecolor": theme.FISHING_TINT, "linewidth": 0.4}


def records_figure(found: RecordOdds, *, size: Size = "memo") -> Figure:
    """The figure of past jobs; its numbers are those of the tables `by_kind`, `by_run`,
    `kinds_of_fish` and `time_to_recovery`.

    >>> import econ
    >>> past = econ.odds(econ.read_records("scenarios/records/invented_jobs.csv"))
    >>> len(records_figure(past).axes) > 1
    True
    """
    with drawing():
        return _drawn(found, size).figure


def records_in_words(found: RecordOdds) -> str:
    """The figure in plain words, for who cannot see it.

    >>> import econ
    >>> past = econ.odds(econ.read_records("scenarios/records/invented_jobs.csv"))
    >>> records_in_words(past)[:39]
    'Chance to recover the fish by kind of r'
    """
    kinds = "; ".join(
        f"{row['kind']} {row['pooled']:.2f} ({row['pooled_low']:.2f} to {row['pooled_high']:.2f}, "
        f"{row['recovered']} of {row['runs']} runs)"
        for row in tables.kind_rows(found)
    )
    runs = "; ".join(f"run {row['run']} {row['rate']:.2f}" for row in tables.run_rows(found))
    return f"Chance to recover the fish by kind of run: {kinds}. By number of run: {runs}."


def _drawn(found: RecordOdds, size: Size) -> Sheet:
    kinds, fish = tables.kind_rows(found), tables.fish_rows(found)[1:]
    count = len(found.records.names)
    apart = "tell" if found.fish.told_apart else "do not tell"
    sheet = Sheet(
        size,
        height=max(112.0, 46.0 + ROW * len(kinds)),
        heading="Odds from past jobs",
        finding=f"{count} jobs, {len(found.records.job)} runs; they {apart} two kinds of fish "
        "apart.",
        source=f"Bars and band: 95 % intervals. Records: {found.records.file}",
    )
    timed = bool(tables.time_rows(found))
    sheet.key(
        [
            Key("dot", "odds, kinds pooled", POOLED),
            Key("dot", "plain rate of the records", RATE),
            Key("dot", "on a workable fish", WORKABLE),
            Key("dot", "on a stubborn fish", STUBBORN),
            *([Key("line", "fish still in the hole (Kaplan-Meier)", CURVE)] if timed else []),
            *([Key("line", "share of jobs recovered", SHARE)] if timed else []),
        ]
    )
    middle = 0.56 * sheet.width
    top, bottom = sheet.top - 4.0, sheet.bottom + 9.0
    left = sheet.panel(left=EDGE + NAMES, right=middle, bottom=bottom, top=top)
    _kinds(sheet, left, kinds, fish)
    half = bottom + 0.5 * (top - bottom)
    right = sheet.width - EDGE - 2.0
    upper = sheet.panel(left=middle + 16.0, right=right, bottom=half + 8.0, top=top)
    _curve(upper, tables.time_rows(found))
    lower = sheet.panel(left=middle + 16.0, right=right, bottom=bottom, top=half - 6.0)
    _hazard(lower, tables.run_rows(found))
    for panel, words in (
        (left, "chance that a run recovers the fish"),
        (upper, "hours from the start of the first run"),
        (lower, "number of the run"),
    ):
        room = panel.box.right - panel.box.left
        x, y = 0.5 * (panel.box.left + panel.box.right), panel.box.bottom - 8.0
        grey = theme.MUTED
        sheet.write(words, x, y, most=room, size=theme.SMALL, colour=grey, align="center")
    return sheet


def _kinds(sheet: Sheet, panel: Panel, kinds: list[Row], fish: list[Row]) -> None:
    axes = panel.axes
    panel.across(0.0, 1.0)
    panel.upward(len(kinds) + 0.0, 0.0)
    ticks(panel, x=14.0, y=14.0)
    axes.set_yticks([])
    axes.grid(axis="x", color=theme.RULE, linewidth=theme.HAIR)
    for place, row in enumerate(kinds):
        level = place + 0.36
        ends = [row["pooled_low"], row["pooled_high"]]
        axes.plot(ends, [level, level], color=theme.FISHING, linewidth=theme.LINE, zorder=3)
        axes.plot([row["rate"]], [level], linestyle="none", clip_on=False, zorder=5, **RATE)
        axes.plot([row["pooled"]], [level], linestyle="none", clip_on=False, zorder=4, **POOLED)
        for number, each in enumerate(each for each in fish if each["of"] == row["kind"]):
            style = WORKABLE if each["fish"] == "workable" else STUBBORN
            below = place + 0.60 + 0.18 * number
            line = {"color": style["color"], "linewidth": 0.9, "zorder": 3}
            axes.plot([each["low"], each["high"]], [below, below], **line)
            axes.plot([each["mean"]], [below], linestyle="none", clip_on=False, zorder=4, **style)
        _, y = panel.place(0.0, level)
        sheet.write(row["kind"], EDGE, y - 0.6, most=NAMES - 2.0, size=theme.SMALL)
        words = f"{row['recovered']} of {row['runs']} runs"
        grey = theme.MUTED
        sheet.write(words, EDGE, y - 3.9, most=NAMES - 2.0, size=theme.SMALL, colour=grey)


def _curve(panel: Panel, rows: list[Row]) -> None:
    axes = panel.axes
    panel.title_above("Fish still in the hole")
    panel.upward(0.0, 1.0)
    if not rows:
        panel.across(0.0, 1.0)
        axes.set_xticks([])
        axes.set_yticks([])
        x, y = panel.place(0.04, 0.5)
        room = panel.box.right - panel.box.left
        panel.sheet.write("No job has its times.", x, y, most=0.9 * room, size=theme.SMALL)
        return
    hours = [0.0, *(row["hours"] for row in rows)]
    panel.across(0.0, max(hours) * 1.02 or 1.0)
    ticks(panel, x=14.0, y=9.0)
    axes.plot(hours, [1.0, *(row["still_in"] for row in rows)], drawstyle="steps-post", **CURVE)
    shares = [0.0, *(row["share_recovered"] for row in rows)]
    axes.plot(hours, shares, drawstyle="steps-post", **SHARE)
    known = [row for row in rows if row["low"] == row["low"]]
    axes.fill_between(
        [row["hours"] for row in known],
        [row["low"] for row in known],
        [row["high"] for row in known],
        step="post",
        zorder=0.5,
        **BAND,
    )


def _hazard(panel: Panel, rows: list[Row]) -> None:
    rows = rows[:MOST_SHOWN]
    axes = panel.axes
    panel.title_above("Chance that this run recovers it")
    panel.across(0.4, max(row["run"] for row in rows) + 0.6)
    panel.upward(0.0, 1.0)
    ticks(panel, x=14.0, y=9.0)
    axes.set_xticks([row["run"] for row in rows], [str(row["run"]) for row in rows])
    for row in rows:
        ends = [row["wilson_low"], row["wilson_high"]]
        axes.plot([row["run"]] * 2, ends, color=theme.MUTED, linewidth=1.2)
        axes.plot([row["run"]], [row["rate"]], linestyle="none", clip_on=False, zorder=4, **RATE)
