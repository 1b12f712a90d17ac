"""Who is let in to the desk, and who is not: requests over a real socket."""

from __future__ import annotations

import re
import shutil
import socket
import stat
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

from econ.desk.guard import HEADERS, LARGEST_BODY, Locks
from econ.desk.places import checked, safe_name
from econ.scenario import ScenarioError

from .running import Desk, Reply, desk

ROOT = Path(__file__).parents[2]
POINT_A = ROOT / "scenarios" / "point" / "a_land_twist_off.toml"
LINUX = pytest.mark.skipif(not Path("/proc/self/maps").exists(), reason="looks into /proc")


@pytest.fixture(scope="module")
def running(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Desk]:
    path = tmp_path_factory.mktemp("job") / "job.toml"
    shutil.copy(POINT_A, path)
    opened = Desk(path)
    try:
        # The way in, before it is used: for its owner alone, and then gone.
        assert stat.S_IMODE(opened.way_in.stat().st_mode) == 0o600
        assert stat.S_IMODE(opened.way_in.parent.stat().st_mode) == 0o700
        command = Path(f"/proc/{opened.process.pid}/cmdline")
        assert not command.exists() or opened.token.encode() not in command.read_bytes()
        opened.enter()
        assert not opened.way_in.exists()
        yield opened
    finally:
        opened.close()


def guarded(reply: Reply) -> bool:
    """Whether a reply has the headers of every reply, and lets no other page read it."""
    assert not [name for name in reply.headers if name.startswith("access-control")]
    assert "set-cookie" not in reply.headers
    assert "server" not in reply.headers
    return all(reply.headers.get(name) == value for name, value in HEADERS.items())


def test_a_window_is_let_in(running: Desk) -> None:
    reply = running.ask("GET", "/api/job")
    assert reply.status == 200
    assert guarded(reply)
    assert reply.json["file"] == "job.toml"
    assert "script-src 'self'" in reply.headers["content-security-policy"]


def test_a_token_works_once(running: Desk) -> None:
    again = running.ask("POST", "/api/enter", {"token": running.token})
    assert again.status == 403
    for wrong in ("", "x", None, 5, running.key):
        assert running.ask("POST", "/api/enter", {"token": wrong}).status == 403
    more = running.post("/api/window")["token"]
    assert running.post("/api/enter", {"token": more})["key"] == running.key
    assert running.ask("POST", "/api/enter", {"token": more}).status == 403


@pytest.mark.parametrize("key", [None, "", "x", "é"])
def test_without_the_key_nothing_is_told(running: Desk, key: str | None) -> None:
    for method, path in (
        ("GET", "/api/job"),
        ("GET", "/api/stream"),
        ("POST", "/api/save"),
        ("POST", "/api/close"),
        ("GET", "/api/nothing"),
    ):
        reply = running.ask(method, path, headers={"Desk-Key": key})
        assert reply.status == 401, path
        assert guarded(reply)


def test_only_the_very_address_is_answered(running: Desk) -> None:
    port = running.port
    for host in (
        *(f"localhost:{port}", f"evil.example:{port}", "127.0.0.1", f"127.0.0.1:{port + 1}"),
        *(
            f"[::1]:{port}",
            f"127.0.0.1.:{port}",
            f"0x7f.1:{port}",
            f"127.0.0.1:{port}@evil.example",
        ),
    ):
        for path in ("/", "/assets/desk.js", "/api/job"):
            reply = running.ask("GET", path, headers={"Host": host})
            assert reply.status in (400, 421), (host, path)
            assert b"job.toml" not in reply.body
    assert running.ask("GET", "/api/job", headers={"Host": None}).status == 400


def test_other_pages_can_write_nothing(running: Desk) -> None:
    before = running.get("/api/job")["hash"]
    change = {"base": before, "changes": [{"op": "set", "key": "rates.rig", "value": 1}]}
    for origin in (
        *("http://evil.example", "null", f"http://localhost:{running.port}", "file://", None),
        *(
            f"https://127.0.0.1:{running.port}",
            "http://127.0.0.1",
            f"{running.origin}.evil.example",
        ),
    ):
        reply = running.ask("POST", "/api/changes", change, headers={"Origin": origin})
        assert reply.status == 403, origin
        assert guarded(reply)
    for kind in ("text/plain", "application/x-www-form-urlencoded", "multipart/form-data", None):
        reply = running.ask("POST", "/api/changes", change, headers={"Content-Type": kind})
        assert reply.status == 415, kind
    assert running.get("/api/job")["hash"] == before


def test_other_pages_can_read_nothing(running: Desk) -> None:
    for site in ("cross-site", "same-site"):
        for path in ("/", "/assets/desk.js", "/api/job", "/papers/x"):
            assert running.ask("GET", path, headers={"Sec-Fetch-Site": site}).status == 403
    # The file that brings the browser here is another place; what it opens holds nothing.
    arriving: dict[str, str | None] = {"Sec-Fetch-Site": "cross-site", "Desk-Key": None}
    moves = {**arriving, "Sec-Fetch-Mode": "navigate", "Sec-Fetch-Dest": "document"}
    shell = running.ask("GET", "/", headers=moves)
    assert shell.status == 200
    assert b"job.toml" not in shell.body
    framed = {**moves, "Sec-Fetch-Dest": "iframe"}
    assert running.ask("GET", "/", headers=framed).status == 403
    assert running.ask("GET", "/api/job", headers=moves).status == 403
    assert running.ask("GET", "/api/job", headers={"Origin": "http://evil.example"}).status == 403


@pytest.mark.parametrize("method", ["OPTIONS", "PUT", "DELETE", "HEAD", "PATCH", "TRACE"])
def test_other_methods_are_refused(running: Desk, method: str) -> None:
    reply = running.ask(method, "/api/job")
    assert reply.status == 405
    assert guarded(reply)


@pytest.mark.parametrize(
    "path",
    [
        *("/assets/../app.py", "/assets/..%2fapp.py", "/assets/%2e%2e/app.py", "/assets/"),
        *("/assets/....//app.py", "//etc/passwd", "/assets/desk.js%00", "/assets\\desk.js"),
        *("/assets/desk.js/../../app.py", "/papers/..", "/papers/x/y", "/../job.toml", "/%2e"),
        *("/assets/__init__.py", "/assets/theme", "/job.toml", "/api", "/assets/.theme.css"),
    ],
)
def test_no_path_leads_elsewhere(running: Desk, path: str) -> None:
    for key in (running.key, None):
        reply = running.ask("GET", path, headers={"Desk-Key": key})
        assert reply.status in (400, 401, 404), (path, reply.status)
        assert b"import" not in reply.body
        assert b"root:" not in reply.body


def test_requests_are_bounded(running: Desk) -> None:
    large = b'{"base": "' + b"x" * LARGEST_BODY + b'"}'
    assert running.ask("POST", "/api/changes", raw=large).status == 413
    # Without a length, in pieces.
    with socket.create_connection(("127.0.0.1", running.port), timeout=30) as line:
        head = (
            f"POST /api/changes HTTP/1.1\r\nHost: 127.0.0.1:{running.port}\r\n"
            f"Origin: {running.origin}\r\nDesk-Key: {running.key}\r\n"
            "Content-Type: application/json\r\nTransfer-Encoding: chunked\r\n\r\n"
        )
        line.sendall(head.encode())
        piece = b"100000\r\n" + b"x" * 0x100000 + b"\r\n"
        try:
            for _ in range(LARGEST_BODY // 0x100000 + 2):
                line.sendall(piece)
        except OSError:
            pass  # it hangs up once it has had enough
        told = line.recv(1000)
    assert b" 413 " in told.split(b"\r\n")[0]
    assert running.ask("GET", "/api/job").status == 200


@pytest.mark.parametrize(
    "body", [b"", b"[]", b"5", b"{", b"\xff", b'{"a": NaN}', b"[" * 100_000, b'"x"', b"null"]
)
def test_what_is_no_json_object_is_refused(running: Desk, body: bytes) -> None:
    for path in (
        "/api/changes",
        "/api/log",
        "/api/out",
        "/api/beside",
        "/api/settle",
        "/api/enter",
    ):
        assert running.ask("POST", path, raw=body).status == 400


def test_it_listens_on_this_machine_alone(running: Desk) -> None:
    for other in ("127.0.0.2", "::1", socket.gethostname()):
        try:
            found = socket.getaddrinfo(other, running.port, type=socket.SOCK_STREAM)
        except OSError:
            continue
        for family, kind, protocol, _, address in found:
            if address[0] == "127.0.0.1":
                continue
            with socket.socket(family, kind, protocol) as line:
                line.settimeout(5)
                assert line.connect_ex(address) != 0


@LINUX
def test_the_server_is_small_and_never_loads_numpy(running: Desk) -> None:
    with running.stream() as stream:
        stream.answer(running.get("/api/job")["input"])
    pid = running.process.pid
    assert "numpy" not in Path(f"/proc/{pid}/maps").read_text()
    sizes = Path(f"/proc/{pid}/status").read_text()
    assert int(re.findall(r"VmRSS:\s+(\d+) kB", sizes)[0]) < 60_000
    listed = subprocess.run(
        ["ps", "-o", "rss=", "--ppid", str(pid)], capture_output=True, text=True, check=True
    )
    assert 50_000 < max(map(int, listed.stdout.split())) < 350_000


@pytest.mark.parametrize("key", ["odds_from", "speeds_from"])
def test_what_a_scenario_names_is_read_in_the_folder_alone(tmp_path: Path, key: str) -> None:
    folder = tmp_path / "jobs"
    folder.mkdir()
    secret = tmp_path / "secret.toml"
    secret.write_text("password = 'hunter'\n")
    (folder / "link.toml").symlink_to(secret)
    text = POINT_A.read_text(encoding="utf-8")
    for name in ("../secret.toml", str(secret), "link.toml", "/etc/passwd", "a\\u0000b"):
        with pytest.raises(ScenarioError, match="in the folder of this one") as caught:
            checked(f'{key} = "{name}"\n{text}', folder)
        assert "hunter" not in str(caught.value)
    with pytest.raises(ScenarioError, match=f"a change of {key}"):
        checked(text, folder, [f" {key} = '{secret}'"])
    with pytest.raises(ScenarioError, match="no file"):  # a name in the folder is looked for
        checked(f'{key} = "named.toml"\n{text}', folder)


def test_names_of_downloads_are_harmless() -> None:
    hostile = {
        "a\u202egpj.exe": "agpj.exe",
        "a\r\nSet-Cookie: x.pdf": "aSet-Cookie_ x.pdf",
        "..": "file",
        "": "file",
        "NUL": "_NUL",
        "com1.toml": "_com1.toml",
        "COM\u00b9.toml": "_COM\u00b9.toml",
        "a/b\\c:d.toml": "a_b_c_d.toml",
        "\u2066hidden\u2069.toml": "hidden.toml",
        "Br\u00f8nn \u6d4b.toml": "Br\u00f8nn \u6d4b.toml",
        " .toml. ": "toml",
    }
    assert {given: safe_name(given) for given in hostile} == hostile
    assert len(safe_name("x" * 500 + ".toml")) <= 80


def test_a_word_works_once_and_so_long() -> None:
    now = [0.0]
    locks = Locks(clock=lambda: now[0])
    kept, short = locks.give("kept"), locks.give("short", seconds=60.0)
    now[0] = 59.0
    assert locks.take("nothing") is None
    assert locks.take(short) == ("short",)
    assert locks.take(short) is None
    late = locks.give("late", seconds=60.0)
    now[0] = 200.0
    assert locks.take(late) is None
    assert locks.take(kept) == ("kept",)
    assert not locks.opens(None)
    assert locks.opens(locks.key.encode())


def test_a_second_desk_on_one_file_is_refused(running: Desk, tmp_path: Path) -> None:
    path = next(Path(running.process.args[5]).parent.glob("job.toml"))  # type: ignore[index]
    with pytest.raises(AssertionError, match=r"another desk has open, process \d+"), desk(path):
        pass
