"""The file of speeds from daily reports that `econ daily` writes and a scenario takes by
`speeds_from`.

    schema = 1
    units = "field"                  # of speeds and hole sizes: ft/h and in, or m/h and mm
    source = "14 daily reports ..."  # what it was made from
    reports, wells, hours, unmatched
    [lost]  weather, repair          # share of all hours
    [value.trip_in_open]             # one for each of NAMES that was seen
    cases, wells, p10, p50, p90
    [[drilling]]                     # one for each hole size
    hole_size, cases, wells, p10, p50, p90
Checked as strictly as a scenario.
"""

from __future__ import annotations

import os
from typing import Annotated, Literal

from pydantic import BeforeValidator, Field, model_validator
from pydantic_core import PydanticCustomError

from econ.scenario.amounts import Finite, Positive
from econ.scenario.base import Section, key
from econ.scenario.evidence import Whole
from econ.scenario.odds_file import Fraction, read_named
from econ.scenario.scenario import version_one

ValueName = Literal[
    "trip_in_cased",
    "trip_in_open",
    "trip_in",
    "trip_out_cased",
    "trip_out_open",
    "trip_out",
    "make_up",
    "circulate",
    "plug_hours",
    "woc",
    "cement_to_entry",
    "wait_on_cement",
    "logging",
]
MOST_SIZES = 200  # of drilling rates


class Percentiles(Section):
    """What single cases were."""

    cases: Annotated[int, Field(ge=1)] = key("Number of cases")
    wells: Annotated[int, Field(ge=1)] = key("Wells that they are from")
    p10: Annotated[Finite, Field(ge=0)] = key("Not exceeded by 1 case in 10")
    p50: Positive = key("Not exceeded by half of the cases")
    p90: Positive = key("Not exceeded by 9 cases in 10")

    @model_validator(mode="after")
    def _rising(self) -> Percentiles:
        if self.p10 <= self.p50 <= self.p90:
            return self
        raise PydanticCustomError(
            "rising",
            "{given}",
            {
                "given": f"p10 = {self.p10:g}, p50 = {self.p50:g}, p90 = {self.p90:g}",
                "allowed": "p10 <= p50 <= p90",
                "suggestion": "write the file again with econ daily",
            },
        )


class DrillingRate(Percentiles):
    """Drilling in one hole size."""

    hole_size: Positive = key("Diameter of the hole")


class Lost(Section):
    """[lost]: shares of all hours."""

    weather: Fraction = key("Waited for weather", 0.0)
    repair: Fraction = key("Repairs", 0.0)


class SpeedsFile(Section):
    """Speeds, hours and rates from daily reports as a file holds them."""

    schema_: Annotated[Literal[1], BeforeValidator(version_one)] = key(
        "Version of the format", alias="schema"
    )
    units: Literal["field", "metric"] = key("Units of speeds and hole sizes")
    source: Annotated[str, Field(min_length=1, max_length=200)] = key("What it was made from")
    reports: Whole = key("Daily reports")
    wells: Whole = key("Wells")
    hours: Annotated[Finite, Field(ge=0)] = key("Hours that they tell of")
    unmatched: Fraction = key("Share of the hours of which nothing was known", 0.0)
    lost: Lost = key("Time lost", Lost())
    value: dict[ValueName, Percentiles] = key("Speeds and hours by name", default={})
    drilling: Annotated[list[DrillingRate], Field(max_length=MOST_SIZES)] = key(
        "Drilling rates by hole size", default=[]
    )


def read_speeds_file(path: str | os.PathLike[str]) -> SpeedsFile:
    """The speeds in the file at `path`; ScenarioError with every fault, each naming the file."""
    return read_named(path, SpeedsFile, "econ daily REPORTS --out FILE writes one")
