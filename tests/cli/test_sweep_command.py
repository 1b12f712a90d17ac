"""econ sweep: the table, bad input, and being stopped in every way.

What a row holds is tested in tests/decision/test_sweep.py; expected texts, exit codes and the
rule that a resumed table equals an uninterrupted one byte for byte are those of the interface.
"""

from __future__ import annotations

import contextlib
import csv
import errno
import importlib
import os
import re
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from concurrent.futures import Executor, Future, process
from pathlib import Path
from typing import IO, Any

import pytest

from econ.decision.sweep import RESULTS, sweep_row, sweep_rows

from .command import ROOT, A, econ, ok, refused, scenario, write

MAIN = "from econ.cli import main; main(prog_name='econ')"
FEW = ("--draws", 16, "--jobs", 1)
PATIENCE = 300  # seconds; only a machine that is very busy needs them
GRID = "case,rates.rig,run.1.charge\nbase,,\nlow,15000,\nhigh,30000,2500\n"
LONG = "rates.rig\n" + "".join(f"{rate}\n" for rate in range(20_000, 20_060))
POSIX = pytest.mark.skipif(os.name != "posix", reason="signals and limits of POSIX")


class Place:
    """A folder with a scenario, a grid and a table that may be there."""

    def __init__(self, folder: Path) -> None:
        self.file = write(folder / "job.toml", scenario(runs=2))
        self.grid = write(folder / "cases.csv", GRID)
        self.out = folder / "out.csv"

    def sweep(self, *more: object) -> str:
        return ok("sweep", self.file, self.grid, "--out", self.out, *FEW, *more)

    def refused(self, *more: object) -> str:
        before = self.found()
        said = refused("sweep", self.file, self.grid, "--out", self.out, *FEW, *more)
        assert self.found() == before
        return said

    def found(self) -> bytes | None:
        return self.out.read_bytes() if os.path.isfile(self.out) else None

    def rows(self) -> list[dict[str, str]]:
        with self.out.open(encoding="utf-8", newline="") as file:
            return list(csv.DictReader(file))


@pytest.fixture
def place(tmp_path: Path) -> Place:
    return Place(tmp_path)


# ---- the table --------------------------------------------------------------------------------


def test_table_of_a_small_grid(place: Place) -> None:
    assert place.sweep() == f"3 rows in {place.out}: 3 good, 0 bad\n"
    columns = ["row", "case", "rates.rig", "run.1.charge", *RESULTS, "fingerprint"]
    assert place.out.read_text(encoding="utf-8").split("\n")[0] == ",".join(columns)
    assert place.out.read_bytes().endswith(b"\n")
    rows = place.rows()
    assert [row["row"] for row in rows] == ["1", "2", "3"]
    assert [row["case"] for row in rows] == ["base", "low", "high"]
    assert [row["rates.rig"] for row in rows] == ["", "15000", "30000"]
    text = place.file.read_text(encoding="utf-8")
    changes = [(), ("rates.rig=15000",), ("rates.rig=30000", "run.1.charge=2500")]
    for row, change in zip(rows, changes, strict=True):
        expected = sweep_row(text, change, 16)
        for name, value in expected.items():
            if isinstance(value, bool):
                assert row[name] == str(value).lower()
            elif isinstance(value, float):
                assert float(row[name]) == value  # to the bit
            else:
                assert row[name] == str(value)
    assert len({row["fingerprint"] for row in rows}) == 3


def test_processes_write_the_same_table(place: Place) -> None:
    write(place.grid, LONG)
    place.sweep()
    alone = place.out.read_bytes()
    place.out.unlink()
    assert ok("sweep", place.file, place.grid, "--out", place.out, "--draws", 16, "--jobs", 2)
    assert place.out.read_bytes() == alone


def test_one_row_and_no_row(place: Place) -> None:
    write(place.grid, "rates.rig\n25000\n")
    assert place.sweep().startswith("1 row in ")
    assert len(place.rows()) == 1
    write(place.grid, "run.1.charge\n")
    place.out.unlink()
    assert place.sweep().startswith("0 rows in ")
    assert place.rows() == []
    assert place.sweep().startswith("0 rows in ")


@pytest.mark.parametrize(
    "data",
    [
        GRID.encode("utf-8-sig"),
        GRID.replace("\n", "\r\n").encode(),
        GRID.replace(",", ";").encode("utf-8-sig"),
        GRID.replace("\n", "\n\n").removesuffix("\n").encode(),
    ],
    ids=["mark", "crlf", "semicolons", "blank lines"],
)
def test_ways_to_write_the_same_grid(place: Place, data: bytes) -> None:
    place.sweep()
    plain = place.out.read_bytes()
    place.out.unlink()
    place.grid.write_bytes(data)
    place.sweep()
    assert place.out.read_bytes() == plain


def test_cells_go_over_set_and_set_over_the_file(place: Place) -> None:
    place.sweep("--set", "rates.rig=15000", "--set", "run.2.charge=7")
    rows = place.rows()
    text = place.file.read_text(encoding="utf-8")
    for row, rate in zip(rows[:2], (15000, 15000), strict=True):
        expected = sweep_row(text, (f"rates.rig={rate}", "run.2.charge=7"), 16)
        assert float(row["expected_cost"]) == expected["expected_cost"]
    assert rows[0]["rates.rig"] == ""  # the grid's own cells are written, not what they mean


def test_bad_rows_are_written_named_and_counted(place: Place) -> None:
    write(place.grid, "rates.rig,run.1.charge\n1e4,\ncheap,-5\n{low=1,high=2},5\n2e4,1,,9\n3e4,\n")
    result = econ("sweep", place.file, place.grid, "--out", place.out, *FEW)
    assert result.exit_code == 0
    assert result.stdout == f"5 rows in {place.out}: 2 good, 3 bad\n"
    lines = result.stderr.splitlines()
    assert [line.split(":")[0] for line in lines] == ["row 2", "row 3", "row 4"]
    assert "given 'cheap'" in lines[0]
    assert "given -5" in lines[0]
    assert "3 cells; allowed: 2" in lines[1]
    rows = place.rows()
    assert [bool(row["error"]) for row in rows] == [False, True, True, True, False]
    assert [bool(row["expected_cost"]) for row in rows] == [True, False, False, False, True]
    # The same is said of a table that is there already.
    again = econ("sweep", place.file, place.grid, "--out", place.out, *FEW)
    assert again.exit_code == 0
    assert again.stderr == result.stderr
    assert again.stdout == result.stdout.replace("3 bad", "3 bad; 5 of them were there before")


def test_very_many_bad_rows_are_cut_short(place: Place) -> None:
    write(place.grid, "rates.rig\n" + "x\n" * 130)
    result = econ("sweep", place.file, place.grid, "--out", place.out, *FEW)
    assert result.stdout.endswith("0 good, 130 bad\n")
    assert len(result.stderr.splitlines()) == 101
    assert result.stderr.splitlines()[-1] == "... and 30 more bad rows"


def test_hostile_cells_stay_text(place: Place) -> None:
    hostile = ["=1+1", "+1", "-1+1", "@x", '=HYPERLINK("http://x")', "\t=2", "a\x1b[31m\0b", "-7"]
    with place.grid.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(["case", "rates.rig"])
        writer.writerows([each, "20000"] for each in [*hostile, "line\nbreak", "\u00e9"])
        writer.writerow(["", "=1+1"])
        writer.writerow(["", '"\x1b[31m\nred"'])
    result = econ("sweep", place.file, place.grid, "--out", place.out, *FEW)
    assert result.exit_code == 0
    assert re.fullmatch(r"[ -~\n]*", result.stderr + result.stdout)
    rows = place.rows()
    assert [row["case"] for row in rows[:10]] == [
        *("'=1+1", "'+1", "'-1+1", "'@x", '\'=HYPERLINK("http://x")', "'=2", "a [31m b", "-7"),
        *("line break", "\u00e9"),
    ]
    assert rows[10]["rates.rig"] == "'=1+1"
    assert all(row["error"] for row in rows[10:])
    text = place.out.read_text(encoding="utf-8")
    assert text.count("\n") == 13  # a line for each row
    cells = [cell for line in csv.reader(text.splitlines()) for cell in line]
    assert not [c for c in cells if c[:1] in tuple("=+-@") and not re.fullmatch(r"-[\d.e+-]+", c)]
    assert (
        "bad; 12 of them" in econ("sweep", place.file, place.grid, "--out", place.out, *FEW).stdout
    )


# ---- bad input --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("header", "said"),
    [
        ("rats.rig,run.1.charge", "cases.csv column rats.rig: given an unknown key"),
        ("well.deph", "did you mean depth?"),
        ("run.3.charge", "an item from 1 to 2"),
        ("rates.rig,rates.rig", "the same column again"),
        ("case", ""),
    ],
)
def test_header_is_checked_before_anything_runs(place: Place, header: str, said: str) -> None:
    write(place.grid, f"{header}\n1,2\n")
    if said:
        assert said in place.refused()
        assert not place.out.exists()


def test_every_fault_of_a_header_is_said_at_once(place: Place) -> None:
    write(place.grid, "rats.rig,well.deph,case,case\n")
    said = place.refused()
    assert len(said.splitlines()) == 4
    assert said.endswith("3 faults; nothing was computed or written\n")


def test_columns_are_those_of_the_scenario_with_its_changes(place: Place) -> None:
    write(place.grid, "run.2.charge\n5\n")
    run = 'run=[{name="only",hours=5,odds={recovered=0.5,nothing=0.5}}]'
    assert "an item from 1 to 1" in place.refused("--set", run)


def test_a_new_rate_is_allowed_and_told(place: Place) -> None:
    write(place.grid, "rates.rgi,draws.n\n100,64\n")
    result = econ("sweep", place.file, place.grid, "--out", place.out, *FEW)
    assert result.exit_code == 0
    assert "note: column rates.rgi adds a day rate" in result.stderr
    assert "did you mean rig?" in result.stderr
    assert "note: column draws.n changes nothing" in result.stderr


def test_files_that_cannot_be_read(place: Place, tmp_path: Path) -> None:
    for text, said in (("", "no header"), ('rates.rig\n"1\n', "close the quotes")):
        write(place.grid, text)
        assert said in place.refused()
    place.grid.write_bytes("rates.rig,case\n1,\u00e9\n".encode("latin-1"))
    assert "grid line 2" in place.refused()
    place.grid.write_bytes(GRID.encode("utf-16"))
    assert "not UTF-8" in place.refused()
    place.grid.unlink()
    assert "check the name of the grid" in place.refused()
    place.grid.mkdir()
    assert "the folder" in place.refused()
    write(place.file, "schema = 1\n")
    assert "required" in place.refused()
    place.file.unlink()
    assert "no file" in place.refused()


@pytest.mark.parametrize(
    ("more", "said"),
    [
        (["--draws", 100], "power of two"),
        (["--draws", 8], "range"),
        (["--jobs", 0], "range"),
        (["--set", "rates.rig=-1"], "0 or more"),
        (["--set", "nosuch=1"], "unknown key"),
    ],
)
def test_options_that_cannot_be(place: Place, more: list[object], said: str) -> None:
    assert said in place.refused(*more)


@pytest.mark.parametrize("name", ["no/such/folder.csv", "x" * 300, "a\0b", "."])
def test_tables_that_cannot_be(place: Place, tmp_path: Path, name: str) -> None:
    place.out = tmp_path / name
    before = sorted(os.listdir(tmp_path))
    assert "--out" in place.refused()
    assert sorted(os.listdir(tmp_path)) == before


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="needs a device")
def test_a_device_is_no_table(place: Place) -> None:
    place.out = Path("/dev/full")
    assert "plain file" in place.refused()


# ---- going on ---------------------------------------------------------------------------------


def test_a_table_cut_anywhere_is_gone_on_with(place: Place) -> None:
    place.sweep()
    whole = place.out.read_bytes()
    header = whole.index(b"\n") + 1
    lines = whole.count(b"\n") - 1
    for size in [*range(0, len(whole), 37), header - 1, header, len(whole) - 1, len(whole)]:
        place.out.write_bytes(whole[:size])
        said = place.sweep()
        assert place.out.read_bytes() == whole
        kept = max(0, whole[:size].count(b"\n") - 1)
        assert said.startswith(f"{lines} rows in ")
        assert ("were there before" in said) == (kept > 0)
        assert kept == 0 or f"; {kept} of them" in said


def test_only_what_is_left_is_computed(place: Place, monkeypatch: pytest.MonkeyPatch) -> None:
    place.sweep()
    lines = place.out.read_bytes().splitlines(keepends=True)
    place.out.write_bytes(b"".join(lines[:2]))
    module = importlib.import_module("econ.decision.sweep")
    seen: list[tuple[str, ...]] = []

    def noted(
        text: str, rows: tuple[tuple[str, ...], ...], draws: int, log: str
    ) -> list[dict[str, Any]]:
        seen.extend(rows)
        return sweep_rows(text, rows, draws, log)

    monkeypatch.setattr(module, "sweep_rows", noted)
    place.sweep()
    assert seen == [("rates.rig=15000",), ("rates.rig=30000", "run.1.charge=2500")]
    place.sweep()
    assert len(seen) == 2


def test_rows_added_to_a_grid_are_added_to_its_table(place: Place) -> None:
    place.sweep()
    before = place.out.read_bytes()
    write(place.grid, GRID + "more,18000,9\n")
    assert "4 rows" in place.sweep()
    assert place.out.read_bytes().startswith(before)


def change_grid(place: Place) -> None:
    write(place.grid, GRID.replace("15000", "15001"))


def shorten_grid(place: Place) -> None:
    write(place.grid, GRID.replace("high,30000,2500\n", ""))


def rename_column(place: Place) -> None:
    write(place.grid, GRID.replace("run.1", "run.2"))


def swap_rows(place: Place) -> None:
    head, *rows = GRID.splitlines(keepends=True)
    write(place.grid, head + "".join(rows[::-1]))


def change_scenario(place: Place) -> None:
    write(place.file, place.file.read_text(encoding="utf-8") + "# another word\n")


def foreign_table(place: Place) -> None:
    write(place.out, "precious,data\n1,2\n")


def foreign_text(place: Place) -> None:
    write(place.out, "row,case and so on without an end")


@pytest.mark.parametrize(
    "change",
    [
        *(change_grid, shorten_grid, rename_column, swap_rows, change_scenario),
        *(foreign_table, foreign_text),
    ],
)
def test_a_table_of_something_else_is_left_alone(
    place: Place, change: Callable[[Place], None]
) -> None:
    place.sweep()
    change(place)
    said = place.refused()
    assert "has other rows or columns" in said
    assert "give another --out" in said


@pytest.mark.parametrize("name", ["grid", "file"])
def test_what_is_read_is_no_table(place: Place, name: str) -> None:
    place.sweep()
    place.out = getattr(place, name)
    assert "that is read" in place.refused()


@pytest.mark.parametrize("more", [("--draws", 32), ("--set", "run.1.charge=1")])
def test_a_table_of_other_options_is_left_alone(place: Place, more: tuple[object, ...]) -> None:
    place.sweep()
    assert "other rows or columns" in place.refused(*more)


def test_a_table_of_another_version_is_left_alone(
    place: Place, monkeypatch: pytest.MonkeyPatch
) -> None:
    place.sweep()
    monkeypatch.setattr("econ.__version__", "99")
    assert "version" in place.refused()


def test_only_one_sweep_writes_a_table(place: Place) -> None:
    place.sweep()
    module = importlib.import_module("econ.cli.sweep")
    table = module.Table(str(place.out), b"row\n")
    try:
        assert "another sweep is writing" in place.refused()
    finally:
        table.close()
    assert "were there before" in place.sweep()


# ---- stopped ----------------------------------------------------------------------------------


def start(place: Place, *more: object, **how: Any) -> subprocess.Popen[str]:
    command = [sys.executable, "-c", MAIN, "sweep", place.file, place.grid, "--out", place.out]
    return subprocess.Popen(
        [*map(str, command), "--draws", "16", *map(str, more)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        **how,
    )


def wait_for_lines(place: Place, running: subprocess.Popen[str], lines: int) -> None:
    deadline = time.monotonic() + PATIENCE
    while time.monotonic() < deadline and running.poll() is None:
        with contextlib.suppress(FileNotFoundError):
            if place.out.read_bytes().count(b"\n") > lines:
                return
        time.sleep(0.005)
    assert running.poll() is not None, "it wrote nothing"


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """What the sweep of `long` writes when nothing stops it."""
    place = long_sweep(Place(tmp_path_factory.mktemp("whole")))
    place.sweep()
    return place.out.read_bytes()


@pytest.fixture
def long(place: Place) -> Place:
    """A place whose sweep takes a while."""
    return long_sweep(place)


def long_sweep(place: Place) -> Place:
    write(place.file, A.read_text(encoding="utf-8"))
    write(place.grid, LONG)
    return place


@pytest.mark.parametrize(("jobs", "after"), [(1, (1, 30)), (2, (20,))])
def test_killed_again_and_again_it_ends_with_the_same_table(
    long: Place, whole: bytes, jobs: int, after: tuple[int, ...]
) -> None:
    kills = 0
    for lines in after:
        running = start(long, "--jobs", jobs)
        wait_for_lines(long, running, lines)
        running.kill()
        # Its processes hold the pipes too: they have to end for this to return.
        _, said = running.communicate(timeout=PATIENCE)
        assert "Traceback" not in said
        kills += running.returncode not in (0, None)
        found = long.out.read_bytes()
        assert whole.startswith(found)  # nothing lost, repeated or out of order
        assert found.count(b"\n") > lines
    assert kills
    assert f"rows in {long.out}: 60 good" in long.sweep()
    assert long.out.read_bytes() == whole


@POSIX
@pytest.mark.parametrize("jobs", [1, 2])
def test_interrupted_it_says_how_to_go_on(long: Place, whole: bytes, jobs: int) -> None:
    write(long.grid, LONG + "".join(f"{rate}\n" for rate in range(30_000, 33_000)))
    # A group of its own, which the signal reaches as a whole: what Ctrl-C does in a terminal.
    running = start(long, "--jobs", jobs, start_new_session=True)
    wait_for_lines(long, running, 5)
    os.killpg(running.pid, signal.SIGINT)
    out, said = running.communicate(timeout=PATIENCE)
    assert running.returncode == 130
    assert out == ""
    found = long.out.read_bytes()
    rows = found.count(b"\n") - 1
    assert said == f"stopped; {rows} rows of 3060 are kept; the same command goes on from there\n"
    assert found.endswith(b"\n")
    assert 5 <= rows < 3060
    assert whole.startswith(found) or found.startswith(whole)


def test_interrupted_before_its_first_row_it_says_so_too(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def interrupted(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    grid = write(tmp_path / "grid.csv", "rates.rig\n30000\n")
    monkeypatch.setattr("econ.decision.sweep.parse_grid", interrupted)
    result = econ("sweep", A, grid, "--out", tmp_path / "out.csv")
    assert result.exit_code == 130
    assert result.stderr == "stopped; the same command goes on\n"
    assert result.stdout == ""
    assert [each.name for each in tmp_path.iterdir()] == ["grid.csv"]


class LimitedFile:
    """In a process to be started: files may not grow beyond a size, as on a full disk."""

    def __init__(self, size: int) -> None:
        self.size = size

    def __call__(self) -> None:
        import resource

        resource.setrlimit(resource.RLIMIT_FSIZE, (self.size, resource.RLIM_INFINITY))


@POSIX
def test_a_full_disk_ends_it_in_words(long: Place, whole: bytes) -> None:
    running = start(long, "--jobs", 2, preexec_fn=LimitedFile(3000))
    out, said = running.communicate(timeout=PATIENCE)
    assert running.returncode == 1
    assert out == ""
    assert len(long.out.read_bytes()) == 3000  # the last line was cut
    rows = whole[:3000].count(b"\n") - 1
    assert said == (
        f"{long.out} cannot be written to any more: {os.strerror(errno.EFBIG)}; "
        f"{rows} rows of 60 are kept; the same command goes on from there\n"
    )
    long.sweep()
    assert long.out.read_bytes() == whole


def test_a_lost_process_ends_it_in_words(place: Place, monkeypatch: pytest.MonkeyPatch) -> None:
    class Lost(Executor):
        def submit(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Future[Any]:
            future: Future[Any] = Future()
            future.set_exception(process.BrokenProcessPool("ended abruptly"))
            return future

    module = importlib.import_module("econ.cli.sweep")
    monkeypatch.setattr(module, "_executor", lambda jobs: Lost())
    result = econ("sweep", place.file, place.grid, "--out", place.out, *FEW)
    assert result.exit_code == 1
    assert "a process was lost" in result.stderr
    assert "0 rows of 3 are kept" in result.stderr
    monkeypatch.undo()
    place.sweep()


# ---- manners ----------------------------------------------------------------------------------


def test_nothing_is_drawn_where_nobody_looks(place: Place) -> None:
    result = econ("sweep", place.file, place.grid, "--out", place.out, *FEW)
    assert result.stderr == ""
    assert result.stdout.count("\n") == 1


@POSIX
def test_progress_is_drawn_in_a_terminal(place: Place) -> None:
    import pty

    master, slave = pty.openpty()
    command = [sys.executable, "-c", MAIN, "sweep", place.file, place.grid, "--out", place.out]
    done = subprocess.run(
        [*map(str, command), "--draws", "16"],
        stdout=subprocess.PIPE,
        stderr=slave,
        env={**os.environ, "TERM": "xterm"},
        text=True,
        check=True,
    )
    os.close(slave)
    with open(master, "rb", buffering=0) as terminal:
        drawn = read_all(terminal)
    assert done.stdout == f"3 rows in {place.out}: 3 good, 0 bad\n"
    assert "rows" in drawn
    assert "100%" in drawn
    assert drawn.isascii()


def read_all(terminal: IO[bytes]) -> str:
    found = b""
    with contextlib.suppress(OSError):  # how the end of a terminal shows
        while part := terminal.read(4096):
            found += part
    return found.decode()


def test_help_tells_the_exit_codes_and_imports_nothing_heavy() -> None:
    said = ok("sweep", "--help")
    assert "Exit code 0: every row was tried, some may be bad." in " ".join(said.split())
    assert max(map(len, said.splitlines())) <= 80
    probe = (
        "import sys\nfrom econ.cli import main\ntry:\n    main(['sweep', '--help'])\n"
        "except SystemExit:\n    pass\n"
        "print(sorted({'numpy', 'scipy', 'pandas', 'matplotlib', 'pydantic'} & set(sys.modules)))"
    )
    done = subprocess.run(
        [sys.executable, "-c", probe], capture_output=True, text=True, check=True, cwd=ROOT
    )
    assert done.stdout.splitlines()[-1] == "[]"
