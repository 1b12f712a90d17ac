"""Rules between keys of a scenario: one small function each, all run, all reported.

A rule names the sections it reads; it is run when those are sound, even if others are
not, so that one look at the messages shows every fault of the file.
"""

from __future__ import annotations

from econ.scenario.faults import Fault
from econ.scenario.rules import authority, doubts, geometry, marks, places, program
from econ.scenario.rules.registry import RULES
from econ.scenario.scenario import Scenario

__all__ = ["authority", "broken", "doubts", "geometry", "marks", "places", "program"]


def broken(
    scenario: Scenario, sound: frozenset[str], *, changed: frozenset[str] | None = None
) -> list[Fault]:
    """Faults of every rule whose sections are sound. changed: only of rules that read one of
    these sections, because all was well before they were changed; None: of all rules."""
    return [
        fault
        for needs, check in RULES
        if needs <= sound and (changed is None or needs & changed)
        for fault in check(scenario)
    ]
