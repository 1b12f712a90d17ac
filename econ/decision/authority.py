"""Authority in two stages: fish to the limit, then the fallback if it is needed."""

from __future__ import annotations

from dataclasses import dataclass

from econ.decision.limits import statistics
from econ.engine.curves import Curves


@dataclass(frozen=True)
class Stage1:
    """Authority to fish: cost if every run to the limit fails, mean and P90 of the spend."""

    planned: float
    mean: float
    p90: float
    p90_error: float


@dataclass(frozen=True)
class Stage2:
    """Authority for the fallback: chance that it is needed, mean and P90 of what is then spent;
    value of the well that is given up is no money spent."""

    probability: float
    mean: float
    p90: float
    p90_error: float


@dataclass(frozen=True)
class Authority:
    """Both stages, the wait for a vote, and whether the authority given suffices.

    waiting_cost [currency]: of `response_hours` [h] at the spread, because the vote comes when
    fishing is over;
    given: money approved from now on, what is spent by a log taken off; suffices: chance that
    all that is spent stays within it; stage_1_suffices: that the spend on fishing does.
    """

    stage_1: Stage1
    stage_2: Stage2
    response_hours: float
    waiting_cost: float
    given: float | None
    suffices: float | None
    stage_1_suffices: float | None


def authority(
    found: Curves, best: int, *, given: float | None, response_hours: float, spread_day: float
) -> Authority:
    """Authority at the best limit. spread_day: mean spread [currency/d]."""
    stage_1, stage_2 = _stages(found, best)
    spent = statistics(found.spent, best)[4].value
    fishing = statistics(found.on_fishing, best)[4].value
    return Authority(
        stage_1=stage_1,
        stage_2=stage_2,
        response_hours=response_hours,
        waiting_cost=response_hours / 24.0 * spread_day,
        given=given,
        suffices=None if given is None else 1.0 - spent,
        stage_1_suffices=None if given is None else 1.0 - fishing,
    )


def _stages(found: Curves, best: int) -> tuple[Stage1, Stage2]:
    fishing = float(found.fishing.sum(axis=1).mean(axis=0)[best])
    total = float(found.cost.sum(axis=1).mean(axis=0)[best])
    need = 1.0 - float(found.recovered.sum(axis=1).mean(axis=0)[best])
    still = float(found.still.sum(axis=1).mean(axis=0)[best])
    planned = float(found.still_cost.sum(axis=1).mean(axis=0)[best])
    first = statistics(found.on_fishing, best)[2]
    stage_1 = Stage1(planned / still if still > 0 else fishing, fishing, first.value, first.error)
    if need <= 1e-12:
        return stage_1, Stage2(0.0, 0.0, 0.0, 0.0)
    second = statistics(found.on_fallback, best)[2]
    given_up = float(found.given_up.sum(axis=1).mean(axis=0)[best])
    mean = (total - fishing - given_up) / need
    return stage_1, Stage2(need, mean, second.value, second.error)
