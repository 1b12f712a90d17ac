"""The rule by state: after each outcome, go on or stop, by backward induction.

A state is a history of outcomes, because fish top, condition of the top and belief follow
from it and from nothing less. Over the weighted values of the walk, with S(h) the cost of
stopping in state h, E(h) the cost of the ends of the next run and V of the states after it,

    G(h) = E(h) + sum of V(children of h)
    V(h) = G(h) if mean G(h) < mean S(h) or the least number of runs is not made, else S(h)

where the mean is over the draws and both kinds of fish: the rule sees the state, never
what a draw knows. The rule is chosen on one half of the scrambles and valued on the other,
and the other way round, because on the draws it was chosen on it would look better than it
is. A gain that is not beyond its error is none, and the limit is kept: so the rule is never
dearer than the limit. Where the histories are too many, those past the likeliest are one
state (see `econ.engine.walk`): a rule that cannot tell them apart gains less than the best
could, and `merged_share` is the largest chance that a level has in them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from econ.decision.estimates import Estimate, estimate
from econ.engine.case import Case
from econ.engine.choice import Choice
from econ.engine.inputs import Inputs
from econ.engine.level import History
from econ.engine.walk import MERGED, Links, Step, walk
from econ.scenario.framed import Framed

Array = NDArray[np.float64]
Goes = Sequence[Sequence[bool]]  # by level and history: whether to go on
ELEMENTS = 2**18  # of an array over kinds, histories and draws
ALL_ELEMENTS = 2**21  # of all levels together
WORTH_LISTING = 0.002  # chance below which a state is not listed


@dataclass(frozen=True, repr=False)
class State(Framed):
    """What the crew knows before a run, how likely it is to get there, and what to do.

    runs: made until then; history: their outcomes; workable: belief; fish_top [ft]; go: whether to
    go on, with the run number `run` (from 0), None where that is not one and the same.
    """

    runs: int
    history: History
    chance: float
    workable: float
    fish_top: float
    top_damaged: bool
    go: bool
    run: int | None


@dataclass(frozen=True, repr=False)
class StateRule(Framed):
    """The rule; gain [currency] over the best limit by runs, on the same draws. states: those that
    it reaches and that a run follows, rare ones left out; after_next: all states after the next
    run, also where the list ends with it."""

    gain: float
    gain_error: float
    merged_share: float
    states: tuple[State, ...]
    after_next: tuple[State, ...]

    def _rows(self) -> Sequence[State]:
        return self.states

    @property
    def begins(self) -> bool:
        """Whether the rule makes the next run."""
        return any(state.go and not state.history for state in self.states)


@dataclass(frozen=True)
class RuleLevel:
    """A level of the walk, weighted, as a rule needs it. runs: number of the run (from 0) that is
    next in each history, None where there is none, or not one."""

    histories: Sequence[History]
    stop: Array  # S, weighted, shape (kinds, histories, n)
    ends: Array  # E, weighted
    weight: Array
    top: Array
    damaged: NDArray[np.bool_]
    links: Links | None
    runs: Sequence[int | None]


def state_rule(
    levels: Sequence[RuleLevel], *, minimum: int, scrambles: int, limit: int
) -> StateRule:
    """The best rule by state, set against the limit of `limit` runs."""
    goes, _ = _best(levels, minimum, slice(None))
    fixed = _value(levels, [[k < limit] * len(level.histories) for k, level in enumerate(levels)])
    by_scramble = []
    for judged, valued in _halves(levels, scrambles):
        _, best = _best(levels, minimum, judged)
        shape = np.broadcast_shapes(best.shape, fixed.shape)
        saved = np.broadcast_to(fixed - best, shape)
        by_scramble.append(_by_scramble(saved, scrambles)[valued])
    gains = np.concatenate(by_scramble)
    gain = estimate(gains) if gains.size > 2 else Estimate(float(gains.mean()), 0.0)
    mean, error = gain.value, gain.error
    if mean <= 0 or not gain.resolved(_total(fixed)):
        # Not told apart from the limit, which is a rule by state too: that one is kept.
        goes = [[k < limit] * len(level.histories) for k, level in enumerate(levels)]
        mean, error = 0.0, 0.0
    merged = max(
        float(_means(level.weight, slice(None))[-1]) if MERGED in level.histories else 0.0
        for level in levels
    )
    return StateRule(mean, error, merged, _states(levels, goes), _after_next(levels, goes))


def rule_levels(inputs: Inputs, case: Case, choice: Choice | None) -> list[RuleLevel]:
    """The weighted values that a rule is made from.

    case: draws of all scrambles one after another, the same number of each.
    """
    room = min(ELEMENTS, ALL_ELEMENTS // max(len(case.program), 1)) // len(case.prior)
    if inputs.uncertain or 3 ** len(case.program) > room:
        room //= case.n  # else every history is one number a kind, the same for all draws
    return [
        RuleLevel(
            step.level.histories,
            step.stop.weight * step.stop.cost,
            np.asarray(sum(ending.weight * ending.cost for ending in step.ends)),
            step.level.weight,
            step.level.top,
            step.level.damaged,
            step.links,
            _next_runs(step),
        )
        for step in walk(case, choice, histories=max(room, 2))
    ]


def _next_runs(step: Step) -> list[int | None]:
    """The run that is made next in each history of a level, see `RuleLevel`."""
    found: list[set[int]] = [set() for _ in step.level.histories]
    for made in step.made:
        possible = (made.weight > 0).any(axis=(0, 2))
        for runs, may in zip(found, np.broadcast_to(possible, len(found)), strict=True):
            if may:
                runs.add(made.run)
    return [runs.pop() if len(runs) == 1 else None for runs in found]


def value_by_scramble(
    levels: Sequence[RuleLevel], *, minimum: int, scrambles: int, factors: Array
) -> Array:
    """Expected cost of the best rule [currency], shape (scrambles,) or (1,) where exact.

    factors: by which the weight of each kind of fish is multiplied, shape (kinds,): the chance
    of a reading in that kind. In each half of the scrambles the rule is chosen on the other.
    """
    f = factors[:, None, None]
    weighed = [replace(level, stop=f * level.stop, ends=f * level.ends) for level in levels]
    found = np.empty(0)
    for judged, valued in _halves(weighed, scrambles):
        _, best = _best(weighed, minimum, judged)
        found = np.concatenate([_by_scramble(best, scrambles)[valued], found])
    return found


def _by_scramble(values: Array, scrambles: int) -> Array:
    """Mean over the draws of each scramble; a single one where all draws are alike."""
    together: Array = values.sum(axis=(0, 1))
    return together if together.size == 1 else together.reshape(scrambles, -1).mean(axis=1)


def _halves(levels: Sequence[RuleLevel], scrambles: int) -> list[tuple[slice, slice]]:
    """Draws that the rule is chosen on, and scrambles it is valued on: each half in turn.

    A rule valued on the draws it was chosen on looks better than it is.
    """
    draws = max(level.stop.shape[2] for level in levels)
    if draws == 1:
        return [(slice(None), slice(None))]
    half, middle = scrambles // 2, draws // scrambles * (scrambles // 2)
    return [(slice(0, middle), slice(half, None)), (slice(middle, None), slice(0, half))]


def _means(values: Array, draws: slice) -> Array:
    """Expectation of a weighted quantity in each history, over some of the draws."""
    each = values.sum(axis=0)
    return np.asarray((each if each.shape[-1] == 1 else each[:, draws]).mean(axis=1))


def _total(values: Array) -> float:
    return float(values.sum(axis=(0, 1)).mean())


def _best(levels: Sequence[RuleLevel], minimum: int, draws: slice) -> tuple[Goes, Array]:
    """Where to go on, by backward induction over some of the draws, and the weighted value of
    the first level in every draw under that rule."""
    value = levels[-1].stop
    goes: list[Sequence[bool]] = [[False] * len(levels[-1].histories)]
    for k in range(len(levels) - 2, -1, -1):
        level = levels[k]
        go_on = level.ends + _of_children(level, value)
        better = _means(go_on, draws) < _means(level.stop, draws)
        choose = (better | (k < minimum)).tolist()
        goes.insert(0, choose)
        value = np.where(np.array(choose)[:, None], go_on, level.stop)
    return goes, value


def _value(levels: Sequence[RuleLevel], goes: Goes) -> Array:
    """Weighted value of the first level in each draw, under a rule."""
    value = levels[-1].stop
    for level, choose in zip(levels[-2::-1], goes[-2::-1], strict=True):
        go_on = level.ends + _of_children(level, value)
        value = np.where(np.array(choose)[:, None], go_on, level.stop)
    return value


def _of_children(level: RuleLevel, value: Array) -> Array:
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


def _states(levels: Sequence[RuleLevel], goes: Goes) -> tuple[State, ...]:
    """The states that the rule reaches, likeliest first within each run."""
    found: list[State] = []
    reached: dict[History, bool] = {(): True}
    for runs, (level, going) in enumerate(zip(levels[:-1], goes[:-1], strict=True)):
        rows = []
        if not any(reached.values()):
            break
        here: dict[History, bool] = {}
        chances = _means(level.weight, slice(None))
        for h, history in enumerate(level.histories):
            if history not in ((), MERGED) and not reached.get(history[:-1], reached.get(MERGED)):
                continue
            here[history] = going[h]
            chance = float(chances[h])
            if chance < WORTH_LISTING and history:
                continue
            rows.append(_state(level, h, chance=chance, runs=runs, go=going[h]))
        reached = here
        found += sorted(rows, key=lambda state: -state.chance)
    return tuple(found)


def _after_next(levels: Sequence[RuleLevel], goes: Goes) -> tuple[State, ...]:
    """All states after the next run, likeliest first; none where it is not made."""
    if len(levels) < 2 or not goes[0][0]:
        return ()
    level = levels[1]
    chances = _means(level.weight, slice(None))
    rows = [
        _state(level, h, chance=float(chances[h]), runs=1, go=goes[1][h])
        for h in range(len(level.histories))
    ]
    return tuple(sorted(rows, key=lambda state: -state.chance))


def _state(level: RuleLevel, h: int, *, chance: float, runs: int, go: bool) -> State:
    """The state of history number h of a level."""
    weight, top, damaged = (
        values[:, 0 if values.shape[1] == 1 else h]
        for values in (level.weight, level.top, level.damaged)
    )
    return State(
        runs=runs,
        history=level.histories[h],
        chance=chance,
        workable=float(weight[0].mean()) / chance if chance else 0.0,
        fish_top=float((weight * top).sum(axis=0).mean()) / chance if chance else 0.0,
        top_damaged=bool(damaged.all()),
        go=go,
        run=level.runs[h],
    )
