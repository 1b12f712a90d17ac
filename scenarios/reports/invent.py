"""Invent daily drilling reports of two wells: python scenarios/reports/invent.py

Wells, people and numbers are invented, and so is every line: nothing of it was ever drilled. The
reports of the first well are in the open WITSML form 1.4, in one file; those of the second in 2.0,
a file a day, in a zip.

The story of the first: drilling, a stick on a trip that is jarred free, a logging run. Of the
second: a stick that is not freed, a back-off, two overshot runs without a catch, a kick-off plug, a
sidetrack and the hole drilled again; with some weather and repairs. The same script gives
the same reports; the bytes of the zip are those of the compression at hand.
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path
from xml.sax.saxutils import escape

HERE = Path(__file__).parent
# hours, code, bit depth at the end [m] or hole depth for drilling, words, state
Line = tuple[float, str, float, str, str]


def trips(depth: float, hours: tuple[float, float], what: str) -> list[Line]:
    """Out of the hole and in again, in parts as a rig tells them."""
    out, into = hours
    return [
        (out * 0.45, "trip", depth * 0.5, f"POOH from {depth:.0f} m to {depth * 0.5:.0f} m.", "ok"),
        (out * 0.55, "trip", 60, f"POOH from {depth * 0.5:.0f} m to 60 m.", "ok"),
        (2.5, "trip", 0, "Laid down BHA. Cleaned rig floor.", "ok"),
        (2, "trip", 60, f"Made up BHA: {what}.", "ok"),
        (into * 0.55, "trip", depth * 0.5, f"RIH from 60 m to {depth * 0.5:.0f} m.", "ok"),
        (into * 0.45, "trip", depth, f"RIH from {depth * 0.5:.0f} m to {depth:.0f} m.", "ok"),
    ]


def drilled(start: float, end: float, hours: float) -> list[Line]:
    """New hole with the circulating behind it."""
    middle = 0.5 * (start + end)
    return [
        (hours / 2, "drill", middle, f"Drilled from {start:.0f} m to {middle:.0f} m.", "ok"),
        (hours / 2, "drill", end, f"Drilled ahead from {middle:.0f} m to {end:.0f} m.", "ok"),
        (1.5, "circulate", end, "Circulated bottoms up, hole clean.", "ok"),
    ]


FIRST = [
    *drilled(2210, 2395, 14),
    *trips(2395, (5.5, 6), "8 1/2 in bit, motor and MWD"),
    *drilled(2395, 2560, 17),
    (3, "repair", 2560, "Repaired mud pump 2, changed liner.", "ok"),
    *drilled(2560, 2705, 13),
    (
        1.5,
        "trip",
        2640,
        "POOH from 2705 m, 30 t overpull, string got stuck at 2640 m.",
        "fail",
    ),
    (2.5, "trip", 2640, "Jarred down with 20 t and torque, string stuck, pulled free.", "fail"),
    (1, "circulate", 2640, "Circulated, flow checked, well static.", "ok"),
    *trips(2640, (6.5, 5.5), "8 1/2 in bit and stabilizers, wash to bottom"),
    *drilled(2705, 2880, 16),
    (5, "trip", 1400, "POOH from 2880 m to 1400 m.", "ok"),
    (4.5, "trip", 0, "POOH from 1400 m to surface.", "ok"),
    (13, "log", 0, "Rigged up and ran logs, two runs, good data. Rigged down.", "ok"),
]
SECOND = [
    *drilled(3120, 3240, 15),
    *trips(3240, (8, 8.5), "8 1/2 in bit and rotary assembly"),
    *drilled(3240, 3352, 14),
    (4, "weather", 3352, "Waited on weather, wind 58 knots, crane shut down.", "ok"),
    (2, "trip", 3290, "POOH from 3352 m, string stuck at 3290 m, differential sticking.", "fail"),
    (10, "fish", 3290, "Jarred and worked string, 90 t over weight, no movement.", "fail"),
    (8, "fish", 3290, "Spotted pill around the collars and let it soak.", "ok"),
    (5, "fish", 3290, "Jarred, no movement. No circulation lost.", "fail"),
    (7, "fish", 3290, "Ran free point and string shot, backed off at 3150 m.", "ok"),
    (9.5, "trip", 0, "POOH from 3150 m to surface with the part above the fish.", "ok"),
    (3, "fish", 60, "Made up overshot, bumper sub and jars.", "ok"),
    (8, "fish", 3150, "RIH with overshot to 3150 m, tagged fish.", "ok"),
    (6, "fish", 3150, "Engaged fish, jarred 4 h, overshot slipped off.", "fail"),
    (8, "fish", 0, "POOH with overshot, no recovery. Toolbox talk before the next run.", "fail"),
    (9, "weather", 0, "Waited on weather.", "ok"),
    (2, "fish", 60, "Made up overshot with new grapple.", "ok"),
    (8.5, "fish", 3150, "RIH with overshot to top of fish.", "ok"),
    (5, "fish", 3150, "No catch after three attempts, no success.", "fail"),
    (8, "fish", 0, "POOH with overshot. Decided to plug back.", "ok"),
    (8, "trip", 3140, "RIH with cement stinger from surface to 3140 m.", "ok"),
    (3, "plug", 2950, "Mixed and pumped balanced kick-off plug, pulled out of cement.", "ok"),
    (7.5, "trip", 0, "POOH from 2950 m to surface.", "ok"),
    (8, "woc", 0, "Waited on cement.", "ok"),
    (8, "trip", 2940, "RIH from surface to 2940 m.", "ok"),
    (5, "woc", 2940, "Waited on cement.", "ok"),
    (4, "drill_cement", 2985, "Tagged cement, firm. Dressed plug to 2985 m.", "ok"),
    (14, "sidetrack", 3008, "Time drilled, kicked off at 2985 m, 90 % rock at 3008 m.", "ok"),
    *drilled(3008, 3170, 22),
    *drilled(3170, 3352, 25),
    *drilled(3352, 3420, 9),
]
CODES = {  # 1.4 as in use, and 2.0
    "drill": ("drilling -- drill", "drilling -- new hole"),
    "trip": ("drilling -- trip", "tripping"),
    "circulate": ("drilling -- circulating conditioning", "circulate -- drilling"),
    "log": ("formation evaluation -- log", "wireline logs -- evaluation"),
    "repair": ("interruption -- repair", "rig repairs -- mud system"),
    "weather": ("interruption -- waiting on weather", "wait -- weather"),
    "fish": ("interruption -- fish", "fishing -- BHA"),
    "plug": ("drilling -- other", "plug back -- kick off plug"),
    "woc": ("drilling -- wait", "plug back -- wait on cement"),
    "drill_cement": ("drilling -- drill", "drilling -- drill cement"),
    "sidetrack": ("drilling -- sidetrack", "drilling -- sidetracking"),
}


def days(lines: list[Line], start: datetime) -> Iterator[tuple[datetime, list[tuple[str, ...]]]]:
    """Lines by day: start, end, code, depth, words, state; what runs over midnight is split."""
    clock, day, told = start, start, []
    for hours, code, depth, words, state in lines:
        left = hours
        while left > 1e-9:
            room = (day + timedelta(days=1) - clock) / timedelta(hours=1)
            part = min(left, room)
            end = clock + timedelta(hours=part)
            at = depth if part == left else -999.99  # in the middle of a move no depth is told
            told.append((f"{clock:%FT%T}", f"{end:%FT%T}", code, f"{at:.2f}", words, state))
            clock, left = end, left - part
            if clock >= day + timedelta(days=1):
                yield day, told
                day, told = clock, []
    if told:
        yield day, told


def report(well: str, day: datetime, told: list[tuple[str, ...]], *, two: bool, shoe: float) -> str:
    """One report as XML: in 2.0 the names begin with a capital, and some are others."""

    def tag(name: str, text: str, more: str = "") -> str:
        named = f"{name[0].upper()}{name[1:]}" if two else name
        return f"<{named}{more}>{text}</{named}>"

    zone = "+01:00"
    end = day + timedelta(days=1)
    parts = [
        tag("dTimStart", f"{day:%FT%T}{zone}"),
        tag("dTimEnd", f"{end:%FT%T}{zone}"),
        tag("statusInfo", tag("diaHole", "8.5", ' uom="in"') + tag("mdCsgLast", f"{shoe:.0f}", M)),
    ]
    for start, stop, code, depth, words, state in told:
        inside = [
            tag("dTimStart", start + zone),
            tag("dTimEnd", stop + zone),
            tag("md", depth, M),
            tag("activityCode" if two else "proprietaryCode", CODES[code][two]),
            tag("state", state),
            tag("comments", escape(words)),
        ]
        parts.append("\n " + tag("drillActivity" if two else "activity", "".join(inside)))
    if two:
        name = f"<Wellbore><eml:Title>{well}</eml:Title></Wellbore>"
        return f'<DrillReport {TWO} schemaVersion="2.0">{name}{"".join(parts)}\n</DrillReport>'
    names = tag("nameWell", well) + tag("nameWellbore", well)
    return f"<drillReport>{names}{''.join(parts)}\n</drillReport>"


M = ' uom="m"'
HEAD = '<?xml version="1.0" encoding="UTF-8"?>\n<!-- Invented: no such well was ever drilled. -->\n'
ONE = 'xmlns="http://www.witsml.org/schemas/1series"'
TWO = (
    'xmlns="http://www.energistics.org/energyml/data/witsmlv2" '
    'xmlns:eml="http://www.energistics.org/energyml/data/commonv2"'
)


def files() -> dict[str, bytes]:
    """Names and bytes of all files."""
    start = datetime(2025, 10, 6)
    first = [
        report("Quill Sand 4", day, told, two=False, shoe=1450) for day, told in days(FIRST, start)
    ]
    root = f'<drillReports {ONE} version="1.4.1.1">'
    whole = "\n".join([HEAD + root, *first, "</drillReports>\n"])
    return {"quill_sand_4.xml": whole.encode(), "heron_flat_2.zip": packed(start)}


def packed(start: datetime) -> bytes:
    """The second well, a file a day."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for day, told in days(SECOND, start):
            text = HEAD + report("Heron Flat 2", day, told, two=True, shoe=1980) + "\n"
            archive.writestr(zipfile.ZipInfo(f"{day:%F}.xml", (2025, 10, 6, 0, 0, 0)), text)
    return out.getvalue()


if __name__ == "__main__":
    for name, data in files().items():
        (HERE / name).write_bytes(data)
        print(f"wrote {name}")
