"""The main inputs of a job, each as one number, and how each is set.

With f a factor and p a chance, an input set to it means

    spread        every rate of [rates] x f
    rates.NAME    that rate alone x f, where it is one of several and above a fifth of the spread
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
from functools import cache, cached_property, partial
from typing import Any

import numpy as np
from numpy.typing import NDArray

from econ.decision.sensitivity.roots import root
from econ.engine.case import Case
from econ.engine.choice import Choice
from econ.engine.inputs import Inputs
from econ.engine.level import Level, begin, odds_now
from econ.engine.walk import next_run, stop
from econ.job import SidetrackPlan, TripSpeeds, with_odds_ratio
from econ.scenario.amounts import Amount
from econ.scenario.distributions import Distribution
from econ.scenario.scenario import Scenario

Array = NDArray[np.float64]
Columns = Mapping[str, Array]
Written = tuple[Scenario, Columns]
Between = tuple[float, float]
FACTORS = np.linspace(0.5, 1.5, 9)
CHANCES = np.linspace(0.1, 0.9, 9)
RATIOS = np.geomspace(0.25, 4.0, 9)
LEAST_LOG, MOST_LOG = -30.0, 30.0  # of an odds ratio: chances as good as 0 and 1
LARGE_RATE = 0.2  # of the spread: a rate above it is an input of its own


@dataclass(frozen=True)
class Input:
    """A main input of a job: what it is called, where it stands, and how far it is turned.

    now: its value as the scenario has it, 1 for a factor; amount: what factor 1 stands for
    [unit], None where that is no single amount; step: the two values of its swing; least,
    most: between which a break-even is looked for; grid: values of a map, rising.
    """

    name: str
    words: str
    now: float
    step: Between
    least: float
    most: float
    grid: tuple[float, ...]
    factor: bool = True
    amount: float | None = None
    unit: str = ""


@dataclass(frozen=True)
class Turn:
    """How an input is set: in the scenario and its columns, or in the case made from them.

    straight: two values that the cost is linear between and beyond, whichever fallback is chosen;
    priced: the same, but the choice of the fallback changes; both None where it bends. rebills:
    whether it changes what a fallback costs; walks: whether it changes anything else.
    """

    write: Callable[[Scenario, Columns, float], Written] | None = None
    edit: Callable[[Case, float], Case] | None = None
    straight: Between | None = None
    priced: Between | None = None
    rebills: bool = False
    walks: bool = True


@dataclass(frozen=True)
class NextOdds:
    """The chance that the next run recovers, by kind of fish and draw, as its odds are moved.

    case, level: the state before the run.
    """

    case: Case
    level: Level

    @classmethod
    def before(cls, case: Case) -> NextOdds:
        """Of the state now."""
        return cls(case, begin(case))

    @classmethod
    def of(cls, case: Case) -> NextOdds | None:
        """The same, where all outcomes but recovery keep their proportions as its odds are moved:
        where no time has passed and the top is as it was."""
        now = cls.before(case)
        return None if now.days.any() or now.level.damaged.any() else now

    @property
    def days(self) -> Array:
        """Since the decision [d]."""
        return self.level.days + self.case.elapsed

    @cached_property
    def run(self) -> int:
        """Number of the next run (from 0)."""
        run = next_run(self.case)
        assert run is not None
        return run

    def odds(self, log_ratio: float) -> Array:
        """Chance of recovery with the odds of the run times exp(log_ratio), shape
        (kinds, 1, n or 1)."""
        moved = with_ratio(self.case, [self.run], log_ratio)
        return odds_now(moved, self.run, self.level, days=self.days).recovered

    @cached_property
    def mean(self) -> Callable[[float], float]:
        """The same over kinds and draws, as a function of the logarithm; every search for a chance
        begins with the same two."""

        @cache
        def mean(log_ratio: float) -> float:
            return float((self.level.weight * self.odds(log_ratio)).sum(axis=0).mean())

        return mean

    def log_ratio(self, chance: float) -> float:
        """What the logarithm of the odds is moved by for a chance over kinds and draws."""
        return root(lambda log: self.mean(log) - chance, low=LEAST_LOG, high=MOST_LOG)


def main_inputs(job: Inputs, case: Case, choice: Choice | None) -> list[tuple[Input, Turn]]:
    """The main inputs that a job has, in the order in which they are shown, and how each is set."""
    scenario = job.scenario
    made = [_spread(job), *_rates(job)]
    runs = next_run(case) is not None
    if runs:
        if float(np.mean(case.fishing_day)) > 0:
            made.append(_fishing_day(job))
        if case.speeds is not None:
            made.append(_trip_speed())
        if scenario.has_kinds:
            made += [each for doubt in range(case.doubts) for each in _workable(job, case, doubt)]
        made += [*_next_odds(case), _all_odds()]
    made += _fallback(case, choice)
    hours = job.mean([scenario.recovery.hours])
    if runs and hours > 0:
        made.append(_recovery(hours))
    return made


def _factor(name: str, words: str, turn: Turn, **more: Any) -> tuple[Input, Turn]:
    """An input that is a factor on something."""
    values = tuple(float(value) for value in FACTORS)
    return Input(name, words, 1.0, (0.75, 1.25), 0.1, 10.0, values, **more), turn


def _spread(job: Inputs) -> tuple[Input, Turn]:
    rates = job.scenario.rates
    words = "spread" if len(rates) > 1 else "spread, one rate"
    turn = Turn(write=partial(_write_rates, list(rates)), priced=(1.0, 2.0), rebills=True)
    return _factor("spread", words, turn, amount=job.mean(rates.values()), unit="currency/d")


def _rates(job: Inputs) -> list[tuple[Input, Turn]]:
    """Every rate above a fifth of the spread, where there is more than one rate."""
    rates = job.scenario.rates
    spread = job.mean(rates.values())
    made = []
    for name, rate in rates.items():
        amount = job.mean([rate])
        if len(rates) > 1 and amount > LARGE_RATE * spread:
            turn = Turn(write=partial(_write_rates, [name]), priced=(1.0, 2.0), rebills=True)
            words = f"rate: {name}"
            made.append(_factor(f"rates.{name}", words, turn, amount=amount, unit="currency/d"))
    return made


def _write_rates(
    names: Sequence[str], scenario: Scenario, columns: Columns, factor: float
) -> Written:
    chosen = {name: scenario.rates[name] for name in names}
    rates, drawn = _times(chosen, columns, "rates", factor)
    return scenario.model_copy(update={"rates": {**scenario.rates, **rates}}), drawn


def _fishing_day(job: Inputs) -> tuple[Input, Turn]:
    def write(scenario: Scenario, columns: Columns, factor: float) -> Written:
        fishing = scenario.fishing
        rates, drawn = _times(fishing.day_rates, columns, "fishing.day_rates", factor)
        changed = fishing.model_copy(update={"day_rates": rates})
        return scenario.model_copy(update={"fishing": changed}), drawn

    day = job.mean(job.scenario.fishing.day_rates.values())
    turn = Turn(write=write, straight=(1.0, 2.0))
    return _factor("fishing_day", "fishing day", turn, amount=day, unit="currency/d")


def _recovery(hours: float) -> tuple[Input, Turn]:
    def write(scenario: Scenario, columns: Columns, factor: float) -> Written:
        recovery = scenario.recovery
        hours, drawn = _times({"hours": recovery.hours}, columns, "recovery", factor)
        return scenario.model_copy(update={"recovery": recovery.model_copy(update=hours)}), drawn

    turn = Turn(write=write, straight=(1.0, 2.0))
    return _factor("recovery", "recovery hours", turn, amount=hours, unit="h")


def _trip_speed() -> tuple[Input, Turn]:
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
            replace(plan, speeds=speeds) if isinstance(plan, SidetrackPlan) else plan
            for plan in case.fallbacks
        ]
        return replace(case, speeds=speeds, fallbacks=fallbacks)

    return _factor("trip_speed", "trip speeds", Turn(edit=edit, rebills=True))


def _fallback(case: Case, choice: Choice | None) -> list[tuple[Input, Turn]]:
    level = begin(case)
    now = stop(case, choice, level)
    bill = np.zeros(()) if now.bill is None else now.bill.mean()
    cost = float((level.weight * bill).sum(axis=0).mean())
    if cost <= 0:  # a factor on nothing
        return []

    def edit(case: Case, factor: float) -> Case:
        more = (factor - 1.0) * cost
        fallbacks = [replace(plan, sums=plan.sums + more) for plan in case.fallbacks]
        return replace(case, fallbacks=fallbacks)

    turn = Turn(edit=edit, straight=(1.0, 2.0), rebills=True, walks=False)
    return [_factor("fallback", "fallback cost", turn, amount=cost, unit="currency")]


def _workable(job: Inputs, case: Case, doubt: int) -> list[tuple[Input, Turn]]:
    favour = _in_favour(case, doubt)

    def sides(case: Case) -> Array:
        weight = begin(case).weight.mean(axis=(1, 2))
        return np.array([weight[favour].sum(), weight[~favour].sum()])

    even = sides(_with_prior(case, doubt, 0.5))  # of the log, with the doubt in favour and not
    if not (even > 0).all():  # the log says for certain which kind it is
        return []

    def edit(case: Case, belief: float) -> Case:
        w, s = belief / even[0], (1.0 - belief) / even[1]
        return _with_prior(case, doubt, w / (w + s) if case.logged else belief)

    now = float(sides(case)[0])
    # After a log the draws weigh differently with the belief, and so may the choice differ; and
    # where a run makes the fish another one, what is followed hangs on all kinds together.
    bends = (bool(case.logged) and len(case.fallbacks) > 1) or case.renewing
    turn = Turn(edit=edit, straight=None if bends else (0.0, 1.0))
    name, words = "workable", "workable chance"
    if case.doubts > 1:
        name = f"doubt.{doubt + 1}.workable"
        words = f"chance of {job.scenario.doubts[doubt].name}"
    made = _chance(name, words, turn, now=now, step=0.15, ends=(0.0, 1.0), grid=CHANCES)
    return [made]


def _with_prior(case: Case, doubt: int, chance: float) -> Case:
    """The case with a doubt in favour with a chance that is the same in every draw."""
    favour = _in_favour(case, doubt)
    others = case.prior + case.prior[np.arange(len(case.prior)) ^ (1 << doubt)]
    return replace(case, prior=others * np.where(favour, chance, 1.0 - chance)[:, None, None])


def _in_favour(case: Case, doubt: int) -> NDArray[np.bool_]:
    """The kinds of fish in which a doubt is in favour."""
    return np.asarray(np.arange(len(case.prior)) >> doubt & 1 == 0)


def _next_odds(case: Case) -> list[tuple[Input, Turn]]:
    odds = NextOdds.before(case)
    least, now, most = (odds.mean(log) for log in (LEAST_LOG, 0.0, MOST_LOG))
    if most - least < 1e-6:  # certain, one way or the other
        return []

    def edit(case: Case, chance: float) -> Case:
        now = NextOdds.before(case)
        return with_ratio(case, [now.run], now.log_ratio(chance))

    edge = 1e-4 * (most - least)
    ends, grid = (least + edge, most - edge), least + (most - least) * CHANCES
    turn = Turn(edit=edit)
    return [_chance("next_odds", "odds of next run", turn, now=now, step=0.1, ends=ends, grid=grid)]


def _chance(
    name: str,
    words: str,
    turn: Turn,
    *,
    now: float,
    step: float,
    ends: Between,
    grid: Array,
) -> tuple[Input, Turn]:
    """An input that is a chance."""
    least, most = ends
    steps = max(least, now - step), min(most, now + step)
    values = tuple(float(value) for value in grid)
    return Input(name, words, now, steps, least, most, values, factor=False), turn


def _all_odds() -> tuple[Input, Turn]:
    def edit(case: Case, ratio: float) -> Case:
        return with_ratio(case, case.program, float(np.log(ratio)))

    step = 2.0 / 3.0, 3.0 / 2.0
    values = tuple(float(value) for value in RATIOS)
    about = Input("all_odds", "odds of all runs", 1.0, step, 0.02, 50.0, values)
    return about, Turn(edit=edit)


def with_ratio(case: Case, runs: Sequence[int], log_ratio: float) -> Case:
    """The case with the odds of recovery of some runs times exp(log_ratio)."""
    changed = list(case.runs)
    ratio = np.asarray(np.exp(log_ratio))
    for run in runs:
        odds = with_odds_ratio(changed[run].odds, ratio=ratio)
        changed[run] = replace(changed[run], odds=odds)
    return replace(case, runs=changed)


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
