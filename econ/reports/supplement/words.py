"""Words of the AFE supplement: what is asked for, what the sheet follows, what is not covered."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import replace
from string import Formatter

from econ.decision import Answer
from econ.decision.choices import readings, required_runs
from econ.decision.tonight import tonight
from econ.engine.ledger import SPENDING
from econ.engine.priced import kept_is_single
from econ.reports import safety, sentences
from econ.reports.cautions import SHORT
from econ.reports.supplement.ask import LEAST
from econ.reports.supplement.cells import (
    Cell,
    Term,
    joined,
    number_in_words,
    same,
    share_in_words,
    when,
)
from econ.reports.supplement.content import Supplement
from econ.reports.supplement.costs import OVER
from econ.reports.supplement.moments import of_issue, told_at
from econ.reports.supplement.phrases import (
    DEADLINE,
    GETTING_OFF,
    MEASURED,
    OPTIONS,
    SHOWN,
    SLICED,
    SPENT,
    STOPPING,
    TEMPLATES,
)
from econ.reports.supplement.shares import Partner
from econ.reports.supplement.styles import Content
from econ.reports.tables.answer import all_notes
from econ.reports.tables.plain import length_factor, length_unit
from econ.reports.tables.situation import Situation
from econ.reports.tables.tonight import name_of
from econ.reports.words import Money, runs
from econ.scenario.amounts import mean_of
from econ.scenario.fallbacks import Sidetrack
from econ.scenario.notes.defaults import not_looked_at
from econ.scenario.run_log import decided_at
from econ.scenario.scenario import dotted


def request(supplement: Supplement) -> list[Content]:
    """What is asked for, what is in the amount and what is not, to stand below the sentence."""
    return [
        asked_for(supplement),
        *gives_up(supplement),
        *required(supplement),
        *in_the_ask(supplement),
        *new_money(supplement),
        Cell(waiting(supplement)),
        *trigger(supplement),
        *deadline(supplement),
        *safety.warnings(supplement.answer.as_left),
    ]


def sentence(supplement: Supplement, partner: Partner | None = None) -> Term:
    """The request in one sentence with its numbers, gross, or for one partner. Text of a user
    stands in cells, never in a formula."""
    granted, p90 = supplement.ask.granted, supplement.ask.p90
    values: dict[str, Term | str] = {
        "gross": granted.ask,
        "currency": supplement.header["currency"].cell,
        "total": granted.total,
        "percent": _over(supplement),
        "reply": _by(supplement, "approve_reply"),
    }
    if partner is None:
        nets = TEMPLATES["approve_nets"] if supplement.shares.partners else ""
        whole = _said("approve", net=nets, p90=p90, **values)
    else:
        decimals = supplement.answer.scenario.currency_decimals
        for name, amount in (("net", "asked"), ("own", "revised_total")):
            net = partner.nets[amount]
            plain = isinstance(net.value, str)  # while the interests do not sum to 1
            values[name] = net if plain else number_in_words(net, decimals)
        values["p90"] = ""
        if not supplement.shares.declined:  # else a share of the fallback is another one
            values["p90"] = _said("approve_own_p90", p90=p90 * partner.interest)
        whole = _said("approve_own", **values)
    again = _said("approve_again", reason=supplement.ask.cheapest)
    good = when(supplement.ask.cheaper, joined([whole, " ", again]), whole)
    return when(supplement.checks.good, good, _said("approve_bad", bad=supplement.checks.line))


def _over(supplement: Supplement) -> Term | str:
    """What the total is over what is approved, in words."""
    granted, approved = supplement.ask.granted, supplement.ask.approved
    if isinstance(granted.percent.value, str):
        return TEMPLATES["approve_new"]
    percent = share_in_words(granted.percent, plus="+")
    return _said("approve_percent", percent=percent, change=granted.change, approved=approved)


def p90_of_total(supplement: Supplement) -> Term:
    """Why the P90 of the total is below the total that is asked for, or above it."""
    total, p90 = supplement.ask.granted.total, supplement.ask.p90
    runs = supplement.estimate.limits.limit > 0
    under = _said("p90_below", chance=share_in_words(1 - supplement.ask.slices[2].chance))
    under = when(runs, under, TEMPLATES["p90_below_stop"])
    over = when(runs, TEMPLATES["p90_above"], TEMPLATES["p90_above_stop"])
    over = when(supplement.ask.granted.lapses > 0.5, TEMPLATES["p90_above_lapses"], over)
    other = when(p90 > total + 0.5, over, TEMPLATES["p90_same"])
    said = when(p90 < total - 0.5, under, other)
    granted, first = supplement.ask.granted, supplement.ask.granted_of[0]
    if supplement.ask.fishes and first is not None:
        one, out, _ = supplement.ask.slices
        kept = granted.total + granted.lapses - granted.amount + one.mean + out.mean
        words = _said("fish_out", chance=share_in_words(out.chance), out=kept)
        told = when(out.chance > 0.0, words, "")
        said = joined([said, when(granted.lapses > 0.5, told, "")])
    if not supplement.ask.mix:
        return said
    dearest = max(supplement.ask.mix, key=lambda each: each.total.number)
    chance = share_in_words(dearest.chance)
    return joined([said, _said("dearest", chance=chance, total=dearest.total)])


def in_the_ask(supplement: Supplement) -> list[str]:
    """What is in the amount that is asked for: the first action, orders by a plan, readings,
    duties."""
    answer = supplement.answer
    now, currency = tonight(answer), answer.scenario.currency
    fill = TEMPLATES
    said = []
    if isinstance(now.do, int):
        first = f"run {now.do}, {name_of(answer, now.do)}"
        said.append(fill["asked_run" if answer.best else "asked_none"].format(run=first))
    elif now.do == "stop" and answer.ended is None:
        said.append(fill["asked_first"].format(first=answer.fallbacks.taken.name))
    if now.by != "limit" and answer.best:
        limit = runs(answer.best)
        said.append(fill["asked_plan"].format(limit=limit))
    for each in readings(answer):
        parts = {
            "reading": each.name,
            "hours": f"{each.hours:g}",
            "worth": f"{each.worth.value:,.0f}",
        }
        price = f"{each.price or 0.0:,.0f} {currency}"
        place = fill["reading_first" if each.name == now.do else "reading_advised"]
        said.append(fill["asked_reading"].format(place=place, price=price, **parts))
    if safety.warnings(answer.as_left):
        hours = answer.scenario.limits.approval_hours
        if safety.checklist(answer.as_left):
            day, who = f"{answer.prices.spread_day:,.0f}", whom_to_ask(supplement)
            more = fill["asked_no_approval"].format(day=day, currency=currency)
            if hours is not None:
                more = fill["asked_approval"].format(hours=f"{hours:g}")
            said.append(fill["asked_duties"].format(who=who) + more)
        else:
            said.append(fill["asked_care"])
    return said


def gives_up(supplement: Supplement) -> list[str]:
    """What value of the well the fallbacks that are granted give up, if any does."""
    answer = supplement.answer
    taken = answer.quantities[answer.best].fallbacks
    stated = zip(taken, answer.scenario.fallback, strict=True)
    values = {
        one.name: mean_of(each.value_given_up)
        for one, each in stated
        if one.taken > LEAST and not isinstance(each, Sidetrack)
    }
    each = [
        f"{name} {value:,.0f} {answer.scenario.currency}" for name, value in values.items() if value
    ]
    return [TEMPLATES["asked_gives_up"].format(each=", ".join(each))] if each else []


def depths(answer: Answer) -> str:
    """Depths of fish, hole and kick-off."""
    job, unit = answer.as_left, length_unit(answer)
    said = (
        f"Fish from {job.fish.top:,.10g} to {job.fish.bottom:,.10g} {unit}; hole to "
        f"{job.well.depth:,.10g} {unit}, shoe at {job.well.shoe_depth:,.10g} {unit}"
    )
    for row in answer.fallbacks.rows:
        if row.kickoff is not None:
            depth = row.kickoff / length_factor(answer)
            again = f"{job.well.depth - depth:,.0f} {unit} to drill again"
            said += f"; {row.name}, now, from about {depth:,.0f} {unit}, {again}"
    return f"{said}."


def deadline(supplement: Supplement) -> list[str]:
    """Until when operations have to end, and how likely they are late; nothing without one."""
    answer, log = supplement.answer, supplement.answer.log
    if answer.late is None:
        return []
    days, decided = answer.scenario.deadline_days, answer.now
    if log:
        decided = decided_at(answer.scenario, like=log[0].start) or log[0].start
    by = f"{days:.1f} d from now"
    if decided is not None:
        with suppress(OverflowError):  # past the last year that a calendar holds
            by = told_at(answer, decided, days)
    chance = sentences.percent(answer.late.by_runs[answer.best].chance.value)
    return [DEADLINE.format(by=by, chance=chance)]


def required(supplement: Supplement) -> list[str]:
    """How many runs are required, if any."""
    least = required_runs(supplement.answer)
    if not least:
        return []
    runs = "1 run is" if least == 1 else f"{least} runs are"
    why = "as the operator states"
    if supplement.answer.scenario.limits.minimum_runs is None:
        why = "because a sealed source is in the fish"
    return [f"{runs} required before any fallback, {why}; options with fewer are ruled out."]


def stopping(supplement: Supplement) -> str:
    """What stands below a stop rule."""
    answer = supplement.answer
    said = STOPPING.format(measured=MEASURED if readings(answer) else "")
    if answer.as_left.parting is None:
        return said
    planned = answer.quantities[answer.best].planned
    on_runs = sum(planned[name] for name in SPENDING)
    own = answer.authority.call.slices[0].planned - on_runs
    currency = answer.scenario.currency
    return said + GETTING_OFF.format(own=own, runs=on_runs, currency=currency)


def new_money(supplement: Supplement) -> list[Content]:
    """How much of what is asked for is new money, and how much was approved before; nothing where
    nothing was; and that an authority beside the lines of the AFE is not taken off."""
    answer, who = supplement.answer, whom_to_ask(supplement)
    granted, given = supplement.ask.granted, answer.authority.given
    if isinstance(granted.percent.value, str):
        return []
    released, change = granted.ask - granted.change, granted.change
    before = supplement.costs.released + granted.lapses
    over = before - released
    less = when(over > 0.5, _said("asked_less", given=before, over=over), "")
    kept, lapsed = supplement.costs.released > 0.5, granted.lapses > 0.5
    both = when(kept, "as contingency or on lines that lapse", "on lines that lapse")
    on = when(lapsed, both, "as contingency")
    parts = _said("asked_new", released=released, where=on, less=less, change=change)
    some = when(released > 0.5, parts, TEMPLATES["asked_all_new"])
    none = _said("asked_none_new", where=on)
    said: list[Content] = [Cell(when(change > 0.5, some, none))]
    if given is not None:
        amount = f"{given:,.0f} {answer.scenario.currency}"
        said.append(TEMPLATES["asked_authority"].format(given=amount, who=who))
    afe, made = answer.scenario.afe, answer.runs_made
    if made and afe.supplement == 1 and not afe.earlier:
        spent = f"{answer.spent:,.0f} {answer.scenario.currency}"
        beyond = sum(then.beyond for then in answer.limits_then)
        was = "was" if beyond == 1 else "were"
        more = TEMPLATES["asked_beyond"].format(made=beyond, was=was) if beyond else ""
        values = {"made": runs(made), "spent": spent, "who": who, "beyond": more}
        said.append(TEMPLATES["asked_log"].format(**values))
    return said


def waiting(supplement: Supplement) -> Term:
    """That the wait for the reply is not in what is asked for, and what it costs."""
    cost, currency = (supplement.header[name].cell for name in ("waiting", "currency"))
    by, name = _by(supplement, "waiting_until"), f"waiting_{_until_reply(supplement)}"
    return _said(name, cost=cost, currency=currency, reply=by)


def _until_reply(supplement: Supplement) -> str:
    return supplement.answer.scenario.afe.until_reply or "not_stated"


def trigger(supplement: Supplement) -> list[Content]:
    """Which side of the trigger the total is on without the wait for the reply, and with it."""
    granted, approved, costs = supplement.ask.granted, supplement.ask.approved, supplement.costs
    if isinstance(granted.percent.value, str):
        return []
    wait = supplement.header["waiting"].cell
    parts = {
        "percent": share_in_words(granted.percent, plus="+"),
        "state": costs.triggered,
        "with_wait": share_in_words((granted.change + wait) / approved, plus="+"),
        "with_state": costs.state(wait),
        "vote": when(same(costs.triggered, OVER), "", TEMPLATES["trigger_vote"]),
    }
    return [Cell(_said(f"trigger_{_until_reply(supplement)}", **parts))]


def liable(supplement: Supplement, partner: Partner) -> Term:
    """What a partner pays of each slice that is granted, so that words of the agreement on slices
    stand beside their money."""
    decimals = supplement.answer.scenario.currency_decimals
    granted = zip(supplement.ask.slices, supplement.ask.granted_of, strict=True)
    first, second = (f"slice {each.name}" for each, own in granted if own is not None)
    names = ("stage_1_asked_for", "stage_2_if_needed", "contingency", "asked")
    nets = [partner.nets[name] for name in names]
    one, two, more, all_ = (
        net if isinstance(net.value, str) else number_in_words(net, decimals) for net in nets
    )
    return _said("liable", first=first, second=second, one=one, two=two, more=more, all=all_)


def _by(supplement: Supplement, name: str) -> Term | str:
    """A part of a sentence with the moment by which a reply is wanted; nothing without one."""
    found = supplement.header.get("reply")
    return "" if found is None else _said(name, reply=found.cell)


def _said(name: str, **values: Term | str) -> Term:
    """A sentence of the program with its values; numbers of them in whole units."""
    found: list[Term | str] = []
    for words, field, _, _ in Formatter().parse(TEMPLATES[name]):
        found.append(words)
        value = values[field] if field else ""
        plain = isinstance(value, str) or isinstance(value.value, str)
        found.append(value if plain else number_in_words(value))  # type: ignore[arg-type]
    return joined(each for each in found if each != "")


def whom_to_ask(supplement: Supplement) -> str:
    """Who answers for what the operator has not stated."""
    scenario = supplement.answer.scenario
    operator = next((each.name for each in scenario.partner if each.operator), "the operator")
    return ", ".join(each for each in (scenario.afe.requested_by, operator) if each)


def asked_for(supplement: Supplement) -> str:
    """What the money is for, without numbers: they stand beside it and can change."""
    situation, answer = Situation.of_answer(supplement.answer), supplement.answer
    if answer.best == 0 and answer.ended is None and answer.fallbacks.taken.kickoff is not None:
        return TEMPLATES["asked_plug_back"].format(fallback=answer.fallbacks.taken.name)
    if supplement.ask.mix:
        parts = (
            f"{each.name} {sentences.percent(each.chance.number)}" for each in supplement.ask.mix
        )
        counted = TEMPLATES["mixed_counted"] if gives_up(supplement) else ""
        named = TEMPLATES["mixed"].format(each=", ".join(parts), counted=counted)
        situation = replace(situation, fallback=named)
    return sentences.ask(situation)


def reason(supplement: Supplement) -> list[str]:
    """What is asked for beside the next best option, with means and P90s; nothing without one."""
    asked = [each for each in supplement.choices if each.asked and each.mean is not None]
    others = [
        each
        for each in supplement.choices
        if each.sort in ("fallback", "limit", "end") and not (each.asked or each.ruled_out)
    ]
    if not asked or not others:
        return []
    best = min(others, key=lambda each: each.mean or 0.0)
    name = OPTIONS[best.sort].format(name=best.name)
    value = TEMPLATES["reason_given_up"] if any(each.given_up for each in others + asked) else ""
    (one, *_), plan = asked, ""
    for each in supplement.choices:
        if each.sort == "plan" and each.mean is not None and each.mean < (one.mean or 0.0):
            most, chance = each.runs or 0, sentences.percent(each.recovered or 0.0)
            name_ = "reason_plan" if most <= (one.runs or 0) else "reason_beyond"
            values = {"mean": each.mean, "chance": chance, "runs": runs(most)}
            plan = TEMPLATES[name_].format(**values)
    words = TEMPLATES["reason"].format(one=one, two=best, other=name, given_up=value, plan=plan)
    return [words]


def follows(supplement: Supplement) -> list[str]:
    """What the sheet follows when a cell is changed, and what it does not."""
    parts = supplement.estimate
    rules = [
        "Every line is a quantity times a price. Quantities are those of the program for every "
        "limit, from its draws: days, runs, feet, pieces, chances. They are locked. Prices are "
        "those of the file, a range by its mean.",
        "Shaded cells may be changed: a price, the limit in runs, an interest, the lines of the "
        "cost table, own contingency, the trigger. Lines, slices, totals and net shares follow "
        "exactly, as econ afe --hold prices them under the decision of this issue.",
        "Where a price is a range, the price used is the mean of quantity x price over the mean "
        "quantity, so that lines sum to the program's means; the stated mean stands beside it. "
        "Once it is edited the price is the number typed, the other ranges keep their draws, and "
        "a correlation with it lapses.",
        SHOWN,
        f"Not recomputed, but {of_issue(supplement.answer)}: percentiles, options, chances, dates, "
        "the money of each fallback that slice 2 may be, the chance that an authority suffices; of "
        "the stop rule the money follows, runs and clock are the issue's. The first sheet says "
        "when an input has been changed, and whether another limit is then cheaper.",
    ]
    rules += [
        f"{ratio.tool}: days are billed on the side of minimum or use that binds in each draw of "
        "the issue, and minimum days are locked."
        for ratio in parts.ratios
    ]
    if any(row.words.startswith("days_late") for row in parts.rows):
        rules.append("The chance to end late and the days late are locked; their cost follows.")
    if any(not kept_is_single(piece) for piece in supplement.answer.scenario.fish.piece):
        rules.append(
            "Where the share written off a piece or its floor is a range, the share that is kept "
            "is locked in the quantity."
        )
    return rules


def basis(supplement: Supplement) -> list[str]:
    """What the amounts rest on."""
    answer = supplement.answer
    scenario = answer.scenario
    draws = scenario.draws
    lines = [
        f"{draws.scrambles} scrambles of {answer.draws} draws, seed {draws.seed}.",
        SPENT,
        "Fund the mean, the expected call. " + SLICED,
    ]
    ranges = [path for path, _, _ in scenario.amounts()]
    if ranges:
        lines.append("Given as a range, shown by its mean: " + ", ".join(ranges) + ".")
    origins = [
        f"Run {number}, {run.name}: {run.full_origin}"
        for number, run in enumerate(scenario.run, start=1)
        if run.full_origin
    ]
    origins += [f"fishing.{each.of}: {each.words()}" for each in scenario.fishing.evidence]
    if scenario.from_reports is not None:
        told = scenario.from_reports
        origins += [
            f"{dotted(each.path)}: from daily reports ({told.source}): {each.told}"
            for each in told.taken
        ]
    planned = not_looked_at(scenario)
    if planned:
        lines.append(f"Planning values not looked at: {', '.join(planned)}.")
    lines += origins or ["Odds, hours and charges: as the file gives them, origin not stated."]
    if any(line.slice.value == "compared" for line in supplement.estimate.lines):
        lines.append(
            "Value of the well given up is part of the comparison as the program "
            "compares it; it is no expenditure and stands in no authority, cost line or net."
        )
    lines.append(
        "Contingency of the original authority (codes CT) that has nothing to come is released by "
        "this supplement, and the change is net of it."
    )
    money = Money(answer)
    lines += [f"{label}: {words}." for label, words in sentences.given(answer, money)]
    return lines


def cautions(supplement: Supplement) -> list[str]:
    """Cautions that go out with every report."""
    job = supplement.answer.as_left
    return [*safety.warnings(job), *safety.barred_runs(job), *SHORT, *safety.checklist(job)]


def remarks(supplement: Supplement) -> list[str]:
    """Notes of the program on the scenario and the answer."""
    return all_notes(supplement.answer)
