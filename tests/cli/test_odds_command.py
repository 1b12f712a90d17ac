"""econ odds, and odds_from in the commands that read a scenario.

Expected texts and exit codes are those of the interface. What the numbers are is tested in
tests/records and tests/scenario/test_odds_from.py; here each shown number is that of the tables.
"""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest

from econ.records import odds, read_records
from econ.reports.tables.records import TABLES, kind_rows
from econ.scenario.odds_file import read_odds_file

from .command import QUICK, ROOT, check_plain, econ, ok, refused, scenario, write
from .test_cli import loaded

pytestmark = pytest.mark.usefixtures("few_bins", "few_states")
DEMO = ROOT / "scenarios" / "records" / "invented_jobs.csv"
DEMO_A = ROOT / "scenarios" / "a_land_twist_off.toml"
SMALL = "job,run,kind,outcome\n" + "".join(
    f"J{n},1,overshot,{'recovered' if n % 2 else 'nothing'}\n" for n in range(30)
)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo set through the command, once, with everything it can write."""
    place = tmp_path_factory.mktemp("odds")
    more = ("--out", place / "odds.toml", "--figure", place / "odds.svg", "--tables", place / "t")
    text = ok("odds", DEMO, *more, "--for", DEMO_A)
    write(place / "said.txt", text)
    write(place / "a.toml", f'odds_from = "odds.toml"\n{DEMO_A.read_text("utf-8")}')
    return place


def test_text_is_plain_and_shows_the_numbers_of_the_tables(folder: Path) -> None:
    text = (folder / "said.txt").read_text("utf-8")
    check_plain(text)
    assert "440 rows read, 0 rejected" in text
    for row in kind_rows(odds(read_records(DEMO))):
        line = next(each for each in text.splitlines() if each.startswith(f"  {row['kind']} "))
        assert line.split()[1:4] == [
            str(row["runs"]),
            str(row["recovered"]),
            f"{100 * row['rate']:.0f}",
        ]
    assert "kind wall_hook: no past runs" in text  # of --for
    assert "Past jobs are no promise" in text


FAILED = "job,run,kind,outcome\n" + "".join(
    f"J{n},1,overshot,{'recovered' if n % 2 else 'failed'}\n" for n in range(30)
)


def test_rows_not_taken_cannot_bias_the_odds_unseen(tmp_path: Path) -> None:
    """Half of the jobs spell `nothing` in another way: what is left are the successes."""
    file = write(tmp_path / "r.csv", FAILED)
    out, figure = tmp_path / "o.toml", tmp_path / "o.svg"
    result = econ("odds", file, "--out", out, "--figure", figure)
    assert result.exit_code == 2
    assert "did you mean nothing?" in result.output
    assert "15 of 30 rows and 15 of 30 jobs that were not taken" in " ".join(result.output.split())
    assert not out.exists()
    assert not figure.exists()
    ok("odds", file, "--out", out, "--force")
    known = read_odds_file(out)
    assert (known.rows_not_taken, known.jobs_not_taken) == (15, 15)
    write(tmp_path / "a.toml", f'odds_from = "o.toml"\n{DEMO_A.read_text("utf-8")}')
    said = " ".join(ok("answer", tmp_path / "a.toml", "--full", *QUICK).split())
    assert "15 rows and 15 jobs of the table not taken" in said
    ok("memo", tmp_path / "a.toml", "--out", tmp_path / "memo.html", "--set", "draws.n=64")
    assert "15 rows and 15 jobs of the table" in (tmp_path / "memo.html").read_text("utf-8")


def test_the_weight_of_the_trade_is_printed_and_stands_in_the_file(tmp_path: Path) -> None:
    few = "job,run,kind,outcome\n" + "".join(f"J{n},1,overshot,nothing\n" for n in range(8))
    file = write(tmp_path / "r.csv", few)
    chances = []
    for weight in (1, 5, 100):
        out = tmp_path / f"o{weight}.toml"
        text = " ".join(ok("odds", file, "--out", out, "--prior-weight", weight).split())
        assert f"the odds of the trade count {weight} runs of each kind" in text
        assert "judgement, no source" in text
        known = read_odds_file(out)
        assert known.prior is not None
        assert known.prior.weight == weight
        assert known.workable is not None
        chances.append(known.kind["overshot"].odds.recovered)
    # none of eight: the heavier the trade, the nearer to its 0.35
    assert chances == sorted(chances)
    assert chances[0] < 0.1 < 0.3 < chances[2] < 0.35
    refused("odds", file, "--prior-weight", 0)


def test_first_line_says_what_to_use_and_why(folder: Path, tmp_path: Path) -> None:
    said = (folder / "said.txt").read_text("utf-8").splitlines()[0]
    chances = [100 * chance for chance in odds(read_records(DEMO)).by_run]
    first, second, third = (f"{chance:.0f}" for chance in chances[:3])
    assert (
        said == f"First run {first} %, second {second} %, third {third} %; use with a judgement of"
    )
    thin = ok("odds", write(tmp_path / "r.csv", "job,run,kind,outcome\nA,1,spear,recovered\n"))
    assert "because 1 job is few and the odds still lean on" in " ".join(thin.split())


def test_every_table_is_written(folder: Path) -> None:
    assert {each.stem for each in (folder / "t").iterdir()} == set(TABLES)
    with (folder / "t" / "odds.csv").open(encoding="utf-8", newline="") as file:
        assert len(list(csv.DictReader(file))) > 0


def test_the_same_records_give_the_same_bytes(folder: Path, tmp_path: Path) -> None:
    ok("odds", DEMO, "--out", tmp_path / "odds.toml", "--figure", tmp_path / "odds.svg")
    for name in ("odds.toml", "odds.svg"):
        assert (tmp_path / name).read_bytes() == (folder / name).read_bytes()
    assert (tmp_path / "odds.svg").read_bytes().lstrip().startswith(b"<?xml")


def test_json_is_json(tmp_path: Path) -> None:
    found = json.loads(ok("odds", write(tmp_path / "r.csv", SMALL), "--json"))
    assert {"import", "by_kind", "by_run", "odds"} <= set(found)


def test_metric_records(tmp_path: Path) -> None:
    text = "job,run,kind,outcome,depth\n" + "J1,1,spear,nothing,3048\n"
    file, out = write(tmp_path / "r.csv", text), tmp_path / "o.toml"
    ok("odds", file, "--units", "metric", "--out", out)
    assert read_odds_file(out).seen.depth == [10_000, 10_000]  # ft; 1 ft is 0.3048 m


def test_columns_of_many_rows_stand_apart(tmp_path: Path) -> None:
    jobs = 40_000  # of one run, and every second one with a second run
    rows = [f"J{n},1,overshot,nothing\nJ{n},2,overshot,recovered" for n in range(0, jobs, 2)]
    rows += [f"J{n},1,overshot,recovered" for n in range(1, jobs, 2)]
    table = write(tmp_path / "many.csv", "job,run,kind,outcome\n" + "\n".join(rows) + "\n")
    text = ok("odds", table)
    check_plain(text)
    first = next(line for line in text.splitlines() if line.startswith("    1 "))
    assert first.split()[:3] == ["1", "40000", "20000"]
    kind = next(line for line in text.splitlines() if line.startswith("  overshot "))
    assert kind.split()[:3] == ["overshot", "60000", "40000"]


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "empty"),
        ("job,run,kind,outcome\n", "no row below the header"),
        ("job;run;kind\nA;1;spear\n", "no column outcome"),
        ("job,run,kind,outcome\nA,1,speer,nothing\n", "did you mean spear?"),
        ("<script>\x1b[2J\u202e,\u0000", "given"),
        ("job,run,kind,outcome\nA,-3,spear,\U0001f4a3\n", "row 2"),
    ],
)
def test_records_that_cannot_be_used_are_refused_and_nothing_is_written(
    tmp_path: Path, text: str, says: str
) -> None:
    file = write(tmp_path / "r.csv", text)
    out, figure = tmp_path / "odds.toml", tmp_path / "odds.svg"
    said = refused("odds", file, "--out", out, "--figure", figure, "--tables", tmp_path / "t")
    assert says in said
    assert [each.name for each in tmp_path.iterdir()] == ["r.csv"]


def test_places_that_cannot_be_written_are_refused(tmp_path: Path) -> None:
    file = write(tmp_path / "r.csv", SMALL)
    assert "exist" in refused("odds", tmp_path / "none.csv")
    refused("odds", file, "--figure", tmp_path / "odds.gif")
    refused("odds", file, "--units", "furlongs")
    refused("odds", file, "--tables", file)
    for option in ("--out", "--figure"):
        result = econ("odds", file, option, tmp_path / "no" / "place.svg")
        assert result.exit_code == 2
        assert "Traceback" not in result.output
    assert [each.name for each in tmp_path.iterdir()] == ["r.csv"]


def test_what_was_rejected_is_told_row_by_row(tmp_path: Path) -> None:
    text = SMALL + "K,1,overshoot,nothing\nL,1,overshot,nothing\nL,1,overshot,nothing\n"
    said = ok("odds", write(tmp_path / "r.csv", text))
    check_plain(said)
    said = " ".join(said.split())
    assert "did you mean overshot?" in said
    assert "row 32" in said
    assert "again, as in row 33" in said


# ---- odds_from in the other commands -----------------------------------------------------------


def test_answer_says_what_became_of_each_value(folder: Path) -> None:
    said = " ".join(ok("answer", "--full", folder / "a.toml", *QUICK).split())
    assert "judgement worth 15 blended with past jobs worth" in said
    assert "invented_jobs.csv: 243 runs of 147 jobs, 95 % interval" in said
    assert "kept as stated, past jobs not used" in said
    assert "outside the past jobs of odds.toml" in said


def test_json_of_an_answer_carries_the_origin(folder: Path) -> None:
    with_odds = json.loads(ok("answer", folder / "a.toml", "--json", *QUICK))
    assert "past_jobs" in with_odds
    assert "243" in json.dumps(with_odds["past_jobs"])
    assert "past_jobs" not in json.loads(ok("answer", DEMO_A, "--json", *QUICK))


def test_set_names_a_file_beside_the_scenario(folder: Path, tmp_path: Path) -> None:
    plain = write(folder / "plain.toml", DEMO_A.read_text("utf-8"))
    by_set = ok("answer", "--full", plain, "--set", "odds_from=odds.toml", *QUICK)
    assert by_set == ok("answer", "--full", folder / "a.toml", *QUICK)
    taken_off = ok("answer", "--full", folder / "a.toml", "--set", "odds_from=", *QUICK)
    assert taken_off == ok("answer", "--full", plain, *QUICK)
    alone = write(tmp_path / "a.toml", DEMO_A.read_text("utf-8"))
    said = refused("check", alone, "--set", "odds_from=odds.toml")
    assert str(tmp_path / "odds.toml") in said
    assert "econ odds RECORDS.csv --out FILE writes one" in said


def test_memo_tells_the_origin_of_odds(folder: Path) -> None:
    ok("memo", folder / "a.toml", "--out", folder / "memo.html", *QUICK)
    page = (folder / "memo.html").read_text("utf-8")
    assert "invented_jobs.csv" in page
    assert "243 runs of 147 jobs" in page


def test_a_fault_in_the_file_of_odds_names_file_and_line(folder: Path, tmp_path: Path) -> None:
    text = (folder / "odds.toml").read_text("utf-8")
    bad = text.replace("jobs = 180", "jobs = -180", 1)
    number = next(n for n, line in enumerate(bad.splitlines(), start=1) if "-180" in line)
    write(tmp_path / "odds.toml", bad)
    write(tmp_path / "a.toml", (folder / "a.toml").read_text("utf-8"))
    for command in (("check",), ("answer",)):
        said = refused(*command, tmp_path / "a.toml")
        assert f"odds.toml: line {number}, jobs: given -180; allowed: 0 or more" in said


def test_check_with_a_file_of_odds_imports_no_mathematics(folder: Path) -> None:
    found = loaded("check", folder / "a.toml")
    assert "pydantic" in found  # the probe sees what is loaded
    assert not found & {"numpy", "scipy", "pandas", "matplotlib"}


def test_answer_with_a_file_of_odds_imports_no_tables(folder: Path) -> None:
    assert not loaded("answer", folder / "a.toml", *QUICK) & {"pandas", "matplotlib"}
    assert not loaded("odds", "--help") & {"numpy", "scipy", "pydantic"}


# ---- sweeps ------------------------------------------------------------------------------------


def arguments(place: Path) -> tuple[object, ...]:
    files = (place / "job.toml", place / "grid.csv", "--out", place / "out.csv")
    return ("sweep", *files, "--draws", 16, "--jobs", 1)


def sweep(place: Path) -> list[dict[str, str]]:
    ok(*arguments(place))
    with (place / "out.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_a_sweep_finds_the_file_and_sees_that_it_has_changed(folder: Path, tmp_path: Path) -> None:
    text = scenario(recovered=0.4, nothing=0.6).replace(
        "odds = { recovered = 0.4, nothing = 0.6 }",
        'kind = "overshot"\nodds = { recovered = 0.4, nothing = 0.6, weight = 10 }',
    )
    write(tmp_path / "job.toml", f'odds_from = "odds.toml"\n{text}')
    write(tmp_path / "grid.csv", "rates.rig,run.1.odds.weight\n20000,\n25000,1000\n")
    first = (folder / "odds.toml").read_text("utf-8")
    write(tmp_path / "odds.toml", first)
    rows = sweep(tmp_path)
    assert all(not row["error"] for row in rows)
    asked = (["rates.rig=20000"], ["rates.rig=25000", "run.1.odds.weight=1000"])
    for row, changes in zip(rows, asked, strict=True):
        more = [each for change in changes for each in ("--set", change)]
        alone = json.loads(ok("answer", tmp_path / "job.toml", "--json", *more, *QUICK))
        best = min(each["expected_cost"] for each in alone["by_runs"])
        assert float(row["expected_cost"]) == pytest.approx(best, rel=1e-9)
    assert sweep(tmp_path) == rows  # goes on where it was: nothing to do
    changed = first.replace("recovered = 0.66", "recovered = 0.56", 1)
    assert changed != first
    write(tmp_path / "odds.toml", changed)
    result = econ(*arguments(tmp_path))
    assert result.exit_code == 2  # rows of other odds are not gone on with
    assert "Traceback" not in result.output
