"""`odds_from`: what it does to a scenario, worked out beside it, and what it refuses.

Origins: blends by hand with the formula at the head of econ/scenario/odds_from.py (a Beta or
Dirichlet judgement and as many counted cases add up, Bayes' rule: textbook, from memory); the
answer of a scenario that holds the same numbers, written by hand; words and lines counted by hand.
"""

from __future__ import annotations

import copy
import tomllib
from pathlib import Path

import pandas as pd
import pytest
from raw_jobs import DEMO_A, read, scenario

from econ.cli.files import starter
from econ.decision import Answer, answer
from econ.records import odds, odds_fragment, parse_records, read_records
from econ.scenario import Scenario, ScenarioError, load, parse
from econ.scenario.load import Variants
from econ.scenario.notes import notes
from econ.scenario.odds_file import read_odds_file
from econ.scenario.odds_from import resolve

pytestmark = pytest.mark.usefixtures("few_bins", "few_states")
SIX = ("recovered", "part", "nothing", "top_damaged", "string_lost", "hole_lost")
QUICK = ("draws.n=64",)
DEMO = DEMO_A.parent / "records" / "invented_jobs.csv"


def odds_file(
    *,
    good: float = 0.7,
    bad: float = 0.05,
    weight: float = 30.0,
    workable: float | None = 0.6,
    kinds: tuple[str, ...] = ("overshot", "wash_then_catch", "wall_hook"),
    day: str = "",
) -> str:
    """A file of odds with the same odds for each kind, written by hand."""

    def six(chance: float) -> str:
        rest = f"part = 0.0, nothing = {1 - chance!r}, top_damaged = 0.0"
        ends = f"low = {chance / 2}, high = {(1 + chance) / 2}"
        lost = "string_lost = 0.0, hole_lost = 0.0"
        return f"{{ recovered = {chance}, {rest}, {lost}, weight = {weight}, {ends} }}"

    lines = ["schema = 1", 'source = "past.csv"', "jobs = 90", "runs = 200"]
    lines += ["recovered = 50", "lost = 10", "stopped = 30"]
    if workable is not None:
        lines.append(f"workable = {{ mean = {workable}, weight = 24, low = 0.4, high = 0.8 }}")
    if day:
        lines.append(day)
    for kind in kinds:
        lines += [f"[kind.{kind}]", "runs = 60", "jobs = 40", "recovered = 20"]
        lines.append(f"odds = {six(0.4)}")
        if workable is not None:
            lines += [f"workable = {six(good)}", f"stubborn = {six(bad)}"]
    return "\n".join(lines) + "\n"


def job(*runs: str, top: str = "", fishing: str = "") -> str:
    """A small invented job; `runs` are the lines of each run beside its name."""
    listed = "\n".join(f'[[run]]\nname = "Run"\nhours = 24\n{each}\n' for each in runs)
    return f"""schema = 1
units = "field"
currency = "USD"
{top}
[job]
well = "Well"
event = "Invented"
[well]
depth = 9000
hole_diameter = 8.5
shoe_depth = 3000
[rates]
rig = 20000
[fishing]
{fishing}
[fish]
top = 8400
bottom = 9000
{listed}
[[fallback]]
name = "Sidetrack"
hours = 200
cost = 300000
[draws]
n = 16
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "odds.toml").write_text(odds_file(), encoding="utf-8")
    return tmp_path


def made(folder: Path, *runs: str, fishing: str = "") -> Scenario:
    return parse(job(*runs, top='odds_from = "odds.toml"', fishing=fishing), folder=folder)


def of(odds: object) -> list[float]:
    return [float(getattr(odds, name)) for name in SIX]


# ---- what becomes of each value ----------------------------------------------------------------


def test_a_run_without_odds_takes_those_of_its_kind(folder: Path) -> None:
    found = made(folder, 'kind = "overshot"')
    run = found.run[0]
    assert of(run.odds.workable) == pytest.approx([0.7, 0, 0.3, 0, 0, 0])
    assert of(run.odds.stubborn) == pytest.approx([0.05, 0, 0.95, 0, 0, 0])
    assert (run.odds.workable.weight, run.odds.stubborn.weight) == (30, 30)
    assert [(each.how, each.cases, each.jobs) for each in run.evidence] == [("records", 60, 40)] * 2
    assert (found.fishing.workable.mean, found.fishing.workable.weight) == (0.6, 24)
    assert found.fishing.evidence[0].how == "records"


def test_odds_with_weight_are_blended_by_weight(folder: Path) -> None:
    tables = """odds.workable = { recovered = 0.4, part = 0.2, nothing = 0.4, weight = 10 }
odds.stubborn = { recovered = 0.01, nothing = 0.99, weight = 30 }"""
    found = made(folder, f'kind = "overshot"\n{tables}', fishing="workable = {mean=0.9, weight=6}")
    run = found.run[0]
    # by hand: (10 x 0.4 + 30 x 0.7) / 40 = 0.625, part 2/40, nothing (4 + 9)/40
    assert of(run.odds.workable) == pytest.approx([0.625, 0.05, 0.325, 0, 0, 0])
    assert run.odds.workable.weight == 40
    assert run.odds.stubborn.recovered == pytest.approx((30 * 0.01 + 30 * 0.05) / 60)
    assert found.fishing.workable.mean == pytest.approx((6 * 0.9 + 24 * 0.6) / 30)
    assert found.fishing.workable.weight == 30
    said = "\n".join(notes(found))
    assert "judgement worth 10 and 30 blended with past jobs worth 30 (past.csv: 60 runs" in said
    assert "95 % interval 0.35 to 0.85 on a workable, " in said
    assert " to 0.53 on a stubborn fish" in said
    assert "fishing.workable: judgement worth 6 blended with past jobs worth 24" in said


def test_one_table_is_blended_with_the_table_of_all_fish(folder: Path) -> None:
    found = made(folder, 'kind = "spear"\nodds = {recovered=0.5, nothing=0.5, weight=10}')
    assert of(found.run[0].odds) == pytest.approx([0.5, 0, 0.5, 0, 0, 0])  # no spear in it
    assert found.run[0].evidence[0].how == "kept"
    found = made(folder, 'kind = "overshot"\nodds = {recovered=0.8, nothing=0.2, weight=10}')
    assert found.run[0].odds.recovered == pytest.approx((10 * 0.8 + 30 * 0.4) / 40)


def test_odds_without_weight_are_kept_and_said(folder: Path) -> None:
    found = made(folder, 'kind = "overshot"\nodds = {recovered=0.8, nothing=0.2}')
    assert found.run[0].odds.recovered == 0.8
    assert any("kept as stated" in note and "no weight" in note for note in notes(found))


def test_tables_by_kind_of_fish_are_moved_by_one_odds_ratio_to_records_of_all(
    tmp_path: Path,
) -> None:
    (tmp_path / "odds.toml").write_text(odds_file(workable=None), encoding="utf-8")
    tables = """odds.workable = { recovered = 0.5, part = 0.2, nothing = 0.3, weight = 20 }
odds.stubborn = { recovered = 0.1, nothing = 0.9, weight = 20 }"""
    found = made(tmp_path, f'kind = "overshot"\n{tables}', fishing="workable = 0.75")
    good, bad = found.run[0].odds.workable, found.run[0].odds.stubborn
    mean = 0.75 * good.recovered + 0.25 * bad.recovered
    assert mean == pytest.approx((20 * (0.75 * 0.5 + 0.25 * 0.1) + 30 * 0.4) / 50)
    ratio = [p / (1 - p) / (q / (1 - q)) for p, q in ((good.recovered, 0.5), (bad.recovered, 0.1))]
    assert ratio[0] == pytest.approx(ratio[1])
    assert good.part / good.nothing == pytest.approx(2 / 3)
    assert (good.weight, bad.weight) == pytest.approx((20 + 0.75 * 30, 20 + 0.25 * 30))
    assert sum(of(good)) == pytest.approx(1)


TABLES = """kind = "overshot"
odds.workable = { recovered = 0.5, part = 0.2, nothing = 0.3, weight = 20 }
odds.stubborn = { recovered = 0.1, nothing = 0.9, weight = 20 }"""


def with_doubts(folder: Path, doubts: str, *runs: str) -> Scenario:
    return parse(job(*runs, top='odds_from = "odds.toml"', fishing=doubts), folder=folder)


def test_the_chance_of_the_only_doubt_is_filled_or_blended(folder: Path) -> None:
    left_out = '[[doubt]]\nname = "top_good"\n'
    found = with_doubts(folder, left_out, 'kind = "overshot"')
    assert (found.doubt[0].workable.mean, found.doubt[0].workable.weight) == (0.6, 24)
    assert "workable" not in found.fishing.model_fields_set
    assert [each.how for each in found.doubt[0].evidence] == ["records"]
    assert any(words.startswith("doubt.1.workable: from past jobs only") for words in notes(found))
    stated = f"{left_out}workable = {{ mean = 0.9, weight = 6 }}\n"
    found = with_doubts(folder, stated, 'kind = "overshot"')
    # by hand: (6 x 0.9 + 24 x 0.6) / 30
    assert found.doubts[0].workable.mean == pytest.approx(0.66)
    assert found.doubts[0].workable.weight == 30
    again = Variants(
        job('kind = "overshot"', top='odds_from = "odds.toml"', fishing=stated), folder=folder
    )
    other = again.scenario(["doubt.1.workable={mean=0.5,weight=6}"])
    assert other.doubts[0].workable.mean == pytest.approx((6 * 0.5 + 24 * 0.6) / 30)
    assert other.doubts[0].evidence[0].how == "blended"


def test_of_several_doubts_each_states_its_own_chance(folder: Path) -> None:
    two = "".join(f'[[doubt]]\nname = "{name}"\nworkable = 0.5\n' for name in ("top", "jars"))
    found = with_doubts(folder, two, 'kind = "overshot"')
    assert [doubt.workable for doubt in found.doubts] == [0.5, 0.5]
    assert [each.how for doubt in found.doubts for each in doubt.evidence] == ["kept", "kept"]
    assert any("doubt.2.workable: kept as stated" in words for words in notes(found))
    lacking = two.replace("workable = 0.5\n", "", 1)
    assert faults(job('kind = "overshot"', top='odds_from = "odds.toml"', fishing=lacking), folder)
    many = "".join(f'[[doubt]]\nname = "d{n}"\nworkable = 0.5\n' for n in range(5))
    (told,) = faults(job('kind = "overshot"', top='odds_from = "odds.toml"', fishing=many), folder)
    assert "at most 4 items" in told


@pytest.mark.parametrize("second", ["jars", "top"])
def test_tables_are_moved_at_the_belief_in_the_doubts_of_their_run(
    tmp_path: Path, second: str
) -> None:
    (tmp_path / "odds.toml").write_text(odds_file(workable=None), encoding="utf-8")
    doubts = """[[doubt]]
name = "top"
workable = 0.75
[[doubt]]
name = "jars"
workable = 0.25
"""
    runs = [f'{TABLES}\ndepends_on = ["top"]', f'{TABLES}\ndepends_on = ["{second}"]']
    found = with_doubts(tmp_path, doubts, *runs)
    # by hand: after the miss of run 1, as stated, top is 0.375 / (0.375 + 0.225); jars stays
    belief = {"top": 0.375 / 0.6, "jars": 0.25}[second]
    odds_2 = found.run[1].odds
    mean = belief * odds_2.workable.recovered + (1 - belief) * odds_2.stubborn.recovered
    judged = belief * 0.5 + (1 - belief) * 0.1
    assert mean == pytest.approx((20 * judged + 30 * 0.4) / 50)  # 30: weight of the records


def test_prepared_is_blended_like_any_outcome(tmp_path: Path) -> None:
    text = odds_file(workable=None, kinds=("washover",))
    text = text.replace("nothing = 0.6", "nothing = 0.2, prepared = 0.4")
    (tmp_path / "odds.toml").write_text(text, encoding="utf-8")
    keys = 'kind = "washover"\ngives = ["washed"]\n'
    found = made(tmp_path, keys)
    assert found.run[0].odds.prepared == 0.4
    stated = "odds = { recovered = 0.2, prepared = 0.8, weight = 10 }"
    found = made(tmp_path, f"{keys}{stated}")
    assert found.run[0].odds.prepared == pytest.approx((10 * 0.8 + 30 * 0.4) / 40)


def test_the_factor_of_a_day_is_taken_where_left_out_and_kept_where_stated(tmp_path: Path) -> None:
    day = "odds_ratio_per_day = {median=0.8, factor=1.1, low=0.7, high=0.9, jobs=90}"
    (tmp_path / "odds.toml").write_text(odds_file(day=day), encoding="utf-8")
    found = made(tmp_path, 'kind = "overshot"')
    assert found.fishing.odds_ratio_per_day.median == 0.8
    stated = made(tmp_path, 'kind = "overshot"', fishing="odds_ratio_per_day = 0.95")
    assert stated.fishing.odds_ratio_per_day == 0.95
    assert [each.how for each in stated.fishing.evidence] == ["records", "kept"]
    unused = made(
        tmp_path, 'kind = "overshot"\nodds = {recovered=0.8, nothing=0.2}'
    )  # no run rests on the records, so neither does the day
    assert unused.fishing.evidence == ()


# ---- the answer of scenario A ------------------------------------------------------------------


def solved(folder: Path, text: str) -> Answer:
    """Scenario A, judgement and all, with a file of odds beside it."""
    (folder / "odds.toml").write_text(text, encoding="utf-8")
    scenario = parse(DEMO_A.read_text("utf-8"), (*QUICK, "odds_from=odds.toml"), folder=folder)
    return answer(scenario)


def best_cost(found: Answer) -> float:
    return float(found.to_frame()["expected_cost"].min())


def out_after_one(found: Answer) -> float:
    return float(found.to_frame()["probability_recovered"].iloc[1])


def test_answer_is_that_of_a_scenario_with_the_same_numbers_written_by_hand(
    tmp_path: Path,
) -> None:
    text = odds_fragment(odds(read_records(DEMO)))
    known = tomllib.loads(text)
    raw = read(DEMO_A)
    for run in raw["run"]:
        past = known["kind"].get(run["kind"])
        if past is None:
            assert run["kind"] == "wall_hook"  # not in the records: as judged
            continue
        for fish in ("workable", "stubborn"):
            judged = run["odds"][fish]
            w, r = judged["weight"], past[fish]["weight"]
            blend = {name: (w * judged[name] + r * past[fish][name]) / (w + r) for name in SIX}
            run["odds"][fish] = {**blend, "weight": w + r}
    judged, past = raw["fishing"]["workable"], known["workable"]
    w, r = judged["weight"], past["weight"]
    mean = (w * judged["mean"] + r * past["mean"]) / (w + r)
    raw["fishing"]["workable"] = {"mean": mean, "weight": w + r}
    by_hand = answer(scenario(raw, n=64))
    by_file = solved(tmp_path, text)
    assert by_file.best == by_hand.best
    for name in ("to_frame", "days_frame", "runs_frame"):
        pd.testing.assert_frame_equal(
            getattr(by_file, name)(), getattr(by_hand, name)(), rtol=1e-9, atol=1e-9
        )
    assert by_file.to_frame().equals(solved(tmp_path, text).to_frame())  # the same again


def test_good_records_lower_the_cost_and_poor_ones_raise_it_the_more_the_heavier(
    tmp_path: Path,
) -> None:
    alone = answer(parse(DEMO_A.read_text("utf-8"), QUICK))
    good, better = (
        solved(tmp_path, odds_file(good=0.95, bad=0.3, workable=0.9, weight=weight))
        for weight in (10.0, 300.0)
    )
    poor, poorer = (
        solved(tmp_path, odds_file(good=0.15, bad=0.01, workable=0.3, weight=weight))
        for weight in (10.0, 300.0)
    )
    order = (poorer, poor, alone, good, better)
    out = [out_after_one(each) for each in order]
    cost = [best_cost(each) for each in order]
    assert out == sorted(out)
    assert cost == sorted(cost, reverse=True)
    assert len(set(out)) == 5
    assert poorer.best < alone.best  # and the verdict goes along
    assert best_cost(poorer) <= poorer.to_frame()["expected_cost"].iloc[0]
    # Nearly all weight on the records: the chance of run 1 is theirs, worked out by hand.
    w, r = 15.0, 300.0
    p, q = (w * 0.66 + r * 0.95) / (w + r), (w * 0.03 + r * 0.3) / (w + r)
    share = (8 * 0.7 + 24 * 0.9) / 32
    assert out_after_one(better) == pytest.approx(share * p + (1 - share) * q, abs=0.01)


def test_records_of_single_outcomes_go_the_whole_way(tmp_path: Path) -> None:
    """Records of one job, of failures, of successes: the odds stay inside 0 and 1."""
    for outcome in ("nothing", "recovered"):
        for many in (1, 40):
            rows = "\n".join(f"J{n},1,overshot,{outcome}" for n in range(many))
            text = odds_fragment(odds(parse_records(f"job,run,kind,outcome\n{rows}\n")))
            found = solved(tmp_path, text)
            assert 0 < out_after_one(found) < 1
            assert found.scenario.past_jobs is not None


# ---- overrides, variants -----------------------------------------------------------------------


def test_an_override_is_blended_like_what_it_replaces(folder: Path) -> None:
    text = job('kind = "overshot"\nodds = {recovered=0.8, nothing=0.2, weight=10}')
    base = ["odds_from=odds.toml"]
    found = parse(text, [*base, "run.1.odds.weight=90"], folder=folder)
    assert found.run[0].odds.recovered == pytest.approx((90 * 0.8 + 30 * 0.4) / 120)
    other = parse(text, [*base, "run.1.kind=spear"], folder=folder)
    assert other.run[0].odds.recovered == 0.8
    none = parse(text, [*base, "odds_from="], folder=folder)  # taken off again
    assert (none.run[0].odds.recovered, none.run[0].evidence, none.past_jobs) == (0.8, (), None)


def test_variants_are_what_parse_gives(folder: Path) -> None:
    text = job('kind = "overshot"', 'kind = "wall_hook"', top='odds_from = "odds.toml"')
    (folder / "other.toml").write_text(odds_file(good=0.9), encoding="utf-8")
    variants = Variants(text, folder=folder)
    for changes in (
        ["rates.rig=30000"],
        ["run.1.kind=wash_then_catch"],
        ["odds_from=other.toml"],
        ["run.2.odds={recovered=0.5, nothing=0.5, weight=4}"],
        ["fishing.workable={mean=0.2, weight=4}"],
    ):
        one, other = variants.scenario(changes), parse(text, changes, folder=folder)
        assert one == other
        assert [run.evidence for run in one.run] == [run.evidence for run in other.run]
        assert one.fishing.evidence == other.fishing.evidence


def test_a_variant_of_a_job_without_a_table_that_past_jobs_could_fill(folder: Path) -> None:
    (folder / "odds.toml").write_text(odds_file(workable=None), encoding="utf-8")
    text = job('kind = "overshot"', top='odds_from = "odds.toml"').replace("[fishing]\n", "")
    changes = ["rates.rig=30000"]
    assert Variants(text, folder=folder).scenario(changes) == parse(text, changes, folder=folder)


def test_nothing_is_changed_in_what_is_given(folder: Path) -> None:
    raw = {"odds_from": "odds.toml", "run": [{"kind": "overshot"}], "fishing": {}}
    before = copy.deepcopy(raw)
    resolve(raw, folder)
    assert raw == before


# ---- outside the records -----------------------------------------------------------------------


def test_a_case_outside_the_records_is_told(folder: Path) -> None:
    seen = "[seen]\nhole_size = [12.25, 17.5]\nangle = [10, 30]\ndepth = [1000, 2000]\n"
    seen += "most_runs = 1\nmechanism = { differential = 3 }\n"
    (folder / "odds.toml").write_text(odds_file() + seen, encoding="utf-8")
    found = made(folder, 'kind = "overshot"', 'kind = "wall_hook"')
    said = "\n".join(notes(found))
    assert "hole size 8.5 in lies outside that of the past jobs, 12.25 to 17.5 in" in said
    assert "fish top 8,400 ft lies outside that of the past jobs, 1,000 to 2,000 ft" in said
    assert "2 runs are planned; no past job went beyond run 1" in said


# ---- faults ------------------------------------------------------------------------------------


def faults(text: str, folder: Path, *changes: str) -> list[str]:
    with pytest.raises(ScenarioError) as caught:
        parse(text, changes, folder=folder)
    return [str(each) for each in caught.value.faults]


PLAIN = job('kind = "overshot"', top='odds_from = "odds.toml"')
HAS = odds_file()


@pytest.mark.parametrize(
    ("old", "new", "line", "key", "given", "allowed"),
    [
        ("schema = 1", "schema = 2", 1, "schema", "2", "1"),
        ("jobs = 90", "jobs = -1", 3, "jobs", "-1", "0 or more"),
        ("jobs = 90", 'jobs = "90"', 3, "jobs", "'90'", "Jobs in it"),
        ("jobs = 90", "jobz = 90", 3, "jobz", "an unknown key", "did you mean jobs?"),
        ("[kind.overshot]", "[kind.overshoot]", 9, "kind.overshoot", "'overshoot'", "overshot?"),
        ("mean = 0.6", "mean = 1.6", 8, "workable.mean", "1.6", "1 or less"),
        ("recovered = 0.7,", "recovered = 0.8,", 14, "kind.overshot.workable", "1.1", "sum"),
        ("recovered = 0.7,", "recovered = nan,", 14, "kind.overshot.workable", "nan", "finite"),
        ("source = ", "source = 7 #", 2, "source", "7", "text"),
        ("schema = 1", "schema = = 1", 1, "", "", "TOML"),
    ],
)
def test_a_fault_in_the_file_of_odds_names_file_line_and_key(
    folder: Path, old: str, new: str, line: int, key: str, given: str, allowed: str
) -> None:
    (folder / "odds.toml").write_text(HAS.replace(old, new, 1), encoding="utf-8")
    found = faults(PLAIN, folder)
    first = next(each for each in found if key in each and given in each)
    assert first.startswith(f"{folder / 'odds.toml'}: ") or first.startswith("odds.toml: ")
    assert f"line {line}" in first
    assert allowed in first
    assert "run.1.odds" not in "".join(found)  # missing only because of the file


def test_all_faults_of_both_files_are_told_at_once(folder: Path) -> None:
    (folder / "odds.toml").write_text(HAS.replace("jobs = 90", "jobs = -1"), encoding="utf-8")
    found = faults(PLAIN.replace("rig = 20000", "rig = -1"), folder)
    assert len(found) == 2
    assert any("odds.toml" in each for each in found)
    assert any(each.startswith("line 13") and "rates.rig" in each for each in found)


@pytest.mark.parametrize("name", ["none.toml", ".", "a\\u0000b", "x" * 5000, "../../none"])
def test_a_file_that_is_not_there_is_told(folder: Path, name: str) -> None:
    for each in faults(job('kind = "overshot"', top=f'odds_from = "{name}"'), folder):
        assert "given" in each
        assert all(" " <= char <= "~" for char in each)
        assert len(each) < 1000
        assert "run.1.odds" not in each


def test_a_run_of_a_kind_without_records_needs_its_odds(folder: Path) -> None:
    (only,) = faults(job('kind = "spear"', top='odds_from = "odds.toml"'), folder)
    assert "run.1.odds" in only
    assert "none for kind spear" in only
    assert "overshot, wash_then_catch, wall_hook" in only
    assert "line 19" in only  # of the run in the scenario
    (bare,) = faults(job('kind = "spear"'), folder)
    assert "odds" in bare  # and no file: they are required


@pytest.mark.parametrize("value", ["7", "[1]", "{ a = 1 }", "true"])
def test_a_name_that_is_no_text_is_a_fault(folder: Path, value: str) -> None:
    found = faults(PLAIN.replace('"odds.toml"', value), folder)
    assert any("odds_from" in each for each in found)


@pytest.mark.parametrize(
    "odds",
    [
        "odds = {recovered=2, nothing=-1, weight=3}",
        'odds = {recovered="x", weight=3}',
        "odds = {recovered=0.5, nothing=0.5, weight=0}",
        "odds = {recovered=0.5, nothing=0.5, weight=nan}",
        "odds = {recovered=0.5, nothing=0.4, weight=3}",
        "odds = {workable={recovered=2, weight=3}, stubborn={nothing=1, weight=3}}",
        "odds = {workable={recovered=0.5, nothing=0.5, weight=3}}",
        "odds = 7",
        "odds = []",
    ],
)
def test_odds_that_are_faulty_are_refused_and_not_blended_away(folder: Path, odds: str) -> None:
    found = faults(job(f'kind = "overshot"\n{odds}', top='odds_from = "odds.toml"'), folder)
    assert any("run.1.odds" in each for each in found)


def test_what_the_program_writes_it_reads(folder: Path) -> None:
    text = odds_fragment(odds(read_records(DEMO)))
    (folder / "odds.toml").write_text(text, encoding="utf-8")
    file = read_odds_file(folder / "odds.toml")
    assert (file.jobs, file.source) == (180, "invented_jobs.csv")
    for each in file.kind.values():
        assert sum(of(each.odds)) == pytest.approx(1, abs=1e-9)


def test_starter_with_a_file_of_odds(folder: Path) -> None:
    (folder / "job.toml").write_text(starter(), encoding="utf-8")
    assert load(folder / "job.toml").past_jobs is None
    found = load(folder / "job.toml", ["odds_from=odds.toml"])
    assert found.past_jobs is not None
