"""Checks of what fishes for cable, and for a tool that hangs from one."""

from __future__ import annotations

from collections.abc import Iterator

from econ.job.methods.catalogue import limit
from econ.job.methods.situation import Situation
from econ.job.methods.verdicts import Finding, doubt, good, room_outside


def cable_spear(here: Situation) -> Iterator[Finding]:
    """Barbs wind loose cable up; run past its top it is packed off below the tool."""
    yield good("loose cable: find its top in small steps, and never go beyond it")
    if here.enlarged:
        yield doubt("enlarged hole: the spear passes the cable by; use a stop that fills the hole")


def cut_thread(here: Situation) -> Iterator[Finding]:
    """The cable guides the string on to the tool, and holds it safe meanwhile."""
    yield good("cable whole to the surface: it guides the catch on to the tool")
    yield good("offered before the weak point is pulled")
    yield from room_outside(here)


def side_door(here: Situation) -> Iterator[Finding]:
    """The cable stays uncut beside the string: short straight open hole only."""
    most, steep = limit("side_door_open"), limit("side_door_angle")
    open_hole = max(here.top - here.shoe, 0.0)
    if open_hole > most:
        yield doubt(
            f"{here.long(open_hole)} of open hole above the fish, over {here.long(most)}: the "
            "string turns the cable round itself; cut and thread"
        )
    if here.angle > steep:
        yield doubt(
            f"{here.angle:g} degrees, over {steep:g}: the cable wears between pipe and wall"
        )
    yield from room_outside(here)
    yield good("short straight open hole: the cable stays uncut")
