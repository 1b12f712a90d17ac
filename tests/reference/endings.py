"""Reference for how a job ends: fallbacks with whipstock, trouble and closed doors.

Symbols
    q, R     chance that a kick-off from a plug fails; cost of one more plug and attempt
    m        failures from plugs after which a whipstock is run
    qw, W    chance that an attempt with the whipstock fails; cost of one such attempt

Kick-off  failures 1 .. m - 1 cost R each; after the m-th, attempts at W each until one holds:
          mean  R (q + q^2 + ... + q^(m-1)) + q^m W / (1 - qw)
          W = h / 24 x (spread + directional day) + tool, h the hours of one attempt
Lump      with trouble: chance x cost on top; one that is closed after `string_lost` or
          `hole_lost` cannot be taken there; `drill_past` is closed after both unless said so

The formulas of a sidetrack and of the pieces left are those of `job`. What a file may leave out is
filled in first with the planning values of the format.
"""

import copy
from collections.abc import Iterator
from typing import Any

from . import job
from .job import Ending, Table

SIDETRACK_DEFAULTS: Table = {
    "kickoff_above_fish": 230.0,
    "kickoff_below_shoe": 60.0,
    "stinger": 2.0,
    "condition": 3.0,
    "plug_hours": 3.0,
    "plugs": 1,
    "woc": 24.0,
    "make_up": 3.5,
    "dress": 4.0,
    "kickoff_length": 25.0,
    "kickoff_rate": 2.0,
    "gross_rop": 30.0,
    "bit_life": 1400.0,
    "logging_hours": 0.0,
    "kickoff_failure": 0.25,
}
WHIPSTOCK_DEFAULTS: Table = {"after": 2, "hours": 32.0, "cost": 0.0, "failure": 0.15}
FORMS = (
    {"low", "high"},
    {"low", "likely", "high"},
    {"low", "likely", "high", "shape"},
    {"mean", "sd"},
    {"median", "factor"},
    {"p10", "p50", "p90"},
    {"values", "weights"},
    {"mean", "weight"},
)
TAIL = 1e-13  # chance below which further attempts are gathered in the last one

Points = list[tuple[float, float]]  # (cost [currency], chance)


# ---- the scenario made ready ------------------------------------------------------------------


def distributions(node: Any, path: tuple[str, ...] = ()) -> Iterator[tuple[tuple[str, ...], Table]]:
    """Yield key path, list items counted from 1, and table of every amount that is uncertain."""
    if isinstance(node, dict):
        if set(node) in FORMS:
            yield path, node
            return
        for key, below in node.items():
            yield from distributions(below, (*path, key))
    elif isinstance(node, list):
        for number, below in enumerate(node, start=1):
            yield from distributions(below, (*path, str(number)))


def weighted_odds(scenario: Table) -> bool:
    """Return whether any odds of the scenario are themselves uncertain."""
    tables = [table for run in scenario.get("run", []) for table in odds_tables(run)]
    return any("weight" in table for table in tables)


def odds_tables(run: Table) -> list[Table]:
    """Return the odds of a run, one table for each kind of fish that it tells apart."""
    odds = run["odds"]
    return [odds["workable"], odds["stubborn"]] if "workable" in odds else [odds]


def completed(raw: Table) -> Table:
    """Return a copy in which everything the format lets out stands written.

    Only field units are covered, and no list of competent intervals.
    """
    if raw.get("units", "field") != "field":
        raise ValueError("the reference works in field units only")
    scenario = copy.deepcopy(raw)
    fishing = {"workable": 0.5, "damaged_top_factor": 0.6, "hole_lost_string_share": 0.3}
    scenario["fishing"] = fishing | scenario.get("fishing", {})
    tail = {"hours": 0.0, "charge": 0.0, "fishing_share": 0.5}
    scenario["recovery"] = tail | scenario.get("recovery", {})
    least = {"minimum_runs": int(scenario["fish"].get("sealed_source", False))}
    scenario["limits"] = least | scenario.get("limits", {})
    scenario.setdefault("run", [])
    for piece in scenario["fish"].get("piece", []):
        if "replacement" in piece:
            kept = max(1.0 - piece.get("depreciation", 0.0), piece.get("floor", 0.0))
            piece["value"] = piece.pop("replacement") * kept
    scenario["fallback"] = [_completed_fallback(scenario, each) for each in raw["fallback"]]
    return scenario


def _completed_fallback(scenario: Table, fallback: Table) -> Table:
    if "hours" in fallback:
        trouble = {"chance": 0.0, "cost": 0.0} | fallback.get("trouble", {})
        passes = fallback.get("kind", "other") != "drill_past"
        doors = {"after_string_lost": passes, "after_hole_lost": passes}
        return doors | fallback | {"trouble": trouble}
    if fallback.get("competent"):
        raise ValueError("the reference takes any rock for a kick-off, not a list of intervals")
    full = SIDETRACK_DEFAULTS | fallback
    full.setdefault("kickoff_floor", scenario["well"]["shoe_depth"] + full["kickoff_below_shoe"])
    full["stick_again"] = {"chance": 0.0, "cost": 0.0} | fallback.get("stick_again", {})
    if "whipstock" in fallback:
        full["whipstock"] = WHIPSTOCK_DEFAULTS | fallback["whipstock"]
    return full


def plain(raw: Table) -> Table:
    """Return the completed scenario, or raise ValueError where an amount is not a number."""
    uncertain = [".".join(path) for path, _ in distributions(raw)]
    if uncertain or weighted_odds(raw):
        raise ValueError(f"plain numbers only; uncertain are {uncertain or 'the odds'}")
    return completed(raw)


# ---- one fallback -----------------------------------------------------------------------------


def is_open(fallback: Table, ending: Ending) -> bool:
    """Return whether a fallback of a completed scenario can be taken after `ending`."""
    return ending == "limit" or bool(fallback.get(f"after_{ending}", True))


def whipstock_attempt(scenario: Table, fallback: Table) -> float:
    """Return W, the cost of one attempt with the whipstock [currency]."""
    whipstock = fallback["whipstock"]
    day = job.spread(scenario) + fallback.get("directional_day", 0.0)
    return float(whipstock["hours"] / job.HOURS_PER_DAY * day + whipstock["cost"])


def mean_kickoff_extra(
    scenario: Table, fallback: Table, *, failure: float, per_retry: float
) -> float:
    """Return what failed kick-offs cost on average [currency], `failure` q, `per_retry` R."""
    if "whipstock" not in fallback:
        return failure / (1.0 - failure) * per_retry
    mean, still_failing = 0.0, 1.0
    for _ in range(fallback["whipstock"]["after"] - 1):
        still_failing *= failure
        mean += still_failing * per_retry
    attempts: float = 1.0 / (1.0 - fallback["whipstock"]["failure"])
    return mean + still_failing * failure * attempts * whipstock_attempt(scenario, fallback)


def kickoff_points(scenario: Table, fallback: Table, *, failure: float, per_retry: float) -> Points:
    """Return every cost that failed kick-offs can come to, attempt by attempt, with its chance."""
    points: Points = []
    after = fallback["whipstock"]["after"] if "whipstock" in fallback else None
    failed, cost, arriving = 0, 0.0, 1.0  # before the next attempt; chance to come to it
    while True:
        on_whipstock = after is not None and failed >= after
        fails = fallback["whipstock"]["failure"] if on_whipstock else failure
        if arriving * fails < TAIL:
            points.append((cost, arriving))
            return points
        points.append((cost, arriving * (1.0 - fails)))
        arriving *= fails
        failed += 1
        by_whipstock = after is not None and failed >= after
        cost += whipstock_attempt(scenario, fallback) if by_whipstock else per_retry


def mean_cost(
    scenario: Table, fallback: Table, *, fish_top: float, ending: Ending, run: Table | None = None
) -> float:
    """Return the expected cost of a fallback from `fish_top` [ft] after `ending` [currency]."""
    bill = job.fallback_bill(scenario, fallback, fish_top=fish_top, ending=ending, run=run)
    mean = float(bill.certain) + float(bill.stick_chance * bill.stick_cost)
    if "hours" in fallback:
        return mean + float(fallback["trouble"]["chance"] * fallback["trouble"]["cost"])
    return mean + mean_kickoff_extra(
        scenario, fallback, failure=float(bill.kickoff_failure), per_retry=float(bill.per_retry)
    )


def cost_points(
    scenario: Table, fallback: Table, *, fish_top: float, ending: Ending, run: Table | None = None
) -> Points:
    """Return every cost of a fallback with its chance, its events happening or not."""
    bill = job.fallback_bill(scenario, fallback, fish_top=fish_top, ending=ending, run=run)
    if "hours" in fallback:
        event, extras = fallback["trouble"], [(0.0, 1.0)]
    else:
        event = fallback["stick_again"]
        extras = kickoff_points(
            scenario, fallback, failure=float(bill.kickoff_failure), per_retry=float(bill.per_retry)
        )
    happens = [(0.0, 1.0 - event["chance"]), (float(event["cost"]), float(event["chance"]))]
    return [
        (float(bill.certain) + extra + cost, chance * share)
        for extra, chance in extras
        for cost, share in happens
        if share > 0.0
    ]


def cheapest(
    scenario: Table, *, fish_top: float, ending: Ending, run: Table | None = None
) -> Table:
    """Return the open fallback with the least expected cost in this state."""
    open_ones = [each for each in scenario["fallback"] if is_open(each, ending)]
    if not open_ones:
        raise ValueError(f"no fallback is open after {ending}")
    return min(
        open_ones,
        key=lambda each: mean_cost(scenario, each, fish_top=fish_top, ending=ending, run=run),
    )


def mean_fallback(
    scenario: Table, *, fish_top: float, ending: Ending, run: Table | None = None
) -> float:
    """Return the expected cost of the cheapest open fallback in this state [currency]."""
    taken = cheapest(scenario, fish_top=fish_top, ending=ending, run=run)
    return mean_cost(scenario, taken, fish_top=fish_top, ending=ending, run=run)
