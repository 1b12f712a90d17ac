"""`econ report`: memo, supplement, what-if page, figures and tables into one folder."""

from __future__ import annotations

import os
from collections.abc import Mapping
from typing import TYPE_CHECKING

import click

from econ.cli.beside import beside, help_with
from econ.cli.guard import guard, load_scenario
from econ.cli.log_option import log_option, runs_made
from econ.cli.terminal import path_shown, progress, say

if TYPE_CHECKING:
    from econ.reports.supplement import Code
    from econ.scenario import Scenario


@click.command()
@click.argument("file")
@click.option("--out", required=True, metavar="DIR", help="Folder for the files; made if needed.")
@log_option
@click.option("--codes", metavar="MAPPING.csv", help="Own cost codes: ours,theirs,description.")
@click.option("--set", "changes", multiple=True, metavar="KEY=VALUE", help="Override a value.")
def report(
    file: str, out: str, log: str | None, codes: str | None, changes: tuple[str, ...]
) -> None:
    """Write every report on the scenario FILE into a folder: all of them or none."""
    scenario = load_scenario(file, changes)
    from econ.cli.files import write_files
    from econ.cli.targets import check_folder, check_names, files_read
    from econ.reports import bundle
    from econ.reports.tables.figures import TABLES, TABLES_OF_SENSITIVITY

    guard(lambda: check_folder(out))
    made = runs_made(log, scenario)
    mapping = guard(lambda: {} if codes is None else _own_codes(codes, scenario))
    read = files_read(file, scenario, run_log=log, cost_codes=codes)
    guard(lambda: check_names(out, bundle.names(), read))
    from econ.decision import answer
    from econ.decision.sensitivity import sensitivity

    # The other process draws, which takes about as long as all that is worked out here; what draws
    # is loaded here too only where much is left to be drawn.
    modules = (*bundle.DRAWING, *bundle.MEMO)
    steps = ("answering", "turning inputs", "laying out")
    with beside(*modules) as other, progress(*steps) as next_step:
        found = guard(lambda: answer(scenario, made))
        pictures = other.begin(bundle.pictures, found, bundle.FORMS)
        figures = [other.begin(bundle.figure_files, name, found) for name in TABLES]
        next_step()
        changing = sensitivity(scenario, made, learning=False)
        next_step()
        for name in TABLES_OF_SENSITIVITY:
            figures.append(other.begin(bundle.figure_files, name, found, changing))
        memo = other.begin(bundle.memo_files, found, changing, pictures())
        files = bundle.answer_files(found)
        files |= bundle.page_files(found, changing.flips)
        files |= bundle.supplement_files(found, mapping, changing.flips)
        help_with([memo, *figures])
        for drawn in figures:
            files |= bundle.in_figures(drawn())
        files |= memo()
    write_files({os.path.join(out, name): data for name, data in files.items()})
    say(f"wrote {len(files)} files to {path_shown(out)}")


def _own_codes(file: str, scenario: Scenario) -> Mapping[str, Code]:
    """A company's cost codes; what reads them takes its time to load, and few have a file."""
    from econ.reports.supplement import read_codes

    return read_codes(file, scenario)
