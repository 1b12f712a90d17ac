"""Notes on what a file says, leaves out, or says against the experience of the trade."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from econ.scenario.amounts import ends_and_middle
from econ.scenario.distributions import Distribution
from econ.scenario.fallbacks import Sidetrack
from econ.scenario.hazards import hazards
from econ.scenario.marks import ATTACHED
from econ.scenario.notes.registry import Beside, note
from econ.scenario.program import Run
from econ.scenario.scenario import Scenario

MASS_WORTH_A_NOTE = 1e-5
SAME = 0.01  # two sums this close, as a share, may be one sum written twice
# Fastest plausible round trip: 1 h per 1,000 ft (public oilfield glossary, "round trip"),
# that is 2,000 ft/h each way.
FASTEST_TRIP = 2000.0  # [ft/h]
NO_TRIP = (
    "soak",
    "freepoint_backoff",
    "work_jar",
    "sever",
    "chemical_cut",
    "source_retrieval",
    "other",
)  # runs that need no round trip of the string


@note
def cut_off(scenario: Scenario) -> Iterator[str]:
    """A tail outside the range of its key is cut off."""
    for path, given, quantity in scenario.amounts():
        outside = given.mass_outside(least=quantity.least, most=quantity.most)
        if outside > MASS_WORTH_A_NOTE:
            yield Beside(
                path,
                f"{path}: {outside:.2g} of the {given.name} distribution lies outside the range "
                f"({quantity.allowed()}); it is cut off there",
            )


@note
def planning_values(scenario: Scenario) -> Iterator[str]:
    """A built-up sidetrack rests on planning values."""
    assumed = list(scenario.assumed())
    free = [path for path, value, _ in assumed if value == 0]
    if free:
        yield "nothing is counted for keys left out: " + ", ".join(free)
    values = [f"{path} = {value:.4g} {unit}".strip() for path, value, unit in assumed if value]
    if values:
        yield (
            "planning values (judgement, no source) stand in for keys left out: "
            + ", ".join(values)
        )


@note
def no_tail(scenario: Scenario) -> Iterator[str]:
    """Recovery is not the end: the hole must be put right."""
    if scenario.run and scenario.recovery.hours == 0:
        yield Beside(
            "recovery.hours",
            "no tail after recovery: [recovery] hours = 0, but a fish on deck is not a hole fit to "
            "drill; give the tail",
        )


@note
def perfect_kickoff(scenario: Scenario) -> Iterator[str]:
    """Fallbacks can fail too."""
    for number, fallback in enumerate(scenario.fallback, start=1):
        if isinstance(fallback, Sidetrack) and fallback.kickoff_failure == 0:
            yield Beside(
                f"fallback.{number}.kickoff_failure",
                f"perfect kick-off: fallback.{number}.kickoff_failure = 0, but no plug is sure to "
                "hold a kick-off",
            )
        if isinstance(fallback, Sidetrack) and (
            fallback.stick_again.chance == 0
            or (fallback.stick_again.cost == 0 and fallback.stick_again.hours == 0)
        ):
            yield Beside(
                f"fallback.{number}.stick_again.chance",
                f"perfect redrill: fallback.{number}.stick_again is 0, but the same rock may stick "
                "the string again",
            )


@note
def kickoff_in_casing(scenario: Scenario) -> Iterator[str]:
    """An open-hole sidetrack leaves below the shoe, also from above a lost string."""
    shoe, top = scenario.well.shoe_depth, scenario.fish.top
    for number, fallback in enumerate(scenario.fallback, start=1):
        if not isinstance(fallback, Sidetrack):
            continue
        floor = scenario.kickoff_floor(fallback)
        if floor < shoe:
            yield Beside(
                f"fallback.{number}.kickoff_floor",
                f"fallback.{number}.kickoff_floor lies in casing: a kick-off above the shoe, "
                f"{shoe:g}, needs a window, which is not in this build-up",
            )
        lengths = [run.string_length for run in scenario.run]
        known = [each for each in lengths if not isinstance(each, Distribution)]
        if known and top - max(known) <= floor:
            yield (
                f"fallback.{number}: with the fishing string lost its top would stand above the "
                "kick-off floor; the sidetrack is still counted from the floor"
            )


@note
def fast_trips(scenario: Scenario) -> Iterator[str]:
    """Trips beyond the published band are optimistic, even at the slow end of their range."""
    job = scenario.in_field_units()
    top, shoe = job.fish.top, min(job.well.shoe_depth, job.fish.top)
    published = 2 * top / FASTEST_TRIP
    band = f"the published 1 h per 1,000 ft (305 m), {published:.1f} h to the fish top and back"
    if job.trip_speed is not None:
        ways = (job.trip_speed.into, job.trip_speed.out)
        in_open = [ends_and_middle(way.open)[0] for way in ways]
        in_casing = [ends_and_middle(way.cased)[0] for way in ways]
        hours = sum(shoe / speed for speed in in_casing) + sum((top - shoe) / s for s in in_open)
        if hours < published or max(in_open) > FASTEST_TRIP:
            yield (
                f"optimistic trips: trip_speed gives {hours:.1f} h and {max(in_open):,.0f} ft/h in "
                f"open hole, at the slow end of its ranges, against {band}; use the rig's own "
                "record of fishing strings"
            )
    for number, run in enumerate(job.run, start=1):
        if (
            run.hours is not None
            and run.kind not in NO_TRIP
            and ATTACHED not in run.needs
            and ends_and_middle(run.hours)[2] < published
        ):
            yield Beside(
                f"run.{number}.hours",
                f"optimistic trips: run.{number}.hours is less than {band}; the run has to trip "
                "there and work as well",
            )


@note
def odds_do_not_fall(scenario: Scenario) -> Iterator[str]:
    """Failed runs are evidence; one table of odds cannot learn from them."""
    if not scenario.has_kinds:
        catches = [odds for odds in map(_recovered, scenario.run) if odds > 0]
        if any(later >= earlier for earlier, later in pairwise(catches)):
            yield (
                "failure not taken as evidence: odds without kinds of fish; a failed run teaches "
                "nothing here, and the odds do not fall from run to run; give odds by kind "
                "(workable, stubborn)"
            )
    stated = scenario.doubt or "workable" in scenario.fishing.model_fields_set
    if scenario.has_kinds and not stated:
        yield "fishing.workable left out: 0.5 stands in for the chance that the fish is workable"


@note
def part_without_length(scenario: Scenario) -> Iterator[str]:
    """Outcomes need what they bring or cost."""
    for number, run in enumerate(scenario.run, start=1):
        tables = run.odds_by_kind()
        if any(odds.part > 0 for odds in tables) and run.part_length == 0:
            yield Beside(
                f"run.{number}.part_length",
                f"part taken for success: in run.{number} part is possible but part_length is 0, "
                "so it brings nothing",
            )
        empty = [name for name in ("string_value", "string_length") if getattr(run, name) == 0]
        if any(odds.string_lost > 0 for odds in tables) and empty:
            yield (
                f"second fish forgotten: in run.{number} the string can be lost but "
                f"{' and '.join(empty)} {'is' if len(empty) == 1 else 'are'} 0"
            )


@note
def no_mechanism(scenario: Scenario) -> Iterator[str]:
    """Odds depend on what holds the fish."""
    if scenario.run and scenario.fish.mechanism == "unknown":
        yield Beside(
            "fish.mechanism",
            "averaging over mechanisms: fish.mechanism is unknown, but odds depend on what holds "
            "the fish",
        )


@note
def fish_weight(scenario: Scenario) -> Iterator[str]:
    """The drawing agrees with the hook load lost."""
    job = scenario.in_field_units()
    weights = [piece.weight for piece in job.fish.piece]
    loss, mud = job.fish.hook_load_loss, job.well.mud_weight
    known = [weight for weight in weights if weight is not None]
    if loss is None or mud is None or not known or len(known) < len(weights):
        return
    # Buoyancy of steel, (65.5 - mud weight) / 65.5 with lb/gal: any drilling handbook.
    in_mud = sum(known) * (65.5 - mud) / 65.5
    if abs(in_mud - loss) > 0.1 * loss:
        yield Beside(
            "fish.hook_load_loss",
            f"the pieces weigh {in_mud:,.0f} lb in mud but the hook load fell by {loss:,.0f} lb; "
            "check the drawing of the fish",
        )


@note
def tools_for_nothing(scenario: Scenario) -> Iterator[str]:
    """Tools are rented, redressed and stand by."""
    rented = bool(scenario.rental) or bool(scenario.fishing.day_rates)
    free = [f"run.{k}" for k, run in enumerate(scenario.run, start=1) if run.charge == 0]
    if free and not rented:
        yield (
            f"rentals forgotten: {', '.join(free)} without charge, and neither [[rental]] nor "
            "fishing.day_rates; count mobilization, minimum days, standby and redress"
        )


@note
def fish_counted_twice(scenario: Scenario) -> Iterator[str]:
    """The fish is owed in the fallback alone, from its pieces."""
    values = [piece.value for piece in scenario.fish.piece]
    known = [value for value in values if isinstance(value, (int, float))]
    total = sum(known)
    if not known or len(known) < len(values) or total <= 0:
        return
    for number, fallback in enumerate(scenario.fallback, start=1):
        name = "other_cost" if isinstance(fallback, Sidetrack) else "cost"
        cost = getattr(fallback, name)
        owed = (
            not isinstance(fallback.lost_in_hole_share, Distribution)
            and fallback.lost_in_hole_share > 0
        )
        if owed and isinstance(cost, (int, float)) and abs(cost - total) <= SAME * total:
            yield Beside(
                f"fallback.{number}.{name}",
                f"fish counted twice: fallback.{number}.{name} equals the value of the pieces, "
                f"{total:,.0f}, which are owed already; take it out or set lost_in_hole_share = 0",
            )


@note
def part_of_no_value(scenario: Scenario) -> Iterator[str]:
    """A fish without pieces is worth nothing, in or out of the hole."""
    if scenario.run and not scenario.fish.piece:
        yield (
            "fish of no value: no [[fish.piece]], so nothing is owed for what stays in the hole "
            "and nothing is saved by a part of it"
        )


@note
def insurance_for_sure(scenario: Scenario) -> Iterator[str]:
    """Claims are paid or not; a payment is no cost saved."""
    if scenario.insurance.chance == 1:
        yield Beside(
            "insurance.chance",
            "undiscounted insurance: insurance.chance = 1; a claim may be refused, and the payment "
            "is shown below the line only",
        )
    for number, fallback in enumerate(scenario.fallback, start=1):
        share = fallback.lost_in_hole_share
        if not isinstance(share, Distribution) and share < 1 and scenario.fish.piece:
            yield Beside(
                f"fallback.{number}.lost_in_hole_share",
                f"undiscounted insurance: fallback.{number}.lost_in_hole_share = {share:g}; if the "
                "rest is what a policy pays, owe it all and put the policy under [insurance]",
            )


@note
def source_effort_waived(scenario: Scenario) -> Iterator[str]:
    """Rules demand reasonable effort to recover a sealed source."""
    if "source" in hazards(scenario.fish) and scenario.minimum_runs == 0:
        yield Beside(
            "limits.minimum_runs",
            "constraint waived: a sealed source is in the fish and minimum_runs = 0; rules ask for "
            "reasonable effort to recover it, and approval before it is abandoned",
        )


@note
def not_counted(scenario: Scenario) -> Iterator[str]:
    """Sections that are read and checked but do not enter the answer."""
    if scenario.run and not scenario.has_kinds and "workable" in scenario.fishing.model_fields_set:
        yield "fishing.workable is not used: no run gives odds by kind of fish"


@note
def working_days_without_a_clock(scenario: Scenario) -> Iterator[str]:
    """Working days need to know which day it is."""
    if scenario.limits.response_days == "working" and scenario.job.decided_at is None:
        yield Beside(
            "limits.response_days",
            "limits.response_days is not used without job.decided_at or a log: the hours of a "
            "reply are counted on all days",
        )


def _recovered(run: Run) -> float:
    return run.odds_by_kind()[0].recovered


@note
def reads_the_wrong_way(scenario: Scenario) -> Iterator[str]:
    """A reading that says workable more often for a stubborn fish than for a workable one."""
    for number, reading in enumerate(scenario.reading, start=1):
        stubborn = reading.reliability_stubborn
        stubborn = reading.reliability if stubborn is None else stubborn
        if reading.reliability + stubborn < 1:
            yield (
                f"reading.{number} reads workable more often for a stubborn fish than for a "
                "workable one: are its reliabilities chances of being right?"
            )
