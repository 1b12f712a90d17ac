"""The answer to a scenario: how many more runs and days, and all that goes with it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from datetime import datetime
from functools import cached_property, partial
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
from numpy.typing import NDArray

from econ.decision.authority import Authority, Call, Stage1, Stage2, authority, call
from econ.decision.breakdown import Breakdown, TotalCost, breakdown, total_cost
from econ.decision.delays import EndingLate, WaitingOnWeather, ending_late, waiting_on_weather
from econ.decision.estimates import Estimate
from econ.decision.fallbacks import Fallbacks, fallbacks
from econ.decision.figures import figures, slices, walked
from econ.decision.fish_now import fish_now
from econ.decision.hours import HoursLearned, hours_learned
from econ.decision.limits import (
    DayLimit,
    RunLimit,
    best_by_days,
    by_days,
    by_runs,
    is_close,
    verdict,
)
from econ.decision.limits_then import LimitThen, limits_then
from econ.decision.next_run import Prices, RunAhead, prices, runs_ahead
from econ.decision.plan import FEW_STATES, LITTLE, Plan, plan_of
from econ.decision.quantities import Quantities, quantities
from econ.decision.readings import ValueOfInformation, value_of_information
from econ.decision.rentals import RentalCost, rental_costs
from econ.decision.reply import waiting_hours
from econ.decision.risk import Risk, risk
from econ.decision.rules_of_thumb import (
    economic_fishing_days,
    half_rule_days,
    time_limit_days,
)
from econ.decision.run_log import Status, clock, inputs_after, standing, status
from econ.decision.state_rule import RuleLevel, StateRule, rule_levels, state_rule
from econ.decision.timetable import Timetable, timetable
from econ.engine.case import ENDS, Case
from econ.engine.choice import Choice
from econ.engine.expected import expected
from econ.engine.inputs import Inputs
from econ.engine.walk import runs_if_all_fail
from econ.scenario.framed import Framed
from econ.scenario.run_log import LoggedRun
from econ.scenario.scenario import Scenario

if TYPE_CHECKING:
    import pandas

    from econ.decision.sensitivity.break_even import Hinge

Array = NDArray[np.float64]
HISTORIES = 9  # kept apart for what a reading says about the limits


@dataclass(frozen=True, repr=False)
class RulesOfThumb(Framed):
    """The published rules on the numbers of this scenario [d]."""

    time_limit_days: float
    economic_fishing_days: float
    half_rule_days: float


@dataclass(frozen=True, repr=False)
class Answer(Framed):
    """Everything `econ` says about a scenario. Frozen; money is in the currency of the scenario.

    draws: of each scramble [count]; best: the best limit [runs]; best_by_days: the best limit by
    days; flat: all limits within 2 % of the best [runs]; close_call: see `limits.is_close`; hinges:
    the inputs that flip a close call, nearest first, none where it is not close or runs must
    be made; saving:
    of the best limit against stopping now [currency]; not_told_apart: limits [runs] that differ
    from the best by less than the error, none of them where it is `resolved`; cost_of_minimum: what
    the least number of runs costs more than the best without it [currency]; by_runs, by_days: what
    every limit gives; ahead: the runs still to make, each as it is if all before it ended
    `nothing`; rule: the rule by state; plan: what a search of few states makes of the runs in any
    order, None where none is left; rules: the published rules of thumb; authority: both stages;
    calls: the slices of every limit; prices: what small things are worth; breakdown: what the
    expected cost of the best limit is made of; quantities: days, chances and counts of every limit;
    totals: the distribution of its total; risk: of every limit; fallbacks: side by side; timetable:
    when the runs begin and end if all before them fail; contracts: what every rented tool costs;
    information: worth of knowing the kind of fish; weather, late: what waiting on weather and the
    deadline come to, None where the file has none; log: the runs made; before, after: where the job
    stood before the last of them, and stands now, on as many draws as the answer, None without a
    log; limits_then: the limit in force before each row of the log; now: when the clock starts,
    which is the decision or the end of the last run logged, None where the file does not say;
    hours: those of the runs made against plan, and what they say of those ahead, None where no run
    counts.
    """

    scenario: Scenario
    draws: int
    best: int
    best_by_days: DayLimit
    flat: tuple[int, ...]
    close_call: bool
    hinges: tuple[Hinge, ...]
    saving: Estimate
    resolved: bool
    not_told_apart: tuple[int, ...]
    cost_of_minimum: float
    by_runs: tuple[RunLimit, ...]
    by_days: tuple[DayLimit, ...]
    ahead: tuple[RunAhead, ...]
    rule: StateRule
    plan: Plan | None
    rules: RulesOfThumb
    authority: Authority
    calls: tuple[Call, ...]
    prices: Prices
    breakdown: Breakdown
    quantities: tuple[Quantities, ...]
    totals: TotalCost
    risk: Risk
    fallbacks: Fallbacks
    timetable: Timetable
    contracts: tuple[RentalCost, ...]
    information: ValueOfInformation
    weather: WaitingOnWeather | None
    late: EndingLate | None
    log: tuple[LoggedRun, ...]
    before: Status | None
    after: Status | None
    limits_then: tuple[LimitThen, ...]
    now: datetime | None
    hours: HoursLearned | None

    def __repr__(self) -> str:
        verb = f"fish, at most {self.best} runs" if self.fish else "stop"
        cost = f"{self.limit.expected_cost:,.0f} +- {self.limit.standard_error:,.0f}"
        return f"Answer({self.scenario.job.well!a}: {verb}, {cost} {self.scenario.currency})"

    def __hash__(self) -> int:
        return hash((self.draws, self.by_runs, self.by_days, self.log))

    @property
    def fish(self) -> bool:
        """Whether to make a run: the best limit, the rule by state or a plan that pays does."""
        return self.best > 0 or self.rule.begins or (self.by == "plan" and self._plan.fish)

    @property
    def by(self) -> Literal["limit", "plan"]:
        """The policy that is cheapest: the plan where it pays."""
        return "plan" if self.plan is not None and self.plan.pays else "limit"

    @property
    def _plan(self) -> Plan:
        assert self.plan is not None
        return self.plan

    @property
    def stage_1(self) -> Stage1:
        """Authority to fish."""
        return self.authority.stage_1

    @property
    def stage_2(self) -> Stage2:
        """Authority for the fallback."""
        return self.authority.stage_2

    @property
    def ended(self) -> str | None:
        """The outcome that ended the job, if the log tells of one."""
        last = self.log[-1].outcome if self.log else None
        return last if last in ENDS else None

    @property
    def runs_made(self) -> int:
        """How many runs the log has; readings are none, nor is what was stopped half way."""
        runs = len(self.scenario.run)
        return sum(row.finished and row.run < runs for row in self.log)

    @cached_property
    def as_left(self) -> Scenario:
        """The scenario with its fish as the log leaves it."""
        return fish_now(self.scenario, self.log)

    @property
    def spent(self) -> float:
        """Money [currency] that the log says is spent; it enters no comparison."""
        return sum(row.cost or 0.0 for row in self.log)

    @property
    def overspent(self) -> float | None:
        """Money [currency] that the log has spent above the authority; None without one."""
        authority = self.scenario.limits.authority
        return None if authority is None else max(0.0, self.spent - authority)

    @property
    def limit(self) -> RunLimit:
        """The best limit."""
        return self.by_runs[self.best]

    @property
    def rule_cost(self) -> Estimate:
        """Expected cost of the rule by state: the best limit less what the rule gains."""
        limit = self.limit
        return Estimate(
            limit.expected_cost - self.rule.gain,
            float(np.hypot(limit.standard_error, self.rule.gain_error)),
        )

    def to_frame(self) -> pandas.DataFrame:
        """The curve by runs, one row a limit."""
        return _frame(self.by_runs).set_index("runs")

    def days_frame(self) -> pandas.DataFrame:
        """The curve by days, one row a limit."""
        return _frame(self.by_days).set_index("days")

    def runs_frame(self) -> pandas.DataFrame:
        """The runs ahead with belief, odds and break-even odds."""
        return _frame(self.ahead)


def answer(scenario: Scenario, log: Sequence[LoggedRun] = ()) -> Answer:
    """Answer a scenario as `econ.load` gives it; the scenario is not changed.

    log: runs made so far, from `econ.read_log`; the answer is then from their end on.

    Raises TypeError for anything but a `Scenario`. Money is in the currency of the scenario,
    days are days, chances are fractions; figures carry the standard error of the sampling.

    >>> import econ
    >>> found = econ.answer(econ.load("scenarios/point/a_land_twist_off.toml"))
    >>> found.best, found.flat
    (3, (2, 3))
    >>> f"{found.limit.expected_cost:,.0f} at {found.limit.days:.1f} days"
    '497,501 at 4.3 days'

    The work: walk as many draws as it takes (`econ.engine`), read the figures off the sums, and
    set the rule by state, the next run and the published rules beside them.
    """
    if not isinstance(scenario, Scenario):
        raise TypeError(
            f"answer() takes a Scenario, not {type(scenario).__name__}; econ.load(path)"
        )
    inputs = inputs_after(scenario, log)
    (found,) = walked([inputs])
    job, limits = inputs.scenario, inputs.scenario.limits
    minimum, scrambles = inputs.minimum_runs, inputs.sampler.scrambles
    judged = verdict(found.cost, minimum=minimum)
    best = judged.best
    runs, days_rows = by_runs(found), by_days(found)
    now = prices(found, inputs)
    chance = runs[best or min(1, len(runs) - 1)].probability_recovered
    case = inputs.pilot()
    ahead = tuple(runs_ahead(found, runs_if_all_fail(case), job.run))
    levels = rule_levels(inputs, case, found.choice)
    daily = now.spread_day + now.fishing_day
    calls = tuple(call(slices(found, row.runs), row.runs) for row in runs)
    named = figures(found, best, authority=limits.authority is not None)
    plan = plan_of(inputs, found, most=FEW_STATES, effort=LITTLE) if case.program else None
    rule = state_rule(levels, minimum=minimum, scrambles=scrambles, limit=best)
    others = [Estimate(rule.gain, rule.gain_error), *([] if plan is None else [plan.gain])]
    close = is_close(found.cost, minimum=minimum, others=others)
    return Answer(
        scenario=scenario,
        draws=found.n,
        best=best,
        best_by_days=best_by_days(days_rows, best),
        flat=judged.flat,
        close_call=close,
        hinges=_hinges(inputs) if close and minimum == 0 else (),
        saving=judged.saving,
        resolved=not judged.not_told_apart,
        not_told_apart=judged.not_told_apart,
        cost_of_minimum=judged.cost_of_minimum,
        by_runs=runs,
        by_days=days_rows,
        ahead=ahead,
        rule=rule,
        plan=plan,
        rules=RulesOfThumb(
            time_limit_days(fish_and_sidetrack=now.fallback, daily_cost=daily),
            economic_fishing_days(chance=chance, fish_and_sidetrack=now.fallback, daily_cost=daily),
            half_rule_days(fish_and_sidetrack=now.fallback, rig_day=now.spread_day),
        ),
        authority=authority(
            named,
            calls[best],
            given=limits.authority,
            response_hours=limits.response_hours,
            waiting_hours=waiting_hours(scenario, clock(scenario, log)),
            spread_day=now.spread_day,
        ),
        prices=now,
        breakdown=breakdown(found, best),
        calls=calls,
        quantities=quantities(
            found,
            program=case.program,
            fallbacks=[each.name for each in scenario.fallback],
            last=case.logged[-1].run if case.logged else None,
        ),
        totals=total_cost(found, best),
        risk=risk(
            found,
            judged,
            minimum=minimum,
            authority=limits.authority,
            tolerance=limits.risk_tolerance,
        ),
        fallbacks=fallbacks(scenario, case, found.choice),
        timetable=timetable(inputs, case, found.choice, ahead),
        contracts=rental_costs(case, minimum=minimum, scrambles=scrambles),
        information=value_of_information(
            levels,
            expected(case, found.choice, histories=HISTORIES),
            job.reading,
            doubts=() if case.renewing and log else [doubt.name for doubt in job.doubts],
            minimum=minimum,
            scrambles=scrambles,
            hour=now.hour_of_waiting,
            weighed=partial(_weighed, inputs, case, found.choice) if case.renewing else None,
        ),
        weather=waiting_on_weather(inputs, found, best),
        late=ending_late(inputs, found),
        log=tuple(log),
        before=standing(scenario, log[:-1], n=found.n) if log else None,
        after=status(inputs, found) if log else None,
        limits_then=limits_then(scenario, log),
        now=clock(scenario, log),
        hours=hours_learned(inputs, found),
    )


def _hinges(inputs: Inputs) -> tuple[Hinge, ...]:
    from econ.decision.sensitivity.bench import Bench
    from econ.decision.sensitivity.break_even import hinges

    return hinges(Bench(inputs))


def _weighed(
    inputs: Inputs, case: Case, choice: Choice | None, factors: Array
) -> Sequence[RuleLevel]:
    """The levels of a job in which each kind of fish is so many times as likely now."""
    return rule_levels(inputs, replace(case, prior=case.prior * factors[:, None, None]), choice)


def _frame(rows: tuple[Any, ...]) -> pandas.DataFrame:
    import pandas

    return pandas.DataFrame([asdict(row) for row in rows])
