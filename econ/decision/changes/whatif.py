"""One change of a scenario: every figure before and after, on the same random numbers.

Both sides have the same columns in the same order, those that only one of them uses included,
so that what the change leaves alone is drawn alike. With x_s and y_s a figure before and after
on scramble s,

    change = y - x,      error = standard deviation of (y_s - x_s) / sqrt(scrambles)

Each side has the best limit of its own. Seed, draws and scrambles are those of the side before.
A percentile is read from bins that differ between the sides (`econ.engine.histogram`), each at
most 0.2 % of its value wide: the deviation of an even spread over such a bin is in its error.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
from numpy.typing import NDArray
from pydantic import BaseModel

from econ.decision.limits import ROUNDING, SURE, Verdict, estimate, verdict
from econ.decision.next_run import RunAhead, runs_ahead
from econ.decision.state_rule import rule_levels, state_rule
from econ.engine.case import STICK
from econ.engine.curves import Curves, curves
from econ.engine.inputs import Inputs
from econ.scenario.distributions import Distribution
from econ.scenario.scenario import Scenario, dotted

if TYPE_CHECKING:
    import pandas

Array = NDArray[np.float64]
Unit = Literal["currency", "fraction", "d"]
Measured = tuple[float, Array]  # a figure, and the same from each scramble
P10, P50, P90, EXCEEDS = 0, 1, 2, 4  # places in the statistics of the curves
GRAIN = 0.002 / np.sqrt(12.0)  # of a percentile: deviation of an even spread over its bin


@dataclass(frozen=True)
class Figure:
    """A figure before and after the change; None where a side has no such figure."""

    name: str
    unit: Unit
    before: float | None
    after: float | None
    change: float | None
    error: float | None
    resolved: bool


@dataclass(frozen=True)
class Half:
    """One side: its verdict, as `econ.answer` gives it.

    fish: whether to make the next run, by the best limit or by the rule by state; days: mean
    elapsed time when all runs to the limit have failed [d].
    """

    scenario: Scenario
    verdict: Verdict
    fish: bool
    days: float
    next_run: str | None

    @property
    def best(self) -> int:
        """The best limit [runs]."""
        return self.verdict.best


@dataclass(frozen=True)
class Changed:
    """A key of the file that differs, with its values; None where it is not given."""

    key: str
    before: Any
    after: Any


@dataclass(frozen=True)
class WhatIf:
    """Before and after. figures: of the best limit of each side, of the next run and of the
    authority; by_runs: expected cost of each limit that both sides have."""

    before: Half
    after: Half
    changed: tuple[Changed, ...]
    figures: tuple[Figure, ...]
    by_runs: tuple[Figure, ...]

    def figure(self, name: str) -> Figure:
        """The figure of a name."""
        return next(figure for figure in self.figures if figure.name == name)

    def to_frame(self) -> pandas.DataFrame:
        """The figures, one row each."""
        import pandas

        return pandas.DataFrame([asdict(each) for each in self.figures]).set_index("name")


def whatif(before: Scenario, after: Scenario) -> WhatIf:
    """Set two scenarios as `econ.load` gives them side by side; neither is changed.

    The [draws] of `after` are not used.

    >>> import econ
    >>> name = "scenarios/point/a_land_twist_off.toml"
    >>> found = whatif(econ.load(name), econ.load(name, ["fishing.workable=0.3"]))
    >>> found.before.verdict.best, found.after.verdict.best
    (3, 1)
    """
    after = after.model_copy(update={"draws": before.draws})
    jobs = before.in_field_units(), after.in_field_units()
    names = _shared_names(*(Inputs(job).names for job in jobs))
    one, other = (_Side(Inputs(job, beside=names)) for job in jobs)
    figures = _compared(one.figures(one.best), other.figures(other.best))
    return WhatIf(
        before=one.half(before),
        after=other.half(after),
        changed=tuple(_changed(before, after)),
        figures=tuple(figures),
        by_runs=tuple(_compared(one.by_runs(), other.by_runs())),
    )


class _Side:
    """One scenario walked, and its figures with their values on each scramble."""

    def __init__(self, inputs: Inputs) -> None:
        self.inputs = inputs
        self.found: Curves = curves(inputs)
        self.cost = self.found.cost.sum(axis=1)  # (scrambles, limits)
        self.verdict = verdict(self.cost, minimum=inputs.minimum_runs)
        self.best = self.verdict.best
        self.few = len(self.found.first[STICK])  # draws handed on, of all scrambles
        self.case = inputs.case(self.found.first, self.few)
        self.ahead = runs_ahead(self.case, self.found.choice)

    def half(self, scenario: Scenario) -> Half:
        levels = rule_levels(self.inputs, self.case, self.found.choice)
        rule = state_rule(
            levels,
            minimum=self.inputs.minimum_runs,
            scrambles=self.inputs.sampler.scrambles,
            limit=self.best,
        )
        goes = any(state.go and not state.history for state in rule.states)
        days, _ = self._days(self.best)
        name = self.ahead[0].name if self.ahead else None
        return Half(scenario, self.verdict, self.best > 0 or goes, days, name)

    def by_runs(self) -> dict[str, tuple[Unit, Measured]]:
        return {f"{n} runs": ("currency", _mean(c)) for n, c in enumerate(self.cost.T)}

    def figures(self, n: int) -> dict[str, tuple[Unit, Measured]]:
        """The figures at a limit of n runs."""
        found = self.found
        total, now = self.cost[:, n], self.cost[:, 0]
        fishing = found.fishing.sum(axis=1)[:, n]
        back = found.recovered.sum(axis=1)[:, n]
        still, still_cost = (x.sum(axis=1)[:, n] for x in (found.still, found.still_cost))
        figures: dict[str, tuple[Unit, Measured]] = {
            "expected_cost": ("currency", _mean(total)),
            "fallback_now": ("currency", _mean(now)),
            "saving": ("currency", _mean(now - total)),
            "probability_recovered": ("fraction", _mean(back)),
            "days": ("d", self._days(n)),
            "p10": ("currency", _statistic(found.total, n, P10)),
            "p50": ("currency", _statistic(found.total, n, P50)),
            "p90": ("currency", _statistic(found.total, n, P90)),
        }
        if self.ahead:
            figures |= self._next_run()
        figures |= {
            "stage_1_planned": ("currency", _ratio(still_cost, still)),
            "stage_1_mean": ("currency", _mean(fishing)),
            "stage_1_p90": ("currency", _statistic(found.on_fishing, n, P90)),
            "stage_2_probability": ("fraction", _mean(1.0 - back)),
            "stage_2_mean": ("currency", _ratio(total - fishing, 1.0 - back)),
            "stage_2_p90": ("currency", _statistic(found.on_fallback, n, P90)),
        }
        if self.inputs.scenario.limits.authority is not None:
            over, each = _statistic(found.total, n, EXCEEDS)
            figures["within_authority"] = ("fraction", (1.0 - over, 1.0 - each))
        return figures

    def _days(self, n: int) -> Measured:
        still = self.found.still.sum(axis=1)[:, n]
        if not still.mean() > 0:  # no path is left: the days of one that would be
            return _mean(self.found.plain_days.sum(axis=1)[:, n])
        return _ratio(self.found.still_days.sum(axis=1)[:, n], still)

    def _next_run(self) -> dict[str, tuple[Unit, Measured]]:
        each = self._next_by_scramble()
        keys: dict[str, tuple[str, Unit]] = {
            "belief": ("workable", "fraction"),
            "next_odds": ("odds", "fraction"),
            "next_break_even": ("break_even_odds", "fraction"),
            "next_days": ("days", "d"),
            "next_cost": ("cost", "currency"),
        }
        return {
            name: (unit, (_number(self.ahead[0], key), np.array([_number(a, key) for a in each])))
            for name, (key, unit) in keys.items()
        }

    def _next_by_scramble(self) -> list[RunAhead]:
        scrambles = self.inputs.sampler.scrambles
        share = self.few // scrambles
        parts = [slice(s * share, (s + 1) * share) for s in range(scrambles)]
        cases = [
            self.inputs.case({name: col[part] for name, col in self.found.first.items()}, share)
            for part in parts
        ]
        return [runs_ahead(case, self.found.choice)[0] for case in cases]


def _mean(by_scramble: Array) -> Measured:
    return float(by_scramble.mean()), by_scramble


def _ratio(over: Array, under: Array) -> Measured:
    """A ratio of means, and of the means of each scramble; nan where there is nothing."""
    with np.errstate(divide="ignore", invalid="ignore"):
        each = np.where(under > 1e-12, over / under, np.nan)
    total = float(under.mean())
    return (float(over.mean()) / total if total > 1e-12 else np.nan), each


def _statistic(spread: Array, n: int, place: int) -> Measured:
    """A statistic of a spread: its last row is that of all scrambles together."""
    return float(spread[-1, n, place]), spread[:-1, n, place]


def _number(ahead: RunAhead, key: str) -> float:
    value = getattr(ahead, key)
    return np.nan if value is None else float(value)


def _compared(
    before: Mapping[str, tuple[Unit, Measured]], after: Mapping[str, tuple[Unit, Measured]]
) -> Iterator[Figure]:
    """Figures that both sides have, by name."""
    for name, (unit, (x, x_each)) in before.items():
        if name not in after:
            continue
        y, y_each = after[name][1]
        x_given, y_given = (None if np.isnan(value) else value for value in (x, y))
        if x_given is None or y_given is None:
            yield Figure(name, unit, x_given, y_given, None, None, False)
            continue
        change, error = y - x, estimate(y_each - x_each).error
        same = ROUNDING * max(abs(x), abs(y))
        if max(abs(change), error) <= same:  # what is left is the rounding of sums
            change = error = 0.0
        elif name.endswith(("p10", "p50", "p90")):
            error = float(np.hypot(error, GRAIN * max(abs(x), abs(y))))
        clear = abs(change) > max(SURE * error, same)
        known = error if np.isfinite(error) else None
        yield Figure(name, unit, x, y, change, known, bool(clear))


def _shared_names(before: list[str], after: list[str]) -> list[str]:
    """All columns of both in one order, the same whichever comes first."""
    longer, shorter = sorted((before, after), key=lambda names: (-len(names), names))
    return list(dict.fromkeys([*longer, *shorter]))


def _changed(before: Scenario, after: Scenario) -> Iterator[Changed]:
    one, other = dict(_keys(before, ())), dict(_keys(after, ()))
    for key in dict.fromkeys([*one, *other]):
        if one.get(key) != other.get(key):
            yield Changed(key, one.get(key), other.get(key))


def _keys(value: object, path: tuple[str | int, ...]) -> Iterator[tuple[str, object]]:
    """Every value that a file can give, by key path; a distribution is one value."""
    if isinstance(value, BaseModel) and not isinstance(value, Distribution):
        for name, info in type(value).model_fields.items():
            yield from _keys(getattr(value, name), (*path, info.alias or name))
    elif isinstance(value, dict):
        for name, item in value.items():
            yield from _keys(item, (*path, name))
    elif isinstance(value, list):
        for number, item in enumerate(value):
            yield from _keys(item, (*path, number))
    else:
        yield dotted(path), value
