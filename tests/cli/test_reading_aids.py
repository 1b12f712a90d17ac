"""Small things a reader is told beside the numbers. Self: wording and when it appears."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from .command import QUICK, ROOT, A, econ, ok, refused, scenario, write

DEMO_A, DEMO_D = (next((ROOT / "scenarios").glob(f"{letter}_*.toml")) for letter in ("a", "d"))
LOG_D = ROOT / "scenarios" / "logs" / "d_three_runs.csv"
LUMP = '\n[[fallback]]\nname = "Abandon"\nhours = 50\ncost = {cost}\n'


def said(*arguments: object) -> str:
    return " ".join(ok(*arguments).split())


@pytest.mark.parametrize(("cost", "others"), [(99_000_000, False), (700_000, True)])
def test_another_fallback_is_named_only_where_it_can_be_taken(
    tmp_path: Path, cost: int, others: bool
) -> None:
    file = write(tmp_path / "job.toml", A.read_text(encoding="utf-8") + LUMP.format(cost=cost))
    document = json.loads(ok("answer", file, "--json", *QUICK))
    taken = {row["name"] for row in document["fallbacks"] if row["taken"]}
    taken |= {row["name"] for row in document["fallback_reaches"]}
    assert (len(taken) > 1) == others
    text = said("answer", "--full", file, *QUICK, "--set", "limits.minimum_runs=1")
    assert ("or whichever fallback" in text) == others


def test_kinds_are_looked_up_for_runs_that_have_no_odds_yet(tmp_path: Path) -> None:
    bare = A.read_text(encoding="utf-8") + '\n[[run]]\nname = "New"\nkind = "spear"\n'
    file = write(tmp_path / "job.toml", bare)
    assert "METHODS" in said("methods", file)
    assert "[[run]]" in ok("methods", file, "--run", "spear")
    assert "run.6" in refused("answer", file)


def test_a_name_added_by_an_override_is_noted() -> None:
    slip = econ("answer", A, *QUICK, "--set", "rates.rigg=3000")
    assert slip.exit_code == 0
    assert "note: --set rates.rigg adds an amount that the file does not have" in slip.stderr
    assert "did you mean rig?" in slip.stderr
    assert "adds an amount" not in econ("answer", A, *QUICK, "--set", "rates.rig=3000").stderr


def test_more_than_planned_is_said_where_the_fish_costs_more_out(tmp_path: Path) -> None:
    words = "more than planned, so ask that stage 2 may pay for it"
    assert words not in said("answer", "--full", DEMO_A, *QUICK)
    assert words in said("answer", "--full", DEMO_A, *QUICK, "--set", "recovery.charge=300000")


def test_a_stop_is_for_the_job_and_not_for_the_list(tmp_path: Path) -> None:
    # A first run that cannot pay hides a good one behind it: no limit and no rule by state makes
    # it, because both begin with the first.
    bad, good = (
        f"""
[[run]]
name = "{name}"
hours = {hours}
odds = {{ recovered = {recovered}, nothing = {1 - recovered} }}
"""
        for name, hours, recovered in (("Bad", 900, 0.0), ("Good", 5, 0.5))
    )
    text = scenario(recovered=0.01, nothing=0.99)
    head, _, rest = text.partition("[[run]]")
    rest = rest[rest.index("[[fallback]]") :]
    job = write(tmp_path / "two.toml", f"{head}{bad}{good}{rest}")
    told = said("answer", "--full", job)
    assert told.startswith("FISH ON, BY A PLAN: ")
    assert "Begin with run 2, Good." in told
    poor = write(tmp_path / "one.toml", f"{head}{bad}{rest}")
    assert said("answer", "--full", poor).startswith("STOP FISHING")


def test_money_that_is_not_in_the_log_is_not_taken_for_none(tmp_path: Path) -> None:
    table = LOG_D.read_text(encoding="utf-8")
    assert "without a cost" not in said("answer", "--full", DEMO_D, *QUICK, "--log", LOG_D)
    log = write(tmp_path / "runs.csv", re.sub(r"clean,329000,", "clean,,", table))
    assert "1 run without a cost in the log" in said(
        "answer", "--full", DEMO_D, *QUICK, "--log", log
    )


def test_a_tool_called_for_a_run_beyond_the_limit_is_noted() -> None:
    early = ("--set", "rental.3.call_out=1")  # wash pipe, first used by run 4, limit 2
    note = "rental Wash pipe, 7-5/8 in, 200 ft: called out within the limit, but first used by"
    assert note not in said("answer", "--full", DEMO_D, *QUICK)
    assert note in said("answer", "--full", DEMO_D, *QUICK, *early)


def test_a_run_made_before_what_it_comes_after_is_noted(tmp_path: Path) -> None:
    log = write(
        tmp_path / "runs.csv",
        "run,start,end,outcome\n2,2026-05-21T18:00,2026-05-22T20:30,nothing\n",
    )
    note = "run 2 was made although made_1, which it needs, did not hold"
    asks = ("--set", "run.2.after=[1]")
    assert note in said("answer", "--full", DEMO_D, *QUICK, *asks, "--log", log)
    assert note not in said("answer", "--full", DEMO_D, *QUICK, *asks, "--log", LOG_D)
