"""Our scrambled Sobol points against SciPy's, which are an implementation of their own."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.stats import qmc

from econ.sampling import Column, Correlation, Sampler
from econ.sampling.sobol import (
    BITS,
    HALF_CELL,
    MOST_DIMENSIONS,
    MOST_POINTS,
    Points,
    _direction_numbers,
)
from econ.scenario.distributions import Uniform

Block = NDArray[np.float64]


def _parent(number: int) -> np.random.SeedSequence:
    return np.random.SeedSequence(12, spawn_key=(number,))


def _ours(dimensions: int, scrambles: int) -> Points:
    return Points(dimensions, [_parent(number).spawn(1)[0] for number in range(scrambles)])


def _scipys(dimensions: int, scrambles: int, n: int) -> Block:
    """SciPy's points in the middle of their cells, shape (dimensions, scrambles x n)."""
    blocks = []
    for number in range(scrambles):
        rng = np.random.default_rng(_parent(number))
        blocks.append(qmc.Sobol(dimensions, bits=BITS, scramble=True, rng=rng).random(n))
    return np.asarray(np.concatenate(blocks).T + HALF_CELL)


@pytest.mark.parametrize(
    ("dimensions", "scrambles", "n"),
    [(1, 1, 1), (2, 3, 2), (5, 16, 64), (40, 16, 256), (11, 2, 2**14), (MOST_DIMENSIONS, 1, 64)],
)
def test_points_are_those_of_scipy_in_the_same_order(
    dimensions: int, scrambles: int, n: int
) -> None:
    # independent: scipy.stats.qmc.Sobol, to the bit
    assert np.array_equal(
        _ours(dimensions, scrambles).block(0, n), _scipys(dimensions, scrambles, n)
    )


def test_every_direction_number_is_that_of_scipy() -> None:
    # independent: scipy.stats.qmc.Sobol works them out from the same table of Joe & Kuo
    engine = qmc.Sobol(MOST_DIMENSIONS, bits=BITS, scramble=False)
    assert np.array_equal(_direction_numbers(MOST_DIMENSIONS).T, engine._sv)


def test_first_points_of_two_dimensions() -> None:
    # published: Sobol 1967, as in Joe & Kuo 2008: 0, 1/2, 3/4, 1/4 and 0, 1/2, 1/4, 3/4. The
    # scramble is undone by hand: its shift is the first point, and of a 2 x 2 matrix with ones on
    # the diagonal only the bit below it is not known.
    for number in range(8):
        points = Points(2, [_parent(number)]).block(0, 4)
        cells = (points * 4).astype(int)
        high, low = (cells >> 1) ^ (cells[:, :1] >> 1), (cells & 1) ^ (cells[:, :1] & 1)
        assert high.tolist() == [[0, 1, 1, 0], [0, 1, 0, 1]]
        bits_below = low[:, 1:2]
        assert (low ^ (high & bits_below)).tolist() == [[0, 0, 1, 1], [0, 0, 1, 1]]


@pytest.mark.parametrize(
    ("start", "n"),
    [(0, 4096), (0, 1), (1, 1), (256, 256), (512, 512), (1024, 1024), (256, 512), (17, 3000)],
)
def test_any_range_is_cut_out_of_the_whole(start: int, n: int) -> None:
    points = _ours(6, 3)
    whole = points.block(0, 4096).reshape(6, 3, 4096)
    assert np.array_equal(points.block(start, n).reshape(6, 3, n), whole[..., start : start + n])


def test_chosen_dimensions_are_rows_of_the_whole() -> None:
    points = _ours(9, 4)
    whole = points.block(128, 128)
    assert np.array_equal(points.block(128, 128, dimensions=[7, 0, 4]), whole[[7, 0, 4]])


def test_points_end_where_they_would_come_again() -> None:
    points = _ours(1, 1)
    last = points.block(MOST_POINTS - 2, 2)
    assert 0 < last.min() < last.max() < 1
    with pytest.raises(ValueError, match=r"a scramble has 2\^30 points; 2 from number 1,073,741,8"):
        points.block(MOST_POINTS - 1, 2)


def test_more_dimensions_than_the_table_has_are_refused() -> None:
    with pytest.raises(ValueError, match="3,668 dimensions are more than the 3,667 that the table"):
        _ours(MOST_DIMENSIONS + 1, 1)


COLUMNS = [Column("outcome"), Column("rate", Uniform(low=1, high=2)), Column("speed")]
LINKS = [Correlation(("rate", "speed"), 0.4)]


def test_blocks_of_all_scrambles_are_those_of_each_scramble() -> None:
    sampler = Sampler(COLUMNS, LINKS, seed=3, scrambles=4)
    alone = [sampler.scramble(index).block(1024) for index in range(4)]
    for start, n in ((0, 256), (256, 256), (512, 512)):
        block = sampler.block(start, n)
        assert list(block) == ["outcome", "rate", "speed"]
        for name, values in block.items():
            expected = [scramble[name][start : start + n] for scramble in alone]
            assert np.array_equal(values, np.concatenate(expected))


def test_a_large_block_equals_the_small_ones_that_are_kept() -> None:
    # 2^21 numbers and fewer are kept
    sampler = Sampler(COLUMNS, LINKS, seed=3, scrambles=16)
    n = 2**16
    large = sampler.block(0, n)
    halves = [sampler.block(0, n // 2), sampler.block(n // 2, n // 2)]
    for name, values in large.items():
        parts = [half[name].reshape(16, -1) for half in halves]
        assert np.array_equal(values.reshape(16, -1), np.concatenate(parts, axis=1))


@pytest.mark.parametrize(
    ("start", "n", "message"),
    [
        (-1, 8, "start -1 must be a whole number from 0 up"),
        (0, 1000, "n 1000 must be a power of two"),
        (0, 2**31, r"a scramble has 2\^30 points"),
    ],
)
def test_impossible_blocks_are_refused(start: int, n: int, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        Sampler(COLUMNS, seed=0, scrambles=1).block(start, n)
