"""Odds of the seven outcomes of a run to start from, on a fish in its favour and on one not.

A planning chance m is the mixture of both kinds of fish at the prior chance w that the fish is
in favour of the run. The two are a fixed ratio R of the odds apart:

    w p + (1 - w) s = m,   p/(1 - p) = R s/(1 - s)
so with k = R - 1 the smaller of the two solves
    (1 - w) k s^2 + (w R + 1 - w - m k) s - m = 0
Each is strictly between 0 and 1 where m is, so that no run is certain and no failure is proof.

The goal and the whole fish are split so. What the goal leaves beside the whole fish and a part of
it is `prepared`, of a run that changes something then; a part that is stated for a goal that is
met is taken of it. The other outcomes are taken at the low end, the middle or the high end of
their ranges where the level is good, fair or poor; a catch dropped on the way out leaves a top
that is deeper or to one side, so it counts as a top damaged. The rest is `nothing`, never below
the least of the catalogue. All values are judgement, no source.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from econ.job.methods.catalogue import LEVELS, Level, RunFacts, limit
from econ.job.methods.ranges import Span
from econ.job.methods.survey import Suitability

OTHERS = ("top_damaged", "string_lost", "hole_lost")


@dataclass(frozen=True)
class StartingOdds:
    """Odds [fraction] of the outcomes by kind of fish: in favour, and not."""

    favourable: dict[str, float]
    unfavourable: dict[str, float]

    def belief_after_nothing(self, prior: float) -> float:
        """Chance that the fish is in favour after one run that changed nothing, by Bayes."""
        one = prior * self.favourable["nothing"]
        other = (1.0 - prior) * self.unfavourable["nothing"]
        return one / (one + other)


def by_kind(chance: float, *, workable: float, ratio: float) -> tuple[float, float]:
    """Chance [fraction] on a fish in favour and on one not, whose mixture at the prior `workable`
    is `chance` and whose odds are `ratio` [ratio] apart.

    >>> p, s = by_kind(0.4, workable=0.7, ratio=10.0)
    >>> round(0.7 * p + 0.3 * s, 12), round(p / (1 - p) / (s / (1 - s)), 9)
    (0.4, 10.0)
    """
    if not 0.0 < chance < 1.0:
        return chance, chance
    more = ratio - 1.0
    square = (1.0 - workable) * more
    linear = workable * ratio + 1.0 - workable - chance * more
    root = math.sqrt(linear * linear + 4.0 * square * chance)
    low = 2.0 * chance / (linear + root) if linear > 0 else (root - linear) / (2.0 * square)
    return ratio * low / (1.0 + more * low), low


def starting_odds(facts: RunFacts, judged: Suitability, *, workable: float) -> StartingOdds:
    """Starting odds of a kind of run on this fish. workable: prior chance that it is in favour."""
    ratio = limit("split_ratio")
    goal = by_kind(judged.goal_met.middle, workable=workable, ratio=ratio)
    middle = min(judged.whole.middle, judged.goal_met.middle)
    whole = by_kind(middle, workable=workable, ratio=ratio)
    room = _room(facts, judged)
    if whole[0] > room and workable < 1.0:  # the mixture is kept, and the two stand closer
        rest = (middle - workable * room) / (1.0 - workable)
        whole = room, min(rest, room)
    least = (
        2 * _least(),
        _least(),
    )  # a run that did its job is some evidence
    tables = [
        _table(facts, judged, goal=met, whole=out, least=some)
        for met, out, some in zip(goal, whole, least, strict=True)
    ]
    return StartingOdds(*tables)


def mixed_odds(facts: RunFacts, judged: Suitability) -> dict[str, float]:
    """Starting odds of a kind of run in one table, for a file without kinds of fish."""
    whole = min(judged.whole.middle, judged.goal_met.middle)
    return _table(facts, judged, goal=judged.goal_met.middle, whole=whole, least=_least())


def changes(facts: RunFacts) -> bool:
    """Whether a run of this kind that did its own job leaves anything changed."""
    return bool(facts.gives or facts.takes or facts.dresses_top)


def _harm(facts: RunFacts, judged: Suitability) -> dict[str, float]:
    """Odds of what goes wrong, and of a part that is no share of the goal."""
    odds = {name: _at_level(getattr(judged, name), judged.level) for name in OTHERS}
    if facts.dropped is not None:
        odds["top_damaged"] += _at_level(facts.dropped, judged.level)
    if not facts.part_given_goal:
        odds["part"] = _at_level(judged.part, judged.level)
    known = _known(facts)
    return {name: max(chance, _least()) if known[name] else 0.0 for name, chance in odds.items()}


def _room(facts: RunFacts, judged: Suitability) -> float:
    """What harm and the least of no change leave to the whole fish."""
    small = 2 * _least() * (changes(facts) + facts.part_given_goal)
    return 1.0 - limit("least_nothing") - sum(_harm(facts, judged).values()) - small


def _table(
    facts: RunFacts, judged: Suitability, *, goal: float, whole: float, least: float
) -> dict[str, float]:
    """Odds of one kind of fish; least: of `prepared`, where the trade knows of it."""
    odds, known = _harm(facts, judged), _known(facts)
    whole = max(min(whole, _room(facts, judged)), _least()) if known["recovered"] else 0.0
    room = 1.0 - limit("least_nothing") - sum(odds.values()) - whole
    if facts.part_given_goal:
        odds["part"] = max(min(judged.part.middle * goal, goal - whole, room - least), _least())
        room -= odds["part"]
        goal -= odds["part"]
    still = max(min(goal - whole, room), least) if known["prepared"] else 0.0
    odds |= {"recovered": whole, "prepared": still}
    return {**odds, "nothing": 1.0 - sum(odds.values())}


def _known(facts: RunFacts) -> dict[str, bool]:
    """Whether the trade knows an outcome of this kind of run at any level."""
    spans: dict[str, Span] = {name: getattr(facts, name) for name in ("part", *OTHERS)}
    known = {name: span.high > 0 for name, span in spans.items()}
    known["top_damaged"] = known["top_damaged"] or facts.dropped is not None
    known["recovered"] = any(facts.whole[level].high > 0 for level in LEVELS)
    known["prepared"] = changes(facts)
    return known


def _least() -> float:
    """What the trade knows to happen is never printed as 0."""
    return limit("least_outcome")


def _at_level(span: Span, level: Level) -> float:
    return {"good": span.low, "fair": span.middle, "poor": span.high}[level]
