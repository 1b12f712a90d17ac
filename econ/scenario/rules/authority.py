"""Rules on the authority for expenditure, the clock of a reply, and interests by branch."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from datetime import datetime

from econ.scenario.faults import Fault, did_you_mean
from econ.scenario.prices import MORE, SECTIONS, price_paths
from econ.scenario.rules.registry import rule
from econ.scenario.scenario import Scenario

TROUBLE_CODE = re.compile("(FS|ST|LH|RG|CT)[0-9]{2}")  # of the program's own lines
MOST_WORKING_HOURS = 8784  # of a reply: a year and more of working days
SUM = 1e-6  # shares that miss a sum of 1 by less are taken to sum to it


@rule("afe")
def earlier_supplements_are_told(scenario: Scenario) -> Iterator[Fault]:
    """A second supplement stands on the first: what was approved before it is told, once each."""
    afe = scenario.afe
    told: set[int] = set()
    for number, before in enumerate(afe.earlier):
        path = ("afe", "earlier", number, "supplement")
        if before.supplement >= max(afe.supplement, 1):
            yield Fault(
                f"supplement = {before.supplement}",
                f"a number below that of this supplement, {afe.supplement}",
                "correct one of the two",
                path=path,
            )
        if before.supplement in told:
            yield Fault(
                f"supplement = {before.supplement} twice",
                "each earlier supplement once",
                "put the amounts into one table",
                path=path,
            )
        told.add(before.supplement)
    missing = [str(each) for each in range(1, afe.supplement) if each not in told]
    if missing:
        several = "s" if len(missing) > 1 else ""
        shown = ", ".join(missing[:5]) + (" and so on" if len(missing) > 5 else "")
        yield Fault(
            f"supplement = {afe.supplement} without the amounts of supplement{several} {shown}",
            "[[afe.earlier]] for every supplement before this one: supplement, date, amounts",
            "add them; amounts = {} for one that was not approved",
            path=("afe", "supplement"),
        )


@rule("afe")
def earlier_amounts_stand_on_lines(scenario: Scenario) -> Iterator[Fault]:
    """The codes of earlier supplements are those of lines, or the program's own of trouble."""
    afe = scenario.afe
    lines = sorted({line.code for line in afe.line})
    for number, before in enumerate(afe.earlier):
        for code in before.amounts:
            if code not in lines and not TROUBLE_CODE.fullmatch(code):
                yield Fault(
                    f"'{code}'",
                    "codes of [[afe.line]], or of the trouble, such as FS10, ST10, LH20: "
                    + (", ".join(lines) or "no line is listed"),
                    did_you_mean(code, lines),
                    path=("afe", "earlier", number, "amounts"),
                )


@rule("afe", "fallback")
def lines_lapse_under_fallbacks(scenario: Scenario) -> Iterator[Fault]:
    """Lines lapse under fallbacks that are listed, and not what is committed."""
    most = len(scenario.fallback)
    for number, line in enumerate(scenario.afe.line):
        for fallback in line.lapses_under:
            if fallback > most:
                yield Fault(
                    f"{fallback}, no fallback listed",
                    f"numbers of fallbacks, counted from 1: up to {most}",
                    path=("afe", "line", number, "lapses_under"),
                )
        if line.committed > max(line.to_come, 0.0):
            yield Fault(
                f"committed = {line.committed:.10g}",
                f"from 0 to what is to come, {max(line.to_come, 0.0):.10g}: it is a part of it",
                "add to to_come what is ordered and not yet spent",
                path=("afe", "line", number, "committed"),
            )


@rule("currency", "afe")
def currencies_split_the_whole(scenario: Scenario) -> Iterator[Fault]:
    """Parts in other currencies are of other currencies, once each, and at most the whole."""
    split = scenario.afe.currency_split
    told = {scenario.currency}
    for number, part in enumerate(split):
        if part.currency in told:
            yield Fault(
                f"'{part.currency}'" + ("" if part.currency == scenario.currency else " twice"),
                f"currencies other than that of the file, {scenario.currency}, each once",
                path=("afe", "currency_split", number, "currency"),
            )
        told.add(part.currency)
    total = math.fsum(part.share for part in split)
    if total > 1 + SUM:
        yield Fault(
            f"shares that sum to {total:.10g}",
            f"a sum of 1 or less; the rest is in {scenario.currency}",
            path=("afe", "currency_split"),
        )


@rule("afe", *SECTIONS, *MORE)
def references_are_of_prices(scenario: Scenario) -> Iterator[Fault]:
    """A reference names a price that the file writes."""
    if not scenario.afe.price_reference:
        return
    known = price_paths(scenario)
    for path in scenario.afe.price_reference:
        if path not in known:
            yield Fault(
                f"'{path}'",
                "key paths of prices in this file, such as " + ", ".join(known[:6]),
                did_you_mean(path, known),
                path=("afe", "price_reference"),
            )


@rule("job", "limits")
def reply_clock_can_be_read(scenario: Scenario) -> Iterator[Fault]:
    """The zone of the reply is known, and its times are on the clock of the decision."""
    limits, decided = scenario.limits, scenario.job.decided_at
    if limits.time_zone:
        from zoneinfo import ZoneInfo, ZoneInfoNotFoundError  # few files name one

        try:
            ZoneInfo(limits.time_zone)
        except (ZoneInfoNotFoundError, ValueError, OSError):
            yield Fault(
                f"'{limits.time_zone}'",
                "the name of a time zone that this machine knows, as region/city",
                "such as America/Chicago or Europe/Oslo; with no zone, leave it out",
                path=("limits", "time_zone"),
            )
    if limits.response_days == "working" and limits.response_hours > MOST_WORKING_HOURS:
        yield Fault(
            f"response_hours = {limits.response_hours:.10g} on working days",
            f"up to {MOST_WORKING_HOURS}, where they run on working days",
            "use calendar for a longer time",
            path=("limits", "response_hours"),
        )
    if limits.notice_at is None:
        return
    path = ("limits", "notice_at")
    if decided is None or not isinstance(limits.notice_at, datetime):
        yield Fault(
            "a day, or no time of the decision",
            "a date and time, with decided_at under [job]",
            "write the hour, and add decided_at",
            path=path,
        )
        return
    if not isinstance(decided, datetime):
        return
    zones = [moment.tzinfo is not None for moment in (limits.notice_at, decided)]
    if zones[0] != zones[1] and not limits.time_zone:
        has, needs = ("with", "without") if zones[0] else ("without", "with")
        yield Fault(
            f"a time {has} a time zone",
            f"a time {needs} one, as decided_at under [job]",
            "write both with a time zone, or give time_zone",
            path=path,
        )


@rule("partner")
def shares_are_carried(scenario: Scenario) -> Iterator[Fault]:
    """The share of a partner who does not consent to the fallback is carried by those who do."""
    partners = scenario.partner
    names = [each.name for each in partners]
    paying = [each.name for each in partners if not each.declines_fallback]
    for number, each in enumerate(partners):
        path = ("partner", number, "carried_by")
        if not each.declines_fallback:
            if each.carried_by:
                yield Fault(
                    "carried_by of a partner who consents",
                    "carried_by with declines_fallback = true",
                    "leave one of the two out",
                    path=path,
                )
            continue
        if each.operator:
            yield Fault(
                "an operator who does not consent",
                "an operator who pays its share of the fallback that it proposes",
                "leave declines_fallback out, or name another operator",
                path=("partner", number, "declines_fallback"),
            )
        total = math.fsum(each.carried_by.values())
        if abs(total - 1) > SUM:
            yield Fault(
                f"shares that sum to {total:.10g}" if each.carried_by else "nobody",
                "names of partners who carry the share, with parts that sum to 1",
                'such as carried_by = { "' + (paying[0] if paying else "operator") + '" = 1 }',
                path=path,
            )
        for name in each.carried_by:
            if name not in paying or names.count(name) > 1:
                yield Fault(
                    f"'{name}'",
                    "partners who consent, each named once: " + (", ".join(paying) or "none"),
                    did_you_mean(name, paying),
                    path=path,
                )
