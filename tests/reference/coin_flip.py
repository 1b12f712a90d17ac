"""Reference Monte Carlo: one trial is one job, and every coin in it is flipped.

Per trial: each uncertain amount once, the kind of fish, one outcome per run made, then for a
fallback the kick-off retries and sticking again. Nothing is taken in expectation, so the means
converge as 1 / sqrt(n). Only the first fallback of the list is used.

Amounts, with q(u) the quantile at u
    {low, high}                           uniform
    {low, likely, high}                   PERT: low + (high - low) Beta(a, b),
                                          a = 1 + 4 (likely - low) / (high - low), b = 6 - a
    {low, likely, high, shape="triangle"} triangular
    {mean, sd}                            normal, truncated at 0
    {median, factor}                      lognormal, P90 = median x factor
    {p10, p50, p90}                       three-term metalog (Keelin 2016, Decision Analysis 13(4)):
                                          q(u) = a1 + a2 L + a3 (u - 1/2) L, L = ln(u / (1 - u))
    {values, weights}                     discrete
    {mean, weight}                        Beta(mean x weight, (1 - mean) x weight)
An odds table with `weight` w draws `recovered` from Beta(p w, (1 - p) w); the other outcomes keep
their proportions on what is left.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import stats

from . import job
from .job import OUTCOMES, Amount, Table

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]


@dataclass(frozen=True)
class CoinFlips:
    """One entry per trial."""

    total_cost: Floats  # [currency]
    recovered: Flags
    days: Floats  # elapsed when fishing ended, `common` included [days]


# ---- drawing ----------------------------------------------------------------------------------


def draw(table: Table, *, n: int, rng: np.random.Generator) -> Floats | None:
    """Return `n` draws of the distribution that `table` describes, or None if it is none."""
    keys = set(table)
    drawn: Floats
    if keys == {"low", "high"}:
        drawn = rng.uniform(table["low"], table["high"], n)
    elif keys == {"low", "likely", "high"}:
        low, likely, high = table["low"], table["likely"], table["high"]
        a = 1.0 + 4.0 * (likely - low) / (high - low)
        drawn = low + (high - low) * rng.beta(a, 6.0 - a, n)
    elif keys == {"low", "likely", "high", "shape"}:
        if table["shape"] != "triangle":
            raise ValueError(f"shape {table['shape']!r} is not covered, only 'triangle'")
        drawn = rng.triangular(table["low"], table["likely"], table["high"], n)
    elif keys == {"mean", "sd"}:
        mean, sd = table["mean"], table["sd"]
        drawn = stats.truncnorm.rvs(
            (0.0 - mean) / sd, np.inf, loc=mean, scale=sd, size=n, random_state=rng
        )
    elif keys == {"median", "factor"}:
        sigma = np.log(table["factor"]) / stats.norm.ppf(0.9)
        drawn = rng.lognormal(np.log(table["median"]), sigma, n)
    elif keys == {"p10", "p50", "p90"}:
        p10, p50, p90 = table["p10"], table["p50"], table["p90"]
        log_odds_at_p90 = np.log(9.0)
        a2 = (p90 - p10) / (2.0 * log_odds_at_p90)
        a3 = (p90 + p10 - 2.0 * p50) / (0.8 * log_odds_at_p90)
        u = rng.random(n)
        log_odds = np.log(u / (1.0 - u))
        drawn = p50 + a2 * log_odds + a3 * (u - 0.5) * log_odds
    elif keys == {"values", "weights"}:
        weights = np.asarray(table["weights"], dtype=float)
        values = np.asarray(table["values"], dtype=float)
        drawn = rng.choice(values, size=n, p=weights / weights.sum())
    elif keys == {"mean", "weight"}:
        mean, weight = table["mean"], table["weight"]
        drawn = rng.beta(mean * weight, (1.0 - mean) * weight, n)
    else:
        return None
    return drawn


def draw_amounts(node: Any, *, n: int, rng: np.random.Generator) -> Any:
    """Return a copy of a scenario with every distribution in it replaced by its `n` draws."""
    if isinstance(node, dict):
        drawn = draw(node, n=n, rng=rng)
        if drawn is not None:
            return drawn
        return {key: draw_amounts(below, n=n, rng=rng) for key, below in node.items()}
    if isinstance(node, list):
        return [draw_amounts(below, n=n, rng=rng) for below in node]
    return node


def draw_odds(table: Table, *, n: int, rng: np.random.Generator) -> Floats:
    """Return the odds of one kind, shape (outcomes, n), uncertain if the table has a weight."""
    odds = np.array([np.full(n, float(table.get(outcome, 0.0))) for outcome in OUTCOMES])
    p = float(table.get("recovered", 0.0))
    if "weight" in table and 0.0 < p < 1.0:
        weight = table["weight"]
        recovered = rng.beta(p * weight, (1.0 - p) * weight, n)
        odds[1:] *= (1.0 - recovered) / (1.0 - p)
        odds[0] = recovered
    return odds


def settled(odds: Floats) -> Floats:
    """Return odds, shape (outcomes, n), that sum to 1 again: `job.settled` in every trial."""
    rows = {outcome: odds[number].copy() for number, outcome in enumerate(OUTCOMES)}
    missing = odds.sum(axis=0) - 1.0
    given = np.minimum(missing, rows["nothing"])
    rows["nothing"] -= given
    missing = np.maximum(missing - given, 0.0)
    available = sum(rows[outcome] for outcome in job.GIVES_WAY)
    safe = np.where(available > 0.0, available, 1.0)
    for outcome in job.GIVES_WAY:
        rows[outcome] -= np.minimum(missing, available) * rows[outcome] / safe
    left = np.stack([rows[outcome] for outcome in OUTCOMES])
    return left / np.maximum(left.sum(axis=0), 1.0)


def odds_now(
    scenario: Table, run: Table, stated: Floats, *, days: Floats, damaged: Flags
) -> Floats:
    """Return the odds after elapsed time [days], then after damage to the top."""
    odds = stated.copy()
    fishing = scenario.get("fishing", {})
    per_day = fishing.get("odds_ratio_per_day", 1.0)

    before = stated[0]
    failing = 1.0 - before
    ratio_of_odds = before * per_day**days
    odds[0] = ratio_of_odds / (ratio_of_odds + failing)
    odds = settled(odds)

    if not run.get("dresses_top", False):
        factor = fishing.get("damaged_top_factor", 0.6)
        moved = np.where(damaged, (1.0 - factor) * odds[0], 0.0)
        odds[0] -= moved
        odds[OUTCOMES.index("nothing")] += moved
    return odds


# ---- one job per trial ------------------------------------------------------------------------


def flip_fallback(bill: job.FallbackBill, *, n: int, rng: np.random.Generator) -> Floats:
    """Return the cost of a fallback in each trial [currency], its events flipped."""
    retries = rng.geometric(1.0 - np.broadcast_to(bill.kickoff_failure, n)) - 1
    sticks = rng.random(n) < bill.stick_chance
    cost: Floats = bill.certain + retries * bill.per_retry + sticks * bill.stick_cost
    return cost


def simulate(
    scenario: Table,
    *,
    n: int,
    rng: np.random.Generator,
    limit_runs: int | None = None,
    limit_days: float | None = None,
) -> CoinFlips:
    """Return `n` jobs played out under a limit by runs, by days [days], by both or by none.

    `minimum_runs` of the scenario are made whatever the limit says.
    """
    job.check_covered(scenario)
    drawn = draw_amounts(scenario, n=n, rng=rng)
    runs = drawn.get("run", [])
    fallback = drawn["fallback"][0]
    required = int(drawn.get("limits", {}).get("minimum_runs", 0))

    by_kind = any("workable" in run["odds"] for run in runs)
    chance_workable: Amount = drawn["fishing"]["workable"] if by_kind else 1.0
    workable = rng.random(n) < chance_workable

    top = np.zeros(n) + drawn["fish"]["top"]
    cost = np.zeros(n) + job.common_cost(drawn)
    days = np.zeros(n) + job.common_days(drawn)
    damaged = np.zeros(n, dtype=bool)
    fishing = np.ones(n, dtype=bool)
    recovered = np.zeros(n, dtype=bool)

    for made, run in enumerate(runs):
        allowed = np.ones(n, dtype=bool)
        if limit_runs is not None:
            allowed &= made < limit_runs
        if limit_days is not None:
            allowed &= days < limit_days
        goes = fishing & (allowed | (made < required))
        stops = fishing & ~goes
        bill = job.fallback_bill(drawn, fallback, fish_top=top, ending="limit")
        cost = cost + np.where(stops, flip_fallback(bill, n=n, rng=rng), 0.0)

        if "workable" in run["odds"]:
            stated = np.where(
                workable,
                draw_odds(run["odds"]["workable"], n=n, rng=rng),
                draw_odds(run["odds"]["stubborn"], n=n, rng=rng),
            )
        else:
            stated = draw_odds(run["odds"], n=n, rng=rng)
        odds = odds_now(drawn, run, stated, days=days, damaged=damaged)
        chances_below = np.cumsum(odds, axis=0)[:-1]
        outcome = (rng.random(n) >= chances_below).sum(axis=0)
        ends_by = {name: goes & (outcome == i) for i, name in enumerate(OUTCOMES)}

        once = job.fishing_mobilization(drawn) if made == 0 else 0.0
        cost = cost + np.where(goes, job.run_cost(drawn, run, fish_top=top) + once, 0.0)
        hours = job.run_hours(drawn, run, fish_top=top)
        days = days + np.where(goes, hours / job.HOURS_PER_DAY, 0.0)

        recovered |= ends_by["recovered"]
        cost = cost + np.where(ends_by["recovered"], job.recovery_cost(drawn), 0.0)
        bill = job.fallback_bill(drawn, fallback, fish_top=top, ending="string_lost", run=run)
        cost = cost + np.where(ends_by["string_lost"], flip_fallback(bill, n=n, rng=rng), 0.0)
        bill = job.fallback_bill(drawn, fallback, fish_top=top, ending="hole_lost", run=run)
        cost = cost + np.where(ends_by["hole_lost"], flip_fallback(bill, n=n, rng=rng), 0.0)

        if run.get("dresses_top", False):
            damaged = damaged & ~goes
        damaged = damaged | ends_by["top_damaged"]
        top = np.where(ends_by["part"], job.top_after_part(drawn, run, fish_top=top), top)
        fishing = ends_by["part"] | ends_by["nothing"] | ends_by["top_damaged"]

    bill = job.fallback_bill(drawn, fallback, fish_top=top, ending="limit")
    cost = cost + np.where(fishing, flip_fallback(bill, n=n, rng=rng), 0.0)
    return CoinFlips(total_cost=cost, recovered=recovered, days=days)
