"""The verdict and the head of the answer."""

from __future__ import annotations

from econ.decision import Answer
from econ.reports.tables import paying_readings
from econ.reports.words import Money, more_runs, one_line, runs, wrap


def verdict(answer: Answer, money: Money) -> list[str]:
    """Go on or stop, the limit, what it saves, and what is not told apart."""
    if answer.ended is not None:
        return _over(answer, money)
    limit = answer.limit
    fallback = one_line(answer.fallbacks.taken.name).strip()
    if answer.fallbacks.others and answer.best > 0:
        fallback += " or another fallback, as it then is"
    now = answer.by_runs[0].expected_cost
    if answer.best > 0:
        verb = "FISH ON, AS REQUIRED" if answer.cost_of_minimum > 0 else "FISH ON"
        then = f", then {fallback}" if answer.stage_2.probability > 0 else ""
        lines = wrap(f"{verb}: at most {more_runs(limit.runs)}, about {limit.days:.1f} days{then}.")
    elif answer.fish:
        lines = wrap(
            "FISH ON, RUN BY RUN: no limit by runs pays (0 runs, 0 days), but the rule by state "
            f"does, by {money.full(answer.rule.gain)}. Decide after each outcome as listed."
        )
    else:
        lines = wrap(f"STOP FISHING: 0 more runs, 0 days; go to {fallback}.")
    if answer.cost_of_minimum > 0:
        least = answer.scenario.minimum_runs
        lines += wrap(
            f"{runs(least)} must be made (minimum_runs); without that "
            f"it would cost {money.full(answer.cost_of_minimum)} less."
        )
    if answer.best > 0 and answer.saving.value > 0:
        lines += wrap(
            f"Expected cost {money.full(limit.expected_cost)}: {money.short(answer.saving.value)} "
            f"less than stopping now ({money.short(now)})."
        )
    elif answer.best == 0 and len(answer.by_runs) > 1:
        others = min(row.expected_cost for row in answer.by_runs[1:])
        lines += wrap(
            f"Expected cost {money.full(now)}; the best limit with a run in it costs "
            f"{money.short(others)}."
        )
        if len(answer.ahead) > 1:
            lines += wrap("That is with the runs in the order listed; --order tries others.")
    else:
        lines += wrap(f"Expected cost {money.full(limit.expected_cost)}.")
    if answer.best > 0 and rule_is_worth(answer, money):
        lines += wrap(
            "Deciding after each outcome (rule by state) saves "
            f"{money.short(answer.rule.gain)} more."
        )
    for row in paying_readings(answer):
        lines += wrap(
            f"Before that a reading pays: {one_line(row['name'])}, worth "
            f"{money.short(row['worth'])} against {money.short(row['price'])}."
        )
    low, high = answer.flat[0], answer.flat[-1]
    if low != high:
        lines += wrap(f"Flat: {low} to {high} runs cost within 2 % of the best.")
    return lines + _unresolved(answer)


def _over(answer: Answer, money: Money) -> list[str]:
    """The verdict where the log ended the job."""
    cost = money.full(answer.limit.expected_cost)
    if answer.ended == "recovered":
        return wrap(f"THE FISH IS OUT: nothing to decide. The work after recovery costs {cost}.")
    lost = "the fishing string is lost" if answer.ended == "string_lost" else "the hole is lost"
    taken = answer.fallbacks.taken.name
    return wrap(f"FISHING IS OVER: {lost}. {one_line(taken).strip()}: expected cost {cost}.")


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
        lines += wrap(f"TIE: {answer.best} and {', '.join(same)} runs cost the same.")
    if close:
        lines += wrap(
            f"UNRESOLVED: {answer.best} and {', '.join(close)} runs differ by less than the "
            "error of the computation; raise n under [draws]."
        )
    return lines


def rule_is_worth(answer: Answer, money: Money) -> bool:
    """Whether deciding after each outcome gains an amount that is shown."""
    return answer.rule.gain > 0 and money.shows(answer.rule.gain)


def head(answer: Answer) -> list[str]:
    """Which job, from when on, with how many draws."""
    job = answer.scenario.job
    lines = wrap(one_line(job.well))
    if job.event:
        lines += wrap(one_line(job.event))
    if answer.now is not None:
        moment = f"{answer.now:%Y-%m-%d %H:%M}"
        lines.append(f"Costs from {moment} on; money already spent is left out.")
    else:
        lines.append("Costs from now on; money already spent is left out.")
    draws = answer.scenario.draws
    lines.append(f"{draws.scrambles} scrambles of {answer.draws} draws, seed {draws.seed}.")
    return lines
