"""`econ sensitivity` and `econ whatif`: what moves the answer, and one change set beside it."""

from __future__ import annotations

import click

from econ.cli.guard import guard, load_scenario, load_variants
from econ.cli.log_option import log_option, runs_made
from econ.cli.terminal import progress, say


@click.command()
@click.argument("file")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON document.")
@log_option
@click.option("--set", "changes", multiple=True, metavar="KEY=VALUE", help="Override a value.")
@click.option(
    "--map",
    "map_of",
    nargs=2,
    metavar="ROW COLUMN",
    help="Drivers of the map, such as workable fallback; --json lists their names.",
)
def sensitivity(
    file: str,
    as_json: bool,
    log: str | None,
    changes: tuple[str, ...],
    map_of: tuple[str, str] | None,
) -> None:
    """Say what each input of the scenario FILE does to the cost and to the best limit.

    With --log all is from now on, and every input that is turned is held against the log.
    """
    scenario = load_scenario(file, changes)
    made = runs_made(log, scenario)
    with progress("turning every input"):
        from econ.decision.sensitivity import InputError
        from econ.decision.sensitivity import sensitivity as turned

        try:
            found = guard(lambda: turned(scenario, made, map_of=map_of))
        except InputError as error:
            raise click.UsageError(f"--map: no driver {error}") from None
    if as_json:
        import json

        from econ.reports.sensitivity_tables import sensitivity_document

        say(json.dumps(sensitivity_document(found), indent=2, allow_nan=False))
        return
    from econ.reports.sensitivity_text import sensitivity_text

    say(sensitivity_text(found), end="")


@click.command()
@click.argument("file")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON document.")
@log_option
@click.option(
    "--set", "changes", multiple=True, required=True, metavar="KEY=VALUE", help="What to change."
)
def whatif(file: str, as_json: bool, log: str | None, changes: tuple[str, ...]) -> None:
    """Set the scenario FILE and the same with changes side by side, on the same random numbers.

    Changes of [draws] are made on both sides. With --log both are from now on.
    """
    sampling = tuple(change for change in changes if change.strip().startswith("draws."))
    before, after = load_variants(file, sampling, changes)
    made = runs_made(log, before, after)
    with progress("answering before and after"):
        from econ.decision.whatif import whatif as compare

        found = guard(lambda: compare(before, after, made))
    if as_json:
        import json

        from econ.reports.whatif_tables import whatif_document

        say(json.dumps(whatif_document(found), indent=2, allow_nan=False))
        return
    from econ.reports.whatif_text import whatif_text

    say(whatif_text(found), end="")
