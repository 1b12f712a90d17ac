"""Growing losses, whipstock, trouble and closed fallbacks: the engine against the references.

Origins of the expected numbers:
    independent   `reference.rentals` and `reference.endings`, which list every history and every
                  attempt; sums cut off where nothing is left; numerical integration by scipy;
                  or worked by hand beside the number
"""

from __future__ import annotations

import copy
import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from raw_jobs import SCENARIO_A, Table, bill, lump_job, read, scenario, walked
from reference import endings, rentals
from reference.endings import Points
from reference.job import OUTCOMES
from scipy.integrate import quad

from econ.engine.choice import choose
from econ.engine.expected import expected
from econ.engine.inputs import Inputs
from econ.job import Bill, RunOdds, with_growing_losses
from econ.job.bill import Attempts, picked

pytestmark = pytest.mark.usefixtures("few_states")
EXACT = 1e-9
ERRORS = 4.0


def costs(raw: Table) -> list[float]:
    """Expected cost of each limit by the full tree."""
    inputs = Inputs(scenario(raw))
    case = inputs.case(inputs.first(1), inputs.sampler.scrambles)
    found = expected(case, choose(case), histories=3 ** len(raw["run"]))
    by_limit: list[float] = found.cost.sum(axis=0).mean(axis=1).tolist()
    return by_limit


# ---- losses that grow -------------------------------------------------------------------------


def job(*fallbacks: Table, **fishing: float) -> Table:
    """Scenario A cut to four runs with likely losses, time owed first and other fallbacks."""
    raw = read(SCENARIO_A)
    raw["run"] = raw["run"][:4]
    for run in raw["run"]:
        run["string_length"] = 900
        for odds in run["odds"].values():
            odds["string_lost"] += odds["nothing"] / 4
            odds["hole_lost"] += odds["nothing"] / 6
            odds["nothing"] *= 1 - 1 / 4 - 1 / 6
    raw["fishing"].update(fishing)
    raw["common"] = {"hours": 30, "cost": 9_000}
    raw["fallback"] += fallbacks
    return raw


@pytest.mark.parametrize("losses", [0.6, 1.0, 1.25, 3.0])
@pytest.mark.parametrize("recovery", [0.8, 1.0, 1.3])
def test_growing_losses_are_those_of_the_reference(losses: float, recovery: float) -> None:
    raw = job(loss_odds_ratio_per_day=losses, odds_ratio_per_day=recovery)
    goal = rentals.expected_costs_with_rentals(raw)
    assert costs(raw) == pytest.approx(goal, rel=EXACT)
    if losses > 1:
        kept = rentals.expected_costs_with_rentals(job(odds_ratio_per_day=recovery))
        assert goal[4] > kept[4] + 1_000  # or nothing would have grown


@settings(max_examples=100, deadline=None)
@given(
    st.lists(st.integers(0, 9), min_size=6, max_size=6).filter(any),
    st.floats(0.2, 5.0),
    st.floats(0.0, 20.0),
)
def test_growing_losses_keep_the_proportions(weights: list[int], ratio: float, days: float) -> None:
    names = OUTCOMES
    stated = {name: w / sum(weights) for name, w in zip(names, weights, strict=True)}
    goal = rentals.loss_grown(stated, ratio=ratio, days=days)
    odds = RunOdds(
        **{name: np.full((1, 1, 1), chance) for name, chance in stated.items()},
        prepared=np.zeros((1, 1, 1)),
    )
    found = with_growing_losses(odds, ratio_per_day=np.asarray(ratio), days=np.asarray(days))
    for name in names:
        assert float(getattr(found, name)[0, 0, 0]) == pytest.approx(goal[name], abs=1e-12)
    assert float(found.total()[0, 0, 0]) == pytest.approx(1.0, abs=1e-12)


def test_certain_and_impossible_losses_stay_as_they_are() -> None:
    sure = {"string_lost": 0.4, "hole_lost": 0.6}
    never = {"recovered": 0.3, "nothing": 0.7}
    for odds in (sure, never):
        plain = lump_job(never, odds)
        grown = copy.deepcopy(plain)
        grown["fishing"]["loss_odds_ratio_per_day"] = 4.0
        assert costs(grown) == pytest.approx(costs(plain), rel=EXACT)


def test_a_range_of_growth_is_the_mean_of_its_values() -> None:
    values, weights = [1.0, 1.6, 2.4], [0.5, 0.3, 0.2]
    raw = job(loss_odds_ratio_per_day=1.0)
    goal = np.zeros(5)
    for value, weight in zip(values, weights, strict=True):
        raw["fishing"]["loss_odds_ratio_per_day"] = value
        goal += weight * np.array(rentals.expected_costs_with_rentals(raw))
    raw["fishing"]["loss_odds_ratio_per_day"] = {"values": values, "weights": weights}
    cost = walked(raw, n=512, distributions=False).cost
    error = cost.std(axis=0, ddof=1) / 4
    assert (np.abs(cost.mean(axis=0) - goal) <= ERRORS * error + EXACT * goal).all()
    assert (error < 3e-4 * goal).all()


# ---- the kick-off as an event -----------------------------------------------------------------


def sidetrack(*, failure: float, whipstock: Table | None = None, stick: float = 0.1) -> Table:
    """Scenario A with another kick-off."""
    raw = read(SCENARIO_A)
    raw["run"] = []
    fallback = raw["fallback"][0]
    fallback.update(kickoff_failure=failure, stick_again={"chance": stick, "cost": 120_000})
    if whipstock is not None:
        fallback["whipstock"] = whipstock
    return raw


def bill_of(raw: Table) -> Bill:
    """The bill of the first fallback from the present fish top."""
    inputs = Inputs(scenario(raw))
    case = inputs.case(inputs.first(1), inputs.sampler.scrambles)
    top = np.asarray(case.fish.top)
    fallback = case.fallbacks[0]
    pieces = fallback.lost_in_hole_share * case.fish.value_below(top)
    return fallback.bill_above(top).owing(pieces=pieces)


def points_of(raw: Table) -> Points:
    """Every cost of it and its chance."""
    filled = endings.plain(raw)
    fallback = filled["fallback"][0]
    return endings.cost_points(filled, fallback, fish_top=filled["fish"]["top"], ending="limit")


WHIPSTOCKS = [
    None,
    {"after": 1, "hours": 30, "cost": 40_000, "failure": 0.2},
    {"after": 2, "hours": 44, "cost": 65_000, "failure": 0.45},
    {"after": 4, "hours": 12, "cost": 9_000, "failure": 0.0},
    {},  # planning values: after 2, 32 h, fails 0.15
]


@pytest.mark.parametrize("whipstock", WHIPSTOCKS)
@pytest.mark.parametrize("failure", [0.0, 0.25, 0.6])
def test_mean_of_the_kickoff(failure: float, whipstock: Table | None) -> None:
    raw = sidetrack(failure=failure, whipstock=whipstock)
    goal = rentals.expected_costs_with_rentals(raw)
    assert float(bill_of(raw).mean()) == pytest.approx(goal[0], rel=EXACT)
    assert costs(raw) == pytest.approx(goal, rel=EXACT)
    points = points_of(raw)
    assert sum(cost * chance for cost, chance in points) == pytest.approx(goal[0], rel=EXACT)


def shares(costs: np.ndarray) -> dict[float, float]:
    """How often each cost came about, to the dollar."""
    values, counts = np.unique(np.round(costs), return_counts=True)
    return dict(zip(values.tolist(), (counts / costs.size).tolist(), strict=True))


@pytest.mark.parametrize("whipstock", WHIPSTOCKS)
@pytest.mark.parametrize("failure", [0.0, 0.25, 0.6])
def test_events_of_uniform_draws_are_distributed_as_listed(
    failure: float, whipstock: Table | None
) -> None:
    raw = sidetrack(failure=failure, whipstock=whipstock)
    bill, n = bill_of(raw), 100_000
    rng = np.random.default_rng(11)
    seen = shares(bill.event(retry_draw=rng.random(n), stick_draw=rng.random(n)))
    # every attempt by its own number: the middle of each of n equal parts, no noise at all
    even = (np.arange(n) + 0.5) / n
    no_stick, stick = np.ones(n), np.zeros(n)
    exact: dict[float, float] = {}
    for draw, weight in ((no_stick, 0.9), (stick, 0.1)):
        for cost, share in shares(bill.event(retry_draw=even, stick_draw=draw)).items():
            exact[cost] = exact.get(cost, 0.0) + weight * share
    listed: dict[float, float] = {}
    for cost, chance in points_of(raw):
        listed[round(cost)] = listed.get(round(cost), 0.0) + chance
    assert set(seen) | set(exact) <= set(listed)  # no cost that cannot come about
    for cost, chance in listed.items():
        slack = ERRORS * (chance * (1 - chance) / n) ** 0.5 + 1 / n
        assert seen.get(cost, 0.0) == pytest.approx(chance, abs=slack), cost
        assert exact.get(cost, 0.0) == pytest.approx(chance, abs=2 / n), cost


# ---- with exponential utility -----------------------------------------------------------------


def kickoff(*, failure: float, retry: float, whipstock: tuple[float, float, float] | None) -> Bill:
    """A bill of 100 with retries; whipstock: after, cost of an attempt, chance that it fails."""
    tools = None if whipstock is None else Attempts(*map(np.asarray, whipstock))
    return bill(100.0, retry=retry, failure=failure, whipstock=tools)


def summed(bill: Bill, *, tolerance: float, attempts: int) -> float:
    """Mean of exp(cost/tolerance) attempt by attempt, cut off after so many."""
    q, cost, arriving, total = float(bill.failure), float(bill.certain), 1.0, 0.0
    tools = bill.whipstock
    for failed in range(attempts):
        if arriving == 0.0:
            break
        by_tool = tools is not None and failed >= float(tools.after)
        fails = float(tools.failure) if tools is not None and by_tool else q
        total += arriving * (1 - fails) * math.exp(cost / tolerance)
        arriving *= fails
        next_by_tool = tools is not None and failed + 1 >= float(tools.after)
        cost += float(tools.each) if tools is not None and next_by_tool else float(bill.per_retry)
    return total


FINITE = [
    # failure, cost of a retry, whipstock, tolerance
    (0.25, 30.0, None, 60.0),  # 0.25 exp(0.5) < 1
    (0.0, 30.0, None, 1.0),
    (0.6, 30.0, None, 70.0),
    (0.25, 30.0, (2.0, 50.0, 0.3), 60.0),
    (0.25, 30.0, (1.0, 50.0, 0.3), 60.0),
    (0.9, 60.0, (3.0, 10.0, 0.2), 40.0),  # plugs alone would have no end: 0.9 exp(1.5) > 1
    (math.exp(-0.5), 30.0, (4.0, 20.0, 0.1), 60.0),  # each plug counts alike: a = 1
    (0.5, 30.0, (2.0, 80.0, 0.0), 60.0),  # the whipstock never fails
]
ENDLESS = [
    (0.25, 30.0, None, 20.0),  # 0.25 exp(1.5) > 1
    (0.5, 60.0 * math.log(2.0), None, 60.0 * (1 - 1e-6)),
    (0.25, 1.0, (2.0, 80.0, 0.3), 60.0),  # 0.3 exp(4/3) > 1
    (0.9, 60.0, (3.0, 80.0, 0.5), 40.0),
]


@pytest.mark.parametrize(("failure", "retry", "whipstock", "tolerance"), FINITE)
def test_mean_exponential_is_the_sum_and_the_integral(
    failure: float, retry: float, whipstock: tuple[float, float, float] | None, tolerance: float
) -> None:
    made = kickoff(failure=failure, retry=retry, whipstock=whipstock)
    found = float(made.mean_exponential(tolerance=tolerance, less=0.0))
    assert found == pytest.approx(summed(made, tolerance=tolerance, attempts=600), rel=1e-9)
    shifted = float(made.mean_exponential(tolerance=tolerance, less=250.0))
    assert shifted == pytest.approx(found * math.exp(-250.0 / tolerance), rel=1e-12)

    def density(x: float) -> float:  # u = exp(-x), so that the rare ends take part
        draw = np.array([math.exp(-x)])
        cost = float(made.event(retry_draw=draw, stick_draw=np.ones(1))[0])
        return math.exp(cost / tolerance - x)

    # independent: scipy, in parts between the jumps of the event, out to where nothing is left
    jump = -math.log(failure) if failure > 0 else math.inf
    jumps = [k * jump for k in range(1, 600)]
    if whipstock is not None:
        after, _, again = whipstock
        step = -math.log(again) if again > 0 else math.inf
        jumps = [e for e in jumps if e <= after * jump]
        jumps += [after * jump + k * step for k in range(1, 600)]
    edges = sorted({*range(300), *(each for each in jumps if each < 299)})
    parts = [quad(density, a, b)[0] for a, b in pairwise(edges)]
    assert found == pytest.approx(sum(parts), rel=1e-6)


@pytest.mark.parametrize(("failure", "retry", "whipstock", "tolerance"), ENDLESS)
def test_mean_exponential_without_end_is_infinite(
    failure: float, retry: float, whipstock: tuple[float, float, float] | None, tolerance: float
) -> None:
    made = kickoff(failure=failure, retry=retry, whipstock=whipstock)
    assert float(made.mean_exponential(tolerance=tolerance, less=0.0)) == math.inf
    # the sum grows without end: the more attempts are counted, the faster
    sums = [summed(made, tolerance=tolerance, attempts=n) for n in (40, 80, 120)]
    assert sums[2] - sums[1] >= (sums[1] - sums[0]) * (1 - 1e-4) > 0


def test_a_whipstock_that_no_plug_leads_to_adds_nothing() -> None:
    # plugs never fail, so that what an endless whipstock would cost does not matter
    made = kickoff(failure=0.0, retry=30.0, whipstock=(2.0, 80.0, 0.9))
    found = float(made.mean_exponential(tolerance=60.0, less=0.0))
    assert found == pytest.approx(math.exp(100.0 / 60.0), rel=1e-12)


def test_sticking_multiplies_it() -> None:
    free = bill(100.0, retry=30.0, failure=0.25)
    stuck = bill(100.0, retry=30.0, failure=0.25, stick_chance=0.3, stick_cost=90.0)
    plain, found = (
        float(made.mean_exponential(tolerance=60.0, less=0.0)) for made in (free, stuck)
    )
    # independent: by hand, 0.7 + 0.3 exp(90/60)
    assert found == pytest.approx(plain * (0.7 + 0.3 * math.exp(1.5)), rel=1e-12)


def test_bills_with_and_without_a_whipstock_are_picked_side_by_side() -> None:
    bills = [
        kickoff(failure=0.4, retry=30.0, whipstock=None),
        kickoff(failure=0.3, retry=20.0, whipstock=(2.0, 50.0, 0.2)),
        kickoff(failure=0.0, retry=0.0, whipstock=None),
    ]
    taken = np.array([0, 1, 2, 1])
    found = picked(bills, taken)
    draws = {"retry_draw": np.full(4, 0.02), "stick_draw": np.ones(4)}
    for place, number in enumerate(taken):
        one = bills[number]
        assert found.mean()[place] == pytest.approx(float(one.mean()), rel=EXACT)
        event = one.event(retry_draw=np.full(1, 0.02), stick_draw=np.ones(1))[0]
        assert found.event(**draws)[place] == pytest.approx(event, rel=EXACT)
        utility = float(one.mean_exponential(tolerance=80.0, less=0.0))
        all_of_them = found.mean_exponential(tolerance=80.0, less=0.0)
        assert all_of_them[place] == pytest.approx(utility, rel=EXACT)


# ---- trouble, and doors that are closed -------------------------------------------------------

PAST: Table = {
    "name": "drill past",
    "kind": "drill_past",
    "hours": 90,
    "cost": 60_000,
    "trouble": {"chance": 0.3, "cost": 200_000},
}
ABOVE: Table = {
    "name": "complete above",
    "kind": "complete_above",
    "hours": 70,
    "cost": 80_000,
    "value_given_up": 390_000,
    "lost_in_hole_share": 0.5,
}


def test_trouble_with_a_lump_is_paid_by_its_chance() -> None:
    raw = lump_job({"nothing": 1.0})
    raw["fallback"][0]["trouble"] = {"chance": 0.2, "cost": 30_000}
    # independent: 150,000 and a fish of 40,000, and 0.2 of 30,000; the run costs 24,000
    assert costs(raw) == pytest.approx([196_000, 220_000], rel=EXACT)
    found = walked(raw, n=4096)
    low, middle, high = found.distributions["total"][-1, 0, :3]
    assert (low, middle, high) == pytest.approx((190_000, 190_000, 220_000), rel=1e-6)


FALLBACKS = {
    "past": [PAST],
    "past, open after the string": [PAST | {"after_string_lost": True}],
    "past, open after the hole": [PAST | {"after_hole_lost": True}],
    "above": [ABOVE],
    "above, closed after the string": [ABOVE | {"after_string_lost": False, "value_given_up": 0}],
    "above, closed after the hole": [ABOVE | {"after_hole_lost": False, "value_given_up": 0}],
    "past and above": [PAST, ABOVE],
    "all": [PAST | {"lost_in_hole_share": 0.2}, ABOVE | {"value_given_up": 310_000}],
}


@pytest.mark.parametrize("name", FALLBACKS)
def test_closed_fallbacks_are_not_taken(name: str) -> None:
    raw = job(*FALLBACKS[name], loss_odds_ratio_per_day=1.2)
    raw["fallback"][0]["whipstock"] = {"after": 2, "hours": 40, "cost": 30_000, "failure": 0.3}
    goal = rentals.expected_costs_with_rentals(raw)
    assert costs(raw) == pytest.approx(goal, rel=EXACT)
    opened = copy.deepcopy(raw)
    for fallback in opened["fallback"][1:]:
        fallback.update(after_string_lost=True, after_hole_lost=True)
    if name in ("past", "above, closed after the string", "above, closed after the hole"):
        # or the door would not have mattered
        assert rentals.expected_costs_with_rentals(opened)[4] < goal[4] - 1_000


@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    st.integers(0, 200_000),
    st.integers(0, 400_000),
    st.sampled_from([0.0, 0.3, 1.0]),
    st.lists(st.booleans(), min_size=4, max_size=4),
    st.integers(0, 2_000),
)
def test_any_doors_cost_what_the_reference_says(
    past: int, above: int, share: float, doors: list[bool], string: int
) -> None:
    raw = job(
        PAST | {"cost": past, "after_string_lost": doors[0], "after_hole_lost": doors[1]},
        ABOVE
        | {"value_given_up": above, "lost_in_hole_share": share}
        | {"after_string_lost": doors[2], "after_hole_lost": doors[3]},
        loss_odds_ratio_per_day=1.15,
    )
    raw["run"] = raw["run"][:3]
    for run in raw["run"]:
        run["string_length"] = string
    assert costs(raw) == pytest.approx(rentals.expected_costs_with_rentals(raw), rel=EXACT)


@pytest.mark.parametrize("other", [205_000, 239_000, 241_000, 270_000])
def test_the_choice_is_sharp_at_the_ends_of_the_pieces(other: float) -> None:
    # 200,000 of fish in its first 10 ft, over which a part passes; strings of 2,000 ft stand on it
    odds = {"recovered": 0.3, "nothing": 0.3, "part": 0.3, "string_lost": 0.05, "hole_lost": 0.05}
    raw = lump_job(odds, odds, part_length=10, string_length=2_000)
    raw["fish"]["piece"] = [
        {"name": "tool", "length": 10, "value": 200_000},
        {"name": "collars", "length": 390, "value": 40_000},
    ]
    lump = {"name": "leave", "hours": 0, "cost": other, "lost_in_hole_share": 0}
    raw["fallback"] = [{"name": "pay for the fish", "hours": 0}, lump]
    # independent: 240,000 for the whole fish, 40,000 without its first piece
    assert costs(raw)[0] == pytest.approx(min(240_000, other), rel=EXACT)
    assert costs(raw) == pytest.approx(rentals.expected_costs_with_rentals(raw), rel=EXACT)


# ---- percentiles of the total -----------------------------------------------------------------


def quantile(points: Points, share: float) -> float:
    """Least cost that is not exceeded with chance `share`."""
    reached = 0.0
    for cost, chance in sorted(points):
        reached += chance
        if reached >= share:
            return cost
    return max(points)[0]


@pytest.mark.parametrize("name", ["past", "above", "all"])
def test_percentiles_of_the_total_are_those_of_all_end_points(name: str) -> None:
    raw = job(*FALLBACKS[name], loss_odds_ratio_per_day=1.2)
    raw["fallback"][0]["whipstock"] = {"after": 1, "hours": 40, "cost": 30_000, "failure": 0.3}
    n = 1024
    found = walked(raw, n=n)
    for limit in range(5):
        points = rentals.cost_points(raw, limit_runs=limit)
        for share, cost in zip(
            (0.1, 0.5, 0.9), found.distributions["total"][-1, limit, :3], strict=True
        ):
            # two errors of plain sampling of all draws, which Sobol points beat
            slack = 2 * (share * (1 - share) / (16 * n)) ** 0.5
            low, high = quantile(points, share - slack), quantile(points, share + slack)
            assert low * (1 - 0.003) <= cost <= high * (1 + 0.003), (limit, share)
