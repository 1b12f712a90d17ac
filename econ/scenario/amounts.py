"""An amount of a scenario: a number, or one of the eight distributions.

Which distribution a table of the file is meant to be follows from its keys; a misspelt key is
matched to the nearest distribution so that the message can name it.
"""

from __future__ import annotations

import difflib
import functools
from typing import Annotated, Any

from pydantic import Discriminator, Field, Tag

from econ.scenario.distributions import (
    FAMILY,
    Beta,
    Discrete,
    Distribution,
    Lognormal,
    Metalog,
    Normal,
    Pert,
    Triangle,
    Uniform,
)
from econ.scenario.distributions.family import Finite as Finite

Positive = Annotated[float, Field(allow_inf_nan=False, gt=0)]


def mean_of(amount: float | Distribution) -> float:
    """Exact mean of an amount, in its unit; a number is its own mean.

    >>> mean_of(1200.0), mean_of(Pert(low=2.0, likely=3.0, high=10.0))
    (1200.0, 4.0)
    """
    return amount.expectation() if isinstance(amount, Distribution) else amount


def ends_of(amount: float | Distribution) -> tuple[float, float]:
    """Least and greatest value that an amount can take, in its unit.

    >>> ends_of(1200.0), ends_of(Uniform(low=2.0, high=3.0))
    ((1200.0, 1200.0), (2.0, 3.0))
    """
    return amount.bounds() if isinstance(amount, Distribution) else (amount, amount)


def ends_and_middle(amount: float | Distribution) -> tuple[float, float, float]:
    """Low, middle and high of an amount, in its unit, as a reader would say them.

    The middle is the likely value where one is given, else the median. A distribution that ends
    in tails is read at what is not exceeded 10 and 90 % of the time.

    >>> ends_and_middle(1200.0)
    (1200.0, 1200.0, 1200.0)
    """
    return amount.ends_and_middle() if isinstance(amount, Distribution) else (amount,) * 3


def forms_in_words() -> str:
    """The ways to write an amount with their keys, for messages."""
    return "a number or one of " + " ".join(
        "{" + ", ".join(family.model_fields) + "}" for family in FAMILY
    )


def _tag(value: Any) -> str | None:
    """Which distribution a value of the file is meant to be."""
    if isinstance(value, Distribution):
        return f"<{value.name}>"
    if not isinstance(value, dict):
        return "<number>"
    meant = {name for key in value for name in _meant(str(key))}
    # The one that shares most keys and misses fewest; the first listed of equals.
    best = max(FAMILY, key=lambda family: _shared(meant, family))
    return f"<{best.name}>" if meant & set(best.model_fields) else None


@functools.lru_cache(maxsize=1000)
def _meant(key: str) -> tuple[str, ...]:
    """The key of a distribution that a key of the file is meant to be, or none."""
    names = {name for family in FAMILY for name in family.model_fields}
    return tuple(difflib.get_close_matches(key, names, n=1, cutoff=0.6))


def _shared(meant: set[str], family: type[Distribution]) -> tuple[int, int]:
    keys = set(family.model_fields)
    return len(meant & keys), -len(keys - meant)


Amount = Annotated[
    Annotated[Finite, Tag("<number>")]
    | Annotated[Uniform, Tag("<uniform>")]
    | Annotated[Pert, Tag("<PERT>")]
    | Annotated[Triangle, Tag("<triangle>")]
    | Annotated[Normal, Tag("<normal>")]
    | Annotated[Lognormal, Tag("<lognormal>")]
    | Annotated[Metalog, Tag("<metalog>")]
    | Annotated[Discrete, Tag("<discrete>")]
    | Annotated[Beta, Tag("<Beta>")],
    Discriminator(
        _tag,
        custom_error_type="no_form",
        custom_error_message="a table that is no distribution",
    ),
]
