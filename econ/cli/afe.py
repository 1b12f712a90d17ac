"""econ afe: the AFE supplement as a workbook, a page, a CSV table or a file that keeps the issue,
by the ending of --out; with --hold a changed scenario under such an issue."""

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
    from econ.scenario import Scenario

ENDINGS = (".xlsx", ".html", ".csv", ".json")
TABLES = ("costs", "stages", "options", "partners", "limits", "lines", "calls")


@click.command()
@click.argument("file")
@click.option(
    "--out",
    "names",
    multiple=True,
    metavar="NAME",
    help="File to write, .xlsx, .html, .csv, or .json, which keeps the issue; may be given more "
    "than once.",
)
@click.option(
    "--table",
    type=click.Choice(TABLES),
    default="costs",
    show_default=True,
    help="The table of a .csv file.",
)
@click.option("--codes", metavar="MAPPING.csv", help="Own cost codes: ours,theirs,description.")
@click.option(
    "--hold",
    "issue",
    metavar="ISSUED.json",
    help="Print what FILE costs under the decision of an issue that --out NAME.json has kept.",
)
@log_option
@click.option("--set", "changes", multiple=True, metavar="KEY=VALUE", help="Override a value.")
def afe(
    file: str,
    names: tuple[str, ...],
    table: str,
    codes: str | None,
    issue: str | None,
    log: str | None,
    changes: tuple[str, ...],
) -> None:
    """Write the AFE supplement of the scenario FILE, or hold it to an issue."""
    if (issue is None) == (not names) or (issue is not None and (log or codes)):
        raise click.UsageError(
            "Give --out NAME to write a supplement, or --hold ISSUED.json alone: the log is "
            "then that of the issue."
        )
    scenario = load_scenario(file, changes)
    if issue is not None:
        _hold(issue, scenario)
        return
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


def _hold(issue: str, scenario: Scenario) -> None:
    """Print the scenario under an issue, beside the issue."""
    from econ.decision.hold import Issued, hold
    from econ.reports.hold_text import hold_text
    from econ.scenario.load import read_text

    issued = guard(lambda: Issued.read(read_text(issue)))
    with progress("walking the draws of the issue"):
        held = guard(lambda: hold(issued, scenario))
        before = hold(issued, issued.scenario)
    say(hold_text(issued, before, held), end="")


def _form(name: str) -> Callable[[Supplement, str], bytes]:
    """What makes the bytes of a file, by its ending."""
    from econ.reports.supplement import issue_json, page, table_csv, workbook

    forms: dict[str, Callable[[Supplement, str], bytes]] = {
        ".xlsx": lambda found, table: workbook(found),
        ".html": lambda found, table: page(found).encode(),
        ".csv": lambda found, table: table_csv(found, table).encode(),
        ".json": lambda found, table: issue_json(found).encode(),
    }
    return forms[os.path.splitext(name)[1].lower()]
