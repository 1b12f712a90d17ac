"""What a signature grants: three slices, three sums, the steps from the original, a sentence.

    1a alone        slice 1a if every run fails
    expected        1a + chance of 1b x its mean + chance of 2 x its mean
    1a and 2        slice 1a if every run fails, and the mean of 2 where it is drawn

1b is drawn instead of 2, never with it. The signature grants the last of them, and where no
fallback can be needed 1a and 1b. With own contingency C and a price contingency p on the amounts,

    X = amount + C + p amount,      Z = invoiced + to come - what lapses + X
    Q = invoiced + to come + P90 of (all that is spent - what lapses) + X - amount

What lapses is what is not committed of the lines that a fallback makes needless: in Z by the chance
of that fallback where slice 2 is drawn, in Q case by case. Percentiles are those of the issue, at
the limit in force.

Amounts before rounding stand in `Slice`. What is granted, asked and stepped through is in whole
units of currency, each slice and the contingency rounded for itself; a sum is that of what is
shown.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass

from econ.decision import Answer
from econ.decision.reply import reply
from econ.reports.supplement.cells import (
    Cell,
    Term,
    at_least_of,
    joined,
    least,
    number_in_words,
    quotient,
    sum_of,
    to_decimals,
    when,
)
from econ.reports.supplement.costs import SO_FAR, Costs
from econ.reports.supplement.estimate import Estimate
from econ.reports.supplement.moments import told_at
from econ.reports.supplement.names import SLICES
from econ.reports.tables.memo import stop_rule

OWED = "1a Owed for fishing so far"  # where no run is asked for
HALF = 0.5  # [currency]
RELEASED = "lines CT: approved, not spent, not to come"
CONTINGENCY = "by hand, a reading that is advised, and the share for prices"
LEAST = 0.0005  # a chance below which a fallback is not told
CHEAPER = 0.005  # [currency] by which another limit has to be cheaper


@dataclass(frozen=True)
class Slice:
    """A slice where it is drawn: chance, planned, mean and P90, and chance x mean; planned of 2 is
    its mean if every run fails, which the ask does not use."""

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
class RuleRow:
    """A limit of the stop rule; unit: count, d, money, text."""

    words: str
    unit: str
    limit: Cell


@dataclass(frozen=True)
class Drawn:
    """A fallback that slice 2 may be: the chance of it, what is spent on it then, and the total
    with it if every run fails."""

    name: str
    chance: Cell
    mean: Cell
    total: Term


@dataclass(frozen=True)
class Ask:
    """The slices, what the signature grants of each (None of the one that is drawn instead) and
    what each takes on average, in whole units; mix: the fallbacks of slice 2, where it may be more
    than one; the sums, the mean of all that is spent, what is approved to date, the P90 of the
    total, whether the limit is the cheapest, and the stop rule."""

    slices: tuple[Slice, ...]
    granted_of: tuple[Cell | None, ...]
    mean_of: tuple[Cell, ...]
    mix: tuple[Drawn, ...]
    sums: tuple[Asked, ...]
    expected_call: Cell
    approved: Cell
    p90: Cell
    cheapest: Cell
    cheaper: Term  # whether another limit is
    steps: tuple[Step, ...]
    rule: tuple[RuleRow, ...]
    fishes: bool  # whether any run is asked for

    @property
    def told(self) -> tuple[bool, ...]:
        """Of each slice whether it is on the pages: one that is empty is not where no run is."""
        rows = zip(self.granted_of, self.mean_of, strict=True)
        amounts = [mean.number + (0.0 if own is None else own.number) for own, mean in rows]
        return tuple(self.fishes or amount > HALF for amount in amounts)

    @property
    def granted(self) -> Asked:
        """The sum that the signature grants."""
        return next(each for each in self.sums if each.granted)


def slices(answer: Answer, parts: Estimate) -> tuple[Slice, ...]:
    """The three slices at the limit in force."""
    found = []
    failed = parts.limits.at("failed")
    for name, words in SLICES.items():
        if name == "compared":
            continue
        chance, p90 = Cell(parts.limits.at(f"chance {name}")), Cell(parts.limits.at(f"p90 {name}"))
        expected = Cell(parts.of_slice(name))
        mean = Cell(quotient(expected, chance))
        planned = Cell(mean)
        if name != "1b":
            planned = Cell(when(failed > 1e-12, parts.of_slice(name, planned=True), mean))
        words = OWED if name == "1a" and answer.best == 0 else words
        found.append(Slice(name, words, chance, planned, mean, p90, expected))
    return tuple(found)


def second_of(found: Sequence[Slice]) -> Slice:
    """The slice that is granted beside 1a."""
    return found[2] if found[2].chance.number > 0 else found[1]


def ask(
    answer: Answer,
    parts: Estimate,
    found: tuple[Slice, ...],
    table: Costs,
    further: Cell,
    share: Cell,
    measured: tuple[Term, Term],
) -> Ask:
    """What is asked for. table: the cost table; further: own contingency; share: of the amounts,
    the price contingency; measured: days and cost of the readings in the contingency."""
    fallback, second = found[2], second_of(found)
    lapses = table.total["lapses"]
    limits = parts.limits
    contingency = table.lines[-1].amounts["asked"]
    fishing, then = Cell(table.asked("1a")), Cell(table.asked(second.name))
    mean_of = tuple(Cell(to_decimals(each.expected)) for each in found)
    expected_call = Cell(sum_of(each.expected for each in found), name="Expected_call")

    def more(amount: Term) -> Cell:
        return Cell(to_decimals(further + share * amount))

    rows: list[tuple[str, Term, Cell, Term | float]] = [
        ("1a alone", fishing, more(fishing), 0.0),
        (
            "Expected: 1a, then 1b or 2 by their chances",
            sum_of(mean_of),
            more(expected_call),
            to_decimals(lapses * fallback.chance),
        ),
        (f"1a and {second.name}", fishing + then, Cell(contingency), lapses),
    ]
    approved = Cell(table.total["approved"])
    before = table.total["spent"] + table.total["to_come"]
    sums: list[Asked] = []
    for words, amount, added, lapsing in rows:
        last = len(sums) == 2
        own, lapsed = Cell(amount), Cell(lapsing)
        asked = Cell(own + added, name="Asked" if last else None)
        sum_ = Cell(before - lapsed + asked)
        change = Cell(sum_ - approved)
        percent = Cell(when(approved > 0.0, change / approved, ""))
        sums.append(Asked(words, last, own, added, asked, lapsed, sum_, change, percent))
    granted = sums[-1]
    p90 = Cell(before + limits.at("p90") + contingency)
    runs = limits.columns["runs"][limits.least :]
    costs = limits.cost[limits.least :]
    best = at_least_of(runs, costs)
    saves = limits.at("cost") - least(costs)
    cheaper = saves > CHEAPER
    less = "NO: at most ", number_in_words(best), " runs cost ", number_in_words(saves)
    again = joined([*less, " less: run econ again"])
    cheapest = Cell(when(cheaper, again, "yes, at these prices"))
    of_slices = (fishing, then, None) if second is found[1] else (fishing, None, then)
    steps = tuple(_steps(table, approved, (fishing, then), (found[0], second), granted))
    return Ask(
        slices=found,
        granted_of=of_slices,
        mean_of=mean_of,
        mix=_mix(answer, parts, granted.total + lapses - (of_slices[2] or 0.0)),
        sums=tuple(sums),
        expected_call=expected_call,
        approved=approved,
        p90=p90,
        cheapest=cheapest,
        cheaper=cheaper,
        steps=steps,
        rule=tuple(_rule(answer, parts, fishing, measured)),
        fishes=answer.best > 0,
    )


def _mix(answer: Answer, parts: Estimate, without: Term) -> tuple[Drawn, ...]:
    """The fallbacks that slice 2 may be, of the issue, the likeliest first; none of one. without:
    the total that is granted without slice 2 and with nothing lapsing."""
    taken = enumerate(answer.quantities[answer.best].fallbacks)
    chances = sorted(((each.taken, n, each.name) for n, each in taken), reverse=True)
    found = [(name, n) for chance, n, name in chances if chance > LEAST]
    if len(found) < 2:
        return ()
    mix = []
    for name, n in found:
        chance = Cell(parts.limits.at(f"taken {n}"))
        mean = Cell(quotient(parts.limits.at(f"spent {n}"), chance))
        total = without + mean - answer.scenario.lapsing[n]
        mix.append(Drawn(name, chance, mean, total))
    return tuple(mix)


def _steps(
    table: Costs,
    approved: Cell,
    slices: tuple[Cell, Cell],
    named: tuple[Slice, Slice],
    granted: Asked,
) -> list[Step]:
    """From the original authority to the revised one. slices: as granted, of 1a and the other."""
    first, second = named
    sums = table.total
    earlier = ", ".join(f"no. {number} of {date:%Y-%m-%d}" for number, date in table.earlier)
    rest = sums["spent"] + sums["to_come"] - sums["approved"] + table.released
    logged = [line for line in table.lines if line.part == SO_FAR]
    so_far = sum_of(line.amounts[name] for line in logged for name in ("spent", "to_come"))
    own = sum_of(line.amounts["approved"] for line in logged)
    reason = "whatever is chosen" if first.words == OWED else "if every run to the limit fails"
    return [
        Step("Original authority", Cell(sums["original"]), "", is_sum=True),
        Step("Earlier supplements", Cell(sums["earlier"]), earlier or "none"),
        Step("Approved to date", approved, "", is_sum=True),
        Step("Contingency released", Cell(0 - table.released), RELEASED),
        *(Step("Fishing so far", Cell(so_far - own), "by the run log") for _ in logged),
        Step("Approved work", Cell(rest - so_far + own), "spent and to come against the approved"),
        Step("What lapses", Cell(0 - granted.lapses), table.lapsing),
        Step(first.words, Cell(slices[0]), reason),
        Step(second.words, Cell(slices[1]), "mean where it is drawn"),
        Step("Contingency of this supplement", Cell(granted.contingency), CONTINGENCY),
        Step("Revised total", Cell(granted.total), "", is_sum=True),
    ]


def _rule(
    answer: Answer, parts: Estimate, fishing: Cell, measured: tuple[Term, Term]
) -> Iterator[RuleRow]:
    """When fishing stops, whichever comes first, of a job that makes no run its limit alone; and
    what was made and spent before, which is in none of it. fishing: slice 1a as it is granted;
    measured: days and cost of the readings that are made before it."""
    stated, limits = stop_rule(answer), parts.limits
    if answer.log:
        runs, spent = stated["runs_made"], f"{stated['money_made']:,.0f} {answer.scenario.currency}"
        before = f"{runs} run{'' if runs == 1 else 's'}, {stated['days_made']:.2f} d, {spent}"
        yield RuleRow("Made and spent before this issue, in no limit below", "text", Cell(before))
    days, cost = measured
    of_it = ", the measurement in it" if days.number else ""
    failing = f"from now on, if every run fails{of_it}"
    yield RuleRow("Runs from now on, at most", "count", limits.limit)
    if answer.best == 0:
        return
    yield RuleRow(f"Days that it takes {failing}", "d", Cell(limits.at("days") + days))
    yield RuleRow(f"Money {failing}", "money", Cell(fishing + to_decimals(cost)))
    last = stated["no_run_after_days"] + days.number
    yield RuleRow(
        f"No run begins later than, in days after the work begins{of_it}", "d", Cell(last)
    )
    due = None if answer.scenario.afe.until_reply == "works_on" else reply(answer).due
    begin = due or answer.now
    if begin is None:
        return
    starts = "when the reply is due" if due else "at once"
    for words, later in (
        (f"That is by the clock, if the work begins {starts}", last),
        (
            "If every run fails and takes as long as planned, the last ends about",
            answer.limit.days + days.number,
        ),
    ):
        with suppress(OverflowError):  # past the last year that a calendar holds
            yield RuleRow(words, "text", Cell(told_at(answer, begin, later)))
