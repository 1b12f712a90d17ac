"""The knobs of the page as plain keys: what a person would type after `--set`.

Nothing of `econ.decision` is used here, so that what comes of it is independent of how the page
and its own program turn a knob.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Iterator
from typing import Any

from scipy.optimize import brentq

from econ.decision.surface.value import Position

Table = dict[str, Any]
MONEY_OR_SPEED = ("low", "likely", "high", "mean", "sd", "median", "p10", "p50", "p90", "values")
UNMOVED = ("sd",)  # by a shift


def overrides(raw: Table, position: Position, base: Position, fallback_now: float) -> list[str]:
    """A position of the knobs as "key=value" for the scenario file read into `raw`.

    Only certain odds of a first run can be written so: uncertain ones are moved draw by draw.
    """
    found = list(_scaled(raw["rates"], "rates", position.spread))
    days = raw.get("fishing", {}).get("day_rates", {})
    found += _scaled(days, "fishing.day_rates", position.fishing_day)
    for way in ("in", "out"):
        speeds = raw.get("trip_speed", {}).get(way, {})
        found += _scaled(speeds, f"trip_speed.{way}", position.trip_speed)
    if position.workable != base.workable:
        found.append(f"fishing.workable={position.workable!r}")
    more = (position.fallback - 1.0) * fallback_now
    for number, fallback in enumerate(raw["fallback"], start=1):
        name = "cost" if fallback.get("kind", "sidetrack") != "sidetrack" else "other_cost"
        shifted = _each(fallback.get(name, 0.0), lambda x: x + more, unmoved=UNMOVED)
        found.append(f"fallback.{number}.{name}={_toml(shifted)}")
    if position.next_odds != base.next_odds:
        found += _odds(raw["run"][0]["odds"], position.next_odds, base.workable)
    return found


def _scaled(amounts: Table, start: str, factor: float) -> Iterator[str]:
    for name, amount in amounts.items():
        yield f"{start}.{name}={_toml(_each(amount, lambda x: x * factor))}"


def _each(amount: Any, change: Callable[[float], float], unmoved: tuple[str, ...] = ()) -> Any:
    """An amount with its numbers changed; how it is spread stays."""
    if not isinstance(amount, dict):
        return change(amount)
    found = dict(amount)
    for key in MONEY_OR_SPEED:
        if key in found and key not in unmoved:
            value = found[key]
            found[key] = [change(x) for x in value] if isinstance(value, list) else change(value)
    return found


def _toml(amount: Any) -> str:
    if not isinstance(amount, dict):
        return repr(amount)
    return "{ " + ", ".join(f"{key} = {json.dumps(value)}" for key, value in amount.items()) + " }"


def _odds(odds: Table, chance: float, workable: float) -> Iterator[str]:
    """The odds of the first run, moved by the one odds ratio that gives it a chance."""
    kinds = [odds] if "recovered" in odds else [odds["workable"], odds["stubborn"]]
    weights = [1.0] if len(kinds) == 1 else [workable, 1.0 - workable]

    def mean(log: float) -> float:
        each = (moved(kind["recovered"], math.exp(log)) for kind in kinds)
        return sum(weight * p for weight, p in zip(weights, each, strict=True))

    ratio = math.exp(brentq(lambda log: mean(log) - chance, -20.0, 20.0, xtol=1e-13))
    names = [""] if len(kinds) == 1 else [".workable", ".stubborn"]
    for name, kind in zip(names, kinds, strict=True):
        recovered = moved(kind["recovered"], ratio)
        keep = (1.0 - recovered) / (1.0 - kind["recovered"])
        for outcome, p in kind.items():
            value = recovered if outcome == "recovered" else p * keep
            yield f"run.1.odds{name}.{outcome}={value!r}"


def moved(chance: float, ratio: float) -> float:
    """A chance with its odds times a ratio."""
    return ratio * chance / (1.0 - chance + ratio * chance)
