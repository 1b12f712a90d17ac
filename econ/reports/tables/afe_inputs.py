"""The inputs of an AFE supplement: every amount that a reader may change, as a cell.

Amounts are those of the file, each range by its mean. What the engine works out from depths
and speeds (hours of a run from the present fish top, hours of each item of a sidetrack) is an
input here in its own right: a sheet does not trip pipe.
"""

from __future__ import annotations

from dataclasses import dataclass

from econ.decision import Answer
from econ.decision.detail.paths import Paths
from econ.decision.detail.places import FallbackMeans
from econ.reports.tables.formula import (
    Cell,
    Term,
    block,
    sum_of,
    to_digits,
    total,
    when,
)
from econ.reports.tables.formula import over as is_over
from econ.scenario.distributions import Distribution
from econ.scenario.program import OUTCOMES

STATED = [name for name in OUTCOMES if name != "nothing"]  # `nothing` is what is left of 1
DIGITS = 12  # of odds: what a sum of six misses by is below that

HOUR_ITEMS = {
    "stinger_in_and_condition": "Stinger in, condition",
    "plugs": "Set the plugs",
    "out_and_lay_down_stinger": "Out, lay down stinger",
    "woc_beyond_trips": "Wait on cement beyond trips",
    "assembly_in": "Kick-off assembly in",
    "dress": "Dress the plug",
    "kickoff": "Kick off",
    "redrill": "Redrill",
    "bit_trips": "Bit trips",
    "logging": "Log and survey again",
    "hours": "All hours",
}
AMOUNTS = {
    "retry_hours": ("One more kick-off", "h"),
    "directional_day": ("Directional services, besides the spread", "/d"),
    "plugs": ("Plugs set before the kick-off", "count"),
    "plug_cost": ("Materials and pumping of one plug", "each"),
    "kickoff_failure": ("Chance that a kick-off fails", "%"),
    "bit_cost": ("One bit", "each"),
    "mobilization": ("Mobilization of the directional crew", "once"),
    "logging_cost": ("Logging again", "once"),
    "other_cost": ("Permits and the like", "once"),
    "cost": ("Cost besides the spread", "once"),
    "value_given_up": ("Value of the well given up, not spent", "once"),
    "lost_in_hole_share": ("Share owed of what is lost in the hole", "%"),
    "stick_again.chance": ("Chance of sticking again", "%"),
    "stick_again.cost": ("Cost of sticking again", "each"),
    "trouble.chance": ("Chance of trouble", "%"),
    "trouble.cost": ("Cost of the trouble", "each"),
    "whipstock.after": ("Failed kick-offs before a whipstock", "count"),
    "whipstock.hours": ("One attempt with the whipstock", "h"),
    "whipstock.cost": ("Tool and services of an attempt", "each"),
    "whipstock.failure": ("Chance that an attempt fails", "%"),
}


@dataclass(frozen=True)
class Item:
    """A line of a sheet: words, a cell, its unit (h, d, %, /d, each, once, count, ratio).

    short: words in the cell that need no line of their own.
    """

    words: str
    cell: Cell
    unit: str
    note: str = ""
    short: bool = False


@dataclass(frozen=True)
class RunInputs:
    """A run: its cells; odds: of each kind, by outcome, `nothing` a formula."""

    number: int
    name: str
    hours: Cell
    charge: Cell
    rented: Cell
    string_value: Cell
    odds: tuple[dict[str, Cell], ...]
    dresses_top: bool


@dataclass(frozen=True)
class FallbackInputs:
    """A fallback: its cells by key; hours: those of the items."""

    name: str
    sidetrack: bool
    hours: tuple[Item, ...]
    amounts: dict[str, Item]

    def __getitem__(self, key: str) -> Cell:
        return self.amounts[key].cell


@dataclass(frozen=True)
class PieceInputs:
    """A piece of the fish: name, length in the unit of the file, what is owed for it."""

    name: str
    length: float
    owed: Cell
    new: Cell | None = None
    written_off: Cell | None = None
    floor: Cell | None = None


@dataclass(frozen=True)
class Inputs:
    """All inputs of the supplement; `spread` and `fishing_day` are sums of the rates."""

    rates: tuple[Item, ...]
    fishing_rates: tuple[Item, ...]
    spread: Cell
    fishing_day: Cell
    single: dict[str, Item]
    belief: tuple[Cell, ...]
    runs: tuple[RunInputs, ...]
    fallbacks: tuple[FallbackInputs, ...]
    pieces: tuple[PieceInputs, ...]
    kinds: tuple[str, ...]

    def __getitem__(self, key: str) -> Cell:
        return self.single[key].cell


def inputs(answer: Answer, means: Paths) -> Inputs:
    """The cells of a scenario."""
    scenario = answer.scenario
    kinds = ("workable", "stubborn") if len(means.prior) > 1 else ("",)
    rates = [
        Item(name.replace("_", " "), _given(value), "/d", _range(scenario.rates[name]))
        for name, value in means.rates.items()
    ]
    services = scenario.fishing.day_rates
    fishing = [
        Item(name.replace("_", " "), _given(value), "/d", _range(services[name]))
        for name, value in means.fishing_rates.items()
    ]
    single = _single(answer, means)
    return Inputs(
        rates=tuple(rates),
        fishing_rates=tuple(fishing),
        spread=Cell(total(block(each.cell for each in rates)), name="Spread"),
        fishing_day=Cell(
            total(block(each.cell for each in fishing)) if fishing else 0.0, name="Fishing_day"
        ),
        single=single,
        belief=_belief(means, single),
        runs=tuple(_run(answer, means, place) for place in range(len(means.runs))),
        fallbacks=tuple(
            _fallback(answer, number, each) for number, each in enumerate(means.fallbacks)
        ),
        pieces=tuple(_piece(answer, means, number) for number in range(len(means.pieces))),
        kinds=kinds,
    )


def _given(value: float, name: str | None = None) -> Cell:
    return Cell(value, name=name, is_input=True)


def _range(amount: object) -> str:
    """Says that a mean stands for a range."""
    return f"mean of a {amount.name} range" if isinstance(amount, Distribution) else ""


def _single(answer: Answer, means: Paths) -> dict[str, Item]:
    """Amounts that stand alone, by key."""
    scenario, amounts = answer.scenario, means.amounts
    fishing, recovery, common = scenario.fishing, scenario.recovery, scenario.common
    found = {
        "mobilization": Item(
            "Mobilization of fishing tools, once if any run is made",
            _given(amounts["fishing.mobilization"], "Mobilization"),
            "once",
            "paid before the log ends" if means.logged else _range(fishing.mobilization),
        ),
        "recovery_hours": Item(
            "Work after the fish is out",
            _given(amounts["recovery.hours"], "Recovery_hours"),
            "h",
            _range(recovery.hours),
        ),
        "recovery_charge": Item(
            "Its charges",
            _given(amounts["recovery.charge"], "Recovery_charge"),
            "once",
            _range(recovery.charge),
        ),
        "recovery_share": Item(
            "Share of the fishing day still paid then",
            _given(amounts["recovery.fishing_share"], "Recovery_share"),
            "%",
            _range(recovery.fishing_share),
        ),
        "common_hours": Item(
            "Owed on every branch first",
            _given(amounts["common.hours"], "Common_hours"),
            "h",
            _range(common.hours),
        ),
        "common_cost": Item(
            "Its cost besides the spread",
            _given(amounts["common.cost"], "Common_cost"),
            "once",
            _range(common.cost),
        ),
        "damaged_top_factor": Item(
            "Share of its odds of recovery that a run keeps on a damaged top",
            _given(amounts["fishing.damaged_top_factor"], "Damaged_top_factor"),
            "%",
            _range(fishing.damaged_top_factor),
        ),
        "hole_lost_share": Item(
            "Share of the string owed if the hole is lost",
            _given(amounts["fishing.hole_lost_string_share"], "Hole_lost_share"),
            "%",
            _range(fishing.hole_lost_string_share),
        ),
    }
    if len(means.prior) > 1:
        note = "before the runs in the log" if means.logged else _range(fishing.workable)
        cell = _given(means.prior[0], "Workable")
        found["workable"] = Item("Chance that the fish is workable", cell, "%", note)
    for key, words in (
        ("odds_ratio_per_day", "Factor a day on the odds p/(1-p) of recovery"),
        ("loss_odds_ratio_per_day", "Factor a day on the odds of losing string or hole"),
    ):
        amount = getattr(fishing, key)
        if amount != 1.0:
            cell = _given(amounts[f"fishing.{key}"], key.capitalize())
            found[key] = Item(words, cell, "ratio", _range(amount))
    if means.rentals:
        owed = _given(means.owed, "Tools_held")
        found["owed"] = Item("Owed for rented tools on location already", owed, "once")
    return found


def _belief(means: Paths, single: dict[str, Item]) -> tuple[Cell, ...]:
    """Chance of each kind now: the prior, and after a log what its runs make of it."""
    if len(means.prior) == 1:
        return (Cell(1.0),)
    prior = single["workable"].cell
    if not means.logged:
        workable = Cell(prior, name="Workable_now")
    else:
        # Bayes' rule with the chance that each kind gave to the runs logged.
        first, second = means.likelihoods
        workable = Cell(prior * first / (prior * first + (1 - prior) * second), name="Workable_now")
    return workable, Cell(1 - workable)


def _run(answer: Answer, means: Paths, place: int) -> RunInputs:
    each = means.runs[place]
    odds = []
    for values in each.odds:
        stated = dict(zip(OUTCOMES, values, strict=True))
        cells = {name: _given(stated[name]) for name in STATED}
        left = 1 - sum_of(cells.values())
        cells["nothing"] = Cell(to_digits(left, DIGITS))
        odds.append(cells)
    return RunInputs(
        number=each.run + 1,
        name=answer.scenario.run[each.run].name,
        hours=_given(each.hours),
        charge=_given(each.charge),
        rented=_given(each.rented),
        string_value=_given(each.string_value),
        odds=tuple(odds),
        dresses_top=each.dresses_top,
    )


def _fallback(answer: Answer, number: int, means: FallbackMeans) -> FallbackInputs:
    section = answer.scenario.fallback[number]
    amounts = {}
    for key, value in means.amounts.items():
        words, unit = AMOUNTS[key]
        source: object = section
        for name in key.split("."):
            source = getattr(source, name, None)
        amounts[key] = Item(words, _given(value), unit, _range(source))
    return FallbackInputs(
        name=means.name,
        sidetrack=means.sidetrack,
        hours=tuple(
            Item(HOUR_ITEMS[key], _given(value), "h") for key, value in means.hours.items()
        ),
        amounts=amounts,
    )


def _piece(answer: Answer, means: Paths, number: int) -> PieceInputs:
    """A piece; depreciation takes off the price new, not below the floor."""
    piece, found = answer.scenario.fish.piece[number], means.pieces[number]
    if "value" in found:
        return PieceInputs(piece.name, piece.length, _given(found["value"]))
    new, off, floor = (_given(found[key]) for key in ("replacement", "depreciation", "floor"))
    kept = 1 - off
    share: Term = when(is_over(kept, floor), kept, floor)
    return PieceInputs(piece.name, piece.length, Cell(new * share), new, off, floor)
