"""Cases side by side as one, so that they are walked at once.

The walk of a single fallback works out every draw by itself: what it gives for a draw is the same
to the last bit, whatever other draws stand beside it. So the draws of some cases, one case after
another, can be those of one case, and what the walk gives for it be cut into the cases again. It
pays because an array of a thousand numbers takes hardly less time than one of some thousands.

Cases can be joined where they are alike: the same in everything but the numbers in their arrays,
and in the outcomes that are followed after each run. Where there are more fallbacks, or a log, all
draws of a case together settle the choice and the weights: such a case stays alone.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, fields, is_dataclass, replace
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from econ.engine.case import Case, outcome_column, place_column

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Joined:
    """Some of a list of cases as one: their numbers in the list, from 0, in the order in which
    their draws stand one after another in the `case`."""

    numbers: Sequence[int]
    case: Case


def joined(cases: Sequence[Case], *, most: int) -> Iterator[Joined]:
    """Every case once, those alike together. most: draws of cases that are joined."""
    groups: list[tuple[object, list[_Part]]] = []
    runs: dict[int, tuple[object, Sequence[Array]]] = {}  # by identity: many cases share a run
    for number, case in enumerate(cases):
        if len(case.fallbacks) > 1 or case.logged or 2 * case.n > most:
            yield Joined([number], case)
            continue
        form, part = _taken_apart(number, case, runs)
        parts = next((parts for known, parts in groups if known == form), None)
        if parts is None:
            groups.append((form, parts := []))
        parts.append(part)
        if (len(parts) + 1) * case.n > most:
            yield _together(parts)
            parts.clear()
    for _, parts in groups:
        if parts:
            yield _together(parts)


@dataclass(frozen=True)
class _Part:
    """A case to be joined: its number, and its arrays in the order in which it holds them."""

    number: int
    case: Case
    arrays: Sequence[Array]


def _taken_apart(
    number: int, case: Case, runs: dict[int, tuple[object, Sequence[Array]]]
) -> tuple[object, _Part]:
    """What a case has in common with those alike, and what is its own. runs: taken apart already,
    with those of this case from now on."""
    places = range(len(case.program))
    # The only uniforms that costs are walked with.
    outcomes = map(place_column, places) if case.conditional else map(outcome_column, case.program)
    lean = replace(case, uniforms={name: case.uniforms[name] for name in outcomes})
    form, arrays = _form_and_arrays(replace(lean, runs=[]))
    forms = [form]
    for run in case.runs:
        if id(run) not in runs:
            of_run, own = _form_and_arrays(run)
            runs[id(run)] = (of_run, run.followed, run.pays_all), own
        forms.append(runs[id(run)][0])
        arrays += runs[id(run)][1]
    return forms, _Part(number, lean, arrays)


def _form_and_arrays(value: Any) -> tuple[Any, list[Array]]:
    """A value with the shapes of its arrays in their place, and the arrays."""
    arrays: list[Array] = []

    def taken(array: Array) -> tuple[int, ...]:
        arrays.append(array)
        return array.shape[:-1]

    return _with_arrays(value, taken), arrays


def _together(parts: Sequence[_Part]) -> Joined:
    n, first = parts[0].case.n, parts[0].case
    arrays = iter(
        [_side_by_side(each, n) for each in zip(*(part.arrays for part in parts), strict=True)]
    )
    whole = _with_arrays(replace(first, runs=[]), lambda _: next(arrays))
    runs = _with_arrays(first.runs, lambda _: next(arrays))
    joint = replace(whole, runs=runs, n=n * len(parts))
    return Joined([part.number for part in parts], joint)


def _with_arrays(value: Any, change: Callable[[Array], Any]) -> Any:
    """A value with every array in it, at any depth, changed."""
    if isinstance(value, np.ndarray):
        return change(value)
    if isinstance(value, (list, tuple)):
        return [_with_arrays(item, change) for item in value]
    if isinstance(value, Mapping):
        return {key: _with_arrays(item, change) for key, item in value.items()}
    if is_dataclass(value):
        kind: Any = type(value)
        return kind(*[_with_arrays(getattr(value, name), change) for name in _names(kind)])
    return value


@cache
def _names(kind: Any) -> tuple[str, ...]:
    return tuple(field.name for field in fields(kind))


def _side_by_side(arrays: Sequence[Array], n: int) -> Array:
    """Arrays of shape (..., n or 1) or () one after another on the last axis, but for what is one
    number for all draws of all of them."""
    first = arrays[0]
    others = [array for array in arrays if array is not first]
    if first.shape[-1:] != (n,) and all(
        array.shape == first.shape and array.tobytes() == first.tobytes() for array in others
    ):
        return first
    wide = np.empty((*first.shape[:-1], n * len(arrays)))
    for number, array in enumerate(arrays):
        wide[..., number * n : (number + 1) * n] = array
    return wide
