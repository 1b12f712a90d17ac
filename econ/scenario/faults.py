"""Faults of a scenario file, in the words of the person who wrote it.

A fault says where (line and key path), what was given, what is allowed, and what to
do. Pydantic finds the faults; this module only puts them into words, with the keys and
units of the models for what is allowed and the nearest known word as suggestion.
"""

from __future__ import annotations

import difflib
import math
import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, time
from typing import Annotated, Any, get_args, get_origin

from pydantic import BaseModel, Tag
from pydantic.fields import FieldInfo
from pydantic_core import ErrorDetails

from econ.scenario.amounts import forms_in_words
from econ.scenario.distributions import Distribution
from econ.scenario.lines import Path, nearest_line
from econ.scenario.quantities import quantity_of
from econ.scenario.scenario import Scenario, dotted

KEY = "[key]"  # the step of pydantic to a key of a table
BOUNDS = {  # pydantic's error types for a number outside its bounds
    "greater_than_equal": ("ge", "{} or more"),
    "greater_than": ("gt", "more than {}"),
    "less_than_equal": ("le", "{} or less"),
    "less_than": ("lt", "less than {}"),
}
COUNTS = {  # and for a list or table with too few or too many items
    "too_short": ("min_length", "at least"),
    "too_long": ("max_length", "at most"),
}
TYPES = {  # and for a value of the wrong type
    "finite_number": "a finite number",
    "float_type": "a number",
    "int_type": "a whole number",
    "int_from_float": "a whole number",
    "bool_type": "true or false, without quotes",
    "string_type": "a text in quotes",
    "string_pattern_mismatch": "a word of letters, digits and underscores, up to 40 characters",
    "dict_type": "a table",
    "model_type": "a table",
    "list_type": "a list",
    "date_type": "a date such as 2026-03-01",
    "datetime_type": "a date and time such as 2026-03-14T06:00:00",
}
LONGEST = 60  # characters of a given value that a message repeats
LONGEST_WORD = 100  # characters up to which a like word is looked for
LONGEST_PART = 2000  # characters of a part of a message


@dataclass(frozen=True)
class Fault:
    """One thing wrong with a scenario."""

    given: str
    allowed: str
    suggestion: str = ""
    path: Path = ()
    line: int | None = None

    def __str__(self) -> str:
        where = [f"line {self.line}"] if self.line else []
        where += [_printable(dotted(self.path), LONGEST * 2)] if self.path else []
        given, allowed = _printable(self.given), _printable(self.allowed)
        text = f"{', '.join(where) or 'file'}: given {given}; allowed: {allowed}"
        return f"{text}; {_printable(self.suggestion)}" if self.suggestion else text


def _printable(text: str, longest: int = LONGEST_PART) -> str:
    """Text in printable ASCII: names in a file may hold anything, terminals obey some of it."""
    plain = "".join(char if " " <= char <= "~" else ascii(char)[1:-1] for char in text)
    return plain if len(plain) <= longest else plain[: longest - 3] + "..."


class ScenarioError(ValueError):
    """A scenario cannot be used; `faults` holds every reason."""

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults = sorted(faults, key=lambda fault: fault.line or 0)
        super().__init__("\n".join(str(fault) for fault in self.faults))


def in_words(
    error: ErrorDetails, lines: dict[Path, int], root: type[BaseModel] = Scenario
) -> Fault:
    """The fault behind one pydantic error in a document of the `root` model."""
    place = _place(error["loc"], root)
    given, allowed, suggestion = _parts(error, place)
    named = error.get("ctx", {}).get("key")  # the key of a section that its rule is about
    path = (*place.path, named) if named else place.path
    return Fault(
        given=given,
        allowed=allowed,
        suggestion=suggestion,
        path=path,
        line=nearest_line(lines, path),
    )


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """A suggestion if a known word is near."""
    if len(word) > LONGEST_WORD:
        return ""
    close = difflib.get_close_matches(word, list(known), n=1, cutoff=0.6)
    return f"did you mean {close[0]}?" if close else ""


def shown(value: Any) -> str:
    """A given value, short and printable."""
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list):
        return "a list" if value else "an empty list"
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, (date, time)):
        return value.isoformat()
    try:
        text = ascii(value)
    except ValueError:  # an integer too long to print
        return "a very large integer"
    return text if len(text) <= LONGEST else text[: LONGEST - 3] + "..."


@dataclass(frozen=True)
class _Place:
    """Where in the models a location lies, as far as it exists there."""

    section: type[BaseModel]  # the table
    key: FieldInfo | None  # the key of the table
    meaning: FieldInfo | None  # the same, but the amount for a parameter of a distribution
    path: Path  # the location without the tags of unions


def _parts(error: ErrorDetails, place: _Place) -> tuple[str, str, str]:
    kind = error["type"]
    ctx = error.get("ctx", {})
    last = error["loc"][-1] if error["loc"] else ""
    if "allowed" in ctx:
        return ctx["given"], ctx["allowed"], ctx["suggestion"]
    if kind == "extra_forbidden":
        names = [name for name in _keys(place.section) if name != "shape"]
        return "an unknown key", "keys " + ", ".join(names), did_you_mean(str(last), names)
    meaning = _described(place.meaning)
    if kind == "missing":
        return "nothing", f"{meaning}; this key is required", f"add {last} = ..."
    if kind == "no_form":
        return "a table that is no distribution", forms_in_words(), "write a number or one of them"
    given = shown(error["input"])
    if kind == "literal_error":
        words = [str(word) for word in _choices(place.key)]
        if last == KEY:  # the key itself of a table with fixed words for keys
            words = re.findall("'([^']+)'", ctx["expected"])
        word = error["input"] if isinstance(error["input"], str) else ""
        return given, ", ".join(words), did_you_mean(word, words)
    if kind in COUNTS:
        number = ctx[COUNTS[kind][0]]
        todo = "join the smallest into one" if kind == "too_long" else ""
        return _items(ctx["actual_length"]), f"{COUNTS[kind][1]} {_items(number)}", todo
    if kind in BOUNDS:
        name, text = BOUNDS[kind]
        return given, text.format(f"{ctx[name]:.10g}"), ""
    if kind in ("float_type", "int_type") and _is_number(error["input"]):
        return given, meaning, "write the number without quotes"
    return given, f"{meaning}; {TYPES.get(kind) or error['msg'].lower()}", ""


def _items(count: int) -> str:
    return "1 item" if count == 1 else f"{count} items"


def _is_number(value: Any) -> bool:
    """Whether a text holds a number."""
    try:
        return isinstance(value, str) and math.isfinite(float(value))
    except ValueError:
        return False


def _described(info: FieldInfo | None) -> str:
    """What a key takes: its meaning, unit and range."""
    if info is None:
        return "a number"
    quantity = quantity_of(info.annotation, info.metadata)
    text = (info.description or "a number").replace("\n", " ")
    if quantity is None:
        return text
    unit = quantity.unit("field")
    metric = quantity.unit("metric")
    units = unit if unit == metric else f"{unit} or {metric}"
    return f"{text} [{units}], {quantity.allowed()}"


def _choices(info: FieldInfo | None) -> tuple[Any, ...]:
    """The words that a key of fixed words takes."""
    if info is None:
        return ()
    bare = _bare(info.annotation)
    return get_args(_bare(get_args(bare)[0]) if get_origin(bare) is list else bare)


def _keys(section: type[BaseModel]) -> dict[str, FieldInfo]:
    return {info.alias or name: info for name, info in section.model_fields.items()}


def _place(loc: Path, root: type[BaseModel]) -> _Place:
    """Follow a location of pydantic's through the models."""
    section: type[BaseModel] = root
    key: FieldInfo | None = None
    meaning: FieldInfo | None = None
    annotation: Any = root
    path: Path = ()
    for step in loc[:-1] if loc[-1:] == (KEY,) else loc:
        if isinstance(annotation, type) and issubclass(annotation, BaseModel):
            section = annotation
            key = _keys(section).get(str(step))
            # A parameter of a distribution is described by the amount it belongs to.
            meaning = meaning if issubclass(section, Distribution) else key
            annotation = _bare(key.annotation) if key else None
            path = (*path, step)
        elif get_origin(annotation) in (list, dict):
            annotation = _bare(get_args(annotation)[-1])
            path = (*path, step)
        else:  # a union, and the step is the tag of one of its options
            annotation = _tagged(annotation, step)
    return _Place(section, key, meaning, path)


def _bare(annotation: Any) -> Any:
    """An annotation without its metadata and without an alternative None."""
    if get_origin(annotation) is Annotated:
        return _bare(get_args(annotation)[0])
    options = [option for option in get_args(annotation) if option is not type(None)]
    if type(None) in get_args(annotation) and len(options) == 1:
        return _bare(options[0])
    return annotation


def _tagged(union: Any, step: str | int) -> Any:
    for option in get_args(union):
        if any(isinstance(m, Tag) and m.tag == step for m in getattr(option, "__metadata__", ())):
            return _bare(option)
    return None
