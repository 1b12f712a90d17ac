"""The reports of an answer as bytes, for Python: what the commands of the same names write."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Literal

from econ.decision import Answer
from econ.decision.sensitivity import Sensitivity, sensitivity
from econ.reports.figures.layout import Size

if TYPE_CHECKING:
    from econ.reports.supplement import Code


def memo(
    answer: Answer, changes: Sensitivity | None = None, *, form: Literal["pdf", "html"] = "pdf"
) -> bytes:
    """The memo for the morning call. changes: of the same scenario and log, else worked out.

    >>> import econ
    >>> answer = econ.answer(econ.load("scenarios/point/a_land_twist_off.toml"))
    >>> memo(answer)[:5]
    b'%PDF-'
    """
    from econ.reports.memo import memo_html, memo_pdf

    lay_out = memo_pdf if form == "pdf" else memo_html
    return lay_out(answer, _changes(answer, changes))


def page(answer: Answer) -> bytes:
    """The what-if page, one HTML file that needs no network.

    >>> import econ
    >>> answer = econ.answer(econ.load("scenarios/point/a_land_twist_off.toml"))
    >>> page(answer)[:15]
    b'<!DOCTYPE html>'
    """
    from econ.reports.page import page_html

    return page_html(answer)


def afe(
    answer: Answer,
    codes: Mapping[str, Code] | None = None,
    *,
    form: Literal["xlsx", "html", "csv"] = "xlsx",
    table: str = "costs",
) -> bytes:
    """The supplement to the authority. codes: own cost codes by ours; table: of a CSV file.

    >>> import econ
    >>> answer = econ.answer(econ.load("scenarios/point/a_land_twist_off.toml"))
    >>> afe(answer, form="csv").decode().splitlines()[0].split(",")[:2]
    ['code', 'our_code']
    """
    from econ.reports import supplement

    asked = supplement.supplement(answer, codes or {})
    if form == "xlsx":
        return supplement.workbook(asked)
    if form == "html":
        return supplement.page(asked).encode()
    return supplement.table_csv(asked, table).encode()


def figures(
    answer: Answer,
    changes: Sensitivity | None = None,
    *,
    names: Iterable[str] | None = None,
    size: Size = "memo",
) -> dict[str, bytes]:
    """Figures as SVG and PNG with their tables as CSV, bytes by file name.

    names: which of them, all where left out; size: "memo", "strip" or "page", as in
    `econ.figure`.

    >>> import econ
    >>> answer = econ.answer(econ.load("scenarios/point/a_land_twist_off.toml"))
    >>> sorted(figures(answer, names=["curve"]))
    ['curve.csv', 'curve.png', 'curve.svg']
    """
    from econ.reports.figures import FIGURES, NEED_SENSITIVITY, figure_files

    chosen = tuple(FIGURES if names is None else names)
    needed = _changes(answer, changes) if set(chosen) & set(NEED_SENSITIVITY) else None
    return figure_files(answer, needed, names=chosen, size=size)


def _changes(answer: Answer, changes: Sensitivity | None) -> Sensitivity:
    if changes is not None:
        return changes
    return sensitivity(answer.scenario, answer.log, learning=False)
