"""Contracts and papers around the job: rentals, the authority for expenditure, partners."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from econ.scenario.amounts import Finite
from econ.scenario.base import (
    COUNT,
    MOST_LINES,
    DayRate,
    FixedDays,
    FixedHours,
    FixedMoney,
    LengthRate,
    Money,
    Odds,
    Section,
    Sum,
    Text,
    key,
)
from econ.scenario.marks import Word, Words
from econ.scenario.program import Kinds, Options, Run
from econ.scenario.quantities import Quantity


class Rental(Section):
    """[[rental]]: contract of a rented tool."""

    tool: Text = key("The tool")
    kinds: Kinds = key("Kinds of run that use it", default=[])
    options: Options = key(
        "Options of a run that use it; with neither kinds nor options every run does", default=[]
    )
    call_out: Annotated[int, Field(ge=0)] | None = key(
        "Number of the run at whose start it is called out, if no run that uses it is made "
        "before; 0 is now; left out, the first run that uses it",
        None,
        json_schema_extra=COUNT,
    )
    delivery: FixedHours = key("Hours from the call-out until it is on location", 0.0)
    held_days: FixedDays | None = key(
        "Days it has been on contract already, its mobilization paid; left out, not called yet",
        None,
    )
    mobilization: Money = key("To bring it", 0.0)
    minimum_days: FixedDays = key("Days owed at the working rate in any case", 0.0)
    day: DayRate = key("Rate while working", 0.0)
    standby_day: DayRate = key("Rate while standing by", 0.0)
    redress: Money = key("For each run", 0.0)
    per_foot: LengthRate = key("For each unit of length washed over", 0.0)
    replacement: Money = key("Owed when it is lost with the string, besides string_value", 0.0)

    def serves(self, run: Run) -> bool:
        """Whether a run uses the tool."""
        if not self.kinds and not self.options:
            return True
        return run.kind in self.kinds or any(option in self.options for option in run.options)


class Reading(Section):
    """[[reading]]: something that can be learned about the fish before a run, at a price."""

    name: Text = key("What is read, such as a caliper or an impression block")
    reliability: Odds = key("Chance that it reads workable for a workable fish")
    reliability_stubborn: Odds | None = key(
        "Chance that it reads stubborn for a stubborn fish; left out, reliability", None
    )
    hours: FixedHours = key("Hours, at the spread and the fishing day", 0.0)
    cost: Sum = key("Charges", 0.0)
    about: Word | None = key(
        "Name of the doubt that is read; left out where the file has no more than one", None
    )
    needs: Words = key("Marks that must all hold for the reading to be made", default=[])
    bars: Words = key("Marks of which none may hold", default=[])

    @property
    def all_needs(self) -> tuple[str, ...]:
        """Marks that must hold, as of a run."""
        return tuple(self.needs)

    @property
    def all_bars(self) -> tuple[str, ...]:
        """Marks of which none may hold, as of a run."""
        return tuple(self.bars)


class Insurance(Section):
    """[insurance]: what a policy may pay back; shown below the line, in no comparison."""

    chance: Odds = key("Chance that the claim is paid", 0.0)
    amount: Sum = key("What is then paid", 0.0)


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
    line: Annotated[list[AfeLine], Field(max_length=MOST_LINES)] = key("The lines", default=[])


class Partner(Section):
    """[[partner]]: a holder of working interest."""

    name: Text = key("Name")
    interest: Annotated[Finite, Quantity("ratio", least=0, most=100)] = key(
        "Working interest; all sum to 1, or to 100 as percent"
    )
    operator: bool = key("Whether this partner operates", False)
