"""What two stages of authority would be spent at one limit: fishing, and the fallback."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from econ.engine.case import RETRY, STICK
from econ.engine.curves import Curves, on_all_draws
from econ.engine.histogram import BINS, Bins
from econ.engine.inputs import blocks, sampler
from econ.engine.walk import walk
from econ.scenario.scenario import Scenario

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Stages:
    """Moments by scramble, shape (scrambles, 3, bins): spend on fishing, and on the fallback
    where one is needed."""

    bins: Bins
    fishing: Array
    fallback: Array


def stages(scenario: Scenario, curves: Curves, *, runs: int) -> Stages:
    """End points of a limit of `runs` runs, for a scenario in field units."""
    source = sampler(scenario)
    bins = Bins(0.0, curves.bins.high)
    moments = np.zeros((2, source.scrambles, 3, BINS))
    for scramble in range(source.scrambles):
        for case in blocks(scenario, source, scramble, scenario.draws.n):
            for step in walk(case, curves.choice, histories=1):
                for ending in (step.stop,) if step.number == runs else step.ends:
                    moments[0, scramble] += bins.moments(
                        *on_all_draws(ending.fishing, ending.weight, case.n)
                    )
                    if ending.bill is not None:
                        cost = ending.bill.event(case.uniforms[RETRY], case.uniforms[STICK])
                        moments[1, scramble] += bins.moments(
                            *on_all_draws(cost, ending.weight, case.n)
                        )
                if step.number == runs:
                    break
    return Stages(bins, moments[0], moments[1])
