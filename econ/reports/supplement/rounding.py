"""Gross amounts in whole units of currency that add up, for everything that is signed.

Each of some amounts e_1, e_2, ... is shown as the rise of the rounded sum so far,

    shown_i = round(e_1 + ... + e_i) - round(e_1 + ... + e_(i-1))

so that it is off by less than a unit, and what is shown sums to the rounded sum.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from econ.reports.supplement.cells import Cell, Term, block, total

ON_HALF = 1e-4  # of a unit: what lies so near below a half goes up, as each program writes it


@dataclass(frozen=True)
class Whole:
    """Amounts before rounding, and as they are shown."""

    exact: tuple[Cell, ...]
    shown: tuple[Cell, ...]


def whole(amounts: Iterable[Term]) -> Whole:
    """Amounts in whole units, one after another. Their cells before rounding, which are theirs
    where they are cells, have to stand in one column.

    >>> found = whole([Term(0.4, ["0.4"]), Term(0.4, ["0.4"]), Term(0.4, ["0.4"])])
    >>> [cell.number for cell in found.shown]
    [0.0, 1.0, 0.0]
    """
    exact = tuple(each if isinstance(each, Cell) else Cell(each) for each in amounts)
    so_far = [to_decimals(total(block(exact[:number])), 0) for number in range(1, len(exact) + 1)]
    shown = [Cell(now - so_far[number - 1] if number else now) for number, now in enumerate(so_far)]
    return Whole(exact, tuple(shown))


def to_decimals(value: Term, decimals: int) -> Term:
    """A value to the last decimal. Half a unit, and a ten-thousandth less than half, goes up: what
    lies on the half would else go up or down as each program writes the number in binary."""
    shifted = value + ON_HALF / 10**decimals
    return Term(round(shifted.number, decimals), ["ROUND(", shifted, f",{decimals})"])
