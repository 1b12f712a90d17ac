"""Order of runs: the cheapest program that can be made of the runs listed.

A program is an ordered choice of the runs left to make, each as often as it may be made at most,
each after those that it comes after; its runs are made by priority, as far as the marks allow,
then fishing stops. A prefix is some runs made in an
order, and stopping after it is a program. With E_k the mean cost of the jobs that end in its
k-th run and S that of stopping after the last,

    C(prefix) = E_1 + ... + E_k + S,

so a program of one run more is one step of the walk, and programs that begin alike share it.

1. Where all programs can be worked out within the effort, they are.
2. Otherwise a beam goes on, run by run, from the prefixes that cost least if fishing stops
   there; of prefixes that made the same runs it keeps the cheapest order. It works out the
   most promising programs only, and a cheaper one may exist.

Runs that are alike in all but name are made in the order listed: to swap two of them changes
no cost. With single numbers and few histories every cost is exact. Otherwise a program is
chosen on draws of its own, a scramble that no figure is taken from, and is valued on the
draws of the answer, paired with the order as listed. The program that came out cheapest of
many was lucky too; on other draws its luck is gone. The listed order takes its best limit on
the draws it is valued on, so the gain is if anything too low. A gain that is not beyond SURE
errors is none, and the listed order is kept.

A program calls a rented tool only if it makes a run that the tool serves. The listed order at
a limit is costed as in the answer: there a tool called out early is called in any case.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence, Set
from dataclasses import asdict, dataclass, field, replace
from itertools import islice
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from econ.decision.estimates import ROUNDING, Estimate, estimate
from econ.engine.case import Case
from econ.engine.choice import Choice, choose
from econ.engine.expected import expected
from econ.engine.inputs import Inputs
from econ.engine.ledger import Ending
from econ.engine.level import Level, begin
from econ.engine.walk import advance, stop, walk
from econ.scenario.framed import Framed
from econ.scenario.reach import reach
from econ.scenario.scenario import Scenario

if TYPE_CHECKING:
    import pandas

Array = NDArray[np.float64]
Order = tuple[int, ...]  # numbers of runs, from 0
LISTED = 5  # cheapest programs that are shown
DRAWS = 256  # that a program is chosen on
VALUED = 4096  # draws of each scramble that it is valued on, at most
HISTORIES = 32  # kept apart with draws
TREE = 8192  # histories after all runs up to which all are kept apart
EFFORT = 2500.0  # steps of the walk, about 3 s
STEP = 6000  # elements of a level for which a step counts for one more
NARROWEST = 2  # beam, in prefixes
PATIENCE = 4  # runs more, none of which lowered the least cost, after which a beam ends


@dataclass(frozen=True, repr=False)
class Program(Framed):
    """Runs made in this order, then a stop.

    runs: their numbers in the file, from 1; expected_cost, standard_error [currency]; saving,
    saving_error [currency]: against the listed order at its best limit, on the same draws.
    """

    runs: tuple[int, ...]
    expected_cost: float
    standard_error: float
    saving: float
    saving_error: float


@dataclass(frozen=True, repr=False)
class ProgramSearch(Framed):
    """The cheapest program, set against the runs in the order listed.

    best: the candidate if it is better beyond its error, else the listed one; listed: the
    order as listed, at its best limit; candidate: the cheapest of the search; exact: whether
    every program was worked out; looked_at: how many were; programs: the cheapest of the
    search, cheapest first; n: draws of each scramble that costs are from, 0 where exact.
    """

    scenario: Scenario
    best: Program
    listed: Program
    candidate: Program
    better: bool
    exact: bool
    looked_at: int
    programs: tuple[Program, ...]
    n: int
    scrambles: int
    seed: int

    @property
    def gain(self) -> Estimate:
        """What the candidate saves [currency] against the listed order."""
        return Estimate(self.candidate.saving, self.candidate.saving_error)

    def to_frame(self) -> pandas.DataFrame:
        """The cheapest programs of the search, one row each, and the listed order last."""
        import pandas

        frame = pandas.DataFrame([asdict(program) for program in (*self.programs, self.listed)])
        frame.insert(0, "listed", [False] * len(self.programs) + [True])
        return frame


def best_order(
    job: Inputs | Scenario, *, n: int = DRAWS, effort: float = EFFORT, valued: int = VALUED
) -> ProgramSearch:
    """The cheapest program of the runs left to make.

    n: draws to choose on, a power of two; effort: steps of the walk, one with large arrays
    counting for several; valued: draws of each scramble that costs are from, at most. The same
    input gives the same result.

    >>> import econ
    >>> search = best_order(econ.load("scenarios/point/a_land_twist_off.toml"))
    >>> search.best.runs, search.better
    ((1, 3), True)
    """
    inputs = job if isinstance(job, Inputs) else Inputs(job.in_field_units())
    case, histories, exact_costs = _draws_to_choose_on(inputs, n)
    uses, before = _uses(inputs, case)
    minimum = min(inputs.minimum_runs, sum(use in uses for use in case.program))
    choice = choose(case)
    search = _Search(case, choice, uses, before, minimum, histories)
    complete = search.run(effort)
    orders = search.cheapest_first()
    n_valued = min(inputs.scenario.draws.most, valued)
    if exact_costs:
        costs = _costs(case, choice, orders, histories=histories).T
    else:
        costs = _costs_by_scramble(inputs, orders, n=n_valued)
    limits, by_order = np.split(costs, [len(case.program) + 1], axis=1)
    limit = minimum + int(np.argmin(limits.mean(axis=0)[minimum:]))
    as_listed = limits[:, limit]

    def program(order: Order, cost: Array) -> Program:
        value, saving = _estimate(cost), _estimate(as_listed - cost)
        numbers = tuple(case.runs[use].number + 1 for use in order)
        return Program(numbers, value.value, value.error, saving.value, saving.error)

    listed = program(tuple(case.program[:limit]), as_listed)
    programs = tuple(program(order, cost) for order, cost in zip(orders, by_order.T, strict=True))
    candidate = programs[0]
    saving = Estimate(candidate.saving, candidate.saving_error)
    better = saving.value > 0 and saving.resolved(listed.expected_cost)
    draws = inputs.scenario.draws
    return ProgramSearch(
        scenario=inputs.scenario,
        best=candidate if better else listed,
        listed=listed,
        candidate=candidate,
        better=better,
        exact=complete,
        looked_at=len(search.costs),
        programs=programs,
        n=0 if exact_costs else n_valued,
        scrambles=draws.scrambles,
        seed=draws.seed,
    )


def precedence(inputs: Inputs) -> dict[int, Set[int]]:
    """Runs that must be made before each run, both counted from 0; those logged are made.

    Of runs that are alike the one listed first is made first.
    """
    made = {event.run for event in inputs.logged if event.finished}
    before: dict[int, Set[int]] = {}
    for number, run in enumerate(inputs.scenario.run):
        needed = {other - 1 for other in run.after} - made
        earlier = [other for other in range(number) if other not in made]
        alike = [other for other in earlier if _alike(inputs.scenario, other, number)]
        before[number] = needed | set(alike[-1:])
    return before


def all_programs(
    runs: Sequence[int], before: Mapping[int, Set[int]], made: Order = ()
) -> Iterator[Order]:
    """The program `made` and all that go on from it by `runs`, each right after its prefixes."""
    yield made
    for run in _ahead(runs, before, made):
        yield from all_programs(runs, before, (*made, run))


@dataclass(frozen=True)
class _Prefix:
    """Runs made in an order, and the state after them; money in currency.

    case: with the tools that the runs use; ended: mean cost of the jobs that ended in a run;
    cost: that and the mean cost of stopping here.
    """

    case: Case
    order: Order
    level: Level
    ended: float
    cost: float


@dataclass(frozen=True)
class _Search:
    """Programs that are worked out, with their costs [currency] on the draws of a case."""

    case: Case
    choice: Choice | None
    uses: Sequence[int]
    before: Mapping[int, Set[int]]
    minimum: int
    histories: int
    costs: dict[Order, float] = field(default_factory=dict)

    def run(self, effort: float) -> bool:
        """Work out all programs, if `effort` suffices, or else the most promising; whether all."""
        histories = min(self.histories, _histories(self.case, self.uses))
        elements = len(self.case.prior) * histories * self.case.n
        step = (1.0 + elements / STEP) * (1 + len(_early_tools(self.case)))
        if self.case.conditional:  # every prefix is walked anew
            step *= max(1.0, 0.5 * len(self.case.program))
        most = max(1, int(effort / step))
        programs = list(islice(all_programs(self.uses, self.before), most + 1))
        if len(programs) <= most:
            self.work_out(programs)
            return True
        listed = tuple(self.case.program)
        self.work_out([listed[:count] for count in range(len(listed) + 1)])
        self.beam(width=max(NARROWEST, 2 * most // len(listed) ** 2))
        return False

    def work_out(self, programs: Sequence[Order]) -> None:
        """Work out programs that come right after their own prefixes."""
        path: list[_Prefix] = []
        for order in programs:
            path = path[: len(order)]
            path.append(self.longer(path[-1], order[-1]) if order else self.start(()))

    def beam(self, *, width: int) -> None:
        """Go on, run by run, from the `width` prefixes that cost least if fishing stops there."""
        prefixes, least = [self.start(())], [min(self.costs.values())]
        while prefixes and (
            len(least) <= self.minimum + PATIENCE or least[-1] < least[-1 - PATIENCE]
        ):
            kept: dict[Set[int], _Prefix] = {}
            for prefix in prefixes:
                for run in _ahead(self.uses, self.before, prefix.order):
                    longer = self.longer(prefix, run)
                    runs = frozenset(longer.order)
                    if runs not in kept or longer.cost < kept[runs].cost:
                        kept[runs] = longer
                    if len(kept) > width:
                        del kept[max(kept, key=lambda runs: kept[runs].cost)]
            prefixes = list(kept.values())
            least.append(min(self.costs.values()))

    def start(self, order: Order) -> _Prefix:
        """No run made yet, but the tools of all runs of `order` on contract."""
        case = _with_tools_of(self.case, order)
        return self.priced(case, (), begin(case), 0.0)

    def longer(self, prefix: _Prefix, run: int) -> _Prefix:
        """A prefix and one more run. If that run is the first to use a tool that was called out
        earlier, all runs are walked again with the tool on contract."""
        order, runs = (*prefix.order, run), [run]
        by_marks = replace(_with_tools_of(self.case, order), program=order)
        if by_marks.conditional:
            return self.by_priority(by_marks, order)
        if len(_with_tools_of(self.case, order).contracts) > len(prefix.case.contracts):
            prefix, runs = self.start(order), [*order]
        for number in runs:
            case, level = prefix.case, prefix.level
            made, after = advance(case, self.choice, level, number, histories=self.histories)
            ended = prefix.ended + sum(_mean_cost(ending) for ending in made.ends)
            prefix = self.priced(case, (*prefix.order, number), after, ended)
        return prefix

    def by_priority(self, case: Case, order: Order) -> _Prefix:
        """A prefix whose runs wait, in some states, until they can be made."""
        *steps, last = walk(case, self.choice, histories=self.histories)
        ended = sum(_mean_cost(ending) for step in steps for ending in step.ends)
        return self.priced(case, order, last.level, ended)

    def priced(self, case: Case, order: Order, level: Level, ended: float) -> _Prefix:
        """A prefix with its cost, which is kept if it is a program with its own tools only."""
        cost = ended + _mean_cost(stop(case, self.choice, level))
        own = len(_with_tools_of(self.case, order).contracts) == len(case.contracts)
        if own and len(order) >= self.minimum:
            self.costs[order] = cost
        return _Prefix(case, order, level, ended, cost)

    def cheapest_first(self) -> list[Order]:
        """The cheapest programs; of those that cost the same, listed and short ones first."""
        least = min(self.costs.values())
        same = least + ROUNDING * abs(least)

        def rank(order: Order) -> tuple[float, bool, int, Order]:
            changed = order != tuple(self.case.program[: len(order)])
            return (max(self.costs[order], same), changed, len(order), order)

        return sorted(self.costs, key=rank)[:LISTED]


def _ahead(runs: Sequence[int], before: Mapping[int, Set[int]], made: Order) -> list[int]:
    """Runs that can be made next."""
    return [run for run in runs if run not in made and before[run] <= set(made)]


def _early_tools(case: Case) -> list[int]:
    """Numbers of the contracts that are called out before a run that they serve, and not yet."""
    tools = enumerate(zip(case.contracts, begin(case).tools, strict=True))
    return [
        number
        for number, (contract, tool) in tools
        if tool.called is None
        and contract.call_out is not None
        and contract.call_out not in contract.serves
    ]


def _with_tools_of(case: Case, order: Order) -> Case:
    """The case without the tools called out early that serve none of the runs of `order`."""
    early = _early_tools(case)
    contracts = [
        contract
        for number, contract in enumerate(case.contracts)
        if number not in early or contract.serves & set(order)
    ]
    return case if len(contracts) == len(case.contracts) else replace(case, contracts=contracts)


def _alike(scenario: Scenario, one: int, other: int) -> bool:
    """Whether two runs can change places in any program with no change of its cost."""
    numbers = (one + 1, other + 1)
    words = {f"made_{number}" for number in numbers}
    named = any(
        set(numbers) & set(run.after) or words & {*run.needs, *run.bars, *run.ratio_with}
        for run in scenario.run
    )
    named = named or any(words & {*each.needs, *each.bars} for each in scenario.fallback)
    called = any(rental.call_out in numbers for rental in scenario.rental)
    linked = any(
        path.startswith(f"run.{number}.")
        for correlation in scenario.correlation
        for path in correlation.of
        for number in numbers
    )
    nameless = {"name": "", "origin": ""}
    first, second = (scenario.run[k].model_copy(update=nameless) for k in (one, other))
    return first == second and not (named or called or linked)


def _draws_to_choose_on(inputs: Inputs, n: int) -> tuple[Case, int, bool]:
    """Draws to choose on, histories to keep apart, and whether costs are exact."""
    draws = inputs.scenario.draws
    one_more = draws.model_copy(update={"scrambles": draws.scrambles + 1})
    aside = Inputs(
        inputs.scenario.model_copy(update={"draws": one_more}),
        logged=inputs.logged,
        beside=inputs.names,
        hours_factor=inputs.hours_factor,
    )

    def case(count: int) -> Case:
        columns = aside.first(count)  # of every scramble; the last one is for the choice
        return aside.case({name: drawn[-count:] for name, drawn in columns.items()}, count)

    one = case(1)
    exact_costs = not inputs.uncertain and _histories(one, _uses(inputs, one)[0]) <= TREE
    return (one, TREE, True) if exact_costs else (case(n), HISTORIES, False)


def _uses(inputs: Inputs, case: Case) -> tuple[list[int], dict[int, Set[int]]]:
    """The uses of runs that a program is made of, and those that come before each. A run that can
    be made in no state is in no program: there it would stand for one that is owed."""
    before = precedence(inputs)
    last = {number: number for number in before}
    made = {event.run for event in inputs.logged if event.finished}
    further = range(len(before), case.uses)
    for use in further:
        number = case.runs[use].number
        before[use] = {last[number]} - made
        last[number] = use
    uses = [*case.program, *further]
    if not inputs.logged:
        possible = reach(inputs.scenario, heed_bars=True).runs
        uses = [use for use in uses if case.runs[use].number + 1 in possible]
    return uses, before


def _histories(case: Case, uses: Sequence[int]) -> int:
    """Histories there are after all uses of runs, in none of which the job has ended."""
    return math.prod(len(case.runs[use].followed) for use in uses)


def _mean_cost(ending: Ending) -> float:
    """Mean cost [currency] of an ending, times its weight."""
    weighted: Array = ending.weight * ending.cost
    return float(weighted.sum(axis=(0, 1)).mean())


def _costs_by_scramble(inputs: Inputs, orders: Sequence[Order], *, n: int) -> Array:
    """Means of what `_costs` gives on `n` draws of every scramble, one row a scramble."""
    choice = choose(inputs.pilot())
    total: Array = np.zeros(())
    for case in inputs.blocks(0, n):
        costs = _costs(case, choice, orders, histories=1)
        total = total + costs.reshape(len(costs), inputs.sampler.scrambles, -1).sum(axis=2)
    return total.T / n


def _costs(case: Case, choice: Choice | None, orders: Sequence[Order], *, histories: int) -> Array:
    """Cost [currency] of every limit of the listed order, then of every program, each expected
    from what a draw says; shape (limits and programs, draws)."""

    def limits(planned: Case) -> Array:
        return np.asarray(expected(planned, choice, histories=histories).cost.sum(axis=0))

    programs = [replace(_with_tools_of(case, order), program=order) for order in orders]
    return np.vstack([limits(case), *(limits(planned)[-1:] for planned in programs)])


def _estimate(by_scramble: Array) -> Estimate:
    """Mean and error; without error where there is but one number, which is exact."""
    if len(by_scramble) == 1:
        return Estimate(float(by_scramble[0]), 0.0)
    return estimate(by_scramble)
