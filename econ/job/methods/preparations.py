"""Checks of what prepares, washes over, cuts or releases: no catch by itself."""

from __future__ import annotations

from collections.abc import Iterator

from econ.job.methods.situation import Situation
from econ.job.methods.verdicts import (
    Finding,
    broken,
    covered,
    doubt,
    first_too_wide,
    good,
    no,
    stops_wash,
    wash_end,
    wash_fits,
)


def dress_top(here: Situation) -> Iterator[Finding]:
    """A torn top is milled even before a grapple goes over it."""
    if broken(here):
        yield good(f"the top is {here.top_condition}: milled even before a catch")
    elif here.top_condition == "unknown":
        yield doubt("the top is not known; a mill may spoil a sound one")
    elif here.top_condition == "clean":
        yield doubt("the top is clean: nothing to dress")
    else:
        yield doubt(f"the top is {here.top_condition}: reach it first")
    if here.covered:
        yield doubt(covered(here))


def condition_trip(here: Situation) -> Iterator[Finding]:
    """A bit cleans down to the top, and feels it."""
    if here.covered:
        fill = f"{here.long(here.fill)} of fill" if here.fill else "fill"
        yield good(f"{fill} over it: clean down before anything else")
    elif here.loose_junk:
        yield doubt("loose junk: a basket that circulates cleans on its way")
    elif here.mechanism in ("packed_off", "cavings", "mobile_formation"):
        yield good("the hole makes fill: a catch behind a clean trip runs less risk")
    elif here.top_condition == "unknown":
        yield good("feels the top and cleans down to it")
    else:
        yield doubt("a full trip and no catch: for a hole left open a day and more, or with fill")
    yield good("stop the bit short of the top; no weight on it")


def washed(here: Situation) -> Iterator[Finding]:
    """What holds the fish, and whether wash pipe goes over it."""
    need = "wash pipe with its clearances"
    if here.outside is not None and not wash_fits(here, here.outside):
        yield no(
            f"{need} does not go between {here.wide(here.hole)} hole and "
            f"a {here.wide(here.outside)} top"
        )
    elif stops_wash(here) and here.largest is not None:
        end = wash_end(here)
        where = "" if end is None else f"{here.long(end)} below the top, "
        widest = here.largest if end is None else first_too_wide(here)
        yield good(
            f"plan the washing to end {where}above the {here.wide(widest)} part, which no wash "
            f"pipe passes in {here.wide(here.hole)} hole: what holds the fish there stays"
        )
    words = {
        "packed_off": good("held by cuttings: washing cuts them away"),
        "cavings": good("held by cavings: wash short lengths, soon"),
        "differential": good("held by cake: the shoe cuts the contact away"),
        "key_seat": good("held in a key seat: the shoe cuts the shoulder"),
        "cement": doubt(f"cement: {here.long(1)} to {here.long(4)} an hour with a mill shoe"),
        "geometry": doubt("ledge or dogleg: hard on a shoe, and the pipe may follow it"),
        "undergauge": doubt("undergauge hole: what sticks is at the bit, past reach of a shoe"),
        "mobile_formation": doubt("the rock that holds the fish closes on wash pipe too"),
        "junk": doubt("junk alongside may wedge the wash pipe as well"),
        "collapse": no("a collapsed hole buries wash pipe too; plan the sidetrack"),
        "unknown": doubt("what holds it is not known; washing wears time and luck"),
    }
    if here.mechanism in words:
        yield words[here.mechanism]
    elif here.covered:
        yield good("fill over and round the top: washing clears it")
    else:
        yield doubt("nothing is known to hold it: wash only when a catch will not move it")
    if here.steep and here.enlarged:
        yield doubt(
            f"{here.angle:g} degrees and {here.wide(here.hole_at_top)} hole: "
            "the shoe may leave the fish"
        )
    if here.losses:
        yield doubt("mud is lost: cuttings stay round the wash pipe, which sticks easily")


def washover(here: Situation) -> Iterator[Finding]:
    """Washing alone frees, and catches nothing."""
    yield from washed(here)
    yield good("frees, but catches nothing; and the wash string may stick in its turn")


def outside_cut(here: Situation) -> Iterator[Finding]:
    """A fish that cannot come whole is cut outside, section by section."""
    yield from washed(here)
    if here.mechanism == "parted" and not here.covered:
        yield no("nothing holds the fish: no call to cut it up")
    if here.bore_open is False:
        yield good("the bore is plugged: the way to part it below the plug")
    elif here.bore_open:
        yield doubt("the bore is open: a wireline back-off is shorter")
    else:
        yield doubt("only when it will not come whole and no wireline can part it")
    if "source" in here.hazards:
        yield doubt("a sealed source is in the fish: never cut on the section that holds it")
    yield good("the length down to the cut is washed first; the cutter takes the shoe's place")
    yield good(f"one section of {here.long(60)} to {here.long(250)} a round trip; seldom pays")
