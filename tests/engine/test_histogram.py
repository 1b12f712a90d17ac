"""Quantiles from bins against exact weighted quantiles.

Every expected number is independent: the points sorted and their weights added up.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from econ.engine.histogram import BINS, SMALL, Bins

SHARES = np.array([0.1, 0.5, 0.9])
seeds = st.integers(0, 2**32 - 1)


def exact(values: np.ndarray, weights: np.ndarray, shares: np.ndarray) -> np.ndarray:
    """The least value not exceeded with each chance."""
    order = np.argsort(values)
    upto = np.cumsum(weights[order])
    found: np.ndarray = values[order][np.searchsorted(upto, shares * upto[-1])]
    return found


@given(seeds, st.integers(1, 12))
@settings(max_examples=60, deadline=None)
def test_atoms_are_exact(seed: int, count: int) -> None:
    rng = np.random.default_rng(seed)
    bins = Bins(200.0, 3_000_000.0)
    # at most one atom in a bin, anywhere in it
    places = rng.choice(BINS, size=count, replace=False) + rng.uniform(0.01, 0.99, count)
    values = bins.value(places)
    weights = rng.uniform(0.1, 1.0, count)
    repeats = rng.integers(1, 50, count)  # an atom is met many times over
    moments = bins.moments(np.repeat(values, repeats), np.repeat(weights / repeats, repeats))
    shares = rng.uniform(0.01, 0.99, 5)
    assert bins.quantiles(moments, shares)[0] == pytest.approx(
        exact(values, weights, shares), rel=1e-9
    )


def test_a_share_that_a_step_reaches_belongs_to_the_lower_atom() -> None:
    bins = Bins(0.0, 10.0)
    moments = bins.moments(np.array([2.0, 5.0, 7.0]), np.array([0.1, 0.4, 0.5]))
    # by hand: 0.1 is not exceeded at 2, and 0.1 + 0.4 = 0.5 at 5
    assert bins.quantiles(moments, SHARES)[0] == pytest.approx([2.0, 5.0, 7.0])


@given(seeds, st.sampled_from(["even", "skewed", "lumps and spread"]))
@settings(max_examples=60, deadline=None)
def test_spread_points_are_within_a_bin(seed: int, shape: str) -> None:
    rng = np.random.default_rng(seed)
    n = 4_000
    if shape == "even":
        values = rng.uniform(0, 1e6, n)
    elif shape == "skewed":
        values = np.minimum(rng.lognormal(11, 1, n), 2e6)
    else:
        lumps = rng.choice([1e5, 4e5], n)
        values = np.where(rng.random(n) < 0.5, lumps, rng.uniform(0, 1e6, n))
    weights = rng.exponential(1.0, n)
    bins = Bins(0.0, 2.1e6)
    shares = rng.uniform(0.005, 0.995, 9)
    found = bins.quantiles(bins.moments(values, weights), shares)[0]
    true = exact(values, weights, shares)
    # by definition: bins even in log(x + c) from 0 to the highest, c a millionth of it
    c = SMALL * bins.high
    width = (true + c) * np.expm1(np.log((bins.high + c) / c) / BINS)
    assert (np.abs(found - true) <= width).all()
    assert (width <= 0.007 * true + 0.02).all()


def test_dense_points_are_interpolated_inside_a_bin() -> None:
    # by hand: evenly spread from 0 to 1 in bins that begin at 0 and are wider than all of it
    bins = Bins(0.0, 8.0 * BINS)
    moments = bins.moments((np.arange(100_000) + 0.5) / 100_000, np.ones(100_000))
    assert bins.quantiles(moments, SHARES)[0] == pytest.approx(SHARES, abs=1e-4)


def test_moments_add_up_over_blocks_and_broadcast() -> None:
    rng = np.random.default_rng(1)
    values, weights = rng.uniform(0, 9, (2, 3, 50)), rng.uniform(0, 1, (2, 3, 1))
    bins = Bins(0.0, 9.0)
    whole = bins.moments(values, weights)
    parts = bins.moments(values[..., :20], weights) + bins.moments(values[..., 20:], weights)
    assert whole == pytest.approx(parts)
    assert whole[0, 0].sum() == pytest.approx(50 * weights.sum())


def test_points_past_the_bins_are_kept() -> None:
    bins = Bins(2.0, 10.0)
    moments = bins.moments(np.array([0.5, 5.0, 40.0]), np.array([0.2, 0.6, 0.2]))
    assert bins.quantiles(moments, SHARES)[0] == pytest.approx([0.5, 5.0, 40.0])


def test_empty_bins_have_no_quantile() -> None:
    bins = Bins(0.0, 1.0)
    assert np.isnan(bins.quantiles(np.zeros((3, BINS)), SHARES)).all()
    nothing = bins.moments(np.array([0.3, 0.4]), np.zeros(2))
    assert np.isnan(bins.quantiles(nothing, SHARES)).all()


def test_a_single_cost_needs_no_width() -> None:
    bins = Bins(700.0, 700.0)
    moments = bins.moments(np.full(8, 700.0), np.ones(8))
    assert bins.quantiles(moments, SHARES)[0] == pytest.approx([700.0] * 3)
