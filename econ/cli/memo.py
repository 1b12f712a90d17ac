"""`econ memo`: the decision memo as HTML or PDF."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from econ.cli.beside import beside
from econ.cli.guard import guard, load_scenario
from econ.cli.log_option import log_option, runs_made
from econ.cli.terminal import path_shown, progress, say

if TYPE_CHECKING:
    from econ.reports.memo import Form

ENDINGS = (".html", ".pdf")


@click.command()
@click.argument("file")
@click.option("--out", required=True, metavar="MEMO.pdf", help="File to write: .pdf or .html.")
@log_option
@click.option("--set", "changes", multiple=True, metavar="KEY=VALUE", help="Override a value.")
def memo(file: str, out: str, log: str | None, changes: tuple[str, ...]) -> None:
    """Write the one-page memo for the morning call on the scenario FILE, with its appendix."""
    scenario = load_scenario(file, changes)
    from econ.cli.files import write_files
    from econ.cli.targets import check_file, files_read
    from econ.reports.bundle import DRAWING, MEMO, memo_file, pictures

    guard(lambda: check_file(out, files_read(file, scenario, run_log=log), endings=ENDINGS))
    made = runs_made(log, scenario)
    from econ.decision import answer
    from econ.decision.sensitivity import sensitivity

    # The other process draws the pictures while inputs are turned here.
    form: Form = "pdf" if out.lower().endswith(".pdf") else "html"
    steps = ("answering", "turning inputs", "laying out")
    with beside(*DRAWING, *MEMO) as other, progress(*steps) as next_step:
        found = guard(lambda: answer(scenario, made))
        drawn = other.begin(pictures, found, [form])
        next_step()
        changing = sensitivity(scenario, made, learning=False)
        next_step()
        laid_out = other.begin(memo_file, form, found, changing, drawn())
        data = laid_out()
    write_files({out: data})
    say(f"wrote {path_shown(out)}")
