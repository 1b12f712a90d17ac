"""From a file to a checked scenario, or to all its faults at once."""

from __future__ import annotations

import functools
import os
import re
import tomllib
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from pydantic import TypeAdapter, ValidationError

from econ.scenario.faults import Fault, ScenarioError, in_words, shown
from econ.scenario.lines import key_lines, nearest_line
from econ.scenario.rules import broken
from econ.scenario.scenario import Scenario

LARGEST_FILE = 2_000_000  # bytes; a scenario is a few thousand


def load(path: str | os.PathLike[str], overrides: Sequence[str] = ()) -> Scenario:
    """Scenario in the TOML file at `path`.

    `overrides` are "key=value" strings that replace values of the file, list items
    counted from 1: "rates.rig=30000", "run.2.charge=5000".

    Raises `ScenarioError` with every fault found.
    """
    return parse(read_text(path), overrides)


def parse(text: str, overrides: Sequence[str] = ()) -> Scenario:
    """Scenario in a TOML `text`; see `load`."""
    raw, lines = _document(text)
    faults: list[Fault] = []
    for override in overrides:
        try:
            _forget(lines, _override(raw, override))
        except ScenarioError as error:
            faults += [replace(fault, path=("--set",)) for fault in error.faults]
    if faults:
        raise ScenarioError(faults)
    scenario: Scenario | None = None
    try:
        scenario = Scenario.model_validate(raw, by_alias=True, by_name=False)
        sound = frozenset(Scenario.model_fields)
    except ValidationError as error:
        found = error.errors()
        faults = [in_words(each, lines) for each in found]
        bad = {str(each["loc"][0]) for each in found if each["loc"]}
        scenario = _partly(raw, bad)
        sound = frozenset(scenario.model_fields_set)
    for fault in broken(scenario, sound):
        line = fault.line or nearest_line(lines, fault.path)
        faults.append(Fault(fault.given, fault.allowed, fault.suggestion, fault.path, line))
    if faults:
        raise ScenarioError(faults)
    return scenario


def read_text(path: str | os.PathLike[str]) -> str:
    """Text of a UTF-8 file, with the reason in words where it cannot be had."""
    name = ascii(str(path))
    try:
        with Path(path).open("rb") as file:
            data = file.read(LARGEST_FILE + 1)  # a device has no size, and no end
    except IsADirectoryError:
        raise ScenarioError([Fault(f"the folder {name}", "a file")]) from None
    except FileNotFoundError:
        raise ScenarioError(
            [Fault(f"no file {name}", "a file that exists", "econ new FILE writes a starter")]
        ) from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise ScenarioError([Fault(name, "a file that can be read", reason)]) from None
    if len(data) > LARGEST_FILE:
        raise ScenarioError([Fault(f"{name}, which is larger", f"up to {LARGEST_FILE} bytes")])
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


def _document(text: str) -> tuple[dict[str, Any], dict[tuple[str | int, ...], int]]:
    try:
        return tomllib.loads(text), key_lines(text)
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
        fault = Fault("tables or lists nested too deep", "TOML of a scenario")
    except ValueError:  # Python's own limit on the digits of an integer
        digits = re.search(r"[0-9_]{4301,}", text)
        place = text.count("\n", 0, digits.start()) + 1 if digits else None
        fault = Fault("an integer of too many digits", "TOML of a scenario", line=place)
    raise ScenarioError([fault])


def _forget(lines: dict[tuple[str | int, ...], int], path: tuple[str | int, ...]) -> None:
    """Mark a key as set from outside: the line it had in the file no longer tells its value."""
    for inner in [known for known in lines if known[: len(path)] == path]:
        del lines[inner]
    lines[path] = 0


def _override(raw: dict[str, Any], override: str) -> tuple[str | int, ...]:
    """Set one "key=value" in the raw document and return the path of the key."""
    name, equals, value = override.partition("=")
    steps = [step.strip() for step in name.split(".")]
    if not equals or not all(steps):
        raise ScenarioError([Fault(shown(override), "key=value", "such as rates.rig=30000")])
    try:
        new = tomllib.loads(f"value = {value.strip()}")["value"]
    except (tomllib.TOMLDecodeError, RecursionError, ValueError):
        new = value.strip()  # a bare word; the models say whether a word is allowed
    place: Any = raw
    path: tuple[str | int, ...] = ()
    for number, step in enumerate(steps):
        last = number == len(steps) - 1
        if isinstance(place, list):
            item = int(step) if re.fullmatch(r"[0-9]{1,9}", step) else 0
            if not 1 <= item <= len(place):
                raise ScenarioError(
                    [
                        Fault(
                            f"{shown(override)}: item {shown(step)}",
                            f"an item from 1 to {len(place)}",
                            f"list items are counted from 1 in {'.'.join(steps[:number])}",
                        )
                    ]
                )
            path = (*path, item - 1)
            if last:
                place[item - 1] = new
            else:
                place = place[item - 1]
        elif isinstance(place, dict):
            path = (*path, step)
            if last:
                place[step] = new
            else:
                place = place.setdefault(step, {})
        else:
            raise ScenarioError(
                [
                    Fault(
                        shown(override),
                        f"a key; {'.'.join(steps[:number])} is {shown(place)}, not a table",
                    )
                ]
            )
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
