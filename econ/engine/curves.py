"""Sums over the walk of every draw: the ledger of every limit, and the distributions behind it.

With S_k a weighted amount of those that stop before run k, and E_k the same of those whom run
k itself ends, a limit of n runs has

    C_n = E_0 + ... + E_{n-1} + S_n,      C_{k+1} - C_k = E_k + S_{k+1} - S_k

whatever the amount is: a line of the ledger, hours, the chance of recovery. A limit by days D
makes run k where it would begin before D, so its cost is C_0 plus those differences of the
paths whose run k begins before D. Both curves are cumulative sums over the same numbers.

Every scramble has sums of its own, and their deviation is the standard error. After a log the
weights of the draws do not sum to the same in every scramble. With x_s and w_s a sum and the
weight of scramble s, R = sum x_s/sum w_s is the estimate, and R + (x_s - R w_s)/mean w what
scramble s has to say of it: their mean is R, and their deviation is that of a ratio.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from econ.engine.case import RETRY, STICK, Case
from econ.engine.choice import Choice, choose
from econ.engine.histogram import Bins
from econ.engine.inputs import Inputs
from econ.engine.ledger import BY_FALLBACK, LINES, QUANTITIES, Ending, nothing
from econ.engine.level import begin
from econ.engine.standing import failures_of, state_now
from econ.engine.walk import Step, walk, walk_failures

Array = NDArray[np.float64]
Sums = dict[str, Array]
DAY_STEPS = (1 / 24, 1 / 12, 1 / 8, 1 / 4, 1 / 2, 1.0, 2.0, 5.0, 10.0, 30.0)
ROUNDING = 1e-9  # of a step: a start that close below a day of the grid is on it
MOST_DAYS = 96  # points of the curve by days
SHARES = np.array([0.1, 0.5, 0.9])  # percentiles: not exceeded with these chances
WORST = 0.1  # share of the dearest ends whose mean is given
MOST_PARTS = 32  # of the draws, for the error of a percentile
BEYOND = 1.25  # how far past the pilot's lowest and highest the bins reach, a factor
FISHING = tuple(name for name, part in LINES.items() if part != "fallback")
# Distributions that bins are kept of; `spent` and `net` besides only where they are others.
HELD = (
    *("if_recovered", "if_fallback", "not_out", "out", "out_on_runs", "on_recovery", "on_fallback"),
)
# Sums of those, in the same bins: what is spent on fishing with and without what follows a
# recovery.
SUMMED = {"on_fishing": ("not_out", "out"), "on_runs": ("not_out", "out_on_runs")}
AMOUNTS = (
    *QUANTITIES,
    *("runs", "recovered", "cost_recovered", "dearer", "exponential", "days", "days_recovered"),
)
# Places in the statistics of a distribution.
P10, P50, P90, EXCEEDS = range(4)


@dataclass(frozen=True, eq=False)
class Curves:
    """What the draws of every scramble give for the limits of 0 to K runs.

    n: draws of each scramble.
    sums: amounts by limit, shape (scrambles, K + 1): the lines of the ledger [currency]; the
    quantities of `econ.engine.ledger`, where there are several fallbacks also of each, as in
    "taken.0"; of each run, as in "begun.0", the chance that it is begun, and "string.0", what is
    owed for its string and tools [currency]; runs: expected number; recovered: chance;
    cost_recovered: cost where the fish is recovered, times that chance [currency]; days: elapsed
    time to the end, days_recovered: the same where the fish is recovered, times that chance [d];
    dearer: chance that the total exceeds stopping at once; exponential: mean of exp((total -
    reference)/risk tolerance), 0 where no tolerance is given.
    still: of those for whom every run to the limit has failed, times their chance, in the same
    shape: weight (the chance itself), days [d], fishing_hours and paid_hours [h], as in "made.0"
    the chance that a run was made, the lines of fishing [currency], fallback: what is then spent
    on it, parting: on getting off the fish before it, where there is that [currency]; and
    plain_days, the days whatever the weight.
    failures: along the path on which every run ends `nothing`, shape (scrambles, K), times the
    chance of getting there: see `failures_of`. now: the same for the present state, shape
    (scrambles,).
    distributions: P10, P50, P90 [currency] and chance to exceed the authority of the total, of
    the total with the fish out (if_recovered) and with a fallback (if_fallback), of what is spent,
    on fishing, on it without the work after a recovery (on_runs), on that work (on_recovery), on
    the fallback, and of what is spent less what then lapses of the approved work (net); shape
    (parts + 1, K + 1, 4), the last row that of all draws together; nan where there is no such end.
    worst_tenth: mean of the dearest tenth of the totals [currency], shape (parts + 1, K + 1).
    held: the totals with the fish out (if_recovered) and with a fallback (if_fallback) of all
    draws in `bins`, shape (K + 1, 3, bins).
    by_days_cost, by_days_recovered: shape (scrambles, days), for the days of `grid`.
    reference: of `exponential` [currency].
    """

    n: int
    sums: Mapping[str, Array]
    still: Mapping[str, Array]
    failures: Mapping[str, Array]
    now: Mapping[str, Array]
    distributions: Mapping[str, Array]
    worst_tenth: Array
    held: Mapping[str, Array]
    bins: Bins
    by_days_cost: Array
    by_days_recovered: Array
    grid: Array
    reference: float
    choice: Choice | None

    @cached_property
    def cost(self) -> Array:
        """Expected cost of each limit [currency], shape (scrambles, K + 1)."""
        return np.asarray(sum(self.sums[name] for name in LINES))

    @cached_property
    def fishing(self) -> Array:
        """The same without the fallback [currency]."""
        return np.asarray(sum(self.sums[name] for name in FISHING))

    @property
    def recovered(self) -> Array:
        """Chance of recovery at each limit, shape (scrambles, K + 1)."""
        return self.sums["recovered"]


@dataclass(frozen=True)
class Plan:
    """What the pilot sets before the draws are walked."""

    choice: Choice | None
    bins: Mapping[str, Bins]  # by distribution
    held: tuple[str, ...]  # distributions that bins are kept of
    lapsing: Array  # of the approved work under each fallback [currency]
    grid: Array  # days
    authority: float  # infinite where none is given
    tolerance: float | None
    reference: float


class Tally:
    """Sums over the draws walked so far; more draws may follow, and those before are kept.

    distributions: whether to keep them; without, only `sums`, `still` and `failures` are made.
    chosen: the job whose mean costs choose among the fallbacks, left out this one.
    """

    def __init__(
        self, inputs: Inputs, *, distributions: bool = True, chosen: Inputs | None = None
    ) -> None:
        self.inputs = inputs
        self.n = 0
        self._plan = _plan(inputs, inputs if chosen is None else chosen)
        self._parts = min(inputs.sampler.scrambles, MOST_PARTS) if distributions else 0
        self._sums: Sums = {}
        self._held: Sums = {}

    def extend(self, n: int) -> None:
        """Walk the draws of every scramble up to number `n`, a power of two."""
        for case in self.inputs.blocks(self.n, n):
            block = _Block(case, self._plan, self.inputs, parts=self._parts)
            _add(self._sums, block.sums)
            _add(self._held, block.held)
        self.n = n

    @property
    def keeps_distributions(self) -> bool:
        """Whether there is more than sums."""
        return self._parts > 0

    def cost(self) -> Array:
        """Expected cost of each limit so far [currency], shape (scrambles, K + 1)."""
        sums = self._means()
        return np.asarray(sum(sums[f"sums.{name}"] for name in LINES))

    def failure(self, name: str) -> Array | None:
        """An amount of `Curves.failures` so far, of the next run, shape (scrambles,); None where
        no run of the list can be made."""
        found = self._means().get(f"failures.{name}")
        return None if found is None else found[:, 0]

    def p90(self, limits: Array) -> Array:
        """P90 of the total so far at some limits [currency], shape (parts + 1, limits)."""
        held = self._held["if_recovered"][:, limits] + self._held["if_fallback"][:, limits]
        return self._plan.bins["total"].quantiles(_with_all(held), SHARES[-1:])[..., 0]

    def curves(self) -> Curves:
        """What the draws so far give."""
        means = self._means()
        distributions, worst_tenth = self._distributions() if self._parts else ({}, np.zeros(()))

        def named(start: str) -> Sums:
            return {
                name.removeprefix(start): values
                for name, values in means.items()
                if name.startswith(start)
            }

        return Curves(
            n=self.n,
            sums=named("sums."),
            still=named("still."),
            failures=named("failures."),
            now=named("now."),
            distributions=distributions,
            worst_tenth=worst_tenth,
            held={
                name: values.sum(axis=0)
                for name, values in self._held.items()
                if name.startswith("if_")
            },
            bins=self._plan.bins["total"],
            by_days_cost=means["days.cost"],
            by_days_recovered=means["days.recovered"],
            grid=self._plan.grid,
            reference=self._plan.reference,
            choice=self._plan.choice,
        )

    def _means(self) -> Sums:
        """Every sum over the weight of the draws; see the head of the module."""
        if not self.inputs.logged:
            return {name: values / self.n for name, values in self._sums.items()}
        weight = self._sums["now.weight"]
        found = {}
        for name, values in self._sums.items():
            w = weight.reshape(-1, *[1] * (values.ndim - 1))
            ratio = values.sum(axis=0) / w.sum()
            ends = np.isfinite(ratio)  # an exponential may have no end, in any scramble then
            apart = np.where(ends, values - np.where(ends, ratio, 0.0) * w, 0.0)
            found[name] = ratio + apart / w.mean()
        return found

    def _distributions(self) -> tuple[Sums, Array]:
        """`Curves.distributions` and `Curves.worst_tenth`."""
        held = {name: _with_all(values) for name, values in self._held.items()}
        for name, (one, other) in SUMMED.items():
            held[name] = held[one] + held[other]
        total = held["total"] = held["if_recovered"] + held["if_fallback"]
        parts = {part for pair in SUMMED.values() for part in pair}
        statistics = {
            name: _statistics(self._plan, name, values)
            for name, values in held.items()
            if name not in parts
        }
        statistics.setdefault("spent", statistics["total"])
        if "net" in statistics:
            statistics["net"][..., :EXCEEDS] -= self._plan.lapsing.max()
        statistics.setdefault("net", statistics["spent"])
        return statistics, self._plan.bins["total"].tail_mean(total, share=WORST)


def _add(total: Sums, more: Mapping[str, Array]) -> None:
    for name, values in more.items():
        if name in total:
            total[name] += values
        else:
            total[name] = values.copy()


def _with_all(held: Array) -> Array:
    """What every part holds, and as a last row all of them together."""
    return np.concatenate([held, held.sum(axis=0, keepdims=True)])


def _statistics(plan: Plan, name: str, held: Array) -> Array:
    """Percentiles and chance to exceed the authority by part and limit; held: shape
    (parts + 1, limits, 3, bins)."""
    bins = plan.bins[name]
    above = bins.chance_above(held, plan.authority)[..., None]
    return np.concatenate([bins.quantiles(held, SHARES), above], axis=-1)


def _plan(inputs: Inputs, chosen: Inputs) -> Plan:
    """The choice of fallbacks by the job `chosen`, bins wide enough for all ends, and the days of
    the curve."""
    pilot, limits = inputs.pilot(), inputs.scenario.limits
    choice = choose(pilot if chosen is inputs else chosen.pilot())
    lapsing = np.array(inputs.scenario.lapsing)
    ranges: dict[str, tuple[float, float]] = {}

    def widen(name: str, values: Array, possible: NDArray[np.bool_]) -> None:
        low, high = ranges.get(name, (np.inf, 0.0))
        values = np.broadcast_to(values, possible.shape)[possible]
        above = values[values > 0]  # nothing at all has the lowest bin to itself
        if above.size:
            ranges[name] = min(low, float(above.min())), max(high, float(above.max()))

    last = 0.0
    for step in walk(pilot, choice, histories=1):
        for ending in (step.stop, *step.ends):
            event = _event(pilot, ending)
            shape = np.broadcast_shapes(
                ending.weight.shape, ending.fishing.shape, event.shape, (pilot.n,)
            )
            possible = np.broadcast_to(ending.weight > 0, shape)
            for name, values in _parts_of(ending, event, lapsing).items():
                widen(name, values, possible)  # an end that cannot happen stretches no bins
        last = float(np.max(step.level.days))
    total = [ranges[name] for name in ("if_recovered", "if_fallback") if name in ranges]
    low, high = (min(r[0] for r in total), max(r[1] for r in total)) if total else (0.0, 0.0)
    whole = _bins(low, high)
    bins = dict.fromkeys(("total", "if_recovered", "if_fallback"), whole)
    fishing = [ranges[name] for name in HELD[2:5] if name in ranges]
    if fishing:
        ranges["on_fishing"] = min(r[0] for r in fishing), max(r[1] for r in fishing)
    for name in ("on_fishing", "on_recovery", "on_fallback", "spent", "net"):
        if name in ranges:
            bins[name] = _bins(*ranges[name])
        else:
            bins.setdefault(name, whole)
    bins |= dict.fromkeys((*HELD[2:5], "on_runs"), bins["on_fishing"])
    step_days = next((s for s in DAY_STEPS if s * MOST_DAYS >= 1.1 * last), 1.1 * last / MOST_DAYS)
    points = max(int(np.ceil(1.1 * last / step_days)), 1) + 1
    gives_up = any(bool(np.any(plan.value_given_up > 0)) for plan in pilot.fallbacks)
    held = (*HELD, *(["spent"] if gives_up else []), *(["net"] if lapsing.any() else []))
    return Plan(
        choice,
        bins=bins,
        held=held,
        lapsing=lapsing,
        grid=step_days * np.arange(points, dtype=np.float64),
        authority=np.inf if limits.authority is None else limits.authority,
        tolerance=limits.risk_tolerance,
        reference=whole.high,
    )


def _bins(low: float, high: float) -> Bins:
    return Bins(low / BEYOND, high * BEYOND)


class _Block:
    """One block of draws, those of all scrambles one after another, walked and added up."""

    def __init__(self, case: Case, plan: Plan, inputs: Inputs, *, parts: int) -> None:
        self.case, self.plan, self.parts = case, plan, parts
        self.scrambles = inputs.sampler.scrambles
        shape = self.scrambles, len(case.program) + 1
        count = len(case.fallbacks)
        self.numbers = range(count) if count > 1 else ()  # of the fallbacks that are kept apart
        own = [f"{name}.{number}" for number in self.numbers for name in BY_FALLBACK]
        self.sums: Sums = {f"sums.{name}": np.zeros(shape) for name in (*LINES, *AMOUNTS, *own)}
        self.held: Sums = {
            name: np.zeros((parts, shape[1], 3, plan.bins[name].size))
            for name in plan.held
            if parts
        }
        self._walk(inputs.minimum_runs)
        self._failures()

    def _walk(self, minimum: int) -> None:
        case, plan = self.case, self.plan
        limits = len(case.program) + 1
        ended: Sums = {}  # of the ends of the runs so far
        held_ended: Sums = {}
        by_days = np.zeros((2, self.scrambles, len(plan.grid) + 1))
        now: Array | None = None  # cost of stopping at once, with events
        before: Step | None = None
        first_weight = begin(case).weight
        for step in walk(case, plan.choice, histories=1):
            k, stop = step.number, step.stop
            event = _event(case, stop)
            now = stop.fishing + event if now is None else now
            here = self._amounts(stop, event, now, runs=k)
            for amounts in (ended, here):
                for name, values in amounts.items():
                    self.sums[f"sums.{name}"][:, k] += values
            self._still(step, first_weight, limits)
            if before is None:
                by_days[0, :, 0] = self._sum(stop.weight * stop.cost)
            else:
                started = _place(before.level.days, plan.grid) if before.number >= minimum else None
                change = stop.weight * stop.cost - before.stop.weight * before.stop.cost
                out: Array = np.zeros((1, 1, 1))
                for ending in before.ends:
                    change = change + ending.weight * ending.cost
                    out = out + ending.weight if ending.place is None else out
                by_days[0] += self._counted(started, change)
                by_days[1] += self._counted(started, out)
            if self.parts:
                for held in (held_ended, self._moments([stop])):
                    for name, moments in held.items():
                        self.held[name][:, k] += moments
            for ending in step.ends:
                event = _event(case, ending)
                made = k if ending is step.stuck else k + 1
                _add(ended, self._amounts(ending, event, now, runs=made))
            if self.parts and step.ends:
                _add(held_ended, self._moments(step.ends))
            self._by_run(step)
            before = step
        self.sums["days.cost"], self.sums["days.recovered"] = np.cumsum(by_days[..., :-1], axis=2)

    def _by_run(self, step: Step) -> None:
        """How likely a limit beyond this step begins each run, and what is owed for its string."""
        for made in step.made:
            owed = np.zeros(self.scrambles)
            for ending in made.ends:
                if ending.bill is not None:
                    owed = owed + self._sum(ending.weight * ending.bill.string_lost)
            amounts = {"begun": self._sum(made.weight), "string": owed}
            for name, values in amounts.items():
                row = self.sums.setdefault(
                    f"sums.{name}.{made.run}",
                    np.zeros((self.scrambles, len(self.case.program) + 1)),
                )
                row[:, step.number + 1 :] += values[:, None]

    def _amounts(self, ending: Ending, event: Array, now: Array, *, runs: int) -> Sums:
        """Weighted amounts of an ending, shape (scrambles,), by name."""
        weight, quantities = ending.weight, ending.quantities()
        weighted = self._weighted(weight)
        amounts = {name: weighted(values) for name, values in (ending.lines() | quantities).items()}
        for number in self.numbers:
            if ending.bill is None:
                break
            taken = ending.bill.fallback == number
            if taken.all():
                amounts |= {f"{name}.{number}": amounts[name] for name in BY_FALLBACK}
            elif taken.any():
                own = self._weighted(weight * taken)
                amounts |= {f"{name}.{number}": own(quantities[name]) for name in BY_FALLBACK}
        amounts["runs"] = runs * weighted(np.ones(()))
        amounts["days"] = weighted(ending.days)
        amounts["dearer"] = self._sum(weight * (ending.fishing + event > now))
        amounts["exponential"] = self._sum(_exponential(ending, self.plan))
        if ending.bill is None:
            amounts["recovered"] = self._sum(weight)
            amounts["cost_recovered"] = self._sum(weight * ending.fishing)
            amounts["days_recovered"] = amounts["days"]
        return amounts

    def _weighted(self, weight: Array) -> Callable[[Array], Array]:
        """What gives the weighted sums of an amount, shape (scrambles,). What all kinds of fish
        share is multiplied once by their weights together, a single number by their sum."""
        together = weight.sum(axis=(0, 1), keepdims=True)
        whole = self._sum(together)

        def sums(values: Array) -> Array:
            if values.size == 1:
                return whole * float(values.ravel()[0])
            shared = values.ndim < 3 or values.shape[:2] == (1, 1)
            return self._sum((together if shared else weight) * values)

        return sums

    def _still(self, step: Step, first_weight: Array, limits: int) -> None:
        """Those who are still fishing before a run, or at the end of the list."""
        level = step.level
        amounts = {"weight": level.weight, "plain_days": first_weight * level.days}
        amounts["days"] = level.weight * level.days
        spent = level.spent
        amounts["fishing_hours"] = level.weight * spent.hours
        amounts["paid_hours"] = level.weight * (spent.hours if spent.paid is None else spent.paid)
        for run in self.case.program:
            amounts[f"made.{run}"] = level.weight * (level.made >> run & 1)
        amounts |= {name: level.weight * line for name, line in level.spent.lines().items()}
        bill = step.stop.bill
        if bill is not None:
            amounts["fallback"] = step.stop.weight * (bill.mean() - bill.given_up)
            if step.stop.parted is not None:
                amounts["parting"] = step.stop.weight * (step.stop.spent.total - spent.total)
        for name, values in amounts.items():
            row = self.sums.setdefault(f"still.{name}", np.zeros((self.scrambles, limits)))
            row[:, step.number] = self._sum(values)

    def _moments(self, ends: Sequence[Ending]) -> Sums:
        """What some endings put into the bins of each distribution."""
        laid: dict[str, list[tuple[Array, Array]]] = {}
        for ending in ends:
            for chance, event in _events(self.case, ending):
                weight = ending.weight * chance
                for name, values in _parts_of(ending, event, self.plan.lapsing).items():
                    if name in self.held:
                        # The same values for all kinds of fish: their weights together.
                        once = values.shape[0] == 1 or values.ndim < 3
                        together = weight.sum(axis=0, keepdims=True) if once else weight
                        laid.setdefault(name, []).append((values, together))
        return {name: self._binned(name, pairs) for name, pairs in laid.items()}

    def _binned(self, name: str, pairs: Sequence[tuple[Array, Array]]) -> Array:
        """Values with their weights in the bins of a distribution, shape (parts, 3, bins)."""
        bins = self.plan.bins[name]
        total = np.zeros((self.parts, 3, bins.size))
        rows: list[tuple[Array, Array]] = []
        for values, weight in pairs:
            shape = np.broadcast_shapes(values.shape, weight.shape)
            if shape[-1] == 1:  # the same for all draws, in every part
                total += bins.moments(values, weight * (self.case.n // self.parts))
                continue
            rows.append(
                (
                    np.broadcast_to(values, shape).reshape(-1, shape[-1]),
                    np.broadcast_to(weight, shape).reshape(-1, shape[-1]),
                )
            )
        if rows:
            values, weight = (np.concatenate(column) for column in zip(*rows, strict=True))
            total += bins.moments(values, weight, parts=self.parts)
        return total

    def _failures(self) -> None:
        """Along the path of outcomes `nothing`, and where the job stands now."""
        case, choice = self.case, self.plan.choice
        rows: dict[str, list[Array]] = {}
        for step in walk_failures(case, choice):
            level = step.level
            if step.number == 0:
                for name, values in state_now(case, choice, step).items():
                    self.sums[f"now.{name}"] = self._sum(values)
            if not step.made:
                break
            for name, values in failures_of(case, choice, step).items():
                rows.setdefault(name, []).append(self._sum(level.weight * values))
        for name, row in rows.items():
            self.sums[f"failures.{name}"] = np.stack(row, axis=1)

    def _sum(self, values: Array) -> Array:
        """Sum over kinds, histories and the draws of each scramble, shape (scrambles,)."""
        together = values.sum(axis=(0, 1))
        if together.size == 1:
            return np.full(self.scrambles, float(together[0]) * (self.case.n // self.scrambles))
        return np.asarray(together.reshape(self.scrambles, -1).sum(axis=1))

    def _counted(self, place: NDArray[np.intp] | None, values: Array) -> Array:
        """Sums of `values` by scramble and place on the grid of days; all at the first where
        there is none."""
        length = len(self.plan.grid) + 1
        counts = np.zeros((self.scrambles, length))
        if place is None:
            counts[:, 0] = self._sum(values)
            return counts
        shape = (*np.broadcast_shapes(place.shape, values.shape)[:2], self.case.n)
        scramble = np.arange(self.case.n) * self.scrambles // self.case.n
        index = np.broadcast_to(place + scramble * length, shape)
        weights = np.broadcast_to(values, shape)
        total = np.bincount(index.ravel(), weights.ravel(), counts.size)
        return np.asarray(total.reshape(counts.shape))


def _parts_of(ending: Ending, event: Array, lapsing: Array) -> Sums:
    """The amounts of an ending that have a distribution of their own, by its name. What lapses of
    the approved work is taken off `net` on a scale that begins at the most that may lapse."""
    if ending.bill is None:
        after = nothing() if ending.recovery is None else ending.recovery
        after = after if ending.late is None else after + ending.late
        return {
            "if_recovered": ending.fishing,
            "out": ending.fishing,
            "out_on_runs": ending.spent.total,
            "on_recovery": np.asarray(after),
            "spent": ending.fishing,
            "net": ending.fishing + lapsing.max(),
        }
    spent = event - ending.bill.given_up
    return {
        "not_out": ending.fishing,
        "if_fallback": ending.fishing + event,
        "on_fallback": spent,
        "spent": ending.fishing + spent,
        "net": ending.fishing + spent + (lapsing.max() - lapsing[ending.bill.fallback.astype(int)]),
    }


def _events(case: Case, ending: Ending) -> Iterable[tuple[Array, Array]]:
    """Chance and cost of what may happen in the fallback of an ending, if it has one."""
    if ending.bill is None:
        return [(np.ones(()), np.zeros(()))]
    return ending.bill.events(retry_draw=case.uniforms[RETRY])


def _event(case: Case, ending: Ending) -> Array:
    """Cost of the fallback with kick-off retries and sticking as events."""
    if ending.bill is None:
        return np.zeros(())
    return ending.bill.event(retry_draw=case.uniforms[RETRY], stick_draw=case.uniforms[STICK])


def _exponential(ending: Ending, plan: Plan) -> Array:
    """Weighted expectation of exp((cost - reference)/tolerance), events in expectation."""
    t, less = plan.tolerance, plan.reference
    if t is None:
        return np.zeros((1, 1, 1))
    if ending.bill is None:
        return np.asarray(ending.weight * np.exp((ending.fishing - less) / t))
    values = ending.bill.mean_exponential(tolerance=t, less=less - ending.fishing)
    shape = np.broadcast_shapes(ending.weight.shape, values.shape)
    # A history that cannot happen weighs nothing, also where its cost has no end.
    possible = np.broadcast_to(ending.weight > 0, shape)
    return np.multiply(ending.weight, values, out=np.zeros(shape), where=possible)


def _place(started: Array, grid: Array) -> NDArray[np.intp]:
    """First day of the grid past the start of a run; a run begins strictly before its limit."""
    place = np.floor(started / grid[1] + ROUNDING).astype(np.intp) + 1
    return np.asarray(np.minimum(place, len(grid)), dtype=np.intp)
