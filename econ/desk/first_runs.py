"""Runs to begin with, as text for a first file: planning ranges, each marked to be replaced.

It needs NumPy, so the worker calls it. Hours and odds are those of `job.methods`; charges are the
catalogue's range, and what a lost string costs is that of the starter: US dollars for land work,
judgement, no source.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from econ.desk.questions import in_money
from econ.desk.text_blocks import MARK
from econ.job.methods.catalogue import catalogue
from econ.job.methods.run_fragment import fragment
from econ.job.methods.situation import situation
from econ.job.methods.work_hours import worked_length
from econ.scenario.quantities import UNITS
from econ.scenario.scenario import Scenario

NO_SOURCE = "planning range, judgement, no source"
STRING = (350.0, 90_000.0)  # length [ft] and value [USD] of a fishing string that stays
PART = 60.0  # [ft] that the top moves down when a part comes
MEASURED = re.compile(
    r"(hours|make_up|circulate|work|lay_down|recovered|part|nothing|prepared|top_damaged|"
    r"string_lost|hole_lost|weight) = [^#\n]*"
)


def first_runs(scenario: Scenario, kinds: Sequence[str], *, dollar: float = 1.0) -> list[str]:
    """A [[run]] as text for each of the kinds, in their order.

    dollar: how much of the money of the file a US dollar is. Raises ScenarioError for a kind that
    is not in the catalogue.
    """
    return [_first_run(scenario, kind, dollar) for kind in kinds]


def _first_run(scenario: Scenario, kind: str, dollar: float) -> str:
    lines = []
    for line in fragment(scenario, kind).splitlines():
        if line.startswith("# Paste it where"):
            continue
        found = MEASURED.match(line)
        lines.append(f"{found.group().rstrip()}  # {MARK}: {NO_SOURCE}" if found else line)
    start = lines.index("# Only you know these; left out, they count nothing.")
    end = max(
        n for n, line in enumerate(lines) if re.match(r"# (string_value|wash_length|tool_)", line)
    )
    return "\n".join([*lines[:start], *_planned(scenario, kind, dollar), *lines[end + 1 :]]) + "\n"


def _planned(scenario: Scenario, kind: str, dollar: float) -> list[str]:
    """What only the person on the job knows, with a planning value."""
    facts = catalogue().kinds[kind]
    feet = 1.0 if scenario.units == "field" else 1 / UNITS["length"][2]
    by_foot = facts.charge.get("foot")
    length = worked_length(facts, situation(scenario)) if by_foot else 0.0
    run = facts.charge["run"]
    low = run.low + (by_foot.low * length if by_foot else 0.0)
    high = run.high + (by_foot.high * length if by_foot else 0.0)
    trips = facts.trips_in
    rows: list[tuple[str, object]] = [
        ("charge", f"{{ low = {in_money(low, dollar)}, high = {in_money(high, dollar)} }}"),
        ("part_length", round(PART * feet, 1) if trips else 0),
        ("string_length", round(STRING[0] * feet, 1) if trips else 0),
        ("string_value", in_money(STRING[1], dollar) if trips else 0),
    ]
    return [f"{name} = {value}  # {MARK}: {NO_SOURCE}" for name, value in rows]
