"""The plan as plain text: orders that a night shift can follow, outcome by outcome."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator

from econ.decision.estimates import Estimate
from econ.decision.order import ProgramSearch
from econ.decision.plan import Do, Plan, PlanNode
from econ.reports.amounts import Amounts
from econ.reports.cautions import SEALED_SOURCE, SHORT
from econ.reports.sentences import percent
from econ.reports.words import WIDTH, one_line, runs, wrap

OUTCOMES = {
    "nothing": "nothing",
    "part": "a part",
    "prepared": "its own job done",
    "top_damaged": "a damaged top",
}
STEP = 2  # columns by which each run is set in


def plan_text(found: Plan, search: ProgramSearch) -> str:
    """The whole plan; search: the cheapest fixed sequence of the same runs.

    >>> import econ
    >>> job = econ.load("scenarios/point/a_land_twist_off.toml")
    >>> print(plan_text(econ.plan(job), econ.best_order(job)).splitlines()[0])
    PLAN: begin with run 1, Overshot with jars.
    """
    largest = max(node.cost_from_here.value for node in found.nodes)
    money = Amounts(largest=largest, currency=found.scenario.currency)
    parts = [
        _head(found, search, money),
        _safety(found),
        list(_orders(found, money)),
        _notes(found, money),
        [
            line
            for words in ("CAUTIONS", *(f"- {each}" for each in SHORT))
            for line in wrap(words, 2)
        ],
    ]
    return "\n\n".join("\n".join(part) for part in parts if part) + "\n"


def _head(found: Plan, search: ProgramSearch, money: Amounts) -> list[str]:
    first = found.nodes[0].do
    begin = "stop now" if first == "stop" else f"begin with {_do(found, first)}"
    lines = wrap(f"PLAN: {begin}.")
    cost = f"Expected cost {money.full(found.expected_cost.value)}"
    limit = f"the best limit of the list ({runs(found.limit)})"
    if found.better:
        lines += wrap(f"{cost}: {_error(found.gain, money)} less than {limit}.")
    else:
        lines += wrap(f"{cost}: not told apart from {limit}, which may as well be kept.")
    sequence = search.best
    listed = ", ".join(map(str, sequence.runs)) or "none"
    more = sequence.expected_cost - found.expected_cost.value
    if money.shows(more):
        lines += wrap(
            f"The best fixed order is {listed} and then a stop: {money.short(more)} more."
        )
    else:
        lines += wrap(f"A fixed order does as well: {listed}, then a stop.")
    lines += wrap(
        f"{percent(found.probability_recovered.value)} chance that the fish comes out; fishing "
        f"takes {found.mean_days.value:.1f} days on average and {found.longest_days:.1f} on the "
        "longest way."
    )
    if found.unused:
        *others, last = map(str, found.unused)
        words = f"runs {', '.join(others)} and {last}" if others else f"run {last}"
        lines += wrap(f"Of the list it never makes {words}.")
    return lines


def _safety(found: Plan) -> list[str]:
    if not found.scenario.fish.sealed_source:
        return []
    return [line for words in SEALED_SOURCE for line in wrap(words)]


def _orders(found: Plan, money: Amounts) -> Iterator[str]:
    """The tree, line by line."""
    children: dict[int | None, list[PlanNode]] = {}
    for node in found.nodes:
        children.setdefault(node.parent, []).append(node)

    def told(node: PlanNode, depth: int, start: str) -> Iterator[str]:
        yield from _set_in(_order(found, node, start, money), depth)
        same: dict[Do, list[PlanNode]] = {}
        for child in children.get(node.id, []):
            ends = child.do == "stop"
            same.setdefault("stop" if ends else child.id + len(found.scenario.run) + 1, []).append(
                child
            )
        for group in same.values():
            words = " or ".join(OUTCOMES[child.after or "nothing"] for child in group)
            chance = sum(child.chance.value for child in group)
            begin = f"After {words} ({percent(chance)})"
            if len(group) > 1:
                yield from _set_in(f"{begin}: stop.", depth + 1)
            else:
                yield from told(group[0], depth + 1, begin)

    yield "ORDERS"
    yield from told(found.nodes[0], 0, "Now")


def _set_in(words: str, depth: int) -> list[str]:
    """Words as lines that are set in, however deep never to less than half of the width."""
    start = " " * min(STEP * depth, WIDTH // 2)
    return textwrap.wrap(words, WIDTH, initial_indent=start, subsequent_indent=f"{start}  ")


def _order(found: Plan, node: PlanNode, start: str, money: Amounts) -> str:
    known = [f"{each.doubt} {each.chance.value:.2f}" for each in node.belief]
    known += [mark.replace("_", " ") for mark in node.marks]
    state = f", {', '.join(known)}" if known else ""
    odds = "" if node.odds is None else f", odds {node.odds.value:.2f}"
    words = f"{start}{state}: {_do(found, node.do)}{odds}."
    best = node.next_best
    if best is None:
        return words
    other = "to stop" if best.do == "stop" else f"run {best.do}"
    if best.costs_more.resolved(node.cost_from_here.value) and money.shows(best.costs_more.value):
        return f"{words} Next best {other}: {money.short(best.costs_more.value)} more."
    return f"{words} About equal: {other}."


def _notes(found: Plan, money: Amounts) -> list[str]:
    lines = wrap(
        "Each line: the outcome and the chance to get there, what is then believed and holds, the "
        "order, and what the next best one costs more."
    )
    if found.folded:
        lines += wrap(
            f"{found.folded} branches with less than {100 * found.folded_below:g} % chance each "
            "are left out here; the plan counts them."
        )
    lines += wrap(f"{found.states:,} states were looked at.")
    if found.gap > 0:
        lines += wrap(
            "There are more, in which fishing stops: to look at them too would save no more than "
            f"{money.full(found.gap)}."
        )
    return lines


def _do(found: Plan, do: Do) -> str:
    return "stop" if do == "stop" else f"run {do}, {one_line(found.scenario.run[do - 1].name)}"


def _error(value: Estimate, money: Amounts) -> str:
    error = f" (+-{money.short(value.error)})" if money.shows(value.error) else ""
    return f"{money.short(value.value)}{error}"
