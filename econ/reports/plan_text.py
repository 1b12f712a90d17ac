"""The plan as plain text: numbered orders that a night shift can follow, outcome by outcome."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence

from econ.decision.estimates import Estimate
from econ.decision.fish_now import fish_now
from econ.decision.order import ProgramSearch
from econ.decision.plan import Do, Plan
from econ.reports import safety, sentences
from econ.reports.after_log import ended as ending
from econ.reports.after_log import runs_made, since
from econ.reports.amounts import Amounts
from econ.reports.cautions import FULL
from econ.reports.plan_tables import (
    Order,
    beliefs,
    gain_over_sequence,
    left_out,
    plan_notes,
    readable,
)
from econ.reports.sentences import percent
from econ.reports.tables.plain import length_factor, length_unit
from econ.reports.text import cautions
from econ.reports.words import WIDTH, one_line, runs, wrap
from econ.scenario.run_log import LoggedRun

OUTCOMES = {
    "nothing": "nothing",
    "part": "a part",
    "prepared": "the fish prepared",
    "top_damaged": "a damaged top",
    "reads_workable": "it reads workable",
    "reads_stubborn": "it reads stubborn",
}
MOST_ORDERS = 40  # that are told
SAME_TOP = 0.05  # [ft]


def plan_text(plan: Plan, search: ProgramSearch, log: Sequence[LoggedRun] = ()) -> str:
    """The whole plan. search: the cheapest fixed sequence of the same runs; log: runs made.

    >>> import econ
    >>> job = econ.load("scenarios/point/a_land_twist_off.toml")
    >>> print(plan_text(econ.plan(job), econ.best_order(job)).splitlines()[0])
    PLAN: make run 1 now, Overshot with jars.
    """
    money = plan_money(plan)
    ended = ending(log)
    if ended is not None:
        parts = [_ended(plan, ended, money)]
    else:
        parts = [
            [*_head(plan, money, log), *since(plan.scenario, log)],
            _savings(plan, search, money),
            *_orders(plan, money),
        ]
        parts.append(_reach(plan, money))
    parts += [_notes(plan), cautions(fish_now(plan.scenario, log)), wrap(dict(FULL)["Data"])]
    return "\n\n".join("\n".join(part) for part in parts if part) + "\n"


def plan_money(plan: Plan) -> Amounts:
    """Amounts of a plan in one unit."""
    costs = [node.cost_from_here.value for node in plan.nodes]
    more = [0.0 if n.next_best is None else n.next_best.costs_more.value for n in plan.nodes]
    largest = max(cost + extra for cost, extra in zip(costs, more, strict=True))
    return Amounts(largest=largest, currency=plan.scenario.currency)


def _ended(plan: Plan, outcome: str, money: Amounts) -> list[str]:
    cost = money.full(plan.expected_cost.value)
    return [
        *wrap(sentences.say(outcome, terminal=True)),
        *wrap(one_line(plan.scenario.job.well)),
        *wrap(f"What is left to do costs {cost} in expectation."),
    ]


def _head(plan: Plan, money: Amounts, log: Sequence[LoggedRun]) -> list[str]:
    job = plan.scenario
    lines = wrap(f"PLAN: {_now(plan)}.")
    harm = safety.warnings(fish_now(job, log))
    lines += [line for words in harm for line in wrap(words)]
    lines += wrap(one_line(job.job.well))
    if job.job.event:
        lines += wrap(one_line(job.job.event))
    lines += wrap(
        f"The expected cost is {money.full(plan.expected_cost.value)}, from now on until drilling "
        f"ahead again{'' if log else '; money already spent is left out'}."
    )
    if plan.fish:
        lines += wrap(
            f"The fish comes out with {percent(plan.probability_recovered.value)} chance. Fishing "
            f"takes {plan.mean_days.value:.1f} days on average and {plan.longest_days:.1f} days "
            "at the longest."
        )
    least = (job.limits.minimum_runs or 0) - runs_made(job, log)
    if least > 0:
        lines += wrap(f"At least {runs(least)} must be made (minimum_runs).")
    return lines


def _now(plan: Plan) -> str:
    first = plan.nodes[0].do
    if first == "stop":
        return "stop fishing now"
    if isinstance(first, str):
        return f"take the reading {one_line(first)} now"
    return f"make run {first} now, {one_line(plan.scenario.run[first - 1].name)}"


def _savings(plan: Plan, search: ProgramSearch, money: Amounts) -> list[str]:
    """The plan against the list and against the best fixed sequence; which runs nobody needs."""
    if not plan.scenario.run:
        return []
    scale = plan.expected_cost.value
    limit = f"the best limit of the list ({runs(plan.limit)})"
    if plan.better:
        lines = wrap(f"The plan saves {_amount(plan.gain, money)} against {limit}.")
    elif plan.gain.resolved(scale) and money.shows(-plan.gain.value):
        lines = wrap(
            f"The plan costs {_amount(Estimate(-plan.gain.value, plan.gain.error), money)} more "
            f"than {limit}: keep to the list."
        )
    elif not plan.fish and plan.limit == 0:
        lines = wrap("The list says the same: no run of it pays.")
    else:
        lines = wrap(
            f"The plan is no better than {limit}: their costs are about equal, and the list may as "
            "well be kept."
        )
    gain = gain_over_sequence(plan, search)
    sequence = f"the cheapest fixed sequence ({_sequence(search)})"
    if not _shown(gain, scale, money):
        lines += wrap(f"The plan costs about as much as {sequence}.")
    elif gain.value > 0:
        lines += wrap(f"It saves {_amount(gain, money)} against {sequence}.")
    else:
        more = Estimate(-gain.value, gain.error)
        lines += wrap(f"It costs {_amount(more, money)} more than {sequence}.")
    if not search.exact:
        lines += wrap("Not all sequences were worked out; one that was not may cost less.")
    if plan.unused:
        one = len(plan.unused) == 1
        lines += wrap(
            f"No state of the plan uses {'run' if one else 'runs'} {_listed(plan.unused)} of the "
            "list."
        )
    else:
        lines += wrap("Every run of the list is used in some state.")
    return lines


def _sequence(search: ProgramSearch) -> str:
    made = search.best.runs
    if not made:
        return "no run"
    return f"{'run' if len(made) == 1 else 'runs'} {', '.join(map(str, made))}, then stop"


def _orders(plan: Plan, money: Amounts) -> Iterator[list[str]]:
    """How to read the orders, and one paragraph for each that makes a run."""
    if not plan.fish:
        second = _second(plan, readable(plan, most=1)[0], money)
        yield wrap(f"Stop fishing and {_fallback(plan)}. {second}".rstrip())
        return
    first, _ = readable(plan, most=MOST_ORDERS)
    numbers = _numbers(first)
    belief = (
        "Belief is the chance that a doubt is in favour, by all that was seen until then. "
        if plan.scenario.has_kinds
        else ""
    )
    yield [
        "ORDERS",
        *wrap(
            "Percentages are chances, from now on, to get there. Odds are the chance that the run "
            f"brings the fish out. {belief}Amounts are in {money.unit}. With the fish out the "
            "job is done; with a lost string or hole it goes to a fallback. To stop is to "
            f"{_fallback(plan)}."
        ),
    ]
    yield _order(plan, first, "Now ", numbers, money)
    for parent in first.all():
        for order in parent.children:
            if order.do != "stop":
                start = f"After {_after(order)} in order {numbers[id(parent)]}, "
                yield _order(plan, order, start, numbers, money)


def _numbers(first: Order) -> dict[int, int]:
    """Numbers from 1 of the orders that make a run, by their identity."""
    going = (order for order in first.all() if order.do != "stop")
    return {id(order): number for number, order in enumerate(going, start=1)}


def _order(
    plan: Plan, order: Order, start: str, numbers: dict[int, int], money: Amounts
) -> list[str]:
    head = f"{numbers[id(order)]}. "
    at = len(head)
    lines = _set_in(f"{head}{start}{_to_do(plan, order.do)}.", at=0, hang=at)
    odds = [node.odds.value for node in order.nodes if node.odds is not None]
    days = order.nodes[0].day
    known = [f"It begins {days:.1f} days from now."] if days > 0 else []
    known += [f"The odds are {_between(odds)}."] if odds else []
    known += [_state(plan, order), _second(plan, order, money)]
    lines += _set_in(" ".join(words for words in known if words), at=at, hang=at)
    same: dict[Do, list[Order]] = {}
    for child in order.children:
        same.setdefault(child.do, []).append(child)
    for do, group in same.items():
        lines += _set_in(_next(plan, do, group, numbers, money), at=at, hang=at + 2)
    return lines


def _next(
    plan: Plan, do: Do, group: Sequence[Order], numbers: dict[int, int], money: Amounts
) -> str:
    """What to do after some outcomes that have the same order, on one line."""
    if do == "stop":
        (order,) = group
        details = [_state(plan, order), _second(plan, order, money)]
        words = f"- After {_after(order)} ({percent(order.chance)}): stop."
        return " ".join([words, *(each for each in details if each)])
    outcomes = [
        f"{_after(order)} ({percent(order.chance)}, order {numbers[id(order)]})" for order in group
    ]
    return f"- After {_either(outcomes)}: {_short(do)}."


def _after(order: Order) -> str:
    return _either([OUTCOMES[outcome] for outcome in order.outcomes])


def _state(plan: Plan, order: Order) -> str:
    """Belief, and the fish top and the marks where they are not those of now."""
    said = []
    if plan.scenario.has_kinds:
        doubts = [f"{name} {_between([low, high])}" for name, low, high in beliefs(order)]
        said.append(f"Belief: {', '.join(doubts)}.")
    now, tops = plan.nodes[0], [node.fish_top for node in order.nodes]
    if max(abs(top - now.fish_top) for top in tops) > SAME_TOP:
        factor = length_factor(plan)
        ends = sorted({f"{top / factor:,.0f}" for top in (min(tops), max(tops))}, key=len)
        low, high = min(tops) / factor, max(tops) / factor
        where = f"{low:,.0f}" if len(ends) == 1 else f"{low:,.0f} to {high:,.0f}"
        said.append(f"The fish top is at {where} {length_unit(plan)}.")
    held = [mark for mark in order.nodes[0].marks if all(mark in n.marks for n in order.nodes)]
    if held:
        said.append(f"Marks: {', '.join(one_line(mark).replace('_', ' ') for mark in held)}.")
    return " ".join(said)


def _second(plan: Plan, order: Order, money: Amounts) -> str:
    """What the second best costs more; of several states, where it costs the least more."""
    choices = [(node.next_best, node.cost_from_here.value) for node in order.nodes]
    known = [(best, cost) for best, cost in choices if best is not None]
    if not known:
        return ""
    best, cost = min(known, key=lambda pair: pair[0].costs_more.value)
    more = best.costs_more
    other = "To stop" if best.do == "stop" else _short(best.do)
    other = other[0].upper() + other[1:]
    if not _shown(more, cost, money):
        return f"{other} is about equal."
    if more.value < 0:
        return f"{other} would cost {money.short(-more.value)} less on these draws."
    least = "at least " if len(known) > 1 else ""
    return f"{other} would cost {least}{money.short(more.value)} more."


def _reach(plan: Plan, money: Amounts) -> list[str]:
    """What was looked at, and what is not told here."""
    lines = []
    below = readable(plan, most=MOST_ORDERS)[1]
    count = left_out(plan, below=below)
    if count and plan.fish:
        what = "1 branch" if count == 1 else f"{count} branches"
        lines += wrap(
            f"Folded: {what} of less than {100 * below:g} % chance each. Where no order fits what "
            "happened, log the runs and ask again with --log."
        )
    states = "1 state was" if plan.states == 1 else f"{plan.states:,} states were"
    if plan.gap > 0:
        lines += wrap(
            f"{states} looked at, the likeliest first. To look at all of them would save no more "
            f"than {money.full(plan.gap)}."
        )
    else:
        lines += wrap(f"{states} looked at: all that runs in any order can reach.")
    return lines


def _notes(plan: Plan) -> list[str]:
    notes = plan_notes(plan)
    if not notes:
        return []
    return ["NOTES ON THE INPUT:", *(line for each in notes for line in wrap(f"- {each}", hang=2))]


def _fallback(plan: Plan) -> str:
    fallbacks = plan.scenario.fallback
    if len(fallbacks) == 1:
        return f"go to the fallback, {one_line(fallbacks[0].name)}"
    return "go to the fallback that is then the cheapest"


def _to_do(plan: Plan, do: Do) -> str:
    return f"{'make' if isinstance(do, int) else 'take'} {one_line(plan.named(do))}"


def _short(do: Do) -> str:
    return f"run {do}" if isinstance(do, int) else f"the reading {one_line(do)}"


def _set_in(words: str, *, at: int, hang: int) -> list[str]:
    start, rest = " " * at, " " * hang
    return textwrap.wrap(words, WIDTH, initial_indent=start, subsequent_indent=rest)


def _between(values: Sequence[float]) -> str:
    """Chances as one or as a range.

    >>> _between([0.3, 0.3]), _between([0.3, 0.42])
    ('0.30', '0.30 to 0.42')
    """
    low, high = f"{min(values):.2f}", f"{max(values):.2f}"
    return low if low == high else f"{low} to {high}"


def _either(words: Sequence[str]) -> str:
    *others, last = words
    return f"{', '.join(others)} or {last}" if others else last


def _listed(numbers: Sequence[int]) -> str:
    *others, last = map(str, numbers)
    return f"{', '.join(others)} and {last}" if others else last


def _shown(more: Estimate, scale: float, money: Amounts) -> bool:
    """Whether a difference is beyond its error, and not too small to be told."""
    return more.resolved(scale) and money.shows(abs(more.value))


def _amount(value: Estimate, money: Amounts) -> str:
    error = f" (+-{money.short(value.error)})" if money.shows(value.error) else ""
    return f"{money.full(value.value)}{error}"
