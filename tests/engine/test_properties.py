"""What must hold for every job, on jobs made up at random.

Origins: each property follows from the rules of the model, argued where it is not plain; that
more dependence among trials is never cheaper is published (J.L. Smith, "Petroleum Prospect
Valuation: The Option to Drill Again", Energy Journal 2005).
"""

from __future__ import annotations

import copy
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, assume, example, given, settings
from hypothesis import strategies as st
from raw_jobs import DEMO_A, Table, arrays, lump_job, read, scenario, walked

import econ
import econ.engine.histogram
from econ.engine.choice import choose
from econ.engine.inputs import Inputs
from econ.engine.walk import walk

pytestmark = pytest.mark.usefixtures("few_bins")
OUTCOMES = ("recovered", "part", "nothing", "top_damaged", "string_lost", "hole_lost")
ROUNDING = 1e-9
quick = settings(max_examples=8, deadline=None, suppress_health_check=[HealthCheck.too_slow])
slow = settings(quick, max_examples=5)


# ---- jobs at random ---------------------------------------------------------------------------

hours = st.integers(0, 30)
money = st.integers(0, 90_000)


@st.composite
def odds_tables(draw: st.DrawFn) -> Table:
    weights = draw(st.lists(st.integers(0, 9), min_size=6, max_size=6).filter(any))
    return {name: w / sum(weights) for name, w in zip(OUTCOMES, weights, strict=True)}


@st.composite
def runs(draw: st.DrawFn) -> Table:
    run: Table = {
        "name": "a run",
        "wait": draw(hours),
        "charge": draw(money),
        "part_length": draw(st.integers(0, 500)),
        "string_length": draw(st.integers(0, 900)),
        "string_value": draw(money),
        "dresses_top": draw(st.booleans()),
    }
    if draw(st.booleans()):
        run["hours"] = draw(st.integers(1, 90))
    else:
        one = {"make_up": draw(hours), "circulate": 1, "work": draw(hours), "lay_down": 2}
        run["trips"] = [one] * draw(st.integers(1, 2))
    run["odds"] = draw(
        st.one_of(
            odds_tables(),
            st.fixed_dictionaries({"workable": odds_tables(), "stubborn": odds_tables()}),
        )
    )
    return run


@st.composite
def fallbacks(draw: st.DrawFn) -> Table:
    share = draw(st.sampled_from([0.0, 0.4, 1.0]))
    if draw(st.booleans()):
        return {
            "name": "lump",
            "hours": draw(st.integers(0, 300)),
            "cost": draw(money),
            "value_given_up": draw(money),
            "lost_in_hole_share": share,
        }
    return {
        "name": "sidetrack",
        "kickoff_above_fish": draw(st.integers(0, 500)),
        "gross_rop": draw(st.integers(5, 60)),
        "bit_life": draw(st.integers(100, 2_000)),
        "directional_day": draw(money),
        "plug_cost": draw(money),
        "bit_cost": draw(money),
        "other_cost": draw(money),
        "kickoff_failure": draw(st.sampled_from([0.0, 0.3])),
        "stick_again": {"chance": draw(st.sampled_from([0.0, 0.1])), "cost": draw(money)},
        "lost_in_hole_share": share,
    }


@st.composite
def jobs(draw: st.DrawFn) -> Table:
    lengths = draw(st.lists(st.integers(10, 400), min_size=1, max_size=3))
    return {
        "schema": 1,
        "units": "field",
        "currency": "USD",
        "job": {"well": "invented"},
        "well": {"depth": 10_000, "hole_diameter": 8.5, "shoe_depth": 4_000},
        "trip_speed": {
            "in": {"cased": 2_000, "open": draw(st.integers(500, 1_500))},
            "out": {"cased": 1_800, "open": 1_200},
        },
        "rates": {"rig": draw(st.integers(1_000, 90_000)), "fuel": draw(money)},
        "fishing": {
            "day_rates": {"hands": draw(money)},
            "mobilization": draw(money),
            "workable": draw(st.sampled_from([0.0, 0.2, 0.5, 0.9, 1.0])),
            "damaged_top_factor": draw(st.sampled_from([0.0, 0.6, 1.0])),
            "odds_ratio_per_day": draw(st.sampled_from([0.7, 1.0, 1.2])),
        },
        "fish": {
            "top": 10_000 - sum(lengths),
            "bottom": 10_000,
            "piece": [
                {"name": "piece", "length": length, "value": draw(money)} for length in lengths
            ],
        },
        "run": draw(st.lists(runs(), min_size=1, max_size=4)),
        "recovery": {"hours": draw(hours), "charge": draw(money), "fishing_share": 0.5},
        "common": {"hours": draw(hours), "cost": draw(money)},
        "fallback": draw(st.lists(fallbacks(), min_size=1, max_size=2)),
        "draws": {"n": 16, "seed": draw(st.integers(0, 9))},
    }


def expected(raw: Table) -> np.ndarray:
    """Expected cost of each limit by runs."""
    cost: np.ndarray = walked(raw).cost.mean(axis=0)
    return cost


# ---- properties -------------------------------------------------------------------------------


@quick
@given(jobs(), st.sampled_from([1, 4, 1_000]))
def test_weights_are_shared_out_and_none_is_lost(raw: Table, histories: int) -> None:
    inputs = Inputs(scenario(raw))
    case = next(inputs.blocks(0, 16))
    ended, last = np.zeros(()), 1.0
    for step in walk(case, choose(case), histories=histories):
        weight = step.level.weight
        assert weight.min() >= -1e-15
        alive = weight.sum(axis=(0, 1))
        assert alive.max() <= last + 1e-12
        assert alive + ended == pytest.approx(1.0, abs=1e-9)
        last = float(alive.max())
        for made in step.made:
            assert made.odds.total() == pytest.approx(1.0, abs=1e-12)
            for outcome in OUTCOMES:
                assert getattr(made.odds, outcome).min() >= -1e-15
        for ending in step.ends:
            ended = ended + ending.weight.sum(axis=(0, 1))


@quick
@given(jobs())
def test_expected_cost_lies_between_the_cheapest_and_the_dearest_end(raw: Table) -> None:
    inputs = Inputs(scenario(raw))
    found = walked(raw)
    low, high = np.inf, -np.inf
    for case in inputs.blocks(0, 16):
        for step in walk(case, found.choice, histories=1):
            for ending in (step.stop, *step.ends):
                cost, possible = np.broadcast_arrays(ending.cost, ending.weight > 0)
                here = cost[possible]
                if here.size:
                    low, high = min(low, here.min()), max(high, here.max())
    slack = ROUNDING * max(high, 1.0)
    limits = found.cost
    assert low - slack <= limits.min()
    assert limits.max() <= high + slack
    recovered = found.recovered
    assert np.diff(recovered, axis=1).min() >= -1e-12  # one more run never recovers less
    assert recovered.max() <= 1 + 1e-12


@quick
@given(jobs(), st.integers(1, 500_000))
def test_a_dearer_fallback_never_shortens_the_best_limit(raw: Table, more: int) -> None:
    # Every branch that ends in the fallback pays `more`, a chance that falls with the limit, so
    # that a longer limit gains on a shorter one in every draw.
    dearer = copy.deepcopy(raw)
    for fallback in dearer["fallback"]:
        name = "cost" if fallback["name"] == "lump" else "other_cost"
        fallback[name] += more
    before, after = expected(raw), expected(dearer)
    best = int(np.argmin(before))
    assert after[best] <= after[:best].min(initial=np.inf) + ROUNDING * after.max()


MONEY = {
    "charge", "string_value", "value", "mobilization", "cost", "value_given_up",
    "directional_day", "plug_cost", "bit_cost", "other_cost", "rig", "fuel", "hands",
}  # fmt: skip
LENGTHS = {
    "depth", "shoe_depth", "cased", "open", "top", "bottom", "length", "part_length",
    "string_length", "kickoff_above_fish", "kickoff_below_shoe", "kickoff_length",
    "kickoff_rate", "gross_rop", "bit_life",
}  # fmt: skip


def scaled(node: Any, names: set[str], factor: float) -> Any:
    """A copy with every plain number under one of the names times a factor."""
    if isinstance(node, dict):
        return {
            name: below * factor
            if name in names and isinstance(below, (int, float))
            else scaled(below, names, factor)
            for name, below in node.items()
        }
    return [scaled(below, names, factor) for below in node] if isinstance(node, list) else node


@quick
@given(jobs(), st.integers(-6, 6).map(lambda power: 2.0**power))
def test_money_in_another_currency_changes_no_decision(raw: Table, factor: float) -> None:
    # a power of two moves no digit of a number, so the two agree to the last bit
    one, other = arrays(walked(raw)), arrays(walked(scaled(raw, MONEY, factor)))
    for name in ("distributions.total", "distributions.on_fishing"):  # through logarithms
        money = one[name] * factor
        money[..., -1] = one[name][..., -1]  # a chance
        assert np.allclose(other[name], money, rtol=1e-6, equal_nan=True), name
    for name in ("cost", "by_days_cost", "sums.charges", "sums.lost_in_hole"):
        assert np.array_equal(other[name], one[name] * factor), name
    for name in ("recovered", "still.days", "sums.dearer", "sums.fishing_hours"):
        assert np.array_equal(other[name], one[name]), name


WHOLE_BITS: Table = {  # from 8,871 ft (10,000 - 8,871 - 1)/188 is 6 bit trips, to the foot
    "schema": 1,
    "units": "field",
    "currency": "USD",
    "job": {"well": "invented"},
    "well": {"depth": 10_000, "hole_diameter": 8.5, "shoe_depth": 4_000},
    "trip_speed": {
        "in": {"cased": 2_000, "open": 1_000},
        "out": {"cased": 1_800, "open": 1_200},
    },
    "rates": {"rig": 24_000},
    "fish": {
        "top": 9_142,
        "bottom": 10_000,
        "piece": [{"name": "piece", "length": 858, "value": 0}],
    },
    "run": [{"name": "run", "hours": 10, "odds": {"nothing": 1.0}}],
    "fallback": [
        {"name": "sidetrack", "kickoff_above_fish": 271, "gross_rop": 30, "bit_life": 188}
    ],
    "draws": {"n": 16, "seed": 1},
}


@quick
@given(jobs())
@example(WHOLE_BITS)
def test_metric_and_field_files_agree(raw: Table) -> None:
    for fallback in raw["fallback"]:  # the planning values of a sidetrack differ by units
        if fallback["name"] == "sidetrack":
            fallback.update(kickoff_length=25, kickoff_rate=2.0, kickoff_below_shoe=60)
    metric = scaled(raw, LENGTHS, 0.3048)  # 1 ft = 0.3048 m exactly
    metric["units"] = "metric"
    metric["well"]["hole_diameter"] = 8.5 * 25.4
    one, other = arrays(walked(raw)), arrays(walked(metric))
    for name in ("cost", "recovered", "still.days", "sums.fallback_hours"):
        assert other[name] == pytest.approx(one[name], rel=1e-9, abs=1e-9), name


@quick
@given(
    prior=st.sampled_from([0.2, 0.5, 0.8]),
    chances=st.lists(st.integers(20, 70), min_size=1, max_size=4),
    steps=st.tuples(st.integers(0, 9), st.integers(0, 9)),
    fallback=st.integers(50_000, 900_000),
)
def test_more_dependence_among_runs_is_never_cheaper(
    prior: float, chances: list[int], steps: tuple[int, int], fallback: int
) -> None:
    # published: Smith 2005, with the odds of each run taken alone held and the two kinds of fish
    # moved apart; the chance that all of n runs fail then rises for every n of two or more.
    def job(step: int) -> Table:
        tables = []
        for percent in chances:
            apart = step / 10 * min(percent, 100 - percent) / 100
            up, down = apart * min(1.0, (1 - prior) / prior), apart * min(1.0, prior / (1 - prior))
            tables.append(
                {
                    kind: {"recovered": p, "nothing": 1.0 - p}
                    for kind, p in (
                        ("workable", percent / 100 + up),
                        ("stubborn", percent / 100 - down),
                    )
                }
            )
        raw = lump_job(*tables)
        raw["fishing"]["workable"] = prior
        raw["fallback"][0]["cost"] = fallback
        return raw

    less, more = sorted(steps)
    assume(less < more)
    apart, further = (walked(job(each), distributions=False) for each in (less, more))
    slack = ROUNDING * fallback
    first = apart.recovered[:, 1]
    assert further.recovered[:, 1] == pytest.approx(first)  # first-run odds held
    cost, dependent = apart.cost, further.cost
    assert (dependent >= cost - slack).all()
    assert dependent.min() >= cost.min() - slack


@slow
@given(jobs())
def test_the_rule_by_state_is_never_dearer_and_nothing_is_changed(raw: Table) -> None:
    before = copy.deepcopy(raw)
    job = scenario(raw)
    dumped = job.model_dump()
    found = econ.answer(job)
    assert found.rule.gain >= -ROUNDING * found.limit.expected_cost
    assert found.rule_cost.value <= found.limit.expected_cost * (1 + ROUNDING)
    assert found.information.evpi.value >= 0
    assert job.model_dump() == dumped
    assert raw == before
    again = econ.answer(job)
    assert again.by_runs == found.by_runs
    assert again.by_days == found.by_days
    assert again.rule == found.rule


def test_every_seed_is_a_seed_and_gives_the_same_to_the_bit() -> None:
    raw = read(DEMO_A)
    first, again, other = (walked(raw, n=64, seed=seed) for seed in (0, 0, 1))
    for name, values in arrays(first).items():
        assert np.array_equal(values, arrays(again)[name], equal_nan=True), name
    assert not np.array_equal(first.cost, other.cost)
    cost = first.cost
    assert len(np.unique(cost[:, -1])) == len(cost)  # the scrambles differ from each other
