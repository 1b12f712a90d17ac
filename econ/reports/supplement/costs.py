"""The cost table of an AFE supplement: by code, what was approved, is spent and is forecast.

    approved = original + earlier supplements
    revised  = spent + to come - what lapses + slices granted + contingency of this supplement
    change   = revised - approved,  percent over = change / approved

The slices granted are 1a if every run fails, and the mean of 2 where it is drawn, by line in whole
units that add up (`rounding`). To come and not committed lapses by the chance of the fallbacks that
make it needless, where one is drawn; so do whole units of it.

A line of contingency that has nothing to come is so released by the supplement.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Any

from econ.decision import Answer
from econ.reports.supplement.cells import (
    Block,
    Cell,
    Term,
    any_of,
    below,
    block,
    over,
    same,
    sum_of,
    sum_where,
    total,
    when,
)
from econ.reports.supplement.codes import TROUBLE, Code
from econ.reports.supplement.estimate import Estimate
from econ.reports.supplement.rounding import Whole, to_decimals, whole
from econ.scenario.paperwork import Afe

if TYPE_CHECKING:
    from econ.reports.supplement.ask import Slice

COLUMNS = (
    *("original", "earlier", "approved", "spent", "to_come", "committed", "lapses"),
    *("fishing", "then", "revised", "change"),
)
CONTINGENCY = "CT"  # family of codes
KINDS = ("intangible", "tangible")


@dataclass(frozen=True)
class Item:
    """Words, a cell and its kind: h, d, %, count, money, date, moment, or none for text.

    short: words in the cell that need no line of their own.
    """

    words: str
    cell: Cell
    unit: str
    short: bool = False


@dataclass(frozen=True)
class Line:
    """A line: code and words as shown, our own code, kind, amounts by column, percent over, and
    whether it is over the trigger (1 or 0). group: file, earlier, log, fishing, then, further;
    reference: contract or price list behind it."""

    code: str
    ours: str
    words: str
    kind: Cell
    group: str
    amounts: dict[str, Cell]
    percent: Cell
    over_trigger: Cell
    reference: str = ""


@dataclass(frozen=True)
class Costs:
    """The lines, the totals of all and of each kind, and the trigger; earlier: number and date of
    the supplements approved before."""

    lines: tuple[Line, ...]
    total: dict[str, Cell]
    percent: Cell
    by_kind: dict[str, dict[str, Cell]]
    earlier: tuple[tuple[int, date], ...]
    released: Term
    trigger_percent: Cell
    trigger_basis: Cell
    trigger_amount: Cell
    triggered: Cell
    below_the_line: tuple[Item, ...]
    rounded: tuple[Whole, Whole]  # by line, of slice 1a and of the other that is granted

    def column(self, name: str) -> Block:
        """A column of the lines."""
        return block(line.amounts[name] for line in self.lines)


def costs(
    answer: Answer,
    parts: Estimate,
    second: Slice,
    further: Cell,
    codes: Mapping[str, Code],
) -> Costs:
    """The table of a scenario with the slices granted in it. second: the one beside 1a; further:
    contingency of this supplement."""
    afe = answer.scenario.afe
    percent = Cell(afe.trigger_percent / 100, name="Trigger_percent", is_input=True)
    basis = Cell(afe.trigger_basis, name="Trigger_basis", is_input=True)
    amount = Cell(afe.trigger_amount or 0.0, name="Trigger_amount", is_input=True)
    earlier = {code: sum(more for _, more in afe.earlier_on(code)) for code in _codes(afe)}

    def line(code: str, words: str, group: str, **more: Any) -> Line:
        before = earlier.pop(code, 0.0)
        return _line(code, words, group, codes, percent, earlier=before, **more)

    drawn = second.chance
    lines = [
        line(
            each.code,
            each.name,
            "file",
            kind=KINDS[each.tangible],
            original=each.original,
            spent=each.spent,
            to_come=each.to_come,
            committed=each.committed,
            lapsing=_lapsing(each.lapses_under, parts, drawn),
            reference=each.reference,
        )
        for each in afe.line
    ]
    if answer.log:
        lines.append(line("FS00", TROUBLE["FS00"], "log", spent=answer.spent))
    rounded = []
    for group, slice_ in (("fishing", "1a"), ("then", second.name)):
        used = {row.code.value for row in parts.lines if row.slice.value == slice_}
        own = [code for code in TROUBLE if code in used]
        forecasts = [parts.of_code(code, slice_, planned=group == "fishing") for code in own]
        if group == "then":
            forecasts = [when(over(drawn, 0.0), each / drawn, 0.0) for each in forecasts]
        rounded.append(whole(forecasts))
        for code, shown in zip(own, rounded[-1].shown, strict=True):
            reference = parts.reference(code)
            lines.append(line(code, TROUBLE[code], group, reference=reference, **{group: shown}))
    lines += [line(code, TROUBLE.get(code, code), "earlier") for code in list(earlier)]
    lines.append(line("CT20", TROUBLE["CT20"], "further", then=to_decimals(further, 0)))
    totals = {name: Cell(total(_column(lines, name))) for name in COLUMNS}
    kinds = block(line.kind for line in lines)
    released = [
        line.amounts["approved"] - line.amounts["spent"] - line.amounts["to_come"]
        for line in lines
        if line.group == "file" and line.ours.startswith(CONTINGENCY)
    ]
    return Costs(
        lines=tuple(lines),
        total=totals,
        percent=Cell(_percent(totals)),
        by_kind={
            kind: {name: Cell(sum_where(kinds, kind, _column(lines, name))) for name in COLUMNS}
            for kind in KINDS
        },
        earlier=tuple((each.supplement, each.date) for each in afe.earlier),
        released=sum_of(released),
        trigger_percent=percent,
        trigger_basis=basis,
        trigger_amount=amount,
        triggered=Cell(_triggered(lines, totals, percent, basis, amount)),
        below_the_line=_below(answer),
        rounded=(rounded[0], rounded[1]),
    )


def _codes(afe: Afe) -> list[str]:
    """Codes that an earlier supplement changed, each once."""
    return list(dict.fromkeys(code for each in afe.earlier for code in each.amounts))


def _lapsing(numbers: Sequence[int], parts: Estimate, drawn: Cell) -> Term | None:
    """The chance that one of some fallbacks (from 1) is taken, where slice 2 is drawn."""
    if not numbers:
        return None
    taken = sum_of(parts.limits.at(f"taken {number - 1}") for number in numbers)
    return when(over(drawn, 0.0), taken / drawn, 0.0)


def _line(
    code: str,
    words: str,
    group: str,
    codes: Mapping[str, Code],
    trigger: Cell,
    *,
    kind: str = KINDS[0],
    original: float = 0.0,
    earlier: float = 0.0,
    spent: float = 0.0,
    to_come: float = 0.0,
    committed: float = 0.0,
    lapsing: Term | None = None,
    fishing: Term | float = 0.0,
    then: Term | float = 0.0,
    reference: str = "",
) -> Line:
    """A line with its formulas; what the file gives may be changed."""
    theirs = codes.get(code)
    editable = group == "file"
    amounts = {
        "original": Cell(original, is_input=editable),
        "earlier": Cell(earlier, is_input=True),
        "spent": Cell(spent, is_input=True),
        "to_come": Cell(to_come, is_input=True),
        "committed": Cell(committed, is_input=True),
        "fishing": fishing if isinstance(fishing, Cell) else Cell(fishing),
        "then": then if isinstance(then, Cell) else Cell(then),
    }
    free = amounts["to_come"] - amounts["committed"]
    amounts["lapses"] = Cell(0.0 if lapsing is None else to_decimals(free * lapsing, 0))
    amounts["approved"] = Cell(amounts["original"] + amounts["earlier"])
    rest = amounts["spent"] + amounts["to_come"] - amounts["lapses"]
    amounts["revised"] = Cell(rest + amounts["fishing"] + amounts["then"])
    amounts["change"] = Cell(amounts["revised"] - amounts["approved"])
    beyond = over(amounts["change"] / amounts["approved"], trigger)
    return Line(
        code=code if theirs is None else theirs.theirs,
        ours=code,
        words=theirs.description if theirs and theirs.description else words,
        kind=Cell(kind, is_input=editable),
        group=group,
        amounts=amounts,
        percent=Cell(_percent(amounts)),
        over_trigger=Cell(
            when(
                over(amounts["approved"], 0.0),
                when(beyond, 1.0, 0.0),
                when(over(amounts["revised"], 0.0), 1.0, 0.0),
            )
        ),
        reference=reference,
    )


def _percent(amounts: Mapping[str, Cell]) -> Term:
    """Percent over what was approved; `new` where nothing was."""
    none = when(over(amounts["revised"], 0.0), "new", "")
    return when(over(amounts["approved"], 0.0), amounts["change"] / amounts["approved"], none)


def _triggered(
    lines: Sequence[Line], totals: Mapping[str, Cell], percent: Cell, basis: Cell, amount: Cell
) -> Term:
    """Whether the trigger calls for a supplement, in words."""
    by_total = when(
        over(totals["approved"], 0.0),
        over(totals["change"] / totals["approved"], percent),
        over(totals["revised"], 0.0),
    )
    by_line = over(total(block(line.over_trigger for line in lines)), 0.0)
    # An amount of 0 stands for none.
    by_amount = when(over(amount, 0.0), over(totals["change"], amount), below(amount, 0.0))
    beyond = any_of(when(same(basis, "line"), by_line, by_total), by_amount)
    return when(beyond, "over the trigger", "within the trigger")


def _below(answer: Answer) -> tuple[Item, ...]:
    """What a policy may pay back; in no total."""
    policy = answer.scenario.insurance
    if policy.chance == 0 or policy.amount == 0:
        return ()
    chance, amount = Cell(policy.chance, is_input=True), Cell(policy.amount, is_input=True)
    return (
        Item("Chance that the claim is paid", chance, "%"),
        Item("Amount if it is paid", amount, "money"),
        Item("CL10 insurance, expected, in no total", Cell(chance * amount), "money"),
    )


def _column(lines: Sequence[Line], name: str) -> Block:
    return block(line.amounts[name] for line in lines)
