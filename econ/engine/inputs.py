"""From a scenario to its columns of draws, and to blocks of draws as cases."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from econ.engine.case import (
    ENDS,
    RETRY,
    STICK,
    Case,
    Happened,
    outcome_column,
    place_column,
)
from econ.engine.learned_hours import LearnedHours, learned_hours
from econ.engine.level import begin, likelihood
from econ.engine.realise import KnownRuns, realise, uses_of
from econ.sampling import Column, Correlation, Sampler
from econ.scenario.amounts import Amount, mean_of
from econ.scenario.scenario import Scenario

Array = NDArray[np.float64]
PILOT = 64  # draws of each scramble
BLOCK = 4096  # draws walked at once: a few arrays of this size fit a processor's cache


class Inputs:
    """A scenario in field units with its columns: outcomes and events first, then amounts.

    logged: runs made already. beside: names of columns of a scenario to compare with, which
    then both draw alike: columns that only the other one uses are drawn and not looked at.
    hours_factor: on the hours of runs ahead, of a job that this one is compared with; left out,
    what the scenario and the log give.
    """

    def __init__(
        self,
        scenario: Scenario,
        *,
        logged: Sequence[Happened] = (),
        beside: Sequence[str] = (),
        hours_factor: float | None = None,
    ) -> None:
        amounts = list(scenario.amounts())
        events = [outcome_column(run) for run in range(len(scenario.run))]
        drawn = {path: distribution for path, distribution, _ in amounts}
        # Columns that came later stand last, so that the points of a file stay as they were.
        self.uses = uses = len(uses_of(scenario.run))
        later = [outcome_column(use) for use in range(len(events), uses)]
        if any(run.needs or run.bars or run.after for run in scenario.run):
            later += [place_column(place) for place in range(uses)]
        names = dict.fromkeys([*beside, *events, RETRY, STICK, *drawn])
        later = [name for name in later if name not in names]
        columns = [Column(name, drawn.get(name)) for name in [*names, *later]]
        links = [Correlation(of=tuple(each.of), rho=each.rho) for each in scenario.correlation]
        draws = scenario.draws
        self.names = list(names)  # of all columns but those that stand last
        self.scenario = scenario
        self.logged = tuple(logged)
        self._hours_factor = hours_factor
        self.paths = {id(distribution): path for path, distribution, _ in amounts}
        self.sampler = Sampler(
            columns, links, seed=draws.seed, scrambles=draws.scrambles, later=len(later)
        )
        self._amounts = amounts  # kept alive, because `paths` knows them by identity

    @property
    def minimum_runs(self) -> int:
        """Runs that must still be made; none once the job is over."""
        if self.logged and self.logged[-1].outcome in ENDS:
            return 0
        return max(0, self.scenario.minimum_runs - self.runs_made)

    @property
    def runs_made(self) -> int:
        """How many runs the log has; readings are none, nor is what was stopped half way."""
        return sum(event.finished and event.run < self.uses for event in self.logged)

    def mean(self, amounts: Iterable[Amount]) -> float:
        """Sum of the exact means of some amounts of the scenario."""
        return sum(mean_of(amount) for amount in amounts)

    @property
    def uncertain(self) -> bool:
        """Whether any amount is a distribution."""
        return bool(self._amounts)

    @cached_property
    def log_scale(self) -> float | None:
        """What the weights of all blocks of draws are divided by after a log; None without."""
        if not self.logged:
            return None
        n = min(PILOT, self.scenario.draws.most)
        case = replace(self.case(self.first(n), n * self.sampler.scrambles), log_scale=1.0)
        return likelihood(begin(case).weight)

    @cached_property
    def hours_learned(self) -> LearnedHours | None:
        """What the runs logged say about hours; None without a run that counts."""
        if not self.logged:
            return None
        n = min(PILOT, self.scenario.draws.most)
        planned = realise(
            self.scenario,
            self.first(n),
            n * self.sampler.scrambles,
            paths=self.paths,
            logged=self.logged,
        )
        fishing = self.scenario.fishing
        return learned_hours(planned, spread=fishing.hours_spread, scatter=fishing.hours_scatter)

    @cached_property
    def hours_factor(self) -> float:
        """What all hours of the runs ahead are multiplied by: 1, unless the file learns them."""
        if self._hours_factor is not None:
            return self._hours_factor
        found = self.hours_learned if self.scenario.fishing.learn_hours else None
        return 1.0 if found is None else found.factor

    def case(self, columns: Mapping[str, Array], n: int, known: KnownRuns | None = None) -> Case:
        """The scenario with `columns` of shape (n,) in it; after a log their weights have the
        mean 1. known: runs of other cases on the same columns."""
        return self.realised(self.scenario, columns, n, known=known)

    def realised(
        self,
        scenario: Scenario,
        columns: Mapping[str, Array],
        n: int,
        known: KnownRuns | None = None,
    ) -> Case:
        """The same of another scenario that has the distributions of this one; what was learned
        about hours stays."""
        return realise(
            scenario,
            columns,
            n,
            paths=self.paths,
            logged=self.logged,
            known=known,
            hours_factor=self.hours_factor,
        )

    def first(self, n: int) -> dict[str, Array]:
        """Columns of the first `n` draws of every scramble, one scramble after another."""
        return self.sampler.first(n)

    def pilot(self) -> Case:
        """The first draws of every scramble: they choose among fallbacks and make the rule."""
        n = min(PILOT, self.scenario.draws.most)
        return self.case(self.first(n), n * self.sampler.scrambles)

    def blocks(self, start: int, stop: int) -> Iterator[Case]:
        """Draws number `start` to `stop` of every scramble, one scramble after another, as cases
        of about BLOCK draws; `start` and `stop` are 0 or powers of two."""
        scrambles = self.sampler.scrambles
        size = 1 << max(0, (BLOCK // scrambles).bit_length() - 1)
        size = min(size, stop - start)
        for begun in range(start, stop, size):
            case = self.case(self.sampler.block(begun, size), size * scrambles)
            yield replace(case, log_scale=self.log_scale)
