"""What each input does to the expected cost and to the best limit, and what would flip it.

All on one set of draws: the same random numbers on both sides of every comparison. Limits are
limits by runs (`econ.decision.quick`); the rule by state is no part of it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

from econ.decision.changes.break_even import break_evens, limit_map
from econ.decision.changes.drivers import DRAWS, Bench
from econ.decision.changes.importance import Importances, importances
from econ.decision.changes.knowing import Knowing, worth_of_knowing
from econ.decision.changes.outlook import Outlook, default_map
from econ.decision.changes.swings import (
    Swing,
    swings_of_amounts,
    swings_of_drivers,
    uncertain_amounts,
)
from econ.decision.estimates import Estimate, estimate
from econ.engine.inputs import Inputs
from econ.scenario.scenario import Scenario

if TYPE_CHECKING:
    import pandas


@dataclass(frozen=True)
class Sensitivity(Outlook):
    """Everything `econ sensitivity` says. Frozen; carries its draws and those of the scenario.

    draws: of each scramble; now, best_cost: cost [currency] of stopping now and of the best
    limit; linked: groups of amounts that are correlated.
    """

    scenario: Scenario
    draws: int
    now: Estimate
    best_cost: Estimate
    linked: tuple[tuple[str, ...], ...]
    knowing: tuple[Knowing, ...]
    importance: Importances

    def amounts_frame(self) -> pandas.DataFrame:
        """Swings of the uncertain amounts, two rows each: their P10 and their P90."""
        return _swings_frame(self.amounts)

    def drivers_frame(self) -> pandas.DataFrame:
        """Swings of the main drivers, two rows each: the ends of their steps."""
        return _swings_frame(self.drivers)

    def knowing_frame(self) -> pandas.DataFrame:
        """Worth of knowing each uncertain amount."""
        return _frame(self.knowing)

    def importance_frame(self) -> pandas.DataFrame:
        """Sobol' indices, one row an input."""
        return _frame(self.importance.inputs)

    def break_evens_frame(self) -> pandas.DataFrame:
        """Where the verdict flips."""
        return _frame(self.break_evens)

    def map_frame(self) -> pandas.DataFrame:
        """The best limit, rows and columns by the values of the two drivers."""
        import pandas

        if self.map is None:
            return pandas.DataFrame()
        rows = pandas.Index(self.map.rows, name=self.map.row)
        columns = pandas.Index(self.map.columns, name=self.map.column)
        return pandas.DataFrame(list(self.map.best), index=rows, columns=columns)


def sensitivity(
    scenario: Scenario, *, n: int = DRAWS, map_of: tuple[str, str] | None = None
) -> Sensitivity:
    """Sensitivity of a scenario as `econ.load` gives it; the scenario is not changed.

    n: draws of each scramble [a power of two]; map_of: drivers of the rows and columns of the
    map. Raises `DriverError` for one that this job does not have.

    >>> import econ
    >>> job = econ.load("scenarios/c_bit_cones.toml")
    >>> found = sensitivity(job, n=16, map_of=("workable", "fallback"))
    >>> found.amounts[0].name
    'fishing.workable'
    """
    bench = Bench(Inputs(scenario.in_field_units()), n=n)
    base = bench.limits()
    amounts = uncertain_amounts(bench, scenario)
    best = base.verdict.best
    return Sensitivity(
        scenario=scenario,
        draws=n,
        base=base,
        now=estimate(base.cost[:, 0]),
        best_cost=estimate(base.cost[:, best]),
        linked=bench.inputs.sampler.linked,
        map=default_map(bench)
        if map_of is None
        else limit_map(bench, row=map_of[0], column=map_of[1]),  # first, because it may refuse
        amounts=swings_of_amounts(bench, base, amounts),
        drivers=swings_of_drivers(bench, base),
        about=bench.described(),
        knowing=worth_of_knowing(bench, base, amounts),
        importance=importances(bench, amounts, best=best),
        break_evens=break_evens(bench),
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
