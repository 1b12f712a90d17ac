"""What any way to go on from a prefix of runs must cost at least: bounds for `order`.

    U, W        runs of the prefix, weight of a state after it (kind of fish, history, draw)
    c, F        cost so far and cheapest fallback in that state, both exact
    S           least end of a draw: the least of the recovery tail and of all fallbacks
                that can be reached, with the string or the hole lost too
    g_j, p_j    least chances that run j lets fishing go on, that it ends `part`
    s_j, h_j    least chances that it loses the string, the hole
    a_j         least cost of run j: at the top as it is now, with what rentals ask a run
    d_j         most that a part brought out by run j takes off F, at any top it can meet
    G_j, H_j    least fallback after run j lost the string, the hole, the string owed for
    x(T)        bound on what is paid above S from the time on that U and T are made

    e_j  = a_j + s_j (G_j - S) + h_j (H_j - S) - p_j d_j
    x(T) = least of  sum w(T) (F - S)  and, over j,  sum w(T) e_j + x(T + j)
    w(T) = W times the product of g_j over T;   bound = ended + sum W (c + S) + x({})

Proof. Measured from S no end and no cost is below 0, so what is paid from a state on is not
either. It is the cost of the next run and, weighted by the odds, what is paid from each of
its outcomes on: smaller odds and costs can only make it less. A part lowers F at every top
that can follow by d_j at most, and G_j, H_j and a_j are the least of all tops as it is. So by
induction over the runs of a program, from its last, it pays at least the sums above for its
own T; x takes the least of all programs. In a job without damage, parts, rentals and odds
that change with time the bound is the cost itself, because weights then depend on the set
of runs made alone.

Odds that change with time are taken at the ends of the times that a run can start at: the
chances of every outcome but recovery are monotone in the growth of the losses and in that of
the recovery. What the first call of a tool costs, and the mobilization, are added to the
first run that brings them about: no program pays less for it.

x is worked out for all subsets of the runs left. Where they are too many, each draw and kind
of fish goes on by itself, as if it were known: with the runs by rising e_j/(1 - g_j), which an
interchange of two shows to be their best order, each made if that lessens the cost. To know
more can only help, so this is a bound too, a looser one.

With merged histories (`econ.engine.walk`) the states sampled for them stand for all, and the
bound holds but for the error of the draws.
"""

from __future__ import annotations

import functools
from collections.abc import Mapping, Sequence, Set
from itertools import product

import numpy as np
from numpy.typing import NDArray

from econ.engine.case import Case
from econ.engine.choice import Choice, bill_after_hole_lost, bill_at
from econ.engine.level import Level as State
from econ.engine.level import begin, lost_tools
from econ.engine.walk import Ending, bill_with_string
from econ.job import Bill, RunOdds, with_elapsed_time, with_growing_losses

Array = NDArray[np.float64]
Places = NDArray[np.intp]
MOST_RUNS = 12  # of which all subsets are gone through
MOST_PRODUCTS = 2**22  # subsets times kinds and draws
MOST_TOPS = 2**20  # fish tops after all subsets of parts, times draws


class Bounds:
    """Bounds on all programs of `runs` that begin with a prefix of them.

    proven: whether they are bounds; where the parts can leave the top at more than MOST_TOPS
    depths and draws they are estimates, good enough to rank.
    """

    def __init__(
        self,
        case: Case,
        choice: Choice | None,
        runs: Sequence[int],
        *,
        before: Mapping[int, Set[int]],
        minimum: int,
    ) -> None:
        self.case, self.runs, self.before, self.minimum = case, runs, before, minimum
        self.place = {run: bit for bit, run in enumerate(runs)}
        level = begin(case)
        last = _last_start(case, level)
        least = [_least_odds(case, run, last) for run in runs]
        movers = [run for run in runs if np.any(case.runs[run].odds.part > 0)]
        reach = _Reach(case, level, movers)
        self.proven = reach.complete
        stops = _at(reach.tops, bill_at(case, choice, top=reach.tops, pieces_top=reach.tops))
        fallen = {run: reach.most_taken_off(stops, run) for run in movers}
        string = _with_string_lost(case, choice, reach.tops, runs)
        after_string = [np.min(string[_length_key(case, run)], axis=0) for run in runs]
        hole = bill_after_hole_lost(case, choice).mean()
        values = [case.runs[run].string_value + lost_tools(case, run) for run in runs]
        string_ends = [g + v for g, v in zip(after_string, values, strict=True)]
        hole_ends = [hole + case.hole_lost_string_share * value for value in values]
        self.least_end = _least([case.recovery_cost, np.min(stops, axis=0), *string_ends, hole])
        self.going_on = _stack(
            [_flat(odds.part + odds.nothing + odds.top_damaged) for odds in least]
        )
        self.excess = _stack(
            [
                _least_cost(case, level, run)
                + _flat(odds.string_lost) * (string_end - self.least_end)
                + _flat(odds.hole_lost) * (hole_end - self.least_end)
                - _flat(odds.part) * fallen.get(run, np.zeros(()))
                for run, odds, string_end, hole_end in zip(
                    runs, least, string_ends, hole_ends, strict=True
                )
            ]
        )
        kinds, _, draws = self.going_on.shape
        few = len(runs) <= MOST_RUNS and kinds * draws << len(runs) <= MOST_PRODUCTS
        self.products = _products(self.going_on) if few else None

    def children(
        self, made: Sequence[int], level: State, stop: Ending, *, ended: float
    ) -> dict[int, float]:
        """Bound [currency] on the programs that begin with the runs `made` and one more, by the
        number of that one. ended [currency]: what the ends of the runs made have come to."""
        assert stop.bill is not None
        left = [run for run in self.runs if run not in made]
        above = level.weight * (stop.bill.mean() - self.least_end)
        so_far = ended + _mean(level.weight * (level.cost + self.least_end))
        if self.products is None:
            found = self._each_known(left, level, stop.bill.mean() - self.least_end)
        else:
            found = self._all_subsets(left, made, level, above)
        mobilization = self.case.mobilization * (not made and not self.case.logged)
        first = so_far + _mean(level.weight * mobilization)
        done = set(made)
        return {
            run: first + float(more)
            for run, more in zip(left, found, strict=True)
            if self.before[run] <= done
        }

    def _all_subsets(
        self, left: Sequence[int], made: Sequence[int], level: State, above: Array
    ) -> Array:
        """What is paid above S at least if each of the runs left is made next."""
        assert self.products is not None
        places = [self.place[run] for run in left]
        weight = level.weight.sum(axis=1)
        called, calls = self._calls(left, made, level)
        columns = np.stack(
            [
                *(self._column(above.sum(axis=1)),),
                *(self._column(weight * self.excess[:, place]) for place in places),
                *(self._column(weight * cost) for cost in called),
            ],
            axis=1,
        )
        table = _subsets(len(left))
        inside = table.member > 0
        rows = table.member @ (1 << np.array(places, dtype=np.intp))
        cost = self.products[rows] @ columns
        stop, step, calling = np.split(cost, [1, 1 + len(left)], axis=1)
        for number, by in enumerate(calls):  # a tool is called once: by the first that calls it
            not_yet = ~inside[:, by].any(axis=1)
            for place in by:
                step[not_yet, place] += calling[not_yet, number]
        step[inside] = np.inf
        for place, run in enumerate(left):
            needed = [left.index(other) for other in self.before[run] if other in left]
            step[~inside[:, needed].all(axis=1), place] = np.inf
        value: Array = stop[:, 0]
        value[len(made) + table.member.sum(axis=1) < self.minimum] = np.inf
        for layer, after in table.layers:
            value[layer] = np.minimum(value[layer], (step[layer] + value[after]).min(axis=1))
        return np.asarray(step[0] + value[1 << np.arange(len(left))])

    def _each_known(self, left: Sequence[int], level: State, above: Array) -> Array:
        """The same where the kind of fish and the draw were known from now on."""
        places = [self.place[run] for run in left]
        excess, going_on = self.excess[:, places], self.going_on[:, places]
        excess, going_on = np.broadcast_arrays(excess, going_on)
        with np.errstate(divide="ignore", invalid="ignore"):
            order = np.argsort(np.nan_to_num(excess / (1.0 - going_on), nan=0.0), axis=1)
        sorted_excess = np.take_along_axis(excess, order, axis=1)
        sorted_going_on = np.take_along_axis(going_on, order, axis=1)
        value = above
        for place in range(len(left) - 1, -1, -1):
            here = slice(place, place + 1)
            value = np.minimum(value, sorted_excess[:, here] + sorted_going_on[:, here] * value)
        return np.array(
            [
                _mean(level.weight * (excess[:, [place]] + going_on[:, [place]] * value))
                for place in range(len(left))
            ]
        )

    def _column(self, values: Array) -> Array:
        """Values (kinds, n or 1) in the shape of the products' columns, their mean over draws."""
        kinds, draws = self.going_on.shape[0], self.going_on.shape[2]
        if draws == 1:
            return np.asarray(values.mean(axis=1))
        return np.asarray(np.broadcast_to(values, (kinds, draws)).ravel() / draws)

    def _calls(
        self, left: Sequence[int], made: Sequence[int], level: State
    ) -> tuple[list[Array], list[list[int]]]:
        """Cost of the call of each tool not called yet, and which of the runs left call it."""
        costs, calls = [], []
        for contract, tool in zip(self.case.contracts, level.tools, strict=True):
            by = [place for place, run in enumerate(left) if contract.called_by(run)]
            if tool.called is None and by:
                costs.append(contract.mobilization + contract.day * contract.minimum_days)
                calls.append(by)
        return costs, calls


class _Table:
    """Subsets of r runs as bits of a number: who is in, and layers from the largest down."""

    def __init__(self, count: int) -> None:
        numbers = np.arange(1 << count)
        self.member: Places = (numbers[:, None] >> np.arange(count)) & 1
        size = self.member.sum(axis=1)
        self.layers: list[tuple[Places, Places]] = []
        for each in range(count - 1, -1, -1):
            layer = np.flatnonzero(size == each)
            self.layers.append((layer, layer[:, None] | (1 << np.arange(count))))


@functools.cache
def _subsets(count: int) -> _Table:
    return _Table(count)


def _mean(values: Array) -> float:
    """Over draws, summed over kinds and histories."""
    return float(values.sum(axis=(0, 1)).mean())


def _flat(values: Array) -> Array:
    """(kinds, 1, n or 1) without the axis of histories."""
    return np.asarray(values[:, 0])


def _least(values: Sequence[Array]) -> Array:
    return np.asarray(functools.reduce(np.minimum, values))


def _stack(values: Sequence[Array]) -> Array:
    """Arrays of (kinds, n or 1), one a run, as (kinds, runs, n or 1)."""
    shape = np.broadcast_shapes(*(value.shape for value in values), (1, 1))
    return np.stack([np.broadcast_to(value, shape) for value in values], axis=1)


def _products(going_on: Array) -> Array:
    """Chance to still go on after each subset of the runs, shape (subsets, kinds x n or 1)."""
    found = np.ones((1, going_on.shape[0] * going_on.shape[2]))
    for run in range(going_on.shape[1]):
        found = np.concatenate([found, found * going_on[:, run].ravel()])
    return found


def _last_start(case: Case, level: State) -> Array:
    """No run starts later than this [d since the decision]."""
    slowest = max((tool.delivery for tool in case.contracts), default=0.0)
    bottom = np.asarray(case.fish.bottom)
    hours = sum(run.times.hours(bottom, case.speeds) + slowest for run in case.runs)
    return np.asarray(level.days + case.elapsed + hours / 24.0)


def _least_odds(case: Case, run: int, last: Array) -> RunOdds:
    """Least chances of every outcome but recovery, whenever the run starts."""
    stated = case.runs[run].odds
    losses, ratio = case.loss_odds_ratio_per_day, case.odds_ratio_per_day
    first = np.asarray(case.elapsed)
    found: list[RunOdds] = []
    for loss_time, time in product((first, last), repeat=2):
        odds = stated
        if losses is not None:
            odds = with_growing_losses(odds, ratio_per_day=losses, days=loss_time)
        if ratio is not None:
            odds = with_elapsed_time(odds, ratio_per_day=ratio, days=time)
        found.append(odds)
        if losses is None and ratio is None:
            break
    names = RunOdds.__dataclass_fields__
    return RunOdds(**{name: _least([getattr(odds, name) for odds in found]) for name in names})


def _least_cost(case: Case, level: State, run: int) -> Array:
    """Least cost of a run [currency], shape (1, n or 1)."""
    about = case.runs[run]
    cost = case.hours_cost(about.times.hours(level.top, case.speeds)) + about.charge
    for contract in case.contracts:
        cost = cost + contract.charges(run, washed=about.wash_length)
    return np.reshape(cost, (1, -1))


class _Reach:
    """Fish tops [ft] that the parts of some runs can leave, shape (tops, n or 1).

    The order of the parts makes no difference: the top ends at their sum, or above the least
    fish. Sums of lengths that are certain are kept once, those of lengths that are drawn for
    each subset of their runs. `complete`: whether there was room for all.
    """

    def __init__(self, case: Case, level: State, movers: Sequence[int]) -> None:
        self.sure: dict[int, Array] = {}
        self.drawn: list[int] = []
        self.sums = np.zeros(1)
        self.complete = True
        subsets = np.zeros((1, 1))
        for run in sorted(movers, key=lambda run: case.runs[run].part_length.size):
            length = case.runs[run].part_length
            sums, more = self.sums, subsets
            if length.size == 1:
                sums = np.unique(np.concatenate([sums, _longer(sums, length)]))
            else:
                more = np.concatenate([subsets + np.zeros_like(length), subsets + length])
            if len(sums) * len(more) * case.n > MOST_TOPS:
                self.complete = False
                break
            self.sums, subsets = sums, more
            if length.size == 1:
                self.sure[run] = length
            else:
                self.drawn.append(run)
        total = (subsets[:, None] + self.sums[:, None]).reshape(-1, subsets.shape[1])
        top = np.asarray(level.top)[0]
        self.tops: Array = case.fish.top_after_part(top, part_length=total)
        self.places: Places = np.arange(len(total)).reshape(len(subsets), len(self.sums))

    def most_taken_off(self, ends: Array, run: int) -> Array:
        """Most that a part of a run takes off `ends`, shape (tops, n or 1), at any top that
        can be met without it."""
        if run in self.sure:
            longer = _longer(self.sums, self.sure[run])
            after = np.minimum(np.searchsorted(self.sums, longer), len(self.sums) - 1)
            met = self.sums[after] == longer  # else the sum holds this part already
            before, lower = self.places[:, met], self.places[:, after[met]]
        elif run in self.drawn:
            bit = 1 << self.drawn.index(run)
            without = np.flatnonzero(np.arange(len(self.places)) & bit == 0)
            before, lower = self.places[without], self.places[without | bit]
        else:
            return np.zeros(1)
        fall = ends[before.ravel()] - ends[lower.ravel()]
        return np.asarray(np.maximum(fall.max(axis=0), 0.0))


def _longer(sums: Array, length: Array) -> Array:
    """Sums with one length more, equal where they are equal but for rounding [ft]."""
    return np.asarray(np.round(sums + length, 6))


def _length_key(case: Case, run: int) -> bytes:
    return np.asarray(case.runs[run].string_length).tobytes()


def _with_string_lost(
    case: Case, choice: Choice | None, tops: Array, runs: Sequence[int]
) -> dict[bytes, Array]:
    """Fallback at each of the tops with the string lost, by length of the string."""
    found: dict[bytes, Array] = {}
    for run in runs:
        key = _length_key(case, run)
        if key not in found:
            found[key] = _at(tops, bill_with_string(case, choice, tops, run))
    return found


def _at(tops: Array, bill: Bill) -> Array:
    """Mean of a bill at each of the tops, shape (tops, n or 1)."""
    mean = bill.mean()
    return np.broadcast_to(mean, np.broadcast_shapes(mean.shape, tops.shape))
