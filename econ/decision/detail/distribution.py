"""The distribution of what a job costs in total at the best limit, its two humps apart.

Ends with the fish out and ends with a fallback are laid into the fine bins of
`econ.engine.histogram`, kick-off retries and sticking again as events that happen or not,
and read off between the edges

    e_j = e_0 + j h,     weight_j = chance(total > e_j) - chance(total > e_{j+1})

with a step h that a reader can say aloud. The dearest hundredth, which would stretch the
picture, is kept as one weight above the last edge.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from econ.decision.answer import Answer
from econ.decision.detail.replay import Leg, blocks, legs
from econ.engine.case import RETRY, STICK, Case
from econ.engine.histogram import BINS, Bins
from econ.engine.walk import Ending

if TYPE_CHECKING:
    import pandas

Array = NDArray[np.float64]
SHOWN = 0.99  # share of the ends below the last edge
MOST_BARS = 40
LEAST_SPAN = 0.05  # of the highest edge: totals that hardly differ are one bar, not many
NOTHING = 1e-6  # [currency]: totals below it are all one bar
BEYOND = 100.0  # how far past the P90 of the answer the fine bins go
ROUNDING = 1e-12  # of the weight: no end at all
STEPS = (1.0, 2.0, 2.5, 5.0, 10.0)


@dataclass(frozen=True)
class TotalCost:
    """Weights of the total cost between edges [currency] at a limit of `runs` runs.

    edges: shape (bars + 1,); recovered, fallback: chance that the job ends so with its total in
    that bar, shape (bars,); the two above: the same past the last edge. All of them sum to 1.
    """

    runs: int
    edges: tuple[float, ...]
    recovered: tuple[float, ...]
    fallback: tuple[float, ...]
    recovered_above: float
    fallback_above: float

    def to_frame(self) -> pandas.DataFrame:
        """One row a bar."""
        import pandas

        columns = {
            "from": self.edges[:-1],
            "to": self.edges[1:],
            "recovered": self.recovered,
            "fallback": self.fallback,
        }
        return pandas.DataFrame(columns)


class Humps:
    """The two humps over blocks of draws, in fine bins up to `highest` [currency]."""

    def __init__(self, *, highest: float) -> None:
        self._bins = Bins(0.0, max(highest, 1e-6))
        self._recovered = np.zeros((3, BINS))
        self._fallback = np.zeros((3, BINS))

    def add(self, path: Sequence[Leg], *, case: Case) -> None:
        """Add a block, walked along `path`."""
        for leg in path:
            ends = [leg.stop] if leg.made is None else leg.made.ends
            for ending in ends:
                if ending is not None:
                    self._put(case, ending)

    def _put(self, case: Case, ending: Ending) -> None:
        total = ending.fishing
        if ending.bill is not None:
            uniforms = case.uniforms
            total = total + ending.bill.event(
                retry_draw=uniforms[RETRY], stick_draw=uniforms[STICK]
            )
        shape = np.broadcast_shapes(total.shape, ending.weight.shape)
        held = self._bins.moments(total, ending.weight * (case.n // shape[-1]))
        if ending.bill is None:
            self._recovered += held
        else:
            self._fallback += held

    def result(self, *, runs: int) -> TotalCost:
        """The weights between edges, which sum to 1."""
        both = self._recovered + self._fallback
        weight = float(both[0].sum())
        used = np.flatnonzero(both[0] > 0)
        low = float(self._bins.value(np.asarray(float(used[0]))))
        high = float(self._bins.quantiles(both, np.array([SHOWN]))[0])
        edges = _edges(low=low, high=high)
        recovered = self._between(self._recovered, edges) / weight
        fallback = self._between(self._fallback, edges) / weight
        return TotalCost(
            runs,
            tuple(float(edge) for edge in edges),
            tuple(recovered[:-1].tolist()),
            tuple(fallback[:-1].tolist()),
            float(recovered[-1]),
            float(fallback[-1]),
        )

    def _between(self, held: Array, edges: Array) -> Array:
        """Weight between edges, and last that above them all."""
        weight = float(held[0].sum())
        if weight <= 0:
            return np.zeros(len(edges))
        above = [self._bins.chance_above(held, float(edge)) for edge in edges[1:]]
        between = -np.diff([1.0, *above, 0.0])  # what lies below the edges is in the first
        return weight * np.where(between > ROUNDING, between, 0.0)


def total_cost(answer: Answer) -> TotalCost:
    """The distribution of the total at the best limit of an answer."""
    humps = Humps(highest=highest(answer))
    for _, case, choice in blocks(answer):
        humps.add(legs(case, choice, limit=answer.best), case=case)
    return humps.result(runs=answer.best)


def highest(answer: Answer) -> float:
    """Where the fine bins end [currency]: what lies beyond is counted in the last."""
    return BEYOND * max(answer.limit.p90, answer.limit.expected_cost)


def _edges(*, low: float, high: float) -> Array:
    """Edges on whole steps around `low` to `high` [currency]."""
    span = max(high - low, LEAST_SPAN * high) if high > NOTHING else float(MOST_BARS)
    power = 10.0 ** math.floor(math.log10(span / MOST_BARS))
    step = next(step * power for step in STEPS if step * power >= span / MOST_BARS * (1 - 1e-9))
    first = math.floor(low / step)
    bars = max(math.ceil(high / step - 1e-9) - first, 1)
    return step * np.arange(first, first + bars + 1, dtype=np.float64)
