"""`econ methods`: kinds of run and where they suit, and a run to start from."""

from __future__ import annotations

import click

from econ.cli.guard import guard, load_scenario
from econ.cli.log_option import log_option, runs_made
from econ.cli.terminal import say


@click.command()
@click.argument("file")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON document.")
@log_option
@click.option("--set", "changes", multiple=True, metavar="KEY=VALUE", help="Override a value.")
@click.option("--run", "kind", metavar="KIND", help="Print a [[run]] of KIND to paste instead.")
def methods(
    file: str, as_json: bool, log: str | None, changes: tuple[str, ...], kind: str | None
) -> None:
    """Say which kinds of run suit the fish in the scenario FILE, and why, best in money first.

    FILE needs no run, no rates and no fallback yet. With --log the fish is as the runs left it.
    """
    if as_json and kind is not None:
        raise click.UsageError("give --json or --run, not both")
    scenario = load_scenario(file, changes, need_odds=log is not None)
    made = runs_made(log, scenario)
    if kind is not None:
        from econ.decision.fish_now import fish_now
        from econ.job.methods.run_fragment import fragment

        wanted = kind
        say(guard(lambda: fragment(fish_now(scenario, made), wanted)), end="")
        return
    from econ.decision.methods import methods as ranked

    found = guard(lambda: ranked(scenario, made))
    if as_json:
        import json

        from econ.reports.methods_tables import methods_document

        say(json.dumps(methods_document(found), indent=2, allow_nan=False))
        return
    from econ.reports.methods_text import methods_text

    say(methods_text(found), end="")
