"""Rows and sentences of the memo that take more than a line to build."""

from __future__ import annotations

from econ.decision import Answer
from econ.decision.changes.outlook import Outlook
from econ.reports.tables.memo import assumptions
from econ.reports.words import Money, runs

MOST_SWINGS = 3  # of the main drivers that are named


def belief_rows(answer: Answer) -> tuple[tuple[str, ...], ...]:
    """Belief, odds and break-even odds if every run before fails with no change."""
    rows = []
    for run in answer.ahead:
        need = run.break_even_odds
        needs = "never" if need is None or need > 1 else f"{max(need, 0.0):.2f}"
        rows.append((f"{run.run + 1}", f"{run.workable:.2f}", f"{run.odds:.2f}", needs))
    return tuple(rows)


def curve_words(answer: Answer, money: Money) -> tuple[tuple[str, ...], ...]:
    """The curve by runs as words."""
    return tuple(
        (
            str(row.runs),
            f"{row.days:.1f}",
            money.short(row.expected_cost),
            money.short(row.p10),
            money.short(row.p50),
            money.short(row.p90),
            money.short(risk.worst_tenth),
            f"{100 * row.probability_recovered:.0f} %",
        )
        for row, risk in zip(answer.by_runs, answer.risk.by_runs, strict=True)
    )


def assumption_rows(answer: Answer) -> tuple[tuple[str, ...], ...]:
    """Assumptions as words."""
    return tuple((row["name"], row["value"], row["origin"]) for row in assumptions(answer))


def changes(answer: Answer, outlook: Outlook, money: Money) -> tuple[tuple[str, str], ...]:
    """Where the verdict flips, and which drivers move the cost and the limit most."""
    items = []
    for flip in outlook.break_evens:
        if flip.rule != "best limit" or flip.at is None or flip.driver == "rig":
            continue
        driver = outlook.driver(flip.driver)
        if driver.factor:
            where = f"x{flip.at:.2f} of what it is"
        else:
            where = f"{flip.at:.2f}, now {flip.now:.2f}"
        side = "below" if flip.below == "stop" else "above"
        items.append(("", f"Stop if {driver.words} is {side} {where}."))
    swings = sorted(outlook.drivers, key=lambda swing: -swing.size)
    for swing in swings[:MOST_SWINGS]:
        low, high = swing.low, swing.high
        moved = (
            f"; best limit {runs(low.best)} or {runs(high.best)}" if low.best != high.best else ""
        )
        factor = outlook.driver(swing.name).factor
        steps = (
            f"x{low.value:.2f} to x{high.value:.2f}"
            if factor
            else f"{low.value:.2f} to {high.value:.2f}"
        )
        items.append(
            (
                "",
                f"{swing.words[:1].upper()}{swing.words[1:]} {steps}: "
                f"{_signed(low.change_kept.value, money)} to "
                f"{_signed(high.change_kept.value, money)} {money.unit}{moved}.",
            )
        )
    if answer.information.least_workable is not None and answer.scenario.has_kinds:
        items.append(
            (
                "",
                f"One run pays from a chance of {answer.information.least_workable:.2f} that the "
                "fish is workable.",
            )
        )
    return tuple(items)


def _signed(value: float, money: Money) -> str:
    return f"{'+' if value >= 0 else '-'}{money.short(abs(value))}"
