"""The worker: a process of its own that keeps the program loaded and does one thing at a time.

It reads a task, a name with its parts, from a pipe, and writes what came of it:

    ("done", value)       plain values, or bytes
    ("faults", [...])     bad input, in the words of the form
    ("failed", words)     what could not be finished
    ("newer", None)       an answer that was given up, because a newer job waits (signal NEWER)

What it worked out last it keeps by the digest of its input, so that a paper on the answer that is
shown need not be answered again. Nothing that it gives depends on that.
"""

from __future__ import annotations

import contextlib
import os
import signal
from collections.abc import Callable
from dataclasses import replace
from multiprocessing.connection import Connection
from typing import Any

from econ.desk.places import checked, digest, named_bytes
from econ.desk.wording import fault_document
from econ.scenario.faults import ScenarioError
from econ.scenario.toml_text import document

Row = dict[str, Any]
MOST_FAULTS = 100
NEWER: signal.Signals | None = getattr(signal, "SIGUSR1", None)  # not on every system


class _NewerError(BaseException):
    """Nobody waits for this answer any more; like Ctrl-C it is no error of the work."""


def main(pipe: Connection, ready: tuple[str, ...] = ()) -> None:
    """The life of the worker. ready: modules to load before it says that it is ready."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the server to handle
    if hasattr(signal, "pthread_sigmask"):
        signal.pthread_sigmask(signal.SIG_UNBLOCK, [signal.SIGINT])
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    from importlib import import_module

    for name in ready:
        import_module(name)
    bench = Bench()
    if NEWER is not None:
        signal.signal(NEWER, bench.give_up)
    with contextlib.suppress(EOFError, OSError, BrokenPipeError):
        pipe.send(("ready", None))
        while True:
            name, parts = pipe.recv()
            pipe.send(bench.work(name, parts))


class Bench:
    """What the worker can do, and what it keeps."""

    def __init__(self) -> None:
        self._kept: dict[str, tuple[str, Any]] = {}  # by kind: the digest of its input, and it
        self._may_give_up = False

    def give_up(self, number: int, frame: Any) -> None:
        """End the answer that is under way; a signal calls this between two steps of it."""
        if self._may_give_up:
            self._may_give_up = False
            raise _NewerError

    def work(self, name: str, parts: Row) -> tuple[str, Any]:
        """What comes of a task."""
        task: Callable[[Row], Any] | None = getattr(self, f"do_{name}", None)
        if task is None:
            return "failed", f"no task {name!a}"
        try:
            self._may_give_up = name == "full"
            done = task(parts)
            self._may_give_up = False
            return "done", done
        except _NewerError:
            return "newer", None
        except ScenarioError as error:
            return "faults", fault_rows(error, parts.get("text", ""))
        except MemoryError:
            self._kept.clear()
            return "failed", "there is not enough memory for it"
        except Exception as error:
            if os.environ.get("ECON_STACK"):
                raise
            return "failed", f"{type(error).__name__}: {error}"[:300]
        finally:
            self._may_give_up = False

    # ---- tasks --------------------------------------------------------------------------------

    def do_quick(self, parts: Row) -> Row:
        """The first figures, on few draws."""
        from econ.desk.views import quick_view

        return quick_view(*self._job(parts))

    def do_full(self, parts: Row) -> Row:
        """The answer."""
        from econ.desk.views import answer_view

        return answer_view(self._answer(parts))

    def do_entered(self, parts: Row) -> Row:
        """What a log with a row more says. added: of `econ.scenario.log_entry`."""
        from econ.desk.views import answer_view
        from econ.reports.log_entry_text import added_text

        found = self._answer(parts)
        added = replace(parts["added"], row="")  # it is a row of the table
        told = added_text(added, found, file=parts["log_name"])
        return {"told": told, "answer": answer_view(found)}

    def do_taken_back(self, parts: Row) -> Row:
        """What taking the last row of a log back says."""
        from econ.desk.views import taken_back

        return {"told": taken_back(checked(parts["text"], parts["folder"]), parts)}

    def do_papers(self, parts: Row) -> dict[str, bytes]:
        """Reports as files, by the functions that the commands call."""
        from econ.desk.papers import papers

        return papers(parts["what"], self._answer(parts), lambda: self._sensitivity(parts))

    def do_plan(self, parts: Row) -> Row:
        """The plan as a tree that can be read."""
        from econ.desk.views import plan_view

        return plan_view(*self._job(parts))

    def do_weights(self, parts: Row) -> Row:
        """What some amounts weigh."""
        from econ.desk.weights import weighed

        scenario, _ = self._job(parts)
        return weighed(scenario, parts["text"], parts["folder"], parts["log"], first=parts["first"])

    def do_beside(self, parts: Row) -> Row:
        """The file and the file with changes, on the same random numbers."""
        from econ.desk.views import beside_view

        scenario, log = self._job(parts)
        changed = checked(parts["text"], parts["folder"], parts["changes"])
        return beside_view(scenario, changed, log)

    def do_methods(self, parts: Row) -> Row:
        """Kinds of run for a fish and hole, which need not have a run or a rate yet."""
        from econ.desk.views import methods_view

        return methods_view(checked(parts["text"], parts["folder"], need_odds=False))

    def do_fragments(self, parts: Row) -> list[str]:
        """Texts of a [[run]] of each of these kinds, for the fish and hole of a text."""
        from econ.desk.first_runs import first_runs

        scenario = checked(parts["text"], parts["folder"], need_odds=False)
        return first_runs(scenario, parts["kinds"], dollar=parts["dollar"])

    def do_past(self, parts: Row) -> Row:
        """Past jobs or daily reports, and what they would change."""
        from econ.desk.past import read_past

        return read_past(parts)

    # ---- what is kept -------------------------------------------------------------------------

    def _job(self, parts: Row) -> tuple[Any, Any]:
        from econ.scenario.run_log import parse_log

        def made() -> tuple[Any, Any]:
            scenario = checked(parts["text"], parts["folder"])
            if not parts.get("log"):
                return scenario, ()
            return scenario, parse_log(parts["log"], scenario, file=parts["log_name"])

        job: tuple[Any, Any] = self._keep("job", parts, made)
        return job

    def _answer(self, parts: Row) -> Any:
        from econ.decision import answer

        return self._keep("answer", parts, lambda: answer(*self._job(parts)))

    def _sensitivity(self, parts: Row) -> Any:
        from econ.decision.sensitivity import sensitivity

        def made() -> Any:
            scenario, log = self._job(parts)
            return sensitivity(scenario, log, learning=False)

        return self._keep("sensitivity", parts, made)

    def _keep(self, kind: str, parts: Row, work: Callable[[], Any]) -> Any:
        """The last thing of a kind, if it is of the same input; else it is worked out.

        An input that a scenario names may change on the disk meanwhile: it is part of the digest.
        """
        given = digest(
            parts["text"], parts.get("log") or "", named_bytes(parts["text"], parts["folder"])
        )
        kept = self._kept.get(kind)
        if kept is not None and kept[0] == given:
            return kept[1]
        self._kept.pop(kind, None)
        made = work()
        self._kept[kind] = (given, made)
        return made


def fault_rows(error: ScenarioError, text: str = "") -> list[Row]:
    """Faults as plain values, in the words of the form; text: of the scenario, for its units."""
    values = {}
    with contextlib.suppress(ScenarioError):
        values = document(text)
    return [fault_document(fault, values) for fault in error.faults[:MOST_FAULTS]]
