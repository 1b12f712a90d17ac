"""Odds by kind of run with partial pooling: kinds borrow from one another what they lack.

    k_i | p_i ~ binomial(n_i, p_i),   p_i ~ Beta(m w, (1 - m) w)
    L(m, w)   = product over kinds of B(m w + k_i, (1 - m) w + n_i - k_i) / B(m w, (1 - m) w)

m is the mean over kinds and w how alike they are, both learned from L, the marginal likelihood.
With few kinds L does not settle w, so p_i is averaged over m and w by L times a weak prior: m
uniform, w/(w + 1) uniform. Mean and variance of p_i then give a Beta of the same mean and
variance, whose a + b is the `weight` that a scenario takes; the interval is that of this Beta.
A kind with three runs ends near m, one with three hundred near its own k/n.

Sources: the Beta-binomial of J.G. Skellam, J. R. Stat. Soc. B 10 (1948) 257; averaging over the
prior's parameters as in A. Gelman et al., Bayesian Data Analysis, section 5.3 (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray
from scipy.special import betaln

from econ.records.counts import Counts
from econ.records.proportions import beta_interval

if TYPE_CHECKING:
    import pandas as pd

Array = NDArray[np.float64]
MEANS = (np.arange(120) + 0.5) / 120  # m
_ALIKE = (np.arange(60) + 0.5) / 60  # w/(w + 1)
WEIGHTS = _ALIKE / (1 - _ALIKE)  # w


@dataclass(frozen=True)
class PooledOdds:
    """Chance of recovery of a kind of run: Beta of `mean` and `weight`, with its interval."""

    kind: str
    runs: int
    recovered: int
    mean: float  # [fraction]
    weight: float  # runs it is worth
    low: float
    high: float


@dataclass(frozen=True)
class Pooling:
    """The kinds together: their mean, how alike they are, and each one pooled."""

    mean: float  # m, averaged [fraction]
    alike: float  # w at the maximum of L times the prior; large: kinds hardly differ
    kinds: tuple[PooledOdds, ...]

    def to_frame(self) -> pd.DataFrame:
        """One row a kind."""
        import pandas as pd

        return pd.DataFrame([vars(each) for each in self.kinds])


def pool(counts: Counts) -> Pooling:
    """Pool the kinds of run that occur."""
    won = np.array([each.share.successes for each in counts.by_kind], dtype=float)
    made = np.array([each.share.cases for each in counts.by_kind], dtype=float)
    chance = prior_of_kinds(won, made)
    means, weights = pooled_beta(won, made, chance)
    best = np.unravel_index(int(np.argmax(chance)), chance.shape)
    kinds = []
    for each, mean, weight in zip(counts.by_kind, means, weights, strict=True):
        low, high = beta_interval(mean=float(mean), weight=float(weight))
        share = each.share
        kinds.append(
            PooledOdds(
                each.kind, share.cases, share.successes, float(mean), float(weight), low, high
            )
        )
    middle = float((chance.sum(axis=1) * MEANS).sum())
    return Pooling(mean=middle, alike=float(WEIGHTS[best[1]]), kinds=tuple(kinds))


def prior_of_kinds(won: Array, made: Array) -> Array:
    """Chance of each m and w after the counts of shape (kinds,); shape (120, 60)."""
    a = MEANS[:, None] * WEIGHTS
    b = (1 - MEANS[:, None]) * WEIGHTS
    k, n = won[:, None, None], made[:, None, None]
    log = (betaln(a + k, b + n - k) - betaln(a, b)).sum(axis=0)
    chance = np.exp(log - log.max())
    return np.asarray(chance / chance.sum())


def pooled_beta(won: Array, made: Array, chance: Array) -> tuple[Array, Array]:
    """Mean and weight of the pooled chance of each kind, shape (kinds,)."""
    a = (MEANS[:, None] * WEIGHTS) + won[:, None, None]
    total = WEIGHTS + made[:, None, None]
    each = a / total
    mean = (chance * each).sum(axis=(1, 2))
    square = (chance * each * (a + 1) / (total + 1)).sum(axis=(1, 2))
    return mean, mean * (1 - mean) / (square - mean**2) - 1
