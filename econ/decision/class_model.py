"""The class exercise as data: every state that a team can come to, with what it can do there.

With S the cost of stopping in a state, P_o the chance of outcome o of run r there, c_o what is
paid with that outcome (the run, and where it ends the job all that is owed then) and V the value
of the state after it,

    D_r = sum over o of P_o (c_o + V_o)          make run r first, then the best from there
    V   = min( S, min over r of D_r )            any run, or stop
    L   = min( S, D_r of the next of the list )  go or stop, with L in the place of V

over the states of `econ.engine.states`, the last ones first. A stop that is not allowed yet,
because runs are owed, is left out of the min. So a game is a walk along the states that adds up c,
and S where it stops, and the measures of `econ.decision.lessons` are sums over the walk:

    regret     sum over the decisions of D or S of what was done, less V or L
    luck       what the walk comes to, less V or L of the first state, less the regret
    hindsight  what the walk comes to, less the cheapest walk through the same envelope

Expected costs are chosen and valued on the same few draws, where `econ.decision.plan` takes draws
apart for the choice: here nobody can do better than the best that is offered, and a regret is never
below 0. At single numbers both are the same.

An envelope says how every run ends. One with a number has a kind of fish, picked by the belief,
and a uniform number for each run, which picks the outcome in any state by the chances in that kind,
in the order of `OUTCOMES`:
so all teams meet the same fish and the same luck. Where a run makes the fish another one, the
outcome is picked by the chances over all kinds. An envelope that is a log pays what the log says
and goes on from the state that it tells of; what it does not tell is picked as above.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from econ.decision.answer import Answer, answer
from econ.decision.lessons import RunLesson, lessons
from econ.decision.run_log import happened, inputs_after
from econ.engine.case import Case
from econ.engine.choice import choose
from econ.engine.inputs import Inputs
from econ.engine.level import begin
from econ.engine.marks import Signs, words_of
from econ.engine.states import RunTable, State, States, Table, able, find, runs_made
from econ.scenario.program import OUTCOMES
from econ.scenario.run_log import LoggedRun
from econ.scenario.scenario import Scenario

Array = NDArray[np.float64]
DRAWS = 16  # of each scramble
MOST, WIDEST, EFFORT = 6000, 5500, 12000  # states of a level; runs made from them, and in all
OFFERED = 3  # runs in a state: the next of the list, and the cheapest others
ENVELOPES = 500  # that have a number


@dataclass(frozen=True)
class Branch:
    """An outcome of a run in a state: its chance in each kind of fish, what is paid with it
    [currency], and the state after it, None where it ends the job."""

    outcome: str
    chances: tuple[float, ...]
    paid: float
    after: int | None


@dataclass(frozen=True)
class Option:
    """A run that is offered in a state: its number in the file, from 1; hours on the clock [h] and
    cost [currency] of the run alone; by_plan, by_list: D with V and with L, see the head."""

    run: int
    hours: float
    cost: float
    by_plan: float
    by_list: float
    branches: tuple[Branch, ...]


@dataclass(frozen=True)
class ClassState:
    """What is known before a decision, and what can be done.

    stop: S; may_stop: whether stopping is allowed; plan, by_list: V and L [currency]; kinds: belief
    in each kind of fish; top: of the fish [ft]; day: since the decision [d]; listed: the next run
    of the list, from 1, None where none can be made; marks: words that hold.
    """

    stop: float
    may_stop: bool
    plan: float
    by_list: float
    kinds: tuple[float, ...]
    top: float
    day: float
    marks: tuple[str, ...]
    listed: int | None
    options: tuple[Option, ...]


@dataclass(frozen=True)
class Step:
    """A run of a log: its number from 1, how it ended, what it and the time before it took
    [currency], with all rows up to the next run; words: of the log; before, after: states."""

    run: int
    outcome: str
    paid: float
    words: tuple[str, ...]
    before: int
    after: int


@dataclass(frozen=True)
class ClassLog:
    """An envelope that is a log: its name, the state it begins in, what was spent before that
    [currency], and its runs. first_kinds: belief in the kinds of fish after all of its rows."""

    name: str
    start: int
    spent: float
    steps: tuple[Step, ...]
    last_kinds: tuple[float, ...]


@dataclass(frozen=True)
class ClassModel:
    """All that a class page walks on; see the head of the module.

    known: the answer before the first run, on the draws of the page; start: the state there; owed:
    what is owed there whatever is done [currency], which is part of S and of every c;
    envelopes: uniform numbers, shape (ENVELOPES, 1 + runs of the file): of the kind of fish and of
    the runs; whole: whether every state was looked at; renewing: whether a run makes the fish
    another one.
    """

    known: Answer
    states: tuple[ClassState, ...]
    start: int
    owed: float
    logs: tuple[ClassLog, ...]
    envelopes: Array
    whole: bool
    renewing: bool


def class_model(
    scenario: Scenario,
    logs: Sequence[tuple[str, Sequence[LoggedRun]]] = (),
    *,
    next_step: Callable[[], None] = lambda: None,
) -> ClassModel:
    """The model of a class exercise on a scenario. logs: envelopes by name, from
    `econ.read_log`; next_step: called before each of them. The scenario is not changed."""
    few = min(DRAWS, scenario.draws.most)
    draws = scenario.draws.model_copy(update={"n": few})
    quick = scenario.model_copy(update={"draws": draws})
    known = answer(quick)
    maker = _Maker(quick, known)
    start = maker.root(())
    made = []
    for name, log in logs:
        next_step()
        made.append(maker.log(name, log))
    rng = np.random.default_rng([scenario.draws.seed, ENVELOPES])
    return ClassModel(
        known=known,
        states=tuple(maker.states),
        start=start,
        owed=maker.owed,
        logs=tuple(made),
        envelopes=rng.random((ENVELOPES, 1 + len(scenario.run))),
        whole=maker.whole,
        renewing=maker.renewing,
    )


@dataclass
class _Maker:
    """Puts the trees of all first rows of all logs into one list of states."""

    scenario: Scenario
    known: Answer
    states: list[ClassState] = field(default_factory=list)
    roots: dict[tuple[LoggedRun, ...], int] = field(default_factory=dict)
    whole: bool = True
    renewing: bool = False
    owed: float = 0.0  # in the first of them

    def root(self, log: tuple[LoggedRun, ...], following: int | None = None) -> int:
        """The state after some rows of a log; following: the run that the log makes next."""
        found = self.roots.get(log)
        if found is not None:
            offered = {option.run for option in self.states[found].options}
            if following is None or following in offered:
                return found
        inputs = inputs_after(self.scenario, log)
        day = happened(self.scenario, log)[-1].end if log else 0.0
        tree = _Tree(inputs, day=day, following=following)
        self.whole &= tree.whole
        self.renewing |= tree.case.renewing
        if not log:
            self.owed = tree.owed
        place = self.roots[log] = len(self.states)
        self.states += tree.states(place)
        return place

    def log(self, name: str, log: Sequence[LoggedRun]) -> ClassLog:
        """An envelope that is a log. Readings, and runs stopped half way, belong to the run before
        them, or to what was spent before the first."""
        learned = lessons(self.scenario, log)
        runs = [place for place, row in enumerate(learned.runs) if row.run and row.finished]
        ends = [*runs[1:], len(log)]
        first = runs[0] if runs else len(log)
        rows = tuple(log)
        numbers = [row.run for row in learned.runs]
        states = [
            self.root(rows[:place], numbers[place] if place < len(log) else None)
            for place in [first, *ends]
        ]
        steps = []
        for number, (place, end) in enumerate(zip(runs, ends, strict=True)):
            lesson = learned.runs[place]
            assert lesson.run is not None
            steps.append(
                Step(
                    run=lesson.run,
                    outcome=lesson.outcome,
                    paid=sum(each.taken for each in learned.runs[place:end]),
                    words=_words(learned.runs[place:end], log[place:end]),
                    before=states[number],
                    after=states[number + 1],
                )
            )
        spent = sum(each.taken for each in learned.runs[:first])
        return ClassLog(name, states[0], spent, tuple(steps), self.states[states[-1]].kinds)


def _words(learned: Sequence[RunLesson], rows: Sequence[LoggedRun]) -> tuple[str, ...]:
    """What a log says of a run, and of the rows up to the next one by their names."""
    pairs = list(zip(learned, rows, strict=True))
    own, *others = pairs
    told = [own[1].remark] if own[1].remark else []
    for lesson, row in others:
        what = f"{lesson.name}, {row.outcome.replace('_', ' ')}"
        told.append(f"{what}: {row.remark}" if row.remark else what)
    return tuple(told)


class _Tree:
    """The states from one on, their values, and what is offered in each of them."""

    def __init__(self, inputs: Inputs, *, day: float, following: int | None) -> None:
        n = inputs.scenario.draws.most if inputs.uncertain else 1
        total = n * inputs.sampler.scrambles if inputs.uncertain else 1
        columns = inputs.first(n)
        if not inputs.uncertain:  # every draw is the same
            columns = {name: drawn[:1] for name, drawn in columns.items()}
        self.case: Case = inputs.case(columns, total)
        self.day, self.following = day, following
        self.minimum = inputs.minimum_runs
        self.words = inputs.scenario.marks
        self.found: States
        self.tables: Sequence[Table]
        self.found, self.tables = find(
            self.case,
            choose(inputs.pilot()),
            most=MOST,
            widest=WIDEST,
            effort=EFFORT,
            minimum=self.minimum,
            readings=False,
            outcomes=True,
        )
        now = begin(self.case)
        self.owed = float(
            (now.weight * now.cost).sum(axis=0).mean() / now.weight.sum(axis=0).mean()
        )
        self.rows = [
            {
                run: {place: row for row, place in enumerate(table.places)}
                for run, table in of.runs.items()
            }
            for of in self.tables
        ]
        self.plan: dict[tuple[int, int], float] = {}
        self.by_list: dict[tuple[int, int], float] = {}
        self.options: dict[tuple[int, int], list[Option]] = {}
        for depth in range(len(self.found.levels) - 1, -1, -1):
            for place in range(len(self.found.levels[depth])):
                self._value(depth, place)

    @property
    def whole(self) -> bool:
        """Whether there is no state from which a run could be made and none was looked at."""
        left = [
            state
            for level, known in zip(self.found.levels, self.found.known, strict=True)
            for state in level[known:]
        ]
        return not any(able(self.case, left, run) for run in range(self.case.uses))

    def states(self, first: int) -> list[ClassState]:
        """Those that can be come to by what is offered, the first of them with number `first`.

        Branches name places of the next level until here."""
        numbers = {(0, 0): first}
        waiting = [(0, 0)]
        made = []
        for depth, place in waiting:
            options = []
            for option in self.options[depth, place]:
                branches = []
                for branch in option.branches:
                    after = branch.after
                    if after is not None:
                        child = (depth + 1, after)
                        if child not in numbers:
                            numbers[child] = first + len(waiting)
                            waiting.append(child)
                        after = numbers[child]
                    branches.append(replace(branch, after=after))
                options.append(replace(option, branches=tuple(branches)))
            made.append(self._state(depth, place, options))
        return made

    def _state(self, depth: int, place: int, options: Sequence[Option]) -> ClassState:
        state, table = self.found.levels[depth][place], self.tables[depth]
        by_kind = table.weight[place].sum(axis=1)
        weight = float(by_kind.sum())
        return ClassState(
            stop=self._stop(depth, place),
            may_stop=not self._owes(depth, place),
            plan=self.plan[depth, place],
            by_list=self.by_list[depth, place],
            kinds=tuple((by_kind / weight).tolist()),
            top=float(table.top[place].sum()) / weight,
            day=self.day + float(table.days[place].sum()) / weight,
            marks=tuple(words_of(state.marks, self.words)),
            listed=self._listed(state),
            options=tuple(options),
        )

    def _value(self, depth: int, place: int) -> None:
        """Values of a state whose next level has them, and what is offered in it."""
        options = [
            self._option(depth, place, run)
            for run, rows in self.rows[depth].items()
            if place in rows
        ]
        listed = self._listed(self.found.levels[depth][place])
        following = self.following if depth == 0 else None
        options.sort(key=lambda option: option.by_plan)
        named = [option for option in options if option.run in (listed, following)]
        others = [option for option in options if option not in named]
        kept = [*named, *others[: max(0, OFFERED - len(named))]]
        if options and options[0] not in kept:  # the cheapest is always offered
            kept.append(options[0])
        self.options[depth, place] = sorted(kept, key=lambda option: option.run)
        stops = [] if self._owes(depth, place) else [self._stop(depth, place)]
        go = [option.by_list for option in kept if option.run == (following or listed)]
        self.plan[depth, place] = min([*stops, *(option.by_plan for option in options)])
        self.by_list[depth, place] = min([*stops, *go])

    def _option(self, depth: int, place: int, run: int) -> Option:
        table: RunTable = self.tables[depth].runs[run]
        row = self.rows[depth][run][place]
        by_kind = self.tables[depth].weight[place].sum(axis=1)
        weight = float(by_kind.sum())
        owed = self.owed if depth == 0 else 0.0
        after = {
            branch.outcome: branch.child
            for branch in self.found.levels[depth][place].branches.get(run, ())
        }
        branches: list[Branch] = []
        by_plan = by_list = 0.0
        for outcome in OUTCOMES:
            if outcome not in table.outcomes:
                continue
            of = table.outcomes[outcome]
            kinds = of.weight[row].sum(axis=1)
            here = float(kinds.sum())
            if not here > 0:
                continue
            paid = float(of.cost[row].sum()) / here + owed
            child = after.get(outcome)
            chances = np.divide(kinds, by_kind, out=np.zeros_like(kinds), where=by_kind > 0)
            branches.append(Branch(outcome, tuple(chances.tolist()), paid, child))
            share = here / weight
            by_plan += share * (paid + (0.0 if child is None else self.plan[depth + 1, child]))
            by_list += share * (paid + (0.0 if child is None else self.by_list[depth + 1, child]))
        assert table.spent is not None
        return Option(
            run=self.case.runs[run].number + 1,
            hours=float(table.hours[row].sum()) / weight,
            cost=float(table.spent[row].sum()) / weight,
            by_plan=by_plan,
            by_list=by_list,
            branches=tuple(branches),
        )

    def _stop(self, depth: int, place: int) -> float:
        table = self.tables[depth]
        owed = self.owed if depth == 0 else 0.0
        return float(table.stop[place].sum() / table.weight[place].sum()) + owed

    def _owes(self, depth: int, place: int) -> bool:
        """Whether a run is still owed that can be made."""
        state, first = self.found.levels[depth][place], self.found.levels[0][0]
        can = any(place in rows for run, rows in self.rows[depth].items())
        return can and runs_made(self.case, first, state) < self.minimum

    def _listed(self, state: State) -> int | None:
        """The next run of the list, from 1."""
        if self.case.ended is not None:
            return None
        signs = Signs(np.array(state.marks), np.array(state.made))
        for run in self.case.program:
            if not state.made >> run & 1 and self.case.runs[run].condition.holds(signs).all():
                return self.case.runs[run].number + 1
        return None
