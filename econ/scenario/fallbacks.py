"""[[fallback]]: what is done when fishing stops.

A fallback with `hours` is a lump; without, an open-hole sidetrack built up hour by
hour. Planning values of the sidetrack are judgement, no source, in field units; the
answer names those that a file leaves to them.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import Discriminator, Field, Tag, model_validator
from pydantic_core import PydanticCustomError

from econ.scenario.amounts import Amount
from econ.scenario.base import (
    COUNT,
    MOST_CONTRACTS,
    Chance,
    DayRate,
    Depth,
    Hours,
    Length,
    Money,
    Section,
    Share,
    Speed,
    Text,
    key,
)
from econ.scenario.marks import Words
from econ.scenario.quantities import Quantity


class StickAgain(Section):
    """{ chance, cost, hours }: sticking again while the redrill passes the same rock."""

    chance: Chance = key("Chance of sticking again", 0.0)
    cost: Money = key("What it then costs", 0.0)
    hours: Hours = key("Hours that it then takes, besides that cost", 0.0)


class Whipstock(Section):
    """{ after, hours, cost, failure }: an open-hole whipstock once plugs have failed."""

    after: Annotated[int, Field(ge=1)] = key(
        "Failed kick-offs from a plug after which it is run", 2, json_schema_extra=COUNT
    )
    hours: Hours = key("Hours of one attempt with it", 32.0)
    cost: Money = key("Tool and services of one attempt", 0.0)
    failure: Annotated[Amount, Quantity("chance", least=0, most=1, below=True)] = key(
        "Chance that an attempt with it fails", 0.15
    )


class Sidetrack(Section):
    """An open-hole sidetrack from a cement plug above the fish, built up hour by hour."""

    name: Text = key("Name of the fallback")
    kickoff_above_fish: Length = key("Kick-off this far above the fish top", 230.0)
    kickoff_floor: Depth | None = key(
        "No kick-off shallower than this; left out it is shoe + kickoff_below_shoe", None
    )
    kickoff_below_shoe: Depth = key("Kick-off this far below the shoe once the hole is lost", 60.0)
    competent: Annotated[
        list[Annotated[list[Depth], Field(min_length=2, max_length=2)]],
        Field(max_length=MOST_CONTRACTS),
    ] = key(
        "Intervals [top, bottom] in rock that holds a kick-off; the next one up is taken",
        default=[],
    )
    stinger: Hours = key("Make up, and again lay down, the cementing stinger", 2.0)
    condition: Hours = key("Circulate and condition before the plug", 3.0)
    plug_hours: Hours = key("Mix, pump and pull out of one plug", 3.0)
    plugs: Annotated[int, Field(ge=0)] = key(
        "Plugs set before the kick-off", 1, json_schema_extra=COUNT
    )
    woc: Hours = key("Wait on cement, of which the trips hide a part", 24.0)
    cement_tested: bool | None = key(
        "Whether a laboratory gives the strength of the cement at hole temperature for that wait",
        None,
    )
    make_up: Hours = key("Make up the kick-off assembly", 3.5)
    dress: Hours = key("Dress the plug to the kick-off depth", 4.0)
    kickoff_length: Length = key("Length drilled slowly to leave the old hole", 25.0)
    kickoff_rate: Speed = key("Its rate", 2.0)
    gross_rop: Speed = key("Rate of the redrill with connections and surveys", 30.0)
    bit_life: Annotated[Amount, Quantity("length", least=0, above=True)] = key(
        "Footage of a bit", 1400.0
    )
    logging_hours: Hours = key("Logging and surveys again", 0.0)
    directional_day: DayRate = key("Directional services on top of the spread", 0.0)
    plug_cost: Money = key("Materials and pumping of one plug", 0.0)
    mobilization: Money = key("Mobilization of the directional crew", 0.0)
    bit_cost: Money = key("One bit", 0.0)
    logging_cost: Money = key("Logging again", 0.0)
    other_cost: Money = key("Permits, source abandonment and the like", 0.0)
    kickoff_failure: Annotated[Amount, Quantity("chance", least=0, most=1, below=True)] = key(
        "Chance that an attempt to kick off fails", 0.25
    )
    whipstock: Whipstock | None = key(
        "Used after so many failed kick-offs; left out, plugs are set until one holds", None
    )
    stick_again: StickAgain = key("Sticking again in the redrill", StickAgain())
    lost_in_hole_share: Share = key("Share of the value of the pieces left that is owed", 1.0)
    needs: Words = key("Marks that must all hold for it to be open", default=[])
    bars: Words = key("Marks of which none may hold for it to be open", default=[])

    @model_validator(mode="after")
    def _intervals(self) -> Sidetrack:
        ends = [end for interval in self.competent for end in interval]
        if ends != sorted(ends):
            raise PydanticCustomError(
                "intervals",
                "{given}",
                {
                    "given": f"competent = {self.competent}",
                    "allowed": "[top, bottom] pairs from the top down that do not overlap",
                    "suggestion": "",
                    "key": "competent",
                },
            )
        return self


class Trouble(Section):
    """{ chance, cost }: something that may go wrong with a lump fallback."""

    chance: Chance = key("Chance that it happens", 0.0)
    cost: Money = key("What it then costs", 0.0)


class Lump(Section):
    """A fallback of known hours and cost: complete above, drill past, respud, abandon."""

    name: Text = key("Name of the fallback")
    kind: Literal["complete_above", "drill_past", "respud", "abandon", "other"] = key(
        "What sort of fallback it is", "other"
    )
    hours: Hours = key("Its hours, at the spread")
    cost: Money = key("Its cost besides the spread", 0.0)
    value_given_up: Money = key(
        "Value of the well that is given up, less the work to come that is then saved", 0.0
    )
    trouble: Trouble = key("Something that may go wrong with it, and its cost", Trouble())
    after_string_lost: bool | None = key(
        "Whether it is open with the fishing string in the hole; left out, no for drill_past", None
    )
    after_hole_lost: bool | None = key(
        "Whether it is open once the hole is lost; left out, no for drill_past", None
    )
    lost_in_hole_share: Share = key("Share of the value of the pieces left that is owed", 1.0)
    needs: Words = key("Marks that must all hold for it to be open", default=[])
    bars: Words = key("Marks of which none may hold for it to be open", default=[])

    @property
    def open_after_string_lost(self) -> bool:
        """Whether it can be taken with the fishing string in the hole."""
        given = self.after_string_lost
        return self.kind != "drill_past" if given is None else given

    @property
    def open_after_hole_lost(self) -> bool:
        """Whether it can be taken once the hole is lost."""
        given = self.after_hole_lost
        return self.kind != "drill_past" if given is None else given


def _shape(value: Any) -> str:
    lump = isinstance(value, Lump) or (isinstance(value, dict) and "hours" in value)
    return "<lump>" if lump else "<sidetrack>"


Fallback = Annotated[
    Annotated[Lump, Tag("<lump>")] | Annotated[Sidetrack, Tag("<sidetrack>")],
    Discriminator(_shape),
]
