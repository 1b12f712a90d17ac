"""A run of one kind as a piece of a scenario file, with the planning ranges to start from.

Odds. The middle m of the planning range of the whole fish is the mixture over both kinds
of fish at the scenario's own prior chance w that the fish is workable:

    w p + (1 - w) s = m,   s = p/10
so  p = m/(w + (1 - w)/10), but p is no more than what the other outcomes leave, c; then
    s = (m - w c)/(1 - w)
The other outcomes are taken at the low end, the middle or the high end of their ranges
where the level is good, fair or poor; the rest is `nothing`. That a stubborn fish keeps a
tenth is judgement, no source, as are all the values.

What only the person on the job knows (charges, lengths, values) is left as a comment.
"""

from __future__ import annotations

import textwrap

from econ.job.methods.catalogue import LAND_CHARGES, RunFacts, TripParts, catalogue
from econ.job.methods.ranges import Hours, Span
from econ.job.methods.survey import Suitability, suitable
from econ.scenario.amounts import ends_and_middle
from econ.scenario.faults import Fault, ScenarioError, did_you_mean, shown
from econ.scenario.notes.defaults import PLANNING
from econ.scenario.quantities import UNITS
from econ.scenario.scenario import Scenario

STUBBORN_SHARE = 0.1  # of the odds on a workable fish; judgement, no source
WIDTH = 96  # columns of the file
WORTH = 5  # past cases that a planning range is worth; judgement, no source
OTHERS = ("part", "top_damaged", "string_lost", "hole_lost")


def fragment(scenario: Scenario, kind: str) -> str:
    """TOML of a `[[run]]` of `kind`, to paste into the file of `scenario`.

    Raises `ScenarioError` for a kind that is not in the catalogue.

    >>> from econ.scenario import load
    >>> lines = fragment(load("scenarios/a_land_twist_off.toml"), "overshot").splitlines()
    >>> "[[run]]" in lines
    True
    """
    kinds = catalogue().kinds
    if kind not in kinds:
        allowed = "one of: " + ", ".join(kinds)
        raise ScenarioError([Fault(shown(kind), allowed, did_you_mean(kind, kinds), ("--run",))])
    facts = kinds[kind]
    judged = next(each for each in suitable(scenario) if each.kind == kind)
    parts = [_head(facts, judged), _run(facts, judged), _left_open(facts, scenario)]
    parts += [_trip(part) for part in facts.trips]
    parts += _odds(scenario, judged)
    return "\n".join(line for part in parts for line in part) + "\n"


def odds_by_kind(whole: Span, *, workable: float, room: float) -> tuple[float, float]:
    """Odds [fraction] on a workable and on a stubborn fish whose mixture is the middle of `whole`.

    workable: prior chance that the fish is workable; room: what the other outcomes leave.

    >>> p, s = odds_by_kind(Span(0.3, 0.5), workable=0.7, room=0.9)
    >>> round(0.7 * p + 0.3 * s, 12), round(s / p, 12)
    (0.4, 0.1)
    """
    middle = min(whole.middle, room)
    most = middle / (workable + (1.0 - workable) * STUBBORN_SHARE)
    if most <= room:
        return most, STUBBORN_SHARE * most
    if workable >= 1.0:
        return middle, STUBBORN_SHARE * middle
    stubborn = (middle - workable * room) / (1.0 - workable)
    return room, min(stubborn, room)  # no more, whatever the rounding near a sure prior


def _head(facts: RunFacts, judged: Suitability) -> list[str]:
    remarks = [
        f"{facts.name}: planning ranges, judgement, no source. Put the fishing supervisor's or "
        "your own records' numbers in their place, and say so under origin.",
        "Paste it where it comes in the program: the order of the runs is the order planned.",
    ]
    if judged.verdict != "suits":
        remarks.append(f"{judged.verdict.capitalize()} here: {judged.reasons[0]}.")
    dressed = judged.whole_if_dressed
    if dressed is not None:
        remarks.append(
            "The odds are for the top as it is; after a run that dresses it, start from "
            f"{dressed.low:.3f} to {dressed.high:.3f}."
        )
    return [line for remark in remarks for line in _remark(remark)]


def _run(facts: RunFacts, judged: Suitability) -> list[str]:
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
    return lines


def _left_open(facts: RunFacts, scenario: Scenario) -> list[str]:
    length = UNITS["length"][0 if scenario.units == "field" else 1]
    money = "money of this file"
    lines = [
        "# Only you know these; left out, they count nothing.",
        *_remark(f"Charges: {facts.charges} ({LAND_CHARGES})."),
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


def _odds(scenario: Scenario, judged: Suitability) -> list[list[str]]:
    others = {name: _at_level(getattr(judged, name), judged.level) for name in OTHERS}
    room = 1.0 - sum(others.values())
    whole = judged.whole
    comment = [
        f"# Planning range of the whole fish {whole.low:.3f} to {whole.high:.3f}, level "
        f"{judged.level}; judgement, no source.",
    ]
    if scenario.run and not scenario.has_kinds:
        middle = min(whole.middle, room)
        return [[*comment, "# recovered is the middle of it.", *_table("", middle, others)]]
    prior = ends_and_middle(scenario.fishing.workable)[1]
    workable, stubborn = odds_by_kind(whole, workable=prior, room=room)
    comment.append(
        f"# With fishing.workable = {prior:.3g} both kinds of fish together give its middle."
    )
    return [
        comment,
        _table(".workable", workable, others),
        _table(".stubborn", stubborn, others),
    ]


def _table(kind: str, recovered: float, others: dict[str, float]) -> list[str]:
    """An odds table in thousandths, of which `nothing` takes what is left."""
    parts = {name: round(1000 * chance) for name, chance in others.items()}
    parts["recovered"] = min(round(1000 * recovered), 1000 - sum(parts.values()))
    parts["nothing"] = 1000 - sum(parts.values())
    order = ("recovered", "part", "nothing", *OTHERS[1:])
    lines = [f"{name} = {parts[name] / 1000:.3f}" for name in order]
    return [f"[run.odds{kind}]", *lines, f"weight = {WORTH}  # past cases, judgement"]


def _at_level(span: Span, level: str) -> float:
    return {"good": span.low, "fair": span.middle, "poor": span.high}[level]


def _remark(words: str) -> list[str]:
    return textwrap.wrap(words, WIDTH, initial_indent="# ", subsequent_indent="# ")


def _amount(hours: Hours) -> str:
    if hours.low == hours.high:
        return f"{hours.low:g}"
    return f"{{ low = {hours.low:g}, likely = {hours.likely:g}, high = {hours.high:g} }}"
