"""Scrambled points of Sobol, of several scrambles at once.

Mathematics
-----------
p        primitive polynomial x^s + a_1 x^(s-1) + ... + a_(s-1) x + 1 of a dimension, over two
         elements; written as the whole number whose bits are its coefficients
m_j      odd numbers below 2^j; m_1 to m_s are chosen, the others follow from p
v_j      m_j / 2^j, the direction numbers: v_j = a_1 v_(j-1) ^ ... ^ a_(s-1) v_(j-s+1)
         ^ v_(j-s) ^ (v_(j-s) >> s), where ^ adds bit by bit without carry (Bratley & Fox 1988,
         ACM Trans. Math. Softw. 14(1)); the first dimension has m_j = 1
L, e     of each scramble and dimension, a random lower triangular matrix of bits with ones on its
         diagonal, and random bits: v_j goes to L v_j, and every point is shifted by e (Matousek
         1998, J. Complexity 14(4))
g(i)     i ^ (i >> 1), the reflected binary (Gray) code of i, the number of a point from 0 on
x_i      e ^ the v_(b+1) of all bits b that are one in g(i), a multiple of 2^-30 in [0, 1)
u_i      x_i + 2^-31, the middle of its cell, hence never 0 or 1
w_b      v_(b+1) ^ v_b, with v_0 = 0: the step from x_i to x_(i + 2^b) where bit b of i is zero

g(i ^ k) = g(i) ^ g(k), so x_i is also e ^ the w_b of all bits b that are one in i. The 2^b points
from i on, i a multiple of 2^b, are therefore made from the one at i by doubling: the points so
far are followed by the same ones ^ w_0, all these by the same ones ^ w_1, and so on.

The numbers m_1 to m_s are those of S. Joe & F.Y. Kuo, SIAM J. Sci. Comput. 30(5) (2008) 2635, for
every primitive polynomial of degree up to 15. They are kept in `direction_numbers.npy`: a row a
dimension holds p and then m_1, m_2, ..., with zeros after m_s.
"""

from __future__ import annotations

import functools
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

BITS: Final = 30
HALF_CELL: Final = 2.0 ** -(BITS + 1)
MOST_POINTS: Final = 2**BITS  # of one scramble; after them they come again
DEGREE: Final = 15  # highest degree of a polynomial of the table
MOST_DIMENSIONS: Final = 3667  # rows of the table
NUMBERS: Final = Path(__file__).with_name("direction_numbers.npy")
FEW: Final = 6  # the first 2^FEW points are kept as a pattern, because short rows double slowly

Bits = NDArray[np.uint32]


class Points:
    """Points of several scrambles of one Sobol sequence, any range of them at a time.

    seeds: one for each scramble; later: how many of the dimensions, the last ones, have a scramble
    of their own, so that those before are as they were without them. ValueError for more
    dimensions than the table has.

    The points are those of `scipy.stats.qmc.Sobol`, which draws its scramble from the first child
    of the seed of the generator it is given, in the same order and moved to the middle of their
    cells.
    """

    def __init__(
        self, dimensions: int, seeds: Sequence[np.random.SeedSequence], *, later: int = 0
    ) -> None:
        if dimensions > MOST_DIMENSIONS:
            raise ValueError(
                f"{dimensions:,} dimensions are more than the {MOST_DIMENSIONS:,} that the table "
                "of direction numbers has"
            )
        first = [_scramble(dimensions - later, seed) for seed in seeds]
        last = [_scramble(later, _beside(seed)) for seed in seeds]
        shifts = np.stack([np.append(e, f) for (e, _), (f, _) in zip(first, last, strict=True)])
        matrices = np.stack(
            [
                np.append(one, other, axis=1)
                for (_, one), (_, other) in zip(first, last, strict=True)
            ],
            axis=1,
        )
        steps = _times(matrices, _direction_numbers(dimensions))
        steps[1:] ^= steps[:-1].copy()
        # In whole numbers of half a cell, which makes the middle of a cell odd. Shapes
        # (dimensions, scrambles) and (BITS, dimensions, scrambles).
        self._shifts = 2 * shifts.T + 1
        self._steps = np.ascontiguousarray(2 * steps.swapaxes(1, 2))
        pattern = np.zeros((2**FEW, *self._shifts.shape), dtype=np.uint32)
        for b in range(FEW):
            np.bitwise_xor(pattern[: 2**b], self._steps[b], pattern[2**b : 2 ** (b + 1)])
        self._pattern = np.ascontiguousarray(np.moveaxis(pattern, 0, -1))

    def block(
        self, start: int, n: int, *, dimensions: Sequence[int] | None = None
    ) -> NDArray[np.float64]:
        """Points start to start + n - 1 of every scramble, shape (dimensions, scrambles x n).

        They come scramble after scramble. dimensions: those wanted, all of them by default.
        ValueError for points beyond the last one.
        """
        if start + n > MOST_POINTS:
            raise ValueError(
                f"a scramble has 2^{BITS} points; {n:,} from number {start:,} on are more"
            )
        wanted = slice(None) if dimensions is None else list(dimensions)
        shifts, steps, pattern = self._shifts[wanted], self._steps[:, wanted], self._pattern[wanted]
        count, scrambles = shifts.shape
        points = np.empty((count, scrambles, n), dtype=np.uint32)
        for at, bits in _aligned(start, n):
            part = points[..., at - start : at - start + 2**bits]
            ones = [b for b in range(BITS) if at >> b & 1]
            first = shifts ^ np.bitwise_xor.reduce(steps[ones], axis=0)
            few = min(2**bits, 2**FEW)
            np.bitwise_xor(pattern[..., :few], first[..., None], part[..., :few])
            for b in range(FEW, bits):
                made, doubled = part[..., : 2**b], part[..., 2**b : 2 ** (b + 1)]
                np.bitwise_xor(made, steps[b][..., None], doubled)
        return np.multiply(points.reshape(count, scrambles * n), HALF_CELL, dtype=np.float64)


def _aligned(start: int, n: int) -> Iterator[tuple[int, int]]:
    """The range cut into parts (first, b): 2^b points from the first on, a multiple of 2^b."""
    stop = start + n
    while start < stop:
        b = (stop - start).bit_length() - 1
        while start % 2**b:
            b -= 1
        yield start, b
        start += 2**b


def _beside(seed: np.random.SeedSequence) -> np.random.SeedSequence:
    """A seed beside another one, and reproduced from it."""
    return np.random.SeedSequence(seed.entropy, spawn_key=(*seed.spawn_key, 1))


def _scramble(dimensions: int, seed: np.random.SeedSequence) -> tuple[Bits, Bits]:
    """e, shape (dimensions,), and the columns of L, shape (BITS, dimensions).

    A column is one number; its highest bit is the first row.
    """
    # The highest bit of 32 is what Generator.integers(2, dtype=uint32) makes of them, at twice the
    # time: first e of all dimensions, from its lowest bit up, then L of all, row by row.
    raw = np.random.PCG64(seed).random_raw(dimensions * BITS * (BITS + 1) // 2)
    bits = raw.astype("<u8", copy=False).view("<u4") >> np.uint32(31)
    of_shifts, of_matrices = np.split(bits, [dimensions * BITS])
    place = np.uint32(1) << np.arange(BITS, dtype=np.uint32)
    below = np.tril(np.ones((BITS, BITS), dtype=np.uint32), -1) * place[::-1, None]
    shifts = np.einsum("db,b->d", of_shifts.reshape(-1, BITS), place)
    columns = np.einsum("drc,rc->cd", of_matrices.reshape(-1, BITS, BITS), below)
    return shifts, columns + place[::-1, None]


def _times(columns: Bits, v: Bits) -> Bits:
    """L v_j for all j, shape (BITS, scrambles, dimensions), as multiples of 2^-BITS.

    columns: of L, in that shape. v: the v_j, shape (BITS, dimensions).
    """
    product = np.zeros_like(columns)
    for c, column in enumerate(columns):
        # v_j has no bits after its first j, so that column c meets those from v_(c+1) on.
        ones = v[c:] >> np.uint32(BITS - 1 - c) & np.uint32(1)
        product[c:] ^= ones[:, None] * column
    return product


@functools.lru_cache(maxsize=8)
def _direction_numbers(dimensions: int) -> Bits:
    """v_1 to v_BITS as multiples of 2^-BITS, shape (BITS, dimensions)."""
    table = np.load(NUMBERS)[:dimensions].astype(np.uint32)
    p, m = table[:, 0], table[:, 1:]
    s = np.frexp(p.astype(np.float64))[1] - 1
    # a_DEGREE to a_1, zero from a_s on: as many as there may be v before v_j, in their order.
    back = np.arange(DEGREE, 0, -1)[:, None]
    a = p >> np.maximum(s - back, 0).astype(np.uint32) & np.uint32(1)
    a[back >= s] = 0
    v = np.zeros((DEGREE + BITS, dimensions), dtype=np.uint32)  # DEGREE zeros before v_1
    for j in range(1, BITS + 1):
        row = DEGREE + j - 1
        far = v[row - s, np.arange(dimensions)]
        v[row] = far ^ far >> s.astype(np.uint32)
        v[row] ^= np.bitwise_xor.reduce(a * v[row - DEGREE : row], axis=0)
        if j <= DEGREE:
            v[row] = np.where(j <= s, m[:, j - 1] << np.uint32(BITS - j), v[row])
    v[DEGREE:, :1] = np.uint32(1) << np.arange(BITS - 1, -1, -1, dtype=np.uint32)[:, None]
    return v[DEGREE:]
