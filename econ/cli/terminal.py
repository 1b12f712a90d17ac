"""All that the command line prints: whole or not at all, in letters that the stream can show.

Documents and results go to standard output, notes, faults and progress to standard error.
Progress is one line that writes over itself, on a terminal only, from two seconds on.
"""

from __future__ import annotations

import contextlib
import errno
import io
import os
import sys
import threading
import time
from collections.abc import Callable, Iterator
from typing import TextIO

from econ.cli.exits import ReaderGoneError, UnfinishedError
from econ.reports.names import one_line, shown

AFTER = 2.0  # [s] from which on progress is shown
EVERY = 0.5  # [s] between two times it is drawn

_drawing = threading.Lock()
_drawn = 0  # characters of the progress line that stand on the terminal now


def say(words: str = "", *, err: bool = False, end: str = "\n") -> None:
    """Print words and what ends them.

    Raises UnfinishedError if standard output does not take all of them. Nobody can be told where
    standard error does not: that is passed over.
    """
    _clear()
    stream: TextIO | None = sys.stderr if err else sys.stdout
    if stream is None:  # closed before the program began
        if err:
            return
        raise UnfinishedError("standard output is closed: nothing was printed")
    try:
        _print(stream, shown(words + end, stream.encoding))
    except (OSError, ValueError) as error:
        if not err:
            give_up_output()
            raise unprinted(error) from None


def path_shown(path: str) -> str:
    """A path as it may stand in a line."""
    return one_line(path)


def unprinted(error: OSError | ValueError) -> UnfinishedError:
    """What it means that standard output failed."""
    number = getattr(error, "errno", None)
    if number == errno.EPIPE or (sys.platform == "win32" and number == errno.EINVAL):
        return ReaderGoneError()
    reason = getattr(error, "strerror", None) or str(error)
    return UnfinishedError(
        f"standard output could not be written ({reason}): what was printed is not whole; "
        "make room, or print to another place"
    )


def give_up_output() -> None:
    """Let what standard output still holds go nowhere, or Python would try it again at its end."""
    with contextlib.suppress(OSError, ValueError, AttributeError):
        sys.stdout.flush()
        return
    with contextlib.suppress(OSError, ValueError, AttributeError):
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, sys.stdout.fileno())
        os.close(nowhere)


def _print(stream: TextIO, words: str) -> None:
    raw = getattr(stream, "buffer", None)
    if not isinstance(raw, io.RawIOBase):
        stream.write(words)
        stream.flush()
        return
    # Unbuffered, as Python is with -u: a full disk takes a part and says so at the next one.
    left = words.replace("\n", os.linesep).encode(stream.encoding)
    while left:
        left = left[raw.write(left) or 0 :]


@contextlib.contextmanager
def progress(*steps: str) -> Iterator[Callable[[], None]]:
    """While the work in the block lasts, say which of its `steps` it is at and for how long.

    What is given is called where the next step begins.
    """
    if sys.stderr is None or not sys.stderr.isatty():
        yield lambda: None
        return
    at, done, begun = [0], threading.Event(), time.monotonic()

    def tell() -> None:
        wait = AFTER
        while not done.wait(wait):
            wait, last = EVERY, len(steps)
            number = min(at[0], last - 1)
            place = f"step {number + 1} of {last}: " if last > 1 else ""
            _draw(f"{place}{steps[number]}, {time.monotonic() - begun:.0f} s")

    def next_step() -> None:
        at[0] += 1

    teller = threading.Thread(target=tell, daemon=True)
    teller.start()
    try:
        yield next_step
    finally:
        done.set()
        teller.join()
        _clear()


def _draw(words: str) -> None:
    global _drawn
    with _drawing, contextlib.suppress(OSError, ValueError):
        sys.stderr.write("\r" + words.ljust(_drawn))
        sys.stderr.flush()
        _drawn = len(words)


def _clear() -> None:
    global _drawn
    if not _drawn:
        return
    with _drawing, contextlib.suppress(OSError, ValueError):
        sys.stderr.write("\r" + " " * _drawn + "\r")
        sys.stderr.flush()
        _drawn = 0
