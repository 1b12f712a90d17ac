"""Least sizes of what is divided by, greatest sizes, and the longest lists.

Origins: the sizes are those of the format, *judgement, no source*; the line numbers of a fault are
tested with the broken files.
"""

from __future__ import annotations

import copy
import re
import tomllib
from pathlib import Path
from typing import Any, get_args

import pytest

import econ
from econ.scenario import Scenario, ScenarioError, load, parse
from econ.scenario.program import RunKind
from econ.scenario.scenario import dotted

ROOT = Path(__file__).parents[2]
TEXT = (ROOT / "tests" / "data" / "scenario_a_check.toml").read_text(encoding="utf-8")
POINT = ROOT / "scenarios" / "point" / "a_land_twist_off.toml"

DIVISORS = [
    *(f"trip_speed.{way}.{part}" for way in ("in", "out") for part in ("cased", "open")),
    *("fallback.1.kickoff_rate", "fallback.1.gross_rop", "fallback.1.bit_life"),
    *("limits.risk_tolerance", "fishing.odds_ratio_per_day", "fishing.loss_odds_ratio_per_day"),
    *("well.hole_diameter", "well.mud_weight", "fish.outside_diameter"),
    *("run.1.odds.workable.weight", "run.1.tool_outside"),
]
RANGES = [  # of a divisor: each reaches below the least size, or its tail does
    "{ low = 0, high = 5 }",
    "{ low = 1e-12, likely = 1, high = 5 }",
    "{ mean = 3, sd = 1 }",
    "{ mean = 1e-12, sd = 0 }",
    "{ p10 = 1, p50 = 2, p90 = 3 }",
    "{ median = 1e-9, factor = 1e3 }",
    "{ values = [0, 4], weights = [1, 1] }",
]


def faults(*overrides: str) -> list[econ.scenario.Fault]:
    with pytest.raises(ScenarioError) as caught:
        load(POINT, overrides)
    return caught.value.faults


@pytest.mark.parametrize("size", ["0", "1e-300", "1e-12", "9.9e-10"])
@pytest.mark.parametrize("key", DIVISORS)
def test_a_divisor_has_a_least_size(key: str, size: str) -> None:
    (fault,) = [fault for fault in faults(f"{key}={size}") if dotted(fault.path) == key]
    assert fault.given == f"{float(size):.10g}"
    assert fault.allowed == "1e-09 or more"


@pytest.mark.parametrize("key", ["fallback.1.kickoff_failure", "fallback.1.whipstock.failure"])
@pytest.mark.parametrize("chance", ["1", "0.9999999999", "1.5"])
def test_a_failure_that_is_next_to_certain_is_refused(key: str, chance: str) -> None:
    (fault,) = [fault for fault in faults(f"{key}={chance}") if dotted(fault.path) == key]
    assert fault.allowed == "from 0 to 0.999999999"


def test_an_attempt_that_may_be_certain_to_fail_has_no_mean_number_of_retries() -> None:
    (fault,) = faults("fallback.1.whipstock.failure={ mean = 0.9, weight = 10 }")
    assert dotted(fault.path) == "fallback.1.whipstock.failure"
    assert "(1 - mean) x weight above 2" in fault.allowed
    assert fault.suggestion.startswith("weight = 30")


@pytest.mark.parametrize("table", RANGES)
@pytest.mark.parametrize("key", ["fallback.1.gross_rop", "trip_speed.in.open"])
def test_a_range_of_a_divisor_stays_off_zero(key: str, table: str) -> None:
    (fault,) = [fault for fault in faults(f"{key}={table}") if dotted(fault.path) == key]
    assert fault.allowed.startswith("1e-09 or more")


@pytest.mark.parametrize("table", ["{ median = 30, factor = 2 }", "{ mean = 30, sd = 3 }"])
def test_a_range_with_a_thin_tail_toward_zero_is_allowed(table: str) -> None:
    job = load(POINT, [f"fallback.1.gross_rop={table}", "draws.n=16"])
    assert econ.answer(job).by_runs[0].expected_cost > 0


@pytest.mark.parametrize(
    "change",
    [
        *(f"{key}=1e-9" for key in DIVISORS[:8]),
        *("fallback.1.kickoff_failure=0.999999999", "fallback.1.stinger=1e15"),
        *("rates.rig=1e15", "fallback.1.gross_rop=1e15", "fishing.odds_ratio_per_day=1e15"),
    ],
)
@pytest.mark.filterwarnings("error")
def test_the_least_and_the_greatest_sizes_are_answered(change: str) -> None:
    found = econ.answer(load(POINT, [change, "draws.n=16"]))
    assert all(row.expected_cost == row.expected_cost < 1e60 for row in found.by_runs)


LISTS = {  # key: longest, as the tables of the format say
    "fallback": 12,
    "rental": 40,
    "reading": 20,
    "partner": 40,
    "correlation": 40,
    "run": 60,
    "rates": 40,
    "fishing.day_rates": 40,
    "fish.piece": 100,
    "afe.line": 200,
    "run.1.trips": 20,
    "run.1.after": 60,
    "run.1.options": 4,
    "rental.1.kinds": len(get_args(RunKind)),
    "rental.1.options": 4,
    "fallback.1.competent": 40,
    "correlation.1.of": 40,
    "rates.rig.values": 100,
    "rates.rig.weights": 100,
}
ITEMS: dict[str, Any] = {
    "rental": {"tool": "jars"},
    "reading": {"name": "caliper", "reliability": 0.9},
    "partner": {"name": "one", "interest": 0.01},
    "correlation": {"of": ["rates.rig", "rates.fuel"], "rho": 0.1},
    "afe.line": {"code": "1", "name": "rig"},
    "run.1.after": 1,
    "run.1.options": "jars",
    "rental.1.kinds": "overshot",
    "rental.1.options": "jars",
    "fallback.1.competent": [1.0, 2.0],
    "correlation.1.of": "rates.rig",
    "rates.rig.values": 1.0,
    "rates.rig.weights": 1.0,
}


def with_items(key: str, count: int) -> dict[str, Any]:
    """The raw check scenario with so many items at a key."""
    raw = copy.deepcopy(tomllib.loads(TEXT))
    raw["rental"] = [{"tool": "jars"}]
    raw["correlation"] = [{"of": ["rates.rig", "rates.fuel"], "rho": 0.1}]
    if key.startswith("rates.rig"):
        raw["rates"]["rig"] = {"values": [1.0], "weights": [1.0]}
    place: Any = raw
    *steps, last = key.split(".")
    for step in steps:
        place = place[int(step) - 1] if step.isdigit() else place.setdefault(step, {})
    if key in ("rates", "fishing.day_rates"):
        place[last] = {f"name {number}": 1.0 for number in range(count)}
    else:
        item = ITEMS.get(key) or place[last][0]
        place[last] = [copy.deepcopy(item) for _ in range(count)]
    return raw


@pytest.mark.parametrize("key", LISTS)
def test_a_list_has_a_longest_length(key: str) -> None:
    most = LISTS[key]
    path = tuple(int(step) - 1 if step.isdigit() else step for step in key.split("."))
    tagged = [step for step in path if not isinstance(step, int)]
    for count, refused in ((most, False), (most + 1, True)):
        try:
            Scenario.model_validate(with_items(key, count), by_alias=True, by_name=False)
            kinds = []
        except ValueError as error:
            kinds = [
                each["type"]
                for each in error.errors()  # type: ignore[attr-defined]
                if [step for step in each["loc"] if step in tagged] == tagged
            ]
        assert ("too_long" in kinds) == refused


def test_a_list_that_is_too_long_is_told_in_four_parts() -> None:
    text = TEXT + "".join(f"[[rental]]\ntool = 'tool {number}'\n" for number in range(41))
    with pytest.raises(ScenarioError) as caught:
        parse(text)
    (fault,) = caught.value.faults
    assert re.fullmatch(
        r"line \d+, rental: given 41 items; allowed: at most 40 items; "
        "join the smallest into one",
        str(fault),
    )


def test_the_schema_shows_every_longest_length() -> None:
    schema = Scenario.model_json_schema()

    def open_ended(name: str, part: Any) -> list[str]:
        if isinstance(part, list):
            return [place for inner in part for place in open_ended(name, inner)]
        if not isinstance(part, dict):
            return []
        here = [name] if part.get("type") == "array" and "maxItems" not in part else []
        free = isinstance(part.get("additionalProperties"), dict)
        here += [name] if free and "maxProperties" not in part else []
        return here + [
            place for key, inner in part.items() for place in open_ended(f"{name}.{key}", inner)
        ]

    assert open_ended("", schema) == []
