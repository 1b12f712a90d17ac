"""Whether a kind of run suits this fish and hole, and why.

Each kind has a check; the worst verdict of its findings counts. What is not known lowers
no verdict by itself unless the kind hangs on it; it is listed instead (`unknown_keys`).
"""

from __future__ import annotations

from collections.abc import Iterator

from econ.job.methods import attached, cable, catches, junk, preparations
from econ.job.methods.bars import bars
from econ.job.methods.catalogue import RunFacts, catalogue
from econ.job.methods.situation import Situation
from econ.job.methods.verdicts import VERDICTS, Finding, covered, doubt, no, washed_over


def findings(facts: RunFacts, here: Situation) -> tuple[Finding, ...]:
    """All findings on a kind of run, the gravest first."""
    found = list(bars(facts, here)) or list(_for_what(facts, here))
    if all(each.verdict != "no" for each in found):
        found += _CHECKS[facts.id](here)
        found += _common(facts, here)
    found.sort(key=lambda each: -VERDICTS.index(each.verdict))
    return tuple(found)


def unknown_keys(facts: RunFacts, here: Situation) -> tuple[str, ...]:
    """Key paths the file leaves out that could change verdict or odds of this kind."""
    return tuple(key for key in _ASKS[facts.id] if not here.known(key))


def _for_what(facts: RunFacts, here: Situation) -> Iterator[Finding]:
    """Pipe is caught, washed and cut; loose junk is swept up or milled; debris lies on a fish."""
    if here.loose_junk and facts.id in _NOT_ON_JUNK:
        yield no(f"loose junk: {_NOT_ON_JUNK[facts.id]}")
    sweeps = facts.purpose == "junk" and facts.id != "junk_mill"
    if not here.loose_junk and sweeps and "junk" not in here.marks:
        yield no(f"the fish is {here.long(here.length)} of pipe or tool; this takes loose junk")


_NOT_ON_JUNK = {
    **dict.fromkeys(
        ("screw_in", "overshot", "spear", "taper_tap", "wall_hook", "knuckle_joint", "die_collar"),
        "no top to catch",
    ),
    "dress_top": "no top to dress",
    **dict.fromkeys(("washover", "wash_then_catch", "outside_cut"), "nothing to wash over or cut"),
}


def _common(facts: RunFacts, here: Situation) -> Iterator[Finding]:
    """Cover, hold and clearance."""
    if facts.purpose == "catch" and here.covered:
        yield doubt(covered(here))
    if facts.jarred and here.mechanism in ("cement", "collapse"):
        hold = catalogue().mechanisms[here.mechanism]
        low, high = 100 * hold.frees.low, 100 * hold.frees.high
        yield doubt(f"{hold.words}: jarring frees {low:.0f} to {high:.0f} % of what is caught")
    for run in here.runs:
        if run.kind == facts.id:
            yield from _clearance(facts, here, outside=run.tool_outside, bore=run.tool_inside)


def _clearance(
    facts: RunFacts, here: Situation, *, outside: float | None, bore: float | None
) -> Iterator[Finding]:
    """Clearance of the tool that a run gives, against practice."""
    usual = facts.under_hole
    if usual is not None and outside is not None and here.hole - outside < usual.low - 1e-9:
        yield doubt(
            f"{here.wide(outside)} tool in {here.wide(here.hole)} hole: practice leaves "
            f"{here.wide(usual.low)} or more ({facts.clearance_source})"
        )
    over = facts.over_fish
    passed = washed_over(here)
    if over is None or bore is None or passed is None or bore - passed >= over.low - 1e-9:
        return
    yield doubt(
        f"{here.wide(bore)} bore over {here.wide(passed)}: practice leaves "
        f"{here.wide(over.low)} or more ({facts.clearance_source})"
    )


_CHECKS = {
    "screw_in": catches.screw_in,
    "overshot": catches.overshot,
    "dress_top": preparations.dress_top,
    "washover": preparations.washover,
    "wash_then_catch": preparations.washed,
    "outside_cut": preparations.outside_cut,
    "spear": catches.spear,
    "taper_tap": catches.taper_tap,
    "wall_hook": catches.wall_hook,
    "magnet": junk.magnet,
    "core_basket": junk.core_basket,
    "rc_basket": junk.rc_basket,
    "boot_basket": junk.boot_basket,
    "junk_mill": junk.junk_mill,
    "condition_trip": preparations.condition_trip,
    "soak": attached.soak,
    "work_jar": attached.work_jar,
    "freepoint_backoff": attached.freepoint_backoff,
    "sever": attached.sever,
    "chemical_cut": attached.chemical_cut,
    "source_retrieval": attached.source_retrieval,
    "cable_spear": cable.cable_spear,
    "cut_thread": cable.cut_thread,
    "side_door": cable.side_door,
    "die_collar": catches.die_collar,
    "knuckle_joint": catches.knuckle_joint,
    "drill_past": junk.drill_past,
}

_TOP, _HOLD, _BORE = "fish.top_condition", "fish.mechanism", "fish.bore_open"
_OUTSIDE, _INSIDE = "fish.outside_diameter", "fish.inside_diameter"
_CALIPER, _FILL, _LOSSES = "well.diameter_at_top", "fish.fill", "well.losses"
_MOTION, _TENSION = "fish.last_motion", "fish.tension"
_WIDEST, _ROCK = "fish.largest_diameter", "well.hardness"
_ASKS = {
    "screw_in": (_TOP, _HOLD, _OUTSIDE, _CALIPER, _FILL),
    "overshot": (_TOP, _HOLD, _OUTSIDE, _CALIPER, _FILL, _BORE, _LOSSES),
    "dress_top": (_TOP, _FILL),
    "washover": (_HOLD, _OUTSIDE, _WIDEST, _LOSSES),
    "wash_then_catch": (_TOP, _HOLD, _OUTSIDE, _WIDEST, _LOSSES),
    "outside_cut": (_HOLD, _OUTSIDE, _WIDEST, _BORE, _LOSSES),
    "freepoint_backoff": (_HOLD, _BORE, _INSIDE),
    "spear": (_TOP, _HOLD, _BORE, _INSIDE),
    "taper_tap": (_TOP, _HOLD, _BORE),
    "wall_hook": (_TOP, _HOLD, _OUTSIDE, _CALIPER, _FILL),
    "magnet": ("fish.ferrous", _FILL),
    "core_basket": (_ROCK, _WIDEST, _FILL),
    "rc_basket": (_WIDEST, _LOSSES),
    "boot_basket": (_WIDEST, _ROCK),
    "junk_mill": (_ROCK,),
    "condition_trip": (_TOP, _FILL),
    "soak": (_HOLD, _LOSSES),
    "work_jar": (_HOLD, _MOTION),
    "sever": (_BORE, _INSIDE, _TENSION),
    "chemical_cut": (_BORE, _INSIDE, _TENSION),
    "source_retrieval": (_BORE, _INSIDE),
    "cable_spear": (_CALIPER,),
    "cut_thread": (_OUTSIDE,),
    "side_door": (_OUTSIDE,),
    "die_collar": (_TOP, _HOLD, _OUTSIDE),
    "knuckle_joint": (_TOP, _HOLD, _OUTSIDE, _CALIPER, _FILL),
    "drill_past": (_ROCK, _WIDEST),
}
