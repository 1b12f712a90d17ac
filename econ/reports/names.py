"""Names of a file in words for people: letters are kept, what steers a terminal is not.

A name may hold anything. Control characters and those that turn the direction of writing change
what a reader sees of the rest of a line, so they are written as an escape such as `\\x1b`. An
escape also stands for a letter that the terminal cannot show: two names never become the same.
"""

from __future__ import annotations

import re
import unicodedata

JOINERS = "\u200c\u200d"  # invisible, and part of the spelling in Persian, in India and Sri Lanka
UNUSUAL = re.compile(r"[^ -~\n]")


def one_line(words: str) -> str:
    """A name as it may stand in a line of text.

    >>> one_line("Well 7\\n\\x1b[31m")
    'Well 7 \\\\x1b[31m'
    """
    whole = unicodedata.normalize("NFC", words)
    return "".join(" " if char.isspace() else _safe(char) for char in whole)


def shown(words: str, encoding: str | None) -> str:
    """Lines of text as a stream of this encoding can show them; None is ASCII.

    >>> shown("R\\u00f8d 7", "latin-1") == "R\\u00f8d 7", shown("R\\u00f8d 7", "ascii")
    (True, 'R\\\\xf8d 7')
    """
    if not UNUSUAL.search(words):
        return words
    safe = "".join(char if char == "\n" else _safe(char) for char in words)
    known = encoding or "ascii"
    return safe.encode(known, "backslashreplace").decode(known)


def _safe(char: str) -> str:
    """A character that moves nothing but the place behind it, or its escape."""
    if char.isprintable() or char in JOINERS or unicodedata.category(char) == "Zs":
        return char
    return char.encode("unicode_escape").decode("ascii")
