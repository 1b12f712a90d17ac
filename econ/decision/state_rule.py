"""The rule by state: after each outcome, go on or stop, by backward induction.

A state is a history of outcomes, because fish top, condition of the top and belief follow
from it and from nothing less. Over the weighted values of the walk, with S(h) the cost of
stopping in state h, E(h) the cost of the ends of the next run and V of the states after it,

    G(h) = E(h) + sum of V(children of h)
    V(h) = G(h) if mean G(h) < mean S(h) or the least number of runs is not made, else S(h)

where the mean is over the draws and both kinds of fish: the rule sees the state, never
what a draw knows. Where the histories are too many, those past the likeliest are one
state (see `econ.engine.walk`); a rule that cannot tell them apart may cost a little more
than the best, never less, and `merged_share` tells how much of the chance is in them. The
rule can do all that a limit by runs can, so on the same draws it is never dearer.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from econ.engine.case import Case
from econ.engine.choice import Choice
from econ.engine.inputs import Inputs
from econ.engine.walk import MERGED, History, Links, walk
from econ.job import Bill

Array = NDArray[np.float64]
ELEMENTS = 2**16  # of an array over kinds, histories and draws
WORTH_LISTING = 0.002  # chance below which a state is not listed


@dataclass(frozen=True)
class State:
    """What the crew knows before a run, how likely it is to get there, and what to do."""

    history: History
    chance: float
    workable: float
    fish_top: float
    top_damaged: bool
    go: bool


@dataclass(frozen=True)
class StateRule:
    """The rule; gain [currency] over the best limit by runs, on the same draws."""

    gain: float
    gain_error: float
    merged_share: float
    states: tuple[State, ...]


@dataclass(frozen=True)
class _Level:
    histories: Sequence[History]
    stop: Array  # S, weighted, shape (kinds, histories, n)
    ends: Array  # E, weighted
    weight: Array
    top: Array
    damaged: NDArray[np.bool_]
    links: Links | None


def state_rule(inputs: Inputs, case: Case, choice: Choice | None, *, limit: int) -> StateRule:
    """The best rule by state, set against the limit of `limit` runs.

    case: draws of all scrambles one after another, the same number of each.
    """
    room = ELEMENTS // (len(case.prior) * case.n)
    if not inputs.uncertain and 3 ** len(case.runs) * len(case.prior) <= ELEMENTS:
        room = ELEMENTS
    levels = [
        _Level(
            step.level.histories,
            step.level.weight * (step.level.cost + _bill(step.stop.bill)),
            np.asarray(sum(e.weight * (e.fishing + _bill(e.bill)) for e in step.ends)),
            step.level.weight,
            step.level.top,
            step.level.damaged,
            step.links,
        )
        for step in walk(case, choice, histories=max(room, 2))
    ]
    minimum = inputs.scenario.minimum_runs
    best, goes = _value(levels, lambda k, go, stop: go < stop or k < minimum)
    fixed, _ = _value(levels, lambda k, go, stop: k < limit)
    shape = np.broadcast_shapes(best.shape, fixed.shape)
    gain = np.broadcast_to(fixed - best, shape).sum(axis=(0, 1))
    groups = gain.reshape(inputs.sampler.scrambles, -1).mean(axis=1) if gain.size > 1 else gain
    error = float(groups.std(ddof=1) / np.sqrt(groups.size)) if groups.size > 1 else 0.0
    merged = sum(_mean(level.weight[:, -1:]) for level in levels[:-1] if MERGED in level.histories)
    return StateRule(float(gain.mean()), error, float(merged), _states(levels, goes))


def _bill(bill: Bill | None) -> Array:
    return np.zeros(()) if bill is None else bill.mean()


def _mean(values: Array) -> float:
    """Expectation of a weighted quantity of one history."""
    return float(values.sum(axis=0).mean())


def _value(
    levels: Sequence[_Level], rule: Callable[[int, float, float], bool]
) -> tuple[Array, list[list[bool]]]:
    """Value of the first level under a rule, and where the rule goes on."""
    value = levels[-1].stop
    goes: list[list[bool]] = [[] for _ in levels]
    for k in range(len(levels) - 2, -1, -1):
        level = levels[k]
        go_on = level.ends + _of_children(level, value)
        choose = [
            rule(k, _mean(go_on[:, h : h + 1]), _mean(level.stop[:, h : h + 1]))
            for h in range(len(level.histories))
        ]
        goes[k] = choose
        value = np.where(np.array(choose)[:, None], go_on, level.stop)
    return value, goes


def _of_children(level: _Level, value: Array) -> Array:
    """What the next level's values come to for each history of this one."""
    links = level.links
    assert links is not None
    count = links.kept.size
    children = np.zeros((value.shape[0], links.parent.size, value.shape[2]))
    children[:, links.kept] = value[:, :count]
    if links.followed is not None:
        # In each draw the merged history followed one child: what it cost belongs to that one.
        np.put_along_axis(children, links.followed[:, None, :], value[:, count:], axis=1)
    histories = len(level.histories)
    by_outcome = children.reshape(value.shape[0], -1, histories, value.shape[2])
    return np.asarray(by_outcome.sum(axis=1))


def _states(levels: Sequence[_Level], goes: Sequence[Sequence[bool]]) -> tuple[State, ...]:
    """The states that the rule reaches, likeliest first within each run."""
    found: list[State] = []
    reached: dict[History, bool] = {(): True}
    for level, going in zip(levels[:-1], goes[:-1], strict=True):
        rows = []
        for h, history in enumerate(level.histories):
            parent = history[:-1] if history and history != MERGED else ()
            if history and history != MERGED and not reached.get(parent, True):
                reached[history] = False
                continue
            reached[history] = going[h]
            weight = level.weight[:, h : h + 1]
            chance = _mean(weight)
            if chance < WORTH_LISTING and history:
                continue
            top = np.broadcast_to(level.top, level.weight.shape)[:, h : h + 1]
            rows.append(
                State(
                    history=history,
                    chance=chance,
                    workable=float(weight[0].mean()) / chance,
                    fish_top=_mean(weight * top) / chance,
                    top_damaged=bool(
                        np.broadcast_to(level.damaged, level.weight.shape)[:, h].all()
                    ),
                    go=going[h],
                )
            )
        found += sorted(rows, key=lambda state: -state.chance)
    return tuple(found)
