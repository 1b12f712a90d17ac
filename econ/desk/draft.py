"""A scenario that is being worked on: what is in the file, and what is not saved yet.

Every change goes to a draft beside the file, `.NAME.econ-draft`, which only its owner may read
and to which lines are only added, each flushed to the disk. Save alone writes the scenario. So a
crash loses at most the change that was on its way, and the next start offers the rest.

    line 1     {"draft": 1, "file": name, "hash": of the file, "text": of the file}
    then       {"changes": [...], "hash": of the text after them}
    or         {"text": whole, "hash": of it}, for an undo, for what came as a whole, and after
               every 50 changes, so that a start has no more of them to make again

A state is known by the hash of its text. Who changes it says which state that was meant for; if
it is no longer the present one, as with two windows, nothing is changed and the present state is
handed back. A file that another program has changed is known by its hash and never written over:
`three_versions` shows the differences key by key, and `settle` makes one text of them.
"""

from __future__ import annotations

import contextlib
import errno
import hashlib
import json
import os
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import IO, Any

from econ.desk.editing import Change, edited, edited_text
from econ.desk.places import checked
from econ.desk.text_blocks import Text
from econ.desk.values import refusal, to_json
from econ.desk.versions import Difference, differences, merged
from econ.desk.wording import beside, fault_document
from econ.scenario.faults import Fault, ScenarioError
from econ.scenario.notes import Beside, notes
from econ.scenario.notes.likely import unlikely
from econ.scenario.scenario import dotted
from econ.scenario.toml_text import decoded, document, read_bytes

MARK = "\ufeff"  # byte order mark
VERSION = 1
MOST_UNDO = 500  # steps
MOST_KEPT = 10_000_000  # characters of all of them together
WHOLE_EVERY = 50  # changes after which a line has the whole text
Writer = Callable[[str, bytes | None, bytes], None]
"""Writes a file whole or not at all in place of what was read: path, what it held, what it shall
hold; refuses where it no longer holds that. `econ.cli.files.replace_read` is one."""


class StaleError(Exception):
    """A change was meant for a state that is no longer the present one."""


class ElsewhereError(Exception):
    """The file was changed by another program, and there are changes here that are not saved."""


class OfferedError(Exception):
    """A draft of an earlier start is there, and nobody has said what to do with it."""


@dataclass(frozen=True)
class Offer:
    """A draft that an earlier start left behind."""

    changes: int
    at: float  # [s since 1970] of the last one
    elsewhere: bool  # whether the file has been changed since
    lost: bool  # whether its end could not be read


@dataclass(frozen=True)
class State:
    """What a window shows of a job; `document` is the same for JSON."""

    file: str
    hash: str
    text: str
    values: dict[str, Any] | None  # None where the text is no TOML
    faults: tuple[Fault, ...]
    notes: tuple[str, ...]
    remarks: Mapping[str, str]  # what stands behind a value in the text, by key
    undo: int  # steps that can be taken back
    unsaved: bool
    kept: bool  # whether changes are also on the disk
    elsewhere: bool  # whether another program has changed the file
    offer: Offer | None

    def document(self) -> dict[str, Any]:
        """The state as JSON; faults by key path, list items counted from 1."""
        return {
            "file": self.file,
            "hash": self.hash,
            "text": self.text,
            "values": None if self.values is None else to_json(self.values),
            "faults": [fault_document(fault, self.values) for fault in self.faults],
            "notes": list(self.notes),
            "beside": [beside(note) for note in self.notes if isinstance(note, Beside)],
            "remarks": dict(self.remarks),
            "undo": self.undo,
            "draft": {
                "unsaved": self.unsaved,
                "kept": self.kept,
                "elsewhere": self.elsewhere,
                "offer": None if self.offer is None else vars(self.offer),
            },
        }


def hash_of(text: str) -> str:
    """The name of a text: SHA-256 in hexadecimal digits."""
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()


def draft_path(path: str | os.PathLike[str]) -> Path:
    """Where the draft of a scenario file is: beside the file itself, also behind a link."""
    real = Path(os.path.realpath(path))
    return real.with_name(f".{real.name}.econ-draft")


@dataclass
class _Base:
    """The file as it was read: its bytes, None where there is none, and its text."""

    data: bytes | None
    text: str = ""
    marked: bool = False  # begins with a byte order mark
    seen: tuple[int, int, int] | None = None  # time, size and number of the file


class Draft:
    """One scenario file and the changes to it that are not saved yet.

    write: how a file is written, see `Writer`. Raises `ScenarioError` where the file cannot be
    read or another desk has it. One thread at a time; the caller sees to that.
    """

    def __init__(self, path: str | os.PathLike[str], write: Writer) -> None:
        self.path = os.fspath(path)
        self._write = write
        self._base = self._read()
        self._text = self._base.text
        self._here: Text | None = None  # of the text, where it was read already
        self._undo: list[str] = []
        self._log: Lines | None = None
        self._offered: _Found | None = None
        self._kept = True
        self._lock = _Lock(draft_path(path))
        try:
            self._look_for_draft()
        except BaseException:
            self._lock.release()
            raise

    # What there is

    def state(self) -> State:
        """The present state; a file changed elsewhere is taken over where nothing is unsaved."""
        elsewhere = self._look_at_file()
        values, faults, said = self._checked()
        return State(
            file=self.path,
            hash=hash_of(self._text),
            text=self._text,
            values=values,
            faults=faults,
            notes=said,
            remarks={} if values is None else self._remarks(),
            undo=len(self._undo),
            unsaved=self.unsaved,
            kept=self._kept,
            elsewhere=elsewhere,
            offer=self._offer(),
        )

    @property
    def unsaved(self) -> bool:
        """Whether the text is another one than that of the file as it was read."""
        return self._text != self._base.text or (self._base.data is None and bool(self._text))

    @property
    def text(self) -> str:
        """The present text."""
        return self._text

    # What can be done

    def change(self, base: str, changes: Sequence[Change]) -> State:
        """Make changes to the state with the hash `base`: all of them or none.

        Raises StaleError, OfferedError, and ScenarioError where one cannot be made.
        """
        self._check(base)
        new = edited_text(self._read_text(), changes)
        self._here = new
        return self._take(new.text, {"changes": list(changes)})

    def put(self, base: str, text: str) -> State:
        """Take a whole text in place of the state with the hash `base`; see `change`."""
        self._check(base)
        document(text)
        return self._take(text.removeprefix(MARK), {"text": text.removeprefix(MARK)})

    def undo(self, base: str) -> State:
        """Take the last change back, also one that is saved already; see `change`."""
        self._check(base)
        if not self._undo:
            raise refusal("nothing to take back", "an undo after a change")
        text = self._undo.pop()
        return self._take(text, {"text": text}, undone=True)

    def save(self, base: str) -> State:
        """Write the scenario. Raises ElsewhereError where another program has changed it."""
        self._check(base)
        if self._look_at_file():
            raise ElsewhereError
        data = ((MARK if self._base.marked else "") + self._text).encode()
        if data != self._base.data:
            try:
                self._write(self.path, self._base.data, data)
            except Exception:
                if self._look_at_file():
                    raise ElsewhereError from None
                raise
        self._base = self._read()
        self._end_log()
        return self.state()

    def take_up(self) -> State:
        """Go on with the draft of an earlier start."""
        found, self._offered = self._offered, None
        if found is None:
            raise refusal("no draft", "a draft of an earlier start")
        self._undo = []
        for text in found.texts[:-1]:
            self._remember(text)
        self._text = found.texts[-1]
        if hash_of(self._base.text) != hash_of(found.base):
            # The file was changed since: keep what the draft began from, so that all three are
            # there to compare.
            self._base = _Base(found.base.encode(), found.base, self._base.marked)
        self._begin_log({"text": self._text, "hash": hash_of(self._text)})
        return self.state()

    def throw_away(self) -> State:
        """Forget the draft of an earlier start, or the changes that are not saved."""
        self._offered = None
        self._base = self._read()
        if self._text != self._base.text:
            self._undo.clear()
        self._text = self._base.text
        self._end_log()
        return self.state()

    def three_versions(self) -> list[Difference]:
        """Where file, draft and the file as it was before both differ, key by key."""
        theirs = self._read()
        return differences(self._base.text, self._text, theirs.text)

    def settle(self, base: str, mine: Sequence[str]) -> State:
        """Go on from the file as another program left it, with the changes of the keys `mine`."""
        self._check(base)
        theirs = self._read()
        text = merged(self._base.text, self._text, theirs.text, mine)
        self._remember(self._text)
        self._base, self._text = theirs, text
        if text == theirs.text:
            self._end_log()
        else:
            self._begin_log({"text": text, "hash": hash_of(text)})
        return self.state()

    def close(self) -> None:
        """Let go of the file. What is not saved stays in the draft."""
        if self._log is not None:
            self._log.close()
        self._lock.release()

    # How

    def _check(self, base: str) -> None:
        if self._offered is not None:
            raise OfferedError
        if base != hash_of(self._text):
            raise StaleError

    def _take(self, text: str, entry: Mapping[str, Any], *, undone: bool = False) -> State:
        if text != self._text:
            self._record(text, entry)
            if not undone:
                self._remember(self._text)
            self._text = text
        return self.state()

    def _remember(self, text: str) -> None:
        """Keep a text for undo, and forget the oldest where it gets too much."""
        self._undo.append(text)
        while len(self._undo) > MOST_UNDO or sum(map(len, self._undo)) > MOST_KEPT:
            del self._undo[0]

    def _record(self, text: str, entry: Mapping[str, Any]) -> None:
        """Add to the draft what leads to a text; where the disk refuses, go on and say that it is
        not kept."""
        told = hash_of(text)
        if self._log is None and self._text != self._base.text:
            self._begin_log({"text": text, "hash": told})
            return
        if self._log is None:
            self._begin_log()
        if self._log is not None:
            whole = self._log.count % WHOLE_EVERY == 0
            try:
                self._log.add({**({"text": text} if whole else entry), "hash": told})
            except OSError:  # perhaps half a line is there: the next change begins a new draft
                self._log.close()
                self._log, self._kept = None, False

    def _begin_log(self, *more: Mapping[str, Any]) -> None:
        """Begin a draft in place of the one that is there."""
        if self._log is not None:
            self._log.close()
        try:
            first = {
                "draft": VERSION,
                "file": os.path.basename(self.path),
                "hash": hash_of(self._base.text),
                "text": self._base.text,
            }
            self._log = Lines(draft_path(self.path), [first, *more])
            self._kept = True
        except OSError:
            self._log, self._kept = None, False

    def _end_log(self) -> None:
        if self._log is not None:
            self._log.close()
        self._log, self._kept = None, True
        with contextlib.suppress(OSError):
            draft_path(self.path).unlink()

    def _look_for_draft(self) -> None:
        found = _read_log(draft_path(self.path))
        if found is None:
            return
        if found.texts[-1] == self._base.text or not found.changes:
            self._end_log()  # it was saved, or nothing was changed
            return
        self._offered = found

    def _offer(self) -> Offer | None:
        found = self._offered
        if found is None:
            return None
        elsewhere = hash_of(found.base) != hash_of(self._base.text)
        return Offer(found.changes, found.at, elsewhere, found.lost)

    def _read(self) -> _Base:
        if not os.path.lexists(self.path):
            return _Base(None)
        data = read_bytes(self.path)
        text = decoded(data)
        seen = file_seen(self.path)
        return _Base(data, text.removeprefix(MARK), text.startswith(MARK), seen)

    def _look_at_file(self) -> bool:
        """Whether another program has changed the file; without changes here its text is taken."""
        if file_seen(self.path) == self._base.seen:
            return False
        try:
            now = self._read()
        except ScenarioError:
            return True
        if now.data == self._base.data:
            self._base.seen = now.seen
            return False
        if self.unsaved:
            return True
        self._undo.append(self._text)
        self._base, self._text = now, now.text
        return False

    def _read_text(self) -> Text:
        """The present text with its values and places; ScenarioError where it is no TOML."""
        if self._here is None or self._here.text != self._text:
            self._here = Text(self._text)
        return self._here

    def _remarks(self) -> dict[str, str]:
        return {dotted(path): words for path, words in self._read_text().remarks().items()}

    def _checked(self) -> tuple[dict[str, Any] | None, tuple[Fault, ...], tuple[str, ...]]:
        try:
            values = self._read_text().values
        except ScenarioError as error:
            return None, tuple(error.faults), ()
        try:
            scenario = checked(self._text, os.path.dirname(os.path.abspath(self.path)))
        except ScenarioError as error:
            units, money = (str(values.get(key, "")) for key in ("units", "currency"))
            wrong = {dotted(fault.path) for fault in error.faults}
            asked = (note for note in unlikely(values, units, money) if note.key not in wrong)
            return values, tuple(error.faults), tuple(asked)
        return values, (), tuple(notes(scenario))


def file_seen(path: str) -> tuple[int, int, int] | None:
    """What tells a file from one that was written since, without reading it."""
    try:
        found = os.stat(path)
    except OSError:
        return None
    return found.st_mtime_ns, found.st_size, found.st_ino


class Lines:
    """A file on the disk to which lines are only added, and each is there before the next is taken.

    It gets its name when its first lines are there, in place of an older draft.
    """

    def __init__(self, path: Path, first: Sequence[Mapping[str, Any]]) -> None:
        new = path.with_name(path.name + "-new")
        with contextlib.suppress(FileNotFoundError):
            new.unlink()
        flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_APPEND | getattr(os, "O_NOFOLLOW", 0)
        self._file: IO[bytes] = os.fdopen(os.open(new, flags, 0o600), "ab", buffering=0)
        self.count = 0
        try:
            for entry in first:
                self.add(entry)
            os.replace(new, path)
        except BaseException:
            self._file.close()
            raise
        _flush_folder(path.parent)

    def add(self, entry: Mapping[str, Any]) -> None:
        """Append one line and see it on the disk; OSError where there is no room."""
        line = json.dumps({**entry, "at": round(time.time(), 3)}, ensure_ascii=True)
        data = line.encode() + b"\n"
        if self._file.write(data) != len(data):
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        os.fsync(self._file.fileno())
        self.count += 1

    def close(self) -> None:
        """Let go of the file; its lines stay."""
        self._file.close()


def _flush_folder(folder: Path) -> None:
    """See to it that a new name in a folder outlives a loss of power, where the system can."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


@dataclass
class _Found:
    """A draft as it was read: the text that it began from, and the texts after each change."""

    base: str
    texts: list[str]  # of the last changes, the newest last
    changes: int
    at: float
    lost: bool = field(default=False)


def _read_log(path: Path) -> _Found | None:
    """The draft at `path`; None where there is none. A line that is cut off or does not lead to
    the text that it says ends the reading."""
    try:
        lines = path.read_bytes().splitlines(keepends=True)
    except OSError:
        return None
    entries: list[Any] = []
    for line in lines:
        try:
            entry = json.loads(line) if line.endswith(b"\n") else None
        except ValueError:
            entry = None
        if not isinstance(entry, dict):
            break
        entries.append(entry)
    try:
        if entries[0]["draft"] != VERSION:
            return None
        base = str(entries[0]["text"])
        found = _Found(base, [base], 0, float(entries[0]["at"]), len(entries) < len(lines))
    except (IndexError, KeyError, TypeError, ValueError):
        return None
    whole = max(place for place, entry in enumerate(entries) if "text" in entry)
    for place, entry in enumerate(entries[1:], start=1):
        try:
            found.at = float(entry["at"])
            if place < whole:  # what follows from it stands whole in a later line
                found.changes += 1
                continue
            text = str(entry["text"]) if place == whole else _made(found.texts[-1], entry)
            if hash_of(text) != entry["hash"]:
                raise ValueError("another text")
        except (ValueError, KeyError, TypeError):
            found.lost = True
            return found
        found.texts.append(text)
        found.changes += 1
    return found


def _made(text: str, entry: Mapping[str, Any]) -> str:
    return edited(text, entry["changes"])


class _Lock:
    """So that two desks do not work on one file: held until the process ends; it has its number."""

    def __init__(self, path: Path) -> None:
        self._path = path.with_name(path.name + "-lock")
        self._handle: int | None = None
        try:
            import fcntl
        except ImportError:  # a system without such locks
            return
        while self._handle is None:
            try:
                handle = os.open(self._path, os.O_RDWR | os.O_CREAT, 0o600)
            except OSError:
                return
            try:
                fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
            except BlockingIOError:
                number = os.read(handle, 20).decode("ascii", "replace").strip()
                os.close(handle)
                raise refusal(
                    "a file that another desk has open" + (f", process {number}" if number else ""),
                    "one desk for a file",
                    "use its window; if that is gone, end that desk with Ctrl-C where it was "
                    "started, or its process, and start again: what it has not saved is kept and "
                    "offered",
                ) from None
            except OSError:  # a disk without such locks
                os.close(handle)
                return
            with contextlib.suppress(OSError):
                if os.path.samestat(os.fstat(handle), os.stat(self._path)):
                    self._handle = handle
                    os.ftruncate(handle, 0)  # a desk that was killed left its number
                    os.write(handle, f"{os.getpid()}\n".encode())
                    return
            os.close(handle)  # whoever had it has taken its name away meanwhile

    def release(self) -> None:
        if self._handle is not None:
            with contextlib.suppress(OSError):
                self._path.unlink()
            os.close(self._handle)
            self._handle = None
