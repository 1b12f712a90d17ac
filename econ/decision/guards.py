"""Warnings that need the answer: mistakes that the numbers of a job show.

The list of mistakes is common practice, no source; those that a file shows by itself are
notes on the scenario (`econ.scenario.notes`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import pairwise

from econ.decision.answer import Answer

Guard = Callable[[Answer], Iterator[str]]
GUARDS: list[Guard] = []
LONG_IN_OPEN_HOLE = 4.0  # [d] of fishing after which unchanged odds need a reason; judgement
SAME_ODDS = 0.995  # odds that fall by less of themselves have not fallen


def guard(function: Guard) -> Guard:
    """Register a guard."""
    GUARDS.append(function)
    return function


def guards(answer: Answer) -> list[str]:
    """All warnings on an answer, in ASCII."""
    return [
        text.encode("ascii", "backslashreplace").decode()
        for each in GUARDS
        for text in each(answer)
    ]


@guard
def odds_kept_after_failure(answer: Answer) -> Iterator[str]:
    """Failed runs are evidence: the same kind of run again has lower odds."""
    runs = answer.scenario.run
    for first, second in pairwise(answer.ahead):
        one, two = runs[first.run], runs[second.run]
        again = one.kind == two.kind and not two.dresses_top and answer.scenario.has_kinds
        if again and 0 < first.odds * SAME_ODDS <= second.odds:
            yield (
                f"failure not taken as evidence: run {second.run + 1} has odds {second.odds:.2f} "
                f"after run {first.run + 1} of the same kind failed at {first.odds:.2f}; say what "
                "has changed, or lower them"
            )


@guard
def hole_deteriorates(answer: Answer) -> Iterator[str]:
    """Open hole gets worse with time."""
    fishing = answer.scenario.fishing
    kept = fishing.odds_ratio_per_day == 1.0 and fishing.loss_odds_ratio_per_day == 1.0
    days = answer.by_runs[-1].days
    if kept and days > LONG_IN_OPEN_HOLE:
        yield (
            f"hole deterioration ignored: {days:.1f} days of program at unchanged odds; give "
            "odds_ratio_per_day below 1 and loss_odds_ratio_per_day above 1 under [fishing], or "
            "know why the hole keeps"
        )


@guard
def point_odds(answer: Answer) -> Iterator[str]:
    """Odds stated as if they were known exactly."""
    scenario = answer.scenario
    tables = [table for run in scenario.run for table in run.odds_by_kind()]
    exact = all(table.weight is None for table in tables)
    chances = [doubt.workable for doubt in scenario.doubts] or [scenario.fishing.workable]
    if tables and exact and all(isinstance(chance, float | int) for chance in chances):
        least = answer.information.least_workable
        threshold = "" if least is None else f"; one run pays from {least:.2f} on"
        stated = ""
        if len(scenario.doubts) == 1:
            belief = answer.after.workable if answer.after else scenario.doubts[0].workable
            stated = f" The chance of a workable fish is put at {belief:.2f}{threshold}."
        yield (
            "point odds: no odds has a weight (past runs it is worth) and the chance of a "
            "workable fish no range." + stated
        )


@guard
def tools_ordered_in_case(answer: Answer) -> Iterator[str]:
    """Tools on standby that nothing before the best limit uses."""
    for each in answer.contracts:
        later = each.now_or_later
        called_now = answer.scenario.rental and any(
            rental.tool == each.tool and rental.call_out == 0 for rental in answer.scenario.rental
        )
        if called_now and later is not None and later.value > 2 * later.error:
            yield (
                f"tool ordered in case: {each.tool} called now costs {later.value:,.0f} more than "
                "called with its first run"
            )


@guard
def called_for_nothing(answer: Answer) -> Iterator[str]:
    """A tool that is called out within the limit for a run beyond it."""
    called = {each.tool for each in answer.scenario.rental if each.call_out is not None}
    for each in answer.contracts:
        if each.tool in called and not (each.needed or each.held) and each.mean > 0:
            yield (
                f"rental {each.tool}: called out within the limit, but first used by run "
                f"{each.first_run} beyond it; {each.mean:,.0f} of it is in every figure; without "
                "call_out it is called with its run"
            )


@guard
def made_out_of_order(answer: Answer) -> Iterator[str]:
    """A log tells what was done; a program tells what should have come first."""
    for row in answer.log:
        if row.warning:
            yield row.warning


@guard
def spent_twice(answer: Answer) -> Iterator[str]:
    """Money of a logged run may stand in what the lines of the AFE count as spent as well."""
    until = answer.scenario.afe.spent_until
    if answer.log and until is not None and answer.log[0].start.date() <= until:
        yield (
            "spent twice: the lines of the AFE count what is spent until "
            f"{until:%Y-%m-%d}, and the run log begins on {answer.log[0].start:%Y-%m-%d}; take the "
            "money of its runs out of one of them"
        )
