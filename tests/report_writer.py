"""Writes daily drilling reports in the open form from a list of what was done, in both versions.

All wells are invented. The XML is written here line by line, apart from the reader of the package:
what it must find is known from the list.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from xml.sax.saxutils import escape

START = datetime(2026, 3, 1)
ONE, TWO = "1.4.1.1", "2.0"
VERSIONS = (ONE, TWO)
# The codes of one version and those that say the same in the other.
CODES = {
    "drill": ("drilling -- drill", "drilling -- new hole"),
    "trip": ("drilling -- trip", "tripping"),
    "circulate": ("drilling -- circulating conditioning", "circulate -- drilling"),
    "weather": ("interruption -- waiting on weather", "wait -- weather"),
    "repair": ("interruption -- repair", "rig repairs -- drawworks"),
    "fish": ("interruption -- fish", "fishing -- BHA"),
    "log": ("formation evaluation -- log", "wireline logs -- evaluation"),
    "casing": ("drilling -- casing", "run casing"),
    "sidetrack": ("drilling -- sidetrack", "drilling -- sidetracking"),
    "plug": ("plug abandon -- cement plug", "plug back -- kick off plug"),
    "woc": ("interruption -- other", "plug back -- wait on cement"),
    "other": ("interruption -- other", "miscellaneous"),
}


@dataclass(frozen=True)
class Did:
    """Hours of one thing: its code (a key of CODES, or a code as it is), words, depth at the end
    [m, or `unit`], and what else the report gives."""

    hours: float
    code: str = "other"
    text: str = ""
    depth: float | None = None
    state: str = "ok"
    detail: str = "success"
    bit: tuple[float, float] | None = None
    hole: tuple[float, float] | None = None


def activities(
    done: Sequence[Did],
    *,
    version: str = ONE,
    start: datetime = START,
    zone: str = "Z",
    unit: str = "m",
) -> list[tuple[datetime, datetime, str]]:
    """Start, end and XML of each thing done, one after the other from `start`."""
    found, clock = [], start
    for each in done:
        end = clock + timedelta(hours=each.hours)
        found.append((clock, end, _activity(each, clock, end, version, zone, unit)))
        clock = end
    return found


def _activity(did: Did, start: datetime, end: datetime, version: str, zone: str, unit: str) -> str:
    code = CODES.get(did.code, (did.code, did.code))[version == TWO]

    def length(name: str, value: float | None) -> str:
        return (
            ""
            if value is None
            else f'<{tag(name, version)} uom="{unit}">{value}</{tag(name, version)}>'
        )

    def text(name: str, value: str) -> str:
        return f"<{tag(name, version)}>{escape(value)}</{tag(name, version)}>" if value else ""

    bit, hole = did.bit or (None, None), did.hole or (None, None)
    inside = [
        text("dTimStart", start.isoformat() + zone),
        text("dTimEnd", end.isoformat() + zone),
        length("md", did.depth),
        text("activityCode" if version == TWO else "proprietaryCode", code),
        *(length(f"mdBit{end}", value) for end, value in zip(("Start", "End"), bit, strict=True)),
        *(length(f"mdHole{end}", value) for end, value in zip(("Start", "End"), hole, strict=True)),
        text("state", did.state),
        text("stateDetailActivity", did.detail),
        text("comments", did.text),
    ]
    outer = "witsml:DrillActivity" if version == TWO else "activity"
    return f"<{outer}>{''.join(inside)}</{outer}>"


def tag(name: str, version: str) -> str:
    """A name of 1.4 as the version has it."""
    return name if version == ONE else f"witsml:{name[0].upper()}{name[1:]}"


def report(
    inside: Iterable[str],
    *,
    version: str = ONE,
    well: str = "Invented 1",
    wellbore: str = "",
    start: datetime = START,
    hours: float = 24.0,
    zone: str = "Z",
    created: datetime | None = None,
    shoe: float | None = None,
    hole_size: float | None = None,
) -> str:
    """One report, without its root. shoe [m], hole_size [in]."""

    def text(name: str, value: str) -> str:
        return f"<{tag(name, version)}>{escape(value)}</{tag(name, version)}>" if value else ""

    end = start + timedelta(hours=hours)
    times = text("dTimStart", start.isoformat() + zone) + text("dTimEnd", end.isoformat() + zone)
    made = "" if created is None else text("createDate", created.isoformat() + zone)
    status = ""
    for name, value, unit in (("mdCsgLast", shoe, "m"), ("diaHole", hole_size, "in")):
        if value is not None:
            status += f'<{tag(name, version)} uom="{unit}">{value}</{tag(name, version)}>'
    if status:
        outer = tag("statusInfo", version)
        status = f"<{outer}>{status}</{outer}>"
    if version == ONE:
        bore = wellbore or well
        names = text("nameWell", well) + text("nameWellbore", bore)
        return f"<drillReport>{names}{times}{made}{status}{''.join(inside)}</drillReport>"
    names = f"<witsml:Wellbore><eml:Title>{escape(wellbore or well)}</eml:Title></witsml:Wellbore>"
    alias = f"<witsml:WellAlias><eml:Identifier>{escape(well)}</eml:Identifier></witsml:WellAlias>"
    whole = f"{names}{alias}{times}{made}{status}{''.join(inside)}"
    return f"<witsml:DrillReport {SPACES}>{whole}</witsml:DrillReport>"


SPACES = (
    'xmlns:witsml="http://www.energistics.org/energyml/data/witsmlv2" '
    'xmlns:eml="http://www.energistics.org/energyml/data/commonv2" schemaVersion="2.0"'
)


def document(reports: Sequence[str], *, version: str = ONE, encoding: str = "UTF-8") -> str:
    """A whole file of reports."""
    head = f'<?xml version="1.0" encoding="{encoding}"?>'
    if version == TWO and len(reports) == 1:
        return head + reports[0]
    root = "drillReports"
    space = 'xmlns="http://www.witsml.org/schemas/1series"'
    return f'{head}<{root} {space} version="{version}">{"".join(reports)}</{root}>'


def write_days(
    folder: Path,
    done: Sequence[Did],
    *,
    version: str = ONE,
    well: str = "Invented 1",
    start: datetime = START,
    zone: str = "Z",
    unit: str = "m",
    shoe: float | None = None,
    hole_size: float | None = None,
    report_hour: int = 0,
) -> list[Path]:
    """A file for each day, in which what runs over the hour of the report is split, as rigs do."""
    folder.mkdir(parents=True, exist_ok=True)
    days: dict[datetime, list[str]] = {}
    clock = start
    for each in done:
        left = each.hours
        begun = clock
        while left > 1e-9:
            day = clock.replace(hour=report_hour, minute=0, second=0)
            day -= timedelta(days=1) if day > clock else timedelta()
            room = (day + timedelta(days=1) - clock) / timedelta(hours=1)
            part = min(left, room)
            whole = (
                (clock - begun) / timedelta(hours=1),
                (clock - begun) / timedelta(hours=1) + part,
            )
            piece = _part(each, part, whole)
            made = activities([piece], version=version, start=clock, zone=zone, unit=unit)
            days.setdefault(day, []).append(made[0][2])
            clock += timedelta(hours=part)
            left -= part
    paths = []
    for day, inside in days.items():
        text = report(
            inside,
            version=version,
            well=well,
            start=day,
            zone=zone,
            shoe=shoe,
            hole_size=hole_size,
        )
        path = folder / f"{well.replace(' ', '_')}_{day:%Y_%m_%d}.xml"
        path.write_text(document([text], version=version), encoding="utf-8")
        paths.append(path)
    return paths


def _part(did: Did, hours: float, between: tuple[float, float]) -> Did:
    """A piece of what was done, with the depths in proportion to its hours."""
    begin, end = (each / did.hours for each in between)

    def depths(ends: tuple[float, float] | None) -> tuple[float, float] | None:
        if ends is None:
            return None
        a, b = ends
        return a + (b - a) * begin, a + (b - a) * end

    return Did(
        hours,
        did.code,
        did.text,
        did.depth,
        did.state,
        did.detail,
        depths(did.bit),
        depths(did.hole),
    )
