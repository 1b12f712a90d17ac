"""What the program says in words: each sentence stands here once, as a template over figures.

A verdict is said from a `Situation`: plain numbers and names, and no report. `case_of` chooses
one of nine cases, `TEMPLATES` holds the headline of each case and the sentences that may follow
it, and `verdict` fills them:

    said = verdict(Situation.of_answer(answer), money)
    said.case          "fish_required"
    said.headline      "Fish on, as required: at most 1 more run, about 2.4 days, then ..."
    said.sentences     what goes with it

Text, memo, figures, what-if and supplement call these functions. The page gets `TEMPLATES` as
data and chooses among them by the same rules, because its figures move in the browser. Nothing
here is read back: whoever must decide asks for the case, or for the figure itself.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from math import ceil
from typing import TYPE_CHECKING, Literal, get_args

from econ.decision import Answer
from econ.decision.rentals import Action
from econ.reports.amounts import Amounts
from econ.reports.names import one_line
from econ.reports.tables.answer import latest_start, no_limit_by_days
from econ.reports.tables.situation import Case, Situation, case_of, is_close
from econ.reports.words import more_runs, runs

if TYPE_CHECKING:
    from econ.decision.whatif import WhatIf

BY_LIST = "Limits are those of the runs in the order listed; econ plan takes them in any order."
Advice = Literal["go", "go_required", "do_not"]
Lines = list[tuple[str, str]]  # a label and the words behind it, without a full stop

TEMPLATES = {
    # Headlines, one a case. What stands before the colon is the verb.
    "recovered": "The fish is out: nothing is left to decide.",
    "string_lost": "Fishing is over: the fishing string is lost.",
    "hole_lost": "Fishing is over: the hole is lost.",
    "no_run": "No run is left: fishing ends unless another is listed{go_to}.",
    "fish": "Fish on: at most {more_runs}, about {days} days{then}.",
    "fish_required": "Fish on, as required: at most {more_runs}, about {days} days{then}.",
    "run_by_run": "Fish on, run by run: no limit by runs pays, but the rule by state does{by}. "
    "Decide after each outcome.",
    "by_plan": "Fish on, by a plan: as listed the runs do not pay, but chosen after each outcome "
    "they save {plan_gain}. Begin with {plan_first}.",
    "stop": "Stop fishing: 0 more runs, 0 days{go_to}.",
    # Before the headline of a verdict that costs nearly the same as its opposite
    "close_call": "Close call, leaning {headline}",
    # Parts of a headline
    "then": ", then {fallback}",
    "go_to": "; go to {fallback}",
    "by": ", by {rule_gain}",
    "or_another": "{fallback}, or whichever fallback is cheapest by then",
    # What goes with it
    "cost_recovered": "The work after recovery costs {expected_cost}.",
    "cost_fallback": "{fallback}: expected cost {expected_cost}.",
    "cost": "Expected cost {expected_cost}.",
    "cost_saving": "Expected cost {expected_cost}: {saving} less than stopping now "
    "({stopping_now}).",
    "cost_stopping": "Expected cost {expected_cost}; the best limit with a run in it costs "
    "{best_with_a_run}.",
    "minimum": "{least_runs} must be made (minimum_runs); without that it would cost "
    "{cost_of_minimum} less.",
    "rule": "Deciding after each outcome (rule by state) saves {rule_gain} more.",
    "rule_of_file": "In the file's case, deciding after each outcome (rule by state) saves "
    "{rule_gain} more; with sliders moved that is not worked out.",
    "plan": "A plan that chooses the run after each outcome saves {plan_gain} more; it begins with "
    "{plan_first}{show_plan}.",
    "plan_tonight": "Orders below: {most_runs}, {days} days at most; they save {plan_gain}.",
    "plan_of_file": "In the file's case, a plan that chooses the run after each outcome saves "
    "{plan_gain} more; with sliders moved that is not worked out.",
    "plan_stops": "A plan that chooses after each outcome saves {plan_gain} more: it stops "
    "now{show_plan}.",
    "show_plan": "; econ plan shows it",
    "list_more": "The best limit is the end of the list: list a further run to see whether it "
    "pays.",
    "reading": "Before that a reading pays: {reading}, {worth}.",
    "flat": "Flat: {flat} cost within 2 % of the best.",
    "tie": "Tie: {same} cost the same.",
    "unresolved": "Unresolved: {close} differ by less than the error of the computation{raise_n}.",
    "raise_n": "; raise n under [draws]",
    # What a limit gives
    "to_the_end": "Making every run as listed costs {to_the_end}.",
    "ends": "{recovered} chance that the fish comes out, at {if_recovered} on average; else a "
    "fallback, at {if_fallback}",
    "ends_recovered": "the fish comes out in any case, at {if_recovered} on average",
    "ends_fallback": "a fallback in any case, at {if_fallback} on average",
    "dearer": "{dearer} chance to end dearer than stopping now",
    "p90": "P90 is not exceeded 90 % of the time.",
    # The next run
    "odds": "{odds} against break-even {need}",
    "odds_never": "{odds}; it pays by itself at no odds",
    "gains": "gains {amount}",
    "loses": "loses {amount}",
    "prepares": "It pays only with the runs after it{look_for}.",
    "look_for": "; --order looks for a better program",
    "worth": "worth {worth} against {price}",
    "by_days": "start no run at or after day {day}{clock}; a run under way is finished",
    "latest_hour": "Latest hour to start a run: {moment}.",
    "by_days_none": "start no run",
    "by_days_free": "no limit by days is better than making every run",
    # Authority
    "stage_1": "{planned} planned if all runs fail, mean {mean}{p90}",
    "stage_1_owed": "no run is made; {mean} is owed in any case",
    "stage_1_none": "no run is made; nothing is asked for",
    "stage_1_after": "{mean} for the work after recovery",
    "out_dearer": "{if_recovered} is spent on average, the work after it included: more than "
    "planned, so ask that stage 2 may pay for it",
    "stage_2": "needed with {chance} chance, mean {mean}{p90}",
    "stage_2_none": "not needed",
    "and_p90": ", P90 {p90}",
    "slice_1a": "mean {mean}{p90}",
    "slice_1b": "{chance} chance, mean {mean}{p90}; drawn instead of stage 2",
    "call": "{mean} on average{p90}",
    "waiting": "To wait {hours} h{days} for a vote with the rig standing costs {cost}: ask before "
    "it is needed.",
    "working_days": " ({hours} h on working days)",
    "suffices": "{given} suffices for the whole with {suffices} chance{alone}, in the order listed",
    "alone": ", for the fishing alone with {alone}",
    "overspent": "none; overspent by {overspent}",
    "two_asks": "send the sum in the supplement, which counts all lines of the AFE. The sums "
    "above are held against the authority for this event alone.",
    "overspent_now": "Authority overspent by {overspent}: {spent} is spent, {authority} was given.",
    # The morning after
    "beyond_limit": "beyond the limit then in force",
    "beyond_limit_is": "Beyond the limit: the answer after the rows before it, worked out again on "
    "few draws, said stop: no limit, no rule by state and no plan with a further run cost less.",
    # The supplement
    "ask_recovered": "The fish is out. Asked for: authority for the work that is left to do.",
    "ask_string_lost": "The string is lost. Asked for: authority for the fallback, {fallback}.",
    "ask_hole_lost": "The hole is lost. Asked for: authority for the fallback, {fallback}.",
    "ask_stop": "Asked for: authority to stop fishing now. Fallback: {fallback}.",
    "ask_fish": "Asked for: authority to fish on (1a) up to the stop rule in runs, days or money, "
    "whichever comes first; then, without a further vote, for the work after the fish is "
    "out (1b) or, if it is not, for the fallback (2). Fallback: {fallback}.",
    "ask_fish_sure": "Asked for: authority to fish on up to the stop rule in runs, days or money, "
    "whichever comes first, and for the work after the fish is out. No fallback is asked "
    "for: the fish comes out in any case.",
    # Before and after a change
    "change_flips": "The verdict flips.",
    "change_limit": "The verdict stays, the best limit moves.",
    "change_unresolved": "The verdict stays; unresolved whether the best limit moves.",
    "change_none": "The verdict and the best limit stay.",
    "kept": "With the limit kept at {limit} the cost after would be {cost}, {more} more than at "
    "the new one.",
}
# Which of them a terminal shows with the words before the colon in capitals.
LOUD = frozenset({*get_args(Case), "tie", "unresolved", "change_flips"})
CERTAIN = 1e-6  # a chance this close to 0 or 1 is that but for the rounding of sums
COSTS = ("cost_recovered", "cost_fallback", "cost", "cost_saving", "cost_stopping")
ADVICE: dict[Advice, str] = {
    "go": "go",
    "go_required": "go, as required",
    "do_not": "do not make it",
}
ACTIONS: dict[Action, str] = {
    "lost": "lost with the string",
    "too_early": "call_out is too early",
    "release": "release it",
    "do_not_order": "do not order it",
    "keep": "keep it",
    "call_now": "call it now",
    "call_with_run": "call it with its run",
    "either": "call it now or with its run",
}


@dataclass(frozen=True)
class Said:
    """A verdict in words: which case it is, its headline, and the sentences that go with it.

    named: these sentences by the names of their templates; cost: that one which says what it costs.
    """

    case: Case
    headline: str
    cost: str
    named: tuple[tuple[str, str], ...]

    @property
    def sentences(self) -> tuple[str, ...]:
        """All of them."""
        return tuple(words for _, words in self.named)


# ---- the verdict ------------------------------------------------------------------------------


def verdict(
    situation: Situation, money: Amounts, *, terminal: bool = False, brief: bool = False
) -> Said:
    """The verdict in words.

    terminal: first words in capitals, names on one line, and options of the command line named;
    brief: a headline for a narrow place, without the fallback.
    """
    case = case_of(situation)
    places = _places(situation, money, terminal=terminal)
    for part in ("then", "go_to", "by"):
        places[part] = _fill(part, **places)
    if brief or situation.needed <= 0 or not situation.fallback:
        places["then"] = ""
    if brief or not situation.fallback:
        places["go_to"] = ""
    if situation.rule_gain is None:
        places["by"] = ""
    chosen = [
        (name, say(name, terminal=terminal, **places | more))
        for name, more in _chosen(situation, case, money)
    ]
    return Said(
        case=case,
        headline=_headline(situation, case, terminal=terminal, places=places),
        cost=next(words for name, words in chosen if name in COSTS),
        named=tuple(chosen),
    )


def _headline(situation: Situation, case: Case, *, terminal: bool, places: dict[str, str]) -> str:
    words = say(case, terminal=terminal, **places)
    if not is_close(situation):
        return words
    if not terminal:
        words = words[0].lower() + words[1:]
    return say("close_call", terminal=terminal, headline=words)


def _chosen(
    situation: Situation, case: Case, money: Amounts
) -> Iterator[tuple[str, dict[str, str]]]:
    """Names of the sentences that go with a case, each with places of its own."""
    if case == "recovered":
        yield "cost_recovered", {}
        return
    if case in ("string_lost", "hole_lost"):
        yield "cost_fallback", {}
        return
    if case == "no_run":
        yield "cost", {}
        return
    if case == "fish_required":
        yield "minimum", {}
    if case in ("fish", "fish_required"):
        yield "cost_saving" if money.shows(situation.saving) else "cost", {}
        if situation.rule_gain is not None and money.shows(situation.rule_gain):
            yield "rule", {}
        if situation.plan_gain is not None:
            yield "plan" if situation.plan_first else "plan_stops", {}
        if situation.limit == situation.listed and situation.plan_gain is None:
            yield "list_more", {}
    else:
        yield "cost_stopping", {}
    for name, worth, price in situation.readings:
        yield "reading", {"reading": name, "worth": worth_against(money, worth=worth, price=price)}
    if len(situation.flat) > 1:
        yield "flat", {}
    if situation.same:
        yield "tie", {}
    if situation.close:
        yield "unresolved", {}


def _places(situation: Situation, money: Amounts, *, terminal: bool) -> dict[str, str]:
    """Figures in words, by the names of their places in the templates."""
    other = situation.best_with_a_run
    name = situation.fallback.strip()
    fishes = case_of(situation) in ("fish", "fish_required")
    return {
        "more_runs": more_runs(situation.limit),
        "days": f"{situation.days:.1f}",
        "fallback": _fill("or_another", fallback=name) if fishes and situation.others else name,
        "expected_cost": money.full(situation.expected_cost),
        "stopping_now": money.short(situation.stopping_now),
        "saving": money.short(situation.saving),
        "best_with_a_run": "" if other is None else money.short(other),
        "least_runs": runs(situation.least_runs),
        "cost_of_minimum": money.full(situation.cost_of_minimum),
        "rule_gain": money.full(situation.rule_gain or 0.0),
        "flat": flat(situation.flat),
        "same": together((situation.limit, *situation.same)),
        "close": together((situation.limit, *situation.close)),
        "plan_gain": money.full(situation.plan_gain or 0.0),
        "plan_first": situation.plan_first,
        "show_plan": TEMPLATES["show_plan"] if terminal else "",
        "raise_n": TEMPLATES["raise_n"] if terminal else "",
    }


def say(template: str, *, terminal: bool = False, **places: str) -> str:
    """A template with its places filled.

    terminal: of those that must not be missed the words before the colon in capitals, and all
    names on one line.

    >>> say("tie", same="1 and 2 runs"), say("tie", same="1 and 2 runs", terminal=True)
    ('Tie: 1 and 2 runs cost the same.', 'TIE: 1 and 2 runs cost the same.')
    """
    words = TEMPLATES[template]
    if template == "close_call" and terminal:
        words = words.replace("Close call", "CLOSE CALL")
    if not terminal:
        return words.format_map(places)
    if template in LOUD:
        verb, colon, rest = words.partition(":")
        words = f"{verb.upper()}{colon}{rest}"
    return words.format_map({name: one_line(value) for name, value in places.items()})


def _fill(template: str, **places: str) -> str:
    return TEMPLATES[template].format_map(places)


# ---- limits -----------------------------------------------------------------------------------


def flat(limits: Sequence[int]) -> str:
    """Limits in words, neighbours as a range.

    >>> [flat(limits) for limits in ((1,), (2, 3, 4), (1, 4), (1, 3, 4, 5), (0, 1))]
    ['1 run', '2 to 4 runs', '1 and 4 runs', '1, 3 to 5 runs', '0 to 1 runs']
    """
    if len(limits) == 1:
        return runs(limits[0])
    parts = [str(low) if low == high else f"{low} to {high}" for low, high in reaches(limits)]
    single = all(low == high for low, high in reaches(limits))
    return f"{_listed(parts) if single else ', '.join(parts)} runs"


def reaches(limits: Sequence[int]) -> list[tuple[int, int]]:
    """First and last of each row of neighbours among limits in order."""
    rows: list[tuple[int, int]] = []
    for limit in limits:
        if rows and rows[-1][1] == limit - 1:
            rows[-1] = rows[-1][0], limit
        else:
            rows.append((limit, limit))
    return rows


def together(limits: Sequence[int]) -> str:
    """Limits in words, one by one.

    >>> together((2, 1)), together((2, 0, 3))
    ('2 and 1 runs', '2, 0 and 3 runs')
    """
    return f"{_listed([str(limit) for limit in limits])} runs"


def _listed(parts: Sequence[str]) -> str:
    return " and ".join(filter(None, (", ".join(parts[:-1]), parts[-1])))


def ends(answer: Answer, money: Amounts) -> str:
    """How the best limit ends, with its chance and mean costs; no full stop."""
    limit = answer.limit
    out, back = limit.cost_if_recovered, limit.cost_if_fallback
    name = "ends_fallback" if out is None else "ends_recovered" if back is None else "ends"
    return _fill(
        name,
        recovered=percent(limit.probability_recovered),
        if_recovered="" if out is None else money.short(out),
        if_fallback="" if back is None else money.short(back),
    )


def dearer(answer: Answer) -> str:
    """Chance that the best limit ends dearer than stopping now; no full stop."""
    return _fill("dearer", dearer=percent(answer.limit.dearer))


def percent(chance: float) -> str:
    """A chance in percent; one that is not certain is never rounded to 0 or 100 %.

    >>> [percent(chance) for chance in (-1e-12, 0.001, 0.236, 0.996, 1.0 - 1e-12)]
    ['0 %', '0.1 %', '24 %', '99.6 %', '100 %']
    """
    if CERTAIN < chance < 0.005 or 0.995 < chance < 1 - CERTAIN:
        return f"{100 * chance:.1f} %"
    return f"{100 * chance:z.0f} %"


# ---- the next run -----------------------------------------------------------------------------


def advice(answer: Answer) -> Advice:
    """Whether to make the next run, and whether only because it is required."""
    if not answer.fish:
        return "do_not"
    return "go_required" if case_of(Situation.of_answer(answer)) == "fish_required" else "go"


def break_even(odds: float | None) -> str:
    """Odds at which a run just pays by itself; above 1, or with nothing to save, it never does.

    >>> [break_even(odds) for odds in (None, 1.2, 0.345, -0.1)]
    ['never', 'never', '0.34', '0.00']
    """
    return "never" if odds is None or odds > 1 else f"{max(odds, 0.0):.2f}"


def odds_against(odds: float, need: float | None) -> str:
    """Odds of a run against those it needs; no full stop."""
    needed = break_even(need)
    return _fill("odds_never" if needed == "never" else "odds", odds=f"{odds:.2f}", need=needed)


def gain(amount: float, money: Amounts) -> str:
    """What one run and then a stop gains or loses."""
    return _fill("gains" if amount >= 0 else "loses", amount=money.full(abs(amount)))


def prepares(answer: Answer, *, terminal: bool = False) -> str | None:
    """That the next run is made for the sake of those after it; None where it is not."""
    if not answer.ahead or advice(answer) != "go":
        return None
    if answer.by_runs[0].expected_cost >= answer.by_runs[1].expected_cost:
        return None
    return _fill("prepares", look_for=TEMPLATES["look_for"] if terminal else "")


def worth_against(money: Amounts, *, worth: float, price: float) -> str:
    """What a reading is worth against its price."""
    return _fill("worth", worth=money.short(worth), price=money.short(price))


def by_days(answer: Answer) -> str:
    """The limit by days and its hour; no full stop."""
    if answer.best == 0:
        return TEMPLATES["by_days_none"]
    if no_limit_by_days(answer):
        return TEMPLATES["by_days_free"]
    when = latest_start(answer)
    clock = "" if when is None else f" ({moment(when)})"
    return _fill("by_days", day=f"{answer.best_by_days.days:.2f}", clock=clock)


def latest_hour(answer: Answer) -> str | None:
    """When the last run may start by the clock; None without a clock or a run."""
    when = latest_start(answer)
    return None if when is None else _fill("latest_hour", moment=moment(when))


def moment(when: datetime) -> str:
    """A day and hour in words."""
    return f"{when:%Y-%m-%d %H:%M}"


# ---- authority --------------------------------------------------------------------------------


def authority(answer: Answer, money: Amounts) -> Lines:
    """What is asked for in each stage, and whether what is given suffices."""
    asked, limit = answer.authority, answer.limit
    first, second = asked.stage_1, asked.stage_2
    case = case_of(Situation.of_answer(answer))
    mean = money.short(first.mean)
    if case == "recovered":
        lines = [("Stage 1", _fill("stage_1_after", mean=mean))]
    elif answer.best == 0:
        owed = "stage_1_owed" if money.shows(first.mean) else "stage_1_none"
        lines = [("Stage 1, fish to the limit", _fill(owed, mean=mean))]
    else:
        words = _fill(
            "stage_1",
            planned=money.short(first.planned),
            mean=mean,
            p90=_fill("and_p90", p90=money.short(first.p90)),
        )
        lines = [("Stage 1, fish to the limit", words)]
    out = limit.cost_if_recovered
    if answer.best > 0 and out is not None and out > first.planned:
        words = _fill("out_dearer", if_recovered=money.short(out))
        lines.append(("If the fish comes out", words))
    words = TEMPLATES["stage_2_none"]
    if second.probability > 0:
        words = _fill(
            "stage_2",
            chance=percent(second.probability),
            mean=money.short(second.mean),
            p90=_fill("and_p90", p90=money.short(second.p90)),
        )
    lines.append((f"Stage 2, {'then ' if answer.best > 0 else ''}the fallback", words))
    return lines + given(answer, money)


def slices(answer: Answer, money: Amounts) -> Lines:
    """Stage 1 in its two slices, and all that is spent; none where no run is made."""
    call = answer.authority.call
    fishing, out, _ = call.slices
    if answer.best == 0:
        return []

    def said(name: str, mean: float, p90: float, chance: float = 1.0) -> str:
        amounts = {"mean": money.short(mean), "p90": _fill("and_p90", p90=money.short(p90))}
        return _fill(name, chance=percent(chance), **amounts)

    lines = [("1a, the runs alone", said("slice_1a", fishing.mean, fishing.p90))]
    if money.shows(out.mean):
        words = said("slice_1b", out.mean, out.p90, out.chance)
        lines.append(("1b, after a recovery", words))
    return [*lines, ("Expected call", said("call", call.expected_call, call.p90))]


def given(answer: Answer, money: Amounts) -> Lines:
    """Whether the authority that is given, or what a log has left of it, suffices."""
    asked = answer.authority
    label = "Authority left" if answer.log else "Authority"
    if answer.overspent:
        return [(label, _fill("overspent", overspent=money.full(answer.overspent)))]
    if asked.given is None or asked.suffices is None:
        return []
    alone = percent(asked.stage_1_suffices or 0.0)
    words = _fill(
        "suffices",
        given=money.full(asked.given),
        suffices=percent(asked.suffices),
        alone=_fill("alone", alone=alone) if answer.best > 0 else "",
    )
    return [(label, words)]


def two_asks(answer: Answer) -> str | None:
    """Which sum goes to the partners; None without both an authority and lines of an AFE."""
    if answer.authority.given is None or answer.overspent or not answer.scenario.afe.line:
        return None
    return TEMPLATES["two_asks"]


def left(answer: Answer, money: Amounts) -> Lines:
    """What a log has left of the authority, or by how much it is overspent."""
    if answer.overspent or answer.authority.given is None:
        return given(answer, money)
    return [("Authority left", money.full(answer.authority.given))]


def overspent(answer: Answer) -> str | None:
    """That more is spent than was given, in full and rounded up, whether or not fishing goes on;
    None where it is not so."""
    authority = answer.scenario.limits.authority
    if not answer.overspent or authority is None:
        return None
    currency = one_line(answer.scenario.currency)
    amounts = {"overspent": answer.overspent, "spent": answer.spent, "authority": authority}
    return _fill("overspent_now", **{k: f"{ceil(v):,} {currency}" for k, v in amounts.items()})


def waiting(answer: Answer, money: Amounts) -> str | None:
    """What the wait for a vote costs; None where there is none, or nothing to vote on."""
    asked = answer.authority
    if asked.response_hours <= 0 or answer.ended == "recovered":
        return None
    words = {"hours": f"{asked.waiting_hours:.4g}", "days": working_days(answer)}
    return _fill("waiting", **words, cost=money.full(asked.waiting_cost))


def working_days(answer: Answer) -> str:
    """How many of the hours of a wait run on working days; empty where all do."""
    asked = answer.authority
    all_run = asked.waiting_hours == asked.response_hours
    return "" if all_run else _fill("working_days", hours=f"{asked.response_hours:g}")


def ask(situation: Situation) -> str:
    """What a supplement asks for, without figures: they stand beside it and can change."""
    case = case_of(situation)
    if case in ("recovered", "string_lost", "hole_lost"):
        name = f"ask_{case}"
    elif situation.limit == 0:
        name = "ask_stop"
    else:
        name = "ask_fish" if situation.needed > 0 else "ask_fish_sure"
    return _fill(name, fallback=situation.fallback)


# ---- before and after -------------------------------------------------------------------------


def changed(whatif: WhatIf, money: Amounts, *, terminal: bool = False) -> list[str]:
    """What becomes of the verdict, and what it costs to keep the limit of before."""
    before, after = whatif.before, whatif.after
    moves = before.best != after.best
    if before.fish != after.fish:
        lines = [say("change_flips", terminal=terminal)]
    elif not moves:
        lines = [say("change_none", terminal=terminal)]
    else:
        unsure = before.best in after.verdict.not_told_apart
        lines = [say("change_unresolved" if unsure else "change_limit", terminal=terminal)]
    cost = whatif.figure("expected_cost").after
    kept = whatif.by_runs[before.best].after if before.best < len(whatif.by_runs) else None
    if moves and kept is not None and cost:
        more = money.short(kept - cost)
        lines.append(_fill("kept", limit=f"{before.best}", cost=money.full(kept), more=more))
    return lines
