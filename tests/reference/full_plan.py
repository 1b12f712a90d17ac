"""Reference plan: every history of a job, none merged, each walked in plain numbers.

A policy allows some actions after each history h, and the one of least expected cost is taken. With
B(h) the chance of the history and T the expected total cost of a job that ends there,

    V(h) = B(h) T(h)  where the job has ended, else
           min( B(h) T(h, stop),  min over allowed runs and readings a of sum_o V(h, a, o) )

A limit allows one action, the rule by state the next run of the list or to stop, the plan all that
can be made. What a history says is worked in `histories`.
"""

import copy
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import TypeAlias

from .histories import STOP, History, Odds, Rules
from .job import Table

Order: TypeAlias = tuple[int, ...]  # numbers of runs, from 1
Do: TypeAlias = int | str  # number of a run, name of a reading, or "stop"


@dataclass(frozen=True)
class Value:
    """Sums over all ends below a history, each weighted with its chance."""

    cost: float  # total from now, money on the way included [currency]
    recovered: float  # chance that the fish comes out
    waived: float  # chance that fishing stops short of the minimum because no run can be made


@dataclass(frozen=True)
class Node:
    """What the plan does after one history that it can come to and that has not ended the job."""

    history: tuple[tuple[Do, str], ...]  # action and outcome, from the start
    do: Do
    chance: float
    belief: dict[str, float]  # chance that each doubt holds
    odds: Odds  # of the outcomes of what is done; empty for stopping
    fish_top: float  # [ft]
    marks: frozenset[str]
    cost_from_here: float  # [currency]
    next_best: Do | None  # None where nothing else is allowed
    costs_more: float | None  # [currency]
    waived: bool


@dataclass(frozen=True)
class Plan:
    """The plan of least expected cost; the nodes come parents first."""

    value: Value
    nodes: tuple[Node, ...]


Allowed: TypeAlias = Callable[[History], list[int]]


# ---- policies ---------------------------------------------------------------------------------


def _follow(
    rules: Rules, history: History, allowed: Allowed, *, told: bool
) -> tuple[Value, tuple[Node, ...]]:
    """Return V of a history, and where `told` the nodes of what is done from there on."""
    chance = history.chance
    if history.ended_by:
        out = chance if history.ended_by == "recovered" else 0.0
        return Value(chance * rules.total(history), out, 0.0), ()

    found: dict[int, tuple[Value, Odds, tuple[Node, ...]]] = {}
    short = sum(rules.counts(history).values()) < rules.minimum
    for action in allowed(history):
        if action == STOP:
            cost = chance * rules.total(history)
            found[STOP] = Value(cost, 0.0, chance if short else 0.0), {}, ()
            continue
        following = rules.after(history, action)
        odds = {outcome: each.chance / chance for outcome, each in following.items()}
        below = [_follow(rules, each, allowed, told=told) for each in following.values()]
        value = Value(
            cost=sum(each.cost for each, _ in below),
            recovered=sum(each.recovered for each, _ in below),
            waived=sum(each.waived for each, _ in below),
        )
        found[action] = value, odds, tuple(node for _, nodes in below for node in nodes)

    first, *others = sorted(found, key=lambda action: found[action][0].cost)
    value, odds, nodes = found[first]
    if not told:
        return value, ()

    def name(action: int) -> Do:
        if action == STOP:
            return "stop"
        named = action > rules.runs
        return str(rules.scenario["run"][action - 1]["name"]) if named else action

    node = Node(
        history=tuple((name(made.number), made.outcome) for made in history.made),
        do=name(first),
        chance=chance,
        belief=rules.belief(history),
        odds=odds,
        fish_top=history.fish_top,
        marks=history.marks,
        cost_from_here=value.cost / chance - rules.sunk(history),
        next_best=name(others[0]) if others else None,
        costs_more=(found[others[0]][0].cost - value.cost) / chance if others else None,
        waived=first == STOP and short,
    )
    return value, (node, *nodes)


def plan(raw: Table, *, longest: int | None = None, told: bool = True) -> Plan:
    """Return the plan: in every state any run that can be made, a reading once, or stop.

    Stopping is not allowed short of the minimum while a run not made yet can be made. `longest`
    ends every history after so many runs, which gives an upper bound of the cost. Without `told`
    there are no nodes.
    """
    rules = Rules(raw)

    def allowed(history: History) -> list[int]:
        counts = rules.counts(history)
        made = sum(counts.values())
        if longest is not None and made >= longest:
            return [STOP]
        able = [n for n in range(1, rules.runs + 1) if rules.able(n, history)]
        left = [n for n in able if counts[n] < rules.scenario["run"][n - 1].get("at_most", 1)]
        read = {made.number for made in history.made}
        readings = [
            n
            for n in range(rules.runs + 1, len(rules.scenario["run"]) + 1)
            if n not in read and rules.able(n, history)
        ]
        owed = made < rules.minimum and any(counts[n] == 0 for n in able)
        return [*([] if owed else [STOP]), *left, *readings]

    return Plan(*_follow(rules, rules.beginning(), allowed, told=told))


def _list(
    raw: Table, order: Order, *, limit: int, days: float | None = None, choose: bool = False
) -> Value:
    """Return what a priority list comes to: always the first place left whose run can be made."""
    rules = Rules(raw)

    def allowed(history: History) -> list[int]:
        counts = rules.counts(history)
        made, used = sum(counts.values()), Counter[int]()
        places = []
        for number in order:
            used[number] += 1
            if used[number] > counts[number]:  # a run in the order twice takes its places in turn
                places.append(number)
        can = [number for number in places if rules.able(number, history)]
        if made < rules.minimum:
            every = range(1, rules.runs + 1)
            if not can and any(counts[n] == 0 and rules.able(n, history) for n in every):
                raise ValueError(f"order {order} leaves out a run that the minimum still asks for")
            return can[:1] or [STOP]
        within = made < limit and (days is None or rules.days(history) < days)
        if not can or not within:
            return [STOP]
        return [STOP, can[0]] if choose else [can[0]]

    return _follow(rules, rules.beginning(), allowed, told=False)[0]


def _as_listed(raw: Table) -> Order:
    return tuple(range(1, len(raw.get("run", [])) + 1))


def limit(raw: Table, n: int | None = None, *, days: float | None = None) -> Value:
    """Return what stopping after `n` runs made, or starting none after `days`, comes to."""
    order = _as_listed(raw)
    return _list(raw, order, limit=len(order) if n is None else n, days=days)


def list_rule(raw: Table) -> Value:
    """Return what the rule by state over the list of the file comes to."""
    order = _as_listed(raw)
    return _list(raw, order, limit=len(order), choose=True)


def sequence(raw: Table, order: Order, limit: int) -> Value:
    """Return what an order of runs comes to, walked as a priority list to `limit` runs made.

    A run may stand in it more than once. An order that stops short of the minimum while a run of
    the file that was not made could be made raises ValueError.
    """
    return _list(raw, order, limit=limit)


def sequences(raw: Table, *, longest: int | None = None) -> Iterator[tuple[Order, int]]:
    """Yield every order with every limit, each run at most as often as the plan may make it.

    Where no run has a condition nothing is passed over, and an order is walked to its end: a lower
    limit is a shorter order.
    """
    runs = raw.get("run", [])
    conditions = ("needs", "bars", "after")
    passes = any(run.get(key) for run in runs for key in conditions)
    passes = passes or "attached" in raw["fish"].get("marks", [])
    passes = passes or any("attached" in run.get("gives", []) for run in runs)

    def orders(start: Order) -> Iterator[Order]:
        yield start
        if longest is None or len(start) < longest:
            for number, run in enumerate(runs, start=1):
                if start.count(number) < run.get("at_most", 1):
                    yield from orders((*start, number))

    for order in orders(()):
        for most in range(len(order) + 1) if passes else (len(order),):
            yield order, most


def best_sequence(raw: Table, *, longest: int | None = None) -> tuple[Order, int, Value]:
    """Return the cheapest order with its limit; of equal ones the least limit, the least order."""
    found = []
    for order, most in sequences(raw, longest=longest):
        try:
            found.append((order, most, sequence(raw, order, most)))
        except ValueError:  # short of the minimum by leaving out runs
            continue
    return min(found, key=lambda each: (round(each[2].cost, 6), each[1], len(each[0]), each[0]))


def knowing(raw: Table, doubt: str, *, holds: bool) -> Table:
    """Return a copy in which a doubt is known as it is now."""
    other = copy.deepcopy(raw)
    if "doubt" not in other:
        other.setdefault("fishing", {})["workable"] = float(holds)
    for each in other.get("doubt", []):
        if each["name"] == doubt:
            each["workable"] = float(holds)
    return other


def worth_of_knowing(raw: Table, doubt: str, policy: Callable[[Table], Value]) -> float:
    """Return what `policy` gains where a doubt is known before the first decision [currency]."""
    prior = Rules(raw).doubts[doubt]
    told = [policy(knowing(raw, doubt, holds=holds)).cost for holds in (True, False)]
    return policy(raw).cost - prior * told[0] - (1.0 - prior) * told[1]
