"""Authority in two stages: fish to the limit, then the fallback if it is needed.

What is spent comes in three slices: 1a fishing to the limit, 1b the work after a recovery, 2 the
fallback. The fish comes out and 1b is drawn, or it does not and 2 is. So

    expected call = mean of 1a + chance of 1b x its mean + chance of 2 x its mean

and the percentiles of slices, each where it is drawn, never sum.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
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
class Slice(Framed):
    """A part of what is spent, where it is drawn: its name (1a, 1b or 2), the chance that it is
    drawn, and planned, mean and P90 [currency], with their errors. Planned is 1a if every run to
    the limit fails, 2 as it is then, and 1b as its mean."""

    slice: str
    chance: float
    planned: float
    mean: float
    p90: float
    chance_error: float
    planned_error: float
    mean_error: float
    p90_error: float

    @property
    def expected(self) -> float:
        """Chance x mean [currency]."""
        return self.chance * self.mean


@dataclass(frozen=True, repr=False)
class Authority(Framed):
    """Both stages, the slices, the wait for a vote, and whether the authority given suffices.

    expected_call, p90: mean and P90 of all that is spent [currency], with their errors;

    response_hours: that partners have [h]; waiting_hours: that pass until the reply is due if they
    are asked now, more than these where they run on working days [h]; waiting_cost [currency]: of
    them at the spread;
    given: money approved from now on, what is spent by a log taken off; suffices: chance that
    all that is spent stays within it; stage_1_suffices: that the spend on fishing does.
    """

    stage_1: Stage1
    stage_2: Stage2
    slices: tuple[Slice, Slice, Slice]
    expected_call: float
    expected_call_error: float
    p90: float
    p90_error: float
    response_hours: float
    waiting_hours: float
    waiting_cost: float
    given: float | None
    suffices: float | None
    stage_1_suffices: float | None
    suffices_error: float | None


def authority(
    named: Mapping[str, Figure],
    *,
    given: float | None,
    response_hours: float,
    waiting_hours: float,
    spread_day: float,
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
        slices=(
            _slice("1a", 1.0, 0.0, value, error),
            _slice("1b", value("slice_1b_chance"), error("slice_1b_chance"), value, error),
            Slice(
                "2",
                stage_2.probability,
                value("slice_2_planned") if stage_2.probability else 0.0,
                stage_2.mean,
                stage_2.p90,
                stage_2.probability_error,
                error("slice_2_planned") if stage_2.probability else 0.0,
                stage_2.mean_error,
                stage_2.p90_error,
            ),
        ),
        expected_call=value("spent_mean"),
        expected_call_error=error("spent_mean"),
        p90=value("spent_p90"),
        p90_error=error("spent_p90"),
        response_hours=response_hours,
        waiting_hours=waiting_hours,
        waiting_cost=waiting_hours / 24.0 * spread_day,
        given=given,
        suffices=None if given is None else value("within_authority"),
        stage_1_suffices=None if given is None else value("stage_1_within_authority"),
        suffices_error=None if given is None else error("within_authority"),
    )


def _slice(
    name: str,
    chance: float,
    chance_error: float,
    value: Callable[[str], float],
    error: Callable[[str], float],
) -> Slice:
    """A slice of fishing by its figures; nothing where it is never drawn. What has no planned
    figure is planned at its mean."""
    if not chance > NONE_LEFT:
        return Slice(name, *[0.0] * 8)
    mean, p90 = f"slice_{name}_mean", f"slice_{name}_p90"
    planned = "slice_1a_planned" if name == "1a" else mean
    return Slice(
        name,
        chance,
        value(planned),
        value(mean),
        value(p90),
        chance_error,
        error(planned),
        error(mean),
        error(p90),
    )
