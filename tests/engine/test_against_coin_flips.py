"""The engine against the coin-flip Monte Carlo, with ranges on the inputs.

Every expected number is independent: one job a trial, every coin flipped, amounts drawn by other
code. The standard errors of both sides are added in squares and three are allowed, a little more
where many comparisons are made at once; seeds are fixed. Errors of percentiles come from order
statistics: with s = sqrt(share (1 - share) / trials) the shares share - s and share + s are
about two errors apart.
"""

from __future__ import annotations

import copy
from functools import cache

import numpy as np
import pytest
from raw_jobs import DEMO_A, SCENARIO_A, Table, lump_job, read, scenario, walked
from reference import coin_flip
from reference.coin_flip import CoinFlips

import econ
from econ.decision.answer import RunLimit
from econ.engine.curves import Curves

TRIALS = 100_000
ERRORS = 3.0


def uncertain_a() -> Table:
    """Scenario A with every form of an amount in it."""
    raw = read(SCENARIO_A)
    raw["rates"] = {
        "rig": {"low": 45_000, "high": 61_000},
        "fuel": {"median": 5_000, "factor": 1.4},
    }
    raw["trip_speed"]["in"]["open"] = {"low": 1_000, "likely": 1_300, "high": 1_600}
    raw["trip_speed"]["out"]["open"] = {"mean": 1_200, "sd": 120}
    raw["fishing"].update(
        workable={"mean": 0.7, "weight": 6},
        mobilization={"values": [5_000, 9_500, 30_000], "weights": [1, 2, 1]},
        damaged_top_factor={"low": 0.3, "high": 0.9},
        odds_ratio_per_day={"low": 0.8, "likely": 0.95, "high": 1.0, "shape": "triangle"},
        hole_lost_string_share={"mean": 0.8, "weight": 5},
    )
    raw["fish"]["piece"][1]["value"] = {"p10": 150_000, "p50": 239_000, "p90": 360_000}
    for number, run in enumerate(raw["run"]):
        run["trips"][0]["work"] = {"median": 3.0 + number, "factor": 1.8}
        run["wait"] = {"values": [0, 12], "weights": [3, 1]}
        run["charge"] = {"low": 4_000, "high": 30_000}
        run["part_length"] = {"low": 30, "likely": 90, "high": 400}
        run["string_length"] = {"low": 200, "high": 900}
        for odds in run["odds"].values():
            odds["weight"] = 5
    raw["recovery"].update(
        hours={"mean": 34, "sd": 10}, charge={"median": 40_000, "factor": 1.5}, fishing_share=0.4
    )
    raw["common"] = {"hours": {"low": 0, "high": 20}, "cost": {"low": 0, "high": 9_000}}
    raw["fallback"][0].update(
        woc={"low": 12, "likely": 24, "high": 30},
        gross_rop={"low": 24, "likely": 36, "high": 55},
        kickoff_above_fish={"low": 150, "high": 400},
        kickoff_rate={"low": 1.2, "high": 3},
        bit_life={"values": [350, 700, 1_400], "weights": [1, 1, 1]},
        kickoff_failure={"mean": 0.25, "weight": 8},
        stick_again={"chance": {"mean": 0.1, "weight": 6}, "cost": {"low": 1e5, "high": 5e5}},
        lost_in_hole_share={"low": 0.5, "high": 1.0},
    )
    return raw


def demo_a() -> Table:
    """The demo scenario; the coin flips know no correlation."""
    raw = read(DEMO_A)
    del raw["correlation"]
    return raw


def one_kind() -> Table:
    """One uncertain table of odds a run, plain hours, a lump fallback, a required run."""
    odds = [
        {"recovered": p, "part": 0.2, "nothing": 0.6 - p, "top_damaged": 0.15, "hole_lost": 0.05}
        for p in (0.45, 0.4, 0.3)
    ]
    raw = lump_job(*[{**table, "weight": 3} for table in odds], part_length=120, string_value=9e4)
    for run in raw["run"]:
        run.update(hours={"median": 20, "factor": 2}, wait={"low": 0, "high": 10})
    raw["limits"] = {"minimum_runs": 1}
    raw["fishing"]["damaged_top_factor"] = 0.1
    raw["rates"]["rig"] = {"low": 18_000, "likely": 22_000, "high": 40_000}
    raw["fallback"][0].update(
        hours={"mean": 100, "sd": 40},
        value_given_up={"p10": 30_000, "p50": 40_000, "p90": 60_000},
        lost_in_hole_share={"values": [0.5, 1.0], "weights": [1, 3]},
    )
    return raw


JOBS = {"uncertain A": uncertain_a, "demo A": demo_a, "one kind": one_kind}


@cache
def found(name: str) -> Curves:
    return walked(JOBS[name](), n=1024)


@cache
def rows(name: str) -> tuple[RunLimit, ...]:
    return econ.answer(scenario(JOBS[name](), n=1024)).by_runs


def flips(name: str, *, seed: int, **limits: float) -> CoinFlips:
    raw = copy.deepcopy(JOBS[name]())
    rng = np.random.default_rng(seed)
    return coin_flip.simulate(raw, n=TRIALS, rng=rng, **limits)  # type: ignore[arg-type]


def apart(value: float, error: float, sample: np.ndarray) -> float:
    """Distance of a number from the mean of a sample, in standard errors of the difference."""
    own = float(np.std(sample, ddof=1)) / sample.size**0.5
    return abs(value - float(np.mean(sample))) / float(np.hypot(error, own))


@pytest.mark.parametrize(
    ("name", "limit"),
    [
        *[("uncertain A", n) for n in (0, 1, 2, 3, 5)],
        *[("demo A", n) for n in (0, 3)],
        *[("one kind", n) for n in (1, 3)],
    ],
)
def test_limit_by_runs(name: str, limit: int) -> None:
    trials = flips(name, seed=1_000 + limit, limit_runs=limit)
    row = rows(name)[limit]
    assert apart(row.expected_cost, row.standard_error, trials.total_cost) < ERRORS
    if trials.recovered.any():
        chances = found(name).recovered[:, limit]
        error = float(chances.std(ddof=1)) / len(chances) ** 0.5
        assert apart(row.probability_recovered, error, trials.recovered) < ERRORS
    else:
        assert row.probability_recovered == 0.0
    for share, cost, error in (
        (0.1, row.p10, row.p10_error),
        (0.5, row.p50, row.p50_error),
        (0.9, row.p90, row.p90_error),
    ):
        step = (share * (1 - share) / TRIALS) ** 0.5
        low, middle, high = np.quantile(trials.total_cost, [share - step, share, share + step])
        own = 0.5 * (high - low)
        assert abs(cost - middle) < ERRORS * np.hypot(own, error), share


@pytest.mark.parametrize(
    ("name", "days"),
    [("uncertain A", 1.0), ("uncertain A", 4.0), ("demo A", 3.0), ("one kind", 2.0)],
)
def test_limit_by_days(name: str, days: float) -> None:
    curve = found(name)
    place = int(np.argmin(np.abs(curve.grid - days)))
    assert curve.grid[place] == pytest.approx(days)
    trials = flips(name, seed=77, limit_days=float(curve.grid[place]))
    for values, sample in (
        (curve.by_days_cost[:, place], trials.total_cost),
        (curve.by_days_recovered[:, place], trials.recovered),
    ):
        error = float(values.std(ddof=1)) / len(values) ** 0.5
        assert apart(float(values.mean()), error, sample) < ERRORS


def test_means_given_recovery_and_given_the_fallback() -> None:
    trials = flips("uncertain A", seed=5, limit_runs=3)
    row = rows("uncertain A")[3]
    assert row.cost_if_recovered is not None
    assert row.cost_if_fallback is not None
    back = trials.total_cost[trials.recovered]
    not_back = trials.total_cost[~trials.recovered]
    assert apart(row.cost_if_recovered, 2 * row.standard_error, back) < ERRORS
    assert apart(row.cost_if_fallback, 2 * row.standard_error, not_back) < ERRORS
