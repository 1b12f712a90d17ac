"""The command line under bad input, hostile names, taken names and full disks.

Expected texts come from the design of the interface.
"""

from __future__ import annotations

import errno
import json
import os
import re
from pathlib import Path
from typing import NoReturn

import pytest

from .command import QUICK, A, check_plain, econ, ok, refused, scenario, write


@pytest.fixture
def file(tmp_path: Path) -> Path:
    return tmp_path / "job.toml"


# ---- check and bad input ----------------------------------------------------------------------


def test_check_tells_what_is_in_the_file() -> None:
    assert "good: 5 runs, 1 fallback, 0 uncertain amounts" in ok("check", A)
    schema = json.loads(ok("check", "--schema"))
    assert schema["title"] == "Scenario"
    assert "FILE" in refused("check")


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"not TOML at all",
        b"\xff\xfe\x00",
        b"schema = 1\n",
        b"schema = 1\nrun = 7\nfish = []\n",
        b"\x00" * 100,
        b"a = " + b"[" * 5000,
    ],
)
def test_bad_files(file: Path, content: bytes) -> None:
    file.write_bytes(content)
    for command in ("answer", "check"):
        check_ascii = refused(command, file)
        assert check_ascii.isascii()
        assert "nothing was computed" in check_ascii


def test_files_that_are_not_there(tmp_path: Path) -> None:
    assert "no file" in refused("answer", tmp_path / "none.toml")
    assert "the folder" in refused("answer", tmp_path)
    assert refused("answer", "\x1b[31mred\n.toml").count("\x1b") == 0
    refused("answer")
    refused("unknown command")


def test_faults_are_told_all_at_once_but_not_without_end(file: Path) -> None:
    text = scenario() + "".join(f"[extra_{i}]\n" for i in range(250))
    said = refused("answer", write(file, text))
    assert len(said.splitlines()) == 102
    assert "... and 150 more" in said


HOSTILE = [
    "\x1b[31mred\x1b[0m \x07\x08\x7f",
    "\x1b]0;title\x07",
    "two\nlines\tand\r\ntabs",
    "\u4e95\u6237\u4e00\u53f7",
    "\u202etxt.exe\u200b",
    "\x85\x9b31m",
    "\U0001f6e2 " * 50,
    "x" * 300,
    "\u00c5" * 300,
    "%s %(x)s {0} {answer}",
    "<script>alert(1)</script>",
    " ",
]


@pytest.mark.parametrize("name", HOSTILE, ids=range(len(HOSTILE)))
def test_hostile_names_stay_harmless(file: Path, name: str) -> None:
    write(file, scenario(well=name, run=name))
    for command in ("answer", "check"):
        result = econ(command, file)
        assert result.exit_code in (0, 2)
        assert result.exception is None or isinstance(result.exception, SystemExit)
        assert re.fullmatch(r"[ -~\n]*", result.stderr), ascii(result.stderr)
        assert not [char for char in result.stdout if not char.isprintable() and char != "\n"]
        assert result.exit_code == 0 or result.stdout == ""
        if command == "answer" and result.exit_code == 0:
            check_plain(result.stdout, names=name)


# ---- new --------------------------------------------------------------------------------------


@pytest.mark.parametrize("units", [(), ("--units", "field"), ("--units", "metric")])
def test_new_writes_a_starter_that_answers(tmp_path: Path, units: tuple[str, ...]) -> None:
    file = tmp_path / "new.toml"
    check_message = ok("new", file, *units)
    assert f'units = "{units[-1] if units else "field"}"' in file.read_text(encoding="utf-8")
    assert "econ answer" in check_message
    assert os.listdir(tmp_path) == ["new.toml"]
    ok("check", file)
    text = ok("answer", "--full", file, *QUICK)
    check_plain(text)
    assert re.match(r"(FISH ON: at most \d+ more run|STOP FISHING: 0 more runs)", text)


def test_new_never_overwrites(tmp_path: Path) -> None:
    file = tmp_path / "mine.toml"
    file.write_text("mine", encoding="utf-8")
    assert "existing" in refused("new", file)
    assert file.read_text(encoding="utf-8") == "mine"
    assert "existing" in refused("new", tmp_path)
    assert os.listdir(tmp_path) == ["mine.toml"]


@pytest.mark.parametrize("name", ["", "no/such/folder/new.toml", "a\0b", "x" * 300])
def test_new_under_names_that_cannot_be(tmp_path: Path, name: str) -> None:
    before = os.listdir(tmp_path)
    refused("new", f"{tmp_path}/{name}" if name else name)
    assert os.listdir(tmp_path) == before


@pytest.mark.parametrize("call", ["fsync", "link", "chmod", "fdopen"])
@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EACCES, errno.EROFS])
def test_new_on_a_full_or_closed_disk_leaves_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, call: str, number: int
) -> None:
    def fails(*_: object, **__: object) -> NoReturn:
        raise OSError(number, os.strerror(number))

    monkeypatch.setattr(os, call, fails)
    result = econ("new", tmp_path / "new.toml")
    assert result.exit_code == 1
    assert os.strerror(number) in result.stderr
    assert "nothing was written" in result.stderr
    assert result.stdout == ""
    assert os.listdir(tmp_path) == []


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may write")
def test_new_in_a_folder_without_permission(tmp_path: Path) -> None:
    folder = tmp_path / "closed"
    folder.mkdir(mode=0o500)
    refused("new", folder / "new.toml")
    assert os.listdir(folder) == []
