"""What a verdict is said from: plain numbers and names, and which of nine cases they are."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from econ.decision import Answer
from econ.decision.estimates import ROUNDING
from econ.reports.tables.decision import paying_readings

if TYPE_CHECKING:
    from econ.decision.whatif import WhatIf

Case = Literal[
    "recovered",  # a log tells that the fish is out
    "string_lost",  # a log tells that the fishing string is lost
    "hole_lost",  # a log tells that the hole is lost
    "no_run",  # no run is left to make
    "fish",  # the best limit has a run in it
    "fish_required",  # it has one because runs must be made
    "run_by_run",  # it has none, but the rule by state makes the next run
    "by_plan",  # neither makes a run, but a plan does
    "stop",  # none of them makes a run
]


CLOSE: tuple[Case, ...] = ("fish", "run_by_run", "by_plan", "stop")  # cases that may be close


@dataclass(frozen=True)
class Situation:
    """What a verdict is said from; money in currency, days in d, chances as fractions.

    limit: the best limit [runs from now]; days: until its last run has failed; saving: against
    stopping now; best_with_a_run: least cost of a limit of at least one run, None without one;
    fallback: the one taken if fishing stops now, others: whether another one may be; needed:
    chance of a fallback at the best limit; least_runs: that must still be made; cost_of_minimum:
    what they cost; flat: limits within 2 % of the best, in order, itself among them; same, close:
    other limits that cost the same, and that differ by less than the error; rule_gain: of the
    rule by state over the best limit, None where it is not known; fish: whether limit or rule make
    the next run; listed: runs that are left; readings: name, worth and price of those that pay;
    plan_gain: of a plan that pays over the best limit, None without one; plan_first: the run it
    begins with, empty where it stops; close_call: see `econ.decision.limits.is_close`.
    """

    ended: Case | None
    limit: int
    days: float
    expected_cost: float
    stopping_now: float
    saving: float
    best_with_a_run: float | None
    to_the_end: float
    fallback: str
    others: bool
    needed: float
    least_runs: int
    cost_of_minimum: float
    flat: tuple[int, ...]
    same: tuple[int, ...]
    close: tuple[int, ...]
    rule_gain: float | None
    fish: bool
    listed: int
    readings: tuple[tuple[str, float, float], ...] = ()
    plan_gain: float | None = None
    plan_first: str = ""
    close_call: bool = False

    @classmethod
    def of_answer(cls, answer: Answer) -> Situation:
        """The situation that an answer tells of."""
        best, rows = answer.limit.expected_cost, answer.by_runs
        costs = [row.expected_cost for row in rows]
        same = tuple(n for n in answer.not_told_apart if _equal(costs[n], best))
        plan = answer.plan if answer.by == "plan" else None
        return cls(
            ended=_ended(answer.ended),
            limit=answer.best,
            days=answer.limit.days,
            expected_cost=best,
            stopping_now=costs[0],
            saving=answer.saving.value,
            best_with_a_run=min(costs[1:], default=None),
            to_the_end=costs[-1],
            fallback=answer.fallbacks.taken.name,
            others=answer.fallbacks.others,
            needed=answer.stage_2.probability,
            least_runs=max(0, answer.scenario.minimum_runs - answer.runs_made),
            cost_of_minimum=answer.cost_of_minimum,
            flat=answer.flat,
            same=same,
            close=tuple(n for n in answer.not_told_apart if n not in same),
            rule_gain=answer.rule.gain,
            fish=answer.best > 0 or answer.rule.begins,
            listed=len(rows) - 1,
            readings=tuple(
                (row["name"], row["worth"], row["price"]) for row in paying_readings(answer)
            ),
            plan_gain=None if plan is None else plan.gain.value,
            plan_first="" if plan is None else plan.first,
            close_call=answer.close_call,
        )

    @classmethod
    def of_side(cls, whatif: WhatIf, side: Literal["before", "after"]) -> Situation:
        """The situation on one side of a change; its fallback has no name there."""
        half = whatif.before if side == "before" else whatif.after

        def figure(name: str) -> float:
            return _known(getattr(whatif.figure(name), side))

        costs = [_known(getattr(row, side)) for row in whatif.by_runs]
        best = figure("expected_cost")
        unsure = half.verdict.not_told_apart
        same = tuple(n for n in unsure if n < len(costs) and _equal(costs[n], best))
        return cls(
            ended=_ended(whatif.log[-1].outcome if whatif.log else None),
            limit=half.best,
            days=half.days,
            expected_cost=best,
            stopping_now=figure("fallback_now"),
            saving=figure("saving"),
            best_with_a_run=min(costs[1:], default=None),
            to_the_end=costs[-1],
            fallback="",
            others=False,
            needed=figure("stage_2_probability"),
            least_runs=half.least_runs,
            cost_of_minimum=half.verdict.cost_of_minimum,
            flat=half.verdict.flat,
            same=same,
            close=tuple(n for n in unsure if n not in same),
            rule_gain=None,
            fish=half.best > 0 or half.rule.begins,
            listed=0 if half.next_run is None else max(1, len(costs) - 1),
            plan_gain=half.plan.gain.value if half.plan is not None and half.by_plan else None,
            plan_first=half.plan.first if half.plan is not None and half.by_plan else "",
            close_call=half.close_call,
        )


def case_of(situation: Situation) -> Case:
    """Which of the cases a situation is."""
    if situation.ended is not None:
        return situation.ended
    if situation.listed == 0:
        return "no_run"
    if situation.limit > 0:
        slack = ROUNDING * abs(situation.expected_cost)
        return "fish_required" if situation.cost_of_minimum > slack else "fish"
    if situation.fish:
        return "run_by_run"
    return "by_plan" if situation.plan_first else "stop"


def is_close(situation: Situation) -> bool:
    """Whether a verdict is said as a close call: not where the job is over, nor where runs must be
    made, because then to stop is no choice."""
    return situation.close_call and situation.least_runs == 0 and case_of(situation) in CLOSE


def _ended(outcome: str | None) -> Case | None:
    match outcome:
        case "recovered":
            return "recovered"
        case "string_lost":
            return "string_lost"
        case "hole_lost":
            return "hole_lost"
    return None


def _equal(cost: float, best: float) -> bool:
    """Whether two costs differ by no more than the rounding of their sums."""
    return abs(cost - best) <= ROUNDING * abs(best)


def _known(value: float | None) -> float:
    return 0.0 if value is None else value
