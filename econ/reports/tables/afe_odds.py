"""Odds of each run when it is made, where odds move with the days since the decision.

    losses     L' = L g/(1 - L + L g), g = ratio^d, L the chance to lose string or hole;
               both losses x L'/L, the other four x (1 - L')/(1 - L)
    recovery   p' = p g/(1 - p + p g), the other five x (1 - p')/(1 - p)

d are the days before the run if every run before it ended `nothing`. As in `econ.job.odds`.
"""

from __future__ import annotations

from dataclasses import dataclass

from econ.decision.detail.paths import Paths
from econ.reports.tables.afe_inputs import Inputs, RunInputs
from econ.reports.tables.formula import Cell, below, over, sum_of, when
from econ.scenario.program import OUTCOMES

LOSSES = ("string_lost", "hole_lost")


@dataclass(frozen=True)
class RunOdds:
    """A run with its odds of each kind as it is made. days_before, growth, loss_growth: the days
    d and the factors g, None where odds stay; after_losses: odds with the losses grown."""

    given: RunInputs
    odds: tuple[dict[str, Cell], ...]
    days_before: Cell | None = None
    growth: Cell | None = None
    loss_growth: Cell | None = None
    after_losses: tuple[dict[str, Cell], ...] = ()


def run_odds(means: Paths, given: Inputs) -> tuple[RunOdds, ...]:
    """Odds of every run of the program."""
    ratio, loss_ratio = (
        given.single.get(key) for key in ("odds_ratio_per_day", "loss_odds_ratio_per_day")
    )
    if ratio is None and loss_ratio is None:
        return tuple(RunOdds(run, run.odds) for run in given.runs)
    found = []
    days = Cell(given["common_hours"] / 24 + means.elapsed)
    for run in given.runs:
        odds, growth, loss_growth = run.odds, None, None
        after_losses: tuple[dict[str, Cell], ...] = ()
        if loss_ratio is not None:
            loss_growth = Cell(loss_ratio.cell**days)
            odds = after_losses = tuple(_with_losses(each, loss_growth) for each in odds)
        if ratio is not None:
            growth = Cell(ratio.cell**days)
            odds = tuple(_with_recovery(each, growth) for each in odds)
        found.append(RunOdds(run, odds, days, growth, loss_growth, after_losses))
        days = Cell(days + run.hours / 24)
    return tuple(found)


def _with_losses(odds: dict[str, Cell], growth: Cell) -> dict[str, Cell]:
    lost = sum_of(odds[name] for name in LOSSES)
    later = lost * growth / (1 - lost + lost * growth)
    grown = when(over(lost, 0.0), later / lost, 1.0)
    kept = when(below(lost, 1.0), (1 - later) / (1 - lost), 1.0)
    return {name: Cell(odds[name] * (grown if name in LOSSES else kept)) for name in OUTCOMES}


def _with_recovery(odds: dict[str, Cell], growth: Cell) -> dict[str, Cell]:
    chance = odds["recovered"]
    later = chance * growth / (1 - chance + chance * growth)
    kept = when(below(chance, 1.0), (1 - later) / (1 - chance), 0.0)
    return {name: Cell(later if name == "recovered" else odds[name] * kept) for name in OUTCOMES}
