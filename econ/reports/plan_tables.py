"""The plan as plain values for `--json`, and as orders for whoever lays it out.

An order is a state, or several states that one run leads to and in which the same is done to the
end: what is said of them is said once. Orders are the tree of the plan as people read it:

    order, below = readable(found, most=30)       the order for now
    order.do, order.outcomes, order.children      what to do, after which outcomes, what then

A plan has more states than anyone reads. Those below a chance are folded, and counted.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

import econ
from econ.decision.estimates import Estimate
from econ.decision.order import ProgramSearch
from econ.decision.plan import Do, Plan, PlanNode
from econ.job.methods import unsuited_runs
from econ.reports.after_log import log_row
from econ.reports.tables.plain import Row, length_factor, plain
from econ.scenario.notes import notes
from econ.scenario.run_log import LoggedRun

# Chances below which a reader's tree is folded
STEPS = (0.003, 0.005, 0.007, 0.01, 0.015, 0.02, 0.03, 0.05, 0.07, 0.1, 0.15, 0.2, 0.3, 0.5)
ALL = 2.0  # a chance that every state is below
Signature = tuple[Do, tuple[tuple[str, object], ...]]


@dataclass(frozen=True)
class Order:
    """What to do in states that one run leads to, and then after each outcome.

    nodes: the states, the likeliest first; outcomes: those that lead here, none of the first
    state; children: the orders that follow.
    """

    nodes: tuple[PlanNode, ...]
    outcomes: tuple[str, ...]
    children: tuple[Order, ...]

    @property
    def do(self) -> Do:
        """The run to make, or to stop."""
        return self.nodes[0].do

    @property
    def chance(self) -> float:
        """Of getting to one of the states [fraction]."""
        return sum(node.chance.value for node in self.nodes)

    def all(self) -> Iterator[Order]:
        """This order and all that follow it, level by level."""
        waiting = [self]
        while waiting:
            order = waiting.pop(0)
            yield order
            waiting += order.children

    @property
    def leaves(self) -> int:
        """How many orders nothing follows."""
        return sum(not order.children for order in self.all())


def orders(plan: Plan, *, below: float) -> Order:
    """The plan as orders; states of a chance under `below` are left out, the first one never."""
    children: dict[int, list[PlanNode]] = {}
    for node in plan.nodes[1:]:
        if node.chance.value >= below and node.parent is not None:
            children.setdefault(node.parent, []).append(node)
    signatures: dict[int, Signature] = {}
    for node in reversed(plan.nodes):  # a parent stands before its children
        after = [(child.after or "", signatures[child.id]) for child in children.get(node.id, ())]
        signatures[node.id] = (node.do, tuple(sorted(after, key=lambda pair: pair[0])))

    def order(nodes: Sequence[PlanNode]) -> Order:
        same: dict[Signature, list[PlanNode]] = {}
        for node in nodes:
            for child in children.get(node.id, ()):
                same.setdefault(signatures[child.id], []).append(child)
        ranked = sorted(nodes, key=lambda node: -node.chance.value)
        outcomes = dict.fromkeys(node.after for node in ranked if node.after is not None)
        return Order(tuple(ranked), tuple(outcomes), tuple(map(order, same.values())))

    return order(plan.nodes[:1])


def left_out(plan: Plan, *, below: float) -> int:
    """How many branches `orders` leaves out, as far as the plan has them."""
    return plan.folded + sum(node.chance.value < below for node in plan.nodes[1:])


def readable(plan: Plan, *, most: int, leaves: bool = False) -> tuple[Order, float]:
    """The plan with no more than `most` orders, or leaves of the tree, and the chance below which
    it is folded for that."""
    for below in (plan.folded_below, *STEPS):
        found = orders(plan, below=below)
        if (found.leaves if leaves else sum(1 for _ in found.all())) <= most:
            return found, below
    return orders(plan, below=ALL), ALL


def beliefs(order: Order) -> list[tuple[str, float, float]]:
    """Each doubt with the least and the greatest chance that it is in favour."""
    return [
        (belief.doubt, min(chances), max(chances))
        for place, belief in enumerate(order.nodes[0].belief)
        if (chances := [node.belief[place].chance.value for node in order.nodes])
    ]


def plan_notes(plan: Plan) -> list[str]:
    """What a reader should know of the scenario."""
    return [*notes(plan.scenario), *unsuited_runs(plan.scenario)]


def gain_over_sequence(plan: Plan, search: ProgramSearch) -> Estimate:
    """What the plan saves [currency] against the cheapest fixed sequence of the runs.

    Where nothing was sampled it is the difference of the costs. Else both are set against the
    list as it stands, each on its own draws, so that the luck of the draws is in neither.
    """
    sequence = search.best
    if not search.better:  # the sequence is the list at its best limit
        return plan.gain
    if plan.expected_cost.error == 0.0 and sequence.standard_error == 0.0:
        return Estimate(sequence.expected_cost - plan.expected_cost.value, 0.0)
    error = float(np.hypot(plan.gain.error, sequence.saving_error))
    return Estimate(plan.gain.value - sequence.saving, error)


def plan_document(plan: Plan, search: ProgramSearch, log: Sequence[LoggedRun] = ()) -> Row:
    """The plan with the cheapest fixed sequence beside it; runs by their numbers in the file."""
    draws, sequence = plan.scenario.draws, search.best
    gain = gain_over_sequence(plan, search)
    document: Row = plain(
        {
            "scenario": plan.scenario.job.well,
            "currency": plan.scenario.currency,
            "draws": plan.draws,
            "scrambles": draws.scrambles,
            "seed": draws.seed,
            "version": econ.__version__,
            "log": log_row(plan.scenario, log),
            "plan": {
                "verb": "fish" if plan.fish else "stop",
                "expected_cost": plan.expected_cost.value,
                "standard_error": plan.expected_cost.error,
                "gain_over_limit": plan.gain.value,
                "gain_error": plan.gain.error,
                "better": plan.better,
                "limit": plan.limit,
                "probability_recovered": plan.probability_recovered.value,
                "mean_days": plan.mean_days.value,
                "longest_days": plan.longest_days,
                "errors": {
                    "probability_recovered": plan.probability_recovered.error,
                    "mean_days": plan.mean_days.error,
                },
                "sequence": {
                    "runs": list(sequence.runs),
                    "limit": len(sequence.runs),
                    "expected_cost": sequence.expected_cost,
                    "standard_error": sequence.standard_error,
                    "exact": search.exact,
                    "gain": gain.value,
                    "gain_error": gain.error,
                },
                "unused_runs": list(plan.unused),
                "states": plan.states,
                "gap": plan.gap,
                "folded": plan.folded,
                "folded_below": plan.folded_below,
                "nodes": [_node(plan, node) for node in plan.nodes],
            },
            "notes": plan_notes(plan),
        }
    )
    return document


def _node(plan: Plan, node: PlanNode) -> Row:
    best = node.next_best
    return {
        "id": node.id,
        "parent": node.parent,
        "after": node.after,
        "do": node.do,
        "chance": node.chance.value,
        "belief": {each.doubt: each.chance.value for each in node.belief},
        "odds": None if node.odds is None else node.odds.value,
        "fish_top": node.fish_top / length_factor(plan),
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
