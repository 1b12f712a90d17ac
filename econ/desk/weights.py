"""Which amounts of a file weigh most: each turned by itself, by the keys of the file.

    swing = the most less the least of the expected cost at the best limit, with the amount at
            its lower end, as it is, and at its upper end

The ends of a range are its P10 and P90, those of a single number three quarters and five quarters
of it, those of a single chance 0.15 less and more. Of the odds of a run the chance of its success
is turned, and that of nothing takes what is left; they have no slider. Each end is a row of a sweep
(`econ.decision.sweep`), so that the error is known; a swing within two errors is left out.
`econ sensitivity` has more to say, of single inputs, of all of them together and of break-evens.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import chain, islice
from typing import Any

import numpy as np
from pydantic import BaseModel
from pydantic.fields import FieldInfo

from econ.decision.sweep import sweep
from econ.desk.wording import label_of
from econ.scenario import Scenario
from econ.scenario.amounts import mean_of
from econ.scenario.distributions import Distribution
from econ.scenario.load import anchored
from econ.scenario.program import OddsByKind, OutcomeOdds
from econ.scenario.quantities import quantity_of
from econ.scenario.scenario import dotted

Row = dict[str, Any]
SECTIONS = (
    "rates",
    "fishing",
    "trip_speed",
    "doubt",
    "run",
    "recovery",
    "common",
    "parting",
    "fallback",
    "rental",
    "weather",
)
KINDS = ("workable", "stubborn")
MOST_KEYS = 160  # amounts that are turned: two rows of a sweep each
AT_ONCE = 12  # of them, in some tenths of a second
SHARE = 0.25  # of a single number, to each side
CHANCE = 0.15  # of a single chance, to each side
PERCENTILES = (0.1, 0.9)  # of a range


def weighed(scenario: Scenario, text: str, folder: str, log: str, *, first: int) -> Row:
    """What the amounts from number `first` on weigh, AT_ONCE of them; ends and values in the units
    of the file. A desk asks for some after the others, so that an answer need not wait for all.

    rows: key, words, unit, low, high, now, slides (whether it may have a slider), swing and its
    error [currency], those that weigh nothing left out; next: number of the amount after them,
    None behind the last.
    """
    keep = anchored(text, (), folder)
    found = list(islice(chain(_ends(scenario), _odds(scenario)), MOST_KEYS))
    part = found[first : first + AT_ONCE]
    changes = [(*keep, *_changes(row, end)) for row in part for end in ("low", "high")]
    (_, base), *turned = sweep(text, [keep, *changes], log=log)
    rows = []
    for row, (_, low), (_, high) in zip(part, turned[::2], turned[1::2], strict=True):
        if base["error"] or low["error"] or high["error"]:
            continue
        costs = [each["expected_cost"] for each in (base, low, high)]
        error = math.hypot(low["standard_error"], high["standard_error"])
        swing = max(costs) - min(costs)
        if swing > 2 * error:
            rest = row.pop("rest", None)
            rows.append({**row, "slides": rest is None, "swing": swing, "error": error})
    after = first + AT_ONCE
    return {"rows": rows, "next": after if after < len(found) else None}


def _ends(scenario: Scenario) -> Iterator[Row]:
    """Every amount that may be turned, with its ends."""
    for path, value, info in _amounts(scenario):
        quantity = None if info is None else quantity_of(info.annotation, info.metadata)
        if "odds" in path and not isinstance(value, Distribution):
            continue  # alone it would leave the others without their sum of 1
        chance = quantity is not None and quantity.dimension == "fraction"
        if isinstance(value, Distribution):
            low, high = (float(end) for end in value.quantile(np.array(PERCENTILES)))
            now = mean_of(value)
        elif chance:
            now = float(value)
            low, high = max(0.0, now - CHANCE), min(1.0, now + CHANCE)
        else:
            now = float(value)
            low, high = now * (1 - SHARE), now * (1 + SHARE)
        if low < high:
            yield {
                "key": dotted(path),
                "words": _words(scenario, path),
                "unit": "" if quantity is None else _unit(quantity.unit(scenario.units), scenario),
                "low": low,
                "high": high,
                "now": min(high, max(low, now)),
            }


def _changes(row: Row, end: str) -> list[str]:
    """The keys of the file that turn an amount to one of its ends."""
    made = [f"{row['key']}={row[end]:.8g}"]
    if "rest" in row:
        key, values = row["rest"]
        made.append(f"{key}={values[end]:.8g}")
    return made


def _odds(scenario: Scenario) -> Iterator[Row]:
    """The chance of success of every run, by kind of fish, with what is then left for nothing."""
    for number, run in enumerate(scenario.run, start=1):
        start = f"run.{number}.odds"
        tables = {start: run.odds}
        if isinstance(run.odds, OddsByKind):
            tables = {f"{start}.{kind}": getattr(run.odds, kind) for kind in KINDS}
        for place, odds in tables.items():
            if not isinstance(odds, OutcomeOdds):
                continue
            name = "recovered" if odds.recovered > 0 else "prepared"
            now = getattr(odds, name)
            low, high = max(0.0, now - CHANCE), now + min(CHANCE, odds.nothing)
            if low < high:
                left = {"low": odds.nothing + now - low, "high": odds.nothing + now - high}
                yield {
                    "key": f"{place}.{name}",
                    "words": f"Run {number}, {run.name}: how it may end",
                    "unit": "fraction",
                    "low": low,
                    "high": high,
                    "now": now,
                    "rest": (f"{place}.nothing", left),
                }


def _amounts(
    value: Any, path: tuple[str | int, ...] = (), info: FieldInfo | None = None
) -> Iterator[tuple[tuple[str | int, ...], Any, FieldInfo | None]]:
    """Every number and range of the sections that are turned, with the field that describes it."""
    if isinstance(value, Distribution) or (isinstance(value, float) and value != 0.0):
        yield path, value, info
    elif isinstance(value, BaseModel):
        for name, field in type(value).model_fields.items():
            key = field.alias or name
            if (path or key in SECTIONS) and name in value.model_fields_set:
                yield from _amounts(getattr(value, name), (*path, key), field)
    elif isinstance(value, dict):
        for name, item in value.items():
            yield from _amounts(item, (*path, name), info)
    elif isinstance(value, list):
        for number, item in enumerate(value):
            yield from _amounts(item, (*path, number), info)


def _words(scenario: Scenario, path: Sequence[str | int]) -> str:
    """What the form calls an amount; with the name of its run, fallback or tool."""
    label = label_of(path)
    if not isinstance(path[1], int):
        return label
    item = getattr(scenario, str(path[0]))[path[1]]
    name = getattr(item, "name", "") or getattr(item, "tool", "")
    return label.replace(": ", f", {name}: ", 1) if name else label


def _unit(unit: str, scenario: Scenario) -> str:
    return unit.replace("currency", scenario.currency)
