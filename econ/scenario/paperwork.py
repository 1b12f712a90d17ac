"""Contracts and papers around the job: rentals, the authority for expenditure, partners."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from econ.scenario.amounts import Finite
from econ.scenario.quantities import Quantity
from econ.scenario.sections import (
    COUNT,
    DayRate,
    FixedMoney,
    LengthRate,
    Money,
    RunKind,
    Section,
    Text,
    key,
)


class Rental(Section):
    """[[rental]]: contract of a rented tool."""

    tool: Text = key("The tool")
    kinds: list[RunKind] = key("Kinds of run that use it", default=[])
    mobilization: Money = key("To bring it", 0.0)
    minimum_days: Annotated[Finite, Quantity("days", least=0)] = key("Days owed in any case", 0.0)
    day: DayRate = key("Rate while working", 0.0)
    standby_day: DayRate = key("Rate while standing by", 0.0)
    redress: Money = key("For each run", 0.0)
    per_foot: LengthRate = key("For each unit of length washed over", 0.0)


class AfeLine(Section):
    """[[afe.line]]: a line of the authority for expenditure."""

    code: Text = key("Cost code")
    name: Text = key("Description")
    tangible: bool = key("Whether it keeps a salvage value", False)
    original: FixedMoney = key("Original estimate", 0.0)
    spent: FixedMoney = key("Spent to date", 0.0)
    to_come: FixedMoney = key("Still to come without further trouble", 0.0)


class Afe(Section):
    """[afe]: the authority that a supplement adds to."""

    number: str = key("Number", "", max_length=300)
    supplement: Annotated[int, Field(ge=0)] = key(
        "Number of the supplement", 1, json_schema_extra=COUNT
    )
    trigger_percent: Annotated[Finite, Quantity("ratio", least=0)] = key(
        "Percent over the original that calls for a supplement", 10.0
    )
    trigger_basis: Literal["total", "line"] = key("What the percent is taken of", "total")
    line: list[AfeLine] = key("The lines", default=[])


class Partner(Section):
    """[[partner]]: a holder of working interest."""

    name: Text = key("Name")
    interest: Annotated[Finite, Quantity("ratio", least=0, most=100)] = key(
        "Working interest; all sum to 1, or to 100 as percent"
    )
    operator: bool = key("Whether this partner operates", False)
