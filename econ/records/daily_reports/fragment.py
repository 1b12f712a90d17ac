"""The file of speeds that a scenario takes by `speeds_from`, as TOML text.

Its format is `econ.scenario.speeds_file.SpeedsFile`; the text is read back through that before it
is given out, so that what is written is what a scenario accepts.
"""

from __future__ import annotations

import json
import tomllib
from collections.abc import Iterator
from typing import Literal

from econ.records.daily_reports.estimate import DailyReports
from econ.records.daily_reports.values import HOURS, Value
from econ.scenario.quantities import UNITS
from econ.scenario.speeds_file import SpeedsFile

HEAD = """\
# Speeds, hours and rates from daily drilling reports, written by econ daily. Put beside a scenario
# and name it there:
#     speeds_from = "this file"
# What the scenario leaves out is taken from here: trip speeds, the share of time lost to weather,
# and of a built-up sidetrack condition, plug_hours, woc, make_up and gross_rop. What it states is
# kept. A range has P50 as its median and reaches to P10 and P90 by the factor sqrt(P90/P10).
# Past wells are no promise: look at the number of cases, and at what econ daily says of them.
"""
COMMENTS = {
    "make_up": "make up or lay down an assembly, at a stretch",
    "circulate": "circulate at a stretch",
    "plug_hours": "mix, pump and pull out of a plug, at a stretch",
    "woc": "from the end of a plug to the end of the last wait for its cement",
    "cement_to_entry": "from the end of a plug to its first entry, which is no time to set",
    "wait_on_cement": "waits for cement at a stretch; the trips that hide a part are not in it",
    "logging": "logging at a stretch; taken for nothing",
}


def speeds_fragment(daily: DailyReports, *, units: Literal["field", "metric"] = "field") -> str:
    """The TOML text; units: of speeds and hole sizes, "field" (ft/h, in) or "metric" (m/h, mm).

    >>> from econ.records.daily_reports.estimate import DailyReports
    >>> empty = DailyReports(1, 1, ("Well",), "", "", 24.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0)
    >>> "speeds_from" in speeds_fragment(empty)
    True
    """
    if units not in ("field", "metric"):
        raise ValueError(f"units {units!r}: give 'field' or 'metric'")
    metric = units == "metric"
    span = f"{daily.first[:10]} to {daily.last[:10]}"
    wells = f"{len(daily.wells)} well{'' if len(daily.wells) == 1 else 's'}"
    source = f"{daily.reports} daily reports of {wells}, {span}"
    lines = [
        HEAD + "schema = 1",
        f'units = "{units}"',
        f"source = {json.dumps(source)}",
        f"reports = {daily.reports}",
        f"wells = {len(daily.wells)}",
        f"hours = {_number(daily.hours)}",
        f"unmatched = {_number(daily.unmatched)}  # share of the hours that nothing was known of",
        "",
        "[lost]  # share of all hours",
        f"weather = {_number(daily.weather)}",
        f"repair = {_number(daily.repair)}  # taken for nothing: no key of a scenario has it",
    ]
    for value in daily.values:
        lines += ["", *_value(value, metric=metric)]
    text = "\n".join(lines) + "\n"
    SpeedsFile.model_validate(tomllib.loads(text), by_alias=True, by_name=False)
    return text


def _value(value: Value, *, metric: bool) -> Iterator[str]:
    speed = UNITS["speed"][1] if metric else UNITS["speed"][0]
    factor = UNITS["speed"][2] if metric and value.unit != HOURS else 1.0
    unit = HOURS if value.unit == HOURS else speed
    if value.hole_size is None:
        words = COMMENTS.get(value.name, "legs of trips")
        yield f"[value.{value.name}]  # {unit}; {words}"
    else:
        yield f"[[drilling]]  # {unit}, days of drilling in this hole size"
        yield f"hole_size = {_number(value.hole_size * (25.4 if metric else 1.0))}"
    yield f"cases = {value.cases}"
    yield f"wells = {value.wells}"
    for name in ("p10", "p50", "p90"):
        yield f"{name} = {_number(getattr(value, name) / factor)}"


def _number(value: float) -> str:
    """Four significant digits, as a TOML float."""
    shown = f"{value:.4g}"
    if "e" in shown:
        shown = f"{value:.0f}" if value >= 1 else f"{value:.10f}".rstrip("0")
    return shown if "." in shown else f"{shown}.0"
