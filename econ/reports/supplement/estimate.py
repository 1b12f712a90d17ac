"""The estimate: every line of the supplement as a quantity times a price.

Quantities are those of the answer (`econ.decision.quantities`), prices the means that the
scenario states. A line of the ledger may be several lines here (charges of a sidetrack are
plugs, bits, logs); their stated products are scaled by one factor to the amount of the ledger,

    price used = stated price x amount of the ledger / sum of quantity x stated price

so that the lines sum to the answer. Only lines with a range in them are scaled: for single
numbers the factor is 1, for ranges it is what draws that move together add. Once a reader
changes a price, the line takes what was typed.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from econ.decision import Answer
from econ.decision.quantities import FallbackQuantities, Quantities
from econ.decision.run_log import inputs_after
from econ.engine.inputs import Inputs
from econ.engine.ledger import LINES
from econ.reports.supplement.cells import (
    Block,
    Cell,
    Term,
    absolute,
    below,
    block,
    sum_of,
    sum_where,
    total,
    when,
)
from econ.scenario.amounts import Amount
from econ.scenario.distributions import Distribution
from econ.scenario.fallbacks import Sidetrack
from econ.scenario.hole import Piece

SLICES = {
    "fishing": "Fishing to the limit",
    "recovery": "Work after a recovery",
    "fallback": "Fallback",
    "compared": "Compared, not spent",
}
NOT_SPENT = "value_given_up"  # a line of the ledger
LAST = 10**6  # after all fallbacks
SAME = 1e-11  # of 1: a factor this close is 1
UNCHANGED = 1e-9  # of a price: it has not been edited


@dataclass(frozen=True)
class Price:
    """A price that a reader may change, or the sum of some: the part of the job it belongs to,
    words, cell, unit (a day, each, once, share) and a note."""

    part: str
    words: str
    cell: Cell
    unit: str
    note: str = ""


@dataclass(frozen=True)
class Product:
    """Quantity x price, and the two as cells."""

    quantity: Cell
    price: Cell
    amount: Cell


@dataclass(frozen=True)
class Line:
    """A line of the estimate: cost code (empty for what is no expenditure), slice, words, unit,
    stated price, and the products: planned where every run fails, and expected."""

    code: Cell
    slice: Cell
    words: str
    unit: str
    stated: Cell
    planned: Product | None
    expected: Product | None

    def differs(self) -> bool:
        """Whether a price used is not the stated one."""
        products = [each for each in (self.planned, self.expected) if each is not None]
        return any(each.price.value != self.stated.value for each in products)


@dataclass(frozen=True)
class Estimate:
    """All lines and prices; `spread` and `fishing_day` are sums of the rates [currency/d]."""

    lines: tuple[Line, ...]
    prices: tuple[Price, ...]
    spread: Cell
    fishing_day: Cell
    amounts: tuple[tuple[Cell, Cell], ...]  # planned and expected by line, blank where none

    @property
    def expected(self) -> Block:
        """The column of expected amounts."""
        return block(expected for _, expected in self.amounts)

    @property
    def planned(self) -> Term:
        """Cost if every run to the limit fails."""
        return total(block(planned for planned, _ in self.amounts))

    def of_slice(self, name: str) -> Term:
        """Expected amount of a slice, times its chance."""
        return sum_where(block(line.slice for line in self.lines), name, self.expected)

    def of_code(self, code: str) -> Term:
        """Expected amount of a cost code."""
        return sum_where(block(line.code for line in self.lines), code, self.expected)

    def times(self, code: str, unit: str = "") -> Term:
        """Sum of the expected quantities of a cost code that are counted in `unit`."""
        return sum_of(
            line.expected.quantity
            for line in self.lines
            if line.expected is not None and line.code.value == code and unit in ("", line.unit)
        )


@dataclass(frozen=True)
class _Part:
    """A line before the ledger has its say."""

    code: str
    words: str
    unit: str
    stated: Term
    expected: Cell | None
    planned: Cell | None
    open: bool  # whether a range is in it
    owner: int

    def products(self) -> tuple[tuple[Cell | None, float], tuple[Cell | None, float]]:
        """Its quantities, planned and expected, each with the stated product."""
        price = self.stated.number
        return tuple(
            (quantity, quantity.number * price if quantity else 0.0)
            for quantity in (self.planned, self.expected)
        )  # type: ignore[return-value]


@dataclass
class _Maker:
    """Collects prices and lines in the order of the job."""

    inputs: Inputs
    taken: Quantities
    prices: list[Price] = field(default_factory=list)
    parts: dict[str, list[_Part]] = field(default_factory=dict)
    lines: list[tuple[int, Line]] = field(default_factory=list)  # with the fallback, 0 for none
    ranges: set[Cell] = field(default_factory=set)

    def price(self, part: str, words: str, unit: str, *amounts: Amount) -> Cell:
        """An input cell with the mean of some amounts."""
        ranges = [amount.name for amount in amounts if isinstance(amount, Distribution)]
        note = f"mean of a {ranges[0]} range" if ranges else ""
        cell = self.given(part, words, unit, self.inputs.mean(amounts), note)
        self.ranges |= {cell} if ranges else set()
        return cell

    def given(self, part: str, words: str, unit: str, value: float, note: str = "") -> Cell:
        """An input cell with a value."""
        cell = Cell(value, is_input=True)
        self.prices.append(Price(part, words, cell, unit, note))
        return cell

    def summed(self, part: str, words: str, rates: Mapping[str, Amount], name: str) -> Cell:
        """The sum of day rates, and their cells before it."""
        cells = [
            self.price(part, key.replace("_", " "), "a day", rate) for key, rate in rates.items()
        ]
        cell = Cell(total(block(cells)) if cells else 0.0, name=name)
        self.prices.append(Price(part, words, cell, "a day", "sum" if cells else ""))
        self.ranges |= {cell} if self.ranges & set(cells) else set()
        return cell

    def add(
        self,
        ledger: str,
        code: str,
        words: str,
        unit: str,
        stated: Term,
        expected: Cell | None,
        planned: Cell | None = None,
        *,
        hours: Amount = 0.0,
        owner: int = 0,
    ) -> None:
        """A part of a line of the ledger. hours: those that a quantity is the mean of; owner:
        number of the fallback from 1, 0 for none."""
        loose = isinstance(hours, Distribution) or bool(
            _referred(set(), stated.cells()) & self.ranges
        )
        part = _Part(code, words, unit, stated, expected, planned, loose, owner)
        self.parts.setdefault(ledger, []).append(part)

    def group(self, ledger: str, slice_: str) -> None:
        """The lines that make up a line of the ledger."""
        parts = self.parts.get(ledger, [])
        amounts = self.taken.planned.get(ledger, 0.0), self.taken.expected[ledger]
        factors = [
            _factor(amount, [(part.open, part.products()[side][1]) for part in parts])
            for side, amount in enumerate(amounts)
        ]
        for part in parts:
            products = [
                None
                if not stated or quantity is None
                else _product(quantity, part.stated, factor[part.open])
                for (quantity, stated), factor in zip(part.products(), factors, strict=True)
            ]
            if any(products):
                code, own = Cell(part.code), Cell(slice_)
                line = Line(code, own, part.words, part.unit, Cell(part.stated), *products)
                self.lines.append((part.owner, line))


def _factor(amount: float, stated: Sequence[tuple[bool, float]]) -> tuple[float, float]:
    """What the stated products are scaled by to sum to the amount of the ledger: those without
    a range, and those with one."""
    fixed = sum(product for is_open, product in stated if not is_open)
    loose = sum(product for is_open, product in stated if is_open)
    if loose:
        return 1.0, _near_1((amount - fixed) / loose)
    factor = _near_1(amount / fixed) if fixed else 1.0
    return factor, factor


def _near_1(factor: float) -> float:
    return 1.0 if abs(factor - 1.0) < SAME else factor


def _product(quantity: Cell, stated: Term, factor: float) -> Product:
    price = Cell(stated)
    if factor != 1.0:
        issued = stated.number
        unchanged = below(absolute(stated - issued), UNCHANGED * abs(issued))
        price = Cell(when(unchanged, issued * factor, stated))
    return Product(quantity, price, Cell(quantity * price))


def estimate(answer: Answer) -> Estimate:
    """The estimate of an answer at its best limit."""
    inputs = inputs_after(answer.scenario, answer.log)
    make = _Maker(inputs, answer.quantities[answer.best])
    job = inputs.scenario
    spread = make.summed("Every branch", "Spread", job.rates, "Spread")
    _first(make, answer, spread)
    fishing_day = make.summed("Fishing", "Fishing day", job.fishing.day_rates, "Fishing_day")
    _fishing(make, answer, spread, fishing_day)
    _recovery(make, spread, fishing_day)
    if make.taken.approval_days > 0:
        words = "Wait for the approval of a plug over a source"
        days = _days(make.taken.approval_days)
        make.add("approval", "ST10", words, "d", spread, days)
    for number, own in enumerate(make.taken.fallbacks):
        if own.taken > 0:
            _fallback(make, number, own, spread)
    _losses(make)
    _late(make)
    for ledger, part in LINES.items():
        make.group(ledger, "compared" if ledger == NOT_SPENT else part)
    order = list(SLICES)
    make.lines.sort(key=lambda pair: (order.index(str(pair[1].slice.value)), pair[0]))
    lines = [line for _, line in make.lines]
    used = _referred({spread, fishing_day}, [line.stated for line in lines])
    return Estimate(
        lines=tuple(lines),
        prices=tuple(price for price in make.prices if price.cell in used),
        spread=spread,
        fishing_day=fishing_day,
        amounts=tuple(
            (
                Cell("") if line.planned is None else line.planned.amount,
                Cell("") if line.expected is None else line.expected.amount,
            )
            for line in lines
        ),
    )


def _referred(kept: set[Cell], cells: Iterable[Cell]) -> set[Cell]:
    """Cells that others refer to, all the way down, and those that are kept in any case."""
    found: set[Cell] = set()
    left = [*kept, *cells]
    while left:
        cell = left.pop()
        if cell not in found:
            found.add(cell)
            left += [] if cell.formula is None else cell.formula.cells()
    return found


def _days(value: float) -> Cell:
    """A number of days, which a reader may change."""
    return Cell(value, is_input=True)


def _first(make: _Maker, answer: Answer, spread: Cell) -> None:
    """What is owed on every branch before the first run."""
    common = make.inputs.scenario.common
    if answer.log:
        return
    words = "Owed first on every branch"
    cost = make.price("Every branch", f"{words}, besides the spread", "once", common.cost)
    days, once = _days(make.inputs.mean([common.hours]) / 24), Cell(1.0)
    make.add("common", "FS50", f"{words}: time", "d", spread, days, Cell(days), hours=common.hours)
    make.add("common", "FS50", f"{words}: charges", "times", cost, once, Cell(once))


def _fishing(make: _Maker, answer: Answer, spread: Cell, fishing_day: Cell) -> None:
    """Fishing to the limit."""
    job, taken = make.inputs.scenario, make.taken
    days, planned = _days(taken.fishing_days), _days(taken.planned_days)
    make.add("spread", "FS10", "Rig and standing services", "d", spread, days, planned)
    paid, paid_planned = days, planned  # the days of the rig, where every run pays the whole day
    if taken.paid_days != (taken.fishing_days, taken.planned_days):
        paid, paid_planned = map(_days, taken.paid_days)
    make.add("fishing_day", "FS20", "Fishing services", "d", fishing_day, paid, paid_planned)
    if taken.expected["mobilization"] or taken.planned["mobilization"]:
        price = make.price("Fishing", "Mobilization", "once", job.fishing.mobilization)
        once = Cell(1.0)
        make.add("mobilization", "FS60", "Mobilization", "times", price, once, Cell(once))
    for number, chance, planned_chance in taken.made:
        run = job.run[number]
        price = make.price("Charge of a run", f"{number + 1}. {run.name}", "each", run.charge)
        words = f"Charge, run {number + 1}: {run.name}"
        make.add("charges", "FS40", words, "runs", price, Cell(chance), Cell(planned_chance))
    if job.parting is not None and taken.parted:
        price = make.price("Fishing", "Getting off the fish", "each", job.parting.charge)
        words = "Charge, getting off the fish"
        make.add("charges", "FS40", words, "times", price, Cell(taken.parted), None)
    for words, expected, planned_too in (
        ("Rentals, mean", taken.expected["rentals"], False),
        ("Rentals if every run fails", taken.planned["rentals"], True),
    ):
        if expected:
            price = make.given("Fishing", words, "once", expected, "minimum days and standby in it")
            pair = (None, Cell(1.0)) if planned_too else (Cell(1.0), None)
            make.add("rentals", "FS30", words, "sum", price, *pair)


def _recovery(make: _Maker, spread: Cell, fishing_day: Cell) -> None:
    """Work after the fish is out, times the chance that it is."""
    section, out = make.inputs.scenario.recovery, make.taken.recovered
    if not make.taken.expected["recovery"]:
        return
    hours = make.inputs.mean([section.hours])
    part, days = "After a recovery", _days(out * hours / 24)
    share = make.price(
        part, "Share of the fishing day that is still paid", "share", section.fishing_share
    )
    charge = make.price(part, "Charges", "once", section.charge)
    planned = make.taken.planned.get("recovery")  # where nothing else can happen
    for words, unit, price, quantity in (
        ("Rig and standing services", "d", spread, days),
        ("Fishing services", "d", fishing_day * share, days),
        ("Charges", "times", charge, Cell(out)),
    ):
        same = None if planned is None else Cell(quantity)
        about = f"After a recovery: {words.lower()}"
        loose = section.hours if unit == "d" else 0.0
        make.add("recovery", "FS80", about, unit, price, quantity, same, hours=loose)


def _fallback(make: _Maker, number: int, own: FallbackQuantities, spread: Cell) -> None:
    """A fallback, times the chance that it is taken."""
    section = make.inputs.scenario.fallback[number]
    days = _days(own.hours / 24)

    def price(words: str, unit: str, amount: Amount) -> Cell:
        return make.price(section.name, words, unit, amount)

    def add(ledger: str, code: str, words: str, unit: str, cost: Term, quantity: Cell) -> None:
        about = f"{words}: {section.name}"
        make.add(ledger, code, about, unit, cost, quantity, owner=number + 1)

    add("fallback_time", "ST10", "Rig and standing services", "d", spread, days)
    if not isinstance(section, Sidetrack):
        cost = price("Cost besides the spread", "once", section.cost)
        add("fallback_charges", "ST90", "Charges", "times", cost, Cell(own.taken))
        trouble = price("Trouble, if it happens", "each", section.trouble.cost)
        add("sticking", "ST85", "Trouble", "times", trouble, Cell(own.sticks))
        value = price("Value of the well given up, not spent", "once", section.value_given_up)
        add(NOT_SPENT, "", "Value given up, not spent", "times", value, Cell(own.taken))
        return
    directional = price("Directional services", "a day", section.directional_day)
    plug = price("Materials and pumping of a plug", "each", section.plug_cost)
    add("fallback_time", "ST30", "Directional services", "d", directional, days)
    for code, words, amount, often in (
        ("ST30", "Directional crew, mobilization", section.mobilization, own.taken),
        ("ST40", "Bits", section.bit_cost, own.taken + own.bit_trips),
        ("ST60", "Logs again", section.logging_cost, own.taken),
        ("RG20", "Permits and other costs", section.other_cost, own.taken),
    ):
        add("fallback_charges", code, words, "times", price(words, "each", amount), Cell(often))
    plugs = Cell(own.taken * section.plugs)
    add("fallback_charges", "ST20", "Plugs", "times", plug, plugs)
    again = "Kick-off made again"
    rates = spread + directional
    add("kickoff_trouble", "ST80", f"{again}, time", "d", rates, _days(own.retry_hours / 24))
    add("kickoff_trouble", "ST80", f"{again}, plugs", "times", plug, Cell(own.plug_retries))
    if section.whipstock is not None:
        tool = price("Attempt with a whipstock", "each", section.whipstock.cost)
        attempts = Cell(own.whipstock_attempts)
        add("kickoff_trouble", "ST80", f"{again}, whipstock", "times", tool, attempts)
    stick = price("Sticking again, if it happens", "each", section.stick_again.cost)
    add("sticking", "ST85", "Sticking again", "times", stick, Cell(own.sticks))


def _value(inputs: Inputs, piece: Piece) -> float:
    """What a piece is worth now [currency], at the means of what is stated."""
    if piece.value is not None:
        return inputs.mean([piece.value])
    new, off, floor = (
        inputs.mean([0.0 if amount is None else amount])
        for amount in (piece.replacement, piece.depreciation, piece.floor)
    )
    return new * max(1.0 - off, floor)


def _late(make: _Maker) -> None:
    """What it costs to end after the deadline, in expectation: it bends at the deadline, so that it
    is no quantity times a price."""
    for ledger, part, owner in (
        ("late_recovered", "After a recovery", 0),
        ("late_fallback", "Deadline", LAST),
    ):
        if expected := make.taken.expected[ledger]:
            words = "Ending after the deadline, mean"
            price = make.given(part, words, "once", expected, "chance and days late in it")
            planned = Cell(1.0) if make.taken.planned.get(ledger) else None
            make.add(ledger, "RG30", words, "sum", price, Cell(1.0), planned, owner=owner)


def _losses(make: _Maker) -> None:
    """Pieces of the fish, fishing strings and rented tools that stay in the hole."""
    job, part = make.inputs.scenario, "Lost in hole"
    lost = make.taken.expected["lost_in_hole"]
    value = sum(_value(make.inputs, piece) for piece in job.fish.piece)
    if lost and value:
        price = make.given(part, "The whole fish as it now is", "once", value)
        words = "Fish left in the hole, share of its value owed"
        make.add("lost_in_hole", "LH20", words, "share", price, Cell(lost / value), owner=LAST)
    for number, owed in make.taken.strings:
        run = job.run[number]
        tools = [rental.replacement for rental in job.rental if rental.serves(run)]
        words = f"String and tools of run {number + 1}: {run.name}"
        price = make.price(part, words, "each", run.string_value, *tools)
        if price.number:
            quantity = Cell(owed / price.number)
            make.add("string_lost", "LH50", words, "times", price, quantity, owner=LAST)
