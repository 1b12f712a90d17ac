"""Authority in two stages: fish to the limit, then the fallback if it is needed.

What is spent comes in three slices: 1a fishing to the limit, 1b the work after a recovery, 2 the
fallback. The fish comes out and 1b is drawn, or it does not and 2 is. So

    expected call = mean of 1a + chance of 1b x its mean + chance of 2 x its mean

and the percentiles of slices, each where it is drawn, never sum.
"""

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
class Call(Framed):
    """The slices at a limit of `runs` runs, and mean and P90 of all that is spent [currency], with
    their errors; value of the well that is given up is no money spent. net_p90: P90 of what is
    spent less what of the approved work lapses under the fallback that is taken [currency]."""

    runs: int
    slices: tuple[Slice, Slice, Slice]
    expected_call: float
    expected_call_error: float
    p90: float
    p90_error: float
    net_p90: float


def call(named: Mapping[str, Figure], runs: int) -> Call:
    """The slices at a limit of `runs` runs. named: its figures (`figures.slices`)."""

    def value(name: str) -> float:
        figure = named.get(name)
        return 0.0 if figure is None or figure.value is None else figure.value

    def error(name: str) -> float:
        return named[name].error if name in named else 0.0

    def part(name: str) -> Slice:
        words = ("chance", "planned", "mean", "p90")
        names = [f"slice_{name}_{word}" for word in words]
        if not value(names[0]) > NONE_LEFT:
            return Slice(name, *[0.0] * 8)
        return Slice(name, *map(value, names), *map(error, names))

    return Call(
        runs,
        (part("1a"), part("1b"), part("2")),
        value("spent_mean"),
        error("spent_mean"),
        value("spent_p90"),
        error("spent_p90"),
        value("net_p90"),
    )


@dataclass(frozen=True, repr=False)
class Authority(Framed):
    """Both stages, the wait for a vote, and whether the authority given suffices.

    call: the slices and all that is spent, at the best limit;
    response_hours: that partners have [h]; waiting_hours: that pass until the reply is due if they
    are asked now, more than these where they run on working days [h]; waiting_cost [currency]: of
    them at the spread;
    given: money approved from now on, what is spent by a log taken off; suffices: chance that
    all that is spent stays within it; stage_1_suffices: that the spend on fishing does.
    """

    stage_1: Stage1
    stage_2: Stage2
    call: Call
    response_hours: float
    waiting_hours: float
    waiting_cost: float
    given: float | None
    suffices: float | None
    stage_1_suffices: float | None
    suffices_error: float | None


def authority(
    named: Mapping[str, Figure],
    called: Call,
    *,
    given: float | None,
    response_hours: float,
    waiting_hours: float,
    spread_day: float,
) -> Authority:
    """Authority at a limit. named: its figures; called: its slices; spread_day: mean spread
    [currency/d]."""

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
        call=called,
        response_hours=response_hours,
        waiting_hours=waiting_hours,
        waiting_cost=waiting_hours / 24.0 * spread_day,
        given=given,
        suffices=None if given is None else value("within_authority"),
        stage_1_suffices=None if given is None else value("stage_1_within_authority"),
        suffices_error=None if given is None else error("within_authority"),
    )
