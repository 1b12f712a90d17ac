"""A changed scenario under an issued decision.

Origins of the expected numbers:
    independent   the answer to the changed scenario on as many draws, where nothing that is held
                  binds; by hand
    published     the terms of a rental: the greater of minimum and use, common practice, no source
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from econ.decision import answer
from econ.decision.hold import Issued, hold
from econ.scenario import ScenarioError, load
from econ.scenario.run_log import read_log
from econ.scenario.scenario import Scenario

pytestmark = pytest.mark.usefixtures("few_bins", "few_states")
SCENARIOS = Path(__file__).parents[2] / "scenarios"
FEW = "draws.n=32"


def demo(name: str, *changes: str) -> Scenario:
    return load(SCENARIOS / f"{name}.toml", (FEW, *changes))


def issue(name: str) -> Issued:
    return Issued.of(answer(demo(name)))


@pytest.mark.parametrize("file", sorted(SCENARIOS.glob("?_*.toml")), ids=lambda file: file.stem)
def test_nothing_changed_is_the_issue(file: Path) -> None:
    # independent: the answer, which knows of no issue
    found = answer(load(file, (FEW,)))
    held = hold(Issued.of(found), found.scenario)
    assert held.runs == found.best
    for one, other in zip(held.calls, found.calls, strict=True):
        assert one.expected_call == pytest.approx(other.expected_call, rel=1e-12)
        for here, there in zip(one.slices, other.slices, strict=True):
            for name in ("chance", "planned", "mean", "p90"):
                assert getattr(here, name) == pytest.approx(getattr(there, name), rel=1e-9)


def test_another_price_is_that_of_the_answer_at_the_limit_of_the_issue() -> None:
    # independent: one fallback and no rental, so that nothing but the limit is held
    change = "run.1.charge=400000"
    held = hold(issue("point/a_land_twist_off"), demo("point/a_land_twist_off", change))
    found = answer(demo("point/a_land_twist_off", change))
    assert held.runs != found.best
    assert held.call.expected_call == pytest.approx(found.calls[held.runs].expected_call, rel=1e-12)


def test_a_range_that_becomes_a_number_leaves_the_other_points() -> None:
    # by hand: the mean of its column in place of it, of a price that multiplies no other range
    before = issue("a_land_twist_off")
    charge = before.scenario.run[0].charge
    assert not isinstance(charge, float)
    held = hold(before, demo("a_land_twist_off", "run.1.charge=0"))
    whole = hold(before, before.scenario)
    run = whole.quantities[before.runs].made[0]
    less = whole.call.expected_call - held.call.expected_call
    assert less == pytest.approx(run[1] * charge.expectation(), rel=2e-3)
    with_more = hold(before, demo("a_land_twist_off", "run.1.charge=1000"))
    more = with_more.call.expected_call - held.call.expected_call
    assert more == pytest.approx(1000 * run[1], rel=1e-9)


def test_rentals_are_held_to_the_side_that_binds() -> None:
    # a maximum is never under its tangent: two minimum days, standby from 1,100 to 16,000
    changes = ["rental.1.minimum_days=2"]
    before = Issued.of(answer(demo("d_rented_tools", *changes)))
    dear = demo("d_rented_tools", *changes, "rental.1.standby_day=16000")
    held = hold(before, dear).calls[before.runs].expected_call
    at_rest = hold(before, before.scenario).call.expected_call
    found = answer(dear).calls[before.runs].expected_call
    assert at_rest <= held < found
    assert found - at_rest == pytest.approx(15_204, abs=150)  # with 256 draws of each scramble
    few = demo("d_rented_tools", *changes, "rental.1.standby_day=1150")
    assert hold(before, few).call.expected_call == pytest.approx(
        answer(few).calls[before.runs].expected_call, abs=1.0
    )


def test_an_issue_is_read_as_it_was_written() -> None:
    file = demo("d_rented_tools")
    log = read_log(SCENARIOS / "logs" / "d_three_runs.csv", file)
    before = Issued.of(answer(file, log))
    after = Issued.read(json.dumps(before.document()))
    assert after == before
    assert hold(after, file).call == hold(before, file).call


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ('run.1.name="another"', "run.1.name"),
        ("run.2.charge={low=1, high=2}", "a range where the issue has a number"),
        ('currency="EUR"', "currency"),
        ('fallback.1.name="x"', "another structure"),
    ],
)
def test_another_structure_is_a_fault(change: str, said: str) -> None:
    before = Issued.of(answer(load(SCENARIOS / "point" / "c_bit_cones.toml", (FEW,))))
    with pytest.raises(ScenarioError) as error:
        hold(before, load(SCENARIOS / "point" / "c_bit_cones.toml", (FEW, change)))
    assert said in str(error.value)
    assert "decided anew" in str(error.value)


@pytest.mark.parametrize("text", ["", "[]", "{}", '{"kind": "issued supplement", "format": 1}'])
def test_what_is_no_issue_is_refused(text: str) -> None:
    with pytest.raises(ScenarioError, match="no issued supplement"):
        Issued.read(text)
