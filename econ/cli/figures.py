"""`econ figures`: every figure as SVG and PNG with its table as CSV, all of them or none."""

from __future__ import annotations

import os

import click

from econ.cli.guard import guard, load_scenario
from econ.cli.terminal import path_shown, progress, say


@click.command()
@click.argument("file")
@click.option("--out", required=True, metavar="DIR", help="Folder for the files; made if needed.")
@click.option("--log", metavar="RUNS.csv", help="Runs made so far; the figures are from then.")
@click.option(
    "--size",
    type=click.Choice(["memo", "page"]),
    default="memo",
    show_default=True,
    help="170 mm wide for a memo, or 257 x 170 mm for a page of its own.",
)
@click.option("--set", "changes", multiple=True, metavar="KEY=VALUE", help="Override a value.")
def figures(file: str, out: str, log: str | None, size: str, changes: tuple[str, ...]) -> None:
    """Draw the figures of the scenario FILE: SVG, PNG and CSV of each."""
    scenario = load_scenario(file, changes)
    from econ.cli.files import write_files
    from econ.cli.targets import check_folder, check_names, files_read
    from econ.scenario.run_log import read_log

    guard(lambda: check_folder(out))
    made = guard(lambda: () if log is None else read_log(log, scenario))
    with progress("answering", "turning inputs", "drawing figures") as next_step:
        from econ.decision import answer
        from econ.decision.changes.outlook import outlook
        from econ.reports.figures import ENDINGS, FIGURES, figure_files

        names = [f"{name}{ending}" for name in FIGURES for ending in ENDINGS]
        guard(lambda: check_names(out, names, files_read(file, scenario, run_log=log)))
        found = guard(lambda: answer(scenario, made))
        next_step()
        changing = outlook(scenario, made)
        next_step()
        files = figure_files(found, changing, size="page" if size == "page" else "memo")
    write_files({os.path.join(out, name): data for name, data in files.items()})
    say(f"wrote {len(files)} files to {path_shown(out)}")
