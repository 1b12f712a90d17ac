"""The states of a class exercise: against the program's own answers, plans and lessons.

Origin of expected numbers: independent (`econ.answer`, `econ.plan`, `econ.lessons` and where a job
stands after a log, which do not enumerate the states of a class) unless a line says otherwise.
"""

from __future__ import annotations

import math
import tomllib
from collections import deque
from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from raw_jobs import RUN_BY_RUN, lump_job, scenario

import econ
from econ.decision.class_model import ENVELOPES, ClassModel, Option, class_model
from econ.decision.run_log import standing
from econ.scenario import Scenario
from econ.scenario.program import OUTCOMES
from econ.scenario.run_log import LoggedRun

pytestmark = pytest.mark.usefixtures("few_bins")
FOLDER = Path(__file__).parents[2] / "scenarios"
LOGS = ("a_class_job", "a_class_job_other_end", "a_two_runs")
EXACT = 1e-9
MONEY = 0.01  # [currency]


def job(name: str, *changes: str) -> Scenario:
    """A demonstration job, without readings, which a class is not offered."""
    found = econ.load(FOLDER / f"{name}.toml", ["draws.n=16", *changes])
    return found.model_copy(update={"reading": []})


@pytest.fixture(scope="module")
def point() -> Scenario:
    return job("point/a_land_twist_off")


@pytest.fixture(scope="module")
def model(point: Scenario) -> ClassModel:
    return class_model(point, [(name, read(name, point)) for name in LOGS])


def read(name: str, scenario: Scenario) -> tuple[LoggedRun, ...]:
    return econ.read_log(FOLDER / "logs" / f"{name}.csv", scenario)


def paths(
    model: ClassModel, start: int, runs: int
) -> Iterator[tuple[int, list[tuple[Option, str]]]]:
    """States within so many runs of one, each with the runs and outcomes that led there."""
    waiting: deque[tuple[int, list[tuple[Option, str]]]] = deque([(start, [])])
    seen: set[int] = set()
    while waiting:
        place, made = waiting.popleft()
        if place in seen:
            continue
        seen.add(place)
        yield place, made
        if len(made) < runs:
            for option in model.states[place].options:
                for branch in option.branches:
                    if branch.after is not None:
                        waiting.append((branch.after, [*made, (option, branch.outcome)]))


def log_of(made: list[tuple[Option, str]]) -> tuple[LoggedRun, ...]:
    """The log of some runs that took the hours that were planned."""
    moment, rows = datetime(2026, 3, 14, 6), []
    for row, (option, outcome) in enumerate(made, start=2):
        end = moment + timedelta(hours=option.hours)
        rows.append(LoggedRun(row, option.run - 1, moment, end, outcome))
        moment = end
    return tuple(rows)


@pytest.mark.parametrize(
    "name", ["point/a_land_twist_off", "point/c_bit_cones", "point/e_stuck_attached"]
)
def test_every_state_is_where_the_job_stands_after_that_log(name: str) -> None:
    asked = job(name, "job.decided_at=2026-03-14T06:00:00")
    found = class_model(asked)
    seen = 0
    for place, made in list(paths(found, found.start, 2))[:40]:
        state, there = found.states[place], standing(asked, log_of(made), n=16)
        assert state.stop == pytest.approx(there.fallback, rel=1e-6)
        assert state.top == pytest.approx(there.fish_top, rel=EXACT)
        if len(asked.doubts) == 1:
            assert state.kinds[0] == pytest.approx(there.workable, abs=1e-6)
        if state.listed is not None:
            assert there.ahead is not None
            assert state.listed == there.ahead.run + 1
            offered = {option.run: option for option in state.options}
            chance = odds(state.kinds, offered[state.listed])
            assert chance == pytest.approx(there.ahead.odds, abs=1e-6)
        seen += 1
    assert seen >= 10


def odds(kinds: tuple[float, ...], option: Option, outcome: str = "recovered") -> float:
    return sum(
        kind * chance
        for branch in option.branches
        if branch.outcome == outcome
        for kind, chance in zip(kinds, branch.chances, strict=True)
    )


@pytest.mark.parametrize("letter", ["a", "b", "c", "d", "e"])
def test_the_first_value_is_that_of_the_plan(letter: str) -> None:
    # At single numbers nothing is drawn, so that the choice and its value are those of the plan.
    (path,) = (FOLDER / "point").glob(f"{letter}_*.toml")
    asked = job(f"point/{path.stem}")
    found = class_model(asked)
    first, known = found.states[found.start], econ.plan(asked)
    assert first.plan == pytest.approx(
        known.expected_cost.value, abs=3 * known.expected_cost.error + MONEY
    )
    assert first.stop == pytest.approx(econ.answer(asked).by_runs[0].expected_cost, rel=1e-9)
    assert found.whole


def test_with_ranges_the_cost_of_stopping_is_that_of_the_answer_on_the_same_draws() -> None:
    whole = job("a_land_twist_off")
    asked = whole.model_copy(update={"run": whole.run[:3], "correlation": whole.correlation[:1]})
    log = read("a_two_runs", asked)
    found = class_model(asked, [("one", log)])
    for made, step in enumerate(found.logs[0].steps):
        state, known = found.states[step.before], econ.answer(asked, log[:made])
        assert state.stop == pytest.approx(known.by_runs[0].expected_cost, rel=1e-9)
        assert state.kinds[0] == pytest.approx(known.ahead[0].workable, rel=1e-9)


def test_the_values_are_sums_over_the_outcomes(model: ClassModel) -> None:
    # by hand, from the head of the module
    for state in model.states:
        stops = [state.stop] if state.may_stop else []
        least = min([*stops, *(option.by_plan for option in state.options)])
        assert math.isclose(state.plan, least, rel_tol=1e-6)
        for option in state.options:
            total = 0.0
            for branch in option.branches:
                share = odds(state.kinds, option, branch.outcome)
                after = 0.0 if branch.after is None else model.states[branch.after].plan
                total += share * (branch.paid + after)
            assert math.isclose(total, option.by_plan, rel_tol=1e-9)
            for kind, weight in enumerate(state.kinds):
                if weight > 0:
                    chances = [branch.chances[kind] for branch in option.branches]
                    assert math.isclose(sum(chances), 1.0, rel_tol=1e-9)


@pytest.mark.parametrize("place", range(len(LOGS)))
def test_regrets_are_those_of_the_lessons(place: int, model: ClassModel, point: Scenario) -> None:
    learned = econ.lessons(point, read(LOGS[place], point))
    regret = 0.0
    for step, row in zip(model.logs[place].steps, learned.runs, strict=True):
        state = model.states[step.before]
        done = {option.run: option for option in state.options}[step.run]
        assert row.regret is not None
        assert done.by_plan - state.plan == pytest.approx(row.regret.value, abs=MONEY)
        assert step.paid == pytest.approx(row.taken, rel=EXACT)
        stated = [odds(state.kinds, done, outcome) for outcome in OUTCOMES]
        assert stated == pytest.approx(list(row.chances), abs=1e-9)
        regret += done.by_plan - state.plan
    assert regret == pytest.approx(learned.regret, abs=MONEY)


@pytest.mark.parametrize("runs", [(3, 1), (1, 3), (3, 4), (2, 3)])
def test_regrets_of_other_orders_are_those_of_the_lessons(
    runs: tuple[int, ...], model: ClassModel, point: Scenario
) -> None:
    # runs that no log tells, each of which brings nothing, and then a stop
    place, made, regrets = model.start, [], []
    for run in runs:
        state = model.states[place]
        option = next(each for each in state.options if each.run == run)
        regrets.append(option.by_plan - state.plan)
        branch = next(each for each in option.branches if each.outcome == "nothing")
        assert branch.after is not None
        made.append((option, "nothing"))
        place = branch.after
    last = model.states[place]
    regrets.append(last.stop - last.plan)
    learned = econ.lessons(point, log_of(made), stopped=True)
    told = [row.regret for row in learned.runs] + [learned.stop_regret]
    # The lessons go on by the best limit where no plan pays beyond its error and a hundredth, and
    # after a run that is not the plan's second best; the page goes on by the plan throughout.
    by_plan = 0
    for known, row, own in zip(learned.mornings, told, regrets, strict=True):
        assert row is not None
        assert own == pytest.approx(row.value, abs=0.003 * last.stop)
        best = None if known.plan is None or known.by != "plan" else known.plan.nodes[0]
        if best is not None and best.next_best is not None and row.value > 0:
            second = best.next_best.costs_more.value
            if row.value == pytest.approx(second, abs=MONEY):
                assert own == pytest.approx(row.value, abs=1.0)
                by_plan += 1
    assert by_plan == (1 if runs[0] == 3 else 0)


def test_going_by_the_list_is_the_rule_by_state() -> None:
    # No fixed limit pays, and the rule saves 4,800 by hand: stopping 100,000; looking 2,000; with
    # 0.3 it is workable: 30,000 for the catch and 0.1 x 100,000; with 0.7 the fallback.
    found = class_model(scenario(tomllib.loads(RUN_BY_RUN)))
    first = found.states[found.start]
    assert first.stop == pytest.approx(100_000)
    assert first.by_list == pytest.approx(2_000 + 0.3 * (30_000 + 10_000) + 0.7 * 100_000)


def test_a_run_that_is_owed_comes_before_a_stop() -> None:
    found = class_model(job("point/b_offshore_sealed_sources"))
    first = found.states[found.start]
    assert not first.may_stop
    for option in first.options:
        for branch in option.branches:
            assert branch.after is None or found.states[branch.after].may_stop


def test_a_job_without_a_run_has_one_state() -> None:
    found = class_model(scenario(lump_job()))
    assert len(found.states) == 1
    assert found.states[0].options == ()
    assert found.states[0].plan == found.states[0].stop


def test_the_envelopes_are_the_same_every_time(model: ClassModel, point: Scenario) -> None:
    assert model.envelopes.shape == (ENVELOPES, 1 + len(point.run))
    one, two = (class_model(scenario(lump_job())).envelopes for _ in range(2))
    assert (one == two).all()
    # each picks its kind and its outcomes evenly: 4 standard errors of a mean of uniforms
    assert abs(model.envelopes.mean(axis=0) - 0.5).max() < 4 * (1 / 12 / ENVELOPES) ** 0.5


def test_what_is_offered_holds_the_next_of_the_list_and_the_best(model: ClassModel) -> None:
    for state in model.states:
        runs = [option.run for option in state.options]
        assert len(runs) <= 4
        assert state.listed is None or state.listed in runs
    assert any(len(state.options) == 3 for state in model.states)


def test_a_job_with_more_states_than_a_page_holds_says_so(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("econ.decision.class_model.WIDEST", 30)
    found = class_model(job("point/c_bit_cones"))
    assert not found.whole
    cut = [state for state in found.states if state.listed is not None and not state.options]
    assert cut
    for state in cut:  # there fishing stops
        assert state.plan == state.by_list == state.stop
    # and nobody does better than in the whole tree
    whole = econ.plan(job("point/c_bit_cones")).expected_cost.value
    assert found.states[found.start].plan >= whole - MONEY


def test_rows_that_are_no_runs_belong_to_the_run_before_them() -> None:
    asked = econ.load(FOLDER / "point" / "a_land_twist_off.toml", ["draws.n=16"])
    rows = (
        "run,start,end,outcome,cost\n"
        "1,2026-03-14T06:00,2026-03-14T12:00,unfinished,10000\n"
        "1,2026-03-14T12:00,2026-03-15T11:00,nothing,85000\n"
        "3,2026-03-15T11:00,2026-03-15T20:00,unfinished,20000\n"
        "3,2026-03-15T20:00,2026-03-16T20:00,nothing,70000\n"
    )
    found = class_model(asked, [("one", econ.parse_log(rows, asked))])
    log = found.logs[0]
    assert log.spent == pytest.approx(10_000)
    assert [(step.run, step.paid) for step in log.steps] == [
        (1, pytest.approx(105_000)),
        (3, pytest.approx(70_000)),
    ]
    assert log.steps[0].after == log.steps[1].before


def test_what_is_owed_whatever_is_done_is_told_apart(model: ClassModel) -> None:
    # by hand: 22 h of a spread of 655,000 a day, and 88,000; nothing in scenario A
    owing = class_model(job("point/b_offshore_sealed_sources"))
    assert owing.owed == pytest.approx(22 / 24 * 655_000 + 88_000, abs=MONEY)
    assert model.owed == 0
