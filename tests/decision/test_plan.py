"""The plan and the list against the slow reference of every history, on random jobs.

The reference (tests/reference/full_plan.py) is written from the semantics alone.
"""

import numpy as np
import pytest

from econ.decision.answer import FEW_STATES
from econ.decision.figures import walked
from econ.decision.plan import Plan, plan_of
from econ.engine.inputs import Inputs
from tests.raw_jobs import scenario
from tests.reference import full_plan
from tests.reference.job import Table
from tests.reference.random_plans import FEATURES, random_plan

# What the program knows of the reference: no deadline, and readings only beside the plan.
KNOWN = sorted(set(FEATURES) - {"deadline", "readings"})
DRAWS = {"n": 256, "seed": 3, "scrambles": 16}
# Fallbacks and words that the rules of a file refuse are drawn again.
SEEDS = range(220)


def found(raw: Table, *, most: int = 5000) -> tuple[Plan, np.ndarray]:
    inputs = Inputs(scenario({**raw, "draws": DRAWS}).in_field_units())
    (curves,) = walked([inputs], distributions=False)
    return plan_of(inputs, curves, most=most), curves.cost


@pytest.mark.parametrize("tenth", range(10))
def test_the_plan_is_that_of_every_history(tenth: int) -> None:
    compared = 0
    for seed in SEEDS[tenth::10]:
        raw = random_plan(np.random.default_rng(seed), features=KNOWN)
        try:
            plan, cost = found(raw)
        except ValueError:  # a file that the rules refuse
            continue
        goal = full_plan.plan(raw)
        assert plan.gap == 0.0
        assert plan.expected_cost.value == pytest.approx(goal.value.cost, rel=1e-9), seed
        assert plan.probability_recovered.value == pytest.approx(goal.value.recovered, abs=1e-9)
        # A limit is sampled where histories are merged; 1e-4 of it where 256 points fall alike.
        limit = full_plan.limit(raw, plan.limit).cost
        error = float(cost[:, plan.limit].std(ddof=1)) / 4.0
        assert abs(float(cost[:, plan.limit].mean()) - limit) <= 4.0 * error + 1e-4 * limit, seed
        for n in range(cost.shape[1]):
            dear = float(cost[:, n].mean())
            assert plan.expected_cost.value <= dear + 4.0 * error + 1e-4 * dear or n < plan.limit
        compared += 1
    assert compared >= 15


def test_the_nodes_are_those_of_the_reference() -> None:
    told = 0
    for seed in range(12):
        raw = random_plan(np.random.default_rng(seed), features=KNOWN)
        try:
            plan, _ = found(raw)
        except ValueError:
            continue
        goal = {node.history: node for node in full_plan.plan(raw).nodes}
        histories: dict[int, tuple[tuple[object, str], ...]] = {}
        by_id = {node.id: node for node in plan.nodes}
        for node in plan.nodes:
            before: tuple[tuple[object, str], ...] = ()
            if node.parent is not None:
                assert node.after is not None
                before = (*histories[node.parent], (by_id[node.parent].do, node.after))
            histories[node.id] = before
            other = goal.get(before)  # type: ignore[call-overload]
            if other is None or other.do != node.do:  # a tie that falls another way
                continue
            told += 1
            assert node.chance.value == pytest.approx(other.chance, abs=1e-9)
            assert {each.doubt: each.chance.value for each in node.belief} == pytest.approx(
                other.belief, abs=1e-9
            )
            assert node.fish_top == pytest.approx(other.fish_top, abs=1e-6)
            assert node.cost_from_here.value == pytest.approx(other.cost_from_here, rel=1e-7)
            if node.do != "stop":
                assert node.odds is not None
                assert node.odds.value == pytest.approx(other.odds["recovered"], abs=1e-9)
            if node.next_best is not None and other.next_best == node.next_best.do:
                assert node.next_best.costs_more.value == pytest.approx(
                    other.costs_more, abs=1e-6 * abs(other.cost_from_here)
                )
    assert told >= 40


# Source of the numbers below: shared check values of scenario A at single numbers, each worked out
# independently in tests/reference/test_full_plan.py as well.
def scenario_a(**of_runs: object) -> Table:
    from tests.reference.test_full_plan import scenario_a as raw_a

    raw = raw_a()
    runs = [{**run, **of_runs} for run in raw["run"]]
    return {**raw, "run": runs}
