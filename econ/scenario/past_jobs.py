"""Where the case at hand lies outside the past jobs that its odds come from.

Odds hold for jobs like those they were counted on. A case outside their ranges is no fault, but
nothing in the records speaks for it.
"""

from __future__ import annotations

from collections.abc import Iterator

from econ.scenario.evidence import PastJobs
from econ.scenario.scenario import Scenario

FEW = 5  # runs of a kind, or jobs of a mechanism, that are few


def outside(scenario: Scenario, past: PastJobs) -> Iterator[str]:
    """What of the case the records do not cover, one sentence each."""
    job, seen = scenario.in_field_units(), past.seen
    for name, value, ends, unit in (
        ("hole size", job.well.hole_diameter, seen.hole_size, "in"),
        ("angle", job.well.inclination, seen.angle, "degrees"),
        ("fish top", job.fish.top, seen.depth, "ft"),
    ):
        if ends is not None and not ends[0] <= value <= ends[1]:
            yield (
                f"{name} {value:,.6g} {unit} lies outside that of the past jobs, "
                f"{ends[0]:,.6g} to {ends[1]:,.6g} {unit}"
            )
    for name, word, words in (
        ("mechanism", job.fish.mechanism, dict(seen.mechanism)),
        ("top condition", job.fish.top_condition, dict(seen.top_condition)),
    ):
        many = {str(each): count for each, count in words.items()}.get(word, 0)
        if words and word != "unknown" and many < FEW:
            yield f"{name} {word}: {many or 'none'} of the past jobs"
    runs = dict(past.kinds)
    for kind in dict.fromkeys(run.kind for run in job.run):
        if runs.get(kind, 0) < FEW:
            yield f"kind {kind}: {runs.get(kind) or 'no'} past runs"
    if seen.most_runs and len(job.run) > seen.most_runs:
        yield (
            f"{len(job.run)} runs are planned; no past job went beyond run {seen.most_runs}, so "
            "nothing is known of odds so late"
        )
