"""The server's side of the worker: what it does next, what it is told, and when it is ended.

    offer(job)            the answer that the windows show: a single slot, the newest wins
    await ask(name, ...)  anything else, in turn; of two with the same `slot` the newer wins
    Aside                 the same for what takes long, in a second process, so that no answer waits
                          for it; it ends when it has had nothing to do for KEPT seconds

One task is under way at a time, so nothing newer ever waits behind a queue. An answer is two tasks,
`quick` and `full`; a newer job in the slot is begun before the `full` of an older one, which is
given up where it is under way. A worker that is late, or still busy with an old answer while a
newer one has waited for long, is ended and started again. A thread does this; all that it tells,
it tells on the loop of the server.
"""

from __future__ import annotations

import asyncio
import contextlib
import multiprocessing
import os
import signal
import threading
import time
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from econ.desk.worker import NEWER, main

Row = dict[str, Any]
Tell = Callable[[Row], None]
READY = ("econ.decision", "econ.desk.views", "econ.reports.text")  # loaded before it is ready
START = 60.0  # [s] for a worker to be ready
LATE = {"quick": 20.0, "full": 60.0, "papers": 300.0, "weights": 180.0}  # [s] by task
LATE_ELSE = 90.0
PATIENCE = 4.0  # [s] that a newer job waits for the answer of an older one
KEPT = 20.0  # [s] that a second worker stays for the next paper
STEP = 0.02  # [s] between two looks at what is waiting


class SupersededError(Exception):
    """A newer request of the same slot has taken its place."""


class WorkerError(Exception):
    """A task could not be finished; its text is for the user."""


class FaultsError(Exception):
    """Bad input; rows: faults as plain values."""

    def __init__(self, rows: list[Row]) -> None:
        self.rows = rows
        super().__init__("; ".join(row["text"] for row in rows[:3]))


@dataclass
class _Asked:
    name: str
    parts: Row
    future: asyncio.Future[Any]
    slot: str | None


@dataclass
class _Waiting:
    """What is to be done, under one lock."""

    job: Row | None = None  # the newest job that no quick answer was made of
    full: Row | None = None  # a job whose full answer is due
    asked: deque[_Asked] = field(default_factory=deque)
    over: bool = False
    again: str = ""  # input of the job that a lost worker has had once before


class Supervisor:
    """See the head of the module. tell: is given every answer, and every state of the worker."""

    def __init__(self, tell: Tell, loop: asyncio.AbstractEventLoop) -> None:
        self._tell, self._loop = tell, loop
        self._waiting = _Waiting()
        self._news = threading.Condition()
        self._process: Any = None
        self._pipe: Any = None
        self._thread = threading.Thread(target=self._live, daemon=True)
        self._thread.start()

    # ---- asked by the server ------------------------------------------------------------------

    def offer(self, job: Row) -> None:
        """Answer this job, and no older one any more. job: `text`, `folder`, `log`, `log_name`,
        and `input`, the digest that comes back with every answer to it."""
        with self._news:
            self._waiting.job, self._waiting.full = job, None
            self._news.notify()

    async def ask(self, name: str, parts: Row, *, slot: str | None = None) -> Any:
        """What comes of a task. Raises FaultsError, WorkerError, SupersededError."""
        future: asyncio.Future[Any] = self._loop.create_future()
        with self._news:
            if slot is not None:
                for old in [each for each in self._waiting.asked if each.slot == slot]:
                    self._waiting.asked.remove(old)
                    _settle(old.future, error=SupersededError())
            self._waiting.asked.append(_Asked(name, parts, future, slot))
            self._news.notify()
        return await future

    @property
    def process_id(self) -> int | None:
        """Number of the worker's process, None while there is none."""
        return None if self._process is None else self._process.pid

    def close(self) -> None:
        """End the worker."""
        with self._news:
            self._waiting.over = True
            self._news.notify()
        self._thread.join(timeout=5.0)
        self._end()

    # ---- the thread ---------------------------------------------------------------------------

    def _live(self) -> None:
        while True:
            if self._process is None and not self._begin():
                return
            with self._news:
                while not self._has_work():
                    self._news.wait(timeout=1.0)
                    if self._process is not None and not self._process.is_alive():
                        break
                if self._waiting.over:
                    return
                task = self._next()
            if task is None:  # the worker has gone while it had nothing to do
                self._end()
                continue
            self._do(task)

    def _has_work(self) -> bool:
        waiting = self._waiting
        return bool(waiting.over or waiting.job or waiting.full or waiting.asked)

    def _next(self) -> _Asked | tuple[str, Row] | None:
        waiting = self._waiting
        if waiting.job is not None:
            job, waiting.job = waiting.job, None
            return "quick", job
        if waiting.full is not None:
            job, waiting.full = waiting.full, None
            return "full", job
        return waiting.asked.popleft() if waiting.asked else None

    def _do(self, task: _Asked | tuple[str, Row]) -> None:
        name, parts = (task.name, task.parts) if isinstance(task, _Asked) else task
        self._say(name)
        came = self._came_of(name, parts, old=name == "full")
        self._say("idle")
        if came is None:
            return  # given up for a newer job
        how, value = came
        if isinstance(task, _Asked):
            self._loop_call(_settle_with, task.future, "failed" if how == "lost" else how, value)
            return
        if how == "lost" and self._waiting.again != parts["input"]:
            with (
                self._news
            ):  # once more, unless there is a newer one: it may not have been its doing
                self._waiting.again = parts["input"]
                self._waiting.job = self._waiting.job or parts
            return
        if name == "quick" and how == "done":
            with self._news:
                if self._waiting.job is None:
                    self._waiting.full = parts
        event = {"event": "answer", "stage": name, "input": parts["input"]}
        known = {"done": "answer", "faults": "faults"}.get(how, "error")
        self._loop_call(self._tell, {**event, known: value})

    def _came_of(self, name: str, parts: Row, *, old: bool) -> tuple[str, Any] | None:
        """What the worker says; None if it was ended for a newer job. old: whether an answer that
        a newer job makes old is worked out."""
        begun, late = time.monotonic(), LATE.get(name, LATE_ELSE)
        since: float | None = None  # when a newer job was first seen waiting
        try:
            self._pipe.send((name, parts))
            while not self._pipe.poll(STEP):
                now = time.monotonic()
                if self._waiting.over:
                    self._end()
                    return "failed", "the desk was closed"
                if now - begun > late:
                    self._end()
                    return "failed", f"it took more than {late:.0f} s and was ended"
                if old and self._waiting.job is not None:
                    if since is None:
                        since = now
                        if NEWER is not None:
                            os.kill(self._process.pid, NEWER)
                    if now - since > PATIENCE:
                        self._end()
                        return None
            how, value = self._pipe.recv()
            return None if how == "newer" else (how, value)
        except Exception:  # the pipe has broken, or what came through it cannot be read
            self._end()
            return "lost", "the process that works things out was lost; it is started again"

    def _begin(self) -> bool:
        """Start a worker and wait until it is ready; whether the desk is still open."""
        context = multiprocessing.get_context("spawn")
        self._say("starting")
        here, there = context.Pipe()
        process = context.Process(target=main, args=(there, READY), daemon=True, name="worker")
        with _without_interrupts():
            process.start()
        there.close()
        self._process, self._pipe = process, here
        begun = time.monotonic()
        with contextlib.suppress(EOFError, OSError):
            while time.monotonic() - begun < START and not self._waiting.over:
                if here.poll(STEP):
                    here.recv()
                    self._say("idle")
                    return True
        self._end()
        if self._waiting.over:
            return False
        with self._news:
            lost, self._waiting.asked = self._waiting.asked, deque()
            job, self._waiting.job = self._waiting.job, None
            self._waiting.full = None
        words = "the process that works things out does not start"
        for each in lost:
            self._loop_call(_settle_with, each.future, "failed", words)
        if job is not None:
            event = {"event": "answer", "stage": "quick", "input": job["input"]}
            self._loop_call(self._tell, {**event, "error": words})
        time.sleep(1.0)
        return not self._waiting.over

    def _end(self) -> None:
        process, self._process = self._process, None
        if process is None:
            return
        with contextlib.suppress(OSError, ValueError):
            process.kill()
            process.join(timeout=5.0)
            self._pipe.close()

    def _say(self, what: str) -> None:
        self._loop_call(self._tell, {"event": "worker", "doing": what})

    def _loop_call(self, call: Callable[..., None], *parts: Any) -> None:
        with contextlib.suppress(RuntimeError):  # the loop has ended: nobody is left to tell
            self._loop.call_soon_threadsafe(call, *parts)


class Aside:
    """See the head of the module."""

    def __init__(self, loop: asyncio.AbstractEventLoop) -> None:
        self._loop = loop
        self._worker: Supervisor | None = None
        self._under_way = 0
        self._leaving: asyncio.Task[None] | None = None

    async def ask(self, name: str, parts: Row, *, slot: str | None = None) -> Any:
        """What comes of a task. Raises what `Supervisor.ask` raises."""
        if self._leaving is not None:
            self._leaving.cancel()
            self._leaving = None
        if self._worker is None:
            self._worker = Supervisor(lambda event: None, self._loop)
        self._under_way += 1
        try:
            return await self._worker.ask(name, parts, slot=slot)
        finally:
            self._under_way -= 1
            if not self._under_way:
                self._leaving = self._loop.create_task(self._leave())

    @property
    def process_id(self) -> int | None:
        """Number of its process, None while there is none."""
        return None if self._worker is None else self._worker.process_id

    def close(self) -> None:
        """End the worker, if there is one."""
        worker, self._worker = self._worker, None
        if worker is not None:
            worker.close()

    async def _leave(self) -> None:
        await asyncio.sleep(KEPT)
        worker, self._worker, self._leaving = self._worker, None, None
        if worker is not None:
            await asyncio.to_thread(worker.close)


def _settle_with(future: asyncio.Future[Any], how: str, value: Any) -> None:
    if how == "done":
        _settle(future, value)
    else:
        _settle(future, error=FaultsError(value) if how == "faults" else WorkerError(value))


def _settle(
    future: asyncio.Future[Any], value: Any = None, *, error: Exception | None = None
) -> None:
    if future.done():  # who asked has gone
        return
    if error is None:
        future.set_result(value)
    else:
        future.set_exception(error)


@contextlib.contextmanager
def _without_interrupts() -> Any:
    """A process that is started here sees no Ctrl-C until it asks for it."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, [signal.SIGINT])
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)
