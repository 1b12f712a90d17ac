"""Expected costs of every limit, draw by draw: the lean walk behind what-ifs and sweeps.

C_n = E_0 + ... + E_{n-1} + S_n as in `econ.engine.curves`, kept for every draw so that the
difference between two cases on the same draws has the small error of a difference. No
percentiles, no days but those of the path.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from econ.engine.case import Case
from econ.engine.choice import Choice
from econ.engine.walk import walk

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Expected:
    """Weighted values of each limit, shape (kinds, limits, n); sum over kinds, mean over draws.

    cost [currency]; recovered: chance; still: weight of those that all runs have failed;
    still_days: that weight x elapsed days.
    """

    cost: Array
    recovered: Array
    still: Array
    still_days: Array


def expected(case: Case, choice: Choice | None, *, histories: int) -> Expected:
    """Walk a case once. histories: how many a level keeps apart; more leave less noise."""
    shape = (len(case.prior), len(case.program) + 1, case.n)
    cost, recovered, still, still_days = (np.zeros(shape) for _ in range(4))
    ended: Array = np.zeros((shape[0], shape[2]))
    out: Array = np.zeros((shape[0], shape[2]))
    for step in walk(case, choice, histories=histories):
        k, level = step.number, step.level
        cost[:, k] = ended + _summed(step.stop.weight * step.stop.cost)
        recovered[:, k] = out + (0.0 if step.stop.bill else _summed(step.stop.weight))
        still[:, k] = _summed(level.weight)
        still_days[:, k] = _summed(level.weight * level.days)
        for number, ending in enumerate(step.ends):
            ended = ended + _summed(ending.weight * ending.cost)
            if number == 0:
                out = out + _summed(ending.weight)
    return Expected(cost, recovered, still, still_days)


def _summed(values: Array) -> Array:
    """Over histories, shape (kinds, n or 1)."""
    return np.asarray(values.sum(axis=1))
