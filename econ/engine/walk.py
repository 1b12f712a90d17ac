"""The walk of a block of draws through the run program, by weights.

A run sends W p_recovered, W p_string_lost and W p_hole_lost to ends, in expectation, and
the rest to the next level by W p_part, W p_nothing, W p_top_damaged and W p_prepared
(`econ.engine.level` has W and p). No coin is flipped for an end. Every level can hold only so
many histories: the most likely are kept apart, the rest are merged into one, which follows in
each draw one of them, picked by its weight with that draw's uniform, and carries the sum of
their weights. With room for a single history this is the plain sampled path; with room for all
it is the full tree.

The program is a list by priority: in each state the first run not yet made that can be made.
So a step makes one run a history and draw, and where marks differ not the same one: the level is
split into groups by the run they make, each with the weights of the others at 0. Those that can
make none stop there.

The belief that the fish is of a kind is W of that kind over the sum: no other formula.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial
from itertools import accumulate

import numpy as np
from numpy.typing import NDArray

from econ.engine.case import GOING_ON, Case, outcome_column, place_column
from econ.engine.choice import Choice, bill_of
from econ.engine.ledger import Ending, Place, Spent, inherited, nothing
from econ.engine.level import (
    Array,
    History,
    Level,
    Tool,
    begin,
    hours_of,
    lost_tools,
    marks_after,
    odds_now,
    renewed,
    three,
    use_tools,
)
from econ.engine.marks import ATTACHED, DAMAGED, Bits, Flags, Signs
from econ.job import RunOdds

MERGED: History = ("...",)  # the history of those that are not kept apart


@dataclass(frozen=True)
class Links:
    """Which history of the next level each child of this level became."""

    parent: NDArray[np.intp]  # (children,): the history of this level that each comes from
    kept: NDArray[np.intp]  # children that are the first histories of the next level
    followed: NDArray[np.intp] | None  # (kinds, n): the child that the last, merged one follows

    def of_children(self, values: NDArray) -> NDArray:  # type: ignore[type-arg]
        """Values of the children as the histories of the next level have them."""
        kept = values[:, self.kept]
        if self.followed is None:
            return kept
        return _stack([kept, _picked(values, self.followed[:, None, :])])

    def from_runs(self, count: int, runs: Sequence[int]) -> Links:
        """The same where each of `count` histories stands once for every run made; runs: the
        place of each child's run among these."""
        return replace(self, parent=self.parent + np.repeat(count * np.array(runs), count))


@dataclass(frozen=True)
class Made:
    """A run made from a level: its number (from 0), odds, hours on the clock [h], cost without
    the one-off mobilization [currency], weight of those who make it, ends, what has been spent
    after it, and its tools."""

    run: int
    odds: RunOdds
    cost: Array
    hours: Array
    weight: Array
    ends: Sequence[Ending]  # recovered, string lost, hole lost
    spent: Spent
    tools: Sequence[Tool]


@dataclass(frozen=True)
class Step:
    """A level, the bill if fishing stops there, and what one more run leads to.

    made: the runs that are made from here, none after the last step; stuck: those who can make
    none; following, links: the next level, and where its histories come from.
    """

    number: int
    level: Level
    stop: Ending
    made: Sequence[Made] = ()
    stuck: Ending | None = None
    following: Level | None = None
    links: Links | None = None

    @property
    def ends(self) -> Sequence[Ending]:
        """Those who end here if one more run is allowed."""
        ends = [ending for made in self.made for ending in made.ends]
        return ends if self.stuck is None else [*ends, self.stuck]


def walk(
    case: Case, choice: Choice | None, *, histories: int, outcomes: Sequence[str] = GOING_ON
) -> Iterator[Step]:
    """Steps 0 to K of the program; the last one has no run.

    histories: how many a level keeps apart at most, the merged one included; outcomes: those
    that go on and are followed.
    """
    level = begin(case)
    for number in range(len(case.program)):
        now = stop(case, choice, level)
        groups, stuck = _next_runs(case, level, number)
        made = [make(case, choice, group, run) for run, group in groups]
        uniform = case.uniforms.get(
            place_column(number) if case.conditional else outcome_column(case.program[number])
        )
        following, links = _go_on(case, level, made, uniform, histories, outcomes)
        left = None if stuck is None else stop(case, choice, stuck)
        yield Step(number, level, now, made, left, following, links)
        level = following
    yield Step(len(case.program), level, stop(case, choice, level))


def walk_failures(case: Case, choice: Choice | None) -> Iterator[Step]:
    """Steps of the one path on which every run so far ended `nothing`, none sampled; the last
    one has no run."""
    for step in walk(case, choice, histories=1, outcomes=GOING_ON[:1]):
        if step.stuck is not None:
            yield replace(step, made=(), stuck=None, following=None, links=None)
            return
        yield step


def runs_if_all_fail(case: Case) -> list[int]:
    """Numbers of the runs that are made if every one ends `nothing`, in their order."""
    if not case.conditional:
        return list(case.program)
    signs, left = begin(case).signs, list(case.program)
    runs: list[int] = []
    while can := [run for run in left if case.runs[run].condition.holds(signs).all()]:
        run = can[0]
        left.remove(run)
        runs.append(run)
        marks = signs.marks & ~DAMAGED if case.runs[run].dresses_top else signs.marks
        signs = Signs(marks, signs.made | (1 << run))
    return runs


def next_run(case: Case) -> int | None:
    """Number of the run that is made next, None where none can be."""
    if not case.conditional:
        return next(iter(case.program), None)
    signs = begin(case).signs
    can = (run for run in case.program if case.runs[run].condition.holds(signs).all())
    return next(can, None)


def _next_runs(
    case: Case, level: Level, number: int
) -> tuple[list[tuple[int, Level]], Level | None]:
    """The runs that are made at step `number`, each with the level of those who make it, and
    that of those who can make none."""
    if not case.conditional:
        return [(case.program[number], level)], None
    groups: list[tuple[int, Level]] = []
    signs = level.signs
    left = np.ones((1, 1, 1), dtype=bool)
    for run in case.program:
        free = left & ((level.made & (1 << run)) == 0)
        can = free & case.runs[run].condition.holds(signs)
        if can.any():
            whole = can.size == 1 or bool(can.all())
            weight = level.weight if whole else np.where(can, level.weight, 0.0)
            groups.append((run, replace(level, weight=weight)))
        left = left & ~can
        if not left.any():
            return groups, None
    return groups, replace(level, weight=np.where(left, level.weight, 0.0))


def make(case: Case, choice: Choice | None, level: Level, run: int) -> Made:
    """Run number `run` (from 0) made from a level."""
    about = case.runs[run]
    odds = odds_now(case, run, level, days=level.days + case.elapsed)
    hours = hours_of(case, level, run)
    tools, rented = use_tools(case, level, run, hours)
    charge, share = three(about.charge), about.fishing_share
    first = ((level.made & case.paying) == 0) & bool(case.paying >> run & 1)
    spent = level.spent.after(
        hours=hours,
        charges=charge,
        rentals=rented,
        mobilization=np.where(first, three(case.mobilization), 0.0) if first.any() else nothing(),
        share=None if about.pays_all else three(share),
    )
    string = about.string_value + lost_tools(case, run)
    bill_from = partial(bill_of, case, choice)
    signs = _signs_once_lost(case, level, run)
    waiting = waiting_at(case, marks_after(case, run, level.marks, "string_lost"))
    ends = (
        _fish_out(case, level.weight * odds.recovered, spent),
        Ending(
            level.weight * odds.string_lost,
            spent,
            place=_dated(
                case, spent, with_string(case, level.top, run, string=string, signs=signs), waiting
            ),
            bill_from=bill_from,
        ),
        Ending(
            level.weight * odds.hole_lost,
            spent,
            place=_dated(case, spent, with_hole_lost(case, string=string, signs=signs), waiting),
            bill_from=bill_from,
        ),
    )
    day = spent.fishing_day if about.pays_all else spent.fishing_day * three(share)
    cost = hours / 24.0 * (spent.spread + day) + charge + rented
    return Made(run, odds, cost, hours, level.weight, ends, spent, tools)


def advance(
    case: Case, choice: Choice | None, level: Level, run: int, *, histories: int
) -> tuple[Made, Level]:
    """Run number `run` made from a level whatever its condition, and the next level."""
    made = make(case, choice, level, run)
    uniform = case.uniforms.get(outcome_column(run))
    following, _ = _go_on(case, level, [made], uniform, histories, GOING_ON)
    return made, following


def _signs_once_lost(case: Case, level: Level, run: int) -> Signs | None:
    """Marks and runs made that a fallback meets once run `run` lost the string or the hole."""
    if not case.choosy:
        return None
    damaged = level.damaged & (not case.runs[run].dresses_top)
    marks = marks_after(case, run, level.marks, "string_lost")
    return Signs(np.where(damaged, marks | DAMAGED, marks), level.made | (1 << run))


def stop(case: Case, choice: Choice | None, level: Level) -> Ending:
    """Fishing ends at a level: the fallback, or what is left to do if a log ended the job."""
    if case.ended == "recovered":
        return _fish_out(case, level.weight, level.spent)
    signs = level.signs if case.choosy else None
    spent, place, parted = level.spent, Place(level.top, level.top, signs=signs), None
    if case.ended is not None:
        event = case.logged[-1]
        string = case.runs[event.run].string_value + lost_tools(case, event.run)
        upper = None if event.top is None else np.full((1, 1, 1), event.top)
        place = (
            with_hole_lost(case, string=string, signs=signs)
            if case.ended == "hole_lost"
            else with_string(case, level.top, event.run, string=string, upper=upper, signs=signs)
        )
    elif case.parting is not None and level.attached.any():
        spent = spent.after(
            hours=np.where(level.attached, three(case.parting.hours), 0.0),
            charges=np.where(level.attached, three(case.parting.charge), 0.0),
        )
        if signs is not None:
            place = replace(place, signs=Signs(signs.marks & ~ATTACHED, signs.made))
        parted = level.attached.astype(np.float64)
    return Ending(
        level.weight,
        spent,
        place=_dated(case, spent, place, waiting_at(case, level.marks)),
        bill_from=partial(bill_of, case, choice),
        parted=parted,
    )


def _fish_out(case: Case, weight: Array, spent: Spent) -> Ending:
    """The fish is out: the work after it, and what it costs if that ends late."""
    days = three(case.recovery_days)
    done = Ending(weight, spent, recovery=three(case.recovery_cost), recovery_hours=24.0 * days)
    if case.deadline is None:
        return done
    ends = spent.days + days
    late, is_late = case.deadline.cost(ends), case.deadline.chance.cost(ends)
    return replace(done, late=late, is_late=is_late)


def waiting_at(case: Case, marks: Bits) -> Array | None:
    """Hours until the plug is approved [h], 0 where no source is left in the hole; None where the
    file has none to wait for."""
    if case.approval is None:
        return None
    hours = three(case.approval)
    if not case.source_if.binds:
        return hours
    return np.where(case.source_if.holds(Signs(marks, np.zeros_like(marks))), hours, 0.0)


def _dated(case: Case, spent: Spent, place: Place, waiting: Array | None) -> Place:
    """A place with the wait for an approval there, and the day on which a fallback then begins,
    where there is a deadline."""
    if waiting is not None:
        place = replace(place, waiting=waiting)
    if case.deadline is None:
        return place
    return replace(place, day=spent.days if waiting is None else spent.days + waiting / 24.0)


def with_string(
    case: Case,
    top: Array,
    run: int,
    *,
    string: Array,
    upper: Array | None = None,
    signs: Signs | None = None,
) -> Place:
    """Where a fallback begins with the string of run `run` in the hole over a fish with its top
    at `top` [ft]; string: what it costs; upper: its own top, where that is known."""
    if upper is None:
        upper = np.maximum(top - case.runs[run].string_length, 0.0)
    return Place(upper, top, string, "string", signs)


def with_hole_lost(case: Case, *, string: Array, signs: Signs | None = None) -> Place:
    """Where a fallback begins once the hole is lost, with the whole fish owed; string: what the
    string in the hole is worth [currency]."""
    whole = np.full((1, 1, 1), case.fish.top)
    return Place(whole, whole, case.hole_lost_string_share * string, "hole", signs)


def _go_on(
    case: Case,
    level: Level,
    made: Sequence[Made],
    uniform: Array | None,
    histories: int,
    followed: Sequence[str],
) -> tuple[Level, Links]:
    """The next level, and where each child went."""
    count = len(level.histories)
    children = [child for run in made for child in children_of(case, level, run, followed)]
    if not children:  # no run can be made in any state
        everyone = np.arange(count)
        return replace(level, weight=0.0 * level.weight), Links(everyone, everyone, None)
    names = [(*history, child.outcome) for child in children for history in level.histories]
    parent = np.tile(np.arange(count), len(children))
    weight = _stack([child.weight for child in children])
    kept, rest = _apart(weight, names, histories)
    links = Links(parent, kept, None)
    total = weight[:, kept]
    if rest.size:
        assert uniform is not None
        # Where a run makes another kind of the fish, all kinds have to follow the same child.
        shares = weight.sum(axis=0, keepdims=True) if case.renewing else weight
        upto = shares[:, rest]
        for child in range(1, rest.size):  # a cumulative sum; numpy's is slow off the last axis
            upto[:, child] += upto[:, child - 1]
        together = upto[:, -1:]
        picked = np.minimum((upto <= uniform * together).sum(axis=1, keepdims=True), rest.size - 1)
        links = replace(links, followed=rest[picked[:, 0]])
        merged = np.broadcast_to(together, picked.shape)
        if case.renewing:
            of_all, own = (
                _picked(shares[:, rest], picked),
                _picked(weight[:, rest], np.repeat(picked, len(weight), axis=0)),
            )
            merged = np.divide(own * merged, of_all, out=np.zeros(own.shape), where=of_all > 0)
        total = _stack([total, merged])

    def of_children(values: Sequence[NDArray]) -> NDArray:  # type: ignore[type-arg]
        return links.of_children(_stack(values))

    def bits(values: Sequence[Bits]) -> Bits:
        if all(each.size == 1 for each in values) and len({each.item() for each in values}) == 1:
            return values[0]
        return of_children([_each(value, count) for value in values])

    # What the histories of this level have once a run was made, one run after another.
    numbers = {run.run: number for number, run in enumerate(made)}
    source = links.from_runs(count, [numbers[child.run] for child in children])

    def by(values: Sequence[Array]) -> Array:
        if len(values) == 1:
            return _inherited(values[0], source)
        return _inherited(_stack([_each(value, count) for value in values]), source)

    following = Level(
        [names[child] for child in kept] + [MERGED] * bool(rest.size),
        total,
        of_children([child.top for child in children]),
        of_children([child.damaged for child in children]),
        bits([child.marks for child in children]),
        bits([child.made for child in children]),
        inherited([run.spent for run in made], by),
        [Tool.inherited(tools, by) for tools in zip(*(run.tools for run in made), strict=True)],
    )
    return following, links


@dataclass(frozen=True)
class Child:
    """The histories of a level after a run that ended in an outcome and goes on."""

    run: int
    outcome: str
    weight: Array
    top: Array
    damaged: Flags
    marks: Bits
    made: Bits


def children_of(case: Case, level: Level, made: Made, outcomes: Sequence[str]) -> Iterator[Child]:
    """The histories of a level after a run, by those of the outcomes that can be."""
    run = case.runs[made.run]
    for outcome in run.followed:
        if outcome not in outcomes:
            continue
        chance = getattr(made.odds, outcome)
        spoils = outcome == "top_damaged"
        lower = outcome == "part"
        yield Child(
            made.run,
            outcome,
            renewed(case, made.run, made.weight * chance, outcome),
            case.fish.top_after_part(level.top, part_length=run.part_length)
            if lower
            else level.top,
            np.ones_like(level.damaged) if spoils else level.damaged & (not run.dresses_top),
            marks_after(case, made.run, level.marks, outcome),
            level.made | (1 << made.run),
        )


def _each(values: NDArray, count: int) -> NDArray:  # type: ignore[type-arg]
    """Values of every history, also where all share them."""
    return np.broadcast_to(values, (values.shape[0], count, values.shape[2]))


def _stack(arrays: Sequence[NDArray[np.generic]]) -> NDArray:  # type: ignore[type-arg]
    """Arrays of (kinds or 1, histories, n or 1) one after another on the axis of histories."""
    kinds = max(array.shape[0] for array in arrays)
    draws = max(array.shape[2] for array in arrays)
    ends = list(accumulate(array.shape[1] for array in arrays))
    stacked = np.empty((kinds, ends[-1], draws), dtype=arrays[0].dtype)
    for array, end in zip(arrays, ends, strict=True):
        stacked[:, end - array.shape[1] : end] = array
    return stacked


def _apart(
    weight: Array, names: Sequence[History], histories: int
) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Children kept apart, in their order, and those merged; all-`nothing` is kept first."""
    everyone = np.arange(len(names))
    if len(names) <= histories:
        return everyone, everyone[:0]
    if histories == 1:  # all are merged
        return everyone[:0], everyone
    mean = weight.sum(axis=0).mean(axis=1)
    plain = [set(name) == {"nothing"} for name in names]
    order = np.argsort(np.where(plain, -np.inf, -mean), kind="stable")
    return np.sort(order[: histories - 1]), np.sort(order[histories - 1 :])


def _picked(values: NDArray, picked: NDArray[np.intp]) -> NDArray:  # type: ignore[type-arg]
    """In each kind and draw the value of the history that was picked, (kinds, 1, n)."""
    shape = (picked.shape[0], values.shape[1], picked.shape[2])
    return np.take_along_axis(np.broadcast_to(values, shape), picked, axis=1)


def _inherited(values: Array, links: Links) -> Array:
    """Values of the parents as the histories of the next level have them."""
    if values.shape[1] == 1:  # all share them
        count = links.kept.size + (links.followed is not None)
        return np.broadcast_to(values, (values.shape[0], count, values.shape[2]))
    kept = values[:, links.parent[links.kept]]
    if links.followed is None:
        return kept
    merged = _picked(values, links.parent[links.followed][:, None, :])
    return np.asarray(_stack([kept, merged]))
