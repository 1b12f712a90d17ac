"""Where a command will write, looked at before it computes anything.

An output never replaces an input, whatever links or spellings lead to it. Every reason is a
fault of the input: exit code 2.
"""

from __future__ import annotations

import os
import stat
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from econ.scenario.faults import Fault, ScenarioError
from econ.scenario.load import folder_of

if TYPE_CHECKING:
    from econ.scenario import Scenario

Read = Mapping[str, str | os.PathLike[str] | None]  # files by what they are; None is not given


def files_read(file: str, scenario: Scenario, **others: str | None) -> Read:
    """All that a command reads: the scenario in `file`, what it names, and others by keyword."""
    odds, speeds = scenario.odds_from, scenario.speeds_from
    return {
        "the scenario": file,
        "odds_from of the scenario": folder_of(file) / odds if odds else None,
        "speeds_from of the scenario": folder_of(file) / speeds if speeds else None,
        **{f"the {word.replace('_', ' ')}": path for word, path in others.items()},
    }


def check_file(
    path: str, read: Read, *, endings: Sequence[str] = (), option: str = "--out"
) -> None:
    """ScenarioError unless a file can be written at `path` that is none of those read.

    endings: those a name may have, in small letters.
    """
    if endings and not path.lower().endswith(tuple(endings)):
        raise _refused(path, f"a name that ends in {', '.join(endings)}", "", option)
    check_not_read(path, read, option=option)
    allowed = "a file that can be written"
    try:
        real = os.path.realpath(path)
        there, beside = _kind(real), _kind(os.path.dirname(real))
    except (OSError, ValueError) as error:
        raise _refused(path, allowed, _reason(error), option) from None
    folder = os.path.dirname(real)
    if there is not None and not stat.S_ISREG(there):
        raise _refused(path, "the name of a file", "", option)
    if beside is None or not stat.S_ISDIR(beside):
        raise _refused(path, allowed, f"{folder!a} is not a folder", option)
    if not os.access(folder, os.W_OK | os.X_OK):
        raise _refused(path, allowed, f"the folder {folder!a} cannot be written to", option)


def check_new(path: str) -> None:
    """ScenarioError unless a new file can be made at `path`."""
    try:
        taken = os.path.lexists(path)
    except ValueError:  # a character that no name can have: said below
        taken = False
    if taken:
        given = f"the existing {path!a}"
        raise ScenarioError([Fault(given, "a name that is not taken", "choose another name")])
    check_file(path, {}, option="FILE")


def check_folder(folder: str, *, option: str = "--out") -> None:
    """ScenarioError unless `folder` can be written to, or made."""
    try:
        place = Path(folder).absolute()
        nearest = next(way for way in (place, *place.parents) if _kind(way) is not None)
        able = nearest.is_dir() and os.access(nearest, os.W_OK | os.X_OK)
        reason = "" if able else f"{str(nearest)!a} is not one"
    except (OSError, ValueError) as error:
        reason = _reason(error)
    if reason:
        raise _refused(folder, "a folder that can be written", reason, option)


def check_names(folder: str, names: Iterable[str], read: Read, *, option: str = "--out") -> None:
    """ScenarioError if a file of one of these names, such as "figures/curve.svg", cannot stand
    in the `folder`, or is one of those read."""
    target = Path(folder)
    for name in names:
        path = target / name
        reason = ""
        if path.parent != target and os.path.lexists(path.parent) and not path.parent.is_dir():
            reason = f"{path.parent.name} there is not a folder"
        elif os.path.lexists(path) and not path.is_file():
            reason = f"{name} there is not a file"
        if reason:
            raise _refused(folder, "a folder that can be written", reason, option)
        check_not_read(str(path), read, option=option)


def check_not_read(path: str, read: Read, *, option: str = "--out") -> None:
    """ScenarioError if `path` is one of the files that are read."""
    for words, source in read.items():
        if source is not None and _same(path, source):
            given = f"{path!a}, which is {words} that is read"
            raise ScenarioError(
                [Fault(given, "a file that is not read", "give another name", (option,))]
            )


def _same(path: str, source: str | os.PathLike[str]) -> bool:
    try:
        return os.path.samefile(path, source)
    except (OSError, ValueError):  # one of them is not there, so it is not the other
        return False


def _kind(path: str | os.PathLike[str]) -> int | None:
    """Mode of what is at a path; None if nothing is. OSError and ValueError if none can be."""
    try:
        return os.stat(path).st_mode
    except FileNotFoundError:
        if os.path.lexists(path):
            raise  # a link to nothing
        return None


def _refused(path: str, allowed: str, reason: str, option: str) -> ScenarioError:
    return ScenarioError([Fault(ascii(path), allowed, reason, (option,))])


def _reason(error: OSError | ValueError) -> str:
    return getattr(error, "strerror", None) or str(error)
