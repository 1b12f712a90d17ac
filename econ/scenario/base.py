"""What every table of a scenario file is built from: strict sections and documented keys.

Keys that take an amount accept a number or a distribution; keys that state a fact
(depths, lengths of pieces, counts) take a number. What is left out of a run costs
nothing; what is left out of a built-up sidetrack takes the planning value given there,
and the answer names each one so taken.
"""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field, JsonValue

from econ.scenario.amounts import Amount, Finite
from econ.scenario.quantities import Quantity


class Section(BaseModel):
    """A table of the file: strict types, no unknown keys, never changed."""

    model_config = ConfigDict(
        strict=True, extra="forbid", frozen=True, populate_by_name=True, defer_build=True
    )


COUNT: dict[str, JsonValue] = {"x-unit": "count"}  # what a whole number of a file measures


# Most items of the lists of a file. A job has a handful of each; so many still answer in seconds.
MOST_FALLBACKS = 12
MOST_READINGS = 20
MOST_TRIPS = 20  # of a run
MOST_CONTRACTS = 40  # rentals, partners, rates by name, correlations, competent intervals
MOST_RUNS = 60
MOST_PIECES = 100
MOST_LINES = 200  # of the authority for expenditure


def key(text: str, default: Any = ..., **more: Any) -> Any:
    """A documented key; required when no default is given."""
    return Field(default, description=text, **more)


Depth = Annotated[Finite, Quantity("length", least=0)]
Length = Annotated[Amount, Quantity("length", least=0)]
Diameter = Annotated[Finite, Quantity("diameter", least=0, above=True)]
Speed = Annotated[Amount, Quantity("speed", least=0, above=True)]
Weight = Annotated[Finite, Quantity("weight", least=0)]
Density = Annotated[Finite, Quantity("density", least=0, above=True)]
Hours = Annotated[Amount, Quantity("hours", least=0)]
FixedHours = Annotated[Finite, Quantity("hours", least=0)]
Money = Annotated[Amount, Quantity("money", least=0)]
FixedMoney = Annotated[Finite, Quantity("money")]
Sum = Annotated[Finite, Quantity("money", least=0)]
DayRate = Annotated[Amount, Quantity("money per day", least=0)]
LengthRate = Annotated[Amount, Quantity("money per length", least=0)]
Days = Annotated[Amount, Quantity("days", least=0)]
FixedDays = Annotated[Finite, Quantity("days", least=0)]
Chance = Annotated[Amount, Quantity("chance", least=0, most=1)]
Share = Annotated[Amount, Quantity("share", least=0, most=1)]
Ratio = Annotated[Amount, Quantity("ratio", least=0, above=True)]
Odds = Annotated[Finite, Quantity("chance", least=0, most=1)]
Text = Annotated[str, Field(min_length=1, max_length=300)]
