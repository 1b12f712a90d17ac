"""A scenario as a form: sections and fields in the order of the trade.

`layout.toml` has the order, the labels and the words of choices. Everything else about a key is
read from the models of the file: its kind, unit, range, default and meaning. A key of a list of
tables is written `run[].charge`, one of a table of free names `rates.*`.

    kind       what the field takes
    amount     a number or a range
    number     a number; `whole` a whole one
    text, day, moment (a day, or a day and an hour), flag (true or false), choice (of `choices`)
    words      a list of words, `choices` of them where they are fixed
    numbers    a list of whole numbers; days a list of days
    pairs      a list of [top, bottom]
"""

from __future__ import annotations

import functools
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, datetime
from importlib.resources import files
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from annotated_types import MaxLen
from pydantic import BaseModel, Tag
from pydantic.fields import FieldInfo
from pydantic_core import PydanticUndefined

from econ.desk.values import to_json
from econ.scenario.distributions import Distribution
from econ.scenario.quantities import UNITS, Quantity, quantity_of
from econ.scenario.scenario import Scenario

Table = dict[str, Any]


@dataclass(frozen=True)
class Key:
    """A key of the schema."""

    path: str  # such as run[].trips[].work
    kind: str
    required: bool
    default: Any  # None where it is left out
    meaning: str
    quantity: Quantity | None
    choices: tuple[str, ...]
    longest: int | None  # of a text
    variants: tuple[str, ...] = ()  # where a table can be of several kinds: those that have it

    def document(self) -> Table:
        """The key for JSON."""
        found: Table = {
            "key": self.path,
            "kind": self.kind,
            "required": self.required,
            "default": self.default,
            "meaning": self.meaning,
        }
        if self.choices:
            found["choices"] = list(self.choices)
        if self.longest:
            found["longest"] = self.longest
        if self.variants:
            found["variants"] = list(self.variants)
        if self.quantity is not None:
            units = [self.quantity.unit(system) for system in ("field", "metric")]
            if isinstance(self.default, float) and units[0] != units[1]:
                metric = self.default / UNITS[self.quantity.dimension][2]
                found["default"] = {"field": self.default, "metric": float(f"{metric:.3g}")}
            found |= {
                "unit": dict(zip(("field", "metric"), units, strict=True)),
                "dimension": self.quantity.dimension,
                "range": self.quantity.plain(),
            }
        return found


@functools.cache
def keys() -> dict[str, Key]:
    """Every key of a scenario by its path, in the order of the models."""
    found: dict[str, Key] = {}
    for each in _keys(Scenario, ""):
        if each.path in found:  # a key that two kinds of fallback share
            both = (*found[each.path].variants, *each.variants)
            found[each.path] = replace(found[each.path], variants=both)
        else:
            found[each.path] = each
    return found


def _keys(section: type[BaseModel], before: str) -> Iterator[Key]:
    for name, info in section.model_fields.items():
        yield from _key(info, before + (info.alias or name))


def _key(info: FieldInfo, path: str) -> Iterator[Key]:
    annotation = _bare(info.annotation)
    tables = [each for each in _options(annotation) if _is_table(each)]
    if tables:
        for each in tables:
            yield from _keys(each, path + ".")
        return
    inner = _bare(get_args(annotation)[0]) if get_origin(annotation) is list else None
    rows = [] if inner is None else [each for each in _options(inner) if _is_table(each)]
    if rows:
        for each in rows:
            for inside in _keys(each, path + "[]."):
                named = (each.__name__.lower(),) if len(rows) > 1 else inside.variants
                needed = inside.required and (len(rows) == 1 or inside.path == path + "[].name")
                yield replace(inside, variants=named, required=needed)
        return
    if get_origin(annotation) is dict:
        path, kind = path + ".*", _kind(_bare(get_args(annotation)[1]))
    else:
        kind = _kind(annotation)
    default = None if info.default is PydanticUndefined else info.default
    yield Key(
        path=path,
        kind=kind,
        required=info.is_required(),
        default=default if isinstance(default, (bool, int, float, str)) else None,
        meaning=info.description or "",
        quantity=quantity_of(info.annotation, info.metadata),
        choices=_choices(inner if inner is not None else annotation),
        longest=next((each.max_length for each in info.metadata if isinstance(each, MaxLen)), None)
        if kind == "text"
        else None,
    )


def _kind(annotation: Any) -> str:
    options = _options(annotation)
    if any(isinstance(each, type) and issubclass(each, Distribution) for each in options):
        return "amount"
    if get_origin(annotation) is list:
        inner = _bare(get_args(annotation)[0])
        if inner in (int, date):
            return "numbers" if inner is int else "days"
        return "pairs" if get_origin(inner) is list else "words"
    if date in options and datetime not in options:
        return "day"
    if datetime in options:
        return "moment"
    if get_origin(annotation) is Literal:
        return "choice" if isinstance(get_args(annotation)[0], str) else "whole"
    kinds = {bool: "flag", int: "whole", float: "number", str: "text"}
    return kinds[annotation]


def _choices(annotation: Any) -> tuple[str, ...]:
    found = get_args(annotation) if get_origin(annotation) is Literal else ()
    return tuple(each for each in found if isinstance(each, str))


def _is_table(annotation: Any) -> bool:
    return (
        isinstance(annotation, type)
        and issubclass(annotation, BaseModel)
        and not issubclass(annotation, Distribution)
    )


def _bare(annotation: Any) -> Any:
    """An annotation without its metadata and without an alternative None."""
    if get_origin(annotation) is Annotated:
        return _bare(get_args(annotation)[0])
    options = [each for each in get_args(annotation) if each is not type(None)]
    if type(None) in get_args(annotation) and len(options) == 1:
        return _bare(options[0])
    return annotation


def _options(annotation: Any) -> list[Any]:
    """The types that an annotation allows."""
    if get_origin(annotation) is Annotated or isinstance(annotation, Tag):
        return _options(get_args(annotation)[0])
    if get_origin(annotation) is Union or type(annotation).__name__ == "UnionType":
        return [each for option in get_args(annotation) for each in _options(option)]
    return [annotation]


@functools.cache
def layout() -> Table:
    """The form as JSON: `sections` of fields, in the order in which they are asked.

    >>> form = layout()
    >>> [section["id"] for section in form["sections"]][:3]
    ['job', 'well', 'fish']
    >>> form["sections"][1]["fields"][0]["label"], form["sections"][1]["fields"][0]["unit"]
    ('Depth where drilling stopped', {'field': 'ft', 'metric': 'm'})
    """
    raw = tomllib.loads(files("econ.desk").joinpath("layout.toml").read_text(encoding="utf-8"))
    sections = []
    for section in raw["section"]:
        parts = {
            name: [
                _field(path, label, raw["words"], raw["beside"])
                for path, label in section.get(name, [])
            ]
            for name in ("fields", "more")
        }
        if "add" in section:
            parts["add"] = to_json(section["add"])
        sections.append({**section, **parts})
    return {"sections": sections}


def _field(
    path: str, label: str, words: dict[str, dict[str, str]], beside: dict[str, str]
) -> Table:
    found = {**keys()[path].document(), "label": label}
    if path in beside:
        found["beside"] = beside[path]
    if "choices" in found:
        named = words.get(path.rsplit(".", maxsplit=1)[-1], {})
        found["choices"] = [[word, named.get(word) or _plain(word)] for word in found["choices"]]
    return found


def _plain(word: str) -> str:
    return word[:1].upper() + word[1:].replace("_", " ")


FORMS = [  # of an amount, as fields.js offers them
    {"id": "number", "label": "One number", "parts": []},
    {"id": "likely", "label": "Low, likely, high", "parts": ["low", "likely", "high"]},
    {"id": "even", "label": "Low to high", "parts": ["low", "high"]},
    {"id": "percentiles", "label": "P10, P50, P90", "parts": ["p10", "p50", "p90"]},
    {"id": "mean", "label": "Mean and cases", "parts": ["mean", "weight"]},
    {"id": "spread", "label": "Mean and deviation", "parts": ["mean", "sd"]},
    {"id": "factor", "label": "Median and factor", "parts": ["median", "factor"]},
]
