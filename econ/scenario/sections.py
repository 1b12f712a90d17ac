"""The tables of a scenario file, one model each, with every key documented.

Keys that take an amount accept a number or a distribution; keys that state a fact
(depths, lengths of pieces, counts) take a number. What is left out of a run costs
nothing; what is left out of a built-up sidetrack takes the planning value given here,
and the answer names each one so taken.
"""

from __future__ import annotations

from datetime import date, datetime
from typing import Annotated, Any, Literal

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

from econ.scenario.amounts import Amount, Finite
from econ.scenario.quantities import Quantity


class Section(BaseModel):
    """A table of the file: strict types, no unknown keys, never changed."""

    model_config = ConfigDict(strict=True, extra="forbid", frozen=True, populate_by_name=True)


COUNT: dict[str, JsonValue] = {"x-unit": "count"}  # what a whole number of a file measures


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
Chance = Annotated[Amount, Quantity("chance", least=0, most=1)]
Share = Annotated[Amount, Quantity("share", least=0, most=1)]
Odds = Annotated[Finite, Quantity("chance", least=0, most=1)]
Text = Annotated[str, Field(min_length=1, max_length=300)]

RunKind = Literal[
    "screw_in",
    "overshot",
    "dress_top",
    "washover",
    "wash_then_catch",
    "outside_cut",
    "freepoint_backoff",
    "spear",
    "taper_tap",
    "wall_hook",
    "magnet",
    "core_basket",
    "rc_basket",
    "boot_basket",
    "junk_mill",
    "condition_trip",
    "soak",
    "other",
]
Mechanism = Literal[
    "parted",
    "differential",
    "packed_off",
    "cavings",
    "key_seat",
    "geometry",
    "undergauge",
    "junk",
    "mobile_formation",
    "cement",
    "collapse",
    "unknown",
]
TopCondition = Literal[
    "clean",
    "damaged",
    "ragged",
    "belled",
    "bent",
    "split",
    "leaning",
    "buried",
    "loose_junk",
    "unknown",
]


Moment = Annotated[
    Annotated[datetime, Tag("<moment>")] | Annotated[date, Tag("<day>")],
    Discriminator(lambda value: "<day>" if type(value) is date else "<moment>"),
]


class Job(Section):
    """[job]: what happened and when the decision is taken."""

    well: Text = key("Name of the well")
    event: str = key("What happened, in a line", "", max_length=300)
    decided_at: Moment | None = key("When the decision is taken: the clock's zero", None)


class Well(Section):
    """[well]: the hole."""

    depth: Depth = key("Measured depth where drilling stopped; every branch ends drilling here")
    hole_diameter: Diameter = key("Diameter of the open hole (bit size)")
    shoe_depth: Depth = key("Depth of the last casing shoe")
    inclination: Annotated[Finite, Quantity("angle", least=0, most=180)] = key(
        "Inclination at the fish", 0.0
    )
    mud_weight: Density | None = key("Mud weight, for the weight of the fish in mud", None)


class HoleSpeeds(Section):
    """{ cased, open }: trip speeds in the two parts of the hole."""

    cased: Speed = key("Speed in cased hole")
    open: Speed = key("Speed in open hole")


class TripSpeed(Section):
    """[trip_speed]: speeds of a fishing string, connections included."""

    into: HoleSpeeds = key("Tripping in", alias="in")
    out: HoleSpeeds = key("Tripping out")


class Fishing(Section):
    """[fishing]: what fishing adds to the spread, and the chance that it can work."""

    day_rates: dict[str, DayRate] = key(
        "Services and standing rentals of fishing, by name; their sum is the fishing day",
        default={},
    )
    mobilization: Money = key("Paid once if any run is made", 0.0)
    workable: Chance = key("Prior chance that the fish is of the workable kind", 0.5)
    damaged_top_factor: Share = key(
        "Share of its recovered odds that a run keeps while the top is damaged", 0.6
    )
    odds_ratio_per_day: Annotated[Amount, Quantity("ratio", least=0, above=True)] = key(
        "Factor on the odds p/(1-p) of recovery for each day since the decision", 1.0
    )
    hole_lost_string_share: Share = key(
        "Share of string_value owed when the hole is lost with the string in it", 0.3
    )


class Piece(Section):
    """[[fish.piece]]: a piece of the fish, from the top down."""

    name: Text = key("What the piece is")
    length: Depth = key("Length of the piece")
    value: Money | None = key("What is owed if it stays in the hole", None)
    replacement: Money | None = key("Price new, instead of value", None)
    depreciation: Share = key("Share of the price already written off", 0.0)
    floor: Share = key("Least share of the price that is owed", 0.0)
    weight: Weight | None = key("Weight in air, to check the drawing against the hook load", None)

    @model_validator(mode="after")
    def _one_value(self) -> Piece:
        if (self.value is None) == (self.replacement is None):
            raise PydanticCustomError(
                "one_value",
                "{given}",
                {
                    "given": "both value and replacement"
                    if self.value is not None
                    else "neither value nor replacement",
                    "allowed": "one of: value (what is owed), replacement (price new)",
                    "suggestion": "use value = 0 if nothing is owed for the piece",
                },
            )
        return self


class Fish(Section):
    """[fish]: what lies in the hole."""

    top: Depth = key("Depth of the fish top now")
    bottom: Depth = key("Depth of its lower end")
    top_condition: TopCondition = key("Condition of the top, for methods and reports", "unknown")
    mechanism: Mechanism = key("What holds it, for methods and reports", "unknown")
    sealed_source: bool = key("Whether a sealed radioactive source is in the fish", False)
    bore_open: bool | None = key("Whether the bore is open for circulation or wireline", None)
    outside_diameter: Diameter | None = key("Outside diameter at the top", None)
    largest_diameter: Diameter | None = key("Largest outside diameter of the fish", None)
    inside_diameter: Diameter | None = key("Inside diameter at the top", None)
    ferrous: bool | None = key("Whether the pieces are magnetic", None)
    hook_load_loss: Weight | None = key("Hook load lost at the event", None)
    piece: list[Piece] = key(
        "The pieces from the top down; their lengths fill the fish", default=[]
    )


OUTCOMES = ("recovered", "part", "nothing", "top_damaged", "string_lost", "hole_lost")
ROUNDING = 1e-6  # odds may miss a sum of 1 by this much


class OutcomeOdds(Section):
    """Odds of the six outcomes of a run; they sum to 1, one left out is 0."""

    recovered: Odds = key("The whole fish is out", 0.0)
    part: Odds = key("Part of it is out and the top is lower by part_length", 0.0)
    nothing: Odds = key("No change", 0.0)
    top_damaged: Odds = key("No change but a damaged top", 0.0)
    string_lost: Odds = key("The fishing string stays as a second fish", 0.0)
    hole_lost: Odds = key("The hole is lost up to the shoe", 0.0)
    weight: Annotated[Finite, Quantity("count", least=0, above=True)] | None = key(
        "Number of past runs these odds are worth: recovered is then Beta distributed "
        "and the others keep their proportions; left out, the odds are exact",
        None,
    )

    @model_validator(mode="after")
    def _sum(self) -> OutcomeOdds:
        total = sum(getattr(self, name) for name in OUTCOMES)
        if abs(total - 1) > ROUNDING:
            need = self.nothing + 1 - total
            raise PydanticCustomError(
                "odds_sum",
                "{given}",
                {
                    "given": f"odds that sum to {total:.10g}",
                    "allowed": "a sum of 1",
                    "suggestion": f"nothing = {need:.10g} would make it 1"
                    if 0 <= need <= 1
                    else "check each of the six",
                },
            )
        return self


class OddsByKind(Section):
    """Odds of a run on a workable and on a stubborn fish."""

    workable: OutcomeOdds = key("Odds if the fish is workable")
    stubborn: OutcomeOdds = key("Odds if it is stubborn")


def _by_kind(value: Any) -> str:
    kinds = {"workable", "stubborn"}
    by_kind = isinstance(value, OddsByKind) or (isinstance(value, dict) and kinds & set(value))
    return "<by kind>" if by_kind else "<one kind>"


class Trip(Section):
    """One round trip of a run."""

    make_up: Hours = key("Make up the fishing assembly", 0.0)
    circulate: Hours = key("Circulate and wash to the top", 0.0)
    work: Hours = key("Engage, jar, wash or mill", 0.0)
    lay_down: Hours = key("Lay down", 0.0)


class Run(Section):
    """[[run]]: a step of the program, of one or more trips, in the order planned."""

    name: Text = key("What is run")
    kind: RunKind = key("Kind of run", "other")
    wait: Hours = key("Waiting before the first trip", 0.0)
    trips: Annotated[list[Trip], Field(min_length=1)] | None = key(
        "The round trips; or give hours", None
    )
    hours: Hours | None = key("All hours of the run after the wait, instead of trips", None)
    charge: Money = key("Charges of the run besides day rates", 0.0)
    part_length: Length = key("How far the top moves down after outcome part", 0.0)
    string_length: Length = key("How much shallower the top is after string_lost", 0.0)
    string_value: Money = key("What is owed for the fishing string if it is lost", 0.0)
    dresses_top: bool = key("Whether the run dresses a damaged top before it catches", False)
    odds: Annotated[
        Annotated[OddsByKind, Tag("<by kind>")] | Annotated[OutcomeOdds, Tag("<one kind>")],
        Discriminator(_by_kind),
    ] = key("Odds of the outcomes, by kind of fish or one table")

    @model_validator(mode="after")
    def _one_clock(self) -> Run:
        if (self.hours is None) == (self.trips is None):
            given = "neither hours nor trips" if self.hours is None else "both hours and trips"
            raise PydanticCustomError(
                "one_clock",
                "{given}",
                {
                    "given": given,
                    "allowed": "one of: hours (the whole run), trips (built up from the depth)",
                    "suggestion": "trips = [{ make_up = 2.5, circulate = 1.5, work = 3, "
                    "lay_down = 1.5 }]",
                },
            )
        return self

    def odds_by_kind(self) -> tuple[OutcomeOdds, OutcomeOdds]:
        """Odds for a workable and for a stubborn fish."""
        if isinstance(self.odds, OddsByKind):
            return self.odds.workable, self.odds.stubborn
        return self.odds, self.odds

    def odds_paths(self, number: int) -> tuple[str, str]:
        """Key paths of the chance of recovery by kind, for run `number` counted from 0."""
        start = f"run.{number + 1}.odds."
        if isinstance(self.odds, OddsByKind):
            return f"{start}workable.recovered", f"{start}stubborn.recovered"
        return f"{start}recovered", f"{start}recovered"


class Recovery(Section):
    """[recovery]: what still has to be done after the whole fish is out."""

    hours: Hours = key("Pull slowly, lay down, inspect, ream, back to bottom", 0.0)
    charge: Money = key("Inspection and repair", 0.0)
    fishing_share: Share = key("Share of the fishing day still paid", 0.5)


class Common(Section):
    """[common]: owed on every branch before the first decision."""

    hours: Hours = key("Hours, at the spread", 0.0)
    cost: Money = key("Cost besides the spread", 0.0)


class Limits(Section):
    """[limits]: what binds the decision."""

    minimum_runs: Annotated[int, Field(ge=0)] | None = key(
        "Least number of runs; left out it is 0, or 1 with a sealed source",
        None,
        json_schema_extra=COUNT,
    )
    authority: Sum | None = key("Money approved from now on", None)
    response_hours: FixedHours = key("Hours partners have for an answer", 48.0)
    risk_tolerance: Annotated[Finite, Quantity("money", least=0, above=True)] | None = key(
        "Risk tolerance of exponential utility", None
    )


class Correlation(Section):
    """[[correlation]]: amounts that move together."""

    of: Annotated[list[str], Field(min_length=2)] = key(
        "Key paths of the amounts, list items counted from 1: rates.rig, run.2.charge"
    )
    rho: Annotated[Finite, Quantity("ratio", least=-1, most=1, above=True, below=True)] = key(
        "Rank correlation between each two of them"
    )


class DrawSettings(Section):
    """[draws]: size and seed of the sampling."""

    n: Annotated[int, Field(ge=16, le=2**22)] = key(
        "Draws a scramble, a power of two", 4096, json_schema_extra=COUNT
    )
    seed: Annotated[int, Field(ge=0, lt=2**63)] = key(
        "Seed; 0 is a seed like any other", 1, json_schema_extra=COUNT
    )
    scrambles: Annotated[int, Field(ge=16, le=1024)] = key(
        "Independent scrambles, from which the standard error comes",
        16,
        json_schema_extra=COUNT,
    )

    @model_validator(mode="after")
    def _power(self) -> DrawSettings:
        if self.n & (self.n - 1):
            raise PydanticCustomError(
                "power_of_two",
                "{given}",
                {
                    "given": f"n = {self.n}",
                    "allowed": "a power of two from 16 to 4194304",
                    "suggestion": f"n = {1 << self.n.bit_length()}",
                    "key": "n",
                },
            )
        return self
