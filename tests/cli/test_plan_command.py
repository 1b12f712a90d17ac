"""`econ plan`: the orders, the JSON contract, the picture; scenario A against published numbers.

How its words and its picture are made is tested with the reports.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any, NoReturn

import pytest

import econ as package

from .command import QUICK, A, check_plain, econ, ok, refused, scenario, write

# The plan of A is the same at any number of draws; the gain over the list needs some of them.
ENOUGH = "draws.n=1024"

OUTCOMES = {"nothing", "part", "prepared", "top_damaged"}
# Keys that the design of the interface names
PLAN = {
    *("verb", "expected_cost", "standard_error", "gain_over_limit", "gain_error"),
    *("probability_recovered", "mean_days", "longest_days", "sequence", "nodes"),
}
NODE = {
    *("id", "parent", "after", "do", "chance", "belief", "odds", "fish_top", "marks"),
    *("cost_from_here", "next_best"),
}


def parsed(*arguments: object) -> dict[str, Any]:
    def no_constant(name: str) -> NoReturn:
        raise AssertionError(f"{name} is not JSON")

    found = json.loads(ok("plan", *arguments, "--json"), parse_constant=no_constant)
    assert isinstance(found, dict)
    return found


@pytest.fixture(scope="module")
def told() -> dict[str, Any]:
    return parsed(A, "--set", ENOUGH)


def test_the_document_keeps_its_contract(told: dict[str, Any]) -> None:
    head = {"scenario", "currency", "draws", "scrambles", "seed", "version", "plan"}
    assert head <= set(told)
    plan = told["plan"]
    assert set(plan) >= PLAN
    assert plan["verb"] == "fish"
    # Source: published check values of scenario A, to the dollar.
    assert plan["expected_cost"] == pytest.approx(484_760, abs=0.51)
    assert plan["gain_over_limit"] == pytest.approx(499_510 - 484_760, abs=2)
    sequence = plan["sequence"]
    assert sequence["runs"] == [1, 3]
    assert sequence["limit"] == 2
    assert sequence["expected_cost"] == pytest.approx(489_570, abs=0.51)
    assert sequence["gain"] == pytest.approx(489_570 - 484_760, abs=1)
    assert plan["unused_runs"] == [4, 5]


def test_the_nodes_are_a_tree(told: dict[str, Any]) -> None:
    nodes = {node["id"]: node for node in told["plan"]["nodes"]}
    assert nodes[0]["parent"] is nodes[0]["after"] is None
    for node in nodes.values():
        assert set(node) >= NODE
        assert node["do"] == "stop" or node["do"] in range(1, 6)
        assert set(node["belief"]) == {"workable"}
        assert (node["odds"] is None) == (node["do"] == "stop")
        if node["id"]:
            parent = nodes[node["parent"]]
            assert node["after"] in OUTCOMES
            assert node["chance"] <= parent["chance"]
            assert parent["do"] != "stop"
        if node["next_best"] is not None:
            assert node["next_best"]["do"] != node["do"]
            assert node["next_best"]["costs_more"] >= -1e-6
    for number, node in nodes.items():
        after = [each for each in nodes.values() if each["parent"] == number]
        assert sum(each["chance"] for each in after) <= node["chance"] * (1 + 1e-9)
        assert len({each["after"] for each in after}) == len(after)


def test_the_document_has_the_plan_that_is_published(told: dict[str, Any]) -> None:
    nodes = told["plan"]["nodes"]

    def do(*outcomes: str) -> Any:
        at = nodes[0]
        for outcome in outcomes:
            (at,) = [n for n in nodes if n["parent"] == at["id"] and n["after"] == outcome]
        return at["do"]

    assert do() == 1
    assert (do("nothing"), do("nothing", "nothing")) == (3, "stop")
    assert (do("part"), do("part", "nothing")) == (3, 2)
    assert (do("top_damaged"), do("top_damaged", "nothing")) == (2, 3)


def test_every_chance_has_its_error(tmp_path: Path) -> None:
    text = scenario(runs=2).replace("rig = 20000", "rig = { low = 15000, high = 26000 }")
    plan = parsed(write(tmp_path / "job.toml", text))["plan"]
    assert plan["standard_error"] > 0
    assert set(plan["errors"]) == {"probability_recovered", "mean_days"}
    for node in plan["nodes"]:
        assert set(node["errors"]) == {"chance", "odds", "belief", "cost_from_here"}
        assert set(node["errors"]["belief"]) == set(node["belief"])
        assert node["errors"]["cost_from_here"] > 0
        assert node["next_best"] is None or node["next_best"]["error"] >= 0


def test_the_document_is_the_plan_of_python(told: dict[str, Any]) -> None:
    found = package.plan(package.load(A, [ENOUGH]))
    assert told["plan"]["expected_cost"] == found.expected_cost.value
    assert [node["do"] for node in told["plan"]["nodes"]] == [node.do for node in found.nodes]
    assert len(found.to_frame()) == len(found.nodes)


@pytest.mark.parametrize("wrong", [A, str(A), None, {}])
def test_python_takes_a_scenario_only(wrong: Any) -> None:
    with pytest.raises(TypeError, match=r"plan\(\) takes a Scenario, not .*; econ.load\(path\)"):
        package.plan(wrong)


def test_the_text_begins_with_the_order_for_now_and_fits() -> None:
    text = ok("plan", A, *QUICK)
    check_plain(text)
    assert text.splitlines()[0] == "PLAN: make run 1 now, 1 Overshot with jars."
    assert "\nORDERS\n" in text
    assert "\nCAUTIONS\n" in text


def test_names_of_a_file_stay_on_their_lines(tmp_path: Path) -> None:
    well, run = "Well 7\n\x1b[31m", "R\u00f8d \u202e run " + "W" * 150
    text = ok("plan", write(tmp_path / "job.toml", scenario(runs=2, well=well, run=run)))
    check_plain(text, names=run)
    assert "\x1b" not in text
    assert "\u202e" not in text


def test_after_a_log_it_goes_on_from_there(tmp_path: Path) -> None:
    log = write(
        tmp_path / "runs.csv",
        "run,start,end,outcome\n1,2026-03-14T06:00,2026-03-15T10:00,nothing\n",
    )
    # Source: the published plan: after nothing the wall hook.
    assert ok("plan", A, "--log", log, *QUICK).startswith("PLAN: make run 3 now, ")
    first = parsed(A, "--log", log, *QUICK)["plan"]["nodes"][0]
    assert (first["do"], first["chance"]) == (3, pytest.approx(1.0))
    assert first["belief"]["workable"] == pytest.approx(0.416, abs=0.001)


@pytest.mark.parametrize(
    ("outcome", "says"),
    [
        ("recovered", "THE FISH IS OUT: nothing is left to decide."),
        ("hole_lost", "FISHING IS OVER: the hole is lost."),
    ],
)
def test_after_the_end_there_is_no_order(tmp_path: Path, outcome: str, says: str) -> None:
    row = f"1,2026-03-14T06:00,2026-03-15T10:00,{outcome}\n"
    log = write(tmp_path / "runs.csv", f"run,start,end,outcome\n{row}")
    text = ok("plan", A, "--log", log, *QUICK)
    assert text.startswith(says)
    assert "ORDERS" not in text


def test_set_changes_the_plan() -> None:
    # by hand: a run with no chance of anything but a lost hole is never made
    lost = "run.1.odds={ hole_lost = 1.0 }"
    text = ok("plan", A, "--set", lost, *QUICK)
    assert not text.startswith("PLAN: make run 1 ")


def test_notes_go_with_it(tmp_path: Path) -> None:
    job = write(tmp_path / "job.toml", scenario())
    assert "fish of no value" in ok("plan", job)
    found = econ("plan", job, "--json")
    assert "note: fish of no value" in found.stderr
    assert any("fish of no value" in note for note in json.loads(found.stdout)["notes"])


@pytest.mark.parametrize(
    ("name", "begins"),
    [("plan.png", b"\x89PNG"), ("plan.svg", b"<?xml"), ("plan.pdf", b"%PDF-"), ("P.PDF", b"%PDF-")],
)
def test_the_picture_has_the_form_of_its_name(tmp_path: Path, name: str, begins: bytes) -> None:
    job, out = write(tmp_path / "job.toml", scenario()), tmp_path / name
    found = econ("plan", job, "--json", "--out", out)
    assert found.exit_code == 0
    assert out.read_bytes().startswith(begins)
    assert json.loads(found.stdout)["plan"]["verb"] == "fish"
    assert found.stderr.endswith(f"wrote {out}\n")


def test_a_picture_never_replaces_the_scenario_or_the_log(tmp_path: Path) -> None:
    job = write(tmp_path / "job.svg", scenario())
    log = write(tmp_path / "runs.svg", "run,start,end,outcome\n")
    for over in (job, log):
        before = over.read_bytes()
        assert "that is read" in refused("plan", job, "--log", log, "--out", over)
        assert over.read_bytes() == before


def test_another_form_is_refused_before_anything_is_computed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def computed(*_: object) -> NoReturn:
        raise AssertionError("computed")

    monkeypatch.setattr("econ.decision.plan.plan", computed)
    job = write(tmp_path / "job.toml", scenario())
    assert "ends in .pdf, .png, .svg" in refused("plan", job, "--out", tmp_path / "plan.gif")
    assert "is not a folder" in refused("plan", job, "--out", tmp_path / "none" / "plan.png")
