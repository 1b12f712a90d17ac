"""What all tables share: values that JSON can hold, and lengths in the units of the file."""

from __future__ import annotations

import math
from typing import Any

from econ.decision import Answer
from econ.scenario.quantities import UNITS

Row = dict[str, Any]


def plain(value: Any) -> Any:
    """JSON has no infinity or nan: such a number becomes null."""
    if isinstance(value, dict):
        return {key: plain(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [plain(item) for item in value]
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value


def length_unit(answer: Answer) -> str:
    """The unit of lengths in the file."""
    field, metric, _ = UNITS["length"]
    return field if answer.scenario.units == "field" else metric


def length_factor(answer: Answer) -> float:
    """Field length [ft] in a length unit of the scenario."""
    return 1.0 if answer.scenario.units == "field" else 1 / 0.3048
