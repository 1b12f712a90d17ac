"""The mixture of two kinds of fish recovers the truth of simulated records, and knows when not.

Origins: the truth that the records are simulated from (independent: coin by coin in made.py);
derivatives by differences, and the likelihood written out job by job (independent).
"""

from __future__ import annotations

import numpy as np
import pytest
from made import simulated
from scipy.special import expit, logit
from scipy.stats import binom

from econ.records import odds, parse_records
from econ.records.fish_kinds import fish_kinds
from econ.records.two_kinds import (
    LIMIT,
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
REPLICATIONS = 200


def cells_with_days() -> Cells:
    rng = np.random.default_rng(4)
    job = np.sort(rng.integers(0, 30, 90))
    job = np.unique(job, return_inverse=True)[1]
    kind = rng.integers(0, 3, 90)
    return with_days(job, kind, rng.random(90) < 0.4, rng.uniform(0, 6, 90), 3)


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
    parts = at[1:4], at[4:7]
    spread = sum(((part - part.mean()) ** 2).sum() for part in parts)
    means = sum(part.mean() ** 2 for part in parts)
    prior = 0.5 * (at[0] ** 2 / 9 + means / 25 + at[7] ** 2 + spread)  # as documented
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
    together = group(job, kind, won, 2)
    apart = with_days(job, kind, won, np.zeros(120), 2)
    at = np.array([0.2, 0.4, 0.0, -2.0, -1.0])
    assert together.jobs < apart.jobs
    assert height(together, at) == pytest.approx(height(apart, np.append(at, 0.0)))
    dense = derivatives(apart, np.append(at, 0.1))
    monkeypatch.setattr("econ.records.two_kinds.MANY", 0)  # the way for very many jobs
    sparse = derivatives(apart, np.append(at, 0.1))
    assert sparse[2] == pytest.approx(dense[2], abs=1e-9)


def found_in(count: int, *, jobs: int) -> np.ndarray:
    """Peaks of `count` simulated records."""
    peaks = []
    for seed in range(count):
        rng = np.random.default_rng([7, seed])
        cells = simulated(rng, jobs=jobs, share=SHARE, good=GOOD, bad=BAD)
        peaks.append(two_kinds(cells, one_kind(cells)).at)
    return np.array(peaks)


def test_truth_is_covered_in_200_simulated_records() -> None:
    """The 95 % profile intervals cover the truth in about 95 % of the records: the count lies
    within what a binomial of 0.95 gives in 999 of 1,000, for every parameter.

    An interval holds the values from which twice the drop below the peak is no more than 3.84, so
    one climb at the truth says whether it is covered; in every eighth record the ends are looked
    for as well, and must say the same.
    """
    covered = np.zeros(len(TRUTH))
    found = []
    for seed in range(REPLICATIONS):
        rng = np.random.default_rng([7, seed])
        cells = simulated(rng, jobs=150, share=SHARE, good=GOOD, bad=BAD)
        peak = two_kinds(cells, one_kind(cells))
        found.append(expit(peak.at))
        for place, truth in enumerate(TRUTH):
            start = peak.at.copy()
            start[place] = truth
            drop = 2 * (peak.height - climb(cells, start, held=place).height)
            covered[place] += drop <= LIMIT
            if seed % 8 == 0:
                low, high = interval(cells, peak, place)
                assert (low <= truth <= high) == (drop <= LIMIT), (seed, place)
    low, high = binom.ppf([0.0005, 0.9995], REPLICATIONS, 0.95)
    assert ((covered >= low) & (covered <= high)).all(), covered / REPLICATIONS
    # The chances themselves are off by the pull of the priors, about half an error at most.
    apart = np.abs(np.mean(found, axis=0) - expit(TRUTH))
    assert (apart < 0.7 * np.std(found, axis=0)).all(), apart
    assert (apart < 0.06).all(), apart


def test_the_pull_of_the_priors_goes_as_jobs_come() -> None:
    few, many = (expit(found_in(20, jobs=jobs)).mean(axis=0) for jobs in (150, 4000))
    truth = expit(TRUTH)
    assert np.abs(many - truth).max() < 0.02
    assert np.abs(many - truth).max() < 0.5 * np.abs(few - truth).max()


def test_wider_priors_pull_less_and_scatter_more(monkeypatch: pytest.MonkeyPatch) -> None:
    """So of the share the mean square of what is missed is no worse with the priors."""
    truth = expit(TRUTH)
    stated = expit(found_in(80, jobs=150))
    monkeypatch.setattr("econ.records.two_kinds.WIDE", 50.0)
    monkeypatch.setattr("econ.records.two_kinds.EVEN", 30.0)
    wide = expit(found_in(80, jobs=150))
    assert (np.abs(wide.mean(axis=0) - truth) < 0.05).all()  # the likelihood itself is sound
    assert ((stated - truth) ** 2).mean() <= ((wide - truth) ** 2).mean()


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
            records_text(np.random.default_rng([1, k]), jobs=150, share=0.6, odds=(0.6, 0.05))
        )
        for k in range(8)
    ]
    assert sum(each.told_apart for each in two) >= 7
    assert "told apart" in two[0].why
    one = [
        fish_kinds(
            records_text(np.random.default_rng([2, k]), jobs=60, share=1.0, odds=(0.35, 0.35))
        )
        for k in range(10)
    ]
    assert sum(each.told_apart for each in one) <= binom.ppf(0.999, 10, 0.05)
    silent = next(each for each in one if not each.told_apart)
    assert "cannot tell two kinds of fish apart" in silent.why


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
