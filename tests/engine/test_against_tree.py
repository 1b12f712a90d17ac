"""The engine against the enumerated outcome tree, every input at a plain number.

Origins of the expected numbers:
    published     the answers of scenario A (a published check model)
    independent   the outcome tree, a second implementation that shares no code with the engine
Where no outcome is sampled the engine is exact and is held to 1e-9; elsewhere to four of its own
standard errors, so that one comparison in some 16,000 would fail by chance, and seeds are fixed.
"""

from __future__ import annotations

import copy
from collections.abc import Callable

import numpy as np
import pytest
from raw_jobs import SCENARIO_A, Table, lump_job, read, scenario, walked, without_sampled_outcomes
from reference import job, outcome_tree
from reference.outcome_tree import Leaf

import econ
from econ.decision.answer import Answer
from econ.engine.curves import Curves
from econ.engine.histogram import BINS

pytestmark = pytest.mark.usefixtures("few_states")
EXACT = 1e-9
ERRORS = 4.0


def variant(change: Callable[[Table], None]) -> Table:
    raw = read(SCENARIO_A)
    change(raw)
    return raw


def as_it_is(raw: Table) -> None:
    """Scenario A as published."""


def damage(raw: Table) -> None:
    """Most failures damage the top, and only the last runs dress it."""
    raw["fishing"].update(damaged_top_factor=0.35, hole_lost_string_share=0.6)
    for run in raw["run"]:
        for odds in run["odds"].values():
            odds["top_damaged"] += 0.75 * odds["nothing"]
            odds["nothing"] *= 0.25
    raw["run"][1]["dresses_top"] = False


def falling_odds(raw: Table) -> None:
    """Odds fall with elapsed time."""
    raw["fishing"]["odds_ratio_per_day"] = 0.8


def rising_odds(raw: Table) -> None:
    """A soak helps: odds rise with elapsed time."""
    raw["fishing"]["odds_ratio_per_day"] = 1.3


def plain_hours(raw: Table) -> None:
    """Runs given as hours after a wait."""
    for number, run in enumerate(raw["run"]):
        del run["trips"]
        run.update(wait=3 * number, hours=20 + 7 * number)


def owed_first(raw: Table) -> None:
    """Something is owed on every branch before the first run, and two runs are required."""
    raw["common"] = {"hours": 18, "cost": 12_000}
    raw["limits"] = {"minimum_runs": 2}


def one_kind(raw: Table) -> None:
    """One table of odds a run."""
    for run in raw["run"]:
        run["odds"] = run["odds"]["workable"]
    del raw["fishing"]["workable"]


def mixed_tables(raw: Table) -> None:
    """Some runs tell the kinds apart and some do not."""
    for run in raw["run"][1:3]:
        run["odds"] = run["odds"]["workable"]


def two_fallbacks(raw: Table) -> None:
    """A lump that is cheaper than the sidetrack from the present top, dearer from a lower one."""
    raw["run"][0]["part_length"] = 400
    for odds in raw["run"][0]["odds"].values():
        odds["part"] += odds["nothing"] / 2
        odds["nothing"] /= 2
    raw["fallback"].append(
        {"name": "drill past", "hours": 60, "cost": 500_000, "lost_in_hole_share": 0.1}
    )


def second_fish(raw: Table) -> None:
    """The string is often lost and leaves a long second fish."""
    for run in raw["run"]:
        run.update(string_length=1_500, string_value=240_000)
        for odds in run["odds"].values():
            odds["string_lost"] += odds["nothing"] / 2
            odds["nothing"] /= 2


VARIANTS = [
    as_it_is,
    damage,
    falling_odds,
    rising_odds,
    plain_hours,
    owed_first,
    one_kind,
    mixed_tables,
    two_fallbacks,
    second_fish,
]


def within(value: float, expected: float, error: float) -> bool:
    """Whether a number is within its stated error of the expected one, or of its rounding."""
    return abs(value - expected) <= ERRORS * error + EXACT * abs(expected)


def spread(by_scramble: np.ndarray) -> tuple[float, float]:
    """Mean over scrambles and its standard error."""
    return float(by_scramble.mean()), float(by_scramble.std(ddof=1) / len(by_scramble) ** 0.5)


def leaves(
    raw: Table, *, limit_runs: int | None = None, limit_days: float | None = None
) -> list[Leaf]:
    """Every end of the tree of both kinds of fish."""
    return [
        leaf
        for kind, prior in outcome_tree.kinds_of_fish(raw).items()
        for leaf in outcome_tree.leaves(
            raw,
            kind,
            position=outcome_tree.start(raw),
            probability=prior,
            limit_runs=limit_runs,
            limit_days=limit_days,
        )
    ]


def means(ends: list[Leaf]) -> tuple[float, float]:
    """Expected cost, and chance of recovery."""
    cost = sum(leaf.probability * leaf.expected_cost for leaf in ends)
    return cost, sum(leaf.probability for leaf in ends if leaf.bill is None)


def days_agree(found: Curves, raw: Table, *, exact: bool) -> None:
    points = found.grid[:: max(1, len(found.grid) // 8)]
    for place in np.searchsorted(found.grid, points):
        cost, recovered = means(leaves(raw, limit_days=float(found.grid[place])))
        for values, goal in (
            (found.by_days_cost[:, place], cost),
            (found.by_days_recovered[:, place], recovered),
        ):
            mean, error = spread(values)
            assert within(mean, goal, 0.0 if exact else error), found.grid[place]


@pytest.mark.parametrize("change", VARIANTS)
def test_curves_with_no_sampled_outcome_are_exact(change: Callable[[Table], None]) -> None:
    raw = without_sampled_outcomes(variant(change))
    found = walked(raw, n=16, distributions=False)
    cost, recovered = found.cost, found.recovered
    for limit in range(outcome_tree.minimum_runs(raw), cost.shape[1]):
        expected, chance = means(leaves(raw, limit_runs=limit))
        assert cost[:, limit] == pytest.approx(expected, rel=EXACT)
        assert recovered[:, limit] == pytest.approx(chance, rel=EXACT)
    days_agree(found, raw, exact=True)


@pytest.mark.parametrize("change", VARIANTS)
def test_curves_agree_within_their_error(change: Callable[[Table], None]) -> None:
    raw = variant(change)
    found = walked(raw, n=1024, distributions=False)
    cost, recovered = found.cost, found.recovered
    fishing = found.fishing
    for limit in range(outcome_tree.minimum_runs(raw), cost.shape[1]):
        ends = leaves(raw, limit_runs=limit)
        expected, chance = means(ends)
        spent = sum(leaf.probability * leaf.spent for leaf in ends)
        for values, goal in (
            (cost[:, limit], expected),
            (recovered[:, limit], chance),
            (fishing[:, limit], spent),
        ):
            mean, error = spread(values)
            assert within(mean, goal, error), limit
        assert spread(cost[:, limit])[1] < 2e-4 * expected  # or the comparison would prove nothing
    days_agree(found, raw, exact=False)


def test_two_fallbacks_both_come_up() -> None:
    """Or the variant would not test the choice between them."""
    raw = variant(two_fallbacks)
    for top, first in ((11_180.0, False), (11_580.0, True)):
        taken = outcome_tree.mean_fallback(raw, fish_top=top, ending="limit")
        alone = outcome_tree.mean_fallback(
            {**raw, "fallback": raw["fallback"][:1]}, fish_top=top, ending="limit"
        )
        assert (taken == alone) is first


@pytest.mark.parametrize("step", [1, 3, 5, 7, 11, 24])
def test_a_run_that_would_begin_on_the_day_of_the_limit_is_not_made(step: int) -> None:
    raw = lump_job(*[{"recovered": 0.3, "nothing": 0.7}] * 6, hours=step)
    found = walked(raw, distributions=False)
    for runs in range(7):
        day = runs * step / 24
        place = int(np.argmin(np.abs(found.grid - day)))
        assert found.grid[place] == pytest.approx(day)  # the limit is on the grid
        expected = outcome_tree.limit(raw, limit_runs=runs).expected_cost
        assert found.by_days_cost[:, place] == pytest.approx(expected, rel=EXACT), runs


# ---- the whole answer -------------------------------------------------------------------------


@pytest.fixture(scope="module")
def answer_a() -> Answer:
    return econ.answer(scenario(read(SCENARIO_A), n=2048))


def test_scenario_a_by_runs(answer_a: Answer) -> None:
    # published: last column of the steps table of scenario A, to the dollar
    printed = [713_532, 526_671, 507_282, 499_510, 532_912, 569_682]
    costs = [row.expected_cost for row in answer_a.by_runs]
    assert costs == pytest.approx(printed, rel=5e-4)
    assert answer_a.best == 3
    for row, cost in zip(answer_a.by_runs, printed, strict=True):
        assert abs(row.expected_cost - cost) <= ERRORS * row.standard_error + 0.51
    # published: "recovery 69 %"
    assert answer_a.limit.probability_recovered == pytest.approx(0.690, abs=5e-4)


def test_scenario_a_along_the_path_of_failures(answer_a: Answer) -> None:
    path = outcome_tree.nothing_path(read(SCENARIO_A))
    for row, expected in zip(answer_a.ahead, path, strict=True):
        assert row.workable == pytest.approx(expected.workable_before, rel=EXACT)
        assert row.odds == pytest.approx(expected.odds["recovered"], rel=EXACT)
        assert row.cost == pytest.approx(expected.cost, rel=EXACT)
        assert row.days == pytest.approx(expected.hours / 24, rel=EXACT)
        assert row.break_even_odds == pytest.approx(expected.break_even, rel=EXACT)
    for n, limit in enumerate(answer_a.by_runs[1:]):
        # a part brought out makes the later trips a little longer than on the path
        assert limit.days == pytest.approx(path[n].days_after, rel=5e-3)


@pytest.mark.parametrize("change", [falling_odds, plain_hours, mixed_tables, second_fish])
def test_the_runs_ahead_and_the_rule(change: Callable[[Table], None]) -> None:
    raw = variant(change)
    found = econ.answer(scenario(raw, n=1024))
    for row, expected in zip(found.ahead, outcome_tree.nothing_path(raw), strict=True):
        assert row.workable == pytest.approx(expected.workable_before, rel=EXACT)
        assert row.odds == pytest.approx(expected.odds["recovered"], rel=EXACT)
        assert row.break_even_odds == pytest.approx(expected.break_even, rel=EXACT)
    rule = outcome_tree.best_rule(raw)
    best = outcome_tree.by_runs(raw)[found.best].expected_cost
    assert found.rule.gain == pytest.approx(best - rule[()].expected_cost, abs=1e-9 * best)
    for state in found.rule.states:
        assert state.go == (rule[state.history].action == "run"), state.history
        assert state.workable == pytest.approx(rule[state.history].workable, rel=EXACT)


def cumulative(points: list[tuple[float, float]], cost: float, *, strictly: bool) -> float:
    """Chance of a cost below `cost`, or not above it."""
    slack = EXACT * cost * (-1 if strictly else 1)
    return sum(chance for value, chance in points if value <= cost + slack)


@pytest.mark.parametrize("change", [as_it_is, damage, second_fish])
def test_percentiles_where_events_are_drawn(change: Callable[[Table], None]) -> None:
    raw = variant(change)
    draws, scrambles = 256, 16
    found = econ.answer(scenario(raw, n=draws, scrambles=scrambles))
    for row, tree in zip(found.by_runs, outcome_tree.by_runs(raw), strict=True):
        points = [(point.cost, point.probability) for point in tree.end_points]
        width = 2 * max(cost for cost, chance in points if chance > 1e-5) / BINS
        for share, cost in ((0.1, row.p10), (0.5, row.p50), (0.9, row.p90)):
            # three errors of plain sampling of as many draws, which Sobol points beat
            slack = 3 * (share * (1 - share) / (draws * scrambles)) ** 0.5
            assert cumulative(points, cost - width, strictly=True) <= share + slack
            assert cumulative(points, cost + width, strictly=False) >= share - slack
        chance = chance_dearer(raw, row.runs)
        slack = 3 * (chance * (1 - chance) / (draws * scrambles)) ** 0.5
        assert row.dearer == pytest.approx(chance, abs=slack + EXACT)


def chance_dearer(raw: Table, limit: int) -> float:
    """Chance that a limit ends dearer than stopping now would with the same retries and sticking.

    Worked over the leaves of the tree and every number of retries.
    """
    now = outcome_tree.cheapest_fallback(raw, fish_top=raw["fish"]["top"], ending="limit")
    q, stick = float(now.kickoff_failure), float(now.stick_chance)
    ends, chance = leaves(raw, limit_runs=limit), 0.0
    for retries in range(14):
        for stuck, weight in ((0, 1 - stick), (1, stick)):
            weight *= q**retries * (1 - q)

            def event(bill: job.FallbackBill, retries: int = retries, stuck: int = stuck) -> float:
                cost = bill.certain + retries * bill.per_retry + stuck * bill.stick_cost
                return float(cost)

            goal = event(now) * (1 + EXACT)
            for leaf in ends:
                total = leaf.spent + (event(leaf.bill) if leaf.bill else 0.0)
                chance += leaf.probability * weight * (total > goal)
    return chance


def certain_fallback(raw: Table) -> Table:
    """The same without events in the sidetrack."""
    table = copy.deepcopy(raw)
    table["fallback"][0].update(kickoff_failure=0.0, stick_again={"chance": 0.0, "cost": 0.0})
    return table


@pytest.mark.parametrize("change", [falling_odds, plain_hours, one_kind, second_fish])
def test_percentiles_and_authority_with_no_events_are_exact(
    change: Callable[[Table], None],
) -> None:
    raw = certain_fallback(without_sampled_outcomes(variant(change)))
    found = econ.answer(scenario(raw, n=16))
    tree = outcome_tree.by_runs(raw)
    now = tree[0].expected_cost
    for row, expected in zip(found.by_runs, tree, strict=True):
        for share, cost in ((0.1, row.p10), (0.5, row.p50), (0.9, row.p90)):
            assert cost == pytest.approx(expected.percentile(share), rel=1e-7)
        dearer = sum(p.probability for p in expected.end_points if p.cost > now * (1 + EXACT))
        assert row.dearer == pytest.approx(dearer, abs=1e-12)
        recovered = [point for point in expected.end_points if point.recovered]
        if recovered:
            mean = sum(p.cost * p.probability for p in recovered) / expected.probability_recovered
            assert row.cost_if_recovered == pytest.approx(mean, rel=EXACT)
        others = [point for point in expected.end_points if not point.recovered]
        mean = sum(p.cost * p.probability for p in others) / (1 - expected.probability_recovered)
        assert row.cost_if_fallback == pytest.approx(mean, rel=EXACT)

    ends = leaves(raw, limit_runs=found.best)
    spent = outcome_tree.PolicyResult(
        0.0,
        0.0,
        tuple(outcome_tree.EndPoint(leaf.spent, leaf.probability, True) for leaf in ends),
    )
    needed = [leaf for leaf in ends if leaf.bill]
    chance = sum(leaf.probability for leaf in needed)
    bills = [float(leaf.bill.expected) for leaf in needed if leaf.bill]
    after = outcome_tree.PolicyResult(
        0.0,
        0.0,
        tuple(
            outcome_tree.EndPoint(bill, leaf.probability / chance, False)
            for leaf, bill in zip(needed, bills, strict=True)
        ),
    )
    assert found.stage_1.mean == pytest.approx(
        sum(leaf.probability * leaf.spent for leaf in ends), rel=EXACT
    )
    assert found.stage_1.p90 == pytest.approx(spent.percentile(0.9), rel=1e-7)
    assert found.stage_2.probability == pytest.approx(chance, rel=EXACT)
    mean = sum(p.cost * p.probability for p in after.end_points)
    assert found.stage_2.mean == pytest.approx(mean, rel=EXACT)
    assert found.stage_2.p90 == pytest.approx(after.percentile(0.9), rel=1e-7)
