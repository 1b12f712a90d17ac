"""Hold the references of contracts, endings and the order of runs to hand work and to each other.

Origins of the expected numbers:
    published     the published answers of scenario A
    independent   worked by hand, the arithmetic beside the number; or the older outcome tree,
                  which knows no contracts and carries its state along instead of walking again
Every job here is invented.
"""

import copy
import tomllib
from math import floor, log
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from . import endings, job, orders, outcome_tree, rentals
from .job import Table
from .rentals import RunMade

SCENARIO_A = Path(__file__).parents[1] / "data" / "scenario_a_check.toml"
HALF_A_DOLLAR = 0.51
NOTHING = {"nothing": 1.0}
EVEN = {"recovered": 0.5, "nothing": 0.5}


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


# ---- rental contracts -------------------------------------------------------------------------

OVERSHOT = {"kind": "overshot", "hours": 24, "part_length": 60, "odds": NOTHING}
WASHOVER = {"kind": "washover", "wait": 12, "hours": 24, "wash_length": 120, "odds": NOTHING}
JARS = {"kind": "overshot", "options": ["jars"], "hours": 12, "part_length": 60, "odds": NOTHING}
PIPE = {
    "tool": "wash pipe",
    "kinds": ["washover"],
    "mobilization": 500,
    "minimum_days": 1,
    "day": 1_000,
    "standby_day": 400,
    "redress": 50,
    "per_foot": 2,
    "replacement": 9_000,
}
# common ends at 0.5 d, run 1 at 1.5 d, run 2 (wait 12 h + 24 h) at 3.0 d, run 3 at 3.5 d
MADE = (
    RunMade(1, 0.5, 0.0, 24.0, "nothing"),
    RunMade(2, 1.5, 12.0, 24.0, "nothing"),
    RunMade(3, 3.0, 0.0, 12.0, "nothing"),
)


def three_runs(**contract: Any) -> Table:
    rental = {key: value for key, value in (PIPE | contract).items() if value is not None}
    runs = by_hand(OVERSHOT, WASHOVER, JARS, common={"hours": 12}, rental=[rental])
    return endings.completed(runs)


@pytest.mark.parametrize(
    ("contract", "made", "expected"),
    [
        # w = 1.5 d, redress and wash 50 + 2 x 120 = 290; standby T - t_c - w
        ({}, 3, 500 + 1_500 + 400 * 0.5 + 290),  # t_c = 1.5, T = 3.5
        ({"call_out": 1}, 3, 500 + 1_500 + 400 * 1.5 + 290),  # t_c = 0.5
        ({"call_out": 0}, 3, 500 + 1_500 + 400 * 2.0 + 290),  # t_c = 0
        ({"call_out": 2}, 3, 500 + 1_500 + 400 * 0.5 + 290),
        ({"call_out": 3}, 3, 500 + 1_500 + 400 * 0.5 + 290),  # at hand for run 2 all the same
        ({"call_out": 1}, 2, 500 + 1_500 + 400 * 1.0 + 290),  # T = 3.0
        ({"held_days": 2}, 3, 1_500 + 400 * 2.0 + 290),  # 3.5 - 1.5 days stand by from now on
        # the minimum against 1,500 + 600 = 2,100, and 5 - 2 = 3 days against 2,300
        ({"call_out": 1, "minimum_days": 3}, 3, 500 + 3_000 + 290),
        ({"held_days": 2, "minimum_days": 5}, 3, 3_000 + 290),
        # serves all: w = 3.0 d, none stands by; washed 60 + 120 + 60
        ({"kinds": []}, 3, 500 + 3_000 + 3 * 50 + 2 * 240),
        # serves run 3 by its option: t_c = 3.0, w = 0.5, one day is the minimum
        ({"kinds": [], "options": ["jars"]}, 3, 500 + 1_000 + 50 + 2 * 60),
        ({"kinds": ["washover"], "options": ["jars"]}, 3, 500 + 2_000 + 2 * 50 + 2 * 180),
        # only run 1 is made, T = 1.5, w = 0
        ({}, 1, 0),
        ({"call_out": 2}, 1, 0),
        ({"call_out": 1}, 1, 500 + 1_000),  # 400 x 1.0 is less than the minimum
        ({"call_out": 0, "minimum_days": 0}, 1, 500 + 400 * 1.5),
        ({"held_days": 2}, 1, 400 * 1.5),
        # no run is made, T = 0.5 by `common`
        ({"call_out": 0}, 0, 0),
        ({"call_out": 1}, 0, 0),
        ({"held_days": 2}, 0, 400 * 0.5),
        ({"held_days": 2, "minimum_days": 5}, 0, 3_000),
        # no run of the program uses it
        ({"kinds": ["magnet"], "call_out": 0}, 3, 0),
        ({"kinds": ["magnet"], "held_days": 0}, 3, 400 * 3.5 + 0),
    ],
)
def test_bill_by_hand(contract: Table, made: int, expected: float) -> None:
    scenario = three_runs(**contract)
    (rental,) = scenario["rental"]
    assert rentals.bill(scenario, rental, made=MADE[:made]) == pytest.approx(expected)


@pytest.mark.parametrize(
    ("lost_by", "outcome", "owed"),
    # run 2 loses it: all of 9,000, or the hole lost share of 0.3; run 1 does not carry it
    [(2, "string_lost", 9_000), (2, "hole_lost", 2_700), (1, "string_lost", 0)],
)
def test_replacement_by_hand(lost_by: int, outcome: str, owed: float) -> None:
    scenario = three_runs(call_out=1)
    (rental,) = scenario["rental"]
    before, last = MADE[: lost_by - 1], MADE[lost_by - 1]
    ended = RunMade(last.number, last.start, last.wait, last.work, outcome)
    sound = rentals.bill(scenario, rental, made=(*before, last))
    assert rentals.bill(scenario, rental, made=(*before, ended)) - sound == pytest.approx(owed)


@pytest.mark.parametrize(
    ("contract", "wait"),
    [
        ({"delivery": 5}, 12),  # its own wait is longer
        ({"delivery": 20}, 20),  # called at its start
        ({"delivery": 40, "call_out": 1}, 16),  # 24 h of them pass during run 1
        ({"delivery": 50, "call_out": 0}, 14),  # and 12 h more during `common`
        ({"delivery": 50, "call_out": 3}, 50),
        ({"held_days": 0}, 12),
    ],
)
def test_waiting_by_hand(contract: Table, wait: float) -> None:
    scenario = three_runs(**contract)
    history = rentals.walk(
        scenario, ("nothing", "nothing", "nothing"), since=rentals.beginning(scenario)
    )
    assert [made.wait for made in history.made] == pytest.approx([0, wait, 0])
    ends = [1.5, 2.5 + wait / 24, 3.0 + wait / 24]
    assert [made.end for made in history.made] == pytest.approx(ends)
    late = PIPE | {"kinds": [], "delivery": 60}  # the later of two counts: 60 h from run 1
    scenario["rental"].append(late)
    history = rentals.walk(scenario, ("nothing", "nothing"), since=rentals.beginning(scenario))
    assert history.made[0].wait == 60


def test_costs_by_limit_by_hand() -> None:
    # fallback 190,000 and `common` 12,000; runs of 24, 36 and 12 h; the bills of test_bill_by_hand
    bills = [0, 1_500, 500 + 1_500 + 400 + 290, 500 + 1_500 + 600 + 290]
    runs = [0, 24_000, 60_000, 72_000]
    expected = [202_000 + bill + run for bill, run in zip(bills, runs, strict=True)]
    assert rentals.expected_costs_with_rentals(three_runs(call_out=1)) == pytest.approx(expected)
    held = [202_000 + bill + run for bill, run in zip([200, 600, 2_390, 2_590], runs, strict=True)]
    assert rentals.expected_costs_with_rentals(three_runs(held_days=2)) == pytest.approx(held)


def test_waiting_for_a_tool_lowers_the_odds_of_the_next_run() -> None:
    runs = ({"kind": "washover", "hours": 24, "odds": NOTHING}, {"hours": 24, "odds": EVEN})
    rental = {"tool": "wash pipe", "kinds": ["washover"], "delivery": 24}
    scenario = by_hand(*runs, fishing={"odds_ratio_per_day": 0.5}, rental=[rental])
    # run 2 starts after 48 h: odds 1 : 1 become 1 : 4; 48,000 + 24,000 + 0.8 x 190,000
    assert rentals.expected_cost(scenario) == pytest.approx(224_000)


def test_contracts_that_stand_for_lump_sums(scenario_a: Table) -> None:
    # Serving every run from the first, a contract is a day rate without recovery tail, a
    # mobilization, a charge by run and by length, and a dearer string.
    scenario_a["recovery"]["fishing_share"] = 0.0
    lump = copy.deepcopy(scenario_a)
    lump["fishing"]["day_rates"]["tools"] = 2_000
    lump["fishing"]["mobilization"] += 3_000
    for run in lump["run"]:
        run["charge"] += 700 + 5 * run["part_length"]
        run["string_value"] += 40_000
    scenario_a["rental"] = [
        {"tool": "jars", "mobilization": 3_000, "day": 2_000, "redress": 700, "per_foot": 5},
        {"tool": "string", "kinds": ["overshot"], "replacement": 40_000},
    ]
    # independent: the older tree at the lump sums
    older = [result.expected_cost for result in outcome_tree.by_runs(lump)]
    assert rentals.expected_costs_with_rentals(scenario_a) == pytest.approx(older)


# ---- odds and endings -------------------------------------------------------------------------


def test_losses_grow_before_recovery_falls_and_the_top_is_cut() -> None:
    odds = {"recovered": 0.5, "nothing": 0.3, "string_lost": 0.15, "hole_lost": 0.05}
    fishing = {"loss_odds_ratio_per_day": 2.0, "odds_ratio_per_day": 0.5}
    scenario = endings.completed(by_hand({"hours": 24, "odds": odds}, fishing=fishing))
    # losses 1 : 4 double to 2 : 4, a third, shared 3 : 1 as 1/4 and 1/12, at the expense of
    # nothing, which falls from 3/10 by 2/15 to 1/6. Then recovery at 1 : 1 halves to 1 : 2, and
    # nothing gets the sixth that it loses.
    now = rentals.odds_before(scenario, scenario["run"][0], "workable", days=1.0, damaged=False)
    shares = {"recovered": 4, "nothing": 4, "string_lost": 3, "hole_lost": 1}
    assert {k: 12 * v for k, v in now.items() if v} == pytest.approx(shares)
    cut = rentals.odds_before(scenario, scenario["run"][0], "workable", days=1.0, damaged=True)
    assert 12 * cut["recovered"] == pytest.approx(2.4)  # 0.6 of 4, the rest to nothing
    assert 12 * cut["nothing"] == pytest.approx(5.6)
    sure = {"recovered": 0.0, "nothing": 0.0, "string_lost": 0.4, "hole_lost": 0.6}
    assert rentals.loss_grown(sure, ratio=2.0, days=1.0) == sure


def test_what_nothing_cannot_give_comes_from_part_and_a_damaged_top() -> None:
    # by hand: 0.3 too much, of which nothing gives 0.1; part and top_damaged give 0.2 as 3 : 1
    odds = {"recovered": 0.6, "part": 0.3, "nothing": 0.1, "top_damaged": 0.1, "hole_lost": 0.2}
    assert job.settled(odds) == pytest.approx(
        {"recovered": 0.6, "part": 0.15, "nothing": 0.0, "top_damaged": 0.05, "hole_lost": 0.2}
    )
    # by hand: 0.4 too much, nothing and part have 0.2 to give, what is left is 1.2
    odds = {"recovered": 0.9, "part": 0.1, "nothing": 0.1, "top_damaged": 0.0, "hole_lost": 0.3}
    assert job.settled(odds) == pytest.approx(
        {"recovered": 0.75, "part": 0.0, "nothing": 0.0, "top_damaged": 0.0, "hole_lost": 0.25}
    )


WHIPSTOCK_JOB = {"rates": {"rig": 24_000}}


@pytest.mark.parametrize(
    ("after", "expected"),
    # q = 0.5, R = 1,000, W = 24/24 x (24,000 + 6,000) + 2,000 = 32,000, qw = 0.2: 40,000 until held
    [
        (None, 1_000),
        (1, 0.5 * 40_000),
        (3, 1_000 * (0.5 + 0.25) + 0.125 * 40_000),
    ],
)
def test_whipstock_by_hand(after: int | None, expected: float) -> None:
    fallback: Table = {"directional_day": 6_000}
    if after is not None:
        fallback["whipstock"] = {"after": after, "hours": 24, "cost": 2_000, "failure": 0.2}
    kickoff = {"failure": 0.5, "per_retry": 1_000.0}
    mean = endings.mean_kickoff_extra(WHIPSTOCK_JOB, fallback, **kickoff)
    assert mean == pytest.approx(expected)
    points = endings.kickoff_points(WHIPSTOCK_JOB, fallback, **kickoff)
    assert sum(chance for _, chance in points) == pytest.approx(1.0, abs=1e-12)
    assert sum(cost * chance for cost, chance in points) == pytest.approx(expected)
    if after == 3:
        # 0, 1 or 2 plugs more, then one or two attempts with the whipstock
        first = [(0, 0.5), (1_000, 0.25), (2_000, 0.125), (34_000, 0.1), (66_000, 0.02)]
        assert [x for point in points[:5] for x in point] == pytest.approx(
            [x for point in first for x in point]
        )


def test_kickoff_points_are_the_event_of_one_uniform_number() -> None:
    fallback = {
        "directional_day": 6_000,
        "whipstock": {"after": 2, "hours": 24, "cost": 2_000, "failure": 0.2},
    }
    counted: dict[float, float] = {}
    n = 40_000
    for u in (np.arange(n) + 0.5) / n:
        failed = floor(log(u) / log(0.4))
        if failed < 2:
            cost = 1_000.0 * failed
        else:
            cost = 1_000.0 + 32_000.0 * (1 + floor(log(u / 0.4**2) / log(0.2)))
        counted[cost] = counted.get(cost, 0.0) + 1 / n
    points = endings.kickoff_points(WHIPSTOCK_JOB, fallback, failure=0.4, per_retry=1_000.0)
    for cost, chance in points[:6]:
        assert counted[cost] == pytest.approx(chance, abs=1.1 / n)  # of the grid


def test_trouble_and_closed_lumps_by_hand() -> None:
    odds = {"string_lost": 0.5, "hole_lost": 0.25, "nothing": 0.25}
    scenario = by_hand({"hours": 0, "string_length": 10, "odds": odds})
    past = {"kind": "drill_past", "hours": 10, "cost": 0, "trouble": {"chance": 0.1, "cost": 5_000}}
    scenario["fallback"].append(past)
    # by the fish 10,000 + 500 + 40,000; closed after a loss, when only 190,000 is left
    assert rentals.expected_cost(scenario, limit_runs=0) == pytest.approx(50_500)
    assert rentals.expected_cost(scenario) == pytest.approx(0.75 * 190_000 + 0.25 * 50_500)
    past["after_string_lost"] = True
    assert rentals.expected_cost(scenario) == pytest.approx(0.25 * 190_000 + 0.75 * 50_500)
    points = rentals.cost_points(scenario)
    costs = {cost: sum(p for c, p in points if c == cost) for cost, _ in points}
    assert costs == pytest.approx({190_000: 0.25, 50_000: 0.75 * 0.9, 55_000: 0.75 * 0.1})
    scenario["fallback"] = [past]
    with pytest.raises(ValueError, match="no fallback is open after hole_lost"):
        rentals.expected_cost(scenario)


def test_new_tree_without_anything_new_is_the_old_one(scenario_a: Table) -> None:
    costs = rentals.expected_costs_with_rentals(scenario_a)
    # published: last column of the steps table of scenario A
    printed = [713_532, 526_671, 507_282, 499_510, 532_912, 569_682]
    assert costs == pytest.approx(printed, abs=HALF_A_DOLLAR)
    changed = copy.deepcopy(scenario_a)
    changed["fishing"] |= {"odds_ratio_per_day": 0.85, "damaged_top_factor": 0.35}
    changed["common"] = {"hours": 18, "cost": 12_000}
    changed["limits"] = {"minimum_runs": 2}
    # independent: the older tree
    for days in (0.5, 3.0, 5.5):
        older = outcome_tree.limit(changed, limit_days=days).expected_cost
        assert rentals.expected_cost(changed, limit_days=days) == pytest.approx(older)
    scenario = endings.plain(changed)
    rule = outcome_tree.best_rule(changed)[()].expected_cost
    since = rentals.beginning(scenario)
    assert rentals.best_rule_cost(scenario, since=since) == pytest.approx(rule)
    changed["fallback"][0]["whipstock"] = {"after": 2, "hours": 40, "cost": 9_000, "failure": 0.3}
    points = rentals.cost_points(changed, limit_runs=2)
    assert sum(chance for _, chance in points) == pytest.approx(1.0)
    mean = sum(cost * chance for cost, chance in points)
    assert mean == pytest.approx(rentals.expected_cost(changed, limit_runs=2))


def test_what_a_file_leaves_out_is_filled_in() -> None:
    scenario = by_hand({"hours": 24, "odds": NOTHING})
    # a price of 100,000 less 70 %, but at least 40 % of it: the 40,000 of the other jobs
    piece = {"length": 400, "replacement": 100_000, "depreciation": 0.7, "floor": 0.4}
    scenario["fish"] |= {"piece": [piece], "sealed_source": True}
    # a sealed source asks for one run, worthless as it is: 24,000 + 190,000
    assert rentals.expected_cost(scenario, limit_runs=0) == pytest.approx(214_000)
    filled = endings.plain(scenario)
    rule = rentals.best_rule_cost(filled, since=rentals.beginning(filled))
    assert rule == pytest.approx(214_000)
    sidetrack = endings.completed({**scenario, "fallback": [{"name": "sidetrack"}]})["fallback"][0]
    assert sidetrack["kickoff_floor"] == 4_000 + 60
    with pytest.raises(ValueError, match="any rock"):
        endings.completed({**scenario, "fallback": [{"competent": [[4_100, 4_200]]}]})


def test_what_is_not_plain_is_refused(scenario_a: Table) -> None:
    with pytest.raises(ValueError, match="field units only"):
        endings.plain({**scenario_a, "units": "metric"})
    with pytest.raises(ValueError, match=r"plain numbers only; .*'rates\.rig'"):
        endings.plain({**scenario_a, "rates": {"rig": {"low": 1, "high": 2}}})
    scenario_a["run"][0]["odds"]["stubborn"]["weight"] = 5
    with pytest.raises(ValueError, match="plain numbers only"):
        rentals.expected_cost(scenario_a)


# ---- order of runs ----------------------------------------------------------------------------


def two_runs(**more: Any) -> Table:
    second = {"hours": 18, "odds": {"recovered": 0.25, "nothing": 0.75}}
    runs = ({"hours": 24, "odds": EVEN}, second)
    return by_hand(*runs, **{"fishing": {"mobilization": 5_000}, **more})


def test_programs_of_two_runs_by_hand() -> None:
    # (1, 2): 5,000 + 24,000 + 0.5 (18,000 + 0.75 x 190,000); (2, 1): 23,000 + 0.75 x 119,000
    expected = {(): 190_000, (1,): 124_000, (2,): 165_500, (1, 2): 109_250, (2, 1): 112_250}
    assert orders.all_programs(two_runs()) == pytest.approx(expected)
    assert orders.cheapest_program(two_runs()) == ((1, 2), pytest.approx(109_250))
    scenario = two_runs(limits={"minimum_runs": 1})
    scenario["run"][0]["after"] = [2]
    assert set(orders.all_programs(scenario)) == {(2,), (2, 1)}
    assert orders.cheapest_program(scenario) == ((2, 1), pytest.approx(112_250))


@pytest.mark.parametrize(
    ("call_out", "order", "standby_days"),
    [
        # runs of 1, 1.5 and 0.5 days, the last on the pipe; it stands by from the call-out on
        (1, (1, 2, 3), 2.5),
        (1, (2, 1, 3), 1.0),
        (1, (1, 3), 1.0),
        (1, (2, 3), 0.0),  # run 1 is left out: called at run 3
        (1, (3, 1), 1.0),  # run 1 would be too late: called at run 3, stands by during run 1
        (2, (1, 2, 3), 1.5),
        (2, (2, 1, 3), 2.5),
        (1, (1, 2), None),  # never called
        (1, (), None),
    ],
)
def test_call_out_stays_with_its_run_by_hand(
    call_out: int, order: tuple[int, ...], standby_days: float | None
) -> None:
    rental = {"tool": "pipe", "kinds": ["washover"], "call_out": call_out}
    rental |= {"mobilization": 1_000, "standby_day": 2_400}
    hours = {1: 24, 2: 36, 3: 12}
    kinds = {1: "overshot", 2: "spear", 3: "washover"}
    runs = [{"kind": kinds[n], "hours": hours[n], "odds": NOTHING} for n in hours]
    bill = 0 if standby_days is None else 1_000 + 2_400 * standby_days
    expected = 190_000 + sum(1_000 * hours[number] for number in order) + bill
    assert orders.program_cost(by_hand(*runs, rental=[rental]), order) == pytest.approx(expected)


def test_programs_of_scenario_a(scenario_a: Table) -> None:
    costs = orders.all_programs(scenario_a, longest=3)
    assert len(costs) == 1 + 5 + 5 * 4 + 5 * 4 * 3
    # published: limits 1 to 3 of the steps table are the programs (1), (1, 2) and (1, 2, 3)
    printed = {(): 713_532, (1,): 526_671, (1, 2): 507_282, (1, 2, 3): 499_510}
    for order, cost in printed.items():
        assert costs[order] == pytest.approx(cost, abs=HALF_A_DOLLAR)
    # published: skipping the dressing run is better, "491 thousand against 502 thousand". The
    # second figure contradicts the 499,510 of the steps table, so only the ranking is held to it.
    assert costs[(1, 3)] < costs[(1, 2, 3)]
    assert orders.cheapest_program(scenario_a, longest=3)[0] == (1, 3)
    # independent: the older tree on the runs put in that order by hand
    for order in ((1, 3), (3, 1), (2, 4, 1)):
        other = {**scenario_a, "run": [scenario_a["run"][number - 1] for number in order]}
        older = outcome_tree.limit(other).expected_cost
        assert costs[order] == pytest.approx(older)
