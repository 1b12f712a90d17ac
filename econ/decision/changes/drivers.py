"""The main drivers of a job, each as one number, and a bench on which to turn them.

With f a factor and p a chance, a driver set to it means

    spread        every rate of [rates] x f
    rig           the rate of the rig alone x f, where it is one of several
    fishing_day   every day rate of fishing x f
    trip_speed    all four trip speeds x f
    recovery      the hours after recovery x f
    fallback      every fallback, from every state, costs (f - 1) V more; V is the mean cost
                  of the one taken at the present fish top
    workable      the fish is workable with chance p; after a log this is the belief of now, and
                  the prior is the one, the same in every draw, that the log turns into p
    next_odds     the next run recovers with chance p, on the average of kinds and draws
    all_odds      the odds p/(1 - p) of recovery of every run x f

The odds of a run are moved by one odds ratio r for both kinds of fish and every draw,
p_k/(1 - p_k) -> r p_k/(1 - p_k), the other outcomes keeping their proportions on what is
left of 1; for next_odds r is the one with sum_k P(k) p_k = p. So a chance stays below 1, the
run stays as telling about the kind of fish as it was, and a kind that cannot be caught stays so.

A distribution is multiplied draw by draw: the random numbers are those of the base.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from econ.decision.quick import Quick, of_case
from econ.engine.case import Case, realise
from econ.engine.choice import choose
from econ.engine.expected import expected
from econ.engine.inputs import Inputs
from econ.engine.level import begin, odds_now
from econ.engine.walk import stop
from econ.job import SidetrackPlan, TripSpeeds, with_odds_ratio
from econ.scenario.amounts import Amount
from econ.scenario.distributions import Distribution
from econ.scenario.scenario import Scenario

Array = NDArray[np.float64]
Columns = Mapping[str, Array]
Written = tuple[Scenario, Columns]
DRAWS = 128  # of each scramble
FACTORS = np.linspace(0.5, 1.5, 9)
CHANCES = np.linspace(0.1, 0.9, 9)
RATIOS = np.geomspace(0.25, 4.0, 9)
LEAST_LOG, MOST_LOG = -30.0, 30.0  # of an odds ratio: chances as good as 0 and 1


@dataclass(frozen=True)
class Driver:
    """A driver of a job: what it is called, where it stands, and how it is set.

    now: its value as the scenario has it, 1 for a factor; amount: what factor 1 stands for
    [unit], None where that is no single amount; step: the two values of its swing; least,
    most: between which a break-even is looked for; grid: values of a map, rising.
    write sets it in the scenario and its columns, edit in the case made from them.
    """

    name: str
    words: str
    now: float
    step: tuple[float, float]
    least: float
    most: float
    grid: tuple[float, ...]
    factor: bool = True
    amount: float | None = None
    unit: str = ""
    write: Callable[[Scenario, Columns, float], Written] | None = None
    edit: Callable[[Case, float], Case] | None = None


class Bench:
    """A job on one set of draws, to be valued again and again with something changed.

    n: draws of each scramble; histories: how many a level keeps apart.
    """

    def __init__(self, inputs: Inputs, *, n: int = DRAWS, histories: int = 1) -> None:
        self.inputs = inputs
        self.n = n
        self.histories = histories
        self.columns = inputs.first(n)
        self.case = self._case(inputs.scenario, self.columns)
        self.choice = choose(self.case)
        self.drivers = {driver.name: driver for driver in _drivers(self)}

    def described(self) -> tuple[Driver, ...]:
        """The drivers as values that can be kept or sent away: they can no longer be turned."""
        return tuple(replace(each, write=None, edit=None) for each in self.drivers.values())

    def limits(self, changes: Mapping[str, float] | None = None) -> Quick:
        """Limits with drivers, by name, set to the values of `changes`."""
        scenario: Scenario = self.inputs.scenario
        columns: Columns = self.columns
        chosen = [(self.drivers[name], value) for name, value in (changes or {}).items()]
        for driver, value in chosen:
            if driver.write is not None:
                scenario, columns = driver.write(scenario, columns, value)
        case = self._case(scenario, columns)
        for driver, value in chosen:
            if driver.edit is not None:
                case = driver.edit(case, value)
        return self._quick(case)

    def limits_moved(self, name: str, between: tuple[float, float]) -> Quick:
        """Limits with an uncertain amount held between two of its probabilities."""
        moved = self.inputs.sampler.moved(self.n, name=name, between=between)
        return self._quick(self._case(self.inputs.scenario, {**self.columns, **moved}))

    def cost_moved_unknown(self, name: str, between: tuple[float, float]) -> Array:
        """Cost of each limit, shape (scrambles, limits), as in `limits_moved`, but with the
        fallback chosen on the base: by a crew that does not know of it."""
        moved = self.inputs.sampler.moved(self.n, name=name, between=between)
        case = self._case(self.inputs.scenario, {**self.columns, **moved})
        found = expected(case, self.choice, histories=self.histories).cost.sum(axis=0)
        return np.asarray(
            found.reshape(len(found), self.inputs.sampler.scrambles, -1).mean(axis=2).T
        )

    def _quick(self, case: Case) -> Quick:
        return of_case(
            case,
            minimum=self.inputs.minimum_runs,
            scrambles=self.inputs.sampler.scrambles,
            histories=self.histories,
        )

    def _case(self, scenario: Scenario, columns: Columns) -> Case:
        inputs = self.inputs
        total = self.n * inputs.sampler.scrambles
        return realise(scenario, columns, total, paths=inputs.paths, logged=inputs.logged)


def _drivers(bench: Bench) -> list[Driver]:
    """The drivers that this job has, in the order in which they are shown."""
    scenario, case = bench.inputs.scenario, bench.case
    found = [_spread(scenario, case), *_rig(scenario, bench)]
    if case.program:
        if float(np.mean(case.fishing_day)) > 0:
            found.append(_fishing_day(case))
        if case.speeds is not None:
            found.append(_trip_speed())
        if scenario.has_kinds:
            found += _workable(case)
        found += [*_next_odds(case), _all_odds()]
    found += _fallback(bench)
    hours = _value(scenario.recovery.hours, "recovery.hours", bench.columns)
    if case.program and hours > 0:
        found.append(_recovery(hours))
    return found


def _factor(name: str, words: str, **more: Any) -> Driver:
    """A driver that is a factor on something."""
    values = tuple(float(value) for value in FACTORS)
    return Driver(name, words, 1.0, (0.75, 1.25), 0.1, 10.0, values, **more)


def _spread(scenario: Scenario, case: Case) -> Driver:
    def write(scenario: Scenario, columns: Columns, factor: float) -> Written:
        rates, drawn = _times(scenario.rates, columns, "rates", factor)
        return scenario.model_copy(update={"rates": rates}), drawn

    words = "spread" if len(scenario.rates) > 1 else "spread, one rate"
    return _factor(
        "spread", words, amount=float(np.mean(case.spread)), unit="currency/d", write=write
    )


def _rig(scenario: Scenario, bench: Bench) -> list[Driver]:
    named = [name for name in scenario.rates if name.lower().startswith("rig")]
    if not named or len(scenario.rates) < 2:
        return []
    name = named[0]

    def write(scenario: Scenario, columns: Columns, factor: float) -> Written:
        rates, drawn = _times({name: scenario.rates[name]}, columns, "rates", factor)
        return scenario.model_copy(update={"rates": {**scenario.rates, **rates}}), drawn

    rate = _value(scenario.rates[name], f"rates.{name}", bench.columns)
    return [_factor("rig", "rig rate alone", amount=rate, unit="currency/d", write=write)]


def _fishing_day(case: Case) -> Driver:
    def write(scenario: Scenario, columns: Columns, factor: float) -> Written:
        fishing = scenario.fishing
        rates, drawn = _times(fishing.day_rates, columns, "fishing.day_rates", factor)
        changed = fishing.model_copy(update={"day_rates": rates})
        return scenario.model_copy(update={"fishing": changed}), drawn

    day = float(np.mean(case.fishing_day))
    return _factor("fishing_day", "fishing day", amount=day, unit="currency/d", write=write)


def _recovery(hours: float) -> Driver:
    def write(scenario: Scenario, columns: Columns, factor: float) -> Written:
        recovery = scenario.recovery
        hours, drawn = _times({"hours": recovery.hours}, columns, "recovery", factor)
        return scenario.model_copy(update={"recovery": recovery.model_copy(update=hours)}), drawn

    return _factor("recovery", "recovery hours", amount=hours, unit="h", write=write)


def _trip_speed() -> Driver:
    def edit(case: Case, factor: float) -> Case:
        now = case.speeds
        assert now is not None
        speeds = TripSpeeds(
            now.shoe,
            now.in_cased * factor,
            now.in_open * factor,
            now.out_cased * factor,
            now.out_open * factor,
        )
        fallbacks = [
            replace(each, speeds=speeds) if isinstance(each, SidetrackPlan) else each
            for each in case.fallbacks
        ]
        return replace(case, speeds=speeds, fallbacks=fallbacks)

    return _factor("trip_speed", "trip speeds", edit=edit)


def _fallback(bench: Bench) -> list[Driver]:
    level = begin(bench.case)
    now = stop(bench.case, bench.choice, level)
    bill = np.zeros(()) if now.bill is None else now.bill.mean()
    cost = float((level.weight * bill).sum(axis=0).mean())
    if cost <= 0:  # a factor on nothing
        return []

    def edit(case: Case, factor: float) -> Case:
        more = (factor - 1.0) * cost
        fallbacks = [replace(each, sums=each.sums + more) for each in case.fallbacks]
        return replace(case, fallbacks=fallbacks)

    return [_factor("fallback", "fallback cost", amount=cost, unit="currency", edit=edit)]


def _workable(case: Case) -> list[Driver]:
    even = begin(_with_prior(case, 0.5)).weight.mean(axis=(1, 2))  # of the log, by kind of fish
    if not (even > 0).all():  # the log says for certain which kind it is
        return []

    def edit(case: Case, belief: float) -> Case:
        w, s = belief / even[0], (1.0 - belief) / even[1]
        return _with_prior(case, w / (w + s) if case.logged else belief)

    now = float(begin(case).weight[0].mean())
    ends = 0.0, 1.0
    found = _chance(
        "workable", "workable chance", edit, now=now, step=0.15, ends=ends, grid=CHANCES
    )
    return [found]


def _with_prior(case: Case, chance: float) -> Case:
    """The case with the fish workable with a chance that is the same in every draw."""
    return replace(case, prior=np.reshape([chance, 1.0 - chance], (2, 1, 1)))


def _next_odds(case: Case) -> list[Driver]:
    run = case.program[0]
    least, now, most = (_mean_odds(case, run, log) for log in (LEAST_LOG, 0.0, MOST_LOG))
    if most - least < 1e-6:  # certain, one way or the other
        return []

    def edit(case: Case, chance: float) -> Case:
        from scipy.optimize import brentq  # a quarter of a second, for whoever turns these odds

        log = brentq(lambda x: _mean_odds(case, run, x) - chance, LEAST_LOG, MOST_LOG, xtol=1e-10)
        return _with_ratio(case, [run], float(log))

    edge = 1e-4 * (most - least)
    ends, grid = (least + edge, most - edge), least + (most - least) * CHANCES
    return [_chance("next_odds", "odds of next run", edit, now=now, step=0.1, ends=ends, grid=grid)]


def _chance(
    name: str,
    words: str,
    edit: Callable[[Case, float], Case],
    *,
    now: float,
    step: float,
    ends: tuple[float, float],
    grid: Array,
) -> Driver:
    """A driver that is a chance."""
    least, most = ends
    steps = max(least, now - step), min(most, now + step)
    values = tuple(float(value) for value in grid)
    return Driver(name, words, now, steps, least, most, values, factor=False, edit=edit)


def _all_odds() -> Driver:
    def edit(case: Case, ratio: float) -> Case:
        return _with_ratio(case, case.program, float(np.log(ratio)))

    step = 2.0 / 3.0, 3.0 / 2.0
    values = tuple(float(value) for value in RATIOS)
    return Driver("all_odds", "odds of all runs", 1.0, step, 0.02, 50.0, values, edit=edit)


def _with_ratio(case: Case, runs: Sequence[int], log_ratio: float) -> Case:
    """The case with the odds of recovery of some runs times exp(log_ratio)."""
    changed = list(case.runs)
    ratio = np.asarray(np.exp(log_ratio))
    for run in runs:
        odds = with_odds_ratio(changed[run].odds, ratio=ratio)
        changed[run] = replace(changed[run], odds=odds)
    return replace(case, runs=changed)


def _mean_odds(case: Case, run: int, log_ratio: float) -> float:
    """Chance that the next run recovers, over kinds and draws, with its odds moved."""
    level = begin(case)
    moved = _with_ratio(case, [run], log_ratio)
    odds = odds_now(moved, run, damaged=level.damaged, days=level.days + case.elapsed)
    return float((level.weight * odds.recovered).sum(axis=0).mean())


def _times(
    amounts: Mapping[str, Amount], columns: Columns, start: str, factor: float
) -> tuple[dict[str, Amount], Columns]:
    """Amounts x factor: the numbers among them, and the columns of those that are drawn."""
    numbers: dict[str, Amount] = {}
    drawn = dict(columns)
    for name, amount in amounts.items():
        path = f"{start}.{name}"
        if isinstance(amount, Distribution):
            drawn[path] = columns[path] * factor
            numbers[name] = amount  # the very object, by which its column is found
        else:
            numbers[name] = amount * factor
    return numbers, drawn


def _value(amount: Amount, path: str, columns: Columns) -> float:
    """Mean of an amount over the draws."""
    return float(columns[path].mean()) if isinstance(amount, Distribution) else amount
