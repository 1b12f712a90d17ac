"""Many cases of one scenario: any keys changed, one result a row, on any executor.

A row is a scenario text with "key=value" overrides. It is answered by `econ.decision.quick`:
the limits on runs with their cost and standard error, without percentiles and the rule by
state. Rows travel to an executor in chunks, only so many of which are under way at once, and
results come back in the order of the rows, in whatever order they are finished. A row that is
faulty gets its faults in words instead of numbers, and stops no other.

The executor is anything with the interface of `concurrent.futures`: threads, processes, or
that of a cluster. What travels are functions of this module, so `econ` must be installed where
they arrive. A result depends on the text, the overrides and the draws of its row alone, and on the
log: not on the executor, the chunks, or what was computed before it.

After a log of runs every row is answered from their end on. The log travels as the text of its
table, because each row is another scenario that it is held against: a row that the log cannot have
happened in is faulty.

A grid is the CSV table that rows are written in: key paths as columns, a case a row. Lines of
results are CSV as well.
"""

from __future__ import annotations

import csv
import functools
import io
import json
from collections import deque
from collections.abc import Generator, Iterable, Iterator, Sequence
from concurrent.futures import Executor, Future
from dataclasses import dataclass, field
from hashlib import sha256
from itertools import islice
from typing import Any

from econ.decision.estimates import estimate
from econ.decision.quick import DRAWS, Quick, quick_each
from econ.decision.run_log import inputs_after
from econ.engine.inputs import Inputs
from econ.scenario.csv_rows import UnsplitRowError, csv_rows
from econ.scenario.faults import Fault, ScenarioError
from econ.scenario.load import Variants
from econ.scenario.run_log import parse_log
from econ.scenario.spreadsheet_text import harmless

RESULTS = (
    *("best_runs", "days", "flat_low", "flat_high", "expected_cost", "standard_error"),
    *("fallback_now", "saving", "saving_error", "probability_recovered", "to_the_end"),
    *("resolved", "error"),
)
WORK = 1024  # draws of each scramble in a chunk: some tenths of a second
AHEAD = 8  # chunks under way at once
MOST_FAULTS = 20  # of a row, in words; the rest is counted
LABEL = "case"  # the column of a grid that is no key
MOST_COLUMNS = 500

Overrides = Sequence[str]
Result = dict[str, Any]


def sweep(
    text: str,
    rows: Iterable[Overrides],
    executor: Executor | None = None,
    *,
    draws: int = DRAWS,
    chunk: int | None = None,
    ahead: int = AHEAD,
    log: str = "",
) -> Generator[tuple[int, Result], None, None]:
    """Number (from 1) and result of each row of overrides of a scenario `text`, in order.

    rows: read as they are needed, so that there may be more than memory holds; executor: None to
    work in this process; draws: of each scramble [a power of two]; chunk: rows that travel
    together; ahead: chunks under way at once, at least one for each worker; log: text of a run log
    (`econ.parse_log`), to answer from its end on. For the results see `sweep_row`.

    >>> from pathlib import Path
    >>> text = Path("scenarios/point/a_land_twist_off.toml").read_text(encoding="utf-8")
    >>> rows = [[f"fishing.workable={chance}"] for chance in (0.1, 0.7)]
    >>> [result["best_runs"] for _, result in sweep(text, rows)]
    [0, 3]
    """
    if executor is None:
        for number, overrides in enumerate(rows, start=1):
            yield number, sweep_row(text, overrides, draws, log)
        return
    size = chunk or together(draws)
    left = iter(rows)
    under_way: deque[Future[list[Result]]] = deque()
    number = 0
    try:
        while True:
            while len(under_way) < max(1, ahead) and (part := tuple(islice(left, size))):
                under_way.append(executor.submit(sweep_rows, text, part, draws, log))
            if not under_way:
                return
            for result in under_way[0].result():
                number += 1
                yield number, result
            under_way.popleft()
    finally:
        for future in under_way:
            future.cancel()


def sweep_row(text: str, overrides: Overrides, draws: int, log: str = "") -> Result:
    """What one row gives: a plain value, or None, for each name in RESULTS.

    best_runs, days [d]: the best limit on runs, and the mean elapsed time when all of them
    have failed; flat_low, flat_high: limits around it within 2 %; expected_cost [currency] and
    standard_error: at that limit; fallback_now, to_the_end [currency]: expected cost of
    stopping now, and of making every run; saving, saving_error [currency]: against stopping
    now; resolved: whether the errors tell the best limit from all others; error: empty, or the
    faults of the row, which then has nothing else. `draws`: of each scramble; `log`: text of a
    run log, from whose end on runs and days count.
    """
    return sweep_rows(text, [overrides], draws, log)[0]


def together(draws: int) -> int:
    """How many rows of so many draws of each scramble make a chunk."""
    return max(1, WORK // draws)


def sweep_rows(text: str, rows: Sequence[Overrides], draws: int, log: str = "") -> list[Result]:
    """What each row of a chunk gives, see `sweep_row`; this travels to a worker.

    The rows that are sound are worked out together; where that fails, each by itself, because
    whatever a row meets is this row's alone.
    """
    sound: dict[int, Inputs] = {}
    results: dict[int, Result] = {}
    for number, overrides in enumerate(rows):
        try:
            scenario = _variants(text).scenario(overrides)
            sound[number] = inputs_after(scenario, parse_log(log, scenario) if log else ())
        except Exception as error:
            results[number] = _failed(error)
    try:
        found = map(_results, quick_each(list(sound.values()), n=draws))
        results |= zip(sound, found, strict=True)
    except Exception as error:
        alone = len(rows) == 1
        for number in sound:
            results[number] = _failed(error) if alone else sweep_row(text, rows[number], draws, log)
    return [results[number] for number in range(len(rows))]


def _failed(error: Exception) -> Result:
    """The result of a row that has none."""
    if isinstance(error, ScenarioError):
        faults = [str(fault) for fault in error.faults[:MOST_FAULTS]]
        more = len(error.faults) - MOST_FAULTS
        reason = " | ".join([*faults, f"and {more} more"] if more > 0 else faults)
    else:
        reason = ascii(" ".join(f"{type(error).__name__}: {error}".split()))[1:-1]
    return {**dict.fromkeys(RESULTS), "error": reason}


@functools.lru_cache(maxsize=4)
def _variants(text: str) -> Variants:
    return Variants(text)


def _results(found: Quick) -> Result:
    best, mean = found.verdict.best, found.cost.mean(axis=0)
    expected = estimate(found.cost[:, best])
    return {
        "best_runs": best,
        "days": float(found.days[best]),
        "flat_low": found.verdict.flat[0],
        "flat_high": found.verdict.flat[-1],
        "expected_cost": expected.value,
        "standard_error": expected.error,
        "fallback_now": float(mean[0]),
        "saving": found.verdict.saving.value,
        "saving_error": found.verdict.saving.error,
        "probability_recovered": float(found.recovered[:, best].mean()),
        "to_the_end": float(mean[-1]),
        "resolved": not found.verdict.not_told_apart,
        "error": "",
    }


# ---- the grid ----------------------------------------------------------------------------------


@dataclass(frozen=True)
class Row:
    """A row of a grid: its number from 1, a cell for each column, and the key=value of each
    cell that is not empty; or what is wrong with the row."""

    number: int
    cells: tuple[str, ...]
    overrides: tuple[str, ...]
    fault: str = ""


@dataclass(frozen=True)
class Grid:
    """A CSV table of `count` cases with key paths, or LABEL, as columns."""

    columns: tuple[str, ...]
    count: int
    text: str = field(repr=False)

    def rows(self) -> Iterator[Row]:
        """The rows in their order, read as they are asked for; blank lines are none."""
        rows = csv_rows(self.text, keep_empty=True)
        next(rows)
        width = len(self.columns)
        for number, (_, given_cells) in enumerate(rows, start=1):
            cells = (*given_cells, *[""] * width)[:width]
            pairs = zip(self.columns, cells, strict=True)
            given = tuple(f"{key}={cell}" for key, cell in pairs if cell and key != LABEL)
            fault = Fault(
                f"{len(given_cells)} cells",
                f"{width}, as in the header",
                "put a cell that holds the delimiter in double quotes",
                ("row",),
            )
            yield Row(number, cells, given, str(fault) if any(given_cells[width:]) else "")


def parse_grid(text: str, variants: Variants, *, file: str = "grid") -> Grid:
    """The grid in a CSV `text`, which messages call `file`; its columns are keys of `variants`.

    ScenarioError with every fault of the header, or if the text cannot be split.
    """
    columns: list[str] = []
    count = -1  # the header is none
    try:
        for _, cells in csv_rows(text, keep_empty=True):
            count += 1
            if count == 0:
                columns = [".".join(map(str.strip, cell.split("."))) for cell in cells]
    except UnsplitRowError as error:
        place = (f"{file}, after row {max(count, 0)}",)
        given = "a row that cannot be split"
        fault = Fault(given, error.allowed, "close the quotes it opens", place)
        raise ScenarioError([fault]) from None
    while columns and not columns[-1]:
        columns.pop()
    faults = list(_header_faults(columns, variants, file))
    if faults:
        raise ScenarioError(faults)
    return Grid(tuple(columns), count, text)


def _header_faults(columns: Sequence[str], variants: Variants, file: str) -> Iterator[Fault]:
    allowed = f"key paths such as rates.rig or run.2.charge, and {LABEL} for a label"
    if not columns or len(columns) > MOST_COLUMNS:
        given = f"{len(columns)} columns" if columns else "no header"
        yield Fault(given, f"1 to {MOST_COLUMNS} columns: {allowed}", "", (f"{file} header",))
        return
    for number, name in enumerate(columns, start=1):
        place = (f"{file} column {name or number}",)
        if not name:
            yield Fault("no name", allowed, "name the column, or take it out", place)
        elif name in columns[: number - 1]:
            yield Fault("the same column again", "each column once", "", place)
        elif name != LABEL:
            for fault in variants.refusal(name):
                yield Fault(fault.given, fault.allowed, fault.suggestion, place)


# ---- the lines of a table of results -----------------------------------------------------------


class Fingerprints:
    """Short hashes of all that a line is made from."""

    def __init__(self, *common: object) -> None:
        self._common = sha256(json.dumps(common).encode())

    def of(self, row: Row) -> str:
        """The hash of a row."""
        whole = self._common.copy()
        whole.update(json.dumps([row.number, row.cells]).encode())
        return whole.hexdigest()[:16]


def line_of(values: Sequence[Any]) -> bytes:
    """A line of CSV. Floats are written so that they are read back exactly; text cannot be
    taken for a formula, and holds no line break."""
    line = io.StringIO()
    csv.writer(line, lineterminator="\n").writerow([_cell(value) for value in values])
    return line.getvalue().encode()


def _cell(value: Any) -> str:
    if value is None:
        return ""
    if not isinstance(value, str):
        return str(value).lower() if isinstance(value, bool) else repr(value)
    return harmless("".join(char if char.isprintable() else " " for char in value).strip())
