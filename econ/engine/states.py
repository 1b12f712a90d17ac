"""Every state that runs in any order can reach, merged where nothing tells two of them apart.

A list of runs is one way through a job; a plan may take, in every state, any run that can be
made there. Two histories are one state where they agree in

    the runs made, the marks, the condition of the top, and the runs that moved it
    the evidence: each outcome with the odds it had, but for those that all kinds of fish and
    all draws share, which say nothing
    the clock, where it matters: with odds that move with time, and with rented tools

With W the weight of a state and F what was spent on the way to it, let S be W (cost of stopping
less F), and E_r, for a run r from there, the weighted cost less F of those whom it ends and,
for those who go on, of the run itself. All are sums over the draws of a scramble. Then

    V = min( S, min over r of E_r + sum over outcomes of c V(child) )

where c is the chance of an outcome that says nothing, and 1 for any other, whose odds are in the
weight of the child. Any plan is so valued scramble by scramble from tables of S and E.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from econ.engine.case import ENDS, GOING_ON, Case
from econ.engine.choice import Choice
from econ.engine.ledger import inherited
from econ.engine.level import OWN_JOB, Array, Level, Tool, begin
from econ.engine.marks import DAMAGED
from econ.engine.walk import Child, Made, children_of, make, stop

Key = tuple[Any, ...]
Runs = Mapping[int, Sequence[int]]  # by run, the places of the states it is made from
NEVER = 1e-15  # a chance that is none
NOT_CALLED = ("not",)  # of a rented tool


class Branch(NamedTuple):
    """An outcome that goes on: the place in the next level of the state it leads to, and its
    chance where that says nothing, else 1."""

    outcome: str
    child: int
    share: float


@dataclass(frozen=True)
class State:
    """Runs made in some order, and what came of them; see the head of the module.

    made, marks: bits, the damage to the top among the marks; chance: of getting here if the runs
    are made; branches: by run.
    """

    made: int
    marks: int
    chance: float
    parts: Key = ()
    evidence: Key = ()
    clock: Key = ()
    called: Key = ()
    branches: dict[int, list[Branch]] = field(default_factory=dict)


@dataclass(frozen=True)
class OutcomeTable:
    """An outcome of a run from the states at some places: weight of those who have it [fraction],
    shape (places, kinds, scrambles); and their weighted cost, of the run and, where it ends the
    job, of all that is owed then [currency], shape (places, scrambles)."""

    weight: Array
    cost: Array


@dataclass(frozen=True)
class RunTable:
    """A run made from the states at some places: cost E [currency], weight of those who recover
    [fraction] and weighted hours on the clock [h], shape (places, scrambles). Where `find` was
    asked for outcomes: spent: weighted cost of the run itself [currency], and each outcome."""

    places: Sequence[int]
    cost: Array
    recovered: Array
    hours: Array
    spent: Array | None = None
    outcomes: Mapping[str, OutcomeTable] = field(default_factory=dict)


@dataclass(frozen=True)
class Table:
    """A level: the cost S of stopping [currency], weighted fish top [ft] and elapsed time [d],
    shape (states, scrambles); weight by kind of fish, shape (states, kinds, scrambles); and the
    runs made from it. nan where a state was not looked at."""

    stop: Array
    top: Array
    days: Array
    weight: Array
    runs: Mapping[int, RunTable]

    def added(self, other: Table) -> Table:
        """The sums of both, of the same states and runs on different draws."""
        runs = {
            run: RunTable(
                one.places,
                one.cost + other.runs[run].cost,
                one.recovered + other.runs[run].recovered,
                one.hours + other.runs[run].hours,
            )
            for run, one in self.runs.items()
        }
        return Table(
            self.stop + other.stop,
            self.top + other.top,
            self.days + other.days,
            self.weight + other.weight,
            runs,
        )


@dataclass(frozen=True)
class States:
    """The states of every level, and from how many of each no run was looked at, because there
    are too many: those behind a place."""

    levels: Sequence[Sequence[State]]
    known: Sequence[int]

    @property
    def size(self) -> int:
        """How many states there are."""
        return sum(map(len, self.levels))

    @property
    def complete(self) -> bool:
        """Whether every state was gone on from."""
        return all(
            len(level) == known for level, known in zip(self.levels, self.known, strict=True)
        )


def find(
    case: Case,
    choice: Choice | None,
    *,
    most: int,
    effort: int,
    minimum: int,
    widest: int | None = None,
    readings: bool = True,
    outcomes: bool = False,
) -> tuple[States, list[Table]]:
    """All states of a case, and their tables as if its draws were one scramble.

    most: states of a level that are gone on from, those that are likeliest; effort: runs made from
    a state, over all of them, after which no more are looked at; minimum: runs that must still be
    made: every state short of them is gone on from, if no reading was taken on the way; widest:
    runs made from the states of one level, which bounds the memory, where it is given by those that
    can be made there and not by all; readings: whether they are looked at too; outcomes: whether
    the tables have every outcome by itself.
    """
    levels: list[list[State]] = [[_first(case)]]
    known: list[int] = []
    tables: list[Table] = []
    level = begin(case)
    while levels[-1]:
        states = levels[-1]
        first = levels[0][0]
        short = sum(_owes(case, first, state, minimum) for state in states)
        some = max(0, min(most, effort // max(len(case.runs), 1)))
        actions = range(len(case.runs) if readings else case.uses)
        if widest is not None:
            some = _first_of(case, states[:most], actions, min(widest, effort))
        known.append(min(len(states), max(some, short)))
        looked_at = states[: known[-1]]
        runs = {run: able(case, looked_at, run) for run in actions}
        effort -= sum(map(len, runs.values()))
        possible = {run: at for run, at in runs.items() if at}
        blocks = _Blocks(case, choice, level, possible, 1, outcomes=outcomes)
        tables.append(blocks.table(len(states), range(len(states))))
        following, picked = _children(case, states, blocks)
        # Those that owe a run and then the likeliest first, so that those of which no run is
        # looked at are the last.
        owing = [_owes(case, first, state, minimum) for state in following]
        order = sorted(
            range(len(following)), key=lambda place: (not owing[place], -following[place].chance)
        )
        rank = {place: new for new, place in enumerate(order)}
        for state in states:
            for branches in state.branches.values():
                branches[:] = [Branch(b.outcome, rank[b.child], b.share) for b in branches]
        levels.append([following[place] for place in order])
        if following:
            level = blocks.gathered([picked[place] for place in order])
    return States(levels[:-1], known), tables


def _first_of(case: Case, states: Sequence[State], actions: Sequence[int], most: int) -> int:
    """How many of the first states can be gone on from with so many runs made at the most."""
    each = np.zeros(len(states), dtype=np.int64)
    for run in actions:
        each[able(case, states, run)] += 1
    return int(np.searchsorted(np.cumsum(each), most, side="right"))


def _owes(case: Case, first: State, state: State, minimum: int) -> bool:
    """Whether runs are still owed in a state to which no reading led."""
    if minimum == 0:
        return False
    readings = (state.made & ~first.made) >> case.uses
    return not readings and runs_made(case, first, state) < minimum


def runs_made(case: Case, first: State, state: State) -> int:
    """Runs made between two states; a reading is none."""
    return (state.made & ~first.made & ((1 << case.uses) - 1)).bit_count()


def valued(
    case: Case, choice: Choice | None, states: States, wanted: Sequence[Runs], *, scrambles: int
) -> list[Table]:
    """Tables of some runs from some states of each level, on other draws, and of stopping in
    these states and in those that the runs lead to."""
    level, rows = begin(case), {0: 0}
    tables: list[Table] = []
    for depth, runs in enumerate(wanted):
        at = {run: [rows[place] for place in places] for run, places in runs.items()}
        blocks = _Blocks(case, choice, level, at, scrambles)
        names = {run: list(places) for run, places in runs.items()}
        tables.append(blocks.table(len(states.levels[depth]), list(rows), names))
        picked: dict[int, tuple[int, int]] = {}
        for number, block in enumerate(blocks.all):
            share = np.full(len(names[block.made.run]), np.nan)
            for row, place in enumerate(names[block.made.run]):
                for branch in states.levels[depth][place].branches.get(block.made.run, ()):
                    if branch.outcome == block.child.outcome:
                        picked.setdefault(branch.child, (number, row))
                        share[row] = np.nan if branch.share == 1.0 else branch.share
            blocks.all[number] = replace(block, share=share)
        if not picked:
            break
        level = blocks.gathered(list(picked.values()))
        rows = {place: row for row, place in enumerate(picked)}
    return tables


def _first(case: Case) -> State:
    signs = begin(case).signs
    return State(int(signs.made.ravel()[0]), int(signs.marks.ravel()[0]), 1.0)


def able(case: Case, states: Sequence[State], run: int) -> list[int]:
    """Places of the states in which a run can be made, among these."""
    if case.ended:
        return []
    about = case.runs[run].condition
    needs, needs_made, bars = about.needs, about.needs_made, about.bars
    bars_made = about.bars_made | 1 << run
    return [
        place
        for place, state in enumerate(states)
        if not (
            bars_made & state.made
            or needs & ~state.marks
            or needs_made & ~state.made
            or bars & state.marks
        )
    ]


def _children(
    case: Case, states: Sequence[State], blocks: _Blocks
) -> tuple[list[State], list[tuple[int, int]]]:
    """The states of the next level, to which branches are laid, and where in the blocks each of
    them is found."""
    places: dict[Key, int] = {}
    following: list[State] = []
    picked: list[tuple[int, int]] = []
    for number, block in enumerate(blocks.all):
        outcome, run = block.child.outcome, block.made.run
        after = _After(case, run, outcome)
        each = zip(blocks.runs[run], block.chance.tolist(), block.share.tolist(), strict=True)
        for row, (place, chance, share) in enumerate(each):
            if chance <= NEVER:
                continue
            state = states[place]
            tells = share != share  # nan
            key = after.key(state, tells=tells)
            child = places.get(key)
            if child is None:
                child = places[key] = len(following)
                made, marks, *others = key
                following.append(State(made, marks, state.chance * chance, *others))
                picked.append((number, row))
            branch = Branch(outcome, child, 1.0 if tells else share)
            state.branches.setdefault(run, []).append(branch)
    return following, picked


class _After:
    """The key of the state after a run that ended in an outcome and goes on."""

    def __init__(self, case: Case, run: int, outcome: str) -> None:
        about = case.runs[run]
        self.about, self.run, self.number, self.outcome = about, run, about.number, outcome
        own = outcome in OWN_JOB
        self.kept = ~((DAMAGED if about.dresses_top else 0) | (about.takes if own else 0))
        self.given = DAMAGED if outcome == "top_damaged" else about.gives if own else 0
        self.ages = case.odds_ratio_per_day is not None or case.loss_odds_ratio_per_day is not None
        self.timed = self.ages or bool(case.contracts) or case.deadline is not None
        self.waits = any(c.delivery > 0 and run in c.serves for c in case.contracts)
        self.calls = [contract.called_by(run) for contract in case.contracts]
        self.renewing = case.renewing

    def key(self, state: State, *, tells: bool) -> Key:
        """Runs made, marks, parts, evidence, clock and calls of `State`, which tell it from others;
        tells: whether the outcome says something about the fish or the draw."""
        clock, called, evidence, parts = state.clock, state.called, state.evidence, state.parts
        if self.timed:
            when = (clock, called) if self.waits else ()
            clock = tuple(sorted([*clock, (self.number, parts, when)]))
        if self.calls:
            called = tuple(
                ("at", state.clock) if was == NOT_CALLED and calls else was
                for was, calls in zip(
                    called or (NOT_CALLED,) * len(self.calls), self.calls, strict=True
                )
            )
        if tells:
            about = self.about
            damaged = bool(state.marks & DAMAGED) and not about.dresses_top
            ratios = tuple(
                not (condition.needs & ~state.marks or condition.needs_made & ~state.made)
                for condition, _ in about.ratios
            )
            odds = (self.number, self.outcome, damaged, ratios, state.clock if self.ages else ())
            # What was learned before a doubt is renewed and after it is not the same.
            evidence = (*evidence, odds)
            evidence = evidence if self.renewing else tuple(sorted(evidence))
        if self.outcome == "part":
            parts = tuple(sorted([*parts, self.number]))
        marks = state.marks & self.kept | self.given
        return (state.made | 1 << self.run, marks, parts, evidence, clock, called)


@dataclass(frozen=True)
class _Block:
    """An outcome of a run made from some states: the states after it, its chance by state, and
    the same where it says nothing, nan where it does."""

    made: Made
    child: Child
    chance: Array
    share: Array


class _Blocks:
    """All runs looked at from the states of a level, by outcome.

    runs: by run, the rows of the level's arrays that it is made from.
    """

    def __init__(
        self,
        case: Case,
        choice: Choice | None,
        level: Level,
        runs: Runs,
        scrambles: int,
        *,
        outcomes: bool = False,
    ) -> None:
        self.case, self.choice, self.level = case, choice, level
        self.runs, self.scrambles, self.outcomes = runs, scrambles, outcomes
        self.all: list[_Block] = []
        self.tables: dict[int, RunTable] = {}
        for run, rows in runs.items():
            self._make(run, rows)

    def _make(self, run: int, rows: Sequence[int]) -> None:
        here = _only(self.level, rows)
        made = make(self.case, self.choice, here, run)
        cost: Array = np.zeros((1, 1, 1))
        for ending in made.ends:
            cost = cost + ending.weight * (ending.cost - here.cost)
        more = made.spent.total - here.cost
        before = np.maximum(self._sum(here.weight, len(rows)).sum(axis=1), 1e-300)
        for child in children_of(self.case, here, made, GOING_ON):
            cost = cost + child.weight * more
            odds = getattr(made.odds, child.outcome)
            least, most = odds.min(axis=(0, 2)), odds.max(axis=(0, 2))
            silent = (least == most) & (
                child.outcome not in OWN_JOB or not self.case.runs[run].renews
            )
            share = np.broadcast_to(np.where(silent, least, np.nan), (len(rows),))
            chance = self._sum(child.weight, len(rows)).sum(axis=1) / before
            self.all.append(_Block(made, child, chance, share))
        self.tables[run] = RunTable(
            rows,
            self._sum(cost, len(rows)),
            self._sum(made.ends[0].weight, len(rows)),
            self._sum(here.weight * made.hours, len(rows)),
        )
        if self.outcomes:
            self.tables[run] = self._with_outcomes(self.tables[run], here, made)

    def _with_outcomes(self, table: RunTable, here: Level, made: Made) -> RunTable:
        """The table of a run with every outcome by itself."""
        count, more = len(table.places), made.spent.total - here.cost
        weighed = {
            outcome: (ending.weight, ending.cost - here.cost)
            for outcome, ending in zip(ENDS, made.ends, strict=True)
        }
        for child in children_of(self.case, here, made, GOING_ON):
            weighed[child.outcome] = (here.weight * getattr(made.odds, child.outcome), more)
        return replace(
            table,
            spent=self._sum(here.weight * more, count),
            outcomes={
                outcome: OutcomeTable(self._by_kind(weight, count), self._sum(weight * cost, count))
                for outcome, (weight, cost) in weighed.items()
            },
        )

    def table(self, size: int, places: Sequence[int], names: Runs | None = None) -> Table:
        """The table of a level of `size` states; places: those of the rows of its arrays; names:
        the places of the runs, where these are not the rows."""
        level, count = self.level, len(places)
        ending = stop(self.case, self.choice, level)

        def rows(values: Array) -> Array:
            table = np.full((size, *values.shape[1:]), np.nan)
            table[list(places)] = values
            return table

        return Table(
            stop=rows(self._sum(ending.weight * (ending.cost - level.cost), count)),
            top=rows(self._sum(level.weight * level.top, count)),
            days=rows(self._sum(level.weight * level.days, count)),
            weight=rows(self._by_kind(level.weight, count)),
            runs={
                run: table if names is None else replace(table, places=names[run])
                for run, table in self.tables.items()
            },
        )

    def gathered(self, picked: Sequence[tuple[int, int]]) -> Level:
        """The level of some of the states after the runs: block and row of each."""
        order = sorted(range(len(picked)), key=lambda place: picked[place])
        back = np.argsort(order)
        blocks: dict[int, list[int]] = {}
        for place in order:
            number, row = picked[place]
            blocks.setdefault(number, []).append(row)

        def by(values: Sequence[NDArray]) -> NDArray:  # type: ignore[type-arg]
            taken = [
                _rows(value, rows) for value, rows in zip(values, blocks.values(), strict=True)
            ]
            kinds = max(each.shape[0] for each in taken)
            draws = max(each.shape[2] for each in taken)
            full = [np.broadcast_to(each, (kinds, each.shape[1], draws)) for each in taken]
            return np.concatenate(full, axis=1)[:, back]

        chosen = [self.all[number] for number in blocks]
        return Level(
            [()] * len(picked),
            by(
                [
                    np.where(np.isnan(b.share)[:, None], b.child.weight, b.made.weight)
                    for b in chosen
                ]
            ),
            by([block.child.top for block in chosen]),
            by([block.child.damaged for block in chosen]),
            by([block.child.marks for block in chosen]),
            by([block.child.made for block in chosen]),
            inherited([block.made.spent for block in chosen], by),
            [
                Tool.inherited(tools, by)
                for tools in zip(*(block.made.tools for block in chosen), strict=True)
            ],
        )

    def _by_kind(self, weight: Array, count: int) -> Array:
        """Sum over the draws, shape (count, kinds, scrambles)."""
        each = [self._sum(weight[kind : kind + 1], count) for kind in range(len(weight))]
        return np.stack(each, axis=1)

    def _sum(self, values: Array, count: int) -> Array:
        """Sum over kinds and draws, shape (count, scrambles)."""
        together = values.sum(axis=0)
        n = self.case.n // self.scrambles
        if together.shape[1] == 1:
            return np.broadcast_to(together * n, (count, self.scrambles))
        each = together.reshape(together.shape[0], self.scrambles, n).sum(axis=2)
        return np.broadcast_to(each, (count, self.scrambles))


def _rows(values: NDArray, rows: Sequence[int]) -> NDArray:  # type: ignore[type-arg]
    """Values of some histories, also where all share them."""
    if values.shape[1] == 1:
        return np.broadcast_to(values, (values.shape[0], len(rows), values.shape[2]))
    return values[:, list(rows)]


def _only(level: Level, rows: Sequence[int]) -> Level:
    """Some of the histories of a level."""
    spent = level.spent

    def by(values: Sequence[NDArray]) -> NDArray:  # type: ignore[type-arg]
        return _rows(values[0], rows)

    return Level(
        [()] * len(rows),
        _rows(level.weight, rows),
        _rows(level.top, rows),
        _rows(level.damaged, rows),
        _rows(level.marks, rows),
        _rows(level.made, rows),
        inherited([spent], by),
        [Tool.inherited([tool], by) for tool in level.tools],
    )
