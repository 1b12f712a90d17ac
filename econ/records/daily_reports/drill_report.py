"""One XML file of daily drilling reports in the open WITSML form, read as a stream.

The form of 1.4 (drillReport in drillReports, names such as nameWell, dTimStart, activity) and of
2.x (DrillReport with Wellbore, DTimStart, DrillActivity) differ in the capitals and in a few
names, so names are compared without capitals and without their namespace. Nothing is kept of a
file but the fields below, so a large one takes no more memory than what is in them.

The file comes from elsewhere: a document type, an entity of its own or a reference outside is
refused by the parser (defusedxml), as is a nesting deeper than any report has.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any
from xml.sax import SAXParseException
from xml.sax.handler import ContentHandler

from defusedxml.common import DefusedXmlException
from defusedxml.sax import make_parser

from econ.records.daily_reports import measures
from econ.records.daily_reports.activity import Activity, Moment, Notebook, Report

DEEPEST_NESTING = 100
LARGEST_TOKEN = 4_000_000  # bytes of a tag or a comment, which the parser keeps until its end
LONGEST_TEXT = 4000  # characters of a field that are kept
MOST_ACTIVITIES = 5000  # of a report
MOST_REPORTS = 50_000  # of a file
LONGEST_ACTIVITY = 31 * 24.0  # [h]
REPORT = "drillreport"
ACTIVITIES = ("activity", "drillactivity")
OF_REPORT = frozenset(
    {"namewell", "namewellbore", "dtimstart", "dtimend", "createdate", "versionkind"}
)
OF_PART = {  # part of a report: the fields that are read in it
    "statusinfo": frozenset({"diahole", "mdcsglast"}),
    "bitrecord": frozenset({"diabit"}),
    "wellbore": frozenset({"title"}),
    "wellalias": frozenset({"name", "identifier"}),
}
OF_ACTIVITY = frozenset(
    {
        *("dtimstart", "dtimend", "duration", "md", "phase", "state", "statedetailactivity"),
        *("activitycode", "detailactivity", "proprietarycode", "comments"),
        *("mdholestart", "mdholeend", "mdbitstart", "mdbitend"),
    }
)
NAMES = {"measureddepth": "md"}
LEFT = "left out"
FAILED = frozenset({"fail", "failed", "failure"})
FAILED_DETAILS = frozenset({"operation failed", "equipment hang", "stuck equipment"})


class BrokenXMLError(ValueError):
    """An XML file that cannot be read to its end, with the reason in words."""


def read_drill_reports(
    chunks: Iterator[bytes], file: str, notebook: Notebook, take: Callable[[Report], None]
) -> int:
    """Read the bytes of one XML file; give each whole report to `take` and return their number.

    What is odd in a report goes to `notebook`. Raises BrokenXMLError where the file is no sound
    XML or not of this form; reports before the fault have been given already.
    """
    handler = _Handler(file, notebook, take)
    parser: Any = make_parser()
    parser.forbid_dtd = True
    parser.setContentHandler(handler)
    held, seen = 0, 0
    try:
        for chunk in chunks:
            parser.feed(chunk)
            held = held + len(chunk) if handler.events == seen else 0
            seen = handler.events
            if held > LARGEST_TOKEN:
                raise BrokenXMLError(f"a tag or comment over {LARGEST_TOKEN // 1_000_000} MB")
        parser.close()
    except DefusedXmlException:
        raise BrokenXMLError(
            "a document type or entity of its own, which no report needs"
        ) from None
    except SAXParseException as error:
        reason = " ".join(str(error.getMessage()).split())
        raise BrokenXMLError(f"no sound XML at line {error.getLineNumber()} ({reason})") from None
    except (LookupError, UnicodeError):
        raise BrokenXMLError("letters in an encoding that is not known") from None
    return handler.count


class _Handler(ContentHandler):
    """Collects the fields of one report after the other."""

    def __init__(self, file: str, notebook: Notebook, take: Callable[[Report], None]) -> None:
        super().__init__()
        self.file, self.notebook, self.take = file, notebook, take
        self.path: list[str] = []
        self.events = 0  # tags and pieces of text that were met
        self.count = 0
        self.report_at = 0  # nesting of the report that is open, 0: none
        self.part_at = 0  # of the part or activity in it
        self.field = ""  # that text goes to
        self.field_at = 0
        self.texts: list[str] = []
        self.unit = ""
        self.report: dict[str, str] = {}
        self.activity: dict[str, tuple[str, str]] = {}
        self.activities: list[dict[str, tuple[str, str]]] = []
        self.lengths: dict[str, tuple[str, str]] = {}

    def startElement(self, name: str, attrs: Any) -> None:  # noqa: N802
        """A tag opens."""
        self.events += 1
        local = name.rpartition(":")[2].lower()
        path = self.path
        path.append(local)
        level = len(path)
        if level > DEEPEST_NESTING:
            raise BrokenXMLError(f"tags nested deeper than {DEEPEST_NESTING}")
        if not self.report_at:
            if local == REPORT:
                if self.count >= MOST_REPORTS:
                    raise BrokenXMLError(f"more than {MOST_REPORTS} reports")
                self.report_at = level
                self.report, self.activities, self.lengths = {}, [], {}
            return
        if self.field:
            self.unit = attrs.get("uom", self.unit)
            return
        if level == self.report_at + 1:
            self.part_at = level
            if local in ACTIVITIES:
                self.activity = {}
            elif local in OF_REPORT:
                self._open(local, attrs)
        elif self.part_at and level > self.part_at:
            part = path[self.part_at - 1]
            known = OF_ACTIVITY if part in ACTIVITIES else OF_PART.get(part, frozenset())
            wanted = NAMES.get(local, local)
            if wanted in known:
                self._open(wanted, attrs)

    def _open(self, field: str, attrs: Any) -> None:
        self.field, self.field_at = field, len(self.path)
        self.texts, self.unit = [], attrs.get("uom", "")
        self._room = LONGEST_TEXT

    def characters(self, content: str) -> None:
        """Text between tags."""
        self.events += 1
        if self.field and self._room > 0:
            self.texts.append(content[: self._room])
            self._room -= len(content)

    def endElement(self, name: str) -> None:  # noqa: N802
        """A tag closes."""
        self.events += 1
        level = len(self.path)
        local = self.path.pop()
        if not self.report_at:
            return
        if self.field and level == self.field_at:
            self._close(self.field)
        if level == self.part_at:
            if local in ACTIVITIES and len(self.activities) < MOST_ACTIVITIES:
                self.activities.append(self.activity)
            elif local in ACTIVITIES:
                done = "the rest left out"
                self.notebook.tell(f"more than {MOST_ACTIVITIES} activities", done, self.file)
            self.part_at = 0
        elif level == self.report_at:
            self.count += 1
            self.report_at = 0
            self.take(self._whole())

    def _close(self, field: str) -> None:
        text = "".join(self.texts).strip()
        self.field = ""
        part = self.path[self.part_at - 1] if self.part_at <= len(self.path) else ""
        if not text:
            return
        if part in ACTIVITIES:
            self.activity.setdefault(field, (text, self.unit))
        elif part in ("statusinfo", "bitrecord"):
            self.lengths[field] = (text, self.unit)
        else:
            name = f"{part}.{field}" if part in OF_PART else field
            self.report.setdefault(name, text)

    def _whole(self) -> Report:
        told = self.report
        wellbore = told.get("namewellbore") or told.get("wellbore.title") or ""
        well = told.get("namewell") or told.get("wellalias.name")
        well = well or told.get("wellalias.identifier") or wellbore
        start, end = (self._moment(told.get(name, "")) for name in ("dtimstart", "dtimend"))
        created = self._moment(told.get("createdate", ""))
        size = self._length(self.lengths.get("diahole"), most=measures.WIDEST / 12)
        size = size or self._length(self.lengths.get("diabit"), most=measures.WIDEST / 12)
        activities = [self._activity(each) for each in self.activities]
        sound = [each for each in activities if each is not None]
        if not sound:
            self._tell("a report without an activity that can be read", "counted, with no hours")
        zones = [each.start.zone for each in sound if each.start.zone is not None]
        zones += [each.zone for each in (start, end) if each is not None and each.zone is not None]
        if zones:
            sound = [self._in_zone(each, zones[0]) for each in sound]
        return Report(
            file=self.file,
            well=_name(well),
            wellbore=_name(wellbore or well),
            start=start,
            end=end,
            created=0.0 if created is None else created.hours,
            hole_size=None if size is None else size * 12,
            shoe=self._length(self.lengths.get("mdcsglast")) or None,
            activities=tuple(sound),
        )

    def _activity(self, told: dict[str, tuple[str, str]]) -> Activity | None:
        text = {name: value for name, (value, _) in told.items()}
        start, end = (self._moment(text.get(name, "")) for name in ("dtimstart", "dtimend"))
        if start is not None and end is None and "duration" in told:
            lasted = self._hours(told["duration"])
            end = None if lasted is None else Moment(start.hours + lasted, start.zone)
        if start is None or end is None:
            self._tell("an activity without its start and end", LEFT)
            return None
        if not 0 <= end.hours - start.hours <= LONGEST_ACTIVITY:
            self._tell("an activity that ends before its start, or a month later", LEFT)
            return None
        if (start.zone is None) != (end.zone is None):
            self._tell("an activity with a time zone at one end only", LEFT)
            return None
        state = text.get("state", "").lower()
        detail = text.get("statedetailactivity", "").lower()
        names = ("activitycode", "proprietarycode", "detailactivity")
        return Activity(
            start=start,
            end=end,
            codes=tuple(code for name in names if (code := _code(text.get(name, "")))),
            failed=state in FAILED or detail in FAILED_DETAILS,
            state_detail=detail,
            text=text.get("comments", ""),
            depth=self._length(told.get("md")),
            bit=(self._length(told.get("mdbitstart")), self._length(told.get("mdbitend"))),
            hole=(self._length(told.get("mdholestart")), self._length(told.get("mdholeend"))),
            unit=_unit(told),
        )

    def _tell(self, what: str, done: str) -> None:
        self.notebook.tell(what, done, self.file)

    def _in_zone(self, activity: Activity, zone: float) -> Activity:
        """An activity that names no zone, in a report that does, is in the zone of the report."""
        if activity.start.zone is not None:
            return activity
        self._tell("a time without a zone beside others with one", "taken in their zone")
        start, end = (Moment(each.hours - zone, zone) for each in (activity.start, activity.end))
        return replace(activity, start=start, end=end)

    def _moment(self, text: str) -> Moment | None:
        found = measures.moment(text)
        if text and found is None:
            self._tell("a date that is none", "taken as not given")
        return found

    def _length(
        self, told: tuple[str, str] | None, *, most: float = measures.DEEPEST
    ) -> float | None:
        if told is None or measures.number(told[0]) is None:
            return None
        try:
            return measures.length(*told, most=most)
        except KeyError:
            unit = told[1].strip()[:20]
            words = f"a length in {unit!a}, which is not known" if unit else "a length without unit"
            self._tell(words, "taken as not given")
            return None

    def _hours(self, told: tuple[str, str]) -> float | None:
        try:
            return measures.hours(*told)
        except KeyError:
            self._tell("a duration without a unit that is known", "taken as not given")
            return None


def _name(text: str) -> str:
    """A name in one line, as a column of past jobs takes it."""
    plain = "".join(char if char.isprintable() else " " for char in text)
    return " ".join(plain.split())[:60] or "not named"


def _code(text: str) -> str:
    """A code in small letters, with one blank around what parts it."""
    return " ".join(text.lower().replace("--", " -- ").split())[:200]


def _unit(told: dict[str, tuple[str, str]]) -> float | None:
    """ft in the length unit that an activity is written in."""
    for name in ("md", "mdbitend", "mdholeend"):
        if name in told:
            return measures.LENGTHS.get(told[name][1].strip().lower())
    return None
