"""The job as few numbers: a sheet can recompute it with other rates, hours or odds.

A state between two runs is what later runs and the fallback depend on: the runs made, the
fish top T, and whether the top is damaged. With W_j(s) the chance, for a fish of kind j times
its prior, that the job is still fishing and stands in state s, and p_jo the odds of the next
run in that state,

    W_j(s') = sum over s and o that lead to s' of W_j(s) p_jo(s),   o = nothing, part, top_damaged

Where a fallback may start from these states is in `econ.decision.detail.places`.

Everything here is a plain mean over a few draws. Where the scenario has single numbers and no
state is put together with another this is the whole outcome tree and not an approximation.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from econ.decision.detail.places import FallbackMeans, Place, Places
from econ.decision.run_log import inputs_after
from econ.engine.case import Case
from econ.engine.inputs import Inputs
from econ.engine.level import begin, lost_tools
from econ.engine.walk import GOING_ON, walk
from econ.scenario.distributions import Distribution
from econ.scenario.program import OUTCOMES
from econ.scenario.run_log import LoggedRun
from econ.scenario.scenario import Scenario

Array = NDArray[np.float64]

DRAWS = 64  # of each scramble
MOST_STATES = 480  # of all levels together
MOST_AT_A_LEVEL = 40
TINY = 1e-300  # the weight of what cannot happen, where it must count for something
TOP_DIGITS = 6  # after the point [ft]: tops this close are the same


@dataclass(frozen=True)
class RunMeans:
    """A run of the program where every run before it ended `nothing`; run: number from 0.

    hours [h] with the wait for its tools, charge, rented: what rental contracts owe for it,
    string_value: what is owed with the string [currency]; odds: six outcomes of each kind.
    """

    run: int
    hours: float
    charge: float
    rented: float
    string_value: float
    odds: tuple[tuple[float, ...], ...]
    dresses_top: bool


@dataclass(frozen=True)
class State:
    """A state before a run. parents: number of a state and the outcome that led here; more_hours
    [h]: of the next run, because the top is lower than now; stop, string: numbers of places,
    None where there is no fallback or no next run; merged: put together from several."""

    runs_made: int
    top: float
    damaged: bool
    parents: tuple[tuple[int, str], ...]
    more_hours: float
    stop: int | None
    string: int | None
    merged: bool


@dataclass(frozen=True)
class Paths:
    """The states, the places and the mean of every amount; money in currency.

    amounts: by key path; rates, fishing_rates: by name; likelihoods: chance of the runs logged
    for each kind; owed: for tools that are on contract already; elapsed [d]: from the decision
    to now; merged: states put together; ended: the outcome that ended the job, if a log tells.
    """

    top: float
    rates: Mapping[str, float]
    fishing_rates: Mapping[str, float]
    amounts: Mapping[str, float]
    prior: tuple[float, ...]
    likelihoods: tuple[float, ...]
    owed: float
    elapsed: float
    logged: bool
    ended: str | None
    runs: tuple[RunMeans, ...]
    states: tuple[State, ...]
    places: tuple[Place, ...]
    hole: int | None
    fallbacks: tuple[FallbackMeans, ...]
    pieces: tuple[Mapping[str, float], ...]
    uncertain: bool
    sampled: bool
    rentals: bool
    merged: int


def paths(scenario: Scenario, log: Sequence[LoggedRun] = ()) -> Paths:
    """The job of a scenario as it stands after a log."""
    inputs = inputs_after(scenario, log)
    columns = inputs.first(DRAWS)
    case = inputs.case(columns, DRAWS * inputs.sampler.scrambles)
    return _Means(inputs, columns, case).paths()


class _Means:
    """Means over the draws of a case, which count by what the log tells."""

    def __init__(self, inputs: Inputs, columns: Mapping[str, Array], case: Case) -> None:
        self.job = inputs.scenario
        self.inputs = inputs
        self.columns = columns
        self.case = case
        self.level = begin(case)
        self.weight = self.level.weight.sum(axis=0)[0]
        self.top = round(self.mean(self.level.top[0, 0]), TOP_DIGITS)
        self.places = Places(case, self.mean, top=self.top)

    def mean(self, values: Array) -> float:
        """Mean of an array of shape () or (n,)."""
        return float(np.mean(values * self.weight))

    def amount(self, value: object) -> float:
        """Mean of an amount of the file."""
        if isinstance(value, Distribution):
            return self.mean(self.columns[self.inputs.paths[id(value)]])
        return float(value)  # type: ignore[arg-type]

    def paths(self) -> Paths:
        """All of it."""
        job, case = self.job, self.case
        runs = self.runs()
        states = self.states(runs)
        level, places = self.level, self.places.made
        prior = tuple(float(each.mean()) for each in case.prior)
        chances = [float(each.mean()) for each in level.weight]
        likelihoods = [c / p if p > 0 else 1.0 for c, p in zip(chances, prior, strict=True)]
        common = self.mean(case.common_cost)
        return Paths(
            top=self.top,
            rates={name: self.amount(rate) for name, rate in job.rates.items()},
            fishing_rates={name: self.amount(r) for name, r in job.fishing.day_rates.items()},
            amounts=self.amounts(),
            prior=prior,
            likelihoods=tuple(likelihoods) if case.logged else tuple(1.0 for _ in prior),
            owed=max(0.0, self.mean(level.cost[0, 0]) - common) if case.contracts else 0.0,
            elapsed=case.elapsed,
            logged=bool(case.logged),
            ended=case.ended,
            runs=tuple(runs),
            states=tuple(states),
            places=tuple(places),
            hole=next((n for n, place in enumerate(places) if place.sort == "hole_lost"), None),
            fallbacks=tuple(
                self.places.fallback(number, section, self.amount)
                for number, section in enumerate(job.fallback)
            ),
            pieces=tuple(self.piece(number) for number in range(len(job.fish.piece))),
            uncertain=self.inputs.uncertain,
            sampled=any(
                odds[OUTCOMES.index(name)] > 0
                for run in runs
                for odds in run.odds
                for name in GOING_ON
                if name != "nothing"
            ),
            rentals=bool(case.contracts),
            merged=sum(len(s.parents) > 0 and s.merged for s in states),
        )

    def amounts(self) -> dict[str, float]:
        """Means of what stands alone in the file."""
        fishing, recovery, common = self.job.fishing, self.job.recovery, self.job.common
        logged = bool(self.case.logged)
        sections = {
            "fishing.mobilization": 0.0 if logged else fishing.mobilization,
            "fishing.workable": fishing.workable,
            "fishing.damaged_top_factor": fishing.damaged_top_factor,
            "fishing.odds_ratio_per_day": fishing.odds_ratio_per_day,
            "fishing.loss_odds_ratio_per_day": fishing.loss_odds_ratio_per_day,
            "fishing.hole_lost_string_share": fishing.hole_lost_string_share,
            "recovery.hours": recovery.hours,
            "recovery.charge": recovery.charge,
            "recovery.fishing_share": recovery.fishing_share,
            "common.hours": 0.0 if logged else common.hours,
            "common.cost": 0.0 if logged else common.cost,
        }
        return {name: self.amount(value) for name, value in sections.items()}

    def runs(self) -> list[RunMeans]:
        """The runs of the program, hours and rentals along the path of outcomes `nothing`."""
        found = []
        for step in walk(self.case, None, histories=2):
            made = step.made
            if made is None:
                break
            run = self.case.runs[made.run]
            hours, cost = _first(made.hours), _first(made.cost)
            each = [getattr(run.odds, name) for name in OUTCOMES]
            found.append(
                RunMeans(
                    run=made.run,
                    hours=self.mean(hours),
                    charge=self.mean(run.charge),
                    rented=self.mean(cost - self.case.hours_cost(hours) - run.charge)
                    if self.case.contracts
                    else 0.0,
                    string_value=self.mean(run.string_value + lost_tools(self.case, made.run)),
                    odds=tuple(
                        tuple(self.mean(_of_kind(odds, kind)) for odds in each)
                        for kind in range(len(self.case.prior))
                    ),
                    dresses_top=run.dresses_top,
                )
            )
        return found

    def states(self, runs: Sequence[RunMeans]) -> list[State]:
        """States before every run and after the last, one level after another."""
        most = max(6, min(MOST_AT_A_LEVEL, MOST_STATES // max(len(runs), 1)))
        damaged = bool(self.level.damaged.all())
        weights = np.array([[float(each.mean()) for each in self.level.weight]])
        new: list[tuple[float, bool, list[tuple[int, str]], bool]] = [
            (self.top, damaged, [], False)
        ]
        states: list[State] = []
        for number in range(len(runs) + 1):
            run = runs[number] if number < len(runs) else None
            start = len(states)
            states += [self.state(number, run, *each) for each in new]
            if run is None:
                break
            new, weights = self.following(run, states[start:], start, weights, most)
        return states

    def state(
        self,
        number: int,
        run: RunMeans | None,
        top: float,
        damaged: bool,
        parents: list[tuple[int, str]],
        merged: bool,
    ) -> State:
        """A state with its places."""
        more, string = 0.0, None
        if run is not None:
            made = self.case.runs[run.run]
            speeds, trips = self.case.speeds, made.times.trips
            if speeds is not None and trips:
                low, high = np.asarray(top), np.asarray(self.top)
                more = trips * self.mean(speeds.round_trip(low) - speeds.round_trip(high))
            length = self.mean(made.string_length)
            string = self.places.number("string_lost", max(top - length, 0.0), top)
            self.places.number("hole_lost", None, self.case.fish.top)
        return State(
            number, top, damaged, tuple(parents), more, self.stop_place(top), string, merged
        )

    def following(
        self,
        run: RunMeans,
        states: Sequence[State],
        start: int,
        weights: Array,
        most: int,
    ) -> tuple[list[tuple[float, bool, list[tuple[int, str]], bool]], Array]:
        """The states after a run, the least likely put together, and their weights by kind."""
        part = self.mean(self.case.runs[run.run].part_length)
        found: dict[tuple[float, bool], list[tuple[int, str]]] = {}
        chance: dict[tuple[float, bool], Array] = {}
        for number, state in enumerate(states):
            for outcome in GOING_ON:
                top = state.top
                if outcome == "part":
                    lower = self.case.fish.top_after_part(
                        np.asarray(top), part_length=np.asarray(part)
                    )
                    top = round(float(lower), TOP_DIGITS)
                spoilt = outcome == "top_damaged" or (state.damaged and not run.dresses_top)
                key = (top, spoilt)
                found.setdefault(key, []).append((start + number, outcome))
                odds = np.array([each[OUTCOMES.index(outcome)] for each in run.odds])
                chance[key] = chance.get(key, 0.0) + weights[number] * odds
        order = sorted(found, key=lambda key: -float(chance[key].sum()))
        groups = [[key] for key in order]
        if len(order) > most:
            rest = order[most - 2 :]
            groups = [[key] for key in order[: most - 2]]
            groups += [each for s in (False, True) if (each := [k for k in rest if k[1] == s])]
        new = []
        for keys in groups:
            heavy = [max(float(chance[key].sum()), TINY) for key in keys]
            top = round(float(np.average([key[0] for key in keys], weights=heavy)), TOP_DIGITS)
            new.append((top, keys[0][1], [each for k in keys for each in found[k]], len(keys) > 1))
        return new, np.array([sum(chance[key] for key in keys) for keys in groups])

    def stop_place(self, top: float) -> int | None:
        """Where the fallback starts if fishing stops in a state, or has been ended by a run."""
        ended = self.case.ended
        if ended is None:
            return self.places.number("stop", top, top)
        if ended == "recovered":
            return None
        event = self.case.logged[-1]
        run = self.case.runs[event.run]
        value = self.mean(run.string_value + lost_tools(self.case, event.run))
        if ended == "hole_lost":
            share = self.mean(self.case.hole_lost_string_share)
            return self.places.number("hole_lost", None, self.case.fish.top, owed=share * value)
        upper = max(top - self.mean(run.string_length), 0.0) if event.top is None else event.top
        return self.places.number("string_lost", upper, top, owed=value)

    def piece(self, number: int) -> dict[str, float]:
        """What is owed for a piece of the fish: its value, or its price new and what is left."""
        piece = self.job.fish.piece[number]
        if piece.value is not None:
            return {"value": self.amount(piece.value)}
        names = ("replacement", "depreciation", "floor")
        return {name: self.amount(getattr(piece, name)) for name in names}


def _first(values: Array) -> Array:
    """The first history of the first kind, shape (n or 1,), of an array by kind and history."""
    return np.asarray(values[0, 0]) if values.ndim == 3 else values


def _of_kind(odds: Array, kind: int) -> Array:
    return np.asarray(odds[kind if odds.shape[0] > 1 else 0, 0])
