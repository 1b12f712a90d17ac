"""Checks of what is done while the stuck string is whole to the surface."""

from __future__ import annotations

from collections.abc import Iterator

from econ.job.methods.catalogue import catalogue, limit
from econ.job.methods.situation import Situation
from econ.job.methods.verdicts import Finding, doubt, good, no, plugged


def jar_direction(here: Situation) -> str:
    """Which way to jar: against the last motion. Common practice, no source."""
    if here.mechanism in ("packed_off", "cavings"):
        return "bleed trapped pressure and pump gently, never pull first"
    if here.mechanism == "differential" and here.attached:
        return "most force at once, usually down with torque, while the pill is mixed"
    if here.mechanism == "key_seat":
        return "jar down, out of the key seat, and turn"
    if here.last_motion == "up":
        return "it last moved up: slack off, torque, jar down"
    if here.last_motion == "down":
        return "it last moved down: jar up, without torque"
    return "no last motion is told: jar up; an up blow suits most stuck fish"


def work_jar(here: Situation) -> Iterator[Finding]:
    """Pull, torque and jars, from the first hour."""
    yield good(f"first thing while the string is whole: {jar_direction(here)}")
    if here.mechanism in ("cement", "collapse"):
        hold = catalogue().mechanisms[here.mechanism]
        yield doubt(f"{hold.words}: working it seldom frees it")
    elif here.mechanism == "parted":
        yield doubt("told as parted and as attached: one of them is wrong")
    elif here.mechanism == "cavings":
        yield doubt("held by cavings: pulling packs them tighter; circulate first if it can")


def soak(here: Situation) -> Iterator[Finding]:
    """A freeing fluid is spotted round a differentially stuck string."""
    if here.mechanism == "differential":
        yield good("differential sticking: most that will come free do so in 12 to 16 h")
    elif here.mechanism == "unknown":
        yield doubt("only for differential sticking: full circulation, no movement or rotation")
    else:
        hold = catalogue().mechanisms[here.mechanism]
        yield no(f"{hold.words}: a soak frees differential sticking only")
    if here.bore_open is False:
        yield no("the bore is plugged: no pill can be placed")
    elif "circulates" not in here.told:
        yield doubt("needs circulation: the marks do not tell that it circulates")
    if here.losses:
        yield doubt("mud is lost: the pill may not stay where it is put")
    yield good("well control first: compute the column, the pill may be light")


def wireline(here: Situation, need: str) -> Iterator[Finding]:
    """What runs inside the string on wireline."""
    yield from plugged(here, need)
    least, usual = limit("wireline_least"), limit("wireline_usual")
    bore = here.narrowest
    if bore is not None and bore <= least:
        yield no(f"bore of {here.wide(bore)}; the slimmest tools are {here.wide(least)}")
    elif bore is not None and bore < usual:
        yield doubt(f"bore of {here.wide(bore)}: slim tools only")
    if here.angle > limit("gravity"):
        yield doubt(f"{here.angle:g} degrees, over {limit('gravity'):g}: tools must be pumped down")


def freepoint_backoff(here: Situation) -> Iterator[Finding]:
    """A stuck string is backed off above the stuck point, by wireline inside it."""
    if here.mechanism == "parted":
        yield no("the fish has parted and nothing holds it: nothing to back off")
        return
    if here.mechanism == "unknown":
        yield doubt("whether it is stuck is not known")
    if here.what in ("coiled_tubing", "casing"):
        yield no(f"{here.what.replace('_', ' ')}: no joint that a string shot backs off")
    yield from wireline(here, "wireline tools run inside")
    yield good("stuck string: finds the free pipe and leaves a top fit for a thread")
    yield good("one in three takes a second shot; no safety joint above, left-hand torque backs it")


def _cut(here: Situation) -> Iterator[Finding]:
    """What all cutters inside the pipe have in common; source of the odds: the catalogue."""
    yield from wireline(here, "the cutter runs inside")
    if here.mechanism == "parted":
        yield no("the fish has parted and nothing holds it: nothing to cut")
        return
    if here.tension is True:
        yield good("pipe in tension: cutters part it about three times in four")
    elif here.tension is False:
        yield doubt("pipe not in tension: cutters part it about one time in four")
    else:
        yield doubt("whether the pipe can be pulled into tension at the cut is not known")
    if here.what in ("coiled_tubing", "casing"):
        yield good(f"{here.what.replace('_', ' ')} has no joint to back off: it is cut")
    else:
        yield doubt("a back-off leaves a thread; cut where no joint lets go")


def sever(here: Situation) -> Iterator[Finding]:
    """A jet or explosive cutter parts a string that will not back off, and spoils the top."""
    yield from _cut(here)
    yield good("leaves a flared or torn top: it is dressed before a catch goes over it")
    yield good("a jet for pipe; heavy collars take an explosive charge")


def chemical_cut(here: Situation) -> Iterator[Finding]:
    """A chemical cutter leaves a clean top and no thread."""
    yield from _cut(here)
    yield good("leaves an even top without flare: an overshot goes over it undressed")
    yield good("for pipe, in fluid and clean inside; not for heavy collars")
    yield good("what it cuts with burns skin and lungs: its own crew handles it, spent or not")


def source_retrieval(here: Situation) -> Iterator[Finding]:
    """Some sources come out through the bore on wireline: ask in hour one."""
    if "source" not in here.hazards:
        yield no("no sealed source is in the fish")
        return
    yield from wireline(here, "the source comes out inside")
    if here.narrowest is not None:
        yield good(
            f"it has to pass {here.wide(here.narrowest)}, the smallest bore that is told: the "
            "tool's owner knows whether it does"
        )
    yield good("ask the tool's owner in hour one, before any back-off or cut")
