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

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from econ.engine.case import Case
from econ.engine.choice import Choice, mean_bills
from econ.engine.ledger import Place
from econ.engine.walk import Step, walk

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


@dataclass(frozen=True)
class OpenEnd:
    """Ends whose fallback is still to be chosen: those that stop before run number `limit`, or
    whom that run ends; weight: (kinds, histories, n or 1)."""

    limit: int
    stops: bool
    weight: Array
    place: Place


@dataclass(frozen=True)
class Open:
    """A walk whose fallbacks are not chosen yet.

    fishing: cost without any fallback [currency] by kind, limit and draw, as in `Expected`, which
    has the other three; bills: mean cost [currency] of every fallback at each of the ends.
    """

    fishing: Array
    recovered: Array
    still: Array
    still_days: Array
    ends: Sequence[OpenEnd]
    bills: Sequence[Sequence[Array]]

    def cost(self, choice: Choice | None) -> Array:
        """Cost of each limit [currency], shape (kinds, limits, n), with a choice of fallbacks."""
        cost = self.fishing.copy()
        ended = np.zeros(cost.shape[::2])
        for end, bills in zip(self.ends, self.bills, strict=True):
            bill = bills[0] if choice is None else choice.taken(bills, end.place)
            amount = _summed(end.weight * bill)
            if end.stops:
                cost[:, end.limit] += ended + amount
            else:
                ended = ended + amount
        return cost

    def rebilled(self, case: Case, fallbacks: Sequence[int]) -> Open:
        """The same walk with other fallbacks, those of a case, under some of their numbers."""
        return replace(self, bills=_bills(case, self.ends, self.bills, fallbacks))

    def mixed(self, other: Open, share: Array | float) -> Open:
        """This walk and a share of the way to `other`, which has other prices alone; one share,
        or one a draw."""
        return replace(
            self,
            fishing=_mixed(self.fishing, other.fishing, share),
            bills=[
                [_mixed(here, there, share) for here, there in zip(mine, theirs, strict=True)]
                for mine, theirs in zip(self.bills, other.bills, strict=True)
            ],
        )


def opened(case: Case, *, histories: int = 1) -> Open:
    """Walk a case once. histories: how many a level keeps apart; more leave less noise."""
    shape = (len(case.prior), len(case.program) + 1, case.n)
    fishing, recovered, still, still_days = (np.zeros(shape) for _ in range(4))
    ended: Array = np.zeros((shape[0], shape[2]))
    out: Array = np.zeros((shape[0], shape[2]))
    ends: list[OpenEnd] = []
    for step in walk(case, None, histories=histories):
        k, level = step.number, step.level
        fishing[:, k] = ended + _summed(step.stop.weight * step.stop.fishing)
        recovered[:, k] = out + (0.0 if step.stop.place else _summed(step.stop.weight))
        still[:, k] = _summed(level.weight)
        still_days[:, k] = _summed(level.weight * level.days)
        for number, ending in enumerate(step.ends):
            ended = ended + _summed(ending.weight * ending.fishing)
            if number == 0:
                out = out + _summed(ending.weight)
        ends += _open_ends(step)
    none = [[np.zeros(())] * len(case.fallbacks) for _ in ends]
    bills = _bills(case, ends, none, range(len(case.fallbacks)))
    return Open(fishing, recovered, still, still_days, ends, bills)


def expected(case: Case, choice: Choice | None, *, histories: int) -> Expected:
    """Walk a case once. histories: how many a level keeps apart; more leave less noise."""
    walked = opened(case, histories=histories)
    return Expected(walked.cost(choice), walked.recovered, walked.still, walked.still_days)


def _open_ends(step: Step) -> list[OpenEnd]:
    """The ends of a step that have a fallback, the stop first."""
    return [
        OpenEnd(step.number, ending is step.stop, ending.weight, ending.place)
        for ending in (step.stop, *step.ends)
        if ending.place is not None
    ]


def _bills(
    case: Case,
    ends: Sequence[OpenEnd],
    known: Sequence[Sequence[Array]],
    fallbacks: Sequence[int],
) -> list[list[Array]]:
    """Mean cost of every fallback at each end; only those of `fallbacks` are worked out."""
    return [
        [new.get(number, bill) for number, bill in enumerate(bills)]
        for new, bills in (
            (mean_bills(case, end.place, fallbacks), bills)
            for end, bills in zip(ends, known, strict=True)
        )
    ]


def _mixed(here: Array, there: Array, share: Array | float) -> Array:
    return here if here is there else np.asarray(here + share * (there - here))


def _summed(values: Array) -> Array:
    """Over histories, shape (kinds, n or 1)."""
    return values[:, 0] if values.shape[1] == 1 else np.asarray(values.sum(axis=1))
