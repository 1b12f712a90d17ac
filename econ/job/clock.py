"""The run clock: how long trips and runs take from the depth they go to.

    trip(D)  = min(D, shoe)/v_cased + max(0, D - shoe)/v_open
    run(T)   = f (wait + sum over trips of (make up + trip in(T) + circulate + work
               + trip out(T) + lay down)),  T the fish top, f 1 or what runs made have taught

Source: the build-up of a round trip is common practice, no source; a public oilfield
glossary ("round trip") gives about 1 h per 1,000 ft plus 1 to 2 h as a plausible band.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True)
class TripSpeeds:
    """Trip speeds of a fishing string.

    shoe: depth of the casing shoe [ft]; the four speeds [ft/h], scalars or shape (n,).
    """

    shoe: float
    in_cased: Array
    in_open: Array
    out_cased: Array
    out_open: Array

    def hours_in(self, depth: Array) -> Array:
        """Hours [h] to trip in to `depth` [ft]."""
        return _trip(depth, shoe=self.shoe, cased=self.in_cased, open_hole=self.in_open)

    def hours_out(self, depth: Array) -> Array:
        """Hours [h] to trip out from `depth` [ft]."""
        return _trip(depth, shoe=self.shoe, cased=self.out_cased, open_hole=self.out_open)

    def round_trip(self, depth: Array) -> Array:
        """Hours [h] of a trip in to `depth` [ft] and out again.

        >>> import numpy as np
        >>> v = [np.asarray(x) for x in (2000.0, 1300.0, 1800.0, 1200.0)]
        >>> speeds = TripSpeeds(4200.0, *v)
        >>> round(float(speeds.round_trip(np.asarray(11180.0))), 2)
        15.62
        """
        cased = np.minimum(depth, self.shoe)
        open_hole = np.maximum(depth - self.shoe, 0.0)
        slow_cased = 1.0 / self.in_cased + 1.0 / self.out_cased
        slow_open = 1.0 / self.in_open + 1.0 / self.out_open
        return np.asarray(cased * slow_cased + open_hole * slow_open)


@dataclass(frozen=True)
class RunTimes:
    """Times of a run that do not depend on depth, scalars or shape (n,).

    fixed: waiting, making up, circulating, working and laying down, or all hours of a
    run given as plain hours [h]; trips: number of round trips (0 for plain hours); factor: on
    all of them.
    """

    fixed: Array
    trips: int
    factor: float = 1.0

    def hours(self, top: Array, speeds: TripSpeeds | None) -> Array:
        """Hours [h] of the run with the fish top at `top` [ft]."""
        hours = self.fixed
        if self.trips > 0 and speeds is not None:
            hours = np.asarray(self.fixed + self.trips * speeds.round_trip(top))
        return hours if self.factor == 1.0 else np.asarray(self.factor * hours)


def _trip(depth: Array, *, shoe: float, cased: Array, open_hole: Array) -> Array:
    hours = np.minimum(depth, shoe) / cased + np.maximum(depth - shoe, 0.0) / open_hole
    return np.asarray(hours)
