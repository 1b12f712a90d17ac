"""The main inputs of a job, each as one number, and a bench on which to turn them.

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

The cost of every limit is linear in a price, in the chance that the fish is workable and, for
each kind of fish and draw, in the chance that the next run recovers. Two walks then give it for
every value (`econ.engine.expected` has why). With several fallbacks the cheapest is chosen anew
at every value, from bills that the two walks have. What bends the cost is walked every time.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache, cached_property, partial
from typing import Any

import numpy as np
from numpy.typing import NDArray

from econ.decision.limits import Verdict, verdict
from econ.decision.quick import DRAWS
from econ.decision.sensitivity.roots import root
from econ.engine.case import Case, realise
from econ.engine.choice import Bills, Choice
from econ.engine.expected import Open, opened
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
Between = tuple[float, float]
FACTORS = np.linspace(0.5, 1.5, 9)
CHANCES = np.linspace(0.1, 0.9, 9)
RATIOS = np.geomspace(0.25, 4.0, 9)
LEAST_LOG, MOST_LOG = -30.0, 30.0  # of an odds ratio: chances as good as 0 and 1
TOGETHER = 4  # sets of draws that are walked at once: their arrays still fit a processor's cache
LARGE_RATE = 0.2  # of the spread: a rate above it is an input of its own
WORKABLE = "fishing.workable"
# Key paths of the amounts that are prices, or shares and hours that enter as prices do: they
# move neither a chance nor the clock of fishing nor a fish top, and the cost is linear in each.
PRICES = re.compile(
    r"rates\..+|common\.cost|recovery\.(hours|charge|fishing_share)"
    r"|fishing\.(day_rates\..+|mobilization|hole_lost_string_share)"
    r"|run\.\d+\.(charge|string_value)|fish\.piece\.\d+\.value"
    r"|rental\.\d+\.(mobilization|redress|per_foot|replacement)"
    r"|fallback\.\d+\.(mobilization|directional_day|condition|plug_hours|plug_cost|dress"
    r"|bit_cost|logging_hours|logging_cost|other_cost|lost_in_hole_share|hours|cost"
    r"|value_given_up|whipstock\.(hours|cost)|stick_again\.(chance|cost)|trouble\.(chance|cost))"
)
BILLED_BY = ("fallback.", "rates.", "trip_speed.", "fish.")  # what the cost of a fallback hangs on


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
class Limits:
    """Limits of 0 to K runs: cost [currency], shape (scrambles, limits), and the verdict."""

    cost: Array
    verdict: Verdict


@dataclass(frozen=True)
class Moved:
    """Cost of each limit [currency], shape (scrambles, limits), with an amount held in a range:
    known to a crew that chooses its fallback with it, and unknown to the crew."""

    known: Array
    unknown: Array


@dataclass(frozen=True)
class _Turn:
    """How an input is set: in the scenario and its columns, or in the case made from them.

    straight: two values that the cost is linear between and beyond, whichever fallback is chosen;
    priced: the same, but the choice of the fallback changes; both None where it bends. rebills:
    whether it changes what a fallback costs.
    """

    write: Callable[[Scenario, Columns, float], Written] | None = None
    edit: Callable[[Case, float], Case] | None = None
    straight: Between | None = None
    priced: Between | None = None
    rebills: bool = False


@dataclass(frozen=True)
class _Line:
    """A job along an uncertain price: with x its draws, x + reach is walked as well.

    cost, slope: cost at x and its change a unit of the price, shape (limits, n), with the
    fallback chosen on the base; beyond: the walk at x + reach and its own choice, None where the
    choice does not change.
    """

    cost: Array
    slope: Array
    reach: float
    beyond: tuple[Open, Choice] | None = None


class Bench:
    """A job on one set of draws, to be valued again and again with something changed.

    n: draws of each scramble; histories: how many a level keeps apart; inputs: the main inputs
    by name.
    """

    def __init__(self, job: Inputs, *, n: int = DRAWS, histories: int = 1) -> None:
        self.job = job
        self.n = n
        self.histories = histories
        self.columns = job.first(n)
        self.case = self._case(job.scenario, self.columns)
        self.open = opened(self.case, histories=histories, bills=Bills(self.case, kept=True))
        self.choice = self.open.choice(self.case)
        made = _main_inputs(self)
        self.inputs = {about.name: about for about, _ in made}
        self._turns = {about.name: turn for about, turn in made}
        self._turned: dict[str, Callable[[float], Array]] = {}
        self._lines: dict[str, _Line | None] = {}
        self._moved: dict[tuple[str, Between], Moved] = {}

    @cached_property
    def base(self) -> Limits:
        """Limits of the job as it stands."""
        return self.judged(self._by_scramble(self._cost))

    @cached_property
    def _cost(self) -> Array:
        """Cost of the job as it stands by kind, limit and draw [currency]."""
        return self.open.cost(self.choice)

    def judged(self, cost: Array) -> Limits:
        """A cost by scramble and limit with its verdict."""
        return Limits(cost, verdict(cost, minimum=self.job.minimum_runs))

    def limits(self, changes: Mapping[str, float]) -> Limits:
        """Limits with main inputs, by name, set to the values of `changes`, walked anew."""
        return self.judged(self.walked(changes))

    def turned(self, name: str) -> Callable[[float], Array]:
        """Cost by scramble and limit [currency] as a function of the value of a main input."""
        if name not in self._turned:
            self._turned[name] = self._turning(name)
        return self._turned[name]

    def straight(self, name: str) -> Between | None:
        """Two values of a main input between and beyond which the cost is linear, if any."""
        turn = self._turns[name]
        return turn.straight or (turn.priced if self.choice is None else None)

    def walked(self, changes: Mapping[str, float]) -> Array:
        """Cost by scramble and limit [currency] with main inputs set, from a walk."""
        walked, choice = self._set(changes)
        return self._by_scramble(walked.cost(choice))

    def moved(self, path: str, between: Between) -> Moved:
        """Cost with an uncertain amount held between two of its probabilities."""
        if (path, between) not in self._moved:
            self._moved[path, between] = self._moving(path, between)
        return self._moved[path, between]

    def prepare(self, asked: Iterable[tuple[str, Between]]) -> None:
        """Walk what `moved` will be asked for, several at once: of a walk of so few draws most is
        overhead. Amounts that fallbacks are billed by have little in common, and wait."""
        if self.job.logged and self.choice is not None:
            return  # each would choose its own fallback
        lines: dict[str, Columns] = {}
        held: dict[tuple[str, Between], Columns] = {}
        for path, between in asked:
            columns = self.job.sampler.moved(self.n, name=path, between=between)
            if any(name.startswith(BILLED_BY) for name in columns):
                continue
            if len(columns) == 1 and PRICES.fullmatch(path):
                drawn = self.columns[path]
                lines[path] = {path: drawn + _reach(drawn)}
            elif path != WORKABLE or self._line(path) is None:
                held[path, between] = columns
        costs = self._costs([*lines.values(), *held.values()])
        base = self._cost.sum(axis=0)
        for path in lines:
            reach = _reach(self.columns[path])
            self._lines[path] = _Line(base, (next(costs) - base) / reach, reach)
        for key in held:
            cost = self._by_scramble(next(costs))
            self._moved[key] = Moved(cost, cost)

    def _costs(self, changes: Sequence[Columns]) -> Iterator[Array]:
        """Cost of each limit and draw [currency] with each of several sets of columns changed,
        none of which a fallback is billed by."""
        bills: dict[int, Bills] = {}  # of the same draws so many times
        for start in range(0, len(changes), TOGETHER):
            some = changes[start : start + TOGETHER]
            times = len(some)
            if times not in bills:
                bills[times] = Bills(self._case_of([{}] * times), kept=True)
            case = self._case_of(some)
            walked = opened(case, histories=self.histories, bills=bills[times])
            cost = walked.cost(self.choice).sum(axis=0)
            parts = cost.reshape(len(cost), times, -1)
            # After a log the weights have the mean 1 over all sets, and should have it over each.
            weight = np.broadcast_to(walked.weight, (1, case.n)).reshape(times, -1).mean(axis=1)
            yield from (parts[:, i] / weight[i] for i in range(times))

    def _case_of(self, changes: Sequence[Columns]) -> Case:
        """The case with several sets of columns changed, their draws one after another."""
        drawn = {
            name: np.concatenate([columns.get(name, base) for columns in changes])
            for name, base in self.columns.items()
        }
        total = self.n * self.job.sampler.scrambles * len(changes)
        return self.job.case(drawn, total)

    def _moving(self, path: str, between: Between) -> Moved:
        columns = self.job.sampler.moved(self.n, name=path, between=between)
        line = self._line(path) if len(columns) == 1 else None
        if line is None:
            walked, choice = self._opened(columns)
            known = self._by_scramble(walked.cost(choice))
            same = choice is self.choice
            return Moved(known, known if same else self._by_scramble(walked.cost(self.choice)))
        away = columns[path] - self.columns[path]
        unknown = self._by_scramble(line.cost + away * line.slope)
        if line.beyond is None or self.choice is None:
            return Moved(unknown, unknown)
        share, (other, choice) = away / line.reach, line.beyond
        chosen = self.choice.mixed(choice, float(share.mean()))
        return Moved(self._by_scramble(self.open.mixed_cost(other, share, chosen)), unknown)

    def _turning(self, name: str) -> Callable[[float], Array]:
        turn = self._turns[name]
        if (ends := self.straight(name)) is not None:
            low, high = (self._at(name, value) for value in ends)
            return lambda value: low + (value - ends[0]) / (ends[1] - ends[0]) * (high - low)
        if turn.priced is not None:
            return self._choosing(name, turn.priced)
        if name == "next_odds" and (now := _NextOdds.of(self.case)) is not None:
            return self._by_chance(now)
        return cache(partial(self._at, name))  # the rules of a break-even ask alike

    def _choosing(self, name: str, ends: Between) -> Callable[[float], Array]:
        """Cost along a price with the fallback chosen anew at every value."""
        (one, first), (other, last) = (self._set({name: value}) for value in ends)
        assert first is not None
        assert last is not None

        def cost(value: float) -> Array:
            share = (value - ends[0]) / (ends[1] - ends[0])
            return self._by_scramble(one.mixed_cost(other, share, first.mixed(last, share)))

        return cost

    def _by_chance(self, now: _NextOdds) -> Callable[[float], Array]:
        """Cost as the next run recovers with a chance: for each kind of fish and draw linear in
        its own, between a run that is sure to fail and one that is sure to recover."""
        run = self.case.program[0]
        failing, recovering = (
            self._walk(_with_ratio(self.case, [run], log), rebills=False)[0].cost(self.choice)
            for log in (LEAST_LOG, MOST_LOG)
        )
        least, most = now.odds(LEAST_LOG), now.odds(MOST_LOG)

        def cost(chance: float) -> Array:
            reach = most - least
            share = np.divide(
                now.odds(now.log_ratio(chance)) - least,
                reach,
                out=np.zeros_like(reach),
                where=reach > 0,
            )
            return self._by_scramble(failing + share * (recovering - failing))

        return cost

    def _at(self, name: str, value: float) -> Array:
        """Cost by scramble and limit with one input set; at rest it is that of the base."""
        factor = self.inputs[name].factor
        return self.base.cost if factor and value == 1.0 else self.walked({name: value})

    def _set(self, changes: Mapping[str, float]) -> tuple[Open, Choice | None]:
        """A walk with main inputs set, and the choice of fallbacks for it."""
        scenario: Scenario = self.job.scenario
        columns: Columns = self.columns
        turns = [(self._turns[name], value) for name, value in changes.items()]
        for turn, value in turns:
            if turn.write is not None:
                scenario, columns = turn.write(scenario, columns, value)
        case = self._case(scenario, columns)
        for turn, value in turns:
            if turn.edit is not None:
                case = turn.edit(case, value)
        return self._walk(case, rebills=any(turn.rebills for turn, _ in turns))

    def _walk(self, case: Case, *, rebills: bool) -> tuple[Open, Choice | None]:
        """A walk and the choice of fallbacks for it; rebills: whether what a fallback costs may be
        other than on the base. After a log the draws may weigh otherwise, and choose otherwise."""
        if not rebills:
            walked = opened(case, histories=self.histories, bills=self.open.bills)
            return walked, walked.choice(case) if self.job.logged else self.choice
        walked = opened(case, histories=self.histories, bills=Bills(case, kept=True))
        return walked, walked.choice(case)

    def _opened(self, columns: Columns) -> tuple[Open, Choice | None]:
        """A walk with some columns changed, and the choice of fallbacks for it.

        Where only fallbacks have changed, the walk of the base has other bills; where they have
        not, neither has the choice.
        """
        case = self._case(self.job.scenario, {**self.columns, **columns})
        if numbers := fallbacks_of(columns):
            walked = self.open.rebilled(case, numbers)
            return walked, walked.choice(case)
        return self._walk(case, rebills=any(path.startswith(BILLED_BY) for path in columns))

    def _line(self, path: str) -> _Line | None:
        """The job along an uncertain amount that the cost is linear in; None where it bends."""
        if path not in self._lines:
            self._lines[path] = self._new_line(path)
        return self._lines[path]

    def _new_line(self, path: str) -> _Line | None:
        drawn = self.columns[path]
        cost, together = self._cost, self._cost.sum(axis=0)
        if path == WORKABLE and not self.job.logged and ((drawn > 0) & (drawn < 1)).all():
            return _Line(together, cost[0] / drawn - cost[1] / (1.0 - drawn), 1.0)
        if PRICES.fullmatch(path) is None:
            return None
        reach = _reach(drawn)
        walked, choice = self._opened({path: drawn + reach})
        slope = (walked.cost(self.choice).sum(axis=0) - together) / reach
        if choice is None or choice is self.choice:
            return _Line(together, slope, reach)
        return _Line(together, slope, reach, (walked, choice))

    def _by_scramble(self, cost: Array) -> Array:
        """Cost by scramble and limit from one by (kind,) limit and draw."""
        together = cost.sum(axis=0) if cost.ndim == 3 else cost
        scrambles = self.job.sampler.scrambles
        return np.asarray(together.reshape(len(together), scrambles, -1).mean(axis=2).T)

    def _case(self, scenario: Scenario, columns: Columns) -> Case:
        total = self.n * self.job.sampler.scrambles
        return realise(scenario, columns, total, paths=self.job.paths, logged=self.job.logged)


def _reach(drawn: Array) -> float:
    """How far beyond the draws of a price it is walked as well."""
    return float(np.ptp(drawn)) or 1.0


def fallbacks_of(paths: Collection[str]) -> frozenset[int]:
    """Numbers (from 0) of the fallbacks that some amounts belong to; none if any belongs to
    something else."""
    if not all(path.startswith("fallback.") for path in paths):
        return frozenset()
    return frozenset(int(path.split(".")[1]) - 1 for path in paths)


@dataclass(frozen=True)
class _NextOdds:
    """The chance that the next run recovers, by kind of fish and draw, as its odds are moved.

    weight: shape (kinds, 1, n or 1); level and case: the state before the run.
    """

    case: Case
    weight: Array
    days: Array
    damaged: NDArray[np.bool_]

    @classmethod
    def before(cls, case: Case) -> _NextOdds:
        """Of the state now."""
        level = begin(case)
        return cls(case, level.weight, level.days + case.elapsed, level.damaged)

    @classmethod
    def of(cls, case: Case) -> _NextOdds | None:
        """The same, where all outcomes but recovery keep their proportions as its odds are moved:
        where no time has passed and the top is as it was."""
        now = cls.before(case)
        return None if now.days.any() or now.damaged.any() else now

    def odds(self, log_ratio: float) -> Array:
        """Chance of recovery with the odds of the run times exp(log_ratio), shape
        (kinds, 1, n or 1)."""
        run = self.case.program[0]
        moved = _with_ratio(self.case, [run], log_ratio)
        return odds_now(moved, run, damaged=self.damaged, days=self.days).recovered

    def mean(self, log_ratio: float) -> float:
        """The same over kinds and draws."""
        return float((self.weight * self.odds(log_ratio)).sum(axis=0).mean())

    def log_ratio(self, chance: float) -> float:
        """What the logarithm of the odds is moved by for a chance over kinds and draws."""
        return root(lambda log: self.mean(log) - chance, low=LEAST_LOG, high=MOST_LOG)


def _main_inputs(bench: Bench) -> list[tuple[Input, _Turn]]:
    """The main inputs that this job has, in the order in which they are shown."""
    scenario, case, job = bench.job.scenario, bench.case, bench.job
    made = [_spread(job), *_rates(job)]
    if case.program:
        if float(np.mean(case.fishing_day)) > 0:
            made.append(_fishing_day(job))
        if case.speeds is not None:
            made.append(_trip_speed())
        if scenario.has_kinds:
            made += _workable(case)
        made += [*_next_odds(case), _all_odds()]
    made += _fallback(bench)
    hours = job.mean([scenario.recovery.hours])
    if case.program and hours > 0:
        made.append(_recovery(hours))
    return made


def _factor(name: str, words: str, turn: _Turn, **more: Any) -> tuple[Input, _Turn]:
    """An input that is a factor on something."""
    values = tuple(float(value) for value in FACTORS)
    return Input(name, words, 1.0, (0.75, 1.25), 0.1, 10.0, values, **more), turn


def _spread(job: Inputs) -> tuple[Input, _Turn]:
    rates = job.scenario.rates
    words = "spread" if len(rates) > 1 else "spread, one rate"
    turn = _Turn(write=partial(_write_rates, list(rates)), priced=(1.0, 2.0), rebills=True)
    return _factor("spread", words, turn, amount=job.mean(rates.values()), unit="currency/d")


def _rates(job: Inputs) -> list[tuple[Input, _Turn]]:
    """Every rate above a fifth of the spread, where there is more than one rate."""
    rates = job.scenario.rates
    spread = job.mean(rates.values())
    made = []
    for name, rate in rates.items():
        amount = job.mean([rate])
        if len(rates) > 1 and amount > LARGE_RATE * spread:
            turn = _Turn(write=partial(_write_rates, [name]), priced=(1.0, 2.0), rebills=True)
            words = f"rate: {name}"
            made.append(_factor(f"rates.{name}", words, turn, amount=amount, unit="currency/d"))
    return made


def _write_rates(
    names: Sequence[str], scenario: Scenario, columns: Columns, factor: float
) -> Written:
    chosen = {name: scenario.rates[name] for name in names}
    rates, drawn = _times(chosen, columns, "rates", factor)
    return scenario.model_copy(update={"rates": {**scenario.rates, **rates}}), drawn


def _fishing_day(job: Inputs) -> tuple[Input, _Turn]:
    def write(scenario: Scenario, columns: Columns, factor: float) -> Written:
        fishing = scenario.fishing
        rates, drawn = _times(fishing.day_rates, columns, "fishing.day_rates", factor)
        changed = fishing.model_copy(update={"day_rates": rates})
        return scenario.model_copy(update={"fishing": changed}), drawn

    day = job.mean(job.scenario.fishing.day_rates.values())
    turn = _Turn(write=write, straight=(1.0, 2.0))
    return _factor("fishing_day", "fishing day", turn, amount=day, unit="currency/d")


def _recovery(hours: float) -> tuple[Input, _Turn]:
    def write(scenario: Scenario, columns: Columns, factor: float) -> Written:
        recovery = scenario.recovery
        hours, drawn = _times({"hours": recovery.hours}, columns, "recovery", factor)
        return scenario.model_copy(update={"recovery": recovery.model_copy(update=hours)}), drawn

    turn = _Turn(write=write, straight=(1.0, 2.0))
    return _factor("recovery", "recovery hours", turn, amount=hours, unit="h")


def _trip_speed() -> tuple[Input, _Turn]:
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

    return _factor("trip_speed", "trip speeds", _Turn(edit=edit, rebills=True))


def _fallback(bench: Bench) -> list[tuple[Input, _Turn]]:
    level = begin(bench.case)
    now = stop(bench.case, bench.choice, level)
    bill = np.zeros(()) if now.bill is None else now.bill.mean()
    cost = float((level.weight * bill).sum(axis=0).mean())
    if cost <= 0:  # a factor on nothing
        return []

    def edit(case: Case, factor: float) -> Case:
        more = (factor - 1.0) * cost
        fallbacks = [replace(plan, sums=plan.sums + more) for plan in case.fallbacks]
        return replace(case, fallbacks=fallbacks)

    turn = _Turn(edit=edit, straight=(1.0, 2.0), rebills=True)
    return [_factor("fallback", "fallback cost", turn, amount=cost, unit="currency")]


def _workable(case: Case) -> list[tuple[Input, _Turn]]:
    even = begin(_with_prior(case, 0.5)).weight.mean(axis=(1, 2))  # of the log, by kind of fish
    if not (even > 0).all():  # the log says for certain which kind it is
        return []

    def edit(case: Case, belief: float) -> Case:
        w, s = belief / even[0], (1.0 - belief) / even[1]
        return _with_prior(case, w / (w + s) if case.logged else belief)

    now = float(begin(case).weight[0].mean())
    # After a log the draws weigh differently with the belief, and so may the choice differ.
    bends = bool(case.logged) and len(case.fallbacks) > 1
    turn = _Turn(edit=edit, straight=None if bends else (0.0, 1.0))
    made = _chance(
        "workable", "workable chance", turn, now=now, step=0.15, ends=(0.0, 1.0), grid=CHANCES
    )
    return [made]


def _with_prior(case: Case, chance: float) -> Case:
    """The case with the fish workable with a chance that is the same in every draw."""
    return replace(case, prior=np.reshape([chance, 1.0 - chance], (2, 1, 1)))


def _next_odds(case: Case) -> list[tuple[Input, _Turn]]:
    odds = _NextOdds.before(case)
    least, now, most = (odds.mean(log) for log in (LEAST_LOG, 0.0, MOST_LOG))
    if most - least < 1e-6:  # certain, one way or the other
        return []

    def edit(case: Case, chance: float) -> Case:
        return _with_ratio(case, [case.program[0]], _NextOdds.before(case).log_ratio(chance))

    edge = 1e-4 * (most - least)
    ends, grid = (least + edge, most - edge), least + (most - least) * CHANCES
    turn = _Turn(edit=edit)
    return [_chance("next_odds", "odds of next run", turn, now=now, step=0.1, ends=ends, grid=grid)]


def _chance(
    name: str,
    words: str,
    turn: _Turn,
    *,
    now: float,
    step: float,
    ends: Between,
    grid: Array,
) -> tuple[Input, _Turn]:
    """An input that is a chance."""
    least, most = ends
    steps = max(least, now - step), min(most, now + step)
    values = tuple(float(value) for value in grid)
    return Input(name, words, now, steps, least, most, values, factor=False), turn


def _all_odds() -> tuple[Input, _Turn]:
    def edit(case: Case, ratio: float) -> Case:
        return _with_ratio(case, case.program, float(np.log(ratio)))

    step = 2.0 / 3.0, 3.0 / 2.0
    values = tuple(float(value) for value in RATIOS)
    about = Input("all_odds", "odds of all runs", 1.0, step, 0.02, 50.0, values)
    return about, _Turn(edit=edit)


def _with_ratio(case: Case, runs: Sequence[int], log_ratio: float) -> Case:
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
