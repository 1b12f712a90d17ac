"""What a job taught: hours, odds and outcomes, regret and luck, and the record of it.

Origins of the expected numbers:
    hand          worked beside the number, on the invented lump job: 24,000 a day, stopping costs
                  190,000, fish out costs nothing more
    enumeration   mean and variance of a score over all outcomes, by their chances
    independent   `reference.run_log` and `reference.job`, which share no code with the package
"""

from __future__ import annotations

import csv
import io
import json
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from cli.command import check_plain, ok, refused
from cli.command import econ as command
from raw_jobs import DEMO_A, SCENARIO_A, Table, lump_job, read, scenario
from reference import endings, run_log
from reference import job as reference_job

import econ
from econ.decision.lessons import Lessons
from econ.reports.lessons_tables import lessons_document, record_rows, records_csv
from econ.reports.lessons_text import lessons_text
from econ.scenario.program import OUTCOMES
from econ.scenario.run_log import COLUMNS, LoggedRun, parse_log

pytestmark = pytest.mark.usefixtures("few_bins", "few_states")
EXACT = 1e-9
DECIDED = datetime(2026, 3, 14, 6)
HALF = {"recovered": 0.5, "nothing": 0.5}
POOR = {"recovered": 0.02, "nothing": 0.98}
SCENARIOS = DEMO_A.parent


def row(run: int | str, outcome: str, *, start: float, end: float, **more: Any) -> Table:
    """A row, its times in days since the decision."""
    times = {"start": start, "end": end}
    moments = {key: (DECIDED + timedelta(days=t)).isoformat() for key, t in times.items()}
    return {"run": run, "outcome": outcome, **moments, **more}


def table(*rows: Table) -> str:
    file = io.StringIO()
    writer = csv.DictWriter(file, COLUMNS, lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return file.getvalue()


def logged(raw: Table, *rows: Table) -> tuple[LoggedRun, ...]:
    return parse_log(table(*rows), scenario(raw))


def lessons(raw: Table, *rows: Table, **more: Any) -> Lessons:
    return econ.lessons(scenario(raw), logged(raw, *rows), **more)


def decided(raw: Table) -> Table:
    raw["job"]["decided_at"] = DECIDED
    return raw


FAILS = row(1, "nothing", start=0, end=1.25, cost=30_000)
COMES = row(2, "recovered", start=1.25, end=2.25, cost=24_000)


def test_regret_and_luck_by_hand() -> None:
    found = lessons(decided(lump_job(HALF, POOR)), FAILS, COMES)
    first, second = found.runs
    # A: 24,000 + half of 190,000, then a stop; the stop is advised after run 1
    assert (first.advised, first.done, second.advised, second.done) == (1, 1, "stop", 2)
    assert first.advised_cost == pytest.approx(119_000, rel=EXACT)
    assert second.advised_cost == pytest.approx(190_000, rel=EXACT)
    # D of run 2: 24,000 + 98 of 100 times 190,000
    assert second.done_cost == pytest.approx(24_000 + 0.98 * 190_000, rel=EXACT)
    assert first.regret is not None
    assert second.regret is not None
    assert first.regret.value == 0
    assert second.regret.value == pytest.approx(20_200, rel=1e-6)
    # luck: 30,000 and 190,000 still to be expected against 119,000; then 24,000 against 210,200
    assert first.luck == pytest.approx(101_000, rel=EXACT)
    assert second.luck == pytest.approx(24_000 - 210_200, rel=1e-6)
    assert (found.first_cost, found.total_cost) == pytest.approx((119_000, 54_000), rel=EXACT)
    assert found.regret + found.luck == pytest.approx(54_000 - 119_000, rel=EXACT)
    assert found.luck == pytest.approx(first.luck + second.luck, rel=EXACT)


def test_hours_and_cost_planned_and_actual_by_hand() -> None:
    raw = decided(lump_job(HALF, HALF))
    raw["fishing"] |= {"mobilization": 5_000, "day_rates": {"hand": 2_400}}
    raw["run"][0]["charge"] = 700
    found = lessons(raw, FAILS, row(2, "nothing", start=2.25, end=3, cost=1))
    first, second = found.runs
    assert (first.planned_hours, first.hours) == pytest.approx((24, 30))
    # 24,000 and 2,400 for a day, the charge, and the mobilization before the first run only
    assert (first.planned_cost, second.planned_cost) == pytest.approx((32_100, 26_400))
    assert (first.waited, second.waited) == pytest.approx((0, 24))
    assert (first.between, second.between) == pytest.approx((0, 24_000))
    assert (first.cost, second.cost) == (30_000, 1)


def test_what_comes_before_the_first_run_is_counted_once() -> None:
    raw = lump_job(HALF)
    raw["common"] = {"hours": 12, "cost": 1_000}
    # without a decision in the file nobody knows when it began: as planned
    (only,) = lessons(raw, row(1, "nothing", start=0, end=1, cost=24_000)).runs
    assert (only.waited, only.between) == pytest.approx((0, 13_000))
    (only,) = lessons(decided(raw), row(1, "nothing", start=0.25, end=1, cost=24_000)).runs
    assert (only.waited, only.between) == pytest.approx((6, 7_000))


def test_odds_stated_are_those_of_the_reference() -> None:
    raw = decided(read(SCENARIO_A))
    raw["fishing"].update(odds_ratio_per_day=0.85, loss_odds_ratio_per_day=1.3)
    raw["draws"]["n"] = 16
    rows = [
        row(1, "nothing", start=0, end=1.2),
        row(2, "part", start=1.2, end=3, fish_top=11_333),
        row(3, "top_damaged", start=3, end=4.5),
    ]
    found = lessons(raw, *rows)
    for place in (1, 2):
        goal = run_log.next_odds(raw, rows[:place])
        assert goal is not None
        stated = dict(zip(OUTCOMES, found.runs[place].chances, strict=True))
        for outcome, chance in goal.items():
            assert stated[outcome] == pytest.approx(chance, rel=EXACT, abs=1e-12)
        top = run_log.state(raw, rows[:place]).fish_top
        hours = reference_job.run_hours(endings.plain(raw), raw["run"][place], fish_top=top)
        assert found.runs[place].planned_hours == pytest.approx(float(hours), rel=EXACT)


@pytest.mark.parametrize("odds", [HALF, POOR, {"recovered": 0.2, "part": 0.3, "nothing": 0.5}])
def test_brier_score_and_what_it_expects_by_enumeration(odds: dict[str, float]) -> None:
    raw = lump_job(odds, HALF, part_length=50)
    scores = {}
    for outcome in odds:
        found = lessons(raw, row(1, outcome, start=0, end=1, cost=1))
        assert found.brier is not None
        one = found.runs[0].brier
        assert one == found.brier
        stated = [odds.get(name, 0.0) for name in OUTCOMES]
        came = [float(name == outcome) for name in OUTCOMES]
        scores[outcome] = float(((np.array(stated) - np.array(came)) ** 2).sum())
        assert found.brier.score == pytest.approx(scores[outcome], rel=EXACT)
    mean = sum(odds[name] * score for name, score in scores.items())
    variance = sum(odds[name] * (score - mean) ** 2 for name, score in scores.items())
    assert found.brier.expected == pytest.approx(mean, rel=EXACT)
    assert found.brier.deviation == pytest.approx(variance**0.5, abs=1e-7)


def test_what_the_score_says_of_the_odds() -> None:
    # even odds score a half whatever comes, and expect it
    even = lessons(lump_job(HALF, HALF), row(1, "nothing", start=0, end=1))
    assert "nothing is said against the odds stated" in " ".join(lessons_text(even).split())
    # 0.02 stated twice, and it came both times: 1.92 against 0.04 give or take 0.19
    sure = lump_job({"part": 0.02, "nothing": 0.98}, POOR, part_length=50)
    found = lessons(sure, row(1, "part", start=0, end=1), row(2, "recovered", start=1, end=2))
    assert "surer than what came allows" in lessons_text(found)


def test_odds_of_another_number_of_scrambles() -> None:
    raw = lump_job(HALF, HALF)
    raw["draws"] = {"n": 1024, "scrambles": 20}
    found = lessons(raw, row(1, "nothing", start=0, end=1))
    assert found.runs[0].chances[0] == pytest.approx(0.5, rel=EXACT)


def test_over_several_runs_the_mean_is_taken() -> None:
    found = lessons(lump_job(HALF, POOR), FAILS, COMES)
    one, two = (each.brier for each in found.runs)
    assert one is not None
    assert two is not None
    assert found.brier is not None
    # 0.25 + 0.25; 0.98^2 + 0.98^2
    assert (one.score, two.score) == pytest.approx((0.5, 2 * 0.98**2))
    assert found.brier.score == pytest.approx((0.5 + 2 * 0.98**2) / 2)
    assert found.brier.deviation == pytest.approx((0.02 * 0.98) ** 0.5 * 1.92 / 2)


def test_another_run_than_the_next_by_hand() -> None:
    raw = lump_job(HALF, {"recovered": 0.4, "nothing": 0.6})
    found = lessons(raw, row(2, "nothing", start=0, end=1, cost=24_000))
    (only,) = found.runs
    # as listed 24,000 + half of (24,000 + 114,000); run 2 first 24,000 + 0.6 of 119,000
    assert only.advised_cost == pytest.approx(93_000, rel=EXACT)
    assert only.regret is not None
    assert only.regret.value == pytest.approx(2_400, rel=1e-6)


def test_a_better_run_than_the_advised_has_a_regret_below_nothing() -> None:
    # a plan would find it, but nothing is said of one that saves less than a hundredth
    raw = lump_job({"recovered": 0.495, "nothing": 0.505}, HALF)
    found = lessons(raw, row(2, "nothing", start=0, end=1, cost=24_000))
    (only,) = found.runs
    assert only.advised == 1
    # as listed 24,000 + 0.505 x 119,000; run 2 first 24,000 + half of (24,000 + 0.505 x 190,000)
    assert only.regret is not None
    assert only.regret.value == pytest.approx(83_975 - 84_095, rel=1e-4)


def test_against_a_plan_the_second_best_is_the_plans_own() -> None:
    job = econ.load(SCENARIOS / "a_land_twist_off.toml", ["draws.n=64"])
    log = econ.read_log(SCENARIOS / "logs" / "a_class_job.csv", job)[:2]
    found = econ.lessons(job, log)
    before = found.mornings[1]
    assert before.plan is not None
    assert before.by == "plan"
    head = before.plan.nodes[0]
    row_2 = found.runs[1]
    assert (row_2.done, row_2.advised) == (2, head.do)
    assert row_2.regret is not None
    if head.next_best is not None and head.next_best.do == 2:
        assert row_2.regret == head.next_best.costs_more
    else:
        assert row_2.regret.error > 0
    assert row_2.regret.value > 0


def test_stopping_is_a_decision_as_well() -> None:
    raw = lump_job(HALF, HALF)
    found = lessons(raw, row(1, "nothing", start=0, end=1, cost=24_000), stopped=True)
    # one run more was advised: 119,000; stopping costs 190,000
    assert found.stop_regret is not None
    assert found.stop_regret.value == pytest.approx(71_000, rel=EXACT)
    assert found.left_cost == pytest.approx(190_000, rel=EXACT)
    assert found.luck == pytest.approx(sum(each.luck for each in found.runs), rel=EXACT)
    assert "fishing was then stopped" in " ".join(lessons_text(found).split())
    assert record_rows(found)[-1]["job_end"] == "economics"
    with pytest.raises(ValueError, match="nobody stopped it"):
        lessons(raw, row(1, "recovered", start=0, end=1), stopped=True)


def test_a_run_stopped_half_way_is_no_trial_and_has_no_plan_of_its_own() -> None:
    raw = lump_job(HALF, HALF)
    found = lessons(
        raw,
        row(1, "unfinished", start=0, end=0.5, cost=12_000),
        row(1, "nothing", start=0.5, end=1.5, cost=24_000),
    )
    stopped, made = found.runs
    assert (stopped.planned_hours, stopped.planned_cost, stopped.chances) == (None, None, ())
    assert stopped.brier is None
    assert found.brier is not None
    assert found.brier.runs == 1
    # the job is where it was, and 12,000 are gone
    assert stopped.regret is not None
    assert (stopped.regret.value, stopped.luck) == pytest.approx((0, 12_000), abs=1e-6)
    assert made.planned_hours == pytest.approx(24)
    document = lessons_document(found)
    assert document["totals"]["hours_planned"] == pytest.approx(24)
    assert document["totals"]["hours"] == pytest.approx(36)
    assert [each["run"] for each in document["records"]] == [1]
    assert "what it took is on top" in " ".join(lessons_text(found).split())


def test_a_row_without_a_cost_is_taken_as_planned() -> None:
    raw = lump_job(HALF, HALF)
    found = lessons(raw, row(1, "nothing", start=0, end=1))
    assert found.runs[0].cost is None
    assert found.spent == pytest.approx(24_000, rel=EXACT)
    said = " ".join(lessons_text(found).split())
    assert "1 run without a cost in the log" in said
    assert "A row without a cost is taken as planned." in said


def test_a_run_made_again_beyond_the_file_has_no_known_regret() -> None:
    raw = lump_job(HALF, POOR)
    rows = [row(1, "nothing", start=n, end=n + 1, cost=24_000) for n in (0, 1)]
    found = lessons(raw, *rows)
    assert [each.regret is None for each in found.runs] == [False, True]
    assert found.regret + found.luck == pytest.approx(
        found.total_cost - found.first_cost, rel=EXACT
    )
    assert "is not known" in lessons_text(found)


def test_a_reading_is_held_against_its_price() -> None:
    look = {"name": "caliper", "reliability": 0.8, "reliability_stubborn": 0.7, "hours": 6}
    raw = read(SCENARIO_A) | {"reading": [look]}
    raw["draws"]["n"] = 64
    found = lessons(raw, row("caliper", "reads_workable", start=0, end=0.25, cost=12_000))
    (only,) = found.runs
    assert (only.run, only.done, only.chances) == (None, "caliper", ())
    assert only.planned_hours == pytest.approx(6)
    (told,) = found.mornings[0].information.readings
    assert only.regret is not None
    assert told.price is not None
    limit = found.mornings[0].limit.expected_cost
    assert only.done_cost == pytest.approx(limit + told.price - told.worth.value)
    assert found.brier is None
    assert record_rows(found) == []
    assert records_csv(found).startswith("job,run,kind,outcome")
    check_plain(lessons_text(found))


# ---- what is said and written -------------------------------------------------------------------


DEMO_LOGS = [
    ("a_land_twist_off", "a_class_job"),
    ("a_land_twist_off", "a_class_job_other_end"),
    ("d_rented_tools", "d_three_runs"),
]


@pytest.mark.parametrize(("name", "log"), DEMO_LOGS)
def test_the_demos_add_up_and_become_records(name: str, log: str) -> None:
    job = econ.load(SCENARIOS / f"{name}.toml", ["draws.n=64"])
    found = econ.lessons(job, econ.read_log(SCENARIOS / "logs" / f"{log}.csv", job))
    assert sum(each.luck for each in found.runs) == pytest.approx(found.luck, rel=1e-9)
    words = lessons_text(found)
    check_plain(words)
    assert max(map(len, words.splitlines())) <= 64
    assert "-0 " not in words
    json.dumps(lessons_document(found), allow_nan=False)
    records = econ.parse_records(records_csv(found))
    assert records.rejected == ()
    assert len(records.job) == len(found.log)
    frame = found.to_frame()
    assert list(frame["row"]) == [2, 3, 4, 5][: len(frame)]
    assert repr(found).startswith("Lessons(")
    assert len(repr(found)) < 150
    assert records.stated.tolist() == pytest.approx([r.chances[0] for r in found.runs], abs=1e-4)
    assert records.depth.tolist() == pytest.approx(
        [m.after.fish_top if m.after else m.scenario.fish.top for m in found.mornings[:-1]],
        abs=0.001,
    )


def test_the_guide_tells_the_class_job_as_it_is() -> None:
    job = econ.load(SCENARIOS / "a_land_twist_off.toml")
    log = econ.read_log(SCENARIOS / "logs" / "a_class_job.csv", job)
    last = econ.lessons(job, log).runs[-1]
    assert (last.advised, last.done, last.outcome) == ("stop", 4, "recovered")
    assert last.regret is not None
    assert last.regret.value == pytest.approx(150_000, rel=0.05)
    assert last.luck < -3 * last.regret.value


def test_a_metric_job_writes_its_units() -> None:
    from raw_jobs import metric

    raw = read(SCENARIO_A)
    raw["draws"]["n"] = 16
    other = metric(raw) | {"units": "metric"}
    other["well"]["hole_diameter"] = 8.5 * 25.4
    found = lessons(other, row(1, "nothing", start=0, end=1), row(2, "nothing", start=1, end=2))
    read_back = econ.parse_records(records_csv(found), units="metric")
    assert read_back.depth.tolist() == pytest.approx([raw["fish"]["top"]] * 2, abs=0.01)
    assert read_back.hole_size.tolist() == pytest.approx([8.5, 8.5])


def test_rows_of_records_name_marks_and_doubts() -> None:
    raw = decided(lump_job(HALF, HALF))
    raw["doubt"] = [{"name": name, "workable": 0.5} for name in ("washable", "top_good")]
    good = {"recovered": 0.5, "prepared": 0.3, "nothing": 0.2}
    both = {"workable": good, "stubborn": {"recovered": 0.1, "prepared": 0.1, "nothing": 0.8}}
    raw["run"][0] |= {"odds": both, "depends_on": ["washable"], "gives": ["washed"]}
    raw["run"][1] |= {"odds": {"recovered": 0.3, "nothing": 0.7}, "ratio_with": {"washed": 2.0}}
    raw["fish"]["marks"] = ["cable_out"]
    raw["run"][1]["bars"] = ["cable_out"]
    told = row(1, "prepared", start=0, end=1, marks="-cable_out")
    found = lessons(raw, told, row(2, "nothing", start=1, end=2))
    records = econ.parse_records(records_csv(found))
    # by hand: the first run gives washed, and it was seen that the cable is no longer there
    assert records.marks == (("cable_out",), ("washed",))
    assert records.doubts == (("washable",), ())


def test_no_log_is_refused() -> None:
    with pytest.raises(ValueError, match="a log with a row"):
        econ.lessons(scenario(lump_job(HALF)), ())
    with pytest.raises(TypeError, match="takes a Scenario"):
        econ.lessons("job.toml", ())  # type: ignore[arg-type]


@pytest.fixture
def files(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    from cli.command import scenario as small
    from cli.command import write

    monkeypatch.chdir(tmp_path)
    write(tmp_path / "job.toml", small(runs=2))
    rows = (row(1, "nothing", start=0, end=1, cost=5), row(2, "part", start=1, end=2))
    write(tmp_path / "runs.csv", table(*rows))
    return tmp_path


def test_the_command(files: Path) -> None:
    said = ok("lessons", "job.toml", "--log", "runs.csv", "--out", "past.csv")
    assert said.startswith("LESSONS from 2 rows of the log; the job goes on.")
    check_plain(said)
    records = econ.read_records(files / "past.csv")
    assert (len(records.job), records.rejected) == (2, ())
    document = json.loads(ok("lessons", "job.toml", "--log", "runs.csv", "--json"))
    assert [each["row"] for each in document["runs"]] == [2, 3]
    assert len(document["mornings"]) == 3
    # a table that is there is not replaced, nor is what is read
    before = (files / "past.csv").read_bytes()
    said = refused("lessons", "job.toml", "--log", "runs.csv", "--out", "past.csv")
    assert "a name that is not taken" in said
    assert (files / "past.csv").read_bytes() == before
    call = ("lessons", "job.toml", "--log", "runs.csv")
    assert "that is read" in refused(*call, "--out", "runs.csv")
    assert "ends in .csv" in refused(*call, "--out", "past.xlsx")
    (files / "none.csv").write_text("run,start,end,outcome\n")
    assert "a log without a row" in refused("lessons", "job.toml", "--log", "none.csv")
    over = table(row(1, "recovered", start=0, end=1))
    (files / "over.csv").write_text(over)
    said = refused("lessons", "job.toml", "--log", "over.csv", "--stopped")
    assert "--stopped after recovered" in said
    assert command("lessons", "job.toml").exit_code == 2
