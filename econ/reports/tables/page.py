"""Tables of the what-if page: the case of the file, the knobs, and the surface they move on."""

from __future__ import annotations

import base64
import math
from dataclasses import asdict
from typing import get_args

import numpy as np
from numpy.typing import NDArray

import econ
from econ.decision import Answer
from econ.decision.limits import SURE
from econ.decision.surface.build import FEW
from econ.decision.surface.value import Surface, Valued
from econ.reports.amounts import SCALES
from econ.reports.sentences import TEMPLATES
from econ.reports.tables.answer import all_notes
from econ.reports.tables.plain import Row, plain
from econ.reports.tables.situation import Case, Situation
from econ.reports.words import Money, error_in_words

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
    *("then", "go_to", "by", "or_another"),
    *("cost_recovered", "cost_fallback", "cost", "cost_saving", "cost_stopping"),
    *("minimum", "order", "rule", "rule_of_file", "reading", "worth", "flat", "tie", "unresolved"),
    *("stage_1", "stage_1_owed", "stage_1_none", "stage_1_after", "stage_2", "stage_2_none"),
    *("and_p90", "p90", "waiting", "suffices", "alone", "overspent"),
)
LEAST_SHOWN = 0.005  # an error that rounds to 0.01


def page(answer: Answer, surface: Surface) -> Row:
    """What the page says, and under `script` what it computes with, as plain values."""
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
                for knob in surface.knobs
            ],
            "held": _held(answer, surface),
            "notes": all_notes(answer),
            "sealed_source": scenario.fish.sealed_source,
            "draws": f"{draws.scrambles} scrambles of {draws.n:,} draws, seed {draws.seed}",
            "standard_error": _shown(answer.limit.standard_error / money.scale),
            "few": f"{min(FEW, draws.n):,}" if len(surface.slowness) > 1 else None,
            "error_percent": f"{100.0 * max(surface.error, 1e-5):.3f}",
            "version": econ.__version__,
            "script": _script(answer, surface, money),
        }
    )
    return found


def _script(answer: Answer, surface: Surface, money: Money) -> Row:
    """What the script of the page needs.

    doubt: the share of the cost within which two limits are not told apart where a knob is moved.
    Limits share their draws, so their difference errs by less than they do.
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
        "minimum": surface.minimum,
        "doubt": surface.error + SURE * max(shares),
        "waiting": {"hours": asked.response_hours, "cost": asked.waiting_cost},
        "file": {
            "runs": answer.best,
            "flat_runs": answer.flat,
            "expected_cost": answer.limit.expected_cost,
            "fish": answer.fish,
            "days": [row.days for row in rows],
            "flat_limits": situation.flat,
            "same": situation.same,
            "close": situation.close,
            "readings": [
                {"reading": name, "worth": worth, "price": price}
                for name, worth, price in situation.readings
            ],
            "rule_gain": answer.rule.gain if money.shows(answer.rule.gain) else 0.0,
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
                "amount": _amount(answer, surface, knob.name),
            }
            for knob in surface.knobs
        ],
        "templates": {name: words for name, words in TEMPLATES.items() if name in MOVED},
        "surface": _surface(answer, surface, surface.at(surface.base)),
    }


def _unit(money: Money) -> str:
    """The scale of the amounts in words."""
    return SCALES[round(math.log(money.scale, 1000.0))]


def _shown(error: float) -> str:
    """A standard error, short; what would round to nothing is said to be less than that."""
    if 0.0 < error < LEAST_SHOWN:
        return "less than 0.01"
    return f"{error:.2f}" if error < 0.1 else error_in_words(error)


def _held(answer: Answer, surface: Surface) -> list[str]:
    """What the page holds fixed."""
    found = list(HELD)
    if len(answer.scenario.fallback) > 1:
        found.append(SEVERAL)
    if surface.limits > 1 and all(knob.name != "next_odds" for knob in surface.knobs):
        found.append(NO_ODDS)
    return found


def _amount(answer: Answer, surface: Surface, knob: str) -> float | None:
    """What factor 1 of a knob stands for [currency or currency/d], None for a chance or speed."""
    amounts = {
        "spread": answer.prices.spread_day,
        "fishing_day": answer.prices.fishing_day,
        "fallback": surface.fallback_now,
    }
    return amounts.get(knob)


def _surface(answer: Answer, surface: Surface, at_base: Valued) -> Row:
    """The surface with its grids packed, and what makes the file's case that of the answer.

    more_*: added to what the surface gives everywhere. The answer has the next run from fewer
    draws, and after a damaged top it samples what the surface keeps apart.
    """
    run = answer.ahead[0] if answer.ahead else None
    odds = 0.0 if run is None or at_base.next_odds is None else run.odds - at_base.next_odds
    need = 0.0
    if run is not None and run.break_even_odds is not None and at_base.break_even is not None:
        need = run.break_even_odds - at_base.break_even
    cost = np.array([row.expected_cost for row in answer.by_runs]) - at_base.cost
    return {
        "workable": surface.base.workable,
        "next_odds": surface.base.next_odds,
        "limits": surface.limits,
        "belief": list(surface.belief),
        "fallback_now": surface.fallback_now,
        "slowness": list(surface.slowness),
        "ratios": surface.values.shape[1],
        "columns": surface.values.shape[3],
        "pool_ratios": surface.bills.shape[1],
        "pool_columns": surface.bills.shape[3],
        "odds": surface.odds.tolist(),
        "pools": [asdict(pool) for pool in surface.pools],
        "here": surface.here,
        "more_cost": cost.tolist(),
        "more_next_odds": odds,
        "more_break_even": need,
        "values": packed(surface.values),
        "bills": packed(surface.bills),
    }


def packed(values: NDArray[np.float64]) -> str:
    """Numbers as 4-byte floats, least byte first, in base 64: 7 digits in 5.3 characters."""
    return base64.b64encode(values.astype("<f4").tobytes()).decode("ascii")
