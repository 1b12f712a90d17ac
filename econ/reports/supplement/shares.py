"""Working interests: the gross of each amount, and the net of every partner to the last decimal.

The rule is that of `econ.job.shares`; here it stands in formulas, so that the nets follow an
interest, a price or a trigger that is changed. For each amount a working sheet holds by partner

    low = INT(units of the gross x interest / sum of interests)
    key = remainder, to a ten-thousandth of a unit, less a millionth for each partner before

and who is among the largest keys, as many as units are left, gets one unit more. Of equal
remainders the first in the file so comes first.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from econ.decision import Answer
from econ.job.shares import TELLS, taker
from econ.reports.supplement.cells import (
    Block,
    Bounds,
    Cell,
    Term,
    sum_of,
    to_decimals,
    total,
    when,
)

SUM_OF_ONE = 2e-6  # interests that miss a sum of 1 by less are taken to sum to it
QUOTA = 6  # decimals of a unit that a share is counted to before it is cut off
ORDER = 1e-6  # of a unit: what a place in the file takes off a remainder
NUDGE = 1e-8  # that lifts a half over what the binary writing of a number loses
SHARED = (  # what is shown of each partner; the rest stands behind it
    *("asked", "stage_1_asked_for", "stage_2_if_needed", "contingency"),
    *("expected_call", "revised_total"),
)
BY_REMAINDER = (
    "Each net is gross x interest, cut off at the last decimal of the currency; the units that are "
    "left go one each to the partners who lost most by it, of equals to the first listed. So "
    "the nets sum to the gross. A later slice is the difference of two such sums, so that slices "
    "sum."
)
WITH_A_TAKER = (
    "Each net is gross x interest to the last decimal of the currency; half a unit goes up. The "
    "operator, or without one the largest interest, takes what is then left of the gross, as it "
    "has stated. So the nets sum to it."
)
DECLINED = (
    "A partner who declines the fallback pays nothing of it; those who carry its share pay it, as "
    "the operator has stated. What either gives up or gets for it is in the agreement and in no "
    "amount."
)
NOT_SHARED = "-"  # instead of a net while the interests do not sum to 1


@dataclass(frozen=True)
class Partner:
    """A partner: name, role, interest, and the net of each gross amount by name."""

    name: str
    role: str
    interest: Cell
    nets: Mapping[str, Cell]


@dataclass(frozen=True)
class Working:
    """Behind the nets of an amount: `low` and `key` by partner, and the units that are left."""

    low: tuple[Cell, ...]
    key: tuple[Cell, ...]
    left: Cell


@dataclass(frozen=True)
class Shares:
    """What is shared, by name and gross to the last decimal; the partners; the working of each
    amount, none where the operator takes the rest."""

    gross: Mapping[str, Cell]
    partners: tuple[Partner, ...]
    interests: Cell
    complete: Cell
    working: tuple[Working, ...] = ()
    declined: bool = False  # whether somebody declines the fallback

    @property
    def rule(self) -> str:
        """How the last decimals are shared, in words."""
        words = BY_REMAINDER if self.working or not self.partners else WITH_A_TAKER
        if self.declined:
            return f"{words} {DECLINED}"
        return f"{words} Interests are plain shares: no carry, no back-in."


def shares(
    answer: Answer,
    amounts: Mapping[str, Term],
    fallback: Mapping[str, Term] | None = None,
    between: Mapping[str, tuple[str, str]] | None = None,
) -> Shares:
    """The shares of the partners in `amounts`, by name. fallback: what of an amount is for the
    fallback, of which a partner who declines it pays nothing; nothing of those left out. between:
    further names, each the difference of two of the amounts, net by net."""
    scenario = answer.scenario
    decimals, partners = scenario.currency_decimals, scenario.partner
    stated = [each.interest for each in partners]
    parts = 100 if sum(stated) > 50 else 1  # the file gives 1, or 100 percent
    bounds = [Bounds(f"interest of {each.name}", high=1.0) for each in partners]
    interests = [Cell(each / parts, own) for each, own in zip(stated, bounds, strict=True)]
    together = Cell(total(interests))
    complete = abs(together - 1) < SUM_OF_ONE
    last = None
    if partners and scenario.afe.rounding == "operator_takes_rest":
        operator = next((number for number, each in enumerate(partners) if each.operator), None)
        last = taker(stated, operator)
    in_fallback = _in_fallback(answer, interests)
    gross = {name: Cell(to_decimals(amount, decimals)) for name, amount in amounts.items()}
    nets: dict[str, list[Cell]] = {}
    working = []
    for name, amount in gross.items() if partners else ():
        own: Sequence[Term] = interests
        if in_fallback is not None and fallback is not None and name in fallback:
            share = when(abs(amount) > 0.0, fallback[name] / amount, 0.0)
            pairs = zip(interests, in_fallback, strict=True)
            own = [mine + (then - mine) * share for mine, then in pairs]
        if last is None:
            nets[name], behind = _by_remainder(amount, own, together, complete, decimals)
            working.append(behind)
        else:
            nets[name] = _with_a_taker(amount, own, complete, decimals, last)
    for name, (more, less) in (between or {}).items():
        gross[name] = Cell(_rise(gross[more], gross[less], decimals))
        nets[name] = [
            Cell(when(complete, _rise(sum_, before, decimals), NOT_SHARED))
            for sum_, before in zip(nets.get(more, ()), nets.get(less, ()), strict=True)
        ]
    told = when(complete, "interests sum to 100 %", "INTERESTS DO NOT SUM TO 100 %")
    return Shares(
        gross=gross,
        partners=tuple(
            Partner(
                each.name,
                _role(each.operator, number == last),
                interests[number],
                {name: own[number] for name, own in nets.items()},
            )
            for number, each in enumerate(partners)
        ),
        interests=together,
        complete=Cell(told if partners else "no partner is named"),
        working=tuple(working),
        declined=in_fallback is not None,
    )


def _rise(more: Cell, less: Cell, decimals: int) -> Term:
    """The difference of two cells to the last decimal."""
    if isinstance(more.value, str):  # while the interests do not sum to 1
        return Term(math.nan, ["ROUND(", more, "-", less, f",{decimals})"])
    return to_decimals(more - less, decimals)


def _in_fallback(answer: Answer, interests: Sequence[Cell]) -> list[Term] | None:
    """The interests in the fallback; None where nobody declines it."""
    partners = answer.scenario.partner
    if not any(each.declines_fallback for each in partners):
        return None
    found: list[Term] = []
    for number, each in enumerate(partners):
        carried: Term = interests[number] * (0.0 if each.declines_fallback else 1.0)
        for other, declining in enumerate(partners):
            if declining.declines_fallback and each.name in declining.carried_by:
                whole = sum(declining.carried_by.values())
                carried = carried + interests[other] * (declining.carried_by[each.name] / whole)
        found.append(carried)
    return found


def _by_remainder(
    amount: Cell, interests: Sequence[Term], together: Cell, complete: Term, decimals: int
) -> tuple[list[Cell], Working]:
    """Nets by the largest remainder, and the cells behind them."""
    scale = 10**decimals
    whole = _rounded(abs(amount) * scale, 0)
    owed = [
        when(complete, _rounded(whole * interest / together, QUOTA), 0.0) for interest in interests
    ]
    low = [Cell(_cut_off(each)) for each in owed]
    key = [
        Cell(_rounded(each - lower, TELLS) - number * ORDER)
        for number, (each, lower) in enumerate(zip(owed, low, strict=True))
    ]
    left = Cell(when(complete, whole - total(low), 0.0))
    least = _largest(key, left)
    sign = when(amount < 0.0, -1.0, 1.0)
    nets = []
    for lower, own in zip(low, key, strict=True):
        more = when(left > 0.5, when(own < least, 0.0, 1.0), 0.0)
        net = _rounded((lower + more) / scale, decimals) * sign
        nets.append(Cell(when(complete, net, NOT_SHARED)))
    return nets, Working(tuple(low), tuple(key), left)


def _with_a_taker(
    amount: Cell, interests: Sequence[Term], complete: Term, decimals: int, last: int
) -> list[Cell]:
    """Nets each rounded, what is left to one partner."""
    owed = (to_decimals(amount * interest, decimals) for interest in interests)
    nets = [Cell(when(complete, each, NOT_SHARED)) for each in owed]
    others = [net for number, net in enumerate(nets) if number != last]
    left = to_decimals(amount - sum_of(others), decimals) if others else amount
    nets[last] = Cell(when(complete, left, NOT_SHARED))
    return nets


def _rounded(value: Term, decimals: int) -> Term:
    """A value that is 0 or more to some decimals, half up."""
    lifted = value + NUDGE / 10**decimals if decimals else value
    return Term(round(lifted.number, decimals), ["ROUND(", lifted, f",{decimals})"])


def _cut_off(value: Term) -> Term:
    """The whole number at or below a value."""
    return Term(float(math.floor(value.number)), ["INT(", value, ")"])


def _largest(cells: Sequence[Cell], place: Cell) -> Term:
    """The `place`-th largest number of a block; nan at place 0, as in a sheet."""
    ordered = sorted((cell.number for cell in cells), reverse=True)
    at = round(place.number)
    value = ordered[at - 1] if 1 <= at <= len(ordered) else math.nan
    return Term(value, ["LARGE(", Block(cells), ",", place, ")"])


def _role(operator: bool, last: bool) -> str:
    words = "operator" if operator else ""
    return f"{words}, takes the rest of the last decimal".lstrip(", ") if last else words
