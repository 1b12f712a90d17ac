"""What the memo says, block by block, in the order it is read; HTML and PDF only lay it out.

The first page is for the morning call, the second is the appendix. Words are built here once,
so that both forms hold the same numbers.
"""

from __future__ import annotations

from dataclasses import dataclass

import econ
from econ.decision import Answer
from econ.decision.sensitivity import Sensitivity
from econ.reports import safety, sentences, tables
from econ.reports.cautions import FULL, SHORT
from econ.reports.names import one_line
from econ.reports.sentences import Said
from econ.reports.tables.memo import assumptions, stop_rule
from econ.reports.tables.situation import Situation
from econ.reports.words import Money, runs

Cells = tuple[str, ...]
MOST_SWINGS = 7  # of the main drivers that are shown


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
    money = Money(answer)
    job = answer.scenario.job
    said = sentences.verdict(Situation.of_answer(answer), money)
    return Memo(
        title=job.well,
        line=_line(answer),
        verdict=said.headline,
        because=_because(answer, said, money),
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
        name = answer.scenario.actions[last.run].name
        parts.append(
            f"{runs(elapsed['runs_made']).capitalize()} made in "
            f"{elapsed['hours_since_first_run']:.0f} h; last: {name}, "
            f"{last.outcome.replace('_', ' ')}"
        )
    if answer.now is not None:
        parts.append(
            f"Costs from {sentences.moment(answer.now)} on; money already spent is left out"
        )
    return ". ".join(parts)


def _because(answer: Answer, said: Said, money: Money) -> tuple[str, ...]:
    """What goes with the verdict: its sentences, and how the best limit ends."""
    lines = [*safety.warnings(answer.as_left), " ".join(said.sentences)]
    if answer.ended is None and answer.ahead:
        limit = answer.limit
        end = sentences.say("to_the_end", to_the_end=money.short(answer.by_runs[-1].expected_cost))
        ends = sentences.ends(answer, money)
        lines.append(
            f"At {runs(limit.runs)}: {ends}. P10 {money.short(limit.p10)}, P50 "
            f"{money.short(limit.p50)}, P90 {money.short(limit.p90)}. {sentences.TEMPLATES['p90']} "
            f"Fund the mean. {end}"
        )
    return tuple(lines)


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
    if answer.ahead:
        rows.append(("By days", sentences.by_days(answer)))
    return Facts("Stop rule: whichever comes first", tuple(rows))


def _next(answer: Answer, money: Money) -> Facts:
    run = tables.next_run(answer)
    if run is None:
        return Facts("Next run", (("None", "the program lists no further run"),))
    ahead = answer.ahead[0]
    alone = sentences.gain(run["gain"], money)
    if prepares := sentences.prepares(answer):
        alone += f". {prepares}"
    rows = [
        ("Run", run["name"]),
        ("Go or stop", sentences.ADVICE[sentences.advice(answer)]),
        ("Odds", sentences.odds_against(ahead.odds, ahead.break_even_odds)),
        ("Takes", f"{24 * ahead.days:.0f} h and {money.full(ahead.cost)}"),
        ("By itself", alone),
    ]
    for row in tables.paying_readings(answer):
        worth = sentences.worth_against(money, worth=row["worth"], price=row["price"])
        rows.append(("A reading before it", f"{row['name']}: {worth} {money.unit}"))
    for contract in answer.contracts:
        words = sentences.ACTIONS[contract.action]
        if contract.first_run is not None:
            words += f", for run {contract.first_run}"
        rows.append((contract.tool, words))
    rows.append(("An hour of waiting", f"{answer.prices.hour_of_waiting:,.0f} {money.currency}"))
    return Facts("Next run and call-outs", tuple(rows))


def _money(answer: Answer, money: Money) -> Facts:
    rows = sentences.authority(answer, money)
    if waiting := sentences.waiting(answer, money):
        rows.append(("Waiting for a vote", waiting))
    rows.append(("Money spent", f"{money.full(answer.spent)}, on every branch, in no figure above"))
    return Facts(f"Authority ({money.unit})", tuple(rows))


def _failures(answer: Answer) -> tuple[Grid, ...]:
    if not answer.ahead:
        return ()
    held = tables.beliefs(answer, answer.ahead[0])
    return (
        Grid(
            "What each failure teaches",
            (
                "run",
                *(one_line(name) or "chance workable" for name, _ in held),
                "odds",
                "odds to break even",
            ),
            _belief(answer),
            marked=0 if answer.fish else None,
        ),
    )


def _changes(sensitivity: Sensitivity, money: Money) -> Grid:
    return Grid(
        f"What would change the answer ({money.unit})",
        ("driver", "verdict flips", "tried", "mean moves", "limit"),
        _inputs(sensitivity, money),
        note="Limit: best number of runs at either end. x: factor on what it is. Tried: a step of "
        "this program.",
        shares=(0.27, 0.19, 0.2, 0.21, 0.13),
    )


def _appendix(answer: Answer, money: Money) -> tuple[Block, ...]:
    blocks: list[Block] = [
        Grid(
            f"Limits on runs ({money.unit})",
            ("runs", "days", "mean", "P10", "P50", "P90", "worst 1/10", "fish out"),
            _limits(answer, money),
            marked=answer.best,
            note=f"{sentences.TEMPLATES['p90']} Reserves use the opposite sense. "
            "Percentiles are of the total and are never added.",
        ),
        Grid(
            "Assumptions and their origin",
            ("assumption", "value", "origin"),
            _assumptions(answer, money),
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
    barred = safety.barred_runs(answer.as_left)
    if barred:
        blocks.append(Points("Runs that are barred", tuple(("", each) for each in barred)))
    if duties := safety.checklist(answer.as_left):
        head, *items = duties
        blocks.append(Points(head, tuple(("[ ]", item) for item in items)))
    return tuple(blocks)


def _belief(answer: Answer) -> tuple[tuple[str, ...], ...]:
    """Belief, odds and break-even odds if every run before fails with no change."""
    rows = []
    for run in answer.ahead:
        needs = sentences.break_even(run.break_even_odds)
        held = (f"{chance:.2f}" for _, chance in tables.beliefs(answer, run))
        rows.append((f"{run.run + 1}", *held, f"{run.odds:.2f}", needs))
    return tuple(rows)


def _limits(answer: Answer, money: Money) -> tuple[tuple[str, ...], ...]:
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


def _assumptions(answer: Answer, money: Money) -> tuple[tuple[str, ...], ...]:
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


def _inputs(sensitivity: Sensitivity, money: Money) -> tuple[tuple[str, ...], ...]:
    """The main inputs, the largest swing first: where each flips the verdict, the step tried,
    what it does to the mean at the limit as it stands, and the best limits at its ends."""
    flips = {flip.input: flip for flip in sensitivity.flips}
    rows = []
    for swing in sorted(sensitivity.swings, key=lambda each: -each.size)[:MOST_SWINGS]:
        turned, flip = sensitivity.input(swing.name), flips.get(swing.name)
        times = "x" if turned.factor else ""
        low, high = swing.low, swing.high
        where = "no"
        if flip is not None and flip.at is not None:
            side = "below" if flip.below != _verb(sensitivity) else "above"
            where = f"{side} {times}{flip.at:.2f}"
        elif flip is None:
            where = "-"
        best = sorted({low.best, high.best})
        rows.append(
            (
                turned.words,
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


def _foot(answer: Answer) -> str:
    draws = answer.scenario.draws
    priced = f", prices of {answer.scenario.price_date}" if answer.scenario.price_date else ""
    return (
        f"econ {econ.__version__}: {draws.scrambles} scrambles of {answer.draws} draws, seed "
        f"{draws.seed}; {answer.scenario.currency}{priced}. {SHORT[0]}"
    )
