"""The command line: parses, calls, sets exit codes. 0 done, 2 bad input."""

from __future__ import annotations

import sys
from collections.abc import Callable
from typing import TYPE_CHECKING, TypeVar

import click

if TYPE_CHECKING:
    from econ.scenario import Scenario, ScenarioError

T = TypeVar("T")
BAD_INPUT = 2
MOST_FAULTS = 100  # lines of faults printed; the rest is counted


@click.group(context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="fish-or-sidetrack", prog_name="econ")
def main() -> None:
    """Fish on, or stop and sidetrack? Expected cost of a fishing job, from a scenario file."""


@main.command()
@click.argument("file")
def new(file: str) -> None:
    """Write a commented starter scenario to FILE."""
    from econ.cli.files import starter, write_new

    _guard(lambda: write_new(file, starter()))
    click.echo(f"wrote {ascii(file)[1:-1]}; now: econ answer {ascii(file)[1:-1]}")


@main.command()
@click.argument("file", required=False)
@click.option("--schema", is_flag=True, help="Print the JSON Schema of a scenario instead.")
@click.option("--set", "changes", multiple=True, metavar="KEY=VALUE", help="Override a value.")
def check(file: str | None, schema: bool, changes: tuple[str, ...]) -> None:
    """Check a scenario FILE and report every fault at once."""
    if schema:
        import json

        from econ.scenario import Scenario

        click.echo(json.dumps(Scenario.model_json_schema(), indent=2))
        return
    if file is None:
        raise click.UsageError("give a FILE, or --schema")
    from econ.scenario.notes import notes

    scenario = _load(file, changes)
    for note in notes(scenario):
        click.echo(f"note: {note}")
    found = (
        ("run", len(scenario.run)),
        ("fallback", len(scenario.fallback)),
        ("uncertain amount", sum(1 for _ in scenario.amounts())),
    )
    counts = [f"{count} {word}{'' if count == 1 else 's'}" for word, count in found]
    click.echo(f"good: {', '.join(counts)}")


@main.command()
@click.argument("file")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON document.")
@click.option("--set", "changes", multiple=True, metavar="KEY=VALUE", help="Override a value.")
def answer(file: str, as_json: bool, changes: tuple[str, ...]) -> None:
    """Say how many more runs and days to fish in the scenario FILE."""
    scenario = _load(file, changes)
    from econ.decision import answer as decide

    found = decide(scenario)
    if as_json:
        import json

        from econ.reports.tables import document
        from econ.scenario.notes import notes

        for note in notes(scenario):
            click.echo(f"note: {note}", err=True)
        click.echo(json.dumps(document(found), indent=2, allow_nan=False))
        return
    from econ.reports.text import text

    click.echo(text(found), nl=False)


def _load(file: str, changes: tuple[str, ...]) -> Scenario:
    from econ.scenario import load

    return _guard(lambda: load(file, changes))


def _guard(work: Callable[[], T]) -> T:
    """Do the work; print the faults of bad input and end with exit code 2."""
    from econ.scenario import ScenarioError

    try:
        return work()
    except ScenarioError as error:
        _print(error)
        sys.exit(BAD_INPUT)


def _print(error: ScenarioError) -> None:
    for fault in error.faults[:MOST_FAULTS]:
        click.echo(str(fault), err=True)
    count = len(error.faults)
    if count > MOST_FAULTS:
        click.echo(f"... and {count - MOST_FAULTS} more", err=True)
    click.echo(f"{count} fault{'s' if count > 1 else ''}; nothing was computed", err=True)
