"""One change of a scenario: every figure before and after, on the same random numbers.

Both sides have the same columns in the same order, those that only one of them uses included,
so that what the change leaves alone is drawn alike, and as many draws. The figures of a side are
those of `econ.answer` (`econ.decision.figures`), each side at the best limit of its own; where
the other side has an uncertain amount more, they come from other points and differ from the
answer within their error. Seed, draws and scrambles are those of the side before. With x_s and
y_s a figure before and after on scramble s,

    change = y - x,      error = standard deviation of (y_s - x_s) / sqrt(scrambles)
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

from pydantic import BaseModel

from econ.decision.estimates import Estimate
from econ.decision.figures import Change, Figure, changes, days, figures, walked
from econ.decision.limits import Verdict, is_close, verdict
from econ.decision.plan import FEW_STATES, LITTLE, Plan, plan_of
from econ.decision.run_log import inputs_after
from econ.decision.state_rule import StateRule, rule_levels, state_rule
from econ.engine.curves import Curves
from econ.engine.inputs import Inputs
from econ.engine.walk import next_run
from econ.scenario.distributions import Distribution
from econ.scenario.framed import Framed
from econ.scenario.run_log import LoggedRun
from econ.scenario.scenario import Scenario, dotted

if TYPE_CHECKING:
    import pandas


@dataclass(frozen=True, repr=False)
class Side(Framed):
    """One side: its verdict, as `econ.answer` gives it.

    draws: of each scramble; rule: the rule by state; days: mean elapsed time when all runs to the
    limit have failed [d]; next_run: its name, None where there is none; plan, close_call: as in an
    answer; least_runs: that must still be made.
    """

    scenario: Scenario
    draws: int
    verdict: Verdict
    rule: StateRule
    days: float
    next_run: str | None
    plan: Plan | None
    close_call: bool
    least_runs: int

    @property
    def best(self) -> int:
        """The best limit [runs]."""
        return self.verdict.best

    @property
    def fish(self) -> bool:
        """Whether to make a run, by the best limit, the rule by state or a plan that pays."""
        return self.best > 0 or self.rule.begins or self.by_plan

    @property
    def by_plan(self) -> bool:
        """Whether a plan that pays begins with a run."""
        return self.plan is not None and self.plan.pays and self.plan.fish


@dataclass(frozen=True)
class ChangedKey:
    """A key of the file that differs, with its values; None where it is not given."""

    key: str
    before: Any
    after: Any


@dataclass(frozen=True, repr=False)
class WhatIf(Framed):
    """Before and after. figures: of the best limit of each side, of the next run and of the
    authority; by_runs: expected cost of each limit that both sides have; log: runs made."""

    before: Side
    after: Side
    changed: tuple[ChangedKey, ...]
    figures: tuple[Change, ...]
    by_runs: tuple[Change, ...]
    log: tuple[LoggedRun, ...] = ()

    def __repr__(self) -> str:
        before, after = self.before, self.after
        keys = ", ".join(change.key for change in self.changed)
        return f"WhatIf({keys}: best limit {before.best} before, {after.best} after)"

    def __hash__(self) -> int:
        return hash((self.figures, self.by_runs))

    def figure(self, name: str) -> Change:
        """The figure of a name."""
        return next(figure for figure in self.figures if figure.name == name)

    def to_frame(self) -> pandas.DataFrame:
        """The figures, one row each."""
        import pandas

        return pandas.DataFrame([asdict(row) for row in self.figures]).set_index("name")


def whatif(before: Scenario, after: Scenario, log: Sequence[LoggedRun] = ()) -> WhatIf:
    """Set two scenarios as `econ.load` gives them side by side; neither is changed.

    log: runs made so far, the same on both sides. The [draws] of `after` are not used.

    >>> import econ
    >>> name = "scenarios/point/a_land_twist_off.toml"
    >>> found = whatif(econ.load(name), econ.load(name, ["fishing.workable=0.3"]))
    >>> found.before.verdict.best, found.after.verdict.best
    (3, 1)
    """
    after = after.model_copy(update={"draws": before.draws})
    jobs = [inputs_after(scenario, log) for scenario in (before, after)]
    names = _shared_names(*(job.names for job in jobs))
    inputs = [Inputs(job.scenario, logged=job.logged, beside=names) for job in jobs]
    found = walked(inputs)
    one, other = (
        _side(scenario, job, curves)
        for scenario, job, curves in zip((before, after), inputs, found, strict=True)
    )
    tables = [
        figures(curves, side.best, authority=side.scenario.limits.authority is not None)
        for curves, side in zip(found, (one, other), strict=True)
    ]
    return WhatIf(
        before=one,
        after=other,
        changed=tuple(_changed(before, after)),
        figures=tuple(changes(*tables)),
        by_runs=tuple(changes(*(_limits(curves) for curves in found))),
        log=tuple(log),
    )


def _side(scenario: Scenario, inputs: Inputs, curves: Curves) -> Side:
    minimum = inputs.minimum_runs
    judged = verdict(curves.cost, minimum=minimum)
    case = inputs.pilot()
    rule = state_rule(
        rule_levels(inputs, case, curves.choice),
        minimum=minimum,
        scrambles=inputs.sampler.scrambles,
        limit=judged.best,
    )
    elapsed = days(curves, judged.best).value
    assert elapsed is not None
    run = next_run(case)
    name = None if run is None else inputs.scenario.run[run].name
    plan = plan_of(inputs, curves, most=FEW_STATES, effort=LITTLE) if case.program else None
    others = [Estimate(rule.gain, rule.gain_error), *([] if plan is None else [plan.gain])]
    close = is_close(curves.cost, minimum=minimum, others=others)
    return Side(scenario, curves.n, judged, rule, elapsed, name, plan, close, minimum)


def _limits(curves: Curves) -> dict[str, Figure]:
    """The expected cost of every limit."""
    return {
        f"{n} runs": Figure("currency", float(cost.mean()), cost)
        for n, cost in enumerate(curves.cost.T)
    }


def _shared_names(before: list[str], after: list[str]) -> list[str]:
    """All columns of both in one order, the same whichever comes first."""
    longer, shorter = sorted((before, after), key=lambda names: (-len(names), names))
    return list(dict.fromkeys([*longer, *shorter]))


def _changed(before: Scenario, after: Scenario) -> Iterator[ChangedKey]:
    one, other = dict(flat_keys(before)), dict(flat_keys(after))
    for key in dict.fromkeys([*one, *other]):
        if one.get(key) != other.get(key):
            yield ChangedKey(key, one.get(key), other.get(key))


def flat_keys(value: object, path: tuple[str | int, ...] = ()) -> Iterator[tuple[str, object]]:
    """Every value that a file can give, by key path; a distribution is one value."""
    if isinstance(value, BaseModel) and not isinstance(value, Distribution):
        for name, info in type(value).model_fields.items():
            yield from flat_keys(getattr(value, name), (*path, info.alias or name))
    elif isinstance(value, dict):
        for name, item in value.items():
            yield from flat_keys(item, (*path, name))
    elif isinstance(value, list):
        for number, item in enumerate(value):
            yield from flat_keys(item, (*path, number))
    else:
        yield dotted(path), value
