"""Normal and metalog, both cut to a range [least, most] exactly.

Mathematics
-----------
u0, u1   probabilities of the uncut distribution at least and most;  w = u1 - u0
p, q     p = u0 + w u and q = 1 - p = (1 - u1) + w (1 - u). Both are carried, because 1 - p has
         lost its digits in the upper tail.

Normal   Q = mu + sigma Phi^-1(p), with Phi, phi the standard normal and its density;
         mean mu + sigma (phi(z0) - phi(z1))/w,  z0, z1 = (least - mu)/sigma, (most - mu)/sigma

Metalog  Q = a1 + a2 L + a3 (p - 1/2) L,  L = ln(p/q)
         a1 = P50,  a2 = (P90 - P10)/(2 ln 9),  a3 = (P90 + P10 - 2 P50)/(0.8 ln 9)
         feasible when k < (P50 - P10)/(P90 - P10) < 1 - k,  k = 0.5 (1 - 1.66711 x 0.4)
         mean (A(u1) - A(u0))/w, with the antiderivative of Q before the cut
         A(u) = a1 u + a2 (u ln u + (1-u) ln(1-u)) + a3 ((u^2 - u) ln(u/(1-u)) + u)/2
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import ClassVar, Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr, ndtri

from econ.sampling.checks import disordered, refuse, unfinished

Values = NDArray[np.float64]

LN9: Final = math.log(9.0)
METALOG_SKEW_LIMIT: Final = 0.5 * (1.0 - 1.66711 * 0.4)
SMALLEST_SHARE: Final = 1e-6  # a cut that leaves less than this is taken for a slip


def _bad_cut(*, least: float, most: float) -> list[str]:
    if math.isnan(least) or math.isnan(most):
        return ["least and most must be numbers; leave them out where there is no limit"]
    return [] if least < most else [f"least {least:g} must be below most {most:g}"]


@dataclass(frozen=True)
class _Cut:
    """Probability below, inside and above a cut range of a symmetric standard distribution."""

    below: float
    inside: float
    above: float

    @classmethod
    def of(cls, cdf: Callable[[float], float], *, low: float, high: float) -> _Cut:
        # A range above the middle is measured from the upper tail, where the digits are.
        inside = cdf(-low) - cdf(-high) if low > 0.0 else cdf(high) - cdf(low)
        return cls(below=cdf(low), inside=inside, above=cdf(-high))

    def fault(self, *, least: float, most: float) -> list[str]:
        if self.inside >= SMALLEST_SHARE:
            return []
        return [
            f"the range from least {least:g} to most {most:g} keeps less than "
            f"{SMALLEST_SHARE:g} of it: move the limits or the middle"
        ]

    def probability(self, u: Values) -> Values:
        return self.below + self.inside * u

    def complement(self, u: Values) -> Values:
        return self.above + self.inside * (1.0 - u)


@dataclass(frozen=True, init=False, repr=False)
class Normal:
    """Normal, cut to [least, most]. `location` is the mean before the cut, `mean` the one after.

    Written `Normal(mean=..., sd=..., least=..., most=...)`.
    """

    location: float
    sd: float
    least: float
    most: float
    source: ClassVar[str] = (
        "Johnson, Kotz & Balakrishnan, Continuous Univariate Distributions vol. 1 (1994), ch. 13"
    )

    def __init__(
        self, *, mean: float, sd: float, least: float = -math.inf, most: float = math.inf
    ) -> None:
        for name, number in (("location", mean), ("sd", sd), ("least", least), ("most", most)):
            object.__setattr__(self, name, number)
        faults = unfinished(mean=mean, sd=sd)
        if sd < 0.0:
            faults.append(f"sd {sd:g} must not be negative")
        faults += _bad_cut(least=least, most=most)
        if not faults and sd == 0.0 and not least <= mean <= most:
            faults.append(f"mean {mean:g} with no spread must lie between least and most")
        if not faults and sd > 0.0:
            faults += self._cut.fault(least=least, most=most)
        refuse(self, faults)

    def __repr__(self) -> str:
        return (
            f"Normal(mean={self.location!r}, sd={self.sd!r}, "
            f"least={self.least!r}, most={self.most!r})"
        )

    @cached_property
    def _scores(self) -> tuple[float, float]:
        return (self.least - self.location) / self.sd, (self.most - self.location) / self.sd

    @cached_property
    def _cut(self) -> _Cut:
        low, high = self._scores
        return _Cut.of(lambda z: float(ndtr(z)), low=low, high=high)

    @property
    def mean(self) -> float:
        """Mean of the amounts."""
        if self.sd == 0.0:
            return self.location
        low, high = self._scores
        gap = math.exp(-0.5 * low * low) - math.exp(-0.5 * high * high)
        return self.location + self.sd * gap / (math.sqrt(2.0 * math.pi) * self._cut.inside)

    @property
    def bounds(self) -> tuple[float, float]:
        """Least and greatest amount that can come."""
        return (self.least, self.most) if self.sd > 0.0 else (self.location, self.location)

    def quantile(self, u: Values) -> Values:
        """Amounts at the probabilities `u`, each in (0, 1)."""
        if self.sd == 0.0:
            return np.full(u.shape, self.location, dtype=np.float64)
        if self._scores[0] > 0.0:
            z = -ndtri(self._cut.complement(u))
        else:
            z = ndtri(self._cut.probability(u))
        return np.clip(self.location + self.sd * z, self.least, self.most)


@dataclass(frozen=True, kw_only=True)
class Metalog:
    """Smooth curve through P10, P50 and P90 (before the cut), cut to [least, most]."""

    p10: float
    p50: float
    p90: float
    least: float = -math.inf
    most: float = math.inf
    source: ClassVar[str] = (
        "Keelin (2016), The Metalog Distributions, Decision Analysis 13(4), three terms from a "
        "symmetric percentile triplet"
    )

    def __post_init__(self) -> None:
        percentiles = {"p10": self.p10, "p50": self.p50, "p90": self.p90}
        faults = unfinished(**percentiles) or disordered(**percentiles)
        faults += _bad_cut(least=self.least, most=self.most)
        if not faults and self._constant and not self.least <= self.p50 <= self.most:
            faults.append(f"p50 {self.p50:g} with no spread must lie between least and most")
        if not faults and not self._constant:
            faults += self._skew_fault() or self._cut.fault(least=self.least, most=self.most)
        refuse(self, faults)

    @property
    def _constant(self) -> bool:
        return self.p10 == self.p90

    def _skew_fault(self) -> list[str]:
        k = METALOG_SKEW_LIMIT
        width = self.p90 - self.p10
        if k < (self.p50 - self.p10) / width < 1.0 - k:
            return []
        low, high = self.p10 + k * width, self.p90 - k * width
        return [
            f"p50 {self.p50:g} lies too near p10 or p90: no metalog joins the three unless p50 is "
            f"between {low:.6g} and {high:.6g}; move p50 or use another shape"
        ]

    @cached_property
    def _terms(self) -> tuple[float, float, float]:
        bend = self.p90 + self.p10 - 2.0 * self.p50
        return self.p50, (self.p90 - self.p10) / (2.0 * LN9), bend / (0.8 * LN9)

    @cached_property
    def _cut(self) -> _Cut:
        return _Cut.of(_logistic, low=self._score(self.least), high=self._score(self.most))

    def _score(self, amount: float) -> float:
        """L = ln(u/(1 - u)) at the amount, by bisection to the last digit: Q rises with L."""
        if math.isinf(amount):
            return amount
        a1, a2, a3 = self._terms
        low, high = -700.0, 700.0  # e^-700 is the smallest probability worth telling from 0
        while low < (middle := 0.5 * (low + high)) < high:
            # u - 1/2 = tanh(L/2)/2
            if a1 + (a2 + 0.5 * a3 * math.tanh(0.5 * middle)) * middle < amount:
                low = middle
            else:
                high = middle
        return middle

    @property
    def mean(self) -> float:
        """Mean of the amounts."""
        if self._constant:
            return self.p50
        cut = self._cut
        upper = self._integral(1.0 - cut.above, cut.above)
        lower = self._integral(cut.below, 1.0 - cut.below)
        return (upper - lower) / cut.inside

    def _integral(self, u: float, v: float) -> float:
        """A(u), with v = 1 - u."""
        a1, a2, a3 = self._terms
        log_u, log_v = (math.log(p) if p > 0.0 else 0.0 for p in (u, v))  # p ln p is 0 at p = 0
        spread = u * log_u + v * log_v
        return a1 * u + a2 * spread + 0.5 * a3 * (u - u * v * (log_u - log_v))

    @property
    def bounds(self) -> tuple[float, float]:
        """Least and greatest amount that can come."""
        return (self.p50, self.p50) if self._constant else (self.least, self.most)

    def quantile(self, u: Values) -> Values:
        """Amounts at the probabilities `u`, each in (0, 1)."""
        if self._constant:
            return np.full(u.shape, self.p50, dtype=np.float64)
        a1, a2, a3 = self._terms
        p = self._cut.probability(u)
        score = np.log(p) - np.log(self._cut.complement(u))
        amount: Values = a1 + (a2 + a3 * (p - 0.5)) * score
        return np.clip(amount, self.least, self.most)


def _logistic(score: float) -> float:
    """u at L = ln(u/(1 - u)), without overflow at either end."""
    if score < 0.0:
        return math.exp(score) / (1.0 + math.exp(score))
    return 1.0 / (1.0 + math.exp(-score))
