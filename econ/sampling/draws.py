"""Scrambled Sobol points as named columns, with rank correlation where it is asked for.

Mathematics
-----------
u        a scrambled Sobol point, an odd multiple of 2^-31 (`sobol.py`)
rho, r   Spearman rank correlation wanted, and the normal correlation that gives it:
         r = 2 sin(pi rho/6) (Kruskal 1958, J. Am. Stat. Assoc. 53)
R = C C' matrix of r over a group of columns that are linked, and its Cholesky factor
u'       Phi(C Phi^-1(u)), the correlated points of the group (Gaussian copula)
z, t     Phi^-1(u') of a column of a group, and what another one, i, is moved to; column k then
         goes to z_k + r_ik (t_i - z_i), which leaves what it has of its own as it was

C is lower triangular in the order of the columns, so the first column of a group stays the
Sobol column it was, and the map is smooth, so the group keeps the quality of its points. Columns
that are in no group are left alone.

Scramble number i of seed s is drawn by the first child of child i of numpy's SeedSequence(s): any
two are independent, and each is reproduced from s and i alone. The average over scrambles has no
bias and its standard error is taken from their spread.
"""

from __future__ import annotations

import functools
import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from typing import Final

import numpy as np
from numpy.typing import NDArray

from econ.sampling.sobol import HALF_CELL, Points
from econ.scenario.distributions import Distribution
from econ.scenario.distributions.normal import ndtr, ndtri

SINGULAR: Final = 1e-10  # an eigenvalue below this is a zero that rounding has moved
KEPT: Final = 2**21  # numbers of a block that are kept to be asked for again; 16 MB

Values = NDArray[np.float64]


@dataclass(frozen=True)
class Column:
    """A named input; without a distribution it is the plain uniform on 0 to 1."""

    name: str
    distribution: Distribution | None = None


@dataclass(frozen=True)
class Correlation:
    """Spearman rank correlation rho [-1 to 1, ends excluded] between every pair of the columns.

    Between columns of a few values (`Discrete`) ties bring the measured rank correlation below
    rho; the amounts still rise and fall together.
    """

    of: tuple[str, ...]
    rho: float

    def __post_init__(self) -> None:
        faults = []
        if len(self.of) < 2:
            faults.append("at least two columns are needed")
        if len(set(self.of)) < len(self.of):
            faults.append("a column is named twice")
        if not -1.0 < self.rho < 1.0:
            faults.append(
                f"rho {self.rho:g} must lie between -1 and 1; for columns that move as one, "
                "use one column"
            )
        if faults:
            raise ValueError(f"{self!r}: " + "; ".join(faults))


@dataclass(frozen=True, eq=False)
class _Group:
    """Positions of the columns that are linked, and the Cholesky factor C of their matrix."""

    positions: tuple[int, ...]
    factor: Values

    def correlate(self, uniforms: Values) -> None:
        """Replace the rows of the group, shape (columns, n), by the correlated ones."""
        scores = [ndtri(uniforms[position]) for position in self.positions]
        for row in range(1, len(scores)):
            # Added up term by term: a matrix product may round differently with the block size.
            mixed = self.factor[row, 0] * scores[0]
            for term in range(1, row + 1):
                mixed += self.factor[row, term] * scores[term]
            uniforms[self.positions[row]] = np.clip(ndtr(mixed), HALF_CELL, 1.0 - HALF_CELL)

    def move(self, uniforms: Values, place: int, to: Values) -> None:
        """Move the others of the group, correlated already, as column `place` goes to `to`."""
        links = (self.factor @ self.factor.T)[self.positions.index(place)]
        shift = ndtri(to) - ndtri(uniforms[place])
        for position, link in zip(self.positions, links, strict=True):
            if position != place:
                score = ndtri(uniforms[position]) + link * shift
                uniforms[position] = np.clip(ndtr(score), HALF_CELL, 1.0 - HALF_CELL)


class Sampler:
    """Makes the same columns of draws again and again, from independent scrambles.

    The first columns are the best spread; put those there that matter most. later: how many of
    the columns, the last ones, leave the points of the others as they are without them.
    """

    def __init__(
        self,
        columns: Sequence[Column],
        correlations: Sequence[Correlation] = (),
        *,
        seed: int,
        scrambles: int,
        later: int = 0,
    ) -> None:
        names = [column.name for column in columns]
        faults = [
            f"column {name!r} is given {times} times"
            for name, times in Counter(names).items()
            if times > 1
        ]
        faults += _correlation_faults(names, correlations)
        if seed < 0:
            faults.append(f"seed {seed} must be a whole number from 0 up")
        if scrambles < 1:
            faults.append(f"scrambles {scrambles} must be at least 1")
        if faults:
            raise ValueError("; ".join(faults))
        self.columns = tuple(columns)
        self.seed = seed
        self.scrambles = scrambles
        self._later = later
        self._groups = _known_groups(tuple(names), tuple(correlations))

    def first(self, n: int) -> dict[str, Values]:
        """The first n points [a power of two] of every scramble, one scramble after another."""
        return self.block(0, n)

    def block(self, start: int, n: int) -> dict[str, Values]:
        """n points [a power of two] of every scramble from number `start` on, counted from 0.

        Each column has shape (scrambles x n,), one scramble after another, and is not to be
        written to. Blocks one after another hold the same numbers as one block of their total.
        The points of small blocks are kept, and of each column what its last distribution made of
        them, so that asking again, also with other distributions of as many columns, costs little.
        """
        _check_range(start, n)
        count = len(self.columns)
        if count * self.scrambles * n > KEPT:
            rows = self._points.block(start, n)
            return _transformed(rows, self.columns, self._groups)
        made = _made(
            (count, self._later), start, n, self._groups, seed=self.seed, scrambles=self.scrambles
        )
        return {
            column.name: made.column(position, column.distribution)
            for position, column in enumerate(self.columns)
        }

    @property
    def linked(self) -> tuple[tuple[str, ...], ...]:
        """Names of the columns of each group that is linked by correlation."""
        return tuple(
            tuple(self.columns[position].name for position in group.positions)
            for group in self._groups
        )

    def moved(self, n: int, *, name: str, between: tuple[float, float]) -> dict[str, Values]:
        """The columns of `first(n)` that change when one is held between two probabilities.

        Its own u goes to low + (high - low) u, so that equal ends in (0, 1) fix it; the columns
        linked with it move along as they would if it were known, and keep what is their own.
        """
        _check_range(0, n)
        low, high = between
        place = [column.name for column in self.columns].index(name)
        alone = _Group((place,), np.eye(1))
        group = next((group for group in self._groups if place in group.positions), alone)
        rows = self._points.block(0, n, dimensions=group.positions)
        among_rows = replace(group, positions=tuple(range(len(rows))))
        own = group.positions.index(place)
        among_rows.correlate(rows)
        to = np.clip(low + (high - low) * rows[own], HALF_CELL, 1.0 - HALF_CELL)
        among_rows.move(rows, own, to)
        rows[own] = to
        return _transformed(rows, tuple(self.columns[i] for i in group.positions), ())

    def points(self, n: int, *, name: str) -> Values:
        """The uniforms that a column of `first(n)` is made from, after correlation, shape
        (scrambles x n,)."""
        _check_range(0, n)
        place = [column.name for column in self.columns].index(name)
        alone = _Group((place,), np.eye(1))
        group = next((group for group in self._groups if place in group.positions), alone)
        rows = self._points.block(0, n, dimensions=group.positions)
        replace(group, positions=tuple(range(len(rows)))).correlate(rows)
        return np.asarray(rows[group.positions.index(place)])

    def pair(self, n: int) -> tuple[dict[str, Values], dict[str, Values]]:
        """Two independent sets of n draws [a power of two], from one sequence of points.

        Each column has shape (n,); none of the scrambles has these points.
        """
        _check_range(0, n)
        count = len(self.columns)
        after_all = range(self.scrambles, self.scrambles + 1)
        rows = _points((2 * count, 0), seed=self.seed, scrambles=after_all).block(0, n)
        one, other = rows[:count], rows[count:]
        return (
            _transformed(one, self.columns, self._groups),
            _transformed(other, self.columns, self._groups),
        )

    def scramble(self, index: int) -> Scramble:
        """Scramble number index [0 to scrambles - 1], from its first point on."""
        if not 0 <= index < self.scrambles:
            raise ValueError(f"scramble {index} must lie between 0 and {self.scrambles - 1}")
        return Scramble(self.columns, self._groups, seed=self.seed, index=index, later=self._later)

    @property
    def _points(self) -> Points:
        dimensions = len(self.columns), self._later
        return _points(dimensions, seed=self.seed, scrambles=range(self.scrambles))


class Scramble:
    """One scramble, read in blocks from its first point on."""

    def __init__(
        self,
        columns: tuple[Column, ...],
        groups: tuple[_Group, ...],
        *,
        seed: int,
        index: int,
        later: int = 0,
    ) -> None:
        self._columns = columns
        self._groups = groups
        dimensions = len(columns), later
        self._points = _points(dimensions, seed=seed, scrambles=range(index, index + 1))
        self._next = 0

    def block(self, n: int) -> dict[str, Values]:
        """The next n points [a power of two], each column an array of shape (n,).

        Blocks read one after another hold the same numbers as one block of their total. The
        columns are rows of one array of shape (columns, n).
        """
        _check_range(self._next, n)
        rows = self._points.block(self._next, n)
        self._next += n
        return _transformed(rows, self._columns, self._groups)


def _check_range(start: int, n: int) -> None:
    if start < 0:
        raise ValueError(f"start {start} must be a whole number from 0 up")
    if n < 1 or n & (n - 1):
        raise ValueError(f"n {n} must be a power of two, such as 256 or 4096")


def _transformed(
    rows: Values, columns: tuple[Column, ...], groups: tuple[_Group, ...]
) -> dict[str, Values]:
    """Uniform rows, shape (columns, n), made into the columns in place."""
    for group in groups:
        group.correlate(rows)
    for row, column in zip(rows, columns, strict=True):
        if column.distribution is not None:
            row[:] = column.distribution.quantile(row)
    return {column.name: row for row, column in zip(rows, columns, strict=True)}


class _Made:
    """Correlated points, shape (columns, n), and of each column what was last made of them."""

    def __init__(self, rows: Values) -> None:
        rows.flags.writeable = False
        self._rows = rows
        self._last: list[tuple[Distribution | None, Values]] = [(None, row) for row in rows]

    def column(self, position: int, distribution: Distribution | None) -> Values:
        """Amounts of one column, shape (n,), not to be written to."""
        last, values = self._last[position]
        if last != distribution:
            values = self._rows[position]
            if distribution is not None:
                values = distribution.quantile(values)
                values.flags.writeable = False
            self._last[position] = (distribution, values)
        return values


@functools.lru_cache(maxsize=16)
def _made(
    dimensions: tuple[int, int],
    start: int,
    n: int,
    groups: tuple[_Group, ...],
    *,
    seed: int,
    scrambles: int,
) -> _Made:
    """A block of points of all scrambles with their correlation, and what is made of them."""
    rows = _points(dimensions, seed=seed, scrambles=range(scrambles)).block(start, n)
    for group in groups:
        group.correlate(rows)
    return _Made(rows)


@functools.lru_cache(maxsize=32)
def _points(dimensions: tuple[int, int], *, seed: int, scrambles: range) -> Points:
    """The points of scrambles with these numbers; dimensions: how many, and how many later ones
    are among them."""
    children = [np.random.SeedSequence(seed, spawn_key=(number, 0)) for number in scrambles]
    count, later = dimensions
    return Points(count, children, later=later)


def _correlation_faults(names: Sequence[str], correlations: Sequence[Correlation]) -> list[str]:
    faults = [
        f"a correlation names {name!r}, which is no column"
        for correlation in correlations
        for name in correlation.of
        if name not in names
    ]
    seen: set[frozenset[str]] = set()
    for correlation in correlations:
        for pair in combinations(correlation.of, 2):
            if frozenset(pair) in seen:
                faults.append(f"the correlation of {pair[0]!r} and {pair[1]!r} is given twice")
            seen.add(frozenset(pair))
    return faults


@functools.lru_cache(maxsize=64)
def _known_groups(
    names: tuple[str, ...], correlations: tuple[Correlation, ...]
) -> tuple[_Group, ...]:
    """The groups, the same objects for the same correlations, so that they tell points apart."""
    return _groups(names, correlations)


def _groups(names: Sequence[str], correlations: Sequence[Correlation]) -> tuple[_Group, ...]:
    """Columns linked directly or through others, each group with its own matrix."""
    linked: list[set[str]] = []
    for correlation in correlations:
        joined = set(correlation.of).union(*(s for s in linked if s & set(correlation.of)))
        linked = [s for s in linked if not s & joined] + [joined]
    return tuple(
        _group([name for name in names if name in members], names, correlations)
        for members in linked
    )


def _group(
    members: Sequence[str], names: Sequence[str], correlations: Sequence[Correlation]
) -> _Group:
    matrix = np.eye(len(members))
    place = {name: i for i, name in enumerate(members)}
    for correlation in correlations:
        for one, other in combinations(correlation.of, 2):
            if one in place:
                i, j = place[one], place[other]
                matrix[i, j] = matrix[j, i] = 2.0 * math.sin(math.pi * correlation.rho / 6.0)
    if np.linalg.eigvalsh(matrix)[0] < SINGULAR:
        raise ValueError(
            f"the rank correlations of {', '.join(members)} contradict each other (their matrix "
            "is not positive definite); bring them nearer to zero, or give the missing pairs"
        )
    return _Group(
        positions=tuple(names.index(name) for name in members),
        factor=np.asarray(np.linalg.cholesky(matrix), dtype=np.float64),
    )
