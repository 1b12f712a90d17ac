"""The estimate: every line of the supplement as a quantity times a price.

What every price is multiplied by comes from the draws of the answer, of every limit
(`econ.engine.priced`). A working sheet has a row for each moment E[Q prod_{p in M} P_p] of a
product Q P_1 P_2. With e_p = 1 once a price has been edited and 0 before, its row counts

    factor = prod of the prices that are single numbers
             x prod_{p in M} (1 - e_p) x prod_{other ranges p} e_p P_p

so that of the rows of a product one counts, and the product is what the program gives with the
same draws: a range that is edited is a number, and the others keep their draws. A line is the
sum of its rows; its price is amount / quantity, and the stated one where the quantity is 0.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from econ.decision import Answer
from econ.decision.run_log import inputs_after
from econ.engine.priced import Key, Priced, Product, amount_at, kept_is_single, priced
from econ.reports.supplement.cells import (
    MOST,
    Bounds,
    Cell,
    Term,
    greater,
    product_of,
    sum_of,
    sum_product,
    sum_where,
    total,
    when,
)
from econ.reports.supplement.names import SLICES, Named, of_line, of_price
from econ.scenario.amounts import mean_of
from econ.scenario.distributions import Distribution
from econ.scenario.prices import price_paths
from econ.scenario.quantities import UNITS
from econ.scenario.scenario import dotted

EDGE = 1e-9  # [currency/d] what rounding leaves of a bound
NEVER = 1e9  # a ratio of rates that is not met
UNCHANGED = 1e-9  # of a price: it has not been edited


@dataclass(frozen=True)
class Price:
    """A price that a reader may change: the key of the file, the part of the job, words, cell,
    unit (a day, each, share), what it is the mean of, contract behind it; edited: 1 where it is
    another one than that of the issue, else 0; ends: the least and the greatest draw of a range,
    None for a single number."""

    key: Key
    part: str
    words: str
    cell: Cell
    unit: str
    note: str
    reference: str
    edited: Cell
    ends: tuple[float, float] | None


@dataclass(frozen=True)
class Row:
    """A moment of a product: the slice of its line, words, what it is multiplied by, and, on
    average and if every run fails, its values by limit and the one at the limit in force."""

    slice: str
    words: str
    factor: Cell
    values: tuple[tuple[Cell, ...], tuple[Cell, ...]]
    at_limit: tuple[Cell, Cell]


@dataclass(frozen=True)
class Side:
    """A line on average, or if every run fails: quantity, price used and amount."""

    quantity: Cell
    price: Cell
    amount: Cell


@dataclass(frozen=True)
class Line:
    """A line of the estimate: cost code (empty for what is no expenditure), slice, words, unit,
    stated price, and its two sides; planned is that of 1a and of 2."""

    code: Cell
    slice: Cell
    words: str
    unit: str
    stated: Cell
    planned: Side
    mean: Side
    reference: str = ""  # contracts and price lists behind its prices


@dataclass(frozen=True)
class Limits:
    """What the program gives of every limit, and its cost at the prices of the sheet.

    Columns by limit: cost at those prices, runs, days if every run fails, chance of 1b and of every
    run failing, P90 of the slices and of all that is spent less what lapses. limit: the one in
    force, an input; least: the runs that are required.
    """

    limit: Cell
    least: int
    columns: dict[str, tuple[Cell, ...]]

    def at(self, name: str) -> Term:
        """A column at the limit in force."""
        return sum_where(self.columns["runs"], self.limit, self.columns[name])

    @property
    def cost(self) -> tuple[Cell, ...]:
        """Cost of every limit at the prices of the sheet."""
        return self.columns["cost"]


@dataclass(frozen=True)
class Ratio:
    """A rental with standby: from and to which ratio of standby to day rate it follows exactly."""

    tool: str
    words: Cell


@dataclass(frozen=True)
class Estimate:
    """All lines, prices and rows; `spread` and `fishing_day` are sums of the rates [currency/d]."""

    lines: tuple[Line, ...]
    prices: tuple[Price, ...]
    rows: tuple[Row, ...]
    heads: tuple[Cell, ...]  # the limits over the moments
    spread: Cell
    fishing_day: Cell
    limits: Limits
    ratios: tuple[Ratio, ...]
    priced: Priced

    def of_slice(self, name: str, *, planned: bool = False) -> Term:
        """Amount of a slice, expected and so times its chance, or if every run to the limit
        fails."""
        slices = [line.slice for line in self.lines]
        return sum_where(slices, name, _amounts(self.lines, planned=planned))

    def of_code(self, code: str, name: str, *, planned: bool = False) -> Term:
        """The same of a cost code in a slice."""
        own = [line for line in self.lines if line.slice.value == name]
        codes = [line.code for line in own]
        return sum_where(codes, code, _amounts(own, planned=planned))

    def reference(self, code: str) -> str:
        """Contracts and price lists behind the prices of a cost code."""
        told = [line.reference for line in self.lines if line.code.value == code]
        return "; ".join(dict.fromkeys(each for each in told if each))

    def times(self, code: str, unit: str = "") -> Term:
        """Sum of the expected quantities of a cost code that are counted in `unit`."""
        return sum_of(
            line.mean.quantity
            for line in self.lines
            if line.code.value == code and unit in ("", line.unit)
        )


def estimate(answer: Answer) -> Estimate:
    """The estimate of an answer; the limit in force is its best one."""
    return _Maker(answer).made()


def _amounts(lines: Sequence[Line], *, planned: bool) -> list[Cell]:
    return [(line.planned if planned else line.mean).amount for line in lines]


class _Maker:
    """Makes prices, rows and lines in the order of the ledger."""

    def __init__(self, answer: Answer) -> None:
        self.answer, self.scenario = answer, answer.scenario
        inputs = inputs_after(answer.scenario, answer.log)
        self.least = inputs.minimum_runs
        self.found: Priced = priced(inputs, n=answer.draws)
        last = len(answer.by_runs) - 1
        bounds = Bounds("limit in runs", min(self.least, last), last, whole=True)
        self.limit = Cell(float(answer.best), bounds, name="Limit")
        self.heads = tuple(Cell(float(runs)) for runs in range(last + 1))
        self.prices: dict[Key, Price] = {}
        self.written = {*price_paths(answer.scenario)}
        self.rows: list[Row] = []

    def made(self) -> Estimate:
        """The estimate."""
        spread = self._together([("rates", name) for name in self.scenario.rates], "Spread")
        days = [("fishing", "day_rates", name) for name in self.scenario.fishing.day_rates]
        fishing_day = self._together(days, "Fishing_day")
        sums = {"rates": spread, "fishing": fishing_day}
        grouped: dict[Named, list[Product]] = {}
        for product in self.found.products:
            if self._counts(product):
                grouped.setdefault(of_line(self.scenario, product), []).append(product)
        order = list(SLICES)
        about = sorted(grouped, key=lambda each: order.index(each.slice))
        lines = [self._line(each, grouped[each], sums) for each in about]
        parts = list(dict.fromkeys(price.part for price in self.prices.values()))
        return Estimate(
            lines=tuple(lines),
            prices=tuple(sorted(self.prices.values(), key=lambda each: parts.index(each.part))),
            rows=tuple(self.rows),
            heads=self.heads,
            spread=spread,
            fishing_day=fishing_day,
            limits=self._limits(),
            ratios=tuple(self._ratios()),
            priced=self.found,
        )

    def _counts(self, product: Product) -> bool:
        """Whether a product is met at any limit, at a price that the file has."""
        moments = [self.found.mean[product.quantity, frozenset()]]
        moments.append(self.found.planned[product.quantity, frozenset()])
        last = product.prices[-1]
        stated = mean_of(amount_at(self.scenario, last))
        return any(each.any() for each in moments) and (stated != 0 or dotted(last) in self.written)

    def _price(self, key: Key) -> Price:
        """The price of a key, made when it is asked for."""
        if key not in self.prices:
            amount = amount_at(self.scenario, key)
            part, words, unit = of_price(self.scenario, key)
            most = 1.0 if unit == "share" else MOST
            cell = Cell(mean_of(amount), Bounds(f"price of {dotted(key)}", high=most))
            near = abs(cell - cell.number) < UNCHANGED * max(abs(cell.number), 1.0)
            note = f"mean of a {amount.name} range" if isinstance(amount, Distribution) else ""
            reference = self.scenario.afe.price_reference.get(dotted(key), "")
            edited, ends = Cell(when(near, 0.0, 1.0)), self.found.ranges.get(dotted(key))
            self.prices[key] = Price(key, part, words, cell, unit, note, reference, edited, ends)
        return self.prices[key]

    def _together(self, keys: Sequence[Key], name: str) -> Cell:
        """The sum of day rates."""
        return Cell(total(self._price(key).cell for key in keys), name=name)

    def _line(self, about: Named, products: Sequence[Product], sums: dict[str, Cell]) -> Line:
        """A line, and its rows one below the other; a quantity of it is a row of E[Q]."""
        rows: list[Row] = []
        counted: dict[str, Row] = {}
        behind: list[Price] = []
        for product in products:
            prices = [self._price(key) for key in product.prices]
            behind += prices
            loose = [price for price in prices if price.ends is not None]
            for taken in range(2 ** len(loose)):
                inside = [price for bit, price in enumerate(loose) if taken >> bit & 1]
                rows.append(self._row(about, product, prices, inside))
                if not inside:
                    counted.setdefault(product.quantity, rows[-1])
        self.rows += rows
        stated = Cell(self._stated(products, sums))
        factors, sides = [row.factor for row in rows], []
        for side in (0, 1):
            quantity = Cell(sum_of(row.at_limit[side] for row in counted.values()))
            amount = Cell(sum_product(factors, [row.at_limit[side] for row in rows]))
            price = Cell(when(abs(quantity) > 0.0, amount / quantity, stated))
            sides.append(Side(quantity, price, amount))
        told = ", ".join(dict.fromkeys(one.reference for one in behind if one.reference))
        code, own = Cell(about.code), Cell(about.slice)
        return Line(code, own, about.words, about.unit, stated, sides[1], sides[0], told)

    def _row(
        self, about: Named, product: Product, prices: Sequence[Price], inside: Sequence[Price]
    ) -> Row:
        """The row of a product with some of its prices inside of the mean."""
        factors = self._kept(product)
        for price in prices:
            factors += [] if price in inside else [price.cell]
            if price.ends is not None:
                factors.append(1 - price.edited if price in inside else price.edited)
        keys = [dotted(price.key) for price in prices if price in inside]
        scale = 1.0
        if product.prices[0][-1] == "per_foot" and not inside and self.scenario.units != "field":
            scale = 1.0 / (UNITS["length"][2] or 1.0)  # feet of the draws in units of the file
        moment = product.quantity, frozenset(keys)
        mean, planned = (
            tuple(Cell(scale * float(value)) for value in found[moment])
            for found in (self.found.mean, self.found.planned)
        )
        head = self.heads
        at, failing = (Cell(sum_where(head, self.limit, each)) for each in (mean, planned))
        words, factor = " x ".join([product.quantity, *keys]), Cell(product_of(factors))
        return Row(about.slice, words, factor, (mean, planned), (at, failing))

    def _kept(self, product: Product) -> list[Term]:
        """The share of a piece's replacement that is owed, where it is a single number."""
        key = product.prices[-1]
        if key[:2] != ("fish", "piece") or key[-1] != "replacement":
            return []
        index = int(key[2])
        piece = self.scenario.fish.piece[index]
        if not kept_is_single(piece) or (piece.depreciation is None and piece.floor is None):
            return []
        off, floor = (
            self._price(("fish", "piece", index, name)).cell for name in ("depreciation", "floor")
        )
        return [greater(1 - off, floor)]

    def _stated(self, products: Sequence[Product], sums: dict[str, Cell]) -> Term:
        """The price of a line as it is stated: the sum of the prices of one quantity."""
        quantity = products[0].quantity
        own = [each for each in products if each.quantity == quantity]
        first = own[0].prices[0]
        if first[0] == "rates" or first[:2] == ("fishing", "day_rates"):
            crew = [each.prices[0] for each in own if each.prices[0][0] == "fallback"]
            return sum_of([sums[str(first[0])], *(self._price(key).cell for key in crew)])
        return sum_of(
            product_of([*self._kept(each), *(self._price(key).cell for key in each.prices)])
            for each in own
        )

    def _limits(self) -> Limits:
        answer = self.answer
        runs = tuple(Cell(float(row.runs)) for row in answer.by_runs)
        factors = [row.factor for row in self.rows]
        by_limit = [[row.values[0][limit] for row in self.rows] for limit in range(len(runs))]
        columns: dict[str, tuple[Cell, ...]] = {
            "cost": tuple(Cell(sum_product(factors, values)) for values in by_limit),
            "runs": runs,
            "days": tuple(Cell(row.days) for row in answer.by_runs),
            "failed": tuple(Cell(float(chance)) for chance in self.found.weight),
        }
        for place, name in enumerate(SLICES):
            if name == "compared":
                break
            slices = [call.slices[place] for call in answer.calls]
            columns[f"chance {name}"] = tuple(Cell(each.chance) for each in slices)
            columns[f"p90 {name}"] = tuple(Cell(each.p90) for each in slices)
        columns["p90"] = tuple(Cell(call.net_p90) for call in answer.calls)
        for number in range(len(answer.scenario.fallback)):
            taken = (each.fallbacks[number].taken for each in answer.quantities)
            columns[f"taken {number}"] = tuple(Cell(chance) for chance in taken)
            spent = (each.fallbacks[number].spent for each in answer.quantities)
            columns[f"spent {number}"] = tuple(Cell(amount) for amount in spent)
        least = min(self.least, len(runs) - 1)
        return Limits(self.limit, least, columns)

    def _ratios(self) -> Iterator[Ratio]:
        """What bounds the ratio of standby to day rate of each rental."""
        for number, rental in enumerate(self.scenario.rental):
            day, standby = (
                self.prices.get(("rental", number, name)) for name in ("day", "standby_day")
            )
            if number not in self.found.binding or day is None or standby is None:
                continue
            yield Ratio(rental.tool, Cell(self._ratio(day, standby, self.found.binding[number])))

    def _ratio(self, day: Price, standby: Price, bounds: tuple[float, float, float, float]) -> Term:
        """Whether a rental follows its prices exactly: the same side binds in every draw."""
        low, high, least, most = (min(bound, NEVER) for bound in bounds)
        # While the day rates are those of the issue, a standby rate that is a single number counts
        # beside that of the issue. Else the ratio counts, of a range by its ends.
        moved = day.edited if standby.ends is None else day.edited + standby.edited
        at, issued = standby.cell, standby.cell.number
        beside = (at < least * issued - EDGE) | (at > most * issued + EDGE)
        (day_low, day_high), (standby_low, standby_high) = _ends(day), _ends(standby)
        outside = (standby_low < low * day_high - EDGE) | (standby_high > high * day_low + EDGE)
        to = f"to {most * issued:,.0f}" if most < NEVER else "or more"
        exact = f"follows exactly; standby {least * issued:,.0f} {to} at the day rates of the issue"
        words = "AT LEAST: another side of minimum or use would bind; run econ again"
        return when(when(moved < 0.5, beside, outside), words, exact)


def _ends(price: Price) -> tuple[Term, Term]:
    """The least and the greatest that a price may be in a draw."""
    if price.ends is None:
        return price.cell, price.cell
    least, most = (when(price.edited > 0.5, price.cell, end) for end in price.ends)
    return least, most
