"""Everything about one answer as files: memo, supplement, page, figures, tables, text.

Each function gives bytes by file name, folders with "/", the same bytes for the same answer.
Each imports what it needs itself: a process that makes one part does not wait for the rest.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from econ.decision import Answer
    from econ.decision.sensitivity import Sensitivity
    from econ.reports.supplement import Code
    from econ.scenario import Scenario
    from econ.scenario.run_log import LoggedRun

LISTS = ("by_runs", "by_days", "belief", "fallbacks", "rentals")  # of the document, as tables


def names() -> list[str]:
    """Every name that a file of the report can have."""
    from econ.reports.tables.figures import TABLES, TABLES_OF_SENSITIVITY

    figures = [*TABLES, *TABLES_OF_SENSITIVITY]
    return [
        *("supplement.xlsx", "supplement.html", "supplement.csv"),
        *("answer.txt", "answer.json", "memo.html", "memo.pdf", "what_if.html"),
        *(f"tables/{name}.csv" for name in LISTS),
        *(f"figures/{name}.{end}" for name in figures for end in ("svg", "png", "csv")),
    ]


def supplement_files(answer: Answer, codes: Mapping[str, Code]) -> dict[str, bytes]:
    """The AFE supplement as workbook, page and table; codes: own cost codes by ours."""
    from econ.reports.supplement import page, supplement, table_csv, workbook

    asked = supplement(answer, codes)
    return {
        "supplement.xlsx": workbook(asked),
        "supplement.html": page(asked).encode(),
        "supplement.csv": table_csv(asked, "costs").encode(),
    }


def changes_of(scenario: Scenario, log: Sequence[LoggedRun]) -> Sensitivity:
    """What would change the answer of a scenario, after a log if it is not empty."""
    from econ.decision.sensitivity import sensitivity

    return sensitivity(scenario, log, learning=False)


def answer_files(answer: Answer) -> dict[str, bytes]:
    """The answer as text, as JSON, its lists as tables, and the figures that need no more."""
    from econ.reports.figures import NEED_ANSWER, figure_files
    from econ.reports.tables import document
    from econ.reports.tables.figures import as_csv
    from econ.reports.text import text

    told = document(answer)
    files = {
        "answer.txt": text(answer).encode() + b"\n",
        "answer.json": json.dumps(told, indent=2, allow_nan=False).encode() + b"\n",
    }
    rows: Any
    for name in LISTS:
        if rows := told.get(name):
            files[f"tables/{name}.csv"] = as_csv(rows).encode()
    return files | _in_figures(figure_files(answer, names=NEED_ANSWER))


def sensitivity_files(answer: Answer, sensitivity: Sensitivity) -> dict[str, bytes]:
    """The memo and the figures that need a sensitivity, that of the same scenario and log."""
    from econ.reports.figures import NEED_SENSITIVITY, figure_files
    from econ.reports.memo import memo_html, memo_pdf

    memo = {"memo.html": memo_html(answer, sensitivity), "memo.pdf": memo_pdf(answer, sensitivity)}
    return memo | _in_figures(figure_files(answer, sensitivity, names=NEED_SENSITIVITY))


def page_files(answer: Answer) -> dict[str, bytes]:
    """The what-if page."""
    from econ.reports.page import page_html

    return {"what_if.html": page_html(answer)}


def _in_figures(files: Mapping[str, bytes]) -> dict[str, bytes]:
    return {f"figures/{name}": data for name, data in files.items()}
