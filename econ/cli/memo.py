"""`econ memo`: the decision memo as HTML or PDF."""

from __future__ import annotations

import click

from econ.cli.guard import guard, load_scenario

ENDINGS = (".html", ".pdf")


@click.command()
@click.argument("file")
@click.option("--out", required=True, metavar="MEMO.pdf", help="File to write: .pdf or .html.")
@click.option("--log", metavar="RUNS.csv", help="Runs made so far; the memo is from then on.")
@click.option("--set", "changes", multiple=True, metavar="KEY=VALUE", help="Override a value.")
def memo(file: str, out: str, log: str | None, changes: tuple[str, ...]) -> None:
    """Write the one-page memo for the morning call on the scenario FILE, with its appendix."""
    if not out.lower().endswith(ENDINGS):
        raise click.UsageError(f"--out must end in {' or '.join(ENDINGS)}")
    scenario = load_scenario(file, changes)
    from econ.scenario.run_log import read_log

    made = guard(lambda: () if log is None else read_log(log, scenario))
    from econ.cli.files import write_whole
    from econ.decision import answer
    from econ.decision.sensitivity import sensitivity
    from econ.reports.memo import memo_html, memo_pdf

    found = guard(lambda: answer(scenario, made))
    lay_out = memo_pdf if out.lower().endswith(".pdf") else memo_html
    data = lay_out(found, sensitivity(scenario, made, learning=False))
    guard(lambda: write_whole(out, data))
    click.echo(f"wrote {ascii(out)[1:-1]}")
