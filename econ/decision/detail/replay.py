"""The draws of an answer once more, for what its curves do not keep.

The same blocks in the same order with the same choice of fallback: a sum over them is that
of the answer, to rounding. On the path that each draw follows, with k runs made,

    after run j < n    the ends of run j, weight W p_recovered, W p_string_lost, W p_hole_lost
    at the limit n     the stop, weight W

and what a limit of n runs costs is the weighted sum over these.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from econ.decision.answer import Answer
from econ.decision.run_log import inputs_after
from econ.engine.case import Case
from econ.engine.choice import Choice, choose
from econ.engine.curves import PILOT
from econ.engine.level import Level, begin
from econ.engine.walk import Ending, Made, make, stop


@dataclass(frozen=True)
class Leg:
    """A level on the path, and the run made from it; None at the limit."""

    level: Level
    made: Made | None
    stop: Ending | None  # at the limit only


def blocks(answer: Answer) -> Iterator[tuple[int, Case, Choice | None]]:
    """Number of the scramble, case and choice of every block of draws, in order."""
    inputs = inputs_after(answer.scenario, answer.log)
    n = inputs.scenario.draws.n
    choice = choose(next(inputs.blocks(0, n=PILOT)))
    for scramble in range(inputs.sampler.scrambles):
        for case in inputs.blocks(scramble, n=n):
            yield scramble, case, choice


def legs(case: Case, choice: Choice | None, *, limit: int) -> Sequence[Leg]:
    """The path of a block under a limit of `limit` runs: one leg a run, and the stop."""
    found = []
    level = begin(case)
    for number, run in enumerate(case.program[:limit]):
        made = make(case, choice, level, run, first=number == 0, histories=1)
        found.append(Leg(level, made, None))
        level = made.following
    return [*found, Leg(level, None, stop(case, choice, level))]
