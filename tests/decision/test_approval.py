"""Hours until a plug over a source is approved: in every end that leaves the source in the hole.

Origins of the expected numbers:
    independent   worked by hand beside the number; the reference of the plan has the same rule and
                  holds the plan and the limits (tests/decision/test_plan.py)
    self          none
"""

from __future__ import annotations

from pathlib import Path

import pytest

from econ.decision import Answer, answer
from econ.decision.methods import methods
from econ.decision.page_model import page_model
from econ.reports import safety
from econ.reports.supplement.estimate import estimate
from econ.scenario import ScenarioError, load, parse
from econ.scenario.notes import notes
from econ.scenario.run_log import parse_log

DEMO_B = Path(__file__).parents[2] / "scenarios" / "point" / "b_offshore_sealed_sources.toml"
SPREAD = 655_000.0  # of demo B [currency/d]
FEW = ("draws.n=64",)

# 1,000 an hour; the fallback is 100 h and 50,000; all single numbers.
JOB = """
schema = 1
units = "field"
currency = "USD"
job = {{ well = "Invented" }}
well = {{ depth = 10000, hole_diameter = 8.5, shoe_depth = 4000 }}
rates.rig = 24000
fish = {{ top = 9600, bottom = 10000{fish} }}
limits = {{ minimum_runs = 0, approval_hours = 30 }}
draws = {{ n = 64, seed = 1 }}
{more}
[[run]]
name = "Retrieve"
hours = 10
gives = ["looked_at"]
{keys}
odds = {{ prepared = 0.5, nothing = 0.3, string_lost = 0.2 }}
[[fallback]]
name = "Plug and abandon"
hours = 100
cost = 50000
"""


def job(*, fish: str = ", sealed_source = true", keys: str = "", more: str = "") -> Answer:
    return answer(parse(JOB.format(fish=fish, keys=keys, more=more)))


def cost(found: Answer, runs: int) -> float:
    return found.by_runs[runs].expected_cost


def test_every_stop_of_demo_b_pays_the_wait_at_the_spread() -> None:
    before, after = (answer(load(DEMO_B, [*FEW, *more])) for more in ((), APPROVAL))
    for old, new in zip(before.by_runs, after.by_runs, strict=True):
        in_hole = 1.0 - old.probability_recovered  # a limit, a lost string and a lost hole alike
        assert new.probability_recovered == old.probability_recovered
        assert new.expected_cost - old.expected_cost == pytest.approx(in_hole * 1.5 * SPREAD)
    best = after.quantities[after.best]
    in_hole = 1.0 - after.by_runs[after.best].probability_recovered
    assert best.approval_days == pytest.approx(1.5 * in_hole)
    assert best.expected["approval"] == pytest.approx(1.5 * in_hole * SPREAD)
    # the other lines of the ledger at that limit are as they were
    others = {name: amount for name, amount in best.expected.items() if name != "approval"}
    old = before.quantities[after.best].expected
    assert others == pytest.approx({name: old[name] for name in others})


APPROVAL = ("limits.approval_hours=36",)


def test_it_is_seen_in_fallbacks_times_supplement_and_page() -> None:
    before, after = (answer(load(DEMO_B, [*FEW, *more])) for more in ((), APPROVAL))
    old, new = (found.fallbacks.rows[0] for found in (before, after))
    assert new.hours - old.hours == pytest.approx(36)
    assert new.time - old.time == pytest.approx(1.5 * SPREAD)
    assert new.now - old.now == pytest.approx(1.5 * SPREAD)
    assert new.after_string_lost - old.after_string_lost == pytest.approx(1.5 * SPREAD)
    assert new.after_hole_lost - old.after_hole_lost == pytest.approx(1.5 * SPREAD)
    times = [found.timetable.fallback for found in (before, after)]
    assert times[1].preparation - times[0].preparation == pytest.approx(1.5)
    assert times[1].drilling == times[0].drilling
    (line,) = [each for each in estimate(after).lines if "approval" in each.words.lower()]
    assert line.mean.amount.number == pytest.approx(
        after.quantities[after.best].expected["approval"]
    )
    assert not [one for one in estimate(before).lines if "approval" in one.words.lower()]
    model = page_model(after)
    assert model.at(model.base).cost == pytest.approx([r.expected_cost for r in after.by_runs])
    (said,) = [words for words in safety.warnings(after.scenario) if "36 h" in words]
    assert "982,500 USD at the spread" in said


def test_a_source_that_is_taken_out_waits_for_nothing() -> None:
    # 150,000 for the fallback; 30,000 to wait; 10,000 for the run
    found = job(keys='takes = ["source"]')
    assert cost(found, 0) == pytest.approx(180_000)
    assert cost(found, 1) == pytest.approx(10_000 + 150_000 + 0.5 * 30_000)
    told = job(fish=', marks = ["source"]', keys='takes = ["source"]')  # as told in the marks
    assert cost(told, 1) == cost(found, 1)
    kept = job()
    assert cost(kept, 1) == pytest.approx(10_000 + 150_000 + 30_000)
    none = job(fish="")
    assert cost(none, 0) == pytest.approx(150_000)
    assert none.quantities[0].expected["approval"] == 0.0


def test_the_clock_goes_on_while_it_is_waited_for_and_weather_does_not_stretch_it() -> None:
    late = job(more="deadline = { in_days = 5, cost_per_day = 24000 }")  # 130 h, 10 h late
    assert cost(late, 0) == pytest.approx(180_000 + 10_000)
    on_time = job(more="deadline = { in_days = 5.42, cost_per_day = 24000 }")
    assert cost(on_time, 0) == pytest.approx(180_000)
    storm = job(more="weather = { fallback = 0.5 }")  # 100 h of work take 200 h, 30 h of office 30
    assert cost(storm, 0) == pytest.approx(30_000 + 200_000 + 50_000)


def test_a_log_ends_the_job_with_the_source_in_the_hole_or_without() -> None:
    head, row = "run,start,end,outcome,cost,marks", "1,2026-03-14T06:00,2026-03-14T16:00"
    for outcome, marks, hours in (("string_lost", "", 30), ("prepared", "", 0)):
        scenario = parse(
            JOB.format(fish=", sealed_source = true", keys='takes = ["source"]', more="").replace(
                '"Invented"', '"Invented", decided_at = 2026-03-14T06:00:00'
            )
        )
        made = parse_log(f"{head}\n{row},{outcome},10000,{marks}\n", scenario)
        assert cost(answer(scenario, made), 0) == pytest.approx(150_000 + 1_000 * hours)


# ---- one derivation of hazards -----------------------------------------------------------------


@pytest.mark.parametrize(
    ("fish", "marks"),
    [
        ("sealed_source = true", {"source", "no_touch"}),
        ('marks = ["source"]', {"source", "no_touch"}),
        ("sealed_source = true, written_consent = true", {"source"}),
        (
            'sealed_source = true, written_consent = true, marks = ["no_touch"]',
            {"source", "no_touch"},
        ),
        ("explosives = true", {"live", "no_touch"}),
        ('what = "guns"', {"live", "no_touch"}),
        ("lithium_batteries = true", {"no_touch"}),
        ("trapped_gas = true", set()),
    ],
)
def test_marks_of_hazards_bar_in_methods_plan_and_list_alike(fish: str, marks: set[str]) -> None:
    for mark in ("source", "live", "no_touch"):
        scenario = parse(JOB.format(fish=f", {fish}", keys=f'bars = ["{mark}"]', more=""))
        assert (mark in scenario.fish.marks) == (mark in marks)
        found = answer(scenario)
        # a run that is barred from the start is never made, and costs nothing
        assert (cost(found, 1) == cost(found, 0)) == (mark in marks)
        held = any("can never be made" in words for words in notes(scenario))
        assert held == (mark in marks)


def test_a_word_that_the_file_does_not_name_is_no_mark_of_it() -> None:
    assert load(DEMO_B).fish.marks == []
    assert load(DEMO_B).minimum_runs == 1


def test_a_source_told_in_the_marks_owes_a_run_as_the_key_does() -> None:
    text = JOB.format(fish=', marks = ["source"]', keys="", more="").replace(
        "minimum_runs = 0, ", ""
    )
    assert parse(text).minimum_runs == 1
    alone = text[: text.index("[[run]]")] + text[text.index("[[fallback]]") :]
    with pytest.raises(ScenarioError) as refused:
        parse(alone)
    (fault,) = refused.value.faults
    assert "a sealed source in the fish and no run" in str(fault)


KINDS = """
[[run]]
name = "{kind}"
kind = "{kind}"
hours = 20
odds = {{ recovered = 0.9, nothing = 0.1 }}
"""


@pytest.mark.parametrize(
    ("fish", "kind", "barred"),
    [
        ("sealed_source = true", "washover", True),
        ("sealed_source = true", "spear", True),
        ("sealed_source = true", "overshot", False),
        ("sealed_source = true, written_consent = true", "washover", False),
        ("sealed_source = true, written_consent = true", "junk_mill", True),
        ("explosives = true", "overshot", True),
        ("explosives = true, written_consent = true", "overshot", True),
        ("lithium_batteries = true", "junk_mill", True),
        ("lithium_batteries = true", "overshot", False),
        ("trapped_gas = true", "junk_mill", False),
    ],
)
def test_no_answer_and_no_plan_makes_a_run_that_a_hazard_bars(
    fish: str, kind: str, barred: bool
) -> None:
    # by definition: what the first block of the text forbids is not what the verdict advises
    text = JOB.format(fish=f", {fish}", keys="", more="")
    text = text[: text.index("[[run]]")] + KINDS.format(kind=kind) + text[text.index("[[fall") :]
    scenario = parse(text)
    found = answer(scenario)
    assert bool(safety.barred_runs(scenario)) == barred
    assert (found.by_runs[-1].probability_recovered == 0.0) == barred
    assert found.plan is not None
    assert (found.plan.nodes[0].do == "stop") == barred
    assert any("can never be made" in words for words in notes(scenario)) == barred
    judged = next(each for each in methods(scenario).kinds if each.kind == kind)
    assert (
        any("writing" in why or "nothing may" in why or "live" in why for why in judged.reasons)
        == barred
    )


def test_consent_against_its_own_mark_is_a_question() -> None:
    fish = ', sealed_source = true, written_consent = true, marks = ["no_touch"]'
    said = list(notes(parse(JOB.format(fish=fish, keys="", more=""))))
    assert any("is the consent there?" in words for words in said)


def test_a_source_is_not_drilled_past_as_a_fallback_either() -> None:
    past = '[[fallback]]\nname = "Past"\nkind = "drill_past"\nhours = 1\ncost = 0\n'
    free = answer(parse(JOB.format(fish="", keys="", more="") + past))
    assert cost(free, 0) == pytest.approx(1_000)
    over = answer(parse(JOB.format(fish=", sealed_source = true", keys="", more="") + past))
    assert cost(over, 0) == pytest.approx(180_000)
