"""What could be done instead: every fallback, each limit, a wait; what is required and advised.

Origins: by hand, jobs of round numbers; independent, the answer, which walks the whole job.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from supplement_jobs import answered
from test_call_schedule import plain_job

import econ
from econ.decision.choices import choices
from econ.reports.supplement import supplement
from econ.reports.supplement.words import asked_for, in_the_ask, reason, required
from econ.reports.supplement.workbook import book

pytestmark = pytest.mark.usefixtures("few_bins", "few_states")
SCENARIOS = Path(__file__).parents[2] / "scenarios"


def test_fallbacks_and_waits_by_hand() -> None:
    # by hand: 24,000 a day; respud 4 days and 104,000; complete above 1 day, 100,000, and half the
    # time 200,000 of trouble; drilling past needs what is not so
    raw = plain_job()
    raw["fallback"] += [
        {
            "name": "Complete above",
            "kind": "complete_above",
            "hours": 24,
            "cost": 100_000,
            "value_given_up": 50_000,
            "trouble": {"chance": 0.5, "cost": 200_000},
        },
        {"name": "Past", "kind": "drill_past", "hours": 1, "cost": 0, "needs": ["loose"]},
    ]
    raw["run"][1]["gives"] = ["loose"]
    raw["run"][1]["odds"] = {"recovered": 0.5, "prepared": 0.25, "nothing": 0.25}
    found = {choice.name or choice.sort: choice for choice in choices(answered(raw))}
    respud, above = found["Respud"], found["Complete above"]
    assert (respud.mean, respud.p10, respud.p90) == pytest.approx((200_000,) * 3, rel=1e-3)
    assert (respud.days, respud.recovered) == pytest.approx((4.0, 0.0))
    assert above.mean == pytest.approx(224_000 + 50_000)
    assert above.given_up == 50_000  # of which nothing is spent
    assert (above.p10, above.p90) == pytest.approx((174_000, 374_000), rel=1e-3)
    assert found["Past"].ruled_out == "closed"
    assert found["suspend"].day == 24_000
    assert (found["nothing"].days, found["nothing"].mean) == (2.0, 48_000)
    assert [choice.sort for choice in found.values() if choice.asked] == ["limit"]


@pytest.mark.parametrize("name", ["a_land_twist_off", "d_rented_tools", "e_stuck_attached"])
def test_the_fallback_that_is_taken_is_the_stop_of_the_answer(name: str) -> None:
    found = econ.answer(econ.load(SCENARIOS / f"{name}.toml", ["draws.n=32"]))
    stop = found.by_runs[0]
    taken = next(each for each in choices(found) if each.name == found.fallbacks.taken.name)
    assert taken.mean == pytest.approx(stop.expected_cost, rel=1e-9)
    for one, other in zip(
        (taken.p10, taken.p50, taken.p90), (stop.p10, stop.p50, stop.p90), strict=True
    ):
        assert one == pytest.approx(other, rel=0.01)  # two bins of the histogram


def test_required_runs_rule_out_what_has_fewer() -> None:
    raw = plain_job()
    raw["limits"] = {"minimum_runs": 1}
    found = answered(raw)
    ruled_out = {choice.sort: choice.ruled_out for choice in choices(found)}
    assert ruled_out == {"fallback": "runs", "limit": "", "suspend": "", "nothing": ""}
    made = supplement(found)
    (said,) = required(made)
    assert said.startswith("1 run is required before any fallback, as the operator states;")
    sheet = next(sheet for sheet in book(made).sheets if sheet.name == "Choices")
    assert "ruled out: 1 required" in [each.content for each in sheet.placed]


def test_a_reading_that_pays_and_a_source_stand_beside_the_options() -> None:
    found = econ.answer(econ.load(SCENARIOS / "d_rented_tools.toml", ["draws.n=256"]))
    made = supplement(found)
    (reading,) = [choice for choice in choices(found) if choice.sort == "reading"]
    worth = next(each for each in found.information.readings if each.name == reading.name)
    assert worth.worth.value > worth.price == reading.mean
    # by hand: its hours at the spread and the fishing day and its charge are in the ask
    assert any(reading.name in words for words in in_the_ask(made))
    assert made.risks[0].words.value == f"Reading: {reading.name}"
    assert made.risks[0].expected.number == pytest.approx(reading.mean)
    assert made.ask.granted.contingency.number == pytest.approx(reading.mean, abs=0.51)
    # the head says why, beside the next best, and names all fallbacks that slice 2 may be
    asked, above = found.by_runs[found.best], choices(found)[1]
    (why,) = reason(made)
    assert above.name == "Complete above the fish"
    for each in (asked.expected_cost, asked.p90, above.mean, above.p90):
        assert f"{each:,.0f}" in why
    assert f"Now: {above.name}" in why
    assert all(each.name in asked_for(made) for each in made.ask.mix)
    assert len(made.ask.mix) > 1
    # the runs that are asked for stand below the options, as the answer has them
    sheet = next(s for s in book(made).sheets if s.name == "Choices")
    shown = [each.content for each in sheet.placed]
    for run in found.ahead[: found.best]:
        assert {f"{run.run + 1}. {run.name}", run.days, run.cost, run.odds} <= set(shown)
    assert any("Fish from 11,460 to 12,310 ft" in str(words) for words in shown)
    assert not sheet.working  # it is printed, and the limit at other odds with it
    for each in made.odds:
        assert {f"x {each.factor:.3g}{', break-even' if each.break_even else ''}", each.mean} <= {
            *shown
        }
    # the stop rule holds it as well: days, money and last start are later and more by it
    days, money, last = (row.limit.number for row in made.ask.rule[1:4])
    assert days == pytest.approx(found.limit.days + reading.days)
    assert money == pytest.approx(made.ask.sums[0].ask.number, abs=0.51)
    assert last == pytest.approx(found.best_by_days.days + reading.days)
    assert all(row.words.endswith("the measurement in it") for row in made.ask.rule[1:4])
    source = econ.answer(econ.load(SCENARIOS / "b_offshore_sealed_sources.toml", ["draws.n=32"]))
    sheet = next(s for s in book(supplement(source)).sheets if s.name == "Choices")
    said = " ".join(str(each.content) for each in sheet.placed)
    assert "source" in said.lower()
    assert "In the amount, and the first run: run 1" in said
    assert "The wait for the approval of a plug over the source is in no amount" in said
