"""The sensitivity as plain values, for `--json` and for whoever lays it out."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

import econ
from econ.decision.sensitivity import BreakEven, Importances, Sensitivity, Side, Swing
from econ.decision.sensitivity.importance import CONFIDENCE
from econ.reports.after_log import log_row
from econ.reports.tables.plain import plain

Row = dict[str, Any]
STEPS = "fixed steps, not ranges of yours"


def sensitivity_document(sensitivity: Sensitivity) -> Row:
    """The whole sensitivity as one document; changes are against the base on the same draws."""
    settings = sensitivity.scenario.draws
    judged = sensitivity.verdict
    document: Row = plain(
        {
            "scenario": sensitivity.scenario.job.well,
            "currency": sensitivity.scenario.currency,
            "draws": sensitivity.draws,
            "scrambles": settings.scrambles,
            "seed": settings.seed,
            "version": econ.__version__,
            "log": log_row(sensitivity.scenario, sensitivity.log),
            "base": {
                "runs": sensitivity.best,
                "expected_cost": sensitivity.best_cost.value,
                "standard_error": sensitivity.best_cost.error,
                "fallback_now": sensitivity.now.value,
                "resolved": not judged.not_told_apart,
                "not_told_apart": list(judged.not_told_apart),
                "cost_of_minimum": judged.cost_of_minimum,
            },
            "correlated": [list(group) for group in sensitivity.linked],
            "amounts": [swing_row(swing) for swing in sensitivity.amounts],
            "drivers": {"basis": STEPS, "rows": [swing_row(swing) for swing in sensitivity.swings]},
            "knowing": [asdict(each) for each in sensitivity.worths],
            "importance": importance_rows(sensitivity.importance),
            "break_even": [break_even_row(sensitivity, each) for each in sensitivity.break_evens],
            "map": None if sensitivity.map is None else asdict(sensitivity.map),
        }
    )
    return document


def swing_row(swing: Swing) -> Row:
    """A swing with its two ends."""
    return {
        "name": swing.name,
        "unit": swing.unit,
        "correlated_with": list(swing.linked),
        "range": "after the log" if swing.after_log else "of the file",
        "low": side_row(swing.low),
        "high": side_row(swing.high),
    }


def side_row(side: Side) -> Row:
    """One end of a swing."""
    return {
        "value": side.value,
        "runs": side.best,
        "runs_resolved": side.limit_resolved,
        "expected_cost": side.cost.value,
        "standard_error": side.cost.error,
        "change": side.change.value,
        "change_error": side.change.error,
        "change_limit_kept": side.change_kept.value,
        "change_limit_kept_error": side.change_kept.error,
        "resolved": side.resolved,
    }


def importance_rows(found: Importances) -> Row:
    """Sobol' indices of every input with their intervals."""
    return {
        "draws": found.draws,
        "standard_deviation": found.deviation,
        "confidence": CONFIDENCE,
        "inputs": [asdict(each) for each in found.inputs],
    }


def break_even_row(sensitivity: Sensitivity, each: BreakEven) -> Row:
    """A break-even, also as an amount where a factor stands for one."""
    driver = sensitivity.input(each.input)
    scale = driver.amount
    amount = None if scale is None or each.at is None else scale * each.at
    error = None if scale is None or each.at is None else scale * each.error
    return {
        "driver": each.input,
        "rule": each.rule,
        "now": each.now,
        "at": each.at,
        "standard_error": None if each.at is None else each.error,
        "below": each.below,
        "above": each.above,
        "least": each.least,
        "most": each.most,
        "unit": driver.unit or None,
        "amount_now": scale,
        "amount_at": amount,
        "amount_error": error,
    }
