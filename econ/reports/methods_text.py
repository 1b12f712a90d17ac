"""The reading of the methods as plain ASCII text, as wide as every text of the program."""

from __future__ import annotations

import textwrap

from econ.job.methods.catalogue import catalogue
from econ.job.methods.ranges import Span
from econ.job.methods.survey import Methods, Suitability
from econ.reports import safety
from econ.reports.after_log import ended, over, since
from econ.reports.amounts import Amounts
from econ.reports.methods_tables import Row, methods_document
from econ.reports.words import WIDTH, one_line, wrap
from econ.scenario.marks import run_made
from econ.scenario.quantities import UNITS

PURPOSES = {
    "source": "to take the source out",
    "free": "to free",
    "reach": "to reach",
    "clean": "to clean",
    "catch": "to catch",
    "cut": "to cut",
    "junk": "to clear junk",
    "leave": "to leave it",
}
MONEY = (
    "Of a run that brings no fish by itself the odds, hours and cost hold the catch after it. "
    "Losses of string and hole and what a failure teaches are left out: econ answer has both."
)
STAND_INS = {
    "schema": "taken as 1",
    "currency": "amounts are in the money of the rates",
    "job": "the well has no name yet",
    "rates": "no cost is worked out, and the order is by hours for a chance",
    "fallback": "no break-even odds, and the order is by cost for a chance",
    "well.depth": "taken as the lower end of the fish",
    "well.shoe_depth": "all of the hole taken as open; no break-even odds",
}
ASSUMED = {
    "fish.top_condition": "taken as not known, which lowers the odds",
    "fish.mechanism": "taken as not known, which lowers the odds",
    "fish.bore_open": "what works inside is doubtful until it is known",
    "fish.outside_diameter": "taken to leave room",
    "fish.inside_diameter": "taken to be wide enough",
    "fish.largest_diameter": "taken as the top",
    "fish.ferrous": "a magnet is doubtful until it is known",
    "fish.fill": "taken as none",
    "fish.last_motion": "taken as none: jar up",
    "fish.tension": "taken as no tension at the cut",
    "fish.thread_up": "taken from the condition of the top",
    "well.diameter_at_top": "taken as the bit's",
    "well.hardness": "what cuts rock is doubtful until it is known",
    "well.losses": "taken as none",
}
CAUTION = (
    "A starting list for a talk with the fishing supervisor, who knows the tools and the hole; "
    "no procedure, and no tool is chosen by it. Suppliers' limits and well control come first."
)


def methods_text(methods: Methods) -> str:
    """What can harm people, the order of money by purpose, then every kind with its reasons."""
    if ended(methods.log) is not None:
        lines = [*wrap(f"METHODS for {one_line(methods.scenario.job.well)}"), *over(methods.log)]
        return "\n".join([*lines, "No kind of run is looked for."]) + "\n"
    whole = methods_document(methods)
    parts = [_head(methods, whole), _first(methods), _stand_ins(methods)]
    for verdict in ("suits", "doubtful"):
        listed = [each for each in methods.kinds if each.verdict == verdict]
        parts.append([verdict.upper() if listed else f"{verdict.upper()}: none"])
        parts += [_kind(each) for each in listed]
    parts += [_to_read(methods), _unsuited(methods), _unknown(whole), _program(whole), _how()]
    return "\n\n".join("\n".join(part) for part in parts if part) + "\n"


def _head(methods: Methods, whole: Row) -> list[str]:
    job = methods.scenario
    fish, well = job.fish, job.well
    length, diameter = (UNITS[name][job.units != "field"] for name in ("length", "diameter"))
    facts = [f"Fish {fish.top:,.10g} to {fish.bottom:,.10g} {length}"]
    hold = catalogue().mechanisms.get(fish.mechanism)
    if fish.top_condition == "loose_junk":
        facts = [f"Loose junk, {facts[0][5:]}"]
    else:
        facts.append(f"top {fish.top_condition}")
        facts.append(hold.words if hold else "what holds it not known")
    for words, size in (
        ("outside at the top", fish.outside),
        ("at its largest", fish.largest),
        ("bore", fish.inside),
        ("smallest bore", None if fish.narrowest == fish.inside else fish.narrowest),
        ("hole", well.hole_diameter),
        ("hole at the top", well.diameter_at_top),
    ):
        if size is not None:
            facts.append(f"{words} {size:.10g} {diameter}")
    facts.append(f"{well.inclination:g} degrees")
    lines = wrap(f"METHODS for {one_line(job.job.well)}")
    for words in safety.warnings(job):
        lines += wrap(words)
    lines += wrap(", ".join(facts) + ".")
    lines += _made(methods)
    frees = whole["fish"]["first_jarring_frees"]
    if frees is not None and fish.top_condition != "loose_junk":
        lines += wrap(
            f"Once well caught, the first hard jarring frees {_percent(Span(*frees))}. "
            f"What helps: {whole['fish']['helps']}."
        )
    lines += wrap(
        "All hours and odds here are planning ranges for a first attempt: judgement, no source. "
        "Hours are from wait over to laid down, at this file's trip speeds. Nothing here enters "
        "the answer unless you write it into a run."
    )
    return lines


def _made(methods: Methods) -> list[str]:
    """The runs that the log has, and how the fish is known from them; nothing without a log."""
    job = methods.scenario
    if not methods.log:
        return []
    lines = since(job, methods.log)
    for row in methods.log:
        lines += _item(f"{one_line(job.named(row.run))}: {row.outcome.replace('_', ' ')}")
    if marks := [mark for mark in job.fish.marks if run_made(mark) is None]:
        lines += wrap(f"Marks that hold now: {', '.join(marks)}.")
    upper = job.fish.piece[0] if job.fish.piece else None
    told = upper is not None and upper.outside_diameter is not None and upper.bore is not None
    if any(row.outcome == "part" for row in methods.log) and not told:
        lines += wrap(
            "Sizes at the top are those of the file, which tell of the top before: see that they "
            "fit the new one."
        )
    return lines


def _first(methods: Methods) -> list[str]:
    """Best in money first, by what the run is for; no barred kind among them."""
    worths = [e.worth for e in methods.kinds if e.worth is not None and e.verdict != "no"]
    sums = [abs(sum_) for w in worths for sum_ in (w.cost, w.gain) if sum_ is not None]
    money = Amounts(largest=max(sums, default=0.0), currency=methods.scenario.currency, digits=3)
    lines = []
    for purpose, words in PURPOSES.items():
        listed = [e for e in methods.kinds if e.purpose == purpose and e.verdict != "no"]
        if listed:
            lines += [f"{words[0].upper()}{words[1:]}:"]
        for each in listed:
            lines += _item(f"{each.kind} ({each.verdict}): {_worth(each, money)}")
    if not lines:
        return []
    told = f"BEST FIRST IN MONEY ({money.unit}), BY WHAT IT IS FOR"
    return [*wrap(told), *lines, *wrap(MONEY)]


def _worth(each: Suitability, money: Amounts) -> str:
    """Odds against the kind's own break-even odds, hours and cost; with the catch after it."""
    worth = each.worth
    if worth is None:
        return "not valued"
    words = "" if worth.then is None else f"then {worth.then}; "
    out = "junk out" if each.purpose in ("junk", "leave") else "fish out"
    words += f"{out} {_number_of(100 * worth.chance)} %"
    if worth.break_even is not None:
        words += f", pays above {_number_of(100 * worth.break_even)} %"
    if worth.days is not None:
        words += f"; {24 * worth.days:,.0f} h"
    if worth.cost is not None:
        words += f", costs {money.short(worth.cost)}"
    if worth.gain is not None:
        better = "saves" if worth.gain >= 0 else "loses"
        words += f"; {better} {money.short(abs(worth.gain))} against stopping now"
    return words


def _stand_ins(methods: Methods) -> list[str]:
    """What the file leaves out and what stands in for it."""
    missing = methods.scenario.stand_ins
    if not missing:
        return []
    lines = [line for name in missing for line in _item(f"{name}: {STAND_INS[name]}")]
    return ["NOT IN THE FILE YET", *lines]


def _kind(each: Suitability) -> list[str]:
    lines = [f"{each.name} ({each.kind})"]
    lines += [line for reason in each.reasons for line in _item(reason)]
    lines += _item(f"{_time(each)}; its own goal: {each.goal}")
    lines += _item(_odds(each))
    if each.modifiers:
        lines += _item("odds ratios: " + "; ".join(_ratio(each)))
    wrong = [
        f"{words} {_percent(span)}"
        for words, span in (
            ("only a part out", each.part),
            ("top damaged", each.top_damaged),
            ("string lost", each.string_lost),
            ("hole lost", each.hole_lost),
        )
        if span.high > 0
    ]
    lines += _item("else: " + ", ".join(wrong))
    if each.string:
        named = [f"{component.part} ({component.reason})" for component in each.string]
        lines += _item("the string: " + "; ".join(named))
    lines += [line for remark in each.remarks for line in _item(remark)]
    lines += _item(f"charges: {each.charges}")
    return lines


def _time(each: Suitability) -> str:
    trips = {0: "no round trip", 1: "one round trip"}.get(each.trips, f"{each.trips} round trips")
    if each.hours is None:
        return f"hours not known without [trip_speed]; {trips}"
    trips += f"; {each.rate}" if each.rate else ""
    return (
        f"{each.hours.low:.0f} to {each.hours.high:.0f} h, likely {each.hours.likely:.0f}, {trips}"
    )


def _odds(each: Suitability) -> str:
    level = f"level {each.level}"
    if each.lowered_by:
        level += f" ({'; '.join(each.lowered_by)})"
    if each.whole.high == 0:
        return f"odds: own goal met {_percent(each.goal_met)}; no fish by itself; {level}"
    out = "junk out" if each.purpose in ("junk", "leave") else "whole fish out"
    text = f"odds: {out} {_percent(each.whole)}"
    if each.goal_met != each.whole:
        text += f", its own goal met {_percent(each.goal_met)}"
    if each.whole_if_dressed is not None:
        text += f"; whole fish with the top dressed first {_percent(each.whole_if_dressed)}"
    return f"{text}; {level}"


def _ratio(each: Suitability) -> list[str]:
    found = []
    for modifier in each.modifiers:
        acts = [
            f"{words} x{_number(span)}"
            for words, span in (("catching", modifier.catching), ("freeing", modifier.freeing))
            if span != Span(1.0, 1.0)
        ]
        found.append(f"{modifier.words} ({', '.join(acts)})")
    return found


def _to_read(methods: Methods) -> list[str]:
    """Readings worth a thought while the top is not known."""
    fish = methods.scenario.fish
    if fish.top_condition not in ("unknown", "damaged") or "attached" in fish.marks:
        return []
    return [
        "TO READ FIRST",
        *_item(
            "impression_block: the top is not known; a reading of it before a tool is chosen "
            "(--run impression_block prints one)"
        ),
    ]


def _unsuited(methods: Methods) -> list[str]:
    """In short, kinds with the same reason together."""
    reasons: dict[str, list[str]] = {}
    for each in methods.kinds:
        if each.verdict == "no":
            reasons.setdefault(each.reasons[0], []).append(each.kind)
    lines = [line for reason, kinds in reasons.items() for line in _named(kinds, reason)]
    return ["DOES NOT SUIT", *lines] if lines else []


def _unknown(whole: Row) -> list[str]:
    """Keys the file leaves out, what is assumed meanwhile, and the kinds that hang on them."""
    lines = []
    for key, kinds in whole["not_known"].items():
        lines += _item(f"{key} ({ASSUMED[key]}): {', '.join(kinds)}")
    return ["NOT IN THE FILE, AND COULD CHANGE THIS", *lines] if lines else []


def _program(whole: Row) -> list[str]:
    lines = [line for each in whole["unsuited_runs"] for line in _item(each)]
    return ["IN THE PROGRAM, BUT DOES NOT SUIT", *lines] if lines else []


def _how() -> list[str]:
    return [
        "HOW TO READ THE ODDS",
        *_item(
            "level: good; fair with one wrong of a known top that does not lean, hole in gauge, "
            "under 30 degrees, what holds it known; poor with two. Each kind counts those that "
            "matter to it, and what it hangs on and nobody knows (bore, metal, rock, fine junk)."
        ),
        *_item(
            "a fish that is jarred comes out no more often than caught times freed by the first "
            "jarring."
        ),
        *_item(
            "odds ratios act on p/(1-p) and are multiplied, between 0.02 and 3. Enlarged hole and "
            "steep angle count once: in the level or by their ratio, whichever leaves less."
        ),
        *_item("what else may happen grows with time, angle and the length washed."),
        *wrap(CAUTION),
    ]


def _named(names: list[str], *words: str) -> list[str]:
    return _item(f"{', '.join(names)}: {', '.join(words)}")


def _percent(span: Span) -> str:
    low, high = (_number_of(100 * end) for end in (span.low, span.high))
    return f"{low} %" if low == high else f"{low} to {high} %"


def _number_of(percent: float) -> str:
    return f"{percent:.0f}" if percent >= 1.95 else f"{percent:.1f}".removesuffix(".0")


def _number(span: Span) -> str:
    low, high = f"{span.low:.2g}", f"{span.high:.2g}"
    return low if low == high else f"{low} to {high}"


def _item(words: str) -> list[str]:
    return textwrap.wrap(
        words,
        WIDTH,
        initial_indent="- ",
        subsequent_indent="  ",
        break_on_hyphens=False,
    )
