"""The class exercise: one HTML file in which teams decide, morning by morning."""

from __future__ import annotations

from econ.decision.class_model import ClassModel
from econ.reports import offline, safety
from econ.reports.cautions import FULL
from econ.reports.tables.class_page import class_page as tables


def class_page_html(model: ClassModel) -> bytes:
    """The page of a class exercise, as UTF-8."""
    page = tables(model)
    return offline.render(
        "econ.reports.class_page",
        "page.html.j2",
        scripts=("game.js", "class_page.js"),
        style="class_page.css",
        data=page["script"],
        page=page,
        cautions=FULL,
        warnings=safety.warnings(model.known.scenario),
    )
