"""Tables of the next hours: orders, dates of being back at depth, what to ask and until when."""

from __future__ import annotations

from datetime import datetime

from econ.decision import Answer
from econ.decision.plan import Do
from econ.decision.reply import clock_of
from econ.decision.tonight import Tonight
from econ.decision.tonight import tonight as next_hours
from econ.reports.tables.plain import Row


def tonight(answer: Answer) -> Row:
    """The next hours as plain values; days are from now [d], moments by the clock of the file.

    >>> import econ
    >>> now = tonight(econ.answer(econ.load("scenarios/point/a_land_twist_off.toml")))
    >>> now["do"], now["by"], [row["outcome"] for row in now["orders"]]
    (1, 'plan', ['nothing', 'top_damaged', 'part', 'recovered', 'lost'])
    """
    found = next_hours(answer)
    back, asked = found.back, found.asked
    return {
        "do": found.do,
        "name": name_of(answer, found.do),
        "by": found.by,
        "begins_day": found.begins,
        "ends_day": found.ends,
        "ends": moment(answer, found.ends),
        "most_runs": found.most_runs,
        "longest_days": found.longest_days,
        "probability_recovered": back.probability_recovered,
        "expected_cost": expected_cost(answer, found),
        "back_at_depth": {
            "recovered_day": back.recovered,
            "recovered": moment(answer, back.recovered),
            "fallback_day": back.fallback,
            "fallback": moment(answer, back.fallback),
            "stop_now_day": back.stop_now,
            "stop_now": moment(answer, back.stop_now),
        },
        "orders": [
            {"outcome": order.outcome, "chance": order.chance, "do": order.do}
            for order in found.orders
        ],
        "if_nothing": list(found.if_nothing),
        "ask": {
            "fishing": asked.fishing,
            "fallback_p90": asked.fallback,
            "chance": asked.chance,
            "given": asked.given,
            "short": asked.short,
            "by_day": asked.by_day,
            "by": moment(answer, asked.by_day),
        },
        "tools": [
            {
                "tool": tool.tool,
                "action": tool.action,
                "run": tool.run,
                "day": tool.day,
                "at": moment(answer, tool.day),
                "delivery_hours": tool.delivery,
            }
            for tool in found.tools
        ],
        "hangs_on": [
            {
                "input": hinge.input,
                "words": hinge.words,
                "now": hinge.now,
                "flips_at": hinge.at,
                "amount": hinge.amount,
                "unit": hinge.unit,
                "below": hinge.below,
                "above": hinge.above,
            }
            for hinge in answer.hinges
        ],
    }


def name_of(answer: Answer, do: Do) -> str | None:
    """Name of a run or a reading; None of what is neither."""
    if isinstance(do, int):
        return answer.scenario.run[do - 1].name
    return None if do in ("stop", "recovered") else do


def expected_cost(answer: Answer, found: Tonight) -> float:
    """Expected cost of the policy that the orders follow [currency]."""
    if found.by == "plan" and answer.plan is not None:
        return answer.plan.expected_cost.value
    return answer.rule_cost.value if found.by == "rule" else answer.limit.expected_cost


def clock(answer: Answer, day: float | None) -> datetime | None:
    """The moment of a day from now; None where the file has no clock, or no calendar holds it."""
    if answer.now is None or day is None:
        return None
    try:
        return clock_of(answer.scenario).later(answer.now, day)
    except OverflowError:
        return None


def moment(answer: Answer, day: float | None) -> str | None:
    """The same in ISO form, to the minute."""
    when = clock(answer, day)
    return None if when is None else when.isoformat(timespec="minutes")
