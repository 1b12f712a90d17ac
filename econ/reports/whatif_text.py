"""Before and after as plain ASCII text that fits a phone and can be pasted into an e-mail."""

from __future__ import annotations

from typing import Any, Literal

from econ.decision.figures import Change
from econ.decision.whatif import WhatIf
from econ.reports import sentences
from econ.reports.after_log import ended, since
from econ.reports.amounts import Amounts, number
from econ.reports.cautions import SHORT
from econ.reports.tables.situation import Situation
from econ.reports.whatif_tables import changed_rows
from econ.reports.words import error_in_words, one_line, wrap

HEADINGS = {
    "expected_cost": "AT THE BEST LIMIT OF EACH SIDE",
    "belief": "NEXT RUN",
    "stage_1_planned": "AUTHORITY",
}
WORDS = {
    "expected_cost": "expected cost",
    "fallback_now": "stopping now",
    "saving": "saving",
    "probability_recovered": "chance fish is out",
    "days": "days to the limit",
    "dearer": "chance it ends dearer",
    "p10": "P10",
    "p50": "P50",
    "p90": "P90",
    "belief": "chance it is workable",
    "next_odds": "odds",
    "next_break_even": "odds it needs",
    "next_days": "days",
    "next_cost": "cost",
    "stage_1_planned": "stage 1 planned",
    "stage_1_mean": "stage 1 mean",
    "stage_1_p90": "stage 1 P90",
    "stage_2_probability": "chance of stage 2",
    "stage_2_mean": "stage 2 mean",
    "stage_2_p90": "stage 2 P90",
    "within_authority": "chance in authority",
    "stage_1_within_authority": "stage 1 in authority",
}


def whatif_text(whatif: WhatIf) -> str:
    """The whole comparison; first what was changed and what becomes of the verdict."""
    values = [v for f in whatif.figures if f.unit == "currency" for v in (f.before, f.after)]
    largest = max(abs(value) for value in values if value is not None)
    money = Amounts(largest=largest, currency=whatif.before.scenario.currency)
    parts = [
        _head(whatif),
        _verdicts(whatif, money),
        *_figures(whatif, money),
        _curve(whatif, money),
        wrap(SHORT[0]),
    ]
    return "\n\n".join("\n".join(part) for part in parts if part) + "\n"


def _head(whatif: WhatIf) -> list[str]:
    lines = ["WHAT IF"]
    for row in changed_rows(whatif):
        before, after = _shown(row["before"]), _shown(row["after"])
        lines += wrap(f"{row['key']}: {before} -> {after}", hang=2)
    if not whatif.changed:
        lines.append("Nothing is changed.")
    lines += wrap(one_line(whatif.before.scenario.job.well))
    lines += since(whatif.before.scenario, whatif.log)
    draws = whatif.before.scenario.draws
    lines += wrap(
        f"Same random numbers on both sides: {draws.scrambles} scrambles of "
        f"{whatif.before.draws} draws, seed {draws.seed}."
    )
    listed = len(whatif.before.scenario.run) > 1 and ended(whatif.log) is None
    return lines + (wrap(sentences.BY_LIST) if listed else [])


def _verdicts(whatif: WhatIf, money: Amounts) -> list[str]:
    lines = [f"before: {_verdict(whatif, 'before', money)}"]
    lines.append(f"after:  {_verdict(whatif, 'after', money)}")
    lines += sentences.changed(whatif, money, terminal=True)
    return [line for part in lines for line in wrap(part, hang=8)]


def _verdict(whatif: WhatIf, side: Literal["before", "after"], money: Amounts) -> str:
    situation = Situation.of_side(whatif, side)
    words = sentences.verdict(situation, money, terminal=True, brief=True).headline
    if len(situation.flat) > 1:
        words += f" {sentences.say('flat', flat=sentences.flat(situation.flat))}"
    return words


def _figures(whatif: WhatIf, money: Amounts) -> list[list[str]]:
    parts: list[list[str]] = []
    for figure in whatif.figures:
        if figure.name in HEADINGS:
            title = f"{HEADINGS[figure.name]} ({money.unit})"
            parts.append([title, f"{'':22}  before   after  change  +-se"])
        parts[-1].append(_row(WORDS[figure.name], figure, money))
    names = {half.next_run for half in (whatif.before, whatif.after) if half.next_run}
    if len(names) > 1:
        for part in parts:
            if part[0].startswith(HEADINGS["belief"]):
                part += wrap("The next run is another one after the change.")
    return parts


def _curve(whatif: WhatIf, money: Amounts) -> list[str]:
    lines = [
        f"EXPECTED COST IF YOU STOP AFTER SO MANY RUNS ({money.unit})",
        f"{'':22}  before   after  change  +-se",
    ]
    for n, figure in enumerate(whatif.by_runs):
        best = [
            word
            for word, half in (("before", whatif.before), ("after", whatif.after))
            if half.best == n
        ]
        mark = f"  best {' and '.join(best)}" if best else ""
        lines.append(_row(f"{n:>3}{mark}", figure, money))
    lines += wrap("+-se: standard error of the change. unres.: smaller than twice its error.")
    return lines


def _row(words: str, figure: Change, money: Amounts) -> str:
    before, after = (_value(figure, value, money) for value in (figure.before, figure.after))
    row = f"{words:<22}{before:>8}{after:>8}"
    if figure.change is None:
        return row.rstrip()
    if figure.change == 0:
        return f"{row}{'same':>8}"
    if not figure.resolved:
        return f"{row}{'unres.':>8}{_error(figure, money):>6}"
    shown = _value(figure, figure.change, money)
    if not shown.strip("-0.,"):
        return f"{row}{'about 0':>8}{_error(figure, money):>6}"
    signed = shown if shown.startswith("-") else f"+{shown}"
    return f"{row}{signed:>8}{_error(figure, money):>6}"


def _value(figure: Change, value: float | None, money: Amounts) -> str:
    if value is None:
        return "-"
    if figure.unit == "currency":
        return money.short(value)
    return f"{value:z.2f}" if figure.unit == "fraction" else f"{value:z.1f}"


def _error(figure: Change, money: Amounts) -> str:
    if figure.error is None:
        return ""
    if figure.unit == "currency":
        return error_in_words(figure.error / money.scale)
    return f"{figure.error:.2f}" if figure.unit == "fraction" else f"{figure.error:.1f}"


def _shown(value: Any) -> str:
    """A value of the file in words."""
    if value is None:
        return "not given"
    if isinstance(value, dict):
        return "{" + ", ".join(f"{key} = {_shown(item)}" for key, item in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(_shown(item) for item in value) + "]"
    if isinstance(value, bool):
        return str(value).lower()
    return number(value) if isinstance(value, (int, float)) else one_line(str(value))
