"""Numbers with their standard error, and the one test of whether a difference is resolved."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from econ.scenario.framed import Framed

Array = NDArray[np.float64]
ROUNDING = 1e-9  # of the cost: two costs this close are the same
SURE = 2.0  # standard errors that a difference must exceed to be called resolved


@dataclass(frozen=True, repr=False)
class Estimate(Framed):
    """A number and its standard error, from independent scrambles."""

    value: float
    error: float

    def resolved(self, scale: float = 0.0) -> bool:
        """Whether the number is told apart from 0: beyond its error, and beyond the rounding of
        sums of the size `scale`."""
        return abs(self.value) > max(SURE * self.error, ROUNDING * abs(scale))


def estimate(by_scramble: Array) -> Estimate:
    """Mean over independent scrambles and its standard error; without an error where there is a
    single value, because nothing was sampled."""
    values = np.asarray(by_scramble, dtype=np.float64)
    error = float(values.std(ddof=1) / np.sqrt(values.size)) if values.size > 1 else 0.0
    return Estimate(float(values.mean()), error)
