"""`econ plan`: what to run next in every state, as text, JSON or a picture."""

from __future__ import annotations

import click

from econ.cli.guard import guard, load_scenario
from econ.cli.log_option import log_option, runs_made
from econ.cli.terminal import path_shown, progress, say

ENDINGS = (".pdf", ".png", ".svg")
EFFORT = 200  # of the search for a fixed order, half a second


@click.command()
@click.argument("file")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON document.")
@log_option
@click.option("--out", metavar="PICTURE", help="Draw the plan as well: .pdf, .png or .svg.")
@click.option("--set", "changes", multiple=True, metavar="KEY=VALUE", help="Override a value.")
def plan(
    file: str, as_json: bool, log: str | None, out: str | None, changes: tuple[str, ...]
) -> None:
    """Say what to do after each outcome in the scenario FILE, runs taken in any order."""
    scenario = load_scenario(file, changes)
    from econ.cli.files import write_files
    from econ.cli.targets import check_file, files_read

    if out is not None:
        read = files_read(file, scenario, run_log=log)
        target = out
        guard(lambda: check_file(target, read, endings=ENDINGS))
    made = runs_made(log, scenario)
    with progress(
        "looking through the states", "looking for a fixed order", "drawing"
    ) as next_step:
        from econ.decision.order import best_order
        from econ.decision.plan import plan as planned
        from econ.decision.run_log import inputs_after

        found = guard(lambda: planned(scenario, made))
        next_step()
        search = best_order(inputs_after(scenario, made), n=64, effort=EFFORT, valued=256)
        next_step()
        data: dict[str, bytes] = {}
        if out is not None:
            from econ.reports.figures.output import pdf, png, svg
            from econ.reports.figures.plan import plan_figure

            write = dict(zip(ENDINGS, (pdf, png, svg), strict=True))[out.lower()[-4:]]
            data[out] = write(plan_figure(found))
    write_files(data)
    if as_json:
        import json

        from econ.reports.plan_tables import plan_document, plan_notes

        for note in plan_notes(found):
            say(f"note: {note}", err=True)
        say(json.dumps(plan_document(found, search, made), indent=2, allow_nan=False))
    else:
        from econ.reports.plan_text import plan_text

        say(plan_text(found, search, made), end="")
    if out is not None:
        say(f"wrote {path_shown(out)}", err=True)
