"""Checks of what takes loose junk: magnet, baskets, junk mill."""

from __future__ import annotations

from collections.abc import Iterator

from econ.job.methods.catalogue import catalogue, limit
from econ.job.methods.situation import Situation
from econ.job.methods.verdicts import Finding, doubt, good, no


def _wide_junk(here: Situation) -> Iterator[Finding]:
    widest = limit("basket_share") * here.hole
    if here.loose_junk and here.widest is not None and here.widest > widest:
        yield no(
            f"junk of {here.wide(here.widest)} does not pass the catchers, about "
            f"{here.wide(widest)} in {here.wide(here.hole)} hole"
        )


def magnet(here: Situation) -> Iterator[Finding]:
    """Small magnetic pieces on a firm clean bottom."""
    if here.ferrous is False:
        yield no("the junk is not magnetic: use a basket")
    elif here.ferrous is None:
        yield doubt("whether the junk is magnetic is not known")
    else:
        yield good("magnetic junk: short and cheap, run first and again; carbide inserts stay")
    if here.loose_junk and here.heaviest is not None and here.heaviest > limit("heavy_junk"):
        yield doubt(
            f"a piece of {here.heavy(here.heaviest)}, over {here.heavy(limit('heavy_junk'))}, "
            "may drop off"
        )
    if here.loose_junk and here.length > limit("long_junk"):
        yield doubt(f"junk {here.long(here.length)} long, over {here.long(limit('long_junk'))}")
    if here.covered:
        yield doubt("fill covers the junk: a basket that circulates reaches it")


def core_basket(here: Situation) -> Iterator[Finding]:
    """The rock round the junk is cored and broken off: not hard rock."""
    yield from _wide_junk(here)
    if here.hardness == "hard":
        yield no("hard rock: cores soft to medium rock only; use a reverse-circulating basket")
    elif here.hardness is None:
        yield doubt("cores soft to medium rock only; the hardness is not known")
    else:
        yield good(f"{here.hardness} rock: cores round the junk and breaks it off")
    if here.covered:
        yield doubt("deep fill chokes it")


def rc_basket(here: Situation) -> Iterator[Finding]:
    """Flow turned inwards at the shoe sweeps loose pieces in."""
    yield from _wide_junk(here)
    yield good("sweeps loose junk in, also from under fill and in hard rock")
    if here.losses:
        yield doubt("mud is lost: it needs the flow to sweep")


def boot_basket(here: Situation) -> Iterator[Finding]:
    """Fine junk settles in a cup above a bit or mill."""
    if here.fine:
        yield good("fine junk, which settles in it")
    else:
        yield doubt("for fine junk, always above a mill; no answer to whole cones")
    if here.hardness == "soft":
        yield doubt("soft rock: a bit may drive pieces into the wall")
    elif here.hardness == "hard":
        yield doubt("hard rock: junk wrecks the bit before the bit breaks the junk")


def junk_mill(here: Situation) -> Iterator[Finding]:
    """What nothing else takes is ground small."""
    if not here.loose_junk:
        rates = catalogue().rates["mill"]["metal"]
        hours = " to ".join(f"{here.length / rate:,.0f}" for rate in (rates.high, rates.low))
        words = f"{here.long(here.length)} of steel would take {hours} h of milling"
        yield no(words) if here.length > limit("milled") else doubt(words)
    if here.hardness == "soft":
        yield doubt("soft rock: a mill starts a hole of its own beside the junk")
    yield good("when nothing else takes it; boot baskets above it, magnet in the flowline")


def drill_past(here: Situation) -> Iterator[Finding]:
    """The junk is left, walled off by the bit: soft rock, room, little junk."""
    if not here.loose_junk:
        yield no(f"{here.long(here.length)} of fish: a bit does not go past it")
    if here.hardness == "hard":
        yield no("hard rock: junk stays before the bit and wrecks it")
    elif here.hardness is None:
        yield doubt("soft rock only; the hardness is not known")
    else:
        yield good(f"{here.hardness} rock: a bit may drive small junk into the wall")
    yield doubt("the bit is damaged in one case in five to one in two, and logs may hang up later")
