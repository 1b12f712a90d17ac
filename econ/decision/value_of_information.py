"""The value of information, in costs: textbook decision analysis.

With prior P(s), cost c(a, s) of action a in state s, and a test with likelihood P(r | s), let

    V(f) = min_a sum_s f(s) P(s) c(a, s)

be the least cost when each state weighs f(s) times its prior. Then

    without knowing      V(1)
    a test               sum_r V(P(r | .)),  no division by P(r) needed
    perfect knowledge    the test that names the state

and the value of information is the first less the other: the expected value of sample
information (EVSI) for a test, of perfect information (EVPI) for one that names the state.
V is the cost of the best action of a table here, and that of the best rule by state in
`econ.decision.readings`. Source: any text on decision analysis, such as Hillier & Lieberman,
Introduction to Operations Research.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]


def value_of_test(*, value: Callable[[Array], Array], likelihood: ArrayLike) -> Array:
    """What a test is worth before its price, in the shape and unit that `value` returns.

    value: V above, of factors with shape (states,); likelihood: (states, results), rows sum to 1.
    """
    chances = np.asarray(likelihood, dtype=float)
    told = sum(value(chances[:, result]) for result in range(chances.shape[1]))
    return np.asarray(value(np.ones(len(chances))) - told)


def evpi(*, prior: ArrayLike, cost: ArrayLike) -> float:
    """Expected value of perfect information [currency]: what it is worth to know the state.

    prior: shape (states,); cost [currency]: shape (actions, states).

    >>> round(evpi(prior=[0.4, 0.6], cost=[[-600, 200], [0, 0]]), 6)
    120.0
    """
    return evsi(prior=prior, cost=cost, likelihood=np.eye(np.size(prior)))


def evsi(*, prior: ArrayLike, cost: ArrayLike, likelihood: ArrayLike) -> float:
    """Expected value of sample information [currency]: what a test is worth before its price.

    prior: shape (states,); cost [currency]: shape (actions, states); likelihood: shape
    (states, results), rows sum to 1.

    >>> likelihood = [[0.75, 0.25], [1 / 3, 2 / 3]]
    >>> round(evsi(prior=[0.4, 0.6], cost=[[-600, 200], [0, 0]], likelihood=likelihood), 6)
    20.0
    """
    p, c = np.asarray(prior, dtype=float), np.asarray(cost, dtype=float)
    return float(
        value_of_test(value=lambda f: np.asarray((c @ (f * p)).min()), likelihood=likelihood)
    )


def posterior(*, prior: ArrayLike, likelihood: ArrayLike) -> Array:
    """Chance of each state after each result, shape (states, results), by Bayes' rule.

    >>> posterior(prior=[0.3, 0.7], likelihood=[[0.9, 0.1], [0.3, 0.7]])[0].round(4).tolist()
    [0.5625, 0.0577]
    """
    joint = np.asarray(prior, dtype=float)[:, None] * np.asarray(likelihood, dtype=float)
    return np.asarray(joint / joint.sum(axis=0))


def certainty_equivalent(
    *, values: Sequence[float], chances: Sequence[float], risk_tolerance: float
) -> float:
    """Sure value [currency] as good as the gamble, by exponential utility -exp(-x/tolerance).

    >>> values, chances = [600.0, -200.0], [0.4, 0.6]
    >>> round(certainty_equivalent(values=values, chances=chances, risk_tolerance=700.0))
    23
    """
    scale = max(-value / risk_tolerance for value in values)
    total = math.fsum(
        chance * math.exp(-value / risk_tolerance - scale)
        for value, chance in zip(values, chances, strict=True)
    )
    return -risk_tolerance * (math.log(total) + scale)
