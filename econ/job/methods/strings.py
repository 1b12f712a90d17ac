"""What the string of each kind of run is made of on this fish, and why: shoe, guide, jars.

Common practice, no source. None of it changes odds; where a ratio is known, the odds ratios say
so.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from econ.job.methods.attached import jar_direction
from econ.job.methods.catalogue import RunFacts, limit
from econ.job.methods.situation import Situation
from econ.job.methods.verdicts import broken, stops_wash, washed_over

WASHING = ("washover", "wash_then_catch", "outside_cut")
BOWLS = ("overshot", "wall_hook", "knuckle_joint", "side_door")
MILLS = ("dress_top", "junk_mill")
THREADS = ("taper_tap", "die_collar")
THROUGH = {  # what runs inside the pipe
    "freepoint_backoff": "free-point tools and string shot",
    "sever": "cutter",
    "chemical_cut": "cutter",
    "source_retrieval": "source with its retrieving tool",
}


@dataclass(frozen=True)
class Component:
    """A part of the string, and why this one here."""

    part: str
    reason: str


def components(facts: RunFacts, here: Situation) -> tuple[Component, ...]:
    """The string of a kind of run from the bottom up."""
    found = [Component(*pair) for part in _PARTS for pair in part(facts, here)]
    return tuple(found)


def _shoe(facts: RunFacts, here: Situation) -> Iterator[tuple[str, str]]:
    """The rotary shoe; the wrong one damages the fish."""
    if facts.id not in WASHING:
        return
    metal = stops_wash(here) or here.mechanism in ("junk", "cement")
    if metal:
        yield (
            "rotary shoe of crushed carbide, dressed inside and on the face",
            "tool joints, blades or cement have to be cut; it cuts the fish too, so no longer "
            "than needed",
        )
    elif broken(here):
        yield (
            "rotary shoe of crushed carbide, dressed inside and on the face",
            f"the top is {here.top_condition}: only a shoe dressed inside squares it",
        )
    elif here.hardness == "hard":
        yield (
            "rotary shoe set with diamond, dressed outside only",
            "hard rock, and the fish is not to be cut",
        )
    else:
        rock = f"{here.hardness} rock" if here.hardness else "hardness not known, taken as soft"
        yield "tooth-type rotary shoe, dressed outside only", f"{rock}; it cuts hole and no fish"
    if facts.id == "outside_cut":
        yield "outside cutter in place of the shoe, after the wash", "the cut is made on the tube"
    if here.hangs:
        yield "spear in the wash string", "the fish hangs off bottom and would fall when freed"


def _guide(facts: RunFacts, here: Situation) -> Iterator[tuple[str, str]]:
    """The guide of a bowl, a thread or a magnet."""
    if facts.id == "knuckle_joint":
        yield "knuckle or bent joint above the bowl", "it leans the bowl over to the top"
    if facts.id in BOWLS and here.outside is not None and here.enlarged:
        yield (
            f"wall hook or cut-lip guide to sweep {here.wide(here.hole_at_top)}",
            f"washout at the top, {here.wide(here.hole)} bit",
        )
    elif facts.id in BOWLS and (here.leans or _out_of_reach(here)):
        yield "cut-lip guide", "turned over a top that may lie to one side"
    elif facts.id in BOWLS and broken(here):
        yield "mill guide with a mill control", f"the top is {here.top_condition}"
    elif facts.id in BOWLS:
        yield "plain guide", "the top stands in hole in gauge, as far as is told"
    room = limit("skirt_room")
    if facts.id == "screw_in" and here.outside is not None and here.hole > here.outside + room:
        yield (
            "skirt or guide round the sub",
            f"the hole is over {here.wide(room)} wider than the top",
        )
    if facts.id == "magnet":
        if here.covered:
            yield "mill guide", "fill over the junk is cut and washed away"
        elif here.hardness == "soft":
            yield "cut-lip guide", "soft bottom: it gathers what is trodden in"
        else:
            yield "flush guide", "firm clean bottom; run again until a trip brings nothing"


def _out_of_reach(here: Situation) -> bool:
    """Whether the top may lie to one side of the hole."""
    return here.reach is not None and here.reach > limit("reach_hook")


def _sizes(facts: RunFacts, here: Situation) -> Iterator[tuple[str, str]]:
    """What the tool has to catch, pass or go over, where the sizes are told."""
    room = "" if facts.under_hole is None else here.wide(here.hole - facts.under_hole.low)
    most = f"; {room} outside at the most in {here.wide(here.hole)} hole" if room else ""
    if facts.id in BOWLS and here.outside is not None:
        yield f"grapple or slips for {here.wide(here.outside)}", f"outside at the top{most}"
    if facts.id == "die_collar" and here.outside is not None:
        yield f"die collar that takes {here.wide(here.outside)}", "outside at the top"
    if facts.id in ("spear", "taper_tap") and here.inside is not None:
        tool = "grapple" if facts.id == "spear" else "tap"
        yield f"{tool} for a bore of {here.wide(here.inside)}", "bore at the top"
    passed = washed_over(here)
    if facts.over_fish is not None and passed is not None and room:
        least = passed + facts.over_fish.low
        yield (
            f"wash pipe with a bore of {here.wide(least)} or more",
            f"it goes over {here.wide(passed)}{most}",
        )
    if facts.id in THROUGH and here.narrowest is not None:
        yield (
            f"{THROUGH[facts.id]} smaller than {here.wide(here.narrowest)}",
            "smallest bore that is told",
        )


def _mill(facts: RunFacts, here: Situation) -> Iterator[tuple[str, str]]:
    if facts.id == "dress_top":
        if here.top_condition in ("belled", "split"):
            yield "hollow mill over the outside", f"the top is {here.top_condition}"
        elif _out_of_reach(here):
            yield "skirted mill", "the skirt finds and centres a small top in a large hole"
        else:
            yield (
                "flat mill of crushed carbide",
                "steel is cut; the skirt adds nothing in this hole",
            )
    if facts.id in MILLS or facts.id == "boot_basket":
        yield "boot baskets above it", "cuttings settle there; magnet in the flowline"
    if facts.id == "core_basket" and here.hardness:
        yield "core shoe for soft to medium rock", f"{here.hardness} rock"
    if facts.id == "rc_basket":
        yield "ball and jet sub", "the flow is turned inwards at the shoe"


def _above(facts: RunFacts, here: Situation) -> Iterator[tuple[str, str]]:
    """Safety joint, bumper sub, jars, collars, accelerator."""
    if facts.id in THREADS:
        yield "safety joint", "a thread cut into the fish seldom lets go"
    if "bumper_sub" in facts.options:
        yield "bumper sub", "a down blow, and to knock the catch loose"
    if "jars" in facts.options or facts.id == "work_jar":
        washing = facts.over_fish is not None and "bumper_sub" not in facts.options
        yield "jars", "in case the wash string sticks" if washing else jar_direction(here)
        if facts.trips:
            yield "collars above the jars", "the weight of the blow"
    if "accelerator" in facts.options:
        if here.top < limit("shallow"):
            yield "accelerator", f"top at {here.long(here.top)}: little stretch in the string"
        elif here.steep:
            yield "accelerator", f"{here.angle:g} degrees: pull is lost to friction"
    if facts.id == "freepoint_backoff":
        yield "no safety joint in the string", "left-hand torque would back it off first"


_PARTS = (_shoe, _guide, _sizes, _mill, _above)
