"""From a file to a checked scenario, or to all its faults at once."""

from __future__ import annotations

import contextlib
import copy
import functools
import hashlib
import json
import os
import re
import tomllib
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from pydantic import BaseModel, TypeAdapter, ValidationError
from pydantic_core import ErrorDetails

from econ.scenario.faults import Fault, ScenarioError, did_you_mean, in_words, shown
from econ.scenario.lines import Walk, key_lines, nearest_line
from econ.scenario.odds_file import OddsFileFault, read_odds_file
from econ.scenario.odds_from import attached, resolve
from econ.scenario.rules import broken
from econ.scenario.scenario import Scenario, dotted
from econ.scenario.speeds_file import read_speeds_file
from econ.scenario.speeds_from import ResolvedSpeeds, resolve_speeds
from econ.scenario.toml_text import LARGEST_FILE as LARGEST_FILE
from econ.scenario.toml_text import TOO_DEEP, document
from econ.scenario.toml_text import read_text as read_text

KeyPath = tuple[str | int, ...]
NAMED_FILES: dict[str, Callable[[Path], object]] = {  # keys that name a file, and who reads it
    "odds_from": read_odds_file,
    "speeds_from": read_speeds_file,
}
MARK = "REPLACE"  # begins the remark on a planning value that nobody has looked at
NAMED: tuple[KeyPath, ...] = (("rates",), ("fishing", "day_rates"))  # tables of free names


def load(
    path: str | os.PathLike[str], overrides: Sequence[str] = (), *, need_odds: bool = True
) -> Scenario:
    """Scenario in the TOML file at `path`.

    `overrides` are "key=value" strings that replace values of the file, list items
    counted from 1: "rates.rig=30000", "run.2.charge=5000".

    Files that it names under `odds_from` and `speeds_from` are looked for beside it. need_odds:
    False for who only wants to look at fish and hole; runs may then lack odds and hours. Raises
    `ScenarioError` with every fault found.

    >>> from econ.scenario import ScenarioError, load
    >>> job = load("scenarios/point/a_land_twist_off.toml", ["rates.rig=30000"])
    >>> job.rates["rig"], job.fish.top
    (30000.0, 11180.0)
    >>> try:
    ...     load("scenarios/point/a_land_twist_off.toml", ["fish.top=99999", "rates.rig=-1"])
    ... except ScenarioError as error:
    ...     print(len(error.faults))
    2
    """
    return parse(read_text(path), overrides, folder=folder_of(path), need_odds=need_odds)


def folder_of(path: str | os.PathLike[str]) -> Path:
    """Folder in which a file that the scenario at `path` names is looked for: its own, or the
    current one where the text comes through a pipe or from standard input."""
    folder = Path(path).absolute().parent
    stream = folder.parts[1:2] in (("dev",), ("proc",)) or not Path(path).is_file()
    return Path() if stream else folder


def parse(
    text: str,
    overrides: Sequence[str] = (),
    *,
    folder: str | os.PathLike[str] = ".",
    need_odds: bool = True,
) -> Scenario:
    """Scenario in a TOML `text`; see `load`. folder: where `odds_from` and `speeds_from`
    are looked for.

    >>> from pathlib import Path
    >>> parse(Path("scenarios/point/c_bit_cones.toml").read_text(encoding="utf-8")).units
    'field'
    """
    raw = document(text)
    changed, paths = _changed(raw, overrides)
    if need_odds:
        return _checked(text, changed, paths, folder)
    filled, stand_ins = _filled(changed)
    return _checked(text, filled, paths, folder).with_stand_ins(stand_ins)


def _filled(raw: dict[str, Any]) -> tuple[dict[str, Any], tuple[str, ...]]:
    """A document that can be looked at before anything but fish and hole is in it, and the key
    paths that something stands in for. Runs have some odds and hours, if they have none."""
    filled, missing = dict(raw), []
    for name, some in _SOME.items():
        if name not in raw:
            filled[name] = some
            missing.append(name)
    well, fish = raw.get("well"), raw.get("fish")
    if isinstance(well, dict) and isinstance(fish, dict):
        some = {"depth": fish.get("bottom"), "shoe_depth": 0.0}
        less = [name for name in some if name not in well and some[name] is not None]
        filled["well"] = {**{name: some[name] for name in less}, **well}
        missing += [f"well.{name}" for name in less]
    runs = raw.get("run")
    if isinstance(runs, list):
        tripping = "trip_speed" in raw or bool(raw.get("speeds_from"))
        filled["run"] = [_looked_at(run, tripping=tripping) for run in runs]
    limits = raw.get("limits", {})
    if not runs and isinstance(limits, dict):
        filled["limits"] = {**limits, "minimum_runs": 0}
    if "parting" not in raw:
        filled["parting"] = {"hours": 0.0}
    return filled, tuple(missing)


_SOME: dict[str, Any] = {
    "schema": 1,
    "currency": "money",
    "job": {"well": "not named"},
    "rates": {"not_told": 0.0},
    "fallback": [{"name": "not told", "hours": 0.0}],
}


def _looked_at(run: Any, *, tripping: bool) -> Any:
    """A run with some odds and hours, if it has none."""
    if not isinstance(run, dict):
        return run
    some = {"odds": {"nothing": 1.0}, "hours": 0.0}
    if "trips" in run:
        if tripping:
            del some["hours"]
        else:
            run = {name: value for name, value in run.items() if name != "trips"}
    return {**some, **run}


def anchored(
    text: str, overrides: Sequence[str], folder: str | os.PathLike[str]
) -> tuple[str, ...]:
    """The overrides of a `text` such that its `odds_from` and `speeds_from` are found from any
    folder.

    The digest of such a file stands behind its path, as a comment of TOML: who keeps results by
    their overrides sees when the odds or speeds have changed.
    """
    raw, _ = _changed(document(text), overrides)
    anchors = []
    for key, read in NAMED_FILES.items():
        name = raw.get(key)
        if not isinstance(name, str) or not name:
            continue
        path = Path(folder).absolute() / name
        digest = ""
        with contextlib.suppress(ScenarioError):  # the reader of the scenario says what is wrong
            read(path)
            digest = hashlib.sha256(read_text(path).encode()).hexdigest()
        anchors.append(f"{key}={json.dumps(str(path), ensure_ascii=False)} # {digest}")
    return (*overrides, *anchors)


class Variants:
    """Scenarios that differ from one TOML text in a few keys, quick to make many of.

    The text is read once, and what no override touches is checked once: sections, and items
    of lists of tables. Every scenario and every fault is the one that `parse` gives.
    """

    def __init__(
        self,
        text: str,
        overrides: Sequence[str] = (),
        *,
        folder: str | os.PathLike[str] = ".",
    ) -> None:
        self._text = text
        self._folder = folder
        self._raw, self._paths = _changed(document(text), overrides)
        self._base: Scenario | None = None  # a text that is faulty may be mended by overrides
        with contextlib.suppress(ScenarioError):
            self._base = _checked(text, self._raw, self._paths, folder)

    def scenario(self, overrides: Sequence[str] = ()) -> Scenario:
        """The scenario with further `overrides`; ScenarioError with every fault found."""
        raw, paths = _changed(self._raw, overrides)
        found = None if self._base is None else _revised(self._base, raw, paths, self._folder)
        if found is not None:
            return found
        return _checked(self._text, raw, [*self._paths, *paths], self._folder)

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


def _marked(text: str, paths: Sequence[KeyPath]) -> tuple[str, ...]:
    """Keys of a text whose remark begins with the mark of a planning value, but for those set from
    outside."""
    if MARK not in text:
        return ()
    remark = re.compile(rf"[ \t]*#[ \t]*{MARK}\b")
    found = (pair.path for pair in Walk(text).pairs if remark.match(text, pair.end))
    return tuple(
        dotted(path) for path in found if not any(each[: len(path)] == path for each in paths)
    )


def _checked(
    text: str, raw: dict[str, Any], paths: Sequence[KeyPath], folder: str | os.PathLike[str]
) -> Scenario:
    """The scenario in a raw document, of which the keys at `paths` are not those of `text`."""
    found: list[ErrorDetails] = []
    speeds = resolve_speeds(raw, folder)
    resolved = resolve(speeds.raw, folder)
    raw = resolved.raw
    try:
        scenario = Scenario.model_validate(raw, by_alias=True, by_name=False)
        sound = frozenset(Scenario.model_fields)
    except ValidationError as error:
        found = error.errors()
        scenario = _partly(raw, {str(each["loc"][0]) for each in found if each["loc"]})
        sound = frozenset(scenario.model_fields_set)
    between = broken(scenario, sound)
    beside = [*speeds.faults, *resolved.faults]
    if not found and not between and not beside:
        told = _told(attached(scenario, resolved), speeds)
        marked = _marked(text, paths)
        return told.with_marks(marked) if marked else told
    lines = _lines(text, paths)  # only now, because it takes as long as the check itself
    faults = [in_words(each, lines) for each in found]
    for fault in [*between, *beside]:
        if isinstance(fault, OddsFileFault):
            faults.append(fault)
            continue
        line = fault.line or nearest_line(lines, fault.path)
        faults.append(Fault(fault.given, fault.allowed, fault.suggestion, fault.path, line))
    raise ScenarioError(faults)


def _revised(
    base: Scenario,
    raw: dict[str, Any],
    paths: Sequence[KeyPath],
    folder: str | os.PathLike[str],
) -> Scenario | None:
    """A sound scenario with the values of `raw` at `paths`; None if there is any fault."""
    speeds = resolve_speeds(raw, folder)
    resolved = resolve(speeds.raw, folder)
    if speeds.faults or resolved.faults:
        return None
    raw = resolved.raw
    changed = [*paths, *speeds.paths, *resolved.paths]
    mixed = _partly_checked(raw, base, changed)
    try:
        scenario = Scenario.model_validate(mixed, by_alias=True, by_name=False)
    except ValidationError:
        return None
    every = frozenset(Scenario.model_fields)
    if broken(scenario, every, changed=frozenset(str(path[0]) for path in changed)):
        return None
    return _told(attached(scenario, resolved), speeds)


def _told(scenario: Scenario, speeds: ResolvedSpeeds) -> Scenario:
    """A checked scenario that knows what of it is from daily reports."""
    return scenario if speeds.told is None else scenario.with_reports(speeds.told)


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
        if key not in mixed:  # past jobs were asked for a value that the file leaves out
            continue
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
