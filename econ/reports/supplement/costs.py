"""The cost table of an AFE supplement: by code, what was approved, is spent and is forecast.

    approved = original + earlier supplements
    revised  = spent + to come - what lapses + asked
    change   = revised - approved,  percent over = change / approved

Asked are the slices granted, 1a if every run fails and the mean of 2 where it is drawn, and the
contingency of this supplement, by line in whole units that add up (`cells.whole`). To come and not
committed lapses by the chance of the fallbacks that make it needless, where one is drawn; so do
whole units of it.

A line of contingency that has nothing to come is so released by the supplement.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from econ.decision import Answer
from econ.reports.supplement.cells import (
    MOST,
    Bounds,
    Cell,
    Term,
    quotient,
    same,
    sum_of,
    sum_where,
    to_decimals,
    total,
    when,
    whole,
)
from econ.reports.supplement.codes import TROUBLE, Code
from econ.reports.supplement.estimate import Estimate

if TYPE_CHECKING:
    from econ.reports.supplement.ask import Slice

COLUMNS = {  # with their heads
    "original": "Original",
    "earlier": "Earlier suppl.",
    "approved": "Approved to date",
    "spent": "Invoiced to date",
    "to_come": "Still to come",
    "committed": "Of it committed",
    "lapses": "Of it lapses",
    "asked": "Asked for",
    "revised": "Revised total",
    "change": "Change",
}
TYPED = ("original", "earlier", "spent", "to_come", "committed")
OVER, WITHIN = "over the trigger", "within the trigger"
FILE = "approved"  # the part of the lines of the file
SO_FAR = "so far"  # of what the run log has spent
LAPSING = {
    True: "to come and not committed, made needless by the fallback",
    False: "nothing: the operator names no line that the fallback drawn makes needless",
}
CONTINGENCY = "CT"  # family of codes
KINDS = ("intangible", "tangible")


@dataclass(frozen=True)
class Item:
    """Words, a cell and its kind: h, d, %, count, money, date, moment, text for a word, or none for
    words that need a line of their own."""

    words: str
    cell: Cell
    unit: str = ""


@dataclass(frozen=True)
class Line:
    """A line: code and words as shown, our own code, the part it is of (approved, the log, a slice,
    earlier, contingency), kind, amounts by column, percent over, and whether it is over the trigger
    (1 or 0); reference: contract or price list behind it; exact: what is asked for before it is
    rounded, of the lines of a slice."""

    code: str
    ours: str
    words: str
    part: str
    amounts: dict[str, Cell]
    kind: Cell
    percent: Cell
    over_trigger: Cell
    reference: str
    exact: Cell | None


@dataclass(frozen=True)
class Costs:
    """The lines, the totals of all and of each kind, and the trigger; earlier: number and date of
    the supplements approved before."""

    lines: tuple[Line, ...]
    totals: tuple[Line, ...]  # of each kind, then of all
    earlier: tuple[tuple[int, date], ...]
    released: Term
    lapsing: str  # why something lapses or nothing does
    trigger_percent: Cell
    trigger_basis: Cell
    trigger_amount: Cell
    by_line: Term  # whether a line is over the trigger
    triggered: Cell
    below_the_line: tuple[Item, ...]

    @property
    def total(self) -> dict[str, Cell]:
        """The totals of all lines by column."""
        return self.totals[-1].amounts

    @property
    def percent(self) -> Cell:
        """The percent over of the total."""
        return self.totals[-1].percent

    def state(self, more: Term) -> Term:
        """On which side of the trigger the total and `more` are, in words."""
        totals = {**self.total, "change": self.total["change"] + more}
        typed = self.trigger_percent, self.trigger_basis, self.trigger_amount
        return _state(totals, self.by_line, *typed)

    def asked(self, part: str) -> Term:
        """What is asked for on the lines of a part, which stand one below the other."""
        return total(line.amounts["asked"] for line in self.lines if line.part == part)


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
    bounds = Bounds("trigger percent", high=100.0)
    percent = Cell(afe.trigger_percent / 100, bounds, name="Trigger_percent")
    bounds = Bounds("trigger basis", words=("total", "line"))
    basis = Cell(afe.trigger_basis, bounds, name="Trigger_basis")
    amount = Cell(afe.trigger_amount or 0.0, Bounds("trigger amount"), name="Trigger_amount")
    changed = dict.fromkeys(code for each in afe.earlier for code in each.amounts)
    earlier = {code: sum(more for _, more in afe.earlier_on(code)) for code in changed}

    def line(
        code: str,
        words: str,
        part: str,
        *,
        kind: str = KINDS[0],
        lapsing: Term | None = None,
        asked: Cell | None = None,
        exact: Cell | None = None,
        reference: str = "",
        **given: float,
    ) -> Line:
        given["earlier"] = earlier.pop(code, 0.0)
        theirs = codes.get(code, Code(code))
        amounts = {}
        for name in TYPED:
            lowest = -MOST if name in ("original", "earlier") else 0.0
            bounds = Bounds(f"{name.replace('_', ' ')} of {code}", lowest)
            typed = part == FILE or name != "original"
            amounts[name] = Cell(given.get(name, 0.0), bounds if typed else None)
        free = amounts["to_come"] - amounts["committed"]
        amounts["lapses"] = Cell(0.0 if lapsing is None else to_decimals(free * lapsing))
        amounts["asked"] = asked or Cell(0.0)
        amounts["approved"] = Cell(amounts["original"] + amounts["earlier"])
        rest = amounts["spent"] + amounts["to_come"] - amounts["lapses"]
        amounts["revised"] = Cell(rest + amounts["asked"])
        amounts["change"] = Cell(amounts["revised"] - amounts["approved"])
        beyond = _beyond(amounts, percent)
        return Line(
            code=theirs.theirs,
            ours=code,
            words=theirs.description or words,
            part=part,
            kind=Cell(kind, Bounds(f"kind of {code}", words=KINDS) if part == FILE else None),
            amounts=amounts,
            percent=Cell(_percent(amounts)),
            over_trigger=Cell(when(same(basis, "line"), when(beyond, 1.0, 0.0), 0.0)),
            reference=reference,
            exact=exact,
        )

    drawn = second.chance
    lines = []
    for each in afe.line:
        given = {name: getattr(each, name) for name in TYPED if name != "earlier"}
        lines.append(
            line(
                each.code,
                each.name,
                FILE,
                kind=KINDS[each.tangible],
                lapsing=_lapsing(each.lapses_under, parts, drawn),
                reference=each.reference,
                **given,
            )
        )
    if answer.log:
        lines.append(line("FS00", TROUBLE["FS00"], SO_FAR, spent=answer.spent))
    for slice_ in ("1a", second.name):
        used = {row.code.value for row in parts.lines if row.slice.value == slice_}
        own = [code for code in TROUBLE if code in used]
        forecasts = [parts.of_code(code, slice_, planned=slice_ == "1a") for code in own]
        if slice_ != "1a":
            forecasts = [quotient(each, drawn) for each in forecasts]
        exact = [Cell(each) for each in forecasts]
        for code, before, asked in zip(own, exact, whole(exact), strict=True):
            told = parts.reference(code)
            lines.append(
                line(code, TROUBLE[code], slice_, asked=asked, exact=before, reference=told)
            )
    lines += [line(code, TROUBLE.get(code, code), "earlier") for code in list(earlier)]
    asked = Cell(to_decimals(further))
    lines.append(line("CT20", TROUBLE["CT20"], "further", asked=asked))
    columns = {name: [line.amounts[name] for line in lines] for name in COLUMNS}
    kinds = [line.kind for line in lines]
    totals = {name: Cell(total(column)) for name, column in columns.items()}
    of_all = _total("", totals, Cell(_percent(totals)))

    def of_kind(kind: str) -> dict[str, Cell]:
        return {name: Cell(sum_where(kinds, kind, column)) for name, column in columns.items()}

    released = [
        line.amounts["approved"] - line.amounts["spent"] - line.amounts["to_come"]
        for line in lines
        if line.part == FILE and line.ours.startswith(CONTINGENCY)
    ]
    by_line = total(line.over_trigger for line in lines) > 0.0
    return Costs(
        lines=tuple(lines),
        totals=(*(_total(kind, of_kind(kind), Cell("")) for kind in KINDS), of_all),
        earlier=tuple((each.supplement, each.date) for each in afe.earlier),
        released=sum_of(released),
        lapsing=LAPSING[totals["lapses"].number > 0],
        trigger_percent=percent,
        trigger_basis=basis,
        trigger_amount=amount,
        by_line=by_line,
        triggered=Cell(_state(totals, by_line, percent, basis, amount)),
        below_the_line=_below(answer),
    )


def _total(kind: str, sums: dict[str, Cell], percent: Cell) -> Line:
    """A line of totals, of a kind or of all."""
    words = f"total {kind}".strip()
    return Line("", "", words, "total", sums, Cell(kind), percent, Cell(""), "", None)


def _lapsing(numbers: Sequence[int], parts: Estimate, drawn: Cell) -> Term | None:
    """The chance that one of some fallbacks (from 1) is taken, where slice 2 is drawn."""
    taken = sum_of(parts.limits.at(f"taken {number - 1}") for number in numbers)
    return quotient(taken, drawn) if numbers else None


def _percent(amounts: Mapping[str, Cell]) -> Term:
    """Percent over what was approved; `new` where nothing was."""
    none = when(amounts["revised"] > 0.0, "new", "")
    return when(amounts["approved"] > 0.0, amounts["change"] / amounts["approved"], none)


def _beyond(amounts: Mapping[str, Term], trigger: Cell) -> Term:
    """Whether amounts are over the trigger by percent; without an approved one, if there is any."""
    share = amounts["change"] / amounts["approved"] > trigger
    return when(amounts["approved"] > 0.0, share, amounts["revised"] > 0.0)


def _state(
    totals: Mapping[str, Term], by_line: Term, percent: Cell, basis: Cell, amount: Cell
) -> Term:
    """On which side of the trigger totals are; an amount of 0 stands for none."""
    by_amount = when(amount > 0.0, totals["change"] > amount, amount < 0.0)
    beyond = when(same(basis, "line"), by_line, _beyond(totals, percent)) | by_amount
    return when(beyond, OVER, WITHIN)


def _below(answer: Answer) -> tuple[Item, ...]:
    """What a policy may pay back; in no total."""
    policy = answer.scenario.insurance
    if policy.chance == 0 or policy.amount == 0:
        return ()
    words = "Chance that the claim is paid", "Amount if it is paid"
    chance = Cell(policy.chance, Bounds(words[0].lower(), high=1.0))
    amount = Cell(policy.amount, Bounds(words[1].lower()))
    return (
        Item(words[0], chance, "%"),
        Item(words[1], amount, "money"),
        Item("CL10 insurance, expected, in no total", Cell(chance * amount), "money"),
    )
