"""What all distributions of uncertain amounts have in common.

A distribution is the table of a file that it is written as: its fields are the keys of that
table, and pydantic checks them. It also knows its bounds, its exact mean, its quantiles and how
it is written in another unit. NumPy and SciPy are imported only where quantiles are computed, so
that a file can be checked without them.
"""

from __future__ import annotations

import math
from abc import ABC, abstractmethod
from typing import TYPE_CHECKING, Annotated, Any, ClassVar, Self

from pydantic import BaseModel, ConfigDict, Field, JsonValue
from pydantic_core import PydanticCustomError

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Values = NDArray[np.float64]

Finite = Annotated[float, Field(allow_inf_nan=False)]
# A parameter is in the unit, and lies in the range, of the key that the distribution is given to.
AS_KEY: dict[str, JsonValue] = {"x-unit": "that of the key", "x-range": "that of the key"}


def parameter(text: str, *, unit: bool = True) -> Any:
    """A documented parameter of a distribution, with the unit of its key or a pure number."""
    return Field(description=text, json_schema_extra=AS_KEY if unit else {"x-unit": "ratio"})


class Distribution(BaseModel, ABC):
    """A distribution of an uncertain amount, in the unit of the key that it is given to."""

    model_config = ConfigDict(strict=True, extra="forbid", frozen=True)
    name: ClassVar[str]
    lengths: ClassVar[tuple[str, ...]]  # the parameters that carry the unit of the amount
    tailed: ClassVar[bool] = False  # its density falls to nothing toward the ends of its bounds
    cut: ClassVar[bool] = False  # it has no ends of its own, and is cut off at the range of its key

    @abstractmethod
    def bounds(self) -> tuple[float, float]:
        """Least and greatest amount that can come; both alike where nothing is uncertain."""

    @abstractmethod
    def expectation(self) -> float:
        """Exact mean of the amounts, after the cut."""

    @abstractmethod
    def quantile(self, u: Values) -> Values:
        """Amounts not exceeded with the probabilities `u`, each in (0, 1); of the same shape."""

    def mass_outside(self, *, least: float, most: float) -> float:
        """Probability outside [least, most] before a cut, of a tailed distribution; else 0."""
        return 0.0

    def ends_and_middle(self) -> tuple[float, float, float]:
        """Low, middle and high of the amounts as a reader would say them: least, likely and
        greatest, or P10, P50 and P90 where the ends are tails."""
        low, high = self.bounds()
        return low, 0.5 * (low + high), high

    def within(self, *, least: float, most: float) -> Self:
        """The same distribution, cut off at [least, most] if it is one that is cut off."""
        return self

    def parameters(self) -> dict[str, Any]:
        """Parameters by name."""
        return {name: getattr(self, name) for name in type(self).model_fields if name != "shape"}

    def scaled(self, factor: float) -> Self:
        """The same distribution in another unit, `factor` times the numbers."""
        changed = {
            name: [v * factor for v in value] if isinstance(value, list) else value * factor
            for name in self.lengths
            for value in [getattr(self, name)]
        }
        return self.model_copy(update=changed)


def check_order(distribution: Distribution, *names: str) -> None:
    """Refuse a distribution whose named parameters do not rise in this order."""
    values = [getattr(distribution, name) for name in names]
    if values != sorted(values):
        pairs = zip(names, values, strict=True)
        raise fault(
            given=", ".join(f"{name} = {value:.10g}" for name, value in pairs),
            allowed=" <= ".join(names),
            suggestion="put the values in rising order",
        )


def fault(*, given: str, allowed: str, suggestion: str = "") -> PydanticCustomError:
    """A fault in the parts that a message is made of."""
    parts = {"given": given, "allowed": allowed, "suggestion": suggestion}
    return PydanticCustomError("distribution", "{given}", parts)


def same(u: Values, amount: float) -> Values:
    """The one amount of a distribution in which nothing is uncertain, in the shape of `u`."""
    import numpy as np

    return np.full(u.shape, amount, dtype=np.float64)


Z90 = 1.2815515655446004  # standard normal, not exceeded 90 % of the time; any table of it
UNLIMITED = (-math.inf, math.inf)
