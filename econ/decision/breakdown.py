"""What the expected cost of a limit is made of, and how its total is distributed.

The breakdown is the ledger at the limit (`econ.engine.ledger`): its lines sum to the expected
cost. The distribution of the total is read off between the edges

    e_j = e_0 + j h,     weight_j = chance(total > e_j) - chance(total > e_{j+1})

with a step h that a reader can say aloud, kick-off retries and sticking again as events that
happen or not. The dearest hundredth, which would stretch a picture, is one weight above the
last edge.
"""

from __future__ import annotations

import math
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from econ.decision.estimates import Estimate, estimate
from econ.decision.figures import lines
from econ.engine.curves import Curves
from econ.engine.histogram import Bins
from econ.engine.ledger import LINES
from econ.scenario.framed import Framed

if TYPE_CHECKING:
    import pandas

Array = NDArray[np.float64]
SHOWN = 0.99  # share of the ends below the last edge
MOST_BARS = 40
LEAST_SPAN = 0.05  # of the highest edge: totals that hardly differ are one bar, not many
NOTHING = 1e-6  # [currency]: totals below it are all one bar
ROUNDING = 1e-12  # of the weight: no end at all
STEPS = (1.0, 2.0, 2.5, 5.0, 10.0)


@dataclass(frozen=True, repr=False)
class CostLine(Framed):
    """A line of the ledger [currency]: its name, the part of the job it belongs to (fishing,
    recovery or fallback), its expectation at the limit, and if fishing stops now."""

    name: str
    part: str
    expected: float
    standard_error: float
    stopping_now: float


@dataclass(frozen=True, repr=False)
class Breakdown(Framed):
    """The lines of the expected cost at a limit of `runs` runs; `total` is their sum."""

    runs: int
    lines: tuple[CostLine, ...]
    total: Estimate

    def to_frame(self) -> pandas.DataFrame:
        """One row a line."""
        import pandas

        return pandas.DataFrame([asdict(line) for line in self.lines]).set_index("name")


def breakdown(curves: Curves, limit: int) -> Breakdown:
    """What the expected cost of a limit is made of."""
    now = lines(curves, 0)
    rows = []
    for name, figure in lines(curves, limit).items():
        here = estimate(figure.by_scramble)
        stopping = float(now[name].by_scramble.mean())
        rows.append(CostLine(name, LINES[name], here.value, here.error, stopping))
    return Breakdown(limit, tuple(rows), estimate(curves.cost[:, limit]))


@dataclass(frozen=True, repr=False)
class TotalCost(Framed):
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


def total_cost(curves: Curves, limit: int) -> TotalCost:
    """The distribution of the total at a limit."""
    bins = curves.bins
    recovered, fallback = (curves.held[name][limit] for name in ("if_recovered", "if_fallback"))
    both = recovered + fallback
    weight = float(both[0].sum())
    low = float(bins.quantiles(both, np.array([0.0]))[0])
    high = float(bins.quantiles(both, np.array([SHOWN]))[0])
    edges = _edges(low=low, high=high)
    out = _between(bins, recovered, edges) / weight
    back = _between(bins, fallback, edges) / weight
    return TotalCost(
        limit,
        tuple(edges.tolist()),
        tuple(out[:-1].tolist()),
        tuple(back[:-1].tolist()),
        float(out[-1]),
        float(back[-1]),
    )


def _between(bins: Bins, held: Array, edges: Array) -> Array:
    """Weight between edges, and last that above them all."""
    weight = float(held[0].sum())
    if weight <= 0:
        return np.zeros(len(edges))
    above = [float(bins.chance_above(held, float(edge))) for edge in edges[1:]]
    between = -np.diff([1.0, *above, 0.0])  # what lies below the edges is in the first
    return weight * np.where(between > ROUNDING, between, 0.0)


def _edges(*, low: float, high: float) -> Array:
    """Edges on whole steps around `low` to `high` [currency]."""
    span = max(high - low, LEAST_SPAN * high) if high > NOTHING else float(MOST_BARS)
    power = 10.0 ** math.floor(math.log10(span / MOST_BARS))
    step = next(step * power for step in STEPS if step * power >= span / MOST_BARS * (1 - 1e-9))
    first = math.floor(low / step)
    bars = max(math.ceil(high / step - 1e-9) - first, 1)
    return step * np.arange(first, first + bars + 1, dtype=np.float64)
