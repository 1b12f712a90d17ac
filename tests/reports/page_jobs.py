"""Jobs for the tests of the page, and what the program says of them with the knobs turned."""

from __future__ import annotations

import functools
import itertools
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

import econ
from econ.decision import Answer, answer
from econ.decision.changes.drivers import Bench, Columns
from econ.decision.run_log import inputs_after
from econ.decision.surface.build import surface
from econ.decision.surface.program import turned, valued
from econ.decision.surface.value import Position, Surface, Valued
from econ.engine.case import Case
from econ.engine.choice import choose
from econ.engine.curves import PILOT
from econ.reports.page import page_html
from econ.scenario import Scenario
from econ.scenario.run_log import LoggedRun

FOLDER = Path(__file__).parents[2] / "scenarios"
DEMOS = {path.name[0]: path for path in sorted(FOLDER.glob("*.toml"))}
N = 256  # draws of each scramble: enough for the shape of everything, and quick
CLOSE = 1e-3  # the share by which the page may differ from the program


class Job:
    """A job with its answer, its surface, and the program beside it on the same draws."""

    def __init__(self, scenario: Scenario, log: Sequence[LoggedRun] = ()) -> None:
        self.scenario = scenario
        self.log = tuple(log)
        self.surface: Surface = surface(scenario, log)
        self.inputs = inputs_after(scenario, log)
        self.drivers = Bench(self.inputs, n=16).drivers

    @functools.cached_property
    def answer(self) -> Answer:
        """The answer of the file."""
        return answer(self.scenario, self.log)

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
        pilot = next(self.inputs.blocks(0, n=PILOT)).uniforms
        return valued(self.case(position), choose(self._turned(pilot, position)))

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
