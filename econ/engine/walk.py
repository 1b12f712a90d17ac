"""The walk of a block of draws through the run program, by weights.

A level is the state before a run: histories of outcomes that the crew can tell apart,
each an array over kinds of fish and draws, shape (kinds, histories, n or 1). With

    W     weight: prior of the kind x chance that the job is still fishing this way
    p_o   odds of outcome o for this kind, draw and history

a run sends W p_recovered, W p_string_lost and W p_hole_lost to ends, in expectation, and
the rest to the next level by W p_part, W p_nothing and W p_top_damaged. No coin is flipped
for an end. Every level can hold only so many histories: the most likely are kept apart,
the rest are merged into one, which follows in each draw one of them, picked by its weight
with that draw's uniform, and carries the sum of their weights. With room for a single
history this is the plain sampled path; with room for all it is the full tree.

The belief that the fish is workable is W of that kind over the sum: no other formula.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from econ.engine.case import Case, outcome_column
from econ.engine.choice import Choice, bill_after_hole_lost, bill_at
from econ.job import Bill, RunOdds, with_damaged_top, with_elapsed_time

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
History = tuple[str, ...]
GOING_ON = ("nothing", "part", "top_damaged")  # all-`nothing` so stays the first history
MERGED: History = ("...",)  # the history of those that are not kept apart


@dataclass(frozen=True)
class Level:
    """State before a run; arrays of shape (kinds, histories, n or 1)."""

    histories: Sequence[History]
    weight: Array
    top: Array  # fish top [ft]
    damaged: Flags
    days: Array  # elapsed [d]
    cost: Array  # so far, without any fallback [currency]


@dataclass(frozen=True)
class Ending:
    """Ends of one sort: their weight, the cost of fishing until then, the fallback's bill."""

    weight: Array
    fishing: Array
    bill: Bill | None = None


@dataclass(frozen=True)
class Links:
    """Which history of the next level each child of this level became."""

    parent: NDArray[np.intp]  # (children,): the history of this level that each comes from
    kept: NDArray[np.intp]  # children that are the first histories of the next level
    followed: NDArray[np.intp] | None  # (kinds, n): the child that the last, merged one follows


@dataclass(frozen=True)
class Step:
    """A level, the bill if fishing stops there, and what one more run leads to."""

    number: int
    level: Level
    stop: Ending
    odds: RunOdds | None = None
    run_cost: Array | None = None
    hours: Array | None = None
    ends: Sequence[Ending] = ()  # recovered, string lost, hole lost
    links: Links | None = None


def walk(case: Case, choice: Choice | None, *, histories: int) -> Iterator[Step]:
    """Steps 0 to K of the program; the last one has no run.

    histories: how many a level keeps apart at most, the merged one included.
    """
    level = Level(
        histories=[()],
        weight=case.prior,
        top=np.full((1, 1, 1), case.fish.top),
        damaged=np.zeros((1, 1, 1), dtype=bool),
        days=_three(case.common_days),
        cost=_three(case.common_cost),
    )
    hole_lost = bill_after_hole_lost(case, choice)
    for number, run in enumerate(case.runs):
        stop = _stop(case, choice, level)
        odds = _odds_now(case, number, level)
        hours = run.times.hours(level.top, case.speeds)
        run_cost = case.hours_cost(hours) + run.charge
        cost = level.cost + run_cost + (case.mobilization if number == 0 else 0.0)
        string_lost = bill_at(
            case, choice, top=np.maximum(level.top - run.string_length, 0.0), pieces_top=level.top
        ).plus(run.string_value)
        ends = (
            Ending(level.weight * odds.recovered, cost + case.recovery_cost),
            Ending(level.weight * odds.string_lost, cost, string_lost),
            Ending(
                level.weight * odds.hole_lost,
                cost,
                hole_lost.plus(case.hole_lost_string_share * run.string_value),
            ),
        )
        following, links = _go_on(case, number, level, odds, histories)
        yield Step(number, level, stop, odds, run_cost, hours, ends, links)
        level = replace(
            following,
            days=_inherited(level.days + hours / 24.0, links),
            cost=_inherited(cost, links),
        )
    yield Step(len(case.runs), level, _stop(case, choice, level))


def _three(values: Array) -> Array:
    """A scalar or (n,) array as (1, 1, n or 1)."""
    return np.reshape(values, (1, 1, -1))


def _stop(case: Case, choice: Choice | None, level: Level) -> Ending:
    bill = bill_at(case, choice, top=level.top, pieces_top=level.top)
    return Ending(level.weight, level.cost, bill)


def _odds_now(case: Case, number: int, level: Level) -> RunOdds:
    run = case.runs[number]
    odds = run.odds
    if case.odds_ratio_per_day is not None:
        odds = with_elapsed_time(odds, ratio_per_day=case.odds_ratio_per_day, days=level.days)
    if not run.dresses_top and level.damaged.any():
        odds = with_damaged_top(odds, factor=case.damaged_top_factor, damaged=level.damaged)
    return odds


def _go_on(
    case: Case, number: int, level: Level, odds: RunOdds, histories: int
) -> tuple[Level, Links]:
    """The next level, but for its days and cost, and where each child went."""
    run = case.runs[number]
    outcomes = [name for name in GOING_ON if name == "nothing" or np.any(getattr(odds, name) > 0)]
    count = len(level.histories)
    weights, tops, damage, names = [], [], [], []
    for outcome in outcomes:
        weights.append(level.weight * getattr(odds, outcome))
        moved = outcome == "part"
        lower = case.fish.top_after_part(level.top, part_length=run.part_length)
        tops.append(lower if moved else level.top)
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
        level.days,
        level.cost,
    )
    if not rest.size:
        return following, links
    uniform = case.uniforms[outcome_column(number)]
    upto = np.cumsum(weight[:, rest], axis=1)
    total = upto[:, -1:]
    picked = np.minimum((upto <= uniform * total).sum(axis=1, keepdims=True), rest.size - 1)
    merged = Level(
        [MERGED],
        np.broadcast_to(total, picked.shape),
        _picked(top[:, rest], picked),
        _picked(damaged[:, rest], picked),
        level.days,
        level.cost,
    )
    links = replace(links, followed=rest[picked[:, 0]])
    return _joined(following, merged), links


def _stack(arrays: Sequence[NDArray[np.generic]]) -> NDArray:  # type: ignore[type-arg]
    """Arrays of (kinds or 1, histories, n or 1) one after another on the axis of histories."""
    kinds = max(array.shape[0] for array in arrays)
    draws = max(array.shape[2] for array in arrays)
    return np.concatenate(
        [np.broadcast_to(array, (kinds, array.shape[1], draws)) for array in arrays], axis=1
    )


def _apart(
    weight: Array, names: Sequence[History], histories: int
) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Children kept apart, in their order, and those merged; all-`nothing` is kept first."""
    everyone = np.arange(len(names))
    if len(names) <= histories:
        return everyone, everyone[:0]
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
        kept.days,
        kept.cost,
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
