"""Inverse of the beta distribution by table: fast enough to be called for every draw.

Mathematics
-----------
x(u)     the quantile wanted: I_x(alpha, beta) = u, with I the regularised incomplete beta
f(x)     the density, x^(alpha-1) (1-x)^(beta-1) / B(alpha, beta)
t        the normal score of u: u = Phi(t), with Phi the normal distribution function
phi(t)   the normal density

x(u) itself cannot be interpolated: its slope 1/f(x) is infinite at an end as soon as alpha or
beta differs from 1. As a function of t it is smooth from tail to tail, also for U and J shapes,
because Phi(t) falls faster than any power. So x is tabulated on a uniform grid of t and
interpolated by cubic Hermite polynomials whose slopes are the exact derivative

    dx/dt = phi(t) / f(x)

limited to three times the slope of the chord of either neighbouring cell, which keeps the curve
monotone (Fritsch & Carlson 1980, SIAM J. Numer. Anal. 17(2)). On a cell of width h, with
s = (t - t_j) / h:

    x = c0 + s (c1 + s (c2 + s c3)),   c0 = x_j,   c1 = h x'_j,
    c2 = 3 d - h (2 x'_j + x'_{j+1}),  c3 = h (x'_j + x'_{j+1}) - 2 d,   d = x_{j+1} - x_j

The error is below 1e-6 for alpha + beta >= 1. Narrower shapes than that are nearly a coin flip
between 0 and 1; they, and u beyond the grid, go to the exact inverse.
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import betaincinv, betaln, ndtr, ndtri

CELLS: Final = 768
REACH: Final = 6.25  # normal score at the ends of the grid
LOWEST: Final = 2.0**-31  # Phi(-6.25) = 2.1e-10 lies below it, so the grid covers every draw


def inverse_beta(u: NDArray[np.float64], *, alpha: float, beta: float) -> NDArray[np.float64]:
    """Quantiles of Beta(alpha, beta) [fraction] at the probabilities u [fraction, 0 to 1]."""
    if alpha + beta < 1.0:
        return np.asarray(betaincinv(alpha, beta, u), dtype=np.float64)
    table = _table(alpha, beta)
    covered = (u >= LOWEST) & (u <= 1.0 - LOWEST)
    if covered.all():
        return _interpolate(table, u)
    x = np.empty(u.shape)
    x[covered] = _interpolate(table, u[covered])
    x[~covered] = betaincinv(alpha, beta, u[~covered])
    return x


def _interpolate(table: NDArray[np.float64], u: NDArray[np.float64]) -> NDArray[np.float64]:
    # In place, because fresh arrays cost a third more time on blocks of 65,536 points.
    s = np.asarray(ndtri(u), dtype=np.float64)
    s += REACH
    s *= CELLS / (2.0 * REACH)
    cell = s.astype(np.intp)
    s -= cell
    c0, c1, c2, c3 = table
    x: NDArray[np.float64] = c3[cell]
    x *= s
    x += c2[cell]
    x *= s
    x += c1[cell]
    x *= s
    x += c0[cell]
    return x


@lru_cache(maxsize=512)
def _table(alpha: float, beta: float) -> NDArray[np.float64]:
    """Polynomial coefficients of every cell, shape (4, CELLS); 24 kB."""
    h = 2.0 * REACH / CELLS
    t = np.linspace(-REACH, REACH, CELLS + 1)
    x, y = _nodes(t, alpha=alpha, beta=beta)
    d = np.diff(x)
    rise = np.minimum(h * _slopes(t, x, y, alpha=alpha, beta=beta), _monotone_limit(d))
    left, right = rise[:-1], rise[1:]
    return np.stack([x[:-1], left, 3.0 * d - 2.0 * left - right, left + right - 2.0 * d])


def _nodes(
    t: NDArray[np.float64], *, alpha: float, beta: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """x and y = 1 - x at the nodes, the smaller of the two computed and the other taken from it.

    Which one is smaller is known only afterwards: for a J shape x is still tiny far above the
    median. So the probability decides first, and the nodes where it chose wrongly are redone.
    """
    u, v = ndtr(t), ndtr(-t)
    from_zero = t < 0.0
    near = np.empty_like(t)  # distance from the end that the node is computed from
    near[from_zero] = betaincinv(alpha, beta, u[from_zero])
    near[~from_zero] = betaincinv(beta, alpha, v[~from_zero])
    wrong = near > 0.5
    from_zero ^= wrong
    to_x, to_y = wrong & from_zero, wrong & ~from_zero
    near[to_x] = betaincinv(alpha, beta, u[to_x])
    near[to_y] = betaincinv(beta, alpha, v[to_y])
    return np.where(from_zero, near, 1.0 - near), np.where(from_zero, 1.0 - near, near)


def _slopes(
    t: NDArray[np.float64],
    x: NDArray[np.float64],
    y: NDArray[np.float64],
    *,
    alpha: float,
    beta: float,
) -> NDArray[np.float64]:
    """dx/dt = phi(t) / f(x), in logarithms because either factor may leave the number range."""
    slopes = np.zeros_like(t)  # where x has run into 0 or 1 the curve is flat
    within = (x > 0.0) & (y > 0.0)
    log_phi = -0.5 * (t[within] ** 2 + math.log(2.0 * math.pi))
    log_f = (
        (alpha - 1.0) * np.log(x[within])
        + (beta - 1.0) * np.log(y[within])
        - float(betaln(alpha, beta))
    )
    slopes[within] = np.exp(log_phi - log_f)
    return slopes


def _monotone_limit(d: NDArray[np.float64]) -> NDArray[np.float64]:
    """Largest rise per cell that a node may have: three times the smaller neighbouring chord."""
    limit = np.empty(d.size + 1)
    limit[0], limit[-1] = d[0], d[-1]
    limit[1:-1] = np.minimum(d[:-1], d[1:])
    return 3.0 * limit
