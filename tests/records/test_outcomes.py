"""Odds of the outcomes other than recovery: how kinds of run lean on each other, and coverage.

Origins: SciPy's Dirichlet-multinomial and its quadrature (independent); the truth that the demo
script draws its invented jobs from (independent).
"""

from __future__ import annotations

import numpy as np
import pytest
from made import demo_script, jobs
from scipy import integrate
from scipy.stats import binom, dirichlet_multinomial

from econ.records import parse_records
from econ.records.counts import count
from econ.records.fish_kinds import FishKinds
from econ.records.outcomes import mixes, outcome_tables
from econ.records.pooling import pool
from econ.scenario.program import OUTCOMES

REPLICATIONS = 60
NOT_TOLD = FishKinds(False, "")


def test_mix_is_that_of_a_quadrature_over_the_strength() -> None:
    counts = np.array([[30, 9, 6, 4, 1], [12, 1, 4, 0, 0], [2, 2, 0, 0, 0]])
    q = (counts.sum(axis=0) + 0.2) / (counts.sum() + 1)

    def joint(log_s: float, kind: int | None, outcome: int = 0) -> float:
        s = np.exp(log_s)
        logs = sum(dirichlet_multinomial.logpmf(row, s * q, row.sum()) for row in counts)
        mean = 1.0 if kind is None else (counts[kind] + s * q)[outcome] / (counts[kind].sum() + s)
        return float(np.exp(logs + 15) * mean)

    ends = 0.0, np.log(1000.0)
    whole = integrate.quad(joint, *ends, args=(None,))[0]
    found = mixes(counts.astype(float))
    for kind in range(3):
        for outcome in range(5):
            part = integrate.quad(joint, *ends, args=(kind, outcome))[0]
            assert found[kind, outcome] == pytest.approx(part / whole, abs=2e-3)
    assert found.sum(axis=1) == pytest.approx(np.ones(3))


def test_kinds_that_fail_in_other_ways_keep_their_own_mix() -> None:
    found = mixes(np.array([[0, 60, 0, 0, 0], [0, 0, 0, 60, 0], [1, 1, 1, 0, 0]], dtype=float))
    assert found[0, 1] > 0.95
    assert found[1, 3] > 0.95
    assert found[2, 1] < 0.5


def test_without_a_failure_all_outcomes_are_alike() -> None:
    assert mixes(np.zeros((2, 5))) == pytest.approx(np.full((2, 5), 0.2))


def test_intervals_of_every_outcome_cover_the_truth_of_invented_jobs() -> None:
    """95 % intervals: not less often than a binomial of 0.95 gives in 999 of 1,000."""
    script = demo_script()
    covered: dict[tuple[str, str], int] = {}
    for seed in range(REPLICATIONS):
        script.SEED = seed
        records = parse_records(script.invented())
        for table in outcome_tables(records, pool(count(records)), NOT_TOLD):
            ends = dict(zip(OUTCOMES, table.intervals(), strict=True))
            for name, share in zip(script.OUTCOMES, script.TRUTH["failures"], strict=True):
                low, high = ends[name]
                truth = share * (1 - table.odds[0])
                key = table.kind, name
                covered[key] = covered.get(key, 0) + (low <= truth <= high)
    assert len(covered) == 20
    least = binom.ppf(0.001, REPLICATIONS, 0.95)
    assert min(covered.values()) >= least, covered


def test_a_lost_hole_is_not_impossible_of_a_kind_that_never_met_it() -> None:
    (only,) = outcome_tables(
        *(records := jobs(*["n"] * 20, *["r"] * 10), pool(count(records)), NOT_TOLD)
    )
    lost = only.odds[OUTCOMES.index("hole_lost")]
    assert 0.001 < lost < 0.05  # a fifth of one run in 31, about
