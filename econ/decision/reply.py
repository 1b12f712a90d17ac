"""When a reply of the partners is due, what waits for it, and what is spent until then.

The clock is `econ.job.reply_clock`. Times are days from now; where the file has no clock only the
hours themselves are known, and they run on all days.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from econ.job.reply_clock import ReplyClock, reply_clock
from econ.scenario import Scenario
from econ.scenario.framed import Framed

if TYPE_CHECKING:
    from econ.decision.answer import Answer


@dataclass(frozen=True, repr=False)
class Reply(Framed):
    """A reply to the question of a supplement.

    notice, due: when it is asked and due by the clock, None without one; zone: by which they are
    told, empty where the file names none; hours: that pass between
    the two [h]; stated: hours that the partners have [h]; working: whether these run on working
    days alone; from_now: hours from now until it is due, not below 0 [h]; spread_hour,
    fishing_hour: what an hour costs until then, the second with the fishing services [currency/h].
    """

    notice: datetime | None
    due: datetime | None
    zone: str
    hours: float
    stated: float
    working: bool
    from_now: float
    spread_hour: float
    fishing_hour: float

    @property
    def standing(self) -> float:
        """What standing by from now until the reply is due costs at the spread [currency]."""
        return self.from_now * self.spread_hour

    @property
    def fishing(self) -> float:
        """The same while fishing goes on, without charges of runs [currency]."""
        return self.from_now * self.fishing_hour


def clock_of(scenario: Scenario) -> ReplyClock:
    """The clock by which the partners of a scenario reply."""
    limits = scenario.limits
    return reply_clock(
        limits.response_hours,
        days=limits.response_days,
        zone=limits.time_zone,
        holidays=limits.holidays,
    )


def waiting_hours(scenario: Scenario, now: datetime | None) -> float:
    """Hours that pass from the notice, else from now, until a reply is due [h]."""
    clock, notice = clock_of(scenario), _asked_at(scenario, now)
    if notice is None or clock.days == "calendar":
        return clock.hours
    try:
        return clock.waiting(notice)
    except OverflowError:  # past the last year that a calendar holds
        return clock.hours


def last_day_to_ask(scenario: Scenario, now: datetime | None, *, needed: float) -> float:
    """The last day on which to ask for a reply by a day that it is `needed` [d from now]; below 0
    where that has passed."""
    clock = clock_of(scenario)
    if now is None or clock.days == "calendar":
        return needed - clock.hours / 24.0
    try:
        return clock.between(now, clock.latest(clock.later(now, needed)))
    except OverflowError:
        return needed - clock.hours / 24.0


def reply(answer: Answer) -> Reply:
    """The reply to the question as it stands: asked at the notice of the file, else now.

    >>> import econ
    >>> found = reply(econ.answer(econ.load("scenarios/point/c_bit_cones.toml")))
    >>> f"{found.due:%a %d %b %H:%M}, {found.hours:.0f} h"
    'Wed 06 May 00:00, 92 h'
    """
    clock = clock_of(answer.scenario)
    prices = answer.prices
    notice, due = _asked_at(answer.scenario, answer.now), None
    from_now = clock.hours
    if notice is not None and answer.now is not None:
        try:
            due = clock.due(notice)
        except OverflowError:
            notice = None
        else:
            from_now = max(0.0, clock.between(answer.now, due) * 24.0)
    return Reply(
        notice=notice,
        due=due,
        zone=zone_of(answer.scenario, notice),
        hours=answer.authority.waiting_hours,
        stated=clock.hours,
        working=clock.days == "working",
        from_now=from_now,
        spread_hour=prices.spread_day / 24.0,
        fishing_hour=(prices.spread_day + prices.fishing_day) / 24.0,
    )


def zone_of(scenario: Scenario, moment: datetime | None) -> str:
    """The time zone in which moments of a reply are told, empty where the file names none."""
    told = scenario.limits.time_zone
    if told or moment is None:
        return told
    return moment.tzname() or ""


def _asked_at(scenario: Scenario, now: datetime | None) -> datetime | None:
    told = scenario.limits.notice_at
    return told if now is not None and isinstance(told, datetime) else now
