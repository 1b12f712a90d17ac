"""The figures in plain words: what each shows, with its main numbers."""

from __future__ import annotations

from collections.abc import Callable

from econ.decision import Answer
from econ.reports import sentences
from econ.reports.figures.curve import verdict_words
from econ.reports.figures.scales import Scale, days_words
from econ.reports.figures.sensitivity import setting
from econ.reports.sentences import break_even
from econ.reports.tables.figures import Basis, Branch, Point, Sort
from econ.reports.tables.plain import Row, length_unit
from econ.reports.words import runs

ENDS = (Point.BACK_AT_DEPTH, Point.FALLBACK_DONE)


def say_curve(answer: Answer, rows: list[Row]) -> str:
    """The curve of expected cost in words."""
    money = Scale(answer)
    limits = [row for row in rows if row["row"] == Sort.BY_RUNS]
    points = "; ".join(
        f"{runs(row['runs'])}, {days_words(row['days'])}: {money.short(row['expected_cost'])} "
        f"(P10 {money.short(row['p10'])}, P90 {money.short(row['p90'])})"
        for row in limits
    )
    flat = sentences.flat(answer.flat)
    rules = "; ".join(
        f"{row['name']} {'no limit' if row['days'] is None else days_words(row['days'])}"
        for row in rows
        if row["row"] == Sort.RULE
    )
    return (
        f"Curve of the expected cost in {money.unit} against days of fishing. {points}. "
        f"{verdict_words(answer)} Within 2 % of the best: {flat}. {sentences.TEMPLATES['p90']}"
        + (f" Published rules: {rules}." if rules else "")
    )


def say_recovery(answer: Answer, rows: list[Row]) -> str:
    """The chance of recovery in words."""
    points = "; ".join(
        f"{runs(row['runs'])}, {days_words(row['days'])}: "
        f"{100 * row['probability_recovered']:.0f} %"
        for row in rows
        if row["row"] == Sort.BY_RUNS
    )
    return (
        f"Curve of the chance that the fish is out against days of fishing. {points}. "
        f"The best limit is {runs(answer.best)}."
    )


def say_belief(answer: Answer, rows: list[Row]) -> str:
    """Belief and odds in words."""
    if not rows:
        return "Odds of each run against those it needs: no run is left to make."
    points = "; ".join(
        f"run {row['run']}, {row['name']}: odds {row['odds']:.2f}, needs "
        f"{break_even(row['break_even_odds'])}, {_belief(row)}"
        for row in rows
    )
    doubts = "each doubt" if answer.ahead[0].doubts else "a workable fish"
    return (
        "Odds of each run, the odds it needs to pay by itself and the belief in "
        f"{doubts}, if all runs before it fail. {points}."
    )


def _belief(row: Row) -> str:
    several = [(name[7:], row[name]) for name in row if name.startswith("belief_")]
    if not several:
        return f"belief {row['workable']:.2f}"
    return "belief in " + ", ".join(f"{name} {chance:.2f}" for name, chance in several)


def say_causes(answer: Answer, rows: list[Row]) -> str:
    """Cost by cause in words."""
    money = Scale(answer)
    points = "; ".join(
        f"{row['cause']} {money.short(row['expected'])} ({money.short(row['stopping_now'])})"
        for row in rows
    )
    return (
        f"Bars of what the expected cost of {money.full(answer.limit.expected_cost)} at "
        f"{runs(answer.best)} is made of, in brackets if fishing stops now. {points}."
    )


def say_distribution(answer: Answer, rows: list[Row]) -> str:
    """The distribution of the total in words."""
    money, limit = Scale(answer), answer.limit
    first, last = rows[0], rows[-1]
    beyond = 100 * (last["recovered"] + last["fallback"])
    return (
        f"Bars of the chance of each total cost in {money.unit} at {runs(limit.runs)}, from "
        f"{money.short(first['from'])} to {money.short(last['from'])}, {beyond:.1f} % beyond. "
        f"At {runs(limit.runs)}: {sentences.ends(answer, money)}. P10 {money.short(limit.p10)}, "
        f"P50 {money.short(limit.p50)}, P90 {money.short(limit.p90)}; mean "
        f"{money.short(limit.expected_cost)}. {sentences.TEMPLATES['p90']}"
    )


def say_swings(answer: Answer, rows: list[Row]) -> str:
    """The swings in words."""
    if not rows:
        return "Swings: nothing to turn."
    money = Scale(answer)
    listed = [row for row in rows if row["basis"] == Basis.RANGE][:5] or rows[:5]
    points = "; ".join(
        f"{row['words']}: {money.short(row['low_change'])} at its low end, "
        f"{money.short(row['high_change'])} at its high end, best limit "
        f"{row['low_runs']} and {row['high_runs']}"
        for row in listed
    )
    return (
        f"Bars of how far each input moves the expected cost, in {money.unit}, and dots of the "
        f"best limit, {runs(rows[0]['runs'])} as it stands. The largest: {points}."
    )


def say_map(answer: Answer, rows: list[Row]) -> str:
    """The map of the best limit in words."""
    if not rows:
        return "Map of the best limit: no run is listed."
    first, last = rows[0], rows[-1]
    here = next(row for row in rows if row["here"])
    limits = sorted({row["runs"] for row in rows})
    ends = [
        f"{first[f'{side}_driver']} from "
        f"{setting(first[f'{side}_value'], factor=first[f'{side}_factor'])} to "
        f"{setting(last[f'{side}_value'], factor=last[f'{side}_factor'])}"
        for side in ("row", "column")
    ]
    return (
        f"Map of the best limit over {' and '.join(ends)}: between {limits[0]} and "
        f"{runs(limits[-1])}; as it stands {runs(here['runs'])}."
    )


def say_depth(answer: Answer, rows: list[Row]) -> str:
    """Days against depth in words."""
    unit = length_unit(answer)
    hole = {row["what"]: row["depth"] for row in rows if row["branch"] == Branch.HOLE}
    words = [
        f"Days against depth. Fish top at {hole[Point.FISH_TOP]:,.0f} {unit}, drilled to "
        f"{hole[Point.DRILLED_TO]:,.0f} {unit}."
    ]
    for row in rows:
        if row["what"] == Point.FISH_IS_OUT:
            words.append(
                f"By day {row['days']:.1f} the fish is out with a chance of "
                f"{100 * row['chance']:z.0f} %."
            )
        elif row["branch"] == Branch.FALLBACK and row["what"] == Point.KICKOFF:
            words.append(f"Else kick-off at {row['depth']:,.0f} {unit} on day {row['days']:.1f}.")
        elif row["branch"] == Branch.FALLBACK and row["what"] in ENDS:
            words.append(f"Fallback: {row['what']} on day {row['days']:.1f} as planned.")
        elif row["branch"] == Branch.STOPPING_NOW and row["what"] in ENDS:
            words.append(f"Stopping now: {row['what']} on day {row['days']:.1f}.")
    return " ".join(words)


def say_program(answer: Answer, rows: list[Row]) -> str:
    """The program in words."""
    if not rows:
        return "Program of runs: no run is left to make."
    spans: dict[tuple[int, str], tuple[float, float]] = {}
    for row in rows:
        key = row["run"], row["name"]
        start, _ = spans.get(key, (row["start"], row["end"]))
        spans[key] = start, row["end"]
    points = "; ".join(
        f"run {number}, {name}: day {start:.1f} to {end:.1f}"
        for (number, name), (start, end) in spans.items()
    )
    return (
        f"Bars of the runs on a time axis, as if every run ahead fails. {points}. "
        f"The best limit is {runs(answer.best)} from now."
    )


ALT_TEXTS: dict[str, Callable[[Answer, list[Row]], str]] = {
    "curve": say_curve,
    "recovery": say_recovery,
    "belief": say_belief,
    "causes": say_causes,
    "distribution": say_distribution,
    "swings": say_swings,
    "map": say_map,
    "depth": say_depth,
    "program": say_program,
}
