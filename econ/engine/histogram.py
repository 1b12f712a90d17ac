"""Weighted quantiles of very many end points, in bounded memory.

Each bin keeps the weight, mean and variance of what fell into it. Inside the bin that holds
the quantile the points are taken as uniform with that mean and variance, so that a bin
which holds a single value gives that value, and a dense one is interpolated. With the
lowest and highest bin open the error is below the width of a bin.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
BINS = 8192


@dataclass(frozen=True)
class Bins:
    """Bins of equal width from `low` to `high` [any unit]."""

    low: float
    high: float

    @property
    def width(self) -> float:
        """Width of a bin."""
        return max(self.high - self.low, 1e-9 * max(abs(self.high), 1.0)) / BINS

    def moments(self, values: Array, weights: Array) -> Array:
        """Weight, and first two weighted moments in widths from each bin's low edge, (3, BINS)."""
        shape = np.broadcast_shapes(values.shape, weights.shape)
        place = np.broadcast_to((values - self.low) / self.width, shape).ravel()
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
        weight, first, second = moments
        upto = np.cumsum(weight)
        if upto[-1] <= 0:
            return np.full(len(shares), np.nan)
        # A share that meets a cumulative weight to rounding belongs to the lower bin.
        target = shares * upto[-1] * (1 - 1e-12)
        bin_ = np.minimum(np.searchsorted(upto, target), BINS - 1)
        held = np.maximum(weight[bin_], 1e-300)
        mean = first[bin_] / held
        spread = np.sqrt(np.maximum(second[bin_] / held - mean**2, 0.0))
        spread = np.where(spread < 1e-6, 0.0, spread)  # rounding of a single value
        part = (target - (upto[bin_] - weight[bin_])) / held
        inside = mean + np.sqrt(12.0) * spread * (part - 0.5)
        return np.asarray(self.low + self.width * (bin_ + inside))
