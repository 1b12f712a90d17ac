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


def sensitivity_document(found: Sensitivity) -> Row:
    """The whole sensitivity as one document; changes are against the base on the same draws."""
    settings = found.scenario.draws
    judged = found.verdict
    document: Row = plain(
        {
            "scenario": found.scenario.job.well,
            "currency": found.scenario.currency,
            "draws": found.draws,
            "scrambles": settings.scrambles,
            "seed": settings.seed,
            "version": econ.__version__,
            "log": log_row(found.scenario, found.log),
            "base": {
                "runs": found.best,
                "expected_cost": found.best_cost.value,
                "standard_error": found.best_cost.error,
                "fallback_now": found.now.value,
                "resolved": not judged.not_told_apart,
                "not_told_apart": list(judged.not_told_apart),
                "cost_of_minimum": judged.cost_of_minimum,
            },
            "correlated": [list(group) for group in found.linked],
            "amounts": [swing_row(swing) for swing in found.amounts],
            "drivers": {"basis": STEPS, "rows": [swing_row(swing) for swing in found.swings]},
            "knowing": [asdict(each) for each in found.worths],
            "importance": importance_rows(found.importance),
            "break_even": [break_even_row(found, each) for each in found.break_evens],
            "map": None if found.map is None else asdict(found.map),
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


def break_even_row(found: Sensitivity, each: BreakEven) -> Row:
    """A break-even, also as an amount where a factor stands for one."""
    driver = found.input(each.input)
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
