"""What a number of a scenario measures: its dimension, unit and allowed range.

A `Quantity` stands in the annotation of every numeric key. From it come the range
check, the words of a message, the JSON schema, the table of keys and the conversion
of a metric file to the one system used inside (ft, in, lb, lb/gal, h, fractions).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, LiteralString, get_args

from pydantic import GetCoreSchemaHandler, GetJsonSchemaHandler
from pydantic_core import CoreSchema, PydanticCustomError, core_schema

from econ.scenario.distributions import Beta, Distribution

# dimension: (unit in a field file, unit in a metric file, factor metric -> field)
# Factors: 1 ft = 0.3048 m, 1 in = 25.4 mm, 1 lb = 0.45359237 kg exactly
# (international yard and pound, 1959); 1 US gal = 3.785411784 dm3.
UNITS: dict[str, tuple[str, str, float]] = {
    "length": ("ft", "m", 1 / 0.3048),
    "diameter": ("in", "mm", 1 / 25.4),
    "speed": ("ft/h", "m/h", 1 / 0.3048),
    "weight": ("lb", "kg", 1 / 0.45359237),
    "density": ("lb/gal", "kg/m3", 3.785411784e-3 / 0.45359237),
    "money per length": ("currency/ft", "currency/m", 0.3048),
    "money": ("currency", "currency", 1.0),
    "money per day": ("currency/d", "currency/d", 1.0),
    "hours": ("h", "h", 1.0),
    "days": ("d", "d", 1.0),
    "angle": ("degrees", "degrees", 1.0),
    "chance": ("fraction", "fraction", 1.0),
    "share": ("fraction", "fraction", 1.0),
    "ratio": ("ratio", "ratio", 1.0),
    "count": ("count", "count", 1.0),
}
# The open end of a range is where something would be divided by 0 (a speed, a bit life, one less
# the chance that a plug fails). A number keeps at least this far from it [unit of the file], and
# a tail may not reach it: in more than so few draws it would leave the quotient without a mean.
LEAST_DIVISOR = 1e-9
MOST_MASS_AT_OPEN_END = 1e-6
LARGEST = 1e15  # a number beyond is a slip, and its products could overflow
MOST_MASS_OUTSIDE = 0.01  # a wider tail past the range is refused, a thinner one cut off


@dataclass(frozen=True)
class Quantity:
    """Dimension and allowed range (field units) of a number or distribution."""

    dimension: str
    least: float = float("-inf")
    most: float = float("inf")
    above: bool = False  # `least` is an open end: something is divided by the gap to it
    below: bool = False  # `most` is an open end

    @property
    def lowest(self) -> float:
        """Least number that is allowed."""
        return self.least + LEAST_DIVISOR if self.above else self.least

    @property
    def highest(self) -> float:
        """Greatest number that is allowed."""
        return self.most - LEAST_DIVISOR if self.below else self.most

    def unit(self, system: str) -> str:
        """Unit in words for a file in `system` ("field" or "metric")."""
        field, metric, _ = UNITS[self.dimension]
        return field if system == "field" else metric

    def allowed(self) -> str:
        """The range in words, in field units."""
        low, high = f"{self.lowest:.10g}", f"{self.highest:.10g}"
        return f"{low} or more" if self.most == float("inf") else f"from {low} to {high}"

    def plain(self) -> str:
        """The range in words for a form, where no number near 0 is asked for."""
        low = f"more than {self.least:g}" if self.above else f"{self.least:g} or more"
        if self.most == float("inf"):
            return low
        high = f"less than {self.most:g}" if self.below else f"{self.most:g}"
        if not self.above and not self.below:
            return f"from {self.least:g} to {high}"
        return f"{low}, {high}" if self.below else f"{low}, up to {high}"

    def holds(self, value: float) -> bool:
        """Whether a plain number lies in the range."""
        return self.lowest <= value <= self.highest

    def check(self, value: Any) -> Any:
        """Return `value`, a distribution cut off at the range, or raise the fault that it leaves
        the range."""
        if value is None:
            return value
        numbers = _numbers(value.parameters()) if isinstance(value, Distribution) else [value]
        largest = max(map(abs, numbers), default=0.0)
        if largest > LARGEST:
            raise _fault("too_large", f"{largest:.10g}", f"at most {LARGEST:g}")
        if not isinstance(value, Distribution):
            if not self.holds(value):
                raise self.fault(f"{value:.10g}")
            return value
        self._check_distribution(value)
        return value.within(least=self.least, most=self.most)

    def _check_distribution(self, given: Distribution) -> None:
        """Raise the fault of a distribution that leaves the range or comes too near an open end."""
        if isinstance(given, Beta) and self.dimension not in ("chance", "share"):
            raise self.fault("a Beta distribution {mean, weight}, which is for chances")
        low, high = given.bounds()
        if low == high:
            if not self.holds(low):
                raise self.fault(f"a distribution of {low:.10g} alone")
            return
        if given.cut:
            outside = given.mass_outside(least=self.least, most=self.most)
            if outside > MOST_MASS_OUTSIDE:
                raise _fault(
                    "tail_outside",
                    f"a distribution with {outside:.1%} of it outside the range",
                    f"{self.allowed()}; at most 1% outside, which is cut off",
                    "narrow it, or use {median, factor}, which stays positive",
                )
        elif not (self.least <= low and high <= self.most):
            raise self.fault(f"a distribution {_from(low, given)} to {high:.10g}")
        if not given.tailed:
            if not (self.holds(low) and self.holds(high)):
                raise self.fault(f"a distribution {_from(low, given)} to {high:.10g}")
            return
        least = self.lowest if self.above else float("-inf")
        most = self.highest if self.below else float("inf")
        at_open_end = given.mass_outside(least=least, most=most)
        if at_open_end > MOST_MASS_AT_OPEN_END:
            raise _fault(
                "tail_at_open_end",
                f"a distribution with {at_open_end:.2g} of it at or past the end",
                f"{self.allowed()}, with no tail near the end, because it is divided by and the "
                "mean would have no end",
                "use {low, likely, high} or a narrower {median, factor}",
            )
        if self.below and isinstance(given, Beta) and (1 - given.mean) * given.weight <= 2:
            # Retries q/(1 - q) under Beta(a, b) have a mean only for b > 1, a variance for b > 2.
            raise _fault(
                "endless_retries",
                f"mean = {given.mean:g} and weight = {given.weight:g}",
                "(1 - mean) x weight above 2, or the number of retries has no finite spread",
                f"weight = {3 / (1 - given.mean):.3g} or {{low, likely, high}}",
            )

    def fault(self, given: str) -> PydanticCustomError:
        """The fault of a value that leaves the range."""
        return _fault("out_of_range", given, self.allowed())

    def __get_pydantic_core_schema__(
        self, source: Any, handler: GetCoreSchemaHandler
    ) -> CoreSchema:
        return core_schema.no_info_after_validator_function(self.check, handler(source))

    def __get_pydantic_json_schema__(
        self, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        described = dict(handler(schema))
        field, metric, _ = UNITS[self.dimension]
        described["x-unit"] = field if field == metric else f"{field} (metric file: {metric})"
        described["x-range"] = self.allowed()
        return described


def quantity_of(annotation: Any, metadata: Any = ()) -> Quantity | None:
    """The `Quantity` of a key, looked for in its metadata and inside its annotation."""
    for item in metadata:
        if isinstance(item, Quantity):
            return item
    for inner in get_args(annotation):
        if isinstance(inner, Quantity):
            return inner
        found = quantity_of(inner, getattr(inner, "__metadata__", ()))
        if found:
            return found
    return None


def _fault(kind: LiteralString, given: str, allowed: str, todo: str = "") -> PydanticCustomError:
    parts = {"given": given, "allowed": allowed, "suggestion": todo}
    return PydanticCustomError(kind, "{given}", parts)


def _from(low: float, given: Distribution) -> str:
    """The lower end in words; one that is only approached is not reached."""
    return "from above 0" if given.tailed and low == 0 else f"from {low:.10g}"


def _numbers(parameters: dict[str, Any]) -> list[float]:
    """The numbers among the parameters of a distribution."""
    lists = (value if isinstance(value, list) else [value] for value in parameters.values())
    return [number for numbers in lists for number in numbers]
