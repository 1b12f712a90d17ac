"""The rule by state: go on or stop after each history of outcomes.

Origins of the expected numbers:
    independent   `outcome_tree.best_rule`, a dynamic program over complete histories that shares
                  neither weights nor code with the engine; or worked by hand
    published     one-stage look-ahead is optimal where the stopping set is closed: S. Ross, An
                  Elementary Introduction to Mathematical Finance, theorem 12.3.1
"""

from __future__ import annotations

import copy

import numpy as np
import pytest
from full_text import text as report
from hypothesis import given, settings
from hypothesis import strategies as st
from raw_jobs import RUN_BY_RUN, SCENARIO_A, Table, lump_job, read, scenario
from reference import outcome_tree

import econ
from econ.decision import state_rule
from econ.decision.answer import Answer
from econ.scenario import parse

pytestmark = pytest.mark.usefixtures("few_bins", "few_states")
EXACT = 1e-9


def answer(raw: Table, **draws: int) -> Answer:
    return econ.answer(scenario(raw, **draws))


def same_rule(raw: Table, found: Answer) -> int:
    """Check value and actions against the dynamic program; return how many states say go."""
    rule = outcome_tree.best_rule(raw)
    best = outcome_tree.limit(raw, limit_runs=found.best).expected_cost
    assert found.rule.merged_share == 0.0
    assert best - found.rule.gain == pytest.approx(rule[()].expected_cost, rel=EXACT)
    for state in found.rule.states:
        expected = rule[state.history]
        slack = 1e-9 * expected.stop_cost
        if expected.run_cost is None or abs(expected.run_cost - expected.stop_cost) > slack:
            assert state.go == (expected.action == "run"), state.history
        assert state.workable == pytest.approx(expected.workable, abs=1e-12)
    # every state that the rule reaches and that is not very rare is listed
    listed = {state.history for state in found.rule.states}
    runs_on = {history for history, choice in rule.items() if choice.action == "run"}
    for history in rule:
        reached = all(history[:k] in runs_on for k in range(len(history)))
        if reached and len(history) < len(raw["run"]) and chance(raw, history) > 0.003:
            assert history in listed, history
    return sum(state.go for state in found.rule.states)


def chance(raw: Table, history: outcome_tree.History) -> float:
    """Chance that the first runs end as in `history`, if they are made."""
    total = 0.0
    for kind, prior in outcome_tree.kinds_of_fish(raw).items():
        position = outcome_tree.start(raw)
        for run, outcome in zip(raw["run"], history, strict=False):
            prior *= outcome_tree.run_odds(raw, run, kind, position=position)[outcome]
            made = outcome_tree.make_run(raw, run, position=position)
            position = outcome_tree.go_on(raw, run, outcome, position=made)
        total += prior
    return total


def scenario_a(*, workable: float = 0.7, per_day: float = 1.0, part_length: float = 60) -> Table:
    raw = read(SCENARIO_A)
    raw["fishing"].update(workable=workable, odds_ratio_per_day=per_day)
    raw["run"][0]["part_length"] = part_length
    return raw


@pytest.mark.parametrize(
    "raw",
    [
        scenario_a(),
        scenario_a(workable=0.5),  # a part then speaks for a workable fish
        scenario_a(workable=0.35),
        scenario_a(per_day=0.85),
        scenario_a(per_day=1.4),
        scenario_a(workable=0.5, part_length=500),
        {**scenario_a(workable=0.2), "limits": {"minimum_runs": 2}},
    ],
)
def test_the_rule_is_the_dynamic_program(raw: Table) -> None:
    same_rule(raw, answer(raw, n=16))


def test_the_rule_goes_by_what_was_seen() -> None:
    raw = scenario_a(workable=0.5)
    found = answer(raw, n=512)
    same_rule(raw, found)
    after = {state.history: state.go for state in found.rule.states}
    # independent: enumeration of every rule over two runs says so in the tests of the references
    assert after[("part",)]
    assert not after[("nothing",)]
    assert found.rule.gain > 100
    assert found.rule_cost.value < found.limit.expected_cost


# ---- one-stage look-ahead ---------------------------------------------------------------------


def look_ahead(raw: Table) -> list[bool]:
    """Whether one more run and then a stop is cheaper, after n failures (one history each)."""
    goes = []
    for row in outcome_tree.nothing_path(raw):
        goes.append(row.odds["recovered"] > row.break_even)
    return goes


def failing(*chances: float) -> list[Table]:
    """Odds of runs that recover or do nothing."""
    return [{"recovered": p, "nothing": 1.0 - p} for p in chances]


def follow(goes: list[bool]) -> int:
    """Runs made before the first stop."""
    return goes.index(False) if False in goes else len(goes)


@given(
    chances=st.lists(st.integers(1, 60), min_size=1, max_size=6),
    hours=st.integers(6, 120),
)
@settings(max_examples=10, deadline=None)
def test_with_odds_that_never_rise_the_look_ahead_rule_is_best(
    chances: list[int], hours: int
) -> None:
    # published: theorem 12.3.1; costs constant and odds falling make the stopping set closed.
    # A third of a percent off whole percents, so that no run breaks even to the last digit.
    raw = lump_job(*failing(*[(p + 1 / 3) / 100 for p in sorted(chances, reverse=True)]))
    for run in raw["run"]:
        run["hours"] = hours
    found = answer(raw, n=16)
    assert found.best == follow(look_ahead(raw))
    assert found.rule.gain == pytest.approx(0.0, abs=1e-6)
    assert [state.go for state in found.rule.states][: found.best] == [True] * found.best
    same_rule(raw, found)


def test_with_odds_that_rise_the_look_ahead_rule_may_be_wrong() -> None:
    raw = lump_job(*failing(0.1, 0.9))
    # by hand: fallback 190,000, a run 24,000, recovery 0. One run and stop:
    # 24,000 + 0.9 x 190,000 = 195,000, dearer than stopping now; both runs:
    # 24,000 + 0.9 x (24,000 + 0.1 x 190,000) = 62,700.
    assert look_ahead(raw) == [False, True]
    found = answer(raw, n=16)
    costs = [row.expected_cost for row in found.by_runs]
    assert costs == pytest.approx([190_000, 195_000, 62_700], rel=EXACT)
    assert found.best == 2
    assert found.ahead[0].odds < found.ahead[0].break_even_odds  # type: ignore[operator]
    assert same_rule(raw, found) == 2


# ---- many histories ---------------------------------------------------------------------------


def long_job(*, runs: int) -> Table:
    """Runs that leave parts and damage behind, on two kinds of fish."""
    workable = {
        "recovered": 0.3,
        "part": 0.2,
        "nothing": 0.3,
        "top_damaged": 0.15,
        "string_lost": 0.03,
        "hole_lost": 0.02,
    }
    stubborn = {**workable, "recovered": 0.03, "part": 0.07, "nothing": 0.7}
    stubborn["top_damaged"] = 0.15
    raw = lump_job(*[{"workable": workable, "stubborn": stubborn}] * runs, part_length=90)
    for number, run in enumerate(raw["run"]):
        run.update(dresses_top=number % 3 == 2, string_length=200, string_value=60_000)
    raw["fishing"].update(workable=0.5, damaged_top_factor=0.3)
    return raw


def test_merged_histories_cost_little(monkeypatch: pytest.MonkeyPatch) -> None:
    raw = long_job(runs=7)
    best = outcome_tree.best_rule(raw)[()].expected_cost
    limits = [outcome_tree.limit(raw, limit_runs=n).expected_cost for n in range(8)]
    apart = answer(raw, n=16)
    assert min(limits) - apart.rule.gain == pytest.approx(best, rel=EXACT)
    assert apart.best == limits.index(min(limits))
    # room for 8 of the 3^6 histories, with two kinds and 16 draws of each of 16 scrambles
    monkeypatch.setattr(state_rule, "ELEMENTS", 2 * 16 * 16 * 8)
    merged = answer(raw, n=16)
    assert merged.rule.merged_share > 0
    assert merged.rule.gain >= 0
    # fewer states can be told apart: not better than the best but for the sampling of the
    # merged ones, and not much worse
    slack = 4 * merged.rule.gain_error
    assert merged.rule.gain <= apart.rule.gain + slack
    assert merged.rule.gain >= 0.5 * apart.rule.gain - slack
    assert merged.rule.gain_error < 0.2 * apart.rule.gain


@pytest.mark.parametrize("elements", [2**9, 2**14])
def test_the_rule_is_never_dearer_than_the_best_limit(
    elements: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(state_rule, "ELEMENTS", elements)
    raw = copy.deepcopy(long_job(runs=8))
    raw["rates"]["rig"] = {"low": 14_000, "likely": 22_000, "high": 40_000}
    for run in raw["run"]:
        run["hours"] = {"median": 22, "factor": 1.5}
    raw["run"][1]["odds"]["workable"]["weight"] = 5
    found = answer(raw, n=64)
    assert found.rule.merged_share > 0
    assert found.rule.gain >= 0


def test_the_rule_can_say_go_where_no_limit_pays() -> None:
    # by hand: prior 0.3. Run 1 costs 2,000 and ends `part` on a workable fish only. After it
    # run 2 (30,000, recovery 0.9) leaves 30,000 + 0.1 x 100,000 against 100,000; after `nothing`
    # the job stops. Rule: 2,000 + 0.3 x 40,000 + 0.7 x 100,000 = 84,000. Limit of two runs:
    # 2,000 + 30,000 + (1 - 0.27) x 100,000 = 105,000; of one: 102,000; of none: 100,000.
    found = econ.answer(parse(RUN_BY_RUN))
    assert [round(row.expected_cost) for row in found.by_runs] == [100_000, 102_000, 105_000]
    assert found.rule_cost.value == pytest.approx(84_000)
    assert found.best == 0
    assert found.fish
    assert report(found).startswith("FISH ON, RUN BY RUN")
    go = {state.history: state.go for state in found.rule.states}
    assert go == {(): True, ("nothing",): False, ("part",): True}


def test_the_gain_of_the_rule_is_not_flattered_by_its_own_draws() -> None:
    # independent: ranges only on what the cost is linear in, so the job at their means, solved
    # as a full tree, is the truth; the rule is chosen and valued on different scrambles
    raw = read(SCENARIO_A)
    for run in raw["run"]:
        run["charge"] += 40_000
    exact = answer(raw, n=16)
    assert exact.rule.gain > 100
    raw["fallback"][0]["other_cost"] = {"low": 0, "high": 12_000}
    gains = []
    for seed in range(6):
        raw["draws"] = {"n": 64, "seed": seed}
        gains.append(econ.answer(scenario(copy.deepcopy(raw))).rule.gain)
    assert np.mean(gains) == pytest.approx(exact.rule.gain, rel=0.05)
