"""A TOML file as text and as a raw document, with the reason in words where it is neither."""

from __future__ import annotations

import os
import re
import tomllib
from pathlib import Path
from typing import Any

from econ.scenario.faults import Fault, ScenarioError, shown

LARGEST_FILE = 2_000_000  # bytes; a scenario is a few thousand
TOO_DEEP = Fault("tables or lists nested too deep", "TOML of a scenario")


def read_text(path: str | os.PathLike[str], *, largest: int = LARGEST_FILE) -> str:
    """Text of a UTF-8 file of up to `largest` [bytes], with the reason in words where it
    cannot be had."""
    return decoded(read_bytes(path, largest=largest)).removeprefix("\ufeff")


def read_bytes(path: str | os.PathLike[str], *, largest: int = LARGEST_FILE) -> bytes:
    """What a file of up to `largest` [bytes] holds; see `read_text`."""
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
    return data


def decoded(data: bytes) -> str:
    """The text of UTF-8 bytes, a byte order mark included; see `read_text`."""
    try:
        return data.decode()
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


def document(text: str) -> dict[str, Any]:
    """The values in a TOML `text`; ScenarioError with the line where it is none."""
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
