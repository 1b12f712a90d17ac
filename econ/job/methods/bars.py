"""What bars a kind of run on this fish, whatever its odds: marks that hold, or that it lacks.

Each kind names the marks that it needs and that bar it, as data. A run that trips does not go in
while the string is whole to the surface, nor while cable is in the hole, unless it needs just
that. With a sealed source, live guns or batteries, what could rupture or fire them is barred
until their owners agree in writing; the reason names the rule.

Source of the bars: US NRC Information Notice 83-32 (sources ruptured by drilling above a stuck
tool), 10 CFR 39.15(a)(2); on guns and batteries common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

from econ.job.methods.catalogue import RunFacts
from econ.job.methods.situation import CABLE, Situation
from econ.job.methods.verdicts import Finding, covered, doubt, no
from econ.job.source_rules import source_rules
from econ.scenario.marks import ATTACHED

NEEDS = {
    ATTACHED: "needs the string attached to the surface, and this fish is parted from it",
    "cable_loose": "fishes for loose cable, and no loose cable is told of",
    "cable_whole": "goes over a cable that is whole to the surface, and none is told of",
}
BARRED = {
    "damaged_top": "the top is damaged: a sound thread is needed",
    "top_leans": "the top leans: a wall hook or knuckle joint brings it to the middle",
    "junk": "debris lies on the fish: take it out first",
}


def bars(facts: RunFacts, here: Situation) -> Iterator[Finding]:
    """Findings that bar a kind of run here, or put a need of it in doubt."""
    marks = here.marks
    for mark in facts.needs:
        if mark in NEEDS and mark not in marks:
            yield no(NEEDS[mark])
    if ATTACHED in marks and facts.trips and ATTACHED not in facts.needs:
        yield no("the string is attached to the surface: nothing trips until it is free or parted")
    if facts.trips:
        for mark in sorted(marks & CABLE - set(facts.needs)):
            where = "hangs from the fish" if mark == "cable_whole" else "lies loose in the hole"
            yield no(f"cable {where}: a string run into it packs it off and sticks")
    for mark in facts.bars:
        if mark == "buried" and mark in marks:
            yield no(covered(here, "buried"))
        elif mark in BARRED and mark in marks:
            yield no(BARRED[mark])
    yield from hazard_bars(facts, here)
    if here.what == "logging_tool" and facts.trips and not marks & CABLE:
        yield doubt("a logging tool: whether cable is still on it is not told in the marks")


def hazard_bars(facts: RunFacts, here: Situation) -> Iterator[Finding]:
    """A source, live guns or batteries, with the rule."""
    does = " and ".join(facts.does) or "touches the fish"
    rule = source_rules(here.source_rules).rupture
    source = "source" in here.hazards
    if source and "source" in facts.bars:
        yield no(f"a sealed source is in the fish and this {does}: nothing may rupture it ({rule})")
    elif source and "no_touch" in facts.bars and "no_touch" in here.marks:
        yield no(
            f"a sealed source is in the fish and this {does}: nothing may rupture it; barred until "
            f"the licensee agrees in writing and the depth of the source is proven ({rule})"
        )
    elif "no_touch" in facts.bars and "no_touch" in here.marks and "live" not in here.marks:
        yield no(
            f"this {does}, and batteries or the like must not be opened: barred until their owner "
            "agrees in writing (common practice)"
        )
    if "live" in here.marks and "live" in facts.bars:
        yield no(
            "live guns, detonators or a charge not fired: nothing that jars, mills, turns or "
            "shoots until the explosives crew has made them safe (common practice)"
        )
