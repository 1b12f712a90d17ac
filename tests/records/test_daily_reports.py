"""Daily drilling reports: what is read of the open form, and what is done with broken files.

Origins: the truth of a report is the list that it was written from (report_writer), speeds and
hours by hand from it; percentiles against NumPy; the standard's names and codes from its published
schemas (WITSML 1.4.1.1 and 2.0).
"""

from __future__ import annotations

import importlib.util
import io
import os
import time
import zipfile
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from report_writer import (
    ONE,
    START,
    TWO,
    VERSIONS,
    Did,
    activities,
    document,
    report,
    write_days,
)

import econ
from econ.records.daily_reports import DailyReports, daily
from econ.records.daily_reports import sources as sources_module
from econ.records.daily_reports.measures import length, moment
from econ.records.daily_reports.sorting import depths_pattern, depths_said
from econ.records.daily_reports.values import percentiles
from econ.records.daily_reports.words import KINDS, SORTS, own_vocabulary, vocabulary
from econ.scenario import ScenarioError

ROOT = Path(__file__).parents[2]
DAY = [
    Did(2, "trip", "RIH to 600 m", 600, bit=(0, 600)),
    Did(18, "drill", "Drilled ahead", 700, hole=(600, 690)),
    Did(4, "circulate", "Circulated bottoms up", 700),
]


def write(path: Path, text: str | bytes) -> Path:
    if isinstance(text, bytes):
        path.write_bytes(text)
    else:
        path.write_text(text, encoding="utf-8")
    return path


def one_report(done: list[Did] | None = None, *, version: str = ONE, **more: object) -> str:
    made = activities(done or DAY, version=version)
    return report([each[2] for each in made], version=version, **more)  # type: ignore[arg-type]


def told(found: DailyReports) -> str:
    return " | ".join(map(str, found.told))


def hours(found: DailyReports, sort: str) -> float:
    return sum(each.hours for each in found.spent if each.sort == sort)


# The form --------------------------------------------------------------------------------


@pytest.mark.parametrize("version", VERSIONS)
def test_a_day_is_read_in_both_versions(tmp_path: Path, version: str) -> None:
    file = write(tmp_path / "day.xml", document([one_report(version=version)], version=version))
    found = daily(file)
    assert (found.files, found.reports, found.wells) == (1, 1, ("Invented 1",))
    assert found.hours == pytest.approx(24)
    assert [hours(found, sort) for sort in ("trip_in", "drill", "circulate")] == [2, 18, 4]
    assert found.unmatched == 0
    assert found.told == ()
    assert found.value("trip_in").p50 * 0.3048 == pytest.approx(300)  # type: ignore[union-attr]


@pytest.mark.parametrize("version", ["1.4.0.0", "1.4.1.1", "2.0", "2.1"])
def test_prefixes_and_several_reports_in_a_file(tmp_path: Path, version: str) -> None:
    days = [
        one_report([replace(each, text="") for each in DAY], start=START + timedelta(days=number))
        for number in range(3)
    ]
    shifted = [
        day.replace("2026-03-01T", f"2026-03-{1 + number:02d}T") for number, day in enumerate(days)
    ]
    text = document(shifted, version=version)
    prefixed = (
        text.replace("<", "<witsml:")
        .replace("<witsml:/", "</witsml:")
        .replace("<witsml:?", "<?")
        .replace("xmlns=", "xmlns:witsml=")
    )
    for words in (text, prefixed):
        assert daily(write(tmp_path / "days.xml", words)).reports == 3


@pytest.mark.parametrize(
    ("unit", "factor"), [("m", 1.0), ("ft", 1 / 0.3048), ("cm", 100.0), ("km", 0.001)]
)
def test_units_of_measure_are_kept_apart(tmp_path: Path, unit: str, factor: float) -> None:
    done = [Did(3, "trip", "RIH", 900 * factor, bit=(0, 900 * factor))]
    made = activities(done, unit=unit)
    found = daily(write(tmp_path / "day.xml", document([report([made[0][2]])])))
    assert found.value("trip_in").p50 == pytest.approx(300 / 0.3048)  # type: ignore[union-attr]


def test_a_length_without_its_unit_is_none(tmp_path: Path) -> None:
    text = document([one_report()]).replace(' uom="m"', "")
    found = daily(write(tmp_path / "day.xml", text))
    assert found.value("trip_in") is None
    assert "a length without unit" in told(found)
    odd = document([one_report()]).replace('uom="m"', 'uom="furlong"')
    assert "furlong" in told(daily(write(tmp_path / "day.xml", odd)))
    with pytest.raises(KeyError):
        length("5", "furlong")


@pytest.mark.parametrize("nothing", ["-999.99", "-999.25", "-9999", "NaN", "", "1e9", "-5"])
def test_what_stands_for_no_value_is_none(nothing: str) -> None:
    assert length(nothing, "m") is None


def test_sentinels_are_no_depth(tmp_path: Path) -> None:
    text = document([one_report([Did(3, "trip", "Tripped", 500)])]).replace(">500<", ">-999.99<")
    found = daily(write(tmp_path / "day.xml", text))
    assert found.value("trip_in") is None
    assert found.told == ()


def test_letters_in_other_encodings(tmp_path: Path) -> None:
    done = [Did(6, "", "Kjørte inn til 600 m, ventet på vær")]
    for encoding in ("UTF-8", "ISO-8859-1", "UTF-16", "windows-1252"):
        made = activities(done)
        text = document([report([made[0][2]], well="Brønn Å")], encoding=encoding)
        found = daily(write(tmp_path / "day.xml", text.encode(encoding)))
        assert found.wells == ("Brønn Å",), encoding
        assert hours(found, "weather") == 6


# Time ------------------------------------------------------------------------------------


def test_what_runs_over_midnight_is_one(tmp_path: Path) -> None:
    done = [
        Did(22, "drill", "Drilled", hole=(3000, 3100)),
        Did(6, "trip", "POOH", 0, bit=(3000, 0)),  # 22:00 to 04:00
        Did(10, "circulate", "Circulated"),
        Did(2, "trip", "RIH", 400, bit=(0, 400)),
    ]
    for hour in (0, 6):  # of the report; a leg is split at either
        place = tmp_path / str(hour)
        shift = START + timedelta(hours=hour)
        files = write_days(place, done, start=shift, report_hour=hour)
        assert len(files) == 2
        found = daily(place)
        value = found.value("trip_out")
        assert value is not None
        assert value.cases == 1
        assert value.p50 * 0.3048 == pytest.approx(500)
        assert hours(found, "trip_out") == pytest.approx(6)


def test_the_same_stretch_in_two_reports_counts_once(tmp_path: Path) -> None:
    day = one_report()
    again = one_report(created=START + timedelta(days=3)).replace("Drilled ahead", "Corrected")
    write(tmp_path / "a.xml", document([day]))
    write(tmp_path / "b.xml", document([again]))
    found = daily(tmp_path)
    assert found.reports == 1
    assert found.hours == pytest.approx(24)
    assert "a report of the same period again in b.xml" in told(found)


def test_days_that_overlap_count_once(tmp_path: Path) -> None:
    first = report([each[2] for each in activities([Did(24, "drill", "Drilled")])])
    later = START + timedelta(hours=18)
    other = activities([Did(24, "circulate", "Circulated")], start=later)
    second = report([other[0][2]], start=later)
    found = daily(write(tmp_path / "x.xml", document([first, second])))
    assert found.hours == pytest.approx(42)
    assert found.twice == pytest.approx(6)
    assert hours(found, "circulate") == pytest.approx(18)
    assert "hours told twice in Invented 1: counted once (6.0 h)" in told(found)


def test_missing_days_are_told_and_a_pause_between_campaigns_is_none(tmp_path: Path) -> None:
    def day(number: int) -> str:
        start = START + timedelta(days=number)
        made = activities(DAY, start=start)
        return report([each[2] for each in made], start=start)

    found = daily(write(tmp_path / "x.xml", document([day(0), day(2), day(200)])))
    assert found.missing == pytest.approx(24)
    assert "hours that no report tells of in Invented 1: counted nowhere (24.0 h)" in told(found)


def test_time_zones(tmp_path: Path) -> None:
    made = activities([Did(6, "drill", "Drilled")], zone="+02:00")
    text = report([made[0][2]], zone="+02:00")
    found = daily(write(tmp_path / "x.xml", document([text])))
    assert found.first == "2026-03-01T00:00+02:00"
    # the same hours told in another zone are the same hours
    zulu = START - timedelta(hours=2)
    again = report([activities([Did(6, "drill", "Drilled")], start=zulu)[0][2]], start=zulu)
    both = daily(write(tmp_path / "x.xml", document([text, again])))
    assert both.hours == pytest.approx(6)
    # clocks that change in the night: 8 h by the clock on the wall are 7 on that of the zone
    spring = document([text]).replace("06:00:00+02:00", "06:00:00+03:00")
    assert daily(write(tmp_path / "x.xml", spring)).hours == pytest.approx(5)


def test_a_time_without_zone_beside_others_is_in_theirs(tmp_path: Path) -> None:
    made = [each[2] for each in activities([Did(3, "drill"), Did(3, "drill")], zone="+02:00")]
    made[1] = made[1].replace("+02:00", "")
    found = daily(write(tmp_path / "x.xml", document([report(made, zone="+02:00")])))
    assert found.hours == pytest.approx(6)
    assert found.twice == found.missing == 0
    assert "a time without a zone beside others with one" in told(found)
    mixed = made[0].replace("03:00:00+02:00", "03:00:00")
    found = daily(write(tmp_path / "x.xml", document([report([mixed, made[1]])])))
    assert "at one end only" in told(found)


def test_times_that_cannot_be(tmp_path: Path) -> None:
    good = activities([Did(3, "drill", "Drilled")])[0][2]
    late = good.replace("T03:00", "T00:00").replace("T00:00:00Z", "T05:00:00Z", 1)
    none = good.replace("2026-03-01T00:00:00Z", "yesterday")
    for bad, says in ((late, "ends before its start"), (none, "without its start and end")):
        found = daily(write(tmp_path / "x.xml", document([report([good, bad])])))
        assert found.hours == pytest.approx(3)
        assert says in told(found)
    assert moment("2026-03-01T24:00:00Z") == moment("2026-03-02T00:00:00Z")
    assert moment("2026-03-01T06:00:00.0000000Z") == moment("2026-03-01T06:00:00Z")
    assert moment("2026-02-30T00:00:00Z") is None
    assert moment("1026-02-20T00:00:00Z") is None


def test_a_duration_stands_for_a_missing_end(tmp_path: Path) -> None:
    good = activities([Did(3, "drill", "Drilled")])[0][2]
    end = good[good.index("<dTimEnd>") : good.index("</dTimEnd>") + 10]
    for uom, value in (("h", 3), ("min", 180), ("s", 10_800), ("d", 0.125)):
        text = good.replace(end, f'<duration uom="{uom}">{value}</duration>')
        found = daily(write(tmp_path / "x.xml", document([report([text])])))
        assert found.hours == pytest.approx(3)


# Several wells, folders and zips ----------------------------------------------------------


def test_several_wells_in_one_folder_are_kept_apart(tmp_path: Path) -> None:
    for well in ("Invented 1", "Invented 2"):
        write_days(tmp_path, DAY, well=well)
    found = daily(tmp_path)
    assert found.wells == ("Invented 1", "Invented 2")
    assert found.hours == pytest.approx(48)
    assert found.twice == 0
    value = found.value("trip_in")
    assert value is not None
    assert (value.cases, value.wells) == (2, 2)


def test_a_file_a_folder_and_a_zip_say_the_same(tmp_path: Path) -> None:
    files = write_days(tmp_path / "in" / "deeper", DAY * 3)
    packed = tmp_path / "all.zip"
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        for file in files:
            archive.write(file, f"some/where/{file.name}")
        archive.writestr("readme.txt", "no report")
    alone, folder, zipped = daily(*files), daily(tmp_path / "in"), daily(packed)
    assert alone.values == folder.values == zipped.values
    assert folder.reports == zipped.reports == 3
    together = daily(tmp_path)  # the folder holds the zip too
    assert together.hours == folder.hours
    assert together.files == 6


def test_what_is_no_report_is_told(tmp_path: Path) -> None:
    write(tmp_path / "good.xml", document([one_report()]))
    write(tmp_path / "log.xml", "<logs><log><md uom='m'>5</md></log></logs>")
    write(tmp_path / "page.xml", "<html><p>drillReport")
    write(tmp_path / "empty.xml", "")
    write(tmp_path / "notes.txt", "not looked at")
    found = daily(tmp_path)
    assert found.reports == 1
    assert "XML without a daily drilling report, 2 times, first in empty.xml" in told(found)
    assert "no sound XML at line 1" in told(found)


def test_a_report_of_nothing_is_told(tmp_path: Path) -> None:
    found = daily(write(tmp_path / "x.xml", document(["<drillReport/>", one_report()])))
    assert "a report without an activity that can be read in x.xml" in told(found)
    assert found.hours > 0


def test_clocks_that_go_back_give_a_day_of_25_hours(tmp_path: Path) -> None:
    """By the clock of the zone, and by a clock without one, on which an hour comes twice."""

    def day(zones: tuple[str, str, str, str]) -> str:
        times = ("00:00", "02:30", "02:30", "24:00")
        ends = [f"2026-10-25T{time}:00{zone}" for time, zone in zip(times, zones, strict=True)]
        done = "<proprietaryCode>drilling -- drill</proprietaryCode>"
        inside = [
            f"<activity><dTimStart>{ends[n]}</dTimStart><dTimEnd>{ends[n + 1]}</dTimEnd>{done}"
            "</activity>"
            for n in range(3)
        ]
        return f"<drillReport><nameWell>Invented 1</nameWell>{''.join(inside)}</drillReport>"

    zoned = write(tmp_path / "a.xml", document([day(("+02:00", "+02:00", "+01:00", "+01:00"))]))
    assert daily(zoned).hours == 25
    assert daily(write(tmp_path / "b.xml", document([day(("", "", "", ""))]))).hours == 24


def test_nothing_to_read_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ScenarioError, match="no file or folder"):
        daily(tmp_path / "nowhere")
    with pytest.raises(ScenarioError, match="no daily report"):
        daily(tmp_path)
    with pytest.raises(ScenarioError, match="XML without a daily drilling report"):
        daily(write(tmp_path / "x.xml", "<a/>"))


# Broken and hostile files -----------------------------------------------------------------

BOMB = (
    '<?xml version="1.0"?><!DOCTYPE drillReports [<!ENTITY a "lol">'
    + "".join(f'<!ENTITY a{n} "{"&a;" if n == 0 else f"&a{n - 1};" * 10}">' for n in range(9))
    + "]><drillReports><drillReport><nameWell>&a8;</nameWell></drillReport></drillReports>"
)
OUTSIDE = (
    '<?xml version="1.0"?><!DOCTYPE drillReports [<!ENTITY x SYSTEM "file:///etc/hostname">]>'
    "<drillReports><drillReport><nameWell>&x;</nameWell></drillReport></drillReports>"
)
ELSEWHERE = (
    '<?xml version="1.0"?><!DOCTYPE drillReports SYSTEM "http://127.0.0.1:9/none.dtd">'
    "<drillReports><drillReport/></drillReports>"
)


@pytest.mark.parametrize("text", [BOMB, OUTSIDE, ELSEWHERE])
def test_document_types_and_entities_are_refused(tmp_path: Path, text: str) -> None:
    write(tmp_path / "good.xml", document([one_report()]))
    write(tmp_path / "bad.xml", text)
    found = daily(tmp_path)
    assert found.wells == ("Invented 1",)
    assert "a document type or entity of its own" in told(found)
    assert "bad.xml" in told(found)


def test_whole_reports_before_a_break_are_kept(tmp_path: Path) -> None:
    text = document([one_report(), one_report(well="Invented 2")])
    cut = text[: text.index("Invented 2") + 200]
    found = daily(write(tmp_path / "x.xml", cut))
    assert found.wells == ("Invented 1",)
    assert "the whole reports before it are taken" in told(found)


def test_deep_nesting_and_a_bad_letter_are_refused(tmp_path: Path) -> None:
    write(tmp_path / "good.xml", document([one_report()]))
    write(tmp_path / "deep.xml", "<a>" * 5000 + "</a>" * 5000)
    write(tmp_path / "byte.xml", document([one_report()]).encode() + b"\xff\xfe")
    write(tmp_path / "code.xml", b'<?xml version="1.0" encoding="klingon"?><a/>')
    found = daily(tmp_path)
    assert "tags nested deeper than 100" in told(found)
    assert "no sound XML" in told(found)


def test_large_files_are_refused_before_they_are_read_whole(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sources_module, "LARGEST_XML", 1_000_000)
    write(tmp_path / "good.xml", document([one_report()]))
    write(tmp_path / "large.xml", document([one_report()]) + " " * 1_000_001)
    with zipfile.ZipFile(tmp_path / "bomb.zip", "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("zeros.xml", b" " * 50_000_000)
    found = daily(tmp_path)
    assert found.reports == 1
    assert "more than 1 MB in a file, 2 times" in told(found)
    monkeypatch.setattr(sources_module, "LARGEST_TOGETHER", 2000)
    with pytest.raises(ScenarioError, match="in all files together"):
        daily(tmp_path / "large.xml")


def test_a_zip_that_lies_about_its_size_is_stopped(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sources_module, "LARGEST_XML", 1_000_000)
    path = tmp_path / "x.zip"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("a.xml", b"<drillReports>" + b" " * 20_000_000)
    data = bytearray(path.read_bytes())
    place = data.rindex(b"PK\x01\x02") + 24  # uncompressed size in the central directory
    data[place : place + 4] = (1000).to_bytes(4, "little")
    path.write_bytes(bytes(data))
    with pytest.raises(ScenarioError):
        daily(path)


@pytest.mark.parametrize("part", ["<a b='{}'/>", "<!--{}-->", "<{}/>"])
def test_a_tag_without_an_end_is_stopped(tmp_path: Path, part: str) -> None:
    text = document([one_report(), part.format("x" * 6_000_000)])
    found = daily(write(tmp_path / "x.xml", text))
    assert found.reports == 1
    assert "a tag or comment over 4 MB in x.xml: the whole reports before it are taken" in told(
        found
    )


def test_no_text_takes_long_to_look_through() -> None:
    """Steps of the search grow with the length of a text, not with its square."""
    known = own_vocabulary()
    pattern = depths_pattern(known)

    def seconds(text: str) -> float:
        begun = time.process_time()
        for _ in range(5):
            depths_said(text, pattern, 1.0)
            known.hits(text, "english")
        return time.process_time() - begun

    for piece in (" 234", "1 m to ", "12 m ", " ", "9", "no not ", "free point "):
        assert seconds(piece * (4000 // len(piece))) < 0.25, piece


def test_names_in_a_zip_lead_nowhere(tmp_path: Path) -> None:
    path = tmp_path / "x.zip"
    inner = tmp_path / "inner.zip"
    with zipfile.ZipFile(inner, "w") as archive:
        archive.writestr("a.xml", document([one_report()]))
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("../../escaped.xml", document([one_report()]))
        archive.writestr("/absolute.xml", document([one_report(well="Invented 2")]))
        archive.write(inner, "inner.zip")
    before = sorted(each.name for each in tmp_path.iterdir())
    found = daily(path)
    assert found.wells == ("Invented 1", "Invented 2")
    assert "a zip inside a zip" in told(found)
    assert sorted(each.name for each in tmp_path.iterdir()) == before
    assert not (tmp_path.parent / "escaped.xml").exists()
    write(tmp_path / "broken.zip", path.read_bytes()[:200])
    with pytest.raises(ScenarioError):
        daily(tmp_path / "broken.zip")


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes here")
def test_links_and_pipes_in_a_folder_are_left_out(tmp_path: Path) -> None:
    place = tmp_path / "in"
    place.mkdir()
    write(place / "good.xml", document([one_report()]))
    os.mkfifo(place / "pipe.xml")
    (place / "link.xml").symlink_to("/dev/zero")
    (place / "loop").symlink_to(place)
    found = daily(place)
    assert found.files == 1
    assert "a link or no plain file in a folder, 2 times" in told(found)


# Words and codes --------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "topic", "there"),
    [
        ("String got stuck at 2300 m", "held", True),
        ("No sign of stuck pipe", "held", False),
        ("Not yet stuck", "stuck", False),
        ("No rotation. String got stuck", "held", True),  # another clause
        ("Held stuck pipe drill with crew", "held", False),
        ("STUCK PIPE", "held", True),
        ("Held kick drill", "control", False),
        ("Made up fishing neck", "fish", False),
        ("Unstuck", "stuck", False),  # whole words
        ("Ran overshot with 6 1/2 in grapple", "fish", True),
        ("Slips stuck in bowl", "stuck", False),
        ("Set bridge plug", "plug", False),
        ("Cut and slip drilling line", "cut", False),
        ("Differentially stuck", "stuck", True),
        ("Pulled free with 40 t", "free", True),
        ("Not free", "free", False),
    ],
)
def test_words_are_whole_and_denied_within_three_words(text: str, topic: str, there: bool) -> None:
    found = {hit.topic for hit in own_vocabulary().hits(text, "english")}
    assert (topic in found) is there


@pytest.mark.parametrize(
    ("text", "language", "sort"),
    [
        ("Strengen satt fast ved 2300 m og ble arbeidet med jar", "norwegian", "stuck"),
        ("Ventet på vær med rigg ved lokasjon og det var sterk vind", "norwegian", "weather"),
        ("Sarta pegada a 2300 m, se trabajó con martillo para la sarta", "spanish", "stuck"),
        ("Espera por clima, mal tiempo en la locación", "spanish", "weather"),
        ("Coluna presa a 2300 m, não houve retorno, em manobra com jar", "portuguese", "stuck"),
        ("Gestänge fest bei 2300 m und mit der Schere geschlagen", "german", "stuck"),
        ("Garniture coincée à 2300 m, battage à la coulisse avec le jar", "french", "stuck"),
        ("Descente de la garniture dans le puits", "french", "trip_in"),
    ],
)
def test_reports_in_other_languages(tmp_path: Path, text: str, language: str, sort: str) -> None:
    assert own_vocabulary().language([text]) == language
    made = activities([Did(5, "", text)])
    found = daily(write(tmp_path / "x.xml", document([report([made[0][2]])])))
    assert hours(found, sort) == 5


def test_an_english_fast_is_not_a_norwegian_one() -> None:
    topics = {hit.topic for hit in own_vocabulary().hits("Drilled fast with the motor", "english")}
    assert "stuck" not in topics


def test_codes_come_before_words(tmp_path: Path) -> None:
    done = [
        Did(5, "weather", "Discussed stuck pipe and fishing with the crew"),
        Did(4, "fish", "Held safety meeting"),
        Did(3, "some company code 4711", "Circulated bottoms up"),
        Did(2, "99 XYZ", "Qwertz"),
    ]
    for version in VERSIONS:
        made = activities(done, version=version)
        text = document([report([each[2] for each in made], version=version)], version=version)
        found = daily(write(tmp_path / "x.xml", text))
        assert [hours(found, s) for s in ("weather", "fish", "circulate")] == [5, 4, 3]
        assert found.unmatched == pytest.approx(2 / 14)


def test_a_file_of_your_own_words(tmp_path: Path) -> None:
    made = activities([Did(2, "99 XYZ", "Qwertz"), Did(2, "", "Yxcvb der Strang")])
    file = write(tmp_path / "x.xml", document([report([each[2] for each in made])]))
    own = '[codes]\n"99 XYZ" = "drill"\n[words.german]\nstuck = ["yxcvb"]\n'
    found = daily(file, words=write(tmp_path / "w.toml", own))
    assert (hours(found, "drill"), hours(found, "stuck")) == (2, 2)
    new = "[words.dutch]\nmarks = ['de', 'het']\nstuck = ['vast']\n"
    made = activities([Did(2, "", "De streng zit vast in het gat")])
    dutch = write(tmp_path / "y.xml", document([report([made[0][2]])]))
    assert hours(daily(dutch, words=write(tmp_path / "w.toml", new)), "stuck") == 2
    with pytest.raises(ScenarioError, match="without marks"):
        vocabulary(write(tmp_path / "w.toml", "[words.dutch]\nstuck = ['vast']\n"))
    bad = '[codes]\n"a" = "dril"\n[words.german]\nstuk = ["x"]\nfish = 3\n[kind]\na = 1\n'
    with pytest.raises(ScenarioError) as error:
        vocabulary(write(tmp_path / "w.toml", bad))
    said = str(error.value)
    assert "did you mean drill?" in said
    assert "did you mean stuck?" in said
    assert "did you mean kinds?" in said
    assert len(error.value.faults) == 4


def test_the_words_of_the_program_are_sound() -> None:
    from econ.records.daily_reports.words import _faults, _own

    own = _own()
    assert list(_faults(own, tuple(own["words"]))) == []
    assert set(own["kinds"]) <= set(KINDS)
    assert all(sort in (*SORTS, "?") for sort in own["codes"].values())


# The demo -------------------------------------------------------------------------------------


def test_the_demo_is_what_its_script_makes() -> None:
    place = ROOT / "scenarios" / "reports"
    spec = importlib.util.spec_from_file_location("invent_reports", place / "invent.py")
    assert spec is not None
    assert spec.loader is not None
    script = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(script)
    made = script.files()
    assert {each.name for each in place.iterdir() if each.suffix in (".xml", ".zip")} == set(made)
    assert (place / "quill_sand_4.xml").read_bytes() == made["quill_sand_4.xml"]
    with (
        zipfile.ZipFile(place / "heron_flat_2.zip") as stored,
        zipfile.ZipFile(io.BytesIO(made["heron_flat_2.zip"])) as new,
    ):
        assert {name: stored.read(name) for name in stored.namelist()} == {
            name: new.read(name) for name in new.namelist()
        }
    assert "Invented" in script.HEAD


def test_the_demo_holds_the_story_it_was_made_of() -> None:
    found = daily(ROOT / "scenarios" / "reports")
    assert found.wells == ("Heron Flat 2", "Quill Sand 4")
    assert found.told == ()
    assert found.unmatched == 0
    stories = [(each.job, each.what, each.kind, each.outcome) for each in found.stretches]
    assert stories == [
        ("Heron Flat 2 job 1", "stuck", "work_jar", "unfinished"),
        ("Heron Flat 2 job 1", "stuck", "soak", "unfinished"),
        ("Heron Flat 2 job 1", "stuck", "work_jar", "unfinished"),
        ("Heron Flat 2 job 1", "cut", "freepoint_backoff", "prepared"),
        ("Heron Flat 2 job 1", "fish", "overshot", "nothing"),
        ("Heron Flat 2 job 1", "fish", "overshot", "nothing"),
        ("Heron Flat 2 job 1 fallback", "plug", "", ""),
        ("Heron Flat 2 job 1 fallback", "sidetrack", "", ""),
        ("Quill Sand 4 job 1", "stuck", "work_jar", "recovered"),
    ]
    # by hand from the lists of the script: 8 + 10 legs, and cement from its end to its last wait
    assert [found.value(name).cases for name in ("trip_in", "trip_out")] == [8, 10]  # type: ignore[union-attr]
    assert found.value("woc").p50 == 7.5 + 8 + 8 + 5  # type: ignore[union-attr]


# The interface ----------------------------------------------------------------------------


def test_percentiles_are_those_of_numpy() -> None:
    rng = np.random.default_rng(5)
    for size in (1, 2, 3, 10, 77):
        amounts = rng.lognormal(size=size).tolist()
        expected = np.percentile(amounts, [10, 50, 90])
        assert percentiles(amounts) == pytest.approx(tuple(expected))


def test_the_result_is_a_frame_and_a_line(tmp_path: Path) -> None:
    write_days(tmp_path, DAY)
    found = econ.daily(tmp_path)
    assert repr(found).startswith("DailyReports(files=1, reports=1")
    assert len(repr(found)) < 150
    frame = found.to_frame()
    assert list(frame["name"]) == ["trip_in", "circulate"]
    assert set(frame.columns) >= {"unit", "cases", "wells", "p10", "p50", "p90", "hole_size"}
    with pytest.raises(AttributeError):
        found.hours = 1.0  # type: ignore[misc]


def test_two_point_zero_has_its_own_words_for_trips(tmp_path: Path) -> None:
    done = [
        Did(2, "tripping -- trip in (from surface)", "", 800, bit=(0, 800)),
        Did(3, "tripping -- short trip out", "", 300, bit=(800, 300)),
        Did(4, "tripping -- trip out (to surface)", "", 0, bit=(800, 0)),
    ]
    made = activities(done, version=TWO, start=datetime(2026, 3, 1, 4))
    text = document([report([each[2] for each in made], version=TWO)], version=TWO)
    found = daily(write(tmp_path / "x.xml", text))
    assert [found.value(name).cases for name in ("trip_in", "trip_out")] == [1, 1]  # type: ignore[union-attr]
    assert hours(found, "short_trip") == 3
