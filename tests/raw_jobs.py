"""Jobs as raw tables, read alike by the engine and by the slow references. All are invented."""

from __future__ import annotations

import copy
import tomllib
from pathlib import Path
from typing import Any

import numpy as np

from econ.decision.figures import walked as walked_draws
from econ.engine.curves import Curves
from econ.engine.inputs import Inputs
from econ.job.bill import Attempts, Bill
from econ.scenario import Scenario
from econ.scenario.rules import broken

Table = dict[str, Any]
FOLDER = Path(__file__).parent
SCENARIO_A = FOLDER / "data" / "scenario_a_check.toml"
DEMO_A = FOLDER.parent / "scenarios" / "a_land_twist_off.toml"
FOOT = 0.3048  # [m], by definition
LENGTHS = {  # keys of lengths and speeds
    *("depth", "shoe_depth", "cased", "open", "top", "bottom", "length", "part_length"),
    *("string_length", "wash_length", "kickoff_above_fish", "kickoff_below_shoe"),
    *("kickoff_length", "kickoff_rate", "kickoff_floor", "gross_rop", "bit_life", "fish_top"),
}
# No fixed limit of it pays, but the rule by state does: run 1 tells the kinds of fish apart.
RUN_BY_RUN = """
schema = 1
units = "field"
currency = "USD"
job.well = "Invented"
well = { depth = 10000, hole_diameter = 8.5, shoe_depth = 3000 }
rates.rig = 24000
fishing.workable = 0.3
fish = { top = 9000, bottom = 9900 }
[[fallback]]
name = "Lump"
hours = 0
cost = 100000
[[run]]
name = "Look"
hours = 2
odds.workable = { part = 1 }
odds.stubborn = { nothing = 1 }
[[run]]
name = "Catch"
hours = 30
odds.workable = { recovered = 0.9, nothing = 0.1 }
odds.stubborn = { nothing = 1 }
"""


def read(path: Path) -> Table:
    """The raw table of a scenario file."""
    with path.open("rb") as file:
        return tomllib.load(file)


def scenario(raw: Table, **draws: int) -> Scenario:
    """The checked scenario of a raw table, with other `draws` where they are given."""
    table = copy.deepcopy(raw)
    table["draws"] = {**table.get("draws", {}), **draws}
    made = Scenario.model_validate(table, by_alias=True, by_name=False)
    assert not broken(made, frozenset(Scenario.model_fields))
    return made


def walked(raw: Table, *, distributions: bool = True, **draws: int) -> Curves:
    """The curves of a raw table; distributions: with its percentiles, which take about as long as
    all else."""
    inputs = Inputs(scenario(raw, **draws).in_field_units())
    return walked_draws([inputs], distributions=distributions)[0]


def arrays(found: Curves) -> dict[str, np.ndarray]:
    """Every array of the curves by name."""
    named = {"cost": found.cost, "recovered": found.recovered, "grid": found.grid}
    named |= {name: getattr(found, name) for name in ("by_days_cost", "by_days_recovered")}
    for group in ("sums", "still", "failures", "now", "distributions"):
        named |= {f"{group}.{name}": values for name, values in getattr(found, group).items()}
    return named


def bill(
    certain: float,
    *,
    retry: float = 0.0,
    failure: float = 0.0,
    stick_chance: float = 0.0,
    stick_cost: float = 0.0,
    whipstock: Attempts | None = None,
) -> Bill:
    """A bill whose sure part is all charges."""
    amounts = (0.0, 0.0, 0.0, certain, retry, failure, stick_chance, stick_cost)
    return Bill(*map(np.asarray, amounts), whipstock)


def lump_job(*odds: Table, hours: float = 24.0, **run: Any) -> Table:
    """A job at 1,000 an hour: plain hours, a lump fallback of 150,000, a fish of 40,000."""
    return {
        "schema": 1,
        "units": "field",
        "currency": "USD",
        "job": {"well": "invented"},
        "well": {"depth": 10_000, "hole_diameter": 8.5, "shoe_depth": 4_000},
        "rates": {"rig": 24_000},
        "fishing": {"damaged_top_factor": 0.6},
        "fish": {
            "top": 9_600,
            "bottom": 10_000,
            "piece": [{"name": "collars", "length": 400, "value": 40_000}],
        },
        "run": [
            {"name": f"run {number + 1}", "hours": hours, "odds": table, **run}
            for number, table in enumerate(odds)
        ],
        "fallback": [{"name": "complete above", "hours": 100, "cost": 50_000}],
        "draws": {"n": 16, "seed": 3},
    }


def without_sampled_outcomes(raw: Table) -> Table:
    """The same job where only one outcome goes on, so that the engine samples none."""
    table = copy.deepcopy(raw)
    for run in table["run"]:
        kinds = run["odds"].values() if "workable" in run["odds"] else [run["odds"]]
        for odds in kinds:
            odds["nothing"] += odds.pop("part", 0.0) + odds.pop("top_damaged", 0.0)
    return table


def metric(node: Any) -> Any:
    """A copy of a raw table in metres, rates per foot per metre."""
    if isinstance(node, list):
        return [metric(each) for each in node]
    if not isinstance(node, dict):
        return node
    factors = dict.fromkeys(LENGTHS, FOOT) | {"per_foot": 1 / FOOT}
    return {
        name: value * factors[name]
        if name in factors and isinstance(value, (int, float))
        else metric(value)
        for name, value in node.items()
    }
