"""The search of orders of the runs as plain values, for `--json` and for whoever lays it out."""

from __future__ import annotations

from econ.decision.order import Program, ProgramSearch
from econ.reports.tables.plain import Row, plain


def order_document(search: ProgramSearch) -> Row:
    """The search as one table of plain values; runs by their numbers in the file, from 1."""
    document: Row = plain(
        {
            "better": search.better,
            "exact": search.exact,
            "best": program_row(search, search.best),
            "listed": program_row(search, search.listed),
            "candidate": program_row(search, search.candidate),
            "programs_looked_at": search.looked_at,
            "programs": [program_row(search, program) for program in search.programs],
            "draws": search.n,
            "scrambles": search.scrambles if search.n else 0,
            "seed": search.seed,
        }
    )
    return document


def program_row(search: ProgramSearch, program: Program) -> Row:
    """A program with the names of its runs and what it saves against the listed order."""
    return {
        "runs": list(program.runs),
        "names": [search.scenario.run[number - 1].name for number in program.runs],
        "expected_cost": program.expected_cost,
        "standard_error": program.standard_error,
        "saving": program.saving,
        "saving_error": program.saving_error,
    }
