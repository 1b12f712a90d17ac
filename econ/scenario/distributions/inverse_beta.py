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
between 0 and 1; they, and u beyond the grid, go to the exact inverse of `scipy.special`, which
takes its time to load.

The nodes are found in z = ln(x/(1 - x)), whose density g = f x (1 - x), up to a constant,

    ln g(z) = -alpha ln(1 + e^-z) - beta ln(1 + e^z)

is smooth with exponential tails. G is its integral from either end, by Gauss's rule between
neighbours, over both; nodes beyond the grid leave nothing outside that would count. From a wide
grid of z Newton's method in the score, which is nearly straight, comes to the nodes in few steps:

    z <- z + (t - Phi^-1(G)) phi(Phi^-1(G)) / g,   dx/dt = x (1 - x) phi(t) / g
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from econ.scenario.distributions.normal import ndtri

CELLS: Final = 768
BEYOND: Final = 256  # nodes on each side of the grid; Phi of the last is 1e-25
REACH: Final = 6.25  # normal score at the ends of the grid
LOWEST: Final = 2.0**-31  # Phi(-6.25) = 2.1e-10 lies below it, so the grid covers every draw
START: Final = 1025  # values of z that Newton's method begins from
WIDE: Final = 60.0  # logarithm of the density, at the least, that they reach down from its top
STEPS: Final = 30  # of Newton's method at the most; three are nearly always enough
CLOSE: Final = 1e-6  # a score that one step more brings to the last digits
GAUSS: Final = np.polynomial.legendre.leggauss(3)


def inverse_beta(u: NDArray[np.float64], *, alpha: float, beta: float) -> NDArray[np.float64]:
    """Quantiles of Beta(alpha, beta) [fraction] at the probabilities u [fraction, 0 to 1]."""
    if alpha + beta < 1.0:
        return _exact(u, alpha=alpha, beta=beta)
    table = _table(alpha, beta)
    covered = (u >= LOWEST) & (u <= 1.0 - LOWEST)
    if covered.all():
        return _interpolate(table, u)
    x = np.empty(u.shape)
    x[covered] = _interpolate(table, u[covered])
    x[~covered] = _exact(u[~covered], alpha=alpha, beta=beta)
    return x


def _exact(u: NDArray[np.float64], *, alpha: float, beta: float) -> NDArray[np.float64]:
    from scipy.special import betaincinv

    return np.asarray(betaincinv(alpha, beta, u), dtype=np.float64)


def _interpolate(table: NDArray[np.float64], u: NDArray[np.float64]) -> NDArray[np.float64]:
    # In place, because fresh arrays cost a third more time on blocks of 65,536 points.
    s = ndtri(u)
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
    x, slopes = _nodes(h, alpha=alpha, beta=beta)
    d = np.diff(x)
    rise = np.minimum(h * slopes, _monotone_limit(d))
    left, right = rise[:-1], rise[1:]
    return np.stack([x[:-1], left, 3.0 * d - 2.0 * left - right, left + right - 2.0 * d])


def _nodes(
    h: float, *, alpha: float, beta: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """x and dx/dt at the nodes of the grid, which are h apart."""
    top, spread = math.log(alpha / beta), math.sqrt(1.0 / alpha + 1.0 / beta)
    side = min(1.0 / alpha, 1.0 / beta, spread)

    def log_density(z: NDArray[np.float64]) -> NDArray[np.float64]:
        bend = np.log1p(np.exp(-np.abs(z)))
        return -alpha * (np.maximum(-z, 0.0) + bend) - beta * (np.maximum(z, 0.0) + bend)

    most = float(log_density(np.asarray(top)))

    def scores(z: NDArray[np.float64]) -> tuple[NDArray[np.float64], float]:
        """Normal scores of G at z, and the integral over all."""
        half = 0.5 * np.diff(z)
        inside = z[:-1] + half + GAUSS[0][:, None] * half
        parts = half * (GAUSS[1] @ np.exp(log_density(inside) - most))
        below = np.concatenate([[0.0], np.cumsum(parts)])
        above = np.concatenate([np.cumsum(parts[::-1])[::-1], [0.0]])
        total = float(below[-1])
        # From the nearer end, where the digits are.
        score = ndtri(np.minimum(below, above) / total)
        return np.where(below < above, score, -score), total

    ends = WIDE / alpha + 10.0 * spread, WIDE / beta + 10.0 * spread
    reach = np.linspace(-math.asinh(ends[0] / side), math.asinh(ends[1] / side), START)
    wide = top + side * np.sinh(reach)
    score, _ = scores(wide)
    finite = np.isfinite(score)
    t = h * np.arange(-CELLS // 2 - BEYOND, CELLS // 2 + BEYOND + 1)
    z = np.interp(t, score[finite], wide[finite])
    for _ in range(STEPS):
        score, total = scores(z)
        away = np.where(np.isfinite(score), t - score, 0.0)  # the ends stay where they are
        log_phi = -0.5 * np.where(away == 0.0, t, score) ** 2
        z = z + away * _times_phi(log_phi, log_density(z) - most) * total
        if np.abs(away).max() < CLOSE:
            break
    t, z = t[BEYOND:-BEYOND], z[BEYOND:-BEYOND]
    x, y = (np.exp(-np.logaddexp(0.0, each)) for each in (-z, z))
    return x, x * y * _times_phi(-0.5 * t * t, log_density(z) - most) * total


def _times_phi(
    log_phi: NDArray[np.float64], log_density: NDArray[np.float64]
) -> NDArray[np.float64]:
    """phi over a density, both given by logarithms, phi but for its constant."""
    return np.asarray(np.exp(log_phi - log_density) / math.sqrt(2.0 * math.pi))


def _monotone_limit(d: NDArray[np.float64]) -> NDArray[np.float64]:
    """Largest rise per cell that a node may have: three times the smaller neighbouring chord."""
    limit = np.empty(d.size + 1)
    limit[0], limit[-1] = d[0], d[-1]
    limit[1:-1] = np.minimum(d[:-1], d[1:])
    return 3.0 * limit
