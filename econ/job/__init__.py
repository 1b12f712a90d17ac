"""Formulas of the trade, as pure functions and values on arrays; lengths in ft, times in h."""

from econ.job.bill import Bill
from econ.job.clock import RunTimes, TripSpeeds
from econ.job.deadline import Deadline
from econ.job.fallback import LumpSums, SidetrackHours, SidetrackPlan, Whipstock
from econ.job.fish import LEAST_FISH, Fish
from econ.job.odds import (
    RunOdds,
    beta_recovered,
    with_damaged_top,
    with_growing_losses,
    with_odds_ratio,
    with_recovery_ratio,
)
from econ.job.planning import buoyancy_factor, gross_rate, section_hours, staged_rate
from econ.job.rental import Contract

__all__ = [
    "LEAST_FISH",
    "Bill",
    "Contract",
    "Deadline",
    "Fish",
    "LumpSums",
    "RunOdds",
    "RunTimes",
    "SidetrackHours",
    "SidetrackPlan",
    "TripSpeeds",
    "Whipstock",
    "beta_recovered",
    "buoyancy_factor",
    "gross_rate",
    "section_hours",
    "staged_rate",
    "with_damaged_top",
    "with_growing_losses",
    "with_odds_ratio",
    "with_recovery_ratio",
]
