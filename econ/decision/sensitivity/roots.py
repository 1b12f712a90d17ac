"""The root of a function that costs much to evaluate, between two values of unlike sign.

Regula falsi in the Illinois form: a straight line is solved at once, and no end of the bracket
stays where it is (Dowell & Jarratt 1971, BIT 11, 168-174).
"""

from __future__ import annotations

from collections.abc import Callable

MOST_STEPS = 100


def root(gap: Callable[[float], float], *, low: float, high: float, within: float = 1e-9) -> float:
    """Where the gap is nothing; an end where it is so already. Raises ValueError where the signs
    at both ends are alike.

    within: how near, as a share of the larger end.

    >>> round(root(lambda x: x * x - 2.0, low=0.0, high=2.0), 6)
    1.414214
    """
    at_low, at_high = gap(low), gap(high)
    for value, there in ((low, at_low), (high, at_high)):
        if there == 0.0:
            return value
    if (at_low < 0) == (at_high < 0):
        raise ValueError(f"the gap has the same sign at {low:g} and at {high:g}")
    close = within * max(abs(low), abs(high))
    kept = 0  # which end was kept last: -1 low, 1 high
    middle = low
    for _ in range(MOST_STEPS):
        before, middle = middle, (low * at_high - high * at_low) / (at_high - at_low)
        here = gap(middle)
        if here == 0.0 or high - low <= close or abs(middle - before) <= close:
            return middle
        if (here < 0) == (at_high < 0):
            high, at_high = middle, here
            at_low *= 0.5 if kept == -1 else 1.0
            kept = -1
        else:
            low, at_low = middle, here
            at_high *= 0.5 if kept == 1 else 1.0
            kept = 1
    return middle
