"""`econ page`: a page with sliders, in one file."""

from __future__ import annotations

import click

from econ.cli.guard import guard, load_scenario
from econ.cli.log_option import log_option, runs_made
from econ.cli.terminal import path_shown, progress, say


@click.command()
@click.argument("file")
@click.option("--out", required=True, metavar="PAGE.html", help="Where to write the page.")
@log_option
@click.option("--set", "changes", multiple=True, metavar="KEY=VALUE", help="Override a value.")
def page(file: str, out: str, log: str | None, changes: tuple[str, ...]) -> None:
    """Write a page on which the scenario FILE can be changed with sliders.

    One file, no network: it opens from a disk, and its address holds the case that is set.
    """
    scenario = load_scenario(file, changes)
    from econ.cli.files import write_files
    from econ.cli.targets import check_file, files_read

    guard(lambda: check_file(out, files_read(file, scenario, run_log=log), endings=[".html"]))
    made = runs_made(log, scenario)
    with progress("answering", "preparing the sliders") as next_step:
        from econ.decision import answer
        from econ.reports.page import page_html

        found = guard(lambda: answer(scenario, made))
        next_step()
        content = page_html(found)
    write_files({out: content})
    say(f"wrote {path_shown(out)}")
