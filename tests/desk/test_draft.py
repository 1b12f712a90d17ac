"""The draft beside a file: nothing is lost, nothing of others is written over."""

from __future__ import annotations

import json
import os
import signal
import stat
import subprocess
import sys
import time
import tomllib
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from econ.cli.files import replace_read
from econ.desk.draft import (
    Draft,
    ElsewhereError,
    OfferedError,
    StaleError,
    draft_path,
    hash_of,
)
from econ.desk.kept_answers import KeptAnswers
from econ.scenario.faults import ScenarioError

ROOT = Path(__file__).parents[2]
DEMO = (ROOT / "scenarios" / "d_rented_tools.toml").read_bytes()
Opener = Callable[..., Draft]


def rig(value: float) -> list[dict[str, Any]]:
    return [{"op": "set", "key": "rates.rig", "value": value}]


@pytest.fixture
def job(tmp_path: Path) -> Path:
    path = tmp_path / "job.toml"
    path.write_bytes(DEMO)
    return path


@pytest.fixture
def opened() -> Iterator[Opener]:
    drafts: list[Draft] = []

    def open_it(path: Path, write: Any = replace_read) -> Draft:
        drafts.append(Draft(path, write))
        return drafts[-1]

    yield open_it
    for draft in drafts:
        draft.close()


def test_a_change_goes_to_the_draft_and_save_alone_writes_the_file(
    job: Path, opened: Opener
) -> None:
    draft = opened(job)
    state = draft.change(draft.state().hash, rig(150000))
    assert job.read_bytes() == DEMO
    kept = draft_path(job)
    assert stat.S_IMODE(kept.stat().st_mode) == 0o600
    lines = [json.loads(line) for line in kept.read_text().splitlines()]
    assert [sorted(line)[:2] for line in lines] == [["at", "draft"], ["at", "changes"]]
    assert (state.unsaved, state.kept, state.undo, state.faults) == (True, True, 1, ())
    state = draft.save(state.hash)
    assert not state.unsaved
    assert not kept.exists()
    new = job.read_bytes()
    assert new == DEMO.replace(b"rig = 142000", b"rig = 150000")
    draft.close()
    assert os.listdir(job.parent) == ["job.toml"]


def test_mode_mark_line_ends_and_link_are_kept(tmp_path: Path, opened: Opener) -> None:
    real = tmp_path / "real" / "job.toml"
    real.parent.mkdir()
    real.write_bytes(b"\xef\xbb\xbf" + DEMO.replace(b"\n", b"\r\n"))
    real.chmod(0o640)
    link = tmp_path / "link.toml"
    link.symlink_to(real)
    draft = opened(link)
    draft.save(draft.change(draft.state().hash, rig(150000)).hash)
    assert link.is_symlink()
    assert stat.S_IMODE(real.stat().st_mode) == 0o640
    new = real.read_bytes()
    assert new == b"\xef\xbb\xbf" + DEMO.replace(b"rig = 142000", b"rig = 150000").replace(
        b"\n", b"\r\n"
    )


def test_a_start_offers_the_draft_and_changes_wait_for_the_word(job: Path, opened: Opener) -> None:
    first = opened(job)
    one = first.change(first.state().hash, rig(150000))
    first.change(one.hash, rig(160000))
    first.close()
    again = opened(job)
    state = again.state()
    assert state.offer is not None
    assert (state.offer.changes, state.offer.elsewhere, state.offer.lost) == (2, False, False)
    assert state.values is not None
    assert state.values["rates"]["rig"] == 142000
    with pytest.raises(OfferedError):
        again.change(state.hash, rig(1))
    state = again.take_up()
    assert state.values is not None
    assert state.values["rates"]["rig"] == 160000
    assert again.undo(state.hash).hash == one.hash
    again.close()
    third = opened(job)
    assert third.take_up().hash == one.hash
    assert third.throw_away().text.encode() == DEMO
    assert not draft_path(job).exists()


def test_answers_that_are_in_no_file_are_kept_for_the_next_start(tmp_path: Path) -> None:
    first = KeptAnswers(str(tmp_path / "job.toml"))
    assert first.keep({"job.well": "Invented"}, {}, [])
    assert first.keep({"job.well": "Invented", "fish.top": 9300}, {}, ["overshot"])
    first.close()
    (kept,) = tmp_path.iterdir()
    assert (kept.name, stat.S_IMODE(kept.stat().st_mode)) == (".job.toml.econ-answers", 0o600)
    data = kept.read_bytes()
    assert data.count(b"\n") == 2  # each has a line of its own
    assert KeptAnswers(str(tmp_path / "job.toml")).last["ticked"] == ["overshot"]
    kept.write_bytes(data[:-5])  # a line that is cut off costs the last answer alone
    again = KeptAnswers(str(tmp_path / "job.toml"))
    assert again.last["answers"] == {"job.well": "Invented"}
    assert again.keep({"job.well": "Invented", "setting": "land"}, {"job.well": "Invented"}, [])
    assert not list(tmp_path.iterdir())  # the job has them


@pytest.mark.parametrize("cut", [1, 20, -1])
def test_a_line_that_is_cut_off_costs_the_last_field_alone(
    job: Path, opened: Opener, cut: int
) -> None:
    first = opened(job)
    one = first.change(first.state().hash, rig(150000))
    whole = draft_path(job).stat().st_size
    first.change(one.hash, rig(160000))
    first.close()
    kept = draft_path(job)
    data = kept.read_bytes()
    kept.write_bytes(data[: whole + cut] if cut > 0 else data[:cut])
    again = opened(job)
    offer = again.state().offer
    assert offer is not None
    assert (offer.changes, offer.lost) == (1, True)
    state = again.take_up()
    assert state.hash == one.hash
    last = again.change(state.hash, rig(170000))  # and what follows is whole again
    again.close()
    assert opened(job).take_up().hash == last.hash


def test_many_changes_are_offered_whole_and_soon(job: Path, opened: Opener) -> None:
    job.write_text("[rates]\nrig = 0\n")  # a small one is checked in no time
    first = opened(job)
    state = first.state()
    for value in range(1, 131):
        state = first.change(state.hash, rig(value))
    state = first.undo(state.hash)
    state = first.change(state.hash, rig(500))
    first.close()
    lines = [json.loads(line) for line in draft_path(job).read_text().splitlines()]
    assert [place for place, line in enumerate(lines) if "text" in line] == [0, 50, 100, 131]
    again = opened(job)
    offer = again.state().offer
    assert offer is not None
    assert offer.changes == 132
    assert again.take_up().hash == state.hash
    again.undo(state.hash)


def test_undo_keeps_no_more_than_a_server_has_room_for(
    job: Path, opened: Opener, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("econ.desk.draft.MOST_KEPT", 5 * len(DEMO))
    draft = opened(job)
    state = draft.state()
    for value in range(1, 10):
        state = draft.change(state.hash, rig(value))
    assert state.undo == 5


def test_a_disk_that_is_full_for_a_while_costs_nothing(
    job: Path, opened: Opener, monkeypatch: pytest.MonkeyPatch
) -> None:
    draft = opened(job)
    state = draft.change(draft.state().hash, rig(1))
    with monkeypatch.context() as patch:

        def full(_: int) -> None:
            raise OSError(28, "No space left on device")

        patch.setattr(os, "fsync", full)
        state = draft.change(state.hash, rig(2))
        assert not state.kept
    state = draft.change(state.hash, rig(3))
    assert state.kept
    draft.close()
    assert opened(job).take_up().hash == state.hash


def test_a_window_with_an_old_state_changes_nothing(job: Path, opened: Opener) -> None:
    draft = opened(job)
    old = draft.state().hash
    new = draft.change(old, rig(150000)).hash
    for act in (
        lambda: draft.change(old, rig(1)),
        lambda: draft.undo(old),
        lambda: draft.save(old),
        lambda: draft.put(old, "a = 1"),
    ):
        with pytest.raises(StaleError):
            act()
    assert draft.state().hash == new


def test_two_desks_do_not_work_on_one_file(job: Path, opened: Opener) -> None:
    lock = draft_path(job).with_name(f"{draft_path(job).name}-lock")
    lock.write_text("4194301000\n")  # of a desk that was killed: it blocks nothing, and is gone
    first = opened(job)
    with pytest.raises(ScenarioError, match=rf"another desk has open, process {os.getpid()};"):
        Draft(job, replace_read)
    first.close()
    opened(job)


def test_a_refused_change_leaves_no_trace(job: Path, opened: Opener) -> None:
    draft = opened(job)
    before = draft.state()
    with pytest.raises(ScenarioError):
        draft.change(before.hash, [*rig(1), {"op": "unset"}])
    assert draft.state() == before
    assert not draft_path(job).exists()


def test_a_file_changed_elsewhere_is_never_written_over(job: Path, opened: Opener) -> None:
    draft = opened(job)
    state = draft.change(
        draft.state().hash, [*rig(150000), {"op": "delete", "list": "run", "at": 5}]
    )
    theirs = DEMO.replace(b"shoe_depth = 7900", b"shoe_depth = 7950").replace(
        b"rig = 142000", b"rig = 143000"
    )
    job.write_bytes(theirs)
    assert draft.state().elsewhere
    with pytest.raises(ElsewhereError):
        draft.save(state.hash)
    assert job.read_bytes() == theirs
    found = {each.key: each for each in draft.three_versions()}
    assert {name: each.changed for name, each in found.items()} == {
        "well.shoe_depth": "elsewhere",
        "rates.rig": "both",
        "run": "here",
        "correlation": "here",
    }
    values = found["rates.rig"]
    assert (values.before, values.mine, values.theirs) == (142000, 150000, 143000)
    state = draft.settle(state.hash, ["run", "correlation"])
    assert not state.elsewhere
    assert state.values is not None
    assert (state.values["rates"]["rig"], state.values["well"]["shoe_depth"]) == (143000, 7950)
    assert len(state.values["run"]) == 4
    state = draft.save(state.hash)
    lines = job.read_text().splitlines()
    assert all(line in lines for line in theirs.decode().splitlines()[:110])
    assert tomllib.loads(job.read_text())["run"] == state.values["run"]


def test_a_file_changed_elsewhere_is_taken_over_where_nothing_is_unsaved(
    job: Path, opened: Opener
) -> None:
    draft = opened(job)
    job.write_bytes(DEMO.replace(b"rig = 142000", b"rig = 1"))
    state = draft.state()
    assert (state.elsewhere, state.unsaved) == (False, False)
    assert state.values is not None
    assert state.values["rates"]["rig"] == 1


def test_a_race_in_the_middle_of_a_save_is_no_overwriting(job: Path, opened: Opener) -> None:
    def late(path: str, old: bytes | None, new: bytes) -> None:
        job.write_bytes(DEMO + b"# elsewhere\n")
        replace_read(path, old, new)

    draft = opened(job, late)
    state = draft.change(draft.state().hash, rig(150000))
    with pytest.raises(ElsewhereError):
        draft.save(state.hash)
    assert job.read_bytes() == DEMO + b"# elsewhere\n"
    assert draft.state().unsaved


def test_a_draft_of_a_file_changed_since_is_compared_too(job: Path, opened: Opener) -> None:
    first = opened(job)
    first.change(first.state().hash, rig(150000))
    first.close()
    job.write_bytes(DEMO.replace(b"shoe_depth = 7900", b"shoe_depth = 7950"))
    again = opened(job)
    offer = again.state().offer
    assert offer is not None
    assert offer.elsewhere
    state = again.take_up()
    assert state.elsewhere
    assert [(each.key, each.changed) for each in again.three_versions()] == [
        ("well.shoe_depth", "elsewhere"),
        ("rates.rig", "here"),
    ]
    state = again.settle(state.hash, ["rates.rig"])
    assert not again.save(state.hash).unsaved
    assert b"shoe_depth = 7950" in job.read_bytes()
    assert b"rig = 150000" in job.read_bytes()


def test_a_file_that_is_not_there_yet_begins_with_a_whole_text(
    tmp_path: Path, opened: Opener
) -> None:
    path = tmp_path / "new.toml"
    draft = opened(path)
    state = draft.state()
    assert (state.text, state.unsaved) == ("", False)
    state = draft.put(state.hash, DEMO.decode())
    assert state.unsaved
    assert not path.exists()
    draft.close()
    again = opened(path)
    state = again.take_up()
    again.save(state.hash)
    assert path.read_bytes() == DEMO


def test_a_text_that_is_no_toml_is_told_and_not_edited(tmp_path: Path, opened: Opener) -> None:
    path = tmp_path / "broken.toml"
    path.write_text("[rates\nrig = 1\n")
    draft = opened(path)
    state = draft.state()
    assert state.values is None
    assert state.faults[0].line == 1
    with pytest.raises(ScenarioError):
        draft.change(state.hash, rig(1))


def test_a_folder_that_takes_no_draft_is_said(
    job: Path, opened: Opener, monkeypatch: pytest.MonkeyPatch
) -> None:
    draft = opened(job)

    def full(*_: Any) -> int:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", full)
    state = draft.change(draft.state().hash, rig(150000))
    assert (state.kept, state.unsaved) == (False, True)


def test_past_jobs_outside_the_folder_are_not_read(tmp_path: Path, opened: Opener) -> None:
    secret = tmp_path / "secret.toml"
    secret.write_text("password = 'x'\n")
    folder = tmp_path / "jobs"
    folder.mkdir()
    path = folder / "job.toml"
    path.write_bytes(DEMO)
    (folder / "link.toml").symlink_to(secret)
    draft = opened(path)
    for name in ("../secret.toml", str(secret), "link.toml", "a\x00b"):
        state = draft.change(draft.state().hash, [{"op": "set", "key": "odds_from", "value": name}])
        assert [fault.path for fault in state.faults] == [("odds_from",)]
        assert "folder of this one" in state.faults[0].allowed


SAVING = """
import sys, os, time
from econ.cli import files
from econ.desk.draft import Draft

def slowly(name):
    done = getattr(os, name)
    def wait(*given, **more):
        if sys.argv[2] == name and given[-1].endswith(".toml"):
            print("now", flush=True)
            time.sleep(60)
        found = done(*given, **more)
        if sys.argv[2] == name + "d" and given[-1].endswith(".toml"):
            print("now", flush=True)
            time.sleep(60)
        return found
    setattr(os, name, wait)

draft = Draft(sys.argv[1], files.replace_read)
state = draft.change(draft.state().hash, [{"op": "set", "key": "rates.rig", "value": 150000}])
slowly("replace")
draft.save(state.hash)
"""


@pytest.mark.parametrize(("moment", "saved"), [("replace", False), ("replaced", True)])
def test_a_kill_in_the_middle_of_a_save_leaves_the_old_file_or_the_new(
    job: Path, opened: Opener, moment: str, saved: bool
) -> None:
    process = subprocess.Popen(
        [sys.executable, "-c", SAVING, str(job), moment], stdout=subprocess.PIPE, text=True
    )
    assert process.stdout is not None
    assert process.stdout.readline() == "now\n"
    process.send_signal(signal.SIGKILL)
    process.wait(timeout=20)
    process.stdout.close()
    new = DEMO.replace(b"rig = 142000", b"rig = 150000")
    assert job.read_bytes() == (new if saved else DEMO)
    started = time.monotonic()
    state = opened(job).state()
    assert time.monotonic() - started < 10
    if saved:
        assert (state.offer, state.hash) == (None, hash_of(new.decode()))
    else:
        assert state.offer is not None
        assert state.offer.changes == 1


def test_the_draft_needs_no_numpy() -> None:
    code = "import sys, econ.desk.draft; print({'numpy', 'scipy', 'pandas'} & set(sys.modules))"
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert found.stdout.strip() == "set()"
