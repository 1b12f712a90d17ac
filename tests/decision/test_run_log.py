"""The morning after: belief, state and costs once runs are logged.

Origins of the expected numbers:
    independent   `reference.run_log`, which knows no weights and bills the contracts twice; its
                  rejection sampling for uncertain odds; the walk of the job from its start, of
                  which a log is one path; or worked by hand beside the number
"""

from __future__ import annotations

import copy
import csv
import io
import json
from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime, timedelta
from itertools import product
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from cli.command import econ as command
from cli.command import ok, refused
from full_text import text
from raw_jobs import DEMO_A, FOOT, SCENARIO_A, Table, lump_job, metric, read, scenario
from reference import endings, information, rentals, run_log

import econ
import econ.engine.histogram
from econ.decision.answer import Answer
from econ.decision.figures import walked
from econ.decision.quick import quick
from econ.decision.run_log import from_now, happened
from econ.decision.sensitivity import sensitivity
from econ.engine.case import Case
from econ.engine.choice import choose
from econ.engine.expected import expected
from econ.engine.inputs import Inputs
from econ.engine.level import Level, begin
from econ.engine.walk import walk
from econ.reports import tables
from econ.scenario import ScenarioError
from econ.scenario.run_log import COLUMNS, LoggedRun, parse_log

pytestmark = pytest.mark.usefixtures("few_bins", "few_states")
EXACT = 1e-9
ERRORS = 4.0
DECIDED = datetime(2026, 3, 14, 6)


def row(run: int, outcome: str, *, start: float, end: float, **more: Any) -> Table:
    """A row, its times in days since the decision."""
    times = {"start": start, "end": end}
    moments = {key: (DECIDED + timedelta(days=t)).isoformat() for key, t in times.items()}
    return {"run": run, "outcome": outcome, **moments, **more}


def table(rows: list[Table]) -> str:
    """The rows as the text of a log."""
    file = io.StringIO()
    writer = csv.DictWriter(file, COLUMNS, lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return file.getvalue()


def logged(raw: Table, rows: list[Table]) -> tuple[LoggedRun, ...]:
    return parse_log(table(rows), scenario(raw)) if rows else ()


def case_after(raw: Table, rows: list[Table], *, n: int = 1) -> Case:
    """The case after a log, `n` draws of every scramble."""
    made = scenario(raw)
    past = happened(made, logged(raw, rows))
    inputs = Inputs(made.in_field_units(), logged=past)
    return inputs.case(inputs.first(n), n * inputs.sampler.scrambles)


def costs_after(raw: Table, rows: list[Table]) -> list[float]:
    """Expected costs from now of 0 further runs and more, by the full tree."""
    case = case_after(raw, rows)
    found = expected(case, choose(case), histories=3 ** len(raw["run"]))
    by_limit: list[float] = found.cost.sum(axis=0).mean(axis=1).tolist()
    return by_limit


def answer(raw: Table, rows: list[Table], **draws: int) -> Answer:
    made = scenario(raw, **draws)
    return econ.answer(made, parse_log(table(rows), made) if rows else ())


def belief(level: Level) -> float:
    """Chance that the fish is workable."""
    assert float(level.weight.sum(axis=0).mean()) == pytest.approx(1.0, rel=EXACT)
    return float(level.weight[0].mean())


# ---- a job with every rule in it --------------------------------------------------------------

PIPE: Table = {
    "tool": "wash pipe",
    "kinds": ["wash_then_catch"],
    "call_out": 1,
    "delivery": 60,
    "mobilization": 14_000,
    "minimum_days": 3,
    "day": 3_100,
    "standby_day": 1_700,
    "redress": 4_400,
    "per_foot": 21,
}
HELD: Table = {"tool": "jars", "held_days": 1.5, "minimum_days": 6, "day": 900, "standby_day": 300}
PAST: Table = {
    "name": "drill past",
    "kind": "drill_past",
    "hours": 90,
    "cost": 260_000,
    "trouble": {"chance": 0.2, "cost": 50_000},
}


def job(*contracts: Table) -> Table:
    """Scenario A cut to four runs, with contracts, two fallbacks and odds that move in time."""
    raw = read(SCENARIO_A)
    raw["run"] = raw["run"][:4]
    raw["run"][1]["kind"] = "wash_then_catch"
    raw["fishing"].update(odds_ratio_per_day=0.85, loss_odds_ratio_per_day=1.3)
    raw["common"] = {"hours": 18, "cost": 12_000}
    raw["fallback"][0]["whipstock"] = {"after": 2, "hours": 30, "cost": 40_000, "failure": 0.2}
    raw["fallback"].append(copy.deepcopy(PAST))
    raw["rental"] = list(contracts)
    raw["draws"]["n"] = 16
    return raw


def first(outcome: str, **more: Any) -> Table:
    return row(1, outcome, start=0.75, end=2.0, **more)


LOGS = {
    "nothing logged": [],
    "nothing": [first("nothing")],
    "part by length": [first("part")],
    "part measured": [first("part", fish_top=11_333.5)],
    "damaged": [first("top_damaged")],
    "damaged and dressed": [first("top_damaged"), row(2, "nothing", start=2.5, end=4.1)],
    "damaged by the run that dresses": [row(2, "top_damaged", start=1, end=3.3)],
    "out of order": [
        row(4, "part", start=0.2, end=4, fish_top=11_400),
        row(1, "nothing", start=4.6, end=6),
    ],
    "days of waiting": [first("nothing"), row(2, "top_damaged", start=9, end=11)],
    "three runs": [
        first("part"),
        row(2, "nothing", start=2, end=4.5),
        row(3, "nothing", start=4.5, end=6),
    ],
    "all runs": [
        first("nothing"),
        row(2, "part", start=2, end=4.5, fish_top=11_260),
        row(3, "top_damaged", start=4.5, end=6),
        row(4, "nothing", start=6, end=9.5),
    ],
    "stopped half way": [first("unfinished")],
    "stopped half way and made again": [
        first("unfinished"),
        row(1, "part", start=2.1, end=4),
        row(2, "unfinished", start=4, end=4.5),
    ],
    "stopped half way after damage": [
        first("top_damaged"),
        row(2, "unfinished", start=2.5, end=4.1),
        row(3, "nothing", start=4.2, end=6),
    ],
    "recovered": [first("nothing"), row(2, "recovered", start=2, end=4)],
    "string lost": [first("part", fish_top=11_300), row(2, "string_lost", start=2, end=4)],
    "hole lost": [first("part"), row(3, "hole_lost", start=2, end=4)],
}
CONTRACTS = {
    "none": (),
    "called with run 1, and one held": (PIPE, HELD),
    "called now": (PIPE | {"call_out": 0, "minimum_days": 7},),
    "called with its run, late": (PIPE | {"call_out": 2, "delivery": 90},),
    "first use": ({**PIPE, "kinds": ["overshot"], "call_out": None, "minimum_days": 5},),
}


FEW = ["part by length", "out of order", "days of waiting", "hole lost"]
TOGETHER = [(name, terms) for name in LOGS for terms in ("none", "called with run 1, and one held")]
TOGETHER += [(name, terms) for name in FEW for terms in CONTRACTS if (name, terms) not in TOGETHER]


@pytest.mark.parametrize(("name", "terms"), TOGETHER)
def test_state_and_costs_are_those_of_the_reference(name: str, terms: str) -> None:
    contracts = [{k: v for k, v in each.items() if v is not None} for each in CONTRACTS[terms]]
    raw, rows = job(*contracts), LOGS[name]
    goal = run_log.state(raw, rows)
    level = begin(case_after(raw, rows))
    assert belief(level) == pytest.approx(goal.chances["workable"], rel=EXACT)
    if goal.ending is None:
        assert float(level.top[0, 0, 0]) == pytest.approx(goal.fish_top, rel=EXACT)
        assert bool(level.damaged.all()) is goal.damaged
    costs = run_log.expected_costs_from_now(raw, rows)
    assert costs_after(raw, rows) == pytest.approx(costs, rel=EXACT)


@pytest.mark.parametrize("name", ["nothing", "part measured", "out of order"])
def test_the_answer_goes_on_from_the_log(name: str) -> None:
    raw, rows = job(PIPE, HELD), LOGS[name]
    found = answer(raw, rows, n=64)
    costs = run_log.expected_costs_from_now(raw, rows)
    for limit, cost in zip(found.by_runs, costs, strict=True):
        slack = ERRORS * limit.standard_error + EXACT * cost
        assert limit.expected_cost == pytest.approx(cost, abs=slack)
    odds = run_log.next_odds(raw, rows)
    assert odds is not None
    assert found.ahead[0].odds == pytest.approx(odds["recovered"], rel=EXACT)
    left = rentals.left_to_make(endings.plain(raw), run_log.state(raw, rows))
    assert [each.run + 1 for each in found.ahead] == left
    assert found.ahead[0].workable == pytest.approx(run_log.belief_path(raw, rows)[-1], rel=EXACT)
    # the rule by state over what is left, which the full enumeration of the histories gives
    rule = run_log.best_rule_from_now(raw, rows)
    best = run_log.expected_cost_from_now(raw, rows, limit_runs=found.best)
    assert best - found.rule.gain == pytest.approx(rule, rel=EXACT)
    # limits by days count from now, those of the reference from the decision
    for place in (1, 3, len(found.by_days) - 1):
        each = found.by_days[place]
        since = run_log.state(raw, rows).made[-1].end
        goal = run_log.expected_cost_from_now(raw, rows, limit_days=since + each.days)
        slack = ERRORS * each.standard_error + EXACT * goal
        assert each.expected_cost == pytest.approx(goal, abs=slack)


def test_before_and_after_the_last_row() -> None:
    raw, rows = job(PIPE, HELD), LOGS["three runs"]
    found = answer(raw, rows)
    assert found.before is not None
    assert found.after is not None
    for status, upto in ((found.before, rows[:-1]), (found.after, rows)):
        state = run_log.state(raw, upto)
        costs = run_log.expected_costs_from_now(raw, upto)
        assert status.runs_made == len(upto)
        assert status.workable == pytest.approx(state.chances["workable"], rel=EXACT)
        assert status.fish_top == pytest.approx(state.fish_top, rel=EXACT)
        assert status.top_damaged is state.damaged
        assert status.fallback == pytest.approx(costs[0], rel=EXACT)
        # sampled with few draws, where some of the outcomes go on
        assert status.expected_cost == pytest.approx(costs[status.best], rel=0.01)
        odds = run_log.next_odds(raw, upto)
        assert status.ahead is not None
        assert odds is not None
        assert status.ahead.odds == pytest.approx(odds["recovered"], rel=EXACT)


# ---- elapsed time -----------------------------------------------------------------------------

HALF = {"recovered": 0.5, "nothing": 0.5}


@pytest.mark.parametrize(
    ("decided", "start", "odds"),
    # independent: odds 1 : 1 halve each day from the decision to the start of run 2, one day
    # after the first row; without decided_at the clock begins with the first row
    [(True, 1.0, 1 / 5), (True, 2.0, 1 / 9), (False, 2.0, 1 / 3), (True, 0.0, 1 / 3)],
)
def test_odds_fall_with_the_time_since_the_decision(
    decided: bool, start: float, odds: float
) -> None:
    raw = lump_job({"nothing": 1.0}, HALF)
    raw["fishing"]["odds_ratio_per_day"] = 0.5
    if decided:
        raw["job"]["decided_at"] = DECIDED
    found = answer(raw, [row(1, "nothing", start=start, end=start + 1)])
    assert found.ahead[0].odds == pytest.approx(odds, rel=EXACT)


# ---- uncertain odds ---------------------------------------------------------------------------


def uncertain() -> Table:
    """Odds worth few runs, a chance worth few cases, and factors that all runs share."""
    raw = job()
    raw["common"] = {"hours": 6}
    raw["fishing"].update(
        workable={"mean": 0.6, "weight": 5},
        damaged_top_factor={"low": 0.0, "high": 1.0},
        odds_ratio_per_day={"low": 0.3, "high": 1.2},
    )
    raw["run"][1]["dresses_top"] = False
    for number, run in enumerate(raw["run"]):
        run["hours"] = 24 + 6 * number
        del run["trips"]
        for kind, odds in run["odds"].items():
            odds["weight"] = 6 if kind == "workable" else 12
    return raw


UNCERTAIN = {
    "one nothing": [row(1, "nothing", start=0.25, end=1.25)],
    "damaged": [
        row(1, "top_damaged", start=0.25, end=1.25),
        row(2, "nothing", start=1.25, end=2.5),
        row(3, "nothing", start=2.5, end=4),
    ],
    "a loss": [row(1, "nothing", start=0.25, end=1.25), row(2, "string_lost", start=3, end=4)],
}


@pytest.mark.parametrize("name", UNCERTAIN)
def test_belief_with_uncertain_odds_is_that_of_plays_that_came_out_so(name: str) -> None:
    raw, rows = uncertain(), UNCERTAIN[name]
    kept = run_log.play(raw, rows, n=200_000, rng=np.random.default_rng(3))
    level = begin(case_after(raw, rows, n=1024))
    by_scramble = level.weight.mean(axis=1).reshape(2, 16, -1).mean(axis=2)
    share = by_scramble[0] / by_scramble.sum(axis=0)
    error = float(np.hypot(kept.standard_error, share.std(ddof=1) / 4))
    assert abs(belief(level) - kept.workable) < ERRORS * error
    assert error < 0.02


def listed(raw: Table, rows: list[Table]) -> tuple[float, np.ndarray]:
    """Belief and costs from now where uncertain amounts are discrete: every case by its chance
    of the log, as Bayes' rule has it."""
    inputs = {".".join(path): each for path, each in endings.distributions(raw)}
    total, workable, costs = 0.0, 0.0, np.zeros(0)
    for picked in product(*(range(len(each["values"])) for each in inputs.values())):
        plain, chance = raw, 1.0
        for (path, each), which in zip(inputs.items(), picked, strict=True):
            plain = information.with_value(plain, path, each["values"][which])
            chance *= each["weights"][which] / sum(each["weights"])
        history = run_log.walk_log(endings.plain(plain), run_log.read(plain, rows))[-1]
        from_now = np.array(run_log.expected_costs_from_now(plain, rows))
        costs = chance * history.probability * from_now + (costs if costs.size else 0.0)
        total += chance * history.probability
        workable += chance * history.chances["workable"]
    return workable / total, costs / total


def test_costs_from_now_weigh_the_draws_by_what_happened() -> None:
    raw = job(PIPE)
    raw["fishing"].update(
        workable={"values": [0.3, 0.9], "weights": [1, 2]},
        damaged_top_factor={"values": [0.05, 0.95], "weights": [1, 1]},
        odds_ratio_per_day={"values": [0.5, 1.0], "weights": [3, 2]},
    )
    raw["rates"]["rig"] = {"values": [40_000, 70_000], "weights": [1, 1]}  # says nothing
    raw["run"][1]["dresses_top"] = False
    rows = [
        first("top_damaged"),
        row(2, "nothing", start=2.5, end=4.1),
        row(3, "nothing", start=4.1, end=6),
    ]
    workable, goal = listed(raw, rows)
    plain = copy.deepcopy(raw)
    plain["fishing"].update(workable=0.7, damaged_top_factor=0.5, odds_ratio_per_day=0.7)
    plain["rates"]["rig"] = 55_000
    # at the means of the amounts belief would be another, so it is the weights that are tested
    assert abs(run_log.belief_path(plain, rows)[-1] - workable) > 0.01
    made = scenario(raw, n=1024)
    cost = walked([Inputs(made, logged=happened(made, logged(raw, rows)))])[0].cost
    error = cost.std(axis=0, ddof=1) / 4
    assert (np.abs(cost.mean(axis=0) - goal) < ERRORS * error).all()
    assert (error < 3e-4 * goal).all()
    assert belief(begin(case_after(raw, rows, n=256))) == pytest.approx(workable, abs=1e-3)


def paths(raw: Table) -> Iterator[tuple[list[Table], np.ndarray]]:
    """Every path of the walk that goes on, as a log, with its weights by kind and draw."""
    inputs = Inputs(scenario(raw))
    case = inputs.case(inputs.first(4), 4 * inputs.sampler.scrambles)
    steps = list(walk(case, choose(case), histories=3**4))
    for step in steps[1:]:
        for place, history in enumerate(step.level.histories):
            rows = []
            for number, outcome in enumerate(history):
                at = steps[number].level.histories.index(history[:number])
                times = [
                    float(np.broadcast_to(steps[number + k].level.days, (1, 99, 1))[0, where, 0])
                    if steps[number + k].level.days.shape[1] == 1
                    else float(steps[number + k].level.days[0, where, 0])
                    for k, where in (
                        (0, at),
                        (1, steps[number + 1].level.histories.index(history[: number + 1])),
                    )
                ]
                rows.append(row(number + 1, outcome, start=times[0], end=times[1]))
            yield rows, step.level.weight[:, place]


def test_a_log_that_tells_of_a_path_gives_the_belief_of_the_path() -> None:
    raw = uncertain()
    raw["run"] = raw["run"][:3]
    count = 0
    for rows, weight in paths(raw):
        if not weight.any():
            continue
        level = begin(case_after(raw, rows, n=4))
        goal = weight / weight.sum(axis=0).mean()
        assert level.weight[:, 0] == pytest.approx(goal, rel=1e-8)  # draw by draw
        count += 1
    assert count == 3 + 9 + 27


# ---- the job is over --------------------------------------------------------------------------


def test_after_recovery_only_the_tail_is_left() -> None:
    raw = job(PIPE, HELD)
    found = answer(raw, LOGS["recovered"])
    # by hand: 34 h of the spread and half the fishing day, and 42,000. Of the minimum days of the
    # jars, at work for 3.25 days and standing by for 0.75, and of the wash pipe, at work for 2
    # days and standing by for 1.25, is left
    tail = 34 / 24 * (53_000 + 3_700) + 42_000
    jars = (6 - 1.5) * 900 - (3.25 * 900 + 0.75 * 300)
    pipe = 3 * 3_100 - (2 * 3_100 + 1.25 * 1_700)
    assert found.limit.expected_cost == pytest.approx(tail + jars + pipe, rel=EXACT)
    # independent
    goal = run_log.expected_costs_from_now(raw, LOGS["recovered"])[0]
    assert goal == pytest.approx(tail + jars + pipe, rel=EXACT)
    assert (found.best, found.fish, found.ahead, found.ended) == (0, False, (), "recovered")
    assert len(found.by_runs) == 1


def test_the_string_left_in_the_hole_may_be_measured() -> None:
    raw = job()
    rows = [first("part", fish_top=11_300), row(2, "string_lost", start=2, end=4, fish_top=10_000)]
    # independent: the same as a string 1,300 ft long over the fish at 11,300
    other = copy.deepcopy(raw)
    other["run"][1]["string_length"] = 1_300
    goal = run_log.expected_costs_from_now(other, LOGS["string lost"])
    assert costs_after(raw, rows) == pytest.approx(goal, rel=EXACT)
    assert goal[0] > run_log.expected_costs_from_now(raw, LOGS["string lost"])[0] + 1_000


@pytest.mark.parametrize("top", [11_000, 9_000, 5_000])
def test_the_cheapest_open_fallback_is_taken_from_a_measured_string(top: float) -> None:
    # independent: with the redrill so long, one fallback or the other of the reference
    raw = job()
    raw["run"][1]["string_length"] = 100
    raw["fallback"].append({"name": "respud", "kind": "respud", "hours": 500, "cost": 50_000})
    other = copy.deepcopy(raw)
    other["run"][1]["string_length"] = 11_180 - top
    rows = [row(2, "string_lost", start=2, end=4)]
    goal = run_log.expected_costs_from_now(other, rows)
    assert costs_after(raw, [rows[0] | {"fish_top": top}]) == pytest.approx(goal, rel=EXACT)


@pytest.mark.parametrize("name", ["string lost", "hole lost"])
def test_a_closed_fallback_is_not_taken_once_all_is_lost(name: str) -> None:
    raw = job()
    raw["fallback"][1].update(hours=1, cost=0)  # cheap, but shut
    goal = run_log.expected_costs_from_now(raw, LOGS[name])
    found = answer(raw, LOGS[name])
    assert found.limit.expected_cost == pytest.approx(goal[0], rel=EXACT)
    assert found.best == 0
    assert found.prices.fallback == pytest.approx(goal[0], rel=EXACT)


@pytest.mark.parametrize("name", ["string lost", "hole lost"])
def test_the_fallback_named_is_the_one_that_is_paid(name: str) -> None:
    raw = job()
    raw["fallback"][1].update(hours=1, cost=0)  # cheap, but shut
    found = answer(raw, LOGS[name])
    assert found.fallbacks.taken.name == "Open-hole sidetrack"
    assert found.fallbacks.taken.now == pytest.approx(found.limit.expected_cost, rel=EXACT)
    assert "Open-hole sidetrack: expected cost" in " ".join(text(found).split())


def test_no_fallback_is_needed_once_the_fish_is_out() -> None:
    found = answer(job(), LOGS["recovered"])
    assert found.stage_2.probability == 0
    assert "nan" not in text(found)


def test_a_rented_tool_lost_with_the_string_is_still_to_be_paid() -> None:
    # independent: the reference takes a bill as paid with its run; what is owed for tools left in
    # the hole is invoiced afterwards, as for the string, which the reference has still to come
    raw = job(PIPE | {"replacement": 88_000})
    rows = LOGS["string lost"]
    goal = [cost + 88_000 for cost in run_log.expected_costs_from_now(raw, rows)]
    assert costs_after(raw, rows) == pytest.approx(goal, rel=EXACT)


# ---- what binds -------------------------------------------------------------------------------


def test_runs_made_count_towards_the_least_number() -> None:
    raw = job() | {"limits": {"minimum_runs": 3}}
    raw["fishing"]["workable"] = 0.05  # so that every further run is dear
    for made in (0, 1, 2, 3):
        rows = [row(n, "nothing", start=2 * n, end=2 * n + 1) for n in range(1, made + 1)]
        job_now = scenario(raw)
        inputs = Inputs(job_now, logged=happened(job_now, logged(raw, rows)))
        found = quick(inputs, n=1, histories=3**4)
        assert found.verdict.best == 3 - made
        goal = run_log.expected_cost_from_now(raw, rows, limit_runs=0)  # the three of them
        assert found.cost[:, 3 - made] == pytest.approx(goal, rel=EXACT)
    rows = LOGS["damaged and dressed"]
    assert answer(raw, rows).best == 1


@pytest.mark.parametrize("outcome", ["recovered", "string_lost", "hole_lost"])
def test_a_job_that_is_over_asks_for_no_more_runs(outcome: str) -> None:
    raw = job() | {"limits": {"minimum_runs": 3}}
    (goal,) = run_log.expected_costs_from_now(raw, [first(outcome)])
    found = answer(raw, [first(outcome)])
    assert (found.best, found.cost_of_minimum) == (0, 0)
    assert found.limit.expected_cost == pytest.approx(goal, rel=EXACT)


def with_costs(rows: list[Table], *costs: float) -> list[Table]:
    return [each | {"cost": cost} for each, cost in zip(rows, costs, strict=True)]


def test_the_authority_left() -> None:
    raw = job() | {"limits": {"authority": 900_000}}
    rows = LOGS["damaged and dressed"]
    log = logged(raw, with_costs(rows, 76_000, 136_000.5))
    assert from_now(scenario(raw), log).limits.authority == 900_000 - 212_000.5
    assert from_now(scenario(raw), logged(raw, rows)).limits.authority == 900_000
    assert from_now(scenario(job()), log).limits.authority is None
    # nothing is left of it, and it suffices for nothing
    found = answer(raw, with_costs(rows, 800_000, 136_000.5))
    assert found.spent == 936_000.5
    assert found.authority.given == 0
    assert found.authority.suffices == 0


SPENT = {
    *("spent", "cost", "authority_left", "authority_overspent"),
    *("given", "suffices", "suffices_error", "stage_1_suffices", "short", "notes"),
}
AUTHORITY = {"authority", "above_authority", "fishing_above"}


def leaves(node: Any, path: tuple[str, ...] = ()) -> dict[tuple[str, ...], Any]:
    """Every value of a document by its path."""
    if isinstance(node, dict):
        return {k: v for key in node for k, v in leaves(node[key], (*path, key)).items()}
    if isinstance(node, list):
        return {k: v for i, x in enumerate(node) for k, v in leaves(x, (*path, str(i))).items()}
    return {path: node}


@pytest.mark.parametrize("limits", [{}, {"authority": 900_000, "risk_tolerance": 500_000}])
def test_money_spent_enters_no_comparison(limits: Table) -> None:
    raw, rows = job(PIPE, HELD) | {"limits": limits}, LOGS["damaged and dressed"]
    one, other = (shown(raw, with_costs(rows, *spent)) for spent in ((76_000, 136_000), (3, 9e9)))
    assert set(one) == set(other)
    moved = {path for path in one if one[path] != other[path]}
    in_log = {path for path in moved if path[0] == "log" and path[-1] in SPENT}
    told = ("authority", "risk", "tonight")
    authority = {path for path in moved if path[0] in told and path[-1] in SPENT | AUTHORITY}
    assert in_log
    assert moved == in_log | authority | {path for path in moved if path[0] == "notes"}
    assert bool(authority) is bool(limits)


# ---- corrections ------------------------------------------------------------------------------


def shown(raw: Table, rows: list[Table]) -> dict[tuple[str, ...], Any]:
    """Every number of the answer."""
    return leaves(tables.document(answer(raw, rows)))


def changed(one: dict[tuple[str, ...], Any], other: dict[tuple[str, ...], Any]) -> set[str]:
    """First keys of what differs."""
    paths = set(one) ^ set(other) | {p for p in set(one) & set(other) if one[p] != other[p]}
    return {path[0] for path in paths}


def test_a_corrected_row_changes_only_what_it_must() -> None:
    raw, rows = job(PIPE), LOGS["damaged and dressed"]
    before = shown(raw, rows)
    # a remark, the condition of the top, and the kind beside the number: only the log itself
    words = {"remark": "seen", "top_condition": "ragged", "kind": "overshot"}
    assert changed(before, shown(raw, [rows[0] | words, rows[1]])) == {"log"}
    # that the first run did nothing: belief, and all that rests on it
    nothing = [rows[0] | {"outcome": "nothing"}, rows[1]]
    assert {"by_runs", "belief", "log"} <= changed(before, shown(raw, nothing))
    goal = run_log.expected_costs_from_now(raw, nothing)
    assert costs_after(raw, nothing) == pytest.approx(goal, rel=EXACT)
    assert goal[1] != pytest.approx(run_log.expected_costs_from_now(raw, rows)[1], rel=1e-4)


# ---- at the command line ----------------------------------------------------------------------

HEADER = ",".join(COLUMNS)
TWO = f"""{HEADER}
1,overshot,2026-03-14T06:00,2026-03-15T10:30,nothing,,ragged,76000,slipped off
2,overshot,2026-03-15T10:30,2026-03-17T12:00,part,11259,clean,136000,stub came out
"""


def test_the_command_reads_a_log_and_leaves_the_files_alone(tmp_path: Path) -> None:
    file, log = tmp_path / "job.toml", tmp_path / "runs.csv"
    file.write_bytes(SCENARIO_A.read_bytes())
    log.write_text(TWO, encoding="utf-8")
    before = [(each.read_bytes(), each.stat().st_mtime_ns) for each in (file, log)]
    changes = ("--set", "draws.n=16", "--set", "limits.authority=900000")
    said = " ".join(ok("answer", "--full", file, "--log", log, *changes).split())
    document = json.loads(ok("answer", file, "--log", log, "--json", *changes))
    assert [(each.read_bytes(), each.stat().st_mtime_ns) for each in (file, log)] == before
    assert sorted(each.name for each in tmp_path.iterdir()) == ["job.toml", "runs.csv"]

    raw = read(SCENARIO_A)
    rows = list(csv.DictReader(io.StringIO(TWO)))
    costs = run_log.expected_costs_from_now(raw, rows)
    limits = document["by_runs"]
    assert [each["expected_cost"] for each in limits] == pytest.approx(costs, rel=0.01)
    assert limits[0]["expected_cost"] == pytest.approx(costs[0], rel=EXACT)
    history = run_log.belief_path(raw, rows)
    assert document["belief"][0]["workable"] == pytest.approx(history[2], rel=EXACT)
    assert document["log"]["before"]["workable"] == pytest.approx(history[1], rel=EXACT)
    assert document["log"]["after"]["fish_top"] == 11_259
    assert document["log"]["spent"] == 212_000
    assert document["log"]["authority_left"] == 900_000 - 212_000
    # 28.5 h and 49.5 h of runs, one after the other
    assert document["log"]["hours_since_first_run"] == 78
    for words in (
        "slipped off",
        "Costs from 2026-03-17 12:00 on",
        f"{history[1]:.2f} -> {history[2]:.2f}",
        "11,180 -> 11,259 ft",
        "Authority left: 688 thousand USD",
    ):
        assert words in said, words


D = DEMO_A.with_name("d_rented_tools.toml")
STRING_LOST = """run,start,end,outcome,cost
1,2026-05-21T18:00,2026-05-22T20:30,nothing,4000000
2,2026-05-22T20:30,2026-05-24T04:00,string_lost,372000
"""


def test_tools_in_a_lost_string_are_not_sent_back(tmp_path: Path) -> None:
    # run 2 takes jar and overshot set, not the wash pipe; string value as in the lost-in-hole bill
    log = tmp_path / "runs.csv"
    log.write_text(STRING_LOST, encoding="utf-8")
    document = json.loads(ok("answer", D, "--log", log, "--json", "--set", "draws.n=16"))
    assert [each["lost"] for each in document["rentals"]] == [True, True, False]
    said = " ".join(ok("answer", "--full", D, "--log", log, "--set", "draws.n=16").split())
    assert said.count("lost with the string; its replacement is in the fallback") == 2
    assert "release it" not in said
    # nothing is left to learn about a fish that nobody fishes for
    assert document["information"] is None
    assert "WORTH OF KNOWING" not in said


def test_the_driver_of_the_belief_is_the_belief_of_now() -> None:
    # by hand: a run costs 24,000, the fallback 100 h x 1,000 + 50,000 + 40,000 of pieces. The
    # last run and then a stop costs 24,000 + (1 - p) 190,000, so it pays from p = 24/190 on, and
    # with p = 0.6 b + 0.05 (1 - b) from the belief b = (24/190 - 0.05)/0.55 on. After one run with
    # nothing b = 0.5 x 0.4/(0.5 x 0.4 + 0.5 x 0.95).
    odds = {
        "workable": {"recovered": 0.6, "nothing": 0.4},
        "stubborn": {"recovered": 0.05, "nothing": 0.95},
    }
    raw = lump_job(odds, odds)
    raw["fishing"]["workable"] = 0.5
    made = scenario(raw)
    found = sensitivity(made, parse_log(table([row(1, "nothing", start=0, end=1)]), made))
    driver = found.input("workable")
    assert driver.now == pytest.approx(0.4 / 1.35, rel=EXACT)
    flip = next(each for each in found.break_evens if each.input == "workable")
    assert flip.at == pytest.approx((24 / 190 - 0.05) / 0.55, rel=1e-6)
    assert (flip.below, flip.above) == ("stop", "fish")


def test_a_log_that_is_sure_of_the_kind_leaves_no_belief_to_turn() -> None:
    odds = {"workable": {"part": 0.5, "nothing": 0.5}, "stubborn": {"nothing": 1.0}}
    raw = lump_job(odds, odds, part_length=50)
    raw["fishing"]["workable"] = 0.5
    made = scenario(raw)
    before = sensitivity(made)
    after = sensitivity(made, parse_log(table([row(1, "part", start=0, end=1)]), made))
    assert [any(each.name == "workable" for each in found.inputs) for found in (before, after)] == [
        True,
        False,
    ]


def test_an_overspent_authority_is_said(tmp_path: Path) -> None:
    log = tmp_path / "runs.csv"
    log.write_text("\n".join(STRING_LOST.splitlines()[:2]) + "\n", encoding="utf-8")
    changes = ("--set", "draws.n=16", "--set", "limits.authority=3900000")
    document = json.loads(ok("answer", D, "--log", log, "--json", *changes))
    assert document["log"]["authority_left"] == 0
    assert document["log"]["authority_overspent"] == 4_000_000 - 3_900_000
    said = " ".join(ok("answer", "--full", D, "--log", log, *changes).split())
    assert "Authority left: none; overspent by 100 thousand USD" in said


@pytest.mark.parametrize(
    ("old", "new", "row_number", "words"),
    [
        ("2,overshot", "7,overshot", 3, "one of the 5 runs"),
        ("2026-03-17T12:00", "2026-03-14T12:00", 3, "at or after"),
        ("nothing,,", "recovered,,", 3, "a run after recovered in row 2"),
        ("nothing,,", "lost,,", 2, "outcome"),
    ],
)
def test_a_bad_log_is_told_with_its_row(
    tmp_path: Path, old: str, new: str, row_number: int, words: str
) -> None:
    assert old in TWO
    log = tmp_path / "runs.csv"
    log.write_text(TWO.replace(old, new, 1), encoding="utf-8")
    said = refused("answer", SCENARIO_A, "--log", log)
    assert f"runs.csv row {row_number}" in said
    assert words in said
    assert "nothing was computed" in said


def test_a_log_that_is_not_there(tmp_path: Path) -> None:
    assert command("answer", SCENARIO_A, "--log", tmp_path / "none.csv").exit_code == 2


@pytest.mark.parametrize(
    ("outcome", "words"),
    [
        ("recovered", "THE FISH IS OUT"),
        ("string_lost", "FISHING IS OVER: the fishing string is lost"),
        ("hole_lost", "FISHING IS OVER: the hole is lost"),
    ],
)
def test_a_log_that_ended_the_job(tmp_path: Path, outcome: str, words: str) -> None:
    log = tmp_path / "runs.csv"
    log.write_text(TWO.replace("part,11259", f"{outcome},"), encoding="utf-8")
    said = " ".join(ok("answer", "--full", SCENARIO_A, "--log", log, "--set", "draws.n=16").split())
    rows = list(csv.DictReader(io.StringIO(log.read_text(encoding="utf-8"))))
    (cost,) = run_log.expected_costs_from_now(read(SCENARIO_A), rows)
    assert words in said
    assert f"cost {cost / 1_000:,.0f} thousand USD" in said.replace("costs", "cost")
    assert "NEXT RUN" not in said
    assert "RULE BY STATE" not in said


def test_the_latest_hour() -> None:
    # independent: runs of 24 h at even falling odds; of the reference the best are two more, and
    # the third would begin 48 h after the end of the row, 09:00 on 16 March
    tables_of_odds = [{"recovered": p, "nothing": 1 - p} for p in (0.3, 0.5, 0.4, 0.05, 0.02)]
    raw = lump_job(*tables_of_odds)
    raw["job"]["decided_at"] = DECIDED
    rows = [row(1, "nothing", start=0, end=1.125)]
    costs = run_log.expected_costs_from_now(raw, rows)
    assert int(np.argmin(costs)) == 2
    found = answer(raw, rows)
    assert found.best == 2
    assert found.now == DECIDED + timedelta(days=1.125)
    assert tables.latest_start(found) == datetime(2026, 3, 17, 9)
    assert "Latest hour to start a run: 2026-03-17 09:00." in text(found)


# ---- metres -----------------------------------------------------------------------------------


def test_a_metric_job_and_log_agree() -> None:
    raw = job(PIPE, HELD)
    other = metric(raw) | {"units": "metric"}
    other["well"]["hole_diameter"] = 8.5 * 25.4
    for name in ("part measured", "out of order", "string lost"):
        rows = LOGS[name]
        assert costs_after(other, metric(rows)) == pytest.approx(costs_after(raw, rows), rel=EXACT)
    found = answer(other, metric(LOGS["part measured"]))
    assert found.after is not None
    assert found.after.fish_top == pytest.approx(11_333.5, rel=EXACT)  # in ft
    in_metres = tables.document(found)["log"]["after"]["fish_top"]
    assert in_metres == pytest.approx(11_333.5 * FOOT, rel=EXACT)


def test_what_cannot_have_happened_is_refused() -> None:
    raw = lump_job({"recovered": 0.4, "nothing": 0.6}, HALF)
    with pytest.raises(ScenarioError, match="cannot happen"):
        answer(raw, [row(1, "top_damaged", start=0, end=1)])
    # and the engine by itself, given a log that was not read against the scenario
    made = LoggedRun(2, 0, DECIDED, DECIDED, "nothing")
    with pytest.raises(ScenarioError, match="none of the draws"):
        econ.answer(scenario(raw), (replace(made, outcome="top_damaged"),))


def test_a_log_that_none_of_the_draws_can_have_given(tmp_path: Path) -> None:
    # only a workable fish can part, and one in a thousand is: possible, but in none of the draws
    kinds = "workable = { part = 1.0 }, stubborn = { nothing = 1.0 }"
    file, log = tmp_path / "job.toml", tmp_path / "runs.csv"
    words = [
        *("schema = 1", 'units = "field"', 'currency = "USD"', "[job]", 'well = "invented"'),
        *("[well]", "depth = 9000", "hole_diameter = 8.5", "shoe_depth = 3000"),
        *("[rates]", "rig = 20000", "[fish]", "top = 8400", "bottom = 9000"),
        *("[fishing]", "workable = { values = [0.0, 1.0], weights = [999, 1] }"),
        *("[[run]]", 'name = "one"', "hours = 24", "part_length = 5", f"odds = {{ {kinds} }}"),
        *("[[fallback]]", 'name = "leave"', "hours = 9", "[draws]", "n = 16"),
    ]
    file.write_text("\n".join(words), encoding="utf-8")
    log.write_text(
        "run,start,end,outcome\n1,2026-03-14T06:00,2026-03-15T06:00,part\n", encoding="utf-8"
    )
    found = command("answer", file, "--log", log)
    if found.exception is not None and not isinstance(found.exception, SystemExit):
        raise found.exception


# ---- readings -----------------------------------------------------------------------------------

LOOK: Table = {"name": "caliper", "reliability": 0.8, "reliability_stubborn": 0.7, "hours": 6}


def with_reading() -> Table:
    return read(SCENARIO_A) | {"reading": [LOOK], "limits": {"minimum_runs": 2}}


@pytest.mark.parametrize(
    ("outcome", "belief_now"),
    # Bayes by hand, 0.7 workable: 0.7 x 0.8/(0.7 x 0.8 + 0.3 x 0.3), 0.7 x 0.2/(0.14 + 0.3 x 0.7)
    [("reads_workable", 0.56 / 0.65), ("reads_stubborn", 0.14 / 0.35)],
)
def test_a_reading_in_the_log_moves_the_belief_alone(outcome: str, belief_now: float) -> None:
    raw = with_reading()
    rows = [{**row(1, outcome, start=0.0, end=0.25), "run": "caliper"}]
    found = answer(raw, rows, n=64)
    assert found.ahead[0].workable == pytest.approx(belief_now, rel=EXACT)
    # the same job, begun with that belief; a reading is no run of the least number
    as_if = copy.deepcopy(raw)
    as_if["fishing"]["workable"] = belief_now
    same = answer(as_if, [], n=64)
    assert [limit.expected_cost for limit in found.by_runs] == pytest.approx(
        [limit.expected_cost for limit in same.by_runs], rel=1e-6
    )
    assert found.before is not None
    assert found.before.best == answer(raw, [], n=64).best >= 2
    assert "the reading caliper: reads" in " ".join(text(found).split())
    assert "SO FAR: 0 runs" in text(found)
    # taken once: the plan does not take it again
    plan = econ.plan(found.scenario, found.log)
    assert all(node.do != "caliper" for node in plan.nodes)


def test_a_reading_that_pays_is_where_the_plan_begins() -> None:
    raw = with_reading() | {"limits": {}}
    raw["reading"] = [LOOK | {"reliability": 1.0, "reliability_stubborn": 1.0, "hours": 1}]
    plan = econ.plan(scenario(raw, n=64))
    assert plan.nodes[0].do == "caliper"
    assert plan.nodes[0].odds is None
    after = {node.after: node for node in plan.nodes if node.parent == 0}
    assert after["reads_stubborn"].belief[0].chance.value == pytest.approx(0.0, abs=EXACT)
    assert after["reads_workable"].belief[0].chance.value == pytest.approx(1.0)
    # check value: knowing the kind is worth 66,269 of 499,510 on the list; on runs in any order
    # it is no more than what the plan costs less
    assert plan.expected_cost.value < 484_760


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"run": "caliper", "outcome": "nothing"}, "reads_workable or reads_stubborn"),
        ({"run": "1", "outcome": "reads_workable"}, "run 1 reads nothing"),
        ({"run": "block", "outcome": "nothing"}, "or a reading: caliper"),
    ],
)
def test_a_reading_that_cannot_be_is_refused(given: Table, words: str) -> None:
    rows = [{**row(1, "nothing", start=0.0, end=0.25), **given}]
    with pytest.raises(ScenarioError) as raised:
        parse_log(table(rows), scenario(with_reading()))
    assert words in str(raised.value)


def test_a_reading_is_taken_once_and_may_not_contradict_itself() -> None:
    sure = with_reading()
    sure["reading"] = [
        LOOK | {"name": name, "reliability": 1.0, "reliability_stubborn": 1.0} for name in "xy"
    ]
    rows = [
        {**row(1, "reads_workable", start=0.0, end=0.1), "run": "x"},
        {**row(1, "reads_stubborn", start=0.2, end=0.3), "run": "y"},
    ]
    for second, words in (
        (rows[1], "cannot give"),
        (rows[0] | {"start": rows[1]["start"], "end": rows[1]["end"]}, "not logged yet"),
    ):
        with pytest.raises(ScenarioError) as raised:
            parse_log(table([rows[0], second]), scenario(sure))
        assert words in str(raised.value)


def test_after_a_log_each_doubt_is_said() -> None:
    # Bayes by hand on the steps of the file: 0.82 x 0.461/(0.82 x 0.461 + 0.18 x 0.988) = 0.680,
    # and then, the odds 0.685/0.315 of the second step times 0.8 ** 0.1 a tenth of a day later,
    # 0.680 x 0.316/(0.680 x 0.316 + 0.320 x 0.986) = 0.405; no catch was tried
    job = econ.load(DEMO_A.parent / "point" / "e_stuck_attached.toml", ["draws.n=64"])
    rows = [row(1, "nothing", start=0.0, end=0.1), row(2, "nothing", start=0.1, end=0.25)]
    for each in rows:
        for key in ("start", "end"):
            moved = datetime.fromisoformat(each[key]) - DECIDED
            each[key] = (job.job.decided_at + moved).isoformat()  # type: ignore[operator]
    found = econ.answer(job, parse_log(table(rows), job))
    assert found.after is not None
    assert found.after.doubts == pytest.approx((0.405, 0.85), abs=6e-4)
    assert "jars_free 0.68 -> 0.41, top_good 0.85 -> 0.85" in " ".join(text(found).split())
