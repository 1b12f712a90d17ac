"""Rows and sentences of the memo that take more than a line to build."""

from __future__ import annotations

from econ.decision import Answer
from econ.decision.sensitivity import Sensitivity
from econ.reports.tables.memo import assumptions
from econ.reports.words import Money

MOST_SWINGS = 7  # of the main drivers that are shown


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


def assumption_rows(answer: Answer, money: Money) -> tuple[tuple[str, ...], ...]:
    """Assumptions as words: amounts of the scenario by their mean, then their spread."""
    rows = []
    for row in assumptions(answer):
        value = row["value"]
        if row["unit"] == "money":
            value = f"{value:,.0f} {money.currency}"
        elif row["unit"]:
            value = f"{value:,.4g} {row['unit']}"
        rows.append((row["name"], value, row["origin"]))
    return tuple(rows)


def change_rows(sensitivity: Sensitivity, money: Money) -> tuple[tuple[str, ...], ...]:
    """The main drivers, the largest swing first: where each flips the verdict, the step tried,
    what it does to the mean at the limit as it stands, and the best limits at its ends."""
    flips = {flip.input: flip for flip in sensitivity.flips}
    rows = []
    for swing in sorted(sensitivity.swings, key=lambda each: -each.size)[:MOST_SWINGS]:
        driver, flip = sensitivity.input(swing.name), flips.get(swing.name)
        times = "x" if driver.factor else ""
        low, high = swing.low, swing.high
        where = "no"
        if flip is not None and flip.at is not None:
            where = (
                f"{'below' if flip.below != _verb(sensitivity) else 'above'} {times}{flip.at:.2f}"
            )
        elif flip is None:
            where = "-"
        best = sorted({low.best, high.best})
        rows.append(
            (
                driver.words,
                where,
                f"{times}{low.value:.2f} to {high.value:.2f}",
                f"{_signed(low.change_kept.value, money)} to "
                f"{_signed(high.change_kept.value, money)}",
                " or ".join(str(each) for each in best),
            )
        )
    return tuple(rows)


def _verb(sensitivity: Sensitivity) -> str:
    """What the limits say as the job stands, required runs left aside."""
    cost = sensitivity.cost.mean(axis=0)
    return "fish" if len(cost) > 1 and cost[1:].min() < cost[0] else "stop"


def _signed(value: float, money: Money) -> str:
    return (
        f"{'+' if value >= 0 else '-'}{money.short(abs(value))}" if money.shows(abs(value)) else "0"
    )
