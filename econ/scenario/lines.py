"""Where each key of a TOML text stands.

`tomllib` gives values without positions. This module walks a text that `tomllib` has
already accepted and returns the line of every key and list item, so that a fault can
name its line. Because the text is known to be valid, the walk checks nothing.
"""

from __future__ import annotations

import tomllib

Path = tuple[str | int, ...]
DEEPEST = 100  # names in a dotted key; the lines of all its parts grow with the square


def key_lines(text: str) -> dict[Path, int]:
    """Line number (from 1) of every key path in a valid TOML `text`.

    List items, also those of arrays of tables, are counted from 0.
    """
    walk = _Walk(text)
    walk.document()
    return walk.lines


def nearest_line(lines: dict[Path, int], path: Path) -> int | None:
    """Line of `path`, or of the nearest enclosing key that stands in the text.

    A key that was set from outside the text has line 0, which is none.
    """
    while path:
        if path in lines:
            return lines[path] or None
        path = path[:-1]
    return None


class _Walk:
    def __init__(self, text: str) -> None:
        # tomllib reads CRLF as LF; doing the same keeps the two in step.
        self.text = text.replace("\r\n", "\n")
        self.at = 0
        self.line = 1
        self.lines: dict[Path, int] = {}
        self.tables: dict[Path, int] = {}  # how many items an array of tables has so far

    def document(self) -> None:
        table: Path = ()
        while self.skip(" \t\n"):
            if self.text.startswith("[[", self.at):
                table = self.header(2)
            elif self.text[self.at] == "[":
                table = self.header(1)
            else:
                self.pair(table)

    def header(self, brackets: int) -> Path:
        line = self.line
        self.move(brackets)
        names = self.names("]")
        self.move(brackets)
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
        return path

    def pair(self, table: Path) -> None:
        line = self.line
        path = table
        for name in self.names("="):
            path = (*path, name)
            self.lines.setdefault(path, line)
        self.move(1)
        self.value(path)

    def names(self, end: str) -> list[str]:
        """Dotted key up to the character `end`, which is left standing."""
        found: list[str] = []
        while True:
            self.skip(" \t")
            char = self.text[self.at]
            if char == end:
                return found
            if len(found) > DEEPEST:
                raise RecursionError("a key of too many names")
            if char == ".":
                self.move(1)
            elif char in "\"'":
                found.append(tomllib.loads("key = " + self.string())["key"])
            else:
                start = self.at
                while self.text[self.at] not in " \t." + end:
                    self.move(1)
                found.append(self.text[start : self.at])

    def value(self, path: Path) -> None:
        self.skip(" \t")
        char = self.text[self.at]
        if char in "\"'":
            self.string()
        elif char == "{":
            self.items("}", path, table=True)
        elif char == "[":
            self.items("]", path, table=False)
        else:
            while self.at < len(self.text) and self.text[self.at] not in ",]}#\n":
                self.move(1)

    def items(self, end: str, path: Path, *, table: bool) -> None:
        self.move(1)
        count = 0
        while self.skip(" \t\n,"):
            if self.text[self.at] == end:
                self.move(1)
                return
            if table:
                self.pair(path)
            else:
                self.lines.setdefault((*path, count), self.line)
                self.value((*path, count))
                count += 1

    def string(self) -> str:
        start = self.at
        quote = self.text[self.at]
        mark = quote * 3 if self.text.startswith(quote * 3, self.at) else quote
        self.move(len(mark))
        while not self.text.startswith(mark, self.at):
            self.move(2 if self.text[self.at] == "\\" and quote == '"' else 1)
        self.move(len(mark))
        while len(mark) == 3 and self.text.startswith(quote, self.at):
            self.move(1)  # up to two more quotes may belong to the string
        return self.text[start : self.at]

    def skip(self, blank: str) -> bool:
        """Step over `blank` characters and comments; False at the end of the text."""
        while self.at < len(self.text):
            if self.text[self.at] == "#":
                while self.at < len(self.text) and self.text[self.at] != "\n":
                    self.move(1)
            elif self.text[self.at] in blank:
                self.move(1)
            else:
                return True
        return False

    def move(self, characters: int) -> None:
        self.line += self.text.count("\n", self.at, self.at + characters)
        self.at += characters
