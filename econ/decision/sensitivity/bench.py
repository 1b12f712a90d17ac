"""A bench on which a job is valued again and again on one set of draws, with something changed.

The cost of every limit is linear in a price, in the chance that the fish is workable and, for
each kind of fish and draw, in the chance that the next run recovers. Two walks then give it for
every value (`econ.engine.expected` has why). With several fallbacks the cheapest is chosen anew
at every value, from bills that the two walks have. What bends the cost is walked every time.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache, cached_property, partial

import numpy as np
from numpy.typing import NDArray

from econ.decision.limits import Verdict, verdict
from econ.decision.quick import DRAWS, means_by_scramble
from econ.decision.sensitivity.inputs import (
    LEAST_LOG,
    MOST_LOG,
    Between,
    Columns,
    NextOdds,
    main_inputs,
    with_ratio,
)
from econ.decision.sensitivity.told import Told, told_by_log
from econ.engine.case import Case
from econ.engine.choice import Bills, Choice
from econ.engine.expected import Open, opened
from econ.engine.inputs import Inputs
from econ.engine.realise import KnownRuns
from econ.engine.walk import next_run
from econ.scenario.scenario import Scenario

Array = NDArray[np.float64]
TOGETHER = 4  # sets of draws that are walked at once: their arrays still fit a processor's cache
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
# Those of them that are hours, which bend the cost where there is a deadline.
HOURS = re.compile(
    r"recovery\.hours"
    r"|fallback\.\d+\.(condition|plug_hours|dress|logging_hours|hours|whipstock\.hours)"
)
# What the cost of a fallback hangs on.
BILLED_BY = ("fallback.", "rates.", "trip_speed.", "fish.", "weather.", "deadline.")


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
        self._known = KnownRuns()  # of the job as it stands; each change is in few of them
        self.case = self._case(job.scenario, self.columns)
        self.open = opened(self.case, histories=histories, bills=Bills(self.case, kept=True))
        self.choice = self.open.choice(self.case)
        made = main_inputs(job, self.case, self.choice)
        self.inputs = {about.name: about for about, _ in made}
        self._turns = {about.name: turn for about, turn in made}
        self._turned: dict[str, Callable[[float], Array]] = {}
        self._lines: dict[str, _Line | None] = {}
        self._moved: dict[tuple[str, Between], Moved] = {}
        self._walked: tuple[Mapping[str, float], Open] | None = None  # that bills were changed of

    @cached_property
    def base(self) -> Limits:
        """Limits of the job as it stands."""
        return self.judged(self._by_scramble(self._cost))

    @cached_property
    def told(self) -> dict[str, Told]:
        """What the log says about each uncertain amount that it bears on, by key path."""
        paths = [column.name for column in self.job.sampler.columns if column.distribution]
        return told_by_log(self.job, self.columns, paths, n=self.n)

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
            self._turned[name] = cache(self._turning(name))  # both rules of a break-even ask alike
        return self._turned[name]

    def straight(self, name: str) -> Between | None:
        """Two values of a main input between and beyond which the cost is linear, if any."""
        turn = self._turns[name]
        return turn.straight or (turn.priced if self.choice is None else None)

    def walked(self, changes: Mapping[str, float]) -> Array:
        """Cost by scramble and limit [currency] with main inputs set, from a walk."""
        walked, choice = self._set(changes)
        return self._by_scramble(walked.cost(choice), walked.weight)

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
            if (path, between) in self._moved or self._lines.get(path) is not None:
                continue
            columns = self.job.sampler.moved(self.n, name=path, between=between)
            if any(name.startswith(BILLED_BY) for name in columns):
                continue
            if len(columns) == 1 and self._is_price(path):
                drawn = self.columns[path]
                lines[path] = {path: drawn + _reach(drawn)}
            elif path != WORKABLE or self._line(path) is None:
                held[path, between] = columns
        costs = self._costs([*lines.values(), *held.values()])
        base = self._cost.sum(axis=0)
        for path in lines:
            reach = _reach(self.columns[path])
            self._lines[path] = _Line(base, (next(costs)[0] - base) / reach, reach)
        for key in held:
            cost = self._by_scramble(*next(costs))
            self._moved[key] = Moved(cost, cost)

    def _costs(self, changes: Sequence[Columns]) -> Iterator[tuple[Array, Array]]:
        """Cost of each limit and draw [currency], and weight of each draw, with each of several
        sets of columns changed, none of which a fallback is billed by."""
        bills: dict[int, Bills] = {}  # of the same draws so many times
        for start in range(0, len(changes), TOGETHER):
            some = changes[start : start + TOGETHER]
            times = len(some)
            if times not in bills:
                bills[times] = self.open.bills.repeated(self._case_of([{}] * times), times)
            case = self._case_of(some)
            walked = opened(case, histories=self.histories, bills=bills[times])
            cost = walked.cost(self.choice).sum(axis=0)
            parts = cost.reshape(len(cost), times, -1)
            # After a log the weights have the mean 1 over all sets, and should have it over each.
            weights = np.broadcast_to(walked.weight, (1, case.n)).reshape(times, -1)
            weight = weights.mean(axis=1)
            yield from ((parts[:, i] / weight[i], weights[i] / weight[i]) for i in range(times))

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
            known = self._by_scramble(walked.cost(choice), walked.weight)
            if choice is self.choice:
                return Moved(known, known)
            return Moved(known, self._by_scramble(walked.cost(self.choice), walked.weight))
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
        # Where a run makes the fish another one, what is followed hangs on all kinds together.
        linear = name == "next_odds" and not self.case.renewing
        if linear and (now := NextOdds.of(self.case)) is not None:
            return self._by_chance(now)
        return partial(self._at, name)

    def _choosing(self, name: str, ends: Between) -> Callable[[float], Array]:
        """Cost along a price with the fallback chosen anew at every value."""
        (one, first), (other, last) = (self._set({name: value}) for value in ends)
        assert first is not None
        assert last is not None

        def cost(value: float) -> Array:
            share = (value - ends[0]) / (ends[1] - ends[0])
            return self._by_scramble(one.mixed_cost(other, share, first.mixed(last, share)))

        return cost

    def _by_chance(self, now: NextOdds) -> Callable[[float], Array]:
        """Cost as the next run recovers with a chance: for each kind of fish and draw linear in
        its own, between a run that is sure to fail and one that is sure to recover."""
        run = next_run(self.case)
        assert run is not None
        failing, recovering = (
            self._walk(with_ratio(self.case, [run], log), rebills=False)[0].cost(self.choice)
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
        turns = [self._turns[name] for name in changes]
        if all(turn.walks for turn in turns):
            return self._walk(self._changed(changes), rebills=any(turn.rebills for turn in turns))
        rest = {name: value for name, value in changes.items() if self._turns[name].walks}
        if self._walked is None or self._walked[0] != rest:
            self._walked = rest, self._set(rest)[0] if rest else self.open
        case = self._changed(changes)
        walked = self._walked[1].rebilled(case, range(len(case.fallbacks)))
        return walked, walked.choice(case)

    def _changed(self, changes: Mapping[str, float]) -> Case:
        """The case with main inputs set."""
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
        return case

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

    def _is_price(self, path: str) -> bool:
        """Whether the cost is linear in an amount, and nothing but the cost moves with it."""
        bends = self.case.deadline is not None and HOURS.fullmatch(path)
        return bool(PRICES.fullmatch(path)) and not bends

    def _new_line(self, path: str) -> _Line | None:
        drawn = self.columns[path]
        cost, together = self._cost, self._cost.sum(axis=0)
        unlogged = len(cost) == 2 and not self.job.logged  # kinds of fish, in their prior shares
        if path == WORKABLE and unlogged and ((drawn > 0) & (drawn < 1)).all():
            return _Line(together, cost[0] / drawn - cost[1] / (1.0 - drawn), 1.0)
        if not self._is_price(path):
            return None
        reach = _reach(drawn)
        walked, choice = self._opened({path: drawn + reach})
        slope = (walked.cost(self.choice).sum(axis=0) - together) / reach
        if choice is None or choice is self.choice:
            return _Line(together, slope, reach)
        return _Line(together, slope, reach, (walked, choice))

    def _by_scramble(self, cost: Array, weight: Array | None = None) -> Array:
        """Cost by scramble and limit from one by (kind,) limit and draw. weight: of the draws of
        a walk other than that of the base, whose weights a log may make others."""
        together = cost.sum(axis=0) if cost.ndim == 3 else cost
        weight = self.open.weight if weight is None else weight
        return means_by_scramble(
            together,
            np.ravel(weight) if self.job.logged else None,
            scrambles=self.job.sampler.scrambles,
        )

    def _case(self, scenario: Scenario, columns: Columns) -> Case:
        total = self.n * self.job.sampler.scrambles
        return self.job.realised(scenario, columns, total, known=self._known)


def _reach(drawn: Array) -> float:
    """How far beyond the draws of a price it is walked as well."""
    return float(np.ptp(drawn)) or 1.0


def fallbacks_of(paths: Collection[str]) -> frozenset[int]:
    """Numbers (from 0) of the fallbacks that some amounts belong to; none if any belongs to
    something else."""
    if not all(path.startswith("fallback.") for path in paths):
        return frozenset()
    return frozenset(int(path.split(".")[1]) - 1 for path in paths)
