"""`econ figures`: every figure as SVG and PNG with its table as CSV, all of them or none."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

import click

from econ.cli.beside import beside, help_with
from econ.cli.guard import guard, load_scenario
from econ.cli.log_option import log_option, runs_made, say_over
from econ.cli.terminal import path_shown, progress, say

if TYPE_CHECKING:
    from econ.reports.figures.layout import Size


@click.command()
@click.argument("file")
@click.option("--out", required=True, metavar="DIR", help="Folder for the files; made if needed.")
@log_option
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
    from econ.reports.bundle import DRAWING, ENDINGS, figure_files
    from econ.reports.tables.figures import TABLES, TABLES_OF_SENSITIVITY

    guard(lambda: check_folder(out))
    made = runs_made(log, scenario)
    names = [f"{name}{end}" for name in (*TABLES, *TABLES_OF_SENSITIVITY) for end in ENDINGS]
    guard(lambda: check_names(out, names, files_read(file, scenario, run_log=log)))
    from econ.decision import answer
    from econ.decision.sensitivity import sensitivity

    wide: Size = "page" if size == "page" else "memo"
    steps = ("answering", "turning inputs", "drawing figures")
    with beside(*DRAWING) as other, progress(*steps) as next_step:
        found = guard(lambda: answer(scenario, made))
        drawn = [other.begin(figure_files, name, found, size=wide) for name in TABLES]
        next_step()
        changing = sensitivity(scenario, made, learning=False)
        next_step()
        for name in TABLES_OF_SENSITIVITY:
            drawn.append(other.begin(figure_files, name, found, changing, size=wide))
        help_with(drawn)
        files = {name: data for each in drawn for name, data in each().items()}
    write_files({os.path.join(out, name): data for name, data in files.items()})
    say_over(made)
    say(f"wrote {len(files)} files to {path_shown(out)}")
