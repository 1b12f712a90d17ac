"""`econ odds`: a company's own past jobs turned into the odds of a scenario."""

from __future__ import annotations

import os
import sys
from functools import partial

import click

from econ.cli.exits import BAD_INPUT
from econ.cli.guard import guard, load_scenario, print_faults
from econ.cli.terminal import path_shown, progress, say

ENDINGS = (".svg", ".png")


@click.command()
@click.argument("records")
@click.option("--out", metavar="ODDS.toml", help="Write the odds for odds_from of a scenario.")
@click.option("--figure", metavar="ODDS.svg", help="Draw them: .svg or .png.")
@click.option("--tables", metavar="DIR", help="Write every table as CSV, rejections included.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON document.")
@click.option("--for", "case", metavar="FILE", help="Say where this scenario lies outside them.")
@click.option("--force", is_flag=True, help="Write though many rows were not taken.")
@click.option(
    "--prior-weight",
    type=click.FloatRange(0.5, 1000.0),
    metavar="RUNS",
    help="Runs of each kind that the planning odds of the trade count; 5 if left out.",
)
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
    force: bool,
    prior_weight: float | None,
    units: str,
) -> None:
    """Turn past jobs in RECORDS, a CSV table of one row a run, into odds.

    Columns: job, run, kind, outcome; and, where known, mechanism, hole_size, angle, depth,
    top_condition, marks, depends_on, start, end, hours, stated_odds, job_end (recovered,
    economics, lost, open, other), remark. Rows that cannot be taken are told and left out; above a
    fifth of them nothing is written without --force. A job stopped for economics, or without a
    word on its end, is censored.
    """
    scenario = None if case is None else load_scenario(case, ())
    from econ.cli.files import write_files
    from econ.cli.targets import Read, check_file, check_folder, check_names, files_read
    from econ.scenario import ScenarioError

    read: Read = {"the table of past jobs": records}
    if case is not None and scenario is not None:
        read = {**read, **files_read(case, scenario)}
    if out is not None:
        guard(partial(check_file, out, read, endings=(".toml",)))
    if figure is not None:
        guard(partial(check_file, figure, read, endings=ENDINGS, option="--figure"))
    if tables is not None:
        guard(partial(check_folder, tables, option="--tables"))
    with progress("reading past jobs", "estimating odds", "writing") as next_step:
        from econ.records import odds as estimate
        from econ.records import odds_fragment, read_records
        from econ.reports.records_text import records_text
        from econ.reports.tables.records import TABLES

        if tables is not None:
            names = [f"{name}.csv" for name in TABLES]
            guard(partial(check_names, tables, names, read, option="--tables"))
        metric = units == "metric"
        rows = guard(lambda: read_records(records, units="metric" if metric else "field"))
        next_step()
        found = estimate(rows, prior_weight=prior_weight)
        next_step()
        outside = None
        if scenario is not None:
            from econ.records.estimate import past_jobs
            from econ.scenario.past_jobs import outside as lies_outside

            outside = list(lies_outside(scenario, past_jobs(found)))
        data: dict[str, bytes] = {}
        refused: ScenarioError | None = None
        if figure is not None:
            from econ.reports.figures.output import png, svg
            from econ.reports.figures.records import records_figure

            drawn = records_figure(found)
            data[figure] = svg(drawn) if figure.lower().endswith(".svg") else png(drawn)
        if tables is not None:
            from econ.reports.tables.figures import as_csv

            for name, table in TABLES.items():
                data[os.path.join(tables, f"{name}.csv")] = as_csv(table(found)).encode()
        if out is not None:
            try:
                data[out] = odds_fragment(found, force=force).encode()
            except ScenarioError as error:
                refused = error
    if refused is not None:  # the table stands here, for what is to be mended
        if not as_json:
            say(records_text(found, outside), end="")
        print_faults(refused)
        sys.exit(BAD_INPUT)
    write_files(data)
    if as_json:
        import json

        from econ.reports.tables.records import records_document

        say(json.dumps(records_document(found, outside), indent=2, allow_nan=False))
    else:
        say(records_text(found, outside), end="")
    wrote = [path for path in (figure, out) if path is not None]
    wrote += [f"{len(TABLES)} files to {path_shown(tables)}"] if tables is not None else []
    for words in wrote:
        say(f"wrote {words}", err=True)
