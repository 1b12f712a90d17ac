"""The fish: its pieces from the top down, what is owed for those left, how its top moves.

    lost in hole(T) = sum over pieces of value x (share of its length below T)
    top after part  = min(T + part length, bottom - 30 ft), never above T

The value of a piece is what the contract makes payable: price new x (1 - depreciation),
not less than a floor. Under daywork the operator bears in-hole equipment at a
depreciated value; rate and floor are inputs because no rate is published.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
LEAST_FISH = 30.0  # [ft] a partial recovery leaves at least so much of the fish


@dataclass(frozen=True)
class Fish:
    """Geometry [ft] and values [currency] of the fish as it lies now.

    lengths: of the pieces from the top down; values: one for each, scalar or shape (n,).
    """

    top: float
    bottom: float
    lengths: Sequence[float] = ()
    values: Sequence[Array] = ()

    def value_below(self, top: Array) -> Array:
        """Value [currency] of what lies below `top` [ft], pro rata by length.

        >>> import numpy as np
        >>> fish = Fish(1000.0, 1100.0, (60.0, 40.0), (np.asarray(6e3), np.asarray(1e3)))
        >>> float(fish.value_below(np.asarray(1030.0)))
        4000.0
        """
        value: Array = np.zeros(())
        for share, worth in zip(self.shares_below(top), self.values, strict=True):
            value = value + worth * share
        return np.asarray(value)

    def shares_below(self, top: Array) -> list[Array]:
        """Share of the length of each piece that lies below `top` [ft]."""
        shares, end = [], self.top
        for length in self.lengths:
            end += length
            left = np.clip((end - top) / length, 0.0, 1.0) if length > 0 else np.zeros(())
            shares.append(np.asarray(left))
        return shares

    def top_after_part(self, top: Array, *, part_length: Array) -> Array:
        """Fish top [ft] after a partial recovery of `part_length` [ft] from `top` [ft]."""
        lowest = np.maximum(top, self.bottom - LEAST_FISH)
        return np.asarray(np.minimum(top + part_length, lowest))


def piece_value(*, replacement: Array, depreciation: Array, floor: Array) -> Array:
    """Value [currency] owed for a piece from its price new, the share of it written off,
    and the least share that is owed.

    >>> import numpy as np
    >>> float(piece_value(replacement=np.asarray(1e5), depreciation=np.asarray(0.7),
    ...                   floor=np.asarray(0.5)))
    50000.0
    """
    return np.asarray(replacement * np.maximum(1.0 - depreciation, floor))
