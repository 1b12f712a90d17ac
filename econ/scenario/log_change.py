"""A row entered into the run log of a job, or taken back: refused, or the new text of the log.

Nothing is written here. Who writes the text checks it against the scenario first, by
`econ.scenario.run_log.parse_log`.
"""

from __future__ import annotations

from collections.abc import Mapping

from econ.scenario.csv_rows import UnsplitRowError
from econ.scenario.faults import Fault, ScenarioError, shown
from econ.scenario.log_entry import Added, Taken, with_row, without_last_row
from econ.scenario.run_log import parse_log
from econ.scenario.scenario import Scenario


def entered(text: str, given: Mapping[str, str | None], scenario: Scenario, *, file: str) -> Added:
    """A log with one row more. text: empty where there is no log yet; given: cells by column; file:
    what messages call the log.

    Raises ScenarioError where there is nothing to write, a cell cannot be written, or the rows
    that are there are faulty.

    >>> import econ
    >>> job = econ.load("scenarios/point/a_land_twist_off.toml")
    >>> entered("", {"run": "1", "outcome": "part"}, job, file="runs.csv").row
    '1,overshot,,,part,,,,,'
    """
    cells = {column: (value or "").strip() for column, value in given.items()}
    if not any(cells.values()):
        allowed = "--run (or --kind), --start, --end and --outcome"
        raise ScenarioError([Fault("a row without a cell", allowed, "econ log add --help")])
    odd = [
        Fault(shown(value), "letters that UTF-8 can write", "", (f"--{column.replace('_', '-')}",))
        for column, value in cells.items()
        if any("\ud800" <= char <= "\udfff" for char in value)
    ]
    if odd:
        raise ScenarioError(odd)
    if text.strip("\ufeff \t\r\n,;"):
        parse_log(text, scenario, file=file)  # faults of the rows before it come first
    number, kind = cells.get("run", ""), ""
    if number.isdecimal() and 1 <= int(number) <= len(scenario.run):
        kind = scenario.run[int(number) - 1].kind
    return with_row(text, cells, kind=kind)


def taken_back(text: str) -> Taken:
    """A log without its last row; ScenarioError where it has none, or one that cannot be split.

    >>> taken_back("run,outcome\\n1,part\\n").row
    '1,part\\n'
    """
    try:
        taken = without_last_row(text)
    except UnsplitRowError as error:
        fault = Fault("a row that cannot be split", error.allowed, "", (), error.line)
        raise ScenarioError([fault]) from None
    if taken is None:
        raise ScenarioError(
            [Fault("a log without a row", "a log with at least one", "econ log add writes one")]
        )
    return taken
