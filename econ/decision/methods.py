"""The kinds of run in order of money: odds against each kind's own break-even odds.

    C     = hours/24 x (spread + fishing day) + charge
    p*    = C / (F - S)
    gain  = p (F - S) - C                against stopping now
with F the cheapest fallback from the present fish top and S the tail after recovery. A run that
brings no fish by itself is worth what the best catch after it is worth:

    C = C1 + g C2,  p = p1 + (g - p1) p2
with g the chance that it does its own job, and p2, C2 those of the catch on the fish as it is then.
Losses of the string and the hole are left out, and no failure teaches here: `econ answer` does
both. All are means, at the middle of every range. Without a fallback the order is by cost for a
chance, without rates by hours for a chance.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from econ.decision.fish_now import fish_now
from econ.decision.quick import quick
from econ.decision.run_log import inputs_after
from econ.engine.case import ENDS
from econ.job.methods.catalogue import CHARGES_IN, RunFacts, catalogue, limit
from econ.job.methods.ranges import Span
from econ.job.methods.situation import Situation, situation
from econ.job.methods.survey import Methods, Suitability, Worth, all_judged
from econ.job.methods.work_hours import worked_length
from econ.scenario.amounts import mean_of
from econ.scenario.marks import ATTACHED
from econ.scenario.program import Common
from econ.scenario.run_log import LoggedRun
from econ.scenario.scenario import Scenario
from econ.scenario.settings import Limits

LEAST_CHANCE = 1e-6


def methods(scenario: Scenario, log: Sequence[LoggedRun] = ()) -> Methods:
    """The kinds of run of the catalogue against this fish, best in money first, barred ones last.

    log: runs made so far; the fish is then as they left it (`econ.decision.fish_now`), and there
    is no kind where they ended the job.

    >>> from econ.scenario import load
    >>> [each.kind for each in methods(load("scenarios/c_bit_cones.toml")).kinds][:3]
    ['junk_mill', 'rc_basket', 'magnet']
    """
    prices = _prices(scenario, log)
    if log and log[-1].outcome in ENDS:
        return Methods(scenario, (), tuple(log))
    scenario = fish_now(scenario, log)
    here = situation(scenario)
    kinds = [
        replace(each, worth=_worth(scenario, each, here, prices))
        for each in all_judged(scenario, here)
    ]
    kinds = [_with_made(each, scenario, log) for each in kinds]
    kinds.sort(key=_place)
    return Methods(scenario, tuple(_explained(each, kinds) for each in kinds), tuple(log))


def _with_made(each: Suitability, scenario: Scenario, log: Sequence[LoggedRun]) -> Suitability:
    """A kind of run with a remark on every run of it that the log has."""
    said = [
        f"run {row.run + 1} was of this kind: {row.outcome.replace('_', ' ')}"
        for row in log
        if row.run < len(scenario.run) and scenario.run[row.run].kind == each.kind
    ]
    return replace(each, remarks=(*each.remarks, *said)) if said else each


@dataclass(frozen=True)
class _Prices:
    """Day rate while fishing [currency/d], what recovery saves, F - S [currency]; None where the
    file does not tell."""

    day: float | None
    saves: float | None


def _prices(scenario: Scenario, log: Sequence[LoggedRun]) -> _Prices:
    if "rates" in scenario.stand_ins:
        return _Prices(None, None)
    spread = sum(map(mean_of, scenario.rates.values()))
    fishing = sum(map(mean_of, scenario.fishing.day_rates.values()))
    day = spread + fishing
    if "fallback" in scenario.stand_ins or "well.shoe_depth" in scenario.stand_ins:
        return _Prices(day, None)
    if scenario.trip_speed is None and any(hasattr(each, "woc") for each in scenario.fallback):
        return _Prices(day, None)
    tail = scenario.recovery
    share = mean_of(tail.fishing_share)
    after = mean_of(tail.hours) / 24 * (spread + share * fishing) + mean_of(tail.charge)
    plain: dict[str, object] = {
        "rental": [],
        "correlation": [],
        "common": Common(),
        "limits": Limits(minimum_runs=0),
    }
    if not log:
        plain |= {"run": [], "reading": []}
    stop = scenario.model_copy(update=plain)
    fallback = float(quick(inputs_after(stop, log)).cost[:, 0].mean())
    return _Prices(day, fallback - after)


def _worth(scenario: Scenario, each: Suitability, here: Situation, prices: _Prices) -> Worth:
    facts = catalogue().kinds[each.kind]
    own = _Steps(each, scenario, here, prices)
    change = _AFTER.get(each.kind)
    if each.kind in _DEBRIS and "junk" in here.marks:
        change = _cleaned
    if each.verdict == "no" or change is None:
        return own.worth(None)
    then = change(here)
    held = here.mechanism != "parted"
    ratio = limit("washed_ratio") if held and "washed" in facts.gives else 1.0
    follow = [
        _Steps(other, scenario, then, prices, ratio=ratio)
        for other in all_judged(scenario, then)
        if other.kind not in _AFTER and other.verdict != "no" and other.whole.high > 0
    ]
    if not follow:
        return own.worth(None)
    best = max((own.worth(step) for step in follow), key=lambda found: -_dear(found))
    return best


class _Steps:
    """A kind of run with its mean chances, days and cost."""

    def __init__(
        self,
        each: Suitability,
        scenario: Scenario,
        here: Situation,
        prices: _Prices,
        *,
        ratio: float = 1.0,
    ) -> None:
        facts = catalogue().kinds[each.kind]
        self.kind = each.kind
        self.prices = prices
        self.goal = each.goal_met.middle
        self.chance = min(each.whole.shifted(Span(ratio, ratio)).middle, self.goal)
        self.days = None if each.hours is None else each.hours.likely / 24
        self.cost = (
            None
            if self.days is None or prices.day is None
            else self.days * prices.day + _charge(facts, scenario, here)
        )

    def worth(self, then: _Steps | None) -> Worth:
        """Worth of it, and of a catch after it."""
        chance, days, cost = self.chance, self.days, self.cost
        if then is not None:
            chance += (self.goal - self.chance) * then.chance
            days = _sum(days, self.goal, then.days)
            cost = _sum(cost, self.goal, then.cost)
        saves = self.prices.saves
        known = cost is not None and saves is not None
        return Worth(
            then=None if then is None else then.kind,
            chance=chance,
            days=days,
            cost=cost,
            break_even=cost / saves if cost is not None and saves and saves > 0 else None,
            gain=chance * saves - cost
            if known and cost is not None and saves is not None
            else None,
        )


def _sum(own: float | None, goal: float, then: float | None) -> float | None:
    return None if own is None or then is None else own + goal * then


def _charge(facts: RunFacts, scenario: Scenario, here: Situation) -> float:
    """Charge of a run [currency]: of such a run in the file, else of the catalogue, if it counts
    in the money of the file."""
    for run in scenario.run:
        if run.kind == facts.id and mean_of(run.charge) > 0:
            return mean_of(run.charge)
    if scenario.currency != CHARGES_IN:
        return 0.0
    by_length = facts.charge["foot"].middle if "foot" in facts.charge else 0.0
    return facts.charge["run"].middle + by_length * worked_length(facts, here)


def _dear(worth: Worth) -> float:
    """What comes first has the least: minus the gain, else cost or days for a chance."""
    if worth.gain is not None:
        return -worth.gain
    amount = worth.days if worth.cost is None else worth.cost
    if amount is None:
        return -worth.chance
    return amount / worth.chance if worth.chance > LEAST_CHANCE else math.inf


def _place(each: Suitability) -> tuple[bool, float]:
    assert each.worth is not None
    return each.verdict == "no", _dear(each.worth)


def _explained(each: Suitability, kinds: Sequence[Suitability]) -> Suitability:
    """A doubtful kind with better odds than one that suits says why it is doubtful all the same."""
    if each.verdict != "doubtful" or each.worth is None:
        return each
    worse = [
        other.kind
        for other in kinds
        if other.verdict == "suits"
        and other.worth is not None
        and other.purpose == each.purpose
        and other.worth.chance < each.worth.chance
    ]
    if not worse:
        return each
    names = " and ".join(catalogue().kinds[kind].name.lower() for kind in worse)
    suit = "which suits" if len(worse) == 1 else "which suit"
    said = f"better odds than {names}, {suit}, once this is settled: {each.reasons[0]}"
    return replace(each, reasons=(*each.reasons, said))


def _parted(here: Situation, *, top: str) -> Situation:
    told = here.told - {ATTACHED, "circulates"}
    return replace(here, told=told, top_condition=top, thread_up=None)


def _uncovered(here: Situation) -> Situation:
    top = "unknown" if here.top_condition == "buried" else here.top_condition
    return replace(here, told=here.told - {"buried"}, top_condition=top, fill=0.0)


def _cleaned(here: Situation) -> Situation:
    top = "unknown" if here.top_condition == "loose_junk" else here.top_condition
    return replace(here, told=here.told - {"junk"}, top_condition=top)


# What a run that brings no fish by itself leaves to the catch after it.
_AFTER: dict[str, Callable[[Situation], Situation]] = {
    "dress_top": lambda here: replace(here, top_condition="clean", thread_up="none"),
    "condition_trip": _uncovered,
    "washover": _uncovered,
    "outside_cut": lambda here: replace(_uncovered(here), top_condition="clean", thread_up="none"),
    "freepoint_backoff": lambda here: _parted(here, top="clean"),
    "sever": lambda here: _parted(here, top="ragged"),
    "chemical_cut": lambda here: replace(_parted(here, top="clean"), thread_up="none"),
    "source_retrieval": lambda here: replace(
        here, told=here.told - {"source", "no_touch"}, hazards=here.hazards - {"source"}
    ),
}
_DEBRIS = ("magnet", "core_basket", "rc_basket", "boot_basket")  # taken off a long fish
