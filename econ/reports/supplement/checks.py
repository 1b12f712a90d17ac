"""Checks of what a reader types: every input cell, named where it is bad.

A validation stops a slip of the keyboard, but pasting passes it: these cells decide. A bad cell is
one that is blank, no number, under its least or over its most, not whole, or an unknown word; and
the interests must sum to 100 %. While one is bad the sentence of the first sheet is not shown.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from econ.reports.supplement.cells import (
    Cell,
    Term,
    fault_of,
    fault_of_word,
    joined,
    same,
    when,
)

MOST = 1e15  # of an amount or a number of days that is typed


@dataclass(frozen=True)
class Input:
    """An input cell with its name; words: those it may hold, none for a number from low to high."""

    name: str
    cell: Cell
    low: float = 0.0
    high: float = MOST
    whole: bool = False
    words: tuple[str, ...] = ()


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

    inputs: tuple[Input, ...]
    rows: tuple[Check, ...]
    good: Term
    line: Cell


def checks(inputs: Sequence[Input], others: Sequence[tuple[str, Term]]) -> Checks:
    """Checks of input cells, and others: a name, and words that are empty where all is well."""
    faults: list[tuple[str, Term]] = []
    for each in inputs:
        if each.words:
            faults.append((each.name, fault_of_word(each.cell, each.words)))
        else:
            fault = fault_of(each.cell, low=each.low, high=each.high, whole=each.whole)
            faults.append((each.name, fault))
    rows: list[Check] = []
    before: Term | str = ""
    for words, fault in [*faults, *others]:
        name, cell = Cell(words), Cell(fault)
        good = same(cell, "")
        start = (
            when(same(before, ""), "", joined([before, "; "])) if isinstance(before, Cell) else ""
        )
        so_far = Cell(when(good, before, joined([start, name, " ", cell])))
        rows.append(Check(name, cell, so_far))
        before = so_far
    assert isinstance(before, Cell)
    good = same(before, "")
    line = Cell(when(good, f"all {len(rows)} checks pass", joined(["BAD: ", before])))
    return Checks(tuple(inputs), tuple(rows), good, line)
