"""What every price is multiplied by: products and their moments against the ledger.

Origins of the expected numbers:
    independent   the sums of the ledger over the same draws (`answer.quantities`), which share no
                  quantity with the products; by hand, one draw
    identity      the head of `econ.engine.priced`
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from pathlib import Path

import numpy as np
import pytest
from supplement_jobs import checked, everything

from econ.decision import Answer, answer
from econ.decision.run_log import inputs_after
from econ.engine.ledger import LINES, SPENDING
from econ.engine.priced import Priced, amount_at, kept_is_single, priced
from econ.job.rental import Contract
from econ.reports.supplement.estimate import estimate
from econ.scenario import __file__ as scenario_package
from econ.scenario import load
from econ.scenario.distributions import Distribution
from econ.scenario.run_log import read_log
from econ.scenario.scenario import Scenario, dotted

pytestmark = pytest.mark.usefixtures("few_bins", "few_states")
SCENARIOS = Path(__file__).parents[2] / "scenarios"
LOGS = {"a_land_twist_off": "a_two_runs", "d_rented_tools": "d_three_runs"}


def told(name: str) -> Answer:
    if name.startswith("random"):
        return answer(checked(everything(int(name.split()[1]))))
    file, _, after = name.partition(" ")
    scenario = load(SCENARIOS / f"{file}.toml", ("draws.n=32",))
    log = read_log(SCENARIOS / "logs" / f"{LOGS[file]}.csv", scenario) if after else ()
    return answer(scenario, log)


def lines_of(
    scenario: Scenario, found: Priced, moments: Mapping[tuple[str, frozenset[str]], np.ndarray]
) -> dict[str, np.ndarray]:
    """Lines of the ledger by limit, from the products."""
    sums: dict[str, np.ndarray] = {}
    for product in found.products:
        amounts = {dotted(key): amount_at(scenario, key) for key in product.prices}
        ranges = {name for name, amount in amounts.items() if isinstance(amount, Distribution)}
        line = moments[product.quantity, frozenset(ranges)]
        for name, amount in amounts.items():
            line = line if name in ranges else line * amount
        if product.quantity.startswith("fallback") and ".piece." in product.quantity:
            piece = scenario.fish.piece[product.prices[1][2]]
            if piece.value is None and kept_is_single(piece):
                line = line * max(1 - (piece.depreciation or 0), piece.floor or 0)
        sums[product.ledger] = sums.get(product.ledger, 0.0) + line
    return sums


@pytest.mark.parametrize(
    "name",
    [
        *("a_land_twist_off", "b_offshore_sealed_sources", "c_bit_cones", "d_rented_tools"),
        *("e_stuck_attached", "a_land_twist_off after", "d_rented_tools after"),
        *(f"random {seed}" for seed in (21, 24, 31)),
    ],
)
def test_products_sum_to_the_ledger(name: str) -> None:
    # independent: every line of every limit, mean and planned, as the curves add them up
    found = told(name)
    inputs = inputs_after(found.scenario, found.log)
    products = priced(inputs, n=found.draws)
    mean = lines_of(inputs.scenario, products, products.mean)
    planned = lines_of(inputs.scenario, products, products.planned)
    for taken in found.quantities:
        for ledger in LINES:
            of_products = mean[ledger][taken.runs] if ledger in mean else 0.0
            assert of_products == pytest.approx(taken.expected[ledger], abs=1e-6), ledger
    first, _, fallback = found.authority.call.slices
    assert sum(planned[name][found.best] for name in SPENDING if name in planned) == pytest.approx(
        first.planned, abs=1e-6
    )
    asked = [name for name, part in LINES.items() if part == "fallback"]
    asked.remove("value_given_up")
    spent = sum(planned[name][found.best] for name in asked if name in planned)
    assert spent == pytest.approx(fallback.planned, abs=1e-6)


def test_days_that_are_billed() -> None:
    # by hand: 3 minimum days at 900 are 2,700; 1 day worked and 5 stood by at 400 are 2,900
    a = np.asarray
    none = a(0.0)
    jars = Contract(
        "jars", {0}, None, None, 0.0, a(2700.0), none, a(900.0), a(400.0), none, none, none,
        least=(a(3.0), none),
    )  # fmt: skip
    days, worked = a([[[1.0, 6.0]]]), a([[[1.0, 1.0]]])
    working, standby = jars.billed(days=days, worked=worked)
    assert working.ravel().tolist() == [3, 1]
    assert standby.ravel().tolist() == [0, 5]
    # 2 more days of minimum against 5 of standby: the other side from a ratio of 0.4 down
    likely = np.ones((1, 1, 2), dtype=bool)
    bounds = jars.bounds(days=days, worked=worked, likely=likely)
    assert bounds == pytest.approx((0.4, np.inf, 0.9, np.inf))
    # a maximum is never under its tangent
    dear = Contract(
        "jars", {0}, None, None, 0.0, a(2700.0), none, a(900.0), a(100.0), none, none, none,
        held=jars,
    )  # fmt: skip
    assert dear.time_charge(days=days, worked=worked).ravel().tolist() == [2700, 900 + 500]


@pytest.mark.parametrize("per_foot", [30.0, {"low": 20, "high": 50}])
def test_a_metric_job_has_its_prices_by_the_meter(per_foot: object) -> None:
    # independent: the breakdown of the answer; quantity x the price as the file writes it
    starter = Path(scenario_package).parent / "starter_metric.toml"
    rental = {"tool": "Wash pipe", "day": 900, "per_foot": per_foot}
    raw = tomllib.loads(starter.read_text(encoding="utf-8"))
    for run in raw["run"]:
        run["wash_length"] = 40
    raw |= {"rental": [rental], "draws": {"n": 16, "seed": 7, "scrambles": 16}}
    found = answer(checked(raw))
    assert found.best > 0
    parts = estimate(found)
    ledger = {line.name: line.expected for line in found.breakdown.lines}
    rented = [line for line in parts.lines if line.code.value == "FS30"]
    assert sum(line.mean.amount.number for line in rented) == pytest.approx(ledger["rentals"])
    (washed,) = (line for line in rented if line.unit == "length")
    assert washed.planned.quantity.number == pytest.approx(40.0 * found.best)
    assert washed.stated.number == pytest.approx(30.0 if per_foot == 30.0 else 35.0)
