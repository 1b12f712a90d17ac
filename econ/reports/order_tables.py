"""The search of orders of the runs as plain values, for `--json` and for whoever lays it out."""

from __future__ import annotations

from econ.decision.order import Program, ProgramSearch
from econ.reports.tables.plain import Row, plain


def order_document(found: ProgramSearch) -> Row:
    """The search as one table of plain values; runs by their numbers in the file, from 1."""
    document: Row = plain(
        {
            "better": found.better,
            "exact": found.exact,
            "best": program_row(found, found.best),
            "listed": program_row(found, found.listed),
            "candidate": program_row(found, found.candidate),
            "programs_looked_at": found.looked_at,
            "programs": [program_row(found, program) for program in found.programs],
            "draws": found.n,
            "scrambles": found.scrambles if found.n else 0,
            "seed": found.seed,
        }
    )
    return document


def program_row(found: ProgramSearch, program: Program) -> Row:
    """A program with the names of its runs and what it saves against the listed order."""
    return {
        "runs": list(program.runs),
        "names": [found.scenario.run[number - 1].name for number in program.runs],
        "expected_cost": program.expected_cost,
        "standard_error": program.standard_error,
        "saving": program.saving,
        "saving_error": program.saving_error,
    }
