"""Where the desk may read, and what it may call a file.

A scenario on the desk may be changed from a window, so a file that it names is read only where it
lies, with all links followed, in the folder of the scenario. On the command line whoever gives the
file may name any other; here a text that came from elsewhere must not show the rest of a disk.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import re
import unicodedata
from collections.abc import Sequence
from pathlib import Path

from econ.scenario import Scenario
from econ.scenario.faults import Fault, ScenarioError, shown
from econ.scenario.load import NAMED_FILES, parse
from econ.scenario.toml_text import document

LONGEST_NAME = 80  # characters of a download, its ending included
# Names that Windows keeps for devices, whatever stands behind the first dot.
RESERVED = re.compile(
    r"(con|prn|aux|nul|com[0-9\u00b9\u00b2\u00b3]|lpt[0-9\u00b9\u00b2\u00b3])", re.I
)
NOT_IN_A_NAME = set('<>:"/\\|?*%')


def inside(path: str | os.PathLike[str], folder: str | os.PathLike[str]) -> bool:
    """Whether a path, with all links followed, lies in a folder.

    >>> inside("scenarios/../scenarios/logs", "scenarios"), inside("scenarios/../econ", "scenarios")
    (True, False)
    """
    try:
        return Path(path).resolve().is_relative_to(Path(folder).resolve())
    except (OSError, ValueError, RuntimeError):  # a loop of links, or no path at all
        return False


def checked(
    text: str,
    folder: str | os.PathLike[str],
    changes: Sequence[str] = (),
    *,
    need_odds: bool = True,
) -> Scenario:
    """The scenario in a text with "key=value" `changes`; what it names is read in `folder` alone.

    Raises ScenarioError with every fault found.
    """
    faults = []
    raw = document(text)
    for key in NAMED_FILES:
        if any(key in change.partition("=")[0] for change in changes):
            given = f"a change of {key}"
            faults.append(Fault(given, "a change of an amount", "change it in the file"))
        name = raw.get(key)
        if isinstance(name, str) and name and not inside(Path(folder) / name, folder):
            allowed = "on the desk a file in the folder of this one, or below it"
            todo = "copy it there, and name the copy"
            faults.append(Fault(shown(name), allowed, todo, (key,)))
    if faults:
        raise ScenarioError(faults)
    return parse(text, changes, folder=folder, need_odds=need_odds)


def named_bytes(text: str, folder: str | os.PathLike[str]) -> bytes:
    """What the files that a scenario names hold now, one after the other; empty where it names
    none that may be read."""
    try:
        raw = document(text)
    except ScenarioError:
        return b""
    found = []
    for key in NAMED_FILES:
        name = raw.get(key)
        if isinstance(name, str) and inside(Path(folder) / name, folder):
            with contextlib.suppress(OSError):
                found.append((Path(folder) / name).read_bytes())
    return b"\0".join(found)


def digest(*parts: str | bytes) -> str:
    """One name for these texts together; no other texts have it.

    >>> digest("a", "b") == digest(b"a", "b"), digest("a", "b") == digest("ab")
    (True, False)
    """
    whole = hashlib.sha256()
    for part in parts:
        data = part.encode("utf-8", "surrogatepass") if isinstance(part, str) else part
        whole.update(len(data).to_bytes(8, "big") + data)
    return whole.hexdigest()


def safe_name(name: str, *, otherwise: str = "file") -> str:
    """A name that every system takes for a file and shows as it is.

    No control, bidirectional or invisible characters, none of a path, no name of a device, no dot
    or space at either end.

    >>> safe_name("job\\u202etxt.exe"), safe_name("../a/b.toml"), safe_name("con.toml")
    ('jobtxt.exe', '_a_b.toml', '_con.toml')
    """
    kept = "".join(
        "_" if char in NOT_IN_A_NAME else char
        for char in unicodedata.normalize("NFC", name)
        if char == " " or unicodedata.category(char)[0] not in "CZ"
    )
    stem, dot, ending = kept.strip(". ").rpartition(".")
    if not dot:
        stem, ending = ending, ""
    stem = stem[: max(1, LONGEST_NAME - len(dot + ending[:20]))]
    whole = (stem + dot + ending[:20]).strip(". ")
    if not whole:
        return otherwise
    return f"_{whole}" if RESERVED.fullmatch(whole.split(".")[0].strip()) else whole
