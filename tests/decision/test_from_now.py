"""Commands and functions that answer from now, once runs are logged.

Origins of the expected numbers:
    independent   the same job written anew by hand as the log leaves it: prior by Bayes, the run
                  taken out, the fish top moved; sums over a fine grid of an uncertain chance; the
                  deviation of the figures of many seeds
    self          `econ.answer` after the same log, which `tests/decision/test_run_log.py` holds
                  against the slow references
"""

from __future__ import annotations

import copy
import csv
import io
import json
from datetime import timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from cli.command import check_plain, econ, ok, refused
from raw_jobs import DEMO_A, FOOT, Table, lump_job, metric, scenario

import econ as interface
from econ.decision.fish_now import fish_now
from econ.decision.guards import guards
from econ.decision.quick import quick
from econ.decision.run_log import inputs_after
from econ.decision.sensitivity import sensitivity
from econ.decision.sensitivity.bench import Bench
from econ.decision.sensitivity.swings import uncertain_amounts
from econ.decision.sweep import sweep
from econ.decision.whatif import whatif
from econ.scenario.run_log import LoggedRun, parse_log

pytestmark = pytest.mark.usefixtures("few_bins", "few_states")
EXACT = 1e-9
LOG_A = DEMO_A.parent / "logs" / "a_two_runs.csv"
HEADER = "run,start,end,outcome,fish_top,top_condition\n"
ODDS = {
    "workable": {"recovered": 0.5, "part": 0.1, "nothing": 0.4},
    "stubborn": {"recovered": 0.02, "part": 0.04, "nothing": 0.94},
}
LAST = {
    "workable": {"recovered": 0.6, "nothing": 0.4},
    "stubborn": {"recovered": 0.05, "nothing": 0.95},
}
PRIOR = 0.7


def log_text(outcome: str, *, top: str = "", run: int = 1) -> str:
    return f"{HEADER}{run},2026-03-14T06:00,2026-03-15T06:00,{outcome},{top},\n"


def job() -> Table:
    """Two runs at 1,000 an hour on a fish of one doubt."""
    raw = lump_job(ODDS, LAST, part_length=30, charge=2_000)
    raw["fishing"]["workable"] = PRIOR
    raw["fish"]["piece"][0]["value"] = 40_000
    return raw


def written_anew(outcome: str, *, top: float | None = None) -> Table:
    """The same job by hand as run 1 left it."""
    raw = job()
    w, s = PRIOR * ODDS["workable"][outcome], (1 - PRIOR) * ODDS["stubborn"][outcome]
    raw["fishing"]["workable"] = w / (w + s)
    del raw["run"][0]
    if top is not None:
        raw["fish"]["top"] = top
        left = raw["fish"]["bottom"] - top
        raw["fish"]["piece"] = [{"name": "collars", "length": left, "value": 40_000 * left / 400}]
    return raw


CASES = {
    "nothing": (log_text("nothing"), written_anew("nothing")),
    "part": (log_text("part", top="9650"), written_anew("part", top=9_650)),
}


@pytest.fixture(params=CASES)
def pair(request: pytest.FixtureRequest) -> tuple[str, Table]:
    found = CASES[request.param]
    return found


# ---- as the same job written anew --------------------------------------------------------------


def test_a_change_after_a_log_is_the_change_of_the_job_written_anew(
    pair: tuple[str, Table],
) -> None:
    text, anew = pair
    raw, dearer, dearer_anew = job(), job(), copy.deepcopy(anew)
    for each in (dearer, dearer_anew):
        each["rates"]["rig"] = 31_000
    before, after = scenario(raw), scenario(dearer)
    found = whatif(before, after, parse_log(text, before))
    goal = whatif(scenario(anew), scenario(dearer_anew))
    assert found.before.best == goal.before.best
    assert [each.name for each in found.figures] == [each.name for each in goal.figures]
    for one, other in zip(found.figures, goal.figures, strict=True):
        if one.unit == "currency" and one.name.startswith(("p", "stage_1_p", "stage_2_p")):
            continue  # read from bins, whose places hang on the draws
        assert one.before == pytest.approx(other.before, rel=EXACT), one.name
        assert one.after == pytest.approx(other.after, rel=EXACT), one.name


def test_sensitivity_after_a_log_is_that_of_the_job_written_anew(
    pair: tuple[str, Table],
) -> None:
    text, anew = pair
    made = scenario(job())
    found, goal = sensitivity(made, parse_log(text, made)), sensitivity(scenario(anew))
    assert found.best_cost.value == pytest.approx(goal.best_cost.value, rel=EXACT)
    assert [each.name for each in found.swings] == [each.name for each in goal.swings]
    for one, other in zip(found.swings, goal.swings, strict=True):
        for end in ("low", "high"):
            here, there = getattr(one, end), getattr(other, end)
            assert here.value == pytest.approx(there.value, rel=EXACT), one.name
            assert here.cost.value == pytest.approx(there.cost.value, rel=EXACT), one.name
            assert here.best == there.best
    for flip, other in zip(found.break_evens, goal.break_evens, strict=True):
        assert (flip.input, flip.below, flip.above) == (other.input, other.below, other.above)
        assert flip.at == (None if other.at is None else pytest.approx(other.at, rel=1e-6))
    assert found.map is not None
    assert goal.map is not None
    assert found.map.best == goal.map.best


def test_a_plan_after_a_log_is_that_of_the_job_written_anew(pair: tuple[str, Table]) -> None:
    text, anew = pair
    made = scenario(job())
    found, goal = interface.plan(made, parse_log(text, made)), interface.plan(scenario(anew))
    assert found.expected_cost.value == pytest.approx(goal.expected_cost.value, rel=EXACT)
    assert len(found.nodes) == len(goal.nodes)
    assert found.nodes[0].do == (2 if goal.nodes[0].do == 1 else goal.nodes[0].do)
    assert found.nodes[0].fish_top == pytest.approx(goal.nodes[0].fish_top)


def test_a_sweep_after_a_log_is_that_of_the_job_written_anew(pair: tuple[str, Table]) -> None:
    text, anew = pair
    rows = [(), ("rates.rig=31000",), ("fallback.1.cost=90000",)]
    found = [result for _, result in sweep(toml(job()), rows, log=text)]
    goal = [result for _, result in sweep(toml(anew), rows)]
    for one, other in zip(found, goal, strict=True):
        assert one["error"] == ""
        assert one["best_runs"] == other["best_runs"]
        for name in (
            "expected_cost",
            "fallback_now",
            "to_the_end",
            "probability_recovered",
            "days",
        ):
            assert one[name] == pytest.approx(other[name], rel=EXACT), name


def test_rows_of_a_sweep_agree_with_the_answer_after_the_log() -> None:
    text, log = DEMO_A.read_text(encoding="utf-8"), LOG_A.read_text(encoding="utf-8")
    rows = [(), ("fallback.1.other_cost=250000",)]
    results = [result for _, result in sweep(text, rows, draws=256, log=log)]
    for changes, result in zip(rows, results, strict=True):
        made = interface.load(DEMO_A, [*changes, "draws.n=256"])
        found = interface.answer(made, interface.read_log(LOG_A, made))
        assert result["best_runs"] == found.best
        error = 4 * np.hypot(result["standard_error"], found.limit.standard_error)
        assert abs(result["expected_cost"] - found.limit.expected_cost) < error
        chance = found.limit.probability_recovered
        assert result["probability_recovered"] == pytest.approx(chance, abs=0.01)


def test_a_row_that_the_log_cannot_have_happened_in_is_faulty_and_stops_no_other() -> None:
    odds = "run.1.odds={recovered=0.5, part=0.5}"
    first, second = (
        result for _, result in sweep(toml(job()), [(odds,), ()], log=log_text("nothing"))
    )
    words = "outcome: given nothing, which the scenario says cannot happen in run 1"
    assert words in first["error"]
    assert first["best_runs"] is None
    assert second["error"] == ""


def toml(raw: Table) -> str:
    """A raw table as a file, by JSON values: inline tables of TOML differ in their equals signs."""

    def value(node: Any) -> str:
        if isinstance(node, dict):
            return "{" + ", ".join(f"{key} = {value(item)}" for key, item in node.items()) + "}"
        if isinstance(node, list):
            return "[" + ", ".join(map(value, node)) + "]"
        return json.dumps(node)

    return "\n".join(f"{key} = {value(item)}" for key, item in raw.items())


# ---- ranges after a log ------------------------------------------------------------------------


def uncertain_job() -> Table:
    raw = job()
    raw["fishing"]["workable"] = {"low": 0.2, "high": 0.9}
    raw["rates"]["rig"] = {"low": 20_000, "likely": 24_000, "high": 31_000}
    return raw


def posterior_quantile(text: str, probability: float) -> float:
    """By hand: the density of the chance after the log is that before times the likelihood."""
    outcome = text.splitlines()[1].split(",")[3]
    w = np.linspace(0.2, 0.9, 200_001)
    density = w * ODDS["workable"][outcome] + (1 - w) * ODDS["stubborn"][outcome]
    share = np.concatenate([[0.0], np.cumsum((density[1:] + density[:-1]) / 2)])
    return float(np.interp(probability, share / share[-1], w))


@pytest.mark.parametrize("outcome", ["nothing", "part"])
def test_an_amount_that_the_log_bears_on_is_turned_between_its_quantiles_after_it(
    outcome: str,
) -> None:
    text = log_text(outcome, top="9650" if outcome == "part" else "")
    made = scenario(uncertain_job())
    found = sensitivity(made, parse_log(text, made), n=256)
    swings = {each.name: each for each in found.amounts}
    swing = swings["fishing.workable"]
    assert swing.after_log
    for end, probability in ((swing.low, 0.1), (swing.high, 0.9)):
        goal = posterior_quantile(text, probability)
        assert end.value == pytest.approx(goal, abs=0.001)
        # The belief that the log makes of that prior chance, and the cost of one run more.
        w = goal * ODDS["workable"][outcome]
        s = (1 - goal) * ODDS["stubborn"][outcome]
        belief = w / (w + s)
        chance = belief * 0.6 + (1 - belief) * 0.05
        rig = (20_000 + 4 * 24_000 + 31_000) / 6
        left = 350 / 400 if outcome == "part" else 1.0
        fallback = 100 / 24 * rig + 50_000 + 40_000 * left
        one_run = rig + 2_000 + (1 - chance) * fallback
        assert end.cost.value == pytest.approx(min(fallback, one_run), rel=1e-3)


def test_an_amount_that_the_log_says_nothing_of_keeps_its_own_quantiles() -> None:
    made = scenario(uncertain_job())
    log = parse_log(log_text("nothing"), made)
    before, after = sensitivity(made), sensitivity(made, log)
    here, there = (
        next(each for each in found.amounts if each.name == "rates.rig")
        for found in (before, after)
    )
    assert not there.after_log
    assert (here.low.value, here.high.value) == (there.low.value, there.high.value)
    assert not any(each.after_log for each in before.amounts)


def test_an_amount_correlated_with_one_that_the_log_bears_on_moves_with_it() -> None:
    raw = uncertain_job()
    raw["correlation"] = [{"of": ["fishing.workable", "rates.rig"], "rho": 0.8}]
    made = scenario(raw)
    found = sensitivity(made, parse_log(log_text("nothing"), made), n=256)
    swing = next(each for each in found.amounts if each.name == "rates.rig")
    free = sensitivity(made, n=256)
    before = next(each for each in free.amounts if each.name == "rates.rig")
    assert swing.after_log
    assert swing.low.value < before.low.value  # `nothing` lowers the one, and the other with it
    assert swing.high.value < before.high.value


def test_shares_of_ranges_before_and_after_a_log_are_inverse() -> None:
    made = scenario(uncertain_job())
    bench = Bench(inputs_after(made, parse_log(log_text("nothing"), made)), n=64)
    told = bench.told["fishing.workable"]
    for p in (0.0, 0.05, 0.5, 0.93, 1.0):
        assert told.after(told.before(p)) == pytest.approx(p, abs=1e-12)
    assert set(bench.told) == {"fishing.workable"}
    amounts = {each.path: each for each in uncertain_amounts(bench, made)}
    assert amounts["rates.rig"].before(0.1) == 0.1


def test_worth_of_knowing_after_a_log_is_that_of_the_ranges_after_it() -> None:
    """By hand: sixteen ranges alike after the log; in each the cheaper of stopping and one run."""
    raw = uncertain_job()
    raw["rates"]["rig"] = 24_000
    raw["run"][1]["hours"] = 70
    text = log_text("nothing")
    made = scenario(raw)
    found = sensitivity(made, parse_log(text, made), n=256)
    w = np.linspace(0.2, 0.9, 400_001)
    likely = w * 0.4 + (1 - w) * 0.94
    belief = w * 0.4 / likely
    fallback = 190_000.0
    cost = 72_000 + (1 - (belief * 0.6 + (1 - belief) * 0.05)) * fallback
    edges = [posterior_quantile(text, k / 16) for k in range(17)]
    place = np.clip(np.searchsorted(edges, w, side="right") - 1, 0, 15)
    by_range = [np.average(cost[place == k], weights=likely[place == k]) for k in range(16)]
    blind = min(fallback, float(np.average(cost, weights=likely)))
    goal = blind - float(np.mean(np.minimum(by_range, fallback)))
    assert goal > 500
    (worth,) = found.worths
    assert worth.worth == pytest.approx(goal, rel=0.02)


def test_indices_are_left_out_where_the_log_binds_amounts_together() -> None:
    made = scenario(uncertain_job())
    log = parse_log(log_text("nothing"), made)
    assert sensitivity(made, log).indices_left_out
    assert not sensitivity(made, log).importance.inputs
    raw = uncertain_job()
    raw["fishing"]["workable"] = PRIOR
    certain = scenario(raw)
    found = sensitivity(certain, parse_log(log_text("nothing"), certain))
    assert not found.indices_left_out
    assert [each.names for each in found.importance.inputs] == [("rates.rig",)]


def test_errors_after_a_log_are_those_that_other_seeds_show() -> None:
    """The weights of the draws scatter from scramble to scramble, and the costs with them; the
    ratio of both scatters less, and its error is what is given."""
    made = interface.load(DEMO_A)
    log = interface.read_log(LOG_A, made)
    costs, errors = [], []
    for seed in range(12):
        draws = made.draws.model_copy(update={"seed": seed})
        found = quick(inputs_after(made.model_copy(update={"draws": draws}), log))
        by_scramble = found.cost[:, 1]
        costs.append(by_scramble.mean())
        errors.append(by_scramble.std(ddof=1) / np.sqrt(len(by_scramble)))
    ratio = np.mean(errors) / np.std(costs, ddof=1)
    assert 0.5 < ratio < 2.0


# ---- the commands ------------------------------------------------------------------------------


def test_both_sides_of_a_change_are_the_answers_after_the_log() -> None:
    change = ("--set", "rates.rig=31000", "--set", "draws.n=32")
    found = json.loads(ok("whatif", DEMO_A, "--log", LOG_A, "--json", *change))
    figure = next(each for each in found["figures"] if each["name"] == "expected_cost")
    for side, changes in (("before", change[2:]), ("after", change)):
        answer = json.loads(ok("answer", DEMO_A, "--log", LOG_A, "--json", *changes))
        goal = answer["answer"]["expected_cost"]
        assert figure[side] == pytest.approx(goal, rel=EXACT)
        assert found[side]["runs"] == answer["answer"]["runs"]
    assert found["log"] == {"runs_made": 2, "now": "2026-03-17T12:00:00", "ended": None}
    said = ok("whatif", DEMO_A, "--log", LOG_A, *change)
    check_plain(said)
    assert "After 2 runs logged. All is from 2026-03-17 12:00 on" in said


def test_a_log_is_held_against_both_sides_of_a_change() -> None:
    change = "run.1.odds={recovered=0.6, part=0.4}"
    said = refused("whatif", DEMO_A, "--log", LOG_A, "--set", change)
    words = "a_two_runs.csv row 2, outcome: given nothing, which the scenario says cannot happen"
    assert words in said
    assert "(with the change)" in said


def test_a_run_stopped_half_way_is_none_of_the_runs_made(tmp_path: Path) -> None:
    log = tmp_path / "runs.csv"
    log.write_text(log_text("unfinished"), encoding="utf-8")
    document = json.loads(ok("methods", DEMO_A, "--log", log, "--json"))
    assert document["log"]["runs_made"] == 0
    assert document["fish"]["marks"] == json.loads(ok("methods", DEMO_A, "--json"))["fish"]["marks"]
    assert "After 0 runs logged." in ok("plan", DEMO_A, "--log", log, "--set", "draws.n=16")


def test_sensitivity_of_the_command_is_from_now() -> None:
    document = json.loads(ok("sensitivity", DEMO_A, "--log", LOG_A, "--json"))
    answer = json.loads(ok("answer", DEMO_A, "--log", LOG_A, "--json", "--set", "draws.n=64"))
    goal = answer["answer"]["expected_cost"]
    assert document["base"]["expected_cost"] == pytest.approx(goal, rel=0.005)
    ranges = {each["name"]: each["range"] for each in document["amounts"]}
    assert ranges["fishing.workable"] == "after the log"
    assert ranges["rates.fuel"] == "of the file"
    said = ok("sensitivity", DEMO_A, "--log", LOG_A)
    check_plain(said)
    assert "fishing.workable ^" in said
    assert "each draw weighted by how likely it makes what happened" in " ".join(said.split())


def test_methods_see_the_fish_as_the_log_leaves_it() -> None:
    document = json.loads(ok("methods", DEMO_A, "--log", LOG_A, "--json"))
    assert document["fish"]["top"] == 11_259
    assert document["fish"]["top_condition"] == "clean"
    assert {"made_1", "made_2"} <= set(document["fish"]["marks"])
    assert document["log"]["runs_made"] == 2
    kinds = {each["kind"]: each for each in document["kinds"]}
    assert "run 1 was of this kind: nothing" in kinds["overshot"]["remarks"]
    before = {each["kind"]: each for each in json.loads(ok("methods", DEMO_A, "--json"))["kinds"]}
    hours = [kind["overshot"]["hours"]["likely"] for kind in (before, kinds)]
    assert hours[1] > hours[0]  # the top is deeper
    said = ok("methods", DEMO_A, "--log", LOG_A)
    check_plain(said)
    assert "- run 1, Overshot with jars: nothing" in said


@pytest.mark.parametrize("units", ["field", "metric"])
def test_the_fish_now(units: str) -> None:
    raw = job() if units == "field" else metric(job())
    raw["units"] = units
    raw["fish"]["top_condition"] = "damaged"
    raw["run"][0]["dresses_top"] = True
    factor = 1.0 if units == "field" else FOOT
    made = scenario(raw)

    def now(text: str) -> Any:
        return fish_now(made, parse_log(text, made)).fish

    dressed = now(log_text("nothing"))
    assert (dressed.top_condition, dressed.marks) == ("clean", ["made_1"])
    half = now(log_text("unfinished"))  # stopped half way: nothing is dressed, no run is made
    assert (half.top_condition, half.marks) == ("damaged", [])
    moved = now(log_text("part"))  # not measured: by the length of a part, 30 ft
    assert moved.top == pytest.approx(9_630 * factor)
    assert moved.top_condition == "unknown"
    assert sum(piece.length for piece in moved.piece) == pytest.approx(370 * factor)
    assert fish_now(made, ()) is made


@pytest.mark.parametrize(("days", "told"), [(-1, False), (0, True)])
def test_money_of_a_run_that_may_be_in_what_is_spent_is_asked_about(days: int, told: bool) -> None:
    raw = job()
    log = parse_log(log_text("nothing"), scenario(raw))
    raw["afe"] = {"spent_until": (log[0].start + timedelta(days=days)).date()}
    found = guards(interface.answer(scenario(raw), log))
    assert any(each.startswith("spent twice: ") for each in found) is told


def test_sizes_at_a_new_top_are_those_of_its_piece() -> None:
    raw = job()
    raw["fish"] |= {"outside_diameter": 5.0, "inside_diameter": 2.0}
    raw["fish"]["piece"] = [
        {"name": "stub", "length": 20, "value": 1_000},
        {"name": "collars", "length": 380, "value": 39_000, "outside_diameter": 6.5, "bore": 2.8},
    ]
    made = scenario(raw)
    part = fish_now(made, parse_log(log_text("part"), made)).fish  # 30 ft of it came out
    assert (part.outside_diameter, part.inside_diameter) == (6.5, 2.8)
    still = fish_now(made, parse_log(log_text("nothing"), made)).fish
    assert (still.outside_diameter, still.inside_diameter) == (5.0, 2.0)


def test_a_sweep_of_the_command_goes_on_only_with_the_same_log(tmp_path: Path) -> None:
    grid = tmp_path / "grid.csv"
    grid.write_text("rates.rig\n26000\n30000\n", encoding="utf-8")
    out = tmp_path / "out.csv"
    arguments = ("sweep", DEMO_A, grid, "--out", out, "--draws", 16, "--jobs", 1)
    ok(*arguments, "--log", LOG_A)
    done = out.read_bytes()
    rows = list(csv.DictReader(io.StringIO(done.decode())))
    assert [row["error"] for row in rows] == ["", ""]
    assert max(float(row["days"]) for row in rows) < 3  # of what is left
    assert "2 of them were there before" in ok(*arguments, "--log", LOG_A)
    assert out.read_bytes() == done
    refused(*arguments)
    other = tmp_path / "other.csv"
    other.write_text(LOG_A.read_text(encoding="utf-8").replace("11259", "11260"), encoding="utf-8")
    refused(*arguments, "--log", other)
    refused("sweep", DEMO_A, grid, "--out", other, "--log", other)  # never over an input
    assert out.read_bytes() == done


COMMANDS = {
    "answer": (),
    "whatif": ("--set", "rates.rig=30000"),
    "sensitivity": (),
    "plan": (),
    "methods": (),
}


@pytest.mark.parametrize("outcome", ["recovered", "string_lost", "hole_lost"])
@pytest.mark.parametrize("command", COMMANDS)
def test_a_job_that_has_ended_is_said_to_have(command: str, outcome: str, tmp_path: Path) -> None:
    log = tmp_path / "runs.csv"
    log.write_text(log_text(outcome), encoding="utf-8")
    said = ok(command, DEMO_A, "--log", log, *COMMANDS[command], "--set", "draws.n=16")
    words = {
        "recovered": "THE FISH IS OUT: nothing is left to decide.",
        "string_lost": "FISHING IS OVER: the fishing string is lost.",
        "hole_lost": "FISHING IS OVER: the hole is lost.",
    }
    assert words[outcome] in said
    check_plain(said)


def test_commands_that_print_no_words_say_that_a_job_has_ended(tmp_path: Path) -> None:
    log, grid = tmp_path / "runs.csv", tmp_path / "grid.csv"
    log.write_text(log_text("recovered"), encoding="utf-8")
    grid.write_text("rates.rig\n26000\n", encoding="utf-8")
    out = ("--out", tmp_path / "out.csv", "--draws", 16, "--jobs", 1)
    found = econ("sweep", DEMO_A, grid, "--log", log, *out)
    assert found.exit_code == 0
    assert "note: THE FISH IS OUT" in found.stderr


def test_the_interface_takes_a_log_in_every_function() -> None:
    made = scenario(job())
    log: tuple[LoggedRun, ...] = parse_log(log_text("nothing"), made)
    assert interface.whatif(made, made, log=log).log == log
    assert interface.sensitivity(made, log=log).log == log
    assert interface.methods(made, log=log).log == log
    assert interface.plan(made, log=log).nodes[0].do in (2, "stop")
