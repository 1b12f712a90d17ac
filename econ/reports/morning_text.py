"""The morning after: what is spent, what the last entry changed and why, what is left."""

from __future__ import annotations

from econ.decision import Answer, Status
from econ.reports import sentences, tables
from econ.reports.hours_text import hours_learned
from econ.reports.words import Money, one_line, runs, wrap
from econ.scenario.run_log import LoggedRun


def morning(answer: Answer, money: Money) -> list[str]:
    """The log against the answer; nothing without a log."""
    log = tables.morning(answer)
    if log is None:
        return []
    spent = money.full(log["spent"])
    stopped = sum(not made.finished for made in answer.log)
    half_way = f" and {stopped} stopped half way" if stopped else ""
    lines = wrap(
        f"SO FAR: {runs(log['runs_made'])}{half_way} in {log['hours_since_first_run']:.1f} h; "
        f"spent {spent}. That is spent whatever is decided, and is in no figure here."
    )
    without = sum(row["cost"] is None for row in log["runs"])
    if without:
        lines += wrap(f"{runs(without)} without a cost in the log, so more is spent than that.")
    if too_much := sentences.overspent(answer):
        lines += wrap(too_much)
    for row, made in zip(log["runs"], answer.log, strict=True):
        remark = f" ({one_line(row['remark'])})" if row["remark"] else ""
        if row["beyond_limit"]:
            remark = f", {sentences.TEMPLATES['beyond_limit']}{remark}"
        lines += wrap(
            f"- {row['end'][:16].replace('T', ' ')} {one_line(answer.scenario.named(made.run))}: "
            f"{row['outcome'].replace('_', ' ')}{remark}",
            hang=2,
        )
    if any(then.beyond for then in answer.limits_then):
        lines += wrap(sentences.TEMPLATES["beyond_limit_is"])
    lines += hours_learned(answer, money)
    if answer.ended is None:
        lines += ["", *changes(answer, money)]
        lines += _left(answer, money)
    return lines


def changes(answer: Answer, money: Money) -> list[str]:
    """What the last entry changed and why; nothing without a log."""
    if answer.before is None or answer.after is None:
        return []
    last = answer.log[-1]
    heading = f"CHANGED BY THE LAST ENTRY ({_entry(answer, last)}):"
    why = (
        "how likely that outcome is on a workable and on a stubborn fish",
        "how likely that outcome is where it is and where it is not",
    )
    if not last.finished:
        why = ("a run stopped half way says nothing on it",) * 2
    told = wrap(heading)
    return told + _differences(answer, answer.before, answer.after, money, why=why)


def changes_back(answer: Answer, taken: LoggedRun, before: Status, money: Money) -> list[str]:
    """What taking the last entry back changes. before: where the job stood with it."""
    if answer.after is None:
        return []
    heading = f"CHANGED BY TAKING IT BACK ({_entry(answer, taken)}):"
    return wrap(heading) + _differences(answer, before, answer.after, money, why=("", ""))


def _entry(answer: Answer, row: LoggedRun) -> str:
    name = one_line(answer.scenario.actions[row.run].name)
    return f"{name}: {row.outcome.replace('_', ' ')}"


def _differences(
    answer: Answer, before: Status, after: Status, money: Money, *, why: tuple[str, str]
) -> list[str]:
    """Where a job stands, before and after; why: the belief moved, and that in several doubts."""
    of_fish, of_doubts = (f": {reason}" if reason else "" for reason in why)
    lines = []
    if after.doubts:
        said = (
            f"{one_line(doubt.name)} {was:.2f} -> {now:.2f}"
            for doubt, was, now in zip(
                answer.scenario.doubts, before.doubts, after.doubts, strict=True
            )
        )
        lines += wrap(
            f"- chance that each doubt is in favour: {', '.join(said)}{of_doubts}",
            hang=2,
        )
    elif answer.scenario.has_kinds:
        was, now = f"{before.workable:.2f}", f"{after.workable:.2f}"
        moved = f"{was} -> {now}" if was != now else f"stays {now}"
        lines += wrap(f"- chance that the fish is workable {moved}{of_fish}", hang=2)
    factor = tables.length_factor(answer)
    if abs(after.fish_top - before.fish_top) > 0.05:
        unit = tables.length_unit(answer)
        lines += wrap(
            f"- fish top {before.fish_top / factor:,.0f} -> {after.fish_top / factor:,.0f} {unit}",
            hang=2,
        )
    if after.top_damaged != before.top_damaged:
        lines += wrap(f"- the top is {'damaged' if after.top_damaged else 'dressed'} now", hang=2)
    lines += wrap(
        f"- runs still worth making {before.best} -> {after.best}",
        hang=2,
    )
    lines += wrap(
        f"- expected cost from then on {money.short(before.expected_cost)} -> "
        f"{money.short(after.expected_cost)}, of stopping {money.short(before.fallback)} -> "
        f"{money.short(after.fallback)} {money.unit}",
        hang=2,
    )
    lines += wrap(f"- next in the list: {_odds(answer, before)} -> {_odds(answer, after)}", hang=2)
    return lines


def _odds(answer: Answer, status: Status) -> str:
    ahead = status.ahead
    return "no run" if ahead is None else f"run {ahead.run + 1} at odds {ahead.odds:.2f}"


def _left(answer: Answer, money: Money) -> list[str]:
    limit = answer.limit
    lines = ["", *wrap(f"LEFT: {runs(limit.runs)}, {limit.days:.1f} days of the limit.")]
    if latest := sentences.latest_hour(answer):
        lines += wrap(latest)
    for label, words in sentences.left(answer, money):
        lines += wrap(f"{label}: {words}.")
    return lines
