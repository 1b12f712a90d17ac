"""Tables of the class page: the job as a class is told of it, the facilitator's figures, and the
states that its script walks on."""

from __future__ import annotations

import hashlib
import json
from datetime import datetime
from typing import Any

import numpy as np

import econ
from econ.decision.class_model import Branch, ClassLog, ClassModel, ClassState, Option
from econ.job.fish import piece_value
from econ.reports.tables.plain import Row, length_factor, length_unit, plain
from econ.scenario.amounts import mean_of
from econ.scenario.doubts import WORKABLE
from econ.scenario.hole import Piece
from econ.scenario.program import OUTCOMES, Run
from econ.scenario.run_log import decided_at

# How a team is told of an outcome.
OUTCOME_WORDS = {
    "recovered": "the fish is out",
    "part": "a part of it came out",
    "nothing": "nothing changed",
    "prepared": "it did its own job, and the fish is still there",
    "top_damaged": "the top of the fish is damaged",
    "string_lost": "the fishing string is lost in the hole too",
    "hole_lost": "the hole is lost",
}
MINUTES = {"job": 15, "morning": 11, "hardest": 12, "end": 30}  # judgement, no source
# Envelopes have letters for the class, because the name of a file may tell how it ends.
LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
MONEY, CHANCE = 9, 7  # figures that are kept


def class_page(model: ClassModel) -> Row:
    """What the page says, and under `script` what it walks on, as plain values."""
    scenario, known = model.known.scenario, model.known
    draws = scenario.draws
    first = model.states[model.start]
    script = plain(_script(model))
    doubts = scenario.doubts
    day = known.prices.spread_day + known.prices.fishing_day
    digest = hashlib.sha256(json.dumps(script, sort_keys=True).encode()).hexdigest()
    script["id"] = digest[:8]
    found: Row = plain(
        {
            "well": scenario.job.well,
            "event": scenario.job.event,
            "currency": scenario.currency,
            "price_date": None if scenario.price_date is None else str(scenario.price_date),
            "length": length_unit(known),
            "top": first.top / length_factor(known),
            "top_condition": scenario.fish.top_condition.replace("_", " "),
            "pieces": [_piece(piece) for piece in scenario.fish.piece],
            "runs": [_run(run, several=len(doubts) > 1) for run in scenario.run],
            "outcomes": [name for name in OUTCOMES if _comes(scenario.run, name)],
            "doubts": [
                {"name": doubt.name, "chance": mean_of(doubt.workable), "note": doubt.note}
                for doubt in doubts
            ],
            "kinds": "workable / stubborn"
            if [doubt.name for doubt in doubts] == [WORKABLE]
            else "with what it depends on in favour / against",
            "stop": first.stop,
            "owed": model.owed,
            "left": next((left for left in map(_left, model.states) if left is not None), None),
            "waiting_day": day,
            "need": _need(first, day),
            "minutes": _minutes(model),
            "logs": [
                _hindsight(model, log, letter=letter)
                for letter, log in zip(LETTERS, model.logs, strict=False)
            ],
            "whole": model.whole,
            "uncertain": known.limit.standard_error > 0,
            "standard_error": known.by_runs[0].standard_error,
            "draws": f"{draws.scrambles} scrambles of {known.draws} draws, seed {draws.seed}",
            "version": econ.__version__,
            "id": script["id"],
        }
    )
    found["script"] = script
    return found


def _piece(piece: Piece) -> Row:
    if piece.value is not None:
        owed = mean_of(piece.value)
    else:
        new, gone, least = (
            np.asarray(mean_of(amount))
            for amount in (piece.replacement or 0.0, piece.depreciation, piece.floor)
        )
        owed = float(piece_value(replacement=new, depreciation=gone, floor=least))
    return {"name": piece.name, "length": mean_of(piece.length), "value": owed}


def _run(run: Run, *, several: bool) -> Row:
    """A run with its odds by kind of fish, as the supervisor states them; one row where both are
    the same. several: name the doubts that it depends on."""
    workable, stubborn = run.odds_by_kind()
    kinds = [workable] if workable is stubborn else [workable, stubborn]
    odds = [{name: mean_of(getattr(table, name)) for name in OUTCOMES} for table in kinds]
    named = run.depends_on if several and len(kinds) > 1 else None
    return {"name": run.name, "odds": odds, "depends_on": list(named or ())}


def _comes(runs: list[Run], outcome: str) -> bool:
    return any(mean_of(getattr(table, outcome)) > 0 for run in runs for table in run.odds_by_kind())


def _minutes(model: ClassModel) -> list[Row]:
    """When each part of the exercise begins [min]; the last morning is the hard one."""
    listed = min(4, len(model.known.scenario.run))
    mornings = max([len(log.steps) for log in model.logs], default=listed)
    at, rows = MINUTES["job"], []
    for number in range(1, mornings + 1):
        last = number == mornings
        rows.append({"morning": number, "at": at, "hardest": last})
        at += MINUTES["hardest" if last else "morning"]
    return [*rows, {"morning": None, "at": at}, {"morning": None, "at": at + MINUTES["end"]}]


def _hindsight(model: ClassModel, log: ClassLog, *, letter: str) -> Row:
    """What stopping after each run of a log comes to, and the odds that a run of one day needs."""
    spent = log.spent
    rows: list[Row] = []
    day = model.known.prices.spread_day + model.known.prices.fishing_day
    places = [(log.start, "before the first run")]
    places += [(step.after, OUTCOME_WORDS[step.outcome]) for step in log.steps]
    for made, (place, words) in enumerate(places):
        if made:
            spent += log.steps[made - 1].paid
        state = model.states[place]
        rows.append(
            {
                "made": made,
                "after": words,
                "run": None if made == 0 else log.steps[made - 1].run,
                "spent": spent,
                "from_then": state.stop,
                "total": spent + state.stop,
                "need": _need(state, day),
            }
        )
    least = min(row["total"] for row in rows)
    for row in rows:
        row["best"] = row["total"] == least
    return {"name": f"{letter}, {log.name}", "rows": rows}


def _need(state: ClassState, day: float) -> float | None:
    """Chance of recovery at which one more run of a day pays by itself, None where no run is left
    to compare with."""
    left = _left(state)
    if left is None or state.stop - left <= 0:
        return None
    return day / (state.stop - left)


def _left(state: ClassState) -> float | None:
    """What is still to be paid once a run from a state has brought the fish out, None where none
    can."""
    after = (
        branch.paid - option.cost
        for option in state.options
        for branch in option.branches
        if branch.outcome == "recovered"
    )
    return min(after, default=None)


def _script(model: ClassModel) -> Row:
    scenario, known = model.known.scenario, model.known
    begun = decided_at(scenario, like=datetime.min)
    marks = sorted({mark for state in model.states for mark in state.marks})
    factor = length_factor(known)
    return {
        "currency": scenario.currency,
        "length": length_unit(known),
        "outcomes": list(OUTCOMES),
        "words": [OUTCOME_WORDS[name] for name in OUTCOMES],
        "runs": [run.name for run in scenario.run],
        "doubts": [doubt.name for doubt in scenario.doubts],
        "marks": marks,
        "begun": None
        if begun is None
        else (begun.replace(tzinfo=None) - datetime(1970, 1, 1)).total_seconds() / 86_400.0,
        "start": model.start,
        "states": [_state(state, marks, factor) for state in model.states],
        "logs": [_log(log, letter) for letter, log in zip(LETTERS, model.logs, strict=False)],
        "envelopes": [[round(float(u), 5) for u in row] for row in model.envelopes],
        "renewing": model.renewing,
    }


def _state(state: ClassState, marks: list[str], factor: float) -> list[Any]:
    """See `state` in game.js, which names these places."""
    return [
        _figures(state.stop, MONEY),
        int(state.may_stop),
        _figures(state.plan, MONEY),
        _figures(state.by_list, MONEY),
        [_figures(kind, CHANCE) for kind in state.kinds],
        round(state.top / factor, 1),
        round(state.day, 4),
        [marks.index(mark) for mark in state.marks],
        state.listed,
        [_option(option) for option in state.options],
    ]


def _option(option: Option) -> list[Any]:
    return [
        option.run,
        round(option.hours, 2),
        _figures(option.cost, MONEY),
        _figures(option.by_plan, MONEY),
        _figures(option.by_list, MONEY),
        [_branch(branch) for branch in option.branches],
    ]


def _branch(branch: Branch) -> list[Any]:
    return [
        OUTCOMES.index(branch.outcome),
        [_figures(chance, CHANCE) for chance in branch.chances],
        _figures(branch.paid, MONEY),
        branch.after,
    ]


def _log(log: ClassLog, letter: str) -> list[Any]:
    steps = [
        [
            step.run,
            OUTCOMES.index(step.outcome),
            _figures(step.paid, MONEY),
            list(step.words),
            step.before,
            step.after,
        ]
        for step in log.steps
    ]
    return [
        letter,
        log.start,
        _figures(log.spent, MONEY),
        steps,
        [_figures(kind, CHANCE) for kind in log.last_kinds],
    ]


def _figures(value: float, count: int) -> float:
    """A number with so many figures, as short as they can be written."""
    short = float(f"{value:.{count}g}")
    return int(short) if short.is_integer() else short
