"""What the expected cost is made of, the distribution of the total, and the timetable.

Origins of the expected numbers:
    by hand       worked beside the number, on jobs of whole numbers
    independent   `reference.rentals` adds up whole costs and never a line;
                  `reference.coin_flip` flips every coin
"""

from __future__ import annotations

import copy
from datetime import datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from raw_jobs import DEMO_A, SCENARIO_A, Table, lump_job, read, scenario
from reference.coin_flip import simulate

import econ
from econ.engine.ledger import LINES
from econ.scenario.run_log import LoggedRun

pytestmark = pytest.mark.usefixtures("few_states")
ROUNDING = 1e-9
DRAWS = {"n": 16, "scrambles": 16, "seed": 3}  # all are compared with sums of the same draws
DEMOS = sorted((Path(__file__).parents[2] / "scenarios").glob("*.toml"))


@cache
def demo(path: Path) -> econ.Answer:
    """The answer of a demo, which no test may change."""
    return econ.answer(scenario(read(path), **DRAWS))


def parts(answer: econ.Answer) -> dict[str, float]:
    """Expected cost by line, those that are nothing left out."""
    lines = answer.breakdown.lines
    return {line.name: line.expected for line in lines if abs(line.expected) > 1e-6}


def rich_job() -> Table:
    """Demo A with a whipstock, a second fallback and a rental on location and one to come."""
    raw = read(DEMO_A)
    raw.pop("correlation", None)
    raw["fallback"][0]["whipstock"] = {"after": 2, "hours": 30, "cost": 50_000, "failure": 0.2}
    raw["fallback"].append(
        {
            "name": "Complete above",
            "kind": "complete_above",
            "hours": {"low": 40, "high": 60},
            "cost": 100_000,
            "value_given_up": {"low": 300_000, "high": 600_000},
            "trouble": {"chance": 0.1, "cost": 80_000},
            "lost_in_hole_share": 0.4,
        }
    )
    raw["rental"] = [
        {"tool": "Jars", "held_days": 2, "minimum_days": 5, "day": 900, "standby_day": 400},
        {
            "tool": "Wash pipe",
            "kinds": ["wash_then_catch"],
            "mobilization": 9_000,
            "minimum_days": 4,
            "day": 2_000,
            "redress": 1_500,
            "per_foot": 20,
            "replacement": 30_000,
            "delivery": 10,
        },
    ]
    raw["limits"] = {**raw["limits"], "minimum_runs": 4}  # so that the wash pipe is run
    return raw


def logged(answer_of: econ.Scenario, outcome: str) -> tuple[LoggedRun, ...]:
    """A log of the first run alone, which took a day and ended so."""
    begun = datetime(2026, 3, 14, 6)
    return (LoggedRun(2, 0, begun, begun + timedelta(days=1), outcome),)


# ---- lines of the cost ------------------------------------------------------------------------


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_lines_of_a_demo_sum_to_its_expected_cost(path: Path) -> None:
    answer = demo(path)
    found = answer.breakdown
    # self: the curve adds the same lines up limit by limit
    assert found.total.value == pytest.approx(answer.limit.expected_cost, rel=ROUNDING)
    assert found.total.error == pytest.approx(answer.limit.standard_error, rel=1e-6)
    assert sum(each.expected for each in found.lines) == pytest.approx(found.total.value)
    now = sum(each.stopping_now for each in found.lines)
    assert now == pytest.approx(answer.by_runs[0].expected_cost, rel=ROUNDING)
    assert min(each.expected for each in found.lines) >= 0
    assert {each.name: each.part for each in found.lines} == LINES


@pytest.mark.parametrize("outcome", [None, "nothing", "recovered", "string_lost", "hole_lost"])
def test_lines_sum_with_rentals_two_fallbacks_a_whipstock_and_a_log(outcome: str | None) -> None:
    raw = rich_job() | {"deadline": {"in_days": 4.0, "cost_once": 20_000, "cost_per_day": 500}}
    raw["fish"]["sealed_source"] = True
    raw["limits"] = {**raw.get("limits", {}), "minimum_runs": 0, "approval_hours": 20}
    job = scenario(raw, **DRAWS)
    answer = econ.answer(job, () if outcome is None else logged(job, outcome))
    found = answer.breakdown
    # self: the curve adds the same lines up limit by limit
    assert found.total.value == pytest.approx(answer.limit.expected_cost, rel=ROUNDING)
    now = sum(each.stopping_now for each in found.lines)
    assert now == pytest.approx(answer.by_runs[0].expected_cost, rel=ROUNDING)
    held = {each.name for each in found.lines if each.expected > 0}
    if outcome is None:
        assert held == set(LINES) - {"common"}
    if outcome == "recovered":
        assert held <= {"recovery", "rentals", "late_recovered"}


def test_lines_by_hand() -> None:
    # 1,000 an hour, one run of 24 h and a charge of 500; three in ten it comes out, one in ten
    # the string of 7,000 is lost, one in ten the hole with a fifth of it, five in ten nothing.
    odds = {"recovered": 0.3, "string_lost": 0.1, "hole_lost": 0.1, "nothing": 0.5}
    raw = lump_job(odds, charge=500, string_value=7_000)
    raw["fishing"] |= {"mobilization": 900, "hole_lost_string_share": 0.2}
    raw["fishing"]["day_rates"] = {"hands": 2_400}
    raw["recovery"] = {"hours": 10, "charge": 300, "fishing_share": 0.5}
    raw["common"] = {"hours": 2, "cost": 40}
    raw["limits"] = {"minimum_runs": 1}
    answer = econ.answer(scenario(raw, n=16))
    assert answer.best == 1
    # by hand: the fallback takes 100 h at 1,000, 50,000, and the fish of 40,000, in 7 of 10 cases
    assert parts(answer) == pytest.approx(
        {
            "common": 2 * 1_000 + 40,
            "spread": 24_000,
            "fishing_day": 2_400,
            "mobilization": 900,
            "charges": 500,
            "string_lost": 0.1 * 7_000 + 0.1 * 0.2 * 7_000,
            "recovery": 0.3 * (10 * 1_000 + 10 / 24 * 0.5 * 2_400 + 300),
            "fallback_time": 0.7 * 100_000,
            "fallback_charges": 0.7 * 50_000,
            "lost_in_hole": 0.7 * 40_000,
        }
    )


def test_lines_as_a_frame() -> None:
    answer = econ.answer(scenario(lump_job({"recovered": 1.0}), n=16))
    frame = answer.breakdown.to_frame()
    # by hand: a sure recovery of 24 h at 1,000
    assert frame.loc["spread", "expected"] == pytest.approx(24_000)
    assert frame["expected"].sum() == pytest.approx(24_000)


# ---- distribution -----------------------------------------------------------------------------


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_distribution_of_a_demo_agrees_with_its_answer(path: Path) -> None:
    answer = demo(path)
    found = answer.totals
    limit = answer.limit
    out = sum(found.recovered) + found.recovered_above
    back = sum(found.fallback) + found.fallback_above
    # independent: the curves
    assert out == pytest.approx(limit.probability_recovered, abs=ROUNDING)
    assert out + back == pytest.approx(1.0, abs=ROUNDING)
    assert found.recovered_above + found.fallback_above <= 0.01 + ROUNDING
    weights = np.array(found.recovered) + np.array(found.fallback)
    assert weights.min() >= 0
    upto = np.cumsum(weights)
    for share, cost in ((0.1, limit.p10), (0.5, limit.p50), (0.9, limit.p90)):
        place = int(np.searchsorted(upto, share * (1 - 1e-6)))
        assert found.edges[place] * 0.995 <= cost <= found.edges[place + 1] * 1.005


def test_distribution_of_two_totals_by_hand() -> None:
    # by hand: 24,000 if the fish is out, which happens in 0.75, else 24,000 + 150,000 + 40,000
    answer = econ.answer(scenario(lump_job({"recovered": 0.75, "nothing": 0.25}), n=16))
    found = answer.totals
    bars = list(zip(found.edges[:-1], found.edges[1:], strict=True))
    for cost, weights, chance in (
        (24_000, found.recovered, 0.75),
        (214_000, found.fallback, 0.25),
    ):
        assert max(weights) == pytest.approx(chance)
        low, high = bars[weights.index(max(weights))]
        assert low * (1 - 1e-6) <= cost <= high * (1 + 1e-6)
        assert sum(weights) == pytest.approx(chance)


def test_a_total_that_is_sure_is_one_bar() -> None:
    free = {**lump_job({"recovered": 1.0}, hours=0.0), "rates": {"rig": 0}}
    for raw in (lump_job({"recovered": 1.0}), free):
        found = econ.answer(scenario(raw, n=16)).totals
        assert max(found.recovered) == pytest.approx(1.0)
        assert found.fallback_above == 0.0


def test_distribution_against_coin_flips() -> None:
    raw = read(SCENARIO_A)
    answer = econ.answer(scenario(raw, n=1024, scrambles=16))
    found = answer.totals
    flips = simulate(raw, n=200_000, limit_runs=answer.best, rng=np.random.default_rng(11))
    edges = np.array(found.edges)
    # independent; five standard errors of the flips, and 0.2 % of the cost at each edge
    for out, weights in ((True, found.recovered), (False, found.fallback)):
        costs = flips.total_cost[flips.recovered == out]
        upto = np.cumsum(weights)
        for edge, chance in zip(edges[1:], upto, strict=True):
            low, high = (float((costs <= edge * f).sum()) / 200_000 for f in (0.997, 1.003))
            error = 5 * np.sqrt(max(chance * (1 - chance), 1e-5) / 200_000)
            assert low - error <= chance <= high + error


# ---- timetable --------------------------------------------------------------------------------


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_timetable_of_a_demo_agrees_with_its_answer(path: Path) -> None:
    answer = demo(path)
    found = answer.timetable
    # independent: `econ.decision.next_run`, which knows only the hours of the whole run
    assert len(found.runs) == len(answer.ahead)
    for run, ahead in zip(found.runs, answer.ahead, strict=True):
        assert (run.run, run.name) == (ahead.run, ahead.name)
        assert run.end - run.start == pytest.approx(ahead.days)
        assert run.wait + run.trips + run.handling + run.work == pytest.approx(ahead.days)
    assert found.fallback is not None
    days = found.fallback.preparation + found.fallback.drilling
    assert days == pytest.approx(answer.fallbacks.taken.hours / 24)


def test_timetable_by_hand() -> None:
    raw = lump_job({"recovered": 0.5, "nothing": 0.5}, {"recovered": 0.5, "nothing": 0.5})
    raw["trip_speed"] = {"in": {"cased": 2_000, "open": 700}, "out": {"cased": 1_000, "open": 700}}
    trip: dict[str, Any] = {"make_up": 2, "circulate": 1, "work": 4, "lay_down": 1}
    first = copy.deepcopy(raw["run"][0])
    del first["hours"]
    raw["run"][0] = {**first, "wait": 3, "trips": [trip, trip]}
    raw["common"] = {"hours": 12}
    raw["recovery"] = {"hours": 36}
    found = econ.answer(scenario(raw, n=16)).timetable
    # by hand: to the fish top at 9,600 ft it is 4,000 ft cased and 5,600 ft open:
    # in 2 + 8 h, out 4 + 8 h, so 22 h a round trip
    first_run, second = found.runs
    hours = [24 * each for each in (first_run.wait, first_run.handling, first_run.trips)]
    assert hours == pytest.approx([3, 2 * 3, 2 * 22])
    assert 24 * first_run.work == pytest.approx(2 * 5)
    assert first_run.round_trips == 2
    assert (24 * first_run.start, 24 * first_run.end) == pytest.approx((12, 12 + 63))
    assert (24 * second.start, 24 * second.end) == pytest.approx((75, 75 + 24))
    assert (second.trips, second.round_trips) == (0, 0)
    assert found.recovery == pytest.approx(1.5)
    assert found.fallback is not None
    assert found.fallback.kickoff is None
    assert 24 * found.fallback.preparation == pytest.approx(100)


@pytest.mark.parametrize("outcome", ["recovered", "string_lost", "hole_lost", "part"])
def test_timetable_after_a_log(outcome: str) -> None:
    raw = read(SCENARIO_A)
    job = scenario(raw, n=16)
    log = logged(job, outcome)
    found = econ.answer(job, log).timetable
    assert (found.recovery is None) == (outcome in ("string_lost", "hole_lost"))
    assert (found.fallback is None) == (outcome == "recovered")
    sidetrack, fish, first = raw["fallback"][0], raw["fish"], raw["run"][0]
    # by hand from the rules of the model: above the fish, above the string, below the shoe
    expected = {
        "part": fish["top"] + first["part_length"] - sidetrack["kickoff_above_fish"],
        "string_lost": fish["top"] - first["string_length"] - sidetrack["kickoff_above_fish"],
        "hole_lost": raw["well"]["shoe_depth"] + sidetrack["kickoff_below_shoe"],
    }
    if found.fallback is not None:
        assert found.fallback.kickoff == pytest.approx(expected[outcome])
    assert len(found.runs) == (len(raw["run"]) - 1 if outcome == "part" else 0)
