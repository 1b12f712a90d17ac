"""Search of the programs by their prefixes, with a bound on what may follow each.

A prefix is some runs made in an order; stopping after it is a program. With E_k the weighted
cost of the ends of its k-th run and S that of stopping after the last,

    C(prefix) = E_1 + ... + E_k + S,

so a prefix of one run more is one step of the walk, and its bound (`order_bound`) is known
before that step is made:

1. beam: run by run, the prefixes of least bound are made, so many that a share of the effort
   is used;
2. best first: always the prefix of least bound, until none is below the cheapest LISTED
   programs found. The search is then exact. If the effort is spent before, the least bound
   left is what no program can beat.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Mapping, Sequence, Set
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from econ.decision.estimates import ROUNDING
from econ.decision.order.bound import Bounds
from econ.engine.case import Case
from econ.engine.choice import Choice
from econ.engine.level import Level, begin
from econ.engine.walk import Ending, make, stop

Array = NDArray[np.float64]
Order = tuple[int, ...]  # numbers of runs, from 0
LISTED = 5  # cheapest programs that are found for certain
BEAM_SHARE = 0.2  # of the effort
STEP = 6000  # elements of a level that make a step count for one more
HELD = 2**23  # elements of all levels held; a level that is not held is made again
MOST_EARLY = 5  # tools called out early of which all sets are gone through


@dataclass(frozen=True)
class Root:
    """Programs of `runs` that make at least one run of each set in `served`."""

    case: Case
    runs: Sequence[int]
    served: Sequence[Set[int]]
    bounds: Bounds | None  # None: no run is left
    all_tools: bool  # whether all sets of tools have a root

    @property
    def proven(self) -> bool:
        """Whether its bounds hold for every program."""
        return self.all_tools and (self.bounds is None or self.bounds.proven)


@dataclass(frozen=True)
class Prefix:
    """Runs made in an order: the state after them, what their ends came to [currency], and
    the bounds on going on by each further run [currency]."""

    order: Order
    level: Level
    ended: float
    cost: float
    children: Mapping[int, float]
    size: int


def roots(
    case: Case, choice: Choice | None, *, before: Mapping[int, Set[int]], minimum: int
) -> list[Root]:
    """One root for each set of the tools that are called out before a run that they serve, the
    set of all of them first.

    A program calls a tool only if it makes a run that the tool serves. A root has the tools
    of its set and no run that another of them serves.
    """
    state = begin(case)
    early = [
        number
        for number, (contract, tool) in enumerate(zip(case.contracts, state.tools, strict=True))
        if not contract.held
        and tool.called is None
        and contract.call_out is not None
        and contract.call_out not in contract.serves
    ]
    never = [number for number in early if not case.contracts[number].serves & set(case.program)]
    early = [number for number in early if number not in never]
    early, proven = early[:MOST_EARLY], len(early) <= MOST_EARLY
    found = []
    for count in range(len(early), -1, -1):
        for chosen in combinations(early, count):
            idle = [number for number in early if number not in chosen]
            barred: set[int] = set().union(*(case.contracts[number].serves for number in idle))
            idle += never
            tools = [tool for number, tool in enumerate(case.contracts) if number not in idle]
            runs = [run for run in case.program if run not in barred]
            alone = replace(case, contracts=tools)
            served = [case.contracts[number].serves for number in chosen]
            bounds = Bounds(alone, choice, runs, before=before, minimum=minimum) if runs else None
            found.append(Root(alone, runs, served, bounds, proven))
    return found


class Search:
    """Programs looked at. `cheapest`: the LISTED cheapest, with their costs [currency]; `least`:
    what every program costs at least, None if not known; `exact`: no program is cheaper."""

    def __init__(
        self,
        roots: Sequence[Root],
        choice: Choice | None,
        *,
        minimum: int,
        histories: int,
        effort: float,
    ) -> None:
        self.roots, self.choice = roots, choice
        self.minimum, self.histories, self.effort = minimum, histories, effort
        self.spent = 0.0
        self.priced: set[Order] = set()
        self.cheapest: list[tuple[float, int, Order]] = []
        self.held: dict[tuple[int, Order], Prefix] = {}
        self.held_size = 0
        listed = tuple(self.roots[0].case.program)
        for count in range(len(listed) + 1):
            self.prefix(0, listed[:count])
        proven = all(root.proven for root in roots)
        every = self.beam(BEAM_SHARE * effort if proven else effort, prune=proven)
        if proven:
            self.least: float | None = self.best_first()
            self.exact = self.least >= self.limit(1)
        else:
            self.exact = every and all(root.all_tools for root in roots)
            self.least = self.cheapest[0][0] if self.exact else None

    def limit(self, count: int) -> float:
        """Cost below which a program would be among the `count` cheapest, less rounding."""
        if len(self.cheapest) < count:
            return math.inf
        cost = self.cheapest[count - 1][0]
        return cost - ROUNDING * abs(cost)

    def beam(self, effort: float, *, prune: bool) -> bool:
        """Prefixes of least bound, run by run; whether all were made."""
        longest = max(1, *(len(root.runs) for root in self.roots))
        level = [(number, self.prefix(number, ())) for number in range(len(self.roots))]
        every = True
        for depth in range(1, longest + 1):
            ahead = sorted(
                (bound, number, (*prefix.order, run))
                for number, prefix in level
                for run, bound in prefix.children.items()
            )
            level = []
            for bound, number, order in ahead:
                if prune and bound >= self.limit(LISTED):
                    break
                if len(level) >= LISTED and self.spent >= effort * depth / longest:
                    every = False
                    break
                level.append((number, self.prefix(number, order)))
        return every

    def best_first(self) -> float:
        """Prefixes by rising bound; the least cost that any program can have."""
        ahead: list[tuple[float, int, Order]] = []
        for number in range(len(self.roots)):
            self.branch(ahead, number, self.prefix(number, ()))
        while ahead:
            bound, number, order = heapq.heappop(ahead)
            if bound >= self.limit(LISTED):
                break
            if self.spent >= self.effort:
                return min(bound, self.cheapest[0][0]) if self.cheapest else bound
            self.branch(ahead, number, self.prefix(number, order))
        return self.cheapest[0][0]

    def branch(self, ahead: list[tuple[float, int, Order]], number: int, prefix: Prefix) -> None:
        """Put the ways to go on from a prefix where their turn will come."""
        for run, bound in prefix.children.items():
            if bound < self.limit(LISTED):
                heapq.heappush(ahead, (bound, number, (*prefix.order, run)))

    def prefix(self, number: int, order: Order) -> Prefix:
        """A prefix of a root, made by one step from the one before unless it is held."""
        found = self.held.get((number, order))
        if found is not None:
            return found
        root = self.roots[number]
        if order:
            parent = self.prefix(number, order[:-1])
            made = make(
                root.case,
                self.choice,
                parent.level,
                order[-1],
                first=len(order) == 1,
                histories=self.histories,
            )
            level = made.following
            ended = parent.ended + sum(_expected(ending) for ending in made.ends)
        else:
            level, ended = begin(root.case), 0.0
        ending = stop(root.case, self.choice, level)
        cost = ended + _expected(ending)
        children: Mapping[int, float] = {}
        if root.bounds is not None:
            children = root.bounds.children(order, level, ending, ended=ended)
        arrays = (level.weight, level.top, level.damaged, level.days, level.cost)
        tools = [tool.worked.size for tool in level.tools]
        size = sum(array.size for array in arrays) + 2 * sum(tools)
        found = Prefix(order, level, ended, cost, children, size)
        self.hold(number, found)
        self.spent += 1.0 + size / STEP
        if len(order) >= self.minimum and all(served & set(order) for served in root.served):
            self.offer(cost, order)
        return found

    def hold(self, number: int, prefix: Prefix) -> None:
        """Hold a prefix, and let the oldest go where there are too many."""
        self.held[number, prefix.order] = prefix
        self.held_size += prefix.size
        while self.held_size > HELD and len(self.held) > 1:
            oldest = next(iter(self.held))
            self.held_size -= self.held.pop(oldest).size

    def offer(self, cost: float, order: Order) -> None:
        """Count a program and keep it if it is among the cheapest."""
        if order not in self.priced:
            self.priced.add(order)
            self.cheapest.append((cost, len(order), order))
            self.cheapest = sorted(self.cheapest)[:LISTED]


def _expected(ending: Ending) -> float:
    """Expected cost of an ending, weighted [currency]."""
    cost = ending.fishing if ending.bill is None else ending.fishing + ending.bill.mean()
    weighted: Array = ending.weight * cost
    return float(weighted.sum(axis=(0, 1)).mean())
