"""The answer as plain ASCII text that fits a phone and can be pasted into an e-mail."""

from __future__ import annotations

import math
import textwrap
import unicodedata

from econ.decision import Answer
from econ.reports import tables
from econ.reports.cautions import SEALED_SOURCE, SHORT
from econ.scenario.notes import notes

WIDTH = 64
SCALES = ("", "thousand", "million", "billion", "trillion", "quadrillion")
LARGEST_SHOWN = 99_999.5
LISTED_STATES = 8


def text(answer: Answer) -> str:
    """The whole answer; first the verdict, last the cautions."""
    money = _Money(answer)
    parts = [
        _verdict(answer, money),
        _head(answer),
        _curve(answer, money),
        _days(answer),
        _next(answer, money),
        _ahead(answer, money),
        _rule(answer, money),
        _authority(answer, money),
        _thumb(answer),
        _worth(answer, money),
        _notes(answer),
        _cautions(answer),
    ]
    return "\n\n".join("\n".join(part) for part in parts if part) + "\n"


def ascii_only(words: str) -> str:
    """Words in printable ASCII: accents dropped, anything else as a question mark."""
    plain = unicodedata.normalize("NFKD", words)
    kept = [char for char in plain if not unicodedata.combining(char)]
    return "".join(char if " " <= char <= "~" else "?" for char in kept)


class _Money:
    """Amounts in one unit for the whole text, the largest with at most five digits."""

    def __init__(self, answer: Answer) -> None:
        amounts = [max(row.p90, row.expected_cost) for row in answer.by_runs]
        largest = max([*amounts, *(run.cost for run in answer.ahead)])
        power = 0
        while largest / 1000**power >= LARGEST_SHOWN and power < len(SCALES) - 1:
            power += 1
        self.currency = ascii_only(answer.scenario.currency)
        self.scale = 1000.0**power
        self.unit = f"{SCALES[power]} {self.currency}".strip()
        self.decimals = max(0, 3 - len(f"{largest / self.scale:.0f}"))

    def short(self, value: float) -> str:
        """Without the unit."""
        return f"{value / self.scale:,.{self.decimals}f}"

    def full(self, value: float) -> str:
        """With the unit."""
        return f"{self.short(value)} {self.unit}"

    def shows(self, value: float) -> bool:
        """Whether an amount is more than half of the last digit shown."""
        return bool(value > 0.5 * self.scale * 0.1**self.decimals)


def _verdict(answer: Answer, money: _Money) -> list[str]:
    limit = answer.limit
    fallback = ascii_only(answer.scenario.fallback[0].name).strip()
    if len(answer.scenario.fallback) > 1:
        fallback = "the cheapest fallback"
    now = answer.by_runs[0].expected_cost
    if answer.best > 0:
        verb = "FISH ON, AS REQUIRED" if answer.cost_of_minimum > 0 else "FISH ON"
        then = f", then {fallback}" if answer.stage_2.probability > 0 else ""
        lines = _wrap(f"{verb}: at most {_more(limit.runs)}, about {limit.days:.1f} days{then}.")
    elif answer.fish:
        lines = _wrap(
            "FISH ON, RUN BY RUN: no limit by runs pays (0 runs, 0 days), but the rule by state "
            f"does, by {money.full(answer.rule.gain)}. Decide after each outcome as listed."
        )
    else:
        lines = _wrap(f"STOP FISHING: 0 more runs, 0 days; go to {fallback}.")
    if answer.cost_of_minimum > 0:
        lines += _wrap(
            f"{_runs(answer.scenario.minimum_runs)} must be made (minimum_runs); without that "
            f"it would cost {money.full(answer.cost_of_minimum)} less."
        )
    if answer.best > 0 and answer.saving.value > 0:
        lines += _wrap(
            f"Expected cost {money.full(limit.expected_cost)}: {money.short(answer.saving.value)} "
            f"less than stopping now ({money.short(now)})."
        )
    elif answer.best == 0 and len(answer.by_runs) > 1:
        others = min(row.expected_cost for row in answer.by_runs[1:])
        lines += _wrap(
            f"Expected cost {money.full(now)}; the best limit with a run in it costs "
            f"{money.short(others)}."
        )
    else:
        lines += _wrap(f"Expected cost {money.full(limit.expected_cost)}.")
    if answer.best > 0 and _rule_is_worth(answer, money):
        lines += _wrap(
            "Deciding after each outcome (rule by state) saves "
            f"{money.short(answer.rule.gain)} more."
        )
    low, high = answer.flat
    if low != high:
        lines += _wrap(f"Flat: {low} to {high} runs cost within 2 % of the best.")
    return lines + _unresolved(answer)


def _unresolved(answer: Answer) -> list[str]:
    """Limits that are not told apart: the same, or within the error."""
    best = answer.limit.expected_cost
    same: list[str] = []
    close: list[str] = []
    for n in answer.not_told_apart:
        equal = abs(answer.by_runs[n].expected_cost - best) <= 1e-9 * abs(best)
        (same if equal else close).append(str(n))
    lines = []
    if same:
        lines += _wrap(f"TIE: {answer.best} and {', '.join(same)} runs cost the same.")
    if close:
        lines += _wrap(
            f"UNRESOLVED: {answer.best} and {', '.join(close)} runs differ by less than the "
            "error of the computation; raise n under [draws]."
        )
    return lines


def _rule_is_worth(answer: Answer, money: _Money) -> bool:
    return answer.rule.gain > 0 and money.shows(answer.rule.gain)


def _more(count: int) -> str:
    return "1 more run" if count == 1 else f"{count} more runs"


def _runs(count: int) -> str:
    return "1 run" if count == 1 else f"{count} runs"


def _head(answer: Answer) -> list[str]:
    job = answer.scenario.job
    lines = _wrap(ascii_only(job.well))
    if job.event:
        lines += _wrap(ascii_only(job.event))
    if job.decided_at:
        lines.append(f"Costs from {str(job.decided_at)[:16]} on; money already spent is left out.")
    else:
        lines.append("Costs from now on; money already spent is left out.")
    draws = answer.scenario.draws
    lines.append(f"{draws.scrambles} scrambles of {draws.n} draws, seed {draws.seed}.")
    return lines


def _curve(answer: Answer, money: _Money) -> list[str]:
    lines = [
        f"If you stop after so many runs ({money.unit}):",
        "  runs  days    mean  +-se     P10     P50     P90  out %",
    ]
    for row in answer.by_runs:
        mark = ">" if row.runs == answer.best else " "
        lines.append(
            f"{mark}{row.runs:>5} {row.days:>5.1f}{money.short(row.expected_cost):>8}"
            f" {_error(row.standard_error / money.scale):>5}"
            f"{money.short(row.p10):>8}{money.short(row.p50):>8}{money.short(row.p90):>8}"
            f"{100 * row.probability_recovered:>7.0f}"
        )
    lines += _wrap(
        "mean: expected total to drilling ahead again. P90 is not exceeded 90 % of the time. "
        "out %: chance that the fish is out."
    )
    limit = answer.limit
    if limit.cost_if_recovered is not None and limit.cost_if_fallback is not None:
        lines += _wrap(
            f"At {_runs(limit.runs)}: {money.short(limit.cost_if_recovered)} on average if the "
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
    return _wrap(
        f"By days: start no run at or after day {best.days:.2f}{clock}; a run under way is "
        f"finished. {100 * best.probability_recovered:.0f} % chance that the fish is out."
    )


def _next(answer: Answer, money: _Money) -> list[str]:
    run = tables.next_run(answer)
    if run is None:
        return []
    ahead = answer.ahead[0]
    forced = answer.cost_of_minimum > 0 and answer.best <= answer.scenario.minimum_runs
    go = ("go, as required" if forced else "go") if run["go"] else "do not make it"
    lines = _wrap(f"NEXT RUN ({go}): {ascii_only(run['name'])}")
    need = _needs(run["break_even_odds"])
    lines += _wrap(
        f"{ahead.days:.1f} days, {money.full(ahead.cost)}. Odds {ahead.odds:.2f} against "
        f"break-even {'beyond 1: it never pays by itself' if need == 'never' else need}. "
        f"This run alone, then stop: {_gain(run['gain'], money)}, mobilization included."
    )
    return lines


def _needs(odds: float | None) -> str:
    """Break-even odds; above 1, or with nothing to save, a run never pays by itself."""
    return "never" if odds is None or odds > 1 else f"{max(odds, 0.0):.2f}"


def _gain(gain: float, money: _Money) -> str:
    return f"{'gains' if gain >= 0 else 'loses'} {money.full(abs(gain))}"


def _ahead(answer: Answer, money: _Money) -> list[str]:
    if not answer.ahead:
        return []
    lines = ["IF EVERY RUN BEFORE IT FAILS WITH NO CHANGE:"]
    lines.append("  run  belief   odds   needs    cost")
    for run in answer.ahead:
        lines.append(
            f"{run.failed_runs + 1:>5}{run.workable:>8.2f}{run.odds:>7.2f}"
            f"{_needs(run.break_even_odds):>8}{money.short(run.cost):>8}"
        )
    lines += _wrap(
        "belief: chance that the fish is workable. needs: odds at which the run just pays by "
        "itself; a run may also pay because it prepares the next."
    )
    return lines


def _rule(answer: Answer, money: _Money) -> list[str]:
    if not answer.ahead:
        return []
    worth = _rule_is_worth(answer, money)
    lines = _wrap(
        f"RULE BY STATE (decide after each outcome): {money.full(answer.rule_cost.value)}, "
        + (f"{money.short(answer.rule.gain)} less than the limit." if worth else "no better.")
    )
    if worth:
        states = answer.rule.states
        for state in states[:LISTED_STATES]:
            after = ", ".join(name.replace("_", " ") for name in state.history) or "now"
            after = f"any other after run {state.runs}" if after == "..." else after
            lines += _wrap(f"{'go  ' if state.go else 'stop'} {after}", hang=5)
        if len(states) > LISTED_STATES:
            lines.append(f"... and {len(states) - LISTED_STATES} more (see --json)")
    if answer.rule.merged_share > 0.001:
        lines += _wrap("Rare histories are treated alike; a finer rule might gain more.")
    return lines


def _authority(answer: Answer, money: _Money) -> list[str]:
    first, second = answer.stage_1, answer.stage_2
    return [
        f"AUTHORITY TO ASK FOR ({money.unit}):",
        *_wrap(
            f"Stage 1, fish to the limit: {money.short(first.planned)} planned if all runs fail, "
            f"mean {money.short(first.mean)}, P90 {money.short(first.p90)}."
        ),
        *_wrap(
            f"Stage 2, then the fallback: needed with {100 * second.probability:.0f} % chance, "
            f"mean {money.short(second.mean)}, P90 {money.short(second.p90)}."
        ),
    ]


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
        *_wrap(
            "They differ because they weigh all of the fallback against days, once, and never "
            "lower the odds after a failed run."
        ),
    ]


def _rule_days(days: float) -> str:
    return f"{days:8.1f}" if math.isfinite(days) else "no limit"


def _worth(answer: Answer, money: _Money) -> list[str]:
    prices = answer.prices
    unit = "ft" if answer.scenario.units == "field" else "m"
    foot = prices.foot_of_fish_top * tables.length_factor(answer)
    lines = _wrap(
        f"An hour of waiting costs {prices.hour_of_waiting:,.0f} {money.currency}; the fish top "
        f"one {unit} deeper saves {foot:,.0f}."
    )
    if answer.worth_of_kind > 0:
        lines += _wrap(
            f"To know for certain whether the fish is workable would be worth about "
            f"{money.full(answer.worth_of_kind)}."
        )
    return lines


def _notes(answer: Answer) -> list[str]:
    found = notes(answer.scenario)
    if not found:
        return []
    lines = ["NOTES ON THE INPUT:"]
    for each in found:
        lines += _wrap("- " + each, hang=2)
    return lines


def _cautions(answer: Answer) -> list[str]:
    lines = ["CAUTIONS"]
    for caution in SHORT:
        lines += _wrap("- " + caution, hang=2)
    if answer.scenario.fish.sealed_source:
        lines += ["", *_wrap(SEALED_SOURCE[0])]
        for item in SEALED_SOURCE[1:]:
            lines += _wrap("[ ] " + item, hang=4)
    return lines


def _wrap(words: str, hang: int = 0) -> list[str]:
    return textwrap.wrap(words, WIDTH, subsequent_indent=" " * hang) or [""]


def _error(error: float) -> str:
    return f"{error:.0f}" if error >= 9.5 else f"{error:.1f}"
