"""Reports as files, each by the functions that the command of the same name calls.

    memo.pdf, memo.html                  econ memo
    supplement.xlsx, .html, .csv         econ afe
    what_if.html                         econ page
    figures.zip                          econ figures
    report.zip                           econ report
    plan.svg, plan.pdf, plan.png         econ plan --out

A folder is packed into one file with the same bytes in it: stored, under one fixed date.
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING

from econ.reports import bundle

if TYPE_CHECKING:
    from econ.decision import Answer
    from econ.decision.sensitivity import Sensitivity

PAPERS = (
    *("memo.pdf", "memo.html", "supplement.xlsx", "supplement.html", "supplement.csv"),
    *("what_if.html", "figures.zip", "report.zip", "plan.svg", "plan.pdf", "plan.png"),
)
DATE = (1980, 1, 1, 0, 0, 0)  # of every file in a folder that is packed
# This module loads nothing of the above by itself: the server asks it for the names.


def papers(what: str, answer: Answer, turned: Callable[[], Sensitivity]) -> dict[str, bytes]:
    """The file of a paper by its name. turned: gives the sensitivity of the same scenario and log.

    Raises KeyError for no paper.
    """
    kind, _, form = what.rpartition(".")
    if what not in PAPERS:
        raise KeyError(what)
    if kind == "memo":
        drawn = bundle.pictures(answer, ["pdf" if form == "pdf" else "html"])
        data = bundle.memo_file("pdf" if form == "pdf" else "html", answer, turned(), drawn)
        return {what: data}
    if kind == "supplement":
        return {what: bundle.supplement_files(answer, {})[what]}
    if kind == "what_if":
        return bundle.page_files(answer)
    if kind == "plan":
        from econ.decision.plan import plan
        from econ.reports.figures.output import pdf, png, svg
        from econ.reports.figures.plan import plan_figure

        write = {"svg": svg, "pdf": pdf, "png": png}[form]
        return {what: write(plan_figure(plan(answer.scenario, answer.log)))}
    if kind == "figures":
        return {what: packed(_figures(answer, turned()))}
    return {what: packed(_report(answer, turned()))}


def _figures(answer: Answer, turned: Sensitivity) -> dict[str, bytes]:
    """Every figure with its table, by name."""
    from econ.reports.tables.figures import TABLES, TABLES_OF_SENSITIVITY

    files: dict[str, bytes] = {}
    for name in TABLES:
        files |= bundle.figure_files(name, answer)
    for name in TABLES_OF_SENSITIVITY:
        files |= bundle.figure_files(name, answer, turned)
    return files


def _report(answer: Answer, turned: Sensitivity) -> dict[str, bytes]:
    """Every report, by its name in the folder."""
    drawn = bundle.pictures(answer, bundle.FORMS)
    files = bundle.answer_files(answer)
    files |= bundle.page_files(answer, turned.flips)
    files |= bundle.supplement_files(answer, {})
    files |= bundle.memo_files(answer, turned, drawn)
    return files | bundle.in_figures(_figures(answer, turned))


def packed(files: Mapping[str, bytes]) -> bytes:
    """Files in one, the same bytes for the same files.

    >>> packed({"a.txt": b"a"}) == packed({"a.txt": b"a"})
    True
    """
    whole = io.BytesIO()
    with zipfile.ZipFile(whole, "w") as archive:
        for name in sorted(files):
            archive.writestr(zipfile.ZipInfo(name, DATE), files[name])
    return whole.getvalue()
