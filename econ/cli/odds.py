"""`econ odds`: a company's own past jobs turned into the odds of a scenario."""

from __future__ import annotations

import click

from econ.cli.guard import guard, load_scenario

ENDINGS = (".svg", ".png")


@click.command()
@click.argument("records")
@click.option("--out", metavar="ODDS.toml", help="Write the odds for odds_from of a scenario.")
@click.option("--figure", metavar="ODDS.svg", help="Draw them: .svg or .png.")
@click.option("--tables", metavar="DIR", help="Write every table as CSV, rejections included.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON document.")
@click.option("--for", "case", metavar="FILE", help="Say where this scenario lies outside them.")
@click.option(
    "--units",
    type=click.Choice(["field", "metric"]),
    default="field",
    show_default=True,
    help="Of depth and hole_size in RECORDS: ft and in, or m and mm.",
)
def odds(
    records: str,
    out: str | None,
    figure: str | None,
    tables: str | None,
    as_json: bool,
    case: str | None,
    units: str,
) -> None:
    """Turn past jobs in RECORDS, a CSV table of one row a run, into odds.

    Columns: job, run, kind, outcome; and, where known, mechanism, hole_size, angle, depth,
    top_condition, start, end, hours, stated_odds, job_end (recovered, economics, lost, open,
    other), remark. Rows that cannot be taken are told one by one and left out. A job stopped for
    economics, or without a word on its end, is censored.
    """
    if figure is not None and not figure.lower().endswith(ENDINGS):
        raise click.UsageError(f"--figure must end in {' or '.join(ENDINGS)}")
    scenario = None if case is None else load_scenario(case, ())
    if tables is not None:
        from econ.cli.files import check_folder

        folder = tables
        guard(lambda: check_folder(folder))
    from econ.records import fragment, read_records
    from econ.records import odds as estimate

    metric = units == "metric"
    found = estimate(guard(lambda: read_records(records, units="metric" if metric else "field")))
    outside = None
    if scenario is not None:
        from econ.records.estimate import past_jobs
        from econ.scenario.past_jobs import outside as lies_outside

        outside = list(lies_outside(scenario, past_jobs(found)))
    wrote = []
    from econ.cli.files import write_whole

    if figure is not None:
        from econ.reports.figures.output import png, svg
        from econ.reports.figures.records import records_figure

        drawn = records_figure(found)
        picture = svg(drawn) if figure.lower().endswith(".svg") else png(drawn)
        target = figure
        guard(lambda: write_whole(target, picture))
        wrote.append(figure)
    if tables is not None:
        from econ.cli.files import write_set
        from econ.reports.tables.figures import as_csv
        from econ.reports.tables.records import TABLES

        files = {f"{name}.csv": as_csv(rows(found)).encode() for name, rows in TABLES.items()}
        where = tables
        guard(lambda: write_set(where, files))
        wrote.append(tables)
    if out is not None:
        text, place = fragment(found), out
        guard(lambda: write_whole(place, text.encode()))
        wrote.append(out)
    if as_json:
        import json

        from econ.reports.tables.records import records_document

        click.echo(json.dumps(records_document(found, outside), indent=2, allow_nan=False))
    else:
        from econ.reports.records_text import records_text

        click.echo(records_text(found, outside), nl=False)
    for each in wrote:
        click.echo(f"wrote {ascii(each)[1:-1]}", err=True)
