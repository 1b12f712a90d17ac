"""[job], [well], [trip_speed] and [fish]: the event, the hole and what lies in it."""

from __future__ import annotations

from datetime import date, datetime
from typing import Annotated, Literal

from pydantic import Discriminator, Field, Tag, model_validator
from pydantic_core import PydanticCustomError

from econ.scenario.amounts import Finite
from econ.scenario.base import (
    MOST_PIECES,
    Density,
    Depth,
    Diameter,
    Money,
    Odds,
    Section,
    Share,
    Speed,
    Text,
    Weight,
    key,
)
from econ.scenario.marks import Words
from econ.scenario.quantities import Quantity

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


SourceRules = Literal[
    "us",
    "us_texas",
    "us_offshore",
    "us_colorado",
    "us_florida",
    "us_louisiana",
    "us_north_carolina",
    "us_virginia",
    "other",
]
FishKind = Literal[
    "drill_string",
    "tubing",
    "casing",
    "coiled_tubing",
    "cable",
    "logging_tool",
    "guns",
    "junk",
]


class Job(Section):
    """[job]: what happened and when the decision is taken."""

    well: Text = key("Name of the well")
    event: str = key("What happened, in a line", "", max_length=300)
    decided_at: Moment | None = key("When the decision is taken: the clock's zero", None)
    source_rules: SourceRules | None = key(
        "Whose rules on sealed sources hold; left out, international guidance is shown", None
    )


class Well(Section):
    """[well]: the hole."""

    depth: Depth = key("Measured depth where drilling stopped; every branch ends drilling here")
    hole_diameter: Diameter = key("Diameter of the open hole (bit size)")
    shoe_depth: Depth = key("Depth of the last casing shoe")
    inclination: Annotated[Finite, Quantity("angle", least=0, most=180)] = key(
        "Inclination at the fish", 0.0
    )
    mud_weight: Density | None = key("Mud weight, for the weight of the fish in mud", None)
    diameter_at_top: Diameter | None = key(
        "Hole diameter at the fish top by caliper; left out, hole_diameter", None
    )
    hardness: Literal["soft", "medium", "hard"] | None = key("Hardness of the rock there", None)
    losses: bool | None = key("Whether mud is lost while fishing", None)


class HoleSpeeds(Section):
    """{ cased, open }: trip speeds in the two parts of the hole."""

    cased: Speed = key("Speed in cased hole")
    open: Speed = key("Speed in open hole")


class TripSpeed(Section):
    """[trip_speed]: speeds of a fishing string, connections included."""

    into: HoleSpeeds = key("Tripping in", alias="in")
    out: HoleSpeeds = key("Tripping out")


class Piece(Section):
    """[[fish.piece]]: a piece of the fish, from the top down."""

    name: Text = key("What the piece is")
    length: Depth = key("Length of the piece")
    value: Money | None = key("What is owed if it stays in the hole", None)
    replacement: Money | None = key("Price new, instead of value", None)
    depreciation: Share = key("Share of the price already written off", 0.0)
    floor: Share = key("Least share of the price that is owed", 0.0)
    owner: str = key("Who owns the piece", "", max_length=300)
    clause: str = key("Clause of the contract by which it is owed", "", max_length=300)
    credit: Odds = key("Share of what was paid that comes back if it is recovered later", 0.0)
    weight: Weight | None = key("Weight in air, to check the drawing against the hook load", None)
    outside_diameter: Diameter | None = key("Its largest outside diameter, for methods", None)
    bore: Diameter | None = key("Its smallest bore, for methods", None)

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
    off_bottom: bool | None = key("Whether the fish hangs off bottom", None)
    fill: Depth | None = key("Height of the fill over the fish top", None)
    what: FishKind | None = key("What the fish is, for methods", None)
    thread_up: Literal["pin", "box", "none"] | None = key("Thread that looks up at the top", None)
    last_motion: Literal["up", "down", "none"] | None = key(
        "Which way the string moved last before it stuck, for the way to jar", None
    )
    tension: bool | None = key(
        "Whether an attached string can be pulled into tension where it would be cut", None
    )
    explosives: bool = key("Whether guns, detonators or a charge not fired are in the fish", False)
    lithium_batteries: bool = key("Whether lithium batteries are in the fish", False)
    trapped_gas: bool = key("Whether gas may be trapped in or below the fish", False)
    hydrogen_sulphide: bool = key("Whether the gas may hold H2S", False)
    written_consent: bool = key(
        "Whether the licensee and the owners of guns or batteries agree in writing to runs that "
        "drill, mill, wash, tap, cut or shoot, with the depth of the source proven",
        False,
    )
    marks: Words = key("Marks that hold now, such as attached: words of the file", default=[])
    piece: Annotated[list[Piece], Field(max_length=MOST_PIECES)] = key(
        "The pieces from the top down; their lengths fill the fish", default=[]
    )

    @property
    def outside(self) -> float | None:
        """Outside diameter at the top, else that of the first piece."""
        first = self.piece[0].outside_diameter if self.piece else None
        return first if self.outside_diameter is None else self.outside_diameter

    @property
    def inside(self) -> float | None:
        """Inside diameter at the top, else the bore of the first piece."""
        first = self.piece[0].bore if self.piece else None
        return first if self.inside_diameter is None else self.inside_diameter

    @property
    def largest(self) -> float | None:
        """Largest outside diameter that is told of the fish as a whole or of a piece."""
        sizes = [piece.outside_diameter for piece in self.piece]
        if all(size is None for size in sizes):
            return self.largest_diameter
        known = (self.largest_diameter, self.outside_diameter, *sizes)
        return max(size for size in known if size is not None)

    @property
    def narrowest(self) -> float | None:
        """Smallest bore that is told at the top or of a piece."""
        sizes = (self.inside_diameter, *(piece.bore for piece in self.piece))
        return min((size for size in sizes if size is not None), default=None)
