"""Risk of each limit, authority, rented tools and the fallbacks side by side.

Origins of the expected numbers:
    published     a textbook gamble, named beside its number
    independent   `reference.rentals.cost_points`, every total cost with its chance; the other
                  references; or worked by hand beside the number
"""

from __future__ import annotations

import copy
import math
from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest
from raw_jobs import SCENARIO_A, Table, lump_job, read, scenario, walked, without_sampled_outcomes
from reference import endings, rentals, run_log
from reference.endings import Points
from reference.job import Ending

import econ
import econ.engine.histogram
from econ.decision.answer import Answer
from econ.decision.fallbacks import Fallbacks, fallbacks
from econ.decision.limits import verdict
from econ.decision.rentals import RentalCost, rental_costs
from econ.decision.risk import Risk, risk
from econ.decision.run_log import happened
from econ.engine.case import Case
from econ.engine.choice import choose
from econ.engine.inputs import Inputs
from econ.scenario.run_log import LoggedRun, parse_log

pytestmark = pytest.mark.usefixtures("few_states")
EXACT = 1e-9
ERRORS = 4.0
BIN = 3e-3  # twice the width of a bin of the percentiles, and more


@pytest.fixture
def coarse() -> Iterator[None]:
    """Few bins, for what does not rest on them: they take most of the time of a small job."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(econ.engine.histogram, "BINS", 128)
        yield


def risks(raw: Table, *, n: int = 16) -> Risk:
    """The risk of every limit, without the rest of an answer."""
    found = walked(raw, n=n)
    limits = scenario(raw).limits
    judged = verdict(found.cost, minimum=scenario(raw).minimum_runs)
    return risk(
        found,
        judged,
        minimum=scenario(raw).minimum_runs,
        authority=limits.authority,
        tolerance=limits.risk_tolerance,
    )


def case_of(raw: Table, log: tuple[LoggedRun, ...] = ()) -> Case:
    job = scenario(raw)
    inputs = Inputs(job.in_field_units(), logged=happened(job, log))
    return inputs.case(inputs.first(1), inputs.sampler.scrambles)


# ---- what the points say ----------------------------------------------------------------------


def worst(points: Points, *, share: float) -> float:
    """Mean of the dearest `share` of all that can come about."""
    left, total = share, 0.0
    for cost, chance in sorted(points, reverse=True):
        taken = min(chance, left)
        total += taken * cost
        left -= taken
    return total / share


def above(points: Points, cost: float) -> float:
    """Chance of more than `cost`."""
    return sum(chance for value, chance in points if value > cost)


def equivalent(points: Points, *, tolerance: float) -> float:
    """Certainty equivalent of a cost, by exponential utility."""
    high = max(points)[0]
    mean = math.fsum(chance * math.exp((cost - high) / tolerance) for cost, chance in points)
    return high + tolerance * math.log(mean)


def job(**limits: float) -> Table:
    """Scenario A cut to three runs, with contracts, losses that grow and two fallbacks."""
    raw = read(SCENARIO_A)
    raw["run"] = raw["run"][:3]
    raw["fishing"].update(odds_ratio_per_day=0.9, loss_odds_ratio_per_day=1.3)
    raw["fallback"][0]["whipstock"] = {"after": 2, "hours": 30, "cost": 40_000, "failure": 0.2}
    raw["fallback"].append(
        {"name": "drill past", "kind": "drill_past", "hours": 60, "cost": 300_000}
        | {"lost_in_hole_share": 0.8, "trouble": {"chance": 0.2, "cost": 50_000}}
    )
    raw["rental"] = [
        {"tool": "string", "call_out": 1, "minimum_days": 4, "day": 3_000, "standby_day": 900}
    ]
    raw["limits"] = limits
    return raw


def certain(raw: Table) -> Table:
    """The same with nothing in the fallbacks left to chance, and no outcome sampled."""
    table = without_sampled_outcomes(raw)
    table["fallback"][0].update(kickoff_failure=0.0, stick_again={"chance": 0.0, "cost": 0.0})
    table["fallback"][0].pop("whipstock", None)
    for fallback in table["fallback"][1:]:
        fallback["trouble"] = {"chance": 0.0, "cost": 0.0}
    return table


def test_without_events_the_risk_is_that_of_every_end() -> None:
    raw = certain(job(authority=700_000, risk_tolerance=400_000))
    found = risks(raw)
    for row in found.by_runs:
        points = rentals.cost_points(raw, limit_runs=row.runs)
        assert row.worst_tenth == pytest.approx(worst(points, share=0.1), rel=1e-6)
        assert row.worst_tenth_error == pytest.approx(0.0, abs=1.0)
        assert row.above_authority == pytest.approx(above(points, 700_000), abs=EXACT)
        goal = equivalent(points, tolerance=400_000)
        assert row.certainty_equivalent == pytest.approx(goal, rel=EXACT)
    assert found.by_runs[0].above_authority == 0.0
    assert 0.0 < (found.by_runs[3].above_authority or 0.0) < 1.0


@pytest.mark.parametrize("authority", [450_000, 720_000, 1_100_000])
def test_with_events_the_risk_is_that_of_all_their_numbers(authority: float) -> None:
    n = 1024
    raw = job(authority=authority, risk_tolerance=350_000)
    found = risks(raw, n=n)
    for row in found.by_runs:
        points = rentals.cost_points(raw, limit_runs=row.runs)
        goal = worst(points, share=0.1)
        slack = ERRORS * row.worst_tenth_error + BIN * goal
        assert row.worst_tenth == pytest.approx(goal, abs=slack)
        chance = above(points, authority)
        # two errors of plain sampling of as many draws, which Sobol points beat
        slack = 2 * (chance * (1 - chance) / (16 * n)) ** 0.5 + 1e-9
        low, high = above(points, authority * (1 + BIN)), above(points, authority * (1 - BIN))
        assert low - slack <= (row.above_authority or 0.0) <= high + slack
        goal = equivalent(points, tolerance=350_000)
        assert row.certainty_equivalent is not None
        assert row.certainty_equivalent_error is not None
        slack = ERRORS * row.certainty_equivalent_error + EXACT * goal
        assert row.certainty_equivalent == pytest.approx(goal, abs=slack)
        assert slack < 2e-3 * goal


@pytest.mark.usefixtures("coarse")
@pytest.mark.parametrize("tolerance", [300_000, 1e6, 1e9])
def test_certainty_equivalents_where_no_outcome_is_sampled_are_exact(tolerance: float) -> None:
    # retries, whipstock, sticking and trouble are in expectation here, never sampled
    raw = without_sampled_outcomes(job(risk_tolerance=tolerance))
    rows = risks(raw).by_runs
    for row in rows:
        goal = equivalent(rentals.cost_points(raw, limit_runs=row.runs), tolerance=tolerance)
        assert row.certainty_equivalent == pytest.approx(goal, rel=1e-8)
    if tolerance == 1e9:  # to one who hardly minds, it is the mean
        means = rentals.expected_costs_with_rentals(raw)
        found = [row.certainty_equivalent for row in rows]
        assert found == pytest.approx(means, rel=2e-4)


@pytest.mark.usefixtures("coarse")
def test_an_equivalent_without_end_is_infinite_and_no_limit_is_best() -> None:
    # plugs only: 0.25 exp(retry / tolerance) is above 1 with a retry of some 184,000
    raw = without_sampled_outcomes(read(SCENARIO_A) | {"limits": {"risk_tolerance": 100_000}})
    found = risks(raw)
    assert [row.certainty_equivalent for row in found.by_runs] == [math.inf] * 6
    assert found.best_by_certainty is None
    raw["fallback"][0]["whipstock"] = {"after": 2, "hours": 30, "cost": 40_000, "failure": 0.2}
    ended = risks(raw)
    assert all(math.isfinite(row.certainty_equivalent or math.inf) for row in ended.by_runs)
    # one who minds so much makes as few runs as any, or fewer, than one who does not
    assert ended.best_by_certainty is not None


# ---- a textbook gamble as a fishing job -------------------------------------------------------

TROUBLE = {"chance": 0.5 / 0.8, "cost": 700}


def textbook(*, risk_tolerance: float) -> Table:
    """Drilling at 150, 300 or 500 (chances .2, .6, .2) for 0, 700 or 1,200 (.5, .3, .2).

    A cost of the gamble is cost - deposit + 1,200: run 1 makes the 150 and ends with chance .2,
    run 2 the 300, run 3 the 500. Each ends with the fish out (the 1,200) in .2 of its share, else
    in a fallback of 500 (the 700) with trouble of 700 more (the 0) in .5 / .8 of those.
    """
    ends = {"recovered": 0.2, "string_lost": 0.8}

    def run(share: float, charge: float) -> Table:
        odds = {name: share * chance for name, chance in ends.items()} | {"nothing": 1 - share}
        return {"name": "run", "hours": 0, "charge": charge, "odds": odds}

    raw = lump_job()
    raw["fish"]["piece"] = []
    raw["run"] = [run(0.2, 150), run(0.75, 150), run(1.0, 200)]
    raw["fallback"] = [{"name": "leave", "hours": 0, "cost": 500, "trouble": TROUBLE}]
    raw["limits"] = {"risk_tolerance": risk_tolerance}
    return raw


@pytest.mark.usefixtures("coarse")
def test_the_certainty_equivalent_of_the_textbook() -> None:
    last = risks(textbook(risk_tolerance=700)).by_runs[3]
    # published (user guide of a general statistics system, decision-tree chapter; k$): -13.58
    assert 1_200 - (last.certainty_equivalent or 0.0) == pytest.approx(-13.58, abs=0.005)
    # and to one who does not mind the published (recomputed) mean of 140
    calm = risks(textbook(risk_tolerance=1e9)).by_runs[3]
    assert 1_200 - (calm.certainty_equivalent or 0.0) == pytest.approx(140, abs=0.01)


# ---- humps, and which limit -------------------------------------------------------------------


@pytest.mark.usefixtures("coarse")
def test_the_humps_add_up_to_the_whole() -> None:
    raw = job()
    found = walked(raw, n=256)
    rows = risks(raw, n=256).by_runs
    costs = found.cost.mean(axis=0)
    for row, cost in zip(rows, costs, strict=True):
        humps = [hump for hump in (row.recovered, row.fallback) if hump is not None]
        assert sum(hump.chance for hump in humps) == pytest.approx(1.0, abs=1e-12)
        assert sum(hump.chance * hump.mean for hump in humps) == pytest.approx(cost, rel=EXACT)
        for hump in humps:
            assert hump.p10 <= hump.p50 <= hump.p90
    assert rows[0].recovered is None


def test_the_humps_are_those_of_the_ends() -> None:
    raw = certain(job())
    filled = endings.plain(raw)
    for row in risks(raw).by_runs[1:]:
        ends = rentals.ends(filled, since=rentals.beginning(filled), limit_runs=row.runs)
        points: dict[bool, Points] = {True: [], False: []}
        for end in ends:
            points[end.ending == "recovered"].append(
                (rentals.total_cost(filled, end), end.probability)
            )
        for hump, out in ((row.recovered, True), (row.fallback, False)):
            assert hump is not None
            chance = sum(p for _, p in points[out])
            mean = sum(c * p for c, p in points[out]) / chance
            assert (hump.chance, hump.mean) == pytest.approx((chance, mean), rel=EXACT)
            shares = [(cost, p / chance) for cost, p in points[out]]
            for share, cost in ((0.1, hump.p10), (0.5, hump.p50), (0.9, hump.p90)):
                assert cost == pytest.approx(quantile(shares, share), rel=1e-6)


def quantile(points: Points, share: float) -> float:
    """Least cost that is not exceeded with chance `share`."""
    reached = 0.0
    for cost, chance in sorted(points):
        reached += chance
        if reached >= share - 1e-12:
            return cost
    return max(points)[0]


def test_the_least_risky_limit_is_one_of_the_flat_range() -> None:
    # independent: worked by hand below. Runs of 24,000; run 2 recovers seldom and hardly pays.
    raw = lump_job(
        {"recovered": 0.5, "nothing": 0.5},
        {"recovered": 0.14, "nothing": 0.86},
        {"recovered": 0.01, "nothing": 0.49, "hole_lost": 0.5},
    )
    costs = rentals.expected_costs_with_rentals(raw)
    # 190,000; 24,000 + 95,000; + 12,000 - 0.07 x 190,000; + 10,320 - 0.0043 x 190,000
    assert costs == pytest.approx([190_000, 119_000, 117_700, 127_203])
    found = risks(raw)
    # a tenth is dearer with every run: 214,000, then 238,000
    assert [row.worst_tenth for row in found.by_runs[:3]] == pytest.approx(
        [190_000, 214_000, 238_000], rel=1e-6
    )
    assert found.least_risky == 1  # within 2 % of the best, 2 runs
    # the least number of runs binds it
    assert risks(raw | {"limits": {"minimum_runs": 2}}).least_risky == 2


# ---- authority --------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def answer_a() -> Answer:
    limits = {"authority": 600_000, "response_hours": 36, "risk_tolerance": 800_000}
    return econ.answer(scenario(job(**limits), n=512))


def test_the_wait_for_a_vote_and_what_suffices(answer_a: Answer) -> None:
    found, raw = answer_a.authority, job()
    # independent: 36 h at 53,000 of spread, for the vote comes when fishing is over
    assert found.waiting_cost == pytest.approx(36 / 24 * 53_000, rel=EXACT)
    assert (found.response_hours, found.given) == (36, 600_000)
    row = answer_a.risk.by_runs[answer_a.best]
    assert found.suffices == pytest.approx(1.0 - (row.above_authority or 0.0), abs=1e-12)
    assert found.stage_1_suffices == pytest.approx(1.0 - (row.fishing_above or 0.0), abs=1e-12)
    points = rentals.cost_points(raw, limit_runs=answer_a.best)
    assert found.suffices == pytest.approx(1.0 - above(points, 600_000), abs=0.01)
    filled = endings.plain(raw)
    ends = rentals.ends(filled, since=rentals.beginning(filled), limit_runs=answer_a.best)
    spend = [(rentals.fishing_cost(filled, end), end.probability) for end in ends]
    assert found.stage_1_suffices == pytest.approx(1.0 - above(spend, 600_000), abs=0.01)


@pytest.mark.usefixtures("coarse")
def test_without_authority_or_tolerance_there_is_none() -> None:
    found = econ.answer(scenario(certain(job()), n=16))
    for row in found.risk.by_runs:
        assert (row.above_authority, row.fishing_above) == (None, None)
        assert (row.certainty_equivalent, row.certainty_equivalent_error) == (None, None)
    assert found.authority.suffices is None
    assert found.authority.stage_1_suffices is None
    assert found.risk.best_by_certainty is None


# ---- rented tools -----------------------------------------------------------------------------

SPEAR: Table = {
    "tool": "spear",
    "kinds": ["spear"],
    "delivery": 30,
    "mobilization": 3_000,
    "minimum_days": 2,
    "day": 1_500,
    "standby_day": 800,
    "redress": 700,
}
JARS: Table = {"tool": "jars", "options": ["jars"], "day": 900, "standby_day": 400}


def rented(*tools: Table, first: str = "overshot") -> Table:
    """Three runs that pay, of which the second uses the spear."""
    good = {"recovered": 0.4, "nothing": 0.6}
    raw = lump_job(good, good, good)
    raw["run"][0].update(kind=first, options=["jars"])
    raw["run"][1]["kind"] = "spear"
    raw["rental"] = list(tools)
    return raw


def costs_of(raw: Table, log: tuple[LoggedRun, ...] = ()) -> tuple[RentalCost, ...]:
    return rental_costs(case_of(raw, log), minimum=0, scrambles=16)


@pytest.mark.parametrize("call_out", [None, 0, 1])
@pytest.mark.parametrize("first", ["overshot", "spear"])
def test_what_a_contract_costs_is_the_difference_that_it_makes(
    call_out: int | None, first: str
) -> None:
    spear = SPEAR if call_out is None else SPEAR | {"call_out": call_out}
    raw = rented(spear, JARS, first=first)
    with_all = rentals.expected_costs_with_rentals(raw)
    best = int(np.argmin(with_all))
    assert best == 3
    rows = costs_of(raw)
    assert [row.tool for row in rows] == ["spear", "jars"]
    for number, row in enumerate(rows):
        others = [tool for k, tool in enumerate((spear, JARS)) if k != number]
        without = rentals.expected_costs_with_rentals(raw | {"rental": others})
        assert row.mean == pytest.approx(with_all[best] - without[best], rel=1e-6)
        sooner_or_later = []
        for when in (0, None):
            changed = {k: v for k, v in (spear, JARS)[number].items() if k != "call_out"}
            changed |= {} if when is None else {"call_out": when}
            listed = [changed, *others]
            by_limit = rentals.expected_costs_with_rentals(raw | {"rental": listed})
            sooner_or_later.append(min(by_limit))
        assert row.now_or_later is not None
        goal = sooner_or_later[0] - sooner_or_later[1]
        assert row.now_or_later.value == pytest.approx(goal, abs=1e-4)
    spear_row, jars_row = rows
    assert spear_row.first_run == (1 if first == "spear" else 2)
    assert jars_row.first_run == 1
    assert (spear_row.keep_day, jars_row.keep_day) == (800, 400)
    # independent: 3,000 to bring it and two days of 1,500; 30 h of the rig at 1,000
    assert (spear_row.minimum, spear_row.wait) == (6_000, 30_000)
    assert not spear_row.held


def test_to_call_now_or_with_its_run() -> None:
    # independent: by hand. The spear comes 30 h after the call; called with run 2 the rig waits for
    # 30 h at 1,000 and the tool is paid 1,500 a day for them; called now 6 h of them are left, and
    # it stands by for run 1. So to call now is cheaper, and with delivery at once it is dearer.
    (row,) = costs_of(rented(SPEAR))
    assert row.now_or_later is not None
    assert row.now_or_later.value < -10_000
    (row,) = costs_of(rented(SPEAR | {"delivery": 0}))
    assert row.now_or_later is not None
    assert row.now_or_later.value > 500


def test_a_tool_on_location_or_called_already_leaves_no_choice() -> None:
    held = SPEAR | {"held_days": 1}
    (row,) = costs_of(rented(held))
    assert (row.held, row.now_or_later, row.first_run) == (True, None, 2)
    assert row.minimum == 1_500  # independent: a day of two is left
    text = "run,start,end,outcome\n1,2026-03-14T06:00,2026-03-15T06:00,nothing\n"
    for tool, is_held, first_run in (
        (SPEAR | {"call_out": 1}, True, 2),  # called with the run that is logged
        (SPEAR, False, 2),
        (JARS, True, None),  # used by that run only
    ):
        raw = rented(tool)
        log = parse_log(text, scenario(raw))
        (row,) = costs_of(raw, log)
        assert (row.held, row.first_run) == (is_held, first_run)
        assert (row.now_or_later is None) is is_held
        rows = [{"run": 1, "outcome": "nothing"} | {"start": log[0].start, "end": log[0].end}]
        costs = run_log.expected_costs_from_now(raw, rows)
        bare = run_log.expected_costs_from_now(raw | {"rental": []}, rows)
        assert row.mean == pytest.approx(costs[2] - bare[2], rel=1e-6)


def test_now_is_the_end_of_the_log() -> None:
    raw = rented(SPEAR)
    raw["run"] = [raw["run"][0], *copy.deepcopy(raw["run"])]  # the spear is for run 3
    raw["run"][0]["kind"] = "soak"
    text = "run,start,end,outcome\n1,2026-03-14T06:00,2026-03-16T06:00,nothing\n"
    log = parse_log(text, scenario(raw))
    (row,) = costs_of(raw, log)
    rows = [{"run": 1, "outcome": "nothing"} | {"start": log[0].start, "end": log[0].end}]
    later = run_log.expected_costs_from_now(raw, rows)
    # independent: to call it now is to call it at the start of run 2, which is the next
    now = run_log.expected_costs_from_now(raw | {"rental": [SPEAR | {"call_out": 2}]}, rows)
    assert row.now_or_later is not None
    assert row.now_or_later.value == pytest.approx(min(now) - min(later), abs=1e-3)


def test_the_wait_for_a_tool_is_what_the_wait_of_its_run_leaves() -> None:
    raw = rented(SPEAR)
    raw["run"][1]["wait"] = 20
    (row,) = costs_of(raw)
    # independent: of the 30 h the run waits for 20 in any case
    assert row.wait == 10_000


# ---- fallbacks side by side -------------------------------------------------------------------

PAST: Table = {
    "name": "drill past",
    "kind": "drill_past",
    "hours": 90,
    "cost": 330_000,
    "lost_in_hole_share": 0.4,
    "trouble": {"chance": 0.3, "cost": 100_000},
}
ABOVE: Table = {
    "name": "complete above",
    "kind": "complete_above",
    "hours": 70,
    "cost": 80_000,
    "value_given_up": 600_000,
    "lost_in_hole_share": 0.5,
}


def side_by_side(**more: Any) -> Table:
    raw = read(SCENARIO_A)
    raw["run"] = raw["run"][:2]
    raw["fallback"][0]["whipstock"] = {"after": 2, "hours": 30, "cost": 40_000, "failure": 0.2}
    raw["fallback"] += [PAST | more, ABOVE]
    return raw


def table_of(raw: Table) -> Fallbacks:
    case = case_of(raw)
    return fallbacks(scenario(raw), case, choose(case))


@pytest.mark.parametrize("cost", [150_000, 330_000, 700_000])
def test_the_parts_of_each_fallback_and_which_is_taken(cost: float) -> None:
    raw = side_by_side(cost=cost)
    filled = endings.plain(raw)
    top, run = filled["fish"]["top"], filled["run"][0]
    found = table_of(raw)
    states: dict[str, Ending] = {
        "now": "limit",
        "string_lost": "string_lost",
        "hole_lost": "hole_lost",
    }
    taken = {
        state: endings.cheapest(
            filled, fish_top=top, ending=ending, run=None if ending == "limit" else run
        )["name"]
        for state, ending in states.items()
    }
    for row, fallback in zip(found.rows, filled["fallback"], strict=True):
        parts = (row.time, row.other, row.trouble, row.lost_in_hole, row.value_given_up)
        assert sum(parts) == pytest.approx(row.now, rel=EXACT)
        goal = endings.mean_cost(filled, fallback, fish_top=top, ending="limit")
        assert row.now == pytest.approx(goal, rel=EXACT)
        lost: tuple[tuple[Ending, float | None], ...] = (
            ("string_lost", row.after_string_lost),
            ("hole_lost", row.after_hole_lost),
        )
        for ending, shown in lost:
            if not endings.is_open(fallback, ending):
                assert shown is None
                continue
            goal = endings.mean_cost(filled, fallback, fish_top=top, ending=ending, run=run)
            assert shown == pytest.approx(goal, rel=1e-6)
        assert set(row.taken) == {state for state, name in taken.items() if name == row.name}
    assert found.taken.name == taken["now"]
    assert found.rows[1].sort == "drill_past"
    assert found.rows[1].after_string_lost is None
    assert found.rows[1].after_hole_lost is None


def test_the_parts_by_hand() -> None:
    (row,) = table_of(
        lump_job({"nothing": 1.0})
        | {
            "fallback": [
                {"name": "respud", "kind": "respud", "hours": 100, "cost": 50_000}
                | {"value_given_up": 7_000, "lost_in_hole_share": 0.25}
                | {"trouble": {"chance": 0.5, "cost": 8_000}}
            ]
        }
    ).rows
    # independent: 100 h at 1,000; a quarter of 40,000; half of 8,000
    parts = (row.hours, row.time, row.other, row.trouble, row.lost_in_hole, row.value_given_up)
    assert parts == pytest.approx((100, 100_000, 50_000, 4_000, 10_000, 7_000), rel=EXACT)
    assert row.now == pytest.approx(171_000, rel=EXACT)
    assert row.taken == ("now", "string_lost", "hole_lost")


def test_where_one_fallback_takes_over_from_another() -> None:
    raw = side_by_side(cost=320_000)
    filled = endings.plain(raw)
    found = table_of(raw)
    assert [each.name for each in found.reaches] == ["drill past", "Open-hole sidetrack"]
    upper, lower = found.reaches
    # from the top now down to 30 ft above bottom, a step of the table between them
    assert (upper.upper, lower.lower) == (11_180, 11_850 - 30)
    step = (11_820 - 11_180) / 512
    assert lower.upper - upper.lower == pytest.approx(step, rel=1e-6)
    # independent: bisection on the cheapest fallback of the reference
    high, low = 11_180.0, 11_820.0
    while low - high > 1e-3:
        middle = (high + low) / 2
        cheapest = endings.cheapest(filled, fish_top=middle, ending="limit")["name"]
        high, low = (middle, low) if cheapest == "drill past" else (high, middle)
    assert upper.lower - step <= high <= lower.upper + step


def test_the_table_in_metres_and_frames(answer_a: Answer) -> None:
    frame = answer_a.fallbacks.to_frame()
    assert list(frame.index) == ["Open-hole sidetrack", "drill past"]
    assert len(answer_a.risk.to_frame()) == 4


def test_value_given_up_is_no_money_that_an_authority_must_cover() -> None:
    # by hand: 100 h at 1,000 and 50,000 with the fish of 40,000 are 190,000 spent, whatever the
    # well was worth; an authority of 200,000 covers that, also where no run is left
    raw = lump_job() | {"limits": {"authority": 200_000}}
    raw["fallback"][0]["value_given_up"] = 5_000_000
    found = econ.answer(scenario(raw))
    assert found.limit.expected_cost == pytest.approx(5_190_000)
    assert found.stage_2.mean == pytest.approx(190_000)
    assert found.stage_2.p90 == pytest.approx(190_000)
    assert found.authority.suffices == 1.0
    assert found.risk.by_runs[0].above_authority == 0.0
