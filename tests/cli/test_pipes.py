"""A scenario that comes through a pipe is read once, and answered as from a file."""

from __future__ import annotations

import os
import subprocess
import sys
import threading
from pathlib import Path

import pytest

from .command import ROOT, econ

POINT = ROOT / "scenarios" / "point" / "c_bit_cones.toml"
COMMAND = [sys.executable, "-c", "from econ.cli import main; main()"]

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="named pipes are of POSIX")


def run(*words: str, given: bytes | None = None) -> subprocess.CompletedProcess[bytes]:
    return subprocess.run(
        [*COMMAND, *words], cwd=ROOT, input=given, capture_output=True, timeout=60, check=False
    )


@pytest.mark.parametrize("words", [("answer", "--set", "draws.n=16"), ("check",)])
def test_a_named_pipe_gives_what_the_file_gives(tmp_path: Path, words: tuple[str, ...]) -> None:
    pipe = tmp_path / "job"
    os.mkfifo(pipe)
    command, *rest = words
    writer = threading.Thread(target=lambda: pipe.write_bytes(POINT.read_bytes()), daemon=True)
    writer.start()
    piped = run(command, str(pipe), *rest)
    writer.join(timeout=10)
    filed = econ(command, POINT, *rest)
    assert piped.returncode == filed.exit_code == 0
    assert piped.stdout.replace(str(pipe).encode(), str(POINT).encode()) == filed.stdout_bytes
    assert piped.stderr == filed.stderr_bytes


def test_what_if_reads_its_two_sides_from_one_pipe() -> None:
    words = ("--set", "draws.n=16", "--set", "fishing.workable=0.5")
    piped = run("whatif", "/dev/stdin", *words, given=POINT.read_bytes())
    filed = econ("whatif", POINT, *words)
    assert piped.returncode == filed.exit_code == 0
    assert piped.stdout == filed.stdout_bytes


def test_an_empty_pipe_is_refused_as_an_empty_file_is() -> None:
    done = run("check", "/dev/stdin", given=b"")
    assert done.returncode == 2
    assert b"schema" in done.stderr
