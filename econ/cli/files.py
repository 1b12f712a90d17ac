"""Files that the command line writes: whole or not at all, one of them or a set.

    write_new      a file that does not exist yet
    write_files    files in place of those that are there
    replace_read   a file in place of one that was read, if it is as it was then
    move_read      two of them, for what goes from one to the other

New files are written in full to a hidden folder beside their places. Then the old ones are moved
aside into it, and the new ones in. Whatever fails on the way, the old ones are put back. What a
killed process left in its hidden folder is put back, or removed, by the next one that writes
there. All faults of the disk are UnfinishedError; what can be known before is in `targets`.
"""

from __future__ import annotations

import contextlib
import errno
import os
import re
import shutil
import stat
import tempfile
import time
from collections.abc import Callable, Iterator, Mapping
from importlib.resources import files
from pathlib import Path
from typing import BinaryIO

from econ.cli.exits import UnfinishedError
from econ.cli.terminal import path_shown

PREFIX, SUFFIX = ".econ-", ".part"  # of hidden files and folders
OURS = re.compile(r"\.econ-[a-z0-9_]{8}\.part")
FORGOTTEN = 3600.0  # [s] a hidden folder of this age is of a process that was killed
NEW, OLD = "new", "old"  # in a hidden folder: what comes, and what was there


STARTERS = {"field": "starter.toml", "metric": "starter_metric.toml"}  # by system of units


def starter(units: str = "field") -> str:
    """Text of the starter scenario in a system of units; the job is the same in both."""
    return files("econ.scenario").joinpath(STARTERS[units]).read_text(encoding="utf-8")


def write_new(path: str, text: str) -> None:
    """Write `text` to a file that does not exist yet; ScenarioError if its name is taken."""
    try:
        _write(path, text.encode(), _claim)
    except FileExistsError:
        from econ.scenario.faults import Fault, ScenarioError

        given = f"the existing {path!a}"
        raise ScenarioError(
            [Fault(given, "a name that is not taken", "choose another name")]
        ) from None
    except (OSError, ValueError) as error:
        raise _unwritten(path, error) from None


def write_files(data: Mapping[str, bytes]) -> None:
    """Write bytes by path, in place of the files that are there: all of them or none.

    Folders are made where they are missing. A link stays a link to the file that is replaced.
    """
    places = {os.path.realpath(path): content for path, content in data.items()}
    made: list[Path] = []
    try:
        for folder in sorted({Path(path).parent for path in places}):
            _make(folder, made)
        if len(places) == 1:
            _write_one(*places.popitem())
        else:
            _write_together(places)
    except BaseException:
        for folder in reversed(made):
            with contextlib.suppress(OSError):  # one that another program has filled stays
                folder.rmdir()
        raise


Change = tuple[str, bytes | None, bytes]  # a path, what it held when read, what it shall hold


def replace_read(path: str, old: bytes | None, new: bytes) -> None:
    """Write a file in place of one that was read, and that still is as it was then.

    old: what it held, None where there was none. UnfinishedError where it has changed since.
    """
    with _alone(path):
        _check_unchanged(path, old)
        write_files({path: new})


def move_read(source: Change, *, to: Change) -> None:
    """Write two files that were read, `to` first: what goes from one to the other is in both, or
    where it was, if the work is ended between. UnfinishedError where one has changed since."""
    with _alone(source[0]):
        for path, old, _ in (source, to):
            _check_unchanged(path, old)
        path, old, new = to
        write_files({path: new})
        try:
            write_files({source[0]: source[2]})
        except BaseException:
            with contextlib.suppress(OSError, UnfinishedError):
                if old is None:
                    os.unlink(path)
                else:
                    write_files({path: old})
            raise


@contextlib.contextmanager
def _alone(path: str) -> Iterator[None]:
    """Wait until no other command of ours is here for a file of the same folder; where the system
    or the disk has no such lock, go on without one."""
    try:
        import fcntl
    except ImportError:
        yield
        return
    folder = os.path.dirname(os.path.realpath(path))
    try:
        handle = os.open(folder, os.O_RDONLY)
    except OSError:
        yield
        return
    try:
        with contextlib.suppress(OSError):
            fcntl.flock(handle, fcntl.LOCK_EX)
        yield
    finally:
        os.close(handle)


def _check_unchanged(path: str, old: bytes | None) -> None:
    try:
        now = Path(path).read_bytes() if os.path.exists(path) else None
    except OSError as error:
        raise _unwritten(path, error) from None
    if now != old:
        raise UnfinishedError(
            f"{path_shown(path)} was changed by another program meanwhile: nothing was written; "
            "look at it, and give the command again"
        )


def _write_one(path: str, data: bytes) -> None:
    _clean(os.path.dirname(path))
    try:
        _write(path, data, os.replace)
    except (OSError, ValueError) as error:
        raise _unwritten(path, error) from None


def _make(folder: Path, made: list[Path]) -> None:
    """Make a folder and those above it, and put those that were missing on the list."""
    missing = [way for way in (folder, *folder.parents) if not way.exists()]
    try:
        for way in reversed(missing):
            way.mkdir(exist_ok=True)
            made.append(way)
    except OSError as error:
        raise _unwritten(str(folder), error) from None


def _write(path: str, data: bytes, give_name: Callable[[str, str], None]) -> None:
    """Write a file beside `path` first, then give it that name, so that a full disk or a killed
    process leaves no half of it under the name asked for."""
    folder = os.path.dirname(path) or "."
    handle, temporary = tempfile.mkstemp(dir=folder, prefix=PREFIX, suffix=SUFFIX)
    try:
        with os.fdopen(handle, "wb") as file:
            _fill(file, data)
        os.chmod(temporary, _mode(path))
        give_name(temporary, path)
    finally:
        with contextlib.suppress(FileNotFoundError):
            os.unlink(temporary)


def _mode(path: str) -> int:
    """Who may read and write a file: as before, where it was there."""
    try:
        return stat.S_IMODE(os.stat(path).st_mode)
    except OSError:
        return 0o644


def _fill(file: BinaryIO, data: bytes) -> None:
    file.write(data)
    file.flush()
    os.fsync(file.fileno())


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


class _Place:
    """One file of a set: where it stands, where it waits, and where the old one is kept."""

    def __init__(self, path: str, hidden: str) -> None:
        self.path = path
        name = os.path.basename(path)
        self.new, self.old = os.path.join(hidden, NEW, name), os.path.join(hidden, OLD, name)
        self.taken = os.path.lexists(path)

    def prepare(self, data: bytes) -> None:
        """Write the new file where it waits."""
        if os.path.isdir(self.path):
            raise IsADirectoryError(errno.EISDIR, "a folder has this name")
        with open(self.new, "xb") as file:
            _fill(file, data)
        os.chmod(self.new, _mode(self.path))

    def move_aside(self) -> None:
        """Move what is there aside."""
        if self.taken:
            os.replace(self.path, self.old)

    def move_in(self) -> None:
        """Put the new file in its place."""
        os.replace(self.new, self.path)

    def undo(self) -> bool:
        """Put the old file back; whether all is as it was."""
        try:
            if os.path.lexists(self.old):
                os.replace(self.old, self.path)
            elif not self.taken and not os.path.lexists(self.new):
                os.unlink(self.path)
        except OSError:
            return False
        return True


def _write_together(data: Mapping[str, bytes]) -> None:
    hidden: dict[str, str] = {}  # by the folder that it is in
    places: list[_Place] = []
    at, kept = "", False
    try:
        for path, content in data.items():
            at, folder = path, os.path.dirname(path)
            if folder not in hidden:
                _clean(folder)
                hidden[folder] = tempfile.mkdtemp(dir=folder, prefix=PREFIX, suffix=SUFFIX)
                for name in (NEW, OLD):
                    os.mkdir(os.path.join(hidden[folder], name))
            place = _Place(path, hidden[folder])
            place.prepare(content)
            places.append(place)
        for step in (_Place.move_aside, _Place.move_in):
            for place in places:
                at = place.path
                step(place)
    except BaseException as error:
        undone = [place.undo() for place in reversed(places)]
        kept = not all(undone)
        if not isinstance(error, (OSError, ValueError)):
            raise
        left = "no file was changed"
        if kept:
            where = ", ".join(path_shown(folder) for folder in hidden.values())
            left = f"{undone.count(False)} old files could not be put back and are kept in {where}"
        raise UnfinishedError(
            f"{path_shown(at)} could not be written or replaced ({_reason(error)}): none of the "
            f"{len(data)} new files is there, {left}; close the file where it is open, or write "
            "to another place"
        ) from None
    finally:
        if not kept:
            for folder in hidden.values():
                shutil.rmtree(folder, ignore_errors=True)


def _clean(folder: str) -> None:
    """Put back, or remove, what processes that were killed left hidden in a folder.

    Only what has a name of ours and was not touched for an hour; never anything else.
    """
    with contextlib.suppress(OSError):
        for entry in list(os.scandir(folder)):
            if not OURS.fullmatch(entry.name):
                continue
            with contextlib.suppress(OSError):
                found = entry.stat(follow_symlinks=False)
                if time.time() - found.st_mtime < FORGOTTEN:
                    continue
                if stat.S_ISREG(found.st_mode):
                    os.unlink(entry.path)
                elif stat.S_ISDIR(found.st_mode):
                    _put_back(entry.path, folder)
                    shutil.rmtree(entry.path, ignore_errors=True)


def _put_back(hidden: str, folder: str) -> None:
    """Old files whose place is empty, because the process was killed between two moves."""
    with contextlib.suppress(FileNotFoundError):
        for name in os.listdir(os.path.join(hidden, OLD)):
            place = os.path.join(folder, name)
            if not os.path.lexists(place):
                os.replace(os.path.join(hidden, OLD, name), place)


def _unwritten(path: str, error: OSError | ValueError) -> UnfinishedError:
    return UnfinishedError(
        f"{path_shown(path)} could not be written: {_reason(error)}; nothing was written, and "
        "what was there is as it was"
    )


def _reason(error: OSError | ValueError) -> str:
    return getattr(error, "strerror", None) or str(error)
