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

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

from econ.decision import Answer
from econ.decision.run_log import inputs_after
from econ.engine.ledger import LINES
from econ.engine.priced import Key, Priced, Product, amount_at, kept_is_single, priced
from econ.reports.supplement.cells import (
    MOST,
    Block,
    Bounds,
    Cell,
    Term,
    block,
    greater,
    product_of,
    sum_of,
    sum_product,
    sum_where,
    total,
    when,
)
from econ.scenario.amounts import mean_of
from econ.scenario.distributions import Distribution
from econ.scenario.prices import price_paths
from econ.scenario.quantities import UNITS
from econ.scenario.scenario import Scenario, dotted

SLICES = {
    "1a": "1a Fishing to the limit",
    "1b": "1b Work after a recovery",
    "2": "2 Fallback",
    "compared": "Compared, not spent",
}
EDGE = 1e-9  # [currency/d] what rounding leaves of a bound
NEVER = 1e9  # a ratio of rates that is not met
UNCHANGED = 1e-9  # of a price: it has not been edited


@dataclass(frozen=True)
class Price:
    """A price that a reader may change: the key of the file, the part of the job, words, cell,
    unit (a day, each, share), what it is the mean of, contract behind it; edited: 1 where a range
    has become a number, None for what is no range."""

    key: Key
    part: str
    words: str
    cell: Cell
    unit: str
    note: str
    reference: str
    edited: Cell | None = None


@dataclass(frozen=True)
class Row:
    """A moment of a product: the number of its line, words, its values by limit, mean and planned,
    what they are multiplied by, and both at the limit in force with their amounts."""

    line: Cell
    slice: Cell
    words: str
    mean: tuple[Cell, ...]
    planned: tuple[Cell, ...]
    factor: Cell
    at_limit: tuple[Cell, Cell]
    amounts: tuple[Cell, Cell]


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

    def differs(self) -> bool:
        """Whether a price used is not the stated one."""
        sides = [side for side in (self.planned, self.mean) if side.quantity.number]
        gaps = [side.price.number - self.stated.number for side in sides]
        return any(abs(gap) > 1e-9 * abs(self.stated.number) for gap in gaps)


@dataclass(frozen=True)
class Limits:
    """What the program gives of every limit, and its cost at the prices of the sheet.

    Columns by limit: runs, days if every run fails, chance of 1b and of every run failing, P90 of
    the slices and of all. limit: the one in force, an input; issued: that of the issue; least: the
    runs that are required.
    """

    limit: Cell
    issued: int
    least: int
    columns: dict[str, tuple[Cell, ...]]
    cost: tuple[Cell, ...]

    def at(self, name: str) -> Term:
        """A column at the limit in force."""
        return sum_where(block(self.columns["runs"]), self.limit, block(self.columns[name]))

    @property
    def cost_here(self) -> Term:
        """Cost of the limit in force."""
        return sum_where(block(self.columns["runs"]), self.limit, block(self.cost))


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
    heads: tuple[tuple[Cell, ...], tuple[Cell, ...]]  # the limits over the moments
    spread: Cell
    fishing_day: Cell
    limits: Limits
    ratios: tuple[Ratio, ...]
    priced: Priced

    @cached_property
    def _slices(self) -> Block:
        return block(line.slice for line in self.lines)

    def of_slice(self, name: str) -> Term:
        """Expected amount of a slice, times its chance."""
        return sum_where(self._slices, name, block(line.mean.amount for line in self.lines))

    def planned(self, name: str) -> Term:
        """Amount of a slice if every run to the limit fails."""
        return sum_where(self._slices, name, block(line.planned.amount for line in self.lines))

    def of_code(self, code: str, name: str, *, planned: bool = False) -> Term:
        """Amount of a cost code in a slice, expected or if every run to the limit fails."""
        own = [line for line in self.lines if line.slice.value == name]
        sides = [line.planned if planned else line.mean for line in own]
        codes, amounts = (line.code for line in own), (side.amount for side in sides)
        return sum_where(block(codes), code, block(amounts))

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


@dataclass(frozen=True)
class _About:
    """What a line is called: cost code, slice, words, unit; place: which run, rental, piece or
    fallback it is of, where two have the same name."""

    code: str
    slice: str
    words: str
    unit: str
    place: str


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
        limits = range(last + 1)
        self.heads = tuple(tuple(Cell(float(runs)) for runs in limits) for _ in range(2))
        self.prices: dict[Key, Price] = {}
        self.written = {*price_paths(answer.scenario)}
        self.rows: list[Row] = []

    def made(self) -> Estimate:
        """The estimate."""
        spread = self._together([("rates", name) for name in self.scenario.rates], "Spread")
        days = [("fishing", "day_rates", name) for name in self.scenario.fishing.day_rates]
        fishing_day = self._together(days, "Fishing_day")
        sums = {"rates": spread, "fishing": fishing_day}
        grouped: dict[_About, list[Product]] = {}
        for product in self.found.products:
            if self._counts(product):
                grouped.setdefault(_about(self.scenario, product), []).append(product)
        order = list(SLICES)
        about = sorted(grouped, key=lambda each: order.index(each.slice))
        counted = [self._rows(number, each, grouped[each]) for number, each in enumerate(about)]
        numbers = block(row.line for row in self.rows)
        amounts = [block(row.amounts[side] for row in self.rows) for side in (0, 1)]
        lines = []
        for number, each in enumerate(about):
            stated = Cell(self._stated(grouped[each], sums))
            sides = []
            for side in (0, 1):
                quantity = Cell(sum_of(row.at_limit[side] for row in counted[number]))
                amount = Cell(sum_where(numbers, float(number), amounts[side]))
                price = Cell(when(abs(quantity) > 0.0, amount / quantity, stated))
                sides.append(Side(quantity, price, amount))
            code, own = Cell(each.code), Cell(each.slice)
            behind = [self._price(key) for product in grouped[each] for key in product.prices]
            told = ", ".join(dict.fromkeys(one.reference for one in behind if one.reference))
            lines.append(Line(code, own, each.words, each.unit, stated, sides[1], sides[0], told))
        return Estimate(
            lines=tuple(lines),
            prices=tuple(_by_part(self.prices.values())),
            rows=tuple(self.rows),
            heads=self.heads,  # type: ignore[arg-type]
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
            part, words, unit = _of_price(self.scenario, key)
            most = 1.0 if unit == "share" else MOST
            cell = Cell(mean_of(amount), Bounds(f"price of {dotted(key)}", high=most))
            note, edited = "", None
            if isinstance(amount, Distribution):
                issued = cell.number
                near = abs(cell - issued) < UNCHANGED * abs(issued)
                edited = Cell(when(near, 0.0, 1.0))
                note = f"mean of a {amount.name} range"
            reference = self.scenario.afe.price_reference.get(dotted(key), "")
            self.prices[key] = Price(key, part, words, cell, unit, note, reference, edited)
        return self.prices[key]

    def _together(self, keys: Sequence[Key], name: str) -> Cell:
        """The sum of day rates."""
        return Cell(total(block(self._price(key).cell for key in keys)), name=name)

    def _rows(self, number: int, about: _About, products: Sequence[Product]) -> list[Row]:
        """Rows of a line; those of E[Q], once for each of its quantities."""
        counted: dict[str, Row] = {}
        for product in products:
            prices = [self._price(key) for key in product.prices]
            loose = [price for price in prices if price.edited is not None]
            for taken in range(2 ** len(loose)):
                inside = {price.key for bit, price in enumerate(loose) if taken >> bit & 1}
                factors = self._kept(product)
                for price in prices:
                    factors += [] if price.key in inside else [price.cell]
                    if price.edited is not None:
                        edited = price.edited
                        factors.append(1 - edited if price.key in inside else edited)
                words = " x ".join(
                    [product.quantity, *(dotted(key) for key in product.prices if key in inside)]
                )
                row = self._row(number, about, product, inside, words, product_of(factors))
                self.rows.append(row)
                if not inside:
                    counted.setdefault(product.quantity, row)
        return list(counted.values())

    def _row(
        self,
        number: int,
        about: _About,
        product: Product,
        inside: set[Key],
        words: str,
        factor: Term,
    ) -> Row:
        moment = product.quantity, frozenset(dotted(key) for key in inside)
        scale = 1.0
        if product.prices[0][-1] == "per_foot" and not inside and self.scenario.units != "field":
            scale = 1.0 / (UNITS["length"][2] or 1.0)  # feet of the draws in units of the file
        mean, planned = (
            tuple(Cell(scale * float(value)) for value in found[moment])
            for found in (self.found.mean, self.found.planned)
        )
        at = tuple(
            Cell(sum_where(block(head), self.limit, block(values)))
            for head, values in zip(self.heads, (mean, planned), strict=True)
        )
        times = Cell(factor)
        amounts = tuple(Cell(times * each) for each in at)
        own = Cell(float(number)), Cell(about.slice)
        return Row(*own, words, mean, planned, times, at, amounts)  # type: ignore[arg-type]

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
        columns: dict[str, tuple[Cell, ...]] = {
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
        columns["p90"] = tuple(Cell(call.p90) for call in answer.calls)
        factors = block(row.factor for row in self.rows)
        cost = tuple(
            Cell(sum_product(factors, block(row.mean[limit] for row in self.rows)))
            for limit in range(len(runs))
        )
        for number in range(len(answer.scenario.fallback)):
            taken = (each.fallbacks[number].taken for each in answer.quantities)
            columns[f"taken {number}"] = tuple(Cell(chance) for chance in taken)
        least = min(self.least, len(runs) - 1)
        return Limits(self.limit, answer.best, least, columns, cost)

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
        moved = [_moved(price) for price in (day, standby)]
        # While the day rates are those of the issue, a standby rate that is a single number counts
        # beside that of the issue. Else the ratio counts, of a range by its ends.
        of_issue = (moved[0] if standby.edited is None else sum_of(moved)) < 0.5
        issued = standby.cell.number
        at = standby.cell
        beside = (at < least * issued - EDGE) | (at > most * issued + EDGE)
        (day_low, day_high), (standby_low, standby_high) = self._ends(day), self._ends(standby)
        outside = (standby_low < low * day_high - EDGE) | (standby_high > high * day_low + EDGE)
        to = f"to {most * issued:,.0f}" if most < NEVER else "or more"
        exact = f"follows exactly; standby {least * issued:,.0f} {to} at the day rates of the issue"
        words = "AT LEAST: another side of minimum or use would bind; run econ again"
        return when(when(of_issue, beside, outside), words, exact)

    def _ends(self, price: Price) -> tuple[Term, Term]:
        """The least and the greatest draw of a price."""
        if price.edited is None:
            return price.cell, price.cell
        edited = price.edited > 0.5
        least, most = self.found.ranges[dotted(price.key)]
        return when(edited, price.cell, least), when(edited, price.cell, most)


def _moved(price: Price) -> Term:
    """1 where a price is not that of the issue, else 0."""
    if price.edited is not None:
        return price.edited
    issued = price.cell.number
    return when(abs(price.cell - issued) < UNCHANGED * max(abs(issued), 1.0), 0.0, 1.0)


def _by_part(prices: Iterable[Price]) -> list[Price]:
    """Prices with those of a part together, parts in the order in which they come."""
    kept = list(prices)
    parts = list(dict.fromkeys(price.part for price in kept))
    return sorted(kept, key=lambda price: parts.index(price.part))


def _of_price(scenario: Scenario, key: Key) -> tuple[str, str, str]:
    """Part of the job, words and unit of a price."""
    section, last = key[0], str(key[-1])
    if section == "rates":
        return "Every branch", last.replace("_", " "), "a day"
    if section == "fishing" and len(key) > 2:
        return "Fishing", last.replace("_", " "), "a day"
    words, unit = WORDS.get(last, (last.replace("_", " "), "each"))
    if section == "run":
        number = int(key[1])
        run = f"{number + 1}. {scenario.run[number].name}"
        return (
            ("Charge of a run" if last == "charge" else "Lost in hole"),
            (run if last == "charge" else f"String of run {run}"),
            "each",
        )
    if section == "rental":
        unit = "a unit of length" if last == "per_foot" else unit
        return f"Rental: {scenario.rental[int(key[1])].tool}", words, unit
    if section == "fallback":
        words = {"cost": "Cost besides the spread"}.get(last, words)
        if len(key) > 3:
            words, unit = NESTED[str(key[2])], "each"
        return scenario.fallback[int(key[1])].name, words, unit
    if section == "fish":
        piece = scenario.fish.piece[int(key[2])]
        return "Lost in hole", f"{piece.name}: {words.lower()}", unit
    part = {"common": "Every branch", "recovery": "After a recovery", "deadline": "Deadline"}
    return part.get(str(section), "Fishing"), NAMED.get((str(section), last), words), unit


WORDS = {  # of a price by its key: words and unit
    "mobilization": ("Mobilization", "once"),
    "day": ("Rate while working", "a day"),
    "standby_day": ("Rate while standing by", "a day"),
    "redress": ("Redress", "a run"),
    "per_foot": ("Wash pipe, by length washed", "a length"),
    "replacement": ("Replacement", "each"),
    "value": ("Value", "each"),
    "depreciation": ("Share written off", "share"),
    "floor": ("Least share owed", "share"),
    "lost_in_hole_share": ("Share of the pieces left that is owed", "share"),
    "directional_day": ("Directional services", "a day"),
    "plug_cost": ("Materials and pumping of a plug", "each"),
    "bit_cost": ("Bit", "each"),
    "logging_cost": ("Logs again", "once"),
    "other_cost": ("Permits and other costs", "once"),
    "value_given_up": ("Value of the well given up, not spent", "once"),
    "cost_once": ("Ending late, once", "once"),
    "cost_per_day": ("Ending late, for each day", "a day"),
    "charge": ("Charges", "once"),
}
NESTED = {
    "whipstock": "Attempt with a whipstock",
    "stick_again": "Sticking again, if it happens",
    "trouble": "Trouble, if it happens",
}
NAMED = {
    ("common", "cost"): "Owed first on every branch, besides the spread",
    ("parting", "charge"): "Getting off the fish",
}
OF_LINES = {  # ledger line and last part of the quantity: code, words, unit
    ("common", "common_days"): ("FS50", "Owed first on every branch: time", "d"),
    ("common", "once"): ("FS50", "Owed first on every branch: charges", "times"),
    ("spread", "fishing_days"): ("FS10", "Rig and standing services", "d"),
    ("fishing_day", "paid_days"): ("FS20", "Fishing services", "d"),
    ("mobilization", "mobilized"): ("FS60", "Mobilization", "times"),
    ("charges", "parted"): ("FS40", "Charge, getting off the fish", "times"),
    ("rentals", "called"): ("FS30", "mobilization", "times"),
    ("rentals", "working"): ("FS30", "days billed at the working rate", "d"),
    ("rentals", "standby"): ("FS30", "days billed at the standby rate", "d"),
    ("rentals", "runs"): ("FS30", "redress", "runs"),
    ("rentals", "length"): ("FS30", "length washed", "length"),
    ("recovery", "recovery_days"): ("FS80", "After a recovery: rig and standing services", "d"),
    ("recovery", "recovery_paid_days"): (
        "FS80",
        "After a recovery: fishing services, days paid",
        "d",
    ),
    ("recovery", "recovered"): ("FS80", "After a recovery: charges", "times"),
    ("approval", "approval_days"): ("ST10", "Wait for the approval of a plug over a source", "d"),
    ("fallback_time", "days"): ("ST10", "Rig and standing services", "d"),
    ("fallback_charges", "plugs"): ("ST20", "Plugs", "times"),
    ("fallback_charges", "bits"): ("ST40", "Bits", "times"),
    ("kickoff_trouble", "retry_days"): ("ST80", "Kick-off made again, time", "d"),
    ("kickoff_trouble", "retries"): ("ST80", "Kick-off made again, plugs", "times"),
    ("kickoff_trouble", "whipstocks"): ("ST80", "Attempts with a whipstock", "times"),
}
OF_KEYS = {  # the same by the key of the price, where the quantity does not tell
    "directional_day": ("ST30", "Directional services", "d"),
    "mobilization": ("ST30", "Directional crew, mobilization", "times"),
    "logging_cost": ("ST60", "Logs again", "times"),
    "other_cost": ("RG20", "Permits and other costs", "times"),
    "cost": ("ST90", "Charges", "times"),
    "value_given_up": ("", "Value given up, not spent", "times"),
}
OF_SLICES = {"fishing": "1a", "recovery": "1b", "fallback": "2"}


def _about(scenario: Scenario, product: Product) -> _About:
    """What the line of a product is called."""
    ledger, parts, key = product.ledger, product.quantity.split("."), product.prices[-1]
    slice_ = "compared" if ledger == "value_given_up" else OF_SLICES[LINES[ledger]]
    place = parts[1] if len(parts) > 1 else ""
    run = (
        f"{int(place) + 1}: {scenario.run[int(place)].name}"
        if parts[0] in ("run", "string")
        else ""
    )
    if ledger in ("late_recovered", "late_fallback"):
        once = key[-1] == "cost_once"
        end = "fish out" if place == "out" else scenario.fallback[int(place)].name
        words = f"Ending late, {'once' if once else 'days late'}: {end}"
        return _About("RG40", slice_, words, "times" if once else "d", place)
    if ledger == "charges" and run:
        return _About("FS40", slice_, f"Charge, run {run}", "runs", place)
    if ledger == "string_lost":
        return _About("LH50", slice_, f"String and tools of run {run}", "times", place)
    if ledger == "lost_in_hole":
        piece = scenario.fish.piece[int(parts[3])]
        return _About("LH20", slice_, f"Left in the hole: {piece.name}", "pieces", parts[3])
    if ledger == "sticking":
        trouble = "Sticking again" if key[2] == "stick_again" else "Trouble"
        code, words, unit = "ST85", trouble, "times"
    elif (
        (ledger, parts[-1]) in OF_LINES and key[-1] != "directional_day"
    ) or ledger == "kickoff_trouble":
        code, words, unit = OF_LINES[ledger, parts[-1]]
    else:
        code, words, unit = OF_KEYS[str(key[-1])]
    if parts[0] == "fallback":
        words = f"{words}: {scenario.fallback[int(place)].name}"
    elif parts[0] == "rental":
        words = f"{scenario.rental[int(place)].tool}: {words}"
    else:
        place = ""
    return _About(code, slice_, words, unit, place)
