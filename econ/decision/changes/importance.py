"""How much of the spread of the expected cost comes from which uncertain amount.

With Y(x) = E[cost at the best limit | amounts x], outcomes and events in expectation,

    first   S_i = Var E[Y | x_i] / Var Y              x_i alone
    total   T_i = 1 - Var E[Y | all but x_i] / Var Y  x_i with all it acts together with

(Sobol' 1993), by the estimators of Saltelli et al. 2010, Comput. Phys. Commun. 181(2), table 2
(b) and (f), from two independent sets of draws A and B, and with AB_i the set A but for x_i,
which is that of B:

    S_i = mean of Y(B) (Y(AB_i) - Y(A)) / Var Y
    T_i = mean of (Y(A) - Y(AB_i))^2 / (2 Var Y)

where the mean of Y over A and B is taken from every Y beforehand. Indices need independent
inputs: amounts that are correlated count as one input, taken or left together.

Of the outcomes that go on, the 32 likeliest histories of a level are kept apart; what is
left follows one path picked by the uniforms of the outcomes, which are the same in both sets
of the estimators and so add nothing to a difference. Intervals are percentiles of a
bootstrap over the draws, seeded by the scenario.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from econ.decision.changes.drivers import Bench
from econ.decision.changes.swings import Uncertain
from econ.engine.expected import expected

Array = NDArray[np.float64]
DRAWS = 1024
HISTORIES = 32
RESAMPLES = 200
CONFIDENCE = 0.95


@dataclass(frozen=True)
class Importance:
    """Indices of one input, each with its interval of 95 % [low, high].

    names: its amounts, more than one where they are correlated.
    """

    names: tuple[str, ...]
    first: float
    first_interval: tuple[float, float]
    total: float
    total_interval: tuple[float, float]


@dataclass(frozen=True)
class Importances:
    """Indices of all inputs, the largest total first; deviation: standard deviation of the
    expected cost [currency] over the uncertain amounts."""

    draws: int
    deviation: float
    inputs: tuple[Importance, ...]


def importances(
    bench: Bench, amounts: Sequence[Uncertain], *, best: int, n: int = DRAWS
) -> Importances:
    """Indices of the expected cost at a limit of `best` runs, from n [a power of two] draws."""
    units = list(dict.fromkeys(_unit(each) for each in amounts))
    one, other = bench.inputs.sampler.pair(n)
    fixed = {column.name for column in bench.inputs.sampler.columns if not column.distribution}
    other |= {name: one[name] for name in fixed}

    def cost(columns: Mapping[str, Array]) -> Array:
        case = bench.inputs.case(columns, n)
        case = replace(case, program=case.program[:best])
        walked = expected(case, bench.choice, histories=HISTORIES)
        return np.broadcast_to(walked.cost[:, -1].sum(axis=0), (n,))

    a, b = cost(one), cost(other)
    deviation = float(np.std([a, b]))
    if not units or deviation <= 1e-12 * abs(float(a.mean())):
        return Importances(n, 0.0, ())
    mixed = np.stack([cost({**one, **{name: other[name] for name in unit}}) for unit in units])
    first, total = _indices(a, b, mixed)
    seed = np.random.SeedSequence(bench.inputs.sampler.seed, spawn_key=(n, best))
    resamples = np.random.default_rng(seed).integers(n, size=(RESAMPLES, n))
    again = [_indices(a[draws], b[draws], mixed[:, draws]) for draws in resamples]
    tail = 50 * (1 - CONFIDENCE)
    low, high = np.percentile(again, [tail, 100 - tail], axis=0)  # (first and total, inputs)
    rows = [
        Importance(
            unit,
            float(first[i]),
            (float(low[0, i]), float(high[0, i])),
            float(total[i]),
            (float(low[1, i]), float(high[1, i])),
        )
        for i, unit in enumerate(units)
    ]
    return Importances(n, deviation, tuple(sorted(rows, key=lambda row: -row.total)))


def _indices(a: Array, b: Array, mixed: Array) -> tuple[Array, Array]:
    """First and total indices, shape (inputs,) both, zero where Y does not vary.

    a, b: Y(A) and Y(B), shape (n,). mixed: Y(AB_i), shape (inputs, n).
    """
    both = np.stack([a, b])
    mean, variance = both.mean(), both.var()
    if variance == 0:
        return np.zeros(len(mixed)), np.zeros(len(mixed))
    a, b, mixed = a - mean, b - mean, mixed - mean
    first = (b * (mixed - a)).mean(axis=1) / variance
    total = ((a - mixed) ** 2).mean(axis=1) / (2 * variance)
    return first, total


def _unit(amount: Uncertain) -> tuple[str, ...]:
    """The amount with all that are correlated with it, in one order whichever is asked."""
    return tuple(sorted((amount.path, *amount.linked)))
