"""Three versions of a scenario, key by key: before, here and in the file, and one text of them.

A list of tables whose number of rows is the same in all three is compared row by row; else it is
one key, and its rows are taken as a whole, as text with their comments.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from econ.desk.editing import ORDER, edited, same
from econ.desk.text_blocks import Text
from econ.desk.values import refusal, to_json
from econ.scenario.load import KeyPath
from econ.scenario.scenario import dotted
from econ.scenario.toml_text import document

NONE = object()  # no value at a key


@dataclass(frozen=True)
class Difference:
    """A key that was changed here, elsewhere, or in both places; None where it does not stand."""

    key: str
    steps: KeyPath
    before: Any
    mine: Any
    theirs: Any
    changed: str  # here, elsewhere, both, or alike where both made it the same

    def document(self) -> dict[str, Any]:
        """The same for JSON."""
        values = {name: to_json(getattr(self, name)) for name in ("before", "mine", "theirs")}
        return {"key": self.key, **values, "changed": self.changed}


def differences(before: str, mine: str, theirs: str) -> list[Difference]:
    """Keys in which three texts differ, in the order of the file.

    >>> [(each.key, each.changed) for each in differences("a = 1\\nb = 1", "a = 2\\nb = 1",
    ...                                                   "a = 1\\nb = 3")]
    [('a', 'here'), ('b', 'elsewhere')]
    """
    found: list[Difference] = []
    _compare((), [document(text) for text in (before, mine, theirs)], found)
    return found


def _compare(path: KeyPath, versions: Sequence[Any], found: list[Difference]) -> None:
    """versions: the values at the key before, here and in the file."""
    if all(isinstance(each, dict) or each is NONE for each in versions) and not (
        path and _is_amount(versions)
    ):
        names = dict.fromkeys(name for each in versions if each is not NONE for name in each)
        for name in names:
            parts = [NONE if each is NONE else each.get(name, NONE) for each in versions]
            _compare((*path, name), parts, found)
        return
    lists = [each for each in versions if isinstance(each, list)]
    if (
        len(lists) == len(versions)
        and len({len(each) for each in lists}) == 1
        and all(isinstance(row, dict) for each in lists for row in each)
    ):
        for place, rows in enumerate(zip(*lists, strict=True)):
            _compare((*path, place), rows, found)
        return
    before, mine, theirs = versions
    here, there = not same(before, mine), not same(before, theirs)
    if not here and not there:
        return
    changed = "here" if not there else "elsewhere" if not here else "both"
    if here and there and same(mine, theirs):
        changed = "alike"
    old, own, other = (None if each is NONE else each for each in versions)
    found.append(Difference(dotted(path), path, old, own, other, changed))


def _is_amount(versions: Sequence[Any]) -> bool:
    """Whether a table is a range, whose numbers are one value."""
    tables = [each for each in versions if isinstance(each, dict)]
    words = {"low", "high", "likely", "mean", "sd", "median", "factor", "values", "p10", "weight"}
    return any(set(each) & words and "recovered" not in each for each in tables)


def merged(before: str, mine: str, theirs: str, keys: Sequence[str]) -> str:
    """The text of the file with the values of `keys` as they are here.

    Raises ScenarioError for a key that is not among the differences.
    """
    known = {each.key: each for each in differences(before, mine, theirs)}
    text = theirs
    values = document(mine)
    for key in keys:
        if key not in known:
            raise refusal(key, "a key in which the versions differ")
        path = known[key].steps
        value = _value(values, path)
        if value is NONE:
            text = edited(text, [{"op": "unset", "key": list(_steps(path))}])
        elif isinstance(value, list) and value and all(isinstance(row, dict) for row in value):
            text = _with_rows(text, mine, path, value)
        else:
            text = edited(text, [{"op": "set", "key": list(_steps(path)), "value": value}])
    return text


def _steps(path: KeyPath) -> list[str]:
    return [str(step + 1) if isinstance(step, int) else step for step in path]


def _with_rows(text: str, mine: str, path: KeyPath, rows: list[Any]) -> str:
    """With all rows of a list, and their comments, as in another text."""
    there, here = Text(text), Text(mine)
    if path in here.spans or path in there.spans:
        return there.set(path, rows, ORDER)
    left = Text(there.unset(path))
    new = left.insert_rows(path, 0, [{}], ORDER)
    at = Text(new)
    (block,) = at.row_texts(path)
    start = new.index(block)
    blocks = here.row_texts(path)
    joined = "".join(blocks).replace("\r\n", "\n").rstrip("\n") + "\n\n"
    found = new[:start] + joined.replace("\n", at.end_of_line) + new[start + len(block) :]
    if not same(_value(document(found), path), rows):
        raise refusal(dotted(path), "rows that can be taken over", "do it in a text editor")
    return found


def _value(values: Any, path: KeyPath) -> Any:
    for step in path:
        try:
            values = values[step]
        except (KeyError, IndexError, TypeError):
            return NONE
    return values
