"""Published rules for how long to fish, for showing beside the answer.

    time limit      D = (V + Cs) / (Cf + Cd): value of the fish plus cost of the sidetrack,
                    over daily cost of fishing tools plus daily cost of the rig
    economic days   P x (V + Cs) / (Cf + Cd), P the chance of success
    half rule       half of (V + Cs) / daily cost of the rig
Sources: the first is widely printed in handbooks (memory; the break-even chart of an old
drilling text, chapter "Fishing", is an instance); the second, a public drilling manual site,
"When to give up attempts to free the pipe"; the third, drilling lecture notes, "Fishing
economics", 2014. None of them lowers the odds after a failed run.
"""

from __future__ import annotations


def time_limit_days(*, fish_and_sidetrack: float, daily_cost: float) -> float:
    """Days [d] until fishing has cost what the sidetrack and the fish would.

    >>> time_limit_days(fish_and_sidetrack=50_000 + 40_000, daily_cost=6_000)
    15.0
    """
    return fish_and_sidetrack / daily_cost if daily_cost > 0 else float("inf")


def economic_fishing_days(*, chance: float, fish_and_sidetrack: float, daily_cost: float) -> float:
    """Days [d] worth `chance` of saving the sidetrack and the fish."""
    return chance * time_limit_days(fish_and_sidetrack=fish_and_sidetrack, daily_cost=daily_cost)


def half_rule_days(*, fish_and_sidetrack: float, rig_day: float) -> float:
    """Half of the days [d] the rig could work for the sidetrack and the fish."""
    return 0.5 * time_limit_days(fish_and_sidetrack=fish_and_sidetrack, daily_cost=rig_day)
