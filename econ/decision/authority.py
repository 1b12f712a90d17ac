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
    """Authority for the fallback: chance that it is needed, mean and P90 if it is."""

    probability: float
    mean: float
    p90: float
    p90_error: float


def stages(found: Curves, best: int) -> tuple[Stage1, Stage2]:
    """Both stages at the best limit."""
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
    return stage_1, Stage2(need, (total - fishing) / need, second.value, second.error)
