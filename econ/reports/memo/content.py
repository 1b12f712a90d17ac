"""What the memo says, block by block, in the order it is read; HTML and PDF only lay it out.

The first page is for the morning call, the second is the appendix. Words are built here once,
so that both forms hold the same numbers.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import econ
from econ.decision import Answer
from econ.decision.sensitivity import Sensitivity
from econ.reports import tables
from econ.reports.cautions import FULL, SEALED_SOURCE
from econ.reports.memo.reading import assumption_rows, belief_rows, change_rows, curve_words
from econ.reports.tables.memo import call_outs, stop_rule
from econ.reports.words import Money, more_runs, runs

Cells = tuple[str, ...]


@dataclass(frozen=True)
class Facts:
    """A titled list of what is said about a few things, label and words."""

    title: str
    rows: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Grid:
    """A titled table; the row `marked` is the one that is recommended."""

    title: str
    header: Cells
    rows: tuple[Cells, ...]
    marked: int | None = None
    note: str = ""
    shares: tuple[float, ...] = ()  # widths of the columns, of 1; all alike where left out
    words: int = 1  # how many columns hold words, which stand to the left


@dataclass(frozen=True)
class Picture:
    """A figure by its name, with words for whoever cannot see it."""

    name: str
    alt: str


@dataclass(frozen=True)
class Points:
    """A titled list of sentences, some of them with a word in front."""

    title: str
    rows: tuple[tuple[str, str], ...]


Block = Facts | Grid | Picture | Points


@dataclass(frozen=True)
class Memo:
    """title, line under it, verdict, sentences that go with it, and the blocks of two pages."""

    title: str
    line: str
    verdict: str
    because: tuple[str, ...]
    wide: tuple[Block, ...]
    left: tuple[Block, ...]
    right: tuple[Block, ...]
    appendix: tuple[Block, ...]
    foot: str


def memo(answer: Answer, sensitivity: Sensitivity, alt: dict[str, str]) -> Memo:
    """The memo of an answer. sensitivity: what would change it; alt: words for the figures."""
    money = Money(answer, plain=False)
    job = answer.scenario.job
    verdict, because = _verdict(answer, money)
    return Memo(
        title=job.well,
        line=_line(answer),
        verdict=verdict,
        because=because,
        wide=(Picture("curve", alt["curve"]),),
        left=(
            _stop(answer, money),
            _next(answer, money),
            _money(answer, money),
            *_failures(answer),
        ),
        right=(
            Picture("sketch", alt["sketch"]),
            _changes(sensitivity, money),
        ),
        appendix=_appendix(answer, money),
        foot=_foot(answer),
    )


def _line(answer: Answer) -> str:
    job, parts = answer.scenario.job, []
    if job.event:
        parts.append(job.event)
    if answer.log:
        elapsed = tables.morning(answer) or {}
        last = answer.log[-1]
        name = answer.scenario.run[last.run].name
        parts.append(
            f"{runs(len(answer.log)).capitalize()} made in "
            f"{elapsed['hours_since_first_run']:.0f} h; last: {name}, "
            f"{last.outcome.replace('_', ' ')}"
        )
    if answer.now is not None:
        parts.append(f"Costs from {_moment(answer.now)} on; money already spent is left out")
    return ". ".join(parts)


def _verdict(answer: Answer, money: Money) -> tuple[str, tuple[str, ...]]:
    """One sentence, and what goes with it."""
    limit, now = answer.limit, answer.by_runs[0].expected_cost
    fallback = answer.fallbacks.taken.name
    if answer.fallbacks.others and answer.best > 0:
        fallback += " or another fallback, as it then is"
    flat = answer.flat[0] != answer.flat[-1]
    if answer.ended == "recovered":
        cost = money.full(limit.expected_cost)
        return f"The fish is out: the work after recovery costs {cost}.", ()
    if answer.ended is not None:
        lost = "fishing string" if answer.ended == "string_lost" else "hole"
        cost = money.full(limit.expected_cost)
        return f"Fishing is over: the {lost} is lost. Expected cost from here {cost}.", ()
    if answer.best > 0:
        verdict = (
            f"Fish on: at most {more_runs(limit.runs)}, about {limit.days:.1f} days, then "
            f"{fallback}; this saves {money.full(answer.saving.value)} against stopping now"
        )
        verdict += (
            f" (flat: {answer.flat[0]} to {answer.flat[-1]} runs within 2 %)." if flat else "."
        )
    elif answer.fish:
        verdict = (
            "Fish on, run by run: no fixed limit pays, but deciding after each outcome saves "
            f"{money.full(answer.rule.gain)}."
        )
    else:
        verdict = f"Stop fishing and go to {fallback}: no further run pays in the order listed."
    because = [
        f"Expected total from now {money.full(limit.expected_cost)}, stopping now "
        f"{money.short(now)}, going on to the end {money.short(answer.by_runs[-1].expected_cost)}. "
        f"{100 * limit.probability_recovered:.0f} % chance that the fish comes out."
    ]
    if answer.cost_of_minimum > 0:
        because.append(
            f"{runs(answer.scenario.minimum_runs)} must be made as reasonable effort; without that "
            f"it would cost {money.full(answer.cost_of_minimum)} less."
        )
    if not answer.resolved:
        others = ", ".join(str(n) for n in answer.not_told_apart)
        because.append(f"Not told apart from {others} runs within the error of the computation.")
    if limit.cost_if_recovered is not None and limit.cost_if_fallback is not None:
        because.append(
            f"Two humps: {money.short(limit.cost_if_recovered)} on average with the fish out, "
            f"{money.short(limit.cost_if_fallback)} with a fallback. P10 {money.short(limit.p10)}, "
            f"P50 {money.short(limit.p50)}, P90 {money.short(limit.p90)}; P90 is not exceeded 90 % "
            "of the time. Fund the mean."
        )
    return verdict, tuple(because)


def _stop(answer: Answer, money: Money) -> Facts:
    rule = stop_rule(answer)
    rows = [
        ("Runs", f"{rule['runs_left']} more; {rule['runs_made']} made"),
        ("Days", f"{rule['days_left']:.1f} more if all fail; {rule['days_made']:.1f} gone"),
        (
            "Money",
            f"{money.full(rule['money_left'])} more if all fail; {money.short(rule['money_made'])} "
            "spent in the log",
        ),
    ]
    if rule["latest_start"] is not None:
        rows.append(("Latest start", f"no run after {_moment(rule['latest_start'])}"))
    elif answer.best:
        rows.append(("Latest start", f"no run after day {rule['no_run_after_days']:.2f} from now"))
    return Facts("Stop rule: whichever comes first", tuple(rows))


def _next(answer: Answer, money: Money) -> Facts:
    run = tables.next_run(answer)
    if run is None:
        return Facts("Next run", (("None", "the program lists no further run"),))
    ahead = answer.ahead[0]
    need = run["break_even_odds"]
    needs = "no odds at all" if need is None or need > 1 else f"{max(need, 0.0):.2f}"
    rows = [
        ("Run", run["name"]),
        ("Make it", _make(answer, go=run["go"])),
        ("Odds", f"{ahead.odds:.2f} stated against {needs} to break even"),
        ("Takes", f"{24 * ahead.days:.0f} h and {money.full(ahead.cost)}"),
        ("By itself", _by_itself(run["gain"], money, go=run["go"])),
    ]
    for row in tables.paying_readings(answer):
        worth = f"worth {money.short(row['worth'])} against {money.short(row['price'])}"
        rows.append(("A reading before it", f"{row['name']}: {worth} {money.unit}"))
    for row in call_outs(answer):
        words = row["action"]
        if row["first_run"] is not None:
            words += f", for run {row['first_run']}"
        rows.append((row["tool"], words))
    rows.append(("An hour of waiting", f"{answer.prices.hour_of_waiting:,.0f} {money.currency}"))
    return Facts("Next run and call-outs", tuple(rows))


def _make(answer: Answer, *, go: bool) -> str:
    forced = answer.cost_of_minimum > 0 and answer.best <= answer.scenario.minimum_runs
    return ("yes, as required" if forced else "yes") if go else "no"


def _by_itself(gain: float, money: Money, *, go: bool) -> str:
    if gain >= 0:
        return f"gains {money.full(gain)}"
    return f"loses {money.full(-gain)}" + ("; it prepares the runs after it" if go else "")


def _money(answer: Answer, money: Money) -> Facts:
    asked = answer.authority
    rows = [
        (
            "Stage 1, fishing",
            f"{money.full(asked.stage_1.planned)} planned, mean {money.short(asked.stage_1.mean)}, "
            f"P90 {money.short(asked.stage_1.p90)}",
        ),
        (
            "Stage 2, fallback",
            f"{100 * asked.stage_2.probability:.0f} % chance, mean "
            f"{money.short(asked.stage_2.mean)}, P90 {money.short(asked.stage_2.p90)}",
        ),
        ("Waiting for a vote", f"{asked.response_hours:g} h cost {money.full(asked.waiting_cost)}"),
    ]
    if asked.given is not None and asked.suffices is not None:
        rows.append(
            (
                "Authority left" if answer.log else "Authority",
                f"{money.full(asked.given)}, suffices with {100 * asked.suffices:.0f} % chance",
            )
        )
    rows.append(("Money spent", f"{money.full(answer.spent)}, on every branch, in no figure above"))
    return Facts("Authority", tuple(rows))


def _failures(answer: Answer) -> tuple[Grid, ...]:
    if not answer.ahead:
        return ()
    return (
        Grid(
            "What each failure teaches",
            ("run", "chance workable", "odds", "odds to break even"),
            belief_rows(answer),
            marked=0 if answer.fish else None,
        ),
    )


def _changes(sensitivity: Sensitivity, money: Money) -> Grid:
    return Grid(
        f"What would change the answer ({money.unit})",
        ("driver", "verdict flips", "tried", "mean moves", "limit"),
        change_rows(sensitivity, money),
        note="Limit: best number of runs at either end. x: factor on what it is. Tried: a step of "
        "this program.",
        shares=(0.27, 0.19, 0.2, 0.21, 0.13),
    )


def _appendix(answer: Answer, money: Money) -> tuple[Block, ...]:
    blocks: list[Block] = [
        Grid(
            f"Limits on runs ({money.unit})",
            ("runs", "days", "mean", "P10", "P50", "P90", "worst 1/10", "fish out"),
            curve_words(answer, money),
            marked=answer.best,
            note="P90 is not exceeded 90 % of the time (reserves use the opposite sense). "
            "Percentiles are of the total and are never added.",
        ),
        Grid(
            "Assumptions and their origin",
            ("assumption", "value", "origin"),
            assumption_rows(answer, money),
            shares=(0.28, 0.32, 0.4),
            words=3,
            note="Odds of a run: on a workable fish / on a stubborn one."
            if answer.scenario.has_kinds
            else "",
        ),
    ]
    noted = tables.all_notes(answer)
    if noted:
        blocks.append(Points("Notes on the input", tuple(("", each) for each in noted)))
    cautions = list(FULL)
    blocks.append(Points("Cautions", tuple(cautions)))
    if answer.scenario.fish.sealed_source:
        head, *items = SEALED_SOURCE
        blocks.append(Points(head, tuple(("[ ]", item) for item in items)))
    return tuple(blocks)


def _foot(answer: Answer) -> str:
    draws = answer.scenario.draws
    priced = f", prices of {answer.scenario.price_date}" if answer.scenario.price_date else ""
    return (
        f"econ {econ.__version__}: {draws.scrambles} scrambles of {answer.draws} draws, seed "
        f"{draws.seed}; {answer.scenario.currency}{priced}. Compares costs and odds; "
        "not a procedure."
    )


def _moment(when: datetime) -> str:
    return f"{when:%Y-%m-%d %H:%M}"
