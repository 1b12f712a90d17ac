"""Authority in two stages: fish to the limit, then the fallback if it is needed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from econ.decision.figures import NONE_LEFT, Figure
from econ.scenario.framed import Framed


@dataclass(frozen=True, repr=False)
class Stage1(Framed):
    """Authority to fish [currency]: cost if every run to the limit fails, mean and P90 of the
    spend, and their errors."""

    planned: float
    mean: float
    p90: float
    planned_error: float
    mean_error: float
    p90_error: float


@dataclass(frozen=True, repr=False)
class Stage2(Framed):
    """Authority for the fallback: chance that it is needed, mean and P90 of what is then spent
    [currency], and their errors. Value of the well that is given up is no money spent."""

    probability: float
    mean: float
    p90: float
    probability_error: float
    mean_error: float
    p90_error: float


@dataclass(frozen=True, repr=False)
class Authority(Framed):
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
    suffices_error: float | None


def authority(
    named: Mapping[str, Figure], *, given: float | None, response_hours: float, spread_day: float
) -> Authority:
    """Authority at a limit. named: its figures; spread_day: mean spread [currency/d]."""

    def value(name: str) -> float:
        figure = named.get(name)
        return 0.0 if figure is None or figure.value is None else figure.value

    def error(name: str) -> float:
        return named[name].error if name in named else 0.0

    need = value("stage_2_probability")
    stage_2 = Stage2(0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
    if need > NONE_LEFT:
        stage_2 = Stage2(
            need,
            value("stage_2_mean"),
            value("stage_2_p90"),
            error("stage_2_probability"),
            error("stage_2_mean"),
            error("stage_2_p90"),
        )
    return Authority(
        stage_1=Stage1(
            value("stage_1_planned"),
            value("stage_1_mean"),
            value("stage_1_p90"),
            error("stage_1_planned"),
            error("stage_1_mean"),
            error("stage_1_p90"),
        ),
        stage_2=stage_2,
        response_hours=response_hours,
        waiting_cost=response_hours / 24.0 * spread_day,
        given=given,
        suffices=None if given is None else value("within_authority"),
        stage_1_suffices=None if given is None else value("stage_1_within_authority"),
        suffices_error=None if given is None else error("within_authority"),
    )
