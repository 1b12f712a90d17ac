"""The windows that are open on the desk: what they are told, and when the desk may end.

Each window reads one stream of events, a line of JSON each. Of every kind of event it gets the
newest: a window that reads slowly, or sleeps, misses only what is old. When the last stream has
ended, the desk waits for a window to come back; then it asks whether it may end.
"""

from __future__ import annotations

import asyncio
import contextlib
import json
from collections.abc import AsyncIterator, Callable
from typing import Any

Row = dict[str, Any]
BEAT = 5.0  # [s] between two signs of life, so that a stream that nobody reads is noticed
LINGER = 30.0  # [s] after the last stream


class _Window:
    """What one window has not read yet, by kind of event."""

    def __init__(self) -> None:
        self.waiting: dict[str, Row] = {}
        self.news = asyncio.Event()

    def tell(self, event: Row) -> None:
        kind = str(event["event"])
        self.waiting.pop(kind, None)  # the newest comes last
        self.waiting[kind] = event
        self.news.set()


class Windows:
    """See the head of the module. end: called when the desk has had no window for `linger`
    seconds and `may_end` says so."""

    def __init__(
        self, *, may_end: Callable[[], bool], end: Callable[[], None], linger: float = LINGER
    ) -> None:
        self._open: set[_Window] = set()
        self._may_end, self._end, self._linger = may_end, end, linger
        self._leaving: asyncio.Task[None] | None = None
        self._newest: dict[str, Row] = {}  # what a new window is told at once
        self._closed = False

    def __len__(self) -> int:
        return len(self._open)

    def tell(self, event: Row) -> None:
        """Tell every window, and those that come later."""
        self._newest[str(event["event"])] = event
        for window in self._open:
            window.tell(event)

    def close(self) -> None:
        """End all streams."""
        self._closed = True
        for window in self._open:
            window.news.set()

    async def stream(self) -> AsyncIterator[bytes]:
        """The events for one window, until it goes or the desk ends."""
        window = _Window()
        for event in self._newest.values():
            window.tell(event)
        self._open.add(window)
        self._stay()
        try:
            yield _line({"event": "hello"})
            while not self._closed:
                with contextlib.suppress(TimeoutError):
                    await asyncio.wait_for(window.news.wait(), BEAT)
                window.news.clear()
                if not window.waiting:
                    yield b"\n"
                while window.waiting:
                    kind = next(iter(window.waiting))
                    yield _line(window.waiting.pop(kind))
        finally:
            self._open.discard(window)
            if not self._open and not self._closed:
                self._leaving = asyncio.get_running_loop().create_task(self._leave())

    def end_now(self) -> None:
        """End the desk."""
        self._end()

    def _stay(self) -> None:
        if self._leaving is not None:
            self._leaving.cancel()
            self._leaving = None

    async def _leave(self) -> None:
        """End the desk, as soon as nothing on it is unsaved."""
        await asyncio.sleep(self._linger)
        while not self._may_end():
            await asyncio.sleep(1.0)
        self._end()


def _line(event: Row) -> bytes:
    return json.dumps(event, allow_nan=False, separators=(",", ":")).encode() + b"\n"
