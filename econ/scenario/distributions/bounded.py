"""Distributions between two ends: uniform, PERT, triangle, discrete, and Beta for a chance.

Mathematics
-----------
u, Q(u)      probability [fraction] and the amount at it

Uniform      Q = a + (b - a) u                                   mean (a + b)/2
Pert         Q = a + (b - a) x(u), x from Beta(alpha, beta)      mean (a + 4 m + b)/6
             alpha = 1 + 4 (m - a)/(b - a),  beta = 1 + 4 (b - m)/(b - a)
Triangle     Q = a + sqrt(u (b - a)(m - a))        for u <= (m - a)/(b - a),
             Q = b - sqrt((1 - u)(b - a)(b - m))   above         mean (a + m + b)/3
Discrete     Q = the first value whose cumulative weight reaches u
Beta         Q = x(u) from Beta(mean weight, (1 - mean) weight)

Sources: Uniform, Beta: Johnson, Kotz & Balakrishnan, Continuous Univariate Distributions vol. 2
(1995), ch. 26 and 25. Pert: Malcolm, Roseboom, Clark & Fazar (1959), Application of a Technique
for Research and Development Program Evaluation, Operations Research 7(5). Triangle: Kotz & van
Dorp, Beyond Beta (2004), ch. 1. Discrete: Johnson, Kemp & Kotz, Univariate Discrete
Distributions, 3rd ed. (2005), ch. 1.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Annotated, ClassVar, Literal

from pydantic import Field, model_validator

from econ.scenario.distributions.family import (
    Distribution,
    Finite,
    check_order,
    fault,
    parameter,
    same,
)

if TYPE_CHECKING:
    from econ.scenario.distributions.family import Values

MOST_VALUES = 100  # of a discrete distribution
LEAST_WEIGHT = 1e-9  # cases that a Beta rests on: with none it is no distribution


class Uniform(Distribution):
    """{low, high}: every value between the two is equally likely."""

    name: ClassVar[str] = "uniform"
    lengths: ClassVar[tuple[str, ...]] = ("low", "high")
    low: Finite = parameter("Least value")
    high: Finite = parameter("Greatest value")

    @model_validator(mode="after")
    def _check(self) -> Uniform:
        check_order(self, "low", "high")
        return self

    def bounds(self) -> tuple[float, float]:
        """Least and greatest value."""
        return self.low, self.high

    def expectation(self) -> float:
        """Mean of the amounts."""
        return 0.5 * (self.low + self.high)

    def quantile(self, u: Values) -> Values:
        """Amounts at the probabilities `u`."""
        return self.low + (self.high - self.low) * u


class Pert(Distribution):
    """{low, likely, high}: PERT."""

    name: ClassVar[str] = "PERT"
    lengths: ClassVar[tuple[str, ...]] = ("low", "likely", "high")
    low: Finite = parameter("Least value")
    likely: Finite = parameter("Most likely value")
    high: Finite = parameter("Greatest value")

    @model_validator(mode="after")
    def _check(self) -> Pert:
        check_order(self, "low", "likely", "high")
        return self

    def bounds(self) -> tuple[float, float]:
        """Least and greatest value."""
        return self.low, self.high

    def ends_and_middle(self) -> tuple[float, float, float]:
        """Least, most likely and greatest value."""
        return self.low, self.likely, self.high

    def expectation(self) -> float:
        """Mean of the amounts."""
        return (self.low + 4.0 * self.likely + self.high) / 6.0

    def quantile(self, u: Values) -> Values:
        """Amounts at the probabilities `u`."""
        from econ.scenario.distributions.inverse_beta import inverse_beta

        width = self.high - self.low
        if width == 0.0:
            return same(u, self.low)
        alpha = 1.0 + 4.0 * (self.likely - self.low) / width
        beta = 1.0 + 4.0 * (self.high - self.likely) / width
        return self.low + width * inverse_beta(u, alpha=alpha, beta=beta)


class Triangle(Pert):
    """{low, likely, high, shape = "triangle"}: triangle."""

    name: ClassVar[str] = "triangle"
    shape: Literal["triangle"] = Field(description="Set for a triangle instead of a PERT")

    def expectation(self) -> float:
        """Mean of the amounts."""
        return (self.low + self.likely + self.high) / 3.0

    def quantile(self, u: Values) -> Values:
        """Amounts at the probabilities `u`."""
        import numpy as np

        width = self.high - self.low
        rising, falling = self.likely - self.low, self.high - self.likely
        return np.where(
            u * width <= rising,
            self.low + np.sqrt(u * (width * rising)),
            self.high - np.sqrt((1.0 - u) * (width * falling)),
        )


class Discrete(Distribution):
    """{values, weights}: the listed values with weights that need not sum to 1."""

    name: ClassVar[str] = "discrete"
    lengths: ClassVar[tuple[str, ...]] = ("values",)
    values: Annotated[list[Finite], Field(min_length=1, max_length=MOST_VALUES)] = parameter(
        "The values"
    )
    weights: Annotated[
        list[Annotated[float, Field(allow_inf_nan=False, ge=0)]],
        Field(min_length=1, max_length=MOST_VALUES),
    ] = parameter("Their weights, which need not sum to 1", unit=False)

    @model_validator(mode="after")
    def _check(self) -> Discrete:
        if len(self.values) != len(self.weights) or sum(self.weights) <= 0:
            raise fault(
                given=f"{len(self.values)} values and {len(self.weights)} weights "
                f"that sum to {sum(self.weights):.10g}",
                allowed="one weight for each value, with a sum above 0",
            )
        return self

    def shares(self) -> tuple[tuple[float, ...], tuple[float, ...]]:
        """The values that can come, in rising order, and their chances, which sum to 1."""
        total = math.fsum(self.weights)
        pairs = zip(self.values, self.weights, strict=True)
        kept = sorted((value, weight / total) for value, weight in pairs if weight > 0.0)
        return tuple(value for value, _ in kept), tuple(share for _, share in kept)

    def bounds(self) -> tuple[float, float]:
        """Least and greatest value listed."""
        return min(self.values), max(self.values)

    def ends_and_middle(self) -> tuple[float, float, float]:
        """Least value, weighted median and greatest value."""
        low, high = self.bounds()
        half, reached, middle = 0.5 * sum(self.weights), 0.0, high
        for value, weight in sorted(zip(self.values, self.weights, strict=True)):
            reached += weight
            if reached >= half:
                middle = value
                break
        return low, middle, high

    def expectation(self) -> float:
        """Mean of the amounts."""
        return math.fsum(value * share for value, share in zip(*self.shares(), strict=True))

    def quantile(self, u: Values) -> Values:
        """Amounts at the probabilities `u`."""
        import numpy as np

        values, shares = self.shares()
        # The last step is left out: above the last but one every u takes the highest value, even
        # where rounding leaves the sum of the shares a little under 1.
        steps = np.cumsum(shares)[:-1]
        return np.asarray(values, dtype=np.float64)[np.searchsorted(steps, u, side="left")]


class Beta(Distribution):
    """{mean, weight}: a chance known from about `weight` cases, Beta distributed."""

    name: ClassVar[str] = "Beta"
    lengths: ClassVar[tuple[str, ...]] = ()
    tailed: ClassVar[bool] = True
    mean: Annotated[float, Field(allow_inf_nan=False, ge=0, le=1)] = parameter("Mean")
    weight: Annotated[float, Field(allow_inf_nan=False, ge=LEAST_WEIGHT)] = parameter(
        "About how many cases it is known from", unit=False
    )

    def _shape(self) -> tuple[float, float]:
        return self.mean * self.weight, (1.0 - self.mean) * self.weight

    def bounds(self) -> tuple[float, float]:
        """Least and greatest value."""
        return (0.0, 1.0) if min(self._shape()) > 0.0 else (self.mean, self.mean)

    def ends_and_middle(self) -> tuple[float, float, float]:
        """The mean three times: the ends, 0 and 1, say nothing of the chance."""
        return self.mean, self.mean, self.mean

    def expectation(self) -> float:
        """Mean of the chance."""
        return self.mean

    def quantile(self, u: Values) -> Values:
        """Chances at the probabilities `u`."""
        from econ.scenario.distributions.inverse_beta import inverse_beta

        alpha, beta = self._shape()
        if min(alpha, beta) == 0.0:
            return same(u, self.mean)
        return inverse_beta(u, alpha=alpha, beta=beta)
