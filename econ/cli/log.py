"""`econ log`: a row more in the run log, or its last row taken back.

The log is read, the new one is checked and answered, and only then written: whole, in place of the
old one. Another command that writes the same log waits for its turn; a log that has changed since
it was read is left as it is.
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

import click

from econ.cli.guard import guard, load_scenario
from econ.cli.terminal import path_shown, progress, say

if TYPE_CHECKING:
    from econ.scenario import Scenario


@click.group()
def log() -> None:
    """Write the run log RUNS.csv of a job: add a row, or take the last one back."""


@log.command()
@click.argument("file")
@click.argument("runs", metavar="RUNS.csv")
@click.option("--run", metavar="N", help="Number of the run in the file, or name of a reading.")
@click.option("--kind", metavar="KIND", help="Its kind; alone, the first such run not logged yet.")
@click.option("--start", metavar="TIME", help="When it began, such as 2026-03-14T06:00.")
@click.option("--end", metavar="TIME", help="When it ended.")
@click.option("--outcome", metavar="WORD", help="What came of it, such as part or unfinished.")
@click.option("--fish-top", metavar="DEPTH", help="Fish top that it left, if measured.")
@click.option("--top-condition", metavar="WORD", help="Condition of the top, if seen.")
@click.option("--cost", metavar="MONEY", help="What it cost.")
@click.option("--marks", metavar="WORDS", help="Marks seen after it, such as '+dressed -attached'.")
@click.option("--remark", metavar="TEXT", help="A note.")
@click.option("--set", "changes", multiple=True, metavar="KEY=VALUE", help="Override a value.")
def add(file: str, runs: str, changes: tuple[str, ...], **given: str | None) -> None:
    """Add a run that was made to RUNS.csv, and say what it changes.

    The row is checked against the scenario FILE and the rows before it. A log that is not there
    yet is begun. Rows that are there stay as they are, to the byte.
    """
    scenario = load_scenario(file, changes)
    guard(lambda: _check_log(runs, file, scenario))
    from econ.scenario.log_change import entered
    from econ.scenario.run_log import log_name, parse_log

    old = guard(lambda: _bytes(runs))
    added = guard(lambda: entered(_text(old or b""), given, scenario, file=log_name(runs)))
    rows = guard(lambda: parse_log(added.text, scenario, file=log_name(runs)))
    with progress("answering"):
        from econ.decision import answer
        from econ.reports.log_entry_text import added_text

        found = guard(lambda: answer(scenario, rows))
        told = added_text(added, found, file=runs)
    from econ.cli.files import replace_read

    replace_read(runs, old, added.text.encode())
    if old is None:
        say(f"{path_shown(runs)} was not there: it is new, with a header")
    say(told, end="")


@log.command()
@click.argument("file")
@click.argument("runs", metavar="RUNS.csv")
@click.option("--set", "changes", multiple=True, metavar="KEY=VALUE", help="Override a value.")
def undo(file: str, runs: str, changes: tuple[str, ...]) -> None:
    """Take the last row of RUNS.csv back, and say what that changes.

    The row is moved, with its header, to the end of a file beside it: RUNS.undone.csv.
    """
    scenario = load_scenario(file, changes)
    name = Path(runs)
    beside = str(name.with_name(f"{name.stem}.undone{name.suffix or '.csv'}"))
    guard(lambda: _check_log(runs, file, scenario))
    guard(lambda: _check_log(beside, file, scenario))
    from econ.scenario.log_change import taken_back
    from econ.scenario.log_entry import with_undone

    old = guard(lambda: _bytes(runs, must_be=True)) or b""
    kept = guard(lambda: _bytes(beside))
    taken = guard(lambda: taken_back(_text(old)))
    moved = with_undone(guard(lambda: _text(kept or b"")), taken)
    with progress("answering"):
        from econ.reports.log_entry_text import taken_back_text

        told = taken_back_text(scenario, _text(old), taken, file=runs, beside=beside)
    from econ.cli.files import move_read

    move_read((runs, old, taken.text.encode()), to=(beside, kept, moved.encode()))
    say(told, end="")


def _check_log(path: str, file: str, scenario: Scenario) -> None:
    """ScenarioError unless a log can be written at `path` that is no other file that is read."""
    from econ.cli.targets import check_file, files_read
    from econ.scenario.faults import Fault, ScenarioError

    check_file(path, files_read(file, scenario), option="RUNS.csv")
    if not os.path.exists(path):
        return
    if not os.access(path, os.W_OK) or not os.stat(path).st_mode & 0o222:
        allowed, todo = "a file that can be written", "make it writable, or give another name"
        given = f"{path!a}, which is read-only"
        raise ScenarioError([Fault(given, allowed, todo, ("RUNS.csv",))])


def _bytes(path: str, *, must_be: bool = False) -> bytes | None:
    """What a log holds, None where there is none."""
    from econ.scenario.faults import Fault, ScenarioError
    from econ.scenario.toml_text import read_bytes

    if os.path.exists(path):
        return read_bytes(path)
    if must_be:
        fault = Fault(f"no file {path!a}", "a file that exists", "check the name of the run log")
        raise ScenarioError([fault])
    return None


def _text(data: bytes) -> str:
    from econ.scenario.toml_text import decoded

    return decoded(data)
