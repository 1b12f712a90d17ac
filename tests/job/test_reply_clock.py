"""The clock of a reply: calendar hours, working hours, holidays, and clocks put forward or back.

Origins: weekdays, nights of the change and the hours of each day are the calendar's (the United
States change on the second Sunday of March and the first of November, the Union on the last
Sundays of March and October: published law); the sums are by hand. The slow version counts
minutes and shares no code with the package.
"""

from __future__ import annotations

import random
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from econ.job.reply_clock import Days, ReplyClock, reply_clock

CHICAGO, OSLO = ZoneInfo("America/Chicago"), ZoneInfo("Europe/Oslo")
SATURDAY = datetime(2026, 3, 14, 6)


def working(hours: float, *, zone: str = "", holidays: tuple[date, ...] = ()) -> ReplyClock:
    return reply_clock(hours, days="working", zone=zone, holidays=holidays)


def test_calendar_hours_run_on_a_saturday() -> None:
    clock = ReplyClock(48.0)
    assert clock.due(SATURDAY) == datetime(2026, 3, 16, 6)
    assert clock.latest(datetime(2026, 3, 16, 6)) == SATURDAY
    assert clock.waiting(SATURDAY) == 48.0


@pytest.mark.parametrize(
    ("notice", "due", "waiting"),
    [
        (SATURDAY, datetime(2026, 3, 18), 90.0),  # Monday and Tuesday, from their first minute
        (datetime(2026, 3, 15, 23, 59), datetime(2026, 3, 18), 48 + 1 / 60),
        (datetime(2026, 3, 13, 18), datetime(2026, 3, 17, 18), 96.0),  # 6 h of Friday, then 42
        (datetime(2026, 3, 16, 10), datetime(2026, 3, 18, 10), 48.0),  # midweek
        (datetime(2026, 3, 12), datetime(2026, 3, 14), 48.0),  # ends as Friday does
    ],
)
def test_working_hours_stand_still_at_the_week_end(
    notice: datetime, due: datetime, waiting: float
) -> None:
    clock = working(48.0)
    assert clock.due(notice) == due
    assert clock.waiting(notice) == pytest.approx(waiting, abs=1e-9)


def test_a_holiday_is_no_working_day() -> None:
    clock = working(48.0, holidays=(date(2026, 3, 17),))
    assert clock.due(SATURDAY) == datetime(2026, 3, 19)  # Monday and Wednesday
    assert ReplyClock(48.0, holidays=frozenset([date(2026, 3, 16)])).due(SATURDAY) == datetime(
        2026, 3, 16, 6
    )  # of calendar hours none rests


@pytest.mark.parametrize(
    ("needed", "latest"),
    [
        (datetime(2026, 3, 18, 10), datetime(2026, 3, 16, 10)),
        (datetime(2026, 3, 17, 10), datetime(2026, 3, 13, 10)),  # 34 h back to Monday, 14 of Friday
        (datetime(2026, 3, 15, 12), datetime(2026, 3, 12)),  # Friday and Thursday
        (datetime(2026, 3, 16), datetime(2026, 3, 12)),
    ],
)
def test_the_last_moment_to_ask(needed: datetime, latest: datetime) -> None:
    assert working(48.0).latest(needed) == latest


def test_clocks_are_put_forward() -> None:
    # 8 March 2026 has 23 hours in Chicago, 29 March in Oslo
    sunday = datetime(2026, 3, 7, 12)
    calendar = reply_clock(24.0, days="calendar", zone="America/Chicago")
    assert calendar.due(sunday) == datetime(2026, 3, 8, 13)
    assert calendar.waiting(sunday) == 24.0
    assert calendar.latest(datetime(2026, 3, 8, 13)) == sunday
    # Friday noon: 12 h of Friday, then 12 of Monday; between them 47 h of a week end, not 48
    friday = datetime(2026, 3, 27, 12)
    clock = working(24.0, zone="Europe/Oslo")
    assert clock.due(friday) == datetime(2026, 3, 30, 12)
    assert clock.waiting(friday) == 71.0
    assert working(24.0).waiting(friday) == 72.0  # without a zone no clock is moved


def test_clocks_are_put_back() -> None:
    # 1 November 2026 has 25 hours in Chicago
    friday = datetime(2026, 10, 30, 12)
    clock = working(24.0, zone="America/Chicago")
    assert clock.due(friday) == datetime(2026, 11, 2, 12)
    assert clock.waiting(friday) == 73.0
    # where a Sunday works, the hour that comes twice counts twice
    calendar = reply_clock(24.0, days="calendar", zone="America/Chicago")
    assert calendar.due(datetime(2026, 10, 31, 12)) == datetime(2026, 11, 1, 11)


def test_a_moment_keeps_its_zone_or_has_none() -> None:
    clock = working(48.0, zone="America/Chicago")
    told = datetime(2026, 3, 14, 11, tzinfo=UTC)  # 06:00 in Chicago
    due = clock.due(told)
    assert due == datetime(2026, 3, 18, 5, tzinfo=UTC)
    assert due.utcoffset() == timedelta(hours=-5)
    assert clock.due(SATURDAY).tzinfo is None
    # without a zone the day is that of the moment itself
    oslo = datetime(2026, 3, 14, 0, 30, tzinfo=OSLO)
    assert working(24.0).due(oslo) == datetime(2026, 3, 17, tzinfo=OSLO)


def slow(notice: datetime, minutes: int, zone: ZoneInfo | None, rest: set[date]) -> datetime:
    """Minute by minute in universal time."""
    now = notice.replace(tzinfo=zone or UTC).astimezone(UTC)
    while minutes:
        day = now.astimezone(zone or UTC).date()
        minutes -= day.weekday() < 5 and day not in rest
        now += timedelta(minutes=1)
    return now.astimezone(zone or UTC).replace(tzinfo=None)


@pytest.mark.parametrize("seed", range(6))
def test_the_slow_version_agrees(seed: int) -> None:
    dice = random.Random(seed)
    zone = ("", "America/Chicago", "Europe/Oslo")[seed % 3]
    start = datetime(2026, 3, 1) if seed % 2 else datetime(2026, 10, 22)
    for _ in range(5):
        notice = start + timedelta(minutes=dice.randrange(60 * 24 * 14))
        rest = {start.date() + timedelta(days=dice.randrange(30)) for _ in range(3)}
        minutes = dice.randrange(1, 60 * 72)
        clock = working(minutes / 60, zone=zone, holidays=tuple(rest))
        wanted = slow(notice, minutes, ZoneInfo(zone) if zone else None, rest)
        due = clock.due(notice)
        assert abs(due - wanted) < timedelta(seconds=1)
        # the last moment to ask for that reply is not before, and its reply is due no later
        latest = clock.latest(due)
        assert latest >= notice - timedelta(seconds=1)
        assert clock.due(latest) <= due + timedelta(seconds=1)


@pytest.mark.parametrize("days", ["calendar", "working"])
def test_no_hours_are_due_at_once(days: Days) -> None:
    clock = ReplyClock(0.0, days=days)
    assert clock.due(SATURDAY) == clock.latest(SATURDAY) == SATURDAY
