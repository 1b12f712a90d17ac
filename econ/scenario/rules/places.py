"""Rules on depths, pieces, trips, kick-offs, least runs, interests, correlations."""

from __future__ import annotations

import math
from collections.abc import Iterator
from functools import lru_cache

from econ.scenario.amounts import ends_of
from econ.scenario.fallbacks import Sidetrack
from econ.scenario.faults import Fault, did_you_mean
from econ.scenario.rules.registry import rule
from econ.scenario.scenario import Scenario

PIECES_TOLERANCE = 1e-3  # of the length of the fish, and at least one foot or 0.3 m
ROUNDED = 1 + 1e-9  # two depths this close are one: sums and default lengths are rounded


@rule("well")
def shoe_above_depth(scenario: Scenario) -> Iterator[Fault]:
    """The casing shoe is above the depth of the well."""
    well = scenario.well
    if not well.shoe_depth < well.depth:
        yield Fault(
            f"shoe_depth = {well.shoe_depth:.10g}",
            f"less than the depth of the well, {well.depth:.10g}",
            path=("well", "shoe_depth"),
        )


@rule("well", "fish")
def fish_in_hole(scenario: Scenario) -> Iterator[Fault]:
    """The fish lies top above bottom, inside the hole."""
    fish, depth = scenario.fish, scenario.well.depth
    if not fish.top < fish.bottom:
        yield Fault(
            f"top = {fish.top:.10g} and bottom = {fish.bottom:.10g}",
            "a top above the bottom",
            "depths grow downwards: top < bottom",
            path=("fish", "top"),
        )
    if fish.bottom > depth:
        yield Fault(
            f"bottom = {fish.bottom:.10g}",
            f"at most the depth of the well, {depth:.10g}",
            path=("fish", "bottom"),
        )


@rule("units", "fish")
def pieces_fill_fish(scenario: Scenario) -> Iterator[Fault]:
    """The lengths of the pieces add up to the fish."""
    fish = scenario.fish
    length = fish.bottom - fish.top
    if not fish.piece or length <= 0:  # top and bottom have a rule of their own
        return
    total = math.fsum(piece.length for piece in fish.piece)
    slack = max(PIECES_TOLERANCE * length, 1.0 if scenario.units == "field" else 0.3)
    if abs(total - length) > slack:
        yield Fault(
            f"pieces of together {total:.10g}",
            f"the length of the fish, bottom - top = {length:.10g}",
            "add the piece that is missing, or correct a length",
            path=("fish", "piece"),
        )


@rule("run", "fallback", "trip_speed")
def speeds_for_trips(scenario: Scenario) -> Iterator[Fault]:
    """Where something trips, trip speeds are given."""
    if scenario.trip_speed is not None:
        return
    trips = any(run.trips is not None for run in scenario.run)
    if trips or any(isinstance(fallback, Sidetrack) for fallback in scenario.fallback):
        yield Fault(
            "no [trip_speed]",
            "trip speeds, because a run or a sidetrack trips",
            "add [trip_speed] with in = { cased = ..., open = ... } and out = { ... }",
        )


@rule("units", "well", "fish", "fallback")
def kickoff_above_fish(scenario: Scenario) -> Iterator[Fault]:
    """A sidetrack can leave the hole above the fish."""
    for number, fallback in enumerate(scenario.fallback):
        if not isinstance(fallback, Sidetrack):
            continue
        floor = scenario.kickoff_floor(fallback)
        if floor * ROUNDED >= scenario.fish.top:
            yield Fault(
                f"no kick-off above {floor:.10g} and a fish top at {scenario.fish.top:.10g}",
                "open hole between the kick-off floor and the fish top",
                "use a lump fallback (hours, cost), such as a window in the casing",
                path=("fallback", number, "kickoff_floor"),
            )
        if scenario.kickoff_after_hole_lost(fallback) * ROUNDED >= scenario.well.depth:
            yield Fault(
                f"kickoff_below_shoe = {fallback.kickoff_below_shoe:.10g}",
                "a kick-off above the depth of the well",
                path=("fallback", number, "kickoff_below_shoe"),
            )
        least = ends_of(fallback.kickoff_above_fish)[0]
        least = scenario.own_length(fallback, "kickoff_above_fish", max(least, 0.0))
        lowest = scenario.fish.top - least
        if fallback.competent and not any(
            top <= lowest * ROUNDED and bottom * ROUNDED >= floor
            for top, bottom in fallback.competent
        ):
            yield Fault(
                f"competent = {fallback.competent}",
                f"at least one interval that reaches between the kick-off floor, {floor:.10g}, "
                f"and kickoff_above_fish above the fish top, {lowest:.10g}",
                path=("fallback", number, "competent"),
            )


@rule("fish", "run", "limits")
def minimum_runs_possible(scenario: Scenario) -> Iterator[Fault]:
    """The least number of runs can be made with the program given."""
    runs = len(scenario.run)
    if scenario.minimum_runs <= runs:
        return
    if scenario.limits.minimum_runs is None:
        yield Fault(
            "a sealed source in the fish and no run",
            "at least one run, as reasonable effort to recover the source",
            "add a [[run]]; minimum_runs = 0 under [limits] waives it on purpose",
            path=("fish", "sealed_source" if scenario.fish.sealed_source else "marks"),
        )
    else:
        yield Fault(
            f"minimum_runs = {scenario.minimum_runs}",
            f"at most the number of runs listed, {runs}",
            path=("limits", "minimum_runs"),
        )


@rule("job", "deadline")
def deadline_is_on_the_clock(scenario: Scenario) -> Iterator[Fault]:
    """A deadline at a time is counted from the time of the decision."""
    deadline, decided = scenario.deadline, scenario.job.decided_at
    if deadline is None or deadline.at is None:
        return
    path = ("deadline", "at")
    if decided is None:
        yield Fault(
            "a time, and no time of the decision",
            "at with decided_at under [job]",
            "add decided_at, or give in_days",
            path=path,
        )
        return
    zones = [getattr(moment, "tzinfo", None) is not None for moment in (deadline.at, decided)]
    timed = all(hasattr(moment, "hour") for moment in (deadline.at, decided))
    if timed and zones[0] != zones[1]:
        has, needs = ("with", "without") if zones[0] else ("without", "with")
        yield Fault(
            f"a time {has} a time zone",
            f"a time {needs} one, as decided_at under [job]",
            "write both with a time zone, or both without",
            path=path,
        )


@rule("partner")
def interests_sum(scenario: Scenario) -> Iterator[Fault]:
    """Working interests sum to one (or to 100 percent), with one operator."""
    if not scenario.partner:
        return
    total = math.fsum(partner.interest for partner in scenario.partner)
    if min(abs(total - 1), abs(total - 100) / 100) > 1e-6:
        yield Fault(
            f"interests that sum to {total:.10g}",
            "a sum of 1 (or of 100, in percent)",
            path=("partner",),
        )
    operators = sum(partner.operator for partner in scenario.partner)
    if operators > 1:
        yield Fault(f"{operators} operators", "one operator", path=("partner",))


@rule(
    "trip_speed",
    "rates",
    "fishing",
    "fish",
    "run",
    "recovery",
    "common",
    "fallback",
    "rental",
    "correlation",
)
def correlations_hold(scenario: Scenario) -> Iterator[Fault]:
    """Correlated keys are distributions, and the correlations can be had together."""
    if not scenario.correlation:
        return
    names = [path for path, _, _ in scenario.amounts()]
    together: dict[frozenset[str], float] = {}
    for number, correlation in enumerate(scenario.correlation):
        path = ("correlation", number, "of")
        for name in correlation.of:
            if name not in names:
                yield Fault(
                    f"'{name}'",
                    "key paths of amounts written as a distribution: "
                    + (", ".join(names) or "there is none in this file"),
                    did_you_mean(name, names),
                    path=path,
                )
        for first in range(len(correlation.of)):
            for second in range(first):
                pair = frozenset((correlation.of[first], correlation.of[second]))
                if len(pair) < 2 or pair in together:
                    yield Fault(
                        f"the pair {' and '.join(sorted(pair))}",
                        "each pair of different amounts once",
                        path=path,
                    )
                together[pair] = correlation.rho
    if not _positive_definite(frozenset(together.items())):
        yield Fault(
            "correlations that contradict each other",
            "a positive definite set of correlations",
            "bring the strongest ones nearer to 0",
            path=("correlation",),
        )


@lru_cache(maxsize=16)
def _positive_definite(pairs: frozenset[tuple[frozenset[str], float]]) -> bool:
    """Cholesky's test on the normal correlations r = 2 sin(pi rho / 6) of pairs of amounts."""
    rank = dict(pairs)
    names = sorted({name for pair in rank for name in pair})
    factor: list[list[float]] = []
    for row, name in enumerate(names):
        values: list[float] = []
        for column in range(row + 1):
            r = 2 * math.sin(math.pi * rank.get(frozenset((name, names[column])), 0.0) / 6)
            target = 1.0 if row == column else r
            other = values if column == row else factor[column]
            rest = target - math.fsum(
                a * b for a, b in zip(values[:column], other[:column], strict=True)
            )
            if row == column:
                if rest <= 1e-12:
                    return False
                values.append(math.sqrt(rest))
            else:
                values.append(rest / factor[column][column])
        factor.append(values)
    return True
