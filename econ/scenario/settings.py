"""[limits], [weather], [deadline], [[correlation]] and [draws]: what binds the decision and its
clock, and how it is sampled."""

from __future__ import annotations

from datetime import date
from typing import Annotated, Literal

from pydantic import Field, model_validator
from pydantic_core import PydanticCustomError

from econ.scenario.amounts import Amount, Finite
from econ.scenario.base import (
    COUNT,
    MOST_CONTRACTS,
    DayRate,
    Days,
    FixedDays,
    FixedHours,
    Money,
    Section,
    Sum,
    key,
)
from econ.scenario.hole import Moment
from econ.scenario.quantities import Quantity

LostShare = Annotated[Amount, Quantity("share", least=0, most=0.9)]
MOST_HOLIDAYS = 100
MOST_DRAWS = 4096  # of a scramble, where the file does not say


class Limits(Section):
    """[limits]: what binds the decision."""

    minimum_runs: Annotated[int, Field(ge=0)] | None = key(
        "Least number of runs; left out it is 0, or 1 with a sealed source",
        None,
        json_schema_extra=COUNT,
    )
    authority: Sum | None = key("Money approved from now on", None)
    response_hours: FixedHours = key("Hours partners have for an answer", 48.0)
    response_days: Literal["calendar", "working"] = key(
        "Whether these hours run on all days, or stand still on Saturdays, Sundays and holidays",
        "calendar",
    )
    holidays: Annotated[list[date], Field(max_length=MOST_HOLIDAYS)] = key(
        "Days besides Saturday and Sunday on which working hours stand still", default=[]
    )
    time_zone: Annotated[str, Field(max_length=60)] = key(
        "Zone in which a day begins and ends, such as America/Chicago; left out, that of "
        "decided_at, and clocks are never put forward or back",
        "",
    )
    notice_at: Moment | None = key(
        "When the partners are asked; left out, when costs are counted from", None
    )
    approval_hours: FixedHours | None = key(
        "Hours until regulator and licensee approve a plug over a sealed source: at the spread, "
        "before every fallback that leaves the source in the hole, whatever the weather",
        None,
    )
    risk_tolerance: Annotated[Finite, Quantity("money", least=0, above=True)] | None = key(
        "Risk tolerance of exponential utility", None
    )


class Weather(Section):
    """[weather]: share of the clock's time that is lost; hours take so much longer."""

    fishing: LostShare = key("Of runs, their waits, parting, readings and recovery", 0.0)
    fallback: LostShare = key("Of fallbacks, the wait on cement included", 0.0)


class Deadline(Section):
    """[deadline]: what it costs to end late: a rig contract, a season, a lease."""

    at: Moment | None = key("When the deadline is; needs decided_at; or give in_days", None)
    in_days: FixedDays | None = key("Days from the decision to the deadline, instead of at", None)
    work_after_days: Days = key(
        "Days of work after the last operation that must be done by then", 0.0
    )
    cost_once: Money = key("Paid once if that ends later than the deadline", 0.0)
    cost_per_day: DayRate = key("Paid for each day late, fractions counted", 0.0)

    @model_validator(mode="after")
    def _one_end(self) -> Deadline:
        if (self.at is None) == (self.in_days is None):
            raise PydanticCustomError(
                "one_deadline",
                "{given}",
                {
                    "given": "neither at nor in_days" if self.at is None else "both at and in_days",
                    "allowed": "one of: at (a date and time), in_days (from the decision)",
                    "suggestion": "such as in_days = 21",
                },
            )
        return self


class Correlation(Section):
    """[[correlation]]: amounts that move together."""

    of: Annotated[list[str], Field(min_length=2, max_length=MOST_CONTRACTS)] = key(
        "Key paths of the amounts, list items counted from 1: rates.rig, run.2.charge"
    )
    rho: Annotated[Finite, Quantity("ratio", least=-1, most=1, above=True, below=True)] = key(
        "Rank correlation between each two of them"
    )


class DrawSettings(Section):
    """[draws]: size and seed of the sampling."""

    n: Annotated[int, Field(ge=16, le=2**22)] | None = key(
        "Draws a scramble, a power of two; left out they are doubled until the error is small",
        None,
        json_schema_extra=COUNT,
    )
    seed: Annotated[int, Field(ge=0, lt=2**63)] = key(
        "Seed; 0 is a seed like any other", 1, json_schema_extra=COUNT
    )
    scrambles: Annotated[int, Field(ge=16, le=1024)] = key(
        "Independent scrambles, from which the standard error comes",
        16,
        json_schema_extra=COUNT,
    )

    @model_validator(mode="after")
    def _power(self) -> DrawSettings:
        if self.n is not None and self.n & (self.n - 1):
            raise PydanticCustomError(
                "power_of_two",
                "{given}",
                {
                    "given": f"n = {self.n}",
                    "allowed": "a power of two from 16 to 4194304",
                    "suggestion": f"n = {1 << self.n.bit_length()}",
                    "key": "n",
                },
            )
        return self

    @property
    def most(self) -> int:
        """Draws of a scramble that are made at the most."""
        return MOST_DRAWS if self.n is None else self.n
