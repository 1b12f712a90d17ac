"""Sensitivity: swings, worth of knowing, Sobol' indices, break-evens and the map.

Origin of expected numbers: independent (the answer to a scenario with the value written into
it, an enumeration, a double loop, or a closed form worked here) unless a line says otherwise.
"Notes" are the published notes of scenario A.
"""

from __future__ import annotations

import copy
import json
import math
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from raw_jobs import SCENARIO_A, Table, lump_job, read, scenario, without_sampled_outcomes
from scipy import stats
from scipy.optimize import brentq
from scipy.special import ndtri

import econ
from econ.decision.estimates import SURE
from econ.decision.sensitivity import BreakEven, InputError, Sensitivity, Swing, sensitivity
from econ.decision.sensitivity.bench import PRICES, Bench
from econ.decision.sensitivity.break_even import break_evens, limit_map
from econ.decision.sensitivity.importance import _indices, importances
from econ.decision.sensitivity.roots import root
from econ.decision.sensitivity.swings import swings_of_amounts, uncertain_amounts
from econ.decision.sensitivity.value_of_knowing import worth_of_knowing
from econ.engine.choice import choose
from econ.engine.expected import expected, opened
from econ.engine.inputs import Inputs
from econ.reports.sensitivity_tables import sensitivity_document
from econ.sampling import Column, Correlation, Sampler
from econ.scenario import Scenario
from econ.scenario.distributions import Uniform

pytestmark = pytest.mark.usefixtures("few_bins", "few_states")
FEW = {"n": 32, "seed": 5}
Z90 = float(ndtri(0.9))


def ranged_a() -> Table:
    """Scenario A with a handful of ranges, two of them correlated."""
    raw = read(SCENARIO_A)
    raw["rates"] = {"rig": 27_000, "others": {"low": 22_000, "likely": 26_000, "high": 30_000}}
    raw["fishing"]["workable"] = {"low": 0.4, "high": 0.9}
    raw["run"][1]["charge"] = {"median": 11_800, "factor": 1.3}
    raw["trip_speed"]["in"]["open"] = {"low": 1_000, "likely": 1_300, "high": 1_600}
    raw["trip_speed"]["out"]["open"] = {"low": 900, "likely": 1_200, "high": 1_500}
    raw["correlation"] = [{"of": ["trip_speed.in.open", "trip_speed.out.open"], "rho": 0.8}]
    return raw


def bench(raw: Table, *, n: int = 32, histories: int = 1) -> Bench:
    return Bench(Inputs(scenario(raw).in_field_units()), n=n, histories=histories)


def swings(raw: Table, *, n: int = 32) -> dict[str, Swing]:
    made = scenario(raw)
    turned = Bench(Inputs(made.in_field_units()), n=n)
    found = swings_of_amounts(turned, uncertain_amounts(turned, made))
    return {swing.name: swing for swing in found}


def placed(raw: Table, path: str, value: Any) -> Table:
    """The raw table with one key replaced."""
    table = copy.deepcopy(raw)
    *steps, last = path.split(".")
    place: Any = table
    for step in steps:
        place = place[int(step) - 1] if isinstance(place, list) else place[step]
    place[last] = value
    return table


@pytest.fixture(scope="module")
def a() -> Sensitivity:
    return sensitivity(scenario(ranged_a(), **FEW), n=32)


# ---- columns that are held or moved -----------------------------------------------------------


def linked_sampler() -> Sampler:
    columns = [Column("a", Uniform(low=0, high=2)), Column("b"), Column("c"), Column("alone")]
    links = [Correlation(("a", "b"), 0.8), Correlation(("b", "c"), -0.5)]
    return Sampler(columns, links, seed=3, scrambles=16)


@pytest.mark.parametrize("name", ["a", "b", "c", "alone"])
def test_a_column_moved_over_all_its_range_stays_what_it_was(name: str) -> None:
    sampler = linked_sampler()
    first = sampler.first(64)
    moved = sampler.moved(64, name=name, between=(0.0, 1.0))
    assert set(moved) == ({"alone"} if name == "alone" else {"a", "b", "c"})
    for each, values in moved.items():
        np.testing.assert_allclose(values, first[each], rtol=0, atol=1e-12)


def test_columns_linked_with_one_that_is_held_are_conditional_on_it() -> None:
    # closed form: given z_b = t, z_a is normal with mean r t and variance 1 - r^2, where
    # r = 2 sin(pi rho/6) (Kruskal 1958)
    sampler = linked_sampler()
    moved = sampler.moved(256, name="b", between=(0.9, 0.9))
    assert np.all(moved["b"] == 0.9)
    for name, rho, high in (("a", 0.8, 2.0), ("c", -0.5, 1.0)):
        r = 2 * math.sin(math.pi * rho / 6)
        z = ndtri(moved[name] / high)
        assert z.mean() == pytest.approx(r * Z90, abs=0.01)
        assert z.std() == pytest.approx(math.sqrt(1 - r * r), abs=0.01)


def test_a_pair_is_two_sets_without_a_link_between_them() -> None:
    one, other = linked_sampler().pair(4096)
    for name in ("a", "b", "c", "alone"):
        assert abs(np.corrcoef(one[name], other[name])[0, 1]) < 0.03
        assert one[name].mean() == pytest.approx(other[name].mean(), abs=1e-3)
    # Spearman correlation of normal scores asked for (0.8) within each of the two
    ranks = [np.argsort(np.argsort(each)) for each in (other["a"], other["b"])]
    assert np.corrcoef(*ranks)[0, 1] == pytest.approx(0.8, abs=0.02)


# ---- swings of amounts ------------------------------------------------------------------------


@cache
def swings_of_a() -> dict[str, Swing]:
    return swings(ranged_a(), n=64)


@cache
def answer_of_a() -> econ.Answer:
    return econ.answer(scenario(ranged_a(), n=512))


@pytest.mark.parametrize("path", ["rates.others", "fishing.workable", "run.2.charge"])
def test_a_swing_is_the_answer_with_the_value_written_in(path: str) -> None:
    raw, swing, base = ranged_a(), swings_of_a()[path], answer_of_a()
    for side in (swing.low, swing.high):
        there = econ.answer(scenario(placed(raw, path, side.value), n=512))
        kept = there.by_runs[base.best].expected_cost - base.limit.expected_cost
        error = math.hypot(
            base.limit.standard_error,
            there.by_runs[base.best].standard_error,
            side.change_kept.error,
        )
        assert side.change_kept.value == pytest.approx(kept, abs=4 * error)
        assert error < 0.05 * abs(kept)  # so the check means something
        assert side.best == there.best
        anew = there.limit.expected_cost - base.limit.expected_cost
        assert side.change.value == pytest.approx(anew, abs=4 * error)


def test_values_at_p10_and_p90_are_those_of_the_distribution() -> None:
    found = swings(ranged_a())
    workable, charge = found["fishing.workable"], found["run.2.charge"]
    # closed forms: uniform from 0.4 to 0.9; lognormal median x factor at P90 and / at P10
    assert (workable.low.value, workable.high.value) == pytest.approx((0.45, 0.85))
    assert (charge.low.value, charge.high.value) == pytest.approx((11_800 / 1.3, 11_800 * 1.3))
    assert (workable.unit, charge.unit) == ("fraction", "currency")


def test_a_swing_without_noise_is_exact() -> None:
    # With one uncertain amount and no sampled outcome nothing is left to draw once it is held.
    raw = without_sampled_outcomes(read(SCENARIO_A))
    raw["run"][0]["charge"] = {"values": [1_000, 90_000], "weights": [1, 1]}
    swing = swings(raw)["run.1.charge"]
    for side in (swing.low, swing.high):
        there = econ.answer(scenario(placed(raw, "run.1.charge", side.value), n=16))
        assert side.cost.value == pytest.approx(there.limit.expected_cost, rel=1e-12)
        assert side.best == there.best


def test_amounts_correlated_with_the_one_that_is_held_move_along() -> None:
    # Closed form: with charges c1, c2 normal of sd 100 and 300 and normal correlation r, the
    # first at its P90 is 100 z dearer and the second 300 r z on average; run 2 is made with the
    # chance 0.5 that run 1 leads to nothing.
    raw = lump_job({"recovered": 0.5, "nothing": 0.5}, {"recovered": 0.5, "nothing": 0.5})
    for run, sd in zip(raw["run"], (100.0, 300.0), strict=True):
        run["charge"] = {"mean": 5_000, "sd": sd}
    raw["correlation"] = [{"of": ["run.1.charge", "run.2.charge"], "rho": 0.7}]
    r = 2 * math.sin(math.pi * 0.7 / 6)
    found = swings(raw, n=256)
    assert found["run.1.charge"].linked == ("run.2.charge",)
    for name, own in (("run.1.charge", 100 + 0.5 * 300 * r), ("run.2.charge", 100 * r + 150)):
        swing = found[name]
        assert swing.high.change_kept.value == pytest.approx(own * Z90, abs=1.0)
        assert swing.low.change_kept.value == pytest.approx(-own * Z90, abs=1.0)


def test_an_amount_of_no_effect_is_unresolved_and_moves_nothing(a: Sensitivity) -> None:
    raw = ranged_a()
    raw["run"][4]["charge"] = {"low": 0, "high": 50_000}  # of a run past the best limit
    swing = swings(raw)["run.5.charge"]
    assert swing.size == 0.0
    assert not swing.low.resolved
    assert not swing.moves_limit
    assert all(each.low.resolved for each in a.amounts if each.name == "fishing.workable")


def test_a_change_below_its_error_is_unresolved(a: Sensitivity) -> None:
    for swing in (*a.amounts, *a.swings):
        for side in (swing.low, swing.high):
            if side.resolved:
                assert abs(side.change_kept.value) > SURE * side.change_kept.error
            assert side.change.value <= side.change_kept.value + 1e-6  # the best limit there
    sizes = [swing.size for swing in a.amounts]
    assert sizes == sorted(sizes, reverse=True)


def test_lengths_of_a_metric_file_are_given_in_metres() -> None:
    raw = lump_job({"recovered": 0.5, "part": 0.5})
    raw["units"] = "metric"
    raw["run"][0]["part_length"] = {"low": 10.0, "high": 20.0}
    swing = swings(raw)["run.1.part_length"]
    assert swing.unit == "m"
    assert (swing.low.value, swing.high.value) == pytest.approx((11.0, 19.0))


# ---- drivers ----------------------------------------------------------------------------------


def moved_odds(raw: Table, runs: list[int], ratio: float) -> Table:
    """Recovered odds p/(1 - p) times a ratio, the others in their proportions: by hand."""
    table = copy.deepcopy(raw)
    for run in runs:
        for odds in table["run"][run]["odds"].values():
            p = odds["recovered"]
            new = ratio * p / (1 - p + ratio * p)
            for name in odds:
                odds[name] = new if name == "recovered" else odds[name] * (1 - new) / (1 - p)
    return table


def written_in(raw: Table, name: str, value: float) -> Table:
    """The raw table that a driver set to a value stands for."""
    table = copy.deepcopy(raw)
    if name == "spread":
        table["rates"] = {key: rate * value for key, rate in table["rates"].items()}
    elif name == "rates.rig":
        table["rates"]["rig"] *= value
    elif name == "fishing_day":
        table["fishing"]["day_rates"]["services"] *= value
    elif name == "trip_speed":
        for way in table["trip_speed"].values():
            way["cased"], way["open"] = way["cased"] * value, way["open"] * value
    elif name == "recovery":
        table["recovery"]["hours"] *= value
    elif name == "workable":
        table["fishing"]["workable"] = value
    elif name == "fallback":
        now = bench(raw).base.cost[:, 0].mean()
        table["fallback"][0]["other_cost"] += (value - 1.0) * now
    elif name == "all_odds":
        table = moved_odds(table, list(range(len(table["run"]))), value)
    return table


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("spread", 1.7),
        ("rates.rig", 0.4),
        ("fishing_day", 3.0),
        ("trip_speed", 0.75),
        ("recovery", 2.0),
        ("workable", 0.35),
        ("fallback", 1.6),
        ("all_odds", 0.5),
    ],
)
def test_a_driver_is_the_scenario_with_the_value_written_in(name: str, value: float) -> None:
    raw = read(SCENARIO_A)
    raw["rates"] = {"rig": 27_000, "others": 26_000}
    found = bench(raw).limits({name: value})
    there = bench(written_in(raw, name, value)).base
    np.testing.assert_allclose(found.cost, there.cost, rtol=1e-9)


def test_odds_of_the_next_run_are_moved_to_the_chance_asked_for() -> None:
    raw = read(SCENARIO_A)
    # with the prior 0.7 the ratio r must give 0.7 p_w(r) + 0.3 p_s(r); r = 3 worked by hand
    w, s = (3 * p / (1 + 2 * p) for p in (0.66, 0.03))
    found = bench(raw).limits({"next_odds": 0.7 * w + 0.3 * s})
    there = bench(moved_odds(raw, [0], 3.0)).base
    np.testing.assert_allclose(found.cost, there.cost, rtol=1e-7)
    driver = bench(raw).inputs["next_odds"]
    assert driver.now == pytest.approx(0.7 * 0.66 + 0.3 * 0.03)


def test_a_factor_multiplies_a_distribution_draw_by_draw() -> None:
    raw = read(SCENARIO_A)
    raw["rates"] = {"rig": 27_000, "others": {"low": 22_000, "likely": 26_000, "high": 30_000}}
    scaled = placed(raw, "rates.others", {"low": 33_000, "likely": 39_000, "high": 45_000})
    scaled["rates"]["rig"] = 40_500
    found, there = bench(raw).limits({"spread": 1.5}), bench(scaled).base
    np.testing.assert_allclose(found.cost, there.cost, rtol=1e-9)


def test_two_drivers_turned_together() -> None:
    raw = read(SCENARIO_A)
    both = written_in(written_in(raw, "spread", 1.5), "workable", 0.4)
    found = bench(raw).limits({"spread": 1.5, "workable": 0.4})
    np.testing.assert_allclose(found.cost, bench(both).base.cost, rtol=1e-9)


def test_drivers_at_their_present_value_change_nothing() -> None:
    turned = bench(ranged_a())
    base = turned.base
    for driver in turned.inputs.values():
        if driver.name == "workable":  # a number for its draws: the same on average
            continue
        same = turned.limits({driver.name: driver.now})
        np.testing.assert_allclose(same.cost, base.cost, rtol=1e-8, err_msg=driver.name)


def test_every_fallback_becomes_dearer_by_the_same_sum() -> None:
    raw = lump_job({"recovered": 0.3, "nothing": 0.7})
    raw["fallback"].append({"name": "respud", "hours": 400, "cost": 500_000})
    turned = bench(raw)
    base, dearer = turned.base.cost, turned.limits({"fallback": 1.5}).cost
    more = 0.5 * turned.inputs["fallback"].now * 190_000  # 100 h at 1,000, 50,000, a fish of 40,000
    np.testing.assert_allclose((dearer - base)[0], [more, 0.7 * more], rtol=1e-12)


# ---- straight lines against walks -------------------------------------------------------------

DEMOS = sorted((Path(__file__).parents[2] / "scenarios").glob("*.toml"))


def demo_bench(path: Path) -> tuple[Bench, Scenario]:
    made = econ.load(path)
    return Bench(Inputs(made.in_field_units()), n=16), made


def slowly_moved(turned: Bench, path: str, between: tuple[float, float]) -> tuple[Any, Any]:
    """Cost with an amount held, walked anew: with the fallback chosen there, and on the base."""
    job = turned.job
    moved = job.sampler.moved(turned.n, name=path, between=between)
    case = job.case({**turned.columns, **moved}, turned.n * job.sampler.scrambles)
    walked = opened(case)
    return tuple(
        cost.sum(axis=0).reshape(cost.shape[1], job.sampler.scrambles, -1).mean(axis=2).T
        for cost in (walked.cost(walked.choice(case)), walked.cost(turned.choice))
    )


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_every_amount_that_is_moved_is_a_walk_with_it_moved(path: Path) -> None:
    turned, made = demo_bench(path)
    assert any(PRICES.fullmatch(amount.path) for amount in uncertain_amounts(turned, made))
    apart = 0.0
    for amount in uncertain_amounts(turned, made):
        for between in ((0.1, 0.1), (0.9375, 1.0)):
            moved = turned.moved(amount.path, between)
            known, unknown = slowly_moved(turned, amount.path, between)
            np.testing.assert_allclose(moved.unknown, unknown, rtol=1e-9, err_msg=amount.path)
            # one choice is from means at x, the other from means of a mixture of two walks
            np.testing.assert_allclose(
                moved.known.mean(axis=0), known.mean(axis=0), rtol=1e-4, err_msg=amount.path
            )
            apart = max(apart, float(np.abs(moved.known / unknown - 1.0).max()))
    assert (apart > 1e-6) == (len(made.fallback) > 1)  # a choice that is made anew is seen


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_every_input_along_its_line_is_a_walk_with_it_set(path: Path) -> None:
    turned, _ = demo_bench(path)
    for name, about in turned.inputs.items():
        for value in (*about.step, about.grid[0], about.grid[-1]):
            walked = turned.walked({name: value})
            np.testing.assert_allclose(turned.turned(name)(value), walked, rtol=1e-7, err_msg=name)


def test_a_map_from_four_walks_is_a_map_of_walks() -> None:
    turned, _ = demo_bench(DEMOS[0])
    for row, column in (("workable", "fallback"), ("spread", "next_odds"), ("rates.rig", "spread")):
        table = limit_map(turned, row=row, column=column)
        for i, j in ((0, 0), (3, 8), (8, 1)):
            walked = turned.limits({row: table.rows[i], column: table.columns[j]}).verdict
            assert table.best[i][j] == walked.best
            assert table.resolved[i][j] == (not walked.not_told_apart)


def test_the_odds_of_the_next_run_after_time_has_passed_are_walked() -> None:
    raw = ranged_a()
    raw["common"] = {"hours": 30.0}
    turned = bench(raw)
    for value in turned.inputs["next_odds"].grid[::4]:
        there = turned.walked({"next_odds": value})
        np.testing.assert_allclose(turned.turned("next_odds")(value), there, rtol=1e-9)


def test_every_rate_above_a_fifth_of_the_spread_is_an_input_by_its_name() -> None:
    raw = lump_job({"recovered": 0.4, "nothing": 0.6})
    # by hand: the sum is 30,700; a fifth of it is 6,140
    raw["rates"] = {"rigging_crew": 700, "drilling_contractor": 22_000, "boats": 8_000}
    inputs = bench(raw).inputs
    rates = {name: about.words for name, about in inputs.items() if name.startswith("rates.")}
    assert rates == {
        "rates.drilling_contractor": "rate: drilling_contractor",
        "rates.boats": "rate: boats",
    }
    flips = {flip.input for flip in break_evens(bench(raw))}
    assert {"spread", *rates} <= flips
    raw["rates"] = {"rig": 24_000}
    assert list(bench(raw).inputs)[:2] == ["spread", "next_odds"]


def test_what_an_input_stands_for_is_the_mean_of_its_distribution() -> None:
    # closed form: a PERT has the mean (low + 4 likely + high)/6
    turned = bench(ranged_a(), n=16)
    assert turned.inputs["spread"].amount == pytest.approx(
        27_000 + (22_000 + 4 * 26_000 + 30_000) / 6, rel=1e-12
    )


@pytest.mark.parametrize(
    ("gap", "at"),
    [(lambda x: 2.0 * x - 3.0, 1.5), (lambda x: x**3 - 2.0, 2.0 ** (1 / 3)), (math.sin, 0.0)],
)
def test_a_root(gap: Any, at: float) -> None:
    assert root(gap, low=-1.0, high=2.5) == pytest.approx(at, abs=1e-8)
    asked: list[float] = []
    root(lambda x: asked.append(x) or 2.0 * x - 3.0, low=-1.0, high=2.5)  # type: ignore[func-returns-value]
    assert len(asked) <= 4  # a straight line needs no search


def test_ends_of_like_sign_have_no_root_between_them() -> None:
    with pytest.raises(ValueError, match="the same sign at 1 and at 2"):
        root(lambda x: x, low=1.0, high=2.0)


# ---- notes of scenario A ----------------------------------------------------------------------


@pytest.fixture(scope="module")
def notes_a() -> Bench:
    return bench(read(SCENARIO_A), n=128)


@pytest.mark.parametrize(("factor", "limit"), [(0.5, 3), (0.75, 3), (1.25, 3), (1.5, 3), (2.0, 1)])
def test_limit_as_the_spread_changes(notes_a: Bench, factor: float, limit: int) -> None:
    assert notes_a.limits({"spread": factor}).verdict.best == limit  # published, notes


def test_a_thousand_a_day_of_spread(notes_a: Bench) -> None:
    dearer = notes_a.limits({"spread": 54 / 53}).cost - notes_a.base.cost
    assert dearer[:, 3].mean() == pytest.approx(5_000, abs=50)  # published, notes: about 5.0k


def test_limit_of_a_fish_that_is_likely_stubborn(notes_a: Bench) -> None:
    assert notes_a.limits({"workable": 0.3}).verdict.best == 1  # published, notes


def test_lowest_workable_chance_worth_one_run(
    flips_a: dict[tuple[str, str], BreakEven],
) -> None:
    one, best = (flips_a["workable", rule].at for rule in ("one run", "best limit"))
    assert one == pytest.approx(0.206, abs=0.0005)  # published, notes
    assert best is not None
    assert one is not None
    assert best <= one + 1e-6  # more runs allowed: never worse


# ---- break-evens ------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def flips_a(notes_a: Bench) -> dict[tuple[str, str], BreakEven]:
    return {(each.input, each.rule): each for each in break_evens(notes_a)}


def turned_to(raw: Table, name: str, value: float) -> Scenario:
    """The scenario that a driver set to a value stands for; a fallback may be below nothing."""
    if name != "fallback":
        return scenario(written_in(raw, name, value), n=256)
    made = scenario(raw, n=256)
    now = bench(raw).base.cost[:, 0].mean()
    cost = made.fallback[0].other_cost + (value - 1.0) * now  # type: ignore[union-attr,operator]
    fallback = made.fallback[0].model_copy(update={"other_cost": cost})
    return made.model_copy(update={"fallback": [fallback]})


def fish_of(made: Scenario, rule: str) -> bool:
    """Whether fishing pays in the answer to a scenario."""
    rows = econ.answer(made).by_runs
    later = [row.expected_cost for row in rows[1 : 2 if rule == "one run" else None]]
    return min(later) < rows[0].expected_cost


@pytest.mark.parametrize("rule", ["one run", "best limit"])
@pytest.mark.parametrize("name", ["workable", "fallback", "all_odds"])
def test_the_verdict_flips_at_the_break_even(
    flips_a: dict[tuple[str, str], BreakEven], name: str, rule: str
) -> None:
    found = flips_a[name, rule]
    assert found.at is not None
    assert (found.below, found.above) == ("stop", "fish")
    step = 0.005 * found.at + 5 * found.error
    raw = read(SCENARIO_A)
    assert not fish_of(turned_to(raw, name, found.at - step), rule)
    assert fish_of(turned_to(raw, name, found.at + step), rule)


def test_break_even_of_the_next_run_in_closed_form(
    flips_a: dict[tuple[str, str], BreakEven],
) -> None:
    # Published, notes: what run 1 costs and what follows each of its outcomes, then a stop.
    run, mobilization, recovered = 74_967, 9_500, 122_325
    now, after_part, left, lost = 713_532, 700_131, 834_207, 1_570_210
    prior = np.array([0.7, 0.3])
    odds = np.array([[0.66, 0.05, 0.27, 0.015, 0.005], [0.03, 0.08, 0.85, 0.03, 0.01]])
    ends = np.array([recovered, after_part, now, left, lost])

    def moved(ratio: float) -> Any:
        p = odds[:, :1]
        new = ratio * p / (1 - p + ratio * p)
        return np.hstack([new, odds[:, 1:] * (1 - new) / (1 - p)])

    ratio = brentq(lambda r: run + mobilization + prior @ moved(r) @ ends - now, 1e-3, 10)
    found = flips_a["next_odds", "one run"]
    assert found.at == pytest.approx(prior @ moved(ratio)[:, 0], abs=1e-5 + 5 * found.error)
    assert found.error < 1e-5  # only whether a part came out is sampled
    # more runs behind it: the first pays by what comes after
    assert flips_a["next_odds", "best limit"].at is None
    assert flips_a["next_odds", "best limit"].below == "fish"


def flips(raw: Table, driver: str) -> list[BreakEven]:
    return [each for each in break_evens(bench(raw)) if each.input == driver]


def test_break_even_of_the_spread_in_closed_form() -> None:
    # C_0 = 100 f + 90 and C_1 = 24 f + 0.8 C_0 in thousands: they meet at 24 f = 20 f + 18
    (found,) = flips(lump_job({"recovered": 0.2, "nothing": 0.8}), "spread")
    assert found.at == pytest.approx(4.5, rel=1e-4)
    assert found.error == 0.0  # no draw enters
    assert (found.below, found.above, found.rule) == ("fish", "stop", "one run")


def test_a_verdict_that_never_flips() -> None:
    # C_1 - C_0 = 24 f - 0.5 (100 f + 90) = -26 f - 45
    (found,) = flips(lump_job({"recovered": 0.5, "nothing": 0.5}), "spread")
    assert (found.at, found.below, found.above) == (None, "fish", "fish")
    # a run of no use at any spread: C_1 - C_0 = 24 f
    (found,) = flips(lump_job({"nothing": 1.0}), "spread")
    assert (found.at, found.below) == (None, "stop")


def test_the_error_of_a_break_even_is_that_of_other_seeds() -> None:
    raw = lump_job({"recovered": 0.4, "nothing": 0.6})
    raw["run"][0]["charge"] = {"median": 40_000, "factor": 4}
    raw["run"][0]["hours"] = {"low": 10, "high": 60}
    raw["rates"]["rig"] = {"mean": 24_000, "sd": 4_000}
    found = []
    for seed in range(12):
        turned = Bench(Inputs(scenario(raw, seed=seed)), n=16)
        found.append(next(e for e in break_evens(turned) if e.input == "next_odds"))
    values = np.array([each.at for each in found], dtype=float)
    told = np.mean([each.error for each in found])
    assert 0.5 < values.std(ddof=1) / told < 2.0  # 12 seeds against 16 scrambles each


def test_runs_that_must_be_made_are_left_out_of_a_break_even() -> None:
    raw = read(SCENARIO_A)
    free = break_evens(bench(raw))
    raw["limits"] = {"minimum_runs": 2}
    bound = bench(raw)
    assert break_evens(bound) == free
    assert bound.limits({"workable": 0.05}).verdict.best == 2
    table = limit_map(bound, row="workable", column="spread")
    assert min(min(row) for row in table.best) == 2


# ---- map --------------------------------------------------------------------------------------


def test_the_map_is_the_best_limit_cell_by_cell(a: Sensitivity) -> None:
    table = a.map
    assert table is not None
    assert (table.row, table.column) == ("workable", "fallback")
    assert (len(table.rows), len(table.columns)) == (9, 9)
    turned = bench({**ranged_a(), "draws": FEW})
    for i, j in ((0, 0), (2, 7), (8, 3)):
        there = turned.limits({"workable": table.rows[i], "fallback": table.columns[j]}).verdict
        assert table.best[i][j] == there.best
        assert table.resolved[i][j] == (not there.not_told_apart)
    i, j = table.here
    assert table.rows[i] == pytest.approx(0.65, abs=1e-3)
    assert table.columns[j] == 1.0
    assert list(table.rows) == sorted(table.rows)
    assert np.ptp(table.best) > 1  # there is something to see
    frame = a.map_frame()
    assert frame.shape == (9, 9)
    assert frame.loc[table.rows[2], table.columns[7]] == table.best[2][7]


def test_any_two_drivers_make_a_map() -> None:
    turned = bench(lump_job({"recovered": 0.2, "nothing": 0.8}))
    table = limit_map(turned, row="next_odds", column="spread")
    best = np.array(table.best)
    # closed form: one run pays where 24 f < p (100 f + 90)
    pays = [[24 * f < p * (100 * f + 90) for f in table.columns] for p in table.rows]
    assert (best == np.array(pays)).all()


@pytest.mark.parametrize(
    ("row", "column", "message"),
    [
        ("workable", "spread", r"'workable'; this job has spread, .*fallback"),  # no kinds here
        ("rop", "spread", "'rop'; this job has"),
        ("spread", "spread", "'spread' twice; a map takes two drivers"),
    ],
)
def test_a_driver_that_a_job_does_not_have(row: str, column: str, message: str) -> None:
    made = scenario(lump_job({"recovered": 0.2, "nothing": 0.8}))
    with pytest.raises(InputError, match=message):
        sensitivity(made, n=16, map_of=(row, column))


# ---- worth of knowing -------------------------------------------------------------------------


def worth(raw: Table, name: str, *, n: int = 32) -> tuple[float, float, tuple[int, ...]]:
    made = scenario(raw)
    turned = Bench(Inputs(made.in_field_units()), n=n)
    amounts = uncertain_amounts(turned, made)
    found = worth_of_knowing(turned, amounts)
    each = next(each for each in found if each.name == name)
    return each.worth, each.error, each.limits


def enumerated(raw: Table, path: str, values: list[float], chances: list[float]) -> float:
    """The worth of knowing an amount, from the answers with each of its values written in."""
    costs = []
    for value in values:
        rows = econ.answer(scenario(placed(raw, path, value), n=256)).by_runs
        costs.append([row.expected_cost for row in rows])
    table, weights = np.array(costs), np.array(chances) / np.sum(chances)
    return float((weights @ table).min() - weights @ table.min(axis=1))


@pytest.mark.parametrize(
    ("path", "values", "chances"),
    [
        ("run.1.charge", [1_000, 150_000, 900_000], [5, 3, 2]),
        ("fishing.workable", [0.05, 0.8], [0.4, 0.6]),
        ("recovery.charge", [10_000, 900_000], [1, 1]),
    ],
)
def test_worth_of_knowing_is_what_an_enumeration_gives(
    path: str, values: list[float], chances: list[float]
) -> None:
    raw = without_sampled_outcomes(read(SCENARIO_A))
    raw = placed(raw, path, {"values": values, "weights": chances})
    found, error, limits = worth(raw, path)
    expected_worth = enumerated(raw, path, values, chances)
    assert expected_worth > 1_000  # so the check means something
    assert found == pytest.approx(expected_worth, rel=1e-9)  # nothing is left to draw
    assert error == pytest.approx(0.0, abs=1e-6)
    assert len(limits) == len(values)


def test_worth_of_knowing_among_other_ranges() -> None:
    raw = ranged_a()
    values, chances = [0.05, 0.85], [0.3, 0.7]
    raw["fishing"]["workable"] = {"values": values, "weights": chances}
    found, error, _ = worth(raw, "fishing.workable", n=128)
    slow = enumerated(raw, "fishing.workable", values, chances)
    assert found == pytest.approx(slow, abs=5 * error + 0.02 * slow)
    assert error < 0.05 * slow


def test_worth_of_knowing_a_continuous_amount_in_closed_form() -> None:
    # One run of charge c, uniform from 0 to 200: it costs 24 + c and saves 0.5 x 190, so it is
    # made below c = 71. Blind: mean 100 > 71, stop. Knowing: 71^2/2/200; of sixteenths of 12.5
    # the one from 62.5 to 75 has mean 68.75 and is taken whole: sum over 6 of (71 - mean)/16.
    raw = lump_job({"recovered": 0.5, "nothing": 0.5})
    raw["run"][0]["charge"] = {"low": 0, "high": 200_000}
    found, error, limits = worth(raw, "run.1.charge")
    means = 12.5 * (np.arange(6) + 0.5)
    assert found == pytest.approx(1_000 * (71 - means).sum() / 16, abs=5 * error + 1)
    assert found < 1_000 * 71**2 / 2 / 200
    assert found > 0.98 * 1_000 * 71**2 / 2 / 200
    assert limits == (1,) * 6 + (0,) * 10


def test_worth_of_knowing_which_fallback_is_the_cheaper() -> None:
    # Closed form, in thousands: one fallback costs 190, the other 140 or 340 alike, 240 on the
    # average. Blind: 190. Knowing: (140 + 190)/2, 25 less, though the limit is 0 runs either way.
    raw = lump_job({"nothing": 1.0})
    other = {"name": "respud", "hours": 100, "cost": {"values": [0, 200_000], "weights": [1, 1]}}
    raw["fallback"].append(other)
    found, error, limits = worth(raw, "fallback.2.cost")
    assert found == pytest.approx(25_000, rel=1e-9)
    assert error == pytest.approx(0.0, abs=1e-6)
    assert limits == (0, 0)


def test_what_changes_no_limit_is_not_worth_knowing(a: Sensitivity) -> None:
    by_name = {each.name: each for each in a.worths}
    assert by_name["run.2.charge"].worth == 0.0
    assert all(each.worth >= 0.0 for each in a.worths)
    assert by_name["fishing.workable"].worth > SURE * by_name["fishing.workable"].error
    assert a.worths_frame()["worth"].is_monotonic_decreasing


def test_a_near_tie_is_not_taken_for_something_to_learn() -> None:
    # Stopping and three runs cost the same but for the noise of the sampled path: a choice made
    # on the draws it is valued on would always find a gain.
    raw = read(SCENARIO_A)
    cost = bench(raw, n=1024).base.cost.mean(axis=0)
    raw["fishing"]["mobilization"] = 9_500 + cost[0] - cost[3]
    raw["fishing"]["damaged_top_factor"] = {"low": 0.599, "high": 0.601}
    found, error, limits = worth(raw, "fishing.damaged_top_factor")
    assert found == 0.0 or found < 3 * error
    assert set(limits) <= {0, 3}


# ---- Sobol' indices ---------------------------------------------------------------------------


def indices(raw: Table, *, best: int, n: int = 1024) -> dict[tuple[str, ...], Any]:
    made = scenario(raw)
    turned = Bench(Inputs(made.in_field_units()), n=16)
    found = importances(turned, uncertain_amounts(turned, made), best=best, n=n)
    return {each.names: each for each in found.inputs}


def test_indices_are_those_of_a_library() -> None:
    # independent: scipy.stats.sobol_indices, from the same values
    rng = np.random.default_rng(4)
    a, b = 1e6 + rng.normal(size=(2, 512))
    mixed = 1e6 + rng.normal(size=(5, 512)) + rng.normal(size=(5, 1)) * (a - 1e6)
    values = {"f_A": a[None], "f_B": b[None], "f_AB": mixed[:, None]}
    library = stats.sobol_indices(func={k: v.copy() for k, v in values.items()}, n=512)
    first, total = _indices(a, b, mixed, np.ones((1, 512)))
    assert first[0] == pytest.approx(library.first_order, abs=1e-9)
    assert total[0] == pytest.approx(library.total_order, abs=1e-9)


def test_indices_of_a_sum_in_closed_form() -> None:
    # the cost is a sum of independent amounts: each share is its variance over the total
    raw = lump_job({"recovered": 1.0})
    raw["run"][0]["charge"] = {"low": 0, "high": 30_000}
    raw["recovery"] = {"charge": {"low": 0, "high": 60_000}}
    raw["fishing"]["mobilization"] = {"low": 5_000, "high": 5_500}
    raw["fallback"][0]["cost"] = {"low": 0, "high": 90_000}  # never reached
    found = indices(raw, best=1)
    squares = {"run.1.charge": 30.0**2, "recovery.charge": 60.0**2, "fishing.mobilization": 0.25}
    for name, square in squares.items():
        each, share = found[name,], square / sum(squares.values())
        assert each.first == pytest.approx(share, abs=0.03)
        assert each.total == pytest.approx(share, abs=0.03)
        assert each.total_interval[0] - 0.02 <= share <= each.total_interval[1] + 0.02
    assert found["fallback.1.cost",].total == 0.0


def test_indices_of_a_product_in_closed_form() -> None:
    # Y = h r: with means m and variances v, Var = m_h^2 v_r + m_r^2 v_h + v_h v_r; first and
    # total differ by the last term
    raw = lump_job({"recovered": 1.0})
    raw["run"][0]["hours"] = {"low": 0, "high": 48}
    raw["rates"]["rig"] = {"low": 0, "high": 48_000}
    found = indices(raw, best=1)
    # uniform from 0: v = m^2/3, so the terms stand as 1/3, 1/3 and 1/9
    for name in ("run.1.hours", "rates.rig"):
        assert found[name,].first == pytest.approx(3 / 7, abs=0.04)
        assert found[name,].total == pytest.approx(4 / 7, abs=0.04)
        low, high = found[name,].first_interval
        assert 0.01 < high - low < 0.2


def test_one_uncertain_amount_has_all_of_the_spread() -> None:
    raw = lump_job({"recovered": 0.5, "nothing": 0.5})
    raw["run"][0]["charge"] = {"low": 0, "high": 30_000}
    (each,) = indices(raw, best=1).values()
    assert each.names == ("run.1.charge",)
    assert each.first == pytest.approx(1.0, abs=0.02)
    assert each.total == pytest.approx(1.0, abs=0.02)


def test_no_spread_has_no_indices(notes_a: Bench) -> None:
    assert importances(notes_a, (), best=3).inputs == ()
    raw = lump_job({"recovered": 0.5, "nothing": 0.5})
    raw["run"][0]["charge"] = {"low": 0, "high": 30_000}
    assert indices(raw, best=0) == {}  # stopping now never pays it


def test_indices_against_a_double_loop() -> None:
    raw = ranged_a()
    found = indices(raw, best=3)
    made = scenario(raw)
    turned = Bench(Inputs(made.in_field_units()), n=32, histories=16)
    walked = expected(turned.case, choose(turned.case), histories=16)
    total = walked.cost[:, 3].sum(axis=0).var()
    for name in ("fishing.workable", "rates.others"):
        middles = (np.arange(32) + 0.5) / 32
        means = [turned.moved(name, (u, u)).known[:, 3].mean() for u in middles]
        share = np.var(means) / total
        assert found[name,].first == pytest.approx(share, abs=0.05)
        assert found[name,].total >= found[name,].first - 0.05
    shares = sum(each.first for each in found.values())
    assert shares == pytest.approx(1.0, abs=0.1)  # nearly additive


def test_correlated_amounts_count_as_one(a: Sensitivity) -> None:
    both = ("trip_speed.in.open", "trip_speed.out.open")
    assert both in [each.names for each in a.importance.inputs]
    assert a.linked == (both,)
    assert len(a.importance.inputs) == len(a.amounts) - 1
    totals = [each.total for each in a.importance.inputs]
    assert totals == sorted(totals, reverse=True)
    for each in a.importance.inputs:
        assert each.first_interval[0] <= each.first <= each.first_interval[1]
        assert each.total_interval[0] <= each.total <= each.total_interval[1]


# ---- the whole --------------------------------------------------------------------------------


def text_of(found: Sensitivity) -> str:
    return json.dumps(sensitivity_document(found), allow_nan=False)


def test_the_same_seed_gives_the_same_bytes_and_another_the_same_verdict(a: Sensitivity) -> None:
    assert text_of(sensitivity(scenario(ranged_a(), **FEW), n=32)) == text_of(a)
    other = sensitivity(scenario(ranged_a(), n=32, seed=6), n=32)
    assert text_of(other) != text_of(a)
    assert other.best == a.best
    theirs = {swing.name: swing for swing in other.amounts}
    for swing in a.amounts:
        for end in ("low", "high"):
            one = getattr(swing, end).change_kept
            two = getattr(theirs[swing.name], end).change_kept
            assert abs(one.value - two.value) <= 5 * math.hypot(one.error, two.error) + 1.0
    for one_flip, other_flip in zip(a.break_evens, other.break_evens, strict=True):
        assert (one_flip.at is None) == (other_flip.at is None)


def test_the_base_agrees_with_the_answer(a: Sensitivity) -> None:
    told = econ.answer(scenario(ranged_a(), n=512))
    error = math.hypot(told.limit.standard_error, a.best_cost.error)
    assert a.best == told.best
    assert a.best_cost.value == pytest.approx(told.limit.expected_cost, abs=4 * error)
    assert a.now.value == pytest.approx(told.by_runs[0].expected_cost, abs=4 * a.now.error + 50)


def test_frames(a: Sensitivity) -> None:
    frame = a.amounts_frame()
    assert list(frame["end"][:2]) == ["low", "high"]
    assert len(frame) == 2 * len(a.amounts)
    assert len(a.inputs_frame()) == 2 * len(a.inputs)
    assert len(a.importance_frame()) == len(a.importance.inputs)
    assert len(a.break_evens_frame()) == len(a.break_evens)
    assert a.input("spread").amount == pytest.approx(27_000 + 26_000, rel=1e-3)


def test_a_job_of_no_runs() -> None:
    raw = lump_job()
    raw["fallback"][0]["cost"] = {"low": 0, "high": 90_000}
    found = sensitivity(scenario(raw), n=16)
    assert (found.best, found.map, found.break_evens) == (0, None, ())
    assert found.map_frame().empty
    (swing,) = found.amounts
    assert swing.high.change_kept.value == pytest.approx(0.4 * 90_000, rel=1e-2)


def test_an_uncertain_kind_of_fish_that_no_run_tells_of_moves_nothing() -> None:
    raw = lump_job()
    raw["fishing"]["workable"] = {"low": 0.2, "high": 0.8}
    told = sensitivity(scenario(raw, n=16), n=16)
    (swing,) = told.amounts
    assert (swing.name, swing.size, told.worths[0].worth) == ("fishing.workable", 0.0, 0.0)


def test_a_scenario_of_single_numbers_has_the_swings_of_its_drivers() -> None:
    found = sensitivity(scenario(read(SCENARIO_A), n=16), n=32)
    assert (found.amounts, found.worths, found.importance.inputs) == ((), (), ())
    names = [swing.name for swing in found.swings]
    assert names == [
        *("spread", "fishing_day", "trip_speed", "workable", "next_odds"),
        *("all_odds", "fallback", "recovery"),
    ]
    assert all(swing.low.resolved and swing.high.resolved for swing in found.swings)
    slow = next(swing for swing in found.swings if swing.name == "trip_speed").low
    assert (slow.value, slow.best) == (0.75, 3)
    assert slow.change.value > 30_000


def test_the_scenario_is_not_changed() -> None:
    made = scenario(ranged_a(), **FEW)
    before = made.model_dump_json()
    sensitivity(made, n=16)
    assert made.model_dump_json() == before
