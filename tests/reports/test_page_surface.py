"""The surface behind the page against the program, a slow second program, and by hand.

Origin of expected numbers: independent (the answer, the walk of a case edited by the drivers of
the sensitivity, the outcome tree of tests/reference on a scenario with the values written into
it, or a closed form worked here) unless a line says otherwise.
"""

from __future__ import annotations

import copy
import math
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

import numpy as np
import pytest
from page_jobs import CLOSE, DEMOS, ODD, Job, after_log, demo, differences, valued
from raw_jobs import SCENARIO_A, Table, lump_job, read, scenario, without_sampled_outcomes
from reference import outcome_tree
from scipy.optimize import brentq

import econ
from econ.decision.quick import of_case
from econ.decision.surface.value import Position, parabola, polynomial, ratios
from econ.engine.choice import choose
from econ.scenario.run_log import LoggedRun

FEW = {"n": 64, "scrambles": 16, "seed": 3}


def job(raw: Table, **draws: int) -> Job:
    return Job(scenario(raw, **{**FEW, **draws}))


def odds(recovered: float, **others: float) -> Table:
    return {"recovered": recovered, "nothing": 1 - recovered - sum(others.values()), **others}


def at_base_it_is_the_answer(made: Job, *, rel: float = 1e-9) -> None:
    found, expected = made.surface.at(made.surface.base), made.answer
    for n, row in enumerate(expected.by_runs):
        assert found.cost[n] == pytest.approx(row.expected_cost, rel=rel)
        assert found.recovered[n] == pytest.approx(row.probability_recovered, rel=rel, abs=1e-9)
        if math.isfinite(found.days[n]):
            assert found.days[n] == pytest.approx(row.days, rel=rel)
    best = expected.best
    assert found.planned[best] == pytest.approx(expected.stage_1.planned, rel=rel)
    assert found.fishing[best] == pytest.approx(expected.stage_1.mean, rel=rel)
    assert 1 - found.recovered[best] == pytest.approx(expected.stage_2.probability, abs=1e-9)
    assert found.fallback[best] == pytest.approx(expected.stage_2.mean, rel=rel)


def it_is_the_program(made: Job, *, between: int, rel: float) -> None:
    for position in made.between(between):
        found = differences(made.surface.at(position), made.program(position))
        assert max(found.values()) < rel, (position, found)


# ---- the demos --------------------------------------------------------------------------------


@pytest.mark.parametrize("letter", sorted(DEMOS))
def test_at_the_case_of_the_file_it_is_the_answer(letter: str) -> None:
    at_base_it_is_the_answer(demo(letter))


@pytest.mark.parametrize("letter", sorted(DEMOS))
def test_it_is_the_program_anywhere(letter: str) -> None:
    it_is_the_program(demo(letter), between=8, rel=0.5 * CLOSE)


@pytest.mark.parametrize("name", ODD)
def test_odd_jobs_are_the_program_at_fifty_places(name: str) -> None:
    made = ODD[name]()
    at_base_it_is_the_answer(made)
    positions = made.positions()
    assert len(positions) >= 50
    for position in positions:
        found = differences(made.surface.at(position), made.program(position))
        assert max(found.values()) < CLOSE, (position, found)


@pytest.mark.parametrize("letter", sorted(DEMOS))
def test_what_the_program_says_is_what_its_quick_limits_say(letter: str) -> None:
    # the walk that the page is set against is that of `econ.decision.quick`
    made = demo(letter)
    (position,) = made.between(1, seed=4)
    case = made.case(position, n=64)
    quick = of_case(case, minimum=0, scrambles=made.inputs.sampler.scrambles)
    found = valued(case, choose(case))
    np.testing.assert_allclose(found.cost, quick.cost.mean(axis=0), rtol=1e-12)
    np.testing.assert_allclose(found.recovered, quick.recovered.mean(axis=0), rtol=0, atol=1e-12)


@pytest.mark.parametrize(
    ("letter", "log"), [("a", "a_two_runs"), ("d", "d_three_runs")], ids=["a", "d"]
)
def test_after_a_log_the_belief_is_that_of_now(letter: str, log: str) -> None:
    made = after_log(letter, log)
    assert made.surface.base.workable == pytest.approx(made.answer.ahead[0].workable, abs=0.01)


def test_with_all_draws_a_change_of_speed_is_still_the_program() -> None:
    # other speeds are walked with some of the draws alone; here all of them are the measure
    made = Job(econ.load(DEMOS["c"]))
    at_base_it_is_the_answer(made)
    base = made.surface.base
    for changes in ({"trip_speed": 0.5, "spread": 2.0, "workable": 0.2}, {"trip_speed": 2.0}):
        position = replace(base, **changes)
        found = differences(made.surface.at(position), made.program(position))
        assert max(found.values()) < CLOSE, found


@pytest.mark.parametrize("letter", sorted(DEMOS))
def test_what_is_said_of_the_next_run_is_what_the_answer_says(letter: str) -> None:
    # the answer has it from fewer draws
    made = demo(letter)
    found, run = made.surface.at(made.surface.base), made.answer.ahead[0]
    assert found.next_odds == pytest.approx(run.odds, abs=2e-3)
    assert run.break_even_odds is not None
    assert found.break_even == pytest.approx(run.break_even_odds, abs=2e-3)


# ---- the outcome tree on a scenario with the values written into it ----------------------------

TURNED = [
    {"spread": 1.7},
    {"fishing_day": 0.5, "workable": 0.35},
    {"next_odds": 0.25},
    {"next_odds": 0.72, "workable": 0.9, "spread": 0.6},
    {"fallback": 1.8, "trip_speed": 0.6},
    {"fallback": 0.5, "trip_speed": 1.9, "next_odds": 0.1},
    {"trip_speed": 1.35, "spread": 2.0, "workable": 0.0},
    {"spread": 0.5, "fishing_day": 2.0, "workable": 1.0, "trip_speed": 0.5},
]


def written(raw: Table, position: Position, base: Position, fallback_now: float) -> Table:
    """The scenario with a position of the knobs written into it, by hand."""
    table = copy.deepcopy(raw)
    table["rates"] = {name: rate * position.spread for name, rate in raw["rates"].items()}
    days = raw["fishing"]["day_rates"]
    table["fishing"]["day_rates"] = {k: v * position.fishing_day for k, v in days.items()}
    table["fishing"]["workable"] = position.workable
    for way in ("in", "out"):
        speeds = raw["trip_speed"][way]
        table["trip_speed"][way] = {k: v * position.trip_speed for k, v in speeds.items()}
    for fallback in table["fallback"]:
        name = "cost" if "kind" in fallback else "other_cost"
        more = (position.fallback - 1.0) * fallback_now
        fallback[name] = fallback.get(name, 0.0) + more
    if position.next_odds != base.next_odds:
        first = raw["run"][0]["odds"]
        late = raw["fishing"].get("odds_ratio_per_day", 1.0) ** (
            raw.get("common", {}).get("hours", 0.0) / 24.0
        )  # of the odds when the run begins
        stated = [(first["workable"], base.workable), (first["stubborn"], 1 - base.workable)]
        ratio = math.exp(
            brentq(
                lambda x: (
                    sum(
                        share * moved(each["recovered"], late * math.exp(x))
                        for each, share in stated
                    )
                    - position.next_odds
                ),
                -20.0,
                20.0,
                xtol=1e-13,
            )
        )
        for kind in table["run"][0]["odds"].values():
            recovered = moved(kind["recovered"], ratio)
            keep = (1 - recovered) / (1 - kind["recovered"])
            for name in kind:
                kind[name] = recovered if name == "recovered" else kind[name] * keep
    return table


def moved(chance: float, ratio: float) -> float:
    """A chance with its odds times a ratio."""
    return ratio * chance / (1 - chance + ratio * chance)


def all_part(raw: Table) -> Table:
    """The job where a run that fails always brings a part, so that the fish top moves down."""
    table = without_sampled_outcomes(raw)
    for run in table["run"]:
        run["part_length"] = 120
        for kind in run["odds"].values():
            kind["part"] = kind.pop("nothing")
    return table


def with_lumps(raw: Table) -> Table:
    """The job with two more fallbacks, each the cheapest in some state at some price."""
    table = copy.deepcopy(raw)
    table["fallback"] += [
        {"name": "above", "kind": "complete_above", "hours": 60, "cost": 300_000,
         "lost_in_hole_share": 1.0},
        {"name": "away", "kind": "abandon", "hours": 20, "cost": 640_000,
         "lost_in_hole_share": 0.4},
    ]  # fmt: skip
    return table


def later_odds_fall(raw: Table) -> Table:
    table = without_sampled_outcomes(raw)
    table["fishing"]["odds_ratio_per_day"] = 0.8
    table["common"] = {"hours": 30, "cost": 4_000}
    return table


@pytest.mark.parametrize(
    "change",
    [without_sampled_outcomes, later_odds_fall, lambda raw: with_lumps(all_part(raw))],
    ids=["plain", "odds fall", "three fallbacks"],
)
def test_it_is_the_outcome_tree(change: Any) -> None:
    raw = change(read(SCENARIO_A))
    made = job(raw, n=16)
    base, now = made.surface.base, made.surface.fallback_now
    for changes in ({}, *TURNED):
        position = replace(base, **changes)
        found = made.surface.at(position)
        tree = outcome_tree.by_runs(written(raw, position, base, now))
        cost = np.array([each.expected_cost for each in tree])
        np.testing.assert_allclose(found.cost, cost, rtol=3e-4, err_msg=str(changes))
        chance = [each.probability_recovered for each in tree]
        np.testing.assert_allclose(found.recovered, chance, rtol=0, atol=3e-4)


def test_three_fallbacks_with_ranges_are_the_program_at_fifty_places() -> None:
    # more states than a page has room for: tops are taken together, which the cost may feel
    made = job(with_lumps(read(DEMOS["a"])))
    assert max(len(pool.columns) for pool in made.surface.pools) == 3
    positions = made.positions()
    assert len(positions) >= 50
    for position in positions:
        found, program = made.surface.at(position), made.program(position)
        np.testing.assert_allclose(found.cost, program.cost, rtol=CLOSE, err_msg=str(position))
        np.testing.assert_allclose(found.recovered, program.recovered, rtol=0, atol=CLOSE)


def test_three_fallbacks_are_really_chosen_among() -> None:
    # or the test above would say nothing of the choice
    made = job(with_lumps(all_part(read(SCENARIO_A))), n=16)
    assert max(len(pool.columns) for pool in made.surface.pools) == 3
    assert len(made.surface.pools) > 3


# ---- closed forms -----------------------------------------------------------------------------


def test_two_fallbacks_cross_where_their_lines_do() -> None:
    # closed form: a day costs 24,000 s; one fallback takes 100 h and 50,000, the other 10 h and
    # 120,000, each and the fish of 40,000; a run takes 24 h and recovers with chance 0.3
    raw = lump_job(odds(0.3))
    raw["fallback"].append({"name": "x", "kind": "abandon", "hours": 10, "cost": 120_000})
    made = job(raw)
    for s in np.geomspace(0.5, 2.0, 9):
        least = min(100_000 * s + 50_000, 10_000 * s + 120_000) + 40_000
        found = made.surface.at(replace(made.surface.base, spread=float(s)))
        np.testing.assert_allclose(found.cost, [least, 24_000 * s + 0.7 * least], rtol=1e-9)
        assert found.taken == (0 if 90_000 * s < 70_000 else 1)


def test_odds_of_the_next_run_keep_the_others_in_proportion() -> None:
    # closed form: of what is left, a third loses the string, worth 30,000
    raw = lump_job(odds(0.4, string_lost=0.2), string_value=30_000)
    made = job(raw)
    (knob,) = [each for each in made.surface.knobs if each.name == "next_odds"]
    assert knob.now == pytest.approx(0.4, rel=1e-12)
    for p in (knob.least, 0.25, 0.6, knob.most):
        found = made.surface.at(replace(made.surface.base, next_odds=p))
        expected = 24_000 + (1 - p) * (190_000 + 30_000 / 3)
        assert found.cost[1] == pytest.approx(expected, rel=1e-9)
        # p* from the run by itself: the loss of the string stays as likely as it then is
        need = (24_000 + (1 - p) * 30_000 / 3) / 190_000
        assert found.break_even == pytest.approx(need, rel=1e-9)


def logged(run: int, outcome: str) -> LoggedRun:
    begin = datetime(2026, 1, 1)
    start = begin + timedelta(days=run)
    return LoggedRun(row=2, run=run, start=start, end=start + timedelta(days=1), outcome=outcome)


def test_a_top_that_is_damaged_now() -> None:
    # closed form: p of the next run goes to 0.6 p', what is taken off to `nothing`, and only the
    # odds as stated, p', are moved by the ratio; the string is lost with 0.1 (1 - p')/(1 - p)
    raw = lump_job(odds(0.2, top_damaged=0.3), odds(0.5, string_lost=0.1), string_value=30_000)
    made = Job(scenario(raw, **FEW), [logged(0, "top_damaged")])
    assert made.surface.base.next_odds == pytest.approx(0.3, rel=1e-12)
    for p in (0.12, 0.3, 0.5):
        stated = p / 0.6
        lost = 0.1 * (1 - stated) / 0.5
        expected = 24_000 + (1 - p) * 190_000 + lost * 30_000
        found = made.surface.at(replace(made.surface.base, next_odds=p))
        assert found.cost[1] == pytest.approx(expected, rel=1e-5)


def test_a_damaged_top_before_several_runs() -> None:
    raw = lump_job(
        odds(0.2, top_damaged=0.3),
        odds(0.4, part=0.2, top_damaged=0.1),
        odds(0.5, part=0.1),
        odds(0.3, string_lost=0.1),
        part_length=100,
    )
    made = Job(scenario(raw, **{**FEW, "n": 512}), [logged(0, "top_damaged")])
    # outcomes are kept apart where the program samples them: equal but for its draws
    at_base_it_is_the_answer(made, rel=CLOSE)
    it_is_the_program(made, between=4, rel=CLOSE)


@pytest.mark.parametrize("workable", [0.0, 1.0])
def test_a_kind_that_is_ruled_out_can_be_let_in(workable: float) -> None:
    raw = without_sampled_outcomes(read(SCENARIO_A))
    raw["fishing"]["workable"] = workable
    made = job(raw, n=16)
    at_base_it_is_the_answer(made)
    raw["fishing"]["workable"] = 0.7
    tree = outcome_tree.by_runs(raw)
    found = made.surface.at(replace(made.surface.base, workable=0.7))
    np.testing.assert_allclose(found.cost, [each.expected_cost for each in tree], rtol=1e-9)


@pytest.mark.parametrize(
    ("raw", "knobs"),
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
def test_a_job_has_the_knobs_that_it_can_have(raw: Table, knobs: list[str]) -> None:
    made = job(raw, n=16)
    assert [knob.name for knob in made.surface.knobs] == knobs
    at_base_it_is_the_answer(made)
    it_is_the_program(made, between=3, rel=0.5 * CLOSE)
    for knob in made.surface.knobs:
        assert knob.least <= knob.now <= knob.most


@pytest.mark.parametrize("outcome", ["recovered", "string_lost", "hole_lost"])
def test_a_job_that_a_log_has_ended(outcome: str) -> None:
    raw = lump_job(odds(0.4, string_lost=0.1, hole_lost=0.1), odds(0.3), string_value=20_000)
    raw["recovery"] = {"hours": 10, "charge": 5_000}
    made = Job(scenario(raw, **FEW), [logged(0, outcome)])
    at_base_it_is_the_answer(made)
    assert made.surface.limits == 1
    found = made.surface.at(replace(made.surface.base, spread=2.0))
    # closed form: 10 h and 5,000; 100 h, 50,000 and 40,000 with the string or 0.3 of it
    dear = (
        25_000
        if outcome == "recovered"
        else 290_000 + {"string_lost": 1, "hole_lost": 0.3}[outcome] * 20_000
    )
    assert found.cost[0] == pytest.approx(dear, rel=1e-9)


# ---- grids ------------------------------------------------------------------------------------


@pytest.mark.parametrize("count", [1, 3, 5, 9])
def test_a_polynomial_is_met_exactly(count: int) -> None:
    # closed form: a polynomial of degree count - 1 is what goes through count of its points
    power = np.poly1d(np.arange(1.0, count + 1.0))
    for x in (-3.0, -1.234, 0.0, 0.77, 3.0):
        assert polynomial(x, count=count) @ power(ratios(count)) == pytest.approx(power(x))


def test_a_parabola_is_met_exactly_on_either_side_of_a_kink() -> None:
    # closed form: two parabolas that meet at 1, where a piece ends
    def curve(u: float) -> float:
        return 3 * u * u - u if u < 1 else 2 + 5 * (u - 1) - 2 * (u - 1) ** 2

    nodes = np.array([0.5, 0.7, 1.0, 1.6, 2.0])
    values = np.array([curve(u) for u in nodes])
    for u in (0.5, 0.61, 0.99, 1.0, 1.01, 1.5, 2.0):
        assert parabola(nodes, u) @ values == pytest.approx(curve(u))


@pytest.mark.parametrize("letter", sorted(DEMOS))
def test_the_difference_that_a_surface_tells_of_is_small(letter: str) -> None:
    assert 0 < demo(letter).surface.error < CLOSE
