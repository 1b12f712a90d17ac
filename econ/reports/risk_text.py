"""Sections on money at risk: authority, risk, fallbacks, rentals, what knowing is worth."""

from __future__ import annotations

import math

from econ.decision import Answer
from econ.decision.delays import EndingLate
from econ.reports import sentences, tables
from econ.reports.sentences import percent
from econ.reports.words import Money, one_line, runs, wrap


def authority(answer: Answer, money: Money) -> list[str]:
    """Both stages, the wait for a vote, and whether the money given suffices."""
    if answer.ended == "recovered":
        return []
    lines = [f"AUTHORITY TO ASK FOR ({money.unit}):"]
    for label, words in sentences.authority(answer, money):
        lines += wrap(f"{label}: {words}.")
    for label, words in sentences.slices(answer, money):
        lines += wrap(f"{label}: {words}.")
    if waiting := sentences.waiting(answer, money):
        lines += wrap(waiting)
    if both := sentences.two_asks(answer):
        lines += wrap(f"To partners: {both}")
    return lines


def risk(answer: Answer, money: Money) -> list[str]:
    """The dear end of each limit, and the best one with the fish out and with a fallback."""
    found = answer.risk
    lines = [f"RISK ({money.unit}):"]
    authority = found.authority is not None
    tolerance = found.tolerance is not None
    head = "  runs     P90   worst 1/10"
    head += "   > given" if authority else ""
    head += "  sure cost" if tolerance else ""
    lines.append(head)
    for row in found.by_runs:
        mark = ">" if row.runs == answer.best else " "
        line = f"{mark}{row.runs:>5}{money.short(row.p90):>8}{money.short(row.worst_tenth):>13}"
        if authority:
            line += f"{percent(row.above_authority or 0.0):>10}"
        if tolerance:
            line += f"{_sure(row.certainty_equivalent, money):>11}"
        lines.append(line)
    words = "P90, worst 1/10 (mean of the dearest tenth): of the total."
    if authority:
        words += " > given: chance that what is spent exceeds the authority."
    if tolerance:
        words += " sure cost: as good as the gamble at the stated risk tolerance."
    lines += wrap(words)
    if found.least_risky != answer.best:
        lines += wrap(
            f"Of the flat range {runs(found.least_risky)} is the least risky limit (lowest worst "
            "tenth)."
        )
    if found.best_by_certainty not in (None, answer.best):
        lines += wrap(f"By sure cost the best limit is {runs(found.best_by_certainty or 0)}.")
    if tolerance and any(not math.isfinite(r.certainty_equivalent or 0.0) for r in found.by_runs):
        lines += wrap(
            "Endless: at that tolerance nothing bounds the cost of kick-offs that fail again and "
            "again; give the sidetrack a whipstock."
        )
    here = found.by_runs[answer.best]
    for words, part in (
        ("With the fish out", here.recovered),
        ("With a fallback", here.fallback),
    ):
        if part is not None:
            lines += wrap(
                f"{words} ({percent(part.chance)}): mean {money.short(part.mean)}, P10 "
                f"{money.short(part.p10)}, P50 {money.short(part.p50)}, P90 "
                f"{money.short(part.p90)}."
            )
    return lines


def delays(answer: Answer, money: Money) -> list[str]:
    """Waiting on weather, and the deadline by limit; nothing where the file has neither."""
    lines: list[str] = []
    if (wait := answer.weather) is not None:
        days = wait.fishing.value + wait.fallback.value
        lines += wrap(
            f"WEATHER at {runs(wait.runs)}: {days:.1f} days of waiting on average, "
            f"{wait.fishing.value:.1f} while fishing and {wait.fallback.value:.1f} in the "
            f"fallback, with their chances. It costs {money.full(wait.cost.value)}, which is in "
            "every figure. "
            f"{_without(wait.runs_without, wait.runs, 'it')}"
        )
    if (late := answer.late) is not None:
        lines += ["", *_deadline(answer, late, money)] if lines else _deadline(answer, late, money)
    return lines


def _deadline(answer: Answer, late: EndingLate, money: Money) -> list[str]:
    given = answer.scenario.deadline
    left = given is not None and given.work_after_days != 0
    if late.days > 0:
        until = ", so that the work after them is done in time" if left else ""
        said = f"DEADLINE: operations have to end within {late.days:.1f} days from now{until}."
    else:
        said = "DEADLINE: it cannot be met any more."
    lines = [*wrap(said), f"  runs  late %   costs ({money.unit})"]
    for row in late.by_runs:
        mark = ">" if row.runs == answer.best else " "
        chance = f"{100 * row.chance.value:z.0f}"
        lines.append(f"{mark}{row.runs:>5}{chance:>8}{money.short(row.cost.value):>8}")
    return lines + wrap(
        "late %: chance to end late. costs: what that costs in expectation, in every figure above. "
        + _without(late.runs_without, answer.best, "the deadline")
    )


def _without(runs_without: int, best: int, what: str) -> str:
    if runs_without == best:
        return f"Without {what} the best limit would be the same."
    limit = "to stop now" if runs_without == 0 else runs(runs_without)
    return f"Without {what} the best limit would be {limit}."


def fallbacks(answer: Answer, money: Money) -> list[str]:
    """All fallbacks, what each is made of, and where one takes over; nothing with the fish out."""
    if answer.ended == "recovered":
        return []
    lines = [f"FALLBACKS if fishing stops now ({money.unit}):"]
    lines.append("   hours    time   other trouble    lost given up   total")
    for row in tables.fallback_rows(answer):
        mark = ">" if "now" in row["taken"] else " "
        lines += wrap(f"{mark} {one_line(row['name'])}", hang=2)
        keys = ("time", "other", "trouble", "lost_in_hole")
        cells = "".join(f"{money.short(row[key]):>8}" for key in keys)
        lines.append(
            f"{row['hours']:>8.1f}{cells}{money.short(row['value_given_up']):>9}"
            f"{money.short(row['now']):>8}"
        )
        after = [
            f"{words} {money.short(row[key]) if row[key] is not None else 'not open'}"
            f"{' (taken)' if state in row['taken'] and len(answer.fallbacks.rows) > 1 else ''}"
            for words, key, state in (
                ("string lost:", "after_string_lost", "string_lost"),
                ("hole lost:", "after_hole_lost", "hole_lost"),
            )
        ]
        if answer.ahead:
            lines += wrap("  if the next run ends with the " + ", ".join(after), hang=2)
    late = ", ending late" if answer.late is not None else ""
    lines += wrap(
        f"trouble: kick-off retries, sticking again{late} and the like, in expectation. lost: "
        "pieces left in the hole. given up: value of the well, which is no money spent."
    )
    reaches = tables.fallback_reaches(answer)
    if len(answer.fallbacks.rows) > 1 and reaches:
        unit = tables.length_unit(answer)
        names = [one_line(each["name"]) for each in reaches]
        switch = names[0]
        for name, upper, lower in zip(names[1:], reaches, reaches[1:], strict=False):
            middle = 0.5 * (upper["lower"] + lower["upper"])
            switch += f"; from a fish top of {middle:,.0f} {unit} down {name}"
        lines += wrap(f"Cheapest: {switch}.")
    return lines


def rentals(answer: Answer, money: Money) -> list[str]:
    """What each rented tool costs; nothing without contracts."""
    rows = tables.rentals(answer)
    if not rows:
        return []
    lines = [f"RENTALS (expected, {money.currency}):"]
    for contract, row in zip(answer.contracts, rows, strict=True):
        action = contract.action
        if action == "lost":
            lost = f"{sentences.ACTIONS['lost']}; its replacement is in the fallback"
            lines += wrap(f"- {one_line(row['tool'])}: {lost}", hang=2)
            continue
        words = f"- {one_line(row['tool'])}: {row['mean']:,.0f} to the limit"
        if row["held"]:
            words += "; on location"
        words += f"; a day of standing by {row['keep_day']:,.0f}"
        words += "" if row["held"] else f"; at least {row['minimum']:,.0f}"
        if not row["needed"]:
            words += "; not used within the limit"
            words += f": {sentences.ACTIONS['release']}" if action == "release" else ""
        else:
            words += f"; next needed by run {row['first_run']}"
        later = row["now_less_later"]
        if later is not None:
            if row["wait"] > 0:
                words += f"; called with its run, waiting for it costs {row['wait']:,.0f}"
            if action == "either":
                words += "; called now or with its run: no difference"
            else:
                side = "dearer" if later > 0 else "cheaper"
                words += f"; called now it is {abs(later):,.0f} {side} than with its run"
        lines += wrap(words, hang=2)
    return lines


def knowing(answer: Answer, money: Money) -> list[str]:
    """What it is worth to know the kind of fish, and whether to buy each reading."""
    if answer.ended is not None:
        return []
    found = tables.information(answer)
    stated = [row for row in found["readings"] if row["price"] is None]
    if not stated:
        return []
    worths = ", ".join(f"{one_line(row['name'])} {money.short(row['worth'])}" for row in stated)
    lines = wrap(f"WORTH OF KNOWING whether the fish is workable ({money.unit}): {worths}.")
    if found["least_workable"] is not None:
        lines += wrap(
            f"One run and then a stop pays from a chance of {found['least_workable']:.2f} that the "
            "fish is workable."
        )
    for row in found["readings"]:
        if row["price"] is None:
            continue
        advice = "buy" if row["buy"] else "do not buy"
        if not row["clear"]:
            advice = "no difference beyond the error"
        lines += wrap(
            f"- {one_line(row['name'])}: "
            f"{sentences.worth_against(money, worth=row['worth'], price=row['price'])} with "
            f"{row['hours']:g} h of waiting: {advice}",
            hang=2,
        )
        for result in row["results"]:
            limit = runs(result["best"]) if result["best"] else "stop"
            lines += wrap(
                f"  says {result['says']} ({percent(result['chance'])}): belief "
                f"{result['workable']:.2f}, {limit}",
                hang=4,
            )
    return lines


def insurance(answer: Answer, money: Money) -> list[str]:
    """Below the line; nothing without a policy."""
    policy = tables.insurance(answer)
    if policy is None:
        return []
    return wrap(
        f"BELOW THE LINE: insurance may pay {money.full(policy['amount'])} with "
        f"{percent(policy['chance'])} chance, {money.short(policy['expected'])} in expectation. "
        "It is in no figure above."
    )


def _sure(value: float | None, money: Money) -> str:
    return money.short(value) if value is not None and math.isfinite(value) else "endless"
