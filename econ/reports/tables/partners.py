"""Tables of the partners: calls by week, and what a wait costs each of them.

Gross calls are in whole units of currency, slice by slice; nets are shared by
`econ.job.shares` by differences of sums so far. So both end at what is granted and at the mean.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from econ.decision import Answer
from econ.decision.call_schedule import Week, call_schedule, flows
from econ.decision.interests import Interests, interests
from econ.decision.reply import Reply, reply
from econ.job.shares import calls, shared, taker, units
from econ.reports.tables.plain import Row

CASES = ("expected", "granted")  # on average, and as the signature grants it
GROSS = "gross"


@dataclass(frozen=True)
class PartnerPage:
    """What one partner pays. calls: by week, on average and as granted [currency]; hour,
    fishing_hour: own share of an hour of spread, without and with fishing services; until_reply:
    own share of the rig standing by until the reply is due, by_then: of what is spent by then on
    average if the work goes on [currency]; declines: whether it does not pay for the fallback."""

    name: str
    operator: bool
    declines: bool
    calls: tuple[tuple[float, float], ...]
    hour: float
    fishing_hour: float
    until_reply: float
    by_then: float


@dataclass(frozen=True)
class Partners:
    """The pages of all partners, the weeks with their gross calls, and the reply asked for."""

    pages: tuple[PartnerPage, ...]
    weeks: tuple[Week, ...]
    gross: tuple[tuple[float, float], ...]  # by week, on average and as granted [currency]
    reply: Reply


def partners(answer: Answer) -> Partners:
    """What every partner of an answer is asked for.

    >>> import econ
    >>> found = partners(econ.answer(econ.load("scenarios/point/a_land_twist_off.toml")))
    >>> [sum(granted for _, granted in page.calls) for page in found.pages]
    [660626.25, 264250.5, 132125.25]
    """
    own, scenario = interests(answer.scenario), answer.scenario
    decimals = scenario.currency_decimals
    weeks, asked = call_schedule(answer), reply(answer)
    rest_to = None
    if own.names and scenario.afe.rounding == "operator_takes_rest":
        rest_to = taker(own.fishing, own.operator)
    branches = [_branches(weeks, case) for case in CASES]
    called = [_calls(each, own, decimals, rest_to) for each in branches]
    by_then = [0.0, 0.0]  # of fishing with what follows it, of the fallback
    for flow in flows(answer):
        by_then[flow.slice == "2"] += flow.expected * flow.until(asked.from_now / 24.0)
    standing = units(float(units(asked.standing, decimals=0)), decimals=decimals)
    waits = shared(standing, own.fishing, rest_to=rest_to) if own.names else []
    pages = []
    for number, name in enumerate(own.names):
        share = own.fishing[number]
        pages.append(
            PartnerPage(
                name=name,
                operator=number == own.operator,
                declines=scenario.partner[number].declines_fallback,
                calls=tuple(zip(called[0][number], called[1][number], strict=True)),
                hour=share * asked.spread_hour,
                fishing_hour=share * asked.fishing_hour,
                until_reply=waits[number] / 10**decimals,
                by_then=share * by_then[0] + own.fallback[number] * by_then[1],
            )
        )
    gross = [[sum(week) for week in zip(*each, strict=True)] for each in branches]
    return Partners(tuple(pages), weeks, tuple(zip(*gross, strict=True)), asked)


def _branches(weeks: Sequence[Week], case: str) -> list[list[float]]:
    """What fishing and the fallback call by week: of each slice the rise of its rounded sum so
    far."""
    found: list[list[float]] = [[], []]
    so_far, before = [0.0, 0.0, 0.0], [0, 0, 0]
    for week in weeks:
        so_far = [old + new for old, new in zip(so_far, getattr(week, case), strict=True)]
        now = [units(each, decimals=0) for each in so_far]
        now = [max(old, new) for old, new in zip(before, now, strict=True)]  # of an unsure 0
        fishing, out, fallback = (new - old for old, new in zip(before, now, strict=True))
        found[0].append(float(fishing + out))
        found[1].append(float(fallback))
        before = now
    return found


def _calls(
    gross: Sequence[Sequence[float]], own: Interests, decimals: int, rest_to: int | None
) -> list[list[float]]:
    """Calls of each partner by week. gross: of fishing and of the fallback."""
    if not own.names:
        return []
    return calls(gross, [own.fishing, own.fallback], decimals=decimals, rest_to=rest_to)


def call_rows(answer: Answer) -> list[Row]:
    """A row for each week and partner, and for the gross; no totals."""
    found = partners(answer)
    rows: list[Row] = []
    for number, week in enumerate(found.weeks):
        named = {GROSS: found.gross[number]}
        named |= {page.name: page.calls[number] for page in found.pages}
        for name, (expected, granted) in named.items():
            rows.append(
                {
                    "week": number + 1,
                    "first_day": None if week.first is None else week.first.isoformat(),
                    "from_day": week.begins,
                    "to_day": week.ends,
                    "partner": name,
                    "expected": expected,
                    "granted": granted,
                }
            )
    return rows
