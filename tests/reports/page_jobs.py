"""Jobs for the tests of the page, and what the program says of them with the knobs turned."""

from __future__ import annotations

import functools
import itertools
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
from econ.decision.changes.drivers import Bench, Columns
from numpy.typing import NDArray
from raw_jobs import SCENARIO_A, lump_job, read, scenario

import econ
from econ.decision import Answer, answer
from econ.decision.quick import POINTS
from econ.decision.run_log import inputs_after
from econ.decision.surface.build import surface
from econ.decision.surface.program import turned
from econ.decision.surface.value import NEVER, Position, Surface, Valued
from econ.engine.case import Case
from econ.engine.choice import Choice, choose
from econ.engine.curves import PILOT
from econ.engine.walk import walk
from econ.reports.page import page_html
from econ.scenario import Scenario
from econ.scenario.run_log import LoggedRun, read_log

FOLDER = Path(__file__).parents[2] / "scenarios"
DEMOS = {path.name[0]: path for path in sorted(FOLDER.glob("*.toml"))}
N = 256  # draws of each scramble: enough for the shape of everything, and quick
Array = NDArray[np.float64]
LENGTHS = {
    *("depth", "shoe_depth", "cased", "open", "top", "bottom", "length", "part_length"),
    *("string_length", "kickoff_above_fish", "kickoff_below_shoe", "kickoff_length"),
    *("kickoff_rate", "kickoff_floor", "gross_rop", "bit_life"),
}
CLOSE = 1e-3  # the share by which the page may differ from the program


class Job:
    """A job with its answer, its surface, and the program beside it on the same draws."""

    def __init__(self, scenario: Scenario, log: Sequence[LoggedRun] = ()) -> None:
        self.scenario = scenario
        self.log = tuple(log)
        self.surface: Surface = surface(scenario, log)
        self.inputs = inputs_after(scenario, log)
        self.drivers = Bench(self.inputs, n=16).drivers
        self.programs: dict[Position, Valued] = {}

    @functools.cached_property
    def answer(self) -> Answer:
        """The answer of the file."""
        return answer(self.scenario, self.log)

    @functools.cached_property
    def pilot(self) -> Columns:
        """The draws on which the answer chooses the fallback."""
        return next(self.inputs.blocks(0, n=PILOT)).uniforms

    @functools.cached_property
    def html(self) -> bytes:
        """The page."""
        return page_html(self.answer, self.surface)

    def case(self, position: Position, *, n: int | None = None) -> Case:
        """The job at a position, as drivers of the program edit it."""
        return self._turned(self.inputs.first(n or self.scenario.draws.n), position)

    def program(self, position: Position) -> Valued:
        """The job at a position, walked by the program with the fallback chosen anew, on the
        draws on which the answer chooses it."""
        if position not in self.programs:
            case, choice = self.case(position), None
            if len(case.fallbacks) > 1:
                choice = choose(self._turned(self.pilot, position), points=POINTS)
            self.programs[position] = valued(case, choice)
        return self.programs[position]

    def _turned(self, columns: Columns, position: Position) -> Case:
        found = self.surface
        return turned(
            self.inputs,
            self.drivers,
            columns,
            position,
            base=found.base,
            fallback_now=found.fallback_now,
        )

    def corners(self) -> list[Position]:
        """Every knob at either end."""
        knobs = self.surface.knobs
        ends = itertools.product(*((knob.least, knob.most) for knob in knobs))
        return [self.position(values) for values in ends]

    def positions(self) -> list[Position]:
        """At least 50, 32 corners among them; all corners where there are no more."""
        corners = self.corners()
        order = np.random.default_rng(7).permutation(len(corners))[:32]
        found = [corners[place] for place in order]
        return found + self.between(max(20, 50 - len(found)), seed=1)

    def between(self, count: int, seed: int = 0) -> list[Position]:
        """Positions anywhere between the ends."""
        rng = np.random.default_rng(seed)
        return [
            self.position([k.least + (k.most - k.least) * rng.random() for k in self.surface.knobs])
            for _ in range(count)
        ]

    def position(self, values: Sequence[float]) -> Position:
        """A position from a value of each knob."""
        names = (knob.name for knob in self.surface.knobs)
        set_to: dict[str, Any] = dict(zip(names, values, strict=True))
        return replace(self.surface.base, **set_to)

    def address(self, position: Position) -> str:
        """The address of a position, to the last digit."""
        pairs = (f"{knob.name}={getattr(position, knob.name)!r}" for knob in self.surface.knobs)
        return "#" + "&".join(pairs)


@functools.cache
def demo(letter: str, n: int = N) -> Job:
    """A demo with fewer draws."""
    return Job(econ.load(DEMOS[letter], [f"draws.n={n}"]))


@functools.cache
def point(letter: str) -> Job:
    """A demo at single numbers."""
    return Job(econ.load(FOLDER / "point" / DEMOS[letter].name, ["draws.n=64"]))


@functools.cache
def after_log(letter: str, log: str, runs: int | None = None) -> Job:
    """A demo after the runs of a log, or the first of them."""
    read_from = econ.load(DEMOS[letter], ["draws.n=64"])
    return Job(read_from, read_log(FOLDER / "logs" / f"{log}.csv", read_from)[:runs])


@functools.cache
def changed(letter: str, *changes: str) -> Job:
    """A demo with few draws and some values replaced."""
    return Job(econ.load(DEMOS[letter], ["draws.n=64", *changes]))


@functools.cache
def one_run() -> Job:
    """Scenario A with its first run alone."""
    raw = read(DEMOS["a"])
    raw["run"] = raw["run"][:1]
    raw["correlation"] = raw["correlation"][:1]
    return Job(scenario(raw, n=64))


@functools.cache
def metric() -> Job:
    """The check case of scenario A, written in metres, millimetres and kilograms."""
    return Job(scenario(in_metric(read(SCENARIO_A)), n=64))


def in_metric(value: Any, key: str = "") -> Any:
    """A raw table in metric units, by the names of its keys."""
    if isinstance(value, dict):
        return {name: in_metric(item, name) for name, item in value.items()}
    if isinstance(value, list):
        return [in_metric(item, key) for item in value]
    if key in LENGTHS:
        return 0.3048 * value
    return {"units": "metric", "hole_diameter": 25.4 * 8.5}.get(key, value)


ODD: dict[str, Callable[[], Job]] = {
    **{f"point {letter}": functools.partial(point, letter) for letter in DEMOS},
    "log a": functools.partial(after_log, "a", "a_two_runs"),
    "log d": functools.partial(after_log, "d", "d_three_runs"),
    "log d, one run": functools.partial(after_log, "d", "d_three_runs", runs=1),
    "metric": metric,
    "one run": one_run,
    "no run": lambda: Job(scenario(lump_job(), n=16, scrambles=16, seed=1)),
    "minimum": functools.partial(changed, "a", "limits.minimum_runs=4"),
    "fast whipstock": functools.partial(
        changed, "d", "fallback.1.whipstock.after=1", "fallback.3.cost=2600000"
    ),
}


def differences(one: Valued, other: Valued) -> dict[str, float]:
    """Greatest difference of each figure, as a share of it; of a chance as it is."""
    found = {}
    for name in ("cost", "planned", "fishing", "fallback", "given_up", "days"):
        a, b = getattr(one, name), getattr(other, name)
        both = np.isfinite(a) & np.isfinite(b) & (np.abs(b) > 1e-9)
        share = np.abs(a - b)[both] / np.abs(b)[both]
        found[name] = float(share.max(initial=0.0))
    found["recovered"] = float(np.abs(one.recovered - other.recovered).max())
    return found


def valued(case: Case, choice: Choice | None) -> Valued:
    """Every limit of a case, walked draw by draw."""
    limits = len(case.program) + 1
    cost, fishing, recovered, still, planned, days, given_up = (np.zeros(limits) for _ in range(7))
    spent = whole = out = given = 0.0

    def mean(values: Array) -> float:
        return float(np.broadcast_to(values, (*values.shape[:2], case.n)).sum(axis=(0, 1)).mean())

    for step in walk(case, choice, histories=1):
        n, level, stop = step.number, step.level, step.stop
        bill = 0.0 if stop.bill is None else mean(stop.weight * stop.bill.mean())
        planned[n] = mean(level.weight * level.cost)
        fishing[n] = spent + mean(stop.weight * stop.fishing)
        cost[n] = whole + mean(stop.weight * stop.fishing) + bill
        still[n] = mean(level.weight)
        recovered[n] = out + (still[n] if stop.bill is None else 0.0)
        given_up[n] = given + (0.0 if stop.bill is None else mean(stop.weight * stop.bill.given_up))
        days[n] = mean(level.weight * level.days)
        for ending in step.ends:
            spent += mean(ending.weight * ending.fishing)
            whole += mean(ending.weight * ending.fishing)
            if ending.bill is None:
                out += mean(ending.weight)
            else:
                whole += mean(ending.weight * ending.bill.mean())
                given += mean(ending.weight * ending.bill.given_up)
    some = still > NEVER
    need = 1.0 - recovered
    return Valued(
        cost=cost,
        recovered=recovered,
        days=np.divide(days, still, out=np.full(limits, np.nan), where=some),
        planned=np.divide(planned, still, out=fishing.copy(), where=some),
        fishing=fishing,
        fallback=np.divide(
            cost - fishing - given_up, need, out=np.zeros(limits), where=need > NEVER
        ),
        given_up=given_up,
    )
