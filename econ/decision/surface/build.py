"""The coefficients of `econ.decision.surface.value`, from all draws of a job.

At the speeds of the file all draws are walked once, so that there the surface is the answer.
Other speeds are walked with the first draws of every scramble, and what they change is added:
few draws at as many speeds as it takes, which show every bend, and more of them at five, whose
difference from the few has none to speak of. The speed moves a part of the hours only, and all
sides have the same random numbers.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from econ.decision.changes.drivers import Bench, Columns
from econ.decision.quick import POINTS
from econ.decision.run_log import inputs_after
from econ.decision.surface.pools import Layout, pooled
from econ.decision.surface.program import (
    NO_BELIEF,
    belief,
    spread_belief,
    turned,
    with_odds_ratio,
)
from econ.decision.surface.sums import Trio, block_sums, odds_of_next, state_bills
from econ.decision.surface.value import (
    COUNTS,
    NODES,
    Knob,
    Position,
    Surface,
    among,
    parabola,
    polynomial,
    ratios,
)
from econ.engine.case import Case, realise
from econ.engine.choice import choose
from econ.engine.curves import PILOT
from econ.engine.expected import expected
from econ.engine.walk import walk
from econ.job import RunOdds
from econ.scenario.run_log import LoggedRun
from econ.scenario.scenario import Scenario

Array = NDArray[np.float64]
FEW = 512  # draws of each scramble at five speeds
FEWER = 64  # at all of them, and for the check
BENCH = 16  # for the drivers
FACTORS = (0.5, 2.0)  # ends of the knobs that are factors
ENDS = (0.5, 1.0, 2.0)  # of the first pieces of the slowness
FIVE = (0.5, 0.75, 1.0, 1.5, 2.0)  # these and their middles
CLOSE = 7e-5  # as near as grids come to the program between their nodes, as a share of the cost
MOST_PIECES = 16
MOST_NUMBERS = 36_000  # on all grids together: 190 kB in a page
MOST_TOPS = 16  # parts of the fish top that are told apart
NO_ODDS = 1e-12  # chances are kept so far from 0 and 1
NO_RUN = RunOdds(*[np.zeros((1, 1, 1))] * 6)
NOTHING = 1e-6  # a cost that is none
CHECKED = 3  # places between the ends, and as many corners, that are set against the program


def surface(scenario: Scenario, log: Sequence[LoggedRun] = ()) -> Surface:
    """The surface of a scenario as `econ.load` gives it; the scenario is not changed.

    log: runs made so far; the surface is then from their end on, as in `econ.answer`.
    """
    job = _Job(scenario, log)
    every = job.coefficients(job.blocks(), nodes=job.nodes)
    scale = job.layout.scale(every.values[job.nodes // 2], every.belief)
    kept = _kept(every.values, scale, job.layout)
    fewer = job.along_speeds(kept, scale)
    moved = job.corrected(fewer, every.values[among(job.nodes, few=kept)])
    plain = job.surface(fewer, job.at_speed(1.0, nodes=job.nodes, draws=FEWER))
    return replace(job.surface(moved, every), error=job.error(plain))


@dataclass(frozen=True)
class _Coefficients:
    """belief (kinds,); P_k at R log odds ratios, odds (R, kinds); columns of the layout, values
    (R, kinds, columns)."""

    belief: Array
    odds: Array
    values: Array


class _Job:
    """A job with its draws, on its way to a surface."""

    def __init__(self, scenario: Scenario, log: Sequence[LoggedRun]) -> None:
        self.inputs = inputs_after(scenario, log)
        self.drivers = Bench(self.inputs, n=BENCH).drivers
        self.trios: dict[int, Trio] = {}
        self.pilot = self._few(FEWER).case
        columns = self.inputs.first(min(FEWER, self.inputs.scenario.draws.n))
        self.known = np.array(belief(self._case(columns, None)))
        self.judges = self._trio(next(self.inputs.blocks(0, n=PILOT)).uniforms)
        self.judged: dict[float, Array] = {}
        self.edges, self.tops = _tops(self.pilot)
        self.layout = _layout(self.pilot, len(self.edges) + 1)
        self.nodes = NODES if "next_odds" in self.drivers else 1  # log odds ratios to look at

    @property
    def runs(self) -> int:
        """Runs still to make."""
        return self.layout.limits - 1

    def blocks(self) -> Iterator[Trio]:
        """All draws."""
        inputs = self.inputs
        for scramble in range(inputs.sampler.scrambles):
            for case in inputs.blocks(scramble, n=inputs.scenario.draws.n):
                yield self._trio(case.uniforms)

    def at_speed(self, speed: float, *, nodes: int, draws: int) -> _Coefficients:
        """Coefficients of the first draws of every scramble at a factor on the trip speeds."""
        return self.coefficients([self._at_speed(self._few(draws), speed)], nodes=nodes)

    def coefficients(self, blocks: Iterable[Trio], *, nodes: int) -> _Coefficients:
        """Coefficients of some draws at a number of log odds ratios."""
        total: dict[str, Array] = {}
        draws = 0
        for trio in blocks:
            draws += trio.case.n
            sums = block_sums(trio, self._moved(trio.case, nodes), edges=self.edges)
            for name, values in sums.items():
                total[name] = total[name] + values if name in total else values
        weight = total["weight"]
        ruled_out = len(self.known) > 1 and self.known.min() < NO_BELIEF
        odds = np.full((nodes, len(weight)), NO_ODDS)
        if self.runs:
            odds = np.clip(total["odds"] / weight, NO_ODDS, 1.0 - NO_ODDS)
        now = self.known if ruled_out else weight / draws
        return _Coefficients(now, odds, self.layout.flat(total))

    def along_speeds(self, nodes: int, scale: Array) -> dict[float, _Coefficients]:
        """Coefficients of the first draws by slowness, at as many as it takes."""
        found: dict[float, _Coefficients] = {}

        def at(slow: float) -> _Coefficients:
            if slow not in found:
                found[slow] = self.at_speed(1.0 / slow, nodes=nodes, draws=FEWER)
            return found[slow]

        if "trip_speed" not in self.drivers:
            return {1.0: at(1.0)}
        pieces = list(pairwise(ENDS))
        size = nodes * self.layout.usual_size(len(self.known))
        most = int(np.clip((MOST_NUMBERS / size - 1) / 2, len(pieces), MOST_PIECES))
        missed = {piece: self._missed(at, piece, scale) for piece in pieces}
        while len(missed) < most and max(missed.values()) > CLOSE:
            low, high = worst = max(missed, key=lambda piece: missed[piece])
            del missed[worst]
            middle = 0.5 * (low + high)
            for piece in ((low, middle), (middle, high)):
                missed[piece] = self._missed(at, piece, scale)
        kept = {each for low, high in missed for each in (low, 0.5 * (low + high), high)}
        return {slow: found[slow] for slow in sorted(kept)}

    def corrected(
        self, fewer: Mapping[float, _Coefficients], now: Array
    ) -> dict[float, _Coefficients]:
        """Coefficients by slowness with what more draws make of them; now: of all draws, at the
        speeds of the file, shape (R, kinds, columns)."""
        nodes = now.shape[0]
        more = [slow for slow in fewer if slow in FIVE]
        few = [self.at_speed(1.0 / slow, nodes=nodes, draws=FEW).values for slow in more]
        gaps = np.stack([each - fewer[slow].values for slow, each in zip(more, few, strict=True)])
        shift = now - few[more.index(1.0)]
        return {
            slow: replace(
                each,
                values=each.values
                + np.tensordot(parabola(np.array(more), slow), gaps, axes=1)
                + shift,
            )
            for slow, each in fewer.items()
        }

    def _missed(
        self, at: Callable[[float], _Coefficients], piece: tuple[float, float], scale: Array
    ) -> float:
        """How far the parabola of a piece of slowness is from the program between its nodes."""
        low, high = piece
        nodes = np.array([low, 0.5 * (low + high), high])
        values = np.stack([at(float(node)).values for node in nodes])
        worst = 0.0
        for share in (0.25, 0.75):
            slow = low + share * (high - low)
            guess = np.tensordot(parabola(nodes, slow), values, axes=1)
            worst = max(worst, float((np.abs(guess - at(slow).values) / scale).max()))
        return worst

    def surface(self, by_slowness: Mapping[float, _Coefficients], now: _Coefficients) -> Surface:
        """The surface of some coefficients; now: those at the speeds of the file."""
        values = np.stack([each.values for each in by_slowness.values()])
        lines = np.stack([self._lines(slow) for slow in by_slowness])
        each = pooled(self.layout, values, lines, most=MOST_NUMBERS)
        base = Position(
            workable=float(now.belief[0]),
            next_odds=float(now.belief @ now.odds[len(now.odds) // 2]),
        )
        found = Surface(
            base=base,
            knobs=(),
            minimum=self.inputs.minimum_runs,
            limits=self.layout.limits,
            belief=tuple(float(each) for each in now.belief),
            fallback_now=0.0,
            slowness=tuple(by_slowness),
            odds=now.odds,
            values=each.values,
            bills=each.bills,
            pools=each.pools,
            here=each.here,
        )
        at = found.at(base)
        fallback = float(at.cost[0] - at.fishing[0]) if "fallback" in self.drivers else 0.0
        knobs = tuple(self._knobs(now, base))
        return replace(found, knobs=knobs, fallback_now=fallback)

    def _lines(self, slow: float) -> Array:
        """What fallbacks are compared by at a slowness, from the draws that the answer uses."""
        if not self.edges.size and self.layout.options == 1:
            states = self.layout.limits + 2 * self.runs
            return np.zeros((len(self.known), states, 1, 2))
        if slow not in self.judged:
            trio = self._at_speed(self.judges, 1.0 / slow)
            self.judged[slow] = self.layout.lines(*state_bills(trio, self.tops))
        return self.judged[slow]

    def error(self, plain: Surface) -> float:
        """Greatest difference of a surface from the program on the same draws, of some places."""
        rng = np.random.default_rng(0)
        n = min(FEWER, self.inputs.scenario.draws.n)
        worst = 0.0
        shares = rng.random((2 * CHECKED, len(plain.knobs)))
        shares[CHECKED:] = shares[CHECKED:].round()
        for row in shares.tolist():
            pairs = zip(plain.knobs, row, strict=True)
            where = {knob.name: knob.least + (knob.most - knob.least) * x for knob, x in pairs}
            position = replace(plain.base, **where)
            few, judges = (
                turned(
                    self.inputs,
                    self.drivers,
                    columns,
                    position,
                    base=plain.base,
                    fallback_now=plain.fallback_now,
                )
                for columns in (self.inputs.first(n), self.judges.case.uniforms)
            )
            walked = expected(few, choose(judges, points=POINTS), histories=1)
            program = walked.cost.sum(axis=0).mean(axis=1)
            gap = np.abs(plain.at(position).cost - program)
            worst = max(worst, float((gap / np.maximum(np.abs(program), NOTHING)).max()))
        return worst

    def _knobs(self, now: _Coefficients, base: Position) -> Iterator[Knob]:
        for name in ("spread", "fishing_day", "workable", "next_odds", "fallback", "trip_speed"):
            if name not in self.drivers:
                continue
            if name == "workable":
                yield Knob(name, base.workable, 0.0, 1.0)
            elif name == "next_odds":
                ends = now.belief @ now.odds[[0, -1]].T
                yield Knob(name, base.next_odds, float(ends[0]), float(ends[1]))
            else:
                yield Knob(name, 1.0, *FACTORS)

    def _few(self, draws: int) -> Trio:
        """The first draws of every scramble, as many as there are."""
        n = min(draws, self.inputs.scenario.draws.n)
        if n not in self.trios:
            self.trios[n] = self._trio(self.inputs.first(n))
        return self.trios[n]

    def _at_speed(self, trio: Trio, speed: float) -> Trio:
        edit = self.drivers["trip_speed"].edit if "trip_speed" in self.drivers else None
        if edit is None or speed == 1.0:
            return trio
        return Trio(*(edit(case, speed) for case in (trio.case, trio.spread, trio.fishing)))

    def _trio(self, columns: Columns) -> Trio:
        cases = (self._case(columns, dearer) for dearer in (None, "spread", "fishing_day"))
        return Trio(*(spread_belief(case) for case in cases))

    def _case(self, columns: Columns, dearer: str | None) -> Case:
        """Some draws, with one driver at twice its value."""
        inputs = self.inputs
        scenario: Scenario = inputs.scenario
        n = len(next(iter(columns.values())))
        write = self.drivers[dearer].write if dearer in self.drivers else None
        if write is not None:
            scenario, columns = write(scenario, columns, 2.0)
        return realise(scenario, columns, n, paths=inputs.paths, logged=inputs.logged)

    def _moved(self, case: Case, nodes: int) -> Sequence[RunOdds]:
        """Odds of the next run at a number of log odds ratios; what they are if there is none."""
        if not self.runs:
            return [NO_RUN] * nodes
        return odds_of_next([with_odds_ratio(self.drivers, case, float(x)) for x in ratios(nodes)])


def _kept(values: Array, scale: Array, layout: Layout) -> int:
    """How many of the log odds ratios it takes. values: (ratios, kinds, columns)."""
    many = len(values)
    at = ratios(many)
    for count in COUNTS:
        weights = np.stack([polynomial(float(x), count=count) for x in at])
        guess = np.tensordot(weights, values[among(many, few=count)], axes=1)
        close = float((np.abs(guess - values) / scale).max()) <= CLOSE
        larger = COUNTS[min(COUNTS.index(count) + 1, len(COUNTS) - 1)]
        size = layout.usual_size(values.shape[1]) * (2 * len(ENDS) - 1)
        if close or larger * size > MOST_NUMBERS:
            return count
    return many


def _layout(case: Case, tops: int) -> Layout:
    each = case.fallbacks
    string = [one.after_string_lost for one in each]
    hole = [one.after_hole_lost for one in each]
    stop = {"string_lost": string, "hole_lost": hole}.get(case.ended or "", [True] * len(each))
    return Layout(len(case.program) + 1, tops, stop, string, hole)


def _tops(case: Case) -> tuple[Array, list[float]]:
    """Fish tops [ft] between which states are told apart, and one for each part they make;
    a single part where there is one fallback."""
    if len(case.fallbacks) == 1:
        return np.zeros(0), [case.fish.top]
    tops, weights = [], []
    for step in walk(replace(case, fallbacks=case.fallbacks[:1]), None, histories=1):
        top, weight = np.broadcast_arrays(step.level.top, step.level.weight)
        tops.append(top.ravel())
        weights.append(weight.ravel() / weight.shape[2])
    depths, place = np.unique(np.round(np.concatenate(tops), 6), return_inverse=True)
    share = np.bincount(place, np.concatenate(weights))
    upto = np.cumsum(share) / share.sum()
    starts = np.arange(len(depths) - 1)
    if len(depths) > MOST_TOPS:
        wanted = np.searchsorted(upto, np.arange(1, MOST_TOPS) / MOST_TOPS)
        starts = np.unique(np.clip(wanted, 0, len(depths) - 2))
    edges = 0.5 * (depths[starts] + depths[starts + 1])
    part = np.searchsorted(edges, depths)
    middle = np.bincount(part, share * depths) / np.maximum(np.bincount(part, share), 1e-300)
    return np.asarray(edges), [float(each) for each in middle]
