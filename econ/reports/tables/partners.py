"""Tables of the partners: own shares by slice, calls by week, what a wait costs each of them.

Amounts are shared by `econ.job.shares`: whole amounts by the interests of their branch, calls one
after another by differences. A P90 is shared by the interest, unrounded: it is no amount that is
paid.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from econ.decision import Answer
from econ.decision.call_schedule import SLICES, Week, call_schedule
from econ.decision.interests import Interests, interests
from econ.decision.reply import Reply, reply
from econ.job.shares import calls, shared, taker, units
from econ.reports.tables.plain import Row

CASES = ("expected", "planned")  # on average, and if every run fails
GROSS = "gross"


@dataclass(frozen=True)
class SliceShare:
    """A slice of one partner: interest in it, chance, and the net of what it is planned at, of its
    mean where it is drawn, of its P90, and of chance x mean [currency]."""

    slice: str
    interest: float
    chance: float
    planned: float
    mean: float
    p90: float
    expected: float


@dataclass(frozen=True)
class PartnerPage:
    """What one partner is asked for. calls: by week, on average and if every run fails [currency];
    hour, fishing_hour: own share of an hour of spread, without and with fishing services;
    until_reply: own share of that until the reply is due [currency]; declines: whether it does not
    pay for the fallback."""

    name: str
    operator: bool
    declines: bool
    slices: tuple[SliceShare, ...]
    calls: tuple[tuple[float, float], ...]
    hour: float
    fishing_hour: float
    until_reply: float


@dataclass(frozen=True)
class Partners:
    """The pages of all partners, the weeks, and the reply that is asked for."""

    pages: tuple[PartnerPage, ...]
    weeks: tuple[Week, ...]
    reply: Reply
    decimals: int

    def gross(self, week: Week) -> tuple[float, float]:
        """What a week calls in all, on average and if every run fails [currency]."""
        return sum(week.expected), sum(week.planned)


def partners(answer: Answer) -> Partners:
    """What every partner of an answer is asked for.

    >>> import econ
    >>> found = partners(econ.answer(econ.load("scenarios/point/a_land_twist_off.toml")))
    >>> [page.slices[0].planned for page in found.pages]
    [180700.43, 72280.17, 36140.09]
    """
    own, scenario = interests(answer.scenario), answer.scenario
    decimals = scenario.currency_decimals
    weeks, asked = call_schedule(answer), reply(answer)
    rest_to = None
    if own.names and scenario.afe.rounding == "operator_takes_rest":
        rest_to = taker(own.fishing, own.operator)
    called = [_calls(weeks, own, case, decimals, rest_to) for case in CASES]
    by_slice = [_nets(answer, number, own, decimals, rest_to) for number in range(len(SLICES))]
    pages = []
    for number, name in enumerate(own.names):
        share = own.fishing[number]
        pages.append(
            PartnerPage(
                name=name,
                operator=number == own.operator,
                declines=scenario.partner[number].declines_fallback,
                slices=tuple(each[number] for each in by_slice),
                calls=tuple(zip(called[0][number], called[1][number], strict=True)),
                hour=share * asked.spread_hour,
                fishing_hour=share * asked.fishing_hour,
                until_reply=share * asked.standing,
            )
        )
    return Partners(tuple(pages), weeks, asked, decimals)


def _of(own: Interests, slice_: str) -> tuple[float, ...]:
    """The interests in a slice."""
    return own.fallback if slice_ == "2" else own.fishing


def _nets(
    answer: Answer, number: int, own: Interests, decimals: int, rest_to: int | None
) -> list[SliceShare]:
    """A slice as each partner has it."""
    if not own.names:
        return []
    each = answer.authority.call.slices[number]
    parts = _of(own, each.slice)

    def nets(amount: float) -> list[float]:
        whole = units(amount, decimals=decimals)
        return [net / 10**decimals for net in shared(whole, parts, rest_to=rest_to)]

    rows = zip(parts, nets(each.planned), nets(each.mean), nets(each.expected), strict=True)
    return [
        SliceShare(each.slice, part, each.chance, planned, mean, part * each.p90, expected)
        for part, planned, mean, expected in rows
    ]


def _calls(
    weeks: Sequence[Week], own: Interests, case: str, decimals: int, rest_to: int | None
) -> list[list[float]]:
    """Calls of each partner by week, in one case."""
    if not own.names:
        return []
    fishing = [sum(getattr(week, case)[:2]) for week in weeks]
    fallback = [getattr(week, case)[2] for week in weeks]
    return calls(
        [[max(each, 0.0) for each in fishing], fallback],
        [own.fishing, own.fallback],
        decimals=decimals,
        rest_to=rest_to,
    )


def call_rows(answer: Answer) -> list[Row]:
    """A row for each week and partner, and for the gross; no totals."""
    found = partners(answer)
    rows: list[Row] = []
    for number, week in enumerate(found.weeks):
        named = {GROSS: found.gross(week)} | {page.name: page.calls[number] for page in found.pages}
        for name, (expected, planned) in named.items():
            rows.append(
                {
                    "week": number + 1,
                    "first_day": None if week.first is None else week.first.isoformat(),
                    "from_day": week.begins,
                    "to_day": week.ends,
                    "partner": name,
                    "expected": expected,
                    "if_every_run_fails": planned,
                }
            )
    return rows
