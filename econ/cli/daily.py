"""`econ daily`: daily drilling reports turned into speeds, hours and draft rows of past jobs."""

from __future__ import annotations

import os
from functools import partial

import click

from econ.cli.guard import guard
from econ.cli.terminal import path_shown, progress, say

ENDINGS = (".svg", ".png")


@click.command()
@click.argument("reports", nargs=-1, required=True)
@click.option("--out", metavar="SPEEDS.toml", help="Write what speeds_from of a scenario takes.")
@click.option("--runs", metavar="DRAFT.csv", help="Write draft rows of past jobs, to be marked.")
@click.option("--figure", metavar="TIME.svg", help="Draw where the days went: .svg or .png.")
@click.option("--tables", metavar="DIR", help="Write every table as CSV.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON document.")
@click.option("--words", metavar="FILE.toml", help="Codes and words of your own reports.")
@click.option(
    "--units",
    type=click.Choice(["field", "metric"]),
    default="field",
    show_default=True,
    help="Of what is printed and written: ft and in, or m and mm.",
)
def daily(
    reports: tuple[str, ...],
    out: str | None,
    runs: str | None,
    figure: str | None,
    tables: str | None,
    as_json: bool,
    words: str | None,
    units: str,
) -> None:
    """Turn daily drilling REPORTS into speeds, hours and past jobs.

    REPORTS are files in the open WITSML drillReport form (1.4 or 2.x), folders and zips of
    them. Stuck pipe, fishing, cutting, plugs and sidetracks become draft rows of past jobs:
    a kind and an outcome are proposed for a person to decide. Nothing is sent or fetched.
    """
    from econ.cli.files import write_files
    from econ.cli.targets import Read, check_file, check_folder, check_names

    read: Read = {f"report {number}": path for number, path in enumerate(reports, start=1)}
    read = {**read, "the file of words": words}
    targets = (
        (out, (".toml",), "--out"),
        (runs, (".csv",), "--runs"),
        (figure, ENDINGS, "--figure"),
    )
    for path, endings, option in targets:
        if path is not None:
            guard(partial(check_file, path, read, endings=endings, option=option))
    if tables is not None:
        guard(partial(check_folder, tables, option="--tables"))
    metric = units == "metric"
    with progress("reading daily reports", "writing") as next_step:
        from econ.records.daily_reports import daily as estimate
        from econ.records.daily_reports import draft_runs, speeds_fragment
        from econ.reports.tables.daily import NAMES, all_tables

        if tables is not None:
            names = [f"{name}.csv" for name in NAMES]
            guard(partial(check_names, tables, names, read, option="--tables"))
        found = guard(lambda: estimate(*reports, words=words))
        next_step()
        data: dict[str, bytes] = {}
        if figure is not None:
            from econ.reports.figures.daily import daily_figure
            from econ.reports.figures.output import png, svg

            drawn = daily_figure(found)
            data[figure] = svg(drawn) if figure.lower().endswith(".svg") else png(drawn)
        if tables is not None:
            from econ.reports.tables.figures import as_csv

            for name, rows in all_tables(found, metric=metric).items():
                data[os.path.join(tables, f"{name}.csv")] = as_csv(rows).encode()
        if runs is not None:
            data[runs] = draft_runs(found, units="metric" if metric else "field").encode()
        if out is not None:
            data[out] = speeds_fragment(found, units="metric" if metric else "field").encode()
    write_files(data)
    if as_json:
        import json

        from econ.reports.tables.daily import daily_document

        say(json.dumps(daily_document(found, metric=metric), indent=2, allow_nan=False))
    else:
        from econ.reports.daily_text import daily_text

        say(daily_text(found, metric=metric), end="")
    wrote = [path_shown(path) for path in (figure, runs, out) if path is not None]
    wrote += [f"{len(NAMES)} files to {path_shown(tables)}"] if tables is not None else []
    for what in wrote:
        say(f"wrote {what}", err=True)
