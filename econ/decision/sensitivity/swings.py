"""Swings: what one input does to the expected cost and, apart from it, to the best limit.

With n0 the best limit of the base and n1 that of the changed side, both on the same draws,

    change, limit set anew    C'_n1 - C_n0
    change, limit kept        C'_n0 - C_n0

Their difference is what it is worth to set the limit anew. An uncertain amount is held at
its P10 and at its P90 while all others are drawn; amounts correlated with it move along as
they would if it were known. An amount that a log bears on is held at those of its distribution
after the log (`told`). Errors are those of the paired scrambles.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from econ.decision.estimates import Estimate, estimate
from econ.decision.sensitivity.bench import Bench, Limits
from econ.decision.sensitivity.inputs import Between
from econ.decision.sensitivity.told import Told
from econ.scenario.distributions import Distribution
from econ.scenario.quantities import UNITS, Quantity
from econ.scenario.scenario import Scenario

LOW, HIGH = 0.1, 0.9


@dataclass(frozen=True)
class Side:
    """One end of a swing: the value there, the best limit, its cost and the changes [currency].

    limit_resolved: whether the best limit there is told apart from that of the base.
    """

    value: float
    best: int
    limit_resolved: bool
    cost: Estimate
    change: Estimate
    change_kept: Estimate
    resolved: bool

    @property
    def worth_setting_anew(self) -> float:
        """What it saves [currency] to set the limit anew."""
        return self.change_kept.value - self.change.value


@dataclass(frozen=True)
class Swing:
    """What an input does from one end to the other.

    name: key path of an amount or name of a main input; unit: of its values; linked: amounts that
    move with it; after_log: whether its ends are those that a log leaves.
    """

    name: str
    words: str
    unit: str
    low: Side
    high: Side
    linked: tuple[str, ...] = ()
    after_log: bool = False

    @property
    def size(self) -> float:
        """The larger change [currency] of the two, the limit kept."""
        return max(abs(self.low.change_kept.value), abs(self.high.change_kept.value))

    @property
    def moves_limit(self) -> bool:
        """Whether the best limit is another one, beyond the error, at an end."""
        return any(side.limit_resolved for side in (self.low, self.high))


@dataclass(frozen=True)
class Uncertain:
    """An uncertain amount: key path, distribution, unit, and what converts it to that unit."""

    path: str
    distribution: Distribution
    unit: str
    per_unit: float
    linked: tuple[str, ...]
    told: Told | None = None  # by the log, if it bears on the amount

    def before(self, probability: float) -> float:
        """The probability of its distribution in the file for one after the log."""
        return probability if self.told is None else self.told.before(probability)

    def value(self, probability: float) -> float:
        """The amount not exceeded with a probability, after a log if there is one [unit of the
        file]."""
        point = np.array([self.before(probability)])
        return float(self.distribution.quantile(point)[0]) / self.per_unit


def uncertain_amounts(bench: Bench, written: Scenario) -> tuple[Uncertain, ...]:
    """Every amount that is a distribution; `written`: the scenario in the units of its file."""
    columns = {column.name: column.distribution for column in bench.job.sampler.columns}
    amounts = []
    for path, _, quantity in written.amounts():
        distribution = columns[path]
        assert distribution is not None
        group = next((names for names in bench.job.sampler.linked if path in names), ())
        amounts.append(
            Uncertain(
                path,
                distribution,
                quantity.unit(written.units),
                _per_unit(quantity, written.units),
                tuple(name for name in group if name != path),
                bench.told.get(path),
            )
        )
    return tuple(amounts)


def swings_of_amounts(bench: Bench, amounts: Sequence[Uncertain]) -> tuple[Swing, ...]:
    """The swing of each uncertain amount from its P10 to its P90, the largest first."""
    bench.prepare((amount.path, held_at(amount, p)) for amount in amounts for p in (LOW, HIGH))
    swings = []
    for amount in amounts:
        low, high = (
            _side(
                amount.value(p),
                bench.base,
                bench.judged(bench.moved(amount.path, held_at(amount, p)).known),
            )
            for p in (LOW, HIGH)
        )
        told = amount.told is not None
        swings.append(Swing(amount.path, amount.path, amount.unit, low, high, amount.linked, told))
    return tuple(sorted(swings, key=lambda swing: -swing.size))


def held_at(amount: Uncertain, probability: float) -> Between:
    """Between which probabilities of the file an amount is held to be at one after the log."""
    point = amount.before(probability)
    return point, point


def swings_of_inputs(bench: Bench) -> tuple[Swing, ...]:
    """The swing of each main input over its step, which no file gives."""
    swings = []
    for about in bench.inputs.values():
        turned = bench.turned(about.name)
        low, high = (_side(v, bench.base, bench.judged(turned(v))) for v in about.step)
        unit = "factor" if about.factor else "fraction"
        swings.append(Swing(about.name, about.words, unit, low, high))
    return tuple(swings)


def _side(value: float, base: Limits, there: Limits) -> Side:
    before, best = base.verdict.best, there.verdict.best
    kept = estimate(there.cost[:, before] - base.cost[:, before])
    return Side(
        value=value,
        best=best,
        limit_resolved=best != before and before not in there.verdict.not_told_apart,
        cost=estimate(there.cost[:, best]),
        change=estimate(there.cost[:, best] - base.cost[:, before]),
        change_kept=kept,
        resolved=kept.resolved(float(base.cost[:, before].mean())),
    )


def _per_unit(quantity: Quantity, units: str) -> float:
    return 1.0 if units == "field" else UNITS[quantity.dimension][2]
