"""What would change the answer, in the second that a report has: swings, break-evens, map.

The same as in `econ.decision.changes.sensitivity` on fewer draws, without indices and worths, and
also for a job whose log is given.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from econ.decision.changes.break_even import BreakEven, LimitMap, break_evens
from econ.decision.changes.drivers import Bench, Driver
from econ.decision.changes.sensitivity import default_map
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


@dataclass(frozen=True)
class Outlook:
    """Swings of the uncertain amounts and of the main drivers, where the verdict flips, and the
    map of the best limit; `about` describes the drivers."""

    base: Quick
    amounts: tuple[Swing, ...]
    drivers: tuple[Swing, ...]
    about: tuple[Driver, ...]
    break_evens: tuple[BreakEven, ...]
    map: LimitMap | None

    def driver(self, name: str) -> Driver:
        """The driver of a name."""
        return next(driver for driver in self.about if driver.name == name)


def outlook(scenario: Scenario, log: Sequence[LoggedRun] = (), *, n: int = DRAWS) -> Outlook:
    """Outlook of a scenario, after a log if one is given. n: draws of each scramble."""
    bench = Bench(inputs_after(scenario, log), n=n)
    base = bench.limits()
    return Outlook(
        base=base,
        amounts=swings_of_amounts(bench, base, uncertain_amounts(bench, scenario)),
        drivers=swings_of_drivers(bench, base),
        about=tuple(bench.drivers.values()),
        break_evens=break_evens(bench),
        map=default_map(bench),
    )
