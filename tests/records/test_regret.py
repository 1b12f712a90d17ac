"""What following the odds handed out costs, on few sets; at length in tests/benchmarks/records.py.

Origin of the limits: stated beforehand as aims of the work, in percent of cost (1.5 at 25 jobs, 0.8
at 80, 0.3 at 300). At 8 jobs 1.5 was aimed at too and is out of reach on these truths: who knows
the list of truths, and only has to tell which of them holds, misses by more (`bound`).
"""

from __future__ import annotations

import numpy as np
import pytest
from regret import (
    KINDS,
    LIST,
    ONE_KIND,
    TRUTHS,
    as_table,
    draws,
    handed_out,
    mean_regrets,
    records,
    true_odds,
)

from econ.records import odds, parse_records


@pytest.mark.parametrize(("jobs", "sets", "most"), [(25, 12, 1.5), (80, 6, 0.8), (300, 2, 0.3)])
def test_following_the_odds_costs_little(jobs: int, sets: int, most: float) -> None:
    found = mean_regrets(jobs, sets)
    ours, one_table, _ = np.mean(list(found.values()), axis=0)
    assert ours <= most, found
    assert ours < 0.5 * one_table, found


def test_at_eight_jobs_it_is_near_the_least_that_can_be_had() -> None:
    found = mean_regrets(8, 16)
    ours, one_table, bound = np.mean(list(found.values()), axis=0)
    assert bound > 1.5
    assert ours < 1.4 * bound, found
    assert ours < 0.65 * one_table, found
    one_kind = np.mean([found[name] for name in ONE_KIND], axis=0)
    assert one_kind[0] < one_kind[2] + 0.5, found  # no dearer to it than to who knows the list


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
