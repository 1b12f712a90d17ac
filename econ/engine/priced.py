"""What every price is multiplied by: a job's cost as a sum of quantities times prices.

With odds, hours, the choice of a fallback and the terms of rentals that bind held as they are,
every line of the ledger (`econ.engine.ledger`) is linear in each price. With Q a quantity of an
end (days, runs, feet, a share of a piece) and P_1, P_2 its prices,

    line = sum over products of E[Q P_1 P_2]

A price that is a single number stands outside of the expectation. A range is a column of draws,
so what has to be known of a product are its moments

    E[Q prod_{p in M} P_p]     for every set M of its prices that are ranges

and once a price of it is replaced by a number, the others keep their draws:
E[Q P_1 P_2] becomes P_1 E[Q P_2]. "Planned" is the same over those for whom every run to the
limit has failed.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from econ.engine.case import Case
from econ.engine.choice import Choice, choose
from econ.engine.inputs import Inputs
from econ.engine.ledger import Ending, Spent
from econ.engine.level import Level, Tool, begin, three
from econ.engine.marks import Bits
from econ.engine.realise import mobilized
from econ.engine.walk import walk
from econ.job import Bill
from econ.scenario.amounts import Amount
from econ.scenario.distributions import Distribution
from econ.scenario.fallbacks import Sidetrack
from econ.scenario.hole import Piece
from econ.scenario.scenario import Scenario, dotted

Array = NDArray[np.float64]
Key = tuple[str | int, ...]
NONE_LEFT = 1e-12  # a chance that is none


@dataclass(frozen=True)
class Product:
    """A part of a line of the ledger: the name of its quantity, and the key of each of its
    prices, list items counted from 0."""

    ledger: str
    quantity: str
    prices: tuple[Key, ...]


@dataclass(frozen=True, eq=False)
class Priced:
    """The products of a job, and their moments by limit.

    ranges: key paths of the prices that are distributions, with their least and greatest draw;
    mean, planned: by quantity and set of ranges, shape (limits,); weight: chance that every run
    to the limit has failed, shape (limits,); binding: by number of a rental, between which ratios
    of standby to day rate, and between which factors on those of the draws, the same side of its
    time charge binds in all draws (`Contract.bounds`).
    """

    products: tuple[Product, ...]
    ranges: Mapping[str, tuple[float, float]]
    mean: Mapping[tuple[str, frozenset[str]], Array]
    planned: Mapping[tuple[str, frozenset[str]], Array]
    weight: Array
    binding: Mapping[int, tuple[float, float, float, float]]


def kept_is_single(piece: Piece) -> bool:
    """Whether the share of a piece's replacement that is owed is a single number."""
    return not isinstance(piece.depreciation, Distribution) and not isinstance(
        piece.floor, Distribution
    )


def products(scenario: Scenario, *, logged: bool) -> Iterator[Product]:
    """All products that a job may have, in the order of the ledger. logged: after a log."""
    rates: list[Key] = [("rates", name) for name in scenario.rates]
    day_rates: list[Key] = [("fishing", "day_rates", name) for name in scenario.fishing.day_rates]

    def each(ledger: str, quantity: str, prices: Iterable[Key]) -> Iterator[Product]:
        for price in prices:
            yield Product(ledger, quantity, (price,))

    def one(ledger: str, quantity: str, *prices: Key) -> Product:
        return Product(ledger, quantity, prices)

    if not logged:
        yield from each("common", "common_days", rates)
        yield one("common", "once", ("common", "cost"))
    yield from each("spread", "fishing_days", rates)
    yield from each("fishing_day", "paid_days", day_rates)
    yield one("mobilization", "mobilized", ("fishing", "mobilization"))
    for run in range(len(scenario.run)):
        yield one("charges", f"run.{run}", ("run", run, "charge"))
    if scenario.parting is not None:
        yield one("charges", "parted", ("parting", "charge"))
    for number in range(len(scenario.rental)):
        for quantity, key in (
            ("called", "mobilization"),
            ("working", "day"),
            ("standby", "standby_day"),
            ("runs", "redress"),
            ("length", "per_foot"),
        ):
            yield one("rentals", f"rental.{number}.{quantity}", ("rental", number, key))
    yield from each("recovery", "recovery_days", rates)
    yield from each("recovery", "recovery_paid_days", day_rates)
    yield one("recovery", "recovered", ("recovery", "charge"))
    yield from _late(scenario, "late_recovered", "out")
    yield from each("approval", "approval_days", rates)
    for number, section in enumerate(scenario.fallback):
        own = f"fallback.{number}"

        def price(*steps: str | int, number: int = number) -> Key:
            return ("fallback", number, *steps)

        yield from each("fallback_time", f"{own}.days", rates)
        if isinstance(section, Sidetrack):
            crew = price("directional_day")
            yield one("fallback_time", f"{own}.days", crew)
            for quantity, key in (
                ("plugs", "plug_cost"),
                ("taken", "mobilization"),
                ("bits", "bit_cost"),
                ("taken", "logging_cost"),
                ("taken", "other_cost"),
            ):
                yield one("fallback_charges", f"{own}.{quantity}", price(key))
            yield from each("kickoff_trouble", f"{own}.retry_days", [*rates, crew])
            yield one("kickoff_trouble", f"{own}.retries", price("plug_cost"))
            if section.whipstock is not None:
                attempts = f"{own}.whipstocks"
                yield one("kickoff_trouble", attempts, price("whipstock", "cost"))
            yield one("sticking", f"{own}.sticks", price("stick_again", "cost"))
        else:
            yield one("fallback_charges", f"{own}.taken", price("cost"))
            yield one("sticking", f"{own}.sticks", price("trouble", "cost"))
            yield one("value_given_up", f"{own}.taken", price("value_given_up"))
        for index, piece in enumerate(scenario.fish.piece):
            worth = "value" if piece.value is not None else "replacement"
            prices = price("lost_in_hole_share"), ("fish", "piece", index, worth)
            yield one("lost_in_hole", f"{own}.piece.{index}", *prices)
        yield from _late(scenario, "late_fallback", str(number))
    for run, about in enumerate(scenario.run):
        yield one("string_lost", f"string.{run}", ("run", run, "string_value"))
        for number, rental in enumerate(scenario.rental):
            if rental.serves(about):
                tool = ("rental", number, "replacement")
                yield one("string_lost", f"string.{run}", tool)


def _late(scenario: Scenario, ledger: str, end: str) -> Iterator[Product]:
    if scenario.deadline is not None:
        yield Product(ledger, f"late.{end}", (("deadline", "cost_once"),))
        yield Product(ledger, f"days_late.{end}", (("deadline", "cost_per_day"),))


def amount_at(scenario: Scenario, key: Key) -> Amount:
    """The amount at the key of a price; 0 where it is not given."""
    found: object = scenario
    for step in key:
        if isinstance(step, int) or isinstance(found, Mapping):
            found = found[step]  # type: ignore[index]
        else:
            found = getattr(found, step)
    return 0.0 if found is None else found  # type: ignore[return-value]


class _Sums:
    """Quantities by draw, summed up over the ends of each limit, and their moments."""

    def __init__(self, inputs: Inputs, wanted: Mapping[str, set[frozenset[str]]]) -> None:
        self.inputs = inputs
        self.wanted = wanted
        self.mean: dict[tuple[str, frozenset[str]], Array] = {}
        self.planned: dict[tuple[str, frozenset[str]], Array] = {}
        self.weight: Array = np.zeros(0)
        self.total = 0.0  # weight of all draws
        self.ranges: dict[str, tuple[float, float]] = {}
        self.binding: dict[int, tuple[float, float, float, float]] = {}

    def add(self, case: Case, choice: Choice | None) -> None:
        """Walk a block of draws."""
        limits = len(case.program) + 1
        if not self.weight.size:
            self.weight = np.zeros(limits)
        powers = self._powers(case)
        ended: dict[str, Array] = {}
        first = begin(case)
        last = case.logged[-1].run if case.logged else 0
        self.total += float(np.broadcast_to(first.weight.sum(axis=(0, 1)), (case.n,)).sum())
        for step in walk(case, choice, histories=1):
            k, level = step.number, step.level
            stop = self._quantities(case, step.stop, level.tools, level.made, first, last)
            for sums in (ended, stop):
                self._moments(self.mean, sums, powers, k, limits)
            self.weight[k] += float(
                np.broadcast_to(step.stop.weight.sum(axis=(0, 1)), (case.n,)).sum()
            )
            self._moments(self.planned, stop, powers, k, limits)
            ends = [
                (ending, made.tools, level.made | (1 << made.run), made.run)
                for made in step.made
                for ending in made.ends
            ]
            if step.stuck is not None:
                ends.append((step.stuck, level.tools, level.made, last))
            for ending, tools, runs, run in ends:
                quantities = self._quantities(case, ending, tools, runs, first, run)
                for name, values in quantities.items():
                    ended[name] = ended.get(name, 0.0) + values

    def _powers(self, case: Case) -> dict[frozenset[str], Array]:
        """Products of the ranges that are asked for, by draw."""
        powers = {}
        for each in {one for sets in self.wanted.values() for one in sets}:
            found: Array = np.ones(case.n)
            for name in each:
                values = case.uniforms[name]
                low, high = self.ranges.get(name, (np.inf, -np.inf))
                self.ranges[name] = min(low, float(values.min())), max(high, float(values.max()))
                found = found * values
            powers[each] = found
        return powers

    def _moments(
        self,
        into: dict[tuple[str, frozenset[str]], Array],
        sums: Mapping[str, Array],
        powers: Mapping[frozenset[str], Array],
        limit: int,
        limits: int,
    ) -> None:
        for name, values in sums.items():
            for each in self.wanted.get(name, ()):
                row = into.setdefault((name, each), np.zeros(limits))
                row[limit] += float(values @ powers[each])

    def _quantities(
        self,
        case: Case,
        ending: Ending,
        tools: Sequence[Tool],
        made: Bits,
        first: Level,
        run: int,
    ) -> dict[str, Array]:
        """The quantities of an ending, times its weight, by draw; run: the last one made."""
        weight = ending.weight
        together = weight.sum(axis=(0, 1))

        def total(values: Array) -> Array:
            if values.ndim < 3 or values.shape[:2] == (1, 1):
                found = together * values.reshape(-1)
            else:
                found = (weight * values).sum(axis=(0, 1))
            return np.broadcast_to(found, (case.n,))

        found = self._fishing(case, ending.spent, made, first)
        found |= self._rentals(case, ending, tools, made, first)
        if ending.parted is not None:
            found["parted"] = ending.parted
        if ending.bill is not None:
            found |= self._fallback(case, ending, ending.bill, run)
        elif ending.recovery is not None:
            found |= self._recovery(case, ending)
        return {name: total(values) for name, values in found.items() if name in self.wanted}

    def _fishing(self, case: Case, spent: Spent, made: Bits, first: Level) -> dict[str, Array]:
        paid = spent.hours if spent.paid is None else spent.paid
        paying = ((made & case.paying) != 0) & ((first.made & case.paying) == 0)
        found = {
            "once": np.ones(()),
            "common_days": case.common_days,
            "fishing_days": spent.hours / 24.0,
            "paid_days": paid / 24.0,
            "mobilized": 1.0 * (paying & (not mobilized(case.runs, case.logged))),
        }
        for run in case.program:
            found[f"run.{run}"] = (made >> run & 1).astype(np.float64)
        return found

    def _rentals(
        self, case: Case, ending: Ending, tools: Sequence[Tool], made: Bits, first: Level
    ) -> dict[str, Array]:
        found: dict[str, Array] = {}
        runs = {run: (made >> run & 1).astype(np.float64) for run in case.program}
        for number, (contract, tool) in enumerate(zip(case.contracts, tools, strict=True)):
            own = f"rental.{number}"
            served = [run for run in runs if run in contract.serves]
            zero = np.zeros((1, 1, 1))
            found[f"{own}.runs"] = sum((runs[run] for run in served), zero)
            found[f"{own}.length"] = sum(
                (runs[run] * three(case.runs[run].wash_length) for run in served), zero
            )
            if tool.called is None:
                continue
            out = np.where(np.isnan(tool.called), 0.0, 1.0)
            days = ending.spent.days - np.where(out > 0, np.maximum(tool.called, 0.0), 0.0)
            working, standby = contract.billed(days=days, worked=tool.worked)
            found[f"{own}.working"], found[f"{own}.standby"] = out * working, out * standby
            if contract.called is None:
                found[f"{own}.called"] = out
            likely = (ending.weight * out).sum(axis=(0, 1), keepdims=True) > 0
            bounds = contract.bounds(days=days, worked=tool.worked, likely=likely)
            known = self.binding.get(number, (0.0, np.inf, 0.0, np.inf))
            ends = (max, min, max, min)
            self.binding[number] = tuple(  # type: ignore[assignment]
                end(*pair) for end, *pair in zip(ends, bounds, known, strict=True)
            )
        return found

    def _recovery(self, case: Case, ending: Ending) -> dict[str, Array]:
        days = case.recovery_days
        found = {
            "recovered": np.ones(()),
            "recovery_days": days,
            "recovery_paid_days": days
            * _drawn(case, self.inputs.scenario, ("recovery", "fishing_share")),
        }
        if case.deadline is not None:
            ends = ending.spent.days + three(days)
            found["late.out"] = case.deadline.chance.cost(ends)
            found["days_late.out"] = case.deadline.days.cost(ends)
        return found

    def _fallback(self, case: Case, ending: Ending, bill: Bill, run: int) -> dict[str, Array]:
        place, scenario = ending.place, self.inputs.scenario
        assert place is not None
        found: dict[str, Array] = {"approval_days": bill.approval_hours / 24.0}
        if case.deadline is not None:
            late, days = (
                replace(bill, deadline=each).late()
                for each in (case.deadline.chance, case.deadline.days)
            )
        top = three(np.asarray(case.fish.top)) if place.lost == "hole" else place.pieces_top
        left = case.fish.shares_below(top)
        kept = [self._kept(case, index) for index in range(len(left))]
        for number, section in enumerate(scenario.fallback):
            own, taken = f"fallback.{number}", 1.0 * (bill.fallback == number)
            if not taken.any():
                continue
            found |= {
                f"{own}.taken": taken,
                f"{own}.days": taken * bill.hours / 24.0,
                f"{own}.bits": taken * (1.0 + bill.bit_trips),
                f"{own}.retries": taken * bill.plug_retries,
                f"{own}.retry_days": taken * bill.retry_time() / 24.0,
                f"{own}.whipstocks": taken * bill.whipstock_attempts,
                f"{own}.sticks": taken * bill.stick_chance,
            }
            if isinstance(section, Sidetrack):
                found[f"{own}.plugs"] = taken * float(section.plugs)
            if case.deadline is not None:
                found |= {f"late.{number}": taken * late, f"days_late.{number}": taken * days}
            for index, share in enumerate(left):
                found[f"{own}.piece.{index}"] = taken * share * three(kept[index])
        if place.lost != "nothing":
            share = np.ones(()) if place.lost == "string" else case.hole_lost_string_share
            found[f"string.{run}"] = share
        return found

    def _kept(self, case: Case, index: int) -> Array:
        """Share of the replacement of a piece that is owed where a range is in it, else 1."""
        piece = self.inputs.scenario.fish.piece[index]
        if piece.value is not None or kept_is_single(piece):
            return np.ones(())
        off, floor = (
            _drawn(case, self.inputs.scenario, ("fish", "piece", index, name))
            for name in ("depreciation", "floor")
        )
        return np.asarray(np.maximum(1.0 - off, floor))


def _drawn(case: Case, scenario: Scenario, key: Key) -> Array:
    """The draws of an amount, or its single number."""
    amount = amount_at(scenario, key)
    if isinstance(amount, Distribution):
        return case.uniforms[dotted(key)]
    return np.asarray(amount, dtype=np.float64)


def priced(inputs: Inputs, *, n: int) -> Priced:
    """Products of a job and their moments over the first `n` draws of every scramble."""
    scenario = inputs.scenario
    found = tuple(products(scenario, logged=bool(inputs.logged)))
    wanted: dict[str, set[frozenset[str]]] = {}
    for product in found:
        ranges = [
            dotted(key)
            for key in product.prices
            if isinstance(amount_at(scenario, key), Distribution)
        ]
        sets = wanted.setdefault(product.quantity, set())
        for count in range(len(ranges) + 1):
            sets |= {frozenset(each) for each in combinations(ranges, count)}
    sums = _Sums(inputs, wanted)
    choice = choose(inputs.pilot())
    for case in inputs.blocks(0, n):
        sums.add(case, choice)
    weight = sums.weight / sums.total
    left = weight > NONE_LEFT
    zero = np.zeros(len(weight))
    mean = {
        (name, each): sums.mean.get((name, each), zero) / sums.total
        for name, sets in wanted.items()
        for each in sets
    }
    # Where none is left to have failed, planned is the mean.
    planned = {
        key: np.where(
            left,
            sums.planned.get(key, zero) / np.where(left, sums.weight, 1.0),
            mean[key],
        )
        for key in mean
    }
    return Priced(found, sums.ranges, mean, planned, weight, sums.binding)
