"""Work that a second process does beside a command: its results, faults and end.

Every expectation is a property: who does the work, and in what order, must not show.
"""

from __future__ import annotations

import gc
import os
import threading
import time
from concurrent.futures import Executor, Future
from concurrent.futures.process import BrokenProcessPool
from multiprocessing import active_children
from typing import Any

import pytest

from econ.cli import beside as beside_module
from econ.cli import processes as process_module
from econ.cli.beside import FEW, Begun, Other, beside, help_with
from econ.cli.ending import exit_code


def here() -> int:
    return os.getpid()


def fails(seconds: float) -> float:
    return 1 / seconds


@pytest.fixture
def as_a_user(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without the stack that developers ask for."""
    monkeypatch.delenv("ECON_STACK")


@pytest.mark.parametrize("copied", [True, False])
def test_the_other_process_has_the_modules_works_and_ends(
    monkeypatch: pytest.MonkeyPatch, copied: bool
) -> None:
    may_be = process_module._can_be_copied() if copied else False
    monkeypatch.setattr(process_module, "_can_be_copied", lambda: may_be)
    others, collecting = active_children(), gc.isenabled()
    with beside("colorsys", "chunk") as other:
        assert not gc.isenabled()
        begun = other.begin(here)
        while begun.waits():
            time.sleep(0.01)
        assert begun() != os.getpid()
        loaded = other.begin(eval, "'colorsys' in __import__('sys').modules")
        while loaded.waits():
            time.sleep(0.01)
        assert loaded()
        assert len(active_children()) == len(others) + 1
    assert active_children() == others
    assert gc.isenabled() == collecting


def test_what_is_not_begun_is_done_here() -> None:
    with beside() as other:
        other.begin(time.sleep, 1.0)
        last = [other.begin(here) for _ in range(2 * FEW + 3)][-1]
        assert last() == os.getpid()


def test_help_is_given_from_the_last_on_until_few_are_left() -> None:
    done: list[int] = []
    pieces = [Begun(lambda number=number: done.append(number), Future()) for number in range(6)]  # type: ignore[misc]
    help_with(pieces)
    assert done == [5, 4, 3]
    assert [each.waits() for each in pieces[:3]] == [True] * 3
    for each in pieces:
        each()
    assert done == [5, 4, 3, 0, 1, 2]


def test_a_single_processor_does_all_here(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(beside_module, "processors", lambda: 1)
    others = active_children()
    with beside("colorsys") as other:
        begun = other.begin(here)
        assert active_children() == others
        assert begun() == os.getpid() == begun()


class Lost(Executor):
    """An executor whose process dies: before a job is handed over, or with it in hand."""

    def __init__(self, *, taken: bool) -> None:
        self.taken = taken

    def submit(self, *_: Any, **__: Any) -> Future[Any]:
        if not self.taken:
            raise BrokenProcessPool()
        lost: Future[Any] = Future()
        lost.set_exception(BrokenProcessPool())
        return lost


@pytest.mark.parametrize("taken", [True, False])
def test_what_a_lost_process_had_in_hand_is_done_here(taken: bool) -> None:
    assert Other(Lost(taken=taken)).begin(divmod, 17, 5)() == (3, 2)


def test_a_process_that_is_killed_is_done_without() -> None:
    with beside() as other:
        killed = other.begin(os._exit, 1)
        while killed.waits():
            time.sleep(0.01)
        assert other.begin(divmod, 17, 5)() == (3, 2)


def test_a_process_with_threads_is_not_copied() -> None:
    done = threading.Event()
    thread = threading.Thread(target=done.wait)
    thread.start()
    try:
        assert not process_module._can_be_copied()
    finally:
        done.set()
        thread.join()


@pytest.mark.usefixtures("as_a_user")
def test_a_fault_of_the_other_process_is_told_as_one_of_this(
    capsys: pytest.CaptureFixture[str],
) -> None:
    told = []
    for there in (True, False):

        def work(there: bool = there) -> float:
            with beside() as other:
                begun = other.begin(fails, 0)
                while there and begun.waits():
                    time.sleep(0.01)
                return begun() if there else fails(0)

        assert exit_code(work) == 1
        told.append(capsys.readouterr().err)
    assert told[0] == told[1]
    assert told[0].startswith("could not finish: ZeroDivisionError in test_beside.py, line ")
    assert told[0].count("\n") == 1


def test_whatever_ends_the_block_ends_the_other_process() -> None:
    others, begun = active_children(), time.monotonic()

    def work() -> None:
        with beside() as other:
            other.begin(time.sleep, 60.0)
            raise KeyboardInterrupt

    assert exit_code(work) == 130
    assert active_children() == others
    assert time.monotonic() - begun < 30
