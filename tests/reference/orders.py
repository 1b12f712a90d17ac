"""Reference for the order of runs: every program there is, each through the outcome tree.

A program is an ordered selection of the runs, each at most once. A run with `after` needs those
runs before it in the program; a program has at least `minimum_runs`. Its cost is that of making
all of its runs and then stopping. What is written for a run moves with it, and `call_out` of a
rental contract means the run, wherever it comes; a program that leaves that run out calls the tool
at the first run that uses it, and one with no run that it serves never does.
"""

import copy
from collections.abc import Iterator
from itertools import permutations

from . import endings, outcome_tree, rentals
from .job import Table

Order = tuple[int, ...]  # numbers of runs, from 1


def keeps_precedence(raw: Table, order: Order) -> bool:
    """Return whether every run comes after the runs that must have been made before it."""
    return all(
        needed in order[:place]
        for place, number in enumerate(order)
        for needed in raw["run"][number - 1].get("after", [])
    )


def programs(raw: Table, *, longest: int | None = None) -> Iterator[Order]:
    """Yield every program of at most `longest` runs, the shorter ones first."""
    numbers = range(1, len(raw.get("run", [])) + 1)
    least = outcome_tree.minimum_runs(endings.completed(raw))
    most = len(numbers) if longest is None else min(longest, len(numbers))
    for size in range(least, most + 1):
        for order in permutations(numbers, size):
            if keeps_precedence(raw, order):
                yield order


def reordered(raw: Table, order: Order) -> Table:
    """Return a copy of the scenario whose runs are those of `order`, in that order."""
    other = copy.deepcopy(raw)
    other["run"] = [copy.deepcopy(raw["run"][number - 1]) for number in order]
    for run in other["run"]:
        run.pop("after", None)  # its numbers are those of the other program
    for contract in other.get("rental", []):
        call_out = contract.get("call_out", 0)
        if call_out in order:
            contract["call_out"] = order.index(call_out) + 1
        elif call_out > 0:
            del contract["call_out"]
    return other


def program_cost(raw: Table, order: Order) -> float:
    """Return the expected cost of making all runs of `order`, then stopping [currency]."""
    return rentals.expected_cost(reordered(raw, order))


def all_programs(raw: Table, *, longest: int | None = None) -> dict[Order, float]:
    """Return the expected cost of every program of at most `longest` runs [currency]."""
    return {order: program_cost(raw, order) for order in programs(raw, longest=longest)}


def cheapest_program(raw: Table, *, longest: int | None = None) -> tuple[Order, float]:
    """Return the program with the least expected cost, and that cost [currency].

    Of equal ones the shortest wins, then the one with the lower numbers first.
    """
    costs = all_programs(raw, longest=longest)
    best = min(costs, key=lambda order: (costs[order], len(order), order))
    return best, costs[best]
