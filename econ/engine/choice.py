"""Which fallback is taken: the cheapest by expected cost at the fish top that the crew sees.

With several fallbacks, mean costs over a pilot set of draws are tabled on a grid of fish
tops, A_j(T) for the fallback itself and V(T) for the pieces below T. At a stop with the top
at T the one with the least A_j(T) + share_j V(T) is taken, of those that are open in that
state, never the one that is cheapest in a single draw, which nobody on the rig can know.
With a deadline the day counts as well, which the crew sees too (`econ.engine.lateness`).
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from econ.engine.case import Case
from econ.engine.lateness import Lateness
from econ.engine.ledger import Place
from econ.engine.level import begin, three
from econ.engine.marks import Condition, Signs
from econ.job import Bill
from econ.job.bill import picked

Array = NDArray[np.float64]
GRID = 513
POINTS = 65  # of a grid for one walk
FEW_TOPS = 32  # distinct fish tops that are worth being kept one by one


@dataclass(frozen=True)
class Choice:
    """Mean costs of the fallbacks on a grid of fish tops [ft]; shape (fallbacks, grid)."""

    tops: Array
    means: Array
    shares: Array  # of the lost-in-hole value that is owed, mean, shape (fallbacks,)
    pieces: Array  # mean value below each top [currency], shape (grid,)
    closed: NDArray[np.bool_]  # not open with the fishing string lost, shape (fallbacks,)
    after_hole_lost: Array  # mean cost once the hole is lost, infinite where it is not open
    open_if: Sequence[Condition]  # of each fallback, held against the signs of a state
    lateness: Lateness | None = None  # where there is a deadline

    def once_lost(self, signs: Signs | None = None, day: Array | None = None) -> NDArray[np.intp]:
        """Number of the fallback taken once the hole is lost; day: see `costs`."""
        costs = self._open(self._late(list(self.after_hole_lost), None, day), signs)
        together = np.stack(np.broadcast_arrays(*costs))
        return np.asarray(np.argmin(together, axis=0), dtype=np.intp)

    def _late(
        self, costs: Sequence[Array], top: Array | None, day: Array | None
    ) -> Sequence[Array]:
        """Costs of the fallbacks with that of ending late; top: None once the hole is lost."""
        if self.lateness is None or day is None:
            return costs
        return [cost + self.lateness.of(number, top, day) for number, cost in enumerate(costs)]

    def _open(self, costs: Sequence[Array], signs: Signs | None) -> list[Array]:
        """Costs of the fallbacks, infinite where the signs do not allow one."""
        if signs is None:
            return list(costs)
        return [
            np.where(condition.holds(signs), cost, np.inf)
            for cost, condition in zip(costs, self.open_if, strict=True)
        ]

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

    def costs(
        self,
        *,
        top: Array,
        pieces_top: Array,
        string_lost: bool = False,
        signs: Signs | None = None,
        day: Array | None = None,
    ) -> Array:
        """Mean cost of each fallback with the upper end of what is in the hole at `top` and
        the original fish left from `pieces_top` [ft] down; infinite where it is not open. day:
        on which it begins [d from now], where there is a deadline."""
        value = np.interp(pieces_top, self.tops, self.pieces)
        costs = [
            np.interp(top, self.tops, mean) + share * value
            for mean, share in zip(self.means, self.shares, strict=True)
        ]
        costs = list(self._late(costs, top, day))
        if string_lost:
            costs = [
                np.full_like(cost, np.inf) if closed else cost
                for cost, closed in zip(costs, self.closed, strict=True)
            ]
        return np.stack(np.broadcast_arrays(*self._open(costs, signs)))

    def at(
        self,
        *,
        top: Array,
        pieces_top: Array,
        string_lost: bool = False,
        signs: Signs | None = None,
        day: Array | None = None,
    ) -> NDArray[np.intp]:
        """Number of the fallback taken; see `costs`."""
        costs = self.costs(
            top=top, pieces_top=pieces_top, string_lost=string_lost, signs=signs, day=day
        )
        return np.asarray(np.argmin(costs, axis=0), dtype=np.intp)


def choose(pilot: Case, *, points: int = GRID) -> Choice | None:
    """Table of the choice from a pilot block of draws; None if there is but one fallback.

    points: of the grid of fish tops.
    """
    return None if len(pilot.fallbacks) == 1 else table(pilot, points=points)


def table(pilot: Case, *, points: int = GRID) -> Choice:
    """Mean costs of every fallback at every fish top, from a pilot block of draws."""
    tops = _grid(pilot, points)
    column = tops[:, None]
    weight = begin(pilot).weight.sum(axis=0)  # (1, n or 1), mean 1

    def mean(values: Array) -> Array:
        return np.asarray(np.broadcast_to((values * weight).mean(axis=-1), (tops.size,)))

    pieces = mean(pilot.fish.value_below(column))
    shares = np.array([float(np.mean(plan.lost_in_hole_share)) for plan in pilot.fallbacks])
    whole = float(np.interp(pilot.fish.top, tops, pieces))
    lost = [
        float(np.mean(plan.bill_after_hole_lost().mean() * weight))
        if plan.after_hole_lost
        else np.inf
        for plan in pilot.fallbacks
    ]
    return Choice(
        tops=tops,
        means=np.stack([mean(plan.bill_above(column).mean()) for plan in pilot.fallbacks]),
        shares=shares,
        pieces=pieces,
        closed=np.array([not plan.after_string_lost for plan in pilot.fallbacks]),
        after_hole_lost=np.array(lost) + shares * whole,
        open_if=pilot.open_if,
        lateness=Lateness.table(pilot, tops=(tops[0], tops[-1]), weight=weight),
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
    case: Case,
    choice: Choice | None,
    *,
    top: Array,
    pieces_top: Array,
    string_lost: bool = False,
    signs: Signs | None = None,
    day: Array | None = None,
) -> Bill:
    """Bill of the fallback taken, with what is owed for the pieces below `pieces_top`; day: on
    which it begins [d from now], where there is a deadline."""
    pieces = case.fish.value_below(pieces_top)

    def bill(number: int) -> Bill:
        fallback = case.fallbacks[number]
        own = replace(fallback.bill_above(top), fallback=np.asarray(number))
        return own.owing(pieces=fallback.lost_in_hole_share * pieces)

    if choice is None:
        return bill(0).begun_on(day, case.deadline)
    taken = choice.at(top=top, pieces_top=pieces_top, string_lost=string_lost, signs=signs, day=day)
    return _taken(bill, taken).begun_on(day, case.deadline)


def _taken(bill: Callable[[int], Bill], numbers: NDArray[np.intp]) -> Bill:
    """In each state the bill of the fallback with its number."""
    used = np.flatnonzero(np.bincount(numbers.ravel()))
    bills = [bill(int(number)) for number in used]
    return bills[0] if len(bills) == 1 else picked(bills, np.searchsorted(used, numbers))


def bill_after_hole_lost(
    case: Case,
    choice: Choice | None,
    signs: Signs | None = None,
    day: Array | None = None,
) -> Bill:
    """Bill from below the shoe with the whole fish owed, pieces brought out earlier included; day:
    see `bill_at`."""
    known = case.hole_lost_bills

    def bill(number: int) -> Bill:
        if number not in known:
            fallback = case.fallbacks[number]
            whole = case.fish.value_below(np.asarray(case.fish.top))
            owed = fallback.lost_in_hole_share * whole
            own = replace(fallback.bill_after_hole_lost(), fallback=np.asarray(number))
            known[number] = own.owing(pieces=owed)
        return known[number]

    taken = bill(0) if choice is None else _taken(bill, choice.once_lost(signs, day))
    return taken.begun_on(day, case.deadline)


def bill_of(case: Case, choice: Choice | None, place: Place) -> Bill:
    """Bill of the fallback taken at a place, with the wait for its approval, lost strings and
    tools."""
    return _bill_of(case, choice, place).approved_after(place.waiting, spread=case.spread)


def _bill_of(case: Case, choice: Choice | None, place: Place) -> Bill:
    if place.lost == "hole":
        lost = bill_after_hole_lost(case, choice, place.signs, place.day)
        return lost.owing(string=place.string)
    string_lost = place.lost == "string"
    bill = bill_at(
        case,
        choice,
        top=place.top,
        pieces_top=place.pieces_top,
        string_lost=string_lost,
        signs=place.signs,
        day=place.day,
    )
    return bill.owing(string=place.string) if string_lost else bill


@dataclass(frozen=True)
class Tops:
    """The distinct fish tops of a place where there are few: `upper` ends of what is in the hole
    with the `pieces` tops that go with them [ft], shape (tops,), and which of them each kind,
    history and draw has."""

    upper: Array
    pieces: Array
    which: NDArray[np.intp]

    @classmethod
    def of(cls, place: Place, *, most: int, alike: Tops | None = None) -> Tops | None:
        """Those of a place; None where there are more than `most`, or more than one upper end
        goes with a top of the pieces. alike: of a place with the same tops of the pieces."""
        if most == 0:
            return None
        if alike is None:
            pieces, which = np.unique(place.pieces_top, return_inverse=True)
            if pieces.size > most:
                return None
            alike = cls(pieces, pieces, which.reshape(place.pieces_top.shape))
        if place.top is place.pieces_top:
            return alike
        if place.top.shape != alike.which.shape:  # one a draw, as what is left of a string has
            return None
        upper = np.zeros_like(alike.pieces)
        upper[alike.which] = place.top
        return None if (upper[alike.which] != place.top).any() else replace(alike, upper=upper)


class Bills:
    """Mean costs of the fallbacks of a case at places where they begin.

    kept: whether other walks will be given the same bills; then each of a few fish tops is worked
    out once for all of them.
    """

    def __init__(self, case: Case, *, kept: bool = False) -> None:
        few = kept or len(case.fallbacks) > 1 or case.deadline is not None
        self._most = FEW_TOPS if few else 0
        self._case = case
        self._fish = case.fish
        self._plans = tuple(case.fallbacks)
        self._pieces: dict[float, Array] = {}  # by fish top, shape () or (n,)
        self._above: tuple[dict[float, Array], ...] = tuple({} for _ in self._plans)
        self._lost: dict[int, Array] = {}  # once the hole is lost, by number
        self._asked: Array | None = None  # the tops of many for which the value was worked out last
        self._value: Array = np.zeros(())
        self._rows: dict[tuple[int, float, float], Array] = {}  # with what is owed, (1, 1, n or 1)
        self._dated: dict[float | None, Bill] = {}  # by the one top of a place, None: hole lost

    def changed(self, case: Case, numbers: Collection[int]) -> Bills:
        """Bills with the fallbacks of a case under some of the numbers, on the same fish."""
        new = Bills(case)
        new._most, new._pieces = self._most, self._pieces
        new._above = tuple(
            {} if number in numbers else above for number, above in enumerate(self._above)
        )
        new._lost = {number: bill for number, bill in self._lost.items() if number not in numbers}
        new._rows = {key: row for key, row in self._rows.items() if key[0] not in numbers}
        return new

    def repeated(self, case: Case, times: int) -> Bills:
        """Bills of a case that has every draw of this one so many times, one set after another,
        with all that is worked out here."""

        def whole(values: Array) -> Array:
            return values if values.shape[-1:] != (self._case.n,) else np.tile(values, times)

        new = Bills(case)
        new._most = self._most
        new._pieces = {top: whole(value) for top, value in self._pieces.items()}
        new._above = tuple(
            {top: whole(bill) for top, bill in above.items()} for above in self._above
        )
        new._lost = {number: whole(bill) for number, bill in self._lost.items()}
        new._rows = {key: whole(row) for key, row in self._rows.items()}
        return new

    def tops(self, place: Place, alike: Tops | None = None) -> Tops | None:
        """The distinct fish tops of a place, where it is worth to work them out one by one; alike:
        those of a place with the same tops of the pieces."""
        return Tops.of(place, most=self._most, alike=alike)

    def at(self, place: Place, tops: Tops | None, choice: Choice | None) -> Array:
        """Mean cost [currency] of the fallback taken at a place, with the wait for its approval,
        lost strings and tools; tops: those of the place."""
        late: Array | float = 0.0
        if place.day is not None and self._case.deadline is not None:
            bill = self._single(place, tops, choice)
            if bill is None:  # no two states of one top cost the same
                return bill_of(self._case, choice, place).mean()
            late = bill.late_from(place.day, self._case.deadline)
        cost = self._own(place, tops, choice) + late
        if place.waiting is None:
            return cost
        return np.asarray(cost + place.waiting / 24.0 * self._case.spread)

    def _single(self, place: Place, tops: Tops | None, choice: Choice | None) -> Bill | None:
        """The bill of the only fallback at a place of one top, without what is owed and the day."""
        if choice is not None:
            return None
        top = None
        if place.lost != "hole":
            if tops is None or tops.upper.size > 1:
                return None
            top = float(tops.upper[0])
        if top not in self._dated:
            plan = self._plans[0]
            self._dated[top] = (
                plan.bill_after_hole_lost() if top is None else plan.bill_above(np.asarray(top))
            )
        return self._dated[top]

    def _own(self, place: Place, tops: Tops | None, choice: Choice | None) -> Array:
        """The same without the wait for an approval."""
        if place.lost == "hole":
            if choice is None:
                return self._once_lost(0) + place.string
            numbers = choice.once_lost(place.signs)
            if numbers.size == 1:
                return self._once_lost(int(numbers.ravel()[0])) + place.string
            used = np.flatnonzero(np.bincount(numbers.ravel()))
            lost = [three(self._once_lost(int(number))) for number in used]
            return np.choose(np.searchsorted(used, numbers), lost) + place.string
        string_lost = place.lost == "string"
        # Where the signs decide as well, states of one top may take different fallbacks.
        if tops is None or place.signs is not None:
            bill = self._at_every(place, choice, string_lost=string_lost)
        else:
            numbers = np.zeros(tops.upper.shape, dtype=np.intp)
            if choice is not None:
                numbers = choice.at(top=tops.upper, pieces_top=tops.pieces, string_lost=string_lost)
            rows = self._rows_at(tops, [int(number) for number in numbers])
            bill = rows[0] if len(rows) == 1 else _of_rows(rows, tops.which)
        return bill + place.string if string_lost else bill

    def choice(self, case: Case, ends: Iterable[Tops | None], weight: Array) -> Choice | None:
        """The choice at some places, from mean costs at the very tops that they have; from a table
        where there are many. weight: of the draws, shape (1, n or 1)."""
        if len(self._plans) == 1:
            return None
        some = list(ends)
        tops = np.unique(
            [top for end in some if end is not None for top in (*end.upper, *end.pieces)]
        )
        if None in some or tops.size > FEW_TOPS or case.deadline is not None:
            return table(case, points=POINTS)
        share = (weight / weight.mean()).ravel()

        def mean(values: Array) -> float:
            return float(np.mean(values * share))

        for number in range(len(self._plans)):
            self._learn(number, tops.tolist())
        shares = np.array([float(np.mean(plan.lost_in_hole_share)) for plan in self._plans])
        return Choice(
            tops=tops,
            means=np.array([[mean(above[top]) for top in tops.tolist()] for above in self._above]),
            shares=shares,
            pieces=np.array([mean(self._value_below(top)) for top in tops.tolist()]),
            closed=np.array([not plan.after_string_lost for plan in self._plans]),
            after_hole_lost=np.array(
                [
                    mean(self._once_lost(number)) if plan.after_hole_lost else np.inf
                    for number, plan in enumerate(self._plans)
                ]
            ),
            open_if=case.open_if,
        )

    def _at_every(self, place: Place, choice: Choice | None, *, string_lost: bool) -> Array:
        """Mean cost at a place of many tops."""
        if self._asked is not place.pieces_top:  # two places of a level have the same pieces
            self._asked, self._value = place.pieces_top, self._fish.value_below(place.pieces_top)
        value = self._value

        def bill(number: int) -> Array:
            plan = self._plans[number]
            return plan.bill_above(place.top).mean() + plan.lost_in_hole_share * value

        if choice is None:
            return bill(0)
        taken = choice.at(
            top=place.top,
            pieces_top=place.pieces_top,
            string_lost=string_lost,
            signs=place.signs,
        )
        used = np.flatnonzero(np.bincount(taken.ravel()))
        bills = [bill(int(number)) for number in used]
        return bills[0] if len(bills) == 1 else np.choose(np.searchsorted(used, taken), bills)

    def _value_below(self, top: float) -> Array:
        if top not in self._pieces:
            self._pieces[top] = self._fish.value_below(np.asarray(top))
        return self._pieces[top]

    def _owed(self, number: int, pieces_top: float) -> Array:
        return self._plans[number].lost_in_hole_share * self._value_below(pieces_top)

    def _rows_at(self, tops: Tops, numbers: Sequence[int]) -> list[Array]:
        """Mean cost at every top of the fallback with its number."""
        for number in set(numbers):
            uppers = [
                top for top, taken in zip(tops.upper, numbers, strict=True) if taken == number
            ]
            self._learn(number, [float(top) for top in uppers])
        return [
            self._row(number, float(upper), float(pieces))
            for number, upper, pieces in zip(numbers, tops.upper, tops.pieces, strict=True)
        ]

    def _row(self, number: int, upper: float, pieces: float) -> Array:
        """Mean cost at one fish top with what is owed for the pieces, shape (1, 1, n or 1)."""
        if (number, upper, pieces) not in self._rows:
            whole = self._above[number][upper] + self._owed(number, pieces)
            self._rows[number, upper, pieces] = three(whole)
        return self._rows[number, upper, pieces]

    def _learn(self, number: int, tops: Sequence[float]) -> None:
        """Work out what a fallback costs at some fish tops, all at once, without the pieces."""
        known = self._above[number]
        if new := [top for top in tops if top not in known]:
            costs = np.atleast_1d(self._plans[number].bill_above(np.array(new)[:, None]).mean())
            known.update(zip(new, np.broadcast_to(costs, (len(new), costs.shape[-1])), strict=True))

    def _once_lost(self, number: int) -> Array:
        if number not in self._lost:
            own = self._plans[number].bill_after_hole_lost().mean()
            self._lost[number] = np.asarray(own + self._owed(number, self._fish.top))
        return self._lost[number]


def _of_rows(rows: Sequence[Array], which: NDArray[np.intp]) -> Array:
    """In each kind, history and draw the value of one of the rows, all of shape (1, 1, n or 1);
    np.choose does the same, and takes many times as long."""
    n = max(row.size for row in rows)
    table = np.concatenate([np.broadcast_to(row.ravel(), (n,)) for row in rows])
    return np.asarray(table.take(which * n + np.arange(n)))
