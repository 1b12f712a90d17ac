"""The first screen: what it says of jobs of every sort, and that its figures are those of the JSON.

The screens stand as files in `tests/data/first_screens`, to be read as a person reads them;
`python tests/reports/test_first_screen.py` writes them anew. Origins of the numbers:
    independent    the coin-flip model, and arithmetic by hand, both from the file alone
    json           the document that `econ answer --json` prints
"""

from __future__ import annotations

import re
import sys
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import datetime
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

if __name__ == "__main__":  # as a script the folder above is not on the path yet
    sys.path.insert(0, str(Path(__file__).parents[1]))

from raw_jobs import SCENARIO_A, lump_job, read, scenario
from reference import coin_flip, job

import econ
from econ.decision.tonight import tonight
from econ.reports.amounts import rounded, whole
from econ.reports.first_screen import CAUTION, first_screen, said_moment
from econ.reports.sentences import percent
from econ.reports.tables import document
from econ.reports.text import SCREEN, screen_lines
from econ.reports.words import WIDTH, wrap

ROOT = Path(__file__).parents[2]
FILES = ROOT / "tests" / "data" / "first_screens"
A, B, C, D, E = sorted((ROOT / "scenarios").glob("?_*.toml"))
LOGS = ROOT / "scenarios" / "logs"
FEW = "draws.n=256"

# Screens by name: scenario, changes, log.
SCREENS: dict[str, tuple[Path, tuple[str, ...], Path | None]] = {
    "a": (A, (), None),
    "b with a source": (B, (), None),
    "c": (C, (), None),
    "d with rented tools": (D, (), None),
    "e attached, with a deadline": (E, (), None),
    "a after two runs": (A, (), LOGS / "a_two_runs.csv"),
    "d after three runs": (D, (), LOGS / "d_three_runs.csv"),
    "a after an overspend": (A, ("limits.authority=150000",), LOGS / "a_two_runs.csv"),
    "a close, leaning to stop": (A, ("fishing.workable=0.17",), None),
    "a close, leaning to fish": (A, ("fishing.workable=0.203", "reading=[]"), None),
    "a stops": (A, ("fishing.workable=0.02",), None),
    "b with a required run": (B, ("fishing.workable=0.05",), None),
    "a with no run left": (A, ("fishing.workable=0.6",), LOGS / "a_all_runs.csv"),
}
ALL_RUNS = """run,start,end,outcome,cost
1,2026-03-14T06:00,2026-03-15T10:00,nothing,76000
2,2026-03-15T10:00,2026-03-17T11:00,nothing,135000
3,2026-03-17T11:00,2026-03-18T13:00,nothing,71000
4,2026-03-18T13:00,2026-03-21T06:00,nothing,185000
5,2026-03-21T06:00,2026-03-23T22:00,nothing,190000
"""


@cache
def answered(name: str) -> econ.Answer:
    path, changes, log = SCREENS[name]
    found = econ.load(path, [FEW, *changes])
    if log is None:
        return econ.answer(found)
    if log.exists():
        return econ.answer(found, econ.read_log(log, found))
    return econ.answer(found, econ.parse_log(ALL_RUNS, found))


def shown(name: str) -> str:
    return "\n".join(screen_lines(answered(name))) + "\n"


def file_of(name: str) -> Path:
    return FILES / f"{name.replace(',', '').replace(' ', '_')}.txt"


@pytest.mark.parametrize("name", SCREENS)
def test_the_screen_is_the_one_on_file(name: str) -> None:
    assert shown(name) == file_of(name).read_text(encoding="utf-8")


def test_every_screen_on_file_is_one_of_these() -> None:
    assert {path.name for path in FILES.iterdir()} == {file_of(name).name for name in SCREENS}


@pytest.mark.parametrize("name", SCREENS)
def test_the_screen_fits(name: str) -> None:
    answer = answered(name)
    lines = screen_lines(answer)
    screen = first_screen(answer, terminal=True)
    text = "\n".join(lines)
    body = text.partition("\n\n")[0].splitlines()  # duties of a source follow an empty line
    harmful = sum(len(wrap(words)) for words in screen.safety)
    assert all(len(line) <= WIDTH for line in lines)
    assert len(body) - harmful <= SCREEN
    spaced = " ".join(text.split())
    assert all(" ".join(words.split()) in spaced for words in screen.safety)
    assert CAUTION in spaced
    assert "nan" not in text
    assert "-0 %" not in text


def test_what_is_left_out_is_counted() -> None:
    for name in SCREENS:
        answer = answered(name)
        rows = [row for block in first_screen(answer, terminal=True).blocks for row in block.rows]
        spaced = " ".join(shown(name).split())
        there = [row for row in rows if " ".join(row.words.split()) in spaced]
        left = len(rows) - len(there)
        said = re.search(r"(\d+) lines? left out", spaced)
        assert left == (0 if said is None else int(said.group(1))), name
        assert all(row.rank > 0 for row in rows if row not in there)
        # Where two sums could be sent, it is said which; also where the screen has no room.
        assert any(row.label == "To partners" for row in rows) == name.startswith("d ")


def test_a_chance_of_the_order_listed_says_so_where_the_verdict_is_by_a_plan() -> None:
    for name, words in (("a", "enough with 50 % chance in the order listed."), ("c", "chance.")):
        answer = answered(name)
        given = replace(answer.authority, given=9e9, suffices=0.5)
        rows = first_screen(replace(answer, authority=given)).blocks[-1].rows
        said = next(row.words for row in rows if row.label == "Authority")
        assert said.endswith(words), (name, tonight(answer).by)


# ---- figures ----------------------------------------------------------------------------------


AMOUNT = r"([\d.,]*\d(?: thousand| million| billion)?)"


def figures(answer: econ.Answer) -> Iterator[tuple[str, str]]:
    """A pattern with one group, and what stands in its place by the JSON."""
    told = document(answer)
    now, best = told["tonight"], told["answer"]
    limit, stop = told["by_runs"][best["runs"]], told["by_runs"][0]
    if now["do"] != "stop":
        yield r"Fish out: ([\d.]+ %) chance", percent(now["probability_recovered"])
        yield rf"From now on: {AMOUNT} on average", rounded(now["expected_cost"])
        if now["by"] != "plan":
            yield rf"1 time in 10 above {AMOUNT};", rounded(limit["p90"])
            yield r"([\d.]+ %) chance to end dearer", percent(limit["dearer"])
            if limit["cost_if_recovered"] is not None:
                yield rf"Fish out: .*?, for {AMOUNT}\.", rounded(limit["cost_if_recovered"])
            yield rf"Not out: .*?, for {AMOUNT}\.", rounded(limit["cost_if_fallback"])
        yield r"For the runs: ([\d,]+) if", whole(now["ask"]["fishing"])
    else:
        yield rf"Stop now: .*?, for {AMOUNT}\. ", rounded(stop["expected_cost"])
    if now["ask"]["chance"] > 0:
        yield r"For the fallback: ([\d,]+) ", whole(now["ask"]["fallback_p90"])
    if now["by"] != "plan" and told["next_run"] is not None:
        odds, need = told["next_run"]["odds"], told["next_run"]["break_even_odds"]
        near = percent(odds) == percent(need)  # told to one more digit
        yield r"Its odds: ([\d.]+ %)", f"{100 * odds:.1f} %" if near else percent(odds)
    for order in now["orders"]:
        if order["outcome"] == "recovered":
            yield r"AFTER.*?Fish out \((.+?)\)", percent(order["chance"])
    labels = {"recovered": "Fish out", "fallback": "Not out", "stop_now": "Stop now"}
    if best["runs"] and answer.cost_of_minimum > 0:  # a run is required: to stop is no choice
        del labels["stop_now"]
    for key, label in labels.items():
        when = now["back_at_depth"][key]
        if when is not None and (now["do"] != "stop" or key == "stop_now"):
            moment = said_moment(datetime.fromisoformat(when), datetime.fromisoformat(when))
            yield rf"{label}: .*?about (.+?)[,.]", moment[:-6]
    for hinge in now["hangs_on"]:
        where = hinge["flips_at"]
        amount = hinge["amount"]
        said = percent(where) if amount is None else rounded(where * amount)
        yield rf"{hinge['words']} (?:below|above) (.+?)(?: a day)? \(now", said
    if told["authority"]["given"] is not None and not (told["log"] or {}).get(
        "authority_overspent"
    ):
        yield r"Authority: ([\d,]+) ", f"{told['authority']['given']:,.0f}"


@pytest.mark.parametrize("name", SCREENS)
def test_figures_are_those_of_the_json(name: str) -> None:
    spaced = " ".join(shown(name).split())
    checked = 0
    for pattern, expected in figures(answered(name)):
        found = re.search(pattern, spaced)
        assert found is not None, pattern
        assert found.group(1) == expected, pattern
        checked += 1
    assert checked >= (2 if answered(name).best == 0 else 6)


# ---- dates ------------------------------------------------------------------------------------


@pytest.mark.parametrize("runs", [1, 3])
def test_days_with_the_fish_out_are_those_of_coin_flips(runs: int) -> None:
    raw = read(SCENARIO_A)
    found = econ.answer(scenario(raw, n=256)).by_runs[runs]
    rng = np.random.default_rng(20260301)
    played = coin_flip.simulate(raw, n=100_000, rng=rng, limit_runs=runs)
    tail = raw["recovery"]["hours"] / 24.0
    for days, wanted in (
        (played.days[played.recovered] + tail, found.days_if_recovered),
        (played.days[~played.recovered], None),
    ):
        error = days.std() / np.sqrt(len(days))
        if wanted is not None:
            assert wanted == pytest.approx(days.mean(), rel=1e-9, abs=4.0 * error)


def test_days_with_a_fallback_by_hand() -> None:
    # Two runs of 24 h with odds 0.25, then a lump of 200 h: (1 + 1) d + 200/24 d if both fail; with
    # the fish out after 1 d (weight 0.25) or 2 d (weight 0.75 x 0.25), and 12 h of work after it.
    raw = lump_job({"recovered": 0.25, "nothing": 0.75}, {"recovered": 0.25, "nothing": 0.75})
    raw["fallback"][0]["hours"] = 200
    raw["recovery"] = {"hours": 12}
    zero, one, two = econ.answer(scenario(raw, n=16)).by_runs
    assert zero.days_if_recovered is None
    assert zero.days_if_fallback == pytest.approx(200 / 24)
    assert one.days_if_recovered == pytest.approx(1.5)
    assert two.days_if_fallback == pytest.approx(2 + 200 / 24)
    mean = (0.25 * 1 + 0.75 * 0.25 * 2) / (0.25 + 0.75 * 0.25)
    assert two.days_if_recovered == pytest.approx(mean + 0.5)


def test_a_sidetrack_takes_its_retries_in_expectation() -> None:
    # independent: hours and retries of the reference; q/(1 - q) retries
    raw = read(SCENARIO_A)
    found = econ.answer(scenario(raw, n=64)).by_runs[0]
    fallback = raw["fallback"][0]
    depth = job.kickoff_depth(raw, fallback, fish_top=raw["fish"]["top"], hole_lost=False)
    hours = job.sidetrack_hours(raw, fallback, kickoff_depth=depth)
    q = fallback["kickoff_failure"]
    days = (float(hours.base) + q / (1 - q) * float(hours.retry)) / 24.0
    assert found.days_if_fallback == pytest.approx(days)


def test_the_wait_for_an_approval_is_in_the_dates() -> None:
    # by hand: 36 h before the plug wherever the source stays in the hole, none with the fish out
    plain, waiting = (
        econ.answer(econ.load(B, [FEW, *more])).by_runs
        for more in ((), ("limits.approval_hours=36",))
    )
    for one, other in zip(plain, waiting, strict=True):
        assert other.days_if_recovered == one.days_if_recovered
        assert one.days_if_fallback is not None
        assert other.days_if_fallback == pytest.approx(one.days_if_fallback + 1.5)


# ---- orders and the hour to ask ---------------------------------------------------------------


@pytest.mark.parametrize("name", ["a", "c", "d with rented tools", "e attached, with a deadline"])
def test_chances_of_the_orders_sum_to_one(name: str) -> None:
    orders = tonight(answered(name)).orders
    assert sum(order.chance for order in orders) == pytest.approx(1.0, abs=0.002)
    assert [order.outcome for order in orders if order.do == "recovered"] in ([], ["recovered"])


def test_orders_by_hand() -> None:
    # One kind of fish: run 1 ends nothing with 0.6, part 0.1, recovered 0.2, lost 0.1. A limit of
    # two runs is best, so that both go on with run 2.
    odds = {"recovered": 0.2, "nothing": 0.6, "part": 0.1, "string_lost": 0.1}
    raw = lump_job(odds, {"recovered": 0.9, "nothing": 0.1})
    raw["fallback"][0]["cost"] = 9e6
    raw["run"][1]["after"] = [1]  # else run 2 comes first by the plan
    raw["limits"] = {"response_hours": 30}
    raw["job"]["decided_at"] = datetime(2026, 3, 1, 6)
    found = econ.answer(scenario(raw, n=16))
    now = tonight(found)
    assert (found.best, now.do) == (2, 1)
    told = {order.outcome: (round(order.chance, 9), order.do) for order in now.orders}
    assert told == {
        "nothing": (0.6, 2),
        "part": (0.1, 2),
        "recovered": (0.2, "recovered"),
        "lost": (0.1, "stop"),
    }
    # both runs take 24 h: fishing stops after 48 h at the earliest in order, less 30 h
    assert now.asked.by_day == pytest.approx(2.0 - 30 / 24)
    assert "Ask by: Mon 2 Mar 00:00" in " ".join("\n".join(screen_lines(found)).split())


def test_a_stop_asks_now() -> None:
    found = answered("a stops")
    now = tonight(found)
    assert (now.do, now.orders, now.asked.by_day) == ("stop", (), 0.0)


def test_where_a_close_call_turns() -> None:
    # each input set to just either side of its place turns the verdict of the whole program
    path, changes, _ = SCREENS["a close, leaning to stop"]
    found = answered("a close, leaning to stop")
    assert found.close_call
    assert not found.fish
    assert len(found.hinges) == 2
    (hinge,) = [each for each in found.hinges if each.input == "fallback"]
    before = econ.load(path).fallback[0].other_cost
    assert hinge.amount is not None
    for factor, fishes in ((0.97, False), (1.03, True)):
        more = (factor * hinge.at - 1.0) * hinge.amount
        there = econ.load(path, [FEW, *changes, f"fallback.1.other_cost={before + more}"])
        rows = econ.answer(there).by_runs
        pays = min(row.expected_cost for row in rows[1:]) < rows[0].expected_cost
        assert pays is fishes


def test_no_close_call_is_said_of_required_runs() -> None:
    said = shown("b with a required run")
    assert said.startswith("FISH ON, AS REQUIRED")
    assert "CLOSE CALL" not in said


@pytest.mark.parametrize(
    ("costs", "said"),
    [
        (("", ""), "2 runs, cost not logged;"),
        (("70000", ""), "2 runs, 70.0 thousand or more spent;"),
        (("70000", "5000"), "2 runs, 75.0 thousand spent;"),
    ],
)
def test_a_cost_that_is_not_logged_is_not_said_to_be_nothing(
    costs: tuple[str, str], said: str
) -> None:
    rows = "run,start,end,outcome,cost\n1,2026-03-14T06:00,2026-03-15T10:00,nothing,{}\n"
    rows += "2,2026-03-15T10:00,2026-03-17T11:00,nothing,{}\n"
    found = econ.load(A, ["draws.n=64", "fishing.workable=0.02"])  # a stop, a short screen
    log = econ.parse_log(rows.format(*costs), found)
    assert said in " ".join(screen_lines(econ.answer(found, log)))


def test_a_fish_top_is_priced_only_where_the_fish_goes_on() -> None:
    # the junk of C is 1 ft long: its top cannot be 1 ft deeper; the fish of A is 670 ft long
    junk, string = (econ.text(econ.answer(econ.load(path, [FEW])), full=True) for path in (C, A))
    assert "An hour of waiting costs" in junk
    assert "deeper" not in junk
    assert "1 ft deeper" in " ".join(string.split())


def many_runs(count: int) -> dict[str, Any]:
    raw = lump_job(*[{"recovered": 0.1, "nothing": 0.9}] * count)
    raw["job"]["well"] = "A well with a name of many words, " * 3
    for number, run in enumerate(raw["run"]):
        run["name"] = f"A run with a name that is much longer than a line of the screen {number}"
    return raw


@pytest.mark.parametrize("scale", [1e-3, 1.0, 1e3, 1e6])
@pytest.mark.parametrize("make", [lambda: many_runs(1), lambda: many_runs(12)])
def test_long_names_many_runs_and_any_size_of_money(
    make: Callable[[], dict[str, Any]], scale: float
) -> None:
    raw = make()
    raw["currency"] = "KWD"
    raw["rates"]["rig"] *= scale
    raw["fallback"][0]["cost"] = raw["fallback"][0].get("cost", 0.0) * scale
    lines = screen_lines(econ.answer(scenario(raw, n=16)))
    assert len(lines) <= SCREEN
    assert all(len(line) <= WIDTH for line in lines)
    assert "e+" not in "\n".join(lines)


if __name__ == "__main__":
    FILES.mkdir(exist_ok=True)
    for each in SCREENS:
        file_of(each).write_text(shown(each), encoding="utf-8")
