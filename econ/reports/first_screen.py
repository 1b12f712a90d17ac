"""What is read first: the verdict, the dates, the next run, tonight's orders, the money to ask for.

The content stands here once, as blocks of a label and words; text and memo lay it out. A row has a
rank: where there is no room the rows of the highest rank are left out first, and counted.

    screen = first_screen(answer)
    screen.verdict      sentences, the headline first
    screen.safety       what in the fish can harm people, never left out
    screen.blocks       titled rows
    screen.caution      one sentence
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

from econ.decision import Answer
from econ.decision.plan import Do
from econ.decision.reply import reply
from econ.decision.tonight import Tonight, tonight
from econ.reports import safety, sentences, tables
from econ.reports.amounts import rounded, whole
from econ.reports.names import one_line
from econ.reports.outcome_words import OUTCOMES
from econ.reports.sentences import break_even, percent
from econ.reports.tables.situation import Situation, case_of, is_close
from econ.reports.tables.tonight import clock, expected_cost, name_of
from econ.reports.words import Money, runs
from econ.scenario import Scenario
from econ.scenario.hazards import hazards

LONGEST_NAME = 44  # characters of a name on a terminal
LONGEST_ON_PAPER = 150
DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
MONTHS = (
    *("Jan", "Feb", "Mar", "Apr", "May", "Jun"),
    *("Jul", "Aug", "Sep", "Oct", "Nov", "Dec"),
)
# Sentences of a verdict that are told on the first screen too, by the names of their templates.
TOLD = ("cost_recovered", "minimum", "rule", "list_more", "tie")
CALLS = {
    "too_early": "call it out later: it comes long before its run",
    "release": "release it",
    "do_not_order": "do not order it",
    "call_now": "call it out now",
    "call_with_run": "call it out with its run",
    "either": "call it out now or with its run",
}
BEGINS = 1 / 48  # days of waiting before a run that are told
NO_CATCH = 1e-6  # odds of a run that is made for the runs after it alone
LATER = ("do_not_order", "too_early")  # what nobody has to do tonight
CAUTION = (
    "Sums only: no procedure, design or approval. Well control, local codes and the person in "
    "charge on the rig come first."
)


@dataclass(frozen=True)
class Row:
    """A label and what is said of it; rank: which rows are left out first, the highest."""

    label: str
    words: str
    rank: int = 0


@dataclass(frozen=True)
class Block:
    """A titled block; the first has no title. heads: whether the title stands over its rows, and
    not before the first of them."""

    title: str
    rows: tuple[Row, ...]
    heads: bool = False


@dataclass(frozen=True)
class FirstScreen:
    """See the head of the module."""

    verdict: tuple[str, ...]
    safety: tuple[str, ...]
    blocks: tuple[Block, ...]
    caution: str


def first_screen(answer: Answer, *, terminal: bool = False) -> FirstScreen:
    """The first screen of an answer. terminal: first words of the verdict in capitals, and options
    of the command line named."""
    money, now = Money(answer), tonight(answer)
    most = LONGEST_NAME if terminal else LONGEST_ON_PAPER
    situation = Situation.of_answer(answer)
    said = sentences.verdict(situation, money, terminal=terminal)
    told = [words for name, words in said.named if name in TOLD]
    if now.by == "plan" and situation.plan_gain is not None:
        told.append(
            sentences.say(
                "plan_tonight",
                most_runs=runs(now.most_runs),
                days=f"{now.longest_days:.1f}",
                plan_gain=rounded(situation.plan_gain),
            )
        )
    blocks = (
        Block("", tuple(_stands(answer, now, most))),
        Block(_next_title(now), tuple(_next(answer, now, most))),
        Block(_orders_title(answer, now), tuple(_orders(answer, now, most)), heads=True),
        Block("Money", tuple(_money(answer, now))),
    )
    return FirstScreen(
        verdict=(said.headline, *(_hangs_on(answer, now) if is_close(situation) else ()), *told),
        safety=(*safety.warnings(answer.as_left), *_barred(answer)),
        blocks=tuple(block for block in blocks if block.rows),
        caution=CAUTION,
    )


# ---- the verdict ------------------------------------------------------------------------------


def _hangs_on(answer: Answer, now: Tonight) -> Iterator[str]:
    """What a close call hangs on, and where it flips. Hinges are those of the limit, so that where
    a plan alone pays they say when the runs would pay as they are listed."""
    if not answer.hinges:
        return
    by_plan_alone = now.by == "plan" and answer.best == 0
    fish = answer.fish and not by_plan_alone
    parts = []
    for hinge in answer.hinges:
        where = "below" if hinge.below == ("stop" if fish else "fish") else "above"
        if hinge.amount is None:
            said = f"{one_line(hinge.words)} {where} {percent(hinge.at)} (now {percent(hinge.now)})"
        else:
            unit = {"currency/d": " a day"}.get(hinge.unit, "")
            said = (
                f"{one_line(hinge.words)} {where} {rounded(hinge.at * hinge.amount)}{unit} "
                f"(now {rounded(hinge.amount)})"
            )
        parts.append(said)
    begins = "As listed the runs would pay" if by_plan_alone else "It would be the other way"
    yield f"{begins} with {', or '.join(parts)}."


def _barred(answer: Answer) -> tuple[str, ...]:
    """Runs that a hazard bars, on one line each."""
    return safety.barred_runs(answer.as_left)


# ---- chances, dates and money -----------------------------------------------------------------


def _stands(answer: Answer, now: Tonight, most: int) -> Iterator[Row]:
    yield Row("", _where(answer, most))
    if answer.overspent:
        words = f"overspent by {whole(answer.overspent)}: ask before spending more."
        yield Row("AUTHORITY", words)
    if (so_far := _so_far(answer)) is not None:
        yield Row("So far", so_far, rank=1)
    back, limit = now.back, answer.limit
    by_limit, ended = now.by != "plan", answer.ended
    if back.probability_recovered > 0 and now.do != "stop":
        cost = limit.cost_if_recovered if by_limit else None
        words = f"{percent(back.probability_recovered)} chance"
        yield Row("Fish out", words + _then(answer, back.recovered, cost, "back at depth"))
    if now.do != "stop" and back.probability_recovered < 1:
        cost = limit.cost_if_fallback if by_limit else None
        words = _then(answer, back.fallback, cost, _done(answer)).removeprefix("; ")
        yield Row("Not out", words)
    label = {"recovered": "Left to do", None: "Stop now"}.get(ended, "From here")
    day = limit.days_if_recovered if ended == "recovered" else back.stop_now
    done = "back at depth" if ended == "recovered" else _done(answer)
    words = _then(answer, day, answer.by_runs[0].expected_cost, done).removeprefix("; ")
    if case_of(Situation.of_answer(answer)) != "fish_required":  # else to stop is no choice
        yield Row(label, words)
    with_a_run = Situation.of_answer(answer).best_with_a_run
    if now.do != "stop":
        yield Row("From now on", _on_average(answer, now))
    elif with_a_run is not None and ended is None:
        yield Row("Fishing on", f"{rounded(with_a_run)} on average with the best limit.")
    if answer.late is not None and ended is None:
        late = answer.late.by_runs[answer.best]
        yield Row(
            "Deadline",
            f"{_hour(answer, answer.late.days)}; {percent(late.chance.value)} chance to miss "
            f"it, {rounded(late.cost.value)} on average.",
        )


def _where(answer: Answer, most: int) -> str:
    factor, unit = tables.length_factor(answer), tables.length_unit(answer)
    top = answer.timetable.fish_top / factor
    parts = [_short(answer.scenario.job.well, most)]
    if answer.ended != "recovered":
        parts.append(f"fish top {top:,.0f} {unit}")
    if answer.now is not None:
        parts.append(said_moment(answer.now, answer.now))
    gives_up = answer.fallbacks.taken.value_given_up > 0 and answer.ended != "recovered"
    counted = ", value given up counted" if gives_up else ""
    return ", ".join(parts) + f"; {one_line(answer.scenario.currency)}{counted}."


def _so_far(answer: Answer) -> str | None:
    log = tables.morning(answer)
    if log is None:
        return None
    last = answer.log[-1]
    outcome = last.outcome.replace("_", " ")
    unknown = sum(row["cost"] is None for row in log["runs"])
    spent = f"{rounded(log['spent'])}{' or more' if unknown else ''} spent"
    if unknown == len(log["runs"]):
        spent = "cost not logged"
    said = f"{runs(log['runs_made'])}, {spent}; last: {outcome}"
    before, after = answer.before, answer.after
    if answer.ended is not None or not answer.scenario.has_kinds:
        before = None
    if before is not None and after is not None and not after.doubts:
        was, is_now = percent(before.workable), percent(after.workable)
        said += f"; fish workable {is_now}" + ("" if was == is_now else f", {was} before")
    if any(then.beyond for then in answer.limits_then):
        said += "; a run was made beyond the limit"
    if answer.hours is not None and answer.scenario.fishing.learn_hours:
        said += f"; hours ahead at {answer.hours.factor:.2f} of plan"
    return said + "."


def _then(answer: Answer, day: float | None, cost: float | None, done: str) -> str:
    said = "" if day is None else f"; {done} about {_date(answer, day)}"
    if cost is not None:
        said += f", for {rounded(cost)}" if said else f"; for {rounded(cost)}"
    return said + "."


def _done(answer: Answer) -> str:
    """What the end of a fallback is called."""
    fallback = answer.timetable.fallback
    leads_back = fallback is not None and fallback.kickoff is not None
    return "back at depth" if leads_back else "the fallback done"


def _on_average(answer: Answer, now: Tonight) -> str:
    cost = rounded(expected_cost(answer, now))
    if now.by == "plan":
        return f"{cost} on average."
    limit = answer.limit
    return (
        f"{cost} on average; 1 time in 10 above {rounded(limit.p90)}; {sentences.dearer(answer)}."
    )


# ---- the next run -----------------------------------------------------------------------------


def _next_title(now: Tonight) -> str:
    if isinstance(now.do, int):
        return f"Run {now.do}"
    return "Run that does not pay" if now.do == "stop" else "A reading"


def _next(answer: Answer, now: Tonight, most: int) -> Iterator[Row]:
    """The next action, or why the next run of the list is not made."""
    if answer.ended is not None or not (answer.ahead or now.do != "stop"):
        return
    listed = answer.ahead[0] if answer.ahead else None
    if not isinstance(now.do, int) and now.do != "stop":
        reading = next(each for each in answer.scenario.reading if each.name == now.do)
        prices = [row["price"] for row in tables.information(answer)["readings"]]
        names = [row["name"] for row in tables.information(answer)["readings"]]
        price = dict(zip(names, prices, strict=True)).get(now.do)
        costs = "" if price is None else f", {rounded(price)} with the wait"
        yield Row(_short(now.do, most), f"{reading.hours:g} h{costs}.")
        return
    if listed is not None and now.do in ("stop", listed.run + 1):
        yield from _readings(answer, now, most)
        takes = f"{24 * listed.days:.0f} h, {rounded(listed.cost)}"
        if now.begins > BEGINS and now.do != "stop":
            takes += f"; begins {_hour(answer, now.begins)}"
        yield Row(_short(listed.name, most), f"{takes}.")
        yield Row("Its odds", _odds(answer, now))
        if now.do != "stop":
            yield from _tools(now, answer, most)
        return
    assert isinstance(now.do, int)
    assert answer.plan is not None
    first = answer.plan.nodes[0]
    takes = "" if now.ends is None else f"{24 * (now.ends - now.begins):.0f} h"
    odds = "" if first.odds is None else f"odds {percent(first.odds.value)}"
    words = "; ".join(filter(None, (takes, odds)))
    yield Row(_short(answer.scenario.run[now.do - 1].name, most), f"{words}.")
    yield from _tools(now, answer, most)


def _readings(answer: Answer, now: Tonight, most: int) -> Iterator[Row]:
    """Readings that pay before the next run."""
    for row in tables.paying_readings(answer) if now.do != "stop" else ():
        worth, price = rounded(row["worth"]), rounded(row["price"])
        words = f"{_short(row['name'], most)}, worth {worth}, costs {price} with its wait."
        yield Row("Before it", words, rank=1)


def _odds(answer: Answer, now: Tonight) -> str:
    """The odds of the next run of the list against what it needs, in plain words."""
    run = answer.ahead[0]
    odds, need = percent(run.odds), break_even(run.break_even_odds)
    if need == "never":
        return f"{odds}; by itself it would pay at no odds."
    assert run.break_even_odds is not None
    needed = percent(max(run.break_even_odds, 0.0))
    if run.odds < NO_CATCH and now.do != "stop" and run.odds < run.break_even_odds:
        return f"{odds}; it is made for the runs that follow it."
    if needed == odds:
        odds, needed = (f"{100 * chance:.1f} %" for chance in (run.odds, run.break_even_odds))
    if now.do == "stop":
        more = ", mobilization left out" if not answer.log and _mobilized(answer) else ""
        return f"{odds}; it needs {needed} to pay{more}."
    if run.odds < run.break_even_odds:
        if case_of(Situation.of_answer(answer)) == "fish_required":
            return f"{odds}; by itself it would need {needed}, but it is required."
        return f"{odds}; alone it needs {needed}, but prepares what follows."
    return f"{odds}; it pays by itself above {needed}."


# ---- tonight's orders -------------------------------------------------------------------------


def _orders_title(answer: Answer, now: Tonight) -> str:
    if now.do == "stop":
        what = "the stop" if answer.ended is None else "the fallback"
        return f"Once {what} is approved" if now.asked.by_day is not None else "Tonight"
    what = f"run {now.do}" if isinstance(now.do, int) else "the reading"
    return f"After {what}" + ("" if now.ends is None else f", about {_hour(answer, now.ends)}")


def _orders(answer: Answer, now: Tonight, most: int) -> Iterator[Row]:
    if answer.ended == "recovered":
        hours = 24 * (answer.timetable.recovery or 0.0)
        yield Row("Work after it", f"{hours:.0f} h, then drill ahead.")
        return
    if now.do == "stop":
        yield from _stopping(answer, most)
    groups: dict[Do, list[tuple[str, float]]] = {}
    for order in now.orders:
        key = "lost" if order.outcome == "lost" else order.do
        groups.setdefault(key, []).append((order.outcome, order.chance))
    for do, outcomes in groups.items():
        chance = sum(each for _, each in outcomes)
        label = _either([OUTCOMES[name] for name, _ in outcomes]) + f" ({percent(chance)})"
        yield Row(label, _to_do(answer, do, most))
    if len(now.if_nothing) > 1:
        yield Row("Nothing each time", _chain(now.if_nothing), rank=2)
    if now.do == "stop":
        yield from _tools(now, answer, most)


def _chain(actions: Sequence[Do]) -> str:
    """What is done one after another."""
    named = [f"run {do}" if isinstance(do, int) else one_line(do) for do in actions if do != "stop"]
    return f"{', '.join(named)}, then stop."


def _tools(now: Tonight, answer: Answer, most: int) -> Iterator[Row]:
    """What to do about rented tools."""
    for tool in now.tools:
        words = CALLS.get(tool.action, sentences.ACTIONS[tool.action])
        if tool.action in ("call_now", "call_with_run", "either") and tool.delivery > 0:
            words += f", {tool.delivery:g} h on the way"
        if tool.action == "call_with_run" and tool.run is not None:
            words += f": run {tool.run}, about {_hour(answer, tool.day)}"
        yield Row(_short(tool.tool, most), words + ".", rank=3 if tool.action in LATER else 0)


def _stopping(answer: Answer, most: int) -> Iterator[Row]:
    if "attached" in answer.scenario.fish.marks and not answer.log:
        yield Row("First", "get off the fish: part the string as planned.")
    fallback = answer.timetable.fallback
    if fallback is None:
        return
    words = f"{24 * (fallback.preparation + fallback.drilling):.0f} h as planned"
    if fallback.kickoff is not None:
        depth = fallback.kickoff / tables.length_factor(answer)
        words += f", kick-off at {depth:,.0f} {tables.length_unit(answer)}"
    yield Row(_short(fallback.name, most), words + ".")


def _to_do(answer: Answer, do: Do, most: int) -> str:
    if do == "recovered":
        hours = 24 * (answer.timetable.recovery or 0.0)
        return f"{hours:.0f} h of work after it, then drill ahead."
    if do == "lost":
        return "secure the well, call the office."
    if do == "stop":
        return stop_order(answer.as_left, _short(answer.fallbacks.taken.name, most))
    name = _short(name_of(answer, do) or "", most)
    return f"run {do}, {name}." if isinstance(do, int) else f"the reading {name}."


def stop_order(left: Scenario, fallback: str) -> str:
    """The order to stop. left: the job with its fish as it now is; fallback: the only one, or the
    one taken now."""
    if "source" in hazards(left.fish):
        return "stop and hold: no plug before the approvals."
    several = len(left.fallback) > 1
    return f"stop; {'the fallback that is then the cheapest' if several else fallback}."


# ---- money ------------------------------------------------------------------------------------


def _money(answer: Answer, now: Tonight) -> Iterator[Row]:
    asked = now.asked
    if answer.ended == "recovered":
        return
    if now.do != "stop":
        yield Row("For the runs", f"{whole(asked.fishing)} if every run fails.")
    if asked.chance > 0:
        need = "" if asked.chance >= 1 else f", needed with {percent(asked.chance)} chance"
        yield Row("For the fallback", f"{whole(asked.fallback)} (P90){need}.")
    if asked.given is not None and not answer.overspent:
        left = "left" if answer.log else "given"
        if any(row.cost is None for row in answer.log):
            left += " at most (costs are missing in the log)"
        words = f"{asked.given:,.0f} {left}, "
        if asked.short:
            words += f"{whole(asked.short)} short of this."
        else:
            order = "" if now.by == "limit" else " in the order listed"
            words += f"enough with {percent(answer.authority.suffices or 0.0)} chance{order}."
        yield Row("Authority", words)
        if both := sentences.two_asks(answer):
            yield Row("To partners", both, rank=4)
    if asked.by_day is not None and asked.short != 0.0:
        wait, costs = f"{answer.authority.response_hours:g} h", answer.authority.waiting_cost
        if asked.by_day <= 0:
            due, costs_it = _due(answer), rounded(costs)
            words = f"now; reply {due}; a wait costs {costs_it}."
            yield Row(
                "Ask", words if due else f"now. The wait for a reply adds {wait} and {costs_it}."
            )
        else:
            words = f"reply {wait}, a wait costs {rounded(costs)}."
            yield Row("Ask by", f"{_hour(answer, asked.by_day, late=False)}; {words}")


def _due(answer: Answer) -> str:
    """When a reply that is asked for now is due, where its hours do not run on all days until
    then."""
    asked = answer.authority
    if answer.now is None or asked.waiting_hours == asked.response_hours:
        return ""
    due = reply(answer).due
    return "" if due is None else f"due {said_moment(due, answer.now)}"


def _mobilized(answer: Answer) -> bool:
    return answer.quantities[-1].expected["mobilization"] > 0


# ---- dates and names --------------------------------------------------------------------------


def said_moment(when: datetime, now: datetime) -> str:
    """A day of the week, a date and an hour; with the year where it is not that of `now`.

    >>> said_moment(datetime(2026, 3, 14, 6), datetime(2026, 1, 1))
    'Sat 14 Mar 06:00'
    """
    return f"{said_date(when, now)} {when:%H:%M}"


def said_date(when: datetime, now: datetime) -> str:
    """The same without the hour."""
    year = "" if when.year == now.year else f" {when.year}"
    return f"{DAYS[when.weekday()]} {when.day} {MONTHS[when.month - 1]}{year}"


def _date(answer: Answer, day: float) -> str:
    when = clock(answer, day)
    if when is None or answer.now is None:
        return f"day {day:.1f}"
    return said_date(when, answer.now)


def _hour(answer: Answer, day: float, *, late: bool = True) -> str:
    """The full hour next to a day from now; the one before it where none may be `late`."""
    when = clock(answer, day + (0.5 / 24.0 if late else 0.0))
    if when is None or answer.now is None:
        return f"day {day:.1f}"
    return f"{said_date(when, answer.now)} {when:%H}:00"


def _short(name: str, most: int) -> str:
    words = one_line(name).strip()
    return words if len(words) <= most else words[: most - 2].rstrip() + ".."


def _either(words: Sequence[str]) -> str:
    """Outcomes in one label, all but the first with a small letter."""
    first, *rest = words
    small = [each[0].lower() + each[1:] for each in rest]
    if not small:
        return first
    *middle, last = small
    return ", ".join([first, *middle]) + f" or {last}"
