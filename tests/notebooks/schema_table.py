"""The guide's list of every scenario key, made from the schema:

python tests/notebooks/schema_table.py > notebooks/guide/keys.md
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from typing import Any

from econ.scenario import Scenario

Schema = dict[str, Any]

SECTIONS = {  # part of the schema: where it stands in a file
    "Scenario": "top level of the file",
    "Job": "`[job]`",
    "Well": "`[well]`",
    "Fish": "`[fish]`",
    "Piece": "`[[fish.piece]]`",
    "TripSpeed": "`[trip_speed]`",
    "HoleSpeeds": "`in` and `out` of `[trip_speed]`",
    "Fishing": "`[fishing]`",
    "Doubt": "`[[doubt]]`",
    "Run": "`[[run]]`",
    "Trip": "each of `trips` of a run",
    "OddsByKind": "`[run.odds]`, with kinds of fish",
    "OutcomeOdds": "a table of odds",
    "Parting": "`[parting]`",
    "Recovery": "`[recovery]`",
    "Common": "`[common]`",
    "Sidetrack": "`[[fallback]]`, a sidetrack built up hour by hour",
    "Whipstock": "`whipstock` of a sidetrack",
    "StickAgain": "`stick_again` of a sidetrack",
    "Lump": "`[[fallback]]`, a lump",
    "Trouble": "`trouble` of a lump",
    "Limits": "`[limits]`",
    "Weather": "`[weather]`",
    "Deadline": "`[deadline]`",
    "Rental": "`[[rental]]`",
    "Reading": "`[[reading]]`",
    "Insurance": "`[insurance]`",
    "Afe": "`[afe]`",
    "AfeLine": "`[[afe.line]]`",
    "EarlierSupplement": "`[[afe.earlier]]`",
    "CurrencySplit": "`[[afe.currency_split]]`",
    "Revision": "`[[afe.revision]]`",
    "Partner": "`[[partner]]`",
    "Correlation": "`[[correlation]]`",
    "DrawSettings": "`[draws]`",
}
HOW = {  # part of the schema: where the page of formulas says what is made of it
    "Piece": "pieces-left-in-the-hole",
    "TripSpeed": "a-trip-and-a-run",
    "Fishing": "odds-that-move",
    "Doubt": "belief",
    "Run": "a-run-in-money",
    "Trip": "a-trip-and-a-run",
    "OutcomeOdds": "odds-that-move",
    "Recovery": "a-run-in-money",
    "Sidetrack": "the-kick-off-depth",
    "Whipstock": "the-kick-off-itself",
    "StickAgain": "cost-of-a-sidetrack",
    "Lump": "cost-of-a-sidetrack",
    "Limits": "small-prices-and-authority",
    "Weather": "weather",
    "Deadline": "a-deadline",
    "Rental": "rented-tools",
}
FORMS = {
    "Uniform": "uniform",
    "Pert": "PERT",
    "Triangle": "triangle",
    "Normal": "normal",
    "Lognormal": "lognormal",
    "Metalog": "metalog",
    "Discrete": "listed values",
    "Beta": "a chance known from cases",
}
HEAD = """\
# Every key of a scenario file

One table for each part of the file, made from the schema that checks it; a test holds the two
together. `econ check --schema` prints the same for an editor. Where the defaults come from:
[how each default was set](start.md#how-each-default-was-set). What is made of the amounts:
[formulas](formulas.md). Words: [glossary](glossary.md).

- **amount**: a number, or one of the eight [forms](#forms-of-an-amount) with a range.
- **unit**: in brackets that of a file with `units = "metric"`. *currency* is what `currency` says.
  Ranges and defaults are in field units.
- **default**: *required* must be given; *none* means that the key may be left out, and its meaning
  says what is done then.
"""
FORMS_HEAD = """\
## Forms of an amount

Written in braces: `charge = { low = 4800, likely = 5500, high = 6800 }`. Depths, lengths of pieces
and counts are numbers.
"""
TABLE = "| key | takes | unit | range | default | meaning |\n|---|---|---|---|---|---|"


def key_table() -> str:
    """The whole page as Markdown."""
    schema = Scenario.model_json_schema()
    parts: Schema = schema["$defs"]
    known = {*SECTIONS, *FORMS} - {"Scenario"}
    if unknown := known ^ set(parts):
        raise LookupError(f"parts of the schema without a section here, or gone: {sorted(unknown)}")
    pages = [HEAD]
    for name, where in SECTIONS.items():
        part = schema if name == "Scenario" else parts[name]
        head = f"## {where[0].upper()}{where[1:]}\n\n"
        if name in HOW:
            head += f"What is made of it: [formulas](formulas.md#{HOW[name]}).\n\n"
        pages.append(head + _table(part))
    pages.append(FORMS_HEAD)
    pages += [f"### {words}\n\n{_table(parts[name])}" for name, words in FORMS.items()]
    return "\n".join(pages)


def rows(part: Schema) -> Iterator[tuple[str, str, str, str, str, str]]:
    """Key, what it takes, unit, range, default and meaning of each property of a part."""
    required = part.get("required", [])
    for key, given in part["properties"].items():
        plain = _without_null(given)
        unit = str(_found(plain, "x-unit") or "-")
        unit = unit.replace(" (metric file: ", " (").replace("))", ")")
        default = "required" if key in required else _default(given)
        limits = "; ".join(filter(None, [_range(plain), _longest(plain)])).removeprefix("-; ")
        yield key, _takes(plain), unit, limits, default, given.get("description", "-")


def _table(part: Schema) -> str:
    lines = (f"| `{key}` | {' | '.join(rest)} |" for key, *rest in rows(part))
    return "\n".join([TABLE, *lines, ""])


def _without_null(given: Schema) -> Schema:
    """The schema of a key as it is where the key is given."""
    for choice in given.get("anyOf", []):
        if choice.get("type") != "null":
            return {**choice, **{name: each for name, each in given.items() if name != "anyOf"}}
    return given


def _found(given: Any, name: str) -> Any:
    """What stands under `name` in a schema or in the schema of its items."""
    if not isinstance(given, dict):
        return None
    if name in given:
        return given[name]
    inside = (_found(given.get(each), name) for each in ("items", "additionalProperties"))
    return next((each for each in inside if each is not None), None)


def _takes(given: Schema) -> str:
    plain = _without_null(given)
    if choices := plain.get("oneOf"):
        if choices[0].get("format") == "date-time":
            return "date and time, or date"
        amount = any(each.get("$ref", "").endswith("/Uniform") for each in choices)
        return "amount" if amount else "table"
    if "$ref" in plain:
        return "table"
    if "const" in plain:
        return "word" if isinstance(plain["const"], str) else "whole number"
    if "enum" in plain:
        return "word"
    if plain.get("format") == "date":
        return "date"
    kind = plain.get("type")
    if isinstance(kind, list):
        kind = kind[0]
    if kind == "object":
        (inside,) = plain.get("patternProperties", {"": plain.get("additionalProperties")}).values()
        takes = _takes(inside)
        return f"names, each with {'an' if takes[0] in 'aeiou' else 'a'} {takes}"
    if kind == "array":
        inside = _takes(plain["items"])
        return "list of pairs of numbers" if "list" in inside else f"list of {inside}s"
    names = {"number": "number", "integer": "whole number", "string": "text"}
    return names.get(str(kind), "true or false")


def _range(given: Schema) -> str:
    plain = _without_null(given)
    if stated := _found(plain, "x-range"):
        return str(stated)
    if words := _found(plain, "enum"):
        return "one of " + ", ".join(f"`{word}`" for word in words)
    if "const" in plain:
        return str(plain["const"])
    limits = plain.get("items", {}) if plain.get("type") == "array" else plain
    low, high, below = (limits.get(n) for n in ("minimum", "maximum", "exclusiveMaximum"))
    if low is None:
        return "-"
    if high is not None:
        return f"from {low} to {high}"
    return f"{low} or more" if below is None else f"from {low} to less than {below}"


def _longest(given: Schema) -> str:
    """Most items of a list, or names of a table of free names."""
    most = given.get("maxItems", given.get("maxProperties"))
    return "" if most is None else f"up to {most} items"


def _default(given: Schema) -> str:
    value = given.get("default")
    if value is None:
        return "none"
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, int | float):
        return f"{value:g}"
    if isinstance(value, str):
        return f'`"{value}"`'
    return "those of its table" if isinstance(value, dict) and value else "empty"


if __name__ == "__main__":
    sys.stdout.write(key_table())
