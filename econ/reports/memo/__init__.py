"""The decision memo: one content, laid out as HTML and as PDF.

memo_html(answer, sensitivity), memo_pdf(answer, sensitivity)    bytes, the same for the same answer
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Literal

from econ.decision import Answer
from econ.decision.sensitivity import Sensitivity
from econ.reports.figures import alt_text, figure, png, svg
from econ.reports.figures.output import drawing
from econ.reports.memo.content import Memo, memo
from econ.reports.memo.html import html
from econ.reports.memo.pdf import pdf
from econ.reports.memo.sketch import sketch, sketch_words
from econ.reports.tables.memo import sketch as sketch_row

__all__ = ["Form", "Memo", "content", "memo_html", "memo_pdf", "pictures"]

Form = Literal["html", "pdf"]
SKETCH = (90.0, 64.0)  # [mm]
DPI = 250.0  # dots an inch


def content(answer: Answer, sensitivity: Sensitivity) -> Memo:
    """What the memo says."""
    alt = {"curve": alt_text(answer, "curve"), "sketch": sketch_words(sketch_row(answer))}
    return memo(answer, sensitivity, alt)


def pictures(answer: Answer, forms: Collection[Form]) -> dict[str, bytes]:
    """The pictures of the memo in these forms by file name: SVG for HTML, PNG for PDF. They are
    drawn once for all forms, and nothing of a sensitivity is in them."""
    with drawing():
        well = sketch(sketch_row(answer), width=SKETCH[0], height=SKETCH[1])
    files: dict[str, bytes] = {}
    shown = {"sketch": well}
    if len(answer.by_runs) > 1:
        shown["curve"] = figure(answer, "curve", size="strip")
    for name, drawn in shown.items():
        if "html" in forms:
            files[f"{name}.svg"] = svg(drawn)
        if "pdf" in forms:
            files[f"{name}.png"] = png(drawn, dpi=DPI)
    return files


def memo_html(
    answer: Answer, sensitivity: Sensitivity, drawn: Mapping[str, bytes] | None = None
) -> bytes:
    """The memo as one HTML file; equal answers give equal bytes. drawn: `pictures` of the answer.

    >>> import econ
    >>> from econ.decision.sensitivity import sensitivity
    >>> job = econ.load("scenarios/point/a_land_twist_off.toml")
    >>> memo_html(econ.answer(job), sensitivity(job)).startswith(b"<!DOCTYPE html>")
    True
    """
    return html(content(answer, sensitivity), _of(drawn or pictures(answer, ["html"]), ".svg"))


def memo_pdf(
    answer: Answer, sensitivity: Sensitivity, drawn: Mapping[str, bytes] | None = None
) -> bytes:
    """The memo as a PDF of A4 pages. drawn: `pictures` of the answer."""
    return pdf(content(answer, sensitivity), _of(drawn or pictures(answer, ["pdf"]), ".png"))


def _of(pictures: Mapping[str, bytes], ending: str) -> dict[str, bytes]:
    """Those of one ending, by name without it."""
    return {
        name.removesuffix(ending): data for name, data in pictures.items() if name.endswith(ending)
    }
