"""A deadline with ranges, and the choice among fallbacks by day: engine against the reference.

Independent: `reference.full_plan` draw by draw, at the values that the draws have; and the mean
over the draws, worked out directly, for what the program tables.
"""

import copy

import numpy as np
import pytest
from raw_jobs import SCENARIO_A, Table, read
from reference import full_plan

from econ.decision.figures import walked
from econ.decision.quick import quick
from econ.engine.choice import choose
from econ.engine.inputs import Inputs
from econ.engine.lateness import Lateness
from econ.scenario.scenario import Scenario

RANGES = {
    ("run", 0, "hours"): (20.0, 60.0),
    ("recovery", "hours"): (5.0, 15.0),
    ("deadline", "work_after_days"): (1.0, 3.0),
    ("deadline", "cost_once"): (50_000.0, 150_000.0),
    ("deadline", "cost_per_day"): (10_000.0, 30_000.0),
    ("fallback", 0, "woc"): (12.0, 30.0),
}


def job(n: int = 16) -> Table:
    raw = read(SCENARIO_A)
    raw["run"] = raw["run"][:1]
    raw["run"][0].pop("trips")
    # Only one outcome goes on, so that none is sampled.
    odds = {"recovered": 0.4, "nothing": 0.5, "string_lost": 0.06, "hole_lost": 0.04}
    raw["run"][0]["odds"] = odds
    raw["deadline"] = {"in_days": 14.0}
    raw["fallback"][0]["stick_again"] = {"chance": 0.1, "cost": 200_000, "hours": 60}
    raw["weather"] = {"fishing": 0.1, "fallback": 0.2}
    for path, (low, high) in RANGES.items():
        put(raw, path, {"low": low, "high": high})
    raw["draws"] = {"n": n, "seed": 5, "scrambles": 16}
    return raw


def put(raw: Table, path: tuple[str | int, ...], value: object) -> None:
    for key in path[:-1]:
        raw = raw[key]
    raw[path[-1]] = value


def inputs_of(raw: Table) -> Inputs:
    return Inputs(Scenario.model_validate(raw, by_alias=True, by_name=False).in_field_units())


def test_a_deadline_with_ranges_is_that_of_every_draw() -> None:
    raw = job()
    inputs = inputs_of(raw)
    (found,) = walked([inputs], distributions=False)
    columns = inputs.first(16)
    each = []
    for draw in range(16 * 16):
        single = copy.deepcopy(raw)
        for path in RANGES:
            put(single, path, float(columns[".".join(_names(path))][draw]))
        each.append([full_plan.limit(single, n).cost for n in (0, 1)])
    assert found.cost.mean(axis=0) == pytest.approx(np.mean(each, axis=0), rel=1e-9)
    assert quick(inputs, n=16).cost.mean(axis=0) == pytest.approx(np.mean(each, axis=0), rel=1e-9)


def _names(path: tuple[str | int, ...]) -> list[str]:
    return [str(key + 1) if isinstance(key, int) else key for key in path]


def two_fallbacks() -> Table:
    raw = job(256)
    slow = {"name": "slow", "kind": "complete_above", "hours": 300, "cost": 80_000}
    raw["fallback"].append(slow)
    return raw


def test_the_mean_by_top_and_day_is_that_of_the_pilot() -> None:
    pilot = inputs_of(two_fallbacks()).pilot()
    choice = choose(pilot)
    assert choice is not None
    assert isinstance(choice.lateness, Lateness)
    assert choice.lateness.days.size > 1
    assert pilot.deadline is not None
    rng = np.random.default_rng(2)
    tops = rng.uniform(pilot.fish.top, pilot.fish.bottom, 40)
    days = rng.uniform(0.0, 20.0, 40)
    for number, plan in enumerate(pilot.fallbacks):
        for top, day in zip(tops, days, strict=True):
            bill = plan.bill_above(np.asarray(top)).begun_on(np.asarray(day), pilot.deadline)
            goal = float(np.mean(bill.late()))
            found = float(choice.lateness.of(number, np.asarray(top), np.asarray(day)))
            assert found == pytest.approx(goal, abs=1_500.0)  # of 100,000 and more: a grid
            lost = plan.bill_after_hole_lost().begun_on(np.asarray(day), pilot.deadline)
            found = float(choice.lateness.of(number, None, np.asarray(day)))
            assert found == pytest.approx(float(np.mean(lost.late())), abs=1_500.0)


def test_the_choice_costs_no_more_than_any_single_fallback() -> None:
    raw = two_fallbacks()
    (both,) = walked([inputs_of(raw)], distributions=False)
    assert quick(inputs_of(raw), n=256).cost.mean(axis=0) == pytest.approx(
        both.cost.mean(axis=0), rel=2e-4
    )
    for number in (0, 1):
        alone = copy.deepcopy(raw)
        alone["fallback"] = [raw["fallback"][number]]
        (one,) = walked([inputs_of(alone)], distributions=False)
        more = one.cost.mean(axis=0) - both.cost.mean(axis=0)
        assert (more > -1e-3 * both.cost.mean(axis=0)).all()


def test_the_day_decides_which_fallback_is_taken() -> None:
    # By hand: 100 h for 100,000 and 20 h for 180,000, both at a spread of nothing; late costs
    # 90,000 once after day 5. Begun on day 0 the first ends on day 4.2, on day 2 on day 6.2.
    raw = two_fallbacks()
    raw["rates"], raw["weather"] = {"rig": 0}, {}
    raw["deadline"] = {"in_days": 5.0, "cost_once": 90_000}
    raw["run"][0] = {"name": "wait", "hours": 48, "odds": {"nothing": 1.0}}
    raw["fishing"] = {"workable": 1.0}
    raw["recovery"] = {}
    raw["common"] = {}
    raw["fish"]["piece"] = []
    raw["fallback"] = [
        {"name": "cheap", "kind": "complete_above", "hours": 100, "cost": 100_000},
        {"name": "quick", "kind": "complete_above", "hours": 20, "cost": 180_000},
    ]
    (found,) = walked([inputs_of(raw)], distributions=False)
    assert found.cost.mean(axis=0) == pytest.approx([100_000, 180_000])
