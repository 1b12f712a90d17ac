"""Processes that work beside the command line, on every system alike."""

from __future__ import annotations

import atexit
import gc
import os
import signal
import sys
import threading
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from concurrent.futures import Executor
    from multiprocessing.process import BaseProcess

STOPPED = 1  # exit code of a command that could not go on
MOST_JOBS = 61 if sys.platform == "win32" else 1024  # Windows waits for no more processes


def processors() -> int:
    """Processors that this process may use."""
    allowed = getattr(os, "sched_getaffinity", None)
    found = len(allowed(0)) if allowed else os.cpu_count() or 1
    return min(found, MOST_JOBS)


def processes(count: int) -> Executor:
    """An executor of `count` processes that are started anew, and end when this one does."""
    from concurrent.futures import ProcessPoolExecutor
    from multiprocessing import get_context

    pool = ProcessPoolExecutor(count, get_context("spawn"), initializer=_follow)
    # Ctrl-C goes to all processes of a terminal, and is for this one alone to handle: what it
    # ignores, its children ignore from their first moment.
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        for _ in range(count):
            pool.submit(int)
    finally:
        signal.signal(signal.SIGINT, before)
    return pool


def end_at_once() -> None:
    """When this process ends, do not look through all it holds for what could be freed."""
    atexit.register(gc.freeze)


def _follow() -> None:
    """In a process of the pool: leave Ctrl-C to the parent, and end when the parent does."""
    from multiprocessing import parent_process

    end_at_once()
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    parent = parent_process()
    if parent is not None:
        threading.Thread(target=_end_after, args=(parent,), daemon=True).start()


def _end_after(parent: BaseProcess) -> None:
    parent.join()
    os._exit(STOPPED)  # nobody is left to take results or exceptions
