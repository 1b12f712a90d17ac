"""Files and folders of them that the command line writes: whole or not at all."""

from __future__ import annotations

import contextlib
import errno
import os
import shutil
import tempfile
from collections.abc import Callable, Mapping
from importlib.resources import files
from pathlib import Path

from econ.scenario.faults import Fault, ScenarioError


def starter() -> str:
    """Text of the starter scenario."""
    return files("econ.scenario").joinpath("starter.toml").read_text(encoding="utf-8")


def write_new(path: str, text: str) -> None:
    """Write `text` to a file that does not exist yet; ScenarioError if it cannot be had."""
    try:
        _write(path, text.encode(), _claim)
    except FileExistsError:
        given = f"the existing {path!a}"
        raise ScenarioError(
            [Fault(given, "a name that is not taken", "choose another name")]
        ) from None


def write_whole(path: str, data: bytes) -> None:
    """Write `data` to a file, in place of one that is there; ScenarioError if it cannot be had."""
    target = os.path.realpath(path)  # a link stays a link to the file that is replaced
    if os.path.exists(target) and not os.path.isfile(target):
        raise ScenarioError([Fault(ascii(path), "the name of a file")])
    _write(target, data, os.replace)


def _write(path: str, data: bytes, give_name: Callable[[str, str], None]) -> None:
    """Write a file beside `path` first, then give it that name, so that a full disk or a killed
    process leaves no half of it under the name asked for."""
    try:
        folder = os.path.dirname(path) or "."
        handle, temporary = tempfile.mkstemp(dir=folder, prefix=".", suffix=".part")
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(data)
                file.flush()
                os.fsync(file.fileno())
            os.chmod(temporary, 0o644)
            give_name(temporary, path)
        finally:
            with contextlib.suppress(FileNotFoundError):
                os.unlink(temporary)
    except FileExistsError:
        raise
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise ScenarioError([Fault(ascii(path), "a file that can be written", reason)]) from None


def _claim(temporary: str, path: str) -> None:
    """Give the finished file its name; FileExistsError if the name is taken."""
    try:
        os.link(temporary, path)  # fails if the name is taken, also by a race
    except OSError as error:
        if error.errno not in (errno.EPERM, errno.ENOTSUP, errno.ENOSYS):
            raise
        # A file system without hard links: reserve the name, then put the file in its place.
        os.close(os.open(path, os.O_CREAT | os.O_EXCL))
        os.replace(temporary, path)


def check_folder(folder: str) -> None:
    """Refuse, before anything is computed, a folder that is none and cannot be made one."""
    try:
        place = Path(folder)
        nearest = next(each for each in (place, *place.absolute().parents) if each.exists())
        able = nearest.is_dir() and os.access(nearest, os.W_OK | os.X_OK)
        reason = "" if able else f"{str(nearest)!a} is not one"
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
    if reason:
        raise ScenarioError([Fault(ascii(folder), "a folder that can be written", reason)])


def write_set(folder: str, files: Mapping[str, bytes]) -> None:
    """Write files into a folder, in place of those that are there: all of them or none.

    A name may stand in a folder below: "figures/curve.svg".

    They are written to a hidden folder inside it first, and moved when all of them are there.
    """
    target = Path(folder)
    hidden: str | None = None
    begun: list[Path] = []
    try:
        folders = sorted({(target / name).parent for name in files} - {target})
        begun += [each for each in (*folders, target, *target.parents) if not each.exists()]
        for each in folders:
            if os.path.lexists(each) and not each.is_dir():
                raise NotADirectoryError(0, f"{each.name} there is not a folder")
        for name in files:
            if os.path.lexists(target / name) and not (target / name).is_file():
                raise IsADirectoryError(0, f"{name} there is not a file")
        target.mkdir(parents=True, exist_ok=True)
        hidden = tempfile.mkdtemp(dir=target, prefix=".", suffix=".part")
        for name, data in files.items():
            part = Path(hidden, name)
            part.parent.mkdir(exist_ok=True)
            with part.open("xb") as file:
                file.write(data)
                file.flush()
                os.fsync(file.fileno())
            part.chmod(0o644)
        for folder_of in folders:
            folder_of.mkdir(exist_ok=True)
        for name in files:
            os.replace(Path(hidden, name), target / name)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        fault = Fault(ascii(folder), "a folder that can be written", reason)
    else:
        return
    finally:
        if hidden is not None:
            shutil.rmtree(hidden, ignore_errors=True)
    for each in begun:  # the folders that were made here, as far as they are empty
        with contextlib.suppress(OSError, ValueError):
            each.rmdir()
    raise ScenarioError([fault])
