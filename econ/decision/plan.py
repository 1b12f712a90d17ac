"""The plan: in every state the run to make next, or to stop.

With S the cost of stopping in a state, E_r the cost that run r adds there, its ends included, and
V the values of the states it may lead to (`econ.engine.states`, all of them weighted),

    V = min( S, min over r of E_r + sum of V )

by backward induction from the last states. The plan is chosen on a scramble of its own, which no
figure is taken from, and then valued on the draws of the answer: on the draws that a plan was
chosen on it would look better than it is. What else could be done in a state, and what that costs
more, is the action that came second in the choice, valued on the same draws and followed by the
plan. A gain that is not beyond its error is none.

Where there are too many states, the likeliest are gone on from, and in the others fishing stops.
What that can cost is a bound: the plan would save no more if fishing in those others came to no
more than the work after recovery.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence, Set
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray

from econ.decision.estimates import Estimate, estimate
from econ.decision.figures import walked
from econ.decision.limits import verdict
from econ.decision.run_log import inputs_after
from econ.engine.case import Case
from econ.engine.choice import choose
from econ.engine.curves import Curves
from econ.engine.inputs import Inputs
from econ.engine.level import begin
from econ.engine.marks import words_of
from econ.engine.states import Runs, States, Table, find, runs_made, valued
from econ.scenario.framed import Framed
from econ.scenario.run_log import READS, LoggedRun
from econ.scenario.scenario import Scenario

if TYPE_CHECKING:
    import pandas

Array = NDArray[np.float64]
Do = int | str  # number of a run from 1, as in the file; the name of a reading; or "stop"
DRAWS = 256  # that a plan is chosen on, times kinds of fish
LEAST_DRAWS = 16
MOST = 1000  # states of a level that are gone on from
EFFORT = 6500  # runs made from states in all, about a second; a third where kinds are many
MANY_KINDS = 4
FEW_STATES, LITTLE = 150, 6000  # of a level, and effort, for the plan of an answer
PAYS = 0.01  # of the cost: what a plan must save at the least to be named in an answer
FOLDED = 0.002  # chance below which a state is not shown
ALL_NODES = 2000  # of a tree that is shown
READ = {outcome: reads for reads, outcome in READS.items()}


@dataclass(frozen=True, repr=False)
class NextBest(Framed):
    """What else could be done, and what that costs more in that state [currency]."""

    do: Do
    costs_more: Estimate


@dataclass(frozen=True, repr=False)
class Belief(Framed):
    """The chance that a doubt is in favour, in a state."""

    doubt: str
    chance: Estimate


@dataclass(frozen=True, repr=False)
class PlanNode(Framed):
    """A state that the plan reaches, and what it does there.

    id, parent: numbers in the tree, the first state is number 0 and has no parent; after: the
    outcome that leads here, or what a reading reads; do: the run to make or the reading to take;
    chance: of getting here; odds: that this run recovers, None of a reading; fish_top [ft]; marks:
    that hold; day: when it begins [d from now]; cost_from_here: expected, without what was spent
    before [currency]; next_best: None where there is no choice.
    """

    id: int
    parent: int | None
    after: str | None
    do: Do
    chance: Estimate
    belief: tuple[Belief, ...]
    odds: Estimate | None
    fish_top: float
    marks: tuple[str, ...]
    day: float
    cost_from_here: Estimate
    next_best: NextBest | None


@dataclass(frozen=True, repr=False)
class Plan(Framed):
    """What to do in every state.

    draws: of each scramble that figures are from, 1 where nothing is drawn; expected_cost
    [currency]; gain: over the best limit of the list, on the same draws [currency]; limit: that
    limit [runs]; probability_recovered; mean_days: of fishing [d]; longest_days: of its longest
    branch [d]; recovered_day, stopped_day: mean day on which the fish is out, and on which fishing
    ends without it [d from now], None where that cannot be; nodes: the tree from the state now,
    those under `folded_below` not among them; folded: how many these are; unused: runs of the list
    (from 1) that no state uses; states: how many were looked at; gap: what was given up by not
    looking at more, at the most [currency].
    """

    scenario: Scenario
    draws: int
    expected_cost: Estimate
    gain: Estimate
    limit: int
    probability_recovered: Estimate
    mean_days: Estimate
    longest_days: float
    recovered_day: float | None
    stopped_day: float | None
    nodes: tuple[PlanNode, ...]
    folded: int
    folded_below: float
    unused: tuple[int, ...]
    states: int
    gap: float

    def _rows(self) -> Sequence[PlanNode]:
        return self.nodes

    @property
    def fish(self) -> bool:
        """Whether it begins with a run, or with a reading."""
        return self.nodes[0].do != "stop"

    @property
    def better(self) -> bool:
        """Whether it is cheaper than the best limit of the list, beyond the error."""
        return self.gain.value > 0 and self.gain.resolved(self.expected_cost.value)

    @property
    def first(self) -> str:
        """What it begins with, a run by number and name; empty where it stops."""
        return self.named(self.nodes[0].do) if self.fish else ""

    def named(self, do: Do) -> str:
        """Number and name of a run, or the name of a reading."""
        return self.scenario.named(do - 1) if isinstance(do, int) else f"the reading {do}"

    @property
    def pays(self) -> bool:
        """Whether it is cheaper by more than its error and PAYS."""
        limit = self.expected_cost.value + self.gain.value
        return self.better and self.gain.value > PAYS * abs(limit)

    def to_frame(self) -> pandas.DataFrame:
        """One row a state."""
        return super().to_frame()


@dataclass(frozen=True)
class _Policy:
    """Actions by level and place, None to stop: the best and the second best; gap: see `Plan`."""

    best: Sequence[Sequence[int | None]]
    second: Sequence[Sequence[int | Literal["none"] | None]]
    gap: float


def plan(scenario: Scenario, log: Sequence[LoggedRun] = ()) -> Plan:
    """The plan of a scenario, after a log if it is not empty; see the head of the module.

    Raises TypeError for anything but a `Scenario`. Money is in the currency of the scenario.

    >>> import econ
    >>> found = econ.plan(econ.load("scenarios/point/a_land_twist_off.toml"))
    >>> found.nodes[0].do, f"{found.expected_cost.value:,.0f}"
    (1, '482,580')
    """
    if not isinstance(scenario, Scenario):
        raise TypeError(f"plan() takes a Scenario, not {type(scenario).__name__}; econ.load(path)")
    inputs = inputs_after(scenario, log)
    (found,) = walked([inputs], distributions=False)
    effort = EFFORT if 2 ** len(scenario.doubts) <= MANY_KINDS else EFFORT // 3
    return replace(plan_of(inputs, found, effort=effort), scenario=scenario)  # in the file's units


def plan_of(inputs: Inputs, curves: Curves, *, most: int = MOST, effort: int = EFFORT) -> Plan:
    """The plan of a job as it stands.

    curves: of its list; most: states of a level that are gone on from; effort: runs that
    are made from states, in all of them.
    """
    minimum = inputs.minimum_runs
    choice = choose(inputs.pilot())
    case = _draws_to_choose_on(inputs)
    states, tables = find(case, choice, most=most, effort=effort, minimum=minimum)
    policy = _policy(states, tables, case, minimum=minimum, listed=len(inputs.scenario.run))
    wanted = _wanted(states, policy)
    scrambles = inputs.sampler.scrambles
    summed: list[Table] = []
    root = weight = np.zeros(scrambles)
    # Where nothing is drawn, every draw is the same, and there is no outcome left to sample.
    n = curves.n if inputs.uncertain else 1
    for block in inputs.blocks(0, n):
        now = begin(block)
        root = root + _by_scramble(now.weight * now.cost, block, scrambles)
        weight = weight + _by_scramble(now.weight, block, scrambles)
        here = valued(block, choice, states, wanted, scrambles=scrambles)
        if summed:
            here = [one.added(two) for one, two in zip(summed, here, strict=True)]
        summed = here
    return _Reader(inputs, curves, states, policy, summed, root, weight, n).plan()


def _draws_to_choose_on(inputs: Inputs) -> Case:
    """Draws of a scramble that no figure is taken from; one where nothing is drawn."""
    if not inputs.uncertain:
        return inputs.case({name: drawn[:1] for name, drawn in inputs.first(1).items()}, 1)
    kinds = 2 ** len(inputs.scenario.doubts)
    n = min(max(LEAST_DRAWS, DRAWS // kinds), inputs.scenario.draws.most)
    draws = inputs.scenario.draws
    one_more = draws.model_copy(update={"scrambles": draws.scrambles + 1})
    scenario = inputs.scenario.model_copy(update={"draws": one_more})
    aside = Inputs(
        scenario,
        logged=inputs.logged,
        beside=inputs.names,
        hours_factor=inputs.hours_factor,
    )
    return aside.case({name: drawn[-n:] for name, drawn in aside.first(n).items()}, n)


def _by_scramble(values: Array, case: Case, scrambles: int) -> Array:
    together = np.broadcast_to(values.sum(axis=(0, 1)), (case.n,))
    return np.asarray(together.reshape(scrambles, -1).sum(axis=1))


def _policy(
    states: States, tables: Sequence[Table], case: Case, *, minimum: int, listed: int
) -> _Policy:
    """The best and the second best action in every state, by backward induction. listed: how many
    runs the file has."""
    recovery = float(np.mean(case.recovery_cost))
    best: list[list[int | None]] = []
    second: list[list[int | Literal["none"] | None]] = []
    after: list[float] = []
    least_after: list[float] = []
    for depth in range(len(states.levels) - 1, -1, -1):
        level, table = states.levels[depth], tables[depth]
        actions: list[list[tuple[float, int | None]]] = [[] for _ in level]
        least = [float("inf")] * len(level)
        for run, of_run in table.runs.items():
            costs = of_run.cost.sum(axis=1).tolist()
            for cost, place in zip(costs, of_run.places, strict=True):
                branches = level[place].branches.get(run, ())
                more = sum([share * after[child] for _, child, share in branches])
                actions[place].append((cost + more, run))
                hoped = sum([share * least_after[child] for _, child, share in branches])
                least[place] = min(least[place], cost + hoped)
        stops = table.stop.sum(axis=1).tolist()
        weights = table.weight.sum(axis=(1, 2))
        for place, options in enumerate(actions):
            # A run not yet made may be owed; another use of one, or a reading, never is.
            short = minimum > 0 and runs_made(case, states.levels[0][0], level[place]) < minimum
            owed = short and any(run is not None and run < listed for _, run in options)
            if place >= states.known[depth] and short:
                options.append((float("inf"), None))  # not looked at, and no stop is allowed
            elif not owed:
                options.append((stops[place], None))
                least[place] = min(least[place], stops[place])
            options.sort(key=lambda option: (option[0], option[1] is not None, option[1]))
            if place >= states.known[depth]:
                out = recovery * float(weights[place])
                least[place] = min(stops[place], out)
        best.append([options[0][1] for options in actions])
        second.append([options[1][1] if len(options) > 1 else "none" for options in actions])
        after = [options[0][0] for options in actions]
        least_after = least
    gap = max(0.0, after[0] - least_after[0]) / case.n if not states.complete else 0.0
    return _Policy(best[::-1], second[::-1], gap)


def _wanted(states: States, policy: _Policy) -> list[Runs]:
    """Runs from the states that the plan reaches, and from those behind what comes second."""
    on: Set[int] = {0}
    off: Set[int] = set()
    wanted: list[Runs] = []
    for depth, level in enumerate(states.levels):
        runs: dict[int, list[int]] = {}
        next_on: set[int] = set()
        next_off: set[int] = set()
        for place in sorted(on | off):
            best, second = policy.best[depth][place], policy.second[depth][place]
            if best is not None:
                runs.setdefault(best, []).append(place)
                for branch in level[place].branches.get(best, ()):
                    child = branch.child
                    if place in on:
                        next_on.add(child)
                    else:
                        next_off.add(child)
            shown = place in on and level[place].chance >= FOLDED
            if shown and isinstance(second, int):
                runs.setdefault(second, []).append(place)
                next_off |= {branch.child for branch in level[place].branches.get(second, ())}
        wanted.append(runs)
        on, off = next_on, next_off - next_on
        if not on | off:
            break
    return wanted


@dataclass
class _Tree:
    """The states that a plan reaches: nodes that are shown, how many are folded, days of the
    longest branch [d], the runs used, and chance and day [d from now] of all places where the fish
    comes out, and where fishing stops without it."""

    nodes: list[PlanNode] = field(default_factory=list)
    folded: int = 0
    longest: float = 0.0
    used: set[Do] = field(default_factory=set)
    recovered: list[tuple[float, float]] = field(default_factory=list)
    stopped: list[tuple[float, float]] = field(default_factory=list)


def _mean_day(places: Sequence[tuple[float, float]]) -> float | None:
    """Mean day of places with their chances; None where there is none."""
    chance = sum(each for each, _ in places)
    return sum(each * day for each, day in places) / chance if chance > 0 else None


class _Reader:
    """Reads a plan off the tables of its states."""

    def __init__(
        self,
        inputs: Inputs,
        curves: Curves,
        states: States,
        policy: _Policy,
        tables: Sequence[Table],
        root: Array,
        weight: Array,
        n: int,
    ) -> None:
        self.inputs, self.found, self.states, self.policy = inputs, curves, states, policy
        self.tables, self.root, self.weight, self.n = tables, root, weight, n
        self.rows = [
            {
                run: {place: row for row, place in enumerate(of.places)}
                for run, of in each.runs.items()
            }
            for each in tables
        ]
        self.values: dict[tuple[int, int], Mapping[str, Array]] = {}
        self.pilot = inputs.pilot()

    def plan(self) -> Plan:
        total = self.mean(self.root + self.value(0, 0)["cost"])
        minimum = self.inputs.minimum_runs
        best = verdict(self.found.cost, minimum=minimum).best
        tree = self.tree()
        listed = [use + 1 for use in self.pilot.program]
        value = self.value(0, 0)
        return Plan(
            scenario=self.inputs.scenario,
            draws=self.n,
            expected_cost=estimate(total),
            gain=estimate(self.found.cost[:, best] - total),
            limit=best,
            probability_recovered=estimate(self.mean(value["recovered"])),
            mean_days=estimate(self.mean(value["hours"]) / 24.0),
            longest_days=tree.longest,
            recovered_day=_mean_day(tree.recovered),
            stopped_day=_mean_day(tree.stopped),
            nodes=tuple(tree.nodes),
            folded=tree.folded,
            folded_below=FOLDED,
            unused=tuple(run for run in listed if run not in tree.used),
            states=self.states.size,
            gap=self.policy.gap,
        )

    def mean(self, sums: Array) -> Array:
        """By scramble, from sums over its draws; see `Curves` on weights after a log."""
        if not self.inputs.logged:
            return sums / self.n
        ratio = sums.sum() / self.weight.sum()
        return np.asarray(ratio + (sums - ratio * self.weight) / self.weight.mean())

    def after(self, depth: int, place: int, run: int) -> Mapping[str, Array]:
        """Cost, weight of recovery and hours from a state on, if a run is made and then the plan
        is followed."""
        table, row = self.tables[depth].runs[run], self.rows[depth][run][place]
        total = {name: getattr(table, name)[row] for name in ("cost", "recovered", "hours")}
        for branch in self.states.levels[depth][place].branches.get(run, ()):
            more = self.value(depth + 1, branch.child)
            total = {name: values + branch.share * more[name] for name, values in total.items()}
        return total

    def value(self, depth: int, place: int) -> Mapping[str, Array]:
        """The same if the plan is followed."""
        if (depth, place) not in self.values:
            run = self.policy.best[depth][place]
            if run is None:
                stop = self.tables[depth].stop[place]
                none = np.zeros_like(stop)
                self.values[depth, place] = {"cost": stop, "recovered": none, "hours": none}
            else:
                self.values[depth, place] = self.after(depth, place, run)
        return self.values[depth, place]

    def tree(self) -> _Tree:
        """The states that the plan reaches."""
        tree = _Tree()
        begun = float(np.mean(begin(self.pilot).days))
        waiting: list[tuple[int, int, int | None, str | None, float, float]] = [
            (0, 0, None, None, 1.0, begun)
        ]
        while waiting:
            depth, place, parent, outcome, share, day = waiting.pop(0)
            chance = estimate(self.mean(share * self.tables[depth].weight[place].sum(axis=0)))
            run = self.policy.best[depth][place]
            tree.longest = max(tree.longest, day - begun)
            if run is not None:
                tree.used.add(self._do(run))
            shown = (chance.value >= FOLDED or depth == 0) and len(tree.nodes) < ALL_NODES
            tree.folded += not shown
            number = len(tree.nodes)
            if shown:
                tree.nodes.append(self._node(depth, place, number, parent, outcome, chance, day))
            if run is None:
                tree.stopped.append((chance.value, day))
                continue
            made, row = self.tables[depth].runs[run], self.rows[depth][run][place]
            here = self.tables[depth].weight[place].sum()
            after = day + float(made.hours[row].sum() / here) / 24.0
            tree.longest = max(tree.longest, after - begun)
            branches = self.states.levels[depth][place].branches.get(run, ())
            out = chance.value * float(made.recovered[row].sum() / here)
            lost = chance.value - out
            for branch in branches:
                weight = self.tables[depth + 1].weight[branch.child].sum(axis=0)
                lost -= estimate(self.mean(share * branch.share * weight)).value
            tree.recovered.append((out, after))
            tree.stopped.append((max(lost, 0.0), after))
            if not shown:
                continue
            reads = run >= self.pilot.uses
            waiting += [
                (
                    depth + 1,
                    branch.child,
                    number,
                    READ[branch.outcome] if reads else branch.outcome,
                    share * branch.share,
                    after,
                )
                for branch in branches
            ]
        return tree

    def _node(
        self,
        depth: int,
        place: int,
        number: int,
        parent: int | None,
        outcome: str | None,
        chance: Estimate,
        day: float,
    ) -> PlanNode:
        table, state = self.tables[depth], self.states.levels[depth][place]
        by_kind = table.weight[place]
        weight = by_kind.sum(axis=0)
        run, second = self.policy.best[depth][place], self.policy.second[depth][place]
        value = self.value(depth, place)["cost"]
        odds = None
        if run is not None and run < self.pilot.uses:
            odds = _ratio(
                self.tables[depth].runs[run].recovered[self.rows[depth][run][place]], weight
            )
        next_best = None
        if second is None:
            next_best = NextBest("stop", _ratio(table.stop[place] - value, weight))
        elif second != "none" and place in self.rows[depth].get(second, {}):
            other = self.after(depth, place, second)["cost"]
            next_best = NextBest(self._do(second), _ratio(other - value, weight))
        kinds = np.arange(len(by_kind))
        return PlanNode(
            id=number,
            parent=parent,
            after=outcome,
            do="stop" if run is None else self._do(run),
            chance=chance,
            belief=tuple(
                Belief(doubt.name, _ratio(by_kind[(kinds >> d & 1) == 0].sum(axis=0), weight))
                for d, doubt in enumerate(self.inputs.scenario.doubts)
            ),
            odds=odds,
            fish_top=float(table.top[place].sum() / weight.sum()),
            marks=tuple(words_of(state.marks, self.inputs.scenario.marks)),
            day=day,
            cost_from_here=_ratio(value if depth else value + self.root, weight),
            next_best=next_best,
        )

    def _do(self, use: int) -> Do:
        """Number of a run in the file, from 1, or the name of a reading."""
        about = self.pilot.runs[use]
        return about.number + 1 if use < self.pilot.uses else about.name


def _ratio(over: Array, under: Array) -> Estimate:
    """A ratio of sums by scramble with the error of a ratio."""
    value = float(over.sum() / under.sum())
    return Estimate(value, estimate((over - value * under) / under.mean()).error)
