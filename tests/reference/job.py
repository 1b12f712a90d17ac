"""Reference formulas of the trade, worked straight on the raw scenario table.

The scenario is the table that `tomllib.load` returns, in field units. Every amount in it is a
number, or an array with one entry per trial once the distributions have been drawn, so the same
lines serve a single case and many trials.

Symbols
    T      top of the fish [ft]
    K      kick-off depth [ft]
    D      depth of the well [ft]; the redrill is D - K
    in(z)  hours to trip in to depth z;  out(z) hours to trip out from z
           z' = min(z, shoe):  in(z) = z' / v_cased + (z - z') / v_open
    q      chance that one kick-off attempt fails; mean number of retries q / (1 - q)

Run       wait + sum over trips of [make up + in(T) + circulate + work + out(T) + lay down],
          or wait + plain hours
Sidetrack [stinger + in(K) + condition] + plug hours x plugs + [out(K) + stinger]
          + max(0, WOC - out(K) - stinger - make up - in(K)) + [make up + in(K)] + dress
          + kick-off length / kick-off rate + max(0, redrill - kick-off length) / gross ROP
          + bit trips x (in(m) + out(m) + 4) + logging,     m = (K + D) / 2
          bit trips = floor(max(0, redrill - 1) / bit life)
Retry     2 stinger + plug + 2 out(K) + 2 in(K) + WOC not hidden + make up + dress
          + half the kick-off time, and the materials of one plug
"""

from dataclasses import dataclass
from typing import Any, Literal, TypeAlias

import numpy as np
from numpy.typing import NDArray

Amount: TypeAlias = float | NDArray[np.float64]
Table: TypeAlias = dict[str, Any]
Ending: TypeAlias = Literal["limit", "string_lost", "hole_lost"]

OUTCOMES = ("recovered", "part", "nothing", "top_damaged", "string_lost", "hole_lost")
HOURS_PER_DAY = 24.0
LEAST_FISH_LEFT = 30.0  # [ft] a partial recovery never leaves less fish than this
HANDLING_PER_BIT_TRIP = 4.0  # [h]


def check_covered(scenario: Table) -> None:
    """Raise ValueError where the reference would silently answer another question."""
    if scenario.get("units", "field") != "field":
        raise ValueError("the reference works in field units only")
    if scenario.get("rental"):
        raise ValueError("the reference has no rental contracts; give the lump sums instead")


def spread(scenario: Table) -> Amount:
    """Return the daily rate that every branch pays [currency/day]."""
    total: Amount = sum(scenario["rates"].values())
    return total


def fishing_day(scenario: Table) -> Amount:
    """Return the daily rate of the fishing services [currency/day]."""
    total: Amount = sum(scenario.get("fishing", {}).get("day_rates", {}).values())
    return total


def trip_hours(scenario: Table, *, depth: Amount, direction: Literal["in", "out"]) -> Amount:
    """Return the hours of one trip between surface and `depth` [ft]."""
    speed = scenario["trip_speed"][direction]
    cased = np.minimum(depth, scenario["well"]["shoe_depth"])
    hours: Amount = cased / speed["cased"] + (depth - cased) / speed["open"]
    return hours


def run_hours(scenario: Table, run: Table, *, fish_top: Amount) -> Amount:
    """Return the hours of a run [h] at the present `fish_top` [ft].

    Plain `hours` stand in place of the trips; the wait comes before either.
    """
    total: Amount = run.get("wait", 0.0)
    if "hours" in run:
        total = total + run["hours"]
        return total
    for trip in run["trips"]:
        total = (
            total
            + trip.get("make_up", 0.0)
            + trip_hours(scenario, depth=fish_top, direction="in")
            + trip.get("circulate", 0.0)
            + trip.get("work", 0.0)
            + trip_hours(scenario, depth=fish_top, direction="out")
            + trip.get("lay_down", 0.0)
        )
    return total


def run_cost(scenario: Table, run: Table, *, fish_top: Amount) -> Amount:
    """Return the cost of a run [currency], without the mobilization that is paid once."""
    days = run_hours(scenario, run, fish_top=fish_top) / HOURS_PER_DAY
    cost: Amount = days * (spread(scenario) + fishing_day(scenario)) + run.get("charge", 0.0)
    return cost


def fishing_mobilization(scenario: Table) -> Amount:
    """Return what is paid once if any run is made [currency]."""
    cost: Amount = scenario.get("fishing", {}).get("mobilization", 0.0)
    return cost


def common_days(scenario: Table) -> Amount:
    """Return the time owed on every branch before the first decision [days]."""
    days: Amount = scenario.get("common", {}).get("hours", 0.0) / HOURS_PER_DAY
    return days


def common_cost(scenario: Table) -> Amount:
    """Return the cost owed on every branch before the first decision [currency]."""
    cost: Amount = scenario.get("common", {}).get("cost", 0.0)
    return common_days(scenario) * spread(scenario) + cost


def recovery_cost(scenario: Table) -> Amount:
    """Return the cost from fish out to back at depth, S [currency]."""
    if "recovery" not in scenario:
        return 0.0
    tail = scenario["recovery"]
    rate = spread(scenario) + tail["fishing_share"] * fishing_day(scenario)
    cost: Amount = tail["hours"] / HOURS_PER_DAY * rate + tail["charge"]
    return cost


def top_after_part(scenario: Table, run: Table, *, fish_top: Amount) -> Amount:
    """Return the fish top [ft] after a partial recovery; it never moves up."""
    deepest = np.maximum(fish_top, scenario["fish"]["bottom"] - LEAST_FISH_LEFT)
    top: Amount = np.minimum(fish_top + run.get("part_length", 0.0), deepest)
    return top


def value_in_hole(scenario: Table, *, fish_top: Amount) -> Amount:
    """Return the value of the pieces below `fish_top` [ft], pro rata by length [currency]."""
    total: Amount = 0.0
    piece_top: Amount = scenario["fish"]["top"]
    for piece in scenario["fish"].get("piece", []):
        piece_bottom = piece_top + piece["length"]
        length_left = np.maximum(0.0, piece_bottom - np.maximum(piece_top, fish_top))
        total = total + piece["value"] * length_left / piece["length"]
        piece_top = piece_bottom
    return total


@dataclass(frozen=True)
class SidetrackHours:
    """Hours of an open-hole sidetrack, item by item [h]; `retry` is one more attempt."""

    stinger_in: Amount
    plugs: Amount
    stinger_out: Amount
    woc_not_hidden: Amount
    kickoff_assembly_in: Amount
    dress: Amount
    kickoff: Amount
    redrill: Amount
    bit_trips: Amount
    logging: Amount
    retry: Amount
    number_of_bit_trips: Amount

    @property
    def base(self) -> Amount:
        """Return the hours when the first kick-off holds [h]."""
        return (
            self.stinger_in
            + self.plugs
            + self.stinger_out
            + self.woc_not_hidden
            + self.kickoff_assembly_in
            + self.dress
            + self.kickoff
            + self.redrill
            + self.bit_trips
            + self.logging
        )


def sidetrack_hours(scenario: Table, fallback: Table, *, kickoff_depth: Amount) -> SidetrackHours:
    """Return the hours of a sidetrack that kicks off at `kickoff_depth` [ft]."""
    well_depth = scenario["well"]["depth"]
    trip_in = trip_hours(scenario, depth=kickoff_depth, direction="in")
    trip_out = trip_hours(scenario, depth=kickoff_depth, direction="out")
    stinger, make_up, dress = fallback["stinger"], fallback["make_up"], fallback["dress"]
    woc_left = np.maximum(0.0, fallback["woc"] - trip_out - stinger - make_up - trip_in)
    kickoff = fallback["kickoff_length"] / fallback["kickoff_rate"]

    redrill = well_depth - kickoff_depth
    middle = (kickoff_depth + well_depth) / 2.0
    bit_trips = np.floor(np.maximum(0.0, redrill - 1.0) / fallback["bit_life"])
    round_trip = trip_hours(scenario, depth=middle, direction="in") + trip_hours(
        scenario, depth=middle, direction="out"
    )
    return SidetrackHours(
        stinger_in=stinger + trip_in + fallback["condition"],
        plugs=fallback["plug_hours"] * fallback["plugs"],
        stinger_out=trip_out + stinger,
        woc_not_hidden=woc_left,
        kickoff_assembly_in=make_up + trip_in,
        dress=dress,
        kickoff=kickoff,
        redrill=np.maximum(0.0, redrill - fallback["kickoff_length"]) / fallback["gross_rop"],
        bit_trips=bit_trips * (round_trip + HANDLING_PER_BIT_TRIP),
        logging=fallback["logging_hours"],
        retry=2.0 * stinger
        + fallback["plug_hours"]
        + 2.0 * trip_out
        + 2.0 * trip_in
        + woc_left
        + make_up
        + dress
        + kickoff / 2.0,
        number_of_bit_trips=bit_trips,
    )


@dataclass(frozen=True)
class FallbackBill:
    """What a fallback costs: a certain part, retries of the kick-off, and sticking again."""

    certain: Amount  # [currency]
    per_retry: Amount  # [currency]
    kickoff_failure: Amount
    stick_chance: Amount
    stick_cost: Amount  # [currency]

    @property
    def expected(self) -> Amount:
        """Return the mean cost [currency]."""
        retries = self.kickoff_failure / (1.0 - self.kickoff_failure)
        return self.certain + retries * self.per_retry + self.stick_chance * self.stick_cost


def kickoff_depth(scenario: Table, fallback: Table, *, fish_top: Amount, hole_lost: bool) -> Amount:
    """Return the kick-off depth [ft] above `fish_top` [ft], or below the shoe if hole is lost."""
    if hole_lost:
        below_shoe: Amount = scenario["well"]["shoe_depth"] + fallback["kickoff_below_shoe"]
        return below_shoe
    depth: Amount = np.maximum(fish_top - fallback["kickoff_above_fish"], fallback["kickoff_floor"])
    return depth


def fallback_bill(
    scenario: Table,
    fallback: Table,
    *,
    fish_top: Amount,
    ending: Ending,
    run: Table | None = None,
) -> FallbackBill:
    """Return the bill of `fallback` when fishing ends at `fish_top` [ft] by `ending`.

    `run` is the run that lost the string or the hole; a limit needs none.
    After `hole_lost` the whole original fish is owed, also pieces brought out earlier: the
    contract says "with the whole fish".
    """
    top_in_hole, owed_from = fish_top, fish_top
    string_left: Amount = 0.0
    if ending != "limit":
        if run is None:
            raise ValueError("losing the string or the hole needs the run that did it")
        string_left = run.get("string_value", 0.0)
        if ending == "string_lost":
            top_in_hole = fish_top - run.get("string_length", 0.0)
        else:
            share = scenario.get("fishing", {}).get("hole_lost_string_share", 0.3)
            string_left = string_left * share
            owed_from = scenario["fish"]["top"]
    in_hole = value_in_hole(scenario, fish_top=owed_from)
    left_behind = in_hole * fallback.get("lost_in_hole_share", 1.0) + string_left

    if "kickoff_above_fish" not in fallback:
        days = fallback["hours"] / HOURS_PER_DAY
        lump = days * spread(scenario) + fallback.get("cost", 0.0)
        return FallbackBill(
            certain=lump + fallback.get("value_given_up", 0.0) + left_behind,
            per_retry=0.0,
            kickoff_failure=0.0,
            stick_chance=0.0,
            stick_cost=0.0,
        )

    depth = kickoff_depth(scenario, fallback, fish_top=top_in_hole, hole_lost=ending == "hole_lost")
    hours = sidetrack_hours(scenario, fallback, kickoff_depth=depth)
    day_rate = spread(scenario) + fallback.get("directional_day", 0.0)
    plug_cost = fallback.get("plug_cost", 0.0)
    stick = fallback.get("stick_again", {"chance": 0.0, "cost": 0.0})
    return FallbackBill(
        certain=hours.base / HOURS_PER_DAY * day_rate
        + plug_cost * fallback["plugs"]
        + fallback.get("mobilization", 0.0)
        + fallback.get("bit_cost", 0.0) * (1.0 + hours.number_of_bit_trips)
        + fallback.get("logging_cost", 0.0)
        + fallback.get("other_cost", 0.0)
        + left_behind,
        per_retry=hours.retry / HOURS_PER_DAY * day_rate + plug_cost,
        kickoff_failure=fallback.get("kickoff_failure", 0.0),
        stick_chance=stick["chance"],
        stick_cost=stick["cost"],
    )


# ---- odds that move ---------------------------------------------------------------------------

GIVES_WAY = ("part", "top_damaged")  # where `nothing` has not enough to give


def settled(odds: dict[str, float]) -> dict[str, float]:
    """Return odds that sum to 1 again after some of them were moved by time.

    `nothing` takes up what is left of 1, or gives what is missing. What it has not to give comes
    from `part` and `top_damaged` in proportion; if they have too little as well, they are gone and
    what remains is divided by its sum.
    """
    left = dict(odds)
    missing = sum(left.values()) - 1.0
    given = min(missing, left["nothing"])
    left["nothing"] -= given
    missing -= given
    if missing <= 0.0:
        return left
    available = sum(left[outcome] for outcome in GIVES_WAY)
    for outcome in GIVES_WAY:
        share = left[outcome] / available if available > 0.0 else 0.0
        left[outcome] -= min(missing, available) * share
    total = sum(left.values())
    return {outcome: chance / max(total, 1.0) for outcome, chance in left.items()}
