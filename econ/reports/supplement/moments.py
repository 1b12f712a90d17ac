"""Days and moments as a sheet counts them, and in words; which issue a number is of."""

from __future__ import annotations

from datetime import date, datetime, timedelta

from econ.decision import Answer
from econ.decision.reply import clock_of, zone_of
from econ.reports.supplement.cells import COMPARING, JOINING, Cell, Term, joined, when

EPOCH = datetime(1899, 12, 30)  # day 0 of a sheet
FIRST_YEAR = 1901  # before it a sheet's dates are not sure
HALF_MINUTE = 0.5 / 1440
DAYS = "SatSunMonTueWedThuFri"  # day 0 is a Saturday
MONTHS = "JanFebMarAprMayJunJulAugSepOctNovDec"
LOCAL = "local time at the well"  # the zone of a file that names none


def serial(moment: date) -> float | str:
    """A day or moment as a sheet counts it, without its time zone; in words before 1901.

    >>> serial(date(2026, 3, 1)), serial(datetime(2026, 3, 14, 6, 0))
    (46082.0, 46095.25)
    """
    if moment.year < FIRST_YEAR:
        return moment.isoformat()
    start = moment if isinstance(moment, datetime) else datetime(*moment.timetuple()[:3])
    return (start.replace(tzinfo=None) - EPOCH) / timedelta(days=1)


def in_words(moment: datetime) -> str:
    """A moment as these papers write it, without its time zone.

    >>> in_words(datetime(2026, 3, 18))
    'Tue 17 Mar 2026 24:00'
    """
    found = serial(moment)
    return found if isinstance(found, str) else str(moment_in_words(Cell(found)).value)


def moment_in_words(value: Term) -> Term:
    """A day and hour of a sheet as a text, to the minute; a day ends at 24:00. Written out, because
    a sheet's own formats of dates go by the language of the program.

    >>> moment_in_words(Cell(46098.75)).value, moment_in_words(Cell(46099.0)).value
    ('Tue 17 Mar 2026 18:00', 'Tue 17 Mar 2026 24:00')
    """
    later = value + HALF_MINUTE
    clock = EPOCH + timedelta(days=later.number)
    minute = ["60*HOUR(", later, ")+MINUTE(", later, ")<1"]
    ends = Term(clock.hour == clock.minute == 0, minute, COMPARING)
    time = ['RIGHT("0"&HOUR(', later, '),2)&":"&RIGHT("0"&MINUTE(', later, "),2)"]
    shown = value + when(ends, -0.5, HALF_MINUTE)  # of the day that ends
    day = EPOCH + timedelta(days=shown.number)
    parts = [f'MID("{DAYS}",3*(INT(', shown, ")-7*INT((", shown, ')/7))+1,3)&" "&DAY(', shown]
    parts += [f')&" "&MID("{MONTHS}",3*MONTH(', shown, ')-2,3)&" "&YEAR(', shown, ')&" "']
    date_ = Term(f"{day:%a} {day.day} {day:%b} {day:%Y} ", parts, JOINING)
    return joined([date_, when(ends, "24:00", Term(f"{clock:%H:%M}", time, JOINING))])


def told_at(answer: Answer, begin: datetime, days: float) -> str:
    """A moment some days after another by the clock of the reply, with its zone. Raises
    OverflowError past the last year that a calendar holds."""
    moment = clock_of(answer.scenario).later(begin, days)
    return f"{in_words(moment)} ({zone_of(answer.scenario, begin) or LOCAL})"


def of_issue(answer: Answer) -> str:
    """Which issue a percentile, an option or a date is of, in words."""
    issued = answer.scenario.afe.issued_at or answer.now
    return "of the issue" if issued is None else f"of the issue dated {issued:%Y-%m-%d}"
