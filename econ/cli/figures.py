"""`econ figures`: every figure as SVG and PNG with its table as CSV, all of them or none."""

from __future__ import annotations

import click

from econ.cli.guard import guard, load_scenario


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
    from econ.cli.files import check_folder, write_set
    from econ.scenario.run_log import read_log

    guard(lambda: check_folder(out))
    made = guard(lambda: () if log is None else read_log(log, scenario))
    from econ.decision import answer
    from econ.decision.sensitivity import sensitivity
    from econ.reports.figures import figure_files

    found = guard(lambda: answer(scenario, made))
    files = figure_files(
        found,
        sensitivity(scenario, made, learning=False),
        size="page" if size == "page" else "memo",
    )
    guard(lambda: write_set(out, files))
    click.echo(f"wrote {len(files)} files to {ascii(out)[1:-1]}")
