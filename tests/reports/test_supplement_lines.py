"""The lines of the AFE supplement: what they sum to, without any sheet around them.

Origins of the expected numbers:
    published     notes of scenario A (an invented well), to the printed digit
    independent   the outcome tree of tests/reference, which shares no code with the package; the
                  program's answer, whose stages are read from other sums
    self          none
"""

from __future__ import annotations

import math
from typing import Any

import pytest
from raw_jobs import SCENARIO_A, Table, read
from reference import outcome_tree
from supplement_jobs import FEW, answered, for_tree, random_job, scenario_a

from econ.decision import Answer, answer
from econ.reports.supplement import Supplement, supplement
from econ.scenario import load
from econ.scenario.run_log import parse_log, read_log

pytestmark = pytest.mark.usefixtures("few_bins", "few_states")
CENT = 0.005
SAMPLED = 40.0  # [currency] what 16 x 256 draws of scenario A leave uncertain, five errors
SCENARIOS = SCENARIO_A.parents[2] / "scenarios"


@pytest.fixture(scope="module")
def a() -> Supplement:
    raw = scenario_a()
    raw["draws"] = {**FEW, "n": 256}
    return supplement(answered(raw))


def demo(file: str, log: str | None) -> Answer:
    scenario = load(SCENARIOS / f"{file}.toml", ("draws.n=32",))
    made = () if log is None else read_log(SCENARIOS / "logs" / f"{log}.csv", scenario)
    return answer(scenario, made)


def logged(outcome: str) -> Answer:
    scenario = load(SCENARIO_A, ("draws.n=16",))
    row = f"1,2026-03-14T06:00,2026-03-15T10:00,{outcome},80000"
    return answer(scenario, parse_log(f"run,start,end,outcome,cost\n{row}\n", scenario))


def kept(key: str) -> Table:
    """The first fallback of the random jobs that has a key."""
    return next(one for seed in range(30) for one in random_job(seed)["fallback"] if key in one)


def every_feature() -> Table:
    """Common hours and costs as ranges, rentals, a whipstock, value given up, several fallbacks,
    odds that move with time."""
    raw = random_job(3, ranges=True)
    raw["fishing"] |= {"odds_ratio_per_day": 0.9, "loss_odds_ratio_per_day": 1.2}
    raw["common"] = {"hours": {"low": 8, "high": 16}, "cost": 5_000}
    raw["recovery"]["hours"] = {"low": 10, "likely": 20, "high": 60}
    raw["rental"] = [
        {
            "tool": "jars",
            "mobilization": 9_000,
            "minimum_days": 4,
            "day": 1_200,
            "redress": 800,
            "standby_day": 500,
            "replacement": 60_000,
            "delivery": 9,
        },
        {"tool": "pipe", "held_days": 2, "minimum_days": 9, "day": 700},
    ]
    sidetrack, lump = kept("woc"), kept("value_given_up")
    sidetrack["whipstock"] = {"after": 2, "hours": 30, "cost": 80_000, "failure": 0.2}
    other = {**lump, "name": "Abandon", "kind": "abandon", "value_given_up": 9e5, "cost": 20_000}
    raw["fallback"] = [sidetrack, {**lump, "value_given_up": 50_000}, other]
    return raw


JOBS = {
    "a": lambda: demo("a_land_twist_off", None),
    "a after two runs": lambda: demo("a_land_twist_off", "a_two_runs"),
    "b": lambda: demo("b_offshore_sealed_sources", None),
    "c": lambda: demo("c_bit_cones", None),
    "d": lambda: demo("d_rented_tools", None),
    "d after three runs": lambda: demo("d_rented_tools", "d_three_runs"),
    "every feature": lambda: answered(every_feature()),
    **{
        outcome: lambda outcome=outcome: logged(outcome)
        for outcome in ("recovered", "string_lost", "hole_lost", "top_damaged")
    },
    **{f"random {seed}": lambda seed=seed: answered(random_job(seed)) for seed in range(8)},
    **{
        f"ranges {seed}": lambda seed=seed: answered(random_job(seed, ranges=True))
        for seed in range(20, 26)
    },
}


@pytest.mark.parametrize("name", JOBS)
def test_lines_sum_to_the_answer(name: str) -> None:
    # independent: both stages as the answer gives them in `authority`, and its cost breakdown
    found = supplement(JOBS[name]())
    answer, parts, stage = found.answer, found.estimate, found.stages
    first, second = answer.authority.stage_1, answer.authority.stage_2
    assert parts.planned.number == pytest.approx(first.planned, abs=CENT)
    by_slice: dict[Any, list[float]] = {}
    for line in parts.lines:
        if line.expected is not None:
            by_slice.setdefault(line.slice.value, []).append(line.expected.amount.number)
    sums = {key: math.fsum(amounts) for key, amounts in by_slice.items()}
    fishing = sums.get("fishing", 0.0) + sums.get("recovery", 0.0)
    assert fishing == pytest.approx(first.mean, abs=CENT)
    spent = second.probability * second.mean
    assert sums.get("fallback", 0.0) == pytest.approx(spent, abs=CENT)
    ledger = {line.name: line.expected for line in answer.breakdown.lines}
    assert sums.get("compared", 0.0) == pytest.approx(ledger["value_given_up"], abs=CENT)
    assert sums.get("recovery", 0.0) == pytest.approx(ledger["recovery"], abs=CENT)
    # what is asked for, shown and shared
    assert stage["mean"].number == pytest.approx(first.mean, abs=CENT)
    assert stage["spending"].number == pytest.approx(second.mean, abs=CENT)
    assert stage["need"].number == second.probability
    total = answer.limit.expected_cost - ledger["value_given_up"]
    assert stage["expected_call"].number == pytest.approx(total, abs=CENT)
    assert found.costs.total["trouble"].number == pytest.approx(total, abs=CENT)
    said = {item.words: item.cell for item in found.header}
    waiting = said["Spread while a vote is waited for"].number
    assert waiting == pytest.approx(answer.authority.waiting_cost, abs=CENT)
    # every line is quantity x price, and no price is far from the stated one
    for line in parts.lines:
        for product in (line.planned, line.expected):
            if product is not None:
                by_hand = product.quantity.number * product.price.number
                assert product.amount.number == pytest.approx(by_hand, rel=1e-12)
                if not any(share in line.words for share in ("Rentals", "String", "Fish left")):
                    assert product.price.number == pytest.approx(line.stated.number, rel=0.2)


@pytest.mark.parametrize("seed", range(8))
def test_single_numbers_need_no_other_price(seed: int) -> None:
    # independent: without a range the price used is the stated one
    assert not any(line.differs() for line in supplement(answered(random_job(seed))).estimate.lines)


@pytest.mark.parametrize("seed", range(6))
def test_expected_days_are_those_of_the_tree(seed: int) -> None:
    # independent: in the outcome tree, what 1 more a day of spread adds is the days of the job
    raw = random_job(seed, plain=True)
    raw["fallback"] = [one for one in raw["fallback"] if "woc" in one] or raw["fallback"][:1]
    found = supplement(answered(raw))
    dearer = for_tree(raw)
    dearer["rates"]["rig"] += 1.0
    runs = found.answer.best
    before, after = (outcome_tree.by_runs(job)[runs] for job in (for_tree(raw), dearer))
    days = sum(
        line.expected.quantity.number
        for line in found.estimate.lines
        if line.expected is not None
        and line.unit == "d"
        and line.code.value in ("FS10", "FS50", "FS80", "ST10", "ST80")
        and "fishing services" not in line.words
    )
    assert days == pytest.approx(after.expected_cost - before.expected_cost, abs=1e-6)


def test_build_up_of_scenario_a(a: Supplement) -> None:
    # published: work after recovery 122,325; totals of the AFE table; sampled outcomes leave some
    # dollars
    lines = [line for line in a.estimate.lines if line.slice.value == "recovery"]
    cost = sum(line.expected.amount.number for line in lines if line.expected is not None)
    out = a.answer.limit.probability_recovered
    assert cost / out == pytest.approx(122_325, abs=0.51)
    total = {name: cell.number for name, cell in a.costs.total.items()}
    assert (total["original"], total["approved"], total["spent"]) == (4.27e6, 4.27e6, 2.73e6)
    assert total["to_come"] + total["trouble"] == pytest.approx(1_789_510, abs=SAMPLED)
    assert total["revised"] == pytest.approx(4_519_510, abs=SAMPLED)
    assert total["change"] == pytest.approx(249_510, abs=SAMPLED)
    assert a.costs.percent.number == pytest.approx(0.058, abs=0.0005)
    assert a.costs.trouble["fishing"].number == pytest.approx(259_215, abs=SAMPLED)
    assert a.costs.trouble["fallback"].number == pytest.approx(240_295, abs=SAMPLED)
    assert a.stages["need"].number == pytest.approx(0.310, abs=0.0005)
    assert a.stages["spending"].number == pytest.approx(774_315, abs=100)
    assert a.costs.released.number == 250_000
    changes = {line.ours: line.amounts["change"].number for line in a.costs.lines}
    assert changes["CT10"] == -250_000
    assert all(change == 0 for code, change in changes.items() if code[:2] in ("RT", "LA", "TG"))


def test_trigger_of_scenario_a(a: Supplement) -> None:
    # published: 5.8 % over, under the 10 % that is common practice
    assert a.costs.triggered.value == "within the trigger"
    raw = scenario_a()
    raw["afe"] = {**raw["afe"], "trigger_percent": 5}
    assert supplement(answered(raw)).costs.triggered.value == "over the trigger"
    raw["afe"] = {**raw["afe"], "trigger_percent": 10, "trigger_basis": "line"}
    assert supplement(answered(raw)).costs.triggered.value == "over the trigger"  # new lines


def test_depreciation_has_a_floor() -> None:
    # published: daywork forms cap what is owed at the depreciated value; by hand 400,000 new, 70 %
    # written off, at least a half
    raw = random_job(7)
    raw["fallback"] = [{**kept("woc"), "lost_in_hole_share": 1.0}]
    found = supplement(answered(raw))
    (fish,) = [line for line in found.estimate.lines if line.code.value == "LH20"]
    assert fish.stated.number == raw["fish"]["piece"][0]["value"] + 200_000


def test_the_demo_of_scenario_a_has_three_partners() -> None:
    # independent: the tests of the sheets lean on it
    assert [one["interest"] for one in scenario_a()["partner"]] == [0.625, 0.25, 0.125]
    assert read(SCENARIO_A)["rates"] == {"rig": 53_000}
