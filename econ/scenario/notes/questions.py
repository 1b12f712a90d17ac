"""Questions on numbers that look wrong: each with both numbers, none of them a fault.

Sources of the bands: trips and plugs from the daily reports of one field, 2018 (1,380 reports, our
reading, grade B): net 200 to 759 m/h in and 173 to 897 m/h out from P10 to P90; plugs that held
were entered 34 to 69 h after cementing, plugs that failed 11 to 27 h after. The kick-off above the
fish is judgement, no source; so are the ratios that nobody means.
"""

from __future__ import annotations

from collections.abc import Iterator

from econ.scenario.amounts import ends_and_middle
from econ.scenario.fallbacks import Sidetrack
from econ.scenario.notes.registry import Beside, note
from econ.scenario.quantities import UNITS
from econ.scenario.scenario import Scenario

MOST_RATIO = 1.5  # odds of recovery that grow by more than half each day
MOST_LOSS_RATIO = 5.0
KICKOFF = (150.0, 350.0)  # [ft] above the fish
PLUGS_FAILED, PLUGS_HELD = (11, 27), (34, 69)  # [h] from cementing to entering
METRE = 1 / 0.3048  # [ft]
IN_BAND = (200 * METRE, 759 * METRE)  # [ft/h]
OUT_BAND = (173 * METRE, 897 * METRE)


@note
def ratio_as_percent(scenario: Scenario) -> Iterator[str]:
    """A ratio a day of 85 is 85 percent."""
    fishing = scenario.fishing
    for name, most in (
        ("odds_ratio_per_day", MOST_RATIO),
        ("loss_odds_ratio_per_day", MOST_LOSS_RATIO),
    ):
        ratio = ends_and_middle(getattr(fishing, name))[1]
        if ratio > most:
            yield Beside(
                f"fishing.{name}",
                f"fishing.{name} = {ratio:g}: do the odds grow {ratio:g} times a day, or is "
                f"{ratio / 100:g} meant, {ratio:g} percent?",
            )


@note
def kicked_off_beside_the_fish(scenario: Scenario) -> Iterator[str]:
    """A sidetrack needs plug below the kick-off and room beside the fish."""
    unit = UNITS["length"][scenario.units != "field"]
    factor = 1.0 if scenario.units == "field" else UNITS["length"][2]
    low, high = (feet / factor for feet in KICKOFF)
    for number, fallback in enumerate(scenario.fallback, start=1):
        if not isinstance(fallback, Sidetrack):
            continue
        given = ends_and_middle(fallback.kickoff_above_fish)[1]
        above = scenario.own_length(fallback, "kickoff_above_fish", given)
        if above < low / 2:
            yield Beside(
                f"fallback.{number}.kickoff_above_fish",
                f"fallback.{number}.kickoff_above_fish = {above:.3g} {unit}: does it pass the "
                f"fish? practice leaves {low:.3g} to {high:.3g} {unit} for plug and separation",
            )


@note
def cement_by_hours_alone(scenario: Scenario) -> Iterator[str]:
    """Hours alone are weak evidence that a plug holds."""
    for number, fallback in enumerate(scenario.fallback, start=1):
        if not isinstance(fallback, Sidetrack) or fallback.cement_tested or not fallback.plugs:
            continue
        hours = ends_and_middle(fallback.woc)[1]
        if hours < PLUGS_HELD[0]:
            yield Beside(
                f"fallback.{number}.woc",
                f"fallback.{number}.woc = {hours:g} h: is the strength at hole temperature known "
                f"from a laboratory (cement_tested)? in one field plugs that held were entered "
                f"{PLUGS_HELD[0]} to {PLUGS_HELD[1]} h after cementing, plugs that failed "
                f"{PLUGS_FAILED[0]} to {PLUGS_FAILED[1]} h after",
            )


@note
def trips_outside_the_band(scenario: Scenario) -> Iterator[str]:
    """Trip speeds against those that one field reported."""
    job = scenario.in_field_units()
    if job.trip_speed is None:
        return
    unit = UNITS["speed"][scenario.units != "field"]
    factor = 1.0 if scenario.units == "field" else UNITS["speed"][2]
    for way, speeds, band in (
        ("in", job.trip_speed.into, IN_BAND),
        ("out", job.trip_speed.out, OUT_BAND),
    ):
        speed = ends_and_middle(speeds.open)[1]
        if not band[0] <= speed <= band[1]:
            low, high = (end / factor for end in band)
            yield Beside(
                f"trip_speed.{way}.open",
                f"trip_speed.{way}.open = {speed / factor:,.0f} {unit}: is that this rig's? one "
                f"field reported {low:,.0f} to {high:,.0f} {unit} in 8 of 10 trips",
            )
