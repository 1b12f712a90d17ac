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
LAST: Final = 40.0  # of it, beyond all that a probability above 0 can have

# Numerator and denominator, power by power, the highest first; shape (8, 2).
IN_MIDDLE: Final = np.array(
    [
        (2509.0809287301227, 5226.495278852854),
        (33430.57558358813, 28729.085735721943),
        (67265.7709270087, 39307.89580009271),
        (45921.95393154987, 21213.794301586597),
        (13731.69376550946, 5394.196021424751),
        (1971.5909503065513, 687.1870074920579),
        (133.14166789178438, 42.31333070160091),
        (3.3871328727963665, 1.0),
    ]
)
IN_TAIL: Final = np.array(
    [
        (0.0007745450142783414, 1.0507500716444169e-09),
        (0.022723844989269184, 0.0005475938084995345),
        (0.2417807251774506, 0.015198666563616457),
        (1.2704582524523684, 0.14810397642748008),
        (3.6478483247632045, 0.6897673349851),
        (5.769497221460691, 1.6763848301838038),
        (4.630337846156546, 2.053191626637759),
        (1.4234371107496835, 1.0),
    ]
)
FAR_OUT: Final = np.array(
    [
        (2.0103343992922881e-07, 2.0442631033899397e-15),
        (2.7115555687434876e-05, 1.421511758316446e-07),
        (0.0012426609473880784, 1.8463183175100548e-05),
        (0.026532189526576124, 0.0007868691311456133),
        (0.29656057182850487, 0.014875361290850615),
        (1.7848265399172913, 0.1369298809227358),
        (5.463784911164114, 0.599832206555888),
        (6.657904643501103, 1.0),
    ]
)


def ndtr(x: Array) -> Array:
    """Probability that a standard normal is below x.

    >>> ndtr(np.array([-1.0, 0.0, 3.0])).round(6).tolist()
    [0.158655, 0.5, 0.99865]
    """
    x = np.minimum(np.maximum(x, -EDGE), EDGE)
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
    found = q * _ratio(IN_MIDDLE, 0.180625 - q * q)
    tails = np.abs(q) > MIDDLE
    if tails.any():
        some = u[tails]
        with np.errstate(divide="ignore"):
            r = np.sqrt(-np.log(np.minimum(some, 1.0 - some)))
        score = _ratio(IN_TAIL, np.minimum(r, FAR) - 1.6)
        far = r > FAR
        if far.any():
            score[far] = np.where(
                np.isinf(r[far]), np.inf, _ratio(FAR_OUT, np.minimum(r[far], LAST) - FAR)
            )
        found[tails] = np.copysign(score, q[tails])
    return np.asarray(found)


def _ratio(powers: Array, r: Array) -> Array:
    """Value of a rational function at r, shape (n,) or less."""
    found = np.empty((2, *r.shape))
    found.T[:] = powers[0]
    for pair in powers[1:]:
        found *= r
        found.T[:] += pair
    return np.asarray(found[0] / found[1])
