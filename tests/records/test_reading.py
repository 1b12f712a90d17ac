"""Reading records: what is taken, what is rejected and why, and that nothing hostile gets through.

Origin of the expected numbers: counted by hand in the tables below.
"""

from __future__ import annotations

import os
import re
import time
import tomllib
from pathlib import Path

import numpy as np
import pytest
from made import DEMO, demo_script, jobs, many_rows, table

from econ.records import Records, odds, odds_fragment, parse_records, read_records
from econ.records.records import LOST, RECOVERED, STOPPED
from econ.reports.records_text import records_text
from econ.scenario import ScenarioError
from econ.scenario.program import OUTCOMES

HEAD = "job,run,kind,outcome"


def refusal(text: str) -> str:
    with pytest.raises(ScenarioError) as caught:
        parse_records(text)
    return str(caught.value)


def test_rows_become_jobs_with_their_ends() -> None:
    found = table(
        *("A,1,overshot,nothing,", "A,2,overshot,recovered,", "B,1,spear,nothing,economics"),
        *("C,1,spear,string_lost,", "D,1,spear,part,lost", "E,1,spear,nothing,"),
        columns=HEAD + ",job_end",
    )
    assert found.names == ("A", "B", "C", "D", "E")
    assert found.ending.tolist() == [RECOVERED, STOPPED, LOST, LOST, STOPPED]
    assert found.rejected == ()
    assert found.repeat.tolist() == [0, 1, 0, 0, 0, 0]


def test_a_run_stopped_half_way_is_no_trial_and_its_job_stays() -> None:
    found = table("A,1,overshot,nothing", "A,2,overshot,Unfinished", "A,3,overshot,recovered")
    assert found.run.tolist() == [1, 3]
    assert found.ending.tolist() == [RECOVERED]
    assert found.repeat.tolist() == [0, 1]
    (left,) = found.rejected
    assert (left.row, left.whole_row) == (3, True)
    assert "one stopped half way is no trial" in str(left)


def test_rows_may_come_in_any_order_and_spelling_of_the_same_word() -> None:
    text = "\ufeffRun;JOB;Kind;Outcome\n2;A;Overshot;Top Damaged\n1;A;wash-then-catch;NOTHING\n"
    found = parse_records(text)
    assert found.run.tolist() == [1, 2]
    assert found.to_frame()["outcome"].tolist() == ["nothing", "top_damaged"]


@pytest.mark.parametrize(
    ("header", "says"),
    [
        ("job,run,Knd,outcome", "is it 'Knd'? Then call it kind"),
        ("Well Name,run,kind,outcome", "is it 'Well Name'? Then call it job"),
        ("job,Run No,kind,Result", "is it 'Run No'? Then call it run"),
        ("job,Run No,kind,Result", "is it 'Result'? Then call it outcome"),
    ],
)
def test_what_may_be_a_missing_column_is_asked_about(header: str, says: str) -> None:
    assert says in refusal(f"{header}\nA,1,spear,nothing\n")


def test_further_columns_are_noted_and_not_refused() -> None:
    found = parse_records(f"{HEAD},Rig,hole size in\nA,1,spear,nothing,Seven,8.5\n")
    (remark,) = found.remarks
    assert "columns that are not read: 'Rig', 'hole size in' (did you mean hole_size?)" in remark
    assert np.isnan(found.hole_size).all()
    named = parse_records(f"{HEAD},Hole Size (in), DEPTH [ft] \nA,1,spear,nothing,8.5,9000\n")
    assert named.remarks == ()
    assert (named.hole_size[0], named.depth[0]) == (8.5, 9000)


def test_each_missing_column_is_named() -> None:
    message = refusal("job,remark\nA,x\n")
    for name in ("run", "kind", "outcome"):
        assert f"no column {name}" in message


@pytest.mark.parametrize(
    ("row", "column", "says"),
    [
        ("B,1,overshoot,nothing", "kind", "did you mean overshot?"),
        ("B,1,spear,recoverd", "outcome", "did you mean recovered?"),
        ("B,1,spear,Success", "outcome", "did you mean recovered?"),
        ("B,1,spear,FAILED", "outcome", "did you mean nothing?"),
        ("B,1,spear,no catch", "outcome", "did you mean nothing?"),
        ("B,1,spear,lost hole", "outcome", "did you mean hole_lost?"),
        ("B,1,spear,string left", "outcome", "did you mean string_lost?"),
        ("B,1,wash over,nothing", "kind", "did you mean washover?"),
        ("B,0,spear,nothing", "run", "from 1 to 999"),
        ("B,one,spear,nothing", "run", "from 1 to 999"),
        ("B,1,spear,", "outcome", "recovered, part"),
        ("B,1,spear,nothing,x", "", "in double quotes"),
    ],
)
def test_a_bad_row_is_rejected_with_its_reason(row: str, column: str, says: str) -> None:
    found = table("A,1,spear,nothing", row)
    assert len(found.job) == 1
    (bad,) = found.rejected
    assert (bad.row, bad.column, bad.whole_row) == (3, column, True)
    assert says in str(bad)


def test_other_rows_of_a_job_with_a_rejected_row_are_left_out_and_said() -> None:
    found = table("A,1,spear,nothing", "B,1,spear,nothing", "B,2,spearr,recovered")
    assert found.names == ("A",)
    assert [(each.row, each.whole_row) for each in found.rejected] == [(3, True), (4, True)]
    assert "correct row 4" in str(found.rejected[0])


def test_a_row_without_a_name_takes_out_the_job_above_it() -> None:
    """A spreadsheet writes a cell over several rows once; its later runs are those that matter."""
    found = table("A,1,spear,nothing", ",2,spear,recovered", "B,1,spear,nothing")
    assert found.names == ("B",)
    assert (found.rows_lost, found.jobs_lost) == (2, 1)
    assert "below a merged cell write it again" in str(found.rejected[1])


def test_a_row_of_totals_or_of_blanks_is_no_run() -> None:
    found = table("A,1,spear,nothing,10", ",,,,10", "Total,,,,10", columns=HEAD + ",hours")
    assert found.names == ("A",)
    assert (found.rows_lost, found.jobs_lost) == (1, 1)  # one of the two says that it is a job
    assert "a row without job, run, kind, outcome" in str(found.rejected[0])


def test_blanks_that_do_not_break_are_blanks() -> None:
    found = table("Well\u00a0A,1,spear,nothing\u00a0", "Well A,2,\u00a0spear,recovered")
    assert found.names == ("Well A",)
    assert found.run.tolist() == [1, 2]


@pytest.mark.parametrize("start", [b"PK\x03\x04\x14\x00", b"\xd0\xcf\x11\xe0\xa1"])
def test_a_workbook_is_told_from_a_table(tmp_path: Path, start: bytes) -> None:
    (tmp_path / "jobs.csv").write_bytes(start + b"\x00" * 40)
    with pytest.raises(ScenarioError, match="export the sheet with the runs as CSV"):
        read_records(tmp_path / "jobs.csv")


def test_the_same_row_twice_is_taken_once_and_another_of_that_number_takes_out_the_job() -> None:
    same = table("A,1,spear,nothing", "A,1,spear,nothing")
    assert len(same.job) == 1
    assert "again, as in row 2" in str(same.rejected[0])
    other = table("A,1,spear,nothing", "A,1,spear,recovered", "B,1,spear,nothing")
    assert other.names == ("B",)
    assert len(other.rejected) == 2


def test_a_run_after_the_end_goes_alone_and_an_end_that_contradicts_takes_out_the_job() -> None:
    found = table("A,1,spear,recovered", "A,2,spear,nothing")
    assert (len(found.job), found.rejected[0].row) == (1, 3)
    found = table(
        *("A,1,spear,recovered,economics", "B,1,spear,nothing,economics"),
        columns=HEAD + ",job_end",
    )
    assert found.names == ("B",)


@pytest.mark.parametrize(
    "day", ["2021-02-30", "9999-01-01", "not a date", "0001-01-01", "2020-13-01T99:99"]
)
def test_an_impossible_date_is_taken_as_empty_and_the_row_kept(day: str) -> None:
    found = table(f"A,1,spear,recovered,{day}", columns=HEAD + ",start")
    assert len(found.job) == 1
    assert not found.rejected[0].whole_row
    assert np.isnan(found.after).all()
    assert "no job with its times" in records_text(odds(found))


def test_times_of_a_job_run_from_its_first_run() -> None:
    columns = HEAD + ",start,end,hours"
    found = table(
        *("A,1,spear,nothing,2020-01-01T00:00,2020-01-01T10:00,",),
        *("A,2,spear,recovered,2020-01-02T00:00,,5", "B,1,spear,nothing,,,7"),
        *("B,2,spear,recovered,,,8",),
        columns=columns,
    )
    assert found.before.tolist() == [0, 24, 0, 7]  # by hand
    assert found.after.tolist() == [10, 29, 7, 15]
    wrong = table(
        "A,1,spear,recovered,2020-01-02T00:00,2020-01-01T00:00,",
        *("B,1,spear,nothing,2020-01-05,,4", "B,2,spear,recovered,2020-01-01,,4"),
        columns=columns,
    )
    assert [each.column for each in wrong.rejected] == ["end", "start"]
    assert len(wrong.job) == 3
    assert wrong.after.tolist()[1:] == [4, 8]  # from the hours instead


def test_metric_lengths_come_out_in_field_units() -> None:
    text = HEAD + ",depth,hole_size\nA,1,spear,nothing,3048,215.9\n"
    found = parse_records(text, units="metric")
    assert found.depth[0] == pytest.approx(10_000)  # 1 ft = 0.3048 m
    assert found.hole_size[0] == pytest.approx(8.5)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "\n\n",
        HEAD,
        HEAD + "\n,,,\n",
        "\x00\x00\x00",
        "a" * 200_000,
        ",".join(["job"] * 100_000),
        HEAD + '\nA,1,spear,"nothing\n',
        HEAD + "\nA,1,spear,nope\n",
        ";;;;\n",
        "\x1b[31mjob,run\n1,2",
        HEAD + "\n" + "x," * 3000,
    ],
)
def test_what_is_no_table_of_jobs_is_refused_in_words(text: str) -> None:
    message = refusal(text)
    assert all(" " <= char <= "~" or char == "\n" for char in message)
    assert "given" in message


EXPORTS = sorted((Path(__file__).parents[1] / "data" / "records").glob("*.csv"))


@pytest.mark.parametrize("path", EXPORTS, ids=lambda path: path.stem)
def test_what_spreadsheets_export_is_read_alike(path: Path) -> None:
    """Files written by hand as three programs write them, and one as the guide has it; the expected
    values are typed here."""
    found = read_records(path)
    assert found.rejected == ()
    assert found.names == ("Marlow 1", "Gr\u00e4n 2")
    assert found.run.tolist() == [1, 2, 1, 2, 3]
    kinds = ["overshot", "overshot", "wash_then_catch", "dress_top", "spear"]
    assert found.to_frame()["kind"].tolist() == kinds
    outcomes = ["nothing", "recovered", "top_damaged", "prepared", "hole_lost"]
    assert found.to_frame()["outcome"].tolist() == outcomes
    assert found.depth.tolist() == [8072.5, 8072.5, 10240, 10240, 10240]
    assert found.hole_size.tolist() == [8.5, 8.5, 12.25, 12.25, 12.25]
    assert found.stated.tolist() == pytest.approx([0.6, 0.35, 0.5, 0.1, 0.25])
    assert found.before.tolist() == pytest.approx([0, 26.5, 0, 41 + 55 / 60, 66 + 55 / 60])
    assert found.after.tolist()[1] == pytest.approx(50.5)
    assert found.marks == (("cable_out",), ("cable_out", "washed"), (), ("damaged_top",), ())
    remarks = " ".join(found.remarks)
    assert ("Windows-1252" in remarks) == ("semicolons" in path.name)
    assert ("percent" in remarks) == ("commas" in path.name)


@pytest.mark.parametrize(
    ("delimiter", "cell", "value", "says"),
    [
        (";", "8,5", 8.5, ""),
        (";", "8.5", 8.5, ""),
        (";", "1.072,5", 1072.5, ""),
        (";", "1.072", None, "write 1072 or 1,072"),
        ("\t", "8,5", 8.5, ""),
        ("\t", "1,072", None, "write 1072 or 1.072"),
        (",", '"8,5"', None, "write 8.5 if that is meant"),
        (",", '"1,072.5"', 1072.5, ""),
        (",", '"1,072"', None, "write 1072 or 1.072"),
        ("\t", "1 072", 1072, ""),
        (";", "1\u202f072,5", 1072.5, ""),
    ],
)
def test_decimal_commas(delimiter: str, cell: str, value: float | None, says: str) -> None:
    cells = ["A", "1", "spear", "nothing"]
    lines = [[*HEAD.split(","), "hole_size"], [*cells, cell]]
    found = parse_records("\n".join(delimiter.join(line) for line in lines))
    if value is not None:
        assert found.hole_size.tolist() == [value]
        assert found.rejected == ()
    else:
        assert says in str(found.rejected[0])


@pytest.mark.parametrize(
    ("cells", "stated"),
    [
        (("60", "35", "1"), (0.6, 0.35, 0.01)),
        (("60 %", "0.35", "1"), (0.6, 0.35, 1.0)),
        (("60%", "35%", "1%"), (0.6, 0.35, 0.01)),
        (("0.6", "1", "0"), (0.6, 1.0, 0.0)),
        (("60", "0.35", "1"), (0.6, 0.35, 1.0)),
    ],
)
def test_chances_in_percent(cells: tuple[str, ...], stated: tuple[float, ...]) -> None:
    rows = [f"J{n},1,spear,nothing,{cell}" for n, cell in enumerate(cells)]
    assert table(*rows, columns=HEAD + ",stated_odds").stated.tolist() == pytest.approx(stated)


def test_twenty_equal_faults_are_told_in_one_message() -> None:
    rows = [f"J{n},1,spear,failed" for n in range(20)] + [f"K{n},1,spear,nothing" for n in range(5)]
    text = " ".join(records_text(odds(table(*rows))).split())
    assert text.count("did you mean nothing?") == 1
    assert "rows 2, 3, 4, 5, 6, 7, 8, 9 and 12 more, outcome: given 'failed'" in text
    message = refusal("\n".join([HEAD, *rows[:20]]))
    assert message.count("did you mean nothing?") == 1
    assert "and 19 more rows alike" in message


def test_names_that_are_nearly_the_same_are_asked_about() -> None:
    found = table("Well A,1,spear,nothing", "well a,2,spear,recovered", "Well B,1,spear,nothing")
    assert found.names == ("Well A", "well a", "Well B")
    assert found.remarks == (
        "are 'Well A' and 'well a' one job? If so, write one name in its rows",
    )
    assert "one job?" in records_text(odds(found))


def misspelt(failed: int, won: int) -> Records:
    """Jobs of which those with a failure spell it in another way."""
    rows = [f"F{n},1,spear,failed" for n in range(failed)]
    return table(*rows, *(f"W{n},1,spear,recovered" for n in range(won)), "N,1,spear,nothing")


def test_above_a_fifth_of_rows_or_jobs_not_taken_no_odds_are_written() -> None:
    many = odds(misspelt(failed=14, won=5))
    assert (many.records.rows_lost, many.records.trials, many.records.jobs_lost) == (14, 20, 14)
    with pytest.raises(ScenarioError, match="14 of 20 rows and 14 of 20 jobs that were not taken"):
        odds_fragment(many)
    assert records_text(many).startswith("First run")
    assert "do not use these odds, because 14 of 20 rows" in " ".join(records_text(many).split())
    forced = tomllib.loads(odds_fragment(many, force=True))
    assert (forced["rows_not_taken"], forced["jobs_not_taken"]) == (14, 14)
    few = odds(misspelt(failed=4, won=15))
    assert "rows_not_taken = 4\n" in odds_fragment(few)  # a fifth, and not above it
    with pytest.raises(ScenarioError, match="not taken"):
        odds_fragment(odds(misspelt(failed=5, won=18)))


def test_what_was_said_twice_or_was_no_trial_is_not_lost() -> None:
    rows = ["A,1,spear,nothing"] * 9 + ["A,2,spear,unfinished"] * 1 + ["B,1,spear,recovered"]
    found = table(*rows)
    assert (found.rows_read, found.trials, found.rows_lost, found.jobs_lost) == (11, 2, 0, 0)
    assert not found.too_much_lost


def test_rows_of_many_in_few_jobs_are_lost_too() -> None:
    found = table("A,1,spear,recovered", "A,2,spear,nothing", "B,1,spear,nothing")
    assert (found.rows_lost, found.jobs_lost) == (1, 0)
    assert found.too_much_lost  # a third of the rows


def test_times_that_are_equal_to_the_minute_are_equal() -> None:
    """Hours that add up to 0.3 in two ways, which differ in the last digit of a computer."""
    rows = ["A,1,spear,nothing,0.1", "A,2,spear,recovered,0.2", "B,1,spear,recovered,0.3"]
    assert 0.1 + 0.2 != 0.3
    times = odds(table(*rows, columns=HEAD + ",hours")).times
    assert times.hours.tolist() == [0.3]
    assert times.recovered.tolist() == [2]


def test_marks_and_doubts_are_counted_and_an_odds_ratio_is_given() -> None:
    rows = []
    for n in range(60):
        mark = "washed cable_out" if n % 2 else "cable_out"
        came = (n % 3 > 0) if n % 2 else (n % 4 == 0)
        rows.append(f"J{n},1,spear,{'recovered' if came else 'nothing'},{mark},top_good")
    found = odds(table(*rows, columns=HEAD + ",marks,depends_on"))
    counted = {(each.column, each.word): each.share for each in found.counts.by_word}
    assert set(counted) == {("marks", "cable_out"), ("marks", "washed"), ("depends_on", "top_good")}
    # by hand: of 1, 3, 5, ... 59 those that 3 does not divide; of 0, 2, 4, ... those that 4 does
    assert (counted["marks", "washed"].successes, counted["marks", "washed"].cases) == (20, 30)
    (ratio,) = (each for each in found.effects.found if each.name == "mark washed")
    assert ratio.ratio == pytest.approx((20 / 10) / (15 / 15), rel=1e-6)
    text = records_text(found)
    assert "with washed" in text
    assert "on top_good" in text
    bad = table("A,1,spear,nothing,cable-out!", columns=HEAD + ",marks")
    assert (bad.marks, bad.rejected[0].whole_row) == (((),), False)


def test_hostile_names_reach_no_terminal() -> None:
    found = table(
        "\u202eA<script>\u4e2d,1,spear,nothing", "=cmd(),1,spear,recovered", "ok,1,x\x1b,"
    )
    text = records_text(odds(found))
    assert all(" " <= char <= "~" or char == "\n" for char in text)


def test_files_that_cannot_be_read_say_so(tmp_path: Path) -> None:
    for path in (tmp_path / "none.csv", tmp_path, Path("/dev/null"), Path("a\0b")):
        with pytest.raises((ScenarioError, ValueError)) as caught:
            read_records(path)
        assert isinstance(caught.value, ScenarioError), path
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    with pytest.raises(ScenarioError, match="plain file"):
        read_records(pipe)
    neither = tmp_path / "neither.csv"
    neither.write_bytes(b"job,run,kind,outcome\nA\x81\xe9,1,spear,nothing\n")
    with pytest.raises(ScenarioError, match="row 2"):
        read_records(neither)


@pytest.mark.parametrize(
    "records",
    [
        jobs("n"),
        jobs("r"),
        jobs(*["n", "nn", "nnn"] * 20),
        jobs(*["r"] * 60),
        jobs(*["nr", "r"] * 30),
        jobs(*["s", "nh"] * 30),
        jobs(*["n" * 9] * 30),
    ],
    ids=["one failure", "one success", "censored", "won at once", "won", "lost", "long"],
)
def test_extreme_records_give_an_answer(records) -> None:  # type: ignore[no-untyped-def]
    found = odds(records)
    text = records_text(found)
    assert all(len(line) <= 64 for line in text.splitlines())
    assert not re.search(r"\b(nan|inf)\b", text)
    for each in found.tables:
        assert sum(each.odds) == pytest.approx(1)
        # Nothing is ruled out by few jobs, but that a run prepares, which none of these did.
        chances = dict(zip(OUTCOMES, each.odds, strict=True))
        assert chances.pop("prepared") == 0
        assert all(0 < chance < 1 for chance in chances.values())
        assert 0 < each.weight < 1e6
    assert not found.fish.told_apart
    assert found.warnings
    odds_fragment(found)


def test_demo_set_is_what_its_script_makes() -> None:
    script = demo_script()
    assert DEMO.read_bytes() == script.invented().encode()
    found = read_records(DEMO)
    assert len(found.names) == script.JOBS >= 150
    assert found.rejected == ()
    assert "invented" in DEMO.name
    assert all(name.startswith("Invented") for name in found.names)


def test_a_hundred_thousand_rows_in_ten_seconds() -> None:
    text = many_rows(100_000)
    start = time.process_time()
    found = odds(parse_records(text))
    spent = time.process_time() - start
    assert len(found.records.job) >= 100_000
    assert found.fish.told_apart
    assert spent < 10  # processor time, of both cores together
