"""`econ class`: the class exercise as a page, in one file."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from econ.cli.guard import guard, load_scenario
from econ.cli.terminal import path_shown, progress, say

if TYPE_CHECKING:
    from econ.scenario import Scenario
    from econ.scenario.run_log import LoggedRun

MOST_LOGS = 8


@click.command("class")
@click.argument("file")
@click.option("--out", required=True, metavar="PAGE.html", help="Where to write the page.")
@click.option(
    "--log",
    "logs",
    multiple=True,
    metavar="RUNS.csv",
    help="An envelope of the facilitator's: runs and how they ended. May be given again.",
)
@click.option("--set", "changes", multiple=True, metavar="KEY=VALUE", help="Override a value.")
def class_(file: str, out: str, logs: tuple[str, ...], changes: tuple[str, ...]) -> None:
    """Write the class exercise on the scenario FILE: teams decide morning by morning.

    One file, no network. The ends of the runs come from a log, or are drawn by a number.
    """
    scenario = load_scenario(file, changes)
    from econ.cli.files import write_files
    from econ.cli.targets import check_file, files_read

    if len(logs) > MOST_LOGS:
        raise click.UsageError(f"--log is given {len(logs)} times; a page holds {MOST_LOGS}")
    read = files_read(file, scenario, **{f"run_log_{n}": path for n, path in enumerate(logs, 1)})
    guard(lambda: check_file(out, read, endings=[".html"]))
    envelopes = [(_name(path), _rows(path, scenario)) for path in logs]
    steps = ["working out the states", *(f"reading envelope {n + 1}" for n in range(len(logs)))]
    with progress(*steps) as next_step:
        from econ.decision.class_model import class_model
        from econ.reports.class_page import class_page_html

        model = guard(lambda: class_model(scenario, envelopes, next_step=next_step))
        content = class_page_html(model)
    write_files({out: content})
    say(f"wrote {path_shown(out)}")


def _rows(path: str, scenario: Scenario) -> tuple[LoggedRun, ...]:
    """The rows of an envelope; the end of the command if there is none."""
    from econ.scenario.faults import Fault, ScenarioError
    from econ.scenario.run_log import read_log

    def rows() -> tuple[LoggedRun, ...]:
        found = read_log(path, scenario)
        if not found:
            given = f"{path!a}, a log without a row"
            raise ScenarioError([Fault(given, "a log with at least one", "", ("--log",))])
        return found

    return guard(rows)


def _name(path: str) -> str:
    """What an envelope is called on the facilitator's sheet."""
    import os.path

    return os.path.splitext(os.path.basename(path))[0]
