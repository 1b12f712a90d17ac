"""What a number of a scenario measures: its dimension, unit and allowed range.

A `Quantity` stands in the annotation of every numeric key. From it come the range
check, the words of a message, the JSON schema, the table of keys and the conversion
of a metric file to the one system used inside (ft, in, lb, lb/gal, h, fractions).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, get_args

from pydantic import GetCoreSchemaHandler, GetJsonSchemaHandler
from pydantic_core import CoreSchema, PydanticCustomError, core_schema

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
# A divisor (a speed, 1 - failure) that comes near 0 in more than so few draws makes the mean
# of its quotient endless: the tail of a normal or metalog must end well before.
MOST_MASS_AT_OPEN_END = 1e-6
LARGEST = 1e15  # a number beyond is a slip, and its products could overflow
MOST_MASS_OUTSIDE = 0.01  # a wider tail past the range is refused, a thinner one cut off


@dataclass(frozen=True)
class Quantity:
    """Dimension and allowed range (field units) of a number or distribution."""

    dimension: str
    least: float = float("-inf")
    most: float = float("inf")
    above: bool = False  # the range is open at `least`
    below: bool = False  # the range is open at `most`

    def unit(self, system: str) -> str:
        """Unit in words for a file in `system` ("field" or "metric")."""
        field, metric, _ = UNITS[self.dimension]
        return field if system == "field" else metric

    def allowed(self) -> str:
        """The range in words, in field units."""
        low, high = f"{self.least:.10g}", f"{self.most:.10g}"
        if self.most == float("inf"):
            return f"more than {low}" if self.above else f"{low} or more"
        if self.above or self.below:
            return (
                f"{'more than' if self.above else 'from'} {low} "
                f"{'to less than' if self.below else 'up to'} {high}"
            )
        return f"from {low} to {high}"

    def holds(self, value: float) -> bool:
        """Whether a plain number lies in the range."""
        over = value > self.least if self.above else value >= self.least
        under = value < self.most if self.below else value <= self.most
        return over and under

    def check(self, value: Any) -> Any:
        """Return `value`, or raise the fault that it leaves the range."""
        for part in _numbers(value):
            largest = max(_magnitudes(part), default=0.0)
            if largest > LARGEST:
                raise PydanticCustomError(
                    "too_large",
                    "{given}",
                    {
                        "given": f"{largest:.10g}",
                        "allowed": f"at most {LARGEST:g}",
                        "suggestion": "",
                    },
                )
            if isinstance(part, (int, float)):
                if not self.holds(part):
                    raise self.fault(f"{part:.10g}")
                continue
            if part.name == "Beta" and self.dimension not in ("chance", "share"):
                raise self.fault("a Beta distribution {mean, weight}, which is for chances")
            low, high = part.bounds()
            outside = part.mass_outside(least=self.least, most=self.most)
            if not part.bounded and outside > MOST_MASS_OUTSIDE:
                raise PydanticCustomError(
                    "tail_outside",
                    "{given}",
                    {
                        "given": f"a distribution with {outside:.1%} of it outside the range",
                        "allowed": f"{self.allowed()}; at most 1% outside, which is cut off",
                        "suggestion": "narrow it, or use {median, factor}, which stays positive",
                    },
                )
            at_open_end = self.above * part.mass_outside(least=self.least, most=float("inf"))
            at_open_end += self.below * part.mass_outside(least=float("-inf"), most=self.most)
            if not part.bounded and at_open_end > MOST_MASS_AT_OPEN_END:
                raise PydanticCustomError(
                    "tail_at_open_end",
                    "{given}",
                    {
                        "given": f"a distribution with {at_open_end:.2g} of it at or past the end",
                        "allowed": f"{self.allowed()}, with no tail near the end, because it "
                        "is divided by and the mean would have no end",
                        "suggestion": "use {low, likely, high} or {median, factor}",
                    },
                )
            if part.bounded and not (self.holds(low) and self.holds(high)):
                start = f"from {low:.10g}" if low == 0 or abs(low) > 1e-300 else "from above 0"
                raise self.fault(f"a distribution {start} to {high:.10g}")
        return value

    def fault(self, given: str) -> PydanticCustomError:
        """The fault of a value that leaves the range."""
        return PydanticCustomError(
            "out_of_range",
            "{given}",
            {"given": given, "allowed": self.allowed(), "suggestion": ""},
        )

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


def _numbers(value: Any) -> list[Any]:
    if isinstance(value, (list, tuple)):
        return [number for item in value for number in _numbers(item)]
    return [] if value is None else [value]


def _magnitudes(part: Any) -> list[float]:
    """Sizes of a number, or of the parameters of a distribution."""
    if isinstance(part, (int, float)):
        return [abs(part)]
    return [abs(number) for value in part.parameters().values() for number in _numbers(value)]
