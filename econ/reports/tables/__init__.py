"""Every number that is shown anywhere, as tables; reports only lay them out."""

from econ.reports.tables.answer import (
    all_notes,
    belief,
    beliefs,
    by_runs,
    document,
    latest_start,
    next_run,
    no_limit_by_days,
    states,
)
from econ.reports.tables.decision import (
    fallback_reaches,
    fallback_rows,
    information,
    insurance,
    paying_readings,
    rentals,
    risk,
)
from econ.reports.tables.morning import morning
from econ.reports.tables.plain import length_factor, length_unit

__all__ = [
    "all_notes",
    "belief",
    "beliefs",
    "by_runs",
    "document",
    "fallback_reaches",
    "fallback_rows",
    "information",
    "insurance",
    "latest_start",
    "length_factor",
    "length_unit",
    "morning",
    "next_run",
    "no_limit_by_days",
    "paying_readings",
    "rentals",
    "risk",
    "states",
]
