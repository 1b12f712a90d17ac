"""Rules between keys of a scenario: one small function each, all run, all reported.

A rule names the sections it reads; it is run when those are sound, even if others are
not, so that one look at the messages shows every fault of the file.
"""

from __future__ import annotations

from econ.scenario.faults import Fault
from econ.scenario.rules import doubts, geometry, marks, places, program
from econ.scenario.rules.registry import RULES
from econ.scenario.scenario import Scenario

__all__ = ["broken", "doubts", "geometry", "marks", "places", "program"]


def broken(scenario: Scenario, sound: frozenset[str]) -> list[Fault]:
    """Faults of every rule whose sections are sound."""
    return [fault for needs, check in RULES if needs <= sound for fault in check(scenario)]
