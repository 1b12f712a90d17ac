"""What each rented tool costs: to have, to keep, and to order now against when it is needed.

A contract costs the difference of the expected cost with it and without it at the best limit,
on the same draws. Ordered now it is owed from now on, and stands by until its run; ordered
with its run the rig waits for it. The two are compared at the best limit of each.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from econ.decision.estimates import Estimate, estimate
from econ.decision.quick import of_case
from econ.engine.case import Case
from econ.engine.choice import Bills
from econ.engine.walk import next_run
from econ.job import Contract
from econ.scenario.framed import Framed

Action = Literal[
    "lost",  # it is in the hole with a lost string
    "too_early",  # it is called out within the limit, for a run beyond it
    "release",
    "do_not_order",
    "keep",
    "call_now",
    "call_with_run",
    "either",  # called now or with its run: no difference beyond the error
]


@dataclass(frozen=True, repr=False)
class RentalCost(Framed):
    """What a rented tool costs; money in currency.

    lost: in the hole with a string that a log says was lost; first_run: number (from 1) of the
    next run that uses it, None if none does; needed: whether that run is within the best limit;
    mean: expected cost of having it, at the best limit; keep_day: a day of standing by; minimum:
    what is owed at the least; wait: what the rig's wait costs if it is called with its run;
    now_or_later: expected cost if it is called now less that if it is called with its first run,
    None for a tool on location or not needed any more.
    """

    tool: str
    first_run: int | None
    needed: bool
    held: bool
    lost: bool
    mean: float
    keep_day: float
    minimum: float
    wait: float
    now_or_later: Estimate | None

    @property
    def action(self) -> Action:
        """What to do about the tool now."""
        if self.lost:
            return "lost"
        if not self.needed and self.mean > 0 and not self.held:
            return "too_early"
        if not self.needed:
            return "release" if self.held else "do_not_order"
        if self.held:
            return "keep"
        later = self.now_or_later
        if later is None or not later.resolved(self.mean):
            return "either"
        return "call_now" if later.value < 0 else "call_with_run"


def rental_costs(case: Case, *, minimum: int, scrambles: int) -> tuple[RentalCost, ...]:
    """What every rented tool of a case costs.

    case: with the draws of all scrambles, one scramble after another; minimum: runs that must
    be made.
    """
    if not case.contracts:
        return ()

    bills = Bills(case, kept=True)  # no contract changes what a fallback costs

    def cost(changed: Sequence[Contract]) -> tuple[np.ndarray, int]:
        limits = of_case(
            replace(case, contracts=changed), minimum=minimum, scrambles=scrambles, bills=bills
        )
        return limits.cost, limits.verdict.best

    every, best = cost(case.contracts)
    rows = []
    for number, contract in enumerate(case.contracts):
        others = [each for k, each in enumerate(case.contracts) if k != number]
        ahead = [place + 1 for place, run in enumerate(case.program) if run in contract.serves]
        choice = None
        if ahead and contract.called is None:
            by_call = []
            now = next_run(case) if case.logged else -1  # -1 is the decision, past with a log
            for call_out in (now, None):
                listed = [*others, replace(contract, call_out=call_out)]
                values, limit = cost(listed)
                by_call.append(values[:, limit])
            choice = estimate(by_call[0] - by_call[1])
        hour = float(np.mean(case.spread + case.fishing_day)) / 24.0
        own = case.runs[case.program[ahead[0] - 1]].wait if ahead else np.asarray(np.inf)
        rows.append(
            RentalCost(
                tool=contract.tool,
                first_run=case.program[ahead[0] - 1] + 1 if ahead else None,
                needed=bool(ahead) and ahead[0] <= best,
                held=contract.called is not None,
                lost=case.ended == "string_lost" and case.logged[-1].run in contract.serves,
                mean=float((every - cost(others)[0])[:, best].mean()),
                keep_day=float(np.mean(contract.standby_day)),
                minimum=float(np.mean(contract.mobilization + contract.minimum)),
                wait=float(np.mean(np.maximum(contract.delivery - own, 0.0))) * hour,
                now_or_later=choice,
            )
        )
    return tuple(rows)
