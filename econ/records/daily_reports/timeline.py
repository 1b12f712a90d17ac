"""The activities of a well one after another, each stretch of time once.

Reports of the same wellbore and period are versions of one report: the one that was created last
counts. What two other reports tell of the same stretch counts once, as it is told first; of an
activity that reaches into what is told already the rest is kept. So hours never count twice,
whatever days overlap. Hours between the first and the last report that no activity covers are
missing, and are told; a gap of more than 30 days is a time between two campaigns.

An activity that a report ends at midnight, or at its own hour, goes on in the next one: `parts_of`
puts such parts together.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from econ.records.daily_reports.activity import Activity, Moment, Notebook, Report

CAMPAIGN = 30 * 24.0  # [h]
TOUCH = 1 / 30  # [h] two minutes: times are written to the minute
WORTH_TELLING = 0.25  # [h]


@dataclass(frozen=True)
class Step:
    """An activity in its place, with what its report says of the hole."""

    activity: Activity
    report: Report
    split: bool  # whether it ends where its report does, so that it may go on in the next

    @property
    def start(self) -> float:
        """[h since 1970]"""
        return self.activity.start.hours

    @property
    def end(self) -> float:
        """[h since 1970]"""
        return self.activity.end.hours

    @property
    def hours(self) -> float:
        """Its length on the clock [h]."""
        return self.activity.hours


@dataclass(frozen=True)
class Timeline:
    """A well: its steps in order of time."""

    well: str
    steps: tuple[Step, ...]
    reports: int
    missing: float  # [h]
    twice: float  # [h] told by two reports


def timelines(reports: Iterable[Report], notebook: Notebook) -> list[Timeline]:
    """The wells of some reports by name, each with its activities in order."""
    wells: dict[str, list[Report]] = {}
    for report in reports:
        wells.setdefault(report.well.casefold(), []).append(report)
    return [_timeline(wells[name], notebook) for name in sorted(wells)]


def _timeline(reports: list[Report], notebook: Notebook) -> Timeline:
    latest = _latest(reports, notebook)
    zones = {each.start.zone is None for report in latest for each in report.activities}
    if len(zones) > 1:
        notebook.tell(
            "reports with and without a time zone of one well",
            "those without are taken as UTC",
            reports[0].well,
        )
    steps = [
        Step(activity, report, _is_split(activity, report))
        for report in latest
        for activity in report.activities
    ]
    steps.sort(key=lambda step: (step.start, step.end, -step.report.created))
    kept, missing, twice = [], 0.0, 0.0
    told_to = steps[0].start if steps else 0.0
    for step in steps:
        if step.end <= told_to and step.hours > 0:
            twice += step.hours
            continue
        if told_to - step.start > TOUCH:
            twice += told_to - step.start
            begin = Moment(told_to, step.activity.start.zone)
            step = replace(step, activity=replace(step.activity, start=begin))
        gap = step.start - told_to
        if TOUCH < gap <= CAMPAIGN:
            missing += gap
        kept.append(step)
        told_to = max(told_to, step.end)
    well = reports[0].well
    if twice > WORTH_TELLING:
        notebook.tell("hours told twice", "counted once", well, hours=twice)
    if missing > WORTH_TELLING:
        done = "counted nowhere"
        notebook.tell("hours that no report tells of", done, well, hours=missing)
    return Timeline(well, tuple(kept), len(latest), missing, twice)


def _latest(reports: list[Report], notebook: Notebook) -> list[Report]:
    """Of the versions of a report the one that was created last, of equal ones the last read."""
    found: dict[object, Report] = {}
    for number, report in enumerate(reports):
        start, end = report.start, report.end
        period: object = number
        if start is not None and end is not None:
            period = (report.wellbore.casefold(), start.hours, end.hours)
        before = found.get(period)
        if before is not None:
            notebook.tell("a report of the same period again", "the latest counts", report.file)
        if before is None or report.created >= before.created:
            found[period] = report
    return list(found.values())


def _is_split(activity: Activity, report: Report) -> bool:
    """Whether an activity ends at the end of its report, or at midnight on its own clock."""
    end = activity.end
    if report.end is not None and abs(end.hours - report.end.hours) <= TOUCH:
        return True
    return abs((end.hours + (end.zone or 0.0) + 12) % 24 - 12) <= TOUCH


def touching(one: Step, other: Step) -> bool:
    """Whether the second begins where the first ends."""
    return abs(other.start - one.end) <= TOUCH


def parts_of(steps: Iterable[Step], same: Iterable[object]) -> Iterator[list[Step]]:
    """Steps put together that were split at midnight or at the hour of a report: those that touch
    there and for which `same` gives equal values."""
    parts: list[Step] = []
    before: object = None
    for step, mark in zip(steps, same, strict=True):
        if parts and parts[-1].split and mark == before and touching(parts[-1], step):
            parts.append(step)
        else:
            if parts:
                yield parts
            parts = [step]
        before = mark
    if parts:
        yield parts
