"""A run of one kind as a piece of a scenario file, with the planning ranges to start from.

The odds are those of `outcomes`, at the scenario's own prior chances. Marks and doubts are keys of
the run where the file uses them, and a remark where it does not. What only the person on the job
knows (charges, lengths, values) is left as a comment.
"""

from __future__ import annotations

import math
import textwrap
from collections.abc import Sequence
from typing import Any

from econ.job.methods.catalogue import (
    CHARGES_IN,
    ReadingFacts,
    RunFacts,
    TripParts,
    catalogue,
    limit,
)
from econ.job.methods.outcomes import mixed_odds, starting_odds
from econ.job.methods.ranges import Hours
from econ.job.methods.situation import situation
from econ.job.methods.survey import Suitability, charge_words, one_judged, round_trip_hours
from econ.job.methods.work_hours import planned_trips
from econ.scenario.amounts import ends_and_middle
from econ.scenario.faults import Fault, ScenarioError, did_you_mean, shown
from econ.scenario.marks import ATTACHED, DAMAGED_TOP
from econ.scenario.notes.defaults import PLANNING
from econ.scenario.program import OUTCOMES
from econ.scenario.quantities import UNITS
from econ.scenario.scenario import Scenario

WIDTH = 96  # columns of the file


def fragment(scenario: Scenario, kind: str) -> str:
    """TOML of a `[[run]]` of `kind`, to paste into the file of `scenario`.

    Raises `ScenarioError` for a kind that is not in the catalogue.

    >>> from econ.scenario import load
    >>> lines = fragment(load("scenarios/a_land_twist_off.toml"), "overshot").splitlines()
    >>> "[[run]]" in lines
    True
    """
    kinds, readings = catalogue().kinds, catalogue().readings
    if kind in readings:
        return "\n".join(_reading(readings[kind], scenario)) + "\n"
    if kind not in kinds:
        known = [*kinds, *readings]
        allowed = "one of: " + ", ".join(known)
        raise ScenarioError([Fault(shown(kind), allowed, did_you_mean(kind, known), ("--run",))])
    facts = kinds[kind]
    judged = one_judged(scenario, facts)
    here = situation(scenario)
    parts = [_head(facts, judged), _run(facts, judged, scenario), _left_open(facts, scenario)]
    parts += [_trip(part) for part in planned_trips(facts, here)]
    parts += _odds(scenario, facts, judged)
    return "\n".join(line for part in parts for line in part) + "\n"


def _reading(facts: ReadingFacts, scenario: Scenario) -> list[str]:
    """A `[[reading]]` of the fish; it changes no odds but the belief in what it is about."""
    trip = round_trip_hours(scenario)
    hours = facts.hours if trip is None else facts.hours + trip
    doubts = [doubt.name for doubt in scenario.doubt]
    lines = [
        *_remark(f"{facts.name}: planning values, {facts.source}. A soft block set down once."),
        "[[reading]]",
        f'name = "{facts.name}"',
        f"reliability = {facts.reliability:g}  # fraction; reads a good top as good",
        f"reliability_stubborn = {facts.reliability_stubborn:g}  # fraction; a bad one as bad",
        f"hours = {hours.likely:.1f}  # h, round trip {'left out' if trip is None else 'included'}",
    ]
    if facts.about in doubts:
        lines.append(f'about = "{facts.about}"')
    elif doubts:
        lines.append(f"# about =  # one of {', '.join(doubts)}")
    if scenario.currency == CHARGES_IN:
        lines.append(f"cost = {facts.cost.middle:g}  # USD, land, {facts.source}")
    return lines


def _head(facts: RunFacts, judged: Suitability) -> list[str]:
    remarks = [
        f"{facts.name}: planning ranges, judgement, no source. Put the fishing supervisor's or "
        "your own records' numbers in their place, and say so under origin.",
        "Paste it where it comes in the program: the order of the runs is the order planned.",
    ]
    if judged.verdict != "suits":
        words = {"doubtful": "Doubtful here", "no": "Does not suit here"}[judged.verdict]
        remarks.append(f"{words}: {judged.reasons[0]}.")
    dressed = judged.whole_if_dressed
    if dressed is not None:
        remarks.append(
            "The odds are for the top as it is; after a run that dresses it, start from "
            f"{dressed.low:.3f} to {dressed.high:.3f}."
        )
    return [line for remark in remarks for line in _remark(remark)]


def _run(facts: RunFacts, judged: Suitability, scenario: Scenario) -> list[str]:
    options = ", ".join(f'"{advice.option}"' for advice in judged.options)
    lines = [
        "[[run]]",
        f'name = "{facts.name}"',
        f'kind = "{facts.id}"',
        f'origin = "{PLANNING}"',
        f"dresses_top = {str(facts.dresses_top).lower()}",
        f"options = [{options}]",
    ]
    if facts.hours is not None:
        lines.append(f"hours = {_amount(facts.hours)}  # h, judgement; no round trip")
    return lines + _marks(facts, scenario)


def _left_open(facts: RunFacts, scenario: Scenario) -> list[str]:
    length = UNITS["length"][0 if scenario.units == "field" else 1]
    money = "money of this file"
    lines = [
        "# Only you know these; left out, they count nothing.",
        *_remark(f"Charges: {charge_words(facts, scenario)}."),
        "# wait =           # h; for tools or crew",
        f"# charge =         # {money}",
        f"# part_length =    # {length}; how far the top moves down if a part comes out",
        f"# string_length =  # {length}; left above the fish if the string is lost",
        f"# string_value =   # {money}; owed for that string",
    ]
    if facts.over_fish is not None:
        lines += [
            f"# wash_length =    # {length}; to be washed over",
            "# tool_outside, tool_inside =   # of the wash pipe, checked against hole and fish",
        ]
    return lines


def _trip(part: TripParts) -> list[str]:
    names = ("make_up", "circulate", "work", "lay_down")
    times = [f"{name} = {_amount(getattr(part, name))}" for name in names]
    return ["[[run.trips]]  # h, judgement, no source; tripping comes from the depth", *times]


def _odds(scenario: Scenario, facts: RunFacts, judged: Suitability) -> list[list[str]]:
    whole = judged.whole
    comment = [
        f"# Planning range of the whole fish {whole.low:.3f} to {whole.high:.3f}, level "
        f"{judged.level}; judgement, no source.",
    ]
    if scenario.run and not scenario.has_kinds:
        one = mixed_odds(facts, judged)
        if not _marks_in_use(facts, scenario):
            one = {**one, "nothing": one["nothing"] + one["prepared"], "prepared": 0.0}
        return [[*comment, "# recovered is the middle of it.", *_table("", one)]]
    named = _doubts(facts, scenario)
    prior = math.prod(ends_and_middle(chance)[1] for _, chance in named)
    odds = starting_odds(facts, judged, workable=prior)
    after = odds.belief_after_nothing(prior)
    words = " and ".join(name for name, _ in named)
    comment += _remark(
        f"With {words} = {prior:.3g} both kinds of fish together give its middle; the odds of the "
        f"two are {limit('split_ratio'):g} apart. One failure (nothing) takes that chance from "
        f"{prior:.2f} to {after:.2f}."
    )
    if facts.dropped is not None:
        comment += _remark(
            "A catch dropped on the way out leaves the top deeper or to one side: it is counted "
            "under top_damaged."
        )
    return [
        comment,
        _table(".workable", odds.favourable),
        _table(".stubborn", odds.unfavourable),
    ]


def _doubts(facts: RunFacts, scenario: Scenario) -> list[tuple[str, Any]]:
    """The doubts that the run depends on in this file, each with its chance."""
    known = {doubt.name: doubt.workable for doubt in scenario.doubt}
    if not known:
        return [("fishing.workable", scenario.fishing.workable)]
    named = [name for name in facts.depends_on if name in known]
    return [(name, known[name]) for name in named or known]


def _table(kind: str, odds: dict[str, float]) -> list[str]:
    """An odds table in thousandths, of which `nothing` takes what is left."""
    parts = {name: round(1000 * chance) for name, chance in odds.items() if name != "nothing"}
    parts["nothing"] = 1000 - sum(parts.values())
    order = [name for name in OUTCOMES if name != "prepared" or parts[name]]
    lines = [f"{name} = {parts[name] / 1000:.3f}" for name in order]
    return [f"[run.odds{kind}]", *lines, f"weight = {limit('weight'):g}  # past cases, judgement"]


def _marks_in_use(facts: RunFacts, scenario: Scenario) -> bool:
    """Whether the file uses a mark that the run gives or takes."""
    return bool(set(_live(facts.gives, scenario) + _live(facts.takes, scenario)))


def _live(words: Sequence[str], scenario: Scenario) -> list[str]:
    """Of some marks those that the file uses already; attached only with [parting]."""
    used = set(scenario.marks) | {DAMAGED_TOP}
    if scenario.parting is None:
        used.discard(ATTACHED)
    return [word for word in words if word in used]


def _marks(facts: RunFacts, scenario: Scenario) -> list[str]:
    """Marks and doubts of the kind: as keys where the file uses the word, else as a remark."""
    lines, idle = [], []
    for name in ("needs", "bars", "gives", "takes"):
        words = list(getattr(facts, name))
        live = _live(words, scenario)
        if name in ("gives", "takes"):
            live = [word for word in live if word != DAMAGED_TOP]
            words = [word for word in words if word != DAMAGED_TOP]
        if live:
            lines.append(f"{name} = {_list(live)}")
        if missing := [word for word in words if word not in live]:
            idle.append(f"{name} = {_list(missing)}")
    known = [doubt.name for doubt in scenario.doubt]
    named = [name for name in facts.depends_on if name in known]
    if named:
        lines.append(f"depends_on = {_list(named)}")
    elif facts.depends_on:
        idle.append(f"depends_on = {_list(facts.depends_on)}")
    if DAMAGED_TOP in facts.gives:
        lines += _remark(
            "It leaves a torn top, which no run can give as a mark: state the odds of the catches "
            "after it for a torn top, or list a run that dresses it before them."
        )
    if idle:
        idle_words = "; ".join(idle)
        lines += _remark(
            f"For a plan, with these marks and doubts in the file: {idle_words}. A file in which "
            "the fish is or can become attached needs [parting]."
        )
    return lines


def _list(words: Sequence[str]) -> str:
    return "[" + ", ".join(f'"{word}"' for word in words) + "]"


def _remark(words: str) -> list[str]:
    return textwrap.wrap(words, WIDTH, initial_indent="# ", subsequent_indent="# ")


def _amount(hours: Hours) -> str:
    if hours.low == hours.high:
        return f"{hours.low:g}"
    return f"{{ low = {hours.low:g}, likely = {hours.likely:g}, high = {hours.high:g} }}"
