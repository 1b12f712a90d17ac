"""What each input does to the expected cost and to the best limit, and what would flip it.

All on one set of draws: the same random numbers on both sides of every comparison. Limits are
limits by runs (`econ.decision.quick`); the rule by state is no part of it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from econ.decision.estimates import Estimate, estimate
from econ.decision.limits import Verdict
from econ.decision.quick import DRAWS
from econ.decision.run_log import inputs_after
from econ.decision.sensitivity.bench import Bench
from econ.decision.sensitivity.break_even import (
    BreakEven,
    LimitMap,
    break_evens,
    default_map,
    flips,
    limit_map,
)
from econ.decision.sensitivity.importance import Importances, importances
from econ.decision.sensitivity.inputs import Input
from econ.decision.sensitivity.swings import (
    Swing,
    swings_of_amounts,
    swings_of_inputs,
    uncertain_amounts,
)
from econ.decision.sensitivity.value_of_knowing import Worth, worth_of_knowing
from econ.scenario.run_log import LoggedRun
from econ.scenario.scenario import Scenario

if TYPE_CHECKING:
    import pandas

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Sensitivity:
    """What moves the answer of a job. Frozen; two of them are the same only if they are one.

    draws: of each scramble; cost: of every limit [currency], shape (scrambles, limits); verdict:
    which of them is best; now, best_cost: cost [currency] of stopping now and of the best limit;
    linked: groups of amounts that are correlated.
    amounts: swings of the uncertain amounts, the largest first; inputs: the main inputs; swings:
    theirs, in the same order; break_evens: where the verdict flips; map: the best limit over two
    of the main inputs, None without a run.
    worths: what it is worth to know each amount; importance: Sobol' indices; both empty where
    they were not asked for. log: runs made; least_runs: that must still be made; indices_left_out:
    whether there are no indices because the log binds amounts together that were independent.
    """

    scenario: Scenario
    draws: int
    cost: Array
    verdict: Verdict
    now: Estimate
    best_cost: Estimate
    linked: tuple[tuple[str, ...], ...]
    amounts: tuple[Swing, ...]
    inputs: tuple[Input, ...]
    swings: tuple[Swing, ...]
    break_evens: tuple[BreakEven, ...]
    map: LimitMap | None
    worths: tuple[Worth, ...]
    importance: Importances
    log: tuple[LoggedRun, ...] = ()
    least_runs: int = 0
    indices_left_out: bool = False

    @property
    def best(self) -> int:
        """The best limit [runs]."""
        return self.verdict.best

    @property
    def flips(self) -> tuple[BreakEven, ...]:
        """Where the verdict on the best limit flips; with a single run that on this run."""
        return flips(self.break_evens)

    def input(self, name: str) -> Input:
        """The main input of a name."""
        return next(about for about in self.inputs if about.name == name)

    def __repr__(self) -> str:
        return (
            f"Sensitivity(best={self.best}, {len(self.amounts)} uncertain amounts, "
            f"{len(self.inputs)} main inputs, {self.draws} draws)"
        )

    def to_frame(self) -> pandas.DataFrame:
        """Every swing, two rows each: the uncertain amounts from P10 to P90, then the main inputs
        by fixed steps; `basis` says which."""
        import pandas

        frames = {"range": self.amounts_frame(), "step": self.inputs_frame()}
        made = [frame.assign(basis=basis) for basis, frame in frames.items() if len(frame)]
        return pandas.concat(made, ignore_index=True)

    def amounts_frame(self) -> pandas.DataFrame:
        """Swings of the uncertain amounts, two rows each: their P10 and their P90."""
        return _swings_frame(self.amounts)

    def inputs_frame(self) -> pandas.DataFrame:
        """Swings of the main inputs, two rows each: the ends of their steps."""
        return _swings_frame(self.swings)

    def worths_frame(self) -> pandas.DataFrame:
        """Worth of knowing each uncertain amount."""
        return _frame(self.worths)

    def importance_frame(self) -> pandas.DataFrame:
        """Sobol' indices, one row an input."""
        return _frame(self.importance.inputs)

    def break_evens_frame(self) -> pandas.DataFrame:
        """Where the verdict flips."""
        return _frame(self.break_evens)

    def map_frame(self) -> pandas.DataFrame:
        """The best limit, rows and columns by the values of the two inputs."""
        import pandas

        if self.map is None:
            return pandas.DataFrame()
        rows = pandas.Index(self.map.rows, name=self.map.row)
        columns = pandas.Index(self.map.columns, name=self.map.column)
        return pandas.DataFrame(list(self.map.best), index=rows, columns=columns)


def sensitivity(
    scenario: Scenario,
    log: Sequence[LoggedRun] = (),
    *,
    n: int = DRAWS,
    map_of: tuple[str, str] | None = None,
    learning: bool = True,
) -> Sensitivity:
    """Sensitivity of a scenario as `econ.load` gives it, after a log if one is given; the
    scenario is not changed.

    n: draws of each scramble [a power of two]; map_of: main inputs of the rows and columns of the
    map; learning: whether to work out the worth of knowing the amounts, and their indices. Raises
    `InputError` for an input that this job does not have, ScenarioError for a log that it cannot
    have had.

    >>> import econ
    >>> job = econ.load("scenarios/c_bit_cones.toml")
    >>> told = sensitivity(job, n=16, map_of=("workable", "fallback"))
    >>> told.amounts[0].name
    'fishing.workable'
    """
    bench = Bench(inputs_after(scenario, log), n=n)
    made = (
        default_map(bench) if map_of is None else limit_map(bench, row=map_of[0], column=map_of[1])
    )
    amounts = uncertain_amounts(bench, scenario)
    cost, judged = bench.base.cost, bench.base.verdict
    swings = swings_of_amounts(bench, amounts)
    idle = {swing.name for swing in swings if swing.size == 0.0}
    bound = bool(bench.told)
    return Sensitivity(
        scenario=scenario,
        draws=n,
        cost=cost,
        verdict=judged,
        now=estimate(cost[:, 0]),
        best_cost=estimate(cost[:, judged.best]),
        linked=bench.job.sampler.linked,
        amounts=swings,
        inputs=tuple(bench.inputs.values()),
        swings=swings_of_inputs(bench),
        break_evens=break_evens(bench),
        map=made,
        worths=worth_of_knowing(bench, amounts) if learning else (),
        importance=importances(bench, amounts, best=judged.best, idle=idle)
        if learning and not bound
        else Importances(0, 0.0, ()),
        log=tuple(log),
        least_runs=bench.job.minimum_runs,
        indices_left_out=learning and bound,
    )


def _swings_frame(swings: Sequence[Swing]) -> pandas.DataFrame:
    import pandas

    rows = []
    for swing in swings:
        for end in ("low", "high"):
            side = getattr(swing, end)
            rows.append(
                {
                    "name": swing.name,
                    "end": end,
                    "value": side.value,
                    "unit": swing.unit,
                    "after_log": swing.after_log,
                    "best": side.best,
                    "limit_resolved": side.limit_resolved,
                    "cost": side.cost.value,
                    "cost_error": side.cost.error,
                    "change": side.change.value,
                    "change_error": side.change.error,
                    "change_kept": side.change_kept.value,
                    "change_kept_error": side.change_kept.error,
                    "resolved": side.resolved,
                }
            )
    return pandas.DataFrame(rows)


def _frame(rows: Sequence[Any]) -> pandas.DataFrame:
    import pandas

    return pandas.DataFrame([asdict(row) for row in rows])
