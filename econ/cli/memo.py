"""`econ memo`: the decision memo as HTML or PDF."""

from __future__ import annotations

import click

from econ.cli.guard import guard, load_scenario
from econ.cli.terminal import path_shown, progress, say

ENDINGS = (".html", ".pdf")


@click.command()
@click.argument("file")
@click.option("--out", required=True, metavar="MEMO.pdf", help="File to write: .pdf or .html.")
@click.option("--log", metavar="RUNS.csv", help="Runs made so far; the memo is from then on.")
@click.option("--set", "changes", multiple=True, metavar="KEY=VALUE", help="Override a value.")
def memo(file: str, out: str, log: str | None, changes: tuple[str, ...]) -> None:
    """Write the one-page memo for the morning call on the scenario FILE, with its appendix."""
    scenario = load_scenario(file, changes)
    from econ.cli.files import write_files
    from econ.cli.targets import check_file, files_read
    from econ.scenario.run_log import read_log

    guard(lambda: check_file(out, files_read(file, scenario, run_log=log), endings=ENDINGS))
    made = guard(lambda: () if log is None else read_log(log, scenario))
    with progress("answering", "turning inputs", "laying out") as next_step:
        from econ.decision import answer
        from econ.decision.changes.outlook import outlook
        from econ.reports.memo import memo_html, memo_pdf

        found = guard(lambda: answer(scenario, made))
        next_step()
        changing = outlook(scenario, made)
        next_step()
        lay_out = memo_pdf if out.lower().endswith(".pdf") else memo_html
        data = lay_out(found, changing)
    write_files({out: data})
    say(f"wrote {path_shown(out)}")
