"""Generic cost codes, and the file that puts a company's own in their place.

A code is two letters and two digits; those of trouble stand in codes.csv. The mapping is a CSV
table with the columns ours, theirs and description, in any order; an empty description keeps
ours. A code that is neither generic nor on a line of the scenario is a fault, because a slip in
it would be left unmapped.
"""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass
from importlib.resources import files
from itertools import islice
from pathlib import Path

from econ.scenario import Fault, Scenario, ScenarioError
from econ.scenario.csv_rows import UnsplitRowError, csv_rows
from econ.scenario.faults import did_you_mean, shown
from econ.scenario.load import read_text
from econ.scenario.run_log import LogFault

TROUBLE: Mapping[str, str] = dict(
    row
    for _, row in list(csv_rows(files(__package__).joinpath("codes.csv").read_text("utf-8")))[1:]
)  # description by code
COLUMNS = ("ours", "theirs", "description")
HEADER = "a header with the columns ours, theirs and description"
LONGEST = 300  # characters of a code or description, as of the texts of a scenario
MOST_ROWS = 10_000


@dataclass(frozen=True)
class Code:
    """A company's code for one of ours, and its description, empty to keep ours."""

    theirs: str
    description: str = ""


def read_codes(path: str | os.PathLike[str], scenario: Scenario) -> Mapping[str, Code]:
    """The codes in the CSV file at `path`, by our code; ScenarioError with every fault."""
    file = ascii(Path(path).name)[1:-1][:60]
    try:
        text = read_text(path)
    except ScenarioError as error:
        fault = error.faults[0]
        if isinstance(error.__context__, FileNotFoundError):  # no starter is a mapping
            fault = Fault(fault.given, fault.allowed, "check the name of the mapping of codes")
        raise ScenarioError([fault]) from None
    return parse_codes(text, scenario, file=file)


def parse_codes(text: str, scenario: Scenario, *, file: str = "codes") -> Mapping[str, Code]:
    """The codes in a CSV `text`, which messages call `file`."""
    known = {*TROUBLE, *(line.code for line in scenario.afe.line)}
    faults: list[LogFault] = []
    found: dict[str, Code] = {}

    def fault(line: int, column: str, given: str, allowed: str, suggestion: str = "") -> None:
        path = (column,) if column else ()
        faults.append(LogFault(given, allowed, suggestion, path, line, file))

    try:
        rows = list(islice(csv_rows(text), MOST_ROWS + 2))
    except UnsplitRowError as error:
        given, todo = "a row that cannot be split", "close the quotes it opens"
        fault(error.line, "", given, error.allowed, todo)
        raise ScenarioError(faults) from None
    line, header = rows[0] if rows else (1, [])
    if not {"ours", "theirs"} <= set(header):
        named = ", ".join(map(shown, header[:5])) or "nothing"
        fault(line, "header", named, HEADER, "write the header as the first row")
        raise ScenarioError(faults)
    if len(rows) > MOST_ROWS + 1:
        fault(rows[-1][0], "", f"more than {MOST_ROWS} codes", f"up to {MOST_ROWS}")
    for line, cells in rows[1:]:
        row = dict(zip(header, cells, strict=False))
        ours, theirs, words = (row.get(name, "") for name in COLUMNS)
        if ours not in known:
            allowed = "a generic code, or the code of a line of the scenario"
            fault(line, "ours", shown(ours), allowed, did_you_mean(ours, sorted(known)))
        elif ours in found:
            fault(line, "ours", f"{shown(ours)} twice", "each code once")
        if not theirs:
            fault(line, "theirs", "an empty cell", "the company's own code")
        for column, cell in (("theirs", theirs), ("description", words)):
            if len(cell) > LONGEST or not cell.isprintable():
                allowed = f"up to {LONGEST} characters, no control characters"
                fault(line, column, shown(cell), allowed)
        found[ours] = Code(theirs, words)
    if faults:
        raise ScenarioError(faults)
    return found
