"""Chance that working and jarring free an attached string within some hours.

    F(h) = w (1 - exp(-h / tau))
with w the chance that it comes free at all, by what holds it, and tau the scale of its hours;
both are data of the catalogue. A figure for a fish that is caught again is another matter.
"""

from __future__ import annotations

import math

from econ.job.methods.catalogue import catalogue
from econ.job.methods.ranges import Span


def freed(mechanism: str, *, hours: float) -> Span:
    """Chance [fraction] that `hours` [h] of working and jarring free an attached string.

    >>> freed("differential", hours=5.0)
    Span(low=0.64, high=0.726)
    """
    facts = catalogue().freeing
    reached = 1.0 - math.exp(-hours / facts.tau.likely)
    at_all = facts.at_all[mechanism]
    return Span(round(at_all.low * reached, 3), round(at_all.high * reached, 3))
