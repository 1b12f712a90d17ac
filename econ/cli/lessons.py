"""`econ lessons`: what a job taught, after it or so far."""

from __future__ import annotations

import click

from econ.cli.guard import guard, load_scenario
from econ.cli.terminal import path_shown, progress, say


@click.command()
@click.argument("file")
@click.option("--log", "runs", metavar="RUNS.csv", required=True, help="Runs made so far.")
@click.option("--stopped", is_flag=True, help="Fishing was stopped after the last of them.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON document.")
@click.option("--out", metavar="RECORDS.csv", help="Write the runs as a new table for econ odds.")
@click.option("--set", "changes", multiple=True, metavar="KEY=VALUE", help="Override a value.")
def lessons(
    file: str, runs: str, stopped: bool, as_json: bool, out: str | None, changes: tuple[str, ...]
) -> None:
    """Say what the runs of a log taught: plan and actual, odds and outcomes, regret and luck.

    The scenario FILE is taken as the file of the decision, with what was known then.
    """
    scenario = load_scenario(file, changes)
    from econ.cli.targets import check_file, check_new, files_read
    from econ.scenario.faults import Fault, ScenarioError
    from econ.scenario.run_log import read_log

    if out is not None:
        target = out
        read = files_read(file, scenario, run_log=runs)
        guard(lambda: check_file(target, read, endings=(".csv",)))
        guard(lambda: check_new(target))  # a table of other jobs is never replaced by one job
    log = guard(lambda: read_log(runs, scenario))
    if not log:
        fault = Fault("a log without a row", "a log with at least one", "", ("--log",))
        guard(lambda: _refuse(ScenarioError([fault])))
    from econ.engine.case import ENDS

    if stopped and log[-1].outcome in ENDS:
        given = f"--stopped after {log[-1].outcome}, which ended the job"
        fault = Fault(given, "no --stopped, or another outcome of the last row", "", ("--stopped",))
        guard(lambda: _refuse(ScenarioError([fault])))
    steps = ["answering as before the first run"]
    steps += [f"answering as after {n} of {len(log)}" for n in range(1, len(log) + 1)]
    with progress(*steps) as next_step:
        from econ.decision.lessons import lessons as learn

        found = guard(lambda: learn(scenario, log, stopped=stopped, next_step=next_step))
    if out is not None:
        from econ.cli.files import write_new
        from econ.reports.lessons_tables import records_csv

        target, table = out, records_csv(found)
        guard(lambda: write_new(target, table))
    if as_json:
        import json

        from econ.reports.lessons_tables import lessons_document

        say(json.dumps(lessons_document(found), indent=2, allow_nan=False))
    else:
        from econ.reports.lessons_text import lessons_text

        say(lessons_text(found), end="")
    if out is not None:
        say(f"wrote {path_shown(out)}", err=True)


def _refuse(error: Exception) -> None:
    raise error
