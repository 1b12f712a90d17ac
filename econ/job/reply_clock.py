"""The clock by which partners reply: hours that run on all days, or on working days alone.

A notice at t with h hours to reply is due at the first moment by which h hours have run,

    due(t)    = min { u >= t : R(t, u) >= h }
    latest(u) = max { t <= u : R(t, u) >= h },   the last moment to ask for a reply by u

where R(t, u) is the time between t and u [h], less Saturdays, Sundays and holidays where the
clock is of working days. A day begins and ends by the clock of its time zone, and an hour is an
hour that passes: on the night when clocks are put forward a day has 23 of them. Moments without
a zone are taken as they stand, on a clock that is never put forward or back.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from typing import Literal

Days = Literal["calendar", "working"]
HOUR = timedelta(hours=1)
DAY = timedelta(days=1)
REST = (5, 6)  # weekdays of Saturday and Sunday, Monday is 0


@dataclass(frozen=True)
class ReplyClock:
    """hours: that partners have [h]; days: on which they run; zone: in which days begin, None for
    that of a moment; holidays: days besides Saturday and Sunday on which working hours rest.

    >>> clock = ReplyClock(48.0, days="working")
    >>> clock.due(datetime(2026, 3, 14, 6)).isoformat()  # asked on a Saturday
    '2026-03-18T00:00:00'
    >>> clock.latest(datetime(2026, 3, 18, 10)).isoformat()
    '2026-03-16T10:00:00'
    """

    hours: float
    days: Days = "calendar"
    zone: tzinfo | None = None
    holidays: frozenset[date] = field(default_factory=frozenset)

    def works(self, day: date) -> bool:
        """Whether the hours run on a day."""
        rests = day.weekday() in REST or day in self.holidays
        return self.days == "calendar" or not rests

    def due(self, notice: datetime) -> datetime:
        """When a reply to a notice is due."""
        now, left = self._absolute(notice), self.hours * HOUR
        if self.days == "calendar":
            return self._as(notice, now + left)
        while left > timedelta(0):
            day = self._local(now, notice).date()
            end = self._midnight(day + DAY, notice)
            if self.works(day):
                if left <= end - now:
                    return self._as(notice, now + left)
                left -= end - now
            now = end
        return self._as(notice, now)

    def latest(self, needed: datetime) -> datetime:
        """The last moment for a notice whose reply is due by `needed`."""
        now, left = self._absolute(needed), self.hours * HOUR
        if self.days == "calendar":
            return self._as(needed, now - left)
        while left > timedelta(0):
            day = self._local(now - timedelta.resolution, needed).date()
            begin = self._midnight(day, needed)
            if self.works(day):
                if left <= now - begin:
                    return self._as(needed, now - left)
                left -= now - begin
            now = begin
        return self._as(needed, now)

    def waiting(self, notice: datetime) -> float:
        """Hours that pass from a notice until the reply is due [h]."""
        return self.between(notice, self.due(notice)) * 24.0

    def later(self, moment: datetime, days: float) -> datetime:
        """The moment so many days after another [d]; in the zone, on the clock there."""
        return self._as(moment, self._absolute(moment) + days * DAY)

    def between(self, first: datetime, second: datetime) -> float:
        """Days that pass from one moment to another [d]."""
        return (self._absolute(second) - self._absolute(first)) / DAY

    def _zone(self, like: datetime) -> tzinfo:
        return self.zone or like.tzinfo or UTC

    def _absolute(self, moment: datetime) -> datetime:
        """A moment in universal time: where it has no zone, that of the clock."""
        zone = self._zone(moment)
        told = moment if moment.tzinfo is not None else moment.replace(tzinfo=zone)
        return told.astimezone(UTC)

    def _local(self, absolute: datetime, like: datetime) -> datetime:
        return absolute.astimezone(self._zone(like))

    def _as(self, like: datetime, absolute: datetime) -> datetime:
        """A moment written as another is: with its zone, or with none."""
        local = self._local(absolute, like)
        return local.replace(tzinfo=None, fold=0) if like.tzinfo is None else local

    def _midnight(self, day: date, like: datetime) -> datetime:
        return datetime.combine(day, time(), tzinfo=self._zone(like)).astimezone(UTC)


def reply_clock(
    hours: float, *, days: Days, zone: str, holidays: Iterable[date] = ()
) -> ReplyClock:
    """The clock of a file. zone: name of a time zone, empty for none."""
    found: tzinfo | None = None
    if zone:
        from zoneinfo import ZoneInfo  # few files name one

        found = ZoneInfo(zone)
    return ReplyClock(hours, days=days, zone=found, holidays=frozenset(holidays))
