"""Weighted quantiles of very many end points, in bounded memory.

Values from 0 up are placed by log(x + c), with c a millionth of the highest, so that a bin
is narrow beside its values whatever the range. Each bin keeps weight, mean and variance of
what fell into it. Inside the bin that holds the quantile the points are taken as uniform
with that mean and variance, so that a bin which holds a single value gives that value, and
a dense one is interpolated. The error is below the width of a bin, which is 0.7 % of the value
where the lowest is nothing, and as much smaller as the range is.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
BINS = 2048
ROUNDING = 1e-6  # of a bin: what rounding makes of a single value
SMALL = 1e-6  # c, as a share of the highest value


@dataclass(frozen=True)
class Bins:
    """Bins from `low` to `high` [any unit, 0 or more], both ends open."""

    low: float
    high: float

    @property
    def size(self) -> int:
        """How many they are."""
        return BINS

    @property
    def _shift(self) -> float:
        return max(SMALL * self.high, 1e-300)

    @property
    def _start(self) -> float:
        return float(np.log(self.low + self._shift))

    @property
    def _width(self) -> float:
        width = float(np.log(self.high + self._shift)) - self._start
        return max(width, 1e-9) / BINS

    def value(self, place: Array) -> Array:
        """Value at a `place` counted in bins from the lowest edge."""
        values = np.exp(self._start + self._width * place) - self._shift
        return np.asarray(np.maximum(values, 0.0))

    def moments(self, values: Array, weights: Array, *, parts: int = 1) -> Array:
        """Weight, and first two weighted moments in widths from each bin's low edge.

        values, weights: shape (..., n); the draws on the last axis are cut into `parts` equal
        parts, each with bins of its own; the result has shape (parts, 3, BINS).
        """
        shape = np.broadcast_shapes(values.shape, weights.shape)
        place = np.maximum(values, 0.0)
        place += self._shift
        np.log(place, out=place)
        place -= self._start
        place /= self._width
        index = np.minimum(np.maximum(place, 0.0), BINS - 1).astype(np.intp)
        place -= index  # from here on inside its bin
        index = index + np.arange(shape[-1]) * parts // shape[-1] * BINS
        first = weights * place
        flat = np.broadcast_to(index, shape).ravel()
        moments = [
            np.bincount(flat, np.broadcast_to(moment, shape).ravel(), BINS * parts)
            for moment in (weights, first, first * place)
        ]
        together = np.stack(moments).reshape(3, parts, BINS)
        return np.asarray(together.swapaxes(0, 1), dtype=np.float64)

    def quantiles(self, moments: Array, shares: Array) -> Array:
        """Values not exceeded with the chances `shares`; nan where there is no weight.

        moments: shape (..., 3, BINS); the result has shape (..., shares).

        >>> bins = Bins(0.0, 100.0)
        >>> m = bins.moments(np.array([10.0, 20.0]), np.array([0.3, 0.7]))
        >>> [round(float(q), 6) for q in bins.quantiles(m, np.array([0.1, 0.9]))[0]]
        [10.0, 20.0]
        """
        bin_, part = _located(moments[..., 0, :], shares)
        mean, width = _inside(moments, bin_)
        values = self.value(bin_ + mean + width * (part - 0.5))
        return np.where(moments[..., 0, :].sum(axis=-1, keepdims=True) > 0, values, np.nan)

    def tail_mean(self, moments: Array, *, share: float) -> Array:
        """Mean of the highest `share` of the weight; nan where there is none.

        >>> bins = Bins(0.0, 100.0)
        >>> m = bins.moments(np.array([10.0, 20.0, 40.0]), np.array([0.8, 0.1, 0.1]))
        >>> round(float(bins.tail_mean(m, share=0.2)[0]), 6)
        30.0
        """
        weight = moments[..., 0, :]
        total = weight.sum(axis=-1)
        bin_, part = _located(weight, np.array([1.0 - share]))
        mean, width = _inside(moments, bin_)
        inside = np.take_along_axis(weight, bin_, axis=-1) * (1.0 - part)
        here = (self.value(bin_ + mean + width * 0.5 * part) * inside)[..., 0]
        places = np.arange(BINS)
        values = self.value(places + _means(moments)) * weight
        above = np.where(places > bin_, values, 0.0).sum(axis=-1)
        mean = np.full(total.shape, np.nan)
        return np.asarray(np.divide(here + above, share * total, out=mean, where=total > 0))

    def chance_above(self, moments: Array, value: float) -> Array:
        """Share of the weight above `value`; nan where there is none.

        >>> bins = Bins(0.0, 100.0)
        >>> m = bins.moments(np.array([10.0, 20.0]), np.array([0.3, 0.7]))
        >>> [round(float(bins.chance_above(m, x)[0]), 6) for x in (5.0, 10.0, 15.0, 20.0)]
        [1.0, 0.7, 0.7, 0.0]
        """
        weight = moments[..., 0, :]
        total = weight.sum(axis=-1)
        place = (float(np.log(max(value, 0.0) + self._shift)) - self._start) / self._width
        number = int(min(max(place, 0.0), BINS - 1))  # the first and last bins are open
        bin_ = np.full((*total.shape, 1), number)
        mean, width = _inside(moments, bin_)
        higher = mean - (place - bin_)  # how far the mean lies above the value
        wide = np.where(width > 0, width, 1.0)
        share = np.where(width > 0, np.clip(0.5 + higher / wide, 0.0, 1.0), higher > ROUNDING)
        held = np.take_along_axis(weight, bin_, axis=-1)
        above = weight[..., number + 1 :].sum(axis=-1) + (share * held)[..., 0]
        chance = np.full(total.shape, np.nan)
        return np.asarray(np.divide(above, total, out=chance, where=total > 0))


def _located(weight: Array, shares: Array) -> tuple[NDArray[np.intp], Array]:
    """Bin that holds each cumulative share, and the share of its weight that lies below."""
    upto = np.cumsum(weight, axis=-1)
    # A share that meets a cumulative weight to rounding belongs to the lower bin.
    target = shares * upto[..., -1:] * (1 - 1e-12)
    counts = [(upto < target[..., s, None]).sum(axis=-1) for s in range(len(shares))]
    bin_ = np.minimum(np.stack(counts, axis=-1), BINS - 1)
    held = np.take_along_axis(weight, bin_, axis=-1)
    below = np.take_along_axis(upto, bin_, axis=-1) - held
    return bin_, (target - below) / np.maximum(held, 1e-300)


def _means(moments: Array) -> Array:
    """Mean place in every bin, in bins from its low edge."""
    return np.asarray(moments[..., 1, :] / np.maximum(moments[..., 0, :], 1e-300))


def _inside(moments: Array, bin_: NDArray[np.intp]) -> tuple[Array, Array]:
    """Mean place in a bin, and the width of the uniform with the bin's variance, in bins."""
    held = np.maximum(np.take_along_axis(moments[..., 0, :], bin_, axis=-1), 1e-300)
    mean = np.take_along_axis(moments[..., 1, :], bin_, axis=-1) / held
    square = np.take_along_axis(moments[..., 2, :], bin_, axis=-1) / held
    deviation = np.sqrt(np.maximum(square - mean**2, 0.0))
    return mean, np.sqrt(12.0) * np.where(deviation < ROUNDING, 0.0, deviation)
