"""The forms in which a file may write an amount: a number, or one of eight tables.

Which table is meant follows from its keys; a misspelt key is matched to the nearest
form so that the message can name it. The forms hold parameters and what can be checked
without arrays; their quantile functions are in `econ.sampling`.
"""

from __future__ import annotations

import difflib
import math
from typing import Annotated, Any, ClassVar, Literal

from pydantic import (
    BaseModel,
    ConfigDict,
    Discriminator,
    Field,
    JsonValue,
    Tag,
    model_validator,
)
from pydantic_core import PydanticCustomError

# Feasibility of a three-term metalog from p10, p50, p90: the median must lie between
# the fractions k and 1 - k of the way from p10 to p90, k = (1 - 1.66711 (1/2 - 0.1))/2.
# Keelin, "The Metalog Distributions", Decision Analysis 13(4), 2016, section 3.4.
METALOG_LEAST_SKEW = 0.5 * (1 - 1.66711 * (0.5 - 0.1))

_JUST_ABOVE_0 = math.nextafter(0.0, 1.0)  # an open end that an open range accepts
_JUST_BELOW_1 = math.nextafter(1.0, 0.0)

Finite = Annotated[float, Field(allow_inf_nan=False)]
Positive = Annotated[float, Field(allow_inf_nan=False, gt=0)]
# A parameter is in the unit, and lies in the range, of the key that the form is given to.
AS_KEY: dict[str, JsonValue] = {"x-unit": "that of the key", "x-range": "that of the key"}


def parameter(text: str, *, unit: bool = True) -> Any:
    """A documented parameter of a distribution, with the unit of its key or a pure number."""
    return Field(description=text, json_schema_extra=AS_KEY if unit else {"x-unit": "ratio"})


class Form(BaseModel):
    """A distribution as written in the file."""

    model_config = ConfigDict(strict=True, extra="forbid", frozen=True)
    name: ClassVar[str]
    bounded: ClassVar[bool] = True
    lengths: ClassVar[tuple[str, ...]]  # the parameters that carry the unit of the amount

    def bounds(self) -> tuple[float, float]:
        """Least and greatest value."""
        return -math.inf, math.inf

    def mass_outside(self, *, least: float, most: float) -> float:
        """Probability outside [least, most], for the forms without bounds."""
        return 0.0

    def parameters(self) -> dict[str, Any]:
        """Parameters by name."""
        return {name: getattr(self, name) for name in type(self).model_fields if name != "shape"}

    def scaled(self, factor: float) -> Form:
        """The same distribution in another unit."""
        changed = {
            name: [v * factor for v in value] if isinstance(value, list) else value * factor
            for name in self.lengths
            for value in [getattr(self, name)]
        }
        return self.model_copy(update=changed)


def _ordered(form: Form, *names: str) -> None:
    values = [getattr(form, name) for name in names]
    if values != sorted(values):
        raise PydanticCustomError(
            "order",
            "{given}",
            {
                "given": ", ".join(f"{n} = {v:.10g}" for n, v in zip(names, values, strict=True)),
                "allowed": " <= ".join(names),
                "suggestion": "put the values in rising order",
            },
        )


class UniformForm(Form):
    """{low, high}: every value between the two is equally likely."""

    name: ClassVar[str] = "uniform"
    lengths: ClassVar[tuple[str, ...]] = ("low", "high")
    low: Finite = parameter("Least value")
    high: Finite = parameter("Greatest value")

    @model_validator(mode="after")
    def _check(self) -> UniformForm:
        _ordered(self, "low", "high")
        return self

    def bounds(self) -> tuple[float, float]:
        """Least and greatest value."""
        return self.low, self.high


class PertForm(Form):
    """{low, likely, high}: PERT."""

    name: ClassVar[str] = "PERT"
    lengths: ClassVar[tuple[str, ...]] = ("low", "likely", "high")
    low: Finite = parameter("Least value")
    likely: Finite = parameter("Most likely value")
    high: Finite = parameter("Greatest value")

    @model_validator(mode="after")
    def _check(self) -> PertForm:
        _ordered(self, "low", "likely", "high")
        return self

    def bounds(self) -> tuple[float, float]:
        """Least and greatest value."""
        return self.low, self.high


class TriangleForm(PertForm):
    """{low, likely, high, shape = "triangle"}: triangle."""

    name: ClassVar[str] = "triangle"
    shape: Literal["triangle"] = Field(description="Set for a triangle instead of a PERT")


class NormalForm(Form):
    """{mean, sd}: normal, cut off at the range of the key."""

    name: ClassVar[str] = "normal"
    bounded: ClassVar[bool] = False
    lengths: ClassVar[tuple[str, ...]] = ("mean", "sd")
    mean: Finite = parameter("Mean")
    sd: Annotated[float, Field(allow_inf_nan=False, ge=0)] = parameter("Standard deviation")

    def bounds(self) -> tuple[float, float]:
        """Least and greatest value."""
        return (self.mean, self.mean) if self.sd == 0 else (-math.inf, math.inf)

    def mass_outside(self, *, least: float, most: float) -> float:
        """Probability outside [least, most]."""
        if self.sd == 0:
            return float(not least <= self.mean <= most)
        lower = 0.5 * math.erfc((self.mean - least) / self.sd / math.sqrt(2))
        upper = 0.5 * math.erfc((most - self.mean) / self.sd / math.sqrt(2))
        return lower + upper


class LognormalForm(Form):
    """{median, factor}: lognormal with P90 = median x factor and P10 = median / factor."""

    name: ClassVar[str] = "lognormal"
    lengths: ClassVar[tuple[str, ...]] = ("median",)
    median: Positive = parameter("Median, P50")
    factor: Annotated[float, Field(allow_inf_nan=False, le=1e6, ge=1)] = parameter(
        "P90 / P50, which is also P50 / P10", unit=False
    )

    def bounds(self) -> tuple[float, float]:
        """Least and greatest value."""
        return (self.median, self.median) if self.factor == 1 else (_JUST_ABOVE_0, math.inf)


class MetalogForm(Form):
    """{p10, p50, p90}: three-term metalog, cut off at the range of the key."""

    name: ClassVar[str] = "metalog"
    bounded: ClassVar[bool] = False
    lengths: ClassVar[tuple[str, ...]] = ("p10", "p50", "p90")
    p10: Finite = parameter("Not exceeded 10 % of the time")
    p50: Finite = parameter("Median")
    p90: Finite = parameter("Not exceeded 90 % of the time")

    @model_validator(mode="after")
    def _check(self) -> MetalogForm:
        _ordered(self, "p10", "p50", "p90")
        spread = self.p90 - self.p10
        skew = (self.p50 - self.p10) / spread if spread else 0.5
        if not METALOG_LEAST_SKEW < skew < 1 - METALOG_LEAST_SKEW:
            low = self.p10 + METALOG_LEAST_SKEW * spread
            raise PydanticCustomError(
                "metalog",
                "{given}",
                {
                    "given": f"p10 = {self.p10:.10g}, p50 = {self.p50:.10g}, p90 = {self.p90:.10g}",
                    "allowed": f"p50 between {low:.6g} and {self.p90 - (low - self.p10):.6g}, "
                    "or no metalog passes through the three",
                    "suggestion": "use {median, factor} for so skewed an amount",
                },
            )
        return self

    def bounds(self) -> tuple[float, float]:
        """Least and greatest value."""
        return (self.p10, self.p10) if self.p10 == self.p90 else (-math.inf, math.inf)

    def mass_outside(self, *, least: float, most: float) -> float:
        """Probability outside [least, most], by bisection of the quantile function."""
        if self.p10 == self.p90:
            return float(not least <= self.p10 <= most)
        return self._cumulative(least) + 1 - self._cumulative(most)

    def _cumulative(self, x: float) -> float:
        if math.isinf(x):
            return float(x > 0)
        logit9 = math.log(9)
        scale = (self.p90 - self.p10) / (2 * logit9)
        bend = (self.p10 + self.p90 - 2 * self.p50) / (0.8 * logit9)
        low, high = -700.0, 700.0  # in logit(u)
        for _ in range(80):
            middle = 0.5 * (low + high)
            u = 1 / (1 + math.exp(-middle))
            if self.p50 + scale * middle + bend * (u - 0.5) * middle < x:
                low = middle
            else:
                high = middle
        return 1 / (1 + math.exp(-low))


class DiscreteForm(Form):
    """{values, weights}: the listed values with weights that need not sum to 1."""

    name: ClassVar[str] = "discrete"
    lengths: ClassVar[tuple[str, ...]] = ("values",)
    values: Annotated[list[Finite], Field(min_length=1)] = parameter("The values")
    weights: Annotated[
        list[Annotated[float, Field(allow_inf_nan=False, ge=0)]], Field(min_length=1)
    ] = parameter("Their weights, which need not sum to 1", unit=False)

    @model_validator(mode="after")
    def _check(self) -> DiscreteForm:
        if len(self.values) != len(self.weights) or sum(self.weights) <= 0:
            raise PydanticCustomError(
                "weights",
                "{given}",
                {
                    "given": f"{len(self.values)} values and {len(self.weights)} weights "
                    f"that sum to {sum(self.weights):.10g}",
                    "allowed": "one weight for each value, with a sum above 0",
                    "suggestion": "",
                },
            )
        return self

    def bounds(self) -> tuple[float, float]:
        """Least and greatest value."""
        return min(self.values), max(self.values)


class BetaForm(Form):
    """{mean, weight}: a chance known from about `weight` cases, Beta distributed."""

    name: ClassVar[str] = "Beta"
    lengths: ClassVar[tuple[str, ...]] = ()
    mean: Annotated[float, Field(allow_inf_nan=False, ge=0, le=1)] = parameter("Mean")
    weight: Positive = parameter("About how many cases it is known from", unit=False)

    def bounds(self) -> tuple[float, float]:
        """Least and greatest value."""
        return (self.mean, self.mean) if self.mean in (0, 1) else (_JUST_ABOVE_0, _JUST_BELOW_1)


FORMS: tuple[type[Form], ...] = (
    UniformForm,
    PertForm,
    TriangleForm,
    NormalForm,
    LognormalForm,
    MetalogForm,
    DiscreteForm,
    BetaForm,
)


def forms_in_words() -> str:
    """The forms with their keys, for messages."""
    return "a number or one of " + " ".join(
        "{" + ", ".join(form.model_fields) + "}" for form in FORMS
    )


def _tag(value: Any) -> str | None:
    """Which form a value of the file is meant to be."""
    if isinstance(value, Form):
        return f"<{value.name}>"
    if not isinstance(value, dict):
        return "<number>"
    names = {name for form in FORMS for name in form.model_fields}
    meant = set()
    for key in value:
        close = difflib.get_close_matches(str(key), names, n=1, cutoff=0.6)
        meant.update(close)
    # The form that shares most keys and misses fewest; the first listed of equals.
    best = max(FORMS, key=lambda f: _shared(meant, f))
    return f"<{best.name}>" if meant & set(best.model_fields) else None


def _shared(meant: set[str], form: type[Form]) -> tuple[int, int]:
    keys = set(form.model_fields)
    return len(meant & keys), -len(keys - meant)


Amount = Annotated[
    Annotated[Finite, Tag("<number>")]
    | Annotated[UniformForm, Tag("<uniform>")]
    | Annotated[PertForm, Tag("<PERT>")]
    | Annotated[TriangleForm, Tag("<triangle>")]
    | Annotated[NormalForm, Tag("<normal>")]
    | Annotated[LognormalForm, Tag("<lognormal>")]
    | Annotated[MetalogForm, Tag("<metalog>")]
    | Annotated[DiscreteForm, Tag("<discrete>")]
    | Annotated[BetaForm, Tag("<Beta>")],
    Discriminator(
        _tag,
        custom_error_type="no_form",
        custom_error_message="a table that is no distribution",
    ),
]
