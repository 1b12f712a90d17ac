"""Processes that work beside the command line, on every system alike."""

from __future__ import annotations

import atexit
import gc
import os
import signal
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

from econ.cli.ending import STACK, be_silent
from econ.cli.exits import STOPPED

if TYPE_CHECKING:
    from concurrent.futures import Executor
    from multiprocessing.process import BaseProcess

MOST_JOBS = 61 if sys.platform == "win32" else 1024  # Windows waits for no more processes


def processors() -> int:
    """Processors that this process may use."""
    allowed = getattr(os, "sched_getaffinity", None)
    found = len(allowed(0)) if allowed else os.cpu_count() or 1
    return min(found, MOST_JOBS)


@contextmanager
def processes(count: int, *, copied: bool = False) -> Iterator[Executor]:
    """An executor of `count` processes that are started anew, and end when this one does.

    copied: where it is safe, they begin as copies of this one, with all that it has loaded. Where
    the block ends by an exception, such as Ctrl-C, they end at once.
    """
    from multiprocessing import active_children

    others = active_children()
    pool = None
    try:
        pool = _started(count, copied=copied and _can_be_copied())
        yield pool
    except BaseException:
        for child in active_children():
            if child not in others:
                child.terminate()
        raise
    finally:
        if pool is not None:
            pool.shutdown(cancel_futures=True)


def _can_be_copied() -> bool:
    """Whether a copy of this process can go on: a lock that another thread holds would stay shut
    in it, and libraries of other systems do not bear it."""
    return sys.platform == "linux" and threading.active_count() == 1


def _started(count: int, *, copied: bool) -> Executor:
    from concurrent.futures import ProcessPoolExecutor
    from multiprocessing import get_context

    context = get_context("fork" if copied else "spawn")
    pool = ProcessPoolExecutor(count, context, initializer=_follow)
    # Ctrl-C goes to all processes of a terminal, and is for this one alone to handle: what it
    # ignores, its children ignore from their first moment. One that comes meanwhile waits.
    with _waiting():
        before = signal.signal(signal.SIGINT, signal.SIG_IGN)
        try:
            for _ in range(count):
                pool.submit(int)
        finally:
            signal.signal(signal.SIGINT, before)
    return pool


@contextmanager
def _waiting() -> Iterator[None]:
    """Ctrl-C waits until the block has ended, on systems that can hold it back."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, [signal.SIGINT])
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def end_at_once() -> None:
    """When this process ends, do not look through all it holds for what could be freed."""
    atexit.register(gc.freeze)


def _follow() -> None:
    """In a process of the pool: leave Ctrl-C to the parent, and end when the parent does."""
    from multiprocessing import parent_process

    end_at_once()
    if STACK not in os.environ:
        be_silent()
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    parent = parent_process()
    if parent is not None:
        threading.Thread(target=_end_after, args=(parent,), daemon=True).start()


def _end_after(parent: BaseProcess) -> None:
    parent.join()
    os._exit(STOPPED)  # nobody is left to take results or exceptions
