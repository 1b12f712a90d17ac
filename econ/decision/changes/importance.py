"""How much of the spread of the expected cost comes from which uncertain amount.

With Y(x) = E[cost at the best limit | amounts x], outcomes and events in expectation,

    first   S_i = Var E[Y | x_i] / Var Y              x_i alone
    total   T_i = 1 - Var E[Y | all but x_i] / Var Y  x_i with all it acts together with

(Sobol' 1993; estimators of Saltelli et al. 2010, Comput. Phys. Commun. 181(2), as in
`scipy.stats.sobol_indices`). Indices need independent inputs: amounts that are correlated
count as one input, taken or left together.

Of the outcomes that go on, the 32 likeliest histories of a level are kept apart; what is
left follows one path picked by the uniforms of the outcomes, which are the same in both sets
of the estimators and so add nothing to a difference. Intervals are percentiles of a
bootstrap over the draws (`scipy.stats.bootstrap`, seeded by the scenario; the bootstrap that
comes with the indices draws from global state, and would not be the same twice).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

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
    from scipy.stats import bootstrap, sobol_indices

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
    if len(units) == 1:  # the library's function wants two: one more, which does nothing
        mixed = np.stack([mixed[0], a])

    def indices(rows: NDArray[np.intp]) -> Array:
        taken: dict[Literal["f_A", "f_B", "f_AB"], Array] = {
            "f_A": a[None, rows],
            "f_B": b[None, rows],
            "f_AB": mixed[:, None, rows],
        }
        found = sobol_indices(func=taken, n=n)
        return np.stack([found.first_order, found.total_order])

    everyone = np.arange(n)
    seed = np.random.SeedSequence(bench.inputs.sampler.seed, spawn_key=(n, best))
    first, total = indices(everyone)
    spread = bootstrap(
        (everyone,),
        indices,
        n_resamples=RESAMPLES,
        vectorized=False,
        confidence_level=CONFIDENCE,
        method="percentile",
        rng=np.random.default_rng(seed),
    ).confidence_interval
    low, high = np.asarray(spread.low), np.asarray(spread.high)  # (first and total, inputs)
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


def _unit(amount: Uncertain) -> tuple[str, ...]:
    """The amount with all that are correlated with it, in one order whichever is asked."""
    return tuple(sorted((amount.path, *amount.linked)))
