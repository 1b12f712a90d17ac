"""Distributions with tails: lognormal, and normal and metalog, which are cut off exactly.

Mathematics
-----------
Phi, phi     distribution function and density of the standard normal
u0, u1       probabilities of the uncut distribution at the ends of the range;  w = u1 - u0
p, q         p = u0 + w u and q = 1 - p = (1 - u1) + w (1 - u). Both are carried, because 1 - p
             has lost its digits in the upper tail.

Lognormal    Q = median exp(s z),  s = ln(factor)/Phi^-1(0.9)    mean median exp(s^2/2)

Normal       Q = mu + sigma Phi^-1(p);  mean mu + sigma (phi(z0) - phi(z1))/w,
             z0, z1 = (least - mu)/sigma, (most - mu)/sigma

Metalog      Q = a1 + a2 L + a3 (p - 1/2) L,  L = ln(p/q)
             a1 = P50,  a2 = (P90 - P10)/(2 ln 9),  a3 = (P90 + P10 - 2 P50)/(0.8 ln 9)
             feasible when k < (P50 - P10)/(P90 - P10) < 1 - k,  k = 0.5 (1 - 1.66711 x 0.4)
             mean (A(u1) - A(u0))/w, with the antiderivative of Q before the cut
             A(u) = a1 u + a2 (u ln u + (1-u) ln(1-u)) + a3 ((u^2 - u) ln(u/(1-u)) + u)/2

Sources: Lognormal, Normal: Johnson, Kotz & Balakrishnan, Continuous Univariate Distributions
vol. 1 (1994), ch. 14 and 13. Metalog: Keelin (2016), The Metalog Distributions, Decision Analysis
13(4), three terms from a symmetric percentile triplet, feasibility in section 3.4.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated, ClassVar, Self

from pydantic import Field, PrivateAttr, model_validator

from econ.scenario.distributions.family import (
    UNLIMITED,
    Z90,
    Distribution,
    Finite,
    check_order,
    fault,
    parameter,
    same,
)

if TYPE_CHECKING:
    from econ.scenario.distributions.family import Values

LN9 = math.log(9.0)
LEAST_SKEW = 0.5 * (1.0 - 1.66711 * 0.4)  # k above
SMALLEST_SHARE = 1e-6  # a cut that leaves less than this is taken for a slip


class Lognormal(Distribution):
    """{median, factor}: lognormal with P90 = median x factor and P10 = median / factor."""

    name: ClassVar[str] = "lognormal"
    lengths: ClassVar[tuple[str, ...]] = ("median",)
    tailed: ClassVar[bool] = True
    median: Annotated[float, Field(allow_inf_nan=False, gt=0)] = parameter("Median, P50")
    factor: Annotated[float, Field(allow_inf_nan=False, le=1e6, ge=1)] = parameter(
        "P90 / P50, which is also P50 / P10", unit=False
    )

    @property
    def _sigma(self) -> float:
        return math.log(self.factor) / Z90

    def bounds(self) -> tuple[float, float]:
        """Least and greatest value."""
        return (self.median, self.median) if self.factor == 1 else (0.0, math.inf)

    def mass_outside(self, *, least: float, most: float) -> float:
        """Probability outside [least, most]."""
        if self.factor == 1:
            return float(not least <= self.median <= most)
        ends = (math.log(end / self.median) if end > 0 else -math.inf for end in (least, most))
        low, high = (end / self._sigma for end in ends)
        return _normal_tails(low=low, high=high)

    def ends_and_middle(self) -> tuple[float, float, float]:
        """P10, P50 and P90."""
        return self.median / self.factor, self.median, self.median * self.factor

    def expectation(self) -> float:
        """Mean of the amounts."""
        return self.median * math.exp(0.5 * self._sigma**2)

    def quantile(self, u: Values) -> Values:
        """Amounts at the probabilities `u`."""
        import numpy as np

        from econ.scenario.distributions.normal import ndtri

        return np.asarray(self.median * np.exp(self._sigma * ndtri(u)))


class _CutOff(Distribution):
    """A distribution without ends of its own, which is cut off at the range of its key."""

    tailed: ClassVar[bool] = True
    cut: ClassVar[bool] = True
    _range: tuple[float, float] = PrivateAttr(UNLIMITED)

    def within(self, *, least: float, most: float) -> Self:
        """The same distribution cut off at [least, most], of which it must keep a part."""
        if self._range == (least, most):
            return self
        if self.mass_outside(least=least, most=most) > 1.0 - SMALLEST_SHARE:
            raise ValueError(f"{self!r}: next to nothing of it lies from {least:g} to {most:g}")
        limited = self.model_copy()
        limited._range = (least, most)
        return limited

    def scaled(self, factor: float) -> Self:
        """The same distribution in another unit, its range with it."""
        changed = super().scaled(factor)
        least, most = self._range
        changed._range = (least * factor, most * factor)
        return changed


class Normal(_CutOff):
    """{mean, sd}: normal, cut off at the range of the key."""

    name: ClassVar[str] = "normal"
    lengths: ClassVar[tuple[str, ...]] = ("mean", "sd")
    mean: Finite = parameter("Mean")
    sd: Annotated[float, Field(allow_inf_nan=False, ge=0)] = parameter("Standard deviation")

    def _scores(self, *, least: float, most: float) -> tuple[float, float]:
        """Standard deviations from the mean to two ends."""
        return (least - self.mean) / self.sd, (most - self.mean) / self.sd

    def bounds(self) -> tuple[float, float]:
        """Least and greatest value."""
        return (self.mean, self.mean) if self.sd == 0 else self._range

    def mass_outside(self, *, least: float, most: float) -> float:
        """Probability outside [least, most] before the cut."""
        if self.sd == 0:
            return float(not least <= self.mean <= most)
        low, high = self._scores(least=least, most=most)
        return _normal_tails(low=low, high=high)

    def ends_and_middle(self) -> tuple[float, float, float]:
        """P10, P50 and P90, before the cut."""
        reach = Z90 * self.sd
        return self.mean - reach, self.mean, self.mean + reach

    def expectation(self) -> float:
        """Mean of the amounts after the cut; the key `mean` is the one before it."""
        if self.sd == 0:
            return self.mean
        (low, high), part = self._part()
        gap = math.exp(-0.5 * low * low) - math.exp(-0.5 * high * high)
        return self.mean + self.sd * gap / (math.sqrt(2.0 * math.pi) * part.inside)

    def quantile(self, u: Values) -> Values:
        """Amounts at the probabilities `u`."""
        import numpy as np

        from econ.scenario.distributions.normal import ndtri

        if self.sd == 0:
            return same(u, self.mean)
        (low, _), part = self._part()
        z = -ndtri(part.complement(u)) if low > 0.0 else ndtri(part.probability(u))
        return np.clip(self.mean + self.sd * z, *self._range)

    def _part(self) -> tuple[tuple[float, float], _Part]:
        """Scores of the ends of the range, and the part of the distribution between them."""
        least, most = self._range
        low, high = self._scores(least=least, most=most)
        return (low, high), _Part.between(_normal_below, low=low, high=high)


class Metalog(_CutOff):
    """{p10, p50, p90}: three-term metalog, cut off at the range of the key."""

    name: ClassVar[str] = "metalog"
    lengths: ClassVar[tuple[str, ...]] = ("p10", "p50", "p90")
    p10: Finite = parameter("Not exceeded 10 % of the time")
    p50: Finite = parameter("Median")
    p90: Finite = parameter("Not exceeded 90 % of the time")

    @model_validator(mode="after")
    def _check(self) -> Metalog:
        check_order(self, "p10", "p50", "p90")
        width = self.p90 - self.p10
        skew = (self.p50 - self.p10) / width if width else 0.5
        if not LEAST_SKEW < skew < 1.0 - LEAST_SKEW:
            low, high = self.p10 + LEAST_SKEW * width, self.p90 - LEAST_SKEW * width
            raise fault(
                given=f"p10 = {self.p10:.10g}, p50 = {self.p50:.10g}, p90 = {self.p90:.10g}",
                allowed=f"p50 between {low:.6g} and {high:.6g}, "
                "or no metalog passes through the three",
                suggestion="use {median, factor} for so skewed an amount",
            )
        return self

    @property
    def _terms(self) -> tuple[float, float, float]:
        """a1, a2 and a3."""
        bend = self.p90 + self.p10 - 2.0 * self.p50
        return self.p50, (self.p90 - self.p10) / (2.0 * LN9), bend / (0.8 * LN9)

    def bounds(self) -> tuple[float, float]:
        """Least and greatest value."""
        return (self.p50, self.p50) if self.p10 == self.p90 else self._range

    def mass_outside(self, *, least: float, most: float) -> float:
        """Probability outside [least, most] before the cut."""
        if self.p10 == self.p90:
            return float(not least <= self.p50 <= most)
        part = _metalog_part(self._terms, (least, most))
        return part.below + part.above

    def ends_and_middle(self) -> tuple[float, float, float]:
        """P10, P50 and P90, before the cut."""
        return self.p10, self.p50, self.p90

    def expectation(self) -> float:
        """Mean of the amounts after the cut."""
        if self.p10 == self.p90:
            return self.p50
        part = _metalog_part(self._terms, self._range)
        upper = self._integral(1.0 - part.above, part.above)
        lower = self._integral(part.below, 1.0 - part.below)
        return (upper - lower) / part.inside

    def _integral(self, u: float, v: float) -> float:
        """A(u), with v = 1 - u."""
        a1, a2, a3 = self._terms
        log_u, log_v = (math.log(p) if p > 0.0 else 0.0 for p in (u, v))  # p ln p is 0 at p = 0
        entropy = u * log_u + v * log_v
        return a1 * u + a2 * entropy + 0.5 * a3 * (u - u * v * (log_u - log_v))

    def quantile(self, u: Values) -> Values:
        """Amounts at the probabilities `u`."""
        import numpy as np

        if self.p10 == self.p90:
            return same(u, self.p50)
        a1, a2, a3 = self._terms
        part = _metalog_part(self._terms, self._range)
        p = part.probability(u)
        score = np.log(p) - np.log(part.complement(u))
        amount: Values = a1 + (a2 + a3 * (p - 0.5)) * score
        return np.clip(amount, *self._range)


@dataclass(frozen=True)
class _Part:
    """Probability below, inside and above a range of a symmetric standard distribution."""

    below: float
    inside: float
    above: float

    @classmethod
    def between(cls, cdf: Callable[[float], float], *, low: float, high: float) -> _Part:
        # A range above the middle is measured from the upper tail, where the digits are.
        inside = cdf(-low) - cdf(-high) if low > 0.0 else cdf(high) - cdf(low)
        return cls(below=cdf(low), inside=inside, above=cdf(-high))

    def probability(self, u: Values) -> Values:
        return self.below + self.inside * u

    def complement(self, u: Values) -> Values:
        return self.above + self.inside * (1.0 - u)


def _normal_tails(*, low: float, high: float) -> float:
    """Probability of a standard normal below `low` or above `high`."""
    return _normal_below(low) + _normal_below(-high)


def _normal_below(score: float) -> float:
    """Probability of a standard normal below `score`."""
    return 0.5 * math.erfc(-score / math.sqrt(2))


@functools.lru_cache(maxsize=512)
def _metalog_part(terms: tuple[float, float, float], ends: tuple[float, float]) -> _Part:
    """The part of a metalog between two ends, which takes two bisections."""
    low, high = (_metalog_score(terms, end) for end in ends)
    return _Part.between(_logistic, low=low, high=high)


def _metalog_score(terms: tuple[float, float, float], amount: float) -> float:
    """L = ln(u/(1 - u)) at the amount, by bisection to the last digit: Q rises with L."""
    if math.isinf(amount):
        return amount
    a1, a2, a3 = terms
    low, high = -700.0, 700.0  # e^-700 is the smallest probability worth telling from 0
    while low < (middle := 0.5 * (low + high)) < high:
        # u - 1/2 = tanh(L/2)/2
        if a1 + (a2 + 0.5 * a3 * math.tanh(0.5 * middle)) * middle < amount:
            low = middle
        else:
            high = middle
    return middle


def _logistic(score: float) -> float:
    """u at L = ln(u/(1 - u)), without overflow at either end."""
    if score < 0.0:
        return math.exp(score) / (1.0 + math.exp(score))
    return 1.0 / (1.0 + math.exp(-score))
