"""The metric starter, made from the one in field units, value by value and unit by unit:

python tests/scenario/metric_starter.py > econ/scenario/starter_metric.toml

Depths are rounded to 0.1 m, diameters to 0.1 mm, weights to 10, other values to three digits.
"""

from __future__ import annotations

import re
import sys
from pathlib import Path

FIELD = Path(__file__).parents[2] / "econ" / "scenario" / "starter.toml"
METRIC = {  # unit in field units: its metric unit, and how many of it (by definition)
    "ft": ("m", 0.3048),
    "in": ("mm", 25.4),
    "ft/h": ("m/h", 0.3048),
    "lb": ("kg", 0.45359237),
    "lb/gal": ("kg/m3", 0.45359237 / 3.785411784e-3),
    "USD/ft": ("USD/m", 1 / 0.3048),
}
DEPTHS = ("depth", "shoe_depth", "top", "bottom", "length", "kickoff_floor", "competent")
COMMENT_AT = 28  # column of a comment where there is room
KEY = re.compile(r"(# )?(\w+) = (.*?)(\s+)#(.*)")
UNIT = re.compile(r" (?:REPLACE: )?(?:amounts?, )?(USD/ft|lb/gal|ft/h|ft|in|lb)(?=[,; ]|$)")


def metric_starter(text: str) -> str:
    """The text of the starter in metric units."""
    units: dict[str, str] = {}  # of the keys so far: a second run does not repeat them
    return "\n".join(_line(line, units) for line in text.split("\n"))


def _line(line: str, units: dict[str, str]) -> str:
    if line.startswith("[trip_speed]"):
        return line.replace("ft/h", "m/h")
    if line.startswith("units = "):
        return line.replace('"field" ', '"metric"', 1)
    found = KEY.fullmatch(line)
    if found is None:
        return line
    mark, key, value, gap, comment = found.groups(default="")
    named = UNIT.match(comment)
    unit = named[1] if named else None
    if unit:
        units[key] = unit
    elif key in ("in", "out"):
        unit = "ft/h"
    elif comment.strip() == "REPLACE" and key.endswith("_length"):
        unit = units[key]
    if unit is None:
        return line
    metric, factor = METRIC[unit]
    value_there = re.sub(
        r"(?<![\w.])\d+(\.\d+)?", lambda n: _rounded(float(n[0]) * factor, key, unit), value
    )
    if named:
        comment = comment.replace(unit, metric, 1)
    start = f"{mark}{key} = {value_there}"
    fits = len(f"{mark}{key} = {value}{gap}") <= COMMENT_AT
    return f"{start:<{COMMENT_AT}}#{comment}" if fits else f"{start}{gap}#{comment}"


def _rounded(value: float, key: str, unit: str) -> str:
    if unit in ("lb", "lb/gal"):
        return f"{round(value, -1):.0f}"
    if unit == "in" or key in DEPTHS:
        return f"{value:.1f}".removesuffix(".0")
    return f"{float(f'{value:.3g}'):g}"


if __name__ == "__main__":
    sys.stdout.write(metric_starter(FIELD.read_text(encoding="ascii")))
