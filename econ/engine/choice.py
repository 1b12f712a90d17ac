"""Which fallback is taken: the cheapest by expected cost at the fish top that the crew sees.

With several fallbacks, mean costs over a pilot set of draws are tabled on a grid of fish
tops, A_j(T) for the fallback itself and V(T) for the pieces below T. At a stop with the top
at T the one with the least A_j(T) + share_j V(T) is taken, of those that are open in that
state, never the one that is cheapest in a single draw, which nobody on the rig can know.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from econ.engine.case import Case
from econ.engine.ledger import Place
from econ.engine.level import begin
from econ.job import Bill
from econ.job.bill import picked

Array = NDArray[np.float64]
GRID = 513


@dataclass(frozen=True)
class Choice:
    """Mean costs of the fallbacks on a grid of fish tops [ft]; shape (fallbacks, grid)."""

    tops: Array
    means: Array
    shares: Array  # of the lost-in-hole value that is owed, mean, shape (fallbacks,)
    pieces: Array  # mean value below each top [currency], shape (grid,)
    closed: NDArray[np.bool_]  # not open with the fishing string lost, shape (fallbacks,)
    after_hole_lost: Array  # mean cost once the hole is lost, infinite where it is not open

    @property
    def once_lost(self) -> int:
        """Number of the fallback taken once the hole is lost."""
        return int(np.argmin(self.after_hole_lost))

    def taken(self, bills: Sequence[Array], place: Place) -> Array:
        """Of the bills of all fallbacks at a place [currency] that of the one taken."""
        if place.lost == "hole":
            return bills[self.once_lost]
        number = self.at(
            top=place.top, pieces_top=place.pieces_top, string_lost=place.lost == "string"
        )
        shape = np.broadcast_shapes(number.shape, *(bill.shape for bill in bills))
        return np.choose(np.broadcast_to(number, shape), bills)

    def mixed(self, other: Choice, share: float) -> Choice:
        """This table and a share of the way to `other`, on the same fish tops."""

        def between(here: Array, there: Array) -> Array:
            apart = np.subtract(there, here, out=np.zeros_like(here), where=here != there)
            return np.asarray(here + share * apart)

        return replace(
            self,
            means=between(self.means, other.means),
            shares=between(self.shares, other.shares),
            pieces=between(self.pieces, other.pieces),
            after_hole_lost=between(self.after_hole_lost, other.after_hole_lost),
        )

    def costs(self, *, top: Array, pieces_top: Array, string_lost: bool = False) -> Array:
        """Mean cost of each fallback with the upper end of what is in the hole at `top` and
        the original fish left from `pieces_top` [ft] down; infinite where it is not open."""
        value = np.interp(pieces_top, self.tops, self.pieces)
        costs = [
            np.interp(top, self.tops, mean) + share * value
            for mean, share in zip(self.means, self.shares, strict=True)
        ]
        if string_lost:
            costs = [
                np.full_like(cost, np.inf) if closed else cost
                for cost, closed in zip(costs, self.closed, strict=True)
            ]
        return np.stack(costs)

    def at(self, *, top: Array, pieces_top: Array, string_lost: bool = False) -> NDArray[np.intp]:
        """Number of the fallback taken; see `costs`."""
        costs = self.costs(top=top, pieces_top=pieces_top, string_lost=string_lost)
        return np.asarray(np.argmin(costs, axis=0), dtype=np.intp)


def choose(
    pilot: Case,
    *,
    points: int = GRID,
    known: Choice | None = None,
    changed: Collection[int] = (),
) -> Choice | None:
    """Table of the choice from a pilot block of draws; None if there is but one fallback.

    points: of the grid of fish tops; known: a table of the same job to take all from but the
    fallbacks whose numbers are `changed`.
    """
    if len(pilot.fallbacks) == 1:
        return None
    return table(pilot, points=points, known=known, changed=changed)


def table(
    pilot: Case,
    *,
    points: int = GRID,
    known: Choice | None = None,
    changed: Collection[int] = (),
) -> Choice:
    """Mean costs of every fallback at every fish top, from a pilot block of draws; see `choose`."""
    tops = _grid(pilot, points) if known is None else known.tops
    column = tops[:, None]
    weight = begin(pilot).weight.sum(axis=0)  # (1, n or 1), mean 1

    def mean(values: Array) -> Array:
        return np.asarray(np.broadcast_to((values * weight).mean(axis=-1), (tops.size,)))

    pieces = mean(pilot.fish.value_below(column)) if known is None else known.pieces
    whole = float(np.interp(pilot.fish.top, tops, pieces))
    shares, means, lost = [], [], []
    for number, plan in enumerate(pilot.fallbacks):
        if known is not None and number not in changed:
            shares.append(known.shares[number])
            means.append(known.means[number])
            lost.append(known.after_hole_lost[number])
            continue
        share = float(np.mean(plan.lost_in_hole_share))
        own = (
            np.mean(plan.bill_after_hole_lost().mean() * weight) if plan.after_hole_lost else np.inf
        )
        shares.append(share)
        means.append(mean(plan.bill_above(column).mean()))
        lost.append(float(own) + share * whole)
    return Choice(
        tops=tops,
        means=np.stack(means),
        shares=np.array(shares),
        pieces=pieces,
        closed=np.array([not plan.after_string_lost for plan in pilot.fallbacks]),
        after_hole_lost=np.array(lost),
    )


def _grid(pilot: Case, points: int) -> Array:
    """Fish tops [ft] of a table, from the highest that can come to the bottom of the fish."""
    longest = max((float(np.max(run.string_length)) for run in pilot.runs), default=0.0)
    measured = [event.top for event in pilot.logged if event.top is not None]
    highest = max(0.0, min([pilot.fish.top - longest, *measured]))  # of a string left in the hole
    # The value of the pieces bends at their ends, the present top among them.
    ends = pilot.fish.top + np.cumsum([0.0, *pilot.fish.lengths])
    return np.union1d(np.linspace(highest, pilot.fish.bottom, points), ends)


def bill_at(
    case: Case, choice: Choice | None, *, top: Array, pieces_top: Array, string_lost: bool = False
) -> Bill:
    """Bill of the fallback taken, with what is owed for the pieces below `pieces_top`."""
    pieces = case.fish.value_below(pieces_top)

    def bill(number: int) -> Bill:
        fallback = case.fallbacks[number]
        own = replace(fallback.bill_above(top), fallback=np.asarray(number))
        return own.owing(pieces=fallback.lost_in_hole_share * pieces)

    if choice is None:
        return bill(0)
    taken = choice.at(top=top, pieces_top=pieces_top, string_lost=string_lost)
    used = np.flatnonzero(np.bincount(taken.ravel()))
    bills = [bill(int(number)) for number in used]
    return bills[0] if len(bills) == 1 else picked(bills, np.searchsorted(used, taken))


def bill_after_hole_lost(case: Case, choice: Choice | None) -> Bill:
    """Bill from below the shoe with the whole fish owed, pieces brought out earlier included."""
    number = 0 if choice is None else choice.once_lost
    known = case.hole_lost_bills
    if number not in known:
        fallback = case.fallbacks[number]
        whole = case.fish.value_below(np.asarray(case.fish.top))
        owed = fallback.lost_in_hole_share * whole
        own = replace(fallback.bill_after_hole_lost(), fallback=np.asarray(number))
        known[number] = own.owing(pieces=owed)
    return known[number]


def bill_of(case: Case, choice: Choice | None, place: Place) -> Bill:
    """Bill of the fallback taken at a place, lost strings and tools included."""
    if place.lost == "hole":
        return bill_after_hole_lost(case, choice).owing(string=place.string)
    string_lost = place.lost == "string"
    bill = bill_at(
        case, choice, top=place.top, pieces_top=place.pieces_top, string_lost=string_lost
    )
    return bill.owing(string=place.string) if string_lost else bill


def mean_bills(case: Case, place: Place, fallbacks: Sequence[int]) -> dict[int, Array]:
    """Expected cost of some fallbacks at a place [currency], by their numbers, lost strings and
    tools included. Where one is not open its cost has no meaning."""
    pieces = case.fish.value_below(place.pieces_top)
    bills = {}
    for number in fallbacks:
        plan = case.fallbacks[number]
        bill = plan.bill_after_hole_lost() if place.lost == "hole" else plan.bill_above(place.top)
        bills[number] = bill.mean() + (plan.lost_in_hole_share * pieces + place.string)
    return bills
