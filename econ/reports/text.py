"""The answer as plain ASCII text that fits a phone and can be pasted into an e-mail.

What is read first fits a screen of SCREEN lines; the rest is printed where it is asked for. Lines
on safety are not counted and never left out.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from econ.decision import Answer
from econ.decision.next_run import RunAhead
from econ.reports import safety, sentences, tables
from econ.reports.cautions import SHORT
from econ.reports.first_screen import TOLD, Block, Row, first_screen
from econ.reports.morning_text import morning
from econ.reports.risk_text import authority, delays, fallbacks, insurance, knowing, rentals, risk
from econ.reports.tables.situation import Situation
from econ.reports.words import Money, error_in_words, one_line, runs, wrap
from econ.scenario.program import OddsByKind
from econ.scenario.scenario import Scenario

LISTED_STATES = 8
SCREEN = 24  # lines


def text(answer: Answer, more: Sequence[Sequence[str]] = (), *, full: bool = False) -> str:
    """The first screen of an answer; with `full` all of it, last the cautions.

    more: sections of lines that were asked for besides.

    >>> import econ
    >>> answer = econ.answer(econ.load("scenarios/point/a_land_twist_off.toml"))
    >>> print(text(answer).splitlines()[0])
    FISH ON: at most 3 more runs, about 4.3 days, then Open-hole
    """
    screen = screen_lines(answer, more_is_asked=full)
    if not full:
        return "\n\n".join("\n".join(part) for part in (screen, *more)) + "\n"
    money = Money(answer)
    parts = [
        screen,
        _verdict(answer, money),
        _head(answer),
        morning(answer, money),
        _curve(answer, money),
        _days(answer),
        delays(answer, money),
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
        _barred(answer),
        _notes(answer),
        cautions(answer.as_left),
    ]
    return "\n\n".join("\n".join(part) for part in parts if part) + "\n"


def handed_on(answer: Answer) -> str:
    """The first screen as text for those who have not asked for it: every row of it, duties too,
    and no word on options of the command line.

    >>> import econ
    >>> answer = econ.answer(econ.load("scenarios/point/a_land_twist_off.toml"))
    >>> handed_on(answer).splitlines()[0]
    'Fish on: at most 3 more runs, about 4.3 days, then Open-hole'
    """
    screen = first_screen(answer)
    rows = [(block, row) for block in screen.blocks for row in block.rows]
    lines = [
        *(line for words in (*screen.verdict, *screen.safety) for line in wrap(words)),
        *_laid_out(rows),
        *wrap(screen.caution),
        *_duties(answer.as_left),
    ]
    return "\n".join(lines) + "\n"


def screen_lines(answer: Answer, *, more_is_asked: bool = False) -> list[str]:
    """The lines of the first screen. more_is_asked: whether the rest follows, so that nothing needs
    to be said of it."""
    screen = first_screen(answer, terminal=True)
    verdict = [line for words in screen.verdict for line in wrap(words)]
    harm = [line for words in screen.safety for line in wrap(words)]
    caution = wrap(screen.caution)
    duties = [] if more_is_asked else _duties(answer.as_left)
    notes = 0 if more_is_asked else len(tables.all_notes(answer))
    rows = [(block, row) for block in screen.blocks for row in block.rows]
    dropped: list[Row] = []
    while True:
        left = [(block, row) for block, row in rows if row not in dropped]
        tail = caution + ([] if more_is_asked else wrap(_rest(notes, len(dropped))))
        body = _laid_out(left)
        worst = max((row.rank for _, row in left), default=0)
        if len(verdict) + len(body) + len(tail) <= SCREEN or worst == 0:
            return verdict + harm + body + tail + duties
        dropped.append(next(row for _, row in reversed(left) if row.rank == worst))


def _laid_out(rows: Sequence[tuple[Block, Row]]) -> list[str]:
    lines: list[str] = []
    title = ""
    for block, row in rows:
        words = f"{row.label}: {row.words}" if row.label else row.words
        if block.title != title:
            title = block.title
            if block.heads:
                lines.append(title.upper())
            else:
                words = f"{title.upper()}. {words}"
        lines += wrap(words, hang=2)
    return lines


def _rest(notes: int, dropped: int) -> str:
    """What is not on the screen."""
    said = []
    if dropped:
        said.append(f"{dropped} line{'' if dropped == 1 else 's'} left out")
    if notes:
        said.append(f"{notes} note{'' if notes == 1 else 's'} on the input")
    return f"{', '.join([*said, 'the rest'])}: --full.".capitalize()


def _verdict(answer: Answer, money: Money) -> list[str]:
    """What goes with the verdict and is not on the first screen."""
    said = sentences.verdict(Situation.of_answer(answer), money, terminal=True)
    return [
        "IN FULL",
        *(line for name, words in said.named if name not in TOLD for line in wrap(words)),
    ]


def _head(answer: Answer) -> list[str]:
    """Which job, from when on, with how many draws."""
    job, draws = answer.scenario.job, answer.scenario.draws
    lines = wrap(one_line(job.well))
    if job.event:
        lines += wrap(one_line(job.event))
    when = "now" if answer.now is None else sentences.moment(answer.now)
    lines.append(f"Costs from {when} on; money already spent is left out.")
    lines.append(f"From {draws.scrambles * answer.draws:,} cases drawn, seed {draws.seed}.")
    return lines


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
        f"mean: expected total to drilling ahead again. {sentences.TEMPLATES['p90']} "
        "out %: chance that the fish is out."
    )
    if answer.best > 0:
        ends, dearer = sentences.ends(answer, money), sentences.dearer(answer)
        lines += wrap(f"At {runs(answer.best)}: {ends}; {dearer}.")
    return lines


def _days(answer: Answer) -> list[str]:
    if len(answer.by_runs) == 1:
        return []
    words = f"By days: {sentences.by_days(answer)}."
    if answer.best > 0 and not tables.no_limit_by_days(answer):
        chance = sentences.percent(answer.best_by_days.probability_recovered)
        words += f" {chance} chance that the fish is out."
    return wrap(words)


def _next(answer: Answer, money: Money) -> list[str]:
    run = tables.next_run(answer)
    if run is None:
        return []
    ahead = answer.ahead[0]
    go = sentences.ADVICE[sentences.advice(answer)]
    lines = wrap(f"NEXT RUN ({go}): {one_line(run['name'])}")
    lines += wrap(
        f"{ahead.days:.1f} days, {money.full(ahead.cost)}. "
        f"Odds {sentences.odds_against(ahead.odds, ahead.break_even_odds)}. "
        f"This run alone, then stop: {sentences.gain(run['gain'], money)}"
        f"{'.' if answer.log else ', mobilization included.'}"
    )
    if answer.contracts:
        lines += wrap(
            "Its cost holds every rental that is called or kept on hand while it is made."
        )
    if prepares := sentences.prepares(answer, terminal=True):
        lines += wrap(prepares)
    return lines


def _ahead(answer: Answer, money: Money) -> list[str]:
    if not answer.ahead:
        return []
    lines = ["IF EVERY RUN BEFORE IT FAILS WITH NO CHANGE:"]
    lines.append("  run  belief   odds   needs    cost")
    for run in answer.ahead:
        lines.append(
            f"{run.run + 1:>5}{_belief(answer, run):>8}{run.odds:>7.2f}"
            f"{sentences.break_even(run.break_even_odds):>8}{money.short(run.cost):>8}"
        )
    doubts = list(zip(answer.scenario.doubts, answer.ahead[0].doubts, strict=False))
    if doubts:
        chances = ", ".join(f"{doubt.name} {chance.value:.2f}" for doubt, chance in doubts)
        lines += wrap(f"Doubts now, each the chance that it is in favour: {chances}.")
    belief = "all that the run depends on is in favour" if doubts else "the fish is workable"
    lines += wrap(
        f"belief: chance that {belief}. needs: odds at which the run just pays by "
        "itself; a run may also pay because it prepares the next."
    )
    return lines


def _belief(answer: Answer, run: RunAhead) -> str:
    """The belief that decides on a run; nothing where it depends on no doubt of several."""
    rests = isinstance(answer.scenario.run[run.run].odds, OddsByKind)
    return f"{run.workable:.2f}" if rests or not run.doubts else "-"


def _rule(answer: Answer, money: Money) -> list[str]:
    if not answer.ahead:
        return []
    worth = money.shows(answer.rule.gain)
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
    rules, last = answer.rules, answer.by_runs[-1].days
    return [
        "RULES OF THUMB on the same numbers (days):",
        f"  time limit            {_rule_days(rules.time_limit_days, last)}",
        f"  economic fishing time {_rule_days(rules.economic_fishing_days, last)}",
        f"  half rule             {_rule_days(rules.half_rule_days, last)}",
        f"  this answer           {_rule_days(answer.limit.days, last)}",
        *wrap(
            "They differ because they weigh all of the fallback against days, once, and never "
            "lower the odds after a failed run."
        ),
    ]


def _rule_days(days: float, last: float) -> str:
    """Days of a rule; nothing is said by those beyond the `last` run of the list."""
    if not math.isfinite(days):
        return "no limit"
    return f"{days:8.1f}" if days <= 2.0 * last else "past the end of the list"


def _worth(answer: Answer, money: Money) -> list[str]:
    if answer.ended is not None:
        return []
    prices = answer.prices
    unit, factor = tables.length_unit(answer), tables.length_factor(answer)
    said = f"An hour of waiting costs {prices.hour_of_waiting:,.0f} {money.currency}"
    if answer.timetable.fish_top + factor < answer.scenario.fish.bottom * factor:
        said += f"; the fish top 1 {unit} deeper saves {prices.foot_of_fish_top * factor:,.0f}"
    return wrap(f"{said}.")


def _barred(answer: Answer) -> list[str]:
    """Runs of the program that a hazard in the fish bars, with the rule."""
    found = safety.barred_runs(answer.as_left)
    if not found:
        return []
    return [
        "RUNS THAT ARE BARRED:",
        *(line for each in found for line in wrap("- " + each, hang=2)),
    ]


def _notes(answer: Answer) -> list[str]:
    found = tables.all_notes(answer)
    if not found:
        return []
    lines = ["NOTES ON THE INPUT:"]
    for each in found:
        lines += wrap("- " + each, hang=2)
    return lines


def cautions(job: Scenario) -> list[str]:
    """The cautions that go with every text, and those of a sealed source in the fish."""
    lines = ["CAUTIONS"]
    for caution in SHORT:
        lines += wrap("- " + caution, hang=2)
    return lines + _duties(job)


def _duties(job: Scenario) -> list[str]:
    """Those of a sealed source in the fish; none without one."""
    duties = safety.checklist(job)
    if not duties:
        return []
    lines = ["", *wrap(duties[0])]
    for item in duties[1:]:
        lines += wrap("[ ] " + item, hang=4)
    return lines
