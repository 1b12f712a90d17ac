"""`econ sweep`: one case for every row of a grid, into a table that can be stopped and resumed.

The table has a line for each row of the grid, in its order. A line is written in one go when
its row is done and ends with a fingerprint of all that it was made from: version, scenario,
--set, draws, columns, log, number and cells of the row. So whatever ends a sweep, the lines that
are whole and agree with their rows are good, and the next one goes on after them.
"""

from __future__ import annotations

import csv
import os
import signal
import stat
import sys
import threading
from collections import deque
from collections.abc import Iterator
from contextlib import AbstractContextManager, closing, contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn

import click

import econ
from econ.cli.exits import INTERRUPTED, STOPPED
from econ.cli.guard import MOST_FAULTS, guard
from econ.cli.log_option import log_option, log_text
from econ.cli.processes import MOST_JOBS, processes, processors
from econ.cli.terminal import path_shown, say

if TYPE_CHECKING:
    from concurrent.futures import Executor

    from econ.decision.sweep import Fingerprints, Grid, Row
    from econ.scenario.faults import ScenarioError
    from econ.scenario.load import Variants

LARGEST_GRID = 200_000_000  # bytes; a million rows of five numbers are 50 million
MOST_DRAWS = 65_536
LONGEST = 500  # characters of what is said of a bad row; all of it stands in the table
UNDER_WAY = 3  # chunks for each process: at work, at hand, and done before an earlier one
LOCKED_BYTE = 2**40  # Windows keeps what it locks from readers, so nothing stands there


def _power_of_two(_: object, __: object, draws: int) -> int:
    if draws & (draws - 1):
        raise click.BadParameter(f"{draws} is no power of two, such as 64 or 256")
    return draws


@click.command()
@click.argument("file")
@click.argument("grid")
@click.option("--out", required=True, metavar="OUT.csv", help="Table to write, or to go on with.")
@click.option(
    "--draws",
    type=click.IntRange(16, MOST_DRAWS),
    default=64,
    show_default=True,
    callback=_power_of_two,
    help="Draws of each scramble, a power of two.",
)
@click.option(
    "--jobs",
    type=click.IntRange(1, MOST_JOBS),
    help="Processes; as many as there are processors if left out.",
)
@log_option
@click.option("--set", "changes", multiple=True, metavar="KEY=VALUE", help="Override a value.")
def sweep(
    file: str,
    grid: str,
    out: str,
    draws: int,
    jobs: int | None,
    log: str | None,
    changes: tuple[str, ...],
) -> None:
    """Answer the scenario FILE once for every row of GRID, a CSV table.

    The columns of GRID are key paths as for --set (rates.rig, run.2.charge, items of lists
    counted from 1), and case for a label of your own. A cell is a TOML value or a bare word; an
    empty one leaves the value of FILE. Rows are counted from 1 below the header, without blank
    lines.

    With --log every row is answered from the end of the runs made; a row that they cannot have
    happened in is bad.

    OUT.csv gets a line for each row, in order: the best limit on runs of the list as it stands, its
    expected cost and standard error, what it saves. A row that is bad gets its faults in the column
    error, is named at the end, and stops no other. Stopped by Ctrl-C or in any other way, the same
    command goes on where it was.

    Exit code 0: every row was tried, some may be bad. 2: FILE, GRID, OUT.csv or an option cannot
    be used. 1: stopped by a full disk or a lost process. 130: stopped by Ctrl-C.
    """
    try:
        _sweep(file, grid, out, draws, jobs, log, changes)
    except KeyboardInterrupt:  # before the first row is begun, or after the last
        say("stopped; the same command goes on", err=True)
        sys.exit(INTERRUPTED)


def _sweep(
    file: str,
    grid: str,
    out: str,
    draws: int,
    jobs: int | None,
    log: str | None,
    changes: tuple[str, ...],
) -> None:
    from econ.cli.targets import check_not_read, files_read
    from econ.decision.sweep import RESULTS, line_of, parse_grid
    from econ.scenario.load import Variants, anchored, folder_of, parse, read_text

    text = guard(lambda: read_text(file))
    changes = guard(lambda: anchored(text, changes, folder_of(file)))
    scenario = guard(lambda: parse(text, changes))
    variants = Variants(text, changes)
    name = ascii(Path(grid).name)[1:-1][:60]
    cases = guard(lambda: parse_grid(_grid_text(grid), variants, file=name))
    _say_notes(cases, variants)
    guard(lambda: check_not_read(out, files_read(file, scenario, grid=grid, run_log=log)))
    logged = log_text(log, scenario)
    header = line_of(["row", *cases.columns, *RESULTS, "fingerprint"])
    table = guard(lambda: Table(out, header))
    work = _Work(cases, table, text, changes, draws, logged)
    try:
        guard(work.resume)
        work.run(processors() if jobs is None else jobs)
    finally:
        table.close()
    work.report()


def _grid_text(path: str) -> str:
    from econ.scenario.faults import Fault, ScenarioError
    from econ.scenario.load import read_text

    try:
        return read_text(path, largest=LARGEST_GRID)
    except ScenarioError as error:
        fault = error.faults[0]
        missing = isinstance(error.__context__, FileNotFoundError)  # no starter is a grid
        suggestion = "check the name of the grid" if missing else fault.suggestion
        place = ("grid",) if fault.line is None else (f"grid line {fault.line}",)
        raise ScenarioError([Fault(fault.given, fault.allowed, suggestion, place)]) from None


def _say_notes(grid: Grid, variants: Variants) -> None:
    """What is allowed and yet may be a slip."""
    for key in grid.columns:
        like = variants.new_name(key)
        if like is not None:
            adds = f"column {ascii(key)[1:-1]} adds a day rate that the scenario does not have"
            say(f"note: {adds}{'; ' if like else ''}{like}", err=True)
        if key == "draws.n":
            say("note: column draws.n changes nothing here; --draws does", err=True)


class Table:
    """OUT.csv, open to be added to by this process alone."""

    def __init__(self, path: str, header: bytes) -> None:
        self.path = path
        self.name = ascii(path)[1:-1]
        self._header = header
        try:
            self._file = open(path, "a+b", buffering=0)  # noqa: SIM115 - closed by close()
        except (OSError, ValueError) as error:
            raise self._unusable(error) from None
        try:
            if not stat.S_ISREG(os.fstat(self._file.fileno()).st_mode):
                raise OSError(0, "not a plain file")
            _lock(self._file.fileno())
        except BlockingIOError:
            self.close()
            given = "a table that another sweep is writing"
            raise self._refused(given, "one sweep to a table", "wait for it, or stop it") from None
        except OSError as error:
            self.close()
            raise self._unusable(error) from None

    def resume(self, rows: Iterator[Row], fingerprints: Fingerprints) -> Iterator[str]:
        """Drop a line that was cut off, and take from `rows` those that are done; gives the
        error of each. ScenarioError if the table is not one of these rows."""
        end, width = 0, len(_cells(self._header))
        with open(self.path, "rb") as reader:
            first = reader.readline(len(self._header))
            if first == self._header:
                end = len(first)
                for line in reader:
                    if not line.endswith(b"\n"):
                        break
                    row = next(rows, None)
                    cells = _cells(line)
                    if row is None or len(cells) != width or cells[-1] != fingerprints.of(row):
                        raise self._another()
                    end += len(line)
                    yield cells[-2]
            elif reader.read(1) or not self._header.startswith(first):
                raise self._another()
        self._file.truncate(end)
        if not end:
            self.add(self._header)

    def add(self, line: bytes) -> None:
        """Add a line; OSError if there is no room for it."""
        while line:  # a disk may take only a part before it is full
            line = line[self._file.write(line) :]

    def close(self) -> None:
        """Let others write."""
        self._file.close()

    def _unusable(self, error: OSError | ValueError) -> ScenarioError:
        reason = getattr(error, "strerror", None) or str(error)
        return self._refused(self.name, "a file that can be written to and locked", reason)

    def _another(self) -> ScenarioError:
        given = f"{self.name}, which is there and has other rows or columns"
        allowed = "a new name, or what the same FILE, GRID, options and version have left"
        return self._refused(given, allowed, "give another --out")

    def _refused(self, given: str, allowed: str, suggestion: str) -> ScenarioError:
        from econ.scenario.faults import Fault, ScenarioError

        return ScenarioError([Fault(given, allowed, suggestion, ("--out",))])


def _cells(line: bytes) -> list[str]:
    """Cells of a line; none of one that a sweep cannot have written."""
    try:
        return next(csv.reader([line.decode(errors="replace")]))
    except csv.Error:
        return []


def _lock(handle: int) -> None:
    """Keep other sweeps out until this process ends, in whatever way it does; BlockingIOError
    if another one is in."""
    if sys.platform == "win32":
        import msvcrt

        os.lseek(handle, LOCKED_BYTE, os.SEEK_SET)
        try:
            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        except OSError as error:
            raise BlockingIOError(error.errno, error.strerror) from None
    else:
        import fcntl

        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)


class _Work:
    """The rows of a grid on their way into the table."""

    def __init__(
        self,
        grid: Grid,
        table: Table,
        text: str,
        changes: tuple[str, ...],
        draws: int,
        log: str,
    ) -> None:
        from econ.decision.sweep import Fingerprints

        common = (econ.__version__, text, changes, draws, grid.columns)
        self.fingerprints = Fingerprints(*common, *([log] if log else []))
        self.text, self.changes, self.draws, self.log = text, changes, draws, log
        self.count, self.rows, self.table = grid.count, grid.rows(), table
        self.done = self.kept = self.bad = 0
        self.worst: list[str] = []  # the first bad rows, in words
        self.under_way: deque[Row] = deque()
        self.stop = threading.Event()

    def resume(self) -> None:
        """Take what the table has."""
        try:
            for error in self.table.resume(self.rows, self.fingerprints):
                self._one_more(error)
        except OSError as error:
            self._unwritable(error)
        self.kept = self.done

    def run(self, jobs: int) -> None:
        """Compute what is left."""
        from concurrent.futures import BrokenExecutor

        from econ.decision.sweep import sweep as results
        from econ.decision.sweep import together

        left = self.count - self.done
        jobs = min(jobs, -(-left // together(self.draws))) or 1
        hidden = not sys.stderr.isatty()
        bar = click.progressbar(length=left, label="rows", file=sys.stderr, hidden=hidden)
        try:
            with _executor(jobs) as pool, _interrupt(self.stop), bar:
                found = results(
                    *(self.text, self._waiting(), pool),
                    draws=self.draws,
                    ahead=UNDER_WAY * jobs,
                    log=self.log,
                )
                with closing(found):
                    for _, result in found:
                        bar.update(self._faulty() + 1)
                        self._write(self.under_way.popleft(), result)
                bar.update(self._faulty())
        except (BrokenExecutor, OSError) as error:
            reason = ascii(str(error))[1:-1]
            self._end(f"a process was lost or not to be had (try --jobs 1): {reason}", STOPPED)
        except KeyboardInterrupt:
            self.stop.set()
        if self.stop.is_set() and self.done < self.count:
            self._end("stopped", INTERRUPTED)

    def report(self) -> None:
        """Bad rows, and how many were done."""
        self._say_bad()
        there = f"; {self.kept} of them were there before" if self.kept else ""
        say(
            f"{_rows(self.done)} in {path_shown(self.table.path)}: {self.done - self.bad} good, "
            f"{self.bad} bad{there}"
        )

    def _waiting(self) -> Iterator[tuple[str, ...]]:
        for row in self.rows:
            if self.stop.is_set():
                return
            self.under_way.append(row)
            if not row.fault:
                yield (*self.changes, *row.overrides)

    def _faulty(self) -> int:
        """Write the rows before the next result that cannot be computed."""
        before = self.done
        while self.under_way and self.under_way[0].fault:
            row = self.under_way.popleft()
            self._write(row, {"error": row.fault})
        return self.done - before

    def _write(self, row: Row, result: dict[str, Any]) -> None:
        from econ.decision.sweep import RESULTS, line_of

        values = [result.get(name) for name in RESULTS]
        try:
            self.table.add(line_of([row.number, *row.cells, *values, self.fingerprints.of(row)]))
        except OSError as error:
            self._unwritable(error)
        self._one_more(result["error"])

    def _one_more(self, error: str) -> None:
        self.done += 1
        if error:
            self.bad += 1
            if self.bad <= MOST_FAULTS:
                cut = f"{error[:LONGEST]}..." if len(error) > LONGEST else error
                self.worst.append(f"row {self.done}: {cut}")

    def _say_bad(self) -> None:
        for words in self.worst:
            say(words, err=True)
        if self.bad > len(self.worst):
            say(f"... and {self.bad - len(self.worst)} more bad rows", err=True)

    def _unwritable(self, error: OSError) -> NoReturn:
        reason = error.strerror or str(error)
        self._end(f"{path_shown(self.table.path)} cannot be written to any more: {reason}", STOPPED)

    def _end(self, why: str, code: int) -> NoReturn:
        self._say_bad()
        kept = f"{_rows(self.done)} of {self.count} are kept"
        say(f"{why}; {kept}; the same command goes on from there", err=True)
        sys.exit(code)


def _rows(count: int) -> str:
    return f"{count} row{'' if count == 1 else 's'}"


def _executor(jobs: int) -> AbstractContextManager[Executor]:
    """A process for each job, a thread for a single one."""
    from concurrent.futures import ThreadPoolExecutor

    return ThreadPoolExecutor(1) if jobs == 1 else processes(jobs)


@contextmanager
def _interrupt(stop: threading.Event) -> Iterator[None]:
    """The first Ctrl-C lets the rows under way finish, the second one does not wait."""

    def first(*_: object) -> None:
        stop.set()
        signal.signal(signal.SIGINT, signal.default_int_handler)

    before = signal.signal(signal.SIGINT, first)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)
