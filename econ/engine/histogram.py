"""Weighted quantiles of very many end points, in bounded memory.

Values from 0 up are placed by log(x + c), with c a millionth of the highest, so that a bin
is narrow beside its values whatever the range. Each bin keeps weight, mean and variance of
what fell into it. Inside the bin that holds the quantile the points are taken as uniform
with that mean and variance, so that a bin which holds a single value gives that value, and
a dense one is interpolated. The error is below the width of a bin, 0.2 % of the value.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
BINS = 8192
ROUNDING = 1e-6  # of a bin: what rounding makes of a single value
SMALL = 1e-6  # c, as a share of the highest value


@dataclass(frozen=True)
class Bins:
    """Bins from `low` to `high` [any unit, 0 or more], both ends open."""

    low: float
    high: float

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

    def width_at(self, value: Array) -> Array:
        """Width of the bin that holds `value`."""
        return np.asarray((value + self._shift) * np.expm1(self._width))

    def moments(self, values: Array, weights: Array) -> Array:
        """Weight, and first two weighted moments in widths from each bin's low edge, (3, BINS)."""
        shape = np.broadcast_shapes(values.shape, weights.shape)
        place = (np.log(np.maximum(values, 0.0) + self._shift) - self._start) / self._width
        place = np.broadcast_to(place, shape).ravel()
        weight = np.broadcast_to(weights, shape).ravel()
        index = np.clip(place, 0, BINS - 1).astype(np.intp)
        inside = place - index
        first = weight * inside
        return np.stack(
            [
                np.bincount(index, weight, BINS),
                np.bincount(index, first, BINS),
                np.bincount(index, first * inside, BINS),
            ]
        )

    def quantiles(self, moments: Array, shares: Array) -> Array:
        """Values not exceeded with the chances `shares`; nan where there is no weight.

        >>> bins = Bins(0.0, 100.0)
        >>> m = bins.moments(np.array([10.0, 20.0]), np.array([0.3, 0.7]))
        >>> [round(float(q), 6) for q in bins.quantiles(m, np.array([0.1, 0.9]))]
        [10.0, 20.0]
        """
        if moments[0].sum() <= 0:
            return np.full(len(shares), np.nan)
        bin_, part = _located(moments[0], shares)
        mean, width = _inside(moments, bin_)
        return self.value(bin_ + mean + width * (part - 0.5))

    def tail_mean(self, moments: Array, *, share: float) -> float:
        """Mean of the highest `share` of the weight; nan where there is none.

        >>> bins = Bins(0.0, 100.0)
        >>> m = bins.moments(np.array([10.0, 20.0, 40.0]), np.array([0.8, 0.1, 0.1]))
        >>> round(bins.tail_mean(m, share=0.2), 6)
        30.0
        """
        total = float(moments[0].sum())
        if total <= 0:
            return float("nan")
        bin_, part = _located(moments[0], np.array([1.0 - share]))
        mean, width = _inside(moments, bin_)
        here = self.value(bin_ + mean + width * 0.5 * part) * moments[0][bin_] * (1.0 - part)
        above = np.arange(int(bin_[0]) + 1, BINS)
        values = self.value(above + _inside(moments, above)[0]) * moments[0][above]
        return float((here[0] + values.sum()) / (share * total))

    def chance_above(self, moments: Array, value: float) -> float:
        """Share of the weight above `value`; nan where there is none.

        >>> bins = Bins(0.0, 100.0)
        >>> m = bins.moments(np.array([10.0, 20.0]), np.array([0.3, 0.7]))
        >>> [round(bins.chance_above(m, x), 6) for x in (5.0, 10.0, 15.0, 20.0)]
        [1.0, 0.7, 0.7, 0.0]
        """
        total = float(moments[0].sum())
        if total <= 0:
            return float("nan")
        place = (float(np.log(max(value, 0.0) + self._shift)) - self._start) / self._width
        if not 0 <= place < BINS:
            return 1.0 if place < 0 else 0.0
        bin_ = np.array([int(place)])
        mean, width = _inside(moments, bin_)
        higher = float((mean - (place - bin_))[0])  # how far the mean lies above the value
        wide = float(width[0])
        share = min(max(0.5 + higher / wide, 0.0), 1.0) if wide > 0 else float(higher > ROUNDING)
        above = moments[0][bin_[0] + 1 :].sum() + share * moments[0][bin_[0]]
        return float(above / total)


def _located(weight: Array, shares: Array) -> tuple[NDArray[np.intp], Array]:
    """Bin that holds each cumulative share, and the share of its weight that lies below."""
    upto = np.cumsum(weight)
    # A share that meets a cumulative weight to rounding belongs to the lower bin.
    target = shares * upto[-1] * (1 - 1e-12)
    bin_ = np.minimum(np.searchsorted(upto, target), BINS - 1)
    return bin_, (target - (upto[bin_] - weight[bin_])) / np.maximum(weight[bin_], 1e-300)


def _inside(moments: Array, bin_: NDArray[np.intp]) -> tuple[Array, Array]:
    """Mean place in a bin, and the width of the uniform with the bin's variance, in bins."""
    held = np.maximum(moments[0][bin_], 1e-300)
    mean = moments[1][bin_] / held
    spread = np.sqrt(np.maximum(moments[2][bin_] / held - mean**2, 0.0))
    return mean, np.sqrt(12.0) * np.where(spread < ROUNDING, 0.0, spread)
