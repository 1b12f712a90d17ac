"""A TOML text as blocks: where a value, a key or a row of a list is written, and how it is changed.

A header begins a block. To it belong the comments directly above it, if they stand as far to the
left, and all up to the next block: its pairs, the comments at once below them, and then blank
lines and comments that stand alone. A row of a list is all blocks under its path.
"""

from __future__ import annotations

import functools
import re
import tomllib
from collections.abc import Sequence
from typing import Any

from econ.desk.values import key_text, refusal, written
from econ.scenario.lines import Header, Pair, Walk
from econ.scenario.load import KeyPath
from econ.scenario.scenario import dotted
from econ.scenario.toml_text import document

Table = dict[str, Any]
WIDTH = 96  # columns; a table that is wider gets lines of its own
LEAST_GAP = 2  # blanks before a remark
REMARK = "# "  # what makes a line a remark
MARK = "REPLACE"  # begins the remark on a planning value that nobody has looked at


class Block:
    """A header with what stands above and below it, as offsets of the text."""

    def __init__(self, header: Header, start: int, body: int, end: int) -> None:
        self.path, self.item = header.path, header.item
        self.start = start  # of the comments directly above the header
        self.body = body  # end of its last line that is not blank and not a comment apart
        self.end = end  # where the next block starts


class Text:
    """A valid TOML text, its values and its places. Every method returns a new text."""

    def __init__(self, text: str, values: Table | None = None) -> None:
        self.text = text
        self.values = document(text) if values is None else values
        self.end_of_line = "\r\n" if 2 * text.count("\r\n") > text.count("\n") else "\n"

    @functools.cached_property
    def _walk(self) -> Walk:
        return Walk(self.text)

    @property
    def spans(self) -> dict[KeyPath, tuple[int, int]]:
        """Start and end of every value that is written in one place."""
        return self._walk.values

    @functools.cached_property
    def pairs(self) -> list[Pair]:
        """Every `key = value`, in the order of the text."""
        return sorted(self._walk.pairs, key=lambda pair: pair.start)

    @property
    def headers(self) -> list[Header]:
        """Every header, in the order of the text."""
        return self._walk.headers

    # Values

    def set_all(self, values: Sequence[tuple[KeyPath, Any]], order: Sequence[str] = ()) -> str:
        """With values at several keys, none inside another; see `set`."""
        here = [each for each in values if each[0] in self.spans and not self._mark(each[0])]
        text = self._cuts([self._exchange(*self.spans[path], written(new)) for path, new in here])
        for path, value in values:
            if (path, value) not in here:
                text = Text(text).set(path, value, order)
        return text

    def set(self, path: KeyPath, value: Any, order: Sequence[str] = ()) -> str:
        """With a value at a key. order: of the sections of the file, for a new one."""
        if path in self.spans:
            new = self._cuts([self._exchange(*self.spans[path], written(value))])
            return Text(new).unmarked(path) if self._mark(path) else new
        if not self._stands(path):
            return self._inserted(path, value, order)
        if isinstance(value, dict) and not any(isinstance(each, list) for each in value.values()):
            return self._set_each(path, value, order)
        return Text(self.unset(path)).set(path, value, order)

    def remarks(self) -> dict[KeyPath, str]:
        """What stands behind the values, by key: the remark on the line and how it goes on."""
        found = {}
        for pair in self.pairs:
            if self._outside(pair):
                lines = self.text[pair.end : self._pair_end(pair)].split("\n")
                words = " ".join(line.strip().lstrip("#").strip() for line in lines).strip()
                if words:
                    found[pair.path] = words
        return found

    def unmarked(self, path: KeyPath) -> str:
        """Without the mark of a planning value on the line of a key."""
        mark = self._mark(path)
        return self.text if mark is None else self.text[: mark[0]] + self.text[mark[1] :]

    def marked(self, path: KeyPath, words: str) -> str:
        """With the mark of a planning value on the line of a key: before the remark that is there,
        or with these words."""
        for pair in self.pairs:
            if pair.path == path[: len(pair.path)] and self._outside(pair):
                rest = self.text[pair.end : self._line_end(pair.end)]
                remark = re.match(r"[ \t]*#[ \t]*", rest)
                at = pair.end + (remark.end() if remark else 0)
                mark = f"{MARK}: " if remark else f"  # {MARK}: {words}"
                return self.text[:at] + mark + self.text[at:]
        return self.text

    def _mark(self, path: KeyPath) -> tuple[int, int] | None:
        """Start and end of the mark on the line of a key."""
        for pair in self.pairs:
            if self._outside(pair) and pair.path == path[: len(pair.path)]:
                line = self.text[pair.end : self._line_end(pair.end)]
                found = re.match(rf"[ \t]*(#[ \t]*{MARK}:?[ \t]*)(?=[^\r\n])", line)
                if found:
                    return pair.end + found.start(1) + 2, pair.end + found.end(1)
                found = re.match(rf"[ \t]*#[ \t]*{MARK}[ \t]*", line)
                if found:  # nothing else is said there
                    return pair.end, pair.end + found.end()
        return None

    def _set_each(self, path: KeyPath, value: Table, order: Sequence[str]) -> str:
        """With a table at a key that is written as a section or in dotted keys."""
        old: Any = self._value(path)
        text = self.text
        if not isinstance(old, dict) or not set(old) & set(value):
            return Text(self.unset(path)).set(path, value, order)
        for name, each in value.items():
            text = Text(text).set((*path, name), each, order)
        for name in old:
            if name not in value:
                text = Text(text).unset((*path, name))
        return text

    def _exchange(self, start: int, end: int, new: str) -> tuple[int, int, str]:
        """Start, end and what comes instead, for other characters; a remark behind them stays in
        its column where it can."""
        old = self.text[start:end]
        gap = re.compile(r" +(?=#)").match(self.text, end)
        if gap is None or "\n" in old:
            return start, end, new
        wide = len(gap.group())
        kept = max(min(wide, LEAST_GAP), wide - len(new) + len(old))
        return start, gap.end(), new + " " * kept

    def _inserted(self, path: KeyPath, value: Any, order: Sequence[str]) -> str:
        parent = path[:-1]
        while not self._stands(parent):
            parent = parent[:-1]
        rest = path[len(parent) :]
        if any(isinstance(step, int) for step in rest) or not isinstance(self._value(parent), dict):
            raise refusal(dotted(path), "a key inside a table", path=path)
        names = [str(step) for step in rest]
        for length in range(len(parent), 0, -1):
            if parent[:length] in self.spans:  # an inline table, perhaps with dotted keys in it
                names = [str(step) for step in path[length:]]
                return self._into_inline(parent[:length], names, value)
        if not parent and (len(names) > 1 or _is_section(value)):
            return self._new_section(names, value, order)
        return self._into_section(parent, names, value)

    def _into_inline(self, parent: KeyPath, names: Sequence[str], value: Any) -> str:
        start, end = self.spans[parent]
        pair = f"{_key(names)} = {written(value)}"
        inner = [each for each in self.pairs if each.table == parent and start < each.start < end]
        if inner:
            at = inner[-1].end
            return self.text[:at] + ", " + pair + self.text[at:]
        return self.text[:start] + "{ " + pair + " }" + self.text[end:]

    def _into_section(self, parent: KeyPath, names: Sequence[str], value: Any) -> str:
        """A line behind the last one of the section, or in place of a remark that has the key."""
        header = next((each for each in self.headers if each.path == parent), None)
        own = [pair for pair in self.pairs if pair.table == parent and self._outside(pair)]
        if header is None and parent:
            own = [
                pair
                for pair in self.pairs
                if pair.path[: len(parent)] == parent and self._outside(pair)
            ]
            own = [pair for pair in own if len(pair.table) < len(parent)]
            if not own:  # only its tables have headers
                first = next(
                    block for block in self.blocks() if block.path[: len(parent)] == parent
                )
                head = "[" + _key([s for s in parent if isinstance(s, str)]) + "]"
                line = f"{_key(names)} = {written(value)}"
                return self._put_lines(first.start, [head, line])
            names = [*(str(s) for s in parent[len(own[-1].table) :]), *names]
        if header is not None or not parent:
            found = self._remark(parent, header, own, names)
            if found is not None:
                start, end = found
                return self._used(start, end, value)
        sisters = [pair for pair in own if pair.path[:-1] == (*parent, *names[:-1])]
        after = (sisters or own)[-1] if own else None
        line = f"{_key(names)} = {written(value)}"
        if after is not None:
            margin = self.text[self._line_start(after.start) : after.start]
            return self._put_lines(self._pair_end(after), [margin + line])
        if header is not None:
            margin = self.text[self._line_start(header.start) : header.start]
            return self._put_lines(self._line_end(header.end), [margin + line])
        start = self.blocks()[0].start if self.headers else len(self.text)
        more = [""] if self.headers else []
        return self._put_lines(start, [line, *more])

    def _new_section(self, names: Sequence[str], value: Any, order: Sequence[str]) -> str:
        head, pairs = (names, value) if _is_section(value) else (names[:-1], {names[-1]: value})
        lines = [f"[{_key(head)}]", *(f"{key_text(n)} = {written(v)}" for n, v in pairs.items())]
        return self._new_block(self._place_of(names[0], order), lines)

    def unset(self, path: KeyPath) -> str:
        """Without a key, be it a value, a section or both."""
        if not self._stands(path):
            return self.text
        cuts: list[tuple[int, int, str]] = []
        blocks = [block for block in self.blocks() if block.path[: len(path)] == path]
        cuts += [(block.start, self._block_end(block), "") for block in blocks]
        for pair in self.pairs:
            if pair.path[: len(path)] != path or any(a <= pair.start < b for a, b, _ in cuts):
                continue
            cuts += self._cut(pair)
        return self._cuts(cuts)

    def rename(self, path: KeyPath, to: str) -> str:
        """With another name for a key, wherever it stands in a pair or a header."""
        cuts = []
        places = [(pair.start, pair.path, pair.table, "=") for pair in self.pairs]
        places += [(head.start, head.path, (), "]") for head in self.headers]
        for start, whole, table, end in places:
            if whole[: len(path)] != path or len(table) >= len(path):
                continue
            number = sum(isinstance(step, str) for step in path[len(table) :]) - 1
            at, until = self._name(start, end, number)
            cuts.append((at, until, key_text(to)))
        return self._cuts(cuts)

    def _name(self, start: int, end: str, number: int) -> tuple[int, int]:
        """Start and end of a name, counted from 0, of the dotted key at `start`."""
        at = start
        while self.text[at] in "[ \t":
            at += 1
        for count in range(number + 1):
            found = re.compile(r"\"(?:\\.|[^\"\\])*\"|'[^']*'|[A-Za-z0-9_-]+").match(self.text, at)
            assert found is not None
            if count == number:
                return found.span()
            at = found.end()
            while self.text[at] in " \t.":
                at += 1
        raise AssertionError(end)

    def _cut(self, pair: Pair) -> list[tuple[int, int, str]]:
        """Starts, ends and what comes instead, to take out a pair."""
        if not self._outside(pair):
            return self._between_commas(pair.start, pair.end)
        start, end = self._line_start(pair.start), self._line_end(pair.end)
        remark = self.text[pair.end : end].strip()
        if remark.startswith("#") and "\n" not in self.text[pair.start : pair.end]:
            wide = len(self.text[pair.end : end]) - len(self.text[pair.end : end].lstrip(" "))
            room = wide >= LEAST_GAP + len(REMARK)
            gone = len(REMARK) if room else 0
            line = self.text[pair.start : pair.end]
            return [(pair.start, pair.end + gone, REMARK + line)]
        return [(start, self._pair_end(pair), "")]

    def _between_commas(self, start: int, end: int) -> list[tuple[int, int, str]]:
        """What to take out for an item of an inline table or list: its characters and one comma;
        where it has lines of its own, these and the comments directly above them."""
        comma = re.compile(r"(?:[ \t\r\n]|#[^\n]*\n)*,").match(self.text, end)
        after = comma.end() if comma else end
        if "\n" in self.text[end:after]:  # the comma stands on a line below
            return [(start, end, ""), (after - 1, after, "")]
        first, last = self._line_start(start), self._line_end(after)
        behind = self.text[after:last].strip()
        if not self.text[first:start].strip() and (not behind or behind.startswith("#")):
            while re.match(r"[ \t]*#", self.text[self._line_start(first - 1) : first]):
                first = self._line_start(first - 1)
            return [(first, last, "")]
        if comma:
            blanks = len(self.text[after:last]) - len(self.text[after:last].lstrip(" \t"))
            return [(start, after + blanks, "")]
        before = re.compile(r",[ \t]*$").search(self.text, 0, start)
        return [(before.start() if before else start, end, "")]

    # Rows of lists of tables

    def insert_rows(
        self, path: KeyPath, at: int, rows: Sequence[Table], order: Sequence[str] = ()
    ) -> str:
        """With rows before item `at` of a list, counted from 0."""
        if not rows:
            return self.text
        if path in self.spans:
            return self._into_list(path, at, rows)
        starts = self._rows(path)
        names = [str(step) for step in path if isinstance(step, str)]
        if not starts and any(isinstance(step, int) for step in path):
            return self._inserted(path, list(rows), order)
        blocks = [lines for row in rows for lines in ([""], _row_lines(names, row))]
        lines = [line for block in blocks for line in block][1:]
        if at < len(starts):
            return self._new_block(starts[at][0].start, lines)
        if starts:
            return self._new_block(self._after(starts), lines)
        inside = [block for block in self.blocks() if block.path[: len(path) - 1] == path[:-1]]
        if len(path) > 1 and inside:
            return self._new_block(self._block_end(inside[-1]), lines)
        return self._new_block(self._place_of(names[0], order), lines)

    def delete_row(self, path: KeyPath, at: int) -> str:
        """Without item `at` of a list."""
        if path in self.spans:
            return self._cuts(self._between_commas(*self.spans[*path, at]))
        return self._cuts([(b.start, self._block_end(b), "") for b in self._rows(path)[at]])

    def move_row(self, path: KeyPath, at: int, to: int) -> str:
        """With item `at` of a list where it is then item `to`."""
        if path in self.spans:
            return self._moved_in_list(path, at, to)
        blocks = self._rows(path)[at]
        lines = "".join(self._whole(block) for block in blocks)
        left = Text(self.delete_row(path, at))
        starts = left._rows(path)
        place = starts[to][0].start if to < len(starts) else left._after(starts)
        return left._new_block(place, _lines(lines))

    def _moved_in_list(self, path: KeyPath, at: int, to: int) -> str:
        """The items of an inline list keep their places, commas and lines; their text moves."""
        count = len(self._value(path))
        order = [old for old in range(count) if old != at]
        order.insert(to, at)
        spans = [self.spans[*path, place] for place in range(count)]
        cuts = [
            (*spans[new], self.text[slice(*spans[old])])
            for new, old in enumerate(order)
            if new != old
        ]
        return self._cuts(cuts)

    def _into_list(self, path: KeyPath, at: int, rows: Sequence[Table]) -> str:
        """Rows into an inline list: each on a line of its own where the items have that."""
        start, end = self.spans[path]
        count = len(self._value(path))
        new = [written(row) for row in rows]
        if not count:
            return self.text[:start] + "[" + ", ".join(new) + "]" + self.text[end:]
        first, last = self.spans[*path, 0], self.spans[*path, count - 1]
        margin = self.text[self._line_start(first[0]) : first[0]]
        between = ", " if margin.strip() else "," + self.end_of_line + margin
        if at < count:
            place = self.spans[*path, at][0]
            return self.text[:place] + between.join([*new, ""]) + self.text[place:]
        return self.text[: last[1]] + between + between.join(new) + self.text[last[1] :]

    def row_texts(self, path: KeyPath) -> list[str]:
        """The items of a list as text, comments included."""
        if path in self.spans:
            return [
                self.text[slice(*self.spans[*path, place])]
                for place in range(len(self._value(path)))
            ]
        return ["".join(self._whole(block) for block in row) for row in self._rows(path)]

    def _rows(self, path: KeyPath) -> list[list[Block]]:
        """The blocks of every item of a list that is written with headers."""
        rows: dict[int, list[Block]] = {}
        for block in self.blocks():
            if block.path[: len(path)] == path and len(block.path) > len(path):
                place = block.path[len(path)]
                assert isinstance(place, int)
                rows.setdefault(place, []).append(block)
        return [rows[place] for place in sorted(rows)]

    def _after(self, rows: Sequence[Sequence[Block]]) -> int:
        return max(self._block_end(block) for row in rows for block in row)

    def _whole(self, block: Block) -> str:
        """Text of a block, its last line ended, with a blank line behind it where it has one."""
        text = self.text[block.start : self._block_end(block)]
        return text if text.endswith("\n") else text + self.end_of_line

    # Places

    def blocks(self) -> list[Block]:
        """The blocks in the order of the text."""
        if not self.headers:
            return []
        starts = [self._first_comment(header) for header in self.headers]
        ends = [*starts[1:], len(self.text)]
        found = []
        for header, start, end in zip(self.headers, starts, ends, strict=True):
            body = self._line_end(header.end)
            for pair in self.pairs:
                if header.end <= pair.start < end:
                    body = max(body, self._pair_end(pair))
            while body < end and self.text[body : self._line_end(body)].strip():
                body = self._line_end(body)
            found.append(Block(header, start, min(body, end), end))
        return found

    def _first_comment(self, header: Header) -> int:
        """Start of the comments directly above a header."""
        start = self._line_start(header.start)
        margin = header.start - start
        least = max(
            [0, *(self._line_end(pair.end) for pair in self.pairs if pair.end <= header.start)]
            + [self._line_end(each.end) for each in self.headers if each.end <= header.start]
        )
        while start > least:
            above = self._line_start(start - 1)
            line = self.text[above:start]
            if above < least or not re.match(rf"[ \t]{{0,{margin}}}#", line):
                break
            start = above
        return start

    def _block_end(self, block: Block) -> int:
        """End of a block with the blank lines at once behind it."""
        at = block.body
        while at < block.end and not self.text[at : self._line_end(at)].strip():
            at = self._line_end(at)
        return at

    def _place_of(self, name: str, order: Sequence[str]) -> int:
        """Where a new section comes: behind the last one that stands before it in the order."""
        before = set(order[: order.index(name)]) if name in order else set(order)
        blocks = self.blocks()
        earlier = [block for block in blocks if block.path[0] in before]
        if earlier:
            return self._block_end(earlier[-1])
        later = [block for block in blocks if block.path[0] in order]
        return later[0].start if later else len(self.text)

    def _remark(
        self, parent: KeyPath, header: Header | None, own: Sequence[Pair], names: Sequence[str]
    ) -> tuple[int, int] | None:
        """A line of the section that has the key as a remark, `# key = value`."""
        if len(names) > 1:
            return None
        start = 0 if header is None else self._line_end(header.end)
        blocks = self.blocks()
        if header is None:
            end = blocks[0].start if blocks else len(self.text)
        else:
            end = next(block.body for block in blocks if block.path == parent)
        end = max([end, *(self._pair_end(pair) for pair in own)])
        pattern = re.compile(rf"[ \t]*(# ?){re.escape(key_text(names[0]))}[ \t]*=")
        taken = [(pair.start, pair.end) for pair in self.pairs if start <= pair.start < end]
        at = start
        while at < end:
            line = self._line_end(at)
            if pattern.match(self.text, at, line) and not any(a < at < b for a, b in taken):
                return at, line
            at = line
        return None

    def _used(self, start: int, end: int, value: Any) -> str:
        """With the mark of a remark taken away, and the value in it."""
        line = self.text[start:end]
        free = re.sub(r"#[ ]?", "", line, count=1)
        name = free[: free.index("=")]
        behind = ""
        try:
            tomllib.loads(free.replace("\r\n", "\n"))
            walk = Walk(free)
            behind = free[walk.pairs[-1].end :]
        except (tomllib.TOMLDecodeError, ValueError, RecursionError):
            behind = free[len(free.rstrip("\r\n")) :]
            if "#" in free:  # a key without a value, and what is to be said of it
                behind = " " * LEAST_GAP + free[free.index("#") :]
        new = f"{name.rstrip()} = {written(value)}"
        gap = re.match(r" +(?=#)", behind)
        if gap:
            wide = len(gap.group()) + len(free) - len(behind) - len(new)
            behind = " " * max(LEAST_GAP, wide + 2) + behind[len(gap.group()) :]
        return self.text[:start] + new + behind + self.text[end:]

    def _put_lines(self, at: int, lines: Sequence[str]) -> str:
        before = self.text[:at]
        if before and not before.endswith("\n"):
            before += self.end_of_line
        new = "".join(line + self.end_of_line for line in lines)
        return before + new + self.text[at:]

    def _new_block(self, at: int, lines: Sequence[str]) -> str:
        """With lines as a block of their own, set off by blank lines."""
        before, behind = self.text[:at], self.text[at:]
        lines = list(lines)
        while lines and not lines[-1].strip():
            lines.pop()
        ends = before.replace("\r\n", "\n")
        if ends.strip() and not ends.endswith("\n\n"):
            lines.insert(0, "")
        if behind.strip() and not re.match(r"[ \t]*\r?\n", behind):
            lines.append("")
        return self._put_lines(at, lines)

    def _cuts(self, cuts: Sequence[tuple[int, int, str]]) -> str:
        """With other characters at several places that do not overlap."""
        text = self.text
        for start, end, new in sorted(cuts, reverse=True):
            text = text[:start] + new + text[end:]
        return text

    def _outside(self, pair: Pair) -> bool:
        """Whether a pair stands under a header, and not in an inline table."""
        return pair.table not in self.spans

    def _line_start(self, at: int) -> int:
        return self.text.rfind("\n", 0, at) + 1

    def _line_end(self, at: int) -> int:
        found = self.text.find("\n", at)
        return len(self.text) if found < 0 else found + 1

    def _pair_end(self, pair: Pair) -> int:
        """End of the line of a pair and of the remark that goes on below it, set in."""
        at = self._line_end(pair.end)
        while re.match(r"[ \t]+#", self.text[at : self._line_end(at)]):
            at = self._line_end(at)
        return at

    def _value(self, path: KeyPath) -> Any:
        place: Any = self.values
        for step in path:
            place = place[step]
        return place

    def _stands(self, path: KeyPath) -> bool:
        try:
            self._value(path)
        except (KeyError, IndexError, TypeError):
            return False
        return True


def _key(names: Sequence[str]) -> str:
    return ".".join(map(key_text, names))


def _is_section(value: Any) -> bool:
    return isinstance(value, dict)


def _lines(text: str) -> list[str]:
    return text.replace("\r\n", "\n").removesuffix("\n").split("\n")


def _row_lines(names: Sequence[str], row: Table) -> list[str]:
    """A row of a list of tables as lines; tables of tables get a header of their own."""
    lines, later = [f"[[{_key(names)}]]"], []
    for name, value in row.items():
        if isinstance(value, dict) and any(isinstance(each, dict) for each in value.values()):
            later += _section_lines([*names, name], value)
            continue
        line = f"{key_text(name)} = {written(value)}"
        if isinstance(value, list) and value and all(isinstance(each, dict) for each in value):
            inner = [f"    {written(each)}," for each in value]
            lines += [f"{key_text(name)} = [", *inner, "]"]
        elif isinstance(value, dict) and len(line) > WIDTH:
            later += _section_lines([*names, name], value)
        else:
            lines.append(line)
    return lines + later


def _section_lines(names: Sequence[str], table: Table) -> list[str]:
    pairs = [f"{key_text(name)} = {written(each)}" for name, each in table.items()]
    return [f"[{_key(names)}]", *pairs]
