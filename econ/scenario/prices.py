"""The prices of a scenario by key path: all money, money for a day and money for a length."""

from __future__ import annotations

from collections.abc import Iterator

from pydantic import BaseModel

from econ.scenario.quantities import Quantity, quantity_of
from econ.scenario.scenario import Scenario, dotted

PRICED = ("money", "money per day", "money per length")
SECTIONS = ("rates", "fishing", "fish", "run", "recovery", "common", "fallback", "rental")
MORE = ("reading", "parting", "deadline")  # that hold prices as well


def price_paths(scenario: Scenario) -> tuple[str, ...]:
    """Key paths of the prices that a file writes, list items counted from 1.

    >>> import econ
    >>> price_paths(econ.load("scenarios/point/c_bit_cones.toml"))[:2]
    ('rates.rig', 'rates.fuel_and_camp')
    """
    found: list[str] = []
    for name in (*SECTIONS, *MORE):
        value = getattr(scenario, name, None)
        info = Scenario.model_fields[name]
        quantity = quantity_of(info.annotation, info.metadata) if name == "rates" else None
        found += _paths(value, (name,), quantity)
    return tuple(found)


def _paths(value: object, path: tuple[str | int, ...], quantity: Quantity | None) -> Iterator[str]:
    if isinstance(value, BaseModel) and not hasattr(value, "quantile"):
        for name, info in type(value).model_fields.items():
            if name in value.model_fields_set:
                own = quantity_of(info.annotation, info.metadata)
                yield from _paths(getattr(value, name), (*path, info.alias or name), own)
    elif isinstance(value, dict):
        for name, item in value.items():
            yield from _paths(item, (*path, name), quantity)
    elif isinstance(value, list):
        for number, item in enumerate(value):
            yield from _paths(item, (*path, number), quantity)
    elif value is not None and quantity is not None and quantity.dimension in PRICED:
        yield dotted(path)
