"""What it is worth to know, in costs: textbook decision analysis on a small table.

With prior P(s), cost c(a, s) of action a in state s, and a test with likelihood P(r | s):

    without knowing          min_a sum_s P(s) c(a, s)
    perfect knowledge        sum_s P(s) min_a c(a, s)
    a test                   sum_r min_a sum_s P(r | s) P(s) c(a, s)
The worth of either is the first less the other. Source: any text on decision analysis,
such as Hillier & Lieberman, Introduction to Operations Research.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]


def perfect_information(*, prior: ArrayLike, cost: ArrayLike) -> float:
    """Worth of knowing the state. prior: shape (states,); cost: (actions, states) [currency].

    >>> round(perfect_information(prior=[0.4, 0.6], cost=[[-600, 200], [0, 0]]), 6)
    120.0
    """
    p, c = np.asarray(prior, dtype=float), np.asarray(cost, dtype=float)
    return float((c @ p).min() - c.min(axis=0) @ p)


def imperfect_information(*, prior: ArrayLike, cost: ArrayLike, likelihood: ArrayLike) -> float:
    """Worth of a reading before its price. likelihood: shape (states, results), rows sum to 1."""
    p, c = np.asarray(prior, dtype=float), np.asarray(cost, dtype=float)
    joint = p[:, None] * np.asarray(likelihood, dtype=float)
    return float((c @ p).min() - (c @ joint).min(axis=0).sum())


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
    """Sure value [currency] as good as the gamble, by exponential utility -exp(-x/tolerance)."""
    scale = max(-value / risk_tolerance for value in values)
    total = math.fsum(
        chance * math.exp(-value / risk_tolerance - scale)
        for value, chance in zip(values, chances, strict=True)
    )
    return -risk_tolerance * (math.log(total) + scale)
