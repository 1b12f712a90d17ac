"""Changes to the text of a scenario that leave every other line as it is.

A change is a table, as the browser sends it. Items of a list count from 1, as in `--set`.

    {op: "set", key, value}            a value, in place of the old one or after its sisters
    {op: "keep", key}                  a planning value kept: its mark REPLACE is taken away
    {op: "unset", key}                 a value or a table taken out
    {op: "rename", key, to}            a name of one's own, such as of a day rate
    {op: "add", list, at, values}      a row of a list of tables, `at` its end if left out; with
                                       planned: true each of its values bears the mark
    {op: "delete", list, at}           a row taken out
    {op: "move", list, at, to}         a row put where it is then number `to`
    {op: "paste", list, at, rows}      rows laid over those from `at` on, and added behind the last;
                                       planned: what an added row has besides, with the mark

Nothing is written anew but the characters of the value. A key that stands in the file as a remark
(`# key = value`) is used by taking its mark away, and a value with a remark of its own on its line
is taken out by making it one. Where a value is set, the mark of a planning value goes. A row of a
list is moved as text, with all its tables and with the comments directly above it; a comment with
a blank line under it stays where it is. What refers to a run by its number follows the run.

A text is held against what was meant: `tomllib` must read from the new text exactly the old values
with the change made on them, else the change is refused.
"""

from __future__ import annotations

import copy
import re
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from datetime import date, time
from typing import Any

from econ.desk.run_numbers import followed
from econ.desk.text_blocks import Text
from econ.desk.values import from_json, refusal
from econ.scenario.faults import shown
from econ.scenario.load import KeyPath
from econ.scenario.scenario import Scenario, dotted
from econ.scenario.toml_text import LARGEST_FILE

Change = Mapping[str, Any]
Table = dict[str, Any]
MOST_ROWS = 1000  # of a paste
ORDER = tuple(info.alias or name for name, info in Scenario.model_fields.items())  # of sections


def edited(text: str, changes: Sequence[Change]) -> str:
    """The text of a scenario with all changes made, in their order.

    Raises `ScenarioError` in words, and changes nothing, where one cannot be made.

    >>> print(edited("[rates]\\nrig = 27000  # invented\\n",
    ...              [{"op": "set", "key": "rates.rig", "value": 30000}]), end="")
    [rates]
    rig = 30000  # invented
    """
    return edited_text(Text(text), changes).text


def edited_text(here: Text, changes: Sequence[Change]) -> Text:
    """The same, from a text whose values and places are known."""
    for change in changes:
        here = _changed(here, change)
    if len(here.text.encode()) > LARGEST_FILE:
        raise refusal("a text that has grown too large", f"up to {LARGEST_FILE} bytes")
    return here


def path_of(key: Any, values: Any) -> KeyPath:
    """The path of a key: dotted words, or a list of them for names that hold a dot.

    >>> path_of("run.2.charge", {"run": [{}, {"charge": 5}]})
    ('run', 1, 'charge')
    """
    steps = key.split(".") if isinstance(key, str) else key
    if not isinstance(steps, list) or not steps or not _are_steps(steps):
        raise refusal(shown(key), "a key such as rates.rig or run.2.charge")
    path: KeyPath = ()
    place = values
    for step in steps:
        if isinstance(place, list):
            item = _item(step, len(place), (*path, str(step)))
            path = (*path, item)
            place = place[item]
        else:
            if step == "":
                raise refusal(shown(key), "a key such as rates.rig, or a name that is not empty")
            if place is None and str(step).isdecimal():
                raise refusal(shown(key), "an item of a list that is there", "add it first")
            path = (*path, str(step))
            place = place.get(path[-1]) if isinstance(place, dict) else None
    return path


def _are_steps(steps: Sequence[Any]) -> bool:
    return all(isinstance(step, (str, int)) for step in steps)


def _changed(here: Text, change: Change) -> Text:
    """The text with one change made."""
    values = here.values
    op = change.get("op") if isinstance(change, Mapping) else None
    if op not in _OPS:
        raise refusal(shown(op), f"one of: {', '.join(_OPS)}")
    try:
        make = _OPS[op](values, change)
    except KeyError as error:
        raise refusal(f"{op} without {error.args[0]}", "a change with all its parts") from None
    meant = copy.deepcopy(values)
    for edit in make:
        edit.mean(meant)
    place, found = here, here.text
    for edit in make:
        found = edit.write(place)
        place = Text(found) if edit is not make[-1] else place
    try:
        read = tomllib.loads(found.replace("\r\n", "\n"))
    except (tomllib.TOMLDecodeError, RecursionError, ValueError):
        read = None
    if read is None or not same(_pruned(read), _pruned(meant)):
        raise refusal(
            f"{op} in {shown(change.get('key') or change.get('list'))}",
            "a change after which the file reads as meant",
            "this one cannot be made without touching other lines; change it in a text editor",
        )
    return Text(found, read)


def same(one: Any, other: Any) -> bool:
    """Whether two values of TOML are alike, in type as well."""
    if type(one) is not type(other):
        return False
    if isinstance(one, dict):
        return one.keys() == other.keys() and all(same(one[name], other[name]) for name in one)
    if isinstance(one, list):
        return len(one) == len(other) and all(map(same, one, other))
    if isinstance(one, (date, time)):
        return bool(one.isoformat() == other.isoformat())
    return bool(one == other) or (one != one and other != other)


def _pruned(values: Any) -> Any:
    """Values without tables and lists that hold nothing: a text may leave those out."""
    if isinstance(values, dict):
        inner = {name: _pruned(each) for name, each in values.items()}
        return {name: each for name, each in inner.items() if each not in ({}, [])}
    return [_pruned(each) for each in values] if isinstance(values, list) else values


def _item(step: Any, count: int, path: Sequence[str | int]) -> int:
    """A place in a list, from 0, of a number from 1."""
    number = int(step) if re.fullmatch(r"[0-9]{1,6}", str(step)) else 0
    if not 1 <= number <= count:
        allowed = f"an item from 1 to {count}" if count else "an item; the list is empty"
        raise refusal(shown(step), allowed, path=path)
    return number - 1


# Edits: each knows what it means for the values and how it is written.


class _Set:
    def __init__(self, path: KeyPath, value: Any) -> None:
        self.path, self.value = path, value

    def mean(self, values: Any) -> None:
        place = values
        for step in self.path[:-1]:
            if isinstance(place, dict):
                place = place.setdefault(str(step), {})
            elif isinstance(place, list) and isinstance(step, int) and step < len(place):
                place = place[step]
            else:
                raise refusal(dotted(self.path), "a key inside a table", path=self.path)
        if not isinstance(place, dict):
            raise refusal(dotted(self.path), "a key inside a table", path=self.path)
        place[str(self.path[-1])] = self.value

    def write(self, text: Text) -> str:
        return text.set(self.path, self.value, ORDER)


class _SetAll:
    """Values at several keys, none inside another."""

    def __init__(self, values: Sequence[tuple[KeyPath, Any]]) -> None:
        self.values = values

    def mean(self, values: Any) -> None:
        for path, value in self.values:
            _Set(path, value).mean(values)

    def write(self, text: Text) -> str:
        return text.set_all(self.values, ORDER)


class _Keep:
    def __init__(self, path: KeyPath) -> None:
        self.path = path

    def mean(self, values: Any) -> None:
        """Nothing: a mark is a remark."""

    def write(self, text: Text) -> str:
        return text.unmarked(self.path)


class _Planned:
    def __init__(self, path: KeyPath) -> None:
        self.path = path

    def mean(self, values: Any) -> None:
        """Nothing: a mark is a remark."""

    def write(self, text: Text) -> str:
        return text.marked(self.path, "planning value, judgement, no source")


class _Unset:
    def __init__(self, path: KeyPath) -> None:
        self.path = path

    def mean(self, values: Any) -> None:
        place = values
        for step in self.path[:-1]:
            place = place.get(step) if isinstance(place, dict) else place[step]
            if place is None:
                return
        if isinstance(place, dict):
            place.pop(self.path[-1], None)

    def write(self, text: Text) -> str:
        return text.unset(self.path)


class _Rename:
    def __init__(self, path: KeyPath, to: str) -> None:
        self.path, self.to = path, to

    def mean(self, values: Any) -> None:
        place = values
        for step in self.path[:-1]:
            place = place[step]
        if self.to in place:
            raise refusal(shown(self.to), "a name that is not taken", path=self.path)
        place[self.to] = place.pop(self.path[-1])

    def write(self, text: Text) -> str:
        return text.rename(self.path, self.to)


class _Rows:
    """Rows put into a list of tables before item `at`."""

    def __init__(self, path: KeyPath, at: int, rows: Sequence[Table]) -> None:
        self.path, self.at, self.rows = path, at, rows

    def mean(self, values: Any) -> None:
        rows = _list_of(values, self.path, make=True)
        rows[self.at : self.at] = copy.deepcopy(list(self.rows))

    def write(self, text: Text) -> str:
        return text.insert_rows(self.path, self.at, self.rows, ORDER)


class _Delete:
    def __init__(self, path: KeyPath, at: int) -> None:
        self.path, self.at = path, at

    def mean(self, values: Any) -> None:
        del _list_of(values, self.path)[self.at]

    def write(self, text: Text) -> str:
        return text.delete_row(self.path, self.at)


class _Move:
    def __init__(self, path: KeyPath, at: int, to: int) -> None:
        self.path, self.at, self.to = path, at, to

    def mean(self, values: Any) -> None:
        rows = _list_of(values, self.path)
        rows.insert(self.to, rows.pop(self.at))

    def write(self, text: Text) -> str:
        return text.move_row(self.path, self.at, self.to)


_Edit = _Set | _SetAll | _Keep | _Planned | _Unset | _Rename | _Rows | _Delete | _Move


def _list_of(values: Any, path: KeyPath, *, make: bool = False) -> list[Any]:
    place = values
    for step in path:
        if isinstance(place, dict) and step not in place and make:
            place[step] = [] if step == path[-1] else {}
        try:
            place = place[step]
        except (KeyError, IndexError, TypeError):
            place = None
            break
    if place is None and not make:
        place = []
    if not isinstance(place, list) or not all(isinstance(row, dict) for row in place):
        raise refusal(dotted(path), "a list of tables", path=path)
    return place


def _set(values: Table, change: Change) -> list[_Edit]:
    path = path_of(change["key"], values)
    return [_Set(path, from_json(change["value"]))]


def _keep(values: Table, change: Change) -> list[_Edit]:
    return [_Keep(path_of(change["key"], values))]


def _unset(values: Table, change: Change) -> list[_Edit]:
    path = path_of(change["key"], values)
    if isinstance(path[-1], int):
        raise refusal(dotted(path), "a key; a row of a list is deleted", path=path)
    return [_Unset(path)]


def _rename(values: Table, change: Change) -> list[_Edit]:
    path, to = path_of(change["key"], values), change["to"]
    if not isinstance(to, str) or not to:
        raise refusal(shown(to), "a name", path=path)
    if isinstance(path[-1], int) or not _stands(values, path):
        raise refusal(dotted(path), "a key of the file", path=path)
    if to == path[-1]:
        return []
    old, new = dotted(path), dotted((*path[:-1], to))
    return [_Rename(path, to), *(_Set(*each) for each in _renamed(values, old, new))]


def _renamed(values: Table, old: str, new: str) -> Iterator[tuple[KeyPath, Any]]:
    """Correlations that name an amount by its key path name it by the new one."""
    rows = values.get("correlation")
    for place, row in enumerate(rows if isinstance(rows, list) else []):
        of = row.get("of") if isinstance(row, dict) else None
        if isinstance(of, list) and old in of:
            yield ("correlation", place, "of"), [new if name == old else name for name in of]


def _add(values: Table, change: Change) -> list[_Edit]:
    path, rows = _rows(values, change)
    at = len(rows) if change.get("at") is None else _item(change["at"], len(rows) + 1, path)
    row = from_json(change["values"])
    if not isinstance(row, dict):
        raise refusal(shown(row), "a table", path=path)
    where = [*range(at), *range(at + 1, len(rows) + 1)]
    new: list[_Edit] = [_Rows(path, at, [row]), *_follow(values, path, dict(enumerate(where)))]
    if change.get("planned"):
        new += [_Planned((*path, at, *inner)) for inner in _leaves(row)]
    return new


def _leaves(row: Table) -> Iterator[tuple[str, ...]]:
    """Paths of a row that a mark may stand at: its keys, and those of its tables."""
    for name, value in row.items():
        yield (name,)
        if isinstance(value, dict):
            yield from ((name, *inner) for inner in _leaves(value))


def _delete(values: Table, change: Change) -> list[_Edit]:
    path, rows = _rows(values, change)
    at = _item(change["at"], len(rows), path)
    where = {old: old - (old > at) for old in range(len(rows)) if old != at}
    return [_Delete(path, at), *_follow(values, path, where)]


def _move(values: Table, change: Change) -> list[_Edit]:
    path, rows = _rows(values, change)
    at, to = _item(change["at"], len(rows), path), _item(change["to"], len(rows), path)
    if at == to:
        return []
    order = [old for old in range(len(rows)) if old != at]
    order.insert(to, at)
    where = {old: new for new, old in enumerate(order)}
    return [_Move(path, at, to), *_follow(values, path, where)]


def _paste(values: Table, change: Change) -> list[_Edit]:
    path, rows = _rows(values, change)
    at = len(rows) if change.get("at") is None else _item(change["at"], len(rows) + 1, path)
    new = from_json(change["rows"])
    if not isinstance(new, list) or not all(isinstance(row, dict) for row in new):
        raise refusal(shown(new), "a list of rows, each a table", path=path)
    if len(new) > MOST_ROWS:
        raise refusal(f"{len(new)} rows", f"at most {MOST_ROWS} rows", path=path)
    over, given = new[: len(rows) - at], new[len(rows) - at :]
    rest = from_json(change.get("planned") or {})
    if not isinstance(rest, dict):
        raise refusal(shown(rest), "a table", path=path)
    behind = [{**rest, **row} for row in given]
    fresh = [
        ((*path, at + place, name), value)
        for place, row in enumerate(over)
        for name, value in row.items()
        if not same(rows[at + place].get(name), value)
    ]
    edits: list[_Edit] = [_SetAll(fresh)] if fresh else []
    if not behind:
        return edits
    marks = [
        _Planned((*path, place, *inner))
        for place, row in enumerate(given, start=len(rows))
        for inner in _leaves({name: each for name, each in rest.items() if name not in row})
    ]
    return [*edits, _Rows(path, len(rows), behind), *marks]


def _rows(values: Table, change: Change) -> tuple[KeyPath, list[Any]]:
    path = path_of(change["list"], values)
    rows = _list_of(values, path) if _stands(values, path) else []
    return path, rows


def _stands(values: Any, path: KeyPath) -> bool:
    try:
        for step in path:
            values = values[step]
    except (KeyError, IndexError, TypeError):
        return False
    return True


def _follow(values: Table, path: KeyPath, where: dict[int, int]) -> list[_Edit]:
    """What refers to items of a list by number, for their new numbers; `where` from 0."""
    edits: list[_Edit] = []
    for place, value in followed(values, path, where):
        if isinstance(place[-1], int):
            edits.append(_Delete(place[:-1], place[-1]))
            continue
        edits.append(_Unset(place) if value is None else _Set(place, value))
    return edits


_OPS = {
    "set": _set,
    "keep": _keep,
    "unset": _unset,
    "rename": _rename,
    "add": _add,
    "delete": _delete,
    "move": _move,
    "paste": _paste,
}
