"""Daily reports in one figure: where the days went, fishing and its consequences apart."""

from __future__ import annotations

from typing import Any

from matplotlib.figure import Figure

from econ.records.daily_reports import DailyReports
from econ.reports import theme
from econ.reports.figures.layout import EDGE, Key, Panel, Sheet, Size
from econ.reports.figures.output import drawing
from econ.reports.figures.scales import days_words, no_ticks, ticks
from econ.reports.tables import daily as tables
from econ.reports.tables.plain import Row

NAMES = 46.0  # width that the sorts of work take [mm]
AMOUNTS = 16.0  # width of the days at the end of a bar [mm]
ROW = 5.6  # height of a bar with its gap [mm]
PARTS: dict[str, tuple[str, dict[str, Any]]] = {
    "plan": ("by plan", {"facecolor": theme.RULE, "edgecolor": theme.MUTED, "linewidth": 0.4}),
    "fishing": (
        "from the first to the last hour of a fishing job",
        {"facecolor": theme.FISHING, "edgecolor": theme.FISHING, "linewidth": 0.4},
    ),
    "consequence": (
        "what it led to: plug, sidetrack, hole drilled again",
        {
            "facecolor": theme.FALLBACK_TINT,
            "edgecolor": theme.FALLBACK,
            "hatch": "////",
            "linewidth": 0.4,
        },
    ),
}


def daily_figure(daily: DailyReports, *, size: Size = "memo") -> Figure:
    """The figure of daily reports; its numbers are those of the table `time`.

    >>> import econ
    >>> len(daily_figure(econ.daily("scenarios/reports")).axes)
    1
    """
    with drawing():
        return _drawn(daily, size).figure


def daily_in_words(daily: DailyReports) -> str:
    """The figure in plain words, for who cannot see it.

    >>> import econ
    >>> daily_in_words(econ.daily("scenarios/reports"))[38:100]
    'Of 16.8 d, fishing jobs took 4.3 d, and what they led to 4.4 d'
    """
    said = "; ".join(
        f"{tables.SORT_WORDS[row['sort']]} {days_words(row['hours'] / 24)}" for row in _rows(daily)
    )
    return f"Where the days went by daily reports. {_finding(daily)} {said}."


def _rows(daily: DailyReports) -> list[Row]:
    return sorted(tables.time_rows(daily), key=lambda row: -float(row["hours"]))


def _finding(daily: DailyReports) -> str:
    rows = _rows(daily)
    fishing, after = (sum(row[part] for row in rows) / 24 for part in ("fishing", "consequence"))
    return (
        f"Of {days_words(daily.hours / 24)}, fishing jobs took {days_words(fishing)}, and what "
        f"they led to {days_words(after)}."
    )


def _drawn(daily: DailyReports, size: Size) -> Sheet:
    rows = _rows(daily)
    sheet = Sheet(
        size,
        height=48.0 + ROW * len(rows),
        heading="Where the days went",
        finding=_finding(daily),
        source=f"{daily.reports} daily reports of {len(daily.wells)} wells",
    )
    sheet.key([Key("bar", words, style) for words, style in PARTS.values()])
    panel = sheet.panel(
        left=EDGE + NAMES,
        right=sheet.width - EDGE - AMOUNTS,
        bottom=sheet.bottom + 9.0,
        top=sheet.top - 2.0,
    )
    _bars(sheet, panel, rows)
    middle = 0.5 * (panel.box.left + panel.box.right)
    room = panel.box.right - panel.box.left
    y, grey = panel.box.bottom - 8.0, theme.MUTED
    sheet.write("days", middle, y, most=room, size=theme.SMALL, colour=grey, align="center")
    return sheet


def _bars(sheet: Sheet, panel: Panel, rows: list[Row]) -> None:
    most = max((row["hours"] / 24 for row in rows), default=1.0)
    panel.across(0.0, most or 1.0)
    panel.upward(len(rows) + 0.0 or 1.0, 0.0)
    ticks(panel, x=16.0, y=20.0)
    panel.axes.grid(axis="y", visible=False)
    panel.axes.grid(axis="x", color=theme.RULE, linewidth=theme.HAIR)
    no_ticks(panel, y=True)
    for place, row in enumerate(rows):
        start = 0.0
        for part, (_, style) in PARTS.items():
            days = row[part] / 24
            if days > 0:
                panel.axes.barh(place + 0.5, days, left=start, height=0.62, zorder=3, **style)
            start += days
        _, y = panel.place(0.0, place + 0.5)
        words = tables.SORT_WORDS[row["sort"]]
        sheet.write(words, EDGE, y - 1.5, most=NAMES - 2.0, size=theme.SMALL)
        x = panel.place(start, 0.0)[0] + 1.0
        sheet.write(days_words(start), x, y - 1.5, most=AMOUNTS, size=theme.SMALL)
