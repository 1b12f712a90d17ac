"""The calls by week, and a page for each partner: what is asked, when, what a vote means, the vote.

The sentence and what is granted follow a change of a price or an interest. The rest is of the
issue, and each page says so. What consent, its refusal and silence mean is in the agreement; the
file may say it in its own words, and where it does not, these pages say whom to ask. Nothing here
is legal advice.
"""

from __future__ import annotations

from econ.decision import Answer
from econ.decision.interests import interests, net_curve
from econ.decision.reply import Reply
from econ.reports.names import one_line
from econ.reports.supplement.book import Book, Content, Sheet
from econ.reports.supplement.cells import Cell
from econ.reports.supplement.content import Supplement
from econ.reports.supplement.moments import of_issue, serial
from econ.reports.supplement.phrases import MIXED, ONE_SLICE, RULE, SLICED
from econ.reports.supplement.words import (
    liable,
    p90_of_total,
    reason,
    request,
    sentence,
    stopping,
    whom_to_ask,
)
from econ.reports.tables.partners import PartnerPage, Partners, partners

CALL_WIDTHS = (12, 24, 14, 14, 14, 14)
WIDTHS = (37, 13, 11, 18, 18, 18)
EXPECTED = {"1a": "expected_1a", "1b": "expected_1b", "2": "expected_2"}
CALLED = (
    "A week runs from Monday to Sunday by the operator's clock, the first from the time that "
    "costs are counted from, as if the work goes on at once: if the rig waits for the reply, "
    "all calls are later by the wait. Granted: every run to the limit fails, then the fallback at "
    "its mean, as the amount asked has them; contingency is in no week. Money is called when it is "
    "spent: a run where it stands if every run before it failed, a fallback over its mean days. "
    "Where the fish may be out before the last run, the work after it makes a week on average more "
    "than is granted of it. Invoices may come later. Each call is the difference of two shares of "
    "what was called so far, so that roundings do not pile up."
)
ON_AVERAGE = (
    "A week may take more on average than is granted of it, because the work after the fish is out "
    "is in the average."
)
MEANINGS = {
    "clause": ("Clause", "The clause that calls for this supplement is not stated: ask {who}."),
    "consent_means": (
        "Consent",
        "In general a partner who consents pays its share of every slice as it is drawn. The "
        "operator has not stated more: read the agreement, or ask {who}.",
    ),
    "non_consent_means": (
        "No consent",
        "In general a partner who does not consent does not pay, and gives up a part of what the "
        "work brings. How much, and until when, the operator has not stated: read the agreement, "
        "or ask {who}.",
    ),
    "silence_means": (
        "Silence",
        "Some agreements count silence as consent and some as none. The operator has not stated "
        "which: read the agreement, or ask {who}, and answer in any case.",
    ),
}
RISK = {
    "operator": "Money spent before the reply is due is at the operator's risk until the partners "
    "consent.",
    "all": "Money spent before the reply is due is everybody's by interest, whatever the reply.",
    None: "At whose risk money is spent before the reply is due is not stated: ask {who}.",
}
NO_ADVICE = "What the operator has stated, and what follows in money. It is no legal advice."
NO_PENALTIES = (
    "What a partner who declines gives up, and what whoever carries its share may get for it, is "
    "in the agreement. Neither is in these amounts."
)


def partner_sheets(book: Book, supplement: Supplement) -> None:
    """A page for each partner, then the calls; nothing where the file names none."""
    own = partners(supplement.answer)
    for number in range(len(own.pages)):
        _page(book, supplement, own, number)
    if own.pages:
        _calls(book, supplement.answer, own)


def _as_issued(answer: Answer, what: str) -> str:
    """What does not follow a change."""
    return (
        f"{what} do not follow a price or an interest that is changed in this workbook: they are "
        + (f"{of_issue(answer)}.")
    )


def _week(own: Partners, number: int) -> tuple[Content, str]:
    week = own.weeks[number]
    if week.first is None:
        return f"week {number + 1}, from day {week.begins:.1f}", "text"
    return serial(week.first), "date"


def _calls(book: Book, answer: Answer, own: Partners) -> None:
    """Gross and net by week."""
    sheet = book.add("Calls", "Calls by week, gross and net", CALL_WIDTHS, upright=True)
    sheet.note(_as_issued(answer, "Calls"))
    heads = ("On average", "So far", "Granted", "So far")
    sheet.head("Week of", "Partner", *heads, left=2, frozen=2)
    so_far = {name: [0.0, 0.0] for name in ("Gross", *(page.name for page in own.pages))}
    for number in range(len(own.weeks)):
        called = [("Gross", own.gross[number])]
        called += [(page.name, page.calls[number]) for page in own.pages]
        for name, (expected, granted) in called:
            sums = so_far[name]
            sums[0], sums[1] = sums[0] + expected, sums[1] + granted
            first, kind = _week(own, number) if name == "Gross" else (None, "text")
            amounts = expected, sums[0], granted, sums[1]
            mark = "total" if name == "Gross" else "line"
            sheet.line(f"{kind} text cents", first, name, *amounts, mark=mark)
    sheet.note(CALLED)


def _page(book: Book, supplement: Supplement, own: Partners, number: int) -> None:
    """The page of one partner."""
    page, answer = own.pages[number], supplement.answer
    scenario = answer.scenario
    sheet = book.add(
        f"Partner_{number + 1}",
        f"{page.name}: the vote on what is asked for",
        WIDTHS,
        upright=True,
        one_page=True,
    )
    number_of = f"Supplement {scenario.afe.supplement} to authority {scenario.afe.number or '-'}"
    event = f" {one_line(scenario.job.event)}." if scenario.job.event else ""
    sheet.text(f"{number_of}, {scenario.job.well}.{event}")
    partner = supplement.shares.partners[number]
    asked = sentence(supplement, partner)
    sheet.text(Cell(asked), mark="strong")
    sheet.text(*reason(supplement))
    sheet.text(*request(supplement))
    if not supplement.shares.declined:
        sheet.text(Cell(p90_of_total(supplement)))
    _slices(sheet, supplement, number)
    if supplement.shares.declined:
        sheet.text(_branches(answer, number), NO_PENALTIES)
    _rule(sheet, supplement)
    sheet.section(f"Calls by week, net, {scenario.currency}, as if the work goes on at once")
    sheet.head("Week of", "", "", "On average", "Granted")
    for week, call in enumerate(page.calls):
        first, kind = _week(own, week)
        sheet.line(f"{kind} cents", first, None, None, *call)
    sums = [sum(call[case] for call in page.calls) for case in (0, 1)]
    sheet.line("text cents", "Sum, without contingency", None, None, *sums, mark="total")
    _until_then(sheet, supplement, page, own.reply)
    issued = _as_issued(answer, "Calls, amounts of an hour and P90")
    sheet.note(f"{issued} {ON_AVERAGE}" if supplement.ask.fishes else issued)
    sheet.section("What a vote means")
    who = whom_to_ask(supplement)
    for key, (words, general) in MEANINGS.items():
        sheet.fact(words, getattr(scenario.afe, key) or general.format(who=who))
    sheet.fact("Before the reply", RISK[scenario.afe.risk_before_reply].format(who=who))
    sheet.fact("In money", Cell(liable(supplement, partner)))
    sheet.text(NO_ADVICE)
    if page.operator and interests(scenario).differ:
        _curve(sheet, answer, number)
    _vote(sheet, supplement, page)


def _slices(sheet: Sheet, supplement: Supplement, number: int) -> None:
    """Own share of the slices: what is granted and the mean, which follow, and the P90."""
    asked, shared = supplement.ask, supplement.shares
    partner = shared.partners[number]
    own = interests(supplement.answer.scenario)
    sheet.section(f"Own share by slice, net, {supplement.answer.scenario.currency}")
    sheet.head("", "Interest", "Chance", "Granted", "On average", "P90 if drawn")
    names = iter(("stage_1_asked_for", "stage_2_if_needed"))
    for each, granted, told in zip(asked.slices, asked.granted_of, asked.told, strict=True):
        net = None if granted is None else Cell(partner.nets[next(names)])
        if not told:
            continue
        part = Cell(partner.interest)
        if shared.declined and each.name == "2":
            part = Cell(own.fallback[number])
        mean = Cell(partner.nets[EXPECTED[each.name]])
        row = part, Cell(each.chance), net, mean, Cell(each.p90 * part)
        sheet.line("text interest % cents cents money", each.words, *row)
    for drawn in asked.mix:  # slice 2 is the last one, and `part` its interest
        words, own_mean = MIXED.format(name=one_line(drawn.name)), drawn.chance * drawn.mean * part
        chance = Cell(drawn.chance)
        sheet.line("text text % text money", words, None, chance, None, Cell(own_mean))
    contingency = Cell(partner.nets["contingency"])
    sheet.line("text cents", "Contingency", None, None, contingency, None, None)
    sums = (Cell(partner.nets[name]) for name in ("asked", "expected_call"))
    sheet.line("text cents", "Sum: what is asked for", None, None, *sums, None, mark="total")
    sheet.note(SLICED if asked.fishes else ONE_SLICE)


def _rule(sheet: Sheet, supplement: Supplement) -> None:
    """The stop rule, and what was made and spent before; of a job without a run that alone."""
    asked = supplement.ask
    if not asked.fishes and len(asked.rule) == 1:
        return
    sheet.section(RULE[asked.fishes])
    for row in asked.rule:
        sheet.line(f"text {row.unit}", row.words, Cell(row.limit), at=(0, 3))
    if asked.fishes:
        sheet.note(stopping(supplement))


def _branches(answer: Answer, number: int) -> str:
    """Who does not pay for the fallback, and what this partner carries."""
    scenario, own = answer.scenario, interests(answer.scenario)
    mine = scenario.partner[number]
    if mine.declines_fallback:
        names = ", ".join(f"{name} {part:.4g}" for name, part in mine.carried_by.items())
        return (
            f"This partner is taken not to pay for the fallback. Its share is carried by: {names}."
        )
    others = ", ".join(each.name for each in scenario.partner if each.declines_fallback)
    more = own.fallback[number] - own.fishing[number]
    carried = (
        f"carries {100 * more:.4g} % of the fallback for it" if more > 0 else "carries none of it"
    )
    return f"Taken not to pay for the fallback: {others}. This partner {carried}."


def _until_then(sheet: Sheet, supplement: Supplement, page: PartnerPage, reply: Reply) -> None:
    """What an hour costs this partner, the time until the reply is due, and what is spent by then
    if the work goes on."""
    scenario = supplement.answer.scenario
    sheet.section(f"Until the reply is due, own share, {scenario.currency}")
    by_then = "Spent by then on average if the work goes on, in the amounts above"
    goes_on = scenario.afe.until_reply != "stands_by"
    for words, amount, kind in (
        *([(by_then, page.by_then, "money")] if goes_on else []),
        ("An hour with the rig standing by", page.hour, "cents"),
        ("An hour with fishing services on hire", page.fishing_hour, "cents"),
        ("Hours by the clock from now until then", reply.from_now, "h"),
        ("The rig standing by for all of them, in no amount above", page.until_reply, "cents"),
    ):
        sheet.line(f"text {kind}", words, amount, at=(0, 3, 4))


def _curve(sheet: Sheet, answer: Answer, number: int) -> None:
    """The limits as the operator pays them, beside the gross."""
    curve = net_curve(answer, partner=number)
    sheet.section("Every limit, gross and net of the operator, mean")
    sheet.head("Runs", "", "", "Gross", "Net")
    for runs, (gross, net) in enumerate(zip(curve.gross, curve.net, strict=True)):
        mark = "strong" if runs in (curve.best, curve.best_gross) else "line"
        sheet.line("count text text money", float(runs), None, None, gross, net, mark=mark)
    same = curve.best == curve.best_gross
    sheet.note(
        f"Cheapest to all together: {curve.best_gross} runs; to the operator: {curve.best}."
        + ("" if same else " The supplement asks for what is cheapest to all together.")
        + " Means, with the errors of the gross."
    )


def _vote(sheet: Sheet, supplement: Supplement, page: PartnerPage) -> None:
    """Boxes to tick and lines to sign: the only ones for a partner."""
    place = "as a partner" if page.operator else "nowhere else"
    sheet.section(f"Vote of {page.name}: tick one and sign here, {place}")
    if "reply" in supplement.header:
        wanted = supplement.header["reply"]
        sheet.fact(wanted.words, Cell(wanted.cell), mark="strong")
    sheet.fact("Reply to", f"{whom_to_ask(supplement)}, by the agreement's address for notices")
    votes = "[   ]  Consent", "[   ]  No consent", "[   ]  Counter-proposal"
    sheet.line("text", *votes, mark="box", at=(0, 1, 4))
    for words in ("Counter-proposal: runs, days, money", "Name", "Signature and date"):
        sheet.line("text", words, "", mark="sign", at=(0, 1))
