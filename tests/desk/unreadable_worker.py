"""A worker that says what nobody can unpickle where it is asked for junk; else its number."""

from __future__ import annotations

import contextlib
import os
from multiprocessing.connection import Connection


def main(pipe: Connection, ready: tuple[str, ...] = ()) -> None:
    """The life of this worker, in place of `econ.desk.worker.main`."""
    with contextlib.suppress(EOFError, OSError):
        pipe.send(("ready", None))
        while True:
            name, _ = pipe.recv()
            if name == "junk":
                pipe.send_bytes(b"no pickle")
            else:
                pipe.send(("done", os.getpid()))
