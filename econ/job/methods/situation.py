"""The fish and the hole as the choice of methods sees them, in field units inside.

What the file leaves out stays unknown (None). Two things are read from others: a fish
whose lower end is well above the depth of the well hangs off bottom, and a hole whose
diameter at the top is not given is taken to be the bit's.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeVar

from econ.job.methods.catalogue import limit
from econ.scenario.base import Section
from econ.scenario.hazards import hazard_marks, hazards
from econ.scenario.marks import ATTACHED
from econ.scenario.program import Run
from econ.scenario.quantities import UNITS
from econ.scenario.scenario import Scenario

S = TypeVar("S", bound=Section)

CABLE = frozenset({"cable_whole", "cable_loose"})


@dataclass(frozen=True)
class Situation:
    """Fish and hole: lengths [ft], diameters [in], angle [degrees]; None is not known."""

    units: str  # of the file, in which reasons name their numbers
    depth: float
    top: float
    bottom: float
    hole: float
    caliper: float | None
    angle: float
    hardness: str | None
    losses: bool | None
    top_condition: str
    mechanism: str
    bore_open: bool | None
    outside: float | None
    largest: float | None
    inside: float | None
    narrowest: float | None  # smallest bore that is told
    pieces: Sequence[tuple[float, float | None]]  # length and outside diameter, from the top down
    ferrous: bool | None
    off_bottom: bool | None
    fill: float | None
    heaviest: float | None  # [lb] piece
    what: str | None
    thread_up: str | None
    last_motion: str | None
    tension: bool | None
    shoe: float
    told: frozenset[str]  # marks that the file lists
    hazards: frozenset[str]  # source, live, batteries, trapped_gas, h2s
    consent: bool
    source_rules: str | None
    runs: Sequence[Run]

    @property
    def marks(self) -> frozenset[str]:
        """Marks that hold: those of the file, and what its description says by itself.

        A source, guns or batteries are not to be touched until their owners agree in writing.
        """
        found = set(self.told | hazard_marks(self.hazards, consent=self.consent))
        if self.what == "cable" and not found & CABLE:
            found.add("cable_loose")
        if self.top_condition == "loose_junk" and not self.loose_junk:
            found.add("junk")
        return frozenset(found)

    @property
    def attached(self) -> bool:
        """Whether the stuck string is still whole to the surface."""
        return ATTACHED in self.told

    @property
    def on_cable(self) -> bool:
        """Whether the fish is cable, or a tool with cable on it."""
        return bool(self.marks & CABLE)

    @property
    def length(self) -> float:
        """Length of the fish [ft]."""
        return self.bottom - self.top

    @property
    def hole_at_top(self) -> float:
        """Hole diameter at the fish top [in]; without a caliper, the bit's."""
        return self.hole if self.caliper is None else self.caliper

    @property
    def enlarged(self) -> bool:
        """Whether the hole at the top is out of gauge."""
        return self.hole_at_top > limit("enlarged") * self.hole

    @property
    def steep(self) -> bool:
        """Whether drag and the low side count at this angle."""
        return self.angle >= limit("steep")

    @property
    def reach(self) -> float | None:
        """Hole diameter over fish diameter, at the top."""
        return None if self.outside is None else self.hole_at_top / self.outside

    @property
    def loose_junk(self) -> bool:
        """Whether it is loose junk rather than pipe with a top to catch."""
        if self.length > limit("long_debris") or self.attached or self.told & CABLE:
            return False
        if self.what not in (None, "junk"):
            return False
        held = self.top_condition == "unknown" and self.mechanism == "junk"
        return self.top_condition == "loose_junk" or held or self.what == "junk"

    @property
    def hangs(self) -> bool:
        """Whether the fish hangs off bottom, as told or by its depths."""
        told = self.off_bottom
        return self.depth - self.bottom > limit("hangs") if told is None else told

    @property
    def covered(self) -> bool:
        """Whether fill lies over the top."""
        told = self.top_condition == "buried" or "buried" in self.told
        return told or (self.fill or 0.0) >= limit("buried")

    @property
    def leans(self) -> bool:
        """Whether the top leans."""
        return self.top_condition == "leaning" or "top_leans" in self.told

    @property
    def widest(self) -> float | None:
        """Largest diameter that is known [in]."""
        return self.outside if self.largest is None else self.largest

    @property
    def fine(self) -> bool:
        """Whether the junk is known to be fine."""
        return self.widest is not None and self.widest <= limit("fine_junk")

    def known(self, key: str) -> bool:
        """Whether the file tells what stands under a key path."""
        facts = {
            "fish.top_condition": self.top_condition != "unknown",
            "fish.mechanism": self.mechanism != "unknown",
            "fish.bore_open": self.bore_open is not None,
            "fish.outside_diameter": self.outside is not None,
            "fish.largest_diameter": self.widest is not None,
            "fish.inside_diameter": self.inside is not None,
            "fish.ferrous": self.ferrous is not None,
            "fish.fill": self.fill is not None,
            "well.diameter_at_top": self.caliper is not None,
            "well.hardness": self.hardness is not None,
            "well.losses": self.losses is not None,
            "fish.last_motion": self.last_motion is not None,
            "fish.tension": self.tension is not None,
            "fish.thread_up": self.thread_up is not None,
            "fish.what": self.what is not None,
            "fish.marks": bool(self.told),
        }
        return facts[key]

    def long(self, feet: float) -> str:
        """A length [ft] in words, in the unit of the file."""
        unit, factor = self._unit("length")
        size = feet / factor
        return f"{size:,.0f} {unit}" if size >= 10 else f"{size:.2g} {unit}"

    def wide(self, inches: float) -> str:
        """A diameter [in] in words, in the unit of the file."""
        unit, factor = self._unit("diameter")
        return f"{inches / factor:.5g} {unit}"

    def heavy(self, pounds: float) -> str:
        """A weight [lb] in words, in the unit of the file."""
        unit, factor = self._unit("weight")
        return f"{pounds / factor:,.0f} {unit}"

    def _unit(self, dimension: str) -> tuple[str, float]:
        field, metric, factor = UNITS[dimension]
        return (field, 1.0) if self.units == "field" else (metric, factor)


def situation(scenario: Scenario) -> Situation:
    """The situation of a scenario in either system of units, alike for both.

    Sizes are rounded to what no tape reads, or a metric file would lie on the other side of a
    limit by the last digit of its conversion.
    """
    job = scenario.in_field_units()
    well = _rounded(job.well)
    pieces = [_rounded(piece) for piece in job.fish.piece]
    fish = _rounded(job.fish).model_copy(update={"piece": pieces})
    weights = [piece.weight for piece in pieces if piece.weight is not None]
    return Situation(
        units=scenario.units,
        depth=well.depth,
        top=fish.top,
        bottom=fish.bottom,
        hole=well.hole_diameter,
        caliper=well.diameter_at_top,
        angle=well.inclination,
        hardness=well.hardness,
        losses=well.losses,
        top_condition=fish.top_condition,
        mechanism=fish.mechanism,
        bore_open=fish.bore_open,
        outside=fish.outside,
        largest=fish.largest,
        inside=fish.inside,
        narrowest=fish.narrowest,
        pieces=[(piece.length, piece.outside_diameter) for piece in pieces],
        ferrous=fish.ferrous,
        off_bottom=fish.off_bottom,
        fill=fish.fill,
        heaviest=max(weights, default=None),
        what=fish.what,
        thread_up=fish.thread_up,
        last_motion=fish.last_motion,
        tension=fish.tension,
        shoe=well.shoe_depth,
        told=frozenset(fish.marks),
        hazards=frozenset(hazards(fish)),
        consent=fish.written_consent,
        source_rules=job.job.source_rules,
        runs=job.run,
    )


def _rounded(section: S) -> S:
    """A section with its numbers to six decimals."""
    sizes = {name: getattr(section, name) for name in type(section).model_fields}
    rounded = {name: round(size, 6) for name, size in sizes.items() if isinstance(size, float)}
    return section.model_copy(update=rounded)
