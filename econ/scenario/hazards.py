"""What in the fish can harm people, the marks that it is, and the kinds of run that these bar.

A sealed source is the mark `source`, guns, detonators or a charge not fired are `live`, and each of
them and lithium batteries are `no_touch` until their owners agree in writing. The marks are derived
once, where a scenario is read: into [fish] marks, and into the bars of the runs by their kind. So
list, plan, log, checks and methods have the same.

Source of the bars: US NRC Information Notice 83-32 (sources ruptured by drilling above a stuck
tool), 10 CFR 39.15(a)(2); on guns and batteries common practice, no source.
"""

from __future__ import annotations

from collections.abc import Collection

from econ.scenario.hole import Fish

HAZARD_MARKS = ("source", "live", "no_touch")
# What drills, mills, washes, taps, cuts or shoots, or grips inside the fish.
_TOUCHES = (
    *("dress_top", "washover", "wash_then_catch", "outside_cut", "freepoint_backoff", "spear"),
    *("taper_tap", "die_collar", "core_basket", "rc_basket", "boot_basket", "junk_mill"),
    *("condition_trip", "sever", "chemical_cut", "drill_past"),
)
# What no consent allows with a source: it grinds or drills, or wears a cable that holds the source.
_GRINDS = ("core_basket", "boot_basket", "junk_mill", "drill_past", "side_door")
_MOVES = (
    *("screw_in", "overshot", "wall_hook", "knuckle_joint", "magnet", "work_jar"),
    *("source_retrieval", "cable_spear", "cut_thread", "side_door"),
)
BARRED_KINDS = {"source": _GRINDS, "live": (*_TOUCHES, *_MOVES), "no_touch": _TOUCHES}


def hazards(fish: Fish) -> tuple[str, ...]:
    """What in the fish can harm people, gravest first: source, live, batteries, trapped_gas, h2s.

    Its marks `source` and `live` count as well as the keys.

    >>> hazards(Fish(top=1.0, bottom=2.0, explosives=True, marks=["source"]))
    ('source', 'live')
    """
    holds = {
        "source": fish.sealed_source or "source" in fish.marks,
        "live": fish.explosives or fish.what == "guns" or "live" in fish.marks,
        "batteries": fish.lithium_batteries,
        "trapped_gas": fish.trapped_gas or fish.hydrogen_sulphide,
        "h2s": fish.hydrogen_sulphide,
    }
    return tuple(name for name, there in holds.items() if there)


def hazard_marks(found: Collection[str], *, consent: bool) -> frozenset[str]:
    """Marks that hazards in a fish are.

    >>> sorted(hazard_marks(("source", "batteries"), consent=False))
    ['no_touch', 'source']
    """
    marks = {"source", "live"}.intersection(found)
    if not consent and {"source", "live", "batteries"}.intersection(found):
        marks.add("no_touch")
    return frozenset(marks)


def hazard_bars(kind: str) -> tuple[str, ...]:
    """Marks of hazards that bar a kind of run.

    >>> hazard_bars("junk_mill"), hazard_bars("overshot"), hazard_bars("soak")
    (('source', 'live', 'no_touch'), ('live',), ())
    """
    return tuple(mark for mark in HAZARD_MARKS if kind in BARRED_KINDS[mark])
