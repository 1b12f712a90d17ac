"""Everything that daily reports say: how fast, how long, what went wrong and what it led to."""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from econ.records.daily_reports.activity import Moment, Notebook, Told
from econ.records.daily_reports.sorting import Sorted, depths_pattern, sort_all
from econ.records.daily_reports.sources import read_reports
from econ.records.daily_reports.timeline import Timeline, timelines
from econ.records.daily_reports.trouble import Stretch, jobs_of, parts_of_well, stretches
from econ.records.daily_reports.values import Case, Value, cases_of, values_of
from econ.records.daily_reports.words import SORTS, vocabulary
from econ.scenario.framed import Framed

PARTS = ("plan", "fishing", "consequence")
UNTOLD = "unmatched"


@dataclass(frozen=True, repr=False)
class Spent(Framed):
    """Hours of one sort of work: by plan, from the first to the last hour of a fishing job, and in
    what a job led to (a plug, a sidetrack, the hole drilled again)."""

    sort: str
    plan: float
    fishing: float
    consequence: float

    @property
    def hours(self) -> float:
        """All of them."""
        return self.plan + self.fishing + self.consequence


@dataclass(frozen=True, repr=False)
class DailyReports(Framed):
    """What daily drilling reports say; `.to_frame()` has a row for each of `values`.

    Lengths in ft, times in hours, shares as fractions of all hours that are told.
    """

    files: int
    reports: int
    wells: tuple[str, ...]
    first: str  # ISO time of the first activity, and of the end of the last
    last: str
    hours: float
    missing: float  # [h] between reports of a well, that no report tells of
    twice: float  # [h] that two reports tell of, counted once
    unmatched: float  # share of the hours of which neither code nor word is known
    weather: float  # share of the hours waited for weather
    repair: float  # share of the hours of repairs and maintenance under interruption
    jobs: int
    values: tuple[Value, ...] = ()
    spent: tuple[Spent, ...] = ()
    stretches: tuple[Stretch, ...] = ()
    told: tuple[Told, ...] = ()

    def _rows(self) -> Sequence[Value]:
        return self.values

    def value(self, name: str, hole_size: float | None = None) -> Value | None:
        """The value of a name; None where no case of it was found."""
        for each in self.values:
            if each.name == name and each.hole_size == hole_size:
                return each
        return None


def daily(
    *paths: str | os.PathLike[str], words: str | os.PathLike[str] | None = None
) -> DailyReports:
    """What the daily drilling reports at some paths say.

    paths: files in the open WITSML drillReport form (1.4 or 2.x), folders and zips of them; words:
    a file of codes and words of your own, in the form of `words.toml` in this package. Raises
    ScenarioError where a path does not exist, no report is found, or that file has faults.

    >>> import tempfile, pathlib
    >>> report = '''<drillReports version="1.4.1.1"><drillReport><nameWell>Invented 1</nameWell>
    ... <dTimStart>2026-03-01T00:00:00Z</dTimStart><dTimEnd>2026-03-02T00:00:00Z</dTimEnd>
    ... <activity><dTimStart>2026-03-01T00:00:00Z</dTimStart><dTimEnd>2026-03-01T04:00:00Z</dTimEnd>
    ... <mdBitStart uom="m">0</mdBitStart><mdBitEnd uom="m">1200</mdBitEnd>
    ... <proprietaryCode>drilling -- trip</proprietaryCode><comments>RIH</comments></activity>
    ... </drillReport></drillReports>'''
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     file = pathlib.Path(folder, "day.xml")
    ...     _ = file.write_text(report, encoding="utf-8")
    ...     found = daily(file)
    >>> found.value("trip_in").p50 * 0.3048
    300.0
    """
    known = vocabulary(words)
    reading = read_reports(paths)
    notebook = Notebook({(each.what, each.done): each for each in reading.told})
    pattern = depths_pattern(known)
    cases: list[Case] = []
    found: list[Stretch] = []
    by_part = {part: Counter[str]() for part in PARTS}
    lines = timelines(reading.reports, notebook)
    jobs = 0
    for line in lines:
        steps = sort_all(line, known)
        of_well = jobs_of(steps)
        jobs += len(of_well)
        cases += cases_of(line.well, steps, pattern)
        found += stretches(line.well, steps, of_well, known)
        _add(by_part, steps, parts_of_well(steps, of_well))
    spent = [Spent(sort, *(by_part[part][sort] for part in PARTS)) for sort in SORTS]
    spent = [each for each in spent if each.hours > 0]
    hours = sum(each.hours for each in spent)
    share = {each.sort: each.hours / hours for each in spent}
    first, last = _ends(lines)
    return DailyReports(
        files=reading.files,
        reports=sum(line.reports for line in lines),
        wells=tuple(line.well for line in lines),
        first=first,
        last=last,
        hours=hours,
        missing=sum(line.missing for line in lines),
        twice=sum(line.twice for line in lines),
        unmatched=share.get(UNTOLD, 0.0),
        weather=share.get("weather", 0.0),
        repair=share.get("repair", 0.0),
        jobs=jobs,
        values=tuple(values_of(cases)),
        spent=tuple(spent),
        stretches=tuple(found),
        told=notebook.all(),
    )


def _add(by_part: dict[str, Counter[str]], steps: Sequence[Sorted], parts: Sequence[str]) -> None:
    for each, part in zip(steps, parts, strict=True):
        by_part[part][each.sort] += each.step.hours  # type: ignore[assignment]


def _ends(lines: Sequence[Timeline]) -> tuple[str, str]:
    steps = [step for line in lines for step in line.steps]
    if not steps:
        return "", ""
    first = min((step.activity.start for step in steps), key=_hours)
    last = max((step.activity.end for step in steps), key=_hours)
    return first.written(), last.written()


def _hours(moment: Moment) -> float:
    return moment.hours
