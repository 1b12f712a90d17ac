"""Planning odds of a kind of run on this fish: level, ceiling by what holds it, odds ratios.

1. Level. Each kind counts some of: the top (not known, or leaning), the hole at the top
   (out of gauge), the angle (30 degrees or more), what holds the fish (not known), a hole
   that is not stable, and what the kind hangs on and nobody knows (bore, metal, rock, fine
   junk). None wrong is good, one is fair, two or more is poor.
2. Ceiling. A fish that is jarred comes out no more often than it is caught and then freed:
       whole <= goal met x freed by the first hard jarring, end by end.
   So a mechanism that is known acts here, and not in the level as well.
3. Odds ratios of the conditions, p' = r p / (1 - p + r p): on the goal r is the product of
   the ratios on catching; on the whole fish also of those on freeing. The product is kept
   between 0.02 and 3, so that nobody reads certainty; a ratio of 0 is none at all.
4. An enlarged hole and a steep angle may be counted in the level or by their ratio. Each is
   taken once, the way that leaves the lower odds, end by end.

All numbers are judgement, no source, for a first attempt.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import chain, combinations
from types import MappingProxyType

from econ.job.methods.catalogue import LEVELS, Level, RunFacts, catalogue
from econ.job.methods.freeing import freed
from econ.job.methods.ranges import Span
from econ.job.methods.situation import STEEP, Situation

LEAST_RATIO, MOST_RATIO = 0.02, 3.0
LONG_FISH = 500.0  # [ft]
ONE = Span(1.0, 1.0)
NONE = Span(0.0, 0.0)
BROKEN_TOPS = ("damaged", "ragged", "belled", "bent", "split")
TAKEN_ONCE = ("hole", "angle")


@dataclass(frozen=True)
class Modifier:
    """A condition and its odds ratios [ratio] on catching and on freeing."""

    name: str
    words: str
    catching: Span = ONE
    freeing: Span = ONE


@dataclass(frozen=True)
class PlanningOdds:
    """Planning odds [fraction], and what made them.

    level, wrong: the level and what lowered it; modifiers: the ratios that acted; ceiling:
    odds that the first hard jarring frees it, where that bounds the whole fish.
    """

    level: Level
    wrong: tuple[str, ...]
    modifiers: tuple[Modifier, ...]
    ceiling: Span | None
    goal_met: Span
    whole: Span


def planning_odds(facts: RunFacts, here: Situation) -> PlanningOdds:
    """Odds of a kind of run before anything is tried."""
    if facts.freed_by_hours is not None:
        span = freed(here.mechanism, hours=facts.freed_by_hours)
        every = MappingProxyType(dict.fromkeys(LEVELS, span))
        facts = replace(facts, goal_met=every, whole=every)
    wrong = _wrong(facts, here)
    modifiers = _modifiers(facts, here)
    ceiling = _ceiling(facts, here)
    goal_met, whole = Span(1.0, 1.0), Span(1.0, 1.0)
    for by_ratio in _subsets([name for name in TAKEN_ONCE if name in wrong]):
        level = _level(len(wrong) - len(by_ratio))
        acting = [each for each in modifiers if each.name not in wrong or each.name in by_ratio]
        catching = combined(each.catching for each in acting)
        both = combined(each.catching.times(each.freeing) for each in acting)
        base = facts.whole[level]
        if ceiling is not None:
            base = base.below(facts.goal_met[level].times(ceiling))
        goal_met = goal_met.below(facts.goal_met[level].shifted(catching))
        whole = whole.below(base.shifted(both))
    return PlanningOdds(
        level=_level(len(wrong)),
        wrong=tuple(wrong.values()),
        modifiers=modifiers,
        ceiling=ceiling,
        goal_met=goal_met,
        whole=whole,
    )


def combined(ratios: Iterable[Span]) -> Span:
    """Product of odds ratios, between 0.02 and 3; 0 where one of them is 0.

    >>> combined([Span(0.5, 0.8), Span(0.02, 10.0)])
    Span(low=0.02, high=3.0)
    """
    product = ONE
    for ratio in ratios:
        product = product.times(ratio)
    return Span(_kept(product.low), _kept(product.high))


def _kept(ratio: float) -> float:
    return 0.0 if ratio == 0.0 else min(max(ratio, LEAST_RATIO), MOST_RATIO)


def _level(wrong: int) -> Level:
    return LEVELS[min(wrong, 2)]


def _subsets(names: Sequence[str]) -> Iterable[tuple[str, ...]]:
    return chain.from_iterable(combinations(names, size) for size in range(len(names) + 1))


def _wrong(facts: RunFacts, here: Situation) -> dict[str, str]:
    """What lowers the level of this kind, by name, with the words for it."""
    unstable = here.mechanism in ("cavings", "mobile_formation", "collapse")
    leaning = here.leans
    unknown_top = "the top is not known"
    found: dict[str, tuple[bool, str]] = {
        "top": (
            here.top_condition == "unknown" or leaning,
            "the top leans" if leaning else unknown_top,
        ),
        "top_to_lean": (here.top_condition == "unknown", unknown_top),
        "hole": (
            here.enlarged,
            f"hole {here.wide(here.hole_at_top)} at the top, bit {here.wide(here.hole)}",
        ),
        "angle": (here.angle >= STEEP, f"{here.angle:g} degrees, {STEEP:g} or more"),
        "mechanism": (here.mechanism == "unknown", "what holds it is not known"),
        "stable": (unstable, "the hole is not stable"),
        "bore": (here.bore_open is None, "whether the bore is open is not known"),
        "metal": (here.ferrous is None, "whether it is magnetic is not known"),
        "rock": (here.hardness is None, "the hardness of the rock is not known"),
        "slack": (here.tension is not True, "the pipe is not known to be in tension at the cut"),
        "fine": (not here.fine, "the junk is not known to be fine"),
    }
    return {name: found[name][1] for name in facts.counts if found[name][0]}


def _ceiling(facts: RunFacts, here: Situation) -> Span | None:
    """Odds of freeing by jarring, for kinds that free so; washing does not help a collapse."""
    bound = facts.jarred or (bool(facts.over_fish) and here.mechanism == "collapse")
    hold = catalogue().mechanisms.get(here.mechanism)
    return hold.frees if bound and hold is not None else None


def _modifiers(facts: RunFacts, here: Situation) -> tuple[Modifier, ...]:
    """The odds ratios that act on this kind here, in the order of the catalogue."""
    acting = [_RATIOS[name](here) for name in facts.ratios]
    return tuple(each for each in acting if each is not None)


def _hole(here: Situation) -> Modifier | None:
    reach = here.reach
    if reach is None or reach < 1.2:
        return None
    ratio = 0.8 if reach < 1.5 else 0.4 if reach <= 2 else 0.15
    return Modifier("hole", f"hole {reach:.2g} times the fish top", Span(ratio, ratio))


def _hole_beyond_reach(here: Situation) -> Modifier | None:
    """A wall hook is stated for an enlarged hole; only beyond twice the fish it loses."""
    reach = here.reach
    if reach is None or reach <= 2:
        return None
    ratio = 0.4 / 0.7  # restores a plain catch to 0.7 up to twice the fish, to 0.4 beyond
    return Modifier("hole", f"hole {reach:.2g} times the fish top", Span(ratio, ratio))


def _angle(here: Situation) -> Modifier | None:
    if here.angle < STEEP:
        return None
    catching, freeing = (0.8, 0.75) if here.angle <= 60 else (0.5, 0.45)
    words = f"{here.angle:g} degrees: drag, low-side lie, weaker blow"
    return Modifier("angle", words, Span(catching, catching), Span(freeing, freeing))


def _angle_freeing(here: Situation) -> Modifier | None:
    """What is attached needs no catching."""
    found = _angle(here)
    return (
        None if found is None else replace(found, name="drag", catching=found.freeing, freeing=ONE)
    )


def _top(here: Situation) -> Modifier | None:
    if here.top_condition not in BROKEN_TOPS:
        return None
    return Modifier("top", f"top {here.top_condition}, not dressed", Span(0.35, 0.5))


def _top_inside(here: Situation) -> Modifier | None:
    """A catch in the bore minds what spoils the bore, not a torn or belled outside."""
    return _top(here) if here.top_condition in ("bent", "split") else None


def _fill(here: Situation) -> Modifier | None:
    some, more = (0.6, 0.7), (0.3, 0.4)
    if here.fill is None:
        if here.top_condition != "buried":
            return None
        words, low, high = "top buried, height of fill not known", more, some
    elif here.covered:
        low = high = some if here.fill <= 30 else more
        words = f"{here.long(here.fill)} of fill over the top"
    else:
        return None
    return Modifier("fill", words, Span(low[0], high[0]), Span(low[1], high[1]))


def _bore(here: Situation) -> Modifier | None:
    if here.bore_open is not False:
        return None
    return Modifier("bore", "bore plugged, no circulation", Span(0.9, 0.9), Span(0.7, 0.7))


def _bore_inside(here: Situation) -> Modifier | None:
    if here.bore_open is not False:
        return None
    return Modifier("bore", "bore plugged", NONE, NONE)


def _length(here: Situation) -> Modifier | None:
    if here.length <= LONG_FISH:
        return None
    ratio = 0.75 ** ((here.length - LONG_FISH) / 500.0)
    words = f"fish of {here.long(here.length)}, over {here.long(LONG_FISH)}"
    return Modifier("length", words, freeing=Span(ratio, ratio))


def _losses(here: Situation) -> Modifier | None:
    if not here.losses:
        return None
    return Modifier("losses", "mud is lost while fishing", Span(0.9, 0.9), Span(0.6, 0.6))


def _off_bottom(here: Situation) -> Modifier | None:
    if not here.hangs:
        return None
    gap = here.long(here.depth - here.bottom)
    words = "hangs off bottom" + (f", {gap} above it" if here.depth > here.bottom else "")
    return Modifier("off_bottom", words, Span(0.95, 0.95), Span(0.9, 0.9))


def _ferrous(here: Situation) -> Modifier | None:
    return Modifier("ferrous", "not magnetic", NONE, NONE) if here.ferrous is False else None


def _hard_rock(here: Situation) -> Modifier | None:
    if here.hardness != "hard":
        return None
    return Modifier("hard_rock", "hard rock", Span(0.3, 0.3))


def _differential(here: Situation) -> Modifier | None:
    if here.mechanism in ("differential", "unknown"):
        return None
    return Modifier("differential", "not differentially stuck", NONE, NONE)


_RATIOS = {
    "hole": _hole,
    "hole_beyond_reach": _hole_beyond_reach,
    "angle": _angle,
    "angle_freeing": _angle_freeing,
    "top": _top,
    "top_inside": _top_inside,
    "fill": _fill,
    "bore": _bore,
    "bore_inside": _bore_inside,
    "length": _length,
    "losses": _losses,
    "off_bottom": _off_bottom,
    "ferrous": _ferrous,
    "hard_rock": _hard_rock,
    "differential": _differential,
}
