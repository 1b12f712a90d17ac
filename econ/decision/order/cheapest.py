"""Order of runs: the cheapest program that can be made of the runs listed.

A program is an ordered choice of the runs left to make, each once at most, each after those
that it needs; all of its runs are made, then fishing stops. `econ.decision.order.search` goes
through the programs, depth by depth or the most promising first, and says whether it is exact.
Runs that are alike in all but name are made in the order listed: to swap two of them changes
no cost.

With single numbers, and not too many histories, every cost is exact. Otherwise

1. a program is chosen on draws of its own, a scramble that no figure shown is taken from;
2. it is valued on the draws of the answer, paired with the order as listed.

Of many programs the one that came out cheapest was lucky too; on other draws its luck is gone,
so cost and gain are not flattered by the choice. The listed order takes its best limit on the
draws it is valued on, hence the gain is if anything too low. A gain that is not beyond SURE
errors is none, and the listed order is kept. The lower bound is found on the first draws; what
is given is the cost of the best program on the second less what the bound leaves open on the
first, which is subject to the error of both.

A program calls a rented tool only if it makes a run that the tool serves. The listed order at
a limit is costed as in the answer: there a tool called out early is called in any case.
"""

from __future__ import annotations

from collections.abc import Sequence, Set
from dataclasses import asdict, dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from econ.decision.estimates import ROUNDING, SURE, Estimate, estimate
from econ.decision.order.search import Order, Search, roots
from econ.engine.case import Case
from econ.engine.choice import Choice, choose
from econ.engine.curves import PILOT
from econ.engine.expected import expected
from econ.engine.inputs import Inputs
from econ.engine.level import begin
from econ.scenario.program import Run
from econ.scenario.scenario import Scenario

if TYPE_CHECKING:
    import pandas

Array = NDArray[np.float64]
DRAWS = 256  # that a program is chosen on
VALUED = 4096  # draws of each scramble that it is valued on, at most
EFFORT = 2000.0  # steps: about 3 s
HISTORIES = 32  # kept apart with draws
TREE = 8192  # histories after all runs up to which all are kept apart


@dataclass(frozen=True)
class Program:
    """Runs made in this order, then a stop. runs: their numbers in the file, from 1; saving
    [currency] against the listed order at its best limit, on the same draws."""

    runs: tuple[int, ...]
    expected_cost: float
    standard_error: float
    saving: float
    saving_error: float


@dataclass(frozen=True)
class ProgramSearch:
    """The cheapest program, set against the runs in the order listed.

    best: the candidate if it is better beyond its error, else the listed one; listed: the
    order as listed, at its best limit; candidate: the cheapest of the search; exact: whether
    no program is cheaper on the draws of the search; possible_gain [currency]: most that any
    other program could save against the best one, None if not known; looked_at: programs
    priced; programs: the cheapest of the search, cheapest first; n: draws of each scramble
    that costs are from, 0 where exact.
    """

    scenario: Scenario
    best: Program
    listed: Program
    candidate: Program
    better: bool
    exact: bool
    possible_gain: float | None
    looked_at: int
    programs: tuple[Program, ...]
    n: int
    scrambles: int
    seed: int

    @property
    def gain(self) -> Estimate:
        """What the candidate saves [currency] against the listed order."""
        return Estimate(self.candidate.saving, self.candidate.saving_error)

    @property
    def lower_bound(self) -> float | None:
        """What any program costs at least [currency], None if not known."""
        more = self.possible_gain
        return None if more is None else self.best.expected_cost - more

    def to_frame(self) -> pandas.DataFrame:
        """The cheapest programs of the search, one row each, and the listed order last."""
        import pandas

        frame = pandas.DataFrame([asdict(each) for each in (*self.programs, self.listed)])
        frame.insert(0, "listed", [False] * len(self.programs) + [True])
        return frame


def best_order(job: Inputs | Scenario, *, n: int = DRAWS, effort: float = EFFORT) -> ProgramSearch:
    """The cheapest program of the runs left to make.

    n: draws to choose on, a power of two; effort: steps of the walk, one with large arrays
    counting for several. The same input gives the same result.

    >>> import econ
    >>> found = best_order(econ.load("scenarios/point/a_land_twist_off.toml"))
    >>> found.best.runs, found.better
    ((1, 3), True)
    """
    inputs = job if isinstance(job, Inputs) else Inputs(job.in_field_units())
    case, histories, exact_costs = _searched(inputs, n)
    minimum = min(inputs.minimum_runs, len(case.program))
    choice = choose(case)
    tops = roots(case, choice, before=precedence(inputs), minimum=minimum)
    search = Search(tops, choice, minimum=minimum, histories=histories, effort=effort)
    orders = _in_order(search, case)
    listed_limits, by_order = (
        _costs(case, choice, orders, histories) if exact_costs else _valued(inputs, orders)
    )
    limit = minimum + int(np.argmin(listed_limits.mean(axis=0)[minimum:]))
    as_listed = listed_limits[:, limit]

    def program(order: Order, cost: Array) -> Program:
        value, saving = _estimate(cost), _estimate(as_listed - cost)
        numbers = tuple(run + 1 for run in order)
        return Program(numbers, value.value, value.error, saving.value, saving.error)

    listed = program(tuple(case.program[:limit]), as_listed)
    programs = tuple(program(order, by_order[order]) for order in orders)
    candidate = programs[0]
    least = max(SURE * candidate.saving_error, ROUNDING * abs(listed.expected_cost))
    better = candidate.saving > least
    possible_gain = None
    if search.least is not None:
        best_cost = search.cheapest[0][0]
        if not better:
            best_cost = float(_costs(case, choice, (), histories)[0][0, limit])
        below = best_cost - search.least
        possible_gain = below if below > ROUNDING * abs(best_cost) else 0.0
    draws = inputs.scenario.draws
    return ProgramSearch(
        scenario=inputs.scenario,
        best=candidate if better else listed,
        listed=listed,
        candidate=candidate,
        better=better,
        exact=search.exact,
        possible_gain=possible_gain,
        looked_at=len(search.priced),
        programs=programs,
        n=0 if exact_costs else min(draws.n, VALUED),
        scrambles=draws.scrambles,
        seed=draws.seed,
    )


def precedence(inputs: Inputs) -> dict[int, Set[int]]:
    """Runs that must be made before each run, both counted from 0; those logged are made.

    Of runs that are alike the one listed first is made first.
    """
    made = {event.run for event in inputs.logged}
    runs = inputs.scenario.run
    before: dict[int, Set[int]] = {}
    for number, run in enumerate(runs):
        needed = {other - 1 for other in run.after}
        alike = [other for other in range(number) if _alike(inputs.scenario, other, number)]
        before[number] = (needed | set(alike[-1:])) - made
    return before


def _alike(scenario: Scenario, one: int, other: int) -> bool:
    """Whether two runs can change places in any program with no change of its cost."""
    numbers = (one + 1, other + 1)
    named = any(set(numbers) & set(run.after) for run in scenario.run)
    called = any(rental.call_out in numbers for rental in scenario.rental)
    linked = any(
        path.startswith(f"run.{number}.")
        for correlation in scenario.correlation
        for path in correlation.of
        for number in numbers
    )
    first, second = (_without_name(scenario.run[number]) for number in (one, other))
    return first == second and not (named or called or linked)


def _without_name(run: Run) -> Run:
    return run.model_copy(update={"name": "", "origin": ""})


def _searched(inputs: Inputs, n: int) -> tuple[Case, int, bool]:
    """Draws to choose on, histories to keep apart, and whether costs are exact."""
    draws = inputs.scenario.draws
    one_more = draws.model_copy(update={"scrambles": draws.scrambles + 1})
    aside = Inputs(
        inputs.scenario.model_copy(update={"draws": one_more}),
        logged=inputs.logged,
        beside=inputs.names,
    )
    exact_costs = not inputs.uncertain and _histories(inputs) <= TREE
    count = 1 if exact_costs else n
    case = aside.case(aside.sampler.scramble(draws.scrambles).block(count), count)
    return case, TREE if exact_costs else HISTORIES, exact_costs


def _histories(inputs: Inputs) -> int:
    """Histories there are after all the runs, in none of which the job has ended."""
    made = {event.run for event in inputs.logged}
    total = 1
    for number, run in enumerate(inputs.scenario.run):
        if number not in made:
            tables = run.odds_by_kind()
            total *= 1 + sum(
                any(getattr(odds, outcome) > 0 for odds in tables)
                for outcome in ("part", "top_damaged")
            )
    return total


def _in_order(search: Search, case: Case) -> list[Order]:
    """The cheapest programs; of those that cost the same, listed and short ones first."""
    cheapest = search.cheapest[0][0]

    def rank(found: tuple[float, int, Order]) -> tuple[float, bool, int, Order]:
        cost, length, order = found
        same = cost - cheapest <= ROUNDING * abs(cheapest)
        changed = order != tuple(case.program[:length])
        return (cheapest if same else cost, changed, length, order)

    return [order for _, _, order in sorted(search.cheapest, key=rank)]


def _valued(inputs: Inputs, orders: Sequence[Order]) -> tuple[Array, dict[Order, Array]]:
    """Costs on the draws of the answer, as `_costs` gives them, one row a scramble."""
    choice = choose(next(inputs.blocks(0, n=PILOT)))
    n = min(inputs.scenario.draws.n, VALUED)
    listed, found = [], []
    for scramble in range(inputs.sampler.scrambles):
        blocks = [
            _costs(case, choice, orders, histories=1) for case in inputs.blocks(scramble, n=n)
        ]
        listed.append(np.mean([limits for limits, _ in blocks], axis=0))
        found.append([np.mean([each[order] for _, each in blocks]) for order in orders])
    columns = np.array(found).T
    return np.concatenate(listed), dict(zip(orders, columns, strict=True))


def _costs(
    case: Case, choice: Choice | None, orders: Sequence[Order], histories: int
) -> tuple[Array, dict[Order, Array]]:
    """Expected costs [currency] of the limits of the listed order, shape (1, limits), and of
    each program, shape (1,)."""

    def limits(planned: Case) -> Array:
        cost = expected(planned, choice, histories=histories).cost
        return np.asarray(cost.sum(axis=0).mean(axis=1)[None])

    return limits(case), {order: limits(_planned(case, order))[:, -1] for order in orders}


def _planned(case: Case, order: Order) -> Case:
    """The case with a program, and without tools that serve none of its runs."""
    tools = begin(case).tools
    contracts = [
        contract
        for contract, tool in zip(case.contracts, tools, strict=True)
        if contract.held or tool.called is not None or contract.serves & set(order)
    ]
    return replace(case, program=list(order), contracts=contracts)


def _estimate(by_scramble: Array) -> Estimate:
    """Mean and error; without error where there is but one number, which is exact."""
    if len(by_scramble) == 1:
        return Estimate(float(by_scramble[0]), 0.0)
    return estimate(by_scramble)
