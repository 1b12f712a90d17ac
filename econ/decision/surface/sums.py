"""Sums over a block of draws from which the cost of every limit can be put together again.

A run costs hours x (spread + fishing day) and charges, so every cost is a sum of three parts

    cost = const + s S + f F,      s factor on the spread, f on the fishing day
    S = days x spread,  F = (days - common) x fishing day,  const what is left

and of a bill S is what it grows by when the spread doubles; of its const a part may be value of
the well given up, which is no money spent. With the odds of the next run moved
by a log odds ratio x, p_o(x) the odds of outcome o of that run in a draw, a walk at x = 0 serves
every x: what follows outcome o weighs p_o(x)/p_o(0) times what it did. The outcomes after which
fishing goes on share that ratio, and so one walk, unless the top is damaged now.

Where several fallbacks are open each of them is billed at every end, apart for the fish tops
between `edges`, so that each state can have its own at any price. Which one a crew takes does
not depend on the path that led there: `state_bills` has what they compare, as
`econ.engine.choice` does.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from econ.engine.case import Case
from econ.engine.choice import bill_after_hole_lost, bill_at
from econ.engine.level import Level, Tool, begin, lost_tools, odds_now
from econ.engine.walk import GOING_ON, Made, bill_with_string, make, stop
from econ.job import Bill, LumpSums, RunOdds, SidetrackPlan

Array = NDArray[np.float64]
Billed = Callable[[Case], Bill | None]
Fallback = SidetrackPlan | LumpSums
# Columns of a limit: fishing (three parts), chance recovered, chance still fishing, planned
# (its cost when all runs fail, three parts, and its days, both x the chance still fishing).
COLUMNS = 9
BILL = 3  # columns of a bill: const, spread part, value given up
FISHING, RECOVERED, STILL, PLANNED, DAYS = slice(0, 3), 3, 4, slice(5, 8), 8
APART = 1e-12  # ratios of outcomes that differ by more need walks of their own
TOGETHER = "going on"  # any outcome after which fishing goes on
NOTHING: list[Array] = [np.zeros(())] * 3  # spent, in three parts


@dataclass(frozen=True)
class Trio:
    """A block of draws as it is, with the spread doubled, and with the fishing day doubled."""

    case: Case
    spread: Case
    fishing: Case

    def walked(self) -> Case:
        """The case with a fallback that costs nothing: where it goes does not depend on bills."""
        none = np.zeros(())
        return replace(self.case, fallbacks=[LumpSums(none, none, none, none, none, none)])

    def priced(self) -> list[Case]:
        """For each fallback a case without any other, at both spreads on a first axis."""
        pairs = zip(self.case.fallbacks, self.spread.fallbacks, strict=True)
        return [replace(self.case, fallbacks=[_both(one, dear)]) for one, dear in pairs]

    def parts(self, days: Array, cost: Array) -> list[Array]:
        """The three parts of a cost of fishing [currency] after `days` [d]."""
        spread = days * self.case.spread
        fishing = (days - self.case.common_days) * self.case.fishing_day
        return [cost - spread - fishing, spread, fishing]

    def recovery(self) -> list[Array]:
        """The three parts of the cost after recovery [currency]."""
        cost = self.case.recovery_cost
        spread = self.spread.recovery_cost - cost
        fishing = self.fishing.recovery_cost - cost
        return [cost - spread - fishing, spread, fishing]


def _both(one: Fallback, dear: Fallback) -> Fallback:
    """A fallback at its own day rate and at that of double spread, shape (2, 1, 1, n or 1)."""
    if isinstance(one, LumpSums) and isinstance(dear, LumpSums):
        return replace(one, total=_two(one.total, dear.total))
    if isinstance(one, SidetrackPlan) and isinstance(dear, SidetrackPlan):
        return replace(one, day_rate=_two(one.day_rate, dear.day_rate))
    raise TypeError("two different fallbacks")


def _two(one: Array, other: Array) -> Array:
    return np.stack([np.reshape(each, (1, 1, -1)) for each in (one, other)])


def odds_of_next(cases: Sequence[Case]) -> list[RunOdds]:
    """Odds of the next run, as the job stands now, in each of some cases."""
    found = []
    for case in cases:
        level = begin(case)
        days = level.days + case.elapsed
        found.append(odds_now(case, case.program[0], damaged=level.damaged, days=days))
    return found


def block_sums(trio: Trio, moved: Sequence[RunOdds], *, edges: Array) -> dict[str, Array]:
    """Sums over the draws of a block, by name.

    moved: odds of the next run at R log odds ratios, that in the middle being 0; edges: fish
    tops [ft] that part the states.

    With k kinds, K runs, B parts of the fish top and J fallbacks the shapes are
    weight (k,); odds (R, k); first, saved (R, k, 3): cost and recovery with the fish out
    on the next run; here (R, k, J, BILL): fallback that it saves; recovery (k, 3), mobilization
    (k,); limits (R, k, K + 1, COLUMNS); stops (R, k, K + 1, B, J, BILL), strings
    (R, k, K, B, J, BILL) and holes (R, k, K, J, BILL): bills after a stop, a
    string and a hole lost.
    """
    case = trio.case
    level = begin(case)
    kinds, runs, options = len(case.prior), len(case.program), len(case.fallbacks)
    shape = (len(moved), kinds)
    bins = len(edges) + 1
    out: dict[str, Array] = {
        "weight": _summed(level.weight, case.n),
        "limits": np.zeros((*shape, runs + 1, COLUMNS)),
        "stops": np.zeros((*shape, runs + 1, bins, options, BILL)),
        "strings": np.zeros((*shape, runs, bins, options, BILL)),
        "holes": np.zeros((*shape, runs, options, BILL)),
    }
    gather = _Gather(trio, trio.walked(), trio.priced(), edges, out)
    gather.limit(0, level, None, NOTHING, np.zeros(()))
    if not runs:
        return out
    weight = level.weight
    out["odds"] = np.stack([_summed(weight * each.recovered, case.n) for each in moved])
    out["recovery"] = np.stack([_summed(weight * x, case.n) for x in trio.recovery()], axis=-1)
    first_cost = np.zeros(()) if case.logged else case.mobilization
    out["mobilization"] = _summed(weight * first_cost, case.n)
    gather.first(level, moved)
    return out


def state_bills(trio: Trio, tops: Sequence[float]) -> tuple[Array, Array, Array]:
    """Mean bills that are compared in each state, two columns: const and spread part.

    tops: fish tops [ft], one for each part. A stop at each, shape (kinds, B, J, 2); the string of
    each run left, (kinds, K, B, J, 2); the hole lost, (kinds, J, 2).
    """
    case = trio.case
    level = begin(case)
    weight = level.weight / level.weight.mean(axis=2, keepdims=True)
    depths = np.reshape(tops, (1, -1, 1))

    def mean(bill: Billed) -> Array:
        """Shape (kinds, depths or 1, J, 2)."""
        means = []
        for job in trio.priced():
            one = bill(job)
            bills = np.zeros((2, 1, 1, 1)) if one is None else one.mean()
            low, high = (weight * bills).mean(axis=3)
            means.append(np.stack([2.0 * low - high, high - low], axis=-1))
        return np.stack(means, axis=2)

    def string_left(run: int) -> Billed:
        return lambda job: bill_with_string(job, None, depths, run)

    if case.ended is None:
        stops = mean(lambda job: bill_at(job, None, top=depths, pieces_top=depths))
    else:
        stops = mean(lambda job: stop(job, None, level).bill)
    strings = [mean(string_left(run)) for run in case.program]
    shape = (len(weight), len(tops), len(case.fallbacks), 2)
    return (
        np.broadcast_to(stops, shape),
        np.stack([np.broadcast_to(each, shape) for each in strings], axis=1)
        if strings
        else np.zeros((shape[0], 0, *shape[1:])),
        mean(lambda job: bill_after_hole_lost(job, None))[:, 0],
    )


@dataclass(frozen=True)
class _Gather:
    """A block on its way into its sums."""

    trio: Trio
    walked: Case
    priced: Sequence[Case]
    edges: Array
    out: dict[str, Array]

    def first(self, level: Level, moved: Sequence[RunOdds]) -> None:
        """The next run, and all that can follow it."""
        case, out = self.trio.case, self.out
        now = moved[len(moved) // 2]
        run = case.program[0]
        recovered = self._factor([each.recovered for each in moved])
        shares = {
            name: self._factor([_ratio(getattr(each, name), getattr(now, name)) for each in moved])
            for name in (*GOING_ON, "string_lost", "hole_lost")
        }
        going = [_going_on(each) for each in moved]
        shares[TOGETHER] = self._factor([_ratio(each, _going_on(now)) for each in going])
        apart = _differ([shares[name] for name in GOING_ON if np.any(getattr(now, name) > 0)])
        made = make(self.walked, None, level, run, first=True, histories=4 if apart else 1)
        days = level.days + made.hours / 24.0
        parts = self.trio.parts(days, made.ends[1].fishing)
        recovery = self.trio.recovery()
        out_now = [a + b for a, b in zip(parts, recovery, strict=True)]
        out["first"] = self._sum(recovered, [level.weight * x for x in out_now])
        out["saved"] = self._sum(recovered, [level.weight * x for x in recovery])
        here = [level.weight * x for x in self._stop_bills(level)]
        out["here"] = self._sum(recovered, here).reshape(*recovered.shape[:2], -1, BILL)
        for number, name in ((1, "string_lost"), (2, "hole_lost")):
            spent = self._sum(shares[name], [made.ends[number].weight * x for x in parts])
            out["limits"][:, :, 1:, FISHING] += spent[:, :, None, :]
        self._losses(0, level, made, (shares["string_lost"], shares["hole_lost"]))
        for name, child in _children(made.following):
            self._onwards(child, shares[name])

    def _onwards(self, level: Level, share: Array) -> None:
        """What follows a state after the next run; share: its weight at each node, of that now."""
        trio, case = self.trio, self.trio.case
        spent, recovered = NOTHING, np.zeros(())
        for place in range(1, len(case.program) + 1):
            self.limit(place, level, share, spent, recovered)
            if place == len(case.program):
                return
            run = case.program[place]
            made = make(self.walked, None, level, run, first=False, histories=1)
            days = level.days + made.hours / 24.0
            parts = trio.parts(days, made.ends[1].fishing)
            out, string, hole = (ending.weight for ending in made.ends)
            spent = [
                before + (out + string + hole) * part + out * more
                for before, part, more in zip(spent, parts, trio.recovery(), strict=True)
            ]
            recovered = recovered + out
            self._losses(place, level, made, (share, share))
            level = made.following

    def limit(
        self,
        place: int,
        level: Level,
        share: Array | None,
        spent: Sequence[Array],
        recovered: Array,
    ) -> None:
        """A limit of `place` runs: what has ended before it, and the stop."""
        weight = level.weight
        planned = [weight * part for part in self.trio.parts(level.days, level.cost)]
        fishing = [a + b for a, b in zip(spent, planned, strict=True)]
        if self.trio.case.ended == "recovered":  # the log has the fish out
            recovered = recovered + weight
            tail = [weight * part for part in self.trio.recovery()]
            fishing = [a + b for a, b in zip(fishing, tail, strict=True)]
        columns = [*fishing, recovered, weight, *planned, weight * level.days]
        self.out["limits"][:, :, place] += self._sum(share, columns)
        bills = [weight * bill for bill in self._stop_bills(level)]
        self.out["stops"][:, :, place] += self._by_top(share, level, bills)

    def _losses(self, place: int, level: Level, made: Made, shares: tuple[Array, Array]) -> None:
        """Bills with the string or the hole lost in the run made at `place`."""
        case = self.trio.case
        run, string, hole = made.run, made.ends[1].weight, made.ends[2].weight
        value = case.runs[run].string_value + lost_tools(case, run)
        part = case.hole_lost_string_share * value
        if np.any(string > 0):
            bills = self._bills(lambda job: bill_with_string(job, None, level.top, run).plus(value))
            weighed = self._by_top(shares[0], level, [string * bill for bill in bills])
            self.out["strings"][:, :, place] += weighed
        if np.any(hole > 0):
            bills = self._bills(lambda job: bill_after_hole_lost(job, None).plus(part))
            weighed = self._sum(shares[1], [hole * bill for bill in bills])
            self.out["holes"][:, :, place] += weighed.reshape(*weighed.shape[:2], -1, BILL)

    def _stop_bills(self, level: Level) -> list[Array]:
        return self._bills(lambda job: stop(job, None, level).bill)

    def _bills(self, bill: Billed) -> list[Array]:
        """The columns of the bill of each fallback [currency]."""
        found: list[Array] = []
        for job in self.priced:
            one = bill(job)
            if one is None:  # the fish is out: no fallback
                found += [np.zeros(())] * BILL
                continue
            mean = one.mean()
            spread = mean[1] - mean[0]
            found += [mean[0] - spread, spread, one.given_up]
        return found

    def _by_top(self, share: Array | None, level: Level, bills: Sequence[Array]) -> Array:
        """Sums of bills by part of the fish top, shape (R, k, B, J, BILL)."""
        if not self.edges.size:
            whole = self._sum(share, bills)
            return whole.reshape(*whole.shape[:2], 1, -1, BILL)
        table = self._table(bills)
        kinds, columns, n = table.shape
        place = np.broadcast_to(np.searchsorted(self.edges, level.top)[:, 0, :], (kinds, n))
        nodes = self.out["limits"].shape[0]
        weighed = np.zeros((nodes, kinds, len(self.edges) + 1, columns))
        for kind in range(kinds):
            for part in np.unique(place[kind]):
                here = place[kind] == part
                rows = table[kind][:, here]
                if share is None:
                    weighed[:, kind, part] = rows.sum(axis=1)
                else:
                    weighed[:, kind, part] = share[:, kind, here] @ rows.T
        return weighed.reshape(*weighed.shape[:3], -1, BILL)

    def _factor(self, values: Sequence[Array]) -> Array:
        """Values of (kinds, 1, n or 1) at every node, as one array (R, kinds, n)."""
        kinds, n = len(self.trio.case.prior), self.trio.case.n
        return np.stack([np.broadcast_to(each[:, 0, :], (kinds, n)) for each in values])

    def _sum(self, share: Array | None, columns: Sequence[Array]) -> Array:
        """Sums over the draws of columns x share, shape (R, kinds, columns)."""
        table = self._table(columns)
        if share is None:
            nodes = self.out["limits"].shape[0]
            return np.broadcast_to(table.sum(axis=2), (nodes, *table.shape[:2]))
        product = np.matmul(share.transpose(1, 0, 2), table.transpose(0, 2, 1))
        return np.asarray(product.transpose(1, 0, 2))

    def _table(self, columns: Sequence[Array]) -> Array:
        """Columns of (kinds, 1, n or 1) or less as one array (kinds, columns, n)."""
        kinds, n = len(self.trio.case.prior), self.trio.case.n
        table = np.empty((kinds, len(columns), n))
        for number, column in enumerate(columns):
            table[:, number] = column[:, 0, :] if column.ndim == 3 else column
        return table


def _summed(values: Array, n: int) -> Array:
    """Sum over `n` draws, by kind; what is the same for all of them counts n times."""
    return np.asarray(values[:, 0, :].sum(axis=1) * (n // values.shape[2]))


def _going_on(odds: RunOdds) -> Array:
    """Odds that fishing can go on after a run."""
    return odds.nothing + odds.part + odds.top_damaged


def _ratio(moved: Array, now: Array) -> Array:
    """Odds of an outcome over what they are now; what cannot happen now cannot happen."""
    return np.divide(
        moved, now, out=np.zeros(moved.shape), where=np.broadcast_to(now > 0, moved.shape)
    )


def _differ(shares: Sequence[Array]) -> bool:
    """Whether outcomes after which fishing goes on are moved unlike one another."""
    return any(
        bool(np.any((np.abs(each - shares[0]) > APART) & (each > 0) & (shares[0] > 0)))
        for each in shares[1:]
    )


def _children(following: Level) -> Iterator[tuple[str, Level]]:
    """The histories of a level one by one, with the outcome whose ratio they have."""
    for number, history in enumerate(following.histories):
        one = slice(number, number + 1)
        tools = [
            Tool(None if tool.called is None else _one(tool.called, one), _one(tool.worked, one))
            for tool in following.tools
        ]
        name = history[-1] if len(following.histories) > 1 else TOGETHER
        yield (
            name,
            Level(
                [history],
                _one(following.weight, one),
                _one(following.top, one),
                _one(following.damaged, one),
                _one(following.days, one),
                _one(following.cost, one),
                tools,
            ),
        )


def _one(values: NDArray, place: slice) -> NDArray:  # type: ignore[type-arg]
    """One history of values that may be the same for all of them."""
    return values if values.shape[1] == 1 else values[:, place]
