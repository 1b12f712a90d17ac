"""The answer as plain ASCII text that fits a phone and can be pasted into an e-mail."""

from __future__ import annotations

import textwrap
import unicodedata

from econ.decision import Answer
from econ.reports import tables
from econ.reports.cautions import SEALED_SOURCE, SHORT
from econ.scenario.notes import notes

WIDTH = 64
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
    """Amounts in one unit for the whole text."""

    def __init__(self, answer: Answer) -> None:
        largest = max(abs(row.p90) for row in answer.by_runs)
        self.currency = ascii_only(answer.scenario.currency)
        self.scale = 1e3 if largest >= 2e5 else 1.0
        self.unit = f"thousand {self.currency}" if self.scale > 1 else self.currency

    def short(self, value: float) -> str:
        """Without the unit."""
        return f"{value / self.scale:,.0f}"

    def full(self, value: float) -> str:
        """With the unit."""
        return f"{self.short(value)} {self.unit}"


def _verdict(answer: Answer, money: _Money) -> list[str]:
    limit = answer.limit
    fallback = ascii_only(answer.scenario.fallback[0].name).strip()
    if len(answer.scenario.fallback) > 1:
        fallback = "the cheapest fallback"
    now = answer.by_runs[0].expected_cost
    if answer.fish:
        lines = _wrap(
            f"FISH ON: at most {_runs(limit.runs)} more, about {limit.days:.1f} days, "
            f"then {fallback}."
        )
    else:
        lines = _wrap(f"STOP FISHING: 0 more runs, 0 days; go to {fallback}.")
    if answer.cost_of_minimum > 0:
        lines += _wrap(
            f"{_runs(answer.scenario.minimum_runs)} must be made (minimum_runs); without that "
            f"it would cost {money.full(answer.cost_of_minimum)} less."
        )
    if answer.fish and answer.saving.value > 0:
        lines += _wrap(
            f"Expected cost {money.full(limit.expected_cost)}: {money.short(answer.saving.value)} "
            f"less than stopping now ({money.short(now)})."
        )
    elif not answer.fish and len(answer.by_runs) > 1:
        others = min(row.expected_cost for row in answer.by_runs[1:])
        lines += _wrap(
            f"Expected cost {money.full(now)}; the best that fishing could do is "
            f"{money.short(others)}."
        )
    else:
        lines += _wrap(f"Expected cost {money.full(limit.expected_cost)}.")
    low, high = answer.flat
    if low != high:
        lines += _wrap(f"Flat: {low} to {high} runs cost within 2 % of the best.")
    if not answer.resolved:
        close = ", ".join(str(n) for n in answer.not_told_apart)
        lines += _wrap(
            f"UNRESOLVED: {answer.best} and {close} runs differ by less than the error of the "
            "computation; raise n under [draws]."
        )
    return lines


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
            f"{mark}{row.runs:>5}{row.days:>6.1f}{money.short(row.expected_cost):>8}"
            f"{_error(row.standard_error / money.scale):>6}"
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
    if not answer.fish:
        return ["By days: start no run."]
    every = answer.by_runs[-1].expected_cost
    if best.expected_cost >= every - 1e-9 * abs(every):
        return ["By days: no limit by days is better than making every run."]
    when = tables.latest_start(answer)
    clock = f" ({when:%Y-%m-%d %H:%M})" if when else ""
    return _wrap(
        f"By days: start no run after day {best.days:.2f}{clock}; a run under way is "
        f"finished. {100 * best.probability_recovered:.0f} % chance that the fish is out."
    )


def _next(answer: Answer, money: _Money) -> list[str]:
    run = tables.next_run(answer)
    if run is None:
        return []
    ahead = answer.ahead[0]
    need = run["break_even_odds"]
    lines = _wrap(f"NEXT RUN: {ascii_only(run['name'])}: {'go' if run['go'] else 'do not make it'}")
    lines += _wrap(
        f"{ahead.days:.1f} days, {money.full(ahead.cost)}. Odds {ahead.odds:.2f} against "
        f"break-even {'none: recovery saves nothing' if need is None else f'{need:.2f}'}. "
        f"This run alone, then stop: {_gain(run['gain'], money)}, mobilization included."
    )
    return lines


def _gain(gain: float, money: _Money) -> str:
    return f"{'gains' if gain >= 0 else 'loses'} {money.full(abs(gain))}"


def _ahead(answer: Answer, money: _Money) -> list[str]:
    if not answer.ahead:
        return []
    lines = ["IF EVERY RUN BEFORE IT FAILS WITH NO CHANGE:"]
    lines.append("  run  belief   odds   needs    cost")
    for run in answer.ahead:
        need = "none" if run.break_even_odds is None else f"{run.break_even_odds:.2f}"
        lines.append(
            f"{run.failed_runs + 1:>5}{run.workable:>8.2f}{run.odds:>7.2f}{need:>8}"
            f"{money.short(run.cost):>8}"
        )
    lines += _wrap(
        "belief: chance that the fish is workable. needs: odds at which the run just pays by "
        "itself; a run may also pay because it prepares the next."
    )
    return lines


def _rule(answer: Answer, money: _Money) -> list[str]:
    if not answer.ahead:
        return []
    gain = answer.rule.gain
    worth = gain > max(2 * answer.rule.gain_error, 1e-4 * abs(answer.limit.expected_cost))
    lines = _wrap(
        f"RULE BY STATE (decide after each outcome): {money.full(answer.rule_cost.value)}, "
        + (f"{money.short(gain)} less than the limit." if worth else "no better.")
    )
    if worth:
        for state in answer.rule.states[:LISTED_STATES]:
            after = ", ".join(name.replace("_", " ") for name in state.history) or "now"
            lines += _wrap(f"{'go  ' if state.go else 'stop'} {after}", hang=5)
    if answer.rule.merged_share > 0.001:
        lines += _wrap("Rare histories are treated alike; the true gain may be a little more.")
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
    rules = answer.rules
    return [
        "RULES OF THUMB on the same numbers (days):",
        f"  time limit            {rules.time_limit_days:6.1f}",
        f"  economic fishing time {rules.economic_fishing_days:6.1f}",
        f"  half rule             {rules.half_rule_days:6.1f}",
        f"  this answer           {answer.limit.days:6.1f}",
        *_wrap(
            "They differ because they weigh all of the fallback against days, once, and never "
            "lower the odds after a failed run."
        ),
    ]


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
