"""The sketch of the well: hole, casing shoe, fish and its pieces, kick-off and redrill.

Depths below the break are to scale; what lies between the shoe and the kick-off is cut out
where it is long.
"""

from __future__ import annotations

from typing import Literal

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from econ.reports import theme
from econ.reports.figures.lettering import cut
from econ.reports.tables.plain import Row

INCH = 25.4
HOLE, CASING, PIPE = 0.5, 0.62, 0.24  # half widths, of the width of a name column
SIDE = 1.9  # how far to the side the redrill goes
CAPTION = 7.8  # [pt]
LEAST_STEP = 0.062  # of the height, between two names


def sketch(row: Row, *, width: float, height: float) -> Figure:
    """Figure of a row of `econ.reports.tables.memo.sketch`; width and height [mm]."""
    figure = Figure(figsize=(width / INCH, height / INCH), dpi=200, facecolor=theme.PAPER)
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    axes.set_axis_off()
    depth, top = row["depth"], row["top"]
    first = min(top, row["kickoff"] if row["kickoff"] is not None else top)
    upper = max(row["shoe"], first - 0.45 * (depth - first))
    span = depth - upper
    broken = upper > row["shoe"]
    head = 0.16 * span  # drawn above `upper` for casing and break
    axes.set_xlim(-8.0, 12.8)
    axes.set_ylim(depth + 0.06 * span, upper - head - 0.05 * span)
    _hole(axes, row, upper, head, broken)
    names: list[tuple[float, str, str]] = [
        (
            upper - (0.75 * head if broken else 0.0),
            f"shoe {row['shoe']:,.0f} {row['unit']}",
            theme.INK,
        ),
        (depth, f"drilled to {depth:,.0f} {row['unit']}", theme.INK),
    ]
    if not row["out"]:
        _fish(axes, row)
        names.append((top, f"fish top {top:,.0f} {row['unit']}", theme.FISHING))
        if row["bottom"] < depth - 0.02 * span:
            names.append((row["bottom"], f"fish bottom {row['bottom']:,.0f}", theme.FISHING))
    if row["kickoff"] is not None:
        _redrill(axes, row, depth)
        names.append((row["kickoff"], f"kick-off {row['kickoff']:,.0f}", theme.FALLBACK))
    _left_names(axes, names, span + head, width)
    if not row["out"]:
        _piece_names(axes, row, span + head, width)
    return figure


def _hole(axes: Axes, row: Row, upper: float, head: float, broken: bool) -> None:
    """Walls of the hole, casing down to the shoe, and the break between."""
    depth = row["depth"]
    start = upper - (0.35 * head if broken else 0.0)
    for side in (-1, 1):
        axes.plot([side * HOLE] * 2, [start, depth], color=theme.MUTED, lw=1.0)
        shoe = upper - 0.75 * head if broken else upper
        axes.plot([side * CASING] * 2, [upper - head, shoe], color=theme.INK, lw=2.2)
        axes.fill(
            [side * CASING, side * (CASING + 0.32), side * CASING],
            [shoe - 0.12 * head, shoe, shoe],
            color=theme.INK,
            lw=0,
        )
        if broken:
            axes.plot([side * HOLE] * 2, [shoe, shoe + 0.12 * head], color=theme.MUTED, lw=1.0)
    axes.plot([-HOLE, HOLE], [depth, depth], color=theme.MUTED, lw=1.0)
    if broken:
        for step in (0.0, 0.09 * head):
            axes.plot(
                [-1.0, -0.33, 0.33, 1.0],
                [upper - 0.5 * head + step + d * head for d in (0.06, -0.06, 0.06, -0.06)],
                color=theme.MUTED,
                lw=0.8,
            )


def _fish(axes: Axes, row: Row) -> None:
    """The pieces, every second one hatched, so that a grey print tells them apart."""
    for number, piece in enumerate(row["pieces"]):
        axes.fill(
            [-PIPE, PIPE, PIPE, -PIPE],
            [piece["top"], piece["top"], piece["bottom"], piece["bottom"]],
            facecolor=theme.FISHING if number % 2 == 0 else theme.FISHING_TINT,
            edgecolor=theme.INK,
            hatch="" if number % 2 == 0 else "//",
            lw=0.6,
        )


def _redrill(axes: Axes, row: Row, depth: float) -> None:
    """The new hole beside the old one, from the kick-off to the same depth."""
    kickoff = row["kickoff"]
    share = [k / 20 for k in range(21)]
    for wall in (-0.32, 0.32):
        across = [HOLE + (SIDE - HOLE) * (1 - (1 - s) ** 2) + wall * s for s in share]
        axes.plot(
            across,
            [kickoff + s * (depth - kickoff) for s in share],
            color=theme.FALLBACK,
            lw=1.2,
            ls=(0, (4, 2)),
        )


def _left_names(
    axes: Axes, names: list[tuple[float, str, str]], height: float, width: float
) -> None:
    """Names of the depths, moved apart where they would meet."""
    names = sorted(names)
    places = _apart([depth for depth, _, _ in names], LEAST_STEP * height, _lowest(axes, height))
    for at, (depth, words, colour) in zip(places, names, strict=True):
        axes.plot([-1.1, -0.66], [at, depth], color=colour, lw=0.6)
        _name(axes, -1.2, at, cut(words, most=0.335 * width, size=CAPTION), colour, "right")


def _piece_names(axes: Axes, row: Row, height: float, width: float) -> None:
    """Names of the pieces on the right, the longest ones where not all have room."""
    step, lowest = LEAST_STEP * height, _lowest(axes, height)
    room = max(1, int((lowest - row["top"] + 0.25 * height) / step))
    longest = sorted(row["pieces"], key=lambda piece: piece["top"] - piece["bottom"])[:room]
    pieces = sorted(longest, key=lambda each: float(each["top"]))
    middles = [0.5 * (piece["top"] + piece["bottom"]) for piece in pieces]
    for at, middle, piece in zip(_apart(middles, step, lowest), middles, pieces, strict=True):
        axes.plot([PIPE, 2.5], [middle, at], color=theme.RULE, lw=0.6, zorder=0)
        words = cut(piece["name"], most=0.49 * width, size=CAPTION)
        _name(axes, 2.55, at, words, theme.INK, "left")


def _lowest(axes: Axes, height: float) -> float:
    """How deep a name may stand without leaving the sketch."""
    return max(axes.get_ylim()) - 0.55 * LEAST_STEP * height


def _apart(depths: list[float], step: float, lowest: float) -> list[float]:
    """Rising depths moved apart to `step` at least, downward first and then up off the edge."""
    places: list[float] = []
    for depth in depths:
        places.append(max(depth, places[-1] + step) if places else depth)
    edge = lowest
    for k in reversed(range(len(places))):
        places[k] = min(places[k], edge)
        edge = places[k] - step
    return places


def _name(
    axes: Axes, x: float, y: float, words: str, colour: str, side: Literal["left", "right"]
) -> None:
    axes.text(
        x,
        y,
        words,
        ha=side,
        va="center",
        fontsize=CAPTION,
        color=colour,
        fontfamily=theme.TYPEFACE,
        parse_math=False,
    )


def sketch_words(row: Row) -> str:
    """The sketch in words, for whoever cannot see it."""
    unit = row["unit"]
    words = f"Well with casing shoe at {row['shoe']:,.0f} {unit}, drilled to {row['depth']:,.0f}"
    if not row["out"]:
        words += f"; fish from {row['top']:,.0f} to {row['bottom']:,.0f}"
    if row["kickoff"] is not None:
        words += f"; a sidetrack would leave at {row['kickoff']:,.0f}"
    return words + "."
