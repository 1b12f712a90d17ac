"""The plan and the list against the slow reference of every history, on random jobs.

The reference (tests/reference/full_plan.py) is written from the semantics alone.
"""

import tomllib
from itertools import islice
from pathlib import Path

import numpy as np
import pytest

import econ
from econ.decision.figures import walked
from econ.decision.plan import FEW_STATES, Plan, plan_of
from econ.engine.inputs import Inputs
from econ.scenario.run_log import READS
from econ.scenario.scenario import Scenario
from tests.reference import full_plan
from tests.reference.histories import ENDS, Rules
from tests.reference.job import Table
from tests.reference.random_plans import FEATURES, random_plan, with_source

DRAWS = {"seed": 3, "scrambles": 16}
SEEDS = range(220)


def found(raw: Table, *, most: int = 5000, n: int = 64) -> tuple[Plan, np.ndarray]:
    # Without the rules of a file: words that nothing gives are refused there, and mean something.
    draws = {**DRAWS, "n": n}
    job = Scenario.model_validate({**raw, "draws": draws}, by_alias=True, by_name=False)
    inputs = Inputs(job.in_field_units())
    (curves,) = walked([inputs], distributions=False)
    return plan_of(inputs, curves, most=most, effort=60_000), curves.cost


def agree(cost: np.ndarray, goal: float) -> bool:
    error = float(cost.std(ddof=1)) / 4.0
    return abs(float(cost.mean()) - goal) <= 4.0 * error + 1e-5 * goal


@pytest.mark.parametrize("tenth", range(10))
def test_the_plan_is_that_of_every_history(tenth: int) -> None:
    for seed in SEEDS[tenth::10]:
        raw = random_plan(np.random.default_rng(seed), features=FEATURES)
        plan, cost = found(raw)
        goal = full_plan.plan(raw, told=False)
        assert plan.gap == 0.0
        assert plan.expected_cost.value == pytest.approx(goal.value.cost, rel=1e-9), seed
        assert plan.probability_recovered.value == pytest.approx(goal.value.recovered, abs=1e-9)
        limit = full_plan.limit(raw, plan.limit).cost
        # Sampled where histories are merged, so that a rare one may miss all of a few draws.
        assert agree(cost[:, plan.limit], limit) or agree(
            found(raw, n=4096)[1][:, plan.limit], limit
        ), seed
        assert plan.expected_cost.value <= limit * (1.0 + 1e-9), seed  # the best limit of the list


@pytest.mark.parametrize("half", range(2))
def test_the_plan_over_a_source_is_that_of_every_history(half: int) -> None:
    waited = barred = 0
    for seed in range(300 + half, 360, 2):
        rng = np.random.default_rng(seed)
        raw = with_source(rng, random_plan(rng, features=FEATURES))
        plan, cost = found(raw)
        goal = full_plan.plan(raw)
        assert plan.expected_cost.value == pytest.approx(goal.value.cost, rel=1e-9), seed
        total = full_plan.limit(raw, plan.limit).cost
        assert agree(cost[:, plan.limit], total) or agree(
            found(raw, n=4096)[1][:, plan.limit], total
        ), seed
        at_once = {**raw, "limits": {**raw["limits"], "approval_hours": 0.0}}
        waited += full_plan.plan(at_once).value.cost < goal.value.cost
        barred += any({"source", "no_touch"} & {*run.get("bars", [])} for run in raw["run"])
    assert waited >= 25
    assert barred >= 5


def test_the_nodes_are_those_of_the_reference() -> None:
    told = 0
    for seed in range(12):
        raw = random_plan(np.random.default_rng(seed), features=FEATURES)
        plan, _ = found(raw, n=16)  # numbers: no draw of a plan differs from another
        goal = {node.history: node for node in full_plan.plan(raw).nodes}
        histories: dict[int, tuple[tuple[object, str], ...]] = {}
        by_id = {node.id: node for node in plan.nodes}
        for node in plan.nodes:
            before: tuple[tuple[object, str], ...] = ()
            if node.parent is not None:
                assert node.after is not None
                outcome = READS.get(node.after, node.after)
                before = (*histories[node.parent], (by_id[node.parent].do, outcome))
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
            if "rental" not in raw:  # what is owed of a minimum is no cost of a later state here
                assert node.cost_from_here.value == pytest.approx(other.cost_from_here, rel=1e-9)
            if isinstance(node.do, int):
                assert node.odds is not None
                assert node.odds.value == pytest.approx(other.odds["recovered"], abs=1e-9)
            if node.next_best is not None and other.next_best == node.next_best.do:
                assert node.next_best.costs_more.value == pytest.approx(
                    other.costs_more, abs=1e-6 * abs(other.cost_from_here)
                )
    assert told >= 40


# ---- scenario A at single numbers; source: published check values, the same to the dollar -------

SCENARIO_A = Path(__file__).parents[1] / "data" / "scenario_a_check.toml"
HALF_A_DOLLAR = 0.51


def scenario_a(at_most: int = 1, repeat_ratio: float | None = None) -> Table:
    raw = tomllib.loads(SCENARIO_A.read_text(encoding="utf-8"))
    for number, run in enumerate(raw["run"], start=1):
        run["at_most"] = at_most
        if repeat_ratio is not None:
            run["ratio_with"] = {f"made_{number}": repeat_ratio}
    return raw


def test_scenario_a_each_run_once() -> None:
    plan, _ = found(scenario_a())
    assert plan.expected_cost.value == pytest.approx(484_760, abs=HALF_A_DOLLAR)
    assert plan.gap == 0.0
    assert plan.unused == (4, 5)
    after = {(node.parent, node.after): node for node in plan.nodes}
    first = after[None, None]
    assert first.do == 1  # the overshot
    nothing, part, damaged = (after[first.id, name] for name in ("nothing", "part", "top_damaged"))
    assert nothing.do == 3  # the wall hook, then stop
    assert after[nothing.id, "nothing"].do == "stop"
    assert part.do == 3  # the wall hook, then dress and catch
    assert after[part.id, "nothing"].do == 2
    assert damaged.do == 2  # dress and catch, then the wall hook
    assert after[damaged.id, "nothing"].do == 3


@pytest.mark.parametrize(("ratio", "goal"), [(None, 474_298), (0.5, 483_851)])
def test_scenario_a_each_run_twice(ratio: float | None, goal: float) -> None:
    raw = scenario_a(2, ratio)
    raw["run"] = raw["run"][:3]  # the two washovers add nothing (tests/reference)
    plan, _ = found(raw)
    assert plan.expected_cost.value == pytest.approx(goal, abs=HALF_A_DOLLAR)


def test_a_search_of_few_states_is_a_plan_and_bounds_what_it_gave_up() -> None:
    raw = scenario_a()
    few, cost = found(raw, most=FEW_STATES // 10)
    whole, _ = found(raw)
    assert few.expected_cost.value >= whole.expected_cost.value
    assert few.expected_cost.value - whole.expected_cost.value <= few.gap
    assert few.expected_cost.value <= float(cost[:, few.limit].mean())


def test_a_plan_with_ranges_is_never_dearer_than_the_list_beyond_its_error() -> None:
    scenarios = Path(__file__).parents[2] / "scenarios"
    for name in ("a_land_twist_off", "b_offshore_sealed_sources", "c_bit_cones", "d_rented_tools"):
        inputs = Inputs(econ.load(scenarios / f"{name}.toml").in_field_units())
        (curves,) = walked([inputs], distributions=False)
        plan = plan_of(inputs, curves, most=FEW_STATES)
        assert plan.gain.value >= -4.0 * plan.gain.error, name


def that_renew(count: int) -> list[Table]:
    features = ["doubts", "renews", "marks", "prepared", "deadline", "weather"]
    drawn = (random_plan(np.random.default_rng(s), features=features, share=1.0) for s in range(99))
    some = (raw for raw in drawn if any(run.get("renews") for run in raw["run"]))
    return list(islice(some, count))


@pytest.mark.parametrize("raw", that_renew(8))
def test_knowing_a_doubt_is_of_now_where_a_run_renews_it(raw: Table) -> None:
    draws = {**DRAWS, "n": 16}
    job = Scenario.model_validate({**raw, "draws": draws}, by_alias=True, by_name=False)
    worth = {each.name: each.worth.value for each in econ.answer(job).information.stated}
    for doubt in job.doubts:
        goal = full_plan.worth_of_knowing(raw, doubt.name, full_plan.list_rule)
        name = f"{doubt.name}, for certain" if len(job.doubts) > 1 else "for certain"
        assert worth[name] == pytest.approx(goal, abs=1e-6 * full_plan.limit(raw).cost)


@pytest.mark.parametrize("seed", range(20))
def test_what_few_states_give_up_is_within_the_gap(seed: int) -> None:
    raw = random_plan(np.random.default_rng(1000 + seed), features=FEATURES)
    few, _ = found(raw, most=1, n=16)
    whole, _ = found(raw, n=16)
    assert whole.gap == 0.0
    given_up = few.expected_cost.value - whole.expected_cost.value
    assert -1e-9 * whole.expected_cost.value <= given_up <= few.gap + 1e-6


# ---- a plan with ranges, played -----------------------------------------------------------------

DEMO_E = Path(__file__).parents[2] / "scenarios" / "e_stuck_attached.toml"
PLAYS = 2000


def put(raw: Table, path: str, value: float) -> None:
    *above, last = path.split(".")
    for step in above:
        raw = raw[int(step) - 1] if step.isdigit() else raw[step]
    raw[last] = value


def played(raw: Table, plan: Plan, rng: np.random.Generator) -> float:
    """Cost of a job of which every amount is a number, by the plan, with every coin flipped."""
    rules = Rules(raw)
    after = {(node.parent, node.after): node for node in plan.nodes}
    history, node = rules.beginning(), after[None, None]
    kinds = list(history.weights)
    kind = kinds[rng.choice(len(kinds), p=[history.weights[each] for each in kinds])]
    while isinstance(node.do, int):
        odds = rules.odds(node.do, kind, history)
        outcome = str(rng.choice(list(odds), p=list(odds.values())))
        history = rules.after(history, node.do)[outcome]
        if outcome in ENDS:
            break
        if outcome in ("part", "prepared"):
            for name, chance in raw["run"][node.do - 1].get("renews", {}).items():
                place = list(rules.doubts).index(name)
                kind = (*kind[:place], bool(rng.random() < chance), *kind[place + 1 :])
        node = after[node.id, outcome]
    return rules.total(history)


def test_a_plan_with_ranges_is_what_playing_it_comes_to() -> None:
    # independent: one job a play by the reference, amounts drawn by another generator
    raw = tomllib.loads(DEMO_E.read_text(encoding="utf-8"))
    del raw["correlation"]
    for run in raw["run"]:
        for odds in (run["odds"], *run["odds"].values()):
            if isinstance(odds, dict):
                odds.pop("weight", None)
    job = Scenario.model_validate({**raw, "draws": {"seed": 3}}, by_alias=True, by_name=False)
    plan = econ.plan(job)
    assert plan.gap == 0.0
    assert plan.folded == 0
    amounts = [(path, distribution) for path, distribution, _ in job.amounts()]
    assert len(amounts) > 50
    rng = np.random.default_rng(12)
    drawn = {path: distribution.quantile(rng.random(PLAYS)) for path, distribution in amounts}
    costs = np.empty(PLAYS)
    for place in range(PLAYS):
        for path, values in drawn.items():  # every amount is put anew
            put(raw, path, float(values[place]))
        costs[place] = played(raw, plan, rng)
    error = float(costs.std(ddof=1)) / PLAYS**0.5
    assert error < 0.04 * plan.expected_cost.value
    assert abs(float(costs.mean()) - plan.expected_cost.value) < 3 * error
