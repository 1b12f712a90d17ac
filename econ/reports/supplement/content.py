"""The AFE supplement: header, authority in two stages, options, costs by code, shares, checks.

It is quantity x price (`econ.reports.supplement.estimate`); nothing of the tree of outcomes is
worked out again. Every amount is a `Cell`: a value, and where it follows from others the formula
that recomputes it. `supplement(answer)` gives them all; the workbook writes the cells, the page
and the CSV files their values.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from econ.decision import Answer
from econ.decision.reply import reply
from econ.reports.supplement.cells import (
    Cell,
    absolute,
    any_of,
    below,
    block,
    least,
    over,
    sum_of,
    total,
    when,
)
from econ.reports.supplement.codes import Code
from econ.reports.supplement.costs import Costs, Item, costs
from econ.reports.supplement.estimate import Estimate, estimate
from econ.reports.supplement.options import (
    Option,
    RuleRow,
    Trouble,
    options,
    rule,
    serial,
    stages,
    trouble,
)
from econ.reports.supplement.shares import Shares, shares

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
    header: tuple[Item, ...]
    to_fill: tuple[Item, ...]
    stages: dict[str, Cell]
    options: tuple[Option, ...]
    rule: tuple[RuleRow, ...]
    costs: Costs
    shares: Shares
    risks: tuple[Risk, ...]
    further: Cell
    trouble: tuple[Trouble, ...]
    checks: tuple[Item, ...]
    codes: Mapping[str, Code]

    def __repr__(self) -> str:
        return f"Supplement({self.answer!r}, {len(self.estimate.lines)} lines)"

    def own_code(self, ours: str) -> str:
        """A company's code for one of ours, ours without one."""
        return self.codes[ours].theirs if ours in self.codes else ours


def supplement(answer: Answer, codes: Mapping[str, Code] | None = None) -> Supplement:
    """The supplement of an answer. codes: a company's own, from `read_codes`.

    >>> import econ
    >>> found = supplement(econ.answer(econ.load("scenarios/point/c_bit_cones.toml")))
    >>> found.header[0].words
    'Authority number'
    """
    parts = estimate(answer)
    stage = stages(answer, parts)
    risks = tuple(_risk(parts.spread) for _ in range(OWN_RISKS))
    further = Cell(total(block(risk.expected for risk in risks)))
    table = costs(answer, parts, further, codes or {})
    shared = shares(
        answer,
        {
            "stage_1_asked_for": stage["asked"],
            "stage_2_if_needed": stage["spending"],
            "expected_call": stage["expected_call"],
            "change_of_the_authority": table.total["change"],
            "revised_total": table.total["revised"],
        },
    )
    return Supplement(
        answer=answer,
        estimate=parts,
        header=_header(answer, parts),
        to_fill=tuple(
            Item(words, Cell(getattr(answer.scenario.afe, key, ""), is_input=True), "")
            for words, key in TO_FILL.items()
        ),
        stages=stage,
        options=options(answer),
        rule=rule(answer, stage),
        costs=table,
        shares=shared,
        risks=risks,
        further=further,
        trouble=trouble(parts, stage),
        checks=_checks(parts, stage, table, shared),
        codes=codes or {},
    )


def _risk(spread: Cell) -> Risk:
    words = Cell("", is_input=True)
    chance, days, charge = (Cell(0.0, is_input=True) for _ in range(3))
    return Risk(words, chance, days, charge, Cell(chance * (days * spread + charge)))


def _header(answer: Answer, parts: Estimate) -> tuple[Item, ...]:
    """Numbers, well, event, dates, and what a wait for a reply costs."""
    scenario = answer.scenario
    hour = Cell(parts.spread / 24, name="Waiting_hour")
    asked = reply(answer)
    on_all_days = asked.hours == asked.stated and asked.notice == answer.now
    hours = Cell(asked.stated, name="Response_hours", is_input=on_all_days)
    waiting = hours if on_all_days else Cell(asked.hours)
    operator = next((one.name for one in scenario.partner if one.operator), "not named")
    found = [
        Item("Authority number", Cell(scenario.afe.number or "not given"), ""),
        Item("Supplement number", Cell(float(scenario.afe.supplement)), "count"),
        Item("Well", Cell(scenario.job.well), ""),
        Item("Event", Cell(scenario.job.event or "not given"), ""),
        Item("Operator", Cell(operator), ""),
        Item("Currency", Cell(scenario.currency), "", short=True),
    ]
    if scenario.price_date is not None:
        found.append(Item("Date of the prices", Cell(serial(scenario.price_date)), "date"))
    start = None if answer.now is None else Cell(serial(answer.now))
    if start is not None:
        found.append(Item("Costs counted from", start, "moment"))
    found.append(Item("Hours that partners have to reply", hours, "h"))
    if not on_all_days:
        if asked.notice is not None and asked.notice != answer.now:
            found.append(Item("Partners asked at", Cell(serial(asked.notice)), "moment"))
        found.append(Item("Hours until that reply, rest days included", waiting, "h"))
        if asked.due is not None:
            found.append(Item("Reply wanted by", Cell(serial(asked.due)), "moment"))
    elif start is not None and not isinstance(start.value, str):
        found.append(Item("Reply wanted by", Cell(start + hours / 24), "moment"))
    with_fishing = Cell(hour + parts.fishing_day / 24)
    return (
        *found,
        Item("Spread for each hour of waiting", hour, "money"),
        Item("The same with fishing services on hire", with_fishing, "money"),
        Item("Spread while a vote is waited for", Cell(hour * waiting), "money"),
    )


def _checks(
    parts: Estimate,
    stage: Mapping[str, Cell],
    table: Costs,
    shared: Shares,
) -> tuple[Item, ...]:
    """What a reader should look at before signing, each in words."""
    sums = (stage["planned"], stage["expected_call"], table.total["revised"])
    moved = sum_of(absolute(cell - cell.number) for cell in sums)  # from what is written now
    slack = max(SAME_MONEY, SAME_SHARE * abs(table.total["revised"].number))
    changed = "CHANGED: options, percentiles and the limit are those of the issue"
    lowest = least(block(price.cell for price in parts.prices))
    quantities = [
        product.quantity
        for line in parts.lines
        for product in (line.planned, line.expected)
        if product is not None and product.quantity.is_input
    ]
    negative = below(lowest, 0.0)
    for quantity in dict.fromkeys(quantities):
        negative = any_of(negative, below(quantity, 0.0))
    return (
        Item("Inputs", Cell(when(over(moved, slack), changed, "as the program wrote them")), ""),
        Item("Prices and days", Cell(when(negative, "ONE IS BELOW 0", "none is below 0")), ""),
        Item("Working interests", shared.complete, ""),
        Item("Change against the trigger", table.triggered, ""),
    )
