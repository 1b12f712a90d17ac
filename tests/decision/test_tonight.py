"""Orders of the next hours: what each outcome of the next run is followed by, at which chance."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest

import econ
from econ.decision.tonight import tonight
from econ.scenario import Scenario, parse

ROOT = Path(__file__).parents[2]
POINT_C = ROOT / "scenarios" / "point" / "c_bit_cones.toml"


def first_runs(count: int) -> Scenario:
    """Demo C at single numbers with the first runs of its list alone."""
    head, *runs = re.split(r"(?m)^(?=\[\[run\]\])", POINT_C.read_text(encoding="utf-8"))
    *_, last = runs
    rest = last[last.index("\n[recovery]") :]
    return parse("".join([head, *runs[:count], rest]), ["draws.n=64"])


def chances(number: int, *, workable: float) -> dict[str, float]:
    """Chances of the outcomes of a run from its odds in the file, mixed by hand."""
    raw = tomllib.loads(POINT_C.read_text(encoding="utf-8"))
    odds = raw["run"][number]["odds"]
    return {
        outcome: workable * odds["workable"][outcome] + (1 - workable) * odds["stubborn"][outcome]
        for outcome in odds["workable"]
    }


@pytest.mark.parametrize("count", [1, 3])
def test_the_last_run_of_a_list_may_bring_nothing_and_lose_nothing(count: int) -> None:
    # a run that ends "nothing" where the list ends is no lost string: the fallback comes
    workable = 0.6
    rows = ["run,start,end,outcome"]
    for number in range(count - 1):
        failed = chances(number, workable=workable)["nothing"]
        workable *= chances(number, workable=1.0)["nothing"] / failed
        rows.append(f"{number + 1},2026-05-0{number + 3}T04:00,2026-05-0{number + 3}T20:00,nothing")
    scenario = first_runs(count)
    log = econ.parse_log("\n".join(rows) + "\n", scenario) if count > 1 else ()
    now = tonight(econ.answer(scenario, log))
    expected = chances(count - 1, workable=workable)
    assert now.do == count
    found = {order.outcome: order.chance for order in now.orders}
    assert found == pytest.approx(
        {
            "nothing": expected["nothing"],
            "recovered": expected["recovered"],
            "lost": expected["string_lost"] + expected["hole_lost"],
        }
    )
    assert [order.do for order in now.orders] == ["stop", "recovered", "stop"]


def test_an_outcome_too_rare_to_list_is_not_a_loss() -> None:
    # part, at 0.1 %, is left out of the states that the rule lists
    text = POINT_C.read_text(encoding="utf-8").replace(
        "recovered = 0.42, part = 0, nothing = 0.57",
        "recovered = 0.42, part = 0.001, nothing = 0.569",
    )
    text = text.replace(
        "recovered = 0.04, part = 0, nothing = 0.95",
        "recovered = 0.04, part = 0.001, nothing = 0.949",
    )
    text = text.replace("part_length = 0 ", "part_length = 0.5 ", 1)
    now = tonight(econ.answer(parse(text, ["draws.n=64"])))
    found = {order.outcome: order.chance for order in now.orders}
    assert found["part"] == pytest.approx(0.001)
    assert found["lost"] == pytest.approx(0.01)
