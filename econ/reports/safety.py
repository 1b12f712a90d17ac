"""What in the fish can harm people, said before anything else, and what a stop asks for.

Source, live guns, batteries and trapped gas. The duties of a sealed source come from the rules of
the place (`econ.job.source_rules`); the rest is common practice, no source.
"""

from __future__ import annotations

from econ.job.methods.bars import hazard_bars
from econ.job.methods.catalogue import catalogue
from econ.job.methods.situation import situation
from econ.job.source_rules import SourceRules, source_rules
from econ.scenario.amounts import mean_of
from econ.scenario.hazards import hazards
from econ.scenario.scenario import Scenario


def warnings(scenario: Scenario) -> tuple[str, ...]:
    """Sentences for the first block of every text, gravest first; none for a harmless fish."""
    found = hazards(scenario.fish)
    consent = scenario.fish.written_consent
    said = []
    if "source" in found:
        rule = source_rules(scenario.job.source_rules).rupture
        barred = (
            "The licensee has agreed in writing, as stated: make only the runs he agreed to."
            if consent
            else "Nothing drills, mills, washes, taps, cuts or shoots until the licensee agrees in "
            "writing and the depth of the source is proven."
        )
        said.append(
            f"SEALED RADIOACTIVE SOURCE IN THE FISH ({rule}). {barred} Watch returns with a meter."
        )
        said.append(
            "Before a stop: no plug until the regulator and the licensee agree; the licensee "
            f"asks.{_waiting(scenario)}"
        )
    if "live" in found:
        said.append(
            "LIVE GUNS OR DETONATORS IN THE FISH. Nothing jars, mills or shoots until the "
            "explosives crew has made them safe; radio silence at the surface. Before a stop: the "
            "owner of the guns says in writing how they are left."
        )
    if "batteries" in found:
        said.append(
            "LITHIUM BATTERIES IN THE FISH. Nothing mills or cuts into them"
            + (". " if consent else " without their owner's written word. ")
            + "Damaged cells burn at the surface: plan for them. Before a stop: their depth goes "
            "into the well record."
        )
    if "trapped_gas" in found:
        gas = "TRAPPED GAS, WITH H2S," if "h2s" in found else "TRAPPED GAS"
        said.append(
            f"{gas} MAY BE IN OR BELOW THE FISH. Bleed it behind a closed preventer, check bores "
            "before they are opened at the surface. Before a stop: what stays trapped goes into "
            "the well record and the plug design."
        )
    return tuple(said)


def _waiting(scenario: Scenario) -> str:
    """What the hours of the approval cost at the spread, and that they are in the answer."""
    hours = scenario.limits.approval_hours
    if hours is None:
        return " The hours of the approval are not stated: dates and costs leave them out."
    spread = sum(map(mean_of, scenario.rates.values()))
    cost = hours / 24 * spread
    return (
        f" It takes {hours:,.0f} h, {cost:,.0f} {scenario.currency} at the spread, which is "
        "counted with every fallback that leaves the source in the hole."
    )


def checklist(scenario: Scenario) -> tuple[str, ...]:
    """Duties of a sealed source in the order of the job, a head first; none without a source."""
    if "source" not in hazards(scenario.fish):
        return ()
    rules = source_rules(scenario.job.source_rules)
    head = (
        f"A sealed source is in the fish. Rules of {rules.radiation} (read: {rules.read[0]}); "
        f"{rules.well} (read: {rules.read[1]}). Looked up on {rules.read_on:%d %B %Y}; check the "
        "current text."
    )
    return (head, *duties(rules))


def duties(rules: SourceRules) -> tuple[str, ...]:
    """The duties of both authorities, each with its time."""
    return (
        *(f"day one: {words}" for words in rules.day_one),
        *(f"before a stop: {words}" for words in rules.before_stop),
        *(f"after a stop: {words}" for words in rules.after_stop),
    )


def barred_runs(scenario: Scenario) -> tuple[str, ...]:
    """A line for each run of the program that a hazard in the fish bars, with the rule."""
    if not warnings(scenario):
        return ()
    here, kinds = situation(scenario), catalogue().kinds
    return tuple(
        f"Run {number} ({run.kind}) is barred: {finding.reason}"
        for number, run in enumerate(scenario.run, start=1)
        if run.kind in kinds
        for finding in hazard_bars(kinds[run.kind], here)
    )
