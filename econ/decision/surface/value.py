"""The cost of every limit as a function of six knobs, from coefficients and two small grids.

With w_k the belief in kind k of fish, P_k the chance that the next run recovers a fish of that
kind, A what it then costs, and B_n the cost of a limit of n >= 1 runs if it does not,

    C_0 = sum_k w_k B_0k,      C_n = sum_k w_k [P_k A_k + (1 - P_k) B_nk]

A and B are linear in the factors on the spread and on the fishing day. A knob on the fallback
adds the same sum to every fallback from every state, so it adds that sum x the chance of
needing one. Where several fallbacks are open, B has one term for each of them and each state;
the one is taken that is the cheapest in that state by the mean bills the program compares, lines
in the factor on the spread as well. All this is exact.

    belief      the knob `workable` sets w; what goes with each kind of fish stays as it was
    next odds   p/(1 - p) -> p/(1 - p) exp(x) in every draw and for both kinds, the other outcomes
                in proportion; x is such that at the belief of the file the run recovers with the
                chance set. log P_k/(1 - P_k) is nearly straight in x, and quite so if the odds
                are certain: a polynomial through 9 Chebyshev nodes on [-3, 3]. A and B are what
                follows one outcome and hardly move with x: 1, 3, 5 or 9 nodes
    trip speed  hours go with the slowness u, one over the factor on the speeds: straight but
                for the wait on cement, least days of rentals and odds that fall with time; A and
                B are parabolas between nodes of u, halved until they meet the program
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.special import expit, logit

from econ.decision.surface.sums import (
    BILL,
    COLUMNS,
    DAYS,
    FISHING,
    PLANNED,
    RECOVERED,
    STILL,
)

Array = NDArray[np.float64]
WIDEST = 3.0  # log odds ratio at either end of the knob on the odds of the next run
NODES = 9  # of P_k(x)
COUNTS = (1, 3, 5, NODES)  # of log odds ratios that may be kept, each a part of the next
NEVER = 1e-6  # a chance below this is none
HEAD = 10  # columns before those of the limits
WIDE = BILL + 2  # columns of an option of a pool: its bill, and the line by which it is judged
FIRST, SAVED, RECOVERY, MOBILIZATION = slice(0, 3), slice(3, 6), slice(6, 9), 9


@dataclass(frozen=True)
class Position:
    """Where the knobs stand: factors, and for `workable` and `next_odds` chances."""

    workable: float
    next_odds: float
    spread: float = 1.0
    fishing_day: float = 1.0
    fallback: float = 1.0
    trip_speed: float = 1.0


@dataclass(frozen=True)
class Knob:
    """A knob that this job has: where the file has it, and how far it goes."""

    name: str
    now: float
    least: float
    most: float


@dataclass(frozen=True)
class Pool:
    """Bills of one state of the job that enter the limits from `first` to `last`.

    fallbacks: numbers of those that may be the cheapest there; columns: where the bill of each of
    them begins, among those of the pools.
    """

    first: int
    last: int
    fallbacks: tuple[int, ...]
    columns: tuple[int, ...]


@dataclass(frozen=True)
class Valued:
    """Every limit at a position, shape (limits,); money in currency.

    recovered: chance; days [d], planned: elapsed time and cost of fishing when every run to the
    limit has failed; fishing: mean cost of fishing; fallback: mean of what is spent on a fallback
    where one is needed, without the value of the well that it gives up; given_up: mean of that
    value, whether one is needed or not. taken: number of the fallback that is the cheapest now.
    next_odds, break_even: of the next run, None where there is none.
    """

    cost: Array
    recovered: Array
    days: Array
    planned: Array
    fishing: Array
    fallback: Array
    given_up: Array
    taken: int = 0
    next_odds: float | None = None
    break_even: float | None = None


@dataclass(frozen=True)
class Surface:
    """Coefficients of a job, shape (slowness, ratios, kinds, columns); see `at`.

    Columns: cost of fishing, and of the work after recovery, with the fish out on the next run;
    the work after recovery whatever the run brings; mobilization; COLUMNS for each limit; BILL of
    the sure fallbacks for each limit; BILL of each fallback saved by the next run, in the order
    of the first pool. bills: of the pools, shape (slowness, ratios or 1, kinds, columns).
    odds: P_k at `NODES` points, or one where it cannot be moved, shape (points, kinds), inside
    (0, 1).
    fallback_now: what factor 2 on the fallback adds [currency].
    error: greatest difference found from the program on the same draws, as a share of the cost.
    """

    base: Position
    knobs: tuple[Knob, ...]
    minimum: int
    limits: int
    belief: tuple[float, ...]
    fallback_now: float
    slowness: tuple[float, ...]
    odds: Array
    values: Array
    bills: Array
    pools: tuple[Pool, ...]
    here: int  # column of the fallbacks saved
    error: float = 0.0

    def at(self, position: Position) -> Valued:
        """Every limit at a position."""
        weight, odds = self._kinds(position)
        table = self._table(self.values, position)  # (kinds, columns)
        pooled = self._table(self.bills, position)
        money = np.array([1.0, position.spread, position.fishing_day])
        more = (position.fallback - 1.0) * self.fallback_now
        after = weight * (1.0 - odds)
        share = np.stack([weight, *[after] * (self.limits - 1)])  # (limits, kinds)
        end = HEAD + COLUMNS * self.limits
        each = table[:, HEAD:end].reshape(len(table), self.limits, COLUMNS)
        mixed = np.einsum("nk,knc->nc", share, each)
        out = np.append(0.0, np.full(self.limits - 1, float(weight @ odds)))
        first = float((weight * odds) @ (table[:, FIRST] @ money))
        recovered = mixed[:, RECOVERED] + out
        fishing = mixed[:, FISHING] @ money + np.where(np.arange(self.limits) > 0, first, 0.0)
        need = 1.0 - recovered
        sure = table[:, end : end + BILL * self.limits].reshape(len(table), self.limits, BILL)
        bills = np.einsum("nk,kn->n", share, sure[..., :2] @ money[:2]) + more * need
        given_up = np.einsum("nk,kn->n", share, sure[..., 2])
        now = taken = 0  # place and number of the fallback of a stop now
        for number, pool in enumerate(self.pools):
            judged = [weight @ (pooled[:, c + BILL : c + WIDE] @ money[:2]) for c in pool.columns]
            least = int(np.argmin(judged))
            if number == 0:
                now, taken = least, pool.fallbacks[least]
            start, enters = pool.columns[least], slice(pool.first, pool.last + 1)
            bills[enters] += share[pool.first] @ (pooled[:, start : start + 2] @ money[:2])
            given_up[enters] += share[pool.first] @ pooled[:, start + 2]
        cost = fishing + bills
        still = mixed[:, STILL]
        some = still > NEVER
        planned = np.divide(mixed[:, PLANNED] @ money, still, out=fishing.copy(), where=some)
        found = Valued(
            cost=cost,
            recovered=recovered,
            days=np.divide(mixed[:, DAYS], still, out=np.full_like(still, np.nan), where=some),
            planned=planned,
            fishing=fishing,
            fallback=np.divide(
                bills - given_up, need, out=np.zeros_like(bills), where=need > NEVER
            ),
            given_up=given_up,
            taken=taken,
        )
        if self.limits == 1:
            return found
        recovering = weight * odds
        here = self.here + BILL * now
        spared = recovering @ (table[:, here : here + 2] @ money[:2] + more)
        spared -= recovering @ (table[:, SAVED] @ money)
        saved = bills[0] - weight @ (table[:, RECOVERY] @ money)
        need_odds = cost[1] - cost[0] - weight @ table[:, MOBILIZATION] + spared
        return replace(
            found,
            next_odds=float(recovering.sum()),
            break_even=float(need_odds / saved) if saved > 0 else None,
        )

    def log_ratio(self, next_odds: float) -> float:
        """Log odds ratio x at which the run recovers with a chance, at the belief of the file."""
        low, high = -WIDEST, WIDEST
        belief = np.array(self.belief)
        for _ in range(60):
            middle = 0.5 * (low + high)
            if float(belief @ self._chances(middle)) < next_odds:
                low = middle
            else:
                high = middle
        return 0.5 * (low + high)

    def _kinds(self, position: Position) -> tuple[Array, Array]:
        """Weight of each kind of fish, and chance that the next run recovers it."""
        chance = position.workable
        weight = np.array([chance, 1.0 - chance]) if len(self.belief) > 1 else np.ones(1)
        if self.limits == 1:
            return weight, np.zeros(len(weight))
        return weight, self._chances(self._ratio(position))

    def _chances(self, ratio: float) -> Array:
        """Chance that the next run recovers each kind of fish, at a log odds ratio."""
        return np.asarray(expit(polynomial(ratio, count=len(self.odds)) @ logit(self.odds)))

    def _ratio(self, position: Position) -> float:
        if self.limits == 1 or position.next_odds == self.base.next_odds:
            return 0.0
        return self.log_ratio(position.next_odds)

    def _table(self, values: Array, position: Position) -> Array:
        """Coefficients at a speed and odds, shape (kinds, columns)."""
        ratio = polynomial(self._ratio(position), count=values.shape[1])
        at = parabola(np.array(self.slowness), 1.0 / position.trip_speed)
        return np.asarray(np.einsum("u,x,uxkc->kc", at, ratio, values))


def ratios(count: int) -> Array:
    """Log odds ratios of a number of nodes, rising: Chebyshev's, with both ends."""
    if count == 1:
        return np.zeros(1)
    return np.asarray(-WIDEST * np.cos(np.pi * np.arange(count) / (count - 1)))


def among(many: int, *, few: int) -> list[int]:
    """Places of `ratios(few)` among `ratios(many)`; one alone is the middle."""
    return [many // 2] if few == 1 else list(range(0, many, (many - 1) // (few - 1)))


def parabola(nodes: Array, at: float) -> Array:
    """Weights of `nodes` (rising; each second one ends a piece) whose sum is the value at `at`."""
    weights = np.zeros(len(nodes))
    if len(nodes) == 1:
        weights[0] = 1.0
        return weights
    piece = int(np.clip(np.searchsorted(nodes[2::2], at), 0, (len(nodes) - 3) // 2))
    a, b, c = nodes[2 * piece : 2 * piece + 3]
    weights[2 * piece : 2 * piece + 3] = (
        (at - b) * (at - c) / ((a - b) * (a - c)),
        (at - a) * (at - c) / ((b - a) * (b - c)),
        (at - a) * (at - b) / ((c - a) * (c - b)),
    )
    return weights


def polynomial(at: float, *, count: int) -> Array:
    """Weights of the nodes of `ratios(count)` whose sum is the polynomial at `at`.

    The barycentric formula for Chebyshev points of the second kind (Berrut and Trefethen 2004,
    SIAM Review 46(3), 501-517).
    """
    if count == 1:
        return np.ones(1)
    gap = at - ratios(count)
    near = np.abs(gap) < 1e-12
    if near.any():
        return np.asarray(near / near.sum())
    sign = np.where(np.arange(count) % 2 == 0, 1.0, -1.0)
    sign[[0, -1]] *= 0.5
    return np.asarray((sign / gap) / (sign / gap).sum())
