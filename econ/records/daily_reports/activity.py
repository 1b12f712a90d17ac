"""What a daily drilling report says, as this program keeps it: reports, activities, what was told.

Times are hours since 1970 in UTC, or on the clock of the rig where a report names no zone.
Lengths are in ft, diameters in inches. What a report does not give is None or an empty text.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta, timezone

EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


@dataclass(frozen=True)
class Moment:
    """A time of a report: hours since 1970 in UTC, and the zone [h from UTC] it was told in."""

    hours: float
    zone: float | None = None

    def written(self) -> str:
        """As ISO text to the minute, in its own zone.

        >>> Moment(0.5, 1.0).written(), Moment(0.5).written()
        ('1970-01-01T01:30+01:00', '1970-01-01T00:30')
        """
        told = EPOCH + timedelta(minutes=round(self.hours * 60))
        if self.zone is None:
            return told.strftime("%Y-%m-%dT%H:%M")
        there = told.astimezone(timezone(timedelta(hours=self.zone)))
        return there.isoformat(timespec="minutes")


@dataclass(frozen=True)
class Activity:
    """One line of a report: what was done from `start` to `end`."""

    start: Moment
    end: Moment
    codes: tuple[str, ...] = ()  # those of the standard and of the company, the finest last
    failed: bool = False  # by its state
    state_detail: str = ""
    text: str = ""
    depth: float | None = None  # at its end [ft]
    bit: tuple[float | None, float | None] = (None, None)  # bit depth at start and end [ft]
    hole: tuple[float | None, float | None] = (None, None)  # hole depth at start and end [ft]
    unit: float | None = None  # ft in the length unit that the report is written in

    @property
    def hours(self) -> float:
        """Its length on the clock [h]."""
        return self.end.hours - self.start.hours


@dataclass(frozen=True)
class Report:
    """One daily report of one wellbore."""

    file: str
    well: str
    wellbore: str
    start: Moment | None = None
    end: Moment | None = None
    created: float = 0.0  # [h since 1970]; a later one replaces an earlier one of the same period
    hole_size: float | None = None  # [in]
    shoe: float | None = None  # [ft]
    activities: tuple[Activity, ...] = ()


@dataclass(frozen=True)
class Told:
    """Something in the reports that was not taken, or taken otherwise than it stands there."""

    what: str  # what was found
    done: str  # what was done with it
    where: str  # the first place
    count: int = 1
    hours: float = 0.0  # of activities that it touches

    def __str__(self) -> str:
        """In one sentence.

        >>> print(Told("an end before its start", "left out", "a.xml", 2))
        an end before its start, 2 times, first in a.xml: left out
        """
        many = f", {self.count:,} times, first" if self.count > 1 else ""
        hours = f" ({self.hours:,.1f} h)" if self.hours else ""
        return f"{self.what}{many} in {self.where}: {self.done}{hours}"


@dataclass
class Notebook:
    """Collects what is to be told, alike things once with their number."""

    told: dict[tuple[str, str], Told] = field(default_factory=dict)

    def tell(self, what: str, done: str, where: str, *, hours: float = 0.0) -> None:
        """Note one thing."""
        before = self.told.get((what, done))
        if before is None:
            self.told[what, done] = Told(what, done, where, hours=hours)
        else:
            self.told[what, done] = Told(
                what, done, before.where, before.count + 1, before.hours + hours
            )

    def all(self) -> tuple[Told, ...]:
        """All of it, in the order in which it was met."""
        return tuple(self.told.values())
