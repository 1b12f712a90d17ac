"""The next run: its time, cost, odds and break-even odds, and the belief after failures.

Judged on the path where every run so far ended `nothing`. For one more run and then a stop
the chance of recovery at which the run just pays, the other outcomes being as stated, is

    p* = [C + p_left (F_left - F) + p_lost (F_lost - F) - p_part (F - F_part)] / (F - S)

with C the cost of the run without the one-off mobilization, S the cost after recovery, and
F the fallback from the present fish top, after a part, with the fishing string left, and
with the hole lost. Each term is a weighted mean over all draws of the answer, by which the
chances on the curve are worked out too; each has its standard error.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from econ.decision.estimates import Estimate
from econ.decision.figures import Figure, beliefs, run_figures
from econ.engine.curves import Curves
from econ.engine.inputs import Inputs
from econ.scenario.framed import Framed
from econ.scenario.program import Run


@dataclass(frozen=True, repr=False)
class RunAhead(Framed):
    """A run of the program if every one before it ended `nothing`.

    run: its number from 0; failed_runs: how many come before it; workable: chance that the fish
    is workable when it is begun, with several doubts that all the run depends on are in favour;
    doubts: the chance of each of these, in the order of the file; days: of the run, waits
    included [d]; cost: without the one-off mobilization [currency]; odds: chance that it recovers;
    break_even_odds: the chance at which it just pays, None where recovery saves nothing at any
    odds. A name that ends in _error is the standard error of what it is named after.
    """

    run: int
    name: str
    failed_runs: int
    workable: float
    days: float
    cost: float
    odds: float
    break_even_odds: float | None
    workable_error: float
    days_error: float
    cost_error: float
    odds_error: float
    break_even_error: float
    doubts: tuple[Estimate, ...] = ()


@dataclass(frozen=True, repr=False)
class Prices(Framed):
    """What small things are worth now.

    hour_of_waiting: an hour of the rig at the spread and the fishing day [currency]; foot: a
    fish top 1 ft deeper [currency], foot_error its standard error; fallback: the fallback now,
    in expectation [currency]; spread_day, fishing_day: the mean day rates [currency/d].
    """

    hour_of_waiting: float
    foot_of_fish_top: float
    foot_error: float
    fallback: float
    spread_day: float
    fishing_day: float


def runs_ahead(curves: Curves, program: Sequence[int], runs: Sequence[Run]) -> list[RunAhead]:
    """Every run of the program along the path of outcomes `nothing`, as far as it can be gone."""
    ahead: list[RunAhead] = []
    for place, run in enumerate(program):
        named = run_figures(curves, place)
        if not named:
            break
        belief, odds, days, cost = (
            _known(named[name]) for name in ("belief", "next_odds", "next_days", "next_cost")
        )
        needs = named["next_break_even"]
        ahead.append(
            RunAhead(
                run=run,
                name=runs[run].name,
                failed_runs=place,
                workable=belief.value,
                days=days.value,
                cost=cost.value,
                odds=odds.value,
                break_even_odds=needs.value,
                workable_error=belief.error,
                days_error=days.error,
                cost_error=cost.error,
                odds_error=odds.error,
                break_even_error=needs.error,
                doubts=tuple(_known(figure) for figure in beliefs(curves, place)),
            )
        )
    return ahead


def prices(curves: Curves, inputs: Inputs) -> Prices:
    """The prices of a job as it stands."""
    scenario = inputs.scenario
    spread = inputs.mean(scenario.rates.values())
    fishing = inputs.mean(scenario.fishing.day_rates.values())
    foot = Figure("currency", float(curves.now["foot"].mean()), curves.now["foot"])
    return Prices(
        hour_of_waiting=(spread + fishing) / 24.0,
        foot_of_fish_top=_known(foot).value,
        foot_error=foot.error,
        fallback=float(curves.now["fallback"].mean()),
        spread_day=spread,
        fishing_day=fishing,
    )


def _known(figure: Figure) -> Estimate:
    assert figure.value is not None
    return Estimate(figure.value, figure.error)
