"""References to items of a list by their number, when the list changes.

    after = [1]               of a run: runs that must have been made before it
    needs, bars = ["made_2"]  of a run, a fallback or a reading: the mark that run 2 leaves
    ratio_with.made_2         of a run: the same
    call_out = 3              of a rental: the run at whose start it is called
    of = ["run.2.charge"]     of a correlation: key paths, for every list
    price_reference           of the AFE: names that are key paths, for every list
    lapses_under = [1]        of an AFE line: fallbacks

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
FALLBACKS: KeyPath = ("fallback",)
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
    if path == FALLBACKS:
        yield from _of_lines(values, where)
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
    afe = values.get("afe")
    prices = afe.get("price_reference") if isinstance(afe, dict) else None
    if isinstance(prices, dict):
        named = {_key(name, start, where): words for name, words in prices.items()}
        named.pop(None, None)
        if list(named) != list(prices):
            yield ("afe", "price_reference"), named or None
    for place in reversed(ended):  # from the last, so that the places of the others hold
        yield ("correlation", place), None


def _of_lines(values: dict[str, Any], where: dict[int, int]) -> Iterator[tuple[KeyPath, Any]]:
    afe = values.get("afe")
    for place, row in enumerate(_tables(afe if isinstance(afe, dict) else {}, "line")):
        under = row.get("lapses_under")
        if isinstance(under, list):
            numbers = _numbers(where, _count(values, FALLBACKS))
            new = [numbers.get(number, number) for number in under]
            new = [number for number in new if number is not None]
            if new != under:
                yield ("afe", "line", place, "lapses_under"), new


def _numbers(where: dict[int, int], count: int) -> Numbers:
    return {old + 1: where[old] + 1 if old in where else None for old in range(count)}


def _of_runs(values: dict[str, Any], where: dict[int, int]) -> Iterator[tuple[KeyPath, Any]]:
    numbers = _numbers(where, _count(values, RUNS))
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
