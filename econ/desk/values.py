"""Values of a scenario as TOML text that a person could have written, and as JSON for a browser.

    number             as it is: 27000, 0.25
    text               in double quotes; what cannot be seen in it is escaped
    date               2026-03-14 or 2026-03-14T06:00:00
    list               [1, 2]
    table              { low = 20, likely = 24, high = 34 }, on one line

JSON has no dates, so one is a table with the only key `date`, whose value is a text; no table of a
scenario has a text there.
"""

from __future__ import annotations

import math
import re
import unicodedata
from datetime import date, datetime, time
from typing import Any

from econ.scenario.faults import Fault, ScenarioError, shown

BARE = re.compile(r"[A-Za-z0-9_-]+")
ESCAPES = {"\\": "\\\\", '"': '\\"', "\n": "\\n", "\t": "\\t", "\r": "\\r"}
UNSEEN = {"Cc", "Cf", "Zl", "Zp", "Co", "Cn"}  # categories of characters that do not show
LARGEST_INTEGER = 2**63 - 1  # of TOML
MOMENT = "date"  # the key of a date in JSON


def key_text(name: str) -> str:
    """A key as it is written, in quotes where it must be.

    >>> key_text("rig"), key_text("two words")
    ('rig', '"two words"')
    """
    return name if BARE.fullmatch(name) else _quoted(name)


def written(value: Any) -> str:
    """TOML of a value, on one line; ScenarioError for one that TOML cannot hold.

    >>> written({"low": 20, "high": 30.5}), written("6-1/2 in \\"DC\\""), written([True, 1e-7])
    ('{ low = 20, high = 30.5 }', '"6-1/2 in \\\\"DC\\\\""', '[true, 1e-07]')
    """
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, int):
        if abs(value) > LARGEST_INTEGER:
            raise refusal(shown(value), "a whole number of up to 18 digits")
        return str(value)
    if isinstance(value, float):
        if not math.isfinite(value):
            raise refusal(str(value), "a finite number")
        return repr(value)
    if isinstance(value, str):
        return _quoted(value)
    if isinstance(value, (date, time)):
        return value.isoformat()
    if isinstance(value, list):
        return "[" + ", ".join(map(written, value)) + "]"
    if isinstance(value, dict):
        pairs = [f"{key_text(str(name))} = {written(each)}" for name, each in value.items()]
        return "{ " + ", ".join(pairs) + " }" if pairs else "{}"
    raise refusal(shown(value), "a number, a text, true or false, a date, a list or a table")


def from_json(value: Any) -> Any:
    """A value as the browser sent it, with its dates as dates; ScenarioError for a wrong date.

    >>> from_json({"date": "2026-03-14"}), from_json({"date": {"date": "2026-03-14"}})
    (datetime.date(2026, 3, 14), {'date': datetime.date(2026, 3, 14)})
    """
    if isinstance(value, list):
        return [from_json(each) for each in value]
    if not isinstance(value, dict):
        return value
    if set(value) != {MOMENT} or isinstance(value[MOMENT], dict):
        return {str(name): from_json(each) for name, each in value.items()}
    text = value[MOMENT]
    try:
        if re.fullmatch(r"\d{4}-\d{2}-\d{2}", text):
            return date.fromisoformat(text)
        if re.match(r"\d{4}-\d{2}-\d{2}[T ]\d{2}:\d{2}", text):
            return datetime.fromisoformat(text)
    except (TypeError, ValueError):
        pass
    raise refusal(shown(text), "a date such as 2026-03-14, or with a time, 2026-03-14T06:00")


def to_json(value: Any) -> Any:
    """A value of a file for the browser; see `from_json`."""
    if isinstance(value, dict):
        return {name: to_json(each) for name, each in value.items()}
    if isinstance(value, list):
        return [to_json(each) for each in value]
    if isinstance(value, (date, time)):
        return {MOMENT: value.isoformat()}
    if isinstance(value, float) and not math.isfinite(value):
        return str(value)
    return value


def refusal(given: str, allowed: str, suggestion: str = "", path: Any = ()) -> ScenarioError:
    """The error of a change that is not made, in the words of a fault."""
    return ScenarioError([Fault(given, allowed, suggestion, tuple(path))])


def _quoted(text: str) -> str:
    return '"' + "".join(map(_character, text)) + '"'


def _character(char: str) -> str:
    if char in ESCAPES:
        return ESCAPES[char]
    kind = unicodedata.category(char)
    if kind == "Cs":  # half of a pair, which no text file can hold
        raise refusal(f"the character {ascii(char)[1:-1]}", "letters that a text file can hold")
    if kind not in UNSEEN:
        return char
    number = ord(char)
    return f"\\u{number:04x}" if number <= 0xFFFF else f"\\U{number:08x}"
