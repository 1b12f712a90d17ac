"""The limits of a scenario from the first draws of every scramble, for many cases at once.

A case takes milliseconds instead of the second of a full answer: no percentiles, no rule by
state. The error is larger and is given; two cases on the same columns share their draws, so
that the error of a difference is small.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from econ.decision.limits import Verdict, verdict
from econ.engine.case import Case
from econ.engine.choice import Bills
from econ.engine.expected import Expected, opened
from econ.engine.inputs import Inputs
from econ.engine.joined import joined
from econ.engine.realise import KnownRuns

Array = NDArray[np.float64]
DRAWS = 64  # of each scramble
TOGETHER = 8192  # draws walked at once: fewer take longer each, more do not fit a cache


@dataclass(frozen=True)
class Quick:
    """Limits 0 to K: cost [currency] and chance of recovery, shape (scrambles, limits), the mean
    elapsed time when all have failed [d], shape (limits,), and the verdict."""

    cost: Array
    recovered: Array
    days: Array
    verdict: Verdict


def quick(
    inputs: Inputs,
    *,
    n: int = DRAWS,
    histories: int = 1,
    columns: Mapping[str, Array] | None = None,
) -> Quick:
    """Limits of a scenario. columns: of `inputs.first(n)`, some of them changed."""
    drawn = inputs.first(n) if columns is None else columns
    case = inputs.case(drawn, n * inputs.sampler.scrambles)
    return of_case(
        case, minimum=inputs.minimum_runs, scrambles=inputs.sampler.scrambles, histories=histories
    )


def quick_each(several: Sequence[Inputs], *, n: int = DRAWS) -> list[Quick]:
    """What `quick` gives for each of several scenarios, to the bit, in less time: cases alike are
    walked together."""
    known = KnownRuns()
    cases = [
        inputs.case(inputs.first(n), n * inputs.sampler.scrambles, known) for inputs in several
    ]
    found: dict[int, Quick] = {}
    for together in joined(cases, most=TOGETHER):
        opening = opened(together.case)
        whole = opening.settled(opening.choice(together.case))
        for number, walked in zip(
            together.numbers, whole.apart(len(together.numbers)), strict=True
        ):
            inputs = several[number]
            found[number] = _limits(
                walked,
                minimum=inputs.minimum_runs,
                scrambles=inputs.sampler.scrambles,
                logged=bool(inputs.logged),
            )
    return [found[number] for number in range(len(several))]


def of_case(
    case: Case, *, minimum: int, scrambles: int, histories: int = 1, bills: Bills | None = None
) -> Quick:
    """Limits of a case whose draws are those of all scrambles, one after another; bills: those
    of a case that has the same fallbacks and the same fish."""
    walked = opened(case, histories=histories, bills=bills)
    settled = walked.settled(walked.choice(case))
    return _limits(settled, minimum=minimum, scrambles=scrambles, logged=bool(case.logged))


def _limits(walked: Expected, *, minimum: int, scrambles: int, logged: bool) -> Quick:
    weight = walked.still[:, 0].sum(axis=0) if logged else None

    def by_scramble(values: Array) -> Array:
        return means_by_scramble(values.sum(axis=0), weight, scrambles=scrambles)

    cost = by_scramble(walked.cost)
    still, elapsed, plain = (
        values.sum(axis=(0, 2)) for values in (walked.still, walked.still_days, walked.plain_days)
    )
    # Where no path is left, the days of one that would be, as in `econ.decision.figures`.
    days = np.divide(elapsed, still, out=plain / walked.cost.shape[2], where=still > 0)
    return Quick(cost, by_scramble(walked.recovered), days, verdict(cost, minimum=minimum))


def means_by_scramble(values: Array, weight: Array | None, *, scrambles: int) -> Array:
    """Means of weighted values, shape (limits, n), by scramble and limit.

    weight: of the draws after a log, shape (n,), of mean 1: means are then ratios, on scramble s
    R + x_s - R w_s as in `econ.engine.curves`; None without a log.
    """
    found = np.asarray(values.reshape(len(values), scrambles, -1).mean(axis=2).T)
    if weight is None:
        return found
    w = np.broadcast_to(weight, values.shape[1:]).reshape(scrambles, -1).mean(axis=1)
    return np.asarray(found + found.mean(axis=0) * (1.0 - w[:, None]))
