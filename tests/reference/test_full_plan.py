"""Hold the reference of the plan to published answers, to closed forms and to the older references.

Origins of the expected numbers:
    published     the published answers of scenario A
    independent   worked by hand, the formula beside the number; or the older references, which know
                  neither doubts nor marks and share no tree with this one
Every job here is invented.
"""

import copy
import tomllib
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from . import endings, full_plan, random_plans, rentals
from .histories import Rules, settled
from .job import Table

SCENARIO_A = Path(__file__).parents[1] / "data" / "scenario_a_check.toml"
HALF_A_DOLLAR = 0.51
F, S = 190_000.0, 0.0  # lump fallback and fish of `by_hand`; nothing is to be done after recovery
NOTHING = {"nothing": 1.0}
CATCH = {
    "workable": {"recovered": 0.8, "nothing": 0.2},
    "stubborn": {"recovered": 0.1, "nothing": 0.9},
}


@pytest.fixture
def scenario_a() -> Table:
    with SCENARIO_A.open("rb") as file:
        return tomllib.load(file)


def by_hand(*runs: Table, **more: Any) -> Table:
    """Return a job at 1,000 an hour whose lump fallback and fish come to 190,000."""
    return {
        "rates": {"rig": 24_000},
        "fishing": {},
        "well": {"depth": 10_000, "shoe_depth": 4_000},
        "fish": {
            "top": 9_600,
            "bottom": 10_000,
            "piece": [{"name": "collars", "length": 400, "value": 40_000}],
        },
        "run": list(runs),
        "fallback": [{"name": "complete above", "hours": 100, "cost": 50_000}],
        **more,
    }


def run(hours: float = 10, **more: Any) -> Table:
    return {"hours": hours, **more}


def often(raw: Table, at_most: int, *, repeat_ratio: float = 1.0) -> Table:
    """Return the job with each run made so often, the odds of a repeat times a ratio."""
    other = copy.deepcopy(raw)
    for number, each in enumerate(other["run"], start=1):
        each |= {"at_most": at_most, "ratio_with": {f"made_{number}": repeat_ratio}}
    return other


# ---- scenario A, published --------------------------------------------------------------------


def test_limits_and_rule_of_scenario_a(scenario_a: Table) -> None:
    costs = [full_plan.limit(scenario_a, n).cost for n in range(6)]
    published = [713_532, 526_671, 507_282, 499_510, 532_912, 569_682]
    assert costs == pytest.approx(published, abs=HALF_A_DOLLAR)
    assert full_plan.list_rule(scenario_a).cost == pytest.approx(499_510, abs=HALF_A_DOLLAR)


def test_plan_of_scenario_a(scenario_a: Table) -> None:
    found = full_plan.plan(scenario_a)
    assert found.value.cost == pytest.approx(484_760, abs=HALF_A_DOLLAR)
    does = {node.history: node.do for node in found.nodes}
    # published: first the overshot; after nothing the wall hook, then stop; a damaged top is
    # dressed first
    assert does[()] == 1
    assert does[((1, "nothing"),)] == 3
    assert does[((1, "nothing"), (3, "nothing"))] == "stop"
    assert does[((1, "top_damaged"),)] == 2
    # independent: the chances of the nodes that stop and of the ends make 1
    stops = sum(node.chance for node in found.nodes if node.do == "stop")
    goes = [node for node in found.nodes if node.do != "stop"]
    ends = ("recovered", "string_lost", "hole_lost")
    ended = sum(node.chance * node.odds.get(end, 0.0) for node in goes for end in ends)
    assert stops + ended == pytest.approx(1.0)
    # independent: belief after one `nothing`, 0.7 x 0.22 : 0.3 x 0.72
    after = next(node for node in found.nodes if node.history == ((1, "nothing"),))
    assert after.belief["workable"] == pytest.approx(0.154 / 0.37)


@pytest.mark.parametrize(("repeat_ratio", "published"), [(1.0, 474_298), (0.5, 483_851)])
def test_plan_of_scenario_a_with_repeats(
    scenario_a: Table, repeat_ratio: float, published: float
) -> None:
    # The washovers are in no plan, and a sixth run is worth under a dollar (0.09 and 0.002).
    scenario_a["run"] = scenario_a["run"][:3]
    repeated = often(scenario_a, 2, repeat_ratio=repeat_ratio)
    cost = full_plan.plan(repeated, longest=5).value.cost
    assert cost == pytest.approx(published, abs=HALF_A_DOLLAR)


def test_best_sequence_of_scenario_a(scenario_a: Table) -> None:
    order, limit, value = full_plan.best_sequence(scenario_a, longest=3)
    assert (order, limit) == ((1, 3), 2)
    assert value.cost == pytest.approx(489_570, abs=HALF_A_DOLLAR)
    order, limit, value = full_plan.best_sequence(often(scenario_a, 2), longest=3)
    assert (order, limit) == ((1, 1, 3), 3)
    assert value.cost == pytest.approx(478_570, abs=HALF_A_DOLLAR)


# ---- the older references ---------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(12))
def test_jobs_of_today_answer_as_the_older_reference(seed: int) -> None:
    rng = np.random.default_rng(seed)
    raw = random_plans.random_plan(rng, features=random_plans.OF_TODAY)
    costs = [full_plan.limit(raw, n).cost for n in range(len(raw["run"]) + 1)]
    assert costs == pytest.approx(rentals.expected_costs_with_rentals(raw), rel=1e-10)
    days = full_plan.limit(raw, days=2.0).cost
    assert days == pytest.approx(rentals.expected_cost(raw, limit_days=2.0), rel=1e-10)
    scenario = endings.plain(raw)
    rule = rentals.best_rule_cost(scenario, since=rentals.beginning(scenario))
    assert full_plan.list_rule(raw).cost == pytest.approx(rule, rel=1e-10)


@pytest.mark.parametrize("seed", range(12))
def test_more_freedom_costs_no_more(seed: int) -> None:
    raw = random_plans.random_plan(np.random.default_rng(seed))
    before = copy.deepcopy(raw)
    rule = full_plan.list_rule(raw).cost
    assert rule <= min(full_plan.limit(raw, n).cost for n in range(len(raw["run"]) + 1)) + 1e-6
    found = full_plan.plan(raw)
    assert found.value.cost <= rule + 1e-6
    longest = max(2, Rules(raw).minimum)
    assert found.value.cost <= full_plan.best_sequence(raw, longest=longest)[2].cost + 1e-6
    assert found.nodes[0].cost_from_here == pytest.approx(found.value.cost)
    assert raw == before


def test_each_feature_can_be_switched() -> None:
    def seen(feature: str) -> set[str]:
        found: set[str] = set()
        needs = {"renews": {"doubts", "marks"}, "fallbacks": {"marks"}}.get(feature, set())
        for seed in range(12):
            rng = np.random.default_rng(seed)
            raw = random_plans.random_plan(rng, features={feature, *needs}, share=1.0)
            Rules(raw)
            found |= set(_keys(raw))
        return found

    marks = {
        "ageing": "odds_ratio_per_day",
        "attached": "parting",
        "common": "common",
        "damaged": "top_damaged",
        "deadline": "deadline",
        "doubts": "depends_on",
        "fallbacks": "trouble",
        "marks": "gives",
        "minimum": "minimum_runs",
        "old_fallbacks": "trouble",
        "order": "after",
        "part": "part",
        "prepared": "prepared",
        "readings": "reliability",
        "renews": "renews",
        "rentals": "standby_day",
        "repeats": "at_most",
        "share": "fishing_share",
        "weather": "weather",
        "whipstock": "whipstock",
    }
    assert set(marks) == set(random_plans.FEATURES)
    plain = set(_keys(random_plans.random_plan(np.random.default_rng(1), features=())))
    for feature, key in marks.items():
        assert key in seen(feature), feature
        assert key not in plain or key == "fishing_share"  # that of [recovery] is always there


def _keys(node: Any) -> list[str]:
    if isinstance(node, list):
        return [key for each in node for key in _keys(each)]
    if not isinstance(node, dict):
        return []
    return [key for name, below in node.items() for key in [name, *_keys(below)]]


# ---- doubts, independent by hand ---------------------------------------------------------------


def test_a_doubt_by_name_is_fishing_workable(scenario_a: Table) -> None:
    named = copy.deepcopy(scenario_a)
    named["doubt"] = [{"name": "top", "workable": named["fishing"].pop("workable")}]
    for n in range(6):
        assert full_plan.limit(named, n) == full_plan.limit(scenario_a, n)
    assert full_plan.list_rule(named) == full_plan.list_rule(scenario_a)


def two_doubts(a: float, b: float, *, first: list[str], second: list[str]) -> Table:
    doubts = [{"name": "a", "workable": a}, {"name": "b", "workable": b}]
    runs = [run(odds=CATCH, depends_on=first), run(20, odds=CATCH, depends_on=second)]
    return by_hand(*runs, doubt=doubts)


def test_doubts_of_disjoint_runs_factor() -> None:
    a, b = 0.6, 0.3
    raw = two_doubts(a, b, first=["a"], second=["b"])
    p, q = a * 0.8 + (1 - a) * 0.1, b * 0.8 + (1 - b) * 0.1  # each is caught so often
    both = 10_000 + (1 - p) * (20_000 + (1 - q) * F)
    assert full_plan.limit(raw, 2).cost == pytest.approx(both)
    other_way = 20_000 + (1 - q) * (10_000 + (1 - p) * F)
    assert full_plan.sequence(raw, (2, 1), 2).cost == pytest.approx(other_way)
    found = full_plan.plan(raw)
    assert found.value.cost == pytest.approx(min(both, other_way))
    second = next(node for node in found.nodes if node.history == ((1, "nothing"),))
    assert second.belief == pytest.approx({"a": a * 0.2 / (1 - p), "b": b})


def test_doubts_of_one_run_are_dependent_afterwards() -> None:
    a, b = 0.6, 0.3
    raw = two_doubts(a, b, first=["a", "b"], second=["b"])
    fails = 1 - a * b * 0.8 - (1 - a * b) * 0.1
    still_b = b * (a * 0.2 + (1 - a) * 0.9) / fails  # chance of b after run 1 failed
    q = still_b * 0.8 + (1 - still_b) * 0.1
    expected = 10_000 + fails * (20_000 + (1 - q) * F)
    assert full_plan.limit(raw, 2).cost == pytest.approx(expected)
    alone = two_doubts(a * b, 0.5, first=["a"], second=["b"])  # both of two are one of a b
    assert full_plan.limit(raw, 1).cost == pytest.approx(full_plan.limit(alone, 1).cost)


def test_knowing_a_doubt_on_which_nothing_depends_is_worth_nothing() -> None:
    raw = two_doubts(0.6, 0.3, first=["a"], second=["a"])
    for policy in (lambda r: full_plan.plan(r).value, full_plan.list_rule):
        assert full_plan.worth_of_knowing(raw, "b", policy) == pytest.approx(0.0, abs=1e-6)
    # a known: 10,000 + 0.2 x (20,000 + 0.2 F) against 10,000 + 0.9 x (20,000 + 0.9 F) or F
    told = 0.6 * min(F, 10_000 + 0.2 * (20_000 + 0.2 * F)) + 0.4 * min(
        F, 10_000 + 0.9 * min(F, 20_000 + 0.9 * F)
    )
    worth = full_plan.worth_of_knowing(raw, "a", full_plan.list_rule)
    assert worth == pytest.approx(full_plan.list_rule(raw).cost - told)


def test_a_new_top_is_a_new_truth() -> None:
    # Run 1 always does its job and tells the kinds apart; then the doubt holds afresh by 0.3.
    sure = {"workable": {"part": 1.0}, "stubborn": {"prepared": 1.0}}
    runs = [run(odds=sure, renews={"top": 0.3}, gives=["washed"]), run(20, odds=CATCH)]
    raw = by_hand(*runs, doubt=[{"name": "top", "workable": 0.9}])
    q = 0.3 * 0.8 + 0.7 * 0.1
    assert full_plan.limit(raw, 2).cost == pytest.approx(30_000 + (1 - q) * F)
    del raw["run"][0]["renews"]
    kept = 0.9 * 0.2 + 0.1 * 0.9
    assert full_plan.limit(raw, 2).cost == pytest.approx(30_000 + kept * F)


def test_a_reading_is_an_action_of_the_plan() -> None:
    raw = by_hand(run(60, odds=CATCH), doubt=[{"name": "top", "workable": 0.5}])
    raw["reading"] = [{"name": "look", "reliability": 1.0, "hours": 1, "cost": 500}]
    # read, then run on a good top alone: 1,500 + 0.5 (60,000 + 0.2 F) + 0.5 F
    found = full_plan.plan(raw)
    assert found.value.cost == pytest.approx(1_500 + 0.5 * (60_000 + 0.2 * F) + 0.5 * F)
    does = {node.history: node.do for node in found.nodes}
    assert does[()] == "look"
    assert does[(("look", "prepared"),)] == 1
    assert does[(("look", "nothing"),)] == "stop"
    assert full_plan.list_rule(raw).cost == pytest.approx(60_000 + 0.55 * F)


# ---- marks, independent by hand ----------------------------------------------------------------


@pytest.mark.parametrize("seed", range(6))
def test_a_mark_always_true_changes_nothing(seed: int) -> None:
    raw = random_plans.random_plan(np.random.default_rng(seed))
    marked = copy.deepcopy(raw)
    marked["fish"].setdefault("marks", []).append("cased")
    for each in [*marked["run"], marked["fallback"][0]]:
        each.setdefault("needs", []).append("cased")
    assert full_plan.plan(marked).value == full_plan.plan(raw).value
    assert full_plan.list_rule(marked) == full_plan.list_rule(raw)


PREPARES = {"prepared": 0.5, "nothing": 0.5}


def test_a_list_passes_over_and_comes_back() -> None:
    sure = {"recovered": 1.0}
    raw = by_hand(run(odds=sure, needs=["washed"]), run(odds=PREPARES, gives=["washed"]))
    # run 2 first; with the mark run 1 is made after it, without fishing stops
    assert full_plan.limit(raw, 1).cost == pytest.approx(10_000 + F)
    value = full_plan.limit(raw, 2)
    assert value.cost == pytest.approx(10_000 + 0.5 * 10_000 + 0.5 * F)
    assert value.recovered == pytest.approx(0.5)
    raw["limits"] = {"minimum_runs": 2}  # waived where it cannot be met
    assert full_plan.limit(raw, 0) == full_plan.Value(value.cost, 0.5, 0.5)
    assert full_plan.plan(raw).value == full_plan.Value(value.cost, 0.5, 0.5)


def test_a_part_gives_and_takes_as_the_own_job_does() -> None:
    first = run(odds={"part": 1.0}, gives=["washed"], takes=["buried"])
    second = run(odds={"recovered": 1.0}, needs=["washed"], bars=["buried"])
    raw = by_hand(first, second)
    raw["fish"]["marks"] = ["buried"]
    assert full_plan.limit(raw).cost == pytest.approx(20_000)
    raw["run"][0]["odds"] = NOTHING
    assert full_plan.limit(raw).cost == pytest.approx(10_000 + F)


def test_a_repeat_counts_toward_the_minimum_but_is_not_owed() -> None:
    dear = run(100, odds=NOTHING)
    raw = by_hand(run(odds=NOTHING, at_most=2), dear, limits={"minimum_runs": 2})
    assert full_plan.plan(raw).value.cost == pytest.approx(20_000 + F)  # run 1 twice
    assert full_plan.limit(raw, 0).cost == pytest.approx(110_000 + F)  # a list makes each once
    raw["run"][1]["bars"] = ["made_1"]
    raw["run"][0]["needs"] = []  # run 1 closes run 2; a repeat of it could be made and is not
    assert full_plan.plan(raw).value == full_plan.Value(pytest.approx(10_000 + F), 0.0, 1.0)
    raw["run"][0]["needs"] = ["dry"]  # nothing can be made but run 2; then nothing is left
    assert full_plan.plan(raw).value == full_plan.Value(pytest.approx(100_000 + F), 0.0, 1.0)
    with pytest.raises(ValueError, match="leaves out a run"):
        full_plan.sequence(raw, (1,), 1)


def test_one_order_of_the_odds() -> None:
    fishing = {"odds_ratio_per_day": 0.5, "damaged_top_factor": 0.6}
    odds = {"recovered": 0.5, "nothing": 0.5}
    raw = by_hand(run(odds=odds, ratio_with={"damaged_top": 3, "washed": 4}), fishing=fishing)
    raw["fish"]["marks"] = ["damaged_top", "washed"]
    raw["common"] = {"hours": 24}
    # 1 : 1 after a day times 0.5 x 3 x 4 is 6 : 1, then cut: 0.6 x 6 / 7
    cut = 0.6 * 6 / 7
    assert full_plan.limit(raw, 1).cost == pytest.approx(34_000 + (1 - cut) * F)
    raw["run"][0]["dresses_top"] = True  # tested before dressing, and not cut
    assert full_plan.limit(raw, 1).cost == pytest.approx(34_000 + F / 7)


def test_settled_takes_from_prepared_too() -> None:
    odds = {"recovered": 0.7, "part": 0.1, "nothing": 0.2, "prepared": 0.2, "top_damaged": 0.1}
    odds |= {"string_lost": 0.1, "hole_lost": 0.0}  # 0.4 too much: 0.2, then a half of each
    assert settled(odds) == pytest.approx(
        odds | {"nothing": 0.0, "part": 0.05, "prepared": 0.1, "top_damaged": 0.05}
    )


# ---- parting, weather, deadline, in closed form ------------------------------------------------

ONE_RUN = {"odds": {"recovered": 0.4, "nothing": 0.5, "string_lost": 0.1}, "string_value": 7_000}


@pytest.fixture
def attached() -> Table:
    raw = by_hand(run(**ONE_RUN), fishing={"day_rates": {"hands": 12_000}, "mobilization": 900})
    raw["fish"]["marks"] = ["attached"]
    return raw | {"parting": {"hours": 8, "charge": 3_000}}


def test_parting_is_paid_where_the_policy_stops_attached(attached: Table) -> None:
    part = 8 * 1_500 + 3_000  # spread and fishing day
    assert full_plan.limit(attached, 0).cost == pytest.approx(part + F)
    loose = {"name": "drill past", "hours": 1, "lost_in_hole_share": 0, "bars": ["attached"]}
    past = attached | {"fallback": [*attached["fallback"], loose]}  # open once it is parted
    assert full_plan.limit(past, 0).cost == pytest.approx(part + 1_000)
    one = 900 + 10 * 1_500 + 0.5 * (part + F) + 0.1 * (F + 7_000)  # a lost string has taken it
    assert full_plan.limit(attached, 1).cost == pytest.approx(one)
    attached["run"][0]["fishing_share"] = 0.0  # the crew jars: no fishing day, no mobilization
    crew = 10 * 1_000 + 0.5 * (part + F) + 0.1 * (F + 7_000)
    assert full_plan.limit(attached, 1).cost == pytest.approx(crew)
    attached["run"][0] |= {"trips": [{}]}  # barred while attached
    assert full_plan.limit(attached, 1).cost == pytest.approx(part + F)


def test_weather_stretches_operations_alone(attached: Table) -> None:
    attached["weather"] = {"fishing": 0.2, "fallback": 0.5}
    attached["common"] = {"hours": 5}
    attached["recovery"] = {"hours": 4, "charge": 600, "fishing_share": 0.5}
    attached["run"][0]["wait"] = 6
    part, fallback = 10 * 1_500 + 3_000, 200_000 + 90_000  # 8 h take 10, 100 h take 200
    ends = 0.5 * (part + fallback) + 0.1 * (fallback + 7_000) + 0.4 * (5 * 1_250 + 600)
    assert full_plan.limit(attached, 1).cost == pytest.approx(5_000 + 900 + 20 * 1_500 + ends)


def test_a_plug_over_a_source_waits_for_its_approval() -> None:
    # 1,000 an hour: 30 h before the fallback, after a limit, a lost string and a lost hole alike
    loses = {"recovered": 0.4, "nothing": 0.3, "string_lost": 0.2, "hole_lost": 0.1}
    lost = run(10, odds=loses, string_value=10_000)
    raw = by_hand(lost, limits={"minimum_runs": 0, "approval_hours": 30})
    ends = 0.6 * F + 0.2 * 10_000 + 0.1 * 3_000
    assert full_plan.limit(raw, 1).cost == pytest.approx(10_000 + ends)  # no source, no wait
    raw["fish"]["sealed_source"] = True
    assert full_plan.limit(raw, 0).cost == pytest.approx(30_000 + F)
    assert full_plan.limit(raw, 1).cost == pytest.approx(10_000 + ends + 0.6 * 30_000)
    raw["weather"] = {"fallback": 0.5}  # 100 h of the fallback take 200, the 30 h stay 30
    assert full_plan.limit(raw, 0).cost == pytest.approx(30_000 + F + 100_000)
    del raw["weather"]
    raw["deadline"] = {"in_days": 130 / 24, "cost_per_day": 24_000}
    assert full_plan.limit(raw, 0).cost == pytest.approx(30_000 + F)  # on time to the hour
    raw["deadline"]["in_days"] = 120 / 24
    assert full_plan.limit(raw, 0).cost == pytest.approx(40_000 + F)  # 10 h late
    del raw["deadline"]
    taken = run(10, odds={"prepared": 0.5, "nothing": 0.5}, takes=["source"])
    raw["run"] = [taken]  # half of the time the source is out before the plug
    assert full_plan.limit(raw, 1).cost == pytest.approx(10_000 + F + 0.5 * 30_000)


@pytest.mark.parametrize("more_hours", [0.0, 0.001])
def test_exactly_on_time_is_not_late(more_hours: float) -> None:
    raw = by_hand(run(20 + more_hours, odds=NOTHING))
    raw |= {"deadline": {"in_days": 5.5, "work_after_days": 0.5, "cost_once": 9_000}}
    raw["deadline"]["cost_per_day"] = 24_000
    late = 9_000 + 1_000 * more_hours if more_hours else 0.0  # 20 h + 100 h + half a day
    expected = (20 + more_hours) * 1_000 + F + late
    assert full_plan.limit(raw, 1).cost == pytest.approx(expected)
    raw["job"] = {"decided_at": datetime(2026, 3, 14, 6)}
    raw["deadline"] |= {"at": datetime(2026, 3, 19, 18)}
    del raw["deadline"]["in_days"]
    assert full_plan.limit(raw, 1).cost == pytest.approx(expected)


PLAIN_SIDETRACK = {  # 66 h from 9,000 ft at 1,000 ft/h, 50 h for each retry
    "name": "sidetrack",
    "kickoff_above_fish": 600,
    **dict.fromkeys(["stinger", "condition", "make_up", "dress"], 0),
    **{"plug_hours": 3, "plugs": 1, "woc": 24, "kickoff_length": 20, "kickoff_rate": 2},
    **{"gross_rop": 49, "bit_life": 5_000, "kickoff_failure": 0.3},
}


@pytest.mark.parametrize("stick", [0.0, 0.2])
def test_deadline_is_summed_over_retries(stick: float) -> None:
    speeds = {"cased": 1_000, "open": 1_000}
    raw = by_hand(run(54, odds={"recovered": 0.4, "nothing": 0.6}))
    raw |= {"trip_speed": {"in": speeds, "out": speeds}, "fallback": [PLAIN_SIDETRACK]}
    raw["deadline"] = {"in_days": 6, "cost_once": 5_000, "cost_per_day": 24_000}
    q, retry = 0.3, 50_000
    mean = 66_000 + q / (1 - q) * retry + 40_000
    # 54 h + 66 h end a day early, by 24 h; the first retry is 26 h late and each more 50 h:
    # q (5,000 + 26,000) + q q / (1 - q) x 50,000
    late = q * 31_000 + q * q / (1 - q) * 50_000
    if stick:
        # 74 h more: late by 50 h from the start, 5,000 + 50,000 + q / (1 - q) x 50,000
        again = {"chance": stick, "cost": 10_000, "hours": 74}
        raw["fallback"] = [PLAIN_SIDETRACK | {"stick_again": again}]
        late = (1 - stick) * late + stick * (55_000 + q / (1 - q) * 50_000 + 10_000)
    assert full_plan.limit(raw, 1).cost == pytest.approx(54_000 + 0.6 * (mean + late))


def test_the_cheapest_open_fallback_is_taken_by_state() -> None:
    past = {"name": "drill past", "hours": 10, "needs": ["loose"], "lost_in_hole_share": 0}
    raw = by_hand(run(odds=PREPARES, gives=["loose"]))
    raw["fallback"].append(past)
    assert full_plan.limit(raw, 1).cost == pytest.approx(10_000 + 0.5 * 10_000 + 0.5 * F)
    # late by 10 + 100 h less 2 days only where the slow one is taken
    raw["deadline"] = {"in_days": 2, "cost_per_day": 24_000}
    assert full_plan.limit(raw, 1).cost == pytest.approx(15_000 + 0.5 * (F + 62_000))


POLICIES: list[Callable[[Table], full_plan.Value]] = [
    full_plan.list_rule,
    lambda raw: full_plan.plan(raw).value,
]


@pytest.mark.parametrize("policy", POLICIES)
def test_a_deadline_that_costs_nothing_and_still_weather_change_nothing(
    policy: Callable[[Table], full_plan.Value],
) -> None:
    raw = random_plans.random_plan(np.random.default_rng(5), features=random_plans.OF_TODAY)
    other = raw | {"weather": {"fishing": 0.0}, "deadline": {"in_days": 0}}
    assert policy(other).cost == pytest.approx(policy(raw).cost)
