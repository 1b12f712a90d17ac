"""What happens on a job and is not in its plan: each can be logged, and is answered rightly.

Origins of the expected numbers: worked by hand beside the number, on the invented lump job of
`raw_jobs.lump_job`: 24,000 a day, a fallback of 100 h and 50,000, a fish worth 40,000. Times and
contracts after such rows are held against `reference.run_log` in test_run_log.py.
"""

from __future__ import annotations

import copy
import csv
import io
import re
from datetime import datetime, timedelta
from typing import Any

import pytest
from raw_jobs import DEMO_A, SCENARIO_A, Table, lump_job, read, scenario

import econ
from econ.decision.answer import Answer
from econ.reports import sentences, tables
from econ.reports.amounts import Amounts, number
from econ.reports.tables.situation import Situation
from econ.reports.text import text
from econ.reports.whatif_text import whatif_text
from econ.scenario import ScenarioError
from econ.scenario.run_log import COLUMNS, parse_log

pytestmark = pytest.mark.usefixtures("few_bins", "few_states")
EXACT = 1e-9
SCENARIOS = DEMO_A.parent
DECIDED = datetime(2026, 3, 14, 6)
HALF = {"recovered": 0.5, "nothing": 0.5}
LOOK: Table = {"name": "caliper", "reliability": 0.8, "reliability_stubborn": 0.7, "hours": 6}


def row(run: int | str, outcome: str, *, start: float, end: float, **more: Any) -> Table:
    """A row, its times in days since the decision."""
    times = {"start": start, "end": end}
    moments = {key: (DECIDED + timedelta(days=t)).isoformat() for key, t in times.items()}
    return {"run": run, "outcome": outcome, **moments, **more}


def answer(raw: Table, *rows: Table) -> Answer:
    file = io.StringIO()
    writer = csv.DictWriter(file, COLUMNS, lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    made = scenario(raw)
    return econ.answer(made, parse_log(file.getvalue(), made))


def costs(found: Answer) -> list[float]:
    return [limit.expected_cost for limit in found.by_runs]


def said(found: Answer) -> str:
    return " ".join(text(found, full=True).split())


# ---- a run stopped half way ---------------------------------------------------------------------


def even_job(**limits: Any) -> Table:
    raw = lump_job(HALF, HALF)
    raw["fishing"]["mobilization"] = 5_000
    raw["limits"] = limits
    return raw


def test_a_run_stopped_half_way_is_time_and_money_and_no_run() -> None:
    raw = even_job(minimum_runs=2, authority=100_000)
    found = answer(raw, row(1, "unfinished", start=0, end=0.5, cost=20_000))
    # stop: 100,000 + 50,000 + 40,000; one run more: 24,000 + half of that; two: 24,000 + half of
    # 24,000 + half of it. The mobilization is spent: 5,000 more before the row
    assert costs(found) == pytest.approx([190_000, 119_000, 83_500], rel=EXACT)
    assert costs(answer(raw)) == pytest.approx([190_000, 124_000, 88_500], rel=EXACT)
    assert [each.run for each in found.ahead] == [0, 1]
    assert found.runs_made == 0
    assert found.after is not None
    assert found.after.runs_made == 0
    assert Situation.of_answer(found).least_runs == 2
    assert found.authority.given == 80_000
    assert found.now == DECIDED + timedelta(hours=12)
    assert "SO FAR: 0 runs and 1 stopped half way in 12.0 h" in said(found)
    assert "run 1: unfinished" in said(found)


def test_its_next_use_has_the_odds_as_stated_at_its_hour() -> None:
    raw = even_job()
    raw["fishing"]["odds_ratio_per_day"] = 0.5
    raw["job"]["decided_at"] = DECIDED
    found = answer(raw, row(1, "unfinished", start=0, end=1))
    # 1 : 1 halves in a day to 1 : 2, whatever was done in that day
    assert found.ahead[0].run == 0
    assert found.ahead[0].odds == pytest.approx(1 / 3, rel=EXACT)


def kinds_job() -> Table:
    workable = {"recovered": 0.6, "nothing": 0.4}
    raw = lump_job(*[{"workable": workable, "stubborn": {"recovered": 0.1, "nothing": 0.9}}] * 2)
    raw["fishing"]["workable"] = 0.5
    return raw


def test_belief_does_not_move_and_the_run_may_be_made_again() -> None:
    found = answer(kinds_job(), row(1, "unfinished", start=0, end=0.5))
    assert found.ahead[0].workable == 0.5
    # made again at last, with nothing: 0.5 x 0.4 against 0.5 x 0.9
    again = answer(
        kinds_job(), row(1, "unfinished", start=0, end=0.5), row(1, "nothing", start=0.5, end=1.5)
    )
    assert again.ahead[0].run == 1
    assert again.ahead[0].workable == pytest.approx(0.4 / 1.3, rel=EXACT)
    assert again.runs_made == 1


def test_by_its_kind_it_is_the_same_run_that_comes_next() -> None:
    raw = even_job()
    for run in raw["run"]:
        run["kind"] = "overshot"
    found = answer(
        raw,
        {**row("", "unfinished", start=0, end=0.5), "kind": "overshot"},
        {**row("", "nothing", start=0.5, end=1.5), "kind": "overshot"},
    )
    assert [each.run for each in found.log] == [0, 0]
    assert [each.run for each in found.ahead] == [1]


def test_marks_move_only_as_its_row_says() -> None:
    raw = even_job()
    raw["run"][0] |= {"odds": {"prepared": 0.8, "nothing": 0.2}, "gives": ["washed"]}
    raw["run"][1]["needs"] = ["washed"]
    raw["run"].append({"name": "run 3", "hours": 24, "odds": HALF, "after": [1]})
    stopped = row(1, "unfinished", start=0, end=0.5)
    assert next(iter(answer(raw, stopped).ahead)).run == 0
    # run 2 needs the mark, run 3 that run 1 was made to its end: neither holds
    for run, why in ((2, "washed, which it needs"), (3, "made_1, which it needs")):
        found = answer(raw, stopped, row(run, "nothing", start=0.5, end=1.5))
        assert why in found.log[1].warning
    seen = answer(raw, {**stopped, "marks": "+washed"}, row(2, "nothing", start=0.5, end=1.5))
    assert seen.log[1].warning == ""
    # a damaged top stays so, although the run would have dressed it
    raw["run"][0] |= {"dresses_top": True}
    hurt = answer(raw, {**stopped, "marks": "+damaged_top"})
    assert hurt.after is not None
    assert hurt.after.top_damaged


def test_its_depth_is_that_of_the_fish_as_it_was() -> None:
    found = answer(even_job(), row(1, "unfinished", start=0, end=0.5, fish_top=9_600.5))
    assert found.after is not None
    assert found.after.fish_top == 9_600.5
    with pytest.raises(ScenarioError, match="the outcome moves none"):
        answer(even_job(), row(1, "unfinished", start=0, end=0.5, fish_top=9_700))


def test_a_reading_stopped_half_way_may_be_taken_again() -> None:
    raw = read(SCENARIO_A)
    raw |= {"reading": [LOOK], "run": raw["run"][:2], "draws": {"n": 64}}
    stopped = row("caliper", "unfinished", start=0, end=0.1)
    assert answer(raw, stopped).ahead[0].workable == pytest.approx(0.7, rel=EXACT)
    found = answer(raw, stopped, row("caliper", "reads_workable", start=0.1, end=0.4))
    # Bayes by hand: 0.7 x 0.8 against 0.3 x 0.3
    assert found.ahead[0].workable == pytest.approx(0.56 / 0.65, rel=EXACT)


# ---- a run made although its test failed --------------------------------------------------------


def test_a_run_made_although_its_test_failed_is_evidence_as_any_other() -> None:
    raw = kinds_job() | {"reading": [LOOK]}
    found = answer(
        raw,
        row("caliper", "reads_stubborn", start=0, end=0.25),
        row(1, "nothing", start=0.25, end=1.25),
    )
    # Bayes by hand: 0.5 x 0.2 x 0.4 against 0.5 x 0.7 x 0.9
    belief = 0.04 / (0.04 + 0.315)
    assert found.ahead[0].workable == pytest.approx(belief, rel=EXACT)
    odds = belief * 0.6 + (1 - belief) * 0.1
    assert found.ahead[0].odds == pytest.approx(odds, rel=EXACT)
    # stop 190,000; the last run: 24,000 and what is left of the 190,000
    assert costs(found) == pytest.approx([190_000, 24_000 + (1 - odds) * 190_000], rel=EXACT)


def test_a_run_whose_needs_did_not_hold_is_told_and_answered() -> None:
    raw = kinds_job()
    raw["run"][0] |= {"needs": ["washed"]}
    raw["run"].append({"name": "wash", "hours": 24, "gives": ["washed"], "odds": {"prepared": 1}})
    found = answer(raw, row(1, "nothing", start=0, end=1))
    assert "washed, which it needs, did not hold" in found.log[0].warning
    assert "washed, which it needs, did not hold" in said(found)
    assert found.ahead[0].workable == pytest.approx(0.4 / 1.3, rel=EXACT)
    assert found.runs_made == 1


# ---- a string lost, and a fish out in two parts -------------------------------------------------


def test_a_lost_string_is_paid_with_what_is_left() -> None:
    raw = lump_job({"recovered": 0.5, "string_lost": 0.5}, HALF, string_value=30_000)
    raw["run"][0]["string_length"] = 500
    found = answer(raw, row(1, "string_lost", start=0, end=1, cost=24_000))
    assert found.ended == "string_lost"
    # the fallback 150,000, the fish 40,000, the string 30,000; no run is left to make
    assert costs(found) == pytest.approx([220_000], rel=EXACT)
    assert "FISHING IS OVER" in text(found)


def test_a_fish_that_comes_out_in_two_parts_is_two_rows() -> None:
    raw = lump_job({"recovered": 0.4, "part": 0.3, "nothing": 0.3}, HALF, part_length=50)
    raw["recovery"] = {"hours": 12}
    first = row(1, "part", start=0, end=1, fish_top=9_800)
    half = answer(raw, first)
    # 200 of 400 ft are out: 150,000 + 20,000; one run more: 24,000 + half of 12,000 and of that
    assert costs(half) == pytest.approx([170_000, 24_000 + 6_000 + 85_000], rel=EXACT)
    whole = answer(raw, first, row(2, "recovered", start=1, end=2))
    assert whole.ended == "recovered"
    assert costs(whole) == pytest.approx([12_000], rel=EXACT)
    assert text(whole).startswith("THE FISH IS OUT")
    morning = tables.morning(whole)
    assert morning is not None
    assert morning["runs_made"] == 2


# ---- what is said whether or not fishing goes on ------------------------------------------------


@pytest.mark.parametrize("outcome", ["nothing", "recovered", "string_lost"])
def test_an_overspent_authority_is_said(outcome: str) -> None:
    raw = lump_job({"recovered": 0.4, "string_lost": 0.2, "nothing": 0.4}, HALF)
    raw["limits"] = {"authority": 50_000}
    found = answer(raw, row(1, outcome, start=0, end=1, cost=60_000.4))
    # rounded up
    words = "Authority overspent by 10,001 USD: 60,001 USD is spent, 50,000 USD was given."
    assert words in said(found)
    morning = tables.morning(found)
    assert morning is not None
    assert morning["authority_overspent"] == pytest.approx(10_000.4)
    assert morning["authority_left"] == 0
    within = answer(raw, row(1, outcome, start=0, end=1, cost=50_000))
    assert "overspent" not in said(within)


def test_a_run_beyond_the_limit_then_in_force_is_flagged() -> None:
    # stop 190,000; the first run costs 24,000 and leaves half of it, the others leave 98 of 100:
    # 24,000 + 186,200 is more than stopping
    poor = {"recovered": 0.02, "nothing": 0.98}
    raw = lump_job(HALF, poor, poor)
    rows = [row(n, "nothing", start=n - 1, end=n) for n in (1, 2, 3)]
    found = answer(raw, *rows)
    assert [then.runs for then in found.limits_then] == [1, 0, 0]
    assert [then.beyond for then in found.limits_then] == [False, True, True]
    morning = tables.morning(found)
    assert morning is not None
    assert [each["beyond_limit"] for each in morning["runs"]] == [False, True, True]
    assert "run 1: nothing - " in said(found)
    assert "run 2: nothing, beyond the limit then in force" in said(found)
    # what has to be made is within it
    raw["limits"] = {"minimum_runs": 2}
    assert [then.beyond for then in answer(raw, *rows).limits_then] == [False, False, True]
    # and a reading is no run
    raw = kinds_job() | {"reading": [LOOK]}
    look = answer(raw, row("caliper", "reads_workable", start=0, end=0.2))
    assert [(then.runs, then.beyond) for then in look.limits_then] == [(None, False)]


def test_a_run_that_a_plan_orders_is_not_beyond_the_limit() -> None:
    # by hand: in the order listed 900 h are spent for nothing first; run 2 alone costs 5 h at
    # 1,000 and saves half of the 190,000 of stopping, so a plan makes it though no limit does
    bad, good = {"nothing": 1.0}, HALF
    raw = lump_job(bad, good)
    raw["run"][0]["hours"], raw["run"][1]["hours"] = 900, 5
    assert answer(raw).best == 0
    assert answer(raw).by == "plan"
    ordered = answer(raw, row(2, "nothing", start=0, end=0.2))
    assert [(then.runs, then.beyond) for then in ordered.limits_then] == [(0, False)]
    assert "beyond the limit" not in said(ordered)
    # when the good one is gone, nothing orders the other
    both = answer(raw, row(2, "nothing", start=0, end=0.2), row(1, "nothing", start=0.2, end=38))
    assert [then.beyond for then in both.limits_then] == [False, True]


def test_the_demo_that_was_made_past_its_limit_says_so() -> None:
    job = econ.load(SCENARIOS / "d_rented_tools.toml", ["draws.n=64"])
    found = econ.answer(job, econ.read_log(SCENARIOS / "logs" / "d_three_runs.csv", job))
    # the remark of its third row says the same
    assert "made past the limit" in found.log[2].remark
    assert [then.beyond for then in found.limits_then] == [False, False, True]


MINUS_NOTHING = re.compile(r"(?<![\w.-])-0(\.0*)?(?![\d.])")


@pytest.mark.parametrize("value", [-0.0, -1e-12, -0.004])
def test_nothing_has_no_sign(value: float) -> None:
    shown = [
        sentences.percent(value / 100),
        number(0.0 * value),
        Amounts(largest=1e6, currency="USD").short(value),
    ]
    assert not [words for words in shown if words.startswith("-")]


@pytest.mark.parametrize("outcome", ["nothing", "recovered", "string_lost"])
def test_no_report_shows_minus_nothing(outcome: str) -> None:
    assert MINUS_NOTHING.search("a chance of -0 %")
    raw = lump_job({"recovered": 1 / 3, "string_lost": 1 / 7, "nothing": 11 / 21}, HALF)
    raw["fishing"]["workable"] = {"low": 0.3, "high": 0.9}
    raw["limits"] = {"authority": 1_000}
    found = answer(raw, row(1, outcome, start=0, end=1, cost=60_000))
    assert not MINUS_NOTHING.search(text(found, full=True))
    other = copy.deepcopy(raw)
    other["rates"]["rig"] += 1e-9
    compared = econ.whatif(scenario(raw), scenario(other))
    assert not MINUS_NOTHING.search(whatif_text(compared))
