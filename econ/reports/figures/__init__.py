"""The figures of an answer, each laid out from its table in `econ.reports.tables.figures`.

    fig = figure(answer, "curve")            a matplotlib Figure of memo width
    alt_text(answer, "curve")                the same in plain words
    svg(fig), png(fig)                       bytes, the same for the same answer

Colours and sizes are those of `econ.reports.theme`; texts are in place and size fixed, so that
nothing overlaps whatever a scenario calls its runs.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

from matplotlib.figure import Figure

from econ.decision import Answer
from econ.decision.sensitivity import Sensitivity
from econ.reports.figures.alt_texts import ALT_TEXTS
from econ.reports.figures.chances import draw_belief
from econ.reports.figures.costs import draw_causes, draw_distribution
from econ.reports.figures.curve import draw_curve, draw_recovery
from econ.reports.figures.days import draw_depth, draw_program
from econ.reports.figures.layout import Sheet, Size
from econ.reports.figures.output import drawing, png, svg
from econ.reports.figures.sensitivity import draw_map, draw_swings
from econ.reports.tables.figures import TABLES_OF_SENSITIVITY, as_csv, rows
from econ.reports.tables.plain import Row

__all__ = [
    "FIGURES",
    "NEED_ANSWER",
    "NEED_SENSITIVITY",
    "alt_text",
    "figure",
    "figure_files",
    "png",
    "svg",
]

Draw = Callable[[Answer, list[Row], Size], Sheet]

FIGURES: dict[str, Draw] = {
    "curve": draw_curve,
    "recovery": draw_recovery,
    "belief": draw_belief,
    "causes": draw_causes,
    "distribution": draw_distribution,
    "swings": draw_swings,
    "map": draw_map,
    "depth": draw_depth,
    "program": draw_program,
}
NEED_SENSITIVITY = tuple(TABLES_OF_SENSITIVITY)
NEED_ANSWER = tuple(name for name in FIGURES if name not in NEED_SENSITIVITY)  # and nothing else


def figure(
    answer: Answer,
    name: str,
    sensitivity: Sensitivity | None = None,
    *,
    size: Size = "memo",
) -> Figure:
    """The figure `name` of `FIGURES`.

    sensitivity: for swings and map, which raise ValueError without it; size: "memo", 170 mm wide,
    "strip", 155 mm wide, low and without a finding, which a memo shows a fifth larger, or "page",
    257 x 170 mm, for a sheet of its own.

    >>> import econ
    >>> answer = econ.answer(econ.load("scenarios/point/a_land_twist_off.toml"))
    >>> len(figure(answer, "curve").axes) > 0
    True
    """
    draw = FIGURES[name]
    table = rows(answer, name, sensitivity)
    with drawing():
        return draw(answer, table, size).figure


def alt_text(answer: Answer, name: str, sensitivity: Sensitivity | None = None) -> str:
    """The figure `name` in plain words with its main numbers, for who cannot see it.

    Names of the scenario stand in it as they are written: escape them where it is put.

    >>> import econ
    >>> answer = econ.answer(econ.load("scenarios/point/a_land_twist_off.toml"))
    >>> alt_text(answer, "curve")[:26]
    'Curve of the expected cost'
    """
    return ALT_TEXTS[name](answer, rows(answer, name, sensitivity))


def figure_files(
    answer: Answer,
    sensitivity: Sensitivity | None = None,
    *,
    names: Iterable[str] = tuple(FIGURES),
    size: Size = "memo",
) -> dict[str, bytes]:
    """Figures as SVG and PNG with their tables as CSV, bytes by file name.

    names: which of `FIGURES`; sensitivity, size: as for `figure`.
    """
    files: dict[str, bytes] = {}
    for name in names:
        drawn = figure(answer, name, sensitivity, size=size)
        files[f"{name}.svg"] = svg(drawn)
        files[f"{name}.png"] = png(drawn)
        files[f"{name}.csv"] = as_csv(rows(answer, name, sensitivity)).encode()
    return files
