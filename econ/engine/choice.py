"""Which fallback is taken: the cheapest by expected cost at the fish top that the crew sees.

With several fallbacks, mean costs over a pilot set of draws are tabled on a grid of fish
tops, A_j(T) for the fallback itself and V(T) for the pieces below T. At a stop with the top
at T the one with the least A_j(T) + share_j V(T) is taken, never the one that is cheapest
in a single draw, which nobody on the rig can know.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from econ.engine.case import Case
from econ.job import Bill

Array = NDArray[np.float64]
GRID = 513


@dataclass(frozen=True)
class Choice:
    """Mean costs of the fallbacks on a grid of fish tops [ft]; shape (fallbacks, grid)."""

    tops: Array
    means: Array
    shares: Array  # of the lost-in-hole value that is owed, mean, shape (fallbacks,)
    pieces: Array  # mean value below each top [currency], shape (grid,)
    after_hole_lost: int

    def at(self, *, top: Array, pieces_top: Array) -> NDArray[np.intp]:
        """Number of the fallback taken with the upper end of what is in the hole at `top`
        and the original fish left from `pieces_top` [ft] down."""
        value = np.interp(pieces_top, self.tops, self.pieces)
        costs = [
            np.interp(top, self.tops, mean) + share * value
            for mean, share in zip(self.means, self.shares, strict=True)
        ]
        return np.asarray(np.argmin(np.stack(costs), axis=0), dtype=np.intp)


def choose(pilot: Case) -> Choice | None:
    """Table of the choice from a pilot block of draws; None if there is but one fallback."""
    if len(pilot.fallbacks) == 1:
        return None
    longest = max((float(np.max(run.string_length)) for run in pilot.runs), default=0.0)
    tops = np.linspace(max(0.0, pilot.fish.top - longest), pilot.fish.bottom, GRID)
    column = tops[:, None]

    def mean(values: Array) -> Array:
        return np.asarray(np.broadcast_to(values, (GRID, pilot.n)).mean(axis=1))

    pieces = mean(pilot.fish.value_below(column))
    shares = np.array([float(np.mean(each.lost_in_hole_share)) for each in pilot.fallbacks])
    whole = float(np.interp(pilot.fish.top, tops, pieces))
    lost = [float(np.mean(each.bill_after_hole_lost().mean())) for each in pilot.fallbacks]
    return Choice(
        tops=tops,
        means=np.stack([mean(each.bill_above(column).mean()) for each in pilot.fallbacks]),
        shares=shares,
        pieces=pieces,
        after_hole_lost=int(np.argmin(np.array(lost) + shares * whole)),
    )


def bill_at(case: Case, choice: Choice | None, *, top: Array, pieces_top: Array) -> Bill:
    """Bill of the fallback taken, with what is owed for the pieces below `pieces_top`."""
    pieces = case.fish.value_below(pieces_top)
    bills = [each.bill_above(top).plus(each.lost_in_hole_share * pieces) for each in case.fallbacks]
    if choice is None:
        return bills[0]
    taken = choice.at(top=top, pieces_top=pieces_top)

    def pick(values: list[Array]) -> Array:
        shape = np.broadcast_shapes(taken.shape, *(each.shape for each in values))
        return np.choose(np.broadcast_to(taken, shape), values)

    return Bill(
        certain=pick([bill.certain for bill in bills]),
        per_retry=pick([bill.per_retry for bill in bills]),
        failure=pick([bill.failure for bill in bills]),
        stick_chance=pick([bill.stick_chance for bill in bills]),
        stick_cost=pick([bill.stick_cost for bill in bills]),
    )


def bill_after_hole_lost(case: Case, choice: Choice | None) -> Bill:
    """Bill from below the shoe with the whole fish owed, pieces brought out earlier included."""
    fallback = case.fallbacks[0 if choice is None else choice.after_hole_lost]
    whole = case.fish.value_below(np.asarray(case.fish.top))
    return fallback.bill_after_hole_lost().plus(fallback.lost_in_hole_share * whole)
