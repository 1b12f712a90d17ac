"""The plan as plain values, for `--json`."""

from __future__ import annotations

import econ
from econ.decision.order import ProgramSearch
from econ.decision.plan import Plan, PlanNode
from econ.reports.tables.plain import Row, plain
from econ.scenario.quantities import UNITS


def plan_document(found: Plan, search: ProgramSearch) -> Row:
    """The plan with the cheapest fixed sequence beside it; runs by their numbers in the file."""
    draws, sequence = found.scenario.draws, search.best
    document: Row = plain(
        {
            "scenario": found.scenario.job.well,
            "currency": found.scenario.currency,
            "draws": found.draws,
            "scrambles": draws.scrambles,
            "seed": draws.seed,
            "version": econ.__version__,
            "plan": {
                "verb": "fish" if found.fish else "stop",
                "expected_cost": found.expected_cost.value,
                "standard_error": found.expected_cost.error,
                "gain_over_limit": found.gain.value,
                "gain_error": found.gain.error,
                "better": found.better,
                "limit": found.limit,
                "probability_recovered": found.probability_recovered.value,
                "mean_days": found.mean_days.value,
                "longest_days": found.longest_days,
                "errors": {
                    "probability_recovered": found.probability_recovered.error,
                    "mean_days": found.mean_days.error,
                },
                "sequence": {
                    "runs": list(sequence.runs),
                    "limit": len(sequence.runs),
                    "expected_cost": sequence.expected_cost,
                    "standard_error": sequence.standard_error,
                },
                "unused_runs": list(found.unused),
                "states": found.states,
                "gap": found.gap,
                "folded": found.folded,
                "folded_below": found.folded_below,
                "nodes": [_node(found, node) for node in found.nodes],
            },
        }
    )
    return document


def _node(found: Plan, node: PlanNode) -> Row:
    factor = 1.0 if found.scenario.units == "field" else UNITS["length"][2] or 1.0
    best = node.next_best
    return {
        "id": node.id,
        "parent": node.parent,
        "after": node.after,
        "do": node.do,
        "chance": node.chance.value,
        "belief": {each.doubt: each.chance.value for each in node.belief},
        "odds": None if node.odds is None else node.odds.value,
        "fish_top": node.fish_top / factor,
        "marks": list(node.marks),
        "day": node.day,
        "cost_from_here": node.cost_from_here.value,
        "next_best": None
        if best is None
        else {
            "do": best.do,
            "costs_more": best.costs_more.value,
            "error": best.costs_more.error,
        },
        "errors": {
            "chance": node.chance.error,
            "odds": None if node.odds is None else node.odds.error,
            "cost_from_here": node.cost_from_here.error,
            "belief": {each.doubt: each.chance.error for each in node.belief},
        },
    }
