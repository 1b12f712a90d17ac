"""The cost table of an AFE supplement: by code, what was approved, is spent and is forecast.

    approved = original + earlier supplements
    revised  = spent + to come without trouble + forecast of trouble (mean)
    change   = revised - approved,  percent over = change / approved

A line of contingency that has nothing to come is so released by the supplement.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

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

COLUMNS = ("original", "earlier", "approved", "spent", "to_come", "trouble", "revised", "change")
CONTINGENCY = "CT"  # family of codes
GROUPS = {"fishing": ("fishing", "recovery"), "fallback": ("fallback",)}  # slices by stage
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
    whether it is over the trigger (1 or 0). group: file, log, fishing, fallback, further."""

    code: str
    ours: str
    words: str
    kind: Cell
    group: str
    amounts: dict[str, Cell]
    percent: Cell
    over_trigger: Cell


@dataclass(frozen=True)
class Costs:
    """The lines, the totals of all, of each kind and of the trouble, and the trigger."""

    lines: tuple[Line, ...]
    total: dict[str, Cell]
    percent: Cell
    by_kind: dict[str, dict[str, Cell]]
    trouble: dict[str, Cell]
    released: Cell
    trigger_percent: Cell
    trigger_basis: Cell
    trigger_amount: Cell
    triggered: Cell
    below_the_line: tuple[Item, ...]

    def column(self, name: str) -> Block:
        """A column of the lines."""
        return block(line.amounts[name] for line in self.lines)


def costs(answer: Answer, parts: Estimate, further: Cell, codes: Mapping[str, Code]) -> Costs:
    """The table of a scenario with the forecast of trouble in it."""
    afe = answer.scenario.afe
    percent = Cell(afe.trigger_percent / 100, name="Trigger_percent", is_input=True)
    basis = Cell(afe.trigger_basis, name="Trigger_basis", is_input=True)
    amount = Cell(0.0, name="Trigger_amount", is_input=True)
    lines = [
        _line(
            each.code,
            each.name,
            "file",
            codes,
            percent,
            kind=KINDS[each.tangible],
            original=each.original,
            spent=each.spent,
            to_come=each.to_come,
        )
        for each in afe.line
    ]
    if answer.log:
        words = TROUBLE["FS00"]
        lines.append(_line("FS00", words, "log", codes, percent, spent=answer.spent))
    codes_of = {
        group: {line.code.value for line in parts.lines if line.slice.value in slices}
        for group, slices in GROUPS.items()
    }
    lines += [
        _line(code, words, group, codes, percent, trouble=parts.of_code(code))
        for group, used in codes_of.items()
        for code, words in TROUBLE.items()
        if code in used
    ]
    lines.append(_line("CT20", TROUBLE["CT20"], "further", codes, percent, trouble=further))
    totals = {name: Cell(total(_column(lines, name))) for name in COLUMNS}
    share = Cell(_percent(totals))
    kinds = block(line.kind for line in lines)
    released = [
        line.amounts["approved"] - line.amounts["spent"] - line.amounts["to_come"]
        for line in lines
        if line.group == "file" and line.ours.startswith(CONTINGENCY)
    ]
    return Costs(
        lines=tuple(lines),
        total=totals,
        percent=share,
        by_kind={
            kind: {name: Cell(sum_where(kinds, kind, _column(lines, name))) for name in COLUMNS}
            for kind in KINDS
        },
        trouble={
            group: Cell(total(_column([each for each in lines if each.group == group], "trouble")))
            for group in ("fishing", "fallback")
        },
        released=Cell(sum_of(released)),
        trigger_percent=percent,
        trigger_basis=basis,
        trigger_amount=amount,
        triggered=Cell(_triggered(lines, totals, percent, basis, amount)),
        below_the_line=_below(answer),
    )


def _line(
    code: str,
    words: str,
    group: str,
    codes: Mapping[str, Code],
    trigger: Cell,
    *,
    kind: str = KINDS[0],
    original: float = 0.0,
    spent: float = 0.0,
    to_come: float = 0.0,
    trouble: Term | float = 0.0,
) -> Line:
    """A line with its formulas; what the file gives may be changed."""
    theirs = codes.get(code)
    editable = group == "file"
    amounts = {
        "original": Cell(original, is_input=editable),
        "earlier": Cell(0.0, is_input=True),
        "spent": Cell(spent, is_input=True),
        "to_come": Cell(to_come, is_input=True),
        "trouble": Cell(trouble),
    }
    amounts["approved"] = Cell(amounts["original"] + amounts["earlier"])
    amounts["revised"] = Cell(amounts["spent"] + amounts["to_come"] + amounts["trouble"])
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
