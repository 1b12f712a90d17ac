"""The sums of a walk as coefficients, and which fallback can be the cheapest in which state.

With w_k the weight of a kind of fish and P_k(x) the chance that the next run recovers it, what
follows is divided by w_k P_k with the fish out and by w_k (1 - P_k) if it is not: means given
the kind and the outcome, which hardly move with x.

A state is an end after a number of runs: a stop, the string lost, the hole lost, and its part of
the fish top. In each the fallbacks are compared by their mean bills, lines in the factor on the
spread, and the lowest is taken. States in which one fallback is the lowest at every price are
added up into the limits they enter; the others are pools, with the bill of every fallback that
is ever taken and the line by which it is judged.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from econ.decision.surface.sums import BILL, COLUMNS, DAYS, FISHING, PLANNED, RECOVERED, STILL
from econ.decision.surface.value import COUNTS, HEAD, WIDE, Pool, among

Array = NDArray[np.float64]
SPREADS = np.geomspace(0.1, 10.0, 41)  # at which the lowest line is looked for
SHARES = (0.0, 0.003, 0.01, 0.03, 0.1, 1.0)  # of states that may be taken together
RARE = 0.01  # of states taken together before the odds of the file alone are kept
LEAST = 1e-6  # of a scale: what is nothing is measured by it
BELIEFS = np.linspace(0.0, 1.0, 5)


@dataclass(frozen=True)
class Layout:
    """Columns of all that is known of a job before its pools are told: HEAD, limits, fallbacks
    saved by the next run, bills of stops, of strings lost and of holes lost.

    open_*: which fallbacks are open in such a state, one flag each.
    """

    limits: int
    tops: int
    open_stop: Sequence[bool]
    open_string: Sequence[bool]
    open_hole: Sequence[bool]

    @property
    def options(self) -> int:
        """Number of fallbacks."""
        return len(self.open_stop)

    @property
    def bills(self) -> int:
        """Column where the bills begin."""
        return HEAD + COLUMNS * self.limits + BILL * self.options

    def usual_size(self, kinds: int) -> int:
        """How many numbers a surface has, or about so many, at one speed and odds."""
        sure = HEAD + (COLUMNS + BILL) * self.limits
        pools = 0 if self.options == 1 else 3 * 2 * WIDE * self.limits
        return kinds * (sure + pools)

    def flat(self, sums: Mapping[str, Array]) -> Array:
        """The columns, shape (R, kinds, columns)."""
        weight = sums["weight"]
        alike = np.broadcast_to(weight, sums["limits"].shape[:2])
        head, here = np.zeros((*alike.shape, HEAD)), np.zeros((*alike.shape, BILL * self.options))
        back = np.zeros(alike.shape)
        if self.limits > 1:
            back = sums["odds"]
            known = np.concatenate([sums["recovery"], sums["mobilization"][:, None]], axis=1)
            either = np.broadcast_to(_over(known, weight), (*alike.shape, 4))
            head = np.concatenate(
                [_over(sums["first"], back), _over(sums["saved"], back), either], axis=2
            )
            here = _over(sums["here"], back).reshape(here.shape)
        failed = np.stack([alike, *[alike - back] * (self.limits - 1)], axis=2)
        parts = [
            _over(sums["limits"], failed),
            _over(sums["stops"], failed),
            _over(sums["strings"], failed[:, :, 1:]),
            _over(sums["holes"], failed[:, :, 1:]),
        ]
        limits, *bills = (part.reshape(*alike.shape, -1) for part in parts)
        return np.concatenate([head, limits, here, *bills], axis=2)

    def scale(self, values: Array, belief: Array) -> Array:
        """What each column is measured by: money by the cost of stopping now, chances by 1,
        and what is divided by the chance still fishing in proportion to it.

        values: shape (kinds, columns); belief: (kinds,).
        """
        limits = values[:, HEAD : HEAD + COLUMNS * self.limits].reshape(-1, self.limits, COLUMNS)
        stop = values[:, self.bills : self.bills + BILL * self.options * self.tops]
        stops = stop.reshape(len(values), self.tops, self.options, BILL)[..., :2].sum(axis=(1, 3))
        now = float(belief @ limits[:, 0, FISHING].sum(axis=1)) + float((belief @ stops).min())
        scale = np.full(values.shape[1], max(abs(now), LEAST))
        for limit in range(self.limits):
            start = HEAD + COLUMNS * limit
            each = limits[:, limit]
            scale[start + RECOVERED] = 1.0
            scale[start + STILL] = max(float(each[:, STILL].max()), LEAST)
            scale[start + DAYS] = max(float(each[:, DAYS].max()), LEAST)
            planned = slice(start + PLANNED.start, start + PLANNED.stop)
            scale[planned] = max(float(each[:, PLANNED].sum(axis=1).max()), LEAST)
        return scale

    def states(self) -> Iterator[tuple[tuple[str, int], int, int, int, Sequence[bool]]]:
        """Every state: its sort, apart from the fish top, the first and last limit it enters, its
        first column, what is open."""
        column, last = self.bills, self.limits - 1
        for limit in range(self.limits):
            for _ in range(self.tops):
                yield ("stop", limit), limit, limit, column, self.open_stop
                column += BILL * self.options
        for run in range(last):
            for _ in range(self.tops):
                yield ("string lost", run), run + 1, last, column, self.open_string
                column += BILL * self.options
        for run in range(last):
            yield ("hole lost", run), run + 1, last, column, self.open_hole
            column += BILL * self.options

    def lines(self, stop: Array, string: Array, hole: Array) -> Array:
        """Mean bills that are compared, in the order of `states`, shape (kinds, states, J, 2)."""
        kinds, last = len(stop), self.limits - 1
        return np.concatenate(
            [
                np.tile(stop, (1, self.limits, 1, 1)),
                string.reshape(kinds, last * self.tops, self.options, 2),
                np.tile(hole[:, None], (1, last, 1, 1)),
            ],
            axis=1,
        )


@dataclass(frozen=True)
class _State:
    """A state, or some of one sort together.

    Limits it enters; bills (slowness, R, kinds, J, BILL); lines by which they are judged
    (slowness, kinds, J, 2); share: its most part in the cost of stopping now.
    """

    sort: tuple[str, int]
    first: int
    last: int
    bills: Array
    lines: Array
    is_open: Sequence[bool]
    share: float

    def and_next(self, other: _State) -> _State:
        """This state and the one next to it, judged by their mean."""
        share = self.share + other.share
        part = other.share / share if share > 0 else 0.5
        lines = (1.0 - part) * self.lines + part * other.lines
        return replace(self, bills=self.bills + other.bills, lines=lines, share=share)


@dataclass(frozen=True)
class Pooled:
    """Columns of a surface, shape (slowness, R, kinds, columns), the column of the fallbacks
    saved, and the pools with their columns (slowness, R or 1, kinds, columns)."""

    values: Array
    here: int
    pools: tuple[Pool, ...]
    bills: Array


def pooled(layout: Layout, values: Array, lines: Array, *, most: int) -> Pooled:
    """The surface with its pools.

    values: shape (slowness, R, kinds, columns of the layout); lines: (slowness, kinds, states,
    J, 2). Where there would be more than `most` numbers, the pools have fewer of the odds, and
    then neighbours among the fish tops are taken together, the rarest first. The odds of the file
    alone are kept last of all: which states are reached moves with the odds wherever these differ
    from draw to draw.
    """
    states = _states(layout, values, lines)
    many = values.shape[1]
    counts = [count for count in reversed(COUNTS) if count <= many]
    curved = [count for count in counts if count > 1]
    tries = [(count, share) for share in SHARES if share <= RARE for count in curved]
    found = None
    for count, share in [*tries, *((1, share) for share in SHARES)]:
        places = among(many, few=count)
        fewer = [replace(each, bills=each.bills[:, places]) for each in states]
        found = _pooled(layout, values, _together(fewer, share))
        if found.values.size + found.bills.size <= most:
            break
    assert found is not None
    return found


def _states(layout: Layout, values: Array, lines: Array) -> list[_State]:
    """The states that can come about."""
    found: list[_State] = []
    for number, (sort, first, last, column, is_open) in enumerate(layout.states()):
        bills = values[..., column : column + BILL * layout.options]
        if np.any(bills):
            bills = bills.reshape(*values.shape[:3], layout.options, BILL)
            cost = float(np.abs(bills[..., :2].sum(axis=-1)).min(axis=-1).max())
            found.append(_State(sort, first, last, bills, lines[:, :, number], is_open, cost))
    now = max(max((each.share for each in found if each.first == 0), default=1.0), LEAST)
    return [replace(each, share=each.share / now) for each in found]


def _together(states: Sequence[_State], share: float) -> list[_State]:
    """States with neighbours of one sort taken together up to a share."""
    found: list[_State] = []
    for each in states:
        if found and found[-1].sort == each.sort and found[-1].share + each.share <= share:
            found[-1] = found[-1].and_next(each)
        else:
            found.append(each)
    return found


def _pooled(layout: Layout, values: Array, states: Sequence[_State]) -> Pooled:
    saved = HEAD + COLUMNS * layout.limits
    sure = np.zeros((*values.shape[:3], BILL * layout.limits))
    contested: list[tuple[_State, list[int]]] = []
    for state in states:
        used = [int(taken) for taken in np.unique(_lowest(state.lines, state.is_open))]
        if len(used) > 1 or state.first == 0:
            contested.append((state, used))
            continue
        for limit in range(state.first, state.last + 1):
            sure[..., BILL * limit : BILL * (limit + 1)] += state.bills[..., used[0], :]
    # The first is a stop now: the fish top now is one depth.
    now = contested[0][1] if contested else []
    kept = [values[..., saved + BILL * one : saved + BILL * (one + 1)] for one in now]
    pools: list[Pool] = []
    columns: list[Array] = []
    for state, used in contested:
        starts = tuple(WIDE * (len(columns) // 2 + place) for place in range(len(used)))
        pools.append(Pool(state.first, state.last, tuple(used), starts))
        for taken in used:
            bills = state.bills[..., taken, :]
            judged = np.broadcast_to(state.lines[:, None, :, taken], (*bills.shape[:3], 2))
            columns += [bills, judged]
    return Pooled(
        values=np.concatenate([values[..., :saved], sure, *kept], axis=3),
        here=saved + BILL * layout.limits,
        pools=tuple(pools),
        bills=np.concatenate(columns, axis=3) if columns else np.zeros((*values.shape[:3], 0)),
    )


def _lowest(lines: Array, is_open: Sequence[bool]) -> NDArray[np.intp]:
    """Number of the cheapest fallback of those open, for every speed, belief and price.

    lines: shape (slowness, kinds, J, 2).
    """
    kinds = lines.shape[1]
    beliefs = np.stack([BELIEFS, 1.0 - BELIEFS], axis=1) if kinds > 1 else np.ones((1, 1))
    mixed = np.einsum("bk,ukjp->ubjp", beliefs, lines)
    costs = mixed[..., 0, None] + mixed[..., 1, None] * SPREADS
    shut = ~np.asarray(is_open)
    if shut.all():
        shut[:] = False
    costs[:, :, shut] = np.inf
    return np.asarray(np.argmin(costs, axis=2), dtype=np.intp)


def _over(sums: Array, weight: Array) -> Array:
    """Sums over a weight, which has their first axes; nothing where it is nothing."""
    under = weight.reshape(*weight.shape, *[1] * (sums.ndim - weight.ndim))
    shape = np.broadcast_shapes(sums.shape, under.shape)
    return np.divide(sums, under, out=np.zeros(shape), where=np.broadcast_to(under > 1e-15, shape))
