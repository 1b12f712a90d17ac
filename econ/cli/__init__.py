"""The command line: parses, calls, sets exit codes (`econ.cli.exits`)."""

from __future__ import annotations

import os
from importlib import import_module

import click

from econ.cli.ending import EndingGroup
from econ.cli.guard import guard, load_scenario
from econ.cli.log_option import log_option, runs_made
from econ.cli.processes import end_at_once
from econ.cli.terminal import path_shown, progress, say

# Commands in modules of their own, each imported when its command, or help on all, is asked for.
MODULES = {
    "afe": "econ.cli.afe",
    "class": "econ.cli.class_",
    "daily": "econ.cli.daily",
    "desk": "econ.cli.desk",
    "figures": "econ.cli.figures",
    "lessons": "econ.cli.lessons",
    "log": "econ.cli.log",
    "memo": "econ.cli.memo",
    "methods": "econ.cli.methods",
    "odds": "econ.cli.odds",
    "page": "econ.cli.page",
    "plan": "econ.cli.plan",
    "report": "econ.cli.report",
    "sensitivity": "econ.cli.sensitivity",
    "sweep": "econ.cli.sweep",
    "whatif": "econ.cli.sensitivity",
}


class Commands(EndingGroup):
    """A group that has the commands of MODULES besides those that are added to it."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Names of all commands, sorted."""
        return sorted([*self.commands, *MODULES])

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """The command of this name, None if there is none."""
        if cmd_name in MODULES:
            # `class` is a word of Python: its function has another name.
            name = "class_" if cmd_name == "class" else cmd_name
            command: click.Command = getattr(import_module(MODULES[cmd_name]), name)
            return command
        return super().get_command(ctx, cmd_name)


@click.group(cls=Commands, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="fish-or-sidetrack", prog_name="econ")
def main() -> None:
    """Fish on, or stop and sidetrack? Expected cost of a fishing job, from a scenario file."""
    # Arrays here are worked item by item. Threads of a linear algebra library only wait for each
    # other where two processes work side by side (read when NumPy is first imported).
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    end_at_once()


@main.command()
@click.argument("file")
@click.option(
    "--units",
    type=click.Choice(["field", "metric"]),
    default="field",
    show_default=True,
    help="ft, in, lb, lb/gal; or m, mm, kg, kg/m3.",
)
def new(file: str, units: str) -> None:
    """Write a commented starter scenario to FILE.

    It asks ten questions first. Every value to be replaced is marked REPLACE in its comment.
    """
    from econ.cli.files import starter, write_new
    from econ.cli.targets import check_new

    guard(lambda: check_new(file))
    guard(lambda: write_new(file, starter(units)))
    name = path_shown(file)
    say(f"wrote {name}; now: econ answer {name}")


@main.command()
@click.argument("file", required=False)
@click.option("--schema", is_flag=True, help="Print the JSON Schema of a scenario instead.")
@click.option("--set", "changes", multiple=True, metavar="KEY=VALUE", help="Override a value.")
def check(file: str | None, schema: bool, changes: tuple[str, ...]) -> None:
    """Check a scenario FILE and report every fault at once."""
    if schema:
        import json

        from econ.scenario import Scenario

        say(json.dumps(Scenario.model_json_schema(), indent=2))
        return
    if file is None:
        raise click.UsageError("give a FILE, or --schema")
    from econ.scenario.notes import notes

    scenario = load_scenario(file, changes)
    for note in notes(scenario):
        say(f"note: {note}")
    found = (
        ("run", len(scenario.run)),
        ("fallback", len(scenario.fallback)),
        ("uncertain amount", sum(1 for _ in scenario.amounts())),
    )
    counts = [f"{count} {word}{'' if count == 1 else 's'}" for word, count in found]
    say(f"good: {', '.join(counts)}")


@main.command()
@click.argument("file")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON document.")
@click.option("--full", is_flag=True, help="Print all that was worked out, not the first screen.")
@log_option
@click.option("--order", is_flag=True, help="Also search for a cheaper order or subset of runs.")
@click.option("--set", "changes", multiple=True, metavar="KEY=VALUE", help="Override a value.")
def answer(
    file: str, as_json: bool, full: bool, log: str | None, order: bool, changes: tuple[str, ...]
) -> None:
    """Say how many more runs and days to fish in the scenario FILE."""
    scenario = load_scenario(file, changes)
    made = runs_made(log, scenario)
    searched = None
    steps = ("answering", "looking for a cheaper order") if order else ("answering",)
    with progress(*steps) as next_step:
        from econ.decision import answer as decide

        found = guard(lambda: decide(scenario, made))
        if order:
            from econ.decision.order import best_order
            from econ.decision.run_log import inputs_after

            next_step()
            searched = best_order(inputs_after(scenario, made))
    if as_json:
        import json

        from econ.reports.tables import all_notes, document

        for note in all_notes(found):
            say(f"note: {note}", err=True)
        whole = document(found)
        if searched is not None:
            from econ.reports.order_tables import order_document

            whole["order"] = order_document(searched)
        say(json.dumps(whole, indent=2, allow_nan=False))
        return
    from econ.reports.text import text

    more = []
    if searched is not None:
        from econ.reports.order_text import order_section

        more.append(order_section(searched))
    say(text(found, more, full=full), end="")
