"""Past jobs and daily reports that were dropped on the desk: read, and held against the job.

    table      a CSV table of past jobs, as `econ odds` reads it: odds for `odds_from`
    reports    daily drilling reports, as `econ daily` reads them: speeds for `speeds_from`

What was read, and what was refused, is said in the words of those commands. What it would change
is worked out beside the job as it stands, in a folder that nobody else can read and that is gone
afterwards; nothing lies beside the job before somebody wants it there.
"""

from __future__ import annotations

import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import Any, Literal

from econ.desk.editing import edited
from econ.desk.places import checked, safe_name
from econ.scenario.faults import Fault, ScenarioError
from econ.scenario.load import NAMED_FILES, parse
from econ.scenario.run_log import parse_log
from econ.scenario.toml_text import decoded, document

Row = dict[str, Any]
Units = Literal["field", "metric"]
KEYS = {"table": "odds_from", "reports": "speeds_from"}
ENDINGS = {"table": "odds", "reports": "speeds"}  # of the name of the file that is made


def read_past(parts: Row) -> Row:
    """What was read and refused, the file that it makes, and what naming it would change.

    parts: those of a job, and `kind`, `units`, `files` with a name and bytes each. Raises
    ScenarioError where nothing can be read.
    """
    kind, units = parts["kind"], parts["units"]
    told, made = (_table if kind == "table" else _reports)(parts["files"], units)
    found: Row = {"told": told, "key": KEYS[kind], "ending": ENDINGS[kind], "text": made}
    try:
        found["beside"] = _beside(parts, KEYS[kind], made)
    except ScenarioError as error:
        found["refused"] = [str(fault) for fault in error.faults[:10]]
    return found


def _table(given: Sequence[tuple[str, bytes]], units: Units) -> tuple[str, str]:
    from econ.records import odds, odds_fragment, parse_records
    from econ.reports.records_text import records_text

    if len(given) != 1:
        raise ScenarioError([Fault(f"{len(given)} tables", "one table of past jobs at a time")])
    ((name, data),) = given
    found = odds(parse_records(decoded(data), units=units, file=safe_name(name)))
    return records_text(found), odds_fragment(found)


def _reports(given: Sequence[tuple[str, bytes]], units: Units) -> tuple[str, str]:
    from econ.records.daily_reports import daily, speeds_fragment
    from econ.reports.daily_text import daily_text

    with tempfile.TemporaryDirectory(prefix="econ-desk-") as folder:
        paths = []
        for number, (name, data) in enumerate(given, start=1):
            place = Path(folder, f"{number}")
            place.mkdir()
            paths.append(place / safe_name(name))
            paths[-1].write_bytes(data)
        found = daily(*paths)
    return daily_text(found, metric=units == "metric"), speeds_fragment(found, units=units)


def _beside(parts: Row, key: str, made: str) -> Row:
    """The job as it stands, and as it would be."""
    from econ.desk.views import beside_view

    before = checked(parts["text"], parts["folder"])
    text = edited(parts["text"], [{"op": "set", "key": key, "value": "made.toml"}])
    named = document(parts["text"])
    with tempfile.TemporaryDirectory(prefix="econ-desk-") as folder:
        Path(folder, "made.toml").write_text(made, encoding="utf-8")
        for other in NAMED_FILES:
            name = named.get(other)
            if other != key and isinstance(name, str) and name:
                place = Path(folder, name)
                place.parent.mkdir(parents=True, exist_ok=True)
                place.write_bytes(Path(parts["folder"], name).read_bytes())
        after = parse(text, folder=folder)
    if not parts.get("log"):
        return beside_view(before, after, ())
    parse_log(parts["log"], after, file=parts["log_name"])  # it must agree with both
    return beside_view(before, after, parse_log(parts["log"], before, file=parts["log_name"]))
