"""Reading records: what is taken, what is rejected and why, and that nothing hostile gets through.

Origin of the expected numbers: counted by hand in the tables below.
"""

from __future__ import annotations

import os
import re
import time
from pathlib import Path

import numpy as np
import pytest
from made import DEMO, demo_script, jobs, many_rows, table

from econ.records import odds, odds_fragment, parse_records, read_records
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
    ("column", "like"),
    [("outcom", "outcome"), ("Knd", "kind"), ("job name", ""), ("hole size in", "hole_size")],
)
def test_near_miss_of_a_column_is_suggested(column: str, like: str) -> None:
    message = refusal(f"job,run,kind,outcome,{column}\nA,1,spear,nothing,x\n")
    assert "unknown column" in message
    assert (f"did you mean {like}?" in message) if like else "remark" in message


def test_each_missing_column_is_named() -> None:
    message = refusal("job,remark\nA,x\n")
    for name in ("run", "kind", "outcome"):
        assert f"no column {name}" in message


@pytest.mark.parametrize(
    ("row", "column", "says"),
    [
        ("B,1,overshoot,nothing", "kind", "did you mean overshot?"),
        ("B,1,spear,recoverd", "outcome", "did you mean recovered?"),
        ("B,0,spear,nothing", "run", "from 1 to 999"),
        ("B,one,spear,nothing", "run", "from 1 to 999"),
        ("B,1,spear,", "outcome", "recovered, part"),
        (",1,spear,nothing", "job", "a name of up to 80"),
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
    latin = tmp_path / "latin.csv"
    latin.write_bytes(b"job,run,kind,outcome\nA\xe9,1,spear,nothing\n")
    with pytest.raises(ScenarioError, match="row 2"):
        read_records(latin)


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
    assert all(len(line) <= 72 for line in text.splitlines())
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
