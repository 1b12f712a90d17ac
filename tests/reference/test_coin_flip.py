"""Hold the coin flips to the exact tree, and their draws to closed forms.

Every expected number here is independent: the outcome tree at the same fixed inputs (which shares
the formulas of a single run and fallback, but neither the odds nor the walk), or a closed form.
Seeds are fixed; three standard errors of the sample are allowed.
"""

import copy
import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy import stats

from . import coin_flip, outcome_tree
from .coin_flip import Floats
from .job import Table

SCENARIO_A = Path(__file__).parents[1] / "data" / "scenario_a_check.toml"
N = 100_000


@pytest.fixture
def scenario_a() -> Table:
    with SCENARIO_A.open("rb") as file:
        return tomllib.load(file)


def within_three_errors(sample: Any, expected: float) -> bool:
    """Return whether the mean of `sample` is within three standard errors of `expected`."""
    values = np.asarray(sample, dtype=float)
    error = values.std(ddof=1) / np.sqrt(values.size)
    return bool(abs(values.mean() - expected) <= 3.0 * error + 1e-9 * abs(expected))


def agree(scenario: Table, *, seed: int, **limits: float) -> None:
    exact = outcome_tree.limit(scenario, **limits)  # type: ignore[arg-type]
    rng = np.random.default_rng(seed)
    flips = coin_flip.simulate(scenario, n=N, rng=rng, **limits)  # type: ignore[arg-type]
    assert within_three_errors(flips.total_cost, exact.expected_cost)
    assert within_three_errors(flips.recovered, exact.probability_recovered)
    points = sorted((point.cost, point.probability) for point in exact.end_points)
    for share in (0.1, 0.3, 0.5, 0.7, 0.9, 0.99):
        # a dollar above the percentile, so that rounding cannot put a trial on the other side
        threshold = exact.percentile(share) + 1.0
        not_exceeded = sum(probability for cost, probability in points if cost <= threshold)
        assert within_three_errors(flips.total_cost <= threshold, not_exceeded), share


@pytest.mark.parametrize("limit_runs", range(6))
def test_coin_flips_agree_with_the_tree_by_runs(scenario_a: Table, limit_runs: int) -> None:
    agree(scenario_a, seed=100 + limit_runs, limit_runs=limit_runs)


@pytest.mark.parametrize("limit_days", [0.5, 3.0, 4.0, 5.5, 20.0])
def test_coin_flips_agree_with_the_tree_by_days(scenario_a: Table, limit_days: float) -> None:
    agree(scenario_a, seed=7, limit_days=limit_days)


def test_coin_flips_agree_where_every_rule_is_at_work(scenario_a: Table) -> None:
    scenario = copy.deepcopy(scenario_a)
    scenario["fishing"].update(
        odds_ratio_per_day=0.85, damaged_top_factor=0.35, hole_lost_string_share=0.6
    )
    scenario["common"] = {"hours": 18, "cost": 12_000}
    scenario["limits"] = {"minimum_runs": 2}
    for run in scenario["run"]:
        for odds in run["odds"].values():
            odds["top_damaged"] += odds["nothing"] / 2
            odds["nothing"] /= 2
    scenario["run"][1]["dresses_top"] = False
    agree(scenario, seed=21, limit_days=4.0)
    agree(scenario, seed=22)


def test_one_table_of_odds_means_one_kind_of_fish(scenario_a: Table) -> None:
    scenario = copy.deepcopy(scenario_a)
    for run in scenario["run"]:
        run["odds"] = run["odds"]["workable"]
    del scenario["fishing"]["workable"]
    agree(scenario, seed=31)
    scenario_a["fishing"]["workable"] = 1.0
    assert outcome_tree.limit(scenario).expected_cost == pytest.approx(
        outcome_tree.limit(scenario_a).expected_cost
    )


def test_uncertain_odds_keep_the_mean(scenario_a: Table) -> None:
    # Each table is used once in a trial and the cost is linear in its odds, so Beta odds with the
    # same mean leave the expected cost where it was.
    exact = outcome_tree.limit(scenario_a)
    scenario = copy.deepcopy(scenario_a)
    for run in scenario["run"]:
        for odds in run["odds"].values():
            odds["weight"] = 4
    flips = coin_flip.simulate(scenario, n=N, rng=np.random.default_rng(41))
    assert within_three_errors(flips.total_cost, exact.expected_cost)
    assert within_three_errors(flips.recovered, exact.probability_recovered)


def test_beta_odds_and_their_rest() -> None:
    table = {"recovered": 0.3, "nothing": 0.5, "part": 0.2, "weight": 10}
    odds = coin_flip.draw_odds(table, n=N, rng=np.random.default_rng(43))
    assert odds.sum(axis=0) == pytest.approx(np.ones(N))
    assert odds[2] / odds[1] == pytest.approx(np.full(N, 2.5))  # nothing : part stays 0.5 : 0.2
    assert stats.kstest(odds[0], stats.beta(3, 7).cdf).pvalue > 0.001


def test_ranges_on_rates_and_charges_keep_the_mean(scenario_a: Table) -> None:
    # The cost is linear in rates, charges and tool values, so only their means count:
    # (40 + 66) / 2 = 53; (2400 + 4 x 4200 + 6000) / 6 = 4200; (0 + 95 + 190) / 3 = 95
    exact = outcome_tree.limit(scenario_a)
    scenario = copy.deepcopy(scenario_a)
    scenario["rates"]["rig"] = {"low": 40_000, "high": 66_000}
    scenario["run"][0]["charge"] = {"low": 2_400, "likely": 4_200, "high": 6_000}
    for run in scenario["run"]:
        run["string_value"] = {"low": 0, "likely": 95_000, "high": 190_000, "shape": "triangle"}
    before = copy.deepcopy(scenario)
    flips = coin_flip.simulate(scenario, n=N, rng=np.random.default_rng(51))
    assert within_three_errors(flips.total_cost, exact.expected_cost)
    assert scenario == before


def test_an_amount_is_drawn_once_and_shared() -> None:
    day = {"hours": 24, "odds": {"nothing": 1.0}}
    scenario = {
        "rates": {"rig": {"low": 10.0, "high": 20.0}},
        "fish": {"top": 900, "bottom": 1_000},
        "common": {"hours": 24},
        "run": [day, day],
        "fallback": [{"hours": 24, "cost": 0}],
    }
    flips = coin_flip.simulate(scenario, n=N, rng=np.random.default_rng(61))
    # four days at one rig rate: uniform from 40 to 80; four separate rates would not be
    assert stats.kstest(flips.total_cost, stats.uniform(40, 40).cdf).pvalue > 0.001


def metalog_quantiles(p10: float, p50: float, p90: float) -> Floats:
    """Return metalog quantiles on a grid of u, from the linear system of the three points."""
    u = np.array([0.1, 0.5, 0.9])
    log_odds = np.log(u / (1 - u))
    basis = np.column_stack([np.ones(3), log_odds, (u - 0.5) * log_odds])
    a = np.linalg.solve(basis, np.array([p10, p50, p90]))
    grid = (np.arange(N) + 0.5) / N
    grid_log_odds = np.log(grid / (1 - grid))
    quantiles: Floats = a[0] + a[1] * grid_log_odds + a[2] * (grid - 0.5) * grid_log_odds
    return quantiles


@pytest.mark.parametrize(
    ("table", "reference"),
    [
        ({"low": 2, "high": 5}, stats.uniform(2, 3)),
        # mode 4 of 2 to 10: a = 1 + 4 x 2/8 = 2, b = 1 + 4 x 6/8 = 4
        ({"low": 2, "likely": 4, "high": 10}, stats.beta(2, 4, loc=2, scale=8)),
        (
            {"low": 2, "likely": 4, "high": 10, "shape": "triangle"},
            stats.triang(0.25, loc=2, scale=8),
        ),
        ({"mean": 1, "sd": 1}, stats.truncnorm(-1, np.inf, loc=1, scale=1)),
        # ln(P90 / median) = 1.2815515655446004 sigma
        (
            {"median": 30, "factor": 1.5},
            stats.lognorm(np.log(1.5) / 1.2815515655446004, scale=30),
        ),
        ({"mean": 0.7, "weight": 10}, stats.beta(7, 3)),
    ],
)
def test_draws_follow_their_distribution(table: Table, reference: Any) -> None:
    drawn = coin_flip.draw(table, n=N, rng=np.random.default_rng(71))
    assert drawn is not None
    assert stats.kstest(drawn, reference.cdf).pvalue > 0.001


def test_metalog_draws() -> None:
    table = {"p10": 10.0, "p50": 16.0, "p90": 30.0}
    drawn = coin_flip.draw(table, n=N, rng=np.random.default_rng(73))
    assert drawn is not None
    assert stats.ks_2samp(drawn, metalog_quantiles(10.0, 16.0, 30.0)).pvalue > 0.001
    for share, expected in ((0.1, 10.0), (0.5, 16.0), (0.9, 30.0)):
        assert within_three_errors(drawn <= expected, share)


def test_discrete_draws() -> None:
    table = {"values": [1, 2, 7], "weights": [2, 1, 1]}
    drawn = coin_flip.draw(table, n=N, rng=np.random.default_rng(77))
    assert drawn is not None
    for value, share in ((1, 0.5), (2, 0.25), (7, 0.25)):
        assert within_three_errors(drawn == value, share)


def test_unknown_shape_is_refused() -> None:
    table = {"low": 1, "likely": 2, "high": 3, "shape": "square"}
    with pytest.raises(ValueError, match="shape 'square' is not covered"):
        coin_flip.draw(table, n=1, rng=np.random.default_rng(0))
    assert coin_flip.draw({"chance": 0.1, "cost": 1}, n=1, rng=np.random.default_rng(0)) is None
