"""Checks of what a reader types: every input cell, named where it is bad.

A validation stops a slip of the keyboard, but pasting passes it: these cells decide. A bad cell is
one that is blank, no number, under its least or over its most, not whole, or an unknown word; and
the interests must sum to 100 %. While one is bad the sentence of the first sheet is not shown.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, fields, is_dataclass

from econ.reports.supplement.cells import Cell, Term, joined, same, when


@dataclass(frozen=True)
class Check:
    """A check: what is looked at, what is wrong with it, and all that is wrong up to here. The name
    is a cell, because text of a user is no part of a formula."""

    name: Cell
    fault: Cell
    so_far: Cell


@dataclass(frozen=True)
class Checks:
    """All checks; good: whether all pass; line: the names of those that fail, with what is
    wrong."""

    rows: tuple[Check, ...]
    good: Term
    line: Cell


def inputs_in(tables: object) -> Iterator[Cell]:
    """The input cells with bounds that stand anywhere in some tables."""
    if isinstance(tables, Cell):
        yield from [tables] if tables.bounds is not None else []
    elif is_dataclass(tables):
        for field in fields(tables):
            yield from inputs_in(getattr(tables, field.name))
    elif isinstance(tables, Mapping | list | tuple):
        for each in tables.values() if isinstance(tables, Mapping) else tables:
            yield from inputs_in(each)


def checks(tables: object, others: Sequence[tuple[str, Term]]) -> Checks:
    """Checks of the input cells of some tables, and others: a name, and words that are empty where
    all is well."""
    bounded = [(cell, cell.bounds) for cell in inputs_in(tables)]
    faults = [(bounds.name, bounds.fault(cell)) for cell, bounds in bounded if bounds is not None]
    rows: list[Check] = []
    before = Cell("")
    for words, fault in [*faults, *others]:
        name, cell = Cell(words), Cell(fault)
        start: Term | str = when(same(before, ""), "", joined([before, "; "])) if rows else ""
        bad = joined([start, name, " ", cell])
        so_far = Cell(when(same(cell, ""), before if rows else "", bad))
        rows.append(Check(name, cell, so_far))
        before = so_far
    good = same(before, "")
    line = Cell(
        when(
            good,
            f"every shaded cell holds what may stand there ({len(rows)} looked at)",
            joined(["BAD: ", before]),
        )
    )
    return Checks(tuple(rows), good, line)
