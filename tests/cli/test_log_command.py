"""`econ log`: a row more, or the last one back; the log is the old one or the new one, never less.

Expected words and exit codes come from the design of the interface; rows are written by hand.
"""

from __future__ import annotations

import errno
import os
import subprocess
import sys
from pathlib import Path
from typing import Any, NoReturn

import pytest

from econ.cli import files
from econ.cli.exits import UnfinishedError

from .command import ROOT, check_plain, econ, ok, refused, scenario, write

POSIX = pytest.mark.skipif(os.name != "posix", reason="links and rights of another system")
HEADER = "run,kind,start,end,outcome,fish_top,top_condition,cost,remark,marks\n"
ONE = ("--run", "1", "--start", "2026-03-14T06:00", "--end", "2026-03-15T06:00")
TWO = ("--run", "2", "--start", "2026-03-15T06:00", "--end", "2026-03-16T06:00")
ROW = "1,other,2026-03-14T06:00,2026-03-15T06:00,nothing,,,,,\n"


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    text = scenario(runs=2).replace("[job]", "[job]\ndecided_at = 2026-03-14T06:00:00")
    write(tmp_path / "job.toml", text)
    return tmp_path


def add(*more: object, log: str = "runs.csv") -> str:
    return ok("log", "add", "job.toml", log, *more)


def held(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir() if path.is_file()}


def test_a_log_is_begun_and_gone_on_with(folder: Path) -> None:
    said = add(*ONE, "--outcome", "nothing")
    check_plain(said)
    assert max(map(len, said.splitlines())) <= 64
    assert "runs.csv was not there: it is new, with a header" in said
    assert (folder / "runs.csv").read_text() == HEADER + ROW
    assert "CHANGED BY THE LAST ENTRY (Run: nothing):" in said
    assert "next in the list: run 1 at odds 0.40 -> run 2 at odds 0.40" in said
    assert "runs still worth making" in said
    more = (*TWO, "--outcome", "part", "--fish-top", "8500", "--cost", "3e4")
    said = add(*more, "--remark", '=HYPERLINK("x"), and more')
    row = "2,other,2026-03-15T06:00,2026-03-16T06:00,part,8500,,3e4,"
    row += '"\'=HYPERLINK(""x""), and more",\n'
    assert (folder / "runs.csv").read_text() == HEADER + ROW + row
    assert "ADDED TO runs.csv, row 3:" in said
    assert "was not there" not in said
    assert "fish top 8,400 -> 8,500 ft" in said
    assert row[: row.index(',"') + 1] in said
    # and it is what an answer reads
    assert '(=HYPERLINK("x"), and more)' in " ".join(
        ok("answer", "job.toml", "--log", "runs.csv", "--full").split()
    )


def test_what_it_says_is_what_the_answer_says(folder: Path) -> None:
    said = add(*ONE, "--outcome", "part", "--fish-top", "8450", "--marks", "+damaged_top")
    told = ok("answer", "job.toml", "--log", "runs.csv", "--full")
    part = said[said.index("CHANGED BY THE LAST ENTRY") :].strip()
    assert part in told
    assert "the top is damaged now" in part


def test_all_faults_of_a_row_are_told_and_the_log_is_as_it_was(folder: Path) -> None:
    add(*ONE, "--outcome", "nothing")
    before = held(folder)
    bad = ("--run", "7", "--start", "2026-03-14T07:00", "--end", "soon", "--outcome", "prt")
    said = refused("log", "add", "job.toml", "runs.csv", *bad, "--fish-top", "deep")
    for words in ("run: given '7'", "end: given 'soon'", "outcome: given 'prt'", "fish_top: given"):
        assert f"runs.csv row 3, {words}" in said
    assert "at or after the end in row 2" in said
    assert "allowed: recovered, part," in said
    assert "did you mean part?" in said
    assert "5 faults; nothing was computed" in said
    said = refused("log", "add", "job.toml", "runs.csv")
    assert "given a row without a cell; allowed: --run (or --kind), --start, --end" in said
    said = refused("log", "add", "job.toml", "runs.csv", "--run", "1")
    for column in ("start", "end", "outcome"):
        assert f"row 3, {column}: given an empty cell" in said
    assert held(folder) == before
    # a log that is not there is not begun by a faulty row
    refused("log", "add", "job.toml", "new.csv", *ONE, "--outcome", "prt")
    assert not (folder / "new.csv").exists()


def test_faults_of_the_rows_before_are_told(folder: Path) -> None:
    for text, words in (
        ("run,start,end,outcome\n1,x,y,z\n", "row 2, start: given 'x'"),
        ("crew,weather\nA,fine\n", "2 columns that begin 'crew'"),
        ('run,start,end,outcome\n1,"a', "close the quotes it opens"),
    ):
        write(folder / "runs.csv", text)
        assert words in refused("log", "add", "job.toml", "runs.csv", *TWO, "--outcome", "nothing")
        assert (folder / "runs.csv").read_text() == text
    (folder / "runs.csv").write_bytes(b"run,start,end,outcome\n\xff\n")
    said = refused("log", "add", "job.toml", "runs.csv", *ONE, "--outcome", "nothing")
    assert "not UTF-8" in said


def test_a_column_that_is_added_is_said(folder: Path) -> None:
    text = "run,start,end,outcome\r\n1,2026-03-14T06:00,2026-03-15T06:00,nothing\r\n"
    (folder / "runs.csv").write_bytes(text.encode())
    said = add(*TWO, "--outcome", "nothing", "--marks", "-damaged_top")
    assert "The header has 1 column more for it: marks." in " ".join(said.split())
    lines = (folder / "runs.csv").read_bytes().decode().split("\r\n")
    assert lines[:2] == ["run,start,end,outcome,marks", text.split("\r\n")[1] + ","]
    assert lines[2].endswith(",nothing,'-damaged_top")


def test_warnings_and_money_are_said(folder: Path) -> None:
    text = (folder / "job.toml").read_text()
    place = text.index("charge = 1000")
    # run 1 needs a mark that run 2 gives, and no run is worth its charge
    text = text[:place] + 'needs = ["washed"]\n' + text[place:]
    place = text.rindex("charge = 1000")
    text = text[:place] + 'gives = ["washed"]\n' + text[place:]
    text = text.replace("charge = 1000", "charge = 9000000")
    write(folder / "job.toml", text.replace("[draws]", "[limits]\nauthority = 1000\n[draws]"))
    said = " ".join(add(*ONE, "--outcome", "nothing", "--cost", "900000").split())
    assert "note: runs.csv row 2: run 1 was made although washed, which it needs, did not" in said
    assert "note: this run was made beyond the limit then in force." in said
    assert "Authority overspent by 899,000 USD: 900,000 USD is spent" in said


def test_the_last_row_is_taken_back_to_a_file_beside(folder: Path) -> None:
    add(*ONE, "--outcome", "nothing")
    before = (folder / "runs.csv").read_bytes()
    for number in (1, 2):
        add(*TWO, "--outcome", "part", "--remark", f"try {number}")
        said = ok("log", "undo", "job.toml", "runs.csv")
        check_plain(said)
        assert (folder / "runs.csv").read_bytes() == before
        assert "It stands in runs.undone.csv now." in said
        assert f"try {number}" in said
        assert "CHANGED BY TAKING IT BACK (Run: part):" in said
    kept = (folder / "runs.undone.csv").read_text().splitlines()
    assert kept[0] + "\n" == HEADER
    assert [row.rsplit(",", 2)[1] for row in kept[1:]] == ["try 1", "try 2"]
    ok("log", "undo", "job.toml", "runs.csv")
    assert (folder / "runs.csv").read_text() == HEADER
    all_kept = held(folder)
    said = refused("log", "undo", "job.toml", "runs.csv")
    assert "given a log without a row; allowed: a log with at least one" in said
    assert held(folder) == all_kept
    assert "check the name" in refused("log", "undo", "job.toml", "none.csv")


def test_a_faulty_last_row_can_be_taken_back(folder: Path) -> None:
    add(*ONE, "--outcome", "nothing")
    good = (folder / "runs.csv").read_text()
    write(folder / "runs.csv", good + "9,,x,y,z\n")
    said = ok("log", "undo", "job.toml", "runs.csv")
    assert (folder / "runs.csv").read_text() == good
    assert "CHANGED" not in said
    assert said.startswith("TAKEN BACK")
    # and where those that are left have faults, that is said
    write(folder / "runs.csv", HEADER + "9,,x,y,z\n" + ROW)
    assert "have faults" in ok("log", "undo", "job.toml", "runs.csv")
    assert (folder / "runs.csv").read_text() == HEADER + "9,,x,y,z\n"


# ---- the old log or the new one -----------------------------------------------------------------


@pytest.mark.parametrize("command", ["add", "undo"])
def test_another_file_that_is_read_is_no_log(folder: Path, command: str) -> None:
    before = held(folder)
    assert "which is the scenario" in refused("log", command, "job.toml", "job.toml")
    assert held(folder) == before


@POSIX
def test_the_file_beside_is_no_other_file_that_is_read(folder: Path) -> None:
    add(*ONE, "--outcome", "nothing")
    (folder / "runs.undone.csv").symlink_to("job.toml")
    before = held(folder)
    assert "which is the scenario" in refused("log", "undo", "job.toml", "runs.csv")
    assert held(folder) == before


@POSIX
def test_a_link_stays_a_link_and_rights_stay(folder: Path) -> None:
    (folder / "below").mkdir()
    (folder / "runs.csv").symlink_to("below/real.csv")
    add(*ONE, "--outcome", "nothing")
    (folder / "below" / "real.csv").chmod(0o664)
    add(*TWO, "--outcome", "nothing")
    assert (folder / "runs.csv").is_symlink()
    assert (folder / "below" / "real.csv").read_text().count("\n") == 3
    assert (folder / "below" / "real.csv").stat().st_mode & 0o777 == 0o664


@POSIX
@pytest.mark.parametrize("command", ["add", "undo"])
def test_a_read_only_log_is_left_alone(folder: Path, command: str) -> None:
    add(*ONE, "--outcome", "nothing")
    (folder / "runs.csv").chmod(0o444)
    before = held(folder)
    more = (*TWO, "--outcome", "nothing") if command == "add" else ()
    said = refused("log", command, "job.toml", "runs.csv", *more)
    assert "which is read-only; allowed: a file that can be written" in said
    assert held(folder) == before


def full(*_: Any, **__: Any) -> NoReturn:
    raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))


@pytest.mark.parametrize("command", ["add", "undo"])
@pytest.mark.parametrize("call", ["fsync", "replace"])
def test_on_a_full_disk_the_log_is_the_old_one(
    folder: Path, monkeypatch: pytest.MonkeyPatch, command: str, call: str
) -> None:
    add(*ONE, "--outcome", "nothing")
    before = held(folder)
    monkeypatch.setattr(os, call, full)
    more = (*TWO, "--outcome", "nothing") if command == "add" else ()
    result = econ("log", command, "job.toml", "runs.csv", *more)
    assert result.exit_code == 1
    assert result.stdout == ""
    assert os.strerror(errno.ENOSPC) in result.stderr
    assert held(folder) == before


@pytest.mark.parametrize("command", ["add", "undo"])
@pytest.mark.parametrize("moves", [0, 1])
def test_after_control_c_the_log_is_the_old_one_or_the_new_one(
    folder: Path, monkeypatch: pytest.MonkeyPatch, command: str, moves: int
) -> None:
    add(*ONE, "--outcome", "nothing")
    old = held(folder)
    real, done = os.replace, []

    def stopped(source: Any, target: Any) -> None:
        if len(done) == moves:
            done.append("stopped")
            raise KeyboardInterrupt
        done.append(target)
        real(source, target)

    monkeypatch.setattr(os, "replace", stopped)
    more = (*TWO, "--outcome", "nothing") if command == "add" else ()
    result = econ("log", command, "job.toml", "runs.csv", *more)
    if command == "add" and moves == 1:
        assert result.exit_code == 0  # it was written before
        return
    assert result.exit_code == 130
    assert held(folder) == old


@pytest.mark.parametrize("command", ["add", "undo"])
def test_a_log_that_changes_meanwhile_is_left_as_it_is(
    folder: Path, monkeypatch: pytest.MonkeyPatch, command: str
) -> None:
    import econ.decision

    add(*ONE, "--outcome", "nothing")
    answer = econ.decision.answer

    def slow(*given: Any) -> Any:
        write(folder / "runs.csv", HEADER + ROW.replace("06:00,not", "07:00,not"))
        return answer(*given)

    monkeypatch.setattr(econ.decision, "answer", slow)
    more = (*TWO, "--outcome", "nothing") if command == "add" else ()
    from .command import econ as run

    result = run("log", command, "job.toml", "runs.csv", *more)
    assert result.exit_code == 1
    assert "was changed by another program meanwhile: nothing was written" in result.stderr
    assert (folder / "runs.csv").read_text() == HEADER + ROW.replace("06:00,not", "07:00,not")
    assert not (folder / "runs.undone.csv").exists()


@POSIX
def test_two_at_once_lose_no_row(folder: Path) -> None:
    command = [sys.executable, "-m", "econ", "log", "add", "job.toml", "runs.csv"]
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    both = [
        subprocess.Popen(
            [*command, *ONE, "--outcome", "unfinished", "--remark", name],
            env=environment,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        for name in ("here", "there")
    ]
    for each in both:
        each.communicate(timeout=120)
    rows = (folder / "runs.csv").read_text().splitlines()[1:]
    codes = sorted(each.returncode for each in both)
    # a writer that came too late was told so, and its row is not there; the second of two that
    # followed each other began before the end of the first, which is a fault of the row
    assert codes[0] == 0
    assert codes[1] in (1, 2)
    assert len(rows) == 1


def test_a_file_that_changed_is_not_replaced(tmp_path: Path) -> None:
    path = tmp_path / "runs.csv"
    for there, read in ((None, b"old"), (b"new", b"old"), (b"new", None)):
        path.unlink(missing_ok=True)
        if there is not None:
            path.write_bytes(there)
        with pytest.raises(UnfinishedError, match="changed by another program meanwhile"):
            files.replace_read(str(path), read, b"mine")
        assert (path.read_bytes() if path.exists() else None) == there
