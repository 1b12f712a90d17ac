"""What a signature grants: three slices, three sums, the steps from the original, a sentence.

    1a alone        slice 1a if every run fails
    expected        1a + chance of 1b x its mean + chance of 2 x its mean
    1a and 2        slice 1a if every run fails, and the mean of 2 where it is drawn

1b is drawn instead of 2, never with it. The signature grants the last of them, and where no
fallback can be needed 1a and 1b. With own contingency C and a price contingency p on the amounts,

    X = amount + C + p amount,      Z = invoiced + to come - what lapses + X
    Q = invoiced + to come - what lapses + P90 of all that is spent + X - amount

What lapses is what is not committed of the lines that a fallback makes needless, by the chance of
that fallback where slice 2 is drawn; in Q as in Z, unless a fallback is needed in less than a
tenth. Percentiles are those of the issue, at the limit in force.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from econ.reports.supplement.cells import (
    Cell,
    Term,
    at_least_of,
    block,
    joined,
    least,
    over,
    sum_of,
    when,
    whole_in_words,
)
from econ.reports.supplement.costs import Costs
from econ.reports.supplement.estimate import SLICES, Estimate

TENTH = 0.1  # a chance under which a P90 holds no fallback
CHEAPER = 0.005  # [currency] by which another limit has to be cheaper


@dataclass(frozen=True)
class Slice:
    """A slice where it is drawn: chance, planned, mean and P90, and chance x mean."""

    name: str
    words: str
    chance: Cell
    planned: Cell
    mean: Cell
    p90: Cell
    expected: Cell


@dataclass(frozen=True)
class Asked:
    """A sum that could be granted: amount of the slices, contingency, ask, what lapses, total,
    change of what is approved and its percent; granted: whether the signature grants it."""

    words: str
    granted: bool
    amount: Cell
    contingency: Cell
    ask: Cell
    lapses: Cell
    total: Cell
    change: Cell
    percent: Cell


@dataclass(frozen=True)
class Step:
    """A step from the original authority to the revised one, with its reason."""

    words: str
    amount: Cell
    reason: str
    is_sum: bool = False


@dataclass(frozen=True)
class Ask:
    """The slices, the sums, what is approved to date, the P90 of the total, and whether the limit
    is the cheapest."""

    slices: tuple[Slice, ...]
    sums: tuple[Asked, ...]
    approved: Cell
    p90: Cell
    cheapest: Cell
    cheaper: Term  # whether another limit is
    steps: tuple[Step, ...]

    @property
    def granted(self) -> Asked:
        """The sum that the signature grants."""
        return next(each for each in self.sums if each.granted)

    @property
    def expected_call(self) -> Cell:
        """Mean of all that is spent."""
        return self.sums[1].amount


def slices(parts: Estimate) -> tuple[Slice, ...]:
    """The three slices at the limit in force."""
    found = []
    failed = parts.limits.at("failed")
    for name, words in SLICES.items():
        if name == "compared":
            continue
        chance, p90 = Cell(parts.limits.at(f"chance {name}")), Cell(parts.limits.at(f"p90 {name}"))
        expected = Cell(parts.of_slice(name))
        mean = Cell(when(over(chance, 0.0), expected / chance, 0.0))
        planned = Cell(mean)
        if name != "1b":
            planned = Cell(when(over(failed, 1e-12), parts.planned(name), mean))
        found.append(Slice(name, words, chance, planned, mean, p90, expected))
    return tuple(found)


def second_of(found: Sequence[Slice]) -> Slice:
    """The slice that is granted beside 1a."""
    return found[2] if found[2].chance.number > 0 else found[1]


def ask(parts: Estimate, found: tuple[Slice, ...], table: Costs, further: Cell, share: Cell) -> Ask:
    """What is asked for. table: the cost table; further: own contingency; share: of the amounts,
    the price contingency."""
    first, _, fallback = found
    second = second_of(found)
    lapses = table.total["lapses"]
    limits = parts.limits
    amounts = {
        "1a alone": (Cell(first.planned), Cell(0.0)),
        "Expected: 1a, then 1b or 2 by their chances": (
            Cell(sum_of(each.expected for each in found), name="Expected_call"),
            Cell(lapses * fallback.chance),
        ),
        f"1a and {second.name}": (Cell(first.planned + second.mean), Cell(lapses)),
    }
    approved = Cell(table.total["approved"])
    before = table.total["spent"] + table.total["to_come"]
    sums: list[Asked] = []
    for words, (amount, lapsed) in amounts.items():
        contingency = Cell(further + share * amount)
        asked = Cell(amount + contingency, name="Asked" if len(sums) == 2 else None)
        total = Cell(before - lapsed + asked)
        change = Cell(total - approved)
        percent = Cell(when(over(approved, 0.0), change / approved, ""))
        last = len(sums) == 2
        sums.append(Asked(words, last, amount, contingency, asked, lapsed, total, change, percent))
    granted = sums[-1]
    lapsed_too = when(over(fallback.chance, TENTH), lapses, 0.0)
    p90 = Cell(before - lapsed_too + limits.at("p90") + granted.contingency)
    runs = block(limits.columns["runs"][limits.least :])
    costs = block(limits.cost[limits.least :])
    best = at_least_of(runs, costs)
    saves = limits.cost_here - least(costs)
    cheaper = over(saves, CHEAPER)
    cheapest = Cell(
        when(
            cheaper,
            joined(
                [
                    "NO: at most ",
                    whole_in_words(best),
                    " runs cost ",
                    whole_in_words(saves),
                    " less: run econ again",
                ]
            ),
            "yes, at these prices",
        )
    )
    steps = tuple(_steps(table, approved, first, second, granted))
    return Ask(found, tuple(sums), approved, p90, cheapest, cheaper, steps)


def _steps(table: Costs, approved: Cell, first: Slice, second: Slice, granted: Asked) -> list[Step]:
    """From the original authority to the revised one."""
    total = table.total
    earlier = ", ".join(f"no. {number} of {date:%Y-%m-%d}" for number, date in table.earlier)
    rest = total["spent"] + total["to_come"] - total["approved"] + table.released
    return [
        Step("Original authority", Cell(total["original"]), "", is_sum=True),
        Step("Earlier supplements", Cell(total["earlier"]), earlier or "none is in the file"),
        Step("Approved to date", approved, "", is_sum=True),
        Step(
            "Contingency released",
            Cell(0 - table.released),
            "lines CT: approved, not spent, not to come",
        ),
        Step("Approved work", Cell(rest), "spent and to come against what was approved"),
        Step(
            "What lapses",
            Cell(0 - granted.lapses),
            "to come and not committed, made needless by the fallback",
        ),
        Step(SLICES["1a"], Cell(first.planned), "if every run to the limit fails"),
        Step(SLICES[second.name], Cell(second.mean), "mean where it is drawn"),
        Step(
            "Contingency of this supplement",
            Cell(granted.contingency),
            "by hand, and the share for prices",
        ),
        Step("Revised total", Cell(granted.total), "", is_sum=True),
    ]
