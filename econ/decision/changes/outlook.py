"""What would change the answer, in the second or two that a report has: swings, break-evens, map.

`econ.decision.changes.sensitivity` says the same on more draws, with indices and worths beside
it, but takes no log.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from econ.decision.changes.break_even import BreakEven, LimitMap, break_evens, limit_map
from econ.decision.changes.drivers import Bench, Driver
from econ.decision.changes.swings import (
    Swing,
    swings_of_amounts,
    swings_of_drivers,
    uncertain_amounts,
)
from econ.decision.quick import DRAWS, Quick
from econ.decision.run_log import inputs_after
from econ.scenario.run_log import LoggedRun
from econ.scenario.scenario import Scenario

ROWS, COLUMNS = ("workable", "next_odds", "spread"), ("fallback", "spread")  # the first it has


@dataclass(frozen=True)
class Outlook:
    """What moves the answer of a job. Frozen.

    base: limits of the job as it stands; amounts, drivers: swings of the uncertain amounts and
    of the main drivers, which `about` describes; break_evens: where the verdict flips; map: of
    the best limit over two drivers.
    """

    base: Quick
    amounts: tuple[Swing, ...]
    drivers: tuple[Swing, ...]
    about: tuple[Driver, ...]
    break_evens: tuple[BreakEven, ...]
    map: LimitMap | None

    @property
    def best(self) -> int:
        """The best limit [runs]."""
        return self.base.verdict.best

    def driver(self, name: str) -> Driver:
        """The driver of a name."""
        return next(driver for driver in self.about if driver.name == name)


def outlook(scenario: Scenario, log: Sequence[LoggedRun] = (), *, n: int = DRAWS) -> Outlook:
    """Outlook of a scenario as `econ.load` gives it, after a log if one is given.

    n: draws of each scramble [a power of two].

    >>> import econ
    >>> found = outlook(econ.load("scenarios/point/a_land_twist_off.toml"))
    >>> found.best, [each.driver for each in found.break_evens][:2]
    (3, ['spread', 'rig'])
    """
    bench = Bench(inputs_after(scenario, log), n=n)
    base = bench.limits()
    return Outlook(
        base=base,
        amounts=swings_of_amounts(bench, base, uncertain_amounts(bench, scenario)),
        drivers=swings_of_drivers(bench, base),
        about=bench.described(),
        break_evens=break_evens(bench, ("best limit",)),
        map=default_map(bench),
    )


def default_map(bench: Bench) -> LimitMap | None:
    """The map of the first drivers of ROWS and COLUMNS that the job has; None without a run."""
    if not bench.case.program:
        return None
    row = next(name for name in ROWS if name in bench.drivers)
    column = next((each for each in COLUMNS if each in bench.drivers and each != row), None)
    return None if column is None else limit_map(bench, row=row, column=column)
