"""Published decision problems put through the project's decision analysis.

Grades: A regulation, standard, textbook or society paper; B trade page or training text.
The project counts costs, so a profit enters with its sign turned.
"""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest

from econ.decision import value_of_information
from econ.decision.value_of_information import certainty_equivalent, evpi, posterior

LEAVE = [0.0, 0.0, 0.0]

# Drill or not with two uncertainties, k$. Grade A: user guide of a general statistics system,
# decision-tree chapter. 155 and -13.58 are printed there; 140, 10 and 40.1 are recomputed.
COSTS, COST_CHANCES = np.array([150.0, 300.0, 500.0]), np.array([0.2, 0.6, 0.2])
DEPOSITS, DEPOSIT_CHANCES = np.array([0.0, 700.0, 1200.0]), np.array([0.5, 0.3, 0.2])
SOUNDING = [[0.6, 0.3, 0.1], [0.3, 0.4, 0.3], [0.1, 0.4, 0.5]]  # none, open, closed


def test_drilling_is_worth_140() -> None:
    # published (recomputed): a tolerance so wide that risk no longer counts
    # leaves the plain mean
    sure = certainty_equivalent(
        values=[value - cost for value, cost in product(DEPOSITS, COSTS)],
        chances=[p * q for p, q in product(DEPOSIT_CHANCES, COST_CHANCES)],
        risk_tolerance=1e9,
    )
    assert sure == pytest.approx(140.0, abs=0.001)


def test_perfect_information_on_the_deposit_is_worth_155() -> None:
    # published (printed)
    drill = COSTS @ COST_CHANCES - DEPOSITS
    worth = evpi(prior=DEPOSIT_CHANCES, cost=[drill, LEAVE])
    assert worth == pytest.approx(155.0, abs=1e-9)


def test_perfect_information_on_the_cost_is_worth_10() -> None:
    # published (recomputed)
    drill = COSTS - DEPOSITS @ DEPOSIT_CHANCES
    worth = evpi(prior=COST_CHANCES, cost=[drill, LEAVE])
    assert worth == pytest.approx(10.0, abs=1e-9)


def test_certainty_equivalent_with_exponential_utility() -> None:
    # published (printed): -13.58 at a risk tolerance of 700
    sure = certainty_equivalent(
        values=[value - cost for value, cost in product(DEPOSITS, COSTS)],
        chances=[p * q for p, q in product(DEPOSIT_CHANCES, COST_CHANCES)],
        risk_tolerance=700.0,
    )
    assert sure == pytest.approx(-13.58, abs=0.005)


def test_sounding_is_worth_less_than_its_price_of_60() -> None:
    # published (recomputed): 40.1 before its price
    drill = COSTS @ COST_CHANCES - DEPOSITS
    worth = value_of_information.evsi(
        prior=DEPOSIT_CHANCES, cost=[drill, LEAVE], likelihood=SOUNDING
    )
    assert worth == pytest.approx(40.1, abs=0.05)
    assert worth < 60.0


# Wildcatter. Grade A: Samuelson & Marks, Managerial Economics, ch. 13. Erratum: the expected
# value after "bad" is printed as 40; it is -40 (the sign is lost).
WET_OR_DRY, DRILL = [0.4, 0.6], [-600.0, 200.0]
TEST_GIVEN_STATE = [[0.3 / 0.4, 0.1 / 0.4], [0.2 / 0.6, 0.4 / 0.6]]  # good, bad


def test_perfect_test_is_worth_120() -> None:
    # published
    worth = evpi(prior=WET_OR_DRY, cost=[DRILL, [0.0, 0.0]])
    assert worth == pytest.approx(120.0, abs=1e-9)


def test_imperfect_test_is_worth_20() -> None:
    # published: P(good) .5, P(wet|good) .6, P(wet|bad) .2
    after = posterior(prior=WET_OR_DRY, likelihood=TEST_GIVEN_STATE)
    assert after[0] == pytest.approx([0.6, 0.2], abs=1e-12)
    drilled = -(np.array(DRILL) @ after)
    assert drilled == pytest.approx([280.0, -40.0], abs=1e-9)  # erratum above
    assert np.maximum(drilled, 0.0) @ [0.5, 0.5] == pytest.approx(140.0, abs=1e-9)
    worth = value_of_information.evsi(
        prior=WET_OR_DRY, cost=[DRILL, [0.0, 0.0]], likelihood=TEST_GIVEN_STATE
    )
    assert worth == pytest.approx(20.0, abs=1e-9)


def test_test_that_changes_no_action_is_worth_exactly_nothing() -> None:
    # published: joint good-wet .1, good-dry .1, bad-wet .3, bad-dry .5,
    # hence 200 after good, 100 after bad and 120 overall: drill whatever the test says
    likelihood = [[0.1 / 0.4, 0.3 / 0.4], [0.1 / 0.6, 0.5 / 0.6]]
    after = posterior(prior=WET_OR_DRY, likelihood=likelihood)
    assert -(np.array(DRILL) @ after) == pytest.approx([200.0, 100.0], abs=1e-9)
    worth = value_of_information.evsi(
        prior=WET_OR_DRY, cost=[DRILL, [0.0, 0.0]], likelihood=likelihood
    )
    assert worth == pytest.approx(0.0, abs=1e-12)


# Drill or sell the land, k$. Grade A: Hillier & Lieberman, Introduction to Operations Research,
# decision-analysis chapter. The answers are from memory and recomputed.
OIL_OR_DRY = [0.25, 0.75]
DRILL_OR_SELL = [[100.0 - 800.0, 100.0], [-90.0, -90.0]]
SURVEY = [[0.6, 0.4], [0.2, 0.8]]  # favourable, unfavourable


def test_perfect_information_beside_a_certain_sale_is_worth_142_5() -> None:
    # published
    worth = evpi(prior=OIL_OR_DRY, cost=DRILL_OR_SELL)
    assert worth == pytest.approx(142.5, abs=1e-9)


def test_survey_is_worth_53_and_leaves_123() -> None:
    # published: P(fav) .3, P(oil|fav) .5, P(oil|unf) 1/7; the survey costs 30
    after = posterior(prior=OIL_OR_DRY, likelihood=SURVEY)
    assert after[0] == pytest.approx([0.5, 1 / 7])
    worth = value_of_information.evsi(prior=OIL_OR_DRY, cost=DRILL_OR_SELL, likelihood=SURVEY)
    assert worth == pytest.approx(53.0, abs=1e-9)
    without = -(np.array(DRILL_OR_SELL) @ OIL_OR_DRY).min()  # 100, the best without a survey
    assert without + worth - 30.0 == pytest.approx(123.0, abs=1e-9)


def test_bayes_rule() -> None:
    # published (grade B, a course solution): P(O) .3, P(+|O) .9, P(+|not O) .3
    after = posterior(prior=[0.3, 0.7], likelihood=[[0.9, 0.1], [0.3, 0.7]])
    assert after[0, 0] == pytest.approx(0.5625, abs=1e-12)
    assert after[1, 1] == pytest.approx(0.9423, abs=0.00005)


def test_perfect_test_and_useless_test_are_the_two_ends() -> None:
    # by definition: a test that tells the state is perfect information, and one whose result
    # does not depend on the state is worth nothing
    prior, cost = [0.4, 0.35, 0.25], [[3.0, -7.0, 2.0], [1.0, 0.0, -1.0], [-2.0, 4.0, 5.0]]
    perfect = evpi(prior=prior, cost=cost)
    told = value_of_information.evsi(prior=prior, cost=cost, likelihood=np.eye(3))
    assert told == pytest.approx(perfect, abs=1e-12)
    useless = value_of_information.evsi(prior=prior, cost=cost, likelihood=[[0.3, 0.7]] * 3)
    assert useless == pytest.approx(0.0, abs=1e-12)
