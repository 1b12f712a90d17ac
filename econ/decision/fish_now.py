"""The fish as a log leaves it, for whoever chooses a kind of run for it.

The top is where the last row that tells its depth has it, or where the parts that came out leave
it on average. Its condition is the one that the last row tells. A row that tells none leaves it as
it was, but `top_damaged` leaves it damaged, `part` leaves a new top that nobody has seen, and a run
that dresses leaves a damaged top clean. Marks are those that hold now, those of the runs made among
them. Pieces above the new top are out. Sizes at another top are those of the piece there, where the
file has them; where it has not, they stay as the file has them for the top before, because no log
tells them.
"""

from __future__ import annotations

from collections.abc import Sequence

from econ.decision.run_log import inputs_after, mean_top
from econ.engine.level import begin
from econ.engine.marks import words_of
from econ.scenario.hole import Fish, Piece
from econ.scenario.marks import made
from econ.scenario.program import Run
from econ.scenario.quantities import UNITS
from econ.scenario.run_log import LoggedRun
from econ.scenario.scenario import Scenario


def fish_now(scenario: Scenario, log: Sequence[LoggedRun]) -> Scenario:
    """The scenario, in its own units, with its fish as the log leaves it; itself without a log."""
    if not log:
        return scenario
    level = begin(inputs_after(scenario, log).pilot())
    factor = 1.0 if scenario.units == "field" else UNITS["length"][2] or 1.0
    old, top = scenario.fish, mean_top(level) / factor
    marks = int(level.marks.ravel()[0])
    held = [*words_of(marks, scenario.marks)]
    if level.damaged.all():
        held.append("damaged_top")
    runs = {row.run + 1 for row in log if row.finished and row.run < len(scenario.run)}
    moved = abs(top - old.top) > 1e-9 * old.bottom
    pieces = _pieces(old, top)
    outside, inside = old.outside_diameter, old.inside_diameter
    if moved and pieces:
        outside = pieces[0].outside_diameter or outside
        inside = pieces[0].bore or inside
    gone = set(old.marks).difference(held)  # taken by a run, or seen not to hold
    fish = old.model_copy(
        update={
            "sealed_source": old.sealed_source and "source" not in gone,
            "explosives": old.explosives and "live" not in gone,
            "written_consent": old.written_consent or "no_touch" in gone,
            "top": top,
            "outside_diameter": outside,
            "inside_diameter": inside,
            "top_condition": _condition(scenario, log),
            "marks": [*held, *map(made, sorted(runs))],
            "piece": pieces,
            "thread_up": None if moved else old.thread_up,
        }
    )
    return scenario.model_copy(update={"fish": fish})


def _condition(scenario: Scenario, log: Sequence[LoggedRun]) -> str:
    """The condition of the top now, a word of fish.top_condition."""
    condition: str = scenario.fish.top_condition
    for row in log:
        action = scenario.actions[row.run]
        if row.top_condition is not None:
            condition = row.top_condition
        elif row.outcome == "top_damaged":
            condition = "damaged"
        elif row.outcome == "part":
            condition = "unknown"
        elif row.finished and isinstance(action, Run) and action.dresses_top:
            condition = "clean" if condition == "damaged" else condition
    return condition


def _pieces(fish: Fish, top: float) -> list[Piece]:
    """The pieces, or their parts, that are below a top."""
    left: list[Piece] = []
    below = fish.top
    for piece in fish.piece:
        above, below = below, below + piece.length
        length = min(piece.length, below - top)
        if length <= 0:
            continue
        weight = piece.weight
        if above < top and weight is not None and piece.length > 0:
            weight *= length / piece.length
        left.append(piece.model_copy(update={"length": length, "weight": weight}))
    return left
