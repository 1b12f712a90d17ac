"""econ afe: the AFE supplement as a workbook, a page or a CSV table, by the ending of --out."""

from __future__ import annotations

import os
from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING

import click

from econ.cli.guard import guard, load_scenario
from econ.cli.log_option import log_option, runs_made
from econ.cli.terminal import path_shown, progress, say

if TYPE_CHECKING:
    from econ.reports.supplement import Supplement

ENDINGS = (".xlsx", ".html", ".csv")
TABLES = ("costs", "stages", "options", "partners", "limits", "lines")


@click.command()
@click.argument("file")
@click.option(
    "--out",
    "names",
    multiple=True,
    required=True,
    metavar="NAME",
    help="File to write, .xlsx, .html or .csv; may be given more than once.",
)
@click.option(
    "--table",
    type=click.Choice(TABLES),
    default="costs",
    show_default=True,
    help="The table of a .csv file.",
)
@click.option("--codes", metavar="MAPPING.csv", help="Own cost codes: ours,theirs,description.")
@log_option
@click.option("--set", "changes", multiple=True, metavar="KEY=VALUE", help="Override a value.")
def afe(
    file: str,
    names: tuple[str, ...],
    table: str,
    codes: str | None,
    log: str | None,
    changes: tuple[str, ...],
) -> None:
    """Write the AFE supplement of the scenario FILE."""
    scenario = load_scenario(file, changes)
    from econ.cli.files import write_files
    from econ.cli.targets import check_file, files_read
    from econ.reports.supplement import read_codes

    read = files_read(file, scenario, run_log=log, cost_codes=codes)
    for name in names:
        guard(partial(check_file, name, read, endings=ENDINGS))
    made = runs_made(log, scenario)
    mapping = guard(lambda: {} if codes is None else read_codes(codes, scenario))
    with progress("answering", "building the supplement") as next_step:
        from econ.decision import answer
        from econ.reports.supplement import supplement

        answered = guard(lambda: answer(scenario, made))
        next_step()
        found = supplement(answered, mapping)
        data = {name: _form(name)(found, table) for name in names}
    write_files(data)
    for name in data:
        say(f"wrote {path_shown(name)}")


def _form(name: str) -> Callable[[Supplement, str], bytes]:
    """What makes the bytes of a file, by its ending."""
    from econ.reports.supplement import page, table_csv, workbook

    forms: dict[str, Callable[[Supplement, str], bytes]] = {
        ".xlsx": lambda found, table: workbook(found),
        ".html": lambda found, table: page(found).encode(),
        ".csv": lambda found, table: table_csv(found, table).encode(),
    }
    return forms[os.path.splitext(name)[1].lower()]
