"""Families against SciPy's own, closed forms worked by hand, and the published metalog."""

from __future__ import annotations

import math
import re
import subprocess
import sys
from collections.abc import Callable
from types import ModuleType
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy import optimize, stats
from scipy.special import ndtr

import econ.sampling
from econ.sampling import (
    BetaOdds,
    Discrete,
    Distribution,
    Lognormal,
    Metalog,
    Normal,
    Pert,
    Triangle,
    Uniform,
)

TAIL = 2.0**-31  # the outermost point that a draw can have
PROBABILITIES = np.concatenate([[TAIL, 1e-6], np.linspace(0.001, 0.999, 999), [1 - 1e-6, 1 - TAIL]])

# independent: SciPy's distribution of the same shape, and the spread that tolerances are set by.
# Pert(2, 3, 10): alpha = 1 + 4/8, beta = 1 + 28/8. Lognormal: s = ln 3 over the score of P90.
AGAINST_SCIPY: list[tuple[Distribution, Any, float]] = [
    (Uniform(low=2, high=5), stats.uniform(2, 3), 3),
    (Pert(low=2, likely=3, high=10), stats.beta(1.5, 4.5, 2, 8), 8),
    (Pert(low=2, likely=2, high=10), stats.beta(1, 5, 2, 8), 8),
    (Pert(low=-4, likely=6, high=6), stats.beta(5, 1, -4, 10), 10),
    (Triangle(low=2, likely=3, high=10), stats.triang(1 / 8, 2, 8), 8),
    (Triangle(low=2, likely=2, high=10), stats.triang(0, 2, 8), 8),
    (Triangle(low=2, likely=10, high=10), stats.triang(1, 2, 8), 8),
    (Normal(mean=8, sd=2), stats.norm(8, 2), 2),
    (Normal(mean=1, sd=2, least=0), stats.truncnorm(-0.5, np.inf, 1, 2), 2),
    (Normal(mean=1, sd=2, most=1.5), stats.truncnorm(-np.inf, 0.25, 1, 2), 2),
    (Normal(mean=1, sd=2, least=0, most=2), stats.truncnorm(-0.5, 0.5, 1, 2), 2),
    (Normal(mean=1, sd=2, least=9), stats.truncnorm(4, np.inf, 1, 2), 2),
    (Normal(mean=1, sd=2, least=7, most=8), stats.truncnorm(3, 3.5, 1, 2), 2),
    (Normal(mean=1, sd=2, most=-7), stats.truncnorm(-np.inf, -4, 1, 2), 2),
    (Lognormal(median=6, factor=3), stats.lognorm(math.log(3) / stats.norm.ppf(0.9), scale=6), 6),
    (BetaOdds(mean=0.3, weight=10), stats.beta(3, 7), 1),
    (BetaOdds(mean=0.05, weight=4), stats.beta(0.2, 3.8), 1),
    (BetaOdds(mean=0.5, weight=0.5), stats.beta(0.25, 0.25), 1),
    # Keelin 2016: with a3 = 0, here P50 midway, the metalog is the logistic distribution; its
    # scale is (P90 - P10) / (2 ln 9).
    (Metalog(p10=2, p50=5, p90=8), stats.logistic(5, 3 / math.log(9)), 3),
]
METALOGS = [
    Metalog(p10=2, p50=5, p90=14),
    Metalog(p10=2, p50=5, p90=14, least=0),
    Metalog(p10=2, p50=10, p90=13, most=15),
    Metalog(p10=2, p50=5, p90=14, least=1, most=20),
    Metalog(p10=2, p50=5, p90=14, least=15, most=16),
    Metalog(p10=2, p50=5, p90=14, most=1),
]


@pytest.mark.parametrize(("ours", "reference", "spread"), AGAINST_SCIPY)
def test_quantiles_and_mean_agree_with_scipy(
    ours: Distribution, reference: Any, spread: float
) -> None:
    tolerance = 1e-6 if isinstance(ours, Pert | BetaOdds) else 1e-7
    expected = reference.ppf(PROBABILITIES)
    assert ours.quantile(PROBABILITIES) == pytest.approx(expected, rel=1e-9, abs=tolerance * spread)
    assert ours.mean == pytest.approx(reference.mean(), rel=1e-9)
    assert ours.bounds == pytest.approx(reference.support())


@pytest.mark.parametrize("ours", [*(case[0] for case in AGAINST_SCIPY), *METALOGS])
def test_mean_is_the_integral_of_the_quantile_function(ours: Distribution) -> None:
    # independent: trapezoids over the normal score t, mean = integral of Q(Phi(t)) phi(t) dt
    t = np.linspace(-8.0, 8.0, 40_001)
    weighted = ours.quantile(ndtr(t)) * np.exp(-0.5 * t**2) / math.sqrt(2 * math.pi)
    assert ours.mean == pytest.approx(float(np.trapezoid(weighted, t)), rel=1e-6)


def test_pert_by_hand() -> None:
    # published: Malcolm et al. 1959, expected time (a + 4 m + b)/6 = (2 + 12 + 10)/6
    assert Pert(low=2, likely=3, high=10).mean == 4.0
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
    got = BetaOdds(mean=0.5, weight=1).quantile(PROBABILITIES)
    assert got == pytest.approx(expected, abs=1e-6)


def test_discrete_by_hand() -> None:
    # by hand: weights 1, 3, 6 in the order 2, 5, 9 make cumulative weights 0.1, 0.4, 1
    ours = Discrete(values=(9, 2, 5, 7), weights=(6, 1, 3, 0))
    assert ours.values == (2, 5, 9)
    assert ours.weights == pytest.approx((0.1, 0.3, 0.6))
    u = np.array([TAIL, 0.0999, 0.1, 0.1001, 0.3999, 0.4001, 1 - TAIL])
    assert ours.quantile(u).tolist() == [2, 2, 2, 5, 5, 9, 9]
    assert ours.mean == pytest.approx(0.2 + 1.5 + 5.4)
    assert ours.bounds == (2, 9)


def test_discrete_takes_the_highest_value_though_its_weights_round_below_one() -> None:
    # ten times 0.1 adds up to 0.9999999999999999 in floating point
    ours = Discrete(values=tuple(range(10)), weights=(0.1,) * 10)
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
        with pytest.raises(ValueError, match=r"no metalog joins the three unless p50 is between"):
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

    first, last = probability(ours.least, 0.0), probability(ours.most, 1.0)
    u = np.linspace(0.001, 0.999, 501)
    expected = whole.quantile(first + (last - first) * u)
    assert ours.quantile(u) == pytest.approx(expected, rel=1e-9)
    ends = ours.quantile(np.array([TAIL, 1 - TAIL]))
    assert ours.least <= ends[0]
    assert ends[1] <= ours.most


CONSTANTS: list[tuple[Distribution, float]] = [
    (Uniform(low=3, high=3), 3),
    (Pert(low=3, likely=3, high=3), 3),
    (Triangle(low=3, likely=3, high=3), 3),
    (Normal(mean=3, sd=0), 3),
    (Normal(mean=3, sd=0, least=3, most=4), 3),
    (Lognormal(median=3, factor=1), 3),
    (Metalog(p10=3, p50=3, p90=3), 3),
    (Discrete(values=(3,), weights=(2,)), 3),
    (BetaOdds(mean=0, weight=5), 0),
    (BetaOdds(mean=1, weight=5), 1),
]


@pytest.mark.parametrize(("ours", "amount"), CONSTANTS)
def test_no_spread_is_the_constant(ours: Distribution, amount: float) -> None:
    got = ours.quantile(PROBABILITIES)
    assert got.dtype == np.float64
    assert got.tolist() == [amount] * PROBABILITIES.size
    assert ours.mean == amount
    assert ours.bounds == (amount, amount)


REFUSED: list[tuple[Callable[[], Distribution], str]] = [
    (lambda: Uniform(low=5, high=3), r"Uniform\(low=5, high=3\): low 5 is above high 3: put"),
    (lambda: Uniform(low=math.nan, high=math.inf), "low must be a finite number, not nan; high"),
    (lambda: Pert(low=1, likely=9, high=8), "likely 9 is above high 8"),
    (lambda: Pert(low=5, likely=4, high=3), "low 5 is above likely 4.*; likely 4 is above high 3"),
    (lambda: Triangle(low=5, likely=4, high=8), "low 5 is above likely 4"),
    (lambda: Triangle(low=5, likely=math.inf, high=8), "likely must be a finite number, not inf"),
    (lambda: Normal(mean=1, sd=-1), r"Normal\(mean=1, sd=-1, .*sd -1 must not be negative"),
    (lambda: Normal(mean=1, sd=math.nan), "sd must be a finite number, not nan"),
    (lambda: Normal(mean=1, sd=1, least=4, most=4), "least 4 must be below most 4"),
    (lambda: Normal(mean=1, sd=1, least=math.nan), "leave them out where there is no limit"),
    (lambda: Normal(mean=1, sd=1, least=90), "from least 90 to most inf keeps less than 1e-06"),
    (lambda: Normal(mean=1, sd=0, least=2), "mean 1 with no spread must lie between least and"),
    (lambda: Lognormal(median=0, factor=2), "median 0 must be above zero"),
    (lambda: Lognormal(median=1, factor=0.9), "factor 0.9 must be at least 1: it is P90 over"),
    (lambda: Lognormal(median=1, factor=2e6), r"factor 2e\+06 must be at most a million"),
    (lambda: Metalog(p10=3, p50=2, p90=4), "p10 3 is above p50 2"),
    (lambda: Metalog(p10=2, p50=2, p90=4), r"between 2\.33316 and 3\.66684; move p50 or use"),
    (lambda: Metalog(p10=2, p50=3, p90=4, least=5, most=1), "least 5 must be below most 1"),
    (lambda: Metalog(p10=2, p50=3, p90=4, least=99), "from least 99 to most inf keeps less than"),
    (lambda: Metalog(p10=3, p50=3, p90=3, most=2), "p50 3 with no spread must lie between"),
    (lambda: Discrete(values=(1, 2), weights=(1,)), "2 values need as many weights, not 1"),
    (lambda: Discrete(values=(1, 2), weights=(1, -1)), "weights must not be negative"),
    (lambda: Discrete(values=(1, 2), weights=(0, 0)), "at least one weight must be above zero"),
    (lambda: Discrete(values=(), weights=()), "at least one weight must be above zero"),
    (lambda: Discrete(values=(math.inf,), weights=(1,)), "must be finite numbers"),
    (lambda: BetaOdds(mean=1.2, weight=4), "mean 1.2 must lie between 0 and 1"),
    (lambda: BetaOdds(mean=0.5, weight=0), "weight 0 must be above zero"),
    (lambda: BetaOdds(mean=0.5, weight=math.inf), "weight must be a finite number, not inf"),
]


@pytest.mark.parametrize(("build", "message"), REFUSED)
def test_impossible_parameters_are_refused(build: Callable[[], Distribution], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        build()


def _numbers(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(low, high, allow_nan=False, width=64)


def _ordered(count: int) -> st.SearchStrategy[list[float]]:
    return st.lists(_numbers(-1e6, 1e6), min_size=count, max_size=count).map(sorted)


FAMILIES: st.SearchStrategy[Distribution] = st.one_of(
    _ordered(2).map(lambda v: Uniform(low=v[0], high=v[1])),
    _ordered(3).map(lambda v: Pert(low=v[0], likely=v[1], high=v[2])),
    _ordered(3).map(lambda v: Triangle(low=v[0], likely=v[1], high=v[2])),
    st.builds(  # cut up to 4 sd above the middle; further out the cut is refused
        lambda mean, sd, score: Normal(mean=mean, sd=sd, least=mean + score * sd),
        _numbers(-5, 5),
        _numbers(1, 10),
        _numbers(-8, 4),
    ),
    st.builds(Lognormal, median=_numbers(1e-3, 1e6), factor=_numbers(1, 100)),
    st.builds(
        lambda place, width, least: Metalog(p10=0, p50=place * width, p90=width, least=least),
        _numbers(0.17, 0.83),
        _numbers(1, 1e6),
        _numbers(-1e3, 1),
    ),
    st.lists(st.tuples(_numbers(-1e6, 1e6), _numbers(0.01, 9)), min_size=1, max_size=6).map(
        lambda pairs: Discrete(
            values=tuple(v for v, _ in pairs), weights=tuple(w for _, w in pairs)
        )
    ),
    st.builds(BetaOdds, mean=_numbers(0, 1), weight=_numbers(1, 1000)),
)


@settings(max_examples=200, deadline=None)
@given(ours=FAMILIES, u=st.lists(_numbers(TAIL, 1 - TAIL), min_size=2, max_size=40).map(sorted))
def test_quantile_rises_with_u_inside_its_bounds(ours: Distribution, u: list[float]) -> None:
    got = ours.quantile(np.array(u))
    rounding = 1e-13 * float(np.abs(got).max())
    assert (np.diff(got) >= -rounding).all()
    low, high = ours.bounds
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
    got = BetaOdds(mean=mean, weight=weight).quantile(u)
    assert np.abs(got - expected).max() < 1e-6


def test_j_shaped_odds_keep_their_digits_far_above_the_median() -> None:
    # independent: for small x, I_x(a, b) = x^a / (a B(a, b)) to first order, at u = 1/2 about
    # 2^-64; SciPy's exact inverse agrees
    got = BetaOdds(mean=1 / 64, weight=1).quantile(np.array([0.5, 0.6]))
    assert got == pytest.approx(stats.beta(1 / 64, 63 / 64).ppf([0.5, 0.6]), rel=0.02, abs=0)


def test_beyond_the_table_the_inverse_is_exact() -> None:
    # independent: SciPy's exact inverse
    u = np.array([0.0, 1e-15, 0.5, 1.0 - 1e-12, 1.0])
    got = BetaOdds(mean=0.3, weight=10).quantile(u)
    assert got == pytest.approx(stats.beta(3, 7).ppf(u), rel=1e-9)


def test_values_are_frozen_equal_by_content_and_can_be_keys() -> None:
    assert Normal(mean=1, sd=2, least=0) == Normal(mean=1, sd=2, least=0)
    assert len({Pert(low=1, likely=2, high=3), Pert(low=1, likely=2, high=3)}) == 1
    with pytest.raises(AttributeError):
        Uniform(low=1, high=2).low = 0  # type: ignore[misc]
    assert repr(Normal(mean=1, sd=2)) == "Normal(mean=1, sd=2, least=-inf, most=inf)"


def test_every_family_names_its_source() -> None:
    for ours, _ in CONSTANTS:
        assert re.search(r"\b(19|20)\d\d\b", ours.source), ours


def test_inputs_are_not_changed() -> None:
    for ours in [*(case[0] for case in AGAINST_SCIPY), *METALOGS]:
        u = PROBABILITIES.copy()
        ours.quantile(u)
        assert (u == PROBABILITIES).all()


def test_all_is_exact() -> None:
    public = {
        name
        for name, value in vars(econ.sampling).items()
        if not name.startswith("_") and not isinstance(value, ModuleType)
    }
    assert sorted(public) == econ.sampling.__all__


def test_import_leaves_the_slow_parts_of_scipy_alone() -> None:
    code = "import sys, econ.sampling; sys.exit('scipy.stats' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
