"""Tables of the what-if page: the case of the file, the knobs, and the surface they move on."""

from __future__ import annotations

import base64
import math

import numpy as np
from numpy.typing import NDArray

import econ
from econ.decision import Answer
from econ.decision.surface.value import Surface, Valued
from econ.reports.amounts import SCALES
from econ.reports.tables.answer import all_notes, document
from econ.reports.tables.plain import Row, plain
from econ.reports.words import Money

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
    "the limit is by runs: the rule by state, the limit by days and percentiles (P10, P50, P90) "
    "are not worked out here, because a page cannot do so exactly",
)
SEVERAL = "The cheapest fallback is chosen anew in every state as the sliders move."


def page(answer: Answer, surface: Surface) -> Row:
    """Everything the page shows or computes with, as plain values."""
    money = Money(answer)
    scenario = answer.scenario
    at_base = surface.at(surface.base)
    whole = document(answer)
    found: Row = plain(
        {
            "well": scenario.job.well,
            "event": scenario.job.event,
            "currency": scenario.currency,
            "price_date": None if scenario.price_date is None else str(scenario.price_date),
            "from": None if answer.now is None else f"{answer.now:%Y-%m-%d %H:%M}",
            "logged": len(answer.log),
            "ended": answer.ended,
            "scale": money.scale,
            "unit": SCALES[round(math.log(money.scale, 1000.0))],
            "decimals": money.decimals,
            "runs": _program(answer),
            "fallback": answer.fallbacks.taken.name,
            "fallbacks": len(scenario.fallback),
            "minimum": surface.minimum,
            "file": {
                **whole["answer"],
                "by_runs": whole["by_runs"],
                "next_run": whole["next_run"],
                "stage_1": whole["authority"]["stage_1"],
                "stage_2": whole["authority"]["stage_2"],
                "rule_gain": answer.rule.gain,
            },
            "knobs": [
                {
                    "name": knob.name,
                    "label": KNOBS[knob.name][0],
                    "help": KNOBS[knob.name][1],
                    "now": knob.now,
                    "least": knob.least,
                    "most": knob.most,
                    "amount": _amount(answer, surface, knob.name),
                }
                for knob in surface.knobs
            ],
            "surface": _surface(answer, surface, at_base),
            "held": [*HELD, *([SEVERAL] if len(scenario.fallback) > 1 else [])],
            "notes": all_notes(answer),
            "error": surface.error,
            "sealed_source": scenario.fish.sealed_source,
            "draws": whole["draws"],
            "scrambles": whole["scrambles"],
            "seed": whole["seed"],
            "version": econ.__version__,
        }
    )
    return found


def _program(answer: Answer) -> list[str]:
    """Names of the runs still to make, in their order."""
    if answer.ended is not None:
        return []
    made = {row.run for row in answer.log}
    return [run.name for number, run in enumerate(answer.scenario.run) if number not in made]


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
        "pools": [
            {"first": pool.first, "last": pool.last, "columns": list(pool.columns)}
            for pool in surface.pools
        ],
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
