"""Which marks can come to hold, and which runs can be made, whatever the outcomes.

Found by letting everything that may happen happen, in any order and as often as it can: marks
held at the start, marks given by runs that can be made, marks taken by them. What is not reached
so is never reached. The reverse is not sure: two marks that each can hold may never do so at the
same time.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from econ.scenario.marks import DAMAGED_TOP, made
from econ.scenario.program import Run
from econ.scenario.scenario import Scenario


@dataclass(frozen=True)
class Reach:
    """Marks that can hold, marks of the start that can go, and numbers of runs from 1."""

    holding: frozenset[str]
    lasting: frozenset[str]  # marks of the start that no run can take
    runs: frozenset[int]


def reach(scenario: Scenario, *, heed_bars: bool, granted: Collection[int] = ()) -> Reach:
    """What can be reached.

    heed_bars: False as if no mark barred a run. granted: numbers of runs that are made in any
    case, so that what is wrong with them is not laid to others.
    """
    start = frozenset(scenario.fish.marks)
    holding, gone, runs = set(start), set[str](), set[int]()

    def open_now(run: Run) -> bool:
        barred = heed_bars and (start - gone) & set(run.all_bars)
        return not barred and holding >= set(run.all_needs)

    while new := {
        number
        for number, run in enumerate(scenario.run, start=1)
        if number not in runs and (number in granted or open_now(run))
    }:
        runs |= new
        for number in new:
            run = scenario.run[number - 1]
            holding.add(made(number))
            if run.does_own_job:
                holding |= {*run.gives}
                gone |= {*run.takes}
            if any(odds.top_damaged > 0 for odds in run.odds_by_kind()):
                holding.add(DAMAGED_TOP)
            if run.dresses_top:
                gone.add(DAMAGED_TOP)
    return Reach(frozenset(holding), start - gone, frozenset(runs))
