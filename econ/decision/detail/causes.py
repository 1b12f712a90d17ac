"""What the expected cost of a limit is made of: each part as it arises on the path.

With D the days of the runs made so far, S the spread and G the fishing day, an end of the
job costs

    common + D S + D G + mobilization + charges + rentals            on every end
    + work after recovery                                            the fish is out
    + string lost + time, charges, kick-off trouble, sticking again,
      lost in hole and value given up of the fallback                 it is not

and each part is averaged with the weight of that end (`econ.decision.detail.replay`), kick-off
retries and sticking again in expectation. The parts of all ends sum to the expected cost.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from econ.decision.answer import Answer
from econ.decision.detail.replay import Leg, blocks, legs
from econ.decision.limits import Estimate, estimate
from econ.engine.case import Case
from econ.engine.choice import Choice
from econ.engine.level import lost_tools, three
from econ.engine.walk import Made
from econ.job import Bill, SidetrackPlan

if TYPE_CHECKING:
    import pandas

Array = NDArray[np.float64]
Parts = dict[str, Array]

# Every part with the phase of the job in which it arises, in the order of the job.
PHASES = {
    "common": "common",
    "rig_time": "fishing",
    "fishing_day": "fishing",
    "mobilization": "fishing",
    "charges": "fishing",
    "rentals": "fishing",
    "string_lost": "fishing",
    "recovery": "recovered",
    "fallback_time": "fallback",
    "fallback_charges": "fallback",
    "kickoff_trouble": "fallback",
    "sticking": "fallback",
    "lost_in_hole": "fallback",
    "value_given_up": "fallback",
}


@dataclass(frozen=True)
class Cause:
    """A part of the expected cost [currency]: at the best limit, and if fishing stops now."""

    name: str
    phase: str
    expected: float
    standard_error: float
    stopping_now: float


@dataclass(frozen=True)
class Causes:
    """The parts of the expected cost at a limit of `runs` runs; `total` is their sum."""

    runs: int
    causes: tuple[Cause, ...]
    total: Estimate

    def to_frame(self) -> pandas.DataFrame:
        """One row a part."""
        import pandas

        return pandas.DataFrame([asdict(each) for each in self.causes]).set_index("name")


class CauseSums:
    """Sums of the parts over blocks of draws, by scramble."""

    def __init__(self, *, scrambles: int) -> None:
        self._best: Parts = {name: np.zeros(scrambles) for name in PHASES}
        self._now: Parts = {name: np.zeros(scrambles) for name in PHASES}

    def add(self, path: Sequence[Leg], *, scramble: int, case: Case, choice: Choice | None) -> None:
        """Add a block, walked along `path`."""
        first = path[0]
        spent = _begun(case, first)
        now = {**spent, **_stopped(case, choice, first)}
        _put(self._now, scramble, case, first.level.weight, now)
        for leg in path:
            if leg.made is None:
                parts = {**spent, **_stopped(case, choice, leg)}
                _put(self._best, scramble, case, leg.level.weight, parts)
                return
            spent = _after(case, leg.made, spent, first=leg is first)
            ended = np.zeros(())
            for ending, parts in zip(leg.made.ends, _ended(case, choice, leg), strict=True):
                _put(self._best, scramble, case, ending.weight, parts)
                ended = ended + ending.weight
            _put(self._best, scramble, case, ended, spent)

    def result(self, *, runs: int, draws: int) -> Causes:
        """The means over `draws` draws of each scramble."""
        total = sum(self._best.values(), np.zeros(()))
        causes = []
        for name, phase in PHASES.items():
            here = estimate(self._best[name] / draws)
            now = float(self._now[name].mean() / draws)
            causes.append(Cause(name, phase, here.value, here.error, now))
        return Causes(runs, tuple(causes), estimate(np.asarray(total / draws)))


def causes(answer: Answer) -> Causes:
    """What the expected cost at the best limit of an answer is made of."""
    draws = answer.scenario.draws
    sums = CauseSums(scrambles=draws.scrambles)
    for scramble, case, choice in blocks(answer):
        path = legs(case, choice, limit=answer.best)
        sums.add(path, scramble=scramble, case=case, choice=choice)
    return sums.result(runs=answer.best, draws=draws.n)


def _put(sums: Parts, scramble: int, case: Case, weight: Array, parts: Mapping[str, Array]) -> None:
    for name, values in parts.items():
        product = weight * values
        sums[name][scramble] += product.sum() * (case.n // product.shape[2])


def _begun(case: Case, leg: Leg) -> Parts:
    """What is owed before the first run: tools on location already count as rentals."""
    common = three(case.common_cost)
    return {"common": common, "rentals": leg.level.cost - common}


def _after(case: Case, made: Made, spent: Parts, *, first: bool) -> Parts:
    """What has been spent after a run."""
    run = case.runs[made.run]
    days = made.hours / 24.0
    none = np.zeros((1, 1, 1))
    time, day = three(case.spread) * days, three(case.fishing_day) * days
    charge = three(run.charge)
    more = {
        "rig_time": time,
        "fishing_day": day,
        "charges": charge,
        "rentals": made.cost - time - day - charge if case.contracts else none,
        "mobilization": three(case.mobilization) if first and not case.logged else none,
    }
    return {**spent, **{name: spent.get(name, none) + value for name, value in more.items()}}


def _ended(case: Case, choice: Choice | None, leg: Leg) -> list[Parts]:
    """Parts of the three ends of a run besides what has been spent."""
    made = leg.made
    assert made is not None
    run = case.runs[made.run]
    value = three(run.string_value + lost_tools(case, made.run))
    top = leg.level.top
    upper = np.maximum(top - run.string_length, 0.0)
    string = _fallback(case, choice, top=upper, pieces_top=top, string_lost=True)
    hole = _after_hole_lost(case, choice)
    return [
        {"recovery": three(case.recovery_cost)},
        {"string_lost": value, **string},
        {"string_lost": three(case.hole_lost_string_share) * value, **hole},
    ]


def _stopped(case: Case, choice: Choice | None, leg: Leg) -> Parts:
    """Parts of stopping at a level, or of what is left to do if a log ended the job."""
    top = leg.level.top
    if case.ended is None:
        return _fallback(case, choice, top=top, pieces_top=top)
    if case.ended == "recovered":
        return {"recovery": three(case.recovery_cost)}
    event = case.logged[-1]
    run = case.runs[event.run]
    value = three(run.string_value + lost_tools(case, event.run))
    if case.ended == "hole_lost":
        owed = three(case.hole_lost_string_share) * value
        return {"string_lost": owed, **_after_hole_lost(case, choice)}
    upper = np.maximum(top - run.string_length, 0.0)
    if event.top is not None:
        upper = np.full((1, 1, 1), event.top)
    string = _fallback(case, choice, top=upper, pieces_top=top, string_lost=True)
    return {"string_lost": value, **string}


def _fallback(
    case: Case, choice: Choice | None, *, top: Array, pieces_top: Array, string_lost: bool = False
) -> Parts:
    """Parts of the fallback that is taken with its upper end at `top` [ft]."""
    pieces = case.fish.value_below(pieces_top)
    each = [_plan_parts(case, number, top, pieces) for number in range(len(case.fallbacks))]
    if choice is None:
        return each[0]
    taken = choice.at(top=top, pieces_top=pieces_top, string_lost=string_lost)
    return {name: _picked([parts[name] for parts in each], taken) for name in each[0]}


def _after_hole_lost(case: Case, choice: Choice | None) -> Parts:
    """Parts of the fallback from below the shoe, the whole fish owed."""
    number = 0 if choice is None else choice.after_hole_lost
    whole = case.fish.value_below(np.full((1, 1, 1), case.fish.top))
    return _plan_parts(case, number, None, whole)


def _plan_parts(case: Case, number: int, top: Array | None, pieces: Array) -> Parts:
    """Parts of a fallback above a fish top, or below the shoe where `top` is None."""
    plan = case.fallbacks[number]
    given_up = np.zeros((1, 1, 1))
    bill: Bill
    if isinstance(plan, SidetrackPlan):
        kickoff = plan.kickoff_depth(top) if top is not None else plan.kickoff_after_hole_lost
        bill = plan.bill(np.asarray(kickoff))
        time = plan.hours(np.asarray(kickoff)).base() / 24.0 * plan.day_rate
    else:
        bill = plan.bill_above(np.zeros(()))
        time = plan.hours / 24.0 * case.spread
        given_up = _three(plan.value_given_up)
    return {
        "fallback_time": _three(time),
        "fallback_charges": _three(bill.certain - time) - given_up,
        "kickoff_trouble": _three(bill.kickoff_mean()),
        "sticking": _three(bill.stick_chance * bill.stick_cost),
        "lost_in_hole": _three(plan.lost_in_hole_share * pieces),
        "value_given_up": given_up,
    }


def _three(values: Array) -> Array:
    return values if values.ndim == 3 else three(values)


def _picked(values: list[Array], taken: NDArray[np.intp]) -> Array:
    """In each place of `taken` the values of that fallback."""
    shape = np.broadcast_shapes(taken.shape, *(each.shape for each in values))
    return np.choose(np.broadcast_to(taken, shape), values)
