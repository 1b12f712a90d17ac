"""The reports of an answer as bytes, for Python: what the commands of the same names write."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Literal

from econ.decision import Answer
from econ.decision.sensitivity import Sensitivity, sensitivity
from econ.reports.figures.layout import Size
from econ.scenario import Scenario

if TYPE_CHECKING:
    from econ.reports.supplement import Code
    from econ.scenario.run_log import LoggedRun


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


def class_page(scenario: Scenario, logs: Mapping[str, Sequence[LoggedRun]] | None = None) -> bytes:
    """The class exercise, one HTML file that needs no network. logs: envelopes of the
    facilitator's by name, from `econ.read_log`; without one they are drawn by number.

    Raises TypeError for anything but a `Scenario`, and ValueError for a log without a row and for
    more logs than there are letters.

    >>> import econ
    >>> class_page(econ.load("scenarios/point/c_bit_cones.toml"))[:15]
    b'<!DOCTYPE html>'
    """
    if not isinstance(scenario, Scenario):
        raise TypeError(f"class_page() takes a Scenario, not {type(scenario).__name__}")
    from econ.reports.tables.class_page import LETTERS

    if logs is not None and len(logs) > len(LETTERS):
        raise ValueError(f"class_page() takes {len(LETTERS)} logs at the most, not {len(logs)}")
    from econ.decision.class_model import class_model
    from econ.reports.class_page import class_page_html

    return class_page_html(class_model(scenario, list((logs or {}).items())))


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
