"""Ten questions make a file that `check` passes, and that a person could have written."""

from __future__ import annotations

import subprocess
import sys
import tomllib
from pathlib import Path
from typing import Any

import pytest

from econ.decision import answer
from econ.decision.methods import methods
from econ.desk.draft import Draft
from econ.desk.first_runs import first_runs
from econ.desk.questions import (
    LUMPS,
    contradictions,
    dollar,
    first_text,
    looked_at,
    questions,
    told,
    with_runs,
)
from econ.desk.text_blocks import MARK, Text
from econ.scenario.faults import ScenarioError
from econ.scenario.load import parse
from econ.scenario.scenario import dotted

ROOT = Path(__file__).parents[2]
LEAST: dict[str, Any] = {
    "job.well": "Invented 1",
    "well.depth": 9800,
    "fish.top": 9300,
    "well.hole_diameter": 8.5,
    "well.shoe_depth": 3600,
    "rates": {"rig": 26000},
}
OFFSHORE = {"setting": "offshore"}
WHOLE: dict[str, Any] = {
    **LEAST,
    "job.event": "Parted in the collars, pipe out",
    "job.decided_at": {"date": "2026-03-14T06:00"},
    "fish.what": "drill_string",
    "fish.piece": [
        {"name": "Collars", "length": 400, "value": {"low": 30000, "high": 50000}},
        {"name": "Motor and bit", "length": 100, "value": 180000},
    ],
    "fish.bottom": 9800,
    "well.inclination": 2,
    "well.mud_weight": 9.6,
    "fish.mechanism": "parted",
    "fish.top_condition": "clean",
    "fish.outside_diameter": 6.5,
    "fish.largest_diameter": 8.5,
    "fish.inside_diameter": 2.8,
    "rates": {"rig": 26000, "services": {"low": 18000, "likely": 21000, "high": 25000}},
    "fishing.day_rates": {"hands": 2800, "rentals": 2400},
    "fallback[].gross_rop": {"low": 28, "likely": 36, "high": 44},
    "fallback[].hours": 60,
    "limits.authority": 600000,
}


def finished(answers: dict[str, Any], *, ranked: bool = False) -> str:
    """The file with runs ticked, the best three of `methods` as a user would, or any two."""
    text = first_text(answers)
    here = parse(text, need_odds=False)
    kinds = ["overshot", "dress_top"]
    if ranked:
        kinds = [each.kind for each in methods(here).kinds if each.verdict != "no"][:3]
    return with_runs(text, first_runs(here, kinds, dollar=dollar(answers)))


@pytest.mark.parametrize(
    "more",
    [
        {},
        {"fish.mechanism": "differential", "attached": True},
        {"fish.sealed_source": True, "fish.trapped_gas": True},
        {"fish.what": "junk", "fish.mechanism": "junk", "fish.top": 9797},
        {"currency": "NOK", "dollar": 10.0},
        *({"instead": kind} for kind in LUMPS),
    ],
    ids=str,
)
def test_the_least_answers_make_a_file_that_is_sound(more: dict[str, Any]) -> None:
    scenario = parse(finished({**LEAST, **more}, ranked="instead" not in more))
    assert scenario.run
    assert scenario.job.well == "Invented 1"


def test_metric_answers_make_a_sound_file() -> None:
    metric = {"well.depth": 2990, "fish.top": 2835, "well.hole_diameter": 216}
    text = finished({**LEAST, **metric, "units": "metric", "well.shoe_depth": 1100})
    scenario = parse(text)
    assert scenario.units == "metric"
    assert scenario.run[0].string_length == pytest.approx(107, abs=1)


def test_the_whole_answers_are_in_the_file_without_a_mark_and_it_answers() -> None:
    text = finished(WHOLE, ranked=True)
    values = tomllib.loads(text)
    assert values["rates"] == WHOLE["rates"]
    assert values["fishing"]["day_rates"] == WHOLE["fishing.day_rates"]
    assert values["fish"]["piece"] == WHOLE["fish.piece"]
    assert values["fallback"][0]["gross_rop"] == WHOLE["fallback[].gross_rop"]
    assert "hours" not in values["fallback"][0]
    assert str(values["job"]["decided_at"]) == "2026-03-14 06:00:00"
    assert values["limits"]["authority"] == 600000
    remarks = {dotted(path): words for path, words in Text(text).remarks().items()}
    asked = {"rates.rig", "rates.services", "well.depth", "fish.top", "job.well"}
    for key in asked:
        assert MARK not in remarks.get(key, ""), key
    found = answer(parse(text, ["draws.n=64"]))
    assert found.best >= 1


def test_what_was_not_asked_is_marked_as_a_planning_value_and_nothing_invented_stays() -> None:
    text = finished(LEAST)
    here = Text(text)
    marked = {dotted(path) for path, words in here.remarks().items() if words.startswith(MARK)}
    for key in ("trip_speed.in", "fallback.1.woc", "fishing.workable", "run.1.charge"):
        assert key in marked
    assert "run.1.odds.workable.recovered" in marked
    assert "fish.top" not in marked
    for word in ("Alder", "Fennbrook", "invented land job", "AD-7"):
        assert word not in text
    assert "afe" not in here.values or not here.values["afe"].get("line")
    assert here.values["fish"]["bottom"] == 9800


def test_planning_money_is_turned_into_the_money_of_the_file() -> None:
    dollars = tomllib.loads(finished(LEAST))
    crowns = tomllib.loads(finished({**LEAST, "currency": "NOK", "dollar": 10.0}))
    for each in ("plug_cost", "directional_day", "bit_cost"):
        assert crowns["fallback"][0][each] == 10 * dollars["fallback"][0][each]
    cost = [each["fallback"][0]["stick_again"]["cost"] for each in (crowns, dollars)]
    assert cost[0] == 10 * cost[1]
    assert crowns["run"][0]["string_value"] == 10 * dollars["run"][0]["string_value"]
    assert crowns["rates"] == dollars["rates"]
    assert crowns["fallback"][0]["woc"] == dollars["fallback"][0]["woc"]


def test_planning_values_in_other_money_are_planning_values_all_the_same() -> None:
    other = {"currency": "NOK", "dollar": 10.0}
    text = finished({**LEAST, **other})
    assert "turned at 10 NOK to the dollar" in text
    assert "USD" not in text

    def marked(text: str) -> set[str]:
        remarks = Text(text).remarks().items()
        return {dotted(path) for path, words in remarks if words.startswith(MARK)}

    # the money itself is told there, and cost of sticking again has its mark
    assert marked(finished(LEAST)) - marked(text) == {"currency"}
    assert marked(text) - marked(finished(LEAST)) <= {"fallback.1.stick_again"}
    with pytest.raises(ScenarioError) as error:
        first_text({**LEAST, "currency": "NOK"})
    assert [fault.path for fault in error.value.faults] == [("dollar",)]


def test_answers_that_are_rarely_met_are_asked_about_at_their_field() -> None:
    answers = {
        "units": "metric",
        "well.mud_weight": 9.6,
        "rates": {"rig": 26, "services": {"low": 10, "likely": 21, "high": 30}},
        "fallback[].gross_rop": {"low": 900, "high": 1100},
        "fish.piece": [{"name": "Collars", "length": 100, "weight": 90_000}],
        "well.hole_diameter": 216,
    }
    told = {each["key"]: each["text"] for each in looked_at(answers)}
    # by hand: 9.6 lb/gal are 1,150 kg/m3; a bar of steel of 216 mm and 100 m, 28.8 t
    assert told["well.mud_weight"].startswith("9.6 kg/m3: is it 9.6 lb/gal, 1150 kg/m3?")
    assert "47 USD/d in all" in told["rates"]
    assert "0.61 to 152 m/h" in told["fallback[].gross_rop"]  # 2 to 500 ft/h
    assert "weighs 28,7" in told["fish.piece.1.weight"]
    # A hazard says what it bars and what lifts that; once the owner agreed, whose word goes first.
    cells = {"fish.lithium_batteries": True}
    (told_of,) = looked_at(cells)
    assert told_of["key"] == "fish.lithium_batteries"
    assert "The owner of the tool says" in told_of["text"]
    assert "no owner for any piece" in told_of["text"]
    owned = {"fish.piece": [{"name": "Motor and cells", "length": 500, "owner": "Tools Ltd"}]}
    assert "no owner" not in looked_at({**cells, **owned})[-1]["text"]
    agreed = {**cells, **owned, "fish.written_consent": True}
    assert [each["key"] for each in looked_at(agreed)] == ["fish.written_consent"]
    mills = {
        each.kind: each.verdict for each in methods(parse(first_text({**LEAST, **agreed}))).kinds
    }
    barred = methods(parse(first_text({**LEAST, **cells})))
    assert mills["dress_top"] != "no"
    assert {each.kind: each.verdict for each in barred.kinds}["dress_top"] == "no"
    assert looked_at({"fish": 3, "rates": [1], "fish.piece": "x", "well.depth": "deep"}) == []


def test_an_answer_that_is_missing_or_wrong_is_told_beside_its_question() -> None:
    with pytest.raises(ScenarioError) as error:
        first_text({"job.well": "", "rates": [1], "dollar": 0, "instead": "?", "spy": 1})
    told = {dotted(fault.path) for fault in error.value.faults}
    assert {"job.well", "well.depth", "fish.top", "rates", "dollar", "instead"} <= told
    assert "spy" in str(error.value)


def test_a_job_that_is_begun_answers_and_is_changed_in_what_is_answered_otherwise() -> None:
    text = finished(WHOLE) + '\n[[partner]]\nname = "North"\ninterest = 1\n'
    before = told(text)
    assert before.pop("runs") == ["overshot", "dress_top"]
    assert {key: before[key] for key in ("rates", "fish.piece", "limits.authority")} == {
        key: WHOLE[key] for key in ("rates", "fish.piece", "limits.authority")
    }
    assert "fishing.mobilization" not in before  # a planning value is no answer
    assert first_text(before, text) == text
    rates = {**WHOLE["rates"], "rig": 27000}
    del before["fish.top_condition"]
    changed = first_text({**before, "rates": rates, "units": "metric"}, text)
    lines = zip(text.splitlines(), changed.splitlines(), strict=True)
    assert [
        (new[0] == "#", new.lstrip("# ").split("  ")[0]) for old, new in lines if old != new
    ] == [
        (False, "rig = 27000"),
        (True, 'top_condition = "clean"'),
    ]
    # Runs come behind those that there are; in other money their charges need its rate.
    more = with_runs(changed, first_runs(parse(changed), ["spear"]))
    assert [run.kind for run in parse(more).run] == ["overshot", "dress_top", "spear"]
    for path in (ROOT / "scenarios").glob("*.toml"):  # every demo answers for itself
        text = path.read_text(encoding="utf-8")
        assert (
            first_text({key: each for key, each in told(text).items() if key != "runs"}, text)
            == text
        )
    assert told("rates = 5\nrun = 3\nfish = { piece = 2, marks = 1 }\nfallback = 4") == {
        "instead": "sidetrack",
        "runs": [],
    }


def test_offshore_planning_money_is_twice_that_of_land_work_and_says_so() -> None:
    land, offshore = (tomllib.loads(finished({**LEAST, **more})) for more in ({}, OFFSHORE))
    assert offshore["fallback"][0]["plug_cost"] == 2 * land["fallback"][0]["plug_cost"]
    assert offshore["run"][0]["string_value"] == 2 * land["run"][0]["string_value"]
    assert offshore["rates"] == land["rates"]
    assert offshore["fallback"][0]["woc"] == land["fallback"][0]["woc"]
    assert "land work times 2, for work offshore: judgement, no" in finished({**LEAST, **OFFSHORE})


def test_only_what_is_asked_is_looked_at() -> None:
    deep = {"well.depth": 9000, "fish.top": 9100}
    assert contradictions({**deep, "odds_from": "/etc/passwd", "x\ny": 1}) == contradictions(deep)


def test_hostile_answers_are_text_and_nothing_else() -> None:
    name = 'x"\n[rates]\nrig = 1 # \u202e</script>'
    text = finished({**LEAST, "job.well": name, "job.event": name, "rates": {name: 5}})
    values = tomllib.loads(text)
    assert (values["job"]["well"], values["rates"]) == (name, {name: 5})


def test_the_file_goes_on_being_edited_by_the_form(tmp_path: Any) -> None:
    draft = Draft(tmp_path / "job.toml", lambda *_: None)
    try:
        state = draft.put(draft.state().hash, finished(WHOLE))
        assert state.faults == ()
        state = draft.change(
            state.hash, [{"op": "set", "key": "run.1.wait", "value": {"low": 2, "high": 6}}]
        )
        assert state.faults == ()
    finally:
        draft.close()


def test_there_are_ten_questions_and_every_field_of_them_is_described() -> None:
    asked = questions()["questions"]
    assert len(asked) == 10
    for question in asked:
        for field in question["fields"]:
            assert field["label"]
            assert field["kind"]
            assert field["meaning"]
        assert set(question["must"]) <= {field["key"] for field in question["fields"]}


def test_the_questions_need_no_numpy() -> None:
    code = (
        "import sys; from econ.desk.questions import first_text, questions, with_runs\n"
        "questions(); print({'numpy', 'scipy', 'pandas'} & set(sys.modules))"
    )
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert found.stdout.strip() == "set()"
