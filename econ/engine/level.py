"""The state before a run, where a job begins, and what a run does to the clock and the tools.

A level is the state before a run: histories of outcomes that the crew can tell apart, each
an array over kinds of fish and draws, shape (kinds, histories, n or 1). With

    W     weight: prior of the kind x chance that the job is still fishing this way
    p_o   odds of outcome o for this kind, draw and history

Runs that are logged are conditioned on: each multiplies W by the odds of what happened, and
W is then scaled to a mean of 1 over the draws, or by the scale of the case where several blocks
of draws have to share one. So the belief after a log is that of the path it tells of, and draws
of uncertain odds that made it likelier count for more. A run that was stopped half way is no
evidence and leaves W as it was.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from econ.engine.case import ENDS, Case, Happened, stretched
from econ.engine.ledger import Spent
from econ.engine.marks import ATTACHED, DAMAGED, Bits, Flags, Signs, bits_of
from econ.job import RunOdds, with_damaged_top, with_growing_losses, with_recovery_ratio
from econ.scenario.faults import Fault, ScenarioError

Array = NDArray[np.float64]
History = tuple[str, ...]
OWN_JOB = ("part", "prepared")  # outcomes of a run that did what it is for


@dataclass(frozen=True)
class Tool:
    """A rented tool at work: when it was called out [d from now, before now with a log], nan
    where it was not and None where it was nowhere, and days in use since now [d]."""

    called: Array | None
    worked: Array

    @classmethod
    def inherited(cls, sources: Sequence[Tool], by: Callable[[Sequence[Array]], Array]) -> Tool:
        """The tool of the histories of the next level, each after one of several runs; `by` makes
        their values of those after each run."""
        called = None
        if any(tool.called is not None for tool in sources):
            never = np.full((1, 1, 1), np.nan)
            called = by([never if tool.called is None else tool.called for tool in sources])
        return cls(called, by([tool.worked for tool in sources]))


@dataclass(frozen=True)
class Level:
    """State before a run; arrays of shape (kinds, histories, n or 1).

    marks: bits of those that hold, without the damage; made: bits of the runs made.
    """

    histories: Sequence[History]
    weight: Array
    top: Array  # fish top [ft]
    damaged: Flags
    marks: Bits
    made: Bits
    spent: Spent  # from now, without any fallback, with what rentals owe if it ends here
    tools: Sequence[Tool] = ()  # one a contract

    @property
    def signs(self) -> Signs:
        """What conditions are held against."""
        return Signs(np.where(self.damaged, self.marks | DAMAGED, self.marks), self.made)

    @property
    def attached(self) -> Flags:
        """Where the stuck string is whole to surface."""
        return np.asarray((self.marks & ATTACHED) != 0)

    @property
    def days(self) -> Array:
        """Elapsed time from now [d]."""
        return self.spent.days

    @property
    def cost(self) -> Array:
        """What fishing has cost from now on [currency]."""
        return self.spent.total


def begin(case: Case) -> Level:
    """The state now: at the decision, or after the runs that are logged."""
    none = np.zeros((1, 1, 1))
    level = _decision(case)
    for event in case.logged:
        level = _happened(case, level, event)
    if case.logged:
        scale = likelihood(level.weight) if case.log_scale is None else case.log_scale
        level = replace(level, weight=level.weight / scale)
    owed: Array = none  # for the tools on contract already, on every branch
    for contract in case.contracts:
        if contract.called is not None:
            owed = owed + contract.time_charge(days=level.days, worked=none)
    return replace(level, spent=replace(level.spent, rentals=owed))


def before_each(case: Case) -> Iterator[tuple[Happened, Level]]:
    """Every run that is logged with the state before it, its weights not scaled."""
    level = _decision(case)
    for event in case.logged:
        yield event, level
        level = _happened(case, level, event)


def _decision(case: Case) -> Level:
    """The state at the decision, with the clock and the tools of now."""
    none = np.zeros((1, 1, 1))
    return Level(
        [()],
        case.prior,
        np.full((1, 1, 1), case.fish.top),
        np.full((1, 1, 1), bool(case.marks & DAMAGED)),
        np.full((1, 1, 1), case.marks & ~DAMAGED),
        np.zeros((1, 1, 1), dtype=np.int64),
        Spent(
            start=three(case.common_days),
            common=three(case.common_cost),
            spread=three(case.spread),
            fishing_day=three(case.fishing_day),
        ),
        [
            Tool(None if contract.called is None else np.full((1, 1, 1), contract.called), none)
            for contract in case.contracts
        ],
    )


def _happened(case: Case, level: Level, event: Happened) -> Level:
    """The state after a run that is logged, but for the time and the money it took."""
    run = case.runs[event.run]
    top = level.top
    if event.top is not None and event.outcome not in ENDS:
        top = np.full((1, 1, 1), event.top)
    elif event.outcome == "part":
        top = case.fish.top_after_part(top, part_length=run.part_length)
    damaged, marks = level.damaged, level.marks
    if event.finished:
        damaged = damaged & (not run.dresses_top) | (event.outcome == "top_damaged")
        marks = marks_after(case, event.run, marks, event.outcome)
    for word, holds in event.marks:
        bit, _ = bits_of([word], case.words)
        if bit == DAMAGED:
            damaged = np.full((1, 1, 1), holds)
        else:
            marks = marks | bit if holds else marks & ~bit
    after = replace(level, top=top, damaged=damaged, marks=marks)
    if not event.finished:
        return after
    odds = odds_now(case, event.run, level, days=np.asarray(event.start))
    return replace(
        after,
        weight=renewed(case, event.run, level.weight * getattr(odds, event.outcome), event.outcome),
        made=level.made | (1 << _use(case, level, event.run)),
    )


def renewed(case: Case, run: int, weight: Array, outcome: str) -> Array:
    """Weights by kind of fish once run `run` ended in an outcome: a doubt that it renews holds
    afresh."""
    if outcome not in OWN_JOB:
        return weight
    for doubt, chance in case.runs[run].renews:
        kinds = np.arange(len(weight))
        against = (kinds >> doubt & 1) == 1
        both = weight + weight[kinds ^ (1 << doubt)]
        weight = both * np.where(against[:, None, None], 1.0 - three(chance), three(chance))
    return weight


def _use(case: Case, level: Level, run: int) -> int:
    """Which use of a run comes next."""
    made, number = int(level.made.ravel()[0]), case.runs[run].number
    uses = [use for use, about in enumerate(case.runs) if about.number == number]
    return next((use for use in uses if not made >> use & 1), run)


def marks_after(case: Case, run: int, marks: Bits, outcome: str) -> Bits:
    """The marks that hold once run `run` ended in an outcome, without the damage."""
    if outcome in OWN_JOB:
        return (marks & ~case.runs[run].takes) | case.runs[run].gives
    if outcome in ("string_lost", "hole_lost"):
        return marks & ~ATTACHED
    return marks


def likelihood(weight: Array) -> float:
    """Mean weight over the draws of what a log tells. Raises ScenarioError where it is none."""
    total = float(weight.sum(axis=0).mean())
    if not total > 0:
        raise ScenarioError(
            [
                Fault(
                    "a log that none of the draws can have given",
                    "outcomes that the odds of the file make possible in some draws",
                    "raise n under [draws], or give a run its odds as they were seen",
                )
            ]
        )
    return total


def three(values: Array) -> Array:
    """A scalar or (n,) array as (1, 1, n or 1)."""
    return np.reshape(values, (1, 1, -1))


def odds_now(case: Case, run: int, level: Level, *, days: Array) -> RunOdds:
    """Odds of run `run` in a state, `days` [d] after the decision."""
    about = case.runs[run]
    odds = about.odds
    if case.loss_odds_ratio_per_day is not None:
        odds = with_growing_losses(odds, ratio_per_day=case.loss_odds_ratio_per_day, days=days)
    log_ratio: Array | None = None
    if case.odds_ratio_per_day is not None:
        log_ratio = days * np.log(case.odds_ratio_per_day)
    for condition, ratio in about.ratios:
        more = np.where(condition.holds(level.signs), np.log(ratio), 0.0)
        log_ratio = more if log_ratio is None else log_ratio + more
    if log_ratio is not None:
        odds = with_recovery_ratio(odds, log_ratio=log_ratio)
    if not about.dresses_top and level.damaged.any():
        odds = with_damaged_top(odds, factor=case.damaged_top_factor, damaged=level.damaged)
    return odds


def hours_of(case: Case, level: Level, run: int) -> Array:
    """Hours [h] of run `run` on the clock, the wait for its tools included."""
    made = case.runs[run]
    hours = stretched(made.times.hours(level.top, case.speeds), case.stretch)
    due: Array | None = None  # hours until the last of its tools has arrived
    for contract, tool in zip(case.contracts, level.tools, strict=True):
        if run in contract.serves and contract.delivery > 0:
            called = _called(case, level, run, tool, contract.call_out)
            until = (called - level.days) * 24.0 + contract.delivery
            due = until if due is None else np.maximum(due, until)
    if due is None:
        return hours
    return np.asarray(hours + np.maximum(due - stretched(made.wait, case.stretch), 0.0))


def use_tools(
    case: Case, level: Level, run: int, hours: Array
) -> tuple[Sequence[Tool], Array | float]:
    """The tools after run `run` of `hours` [h], and what the contracts' bill grows by."""
    tools: list[Tool] = []
    more: Array | float = 0.0
    washed = case.runs[run].wash_length
    end = level.days + hours / 24.0
    for contract, tool in zip(case.contracts, level.tools, strict=True):
        more = more + contract.charges(run, washed=washed)
        calls = contract.called_by(run)
        if tool.called is None and not calls:
            tools.append(tool)
            continue
        called = _called(case, level, run, tool, contract.call_out) if calls else tool.called
        assert called is not None
        begun = np.maximum(called, 0.0)  # what was owed before now is spent
        worked = tool.worked + hours / 24.0 if run in contract.serves else tool.worked
        after = contract.time_charge(days=end - begun, worked=worked)
        if tool.called is None:
            before: Array = -contract.mobilization
        else:
            before = contract.time_charge(days=level.days - begun, worked=tool.worked)
            if (new := np.isnan(tool.called)).any():
                before = np.where(new, -contract.mobilization, before)
                after = np.where(np.isnan(called), -contract.mobilization, after)
        more = more + after - before
        tools.append(Tool(called, worked))
    return tools, more


def lost_tools(case: Case, run: int) -> Array:
    """Replacement [currency] of the rented tools in the hole with run `run`."""
    lost: Array = np.zeros(())
    for contract in case.contracts:
        if run in contract.serves:
            lost = lost + contract.replacement
    return lost


def _called(case: Case, level: Level, run: int, tool: Tool, call_out: int | None) -> Array:
    """When a tool was or, at the latest now for run `run`, is called out [d from now]."""
    now = np.zeros((1, 1, 1)) if call_out == -1 else level.days
    return now if tool.called is None else np.where(np.isnan(tool.called), now, tool.called)
