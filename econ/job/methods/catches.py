"""Checks of the catches: screw-in, overshot, wall hook, spear, taper tap."""

from __future__ import annotations

from collections.abc import Iterator

from econ.job.methods.catalogue import limit
from econ.job.methods.situation import Situation
from econ.job.methods.verdicts import (
    Finding,
    broken,
    doubt,
    good,
    no,
    not_dressed,
    plugged,
    room_outside,
)


def screw_in(here: Situation) -> Iterator[Finding]:
    """A thread is made up again: it must be sound and stand centred."""
    if broken(here):
        yield no(f"needs a sound thread; the top is {here.top_condition}")
    elif here.leans:
        yield doubt("the top leans: it must stand centred to take the thread")
    elif here.top_condition == "unknown":
        yield doubt("needs a sound thread; the top is not known")
    elif here.thread_up == "none":
        yield no("no thread looks up: pipe that broke in the body")
    elif here.mechanism == "parted" and here.thread_up is None:
        yield doubt("a connection must look up: pipe that broke in the body has no thread")
    elif here.top_condition == "clean":
        words = f"{here.thread_up} looking up" if here.thread_up else "clean top"
        yield good(f"{words}: screw back in")
    if here.outside is not None and here.hole_at_top > here.outside + limit("skirt_room"):
        yield good(
            f"{here.wide(here.hole_at_top)} hole round a {here.wide(here.outside)} top: "
            "run a skirt or guide"
        )


def overshot(here: Situation) -> Iterator[Finding]:
    """A bowl swallows an even cylinder that it can find."""
    yield from room_outside(here)
    if here.top_condition == "split":
        yield doubt("the top is split: reach past it to sound pipe with an extension")
    elif broken(here):
        yield not_dressed(here)
    elif here.leans:
        yield doubt("the top leans: a wall hook or knuckle joint finds it better")
    elif here.top_condition == "unknown":
        yield doubt("the top is not known: feel it or read it first")
    elif here.top_condition == "clean":
        yield good("clean top: catches all round the outside")
    if here.reach is not None and here.reach > limit("reach_half"):
        yield doubt(
            f"{here.wide(here.hole_at_top)} hole is {here.reach:.2g} times the "
            f"{here.wide(here.outside or 0.0)} top: may pass it by; run a guide that fills the hole"
        )
    if here.losses:
        yield doubt("mud is lost: a packed-off bowl cannot circulate through the fish")


def wall_hook(here: Situation) -> Iterator[Finding]:
    """A hook turns a top that lies out of reach into the bowl."""
    yield from _swept(here, tool="hook", to="it to the middle")


def knuckle_joint(here: Situation) -> Iterator[Finding]:
    """A knuckle or bent joint leans the bowl over to a top that lies out of reach."""
    yield from _swept(here, tool="joint", to="the bowl to it")


def _swept(here: Situation, *, tool: str, to: str) -> Iterator[Finding]:
    """What widens the sweep where the top lies out of reach."""
    yield from room_outside(here)
    if broken(here):
        yield not_dressed(here)
    if here.leans:
        yield good(f"the top leans: the {tool} brings {to}")
    elif here.enlarged:
        yield good(
            f"hole is {here.wide(here.hole_at_top)} at the top against a "
            f"{here.wide(here.hole)} bit: the {tool} widens the sweep"
        )
    elif here.reach is not None and here.reach > limit("reach_hook"):
        yield good(
            f"{here.wide(here.hole_at_top)} hole is {here.reach:.2g} times the "
            f"{here.wide(here.outside or 0.0)} top, which may lie to one side"
        )
    else:
        yield doubt("nothing says that the top is out of reach: a plain overshot is simpler")


def spear(here: Situation) -> Iterator[Finding]:
    """A grapple inside the pipe, for an open bore and an outside that cannot be caught."""
    yield from plugged(here, "a spear grips inside")
    if here.inside is not None and here.inside < limit("small_bore"):
        yield doubt(
            f"bore of {here.wide(here.inside)}, under {here.wide(limit('small_bore'))}: "
            "so small a spear is weak, and it blocks circulation"
        )
    if here.top_condition in ("split", "bent"):
        yield doubt(
            f"the top is {here.top_condition}: "
            f"needs {here.wide(6)} to {here.wide(12)} of sound bore"
        )
    elif here.top_condition in ("belled", "ragged", "damaged"):
        yield good(f"the top is {here.top_condition} outside; a spear grips below that")
    elif here.top_condition == "unknown":
        yield doubt("the top is not known")
    elif here.outside is not None and here.hole - here.outside < limit("bowl_room_usual"):
        yield good(
            f"{here.wide(here.outside)} top in {here.wide(here.hole)} hole: too wide to swallow"
        )
    elif here.bore_open:
        yield good("open bore; where an overshot goes over, it holds better")


def taper_tap(here: Situation) -> Iterator[Finding]:
    """A tapered thread cut into the bore: last, weak, and hard to release."""
    yield from plugged(here, "a tap threads into it")
    if here.length > limit("tap_length"):
        yield doubt(
            f"fish of {here.long(here.length)}: a tap is for short light fish, "
            f"{here.long(limit('tap_length'))} at most"
        )
    if here.mechanism not in ("parted", "unknown"):
        yield doubt("the fish is held: a tap stands little jarring and seldom lets go")
    yield good("last chance: run it with a safety joint")


def die_collar(here: Situation) -> Iterator[Finding]:
    """A tapered thread cut on to the outside: last, and hard to release."""
    yield from room_outside(here)
    if here.length > limit("tap_length"):
        yield doubt(
            f"fish of {here.long(here.length)}: a die collar is for short light fish, "
            f"{here.long(limit('tap_length'))} at most"
        )
    if here.mechanism not in ("parted", "unknown"):
        yield doubt("the fish is held: a die collar stands little jarring and seldom lets go")
    yield good("last chance outside: run it with a safety joint")
