"""Families against SciPy's own, closed forms worked by hand, and the published metalog."""

from __future__ import annotations

import math
import subprocess
import sys
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from pydantic import ValidationError
from scipy import optimize, stats
from scipy.special import ndtr, ndtri

import econ
from econ.scenario.amounts import ends_and_middle, ends_of, mean_of
from econ.scenario.distributions import (
    FAMILY,
    Beta,
    Discrete,
    Distribution,
    Lognormal,
    Metalog,
    Normal,
    Pert,
    Triangle,
    Uniform,
    inverse_beta,
    normal,
)

INF = math.inf
TAIL = 2.0**-31  # the outermost point that a draw can have
PROBABILITIES = np.concatenate([[TAIL, 1e-6], np.linspace(0.001, 0.999, 999), [1 - 1e-6, 1 - TAIL]])

# independent: SciPy's distribution of the same shape, and the spread that tolerances are set by.
# Pert(2, 3, 10): alpha = 1 + 4/8, beta = 1 + 28/8. Lognormal: s = ln 3 over the score of P90.
AGAINST_SCIPY: list[tuple[Distribution, Any, float]] = [
    (Uniform(low=2, high=5), stats.uniform(2, 3), 3),
    (Pert(low=2, likely=3, high=10), stats.beta(1.5, 4.5, 2, 8), 8),
    (Pert(low=2, likely=2, high=10), stats.beta(1, 5, 2, 8), 8),
    (Pert(low=-4, likely=6, high=6), stats.beta(5, 1, -4, 10), 10),
    (Triangle(low=2, likely=3, high=10, shape="triangle"), stats.triang(1 / 8, 2, 8), 8),
    (Triangle(low=2, likely=2, high=10, shape="triangle"), stats.triang(0, 2, 8), 8),
    (Triangle(low=2, likely=10, high=10, shape="triangle"), stats.triang(1, 2, 8), 8),
    (Normal(mean=8, sd=2), stats.norm(8, 2), 2),
    (Normal(mean=1, sd=2).within(least=0, most=INF), stats.truncnorm(-0.5, np.inf, 1, 2), 2),
    (Normal(mean=1, sd=2).within(least=-INF, most=1.5), stats.truncnorm(-np.inf, 0.25, 1, 2), 2),
    (Normal(mean=1, sd=2).within(least=0, most=2), stats.truncnorm(-0.5, 0.5, 1, 2), 2),
    (Normal(mean=1, sd=2).within(least=9, most=INF), stats.truncnorm(4, np.inf, 1, 2), 2),
    (Normal(mean=1, sd=2).within(least=7, most=8), stats.truncnorm(3, 3.5, 1, 2), 2),
    (Normal(mean=1, sd=2).within(least=-INF, most=-7), stats.truncnorm(-np.inf, -4, 1, 2), 2),
    (Lognormal(median=6, factor=3), stats.lognorm(math.log(3) / stats.norm.ppf(0.9), scale=6), 6),
    (Beta(mean=0.3, weight=10), stats.beta(3, 7), 1),
    (Beta(mean=0.05, weight=4), stats.beta(0.2, 3.8), 1),
    (Beta(mean=0.5, weight=0.5), stats.beta(0.25, 0.25), 1),
    # Keelin 2016: with a3 = 0, here P50 midway, the metalog is the logistic distribution; its
    # scale is (P90 - P10) / (2 ln 9).
    (Metalog(p10=2, p50=5, p90=8), stats.logistic(5, 3 / math.log(9)), 3),
]
METALOGS = [
    Metalog(p10=2, p50=5, p90=14),
    Metalog(p10=2, p50=5, p90=14).within(least=0, most=INF),
    Metalog(p10=2, p50=10, p90=13).within(least=-INF, most=15),
    Metalog(p10=2, p50=5, p90=14).within(least=1, most=20),
    Metalog(p10=2, p50=5, p90=14).within(least=15, most=16),
    Metalog(p10=2, p50=5, p90=14).within(least=-INF, most=1),
]


@pytest.mark.parametrize(("ours", "reference", "spread"), AGAINST_SCIPY)
def test_quantiles_and_mean_agree_with_scipy(
    ours: Distribution, reference: Any, spread: float
) -> None:
    tolerance = 1e-6 if isinstance(ours, Pert | Beta) else 1e-7
    expected = reference.ppf(PROBABILITIES)
    assert ours.quantile(PROBABILITIES) == pytest.approx(expected, rel=1e-9, abs=tolerance * spread)
    assert ours.expectation() == pytest.approx(reference.mean(), rel=1e-9)
    assert ours.bounds() == pytest.approx(reference.support())


@pytest.mark.parametrize("ours", [*(case[0] for case in AGAINST_SCIPY), *METALOGS])
def test_mean_is_the_integral_of_the_quantile_function(ours: Distribution) -> None:
    # independent: trapezoids over the normal score t, mean = integral of Q(Phi(t)) phi(t) dt
    t = np.linspace(-8.0, 8.0, 40_001)
    weighted = ours.quantile(ndtr(t)) * np.exp(-0.5 * t**2) / math.sqrt(2 * math.pi)
    assert ours.expectation() == pytest.approx(float(np.trapezoid(weighted, t)), rel=1e-6)


def test_pert_by_hand() -> None:
    # published: Malcolm et al. 1959, expected time (a + 4 m + b)/6 = (2 + 12 + 10)/6
    assert Pert(low=2, likely=3, high=10).expectation() == 4.0
    # likely = low makes Beta(1, 5), whose quantile has the closed form 1 - (1 - u)^(1/5)
    expected = 1 - (1 - PROBABILITIES) ** 0.2
    got = Pert(low=0, likely=0, high=1).quantile(PROBABILITIES)
    assert got == pytest.approx(expected, abs=1e-6)


def test_lognormal_factor_joins_the_percentiles() -> None:
    # by definition: P10 = 12/1.5, P50 = 12, P90 = 12 x 1.5
    got = Lognormal(median=12, factor=1.5).quantile(np.array([0.1, 0.5, 0.9]))
    assert got == pytest.approx([8, 12, 18], rel=1e-12)


def test_beta_odds_arcsine_law() -> None:
    # published: Beta(1/2, 1/2) is the arcsine law, quantile sin^2(pi u/2)
    expected = np.sin(np.pi * PROBABILITIES / 2) ** 2
    got = Beta(mean=0.5, weight=1).quantile(PROBABILITIES)
    assert got == pytest.approx(expected, abs=1e-6)


def test_discrete_by_hand() -> None:
    # by hand: weights 1, 3, 6 in the order 2, 5, 9 make cumulative weights 0.1, 0.4, 1
    ours = Discrete(values=[9, 2, 5, 7], weights=[6, 1, 3, 0])
    values, shares = ours.shares()
    assert values == (2, 5, 9)
    assert shares == pytest.approx((0.1, 0.3, 0.6))
    u = np.array([TAIL, 0.0999, 0.1, 0.1001, 0.3999, 0.4001, 1 - TAIL])
    assert ours.quantile(u).tolist() == [2, 2, 2, 5, 5, 9, 9]
    assert ours.expectation() == pytest.approx(0.2 + 1.5 + 5.4)
    assert ours.bounds() == (2, 9)


def test_discrete_takes_the_highest_value_though_its_weights_round_below_one() -> None:
    # ten times 0.1 adds up to 0.9999999999999999 in floating point
    ours = Discrete(values=[*range(10)], weights=[0.1] * 10)
    assert ours.quantile(np.array([1.0 - 2.0**-53, 1.0])).tolist() == [9, 9]


@pytest.mark.parametrize("p50", [4.1, 5, 8, 11.9])
def test_metalog_passes_its_three_percentiles(p50: float) -> None:
    # published: Keelin 2016, the symmetric percentile triplet is met exactly
    got = Metalog(p10=2, p50=p50, p90=14).quantile(np.array([0.1, 0.5, 0.9]))
    assert got == pytest.approx([2, p50, 14], rel=1e-12)


@pytest.mark.parametrize(
    ("position", "feasible"), [(0.1664, False), (0.1668, True), (0.8332, True), (0.8336, False)]
)
def test_metalog_feasibility_limit(position: float, feasible: bool) -> None:
    # published: Keelin 2016, P50 must lie k to 1 - k of the way from P10 to P90,
    # k = 0.5 (1 - 1.66711 (0.5 - 0.1)) = 0.166578
    # independent: the same three-term curve written out; its density is negative somewhere
    # exactly when the curve falls somewhere
    u = np.linspace(1e-4, 1 - 1e-4, 200_001)
    logit = np.log(u / (1 - u))
    a2, a3 = 0.5 / math.log(9), (1 - 2 * position) / (0.8 * math.log(9))
    assert bool((np.diff((a2 + a3 * (u - 0.5)) * logit) > 0).all()) is feasible
    if feasible:
        assert Metalog(p10=0, p50=position, p90=1).p50 == position
    else:
        with pytest.raises(ValueError, match=r"p10 = 0, p50 = "):
            Metalog(p10=0, p50=position, p90=1)


@pytest.mark.parametrize("ours", METALOGS[1:])
def test_cut_metalog_is_the_uncut_curve_between_its_limits(ours: Metalog) -> None:
    # independent: the probabilities at the limits by SciPy's root finder on the uncut curve
    whole = Metalog(p10=ours.p10, p50=ours.p50, p90=ours.p90)

    def probability(amount: float, unlimited: float) -> float:
        def gap(u: float) -> float:
            return float(whole.quantile(np.array([u]))[0]) - amount

        if math.isinf(amount):
            return unlimited
        return float(optimize.brentq(gap, 1e-12, 1 - 1e-12, xtol=1e-15))

    least, most = ours.bounds()
    first, last = probability(least, 0.0), probability(most, 1.0)
    u = np.linspace(0.001, 0.999, 501)
    expected = whole.quantile(first + (last - first) * u)
    assert ours.quantile(u) == pytest.approx(expected, rel=1e-9)
    ends = ours.quantile(np.array([TAIL, 1 - TAIL]))
    assert least <= ends[0]
    assert ends[1] <= most


CONSTANTS: list[tuple[Distribution, float]] = [
    (Uniform(low=3, high=3), 3),
    (Pert(low=3, likely=3, high=3), 3),
    (Triangle(low=3, likely=3, high=3, shape="triangle"), 3),
    (Normal(mean=3, sd=0), 3),
    (Normal(mean=3, sd=0).within(least=3, most=4), 3),
    (Lognormal(median=3, factor=1), 3),
    (Metalog(p10=3, p50=3, p90=3), 3),
    (Discrete(values=[3], weights=[2]), 3),
    (Beta(mean=0, weight=5), 0),
    (Beta(mean=1, weight=5), 1),
]


@pytest.mark.parametrize(("ours", "amount"), CONSTANTS)
def test_no_spread_is_the_constant(ours: Distribution, amount: float) -> None:
    got = ours.quantile(PROBABILITIES)
    assert got.dtype == np.float64
    assert got.tolist() == [amount] * PROBABILITIES.size
    assert ours.expectation() == mean_of(ours) == amount
    assert ours.bounds() == (amount, amount)


# the table of a file, and where in it and in which words it is refused
REFUSED: list[tuple[type[Distribution], dict[str, Any], str, str]] = [
    (Uniform, {"low": 5, "high": 3}, "low = 5, high = 3", "low <= high"),
    (Pert, {"low": 1, "likely": 9, "high": 8}, "likely = 9, high = 8", "low <= likely <= high"),
    (Metalog, {"p10": 3, "p50": 2, "p90": 4}, "p10 = 3, p50 = 2", "p10 <= p50 <= p90"),
    # by hand: k = 0.166578 of the way from 2 to 4, and as far from the other end
    (Metalog, {"p10": 2, "p50": 2, "p90": 4}, "p50 = 2", "p50 between 2.33316 and 3.66684"),
    (Discrete, {"values": [1, 2], "weights": [1]}, "2 values and 1 weights", "one weight for each"),
    (Discrete, {"values": [1, 2], "weights": [0, 0]}, "sum to 0", "a sum above 0"),
]


@pytest.mark.parametrize(("family", "table", "given", "allowed"), REFUSED)
def test_parameters_that_contradict_each_other_are_refused(
    family: type[Distribution], table: dict[str, Any], given: str, allowed: str
) -> None:
    with pytest.raises(ValidationError) as caught:
        family(**table)
    (error,) = caught.value.errors()
    assert given in error["ctx"]["given"]
    assert allowed in error["ctx"]["allowed"]


@pytest.mark.parametrize(
    ("family", "table", "where"),
    [
        (Uniform, {"low": math.nan, "high": 2}, "low"),
        (Triangle, {"low": 1, "likely": INF, "high": 2, "shape": "triangle"}, "likely"),
        (Normal, {"mean": 1, "sd": -1}, "sd"),
        (Lognormal, {"median": 0, "factor": 2}, "median"),
        (Lognormal, {"median": 1, "factor": 0.9}, "factor"),
        (Lognormal, {"median": 1, "factor": 2e6}, "factor"),
        (Discrete, {"values": [], "weights": [1]}, "values"),
        (Discrete, {"values": [1] * 101, "weights": [1]}, "values"),
        (Discrete, {"values": [1, 2], "weights": [1, -1]}, "weights"),
        (Beta, {"mean": 1.2, "weight": 4}, "mean"),
        (Beta, {"mean": 0.5, "weight": 0}, "weight"),
        (Beta, {"mean": 0.5, "weight": INF}, "weight"),
    ],
)
def test_parameter_out_of_its_range_is_refused(
    family: type[Distribution], table: dict[str, Any], where: str
) -> None:
    with pytest.raises(ValidationError) as caught:
        family(**table)
    assert {error["loc"][0] for error in caught.value.errors()} == {where}


@pytest.mark.parametrize(
    ("ours", "ends"),
    [
        (Normal(mean=1, sd=1), (90, INF)),
        (Normal(mean=1, sd=1), (4, 4)),
        (Normal(mean=1, sd=0), (2, INF)),
        (Metalog(p10=2, p50=3, p90=4), (99, INF)),
        (Metalog(p10=3, p50=3, p90=3), (-INF, 2)),
    ],
)
def test_a_cut_that_keeps_nothing_is_refused(ours: Distribution, ends: tuple[float, float]) -> None:
    with pytest.raises(ValueError, match="next to nothing of it lies from"):
        ours.within(least=ends[0], most=ends[1])


@pytest.mark.parametrize("ours", [*(case[0] for case in AGAINST_SCIPY), *METALOGS])
def test_another_unit_scales_amounts_mean_and_ends(ours: Distribution) -> None:
    if isinstance(ours, Beta):
        assert ours.scaled(3.0) == ours  # a chance has no unit
        return
    u = PROBABILITIES
    assert ours.scaled(3.0).quantile(u) == pytest.approx(3.0 * ours.quantile(u), rel=1e-12)
    assert ours.scaled(3.0).expectation() == pytest.approx(3.0 * ours.expectation(), rel=1e-12)
    assert ours.scaled(3.0).bounds() == tuple(3.0 * end for end in ours.bounds())


def test_a_number_is_its_own_mean_ends_and_middle() -> None:
    assert mean_of(7.0) == 7.0
    assert ends_of(7.0) == (7.0, 7.0)
    assert ends_and_middle(7.0) == (7.0, 7.0, 7.0)


@pytest.mark.parametrize("job", ["a_land_twist_off", "d_rented_tools"])
def test_mean_spread_is_the_exact_mean_of_the_rates(job: str) -> None:
    # independent: the mean of 2^16 draws of each rate by its quantile function, at the middles
    # of as many equal steps of probability
    u = (np.arange(2**16) + 0.5) / 2**16
    rates = econ.load(f"scenarios/{job}.toml").rates.values()
    assert any(isinstance(rate, Distribution) for rate in rates)
    sampled = sum(
        float(rate.quantile(u).mean()) if isinstance(rate, Distribution) else rate for rate in rates
    )
    assert sum(map(mean_of, rates)) == pytest.approx(sampled, rel=1e-6)


def _numbers(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(low, high, allow_nan=False, width=64)


def _ordered(count: int) -> st.SearchStrategy[list[float]]:
    return st.lists(_numbers(-1e6, 1e6), min_size=count, max_size=count).map(sorted)


FAMILIES: st.SearchStrategy[Distribution] = st.one_of(
    _ordered(2).map(lambda v: Uniform(low=v[0], high=v[1])),
    _ordered(3).map(lambda v: Pert(low=v[0], likely=v[1], high=v[2])),
    _ordered(3).map(lambda v: Triangle(low=v[0], likely=v[1], high=v[2], shape="triangle")),
    st.builds(  # cut up to 4 sd above the middle; further out the cut is refused
        lambda mean, sd, score: Normal(mean=mean, sd=sd).within(least=mean + score * sd, most=INF),
        _numbers(-5, 5),
        _numbers(1, 10),
        _numbers(-8, 4),
    ),
    st.builds(Lognormal, median=_numbers(1e-3, 1e6), factor=_numbers(1, 100)),
    st.builds(
        lambda place, width, least: Metalog(p10=0, p50=place * width, p90=width).within(
            least=least, most=INF
        ),
        _numbers(0.17, 0.83),
        _numbers(1, 1e6),
        _numbers(-1e3, 1),
    ),
    st.lists(st.tuples(_numbers(-1e6, 1e6), _numbers(0.01, 9)), min_size=1, max_size=6).map(
        lambda pairs: Discrete(values=[v for v, _ in pairs], weights=[w for _, w in pairs])
    ),
    st.builds(Beta, mean=_numbers(0, 1), weight=_numbers(1, 1000)),
)


@settings(max_examples=200, deadline=None)
@given(ours=FAMILIES, u=st.lists(_numbers(TAIL, 1 - TAIL), min_size=2, max_size=40).map(sorted))
def test_quantile_rises_with_u_inside_its_bounds(ours: Distribution, u: list[float]) -> None:
    got = ours.quantile(np.array(u))
    rounding = 1e-13 * float(np.abs(got).max())
    assert (np.diff(got) >= -rounding).all()
    low, high = ours.bounds()
    assert low - rounding <= got.min()
    assert got.max() <= high + rounding


def _scores() -> NDArray[np.float64]:
    rng = np.random.default_rng(5)
    return np.concatenate([[TAIL, 1 - TAIL], ndtr(rng.uniform(-6.2, 6.2, 3000))])


@pytest.mark.parametrize(
    "likely", [0, 1e-9, 1e-4, 0.01, 0.1, 0.25, 0.37, 0.5, 0.7, 0.9, 0.999, 1 - 1e-7, 1]
)
def test_pert_table_error(likely: float) -> None:
    # independent: SciPy's exact inverse between the nodes of the table
    u = _scores()
    expected = stats.beta(1 + 4 * likely, 5 - 4 * likely).ppf(u)
    got = Pert(low=0, likely=likely, high=1).quantile(u)
    assert np.abs(got - expected).max() < 1e-6


@pytest.mark.parametrize("weight", [0.01, 0.3, 0.999, 1, 1.5, 4, 25, 200, 1000])
@pytest.mark.parametrize("mean", [1e-6, 0.001, 0.005, 0.05, 0.3, 0.5, 0.8, 0.97, 0.9995])
def test_beta_odds_table_error(mean: float, weight: float) -> None:
    # independent: SciPy's exact inverse between the nodes of the table
    u = _scores()
    expected = stats.beta(mean * weight, (1 - mean) * weight).ppf(u)
    got = Beta(mean=mean, weight=weight).quantile(u)
    assert np.abs(got - expected).max() < 1e-6


def test_j_shaped_odds_keep_their_digits_far_above_the_median() -> None:
    # independent: for small x, I_x(a, b) = x^a / (a B(a, b)) to first order, at u = 1/2 about
    # 2^-64; SciPy's exact inverse agrees
    got = Beta(mean=1 / 64, weight=1).quantile(np.array([0.5, 0.6]))
    assert got == pytest.approx(stats.beta(1 / 64, 63 / 64).ppf([0.5, 0.6]), rel=0.02, abs=0)


def test_beyond_the_table_the_inverse_is_exact() -> None:
    # independent: SciPy's exact inverse
    u = np.array([0.0, 1e-15, 0.5, 1.0 - 1e-12, 1.0])
    got = Beta(mean=0.3, weight=10).quantile(u)
    assert got == pytest.approx(stats.beta(3, 7).ppf(u), rel=1e-9)


def test_normal_function_and_its_inverse() -> None:
    # independent: SciPy's, in the relative error of either tail
    x = np.concatenate([np.linspace(-9.0, 9.0, 3001), [-38.0, -INF, INF]])
    assert normal.ndtr(x[:3001]) == pytest.approx(ndtr(x[:3001]), rel=1e-12, abs=0)
    assert normal.ndtr(x[3001:]) == pytest.approx([0.0, 0.0, 1.0], abs=1e-300)
    u = np.concatenate([10.0 ** -np.linspace(0.001, 300.0, 3001), 1.0 - 10.0 ** -np.arange(1, 15)])
    assert normal.ndtri(u) == pytest.approx(ndtri(u), rel=1e-13, abs=1e-15)
    assert normal.ndtri(np.array([0.0, 0.5, 1.0])).tolist() == [-INF, 0.0, INF]


@pytest.mark.parametrize(
    ("alpha", "beta"),
    [(0.02, 1.2), (0.11, 10.9), (2, 9), (30, 0.5), (3e3, 7e3), (1e-6, 1), (1e7, 3)],
)
def test_nodes_of_the_table_are_exact(alpha: float, beta: float) -> None:
    # independent: SciPy's distribution function, which gives the score of a node back
    h = 2.0 * inverse_beta.REACH / inverse_beta.CELLS
    x, _ = inverse_beta._nodes(h, alpha=alpha, beta=beta)
    t = h * (np.arange(x.size) - x.size // 2)
    inside = (x > 1e-290) & (x < 0.9)
    assert stats.beta(alpha, beta).cdf(x[inside]) == pytest.approx(ndtr(t[inside]), rel=1e-9)


def test_values_are_frozen_and_equal_by_content() -> None:
    cut = Normal(mean=1, sd=2).within(least=0, most=INF)
    assert cut == Normal(mean=1, sd=2).within(least=0, most=INF)
    assert cut != Normal(mean=1, sd=2)
    assert cut.within(least=0, most=INF) is cut
    with pytest.raises(ValidationError, match="frozen"):
        Uniform(low=1, high=2).low = 0  # type: ignore[misc]


def test_inputs_are_not_changed() -> None:
    for ours in [*(case[0] for case in AGAINST_SCIPY), *METALOGS]:
        u = PROBABILITIES.copy()
        ours.quantile(u)
        assert (u == PROBABILITIES).all()


def test_a_scenario_is_read_without_arrays() -> None:
    # what `econ check` needs is neither NumPy nor SciPy
    code = (
        "import sys, econ.scenario; econ.scenario.load('scenarios/d_rented_tools.toml');"
        "sys.exit('numpy' in sys.modules or 'scipy' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_the_family_is_whole() -> None:
    assert set(FAMILY) == {type(case[0]) for case in AGAINST_SCIPY} | {Discrete}
