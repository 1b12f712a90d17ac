"""`econ report`: memo, supplement, what-if page, figures and tables into one folder."""

from __future__ import annotations

import gc
import os
from collections.abc import Callable, Iterator, Mapping
from contextlib import AbstractContextManager, contextmanager
from typing import TYPE_CHECKING, ParamSpec, TypeVar

import click

from econ.cli.guard import guard, load_scenario
from econ.cli.terminal import path_shown, progress, say

if TYPE_CHECKING:
    from concurrent.futures import Executor

    from econ.reports.supplement import Code
    from econ.scenario import Scenario

P = ParamSpec("P")
T = TypeVar("T")


@click.command()
@click.argument("file")
@click.option("--out", required=True, metavar="DIR", help="Folder for the files; made if needed.")
@click.option("--log", metavar="RUNS.csv", help="Runs made so far; the reports are from then on.")
@click.option("--codes", metavar="MAPPING.csv", help="Own cost codes: ours,theirs,description.")
@click.option("--set", "changes", multiple=True, metavar="KEY=VALUE", help="Override a value.")
def report(
    file: str, out: str, log: str | None, codes: str | None, changes: tuple[str, ...]
) -> None:
    """Write every report on the scenario FILE into a folder: all of them or none."""
    scenario = load_scenario(file, changes)
    from econ.cli.files import write_files
    from econ.cli.targets import check_folder, check_names, files_read
    from econ.reports.bundle import (
        answer_files,
        changes_of,
        names,
        outlook_files,
        page_files,
        supplement_files,
    )
    from econ.scenario.run_log import read_log

    guard(lambda: check_folder(out))
    made = guard(lambda: () if log is None else read_log(log, scenario))
    mapping = guard(lambda: {} if codes is None else _own_codes(codes, scenario))

    # What would change the answer takes longer than the answer: another processor works on it,
    # while this one answers and draws what needs no more.
    steps = ("answering", "turning inputs", "preparing the sliders", "building the supplement")
    with progress(*steps) as next_step, _beside() as pool, _uncollected():
        changing = _begun(pool, changes_of, scenario, made)
        read = files_read(file, scenario, run_log=log, cost_codes=codes)
        guard(lambda: check_names(out, names(), read))
        from econ.decision import answer

        found = guard(lambda: answer(scenario, made))
        asking = _begun(pool, supplement_files, found, mapping)
        turning = _begun(pool, page_files, found)
        files = answer_files(found)
        next_step()
        files |= outlook_files(found, changing())
        next_step()
        files |= turning()
        next_step()
        files |= asking()
    write_files({os.path.join(out, name): data for name, data in files.items()})
    say(f"wrote {len(files)} files to {path_shown(out)}")


def _own_codes(file: str, scenario: Scenario) -> Mapping[str, Code]:
    """A company's cost codes; what reads them takes its time to load, and few have a file."""
    from econ.reports.supplement import read_codes

    return read_codes(file, scenario)


@contextmanager
def _uncollected() -> Iterator[None]:
    """Without the collector of cycles, which takes a fifth of the time of drawing."""
    collecting = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if collecting:
            gc.enable()


def _beside() -> AbstractContextManager[Executor]:
    """What works beside this process; a thread where there is a single processor."""
    from concurrent.futures import ThreadPoolExecutor

    from econ.cli.processes import processes, processors

    return processes(1) if processors() > 1 else ThreadPoolExecutor(1)


def _begun(
    pool: Executor, work: Callable[P, T], *args: P.args, **more: P.kwargs
) -> Callable[[], T]:
    """Work begun beside this process. What is returned waits for its result, or does the work
    here where the other process was lost."""
    from concurrent.futures import BrokenExecutor

    def here() -> T:
        return work(*args, **more)

    try:
        future = pool.submit(work, *args, **more)
    except BrokenExecutor:
        return here

    def result() -> T:
        try:
            return future.result()
        except BrokenExecutor:
            return here()

    return result
