"""What each input does to the cost and to the best limit, and the best limit over two of them."""

from __future__ import annotations

from typing import Any

from matplotlib.colors import to_hex
from matplotlib.patches import Rectangle

from econ.decision import Answer
from econ.reports import theme
from econ.reports.amounts import number
from econ.reports.figures.layout import EDGE, Key, Panel, Sheet, Size, step
from econ.reports.figures.scales import Scale, no_ticks, source_line, ticks
from econ.reports.tables.figures import Basis
from econ.reports.tables.plain import Row
from econ.reports.words import runs

ROW = 5.4  # height of an input [mm]
LISTED = {
    "memo": 10,
    "strip": 10,
    "page": 12,
}  # inputs of the file that are shown, the largest swings
NAMES, VALUES, LIMITS = 46.0, 31.0, 30.0  # columns [mm]
BASES = {
    Basis.RANGE: "Your ranges, from P10 to P90",
    Basis.STEP: "Main drivers, by fixed steps and not by ranges of yours",
}
LOW: dict[str, Any] = {
    "facecolor": theme.PAPER,
    "edgecolor": theme.MUTED,
    "hatch": "/////",
    "linewidth": 0.8,
}
HIGH: dict[str, Any] = {"facecolor": theme.MUTED, "edgecolor": theme.MUTED, "linewidth": 0.8}
LOW_DOT: dict[str, Any] = {
    "color": theme.INK,
    "marker": "o",
    "markersize": 6.5,
    "markerfacecolor": theme.PAPER,
    "markeredgecolor": theme.INK,
    "markeredgewidth": 1.1,
}
HIGH_DOT: dict[str, Any] = {"marker": "o", "markersize": 3.6, "color": theme.INK}
PURE = ("fraction", "factor", "ratio", "count")  # units that are not written behind a value
LIGHTEST = 0.15  # share of the colour of fishing in the colour of a limit
UNREADABLE = 0.62, 0.72  # shares between which neither ink nor paper has a contrast of 4.5
CELL = 9.0  # height of a cell of the map [mm]


def draw_swings(answer: Answer, rows: list[Row], size: Size) -> Sheet:
    """Swings on the cost and, beside them, on the best limit."""
    money = Scale(answer)
    lines = _lines(rows, size)
    sheet = Sheet(
        size,
        height=50.0 + ROW * max(len(lines), 1),
        heading=f"What each input does to the cost ({money.unit}) and to the best limit",
        finding=_swing_words(rows, money),
        source=source_line(answer),
    )
    sheet.key(
        [
            Key("bar", "at the low end", LOW),
            Key("bar", "at the high end", HIGH),
            Key("dot", "best limit at the low end", LOW_DOT),
            Key("dot", "best limit at the high end", HIGH_DOT),
        ]
    )
    if not lines:
        return sheet
    sheet.bottom += step(theme.SMALL) + 1.0
    bars, dots = _swing_panels(sheet, rows, money, len(lines))
    for place, line in enumerate(lines):
        low = bars.place(0.0, float(place))[1] - 0.5 * step(theme.SMALL)
        if isinstance(line, str):
            sheet.write(
                line,
                EDGE,
                low,
                most=sheet.inner,
                size=theme.SMALL,
                weight="bold",
                colour=theme.MUTED,
            )
            continue
        sheet.write(line["words"], EDGE, low, most=NAMES - 2.0, size=theme.SMALL)
        sheet.write(
            f"{_value(line, 'low')} to {_value(line, 'high')}{_unit(line)}",
            EDGE + NAMES,
            low,
            most=VALUES - 2.0,
            size=theme.SMALL,
            colour=theme.MUTED,
        )
        for end, style, aside in (("low", LOW, -0.18), ("high", HIGH, 0.18)):
            change = money.of(line[f"{end}_change"])
            bars.axes.barh(place + aside, change, height=0.32, zorder=2, **style)
        _limit_dots(dots, place, line)
    return sheet


def draw_map(answer: Answer, rows: list[Row], size: Size) -> Sheet:
    """Map of the best limit over two drivers."""
    down = list(dict.fromkeys(row["row_value"] for row in rows))
    sheet = Sheet(
        size,
        height=44.0 + CELL * max(len(down), 1),
        heading="Best limit in runs, as two inputs change",
        finding=_map_words(rows),
        source=source_line(answer),
    )
    if not rows:
        return sheet
    across = list(dict.fromkeys(row["column_value"] for row in rows))
    first, most = rows[0], max(row["runs"] for row in rows)
    entries = [
        Key("bar", runs(count) if count else "0: stop now", _cell(shade(count, most=most)))
        for count in sorted({0, 1, most} & {row["runs"] for row in rows})
    ]
    sheet.key(
        [*entries, Key("bar", "as it stands", {**_cell(theme.PAPER), "edgecolor": theme.INK})]
    )
    names = 16.0
    sheet.bottom += 2.0 * step(theme.SMALL)
    sheet.write(
        f"across: {first['column_driver']}",
        EDGE + names,
        sheet.bottom - 2.0 * step(theme.SMALL),
        most=sheet.inner - names,
        size=theme.SMALL,
        colour=theme.MUTED,
    )
    sheet.top -= step(theme.SMALL)
    panel = sheet.panel(
        left=EDGE + names, right=sheet.width - EDGE, bottom=sheet.bottom, top=sheet.top
    )
    sheet.write(
        f"down: {first['row_driver']}",
        EDGE,
        sheet.top + 0.5,
        most=sheet.inner,
        size=theme.SMALL,
        colour=theme.MUTED,
    )
    panel.across(-0.5, len(across) - 0.5)
    panel.upward(len(down) - 0.5, -0.5)
    no_ticks(panel, x=True, y=True)
    for side in ("left", "bottom"):
        panel.axes.spines[side].set_visible(False)
    _cells(sheet, panel, rows, (down, across))
    return sheet


def _cell(colour: str) -> dict[str, Any]:
    return {"facecolor": colour, "edgecolor": theme.PAPER}


def _cells(
    sheet: Sheet, panel: Panel, rows: list[Row], values: tuple[list[float], list[float]]
) -> None:
    down, across = values
    most = max(row["runs"] for row in rows)
    for row in rows:
        i, j = down.index(row["row_value"]), across.index(row["column_value"])
        colour = shade(row["runs"], most=most)
        panel.axes.add_patch(
            Rectangle((j - 0.5, i - 0.5), 1, 1, facecolor=colour, edgecolor=theme.PAPER)
        )
        if row["here"]:
            inner = Rectangle((j - 0.46, i - 0.44), 0.92, 0.88, facecolor="none", zorder=3)
            inner.set(edgecolor=theme.INK if readable(colour) == theme.INK else theme.PAPER)
            inner.set(linewidth=2.0)
            panel.axes.add_patch(inner)
        x, y = panel.place(float(j), float(i))
        words = str(row["runs"]) + ("" if row["resolved"] else "?")
        colour = readable(colour)
        low = y - 0.5 * step(theme.TEXT)
        sheet.write(words, x, low, most=12.0, align="center", colour=colour)
    for i, value in enumerate(down):
        _, y = panel.place(-0.5, float(i))
        words = setting(value, factor=rows[0]["row_factor"])
        low = y - 0.5 * step(theme.SMALL)
        sheet.write(words, panel.box.left - 2.0, low, most=14.0, size=theme.SMALL, align="right")
    for j, value in enumerate(across):
        x, _ = panel.place(float(j), 0.0)
        words = setting(value, factor=rows[0]["column_factor"])
        low = panel.box.bottom - step(theme.SMALL) - 0.3
        sheet.write(words, x, low, most=14.0, size=theme.SMALL, align="center")


def shade(count: int, *, most: int) -> str:
    """Colour of a limit of `count` runs where `most` is the largest: from light to dark."""
    if count == 0:
        return theme.FALLBACK_TINT
    share = LIGHTEST + (1.0 - LIGHTEST) * (count / most) ** 1.3
    light, dark = UNREADABLE
    if share > light:
        share = dark + (1.0 - dark) * (share - light) / (1.0 - light)
    paper, full = (
        [int(colour[start : start + 2], 16) / 255.0 for start in (1, 3, 5)]
        for colour in (theme.PAPER, theme.FISHING)
    )
    red, green, blue = (a + share * (b - a) for a, b in zip(paper, full, strict=True))
    return to_hex((red, green, blue))


def readable(colour: str) -> str:
    """Ink or paper, whichever reads better on a colour."""
    return max((theme.INK, theme.PAPER), key=lambda words: theme.contrast(words, colour))


def setting(value: float, *, factor: bool) -> str:
    """A value of a driver in words.

    >>> setting(0.75, factor=True), setting(0.75, factor=False)
    ('x0.75', '0.75')
    """
    return f"x{value:.2f}" if factor else f"{value:.2f}"


def _lines(rows: list[Row], size: Size) -> list[Row | str]:
    """What is listed, each basis under its heading; the smallest of the file are left out."""
    found: list[Row | str] = []
    for basis, heading in BASES.items():
        mine = [row for row in rows if row["basis"] == basis]
        listed = mine[: LISTED[size]] if basis == Basis.RANGE else mine
        if listed:
            rest = len(mine) - len(listed)
            more = f"; {rest} smaller ones are in the table" if rest else ""
            found += [heading + more, *listed]
    return found


def _swing_panels(sheet: Sheet, rows: list[Row], money: Scale, count: int) -> tuple[Panel, Panel]:
    left, right = EDGE + NAMES + VALUES, sheet.width - EDGE - 1.0
    split = right - LIMITS * (1.6 if sheet.size == "page" else 1.0)
    box = {"bottom": sheet.bottom, "top": sheet.top - step(theme.SMALL)}
    bars = sheet.panel(left=left, right=split - 8.0, **box)
    dots = sheet.panel(left=split, right=right, **box)
    ends = [money.of(row[f"{end}_change"]) for row in rows for end in ("low", "high")]
    reach = 1.05 * max(*(abs(each) for each in ends), 1e-9)
    bars.across(-reach, reach)
    limits = [row[f"{end}_runs"] for row in rows for end in ("low", "high")]
    limits.append(rows[0]["runs"])
    dots.across(min(limits) - 0.7, max(limits) + 0.7)
    for panel in (bars, dots):
        panel.upward(count - 0.5, -0.5)
        ticks(panel, x=17.0, y=11.0)
        no_ticks(panel, y=True)
        panel.axes.spines["left"].set_visible(False)
        panel.axes.grid(axis="x", color=theme.RULE, linewidth=theme.HAIR)
    every = max(1, (max(limits) - min(limits)) // 6)
    dots.axes.set_xticks(range(min(limits), max(limits) + 1, every))
    bars.axes.axvline(0.0, color=theme.INK, linewidth=theme.HAIR)
    dots.axes.axvline(rows[0]["runs"], color=theme.FLAT, linewidth=6.0, zorder=0.5)
    bars.title_above("change of the cost, limit kept")
    dots.title_above("best limit (runs)")
    return bars, dots


def _limit_dots(panel: Panel, place: int, row: Row) -> None:
    low, high = row["low_runs"], row["high_runs"]
    sure = row["low_runs_resolved"] or row["high_runs_resolved"]
    style = "-" if sure else (0, (1, 1.5))  # dotted: within the error
    panel.axes.plot([low, high], [place, place], color=theme.INK, linestyle=style, zorder=2)
    panel.axes.plot([low], [place], zorder=3, **LOW_DOT)
    panel.axes.plot([high], [place], zorder=4, **HIGH_DOT)


def _value(row: Row, end: str) -> str:
    value = row[f"{end}_value"]
    if row["unit"] in PURE:
        return setting(value, factor=row["unit"] == "factor")
    return number(value)


def _unit(row: Row) -> str:
    """The unit behind a value; money and pure numbers need none."""
    unit = str(row["unit"])
    if unit in PURE or unit == "currency":
        return ""
    return unit.removeprefix("currency") if unit.startswith("currency") else f" {unit}"


def _swing_words(rows: list[Row], money: Scale) -> str:
    def size(row: Row) -> float:
        return float(max(abs(row["low_change"]), abs(row["high_change"])))

    if not rows:
        return "Nothing to turn."
    mine = [row for row in rows if row["basis"] == Basis.RANGE] or rows
    first = max(mine, key=size)
    moving = [row for row in mine if row["low_runs_resolved"] or row["high_runs_resolved"]]
    count = f"{len(moving)} of {len(mine)}"
    move = "moves" if len(moving) == 1 else "move"
    return (
        f"{count} {move} the best limit of {runs(first['runs'])}. "
        f"Most on the cost, up to {money.short(size(first))}: {first['words']}"
    )


def _map_words(rows: list[Row]) -> str:
    if not rows:
        return "No run is listed: there is no limit to map."
    here = next(row for row in rows if row["here"])
    unsure = sum(1 for row in rows if not row["resolved"])
    words = f"As it stands: {runs(here['runs'])}."
    return f"{words} ?: another limit comes within the error." if unsure else words
