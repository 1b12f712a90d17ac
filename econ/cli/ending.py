"""How every command ends: with an exit code and at most one line, whatever goes wrong."""

from __future__ import annotations

import io
import os
import signal
import sys
import threading
import traceback
import warnings
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import click

from econ.cli.exits import INTERRUPTED, STOPPED, ReaderGoneError, UnfinishedError
from econ.cli.terminal import give_up_output, say, unprinted

STACK = "ECON_STACK"  # set by developers: exceptions and warnings are shown as Python does
PLACE = "raised_at"  # of an exception from another process: where it was raised
AGAIN = 3.0  # [s]
LONGEST = 200  # characters of an exception that are repeated


class EndingGroup(click.Group):
    """Commands of which none ends with a traceback."""

    def main(
        self,
        args: Sequence[str] | None = None,
        prog_name: str | None = None,
        complete_var: str | None = None,
        standalone_mode: bool = True,
        **extra: Any,
    ) -> Any:
        """Run the command in `args` and end the process with its exit code."""

        def work() -> Any:
            run = super(EndingGroup, self).main
            return run(args, prog_name, complete_var, standalone_mode=False, **extra)

        if not standalone_mode:
            return work()
        sys.exit(exit_code(lambda: _with_output(_insisting(work))))


def _insisting(work: Callable[[], Any]) -> Callable[[], Any]:
    """The work, with Ctrl-C said again every AGAIN seconds until it has ended: Python loses an
    interrupt that comes while it clears something away."""
    ignored = signal.getsignal(signal.SIGINT) is signal.SIG_IGN
    elsewhere = threading.current_thread() is not threading.main_thread()
    if ignored or elsewhere or not hasattr(signal, "setitimer"):
        return work

    def interrupt(*_: object) -> None:
        signal.setitimer(signal.ITIMER_REAL, AGAIN)
        raise KeyboardInterrupt

    def insist() -> Any:
        before = signal.signal(signal.SIGINT, interrupt), signal.signal(signal.SIGALRM, interrupt)
        try:
            return work()
        finally:
            signal.setitimer(signal.ITIMER_REAL, 0.0)
            signal.signal(signal.SIGINT, before[0])
            signal.signal(signal.SIGALRM, before[1])

    return insist


def exit_code(work: Callable[[], Any]) -> int:
    """Exit code of the work, after its one line on standard error where it needs one."""
    try:
        with warnings.catch_warnings():
            if STACK not in os.environ:
                be_silent()
            code = work()
        return code if isinstance(code, int) else 0
    except (KeyboardInterrupt, click.Abort):
        return INTERRUPTED
    except click.ClickException as error:
        told = io.StringIO()
        error.show(told)
        say(told.getvalue(), err=True, end="")
        return error.exit_code
    except ReaderGoneError:
        return STOPPED
    except UnfinishedError as error:
        say(str(error), err=True)
        return STOPPED
    except Exception as error:
        if _interrupted(error):
            return INTERRUPTED
        if STACK in os.environ:
            raise
        say(_in_words(error), err=True)
        return STOPPED


def _interrupted(error: BaseException | None) -> bool:
    """Whether an exception comes from Ctrl-C: libraries and Python itself may wrap it."""
    while error is not None and not isinstance(error, KeyboardInterrupt):
        error = error.__cause__ or error.__context__
    return error is not None


def be_silent() -> None:
    """Let no warning or log message of a library reach the user: they are for developers."""
    warnings.simplefilter("ignore")
    import logging

    logging.getLogger().addHandler(logging.NullHandler())


def _with_output(work: Callable[[], Any]) -> Any:
    """The work, whose help and version are printed by the library that reads the command line:
    where standard output fails under those, it fails as it does under `say`."""
    try:
        result = work()
        if sys.stdout is not None:
            sys.stdout.flush()
    except OSError as error:
        if _holds_words():
            give_up_output()
            raise unprinted(error) from None
        raise
    return result


def _holds_words() -> bool:
    """Whether standard output has words that it cannot get rid of."""
    try:
        sys.stdout.flush()
    except (OSError, ValueError, AttributeError):
        return True
    return False


def _in_words(error: Exception) -> str:
    """One line for an exception that nobody foresaw."""
    if isinstance(error, MemoryError):
        return "could not finish: not enough memory; fewer draws (draws.n) need less"
    reason = " ".join(str(error).split())[:LONGEST]
    if isinstance(error, OSError):
        where = f"{error.filename!a}: " if error.filename else ""
        return f"could not finish: {where}{error.strerror or reason}"
    place = getattr(error, PLACE, None) or _place(error)
    return (
        f"could not finish: {type(error).__name__}{place}{': ' if reason else ''}{reason}; "
        f"this is a fault of the program, please report it ({STACK}=1 shows where it was)"
    )


def keep_place(error: Exception) -> None:
    """Let an exception keep the place where it was raised on its way to another process."""
    setattr(error, PLACE, _place(error))


def _place(error: Exception) -> str:
    steps = traceback.extract_tb(error.__traceback__)
    return f" in {Path(steps[-1].filename).name}, line {steps[-1].lineno}" if steps else ""
