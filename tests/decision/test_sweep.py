"""Sweeps: each row as by itself, in order, on any executor; grids; what is quick about them.

Where a row is compared with the quick evaluation of its scenario, or with the full answer, the
expected numbers are self: another way through this package. That the answers themselves are
right is shown by the tests against the slow references.
"""

from __future__ import annotations

import functools
import importlib
import itertools
import math
import random
import tomllib
from collections.abc import Callable, Iterator
from concurrent.futures import Executor, Future, ProcessPoolExecutor, ThreadPoolExecutor
from multiprocessing import get_context
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import econ
from econ.decision.limits import estimate
from econ.decision.quick import quick, quick_each
from econ.decision.sweep import (
    RESULTS,
    WORK,
    Fingerprints,
    Grid,
    line_of,
    parse_grid,
    sweep,
    sweep_row,
    sweep_rows,
    together,
)
from econ.engine.case import Case
from econ.engine.expected import opened
from econ.engine.inputs import Inputs
from econ.sampling import Column, Correlation, Sampler
from econ.scenario import Scenario, ScenarioError, parse
from econ.scenario.distributions import Discrete, Pert, Uniform
from econ.scenario.lines import key_lines
from econ.scenario.load import Variants
from econ.scenario.scenario import dotted

pytestmark = pytest.mark.usefixtures("few_bins", "few_states")
ROOT = Path(__file__).parents[2]
POINT = (ROOT / "tests" / "data" / "scenario_a_check.toml").read_text(encoding="utf-8")
DEMOS = {
    path.stem: path.read_text(encoding="utf-8")
    for path in sorted((ROOT / "scenarios").glob("*.toml"))
}
A = DEMOS["a_land_twist_off"]
ROWS = [
    (),
    ("rates.rig=31000", "run.1.charge=4000"),
    ("fishing.workable=0.5",),
    ("fallback.1.kickoff_above_fish=300", "fish.piece.2.value={low=1e4,high=5e4}"),
    ("run.4.trips.1.work={low=5,likely=9,high=20}",),
    ("limits.minimum_runs=4", "draws.seed=3"),
    ("rates.fuel=5000", "fishing.odds_ratio_per_day=1.0"),
]
Result = dict[str, Any]


def swept(text: str, rows: Any, executor: Executor, **how: int) -> list[tuple[int, Result]]:
    return list(sweep(text, rows, executor, **how))


@functools.cache
def in_a_thread() -> tuple[tuple[int, Result], ...]:
    with ThreadPoolExecutor(1) as one:
        return tuple(swept(A, ROWS, one))


# ---- a row ------------------------------------------------------------------------------------


@pytest.mark.parametrize("number", range(len(ROWS)))
def test_row_is_the_quick_evaluation_of_its_scenario(number: int) -> None:
    found = quick(Inputs(parse(A, ROWS[number]).in_field_units()))
    best = found.verdict.best
    at_best = estimate(found.cost[:, best])
    row = in_a_thread()[number]
    assert row == (
        number + 1,
        {
            "best_runs": best,
            "days": found.days[best],
            "flat_low": found.verdict.flat[0],
            "flat_high": found.verdict.flat[-1],
            "expected_cost": at_best.value,
            "standard_error": at_best.error,
            "fallback_now": found.cost[:, 0].mean(),
            "saving": found.verdict.saving.value,
            "saving_error": found.verdict.saving.error,
            "probability_recovered": found.recovered[:, best].mean(),
            "to_the_end": found.cost[:, -1].mean(),
            "resolved": not found.verdict.not_told_apart,
            "error": "",
        },
    )
    assert tuple(row[1]) == RESULTS
    # plain values, which are written and sent anywhere
    assert {type(value) for value in row[1].values()} <= {int, float, bool, str}


def of_its_own(change: str, name: str) -> str:
    """A change as the file of a job can take it: demo E has doubts, and tables of odds by kind."""
    if name != "e_stuck_attached":
        return change
    change = change.replace("fishing.workable", "doubt.1.workable")
    start, odds, table = change.partition(".odds=")
    return f"{start}{odds}{{workable={table},stubborn={table}}}" if odds else change


@pytest.mark.parametrize("name", sorted(DEMOS))
@pytest.mark.parametrize("change", ["rates.rig=35000", "fishing.workable=0.4"])
def test_row_agrees_with_the_full_answer(name: str, change: str) -> None:
    change = of_its_own(change, name)
    row = sweep_row(DEMOS[name], (change,), 64)
    full = econ.answer(parse(DEMOS[name], [change]))
    limit = full.by_runs[row["best_runs"]]
    # Three standard errors of the difference, each number with the error that it states.
    both = math.hypot(row["standard_error"], limit.standard_error)
    assert abs(row["expected_cost"] - limit.expected_cost) < 3 * both
    assert row["best_runs"] == full.best or not row["resolved"]
    if row["best_runs"] == full.best:
        both = math.hypot(row["saving_error"], full.saving.error)
        assert abs(row["saving"] - full.saving.value) <= 3 * both
    assert row["fallback_now"] - row["saving"] == pytest.approx(row["expected_cost"])
    # A hundredth is far beyond the error of a chance at these draws, and would show a wrong limit.
    assert row["probability_recovered"] == pytest.approx(limit.probability_recovered, abs=0.01)
    assert row["days"] == pytest.approx(limit.days, rel=0.05)


def test_more_draws_have_the_smaller_error() -> None:
    errors = [sweep_row(A, (), draws)["standard_error"] for draws in (16, 256)]
    # Scrambled points gain more than the 4 of plain sampling from 16 times as many draws.
    assert errors[1] < errors[0] / 4


def test_days_where_no_path_is_left() -> None:
    certain = (
        "{ recovered = 1, part = 0, nothing = 0, top_damaged = 0, string_lost = 0, hole_lost = 0 }"
    )
    overrides = f"run.1.odds={certain}", f"run.2.odds={certain}"
    row = sweep_row(POINT, overrides, 16)
    assert row["error"] == ""
    assert row["best_runs"] >= 1
    # independent: the answer, which says how long the runs of the limit take if they all fail
    told = econ.answer(parse(POINT, [*overrides, "draws.n=16"]))
    assert row["days"] == pytest.approx(told.by_runs[row["best_runs"]].days, rel=1e-9)
    assert row["probability_recovered"] == 1.0


# ---- rows that are bad ------------------------------------------------------------------------


def test_bad_rows_say_why_and_stop_no_other() -> None:
    rows = [(), ("rates.rig=cheap", "well.depth=1"), ("nosuch=1",), ("run.9.charge=1",), ()]
    with ThreadPoolExecutor(2) as threads:
        found = [row for _, row in swept(POINT, rows, threads, chunk=2)]
    assert [bool(row["error"]) for row in found] == [False, True, True, True, False]
    assert found[0] == found[-1]
    for row in found[1:4]:
        assert tuple(row) == RESULTS
        assert {value for name, value in row.items() if name != "error"} == {None}
        assert row["error"].isascii()
        assert row["error"].isprintable()
    faults = found[1]["error"].split(" | ")
    assert len(faults) > 1  # all of them, in one line
    assert any(fault.startswith("rates.rig: given 'cheap'") for fault in faults)
    assert any("well" in fault for fault in faults)
    assert "an item from 1 to 5" in found[3]["error"]


def test_a_row_of_very_many_faults_is_cut() -> None:
    reason = sweep_row(POINT, tuple(f"rates.r{number}=x" for number in range(50)), 16)["error"]
    assert reason.count(" | ") == 20
    assert reason.endswith("and 30 more")


def test_an_unexpected_exception_is_the_error_of_its_row(monkeypatch: pytest.MonkeyPatch) -> None:
    module = importlib.import_module("econ.decision.sweep")

    def fails(several: list[Inputs], **how: int) -> Any:
        if any(inputs.scenario.rates["rig"] == 13 for inputs in several):
            raise ZeroDivisionError("of\nthirteen \u00e9")
        return quick_each(several, **how)

    monkeypatch.setattr(module, "quick_each", fails)
    with ThreadPoolExecutor(1) as one:
        rows = [(f"rates.rig={rate}",) for rate in (12, 13, 14)]
        found = [row["error"] for _, row in swept(POINT, rows, one, draws=16)]
    assert found == ["", "ZeroDivisionError: of thirteen \\xe9", ""]


def test_a_text_that_is_no_scenario_is_the_error_of_every_row() -> None:
    assert "TOML" in sweep_row("[", (), 16)["error"]
    assert "required" in sweep_row("schema = 1", (), 16)["error"]


# ---- rows together ----------------------------------------------------------------------------

NO_RUN = ("run=[]", "correlation=[]", "rental=[]", "limits.minimum_runs=0")
TOGETHER = [
    *((f"rates.rig={rate}", f"run.1.charge={rate / 7}") for rate in (21e3, 25e3, 34e3)),
    *((f"fallback.1.kickoff_above_fish={above}",) for above in (120, 480)),
    ("fishing.workable={low=0.1,high=0.4}",),  # as many columns as before
    ("fishing.workable=0.3",),  # fewer
    # After the last two `nothing` has not enough for what time takes in some draws.
    *((f"fishing.odds_ratio_per_day={ratio}",) for ratio in (0.6, 1.0, 2.0, 4.0)),
    *((f"fishing.loss_odds_ratio_per_day={ratio}",) for ratio in (1.1, 4.0)),
    # A certain recovery leaves no weight, but days of a path that is followed all the same.
    *(
        (f"run.1.odds={{recovered={1 - part},part={part},nothing=0}}", "limits.minimum_runs=2")
        for part in (0, 0.5)
    ),
    ("run.2.odds={recovered=1,part=0,nothing=0}",),
    ("run.2.dresses_top=true",),
    ("fallback.1.gross_rop={low=20,high=30}",),
    *((f"fallback.1.bit_life={life}",) for life in (400, 9000)),
    *((f"fallback.1.kickoff_failure={chance}",) for chance in (0, 0.4)),
    ("fallback.1.whipstock={after=2,hours=10,cost=2e4,failure=0.2}",),
    ("fallback.1.whipstock={after=2,hours=10,cost=3e4,failure=0.3}",),
    ("limits.minimum_runs=2",),
    ("draws.seed=3",),
    ("draws.scrambles=32",),
    ("nosuch=1",),
    *((*NO_RUN, f"rates.rig={rate}") for rate in (1, 2)),
]


@pytest.mark.parametrize("name", sorted(DEMOS))
def test_a_row_is_the_same_to_the_bit_whatever_it_is_walked_with(name: str) -> None:
    together = [tuple(of_its_own(change, name) for change in row) for row in TOGETHER]
    alone = [sweep_row(DEMOS[name], row, 16) for row in together]
    sound = [result for result in alone if not result["error"]]
    assert len(sound) == len(TOGETHER) - 1
    assert len({repr(result) for result in sound}) > len(TOGETHER) // 2  # they do differ
    every = range(len(TOGETHER))
    certain = [number for number in every if TOGETHER[number][0].startswith("run.1.odds")]
    for numbers in (every, random.Random(name).sample(every, len(every)), certain):
        found = sweep_rows(DEMOS[name], [together[number] for number in numbers], 16)
        assert repr(found) == repr([alone[number] for number in numbers])


def test_rows_that_are_alike_are_walked_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    module = importlib.import_module("econ.decision.quick")
    walked: list[int] = []

    def noted(case: Case, **how: Any) -> Any:
        walked.append(case.n)
        return opened(case, **how)

    monkeypatch.setattr(module, "opened", noted)
    rows = [(f"rates.rig={rate}", f"run.1.charge={rate}") for rate in range(20_000, 20_016)]
    sweep_rows(A, [*rows, ("fish.bottom=11849",), ("nosuch=1",)], 64)
    assert walked == [8192, 8192, 1024]
    walked.clear()
    sweep_rows(DEMOS["d_rented_tools"], rows[:3], 64)  # a choice of fallbacks is settled by case
    assert walked == [1024] * 3


# ---- executors --------------------------------------------------------------------------------


class Backwards(Executor):
    """Finishes what is submitted in the reverse order, once a result is asked for."""

    def __init__(self) -> None:
        self.waiting: list[tuple[int, Future[Any], Callable[[], Any]]] = []
        self.submitted = self.most = 0
        self.finished: list[int] = []

    def submit(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Future[Any]:
        future: Future[Any] = Asked(self)
        self.waiting.append((self.submitted, future, lambda: fn(*args, **kwargs)))
        self.submitted += 1
        self.most = max(self.most, len(self.waiting))
        return future

    def finish(self) -> None:
        while self.waiting:
            number, future, work = self.waiting.pop()
            if future.set_running_or_notify_cancel():
                future.set_result(work())
                self.finished.append(number)


class Asked(Future[Any]):
    """A future that has its executor finish everything when it is asked."""

    def __init__(self, executor: Backwards) -> None:
        super().__init__()
        self.executor = executor

    def result(self, timeout: float | None = None) -> Any:
        self.executor.finish()
        return super().result(timeout)


def test_order_of_the_rows_whatever_the_order_of_the_work() -> None:
    executor = Backwards()
    found = swept(A, ROWS, executor, chunk=1, ahead=4)
    assert found == list(in_a_thread())
    assert executor.finished[:4] == [3, 2, 1, 0]
    assert executor.most == 4


@pytest.mark.parametrize(("chunk", "threads"), [(1, 3), (2, 2), (3, 1), (50, 2)])
def test_threads_and_chunks_change_nothing(chunk: int, threads: int) -> None:
    with ThreadPoolExecutor(threads) as executor:
        assert swept(A, ROWS, executor, chunk=chunk) == list(in_a_thread())


def test_processes_give_the_same_to_the_bit() -> None:
    with ProcessPoolExecutor(2, get_context("spawn")) as executor:
        found = swept(A, ROWS, executor, chunk=2)
    assert repr(found) == repr(list(in_a_thread()))


def test_two_workers_of_a_cluster_give_the_same_to_the_bit() -> None:
    from distributed import Client, LocalCluster

    cluster = LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None
    )
    with cluster, Client(cluster) as client:
        assert len(client.scheduler_info()["workers"]) == 2
        with client.get_executor() as executor:
            found = swept(A, ROWS, executor, chunk=2)
    assert repr(found) == repr(list(in_a_thread()))


def test_endless_rows_are_read_only_as_far_as_they_are_needed() -> None:
    read = 0

    def rows() -> Iterator[tuple[str, ...]]:
        nonlocal read
        for rate in itertools.count(20_000):
            read += 1
            yield (f"rates.rig={rate}",)

    with ThreadPoolExecutor(1) as one:
        results = sweep(POINT, rows(), one, draws=16, chunk=3, ahead=2)
        found = [number for number, _ in itertools.islice(results, 10)]
        results.close()
    assert found == list(range(1, 11))
    assert read <= 10 + 3 * 3  # two chunks under way, and the one being given out


def test_what_is_under_way_is_cancelled_when_nobody_asks_for_more() -> None:
    futures: list[Future[Any]] = []

    class OnlyTheFirst(Executor):
        def submit(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Future[Any]:
            futures.append(Future())
            if len(futures) == 1:
                futures[0].set_result(fn(*args, **kwargs))
            return futures[-1]

    results = sweep(POINT, [()] * 20, OnlyTheFirst(), draws=16, chunk=1, ahead=5)
    assert next(results)[0] == 1
    results.close()
    assert [future.cancelled() for future in futures] == [False, True, True, True, True]


def test_failure_of_the_executor_is_no_row() -> None:
    class Lost(Executor):
        def submit(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Future[Any]:
            future: Future[Any] = Future()
            future.set_exception(ConnectionError("worker lost"))
            return future

    with pytest.raises(ConnectionError, match="worker lost"):
        swept(POINT, [()], Lost())


def test_no_rows() -> None:
    assert swept(POINT, [], Backwards()) == []


def test_chunks_shrink_as_draws_grow() -> None:
    assert together(64) * 64 == WORK
    assert together(WORK * 4) == 1


# ---- what makes it quick changes nothing ------------------------------------------------------


def outcome(work: Callable[[], Scenario]) -> Scenario | str:
    try:
        return work()
    except ScenarioError as error:
        return str(error)


VALUES = [
    *("0.5", "1", "3", "9000", "{low=1,high=2}", "{low=0.1,likely=0.2,high=0.3}", "true", "'x'"),
    *("{mean=0.5,weight=9}", "{}", "[]", "overshot", "-1", "nan", "{low=2,high=1}"),
]
WHOLE = [
    *("rates.new=5", "limits.authority=5e6", "nosuch=1", "run=[]", "rental=[]", "limits={}"),
    *("fishing.day_rates={a=1}", "fish.sealed_source=true", "units=metric", "rates={rig=5}"),
]


def same_as_parse(name: str, variants: Variants, changes: list[str]) -> bool:
    """Whether the scenario is good, after seeing that all ways to it end alike."""
    text = DEMOS[name]
    expected = outcome(lambda: parse(text, changes))
    found = outcome(lambda: variants.scenario(changes))
    assert found == expected, changes
    assert outcome(lambda: Variants(text, changes[:1]).scenario(changes[1:])) == expected, changes
    if isinstance(expected, str) or isinstance(found, str):
        return False
    assert repr(found) == repr(expected)
    assert found.model_fields_set == expected.model_fields_set
    return True


@pytest.mark.parametrize("name", sorted(DEMOS))
def test_variants_are_what_parse_gives_good_or_bad(name: str) -> None:
    chance = random.Random(name)
    variants = Variants(DEMOS[name])
    keys = [dotted(path) for path in key_lines(DEMOS[name])]
    numbers = [
        (dotted(path), value)
        for path, value in leaves(tomllib.loads(DEMOS[name]), ())
        if type(value) in (int, float) and "odds" not in path
    ]
    ends = []
    for _ in range(10):
        # Near the values of the file, hence mostly good.
        chosen = chance.sample(numbers, chance.choice([1, 2]))
        changes = [f"{key}={value + type(value)(1)}" for key, value in chosen]
        ends.append(same_as_parse(name, variants, changes))
        changes = [f"{chance.choice(keys)}={chance.choice(VALUES)}"]
        changes += chance.sample(WHOLE, chance.choice([0, 1]))
        ends.append(same_as_parse(name, variants, changes))
    assert 5 < sum(ends) < 20  # both are met


def test_variants_check_only_what_was_changed(monkeypatch: pytest.MonkeyPatch) -> None:
    variants = {name: Variants(text) for name, text in DEMOS.items()}
    module = importlib.import_module("econ.scenario.load")
    whole = []
    monkeypatch.setattr(module, "_checked", lambda *given: whole.append(given))
    for each in variants.values():
        for change in ("run.1.charge=5", "rates.extra={low=1,high=2}", "limits.authority=5e6"):
            each.scenario([change])
    for row in ROWS:
        variants["a_land_twist_off"].scenario(row)
    assert whole == []  # none was checked from the start, as one with a fault is


def test_a_text_that_overrides_mend() -> None:
    text = POINT.replace("workable = 0.7", "workable = 7")
    assert text != POINT
    variants = Variants(text)
    with pytest.raises(ScenarioError, match=r"line \d+, fishing.workable"):
        variants.scenario()
    assert variants.scenario(["fishing.workable=0.7"]) == parse(POINT)


def test_variants_do_not_change_one_another() -> None:
    variants = Variants(A)
    before = variants.scenario()
    for row in ROWS:
        variants.scenario(row)
    assert variants.scenario() == before == parse(A)


def test_first_draws_are_those_of_the_scrambles_whatever_was_asked_before() -> None:
    names = ["a", "b", "c", "d", "e"]
    link = [Correlation(("b", "d", "e"), 0.6)]
    shapes = [
        [None, Uniform(low=0, high=1), Pert(low=0, likely=1, high=4), None, None],
        [None, Uniform(low=0, high=2), Pert(low=0, likely=1, high=4), None, None],
        [Discrete(values=[1, 2], weights=[1, 1]), None, None, Uniform(low=5, high=6), None],
    ]
    for shape, links in itertools.product([*shapes, *shapes[::-1]], [link, [], link]):
        columns = [Column(*each) for each in zip(names, shape, strict=True)]
        sampler = Sampler(columns, links, seed=5, scrambles=3)
        blocks = [sampler.scramble(index).block(32) for index in range(3)]
        found = sampler.first(32)
        for name in names:
            assert np.array_equal(found[name], np.concatenate([block[name] for block in blocks]))
            assert not found[name].flags.writeable


# ---- grids ------------------------------------------------------------------------------------


def grid(text: str) -> Grid:
    return parse_grid(text, Variants(POINT), file="cases.csv")


def header_faults(text: str) -> list[str]:
    with pytest.raises(ScenarioError) as caught:
        grid(text)
    return [str(fault) for fault in caught.value.faults]


GRID = 'case,rates.rig,run.1.kind\nlow,20000,overshot\n,"{low=1,high=2}",\n\n ,, \n'


@pytest.mark.parametrize(
    "text",
    [
        GRID,
        GRID.replace("\n", "\r\n"),
        GRID.removesuffix("\n"),
        GRID.replace("rates.rig", " rates . rig "),
        GRID.replace("kind", "kind,,"),
        "\n\n" + GRID,
        "case;rates.rig;run.1.kind\nlow;20000;overshot\n;{low=1,high=2};\n;;\n",
    ],
)
def test_grid_rows(text: str) -> None:
    found = grid(text)
    assert found.columns == ("case", "rates.rig", "run.1.kind")
    assert found.count == 3
    rows = list(found.rows())
    assert [row.number for row in rows] == [1, 2, 3]
    assert [row.cells for row in rows] == [
        ("low", "20000", "overshot"),
        ("", "{low=1,high=2}", ""),
        ("", "", ""),  # the file as it is
    ]
    assert [row.overrides for row in rows] == [
        ("rates.rig=20000", "run.1.kind=overshot"),
        ("rates.rig={low=1,high=2}",),
        (),
    ]
    assert not any(row.fault for row in rows)


def test_grid_rows_too_short_and_too_long() -> None:
    rows = list(grid("rates.rig,run.1.charge\n1\n1,2,,\n{low=1,high=2},5\n").rows())
    assert [row.overrides for row in rows[:2]] == [
        ("rates.rig=1",),
        ("rates.rig=1", "run.1.charge=2"),
    ]
    assert [bool(row.fault) for row in rows] == [False, False, True]
    assert "given 3 cells; allowed: 2" in rows[2].fault
    assert "double quotes" in rows[2].fault


def test_grid_of_nothing_but_a_header_and_of_one_column() -> None:
    assert grid("rates.rig\n").count == 0
    assert list(grid("rates.rig").rows()) == []
    assert [row.cells for row in grid("rates.rig\n1\n\n \n2\n").rows()] == [("1",), ("2",)]
    assert [row.overrides for row in grid("case\nonly\n").rows()] == [()]


@pytest.mark.parametrize(
    ("header", "said"),
    [
        ("rats.rig", "rats.rig: given an unknown key; allowed: keys schema,"),
        ("rats.rig", "did you mean rates?"),
        ("well.deph", "did you mean depth?"),
        ("run.1.trips.1.wrk", "did you mean work?"),
        ("run.9.charge", "given 'run.9.charge': item '9'; allowed: an item from 1 to 5"),
        ("run.0.charge", "an item from 1 to 5"),
        ("rates.rig.low", "rates.rig is 53000, not a table"),
        ("rates.rig=5", "given 'rates.rig=5'; allowed: a key path"),
        ("rates..rig", "allowed: a key path"),
        ("rates.rig,rates.rig", "given the same column again"),
        ("case,case", "given the same column again"),
        ("rates.rig,,run.1.charge", "column 2: given no name"),
        ("30000,4000", "column 30000: given an unknown key"),
        ("\x1b[31m", "column \\x1b[31m: given an unknown key"),
        ("", "header: given no header"),
        (" , ,", "header: given no header"),
        (",".join(f"rates.r{n}" for n in range(501)), "header: given 501 columns"),
    ],
)
def test_header_that_is_bad(header: str, said: str) -> None:
    faults = header_faults(f"{header}\n1,2\n" if header else "\n")
    assert any(said in fault for fault in faults), faults
    assert all(fault.startswith("cases.csv") and fault.isprintable() for fault in faults)


def test_all_faults_of_a_header_at_once() -> None:
    assert len(header_faults("rats.rig,rates.rig,well.deph,,rates.rig\n")) == 4


@pytest.mark.parametrize(
    ("text", "place"),
    [
        ('rates.rig\n1\n"2\n', "after row 1"),
        ('"rates.rig\n', "after row 0"),
        ('a\n"1"2\n', "after row 0"),
    ],
)
def test_grid_that_cannot_be_split(text: str, place: str) -> None:
    (fault,) = header_faults(text)
    assert place in fault
    assert "close the quotes" in fault


def test_every_key_of_the_demos_is_a_column() -> None:
    for text in DEMOS.values():
        raw = tomllib.loads(text)
        numbers = [dotted(path) for path, value in leaves(raw, ()) if not isinstance(value, str)]
        variants = Variants(text)
        assert [key for key in random.Random(1).sample(numbers, 25) if variants.refusal(key)] == []


def leaves(value: Any, path: tuple[str | int, ...]) -> Iterator[tuple[tuple[str | int, ...], Any]]:
    inner = value.items() if isinstance(value, dict) else enumerate(value)
    for key, item in inner:
        if isinstance(item, dict | list) and item:
            yield from leaves(item, (*path, key))
        else:
            yield (*path, key), item


def test_new_names_are_told_with_what_they_may_have_meant() -> None:
    variants = Variants(A)
    assert variants.new_name("rates.rgi") == "did you mean rig?"
    assert variants.new_name("fishing.day_rates.crane") == ""
    assert variants.new_name("rates.rig") is None
    assert variants.new_name("run.1.charge") is None
    assert Variants(POINT, ["fishing={}"]).new_name("fishing.day_rates.hand") == ""


# ---- lines ------------------------------------------------------------------------------------


def test_lines_read_back_and_start_no_formula() -> None:
    values = [
        *(0.1, -2.5e-7, 1e300, 3, True, False, None, "plain", "-5", "-1_000.5e3"),
        *("=1+1", "+5", "@sum", "-cmd|'/c x'!A1", "-", "a\nb\0c", "\t=x", '"q", r'),
    ]
    assert line_of(values).decode() == (
        "0.1,-2.5e-07,1e+300,3,true,false,,plain,-5,-1_000.5e3,"
        "'=1+1,'+5,'@sum,'-cmd|'/c x'!A1,'-,a b c,'=x,\"\"\"q\"\", r\"\n"
    )


def test_fingerprints_tell_everything_apart() -> None:
    common = ["1.0", "text", ("a=1",), 64, ("case",)]
    first, second = list(grid("case\nx\nx\n").rows())
    seen = {Fingerprints(*common).of(first)}
    assert Fingerprints(*common).of(first) in seen
    for place, other in enumerate(["1.1", "texts", (), 128, ("case", "rates.rig")]):
        changed = [*common[:place], other, *common[place + 1 :]]
        seen.add(Fingerprints(*changed).of(first))
    seen.add(Fingerprints(*common).of(second))
    assert len(seen) == 7
    assert all(len(each) == 16 for each in seen)
