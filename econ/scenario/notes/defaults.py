"""Notes on runs that rest on planning defaults, and on wash pipe that stops short.

The text that marks a run whose hours and odds are the planning defaults of the catalogue
stands here, so that the file format knows it.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from econ.scenario.notes.registry import note
from econ.scenario.rules.geometry import WASH_KINDS, full_gauge
from econ.scenario.scenario import Scenario

ODDS = re.compile(r"(run\.\d+\.odds)\..+")
PLANNING = "planning default, judgement, no source"  # how `origin` of such a run begins


@note
def rests_on_defaults(scenario: Scenario) -> Iterator[str]:
    """Starting ranges that nobody has replaced yet are no basis for a decision."""
    runs = [
        f"run.{number} ({run.kind})"
        for number, run in enumerate(scenario.run, start=1)
        if run.origin.strip().startswith(PLANNING)
    ]
    if runs:
        yield (
            f"the answer rests on planning defaults (judgement, no source) for {', '.join(runs)}; "
            "replace hours and odds by those of the fishing supervisor or of local records, then "
            "say so under origin"
        )


@note
def wash_stops_short(scenario: Scenario) -> Iterator[str]:
    """No wash pipe passes a part of the fish that fills the hole."""
    largest = scenario.fish.largest
    runs = [
        f"run.{number}"
        for number, run in enumerate(scenario.run, start=1)
        if run.kind in WASH_KINDS and run.tool_inside is not None
    ]
    if runs and largest is not None and full_gauge(scenario):
        unit = "in" if scenario.units == "field" else "mm"
        yield (
            f"{', '.join(runs)}: no wash pipe passes the {largest:.10g} {unit} part of the fish in "
            f"{scenario.well.hole_diameter:.10g} {unit} hole; the washing ends above it"
        )


def not_looked_at(scenario: Scenario) -> tuple[str, ...]:
    """Key paths of planning values that nobody has looked at: those marked in the file, all odds of
    a run as one, and runs whose origin says so."""
    marked = dict.fromkeys(ODDS.sub(r"\1", path) for path in scenario.marked)
    runs = (
        f"run.{number}"
        for number, run in enumerate(scenario.run, start=1)
        if run.origin.strip().startswith(PLANNING)
    )
    plain = (run for run in runs if not any(path.startswith(f"{run}.") for path in marked))
    return (*marked, *plain)
