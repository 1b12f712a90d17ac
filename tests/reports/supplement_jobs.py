"""Jobs for the tests of the workbook, as raw tables. All are invented."""

from __future__ import annotations

import copy
import random
from datetime import datetime
from functools import cache
from typing import Any

from raw_jobs import DEMO_A, SCENARIO_A, read

from econ.decision import Answer, answer
from econ.scenario import Scenario
from econ.scenario.program import OUTCOMES
from econ.scenario.rules import broken

Table = dict[str, Any]
WITHOUT_MARKS = [name for name in OUTCOMES if name != "prepared"]  # which has to give a mark
FEW = {"n": 16, "seed": 7, "scrambles": 16}


def checked(raw: Table) -> Scenario:
    """The checked scenario of a raw table."""
    made = Scenario.model_validate(copy.deepcopy(raw), by_alias=True, by_name=False)
    assert not broken(made, frozenset(Scenario.model_fields))
    return made


def answered(raw: Table) -> Answer:
    """The answer to a raw table."""
    return answer(checked(raw))


def scenario_a() -> Table:
    """The check case of scenario A with the lines and partners that its notes print."""
    demo = read(DEMO_A.parent / "point" / DEMO_A.name)
    return {**read(SCENARIO_A), "afe": demo["afe"], "partner": demo["partner"], "draws": FEW}


@cache
def answer_a() -> Answer:
    """Its answer, made once; nothing may change it."""
    return answered(scenario_a())


def for_tree(raw: Table) -> Table:
    """The same job in the words that the reference tree knows."""
    table = copy.deepcopy(raw)
    for piece in table["fish"]["piece"]:
        if "replacement" in piece:
            share = max(1 - piece["depreciation"], piece["floor"])
            piece["value"] = piece["replacement"] * share
    for fallback in table["fallback"]:
        trouble = fallback.pop("trouble", {"chance": 0.0, "cost": 0.0})
        if "cost" in fallback:
            fallback["cost"] += trouble["chance"] * trouble["cost"]
    return table


def odds(dice: random.Random, *, plain: bool) -> Table:
    """Random odds of the six outcomes; plain: only `nothing` goes on."""
    weights = [dice.random() ** 2 for _ in WITHOUT_MARKS]
    if plain:
        weights[1] = weights[3] = 0.0
    if dice.random() < 0.2:
        weights[0] = 0.0
    total = sum(weights)
    return {name: weight / total for name, weight in zip(WITHOUT_MARKS, weights, strict=True)}


def random_job(seed: int, *, plain: bool = False, ranges: bool = False) -> Table:
    """A random job at single numbers, or with some ranges; plain: nothing is sampled."""
    dice = random.Random(seed)

    def amount(low: float, high: float) -> Any:
        value = dice.uniform(low, high)
        if ranges and dice.random() < 0.6:
            return {"low": 0.8 * value, "high": 1.3 * value}
        return value

    kinds = dice.random() < 0.7
    runs = []
    for number in range(dice.randrange(0 if seed % 5 == 0 else 1, 5)):
        run: Table = {"name": f"run {number + 1}", "charge": amount(0, 30_000)}
        run["odds"] = (
            {kind: odds(dice, plain=plain) for kind in ("workable", "stubborn")}
            if kinds
            else odds(dice, plain=plain)
        )
        if dice.random() < 0.5:
            run["hours"] = amount(5, 60)
        else:
            run["trips"] = [{"make_up": amount(1, 5), "work": amount(1, 12)}] * dice.randrange(1, 3)
        run["part_length"] = dice.choice([0, 40, 90, 250])
        run["string_length"] = dice.uniform(0, 600)
        run["string_value"] = amount(0, 200_000)
        run["dresses_top"] = dice.random() < 0.4
        runs.append(run)
    sidetrack = {
        "name": "Sidetrack",
        "kickoff_above_fish": dice.uniform(50, 400),
        "kickoff_floor": 4_060,
        "kickoff_below_shoe": 60,
        "stinger": 2,
        "condition": 3,
        "plug_hours": 3,
        "plugs": dice.choice([1, 2]),
        "woc": dice.choice([12, 24]),
        "make_up": 3.5,
        "dress": 4,
        "kickoff_length": 25,
        "logging_hours": dice.choice([0, 6]),
        "mobilization": amount(0, 30_000),
        "logging_cost": amount(0, 50_000),
        "other_cost": amount(0, 30_000),
        "kickoff_rate": amount(0.8, 3),
        "gross_rop": amount(15, 50),
        "directional_day": amount(0, 20_000),
        "plug_cost": amount(0, 60_000),
        "bit_cost": amount(0, 40_000),
        "bit_life": dice.choice([400.0, 1400.0]),
        "kickoff_failure": dice.uniform(0, 0.5),
        "stick_again": {"chance": dice.uniform(0, 0.2), "cost": amount(0, 400_000)},
        "lost_in_hole_share": dice.uniform(0, 1),
    }
    lump = {
        "name": "Complete above",
        "hours": amount(20, 200),
        "cost": amount(50_000, 600_000),
        "value_given_up": dice.choice([0, 250_000]),
        "trouble": {"chance": 0.1, "cost": 90_000},
    }
    fallbacks = dice.choice([[sidetrack], [lump], [sidetrack, lump]])
    interests = [dice.randrange(1, 60) for _ in range(dice.choice([0, 1, 2, 3, 8]))]
    return {
        "schema": 1,
        "units": "field",
        "currency": "USD",
        "job": {"well": f"Invented {seed}", "decided_at": datetime(2026, 3, 14, 6)},
        "well": {"depth": 10_400, "hole_diameter": 8.5, "shoe_depth": 4_000},
        "trip_speed": {"in": {"cased": 2000, "open": 1300}, "out": {"cased": 1800, "open": 1200}},
        "rates": {"rig": amount(15_000, 90_000), "fuel": amount(0, 9_000)},
        "fishing": {
            "day_rates": {"hands": amount(1_000, 9_000)},
            "mobilization": amount(0, 40_000),
            "workable": dice.uniform(0.1, 0.9),
            "damaged_top_factor": dice.uniform(0, 1),
        },
        "fish": {
            "top": 9_600,
            "bottom": 10_200,
            "piece": [
                {"name": "collars", "length": 400, "value": amount(0, 90_000)},
                {
                    "name": "tools",
                    "length": 200,
                    "replacement": 400_000,
                    "depreciation": 0.7,
                    "floor": 0.5,
                },
            ],
        },
        "run": runs,
        "recovery": {
            "hours": amount(0, 50),
            "charge": amount(0, 60_000),
            "fishing_share": dice.uniform(0, 1),
        },
        "common": {"hours": dice.choice([0, 12]), "cost": dice.choice([0, 7_000])},
        "fallback": fallbacks,
        "afe": {
            "number": "X-1",
            "line": [
                {"code": "RT10", "name": "Rig", "original": 1e6 * dice.random(), "spent": 3e5},
                {
                    "code": "TG10",
                    "name": "Casing",
                    "tangible": True,
                    "original": 2e5,
                    "to_come": 1e5 * dice.random(),
                },
            ][: dice.randrange(3)],
        },
        "partner": [
            {"name": f"Partner {n}", "interest": each / sum(interests), "operator": n == 1}
            for n, each in enumerate(interests)
        ],
        "draws": FEW,
    }


def everything(seed: int) -> Table:
    """A random job with ranges, rentals, deadline, approval, whipstock, depreciation as a range."""
    raw = random_job(seed, ranges=True)
    raw["fish"]["piece"][1]["length"] = 180
    raw["fish"]["piece"].append(
        {
            "name": "motor",
            "length": 20,
            "replacement": {"low": 80_000, "high": 150_000},
            "depreciation": {"low": 0.2, "high": 0.7},
            "floor": 0.5,
        }
    )
    raw["rental"] = [
        {
            "tool": "jars",
            "mobilization": {"low": 7_000, "high": 12_000},
            "minimum_days": 4,
            "day": {"low": 800, "high": 1_600},
            "redress": 800,
            "standby_day": 500,
            "replacement": 60_000,
            "delivery": 9,
        },
        {"tool": "pipe", "held_days": 2, "minimum_days": 9, "day": 700, "per_foot": 3.0},
    ]
    raw["deadline"] = {"in_days": 8, "cost_once": 40_000, "cost_per_day": {"low": 5e3, "high": 9e3}}
    raw["recovery"]["fishing_share"] = {"low": 0.2, "high": 0.9}
    for one in raw["fallback"]:
        one["lost_in_hole_share"] = {"low": 0.3, "high": 1.0}
        if "woc" in one:
            one["whipstock"] = {"after": 2, "hours": 30, "cost": 80_000, "failure": 0.2}
    return raw
