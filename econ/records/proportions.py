"""A chance from counted cases: k successes in n.

    Wilson interval   (p + z^2/2n -+ z sqrt(p(1-p)/n + z^2/4n^2)) / (1 + z^2/n),  p = k/n
    Beta posterior    mean (a + k)/(a + b + n) with the prior Beta(a, b); its interval leaves
                      out the same chance on both sides
    Beta in an interval  the greatest weight w at which the interval of Beta(m w, (1 - m) w) is no
                      tighter than a given one about its mean m
The posterior goes into a scenario as `recovered` with `weight` = a + b + n.

Sources: E.B. Wilson, J. Am. Stat. Assoc. 22 (1927) 209; Bayes' rule for a conjugate prior.
"""

from __future__ import annotations

import math

import numpy as np
from scipy.special import betaincinv, ndtri

LEAST_WEIGHT, MOST_WEIGHT = 0.5, 1e6  # cases


def wilson_interval(
    *, successes: float, cases: float, confidence: float = 0.95
) -> tuple[float, float]:
    """Interval [fraction] for a chance; ValueError for counts that cannot be.

    >>> low, high = wilson_interval(successes=14, cases=17)
    >>> round(low, 3), round(high, 3)
    (0.59, 0.938)
    """
    _check(successes, cases)
    if cases == 0:
        return 0.0, 1.0
    z = float(ndtri(0.5 + confidence / 2))
    p = successes / cases
    middle = p + z * z / (2 * cases)
    half = z * math.sqrt(p * (1 - p) / cases + z * z / (4 * cases * cases))
    scale = 1 + z * z / cases
    return max(0.0, (middle - half) / scale), min(1.0, (middle + half) / scale)


def beta_posterior_mean(
    *, successes: int, cases: int, prior_mean: float = 0.5, prior_weight: float = 2.0
) -> float:
    """Mean chance after the cases, from a prior worth `prior_weight` cases.

    >>> round(beta_posterior_mean(successes=14, cases=17), 4)
    0.7895
    """
    _check(successes, cases)
    return (prior_mean * prior_weight + successes) / (prior_weight + cases)


def beta_interval(*, mean: float, weight: float, confidence: float = 0.95) -> tuple[float, float]:
    """Interval [fraction] of a chance that is Beta(mean x weight, (1 - mean) x weight).

    ValueError unless mean lies in [0, 1] and weight is above 0. A mean of 0 or 1 is certain.

    >>> low, high = beta_interval(mean=15 / 19, weight=19)
    >>> round(low, 3), round(high, 3)
    (0.586, 0.936)
    """
    if not (0 <= mean <= 1 and weight > 0):
        raise ValueError(f"mean {mean}, weight {weight}: give a mean in [0, 1], a weight above 0")
    if mean in (0, 1):
        return mean, mean
    tail = (1 - confidence) / 2
    a, b = mean * weight, (1 - mean) * weight
    return float(betaincinv(a, b, tail)), float(betaincinv(a, b, 1 - tail))


def weight_within(*, mean: float, low: float, high: float, confidence: float = 0.95) -> float:
    """Greatest weight [cases] at which the interval of a Beta of this mean holds low and high.

    A Beta with a mean near 0 or 1 cannot reach far to the other side at any weight; then the
    weight at which it misses least. ValueError unless 0 <= low <= mean <= high <= 1.

    >>> low, high = beta_interval(mean=0.3, weight=40)
    >>> round(weight_within(mean=0.3, low=low, high=high), 3)
    40.0
    """
    if not 0 <= low <= mean <= high <= 1:
        raise ValueError(f"{low}, {mean}, {high}: give 0 <= low <= mean <= high <= 1")
    if mean in (0, 1):
        return MOST_WEIGHT
    tail = (1 - confidence) / 2

    def missed(weight: np.ndarray) -> np.ndarray:
        a, b = mean * weight, (1 - mean) * weight
        inside = np.maximum(betaincinv(a, b, tail) - low, high - betaincinv(a, b, 1 - tail))
        return np.asarray(inside)

    weights = np.geomspace(LEAST_WEIGHT, MOST_WEIGHT, 121)
    short = missed(weights)
    holds = np.flatnonzero(short <= 0)
    if len(holds) == 0:
        return float(weights[np.argmin(short)])
    if holds[-1] == len(weights) - 1:
        return MOST_WEIGHT
    inside, outside = np.log(weights[holds[-1] : holds[-1] + 2])
    for _ in range(30):
        middle = 0.5 * (inside + outside)
        if missed(np.exp(np.array([middle])))[0] <= 0:
            inside = middle
        else:
            outside = middle
    return float(np.exp(inside))


def _check(successes: float, cases: float) -> None:
    if not 0 <= successes <= cases:
        raise ValueError(f"{successes} successes in {cases} cases: give 0 <= successes <= cases")
