"""The expected cost of every limit as formulas over the inputs of an AFE supplement.

With W_j(s) the chance of state s for a fish of kind j, h(s) the hours of the next run, D days
so far x chance, and phi(s) the share of its odds of recovery that a run keeps on a damaged top:

    W_j(s') = sum over parents s and outcomes o of W_j(s) p_jo(s)
    D_j(s') = the same sum of (D_j(s) + W_j(s) h(s)/24) p_jo(s)
    fishing of limit n   common + mobilization + sum over k < n of W (h/24 (spread + fishing day)
                         + charge + rented) + chance recovered x work after it
    fallback of limit n  W x fallback at the states of n + sum over k < n of the chances to lose
                         string or hole x (the fallback from there + what is owed for the string)

`econ.decision.detail.paths` has the states. What ranges, draws and merged states add is a factor by
limit: the program's mean over all draws over what the formulas give for the inputs of the file.
It is a constant of the sheet, so a change moves the mean in proportion; where the formulas are
the whole outcome tree of single numbers it is 1 but for the error of sampled outcomes.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from econ.decision import Answer
from econ.decision.detail.paths import Paths, State
from econ.reports.tables.afe_inputs import Inputs, RunInputs
from econ.reports.tables.afe_odds import RunOdds, run_odds
from econ.reports.tables.afe_places import FallbackSums, PlaceRow, fallback_sums, places
from econ.reports.tables.formula import (
    Block,
    Cell,
    Term,
    at,
    below,
    block,
    not_above,
    over,
    product_sum,
    same,
    sum_of,
    sum_where,
    total,
    when,
)

EXACT = 1e-11  # a factor this close to 1 is 1
SO_FAR = (  # sums over the runs before a limit
    *("made_days", "made_charges", "made_rented", "out", "no_hole", "lost", "lost_owed"),
    *("path_hours", "path_charges"),
)
Row = dict[str, Cell]


@dataclass(frozen=True)
class Model:
    """The workings: odds of the runs, states, places of the fallback, limits.

    Rows of `states` and `limits` are cells by column; `owed` is what is owed for each piece;
    `chances` and `taken` are those of the places at the limit asked for, in all and by fallback.
    """

    asked: Cell
    run_odds: tuple[RunOdds, ...]
    states: tuple[Row, ...]
    sums: tuple[FallbackSums, ...]
    owed: tuple[Cell, ...]
    places: tuple[PlaceRow, ...]
    chances: tuple[Cell, ...]
    taken: tuple[tuple[Cell, ...], ...]
    limits: tuple[Row, ...]
    recovery_cost: Cell
    common_cost: Cell

    def column(self, name: str) -> Block:
        """A column of the limits."""
        return block(row[name] for row in self.limits)

    def asked_for(self, name: str) -> Term:
        """What a column of the limits holds at the limit asked for."""
        return at(self.column(name), self.asked + 1)


def model(answer: Answer, means: Paths, given: Inputs) -> Model:
    """The formulas of a scenario."""
    asked = Cell(float(answer.best), name="Limit_asked", is_input=True)
    odds = run_odds(means, given)
    sums = fallback_sums(given)
    owed = tuple(Cell(piece.owed) for piece in given.pieces)
    starts = places(means, sums, block(owed))
    states = _states(means, given, odds, starts, asked)
    recovery = Cell(
        given["recovery_hours"] / 24 * (given.spread + given["recovery_share"] * given.fishing_day)
        + given["recovery_charge"],
        name="Recovery_cost",
    )
    common = Cell(given["common_hours"] / 24 * given.spread + given["common_cost"])
    limits = _limits(means, given, odds, starts, states)
    for number, row in enumerate(limits):
        _results(row, number, given, means, recovery, common)
    best = limits[answer.best]["fishing_formula"].number
    for number, row in enumerate(limits):
        _factors(row, number, answer, _factor(answer.stage_1.mean, best))
    _planned(limits, answer)
    chances = _chances(means, starts, states, limits, asked)
    return Model(
        asked=asked,
        run_odds=odds,
        states=tuple(states),
        sums=sums,
        owed=owed,
        places=starts,
        chances=chances,
        taken=_taken(starts, chances, len(sums)),
        limits=tuple(limits),
        recovery_cost=recovery,
        common_cost=common,
    )


# ---- states -----------------------------------------------------------------------------------


def _states(
    means: Paths,
    given: Inputs,
    odds: Sequence[RunOdds],
    starts: Sequence[PlaceRow],
    asked: Cell,
) -> list[Row]:
    """Cells of every state, parents before children."""
    rows: list[Row] = []
    factor = given["damaged_top_factor"]
    for state in means.states:
        run = odds[state.runs_made] if state.runs_made < len(odds) else None
        cut = run is not None and state.damaged and not run.given.dresses_top
        row: Row = {"runs_made": Cell(float(state.runs_made))}
        row["kept"] = Cell(factor) if cut else Cell(1.0)
        row["more_hours"] = Cell(state.more_hours)
        hours = 0.0 if run is None else run.given.hours + row["more_hours"]
        row["hours"] = Cell(hours)
        for kind in range(len(given.kinds)):
            row |= _weights(state, kind, rows, means.states, odds, given)
        row["both"] = Cell(sum_of(row[f"weight_{kind}"] for kind in range(len(given.kinds))))
        lost = 0.0 if run is None else _lost(row, run, len(given.kinds))
        row["string"] = Cell(lost)
        stop = None if state.stop is None else starts[state.stop]
        string = None if state.string is None else starts[state.string]
        row["stop_place"] = Cell(0.0 if stop is None else stop.number)
        row["string_place"] = Cell(0.0 if string is None else string.number)
        row["stop_bill"] = Cell(0.0 if stop is None else stop.bill)
        row["string_bill"] = Cell(0.0 if string is None else string.bill)
        row["stop_here"] = Cell(when(same(row["runs_made"], asked), row["both"], 0.0))
        row["string_here"] = Cell(when(below(row["runs_made"], asked), row["string"], 0.0))
        rows.append(row)
    return rows


def _weights(
    state: State,
    kind: int,
    rows: Sequence[Row],
    states: Sequence[State],
    odds: Sequence[RunOdds],
    given: Inputs,
) -> Row:
    """Chance of a state for a kind of fish, and days x chance."""
    weight, days = f"weight_{kind}", f"days_{kind}"
    if not state.parents:
        return {weight: Cell(given.belief[kind]), days: Cell(0.0)}
    chance, time = [], []
    for number, outcome in state.parents:
        parent, run = rows[number], odds[states[number].runs_made]
        p: Term = run.odds[kind][outcome]
        if outcome == "nothing" and parent["kept"].formula is not None:
            # What a damaged top takes off the odds of recovery goes to `nothing`.
            p = p + run.odds[kind]["recovered"] * (1 - parent["kept"])
        chance.append(parent[weight] * p)
        time.append((parent[days] + parent[weight] * parent["hours"] / 24) * p)
    return {weight: Cell(sum_of(chance)), days: Cell(sum_of(time))}


def _lost(row: Row, run: RunOdds, kinds: int) -> Term:
    """Chance that the string is lost in the next run."""
    return sum_of(row[f"weight_{kind}"] * run.odds[kind]["string_lost"] for kind in range(kinds))


# ---- limits -----------------------------------------------------------------------------------


def _limits(
    means: Paths,
    given: Inputs,
    odds: Sequence[RunOdds],
    starts: Sequence[PlaceRow],
    states: Sequence[Row],
) -> list[Row]:
    """What the states of each limit give, and the sums over the runs before it."""
    rows: list[Row] = []
    for number in range(len(odds) + 1):
        here = [
            row
            for row, state in zip(states, means.states, strict=True)
            if state.runs_made == number
        ]
        run = odds[number] if number < len(odds) else None
        row = {"runs": Cell(float(number)), **_level(here, run, given, means, starts)}
        before = rows[-1] if rows else None
        for so_far, term in _steps(before, odds[number - 1].given if before else None).items():
            row[so_far] = Cell(term)
        rows.append(row)
    return rows


def _level(
    here: Sequence[Row],
    run: RunOdds | None,
    given: Inputs,
    means: Paths,
    starts: Sequence[PlaceRow],
) -> Row:
    """Sums over the states of a limit, and what the run made from them ends with."""

    def column(name: str) -> Block:
        return block(row[name] for row in here)

    kinds = range(len(given.kinds))
    row = {
        "still": Cell(total(column("both"))),
        "still_days": Cell(sum_of(total(column(f"days_{kind}")) for kind in kinds)),
        "stopping": Cell(product_sum(column("both"), column("stop_bill"))),
    }
    ends: dict[str, Term | float] = dict.fromkeys(
        ("run_days", "recovered", "hole", "losing", "losing_owed"), 0.0
    )
    if run is not None:
        hole_bill = starts[means.hole].bill if means.hole is not None else Cell(0.0)
        value = run.given.string_value
        hole = sum_of(
            run.odds[kind]["hole_lost"] * total(column(f"weight_{kind}")) for kind in kinds
        )
        ends = {
            "run_days": product_sum(column("both"), column("hours")) / 24,
            "recovered": sum_of(
                run.odds[kind]["recovered"] * product_sum(column(f"weight_{kind}"), column("kept"))
                for kind in kinds
            ),
            "hole": hole,
            "losing": product_sum(column("string"), column("string_bill")) + hole * hole_bill,
            "losing_owed": (total(column("string")) + hole * given["hole_lost_share"]) * value,
        }
    return row | {name: Cell(term) for name, term in ends.items()}


def _steps(before: Row | None, run: RunInputs | None) -> Mapping[str, Term | float]:
    """Sums over the runs before a limit; charges and rentals also without the chance of them."""
    if before is None or run is None:
        return dict.fromkeys(SO_FAR, 0.0)
    return {
        "made_days": before["made_days"] + before["run_days"],
        "made_charges": before["made_charges"] + before["still"] * run.charge,
        "made_rented": before["made_rented"] + before["still"] * run.rented,
        "out": before["out"] + before["recovered"],
        "no_hole": before["no_hole"] + before["hole"],
        "lost": before["lost"] + before["losing"],
        "lost_owed": before["lost_owed"] + before["losing_owed"],
        "path_hours": before["path_hours"] + run.hours,
        "path_charges": before["path_charges"] + run.charge + run.rented,
    }


def _results(
    row: Row,
    number: int,
    given: Inputs,
    means: Paths,
    recovery: Cell,
    common: Cell,
) -> None:
    """The results by formula: days and cost if all runs fail, expected fishing and fallback."""
    day = given.spread + given.fishing_day
    owed: list[Term] = [common]
    if "owed" in given.single:
        owed.append(given["owed"])
    if number > 0:
        owed.append(given["mobilization"])
    first = sum_of(owed)
    out = 1.0 if means.ended == "recovered" else row["out"]
    row["fishing_formula"] = Cell(
        first + row["made_days"] * day + row["made_charges"] + row["made_rented"] + out * recovery
    )
    row["fallback_formula"] = Cell(row["stopping"] + row["lost"] + row["lost_owed"])
    row["need_formula"] = Cell(1 - row["out"] if means.ended != "recovered" else 0.0)
    still = over(row["still"], 0.0)
    row["path_days"] = Cell(when(still, row["still_days"] / row["still"], row["path_hours"] / 24))
    row["days_formula"] = Cell(given["common_hours"] / 24 + row["path_days"])
    row["planned_formula"] = Cell(
        when(
            still,
            first + row["path_days"] * day + row["path_charges"],
            row["fishing_formula"],
        )
    )


def _factors(row: Row, number: int, answer: Answer, fishing: float) -> None:
    """The program's numbers over those of the formulas, and the results with them.

    fishing: the factor at the best limit, where the program parts fishing from fallback; it
    holds for every limit, and the factor on the fallback takes what is left.
    """
    found = answer.by_runs[number]
    spent, bill = row["fishing_formula"].number, row["fallback_formula"].number
    fallback = _factor(found.expected_cost - fishing * spent, bill)
    if fallback <= 0.0:
        fishing = fallback = _factor(found.expected_cost, spent + bill)
    row["fishing_factor"], row["fallback_factor"] = Cell(fishing), Cell(fallback)
    need = 1.0 - found.probability_recovered
    row["need_factor"] = Cell(_factor(need, row["need_formula"].number))
    row["days_factor"] = Cell(_factor(found.days, row["days_formula"].number))
    row["fishing"] = Cell(row["fishing_formula"] * row["fishing_factor"])
    row["fallback"] = Cell(row["fallback_formula"] * row["fallback_factor"])
    row["expected_cost"] = Cell(row["fishing"] + row["fallback"])
    row["need"] = Cell(not_above(row["need_formula"] * row["need_factor"], 1.0))
    row["recovered_share"] = Cell(1 - row["need"])
    row["days"] = Cell(row["days_formula"] * row["days_factor"])


def _planned(rows: Sequence[Row], answer: Answer) -> None:
    """Cost if every run to the limit fails; the program gives it at the best limit."""
    formula = rows[answer.best]["planned_formula"].number
    factor = _factor(answer.stage_1.planned, formula)
    for row in rows:
        row["planned_factor"] = Cell(factor)
        row["planned"] = Cell(row["planned_formula"] * row["planned_factor"])


def _factor(program: float, formula: float) -> float:
    if formula == 0.0:
        return 1.0
    factor = program / formula
    return 1.0 if abs(factor - 1.0) < EXACT else factor


# ---- where the fallback starts ----------------------------------------------------------------


def _chances(
    means: Paths,
    starts: Sequence[PlaceRow],
    states: Sequence[Row],
    limits: Sequence[Row],
    asked: Cell,
) -> tuple[Cell, ...]:
    """Chance that the fallback starts at each place, under the limit asked for."""
    found = []
    for number, start in enumerate(starts):
        terms: list[Term] = []
        for end in ("stop", "string"):
            if any(getattr(state, end) == number for state in means.states):
                ids = block(row[f"{end}_place"] for row in states)
                here = block(row[f"{end}_here"] for row in states)
                terms.append(sum_where(ids, start.number, here))
        if number == means.hole and means.runs:
            terms.append(at(block(row["no_hole"] for row in limits), asked + 1))
        found.append(Cell(sum_of(terms)))
    return tuple(found)


def _taken(
    starts: Sequence[PlaceRow], chances: Sequence[Cell], count: int
) -> tuple[tuple[Cell, ...], ...]:
    """The chance of each place by the fallback that is taken there."""
    if count == 1:
        return tuple((Cell(chance),) for chance in chances)
    return tuple(
        tuple(Cell(when(same(start.taken, j + 1.0), chance, 0.0)) for j in range(count))
        for start, chance in zip(starts, chances, strict=True)
    )
