"""How much of the spread of the expected cost comes from which uncertain amount.

With Y(x) = E[cost at the best limit | amounts x], outcomes and events in expectation,

    first   S_i = Var E[Y | x_i] / Var Y              x_i alone
    total   T_i = 1 - Var E[Y | all but x_i] / Var Y  x_i with all it acts together with

(Sobol' 1993; estimators of Saltelli et al. 2010, Comput. Phys. Commun. 181(2), 259-270, table 2).
Indices need independent inputs: amounts that are correlated count as one input, taken or left
together.

With f_A, f_B the cost of two independent sets of draws A and B, f_AB that of A with x_i of B, all
less their mean, and V the variance of f_A and f_B together,

    S_i = E[f_B (f_AB - f_A)]/V        T_i = E[(f_A - f_AB)^2]/(2 V)

An input that changes the cost at the limit nowhere, neither at its P10 nor at its P90, is not
walked: its indices are 0.

Of the outcomes that go on, the HISTORIES likeliest histories of a level are kept apart; what is
left follows one path picked by the uniforms of the outcomes, which are the same in both sets
of the estimators and so add nothing to a difference. Intervals are percentiles of a
bootstrap over the draws, seeded by the scenario (Efron & Tibshirani 1993, An Introduction to the
Bootstrap, chapter 13).
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from econ.decision.sensitivity.bench import Bench, fallbacks_of
from econ.decision.sensitivity.swings import Uncertain
from econ.engine.case import Case
from econ.engine.choice import Bills
from econ.engine.expected import Open, opened

Array = NDArray[np.float64]
DRAWS = 512
HISTORIES = 8
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
    bench: Bench,
    amounts: Sequence[Uncertain],
    *,
    best: int,
    n: int = DRAWS,
    idle: Collection[str] = (),
) -> Importances:
    """Indices of the expected cost at a limit of `best` runs, from n [a power of two] draws.

    idle: names of amounts that change it nowhere.
    """
    units = list(dict.fromkeys(_unit(amount) for amount in amounts))
    one, other = bench.job.sampler.pair(n)
    events = {column.name for column in bench.job.sampler.columns if not column.distribution}

    def case_of(columns: Mapping[str, Array]) -> Case:
        case = bench.job.case(columns, n)
        return replace(case, program=case.program[:best])

    def cost(walked: Open) -> Array:
        return np.broadcast_to(walked.cost(bench.choice)[:, -1].sum(axis=0), (n,))

    def mixed_in(unit: tuple[str, ...]) -> Array:
        if idle and set(unit) <= set(idle):
            return a
        case = case_of({**one, **{name: other[name] for name in unit}})
        numbers = fallbacks_of(unit)
        return cost(
            opened(case, histories=HISTORIES) if not numbers else at_a.rebilled(case, numbers)
        )

    case = case_of(one)
    at_a = opened(case, histories=HISTORIES, bills=Bills(case, kept=True))
    at_b = opened(case_of({**other, **{x: one[x] for x in events}}), histories=HISTORIES)
    a, b = cost(at_a), cost(at_b)
    deviation = float(np.std([a, b]))
    if not units or deviation <= 1e-12 * abs(float(a.mean())):
        return Importances(n, 0.0, ())
    mixed = np.stack([mixed_in(unit) for unit in units])
    seed = np.random.SeedSequence(bench.job.sampler.seed, spawn_key=(n, best))
    rng = np.random.default_rng(seed)
    resampled = rng.integers(n, size=(RESAMPLES, n))
    times = np.stack([np.bincount(rows, minlength=n) for rows in resampled])  # (resamples, n)
    first, total = _indices(a, b, mixed, np.ones((1, n)))
    firsts, totals = _indices(a, b, mixed, times.astype(np.float64))
    ends = 0.5 - 0.5 * CONFIDENCE, 0.5 + 0.5 * CONFIDENCE
    first_ends, total_ends = (np.quantile(drawn, ends, axis=0) for drawn in (firsts, totals))
    rows = [
        Importance(
            unit,
            float(first[0, i]),
            (float(first_ends[0, i]), float(first_ends[1, i])),
            float(total[0, i]),
            (float(total_ends[0, i]), float(total_ends[1, i])),
        )
        for i, unit in enumerate(units)
    ]
    return Importances(n, deviation, tuple(sorted(rows, key=lambda row: -row.total)))


def _indices(a: Array, b: Array, mixed: Array, times: Array) -> tuple[Array, Array]:
    """First and total indices, shape (samples, inputs), where each sample takes every draw so
    many `times`, shape (samples, n). a, b: f_A and f_B, shape (n,); mixed: f_AB, (inputs, n)."""
    n = a.size
    about = 0.5 * (a.mean() + b.mean())  # no index hangs on it, and squares of the rest stay small
    a, b, mixed = a - about, b - about, mixed - about
    mean = times @ (a + b) / (2.0 * n)
    variance = times @ (a * a + b * b) / (2.0 * n) - mean**2
    apart = mixed - a
    first = times @ (b * apart).T / n - mean[:, None] * (times @ apart.T) / n
    total = times @ (apart * apart).T / (2.0 * n)
    return first / variance[:, None], total / variance[:, None]


def _unit(amount: Uncertain) -> tuple[str, ...]:
    """The amount with all that are correlated with it, in one order whichever is asked."""
    return tuple(sorted((amount.path, *amount.linked)))
