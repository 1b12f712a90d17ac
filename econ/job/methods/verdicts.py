"""Verdicts on a kind of run, and what the checks of many kinds share.

A finding is a verdict and its reason in words, with both numbers where numbers decide.
Facts are common practice, no source; limits marked so are judgement, no source.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from econ.job.methods.catalogue import limit
from econ.job.methods.planning_odds import BROKEN_TOPS
from econ.job.methods.situation import Situation
from econ.scenario.hazards import hazard_bars

Verdict = Literal["suits", "doubtful", "no"]
VERDICTS: tuple[Verdict, ...] = ("suits", "doubtful", "no")


@dataclass(frozen=True)
class Finding:
    """A verdict and its reason."""

    verdict: Verdict
    reason: str


def good(reason: str) -> Finding:
    """A reason for it, or how it is run."""
    return Finding("suits", reason)


def doubt(reason: str) -> Finding:
    """A reason to think twice."""
    return Finding("doubtful", reason)


def no(reason: str) -> Finding:
    """A reason against it that stands by itself."""
    return Finding("no", reason)


def broken(here: Situation) -> bool:
    """Whether the top is torn, belled, bent, split or otherwise damaged."""
    return here.top_condition in BROKEN_TOPS


def barred(here: Situation, kind: str) -> bool:
    """Whether what the fish holds bars a kind of run."""
    return not here.marks.isdisjoint(hazard_bars(kind))


def not_dressed(here: Situation) -> Finding:
    """A broken top under a catch that goes over it."""
    top = f"the top is {here.top_condition}"
    if barred(here, "dress_top"):
        return doubt(f"{top}, and dressing it off is barred here (see dress_top)")
    return doubt(f"{top}: dress it off first")


def covered(here: Situation, how: str = "under fill") -> str:
    """Why a run waits that needs a top free of fill."""
    if barred(here, "condition_trip"):
        return f"the top is {how}, and cleaning down to it is barred here (see condition_trip)"
    return f"the top is {how}: clean down to it first"


def stops_wash(here: Situation) -> bool:
    """Whether a part of the fish is too wide for any wash pipe in this hole."""
    return here.largest is not None and not wash_fits(here, here.largest)


def wash_end(here: Situation) -> float | None:
    """Length [ft] from the top down to the first piece that no wash pipe passes; None where the
    pieces tell of none."""
    above = 0.0
    for length, outside in here.pieces:
        if outside is not None and not wash_fits(here, outside):
            return above
        above += length
    return None


def first_too_wide(here: Situation) -> float:
    """Outside diameter [in] of that piece; 0 where there is none."""
    sizes = (outside for _, outside in here.pieces if outside is not None)
    return next((size for size in sizes if not wash_fits(here, size)), 0.0)


def washed_over(here: Situation) -> float | None:
    """Largest diameter [in] that is known of what wash pipe goes over; None where it is not."""
    end = wash_end(here)
    if end is None:
        return here.outside if here.largest is None or stops_wash(here) else here.largest
    above, sizes = 0.0, [here.outside]
    for length, outside in here.pieces:
        sizes.append(outside if above < end else None)
        above += length
    return max((size for size in sizes if size is not None), default=None)


def wash_fits(here: Situation, diameter: float) -> bool:
    """Whether wash pipe with its clearances goes between the hole and a `diameter` [in]."""
    return here.hole - diameter >= limit("wash_room")


def room_outside(here: Situation) -> Iterator[Finding]:
    """Room for a bowl between the hole and the fish top."""
    if here.outside is None:
        return
    room = here.hole - here.outside
    least, usual = limit("bowl_room_least"), limit("bowl_room_usual")
    words = f"{here.wide(here.hole)} hole over a {here.wide(here.outside)} top leaves "
    if room < least:
        yield no(f"{words}{here.wide(max(room, 0.0))}: no bowl goes between")
    elif room < usual:
        yield doubt(f"{words}{here.wide(room)}: slim bowl only")


def plugged(here: Situation, need: str) -> Iterator[Finding]:
    """What works inside the pipe needs an open bore."""
    if here.bore_open is False:
        yield no(f"the bore is plugged; {need}")
    elif here.bore_open is None:
        yield doubt(f"whether the bore is open is not known; {need}")
