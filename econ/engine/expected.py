"""Expected costs of every limit, draw by draw: the lean walk behind what-ifs and sweeps.

C_n = E_0 + ... + E_{n-1} + S_n as in `econ.engine.curves`, kept for every draw so that the
difference between two cases on the same draws has the small error of a difference. No
percentiles, no days but those of the path.

Where a fallback begins, and with which chance, does not depend on which one is taken. So a walk
is opened first, with the mean bill of every fallback at every end, and settled by a choice
afterwards: the same walk serves any number of choices, and any prices of the fallbacks. Prices
move neither a chance nor a fish top, so that with x a price that bills and days are paid at, the
costs of fishing, the bills and the table of the choice are all linear in x: between two walks
with prices x and y they are the mixture of both.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from econ.engine.case import Case
from econ.engine.choice import Bills, Choice, Tops
from econ.engine.ledger import Place
from econ.engine.level import begin
from econ.engine.walk import Step, walk

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Expected:
    """Weighted values of each limit, shape (kinds, limits, n); sum over kinds, mean over draws.

    cost [currency]; recovered: chance; still: weight of those that all runs have failed;
    still_days: that weight x elapsed days; plain_days: weight of the draw x those days, as if
    nothing could end the job before.
    """

    cost: Array
    recovered: Array
    still: Array
    still_days: Array
    plain_days: Array

    def apart(self, count: int) -> Iterator[Expected]:
        """Those of the cases that were joined, `count` of them with as many draws each."""
        parts = [np.split(values, count, axis=-1) for values in vars(self).values()]
        for part in zip(*parts, strict=True):
            yield Expected(*(values.copy() for values in part))


@dataclass(frozen=True)
class OpenEnd:
    """Ends whose fallback is still to be chosen: those that stop before run number `limit`, or
    whom that run ends; weight: (kinds, histories, n or 1); tops: those of the place, if few."""

    limit: int
    stops: bool
    weight: Array
    place: Place
    tops: Tops | None


@dataclass(frozen=True)
class Mixed:
    """Bills a share of the way from `one` to `other`; one share, or one a draw."""

    one: Bills
    other: Bills
    share: Array | float

    def at(self, place: Place, tops: Tops | None, choice: Choice | None) -> Array:
        """As of `Bills`."""
        here, there = (bills.at(place, tops, choice) for bills in (self.one, self.other))
        return np.asarray(here + self.share * (there - here))


@dataclass(frozen=True)
class Open:
    """A walk whose fallbacks are not chosen yet.

    fishing: cost without any fallback [currency] by kind, limit and draw, as in `Expected`, which
    has the other four; bills: of the fallbacks at the ends; weight: of the draws at the start,
    all kinds together, shape (1, n or 1).
    """

    fishing: Array
    recovered: Array
    still: Array
    still_days: Array
    plain_days: Array
    ends: Sequence[OpenEnd]
    bills: Bills
    weight: Array

    def cost(self, choice: Choice | None, bills: Bills | Mixed | None = None) -> Array:
        """Cost of each limit [currency], shape (kinds, limits, n), with a choice of fallbacks, and
        with other bills if they are given."""
        bills = self.bills if bills is None else bills
        cost = self.fishing.copy()
        ended = np.zeros(cost.shape[::2])
        for end in self.ends:
            amount = _summed(end.weight * bills.at(end.place, end.tops, choice))
            if end.stops:
                cost[:, end.limit] += ended + amount
            else:
                ended = ended + amount
        return cost

    def settled(self, choice: Choice | None) -> Expected:
        """What the walk comes to with a choice of fallbacks."""
        return Expected(
            self.cost(choice), self.recovered, self.still, self.still_days, self.plain_days
        )

    def mixed_cost(self, other: Open, share: Array | float, choice: Choice | None) -> Array:
        """The same a share of the way to `other`, which has other prices alone; one share, or one
        a draw."""
        fishing = self.fishing + share * (other.fishing - self.fishing)
        mixed = Mixed(self.bills, other.bills, share)
        return replace(self, fishing=fishing).cost(choice, mixed)

    def choice(self, case: Case) -> Choice | None:
        """The fallback that is cheapest on the average of its own draws, wherever it begins.
        case: what was walked."""
        ends = (end.tops for end in self.ends if end.place.lost != "hole")
        return self.bills.choice(case, ends, self.weight)

    def rebilled(self, case: Case, numbers: Collection[int]) -> Open:
        """The same walk with other fallbacks, those of a case, under some of their numbers."""
        return replace(self, bills=self.bills.changed(case, numbers))


def opened(case: Case, *, histories: int = 1, bills: Bills | None = None) -> Open:
    """Walk a case once. histories: how many a level keeps apart; more leave less noise; bills:
    those of another walk that has the same fallbacks and the same fish."""
    bills = Bills(case) if bills is None else bills
    shape = (len(case.prior), len(case.program) + 1, case.n)
    fishing, recovered, still, still_days, plain_days = (np.zeros(shape) for _ in range(5))
    ended: Array = np.zeros((shape[0], shape[2]))
    out: Array = np.zeros((shape[0], shape[2]))
    ends: list[OpenEnd] = []
    weight: Array = np.ones((1, 1))
    start = begin(case).weight
    for step in walk(case, None, histories=histories):
        k, level = step.number, step.level
        weight = level.weight.sum(axis=0) if k == 0 else weight
        fishing[:, k] = ended + _summed(step.stop.weight * step.stop.fishing)
        recovered[:, k] = out + (0.0 if step.stop.place else _summed(step.stop.weight))
        still[:, k] = _summed(level.weight)
        still_days[:, k] = _summed(level.weight * level.days)
        plain_days[:, k] = _summed(start * level.days.mean(axis=1, keepdims=True))
        for ending in step.ends:
            ended = ended + _summed(ending.weight * ending.fishing)
            if ending.place is None:
                out = out + _summed(ending.weight)
        ends += _open_ends(step, bills)
    return Open(fishing, recovered, still, still_days, plain_days, ends, bills, weight)


def expected(case: Case, choice: Choice | None, *, histories: int) -> Expected:
    """Walk a case once. histories: how many a level keeps apart; more leave less noise."""
    return opened(case, histories=histories).settled(choice)


def _open_ends(step: Step, bills: Bills) -> Iterator[OpenEnd]:
    """The ends of a step that have a fallback, the stop first."""
    tops: Tops | None = None
    for ending in (step.stop, *step.ends):
        place = ending.place
        if place is None:
            continue
        stops, lost = ending is step.stop, place.lost == "hole"
        here = None if lost else bills.tops(place, None if stops else tops)
        tops = here if stops else tops
        yield OpenEnd(step.number, stops, ending.weight, place, here)


def _summed(values: Array) -> Array:
    """Over histories, shape (kinds, n or 1)."""
    return values[:, 0] if values.shape[1] == 1 else np.asarray(values.sum(axis=1))
