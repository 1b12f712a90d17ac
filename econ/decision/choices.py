"""What could be done instead: every fallback now, each limit, the plan, a reading, to wait.

A fallback taken now is the same job with every run and every other fallback barred, walked on the
same draws; so its percentiles are those of a stop that leaves no choice. To suspend or to give no
answer is no end of the job: it costs the spread for as long as it lasts and brings nothing.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from econ.decision.limits import by_runs
from econ.decision.readings import ReadingWorth
from econ.decision.reply import reply
from econ.decision.run_log import inputs_after
from econ.decision.tonight import tonight
from econ.engine.curves import Tally
from econ.scenario import Scenario
from econ.scenario.framed import Framed
from econ.scenario.marks import ATTACHED

if TYPE_CHECKING:
    from econ.decision.answer import Answer

Sort = Literal["fallback", "limit", "end", "plan", "reading", "suspend", "nothing"]
NEVER = "never"  # a mark that nothing gives
MOST_DRAWS = 1024  # of each scramble, for percentiles of a fallback


@dataclass(frozen=True, repr=False)
class Choice(Framed):
    """Something that could be done.

    sort: what it is; name: of the fallback, run or reading, empty for none; runs: at the most;
    days: until the work is done for a fallback, if every run fails for a limit [d], None where it
    has no end; mean, p10, p50, p90: of all costs from now on, of a reading its price and of a wait
    what it adds [currency], None where they are not worked out; given_up: the part of the mean
    that is value of the well and is not spent [currency]; recovered: chance; day: what a day
    of it costs, of what has no end of its own [currency/d]; asked: whether the supplement asks for
    it; ruled_out: why it may not be done, empty where it may: runs (fewer than are required) or
    closed (a fallback that is not open now).
    """

    sort: Sort
    name: str = ""
    runs: int | None = None
    days: float | None = None
    mean: float | None = None
    p10: float | None = None
    p50: float | None = None
    p90: float | None = None
    given_up: float | None = None
    recovered: float | None = None
    day: float | None = None
    asked: bool = False
    ruled_out: Literal["", "runs", "closed"] = ""


def choices(answer: Answer) -> tuple[Choice, ...]:
    """All that could be done, from stopping now to going on to the end.

    >>> import econ
    >>> found = choices(econ.answer(econ.load("scenarios/point/c_bit_cones.toml")))
    >>> [choice.sort for choice in found]
    ['fallback', 'limit', 'end', 'suspend', 'nothing']
    """
    return tuple(_choices(answer))


def required_runs(answer: Answer) -> int:
    """Runs that must still be made before a fallback."""
    return inputs_after(answer.scenario, answer.log).minimum_runs


def _choices(answer: Answer) -> Iterator[Choice]:
    least = required_runs(answer)
    if answer.ended is None:
        yield from _fallbacks(answer, least)
    for runs in sorted({answer.best, len(answer.by_runs) - 1}):
        if runs == 0 and answer.ended is None:
            continue  # a fallback now
        row = answer.by_runs[runs]
        yield Choice(
            "limit" if runs == answer.best else "end",
            runs=row.runs,
            days=row.days,
            mean=row.expected_cost,
            p10=row.p10,
            p50=row.p50,
            p90=row.p90,
            given_up=answer.quantities[runs].expected["value_given_up"],
            recovered=row.probability_recovered,
            asked=runs == answer.best,
            ruled_out="runs" if runs < least else "",
        )
    if answer.by == "plan" and answer.plan is not None:
        plan = answer.plan
        yield Choice(
            "plan",
            _first(answer),
            runs=tonight(answer).most_runs,
            days=plan.longest_days,
            mean=plan.expected_cost.value,
            recovered=plan.probability_recovered.value,
        )
    for each in advised(answer):
        yield Choice("reading", each.name, days=each.hours / 24.0, mean=each.price)
    day, wait = answer.prices.spread_day, reply(answer)
    yield Choice("suspend", runs=0, recovered=0.0, day=day)
    days = wait.from_now / 24.0
    yield Choice("nothing", runs=0, days=days, mean=wait.standing, recovered=0.0, day=day)


def advised(answer: Answer) -> tuple[ReadingWorth, ...]:
    """The readings that are worth more than their price, beyond the error."""
    if answer.ended is not None:
        return ()
    return tuple(each for each in answer.information.readings if each.buy and each.clear)


def readings(answer: Answer) -> tuple[ReadingWorth, ...]:
    """The readings that are paid for: the next action, if it is one, and those that are advised."""
    do = tonight(answer).do
    known = {each.name: each for each in answer.information.readings if each.price is not None}
    first = [known[do]] if isinstance(do, str) and do in known else []
    return tuple({each.name: each for each in (*first, *advised(answer))}.values())


def _first(answer: Answer) -> str:
    """The first action of the plan in words of the file."""
    assert answer.plan is not None
    do = answer.plan.nodes[0].do
    if isinstance(do, int):
        return f"run {do}, {answer.scenario.run[do - 1].name}"
    return answer.fallbacks.taken.name if do == "stop" else f"the reading {do}"


def _fallbacks(answer: Answer, least: int) -> Iterator[Choice]:
    """Every fallback now, with its percentiles."""
    n = min(answer.draws, MOST_DRAWS)
    hold = set(answer.as_left.fish.marks) - {ATTACHED}  # parting takes it before a fallback
    for number, row in enumerate(answer.fallbacks.rows):
        section = answer.scenario.fallback[number]
        if not hold.issuperset(section.needs) or hold.intersection(section.bars):
            yield Choice("fallback", row.name, ruled_out="closed")
            continue
        tally = Tally(inputs_after(_alone(answer.scenario, number), answer.log))
        tally.extend(n)
        found = by_runs(tally.curves())[0]
        yield Choice(
            "fallback",
            row.name,
            runs=0,
            days=found.days_if_fallback,
            mean=found.expected_cost,
            p10=found.p10,
            p50=found.p50,
            p90=found.p90,
            given_up=row.value_given_up,
            recovered=0.0,
            asked=answer.best == 0 and "now" in row.taken,
            ruled_out="runs" if least else "",
        )


def _alone(scenario: Scenario, number: int) -> Scenario:
    """The same job where no run can be made and no other fallback is open."""
    runs = [run.model_copy(update={"needs": [*run.needs, NEVER]}) for run in scenario.run]
    left = [
        each if place == number else each.model_copy(update={"needs": [*each.needs, NEVER]})
        for place, each in enumerate(scenario.fallback)
    ]
    limits = scenario.limits.model_copy(update={"minimum_runs": 0})
    return scenario.model_copy(update={"run": runs, "fallback": left, "limits": limits})
