"""The AFE supplement: header, what is asked for, options, costs by code, shares, checks.

It is quantity x price (`econ.reports.supplement.estimate`); nothing of the tree of outcomes is
worked out again. Every amount is a `Cell`: a value, and where it follows from others the formula
that recomputes it. `supplement(answer)` gives them all; the workbook writes the cells, the page
and the CSV files their values.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from econ.decision import Answer
from econ.decision.choices import Choice, choices, readings
from econ.decision.lost_pieces import LostPiece, lost_pieces
from econ.decision.other_odds import OtherOdds, other_odds
from econ.decision.reply import Reply, clock_of, reply
from econ.decision.sensitivity.break_even import BreakEven
from econ.reports.supplement.ask import Ask, Slice, ask, second_of, slices
from econ.reports.supplement.cells import (
    MOST,
    Bounds,
    Cell,
    Term,
    joined,
    sum_of,
    total,
    when,
)
from econ.reports.supplement.checks import Checks, checks
from econ.reports.supplement.codes import Code
from econ.reports.supplement.costs import Costs, Item, costs
from econ.reports.supplement.estimate import Estimate, estimate
from econ.reports.supplement.moments import LOCAL, in_words, moment_in_words, of_issue, serial
from econ.reports.supplement.shares import SUM_OF_ONE, Shares, shares

MINUTE = 1 / 1440  # [d]
OWN_RISKS = 4  # rows for further contingency entered by hand
SAME_MONEY = 0.005  # [currency] a sum that has moved by less has not been changed
SAME_SHARE = 1e-9  # the same as a share of the sum, for what a sheet loses by rounding
TO_FILL = {  # what stands beside the header, by its key under [afe]; none is filled in by hand
    "Block or lease": "block",
    "Rig": "rig",
    "Clause of the agreement": "clause",
    "Requested by": "requested_by",
    "Insurer told on": "",
    "Cash call wanted by": "",
}


@dataclass(frozen=True)
class Risk:
    """A further contingency, entered by hand: chance x (days x spread + charges)."""

    words: Cell
    chance: Cell
    days: Cell
    charge: Cell
    expected: Cell


@dataclass(frozen=True, repr=False)
class Supplement:
    """All tables of the supplement; the modules that make them say what is in each."""

    answer: Answer
    estimate: Estimate
    header: Mapping[str, Item]
    to_fill: tuple[Item, ...]
    ask: Ask
    costs: Costs
    shares: Shares
    risks: tuple[Risk, ...]
    by_hand: Cell
    price_contingency: Cell
    further: Cell
    checks: Checks
    changed: Cell
    codes: Mapping[str, Code]
    odds: tuple[OtherOdds, ...]
    choices: tuple[Choice, ...]
    lost: tuple[LostPiece, ...]

    def __repr__(self) -> str:
        return f"Supplement({self.answer!r}, {len(self.estimate.lines)} lines)"

    def own_code(self, ours: str) -> str:
        """A company's code for one of ours, ours without one."""
        return self.codes[ours].theirs if ours in self.codes else ours


def supplement(
    answer: Answer,
    codes: Mapping[str, Code] | None = None,
    flips: Sequence[BreakEven] | None = None,
) -> Supplement:
    """The supplement of an answer. codes: a company's own, from `read_codes`; flips: those of its
    sensitivity, if that is worked out.

    >>> import econ
    >>> found = supplement(econ.answer(econ.load("scenarios/point/c_bit_cones.toml")))
    >>> found.header["operator"].words
    'Operator'
    """
    parts = estimate(answer)
    found = slices(answer, parts)
    first, _, fallback = found
    second = second_of(found)
    risks = _risks(answer, parts.spread)
    by_hand = Cell(total(risk.expected for risk in risks))
    bounds = Bounds("price contingency", high=1.0)
    share = Cell(answer.scenario.afe.price_contingency, bounds, name="Price_contingency")
    further = Cell(by_hand + share * (first.planned + second.mean))
    table = costs(answer, parts, second, further, codes or {})
    made = risks[: len(readings(answer))]
    measured = (
        sum_of(each.chance * each.days for each in made),
        sum_of(each.expected for each in made),
    )
    asked = ask(answer, parts, found, table, by_hand, share, measured)
    shared = _shared(answer, asked, second, fallback)
    told = reply(answer)
    typed = Bounds("hours to reply", high=10_000.0) if _runs_on(answer, told) else None
    hours = Cell(told.stated, typed, name="Response_hours")
    typed_in = (parts.limits.limit, parts.prices, table, share, hours, risks, shared.partners)
    return Supplement(
        answer=answer,
        estimate=parts,
        header=_header(answer, parts, hours),
        to_fill=tuple(
            Item(words, Cell(getattr(answer.scenario.afe, key, ""), is_input=True))
            for words, key in TO_FILL.items()
        ),
        ask=asked,
        costs=table,
        shares=shared,
        risks=risks,
        by_hand=by_hand,
        price_contingency=share,
        further=further,
        checks=checks(typed_in, _others(table, shared)),
        changed=_changed(answer, parts, asked),
        codes=codes or {},
        odds=other_odds(answer, flips),
        choices=choices(answer),
        lost=lost_pieces(answer, parts.priced),
    )


def _shared(answer: Answer, asked: Ask, second: Slice, fallback: Slice) -> Shares:
    """The nets: sums so far are shared, and what is added to them is the difference."""
    slices_ = [cell for cell in asked.granted_of if cell is not None]
    means = asked.mean_of
    amounts: dict[str, Term] = {
        "asked": asked.granted.ask,
        "stage_1_asked_for": slices_[0],
        "slices": sum_of(slices_),
        "expected_1a": means[0],
        "expected_1": means[0] + means[1],
        "expected_call": sum_of(means),
        "revised_total": asked.granted.total,
    }
    of_fallback: dict[str, Term] = {}
    if second is fallback:
        of_fallback = dict.fromkeys(("asked", "slices", "revised_total"), slices_[1])
        of_fallback["expected_call"] = means[2]
    between = {
        "stage_2_if_needed": ("slices", "stage_1_asked_for"),
        "contingency": ("asked", "slices"),
        "expected_1b": ("expected_1", "expected_1a"),
        "expected_2": ("expected_call", "expected_1"),
    }
    return shares(answer, amounts, of_fallback, between)


def _begin(answer: Answer) -> float | str | None:
    """When costs are counted from, in the zone of the reply."""
    if answer.now is None:
        return None
    return serial(clock_of(answer.scenario).later(answer.now, 0.0))


def _runs_on(answer: Answer, told: Reply) -> bool:
    """Whether the hours to reply run from now on without a rest or a clock that is changed, so
    that another number of them may be typed."""
    if told.due is None:
        return True
    begin, due = _begin(answer), serial(told.due)
    if isinstance(begin, float) and isinstance(due, float):
        return not told.working and abs(begin + told.stated / 24 - due) < MINUTE
    return not told.working and told.notice == answer.now


def _risks(answer: Answer, spread: Cell) -> tuple[Risk, ...]:
    """A row for each reading that is made first or advised, then empty ones to be filled in."""
    rows = []
    hour = answer.prices.spread_day / 24
    for each in readings(answer):
        days = each.hours / 24
        charge = (each.price or 0.0) - each.hours * hour
        rows.append((f"Reading: {each.name}", 1.0, days, charge))
    rows += [("", 0.0, 0.0, 0.0)] * (OWN_RISKS - len(rows))
    found = []
    for number, (words, *numbers) in enumerate(rows, start=1):
        names = (f"{name} of contingency {number}" for name in ("chance", "days", "charges"))
        chance, days_, charged = (
            Cell(each, Bounds(name, high=high))
            for each, name, high in zip(numbers, names, (1.0, MOST, MOST), strict=True)
        )
        expected = Cell(chance * (days_ * spread + charged))
        found.append(Risk(Cell(words, is_input=True), chance, days_, charged, expected))
    return tuple(found)


def _header(answer: Answer, parts: Estimate, hours: Cell) -> dict[str, Item]:
    """Numbers, well, event, dates, and what a wait for a reply costs, by name."""
    scenario, told, begin = answer.scenario, reply(answer), _begin(answer)
    operator = next((one.name for one in scenario.partner if one.operator), "not named")
    found = {
        "authority": Item("Authority number", Cell(scenario.afe.number or "not given")),
        "supplement": Item("Supplement number", Cell(float(scenario.afe.supplement)), "count"),
        "well": Item("Well", Cell(scenario.job.well)),
        "event": Item("Event", Cell(scenario.job.event or "not given")),
        "operator": Item("Operator", Cell(operator)),
        "currency": Item("Currency", Cell(scenario.currency), "text"),
    }
    if scenario.price_date is not None:
        found["priced"] = Item("Date of the prices", Cell(serial(scenario.price_date)), "date")
    zone = f" ({told.zone or LOCAL})"
    due = None if told.due is None else Cell(f"{in_words(told.due)}{zone}")
    if begin is not None:
        found["begin"] = Item("Costs counted from", Cell(begin), "moment")
        if isinstance(begin, float) and hours.is_input:
            ends = moment_in_words(found["begin"].cell + hours / 24)
            due = Cell(joined([ends, zone]))
    if told.notice is not None and told.notice != answer.now:
        found["asked"] = Item("Partners asked at", Cell(f"{in_words(told.notice)}{zone}"))
    if due is not None:
        found["reply"] = Item("Reply wanted by", due)
    days = ", which run on working days alone" if told.working and due is not None else ""
    hour = Cell(parts.spread / 24, name="Waiting_hour")
    fishing = Cell(hour + parts.fishing_day / 24)
    waiting = Cell(hour * (hours if hours.is_input else told.from_now))
    return found | {
        "hours": Item(f"Hours that partners have to reply{days}", hours, "h"),
        "hour": Item("Spread for each hour of waiting", hour, "cents"),
        "fishing_hour": Item("The same with fishing services on hire", fishing, "cents"),
        "waiting": Item("Spread while the reply is waited for", waiting, "money"),
    }


def _changed(answer: Answer, parts: Estimate, asked: Ask) -> Cell:
    """Whether a sum is another one than that of the issue, in words."""
    sums = (asked.granted.total, asked.expected_call, total(parts.limits.cost))
    moved = sum_of(abs(cell - cell.number) for cell in sums)  # from what is written now
    slack = max(SAME_MONEY, SAME_SHARE * abs(asked.granted.total.number))
    changed = f"CHANGED: percentiles, options and dates are those {of_issue(answer)}"
    return Cell(when(moved > slack, changed, "as issued"))


def _others(table: Costs, shared: Shares) -> list[tuple[str, Term]]:
    """Checks besides those of one cell: the interests, and what is committed."""
    others = []
    if shared.partners:
        whole = abs(shared.interests - 1) < SUM_OF_ONE
        others.append(("the interests", when(whole, "", "do not sum to 100 %")))
    for line in table.lines:
        committed, to_come = line.amounts["committed"], line.amounts["to_come"]
        if committed.is_input:
            too_much = committed > to_come + SAME_MONEY
            others.append(
                (f"committed of {line.ours}", when(too_much, "is over what is to come", ""))
            )
    return others
