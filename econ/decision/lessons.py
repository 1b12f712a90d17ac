"""After the job, or so far: what was planned, known and advised before each row, and what came.

Before row k of the log the program knew what the rows before it say. With

    A_k   expected cost from then on by what it advised: the best limit, or the rule by state or
          the plan where these are what makes the verdict
    D_k   the same for what was done: row k first, then the best from there
    c_k   money that row k took, and the time before it

    regret  r_k = D_k - A_k                 of the decision, as known then
    luck    l_k = c_k + A_(k+1) - D_k       of what came of it

so that what the job came to, the c and what is still to be expected, less A_0 is the sum of the
regrets and of the luck, whatever came. A regret is 0 where the advice was taken; it is below 0
where something better was done than was advised. Nothing that came later enters it.

D_k and the best limit are worked out on the same draws. Where a plan was advised and its second
best was done, D_k is the plan's own figure for that; after any other run it goes on by the best
limit, where a plan might do better, so that the regret against a plan is then at the most that. A
run that the file makes once and that is made again has no D: its regret is not known, and is in its
luck.

The odds stated before a run are those of its outcomes at its start, the mean over all that is not
known. With p_o of outcome o, y the one that came, and S = sum of p_o^2,

    Brier score         sum over o of (p_o - [o = y])^2 = 1 + S - 2 p_y     0 the best, 2 the worst
    what it expects     1 - S
    its variance        4 (sum of p_o^3 - S^2)

are of one run; over several runs the mean is taken. A forecast that is right expects its own score
to be the second, give or take.

Source: G.W. Brier, Monthly Weather Review 78 (1950) 1, for the score with several outcomes; its
mean and variance follow by hand.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from econ.decision.answer import Answer, answer
from econ.decision.estimates import Estimate, estimate
from econ.decision.plan import Do
from econ.decision.quick import of_case
from econ.decision.run_log import happened, inputs_after
from econ.engine.case import Case, Happened
from econ.engine.choice import choose
from econ.engine.inputs import Inputs
from econ.engine.level import begin, odds_now
from econ.engine.marks import Condition
from econ.engine.walk import make
from econ.scenario.framed import Framed
from econ.scenario.program import OUTCOMES
from econ.scenario.run_log import LoggedRun, decided_at
from econ.scenario.scenario import Scenario

if TYPE_CHECKING:
    import pandas

Array = NDArray[np.float64]
MOST_DRAWS = 4096  # of all scrambles together, for the odds and hours of a single run
HISTORIES = 9  # kept apart where what was done is held against the list


@dataclass(frozen=True, repr=False)
class Brier(Framed):
    """Brier score of a run, or the mean of several: as it came, what the odds stated expect of
    themselves, and the standard deviation of that; runs: how many."""

    runs: int
    score: float
    expected: float
    deviation: float


@dataclass(frozen=True, repr=False)
class RunLesson(Framed):
    """A row of the log against what was known before it.

    row: line of the file; run: number from 1, None of a reading; workable: belief; best: limit in
    runs; next_run: the run that came next in the list, from 1; waited: from the row before, or the
    decision, to its start [h]; planned_hours, planned_cost: of the whole run as known then, the
    mobilization included, None of a run that was stopped half way; between: what the time before it
    is taken to cost [currency]; cost: in the log, None where it has none; chances: stated for the
    seven outcomes, in their order, empty of a row that is no trial; advised, done: see `Do`;
    advised_cost, done_cost [currency]: A and D; regret: None where it is not known; luck
    [currency].
    """

    row: int
    run: int | None
    name: str
    outcome: str
    finished: bool
    start: datetime
    workable: float
    best: int
    next_run: int | None
    waited: float
    planned_hours: float | None
    hours: float
    planned_cost: float | None
    between: float
    cost: float | None
    chances: tuple[float, ...]
    brier: Brier | None
    advised: Do
    done: Do
    advised_cost: float
    done_cost: float | None
    regret: Estimate | None
    luck: float

    @property
    def taken(self) -> float:
        """Money that the row took and the time before it [currency]; what the log does not tell
        is as it was planned."""
        own = self.cost if self.cost is not None else self.planned_cost or 0.0
        return self.between + own


@dataclass(frozen=True, repr=False)
class Lessons(Framed):
    """What a job taught; see the head of the module. Money in the currency of the scenario.

    mornings: the answers before each row, and the one now; stopped: whether fishing was stopped
    after the last row; runs: a lesson for each row; stop_regret: of stopping after the last row,
    None where fishing was not stopped; brier: over the runs, None without one.
    """

    scenario: Scenario
    log: tuple[LoggedRun, ...]
    stopped: bool
    mornings: tuple[Answer, ...]
    runs: tuple[RunLesson, ...]
    stop_regret: Estimate | None
    brier: Brier | None

    def _rows(self) -> Sequence[RunLesson]:
        return self.runs

    def __repr__(self) -> str:
        score = "no run" if self.brier is None else f"Brier score {self.brier.score:.2f}"
        return f"Lessons({self.scenario.job.well!a}: {len(self.runs)} rows, {score})"

    @property
    def first_cost(self) -> float:
        """What the job was expected to cost before the first row [currency]."""
        return advised(self.mornings[0])[1]

    @property
    def left_cost(self) -> float:
        """What is expected after the last row [currency]: of stopping, where it was stopped."""
        now = self.mornings[-1]
        return now.by_runs[0].expected_cost if self.stopped else advised(now)[1]

    @property
    def spent(self) -> float:
        """Money of all rows and of the time between them [currency], as taken here."""
        return sum(row.taken for row in self.runs)

    @property
    def total_cost(self) -> float:
        """What the job comes to [currency]: spent, and what is still to be expected."""
        return self.spent + self.left_cost

    @property
    def regret(self) -> float:
        """Sum of the regrets that are known [currency]."""
        known = sum(row.regret.value for row in self.runs if row.regret is not None)
        return known + (self.stop_regret.value if self.stop_regret is not None else 0.0)

    @property
    def luck(self) -> float:
        """All else that the job comes to above what was expected [currency]."""
        return self.total_cost - self.first_cost - self.regret

    def to_frame(self) -> pandas.DataFrame:
        """One row a row of the log."""
        return super().to_frame()


def lessons(
    scenario: Scenario,
    log: Sequence[LoggedRun],
    *,
    stopped: bool = False,
    next_step: Callable[[], None] = lambda: None,
) -> Lessons:
    """What the rows of a log teach, from `econ.read_log`; see the head of the module.

    stopped: whether fishing was stopped after the last row, which is a decision as well; next_step:
    called before each answer but the first. Raises TypeError for anything but a `Scenario`, and
    ValueError for an empty log and for a job that its last row ended and that is said to be
    stopped.

    >>> import econ
    >>> job = econ.load("scenarios/point/a_land_twist_off.toml", ["draws.n=64"])
    >>> found = econ.lessons(job, econ.read_log("scenarios/logs/a_two_runs.csv", job))
    >>> found
    Lessons('Marlow Bench 14-3': 2 rows, Brier score 0.91)
    >>> [(row.advised, row.done) for row in found.runs]
    [(1, 1), (3, 2)]
    """
    if not isinstance(scenario, Scenario):
        raise TypeError(f"lessons() takes a Scenario, not {type(scenario).__name__}")
    if not log:
        raise ValueError("lessons() takes a log with a row; econ.read_log(path, scenario)")
    mornings = [answer(scenario)]
    for place in range(1, len(log) + 1):
        next_step()
        mornings.append(answer(scenario, log[:place]))
    now = mornings[-1]
    if stopped and now.ended is not None:
        raise ValueError(f"the job ended with {now.ended}: nobody stopped it")
    advised_now = advised(now)[1]
    stop_regret = None
    if stopped:
        stop_regret = Estimate(now.by_runs[0].expected_cost - advised_now, now.saving.error)
    rows = []
    for place, event in enumerate(happened(scenario, log)):
        row = _lesson(scenario, log, place, mornings[place], event)
        rows.append(_with_luck(row, after=advised(mornings[place + 1])[1]))
    return Lessons(
        scenario=scenario,
        log=tuple(log),
        stopped=stopped,
        mornings=tuple(mornings),
        runs=tuple(rows),
        stop_regret=stop_regret,
        brier=_mean([row.brier for row in rows if row.brier is not None]),
    )


def advised(known: Answer) -> tuple[Do, float]:
    """What an answer advises to do next, and the expected cost [currency] of going on as it
    advises: by the plan that pays, by the rule by state where only that makes a run, else by the
    best limit."""
    if known.plan is not None and known.by == "plan":
        return known.plan.nodes[0].do, known.plan.expected_cost.value
    if known.best == 0 and known.rule.begins:
        return known.ahead[0].run + 1, known.rule_cost.value
    do: Do = known.ahead[0].run + 1 if known.best > 0 else "stop"
    return do, known.limit.expected_cost


def _lesson(
    scenario: Scenario,
    log: Sequence[LoggedRun],
    place: int,
    known: Answer,
    event: Happened,
) -> RunLesson:
    """A row against the answer before it; its luck is still to come."""
    row, runs = log[place], len(scenario.run)
    inputs = inputs_after(scenario, log[:place])
    number = row.run + 1 if row.run < runs else None
    done: Do = scenario.actions[row.run].name if number is None else number
    most = max(1, MOST_DRAWS // inputs.sampler.scrambles)
    n = min(known.draws, 1 << (most.bit_length() - 1))  # a power of two, as draws are
    case = inputs.case(inputs.first(n), n * inputs.sampler.scrambles)
    planned = _planned(case, event.run) if row.finished else None
    chances = _chances(case, event) if row.finished and number is not None else ()
    told, told_cost = advised(known)
    done_cost, regret = _done(known, inputs, case, row, same=done == told)
    waited, between = _before(scenario, log, place, known)
    return RunLesson(
        row=row.row,
        run=number,
        name=scenario.actions[row.run].name,
        outcome=row.outcome,
        finished=row.finished,
        start=row.start,
        workable=known.ahead[0].workable if known.ahead else _belief(known),
        best=known.best,
        next_run=known.ahead[0].run + 1 if known.ahead else None,
        waited=waited,
        planned_hours=None if planned is None else planned[0],
        hours=(row.end - row.start).total_seconds() / 3600.0,
        planned_cost=None if planned is None else planned[1],
        between=between,
        cost=row.cost,
        chances=chances,
        brier=_brier(chances, row.outcome) if chances else None,
        advised=told,
        done=done,
        advised_cost=told_cost,
        done_cost=done_cost,
        regret=regret,
        luck=0.0,
    )


def _belief(known: Answer) -> float:
    return 1.0 if known.after is None else known.after.workable


def _with_luck(row: RunLesson, *, after: float) -> RunLesson:
    """A row with what came of it. after: expected cost from its end as then advised."""
    expected = row.advised_cost if row.done_cost is None else row.done_cost
    return replace(row, luck=row.taken + after - expected)


def _before(
    scenario: Scenario, log: Sequence[LoggedRun], place: int, known: Answer
) -> tuple[float, float]:
    """Hours from the row before to the start of a row, and what they are taken to cost: the spread,
    and before the first row what is owed on every branch first."""
    row, common = log[place], scenario.common
    begun = log[place - 1].end if place else decided_at(scenario, like=row.start)
    if place == 0:
        inputs = inputs_after(scenario, ())
        lump = inputs.mean([inputs.scenario.common.cost])
        if begun is None:  # nobody knows how long: as planned
            hours = inputs.mean([common.hours])
            return 0.0, hours / 24.0 * known.prices.spread_day + lump
    else:
        lump = 0.0
    assert begun is not None
    hours = (row.start - begun).total_seconds() / 3600.0
    return hours, hours / 24.0 * known.prices.spread_day + lump


def _planned(case: Case, run: int) -> tuple[float, float]:
    """Mean hours of a run and mean cost [currency], as known before it."""
    level = begin(case)
    made = make(case, choose(case), level, run)
    return (
        _weighted(level.weight, made.hours),
        _weighted(level.weight, made.spent.total - level.spent.total),
    )


def _chances(case: Case, event: Happened) -> tuple[float, ...]:
    """Chances of the outcomes of a run at its start, in the order of OUTCOMES."""
    level = begin(case)
    odds = odds_now(case, event.run, level, days=np.asarray(event.start))
    return tuple(_weighted(level.weight, getattr(odds, name)) for name in OUTCOMES)


def _weighted(weight: Array, values: Array) -> float:
    """Mean over kinds of fish and draws by their weight."""
    total = float(np.broadcast_to(weight, np.broadcast_shapes(weight.shape, values.shape)).sum())
    return float((weight * values).sum()) / total


def _brier(chances: Sequence[float], outcome: str) -> Brier:
    p = np.asarray(chances)
    squares = float((p**2).sum())
    variance = max(0.0, 4.0 * (float((p**3).sum()) - squares**2))
    came = float(p[OUTCOMES.index(outcome)])
    return Brier(1, 1.0 + squares - 2.0 * came, 1.0 - squares, variance**0.5)


def _mean(scores: Sequence[Brier]) -> Brier | None:
    if not scores:
        return None
    n = len(scores)
    return Brier(
        n,
        sum(each.score for each in scores) / n,
        sum(each.expected for each in scores) / n,
        sum(each.deviation**2 for each in scores) ** 0.5 / n,
    )


def _done(
    known: Answer, inputs: Inputs, case: Case, row: LoggedRun, *, same: bool
) -> tuple[float | None, Estimate | None]:
    """Expected cost of what was done, and its regret; None where it cannot be told."""
    told = advised(known)[1]
    if same:
        return told, Estimate(0.0, 0.0)
    if row.run >= len(known.scenario.run):
        name = known.scenario.actions[row.run].name
        taken = [each for each in known.information.readings if each.name == name]
        if not taken or taken[0].price is None:
            return None, None
        # Worth and price are against the best limit, as is a reading that is not in a plan.
        cost = known.limit.expected_cost + taken[0].price - taken[0].worth.value
        return cost, Estimate(cost - told, taken[0].worth.error)
    by_plan = known.plan if known.by == "plan" else None
    other = None if by_plan is None else by_plan.nodes[0].next_best
    if other is not None and other.do == row.run + 1:
        return told + other.costs_more.value, other.costs_more
    if row.run not in case.program:
        return None, None
    scrambles, minimum = inputs.sampler.scrambles, inputs.minimum_runs
    listed = of_case(case, minimum=minimum, scrambles=scrambles, histories=HISTORIES)
    first = of_case(
        _begun_with(case, row.run),
        minimum=max(1, minimum),
        scrambles=scrambles,
        histories=HISTORIES,
    )
    more = estimate(first.cost[:, first.verdict.best] - listed.cost[:, known.best])
    cost = known.limit.expected_cost + more.value
    gain = 0.0 if told == known.limit.expected_cost else known.rule.gain_error
    if by_plan is not None:
        gain = by_plan.gain.error
    return cost, Estimate(cost - told, float(np.hypot(more.error, gain)))


def _begun_with(case: Case, run: int) -> Case:
    """The case with a run first, whatever it needs: it was made."""
    runs = list(case.runs)
    runs[run] = replace(runs[run], condition=Condition())
    program = [run, *(other for other in case.program if other != run)]
    return replace(case, runs=runs, program=program)
