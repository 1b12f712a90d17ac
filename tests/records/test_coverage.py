"""Printed intervals, and the Betas of printed weights, hold the truth of invented records.

On few sets; 200 sets of each truth at 8, 25 and 80 jobs are in tests/benchmarks/coverage.py. The
truths (interval_coverage.py) lie far from what the trade plans with, on both sides of it.
"""

from __future__ import annotations

import pytest
from interval_coverage import TRUTHS, covered, least

SETS = 20


@pytest.mark.parametrize("name", ["share 5 %", "share 50 %, odds 5 to 95 %", "share 95 %"])
def test_intervals_and_weights_hold_the_truth(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """No fewer than a binomial of 0.95 gives in 999 of 1,000, of every kind of interval."""
    monkeypatch.setattr("econ.records.fish_kinds.LEAST_JOBS", 10**9)  # simulations are not asked
    found = covered(TRUTHS[name], 25, SETS)
    assert len(found) == 12
    missed = {kind: held for kind, (held, of) in found.items() if held / of < least(SETS)}
    assert not missed
