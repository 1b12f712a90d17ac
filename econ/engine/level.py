"""The state before a run, where a job begins, and what a run does to the clock and the tools.

A level is the state before a run: histories of outcomes that the crew can tell apart, each
an array over kinds of fish and draws, shape (kinds, histories, n or 1). With

    W     weight: prior of the kind x chance that the job is still fishing this way
    p_o   odds of outcome o for this kind, draw and history

Runs that are logged are conditioned on: each multiplies W by the odds of what happened, and
W is then scaled to a mean of 1 over the draws, or by the scale of the case where several blocks
of draws have to share one. So the belief after a log is that of the path it tells of, and draws
of uncertain odds that made it likelier count for more.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from econ.engine.case import ENDS, Case
from econ.engine.ledger import Spent
from econ.job import RunOdds, with_damaged_top, with_elapsed_time, with_growing_losses
from econ.scenario.faults import Fault, ScenarioError

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
History = tuple[str, ...]


@dataclass(frozen=True)
class Tool:
    """A rented tool at work: when it was called out [d from now, before now with a log], and
    days in use since now [d]."""

    called: Array | None  # None: not called yet
    worked: Array


@dataclass(frozen=True)
class Level:
    """State before a run; arrays of shape (kinds, histories, n or 1)."""

    histories: Sequence[History]
    weight: Array
    top: Array  # fish top [ft]
    damaged: Flags
    spent: Spent  # from now, without any fallback, with what rentals owe if it ends here
    tools: Sequence[Tool] = ()  # one a contract

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
    weight = case.prior
    top = np.full((1, 1, 1), case.fish.top)
    damaged = np.zeros((1, 1, 1), dtype=bool)
    for event in case.logged:
        run = case.runs[event.run]
        odds = odds_now(case, event.run, damaged=damaged, days=np.asarray(event.start))
        weight = weight * getattr(odds, event.outcome)
        if event.top is not None and event.outcome not in ENDS:
            top = np.full((1, 1, 1), event.top)
        elif event.outcome == "part":
            top = case.fish.top_after_part(top, part_length=run.part_length)
        damaged = damaged & (not run.dresses_top) | (event.outcome == "top_damaged")
    if case.logged:
        weight = weight / (likelihood(weight) if case.log_scale is None else case.log_scale)
    none = np.zeros((1, 1, 1))
    tools = [
        Tool(None if contract.called is None else np.full((1, 1, 1), contract.called), none)
        for contract in case.contracts
    ]
    spent = Spent(
        start=three(case.common_days),
        common=three(case.common_cost),
        spread=three(case.spread),
        fishing_day=three(case.fishing_day),
    )
    owed: Array = none  # for the tools on contract already, on every branch
    for contract in case.contracts:
        if contract.called is not None:
            owed = owed + contract.time_charge(days=spent.days, worked=none)
    spent = replace(spent, rentals=owed)
    return Level([()], weight, top, damaged, spent, tools)


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


def odds_now(case: Case, run: int, *, damaged: Flags, days: Array) -> RunOdds:
    """Odds of run `run` in a state, `days` [d] after the decision."""
    odds = case.runs[run].odds
    if case.loss_odds_ratio_per_day is not None:
        odds = with_growing_losses(odds, ratio_per_day=case.loss_odds_ratio_per_day, days=days)
    if case.odds_ratio_per_day is not None:
        odds = with_elapsed_time(odds, ratio_per_day=case.odds_ratio_per_day, days=days)
    if not case.runs[run].dresses_top and damaged.any():
        odds = with_damaged_top(odds, factor=case.damaged_top_factor, damaged=damaged)
    return odds


def hours_of(case: Case, level: Level, run: int) -> Array:
    """Hours [h] of run `run`, the wait for its tools included."""
    made = case.runs[run]
    hours = made.times.hours(level.top, case.speeds)
    due: Array | None = None  # hours until the last of its tools has arrived
    for contract, tool in zip(case.contracts, level.tools, strict=True):
        if run in contract.serves and contract.delivery > 0:
            called = _called(case, level, run, tool, contract.call_out)
            until = (called - level.days) * 24.0 + contract.delivery
            due = until if due is None else np.maximum(due, until)
    return hours if due is None else np.asarray(hours + np.maximum(due - made.wait, 0.0))


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
        if tool.called is not None:
            begun = np.maximum(tool.called, 0.0)  # what was owed before now is spent
            before = contract.time_charge(days=level.days - begun, worked=tool.worked)
            called = tool.called
        elif contract.called_by(run):
            before = -contract.mobilization
            called = _called(case, level, run, tool, contract.call_out)
            begun = np.maximum(called, 0.0)
        else:
            tools.append(tool)
            continue
        worked = tool.worked + hours / 24.0 if run in contract.serves else tool.worked
        more = more + contract.time_charge(days=end - begun, worked=worked) - before
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
    if tool.called is not None:
        return tool.called
    return np.zeros((1, 1, 1)) if call_out == -1 else level.days
