"""Risk, not only the mean: the dear end, both ways to end, the sure cost as good as the gamble.

With exponential utility of tolerance t the certainty equivalent of a cost X is
t ln E exp(X/t): above the mean, and the more so the smaller the tolerance is. It has no end
where kick-off retries grow faster than they become rare.

Source: exponential utility, any text on decision analysis.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from econ.decision.estimates import Estimate, estimate
from econ.decision.limits import Verdict
from econ.engine.curves import EXCEEDS, P90, Curves
from econ.scenario.framed import Framed

if TYPE_CHECKING:
    import pandas

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Conditional:
    """The total with the fish out, or with a fallback: its chance, mean and percentiles
    [currency]."""

    chance: float
    mean: float
    p10: float
    p50: float
    p90: float


@dataclass(frozen=True, repr=False)
class LimitRisk(Framed):
    """Risk at a limit of `runs` runs; money in currency.

    worst_tenth: mean of the dearest tenth of the ends; above_authority: chance that what is spent
    exceeds it; fishing_above: the same of the spend on fishing; certainty_equivalent: infinite
    where it has no end. None without an authority or a tolerance, or where an end has no chance.
    """

    runs: int
    p90: float
    worst_tenth: float
    worst_tenth_error: float
    above_authority: float | None
    fishing_above: float | None
    certainty_equivalent: float | None
    certainty_equivalent_error: float | None
    recovered: Conditional | None
    fallback: Conditional | None


@dataclass(frozen=True, repr=False)
class Risk(Framed):
    """Risk at every limit.

    least_risky: of the flat limits the one with the lowest worst tenth, the best
    by expected cost where none is lower beyond the error; best_by_certainty: the limit with the
    lowest certainty equivalent, None without a tolerance or where all are infinite.
    """

    by_runs: tuple[LimitRisk, ...]
    authority: float | None
    tolerance: float | None
    least_risky: int
    best_by_certainty: int | None

    def to_frame(self) -> pandas.DataFrame:
        """One row a limit, the fish out and the fallback in columns of their own."""
        import pandas

        return pandas.json_normalize([asdict(row) for row in self.by_runs]).set_index("runs")


def risk(
    curves: Curves,
    judged: Verdict,
    *,
    minimum: int,
    authority: float | None,
    tolerance: float | None,
) -> Risk:
    """Risk of the limits of `curves`, from `minimum` runs on for the choice among them."""
    equivalents = _equivalents(curves, tolerance)
    recovered = curves.recovered.mean(axis=0)
    cost = curves.cost.mean(axis=0)
    cost_recovered = curves.sums["cost_recovered"].mean(axis=0)
    of = curves.distributions
    rows = []
    for n in range(len(cost)):
        total = of["total"][:, n]
        worst = curves.worst_tenth[:, n]
        equivalent = None if equivalents is None else _estimate(equivalents[:, n])
        rows.append(
            LimitRisk(
                runs=n,
                p90=float(total[-1, P90]),
                worst_tenth=float(worst[-1]),
                worst_tenth_error=estimate(worst[:-1]).error,
                above_authority=None if authority is None else float(of["spent"][-1, n, EXCEEDS]),
                fishing_above=None
                if authority is None
                else float(of["on_fishing"][-1, n, EXCEEDS]),
                certainty_equivalent=None if equivalent is None else equivalent.value,
                certainty_equivalent_error=None if equivalent is None else equivalent.error,
                recovered=_conditional(of["if_recovered"], n, recovered[n], cost_recovered[n]),
                fallback=_conditional(
                    of["if_fallback"], n, 1.0 - recovered[n], cost[n] - cost_recovered[n]
                ),
            )
        )
    return Risk(
        by_runs=tuple(rows),
        authority=authority,
        tolerance=tolerance,
        least_risky=_least_risky(curves.worst_tenth, judged),
        best_by_certainty=None if equivalents is None else _best(equivalents, minimum),
    )


def _equivalents(curves: Curves, tolerance: float | None) -> Array | None:
    """Certainty equivalents [currency], shape (scrambles, limits)."""
    if tolerance is None:
        return None
    mean = curves.sums["exponential"]
    with np.errstate(divide="ignore"):
        logs = np.log(mean)
    # A tolerance so small that nothing is left of the mean is as good as none.
    return np.asarray(curves.reference + tolerance * np.where(mean > 0, logs, np.inf))


def _estimate(by_scramble: Array) -> Estimate:
    if not np.isfinite(by_scramble).all():
        return Estimate(float("inf"), float("inf"))
    return estimate(by_scramble)


def _best(equivalents: Array, minimum: int) -> int | None:
    mean = equivalents.mean(axis=0)[minimum:]
    return minimum + int(np.argmin(mean)) if np.isfinite(mean).any() else None


def _conditional(spread: Array, n: int, chance: float, weighted: float) -> Conditional | None:
    p10, p50, p90 = (float(value) for value in spread[-1, n, :3])
    if chance <= 1e-12 or not np.isfinite(p90):
        return None
    return Conditional(float(chance), float(weighted / chance), p10, p50, p90)


def _least_risky(worst_tenth: Array, judged: Verdict) -> int:
    """Of the flat limits the one with the lowest worst tenth, if it is lower beyond the error.

    worst_tenth: as in `Curves`."""
    least = judged.best
    for n in judged.flat:
        gain = estimate(worst_tenth[:-1, least] - worst_tenth[:-1, n])
        if gain.value > 0 and gain.resolved():
            least = n
    return least
