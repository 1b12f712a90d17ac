"""The command line: parses, calls, sets exit codes. 0 done, 2 bad input."""

from __future__ import annotations

import click

from econ.cli.guard import guard, load_scenario
from econ.cli.methods import methods


@click.group(context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="fish-or-sidetrack", prog_name="econ")
def main() -> None:
    """Fish on, or stop and sidetrack? Expected cost of a fishing job, from a scenario file."""


@main.command()
@click.argument("file")
def new(file: str) -> None:
    """Write a commented starter scenario to FILE."""
    from econ.cli.files import starter, write_new

    guard(lambda: write_new(file, starter()))
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

    scenario = load_scenario(file, changes)
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
@click.option("--log", metavar="RUNS.csv", help="Runs made so far; answer from their end on.")
@click.option("--set", "changes", multiple=True, metavar="KEY=VALUE", help="Override a value.")
def answer(file: str, as_json: bool, log: str | None, changes: tuple[str, ...]) -> None:
    """Say how many more runs and days to fish in the scenario FILE."""
    scenario = load_scenario(file, changes)
    from econ.scenario.run_log import read_log

    made = guard(lambda: () if log is None else read_log(log, scenario))
    from econ.decision import answer as decide

    found = decide(scenario, made)
    if as_json:
        import json

        from econ.reports.tables import all_notes, document

        for note in all_notes(found):
            click.echo(f"note: {note}", err=True)
        click.echo(json.dumps(document(found), indent=2, allow_nan=False))
        return
    from econ.reports.text import text

    click.echo(text(found), nl=False)


main.add_command(methods)
