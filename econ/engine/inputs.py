"""From a scenario to its columns of draws, and to blocks of draws as cases."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from econ.engine.case import ENDS, RETRY, STICK, Case, Happened, outcome_column, realise
from econ.sampling import Column, Correlation, Sampler
from econ.scenario.scenario import Scenario

Array = NDArray[np.float64]
BLOCK = 4096  # draws walked at once: a few arrays of this size fit a processor's cache


class Inputs:
    """A scenario in field units with its columns: outcomes and events first, then amounts.

    logged: runs made already. beside: names of columns of a scenario to compare with, which
    then both draw alike: columns that only the other one uses are drawn and not looked at.
    """

    def __init__(
        self,
        scenario: Scenario,
        *,
        logged: Sequence[Happened] = (),
        beside: Sequence[str] = (),
    ) -> None:
        amounts = list(scenario.amounts())
        events = [outcome_column(run) for run in range(len(scenario.run))]
        drawn = {path: distribution for path, distribution, _ in amounts}
        names = dict.fromkeys([*beside, *events, RETRY, STICK, *drawn])
        columns = [Column(name, drawn.get(name)) for name in names]
        links = [Correlation(of=tuple(each.of), rho=each.rho) for each in scenario.correlation]
        draws = scenario.draws
        self.scenario = scenario
        self.logged = tuple(logged)
        self.paths = {id(distribution): path for path, distribution, _ in amounts}
        self.sampler = Sampler(columns, links, seed=draws.seed, scrambles=draws.scrambles)
        self._amounts = amounts  # kept alive, because `paths` knows them by identity

    @property
    def names(self) -> list[str]:
        """Names of the columns."""
        return [column.name for column in self.sampler.columns]

    @property
    def minimum_runs(self) -> int:
        """Runs that must still be made; none once the job is over."""
        if self.logged and self.logged[-1].outcome in ENDS:
            return 0
        return max(0, self.scenario.minimum_runs - len(self.logged))

    @property
    def uncertain(self) -> bool:
        """Whether any amount is a distribution."""
        return bool(self._amounts)

    def case(self, columns: Mapping[str, Array], n: int) -> Case:
        """The scenario with `columns` of shape (n,) in it."""
        return realise(self.scenario, columns, n, paths=self.paths, logged=self.logged)

    def first(self, n: int) -> dict[str, Array]:
        """Columns of the first `n` draws of every scramble, one scramble after another."""
        return self.sampler.first(n)

    def blocks(self, scramble: int, *, n: int) -> Iterator[Case]:
        """The first `n` draws of a scramble as cases of at most BLOCK draws."""
        points = self.sampler.scramble(scramble)
        size = min(n, BLOCK)
        for _ in range(n // size):
            yield self.case(points.block(size), size)
