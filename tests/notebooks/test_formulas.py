"""The page of formulas: every worked line comes to what it says, and the ends are the program's.

Origin of expected numbers: independent (the sums of the page, worked here by Python, and the
program on the same file).
"""

from __future__ import annotations

import ast
import math
import operator
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import econ
from econ.decision.rules_of_thumb import time_limit_days
from econ.decision.run_log import inputs_after
from econ.job import with_damaged_top, with_recovery_ratio
from econ.job.deadline import Deadline
from econ.job.fallback import SidetrackPlan
from econ.job.fish import piece_value
from econ.job.planning import buoyancy_factor, section_hours, staged_rate
from econ.records import wilson_interval

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "notebooks" / "guide" / "formulas.md").read_text(encoding="utf-8")
POINT = ROOT / "scenarios" / "point" / "a_land_twist_off.toml"
LINE = re.compile(r"^\| `(\w+)` \| `([^`]+)` \| ([\d.,]+) \| ([^|]+) \|$", re.M)
MARKS: dict[type, Callable[..., float]] = {
    ast.Add: operator.add,
    ast.Sub: operator.sub,
    ast.Mult: operator.mul,
    ast.Div: operator.truediv,
    ast.Pow: operator.pow,
}
CALLS: dict[str, Callable[..., float]] = {"min": min, "max": max, "floor": math.floor}


def worked(text: str, known: dict[str, float]) -> float:
    """What a sum comes to: numbers, symbols made before, + - * / **, min, max and floor."""

    def value(node: ast.expr) -> float:
        match node:
            case ast.Constant(value=int() | float() as number):
                return float(number)
            case ast.Name(id=name):
                return known[name]
            case ast.BinOp(left=left, op=op, right=right):
                return MARKS[type(op)](value(left), value(right))
            case ast.Call(func=ast.Name(id=name), args=args):
                return CALLS[name](*map(value, args))
        raise AssertionError(ast.unparse(node))

    return value(ast.parse(text, mode="eval").body)


@pytest.fixture(scope="module")
def page() -> dict[str, float]:
    """Every symbol of the page, worked."""
    known: dict[str, float] = {}
    for name, text, _, _ in LINE.findall(PAGE):
        assert name not in known, name
        known[name] = worked(text, known)
    return known


@pytest.fixture(scope="module")
def answer() -> econ.Answer:
    return econ.answer(econ.load(POINT, ["draws.n=64"]))


def test_every_worked_line_comes_to_what_it_says(page: dict[str, float]) -> None:
    lines = LINE.findall(PAGE)
    assert len(lines) == len(re.findall(r"^\| `\w+` \| `", PAGE, re.M)) > 35
    for name, _, shown, _ in lines:
        digits = len(shown.partition(".")[2])
        assert f"{page[name]:,.{digits}f}" == shown, name


def test_the_costs_are_those_of_the_answer(page: dict[str, float], answer: econ.Answer) -> None:
    run = answer.ahead[0]
    assert page["h1"] == pytest.approx(24 * run.days, abs=1e-6)
    assert page["C1"] == pytest.approx(run.cost, abs=0.01)
    assert page["F"] == pytest.approx(answer.by_runs[0].expected_cost, abs=0.01)
    assert page["p1"] == pytest.approx(run.odds, abs=1e-9)
    assert page["b1"] == pytest.approx(answer.ahead[1].workable, abs=1e-9)
    assert page["hour"] == pytest.approx(answer.prices.hour_of_waiting)
    asked = answer.authority
    assert page["asked"] == pytest.approx(48 / 24 * answer.prices.spread_day)
    assert asked.waiting_cost == pytest.approx(asked.waiting_hours / 48 * page["asked"])
    # the break-even odds with all their terms are near the first guess of the page
    assert run.break_even_odds == pytest.approx(page["guess"], abs=0.02)


def test_the_sidetrack_is_that_of_the_program(page: dict[str, float]) -> None:
    inputs = inputs_after(econ.load(POINT), ())
    case = inputs.case(inputs.first(1), inputs.sampler.scrambles)
    (plan,) = case.fallbacks
    assert isinstance(plan, SidetrackPlan)

    def depth(top: float) -> float:
        return float(plan.kickoff_depth(np.asarray(top)))

    assert page["K"] == depth(11180)
    assert page["K_left"] == depth(11180 - 350)
    part = case.fish.top_after_part(np.asarray(11180.0), part_length=np.asarray(60.0))
    assert page["K_part"] == depth(float(part))
    assert page["below"] == pytest.approx(float(case.fish.value_below(part)))
    assert page["lost"] == pytest.approx(float(case.fish.value_below(np.asarray(11180.0))))
    assert page["K_hole"] == plan.kickoff_after_hole_lost
    hours = plan.hours(np.asarray(page["K"]))
    assert page["base"] == pytest.approx(float(hours.base()))
    assert page["retry"] == pytest.approx(float(hours.retry))
    assert page["hidden"] == pytest.approx(float(hours.woc_beyond_trips))
    bill = plan.bill_above(np.asarray(11180.0))
    assert page["R1"] == pytest.approx(float(bill.per_retry))
    assert page["often"] == pytest.approx(float(bill.retries()))
    assert page["S"] == pytest.approx(float(case.recovery_cost))


def test_what_moves_odds_is_what_the_program_does(page: dict[str, float]) -> None:
    inputs = inputs_after(econ.load(POINT), ())
    odds = inputs.case(inputs.first(1), inputs.sampler.scrambles).runs[0].odds
    aged = with_recovery_ratio(odds, log_ratio=np.log(np.asarray(page["ratio"])))
    assert page["aged"] == pytest.approx(float(aged.recovered[0].ravel()[0]))
    cut = with_damaged_top(odds, factor=np.asarray(0.6), damaged=np.asarray(True))
    assert page["cut"] == pytest.approx(float(cut.recovered[0].ravel()[0]))


def test_the_small_sums_are_those_of_the_program(page: dict[str, float]) -> None:
    due = Deadline(*(np.asarray(x) for x in (10.0, 500.0, 20.0)))
    assert page["late"] == float(due.cost(np.asarray(12.5)))
    owed = piece_value(
        replacement=np.asarray(1e5), depreciation=np.asarray(0.7), floor=np.asarray(0.5)
    )
    assert page["owed"] == float(owed)
    assert page["limit"] == time_limit_days(fish_and_sidetrack=90_000, daily_cost=6_000)
    assert page["float13"] == pytest.approx(buoyancy_factor(13.0))
    assert page["staged"] == pytest.approx(staged_rate([0.1, 0.3, 0.6]))
    section: dict[str, Any] = {"connections": 32, "connection_minutes": 4, "surveys": 33}
    hours = section_hours(footage=3000, rate=65, survey_minutes=8, lost_share=0.08, **section)
    assert page["section"] == pytest.approx(hours)


def test_two_of_eight_plugs_say_what_the_page_says() -> None:
    low, high = wilson_interval(successes=2, cases=8)
    assert f"{low:.2f} to {high:.2f}" in PAGE
    assert low < 0.25 < high


def test_every_part_names_its_source() -> None:
    parts = re.split(r"^## ", PAGE, flags=re.M)[1:]
    for part in parts:
        assert "*Source*" in part or "| source |" in part, part.splitlines()[0]


@pytest.mark.parametrize(
    ("text", "value"), [("2**3 - 1", 7.0), ("floor(7/2) + min(1, x)", 3.5), ("max(1, 2)*3", 6.0)]
)
def test_the_reader_of_sums_works(text: str, value: float) -> None:
    assert worked(text, {"x": 0.5}) == value


def test_the_reader_of_sums_refuses_what_is_no_sum() -> None:
    for text in ("__import__('os')", "x.y", "[1][0]"):
        with pytest.raises((AssertionError, KeyError)):
            worked(text, {"x": 1.0})
