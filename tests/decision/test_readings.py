"""What a reading of the kind of fish is worth, what it costs, and whether to buy it.

Origins of the expected numbers:
    published     scenario A, an invented well: the notes that come with it
    independent   `reference.information`, the rule by state anew over complete histories for each
                  result of a reading; or worked by hand beside the number
"""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

import numpy as np
import pytest
from full_text import text
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from raw_jobs import SCENARIO_A, Table, lump_job, read, scenario
from reference import endings, information, rentals, run_log

import econ
import econ.engine.histogram
from econ.decision.answer import HISTORIES, Answer
from econ.decision.readings import ReadingWorth, ValueOfInformation
from econ.decision.readings import value_of_information as readings_of
from econ.decision.run_log import happened
from econ.decision.state_rule import rule_levels
from econ.engine.choice import choose
from econ.engine.expected import expected
from econ.engine.inputs import Inputs
from econ.reports import tables
from econ.scenario.notes import notes
from econ.scenario.run_log import LoggedRun

pytestmark = pytest.mark.usefixtures("few_bins", "few_states")
EXACT = 1e-9
ERRORS = 4.0


def known(
    raw: Table, log: tuple[LoggedRun, ...] = (), *, n: int = 1, **draws: int
) -> ValueOfInformation:
    """What knowing is worth, without the rest of an answer."""
    job = scenario(raw, **draws)
    inputs = Inputs(job, logged=happened(job, log))
    scrambles = inputs.sampler.scrambles
    case = inputs.case(inputs.first(n), n * scrambles)
    choice = choose(case)
    return readings_of(
        rule_levels(inputs, case, choice),
        expected(case, choice, histories=HISTORIES),
        job.reading,
        doubts=[doubt.name for doubt in job.doubts],
        minimum=inputs.minimum_runs,
        scrambles=scrambles,
        hour=float(np.mean(case.spread + case.fishing_day)) / 24.0,
    )


def worths(found: ValueOfInformation) -> list[float]:
    return [each.worth.value for each in (*found.stated, *found.readings)]


# ---- scenario A -------------------------------------------------------------------------------

READINGS: list[Table] = [
    {"name": "free point", "reliability": 0.9, "hours": 9, "cost": 5_000},
    {"name": "impression block", "reliability": 0.8, "hours": 6, "cost": 1_000},
    {"name": "caliper", "reliability": 0.7, "reliability_stubborn": 0.95, "hours": 3},
    {"name": "a guess", "reliability": 0.5},
    {"name": "a dear guess", "reliability": 0.5, "cost": 1},
]


@pytest.fixture(scope="module")
def raw_a() -> Table:
    return read(SCENARIO_A) | {"reading": READINGS}


@pytest.fixture(scope="module")
def short(raw_a: Table) -> Table:
    """Its first three runs, because the reference takes its time over five."""
    return raw_a | {"run": raw_a["run"][:3]}


@pytest.fixture(scope="module")
def answer_a(raw_a: Table) -> Answer:
    return econ.answer(scenario(raw_a, n=128))


def test_scenario_a_is_as_published(answer_a: Answer) -> None:
    found = answer_a.information
    # published: perfect 66,269, 90 % 29,510, 80 % 18,575, to the dollar; one run pays from 0.206
    printed = [66_269, 29_510, 18_575]
    assert [each.reliability for each in found.stated] == [1.0, 0.9, 0.8]
    assert [each.worth.value for each in found.stated] == pytest.approx(printed, abs=0.51)
    assert found.evpi.value == pytest.approx(66_269, abs=0.51)
    # one outcome that goes on is sampled for it, among nine histories
    assert found.least_workable == pytest.approx(0.206, abs=6e-4)


def test_the_readings_of_the_answer(answer_a: Answer) -> None:
    rows = answer_a.information.readings
    # independent: 9 h and 6 h at 2,517 with 5,000 and 1,000 of charges, 27,653 and 16,102, against
    # 29,510 and 18,575; and 3 h, 7,551, against more than half of the worth of a perfect reading
    assert [row.price for row in rows[:3]] == pytest.approx([27_653, 16_102, 7_551], abs=4.6)
    assert [row.buy for row in rows] == [True, True, True, False, False]
    shown = tables.document(answer_a)["information"]["readings"]
    assert [row["buy"] for row in shown] == [None] * 3 + [row.buy for row in rows]
    assert "free point" in text(answer_a)


def test_worth_and_price_are_those_of_the_reference(short: Table) -> None:
    for row, reading in zip(known(short).readings, READINGS, strict=True):
        stubborn = reading.get("reliability_stubborn", reading["reliability"])
        assert (row.reliability, row.reliability_stubborn) == (reading["reliability"], stubborn)
        goal = information.worth_of_reading(
            short, reliability=reading["reliability"], reliability_stubborn=stubborn
        )
        price = information.price_of_reading(short, reading)
        # two costs of half a million less one another
        assert row.worth.value == pytest.approx(goal, rel=EXACT, abs=1e-3)
        assert row.price == pytest.approx(price, rel=EXACT)
        assert row.hours == reading.get("hours", 0)
        assert row.buy is (goal > price + 1e-3)


@pytest.mark.parametrize("extra", [-1, 1])
def test_a_reading_is_bought_up_to_its_worth(short: Table, extra: int) -> None:
    goal = information.worth_of_reading(short, reliability=0.9)
    wait = information.price_of_reading(short, {"hours": 4})
    raw = short | {
        "reading": [{"name": "one", "reliability": 0.9, "hours": 4, "cost": goal - wait + extra}]
    }
    (row,) = known(raw).readings
    assert row.price == pytest.approx(goal + extra, rel=EXACT)
    assert row.buy is (extra < 0)
    assert row.clear


def test_results_of_a_reading_follow_bayes_and_name_the_best_limit(short: Table) -> None:
    found = known(short, n=64)
    p = 0.7
    for row in (*found.stated, *found.readings):
        r1, r2 = row.reliability, row.reliability_stubborn
        for result in row.results:
            joint = (p * r1, (1 - p) * (1 - r2))
            if result.says == "stubborn":
                joint = (p * (1 - r1), (1 - p) * r2)
            # independent: Bayes by hand, and the limits of the reference at that belief
            assert result.chance == pytest.approx(sum(joint), rel=EXACT)
            assert result.workable == pytest.approx(joint[0] / sum(joint), rel=EXACT)
            other = information.with_prior(short, result.workable)
            costs = rentals.expected_costs_with_rentals(other)
            assert result.best == int(np.argmin(costs)), (row.name, result.says)
        assert sum(result.chance for result in row.results) == pytest.approx(1.0, rel=EXACT)


# ---- jobs at random ---------------------------------------------------------------------------

OUTCOMES = ("recovered", "part", "nothing", "top_damaged", "string_lost", "hole_lost")


@st.composite
def odds_tables(draw: st.DrawFn) -> Table:
    weights = draw(st.lists(st.integers(0, 9), min_size=6, max_size=6).filter(any))
    return {name: w / sum(weights) for name, w in zip(OUTCOMES, weights, strict=True)}


@st.composite
def jobs(draw: st.DrawFn) -> Table:
    tables = st.fixed_dictionaries({"workable": odds_tables(), "stubborn": odds_tables()})
    raw = lump_job(
        *draw(st.lists(tables, min_size=1, max_size=3)), part_length=120, string_value=9_000
    )
    raw["fishing"].update(workable=draw(st.sampled_from([0.1, 0.4, 0.8])))
    raw["fallback"][0]["cost"] = draw(st.integers(0, 300_000))
    raw["limits"] = {"minimum_runs": draw(st.integers(0, 1))}
    raw["reading"] = [
        {"name": name, "reliability": r1, "reliability_stubborn": r2}
        for name, (r1, r2) in zip(
            ("one", "two"),
            draw(st.lists(st.tuples(st.floats(0, 1), st.floats(0, 1)), min_size=1, max_size=2)),
            strict=False,
        )
    ]
    return raw


@settings(max_examples=20, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(jobs())
def test_any_reading_is_worth_what_the_reference_says(raw: Table) -> None:
    found = known(raw)
    perfect = found.evpi.value
    slack = 1e-8 * information.value(raw, workable=raw["fishing"]["workable"])
    for row in (*found.stated, *found.readings):
        goal = information.worth_of_reading(
            raw, reliability=row.reliability, reliability_stubborn=row.reliability_stubborn
        )
        assert row.worth.value == pytest.approx(goal, abs=slack)
        # never worth less than nothing, nor more than to know for certain
        assert 0.0 <= row.worth.value <= perfect + slack
        assert row.worth.error == pytest.approx(0.0, abs=slack)


def test_a_reading_that_says_the_contrary_is_as_good(raw_a: Table) -> None:
    turned = [{"name": "one", "reliability": 0.1}, {"name": "two", "reliability": 0.9}]
    one, two = known(raw_a | {"reading": turned}).readings
    assert one.worth.value == pytest.approx(two.worth.value, rel=1e-6)


# ---- where nothing is to be learned -----------------------------------------------------------


@pytest.mark.parametrize(("workable", "stubborn", "wrong"), [(0.4, 0.5, True), (0.4, 0.7, False)])
def test_reliabilities_that_read_the_wrong_way_are_asked_about(
    raw_a: Table, workable: float, stubborn: float, *, wrong: bool
) -> None:
    reading = {"name": "Log", "reliability": workable, "reliability_stubborn": stubborn}
    said = notes(scenario(raw_a | {"reading": [reading]}))
    assert any(each.startswith("reading.1 reads workable more often") for each in said) == wrong


def test_a_reading_that_pays_is_said_with_the_verdict(raw_a: Table) -> None:
    def first_lines(cost: float) -> str:
        reading = {"name": "Some log", "reliability": 0.95, "hours": 1, "cost": cost}
        found = econ.answer(scenario(raw_a | {"reading": [reading]}, n=128))
        told = text(found)
        paying = tables.paying_readings(found)
        assert [row["name"] for row in paying] == ["Some log"] * (cost == 0)
        return " ".join(told[: told.index("If you stop after")].split())

    assert "Before that a reading pays: Some log, worth" in first_lines(0.0)
    assert "a reading pays" not in first_lines(1e6)


def test_a_job_without_kinds_has_nothing_to_read() -> None:
    raw = lump_job({"recovered": 0.5, "nothing": 0.5})
    raw["reading"] = [{"name": "one", "reliability": 0.9}]
    found = known(raw)
    assert (found.least_workable, found.stated, found.readings) == (None, (), ())
    assert found.evpi.value == 0
    econ.answer(scenario(raw))  # and its answer does without


KIND = {
    "workable": {"recovered": 0.6, "nothing": 0.4},
    "stubborn": {"nothing": 0.9, "hole_lost": 0.1},
}


@pytest.mark.parametrize("workable", [0.0, 1.0])
def test_a_kind_that_is_known_is_worth_nothing(workable: float) -> None:
    raw = lump_job(KIND, KIND)
    raw["fishing"]["workable"] = workable
    assert worths(known(raw)) == [0.0, 0.0, 0.0]


def test_a_reading_that_changes_no_decision_is_worth_nothing() -> None:
    raw = lump_job(KIND)
    raw["fishing"]["workable"] = 0.9
    raw["reading"] = [{"name": "weak", "reliability": 0.6}]
    # independent: 24,000 against 0.6 of 190,000 and 0.1 of the hole, which is as dear here:
    # a run pays from 24,000 / 114,000 = 0.211 on; 0.9 x 0.4 / (0.9 x 0.4 + 0.1 x 0.6) = 0.857
    found = known(raw)
    assert found.least_workable == pytest.approx(24 / 114, rel=EXACT)
    assert found.readings[0].worth.value == 0.0
    # for certain: 0.1 of the fish are stubborn, and 24,000 for each is saved
    assert found.evpi.value == pytest.approx(2_400, rel=EXACT)


@pytest.mark.parametrize(
    ("workable", "stubborn", "least"),
    [
        ({"recovered": 1.0}, {"recovered": 0.5, "nothing": 0.5}, 0.0),  # pays in any case
        ({"recovered": 0.5, "nothing": 0.5}, {"recovered": 1.0}, 0.0),  # the more if stubborn
        ({"recovered": 0.5, "nothing": 0.5}, {"recovered": 0.5, "nothing": 0.5}, 0.0),
        ({"nothing": 1.0}, {"recovered": 1.0}, 0.0),
        ({"recovered": 0.1, "nothing": 0.9}, {"nothing": 1.0}, None),  # never pays
        # independent: 24,000 = p x 190,000
        ({"recovered": 1.0}, {"nothing": 1.0}, 24 / 190),
    ],
)
def test_the_least_chance_of_a_workable_fish(
    workable: Table, stubborn: Table, least: float | None
) -> None:
    found = known(lump_job({"workable": workable, "stubborn": stubborn}))
    assert found.least_workable == (None if least is None else pytest.approx(least, rel=EXACT))


# ---- uncertain odds, and after a log ----------------------------------------------------------


def uncertain() -> Table:
    raw = read(SCENARIO_A) | {"reading": READINGS[:3]}
    raw["run"] = raw["run"][:4]
    raw["fishing"].update(workable={"mean": 0.6, "weight": 8})
    raw["rates"]["rig"] = {"low": 40_000, "likely": 53_000, "high": 70_000}
    for run in raw["run"]:
        for odds in run["odds"].values():
            odds["weight"] = 8
    return raw


def test_one_seed_agrees_with_another_within_their_errors() -> None:
    raw = uncertain()
    one, other = (known(raw, n=64, seed=seed) for seed in (1, 2))
    rows = list(zip((*one.stated, *one.readings), (*other.stated, *other.readings), strict=True))
    assert any(a.worth.value > 0 for a, _ in rows)
    for a, b in rows:
        error = float(np.hypot(a.worth.error, b.worth.error))
        assert abs(a.worth.value - b.worth.value) < ERRORS * error
        assert a.price is None or a.price == pytest.approx(b.price, rel=1e-3)
        assert a.worth.value <= one.evpi.value + ERRORS * error
    assert one.stated[0].worth.error < 0.05 * one.stated[0].worth.value


def test_a_worth_near_the_price_is_called_unclear() -> None:
    raw = uncertain()
    worth = known(raw, n=64).readings[0].worth
    raw["reading"] = [
        {"name": "near", "reliability": 0.9, "cost": worth.value + worth.error},
        {"name": "far", "reliability": 0.9, "cost": worth.value + 9 * worth.error},
    ]
    near, far = known(raw, n=64).readings
    assert (near.clear, far.clear, far.buy) == (False, True, False)


def test_after_a_log_the_belief_of_that_day_counts() -> None:
    raw = read(SCENARIO_A) | {"reading": READINGS[:3]}
    raw["run"] = raw["run"][:4]
    rows = [
        {
            "run": 1,
            "outcome": "nothing",
            "start": "2026-03-14T06:00",
            "end": "2026-03-15T10:00",
        }
    ]
    log = (LoggedRun(2, 0, datetime(2026, 3, 14, 6), datetime(2026, 3, 15, 10), "nothing"),)
    filled, since = endings.plain(raw), run_log.state(raw, rows)
    prior = since.chances["workable"]

    def value(workable: float) -> float:
        chances = {"workable": workable, "stubborn": 1 - workable}
        return rentals.best_rule_cost(filled, since=replace(since, chances=chances))

    def goal(row: ReadingWorth) -> float:
        told = 0.0
        r1, r2 = row.reliability, row.reliability_stubborn
        for joint in ((prior * r1, (1 - prior) * (1 - r2)), (prior * (1 - r1), (1 - prior) * r2)):
            told += sum(joint) * value(joint[0] / sum(joint))
        return value(prior) - told

    found = known(raw, log)
    for row in (*found.stated, *found.readings):
        # independent: the same sum over results, from the state that the log leaves
        assert row.worth.value == pytest.approx(goal(row), rel=1e-6, abs=1e-3)
    assert found.evpi.value != pytest.approx(known(raw).evpi.value, rel=0.01)
