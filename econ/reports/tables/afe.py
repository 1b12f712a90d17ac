"""The AFE supplement: header, authority in two stages, options, costs by code, shares, checks.

Every amount is a `Cell`: a value, and where it follows from others the formula that recomputes
it. `supplement(answer)` gives them all; the workbook writes the cells, the page and the CSV
files their values.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from econ.decision import Answer
from econ.decision.detail.paths import Paths, paths
from econ.reports.tables.afe_codes import Code
from econ.reports.tables.afe_costs import Costs, costs
from econ.reports.tables.afe_inputs import Inputs, Item, inputs
from econ.reports.tables.afe_lines import Split, split
from econ.reports.tables.afe_model import Model, model
from econ.reports.tables.afe_options import (
    Option,
    RuleRow,
    Trouble,
    options,
    percentiles,
    rule,
    serial,
    stages,
    trouble,
)
from econ.reports.tables.afe_shares import Shares, shares
from econ.reports.tables.formula import (
    Block,
    Cell,
    absolute,
    below,
    block,
    least,
    over,
    place_of,
    sum_of,
    total,
    when,
)

OWN_RISKS = 4  # rows for further contingency entered by hand
SAME_MONEY = 0.005  # [currency] a sum that has moved by less has not been changed
SAME_SHARE = 1e-9  # the same as a share of the sum, for what a sheet loses by rounding
TO_FILL = (
    "Block or lease",
    "Rig",
    "Clause of the agreement",
    "Requested by",
    "Insurer told on",
    "Cash call wanted by",
)


@dataclass(frozen=True)
class Risk:
    """A further contingency, entered by hand: chance x (days x spread + charges)."""

    words: Cell
    chance: Cell
    days: Cell
    charge: Cell
    expected: Cell


@dataclass(frozen=True)
class Supplement:
    """All tables of the supplement; the modules that make them say what is in each."""

    answer: Answer
    means: Paths
    given: Inputs
    model: Model
    split: Split
    header: tuple[Item, ...]
    to_fill: tuple[Item, ...]
    stages: dict[str, Cell]
    percentiles: tuple[dict[str, Cell], ...]
    options: tuple[Option, ...]
    rule: tuple[RuleRow, ...]
    costs: Costs
    shares: Shares
    risks: tuple[Risk, ...]
    further: Cell
    trouble: tuple[Trouble, ...]
    written: dict[str, Cell]
    checks: tuple[Item, ...]
    codes: Mapping[str, Code]


def supplement(answer: Answer, codes: Mapping[str, Code] | None = None) -> Supplement:
    """The supplement of an answer. codes: a company's own, from `read_codes`."""
    means = paths(answer.scenario, answer.log)
    given = inputs(answer, means)
    found = model(answer, means, given)
    parts = split(answer, means, given, found)
    stage = stages(answer, found, parts)
    risks = tuple(_risk(given.spread) for _ in range(OWN_RISKS))
    further = Cell(total(block(risk.expected for risk in risks)))
    table = costs(answer, parts, further, codes or {})
    held = percentiles(answer)
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
    written = _written(found, table)
    return Supplement(
        answer=answer,
        means=means,
        given=given,
        model=found,
        split=parts,
        header=_header(answer, given),
        to_fill=tuple(Item(words, Cell("", is_input=True), "") for words in TO_FILL),
        stages=stage,
        percentiles=held,
        options=options(answer, found, held),
        rule=rule(answer, found, stage),
        costs=table,
        shares=shared,
        risks=risks,
        further=further,
        trouble=trouble(given, found, parts),
        written=written,
        checks=_checks(answer, given, found, table, shared, written),
        codes=codes or {},
    )


def _risk(spread: Cell) -> Risk:
    words = Cell("", is_input=True)
    chance, days, charge = (Cell(0.0, is_input=True) for _ in range(3))
    return Risk(words, chance, days, charge, Cell(chance * (days * spread + charge)))


def _header(answer: Answer, given: Inputs) -> tuple[Item, ...]:
    """Numbers, well, event, dates, and what a wait for a reply costs."""
    scenario = answer.scenario
    hour = Cell(given.spread / 24, name="Waiting_hour")
    hours = Cell(answer.authority.response_hours, name="Response_hours", is_input=True)
    operator = next((each.name for each in scenario.partner if each.operator), "not named")
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
    if start is not None and not isinstance(start.value, str):
        found.append(Item("Reply wanted by", Cell(start + hours / 24), "moment"))
    with_fishing = Cell(hour + given.fishing_day / 24)
    return (
        *found,
        Item("Spread for each hour of waiting", hour, "money"),
        Item("The same with fishing services on hire", with_fishing, "money"),
        Item("Spread while a vote is waited for", Cell(hour * hours), "money"),
    )


def _written(found: Model, table: Costs) -> dict[str, Cell]:
    """Sums as the program wrote them, to tell whether an input has been changed."""
    costs_of_limits = sum_of([total(found.column("expected_cost"))])
    return {
        "limits": Cell(costs_of_limits.value),
        "revised": Cell(table.total["revised"].value),
        "asked": Cell(found.asked.value),
    }


def _checks(
    answer: Answer,
    given: Inputs,
    found: Model,
    table: Costs,
    shared: Shares,
    written: dict[str, Cell],
) -> tuple[Item, ...]:
    """What a reader should look at before signing, each in words."""
    made = len(answer.log)
    least_runs = min(max(0, answer.scenario.minimum_runs - made), len(found.limits) - 1)
    allowed = block(row["expected_cost"] for row in found.limits[least_runs:])
    cheapest = Cell(place_of(least(allowed), allowed) + (least_runs - 1))
    moved = sum_of(
        absolute(now - then)
        for now, then in (
            (total(found.column("expected_cost")), written["limits"]),
            (table.total["revised"], written["revised"]),
            (found.asked, written["asked"]),
        )
    )
    slack = max(SAME_MONEY, SAME_SHARE * abs(written["limits"].number))
    items = [
        Item("Cheapest limit by these inputs, in runs", cheapest, "count"),
        Item(
            "Limit asked for",
            Cell(
                when(
                    below(absolute(found.asked - cheapest), 0.5),
                    "the cheapest",
                    "NOT THE CHEAPEST by these inputs",
                )
            ),
            "",
        ),
        Item(
            "Inputs",
            Cell(
                when(
                    over(moved, slack),
                    "CHANGED: percentiles are those of the inputs as first written",
                    "as the program wrote them",
                )
            ),
            "",
        ),
        Item("Working interests", shared.complete, ""),
        Item("Change against the trigger", table.triggered, ""),
    ]
    nothing = [odds["nothing"] for run in given.runs for odds in run.odds]
    if nothing:
        least_left = least(Block(tuple(nothing)))
        words = when(below(least_left, 0.0), "ODDS OF A RUN SUM TO MORE THAN 100 %", "sum to 100 %")
        items.append(Item("Odds of the runs", Cell(words), ""))
    return tuple(items)
