"""What the next hours ask for: what to do after each outcome, whom to ask until when, which tools.

The orders follow the policy that the verdict names: the plan where it pays, else the best limit or
the rule by state. An outcome that ends the job is an order as well. With d_k the day on which the
k-th run ends if all before it failed, fishing may stop for the first time on

    d = the least day on which the policy stops after a run made

and who answers after h hours has to be asked by d - h/24, on working days by the last moment from
which h of their hours run until d (`econ.decision.reply`), or now if that has passed. Outcomes that
lose the string or the hole may end it sooner; no one can be asked for these in advance of the job.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from econ.decision.answer import Answer
from econ.decision.plan import Do
from econ.decision.rentals import Action
from econ.decision.reply import last_day_to_ask
from econ.scenario.framed import Framed

LEAST = 0.0005  # a chance below which an outcome is not told


@dataclass(frozen=True, repr=False)
class Order(Framed):
    """What to do after an outcome of the next action. chance: of that outcome; do: the run (number
    from 1 as in the file) or the reading that comes then, "stop", or "recovered" where the fish is
    out."""

    outcome: str
    chance: float
    do: Do


@dataclass(frozen=True, repr=False)
class Back(Framed):
    """Mean days until drilling ahead at depth again, or until a fallback that leads elsewhere is
    done [d from now]; None where it does not come to that. recovered: with the fish out, fallback:
    with a fallback, stop_now: if fishing stops now; probability_recovered: of the policy."""

    recovered: float | None
    fallback: float | None
    stop_now: float | None
    probability_recovered: float


@dataclass(frozen=True, repr=False)
class Asked(Framed):
    """Money to ask for [currency] and until when. fishing: if all runs to the limit fail; fallback:
    P90 of what a fallback then takes, chance: that it is needed; given: what the authority has
    left, None without one; short: what is missing if all runs fail and the fallback costs its P90;
    by_day: the last day to ask [d from now], 0 for now, None where nobody has to be asked."""

    fishing: float
    fallback: float
    chance: float
    given: float | None
    short: float | None
    by_day: float | None


@dataclass(frozen=True, repr=False)
class ToolOrder(Framed):
    """What to do about a rented tool. run: that uses it next (from 1); day: when it is called out
    or released [d from now]; delivery: on the road [h]."""

    tool: str
    action: Action
    run: int | None
    day: float
    delivery: float


@dataclass(frozen=True, repr=False)
class Tonight(Framed):
    """The next action and what follows it.

    do: the run (from 1), the reading, or "stop"; by: the policy that says so; begins, ends: of that
    action [d from now]; most_runs, longest_days: that the policy may come to; orders: likeliest
    first, those that end the job last; if_nothing: what is done one after another if the action,
    and then every run, ends `nothing`.
    """

    do: Do
    by: Literal["limit", "rule", "plan"]
    begins: float
    ends: float | None
    most_runs: int
    longest_days: float
    orders: tuple[Order, ...]
    if_nothing: tuple[Do, ...]
    back: Back
    asked: Asked
    tools: tuple[ToolOrder, ...]

    def _rows(self) -> tuple[Order, ...]:
        return self.orders


def tonight(answer: Answer) -> Tonight:
    """The next hours of a job as its answer sees them.

    >>> import econ
    >>> from econ.decision.tonight import tonight
    >>> now = tonight(econ.answer(econ.load("scenarios/point/c_bit_cones.toml")))
    >>> now.do, [(order.outcome, order.do) for order in now.orders]
    (1, [('nothing', 2), ('recovered', 'recovered'), ('lost', 'stop')])
    """
    do, by = _first(answer)
    orders = tuple(_orders(answer, do, by)) if do != "stop" else ()
    begins = answer.timetable.begin
    first = answer.timetable.runs[0] if answer.timetable.runs else None
    ends = None
    if first is not None and do == first.run + 1:
        ends = first.end
    elif by == "plan" and answer.plan is not None:
        ends = next((node.day for node in answer.plan.nodes if node.parent == 0), None)
    return Tonight(
        do=do,
        by=by,
        begins=begins,
        ends=ends,
        most_runs=_most_runs(answer, by),
        longest_days=answer.plan.longest_days
        if by == "plan" and answer.plan is not None
        else answer.limit.days,
        orders=orders,
        if_nothing=tuple(_if_nothing(answer, by)) if do != "stop" else (),
        back=_back(answer, by),
        asked=_asked(answer, do, by),
        tools=tuple(_tools(answer)),
    )


def _first(answer: Answer) -> tuple[Do, Literal["limit", "rule", "plan"]]:
    """The first action, and the policy that it is of."""
    if answer.by == "plan" and answer.plan is not None:
        return answer.plan.nodes[0].do, "plan"
    state = next((state for state in answer.rule.states if not state.history), None)
    by: Literal["limit", "rule"] = "rule" if answer.rule.gain > 0 else "limit"
    if state is None or not state.go or state.run is None:
        return "stop", by
    return state.run + 1, by


def _orders(answer: Answer, do: Do, by: str) -> Iterator[Order]:
    """Outcomes of the first action by chance, then those that end the job."""
    going, out = [], 0.0
    if by == "plan":
        assert answer.plan is not None
        first = answer.plan.nodes[0]
        out = 0.0 if first.odds is None else first.odds.value
        for node in answer.plan.nodes:
            if node.parent == first.id and node.after is not None:
                going.append(Order(node.after, node.chance.value, node.do))
    else:
        out = answer.ahead[0].odds
        for state in answer.rule.after_next:
            next_run = "stop" if not state.go or state.run is None else state.run + 1
            going.append(Order(state.history[0], state.chance, next_run))
    told = (order for order in going if order.chance > LEAST and order.outcome != "...")
    yield from sorted(told, key=lambda order: -order.chance)
    if out > LEAST:
        yield Order("recovered", out, "recovered")
    lost = 1.0 - out - sum(order.chance for order in going)
    if isinstance(do, int) and lost > LEAST:
        yield Order("lost", lost, "stop")


def _if_nothing(answer: Answer, by: str) -> Iterator[Do]:
    """What the policy does one after another if nothing comes of anything."""
    if by != "plan" or answer.plan is None:
        failed = [s for s in answer.rule.states if s.history and {*s.history} == {"nothing"}]
        for state in sorted(failed, key=lambda state: state.runs):
            yield "stop" if not state.go or state.run is None else state.run + 1
        return
    here = 0
    while True:
        after = [node for node in answer.plan.nodes if node.parent == here]
        node = next((n for n in after if n.after in ("nothing", "reads_stubborn")), None)
        if node is None:
            return
        yield node.do
        here = node.id


def _back(answer: Answer, by: str) -> Back:
    limit, plan, times = answer.limit, answer.plan, answer.timetable
    stop = answer.by_runs[0].days_if_fallback
    if by != "plan" or plan is None:
        return Back(
            limit.days_if_recovered, limit.days_if_fallback, stop, limit.probability_recovered
        )
    out, stopped = plan.recovered_day, plan.stopped_day
    fallback = None
    if stopped is not None and stop is not None:
        fallback = stopped + stop - times.begin
    return Back(
        None if out is None else out + (times.recovery or 0.0),
        fallback,
        stop,
        plan.probability_recovered.value,
    )


def _asked(answer: Answer, do: Do, by: str) -> Asked:
    asked = answer.authority
    first, second = asked.stage_1, asked.stage_2
    planned, fallback = first.planned, second.p90
    if do == "stop":  # what is owed in any case goes with the fallback
        planned, fallback = 0.0, planned + fallback
    if do != "stop" and answer.best == 0:  # a plan or a rule makes runs that no limit makes
        spent = answer.quantities[min(_most_runs(answer, by), len(answer.quantities) - 1)]
        planned = sum(spent.planned.values())
    whole = planned + (fallback if second.probability > 0 else 0.0)
    short = None if asked.given is None else max(0.0, whole - asked.given)
    by_day = None
    if asked.response_hours > 0 and answer.ended != "recovered" and second.probability > 0:
        needed = _first_stop(answer, do, by)
        by_day = max(0.0, last_day_to_ask(answer.scenario, answer.now, needed=needed))
    chance = second.probability
    if by == "plan" and answer.plan is not None:
        chance = 1.0 - answer.plan.probability_recovered.value
    return Asked(planned, fallback, chance, asked.given, short, by_day)


def _most_runs(answer: Answer, by: str) -> int:
    """The most runs that a branch of the policy makes."""
    if by != "plan" or answer.plan is None:
        return max((state.runs + state.go for state in answer.rule.states), default=0)
    depth: dict[int, int] = {}
    for node in answer.plan.nodes:
        before = 0 if node.parent is None else depth[node.parent]
        depth[node.id] = before + isinstance(node.do, int)
    return max(depth.values())


def _first_stop(answer: Answer, do: Do, by: str) -> float:
    """The first day on which the policy stops after a run made [d from now]."""
    if do == "stop":
        return 0.0
    if by == "plan" and answer.plan is not None:
        stops = [node.day for node in answer.plan.nodes if node.do == "stop"]
        return min(stops, default=answer.timetable.begin)
    ends = [answer.timetable.begin, *(run.end for run in answer.timetable.runs)]
    made = [state.runs for state in answer.rule.states if not state.go]
    reached = min([*made, answer.best or len(ends) - 1])
    return ends[min(reached, len(ends) - 1)]


def _tools(answer: Answer) -> Iterator[ToolOrder]:
    """Tools that something has to be done about, the first first."""
    starts = {run.run + 1: run.start for run in answer.timetable.runs}
    delivery = {rental.tool: rental.delivery for rental in answer.scenario.rental}
    rows = []
    for contract in answer.contracts:
        if contract.action in ("lost", "keep"):
            continue
        day = 0.0
        if contract.action == "call_with_run" and contract.first_run is not None:
            day = starts.get(contract.first_run, 0.0)
        rows.append(
            ToolOrder(
                contract.tool, contract.action, contract.first_run, day, delivery[contract.tool]
            )
        )
    yield from sorted(rows, key=lambda row: row.day)
