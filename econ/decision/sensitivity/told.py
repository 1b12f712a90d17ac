"""The range of an uncertain amount once runs are logged.

With u the point of a draw that an amount is made from, x = quantile(u), and W the weight of the
draw, which is how likely it makes what the log tells (`econ.engine.level`), the amount has after
the log the distribution of its draws by weight. With the draws in the order of u,

    F(u_i) = (W_1 + ... + W_{i-1} + W_i/2)/(W_1 + ... + W_n),  straight in between
    u(p)   = the u with F(u) = p

so that its P10 after the log is quantile(u(0.1)). A log bears on an amount if the weight of a draw
moves with it, alone or with those that it is correlated with. On all others it says nothing: their
u(p) is p itself, without the noise of the draws.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from econ.engine.inputs import Inputs
from econ.engine.level import begin

Array = NDArray[np.float64]
SAME = 1e-9  # of a weight: the rounding of its parts
ASIDE = 0.02, 0.98  # where an amount is put to see whether weights move with it


@dataclass(frozen=True, eq=False)
class Told:
    """What a log says about an amount. u: rising, from 0 to 1; share: F at each."""

    u: Array
    share: Array

    @classmethod
    def by(cls, points: Array, weight: Array) -> Told:
        """From the points of draws and their weights, both of shape (n,)."""
        order = np.argsort(points, kind="stable")
        u, w = points[order], weight[order]
        share = (np.cumsum(w) - 0.5 * w) / w.sum()
        return cls(np.concatenate([[0.0], u, [1.0]]), np.concatenate([[0.0], share, [1.0]]))

    def before(self, probability: float) -> float:
        """The probability before the log of what has this one after it."""
        return float(np.interp(probability, self.share, self.u))

    def after(self, probability: float) -> float:
        """The probability after the log of what has this one before it."""
        return float(np.interp(probability, self.u, self.share))


def told_by_log(
    job: Inputs, columns: Mapping[str, Array], paths: Collection[str], *, n: int
) -> dict[str, Told]:
    """What the log says about each of some amounts that it bears on, by key path.

    columns: those of the first n draws of every scramble.
    """
    if not job.logged:
        return {}

    def weights(drawn: Mapping[str, Array]) -> Array:
        weight = begin(job.case(drawn, n * job.sampler.scrambles)).weight.sum(axis=(0, 1))
        return np.broadcast_to(weight, (n * job.sampler.scrambles,))

    base = weights(columns)
    if np.ptp(base) <= SAME:
        return {}
    found = {}
    for path in paths:
        moves = False
        for p in ASIDE:
            moved = job.sampler.moved(n, name=path, between=(p, p))
            moves = moves or bool(np.abs(weights({**columns, **moved}) - base).max() > SAME)
        if moves:
            found[path] = Told.by(job.sampler.points(n, name=path), base)
    return found
