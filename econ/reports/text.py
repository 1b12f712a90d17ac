"""The answer as plain ASCII text that fits a phone and can be pasted into an e-mail."""

from __future__ import annotations

import math
from collections.abc import Sequence

from econ.decision import Answer
from econ.reports import tables
from econ.reports.cautions import SEALED_SOURCE, SHORT
from econ.reports.morning_text import morning
from econ.reports.risk_text import authority, fallbacks, insurance, knowing, rentals, risk
from econ.reports.verdict_text import head, rule_is_worth, verdict
from econ.reports.words import Money, error_in_words, one_line, runs, wrap

LISTED_STATES = 8


def text(answer: Answer, more: Sequence[Sequence[str]] = ()) -> str:
    """The whole answer; first the verdict, last the cautions.

    more: sections of lines that were asked for besides.
    """
    money = Money(answer)
    parts = [
        verdict(answer, money),
        head(answer),
        morning(answer, money),
        _curve(answer, money),
        _days(answer),
        _next(answer, money),
        _ahead(answer, money),
        _rule(answer, money),
        authority(answer, money),
        risk(answer, money),
        fallbacks(answer, money),
        rentals(answer, money),
        knowing(answer, money),
        _thumb(answer),
        _worth(answer, money),
        insurance(answer, money),
        *more,
        _notes(answer),
        _cautions(answer),
    ]
    return "\n\n".join("\n".join(part) for part in parts if part) + "\n"


def _curve(answer: Answer, money: Money) -> list[str]:
    lines = [
        f"If you stop after so many runs ({money.unit}):",
        "  runs  days    mean  +-se     P10     P50     P90  out %",
    ]
    for row in answer.by_runs:
        mark = ">" if row.runs == answer.best else " "
        lines.append(
            f"{mark}{row.runs:>5} {row.days:>5.1f}{money.short(row.expected_cost):>8}"
            f" {error_in_words(row.standard_error / money.scale):>5}"
            f"{money.short(row.p10):>8}{money.short(row.p50):>8}{money.short(row.p90):>8}"
            f"{100 * row.probability_recovered:>7.0f}"
        )
    lines += wrap(
        "mean: expected total to drilling ahead again. P90 is not exceeded 90 % of the time. "
        "out %: chance that the fish is out."
    )
    limit = answer.limit
    if limit.cost_if_recovered is not None and limit.cost_if_fallback is not None:
        lines += wrap(
            f"At {runs(limit.runs)}: {money.short(limit.cost_if_recovered)} on average if the "
            f"fish comes out, {money.short(limit.cost_if_fallback)} if not; "
            f"{100 * limit.dearer:.0f} % chance to end dearer than stopping now."
        )
    return lines


def _days(answer: Answer) -> list[str]:
    if len(answer.by_runs) == 1:
        return []
    best = answer.best_by_days
    if answer.best == 0:
        return ["By days: start no run."]
    every = answer.by_runs[-1].expected_cost
    if best.expected_cost >= every - 1e-9 * abs(every):
        return ["By days: no limit by days is better than making every run."]
    when = tables.latest_start(answer)
    clock = f" ({when:%Y-%m-%d %H:%M})" if when else ""
    return wrap(
        f"By days: start no run at or after day {best.days:.2f}{clock}; a run under way is "
        f"finished. {100 * best.probability_recovered:.0f} % chance that the fish is out."
    )


def _next(answer: Answer, money: Money) -> list[str]:
    run = tables.next_run(answer)
    if run is None:
        return []
    ahead = answer.ahead[0]
    forced = answer.cost_of_minimum > 0 and answer.best <= answer.scenario.minimum_runs
    go = ("go, as required" if forced else "go") if run["go"] else "do not make it"
    lines = wrap(f"NEXT RUN ({go}): {one_line(run['name'])}")
    need = _needs(run["break_even_odds"])
    lines += wrap(
        f"{ahead.days:.1f} days, {money.full(ahead.cost)}. Odds {ahead.odds:.2f} against "
        f"break-even {'beyond 1: it never pays by itself' if need == 'never' else need}. "
        f"This run alone, then stop: {_gain(run['gain'], money)}"
        f"{'.' if answer.log else ', mobilization included.'}"
    )
    if answer.contracts:
        lines += wrap(
            "Its cost holds every rental that is called or kept on hand while it is made."
        )
    if run["go"] and not forced and run["gain"] < 0:
        lines += wrap("It pays only with the runs after it; --order looks for a better program.")
    return lines


def _needs(odds: float | None) -> str:
    """Break-even odds; above 1, or with nothing to save, a run never pays by itself."""
    return "never" if odds is None or odds > 1 else f"{max(odds, 0.0):.2f}"


def _gain(gain: float, money: Money) -> str:
    return f"{'gains' if gain >= 0 else 'loses'} {money.full(abs(gain))}"


def _ahead(answer: Answer, money: Money) -> list[str]:
    if not answer.ahead:
        return []
    lines = ["IF EVERY RUN BEFORE IT FAILS WITH NO CHANGE:"]
    lines.append("  run  belief   odds   needs    cost")
    for run in answer.ahead:
        lines.append(
            f"{run.run + 1:>5}{run.workable:>8.2f}{run.odds:>7.2f}"
            f"{_needs(run.break_even_odds):>8}{money.short(run.cost):>8}"
        )
    lines += wrap(
        "belief: chance that the fish is workable. needs: odds at which the run just pays by "
        "itself; a run may also pay because it prepares the next."
    )
    return lines


def _rule(answer: Answer, money: Money) -> list[str]:
    if not answer.ahead:
        return []
    worth = rule_is_worth(answer, money)
    lines = wrap(
        f"RULE BY STATE (decide after each outcome): {money.full(answer.rule_cost.value)}, "
        + (f"{money.short(answer.rule.gain)} less than the limit." if worth else "no better.")
    )
    if worth:
        states = answer.rule.states
        for state in states[:LISTED_STATES]:
            after = ", ".join(name.replace("_", " ") for name in state.history) or "now"
            after = f"any other after run {state.runs}" if after == "..." else after
            lines += wrap(f"{'go  ' if state.go else 'stop'} {after}", hang=5)
        if len(states) > LISTED_STATES:
            lines.append(f"... and {len(states) - LISTED_STATES} more (see --json)")
    if answer.rule.merged_share > 0.001:
        lines += wrap("Rare histories are treated alike; a finer rule might gain more.")
    return lines


def _thumb(answer: Answer) -> list[str]:
    if not answer.ahead:
        return []
    rules = answer.rules
    return [
        "RULES OF THUMB on the same numbers (days):",
        f"  time limit            {_rule_days(rules.time_limit_days)}",
        f"  economic fishing time {_rule_days(rules.economic_fishing_days)}",
        f"  half rule             {_rule_days(rules.half_rule_days)}",
        f"  this answer           {_rule_days(answer.limit.days)}",
        *wrap(
            "They differ because they weigh all of the fallback against days, once, and never "
            "lower the odds after a failed run."
        ),
    ]


def _rule_days(days: float) -> str:
    return f"{days:8.1f}" if math.isfinite(days) else "no limit"


def _worth(answer: Answer, money: Money) -> list[str]:
    if answer.ended is not None:
        return []
    prices = answer.prices
    unit = "ft" if answer.scenario.units == "field" else "m"
    foot = prices.foot_of_fish_top * tables.length_factor(answer)
    lines = wrap(
        f"An hour of waiting costs {prices.hour_of_waiting:,.0f} {money.currency}; the fish top "
        f"1 {unit} deeper saves {foot:,.0f}."
    )
    return lines


def _notes(answer: Answer) -> list[str]:
    found = tables.all_notes(answer)
    if not found:
        return []
    lines = ["NOTES ON THE INPUT:"]
    for each in found:
        lines += wrap("- " + each, hang=2)
    return lines


def _cautions(answer: Answer) -> list[str]:
    lines = ["CAUTIONS"]
    for caution in SHORT:
        lines += wrap("- " + caution, hang=2)
    if answer.scenario.fish.sealed_source:
        lines += ["", *wrap(SEALED_SOURCE[0])]
        for item in SEALED_SOURCE[1:]:
            lines += wrap("[ ] " + item, hang=4)
    return lines
