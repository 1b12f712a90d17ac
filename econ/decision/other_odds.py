"""What becomes of the limit at other odds of recovery of all runs.

The odds p/(1 - p) of every run ahead are multiplied by a factor, at the expense of its other
outcomes, on the draws of a sensitivity; break-even is the factor at which the best limit with a
run in it costs as much as stopping now.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from econ.decision.answer import Answer
from econ.decision.run_log import inputs_after
from econ.decision.sensitivity.bench import Bench
from econ.decision.sensitivity.break_even import BreakEven, flip_of
from econ.decision.sensitivity.inputs import with_ratio
from econ.engine.case import Case
from econ.engine.choice import choose
from econ.engine.walk import walk

FACTORS = (0.5, 0.75, 1.0, 1.25)


@dataclass(frozen=True)
class OtherOdds:
    """At a factor on the odds of all runs, or at break-even: best limit [runs], its expected cost
    [currency], and the chance of slice 2."""

    factor: float
    break_even: bool
    runs: int
    mean: float
    slice_2: float


def other_odds(answer: Answer, flips: Sequence[BreakEven] | None = None) -> tuple[OtherOdds, ...]:
    """The limit at half, three quarters, all and five quarters of the odds, and at break-even where
    there is one; none where no run is left. flips: those of the sensitivity, if that is worked
    out."""
    inputs = inputs_after(answer.scenario, answer.log)
    bench = Bench(inputs)
    if not bench.case.program:
        return ()
    rows = [(factor, False) for factor in FACTORS]
    at = flip_of(bench, "all_odds", flips)
    if at is not None:
        rows.append((at, True))
    least = min(inputs.minimum_runs, len(bench.case.program))
    found = []
    for factor, even in rows:
        changed = with_ratio(bench.case, bench.case.program, float(np.log(factor)))
        cost, out = _by_limit(changed)
        runs = least + int(np.argmin(cost[least:]))
        if even and runs == 0 and len(cost) > 1:  # both cost the same: that with a run
            runs = 1 + int(np.argmin(cost[1:]))
        found.append(OtherOdds(factor, even, runs, float(cost[runs]), 1.0 - float(out[runs])))
    return tuple(found)


def _by_limit(case: Case) -> tuple[np.ndarray, np.ndarray]:
    """Expected cost and chance of recovery of each limit."""
    choice = choose(case)
    costs, outs = [], []
    cost = out = 0.0
    for step in walk(case, choice, histories=1):
        stop = step.stop
        now = 0.0 if stop.place is not None else _mean(case, stop.weight)
        costs.append(cost + _mean(case, stop.weight * stop.cost))
        outs.append(out + now)
        for ending in step.ends:
            cost += _mean(case, ending.weight * ending.cost)
            out += 0.0 if ending.place is not None else _mean(case, ending.weight)
    return np.array(costs), np.array(outs)


def _mean(case: Case, values: np.ndarray) -> float:
    return float(np.broadcast_to(values.sum(axis=(0, 1)), (case.n,)).mean())
