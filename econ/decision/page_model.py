"""The cost of every limit as a function of six sliders, for a page that opens without the program.

With w_k the belief in kind k of fish, P_k the chance that the next run recovers a fish of that
kind, A_k what fishing then costs, B_nk what it costs at a limit of n >= 1 runs if the run does
not, and F_n the fallbacks,

    C_0 = sum_k w_k B_0k + F_0,      C_n = sum_k w_k [P_k A_k + (1 - P_k) B_nk] + F_n

    prices      A, B and F are linear in the spread and in the fishing day: the lines of the
                ledger tell what of A and B is either of them, and a walk without the spread what
                of F is
    fallback    the same sum more for every fallback from every state adds that sum x the chance
                of needing one
    fallbacks   where several are open, F has each of them in each state: stopping before a run,
                the string or the hole lost on a run, by bands of the fish top; the one that is
                the cheapest there is taken
    belief      sets w; what goes with each kind of fish stays as it was
    next odds   p/(1 - p) times one ratio in every draw and for both kinds, such that at the belief
                of the file the run recovers with the chance set. The log odds of P_k are all but
                straight in the log x of the ratio: parabolas through seven nodes. A, B and F
                hardly move with it: a parabola through x = -3, 0 and 3, whatever the speed
    trip speed  hours go with the slowness u, one over the factor on the speeds: straight but for
                the wait on cement, least days of rentals and odds that move with time. A, B and F
                are parabolas of u through seven nodes

At the speeds of the file the draws of the answer are walked; what another speed changes comes
from the first of them. The rest of the way to the answer's own numbers, which is the rounding of
sums or the sampling of few draws, is added everywhere.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from copy import copy
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from econ.decision.answer import Answer
from econ.decision.run_log import inputs_after
from econ.engine.case import Case
from econ.engine.inputs import Inputs
from econ.engine.ledger import Ending, Spent
from econ.engine.level import begin, odds_now, three
from econ.engine.walk import Step, next_run, walk
from econ.job import SidetrackPlan, at_log_ratio, with_odds_ratio

Array = NDArray[np.float64]
MOST = 256  # draws of each scramble at the speeds of the file
FEW = 64  # at other speeds
SLOWNESS = (0.5, 0.75, 1.0, 1.25, 1.5, 1.75, 2.0)
FACTORS = 0.5, 2.0  # ends of the sliders that are factors
LOG_RATIOS = (-3.0, -2.0, -1.0, 0.0, 1.0, 2.0, 3.0)  # of the odds of the next run
MOST_TOPS = 8  # bands of the fish top that are told apart
NEVER = 1e-9  # a chance below this is none
# Columns of a limit, after those of A; money as what no price moves, spread, fishing day.
FISHING, RECOVERED, STILL, PLANNED, DAYS, PLAIN = slice(0, 3), 3, 4, slice(5, 8), 8, 9
PER_LIMIT = 10
PER_FALLBACK = 3  # of a state: what no price moves, spread, value given up


@dataclass(frozen=True)
class Position:
    """Where the sliders stand: factors, and for `workable` and `next_odds` chances."""

    workable: float
    next_odds: float
    spread: float = 1.0
    fishing_day: float = 1.0
    fallback: float = 1.0
    trip_speed: float = 1.0


@dataclass(frozen=True)
class Knob:
    """A slider that this job has: where the file has it, and how far it goes."""

    name: str
    now: float
    least: float
    most: float


@dataclass(frozen=True)
class State:
    """A state in which fishing ends with a fallback, within the limits from `first` to `last`.

    fallbacks: numbers of those open there; column: where the first of them begins.
    """

    first: int
    last: int
    fallbacks: tuple[int, ...]
    column: int


@dataclass(frozen=True)
class Limits:
    """Every limit at a position, shape (limits,); money in currency.

    recovered: chance; days [d], planned: elapsed time and cost of fishing when every run to the
    limit has failed; fishing: mean cost of fishing; given_up: mean value of the well that a
    fallback gives up. taken: number of the fallback if fishing stops now. next_odds, break_even:
    of the next run by itself; 0 where there is none, nan where recovery saves nothing.
    """

    cost: Array
    recovered: Array
    days: Array
    planned: Array
    fishing: Array
    given_up: Array
    taken: int = 0
    next_odds: float = 0.0
    break_even: float = 0.0

    @property
    def fallback(self) -> Array:
        """Mean spent on a fallback where one is needed [currency]; 0 where none is."""
        need = 1.0 - self.recovered
        spent = self.cost - self.fishing - self.given_up
        return np.divide(spent, need, out=np.zeros_like(need), where=need > NEVER)


NAMES = ("cost", "recovered", "days", "planned", "fishing", "given_up")


@dataclass(frozen=True)
class PageModel:
    """What the page computes with; see the head of the module.

    belief: w_k of the file; odds: P_k at LOG_RATIOS, inside (0, 1), shape (ratios, kinds).
    fallback_now: what factor 2 on the fallback adds [currency]. slowness: nodes; table: A, the
    limits and the states at each of them, then what they are more at the ends of LOG_RATIOS, shape
    (slowness + 2, kinds, columns). recovery [what no price moves,
    spread, fishing day]: less what getting off the fish would cost; mobilization: of the next run
    [currency].
    more: what is added to meet the answer, by name: by limit, or one number.
    """

    knobs: tuple[Knob, ...]
    base: Position
    limits: int
    minimum: int
    belief: Array
    odds: Array
    fallback_now: float
    slowness: tuple[float, ...]
    table: Array
    states: tuple[State, ...]
    recovery: Array
    mobilization: float
    more: dict[str, Array | float] = field(default_factory=dict)

    def at(self, position: Position) -> Limits:
        """Every limit at a position."""
        weight = self.belief
        if len(self.belief) == 2:
            weight = np.array([position.workable, 1.0 - position.workable])
        ratio = self.log_ratio(position.next_odds)
        odds = self.chances(ratio)
        after = weight * (1.0 - odds)
        ends = parabola((LOG_RATIOS[0], 0.0, LOG_RATIOS[-1]), ratio)[::2]
        along = np.append(parabola(self.slowness, 1.0 / position.trip_speed), ends)
        table = np.tensordot(along, self.table, axes=1)
        money = np.array([1.0, position.spread, position.fishing_day])
        share = np.stack([weight, *[after] * (self.limits - 1)])  # (limits, kinds)
        columns = table[:, 3 : 3 + PER_LIMIT * self.limits]
        each = columns.reshape(len(table), self.limits, PER_LIMIT)
        mixed = np.einsum("nk,knc->nc", share, each)
        with_run = np.arange(self.limits) > 0
        fishing = mixed[:, FISHING] @ money + with_run * ((weight * odds) @ table[:, :3] @ money)
        recovered = mixed[:, RECOVERED] + with_run * (weight @ odds)
        more = (position.fallback - 1.0) * self.fallback_now
        bills, given_up, taken = more * (1.0 - recovered), np.zeros(self.limits), 0
        for state in self.states:
            start, stop = state.column, state.column + PER_FALLBACK * len(state.fallbacks)
            rows = share[state.first] @ table[:, start:stop]
            costs = rows[0::PER_FALLBACK] + position.spread * rows[1::PER_FALLBACK]
            least = int(np.argmin(costs))
            bills[state.first : state.last + 1] += costs[least]
            given_up[state.first : state.last + 1] += rows[PER_FALLBACK * least + 2]
            if state.first == 0:
                taken = state.fallbacks[least]
        still = mixed[:, STILL]
        some = still > NEVER
        named = {
            "cost": fishing + bills,
            "recovered": recovered,
            "days": np.divide(mixed[:, DAYS], still, out=weight @ each[:, :, PLAIN], where=some),
            "planned": np.divide(mixed[:, PLANNED] @ money, still, out=fishing.copy(), where=some),
            "fishing": fishing,
            "given_up": given_up,
        }
        one = {}
        if self.limits > 1:
            saved = float(bills[0] - self.recovery @ money)
            one = self._next_run(named["cost"], float(weight @ odds), saved)
        every = {name: value + self.more.get(name, 0.0) for name, value in (named | one).items()}
        return Limits(**every, taken=taken)

    def _next_run(self, cost: Array, chance: float, saved: float) -> dict[str, float]:
        """The next run by itself. C_1 - C_0 is its cost with the mobilization and its losses,
        less what its recoveries save; saved: the fallback less the work after recovery."""
        need = float(cost[1] - cost[0]) - self.mobilization + chance * saved
        return {"next_odds": chance, "break_even": need / saved if saved > 0 else float("nan")}

    def chances(self, log_ratio: float) -> Array:
        """Chance that the next run recovers each kind of fish, at a log odds ratio."""
        with np.errstate(divide="ignore"):
            log_odds = np.log(self.odds) - np.log1p(-self.odds)
        return at_log_ratio(np.full((), 0.5), parabola(LOG_RATIOS, log_ratio) @ log_odds)

    def log_ratio(self, next_odds: float) -> float:
        """Log odds ratio at which the next run recovers with a chance, at the file's belief."""
        if self.limits == 1 or next_odds == self.base.next_odds:
            return 0.0
        low, high = LOG_RATIOS[0], LOG_RATIOS[-1]
        for _ in range(60):
            middle = 0.5 * (low + high)
            if self.belief @ self.chances(middle) < next_odds:
                low = middle
            else:
                high = middle
        return 0.5 * (low + high)


def parabola(nodes: Sequence[float], at: float) -> Array:
    """Weights of `nodes` (rising; each second one ends a piece) whose sum is the value at `at`."""
    weights = np.zeros(len(nodes))
    if len(nodes) == 1:
        return weights + 1.0
    i = 0
    while i < len(nodes) - 3 and at > nodes[i + 2]:
        i += 2
    a, b, c = nodes[i : i + 3]
    weights[i : i + 3] = (
        (at - b) * (at - c) / ((a - b) * (a - c)),
        (at - a) * (at - c) / ((b - a) * (b - c)),
        (at - a) * (at - b) / ((c - a) * (c - b)),
    )
    return weights


def page_model(answer: Answer) -> PageModel:
    """The model of the page on an answer, whose scenario is not changed."""
    inputs = inputs_after(answer.scenario, answer.log)
    every = _Walked(inputs, min(answer.draws, MOST))
    few = _Walked(inputs, min(answer.draws, FEW), edges=every.edges)
    trips = bool(every.file.program) and every.file.speeds is not None
    slowness = SLOWNESS if trips else (1.0,)
    speeds = [few if u == 1.0 else few.turned(speed=1.0 / u) for u in slowness]
    odds = [every.turned(log_ratio=x) for x in (LOG_RATIOS[0], LOG_RATIOS[-1])]
    tables = [every.table + each.table - few.table for each in speeds]
    tables += [each.table - every.table for each in odds]
    model = every.model(slowness, np.stack(tables), answer.prices.fallback)
    model = replace(model, knobs=tuple(_knobs(model, every.file, trips=trips)))
    return replace(model, more=_more(model.at(model.base), answer))


def _knobs(model: PageModel, case: Case, *, trips: bool) -> Iterator[Knob]:
    """The sliders that a job has, in the order in which they are shown."""
    yield Knob("spread", 1.0, *FACTORS)
    runs = model.limits > 1
    if runs and float(np.mean(case.fishing_day)) > 0:
        yield Knob("fishing_day", 1.0, *FACTORS)
    # With several doubts there is no single belief to be moved.
    if runs and len(model.belief) == 2 and (begin(case).weight.mean(axis=(1, 2)) > 0).all():
        yield Knob("workable", model.base.workable, 0.0, 1.0)
    ends = [float(model.belief @ model.chances(log)) for log in (LOG_RATIOS[0], LOG_RATIOS[-1])]
    # Certain one way or the other; or what is followed after a run that makes the fish another one
    # hangs on all kinds together, and the cost is not linear in their odds.
    if runs and ends[1] - ends[0] > 1e-6 and not case.renewing:
        yield Knob("next_odds", model.base.next_odds, *ends)
    if model.fallback_now > 0:
        yield Knob("fallback", 1.0, *FACTORS)
    if trips and not case.renewing:  # time moves odds
        yield Knob("trip_speed", 1.0, *FACTORS)


def _more(at_rest: Limits, answer: Answer) -> dict[str, Array | float]:
    """What the answer's own numbers are above those of the model. Its figures of the stages are
    those of the best limit."""
    rows, best = answer.by_runs, answer.best
    one, two = answer.stage_1, answer.stage_2
    more: dict[str, Array | float] = {
        "next_odds": 0.0,
        "break_even": 0.0,
        "cost": np.array([row.expected_cost for row in rows]) - at_rest.cost,
        "recovered": np.array([row.probability_recovered for row in rows]) - at_rest.recovered,
        "days": np.array([row.days for row in rows]) - at_rest.days,
    }
    given_up = answer.limit.expected_cost - one.mean - two.probability * two.mean
    stages = {"planned": one.planned, "fishing": one.mean, "given_up": given_up}
    at_best = np.arange(len(rows)) == best
    for name, value in stages.items():
        more[name] = np.where(at_best, value - getattr(at_rest, name), 0.0)
    if answer.ahead:
        run = answer.ahead[0]
        more["next_odds"] = run.odds - at_rest.next_odds
        if run.break_even_odds is not None:
            more["break_even"] = run.break_even_odds - at_rest.break_even
    return more


class _Walked:
    """The first draws of every scramble, walked with each fallback.

    edges: fish tops [ft] between the bands that are told apart. file, free: the job at the
    prices of the file, and without the spread; recovery: parts of the work after it [currency];
    belief: in each kind of fish; weight: of each kind in the walk, out: of it with the fish
    recovered on the next run; table: as in `PageModel`, of one node.
    """

    def __init__(self, inputs: Inputs, n: int, edges: Array | None = None) -> None:
        scenario, columns = inputs.scenario, inputs.first(n)
        total = n * inputs.sampler.scrambles

        def case(**changed: object) -> Case:
            priced = scenario.model_copy(update=changed)
            return _even(inputs.realised(priced, columns, total))

        fishing = scenario.fishing.model_copy(update={"day_rates": {}})
        self.inputs = inputs
        self.file, self.free = case(), case(rates={})
        at_prices = [each.recovery_cost for each in (self.file, self.free, case(fishing=fishing))]
        spread, day = at_prices[0] - at_prices[1], at_prices[0] - at_prices[2]
        self.recovery = [three(part) for part in (at_prices[0] - spread - day, spread, day)]
        self.belief = begin(inputs.case(columns, total)).weight[:, 0].mean(axis=1)
        self.weight = begin(self.file).weight[:, 0].mean(axis=1)
        self.edges = _edges(self.file) if edges is None else edges
        self._walk()

    def turned(self, *, speed: float = 1.0, log_ratio: float = 0.0) -> _Walked:
        """The same with another trip speed, a factor, or other odds of the next run."""
        other = copy(self)
        other.file, other.free = (
            _moved(_at_speed(case, speed), log_ratio) for case in (self.file, self.free)
        )
        other._walk()
        return other

    def model(self, slowness: Sequence[float], table: Array, fallback_now: float) -> PageModel:
        """The model on this walk, with the table by slowness."""
        case = self.file
        odds = np.stack(
            [_by_weight(_next_odds(_moved(case, log)), self.weight) for log in LOG_RATIOS]
        )
        odds = np.clip(odds, NEVER, 1.0 - NEVER)
        now = float(self.belief @ odds[len(LOG_RATIOS) // 2])
        return PageModel(
            knobs=(),
            base=Position(workable=float(self.belief[0]), next_odds=now),
            limits=len(case.program) + 1,
            minimum=self.inputs.minimum_runs,
            belief=self.belief,
            odds=odds,
            fallback_now=fallback_now,
            slowness=tuple(slowness),
            table=table,
            states=tuple(each for each in self.states if table[..., each.column].any()),
            recovery=np.array([float(part.mean()) for part in self.recovery]) - self.parting,
            mobilization=float(np.mean(case.mobilization)) if self._pays_first() else 0.0,
        )

    def _pays_first(self) -> bool:
        """Whether the next run is the first that pays for the mobilization of fishing."""
        run = next_run(self.file)
        return not self.file.logged and run is not None and bool(self.file.paying >> run & 1)

    def _walk(self) -> None:
        """Make the table, and name its states."""
        count = len(self.file.program) + 1
        limits: list[Array] = []
        bills: list[Array] = []
        first = ended = np.zeros((3, len(self.weight)))
        self.out = out = np.zeros_like(self.weight)
        self.states: list[State] = []
        column = 3 + PER_LIMIT * count
        now = begin(self.file).weight
        for n, steps in enumerate(self._steps()):
            level, stop = steps[0].level, steps[0].stop
            if n == 0:
                spent = _spent(level.weight, stop.spent) - _spent(level.weight, level.spent)
                self.parting = spent.sum(axis=1) / _sum(level.weight).sum()
            row = np.zeros((PER_LIMIT, len(self.weight)))
            row[STILL] = _sum(level.weight)
            row[FISHING] = ended + self._fishing(stop)
            row[RECOVERED] = out + (row[STILL] if stop.bill is None else 0.0)
            off = level if stop.bill is None else stop  # getting off the fish is in what failed
            row[PLANNED] = _spent(level.weight, off.spent)
            row[DAYS] = _sum(level.weight * level.days)
            limits.append(_by_weight(row, self.weight - self.out if n else self.weight))
            limits[-1][PLAIN] = _by_weight(_sum(now * level.days), self.weight)
            stops = [(n, n, self.file.ended or "", [step.stop for step in steps])]
            for same in zip(*(step.ends for step in steps), strict=True):
                ending = same[0]
                if ending.place is not None:
                    ended = ended + self._fishing(ending)
                    sort = "" if ending.place.lost == "nothing" else f"{ending.place.lost}_lost"
                    stops.append((n + 1, count - 1, sort, list(same)))
                elif n == 0:
                    self.out = _sum(ending.weight)
                    first = _by_weight(self._fishing(ending), self.out)
                else:
                    ended, out = ended + self._fishing(ending), out + _sum(ending.weight)
            band = np.searchsorted(self.edges, level.top, side="right")
            for begun, last, sort, ends in stops:
                if ends[0].bill is None:
                    continue
                rest = self.weight - self.out if begun else self.weight
                open_now = tuple(self._open(sort))
                for place in range(1 if sort == "hole_lost" else len(self.edges) + 1):
                    here = ends[0].weight * (sort == "hole_lost" or band == place)
                    rows = [row for j in open_now for row in _bill(here, *ends[2 * j : 2 * j + 2])]
                    bills.append(_by_weight(np.stack(rows), rest))
                    self.states.append(State(begun, last, open_now, column))
                    column += len(rows)
        self.table = np.concatenate([first, *limits, *bills]).T

    def _steps(self) -> Iterator[tuple[Step, ...]]:
        """Steps side by side: with each fallback at the prices of the file, and without spread."""
        walks = [
            walk(replace(case, fallbacks=[case.fallbacks[j]]), None, histories=1)
            for j in range(len(self.file.fallbacks))
            for case in (self.file, self.free)
        ]
        return zip(*walks, strict=True)

    def _fishing(self, ending: Ending) -> Array:
        """What no price moves, spread and fishing day of an ending without its fallback."""
        spent = _spent(ending.weight, ending.spent)
        if ending.recovery is None:
            return spent
        return spent + np.stack([_sum(ending.weight * part) for part in self.recovery])

    def _open(self, sort: str) -> Iterator[int]:
        """Numbers of the fallbacks that are open after an outcome."""
        for j, fallback in enumerate(self.file.fallbacks):
            closed = {
                "string_lost": not fallback.after_string_lost,
                "hole_lost": not fallback.after_hole_lost,
            }
            if not closed.get(sort, False):
                yield j


def _edges(case: Case) -> Array:
    """Fish tops [ft] between the bands that are told apart; none for a single fallback."""
    if len(case.fallbacks) == 1:
        return np.zeros(0)
    alone = replace(case, fallbacks=case.fallbacks[:1])
    tops = np.unique(
        np.concatenate([step.level.top.ravel() for step in walk(alone, None, histories=1)])
    )
    if tops.size > MOST_TOPS:
        tops = np.linspace(tops[0], tops[-1], MOST_TOPS + 1)[:-1]
    return np.asarray(tops[1:])


def _bill(weight: Array, file: Ending, free: Ending) -> list[Array]:
    """What a fallback costs in a state, by kind of fish: PER_FALLBACK rows."""
    assert file.bill is not None
    assert free.bill is not None
    without = _sum(weight * free.bill.mean())
    return [
        without,
        _sum(weight * file.bill.mean()) - without,
        _sum(weight * file.bill.given_up),
    ]


def _spent(weight: Array, spent: Spent) -> Array:
    """What no price moves, spread and fishing day of what is spent, by kind of fish."""
    paid = spent.hours if spent.paid is None else spent.paid
    spread, day = spent.days * spent.spread, paid / 24.0 * spent.fishing_day
    return np.stack([_sum(weight * part) for part in (spent.total - spread - day, spread, day)])


def _sum(values: Array) -> Array:
    """Over histories, and the mean over draws, by kind of fish."""
    return np.asarray(values.sum(axis=1).mean(axis=1))


def _by_weight(values: Array, weight: Array) -> Array:
    """Values of each kind by its weight; 0 where it has none."""
    shape = np.broadcast_shapes(values.shape, weight.shape)
    return np.divide(values, weight, out=np.zeros(shape), where=weight > NEVER)


def _even(case: Case) -> Case:
    """The case, with all kinds of fish alike likely where one of them is ruled out."""
    if len(case.prior) == 1 or begin(case).weight.mean(axis=(1, 2)).min() > NEVER:
        return case
    kinds = len(case.prior)
    return replace(case, prior=np.full((kinds, 1, 1), 1.0 / kinds))


def _next_odds(case: Case) -> Array:
    """Weight of each kind of fish that the next run recovers."""
    run, level = next_run(case), begin(case)
    if run is None:
        return np.zeros(len(case.prior))
    odds = odds_now(case, run, level, days=level.days + case.elapsed)
    return _sum(level.weight * odds.recovered)


def _moved(case: Case, log_ratio: float) -> Case:
    """The case with the odds p/(1 - p) that the next run recovers times exp(log_ratio)."""
    number = next_run(case)
    if number is None or log_ratio == 0.0:
        return case
    runs, ratio = list(case.runs), np.asarray(np.exp(log_ratio))
    run = runs[number]
    runs[number] = replace(run, odds=with_odds_ratio(run.odds, ratio=ratio))
    return replace(case, runs=runs)


def _at_speed(case: Case, factor: float) -> Case:
    """The case with all trip speeds times a factor."""
    now = case.speeds
    if now is None or factor == 1.0:
        return case
    names = ("in_cased", "in_open", "out_cased", "out_open")
    speeds = replace(now, **{name: getattr(now, name) * factor for name in names})
    fallbacks = [
        replace(each, speeds=speeds) if isinstance(each, SidetrackPlan) else each
        for each in case.fallbacks
    ]
    return replace(case, speeds=speeds, fallbacks=fallbacks)
