"""Work of a command that a second process does beside this one.

    with beside("matplotlib.figure") as other:      it starts, often as a copy of this one, and
                                                    loads these modules
        drawn = [other.begin(draw, name) for name in names]
        ...                                         what this process does meanwhile
        help_with(drawn)
        files = [each() for each in drawn]          results, or what was raised

What the second process has not begun when its result is asked for is done here, and so is all that
it had in hand if it is lost: results do not depend on who works. On a single processor there is no
second process. However the block ends, that process ends with it (`econ.cli.processes`).
"""

from __future__ import annotations

import gc
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from functools import partial
from importlib import import_module
from typing import TYPE_CHECKING, Any, Generic, ParamSpec, TypeVar

from econ.cli.ending import keep_place
from econ.cli.processes import processes, processors

if TYPE_CHECKING:
    from concurrent.futures import Executor, Future

P = ParamSpec("P")
T = TypeVar("T")
FEW = 3  # pieces of work that are sooner done there than here, where modules must be loaded first


class Begun(Generic[T]):
    """A piece of work; called, it gives the result. future: None if it is done here, when asked."""

    def __init__(self, work: Callable[[], T], future: Future[T] | None) -> None:
        self._work, self._future = work, future
        self._results: list[T] = []  # of the work done here: none yet, or one

    def waits(self) -> bool:
        """Whether nobody has begun it."""
        if self._future is None:
            return not self._results
        return not (self._future.running() or self._future.done())

    def take(self) -> None:
        """Do it here, unless it is begun."""
        if self._future is not None and self._future.cancel():
            self._future = None
        if self.waits():
            self._results.append(self._work())

    def __call__(self) -> T:
        """The result; what was raised is raised here."""
        from concurrent.futures import BrokenExecutor

        self.take()
        if self._future is not None:
            try:
                return self._future.result()
            except BrokenExecutor:
                self._future = None
                self.take()
        return self._results[0]


class Other:
    """The second process, or none."""

    def __init__(self, pool: Executor | None) -> None:
        self._pool = pool

    def begin(self, work: Callable[P, T], *args: P.args, **more: P.kwargs) -> Begun[T]:
        """Work to be done after all that was begun before; it and its result can be pickled."""
        here = partial(work, *args, **more)
        if self._pool is None:
            return Begun(here, None)
        from concurrent.futures import BrokenExecutor

        try:
            return Begun(here, self._pool.submit(_placed, here))
        except BrokenExecutor:
            return Begun(here, None)


@contextmanager
def beside(*modules: str) -> Iterator[Other]:
    """The second process, which loads these modules first. Both leave cycles uncollected, which
    takes a fifth of the time of drawing."""
    collecting = gc.isenabled()
    gc.disable()
    try:
        if processors() == 1:
            yield Other(None)
            return
        with processes(1, copied=True) as pool:
            pool.submit(_get_ready, modules)
            yield Other(pool)
    finally:
        if collecting:
            gc.enable()


def help_with(pieces: Sequence[Begun[Any]]) -> None:
    """Do here, from the last on, what waits in the second process, until only few are left."""
    while len(waiting := [each for each in pieces if each.waits()]) > FEW:
        waiting[-1].take()


def _get_ready(modules: Sequence[str]) -> None:
    gc.disable()
    for name in modules:
        import_module(name)


def _placed(work: Callable[[], T]) -> T:
    """The work; an exception keeps the place where it was raised, which is lost on its way."""
    try:
        return work()
    except Exception as error:
        keep_place(error)
        raise
