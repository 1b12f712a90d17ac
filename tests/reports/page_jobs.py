"""Jobs for the tests of the page, and the program on the same files with the sliders written in.

Nothing here turns a slider as the page does: the keys of the file are changed, and the whole
program walks the file that comes of it.
"""

from __future__ import annotations

import copy
import functools
import itertools
import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from raw_jobs import SCENARIO_A, Table, lump_job, metric, read, scenario

from econ.decision import Answer, answer
from econ.decision.figures import figures, walked
from econ.decision.page_model import NAMES, Limits, PageModel, Position, page_model
from econ.decision.run_log import inputs_after
from econ.reports.page import page_html
from econ.scenario import Scenario
from econ.scenario.run_log import LoggedRun, read_log

FOLDER = Path(__file__).parents[2] / "scenarios"
DEMOS = {path.name[0]: path for path in sorted(FOLDER.glob("*.toml"))}
LOGS = {"a": "a_two_runs", "d": "d_three_runs"}
N = 64  # draws of each scramble
CLOSE = 0.0025  # the share of the cost by which the page may differ from the program
SHIFTED = ("low", "likely", "high", "mean", "p10", "p50", "p90", "values")  # keys of a range
SCALED = (*SHIFTED, "sd", "median")


class Job:
    """A job with its answer, its page, and the program beside it on the same draws."""

    def __init__(self, raw: Table, log: Sequence[LoggedRun] = (), **draws: int) -> None:
        self.raw = raw
        self.draws = draws
        self.log = tuple(log)
        self.scenario: Scenario = scenario(raw, **draws)

    @functools.cached_property
    def answer(self) -> Answer:
        """The answer of the file."""
        return answer(self.scenario, self.log)

    @functools.cached_property
    def model(self) -> PageModel:
        """The model of the page."""
        return page_model(self.answer)

    @functools.cached_property
    def html(self) -> bytes:
        """The page."""
        return self._page()

    @functools.cached_property
    def bare(self) -> bytes:
        """The page without where the verdict of the file flips, half of its work."""
        return self.html if "html" in vars(self) else self._page(flips=())

    def _page(self, **given: Any) -> bytes:
        with pytest.MonkeyPatch.context() as patch:  # its model, which is not made twice
            patch.setattr("econ.reports.page.page_model", lambda _: self.model)
            return page_html(self.answer, **given)

    def program(self, position: Position) -> Limits:
        """What the program says with a position written into the file."""
        inputs = inputs_after(scenario(self.written(position), **self.draws), self.log)
        (curves,) = walked([inputs], distributions=False)
        rows = [figures(curves, n) for n in range(self.model.limits)]

        def column(name: str) -> Any:
            return np.array([row[name].value or 0.0 for row in rows])

        need = rows[0].get("next_break_even")
        found = Limits(
            cost=column("expected_cost"),
            recovered=column("probability_recovered"),
            days=column("days"),
            planned=column("stage_1_planned"),
            fishing=column("stage_1_mean"),
            given_up=curves.sums["value_given_up"].mean(axis=0),
        )
        if need is None:
            return found
        chance = rows[0]["next_odds"].value or 0.0
        return replace(found, next_odds=chance, break_even=need.value or math.nan)

    def written(self, position: Position) -> Table:
        """The file with a position written into it.

        Odds and belief can be written where the file has them as single numbers.
        """
        model, table = self.model, copy.deepcopy(self.raw)
        fishing = table.setdefault("fishing", {})
        table["rates"] = scaled(table["rates"], position.spread)
        if "day_rates" in fishing:
            fishing["day_rates"] = scaled(fishing["day_rates"], position.fishing_day)
        for way in ("in", "out") if "trip_speed" in table else ():
            speeds = table["trip_speed"]
            speeds[way] = scaled(speeds[way], position.trip_speed)
        more = (position.fallback - 1.0) * model.fallback_now
        for fallback in table["fallback"]:
            name = "cost" if fallback.get("kind", "sidetrack") != "sidetrack" else "other_cost"
            name = "cost" if "cost" in fallback else name
            fallback[name] = changed_amount(fallback.get(name, 0.0), lambda x: x + more, SHIFTED)
        if position.workable != model.base.workable:
            # Bayes in odds: what a log says of the kind of fish multiplies those of the file
            said = odds_of(model.base.workable) / odds_of(fishing["workable"])
            odds = odds_of(position.workable) / said
            fishing["workable"] = odds / (1.0 + odds) if math.isfinite(odds) else 1.0
        if position.next_odds != model.base.next_odds:
            ratio = math.exp(model.log_ratio(position.next_odds))
            run = table["run"][len(self.log)]
            for kind in [run["odds"]] if "nothing" in run["odds"] else run["odds"].values():
                old = kind["recovered"]
                new = ratio * old / (1.0 - old + ratio * old)
                for name in kind:
                    kind[name] = new if name == "recovered" else kind[name] * (1 - new) / (1 - old)
        return table

    def corners(self) -> list[Position]:
        """Every slider at either end."""
        ends = itertools.product(*((knob.least, knob.most) for knob in self.model.knobs))
        return [self.position(values) for values in ends]

    def between(self, count: int, seed: int = 0) -> list[Position]:
        """Positions anywhere between the ends that a file can hold: no cost of it is negative."""
        rng = np.random.default_rng(seed)
        ends = [(1.0 if k.name == "fallback" else k.least, k.most) for k in self.model.knobs]
        return [
            self.position([low + (high - low) * rng.random() for low, high in ends])
            for _ in range(count)
        ]

    def position(self, values: Sequence[float]) -> Position:
        """A position from a value of each slider."""
        names = (knob.name for knob in self.model.knobs)
        set_to: dict[str, Any] = dict(zip(names, values, strict=True))
        return replace(self.model.base, **set_to)

    def address(self, position: Position) -> str:
        """The address of a position, to the last digit."""
        pairs = (f"{knob.name}={getattr(position, knob.name)!r}" for knob in self.model.knobs)
        return "#" + "&".join(pairs)


def odds_of(chance: float) -> float:
    """Odds of a chance."""
    return chance / (1.0 - chance) if chance < 1.0 else math.inf


def scaled(amounts: Table, factor: float) -> Table:
    """Amounts times a factor, ranges too."""
    return {
        name: changed_amount(each, lambda x: x * factor, SCALED) for name, each in amounts.items()
    }


def changed_amount(amount: Any, change: Callable[[float], float], keys: Sequence[str]) -> Any:
    """An amount with its numbers changed."""
    if not isinstance(amount, dict):
        return change(amount)
    return {
        key: ([change(x) for x in value] if isinstance(value, list) else change(value))
        if key in keys
        else value
        for key, value in amount.items()
    }


def differences(one: Limits, other: Limits) -> dict[str, float]:
    """Greatest difference of each figure: of money and days as a share of the dearest or longest
    limit, of a chance as it is."""
    shares = {}
    for name in (*NAMES, "fallback"):
        a, b = getattr(one, name), getattr(other, name)
        scale = max(float(np.abs(other.days if name == "days" else other.cost).max()), 1e-9)
        scale = 1.0 if name == "recovered" else scale
        shares[name] = float(np.abs(a - b).max()) / scale
    return shares


def in_numbers(raw: Table, run: int = 0) -> Table:
    """A file with its belief, and the odds of one run, as single numbers; other ranges stay."""
    table = copy.deepcopy(raw)
    workable = table["fishing"].get("workable")
    if isinstance(workable, dict):
        table["fishing"]["workable"] = workable["mean"]
    for kind in table["run"][run]["odds"].values():
        if isinstance(kind, dict):
            kind.pop("weight", None)
    return table


@functools.cache
def demo(letter: str, n: int = N) -> Job:
    """A demonstration job as its file has it, with fewer draws."""
    return Job(read(DEMOS[letter]), n=n)


@functools.cache
def point(letter: str) -> Job:
    """A demonstration job at single numbers."""
    return Job(read(FOLDER / "point" / DEMOS[letter].name), n=N)


@functools.cache
def movable(letter: str, n: int = N) -> Job:
    """A demonstration job into which every position can be written."""
    return Job(in_numbers(read(DEMOS[letter])), n=n)


@functools.cache
def after_log(letter: str, n: int = N) -> Job:
    """A demonstration job after the runs of its log, into which every position can be written."""
    whole = demo(letter).scenario
    log = read_log(FOLDER / "logs" / f"{LOGS[letter]}.csv", whole)
    return Job(in_numbers(read(DEMOS[letter]), run=len(log)), log, n=n)


@functools.cache
def changed(letter: str, section: str, key: str, value: Any) -> Job:
    """A demonstration job with a value replaced."""
    raw = read(DEMOS[letter])
    raw.setdefault(section, {})[key] = value
    return Job(raw, n=N)


@functools.cache
def one_run() -> Job:
    """Scenario A with its first run alone."""
    raw = in_numbers(read(DEMOS["a"]))
    raw["run"] = raw["run"][:1]
    raw["correlation"] = raw["correlation"][:1]
    return Job(raw, n=N)


ODD: dict[str, Callable[[], Job]] = {
    **{f"point {letter}": functools.partial(point, letter) for letter in DEMOS},
    **{f"log {letter}": functools.partial(after_log, letter) for letter in LOGS},
    "metric": lambda: Job({**metric(read(SCENARIO_A)), "units": "metric"}, n=N),
    "one run": one_run,
    "no run": lambda: Job(lump_job(), n=16, scrambles=16, seed=1),
    "minimum": functools.partial(changed, "a", "limits", "minimum_runs", 4),
}
