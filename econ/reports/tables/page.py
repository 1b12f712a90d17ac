"""Tables of the what-if page: the case of the file, the sliders, and the model they move on."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import asdict
from typing import Any, get_args

import numpy as np

import econ
from econ.decision import Answer
from econ.decision.estimates import SURE
from econ.decision.limits import FLAT
from econ.decision.page_model import FEW, LOG_RATIOS, PageModel
from econ.decision.run_log import inputs_after
from econ.decision.sensitivity.bench import Bench
from econ.decision.sensitivity.break_even import BreakEven, flips_of
from econ.reports.amounts import SCALES
from econ.reports.sentences import TEMPLATES, working_days
from econ.reports.tables.answer import all_notes
from econ.reports.tables.plain import Row, plain
from econ.reports.tables.situation import CLOSE, Case, Situation, case_of, is_close
from econ.reports.words import Money, error_in_words
from econ.scenario.hazards import hazards

# Of every knob: what it is called, and what turning it means.
KNOBS = {
    "spread": ("Spread", "Paid every day on every branch: rig, fuel, crews, services."),
    "fishing_day": ("Fishing day", "What a day of fishing adds to the spread."),
    "workable": ("Workable chance", "Belief, as things stand, that the fish can be worked free."),
    "next_odds": ("Odds of the next run", "Its other outcomes keep their proportions."),
    "fallback": ("Fallback cost", "The same sum for every fallback, wherever fishing ends."),
    "trip_speed": ("Trip speed", "Every trip, of fishing runs and of a sidetrack."),
}
HELD = (
    "the runs, their order and the least number of them that must be made",
    "hours other than trips, charges and lost-in-hole values; rental contracts keep their terms, "
    "and their days follow the trips",
    "of the next run, how much better its odds are on one kind of fish than on the other: both "
    "are moved by one odds ratio",
    "the odds of later runs; they still fall with time where the file says so, and so move with "
    "the trips",
    "the ranges of the file: each amount keeps its spread around the value that is set here",
    "the limit is by runs: the rule by state, the limit by days and percentiles are those of the "
    "file's case alone, because a page cannot work them out exactly",
)
SEVERAL = "The cheapest fallback is chosen anew in every state as the sliders move."
NO_ODDS = "The odds of the next run have no slider: it is certain to recover the fish or not to."
# Sentences of the page whose figures move, by their names in `TEMPLATES`.
MOVED = (
    *get_args(Case),
    *("close_call", "then", "go_to", "by", "or_another"),
    *("cost_recovered", "cost_fallback", "cost", "cost_saving", "cost_stopping"),
    *("minimum", "rule", "rule_of_file", "plan", "plan_of_file", "plan_stops", "list_more"),
    *("reading", "worth", "flat", "tie", "unresolved"),
    *("stage_1", "stage_1_owed", "stage_1_none", "stage_1_after", "stage_2", "stage_2_none"),
    *("and_p90", "p90", "waiting", "suffices", "alone", "overspent"),
)
LEAST_SHOWN = 0.005  # an error that rounds to 0.01
BEND = 0.0025  # of the cost: how far the model may be off where speeds or odds are moved


def page(answer: Answer, model: PageModel, flips: Sequence[BreakEven] | None = None) -> Row:
    """What the page says, and under `script` what it computes with, as plain values.

    flips: those of a sensitivity of the same scenario and log, worked out here if not given.
    """
    if flips is None:
        flips = flips_of(Bench(inputs_after(answer.scenario, answer.log)))
    money = Money(answer)
    scenario = answer.scenario
    draws = scenario.draws
    found: Row = plain(
        {
            "well": scenario.job.well,
            "event": scenario.job.event,
            "currency": scenario.currency,
            "unit": _unit(money),
            "price_date": None if scenario.price_date is None else str(scenario.price_date),
            "from": None if answer.now is None else f"{answer.now:%Y-%m-%d %H:%M}",
            "logged": len(answer.log),
            "next_run": None if not answer.ahead else answer.ahead[0].name,
            "knobs": [
                {"name": knob.name, "label": KNOBS[knob.name][0], "help": KNOBS[knob.name][1]}
                for knob in model.knobs
            ],
            "held": _held(answer, model),
            "notes": all_notes(answer),
            "sealed_source": "source" in hazards(scenario.fish),
            "draws": f"{draws.scrambles} scrambles of {answer.draws:,} draws, seed {draws.seed}",
            "standard_error": _shown(answer.limit.standard_error / money.scale),
            "few": f"{min(FEW, answer.draws):,}" if model.limits > 1 else None,
            "bend_percent": f"{100.0 * BEND:.2f}",
            "version": econ.__version__,
            "script": _script(answer, model, money, flips),
        }
    )
    return found


def _script(answer: Answer, model: PageModel, money: Money, flips: Sequence[BreakEven]) -> Row:
    """What the script of the page needs.

    doubt: the share of the cost within which two limits are not told apart where a slider is
    moved, bend: how much more where that is one of speeds or odds. Limits share their draws, so
    their difference errs by less than they do.
    """
    asked, situation = answer.authority, Situation.of_answer(answer)
    rows = answer.by_runs
    shares = [row.standard_error / max(abs(row.expected_cost), 1e-9) for row in rows]
    return {
        "currency": answer.scenario.currency,
        "ended": answer.ended,
        "scale": money.scale,
        "unit": _unit(money),
        "decimals": money.decimals,
        "others": answer.fallbacks.others,
        "fallbacks": [fallback.name for fallback in answer.scenario.fallback],
        "minimum": model.minimum,
        "flat": FLAT,
        "may_be_close": CLOSE,
        "doubt": SURE * max(shares),
        "bend": BEND,
        "waiting": {
            "hours": float(f"{asked.waiting_hours:.4g}"),
            "days": working_days(answer),
            "cost": asked.waiting_cost,
        },
        "file": {
            "runs": answer.best,
            "expected_cost": answer.limit.expected_cost,
            "fish": answer.fish,
            "case": case_of(situation),
            "close_call": is_close(situation),
            "plan_gain": situation.plan_gain or 0.0,
            "plan_first": situation.plan_first,
            "days": [row.days for row in rows],
            "flat_limits": situation.flat,
            "same": situation.same,
            "close": situation.close,
            "readings": [
                {"reading": name, "worth": worth, "price": price}
                for name, worth, price in situation.readings
            ],
            "rule_gain": answer.rule.gain if money.shows(answer.rule.gain) else 0.0,
            "flips": _flips(flips),
            "p90": [asked.stage_1.p90, asked.stage_2.p90],
            "given": asked.given,
            "suffices": asked.suffices,
            "stage_1_suffices": asked.stage_1_suffices,
            "overspent": answer.overspent,
        },
        "knobs": [
            {
                "name": knob.name,
                "label": KNOBS[knob.name][0],
                "now": knob.now,
                "least": knob.least,
                "most": knob.most,
                "amount": _amount(answer, model, knob.name),
            }
            for knob in model.knobs
        ],
        "model": _model(model),
        "templates": {name: words for name, words in TEMPLATES.items() if name in MOVED},
    }


def _flips(found: Sequence[BreakEven]) -> dict[str, list[Row]]:
    """Where the verdict of the file's case flips, by input, as the sensitivity and the memo have
    it; below: whether fishing pays below that value."""
    places: dict[str, list[Row]] = {}
    for flip in found:
        if flip.at is not None:
            row = {"value": flip.at, "below": flip.below == "fish"}
            places.setdefault(flip.input, []).append(row)
    return places


def _unit(money: Money) -> str:
    """The scale of the amounts in words."""
    return SCALES[round(math.log(money.scale, 1000.0))]


def _shown(error: float) -> str:
    """A standard error, short; what would round to nothing is said to be less than that."""
    if 0.0 < error < LEAST_SHOWN:
        return "less than 0.01"
    return f"{error:.2f}" if error < 0.1 else error_in_words(error)


def _held(answer: Answer, model: PageModel) -> list[str]:
    """What the page holds fixed."""
    found = list(HELD)
    if len(answer.scenario.fallback) > 1:
        found.append(SEVERAL)
    if model.limits > 1 and all(knob.name != "next_odds" for knob in model.knobs):
        found.append(NO_ODDS)
    return found


def _amount(answer: Answer, model: PageModel, knob: str) -> float | None:
    """What factor 1 of a knob stands for [currency or currency/d], None for a chance or speed."""
    amounts = {
        "spread": answer.prices.spread_day,
        "fishing_day": answer.prices.fishing_day,
        "fallback": model.fallback_now,
    }
    return amounts.get(knob)


def _model(model: PageModel) -> Row:
    """What `econ.decision.page_model.PageModel` holds, numbers to nine figures."""
    return {
        "base": {"workable": model.base.workable, "next_odds": model.base.next_odds},
        "limits": model.limits,
        "belief": model.belief.tolist(),
        "log_ratios": list(LOG_RATIOS),
        "odds": model.odds.tolist(),
        "fallback_now": model.fallback_now,
        "slowness": list(model.slowness),
        "table": _rounded(model.table.tolist()),
        "states": [asdict(state) for state in model.states],
        "recovery": model.recovery.tolist(),
        "mobilization": model.mobilization,
        "more": {name: np.asarray(value).tolist() for name, value in model.more.items()},
    }


def _rounded(values: Any) -> Any:
    """Numbers of nested lists to nine figures, whole ones without a point."""
    if isinstance(values, list):
        return [_rounded(each) for each in values]
    short = float(f"{values:.9g}")
    return int(short) if short.is_integer() else short
