"""Numbers, lengths and times as a report writes them.

A length counts only with its unit of measure: a number without one could be 3.28 times another.
A number of -999 or below stands for no value in these reports (-999.25, -999.99), and so does
whatever no hole can be: below 0 or beyond 60,000 ft.
"""

from __future__ import annotations

import math
import re
from datetime import UTC, datetime, timedelta

from econ.records.daily_reports.activity import EPOCH, Moment

NO_VALUE = -999.0
DEEPEST = 60_000.0  # [ft]
WIDEST = 80.0  # [in]
# 1 ft = 0.3048 m exactly (international foot, 1959); 1 US survey ft = 1200/3937 m (1893).
LENGTHS = {
    "m": 1 / 0.3048,
    "ft": 1.0,
    "ft[us]": 1200 / 3937 / 0.3048,
    "ftus": 1200 / 3937 / 0.3048,
    "cm": 0.01 / 0.3048,
    "mm": 0.001 / 0.3048,
    "km": 1000 / 0.3048,
    "in": 1 / 12,
    "inch": 1 / 12,
}
TIMES = {"h": 1.0, "hr": 1.0, "min": 1 / 60, "s": 1 / 3600, "d": 24.0}
NUMBER = re.compile(r"[-+]?(\d+\.?\d*|\.\d+)([eE][+-]?\d{1,3})?", re.ASCII)
END_OF_DAY = re.compile(r"(\d{4}-\d\d-\d\d)[Tt ]24:00(?::00(?:\.0+)?)?(.*)", re.ASCII)
YEARS = (1900, 2099)


def number(text: str) -> float | None:
    """A number of the XML form; None where there is none or it stands for no value.

    >>> number("12.5"), number("-999.99"), number("NaN")
    (12.5, None, None)
    """
    stripped = text.strip()
    if not NUMBER.fullmatch(stripped):
        return None
    value = float(stripped)
    return value if math.isfinite(value) and value > NO_VALUE else None


def length(text: str, unit: str, *, most: float = DEEPEST) -> float | None:
    """A length [ft], up to `most`; None where it has no value. KeyError on an unknown `unit`.

    >>> round(length("100", "m"), 1), length("-999.99", "m")
    (328.1, None)
    """
    value = number(text)
    if value is None:
        return None
    found = value * LENGTHS[unit.strip().lower()]
    return found if 0 <= found <= most else None


def hours(text: str, unit: str) -> float | None:
    """A duration [h]; None where it has no value. KeyError on an unknown `unit`."""
    value = number(text)
    return None if value is None or value < 0 else value * TIMES[unit.strip().lower()]


def moment(text: str) -> Moment | None:
    """A date and time of ISO 8601; None where it is none. The hour 24 is midnight at the end of
    the day, and a date alone at its beginning.

    >>> moment("2026-03-01T06:00:00+01:00").written(), moment("2026-03-01T24:00:00Z").written()
    ('2026-03-01T06:00+01:00', '2026-03-02T00:00+00:00')
    """
    stripped = text.strip()
    late = END_OF_DAY.fullmatch(stripped)
    if late is not None:
        stripped = f"{late[1]}T00:00:00{late[2]}"
    if len(stripped) < 10 or (len(stripped) > 10 and stripped[10] not in "Tt "):
        return None
    try:
        found = datetime.fromisoformat(stripped) + timedelta(days=late is not None)
    except (ValueError, OverflowError):
        return None
    if not YEARS[0] <= found.year <= YEARS[1]:
        return None
    shift = found.utcoffset()
    zone = None if shift is None else shift.total_seconds() / 3600
    aware = found.replace(tzinfo=UTC) if zone is None else found
    return Moment((aware - EPOCH).total_seconds() / 3600, zone)
