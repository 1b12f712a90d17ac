"""Files that the command line writes: whole or not at all."""

from __future__ import annotations

import contextlib
import errno
import os
import tempfile
from collections.abc import Callable
from importlib.resources import files

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
