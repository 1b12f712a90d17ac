"""References to items of a list by their number, when the list changes.

    after = [1]               of a run: runs that must have been made before it
    needs, bars = ["made_2"]  of a run, a fallback or a reading: the mark that run 2 leaves
    ratio_with.made_2         of a run: the same
    call_out = 3              of a rental: the run at whose start it is called
    of = ["run.2.charge"]     of a correlation: key paths, for every list

An item that is taken out takes with it what refers to it, and a correlation that is left with
fewer than two amounts.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

from econ.scenario.load import KeyPath
from econ.scenario.scenario import dotted

LEAST_TOGETHER = 2  # amounts of a correlation
RUNS: KeyPath = ("run",)
Numbers = dict[int, int | None]  # new numbers of the runs, from 1; None for one taken out
MADE = re.compile(r"made_([1-9][0-9]*)")


def followed(
    values: dict[str, Any], path: KeyPath, where: dict[int, int]
) -> Iterator[tuple[KeyPath, Any]]:
    """Key paths, as they are after the change, and their values; None where one is taken out.

    where: new place of every item of the list at `path` that stays, both from 0.
    """
    if all(old == new for old, new in where.items()) and _count(values, path) == len(where):
        return
    if path == RUNS:
        yield from _of_runs(values, where)
    start, ended = dotted(path) + ".", []
    for place, row in enumerate(_tables(values, "correlation")):
        of = row.get("of")
        if path == ("correlation",) or not isinstance(of, list):
            continue
        new = [_key(name, start, where) for name in of]
        left = [name for name in new if name is not None]
        if len(left) < min(len(of), LEAST_TOGETHER):
            ended.append(place)
        elif new != of:
            yield ("correlation", place, "of"), left
    for place in reversed(ended):  # from the last, so that the places of the others hold
        yield ("correlation", place), None


def _of_runs(values: dict[str, Any], where: dict[int, int]) -> Iterator[tuple[KeyPath, Any]]:
    numbers: Numbers = {
        old + 1: where[old] + 1 if old in where else None for old in range(_count(values, RUNS))
    }
    for section in ("run", "fallback", "reading"):
        for place, row in enumerate(_tables(values, section)):
            here = where.get(place) if section == "run" else place
            if here is None:
                continue
            yield from _of_row(row, (section, here), numbers)
    for place, row in enumerate(_tables(values, "rental")):
        call = row.get("call_out")
        if isinstance(call, int) and not isinstance(call, bool) and call > 0:
            new = numbers.get(call, call)
            if new != call:
                yield ("rental", place, "call_out"), new


def _of_row(row: dict[str, Any], path: KeyPath, numbers: Numbers) -> Iterator[tuple[KeyPath, Any]]:
    after = row.get("after")
    if isinstance(after, list):
        new = [numbers.get(number, number) for number in after]
        new = [number for number in new if number is not None]
        if new != after:
            yield (*path, "after"), new
    for name in ("needs", "bars"):
        words = row.get(name)
        if isinstance(words, list):
            kept = [word for word in (_word(word, numbers) for word in words) if word is not None]
            if kept != words:
                yield (*path, name), kept
    ratios = row.get("ratio_with")
    if isinstance(ratios, dict):
        named = {_word(name, numbers): ratio for name, ratio in ratios.items()}
        named.pop(None, None)
        if list(named) != list(ratios):
            yield (*path, "ratio_with"), named or None


def _word(word: Any, numbers: Numbers) -> Any:
    found = MADE.fullmatch(word) if isinstance(word, str) else None
    if found is None:
        return word
    number = int(found.group(1))
    new = numbers.get(number, number)
    return None if new is None else f"made_{new}"


def _key(name: Any, start: str, where: dict[int, int]) -> Any:
    """A key path of a correlation; None where its item is taken out."""
    if not isinstance(name, str) or not name.startswith(start):
        return name
    number, dot, rest = name[len(start) :].partition(".")
    if not number.isdecimal():
        return name
    new = where.get(int(number) - 1)
    return None if new is None else f"{start}{new + 1}{dot}{rest}"


def _tables(values: dict[str, Any], name: str) -> list[dict[str, Any]]:
    rows = values.get(name)
    return [row if isinstance(row, dict) else {} for row in rows] if isinstance(rows, list) else []


def _count(values: Any, path: KeyPath) -> int:
    for step in path:
        try:
            values = values[step]
        except (KeyError, IndexError, TypeError):
            return 0
    return len(values) if isinstance(values, list) else 0
