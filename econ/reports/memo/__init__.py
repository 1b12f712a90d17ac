"""The decision memo: one content, laid out as HTML and as PDF.

memo_html(answer, sensitivity), memo_pdf(answer, sensitivity)    bytes, the same for the same answer
"""

from __future__ import annotations

from econ.decision import Answer
from econ.decision.sensitivity import Sensitivity
from econ.reports.figures import alt_text, figure, png, svg
from econ.reports.figures.output import drawing
from econ.reports.memo.content import Memo, memo
from econ.reports.memo.html import html
from econ.reports.memo.pdf import pdf
from econ.reports.memo.sketch import sketch, sketch_words
from econ.reports.tables.memo import sketch as sketch_row

__all__ = ["Memo", "content", "memo_html", "memo_pdf"]

SKETCH = (98.0, 66.0)  # [mm]
DPI = 220.0


def content(answer: Answer, sensitivity: Sensitivity) -> Memo:
    """What the memo says."""
    alt = {"curve": alt_text(answer, "curve"), "sketch": sketch_words(sketch_row(answer))}
    return memo(answer, sensitivity, alt)


def memo_html(answer: Answer, sensitivity: Sensitivity) -> bytes:
    """The memo as one HTML file; equal answers give equal bytes.

    >>> import econ
    >>> from econ.decision.sensitivity import sensitivity
    >>> job = econ.load("scenarios/point/a_land_twist_off.toml")
    >>> memo_html(econ.answer(job), sensitivity(job)).startswith(b"<!DOCTYPE html>")
    True
    """
    with drawing():
        drawn = sketch(sketch_row(answer), width=SKETCH[0], height=SKETCH[1])
    figures = {"curve": svg(figure(answer, "curve", size="strip")), "sketch": svg(drawn)}
    return html(content(answer, sensitivity), figures)


def memo_pdf(answer: Answer, sensitivity: Sensitivity) -> bytes:
    """The memo as a PDF of A4 pages."""
    with drawing():
        drawn = sketch(sketch_row(answer), width=SKETCH[0], height=SKETCH[1])
    figures = {
        "curve": png(figure(answer, "curve", size="strip"), dpi=DPI),
        "sketch": png(drawn, dpi=DPI),
    }
    return pdf(content(answer, sensitivity), figures)
