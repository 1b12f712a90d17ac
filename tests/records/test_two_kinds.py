"""The mixture of two kinds of fish recovers the truth of simulated records, and knows when not.

Origins: the truth that the records are simulated from (independent: coin by coin in made.py);
derivatives by differences, and the likelihood written out job by job (independent).
"""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from made import PRIOR, simulated
from scipy.special import expit, logit
from scipy.stats import binom

from econ.records import odds, parse_records
from econ.records.fish_kinds import fish_kinds
from econ.records.trade import in_two_tables
from econ.records.two_kinds import (
    Cells,
    climb,
    derivatives,
    group,
    height,
    interval,
    one_kind,
    two_kinds,
    with_days,
)

GOOD, BAD, SHARE = np.array([0.62, 0.5]), np.array([0.05, 0.08]), 0.65
TRUTH = np.concatenate([[logit(SHARE)], logit(GOOD), logit(BAD)])
THREE = in_two_tables(("overshot", "spear", "magnet"), 5.0)


def cells_with_days() -> Cells:
    rng = np.random.default_rng(4)
    job = np.sort(rng.integers(0, 30, 90))
    job = np.unique(job, return_inverse=True)[1]
    kind = rng.integers(0, 3, 90)
    return with_days(job, kind, rng.random(90) < 0.4, rng.uniform(0, 6, 90), THREE)


def test_height_is_the_likelihood_written_out_job_by_job() -> None:
    cells = cells_with_days()
    at = np.array([0.3, 0.5, 0.1, -0.2, -2.0, -1.5, -2.4, -0.1])
    total = 0.0
    for job in range(cells.jobs):
        a, b = expit(at[0]), 1 - expit(at[0])
        for run in np.flatnonzero(cells.job == job):
            assert cells.days is not None
            p = expit(at[1 + cells.kind[run]] + at[7] * cells.days[run])
            q = expit(at[4 + cells.kind[run]] + at[7] * cells.days[run])
            a *= p if cells.won[run] else 1 - p
            b *= q if cells.won[run] else 1 - q
        total += np.log(a + b)
    # as documented: W runs at the middle fair chance of the catalogue, split at a share of 0.65 in
    # two whose odds are 5 apart, solved here by halving
    middles = np.array([(0.25 + 0.45) / 2, (0.25 + 0.40) / 2, (0.20 + 0.35) / 2])
    low, high = np.zeros(3), middles.copy()
    for _ in range(60):
        q = 0.5 * (low + high)
        p = 5 * q / (1 - q + 5 * q)
        less = 0.65 * p + 0.35 * q < middles
        low, high = np.where(less, q, low), np.where(less, high, q)
    logs = (at[0] - np.log(0.65 / 0.35)) ** 2 * 5 * 0.65 * 0.35
    for part, chance in ((at[1:4], p), (at[4:7], q)):
        sd = 1 / np.sqrt(5 * chance * (1 - chance))
        alike = np.where(np.eye(3) > 0, 1.0, 0.8) * np.outer(sd, sd)
        off = part - np.log(chance / (1 - chance))
        logs += off @ np.linalg.solve(alike, off)
    prior = 0.5 * (logs + at[7] ** 2)
    assert height(cells, at) == pytest.approx(total - prior, abs=1e-9)


def test_derivatives_equal_differences() -> None:
    cells = cells_with_days()
    at = np.array([0.3, 0.5, 0.1, -0.2, -2.0, -1.5, -2.4, -0.1])
    _, slope, curvature = derivatives(cells, at)
    step = 1e-5
    for place in range(len(at)):
        nudge = np.zeros(len(at))
        nudge[place] = step
        rise = (height(cells, at + nudge) - height(cells, at - nudge)) / (2 * step)
        assert slope[place] == pytest.approx(rise, abs=1e-6)
        bend = derivatives(cells, at + nudge)[1] - derivatives(cells, at - nudge)[1]
        assert curvature[place] == pytest.approx(-bend / (2 * step), abs=1e-5)


def test_jobs_taken_together_and_one_by_one_are_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    rng = np.random.default_rng(1)
    job = np.repeat(np.arange(60), 2)
    kind, won = rng.integers(0, 2, 120), rng.random(120) < 0.3
    together = group(job, kind, won, PRIOR)
    apart = with_days(job, kind, won, np.zeros(120), PRIOR)
    at = np.array([0.2, 0.4, 0.0, -2.0, -1.0])
    assert together.jobs < apart.jobs
    assert height(together, at) == pytest.approx(height(apart, np.append(at, 0.0)))
    dense = derivatives(apart, np.append(at, 0.1))
    monkeypatch.setattr("econ.records.two_kinds.MANY", 0)  # the way for very many jobs
    sparse = derivatives(apart, np.append(at, 0.1))
    assert sparse[2] == pytest.approx(dense[2], abs=1e-9)


def test_thin_records_stay_near_the_trade_and_thick_ones_forget_it() -> None:
    """By the odds of truths on both sides of those of the trade."""
    trade = expit(PRIOR.centre)
    for share, good, bad in ((0.4, (0.4, 0.35), (0.02, 0.02)), (0.85, (0.8, 0.7), (0.2, 0.15))):
        truth = np.array([share, *good, *bad])
        missed, moved = [], []
        for jobs in (5, 100, 4000):
            rng = np.random.default_rng(jobs)
            cells = simulated(rng, jobs=jobs, share=share, good=np.array(good), bad=np.array(bad))
            found = expit(two_kinds(cells, one_kind(cells)).at)
            missed.append(np.abs(found - truth).max())
            moved.append(np.abs(found - trade).max())
        assert missed[2] < 0.05 < missed[0]
        assert moved[0] < moved[2]


def test_a_heavier_prior_keeps_records_nearer_to_the_trade() -> None:
    good, bad = np.array([0.8, 0.7]), np.array([0.02, 0.02])
    far = []
    for weight in (1.0, 5.0, 50.0, 1000.0):
        prior = in_two_tables(("overshot", "spear"), weight)
        cells = simulated(np.random.default_rng(4), jobs=40, share=0.4, good=good, bad=bad)
        cells = dataclasses.replace(cells, prior=prior)
        found = two_kinds(cells, one_kind(cells)).at
        far.append(float(np.abs(expit(found) - expit(prior.centre)).max()))
    assert far == sorted(far, reverse=True)
    assert far[-1] < 0.05


def test_a_profile_interval_is_where_the_drop_is_1_92() -> None:
    cells = simulated(np.random.default_rng(3), jobs=200, share=SHARE, good=GOOD, bad=BAD)
    peak = two_kinds(cells, one_kind(cells))
    for place in range(len(TRUTH)):
        for end in interval(cells, peak, place):
            start = peak.at.copy()
            start[place] = end
            drop = peak.height - climb(cells, start, held=place).height
            assert drop == pytest.approx(3.841459 / 2, abs=0.01)


def records_text(rng: np.random.Generator, *, jobs: int, share: float, odds: tuple[float, float]):  # type: ignore[no-untyped-def]
    good, bad = np.full(2, odds[0]), np.full(2, odds[1])
    rows = ["job,run,kind,outcome"]
    for job in range(jobs):
        chance = good if rng.random() < share else bad
        for run in range(1, 7):
            kind = int(rng.integers(2))
            came = rng.random() < chance[kind]
            word = "recovered" if came else "nothing"
            rows.append(f"J{job},{run},{('overshot', 'spear')[kind]},{word}")
            if came or rng.random() < 0.12:
                break
    return parse_records("\n".join(rows))


def test_two_kinds_are_told_apart_where_they_are_and_not_where_there_is_one() -> None:
    """One kind of fish passes for two in about 5 of 100, by the level of the test."""
    two = [
        fish_kinds(
            records_text(np.random.default_rng([1, k]), jobs=150, share=0.6, odds=(0.6, 0.05)),
            weight=5.0,
        )
        for k in range(8)
    ]
    assert sum(each.told_apart for each in two) >= 7
    assert "told apart" in two[0].why
    one = [
        fish_kinds(
            records_text(np.random.default_rng([2, k]), jobs=60, share=1.0, odds=(0.35, 0.35)),
            weight=5.0,
        )
        for k in range(10)
    ]
    assert sum(each.told_apart for each in one) <= binom.ppf(0.999, 10, 0.05)
    silent = next(each for each in one if not each.told_apart)
    assert "two kinds of fish cannot be told apart" in silent.why


def test_the_far_quantile_of_chi_square_is_far_above_what_one_kind_gives() -> None:
    from scipy.special import chdtri

    gains = []
    for seed in range(60):
        rng = np.random.default_rng([5, seed])
        even = np.array([0.35, 0.35])
        cells = simulated(rng, jobs=120, share=1.0, good=even, bad=even)
        alone = one_kind(cells)
        gains.append(2 * (two_kinds(cells, alone).height - alone.height))
    assert max(gains) < float(chdtri(3, 1e-4))
    assert np.quantile(gains, 0.95) < float(chdtri(3, 0.05))


def test_a_planted_factor_for_each_day_is_carried_and_odds_are_those_of_day_zero() -> None:
    rng = np.random.default_rng(12)
    rows = ["job,run,kind,outcome,hours"]
    for job in range(500):
        clock = 0.0
        for run in range(1, 6):
            came = rng.random() < expit(0.8 - 0.45 * clock / 24)
            hours = round(float(rng.exponential(40) + 6), 1)
            rows.append(f"J{job},{run},spear,{'recovered' if came else 'nothing'},{hours}")
            clock += hours
            if came:
                break
    found = odds(parse_records("\n".join(rows)))
    day = found.fish.per_day
    assert day is not None
    assert day.carried
    assert day.low < np.exp(-0.45) < day.high
    first = found.table("spear")
    assert first is not None
    rate = found.counts.all_runs.rate
    assert first.odds[0] > rate + 0.05  # taken back to day 0, above the mean over all days


def test_of_several_doubts_each_is_fitted_from_the_rows_that_depend_on_it() -> None:
    """What the guide tells the user to do: a table of each doubt's rows. Given that doubts are
    independent, runs that depend on one say nothing of another, so nothing is lost."""
    rng = np.random.default_rng(21)
    shares = {"caught": 0.75, "loose": 0.35}
    rows: dict[str, list[str]] = {name: [] for name in shares}
    for job in range(300):
        holds = {name: rng.random() < share for name, share in shares.items()}
        for run in range(1, 7):
            doubt = ("caught", "loose")[int(rng.integers(2))]
            came = rng.random() < (0.6 if holds[doubt] else 0.05)
            rows[doubt].append(f"J{job},{run},spear,{'recovered' if came else 'nothing'}")
            if came or rng.random() < 0.12:
                break
    means = {}
    for name, share in shares.items():
        records = parse_records("\n".join(["job,run,kind,outcome", *rows[name]]))
        assert records.rejected == ()
        found = fish_kinds(records, weight=5.0)
        assert found.told_apart
        assert found.workable.low < share < found.workable.high
        means[name] = found.workable.mean
    assert means["caught"] > means["loose"] + 0.2
