"""Hold the references of the run log and of the worth of knowledge to published numbers.

Origins of the expected numbers:
    published     the published answers of scenario A, and textbook problems, named beside them
    independent   worked by hand, by numerical integration, or by another of the slow references
A decision problem of a textbook is put as a fishing job: a run that costs c and is sure to recover
a workable fish and to leave a stubborn one, against a fallback of F, gains F - c or loses c.
"""

import copy
import tomllib
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy import stats
from scipy.integrate import quad

from . import endings, information, job, outcome_tree, rentals, run_log
from .information import worth_of_input, worth_of_kind, worth_of_reading
from .job import OUTCOMES, Table
from .test_new_references import EVEN, NOTHING, PIPE, by_hand, three_runs

SCENARIO_A = Path(__file__).parents[1] / "data" / "scenario_a_check.toml"
HALF_A_DOLLAR = 0.51
DECIDED = datetime(2026, 3, 14, 6)


@pytest.fixture
def scenario_a() -> Table:
    with SCENARIO_A.open("rb") as file:
        return tomllib.load(file)


def row(number: int, outcome: str, *, start: float, end: float, **more: Any) -> Table:
    """Return a row of a log, times in days since the decision."""
    times = {"start": start, "end": end}
    moments = {key: (DECIDED + timedelta(days=t)).isoformat() for key, t in times.items()}
    return {"run": number, "outcome": outcome, **moments, **more}


# ---- run log ----------------------------------------------------------------------------------


def test_belief_path_of_scenario_a(scenario_a: Table) -> None:
    rows = [row(n, "nothing", start=n, end=n + 0.9) for n in range(1, 6)]
    path = run_log.belief_path(scenario_a, rows)
    # published: belief before each run in the steps table
    assert path[:5] == pytest.approx([0.70, 0.42, 0.20, 0.10, 0.04], abs=0.0051)
    # independent: Bayes by hand, 0.7 x 0.22 x 0.26 : 0.3 x 0.72 x 0.73 after two
    assert path[2] == pytest.approx(0.04004 / (0.04004 + 0.15768))
    # independent: the older reference, run by run
    older = [each.workable_after_nothing for each in outcome_tree.nothing_path(scenario_a)]
    assert path[1:] == pytest.approx(older)
    odds = run_log.next_odds(scenario_a, rows[:2])
    assert odds is not None
    # published: odds of run 3 on that path
    assert odds["recovered"] == pytest.approx(0.173, abs=0.00051)
    assert run_log.next_odds(scenario_a, rows) is None


def test_bayes_rule_of_the_textbook_by_a_log() -> None:
    # published (a course solution): P(O) .3, P(+|O) .9, P(+|not O) .3;
    # then P(O|+) .5625, P(not O|-) .9423
    odds = {
        "workable": {"nothing": 0.9, "part": 0.1},
        "stubborn": {"nothing": 0.3, "part": 0.7},
    }
    scenario = by_hand({"hours": 24, "odds": odds}, fishing={"workable": 0.3})
    for outcome, belief in (("nothing", 0.5625), ("part", 1 - 0.9423)):
        path = run_log.belief_path(scenario, [row(1, outcome, start=0, end=1)])
        assert path == pytest.approx([0.3, belief], abs=0.00005)


def by_kind(workable: Table, stubborn: Table, **more: Any) -> Table:
    return {"hours": 24, "odds": {"workable": workable, "stubborn": stubborn}, **more}


@pytest.mark.parametrize(
    ("dresses", "start", "expected"),
    [
        # 1 : 1 halves in a day to 1 : 2; 0.6 of the third is 0.2, so nothing 0.8 against 1
        (False, 1.0, 0.8 / 1.8),
        (False, 2.0, 0.88 / 1.88),  # 1 : 4, 0.6 of a fifth
        (True, 1.0, (2 / 3) / (5 / 3)),  # a dressing run is not cut
    ],
)
def test_odds_of_the_log_are_those_before_the_row(
    dresses: bool, start: float, expected: float
) -> None:
    damage = {"top_damaged": 1.0}
    runs = (by_kind(damage, damage), by_kind(EVEN, NOTHING, dresses_top=dresses))
    fishing = {"workable": 0.5, "odds_ratio_per_day": 0.5}
    scenario = by_hand(*runs, fishing=fishing, job={"decided_at": DECIDED})
    rows = [row(1, "top_damaged", start=0, end=0.8), row(2, "nothing", start=start, end=start + 1)]
    path = run_log.belief_path(scenario, rows)
    assert path == pytest.approx([0.5, 0.5, expected])
    assert run_log.state(scenario, rows[:1]).damaged
    assert run_log.state(scenario, rows).damaged is not dresses


def test_fish_top_of_the_log_by_hand() -> None:
    part = {"part": 1.0}
    runs = [{"hours": 24, "part_length": 100, "odds": part} for _ in range(2)]
    scenario = by_hand(*runs, common={"hours": 24}, job={"decided_at": DECIDED})
    scenario["fishing"]["mobilization"] = 5_000
    # 100 of 400 ft are out by length: 150,000 + 30,000; then 24,000 and 20,000 of fish left
    rows = [row(1, "part", start=1, end=2)]
    assert run_log.expected_costs_from_now(scenario, rows) == pytest.approx([180_000, 194_000])
    # measured at 9,800: 20,000 left, then 10,000
    rows = [row(1, "part", start=1, end=2, fish_top="9800")]
    assert run_log.state(scenario, rows).fish_top == 9_800
    assert run_log.expected_costs_from_now(scenario, rows) == pytest.approx([170_000, 184_000])
    # nothing logged yet: `common` 24,000 and mobilization are still to be paid
    costs = run_log.expected_costs_from_now(scenario, [])
    assert costs == pytest.approx(rentals.expected_costs_with_rentals(scenario))
    assert costs == pytest.approx([214_000, 24_000 + 5_000 + 24_000 + 180_000, 247_000])


def test_contracts_after_a_log_by_hand() -> None:
    scenario = three_runs(call_out=1) | {"job": {"decided_at": DECIDED}}
    # called at 0.5 d; the run took until 2.0 d: 500 + 400 x 1.5 so far, of a minimum of 1,000
    rows = [row(1, "nothing", start=0.5, end=2.0)]
    assert run_log.rentals_spent(scenario, rows) == pytest.approx(1_100)
    # stop now: 400 of the minimum are left. Run 2 ends at 3.5 d: 500 + 1,500 + 400 x 1.5 + 290;
    # run 3 at 4.0 d: 400 x 0.5 more
    still = [1_500 - 1_100, 2_890 - 1_100, 3_090 - 1_100]
    runs = [0, 36_000, 48_000]
    expected = [190_000 + run + bill for run, bill in zip(runs, still, strict=True)]
    assert run_log.expected_costs_from_now(scenario, rows) == pytest.approx(expected)
    # run 2 first, then a day until run 1: on the same contract, called at the start of run 2
    scenario["rental"] = [{**PIPE, "standby_day": 2_000}]
    rows = [row(2, "nothing", start=0, end=1), row(1, "nothing", start=2, end=3)]
    assert run_log.rentals_spent(scenario, rows) == pytest.approx(500 + 1_000 + 2 * 2_000 + 290)
    assert run_log.expected_costs_from_now(scenario, rows) == pytest.approx(
        [190_000, 190_000 + 12_000 + 0.5 * 2_000]
    )


def everything_at_work(scenario: Table) -> Table:
    """Return scenario A cut to three runs, with every rule of the references in it."""
    other = copy.deepcopy(scenario)
    other["run"] = other["run"][:3]
    other["run"][1]["kind"] = "wash_then_catch"
    other["fishing"] |= {"odds_ratio_per_day": 0.85, "loss_odds_ratio_per_day": 1.3}
    other["common"] = {"hours": 18, "cost": 12_000}
    other["fallback"][0]["whipstock"] = {"after": 2, "hours": 30, "cost": 40_000, "failure": 0.2}
    past = {"kind": "drill_past", "hours": 200, "cost": 250_000}
    other["fallback"].append(past | {"trouble": {"chance": 0.2, "cost": 50_000}})
    pipe = {"kinds": ["wash_then_catch"], "call_out": 1, "delivery": 60}
    held = {"tool": "jars", "held_days": 1.5, "minimum_days": 4, "day": 900, "standby_day": 300}
    other["rental"] = [PIPE | pipe, held]
    return other


def test_log_of_the_first_run_leaves_the_rest_of_the_tree(scenario_a: Table) -> None:
    raw = everything_at_work(scenario_a)
    scenario = endings.plain(raw)
    limits = range(1, 4)
    totals = dict.fromkeys(limits, 0.0)
    rule = 0.0
    for outcome in OUTCOMES:
        history = rentals.walk(scenario, (outcome,), since=rentals.beginning(scenario))
        made = history.made[0]
        rows = [row(1, outcome, start=made.start, end=made.end)]
        spent = rentals.fishing_cost(scenario, history)
        # What is owed of minimum days, and the work after recovery, are still to come in the log.
        spent -= sum(
            rentals.bill(scenario, contract, made=history.made)
            - rentals.spent_so_far(scenario, contract, made=history.made)
            for contract in scenario["rental"]
        )
        if outcome == "recovered":
            spent -= job.recovery_cost(scenario)
        from_now = run_log.expected_costs_from_now(raw, rows)
        assert len(from_now) == (3 if outcome in outcome_tree.GOES_ON else 1)
        for n in limits:
            later = from_now[min(n, len(from_now)) - 1]
            totals[n] += history.probability * (spent + later)
        rule += history.probability * (spent + run_log.best_rule_from_now(raw, rows))
    # independent: the mean over the outcomes of the first run is the tree from the start
    costs = rentals.expected_costs_with_rentals(raw)
    assert list(totals.values()) == pytest.approx(costs[1:])
    best = rentals.best_rule_cost(scenario, since=rentals.beginning(scenario))
    assert min(rule, costs[0]) == pytest.approx(best)


def test_rows_find_their_run_and_faults_are_named() -> None:
    kinds = ("overshot", "washover", "overshot")
    scenario = by_hand(*({"kind": kind, "hours": 1, "odds": NOTHING} for kind in kinds))
    times = {"start": "2026-03-14T06:00", "end": "2026-03-14T18:00", "outcome": "nothing"}
    rows = [{"kind": "overshot", **times}, {"run": "", "kind": "overshot", **times}]
    read = run_log.read(scenario, rows)
    assert [(each.number, each.start, each.end) for each in read] == [(1, 0, 0.5), (3, 0, 0.5)]
    scenario["job"] = {"decided_at": DECIDED.date()}  # a day begins at midnight
    assert run_log.read(scenario, rows)[0].start == 0.25
    for last, message in [
        ({"run": 2, "kind": "overshot"}, "run 2 is of kind 'washover', not 'overshot'"),
        ({"run": 4}, "no run 4"),
        ({"kind": "overshot"}, "no run of kind 'overshot' that is not in the log yet"),
        ({"run": 1}, "run 1 is in the log twice"),
        ({"run": 2, "outcome": "lost"}, "'lost' is no outcome"),
    ]:
        with pytest.raises(ValueError, match=message):
            run_log.read(scenario, [*rows, {**times, **last}])
    with pytest.raises(ValueError, match="the job ended before run 2"):
        run_log.read(scenario, [{"run": 1, **times, "outcome": "recovered"}, {"run": 2, **times}])
    with pytest.raises(ValueError, match="cannot come about"):
        run_log.state(scenario, [{"run": 1, **times, "outcome": "part"}])


@pytest.mark.parametrize("dressed", [False, True])
def test_plays_of_the_log_agree_with_the_product_of_odds(scenario_a: Table, dressed: bool) -> None:
    raw = everything_at_work(scenario_a)
    rows = [row(1, "top_damaged", start=1, end=3), row(3, "nothing", start=3.5, end=5)]
    if dressed:
        rows.insert(1, row(2, "nothing", start=3.1, end=3.4))
    kept = run_log.play(raw, rows, n=300_000, rng=np.random.default_rng(5))
    assert kept.plays > 5_000
    # independent: the exact belief and chance of the log
    exact = run_log.belief_path(raw, rows)[-1]
    assert abs(kept.workable - exact) < 4 * kept.standard_error
    seen = run_log.walk_log(endings.plain(raw), run_log.read(raw, rows))[-1].probability
    assert kept.chance == pytest.approx(seen, abs=4 * (seen / 300_000) ** 0.5)


def test_plays_with_uncertain_odds_agree_with_integration() -> None:
    workable = {"recovered": 0.6, "nothing": 0.3, "string_lost": 0.1, "weight": 4}
    stubborn = {"recovered": 0.1, "nothing": 0.8, "string_lost": 0.1, "weight": 10}
    fishing = {
        "workable": {"mean": 0.7, "weight": 8},
        "odds_ratio_per_day": 0.4,
        "loss_odds_ratio_per_day": 2.5,
    }
    scenario = by_hand(by_kind(workable, stubborn), fishing=fishing, job={"decided_at": DECIDED})

    def chance_of_nothing(table: Table) -> float:
        p, weight = table["recovered"], table["weight"]

        def given(recovered: float) -> float:
            left = (1 - recovered) / (1 - p)
            nothing, loss = left * table["nothing"], left * table["string_lost"]
            grown = loss * 2.5**2 / (1 - loss + loss * 2.5**2)
            taken = min(grown - loss, nothing)  # no part and no damaged top to give the rest
            total = 1 + (grown - loss - taken)
            nothing, recovered = (nothing - taken) / total, recovered / total
            later = recovered * 0.4**2 / (1 - recovered + recovered * 0.4**2)
            return nothing + recovered - later

        density = stats.beta(p * weight, (1 - p) * weight).pdf
        return float(quad(lambda r: given(r) * density(r), 0, 1, limit=200)[0])

    # independent: two days after the decision, averaged over the Beta odds; the mean prior is 0.7
    w, s = 0.7 * chance_of_nothing(workable), 0.3 * chance_of_nothing(stubborn)
    rows = [row(1, "nothing", start=2, end=3)]
    kept = run_log.play(scenario, rows, n=400_000, rng=np.random.default_rng(9))
    assert abs(kept.workable - w / (w + s)) < 4 * kept.standard_error
    assert kept.chance == pytest.approx(w + s, abs=4 * 0.5 / 400_000**0.5)
    # the plain odds are not within reach of it, so the integral is what is tested
    plain = copy.deepcopy(scenario)
    plain["fishing"]["workable"] = 0.7
    for table in plain["run"][0]["odds"].values():
        del table["weight"]
    fixed = run_log.belief_path(plain, rows)[-1]
    assert abs(kept.workable - fixed) > 8 * kept.standard_error


# ---- worth of knowledge -----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("reliability", "worth"),
    [(1.0, 66_269), (0.8, 18_575), (0.9, 29_510), (0.5, 0)],  # published; a coin is worth nothing
)
def test_worth_of_a_reading_in_scenario_a(
    scenario_a: Table, reliability: float, worth: float
) -> None:
    found = worth_of_reading(scenario_a, reliability=reliability)
    assert found == pytest.approx(worth, abs=HALF_A_DOLLAR)
    if reliability == 1.0:
        assert worth_of_kind(scenario_a) == found
        # independent: the older rule by state, which follows the belief by Bayes' rule
        sure = [information.with_prior(scenario_a, p) for p in (0.7, 1.0, 0.0)]
        prior, good, bad = (outcome_tree.best_rule(each)[()].expected_cost for each in sure)
        assert found == pytest.approx(prior - 0.7 * good - 0.3 * bad)


def test_price_of_a_reading(scenario_a: Table) -> None:
    # published: waiting costs 2,517 an hour with fishing services; 9 h of it and 5,000
    price = information.price_of_reading(scenario_a, {"hours": 9, "cost": 5_000})
    assert price == pytest.approx(9 * 2_517 + 5_000, abs=9 * 0.51)


def gamble(*, workable: float, cost: float, fallback: float) -> Table:
    """Return a textbook decision as a job: run at `cost` [currency], or `fallback` [currency]."""
    run = by_kind({"recovered": 1.0}, NOTHING, charge=cost) | {"hours": 0}
    scenario = by_hand(run, fishing={"workable": workable})
    scenario["fish"]["piece"] = []
    scenario["fallback"] = [{"name": "stop", "hours": 0, "cost": fallback}]
    return scenario


def test_wildcatter() -> None:
    # published (Samuelson & Marks, Managerial Economics, ch. 13): +600 or -200 at P = .4. A perfect
    # test is worth 120; one with P(good) .5, P(wet|good) .6, P(wet|bad) .2 is worth 20.
    as_job = gamble(workable=0.4, cost=200, fallback=800)
    assert worth_of_kind(as_job) == pytest.approx(120)
    # P(good|wet) = .3/.4, P(bad|dry) = .4/.6
    assert worth_of_reading(as_job, reliability=0.75, reliability_stubborn=2 / 3) == pytest.approx(
        20
    )
    payoffs = [[600.0, -200.0], [0.0, 0.0]]
    assert information.worth_of_state([0.4, 0.6], payoffs) == pytest.approx(120)
    test = [[0.75, 0.25], [1 / 3, 2 / 3]]
    assert information.worth_of_test([0.4, 0.6], payoffs, test) == pytest.approx(20)
    # published: good-wet .1, good-dry .1, bad-wet .3, bad-dry .5 changes no action: exactly 0
    useless = {"reliability": 0.1 / 0.4, "reliability_stubborn": 0.5 / 0.6}
    assert worth_of_reading(as_job, **useless) == pytest.approx(0, abs=1e-9)


def test_drill_or_sell() -> None:
    # published (Hillier & Lieberman, decision-analysis chapter; answers from memory, recomputed):
    # 700 or -100 at P = .25 against a sale of 90. Best 100, perfect information 142.5, a survey
    # with P(fav) .3, P(oil|fav) .5, P(oil|unf) 1/7 worth 53, with it 123 net of its 30.
    payoffs = [[700.0, -100.0], [90.0, 90.0]]
    survey = [[0.6, 0.4], [0.2, 0.8]]  # P(fav|oil) = .3 x .5 / .25
    best = information.best_mean([0.25, 0.75], payoffs)
    worth = information.worth_of_test([0.25, 0.75], payoffs, survey)
    assert (best, worth, best + worth - 30) == pytest.approx((100, 53, 123))
    assert information.worth_of_state([0.25, 0.75], payoffs) == pytest.approx(142.5)
    # as a job: 610 better than the sale, or 190 worse
    as_job = gamble(workable=0.25, cost=190, fallback=800)
    assert worth_of_kind(as_job) == pytest.approx(142.5)
    found = worth_of_reading(as_job, reliability=0.6, reliability_stubborn=0.8)
    assert found == pytest.approx(53)


def test_drill_or_not_with_two_uncertain_inputs() -> None:
    # published (user guide of a general statistics system, decision-tree chapter; 155 and -13.58
    # printed, the rest recomputed): EV 140, deposit 155, cost 10, sounding 40.1
    costs, chances_of_cost = [150.0, 300.0, 500.0], [0.2, 0.6, 0.2]
    deposits, chances = [0.0, 700.0, 1_200.0], [0.5, 0.3, 0.2]
    as_job = gamble(workable=1.0, cost=0, fallback=0)
    as_job["run"][0]["charge"] = {"values": costs, "weights": [1, 3, 1]}
    as_job["fallback"][0]["cost"] = {"values": deposits, "weights": chances}
    stop, drill = information.costs_by_limit(information.all_cases(as_job))
    assert stop - drill == pytest.approx(140)
    assert worth_of_input(as_job, "fallback.1.cost") == pytest.approx(155)
    assert worth_of_input(as_job, "run.1.charge") == pytest.approx(10)

    mean_cost = information.mean(chances_of_cost, costs)
    payoffs = [[deposit - mean_cost for deposit in deposits], [0.0, 0.0, 0.0]]
    assert information.worth_of_state(chances, payoffs) == pytest.approx(155)
    sounding = [[0.6, 0.3, 0.1], [0.3, 0.4, 0.3], [0.1, 0.4, 0.5]]
    worth = information.worth_of_test(chances, payoffs, sounding)
    assert worth == pytest.approx(40.1, abs=0.05)
    ends = [
        (p * q, x - c)
        for p, x in zip(chances, deposits, strict=True)
        for q, c in zip(chances_of_cost, costs, strict=True)
    ]
    sure = information.certainty_equivalent(
        [p for p, _ in ends], [x for _, x in ends], risk_tolerance=700
    )
    assert sure == pytest.approx(-13.58, abs=0.005)
    # published (a course solution), as in the log above
    assert information.bayes([0.3, 0.7], [0.9, 0.3])[0] == pytest.approx(0.5625)
    with pytest.raises(ValueError, match="only discrete inputs"):
        worth_of_input({**as_job, "rates": {"rig": {"low": 1, "high": 2}}}, "rates.rig")
