"""`econ plan`: the orders, the JSON contract, the picture; scenario A against published numbers."""

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from econ.cli import main

ROOT = Path(__file__).parents[2]
CHECK_A = ROOT / "tests" / "data" / "scenario_a_check.toml"
OUTCOMES = {"nothing", "part", "prepared", "top_damaged"}


def run(*words: object) -> str:
    result = CliRunner().invoke(main, ["plan", *map(str, words)])
    assert result.exit_code == 0, result.output
    return result.stdout


@pytest.fixture(scope="module")
def told() -> dict[str, object]:
    return json.loads(run(CHECK_A, "--json"))  # type: ignore[no-any-return]


def test_the_document_keeps_its_contract(told: dict[str, object]) -> None:
    plan = told["plan"]
    assert isinstance(plan, dict)
    assert plan["verb"] == "fish"
    # Source: published check values of scenario A, to the dollar.
    assert plan["expected_cost"] == pytest.approx(484_760, abs=0.51)
    assert plan["gain_over_limit"] == pytest.approx(499_510 - 484_760, abs=2)
    assert plan["sequence"]["runs"] == [1, 3]
    assert plan["sequence"]["limit"] == 2
    assert plan["sequence"]["expected_cost"] == pytest.approx(489_570, abs=0.51)
    nodes = {node["id"]: node for node in plan["nodes"]}
    assert nodes[0]["parent"] is None
    assert nodes[0]["after"] is None
    for node in nodes.values():
        assert node["do"] == "stop" or node["do"] in range(1, 6)
        assert 0 <= node["chance"] <= 1
        assert set(node["belief"]) == {"workable"}
        assert {"odds", "fish_top", "marks", "cost_from_here", "next_best", "errors"} <= set(node)
        if node["parent"] is not None:
            assert node["after"] in OUTCOMES
            assert node["chance"] <= nodes[node["parent"]]["chance"]
        if node["next_best"] is not None:
            assert node["next_best"]["costs_more"] >= -1e-6


def test_the_text_gives_orders_that_fit_a_phone(told: dict[str, object]) -> None:
    text = run(CHECK_A)
    lines = text.splitlines()
    assert lines[0].startswith("PLAN: begin with run 1, ")
    assert all(len(line) <= 64 and line.isascii() for line in lines)
    assert "The best fixed order is 1, 3 and then a stop" in text
    assert "it never makes runs 4 and 5" in " ".join(text.split())
    orders = text[text.index("ORDERS") : text.index("Each line")]
    # One line of orders for each node that is told, those that stop alike together.
    plan = told["plan"]
    assert isinstance(plan, dict)
    going = [node for node in plan["nodes"] if node["do"] != "stop"]
    assert orders.count("run ") >= len(going)
    assert "Now, workable 0.70: run 1" in orders


@pytest.mark.parametrize("ending", ["png", "svg"])
def test_the_picture_is_drawn(tmp_path: Path, ending: str) -> None:
    out = tmp_path / f"plan.{ending}"
    run(CHECK_A, "--out", out)
    data = out.read_bytes()
    assert data.startswith(b"\x89PNG" if ending == "png" else b"<?xml")


def test_a_picture_never_replaces_the_scenario(tmp_path: Path) -> None:
    job = tmp_path / "job.svg"
    job.write_bytes(CHECK_A.read_bytes())
    result = CliRunner().invoke(main, ["plan", str(job), "--out", str(job)])
    assert result.exit_code == 2
    assert job.read_bytes() == CHECK_A.read_bytes()


def test_one_run_and_a_log(tmp_path: Path) -> None:
    one = tmp_path / "one.toml"
    text = CHECK_A.read_text(encoding="utf-8")
    head, first, *_ = text.split("[[run]]")
    rest = text[text.index("[recovery]") :]
    one.write_text(f"{head}[[run]]{first}{rest}", encoding="utf-8")
    assert run(one).startswith("PLAN: begin with run 1")
    log = tmp_path / "log.csv"
    log.write_text("run,start,end,outcome\n1,2026-03-14T06:00,2026-03-15T10:00,nothing\n")
    after = run(CHECK_A, "--log", log)
    # Source: the same published plan: after nothing the wall hook.
    assert after.startswith("PLAN: begin with run 3, ")
