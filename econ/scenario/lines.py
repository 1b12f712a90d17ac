"""Where each key of a TOML text stands.

`tomllib` gives values without positions. This module walks a text that `tomllib` has
already accepted and returns the line of every key and list item, so that a fault can
name its line, and the characters of every key, value and header, so that one of them can
be changed and nothing else. Because the text is known to be valid, the walk checks nothing.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass

Path = tuple[str | int, ...]
DEEPEST = 100  # names in a dotted key; the lines of all its parts grow with the square


def key_lines(text: str) -> dict[Path, int]:
    """Line number (from 1) of every key path in a valid TOML `text`.

    List items, also those of arrays of tables, are counted from 0.
    """
    return Walk(text).lines


def nearest_line(lines: dict[Path, int], path: Path) -> int | None:
    """Line of `path`, or of the nearest enclosing key that stands in the text.

    A key that was set from outside the text has line 0, which is none.
    """
    while path:
        if path in lines:
            return lines[path] or None
        path = path[:-1]
    return None


@dataclass(frozen=True)
class Header:
    """A `[table]` or `[[table]]`: its characters from `start` to before `end`, and its path."""

    start: int
    end: int
    path: Path
    item: bool  # whether it begins an item of an array of tables


@dataclass(frozen=True)
class Pair:
    """A `key = value` under a header or in an inline table, from `start` to before `end`."""

    start: int
    end: int
    path: Path
    table: Path  # of the header or inline table that it stands in


class Walk:
    """The places of a valid TOML `text`, as offsets of its characters.

    lines: line of every key path, from 1; values: start and end of every written value, items of
    inline lists among them; pairs and headers in the order of the text.
    """

    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.line = 1
        self.lines: dict[Path, int] = {}
        self.values: dict[Path, tuple[int, int]] = {}
        self.pairs: list[Pair] = []
        self.headers: list[Header] = []
        self.tables: dict[Path, int] = {}  # how many items an array of tables has so far
        self._document()

    def _document(self) -> None:
        table: Path = ()
        while self._skip(" \t\r\n"):
            if self.text.startswith("[[", self.at):
                table = self._header(2)
            elif self.text[self.at] == "[":
                table = self._header(1)
            else:
                self._pair(table)

    def _header(self, brackets: int) -> Path:
        line, start = self.line, self.at
        self._move(brackets)
        names = self._names("]")
        self._move(brackets)
        path: Path = ()
        for number, name in enumerate(names, start=1):
            path = (*path, name)
            if path in self.tables and (number < len(names) or brackets == 1):
                path = (*path, self.tables[path] - 1)
            self.lines.setdefault(path, line)
        if brackets == 2:
            self.tables[path] = self.tables.get(path, 0) + 1
            path = (*path, self.tables[path] - 1)
        self.lines[path] = line  # a table's own header, rather than one of a sub-table before it
        self.headers.append(Header(start, self.at, path, brackets == 2))
        return path

    def _pair(self, table: Path) -> None:
        line, start = self.line, self.at
        path = table
        for name in self._names("="):
            path = (*path, name)
            self.lines.setdefault(path, line)
        self._move(1)
        self._value(path)
        self.pairs.append(Pair(start, self.values[path][1], path, table))

    def _names(self, end: str) -> list[str]:
        """Dotted key up to the character `end`, which is left standing."""
        found: list[str] = []
        while True:
            self._skip(" \t")
            char = self.text[self.at]
            if char == end:
                return found
            if len(found) > DEEPEST:
                raise RecursionError("a key of too many names")
            if char == ".":
                self._move(1)
            elif char in "\"'":
                found.append(tomllib.loads("key = " + self._string())["key"])
            else:
                start = self.at
                while self.text[self.at] not in " \t." + end:
                    self.at += 1
                found.append(self.text[start : self.at])

    def _value(self, path: Path) -> None:
        self._skip(" \t")
        start = end = self.at
        char = self.text[start]
        if char in "\"'":
            self._string()
            end = self.at
        elif char == "{":
            self._items("}", path, table=True)
            end = self.at
        elif char == "[":
            self._items("]", path, table=False)
            end = self.at
        else:
            while self.at < len(self.text) and self.text[self.at] not in ",]}#\n":
                self.at += 1
            end = start + len(self.text[start : self.at].rstrip())
        self.values[path] = start, end

    def _items(self, end: str, path: Path, *, table: bool) -> None:
        self._move(1)
        count = 0
        while self._skip(" \t\r\n,"):
            if self.text[self.at] == end:
                self._move(1)
                return
            if table:
                self._pair(path)
            else:
                self.lines.setdefault((*path, count), self.line)
                self._value((*path, count))
                count += 1

    def _string(self) -> str:
        start = self.at
        quote = self.text[self.at]
        mark = quote * 3 if self.text.startswith(quote * 3, self.at) else quote
        self._move(len(mark))
        while not self.text.startswith(mark, self.at):
            self._move(2 if self.text[self.at] == "\\" and quote == '"' else 1)
        self._move(len(mark))
        while len(mark) == 3 and self.text.startswith(quote, self.at):
            self._move(1)  # up to two more quotes may belong to the string
        return self.text[start : self.at]

    def _skip(self, blank: str) -> bool:
        """Step over `blank` characters and comments; False at the end of the text."""
        while self.at < len(self.text):
            if self.text[self.at] == "#":
                end = self.text.find("\n", self.at)
                self.at = len(self.text) if end < 0 else end
            elif self.text[self.at] in blank:
                self._move(1)
            else:
                return True
        return False

    def _move(self, characters: int) -> None:
        self.line += self.text.count("\n", self.at, self.at + characters)
        self.at += characters
