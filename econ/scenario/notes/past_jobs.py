"""Notes on odds from past jobs: what was done to each value, and where the case lies outside."""

from __future__ import annotations

from collections.abc import Iterator

from econ.scenario.evidence import in_words
from econ.scenario.notes.registry import note
from econ.scenario.past_jobs import outside
from econ.scenario.scenario import Scenario


@note
def odds_of_past_jobs(scenario: Scenario) -> Iterator[str]:
    """Every value that the records were asked for says where it is from."""
    past = scenario.past_jobs
    if past is None:
        return
    said: dict[str, list[str]] = {}
    for number, run in enumerate(scenario.run, start=1):
        words = in_words(run.evidence)
        if words:
            said.setdefault(words, []).append(f"run.{number}")
    for words, runs in said.items():
        yield f"odds of {', '.join(runs)}: {words}"
    for each in scenario.fishing.evidence:
        yield f"fishing.{each.of}: {each.words()}"
    for number, doubt in enumerate(scenario.doubt, start=1):
        for each in doubt.evidence:
            yield f"doubt.{number}.{each.of}: {each.words()}"
    if said and past.prior_weight is not None:
        lost = ""
        if past.rows_lost:
            lost = f", {past.rows_lost} rows and {past.jobs_lost} jobs of the table not taken"
        yield (
            f"past jobs of {past.file}: {past.runs} runs of {past.jobs} jobs{lost}; beside them "
            f"the odds of the trade count {past.prior_weight:.3g} runs of each kind "
            f"({past.prior_origin})"
        )
    if not said and not scenario.fishing.evidence:
        yield f"odds_from = {past.file} changes nothing: no run is listed"


@note
def outside_the_past_jobs(scenario: Scenario) -> Iterator[str]:
    """Odds hold for jobs like those they were counted on."""
    past = scenario.past_jobs
    if past is not None:
        for words in outside(scenario, past):
            yield f"outside the past jobs of {past.file}: {words}"
