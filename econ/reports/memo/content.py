"""What the memo says, block by block, in the order it is read; HTML and PDF only lay it out.

The first page is the first screen of the answer (`econ.reports.first_screen`), in the same words
and order, with lines to sign and the curve. What stands behind it follows: what would change it,
the limits, the failures, the money, what is assumed, the cautions. Words are built here once, so
that both forms hold the same numbers.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import econ
from econ.decision import Answer
from econ.decision.sensitivity import Sensitivity
from econ.decision.sensitivity.inputs import Input
from econ.decision.sensitivity.swings import Swing
from econ.reports import safety, sentences, tables
from econ.reports.amounts import rounded, whole
from econ.reports.cautions import FULL, planned
from econ.reports.first_screen import CALLS, FirstScreen, first_screen, said_moment
from econ.reports.names import one_line
from econ.reports.tables.memo import assumptions, stop_rule
from econ.reports.tables.plain import Row
from econ.reports.tables.situation import Situation
from econ.reports.words import Money, runs

Cells = tuple[str, ...]
MOST_SWINGS = 7  # of the main drivers that are shown
LARGE = 0.02  # of the expected cost: an assumption that moves it by more moves the answer
SIGNED = ("Prepared by", "Approved by", "Date")
FEW_LINES = 5  # runs and tools: with more of them the left column is the longer one
FIRST_BLOCK = "Chance, dates, cost"  # title of the block that has none on a terminal


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
    small: bool = False  # in small print


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
    note: str = ""  # what stands above them


@dataclass(frozen=True)
class Beside:
    """Blocks beside one another, in two columns."""

    left: tuple[Block, ...]
    right: tuple[Block, ...]


Block = Facts | Grid | Picture | Points | Beside


@dataclass(frozen=True)
class Memo:
    """The first page in the order in which it is read, then the blocks behind it.

    issued: the time of issue and what it is; signed: lines to sign; curve: left out where there is
    one limit only, which is no curve.
    """

    title: str
    line: str
    issued: tuple[str, str]
    signed: tuple[str, ...]
    verdict: str
    because: tuple[str, ...]
    safety: tuple[str, ...]
    first: tuple[Facts, ...]
    curve: Picture | None
    caution: str
    behind: tuple[Block, ...]
    foot: str


def memo(answer: Answer, sensitivity: Sensitivity, alt: dict[str, str]) -> Memo:
    """The memo of an answer. sensitivity: what would change it; alt: words for the figures."""
    job, screen = answer.scenario.job, first_screen(answer)
    headline, *because = screen.verdict
    return Memo(
        title=job.well,
        line=job.event,
        issued=_issued(answer),
        signed=SIGNED,
        verdict=headline,
        because=tuple(because),
        safety=screen.safety,
        first=tuple(
            Facts(
                one_line(block.title) or FIRST_BLOCK,
                tuple((row.label, row.words) for row in block.rows),
            )
            for block in screen.blocks
        ),
        curve=Picture("curve", alt["curve"]) if len(answer.by_runs) > 1 else None,
        caution=" ".join(filter(None, (planned(answer.scenario), screen.caution))),
        behind=tuple(_behind(answer, sensitivity, screen, Picture("sketch", alt["sketch"]))),
        foot=_foot(answer),
    )


def _issued(answer: Answer) -> tuple[str, str]:
    """When the memo holds, by the clock of the job: never that of the computer, so that the same
    job gives the same memo."""
    if answer.now is None:
        return "", "day and hour of writing, by hand: the file has no clock"
    when = f"{said_moment(answer.now, answer.now)[:-6]} {answer.now:%Y, %H:%M}"
    what = "end of the last run in the log" if answer.log else "when the decision is taken"
    return when, what


def _behind(
    answer: Answer, sensitivity: Sensitivity, screen: FirstScreen, sketch: Picture
) -> Iterator[Block]:
    """What stands behind the first page."""
    money = Money(answer)
    if said := " ".join(_in_full(answer, money, screen)):
        yield Facts("The verdict in full", (("", said),))
    swings = _swings(sensitivity, money)
    if swings:
        yield _changes(sensitivity, swings, money)
    yield _limits(answer, money)
    left: tuple[Block, ...] = (*_failures(answer), _next(answer, money))
    right: tuple[Block, ...] = (_stop(answer, money), _money(answer, money))
    if len(answer.ahead) + len(answer.contracts) <= FEW_LINES:
        left += (sketch,)
    else:
        right += (sketch,)
    yield Beside(left, right)
    yield from _assumed(answer, sensitivity, money)
    if noted := tables.all_notes(answer):
        yield Points("Notes on the input", tuple(("", each) for each in noted))
    yield Points("Cautions", tuple(FULL))
    if duties := safety.checklist(answer.as_left):
        head, *items = duties
        yield Points("Sealed source: checklist", tuple(("[ ]", item) for item in items), head)


# ---- what goes with the verdict ---------------------------------------------------------------


def _in_full(answer: Answer, money: Money, screen: FirstScreen) -> list[str]:
    """The sentences of the verdict that the first page has not, and how the best limit ends."""
    said = sentences.verdict(Situation.of_answer(answer), money)
    lines = [words for words in said.sentences if words not in screen.verdict]
    if answer.ended is None and answer.ahead:
        limit = answer.limit
        lines.append(
            f"At {runs(limit.runs)}: {sentences.ends(answer, money)}. P10 "
            f"{money.short(limit.p10)}, P50 {money.short(limit.p50)}, P90 "
            f"{money.short(limit.p90)}. {sentences.TEMPLATES['p90']} "
            "Fund the mean, and know the P90."
        )
        end = money.short(answer.by_runs[-1].expected_cost)
        lines.append(sentences.say("to_the_end", to_the_end=end))
    if answer.now is not None:
        lines.append(
            f"Costs from {sentences.moment(answer.now)} on; money already spent is left out."
        )
    return lines


# ---- stop rule, next run, authority -----------------------------------------------------------


def _stop(answer: Answer, money: Money) -> Facts:
    rule = stop_rule(answer)
    left = whole(rule["money_left"])
    made = f"; {rounded(rule['money_made'])} spent in the log" if answer.log else ""
    rows = [
        ("Runs", f"{rule['runs_left']} more; {rule['runs_made']} made"),
        ("Days", f"{rule['days_left']:.1f} more if all fail; {rule['days_made']:.1f} gone"),
        ("Money", f"{left} {money.currency} more if all fail{made}"),
    ]
    if answer.ahead:
        rows.append(("By days", sentences.by_days(answer)))
        if read := tables.paying_readings(answer):
            hours, price = (sum(row[name] for row in read) for name in ("hours", "price"))
            rows[0] = ("Runs", f"{rows[0][1]}; a reading adds {hours:.0f} h, {whole(price)}")
    return Facts("Stop rule: whichever comes first", tuple(rows))


def _next(answer: Answer, money: Money) -> Facts:
    run = tables.next_run(answer)
    if run is None:
        return Facts("The next run of the list", (("None", "the program lists no further run"),))
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
        words = CALLS.get(contract.action, sentences.ACTIONS[contract.action])
        if contract.first_run is not None and contract.action not in ("release", "do_not_order"):
            words += f", for run {contract.first_run}"
        rows.append((contract.tool, words))
    hour = rounded(answer.prices.hour_of_waiting)
    rows.append(("An hour of waiting", f"{hour} {money.currency}"))
    return Facts("The next run of the list", tuple(rows))


def _money(answer: Answer, money: Money) -> Facts:
    rows = sentences.authority(answer, money)
    if waiting := sentences.waiting(answer, money):
        rows.append(("Waiting for a vote", waiting))
    if answer.spent > 0:
        spent = f"{rounded(answer.spent)} {money.currency}, on every branch, in no figure above"
        rows.append(("Money spent", spent))
    return Facts(f"Authority ({money.unit})", tuple(rows))


# ---- tables -----------------------------------------------------------------------------------


def _failures(answer: Answer) -> tuple[Grid, ...]:
    """Belief, odds and the odds that are needed if every run before fails with no change."""
    if not answer.ahead:
        return ()
    held = tables.beliefs(answer, answer.ahead[0])
    rows = []
    for run in answer.ahead:
        need = sentences.break_even(run.break_even_odds)
        if need != "never":
            assert run.break_even_odds is not None
            need = sentences.percent(max(run.break_even_odds, 0.0))
        chances = [sentences.percent(chance) for _, chance in tables.beliefs(answer, run)]
        rows.append((f"{run.run + 1}", *chances, sentences.percent(run.odds), need))
    names = [_spaced(name) or "chance workable" for name, _ in held]
    return (
        Grid(
            "What each failure teaches",
            ("run", *names, "odds", "odds to break even"),
            tuple(rows),
            marked=0 if answer.fish else None,
        ),
    )


def _limits(answer: Answer, money: Money) -> Grid:
    """The curve by runs as words."""
    rows = tuple(
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
    return Grid(
        f"Limits on runs ({money.unit})",
        ("runs", "days", "mean", "P10", "P50", "P90", "worst 1/10", "fish out"),
        rows,
        marked=answer.best,
        note=f"{sentences.TEMPLATES['p90']} For reserves P90 means the opposite. "
        "Percentiles are of the total and are never added.",
    )


# ---- what would change the answer -------------------------------------------------------------


def _swings(sensitivity: Sensitivity, money: Money) -> list[Swing]:
    """The main inputs, the largest swing first, without those that say nothing."""
    flips = {flip.input for flip in sensitivity.flips if flip.at is not None}
    said = [
        swing
        for swing in sorted(sensitivity.swings, key=lambda each: -each.size)
        if swing.name in flips or len(_best(swing)) > 1 or len({*_moves(swing, money)}) > 1
    ]
    return said[:MOST_SWINGS]


def _best(swing: Swing) -> list[int]:
    return sorted({swing.low.best, swing.high.best})


def _moves(swing: Swing, money: Money) -> tuple[str, str]:
    """What an input does to the mean at the limit as it stands, at its ends."""
    low, high = (_signed(side.change_kept.value, money) for side in (swing.low, swing.high))
    return low, high


def _changes(sensitivity: Sensitivity, swings: Sequence[Swing], money: Money) -> Grid:
    flips = {flip.input: flip for flip in sensitivity.flips}
    rows = []
    for swing in swings:
        turned, flip = sensitivity.input(swing.name), flips.get(swing.name)
        where = "no"
        if flip is not None and flip.at is not None:
            side = "below" if flip.below != _verb(sensitivity) else "above"
            where = f"{side} {_valued(turned, flip.at)}"
        elif flip is None:
            where = "-"
        tried = f"{_valued(turned, swing.low.value)} to {_valued(turned, swing.high.value)}"
        moves = " to ".join(dict.fromkeys(_moves(swing, money)))
        best = " or ".join(str(limit) for limit in _best(swing))
        rows.append((_spaced(turned.words), where, tried, moves, best))
    return Grid(
        f"What would change the answer ({money.unit})",
        ("input", "verdict turns", "tried", "mean moves by", "best limit"),
        tuple(rows),
        note="x: times what it is in the file. Tried: a step either way, the same for every job; "
        "the steps are judgement. Best limit: in runs, at either end.",
        shares=(0.26, 0.22, 0.24, 0.16, 0.12),
    )


def _valued(turned: Input, value: float) -> str:
    """A value of an input: a factor, or a chance."""
    return f"x{value:.2f}" if turned.factor else sentences.percent(value)


def _verb(sensitivity: Sensitivity) -> str:
    """What the limits say as the job stands, required runs left aside."""
    cost = sensitivity.cost.mean(axis=0)
    return "fish" if len(cost) > 1 and cost[1:].min() < cost[0] else "stop"


def _signed(value: float, money: Money) -> str:
    return (
        f"{'+' if value >= 0 else '-'}{money.short(abs(value))}" if money.shows(abs(value)) else "0"
    )


# ---- assumptions ------------------------------------------------------------------------------


def _assumed(answer: Answer, sensitivity: Sensitivity, money: Money) -> Iterator[Grid]:
    """Assumptions and their origin: those that move the answer, then the others in small print."""
    movers = _movers(sensitivity)
    rows = assumptions(answer)
    moving = [row for row in rows if movers.intersection(row["inputs"])]
    others = [row for row in rows if row not in moving]
    odds = answer.scenario.has_kinds
    note = "Odds of a run: on a workable fish / on a stubborn one." if odds else ""
    titles = ("Assumptions that move the answer", "Other assumptions")
    shown = [(*each, k) for k, each in enumerate(zip(titles, (moving, others), strict=True))]
    for title, some, small in shown:
        if some:
            yield Grid(
                title,
                ("assumption", "value", "origin"),
                tuple(_assumption(row, money) for row in some),
                shares=(0.36, 0.33, 0.31),
                words=3,
                note=note if any(row["name"].startswith("run ") for row in some) else "",
                small=bool(small),
            )


def _movers(sensitivity: Sensitivity) -> set[str]:
    """Main inputs that, turned by their step, move the best limit or the expected cost by much, or
    that turn the verdict."""
    flips = {flip.input for flip in sensitivity.flips if flip.at is not None}
    large = LARGE * abs(sensitivity.best_cost.value)
    names = {
        swing.name for swing in sensitivity.swings if swing.size > large or swing.moves_limit
    } | flips
    return {name.partition(".")[0] if name.startswith("rates.") else name for name in names}


def _assumption(row: Row, money: Money) -> Cells:
    """An assumption as words: amounts of the scenario by their mean, then their spread."""
    value = row["value"]
    if row["unit"] == "money":
        value = f"{rounded(value)} {money.currency}"
    elif row["unit"]:
        value = f"{value:,.4g} {row['unit']}"
    return row["name"], value, row["origin"]


def _spaced(name: str) -> str:
    """A word of a file as words."""
    return one_line(name).replace("_", " ")


def _foot(answer: Answer) -> str:
    draws = answer.scenario.draws
    priced = f", prices of {answer.scenario.price_date}" if answer.scenario.price_date else ""
    cases = draws.scrambles * answer.draws
    return (
        f"econ {econ.__version__}: {cases:,} cases drawn, seed {draws.seed}; "
        f"{one_line(answer.scenario.currency)}{priced}."
    )
