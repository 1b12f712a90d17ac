"""Where the verdict flips as a driver is turned, and a map of the best limit over two of them.

    one run       D(v) = C_1 - C_0            the next run by itself, then stop
    best limit    D(v) = min_{n >= 1} C_n - C_0

Fishing pays where D < 0. From the present value of a driver its range is searched on both
sides for the first change of sign, which `scipy.optimize.brentq` then closes in on; all on
the same draws, so D has no noise of its own and its root an error se(D)/|D'|. Runs that
must be made (`minimum_runs`) are left out of it: the question is whether fishing would pay.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from econ.decision.changes.drivers import Bench, Driver
from econ.decision.estimates import estimate

Array = NDArray[np.float64]
Verb = Literal["fish", "stop"]
Rule = Literal["one run", "best limit"]
RULES: tuple[Rule, ...] = ("one run", "best limit")
SOUGHT = ("spread", "rig", "workable", "next_odds", "all_odds", "fallback")
STEPS = 6  # of the search on each side of the present value
CLOSE = 1e-5  # of the value: as near as a root is sought


class DriverError(ValueError):
    """A driver that this job does not have."""


@dataclass(frozen=True)
class BreakEven:
    """Where a verdict flips as one driver is turned.

    at: value of the driver, with its error; None where it does not flip between least and most,
    and the verdict is `below` all over. below, above: the verdict on either side of it.
    """

    driver: str
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
    """The best limit over two drivers, by name; rows and columns are their values.

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


def break_evens(bench: Bench, rules: Sequence[Rule] = RULES) -> tuple[BreakEven, ...]:
    """Where the verdict flips, for each driver worth asking, by each of the `rules`; with a
    single run they are the same question, and `one run` answers it."""
    if not bench.case.program:
        return ()
    if len(bench.case.program) == 1:
        rules = ("one run",)
    chosen = [driver for name, driver in bench.drivers.items() if name in SOUGHT]
    return tuple(each for driver in chosen for each in _of_driver(bench, driver, rules))


def limit_map(bench: Bench, *, row: str, column: str) -> LimitMap:
    """The best limit over two drivers. Raises DriverError for a name this job does not have."""
    for name in (row, column):
        if name not in bench.drivers:
            raise DriverError(f"{name!r}; this job has {', '.join(bench.drivers)}")
    if row == column:
        raise DriverError(f"{row!r} twice; a map takes two drivers")
    rows, i = _with_now(bench.drivers[row])
    columns, j = _with_now(bench.drivers[column])
    found = [[bench.limits({row: r, column: c}).verdict for c in columns] for r in rows]
    return LimitMap(
        row,
        column,
        rows,
        columns,
        tuple(tuple(verdict.best for verdict in line) for line in found),
        tuple(tuple(not verdict.not_told_apart for verdict in line) for line in found),
        (i, j),
    )


def _of_driver(bench: Bench, driver: Driver, rules: Sequence[Rule]) -> Iterator[BreakEven]:
    known: dict[float, Array] = {}

    def limits(value: float) -> Array:
        if value not in known:
            known[value] = bench.limits({driver.name: value}).cost
        return known[value]

    for rule in rules:

        def gap(value: float, rule: Rule = rule) -> Array:
            cost = limits(value)
            # the limit that is best on average, so that its error is that of a difference
            n = 1 if rule == "one run" else 1 + int(np.argmin(cost[:, 1:].mean(axis=0)))
            return np.asarray(cost[:, n] - cost[:, 0])

        yield from _flips(driver, rule, gap)


def _flips(driver: Driver, rule: Rule, gap: Callable[[float], Array]) -> Iterator[BreakEven]:
    """The nearest flips below and above the present value, or that there is none."""

    def mean(value: float) -> float:
        return float(gap(value).mean())

    def verb(value: float) -> Verb:
        return "fish" if mean(value) < 0 else "stop"

    found = False
    for end in (driver.least, driver.most):
        values = _towards(driver, end)
        for here, there in pairwise(values):
            if verb(here) == verb(there):
                continue
            low, high = sorted((here, there))
            root = _root(mean, low, high)
            slope = (mean(high) - mean(low)) / (high - low)
            error = estimate(gap(root)).error / abs(slope)
            yield BreakEven(
                driver.name,
                rule,
                driver.now,
                root,
                error,
                verb(low),
                verb(high),
                driver.least,
                driver.most,
            )
            found = True
            break
    if not found:
        side = verb(driver.now)
        yield BreakEven(
            driver.name, rule, driver.now, None, 0.0, side, side, driver.least, driver.most
        )


def _root(gap: Callable[[float], float], low: float, high: float) -> float:
    """Where the gap is nothing; an end where it is so already."""
    from scipy.optimize import brentq  # a quarter of a second, and not every reader looks for roots

    for end in (low, high):
        if gap(end) == 0.0:
            return end
    return float(brentq(gap, low, high, xtol=CLOSE * high, rtol=CLOSE))


def _towards(driver: Driver, end: float) -> list[float]:
    """Values from the present one to an end of the range."""
    if driver.factor:
        return [float(value) for value in np.geomspace(driver.now, end, STEPS + 1)]
    return [float(value) for value in np.linspace(driver.now, end, STEPS + 1)]


def _with_now(driver: Driver) -> tuple[tuple[float, ...], int]:
    """The values of a map with the present one in place of the nearest, and its place."""
    values = list(driver.grid)
    place = int(np.argmin([abs(value - driver.now) for value in values]))
    values[place] = driver.now
    return tuple(values), place
