"""From a file to a checked scenario, or to all its faults at once."""

from __future__ import annotations

import contextlib
import copy
import functools
import os
import re
import tomllib
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from pydantic import BaseModel, TypeAdapter, ValidationError
from pydantic_core import ErrorDetails

from econ.scenario.faults import Fault, ScenarioError, did_you_mean, in_words, shown
from econ.scenario.lines import key_lines, nearest_line
from econ.scenario.rules import broken
from econ.scenario.scenario import Scenario

LARGEST_FILE = 2_000_000  # bytes; a scenario is a few thousand
KeyPath = tuple[str | int, ...]
TOO_DEEP = Fault("tables or lists nested too deep", "TOML of a scenario")
NAMED: tuple[KeyPath, ...] = (("rates",), ("fishing", "day_rates"))  # tables of free names


def load(path: str | os.PathLike[str], overrides: Sequence[str] = ()) -> Scenario:
    """Scenario in the TOML file at `path`.

    `overrides` are "key=value" strings that replace values of the file, list items
    counted from 1: "rates.rig=30000", "run.2.charge=5000".

    Raises `ScenarioError` with every fault found.
    """
    return parse(read_text(path), overrides)


def parse(text: str, overrides: Sequence[str] = ()) -> Scenario:
    """Scenario in a TOML `text`; see `load`."""
    raw = _document(text)
    changed, paths = _changed(raw, overrides)
    return _checked(text, changed, paths)


class Variants:
    """Scenarios that differ from one TOML text in a few keys, quick to make many of.

    The text is read once, and what no override touches is checked once: sections, and items
    of lists of tables. Every scenario and every fault is the one that `parse` gives.
    """

    def __init__(self, text: str, overrides: Sequence[str] = ()) -> None:
        self._text = text
        self._raw, self._paths = _changed(_document(text), overrides)
        self._base: Scenario | None = None  # a text that is faulty may be mended by overrides
        with contextlib.suppress(ScenarioError):
            self._base = _checked(text, self._raw, self._paths)

    def scenario(self, overrides: Sequence[str] = ()) -> Scenario:
        """The scenario with further `overrides`; ScenarioError with every fault found."""
        raw, paths = _changed(self._raw, overrides)
        found = None if self._base is None else _revised(self._base, raw, paths)
        return _checked(self._text, raw, [*self._paths, *paths]) if found is None else found

    def refusal(self, key: str) -> list[Fault]:
        """Why `key` is not one of this text, whatever its value; nothing if it is."""
        raw = dict(self._raw)
        if "=" in key or not all(map(str.strip, key.split("."))):
            return [Fault(shown(key), "a key path", "such as rates.rig or run.2.charge")]
        try:
            path = _put(raw, _steps(key), "", shown(key))
            Scenario.model_validate(raw, by_alias=True, by_name=False)
        except ScenarioError as error:
            return list(error.faults)
        except ValidationError as error:
            unknown = [each for each in error.errors() if each["type"] == "extra_forbidden"]
            faults = [in_words(each, {}) for each in unknown]
            return [fault for fault in faults if fault.path == path[: len(fault.path)]]
        return []

    def new_name(self, key: str) -> str | None:
        """For a key that adds a name to a table of free names: a suggestion, or no text."""
        path = tuple(_steps(key))
        if path[:-1] not in NAMED:
            return None
        table: Any = self._raw
        for step in path[:-1]:
            table = table.get(step, {}) if isinstance(table, dict) else {}
        return None if path[-1] in table else did_you_mean(path[-1], table)


def read_text(path: str | os.PathLike[str], *, largest: int = LARGEST_FILE) -> str:
    """Text of a UTF-8 file of up to `largest` [bytes], with the reason in words where it
    cannot be had."""
    name = ascii(str(path))
    try:
        with Path(path).open("rb") as file:
            data = file.read(largest + 1)  # a device has no size, and no end
    except IsADirectoryError:
        raise ScenarioError([Fault(f"the folder {name}", "a file")]) from None
    except FileNotFoundError:
        raise ScenarioError(
            [Fault(f"no file {name}", "a file that exists", "econ new FILE writes a starter")]
        ) from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise ScenarioError([Fault(name, "a file that can be read", reason)]) from None
    if len(data) > largest:
        raise ScenarioError([Fault(f"{name}, which is larger", f"up to {largest} bytes")])
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise ScenarioError(
            [
                Fault(
                    f"the byte 0x{error.object[error.start]:02x}, which is not UTF-8",
                    "a text file in UTF-8",
                    "save it as UTF-8",
                    line=line,
                )
            ]
        ) from None


def _document(text: str) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        found = re.search(r"line (\d+)", str(error))
        line = int(found.group(1)) if found else text.count("\n") + 1
        reason = re.sub(r" \(at .*\)$", "", str(error))
        rows = [row.strip() for row in text.split("\n")[:line]]
        while len(rows) > 1 and not rows[-1]:  # the end of a text is at its last word
            rows.pop()
        line = len(rows)
        fault = Fault(shown(rows[-1]), "TOML", ascii(reason)[1:-1], line=line)
    except RecursionError:
        fault = TOO_DEEP
    except ValueError:  # Python's own limit on the digits of an integer
        digits = re.search(r"[0-9_]{4301,}", text)
        place = text.count("\n", 0, digits.start()) + 1 if digits else None
        fault = Fault("an integer of too many digits", "TOML of a scenario", line=place)
    raise ScenarioError([fault])


def _lines(text: str, paths: Sequence[KeyPath]) -> dict[KeyPath, int]:
    """Lines of the keys of a text. A key set from outside has none: the line it had in the
    file no longer tells its value."""
    try:
        lines = key_lines(text)
    except RecursionError:
        raise ScenarioError([TOO_DEEP]) from None
    for path in paths:
        for inner in [known for known in lines if known[: len(path)] == path]:
            del lines[inner]
        lines[path] = 0
    return lines


def _checked(text: str, raw: dict[str, Any], paths: Sequence[KeyPath]) -> Scenario:
    """The scenario in a raw document, of which the keys at `paths` are not those of `text`."""
    found: list[ErrorDetails] = []
    try:
        scenario = Scenario.model_validate(raw, by_alias=True, by_name=False)
        sound = frozenset(Scenario.model_fields)
    except ValidationError as error:
        found = error.errors()
        scenario = _partly(raw, {str(each["loc"][0]) for each in found if each["loc"]})
        sound = frozenset(scenario.model_fields_set)
    between = broken(scenario, sound)
    if not found and not between:
        return scenario
    lines = _lines(text, paths)  # only now, because it takes as long as the check itself
    faults = [in_words(each, lines) for each in found]
    for fault in between:
        line = fault.line or nearest_line(lines, fault.path)
        faults.append(Fault(fault.given, fault.allowed, fault.suggestion, fault.path, line))
    raise ScenarioError(faults)


def _revised(base: Scenario, raw: dict[str, Any], paths: Sequence[KeyPath]) -> Scenario | None:
    """A sound scenario with the values of `raw` at `paths`; None if there is any fault."""
    mixed = _partly_checked(raw, base, paths)
    try:
        scenario = Scenario.model_validate(mixed, by_alias=True, by_name=False)
    except ValidationError:
        return None
    return None if broken(scenario, frozenset(Scenario.model_fields)) else scenario


def _partly_checked(raw: Any, checked: Any, paths: Sequence[KeyPath]) -> Any:
    """A raw table or list with what lies off the `paths` as it was checked before."""
    if not all(paths):  # the value itself is new
        return raw
    known = _parts(checked)
    mixed = {
        key: known.get(key, value)
        for key, value in (raw.items() if isinstance(raw, dict) else enumerate(raw))
    }
    for key in {path[0] for path in paths}:
        inner = [path[1:] for path in paths if path[0] == key]
        mixed[key] = _partly_checked(raw[key], known[key], inner) if key in known else raw[key]
    return mixed if isinstance(raw, dict) else list(mixed.values())


def _parts(checked: Any) -> dict[str | int, Any]:
    """What a checked value holds, by its key or number in the file."""
    if isinstance(checked, BaseModel):
        fields = type(checked).model_fields.items()
        return {info.alias or name: getattr(checked, name) for name, info in fields}
    if isinstance(checked, list):
        return dict(enumerate(checked))
    return checked if isinstance(checked, dict) else {}


def _changed(raw: dict[str, Any], overrides: Sequence[str]) -> tuple[dict[str, Any], list[KeyPath]]:
    """A document with the "key=value" of `overrides` set, and the paths of the keys."""
    changed = dict(raw)
    paths: list[KeyPath] = []
    faults: list[Fault] = []
    for override in overrides:
        try:
            paths.append(_override(changed, override))
        except ScenarioError as error:
            faults += [replace(fault, path=("--set",)) for fault in error.faults]
    if faults:
        raise ScenarioError(faults)
    return changed, paths


def _override(raw: dict[str, Any], override: str) -> KeyPath:
    """Set one "key=value" in the raw document and return the path of the key."""
    name, equals, value = override.partition("=")
    steps = _steps(name)
    if not equals or not all(steps):
        raise ScenarioError([Fault(shown(override), "key=value", "such as rates.rig=30000")])
    try:
        new = tomllib.loads(f"value = {value.strip()}")["value"]
    except (tomllib.TOMLDecodeError, RecursionError, ValueError):
        new = value.strip()  # a bare word; the models say whether a word is allowed
    return _put(raw, steps, new, shown(override))


def _steps(name: str) -> list[str]:
    return [step.strip() for step in name.split(".")]


def _put(raw: dict[str, Any], steps: Sequence[str], new: Any, given: str) -> KeyPath:
    """Set the value of a key in the raw document and return the path of the key.

    The tables and lists on the way are copied, because documents share what is in them.
    """
    place: Any = raw
    path: KeyPath = ()
    for number, step in enumerate(steps):
        key: str | int = step
        if isinstance(place, list):
            item = int(step) if re.fullmatch(r"[0-9]{1,9}", step) else 0
            if not 1 <= item <= len(place):
                raise ScenarioError(
                    [
                        Fault(
                            f"{given}: item {shown(step)}",
                            f"an item from 1 to {len(place)}",
                            f"list items are counted from 1 in {'.'.join(steps[:number])}",
                        )
                    ]
                )
            key = item - 1
        elif isinstance(place, dict):
            place.setdefault(step, {})
        else:
            raise ScenarioError(
                [
                    Fault(
                        given,
                        f"a key; {'.'.join(steps[:number])} is {shown(place)}, not a table",
                    )
                ]
            )
        path = (*path, key)
        inner = new if number == len(steps) - 1 else copy.copy(place[key])
        place[key] = inner
        place = inner
    return path


@functools.cache
def _section(name: str) -> TypeAdapter[Any]:
    return TypeAdapter(Scenario.model_fields[name].rebuild_annotation())


def _partly(raw: dict[str, Any], bad: set[str]) -> Scenario:
    """The sound sections of a faulty document, for the rules between them."""
    sound: dict[str, Any] = {}
    for name, info in Scenario.model_fields.items():
        written = info.alias or name
        if written in bad:
            continue
        if written not in raw:
            if not info.is_required():
                sound[name] = info.get_default(call_default_factory=True)
            continue
        sound[name] = _section(name).validate_python(raw[written], by_alias=True, by_name=False)
    return Scenario.model_construct(set(sound), **sound)
