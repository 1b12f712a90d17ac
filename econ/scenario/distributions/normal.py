"""The normal distribution function and its inverse, for arrays.

`scipy.special` has both; loading it takes as long as half of a short command, so that it is left to
what cannot do without. Tests hold both against it.

Mathematics
-----------
Phi(x)       about the nearest node x_j of a grid, h = x - x_j, by Taylor:
             Phi(x_j) + phi(x_j) sum over k >= 1 of (-1)^(k-1) He_(k-1)(x_j) h^k/k!
             with Hermite's polynomials He_k; the error is below 1e-13 of Phi
Phi^-1(u)    by three rational functions: of 0.180625 - q^2, q = u - 1/2, in the middle, and of
             sqrt(-ln min(u, 1 - u)) in the tails; the error is below 1e-15 of it

Source: Wichura 1988, Algorithm AS 241, Applied Statistics 37(3), 477-484 (routine PPND16).
"""

from __future__ import annotations

import math
from functools import cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
EDGE: Final = 38.0  # Phi(-38) is the least number above 0 that keeps its digits
NODES: Final = 32  # of the grid in a unit
TERMS: Final = 9
MIDDLE: Final = 0.425  # half width of the middle of probabilities
FAR: Final = 5.0  # sqrt(-ln u) from which on the third function stands

# Numerators and denominators, the highest power first.
RATIONAL: Final = (
    (
        (
            2509.0809287301227,
            33430.57558358813,
            67265.7709270087,
            45921.95393154987,
            13731.69376550946,
            1971.5909503065513,
            133.14166789178438,
            3.3871328727963665,
        ),
        (
            5226.495278852854,
            28729.085735721943,
            39307.89580009271,
            21213.794301586597,
            5394.196021424751,
            687.1870074920579,
            42.31333070160091,
            1.0,
        ),
    ),
    (
        (
            0.0007745450142783414,
            0.022723844989269184,
            0.2417807251774506,
            1.2704582524523684,
            3.6478483247632045,
            5.769497221460691,
            4.630337846156546,
            1.4234371107496835,
        ),
        (
            1.0507500716444169e-09,
            0.0005475938084995345,
            0.015198666563616457,
            0.14810397642748008,
            0.6897673349851,
            1.6763848301838038,
            2.053191626637759,
            1.0,
        ),
    ),
    (
        (
            2.0103343992922881e-07,
            2.7115555687434876e-05,
            0.0012426609473880784,
            0.026532189526576124,
            0.29656057182850487,
            1.7848265399172913,
            5.463784911164114,
            6.657904643501103,
        ),
        (
            2.0442631033899397e-15,
            1.421511758316446e-07,
            1.8463183175100548e-05,
            0.0007868691311456133,
            0.014875361290850615,
            0.1369298809227358,
            0.599832206555888,
            1.0,
        ),
    ),
)


def ndtr(x: Array) -> Array:
    """Probability that a standard normal is below x.

    >>> ndtr(np.array([-1.0, 0.0, 3.0])).round(6).tolist()
    [0.158655, 0.5, 0.99865]
    """
    x = np.clip(x, -EDGE, EDGE)
    node = np.rint(x * NODES).astype(np.intp)
    h = x - node / NODES
    node += round(EDGE * NODES)
    terms = _taylor()
    found: Array = terms[-1].take(node)
    for term in terms[-2::-1]:
        found *= h
        found += term.take(node)
    return found


@cache
def _taylor() -> Array:
    """Coefficients of the powers of h at every node, shape (TERMS, nodes)."""
    steps = round(EDGE * NODES)
    x = np.arange(-steps, steps + 1) / NODES
    before, hermite = np.zeros_like(x), np.ones_like(x)
    factor = np.exp(-0.5 * x * x) / math.sqrt(2.0 * math.pi)
    rows = [np.array([0.5 * math.erfc(-each / math.sqrt(2.0)) for each in x.tolist()])]
    for k in range(1, TERMS):
        factor = factor / k
        rows.append(factor * hermite)
        before, hermite = hermite, x * hermite - (k - 1) * before
        factor = -factor
    return np.stack(rows)


def ndtri(u: Array) -> Array:
    """The x that a standard normal is below with probability u; infinite at 0 and 1.

    >>> ndtri(np.array([0.1, 0.5, 0.999])).round(6).tolist()
    [-1.281552, 0.0, 3.090232]
    """
    u = np.asarray(u, dtype=np.float64)
    q = u - 0.5
    found = np.asarray(q * _ratio(RATIONAL[0], 0.180625 - q * q))
    tails = np.abs(q) > MIDDLE
    if tails.any():
        some = u[tails]
        with np.errstate(divide="ignore", invalid="ignore"):
            r = np.sqrt(-np.log(np.minimum(some, 1.0 - some)))
            far = _ratio(RATIONAL[2], r - FAR)
            beyond = np.where(r < FAR, _ratio(RATIONAL[1], r - 1.6), np.where(np.isinf(r), r, far))
        found[tails] = np.copysign(beyond, q[tails])
    return found


def _ratio(rational: tuple[tuple[float, ...], tuple[float, ...]], r: Array) -> Array:
    """Value of a rational function at r."""
    above, below = (np.full_like(r, powers[0]) for powers in rational)
    for one, other in zip(rational[0][1:], rational[1][1:], strict=True):
        above *= r
        above += one
        below *= r
        below += other
    above /= below
    return above
