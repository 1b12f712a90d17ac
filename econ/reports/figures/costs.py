"""Cost by cause, and the distribution of the total with the fish out and with a fallback."""

from __future__ import annotations

from typing import Any

from econ.decision import Answer
from econ.reports import sentences, theme
from econ.reports.figures.layout import EDGE, Key, Sheet, Size, step
from econ.reports.figures.scales import (
    PERCENTILES,
    Mark,
    Scale,
    lanes,
    no_ticks,
    source_line,
    ticks,
)
from econ.reports.tables.plain import Row
from econ.reports.words import runs

NAMES = 62.0  # column of names [mm]
COLUMN = 18.0  # column of values [mm]
ROW = 6.6  # height of a bar with its gap [mm]
LEFT = 16.0
PHASES: dict[str, tuple[str, dict[str, Any]]] = {
    "common": ("before the decision", {"facecolor": theme.MUTED}),
    "fishing": ("while fishing", {"facecolor": theme.FISHING}),
    "recovered": ("if the fish is out", {"facecolor": theme.RECOVERED}),
    "fallback": (
        "if a fallback is taken",
        {"facecolor": theme.FALLBACK, "hatch": "///", "edgecolor": theme.PAPER},
    ),
}
NOW: dict[str, Any] = {"color": theme.INK, "linewidth": 1.8}
OUT = PHASES["recovered"][1]
BACK = PHASES["fallback"][1]


def draw_causes(answer: Answer, rows: list[Row], size: Size) -> Sheet:
    """What the expected cost at the best limit is made of."""
    money = Scale(answer)
    sheet = Sheet(
        size,
        height=46.0 + ROW * max(len(rows), 1),
        heading=f"What the expected cost is made of ({money.unit})",
        finding=_cause_words(answer, rows, money),
        source=source_line(answer, "Means over all outcomes, each with its chance"),
    )
    phases = [phase for phase in PHASES if any(row["phase"] == phase for row in rows)]
    entries = [Key("bar", PHASES[phase][0], PHASES[phase][1]) for phase in phases]
    if answer.best > 0:
        entries.append(Key("tick", "the same if fishing stops now", NOW))
    sheet.key(entries)
    last = sheet.width - EDGE if answer.best > 0 else sheet.width - EDGE + COLUMN
    left, right = EDGE + NAMES, last - 2 * COLUMN
    sheet.top -= step(theme.SMALL)
    heads = (f"at {runs(answer.best)}", last - COLUMN), ("stop now", last)
    for words, x in heads[: 2 if answer.best > 0 else 0]:
        sheet.write(
            words,
            x,
            sheet.top + 0.5,
            most=COLUMN - 1.0,
            size=theme.SMALL,
            colour=theme.MUTED,
            align="right",
        )
    sheet.bottom += step(theme.SMALL)
    panel = sheet.panel(left=left, right=right, bottom=sheet.bottom + 1.0, top=sheet.top)
    most = max([*(max(row["expected"], row["stopping_now"]) for row in rows), 1e-9])
    panel.across(0.0, money.of(most))
    panel.upward(max(len(rows), 1) - 0.5, -0.5)
    ticks(panel, x=13.0, y=11.0)
    no_ticks(panel, y=True)
    panel.axes.grid(axis="x", color=theme.RULE, linewidth=theme.HAIR)
    for place, row in enumerate(rows):
        value, now = money.of(row["expected"]), money.of(row["stopping_now"])
        style = PHASES[row["phase"]][1]
        panel.axes.barh(place, value, height=0.62, linewidth=0, zorder=2, **style)
        if answer.best > 0:
            panel.axes.vlines(now, place - 0.4, place + 0.4, zorder=3, clip_on=False, **NOW)
        _, y = panel.place(0.0, float(place))
        low = y - 0.5 * step(theme.TEXT)
        sheet.write(row["cause"], left - 2.0, low, most=NAMES - 2.0, align="right")
        for key, x in (("expected", last - COLUMN), ("stopping_now", last)):
            if x < last or answer.best > 0:
                sheet.write(money.short(row[key]), x, low, most=COLUMN - 1.5, align="right")
    return sheet


def draw_distribution(answer: Answer, rows: list[Row], size: Size) -> Sheet:
    """Chance of each total, stacked by how the job ends, and what to hold it against."""
    money = Scale(answer)
    limit, now = answer.limit, answer.by_runs[0]
    sheet = Sheet(
        size,
        height=112.0,
        heading=f"What the job may cost in total at the best limit ({money.unit})",
        finding=_ends_words(answer, money),
        source=source_line(answer, PERCENTILES),
    )
    out, back = (any(row[key] > 0 for row in rows) for key in ("recovered", "fallback"))
    sheet.key(
        [
            *([Key("bar", "ends with the fish out", OUT)] if out else []),
            *([Key("bar", "ends with a fallback", BACK)] if back else []),
            Key("dot", "percentile", {"marker": "D", "markersize": 5.5, "color": theme.FISHING}),
            Key("dot", "mean", {"marker": "o", "markersize": 5.5, "color": theme.INK}),
        ]
    )
    bars, beyond = rows[:-1], rows[-1]
    across = money.of(bars[0]["from"]), money.of(bars[-1]["to"])
    marks = [
        Mark(f"{words}: {money.short(value)}", money.of(value), colour, marker)
        for words, value, colour, marker in (
            ("P10", limit.p10, theme.FISHING, "D"),
            ("P50", limit.p50, theme.FISHING, "D"),
            ("P90", limit.p90, theme.FISHING, "D"),
            ("Mean", limit.expected_cost, theme.INK, "o"),
        )
    ]
    if answer.best > 0:
        mean = now.expected_cost
        words = f"Stopping now, mean: {money.short(mean)}"
        marks.append(Mark(words, money.of(mean), theme.FALLBACK, "o"))
    given = answer.authority.given
    if given is not None:
        marks.append(Mark(f"Authority: {money.short(given)}", money.of(given), theme.INK, "|"))
    right = sheet.width - EDGE - 4.0
    lanes(sheet, marks, left=LEFT, right=right, across=across)
    panel = sheet.panel(
        left=LEFT, right=right, bottom=sheet.bottom + 4.5, top=sheet.top - step(theme.SMALL)
    )
    panel.across(*across)
    heights = [100.0 * (row["recovered"] + row["fallback"]) for row in bars]
    panel.upward(0.0, 1.08 * max(*heights, 1e-9))
    ticks(panel, x=18.0, y=10.0)
    starts = [money.of(row["from"]) for row in bars]
    wide = [money.of(row["to"]) - start for row, start in zip(bars, starts, strict=True)]
    lower = [100.0 * row["recovered"] for row in bars]
    upper = [100.0 * row["fallback"] for row in bars]
    shape: dict[str, Any] = {"width": [0.94 * each for each in wide], "align": "edge"}
    panel.axes.bar(starts, lower, linewidth=0, zorder=2, **shape, **OUT)
    panel.axes.bar(starts, upper, bottom=lower, linewidth=0, zorder=2, **shape, **BACK)
    above = 100.0 * (beyond["recovered"] + beyond["fallback"])
    panel.title_above(
        f"Chance of each bar (%), bars of {money.short(bars[0]['to'] - bars[0]['from'])}; "
        f"{above:.1f} % lies beyond the axis"
    )
    return sheet


def _cause_words(answer: Answer, rows: list[Row], money: Scale) -> str:
    total = money.short(answer.limit.expected_cost)
    where = f"At {runs(answer.best)}" if answer.best else "Stopping now"
    if not answer.limit.expected_cost > 0:
        return f"{where}: {total}."
    first = max(rows, key=lambda row: float(row["expected"]))
    return (
        f"{where} the parts sum to {total}; the largest is "
        f"{first['cause'].lower()}, {money.short(first['expected'])}."
    )


def _ends_words(answer: Answer, money: Scale) -> str:
    return f"At {runs(answer.best)}: {sentences.ends(answer, money)}."
