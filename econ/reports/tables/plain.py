"""What all tables share: values that JSON can hold, and lengths in the units of the file."""

from __future__ import annotations

import math
from typing import Any, Protocol

from econ.scenario.quantities import UNITS
from econ.scenario.scenario import Scenario

Row = dict[str, Any]


class Told(Protocol):
    """What is told of a scenario: an answer, a plan."""

    @property
    def scenario(self) -> Scenario:
        """In the units of the file."""


def plain(value: Any) -> Any:
    """JSON has no infinity or nan: such a number becomes null."""
    if isinstance(value, dict):
        return {key: plain(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [plain(item) for item in value]
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value


def length_unit(told: Told) -> str:
    """The unit of lengths in the file."""
    field, metric, _ = UNITS["length"]
    return field if told.scenario.units == "field" else metric


def length_factor(told: Told) -> float:
    """Field length [ft] in a length unit of the scenario."""
    return 1.0 if told.scenario.units == "field" else 1 / 0.3048
