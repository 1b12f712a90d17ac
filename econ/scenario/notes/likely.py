"""Questions on values that are rarely met: a slip of the keys, or a number in another unit.

Bands of the trade, common practice, no source; sizes of a hole that nobody means are judgement.
Money is held against a band only where it is in US dollars. None of them is a fault, and 0 is
never asked about. The desk asks the same of the first answers, before there is a scenario.

    weight of a piece <= 2.67 OD^2 length     solid steel of 490 lb/ft3 [lb, in, ft]; OD is that
                                              of the piece, else the hole
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import Any, NamedTuple

from econ.scenario.amounts import ends_and_middle
from econ.scenario.distributions import Distribution
from econ.scenario.notes.registry import Beside, note
from econ.scenario.quantities import UNITS
from econ.scenario.scenario import Scenario, dotted

DOLLARS = "USD"
STEEL = 490 * math.pi / 4 / 144  # [lb/ft] of a solid bar of 1 in
HEAVIER = 1.05  # than solid steel, beyond rounding
LEAST_SPREAD = 1000.0  # [USD/d]


class Band(NamedTuple):
    """What a value mostly is [field units]."""

    key: str
    dimension: str
    low: float
    high: float


BANDS = (
    Band("well.depth", "length", 300, 30_000),
    Band("well.shoe_depth", "length", 30, 30_000),
    Band("well.hole_diameter", "diameter", 2, 48),
    Band("well.diameter_at_top", "diameter", 2, 60),
    Band("well.mud_weight", "density", 7, 20),
    Band("well.inclination", "angle", 0, 110),
    Band("fish.top", "length", 30, 30_000),
    Band("fish.bottom", "length", 30, 30_000),
    Band("fish.outside_diameter", "diameter", 0.4, 36),
    Band("fish.largest_diameter", "diameter", 0.4, 36),
    Band("fish.inside_diameter", "diameter", 0.2, 30),
    Band("fish.hook_load_loss", "weight", 100, 1_000_000),
    Band("fish.fill", "length", 0, 2_000),
    Band("fish.piece[].value", "money", 100, 20_000_000),
    Band("fish.piece[].replacement", "money", 100, 20_000_000),
    Band("rates.*", "money per day", 20, 1_000_000),
    Band("fishing.day_rates.*", "money per day", 20, 200_000),
    Band("fishing.mobilization", "money", 100, 2_000_000),
    Band("run[].wait", "hours", 0, 240),
    Band("run[].hours", "hours", 1, 300),
    Band("run[].charge", "money", 50, 1_000_000),
    Band("recovery.hours", "hours", 1, 300),
    Band("fallback[].gross_rop", "speed", 2, 500),
    Band("fallback[].kickoff_failure", "chance", 0, 0.7),
    Band("fallback[].directional_day", "money per day", 500, 200_000),
    Band("fallback[].plug_cost", "money", 500, 1_000_000),
    Band("fallback[].hours", "hours", 4, 5_000),
    Band("limits.authority", "money", 5_000, 1_000_000_000),
    Band("limits.response_hours", "hours", 0.5, 336),
)


@note
def rarely_met(scenario: Scenario) -> Iterator[str]:
    """Values outside the bands of the trade."""
    yield from unlikely(scenario, scenario.units, scenario.currency)


def unlikely(values: Any, units: str, currency: str) -> Iterator[Beside]:
    """What is rarely met among the values of a scenario, or of a table of what there is of it."""
    for band in BANDS:
        money = band.dimension.startswith("money")
        if money and currency != DOLLARS:
            continue
        for path, given in _found(values, (), band.key.replace("[]", ".[]").split(".")):
            text = _asked(_middle(given), band, units, currency)
            if text:
                key = dotted(path)
                yield Beside(key, f"{key} = {text}")
    yield from _spread(values, currency)
    yield from _weights(values, units)


def _asked(value: float | None, band: Band, units: str, currency: str) -> str:
    """The question on a value, empty where it looks right."""
    metric = units == "metric"
    *names, factor = UNITS[band.dimension]
    unit, other = names[metric], names[not metric]
    low, high = (end / factor if metric else end for end in (band.low, band.high))
    if value is None or value <= 0 or low <= value <= high:  # 0 is nothing
        return ""
    meant = value / factor if metric else value * factor  # if it is in the other unit
    shown = f"{value:,.10g} {_plain(unit, currency)}".strip()
    if unit != other and low <= meant <= high:
        return f"{shown}: is it {value:g} {other}, {meant:.4g} {unit}? units are {units}"
    ends = f"{low:,.3g} to {high:,.3g}" if high < 1000 else f"{low:,.0f} to {high:,.0f}"
    ends = f"{ends} {_plain(unit, currency)}".strip()
    return f"{shown}: is that meant? it is mostly {ends} (common practice, no source)"


def _plain(unit: str, currency: str) -> str:
    return "" if unit == "fraction" else unit.replace("currency", currency)


def _spread(values: Any, currency: str) -> Iterator[Beside]:
    """Thousands left out in every rate look right one beside the other."""
    total = math.fsum(_middle(rate) or 0.0 for _, rate in _found(values, (), ["rates", "*"]))
    if currency == DOLLARS and 0 < total < LEAST_SPREAD:
        yield Beside(
            "rates",
            f"rates = {total:,.10g} {currency}/d in all: is that meant? are thousands left out?",
        )


def _weights(values: Any, units: str) -> Iterator[Beside]:
    """No piece is heavier than solid steel."""
    hole = _middle(_step(_step(values, "well"), "hole_diameter"))
    for (*_, place), piece in _found(values, (), ["fish", "piece", "[]"]):
        size = _middle(_step(piece, "outside_diameter")) or hole
        length, weight = (_middle(_step(piece, name)) for name in ("length", "weight"))
        if not size or not length or not weight:
            continue
        feet, inches, pounds = (
            UNITS[name][2] if units == "metric" else 1.0
            for name in ("length", "diameter", "weight")
        )
        most = STEEL * (size * inches) ** 2 * length * feet / pounds
        if weight > HEAVIER * most:
            unit = UNITS["weight"][units == "metric"]
            key = dotted(("fish", "piece", place, "weight"))
            yield Beside(
                key,
                f"{key} = {weight:,.10g} {unit}: is that meant? solid steel of this size weighs "
                f"{most:,.0f} {unit}",
            )


def _found(
    values: Any, path: tuple[str | int, ...], steps: list[str]
) -> Iterator[tuple[tuple[str | int, ...], Any]]:
    """The values at a key path, each with its own."""
    if not steps:
        yield path, values
    elif steps[0] == "[]":
        for number, item in enumerate(values if isinstance(values, list) else []):
            yield from _found(item, (*path, number), steps[1:])
    elif steps[0] == "*":
        for name, item in (values if isinstance(values, Mapping) else {}).items():
            yield from _found(item, (*path, name), steps[1:])
    else:
        yield from _found(_step(values, steps[0]), (*path, steps[0]), steps[1:])


def _step(values: Any, name: str) -> Any:
    return values.get(name) if isinstance(values, Mapping) else getattr(values, name, None)


def _middle(amount: Any) -> float | None:
    """The middle of an amount of a scenario or of a file; None where there is none."""
    if isinstance(amount, Distribution):
        return ends_and_middle(amount)[1]
    if isinstance(amount, Mapping):
        for name in ("likely", "p50", "median", "mean"):
            if isinstance(amount.get(name), (int, float)):
                return float(amount[name])
        low, high = amount.get("low"), amount.get("high")
        if isinstance(low, (int, float)) and isinstance(high, (int, float)):
            return (low + high) / 2
        return None
    return float(amount) if isinstance(amount, (int, float)) else None
