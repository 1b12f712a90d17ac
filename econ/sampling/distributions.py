"""Distributions of uncertain amounts, as frozen values with a quantile function.

Every family has `quantile(u)`, the amount not exceeded with probability u; `mean`, in closed
form; `bounds`, the support; and `source`, where it is published. A family whose parameters leave
no doubt (low = high, sd = 0, ...) is the constant. The two families that can be cut to a range
are in `truncated`.

Mathematics
-----------
u, Q(u)      probability [fraction] and the amount at it
Phi          distribution function of the standard normal

Uniform      Q = a + (b - a) u                                   mean (a + b)/2
Pert         Q = a + (b - a) x(u), x from Beta(alpha, beta)      mean (a + 4 m + b)/6
             alpha = 1 + 4 (m - a)/(b - a),  beta = 1 + 4 (b - m)/(b - a)
Triangle     Q = a + sqrt(u (b - a)(m - a))        for u <= (m - a)/(b - a),
             Q = b - sqrt((1 - u)(b - a)(b - m))   above         mean (a + m + b)/3
Lognormal    Q = median exp(s z),  s = ln(factor)/Phi^-1(0.9)    mean median exp(s^2/2)
Discrete     Q = the first value whose cumulative weight reaches u
BetaOdds     Q = x(u) from Beta(mean weight, (1 - mean) weight)
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import ClassVar, Final, Protocol

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from econ.sampling.checks import disordered, refuse, unfinished
from econ.sampling.inverse_beta import inverse_beta

Values = NDArray[np.float64]

Z90: Final = float(ndtri(0.9))


class Distribution(Protocol):
    """What every family offers; anything that offers it can be drawn."""

    source: ClassVar[str]

    @property
    def mean(self) -> float:
        """Mean of the amounts."""

    @property
    def bounds(self) -> tuple[float, float]:
        """Least and greatest amount that can come."""

    def quantile(self, u: Values) -> Values:
        """Amounts at the probabilities `u`, each in (0, 1)."""


@dataclass(frozen=True, kw_only=True)
class Uniform:
    """Any amount from low to high alike."""

    low: float
    high: float
    source: ClassVar[str] = (
        "Johnson, Kotz & Balakrishnan, Continuous Univariate Distributions vol. 2 (1995), ch. 26"
    )

    def __post_init__(self) -> None:
        numbers = {"low": self.low, "high": self.high}
        refuse(self, unfinished(**numbers) or disordered(**numbers))

    @property
    def mean(self) -> float:
        """Mean of the amounts."""
        return 0.5 * (self.low + self.high)

    @property
    def bounds(self) -> tuple[float, float]:
        """Least and greatest amount that can come."""
        return self.low, self.high

    def quantile(self, u: Values) -> Values:
        """Amounts at the probabilities `u`, each in (0, 1)."""
        return self.low + (self.high - self.low) * u


@dataclass(frozen=True, kw_only=True)
class Pert:
    """Lowest, likeliest and highest amount, joined by a beta curve."""

    low: float
    likely: float
    high: float
    source: ClassVar[str] = (
        "Malcolm, Roseboom, Clark & Fazar (1959), Application of a Technique for Research and "
        "Development Program Evaluation, Operations Research 7(5)"
    )

    def __post_init__(self) -> None:
        numbers = {"low": self.low, "likely": self.likely, "high": self.high}
        refuse(self, unfinished(**numbers) or disordered(**numbers))

    @property
    def mean(self) -> float:
        """Mean of the amounts."""
        return (self.low + 4.0 * self.likely + self.high) / 6.0

    @property
    def bounds(self) -> tuple[float, float]:
        """Least and greatest amount that can come."""
        return self.low, self.high

    def quantile(self, u: Values) -> Values:
        """Amounts at the probabilities `u`, each in (0, 1)."""
        width = self.high - self.low
        if width == 0.0:
            return np.full(u.shape, self.low, dtype=np.float64)
        alpha = 1.0 + 4.0 * (self.likely - self.low) / width
        beta = 1.0 + 4.0 * (self.high - self.likely) / width
        return self.low + width * inverse_beta(u, alpha=alpha, beta=beta)


@dataclass(frozen=True, kw_only=True)
class Triangle:
    """Lowest, likeliest and highest amount, joined by straight lines."""

    low: float
    likely: float
    high: float
    source: ClassVar[str] = "Kotz & van Dorp, Beyond Beta (2004), ch. 1"

    def __post_init__(self) -> None:
        numbers = {"low": self.low, "likely": self.likely, "high": self.high}
        refuse(self, unfinished(**numbers) or disordered(**numbers))

    @property
    def mean(self) -> float:
        """Mean of the amounts."""
        return (self.low + self.likely + self.high) / 3.0

    @property
    def bounds(self) -> tuple[float, float]:
        """Least and greatest amount that can come."""
        return self.low, self.high

    def quantile(self, u: Values) -> Values:
        """Amounts at the probabilities `u`, each in (0, 1)."""
        width = self.high - self.low
        rising, falling = self.likely - self.low, self.high - self.likely
        return np.where(
            u * width <= rising,
            self.low + np.sqrt(u * (width * rising)),
            self.high - np.sqrt((1.0 - u) * (width * falling)),
        )


@dataclass(frozen=True, kw_only=True)
class Lognormal:
    """P50 is the median, P90 the median times the factor, P10 the median over the factor."""

    median: float
    factor: float
    source: ClassVar[str] = (
        "Johnson, Kotz & Balakrishnan, Continuous Univariate Distributions vol. 1 (1994), ch. 14"
    )

    def __post_init__(self) -> None:
        faults = unfinished(median=self.median, factor=self.factor)
        if self.median <= 0.0:
            faults.append(f"median {self.median:g} must be above zero")
        if self.factor < 1.0:
            faults.append(f"factor {self.factor:g} must be at least 1: it is P90 over the median")
        if self.factor > 1e6:
            faults.append(f"factor {self.factor:g} must be at most a million")
        refuse(self, faults)

    @property
    def _sigma(self) -> float:
        return math.log(self.factor) / Z90

    @property
    def mean(self) -> float:
        """Mean of the amounts."""
        return self.median * math.exp(0.5 * self._sigma**2)

    @property
    def bounds(self) -> tuple[float, float]:
        """Least and greatest amount that can come."""
        return (0.0, math.inf) if self.factor > 1.0 else (self.median, self.median)

    def quantile(self, u: Values) -> Values:
        """Amounts at the probabilities `u`, each in (0, 1)."""
        return np.asarray(self.median * np.exp(self._sigma * ndtri(u)), dtype=np.float64)


@dataclass(frozen=True, kw_only=True)
class Discrete:
    """One of a few values; weights are made to sum to 1 and values put in ascending order."""

    values: tuple[float, ...]
    weights: tuple[float, ...]
    source: ClassVar[str] = (
        "Johnson, Kemp & Kotz, Univariate Discrete Distributions, 3rd ed. (2005), ch. 1"
    )

    def __post_init__(self) -> None:
        refuse(self, self._faults())
        total = math.fsum(self.weights)
        kept = sorted(
            (value, weight / total)
            for value, weight in zip(self.values, self.weights, strict=True)
            if weight > 0.0
        )
        object.__setattr__(self, "values", tuple(value for value, _ in kept))
        object.__setattr__(self, "weights", tuple(weight for _, weight in kept))

    def _faults(self) -> list[str]:
        if len(self.values) != len(self.weights):
            return [f"{len(self.values)} values need as many weights, not {len(self.weights)}"]
        numbers = (*self.values, *self.weights)
        if not all(math.isfinite(number) for number in numbers):
            return ["values and weights must be finite numbers"]
        if min(self.weights, default=0.0) < 0.0:
            return ["weights must not be negative"]
        return [] if sum(self.weights) > 0.0 else ["at least one weight must be above zero"]

    @property
    def mean(self) -> float:
        """Mean of the amounts."""
        return math.fsum(v * w for v, w in zip(self.values, self.weights, strict=True))

    @property
    def bounds(self) -> tuple[float, float]:
        """Least and greatest amount that can come."""
        return self.values[0], self.values[-1]

    def quantile(self, u: Values) -> Values:
        """Amounts at the probabilities `u`, each in (0, 1)."""
        # The last step is left out: above the last but one every u takes the highest value, even
        # where rounding leaves the sum of the weights a little under 1.
        steps = np.cumsum(self.weights)[:-1]
        return np.asarray(self.values, dtype=np.float64)[np.searchsorted(steps, u, side="left")]


@dataclass(frozen=True, kw_only=True)
class BetaOdds:
    """A chance that is itself uncertain; weight is the number of past runs that it is worth."""

    mean: float
    weight: float
    source: ClassVar[str] = (
        "Johnson, Kotz & Balakrishnan, Continuous Univariate Distributions vol. 2 (1995), ch. 25"
    )

    def __post_init__(self) -> None:
        faults = unfinished(mean=self.mean, weight=self.weight)
        if not 0.0 <= self.mean <= 1.0:
            faults.append(f"mean {self.mean:g} must lie between 0 and 1")
        if self.weight <= 0.0:
            faults.append(f"weight {self.weight:g} must be above zero")
        refuse(self, faults)

    @property
    def _constant(self) -> bool:
        return self.mean in (0.0, 1.0)

    @property
    def bounds(self) -> tuple[float, float]:
        """Least and greatest amount that can come."""
        return (self.mean, self.mean) if self._constant else (0.0, 1.0)

    def quantile(self, u: Values) -> Values:
        """Amounts at the probabilities `u`, each in (0, 1)."""
        if self._constant:
            return np.full(u.shape, self.mean, dtype=np.float64)
        alpha, beta = self.mean * self.weight, (1.0 - self.mean) * self.weight
        return inverse_beta(u, alpha=alpha, beta=beta)
