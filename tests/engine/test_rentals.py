"""Rental contracts on the path: the engine against the slow reference, and the trade's rules.

Origins of the expected numbers:
    independent   `reference.rentals`, which walks every history again from its start and bills
                  the contracts from the finished list of runs; or worked by hand beside the number
With room for every history the engine is the full tree and is held to 1e-9; with one history the
outcomes that go on are sampled, and it is held to four of its own standard errors.
"""

from __future__ import annotations

import copy
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from raw_jobs import SCENARIO_A, Table, arrays, lump_job, metric, read, scenario, walked
from reference import endings, information, rentals

from econ.engine.choice import choose
from econ.engine.curves import Curves
from econ.engine.expected import Expected, expected
from econ.engine.inputs import Inputs

pytestmark = pytest.mark.usefixtures("few_bins", "few_states")
EXACT = 1e-9
ERRORS = 4.0


def tree(raw: Table) -> Expected:
    """Every limit by the full tree, of one draw a scramble."""
    inputs = Inputs(scenario(raw).in_field_units())
    case = inputs.case(inputs.first(1), inputs.sampler.scrambles)
    return expected(case, choose(case), histories=3 ** len(raw["run"]))


def costs(raw: Table) -> list[float]:
    """Expected cost of each limit by the full tree."""
    by_limit: list[float] = tree(raw).cost.sum(axis=0).mean(axis=1).tolist()
    return by_limit


def days(raw: Table) -> list[float]:
    """Mean elapsed days of each limit where all of its runs have failed."""
    found = tree(raw)
    by_limit: list[float] = (
        found.still_days.sum(axis=(0, 2)) / found.still.sum(axis=(0, 2))
    ).tolist()
    return by_limit


# ---- a job with everything a contract can meet ------------------------------------------------


def job(*contracts: Table) -> Table:
    """Scenario A cut to four runs of several kinds, with time owed first and odds that move."""
    raw = read(SCENARIO_A)
    raw["run"] = raw["run"][:4]
    raw["run"][0]["options"] = ["bumper_sub", "jars"]
    raw["run"][1].update(kind="wash_then_catch", wait=9, wash_length=240, options=["jars"])
    raw["run"][2].update(kind="wall_hook")
    raw["run"][3].update(kind="wash_then_catch", options=["wash_string_spear"])
    raw["fishing"].update(odds_ratio_per_day=0.9, loss_odds_ratio_per_day=1.2)
    raw["common"] = {"hours": 18, "cost": 12_000}
    raw["rental"] = list(contracts)
    return raw


PIPE: Table = {
    "tool": "wash pipe",
    "kinds": ["wash_then_catch"],
    "mobilization": 14_000,
    "minimum_days": 3,
    "day": 3_100,
    "standby_day": 1_700,
    "redress": 4_400,
    "per_foot": 21,
    "replacement": 88_000,
}
JARS: Table = {
    "tool": "jars",
    "options": ["jars"],
    "minimum_days": 1.5,
    "day": 900,
    "standby_day": 350,
    "redress": 1_200,
    "per_foot": 4,
    "replacement": 31_000,
}
EVERY: Table = {"tool": "fishing string", "day": 1_300, "standby_day": 600, "per_foot": 3}

CONTRACTS = {
    "first use": [PIPE],
    "now": [PIPE | {"call_out": 0}],
    "run 1": [PIPE | {"call_out": 1}],
    "its own run": [PIPE | {"call_out": 2}],
    "a run between": [PIPE | {"options": ["wash_string_spear"], "kinds": [], "call_out": 3}],
    "delivery, called with its run": [PIPE | {"delivery": 31}],
    "delivery, called before": [PIPE | {"delivery": 55, "call_out": 1}],
    "delivery, called now": [PIPE | {"delivery": 70, "call_out": 0}],
    "delivery to the first run": [EVERY | {"delivery": 50, "call_out": 0}],
    "held": [PIPE | {"held_days": 2}],
    "held and its minimum owed still": [PIPE | {"held_days": 2.5, "minimum_days": 9}],
    "held for nothing": [PIPE | {"kinds": ["magnet"], "held_days": 1}],
    "held, call-out and delivery past": [PIPE | {"held_days": 0, "call_out": 2, "delivery": 99}],
    "kinds or options": [PIPE | {"options": ["jars"]}],
    "every run": [EVERY],
    "standby dearer than work": [PIPE | {"standby_day": 5_000, "call_out": 1}],
    "two that wait for each other": [
        PIPE | {"delivery": 40, "call_out": 1},
        JARS | {"delivery": 26, "minimum_days": 4},
    ],
    "three": [PIPE | {"call_out": 0}, JARS | {"held_days": 1}, EVERY | {"call_out": 1}],
}


@pytest.mark.parametrize("name", CONTRACTS)
def test_expected_costs_are_those_of_the_reference(name: str) -> None:
    raw = job(*CONTRACTS[name])
    goal = rentals.expected_costs_with_rentals(raw)
    assert costs(raw) == pytest.approx(goal, rel=EXACT)
    # or the contract would be one that costs nothing
    without = rentals.expected_costs_with_rentals(job())
    assert max(np.subtract(goal, without)) > 100


def test_days_with_waiting_are_those_of_the_reference() -> None:
    raw = job(PIPE | {"delivery": 55, "call_out": 1}, JARS | {"delivery": 26})
    filled = endings.plain(raw)
    goal = []
    for limit in range(5):
        ends = rentals.ends(filled, since=rentals.beginning(filled), limit_runs=limit)
        failed = [
            (each.probability, rentals.elapsed(filled, each)) for each in ends if not each.ending
        ]
        goal.append(sum(p * d for p, d in failed) / sum(p for p, _ in failed))
    assert days(raw) == pytest.approx(goal, rel=EXACT)
    assert days(raw)[2] > days(job())[2] + 0.5  # or no run would wait


@pytest.mark.parametrize(
    "name", ["delivery, called before", "three", "held and its minimum owed still"]
)
def test_curves_with_sampled_outcomes_agree_within_their_error(name: str) -> None:
    raw = job(*CONTRACTS[name])
    found = walked(raw, n=512, distributions=False)
    cost = found.cost
    for limit, goal in enumerate(rentals.expected_costs_with_rentals(raw)):
        within(cost[:, limit], goal)
    for place in np.linspace(1, len(found.grid) - 1, 6).astype(int):
        goal = rentals.expected_cost(raw, limit_days=float(found.grid[place]))
        within(found.by_days_cost[:, place], goal)


def within(by_scramble: np.ndarray, goal: float) -> None:
    """Hold a mean to its standard error, which must be small enough to prove something."""
    error = float(by_scramble.std(ddof=1) / len(by_scramble) ** 0.5)
    assert abs(float(by_scramble.mean()) - goal) <= ERRORS * error + EXACT * goal
    assert error < 3e-4 * goal


# ---- jobs and contracts at random -------------------------------------------------------------

OUTCOMES = ("recovered", "part", "nothing", "top_damaged", "string_lost", "hole_lost")
KINDS = ("overshot", "washover", "spear")
OPTIONS = ("jars", "bumper_sub")
money = st.integers(0, 20_000)


@st.composite
def odds_tables(draw: st.DrawFn) -> Table:
    weights = draw(st.lists(st.integers(0, 9), min_size=6, max_size=6).filter(any))
    return {name: w / sum(weights) for name, w in zip(OUTCOMES, weights, strict=True)}


@st.composite
def runs(draw: st.DrawFn) -> Table:
    run: Table = {
        "name": "a run",
        "kind": draw(st.sampled_from(KINDS)),
        "options": draw(st.lists(st.sampled_from(OPTIONS), unique=True)),
        "wait": draw(st.integers(0, 30)),
        "charge": draw(money),
        "part_length": draw(st.integers(0, 300)),
        "string_length": draw(st.integers(0, 900)),
        "string_value": draw(money),
        "dresses_top": draw(st.booleans()),
        "odds": draw(
            st.one_of(
                odds_tables(),
                st.fixed_dictionaries({"workable": odds_tables(), "stubborn": odds_tables()}),
            )
        ),
    }
    if draw(st.booleans()):
        run["hours"] = draw(st.integers(1, 90))
    else:
        run["trips"] = [{"make_up": draw(st.integers(0, 9)), "work": 4}] * draw(st.integers(1, 2))
    if draw(st.booleans()):
        run["wash_length"] = draw(st.integers(0, 400))
    return run


@st.composite
def contracts(draw: st.DrawFn, *, program: list[Table]) -> Table:
    """A contract that serves a run of the program, or is on location."""
    about = draw(st.sampled_from(program))
    contract: Table = {
        "tool": "a tool",
        "kinds": draw(st.sampled_from([[], [about["kind"]], list(KINDS[:2])])),
        "options": draw(st.lists(st.sampled_from(OPTIONS), unique=True)),
        "delivery": draw(st.integers(0, 120)),
        "minimum_days": draw(st.integers(0, 8)),
        **{
            name: draw(money)
            for name in ("mobilization", "day", "standby_day", "redress", "replacement")
        },
        "per_foot": draw(st.integers(0, 90)),
    }
    if draw(st.booleans()):
        contract["held_days"] = draw(st.integers(0, 5))
    elif not any(rentals.serves(contract, run) for run in program):
        contract["kinds"] = [about["kind"]]
    served = [n for n, run in enumerate(program, start=1) if rentals.serves(contract, run)]
    if draw(st.booleans()):
        contract["call_out"] = draw(st.integers(0, served[0] if served else len(program)))
    return contract


@st.composite
def jobs(draw: st.DrawFn) -> Table:
    raw = read(SCENARIO_A)
    program = draw(st.lists(runs(), min_size=1, max_size=3))
    raw["run"] = program
    raw["rental"] = draw(st.lists(contracts(program=program), min_size=1, max_size=3))
    raw["fishing"].update(
        workable=draw(st.sampled_from([0.2, 0.6, 1.0])),
        odds_ratio_per_day=draw(st.sampled_from([0.7, 1.0])),
        loss_odds_ratio_per_day=draw(st.sampled_from([1.0, 1.4])),
        hole_lost_string_share=draw(st.sampled_from([0.0, 0.3, 1.0])),
    )
    raw["common"] = {"hours": draw(st.integers(0, 60)), "cost": draw(money)}
    return raw


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(jobs())
def test_any_contracts_cost_what_the_reference_says(raw: Table) -> None:
    assert costs(raw) == pytest.approx(rentals.expected_costs_with_rentals(raw), rel=EXACT)


# ---- the rules of the trade, one by one -------------------------------------------------------

SURE = {"recovered": 1.0}
NOTHING = {"nothing": 1.0}
# `lump_job` at 1,000 an hour: a run of 24 h costs 24,000, stopping costs 150,000 + 40,000.
STOP = 190_000


def rented(contract: Table, *odds: Table, **more: Any) -> list[float]:
    """Costs by limit of plain runs of 24 h, the second of which is a washover."""
    raw = lump_job(*odds)
    for number, run in enumerate(raw["run"]):
        run["kind"] = "washover" if number == 1 else "overshot"
    raw["rental"] = [{"tool": "tool", **contract}]
    return costs(raw | more)


def test_minimum_days_are_owed_when_the_fish_is_out_on_day_one() -> None:
    # independent: 24 h of run, 2,000 to bring it, 5 days of 700 though it worked one
    terms = {"mobilization": 2_000, "minimum_days": 5, "day": 700, "standby_day": 300}
    assert rented(terms, SURE) == pytest.approx([STOP, 24_000 + 2_000 + 5 * 700], rel=EXACT)
    # after seven days of work the minimum is passed
    seven = rented(terms, *[NOTHING] * 7)
    assert seven[5] == pytest.approx(STOP + 5 * 24_000 + 2_000 + 5 * 700, rel=EXACT)
    assert seven[7] == pytest.approx(STOP + 7 * 24_000 + 2_000 + 7 * 700, rel=EXACT)


def test_the_minimum_is_held_against_work_and_standby_together() -> None:
    # independent: called now, run 1 of a day without it at 400, run 2 of a day with it at 1,000;
    # a minimum of 2 days at 1,000 is owed after either, 3 x 1,000 is more than 400 + 1,000 + 400
    terms = {"kinds": ["washover"], "call_out": 0, "day": 1_000, "standby_day": 400}
    found = rented(terms | {"minimum_days": 2}, *[NOTHING] * 3)
    bills = [0, 2_000, 2_000, 2_000]
    assert found == pytest.approx([STOP + 24_000 * n + b for n, b in enumerate(bills)], rel=EXACT)
    found = rented(terms | {"minimum_days": 1}, *[NOTHING] * 3)
    bills = [0, 1_000, 1_400, 1_800]
    assert found == pytest.approx([STOP + 24_000 * n + b for n, b in enumerate(bills)], rel=EXACT)


def test_it_stands_by_while_other_runs_are_in_the_hole() -> None:
    # independent: called with run 2, works a day at 900, then stands by for runs 3 and 4 at 250
    found = rented({"kinds": ["washover"], "day": 900, "standby_day": 250}, *[NOTHING] * 4)
    bills = [0, 0, 900, 900 + 250, 900 + 2 * 250]
    assert found == pytest.approx([STOP + 24_000 * n + b for n, b in enumerate(bills)], rel=EXACT)


def test_redress_and_length_washed_are_owed_for_each_run_that_it_serves() -> None:
    raw = lump_job(*[NOTHING] * 3, part_length=100)
    raw["run"][1]["wash_length"] = 30
    raw["rental"] = [{"tool": "tool", "redress": 500, "per_foot": 7}]
    # independent: 500 a run, and 7 for each foot of 100, 30 and 100
    bills = [0, 1_200, 1_200 + 710, 1_200 + 710 + 1_200]
    assert costs(raw) == pytest.approx(
        [STOP + 24_000 * n + b for n, b in enumerate(bills)], rel=EXACT
    )


def test_a_late_call_lets_the_rig_wait_and_an_early_one_lets_the_tool_wait() -> None:
    late = {"kinds": ["washover"], "delivery": 30, "day": 2_400, "standby_day": 240}
    # independent: run 2 waits 30 h at 1,000 and works 54 h at 100
    two = rented(late, *[NOTHING] * 2)
    assert two == pytest.approx([STOP, STOP + 24_000, STOP + 48_000 + 30_000 + 54 * 100], rel=EXACT)
    # called with run 1, 6 h of the 30 are left: run 2 takes 30 h; it stood by 24 h at 10
    early = rented(late | {"call_out": 1}, *[NOTHING] * 2)
    assert early == pytest.approx(
        [STOP, STOP + 24_000 + 240, STOP + 48_000 + 6_000 + 240 + 30 * 100], rel=EXACT
    )
    # called now, with 12 h owed on every branch before run 1: no wait, it stood by 36 h
    now = rented(late | {"call_out": 0}, *[NOTHING] * 2, common={"hours": 12})
    stop = STOP + 12_000
    assert now == pytest.approx(
        [stop, stop + 24_000 + 360, stop + 48_000 + 360 + 24 * 100], rel=EXACT
    )


def test_the_wait_of_a_run_hides_delivery() -> None:
    raw = lump_job(NOTHING, wait=20)
    for delivery, hours in ((0, 44), (15, 44), (20, 44), (33, 57)):
        raw["rental"] = [{"tool": "tool", "delivery": delivery}]
        # independent: max(20, delivery) and 24 h at 1,000
        assert costs(raw)[1] == pytest.approx(STOP + 1_000 * hours, rel=EXACT)
        assert days(raw)[1] == pytest.approx(hours / 24, rel=EXACT)


def test_a_tool_on_location_is_owed_for_on_every_branch() -> None:
    terms = {"held_days": 3, "minimum_days": 5, "day": 1_000, "standby_day": 600, "mobilization": 9}
    # independent: two days of the minimum are left, though fishing stops at once
    found = rented(terms, *[NOTHING] * 3)
    bills = [2_000, 2_000, 2_000, 3_000]
    assert found == pytest.approx([STOP + 24_000 * n + b for n, b in enumerate(bills)], rel=EXACT)
    # its minimum over, it stands by for the hours owed first: 12 h at 600 a day
    over = rented(terms | {"held_days": 6}, NOTHING, common={"hours": 12})
    assert over == pytest.approx([STOP + 12_000 + 300, STOP + 36_000 + 300 + 1_000], rel=EXACT)


@pytest.mark.parametrize(
    ("outcome", "owed"),
    # independent: 9,000 for the tool and 1,000 for the string, all of it or 0.3 by default
    [("string_lost", 10_000), ("hole_lost", 0.3 * 10_000), ("nothing", 0)],
)
def test_a_tool_lost_with_the_string_is_replaced(outcome: str, owed: float) -> None:
    raw = lump_job({outcome: 1.0}, string_value=1_000)
    raw["rental"] = [{"tool": "tool", "replacement": 9_000}]
    assert costs(raw)[1] == pytest.approx(STOP + 24_000 + owed, rel=EXACT)


# ---- what must not change ---------------------------------------------------------------------


def same(one: Curves, other: Curves) -> bool:
    """Whether two walks are the same to the last bit."""
    there = arrays(other)
    return all(
        np.array_equal(values, there[name], equal_nan=True) for name, values in arrays(one).items()
    )


def test_no_contract_changes_no_bit() -> None:
    raw = job()
    bare = copy.deepcopy(raw)
    del bare["rental"]
    assert same(walked(raw, n=16), walked(bare, n=16))
    # and a tool that costs nothing and is there changes nothing either
    free = job({"tool": "free"}, {"tool": "free", "call_out": 0}, {"tool": "ours", "held_days": 2})
    assert same(walked(free, n=16), walked(bare, n=16))
    assert not same(walked(job(JARS), n=16), walked(bare, n=16))


def test_terms_may_be_ranges() -> None:
    raw = job(
        PIPE
        | {
            "call_out": 1,
            "day": {"values": [2_000, 4_500], "weights": [1, 3]},
            "standby_day": {"values": [500, 2_600], "weights": [1, 1]},
        }
    )
    raw["run"] = raw["run"][:3]
    goal = information.costs_by_limit(information.all_cases(raw))
    cost = walked(raw, n=1024, distributions=False).cost
    for limit, mean in enumerate(goal):
        within(cost[:, limit], mean)
    # what is paid in proportion comes to the same as at its mean
    ranges = {
        "mobilization": {"low": 8_000, "high": 20_000},
        "redress": {"low": 4_000, "likely": 4_400, "high": 4_800},
        "per_foot": {"low": 12, "high": 30},
        "replacement": {"low": 80_000, "high": 96_000},
    }
    cost = walked(job(PIPE | ranges), n=1024, distributions=False).cost
    for limit, mean in enumerate(rentals.expected_costs_with_rentals(job(PIPE))):
        within(cost[:, limit], mean)


def test_a_metric_file_with_contracts_agrees() -> None:
    raw = job(PIPE | {"call_out": 1}, JARS, EVERY | {"held_days": 1})
    other = metric(raw) | {"units": "metric"}
    other["well"]["hole_diameter"] = 8.5 * 25.4
    assert costs(other) == pytest.approx(costs(raw), rel=EXACT)
