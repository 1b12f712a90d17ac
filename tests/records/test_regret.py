"""What following the odds handed out costs, on few sets; at length in tests/benchmarks/records.py.

Origin of the limits: stated beforehand as aims of the work, in percent of cost (1.5 at 25 jobs, 0.8
at 80, 0.3 at 300). At 8 jobs 1.5 was aimed at too and is out of reach on these truths: who knows
the list of truths, and only has to tell which of them holds, misses by more (`bound`).
"""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from regret import (
    KINDS,
    LIST,
    ONE_KIND,
    TRUTHS,
    Past,
    as_table,
    bound,
    draws,
    handed_out,
    known_regrets,
    records,
    regrets,
    true_odds,
)

from econ.records import odds, parse_records


def means(jobs: int, sets: int) -> dict[str, np.ndarray]:
    """By truth, of each rule."""
    return {name: regrets(name, jobs, sets).mean(axis=0) for name in TRUTHS}


@pytest.mark.parametrize(("jobs", "sets", "most"), [(25, 12, 1.5), (80, 6, 0.8), (300, 2, 0.3)])
def test_following_the_odds_costs_little(jobs: int, sets: int, most: float) -> None:
    found = means(jobs, sets)
    ours, _, _, one_table, _ = np.mean(list(found.values()), axis=0)
    assert ours <= most, found
    assert ours < 0.5 * one_table, found


def test_at_eight_jobs_it_is_near_the_least_that_can_be_had() -> None:
    found = means(8, 16)
    ours, _, blended, one_table, bound = np.mean(list(found.values()), axis=0)
    assert bound > 1.5
    assert ours < 1.4 * bound, found
    assert ours < 0.65 * one_table, found
    assert ours < blended, found  # with one kind of fish, at even chances beforehand
    one_kind = np.mean([found[name] for name in ONE_KIND], axis=0)
    assert one_kind[0] < one_kind[-1] + 0.5, found  # no dearer to it than to who knows the list


def test_the_bound_is_the_least_that_a_choice_by_the_records_can_cost() -> None:
    """Of all records of two jobs of one run each, written out: no table that picks a limit for each
    of them costs less in the mean over records and truths."""
    sees = list(itertools.product(range(3), (True, False), range(3), (True, False)))
    chance = np.ones((len(TRUTHS), len(sees)))
    for row, truth in enumerate(TRUTHS.values()):
        of_kind = truth.shares @ truth.chances
        for place, (one, won, other, won_too) in enumerate(sees):
            for kind, came in ((one, won), (other, won_too)):
                chance[row, place] *= of_kind[kind] if came else 1 - of_kind[kind]
    regret = np.array(list(known_regrets().values()))  # truths, cases, limits
    least = np.einsum("ts,tcl->scl", chance, regret).min(axis=2).sum()
    paid = 0.0
    for place, (one, won, other, won_too) in enumerate(sees):
        outcome = np.array([-1 if came else 0 for came in (won, won_too)])
        past = Past(np.arange(2), np.zeros(2, dtype=int), np.array([one, other]), outcome)
        paid += sum(bound(name, past) * chance[row, place] for row, name in enumerate(TRUTHS))
    assert paid == pytest.approx(least / regret.shape[1])


def test_regret_is_none_for_who_knows_the_truth() -> None:
    from regret import regret

    for truth in TRUTHS.values():
        assert regret(truth, true_odds(truth)) == 0


def test_the_odds_followed_are_those_of_the_command() -> None:
    """The simulation leaves out intervals and checks, and nothing else."""
    past = records(draws("three kinds", 40, 1), TRUTHS["three kinds"], 40)
    found, quick = odds(parse_records(as_table(past))), handed_out(past)
    assert quick.shares[0] == pytest.approx(found.fish.workable.mean, abs=1e-6)
    for row, fish in enumerate(("workable", "stubborn")):
        for run, kind in enumerate(LIST):
            table = found.table(KINDS[kind], fish)
            assert table is not None
            assert quick.recovered[row, run] == pytest.approx(table.odds[0], abs=1e-5)
            assert quick.lost[row, run] == pytest.approx(sum(table.odds[5:]), abs=1e-5)
