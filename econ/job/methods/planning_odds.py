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

from econ.job.methods.catalogue import LEVELS, Level, RunFacts, catalogue, limit
from econ.job.methods.freeing import freed
from econ.job.methods.ranges import Span
from econ.job.methods.situation import Situation

ONE = Span(1.0, 1.0)
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
    return 0.0 if ratio == 0.0 else min(max(ratio, limit("least_ratio")), limit("most_ratio"))


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
        "angle": (here.steep, f"{here.angle:g} degrees, {limit('steep'):g} or more"),
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


def _ratio(name: str, words: str, key: str) -> Modifier:
    """A condition with the ratios that the catalogue has under a key."""
    ratio = catalogue().ratios[key]
    return Modifier(name, words, ratio.catching, ratio.freeing)


def _hole(here: Situation) -> Modifier | None:
    reach = here.reach
    if reach is None or reach < limit("reach_some"):
        return None
    key = "hole_far"
    if reach <= limit("reach_far"):
        key = "hole_some" if reach < limit("reach_hook") else "hole_wide"
    return _ratio("hole", f"hole {reach:.2g} times the fish top", key)


def _hole_beyond_reach(here: Situation) -> Modifier | None:
    """A wall hook is stated for an enlarged hole; only far beyond the fish it loses."""
    reach = here.reach
    if reach is None or reach <= limit("reach_far"):
        return None
    return _ratio("hole", f"hole {reach:.2g} times the fish top", "hook_far")


def _angle(here: Situation) -> Modifier | None:
    if not here.steep:
        return None
    words = f"{here.angle:g} degrees: drag, low-side lie, weaker blow"
    return _ratio("angle", words, "angle" if here.angle <= limit("very_steep") else "angle_more")


def _angle_freeing(here: Situation) -> Modifier | None:
    """What is attached needs no catching."""
    found = _angle(here)
    return (
        None if found is None else replace(found, name="drag", catching=found.freeing, freeing=ONE)
    )


def _top(here: Situation) -> Modifier | None:
    if here.top_condition not in BROKEN_TOPS:
        return None
    return _ratio("top", f"top {here.top_condition}, not dressed", "top")


def _top_inside(here: Situation) -> Modifier | None:
    """A catch in the bore minds what spoils the bore, not a torn or belled outside."""
    return _top(here) if here.top_condition in ("bent", "split") else None


def _fill(here: Situation) -> Modifier | None:
    if here.fill is None:
        if here.top_condition != "buried":
            return None
        some, more = (catalogue().ratios[key] for key in ("fill", "fill_deep"))
        return Modifier(
            "fill",
            "top buried, height of fill not known",
            Span(more.catching.low, some.catching.high),
            Span(more.freeing.low, some.freeing.high),
        )
    if not here.covered:
        return None
    key = "fill" if here.fill <= limit("deep_fill") else "fill_deep"
    return _ratio("fill", f"{here.long(here.fill)} of fill over the top", key)


def _bore(here: Situation) -> Modifier | None:
    if here.bore_open is not False:
        return None
    return _ratio("bore", "bore plugged, no circulation", "bore")


def _bore_inside(here: Situation) -> Modifier | None:
    return _ratio("bore", "bore plugged", "bore_inside") if here.bore_open is False else None


def _length(here: Situation) -> Modifier | None:
    """A ratio for each length of a long fish beyond the first."""
    long = limit("long_fish")
    if here.length <= long:
        return None
    each, times = catalogue().ratios["length"].freeing, (here.length - long) / long
    words = f"fish of {here.long(here.length)}, over {here.long(long)}"
    return Modifier("length", words, freeing=Span(each.low**times, each.high**times))


def _losses(here: Situation) -> Modifier | None:
    return _ratio("losses", "mud is lost while fishing", "losses") if here.losses else None


def _off_bottom(here: Situation) -> Modifier | None:
    if not here.hangs:
        return None
    gap = here.long(here.depth - here.bottom)
    words = "hangs off bottom" + (f", {gap} above it" if here.depth > here.bottom else "")
    return _ratio("off_bottom", words, "off_bottom")


def _ferrous(here: Situation) -> Modifier | None:
    return _ratio("ferrous", "not magnetic", "not_magnetic") if here.ferrous is False else None


def _hard_rock(here: Situation) -> Modifier | None:
    return _ratio("hard_rock", "hard rock", "hard_rock") if here.hardness == "hard" else None


def _differential(here: Situation) -> Modifier | None:
    if here.mechanism in ("differential", "unknown"):
        return None
    return _ratio("differential", "not differentially stuck", "not_differential")


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
