"""Odds of the outcomes other than recovery: how kinds of run lean on each other, and coverage.

Origins: SciPy's Dirichlet-multinomial and its quadrature (independent); the truth that the demo
script draws its invented jobs from (independent).
"""

from __future__ import annotations

import tomllib

import numpy as np
import pytest
from made import demo_script, jobs
from made import table as rows_of
from scipy import integrate
from scipy.stats import binom, dirichlet_multinomial

from econ.records import odds, parse_records
from econ.records.counts import count
from econ.records.fragment import odds_fragment
from econ.records.outcomes import OddsTable, mixes, shares_of_failures, tables_on_all_fish
from econ.records.pooling import pool
from econ.records.records import Records
from econ.records.trade import failures
from econ.scenario.program import OUTCOMES

REPLICATIONS = 60
TRADE = 5 * failures(["overshot", "spear", "magnet"])  # by the trade, worth five runs each


def on_all_fish(records: Records) -> list[OddsTable]:
    """Tables of all fish together."""
    return tables_on_all_fish(records, pool(count(records), weight=5.0), weight=5.0)


def test_mix_is_that_of_a_quadrature_over_the_strength() -> None:
    counts = np.array([[30, 9, 6, 4, 1], [12, 1, 4, 0, 0], [2, 2, 0, 0, 0]])
    rest = counts.sum(axis=0) - counts + TRADE  # of the other kinds, and of the trade
    q = rest / rest.sum(axis=1, keepdims=True)

    def joint(log_s: float, kind: int | None, outcome: int = 0) -> float:
        s = np.exp(log_s)
        logs = sum(
            dirichlet_multinomial.logpmf(row, s * own, row.sum())
            for row, own in zip(counts, q, strict=True)
        )
        mean = (
            1.0
            if kind is None
            else (counts[kind] + s * q[kind])[outcome] / (counts[kind].sum() + s)
        )
        return float(np.exp(logs + 15) * mean)

    ends = 0.0, np.log(1000.0)
    whole = integrate.quad(joint, *ends, args=(None,))[0]
    found = mixes(counts.astype(float), TRADE)
    for kind in range(3):
        for outcome in range(5):
            part = integrate.quad(joint, *ends, args=(kind, outcome))[0]
            assert found[kind, outcome] == pytest.approx(part / whole, abs=2e-3)
    assert found.sum(axis=1) == pytest.approx(np.ones(3))


def test_kinds_that_fail_in_other_ways_keep_their_own_mix() -> None:
    found = mixes(
        np.array([[0, 60, 0, 0, 0], [0, 0, 0, 60, 0], [1, 1, 1, 0, 0]], dtype=float), TRADE
    )
    assert found[0, 1] > 0.95
    assert found[1, 3] > 0.95
    assert found[2, 1] < 0.5


def test_without_a_failure_runs_fail_as_those_of_the_trade() -> None:
    """By hand, of the catalogue's overshot at the fair level: middles of its ranges, and nothing
    for the rest of what is not recovered."""
    harm = np.array([0.055, 0.07, 0.02, 0.01])  # part, top damaged, string lost, hole lost
    trade = np.insert(harm, 1, 1 - 0.35 - harm.sum()) / 0.65
    assert mixes(np.zeros((1, 5)), TRADE[:1]) == pytest.approx(trade[None, :])


def test_intervals_of_every_outcome_cover_the_truth_of_invented_jobs() -> None:
    """95 % intervals: not less often than a binomial of 0.95 gives in 999 of 1,000."""
    script = demo_script()
    covered: dict[tuple[str, str], int] = {}
    for seed in range(REPLICATIONS):
        script.SEED = seed
        records = parse_records(script.invented())
        for table in on_all_fish(records):
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
    (only,) = on_all_fish(jobs(*["n"] * 20, *["r"] * 10))
    lost = only.odds[OUTCOMES.index("hole_lost")]
    assert 0.001 < lost < 0.05  # by the trade 0.015 of failed runs, worth 5 of 25


def tables(*rows: str) -> dict[str, dict[str, float]]:
    """Odds of the outcomes by kind of run, from rows of kind and outcome, a job each."""
    records = rows_of(*(f"J{number},1,{row}" for number, row in enumerate(rows)))
    found = on_all_fish(records)
    return {each.kind: dict(zip(OUTCOMES, each.odds, strict=True)) for each in found}


OLD = [
    *["overshot,nothing"] * 8,
    *["overshot,part", "overshot,recovered", "overshot,recovered"],
    *["washover,nothing"] * 3,
    "washover,recovered",
]


def test_a_kind_that_never_did_a_job_of_its_own_has_no_chance_of_it() -> None:
    before = tables(*OLD)
    after = tables(*OLD, *["dress_top,prepared"] * 6)
    for kind in ("overshot", "washover"):
        assert before[kind]["prepared"] == after[kind]["prepared"] == 0
        # and what others prepared changes none of the shares of its failures
        rest = {name: before[kind][name] / (1 - before[kind]["recovered"]) for name in OUTCOMES[1:]}
        for name, share in rest.items():
            assert after[kind][name] / (1 - after[kind]["recovered"]) == pytest.approx(share)


def test_share_of_prepared_is_that_of_its_own_kind() -> None:
    # by hand, in the order part, nothing, prepared, top_damaged, string_lost, hole_lost:
    # (6 + 1/6) / (6 + 2 + 1) prepared; the rest as in the mix of the two that were not
    counts = np.array([[0, 2, 6, 0, 0, 0], [1, 9, 0, 0, 0, 0]], dtype=float)
    found = shares_of_failures(counts, TRADE[:2])
    assert found[0, 2] == pytest.approx((6 + 1 / 6) / 9)
    assert found[1, 2] == 0
    mix = mixes(np.delete(counts, 2, axis=1), TRADE[:2])
    assert np.delete(found[0], 2) == pytest.approx(mix[0] * (1 - found[0, 2]))
    assert np.delete(found[1], 2) == pytest.approx(mix[1])
    assert found.sum(axis=1) == pytest.approx(np.ones(2))


def test_prepared_is_counted_and_written_where_it_was_seen() -> None:
    rows = [*OLD, *["dress_top,prepared"] * 6, "dress_top,nothing"]
    records = rows_of(*(f"J{number},1,{row}" for number, row in enumerate(rows)))
    found = odds(records)
    counted = found.to_frame().set_index(["kind", "fish", "outcome"])["count"]
    assert counted["dress_top", "", "prepared"] == 6
    assert counted["overshot", "", "prepared"] == 0
    kinds = tomllib.loads(odds_fragment(found))["kind"]
    assert kinds["dress_top"]["odds"]["prepared"] == pytest.approx(
        tables(*rows)["dress_top"]["prepared"], abs=1e-5
    )
    assert "prepared" not in kinds["overshot"]["odds"]


def test_a_run_that_recovers_nothing_by_trade_is_worth_no_more_than_its_runs() -> None:
    """Its chance of recovery is known to be near 0; how it ends else is known from one run only."""
    found = odds(rows_of("A,1,dress_top,prepared", "A,2,overshot,nothing"))
    for fish in ("", "workable", "stubborn"):
        table = found.table("dress_top", fish)
        assert table is not None
        assert table.weight <= 1 + 5  # its run, and those of the trade


def test_prepared_leaves_the_job_open() -> None:
    records = rows_of("A,1,dress_top,prepared", "A,2,overshot,recovered", "B,1,dress_top,prepared")
    assert records.rejected == ()
    assert [OUTCOMES[place] for place in records.outcome] == ["prepared", "recovered", "prepared"]
    assert records.recovered.tolist() == [False, True, False]
