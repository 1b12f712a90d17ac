"""A job on the desk, from a change to the papers: what any window may ask, over a real socket."""

from __future__ import annotations

import base64
import io
import json
import shutil
import subprocess
import sys
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from cli.command import ok
from report_writer import VERSIONS, Did, activities, document, report

from econ.decision.quick import quick
from econ.decision.run_log import inputs_after
from econ.scenario.load import load

from .running import ROOT, Desk, Stream, desk

POINT_A = ROOT / "scenarios" / "point" / "a_land_twist_off.toml"
ONE = {"run": "1", "start": "2026-03-14T06:00", "end": "2026-03-15T10:00", "outcome": "nothing"}
Row = dict[str, Any]


@pytest.fixture(scope="module")
def running(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Desk, Path]]:
    path = tmp_path_factory.mktemp("job") / "job.toml"
    shutil.copy(POINT_A, path)
    with desk(path) as opened, opened.stream():  # a window stays, or the desk would end
        yield opened, path


@pytest.fixture
def job(running: tuple[Desk, Path]) -> tuple[Desk, Path]:
    """The desk with the demo in its file, and no log."""
    opened, path = running
    for log in path.parent.glob("*.csv"):
        log.unlink()
    if opened.get("/api/job")["draft"]["unsaved"]:
        opened.post("/api/offer", {"op": "drop"})
    path.write_bytes(POINT_A.read_bytes())
    opened.wait_for(lambda: opened.get("/api/job")["text"] == POINT_A.read_text(encoding="utf-8"))
    opened.wait_for(lambda: not opened.get("/api/job")["log"]["there"])
    return opened, path


def rig(opened: Desk, value: float) -> Row:
    base = opened.get("/api/job")["hash"]
    change = {"op": "set", "key": "rates.rig", "value": value}
    found: Row = opened.post("/api/changes", {"base": base, "changes": [change]})
    return found


def test_a_change_is_answered_as_the_command_answers_the_saved_file(job: Any) -> None:
    opened, path = job
    with opened.stream() as stream:
        changed = rig(opened, 31000)
        assert changed["draft"]["unsaved"]
        assert path.read_bytes() == POINT_A.read_bytes()
        shown = stream.answer(changed["input"])["answer"]["document"]
        saved = opened.post("/api/save", {"base": changed["hash"]})
    assert not saved["draft"]["unsaved"]
    assert saved["input"] == changed["input"]
    meant = POINT_A.read_text(encoding="utf-8").replace("rig = 27000", "rig = 31000")
    assert path.read_text(encoding="utf-8") == meant
    assert json.loads(ok("answer", path, "--json")) == shown


def test_two_windows_do_not_fight(job: Any) -> None:
    opened, _ = job
    first = opened.get("/api/job")
    changed = rig(opened, 31000)
    body = {"base": first["hash"], "changes": [{"op": "set", "key": "rates.rig", "value": 5}]}
    late = opened.ask("POST", "/api/changes", body)
    assert late.status == 409
    assert late.json["job"]["hash"] == changed["hash"]
    assert late.json["job"]["values"]["rates"]["rig"] == 31000
    back = opened.post("/api/undo", {"base": changed["hash"]})
    assert back["text"] == first["text"]
    assert not back["draft"]["unsaved"]


def test_every_window_hears_of_a_change(job: Any) -> None:
    opened, path = job
    with opened.stream() as one, opened.stream() as other:
        changed = rig(opened, 33000)
        for stream in (one, other):
            opened.wait_for(lambda stream=stream: heard(stream, changed["hash"]))
        opened.post("/api/undo", {"base": changed["hash"]})
        # Another program changes the file.
        path.write_text(path.read_text(encoding="utf-8").replace("27000", "28000"))
        opened.wait_for(lambda: opened.get("/api/job")["values"]["rates"]["rig"] == 28000)
        now = opened.get("/api/job")
        opened.wait_for(lambda: heard(one, now["hash"]))
        assert one.answer(now["input"])


def test_a_window_hears_that_another_has_saved(job: Any) -> None:
    opened, _ = job
    changed = rig(opened, 33000)
    with opened.stream() as other:
        saved = opened.post("/api/save", {"base": changed["hash"]})
        assert saved["hash"] == changed["hash"]
        assert saved["version"] > changed["version"]
        opened.wait_for(lambda: any(e.get("version") == saved["version"] for e in other.events))


def test_a_file_that_the_job_names_is_watched(job: Any) -> None:
    opened, path = job
    odds = path.with_name("odds.toml")
    ok("odds", ROOT / "scenarios" / "records" / "invented_jobs.csv", "--out", odds)
    base = opened.get("/api/job")["hash"]
    change = {"op": "set", "key": "odds_from", "value": "odds.toml"}
    named = opened.post("/api/changes", {"base": base, "changes": [change]})
    assert named["faults"] == []
    odds.write_text(odds.read_text(encoding="utf-8") + "# changed\n", encoding="utf-8")
    now = opened.wait_for(lambda: other_input(opened, named["input"]))
    assert now["hash"] == named["hash"]
    odds.unlink()
    gone = opened.wait_for(lambda: other_input(opened, now["input"]))
    assert "odds.toml" in gone["faults"][0]["text"]


def other_input(opened: Desk, known: str) -> Row | None:
    found: Row = opened.get("/api/job")
    return found if found["input"] != known else None


def heard(stream: Stream, given: str) -> bool:
    return any(event.get("hash") == given for event in stream.events)


def test_a_file_changed_elsewhere_is_not_written_over(job: Any) -> None:
    opened, path = job
    changed = rig(opened, 31000)
    theirs = path.read_text(encoding="utf-8").replace("plugs = 1", "plugs = 2")
    path.write_text(theirs, encoding="utf-8")
    refused = opened.ask("POST", "/api/save", {"base": changed["hash"]})
    assert (refused.status, refused.json["elsewhere"]) == (409, True)
    assert path.read_text(encoding="utf-8") == theirs
    rows = {row["key"]: row for row in opened.get("/api/versions")["versions"]}
    assert rows["rates.rig"]["mine"] == 31000
    settled = opened.post("/api/settle", {"base": changed["hash"], "mine": ["rates.rig"]})
    opened.post("/api/save", {"base": settled["hash"]})
    assert path.read_text(encoding="utf-8") == theirs.replace("rig = 27000", "rig = 31000")


def test_what_cannot_be_answered_is_told_and_the_draft_is_kept(job: Any) -> None:
    opened, _ = job
    changed = rig(opened, -5)
    assert changed["faults"][0]["key"] == "rates.rig"
    assert changed["faults"][0]["text"] == "Rate, rig: given -5; write 0 or more."
    assert changed["beside"] == []  # and what is rarely met is asked about with a fault as well
    mud = [{"op": "set", "key": "well.mud_weight", "value": 96}]
    both = opened.post("/api/changes", {"base": changed["hash"], "changes": mud})
    assert [each["key"] for each in both["beside"]] == ["well.mud_weight"]
    assert opened.ask("POST", "/api/plan").status == 422
    refused = opened.ask(
        "POST",
        "/api/changes",
        {"base": both["hash"], "changes": [{"op": "set", "key": "run.9.charge", "value": 1}]},
    )
    assert refused.status == 422
    assert refused.json["faults"]
    assert opened.get("/api/job")["hash"] == both["hash"]


def test_a_night_is_entered_and_taken_back(job: Any) -> None:
    opened, path = job
    with opened.stream() as stream:
        entered = opened.post("/api/log", {"op": "add", "cells": {**ONE, "cost": "91000"}})
        assert "CHANGED BY THE LAST ENTRY" in entered["told"]
        assert (
            "overshot," not in entered["told"]
        )  # the row is shown as one, and not as a file has it
        log = path.with_name("job_runs.csv")
        assert log.read_text() == (
            "run,kind,start,end,outcome,fish_top,top_condition,cost,remark,marks\n"
            "1,overshot,2026-03-14T06:00,2026-03-15T10:00,nothing,,,91000,,\n"
        )
        assert entered["job"]["log"]["rows"][0]["name"] == "Overshot with jars"
        shown = stream.answer(entered["job"]["input"])["answer"]["document"]
    told = ok("answer", path, "--log", log, "--json")
    assert json.loads(told) == shown
    assert opened.paper("log").body == log.read_bytes()
    back = opened.post("/api/log", {"op": "undo"})
    assert "TAKEN BACK" in back["told"]
    assert "overshot," not in back["told"]
    assert back["job"]["log"]["rows"] == []
    assert "91000" in path.with_name("job_runs.undone.csv").read_text()


def test_a_night_that_cannot_have_been_is_refused(job: Any) -> None:
    opened, path = job
    for cells in ({**ONE, "end": "2026-03-13T00:00"}, {**ONE, "cost": "much"}, {}):
        refused = opened.ask("POST", "/api/log", {"op": "add", "cells": cells})
        assert refused.status == 422
        assert refused.json["faults"]
    assert opened.ask("POST", "/api/log", {"op": "add", "cells": {"run": 1}}).status == 400
    assert opened.ask("POST", "/api/log", {"op": "burn"}).status == 400
    assert opened.ask("POST", "/api/log", {"op": "undo"}).status == 422
    rig(opened, 31000)
    unsaved = opened.ask("POST", "/api/log", {"op": "add", "cells": ONE})
    assert (unsaved.status, unsaved.json["unsaved"]) == (409, True)
    assert not path.with_name("job_runs.csv").exists()


def test_papers_are_those_of_the_command_line_to_the_byte(job: Any) -> None:
    opened, path = job
    opened.post("/api/log", {"op": "add", "cells": ONE})
    folder = path.parent
    names = [folder / f"supplement.{end}" for end in ("xlsx", "csv")]
    ok("afe", path, "--log", folder / "job_runs.csv", "--out", names[0], "--out", names[1])
    for name in ("supplement.xlsx", "supplement.csv"):
        reply = opened.paper(name)
        assert reply.body == (folder / name).read_bytes(), name
        assert f'attachment; filename="job_{name}"' in reply.headers["content-disposition"]
    assert opened.paper("scenario").body == path.read_bytes()
    assert opened.ask("POST", "/api/out", {"what": "../job.toml"}).status == 404


def test_a_page_opens_where_it_can_do_nothing(job: Any) -> None:
    opened, _ = job
    told = opened.post("/api/out", {"what": "what_if.html", "open": True})
    reply = opened.ask("GET", told["address"], headers={"Desk-Key": None})
    policy = reply.headers["content-security-policy"]
    assert policy.startswith("sandbox allow-scripts")
    assert "allow-same-origin" not in policy
    assert "default-src 'none'" in policy
    assert "connect-src" not in policy  # so that it is 'none'
    assert "content-disposition" not in reply.headers
    assert opened.ask("GET", told["address"], headers={"Desk-Key": None}).status == 404


def test_plan_scales_and_two_cases(job: Any) -> None:
    opened, _ = job
    tree = opened.post("/api/plan")
    # independent: each run at most once, by tests/reference/full_plan.py
    assert tree["expected_cost"] == pytest.approx(484_760, rel=0.005)
    assert (tree["order"]["do"], tree["order"]["name"]) == (1, "Overshot with jars")
    assert sum(then["chance"] for then in tree["order"]["then"]) < 1
    # Outcomes in the words that the answer and the log have for them, and every run to look for.
    assert "Nothing" in [words for then in tree["order"]["then"] for words in then["after"]]
    assert "Top damaged" in opened.get("/api/job")["log"]["words"].values()
    assert tree["runs"] == opened.get("/api/job")["log"]["runs"]
    came = opened.post("/api/weights")
    sliders = came["sliders"]
    assert [row["key"] for row in sliders][:2] == ["fishing.workable", "rates.rig"]
    assert sliders[1]["low"] < 27000 == sliders[1]["now"] < sliders[1]["high"]
    assert [row["swing"] for row in sliders] == sorted((r["swing"] for r in sliders), reverse=True)
    # Odds have no slider and are weighed all the same. By hand: 0.66 is turned to 0.51 and 0.81,
    # and nothing takes what is left of 0.88.
    key = "run.1.odds.workable"
    ends = [[f"{key}.recovered={0.66 + x}", f"{key}.nothing={0.22 - x}"] for x in (0, -0.15, 0.15)]
    costs = [quick(inputs_after(load(POINT_A, end), ())).cost.mean(axis=0).min() for end in ends]
    assert came["swings"][f"{key}.recovered"] == pytest.approx(max(costs) - min(costs), rel=0.01)
    assert not any(".odds." in row["key"] for row in sliders)
    both = opened.post("/api/beside", {"changes": ["fishing.workable=0.3"]})
    assert (both["before"]["runs"], both["after"]["runs"]) == (3, 1)
    bad = opened.ask("POST", "/api/beside", {"changes": ["fishing.workable=3"]})
    assert bad.status == 422


def test_the_desk_is_not_closed_over_unsaved_changes(tmp_path: Path) -> None:
    path = tmp_path / "job.toml"
    shutil.copy(POINT_A, path)
    with desk(path) as opened:
        changed = rig(opened, 31000)
        assert opened.ask("POST", "/api/close").status == 409
        opened.process.send_signal(2)
        opened.wait_for(lambda: any("not saved" in line for line in opened.said))
        assert all(len(line) <= 64 or line.startswith("file://") for line in opened.said)
        assert opened.get("/api/job")["hash"] == changed["hash"]
        assert opened.stop() == 130
    assert path.read_bytes() == POINT_A.read_bytes()
    with desk(path) as again:
        offer = again.get("/api/job")["draft"]["offer"]
        assert offer["changes"] == 1
        taken = again.post("/api/offer", {"op": "take"})
        assert taken["hash"] == changed["hash"]
        again.post("/api/save", {"base": taken["hash"]})
        again.post("/api/close")
        assert again.process.wait(timeout=30) == 0
    assert b"rig = 31000" in path.read_bytes()
    assert {each.name for each in tmp_path.iterdir()} == {"job.toml"}


@pytest.mark.parametrize("arguments", [("nowhere/job.toml",), ("job.toml", "--log", "job.toml")])
def test_what_cannot_be_opened_is_said_at_once(tmp_path: Path, arguments: tuple[str, ...]) -> None:
    shutil.copy(POINT_A, tmp_path / "job.toml")
    done = subprocess.run(
        [sys.executable, "-m", "econ", "desk", *arguments, "--no-browser"],
        capture_output=True,
        text=True,
        cwd=tmp_path,
        check=False,
        timeout=60,
    )
    assert done.returncode == 2, done.stderr
    assert "nothing was computed or written" in done.stderr


def test_a_packed_report_holds_every_file_of_the_command() -> None:
    from econ.desk.papers import packed

    files = {"figures/a.svg": b"a", "memo.pdf": b"\0" * 9}
    with zipfile.ZipFile(io.BytesIO(packed(files))) as archive:
        assert {name: archive.read(name) for name in archive.namelist()} == files


def test_ten_answers_become_a_job_with_the_runs_that_were_ticked(tmp_path: Path) -> None:
    with desk(tmp_path / "new.toml") as opened:
        begun = opened.get("/api/job")
        assert begun["text"] == ""
        assert not begun["draft"]["unsaved"]
        assert opened.ask("POST", "/api/out", {"what": "log"}).status == 404
        asked = opened.get("/api/questions")["questions"]
        assert len(asked) == 10
        assert opened.get("/api/layout")["sections"]
        answers = {
            "job.well": "Invented 9",
            "well.depth": 9800,
            "well.hole_diameter": 8.5,
            "well.shoe_depth": 3600,
            "fish.top": 9300,
            "rates": {"rig": 26000},
        }
        assert opened.ask("POST", "/api/questions", {"answers": {}}).status == 422
        # What the kinds of run are refused for, the file is refused for as well.
        deep = {"answers": {**answers, "fish.top": 9900}}
        told = [
            opened.ask("POST", "/api/questions", {**deep, **more}).json["faults"]
            for more in ({}, {"base": begun["hash"], "runs": []})
        ]
        assert told[0] == told[1]
        assert [each["key"] for each in told[0]] == ["fish.top"]
        suited = opened.post("/api/questions", {"answers": answers})["kinds"]
        kinds = [row["kind"] for row in suited if row["verdict"] != "no"][:2]
        assert len(kinds) == 2
        assert [each.suffix for each in tmp_path.iterdir()] == [".econ-draft-lock"]
        base = begun["hash"]
        job = opened.post("/api/questions", {"base": base, "answers": answers, "runs": kinds})
        assert job["faults"] == []
        assert [run["kind"] for run in job["values"]["run"]] == kinds
        opened.post("/api/save", {"base": job["hash"]})
    told = json.loads(ok("answer", tmp_path / "new.toml", "--json"))
    assert told["scenario"] == "Invented 9"


def uploaded(*paths: Path) -> list[Row]:
    return [
        {"name": path.name, "data": base64.b64encode(path.read_bytes()).decode()} for path in paths
    ]


def test_past_jobs_are_read_held_against_the_job_and_included(job: Any, tmp_path: Path) -> None:
    opened, path = job
    table = ROOT / "scenarios" / "records" / "invented_jobs.csv"
    text = path.read_text(encoding="utf-8")
    body = {"kind": "table", "units": "field", "files": uploaded(table)}
    found = opened.post("/api/past", body)
    odds = tmp_path / "odds.toml"
    assert found["told"] == ok("odds", table, "--out", odds)
    assert found["beside"]["before"]["runs"] == 3
    assert path.read_text(encoding="utf-8") == text  # nothing has changed yet
    assert [each.name for each in path.parent.glob("*_odds*")] == []
    base = opened.get("/api/job")["hash"]
    body = {"base": base, "ticket": found["ticket"]}
    included = opened.post("/api/include", body)
    assert included["values"]["odds_from"] == "job_odds.toml"
    assert included["faults"] == []
    assert path.with_name("job_odds.toml").read_bytes() == odds.read_bytes()
    assert opened.ask("POST", "/api/include", {**body, "base": included["hash"]}).status == 404
    path.with_name("job_odds.toml").unlink()


def test_daily_reports_are_read_as_the_command_reads_them(job: Any, tmp_path: Path) -> None:
    opened, path = job
    done = [
        Did(4, "trip", "RIH to 1,200 m", 1200, bit=(0, 1200)),
        Did(16, "drill", "Drilled ahead", 1300, hole=(1200, 1290)),
        Did(4, "trip", "POOH", 0, bit=(1290, 0)),
    ]
    day = tmp_path / "day.xml"
    made = report([each[2] for each in activities(done, version=VERSIONS[0])], version=VERSIONS[0])
    day.write_text(document([made], version=VERSIONS[0]), encoding="utf-8")
    body = {"kind": "reports", "units": "field", "files": uploaded(day)}
    found = opened.post("/api/past", body)
    speeds = tmp_path / "speeds.toml"
    assert found["told"] == ok("daily", day, "--out", speeds)
    base = opened.get("/api/job")["hash"]
    included = opened.post("/api/include", {"base": base, "ticket": found["ticket"]})
    assert included["values"]["speeds_from"] == "job_speeds.toml"
    assert path.with_name("job_speeds.toml").read_bytes() == speeds.read_bytes()
    path.with_name("job_speeds.toml").unlink()


@pytest.mark.parametrize(
    ("kind", "name", "data"),
    [
        ("table", "jobs.csv", b"not a table"),
        ("table", "jobs.csv", b"\xff\xfe"),
        ("reports", "day.xml", b"<!DOCTYPE a [<!ENTITY b SYSTEM 'file:///etc/passwd'>]><a>&b;</a>"),
        ("reports", "../../../etc/x.zip", b"PK\x03\x04 no zip"),
        ("reports", "nul", b""),
    ],
)
def test_files_that_are_none_are_refused_in_words(
    job: Any, kind: str, name: str, data: bytes
) -> None:
    opened, _ = job
    files = [{"name": name, "data": base64.b64encode(data).decode()}]
    reply = opened.ask("POST", "/api/past", {"kind": kind, "units": "field", "files": files})
    assert reply.status in (200, 422), reply.body
    assert b"root:" not in reply.body
    if reply.status == 422:
        assert reply.json["faults"]


def test_an_upload_is_a_list_of_files(job: Any) -> None:
    opened, _ = job
    for files in (None, [], [{}], [{"name": "a", "data": "!"}], [5], [{"name": "a"}] * 1000):
        body = {"kind": "table", "units": "field", "files": files}
        assert opened.ask("POST", "/api/past", body).status == 400
    assert opened.ask("POST", "/api/past", {"kind": "x", "files": []}).status == 400
