"""--log: the runs made so far, the same option and the same reader for every command."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any, TypeVar

import click

from econ.cli.guard import guard
from econ.cli.terminal import say

if TYPE_CHECKING:
    from econ.scenario import Scenario
    from econ.scenario.run_log import LoggedRun

Command = TypeVar("Command", bound=Callable[..., Any])


def log_option(command: Command) -> Command:
    """Give a command the option --log, as `log`."""
    words = "Runs made so far; all is from their end on."
    return click.option("--log", metavar="RUNS.csv", help=words)(command)


def runs_made(log: str | None, scenario: Scenario, *changed: Scenario) -> tuple[LoggedRun, ...]:
    """The runs in the file of --log, none without it; the faults of the file and the end if it
    does not agree with the scenario, or with the same with changes."""
    if log is None:
        return ()
    from econ.scenario.run_log import read_log

    path = log
    return guard(lambda: read_log(path, scenario, *changed))


def say_over(made: Sequence[LoggedRun]) -> None:
    """Say that the runs made have ended the job, for a command that prints no words of its own."""
    from econ.reports.after_log import over

    for line in over(made):
        say(f"note: {line}", err=True)


def log_text(log: str | None, scenario: Scenario) -> str:
    """The text of the file of --log, empty without it; its faults, and the end, if it does not
    agree with the scenario."""
    if log is None:
        return ""
    from econ.scenario.run_log import log_text as read
    from econ.scenario.run_log import parse_log

    text, file = guard(lambda: read(log))
    say_over(guard(lambda: parse_log(text, scenario, file=file)))
    return text
