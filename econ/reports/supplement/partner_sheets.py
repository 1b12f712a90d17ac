"""The calls by week, and a page for each partner: what is asked, when, and what a vote means.

All of it is of the issue: a price or an interest that is changed in the workbook does not move it,
and each page says so. What consent, its refusal and silence mean is in the agreement; the file may
say it in its own words, and where it does not, these pages say so. Nothing here is legal advice.
"""

from __future__ import annotations

from econ.decision import Answer
from econ.decision.interests import interests, net_curve
from econ.decision.reply import Reply
from econ.reports.supplement.book import Book, Content, Sheet
from econ.reports.supplement.content import Supplement
from econ.reports.supplement.options import serial
from econ.reports.tables.partners import PartnerPage, Partners, partners

WIDTHS = (24, 10, 8, 13, 13, 13, 13)
SLICES = {
    "1a": "1a Fishing to the limit",
    "1b": "1b Work after a recovery",
    "2": "2 Fallback",
}
AS_ISSUED = (
    "As issued: a price or an interest that is changed in this file does not move this page."
)
CALLED = (
    "A week runs from Monday to Sunday by the clock of the file, the first from the time that "
    "costs are counted from. Money is called when it is spent: a run where it stands if every run "
    "before it failed, a fallback over its mean days. Invoices may come later. Each call is the "
    "difference of two shares of what was called so far, so that roundings do not pile up."
)
MEANINGS = {
    "consent_means": (
        "Consent",
        "In general a partner who consents pays its share of both stages as they are drawn. The "
        "file does not say more: read the agreement.",
    ),
    "non_consent_means": (
        "No consent",
        "In general a partner who does not consent does not pay, and gives up a part of what the "
        "work brings. How much, and until when, the file does not say: read the agreement.",
    ),
    "silence_means": (
        "Silence",
        "Some agreements count silence as consent and some as none. The file does not say: read "
        "the agreement, and answer.",
    ),
}
RISK = {
    "operator": "Money spent before the reply is due is at the operator's risk until the partners "
    "consent.",
    "all": "Money spent before the reply is due is everybody's by interest, whatever the reply.",
    None: "The file does not say at whose risk money is spent before the reply is due: ask.",
}
NO_ADVICE = "This page states what the file says and what follows in money. It is no legal advice."
NO_PENALTIES = (
    "What a partner who declines gives up, and what whoever carries its share may get for it, is "
    "in the agreement. Neither is in these amounts."
)


def partner_sheets(book: Book, found: Supplement) -> None:
    """The calls, then a page for each partner; nothing where the file names none."""
    own = partners(found.answer)
    if not own.pages:
        return
    _calls(book, found.answer, own)
    for number in range(len(own.pages)):
        _page(book, found.answer, own, number)


def _week(own: Partners, number: int) -> tuple[Content, str]:
    week = own.weeks[number]
    if week.first is None:
        return f"week {number + 1}, from day {week.begins:.1f}", "text"
    return serial(week.first), "date"


def _calls(book: Book, answer: Answer, own: Partners) -> None:
    """Gross and net by week."""
    sheet = book.add(Sheet("Calls", [12, 24, 14, 14, 14, 14], landscape=False))
    sheet.title("Calls by week, gross and net")
    sheet.note(AS_ISSUED)
    heads = ("On average", "So far", "If every run fails", "So far")
    row = sheet.head("Week of", "Partner", *heads, left=2)
    sheet.frozen, sheet.repeat = (row + 1, 2), (row, row)
    so_far = {name: [0.0, 0.0] for name in ("Gross", *(page.name for page in own.pages))}
    for number, week in enumerate(own.weeks):
        called = [("Gross", own.gross(week))]
        called += [(page.name, page.calls[number]) for page in own.pages]
        for name, (expected, planned) in called:
            sums = so_far[name]
            sums[0], sums[1] = sums[0] + expected, sums[1] + planned
            first: tuple[Content, str] = _week(own, number) if name == "Gross" else (None, "text")
            sheet.line(
                first,
                (name, "text"),
                *((amount, "cents") for amount in (expected, sums[0], planned, sums[1])),
                mark="total" if name == "Gross" else "line",
            )
    sheet.note(CALLED)


def _page(book: Book, answer: Answer, own: Partners, number: int) -> None:
    """The page of one partner."""
    page, scenario = own.pages[number], answer.scenario
    sheet = book.add(Sheet(f"Partner_{number + 1}", WIDTHS, landscape=False, one_page=True))
    sheet.title(f"What is asked of {page.name}")
    number_of = f"Supplement {scenario.afe.supplement} to authority {scenario.afe.number or '-'}"
    sheet.across(sheet.row, 0, len(WIDTHS), f"{number_of}, {scenario.job.well}.")
    sheet.row += 1
    _reply(sheet, own.reply)
    _slices(sheet, page, scenario.currency)
    if page.declines or any(each.declines_fallback for each in scenario.partner):
        sheet.across(sheet.row, 0, len(WIDTHS), _branches(answer, number))
        sheet.row += 1
        sheet.note(NO_PENALTIES)
    sheet.section("Calls by week, net")
    sheet.head("Week of", "", "", "On average", "If every run fails")
    for week, (expected, planned) in enumerate(page.calls):
        blank: tuple[Content, str] = (None, "text")
        sheet.line(_week(own, week), blank, blank, (expected, "cents"), (planned, "cents"))
    _until_then(sheet, page, own.reply, scenario.currency)
    sheet.section("What a vote means")
    for key, (words, general) in MEANINGS.items():
        _said(sheet, words, getattr(scenario.afe, key) or general)
    _said(sheet, "Before the reply", RISK[scenario.afe.risk_before_reply])
    sheet.note(NO_ADVICE)
    if page.operator and interests(scenario).differ:
        _curve(sheet, answer, number)
    _vote(sheet)
    sheet.note(AS_ISSUED)


def _said(sheet: Sheet, words: str, meaning: str) -> None:
    sheet.put(sheet.row, 0, words, "text", "line")
    sheet.across(sheet.row, 1, len(WIDTHS) - 1, meaning, "text", "line")
    sheet.row += 1


def _reply(sheet: Sheet, reply: Reply) -> None:
    """When the reply is due, and how its hours run."""
    if reply.due is not None:
        sheet.put(sheet.row, 0, "Reply wanted by", "text", "strong")
        sheet.across(sheet.row, 1, 2, serial(reply.due), "moment", "strong", "left")
        sheet.row += 1
    days = "on working days" if reply.working else "on all days"
    _said(sheet, "Hours to reply", f"{reply.stated:g}, which run {days}.")


def _slices(sheet: Sheet, page: PartnerPage, currency: str) -> None:
    """Own net by slice and chance."""
    sheet.section(f"Own share by slice, net, {currency}")
    sheet.head(
        "Slice",
        "Own interest",
        "Chance",
        "If every run fails",
        "Mean if drawn",
        "P90 if drawn",
        "Chance x mean",
    )
    for each in page.slices:
        sheet.line(
            (SLICES[each.slice], "text"),
            (each.interest, "interest"),
            (each.chance, "%"),
            (each.planned if each.slice != "1b" else None, "cents"),
            (each.mean, "cents"),
            (each.p90, "money"),
            (each.expected, "cents"),
        )
    blank: list[tuple[Content, str]] = [(None, "text")] * 5
    whole = sum(each.expected for each in page.slices)
    sheet.line(("Expected call", "text"), *blank, (whole, "cents"), mark="total")
    sheet.note(
        "1b is drawn instead of 2, never with it. A P90 is not exceeded 9 times in 10; P90s of "
        "slices never sum."
    )


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


def _until_then(sheet: Sheet, page: PartnerPage, reply: Reply, currency: str) -> None:
    """What an hour costs this partner, and the time until the reply is due."""
    sheet.section(f"Until the reply is due, own share, {currency}")
    for words, amount, kind in (
        ("An hour with the rig standing by", page.hour, "cents"),
        ("An hour with fishing services on hire", page.fishing_hour, "cents"),
        ("Hours from now until the reply is due", reply.from_now, "h"),
        ("The rig standing by for all of them", page.until_reply, "cents"),
    ):
        sheet.across(sheet.row, 0, 3, words, "text", "line")
        sheet.put(sheet.row, 3, amount, kind, "line")
        sheet.row += 1


def _curve(sheet: Sheet, answer: Answer, number: int) -> None:
    """The limits as the operator pays them, beside the gross."""
    curve = net_curve(answer, partner=number)
    sheet.section("Every limit, gross and net of the operator, mean")
    sheet.head("Runs", "", "", "Gross", "Net")
    for runs, (gross, net) in enumerate(zip(curve.gross, curve.net, strict=True)):
        blank: tuple[Content, str] = (None, "text")
        mark = "strong" if runs in (curve.best, curve.best_gross) else "line"
        cells: list[tuple[Content, str]] = [(float(runs), "count"), blank, blank]
        sheet.line(*cells, (gross, "money"), (net, "money"), mark=mark)
    same = curve.best == curve.best_gross
    sheet.note(
        f"Cheapest to all together: {curve.best_gross} runs; to the operator: {curve.best}."
        + ("" if same else " The supplement asks for what is cheapest to all together.")
        + " Means, with the errors of the gross."
    )


def _vote(sheet: Sheet) -> None:
    """Boxes to tick and lines to sign."""
    sheet.section("Vote: tick one, sign")
    for column, words in enumerate(("Consent", "No consent", "Counter-proposal")):
        start = (0, 1, 3)[column]
        sheet.across(sheet.row, start, 1 if column == 0 else 2, words, "text", "box")
    sheet.put(sheet.row, 5, "Date", "text")
    sheet.put(sheet.row, 6, None, "text", "sign")
    sheet.heights[sheet.row] = 24.0
    sheet.row += 1
    sheet.put(sheet.row, 0, "Name and signature", "text")
    sheet.across(sheet.row, 1, len(WIDTHS) - 1, "", "text", "sign")
    sheet.heights[sheet.row] = 30.0
    sheet.row += 1
