"""The model behind the page against the program on files with the sliders written into them.

Origin of expected numbers: independent (the answer, the whole program on a file whose keys are
changed by `page_jobs`, the outcome tree of tests/reference, or a closed form worked here) unless
a line says otherwise.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np
import pytest
from page_jobs import CLOSE, DEMOS, LOGS, ODD, Job, after_log, demo, differences, movable, point
from raw_jobs import SCENARIO_A, Table, lump_job, read, without_sampled_outcomes
from reference import outcome_tree

from econ.decision.page_model import parabola
from econ.scenario.run_log import LoggedRun

pytestmark = pytest.mark.usefixtures("few_bins", "few_states")  # no plan, no percentile
FEW = {"n": 16, "scrambles": 16, "seed": 3}
JOBS: dict[str, Callable[[], Job]] = {
    **{letter: lambda letter=letter: movable(letter) for letter in DEMOS},
    **{f"log {letter}": lambda letter=letter: after_log(letter) for letter in LOGS},
    **{f"point {letter}": lambda letter=letter: point(letter) for letter in DEMOS},
}


def odds(recovered: float, **others: float) -> Table:
    return {"recovered": recovered, "nothing": 1 - recovered - sum(others.values()), **others}


def logged(run: int, outcome: str) -> LoggedRun:
    start = datetime(2026, 1, 1) + timedelta(days=run)
    return LoggedRun(row=2, run=run, start=start, end=start + timedelta(days=1), outcome=outcome)


def at_rest_it_is_the_answer(made: Job) -> None:
    shown, said = made.model.at(made.model.base), made.answer
    for n, row in enumerate(said.by_runs):
        assert shown.cost[n] == pytest.approx(row.expected_cost, rel=1e-12)
        assert shown.recovered[n] == pytest.approx(row.probability_recovered, abs=1e-12)
        assert shown.days[n] == pytest.approx(row.days, rel=1e-12)
    best, one, two = said.best, said.stage_1, said.stage_2
    assert shown.planned[best] == pytest.approx(one.planned, rel=1e-12)
    assert shown.fishing[best] == pytest.approx(one.mean, rel=1e-12)
    assert 1 - shown.recovered[best] == pytest.approx(two.probability, abs=1e-12)
    assert shown.fallback[best] == pytest.approx(two.mean, rel=1e-9)
    if said.ahead:
        assert shown.next_odds == pytest.approx(said.ahead[0].odds, rel=1e-12)
        need = said.ahead[0].break_even_odds
        assert need is None or shown.break_even == pytest.approx(need, rel=1e-9)


# ---- demonstration jobs -----------------------------------------------------------------------


@pytest.mark.parametrize("name", [*DEMOS, *ODD])
def test_at_rest_it_is_the_answer(name: str) -> None:
    at_rest_it_is_the_answer(ODD[name]() if name in ODD else demo(name))


@pytest.mark.parametrize("name", JOBS)
def test_anywhere_it_is_the_program(name: str) -> None:
    made = JOBS[name]()
    least = made.model.minimum
    for position in made.between(8, seed=11):
        shown, program = made.model.at(position), made.program(position)
        np.testing.assert_allclose(shown.cost, program.cost, rtol=CLOSE, err_msg=str(position))
        apart = differences(shown, program)
        if len(made.scenario.fallback) > 1:  # where two cost nearly the same, either is taken
            apart |= {"fallback": 0.0, "given_up": 0.0}
        assert max(apart.values()) < 2 * CLOSE, (position, apart)
        # another limit may be the best only if the program has it as good
        best = least + int(np.argmin(shown.cost[least:]))
        assert program.cost[best] == pytest.approx(program.cost[least:].min(), rel=CLOSE)
        assert shown.next_odds == pytest.approx(program.next_odds, abs=CLOSE)
        assert shown.break_even == pytest.approx(program.break_even, abs=2 * CLOSE)


@pytest.mark.parametrize("letter", DEMOS)
def test_rates_belief_and_fallbacks_are_met_exactly(letter: str) -> None:
    made = movable(letter)
    for changes in (
        {"spread": 1.6, "fishing_day": 0.6},
        {"workable": 0.3, "spread": 0.7, "fallback": 1.3},
        {"workable": 0.9, "fallback": 1.9},
    ):
        if len(made.model.belief) > 2:  # several doubts: no single belief to be moved
            changes.pop("workable", None)
        position = replace(made.model.base, **changes)
        shown, program = made.model.at(position), made.program(position)
        # several fallbacks are compared by the program on its grid of tops, here in bands of it
        rel = 1e-9 if len(made.scenario.fallback) == 1 else 1e-4
        np.testing.assert_allclose(shown.cost, program.cost, rtol=rel)
        np.testing.assert_allclose(shown.recovered, program.recovered, rtol=0, atol=1e-8)
        np.testing.assert_allclose(shown.days, program.days, rtol=1e-8, atol=1e-12)


@pytest.mark.parametrize("name", ["a", "b", "c", "log a", "log d"])
def test_the_odds_that_are_set_are_those_of_the_run(name: str) -> None:
    made = JOBS[name]()
    (knob,) = [each for each in made.model.knobs if each.name == "next_odds"]
    for share in (0.1, 0.5, 0.9):
        chance = knob.least + share * (knob.most - knob.least)
        position = replace(made.model.base, next_odds=chance)
        assert made.program(position).next_odds == pytest.approx(chance, abs=1e-3)


# ---- outcome tree and closed forms --------------------------------------------------------------


@pytest.mark.parametrize("workable", [0.0, 0.4, 1.0])
def test_it_is_the_outcome_tree_also_with_a_kind_that_is_ruled_out(workable: float) -> None:
    raw = without_sampled_outcomes(read(SCENARIO_A))
    raw["fishing"]["workable"] = workable
    made = Job(raw, **FEW)
    at_rest_it_is_the_answer(made)
    raw["fishing"]["workable"] = 0.7
    raw["rates"] = {name: 1.3 * rate for name, rate in raw["rates"].items()}
    tree = outcome_tree.by_runs(raw)
    shown = made.model.at(replace(made.model.base, workable=0.7, spread=1.3))
    np.testing.assert_allclose(shown.cost, [each.expected_cost for each in tree], rtol=1e-8)


def test_two_fallbacks_cross_where_their_lines_do() -> None:
    # closed form: a day costs 24,000 s; one fallback takes 100 h and 50,000, the other 10 h and
    # 120,000, each and the fish of 40,000; a run takes 24 h and recovers with chance 0.3
    raw = lump_job(odds(0.3))
    raw["fallback"].append({"name": "x", "kind": "abandon", "hours": 10, "cost": 120_000})
    made = Job(raw, **FEW)
    for s in np.geomspace(0.5, 2.0, 9):
        least = min(100_000 * s + 50_000, 10_000 * s + 120_000) + 40_000
        shown = made.model.at(replace(made.model.base, spread=float(s)))
        np.testing.assert_allclose(shown.cost, [least, 24_000 * s + 0.7 * least], rtol=1e-8)
        assert shown.taken == (0 if 90_000 * s < 70_000 else 1)
        # half of what the fallback now costs, 190,000 or 170,000, less on either of them
        shown = made.model.at(replace(made.model.base, spread=float(s), fallback=0.5))
        least -= 0.5 * 170_000
        np.testing.assert_allclose(shown.cost, [least, 24_000 * s + 0.7 * least], rtol=1e-8)


def test_a_fallback_that_is_closed_is_not_taken() -> None:
    # closed form: the string is lost with 0.2; then only the dear fallback, 200 h, is open
    raw = lump_job(odds(0.3, string_lost=0.2), string_value=0)
    raw["fallback"][0]["after_string_lost"] = False
    raw["fallback"].append({"name": "dear", "kind": "abandon", "hours": 200, "cost": 50_000})
    made = Job(raw, **FEW)
    for s in (0.5, 1.0, 2.0):
        cheap, dear = 100_000 * s + 90_000, 200_000 * s + 90_000
        shown = made.model.at(replace(made.model.base, spread=s))
        expected = [cheap, 24_000 * s + 0.5 * cheap + 0.2 * dear]
        np.testing.assert_allclose(shown.cost, expected, rtol=1e-8)


def test_odds_of_the_next_run_keep_the_others_in_proportion() -> None:
    # closed form: of what is left, a third loses the string, worth 30,000
    made = Job(lump_job(odds(0.4, string_lost=0.2), string_value=30_000), **FEW)
    (knob,) = [each for each in made.model.knobs if each.name == "next_odds"]
    assert knob.now == pytest.approx(0.4, rel=1e-12)
    for p in (knob.least, 0.25, 0.6, knob.most):
        shown = made.model.at(replace(made.model.base, next_odds=p))
        expected = 24_000 + (1 - p) * (190_000 + 30_000 / 3)
        assert shown.cost[1] == pytest.approx(expected, rel=1e-8)
        # the loss of the string stays as likely as it then is
        need = (24_000 + (1 - p) * 30_000 / 3) / 190_000
        assert shown.break_even == pytest.approx(need, rel=1e-8)


def test_a_top_that_is_damaged_now() -> None:
    # closed form: p of the next run goes to 0.6 p', what is taken off to `nothing`, and only the
    # odds as stated, p', are moved by the ratio; the string is lost with 0.1 (1 - p')/(1 - p)
    raw = lump_job(odds(0.2, top_damaged=0.3), odds(0.5, string_lost=0.1), string_value=30_000)
    made = Job(raw, [logged(0, "top_damaged")], **FEW)
    assert made.model.base.next_odds == pytest.approx(0.3, rel=1e-12)
    for p in (0.12, 0.3, 0.5):
        stated = p / 0.6
        lost = 0.1 * (1 - stated) / 0.5
        expected = 24_000 + (1 - p) * 190_000 + lost * 30_000
        shown = made.model.at(replace(made.model.base, next_odds=p))
        assert shown.cost[1] == pytest.approx(expected, rel=CLOSE)


@pytest.mark.parametrize(
    ("raw", "names"),
    [
        (lump_job(), ["spread", "fallback"]),
        (lump_job(odds(1.0)), ["spread", "fallback"]),
        (lump_job(odds(0.0), odds(0.5)), ["spread", "fallback"]),
        (lump_job(odds(0.4)), ["spread", "next_odds", "fallback"]),
        (
            read(SCENARIO_A),
            ["spread", "fishing_day", "workable", "next_odds", "fallback", "trip_speed"],
        ),
    ],
    ids=["no run", "certain", "hopeless", "no kinds", "all"],
)
def test_a_job_has_the_sliders_that_it_can_have(raw: Table, names: list[str]) -> None:
    made = Job(raw, **FEW)
    assert [knob.name for knob in made.model.knobs] == names
    at_rest_it_is_the_answer(made)
    for knob in made.model.knobs:
        assert knob.least <= knob.now <= knob.most
    for position in made.between(2):
        apart = differences(made.model.at(position), made.program(position))
        assert apart["cost"] < CLOSE, (position, apart)


@pytest.mark.parametrize("outcome", ["recovered", "string_lost", "hole_lost"])
def test_a_job_that_a_log_has_ended(outcome: str) -> None:
    raw = lump_job(odds(0.4, string_lost=0.1, hole_lost=0.1), odds(0.3), string_value=20_000)
    raw["recovery"] = {"hours": 10, "charge": 5_000}
    made = Job(raw, [logged(0, outcome)], **FEW)
    at_rest_it_is_the_answer(made)
    assert made.model.limits == 1
    shown = made.model.at(replace(made.model.base, spread=2.0))
    # closed form: 10 h and 5,000; 100 h, 50,000 and 40,000 with the string or 0.3 of it
    dear = 290_000 + {"string_lost": 1, "hole_lost": 0.3}.get(outcome, 0) * 20_000
    expected = 25_000 if outcome == "recovered" else dear
    assert shown.cost[0] == pytest.approx(expected, rel=1e-8)


def test_a_parabola_is_met_exactly_on_either_side_of_a_kink() -> None:
    # closed form: two parabolas that meet at 1, where a piece ends
    def curve(u: float) -> float:
        return 3 * u * u - u if u < 1 else 2 + 5 * (u - 1) - 2 * (u - 1) ** 2

    nodes = [0.5, 0.7, 1.0, 1.6, 2.0]
    values = np.array([curve(u) for u in nodes])
    for u in (0.5, 0.61, 0.99, 1.0, 1.01, 1.5, 2.0):
        assert parabola(nodes, u) @ values == pytest.approx(curve(u))
