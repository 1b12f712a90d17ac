"""Where the verdict flips as an input is turned, and a map of the best limit over two of them.

    one run       D(v) = C_1 - C_0            the next run by itself, then stop
    best limit    D(v) = min_{n >= 1} C_n - C_0

Fishing pays where D < 0. From the present value of an input its range is searched on both
sides for the first change of sign, whose place is then closed in on; all on the same draws, so
D has no noise of its own and its root an error se(D)/|D'|. Where the cost is linear in the
input, so is C_n - C_0, and the root of a straight line is exact. Runs that must be made
(`minimum_runs`) are left out of it: the question is whether fishing would pay.

A map is bilinear where the cost is linear in both of its inputs: four walks make it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from econ.decision.estimates import estimate
from econ.decision.sensitivity.bench import Bench
from econ.decision.sensitivity.inputs import Input
from econ.decision.sensitivity.roots import root
from econ.engine.walk import next_run
from econ.scenario.framed import Framed

Array = NDArray[np.float64]
Verb = Literal["fish", "stop"]
Rule = Literal["one run", "best limit"]
RULES: tuple[Rule, ...] = ("one run", "best limit")
SOUGHT = ("spread", "workable", "next_odds", "all_odds", "fallback")  # every rate and doubt
STEPS = 6  # of the search on each side of the present value
CLOSE = 1e-6  # of the range: as near as a root is sought
ROWS, COLUMNS = ("workable", "next_odds", "spread"), ("fallback", "spread")  # of a map, the first


HINGES = ("workable", "doubt.", "next_odds", "fallback", "spread")  # how their names begin


class InputError(ValueError):
    """A main input that this job does not have."""


@dataclass(frozen=True)
class BreakEven:
    """Where a verdict flips as one main input, by name, is turned.

    at: value of the input, with its error; None where it does not flip between least and most,
    and the verdict is `below` all over. below, above: the verdict on either side of it.
    """

    input: str
    rule: Rule
    now: float
    at: float | None
    error: float
    below: Verb
    above: Verb
    least: float
    most: float


@dataclass(frozen=True)
class LimitMap:
    """The best limit over two main inputs, by name; rows and columns are their values.

    best: limit [runs] by row and column; resolved: whether no other limit comes within the
    error; here: row and column of the present values.
    """

    row: str
    column: str
    rows: tuple[float, ...]
    columns: tuple[float, ...]
    best: tuple[tuple[int, ...], ...]
    resolved: tuple[tuple[bool, ...], ...]
    here: tuple[int, int]


def break_evens(bench: Bench) -> tuple[BreakEven, ...]:
    """Where the verdict flips, for each input worth asking, by each of the rules; with a single
    run they are the same question, and `one run` answers it."""
    return _found(bench, _rules(bench))


def flips_of(bench: Bench) -> tuple[BreakEven, ...]:
    """The same as `flips` of `break_evens`, when nothing else of these is wanted."""
    return _found(bench, _rules(bench)[-1:])


def flip_of(bench: Bench, name: str, flips: Iterable[BreakEven] | None = None) -> float | None:
    """The value of a main input, nearest to the present one, at which the verdict on the best limit
    flips; None where it does not, or where the job has no such input. flips: those of all inputs,
    if they are worked out."""
    if next_run(bench.case) is None or name not in bench.inputs:
        return None
    about = bench.inputs[name]
    if flips is None:
        rule = _rules(bench)[-1]
        flips = _flips(about, rule, _gap(bench, name, rule))
    found = [flip.at for flip in flips if flip.input == name and flip.at is not None]
    return min(found, key=lambda at: abs(at - about.now), default=None)


def _rules(bench: Bench) -> Sequence[Rule]:
    """Those of a job; with a single run they are the same, and one is left out."""
    return RULES if len(bench.case.program) > 1 else RULES[:1]


def _found(bench: Bench, rules: Sequence[Rule]) -> tuple[BreakEven, ...]:
    if next_run(bench.case) is None:
        return ()
    return tuple(
        flip
        for name, about in bench.inputs.items()
        if name in SOUGHT or name.startswith(("rates.", "doubt."))
        for rule in rules
        for flip in _flips(about, rule, _gap(bench, name, rule))
    )


def flips(found: Sequence[BreakEven]) -> tuple[BreakEven, ...]:
    """Those of the verdict on the best limit; with a single run those of this run."""
    rule = found[-1].rule if found else None
    return tuple(flip for flip in found if flip.rule == rule)


@dataclass(frozen=True, repr=False)
class Hinge(Framed):
    """A main input on which a close verdict hangs: its words, where it stands and where the verdict
    flips, what factor 1 stands for [unit], None for a chance, and the verdict on either side."""

    input: str
    words: str
    now: float
    at: float
    amount: float | None
    unit: str
    below: Verb
    above: Verb


def hinges(bench: Bench, *, most: int = 2) -> tuple[Hinge, ...]:
    """The inputs that flip the verdict on the best limit nearest to where they stand: by the
    logarithm of a factor, or of the odds of a chance."""
    if next_run(bench.case) is None:
        return ()
    found: list[tuple[float, Hinge]] = []
    for name, about in bench.inputs.items():
        if not name.startswith(HINGES):
            continue
        measure = np.log if about.factor else _log_odds
        for flip in _flips(about, "best limit", _gap(bench, name, "best limit")):
            if flip.at is None or not (about.factor or 0.0 < about.now < 1.0):
                continue
            way = abs(float(measure(flip.at) - measure(about.now)))
            hinge = Hinge(
                name,
                about.words,
                about.now,
                flip.at,
                about.amount,
                about.unit,
                flip.below,
                flip.above,
            )
            found.append((way, hinge))
    found.sort(key=lambda pair: pair[0])
    nearest = {hinge.input: hinge for _, hinge in reversed(found)}
    return tuple(sorted(nearest.values(), key=[hinge for _, hinge in found].index)[:most])


def _log_odds(chance: float) -> float:
    with np.errstate(divide="ignore"):
        return float(np.log(chance) - np.log1p(-chance))


def limit_map(bench: Bench, *, row: str, column: str) -> LimitMap:
    """The best limit over two main inputs. Raises InputError for a name this job does not have."""
    for name in (row, column):
        if name not in bench.inputs:
            raise InputError(f"{name!r}; this job has {', '.join(bench.inputs)}")
    if row == column:
        raise InputError(f"{row!r} twice; a map takes two drivers")
    rows, i = _with_now(bench.inputs[row])
    columns, j = _with_now(bench.inputs[column])
    costs = _costs(bench, {row: rows, column: columns})
    judged = [[bench.judged(cost).verdict for cost in line] for line in costs]
    return LimitMap(
        row,
        column,
        rows,
        columns,
        tuple(tuple(verdict.best for verdict in line) for line in judged),
        tuple(tuple(not verdict.not_told_apart for verdict in line) for line in judged),
        (i, j),
    )


def default_map(bench: Bench) -> LimitMap | None:
    """The map of the first inputs of ROWS and COLUMNS that the job has; None without a run."""
    if next_run(bench.case) is None:
        return None
    row = next(name for name in ROWS if name in bench.inputs)
    column = next((name for name in COLUMNS if name in bench.inputs and name != row), None)
    return None if column is None else limit_map(bench, row=row, column=column)


def _costs(bench: Bench, values: dict[str, tuple[float, ...]]) -> list[list[Array]]:
    """Costs by scramble and limit at every pair of values of two inputs."""
    nodes = {name: _nodes(bench, name, values) for name in values}
    (row, rows), (column, columns) = values.items()
    walked = {(r, c): bench.walked({row: r, column: c}) for r in nodes[row] for c in nodes[column]}
    lines = {
        r: [
            _between(nodes[column], [walked[r, node] for node in nodes[column]], c) for c in columns
        ]
        for r in nodes[row]
    }
    return [
        [
            _between(nodes[row], [lines[node][j] for node in nodes[row]], r)
            for j in range(len(columns))
        ]
        for r in rows
    ]


def _nodes(bench: Bench, name: str, values: dict[str, tuple[float, ...]]) -> tuple[float, ...]:
    """The values of an input that are walked: two where the cost is linear in it, else all."""
    if "next_odds" in values:  # its odds ratio hangs on the chance that the fish is workable
        return values[name] if name == "workable" else bench.straight(name) or values[name]
    return bench.straight(name) or values[name]


def _between(nodes: tuple[float, ...], costs: list[Array], value: float) -> Array:
    """The cost at a value from the costs at the nodes: one of them, or on their straight line."""
    if value in nodes:
        return costs[nodes.index(value)]
    (low, high), (one, other) = nodes, costs
    return np.asarray(one + (value - low) / (high - low) * (other - one))


def _gap(bench: Bench, name: str, rule: Rule) -> Callable[[float], Array]:
    """D by scramble, as a function of the value of an input."""
    turned = bench.turned(name)

    def gap(value: float) -> Array:
        cost = turned(value)
        # the limit that is best on average, so that its error is that of a difference
        n = 1 if rule == "one run" else 1 + int(np.argmin(cost[:, 1:].mean(axis=0)))
        return np.asarray(cost[:, n] - cost[:, 0])

    return gap


def _flips(about: Input, rule: Rule, gap: Callable[[float], Array]) -> Iterator[BreakEven]:
    """The nearest flips below and above the present value, or that there is none."""

    def mean(value: float) -> float:
        return float(gap(value).mean())

    def flip(at: float | None, error: float, below: Verb, above: Verb) -> BreakEven:
        ends = about.least, about.most
        return BreakEven(about.name, rule, about.now, at, error, below, above, *ends)

    none = True
    for end in (about.least, about.most):
        for here, there in pairwise((value, mean(value)) for value in _towards(about, end)):
            if _verb(here[1]) == _verb(there[1]):
                continue
            (low, at_low), (high, at_high) = sorted((here, there))
            at = root(mean, low=low, high=high, within=CLOSE)
            slope = (at_high - at_low) / (high - low)
            yield flip(at, estimate(gap(at)).error / abs(slope), _verb(at_low), _verb(at_high))
            none = False
            break
    if none:
        side = _verb(mean(about.now))
        yield flip(None, 0.0, side, side)


def _verb(gap: float) -> Verb:
    return "fish" if gap < 0 else "stop"


def _towards(about: Input, end: float) -> list[float]:
    """Values from the present one to an end of the range."""
    steps = np.geomspace if about.factor else np.linspace
    return [float(value) for value in steps(about.now, end, STEPS + 1)]


def _with_now(about: Input) -> tuple[tuple[float, ...], int]:
    """The values of a map with the present one in place of the nearest, and its place."""
    values = list(about.grid)
    place = int(np.argmin([abs(value - about.now) for value in values]))
    values[place] = about.now
    return tuple(values), place
