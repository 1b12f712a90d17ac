"""A desk that a test starts as a user does, and what a program may ask of it over a socket."""

from __future__ import annotations

import contextlib
import http.client
import json
import os
import re
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any
from urllib.parse import unquote, urlsplit

ROOT = Path(__file__).parents[2]
PATIENCE = 90.0  # [s]
Row = dict[str, Any]


class Reply:
    """What came back: status, headers by name in small letters, and the body."""

    def __init__(self, response: http.client.HTTPResponse) -> None:
        self.status = response.status
        self.headers = {name.lower(): value for name, value in response.getheaders()}
        self.body = response.read()

    @property
    def json(self) -> Any:
        """The body as JSON."""
        return json.loads(self.body)


class Desk:
    """A running desk. key: once it was entered."""

    def __init__(self, path: Path, *more: str, settings: dict[str, str] | None = None) -> None:
        command = [sys.executable, "-u", "-m", "econ", "desk", str(path), "--no-browser", *more]
        environment = {**os.environ, "PYTHONPATH": str(ROOT), "ECON_STACK": "1"}
        self.process = subprocess.Popen(
            command,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            env=environment | (settings or {}),
            cwd=path.parent,
        )
        self.said: list[str] = []
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()
        try:
            self.way_in = Path(unquote(urlsplit(self.wait_for(self._way_in)).path))
        except BaseException:
            self.close()
            raise
        page = self.way_in.read_text(encoding="utf-8")
        found = re.search(r"url=http://127\.0\.0\.1:(\d+)/#([\w-]+)", page)
        assert found is not None, page
        self.port, self.token = int(found.group(1)), found.group(2)
        self.key = ""

    def _read(self) -> None:
        assert self.process.stdout is not None
        for line in self.process.stdout:
            self.said.append(line.rstrip("\n"))

    def _way_in(self) -> str | None:
        assert self.process.poll() is None, self.said
        return next((line for line in self.said if line.startswith("file://")), None)

    def wait_for(self, look: Callable[[], Any], seconds: float = PATIENCE) -> Any:
        """What `look` gives, once it gives anything."""
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            if found := look():
                return found
            time.sleep(0.02)
        raise AssertionError(f"waited for nothing; the desk said {self.said}")

    @property
    def origin(self) -> str:
        """The address of the desk."""
        return f"http://127.0.0.1:{self.port}"

    def ask(
        self,
        method: str,
        path: str,
        body: Any = None,
        *,
        headers: dict[str, str | None] | None = None,
        raw: bytes | None = None,
    ) -> Reply:
        """One request, with the headers of a window but for those given; None leaves one out."""
        sent: dict[str, str | None] = {
            "Host": f"127.0.0.1:{self.port}",
            "Desk-Key": self.key,
            "Sec-Fetch-Site": "same-origin",
        }
        if method == "POST":
            sent |= {"Origin": self.origin, "Content-Type": "application/json"}
            raw = json.dumps({} if body is None else body).encode() if raw is None else raw
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=PATIENCE)
        try:
            connection.putrequest(method, path, skip_host=True, skip_accept_encoding=True)
            for name, value in {**sent, **(headers or {})}.items():
                if value is not None:
                    connection.putheader(name, value)
            if raw is not None:
                connection.putheader("Content-Length", str(len(raw)))
            connection.endheaders(raw)
            return Reply(connection.getresponse())
        finally:
            connection.close()

    def get(self, path: str) -> Any:
        """JSON at a path, which must be had."""
        reply = self.ask("GET", path)
        assert reply.status == 200, reply.body
        return reply.json

    def post(self, path: str, body: Any = None) -> Any:
        """JSON of a write, which must be done."""
        reply = self.ask("POST", path, body)
        assert reply.status == 200, reply.body
        return reply.json

    def enter(self) -> None:
        """Exchange the token for the key."""
        self.key = self.post("/api/enter", {"token": self.token})["key"]

    def paper(self, what: str) -> Reply:
        """A paper, fetched by its ticket."""
        return self.ask("GET", self.post("/api/out", {"what": what})["address"], headers=NO_KEY)

    @contextlib.contextmanager
    def stream(self) -> Iterator[Stream]:
        """The events for a window that stays open for the block."""
        opened = Stream(self)
        try:
            yield opened
        finally:
            opened.close()

    def stop(self) -> int:
        """Ctrl-C, and the exit code."""
        self.process.send_signal(signal.SIGINT)
        return self.process.wait(timeout=PATIENCE)

    def close(self) -> None:
        """End it, whatever it does."""
        if self.process.poll() is None:
            self.process.send_signal(signal.SIGINT)
            with contextlib.suppress(subprocess.TimeoutExpired):
                self.process.wait(timeout=3.0)
        if self.process.poll() is None:
            self.process.kill()
            self.process.wait()
        self._reader.join(timeout=5.0)
        if self.process.stdout is not None:
            self.process.stdout.close()


NO_KEY: dict[str, str | None] = {"Desk-Key": None}


class Stream:
    """The stream of a window, read in a thread."""

    def __init__(self, desk: Desk) -> None:
        self.events: list[Row] = []
        self._desk = desk
        self._connection = http.client.HTTPConnection("127.0.0.1", desk.port, timeout=PATIENCE)
        headers = {"Desk-Key": desk.key, "Sec-Fetch-Site": "same-origin"}
        self._connection.request("GET", "/api/stream", headers=headers)
        self._response = self._connection.getresponse()
        assert self._response.status == 200
        self._socket = self._connection.sock or self._response.fp.raw._sock
        threading.Thread(target=self._read, daemon=True).start()

    def _read(self) -> None:
        with contextlib.suppress(OSError, ValueError, http.client.HTTPException, AttributeError):
            while line := self._response.readline():
                if line.strip():
                    self.events.append({**json.loads(line), "at": time.monotonic()})

    def answer(self, given: str, stage: str = "full") -> Row:
        """The answer of a stage to an input."""

        def look() -> Row | None:
            for event in self.events:
                mine = event["event"] == "answer" and event["input"] == given
                if mine and ("answer" not in event or event["stage"] == stage):
                    return event
            return None

        found: Row = self._desk.wait_for(look)
        assert "answer" in found, found
        return found

    def close(self) -> None:
        """Go, as a window that is closed does."""
        import socket

        with contextlib.suppress(OSError):
            self._socket.shutdown(socket.SHUT_RDWR)
        self._connection.close()


@contextlib.contextmanager
def desk(path: Path, *more: str, settings: dict[str, str] | None = None) -> Iterator[Desk]:
    """A desk on a file, entered."""
    opened = Desk(path, *more, settings=settings)
    try:
        opened.enter()
        yield opened
    finally:
        opened.close()
