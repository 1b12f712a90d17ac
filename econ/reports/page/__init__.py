"""The what-if page: one HTML file with sliders, that opens from a disk without any network."""

from __future__ import annotations

from collections.abc import Sequence

from econ.decision import Answer
from econ.decision.page_model import page_model
from econ.decision.sensitivity.break_even import BreakEven
from econ.reports import offline, safety
from econ.reports.cautions import FULL
from econ.reports.sentences import BY_LIST
from econ.reports.tables.page import page as tables


def page_html(answer: Answer, flips: Sequence[BreakEven] | None = None) -> bytes:
    """The page of an answer, as UTF-8. flips: those of its sensitivity, if that is worked out."""
    page = tables(answer, page_model(answer), flips)
    return offline.render(
        "econ.reports.page",
        "page.html.j2",
        scripts=("model.js", "page.js"),
        style="page.css",
        data=page["script"],
        page=page,
        cautions=FULL,
        by_list=BY_LIST if len(answer.ahead) > 1 else "",
        warnings=safety.warnings(answer.as_left),
        barred=safety.barred_runs(answer.as_left),
        sealed_source=safety.checklist(answer.as_left),
    )
