"""`econ daily`: what it prints and writes, and what it refuses."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest
from report_writer import Did, write_days

from .command import check_plain, econ, ok, refused, write
from .test_cli import loaded

WIDTH = 64
JOB = [
    Did(3, "trip", "RIH", 900, bit=(0, 900)),
    Did(20, "drill", "Drilled ahead", 1100, hole=(900, 1100)),
    Did(2, "trip", "POOH, string got stuck, secret words", 1050, state="fail"),
    Did(10, "fish", "Jarred and worked string, no movement", 1050),
    Did(5, "plug", "Set kick-off plug", 900),
    Did(20, "woc", "Waited on cement"),
    Did(9, "sidetrack", "Kicked off, time drilled", 920),
    Did(6, "weather", "Waited on weather"),
    Did(4, "xyz", "Qwertz"),
]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    place = tmp_path / "in"
    for number in range(3):
        write_days(place, JOB, well=f"Invented {number}", hole_size=8.5, shoe=500)
    return place


def test_text_is_plain_narrow_and_says_the_main_things(folder: Path) -> None:
    said = ok("daily", folder)
    check_plain(said)
    assert max(map(len, said.splitlines())) <= WIDTH
    flat = " ".join(said.split())
    assert "12 daily reports of 3 wells, 2026-03-01 to 2026-03-04: 237 h." in flat
    assert "Nothing is known of 5.1 % of these hours" in flat
    assert "Lost to weather 7.6 % of the hours" in flat
    assert "3 jobs of stuck pipe, fishing or cutting, in 9 stretches" in flat
    assert "work_jar, unfinished?" in flat
    metric = ok("daily", folder, "--units", "metric")
    assert "trip in, any hole, m/h" in metric
    assert "300" in next(line for line in metric.splitlines() if "trip in, any" in line)


def test_all_that_it_writes(folder: Path, tmp_path: Path) -> None:
    out, runs, figure = tmp_path / "speeds.toml", tmp_path / "draft.csv", tmp_path / "time.svg"
    tables = tmp_path / "tables"
    options = ("--out", out, "--runs", runs, "--figure", figure, "--tables", tables)
    result = econ("daily", folder, *options)
    assert result.exit_code == 0
    assert f"wrote {out}" in result.stderr
    assert "[value.trip_in]" in out.read_text("utf-8")
    assert figure.read_text("utf-8").startswith("<?xml")
    names = sorted(each.name for each in tables.iterdir())
    assert names == ["stretches.csv", "time.csv", "told.csv", "values.csv"]
    metric = tmp_path / "metric"
    ok("daily", folder, "--tables", metric, "--units", "metric")
    speeds = [
        next(csv.DictReader((place / "values.csv").read_text("utf-8").splitlines()))
        for place in (tables, metric)
    ]
    assert [row["unit"] for row in speeds] == ["ft/h", "m/h"]
    assert float(speeds[0]["p50"]) * 0.3048 == pytest.approx(float(speeds[1]["p50"]))
    table = list(csv.DictReader(runs.read_text("utf-8").splitlines()))
    assert len(table) == 9
    assert "secret words" in table[0]["remark"]
    again = tmp_path / "time.png"
    ok("daily", folder, "--figure", again)
    assert again.read_bytes()[1:4] == b"PNG"


def test_text_of_reports_stands_in_the_draft_alone(folder: Path, tmp_path: Path) -> None:
    tables = tmp_path / "tables"
    said = ok("daily", folder) + ok("daily", folder, "--json", "--tables", tables)
    said += ok("daily", folder, "--out", tmp_path / "s.toml") + (tmp_path / "s.toml").read_text()
    said += "".join(each.read_text("utf-8") for each in tables.iterdir())
    assert "secret words" not in said


def test_json_is_one_document(folder: Path) -> None:
    found = json.loads(ok("daily", folder, "--json"))
    assert found["wells"] == ["Invented 0", "Invented 1", "Invented 2"]
    assert found["hours"] == pytest.approx(237)
    assert {row["proposed_kind"] for row in found["stretches"]} == {"work_jar", ""}
    assert "text" not in found["stretches"][0]
    assert sum(row["hours"] for row in found["time"]) == pytest.approx(237)


def test_a_scenario_takes_what_it_writes(folder: Path, tmp_path: Path) -> None:
    (tmp_path / "more").mkdir()
    there_and_back = [JOB[0], Did(3, "trip", "POOH", 0, bit=(900, 0))]
    for number in range(5):
        write_days(tmp_path / "more", there_and_back, well=f"W {number}")
    ok("daily", tmp_path / "more", "--out", tmp_path / "speeds.toml", "--units", "metric")
    job = """schema = 1
units = "metric"
currency = "USD"
speeds_from = "speeds.toml"
[job]
well = "Invented 9"
[well]
depth = 3000
hole_diameter = 215.9
shoe_depth = 1500
[rates]
rig = 24000
[fish]
top = 2800
bottom = 2900
[[run]]
name = "Overshot"
trips = [{ make_up = 2, work = 3 }]
odds = { recovered = 0.4, nothing = 0.6 }
[[fallback]]
name = "Sidetrack"
[draws]
n = 16
"""
    write(tmp_path / "job.toml", job)
    said = " ".join(ok("check", tmp_path / "job.toml").split())
    assert "trip_speed.in.open: from daily reports (5 daily reports of 5 wells" in said
    assert "P10 300, P50 300, P90 300 m/h" in said
    said = " ".join(ok("answer", "--full", tmp_path / "job.toml").split())
    assert "from daily reports" in said
    result = econ("plan", tmp_path / "job.toml", "--out", tmp_path / "speeds.toml")
    assert result.exit_code == 2  # no output replaces an input


def test_what_cannot_be_read_or_written_is_refused(folder: Path, tmp_path: Path) -> None:
    assert "no file or folder" in refused("daily", tmp_path / "none")
    refused("daily", folder, "--out", tmp_path / "x.txt")
    refused("daily", folder, "--figure", tmp_path / "x.gif")
    refused("daily", folder, "--runs", tmp_path / "no" / "x.csv")
    refused("daily", folder, "--tables", next(folder.iterdir()))
    refused("daily")
    own = write(tmp_path / "w.toml", "[codes]\nx = 'dril'\n")
    assert "did you mean drill?" in refused("daily", folder, "--words", own)
    assert "that is read" in refused("daily", folder, "--words", own, "--out", own)
    hostile = write(
        tmp_path / "bomb.xml", '<!DOCTYPE a [<!ENTITY b "c">]><drillReports>&b;</drillReports>'
    )
    said = refused("daily", hostile, "--out", tmp_path / "s.toml")
    assert "a document type or entity of its own" in said
    assert not (tmp_path / "s.toml").exists()


def test_hostile_names_steer_no_terminal(tmp_path: Path) -> None:
    write_days(tmp_path / "in", JOB[:3], well="Bad\u202e\u0085 name")
    check_plain(ok("daily", tmp_path / "in"))


def test_help_loads_nothing_heavy() -> None:
    assert not loaded("daily", "--help") & {"numpy", "pydantic", "defusedxml"}
