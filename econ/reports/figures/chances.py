"""Belief and odds before each run, against the odds at which the run just pays by itself."""

from __future__ import annotations

import math
from typing import Any

from econ.decision import Answer
from econ.reports import theme
from econ.reports.figures.layout import EDGE, Key, Panel, Sheet, Size, step
from econ.reports.figures.scales import no_ticks, source_line, ticks
from econ.reports.names import one_line
from econ.reports.sentences import break_even, odds_against
from econ.reports.tables.plain import Row
from econ.reports.words import runs

LEFT = 16.0  # of the panel, where numbers stand [mm]
COLUMN = 10.0  # width that the numbers of a run take [mm]
BELIEF: dict[str, Any] = {"color": theme.MUTED, "linewidth": 1.1, "markersize": 3.5}
MARKERS = "sD^v"  # of the doubts, in their order
ODDS: dict[str, Any] = {"color": theme.FISHING, "marker": "o", "markersize": 6.0}
NEED: dict[str, Any] = {"color": theme.INK, "linewidth": 2.2}
PAYS: dict[str, Any] = {"color": theme.RECOVERED, "linewidth": 3.2}
DOES_NOT: dict[str, Any] = {"color": theme.FALLBACK, "linewidth": 1.4, "linestyle": (0, (2, 1))}


def draw_belief(answer: Answer, rows: list[Row], size: Size) -> Sheet:
    """Odds of each run against its break-even odds, and the belief in each doubt."""
    sheet = Sheet(
        size,
        height=98.0 if rows else 30.0,
        heading="Odds of each run against the odds it needs, if all before it fail",
        finding=_finding(rows),
        source=source_line(answer),
    )
    if not rows:
        return sheet
    paying = [row["pays_by_itself"] for row in rows]
    held = _beliefs(rows)
    sheet.key(
        [
            Key("dot", "odds that the run recovers the fish", ODDS),
            Key("line", "odds it needs to pay by itself", NEED),
            *([Key("line", "more than it needs", PAYS)] if any(paying) else []),
            *([Key("line", "less than it needs", DOES_NOT)] if not all(paying) else []),
            *(Key("line", words, style) for words, _, style in held),
        ]
    )
    right = sheet.width - EDGE - 2.0
    _strip(sheet, rows, right)
    panel = sheet.panel(left=LEFT, right=right, bottom=sheet.bottom, top=sheet.top)
    panel.across(0.5, len(rows) + 0.5)
    panel.upward(0.0, 1.0)
    ticks(panel, x=18.0, y=11.0)
    no_ticks(panel, x=True)
    for place, row in enumerate(rows, start=1):
        _run(panel, place, row)
    axes = panel.axes
    places = list(range(1, len(rows) + 1))
    for _, column, style in held:
        axes.plot(places, [row[column] for row in rows], zorder=2, clip_on=False, **style)
    odds = [row["odds"] for row in rows]
    axes.plot(places, odds, linestyle="none", zorder=4, clip_on=False, **ODDS)
    return sheet


def _beliefs(rows: list[Row]) -> list[tuple[str, str, dict[str, Any]]]:
    """Words, column and line of each doubt; of the kind of fish where there is no more than one."""
    several = [column for column in rows[0] if column.startswith("belief_")]
    if not several:
        return [("belief that the fish is workable", "workable", BELIEF | {"marker": MARKERS[0]})]
    return [
        (f"belief in {one_line(column[7:])}", column, BELIEF | {"marker": marker})
        for column, marker in zip(several, MARKERS, strict=False)
    ]


def _run(panel: Panel, place: int, row: Row) -> None:
    """The stem between the odds of a run and those it needs; an arrow where no odds suffice."""
    axes = panel.axes
    need = row["break_even_odds"]
    never = need is None or need > 1
    level = 1.0 if never else max(need, 0.0)
    style = PAYS if row["pays_by_itself"] else DOES_NOT
    axes.plot([place, place], [level, row["odds"]], zorder=3, clip_on=False, **style)
    if never:
        axes.plot([place], [level], marker="^", color=theme.INK, markersize=6.0, clip_on=False)
    else:
        wide = panel.box.right - panel.box.left
        reach = panel.axes.get_xlim()
        half = min(0.25, 4.0 * (reach[1] - reach[0]) / wide)  # at most 4 mm
        axes.plot([place - half, place + half], [level, level], zorder=3.5, clip_on=False, **NEED)


def _strip(sheet: Sheet, rows: list[Row], right: float) -> None:
    """The numbers of each run under it; of some of them where the runs are many."""
    each = (right - LEFT) / len(rows)
    every = max(1, math.ceil(COLUMN / each))
    held = [(column, words) for words, column, _ in _beliefs(rows)]
    lines = {
        **{
            "belief" if len(held) == 1 else words.removeprefix("belief in "): [
                f"{row[column]:.2f}" for row in rows
            ]
            for column, words in reversed(held)
        },
        "needs": [break_even(row["break_even_odds"]) for row in rows],
        "odds": [f"{row['odds']:.2f}" for row in rows],
        "run": [str(row["run"]) for row in rows],
    }
    for name, numbers in lines.items():
        sheet.write(
            name,
            EDGE,
            sheet.bottom,
            most=LEFT - EDGE - 1.0,
            size=theme.SMALL,
            colour=theme.MUTED,
        )
        for place in range(0, len(rows), every):
            x = LEFT + (place + 0.5) * each
            most = every * each
            sheet.write(
                numbers[place], x, sheet.bottom, most=most, size=theme.SMALL, align="center"
            )
        sheet.bottom += step(theme.SMALL)
    sheet.bottom += 1.5


def _finding(rows: list[Row]) -> str:
    if not rows:
        return "No run is left to make."
    first = rows[0]
    paying = sum(1 for row in rows if row["pays_by_itself"])
    pay = "1 pays by itself" if paying == 1 else f"{paying or 'none'} pay by themselves"
    return (
        f"Next run: odds {odds_against(first['odds'], first['break_even_odds'])}. "
        f"Of {runs(len(rows))} listed, {pay}."
    )
