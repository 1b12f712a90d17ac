"""Everything about one answer as files: memo, supplement, page, figures, tables, text.

Each function gives bytes by file name, folders with "/", the same bytes for the same answer.
Each imports what it needs itself: a process that makes one part does not wait for the rest. What
takes long to load is named, so that a process can load it before it has an answer to draw. What
they give is of plain types: who reads it from another process need load nothing.
"""

from __future__ import annotations

import json
from collections.abc import Collection, Mapping, Sequence
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from econ.decision import Answer
    from econ.decision.sensitivity import Sensitivity
    from econ.decision.sensitivity.break_even import BreakEven
    from econ.reports.figures.layout import Size
    from econ.reports.memo import Form
    from econ.reports.supplement import Code

DRAWING = (  # modules that draw figures
    "econ.reports.figures",
    "matplotlib.backends.backend_agg",
    "matplotlib.backends.backend_svg",
)
MEMO = ("econ.reports.memo",)  # what lays out the memo besides
ENDINGS = (".svg", ".png", ".csv")  # of the files of a figure
FORMS: tuple[Form, ...] = ("html", "pdf")  # of the memo
LISTS = ("by_runs", "by_days", "belief", "fallbacks", "rentals")  # of the document, as tables


def names() -> list[str]:
    """Every name that a file of the report can have."""
    from econ.reports.tables.figures import TABLES, TABLES_OF_SENSITIVITY

    figures = [*TABLES, *TABLES_OF_SENSITIVITY]
    return [
        *("supplement.xlsx", "supplement.html", "supplement.csv"),
        *("answer.txt", "answer.json", "memo.html", "memo.pdf", "what_if.html"),
        *(f"tables/{name}.csv" for name in LISTS),
        *(f"figures/{name}{end}" for name in figures for end in ENDINGS),
    ]


def supplement_files(
    answer: Answer, codes: Mapping[str, Code], flips: Sequence[BreakEven] | None = None
) -> dict[str, bytes]:
    """The AFE supplement as workbook, page and table; codes: own cost codes by ours; flips:
    those of its sensitivity, if that is worked out."""
    from econ.reports.supplement import page, supplement, table_csv, workbook

    asked = supplement(answer, codes, flips)
    return {
        "supplement.xlsx": workbook(asked),
        "supplement.html": page(asked).encode(),
        "supplement.csv": table_csv(asked, "costs").encode(),
    }


def answer_files(answer: Answer) -> dict[str, bytes]:
    """The answer as text, as JSON, and its lists as tables."""
    from econ.reports.tables import document
    from econ.reports.tables.figures import as_csv
    from econ.reports.text import text

    told = document(answer)
    files = {
        "answer.txt": text(answer, full=True).encode() + b"\n",
        "answer.json": json.dumps(told, indent=2, allow_nan=False).encode() + b"\n",
    }
    rows: Any
    for name in LISTS:
        if rows := told.get(name):
            files[f"tables/{name}.csv"] = as_csv(rows).encode()
    return files


def pictures(answer: Answer, forms: Collection[Form]) -> dict[str, bytes]:
    """The pictures in these forms of the memo; they need no sensitivity."""
    from econ.reports.memo import pictures

    return pictures(answer, forms)


def memo_file(
    form: Form,
    answer: Answer,
    sensitivity: Sensitivity,
    pictures: Mapping[str, bytes],
) -> bytes:
    """The memo in one form, with a sensitivity of the same scenario and log."""
    from econ.reports.memo import memo_html, memo_pdf

    return (memo_pdf if form == "pdf" else memo_html)(answer, sensitivity, pictures)


def memo_files(
    answer: Answer, sensitivity: Sensitivity, pictures: Mapping[str, bytes]
) -> dict[str, bytes]:
    """The memo in both forms."""
    return {f"memo.{form}": memo_file(form, answer, sensitivity, pictures) for form in FORMS}


def figure_files(
    name: str, answer: Answer, sensitivity: Sensitivity | None = None, *, size: Size = "memo"
) -> dict[str, bytes]:
    """One of the figures with its table."""
    from econ.reports import figures

    return figures.figure_files(answer, sensitivity, names=[name], size=size)


def in_figures(files: Mapping[str, bytes]) -> dict[str, bytes]:
    """The files in the folder of figures."""
    return {f"figures/{name}": data for name, data in files.items()}


def page_files(answer: Answer, flips: Sequence[BreakEven] | None = None) -> dict[str, bytes]:
    """The what-if page. flips: those of its sensitivity, if that is worked out."""
    from econ.reports.page import page_html

    return {"what_if.html": page_html(answer, flips)}
