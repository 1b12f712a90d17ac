"""How commands end: exit code and at most one line, whatever fails; names on every terminal.

Expected exit codes come from the design of the interface: 0 done, 1 could not finish, 2 bad
input, 130 stopped by the user.
"""

from __future__ import annotations

import contextlib
import json
import os
import re
import signal
import subprocess
import sys
import time
import warnings
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import active_children
from pathlib import Path
from typing import Any, NoReturn

import pytest
from click.testing import CliRunner

from econ import __main__ as start
from econ.cli import exits, main, terminal
from econ.cli.ending import exit_code
from econ.cli.processes import processes
from econ.reports.names import one_line, shown

from .command import ROOT, econ, ok, scenario, write

MAIN = "from econ.cli import main; main(prog_name='econ')"
POSIX = pytest.mark.skipif(os.name != "posix", reason="signals and devices of another system")
FULL = pytest.mark.skipif(not os.path.exists("/dev/full"), reason="needs a device that is full")
PATIENCE = 60  # s


@pytest.fixture
def job(tmp_path: Path) -> Path:
    return write(tmp_path / "job.toml", scenario())


@pytest.fixture
def as_a_user(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without the stack that developers ask for."""
    monkeypatch.delenv("ECON_STACK")


def surroundings(**more: str) -> dict[str, str]:
    return {key: value for key, value in os.environ.items() if key != "ECON_STACK"} | more


def run(*arguments: object, stdout: Any = subprocess.PIPE, **more: str) -> Any:
    return subprocess.run(
        [sys.executable, "-c", MAIN, *map(str, arguments)],
        stdout=stdout,
        stderr=subprocess.PIPE,
        env=surroundings(**more),
        cwd=ROOT,
        timeout=PATIENCE,
        check=False,
    )


# ---- standard output that fails ---------------------------------------------------------------

PRINTING = [
    "answer FILE",
    "answer FILE --json",
    "methods FILE",
    "check --schema",
    "whatif FILE --set rates.rig=1",
]


# Without a buffer the first write fails, in the command; with one the last, at the end of Python.
FAILING = [(line, "") for line in (*PRINTING, "check FILE", "--help", "answer --help", "--version")]
FAILING += [(line, "1") for line in ("answer FILE --json", "check --schema", "--version")]


@FULL
@pytest.mark.parametrize(("line", "unbuffered"), FAILING)
def test_a_full_disk_under_standard_output_is_told(job: Path, line: str, unbuffered: str) -> None:
    with open("/dev/full", "wb") as full:
        words = line.replace("FILE", str(job)).split()
        done = run(*words, stdout=full, PYTHONUNBUFFERED=unbuffered)
    assert done.returncode == 1
    (told,) = [row for row in done.stderr.decode().splitlines() if not row.startswith("note: ")]
    assert "No space left on device" in told


@POSIX
@pytest.mark.parametrize("unbuffered", ["", "1"])
def test_a_disk_that_takes_a_part_is_told(job: Path, tmp_path: Path, unbuffered: str) -> None:
    code = (
        "import resource, signal; signal.signal(signal.SIGXFSZ, signal.SIG_IGN); "
        "resource.setrlimit(resource.RLIMIT_FSIZE, (1000, resource.RLIM_INFINITY)); "
    )
    whole = ok("answer", job, "--json")
    with (tmp_path / "cut.json").open("wb") as cut:
        done = subprocess.run(
            [sys.executable, "-c", code + MAIN, "answer", str(job), "--json"],
            stdout=cut,
            stderr=subprocess.PIPE,
            env=surroundings(PYTHONUNBUFFERED=unbuffered, PYTHONDONTWRITEBYTECODE="1"),
            cwd=ROOT,
            check=False,
        )
    assert (tmp_path / "cut.json").read_text() == whole[:1000]
    assert done.returncode == 1
    assert "what was printed is not whole" in done.stderr.decode()


@POSIX
@pytest.mark.parametrize("line", ["answer FILE --json", "check FILE"])
def test_closed_standard_output_is_told(job: Path, line: str) -> None:
    command = [sys.executable, "-c", MAIN, *line.replace("FILE", str(job)).split()]
    shell = ["sh", "-c", 'exec "$@" >&-', "sh", *command]
    done = subprocess.run(
        shell, stderr=subprocess.PIPE, env=surroundings(), cwd=ROOT, text=True, check=False
    )
    assert done.returncode == 1
    assert "standard output is closed" in done.stderr.splitlines()[-1]


@POSIX
@pytest.mark.parametrize("line", ["answer FILE", "check --schema", "--help"])
def test_a_reader_that_goes_away_ends_it_quietly(job: Path, line: str) -> None:
    reader, writer = os.pipe()
    os.close(reader)
    with os.fdopen(writer, "wb") as gone:
        done = run(*line.replace("FILE", str(job)).split(), stdout=gone)
    assert done.returncode == 1
    assert [row for row in done.stderr.decode().splitlines() if not row.startswith("note")] == []


def test_closed_standard_error_keeps_nothing_from_being_done(job: Path) -> None:
    command = [sys.executable, "-c", MAIN, "answer", str(job), "--json"]
    shell = ["sh", "-c", 'exec "$@" 2>&-', "sh", *command]
    done = subprocess.run(shell, stdout=subprocess.PIPE, env=surroundings(), cwd=ROOT, check=False)
    assert done.returncode == 0
    json.loads(done.stdout)


# ---- what nobody foresaw ----------------------------------------------------------------------


def deep(level: int) -> int:
    return deep(level + 1) + 1


ENDS: dict[str, tuple[Any, str]] = {
    "division": (lambda *_: 1 / 0, "ZeroDivisionError in test_endings.py, line"),
    "memory": (MemoryError, "not enough memory"),
    "depth": (lambda *_: deep(0), "RecursionError"),
    "disk": (OSError(28, "No space left on device", "/tmp/\x1b[2Jx"), "No space left on device"),
    "words": (ValueError("two\nlines \x1b[31m \u202e"), "two lines"),
}


@pytest.mark.usefixtures("as_a_user")
@pytest.mark.parametrize("why", ENDS)
@pytest.mark.parametrize("line", ["answer FILE", "page FILE --out page.html"])
def test_what_nobody_foresaw_is_one_line(
    job: Path, monkeypatch: pytest.MonkeyPatch, why: str, line: str
) -> None:
    cause, says = ENDS[why]

    def fails(*given: object) -> NoReturn:
        if isinstance(cause, Exception):
            raise cause
        raise cause(*given)

    monkeypatch.chdir(job.parent)
    monkeypatch.setattr("econ.decision.answer", fails)
    result = econ(*line.replace("FILE", str(job)).split())
    assert result.exit_code == 1
    assert result.stdout == ""
    assert says in result.stderr
    assert result.stderr.count("\n") == 1
    assert result.stderr.startswith("could not finish: ")
    assert re.fullmatch(r"[ -~\n]*", result.stderr)
    assert isinstance(result.exception, SystemExit)


def test_developers_see_the_stack(job: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("ECON_STACK", "1")
    monkeypatch.setattr("econ.decision.answer", lambda *_: 1 / 0)
    assert isinstance(econ("answer", job).exception, ZeroDivisionError)


@pytest.mark.usefixtures("as_a_user")
def test_warnings_and_log_messages_of_libraries_do_not_reach_a_user(
    job: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    import logging

    def warned(scenario: Any) -> list[str]:
        warnings.warn("overflow encountered", RuntimeWarning, stacklevel=1)
        logging.getLogger("library").warning("cache")
        return []

    monkeypatch.setattr("econ.scenario.notes.notes", warned)
    result = econ("check", job)
    assert result.exit_code == 0
    assert result.stderr == ""


# ---- Ctrl-C -----------------------------------------------------------------------------------


REPORT, FIGURES = "report FILE --out OUT", "figures FILE --out OUT"
LASTING = ("answer FILE --order", "sensitivity FILE", REPORT, FIGURES)
MOMENTS = [(line, after) for line in LASTING for after in (0.15, 0.4, 0.8)]  # [s]
MOMENTS += [("sensitivity FILE", 1.5), (REPORT, 1.5), (REPORT, 2.5)]


@POSIX
@pytest.mark.parametrize(("line", "after"), MOMENTS)
def test_control_c_ends_it_with_130_and_no_stack(
    tmp_path: Path, job: Path, line: str, after: float
) -> None:
    out = tmp_path / "out"
    words = line.replace("FILE", str(LONG)).replace("OUT", str(out)).split()
    # A group of its own, which the signal reaches as a whole: what Ctrl-C does in a terminal.
    running = subprocess.Popen(
        [
            sys.executable,
            "-c",
            MARKED,
            *words,
            "--set",
            "draws.n=4096",
            "--set",
            "draws.scrambles=256",
        ],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        env=surroundings(),
        cwd=ROOT,
        text=True,
        start_new_session=True,
    )
    assert running.stderr is not None
    assert running.stderr.readline() == "begun\n"
    time.sleep(after)
    os.killpg(running.pid, signal.SIGINT)
    begun = time.monotonic()
    try:
        said, told = running.communicate(timeout=PATIENCE)
    finally:
        running.kill()
    assert "Traceback" not in told
    assert (running.returncode, said) == (130, ""), told
    assert len([row for row in told.splitlines() if row and not row.startswith("note")]) <= 1
    assert time.monotonic() - begun < 10
    assert not out.exists()


@POSIX
@pytest.mark.parametrize("copied", [True, False])
def test_control_c_while_processes_start_is_not_lost(
    monkeypatch: pytest.MonkeyPatch, copied: bool
) -> None:
    submit = ProcessPoolExecutor.submit

    def interrupted(*given: Any) -> Any:
        signal.raise_signal(signal.SIGINT)
        return submit(*given)

    monkeypatch.setattr(ProcessPoolExecutor, "submit", interrupted)
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    others = active_children()
    try:
        with pytest.raises(KeyboardInterrupt), processes(1, copied=copied):
            pytest.fail("Ctrl-C was lost")
    finally:
        signal.signal(signal.SIGINT, before)
    until = time.monotonic() + PATIENCE
    while (left := set(active_children()) - set(others)) and time.monotonic() < until:
        time.sleep(0.05)
    assert not left


@POSIX
@pytest.mark.parametrize("module", ["click", "econ.cli.ending"])
def test_control_c_while_the_command_is_loaded_ends_it_quietly(module: str) -> None:
    code = (
        "import signal, sys\n"
        "signal.signal(signal.SIGINT, signal.default_int_handler)\n"
        "class Stop:\n"
        "    def find_spec(self, name, *_):\n"
        f"        if name == {module!r}:\n"
        "            signal.raise_signal(signal.SIGINT)\n"
        "sys.meta_path.insert(0, Stop())\n"
        "from econ.__main__ import main\nmain()\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, env=surroundings(), cwd=ROOT, check=False
    )
    assert (done.returncode, done.stdout, done.stderr) == (exits.INTERRUPTED, b"", b"")
    assert start.INTERRUPTED == exits.INTERRUPTED


LONG = ROOT / "scenarios" / "b_offshore_sealed_sources.toml"
# The tests may themselves run where Ctrl-C is ignored, such as behind `nohup`; a terminal does not.
MARKED = """
import signal, sys
signal.signal(signal.SIGINT, signal.default_int_handler)
from econ.cli import main
print('begun', file=sys.stderr, flush=True)
main(prog_name='econ')
"""


# ---- names ------------------------------------------------------------------------------------

WELLS = [
    "\u0416\u0443\u043a 7",
    "\u4e95\u6237 7",
    "Z\u00fcnd \u00d8st 7",
    "\u0627\u0644\u0628\u0626\u0631 7",
]
ENCODINGS = ["utf-8", "ascii", "latin-1", "cp1251"]


def answered_on(job: Path, encoding: str) -> bytes:
    """What an answer prints on a terminal of another encoding, without a process of its own."""
    result = CliRunner(charset=encoding).invoke(main, ["answer", str(job)])
    assert result.exit_code == 0, result.output
    return result.stdout_bytes


@pytest.mark.parametrize("well", WELLS)
@pytest.mark.parametrize("encoding", ENCODINGS)
def test_names_keep_their_letters_where_the_terminal_can_show_them(
    tmp_path: Path, well: str, encoding: str
) -> None:
    text = answered_on(write(tmp_path / "job.toml", scenario(well=well)), encoding).decode(encoding)
    try:
        expected = well.encode(encoding).decode(encoding)
    except UnicodeEncodeError:
        expected = shown(well, encoding)
        assert expected != well
        assert "\\" in expected
    assert any(line.startswith(f"{expected}, fish top") for line in text.splitlines())


@pytest.mark.parametrize(("encoding", "well"), [*zip(ENCODINGS, WELLS, strict=True)])
def test_a_process_of_its_own_prints_names_as_this_one_does(
    tmp_path: Path, well: str, encoding: str
) -> None:
    job = write(tmp_path / "job.toml", scenario(well=well))
    done = run("answer", job, PYTHONIOENCODING=encoding)
    assert done.returncode == 0, done.stderr
    assert done.stdout.replace(b"\r\n", b"\n") == answered_on(job, encoding)


def test_two_wells_are_never_the_same_row() -> None:
    for encoding in (None, "ascii", "latin-1", "cp1252", "utf-8"):
        assert len({shown(well, encoding) for well in WELLS}) == len(WELLS)


@pytest.mark.parametrize(
    ("words", "line"),
    [
        ("a\nb\tc\u2028d\u00a0e", "a b c d e"),
        ("\x1b[2J\x07\x7f\x9b", "\\x1b[2J\\x07\\x7f\\x9b"),
        ("\u202e\u2066\u200f\u061c\ufeff", "\\u202e\\u2066\\u200f\\u061c\\ufeff"),
        ("\udce9", "\\udce9"),
        ("e\u0301", "\u00e9"),
        ("\u0645\u06cc\u200c\u062f", "\u0645\u06cc\u200c\u062f"),
    ],
)
def test_controls_stay_out_always(words: str, line: str) -> None:
    assert one_line(words) == line
    assert shown(one_line(words), "utf-8") == line
    assert shown(words, "ascii").isascii()


def test_lines_of_a_text_stay_lines() -> None:
    assert shown("a\nb\x1b\n", "utf-8") == "a\nb\\x1b\n"


def test_a_path_keeps_its_letters_in_what_was_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    name = "\u0416\u0443\u043a.toml"
    assert ok("new", name).startswith(f"wrote {name}; now: econ answer {name}")


# ---- progress ---------------------------------------------------------------------------------


class Screen:
    """A terminal of one line, as far as blanks and carriage returns go."""

    encoding = "ascii"

    def __init__(self, *, terminal: bool) -> None:
        self.terminal = terminal
        self.written = ""

    def isatty(self) -> bool:
        return self.terminal

    def write(self, words: str) -> int:
        self.written += words
        return len(words)

    def flush(self) -> None:
        pass

    def shows(self) -> str:
        line: list[str] = []
        at = 0
        for char in self.written:
            if char == "\r":
                at = 0
            else:
                line[at : at + 1] = [char]
                at += 1
        return "".join(line).rstrip()


def wait_for(screen: Screen, words: str) -> None:
    end = time.monotonic() + PATIENCE
    while words not in screen.shows():
        assert time.monotonic() < end, screen.written
        time.sleep(0.01)


def looked_at(monkeypatch: pytest.MonkeyPatch, *, after: float = 0.01) -> Screen:
    """Standard error on a terminal, with progress from `after` [s] on."""
    screen = Screen(terminal=True)
    monkeypatch.setattr(sys, "stderr", screen)
    monkeypatch.setattr(terminal, "AFTER", after)
    monkeypatch.setattr(terminal, "EVERY", 0.01)
    return screen


def test_progress_names_the_step_and_leaves_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    screen = looked_at(monkeypatch)
    with terminal.progress("a long first step", "second") as next_step:
        wait_for(screen, "step 1 of 2: a long first step, 0 s")
        next_step()
        wait_for(screen, "step 2 of 2: second, 0 s")
        assert screen.shows() == "step 2 of 2: second, 0 s"
    assert screen.shows() == ""


def test_a_note_does_not_mix_with_progress(monkeypatch: pytest.MonkeyPatch) -> None:
    screen = looked_at(monkeypatch)
    monkeypatch.setattr(terminal, "EVERY", 60.0)
    with terminal.progress("working"):
        wait_for(screen, "working")
        terminal.say("note", err=True, end="")
        assert screen.shows() == "note"


def test_what_is_quick_shows_no_progress(monkeypatch: pytest.MonkeyPatch) -> None:
    assert terminal.AFTER == 2.0  # s, of the design
    screen = looked_at(monkeypatch, after=2.0)
    with terminal.progress("working"):
        time.sleep(0.05)
    assert screen.written == ""


def test_no_progress_where_nobody_looks(monkeypatch: pytest.MonkeyPatch) -> None:
    screen = looked_at(monkeypatch)
    screen.terminal = False
    with terminal.progress("working"):
        time.sleep(0.05)
    assert screen.written == ""


@POSIX
@pytest.mark.parametrize("line", ["answer FILE", "figures FILE --out OUT", "report FILE --out OUT"])
def test_commands_that_take_their_time_say_how_far_they_are(tmp_path: Path, line: str) -> None:
    import pty

    job = write(tmp_path / "job.toml", scenario(well=WELLS[0]))
    master, slave = pty.openpty()
    words = line.replace("FILE", str(job)).replace("OUT", str(tmp_path / "out")).split()
    early = "from econ.cli import terminal; terminal.AFTER = 0.02; "
    done = subprocess.run(
        [sys.executable, "-c", early + MAIN, *words],
        stdout=subprocess.PIPE,
        stderr=slave,
        env=surroundings(),
        cwd=ROOT,
        check=True,
    )
    os.close(slave)
    drawn = b""
    with open(master, "rb", buffering=0) as looked, contextlib.suppress(OSError):
        while part := looked.read(4096):
            drawn += part
    assert b"answering, " in drawn
    assert drawn.endswith(b" \r")
    assert b"answering" not in done.stdout
    if "report" in line:  # letters in files need no terminal that can show them
        assert WELLS[0] in (tmp_path / "out" / "answer.txt").read_text("utf-8").splitlines()


def interrupted_class() -> None:
    """Ctrl-C at the worst moment: Python 3.11 turns it into a RuntimeError, with a cause."""

    class Part:
        def __set_name__(self, owner: type, name: str) -> None:
            raise KeyboardInterrupt

    try:
        type("Whole", (), {"part": Part()})
    except KeyboardInterrupt as stopped:  # as later versions of Python leave it
        raise RuntimeError("wrapped") from stopped


def test_control_c_while_a_class_is_being_made(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(RuntimeError):
        interrupted_class()
    assert exit_code(interrupted_class) == 130
    assert capsys.readouterr() == ("", "")


def test_control_c_while_a_class_is_being_loaded(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("econ.cli.main", lambda prog_name: interrupted_class())
    with pytest.raises(SystemExit) as ended:
        start.main()
    assert ended.value.code == 130
