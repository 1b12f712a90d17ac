"""The walk of a block of draws through the run program, by weights.

A run sends W p_recovered, W p_string_lost and W p_hole_lost to ends, in expectation, and
the rest to the next level by W p_part, W p_nothing and W p_top_damaged (`econ.engine.level`
has W and p). No coin is flipped for an end. Every level can hold only so many histories: the
most likely are kept apart, the rest are merged into one, which follows in each draw one of
them, picked by its weight with that draw's uniform, and carries the sum of their weights.
With room for a single history this is the plain sampled path; with room for all it is the
full tree.

The belief that the fish is workable is W of that kind over the sum: no other formula.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial
from itertools import accumulate

import numpy as np
from numpy.typing import NDArray

from econ.engine.case import GOING_ON, Case, outcome_column
from econ.engine.choice import Choice, bill_of
from econ.engine.ledger import Ending, Place, nothing
from econ.engine.level import (
    Array,
    History,
    Level,
    Tool,
    begin,
    hours_of,
    lost_tools,
    odds_now,
    three,
    use_tools,
)
from econ.job import RunOdds

MERGED: History = ("...",)  # the history of those that are not kept apart


@dataclass(frozen=True)
class Links:
    """Which history of the next level each child of this level became."""

    parent: NDArray[np.intp]  # (children,): the history of this level that each comes from
    kept: NDArray[np.intp]  # children that are the first histories of the next level
    followed: NDArray[np.intp] | None  # (kinds, n): the child that the last, merged one follows


@dataclass(frozen=True)
class Made:
    """A run made from a level: its number (from 0), odds, hours [h], cost without the one-off
    mobilization [currency], ends and next level."""

    run: int
    odds: RunOdds
    cost: Array
    hours: Array
    ends: Sequence[Ending]  # recovered, string lost, hole lost
    following: Level
    links: Links


@dataclass(frozen=True)
class Step:
    """A level, the bill if fishing stops there, and what one more run leads to."""

    number: int
    level: Level
    stop: Ending
    made: Made | None = None

    @property
    def ends(self) -> Sequence[Ending]:
        """Ends of the run made from here."""
        return () if self.made is None else self.made.ends


def walk(case: Case, choice: Choice | None, *, histories: int) -> Iterator[Step]:
    """Steps 0 to K of the program; the last one has no run.

    histories: how many a level keeps apart at most, the merged one included.
    """
    return _steps(case, choice, histories=histories, outcomes=GOING_ON)


def walk_failures(case: Case, choice: Choice | None) -> Iterator[Step]:
    """Steps 0 to K of the one path on which every run so far ended `nothing`, none sampled."""
    return _steps(case, choice, histories=1, outcomes=GOING_ON[:1])


def _steps(
    case: Case, choice: Choice | None, *, histories: int, outcomes: Sequence[str]
) -> Iterator[Step]:
    level = begin(case)
    for number, run in enumerate(case.program):
        made = make(
            case, choice, level, run, first=number == 0, histories=histories, outcomes=outcomes
        )
        yield Step(number, level, stop(case, choice, level), made)
        level = made.following
    yield Step(len(case.program), level, stop(case, choice, level))


def make(
    case: Case,
    choice: Choice | None,
    level: Level,
    run: int,
    *,
    first: bool,
    histories: int,
    outcomes: Sequence[str] = GOING_ON,
) -> Made:
    """Run number `run` (from 0) made from a level.

    first: nothing was made before it; outcomes: those that go on and are followed.
    """
    about = case.runs[run]
    odds = odds_now(case, run, damaged=level.damaged, days=level.days + case.elapsed)
    hours = hours_of(case, level, run)
    tools, rented = use_tools(case, level, run, hours)
    charge = three(about.charge)
    spent = level.spent.after(
        hours=hours,
        charges=charge,
        rentals=rented,
        mobilization=three(case.mobilization) if first and not case.logged else nothing(),
    )
    string = about.string_value + lost_tools(case, run)
    bill_from = partial(bill_of, case, choice)
    ends = (
        Ending(level.weight * odds.recovered, spent, recovery=three(case.recovery_cost)),
        Ending(
            level.weight * odds.string_lost,
            spent,
            place=with_string(case, level.top, run, string=string),
            bill_from=bill_from,
        ),
        Ending(
            level.weight * odds.hole_lost,
            spent,
            place=with_hole_lost(case, string=string),
            bill_from=bill_from,
        ),
    )
    following, links = _go_on(case, run, level, odds, histories, outcomes)

    def by(values: Array) -> Array:
        return _inherited(values, links)

    following = replace(
        following,
        spent=spent.inherited(by),
        tools=[
            Tool(None if tool.called is None else by(tool.called), by(tool.worked))
            for tool in tools
        ],
    )
    cost = hours / 24.0 * (spent.spread + spent.fishing_day) + charge + rented
    return Made(run, odds, cost, hours, ends, following, links)


def stop(case: Case, choice: Choice | None, level: Level) -> Ending:
    """Fishing ends at a level: the fallback, or what is left to do if a log ended the job."""
    if case.ended == "recovered":
        return Ending(level.weight, level.spent, recovery=three(case.recovery_cost))
    place = Place(level.top, level.top)
    if case.ended is not None:
        event = case.logged[-1]
        string = case.runs[event.run].string_value + lost_tools(case, event.run)
        upper = None if event.top is None else np.full((1, 1, 1), event.top)
        place = (
            with_hole_lost(case, string=string)
            if case.ended == "hole_lost"
            else with_string(case, level.top, event.run, string=string, upper=upper)
        )
    return Ending(level.weight, level.spent, place=place, bill_from=partial(bill_of, case, choice))


def with_string(
    case: Case, top: Array, run: int, *, string: Array, upper: Array | None = None
) -> Place:
    """Where a fallback begins with the string of run `run` in the hole over a fish with its top
    at `top` [ft]; string: what it costs; upper: its own top, where that is known."""
    if upper is None:
        upper = np.maximum(top - case.runs[run].string_length, 0.0)
    return Place(upper, top, string, "string")


def with_hole_lost(case: Case, *, string: Array) -> Place:
    """Where a fallback begins once the hole is lost, with the whole fish owed; string: what the
    string in the hole is worth [currency]."""
    whole = np.full((1, 1, 1), case.fish.top)
    return Place(whole, whole, case.hole_lost_string_share * string, "hole")


def _go_on(
    case: Case, number: int, level: Level, odds: RunOdds, histories: int, followed: Sequence[str]
) -> tuple[Level, Links]:
    """The next level, but for what is spent and its tools, and where each child went."""
    run = case.runs[number]
    outcomes = [name for name in run.followed if name in followed]
    count = len(level.histories)
    weights, tops, damage, names = [], [], [], []
    for outcome in outcomes:
        weights.append(level.weight * getattr(odds, outcome))
        tops.append(
            case.fish.top_after_part(level.top, part_length=run.part_length)
            if outcome == "part"
            else level.top
        )
        spoilt = np.ones_like(level.damaged) if outcome == "top_damaged" else level.damaged
        damage.append(spoilt & (outcome == "top_damaged" or not run.dresses_top))
        names += [(*history, outcome) for history in level.histories]
    parent = np.tile(np.arange(count), len(outcomes))
    weight, top, damaged = _stack(weights), _stack(tops), _stack(damage)
    kept, rest = _apart(weight, names, histories)
    links = Links(parent, kept, None)
    following = Level(
        [names[child] for child in kept],
        weight[:, kept],
        top[:, kept],
        damaged[:, kept],
        level.spent,
    )
    if not rest.size:
        return following, links
    uniform = case.uniforms[outcome_column(number)]
    if kept.size:
        weight, top, damaged = weight[:, rest], top[:, rest], damaged[:, rest]
    upto = weight.copy()
    for child in range(1, rest.size):  # a cumulative sum; numpy's own is slow off the last axis
        upto[:, child] += upto[:, child - 1]
    total = upto[:, -1:]
    picked = np.minimum((upto <= uniform * total).sum(axis=1, keepdims=True), rest.size - 1)
    merged = Level(
        [MERGED],
        np.broadcast_to(total, picked.shape),
        _picked(top, picked),
        _picked(damaged, picked),
        level.spent,
    )
    links = replace(links, followed=rest[picked[:, 0]])
    return _joined(following, merged) if kept.size else merged, links


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


def _joined(kept: Level, merged: Level) -> Level:
    return Level(
        [*kept.histories, *merged.histories],
        _stack([kept.weight, merged.weight]),
        _stack([kept.top, merged.top]),
        _stack([kept.damaged, merged.damaged]),
        kept.spent,
    )


def _inherited(values: Array, links: Links) -> Array:
    """Values of this level's histories as the histories of the next level have them."""
    if values.shape[1] == 1:  # one parent: its children share them
        count = links.kept.size + (links.followed is not None)
        return np.broadcast_to(values, (values.shape[0], count, values.shape[2]))
    kept = values[:, links.parent[links.kept]]
    if links.followed is None:
        return kept
    merged = _picked(values, links.parent[links.followed][:, None, :])
    return np.asarray(_stack([kept, merged]))
