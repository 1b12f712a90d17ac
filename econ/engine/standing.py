"""Where a job stands: what decides on the next run by itself, and the beliefs, at a step.

Weighted sums of these are what the break-even odds of a run, the odds it has and the chance that
each doubt is in favour are read from (`econ.decision.figures`).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from econ.engine.case import Case
from econ.engine.choice import Choice, bill_at
from econ.engine.ledger import Place
from econ.engine.walk import Step

Array = NDArray[np.float64]
Sums = dict[str, Array]


def failures_of(case: Case, choice: Choice | None, step: Step) -> Sums:
    """What decides on a run by itself, in the state before it; arrays of (kinds, 1, n or 1).

    weight: 1; workable: whether this kind of fish is the workable one; odds: chance of recovery;
    days: of the run [d]; cost: without the one-off mobilization; losses: what lost strings and
    holes cost more than stopping, less what a part saves; saved: the fallback less the work
    after recovery, each with what it costs to end late [all currency].
    """
    (made,) = step.made
    top, stop = step.level.top, step.stop
    bill = stop.bill
    assert bill is not None
    here = bill.mean()
    if stop.spent is not step.level.spent:  # getting off the fish
        here = here + (stop.spent.total - step.level.spent.total)
    run, odds = case.runs[made.run], made.odds
    _, string, hole = (ending.bill for ending in made.ends)
    assert string is not None
    assert hole is not None
    lower = case.fish.top_after_part(top, part_length=run.part_length)
    signs = step.level.signs if case.choosy else None
    day = None if stop.place is None else stop.place.day
    part = bill_at(case, choice, top=lower, pieces_top=lower, signs=signs, day=day).mean()
    part = part + bill.approval + (here - bill.mean())
    out = case.recovery_cost
    if case.deadline is not None:
        out = out + case.deadline.cost(made.spent.days + case.recovery_days)
    return {
        "weight": np.ones((1, 1, 1)),
        "workable": in_favour(case, made.run),
        **doubts_of(case),
        "odds": odds.recovered,
        "days": made.hours / 24.0,
        "cost": made.cost,
        "losses": odds.string_lost * (string.mean() - here)
        + odds.hole_lost * (hole.mean() - here)
        - odds.part * (here - part),
        "saved": np.asarray(here - out),
    }


def in_favour(case: Case, run: int | None) -> Array:
    """The kinds of fish that a run works on, 1 or 0, shape (kinds, 1, 1): those in which all that
    it depends on is in its favour; of a single doubt, or without a run, those in which all is."""
    kinds = np.arange(len(case.prior)) == 0
    if case.doubts > 1 and run is not None:
        kinds = case.runs[run].favourable
    return np.asarray(kinds, dtype=np.float64)[:, None, None]


def doubts_of(case: Case) -> Sums:
    """For each doubt, where there are several, the kinds of fish in which it is in favour."""
    if case.doubts < 2:
        return {}
    kinds = np.arange(len(case.prior))[:, None, None]
    return {f"doubt.{d}": ((kinds >> d & 1) == 0).astype(np.float64) for d in range(case.doubts)}


def state_now(case: Case, choice: Choice | None, step: Step) -> Sums:
    """The present state, weighted: chance of a workable fish, the fallback, and what it costs
    less with the top 1 ft deeper [currency]."""
    level, top = step.level, step.level.top
    place = Place(top, top) if step.stop.place is None else step.stop.place
    here, deeper = (
        bill_at(case, choice, top=at, pieces_top=at, signs=place.signs, day=place.day).mean()
        for at in (top, top + 1.0)
    )
    bill = step.stop.bill
    favour = in_favour(case, step.made[0].run if step.made else None)
    return {
        "weight": level.weight,
        "workable": level.weight * favour,
        **{name: level.weight * kinds for name, kinds in doubts_of(case).items()},
        "fallback": level.weight * (np.zeros((1, 1, 1)) if bill is None else bill.mean()),
        "foot": level.weight * (here - deeper),
    }
