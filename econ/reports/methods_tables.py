"""The reading of the methods as plain values, for `--json` and for whoever lays it out."""

from __future__ import annotations

import math
from dataclasses import asdict
from typing import Any

from econ.job.methods.catalogue import CHARGES_IN, LAND_CHARGES, catalogue
from econ.job.methods.ranges import Hours, Span
from econ.job.methods.survey import Methods, Suitability, unsuited_runs
from econ.reports import safety
from econ.reports.after_log import log_row

Row = dict[str, Any]
BASIS = "planning ranges for a first attempt: judgement, no source; local records replace them"


def methods_document(methods: Methods) -> Row:
    """The whole reading as one document; hours in h, odds and ratios as [low, high]."""
    job = methods.scenario
    hold = catalogue().mechanisms.get(job.fish.mechanism)
    return {
        "scenario": job.job.well,
        "units": job.units,
        "basis": BASIS,
        "charges": LAND_CHARGES if job.currency == CHARGES_IN else "",
        "currency": job.currency,
        "safety": list(safety.warnings(job)),
        "stand_ins": list(job.stand_ins),
        "log": log_row(job, methods.log),
        "fish": {
            "top": job.fish.top,
            "bottom": job.fish.bottom,
            "top_condition": job.fish.top_condition,
            "mechanism": job.fish.mechanism,
            "marks": list(job.fish.marks),
            "first_jarring_frees": None if hold is None else _span(hold.frees),
            "helps": None if hold is None else hold.helps,
        },
        "kinds": [kind_row(each) for each in methods.kinds],
        "not_known": {key: list(kinds) for key, kinds in methods.not_known.items()},
        "unsuited_runs": unsuited_runs(job, [row.run for row in methods.log if row.finished]),
    }


def kind_row(each: Suitability) -> Row:
    """One kind of run."""
    facts = catalogue().kinds[each.kind]
    return {
        "kind": each.kind,
        "name": each.name,
        "goal": each.goal,
        "purpose": each.purpose,
        "verdict": each.verdict,
        "reasons": list(each.reasons),
        "not_known": list(each.not_known),
        "hours": _hours(each.hours),
        "round_trips": each.trips,
        "level": each.level,
        "lowered_by": list(each.lowered_by),
        "goal_met": _span(each.goal_met),
        "whole": _span(each.whole),
        "whole_if_dressed": _span(each.whole_if_dressed),
        "ceiling": _span(each.ceiling),
        "modifiers": [
            {
                "condition": modifier.words,
                "catching": _span(modifier.catching),
                "freeing": _span(modifier.freeing),
            }
            for modifier in each.modifiers
        ],
        "part": _span(each.part),
        "top_damaged": _span(each.top_damaged),
        "string_lost": _span(each.string_lost),
        "hole_lost": _span(each.hole_lost),
        "options": [
            {
                "option": advice.option,
                "reason": advice.reason,
                "purpose": catalogue().options[advice.option].purpose,
                "source": catalogue().options[advice.option].source,
            }
            for advice in each.options
        ],
        "string": [
            {"part": component.part, "reason": component.reason} for component in each.string
        ],
        "rate": each.rate,
        "worth": None if each.worth is None else asdict(each.worth),
        "needs": list(facts.needs),
        "gives": list(facts.gives),
        "takes": list(facts.takes),
        "bars": list(facts.bars),
        "depends_on": list(facts.depends_on),
        "odds_source": facts.odds_source,
        "hours_source": facts.hours_source,
        "remarks": list(each.remarks),
        "charges": each.charges,
        "source": each.source,
    }


def _span(span: Span | None) -> list[float] | None:
    return None if span is None else [span.low, span.high]


def _hours(hours: Hours | None) -> dict[str, float] | None:
    if hours is None or not math.isfinite(hours.high):  # JSON has no infinity
        return None
    return {"low": hours.low, "likely": hours.likely, "high": hours.high}
