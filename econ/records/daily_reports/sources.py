"""Report files found in what a person names: a file, a folder, or a zip of XML files.

Nothing is unpacked to disk and nothing is fetched. Every file is read in pieces, up to a size
that no report has; a zip is refused where what is in it is larger than it says, or too much.
Links inside a folder are not followed.
"""

from __future__ import annotations

import os
import stat
import zipfile
import zlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import IO

from econ.records.daily_reports.activity import Notebook, Report, Told
from econ.records.daily_reports.drill_report import BrokenXMLError, read_drill_reports
from econ.scenario.faults import Fault, ScenarioError

LARGEST_XML = 100_000_000  # bytes of a file, or of a file in a zip once it is out of it
LARGEST_TOGETHER = 2_000_000_000  # bytes of all files
MOST_FILES = 100_000
PIECE = 1 << 18  # bytes that are read at a time
XML, ZIP = ".xml", ".zip"
LEFT = "left out"
UNREADABLE = (OSError, zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError)


@dataclass(frozen=True)
class Reading:
    """All reports of some files, and what was told of the files."""

    files: int  # XML files that were read
    reports: tuple[Report, ...]
    told: tuple[Told, ...]


def read_reports(paths: Sequence[str | os.PathLike[str]]) -> Reading:
    """The daily reports in files, folders and zips.

    A file that cannot be read is told in the result and the others are taken. Raises
    ScenarioError where a path does not exist, or where no report is found in any of them.
    """
    places = [Path(path) for path in paths]
    faults = [
        Fault(f"no file or folder {str(place)!a}", "reports that exist", "check the name")
        for place in places
        if not _there(place)
    ]
    if faults:
        raise ScenarioError(faults)
    reader = _Reader()
    for place in places:
        reader.place(place)
    reading = Reading(reader.files, tuple(reader.reports), reader.notebook.all())
    if not reading.reports:
        allowed = "XML with a drillReport (1.4) or a DrillReport (2.x) of WITSML"
        faults = [Fault(str(told), allowed) for told in reading.told[:20]]
        given = "no daily report in what was named"
        raise ScenarioError(faults or [Fault(given, allowed, "name other files or folders")])
    return reading


def _there(place: Path) -> bool:
    try:
        return place.exists()
    except (OSError, ValueError):
        return False


class _TooLargeError(ValueError):
    """More bytes than any report has."""


class _Reader:
    """Goes through places and collects reports."""

    def __init__(self) -> None:
        self.files = 0
        self.left = LARGEST_TOGETHER
        self.reports: list[Report] = []
        self.notebook = Notebook()

    def place(self, place: Path) -> None:
        """A file, a folder or a zip."""
        if place.is_dir():
            self._folder(place)
        elif not stat.S_ISREG(place.stat().st_mode):
            self.notebook.tell("no plain file", LEFT, _shown(place.name))
        elif zipfile.is_zipfile(place):
            self._zip(place)
        else:
            self._file(place)

    def _folder(self, folder: Path) -> None:
        count = 0
        for here, folders, names in os.walk(folder):
            folders.sort()
            for name in sorted(names):
                if not name.lower().endswith((XML, ZIP)):
                    continue
                place = Path(here, name)
                count += 1
                if count > MOST_FILES:
                    self.notebook.tell(
                        f"more than {MOST_FILES} files", "the rest left out", _shown(folder.name)
                    )
                    return
                try:
                    mode = place.lstat().st_mode
                except OSError:
                    mode = 0
                if not stat.S_ISREG(mode):
                    self.notebook.tell("a link or no plain file in a folder", LEFT, _shown(name))
                elif name.lower().endswith(ZIP) and zipfile.is_zipfile(place):
                    self._zip(place)
                else:
                    self._file(place)

    def _file(self, place: Path) -> None:
        name = _shown(place.name)
        try:
            with place.open("rb") as file:
                self._read(file, name)
        except OSError as error:
            self.notebook.tell(f"a file that cannot be read ({error.strerror})", LEFT, name)

    def _zip(self, place: Path) -> None:
        name = _shown(place.name)
        try:
            with zipfile.ZipFile(place) as archive:
                inside = archive.infolist()
                if len(inside) > MOST_FILES:
                    self.notebook.tell(f"a zip of more than {MOST_FILES} files", LEFT, name)
                    return
                for info in sorted(inside, key=lambda each: each.filename):
                    self._inside(archive, info, name)
        except (OSError, zipfile.BadZipFile, NotImplementedError, ValueError) as error:
            self.notebook.tell(f"a zip that cannot be read ({type(error).__name__})", LEFT, name)

    def _inside(self, archive: zipfile.ZipFile, info: zipfile.ZipInfo, name: str) -> None:
        inner = f"{name}/{_shown(info.filename)}"
        if info.is_dir() or not info.filename.lower().endswith((XML, ZIP)):
            return
        if info.filename.lower().endswith(ZIP):
            self.notebook.tell("a zip inside a zip", "left out; unpack it first", inner)
        elif info.flag_bits & 1:
            self.notebook.tell("a file in a zip that needs a password", LEFT, inner)
        elif info.file_size > LARGEST_XML:
            self._too_large(inner)
        else:
            try:
                with archive.open(info) as file:
                    self._read(file, inner)
            except UNREADABLE as error:
                words = f"a file in a zip that cannot be read ({type(error).__name__})"
                self.notebook.tell(words, LEFT, inner)

    def _too_large(self, name: str) -> None:
        words = f"more than {LARGEST_XML // 1_000_000} MB in a file"
        if self.left < 0:
            words = f"more than {LARGEST_TOGETHER // 1_000_000} MB in all files together"
        self.notebook.tell(words, LEFT, name)

    def _read(self, file: IO[bytes], name: str) -> None:
        self.files += 1
        before = len(self.reports)
        try:
            count = read_drill_reports(self._pieces(file), name, self.notebook, self.reports.append)
        except _TooLargeError:
            del self.reports[before:]
            self._too_large(name)
            return
        except BrokenXMLError as error:
            whole = len(self.reports) - before
            done = "the whole reports before it are taken" if whole else LEFT
            self.notebook.tell(str(error), done, name)
            return
        if count == 0:
            self.notebook.tell("XML without a daily drilling report", LEFT, name)

    def _pieces(self, file: IO[bytes]) -> Iterator[bytes]:
        read = 0
        while piece := file.read(PIECE):
            read += len(piece)
            self.left -= len(piece)
            if read > LARGEST_XML or self.left < 0:
                raise _TooLargeError
            yield piece


def _shown(name: str) -> str:
    """A name of a file as it may stand in a line."""
    return ascii(name)[1:-1][-80:]
