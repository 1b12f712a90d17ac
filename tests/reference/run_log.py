"""Reference for a job under way: what the runs logged so far leave to be expected.

Belief    b_k ~ prior_k x product over the rows of the odds that kind k gave to what happened,
          as they stood before that row: days from the decision to its start, top as it was
Fish top  after `part` the depth that the row gives, else by part_length
Costs     from the end of the last row; mobilization and [common] are spent, and so is what a rental
          contract has come to up to there, its minimum left aside (`rentals.spent_so_far`)

A row is a dict with `start`, `end`, `outcome` and `run` (number in the program) or `kind` (then
the first run of that kind not in the log yet), and `fish_top` if measured; "" is as good as left
out. A row whose outcome is `unfinished` is time and money and no more: its odds are 1 for every
kind of fish, and its run is still to be made.

With uncertain amounts the belief has no product; it is found by playing the log many times and
keeping the plays that came out as it says.
"""

from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any

import numpy as np
from numpy.typing import NDArray

from . import coin_flip, endings, rentals
from .coin_flip import Flags, Floats
from .job import HOURS_PER_DAY, OUTCOMES, Table
from .outcome_tree import GOES_ON
from .rentals import LOSSES, History, RunMade

SECONDS_PER_DAY = 86_400.0
UNFINISHED = rentals.UNFINISHED


@dataclass(frozen=True)
class Row:
    """A row of the log, read."""

    number: int  # in the program, from 1
    start: float  # since the decision [days]
    end: float  # [days]
    outcome: str
    fish_top: float | None  # measured after the run [ft]


def moment(value: Any) -> datetime:
    """Return a point in time written as text, a day or a date-time."""
    if isinstance(value, str):
        return datetime.fromisoformat(value)
    if isinstance(value, date) and not isinstance(value, datetime):
        return datetime(value.year, value.month, value.day)
    if isinstance(value, datetime):
        return value
    raise ValueError(f"{value!r} is not a point in time")


def read(raw: Table, rows: list[Table]) -> list[Row]:
    """Return the rows of a log with their run found and their times in days."""
    zero = moment(raw.get("job", {}).get("decided_at") or rows[0]["start"]) if rows else None
    read_rows: list[Row] = []
    for row in rows:
        logged = [each.number for each in read_rows if each.outcome != UNFINISHED]
        number = _number(raw, row, logged)
        if number in logged:
            raise ValueError(f"run {number} is in the log twice")
        if row["outcome"] not in (*OUTCOMES, UNFINISHED):
            raise ValueError(f"{row['outcome']!r} is no outcome")
        if read_rows and read_rows[-1].outcome not in (*GOES_ON, UNFINISHED):
            raise ValueError(f"the job ended before run {number}")
        assert zero is not None
        start, end = (
            (moment(row[key]) - zero).total_seconds() / SECONDS_PER_DAY for key in ("start", "end")
        )
        given = row.get("fish_top")
        top = None if given in (None, "") else float(given)
        read_rows.append(Row(number, start, end, row["outcome"], top))
    return read_rows


def _number(raw: Table, row: Table, logged: list[int]) -> int:
    kinds = {n: run.get("kind", "other") for n, run in enumerate(raw["run"], start=1)}
    kind = row.get("kind") or None
    if row.get("run") not in (None, ""):
        number = int(row["run"])
        if number not in kinds:
            raise ValueError(f"the program has no run {number}")
        if kind is not None and kind != kinds[number]:
            raise ValueError(f"run {number} is of kind {kinds[number]!r}, not {kind!r}")
        return number
    found = [n for n, each in kinds.items() if each == kind and n not in logged]
    if not found:
        raise ValueError(f"the program has no run of kind {kind!r} that is not in the log yet")
    return found[0]


# ---- plain numbers ----------------------------------------------------------------------------


def walk_log(scenario: Table, rows: list[Row]) -> list[History]:
    """Return the history before any row and after each."""
    histories = [rentals.beginning(scenario)]
    for row in rows:
        hours = (row.end - row.start) * HOURS_PER_DAY
        made = RunMade(row.number, row.start, 0.0, hours, row.outcome)
        after = rentals.with_run(scenario, histories[-1], made, top=row.fish_top)
        histories.append(replace(after, logged=len(after.made)))
    return histories


def state(raw: Table, rows: list[Table]) -> History:
    """Return where the job stands after the log; `chances` are the belief in each kind."""
    scenario = endings.plain(raw)
    history = walk_log(scenario, read(raw, rows))[-1]
    if history.probability == 0.0:
        raise ValueError("what the log says cannot come about by the odds of the scenario")
    belief = {kind: chance / history.probability for kind, chance in history.chances.items()}
    return replace(history, chances=belief)


def belief_path(raw: Table, rows: list[Table]) -> list[float]:
    """Return the chance that the fish is workable before any row and after each."""
    histories = walk_log(endings.plain(raw), read(raw, rows))
    return [history.chances["workable"] / history.probability for history in histories]


def next_odds(raw: Table, rows: list[Table]) -> dict[str, float] | None:
    """Return the odds of the next run as the crew sees them, or None where no run is left."""
    scenario, history = endings.plain(raw), state(raw, rows)
    left = rentals.left_to_make(scenario, history)
    if history.ending or not left:
        return None
    run, days = scenario["run"][left[0] - 1], rentals.elapsed(scenario, history)
    by_kind = {
        kind: rentals.odds_before(scenario, run, kind, days=days, damaged=history.damaged)
        for kind in history.chances
    }
    return {
        outcome: sum(history.chances[kind] * odds[outcome] for kind, odds in by_kind.items())
        for outcome in OUTCOMES
    }


def expected_cost_from_now(
    raw: Table, rows: list[Table], *, limit_runs: int | None = None, limit_days: float | None = None
) -> float:
    """Return the expected cost from the end of the log [currency].

    `limit_runs` counts runs still to be made; `limit_days` [days] counts from the decision.
    """
    scenario, since = endings.plain(raw), state(raw, rows)
    return sum(
        history.probability * rentals.total_cost(scenario, history)
        for history in rentals.ends(
            scenario, since=since, limit_runs=limit_runs, limit_days=limit_days
        )
    )


def expected_costs_from_now(raw: Table, rows: list[Table]) -> list[float]:
    """Return the expected cost of 0 further runs to all that are left [currency].

    A log that ends the job leaves one cost: the recovery tail, or the fallback.
    """
    history = state(raw, rows)
    left = 0 if history.ending else len(rentals.left_to_make(raw, history))
    return [expected_cost_from_now(raw, rows, limit_runs=n) for n in range(left + 1)]


def best_rule_from_now(raw: Table, rows: list[Table]) -> float:
    """Return the expected cost of the best rule by state from the end of the log [currency]."""
    return rentals.best_rule_cost(endings.plain(raw), since=state(raw, rows))


def rentals_spent(raw: Table, rows: list[Table]) -> float:
    """Return what the contracts have come to at the end of the log [currency]."""
    scenario, made = endings.plain(raw), state(raw, rows).made
    return sum(
        rentals.spent_so_far(scenario, contract, made=made)
        for contract in scenario.get("rental", [])
    )


# ---- uncertain amounts ------------------------------------------------------------------------


@dataclass(frozen=True)
class Kept:
    """What the plays of a log that came out as logged say."""

    workable: float  # share of them on a workable fish
    standard_error: float
    plays: int  # that came out so
    chance: float  # share of all plays that came out so


def loss_grown(stated: Floats, *, ratio: Any, days: float) -> Floats:
    """Return odds, shape (outcomes, n), whose losses have grown by `ratio` a day."""
    lost = np.isin(OUTCOMES, LOSSES)
    loss = stated[lost].sum(axis=0)
    z = ratio**days
    grown = loss * z / (1.0 - loss + loss * z)
    factor = np.ones_like(stated)
    may_change = (loss > 0.0) & (loss < 1.0)
    safe = np.where(may_change, loss, 0.5)
    factor[lost] = np.where(may_change, grown / safe, 1.0)
    return coin_flip.settled(stated * factor)


def play(raw: Table, rows: list[Table], *, n: int, rng: np.random.Generator) -> Kept:
    """Play the log `n` times, every coin flipped, and keep what came out as it says.

    The times and depths of the log are facts in every play; kinds, odds and outcomes are drawn.
    """
    scenario = endings.completed(raw)
    drawn = coin_flip.draw_amounts(scenario, n=n, rng=rng)
    fishing = drawn["fishing"]
    by_kind = any("workable" in run["odds"] for run in drawn["run"])
    workable: Flags = rng.random(n) < (fishing["workable"] if by_kind else 1.0)
    as_logged: Flags = np.ones(n, dtype=bool)
    damaged = False
    for row in read(raw, rows):
        run = drawn["run"][row.number - 1]
        tables = [coin_flip.draw_odds(each, n=n, rng=rng) for each in endings.odds_tables(run)]
        stated = np.where(workable, tables[0], tables[-1])
        ratio = fishing.get("loss_odds_ratio_per_day", 1.0)
        stated = loss_grown(stated, ratio=ratio, days=row.start)
        odds = coin_flip.odds_now(
            drawn, run, stated, days=np.full(n, row.start), damaged=np.full(n, damaged)
        )
        chances_below = np.cumsum(odds, axis=0)[:-1]
        outcome: NDArray[np.int64] = (rng.random(n) >= chances_below).sum(axis=0)
        as_logged &= outcome == OUTCOMES.index(row.outcome)
        damaged = damaged and not run.get("dresses_top", False)
        damaged = damaged or row.outcome == "top_damaged"
    plays = int(as_logged.sum())
    if plays == 0:
        raise ValueError(f"none of {n} plays came out as logged")
    share = float(workable[as_logged].mean())
    return Kept(
        workable=share,
        standard_error=float(np.sqrt(share * (1.0 - share) / plays)),
        plays=plays,
        chance=plays / n,
    )
