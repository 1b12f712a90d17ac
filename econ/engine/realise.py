"""A scenario put into arrays: one block of draws, every amount of it, ready for the walk.

The columns of the draws stand for the ranges of the file; what is certain stays a single number.
Lengths of time are stretched by the weather here, once.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from econ.engine.case import (
    ENDS,
    SOURCE,
    Case,
    Happened,
    Parting,
    RunCase,
    stretched,
)
from econ.engine.marks import Condition, bits_of
from econ.job import (
    Contract,
    Deadline,
    Fish,
    LumpSums,
    RunOdds,
    RunTimes,
    SidetrackPlan,
    TripSpeeds,
    Whipstock,
    beta_recovered,
)
from econ.job.fish import piece_value
from econ.scenario.distributions import Distribution
from econ.scenario.doubts import Doubt
from econ.scenario.fallbacks import Fallback, Sidetrack
from econ.scenario.hazards import hazards
from econ.scenario.paperwork import Rental
from econ.scenario.program import OUTCOMES, OutcomeOdds, Run
from econ.scenario.scenario import Scenario

Array = NDArray[np.float64]
Value = Callable[[object], Array]


class KnownRuns:
    """Runs worked out for one case, for others that have most of their columns and of the runs of
    their file, the very objects, in common with it."""

    def __init__(self) -> None:
        self._known: dict[int, tuple[Run, object, Mapping[str, Array], RunCase]] = {}

    def run(
        self,
        run: Run,
        number: int,
        columns: Mapping[str, Array],
        common: object,
        work_out: Callable[[], RunCase],
    ) -> RunCase:
        """Run number `number` (from 0). common: what it hangs on besides `run` and its columns;
        work_out: makes it, where it is another one than the first that was asked for."""
        if number in self._known:
            its, with_it, drawn, made = self._known[number]
            same = run is its and common == with_it
            if same and all(columns.get(name) is column for name, column in drawn.items()):
                return made
            return work_out()
        start = f"run.{number + 1}."
        drawn = {name: column for name, column in columns.items() if name.startswith(start)}
        self._known[number] = run, common, drawn, work_out()
        return self._known[number][-1]


def realise(
    scenario: Scenario,
    columns: Mapping[str, Array],
    n: int,
    *,
    paths: Mapping[int, str],
    logged: Sequence[Happened] = (),
    log_scale: float | None = None,
    known: KnownRuns | None = None,
    hours_factor: float = 1.0,
) -> Case:
    """The scenario (in field units) with the drawn `columns` of shape (n,) in it.

    logged: runs made already; the others are the program. log_scale: see `Case`. known: runs of
    other cases on the same columns. hours_factor: on all hours of runs
    (`econ.engine.learned_hours`).
    paths: key path, which names the column, by identity of the distribution; two amounts
    written alike in two places are two amounts.
    """

    def value(amount: object) -> Array:
        if isinstance(amount, Distribution):
            return columns[paths[id(amount)]]
        return np.asarray(amount, dtype=np.float64)

    fishing, recovery = scenario.fishing, scenario.recovery
    spread = _sum(value(rate) for rate in scenario.rates.values())
    fishing_day = _sum(value(rate) for rate in fishing.day_rates.values())
    speeds = _speeds(scenario, value)
    doubts, marks = scenario.doubts, scenario.marks
    stretch = _stretch(value(scenario.weather.fishing))
    later = _stretch(value(scenario.weather.fallback))
    ratio, losses = fishing.odds_ratio_per_day, fishing.loss_odds_ratio_per_day
    made = {event.run for event in logged if event.finished}
    uses = _uses(scenario, value, columns, known or KnownRuns())
    runs = [*(_longer(run, hours_factor) for run in uses), *_readings(scenario)]
    ended = bool(logged) and logged[-1].outcome in ENDS
    return Case(
        n=n,
        prior=_by_kind(_kinds([value(doubt.workable) for doubt in doubts])),
        doubts=len(doubts),
        words=marks,
        marks=bits_of(scenario.fish.marks, marks)[0],
        parting=None
        if scenario.parting is None
        else Parting(value(scenario.parting.hours) * stretch, value(scenario.parting.charge)),
        stretch=stretch,
        spread=spread,
        fishing_day=fishing_day,
        mobilization=value(0.0 if mobilized(runs, logged) else fishing.mobilization),
        damaged_top_factor=value(fishing.damaged_top_factor),
        odds_ratio_per_day=None if ratio == 1.0 else value(ratio),
        loss_odds_ratio_per_day=None if losses == 1.0 else value(losses),
        hole_lost_string_share=value(fishing.hole_lost_string_share),
        speeds=speeds,
        fish=_fish(scenario, value),
        runs=runs,
        uses=len(uses_of(scenario.run)),
        program=[] if ended else [k for k in range(len(scenario.run)) if k not in made],
        logged=logged,
        contracts=[_contract(each, scenario, value, logged) for each in scenario.rental],
        recovery_cost=value(recovery.hours)
        * stretch
        / 24.0
        * (spread + value(recovery.fishing_share) * fishing_day)
        + value(recovery.charge),
        recovery_days=value(recovery.hours) * stretch / 24.0,
        deadline=_deadline(scenario, value, logged),
        common_days=value(0.0 if logged else scenario.common.hours) / 24.0,
        common_cost=value(0.0 if logged else scenario.common.hours) / 24.0 * spread
        + value(0.0 if logged else scenario.common.cost),
        fallbacks=[
            _fallback(each, scenario, value, spread, speeds, later) for each in scenario.fallback
        ],
        open_if=[
            Condition.of(marks, fallback.needs, fallback.bars) for fallback in scenario.fallback
        ],
        approval=_approval(scenario),
        source_if=Condition.of(marks, SOURCE & {*marks}),
        uniforms=columns,
        log_scale=log_scale,
    )


def mobilized(runs: Sequence[RunCase], logged: Sequence[Happened]) -> bool:
    """Whether a run that was stopped half way has paid for the mobilization of fishing; of a run
    that was made to its end `Level.made` tells that."""
    shares = (runs[event.run].fishing_share for event in logged if not event.finished)
    return any(bool(np.any(share > 0)) for share in shares)


def _sum(values: object) -> Array:
    total: Array = np.zeros(())
    for each in values:  # type: ignore[attr-defined]
        total = np.asarray(total + each)
    return total


def _by_kind(values: Sequence[Array]) -> Array:
    """Values of each kind of fish as one array of shape (kinds, 1, n or 1)."""
    together = np.empty((len(values), 1, max(value.size for value in values)))
    for kind, value in enumerate(values):
        together[kind] = value
    return together


def _speeds(scenario: Scenario, value: Value) -> TripSpeeds | None:
    speed = scenario.trip_speed
    if speed is None:
        return None
    return TripSpeeds(
        scenario.well.shoe_depth,
        value(speed.into.cased),
        value(speed.into.open),
        value(speed.out.cased),
        value(speed.out.open),
    )


def _approval(scenario: Scenario) -> Array | None:
    """Hours on the clock [h], whatever the weather; None where no source can be in the hole."""
    hours = scenario.limits.approval_hours
    if not hours or not ("source" in hazards(scenario.fish) or SOURCE & {*scenario.marks}):
        return None
    return np.asarray(hours, dtype=np.float64)


def _fish(scenario: Scenario, value: Value) -> Fish:
    fish = scenario.fish
    values = [
        value(piece.value)
        if piece.value is not None
        else piece_value(
            replacement=value(piece.replacement),
            depreciation=value(piece.depreciation),
            floor=value(piece.floor),
        )
        for piece in fish.piece
    ]
    return Fish(fish.top, fish.bottom, [piece.length for piece in fish.piece], values)


def _kinds(chances: Sequence[Array]) -> list[Array]:
    """Chance of every combination of doubts, each in favour with a chance of its own."""
    kinds: list[Array] = [np.ones(())]
    for chance in chances:
        kinds = [kind * chance for kind in kinds] + [kind * (1.0 - chance) for kind in kinds]
    return kinds


def _stretch(lost: Array) -> Array:
    """Hours on the clock for an hour of work where weather takes a share of the clock."""
    return np.asarray(1.0 / (1.0 - lost))


def _uses(
    scenario: Scenario, value: Value, columns: Mapping[str, Array], known: KnownRuns
) -> list[RunCase]:
    """Every run, and then its further uses, each after the one before."""
    doubts, own = scenario.doubts, scenario.marks
    common = own, [doubt.name for doubt in doubts]

    def made(number: int, run: Run) -> RunCase:
        work_out = partial(_run, run, number, value, columns, own=own, doubts=doubts)
        return known.run(run, number, columns, common, work_out)

    runs = [made(number, run) for number, run in enumerate(scenario.run)]
    for number, run in enumerate(scenario.run):
        before = number
        for _ in range(run.at_most - 1):
            condition = runs[number].condition
            needs = condition.needs_made | 1 << before
            before = len(runs)
            runs.append(replace(runs[number], condition=replace(condition, needs_made=needs)))
    return runs


def _longer(run: RunCase, factor: float) -> RunCase:
    """A run with all its hours multiplied."""
    if factor == 1.0:
        return run
    times = replace(run.times, factor=factor)
    return replace(run, times=times, wait=np.asarray(factor * run.wait))


def _readings(scenario: Scenario) -> list[RunCase]:
    """Readings as runs that move nothing: `prepared` if they read that the doubt is in favour."""
    runs, none = len(scenario.run), np.zeros(())
    names = [doubt.name for doubt in scenario.doubts]
    found = []
    for number, reading in enumerate(scenario.reading):
        bit = 0 if reading.about is None else names.index(reading.about)
        favourable = np.arange(2 ** len(names)) >> bit & 1 == 0
        right = reading.reliability
        right_against = (
            right if reading.reliability_stubborn is None else reading.reliability_stubborn
        )
        says = np.where(favourable, right, 1.0 - right_against)[:, None, None]
        odds = dict.fromkeys(OUTCOMES, np.zeros_like(says))
        found.append(
            RunCase(
                number=runs + number,
                name=reading.name,
                times=RunTimes(np.asarray(reading.hours), 0),
                wait=none,
                charge=np.asarray(reading.cost),
                wash_length=none,
                part_length=none,
                string_length=none,
                string_value=none,
                dresses_top=False,
                odds=RunOdds(**odds | {"prepared": says, "nothing": 1.0 - says}),
                favourable=favourable,
                condition=Condition.of(scenario.marks, reading.needs, reading.bars),
                gives=0,
                takes=0,
                ratios=(),
                renews=(),
                fishing_share=np.ones(()),
            )
        )
    return found


def uses_of(run: Sequence[Run]) -> list[int]:
    """Number (from 0) of the run of every use, in the order of `Case.runs`."""
    more = [number for number, each in enumerate(run) for _ in range(each.at_most - 1)]
    return [*range(len(run)), *more]


def _run(
    run: Run,
    number: int,
    value: Value,
    columns: Mapping[str, Array],
    *,
    own: Sequence[str],
    doubts: Sequence[Doubt],
) -> RunCase:
    if run.hours is not None:
        fixed = value(run.wait) + value(run.hours)
    else:
        items = [
            item
            for trip in run.trips or []
            for item in (trip.make_up, trip.circulate, trip.work, trip.lay_down)
        ]
        fixed = _sum(value(item) for item in [run.wait, *items])
    favourable = np.array(run.favourable(doubts))
    tables = run.odds_by_kind()
    odds = _odds([tables[not good] for good in favourable])
    drawn = [columns.get(path) for path in run.odds_paths(number)]
    if any(column is not None for column in drawn):
        recovered = [
            column if column is not None else np.asarray(table.recovered)
            for column, table in zip(drawn, tables, strict=True)
        ]
        odds = beta_recovered(odds, _by_kind([recovered[not good] for good in favourable]))
    # A string that is whole to surface leaves no way for another one.
    tripping = run.trips is not None and "attached" in own
    bars = [*run.bars, "attached"] if tripping else run.bars
    return RunCase(
        number=number,
        name=run.name,
        times=RunTimes(fixed, 0 if run.trips is None else len(run.trips)),
        wait=value(run.wait),
        charge=value(run.charge),
        wash_length=value(run.part_length if run.wash_length is None else run.wash_length),
        part_length=value(run.part_length),
        string_length=value(run.string_length),
        string_value=value(run.string_value),
        dresses_top=run.dresses_top,
        odds=odds,
        favourable=favourable,
        condition=Condition.of(own, run.needs, bars, run.after),
        gives=bits_of(run.gives, own)[0],
        takes=bits_of(run.takes, own)[0],
        ratios=[
            (Condition.of(own, [mark]), value(ratio)) for mark, ratio in run.ratio_with.items()
        ],
        renews=[
            (doubt, value(run.renews[each.name]))
            for doubt, each in enumerate(doubts)
            if each.name in run.renews
        ],
        fishing_share=value(run.fishing_share),
    )


def _contract(
    rental: Rental, scenario: Scenario, value: Value, logged: Sequence[Happened]
) -> Contract:
    held = rental.held_days is not None
    day, standby_day = value(rental.day), value(rental.standby_day)
    least = rental.minimum_days - (rental.held_days or 0.0)
    contract = Contract(
        tool=rental.tool,
        serves=frozenset(
            use
            for use, number in enumerate(uses_of(scenario.run))
            if rental.serves(scenario.run[number])
        ),
        call_out=None if rental.call_out is None else rental.call_out - 1,
        called=0.0 if held else None,
        delivery=0.0 if held else rental.delivery,
        minimum=np.asarray(day * max(0.0, least)),
        least=(np.asarray(max(0.0, least)), np.zeros(())),
        mobilization=value(0.0 if held else rental.mobilization),
        day=day,
        standby_day=standby_day,
        redress=value(rental.redress),
        per_length=value(rental.per_foot),
        replacement=value(rental.replacement),
    )
    calls = [event.start for event in logged if contract.called_by(event.run)]
    if not logged or not (held or calls):
        return contract
    begun = 0.0 if held or contract.call_out == -1 else calls[0]
    since = logged[-1].end - begun
    worked = sum(event.end - event.start for event in logged if event.run in contract.serves)
    stood_by = max(since - worked, 0.0)
    spent = day * worked + standby_day * stood_by
    owed = contract.minimum > spent
    return replace(
        contract,
        called=-since,
        minimum=np.maximum(contract.minimum - spent, 0.0),
        least=(
            np.where(owed, contract.least[0] - worked, 0.0),
            np.where(owed, -stood_by, 0.0),
        ),
        mobilization=np.zeros(()),
    )


def _deadline(scenario: Scenario, value: Value, logged: Sequence[Happened]) -> Deadline | None:
    """What a late end costs, its day counted from the end of the last run logged."""
    deadline = scenario.deadline
    if deadline is None:
        return None
    gone = logged[-1].end if logged else 0.0
    return Deadline(
        due=scenario.deadline_days - gone - value(deadline.work_after_days),
        once=value(deadline.cost_once),
        per_day=value(deadline.cost_per_day),
    )


def _odds(tables: Sequence[OutcomeOdds]) -> RunOdds:
    """Odds of both kinds, scaled to sum to exactly 1."""
    rows = np.array([[getattr(table, name) for name in OUTCOMES] for table in tables])
    rows /= rows.sum(axis=1, keepdims=True)
    return RunOdds(*(rows[:, outcome, None, None] for outcome in range(len(OUTCOMES))))


def _fallback(
    fallback: Fallback,
    scenario: Scenario,
    value: Value,
    spread: Array,
    speeds: TripSpeeds | None,
    stretch: Array,
) -> SidetrackPlan | LumpSums:
    if not isinstance(fallback, Sidetrack):
        return LumpSums(
            spread=spread,
            hours=stretched(value(fallback.hours), stretch),
            sums=value(fallback.cost),
            value_given_up=value(fallback.value_given_up),
            lost_in_hole_share=value(fallback.lost_in_hole_share),
            trouble_chance=value(fallback.trouble.chance),
            trouble_cost=value(fallback.trouble.cost),
            after_string_lost=fallback.open_after_string_lost,
            after_hole_lost=fallback.open_after_hole_lost,
        )
    if speeds is None:
        raise ValueError("a sidetrack needs trip speeds")
    return SidetrackPlan(
        speeds=speeds,
        day_rate=spread + value(fallback.directional_day),
        well_depth=scenario.well.depth,
        kickoff_above_fish=value(fallback.kickoff_above_fish),
        kickoff_floor=scenario.kickoff_floor(fallback),
        kickoff_after_hole_lost=scenario.kickoff_after_hole_lost(fallback),
        competent=fallback.competent,
        stinger=value(fallback.stinger),
        condition=value(fallback.condition),
        plug_hours=value(fallback.plug_hours),
        plugs=fallback.plugs,
        woc=value(fallback.woc),
        make_up=value(fallback.make_up),
        dress=value(fallback.dress),
        kickoff_length=value(fallback.kickoff_length),
        kickoff_rate=value(fallback.kickoff_rate),
        gross_rop=value(fallback.gross_rop),
        bit_life=value(fallback.bit_life),
        logging_hours=value(fallback.logging_hours),
        plug_cost=value(fallback.plug_cost),
        sums=value(fallback.mobilization)
        + value(fallback.logging_cost)
        + value(fallback.other_cost),
        bit_cost=value(fallback.bit_cost),
        kickoff_failure=value(fallback.kickoff_failure),
        whipstock=None
        if fallback.whipstock is None
        else Whipstock(
            fallback.whipstock.after,
            stretched(value(fallback.whipstock.hours), stretch),
            value(fallback.whipstock.cost),
            value(fallback.whipstock.failure),
        ),
        stick_chance=value(fallback.stick_again.chance),
        stick_cost=value(fallback.stick_again.cost),
        stick_hours=stretched(value(fallback.stick_again.hours), stretch),
        lost_in_hole_share=value(fallback.lost_in_hole_share),
        stretch=stretch,
    )
