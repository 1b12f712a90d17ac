"""Past jobs in one figure: odds by kind of run, by number of run, and time to recovery.

All chances are in percent, and each panel says what it shows.
"""

from __future__ import annotations

from typing import Any

from matplotlib.figure import Figure

from econ.records import RecordOdds
from econ.reports import theme
from econ.reports.figures.layout import EDGE, Key, Panel, Sheet, Size
from econ.reports.figures.output import drawing
from econ.reports.figures.scales import ticks
from econ.reports.records_text import headline
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


def records_figure(record_odds: RecordOdds, *, size: Size = "memo") -> Figure:
    """The figure of past jobs; its numbers are those of the tables `by_kind`, `by_run`,
    `kinds_of_fish` and `time_to_recovery`.

    >>> import econ
    >>> past = econ.odds(econ.read_records("scenarios/records/invented_jobs.csv"))
    >>> len(records_figure(past).axes) > 1
    True
    """
    with drawing():
        return _drawn(record_odds, size).figure


def records_in_words(record_odds: RecordOdds) -> str:
    """The figure in plain words, for who cannot see it.

    >>> import econ
    >>> past = econ.odds(econ.read_records("scenarios/records/invented_jobs.csv"))
    >>> records_in_words(past)[:40]
    'First run 38 %, second 24 %, third 16 %;'
    """
    kinds = "; ".join(
        f"{row['kind']} {100 * row['pooled']:.0f} % ({100 * row['pooled_low']:.0f} to "
        f"{100 * row['pooled_high']:.0f}, {row['recovered']} of {row['runs']} runs)"
        for row in tables.kind_rows(record_odds)
    )
    fish = "; ".join(
        f"{row['of']} on a {row['fish']} fish {100 * row['mean']:.0f} %"
        for row in tables.fish_rows(record_odds)[1:]
    )
    runs = "; ".join(
        f"run {row['run']} {100 * row['rate']:.0f} % counted, {100 * row['handed_out']:.0f} % by "
        "the odds"
        for row in tables.run_rows(record_odds)
    )
    return (
        f"{headline(record_odds)} Chance to recover the fish by number of run: {runs}. By kind of "
        f"run, on all fish: {kinds}. By kind of fish: {fish}."
    )


def _drawn(record_odds: RecordOdds, size: Size) -> Sheet:
    kinds, fish = tables.kind_rows(record_odds), tables.fish_rows(record_odds)[1:]
    sheet = Sheet(
        size,
        height=max(112.0, 46.0 + ROW * len(kinds)),
        heading="Odds from past jobs",
        finding=headline(record_odds),
        source="Bars and band: 95 % intervals. "
        f"{len(record_odds.records.names)} jobs, {len(record_odds.records.job)} runs of "
        f"{record_odds.records.file}",
    )
    timed = bool(tables.time_rows(record_odds))
    sheet.key(
        [
            Key("dot", "counted", RATE),
            Key("dot", "by the odds, on all fish", POOLED),
            Key("dot", "on a workable fish", WORKABLE),
            Key("dot", "on a stubborn fish", STUBBORN),
            *([Key("line", "fish still in, if nothing were lost", CURVE)] if timed else []),
            *([Key("line", "jobs with the fish out", SHARE)] if timed else []),
        ]
    )
    middle = 0.56 * sheet.width
    top, bottom = sheet.top - 4.0, sheet.bottom + 9.0
    left = sheet.panel(left=EDGE + NAMES, right=middle, bottom=bottom, top=top)
    _kinds(sheet, left, kinds, fish)
    half = bottom + 0.5 * (top - bottom)
    right = sheet.width - EDGE - 2.0
    upper = sheet.panel(left=middle + 16.0, right=right, bottom=half + 8.0, top=top)
    _by_run(upper, tables.run_rows(record_odds))
    lower = sheet.panel(left=middle + 16.0, right=right, bottom=bottom, top=half - 6.0)
    _curve(lower, tables.time_rows(record_odds))
    for panel, words in (
        (left, "chance that a run brings the fish, in percent"),
        (upper, "number of the run"),
        (lower, "hours from the start of the first run"),
    ):
        room = panel.box.right - panel.box.left
        x, y = 0.5 * (panel.box.left + panel.box.right), panel.box.bottom - 8.0
        grey = theme.MUTED
        sheet.write(words, x, y, most=room, size=theme.SMALL, colour=grey, align="center")
    return sheet


def _kinds(sheet: Sheet, panel: Panel, kinds: list[Row], fish: list[Row]) -> None:
    axes = panel.axes
    panel.title_above("By kind of run, all its runs together")
    panel.across(0.0, 100.0)
    panel.upward(len(kinds) + 0.0, 0.0)
    ticks(panel, x=14.0, y=14.0)
    axes.set_yticks([])
    axes.grid(axis="x", color=theme.RULE, linewidth=theme.HAIR)
    for place, row in enumerate(kinds):
        level = place + 0.36
        ends = [100 * row["pooled_low"], 100 * row["pooled_high"]]
        axes.plot(ends, [level, level], color=theme.FISHING, linewidth=theme.LINE, zorder=3)
        axes.plot([100 * row["rate"]], [level], linestyle="none", clip_on=False, zorder=5, **RATE)
        pooled = [100 * row["pooled"]]
        axes.plot(pooled, [level], linestyle="none", clip_on=False, zorder=4, **POOLED)
        for number, each in enumerate(each for each in fish if each["of"] == row["kind"]):
            style = WORKABLE if each["fish"] == "workable" else STUBBORN
            below = place + 0.60 + 0.18 * number
            line = {"color": style["color"], "linewidth": 0.9, "zorder": 3}
            axes.plot([100 * each["low"], 100 * each["high"]], [below, below], **line)
            axes.plot(
                [100 * each["mean"]], [below], linestyle="none", clip_on=False, zorder=4, **style
            )
        _, y = panel.place(0.0, level)
        sheet.write(row["kind"], EDGE, y - 0.6, most=NAMES - 2.0, size=theme.SMALL)
        words = f"{row['recovered']} of {row['runs']} runs"
        grey = theme.MUTED
        sheet.write(words, EDGE, y - 3.9, most=NAMES - 2.0, size=theme.SMALL, colour=grey)


def _curve(panel: Panel, rows: list[Row]) -> None:
    axes = panel.axes
    panel.title_above("By hours, in percent of fish and of jobs")
    panel.upward(0.0, 100.0)
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
    axes.plot(
        hours, [100.0, *(100 * row["still_in"] for row in rows)], drawstyle="steps-post", **CURVE
    )
    shares = [0.0, *(100 * row["share_recovered"] for row in rows)]
    axes.plot(hours, shares, drawstyle="steps-post", **SHARE)
    known = [row for row in rows if row["low"] == row["low"]]
    axes.fill_between(
        [row["hours"] for row in known],
        [100 * row["low"] for row in known],
        [100 * row["high"] for row in known],
        step="post",
        zorder=0.5,
        **BAND,
    )


def _by_run(panel: Panel, rows: list[Row]) -> None:
    rows = rows[:MOST_SHOWN]
    axes = panel.axes
    panel.title_above("By number of run, in percent")
    panel.across(0.4, max(row["run"] for row in rows) + 0.6)
    panel.upward(0.0, 100.0)
    ticks(panel, x=14.0, y=9.0)
    axes.set_xticks([row["run"] for row in rows], [str(row["run"]) for row in rows])
    for row in rows:
        ends = [100 * row["wilson_low"], 100 * row["wilson_high"]]
        axes.plot([row["run"]] * 2, ends, color=theme.MUTED, linewidth=1.2)
        for name, order, style in (("handed_out", 4, POOLED), ("rate", 5, RATE)):
            value = [100 * row[name]]
            axes.plot([row["run"]], value, linestyle="none", clip_on=False, zorder=order, **style)
