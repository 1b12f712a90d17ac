"""Checks that the families share: each returns its faults, and all faults are told at once."""

from __future__ import annotations

import math
from itertools import pairwise


def refuse(given: object, faults: list[str]) -> None:
    """Raise ValueError with all the faults, if there are any."""
    if faults:
        raise ValueError(f"{given!r}: " + "; ".join(faults))


def unfinished(**numbers: float) -> list[str]:
    """One fault for each number that is not finite."""
    return [
        f"{name} must be a finite number, not {number}"
        for name, number in numbers.items()
        if not math.isfinite(number)
    ]


def disordered(**numbers: float) -> list[str]:
    """One fault for each number that is above the next one."""
    return [
        f"{name} {number:g} is above {upper_name} {upper:g}: put them in ascending order"
        for (name, number), (upper_name, upper) in pairwise(numbers.items())
        if number > upper
    ]
