"""A run of the desk: a port of the system's choosing, one way in, and an end.

The browser is brought here by a file that only its owner may read, because the arguments of a
process are for everybody to see; the file is gone once it has been used.
"""

from __future__ import annotations

import asyncio
import contextlib
import html
import os
import shutil
import signal
import socket
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import uvicorn

from econ.desk.app import application
from econ.desk.draft import Draft
from econ.desk.guard import Guard, Locks
from econ.desk.session import Disk, Log, Session
from econ.desk.supervisor import Aside, Supervisor
from econ.desk.windows import LINGER, Windows

MOST_AT_ONCE = 64  # requests and streams
HEADER_BYTES = 32_768  # of a request


class WayIn:
    """The file that brings a browser to the desk: `path`, mode 0600 in a folder of mode 0700."""

    def __init__(self, address: str) -> None:
        self._folder = tempfile.mkdtemp(prefix="econ-desk-")
        self.path = os.path.join(self._folder, "desk.html")
        handle = os.open(self.path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        place = html.escape(address, quote=True)
        page = (
            '<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8">'
            '<meta name="referrer" content="no-referrer"><title>econ desk</title>'
            f'<meta http-equiv="refresh" content="0; url={place}"></head>'
            f'<body><p><a rel="noreferrer" href="{place}">To the desk</a></p></body></html>\n'
        )
        with os.fdopen(handle, "w", encoding="utf-8") as file:
            file.write(page)

    @property
    def address(self) -> str:
        """Of the file, for a browser."""
        return Path(self.path).as_uri()

    def remove(self) -> None:
        """Take the file away; it works once."""
        shutil.rmtree(self._folder, ignore_errors=True)


class _Server(uvicorn.Server):
    """A server that asks before it ends, and ends its streams first."""

    def __init__(self, config: uvicorn.Config, interrupted: Callable[[], bool]) -> None:
        super().__init__(config)
        self._interrupted = interrupted

    def handle_exit(self, sig: int, frame: Any) -> None:
        """A signal: Ctrl-C may be asked for twice."""
        if sig == signal.SIGINT and not self._interrupted():
            return
        super().handle_exit(sig, frame)


def serve(
    path: str,
    log: str,
    *,
    disk: Disk,
    opened: Callable[[str], None],
    say: Callable[[str], None],
    linger: float = LINGER,
) -> None:
    """Keep the desk on a scenario file and its log, until it ends.

    disk: how files are written; opened: is given the address of the way in, once the desk is ready;
    say: a line for whoever started it; linger: seconds after the last window. Raises
    ScenarioError where the file cannot be read, and KeyboardInterrupt after Ctrl-C.
    """
    draft = Draft(path, disk.replace)
    try:
        with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as listening:
            listening.bind(("127.0.0.1", 0))
            asyncio.run(_run(draft, log, listening, disk=disk, opened=opened, say=say, wait=linger))
    finally:
        draft.close()


async def _run(
    draft: Draft,
    log: str,
    listening: socket.socket,
    *,
    disk: Disk,
    opened: Callable[[str], None],
    say: Callable[[str], None],
    wait: float,
) -> None:
    locks, loop = Locks(), asyncio.get_running_loop()
    port = listening.getsockname()[1]
    way_in = WayIn(f"http://127.0.0.1:{port}/#{locks.give('window')}")
    asked = False

    def interrupted() -> bool:
        """Ctrl-C; whether to end now."""
        nonlocal asked
        if session.unsaved and not asked:
            asked = True
            say("Some changes are not saved: save them in the window, or press")
            say("Ctrl-C again. They are kept in a draft beside the file, and")
            say("the next start offers them.")
            return False
        loop.call_soon_threadsafe(windows.close)
        return True

    def end() -> None:
        windows.close()
        server.should_exit = True

    windows = Windows(may_end=lambda: not session.unsaved, end=end, linger=wait)
    worker, aside = Supervisor(windows.tell, loop), Aside(loop)
    watching: asyncio.Task[None] | None = None
    try:
        session = Session(draft, Log(log), disk=disk, windows=windows, worker=worker, aside=aside)
        app = application(session, windows, locks, entered=way_in.remove)
        config = uvicorn.Config(
            Guard(app, locks, port=port),
            log_config=None,
            access_log=False,
            server_header=False,
            proxy_headers=False,
            lifespan="off",
            ws="none",
            http="h11",
            loop="asyncio",
            limit_concurrency=MOST_AT_ONCE,
            h11_max_incomplete_event_size=HEADER_BYTES,
            timeout_graceful_shutdown=3,
        )
        server = _Server(config, interrupted)
        watching = loop.create_task(session.watch())
        loop.call_soon(opened, way_in.address)
        await server.serve(sockets=[listening])
    finally:
        way_in.remove()
        if watching is not None:
            watching.cancel()
            with contextlib.suppress(asyncio.CancelledError):
                await watching
        await asyncio.to_thread(aside.close)
        await asyncio.to_thread(worker.close)
